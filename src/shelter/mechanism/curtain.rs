//! Roller curtain wound onto a tube.
//!
//! ```text
//! r(l)^2 = r0^2 + t l/pi        torque = r [(m (Hc - l)/Hc + m_bar) g + mu P (Hc - l)/Hc]
//! ```
//!
//! l wound length, t thickness, m mass of the curtain without its bar, Hc its full height, P wind on the whole opening,
//! carried by the side guides. The radius grows faster than the hanging weight falls, so the torque peaks on the way,
//! not at the start. (Archimedean winding; statics.)
//!
//! The drive's figures hold at the bare tube: its position is r0 times the tube's turn, with t/(2 pi) of radius gained per
//! radian. A curtain cannot be pushed: it comes down by the weight of its bar and of what hangs, less the friction of
//! its guides.

use super::{Direction, Force, GRAVITY_M_S2, Jam};
use crate::scenario::door::{Door, RollerCurtain};
use crate::shelter::loads::{Loads, friction_factor};

/// Below this share of the tube's radius the thickness does not change it.
const THIN: f64 = 1e-9;

/// Radius with `wound_m` on the tube, m.
pub fn radius_m(curtain: &RollerCurtain, wound_m: f64) -> f64 {
    let r0 = curtain.tube_radius_m;
    (r0 * r0 + curtain.thickness_m * wound_m / std::f64::consts::PI).sqrt()
}

/// Position of the drive with `wound_m` on the tube, m.
pub fn position_m(curtain: &RollerCurtain, wound_m: f64) -> f64 {
    let (r0, t) = (curtain.tube_radius_m, curtain.thickness_m);
    if t <= THIN * r0 {
        return wound_m;
    }
    r0 * (radius_m(curtain, wound_m) - r0) * 2.0 * std::f64::consts::PI / t
}

/// Wound length at a position of the drive, m.
pub fn wound_m(curtain: &RollerCurtain, position_m: f64) -> f64 {
    let (r0, t) = (curtain.tube_radius_m, curtain.thickness_m);
    let turn = position_m.max(0.0) / r0;
    // Mean of first and last radius over the turn.
    (turn * (r0 + t * turn / (4.0 * std::f64::consts::PI))).min(curtain.stroke_m)
}

/// Length of the drive's stroke, m.
pub fn stroke_m(curtain: &RollerCurtain) -> f64 {
    position_m(curtain, curtain.stroke_m.max(0.0))
}

/// Pull on the curtain that raises it, N, with friction and seal against the motion.
pub fn pull_n(
    door: &Door,
    curtain: &RollerCurtain,
    direction: Direction,
    wound_m: f64,
    wind_n: f64,
    seal_n: f64,
    friction: f64,
) -> f64 {
    let hanging = if curtain.stroke_m > 0.0 { (1.0 - wound_m / curtain.stroke_m).clamp(0.0, 1.0) } else { 0.0 };
    let cloth_kg = (door.mass_kg - curtain.bar_kg).max(0.0);
    let weight = (cloth_kg * hanging + curtain.bar_kg) * GRAVITY_M_S2;
    let drag = friction * wind_n.abs() * hanging + seal_n;
    if direction == Direction::Opening { weight + drag } else { weight - drag }
}

/// See [`super::drive_force`].
pub fn drive_force(
    door: &Door,
    curtain: &RollerCurtain,
    direction: Direction,
    position_m: f64,
    loads: &Loads,
    starting: bool,
) -> Force {
    let wound = wound_m(curtain, position_m);
    let factor = friction_factor(door, starting);
    let seal = if wound <= door.seal_zone_m { door.seal_n * factor } else { 0.0 };
    let ice = if starting && loads.frozen && position_m <= 0.0 { door.ice_n } else { 0.0 };
    let pull = pull_n(door, curtain, direction, wound, loads.wind_n(door), seal + ice, curtain.guide_friction * factor);
    let gain = radius_m(curtain, wound) / curtain.tube_radius_m;
    match direction {
        Direction::Opening => Force::Push(pull * gain),
        Direction::Closing if pull < 0.0 => Force::Jammed(Jam::Slack),
        Direction::Closing => Force::Push(-pull * gain),
    }
}

/// Clear height, m: what is wound up.
pub fn clear_height_m(curtain: &RollerCurtain, position_m: f64) -> f64 {
    wound_m(curtain, position_m)
}

/// The hanging curtain; x outwards, z up from the sill.
pub fn pose(curtain: &RollerCurtain, position_m: f64) -> [(f64, f64); 2] {
    [(0.0, wound_m(curtain, position_m)), (0.0, curtain.stroke_m + curtain.tube_radius_m)]
}

/// Rise of the bar per travel of the drive.
pub fn edge_gain(curtain: &RollerCurtain, position_m: f64) -> f64 {
    radius_m(curtain, wound_m(curtain, position_m)) / curtain.tube_radius_m
}
