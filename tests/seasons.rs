//! Whole seasons: what must hold in every one of them, and what must come out of a well-set shelter.

mod support;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::blame::Blamed;
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::Mechanism;
use dooryard::scenario::mower::RainHabit;
use dooryard::scenario::sensor::{Sensor, SensorKind, StatusCode};
use dooryard::scenario::strategy::{Condition, Detector};
use dooryard::scenario::visitor::{Fault, FaultKind};
use dooryard::scenario::weather::Weather;
use dooryard::sensing::channel::Sampling;
use proptest::prelude::*;

const QUIET: Options = Options { sampling: Sampling::Exact, events: false };

fn seasons(scenario: &Scenario, strategy: usize, seed: u64, count: u64) -> Vec<SeasonRecord> {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    (0..count)
        .map(|number| play(&plan, &Outside::draw(&plan, seed, number).expect("weather"), strategy, seed, QUIET))
        .collect()
}

fn total(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).sum()
}

/// Laws that no season may break, whatever the scenario.
fn assert_conserved(scenario: &Scenario, record: &SeasonRecord, seed: u64) {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let v = |key| record.value(key);
    let season_h = plan.clock.end().seconds() / 3_600.0;
    // Every departure ends in an arrival, or is still out when the season ends.
    assert!(v(Key::Departures) - v(Key::Arrivals) <= v(Key::Unfinished), "departures without an end");
    assert!(v(Key::Arrivals) <= v(Key::Departures));
    assert!(v(Key::MissedArrivals) + v(Key::LateOpenings) <= v(Key::Arrivals));
    assert!((v(Key::OpenTime) + v(Key::ShutTime) - season_h).abs() < 1e-6, "time leaks");
    assert!(v(Key::MovingTime) <= v(Key::OpenTime) + 1e-9);
    assert!(v(Key::OpenNobodyHome) <= v(Key::OpenTime) + 1e-9);
    let rain_min = 60.0 * v(Key::RainTime);
    for key in [Key::WetWaitingTime, Key::WetInsideTime, Key::WetFloorTime] {
        assert!(v(key) <= rain_min + 1e-6, "more exposure than rain: {key:?}");
    }
    for key in [Key::WetWaitingDepth, Key::WetInsideDepth, Key::WetFloorDepth] {
        assert!(v(key) <= v(Key::RainDepth) + 1e-9);
    }
    // Cycles and openings alternate.
    assert!((v(Key::Openings) - v(Key::DoorCycles)).abs() <= 1.0, "openings and cycles do not alternate");
    assert!(v(Key::Strokes) >= v(Key::Openings) + v(Key::Reversals));
    assert!(v(Key::FalseOpenings) <= v(Key::Openings));
    assert_eq!(record.by_cause[Blamed::FalseOpenings].iter().sum::<u64>() as f64, v(Key::FalseOpenings));
    assert_eq!(record.by_cause[Blamed::MissedArrivals].iter().sum::<u64>() as f64, v(Key::MissedArrivals));
    // Each detector that looks at the way home notices each arrival or does not.
    for tally in record.detectors.iter().filter(|tally| tally.after.total() + tally.unnoticed > 0) {
        assert_eq!((tally.after.total() + tally.unnoticed) as f64, v(Key::Arrivals));
        assert_eq!(tally.after.total(), tally.left.total());
        assert!(tally.blind_h <= season_h);
    }
    assert!((record.condition_h.iter().sum::<f64>() - season_h).abs() < 1e-6);
    assert!((60.0 * record.condition_h[0] - 60.0 * v(Key::RainTime)).abs() < 1e-6);
    // The days add up to the season.
    let days = |f: fn(&dooryard::ledger::record::Day) -> f64| record.days.iter().map(f).sum::<f64>();
    assert!((days(|d| d.rain_mm) - v(Key::RainDepth)).abs() < 1e-6 * (1.0 + v(Key::RainDepth)));
    assert!((days(|d| d.open_min) / 60.0 - v(Key::OpenTime)).abs() < 1e-6);
    assert_eq!(days(|d| f64::from(d.cycles)), v(Key::DoorCycles));
    assert_eq!(days(|d| f64::from(d.arrivals)), v(Key::Arrivals));
    assert!((days(|d| d.wait_s) / 60.0 - v(Key::WaitTotal)).abs() < 1e-6);
    // Rain in the books is the rain that fell.
    let outside = Outside::draw(&plan, seed, record.season).expect("weather");
    assert!((outside.weather.total_rain_mm(&plan.clock) - v(Key::RainDepth)).abs() < 1e-6 * (1.0 + v(Key::RainDepth)));
    for value in &record.values {
        assert!(value.is_finite() && *value >= 0.0, "a metric is {value}");
    }
}

#[test]
fn perfect_sensors_never_miss_and_never_open_falsely() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.mower.dock.failure = 0.0;
    let records = seasons(&scenario, 0, 1, 12);
    assert!(total(&records, Key::Arrivals) > 500.0);
    for key in [
        Key::MissedArrivals,
        Key::LateOpenings,
        Key::FalseOpenings,
        Key::WaitTotal,
        Key::Contacts,
        Key::ClosingsOnOccupied,
        Key::Strandings,
        Key::MissedDepartures,
        Key::ReadingsDropped,
    ] {
        // A reading is "dropped" too when the mower is inside the blind zone; nothing else may be there.
        if key != Key::ReadingsDropped {
            assert_eq!(total(&records, key), 0.0, "{key:?}");
        }
    }
    records.iter().for_each(|record| assert_conserved(&scenario, record, 1));
}

/// A door that opens for its beam opens for the insects in it: as often as they come (a Poisson number, less those
/// that find it open), and the report says so.
#[test]
fn an_insect_in_a_beam_is_named_as_the_cause() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    let SensorKind::BreakBeam { false_per_hour, false_break_s, .. } = &mut scenario.sensors[1].kind else {
        unreachable!("sensor 1 is the beam")
    };
    (*false_per_hour, *false_break_s) = (0.05, 2.0);
    scenario.strategies[0].open = support::any(&[0, 1, 2]);
    let records = seasons(&scenario, 0, 1, 12);
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    let insect =
        plan.causes[Blamed::FalseOpenings].iter().position(|cause| cause == "insect or leaf").expect("a cause");
    let found = total(&records, Key::FalseOpenings);
    assert_eq!(records.iter().map(|record| record.by_cause[Blamed::FalseOpenings][insect]).sum::<u64>() as f64, found);
    let shut_h = total(&records, Key::ShutTime);
    let expected = shut_h / (1.0 / 0.05 + 2.0 / 3_600.0);
    assert!((found - expected).abs() < 4.0 * expected.sqrt(), "{found} false openings, {expected} expected");
}

/// A door too light for its counterweight opens and, with a drive that can only pull, never shuts again. The motor that
/// pushes in vain is switched off by its cut-out, which feels the winding, and the controller gives up after its
/// retries instead of trying all season.
#[test]
fn a_stalled_motor_is_cut_off_and_not_tried_for_ever() {
    let mut scenario = support::base();
    let Mechanism::VerticalLift(lift) = &mut scenario.door.mechanism else { unreachable!("it is a lift") };
    lift.counterweight_kg = scenario.door.mass_kg + 1.0;
    (scenario.drive.self_locking, scenario.drive.pushes) = (true, false);
    scenario.drive.heat.winding_j_k = 15.0;
    let settings = scenario.strategies[0].controller;
    for record in seasons(&scenario, 0, 1, 3) {
        let trips_at = scenario.drive.heat.trips_at_c;
        assert!(record.value(Key::ThermalTrips) > 0.0);
        let peak = record.value(Key::WindingPeak);
        assert!((trips_at - 1e-3..trips_at + 0.1).contains(&peak), "{peak} degC with the cut-out at {trips_at}");
        assert_eq!(record.value(Key::DoorCycles), 0.0);
        assert!(record.value(Key::Stalls) > 0.0);
        // Each round of tries is followed by a wait for a person, or by the hold that closing too often gives.
        let round_h = settings.fault_cleared_after.hours().min(settings.care.hold_open_for.hours());
        let rounds = 24.0 * record.days.len() as f64 / round_h + 1.0;
        let tries = rounds * 2.0 * (f64::from(settings.retries) + 2.0);
        assert!(record.value(Key::Strokes) <= tries, "{} strokes, {tries} at most", record.value(Key::Strokes));
    }
}

/// Who only listens to "leaving" messages misses every arrival, and the mower waits, retries and strands.
#[test]
fn a_strategy_without_eyes_misses_every_arrival() {
    let scenario = support::base();
    let records = seasons(&scenario, 1, 1, 3);
    assert_eq!(total(&records, Key::MissedArrivals), total(&records, Key::Arrivals));
    assert_eq!(total(&records, Key::Strandings), total(&records, Key::Arrivals));
    records.iter().for_each(|record| assert_conserved(&scenario, record, 1));
}

/// Rain twice as heavy at the same times, for a mower that takes no notice of rain: twice the exposed depth, the
/// same minutes.
#[test]
fn doubling_the_rain_doubles_the_exposed_depth() {
    let mut scenario = support::base();
    scenario.mower.rain.habit = RainHabit::CarryOn;
    let before = seasons(&scenario, 0, 3, 4);
    let Weather::Generated(weather) = &mut scenario.weather else { unreachable!("the base scenario is generated") };
    weather.intensity_mm_h.iter_mut().for_each(|intensity| *intensity *= 2.0);
    let after = seasons(&scenario, 0, 3, 4);
    for key in [Key::RainDepth, Key::WetFloorDepth, Key::WetInsideDepth] {
        let (a, b) = (total(&before, key), total(&after, key));
        assert!(a > 0.0, "{key:?} needs rain to test");
        assert!((b / a - 2.0).abs() < 1e-9, "{key:?}: {a} then {b}");
    }
    assert!((total(&before, Key::WetFloorTime) - total(&after, Key::WetFloorTime)).abs() < 1e-9);
}

/// Looking changes nothing: with the event log on, every figure is the same.
#[test]
fn the_event_log_changes_nothing() {
    let scenario = support::noisy();
    let plan = Plan::new(&scenario).unwrap();
    let outside = Outside::draw(&plan, 5, 2).unwrap();
    let plain = play(&plan, &outside, 0, 5, QUIET);
    let mut logged = play(&plan, &outside, 0, 5, Options { events: true, ..QUIET });
    assert!(logged.events.len() > 100);
    assert!(logged.events.windows(2).all(|pair| pair[0].at <= pair[1].at), "the log runs backwards");
    logged.events.clear();
    assert_eq!(plain, logged);
}

/// The shortcut and the reference that draws every sample: means over independent seasons, 5 standard errors for each
/// of the metrics that sensing decides. (Ten comparisons: a false alarm has probability below 1e-5 for a fresh seed.)
#[test]
fn skipping_agrees_with_every_sample() {
    let mut scenario = support::noisy();
    scenario.calendar.last_day = jiff::civil::date(2025, 4, 3);
    let keys = [
        Key::FalseOpenings,
        Key::MissedArrivals,
        Key::LateOpenings,
        Key::Openings,
        Key::OpenTime,
        Key::Reversals,
        Key::WaitTotal,
        Key::TrappedVisitors,
        Key::Strokes,
        Key::WetFloorTime,
    ];
    support::skipping_agrees(&scenario, &keys, 40);
}

/// A beam that watches the doorway keeps the door off everything that passes: no closing on an occupied doorway.
/// Without that rule the same shelter closes on the mower's tail.
#[test]
fn the_doorway_rule_is_what_keeps_the_door_off() {
    let mut scenario = support::base();
    let sound = seasons(&scenario, 0, 2, 4);
    assert_eq!(total(&sound, Key::ClosingsOnOccupied), 0.0);
    assert_eq!(total(&sound, Key::Contacts), 0.0);
    let broken = &mut scenario.strategies[0];
    broken.doorway = Condition::Any(vec![]);
    broken.hold = Condition::Any(vec![]);
    broken.open = Condition::Detector(2);
    broken.controller.open_at_least = dooryard::math::time::Span::from_seconds(20.0);
    // It leaves 30 s after its message; messages are dropped after a moment, so that the door shuts on it.
    scenario.detectors[2].release = dooryard::scenario::strategy::RunRule { k: 1, n: 1 };
    scenario.sensors[2].kind = dooryard::scenario::sensor::SensorKind::Status {
        poll_s: 0.0,
        loss: 0.0,
        delay_s: 1.0,
        delay_spread: 0.0,
        stale_after_s: 5.0,
    };
    let records = seasons(&scenario, 0, 2, 4);
    assert!(total(&records, Key::Contacts) > 10.0, "contacts {}", total(&records, Key::Contacts));
    assert!(records.iter().any(|record| record.value(Key::PeakContactForce) > 60.0));
    records.iter().for_each(|record| assert_conserved(&scenario, record, 2));
}

/// Outages show in the books for as long as they last, and the season goes on.
#[test]
fn power_network_and_sensor_faults() {
    let mut scenario = support::base();
    let fault = |name: &str, kind| Fault {
        name: name.into(),
        kind,
        per_year: 60.0,
        lasts: dooryard::scenario::mower::Spread { mean_s: 7_200.0, sd_s: 3_600.0 },
        noise_factor: 4.0,
    };
    scenario.faults = vec![
        fault("mains", FaultKind::Power),
        fault("network", FaultKind::Network),
        fault("web", FaultKind::SensorStuck(0)),
        fault("cable", FaultKind::SensorSilent(1)),
        fault("motor noise", FaultKind::SensorNoisy(3)),
    ];
    let records = seasons(&scenario, 0, 4, 6);
    assert!(total(&records, Key::PowerOut) > 20.0);
    assert!(total(&records, Key::SensorBlind) > total(&records, Key::PowerOut));
    assert!(total(&records, Key::MissedArrivals) > 0.0, "no fault ever mattered");
    assert!(records.iter().all(|record| record.value(Key::DetectorUptime) < 100.0));
    records.iter().for_each(|record| assert_conserved(&scenario, record, 4));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// The laws hold for random scenarios, sensible or not.
    #[test]
    fn conservation_in_random_scenarios(
        noise in 0.0..0.3_f64,
        dropout in 0.0..0.4_f64,
        spurious in 0.0..0.01_f64,
        on in 0.6..5.0_f64,
        cats in 0.0..20.0_f64,
        speed in 0.02..0.2_f64,
        failure in 0.0..0.6_f64,
        patience in 1.0..120.0_f64,
        habit in 0..3_usize,
        limit in 20.0..250.0_f64,
        strategy in 0..2_usize,
        season in 0..50_u64,
    ) {
        let mut scenario = support::base();
        scenario.calendar.last_day = jiff::civil::date(2025, 4, 14);
        scenario.sensors[0].errors.noise = noise;
        scenario.sensors[0].errors.dropout = dropout;
        scenario.sensors[0].errors.spurious = spurious;
        scenario.sensors[0].errors.drift_per_day = 0.01;
        scenario.detectors[0].on = on;
        scenario.detectors[0].off = on + 0.1;
        scenario.visitors[0].per_day = cats;
        scenario.visitors[0].enters = 0.6;
        scenario.drive.no_load_speed_m_s = speed;
        scenario.mower.dock.failure = failure;
        scenario.mower.shut_door.patience_s = patience;
        scenario.mower.departure.patience_s = patience;
        scenario.mower.unscheduled_per_day = 0.5;
        scenario.mower.rain.habit = [RainHabit::GoHome, RainHabit::StayHome, RainHabit::CarryOn][habit];
        scenario.supply.limit_w = limit;
        scenario.faults = vec![Fault {
            name: "mains".into(),
            kind: FaultKind::Power,
            per_year: 50.0,
            lasts: dooryard::scenario::mower::Spread { mean_s: 1_800.0, sd_s: 900.0 },
            noise_factor: 1.0,
        }];
        let plan = Plan::new(&scenario).unwrap();
        let outside = Outside::draw(&plan, 1, season).unwrap();
        let record = play(&plan, &outside, strategy, 1, QUIET);
        assert_conserved(&scenario, &record, 1);
    }
}

/// A status that is asked for every five minutes and believed for as long is not believed for a share of the time that is the
/// probability that a poll is lost: each lost poll costs five minutes (renewal-reward theorem). Nothing else happens here: the
/// mower stays in its dock, as the sensor believes.
#[test]
fn a_polled_status_lapses_when_polls_are_lost() {
    let mut scenario = support::usual();
    let loss = 0.2;
    scenario.sensors[2].kind =
        SensorKind::Status { poll_s: 300.0, loss, delay_s: 2.0, delay_spread: 0.3, stale_after_s: 300.0 };
    scenario.detectors[2].says = vec![StatusCode::Docked];
    scenario.mower.windows.clear();
    scenario.mower.unscheduled_per_day = 0.0;
    let (beliefs_s, all_s) = beliefs_s(&scenario, 4);
    let share = 1.0 - beliefs_s.iter().sum::<f64>() / all_s;
    assert!(beliefs_s.len() > 1_000, "{} gaps", beliefs_s.len());
    assert!((share - loss).abs() < 0.01, "{share} of the time");
}

/// How long detector "leaving" was on each time, and all of these seasons' time, s.
fn beliefs_s(scenario: &Scenario, seasons: u64) -> (Vec<f64>, f64) {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let (mut lasted_s, mut all_s) = (Vec::new(), 0.0);
    for season in 0..seasons {
        let outside = Outside::draw(&plan, 4, season).expect("weather");
        let record = play(&plan, &outside, 0, 4, Options { sampling: Sampling::Exact, events: true });
        let mut since = None;
        for row in record.events.iter().filter(|row| row.who == "leaving" && row.what.starts_with("detector")) {
            match (row.what.as_str(), since.take()) {
                ("detector on", _) => since = Some(row.at),
                (_, Some(from)) => lasted_s.push(row.at.since(from).seconds()),
                (_, None) => panic!("{row:?}: off while it is off"),
            }
        }
        let end = plan.clock.end();
        lasted_s.extend(since.map(|from| end.since(from).seconds()));
        all_s += end.seconds();
    }
    (lasted_s, all_s)
}

/// News that is heard between two polls is believed no longer than an answer: a minute, or two where an answer follows on news.
#[test]
fn news_heard_between_polls_grows_old() {
    let mut scenario = support::usual();
    scenario.sensors[2].kind =
        SensorKind::Status { poll_s: 600.0, loss: 0.0, delay_s: 2.0, delay_spread: 0.3, stale_after_s: 60.0 };
    scenario.detectors[2].says =
        vec![StatusCode::Docked, StatusCode::Leaving, StatusCode::Mowing, StatusCode::Returning];
    let (beliefs_s, all_s) = beliefs_s(&scenario, 1);
    let longest_s = beliefs_s.iter().copied().fold(0.0, f64::max);
    assert!(longest_s > 61.0 && longest_s < 182.0, "{longest_s} s");
    let share = beliefs_s.iter().sum::<f64>() / all_s;
    assert!(share > 0.1 && share < 0.11, "{share} of the time");
}

/// A second status sensor that forgets between its polls takes nothing away from the first one.
#[test]
fn gaps_of_one_status_leave_another_alone() {
    let alone = support::usual();
    let mut both = alone.clone();
    let kind = SensorKind::Status { poll_s: 10.0, loss: 0.1, delay_s: 1.0, delay_spread: 0.3, stale_after_s: 5.0 };
    both.sensors.push(Sensor { name: "app".into(), kind, ..both.sensors[2].clone() });
    let home = Detector {
        name: "app home".into(),
        sensor: both.sensors.len() - 1,
        says: vec![StatusCode::Docked],
        ..both.detectors[2].clone()
    };
    both.detectors.push(home);
    let seen = Condition::All(vec![Condition::Detector(both.detectors.len() - 1), Condition::Detector(0)]);
    both.strategies[0].hold = Condition::Any(vec![both.strategies[0].hold.clone(), seen]);
    let departures = |scenario: &Scenario| {
        let records = seasons(scenario, 0, 4, 2);
        [Key::Departures, Key::MissedDepartures].map(|key| total(&records, key))
    };
    let ([left, kept], [left_too, kept_too]) = (departures(&alone), departures(&both));
    assert!(left > 100.0 && kept_too <= kept + 2.0, "{kept} of {left}, with another {kept_too} of {left_too}");
}

/// A ranger behind the door sees the mower no more: where the panel lies in its blind zone, every arrival is missed; where it
/// does not, the panel is what it sees, and the door opens for its own panel as often as it shuts.
#[test]
fn a_ranger_behind_the_door_sees_the_panel() {
    let placed = |x_m: f64, blind_m: f64| {
        let mut scenario = support::usual();
        if let SensorKind::OpticalRange { aim, .. } = &mut scenario.sensors[0].kind {
            (aim.position_m[0], aim.nearest_m) = (x_m, blind_m);
        }
        let records = seasons(&scenario, 0, 3, 3);
        [Key::Arrivals, Key::MissedArrivals, Key::FalseOpenings].map(|key| total(&records, key))
    };
    let [arrivals, missed, needless] = placed(0.05, 0.1);
    assert!(arrivals > 100.0 && missed < 0.05 * arrivals, "{missed} of {arrivals} missed before the door");
    let [arrivals, missed, _] = placed(-0.2, 0.3);
    assert!(missed > 0.95 * arrivals && arrivals > 0.0, "{missed} of {arrivals} missed from behind the door");
    let [_, _, by_panel] = placed(-0.2, 0.1);
    assert!(by_panel > 100.0 * (needless + 1.0), "{by_panel} needless openings against {needless}");
}

/// Beside an eye that sees the mower now and then, one behind the door changes nothing: it sees the mower only once the other
/// has asked for the door. The expected misses follow the counted ones all the same (4.5 standard errors of the difference).
#[test]
fn expected_misses_beside_a_ranger_behind_the_door() {
    let mut scenario = support::usual();
    scenario.sensors[0].errors.dropout = 0.93;
    let mut behind = Sensor { name: "dry".into(), ..support::ranger(scenario.sensors[3].errors) };
    if let SensorKind::OpticalRange { aim, .. } = &mut behind.kind {
        (aim.position_m[0], aim.nearest_m) = (-0.2, 0.3);
    }
    behind.errors = dooryard::scenario::sensor::Errors { noise: 0.02, ..support::beam().errors };
    scenario.sensors.push(behind);
    let stirs = Detector { name: "stirs".into(), sensor: scenario.sensors.len() - 1, ..scenario.detectors[0].clone() };
    scenario.detectors.push(stirs);
    let added = Condition::Detector(scenario.detectors.len() - 1);
    scenario.strategies[0].open = Condition::Any(vec![scenario.strategies[0].open.clone(), added]);
    let records = seasons(&scenario, 0, 5, 12);
    let [arrivals, missed, expected] =
        [Key::Arrivals, Key::MissedArrivals, Key::MissedArrivalsExpected].map(|key| total(&records, key));
    let share = missed / arrivals;
    assert!(share > 0.05 && share < 0.95, "{missed} of {arrivals}");
    let error = (arrivals * share * (1.0 - share)).sqrt();
    assert!((missed - expected).abs() < 4.5 * error, "{missed} missed, {expected} expected, of {arrivals}");
}

/// A status sensor that sticks goes on repeating what it heard last, and the season goes on: the mower leaves and comes home, whatever
/// it says.
#[test]
fn a_status_sensor_may_stick() {
    let mut scenario = support::usual();
    let lasts = dooryard::scenario::mower::Spread { mean_s: 7_200.0, sd_s: 3_600.0 };
    let kind = FaultKind::SensorStuck(2);
    scenario.faults = vec![Fault { name: "frozen".into(), kind, per_year: 2_000.0, lasts, noise_factor: 1.0 }];
    let record = &seasons(&scenario, 0, 3, 1)[0];
    assert!(record.value(Key::Arrivals) > 50.0 && record.value(Key::MissedDepartures) > 5.0, "{record:?}");
}
