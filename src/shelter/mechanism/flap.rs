//! Top-hinged flap pushed by a rod.
//!
//! ```text
//! opening torque T = W rg sin a + P L/2 + p w L^2 sin^2(a)/2 + d M_seal - M_gas + d mu r |R|,    rod force T / lever
//! ```
//!
//! a angle from hanging, W weight at rg below the hinge, P wind on the full panel (positive: pushes it shut) at its
//! middle, p snow pressure on the horizontal projection, d = +1 opening, -1 closing, R the hinge's reaction (rod,
//! weight, snow, wind and gas spring together) on a pin of radius r. R depends on the rod force, which depends on R: a few
//! rounds settle it, because mu r is small against the lever. (Plane statics; lever and rod: [`super::linkage`].)
//!
//! The seal's and the ice's resultant act at half the length (a bond spread evenly over the frame). The gust acts
//! against the motion: the weather knows no wind direction. Gas spring: F = F1 / (1 - (1 - 1/K) x/S), K = F2/F1 over
//! the full compression S, in proportion to the absolute temperature (isothermal ideal gas); its own friction works against
//! the motion.

use super::linkage::Linkage;
use super::{Direction, Force, GRAVITY_M_S2, Jam};
use crate::scenario::door::{Door, GasSpring, Swing, TopFlap};
use crate::shelter::loads::{Loads, friction_factor};

/// Rounds of the hinge reaction; each gains a factor of mu r / lever, a few hundredths.
const ROUNDS: usize = 30;

/// What acts on the flap besides its weight and the gas spring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Acting {
    /// Wind force, N, positive if it pushes the flap shut.
    pub wind_n: f64,
    /// Torque of seal and ice, N m.
    pub seal_nm: f64,
    /// Snow pressure on the horizontal projection, Pa.
    pub snow_pa: f64,
    /// Hinge friction coefficient.
    pub friction: f64,
    /// Air temperature, degC.
    pub temperature_c: f64,
}

/// Force in the rod, N, positive if it pushes the panel pivot away from the fixed pivot; none at a toggle, or where
/// the hinge's friction outgrows the lever.
pub fn rod_force_n(door: &Door, flap: &TopFlap, direction: Direction, angle: f64, acting: &Acting) -> Option<f64> {
    let d = if direction == Direction::Opening { 1.0 } else { -1.0 };
    let link = Linkage::new(&flap.rod);
    let lever = link.lever_m(angle);
    if link.is_toggle(lever) {
        return None;
    }
    let (s, c) = (libm::sin(angle), libm::cos(angle));
    let weight = door.mass_kg * GRAVITY_M_S2;
    let snow = acting.snow_pa * door.width_m * flap.length_m * s;
    let gas = flap.gas_spring.as_ref().map_or((0.0, 0.0, 0.0), |spring| {
        let link = Linkage::new(&spring.rod);
        let force = gas_force_n(flap, spring, angle, acting.temperature_c, direction);
        let e = link.direction(angle);
        (force * e.0, force * e.1, force * link.lever_m(angle))
    });
    let still = weight * flap.mass_at * flap.length_m * s
        + acting.wind_n * 0.5 * flap.length_m
        + snow * 0.5 * flap.length_m * s
        + d * acting.seal_nm
        - gas.2;
    // All but the rod: weight and snow down, wind along the shutting normal, gas spring.
    let rest = (-acting.wind_n * c + gas.0, -weight - snow - acting.wind_n * s + gas.1);
    let e = link.direction(angle);
    let mut force = still / lever;
    for _ in 0..ROUNDS {
        let reaction = libm::hypot(force * e.0 + rest.0, force * e.1 + rest.1);
        force = (still + d * acting.friction * flap.pin_radius_m * reaction) / lever;
    }
    // A pin as large as its lever locks itself: the rounds then grow without end.
    (acting.friction * flap.pin_radius_m < lever.abs() && force.is_finite()).then_some(force)
}

/// Force of the gas spring in its rod at an angle, N, its friction included.
pub fn gas_force_n(flap: &TopFlap, spring: &GasSpring, angle: f64, temperature_c: f64, direction: Direction) -> f64 {
    let link = Linkage::new(&spring.rod);
    let open = flap.open_angle_deg.to_radians();
    let (shut_m, open_m) = (link.length_m(0.0), link.length_m(open));
    let stroke = open_m - shut_m;
    let share = if stroke > 0.0 { ((open_m - link.length_m(angle)) / stroke).clamp(0.0, 1.0) } else { 0.0 };
    let cold = (273.15 + temperature_c) / 293.15;
    let gas = spring.force_n * cold / (1.0 - (1.0 - 1.0 / spring.ratio) * share);
    // It extends as the flap opens.
    if direction == Direction::Opening { gas - spring.friction_n } else { gas + spring.friction_n }
}

/// See [`super::drive_force`].
pub fn drive_force(
    door: &Door,
    flap: &TopFlap,
    direction: Direction,
    position_m: f64,
    loads: &Loads,
    starting: bool,
) -> Force {
    let angle = angle(flap, position_m);
    let factor = friction_factor(door, starting);
    let seal = if angle * flap.length_m <= door.seal_zone_m { door.seal_n * factor } else { 0.0 };
    let ice = if starting && loads.frozen && position_m <= 0.0 { door.ice_n } else { 0.0 };
    let against = if direction == Direction::Opening { 1.0 } else { -1.0 };
    let acting = Acting {
        wind_n: against * loads.wind_n(door).abs(),
        seal_nm: 0.5 * flap.length_m * (seal + ice),
        snow_pa: 0.0,
        friction: flap.hinge_friction * factor,
        temperature_c: loads.temperature_c,
    };
    let lever = Linkage::new(&flap.rod).lever_m(angle);
    rod_force_n(door, flap, direction, angle, &acting)
        .map_or(Force::Jammed(Jam::Toggle), |force| Force::Push(against * force * lever.signum()))
}

fn open(flap: &TopFlap) -> f64 {
    flap.open_angle_deg.to_radians()
}

/// Travel of the rod, m; up to a toggle if there is one.
pub fn stroke_m(flap: &TopFlap) -> f64 {
    Linkage::new(&flap.rod).stroke_m(open(flap))
}

/// Angle at a travel of the rod, rad.
pub fn angle(flap: &TopFlap, position_m: f64) -> f64 {
    Linkage::new(&flap.rod).angle_at(position_m, open(flap))
}

/// Clear height, m: under the free edge. A shut flap that does not reach the sill still counts as shut.
pub fn clear_height_m(flap: &TopFlap, position_m: f64) -> f64 {
    let angle = angle(flap, position_m);
    if angle <= 0.0 { 0.0 } else { (flap.hinge_height_m - flap.length_m * libm::cos(angle)).max(0.0) }
}

/// From hinge to free edge; x outwards, z up from the sill.
pub fn pose(flap: &TopFlap, position_m: f64) -> [(f64, f64); 2] {
    let angle = angle(flap, position_m);
    let side = if flap.opens == Swing::Outwards { 1.0 } else { -1.0 };
    let out = side * flap.length_m * libm::sin(angle);
    [(0.0, flap.hinge_height_m), (out, flap.hinge_height_m - flap.length_m * libm::cos(angle))]
}

/// Travel of the free edge per travel of the rod.
pub fn edge_gain(flap: &TopFlap, position_m: f64) -> f64 {
    let link = Linkage::new(&flap.rod);
    let lever = link.lever_m(angle(flap, position_m)).abs();
    flap.length_m / lever.max(1e-6 * flap.length_m)
}

/// Inertia at the rod, kg: a thin plate about its edge, m L^2/3.
pub fn inertia_kg(door: &Door, flap: &TopFlap, position_m: f64) -> f64 {
    let gain = edge_gain(flap, position_m);
    door.mass_kg * gain * gain / 3.0
}

/// Position where the seal lets go.
pub fn seal_ends_m(door: &Door, flap: &TopFlap) -> f64 {
    let link = Linkage::new(&flap.rod);
    let angle = (door.seal_zone_m / flap.length_m).min(link.toggle(open(flap)).unwrap_or(open(flap)));
    (link.length_m(angle) - link.length_m(0.0)).abs()
}
