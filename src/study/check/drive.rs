//! Does the motor stand the heat of its duty, by the name-plate and by its thermal model? Do its figures agree with each other?

use super::climate::Climate;
use super::force::{blocked, force_key};
use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Gear;
use crate::shelter::actuator::{Actuator, winding_ohm_20};
use crate::shelter::heat::{Heating, Winding};
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke::{self, Stroke};

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
    let row = Row::judged(
        "duty",
        "on-time of one opening and closing within the duty period, by the name-plate",
        cycle_s,
        Side::AtMost,
        allowed_s,
        f64::from(retries) * cycle_s,
        "s",
    );
    rows.push(row.key("drive.duty_factor").note(format!(
        "rated for {:.0} % of {:.0} s (IEC 60034-1, S3); a door turned back {retries} times runs {:.0} s",
        100.0 * drive.duty_factor,
        drive.duty_period_s,
        f64::from(tries) * cycle_s
    )));
    let (once, often) = (peak_c(scenario, climate, &strokes, 1), peak_c(scenario, climate, &strokes, tries));
    let limit = drive.heat.trips_at_c;
    let row = Row::judged(
        "winding",
        "winding temperature after one opening and closing, by the thermal model",
        once,
        Side::AtMost,
        limit,
        (often - once).max(10.0),
        "degC",
    );
    rows.push(row.key("drive.heat.winding_housing").note(format!(
        "on the warmest day ({:.0} °C) in the strongest gust; {tries} tries without a pause reach {often:.0} °C; the name-plate and the model may disagree: heed the stricter",
        climate.warmest_c
    )));
    figures(scenario, rows);
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
    rows.push(
        Row::judged(
            "drive_figures",
            "mechanical power of the drive's figures over the motor's electrical share",
            efficiency,
            Side::AtMost,
            1.0,
            0.05,
            "x",
        )
        .key("drive.stall_current")
        .note("above 1 speed, force, current and voltage contradict each other"),
    );
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
        // A screw that does not hold is a choice, not a failure: the row on the unpowered panel says what follows.
        if row.verdict == Verdict::Fails {
            row.verdict = Verdict::Tight;
        }
        rows.push(row);
    }
}
