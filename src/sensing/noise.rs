//! Noise with a memory: a stationary first-order autoregression of unit variance,
//!
//! e(i) = r e(i - 1) + sqrt(1 - r r) z(i), z independent standard normal (Box & Jenkins, Time Series Analysis, 1970).
//!
//! **When it next leaves an interval**, without drawing every sample. A block's end is drawn first, given its beginning.
//! Whether the noise has left the interval in between is then decided by the identity that is behind importance sampling
//! of a union of events (Adler, Blanchet & Liu, Annals of Applied Probability 22, 2012, 1167-1214): with q(j) the
//! probability to be outside at sample j given both ends and Q their sum, choose with probability Q a sample j in
//! proportion to q(j), draw the path given that it is outside there, and accept it with probability one over the number of
//! samples outside. A path that leaves the interval is then drawn with exactly its own probability, so that what is left,
//! 1 - P(leaves), is the probability of not leaving. Bounds on q(j), constant over stretches, stand in for the sum and are
//! thinned away. No approximation is made; only how far the ends lie apart is a choice, which costs time and nothing
//! else.

use crate::math::normal;
use crate::math::random::Stream;

/// The noise of one sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Correlation of neighbouring samples, 0 to below 1.
    correlation: f64,
    /// Its value at the last sample accounted for, in standard deviations.
    value: f64,
}

/// The values that nothing reacts to: from `low`, included, to `high`, excluded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quiet {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Quiet {
    /// Whether a value lies in it.
    pub fn contains(&self, value: f64) -> bool {
        value >= self.low && value < self.high
    }

    /// Probability that free noise lies outside.
    fn outside(&self) -> f64 {
        self.outside_at(0.0, 0.0)
    }

    /// An upper bound where its mean lies between `down` and `up`.
    fn outside_at(&self, down: f64, up: f64) -> f64 {
        normal::cdf(self.low - down) + normal::tail(self.high - up)
    }
}

/// Longest block whose end is drawn first, samples.
const LONGEST: u64 = 4_096;
/// Above this probability of being outside, samples are drawn one by one.
const LEAP_BELOW: f64 = 1e-3;
/// Draws expected of a block: about as dear as its bounds.
const DRAWS_WORTH: f64 = 60.0;

impl Noise {
    /// Noise that has gone on for ever.
    pub fn stationary(correlation: f64, stream: &mut Stream) -> Noise {
        Noise { correlation, value: stream.normal() }
    }

    /// Its value at the last sample, in standard deviations.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// The next sample's value.
    pub fn step(&mut self, stream: &mut Stream) -> f64 {
        let r = self.correlation;
        self.value = r * self.value + libm::sqrt((1.0 - r) * (1.0 + r)) * stream.normal();
        self.value
    }

    /// Passes over `samples` samples of which nothing is known.
    pub fn pass(&mut self, samples: u64, stream: &mut Stream) {
        if samples > 0 {
            let decay = self.decay(samples);
            self.value = decay * self.value + libm::sqrt((1.0 - decay) * (1.0 + decay)) * stream.normal();
        }
    }

    fn decay(&self, samples: u64) -> f64 {
        libm::pow(self.correlation, samples as f64)
    }

    /// Passes over `samples` samples all of which are known to lie in `quiet`. Where that is unlikely it takes long.
    pub fn pass_quietly(&mut self, samples: u64, quiet: &Quiet, stream: &mut Stream) {
        let before = *self;
        while self.leaves(samples, quiet, stream).is_some() {
            *self = before;
        }
    }

    /// Goes on until the first sample outside `quiet`, `most` samples at most: how many samples that were, the one outside
    /// included; none if all `most` lie in it. The noise is then at the last of them.
    pub fn leaves(&mut self, most: u64, quiet: &Quiet, stream: &mut Stream) -> Option<u64> {
        let p = quiet.outside();
        if p > LEAP_BELOW {
            return self.walk(most, quiet, stream);
        }
        // Of a block of n samples the share n p is drawn after all.
        let longest = (libm::sqrt(DRAWS_WORTH / p) as u64).min(LONGEST);
        let mut gone = 0;
        while gone < most {
            let block = longest.min(most - gone);
            if let Some(samples) = self.leap(block, quiet, stream) {
                return Some(gone + samples);
            }
            gone += block;
        }
        None
    }

    fn walk(&mut self, samples: u64, quiet: &Quiet, stream: &mut Stream) -> Option<u64> {
        (1..=samples).find(|_| !quiet.contains(self.step(stream)))
    }

    /// The same as [`Noise::walk`] with the end drawn first.
    fn leap(&mut self, samples: u64, quiet: &Quiet, stream: &mut Stream) -> Option<u64> {
        let from = *self;
        self.pass(samples, stream);
        let bridge = Bridge { correlation: self.correlation, from: from.value, to: self.value, samples };
        if !quiet.contains(self.value) {
            // It leaves at the end at the latest.
            let path = bridge.path(None, stream);
            let first = path.iter().position(|value| !quiet.contains(*value)).map_or(samples, |place| place as u64 + 1);
            self.value = path.get(first as usize - 1).copied().unwrap_or(self.value);
            return Some(first);
        }
        let stretches = bridge.stretches(quiet);
        let total: f64 = stretches.iter().map(|stretch| stretch.bound * stretch.count() as f64).sum();
        if total > 1.0 {
            // Too likely for the identity: every sample in between is drawn.
            let path = bridge.path(None, stream);
            return self.first_outside(&path, quiet);
        }
        let mut u = stream.uniform();
        if u >= total {
            return None;
        }
        // Which sample: u is uniform below the total.
        let mut place = stretches[stretches.len() - 1].last;
        for stretch in &stretches {
            let share = stretch.bound * stretch.count() as f64;
            if u < share {
                place = (stretch.first + (u / stretch.bound) as u64).min(stretch.last);
                break;
            }
            u -= share;
        }
        let bound = stretches.iter().find(|stretch| place <= stretch.last).map_or(1.0, |stretch| stretch.bound);
        let (mean, deviation) = bridge.at(place);
        let (below, above) =
            (normal::cdf((quiet.low - mean) / deviation), normal::tail((quiet.high - mean) / deviation));
        debug_assert!(below + above <= bound * (1.0 + 1e-9), "{} exceeds {bound}", below + above);
        if stream.uniform() * bound >= below + above {
            return None;
        }
        let value = if stream.uniform() * (below + above) < below {
            mean - deviation * stream.normal_above((mean - quiet.low) / deviation)
        } else {
            mean + deviation * stream.normal_above((quiet.high - mean) / deviation)
        };
        let path = bridge.path(Some((place, value)), stream);
        let outside = path.iter().filter(|value| !quiet.contains(**value)).count();
        if stream.uniform() * outside.max(1) as f64 >= 1.0 {
            return None;
        }
        self.first_outside(&path, quiet)
    }

    fn first_outside(&mut self, path: &[f64], quiet: &Quiet) -> Option<u64> {
        let first = path.iter().position(|value| !quiet.contains(*value))?;
        self.value = path[first];
        Some(first as u64 + 1)
    }
}

/// The samples between two known ones, `samples` steps apart.
struct Bridge {
    correlation: f64,
    from: f64,
    to: f64,
    samples: u64,
}

/// Samples `first` to `last` of a bridge, each outside with probability `bound` at most.
struct Stretch {
    first: u64,
    last: u64,
    bound: f64,
}

impl Stretch {
    fn count(&self) -> u64 {
        self.last - self.first + 1
    }
}

impl Bridge {
    /// Mean and standard deviation `steps` after its beginning.
    fn at(&self, steps: u64) -> (f64, f64) {
        let power = |steps: u64| libm::pow(self.correlation, steps as f64);
        // 1 - r^(2 n), without cancellation while r^n is near 1.
        let fresh = |steps: u64| -libm::expm1(2.0 * steps as f64 * libm::log(self.correlation));
        let (before, after, whole) = (fresh(steps), fresh(self.samples - steps), fresh(self.samples));
        let mean = (power(steps) * after * self.from + power(self.samples - steps) * before * self.to) / whole;
        (mean, libm::sqrt(before * after / whole))
    }

    /// All samples between the ends; the one at `fixed` is known, too.
    fn path(&self, fixed: Option<(u64, f64)>, stream: &mut Stream) -> Vec<f64> {
        let mut path = Vec::with_capacity(self.samples as usize);
        let (from, to, samples) = (self.from, self.to, self.samples);
        match fixed {
            None => self.fill(from, to, samples, &mut path, stream),
            Some((place, value)) => {
                self.fill(from, value, place, &mut path, stream);
                path.push(value);
                self.fill(value, to, samples - place, &mut path, stream);
            }
        }
        path
    }

    /// The samples between `from` and `to`: free noise, bent so that it ends where it must by its covariance with its end.
    fn fill(&self, from: f64, to: f64, samples: u64, path: &mut Vec<f64>, stream: &mut Stream) {
        let first = path.len();
        let mut free = Noise { correlation: self.correlation, value: from };
        path.extend((1..samples).map(|_| free.step(stream)));
        let wrong = to - free.step(stream);
        // r^(n - j) (1 - r^(2 j)) / (1 - r^(2 n)), from the end backwards until nothing is left that rounding would keep.
        let r = self.correlation;
        let fresh = |steps: u64| 1.0 - libm::pow(r * r, steps as f64);
        let (whole, mut after) = (fresh(samples), r);
        for (value, place) in path[first..].iter_mut().rev().zip((1..samples).rev()) {
            *value += wrong * after * fresh(place) / whole;
            after *= r;
            if after < 1e-18 {
                break;
            }
        }
    }

    /// All samples between the ends in stretches that double in length from both ends on, each with a bound. Away from
    /// its ends a bridge forgets them: its mean lies between nought and r^j `from` + r^(n - j) `to`, each taken only where
    /// it points outwards, and its deviation is that of free noise at most.
    fn stretches(&self, quiet: &Quiet) -> Vec<Stretch> {
        let last = self.samples - 1;
        let middle = last.div_ceil(2);
        let power = |steps: u64| libm::pow(self.correlation, steps as f64);
        let mut stretches = Vec::new();
        let mut add = |first: u64, end: u64| {
            let (near, far) = (power(first), power(self.samples - end));
            let up = near * self.from.max(0.0) + far * self.to.max(0.0);
            let down = near * self.from.min(0.0) + far * self.to.min(0.0);
            // Where the mean itself may be outside, a smaller deviation does not make it less likely.
            let bound = if down > quiet.low && up < quiet.high { quiet.outside_at(down, up) } else { 1.0 };
            stretches.push(Stretch { first, last: end, bound: bound.min(1.0) });
        };
        let mut first = 1;
        while first <= middle {
            let end = (2 * first - 1).min(middle);
            add(first, end);
            first = end + 1;
        }
        // The same from the end backwards, in ascending order.
        let mut lengths = Vec::new();
        let (mut left, mut length) = (last - middle, 1);
        while left > 0 {
            let taken = length.min(left);
            lengths.push(taken);
            (left, length) = (left - taken, 2 * length);
        }
        for length in lengths.into_iter().rev() {
            add(first, first + length - 1);
            first += length;
        }
        stretches
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    /// When noise leaves an interval, and where it stands then or after the last sample: leaps against walking sample by
    /// sample. Chi-square over bins of equal chance of the walk's own sample, two-sample, at 5 sigma of its normal
    /// approximation; the value's first two moments at 4.5 standard errors.
    #[test]
    fn leaps_agree_with_walking() {
        let n = 6_000;
        for (number, (correlation, quiet, most)) in [
            (0.3, Quiet { low: -3.4, high: f64::INFINITY }, 3_000),
            (0.6, Quiet { low: -3.6, high: 3.5 }, 2_000),
            (0.9, Quiet { low: f64::NEG_INFINITY, high: 3.3 }, 4_000),
            (0.98, Quiet { low: -3.5, high: 4.0 }, 5_000),
        ]
        .into_iter()
        .enumerate()
        {
            let mut samples = [Vec::new(), Vec::new()];
            for (way, found) in samples.iter_mut().enumerate() {
                let mut stream = Source::new(17, (2 * number + way) as u64, "noise").stream(0);
                for _ in 0..n {
                    // Within the interval, as a settled detector has it.
                    let mut noise = Noise::stationary(correlation, &mut stream);
                    while !quiet.contains(noise.value) {
                        noise = Noise::stationary(correlation, &mut stream);
                    }
                    let left = match way {
                        0 => noise.walk(most, &quiet, &mut stream),
                        _ => noise.leaves(most, &quiet, &mut stream),
                    };
                    assert_eq!(left.is_some(), !quiet.contains(noise.value));
                    found.push((left.unwrap_or(most + 1), noise.value));
                }
            }
            let mut walked: Vec<u64> = samples[0].iter().map(|(left, _)| *left).filter(|left| *left <= most).collect();
            walked.sort_unstable();
            let edges: Vec<u64> = walked.iter().copied().step_by(walked.len() / 20).chain([most]).collect();
            let bin = |left: u64| edges.iter().filter(|edge| **edge < left).count();
            let mut counts = [[0.0_f64; 64]; 2];
            for (way, found) in samples.iter().enumerate() {
                found.iter().for_each(|(left, _)| counts[way][bin(*left)] += 1.0);
            }
            let [walk, leap] = counts;
            let cells: Vec<(f64, f64)> = walk.into_iter().zip(leap).filter(|(a, b)| a + b >= 20.0).collect();
            let chi: f64 = cells.iter().map(|(a, b)| (a - b) * (a - b) / (a + b)).sum();
            let free = cells.len() as f64 - 1.0;
            assert!(free > 10.0, "{free}");
            assert!(chi < free + 5.0 * (2.0 * free).sqrt(), "{correlation}: chi-square {chi} of {free}");
            for power in [1, 2] {
                let [(a, va), (b, vb)] = [0, 1].map(|way| {
                    let values: Vec<f64> = samples[way].iter().map(|(_, value)| value.powi(power)).collect();
                    let mean = values.iter().sum::<f64>() / n as f64;
                    (mean, values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n * n) as f64)
                });
                assert!((a - b).abs() < 4.5 * (va + vb).sqrt(), "{correlation}: moment {power}: {a} {b}");
            }
        }
    }

    /// Bridges have the law of what lies between two samples of free noise: correlation with both ends and variance, from
    /// the covariances r^|i - j| (4.5 standard errors).
    #[test]
    fn bridges_have_their_law() {
        let (r, samples, place) = (0.8_f64, 7, 3);
        let bridge = Bridge { correlation: r, from: 1.5, to: -2.0, samples };
        let mut stream = Source::new(5, 0, "bridge").stream(0);
        let n = 40_000;
        let values: Vec<f64> = (0..n).map(|_| bridge.path(None, &mut stream)[place as usize - 1]).collect();
        let mean = values.iter().sum::<f64>() / f64::from(n);
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / f64::from(n);
        let (wanted, deviation) = bridge.at(place);
        // By the normal equations of two ends: weights from the inverse of [[1, c], [c, 1]], c = r^7.
        let (a, b, c) = (r.powi(3), r.powi(4), r.powi(7));
        let weights = ((a - b * c) / (1.0 - c * c), (b - a * c) / (1.0 - c * c));
        let by_hand = weights.0 * 1.5 - weights.1 * 2.0;
        let left = 1.0 - weights.0 * a - weights.1 * b;
        assert!((wanted - by_hand).abs() < 1e-12 && (deviation * deviation - left).abs() < 1e-12);
        assert!((mean - wanted).abs() < 4.5 * deviation / f64::from(n).sqrt(), "{mean} {wanted}");
        assert!((variance / left - 1.0).abs() < 4.5 * (2.0 / f64::from(n)).sqrt(), "{variance} {left}");
    }

    /// Passing over many samples at once is passing over them one by one, in variance and covariance.
    #[test]
    fn passing_over_samples() {
        let mut stream = Source::new(6, 0, "pass").stream(0);
        let n = 40_000;
        let (mut product, mut square) = (0.0, 0.0);
        for _ in 0..n {
            let mut noise = Noise::stationary(0.9, &mut stream);
            let before = noise.value();
            noise.pass(5, &mut stream);
            product += before * noise.value();
            square += noise.value() * noise.value();
        }
        let root = f64::from(n).sqrt();
        assert!((square / f64::from(n) - 1.0).abs() < 4.5 * 2.0_f64.sqrt() / root);
        assert!((product / f64::from(n) - 0.9_f64.powi(5)).abs() < 4.5 * 1.2 / root);
    }
}
