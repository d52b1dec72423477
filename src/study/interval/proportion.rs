//! Intervals of a proportion.

use super::quantile::{beta_quantile, normal_quantile};
use super::{Interval, Method};

/// Wilson's score interval (J. Amer. Statist. Assoc. 22, 1927, 209-212) for `successes` among `trials`. Both may be
/// fractional, as they are after division by a design effect. `None` without trials.
pub fn wilson(successes: f64, trials: f64, confidence: f64) -> Option<Interval> {
    // Rejects NaN as well.
    if !(trials > 0.0 && (0.0..=trials).contains(&successes)) {
        return None;
    }
    let z = normal_quantile(0.5 + 0.5 * confidence);
    Some(wilson_at(successes, trials, confidence, z))
}

/// Wilson's interval with the quantile `z` given, for a Student quantile where the variance was estimated.
pub(in crate::study) fn wilson_at(successes: f64, trials: f64, confidence: f64, z: f64) -> Interval {
    let share = successes / trials;
    let weight = z * z / trials;
    let middle = (share + 0.5 * weight) / (1.0 + weight);
    let half = z / (1.0 + weight) * (share * (1.0 - share) / trials + 0.25 * weight / trials).sqrt();
    // At the ends the formula is exactly 0 or 1; the rounding of middle - half is not.
    let low = if successes == 0.0 { 0.0 } else { (middle - half).max(0.0) };
    let high = if successes == trials { 1.0 } else { (middle + half).min(1.0) };
    Interval { low, high, confidence, method: Method::Wilson }
}

/// Exact binomial interval (Clopper & Pearson, Biometrika 26, 1934, 404-413) for `successes` among `trials`. `None`
/// without trials or with more successes than trials.
pub fn clopper_pearson(successes: u64, trials: u64, confidence: f64) -> Option<Interval> {
    if trials == 0 || successes > trials {
        return None;
    }
    let tail = 0.5 * (1.0 - confidence);
    let (x, n) = (successes as f64, trials as f64);
    // The extreme counts have closed forms: (1 - p)^n = tail.
    let bound = || -libm::expm1(libm::log(tail) / n);
    let low = match successes {
        0 => 0.0,
        _ if successes == trials => 1.0 - bound(),
        _ => beta_quantile(x, n - x + 1.0, tail, 1.0 - tail),
    };
    let high = match successes {
        0 => bound(),
        _ if successes == trials => 1.0,
        _ => beta_quantile(x + 1.0, n - x, 1.0 - tail, tail),
    };
    Some(Interval { low, high, confidence, method: Method::ClopperPearson })
}
