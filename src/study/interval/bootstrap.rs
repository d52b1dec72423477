//! Bootstrap interval of a mean.

use super::quantile::normal_quantile;
use super::{Interval, Method};
use crate::math::normal;
use crate::math::random::{Source, Stream};

/// Resamples drawn. 2000 leave a standard error of 0.35 % on the 2.5 % beyond the end of a 95 % interval.
const RESAMPLES: usize = 2_000;
/// Fewest resamples that must lie beyond an end for it to mean anything.
const BEYOND: f64 = 10.0;

/// The stream that all bootstrap intervals use: the same values always give the same interval.
fn stream() -> Stream {
    Source::new(0, 0, "bootstrap").stream(0)
}

/// Means of resamples of some values, sorted, with what the correction of skewness needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Resampled {
    means: Vec<f64>,
    bias: f64,
    acceleration: f64,
}

impl Resampled {
    /// Draws the resamples. The values must vary.
    pub fn new(values: &[f64]) -> Resampled {
        let mut stream = stream();
        let n = values.len();
        let pick = |bits: u64| ((u128::from(bits) * n as u128) >> 64) as usize;
        let mut means: Vec<f64> =
            (0..RESAMPLES).map(|_| (0..n).map(|_| values[pick(stream.bits())]).sum::<f64>() / n as f64).collect();
        means.sort_by(f64::total_cmp);
        let mean = values.iter().sum::<f64>() / n as f64;
        // Median bias of the resamples; half of the ties with the mean count as below it.
        let below = means.partition_point(|other| *other < mean);
        let tied = means.partition_point(|other| *other <= mean) - below;
        let share = (below as f64 + 0.5 * tied as f64) / RESAMPLES as f64;
        let (square, cube) = values
            .iter()
            .map(|value| value - mean)
            .fold((0.0, 0.0), |(square, cube), off| (square + off * off, cube + off * off * off));
        Resampled {
            bias: normal_quantile(share),
            // Jackknife estimate of the acceleration; for a mean it is a sixth of its skewness.
            acceleration: cube / (6.0 * square * f64::sqrt(square)),
            means,
        }
    }

    /// The `p` end point of the mean's confidence distribution, bias-corrected and accelerated (Efron, J. Amer.
    /// Statist. Assoc. 82, 1987, 171-185).
    pub fn end_point(&self, p: f64) -> f64 {
        let z = self.bias + normal_quantile(p);
        let corrected = normal::cdf(self.bias + z / (1.0 - self.acceleration * z));
        // Order statistics at (B + 1) p, linear in between.
        let place = (corrected * (RESAMPLES + 1) as f64 - 1.0).clamp(0.0, (RESAMPLES - 1) as f64);
        let (index, part) = (place.floor() as usize, place.fract());
        let next = self.means[(index + 1).min(RESAMPLES - 1)];
        self.means[index] + part * (next - self.means[index])
    }

    /// Whether enough resamples lie beyond the ends of the interval at `confidence`.
    pub fn supports(&self, confidence: f64) -> bool {
        0.5 * (1.0 - confidence) * RESAMPLES as f64 >= BEYOND
    }

    /// The interval at `confidence`.
    pub fn interval(&self, confidence: f64) -> Interval {
        let tail = 0.5 * (1.0 - confidence);
        let (low, high) = (self.end_point(tail), self.end_point(1.0 - tail));
        Interval { low, high, confidence, method: Method::Bootstrap }
    }
}

/// Bias-corrected and accelerated bootstrap interval of the mean. `None` for values that don't vary.
pub fn bootstrap(values: &[f64], confidence: f64) -> Option<Interval> {
    let varied = values.iter().any(|value| *value != values[0]);
    varied.then(|| Resampled::new(values).interval(confidence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::interval::student_t;

    /// For many nearly normal values the bootstrap and Student's interval must nearly agree; for skewed ones the
    /// bootstrap reaches further to the long side. By the expansion of Efron (1987) the two ends lie at
    /// mean + se (+-z + skew (2 z^2 + 1) / (6 sqrt n)).
    #[test]
    fn follows_the_skewness() {
        let mut draws = Source::new(3, 0, "bootstrap test").stream(0);
        let values: Vec<f64> = (0..400).map(|_| draws.exponential(1.0)).collect();
        let n = values.len() as f64;
        let (mean, variance) = super::super::mean::mean_and_variance(&values);
        let skew = values.iter().map(|value| (value - mean).powi(3)).sum::<f64>() / n / variance.powf(1.5);
        let got = bootstrap(&values, 0.95).expect("they vary");
        let error = (variance / n).sqrt();
        let shift = skew * (2.0 * 1.96 * 1.96 + 1.0) / (6.0 * n.sqrt());
        assert!(shift > 0.1);
        // Resampling noise of a 2.5 % point from 2000 draws: sqrt(0.025 * 0.975 / 2000) / phi(1.96) = 0.06 errors;
        // the bias correction adds sqrt(pi / 2 / 2000) = 0.03, twice: 0.085 together, three of them allowed.
        assert!(((got.high - mean) / error - 1.96 - shift).abs() < 0.25, "{got:?}");
        assert!(((mean - got.low) / error - 1.96 + shift).abs() < 0.25, "{got:?}");
        let student = student_t(&values, 0.95).expect("many values");
        assert!(got.low > student.low && got.high > student.high);
    }

    #[test]
    fn same_values_same_interval_and_no_interval_without_spread() {
        let values = [1.0, 2.0, 2.5, 9.0];
        assert_eq!(bootstrap(&values, 0.9), bootstrap(&values, 0.9));
        assert_eq!(bootstrap(&[2.0; 9], 0.9), None);
        assert_eq!(bootstrap(&[], 0.9), None);
    }
}
