//! Exponentially weighted moving average (Roberts, Technometrics 1, 1959, 239-250).
//!
//! z = w x + (1 - w) z, begun with the first reading. It lies between the readings it has seen, so that readings on
//! the quiet side of the level keep it there. Its memory is infinite in principle; readings further back than
//! ln(2^53) / w weigh less than the rounding of the newest one and are not recalled.

use super::{Levels, within};
use crate::sensing::law::Boring;

#[derive(Clone, Debug)]
pub(in crate::sensing) struct Ewma {
    pub levels: Levels,
    weight: f64,
    farthest: f64,
    average: Option<f64>,
}

impl Ewma {
    pub fn new(levels: Levels, weight: f64, farthest: f64) -> Ewma {
        Ewma { levels, weight, farthest, average: None }
    }

    pub fn take(&mut self, value: f64, on: bool) -> bool {
        self.push(value);
        self.average.is_some_and(|average| self.levels.speaks(average, on))
    }

    pub fn push(&mut self, value: f64) {
        let value = value.min(self.farthest);
        self.average = Some(self.average.map_or(value, |average| average + self.weight * (value - average)));
    }

    /// The average; none before the first reading.
    pub fn average(&self) -> Option<f64> {
        self.average
    }

    pub fn clear(&mut self) {
        self.average = None;
    }

    /// Readings until an old one has lost 53 bits.
    pub fn remembers(&self) -> usize {
        if self.weight >= 1.0 {
            return 0;
        }
        let bits = 53.0 * std::f64::consts::LN_2;
        libm::ceil(bits / -libm::log1p(-self.weight)) as usize
    }

    /// Readings on the quiet side of the level keep an average there that lies there.
    pub fn boring(&self, on: bool) -> Boring {
        within(self.levels.boring(on), self.farthest)
    }

    pub fn settled(&self, on: bool) -> bool {
        self.average.is_some_and(|average| !self.levels.speaks(average, on))
    }
}
