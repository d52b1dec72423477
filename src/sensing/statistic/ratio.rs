//! Sequential probability ratio test between "something is there" and "nothing is there" (Wald, Sequential Analysis,
//! 1947): sums the log-likelihood ratio of the readings until it leaves (ln B, ln A), decides, and begins anew.
//!
//! Both hypotheses are normal with the same spread, so that a reading counts in proportion to its distance from the
//! middle of the two means. Of a reading far from both, an outlier, the count may be limited.

use super::{NONE, within};
use crate::scenario::strategy::RatioTest;
use crate::sensing::law::Boring;

#[derive(Clone, Debug)]
pub(in crate::sensing) struct Ratio {
    /// Log-likelihood ratio per unit of reading, and the reading that counts nothing.
    slope: f64,
    middle: f64,
    /// Most that one reading counts.
    at_most: f64,
    /// ln A and ln B.
    accept: f64,
    reject: f64,
    farthest: f64,
    sum: f64,
}

impl Ratio {
    pub fn new(test: &RatioTest, farthest: f64) -> Ratio {
        let (accept, reject) = test.bounds();
        Ratio {
            slope: (test.present - test.absent) / (test.spread * test.spread),
            middle: 0.5 * (test.present + test.absent),
            at_most: test.at_most,
            accept,
            reject,
            farthest,
            sum: 0.0,
        }
    }

    pub fn take(&mut self, value: f64, on: bool) -> bool {
        let value = value.min(self.farthest);
        if self.sum == 0.0 && self.boring(on).contains(crate::sensing::law::Reading::Value(value)) {
            // Decides for what holds anyway: nothing is left of it.
            return false;
        }
        self.sum += (self.slope * (value - self.middle)).clamp(-self.at_most, self.at_most);
        if self.sum >= self.accept {
            self.sum = 0.0;
            return !on;
        }
        if self.sum <= self.reject {
            self.sum = 0.0;
            return on;
        }
        false
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

    /// Readings which alone decide for what holds anyway; none if one reading can't decide.
    pub fn boring(&self, on: bool) -> Boring {
        let bound = if on { self.accept } else { self.reject };
        if libm::fabs(bound) > self.at_most {
            return NONE;
        }
        let decides = self.middle + bound / self.slope;
        // "Present" readings lie below the middle where the slope is negative.
        let boring = if (self.slope > 0.0) == on {
            Boring { low: decides, ..Boring::EVERYTHING }
        } else {
            Boring { high: decides, ..Boring::EVERYTHING }
        };
        within(boring, self.farthest)
    }

    pub fn settled(&self) -> bool {
        self.sum == 0.0
    }
}
