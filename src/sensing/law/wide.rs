//! Readings drawn more widely than they come, each with the ratio of the two densities: what decides a rare miss is a run of readings that
//! hardly ever come, and particles that only draw what usually comes all die out before it.

use super::{Law, Reading};
use crate::math::random::Stream;

/// How many times wider wide noise is, and how often it is drawn so where the outcome is as often wide: each for itself, or outcomes
/// without noise would get weights that its noise scatters.
const SPREAD: f64 = 3.0;
const NOISE: f64 = 0.5;

/// Outcomes: two targets, a spurious return, "far", nothing.
const OUTCOMES: usize = 5;

/// How one sensor's next reading is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Draw<'a> {
    law: &'a Law,
    weights: [f64; OUTCOMES],
    /// Share of the draws that are wide: all possible outcomes come alike in those.
    wide: f64,
    possible: usize,
    /// Correlation of the noise from sample to sample.
    correlation: f64,
}

impl<'a> Draw<'a> {
    /// Draws of a law of which this share, below 1, has a wide outcome, and some of it wide noise: a weight is never above one over what is
    /// left of both.
    pub fn new(law: &'a Law, correlation: f64, wide: f64) -> Draw<'a> {
        let [first, second] = law.targets.map(|target| target.weight);
        let weights = [first, second, law.spurious.weight, law.far, law.nothing_weight()];
        let possible = weights.iter().filter(|weight| **weight > 0.0).count();
        Draw { law, weights, wide, possible, correlation }
    }

    /// A reading, and how much rarer it comes than it is drawn. `noise` is that of the sample before, in standard deviations, and
    /// becomes that of this one.
    pub fn next(&self, noise: &mut f64, stream: &mut Stream) -> (Reading, f64) {
        let is_wide = |share: f64, stream: &mut Stream| share > 0.0 && stream.chance(share);
        let outcome = if is_wide(self.wide, stream) { self.any(stream) } else { self.as_it_comes(stream) };
        let mut weight = 1.0;
        if self.wide > 0.0 {
            weight /= 1.0 - self.wide + self.wide / (self.possible as f64 * self.weights[outcome]);
        }
        let r = self.correlation;
        // Noise that remembers goes on whatever is read.
        let is_noisy = r > 0.0 || self.law.targets.get(outcome).is_some_and(|target| target.sigma > 0.0);
        let mut z = 0.0;
        if is_noisy {
            let share = NOISE * self.wide;
            z = stream.normal() * if is_wide(share, stream) { SPREAD } else { 1.0 };
            if share > 0.0 {
                // Density of wide noise over that of noise as it comes.
                let ratio = libm::exp(0.5 * z * z * (1.0 - 1.0 / (SPREAD * SPREAD))) / SPREAD;
                weight /= 1.0 - share + share * ratio;
            }
        }
        *noise = if r > 0.0 { r * *noise + libm::sqrt((1.0 - r) * (1.0 + r)) * z } else { z };
        let reading = match outcome {
            0 | 1 => {
                let target = &self.law.targets[outcome];
                self.law.report(target.mean + target.sigma * *noise)
            }
            2 => self.law.report(self.law.spurious_at(stream.uniform())),
            3 => Reading::Value(f64::INFINITY),
            _ => Reading::Nothing,
        };
        (reading, weight)
    }

    fn as_it_comes(&self, stream: &mut Stream) -> usize {
        let mut u = stream.uniform();
        let passed = |weight: &f64| {
            let here = u < *weight;
            u -= weight;
            here
        };
        // Rounding may leave a rest beyond the last.
        self.weights.iter().position(passed).unwrap_or_else(|| self.outcome(0))
    }

    fn any(&self, stream: &mut Stream) -> usize {
        self.outcome((stream.uniform() * self.possible as f64) as usize)
    }

    /// The outcome of this number among the possible ones.
    fn outcome(&self, number: usize) -> usize {
        let possible = self.weights.iter().enumerate().filter(|(_, weight)| **weight > 0.0);
        possible.map(|(outcome, _)| outcome).nth(number).unwrap_or(OUTCOMES - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::normal;
    use crate::math::random::Source;
    use crate::sensing::law::{Spurious, Target};

    /// Weighted draws have the law's probabilities, which [`Law::split`] works out: of a level that one reading in 30,000 lies beyond, of
    /// outcomes of a thousandth, and with noise that remembers, after a hundred samples. 4.5 standard errors of the weights.
    #[test]
    fn weights_make_up_for_what_is_drawn_too_often() {
        let mut law = Law::SILENT;
        law.targets = [Target { weight: 0.9, mean: 1.0, sigma: 0.1 }, Target { weight: 0.05, mean: 2.0, sigma: 0.0 }];
        law.spurious = Spurious { weight: 0.001, low: 0.1, high: 0.5 };
        law.far = 0.048;
        // Where noise remembers, one step alone is wide.
        for (correlation, share) in [(0.0, 0.06), (0.8, 0.3)] {
            let draw = Draw::new(&law, correlation, 0.25);
            let mut stream = Source::new(3, 0, "wide").stream(0);
            let mut sums = [[0.0; 2]; 5];
            const DRAWS: usize = 400_000;
            let mut noise = stream.normal();
            for _ in 0..DRAWS {
                // Noise goes on as it comes, so that only the last step is weighted.
                let mut now = noise;
                let (reading, weight) = draw.next(&mut now, &mut stream);
                noise = correlation * noise + (1.0 - correlation * correlation).sqrt() * stream.normal();
                let seen = match reading {
                    Reading::Value(value) => {
                        [value < 0.6 && value > 0.5, value > 1.4 && value < 1.9, value <= 0.5, value == f64::INFINITY]
                    }
                    Reading::Nothing => [false; 4],
                };
                for (sum, seen) in sums.iter_mut().zip(seen.into_iter().chain([reading == Reading::Nothing])) {
                    sum[0] += if seen { weight } else { 0.0 };
                    sum[1] += if seen { weight * weight } else { 0.0 };
                }
            }
            let tail = 0.9 * normal::tail(4.0);
            let expected = [tail - 0.9 * normal::tail(5.0), tail, 0.001 + 0.9 * normal::tail(5.0), 0.048, 0.001];
            for ([sum, square], expected) in sums.into_iter().zip(expected) {
                let (mean, error) = (sum / DRAWS as f64, square.sqrt() / DRAWS as f64);
                assert!((mean - expected).abs() < 4.5 * error, "{correlation}: {mean} +- {error} against {expected}");
                assert!(error < share * expected, "{correlation}: {mean} +- {error}");
            }
        }
    }
}
