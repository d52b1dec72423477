//! On and off levels and the side on which they are.

use crate::scenario::strategy::{Detector, Sense};
use crate::sensing::law::{Boring, snap};

/// Levels of a detector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levels {
    /// Which side speaks for on.
    pub sense: Sense,
    /// On level.
    pub on: f64,
    /// Off level.
    pub off: f64,
}

impl Levels {
    /// A detector's, as a sensor with steps of `resolution` writes them.
    pub fn of(detector: &Detector, resolution: f64) -> Levels {
        let [on, off] = [detector.on, detector.off].map(|level| snap(level, resolution));
        Levels { sense: detector.sense, on, off }
    }

    /// Whether a statistic speaks for a change of a detector that is `on`.
    pub fn speaks(&self, statistic: f64, on: bool) -> bool {
        match (self.sense, on) {
            (Sense::Below, false) => statistic <= self.on,
            (Sense::Below, true) => statistic > self.off,
            (Sense::Above, false) => statistic >= self.on,
            (Sense::Above, true) => statistic < self.off,
        }
    }

    /// The values that don't.
    pub fn boring(&self, on: bool) -> Boring {
        let mut boring = Boring::EVERYTHING;
        match (self.sense, on) {
            (Sense::Below, false) => (boring.low, boring.low_included) = (self.on, false),
            (Sense::Below, true) => boring.high = self.off,
            (Sense::Above, false) => (boring.high, boring.high_included) = (self.on, false),
            (Sense::Above, true) => boring.low = self.off,
        }
        boring
    }
}
