//! `[[detector]]`, `[[strategy]]` and `[controller]`.

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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Statistic {
    /// The reading itself.
    Level,
    /// Mean of the last n readings.
    MovingMean(usize),
    /// Median of the last n readings, n odd.
    MovingMedian(usize),
}

/// k of the last n.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunRule {
    /// How many.
    pub k: usize,
    /// Of how many; at most 64.
    pub n: usize,
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
    /// The part holds, or held less than this long ago.
    Lasting(Span, Box<Condition>),
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
    /// Timings and behaviour.
    pub controller: Controller,
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
    /// Time from contact to the reversal of the motor.
    pub obstruction_reaction: Span,
    /// After a power loss in mid-stroke.
    pub after_power_loss: AfterPowerLoss,
    /// Dead sensors.
    pub on_dead_sensor: OnDeadSensor,
    /// How long a sensor must be silent before it is known to be dead.
    pub dead_after: Span,
}
