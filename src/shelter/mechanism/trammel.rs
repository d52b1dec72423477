//! A double slider at work in a door: where it is driven, what balances it, and where that locks.
//!
//! The drive's stroke is s = inward gain x L (sin th - sin th0) + upward gain x L (cos th0 - cos th): the vertical
//! slider has the gains (0, 1), the horizontal one (1, 0), both pulled by one chain (1, 1), a point at the share k pulled
//! at the slope b has (k cos b, (1 - k) sin b). Their rate never vanishes between a hanging and a lying panel unless one
//! of them is zero: those are the two dead points.
//!
//! The weather knows no wind direction, so the gust acts on whichever side asks for the larger force. The seal drags half at each
//! slider while the upper end is within the seal zone; ice holds at the upper end, where the panel first leaves its
//! frame. Where the friction paradox leaves a window of force, the door counts as locked: no real drive keeps within
//! it. (Statics: [`super::double_slider`].)

use super::double_slider::{Answer, Pull, Trammel};
use super::{Direction, Force, GRAVITY_M_S2, Jam};
use crate::scenario::door::{Door, DoubleSlider, PanelDrive};
use crate::shelter::loads::{Loads, friction_factor};

/// Gap below which a ratio to the sill is not followed, m: nothing thinner can be caught.
const THIN_M: f64 = 1e-3;

/// See [`super::drive_force`].
pub fn drive_force(
    door: &Door,
    slider: &DoubleSlider,
    direction: Direction,
    position_m: f64,
    loads: &Loads,
    starting: bool,
) -> Force {
    let angle = angle(slider, position_m);
    let wind_n = loads.wind_n(door).abs();
    let mut worst: Option<Force> = None;
    // A higher friction can shift load to the other guide and end up asking for less; setting off never does.
    let frictions = if starting { &[true, false][..] } else { &[false][..] };
    for side in if wind_n > 0.0 { &[1.0, -1.0][..] } else { &[1.0][..] } {
        for at_rest in frictions {
            let panel = panel(door, slider, direction, position_m, side * wind_n, loads, *at_rest);
            let force = force(&panel, slider, direction, angle);
            worst = Some(match (worst, force) {
                (Some(Force::Jammed(jam)), _) | (_, Force::Jammed(jam)) => Force::Jammed(jam),
                (Some(Force::Push(one)), Force::Push(other)) => Force::Push(one.max(other)),
                (None, push) => push,
            });
        }
    }
    worst.unwrap_or(Force::Push(0.0))
}

/// Force along the motion for a panel.
fn force(panel: &Trammel, slider: &DoubleSlider, direction: Direction, angle: f64) -> Force {
    let pulls = pulls(slider);
    match panel.answer_of(angle, direction, pulls.as_slice()) {
        Answer::Moves(balance) => Force::Push(match direction {
            Direction::Opening => balance.drive_n,
            Direction::Closing => -balance.drive_n,
        }),
        Answer::Window(..) => Force::Jammed(Jam::Window),
        Answer::Locked if angle <= panel.dead_at_hanging() => Force::Jammed(Jam::Hanging),
        Answer::Locked if angle >= panel.dead_at_lying() => Force::Jammed(Jam::Lying),
        Answer::Locked => Force::Jammed(Jam::Locked),
    }
}

/// The panel with its loads, the wind positive inwards.
pub fn panel(
    door: &Door,
    slider: &DoubleSlider,
    direction: Direction,
    position_m: f64,
    wind_n: f64,
    loads: &Loads,
    starting: bool,
) -> Trammel {
    let factor = friction_factor(door, starting);
    let travel_m = inward_travel_m(slider, position_m);
    let seal_n = if travel_m <= door.seal_zone_m { door.seal_n * factor } else { 0.0 };
    let ice_n = if starting && loads.frozen && position_m <= 0.0 { door.ice_n } else { 0.0 };
    // What helps to open hinders closing: along the motion these two change sign, unlike a drag.
    let helping = if direction == Direction::Opening { -1.0 } else { 1.0 };
    let spring_n = if slider.spring_travel_m > 0.0 {
        slider.spring_n * (1.0 - travel_m / slider.spring_travel_m).max(0.0)
    } else {
        0.0
    };
    let full_m = slider.length_m + slider.overhang_m;
    Trammel {
        length_m: slider.length_m,
        weight_n: door.mass_kg * GRAVITY_M_S2,
        mass_at: slider.mass_at,
        mass_off: 0.0,
        wind_n,
        // The middle of the panel, seen from the lower slider.
        wind_at: (0.5 * full_m - slider.overhang_m) / slider.length_m,
        drag_a_n: 0.5 * seal_n + helping * slider.counterweight_kg * GRAVITY_M_S2,
        drag_b_n: 0.5 * seal_n + ice_n + helping * spring_n,
        friction_a: slider.friction_vertical * factor,
        friction_b: slider.friction_horizontal * factor,
    }
}

/// Up to two pulled points.
struct Pulls {
    both: [Pull; 2],
    count: usize,
}

impl Pulls {
    fn as_slice(&self) -> &[Pull] {
        &self.both[..self.count]
    }
}

fn pulls(slider: &DoubleSlider) -> Pulls {
    let one = |pull| Pulls { both: [pull, pull], count: 1 };
    match slider.drive {
        PanelDrive::VerticalSlider => one(Pull::UP_AT_A),
        PanelDrive::HorizontalSlider => one(Pull::INWARDS_AT_B),
        PanelDrive::BothSliders => Pulls { both: [Pull::UP_AT_A, Pull::INWARDS_AT_B], count: 2 },
        PanelDrive::Point { at, slope_deg } => {
            let slope = slope_deg.to_radians();
            one(Pull { along: (libm::cos(slope), libm::sin(slope)), at, off: 0.0 })
        }
    }
}

/// Stroke per inward and per upward travel.
fn gains(slider: &DoubleSlider) -> (f64, f64) {
    match slider.drive {
        PanelDrive::VerticalSlider => (0.0, 1.0),
        PanelDrive::HorizontalSlider => (1.0, 0.0),
        PanelDrive::BothSliders => (1.0, 1.0),
        PanelDrive::Point { at, slope_deg } => {
            let slope = slope_deg.to_radians();
            (at * libm::cos(slope), (1.0 - at) * libm::sin(slope))
        }
    }
}

fn shut(slider: &DoubleSlider) -> f64 {
    slider.shut_angle_deg.to_radians()
}

fn open(slider: &DoubleSlider) -> f64 {
    slider.open_angle_deg.to_radians().max(shut(slider))
}

/// Position of the drive at an angle, m.
pub fn position_m(slider: &DoubleSlider, angle: f64) -> f64 {
    let (inward, upward) = gains(slider);
    let shut = shut(slider);
    // Differences of sine and cosine as products, which keep their digits at small angles.
    let (half, middle) = (0.5 * (angle - shut), 0.5 * (angle + shut));
    2.0 * slider.length_m * libm::sin(half) * (inward * libm::cos(middle) + upward * libm::sin(middle))
}

/// Length of the drive's stroke, m.
pub fn stroke_m(slider: &DoubleSlider) -> f64 {
    position_m(slider, open(slider)).max(0.0)
}

/// Angle at a position of the drive, rad.
pub fn angle(slider: &DoubleSlider, at_m: f64) -> f64 {
    let (low, high) = (shut(slider), open(slider));
    let (inward, upward) = gains(slider);
    let gain = libm::hypot(inward, upward) * slider.length_m;
    if at_m <= 0.0 || gain <= 0.0 {
        return low;
    }
    // inward sin th - upward cos th = hypot x sin(th - d), tan d = upward/inward.
    let turn = libm::atan2(upward, inward);
    let first = (libm::asin((libm::sin(low - turn) + at_m / gain).clamp(-1.0, 1.0)) + turn).clamp(low, high);
    // The arc sine loses half the digits next to a dead point; two Newton steps bring them back.
    let mut angle = first;
    for _ in 0..2 {
        let rate = rate_m(slider, angle);
        if rate > 1e-9 * slider.length_m {
            angle = (angle - (position_m(slider, angle) - at_m) / rate).clamp(low, high);
        }
    }
    angle
}

/// Rate of the drive's position with the angle, m/rad.
fn rate_m(slider: &DoubleSlider, angle: f64) -> f64 {
    let (inward, upward) = gains(slider);
    slider.length_m * (inward * libm::cos(angle) + upward * libm::sin(angle))
}

/// Travel of the upper slider from the shut panel, m.
fn inward_travel_m(slider: &DoubleSlider, position_m: f64) -> f64 {
    slider.length_m * (libm::sin(angle(slider, position_m)) - libm::sin(shut(slider)))
}

/// Clear height under the lower edge, m.
pub fn clear_height_m(slider: &DoubleSlider, position_m: f64) -> f64 {
    let (angle, shut) = (angle(slider, position_m), shut(slider));
    let full_m = slider.length_m + slider.overhang_m;
    2.0 * full_m * libm::sin(0.5 * (angle - shut)) * libm::sin(0.5 * (angle + shut))
}

/// The panel from its lower edge to the upper slider; x outwards, z up from the sill.
pub fn pose(slider: &DoubleSlider, position_m: f64) -> [(f64, f64); 2] {
    let angle = angle(slider, position_m);
    let rail_m = (slider.length_m + slider.overhang_m) * libm::cos(shut(slider));
    [
        (slider.overhang_m * libm::sin(angle), clear_height_m(slider, position_m)),
        (-slider.length_m * libm::sin(angle), rail_m),
    ]
}

/// Rise of the lower edge per travel of the drive; taken at a gap of a millimetre where there is less.
pub fn edge_gain(slider: &DoubleSlider, position_m: f64) -> f64 {
    let full_m = slider.length_m + slider.overhang_m;
    let thin = libm::acos((libm::cos(shut(slider)) - THIN_M / full_m).clamp(-1.0, 1.0));
    let angle = angle(slider, position_m).max(thin);
    full_m * libm::sin(angle) / rate_m(slider, angle).max(1e-9 * slider.length_m)
}

/// Inertia of the panel as seen by the drive, kg: a thin plate in translation and rotation,
/// T = (m (w vG)^2 + I w^2)/2 with I = m l^2/12.
pub fn inertia_kg(door: &Door, slider: &DoubleSlider, position_m: f64) -> f64 {
    let angle = angle(slider, position_m);
    let (l, lam) = (slider.length_m, slider.mass_at);
    let full_m = l + slider.overhang_m;
    // G = (lam L sin, -(1 - lam) L cos): its speed per radian.
    let (gx, gy) = (lam * l * libm::cos(angle), (1.0 - lam) * l * libm::sin(angle));
    let per_radian = door.mass_kg * (gx * gx + gy * gy + full_m * full_m / 12.0);
    let rate = rate_m(slider, angle).max(1e-3 * l);
    per_radian / (rate * rate)
}

/// Position where the seal lets go.
pub fn seal_ends_m(door: &Door, slider: &DoubleSlider) -> f64 {
    let sine = libm::sin(shut(slider)) + door.seal_zone_m / slider.length_m;
    position_m(slider, libm::asin(sine.min(1.0)).clamp(shut(slider), open(slider)))
}

/// Panel's turn from shut, degrees.
pub fn turned_deg(slider: &DoubleSlider, position_m: f64) -> f64 {
    (angle(slider, position_m) - shut(slider)).to_degrees()
}
