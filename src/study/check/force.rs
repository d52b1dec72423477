//! Is the drive strong enough, does the panel jam, does it close by itself?

use super::climate::Climate;
use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Mechanism;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::survey::{self, DeadZone};
use crate::shelter::mechanism::{self, Direction, Force};
use crate::shelter::stroke;

/// Available over required force that leaves room for what was guessed (common practice).
const SAFETY: f64 = 1.5;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let calm = climate.calm();
    let windy = climate.windy();
    for direction in [Direction::Opening, Direction::Closing] {
        jams(scenario, direction, &[("in calm air", calm), ("in the strongest gust", windy)], rows);
    }
    let gust = format!("{:.0} m/s", climate.gust_m_s);
    margin(scenario, "force_opening", "force to open in calm air", Direction::Opening, &calm, "", rows);
    margin(scenario, "force_closing", "force to close in calm air", Direction::Closing, &calm, "", rows);
    let note = format!("strongest gust of ten seasons: {gust} at the door");
    margin(
        scenario,
        "force_opening_wind",
        "force to open in the strongest gust",
        Direction::Opening,
        &windy,
        &note,
        rows,
    );
    margin(
        scenario,
        "force_closing_wind",
        "force to close in the strongest gust",
        Direction::Closing,
        &windy,
        &note,
        rows,
    );
    frost(scenario, climate, rows);
    by_itself(scenario, &calm, &windy, rows);
    unpowered(scenario, &calm, rows);
}

/// Least ratio of available to required force, with the winding as hot as the cut-out lets it become.
fn ratio(scenario: &Scenario, direction: Direction, loads: &Loads) -> (f64, f64) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let from = if direction == Direction::Opening { 0.0 } else { mechanism::stroke_m(door) };
    let hot = drive.heat.trips_at_c;
    let stroke = stroke::solve_with_winding(door, drive, &scenario.supply, direction, loads, from, hot);
    (stroke.least_margin, stroke.least_margin_at_m)
}

fn margin(
    scenario: &Scenario,
    id: &'static str,
    question: &str,
    direction: Direction,
    loads: &Loads,
    note: &str,
    rows: &mut Vec<Row>,
) {
    let (ratio, at_m) = ratio(scenario, direction, loads);
    let mut row = Row::judged(id, question, ratio, Side::AtLeast, 1.0, SAFETY - 1.0, "x").key(force_key(scenario));
    let place = format!(
        "least at {:.0} mm of the stroke of {:.0} mm; hot motor; 1.5 is comfortable (common practice)",
        1000.0 * at_m,
        1000.0 * mechanism::stroke_m(&scenario.door)
    );
    if ratio == 0.0 {
        row.key = jam_key(scenario).to_string();
    }
    row.note = if ratio == 0.0 {
        format!("it jams at {:.0} mm of the stroke: more force does not help", 1000.0 * at_m)
    } else if ratio.is_infinite() {
        "the load drives the panel".to_string()
    } else if note.is_empty() {
        place
    } else {
        format!("{note}; {place}")
    };
    rows.push(row);
}

/// The key that gives more force.
fn force_key(scenario: &Scenario) -> &'static str {
    match scenario.drive.gear {
        crate::scenario::door::Gear::Figures => "drive.stall_force",
        crate::scenario::door::Gear::Screw(..) | crate::scenario::door::Gear::Drum(..) => "drive.gear_ratio",
    }
}

fn frost(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let (ratio, _) = ratio(scenario, Direction::Opening, &climate.icy());
    let met = if climate.frost {
        format!("ten seasons have frost on a wet seal (lowest {:.0} degC)", climate.coldest_c)
    } else {
        format!("no frost on a wet seal in ten seasons (lowest {:.0} degC), but the next may", climate.coldest_c)
    };
    let guess = if scenario.door.ice_n > 0.0 {
        format!("the {:.0} N of door.ice are a guess until measured", scenario.door.ice_n)
    } else {
        "door.ice is 0, as if ice did not hold".to_string()
    };
    let mut row = Row::judged("force_opening_ice", "force to break a frozen seal", ratio, Side::AtLeast, 1.0, SAFETY - 1.0, "x")
        .key("door.ice")
        .note(format!("never called fine: {met}; {guess}; a whole bond of 5 mm x 2 m can hold thousands of newtons; heat or a silicone wipe helps, force does not"))
        .at_best(Verdict::Tight);
    if !climate.frost {
        // What the seasons do not hold cannot fail the scenario.
        row.verdict = Verdict::Tight;
    }
    rows.push(row);
}

/// Dead zones in a direction.
fn jams(scenario: &Scenario, direction: Direction, cases: &[(&str, Loads)], rows: &mut Vec<Row>) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let (id, what) = match direction {
        Direction::Opening => ("jam_opening", "no jam and no dead position while opening"),
        Direction::Closing => ("jam_closing", "no jam and no dead position while closing"),
    };
    let found = cases.iter().find_map(|(when, loads)| {
        let zones = survey::dead_zones(door, drive, direction, loads);
        (!zones.is_empty()).then_some((*when, zones))
    });
    let stroke = mechanism::stroke_m(door);
    let mut row = match &found {
        None => Row::judged(id, what, 0.0, Side::AtMost, 0.0, 0.0, "m"),
        Some((_, zones)) => {
            let length: f64 = zones.iter().map(|zone| zone.to_m - zone.from_m).sum();
            Row { verdict: Verdict::Fails, ..Row::judged(id, what, length, Side::AtMost, 0.0, 0.0, "m") }
        }
    };
    if let Some((when, zones)) = &found {
        let places: Vec<String> = zones.iter().map(|zone| place(zone, stroke)).collect();
        row.note = format!("{when}: {}", places.join("; "));
    }
    rows.push(row.key(jam_key(scenario)));
}

fn place(zone: &DeadZone, stroke_m: f64) -> String {
    format!(
        "from {:.0} to {:.0} mm of {:.0} mm it {}",
        1000.0 * zone.from_m,
        1000.0 * zone.to_m,
        1000.0 * stroke_m,
        zone.jam
    )
}

fn jam_key(scenario: &Scenario) -> &'static str {
    match scenario.door.mechanism {
        Mechanism::VerticalLift(_) | Mechanism::HorizontalSlide(_) => "door.mechanism.drive_offset",
        Mechanism::DoubleSlider(_) => "door.mechanism.drive_at",
        Mechanism::TopFlap(_) | Mechanism::SideLeaf(_) => "door.mechanism.rod_frame_out",
        Mechanism::RollerCurtain(_) => "door.mechanism.bar",
    }
}

/// A drive that only pulls needs a panel that comes down by itself.
fn by_itself(scenario: &Scenario, calm: &Loads, windy: &Loads, rows: &mut Vec<Row>) {
    let door = &scenario.door;
    let needs = |loads: &Loads| mechanism::needs_push_to_close(door, loads);
    let (verdict, note) = match (needs(calm), needs(windy), scenario.drive.pushes) {
        (false, false, _) => (Verdict::Fits, "the panel closes by its own weight, in the strongest gust too"),
        (true, _, true) | (_, true, true) => {
            (Verdict::Fits, "the panel must be pushed shut somewhere, and the drive pushes")
        }
        (true, _, false) => (
            Verdict::Fails,
            "the panel must be pushed shut, and the drive only pulls: a panel balanced in full does not close by itself",
        ),
        (false, true, false) => {
            (Verdict::Fails, "in the strongest gust the panel must be pushed shut, and the drive only pulls")
        }
    };
    let key = match door.mechanism {
        Mechanism::VerticalLift(_) => "door.mechanism.counterweight",
        Mechanism::RollerCurtain(_) => "door.mechanism.bar",
        _ => "drive.pushes",
    };
    rows.push(Row::stated("closes_by_itself", "the door closes with this drive", verdict).key(key).note(note));
}

/// Without power, a gear that does not hold lets go.
fn unpowered(scenario: &Scenario, calm: &Loads, rows: &mut Vec<Row>) {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let steps = survey::STEPS;
    let falls = (0..=steps).find_map(|step| {
        let at = mechanism::stroke_m(door) * step as f64 / steps as f64;
        match mechanism::asked_force(door, Direction::Closing, at, calm, true) {
            Force::Push(force) if force < 0.0 => Some(at),
            _ => None,
        }
    });
    let (verdict, note) = match (drive.self_locking, falls) {
        (true, _) => {
            (Verdict::Fits, "the gear holds the panel; plan a manual release from inside and outside".to_string())
        }
        (false, None) => (Verdict::Fits, "the panel stays where it is by its own friction".to_string()),
        (false, Some(at)) => {
            (Verdict::Tight, format!("without power the panel falls shut from {:.0} mm on: plan a brake", 1000.0 * at))
        }
    };
    rows.push(
        Row::stated("holds_unpowered", "the panel stays where it is without power", verdict)
            .key("drive.self_locking")
            .note(note),
    );
}
