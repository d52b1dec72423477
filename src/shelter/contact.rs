//! How hard the moving panel hits somebody.
//!
//! An edge of stiffness k with the mass m behind it, moving at v, reaches v sqrt(k m) by its motion alone. The motor comes on
//! top: it drives the panel on until its force has risen by what counts as an obstacle, and for the reaction time after
//! that. [`blow`](super::blow) follows that through; this file says what moves and what pushes.
//!
//! A drive cannot build up more than its own static press, and a drive that does not notice the obstacle builds up all of it.
//! The threshold is a force of the drive: where the touching point travels less than the actuator, the force on it is as much
//! larger. A self-locking gear does not let its motor feel the load that it lowers, so that the obstacle carries that load before
//! anything is noticed.
//!
//! What moves is more than the panel: a rod or screw drive is stiff, and the rotor behind its gear often weighs far
//! more than the panel, m = J (2 pi i / lead)^2. A cord goes slack on contact and takes rotor and counterweight out
//! of the blow; so does a curtain, whatever turns its tube. Where the edge moves at another speed than the actuator, mass and speed are those at the actuator for
//! the blow's energy, and the static force is multiplied by the mechanism's ratio: near the sill a horizontally driven
//! double slider squeezes far harder than its drive pulls.

use super::actuator::Line;
use super::blow::{Blow, Met, Motor};
use super::loads::Loads;
use super::mechanism::{self, Direction, Force};
use crate::scenario::door::{Door, Drive};
use crate::scenario::strategy::Controller;

/// How a drive notices an obstacle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Notice {
    /// Force of the drive above the computed one that counts as an obstacle, N.
    pub force_n: f64,
    /// Time from there until the motor has stopped, s.
    pub reaction_s: f64,
}

impl Notice {
    /// As a controller has it.
    pub fn of(controller: &Controller) -> Notice {
        Notice { force_n: controller.obstruction_force_n, reaction_s: controller.obstruction_reaction.seconds() }
    }
}

/// A contact of the panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// Peak force, N.
    pub peak_force_n: f64,
    /// Kinetic energy of the panel alone, J.
    pub panel_energy_j: f64,
    /// Kinetic energy of all that hits, rotor and gear included, J.
    pub moving_energy_j: f64,
    /// Time from the touch until the motor has stopped, s; none if the drive does not notice and pushes on.
    pub felt_after_s: Option<f64>,
}

/// Least speed of a touch, as a share of the drive's speed there: one that has only begun to move is still coming up to it.
const STARTING: f64 = 0.1;

impl Contact {
    /// A contact of the closing edge at `position_m` and `speed_m_s` of the actuator.
    pub fn at(
        door: &Door,
        drive: &Drive,
        loads: &Loads,
        position_m: f64,
        speed_m_s: f64,
        line: &Line,
        notice: Notice,
    ) -> Contact {
        let presses = |force_n: f64| mechanism::edge_force_n(door, force_n, position_m, loads);
        let touch = Touch { direction: Direction::Closing, position_m, gain: mechanism::edge_gain(door, position_m) };
        touch.contact(door, drive, loads, speed_m_s, line, notice, presses)
    }

    /// A contact of the panel on its way, at a point that travels `gain` times as far as the actuator. Whatever opens a door pulls
    /// or pushes it: only on the way shut may a cord go slack.
    #[allow(clippy::too_many_arguments, reason = "one figure per quantity of the formula")]
    pub fn on_the_way(
        door: &Door,
        drive: &Drive,
        loads: &Loads,
        direction: Direction,
        position_m: f64,
        gain: f64,
        speed_m_s: f64,
        line: &Line,
        notice: Notice,
    ) -> Contact {
        let presses = |force_n: f64| mechanism::pressing_n(door, direction, force_n, position_m, loads, gain);
        Touch { direction, position_m, gain }.contact(door, drive, loads, speed_m_s, line, notice, presses)
    }

    /// Whether force and the energy of all that hits stay within the figures the user wants kept.
    pub fn within(&self, door: &Door) -> bool {
        self.peak_force_n <= door.contact_force_limit_n && self.moving_energy_j <= door.contact_energy_limit_j
    }
}

/// Where a panel touches somebody.
struct Touch {
    direction: Direction,
    position_m: f64,
    /// Travel of the touching point per travel of the actuator.
    gain: f64,
}

impl Touch {
    /// The contact, with what the panel presses with when the drive has a force.
    #[allow(clippy::too_many_arguments, reason = "one figure per quantity of the formula")]
    fn contact(
        &self,
        door: &Door,
        drive: &Drive,
        loads: &Loads,
        speed_m_s: f64,
        line: &Line,
        notice: Notice,
        presses: impl Fn(f64) -> f64,
    ) -> Contact {
        let calm = Loads { gust_m_s: 0.0, ..*loads };
        let needed = match mechanism::asked_force(door, self.direction, self.position_m, &calm, false) {
            Force::Push(needed) => needed,
            Force::Jammed(_) => 0.0,
        };
        let drives = self.direction == Direction::Opening || mechanism::can_push(door, drive);
        let panel = mechanism::panel_inertia_kg(door, self.position_m);
        let mass = panel + if drives { drive.reflected_mass_kg } else { 0.0 };
        let touching_m_s = speed_m_s.max(STARTING * line.speed_m_s(needed));
        let gain = self.gain.max(f64::MIN_POSITIVE);
        let weight_n = presses(0.0);
        let hides_weight = line.lowering >= 0.0;
        // A screw that is turned even to lower its load runs lighter before it runs heavier.
        let lighter = if hides_weight { line.lowering * (-needed).max(0.0) } else { 0.0 };
        // What of the drive's force reaches the touching point: less where a guide takes its share.
        let beyond_n = line.stall_force_n + needed.abs() + 1.0;
        let reaches = presses(beyond_n + 1.0) - presses(beyond_n);
        let motor = if drives {
            let (stall_n, most_n) = (presses(line.stall_force_n) - weight_n, presses(line.available_n()) - weight_n);
            Motor::Pushes { stall_n, most_n, hides_weight }
        } else {
            Motor::LetsDown
        };
        let blow = Blow {
            rate_n_s: door.edge_stiffness_n_m * touching_m_s * gain,
            kinetic_n: kinetic_peak_n(0.0, door.edge_stiffness_n_m, mass, touching_m_s),
            weight_n,
            motor,
            threshold_n: (notice.force_n + lighter) * if reaches > 0.0 { reaches } else { 1.0 / gain },
            reaction_s: notice.reaction_s,
        };
        let Met { peak_n, felt_after_s } = blow.met();
        Contact {
            peak_force_n: peak_n,
            panel_energy_j: energy_j(panel, speed_m_s),
            moving_energy_j: energy_j(mass, speed_m_s),
            felt_after_s,
        }
    }
}

/// Peak force of a mass that a constant net force drives into an edge, N: F = Fd + sqrt(Fd^2 + k m v^2), from the energy
/// balance of mass, spring and force.
pub fn kinetic_peak_n(driving_n: f64, stiffness_n_m: f64, mass_kg: f64, speed_m_s: f64) -> f64 {
    driving_n + (driving_n * driving_n + stiffness_n_m * mass_kg * speed_m_s * speed_m_s).sqrt()
}

/// Force added while a drive that is not slowed down keeps moving for `reaction_s`, N.
pub fn overrun_n(stiffness_n_m: f64, speed_m_s: f64, reaction_s: f64) -> f64 {
    stiffness_n_m * speed_m_s.abs() * reaction_s
}

/// Kinetic energy, J.
pub fn energy_j(mass_kg: f64, speed_m_s: f64) -> f64 {
    0.5 * mass_kg * speed_m_s * speed_m_s
}

/// Mass at the panel that has the inertia of a rotor `inertia_kg_m2` behind a gear of `gear_ratio` turns of the rotor
/// per turn of a screw of `lead_m`, kg.
pub fn reflected_mass_kg(inertia_kg_m2: f64, gear_ratio: f64, lead_m: f64) -> f64 {
    let radians_per_metre = 2.0 * std::f64::consts::PI * gear_ratio / lead_m;
    inertia_kg_m2 * radians_per_metre * radians_per_metre
}
