//! An invented scenario for tests, built in code, so that a test can change one figure and say why.

#![allow(dead_code, reason = "each test and benchmark uses its own part of this")]

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::care::Care;
use dooryard::scenario::door::*;
use dooryard::scenario::mower::*;
use dooryard::scenario::season::*;
use dooryard::scenario::sensor::*;
use dooryard::scenario::strategy::*;
use dooryard::scenario::visitor::*;
use dooryard::scenario::weather::*;
use dooryard::sensing::channel::Sampling;
use dooryard::study::rare::RareMisses;
use jiff::civil::date;

fn s(seconds: f64) -> Span {
    Span::from_seconds(seconds)
}

/// Errors of a perfect sensor.
pub const PERFECT: Errors = Errors::NONE;

/// A flap that opens outwards on a rod.
pub fn flap() -> Mechanism {
    Mechanism::TopFlap(TopFlap {
        opens: Swing::Outwards,
        length_m: 0.4,
        hinge_height_m: 0.45,
        mass_at: 0.5,
        open_angle_deg: 90.0,
        hinge_friction: 0.1,
        pin_radius_m: 0.006,
        rod: Rod { frame_out_m: -0.3, frame_along_m: 0.2, panel_along_m: 0.13, panel_behind_m: 0.02 },
        gas_spring: None,
    })
}

/// A controller with cautious timings.
pub fn controller() -> Controller {
    Controller {
        open_at_least: s(10.0),
        open_at_most: None,
        warning: s(2.0),
        stroke_timeout: 1.5,
        retry_after: s(10.0),
        retries: 3,
        fault_cleared_after: s(6.0 * 3600.0),
        obstruction_force_n: 60.0,
        obstruction_reaction: s(0.1),
        after_power_loss: AfterPowerLoss::Open,
        on_dead_sensor: OnDeadSensor::HoldOpen,
        dead_after: s(5.0),
        care: Care::default(),
    }
}

/// Looks outwards from above the doorway: sees the mower come.
pub fn ranger(errors: Errors) -> Sensor {
    Sensor {
        name: "eye".into(),
        kind: SensorKind::OpticalRange {
            aim: Aim {
                position_m: [0.05, 0.0, 0.15],
                yaw_deg: 0.0,
                pitch_deg: 0.0,
                half_cone_deg: 2.0,
                nearest_m: 0.1,
                farthest_m: 8.0,
            },
            farthest_sun_m: 5.0,
            background_m: None,
        },
        period: Span(50_000),
        latency: s(0.05),
        errors,
    }
}

/// Beam across the doorway.
pub fn beam() -> Sensor {
    Sensor {
        name: "beam".into(),
        kind: SensorKind::BreakBeam {
            x_m: 0.0,
            z_m: 0.08,
            span_m: (-0.3, 0.3),
            false_per_hour: 0.0,
            false_break_s: 0.0,
        },
        period: Span(20_000),
        latency: Span::ZERO,
        errors: PERFECT,
    }
}

/// The mower's messages.
pub fn status() -> Sensor {
    Sensor {
        name: "status".into(),
        kind: SensorKind::Status { poll_s: 0.0, loss: 0.0, delay_s: 1.0, delay_spread: 0.3, stale_after_s: 600.0 },
        period: Span::SECOND,
        latency: Span::ZERO,
        errors: PERFECT,
    }
}

/// Load on the platform.
pub fn platform(errors: Errors) -> Sensor {
    Sensor {
        name: "platform".into(),
        kind: SensorKind::PlatformLoad {
            span_m: (-0.9, -0.1),
            area_m2: 0.4,
            drained_per_hour: 0.9,
            creep: Creep::NONE,
            spring: Platform::STIFF,
        },
        period: Span(100_000),
        latency: Span::ZERO,
        errors,
    }
}

fn detector(name: &str, sensor: usize, sense: Sense, on: f64, off: f64, rule: (usize, usize)) -> Detector {
    Detector {
        name: name.into(),
        sensor,
        statistic: Statistic::Level,
        sense,
        on,
        off,
        rule: RunRule { k: rule.0, n: rule.1 },
        release: RunRule { k: rule.1, n: rule.1 },
        dropped: Dropped::Quiet,
        says: Vec::new(),
    }
}

/// Any of these detectors.
pub fn any(parts: &[usize]) -> Condition {
    Condition::Any(parts.iter().map(|detector| Condition::Detector(*detector)).collect())
}

/// A well-set shelter with perfect sensors, in dry and rainy weather, with a cat.
pub fn base() -> Scenario {
    let sensors = vec![ranger(PERFECT), beam(), status(), platform(PERFECT)];
    let detectors = vec![
        detector("near", 0, Sense::Below, 3.2, 3.4, (3, 5)),
        detector("doorway", 1, Sense::Above, 0.5, 0.5, (1, 1)),
        Detector { says: vec![StatusCode::Leaving], ..detector("leaving", 2, Sense::Above, 0.5, 0.5, (1, 1)) },
        detector("on platform", 3, Sense::Above, 7.0, 5.0, (5, 5)),
    ];
    let strategy = |name: &str, open: Condition| Strategy {
        name: name.into(),
        about: String::new(),
        open,
        hold: Condition::Any(vec![
            any(&[0, 2]),
            Condition::Lasting(s(8.0), Box::new(Condition::Any(vec![any(&[0, 1])]))),
        ]),
        doorway: Condition::Lasting(s(2.0), Box::new(Condition::Detector(1))),
        close: Condition::BuiltIn(BuiltIn::Always),
        inside: Condition::BuiltIn(BuiltIn::Never),
        wet: Condition::BuiltIn(BuiltIn::Never),
        fallback: Condition::BuiltIn(BuiltIn::Never),
        controller: controller(),
    };
    Scenario {
        name: "invented".into(),
        about: "Invented for tests.".into(),
        site: Site {
            latitude_deg: 47.0,
            longitude_deg: 11.0,
            time_zone: "Europe/Vienna".into(),
            door_faces_deg: 100.0,
            wind_factor: 0.4,
        },
        calendar: Calendar { first_day: date(2025, 4, 1), last_day: date(2025, 5, 31) },
        weather: Weather::Generated(Generated {
            wet_spell_h: [3.0; 12],
            dry_spell_h: [25.0; 12],
            intensity_mm_h: [1.5; 12],
            intensity_shape: 0.7,
            intensity_step_h: 0.5,
            temperature_c: [12.0; 12],
            temperature_swing_k: [5.0; 12],
            temperature_spread_k: [3.0; 12],
            temperature_memory_h: 40.0,
            wind_m_s: [2.5; 12],
            wind_shape: 2.0,
            wind_memory_h: 10.0,
            gust_factor: 1.7,
            clearness: [0.6; 12],
            clearness_spread: 0.2,
            shift: Shift::NONE,
        }),
        mower: Mower {
            length_m: 0.6,
            width_m: 0.42,
            height_m: 0.26,
            mass_kg: 11.0,
            reflectance: 0.3,
            axles: None,
            windows: vec![Window {
                days: [true, false, true, false, true, false, false],
                from_s: 32_400,
                to_s: 61_200,
            }],
            run: Spread { mean_s: 4_200.0, sd_s: 600.0 },
            charge: Spread { mean_s: 3_600.0, sd_s: 300.0 },
            lawn_s: 9_000.0,
            start_delay_s: 300.0,
            unscheduled_per_day: 0.0,
            approach: Approach {
                way_home: Spread { mean_s: 90.0, sd_s: 30.0 },
                from_m: 6.0,
                speed_m_s: 0.35,
                slow_from_m: 3.5,
                slow_speed_m_s: 0.2,
                speed_spread: 0.05,
                sideways_m: 0.03,
            },
            departure: Departure { notice_s: 30.0, patience_s: 120.0, speed_m_s: 0.25 },
            shut_door: ShutDoor {
                waits_at_m: 0.5,
                patience_s: 60.0,
                retries: 2,
                back_off_m: 1.5,
                bumps: true,
                bump_force_n: 60.0,
                help_after_s: 7_200.0,
            },
            dock: Dock { depth_m: 0.85, failure: 0.03, back_off_m: 0.2, attempts: 4 },
            rain: RainManners { habit: RainHabit::GoHome, reacts_after_s: 60.0, resumes_after_s: 7_200.0 },
        },
        visitors: vec![Visitor {
            name: "cat".into(),
            per_day: 2.0,
            hours: [1.0; 24],
            only: Only::Always,
            length_m: 0.45,
            width_m: 0.2,
            height_m: 0.28,
            mass_kg: 4.5,
            reflectance: 0.4,
            soft: true,
            speed_m_s: 0.6,
            nearest_m: (1.0, 0.4),
            sideways_m: 0.3,
            dwell: Spread { mean_s: 15.0, sd_s: 6.0 },
            enters: 0.2,
            inside: Spread { mean_s: 600.0, sd_s: 200.0 },
        }],
        faults: vec![],
        failures: vec![],
        sensors,
        detectors,
        strategies: vec![strategy("eye", any(&[0, 2])), strategy("messages only", any(&[2]))],
        door: Door {
            width_m: 0.6,
            height_m: 0.4,
            mechanism: Mechanism::VerticalLift(VerticalLift {
                stroke_m: 0.4,
                counterweight_kg: 3.0,
                pulleys: 1,
                pulley_efficiency: 0.95,
                guide_friction: 0.15,
                guide_length_m: 0.4,
                drive_offset_m: 0.05,
            }),
            mass_kg: 5.0,
            seal_n: 15.0,
            seal_zone_m: 0.02,
            breakaway: 1.3,
            wind_coefficient: 1.3,
            ice_n: 60.0,
            ice_below_c: -1.0,
            edge_stiffness_n_m: 20_000.0,
            contact_force_limit_n: 150.0,
            contact_energy_limit_j: 1.7,
        },
        drive: Drive {
            nominal_v: 24.0,
            no_load_speed_m_s: 0.06,
            stall_force_n: 600.0,
            rated_force_n: 200.0,
            no_load_current_a: 0.4,
            stall_current_a: 5.0,
            current_limit_a: f64::INFINITY,
            self_locking: true,
            pushes: true,
            reflected_mass_kg: 400.0,
            duty_factor: 0.25,
            duty_period_s: 600.0,
            soft_start_s: 0.0,
            gear: Gear::Figures,
            parts: Vec::new(),
            heat: Heat {
                winding_j_k: 60.0,
                housing_j_k: 400.0,
                winding_housing_k_w: 2.5,
                housing_air_k_w: 6.0,
                trips_at_c: 120.0,
                resets_at_c: 95.0,
            },
            wear: Wear { rated_strokes: 20_000.0, exponent: 3.0, weibull_shape: 1.5 },
        },
        supply: Supply {
            voltage_v: 24.0,
            cable_ohm: 0.3,
            limit_w: 200.0,
            standby_w: 2.0,
            efficiency: 0.88,
            buffer_j: 0.0,
            source: Source::Limit,
        },
        bus: None,
        limits: vec![],
        common_cause: dooryard::scenario::common_cause::USUAL,
        risks: vec![],
        objective: None,
    }
}

/// The same shelter with sensors as one buys them, more visitors, faults and a jumpy rule: plenty to go wrong.
pub fn noisy() -> Scenario {
    let mut scenario = base();
    let eye = &mut scenario.sensors[0].errors;
    eye.noise = 0.05;
    eye.noise_growth = 0.02;
    eye.dropout = 0.05;
    eye.dropout_rain = 0.3;
    eye.spurious = 2e-3;
    eye.spurious_rain = 2e-4;
    eye.resolution = 0.01;
    eye.drift_per_k = 0.001;
    let SensorKind::OpticalRange { background_m, .. } = &mut scenario.sensors[0].kind else {
        unreachable!("the first sensor is the ranger")
    };
    *background_m = Some(3.6);
    scenario.detectors[0].rule = RunRule { k: 2, n: 3 };
    let platform = &mut scenario.sensors[3].errors;
    platform.noise = 1.0;
    platform.resolution = 0.1;
    scenario.visitors[0].per_day = 12.0;
    scenario.visitors[0].enters = 0.5;
    let beam = &mut scenario.sensors[1];
    beam.errors.dropout = 0.02;
    let SensorKind::BreakBeam { false_per_hour, false_break_s, .. } = &mut beam.kind else {
        unreachable!("the second sensor is the beam")
    };
    (*false_per_hour, *false_break_s) = (0.5, 3.0);
    scenario.faults = vec![Fault {
        name: "web".into(),
        kind: FaultKind::SensorNoisy(0),
        per_year: 40.0,
        lasts: Spread { mean_s: 3_600.0, sd_s: 1_800.0 },
        noise_factor: 3.0,
    }];
    scenario
}

/// The same shelter with sensors as good as one buys them.
pub fn usual() -> Scenario {
    let mut scenario = base();
    let eye = &mut scenario.sensors[0].errors;
    eye.noise = 0.02;
    eye.dropout = 0.01;
    eye.spurious = 1e-5;
    eye.spurious_rain = 1e-5;
    scenario.sensors[3].errors.noise = 0.2;
    scenario
}

/// A shelter that often misses: a reach that the level only just lies within, many dropped readings, and a rule that wants
/// many hits in a row.
pub fn dim() -> Scenario {
    let mut scenario = noisy();
    scenario.calendar.last_day = date(2025, 4, 21);
    scenario.detectors[0].rule = RunRule { k: 5, n: 6 };
    scenario.detectors[0].on = 0.75;
    scenario.detectors[0].off = 0.9;
    scenario.sensors[0].errors.dropout = 0.3;
    scenario.sensors[0].errors.noise = 0.1;
    scenario.sensors[0].period = Span(100_000);
    scenario
}

/// A second eye (sensor 4) beside the first, as good but slower. Detectors: of the first eye 0 (near) and 5 (nearer, a median), of the
/// second 4.
pub fn second_eye(scenario: &mut Scenario) {
    let mut eye: Sensor = scenario.sensors[0].clone();
    eye.name = "second eye".into();
    (eye.period, eye.latency) = (Span(130_000), Span::from_seconds(0.2));
    scenario.sensors.push(eye);
    let near = &mut scenario.detectors[0];
    (near.on, near.off, near.rule) = (0.65, 0.8, RunRule { k: 3, n: 5 });
    let like_near = |name: &str, sensor: usize, k: usize, n: usize| Detector {
        name: name.into(),
        sensor,
        rule: RunRule { k, n },
        ..scenario.detectors[0].clone()
    };
    let second = like_near("second", 4, 2, 4);
    let nearer = Detector { statistic: Statistic::MovingMedian(3), ..like_near("nearer", 0, 2, 2) };
    scenario.detectors.extend([second, nearer]);
}

/// Plays `n` seasons by the shortcut and as many others with every sample drawn; their means must agree within 5 standard
/// errors for each metric, and most metrics must have something to compare.
pub fn skipping_agrees(scenario: &Scenario, keys: &[Key], n: u64) {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let mut sums = vec![[[0.0_f64; 2]; 2]; keys.len()];
    for (mode, sampling) in [Sampling::Exact, Sampling::Every].into_iter().enumerate() {
        for number in 0..n {
            // Independent seasons for the two ways of working.
            let outside = Outside::draw(&plan, 9, number + 1_000 * mode as u64).expect("weather");
            let record = play(&plan, &outside, 0, 9, Options { sampling, events: false });
            for (slot, key) in sums.iter_mut().zip(keys) {
                slot[mode][0] += record.value(*key);
                slot[mode][1] += record.value(*key).powi(2);
            }
        }
    }
    let mut moved = 0;
    for (slot, key) in sums.iter().zip(keys) {
        let [exact, every] = slot.map(|[sum, square]| {
            let mean = sum / n as f64;
            (mean, (square / n as f64 - mean * mean).max(0.0) / n as f64)
        });
        moved += usize::from(exact.0 > 0.0);
        let error = (exact.1 + every.1).sqrt();
        assert!((exact.0 - every.0).abs() <= 5.0 * error + 1e-9, "{key:?}: exact {exact:?}, every {every:?}");
    }
    assert!(moved >= 6, "the test scenario is too quiet to compare anything");
}

/// A shelter that often misses, with a second eye (sensor 4) beside the first and a beam where the mower waits; detectors: near 0,
/// beam 1, second 4, nearer (a median of the first eye) 5. Nobody else comes, nothing fails.
pub fn three_looks() -> Scenario {
    let mut scenario = dim();
    scenario.visitors.clear();
    scenario.faults.clear();
    scenario.mower.approach.sideways_m = 0.06;
    let SensorKind::BreakBeam { x_m, false_per_hour, .. } = &mut scenario.sensors[1].kind else { panic!("beam") };
    (*x_m, *false_per_hour) = (0.53, 0.0);
    scenario.sensors[1].errors.dropout = 0.85;
    scenario.detectors[1].rule = RunRule { k: 2, n: 3 };
    let errors = &mut scenario.sensors[0].errors;
    (errors.spurious, errors.spurious_rain, errors.resolution) = (0.0, 0.0, 0.05);
    second_eye(&mut scenario);
    let SensorKind::OpticalRange { aim, .. } = &mut scenario.sensors[4].kind else { panic!("ranger") };
    aim.position_m[1] = 0.08;
    scenario.strategies.truncate(1);
    scenario
}

/// That a chance to be missed is within 4 standard errors of the share that so many seasons count, which is one in fifty or more.
pub fn agrees(name: &str, got: &RareMisses, scenario: &Scenario, seasons: u64) {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let options = Options { sampling: Sampling::Exact, events: false };
    let mut sums = [0.0; 2];
    for season in 0..seasons {
        let outside = Outside::draw(&plan, 31, season).expect("weather");
        let record = play(&plan, &outside, 0, 31, options);
        [Key::Arrivals, Key::MissedArrivals].iter().zip(&mut sums).for_each(|(key, sum)| *sum += record.value(*key));
    }
    let [arrivals, missed] = sums;
    let share = missed / arrivals;
    let error = (share * (1.0 - share) / arrivals).sqrt().hypot(got.chance.error) + got.by_steps * share;
    let mean = got.chance.mean;
    println!("{name}: {mean} against {share} +- {error}");
    assert!((0.02..0.97).contains(&share), "{name}: {share}");
    assert!((mean - share).abs() < 4.0 * error, "{name}: {mean} against {share} +- {error}");
}
