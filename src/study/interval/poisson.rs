//! Exact intervals of a Poisson rate (Garwood, Biometrika 28, 1936, 437-442).
//!
//! The limits are gamma quantiles: the lower one has shape x, the upper one shape x + 1 for x events. They are
//! defined for fractional x too, which planning ("how many seasons more?") uses.

use super::quantile::gamma_quantile;
use super::{Interval, Method};

/// Upper bound at one-sided confidence `confidence` of the rate, after `events` events in `exposure`.
pub fn poisson_upper(events: f64, exposure: f64, confidence: f64) -> f64 {
    let tail = 1.0 - confidence;
    // No event: exp(-mean) = tail.
    let mean = if events == 0.0 { -libm::log(tail) } else { gamma_quantile(events + 1.0, confidence, tail) };
    mean / exposure
}

/// Lower bound at one-sided confidence `confidence` of the rate, after `events` events in `exposure`.
pub fn poisson_lower(events: f64, exposure: f64, confidence: f64) -> f64 {
    let tail = 1.0 - confidence;
    if events == 0.0 { 0.0 } else { gamma_quantile(events, tail, confidence) / exposure }
}

/// Two-sided interval of the rate, after `events` events in `exposure`. With no event the lower end is 0 and the
/// upper end keeps half of the error: no switch to a one-sided bound. `None` without exposure.
pub fn poisson(events: f64, exposure: f64, confidence: f64) -> Option<Interval> {
    // Rejects NaN as well.
    if !(exposure > 0.0 && events >= 0.0 && events.is_finite()) {
        return None;
    }
    let one_sided = 0.5 + 0.5 * confidence;
    Some(Interval {
        low: poisson_lower(events, exposure, one_sided),
        high: poisson_upper(events, exposure, one_sided),
        confidence,
        method: Method::Poisson,
    })
}
