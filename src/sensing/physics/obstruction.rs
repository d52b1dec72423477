//! A door drive that feels obstructions by its motor current.

use super::super::runrule::{Hits, RunLength, StartUp};
use super::super::window::RunRuleError;
use crate::math::normal;
use crate::scenario::strategy::RunRule;

/// Probability of a false trip in a stroke of `samples` samples: noise beyond `margin` of its standard deviations, k of
/// n times.
///
/// # Errors
/// If the rule is impossible.
pub fn false_trip(margin: f64, rule: RunRule, samples: u64) -> Result<f64, RunRuleError> {
    let hits = Hits::Independent { p: normal::tail(margin) };
    Ok(RunLength::new(rule, hits, StartUp::Partial)?.alarm_within(samples))
}

/// Time from the force to the reaction, s: a run of `n` samples and the controller's own delay.
pub fn reaction_s(n: usize, sample_s: f64, delay_s: f64) -> f64 {
    n as f64 * sample_s + delay_s
}

/// An upper bound on the force on an obstacle of stiffness `stiffness_n_m`, N: what the drive builds up until the
/// reaction, at most its stall force, and what the moving mass adds (energy: v sqrt(k m)).
pub fn peak_force_n(
    stall_n: f64,
    trip_n: f64,
    stiffness_n_m: f64,
    speed_m_s: f64,
    mass_kg: f64,
    reaction_s: f64,
) -> f64 {
    stall_n.min(trip_n + stiffness_n_m * speed_m_s * reaction_s) + speed_m_s * libm::sqrt(stiffness_n_m * mass_kg)
}
