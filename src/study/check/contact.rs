//! How hard would the door hit, with its closing edge or with a panel that swings or tilts through somebody's place? Against the
//! figures that the user wants kept.

use super::change::{floor_to, largest, made, whole};
use super::climate::Climate;
use super::motor::slowed;
use super::set::Set;
use super::{Change, Row, Side, Verdict};
use crate::engine::plan::tallest_m;
use crate::scenario::Scenario;
use crate::scenario::door::{Door, Gear};
use crate::shelter::actuator::Actuator;
use crate::shelter::contact::{Contact, Notice};
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::survey::{self, Meeting};
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke;

/// Places along the stroke that are looked at.
const PLACES: usize = 40;
/// Lowest opening that is looked at, m: 16 CFR 1211.7 tries a door on an obstacle 25.4 mm high, EN 12453 begins at 50 mm (from
/// memory). What is thinner lies in the seal.
const OBSTACLE_M: f64 = 0.0254;
/// Places outside where somebody is imagined: from so near the door line on, in steps of so much.
const NEAREST_STAND_M: f64 = 0.1;
const STAND_STEP_M: f64 = 0.1;
const STANDS: u32 = 12;
/// Shorter ways of the drive than this are none, m.
const HAIR_M: f64 = 1e-6;
/// Share of a limit that a proposed figure uses.
const SPARE: f64 = 0.9;

/// Lightest rotor that is proposed, as a share of the present one, and slowest drive.
const LIGHTEST: f64 = 0.09;
const SLOWEST: f64 = 0.2;

/// What hits in the door line.
const EDGE: &str = "the closing edge";

/// The hardest blow of the door.
struct Hardest {
    /// What hits.
    what: &'static str,
    contact: Contact,
    at_m: f64,
    energy_j: f64,
    /// The strategy in whose hands it is so hard.
    strategy: usize,
    /// Force of the drive that would count as an obstacle there and then, and the largest that it has, N.
    notices_n: f64,
    available_n: f64,
}

fn hardest(scenario: &Scenario, loads: &Loads) -> Option<Hardest> {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let line = Actuator::at(drive, &scenario.supply, loads.temperature_c);
    let mut notices: Vec<(usize, Notice)> = Vec::new();
    for (index, strategy) in scenario.strategies.iter().enumerate() {
        let notice = Notice::of(&strategy.controller);
        if notices.iter().all(|(_, known)| *known != notice) {
            notices.push((index, notice));
        }
    }
    let available_n = line.available_n();
    let mut worst: Option<Hardest> = None;
    let mut energy_j: f64 = 0.0;
    for Touched { what, direction, at_m, meeting } in edges(door).chain(on_its_way(scenario)) {
        let mechanism::Force::Push(force_n) = mechanism::drive_force(door, drive, direction, at_m, loads, false) else {
            continue;
        };
        let speed = line.speed_m_s(force_n);
        for &(strategy, notice) in &notices {
            let contact = match &meeting {
                None => Contact::at(door, drive, loads, at_m, speed, &line, notice),
                Some(meeting) => {
                    let gain = survey::gain(door, meeting);
                    Contact::on_the_way(door, drive, loads, direction, at_m, gain, speed, &line, notice)
                }
            };
            energy_j = energy_j.max(contact.moving_energy_j);
            if worst.as_ref().is_none_or(|known| contact.peak_force_n > known.contact.peak_force_n) {
                let notices_n = notice.force_n;
                worst = Some(Hardest { what, contact, at_m, energy_j, strategy, notices_n, available_n });
            }
        }
    }
    worst.map(|hardest| Hardest { energy_j, ..hardest })
}

/// A place at which the moving door touches somebody.
struct Touched {
    what: &'static str,
    direction: Direction,
    /// Position of the door, m from shut.
    at_m: f64,
    /// Where on the panel; none for its closing edge.
    meeting: Option<Meeting>,
}

/// The closing edge at places along the stroke.
fn edges(door: &Door) -> impl Iterator<Item = Touched> {
    let full_m = mechanism::stroke_m(door);
    (1..PLACES)
        .map(move |place| full_m * place as f64 / PLACES as f64)
        .filter(|at_m| mechanism::uncovered_m(door, *at_m) >= OBSTACLE_M)
        .map(|at_m| Touched { what: EDGE, direction: Direction::Closing, at_m, meeting: None })
}

/// Where a panel that leaves the door line first touches the mower or a visitor, standing outside at one distance or another in
/// the middle of the opening or to either side of it: as the season has it. What is nearer to the hinges than the nearest of
/// these places is a pinch, for which no force is given.
fn on_its_way(scenario: &Scenario) -> Vec<Touched> {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let swept = survey::swept(door, tallest_m(scenario));
    if swept.is_empty() {
        return Vec::new();
    }
    let stroke_m = mechanism::stroke_m(door);
    let visitors = scenario.visitors.iter().map(|visitor| [visitor.length_m, visitor.width_m, visitor.height_m]);
    let mut met = Vec::new();
    for [length_m, width_m, height_m] in visitors.chain([[mower.length_m, mower.width_m, mower.height_m]]) {
        for step in 0..STANDS {
            let x_m = NEAREST_STAND_M + STAND_STEP_M * f64::from(step);
            let x_m = (x_m, x_m + length_m);
            if !swept.may_touch(x_m) {
                continue;
            }
            for side in [-0.25, 0.0, 0.25] {
                let y_m = side * door.width_m;
                let corners = survey::corners(door, x_m, (y_m - 0.5 * width_m, y_m + 0.5 * width_m), height_m);
                let meetings = corners.and_then(|[low, high]| survey::meetings(door, &swept, low, high));
                let Some((first, last)) = meetings else { continue };
                // Who is touched by the panel at rest stands against it and was not hit.
                met.extend((first.at_m > HAIR_M).then_some((Direction::Opening, "the panel on its way open", first)));
                let shuts = (Direction::Closing, "the panel on its way shut", last);
                met.extend((last.at_m < stroke_m - HAIR_M).then_some(shuts));
            }
        }
    }
    let touched = |(direction, what, meeting): (Direction, &'static str, Meeting)| Touched {
        what,
        direction,
        at_m: meeting.at_m,
        meeting: Some(meeting),
    };
    met.into_iter().map(touched).collect()
}

/// What there is to say of the hardest blow and of how the drive notices it.
fn noticed(scenario: &Scenario, hardest: &Hardest) -> String {
    let threshold = format!(
        "obstruction_force of strategy {} ({:.0} N)",
        scenario.strategies[hardest.strategy].name, hardest.notices_n
    );
    if hardest.contact.felt_after_s.is_none() {
        return format!(
            "; the drive does not notice it, because the {threshold} is above what it meets there (its own force is {:.0} N at most): it pushes on until its time is over",
            hardest.available_n
        );
    }
    if hardest.notices_n >= scenario.door.contact_force_limit_n {
        return format!("; the {threshold} lies above this limit: nothing gentler is noticed");
    }
    String::new()
}

/// A panel that swings presses the harder the nearer to its hinges somebody is.
fn pinch(hardest: &Hardest) -> &'static str {
    if hardest.what == EDGE {
        return "";
    }
    "; nearer to the hinges than the places looked at (from 0.1 m out, up to a quarter of the width beside the middle) it presses harder: a pinch, for which no force is given"
}

/// Force by which a gust must change a blow to be worth a word, N.
const WORTH_A_WORD_N: f64 = 2.0;

/// How hard it is in the strongest gust, where wind that helps the drive along makes it harder than in calm air: the season has
/// the wind of the moment.
fn in_wind(scenario: &Scenario, climate: &Climate, calm: &Hardest) -> String {
    let Some(windy) = hardest(scenario, &climate.windy()) else { return String::new() };
    let peak_n = windy.contact.peak_force_n;
    if peak_n < calm.contact.peak_force_n + WORTH_A_WORD_N {
        return String::new();
    }
    let limit_n = scenario.door.contact_force_limit_n;
    let beyond = if peak_n > limit_n && calm.contact.peak_force_n <= limit_n { ", beyond this limit" } else { "" };
    format!(" in calm air; in the strongest gust ({:.0} m/s) up to {peak_n:.0} N{beyond}", climate.gust_m_s)
}

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let full = mechanism::stroke_m(door);
    let stroke = stroke::solve(door, drive, &scenario.supply, Direction::Closing, &Loads::CALM, full);
    let Some(worst) = hardest(scenario, &Loads::CALM) else { return };
    let Hardest { contact, at_m: at, energy_j: energy, .. } = worst;
    let limit = door.contact_force_limit_n;
    let share = 100.0 * contact.panel_energy_j / contact.moving_energy_j.max(f64::MIN_POSITIVE);
    let mut force =
        Row::judged("contact_force", "peak force on somebody in the way of the door", contact.peak_force_n, Side::AtMost, limit, 0.1 * limit, "N")
            .key("door.edge_stiffness")
            .note(format!("of {}, largest where the drive is {:.0} mm of its stroke from shut, at {:.0} mm of clear height{}{}{}; a softer edge, a slower door and a lower obstruction_force help most; the limit is your own figure", worst.what, 1000.0 * at, 1000.0 * mechanism::clear_height_m(door, at), noticed(scenario, &worst), in_wind(scenario, climate, &worst), pinch(&worst)));
    if force.verdict == Verdict::Fails {
        let gentle = |changes: &[Change]| {
            hardest(&made(scenario, changes), &Loads::CALM).is_some_and(|it| it.contact.peak_force_n <= SPARE * limit)
        };
        force = force.cures(cures(
            scenario,
            "contact_force",
            gentle,
            &[sooner, softer, lighter_rotor, less_current, slower],
        ));
    }
    rows.push(force);
    let limit = door.contact_energy_limit_j;
    let mut row = Row::judged(
        "contact_energy",
        "kinetic energy behind the edge or panel",
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
        let gentle = |changes: &[Change]| {
            hardest(&made(scenario, changes), &Loads::CALM).is_some_and(|it| it.energy_j <= SPARE * limit)
        };
        row = row.cures(cures(scenario, "contact_energy", gentle, &[lighter_rotor, slower]));
    }
    rows.push(row);
}

/// A figure that may be lowered: the changes that do it, its least sensible value, its present one, and the step in which it is
/// written.
struct Lowered<'s> {
    changes: Box<dyn Fn(f64) -> Vec<Change> + 's>,
    least: f64,
    now: f64,
    step: f64,
}

/// A figure of one key.
fn lowered<'s>(
    scenario: &'s Scenario,
    row: &'static str,
    set: fn(f64) -> Set,
    range: (f64, f64),
    step: f64,
) -> Lowered<'s> {
    Lowered { changes: Box::new(move |value| vec![set(value).of(row, scenario)]), least: range.0, now: range.1, step }
}

/// The largest values, each figure by itself, with which the blow is gentle enough.
fn cures(
    scenario: &Scenario,
    row: &'static str,
    gentle: impl Fn(&[Change]) -> bool,
    figures: &[for<'s> fn(&'s Scenario, &'static str) -> Option<Lowered<'s>>],
) -> Vec<Vec<Change>> {
    let cure = |figure: &for<'s> fn(&'s Scenario, &'static str) -> Option<Lowered<'s>>| {
        let Lowered { changes, least, now, step } = figure(scenario, row)?;
        let value = floor_to(largest(least, now, |value| gentle(&changes(value)))?, step);
        (value >= least).then(|| changes(value))
    };
    figures.iter().filter_map(cure).collect()
}

/// Least threshold that is proposed, N: the friction of seal and guides is not the same from stroke to stroke (common practice).
const LEAST_THRESHOLD_N: f64 = 10.0;

/// The same threshold for every strategy that has a higher one.
fn sooner<'s>(scenario: &'s Scenario, row: &'static str) -> Option<Lowered<'s>> {
    let forces = || scenario.strategies.iter().map(|strategy| strategy.controller.obstruction_force_n);
    let highest = forces().fold(0.0, f64::max);
    let changes = Box::new(move |force_n: f64| {
        let above = forces().enumerate().filter(|(_, known)| *known > force_n);
        let sets: Vec<Set> = above.map(|(strategy, _)| Set::ObstructionForce(strategy, force_n)).collect();
        match sets.as_slice() {
            [one] => vec![one.of(row, scenario)],
            _ => whole(&sets, row, scenario, "a drive that notices an obstacle sooner"),
        }
    });
    (highest > LEAST_THRESHOLD_N).then_some(Lowered { changes, least: LEAST_THRESHOLD_N, now: highest, step: 5.0 })
}

/// Soft profiles have 5 to 20 N/mm, the softest foam a tenth of that (common practice).
fn softer<'s>(scenario: &'s Scenario, row: &'static str) -> Option<Lowered<'s>> {
    Some(lowered(scenario, row, Set::EdgeStiffness, (500.0, scenario.door.edge_stiffness_n_m), 100.0))
}

fn less_current<'s>(scenario: &'s Scenario, row: &'static str) -> Option<Lowered<'s>> {
    let drive = &scenario.drive;
    let now = drive.current_limit_a.min(drive.stall_current_a);
    mechanism::can_push(&scenario.door, drive)
        .then(|| lowered(scenario, row, Set::CurrentLimit, (drive.no_load_current_a, now), 0.01))
}

/// A smaller motor geared down to the same force: a lower speed alone would be another motor whose figures nobody knows.
fn slower<'s>(scenario: &'s Scenario, row: &'static str) -> Option<Lowered<'s>> {
    let changes = Box::new(move |share| slowed(scenario, row, share));
    Some(Lowered { changes, least: SLOWEST, now: 1.0, step: 0.01 })
}

/// Beyond a tenth of it a rotor is of another kind: ironless ones come to about that (common practice).
fn lighter_rotor<'s>(scenario: &'s Scenario, row: &'static str) -> Option<Lowered<'s>> {
    let kg = scenario.drive.reflected_mass_kg;
    (mechanism::can_push(&scenario.door, &scenario.drive) && scenario.drive.gear == Gear::Figures)
        .then(|| lowered(scenario, row, Set::ReflectedMass, (LIGHTEST * kg, kg), 1.0))
}
