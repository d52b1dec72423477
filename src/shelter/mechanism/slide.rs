//! Panel that slides sideways on rollers.
//!
//! ```text
//! F = [W (mu_roll cos b + sin b) + mu_side |P| + seal + ice] / (1 - 2 mu_side e/b_guide)
//! ```
//!
//! b slope of the track (positive: climbs as it opens; changes sign when closing), P wind, carried by the side
//! guides, e and b_guide offset of the drive and length of the guide (see [`super::guide`]). A track steep enough to drive the
//! panel is held back by the drive, helped by the guide's friction. (Statics with Coulomb friction.)

use super::{Direction, Force, GRAVITY_M_S2, Jam, guide};
use crate::scenario::door::{Door, HorizontalSlide};
use crate::shelter::loads::{Loads, friction_factor};

/// See [`super::drive_force`].
pub fn drive_force(
    door: &Door,
    slide: &HorizontalSlide,
    direction: Direction,
    position_m: f64,
    loads: &Loads,
    starting: bool,
) -> Force {
    let factor = friction_factor(door, starting);
    let slope = slide.slope_deg.to_radians() * if direction == Direction::Opening { 1.0 } else { -1.0 };
    let weight = door.mass_kg * GRAVITY_M_S2;
    let seal = if position_m <= door.seal_zone_m { door.seal_n } else { 0.0 };
    let ice = if starting && loads.frozen && position_m <= 0.0 { door.ice_n } else { 0.0 };
    let friction =
        slide.roller_friction * weight * libm::cos(slope) + slide.side_friction * loads.wind_n(door).abs() + seal;
    let load = weight * libm::sin(slope) + friction * factor + ice;
    let ratio = guide::ratio(slide.side_friction * factor, slide.drive_offset_m, slide.guide_length_m);
    if load <= 0.0 {
        return Force::Push(-guide::held(-load, ratio));
    }
    guide::driven(load, ratio).map_or(Force::Jammed(Jam::Guide), Force::Push)
}

/// Clear width, m: the position.
pub fn clear_width_m(slide: &HorizontalSlide, position_m: f64) -> f64 {
    position_m.clamp(0.0, slide.stroke_m.max(0.0))
}

/// The panel in plan; x outwards, y sideways with the opening's middle at 0.
pub fn pose(door: &Door, position_m: f64) -> [(f64, f64); 2] {
    [(0.0, position_m - 0.5 * door.width_m), (0.0, position_m + 0.5 * door.width_m)]
}
