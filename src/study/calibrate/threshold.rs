//! Levels of a score that miss the mower rarely enough, with confidence; a score at its level or above speaks for the
//! mower.

use super::Measured;
use super::passes::Settings;
use super::tolerance::factor;
use crate::study::interval::mean::mean_and_variance;
use crate::study::interval::{clopper_pearson, poisson};

/// How a level was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// By counting, whatever the law of the scores.
    DistributionFree,
    /// By a tolerance limit of normal scores.
    Normal,
    /// By the least cost of misses and false openings; without confidence in either.
    LeastCost,
}

/// A level and what it would have done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// How it was found.
    pub way: Way,
    /// The level.
    pub level: f64,
    /// Passes of the mower that it misses.
    pub missed: u64,
    /// The same as a share, with the one-sided upper bound at the confidence asked for.
    pub miss: f64,
    /// See above.
    pub miss_at_most: f64,
    /// Others' passes that it lets open.
    pub others: u64,
    /// The same a day, with the exact Poisson interval.
    pub false_per_day: Measured,
    /// Cost a day in false openings: misses at their worth, and false openings.
    pub cost_per_day: f64,
}

/// Upper bound of a share at one-sided confidence (Clopper & Pearson 1934).
fn at_most(count: u64, of: u64, confidence: f64) -> f64 {
    clopper_pearson(count, of, 2.0 * confidence - 1.0).map_or(1.0, |interval| interval.high)
}

/// The highest level that misses `misses` at most with this confidence, by counting alone; none if even missing none of
/// the passes is no proof. `mower` ascends.
///
/// The bound holds for a level that was chosen beforehand; chosen as the k-th lowest score, its true share of misses has
/// the beta law that the bound is a quantile of (Wilks, Ann. Math. Statist. 12, 1941, 91-96), so it holds all the same.
pub fn rank_limit(mower: &[f64], misses: f64, confidence: f64) -> Option<f64> {
    let n = mower.len() as u64;
    let allowed = |missed: u64| at_most(missed, n, confidence) <= misses;
    // The bound rises with the misses.
    let most = (0..n).take_while(|missed| allowed(*missed)).last()?;
    mower.get(most as usize).copied()
}

/// The level mean - k s below which a share `misses` of normal scores lies at most, with this confidence; none for fewer
/// than two scores.
pub fn normal_limit(mower: &[f64], misses: f64, confidence: f64) -> Option<f64> {
    let (mean, variance) = (mower.len() >= 2).then(|| mean_and_variance(mower))?;
    Some(mean - factor(mower.len() as u64, 1.0 - misses, confidence) * libm::sqrt(variance))
}

/// The score at which misses, each share weighing `worth`, and false openings a day cost least; the highest of several.
pub fn least_cost(mower: &[f64], other: &[f64], worth: f64, days: f64) -> f64 {
    let cost = |level: f64| {
        let missed = mower.partition_point(|score| *score < level) as f64 / mower.len() as f64;
        let others = (other.len() - other.partition_point(|score| *score < level)) as f64 / days;
        worth * missed + others
    };
    let mut levels: Vec<f64> = mower.iter().chain(other).copied().collect();
    levels.sort_by(f64::total_cmp);
    let cheapest = levels
        .iter()
        .map(|level| (cost(*level), *level))
        .fold((f64::INFINITY, f64::NAN), |best, found| if found.0 <= best.0 { found } else { best });
    cheapest.1
}

/// Passes of the mower, none of them missed, that prove a share of misses at most `misses`: the smallest n with
/// (1 - misses)^n <= 1 - confidence.
pub fn passes_needed(misses: f64, confidence: f64) -> u64 {
    libm::ceil(libm::log1p(-confidence) / libm::log1p(-misses)) as u64
}

/// What a level would have done with these scores, both ascending.
pub fn at_level(way: Way, level: f64, mower: &[f64], other: &[f64], settings: &Settings) -> Threshold {
    let missed = mower.partition_point(|score| *score < level) as u64;
    let others = (other.len() - other.partition_point(|score| *score < level)) as u64;
    let n = mower.len() as u64;
    let miss = missed as f64 / n as f64;
    let rate = others as f64 / settings.days;
    let arrivals = settings.arrivals_per_day.unwrap_or(n as f64 / settings.days);
    Threshold {
        way,
        level,
        missed,
        miss,
        miss_at_most: at_most(missed, n, settings.confidence),
        others,
        false_per_day: Measured {
            value: rate,
            ends: poisson(others as f64, settings.days, settings.confidence).map(|it| (it.low, it.high)),
        },
        cost_per_day: settings.worth * arrivals * miss + rate,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    /// The numbers that quality control quotes: 59, 299 and 2995 passes for 5 %, 1 % and 0.1 % at 95 %.
    #[test]
    fn none_missed() {
        for (misses, n) in [(0.05, 59), (0.01, 299), (0.001, 2995)] {
            assert_eq!(passes_needed(misses, 0.95), n);
            let scores: Vec<f64> = (0..n).map(|i| i as f64).collect();
            assert_eq!(rank_limit(&scores, misses, 0.95), Some(0.0));
            assert_eq!(rank_limit(&scores[1..], misses, 0.95), None);
        }
    }

    /// Both limits keep their promise: the true share of misses exceeds 10 % in at most a tenth of the repeats (4.5
    /// standard errors allowed), and the normal one in about as many, because it gives nothing away.
    #[test]
    fn promises_are_kept() {
        let mut stream = Source::new(2, 0, "limits").stream(0);
        let (repeats, mut by_rank, mut by_normal) = (2_000, 0, 0);
        for _ in 0..repeats {
            let mut scores: Vec<f64> = (0..40).map(|_| stream.normal()).collect();
            scores.sort_by(f64::total_cmp);
            let missed = |level: Option<f64>| crate::math::normal::cdf(level.expect("enough scores"));
            by_rank += i32::from(missed(rank_limit(&scores, 0.1, 0.9)) > 0.1);
            by_normal += i32::from(missed(normal_limit(&scores, 0.1, 0.9)) > 0.1);
        }
        let error = (0.1 * 0.9 / f64::from(repeats)).sqrt();
        let share = |count: i32| f64::from(count) / f64::from(repeats);
        assert!(share(by_rank) < 0.1 + 4.5 * error, "{}", share(by_rank));
        assert!((share(by_normal) - 0.1).abs() < 4.5 * error, "{}", share(by_normal));
    }
}
