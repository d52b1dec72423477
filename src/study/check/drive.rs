//! Does the motor stand the heat of its duty, by the name-plate and by its thermal model? Do its figures agree with each other?

use super::change::{ceil_to, first, whole};
use super::climate::Climate;
use super::force::{blocked, force_key, heavier};
use super::motor::{faster, geared_up, larger};
use super::set::{Set, set_in};
use super::timing::GEARED;
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Gear;
use crate::shelter::actuator::{Actuator, winding_ohm_20};
use crate::shelter::heat::{Heating, Winding};
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke::{self, Stroke};

/// What a proposed motor's winding keeps to its cut-out, K.
const SPARE_K: f64 = 10.0;
/// Beyond this factor a quicker drive is another drive (common practice); another gear alone may go further.
const QUICKER: f64 = 3.0;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let drive = &scenario.drive;
    let retries = scenario.strategies.iter().map(|strategy| strategy.controller.retries).max().unwrap_or(0);
    let strokes = strokes(scenario, climate);
    let cycle_s: f64 = strokes.iter().map(|stroke| stroke.time_s).sum();
    let allowed_s = drive.duty_factor * drive.duty_period_s;
    let tries = 1 + retries;
    if cycle_s.is_infinite() {
        rows.push(Row::stated("duty", "heat of the motor", Verdict::Fails).key(stopped_key(scenario, climate)).note("a stroke does not end in the strongest gust: the motor stands under current until its time-out or its cut-out"));
        figures(scenario, rows);
        return;
    }
    let mut row = Row::judged(
        "duty",
        "on-time of one opening and closing within the duty period, by the name-plate",
        cycle_s,
        Side::AtMost,
        allowed_s,
        f64::from(retries) * cycle_s,
        "s",
    );
    if row.verdict == Verdict::Fails {
        row = row.cures(more_duty(scenario, climate, cycle_s));
    }
    let key = if row.cures.is_empty() { "drive.duty_factor".to_string() } else { row.key.clone() };
    rows.push(row.key(key).note(format!(
        "rated for {:.0} % of {:.0} s (IEC 60034-1, S3); another rating is another drive; a door turned back {retries} times runs {:.0} s",
        100.0 * drive.duty_factor,
        drive.duty_period_s,
        f64::from(tries) * cycle_s
    )));
    let (once, often) = (peak_c(scenario, climate, &strokes, 1), peak_c(scenario, climate, &strokes, tries));
    let limit = drive.heat.trips_at_c;
    let mut row = Row::judged(
        "winding",
        "winding temperature after one opening and closing, by the thermal model",
        once,
        Side::AtMost,
        limit,
        (often - once).max(10.0),
        "degC",
    );
    if row.verdict == Verdict::Fails {
        row = row.cures(cooler(scenario, climate));
    }
    let key = if row.cures.is_empty() { "drive.heat.winding_housing".to_string() } else { row.key.clone() };
    rows.push(row.key(key).note(format!(
        "on the warmest day ({:.0} °C) in the strongest gust; {tries} tries without a pause reach {often:.0} °C; the name-plate and the model may disagree: heed the stricter",
        climate.warmest_c
    )));
    figures(scenario, rows);
}

/// A drive rated for this duty, and a quicker one.
fn more_duty(scenario: &Scenario, climate: &Climate, cycle_s: f64) -> Vec<Vec<Change>> {
    const ID: &str = "duty";
    let drive = &scenario.drive;
    let share = ceil_to(cycle_s / drive.duty_period_s, 0.01);
    let rated = (share <= 1.0).then(|| {
        whole(
            &[Set::DutyFactor(share)],
            ID,
            scenario,
            "a drive that is rated for this duty, with the same force and speed",
        )
    });
    let factor = 1.02 * cycle_s / (drive.duty_factor * drive.duty_period_s);
    let quick = if factor <= QUICKER {
        faster(scenario, climate, ID, factor)
    } else if factor <= GEARED {
        geared_up(scenario, ID, factor)
    } else {
        Vec::new()
    };
    rated.into_iter().chain(quick).collect()
}

/// Less to lift, or a larger motor, so that the winding keeps 10 K to its cut-out.
fn cooler(scenario: &Scenario, climate: &Climate) -> Vec<Vec<Change>> {
    const ID: &str = "winding";
    let cool = |other: &Scenario| {
        let strokes = strokes(other, climate);
        strokes.iter().all(Stroke::finishes)
            && peak_c(other, climate, &strokes, 1) <= other.drive.heat.trips_at_c - SPARE_K
    };
    let balanced = heavier(scenario, climate, cool).map(|set| vec![set.of(ID, scenario)]);
    balanced.into_iter().chain([larger(scenario, climate, ID, cool)]).collect()
}

/// The key that lets a stroke come to its end.
fn stopped_key(scenario: &Scenario, climate: &Climate) -> String {
    [Direction::Opening, Direction::Closing]
        .iter()
        .find_map(|direction| blocked(scenario, *direction, &climate.windy()))
        .map_or_else(|| force_key(scenario).to_string(), |(_, key)| key)
}

/// Opening and closing in the strongest gust with the motor warm.
fn strokes(scenario: &Scenario, climate: &Climate) -> Vec<Stroke> {
    let loads = crate::shelter::loads::Loads { temperature_c: climate.warmest_c, ..climate.windy() };
    [(Direction::Opening, 0.0), (Direction::Closing, mechanism::stroke_m(&scenario.door))]
        .iter()
        .map(|(direction, from)| {
            stroke::solve(&scenario.door, &scenario.drive, &scenario.supply, *direction, &loads, *from)
        })
        .collect()
}

/// Highest winding temperature after so many openings and closings without a pause.
fn peak_c(scenario: &Scenario, climate: &Climate, strokes: &[Stroke], tries: u32) -> f64 {
    let mut winding = Winding::rested(climate.warmest_c);
    let mut peak = climate.warmest_c;
    for _ in 0..tries {
        for stroke in strokes.iter().filter(|stroke| stroke.finishes()) {
            let heating = Heating {
                current_a: stroke.rms_current_a,
                resistance_20_ohm: winding_ohm_20(&scenario.drive),
                housing_w: stroke.friction_heat_j / stroke.time_s.max(1e-3),
            };
            peak = peak.max(winding.advance(&scenario.drive.heat, &heating, stroke.time_s, climate.warmest_c));
        }
    }
    peak
}

/// Figures that must not contradict each other.
fn figures(scenario: &Scenario, rows: &mut Vec<Row>) {
    let drive = &scenario.drive;
    let efficiency = Actuator::gear_efficiency(drive);
    let mut row = Row::judged(
        "drive_figures",
        "mechanical power of the drive's figures over the motor's electrical share",
        efficiency,
        Side::AtMost,
        1.0,
        0.05,
        "x",
    )
    .key("drive.stall_current")
    .note("above 1 speed, force, current and voltage contradict each other");
    if row.verdict == Verdict::Fails {
        row = row.changes(agreeing(scenario));
    }
    rows.push(row);
    if let Gear::Screw(_, screw) = &drive.gear {
        let margin = (screw.friction_angle() - screw.lead_angle()).to_degrees();
        let mut row = Row::judged(
            "screw_locks",
            "friction angle of the screw over its lead angle",
            margin,
            Side::AtLeast,
            0.0,
            1.0,
            "deg",
        )
        .key("drive.lead")
        .note(format!(
            "efficiency {:.0} %; within a degree vibration can loosen it (common practice)",
            100.0 * screw.efficiency()
        ));
        row = row.advised("a screw that does not hold is a choice: the row on the unpowered panel says what follows");
        rows.push(row);
    }
}

/// The stall current that speed, force and voltage ask for, with a twentieth lost in the gear at least.
fn agreeing(scenario: &Scenario) -> Vec<Change> {
    let agrees = |ampere: f64| {
        let other = set_in(scenario, &[Set::StallCurrent(ampere)]);
        Actuator::gear_efficiency(&other.drive) <= 0.95
    };
    let now = scenario.drive.stall_current_a;
    let step = if now > 1.0 { 0.1 } else { 0.01 };
    first(ceil_to(now, step), step, 1_000, agrees)
        .map(|ampere| vec![Set::StallCurrent(ampere).of("drive_figures", scenario)])
        .unwrap_or_default()
}
