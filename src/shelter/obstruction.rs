//! What raises the force of a drive above the computed one with nobody in its way: the least that a threshold for obstacles must
//! leave alone.
//!
//! ```text
//! friction   sd = FRICTION_SPREAD f,  f = (F open + F shut)/2 at one place: weight, spring and counterweight cancel out
//! cold       F = force (20 - T)/(20 - -10), none above 20 degC; spread from stroke to stroke as a log-normal one
//! wind       F = share of the gust's force on the panel
//! ```
//!
//! The first is of every drive; cold and wind are failure modes of a scenario, which says how much of them its controller does not
//! expect.

use super::loads::Loads;
use super::mechanism::survey::STEPS;
use super::mechanism::{Direction, Force, asked_force, stroke_m};
use crate::scenario::door::Door;

/// Standard deviation of the friction from stroke to stroke as a share of it (common practice: seals, guides and grease repeat to about
/// a tenth).
pub const FRICTION_SPREAD: f64 = 0.1;

/// Temperature at which a drive has the friction it was set up with, degC (common practice).
pub const SET_UP_C: f64 = 20.0;
/// Temperature to which the force of the cold refers, degC.
const COLD_C: f64 = -10.0;

/// Spread of the logarithm of the drag in the cold from stroke to stroke (grit, grease; common practice).
pub const DRAG_SPREAD: f64 = 0.3;

/// Standard deviations beyond which the friction is taken never to come, so that no chance is drawn for it: 1e-9 of strokes.
const NEVER: f64 = 6.0;

/// The largest friction of the panel over its stroke in calm, mild air, N at the drive: half of what the forces to move it to and fro at
/// one place sum up to. Places where it jams are left out.
pub fn friction_n(door: &Door) -> f64 {
    let full_m = stroke_m(door).max(0.0);
    let at = |step: usize| {
        let position_m = full_m * step as f64 / STEPS as f64;
        let force = |direction| match asked_force(door, direction, position_m, &Loads::CALM, false) {
            Force::Push(force_n) => Some(force_n),
            Force::Jammed(_) => None,
        };
        Some(0.5 * (force(Direction::Opening)? + force(Direction::Closing)?))
    };
    (0..=STEPS).filter_map(at).fold(0.0, f64::max)
}

/// The largest friction above the computed one that some stroke of so many standard deviations has, N.
pub fn above_computed_n(friction_n: f64, deviations: f64) -> f64 {
    FRICTION_SPREAD * friction_n * deviations
}

/// Whether friction alone may come to the threshold in some stroke.
pub fn may_trip(friction_n: f64, threshold_n: f64) -> bool {
    above_computed_n(friction_n, NEVER) > threshold_n
}

/// Force that the cold adds, N, where it adds `force_n` at -10 degC.
pub fn cold_n(force_n: f64, temperature_c: f64) -> f64 {
    force_n * ((SET_UP_C - temperature_c) / (SET_UP_C - COLD_C)).max(0.0)
}

/// Force that a gust adds to what is expected, N, where the share of it is not expected.
pub fn wind_n(share: f64, door: &Door, loads: &Loads) -> f64 {
    share * loads.wind_n(door)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 50 N at -10 degC: half of it at 5 degC, nothing at 20 degC and above.
    #[test]
    fn the_cold_adds_in_proportion() {
        assert_eq!([-10.0, 5.0, 20.0, 30.0].map(|c| cold_n(50.0, c)), [50.0, 25.0, 0.0, 0.0]);
    }

    /// Ten per cent of 40 N: six of its standard deviations are 24 N.
    #[test]
    fn friction_comes_to_what_it_may() {
        assert!(may_trip(40.0, 23.9) && !may_trip(40.0, 24.1));
        assert!((above_computed_n(40.0, 2.0) - 8.0).abs() < 1e-12);
    }
}
