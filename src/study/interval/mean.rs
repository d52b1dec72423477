//! Student's intervals of a mean and of a difference of means.

use super::quantile::{t_quantile, t_two_sided};
use super::{Interval, Method};

/// Mean and sample variance (divisor n - 1; 0 for a single value). Values and their number are the caller's care:
/// at least one, all finite.
pub(in crate::study) fn mean_and_variance(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    (mean, if values.len() > 1 { square / (n - 1.0) } else { 0.0 })
}

/// Student's interval of the mean (Biometrika 6, 1908, 1-25). `None` below two values.
pub fn student_t(values: &[f64], confidence: f64) -> Option<Interval> {
    if values.len() < 2 {
        return None;
    }
    let n = values.len() as f64;
    let (mean, variance) = mean_and_variance(values);
    let half = t_quantile(0.5 + 0.5 * confidence, n - 1.0) * (variance / n).sqrt();
    Some(Interval { low: mean - half, high: mean + half, confidence, method: Method::StudentT })
}

/// Smallest number of values (2 or more) whose Student interval has half the width `half_width`, if their standard
/// deviation is `sd`. `None` if that takes more than 1e9.
pub fn replications_for_half_width(sd: f64, half_width: f64, confidence: f64) -> Option<u64> {
    let p = 0.5 + 0.5 * confidence;
    smallest(2, |n| t_quantile(p, n as f64 - 1.0) * sd <= half_width * (n as f64).sqrt())
}

/// Smallest whole number from `first` to about 1e9 at which a condition holds that stays true once it has become so.
pub(in crate::study) fn smallest(first: u64, holds: impl Fn(u64) -> bool) -> Option<u64> {
    const LARGEST: u64 = 1_000_000_000;
    let (mut below, mut step) = (first, 1);
    if holds(first) {
        return Some(first);
    }
    while !holds(below.saturating_add(step)) {
        below = below.saturating_add(step);
        step *= 2;
        if below > LARGEST {
            return None;
        }
    }
    let mut enough = below + step;
    while enough - below > 1 {
        let middle = below + (enough - below) / 2;
        if holds(middle) {
            enough = middle;
        } else {
            below = middle;
        }
    }
    Some(enough)
}

/// Difference of two means, `a` minus `b`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// Mean difference.
    pub mean: f64,
    /// Half the width of its interval.
    pub half_width: f64,
    /// Mean difference over its standard error; infinite for differences that are all the same but not 0.
    pub t: f64,
    /// Two-sided probability of so large a |t| if the true difference is 0.
    pub p_value: f64,
}

impl Difference {
    fn new(mean: f64, standard_error: f64, df: f64, confidence: f64) -> Difference {
        if standard_error == 0.0 {
            // No spread at all: either no difference, or one beyond doubt as far as these values can say.
            let (t, p_value) = if mean == 0.0 { (0.0, 1.0) } else { (f64::INFINITY.copysign(mean), 0.0) };
            return Difference { mean, half_width: 0.0, t, p_value };
        }
        let t = mean / standard_error;
        let half_width = t_quantile(0.5 + 0.5 * confidence, df) * standard_error;
        Difference { mean, half_width, t, p_value: t_two_sided(t, df) }
    }
}

/// Difference of two designs played on the same seasons: Student's t on the differences. `None` unless both have
/// the same number of values and at least two.
pub fn paired(a: &[f64], b: &[f64], confidence: f64) -> Option<Difference> {
    if a.len() != b.len() || a.len() < 2 {
        return None;
    }
    let differences: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
    let (mean, variance) = mean_and_variance(&differences);
    let n = a.len() as f64;
    Some(Difference::new(mean, (variance / n).sqrt(), n - 1.0, confidence))
}

/// Difference of two independent samples with unequal variances (Welch, Biometrika 34, 1947, 28-35). `None` unless
/// both have at least two values.
pub fn welch(a: &[f64], b: &[f64], confidence: f64) -> Option<Difference> {
    if a.len() < 2 || b.len() < 2 {
        return None;
    }
    let part = |values: &[f64]| {
        let (mean, variance) = mean_and_variance(values);
        (mean, variance / values.len() as f64, values.len() as f64 - 1.0)
    };
    let ((mean_a, square_a, df_a), (mean_b, square_b, df_b)) = (part(a), part(b));
    let square = square_a + square_b;
    let df = square * square / (square_a * square_a / df_a + square_b * square_b / df_b);
    Some(Difference::new(mean_a - mean_b, square.sqrt(), df, confidence))
}
