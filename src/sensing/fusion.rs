//! Several sensors together: votes, and summed log-odds with a prior.
//!
//! A strategy votes with `any`, `all` and `at_least` and sums log-odds with `log_odds` in its rules (see
//! [`crate::shelter::condition`]); here are the laws that say what to expect of them.

use crate::math::absorbing::{AbsorbingChain, TooManyStates};

/// Probability that a vote of alike sensors speaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Votes {
    /// Both of two.
    pub both: f64,
    /// Either of two.
    pub either: f64,
    /// At least two of three.
    pub two_of_three: f64,
}

/// Votes of sensors that each speak with probability `p`, of which the share `common` comes from a cause that all share
/// (same window, same supply, same weather): the beta-factor model (Fleming 1975; NUREG/CR-4780, 1988). The common cause
/// makes them all speak, with probability common x p; without it each speaks by itself with (1 - common) p.
pub fn votes(p: f64, common: f64) -> Votes {
    let own = (1.0 - common) * p;
    let shared = common * p;
    let with = |vote: f64| shared + (1.0 - shared) * vote;
    Votes { both: with(own * own), either: with(own * (2.0 - own)), two_of_three: with(own * own * (3.0 - 2.0 * own)) }
}

/// Probability that sensors which each miss something with probability `misses` all miss it, if the share `common` of a
/// sensor's misses comes from a cause that they share: the beta-factor model of [`votes`] for unlike sensors. What they
/// share can't spoil them all more often than it spoils the best of them, hence `common` times the smallest probability;
/// for alike ones that is the model itself (common practice, as in IEC 61508-6, from memory). A single sensor misses by
/// itself; no sensor misses everything.
pub fn missed_together(misses: impl Iterator<Item = f64> + Clone, common: f64) -> f64 {
    let count = misses.clone().count();
    if count < 2 {
        return misses.last().unwrap_or(1.0);
    }
    let shared = common * misses.clone().fold(1.0, f64::min);
    let apart: f64 = misses.map(|miss| (1.0 - common) * miss).product();
    shared + (1.0 - shared) * apart
}

/// What a sensor's being on adds to the log-odds, and what its being off does, if it is on with probability `present`
/// when something is there and `absent` when nothing is: ln(present / absent) and ln((1 - present) / (1 - absent)).
pub fn evidence(present: f64, absent: f64) -> (f64, f64) {
    (libm::log(present) - libm::log(absent), libm::log1p(-present) - libm::log1p(-absent))
}

/// A filter that follows the log-odds of "something is there" from sample to sample (a two-state hidden Markov model).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Filter {
    /// Probability of a hit with something there.
    pub present: f64,
    /// Probability of a hit with nothing there.
    pub absent: f64,
    /// Probability per sample that something arrives: the prior from the timetable.
    pub arrives: f64,
    /// Probability per sample that it goes.
    pub leaves: f64,
    /// Log-odds at which it speaks.
    pub limit: f64,
    /// Least log-odds that it keeps, so that it can still be convinced.
    pub floor: f64,
}

impl Filter {
    /// The log-odds after one more sample.
    pub fn advance(&self, log_odds: f64, hit: bool) -> f64 {
        let there = 1.0 / (1.0 + libm::exp(-log_odds));
        let after = there * (1.0 - self.leaves) + (1.0 - there) * self.arrives;
        let (on, off) = evidence(self.present, self.absent);
        (libm::log(after) - libm::log1p(-after) + if hit { on } else { off }).max(self.floor)
    }

    /// The chain of the filter on a grid of this step, from the floor until it speaks; samples are hits with probability
    /// `hit`. A value between two points is split between them so that its mean is kept; the mean run errs by an
    /// amount that falls with the square of the step (some parts in a thousand at 0.02 in common cases).
    ///
    /// # Errors
    /// If the grid has more points than a chain can have.
    pub fn chain(&self, step: f64, hit: f64) -> Result<AbsorbingChain, TooManyStates> {
        let points = libm::round((self.limit - self.floor) / step) as usize;
        AbsorbingChain::explore(0_usize, |from| {
            let log_odds = self.floor + *from as f64 * step;
            let mut ways = Vec::with_capacity(4);
            for (p, hit) in [(1.0 - hit, false), (hit, true)] {
                let next = self.advance(log_odds, hit);
                if next >= self.limit {
                    ways.push((p, None));
                    continue;
                }
                let place = (next - self.floor) / step;
                let below = libm::floor(place);
                let upper = place - below;
                for (share, point) in [(1.0 - upper, below as usize), (upper, below as usize + 1)] {
                    ways.push((p * share, (point < points).then_some(point)));
                }
            }
            ways
        })
    }
}
