//! Does the supply stand the motor, and what takes the energy?

use super::climate::Climate;
use super::timing::calm_times_s;
use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Source;
use crate::shelter::battery::Day;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::power;
use crate::shelter::stroke::{self, Stroke};

/// Openings of a day for the energy: two sorties, each with a departure and an arrival (common practice).
const OPENINGS: f64 = 4.0;
/// Dark days that a battery should bridge (common practice).
const DARK_DAYS: f64 = 3.0;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let supply = &scenario.supply;
    let solve =
        |direction, from, loads| stroke::solve(&scenario.door, &scenario.drive, supply, direction, &loads, from);
    let full = mechanism::stroke_m(&scenario.door);
    let strokes = [
        solve(Direction::Opening, 0.0, climate.windy()),
        solve(Direction::Closing, full, climate.windy()),
        // A cold winding takes the largest current.
        solve(
            Direction::Opening,
            0.0,
            crate::shelter::loads::Loads { gust_m_s: 0.0, temperature_c: climate.coldest_c, frozen: false },
        ),
    ];
    let peak = strokes.iter().map(|stroke| stroke.peak_supply_w).fold(0.0, f64::max);
    let fails = strokes.iter().any(|stroke| power::stroke_browns_out(supply, stroke));
    let mut row = Row::judged(
        "supply_peak",
        "peak power when the motor starts",
        peak,
        Side::AtMost,
        supply.limit_w,
        0.1 * supply.limit_w,
        "W",
    );
    row.verdict = match (fails, row.verdict) {
        (true, _) => Verdict::Fails,
        (false, Verdict::Fails) => Verdict::Tight,
        (false, other) => other,
    };
    let how = match supply.source {
        Source::Network(class) => format!("class {class} of IEEE 802.3 gives the device {} W", supply.limit_w),
        _ => "the start draws the stall current, or the driver's limit".to_string(),
    };
    let cure = if fails {
        "; the voltage falls and the controller may restart, forgetting what it held and waited for: a current limit, a soft start or a buffer would help"
    } else {
        ""
    };
    rows.push(row.key("drive.current_limit").note(format!("{how}{cure}")));
    energy(scenario, climate, &strokes[..2], rows);
}

fn energy(scenario: &Scenario, climate: &Climate, strokes: &[Stroke], rows: &mut Vec<Row>) {
    let supply = &scenario.supply;
    let cycle_j: f64 = strokes.iter().map(|stroke| stroke.energy_j).sum();
    let motor_wh = power::motor_wh(supply, OPENINGS * cycle_j);
    let day_wh = motor_wh + power::standby_wh(supply, 24.0);
    let times = calm_times_s(scenario, climate);
    let note = format!(
        "{OPENINGS:.0} openings a day of {:.0} J with closing ({:.1} s and {:.1} s in calm air) take {:.1} %, standby the rest",
        cycle_j,
        times.0,
        times.1,
        100.0 * motor_wh / day_wh.max(f64::MIN_POSITIVE)
    );
    let Source::Solar(solar) = &supply.source else {
        let mut row = Row::stated("energy_day", "energy of a day", Verdict::Fits).key("supply.standby").note(note);
        (row.value, row.unit) = (Some(day_wh), "Wh");
        rows.push(row);
        return;
    };
    let day = Day::new(solar, day_wh);
    rows.push(
        Row::judged(
            "solar_balance",
            "energy of a day against the panel's",
            day_wh,
            Side::AtMost,
            day.sun_wh,
            0.2 * day.sun_wh,
            "Wh",
        )
        .key("supply.panel")
        .note(note),
    );
    rows.push(
        Row::judged("battery_dark", "days without sun that the battery bridges", day.autonomy_days, Side::AtLeast, 1.0, DARK_DAYS - 1.0, "d")
            .key("supply.battery")
            .note(format!("{DARK_DAYS:.0} are comfortable (common practice); on an average day it falls to {:.0} % of its usable charge", 100.0 * day.lowest_wh() / day.charge_wh[0].max(f64::MIN_POSITIVE))),
    );
}
