//! Screw, bus, supply and rainflow against tables of independent programs and published examples.

mod common;
mod support;

use common::{Record, number, records};
use std::collections::BTreeMap;

use dooryard::engine::Plan;
use dooryard::scenario::bus::{Bus, Device, Mode};
use dooryard::scenario::door::source::network_w;
use dooryard::scenario::door::*;
use dooryard::shelter::battery::{self, Day};
use dooryard::shelter::loads::Loads;
use dooryard::shelter::mechanism::Direction;
use dooryard::shelter::{bus, power, rainflow, stroke};
use proptest::prelude::*;

#[track_caller]
fn same(actual: f64, row: &Record, key: &str) {
    let expected = number(row, key);
    assert!((actual - expected).abs() <= 1e-6 * expected.abs(), "{actual} not {expected}: {key} of {row:?}");
}

#[test]
fn screws() {
    for row in records("door/screw.csv") {
        let screw = Screw {
            lead_m: number(&row, "lead_mm") / 1000.0,
            mean_diameter_m: number(&row, "mean_dia_mm") / 1000.0,
            friction: number(&row, "mu"),
            flank_deg: 15.0,
        };
        same(screw.lead_angle().to_degrees(), &row, "lead_angle_deg");
        same(screw.friction_angle().to_degrees(), &row, "friction_angle_deg");
        same(screw.efficiency(), &row, "efficiency");
        assert_eq!(screw.is_self_locking(), row["self_locking"] == "1");
        same(screw.back_efficiency(), &row, "back_efficiency");
        same(screw.lowering_ratio(), &row, "torque_ratio");
        // A self-locking screw never passes half its power on (2 phi > phi + lambda).
        assert!(!screw.is_self_locking() || screw.efficiency() < 0.5);
    }
}

/// Power in = power out over the losses, for both kinds of gear: F v = T omega eta at matching points.
#[test]
fn gears_keep_power() {
    let motor =
        Motor { speed_hz: 50.0, stall_torque_nm: 0.2, inertia_kg_m2: 5e-6, gear_ratio: 20.0, gear_efficiency: 0.7 };
    let screw = Screw { lead_m: 0.003, mean_diameter_m: 0.0105, friction: 0.15, flank_deg: 15.0 };
    let turning = 2.0 * std::f64::consts::PI * 50.0 * 0.2;
    let figures = motor.with_screw(&screw);
    let power = figures.stall_force_n * figures.no_load_speed_m_s;
    assert!((power - turning * 0.7 * screw.efficiency()).abs() < 1e-9 * turning);
    for row in records("door/reflected_mass.csv") {
        let motor = Motor { inertia_kg_m2: number(&row, "J_kgm2"), gear_ratio: number(&row, "gear"), ..motor };
        same(
            motor.with_screw(&Screw { lead_m: number(&row, "lead_mm") / 1000.0, ..screw }).reflected_mass_kg,
            &row,
            "m_eq_kg",
        );
    }
    let figures = motor.with_drum(&Drum { diameter_m: 0.04 });
    assert!((figures.stall_force_n * figures.no_load_speed_m_s - turning * 0.7).abs() < 1e-9 * turning);
    // Energy of the rotor at no-load speed, seen at the cord.
    let rotor = 0.5 * 5e-6 * (2.0 * std::f64::consts::PI * 50.0_f64).powi(2);
    let seen = 0.5 * figures.reflected_mass_kg * figures.no_load_speed_m_s.powi(2);
    assert!((rotor - seen).abs() < 1e-12);
}

fn mode(row: &Record) -> Mode {
    match row["mode"].as_str() {
        "standard" => Mode::Standard,
        "fast" => Mode::Fast,
        "fastplus" => Mode::FastPlus,
        other => panic!("{other}"),
    }
}

/// A bus with stiff edges, so that the headline clock holds.
fn seven(mode: Mode, multiplexer: bool, gap_s: f64, stretch_s: f64) -> Bus {
    let device = |sensor| Device {
        sensor,
        address: 0x29 + sensor as u8,
        register_bytes: 1,
        data_bytes: 6,
        stretch_s,
        conversion_s: 0.0,
    };
    Bus {
        mode,
        voltage_v: 3.3,
        pull_up_ohm: 500.0,
        cable_m: 0.0,
        cable_pf_m: 60.0,
        device_pf: 10.0,
        multiplexer,
        gap_s,
        devices: (0..7).map(device).collect(),
    }
}

#[test]
fn bus_times() {
    for row in records("door/bus_transaction.csv") {
        let timing = bus::timing(mode(&row));
        let (register, data) = (number(&row, "reg_bytes") as u32, number(&row, "data_bytes") as u32);
        same(1e6 * bus::read_s(&timing, timing.clock_hz, register, data), &row, "read_us");
        same(1e6 * bus::write_s(&timing, timing.clock_hz, register + data), &row, "write_us");
    }
    for row in records("door/bus_scan.csv") {
        let bus =
            seven(mode(&row), row["mux"] == "1", number(&row, "gap_us") * 1e-6, number(&row, "stretch_us") * 1e-6);
        assert_eq!(bus::clock_hz(&bus), bus::timing(bus.mode).clock_hz);
        same(1e6 * bus::scan_s(&bus), &row, "scan_us");
        same(1.0 / bus::shortest_period_s(&bus, &bus.devices[0]), &row, "scans_per_s");
    }
    for row in records("door/bus_rise.csv") {
        // The table rounds ln(0.7/0.3) to 0.8473.
        let close = |actual: f64, key: &str| {
            let expected = number(&row, key);
            assert!((actual - expected).abs() < 4e-6 * expected, "{actual} not {expected}: {key} of {row:?}");
        };
        let mode = mode(&row);
        let (pf, ohm) = (number(&row, "Cb_pF"), number(&row, "Rp_ohm"));
        let rise = bus::rise_s(ohm, pf);
        close(1e6 * rise, "rise_us");
        let (least, most) = bus::pull_up_range_ohm(mode, 3.3, pf);
        close(least, "Rp_min_ohm");
        close(most, "Rp_max_ohm");
        close(bus::clock_for_rise_hz(mode, rise) / 1e3, "f_max_kHz");
        assert_eq!(pf <= bus::timing(mode).capacitance_pf, row["Cb_ok"] == "1");
    }
}

#[test]
fn bus_clashes_and_slow_sensors() {
    let mut twins = seven(Mode::Fast, false, 0.0, 0.0);
    twins.devices[3].address = twins.devices[1].address;
    assert_eq!(bus::clashes(&twins), [(1, 3)]);
    twins.multiplexer = true;
    assert_eq!(bus::clashes(&twins), []);
    assert!(bus::is_reserved(7) && !bus::is_reserved(8) && !bus::is_reserved(119) && bus::is_reserved(120));
    // A measurement of 33 ms limits to 30 Hz what the bus could read 500 times a second.
    let mut scenario = support::base();
    let mut shared = seven(Mode::Fast, false, 0.0, 0.0);
    shared.devices.truncate(1);
    shared.devices[0].conversion_s = 0.0998;
    scenario.bus = Some(shared);
    let plan = Plan::new(&scenario).expect("a plan");
    let turn = bus::turn_s(scenario.bus.as_ref().unwrap(), &scenario.bus.as_ref().unwrap().devices[0]);
    assert!((plan.scenario.sensors[0].period.seconds() - (0.0998 + turn)).abs() < 1e-6);
    assert_eq!(plan.scenario.sensors[1].period, scenario.sensors[1].period);
}

#[test]
fn network_classes() {
    for row in records("door/power_poe.csv") {
        let class = number(&row, "class") as u8;
        let device_w = network_w(class).expect("a known class");
        same(device_w, &row, "pd_W");
        // What is left for a motor behind a converter of 0.88 with 4 W of electronics.
        same(device_w * 0.88 - 4.0, &row, "for_motor_W");
    }
    assert_eq!(network_w(9), None);
}

/// The table's panel and battery for three dark days; a panel of that size refills what the day takes.
#[test]
fn solar_days() {
    for row in records("door/power_day.csv") {
        let load = number(&row, "total_Wh");
        let (panel_w, battery_wh) = battery::sizes(load, 3.0, 0.65, 3.0, 0.8, 0.9);
        same(panel_w, &row, "pv_Wp");
        same(battery_wh, &row, "battery_Wh");
        let solar = Solar {
            battery_wh,
            usable: 0.8,
            panel_w,
            performance: 0.65,
            sun_h: 3.0,
            efficiency: 0.9,
            restarts_at: 0.2,
        };
        let day = Day::new(&solar, load);
        assert!((day.cover() - 1.0).abs() < 1e-6);
        assert!(day.lowest_wh() > 0.0 && day.charge_wh.iter().all(|charge| *charge <= 0.8 * battery_wh + 1e-9));
        // Conservation: without the cap the day ends where it began, so with it no higher.
        assert!(*day.charge_wh.last().unwrap() <= day.charge_wh[0]);
        let dark = Day::new(&Solar { sun_h: 1e-9, ..solar }, load);
        assert!((dark.charge_wh[24] - (0.8 * battery_wh - load / 0.9)).abs() < 1e-6 * load);
        // The table's sizes are for three days without sun.
        assert!((dark.autonomy_days - 3.0).abs() < 1e-4, "{}", dark.autonomy_days);
    }
}

#[test]
fn soft_start_and_buffer_tame_the_peak() {
    let base = support::base();
    let solve = |drive: &Drive| stroke::solve(&base.door, drive, &base.supply, Direction::Opening, &Loads::CALM, 0.0);
    let hard = solve(&base.drive);
    let soft = solve(&Drive { soft_start_s: 0.5, ..base.drive.clone() });
    assert!(soft.peak_current_a < 0.6 * hard.peak_current_a, "{} {}", soft.peak_current_a, hard.peak_current_a);
    assert!(soft.peak_current_a >= soft.running_current_a);
    assert!((soft.time_s - hard.time_s - 0.25).abs() < 1e-9);
    let tight = Supply { limit_w: 100.0, ..base.supply };
    assert!(power::stroke_browns_out(&tight, &hard) && !power::stroke_browns_out(&tight, &soft));
    assert!(!power::stroke_browns_out(&Supply { buffer_j: 20.0, ..tight }, &hard));
}

#[test]
fn rainflow_examples() {
    let mut compared = 0;
    for row in records("catalogue/04_reliability.csv").iter().filter(|row| row["quantity"].starts_with("rainflow")) {
        let settings: BTreeMap<&str, &str> = row["inputs"].split(';').filter_map(|part| part.split_once('=')).collect();
        let series: Vec<f64> = settings["series"].split('|').map(|x| x.parse().unwrap()).collect();
        let cycles = rainflow::count(&series);
        let actual = match settings.get("range") {
            Some(range) => {
                let range: f64 = range.parse().unwrap();
                cycles.iter().filter(|cycle| (cycle.range - range).abs() < 1e-9).map(|cycle| cycle.count).sum()
            }
            None => {
                let number = |key: &str| settings[key].parse::<f64>().unwrap();
                rainflow::damage(&cycles, number("ref_range"), 1.0, number("exponent"))
            }
        };
        let expected: f64 = row["expected"].parse().unwrap();
        assert!((actual - expected).abs() < 1e-12 * expected.max(1.0), "{actual} not {expected}: {row:?}");
        compared += 1;
    }
    assert!(compared >= 6, "{compared}");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Every turning point but the last opens half a cycle: counts add up to (points - 1)/2, and the largest range is that of the
    /// whole history.
    #[test]
    fn rainflow_loses_nothing(history in prop::collection::vec(-100.0..100.0_f64, 2..60)) {
        let points = rainflow::turning_points(&history);
        let cycles = rainflow::count(&history);
        let halves: f64 = cycles.iter().map(|cycle| 2.0 * cycle.count).sum();
        prop_assert!((halves - (points.len() as f64 - 1.0)).abs() < 1e-9);
        let widest = cycles.iter().map(|cycle| cycle.range).fold(0.0, f64::max);
        let span = history.iter().copied().fold(f64::MIN, f64::max) - history.iter().copied().fold(f64::MAX, f64::min);
        prop_assert!((widest - span).abs() < 1e-9);
    }
}
