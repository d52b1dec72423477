//! Cumulative sum of how far the readings lie beyond a reference (Page, Biometrika 41, 1954, 100-115).
//!
//! S = max(0, S + reading - reference), the sign as the sense has it; it speaks while S is above its limit. While the
//! detector is off the reference is the on level, while it is on the off level with the sign turned round; the sum
//! begins at zero after every change.

use super::{Levels, within};
use crate::scenario::strategy::Sense;
use crate::sensing::law::Boring;

/// Sums of decimal readings come to their limit but for rounding errors, which must not decide. In reading units: finer than any sensor
/// resolves.
const ROUNDING: f64 = 1e-9;

#[derive(Clone, Debug)]
pub(in crate::sensing) struct Cusum {
    levels: Levels,
    limit: f64,
    farthest: f64,
    sum: f64,
}

impl Cusum {
    pub fn new(levels: Levels, limit: f64, farthest: f64) -> Cusum {
        Cusum { levels, limit, farthest, sum: 0.0 }
    }

    pub fn take(&mut self, value: f64, on: bool) -> bool {
        let value = value.min(self.farthest);
        let beyond = match (self.levels.sense, on) {
            (Sense::Below, false) => self.levels.on - value,
            (Sense::Below, true) => value - self.levels.off,
            (Sense::Above, false) => value - self.levels.on,
            (Sense::Above, true) => self.levels.off - value,
        };
        self.sum = (self.sum + beyond).max(0.0);
        self.sum - self.limit > ROUNDING
    }

    /// The sum so far.
    pub fn sum(&self) -> f64 {
        self.sum
    }

    /// Puts another sum in its place.
    pub fn set_sum(&mut self, sum: f64) {
        self.sum = sum;
    }

    pub fn clear(&mut self) {
        self.sum = 0.0;
    }

    /// Readings not beyond the reference leave a sum of zero at zero.
    pub fn boring(&self, on: bool) -> Boring {
        let mut boring = Boring::EVERYTHING;
        match (self.levels.sense, on) {
            (Sense::Below, false) => boring.low = self.levels.on,
            (Sense::Below, true) => boring.high = self.levels.off,
            (Sense::Above, false) => boring.high = self.levels.on,
            (Sense::Above, true) => boring.low = self.levels.off,
        }
        within(boring, self.farthest)
    }

    pub fn settled(&self) -> bool {
        self.sum == 0.0
    }
}
