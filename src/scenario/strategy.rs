//! `[[detector]]`, `[[strategy]]` and `[controller]`.

use super::care::Care;
use super::sensor::StatusCode;
use crate::math::time::Span;

/// Which side of its levels makes a detector speak.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// On when the statistic is at or below the on level.
    Below,
    /// On when it is at or above the on level.
    Above,
}

/// What a detector computes from the last readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Statistic {
    /// The reading itself.
    Level,
    /// Mean of the last n readings.
    MovingMean(usize),
    /// Median of the last n readings, n odd.
    MovingMedian(usize),
    /// Speed towards a ranger: least-squares slope of the last n readings. Levels in reading units per second.
    ApproachRate(usize),
    /// Cumulative sum of the distances beyond the level, which is its reference.
    Cusum {
        /// It speaks while the sum is above this, in reading units.
        limit: f64,
    },
    /// Exponentially weighted moving average.
    Ewma {
        /// Weight of the newest reading, above 0 and at most 1.
        weight: f64,
    },
    /// Sequential probability ratio test; levels do not apply.
    LikelihoodRatio(RatioTest),
}

impl Statistic {
    /// Whether it collects evidence in a sum of its own.
    pub fn keeps_sum(&self) -> bool {
        matches!(self, Statistic::Cusum { .. } | Statistic::LikelihoodRatio(_))
    }
}

/// A sequential probability ratio test of two normal laws with the same spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatioTest {
    /// Mean reading with nothing there.
    pub absent: f64,
    /// Mean reading with something there.
    pub present: f64,
    /// Standard deviation of a reading in both cases.
    pub spread: f64,
    /// Nominal probability of deciding for "something" when nothing is there.
    pub false_alarm: f64,
    /// Nominal probability of deciding for "nothing" when something is there.
    pub false_rest: f64,
    /// Most that one reading may count, as a natural logarithm; infinite for no limit.
    pub at_most: f64,
}

impl RatioTest {
    /// ln A and ln B, the sums at which it decides (Wald 1947): A = (1 - beta) / alpha, B = beta / (1 - alpha).
    pub fn bounds(&self) -> (f64, f64) {
        let (alpha, beta) = (self.false_alarm, self.false_rest);
        (libm::log1p(-beta) - libm::log(alpha), libm::log(beta) - libm::log1p(-alpha))
    }
}

/// k of the last n.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunRule {
    /// How many.
    pub k: usize,
    /// Of how many; at most 64.
    pub n: usize,
}

impl RunRule {
    /// Whether it is complete with these samples, newest lowest, 1 = speaks.
    pub fn is_complete(self, samples: u64) -> bool {
        (samples & newest(self.n)).count_ones() as usize >= self.k
    }

    /// With one sample less, but never none: the rule of rainy weather.
    pub fn shortened(self) -> RunRule {
        RunRule { k: self.k.saturating_sub(1).max(1), n: self.n }
    }

    /// Those of the samples that the next one still finds in its window.
    pub fn kept(self, samples: u64) -> u64 {
        samples & newest(self.n.saturating_sub(1))
    }
}

/// A mask of the newest `n` of samples kept as bits, newest lowest.
pub fn newest(n: usize) -> u64 {
    if n == 0 { 0 } else { u64::MAX >> (64 - n.min(64)) }
}

/// What a sample without a reading does to a detector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dropped {
    /// Takes its place in the run window and speaks for no change.
    Quiet,
    /// Is skipped: the windows keep what they hold.
    Hold,
    /// Empties the windows.
    Reset,
}

/// A detector: one sensor's readings into on/off.
#[derive(Clone, Debug, PartialEq)]
pub struct Detector {
    /// Name.
    pub name: String,
    /// Index of its sensor.
    pub sensor: usize,
    /// Statistic.
    pub statistic: Statistic,
    /// Sense.
    pub sense: Sense,
    /// On level, in the sensor's reading unit.
    pub on: f64,
    /// Off level; for `Below` not under the on level, for `Above` not over it.
    pub off: f64,
    /// For a status sensor: the messages that count as on (levels do not apply); empty for every other kind.
    pub says: Vec<StatusCode>,
    /// Rule for going on.
    pub rule: RunRule,
    /// Rule for going off.
    pub release: RunRule,
    /// Missing readings.
    pub dropped: Dropped,
}

/// Largest number of parts in one condition, counting every detector, combination and duration.
pub const PARTS_MAX: usize = 128;

/// A condition over detectors.
#[derive(Clone, Debug, PartialEq)]
pub enum Condition {
    /// The detector of this index is on.
    Detector(usize),
    /// One of the built-in conditions.
    BuiltIn(BuiltIn),
    /// At least one part holds.
    Any(Vec<Condition>),
    /// All parts hold.
    All(Vec<Condition>),
    /// At least this many parts hold.
    AtLeast(usize, Vec<Condition>),
    /// The part does not hold.
    Not(Box<Condition>),
    /// The part has held without a break for this long.
    For(Span, Box<Condition>),
    /// Summed log-odds reach a limit.
    LogOdds(LogOdds),
    /// The part holds, or held less than this long ago.
    Lasting(Span, Box<Condition>),
}

/// Log-odds of "something is there": a prior, and for each piece of evidence what it adds.
#[derive(Clone, Debug, PartialEq)]
pub struct LogOdds {
    /// Holds at this sum or more, nats.
    pub at_least: f64,
    /// Log-odds before any evidence, nats.
    pub prior: f64,
    /// The evidence: independent given whether something is there.
    pub of: Vec<Evidence>,
}

/// A piece of evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// The condition that is evidence.
    pub when: Condition,
    /// How likely it holds with something there.
    pub present: f64,
    /// How likely it holds with nothing there.
    pub absent: f64,
}

impl Evidence {
    /// What it adds if the condition holds, and if it does not: ln(present / absent), ln((1 - present) / (1 - absent)).
    pub fn weights(&self) -> (f64, f64) {
        let (present, absent) = (self.present, self.absent);
        (libm::log(present) - libm::log(absent), libm::log1p(-present) - libm::log1p(-absent))
    }
}

/// Conditions the controller knows by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BuiltIn {
    /// Never.
    Never,
    /// Always.
    Always,
}

/// A strategy: which detectors it has and its rules.
#[derive(Clone, Debug, PartialEq)]
pub struct Strategy {
    /// Name.
    pub name: String,
    /// One line for the report; may be empty.
    pub about: String,
    /// Asks for the door while it holds.
    pub open: Condition,
    /// Keeps an open door open while it holds.
    pub hold: Condition,
    /// The doorway is occupied while it holds: never close, reverse if closing.
    pub doorway: Condition,
    /// Allows closing while it holds (with `hold` and `doorway` false).
    pub close: Condition,
    /// The mower is inside while it holds.
    pub inside: Condition,
    /// It rains while it holds: the detectors of `open` then need one sample less.
    pub wet: Condition,
    /// Joins `open` once none of its own sensors has a vote left (status messages and clocks apart; with messages alone, once the
    /// network is down and the last has grown too old).
    pub fallback: Condition,
    /// Timings and behaviour.
    pub controller: Controller,
}

impl Strategy {
    /// All its rules.
    pub fn rules(&self) -> [&Condition; 7] {
        [&self.open, &self.hold, &self.doorway, &self.close, &self.inside, &self.wet, &self.fallback]
    }

    /// Whether rain may shorten the run rules of its open rule.
    pub fn shortens(&self) -> bool {
        self.wet != Condition::BuiltIn(BuiltIn::Never)
    }
}

/// What to do when a motor stroke was interrupted by a power loss.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AfterPowerLoss {
    /// Open fully (the cautious choice), then follow the rules.
    Open,
    /// Stay where it is until a rule speaks.
    Stay,
}

/// What to do when a sensor that the strategy uses is known to be dead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OnDeadSensor {
    /// Open and stay open until it speaks again.
    HoldOpen,
    /// Carry on without it: its detectors count as off.
    Ignore,
    /// Carry on without it as long as others see: its detectors count as off, a doorway without its sensor is not closed
    /// on, and with the last sensor of the opening rule gone the `fallback` rule joins it.
    DropVote,
}

/// Controller timings; `[controller]` gives the defaults, a strategy may override each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Controller {
    /// Least time open before closing.
    pub open_at_least: Span,
    /// Longest time open with nothing in the doorway before closing is tried even though `hold` still holds; none for never.
    pub open_at_most: Option<Span>,
    /// Warning (light, beep) before closing begins.
    pub warning: Span,
    /// Time-out of a stroke, as a multiple of its computed time; beyond it the stroke counts as failed.
    pub stroke_timeout: f64,
    /// Pause before a failed or reversed stroke is tried again.
    pub retry_after: Span,
    /// Failed strokes in a row before the controller goes to `fault` and waits for a person.
    pub retries: u32,
    /// How long a person takes to clear a fault.
    pub fault_cleared_after: Span,
    /// Obstruction: force above the computed one that counts as an obstacle, N.
    pub obstruction_force_n: f64,
    /// Time from there until the motor has stopped.
    pub obstruction_reaction: Span,
    /// After a power loss in mid-stroke.
    pub after_power_loss: AfterPowerLoss,
    /// Dead sensors.
    pub on_dead_sensor: OnDeadSensor,
    /// How long a sensor must be silent before it is known to be dead.
    pub dead_after: Span,
    /// Its cautious half.
    pub care: Care,
}
