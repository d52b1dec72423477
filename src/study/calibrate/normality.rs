//! Whether values may come from a normal law.

use super::super::interval::mean::mean_and_variance;
use crate::math::normal;

/// The test of Anderson & Darling with mean and standard deviation estimated from the values: probability of so large a
/// statistic under a normal law (D'Agostino & Stephens, Goodness-of-Fit Techniques, 1986, tables 4.7 and 4.9, from
/// memory). None for fewer than eight values or values that are all alike.
pub fn anderson_darling(values: &[f64]) -> Option<f64> {
    let n = values.len();
    let (mean, variance) = mean_and_variance(if n == 0 { &[0.0] } else { values });
    if n < 8 || variance <= 0.0 {
        return None;
    }
    let sd = libm::sqrt(variance);
    let mut z: Vec<f64> = values.iter().map(|value| (value - mean) / sd).collect();
    z.sort_by(f64::total_cmp);
    let sum: f64 = (0..n)
        .map(|i| (2 * i + 1) as f64 * (libm::log(normal::cdf(z[i])) + libm::log(normal::tail(z[n - 1 - i]))))
        .sum();
    let n = n as f64;
    let a = (-n - sum / n) * (1.0 + 0.75 / n + 2.25 / (n * n));
    Some(match a {
        a if a >= 0.6 => libm::exp(1.2937 - 5.709 * a + 0.0186 * a * a),
        a if a >= 0.34 => libm::exp(0.9177 - 4.279 * a - 1.38 * a * a),
        a if a >= 0.2 => 1.0 - libm::exp(-8.318 + 42.796 * a - 59.938 * a * a),
        a => 1.0 - libm::exp(-13.436 + 101.14 * a - 223.73 * a * a),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    /// Under a normal law the probability is uniform: it falls below 0.05 and 0.3 in as many repeats as it should, within
    /// 4.5 standard errors; exponential values are found out.
    #[test]
    fn size_and_power() {
        let mut stream = Source::new(4, 0, "normality").stream(0);
        let repeats = 2_000;
        let found: Vec<f64> = (0..repeats)
            .map(|_| anderson_darling(&(0..60).map(|_| stream.normal()).collect::<Vec<_>>()).expect("sixty values"))
            .collect();
        for level in [0.05, 0.3] {
            let share = found.iter().filter(|p| **p < level).count() as f64 / f64::from(repeats);
            let error = (level * (1.0 - level) / f64::from(repeats)).sqrt();
            assert!((share - level).abs() < 4.5 * error, "{level}: {share}");
        }
        let skewed: Vec<f64> = (0..60).map(|_| stream.exponential(1.0)).collect();
        assert!(anderson_darling(&skewed).expect("sixty values") < 1e-3);
        assert_eq!(anderson_darling(&[1.0; 20]), None);
        assert_eq!(anderson_darling(&[]), None);
    }
}
