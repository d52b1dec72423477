//! How well a score separates what is there from what is not: the receiver operating characteristic.

use crate::math::normal;

/// Area under the curve for normal scores: N(0, 1) with nothing there, N(mean, sd) with something there
/// (Green & Swets, Signal Detection Theory, 1966): Phi(mean / sqrt(1 + sd^2)).
pub fn binormal_area(mean: f64, sd: f64) -> f64 {
    normal::cdf(mean / libm::sqrt(1.0 + sd * sd))
}

/// Hit rate of a level for normal scores (as above).
pub fn binormal_hit_rate(mean: f64, sd: f64, level: f64) -> f64 {
    normal::tail((level - mean) / sd)
}

/// An area estimated from scores, with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Probability that something scores higher than nothing, ties counted half (Mann & Whitney 1947).
    pub area: f64,
    /// Its standard error by the variance of placements (DeLong, DeLong & Clarke-Pearson, Biometrics 44, 1988, 837-845).
    pub delong: f64,
    /// Its standard error by Hanley & McNeil (Radiology 143, 1982, 29-36), which assumes exponential scores.
    pub hanley_mcneil: f64,
}

/// The area under the curve of two samples of scores; none if either has fewer than two.
pub fn area(nothing: &[f64], something: &[f64]) -> Option<Area> {
    if nothing.len() < 2 || something.len() < 2 {
        return None;
    }
    let beats = |high: f64, low: f64| if high > low { 1.0 } else { f64::from(u8::from(high == low)) * 0.5 };
    let (m, n) = (something.len() as f64, nothing.len() as f64);
    let of_something: Vec<f64> =
        something.iter().map(|s| nothing.iter().map(|o| beats(*s, *o)).sum::<f64>() / n).collect();
    let of_nothing: Vec<f64> =
        nothing.iter().map(|o| something.iter().map(|s| beats(*s, *o)).sum::<f64>() / m).collect();
    let area = of_something.iter().sum::<f64>() / m;
    let variance = |placements: &[f64]| {
        let count = placements.len() as f64;
        placements.iter().map(|p| (p - area) * (p - area)).sum::<f64>() / (count - 1.0)
    };
    let delong = libm::sqrt(variance(&of_something) / m + variance(&of_nothing) / n);
    let (q1, q2) = (area / (2.0 - area), 2.0 * area * area / (1.0 + area));
    let hanley = area * (1.0 - area) + (m - 1.0) * (q1 - area * area) + (n - 1.0) * (q2 - area * area);
    Some(Area { area, delong, hanley_mcneil: libm::sqrt(hanley / (m * n)) })
}
