//! Side-hinged leaf pushed by a rod.
//!
//! ```text
//! torque = P w/2 + mu (2 r sqrt((W rg/s)^2 + (P/2)^2) + rt W) + W rg sin(lean) + seal w/2,    rod force = torque / lever
//! ```
//!
//! W weight at rg = w/2 from the axis, s distance between the hinges, r pin radius, rt mean radius of the thrust face. Each
//! hinge carries the couple of the weight and, cautiously, half the wind. The axis leans so that the leaf climbs as it
//! opens; the moment is taken at its largest all the way. The wind acts against the motion. (Plane statics.)

use super::linkage::Linkage;
use super::{Direction, Force, GRAVITY_M_S2, Jam};
use crate::scenario::door::{Door, SideLeaf, Swing};
use crate::shelter::loads::{Loads, friction_factor};

/// Torque of hinge friction, N m.
pub fn friction_nm(door: &Door, leaf: &SideLeaf, wind_n: f64, friction: f64) -> f64 {
    let weight = door.mass_kg * GRAVITY_M_S2;
    let couple = weight * 0.5 * door.width_m / leaf.hinge_span_m;
    let pins = 2.0 * leaf.pin_radius_m * libm::hypot(couple, 0.5 * wind_n);
    friction * (pins + leaf.thrust_radius_m * weight)
}

/// Torque of the leaning axis, N m; it resists opening.
pub fn lean_nm(door: &Door, leaf: &SideLeaf) -> f64 {
    door.mass_kg * GRAVITY_M_S2 * 0.5 * door.width_m * libm::sin(leaf.lean_deg.to_radians())
}

/// Torque against the motion, N m; negative if the lean drives it.
pub fn torque_nm(door: &Door, leaf: &SideLeaf, direction: Direction, angle: f64, loads: &Loads, starting: bool) -> f64 {
    let factor = friction_factor(door, starting);
    let wind_n = loads.wind_n(door).abs();
    let seal = if angle * door.width_m <= door.seal_zone_m { door.seal_n * factor } else { 0.0 };
    let ice = if starting && loads.frozen && angle <= 0.0 { door.ice_n } else { 0.0 };
    let lean = lean_nm(door, leaf) * if direction == Direction::Opening { 1.0 } else { -1.0 };
    0.5 * door.width_m * (wind_n + seal + ice) + friction_nm(door, leaf, wind_n, leaf.hinge_friction * factor) + lean
}

/// See [`super::drive_force`].
pub fn drive_force(
    door: &Door,
    leaf: &SideLeaf,
    direction: Direction,
    position_m: f64,
    loads: &Loads,
    starting: bool,
) -> Force {
    let angle = angle(leaf, position_m);
    let link = Linkage::new(&leaf.rod);
    let lever = link.lever_m(angle);
    if link.is_toggle(lever) {
        return Force::Jammed(Jam::Toggle);
    }
    Force::Push(torque_nm(door, leaf, direction, angle, loads, starting) / lever.abs())
}

fn open(leaf: &SideLeaf) -> f64 {
    leaf.open_angle_deg.to_radians()
}

/// Travel of the rod, m; up to a toggle if there is one.
pub fn stroke_m(leaf: &SideLeaf) -> f64 {
    Linkage::new(&leaf.rod).stroke_m(open(leaf))
}

/// Angle at a travel of the rod, rad.
pub fn angle(leaf: &SideLeaf, position_m: f64) -> f64 {
    Linkage::new(&leaf.rod).angle_at(position_m, open(leaf))
}

/// Clear width of a straight passage, m: w - max(0, w cos a) - t |sin a|.
pub fn clear_width_m(door: &Door, leaf: &SideLeaf, position_m: f64) -> f64 {
    clear_width_at(door, leaf, angle(leaf, position_m))
}

/// The same at an angle, rad.
pub fn clear_width_at(door: &Door, leaf: &SideLeaf, angle: f64) -> f64 {
    let (s, c) = (libm::sin(angle), libm::cos(angle));
    (door.width_m - (door.width_m * c).max(0.0) - leaf.thickness_m * s.abs()).max(0.0)
}

/// From hinge to free edge in plan; x outwards, y sideways with the opening's middle at 0.
pub fn pose(door: &Door, leaf: &SideLeaf, position_m: f64) -> [(f64, f64); 2] {
    let angle = angle(leaf, position_m);
    let side = if leaf.opens == Swing::Outwards { 1.0 } else { -1.0 };
    let hinge = 0.5 * door.width_m;
    [(0.0, hinge), (side * door.width_m * libm::sin(angle), hinge - door.width_m * libm::cos(angle))]
}

/// Travel of the free edge per travel of the rod.
pub fn edge_gain(door: &Door, leaf: &SideLeaf, position_m: f64) -> f64 {
    let lever = Linkage::new(&leaf.rod).lever_m(angle(leaf, position_m)).abs();
    door.width_m / lever.max(1e-6 * door.width_m)
}

/// Inertia at the rod, kg: a thin plate about its edge, m w^2/3.
pub fn inertia_kg(door: &Door, leaf: &SideLeaf, position_m: f64) -> f64 {
    let gain = edge_gain(door, leaf, position_m);
    door.mass_kg * gain * gain / 3.0
}

/// Position where the seal lets go.
pub fn seal_ends_m(door: &Door, leaf: &SideLeaf) -> f64 {
    let link = Linkage::new(&leaf.rod);
    let angle = (door.seal_zone_m / door.width_m).min(link.toggle(open(leaf)).unwrap_or(open(leaf)));
    (link.length_m(angle) - link.length_m(0.0)).abs()
}
