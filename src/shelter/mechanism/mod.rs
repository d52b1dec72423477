//! How the panel is guided: drive force, clear opening and pose along the stroke.
//!
//! Position is measured along the actuator's stroke from shut (0) to open (the full stroke), whatever the mechanism;
//! for a hinged or a double-sliding panel neither height nor angle is proportional to it. Each kind of mechanism has its own
//! file; the functions here are the only place where the kind is matched. What needs no kind (dead zones, sweeps) is in
//! [`survey`].

use std::fmt;

use super::loads::Loads;
use crate::scenario::door::{Door, Drive, Mechanism};

pub mod curtain;
pub mod double_slider;
pub mod flap;
pub mod guide;
pub mod leaf;
pub mod lift;
pub mod linkage;
pub mod slide;
pub mod survey;
pub mod trammel;

/// Standard gravity, m/s2 (CGPM 1901, exact by definition).
pub const GRAVITY_M_S2: f64 = 9.806_65;

/// Which way the panel moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Direction {
    /// From shut to open.
    Opening,
    /// From open to shut.
    Closing,
}

impl Direction {
    /// The other way.
    pub fn reversed(self) -> Direction {
        match self {
            Direction::Opening => Direction::Closing,
            Direction::Closing => Direction::Opening,
        }
    }
}

/// Why no force of the actuator, however large, moves the panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Jam {
    /// The guide locks: friction grows as fast as the drive force.
    Guide,
    /// The panel has to be pushed shut, and a cord cannot push.
    DoesNotClose,
    /// A double slider near its hanging panel: the vertical slider cannot start it against the horizontal guide's friction.
    Hanging,
    /// A double slider near its lying panel: the horizontal slider cannot move it on against the vertical guide's friction.
    Lying,
    /// A double slider moves only within a narrow window of force and jams above it.
    Window,
    /// A double slider locks under these loads.
    Locked,
    /// The rod has no lever: it points through the hinge.
    Toggle,
    /// The curtain's weight does not pull it down through its guides, and a curtain cannot be pushed.
    Slack,
}

impl fmt::Display for Jam {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Jam::Guide => "jams in its guide: the drive is too far off the guide for the guide's length and friction",
            Jam::DoesNotClose => "does not close by itself, and its drive cannot push",
            Jam::Hanging => {
                "locks near the hanging panel: a vertical pull cannot overcome the horizontal guide's friction"
            }
            Jam::Lying => "locks near the lying panel: a horizontal pull cannot overcome the vertical guide's friction",
            Jam::Window => "moves only within a narrow window of force and jams above it",
            Jam::Locked => "locks: no force in the drive's direction moves the panel there under these loads",
            Jam::Toggle => "is at a toggle: the rod points through the hinge and has no lever",
            Jam::Slack => "hangs up: the curtain is too light to pull itself down, and a curtain cannot be pushed",
        })
    }
}

/// What the actuator must do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Force {
    /// Force along the motion, N. Negative: the load drives the panel and the actuator holds it back.
    Push(f64),
    /// No force moves it.
    Jammed(Jam),
}

/// Force the actuator must bring at `position_m` to move the panel at constant speed (or, with `starting`, to set it
/// off from rest there). A frozen seal counts only for setting off from shut.
pub fn drive_force(
    door: &Door,
    drive: &Drive,
    direction: Direction,
    position_m: f64,
    loads: &Loads,
    starting: bool,
) -> Force {
    let force = asked_force(door, direction, position_m, loads, starting);
    match (force, direction) {
        (Force::Push(push), Direction::Closing) if push > 0.0 && !can_push(door, drive) => {
            Force::Jammed(Jam::DoesNotClose)
        }
        _ => force,
    }
}

/// Whether the drive can push the panel shut: a rod can, a cord cannot, and nothing pushes a curtain that hangs from its tube.
pub fn can_push(door: &Door, drive: &Drive) -> bool {
    drive.pushes && !matches!(door.mechanism, Mechanism::RollerCurtain(_))
}

/// What the mechanism asks for, whether the drive can push or not.
pub fn asked_force(door: &Door, direction: Direction, position_m: f64, loads: &Loads, starting: bool) -> Force {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift::drive_force(door, lift, direction, position_m, loads, starting),
        Mechanism::DoubleSlider(slider) => trammel::drive_force(door, slider, direction, position_m, loads, starting),
        Mechanism::TopFlap(flap) => flap::drive_force(door, flap, direction, position_m, loads, starting),
        Mechanism::SideLeaf(leaf) => leaf::drive_force(door, leaf, direction, position_m, loads, starting),
        Mechanism::HorizontalSlide(slide) => slide::drive_force(door, slide, direction, position_m, loads, starting),
        Mechanism::RollerCurtain(curtain) => {
            curtain::drive_force(door, curtain, direction, position_m, loads, starting)
        }
    }
}

/// Length of the actuator's full stroke, m.
pub fn stroke_m(door: &Door) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift.stroke_m,
        Mechanism::DoubleSlider(slider) => trammel::stroke_m(slider),
        Mechanism::TopFlap(flap) => flap::stroke_m(flap),
        Mechanism::SideLeaf(leaf) => leaf::stroke_m(leaf),
        Mechanism::HorizontalSlide(slide) => slide.stroke_m,
        Mechanism::RollerCurtain(curtain) => curtain::stroke_m(curtain),
    }
}

/// Clear height at a position, m; the opening's full height where the panel moves aside.
pub fn clear_height_m(door: &Door, position_m: f64) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift::clear_height_m(lift, position_m),
        Mechanism::DoubleSlider(slider) => trammel::clear_height_m(slider, position_m),
        Mechanism::TopFlap(flap) => flap::clear_height_m(flap, position_m),
        Mechanism::RollerCurtain(curtain) => curtain::clear_height_m(curtain, position_m),
        Mechanism::SideLeaf(_) | Mechanism::HorizontalSlide(_) => {
            if clear_width_m(door, position_m) > 0.0 {
                door.height_m
            } else {
                0.0
            }
        }
    }
}

/// Clear width at a position, m; the opening's full width where the panel moves out of the way upwards, and never more: a stroke longer
/// than the opening is wide uncovers no more of it.
pub fn clear_width_m(door: &Door, position_m: f64) -> f64 {
    match &door.mechanism {
        Mechanism::SideLeaf(leaf) => leaf::clear_width_m(door, leaf, position_m),
        Mechanism::HorizontalSlide(slide) => slide::clear_width_m(slide, position_m).min(door.width_m),
        Mechanism::VerticalLift(_)
        | Mechanism::DoubleSlider(_)
        | Mechanism::TopFlap(_)
        | Mechanism::RollerCurtain(_) => door.width_m,
    }
}

/// Whether the panel uncovers the opening from one side to the other rather than from the bottom up.
pub fn opens_sideways(door: &Door) -> bool {
    matches!(door.mechanism, Mechanism::SideLeaf(_) | Mechanism::HorizontalSlide(_))
}

/// How much of the opening is clear at a position, in the direction in which the panel uncovers it, m.
pub fn uncovered_m(door: &Door, position_m: f64) -> f64 {
    if opens_sideways(door) { clear_width_m(door, position_m) } else { clear_height_m(door, position_m) }
}

/// Height of the panel's closing edge above the sill at a position, m; 0 where it closes sideways.
pub fn panel_edge_height_m(door: &Door, position_m: f64) -> f64 {
    if opens_sideways(door) { 0.0 } else { clear_height_m(door, position_m) }
}

/// Tilt of the panel from its shut position, degrees; 0 for a panel that stays upright.
pub fn panel_deg(door: &Door, position_m: f64) -> f64 {
    match &door.mechanism {
        Mechanism::DoubleSlider(slider) => trammel::turned_deg(slider, position_m),
        Mechanism::TopFlap(flap) => flap::angle(flap, position_m).to_degrees(),
        Mechanism::VerticalLift(_)
        | Mechanism::SideLeaf(_)
        | Mechanism::HorizontalSlide(_)
        | Mechanism::RollerCurtain(_) => 0.0,
    }
}

/// The panel as a line from end to end: (x, z) from the side, or (x, y) in plan where it [opens
/// sideways](opens_sideways). x is the distance outwards from the door line, z the height above the sill, y sideways from
/// the opening's middle, m.
pub fn pose(door: &Door, position_m: f64) -> [(f64, f64); 2] {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => {
            let edge = lift::clear_height_m(lift, position_m);
            [(0.0, edge), (0.0, edge + door.height_m)]
        }
        Mechanism::DoubleSlider(slider) => trammel::pose(slider, position_m),
        Mechanism::TopFlap(flap) => flap::pose(flap, position_m),
        Mechanism::SideLeaf(leaf) => leaf::pose(door, leaf, position_m),
        Mechanism::HorizontalSlide(slide) => slide::pose(door, slide::clear_width_m(slide, position_m)),
        Mechanism::RollerCurtain(curtain) => curtain::pose(curtain, position_m),
    }
}

/// Whether the panel must be pushed somewhere on its way shut, so that a cord cannot close it.
pub fn needs_push_to_close(door: &Door, loads: &Loads) -> bool {
    if let Mechanism::VerticalLift(lift) = &door.mechanism {
        return lift::needs_push_to_close(door, lift, loads);
    }
    survey::needs_push_to_close(door, loads)
}

/// Largest force with which the closing edge can press on an obstacle at rest, N, when the actuator can push with
/// `available_n` (0 for a drive that cannot push).
pub fn edge_force_n(door: &Door, available_n: f64, position_m: f64, loads: &Loads) -> f64 {
    if let Mechanism::VerticalLift(lift) = &door.mechanism {
        return lift::edge_force_n(door, lift, available_n, position_m, loads);
    }
    // A curtain goes slack on its obstacle: whatever its drive could push stays on the tube.
    let available_n = if matches!(door.mechanism, Mechanism::RollerCurtain(_)) { 0.0 } else { available_n };
    pressing_n(door, Direction::Closing, available_n, position_m, loads, edge_gain(door, position_m))
}

/// Largest force with which the panel presses on an obstacle at rest, N, at a point that travels `gain` times as far as the
/// actuator: what the drive has left after moving the panel, in that ratio (virtual work). Wind is left out: it may blow the
/// other way.
pub fn pressing_n(
    door: &Door,
    direction: Direction,
    available_n: f64,
    position_m: f64,
    loads: &Loads,
    gain: f64,
) -> f64 {
    let calm = Loads { gust_m_s: 0.0, ..*loads };
    match asked_force(door, direction, position_m, &calm, false) {
        Force::Push(push) => (available_n.max(0.0) - push).max(0.0) / gain.max(f64::MIN_POSITIVE),
        Force::Jammed(_) => 0.0,
    }
}

/// Travel of the closing edge per travel of the actuator.
pub fn edge_gain(door: &Door, position_m: f64) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(_) | Mechanism::HorizontalSlide(_) => 1.0,
        Mechanism::DoubleSlider(slider) => trammel::edge_gain(slider, position_m),
        Mechanism::TopFlap(flap) => flap::edge_gain(flap, position_m),
        Mechanism::SideLeaf(leaf) => leaf::edge_gain(door, leaf, position_m),
        Mechanism::RollerCurtain(curtain) => curtain::edge_gain(curtain, position_m),
    }
}

/// Inertia of the panel as the actuator sees it at a position, kg.
pub fn panel_inertia_kg(door: &Door, position_m: f64) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(_) | Mechanism::HorizontalSlide(_) => door.mass_kg,
        Mechanism::DoubleSlider(slider) => trammel::inertia_kg(door, slider, position_m),
        Mechanism::TopFlap(flap) => flap::inertia_kg(door, flap, position_m),
        Mechanism::SideLeaf(leaf) => leaf::inertia_kg(door, leaf, position_m),
        Mechanism::RollerCurtain(curtain) => {
            let gain = curtain::edge_gain(curtain, position_m);
            door.mass_kg * gain * gain
        }
    }
}

/// Mass that moves with the actuator, kg, drive not counted: panel (in mid-stroke, where its inertia depends on the place)
/// and counterweight.
pub fn moving_mass_kg(door: &Door) -> f64 {
    let counterweight = match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift.counterweight_kg,
        Mechanism::DoubleSlider(slider) => slider.counterweight_kg,
        _ => 0.0,
    };
    panel_inertia_kg(door, 0.5 * stroke_m(door)) + counterweight
}

/// Positions where the drive force jumps, so that an integration can be split there.
pub fn breakpoints_m(door: &Door) -> Vec<f64> {
    vec![match &door.mechanism {
        Mechanism::VerticalLift(_) | Mechanism::HorizontalSlide(_) => door.seal_zone_m,
        Mechanism::DoubleSlider(slider) => trammel::seal_ends_m(door, slider),
        Mechanism::TopFlap(flap) => flap::seal_ends_m(door, flap),
        Mechanism::SideLeaf(leaf) => leaf::seal_ends_m(door, leaf),
        Mechanism::RollerCurtain(curtain) => curtain::position_m(curtain, door.seal_zone_m),
    }]
}
