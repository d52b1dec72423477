//! How well a score tells the mower from others, from passes that somebody labelled.

use super::Measured;
use super::normality::anderson_darling;
use super::threshold::{Threshold, Way, at_level, least_cost, normal_limit, passes_needed, rank_limit};
use crate::sensing::roc::area;
use crate::study::interval::{clopper_pearson, normal_quantile, poisson};
use crate::world::log::PassLog;

/// On which side of its level a score speaks for the mower.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// At the level or above.
    Above,
    /// At the level or below.
    Below,
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Side of the mower.
    pub side: Side,
    /// Days of observation behind the passes of others.
    pub days: f64,
    /// Largest share of the mower's passes that may be missed.
    pub misses: f64,
    /// Confidence of that, and of the intervals.
    pub confidence: f64,
    /// False openings that weigh as much as one missed arrival.
    pub worth: f64,
    /// Arrivals a day; none: as many as the mower's passes on the days of observation.
    pub arrivals_per_day: Option<f64>,
}

/// The curve at one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RocPlace {
    /// The level.
    pub level: f64,
    /// Share of the mower's passes that it catches.
    pub hits: Measured,
    /// Others' passes at or beyond it.
    pub others: u64,
    /// Share of others' passes.
    pub false_share: f64,
    /// False openings a day.
    pub false_per_day: Measured,
}

/// What the passes say.
#[derive(Clone, Debug, PartialEq)]
pub struct Passes {
    /// What was asked.
    pub settings: Settings,
    /// Scores of the mower's passes and of others', as logged, ascending.
    pub mower: Vec<f64>,
    /// See above.
    pub other: Vec<f64>,
    /// Area under the curve with its interval.
    pub area: Measured,
    /// Its standard error (DeLong).
    pub area_error: f64,
    /// The curve, from the strictest level to the loosest.
    pub curve: Vec<RocPlace>,
    /// The three levels; the distribution-free one is missing if there are too few passes.
    pub thresholds: Vec<Threshold>,
    /// Passes of the mower that it takes at least for the asked share: none of them missed.
    pub needed: u64,
    /// Probability of the mower's scores being so far from normal by chance; none if they can't be judged.
    pub normal: Option<f64>,
    /// Arrivals a day that were reckoned with.
    pub arrivals_per_day: f64,
}

impl Passes {
    /// Whether the passes support the asked share of misses.
    pub fn supported(&self) -> bool {
        self.thresholds.iter().any(|threshold| threshold.way == Way::DistributionFree)
    }
}

/// Works out all of it.
pub fn passes(log: &PassLog, settings: Settings) -> Passes {
    // Inside, a high score speaks for the mower.
    let sign = if settings.side == Side::Above { 1.0 } else { -1.0 };
    let turned = |scores: &[f64]| {
        let mut scores: Vec<f64> = scores.iter().map(|score| sign * score).collect();
        scores.sort_by(f64::total_cmp);
        scores
    };
    let (mower, other) = (turned(&log.mower), turned(&log.other));
    let arrivals = settings.arrivals_per_day.unwrap_or(mower.len() as f64 / settings.days);
    let found = area(&other, &mower);
    let judged = |way: Way, level: f64| at_level(way, level, &mower, &other, &settings);
    let mut thresholds = Vec::new();
    if let Some(level) = rank_limit(&mower, settings.misses, settings.confidence) {
        thresholds.push(judged(Way::DistributionFree, level));
    }
    if let Some(level) = normal_limit(&mower, settings.misses, settings.confidence) {
        thresholds.push(judged(Way::Normal, level));
    }
    let level = least_cost(&mower, &other, settings.worth * arrivals, settings.days);
    thresholds.push(judged(Way::LeastCost, level));
    let mut levels: Vec<f64> = mower.iter().chain(&other).copied().collect();
    levels.sort_by(|a, b| b.total_cmp(a));
    levels.dedup();
    let place = |level: &f64| {
        let hits = (mower.len() - mower.partition_point(|score| score < level)) as u64;
        let others = (other.len() - other.partition_point(|score| score < level)) as u64;
        let (n, m) = (mower.len() as u64, other.len() as f64);
        RocPlace {
            level: sign * level,
            hits: Measured {
                value: hits as f64 / n as f64,
                ends: clopper_pearson(hits, n, settings.confidence).map(|it| (it.low, it.high)),
            },
            others,
            false_share: others as f64 / m,
            false_per_day: Measured {
                value: others as f64 / settings.days,
                ends: poisson(others as f64, settings.days, settings.confidence).map(|it| (it.low, it.high)),
            },
        }
    };
    let curve = levels.iter().map(place).collect();
    thresholds.iter_mut().for_each(|threshold| threshold.level *= sign);
    let (area, area_error) = found.map_or((Measured::alone(f64::NAN), f64::NAN), |found| {
        (Measured { value: found.area, ends: area_ends(found.area, found.delong, settings.confidence) }, found.delong)
    });
    let as_logged = |scores: Vec<f64>| {
        let mut scores: Vec<f64> = scores.into_iter().map(|score| sign * score).collect();
        scores.sort_by(f64::total_cmp);
        scores
    };
    Passes {
        settings,
        normal: anderson_darling(&mower),
        needed: passes_needed(settings.misses, settings.confidence),
        mower: as_logged(mower),
        other: as_logged(other),
        area,
        area_error,
        curve,
        thresholds,
        arrivals_per_day: arrivals,
    }
}

/// The interval of an area: normal on the scale of its logit, so that it stays between 0 and 1 (Pepe, The Statistical
/// Evaluation of Medical Tests, 2003, 5.2; from memory). None where the samples are apart or alike throughout.
fn area_ends(area: f64, error: f64, confidence: f64) -> Option<(f64, f64)> {
    if !(error > 0.0 && area > 0.0 && area < 1.0) {
        return None;
    }
    let logit = libm::log(area) - libm::log1p(-area);
    let half = normal_quantile(0.5 + 0.5 * confidence) * error / (area * (1.0 - area));
    let back = |x: f64| 1.0 / (1.0 + libm::exp(-x));
    Some((back(logit - half), back(logit + half)))
}
