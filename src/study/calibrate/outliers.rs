//! Readings that belong to nothing: far from the median of their surroundings.
//!
//! A reading is an outlier if it lies more than five standard deviations from the median of the 101 readings about it,
//! the standard deviation taken from their median absolute deviation (Hampel, J. Amer. Statist. Assoc. 69, 1974,
//! 383-393), at least half a step of the readings. A window that moves along is not fooled by slow drift.

use super::{Measured, median};
use crate::sensing::law::SPURIOUS_SCALE_M;
use crate::study::interval::clopper_pearson;

/// Readings in the window (common practice).
const WINDOW: usize = 101;
/// Standard deviations (common practice): under normal noise one in 1.7 million readings lies beyond.
pub const BEYOND: f64 = 5.0;
/// Standard deviation of a normal law over its median absolute deviation, 1 over the normal quantile of 3/4, with the
/// digits that are in common use.
pub const SD_OVER_MAD: f64 = 1.4826;

/// Places of outliers among the readings; `step` is the step between readings.
pub fn outliers(readings: &[f64], step: f64) -> Vec<usize> {
    let half = WINDOW / 2;
    let mut window = Vec::with_capacity(WINDOW);
    let mut is_outlier = |index: usize| {
        let about = &readings[index.saturating_sub(half)..readings.len().min(index + half + 1)];
        window.clear();
        window.extend_from_slice(about);
        let middle = median(&mut window);
        window.iter_mut().for_each(|value| *value = libm::fabs(*value - middle));
        let deviation = libm::fmax(median(&mut window), 0.5 * step);
        libm::fabs(readings[index] - middle) > BEYOND * SD_OVER_MAD * deviation
    };
    (0..readings.len()).filter(|index| is_outlier(*index)).collect()
}

/// How often outliers come.
#[derive(Clone, Debug, PartialEq)]
pub struct OutlierRate {
    /// How many there are.
    pub count: u64,
    /// How many of them lie below their surroundings.
    pub below: u64,
    /// Share of readings, with the exact binomial interval.
    pub rate: Measured,
    /// The same of those below.
    pub rate_below: Measured,
    /// Longest run of outliers one after the other.
    pub longest_run: u64,
    /// Pairs of neighbours that are both outliers.
    pub pairs: u64,
}

/// Counts outliers at `places` among `readings`, whose middle is `middle`.
pub fn rate(places: &[usize], readings: &[f64], middle: f64, confidence: f64) -> OutlierRate {
    let n = readings.len() as u64;
    let share = |count: usize| Measured {
        value: count as f64 / n as f64,
        ends: clopper_pearson(count as u64, n, confidence).map(|it| (it.low, it.high)),
    };
    let below = places.iter().filter(|place| readings[**place] < middle).count();
    let (mut run, mut longest, mut pairs) = (1, u64::from(!places.is_empty()), 0);
    for pair in places.windows(2) {
        run = if pair[1] == pair[0] + 1 { run + 1 } else { 1 };
        pairs += u64::from(run > 1);
        longest = longest.max(run);
    }
    OutlierRate {
        count: places.len() as u64,
        below: below as u64,
        rate: share(places.len()),
        rate_below: share(below),
        longest_run: longest,
        pairs,
    }
}

/// Share of short returns that hide among the readings of a target at `distance_m`: those within five standard
/// deviations of it. Short returns are exponential beyond `nearest_m` with the scale of the sensor model, cut at the
/// target.
pub fn hidden_share(distance_m: f64, sigma_m: f64, nearest_m: f64) -> f64 {
    let reach = |to: f64| -libm::expm1(-libm::fmax(to - nearest_m, 0.0) / SPURIOUS_SCALE_M);
    let all = reach(distance_m);
    if all > 0.0 { 1.0 - reach(distance_m - BEYOND * sigma_m) / all } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drift_is_no_outlier_and_runs_are_counted() {
        let mut readings: Vec<f64> = (0..500).map(|i| 0.01 * f64::from(i) + 0.02 * f64::from(i % 3)).collect();
        for place in [100, 101, 102, 300] {
            readings[place] -= 3.0;
        }
        readings[400] += 3.0;
        let places = outliers(&readings, 0.01);
        assert_eq!(places, [100, 101, 102, 300, 400]);
        let found = rate(&places, &readings, 2.5, 0.95);
        assert_eq!((found.count, found.longest_run, found.pairs), (5, 3, 2));
        assert_eq!(outliers(&[1.0, 1.0, 1.0, 2.0], 1.0), [0_usize; 0], "half a step is no outlier's width");
    }

    /// Short returns from 0.1 m to a target at 0.6 m: with sigma 0.02 m those beyond 0.5 m hide, by hand.
    #[test]
    fn hidden_short_returns() {
        let cdf = |x: f64| 1.0 - (-x / 0.25_f64).exp();
        let exact = 1.0 - cdf(0.4) / cdf(0.5);
        assert!((hidden_share(0.6, 0.02, 0.1) - exact).abs() < 1e-12);
        assert_eq!(hidden_share(0.1, 0.02, 0.2), 1.0);
    }
}
