//! Does the supply stand the motor, and what takes the energy?

use super::change::{ceil_to, floor_to};
use super::climate::Climate;
use super::force::{SAFETY, least_ratio};
use super::set::Set;
use super::supply::{is_all_standby, less_standby};
use super::timing::calm_times_s;
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Source;
use crate::scenario::door::source::network_w;
use crate::shelter::battery::{Day, sizes};
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::power;
use crate::shelter::stroke::{self, Stroke};

/// Openings of a day for the energy: two sorties, each with a departure and an arrival (common practice).
pub(super) const OPENINGS: f64 = 4.0;
/// Dark days that a battery should bridge (common practice).
const DARK_DAYS: f64 = 3.0;

/// Opening and closing in the strongest gust, and opening in the cold: a cold winding takes the largest current.
fn hard_strokes(scenario: &Scenario, climate: &Climate) -> [Stroke; 3] {
    let solve = |direction, from, loads| {
        stroke::solve(&scenario.door, &scenario.drive, &scenario.supply, direction, &loads, from)
    };
    let full = mechanism::stroke_m(&scenario.door);
    let cold = Loads { gust_m_s: 0.0, temperature_c: climate.coldest_c, frozen: false };
    [
        solve(Direction::Opening, 0.0, climate.windy()),
        solve(Direction::Closing, full, climate.windy()),
        solve(Direction::Opening, 0.0, cold),
    ]
}

/// Whether the voltage falls too far in one of the hard strokes.
pub(super) fn browns_out(scenario: &Scenario, climate: &Climate) -> bool {
    hard_strokes(scenario, climate).iter().any(|stroke| power::stroke_browns_out(&scenario.supply, stroke))
}

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let supply = &scenario.supply;
    let strokes = hard_strokes(scenario, climate);
    let peak = strokes.iter().map(|stroke| stroke.peak_supply_w).fold(0.0, f64::max);
    let fails = browns_out(scenario, climate);
    let mut row = Row::judged(
        "supply_peak",
        "peak power when the motor starts",
        peak,
        Side::AtMost,
        supply.limit_w,
        0.1 * supply.limit_w,
        "W",
    );
    if fails {
        row.verdict = Verdict::Fails;
    } else {
        row = row.advised("the buffer gives what the supply does not, so that the voltage holds");
    }
    let how = match supply.source {
        Source::Network(class) => format!("class {class} of IEEE 802.3 gives the device {} W", supply.limit_w),
        _ => "the start draws the stall current, or the driver's limit".to_string(),
    };
    let mut row = row.key(match supply.source {
        _ if !fails => "drive.current_limit",
        Source::Network(_) => "supply.class",
        _ => "supply.limit",
    });
    row.note = how;
    if fails {
        let start_s = strokes.iter().map(|stroke| stroke.start_s).fold(0.0, f64::max);
        let mut cures = feeds(scenario, climate);
        if is_all_standby(scenario) {
            row.note = "controller and sensors alone take more than the supply gives, at rest, too: less standby, or another supply".to_string();
            cures.insert(0, vec![less_standby(scenario, climate).of("supply_peak", scenario)]);
        } else {
            row.note.push_str(&format!("; the voltage falls and the controller may restart, forgetting what it held and waited for: a current limit, a soft start or a buffer would help{}", buffer(scenario, peak, start_s)));
        }
        row = row.cures(cures);
    }
    rows.push(row);
    energy(scenario, climate, &strokes[..2], rows);
}

/// How large a capacitor would bridge the start, where it would.
fn buffer(scenario: &Scenario, peak_w: f64, start_s: f64) -> String {
    let supply = &scenario.supply;
    // At the driver, where the capacitor would sit; the usual drop of a fifth (common practice).
    let (load_w, source_w) = (peak_w * supply.efficiency, supply.limit_w * supply.efficiency);
    let farad = power::buffer_f(load_w, source_w, start_s, supply.voltage_v, 0.8 * supply.voltage_v, 0.0);
    if farad > 0.0 && farad.is_finite() {
        format!(" (for the start of {start_s:.2} s a capacitor of {:.0} mF)", 1000.0 * farad)
    } else {
        String::new()
    }
}

/// What the supply stands: a current limit, or a stronger supply.
fn feeds(scenario: &Scenario, climate: &Climate) -> Vec<Vec<Change>> {
    const ID: &str = "supply_peak";
    let stronger = stronger(scenario, climate).map(|set| set.of(ID, scenario)).into_iter().collect();
    vec![feed(scenario, climate), stronger]
}

/// A supply that stands the peak of the hard strokes; none where no network class does.
pub(super) fn stronger(scenario: &Scenario, climate: &Climate) -> Option<Set> {
    let peak_w = hard_strokes(scenario, climate).iter().map(|stroke| stroke.peak_supply_w).fold(0.0, f64::max);
    if let Source::Network(_) = scenario.supply.source {
        (1..=8).filter(|class| network_w(*class).is_some_and(|limit_w| limit_w >= peak_w)).map(Set::Class).next()
    } else {
        Some(Set::SupplyLimit(ceil_to(1.1 * peak_w, 1.0)))
    }
}

/// A current limit that the supply stands and that still moves the door, with a stronger supply where there is none.
fn feed(scenario: &Scenario, climate: &Climate) -> Vec<Change> {
    const ID: &str = "supply_peak";
    // What does not move at all tells nothing about the current that it needs.
    let unlimited = Scenario {
        drive: crate::scenario::door::Drive { current_limit_a: f64::INFINITY, ..scenario.drive.clone() },
        ..scenario.clone()
    };
    if least_ratio(&unlimited, climate) < 1.0 {
        return Vec::new();
    }
    for comfort in [SAFETY, 1.0] {
        if let Source::Network(class) = scenario.supply.source {
            // Class 0 gives as much as class 3.
            for class in std::iter::once(class).chain(class.max(3) + 1..=8) {
                let Some(limit_w) = network_w(class) else { continue };
                let mut fed = scenario.clone();
                (fed.supply.source, fed.supply.limit_w) = (Source::Network(class), limit_w);
                if let Some(current) = largest_current(&fed, climate, comfort) {
                    let mut sets = Vec::new();
                    if limit_w > scenario.supply.limit_w {
                        sets.push(Set::Class(class));
                    }
                    sets.extend((current < scenario.drive.current_limit_a).then_some(Set::CurrentLimit(current)));
                    return sets.into_iter().map(|set| set.of(ID, scenario)).collect();
                }
            }
        } else if let Some(current) = largest_current(scenario, climate, comfort) {
            return vec![Set::CurrentLimit(current).of(ID, scenario)];
        }
    }
    Vec::new()
}

/// The largest current limit, in steps of 10 mA and no more than now, that the supply stands; none if the door does not move
/// with it, with `comfort` times the force that it needs.
fn largest_current(scenario: &Scenario, climate: &Climate, comfort: f64) -> Option<f64> {
    let with = |limit_a: f64| {
        let mut limited = scenario.clone();
        limited.drive.current_limit_a = limit_a;
        limited
    };
    let drive = &scenario.drive;
    let most = drive.current_limit_a.min(drive.stall_current_a * 2.0);
    let (mut low, mut high) = (drive.no_load_current_a, most);
    if !browns_out(&with(high), climate) {
        low = high;
    }
    while high - low > 0.002 {
        let middle = 0.5 * (low + high);
        if browns_out(&with(middle), climate) { high = middle } else { low = middle }
    }
    let limit = if low == drive.current_limit_a { low } else { floor_to(low, 0.01) };
    (limit > drive.no_load_current_a && least_ratio(&with(limit), climate) >= comfort).then_some(limit)
}

fn energy(scenario: &Scenario, climate: &Climate, strokes: &[Stroke], rows: &mut Vec<Row>) {
    let supply = &scenario.supply;
    let cycle_j: f64 = strokes.iter().map(|stroke| stroke.energy_j).sum();
    let motor_wh = power::motor_wh(supply, OPENINGS * cycle_j);
    let day_wh = motor_wh + power::standby_wh(supply, 24.0);
    let times = calm_times_s(scenario, climate);
    let lasts = |seconds: f64| if seconds.is_finite() { format!("{seconds:.1} s") } else { "without end".to_string() };
    let note = format!(
        "{OPENINGS:.0} openings a day of {:.0} J with closing ({} and {} in calm air) take {:.1} %, standby the rest",
        cycle_j,
        lasts(times.0),
        lasts(times.1),
        100.0 * motor_wh / day_wh.max(f64::MIN_POSITIVE)
    );
    let Source::Solar(solar) = &supply.source else {
        let mut row = Row::stated("energy_day", "energy of a day", Verdict::Fits).key("supply.standby").note(note);
        (row.value, row.unit) = (Some(day_wh), "Wh");
        rows.push(row);
        return;
    };
    let day = Day::new(solar, day_wh);
    let (panel_w, battery_wh) =
        sizes(day_wh, solar.sun_h, solar.performance, DARK_DAYS, solar.usable, solar.efficiency);
    let mut balance = Row::judged(
        "solar_balance",
        "energy of a day against the panel's",
        day_wh,
        Side::AtMost,
        day.sun_wh,
        0.2 * day.sun_wh,
        "Wh",
    )
    .key("supply.panel")
    .note(note);
    if balance.verdict == Verdict::Fails {
        // As much to spare as the row calls comfortable.
        balance = balance.changes(vec![Set::Panel(ceil_to(1.25 * panel_w, 1.0)).of("solar_balance", scenario)]);
    }
    rows.push(balance);
    let mut dark = Row::judged(
        "battery_dark",
        "days without sun that the battery bridges",
        day.autonomy_days,
        Side::AtLeast,
        1.0,
        DARK_DAYS - 1.0,
        "d",
    )
    .key("supply.battery")
    .note(format!(
        "{DARK_DAYS:.0} are comfortable (common practice); on an average day it falls to {:.0} % of its usable charge",
        100.0 * day.lowest_wh() / day.charge_wh[0].max(f64::MIN_POSITIVE)
    ));
    if dark.verdict == Verdict::Fails {
        dark = dark.changes(vec![Set::Battery(ceil_to(battery_wh, 1.0)).of("battery_dark", scenario)]);
    }
    rows.push(dark);
}
