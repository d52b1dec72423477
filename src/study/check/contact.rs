//! How hard would the closing edge hit? Against the figures that the user wants kept.

use super::change::{Set, floor_to, largest};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Gear;
use crate::shelter::actuator::Actuator;
use crate::shelter::contact::Contact;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke;

/// Places along the stroke that are looked at.
const PLACES: usize = 40;
/// Share of a limit that a proposed figure uses.
const SPARE: f64 = 0.9;

/// The hardest blow of the closing edge.
struct Hardest {
    contact: Contact,
    at_m: f64,
    energy_j: f64,
}

fn hardest(scenario: &Scenario) -> Option<Hardest> {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let loads = Loads::CALM;
    let line = Actuator::at(drive, &scenario.supply, loads.temperature_c);
    let full = mechanism::stroke_m(door);
    let reaction_s = scenario
        .strategies
        .iter()
        .map(|strategy| strategy.controller.obstruction_reaction.seconds())
        .fold(0.0, f64::max);
    let mut worst: Option<(Contact, f64)> = None;
    let mut energy_j: f64 = 0.0;
    for place in 1..PLACES {
        let at = full * place as f64 / PLACES as f64;
        let speed = match mechanism::drive_force(door, drive, Direction::Closing, at, &loads, false) {
            mechanism::Force::Push(force) => line.speed_m_s(force),
            mechanism::Force::Jammed(_) => continue,
        };
        let contact = Contact::at(door, drive, &loads, at, speed, line.available_n(), 0.0, reaction_s);
        energy_j = energy_j.max(contact.moving_energy_j);
        if worst.is_none_or(|(known, _)| contact.peak_force_n > known.peak_force_n) {
            worst = Some((contact, at));
        }
    }
    worst.map(|(contact, at_m)| Hardest { contact, at_m, energy_j })
}

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let full = mechanism::stroke_m(door);
    let stroke = stroke::solve(door, drive, &scenario.supply, Direction::Closing, &Loads::CALM, full);
    let Some(Hardest { contact, at_m: at, energy_j: energy }) = hardest(scenario) else { return };
    let limit = door.contact_force_limit_n;
    let share = 100.0 * contact.panel_energy_j / contact.moving_energy_j.max(f64::MIN_POSITIVE);
    let mut force =
        Row::judged("contact_force", "peak force of the closing edge", contact.peak_force_n, Side::AtMost, limit, 0.1 * limit, "N")
            .key("door.edge_stiffness")
            .note(format!("largest where the drive is {:.0} mm of its stroke from shut, at {:.0} mm of clear height; a softer edge and a slower door help most; the limit is your own figure", 1000.0 * at, 1000.0 * mechanism::clear_height_m(door, at)));
    if force.verdict == Verdict::Fails {
        let gentle = |set| hardest(&set_in(scenario, set)).is_some_and(|it| it.contact.peak_force_n <= SPARE * limit);
        force = force.cures(cures(scenario, "contact_force", gentle, &[softer, lighter_rotor, less_current, slower]));
    }
    rows.push(force);
    let limit = door.contact_energy_limit_j;
    let mut row = Row::judged(
        "contact_energy",
        "kinetic energy behind the closing edge",
        energy,
        Side::AtMost,
        limit,
        0.1 * limit,
        "J",
    )
    .key(if mechanism::can_push(door, drive) { "drive.reflected_mass" } else { "door.mass" })
    .note(if stroke.finishes() && !mechanism::can_push(door, drive) {
        "all of it is the panel's: what hangs goes slack on contact and keeps the rotor out of the blow".to_string()
    } else if stroke.finishes() {
        format!("the panel alone has {share:.0} % of it, the rest is the rotor behind its gear")
    } else {
        "the closing stroke does not end".to_string()
    });
    if row.verdict == Verdict::Fails {
        let gentle = |set| hardest(&set_in(scenario, set)).is_some_and(|it| it.energy_j <= SPARE * limit);
        row = row.cures(cures(scenario, "contact_energy", gentle, &[lighter_rotor, slower]));
    }
    rows.push(row);
}

/// A scenario with one figure set otherwise.
fn set_in(scenario: &Scenario, set: Set) -> Scenario {
    let mut other = scenario.clone();
    set.of("", scenario).apply(&mut other);
    other
}

/// A figure that may be lowered: how it is set, its least sensible value, its present one, and the step in which it is written.
type Lowered = (fn(f64) -> Set, f64, f64, f64);

/// The largest values, each figure by itself, with which the blow is gentle enough.
fn cures(
    scenario: &Scenario,
    row: &'static str,
    gentle: impl Fn(Set) -> bool,
    figures: &[fn(&Scenario) -> Option<Lowered>],
) -> Vec<Vec<Change>> {
    let cure = |figure: &fn(&Scenario) -> Option<Lowered>| {
        let (set, least, now, step) = figure(scenario)?;
        let value = floor_to(largest(least, now, |value| gentle(set(value)))?, step);
        (value >= least).then(|| vec![set(value).of(row, scenario)])
    };
    figures.iter().filter_map(cure).collect()
}

/// Soft profiles have 5 to 20 N/mm, the softest foam a tenth of that (common practice).
fn softer(scenario: &Scenario) -> Option<Lowered> {
    Some((Set::EdgeStiffness, 500.0, scenario.door.edge_stiffness_n_m, 100.0))
}

fn less_current(scenario: &Scenario) -> Option<Lowered> {
    let drive = &scenario.drive;
    let now = drive.current_limit_a.min(drive.stall_current_a);
    mechanism::can_push(&scenario.door, drive).then_some((Set::CurrentLimit, drive.no_load_current_a, now, 0.01))
}

fn slower(scenario: &Scenario) -> Option<Lowered> {
    let drive = &scenario.drive;
    (drive.gear == Gear::Figures).then_some((Set::Speed, 0.005, drive.no_load_speed_m_s, 0.001))
}

fn lighter_rotor(scenario: &Scenario) -> Option<Lowered> {
    mechanism::can_push(&scenario.door, &scenario.drive).then_some((
        Set::ReflectedMass,
        1.0,
        scenario.drive.reflected_mass_kg,
        1.0,
    ))
}
