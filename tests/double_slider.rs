//! The double-slider panel against tables of an independent solver.
//!
//! The tables lie in `tests/data/door/`; their comment lines name source and parameters.

use std::collections::BTreeMap;

mod common;

use common::{Record, number, records};
use dooryard::scenario::door::*;
use dooryard::shelter::actuator::Actuator;
use dooryard::shelter::mechanism::double_slider::{Answer, Pull, Trammel};
use dooryard::shelter::mechanism::{Direction, Force};
use dooryard::shelter::stroke::{KNOTS, Path, Profile};

/// To 1e-6 of the value, or of 1e-3 N where a force passes through zero.
#[track_caller]
fn near(actual: f64, expected: f64, relative: f64, what: &dyn std::fmt::Debug) {
    assert!((actual - expected).abs() <= relative * expected.abs().max(1e-3), "{actual} not {expected} in {what:?}");
}

fn trammel(friction: f64) -> Trammel {
    Trammel {
        length_m: 0.6,
        weight_n: 60.0,
        mass_at: 0.5,
        mass_off: 0.0,
        wind_n: 0.0,
        wind_at: 0.5,
        drag_a_n: 0.0,
        drag_b_n: 0.0,
        friction_a: friction,
        friction_b: friction,
    }
}

fn way(row: &Record) -> Direction {
    if row["dir"] == "open" { Direction::Opening } else { Direction::Closing }
}

fn pull(row: &Record) -> Pull {
    if row["drive"] == "V" { Pull::UP_AT_A } else { Pull::INWARDS_AT_B }
}

fn frictionless(panel: &Trammel, row: &Record) -> f64 {
    let angle = number(row, "theta_deg").to_radians();
    if row["drive"] == "V" {
        panel.frictionless_up_n(angle, way(row))
    } else {
        panel.frictionless_inwards_n(angle, way(row))
    }
}

#[test]
fn forces_over_the_angle() {
    let mut seen = BTreeMap::new();
    for row in records("door/double_slider_force.csv") {
        let panel = Trammel { drag_b_n: number(&row, "seal_drag_B_N"), ..trammel(number(&row, "mu")) };
        let angle = number(&row, "theta_deg").to_radians();
        near(panel.clear_height_m(angle), number(&row, "clear_height_m"), 1e-6, &row);
        near(panel.inward_travel_m(angle), number(&row, "stroke_H_m"), 1e-6, &row);
        *seen.entry(row["status"].clone()).or_insert(0) += 1;
        match row["status"].as_str() {
            "dead_point" => {
                // One-sided limit: a millionth of a degree inside, to 1e-5.
                let inside = if angle == 0.0 { 1e-6_f64 } else { 90.0 - 1e-6 }.to_radians();
                let answer = panel.answer(inside, way(&row), &pull(&row));
                match (row["force_N"].as_str(), answer) {
                    ("locked", Answer::Locked) => {}
                    ("inf" | "-inf", Answer::Moves(balance)) => {
                        assert!(balance.drive_n.abs() > 1e6 && (balance.drive_n > 0.0) == (row["force_N"] == "inf"));
                    }
                    (_, Answer::Moves(balance) | Answer::Window(balance, _)) => {
                        near(balance.drive_n, number(&row, "force_N"), 1e-5, &row);
                    }
                    other => panic!("{other:?} in {row:?}"),
                }
                continue;
            }
            "locked" => assert_eq!(panel.answer(angle, way(&row), &pull(&row)), Answer::Locked, "{row:?}"),
            status => {
                let balance = match panel.answer(angle, way(&row), &pull(&row)) {
                    Answer::Moves(balance) if status == "ok" => balance,
                    // Closing, the table gives the force that lets it close and not the pull that would jam it.
                    Answer::Window(first, _) if status == "ok" && row["dir"] == "close" => first,
                    Answer::Window(first, last) if status == "window" => {
                        near(last.drive_n, number(&row, "jam_above_N"), 2e-6, &row);
                        first
                    }
                    other => panic!("{other:?} in {row:?}"),
                };
                near(balance.drive_n, number(&row, "force_N"), 2e-6, &row);
                near(balance.rail_a_n, number(&row, "NA_N"), 2e-6, &row);
                near(balance.rail_b_n, number(&row, "NB_N"), 2e-6, &row);
            }
        }
        // The table leaves out the lying panel, where only the upward force has a value.
        if row["frictionless_N"] != "nan" {
            near(frictionless(&panel, &row), number(&row, "frictionless_N"), 1e-6, &row);
        }
    }
    assert_eq!(seen.len(), 4, "every status occurs: {seen:?}");
}

/// A solution count, and the smallest and largest force.
#[track_caller]
fn counted(panel: &Trammel, row: &Record, pull: &Pull) {
    let found = panel.balances(number(row, "theta_deg").to_radians(), way(row), pull);
    assert_eq!(found.len() as f64, number(row, "n_solutions"), "{found:?} in {row:?}");
    if let (Some(first), Some(last)) = (found.first(), found.last()) {
        near(first.drive_n, number(row, "force_min_N"), 1e-6, row);
        near(last.drive_n, number(row, "force_max_N"), 1e-6, row);
    } else {
        assert_eq!(row["force_min_N"], "locked");
    }
}

#[test]
fn forces_in_wind() {
    for row in records("door/double_slider_wind.csv") {
        let panel = Trammel { mass_off: 0.05, wind_n: number(&row, "P_N"), ..trammel(0.1) };
        counted(&panel, &row, &pull(&row));
        near(frictionless(&panel, &row), number(&row, "frictionless_N"), 1e-6, &row);
    }
}

#[test]
fn drive_at_a_point_of_the_panel() {
    for row in records("door/double_slider_point_drive.csv") {
        let panel = Trammel { drag_b_n: 10.0, ..trammel(0.15) };
        let angle = number(&row, "theta_deg").to_radians();
        let along = match row["mount"].as_str() {
            "horizontal" => (1.0, 0.0),
            "fixed_slope" => (0.5_f64.sqrt(), 0.5_f64.sqrt()),
            _ => {
                // A rod from the pivot to the point three quarters up the panel, pulling towards the pivot.
                let (x, y) = (0.45 - 0.75 * 0.6 * angle.sin(), -0.45 + 0.25 * 0.6 * angle.cos());
                near(x.hypot(y), number(&row, "pivot_distance_m"), 1e-6, &row);
                (x / x.hypot(y), y / x.hypot(y))
            }
        };
        assert!((along.0 - number(&row, "ex")).abs() < 1e-6 && (along.1 - number(&row, "ey")).abs() < 1e-6, "{row:?}");
        counted(&panel, &row, &Pull { along, at: 0.75, off: 0.0 });
    }
}

#[test]
fn limits_of_the_angle() {
    for row in records("door/double_slider_limits.csv") {
        let panel = Trammel { mass_at: number(&row, "lam"), ..trammel(number(&row, "mu")) };
        let gap = |angle: f64| panel.inward_travel_m(angle);
        near(panel.dead_at_hanging().to_degrees(), number(&row, "V_dead_band_below_deg"), 1e-6, &row);
        near(gap(panel.dead_at_hanging()), number(&row, "V_residual_gap_m"), 1e-6, &row);
        near(panel.closes_by_weight_to().to_degrees(), number(&row, "V_gravity_close_stops_deg"), 1e-6, &row);
        near(gap(panel.closes_by_weight_to()), number(&row, "V_gravity_gap_m"), 1e-6, &row);
        near(panel.dead_at_lying().to_degrees(), number(&row, "H_dead_band_above_deg"), 1e-6, &row);
        near(panel.clear_height_m(panel.dead_at_lying()), number(&row, "H_max_clear_height_m"), 1e-6, &row);
        // The closed forms are the zero and the poles of the full equations.
        if number(&row, "mu") > 0.0 {
            let found = panel.balances(panel.closes_by_weight_to(), Direction::Closing, &Pull::UP_AT_A);
            assert!(found.len() == 1 && found[0].drive_n.abs() < 1e-6, "{found:?} in {row:?}");
            let at = |angle| panel.answer(angle, Direction::Opening, &Pull::INWARDS_AT_B);
            assert_eq!(at(panel.dead_at_lying() + 1e-4), Answer::Locked, "{row:?}");
            assert!(matches!(at(panel.dead_at_lying() - 1e-4), Answer::Moves(b) if b.drive_n > 1e4), "{row:?}");
        }
    }
}

/// Without friction the drive's work is the rise of the centre of mass, (1 - lam) W times the clear height gained.
#[test]
fn virtual_work_without_friction() {
    let panel = Trammel { mass_at: 0.3, ..trammel(0.0) };
    let steps = 2_000;
    for (pull, travel) in [
        (Pull::UP_AT_A, Trammel::clear_height_m as fn(&Trammel, f64) -> f64),
        (Pull::INWARDS_AT_B, Trammel::inward_travel_m),
    ] {
        let angle = |step: f64| (5.0 + 75.0 * step / f64::from(steps)).to_radians();
        let mut work = 0.0;
        for step in 0..steps {
            let Answer::Moves(balance) = panel.answer(angle(f64::from(step) + 0.5), Direction::Opening, &pull) else {
                panic!("locked without friction")
            };
            let way = travel(&panel, angle(f64::from(step) + 1.0)) - travel(&panel, angle(f64::from(step)));
            work += balance.drive_n * way;
        }
        let rise = panel.clear_height_m(angle(f64::from(steps))) - panel.clear_height_m(angle(0.0));
        near(work, 0.7 * 60.0 * rise, 1e-6, &pull);
    }
}

/// Whole strokes with the actuator of the stroke tables, its stall force a quarter, and a screw that turns a driving
/// load into a quarter of it as a resisting one.
#[test]
fn whole_strokes() {
    let drive = Drive {
        nominal_v: 24.0,
        no_load_speed_m_s: 0.012,
        stall_force_n: 500.0,
        rated_force_n: 100.0,
        no_load_current_a: 0.6,
        stall_current_a: 6.0,
        current_limit_a: f64::INFINITY,
        self_locking: true,
        pushes: true,
        reflected_mass_kg: 0.0,
        duty_factor: 0.25,
        duty_period_s: 600.0,
        soft_start_s: 0.0,
        gear: Gear::Figures,
        parts: Vec::new(),
        heat: Heat {
            winding_j_k: 20.0,
            housing_j_k: 250.0,
            winding_housing_k_w: 3.0,
            housing_air_k_w: 6.0,
            trips_at_c: 120.0,
            resets_at_c: 90.0,
        },
        wear: Wear { rated_strokes: 20_000.0, exponent: 1.0, weibull_shape: 2.0 },
    };
    let supply = Supply {
        voltage_v: 24.0,
        cable_ohm: 0.0,
        limit_w: 60.0,
        standby_w: 2.0,
        efficiency: 0.88,
        buffer_j: 0.0,
        source: Source::Limit,
    };
    let line = Actuator::at(&drive, &supply, 20.0);
    for row in records("door/stroke_double_slider.csv") {
        let panel = trammel(number(&row, "mu"));
        let (pull, upwards) = (pull(&row), row["drive"] == "V");
        let travel = |angle: f64| if upwards { panel.clear_height_m(angle) } else { panel.inward_travel_m(angle) };
        let low = travel(number(&row, "theta_from_deg").to_radians());
        let high = travel(number(&row, "theta_to_deg").to_radians());
        near(high - low, number(&row, "stroke_m"), 1e-6, &row);
        let opening = way(&row) == Direction::Opening;
        // Along the motion: what opens it positive, what holds it back in closing negative.
        let along = |travelled: f64| {
            let at = if opening { low + travelled } else { high - travelled };
            let angle = if upwards { panel.angle_at_height(at) } else { panel.angle_at_travel(at) };
            let Answer::Moves(balance) = panel.answer(angle, way(&row), &pull) else { panic!("locked") };
            if opening { balance.drive_n } else { -balance.drive_n }
        };
        // Where the load turns from driving to resisting the screw's force has a kink: a cut goes there.
        let (mut driving, mut resisting) = (0.0, high - low);
        for _ in 0..60 {
            let middle = 0.5 * (driving + resisting);
            *(if along(middle) < 0.0 { &mut driving } else { &mut resisting }) = middle;
        }
        let profile = Profile::of(high - low, &[driving], |travelled| {
            let force = along(travelled);
            Force::Push(if force < 0.0 { -0.25 * force } else { force })
        });
        let path = Path::along(&profile, &line, KNOTS);
        assert_eq!(path.stall, None);
        for (value, key) in [
            (path.time_s, "time_s"),
            (path.drawn_as * 24.0, "energy_J"),
            (path.running_current_a, "I_peak_A"),
            (path.work_j, "W_motor_J"),
        ] {
            near(value, number(&row, key), 1e-6, &(key, &row));
        }
    }
}
