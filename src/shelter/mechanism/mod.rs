//! How the panel is guided: drive force, clear opening and edge position along the stroke.
//!
//! Position is measured along the stroke from shut (0) to open (the full stroke), whatever the mechanism. Each kind
//! of mechanism has its own file; the functions here are the only place where the kind is matched.

use std::fmt;

use super::loads::Loads;
use crate::scenario::door::{Door, Drive, Mechanism};

pub mod double_slider;
pub mod guide;
pub mod lift;

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
}

impl fmt::Display for Jam {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Jam::Guide => "jams in its guide: the drive is too far off the guide for the guide's length and friction",
            Jam::DoesNotClose => "does not close by itself, and its drive cannot push",
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
    let force = match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift::drive_force(door, lift, direction, position_m, loads, starting),
    };
    match (force, direction) {
        (Force::Push(push), Direction::Closing) if push > 0.0 && !drive.pushes => Force::Jammed(Jam::DoesNotClose),
        _ => force,
    }
}

/// Length of the full stroke, m.
pub fn stroke_m(door: &Door) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift.stroke_m,
    }
}

/// Clear height under the panel at a position, m.
pub fn clear_height_m(door: &Door, position_m: f64) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift::clear_height_m(lift, position_m),
    }
}

/// Height of the panel's closing edge above the sill at a position, m.
pub fn panel_edge_height_m(door: &Door, position_m: f64) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift::clear_height_m(lift, position_m),
    }
}

/// Whether the panel must be pushed somewhere on its way shut, so that a cord cannot close it.
pub fn needs_push_to_close(door: &Door, loads: &Loads) -> bool {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift::needs_push_to_close(door, lift, loads),
    }
}

/// Largest force with which the closing edge can press on an obstacle at rest, N, when the actuator can push with
/// `available_n` (0 for a drive that cannot push).
pub fn edge_force_n(door: &Door, available_n: f64, position_m: f64, loads: &Loads) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => lift::edge_force_n(door, lift, available_n, position_m, loads),
    }
}

/// Mass that moves with the panel, kg, drive not counted.
pub fn moving_mass_kg(door: &Door) -> f64 {
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => door.mass_kg + lift.counterweight_kg,
    }
}

/// Positions where the drive force jumps, so that an integration can be split there.
pub fn breakpoints_m(door: &Door) -> Vec<f64> {
    match &door.mechanism {
        Mechanism::VerticalLift(_) => vec![door.seal_zone_m],
    }
}
