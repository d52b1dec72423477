//! What a study hands to the reports.

use crate::ledger::blame::ByCause;
use std::borrow::Cow;
use std::io;
use std::sync::Arc;

use super::alarm::Untried;
use super::interval::Interval;
use super::objective::RiskVerdict;
use super::store::{Records, Store};
use crate::ledger::metric::Key;
use crate::ledger::record::{CONDITIONS, HOURS, Histogram, SeasonRecord};
use crate::scenario::Scenario;
use crate::scenario::limits::Limit;

/// Estimate of one metric over the seasons of one strategy.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The metric.
    pub key: Key,
    /// Seasons behind it.
    pub seasons: u64,
    /// Mean per season (for `Share`: pooled share).
    pub mean: f64,
    /// Interval of the mean with its method and confidence; none where the seasons can't support one.
    pub interval: Option<Interval>,
    /// Standard deviation between seasons; none below two seasons.
    pub spread: Option<f64>,
    /// 5 %, 50 % and 95 % quantiles between seasons; each withheld where the sample can't support it.
    pub quantiles: [Option<f64>; 3],
    /// Smallest and largest season.
    pub range: (f64, f64),
}

/// Decision on one acceptance limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    /// Met at the limit's confidence.
    Met,
    /// Not met at the limit's confidence.
    NotMet,
    /// The seasons don't decide; with about how many more they would (none if the estimate sits on the limit).
    Undecided {
        /// Further seasons that would decide, if the estimate stays where it is.
        more_seasons: Option<u64>,
    },
}

/// An acceptance limit with its decision.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitVerdict {
    /// The limit.
    pub limit: Limit,
    /// Estimate it was judged on.
    pub mean: f64,
    /// One-sided confidence bound at the limit's confidence that decides: for `AtMost` the upper one, for `AtLeast` the
    /// lower one; if the limit is not met, the one on the other side, which lies beyond it.
    pub confidence_bound: Option<f64>,
    /// Decision.
    pub verdict: Verdict,
    /// What the seasons did not try, if that is why a limit of the kind "at most" is not met.
    pub untried: Option<Untried>,
}

/// A mean rate with the ends of its interval; no interval where the seasons can't support one.
pub type Rate = (f64, Option<(f64, f64)>);

/// Openings by noise alone over all seasons, per day of each of the ledger's conditions.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NoiseOpenings {
    /// As counted; none where the condition never held.
    pub per_day: [Option<Rate>; CONDITIONS.len()],
    /// As the laws of the readings give them; none where that can't be worked out.
    pub expected_per_day: [Option<Rate>; CONDITIONS.len()],
    /// Why it can't be.
    pub not_worked_out: Option<String>,
}

/// What one detector did over all seasons.
#[derive(Clone, Debug, PartialEq)]
pub struct DetectorResult {
    /// Its name.
    pub name: String,
    /// Times it went on with nothing in view, per day of each of the ledger's conditions, none where that
    /// condition never held.
    pub false_per_day: [Option<Rate>; CONDITIONS.len()],
    /// The same as the law of its readings gives it, the noise integrated out; none where that can't be worked out.
    pub expected_false_per_day: [Option<Rate>; CONDITIONS.len()],
    /// Approaches that it noticed before the nose was at the waiting point.
    pub noticed: u64,
    /// Approaches that it did not.
    pub unnoticed: u64,
    /// Time from the beginning of the drive to the door until it noticed, s.
    pub after: Histogram,
    /// Distance of the nose from the waiting point when it noticed, m.
    pub left: Histogram,
    /// Share of the time that it had a working sensor.
    pub uptime: f64,
}

/// What happened at the door within one hour of the local clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HourUse {
    /// Opening strokes begun from the shut door, false ones included.
    pub openings: u64,
    /// False openings.
    pub false_openings: u64,
    /// Arrivals.
    pub arrivals: u64,
    /// Missed arrivals.
    pub missed: u64,
}

/// One of the worst seasons or days of something that goes wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct Worst {
    /// What went wrong.
    pub key: Key,
    /// 1 for the worst.
    pub rank: usize,
    /// Season.
    pub season: u64,
    /// Index of the day; none for a whole season.
    pub day: Option<usize>,
    /// How much of it, in the metric's unit.
    pub value: f64,
}

/// One strategy's seasons, summarised.
#[derive(Clone, Debug, PartialEq)]
pub struct StrategyResult {
    /// Strategy name.
    pub name: String,
    /// One line about it.
    pub about: String,
    /// One estimate per metric, in the order of `ledger::metric::KEYS`.
    pub estimates: Vec<Estimate>,
    /// Causes with their estimates (mean per season).
    pub causes: ByCause<Vec<(String, Estimate)>>,
    /// Door use by hour of the local day, all seasons together.
    pub hours: [HourUse; HOURS],
    /// The worst seasons and days, each thing that goes wrong by itself.
    pub worst: Vec<Worst>,
    /// Waits of all arrivals.
    pub waits: Histogram,
    /// Durations of completed opening strokes.
    pub opening_strokes: Histogram,
    /// Durations of completed closing strokes.
    pub closing_strokes: Histogram,
    /// What its detectors did.
    pub detectors: Vec<DetectorResult>,
    /// How often noise alone opened the door.
    pub noise_openings: NoiseOpenings,
    /// Limits with their decisions.
    pub limits: Vec<LimitVerdict>,
    /// Limits on the share of bad seasons, with their decisions.
    pub risks: Vec<RiskVerdict>,
    /// The seasons themselves, in order; only the first one where they are in `store`.
    pub seasons: Vec<SeasonRecord>,
    /// Where the seasons are if there may be too many of them for the memory.
    pub store: Option<Stored>,
}

impl StrategyResult {
    /// The decisions on its limits, then on its risks.
    pub fn decisions(&self) -> impl Iterator<Item = Verdict> + '_ {
        let limits = self.limits.iter().map(|one| one.verdict);
        limits.chain(self.risks.iter().map(|one| one.verdict))
    }
}

/// A store that results share.
#[derive(Clone, Debug)]
pub struct Stored(pub Arc<Store>);

impl PartialEq for Stored {
    /// The same store, not one with the same content.
    fn eq(&self, other: &Stored) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

impl StrategyResult {
    /// The seasons in order, perhaps without their days, events and durations.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn records(&self) -> io::Result<Records<'_>> {
        Ok(match &self.store {
            Some(stored) => Box::new(stored.0.rows()?.map(|record| record.map(Cow::Owned))),
            None => self.kept(),
        })
    }

    /// The seasons in order with days and events, perhaps without their durations.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn diaries(&self) -> io::Result<Records<'_>> {
        Ok(match &self.store {
            Some(stored) => Box::new(stored.0.diaries()?.map(|record| record.map(Cow::Owned))),
            None => self.kept(),
        })
    }

    fn kept(&self) -> Records<'_> {
        Box::new(self.seasons.iter().map(|record| Ok(Cow::Borrowed(record))))
    }

    /// Whether any season has an event log.
    pub fn has_events(&self) -> bool {
        let kept = self.seasons.iter().any(|season| !season.events.is_empty());
        kept || self.store.as_ref().is_some_and(|stored| stored.0.has_events())
    }
}

/// A finished (or interrupted) run.
#[derive(Clone, Debug)]
pub struct RunResult {
    /// The resolved scenario.
    pub scenario: Scenario,
    /// SHA-256 of the scenario's text and all included parts and data files, hexadecimal.
    pub scenario_hash: String,
    /// Seed in force.
    pub seed: u64,
    /// First season number.
    pub first_season: u64,
    /// Seasons asked for.
    pub seasons_asked: u64,
    /// Seasons played.
    pub seasons_played: u64,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Warnings to print before the results.
    pub warnings: Vec<String>,
    /// One result per strategy, in the scenario's order.
    pub strategies: Vec<StrategyResult>,
}
