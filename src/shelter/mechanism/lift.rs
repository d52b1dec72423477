//! Vertical lift: the panel rises in two side guides, balanced by a counterweight.
//!
//! ```text
//! up:   load = W + mu |P| + seal + ice - Wc eta^n    F = load / (1 - 2 mu e/b), locked when 2 mu e/b >= 1
//! down: net  = W - mu |P| - seal - Wc / eta^n        net > 0: the drive holds net / (1 + 2 mu e/b)
//!                                                    net < 0: it must push |net| / (1 - 2 mu e/b)
//! ```
//!
//! W weight, P wind force on the panel (carried by the guides), Wc counterweight over n pulleys of efficiency eta
//! (0.93 to 0.97 is common practice), e/b offset and length of the guide (see [`super::guide`]). Statics with Coulomb
//! friction. The seal drags only while it is squeezed, that is within the seal zone at the shut end; ice holds only
//! at the start from shut. When the panel starts from rest, guide friction and seal drag are larger by the break-away
//! factor; pulley losses are rolling losses and stay the same.

use super::{Direction, Force, GRAVITY_M_S2, Jam, guide};
use crate::scenario::door::{Door, VerticalLift};
use crate::shelter::loads::{Loads, friction_factor};

/// See [`super::drive_force`]; the force is what the mechanism asks for, whether the drive can push or not.
pub fn drive_force(
    door: &Door,
    lift: &VerticalLift,
    direction: Direction,
    position_m: f64,
    loads: &Loads,
    starting: bool,
) -> Force {
    // Along the motion: positive resists, negative drives.
    let resisting = match direction {
        Direction::Opening => {
            let ice = if starting && loads.frozen && position_m <= 0.0 { door.ice_n } else { 0.0 };
            weight_n(door) - counterweight_n(lift) * pulleys(lift)
                + drag_n(door, lift, position_m, loads, starting)
                + ice
        }
        Direction::Closing => -net_down_n(door, lift, position_m, loads, starting),
    };
    let ratio =
        guide::ratio(lift.guide_friction * friction_factor(door, starting), lift.drive_offset_m, lift.guide_length_m);
    if resisting <= 0.0 {
        return Force::Push(-guide::held(-resisting, ratio));
    }
    guide::driven(resisting, ratio).map_or(Force::Jammed(Jam::Guide), Force::Push)
}

/// Clear height, m: the position itself, within the stroke.
pub fn clear_height_m(lift: &VerticalLift, position_m: f64) -> f64 {
    position_m.clamp(0.0, lift.stroke_m.max(0.0))
}

/// The panel is hardest to close where the seal is squeezed, and when it starts from rest there.
pub fn needs_push_to_close(door: &Door, lift: &VerticalLift, loads: &Loads) -> bool {
    net_down_n(door, lift, lift.stroke_m, loads, true) < 0.0 || net_down_n(door, lift, 0.0, loads, false) < 0.0
}

/// Net weight plus what of the drive's push gets past the guide.
pub fn edge_force_n(door: &Door, lift: &VerticalLift, available_n: f64, position_m: f64, loads: &Loads) -> f64 {
    let ratio = guide::ratio(lift.guide_friction, lift.drive_offset_m, lift.guide_length_m);
    let push = available_n.max(0.0) * (1.0 - ratio).max(0.0);
    (net_down_n(door, lift, position_m, loads, false) + push).max(0.0)
}

/// What is left of the weight to drive the panel down, N; negative if it must be pushed.
fn net_down_n(door: &Door, lift: &VerticalLift, position_m: f64, loads: &Loads, starting: bool) -> f64 {
    weight_n(door) - counterweight_n(lift) / pulleys(lift) - drag_n(door, lift, position_m, loads, starting)
}

/// Guide friction from wind, and seal drag, N.
fn drag_n(door: &Door, lift: &VerticalLift, position_m: f64, loads: &Loads, starting: bool) -> f64 {
    let seal = if position_m <= door.seal_zone_m { door.seal_n } else { 0.0 };
    (lift.guide_friction * loads.wind_n(door).abs() + seal) * friction_factor(door, starting)
}

fn weight_n(door: &Door) -> f64 {
    door.mass_kg * GRAVITY_M_S2
}

fn counterweight_n(lift: &VerticalLift) -> f64 {
    lift.counterweight_kg * GRAVITY_M_S2
}

/// Efficiency of all pulleys together.
fn pulleys(lift: &VerticalLift) -> f64 {
    libm::pow(lift.pulley_efficiency, f64::from(lift.pulleys))
}
