//! How hard would the closing edge hit? Against the figures that the user wants kept.

use super::{Row, Side};
use crate::scenario::Scenario;
use crate::shelter::actuator::Actuator;
use crate::shelter::contact::Contact;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke;

/// Places along the stroke that are looked at.
const PLACES: usize = 40;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let loads = Loads::CALM;
    let line = Actuator::at(drive, &scenario.supply, loads.temperature_c);
    let full = mechanism::stroke_m(door);
    let stroke = stroke::solve(door, drive, &scenario.supply, Direction::Closing, &loads, full);
    let reaction_s = scenario
        .strategies
        .iter()
        .map(|strategy| strategy.controller.obstruction_reaction.seconds())
        .fold(0.0, f64::max);
    let mut worst: Option<(Contact, f64)> = None;
    let mut energy: f64 = 0.0;
    for place in 1..PLACES {
        let at = full * place as f64 / PLACES as f64;
        let speed = match mechanism::drive_force(door, drive, Direction::Closing, at, &loads, false) {
            mechanism::Force::Push(force) => line.speed_m_s(force),
            mechanism::Force::Jammed(_) => continue,
        };
        let contact = Contact::at(door, drive, &loads, at, speed, line.available_n(), 0.0, reaction_s);
        energy = energy.max(contact.moving_energy_j);
        if worst.is_none_or(|(known, _)| contact.peak_force_n > known.peak_force_n) {
            worst = Some((contact, at));
        }
    }
    let Some((contact, at)) = worst else { return };
    let limit = door.contact_force_limit_n;
    let share = 100.0 * contact.panel_energy_j / contact.moving_energy_j.max(f64::MIN_POSITIVE);
    rows.push(
        Row::judged("contact_force", "peak force of the closing edge", contact.peak_force_n, Side::AtMost, limit, 0.1 * limit, "N")
            .key("door.edge_stiffness")
            .note(format!("largest where the drive is {:.0} mm of its stroke from shut, at {:.0} mm of clear height; a softer edge and a slower door help most; the limit is your own figure", 1000.0 * at, 1000.0 * mechanism::clear_height_m(door, at))),
    );
    rows.push(
        Row::judged(
            "contact_energy",
            "kinetic energy behind the closing edge",
            energy,
            Side::AtMost,
            door.contact_energy_limit_j,
            0.1 * door.contact_energy_limit_j,
            "J",
        )
        .key(if mechanism::can_push(door, drive) { "drive.reflected_mass" } else { "door.mass" })
        .note(if stroke.finishes() && !mechanism::can_push(door, drive) {
            "all of it is the panel's: what hangs goes slack on contact and keeps the rotor out of the blow".to_string()
        } else if stroke.finishes() {
            format!("the panel alone has {share:.0} % of it, the rest is the rotor behind its gear")
        } else {
            "the closing stroke does not end".to_string()
        }),
    );
}
