//! How hard the closing edge hits something.
//!
//! An edge of stiffness k with the mass m behind it, moving at v and pushed by the force Fd, compresses until
//! F = Fd + sqrt(Fd^2 + k m v^2) (energy balance of mass, spring and constant force). Until the motor has stopped,
//! t_react later, the drive keeps feeding the edge: k v t_react more. But a drive cannot build up more than its own
//! static force, so that second part only counts up to it; the kinetic part is not limited that way, because it
//! comes from what already moves.
//!
//! What moves is more than the panel: a rod or screw drive is stiff, and the rotor behind its gear often weighs far
//! more than the panel, m = J (2 pi i / lead)^2. A cord goes slack on contact and takes rotor and counterweight out
//! of the blow; so does a curtain, whatever turns its tube. Where the edge moves at another speed than the actuator, mass and speed are those at the actuator for
//! the blow's energy, and the static force is multiplied by the mechanism's ratio: near the sill a horizontally driven
//! double slider squeezes far harder than its drive pulls.

use super::loads::Loads;
use super::mechanism::{self, Direction};
use crate::scenario::door::{Door, Drive};

/// A contact of the closing edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// Peak force, N.
    pub peak_force_n: f64,
    /// Kinetic energy of the panel alone, J.
    pub panel_energy_j: f64,
    /// Kinetic energy of all that hits, rotor and gear included, J.
    pub moving_energy_j: f64,
}

impl Contact {
    /// A contact at `position_m` and `speed_m_s` of the actuator. `available_n` is the drive's largest force, `driving_n` the net
    /// force on the panel at the moment of contact above what its motion needs (0 in steady motion, where the drive
    /// just balances the load), `reaction_s` the time from contact until the motor has stopped.
    #[allow(clippy::too_many_arguments, reason = "one figure per quantity of the formula")]
    pub fn at(
        door: &Door,
        drive: &Drive,
        loads: &Loads,
        position_m: f64,
        speed_m_s: f64,
        available_n: f64,
        driving_n: f64,
        reaction_s: f64,
    ) -> Contact {
        let panel = mechanism::panel_inertia_kg(door, position_m);
        let pushes = mechanism::can_push(door, drive);
        let mass = panel + if pushes { drive.reflected_mass_kg } else { 0.0 };
        let push = if pushes { available_n } else { 0.0 };
        let statically = mechanism::edge_force_n(door, push, position_m, loads);
        // The blow's energy is the same whether it is counted at the actuator or at the edge.
        let kinetic = kinetic_peak_n(driving_n.max(0.0), door.edge_stiffness_n_m, mass, speed_m_s);
        let edge_m_s = speed_m_s * mechanism::edge_gain(door, position_m);
        let fed = overrun_n(door.edge_stiffness_n_m, edge_m_s, reaction_s);
        Contact {
            peak_force_n: kinetic + fed.min((statically - kinetic).max(0.0)),
            panel_energy_j: energy_j(panel, speed_m_s),
            moving_energy_j: energy_j(mass, speed_m_s),
        }
    }

    /// A contact of the panel on its way, at a point that travels `gain` times as far as the actuator, and the force with which it
    /// then presses, N. The rest is as in [`Contact::at`], in steady motion. Whatever opens a door pulls or pushes it: only on
    /// the way shut may a cord go slack.
    #[allow(clippy::too_many_arguments, reason = "one figure per quantity of the formula")]
    pub fn on_the_way(
        door: &Door,
        drive: &Drive,
        loads: &Loads,
        direction: Direction,
        position_m: f64,
        gain: f64,
        speed_m_s: f64,
        available_n: f64,
        reaction_s: f64,
    ) -> (Contact, f64) {
        let panel = mechanism::panel_inertia_kg(door, position_m);
        let drives = direction == Direction::Opening || mechanism::can_push(door, drive);
        let mass = panel + if drives { drive.reflected_mass_kg } else { 0.0 };
        let push = if drives { available_n } else { 0.0 };
        let pressing = mechanism::pressing_n(door, direction, push, position_m, loads, gain);
        let kinetic = kinetic_peak_n(0.0, door.edge_stiffness_n_m, mass, speed_m_s);
        let fed = overrun_n(door.edge_stiffness_n_m, speed_m_s * gain, reaction_s);
        let contact = Contact {
            peak_force_n: kinetic + fed.min((pressing - kinetic).max(0.0)),
            panel_energy_j: energy_j(panel, speed_m_s),
            moving_energy_j: energy_j(mass, speed_m_s),
        };
        (contact, pressing)
    }

    /// Whether force and the energy of all that hits stay within the figures the user wants kept.
    pub fn within(&self, door: &Door) -> bool {
        self.peak_force_n <= door.contact_force_limit_n && self.moving_energy_j <= door.contact_energy_limit_j
    }
}

/// Peak force of the blow itself, N.
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
