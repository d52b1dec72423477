//! What the cautious half of a controller is worth, in whole seasons: doorways, lost votes, fallback, tracked zeros, rain,
//! power.

mod support;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::{Key, METRICS};
use dooryard::ledger::record::{EventRow, SeasonRecord};
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::care::{BrownOut, ZeroTracking};
use dooryard::scenario::failure::{Failure, mode};
use dooryard::scenario::mower::Spread;
use dooryard::scenario::sensor::{SensorKind, StatusCode};
use dooryard::scenario::strategy::{Condition, Detector, OnDeadSensor, Sense, Statistic};
use dooryard::scenario::visitor::{Fault, FaultKind};
use dooryard::scenario::{Loaded, Scenario, load};
use dooryard::sensing::channel::Sampling;
use jiff::civil::date;

fn seasons(scenario: &Scenario, strategy: usize, seed: u64, numbers: std::ops::Range<u64>) -> Vec<SeasonRecord> {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    numbers
        .map(|number| {
            let outside = Outside::draw(&plan, seed, number).expect("weather");
            play(&plan, &outside, strategy, seed, Options { sampling: Sampling::Exact, events: false })
        })
        .collect()
}

fn log(scenario: &Scenario, seed: u64) -> Vec<EventRow> {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let outside = Outside::draw(&plan, seed, 0).expect("weather");
    play(&plan, &outside, 0, seed, Options { sampling: Sampling::Exact, events: true }).events
}

fn total(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).sum()
}

fn fault(kind: FaultKind, per_year: f64, mean_s: f64) -> Fault {
    let lasts = Spread { mean_s, sd_s: 0.1 * mean_s };
    Fault { name: "fault".into(), kind, per_year, lasts, noise_factor: 6.0 }
}

/// A cat that comes all day and likes to go in, before a door that shuts as soon as it may: whoever does not watch the
/// doorway closes on it. Beams stand on both sides of the panel's edge, so that nobody is under it unseen.
fn busy_doorway() -> Scenario {
    let mut scenario = support::base();
    scenario.calendar.last_day = date(2025, 4, 14);
    scenario.visitors[0].per_day = 60.0;
    scenario.visitors[0].enters = 1.0;
    let mut beams = vec![Condition::Detector(1)];
    for x in [-0.2, 0.2] {
        let mut beam = support::beam();
        let SensorKind::BreakBeam { x_m, .. } = &mut beam.kind else { unreachable!("a beam") };
        *x_m = x;
        beam.name = format!("beam at {x}");
        let broken = Detector {
            name: format!("broken at {x}"),
            sensor: scenario.sensors.len(),
            ..scenario.detectors[1].clone()
        };
        scenario.sensors.push(beam);
        beams.push(Condition::Detector(scenario.detectors.len()));
        scenario.detectors.push(broken);
    }
    let strategy = &mut scenario.strategies[0];
    strategy.hold = Condition::Any(vec![]);
    strategy.doorway = Condition::Lasting(Span::from_seconds(2.0), Box::new(Condition::Any(beams)));
    strategy.controller.open_at_least = Span::from_seconds(1.0);
    scenario
}

fn shipped(path: &str) -> Loaded {
    let metrics: Vec<_> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    load(path.as_ref(), &metrics).unwrap_or_else(|problems| panic!("{problems}"))
}

/// The shipped strategies begin no closing on an occupied doorway.
#[test]
fn shipped_strategies_never_close_on_anything() {
    for name in ["coast", "hillside", "orchard"] {
        let loaded = shipped(&format!("scenarios/{name}.toml"));
        let mut scenario = loaded.scenario;
        scenario.calendar.first_day = date(scenario.calendar.first_day.year(), 7, 1);
        scenario.calendar.last_day = date(scenario.calendar.first_day.year(), 7, 31);
        for strategy in 0..scenario.strategies.len() {
            let records = seasons(&scenario, strategy, 4, 0..6);
            assert!(total(&records, Key::DoorCycles) > 20.0, "{name} {strategy}: the door hardly moves");
            assert_eq!(total(&records, Key::ClosingsOnOccupied), 0.0, "{name} {strategy}");
        }
    }
}

/// The same seasons with the interlock on and off: only without it does the door close on somebody.
#[test]
fn without_the_interlock_the_door_closes_on_somebody() {
    let mut scenario = busy_doorway();
    let sound = seasons(&scenario, 0, 1, 0..20);
    scenario.strategies[0].controller.care.interlock = false;
    let broken = seasons(&scenario, 0, 1, 0..20);
    assert_eq!(total(&sound, Key::ClosingsOnOccupied), 0.0);
    assert!(total(&broken, Key::ClosingsOnOccupied) > 0.0);
    assert!(total(&broken, Key::Contacts) > total(&sound, Key::Contacts));
}

/// Beams that are stuck at "clear" are caught by the self-test before each closing, and by nothing else.
#[test]
fn the_self_test_catches_stuck_beams() {
    let mut scenario = busy_doorway();
    let stuck = |beam: usize| Fault {
        name: format!("stuck {beam}"),
        ..fault(FaultKind::SensorStuck(beam), 300.0, 3.0 * 86_400.0)
    };
    scenario.faults = [1, 4, 5].map(stuck).to_vec();
    let tested = seasons(&scenario, 0, 1, 0..20);
    scenario.strategies[0].controller.care.self_test = false;
    let trusted = seasons(&scenario, 0, 1, 0..20);
    assert_eq!(total(&tested, Key::ClosingsOnOccupied), 0.0);
    assert!(total(&trusted, Key::ClosingsOnOccupied) > 0.0);
    // The price: the door stays open while the beam does not answer.
    assert!(total(&tested, Key::OpenTime) > total(&trusted, Key::OpenTime));
}

/// Moments of one kind in a log.
fn when(log: &[EventRow], who: &str, what: &str) -> Vec<Instant> {
    log.iter().filter(|row| row.who == who && row.what == what).map(|row| row.at).collect()
}

/// The ranger with something to read at rest, so that its noise shows.
fn with_background(scenario: &mut Scenario) {
    let eye = &mut scenario.sensors[0];
    (eye.errors.noise, eye.errors.resolution) = (0.02, 0.001);
    let SensorKind::OpticalRange { background_m, .. } = &mut eye.kind else { unreachable!("a ranger") };
    *background_m = Some(4.5);
}

/// Each sign takes the vote away at its time and gives it back: silence after 5 s, a repeated value after 200 samples at
/// 20 Hz, noise after a whole number of blocks of as many.
#[test]
fn votes_are_lost_and_come_back_on_time() {
    for kind in [FaultKind::SensorSilent(0), FaultKind::SensorStuck(0), FaultKind::SensorNoisy(0)] {
        let mut scenario = support::base();
        scenario.visitors.clear();
        with_background(&mut scenario);
        scenario.faults = vec![fault(kind.clone(), 60.0, 7_200.0)];
        let controller = &mut scenario.strategies[0].controller;
        controller.on_dead_sensor = OnDeadSensor::DropVote;
        controller.care.unhealthy.frozen = true;
        controller.care.unhealthy.noisy = true;
        let log = log(&scenario, 3);
        let (lost, back) = (when(&log, "eye", "loses its vote"), when(&log, "eye", "has its vote back"));
        let (begin, end) = (when(&log, "fault", "fault begins"), when(&log, "fault", "fault ends"));
        assert!(begin.len() >= 4, "{kind:?}: too few faults");
        assert!(lost.len() >= begin.len() - 1 && lost.len() <= begin.len(), "{kind:?}");
        for (from, known) in begin.iter().zip(&lost) {
            let after = known.since(*from).seconds();
            match kind {
                FaultKind::SensorSilent(_) => assert_eq!(after, 5.0),
                FaultKind::SensorStuck(_) => assert!((10.0..=10.05).contains(&after), "{after}"),
                // Six times the noise is conspicuous in the first block.
                _ => assert_eq!(after, 10.0),
            }
        }
        for (to, known) in end.iter().zip(&back) {
            let after = known.since(*to).seconds();
            assert_eq!(after, if matches!(kind, FaultKind::SensorNoisy(_)) { 10.0 } else { 0.0 }, "{kind:?}");
        }
    }
}

/// A drifting ranger loses its vote for as long as its background is off by more than three times its noise: with 10 mm of
/// drift a day, cleaned every ten days, from the seventh day on (60 mm).
#[test]
fn a_drifted_ranger_loses_its_vote_until_it_is_cleaned() {
    let mut scenario = support::base();
    with_background(&mut scenario);
    scenario.sensors[0].errors.drift_per_day = 0.01;
    scenario.sensors[0].errors.cleaned_every_days = 10.0;
    let controller = &mut scenario.strategies[0].controller;
    controller.on_dead_sensor = OnDeadSensor::DropVote;
    controller.care.unhealthy.drifted = true;
    let log = log(&scenario, 3);
    let (lost, back) = (when(&log, "eye", "loses its vote"), when(&log, "eye", "has its vote back"));
    assert_eq!((lost.len(), back.len()), (6, 6), "61 days");
    for (number, (from, to)) in lost.iter().zip(&back).enumerate() {
        let days = |at: &Instant| at.seconds() / 86_400.0 - 10.0 * number as f64;
        // Weather and light are looked at every half-hour by day and when the weather changes.
        assert!((6.0..6.6).contains(&days(from)) && (10.0..10.6).contains(&days(to)), "{} {}", days(from), days(to));
    }
}

/// A platform that feels a mower which is not there keeps the door shut before the one that comes home; its messages say
/// that it mows. With the contradiction noticed after ten minutes the fallback opens for whatever comes near, and nothing
/// else of the season's safety moves.
#[test]
fn a_contradiction_inside_lets_the_fallback_open() {
    let mut scenario = support::usual();
    scenario.calendar.last_day = date(2025, 4, 30);
    scenario.mower.shut_door.bumps = false;
    let docked = Detector { name: "docked".into(), says: vec![StatusCode::Docked], ..scenario.detectors[2].clone() };
    scenario.detectors.push(docked);
    let any = |detectors: &[usize]| Condition::Any(detectors.iter().map(|d| Condition::Detector(*d)).collect());
    let strategy = &mut scenario.strategies[0];
    let comes = Condition::All(vec![any(&[0]), Condition::Not(Box::new(any(&[3])))]);
    strategy.open = Condition::Any(vec![any(&[2]), comes]);
    // The messages of the docked mower are listened to and hold nothing.
    strategy.inside = Condition::All(vec![any(&[3]), any(&[4])]);
    strategy.fallback = any(&[0]);
    let mut phantom = Failure::usual(mode("phantom-occupancy").expect("a mode"), vec![3]);
    phantom.per_year = 600.0;
    phantom.lasts = Spread { mean_s: 86_400.0, sd_s: 20_000.0 };
    scenario.failures.push(phantom);
    let credulous = seasons(&scenario, 0, 6, 0..6);
    scenario.strategies[0].controller.care.contradiction_after_s = 600.0;
    let doubting = seasons(&scenario, 0, 6, 0..6);
    let [before, after] = [&credulous, &doubting].map(|records| total(records, Key::MissedArrivals));
    assert!(before > 20.0 && after < 0.2 * before, "{before} -> {after}");
    for key in [Key::ClosingsOnOccupied, Key::Contacts] {
        assert_eq!(total(&credulous, key), total(&doubting, key), "{key:?}");
    }
    let told = log(&scenario, 6).iter().filter(|row| row.what == "the sensors inside contradict each other").count();
    assert!(told > 3, "{told}");
    // Without a phantom nobody is in doubt for long, and nothing at all changes.
    scenario.failures.clear();
    let doubting = seasons(&scenario, 0, 6, 0..2);
    scenario.strategies[0].controller.care.contradiction_after_s = f64::INFINITY;
    let values = |records: &[SeasonRecord]| records.iter().map(|record| record.values.clone()).collect::<Vec<_>>();
    assert_eq!(values(&doubting), values(&seasons(&scenario, 0, 6, 0..2)));
}

/// With the only ranger silent for days, arrivals are missed; with the fallback on the mower's messages they are not.
#[test]
fn the_fallback_stands_in_for_the_last_eye() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.faults = vec![fault(FaultKind::SensorSilent(0), 400.0, 40.0 * 86_400.0)];
    let coming = Detector { name: "coming".into(), says: vec![StatusCode::Returning], ..scenario.detectors[2].clone() };
    scenario.detectors.push(coming);
    scenario.strategies[0].controller.on_dead_sensor = OnDeadSensor::DropVote;
    let blind = seasons(&scenario, 0, 1, 0..3);
    scenario.strategies[0].fallback = Condition::Detector(4);
    let helped = seasons(&scenario, 0, 1, 0..3);
    let arrivals = total(&blind, Key::Arrivals);
    assert!(total(&blind, Key::MissedArrivals) > 0.9 * arrivals, "{}", total(&blind, Key::MissedArrivals));
    assert!(total(&helped, Key::MissedArrivals) < 0.1 * arrivals, "{}", total(&helped, Key::MissedArrivals));
}

/// A platform whose zero creeps by 0.12 kg a day: untracked, the empty platform looks occupied after six weeks; tracked
/// behind a shut door with nobody inside, it never does; tracked always and fast, it swallows the parked mower.
#[test]
fn a_gated_zero_follows_the_drift_and_not_the_mower() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.sensors[3].errors.drift_per_day = 0.12;
    let strategy = &mut scenario.strategies[0];
    strategy.inside = Condition::Detector(3);
    let mut seen = |tracking: ZeroTracking, zero_per_hour_kg: f64| {
        let care = &mut scenario.strategies[0].controller.care;
        care.zero_tracking = tracking;
        (care.zero_per_hour_kg, care.zero_at_most_kg) = (zero_per_hour_kg, 50.0);
        let (mut on, mut unseen_parked, mut seen_away, mut sorties) = (false, 0, 0, 0);
        for row in log(&scenario, 3) {
            match (row.who.as_str(), row.what.as_str()) {
                ("on platform", what) => on = what == "detector on",
                ("mower", "about to leave") => {
                    sorties += 1;
                    unseen_parked += usize::from(!on);
                }
                ("mower", "goes home") => seen_away += usize::from(on),
                _ => {}
            }
        }
        assert!(sorties > 40, "{sorties}");
        (unseen_parked, seen_away)
    };
    let (off, gated, always) =
        (seen(ZeroTracking::Off, 0.1), seen(ZeroTracking::Gated, 0.1), seen(ZeroTracking::Always, 2.0));
    assert_eq!(off.0, 0);
    assert!(off.1 > 10, "{off:?}");
    assert_eq!(gated, (0, 0));
    assert!(always.0 > 20, "{always:?}");
}

/// In rain one sample less is enough: with a target that shows in 15 of 100 samples, the wait for 2 of 3 falls to that for
/// 1 of 3, and nothing changes in dry weather.
#[test]
fn a_shorter_rule_in_rain_opens_sooner() {
    let mut scenario = support::noisy();
    scenario.calendar.last_day = date(2025, 4, 14);
    let gauge = dooryard::scenario::sensor::Sensor {
        name: "gauge".into(),
        kind: SensorKind::RainGauge,
        period: Span::SECOND,
        latency: Span::ZERO,
        errors: support::PERFECT,
    };
    scenario.sensors.push(gauge);
    let raining = Detector {
        name: "raining".into(),
        sensor: 4,
        statistic: Statistic::Level,
        sense: Sense::Above,
        on: 0.05,
        off: 0.05,
        ..scenario.detectors[1].clone()
    };
    scenario.detectors.push(raining);
    let mut by_rain = |wet: Condition| {
        scenario.strategies[0].wet = wet;
        // The gauge is listened to in both cases.
        scenario.strategies[0].inside = Condition::Detector(4);
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        let (mut dry, mut wet) = (Vec::new(), 0);
        for season in 0..4 {
            let outside = Outside::draw(&plan, 6, season).expect("weather");
            let options = Options { sampling: Sampling::Exact, events: true };
            let mut rains = false;
            for row in play(&plan, &outside, 0, 6, options).events {
                match (row.who.as_str(), row.what.as_str()) {
                    ("raining", what) => rains = what == "detector on",
                    ("near", "detector on") if rains => wet += 1,
                    ("near", "detector on") => dry.push(row.at),
                    _ => {}
                }
            }
        }
        (dry.len(), wet)
    };
    let usual = by_rain(Condition::Any(vec![]));
    let shorter = by_rain(Condition::Detector(4));
    assert!(usual.1 > 20, "{usual:?}");
    assert!(shorter.1 as f64 > 1.5 * usual.1 as f64, "{shorter:?} against {usual:?}");
    assert!((shorter.0 as f64 - usual.0 as f64).abs() < 6.0 * (usual.0 as f64).sqrt(), "{shorter:?} against {usual:?}");
}

/// The shortcut and the reference that draws every sample agree with everything on that judges sensors: 16 days each way, 5
/// standard errors for each metric.
#[test]
fn skipping_agrees_with_every_sample_when_sensors_are_judged() {
    let mut scenario = support::noisy();
    (scenario.calendar.first_day, scenario.calendar.last_day) = (date(2025, 4, 2), date(2025, 4, 2));
    scenario.faults = vec![
        fault(FaultKind::SensorNoisy(0), 300.0, 7_200.0),
        Fault { name: "silent".into(), ..fault(FaultKind::SensorSilent(0), 300.0, 3_600.0) },
        Fault { name: "stuck".into(), ..fault(FaultKind::SensorStuck(0), 300.0, 3_600.0) },
        Fault { name: "mains".into(), ..fault(FaultKind::Power, 300.0, 60.0) },
    ];
    scenario.sensors[3].errors.drift_per_day = 1.0;
    let strategy = &mut scenario.strategies[0];
    strategy.inside = Condition::Detector(3);
    strategy.wet = Condition::For(Span::MINUTE, Box::new(Condition::Detector(3)));
    strategy.fallback = Condition::Detector(2);
    strategy.controller.on_dead_sensor = OnDeadSensor::DropVote;
    let care = &mut strategy.controller.care;
    (care.unhealthy.frozen, care.unhealthy.noisy, care.unhealthy.drifted) = (true, true, true);
    care.zero_tracking = ZeroTracking::Gated;
    care.close_after_in = Span::from_seconds(20.0);
    let keys = [
        Key::FalseOpenings,
        Key::MissedArrivals,
        Key::LateOpenings,
        Key::Openings,
        Key::OpenTime,
        Key::Reversals,
        Key::Strokes,
        Key::WetFloorTime,
    ];
    support::skipping_agrees(&scenario, &keys, 16);
}

/// Power cut off in the middle of a stroke: nothing moves until it has been back for ten seconds and a second was listened
/// for; then the door opens at half its speed, and never goes on closing.
#[test]
fn after_a_power_loss_the_door_looks_for_its_end_slowly_and_towards_open() {
    let mut scenario = support::base();
    scenario.faults = vec![fault(FaultKind::Power, 40_000.0, 20.0)];
    let log = log(&scenario, 3);
    let mut homed = 0;
    let mut usual_s = 0.0;
    for (index, row) in log.iter().enumerate().filter(|(_, row)| row.who == "controller") {
        let next = |who: &str, what: &str| {
            log[index..].iter().find(|row| row.who == who && row.what == what).map(|row| row.at)
        };
        if row.what == "opening" && row.at.seconds() < 86_400.0 * 60.0 {
            let ends = next("door", "open");
            usual_s = f64::max(usual_s, ends.map_or(0.0, |at| at.since(row.at).seconds().min(15.0)));
        }
        if row.what != "starting up" {
            continue;
        }
        let back = log[..index].iter().rev().find(|row| row.what == "fault ends").expect("power came back").at;
        assert!(row.at.since(back).seconds() >= 10.0, "starts too soon");
        // Between the ends the next motion is an opening from there.
        let after: Vec<&EventRow> = log[index + 1..].iter().filter(|row| row.who == "door").take(1).collect();
        if let Some(first) = after.first()
            && first.what == "opening begins"
            && first.detail != "from 0.000 m"
        {
            assert!(first.at.since(row.at).seconds() >= 1.0);
            let from_m: f64 =
                first.detail.trim_start_matches("from ").trim_end_matches(" m").parse().expect("a length");
            if let Some(ends) = log[index + 1..].iter().find(|row| row.who == "door" && row.what == "open") {
                let interrupted = log[index + 1..].iter().any(|row| row.what == "fault begins" && row.at < ends.at);
                if !interrupted && from_m < 0.3 {
                    homed += 1;
                    let seconds = ends.at.since(first.at).seconds();
                    // The panel's top speed is 60 mm/s; half of that is 30 mm/s.
                    assert!(seconds >= (0.4 - from_m) / 0.03, "{seconds} s from {from_m} m");
                }
            }
        } else if let Some(first) = after.first()
            && first.what == "closing begins"
        {
            assert_eq!(first.detail, "from 0.400 m", "goes on closing blind");
        }
    }
    assert!(homed >= 3, "too few strokes were cut off to see anything: {homed}");
}

/// A supply that every stroke overloads: the controller restarts, tries as often as it may, and calls a person instead of
/// trying for ever; one that rides through is refused its strokes as before.
#[test]
fn brown_outs_reset_the_controller_but_not_its_count() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.supply.limit_w = 5.0;
    let reset = log(&scenario, 3);
    let restarts = when(&reset, "controller", "restarts after a brown-out");
    let faults = when(&reset, "controller", "fault, waits for a person");
    assert!(faults.len() > 5);
    // Three retries are allowed: at most four strokes for each call.
    assert!(restarts.len() <= 4 * faults.len() + 4, "{} restarts, {} calls", restarts.len(), faults.len());
    assert!(restarts.windows(2).all(|pair| pair[1].since(pair[0]).seconds() >= 1.0), "restarts without listening");
    scenario.strategies[0].controller.care.brown_out = BrownOut::RidesThrough;
    let rides = log(&scenario, 3);
    assert!(when(&rides, "controller", "restarts after a brown-out").is_empty());
    assert!(when(&rides, "door", "stroke failed").len() > 20);
}

/// The shipped part with a careful controller fits a shipped scenario.
#[test]
fn the_careful_part_can_be_included() {
    let loaded = shipped("tests/scenarios/careful.toml");
    assert!(loaded.warnings.is_empty(), "{}", loaded.warnings);
    let mut scenario = loaded.scenario;
    (scenario.calendar.first_day, scenario.calendar.last_day) = (date(2025, 7, 1), date(2025, 7, 31));
    for (strategy, spec) in scenario.strategies.iter().enumerate() {
        assert_eq!(spec.controller.on_dead_sensor, OnDeadSensor::DropVote);
        let records = seasons(&scenario, strategy, 4, 0..4);
        assert!(total(&records, Key::DoorCycles) > 20.0, "{}", spec.name);
        assert_eq!(total(&records, Key::ClosingsOnOccupied), 0.0, "{}", spec.name);
    }
}

/// Everything that has a wire falls silent at once, or is dead or frozen one by one (modes 51 and 49 of the list of failures, far
/// more often than on real sites). A controller that takes the vote of such sensors, tests those of the doorway and falls back on
/// the mower's messages misses hardly an arrival and begins no closing on anybody; one that trusts them all misses many.
#[test]
fn lost_votes_are_worth_their_while_against_dead_sensors_and_common_causes() {
    for name in ["dead-or-frozen-sensor", "common-cause-loss"] {
        let mut scenario = support::base();
        with_background(&mut scenario);
        scenario.visitors[0].enters = 1.0;
        let coming =
            Detector { name: "coming".into(), says: vec![StatusCode::Returning], ..scenario.detectors[2].clone() };
        scenario.detectors.push(coming);
        scenario.strategies[0].fallback = Condition::Detector(4);
        let mut failure = Failure::usual(mode(name).expect("a mode"), vec![0, 1]);
        (failure.per_year, failure.lasts) = (100.0, Spread { mean_s: 3.0 * 86_400.0, sd_s: 86_400.0 });
        scenario.failures = vec![failure];
        let controller = &mut scenario.strategies[0].controller;
        (controller.on_dead_sensor, controller.care.self_test) = (OnDeadSensor::Ignore, false);
        let ignored = seasons(&scenario, 0, 5, 0..6);
        let controller = &mut scenario.strategies[0].controller;
        (controller.on_dead_sensor, controller.care.self_test) = (OnDeadSensor::DropVote, true);
        controller.care.unhealthy.frozen = true;
        let heeded = seasons(&scenario, 0, 5, 0..6);
        let arrivals = total(&ignored, Key::Arrivals);
        let [before, after] = [&ignored, &heeded].map(|records| total(records, Key::MissedArrivals));
        assert!(before > 0.15 * arrivals && after < 0.2 * before, "{name}: {before} -> {after} of {arrivals}");
        assert_eq!(total(&heeded, Key::ClosingsOnOccupied), 0.0, "{name}");
        // A ranger that is frozen at a near reading would hold the door open or keep it opening; without a vote it can't.
        assert!(total(&heeded, Key::FalseOpenings) <= total(&ignored, Key::FalseOpenings), "{name}");
    }
}

/// A rule that only listens to the mower: with the network down for weeks the mower neither leaves nor comes home, unless the
/// timetable stands in.
#[test]
fn the_timetable_stands_in_for_a_silent_network() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.faults = vec![fault(FaultKind::Network, 400.0, 40.0 * 86_400.0)];
    let coming = Detector { name: "coming".into(), says: vec![StatusCode::Returning], ..scenario.detectors[2].clone() };
    scenario.detectors.push(coming);
    let hours = dooryard::scenario::sensor::Sensor {
        name: "hours".into(),
        kind: SensorKind::Clock { lead_s: 300.0, lag_s: 3_600.0 },
        period: Span::SECOND,
        latency: Span::ZERO,
        errors: support::PERFECT,
    };
    scenario.sensors.push(hours);
    let open = Detector { name: "in hours".into(), sensor: 4, says: Vec::new(), ..scenario.detectors[2].clone() };
    scenario.detectors.push(open);
    let strategy = &mut scenario.strategies[0];
    strategy.open = support::any(&[2, 4]);
    strategy.hold = support::any(&[2, 4]);
    strategy.fallback = Condition::Detector(5);
    let missed = |scenario: &Scenario| {
        let records = seasons(scenario, 0, 1, 0..3);
        total(&records, Key::MissedArrivals) + total(&records, Key::MissedDepartures)
    };
    let deaf = missed(&scenario);
    scenario.strategies[0].controller.on_dead_sensor = OnDeadSensor::DropVote;
    let helped = missed(&scenario);
    assert!(deaf > 50.0 && helped < 0.1 * deaf, "{deaf} -> {helped}");
}

/// A zero that swallows the parked mower (mode 14): the platform reads empty after hours and comes back as slowly. A
/// controller that tracks the zero itself, and only behind a shut door with nobody in, is wrong no longer than without the
/// failure.
#[test]
fn a_gated_zero_is_proof_against_one_that_swallows_the_mower() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.strategies[0].inside = Condition::Detector(3);
    let wrong = |scenario: &Scenario| total(&seasons(scenario, 0, 3, 0..3), Key::BeliefError);
    let sound = wrong(&scenario);
    let mut failure = Failure::usual(mode("auto-zero-swallows-mower").expect("a mode"), vec![3]);
    failure.figures[0] = 50.0;
    scenario.failures = vec![failure];
    let swallowed = wrong(&scenario);
    scenario.strategies[0].controller.care.zero_tracking = ZeroTracking::Gated;
    let gated = wrong(&scenario);
    assert!(swallowed > sound + 300.0, "{sound} -> {swallowed}");
    assert!((gated - sound).abs() < 1.0, "{sound} -> {gated}");
}

/// Two rangers that must agree to open, one of which does not see the mower: it waits before a shut door until somebody helps.
/// With the contradiction noticed after half a minute any of them opens, and somebody is told; the mower waits for no longer
/// than that and the stroke.
#[test]
fn rangers_that_contradict_each_other_open_one_by_one() {
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.mower.shut_door.bumps = false;
    let mut other = support::ranger(support::PERFECT);
    other.name = "other eye".into();
    let SensorKind::OpticalRange { aim, .. } = &mut other.kind else { unreachable!("a ranger") };
    aim.yaw_deg = 80.0;
    scenario.sensors.push(other);
    let sees = Detector { name: "near too".into(), sensor: 4, ..scenario.detectors[0].clone() };
    scenario.detectors.push(sees);
    let strategy = &mut scenario.strategies[0];
    let both = Condition::All(vec![Condition::Detector(0), Condition::Detector(4)]);
    strategy.open = Condition::Any(vec![Condition::Detector(2), both.clone()]);
    strategy.hold = Condition::Any(vec![Condition::Detector(2), both, strategy.doorway.clone()]);
    let stubborn = seasons(&scenario, 0, 6, 0..2);
    scenario.strategies[0].controller.care.disagreement_after_s = 30.0;
    let doubting = seasons(&scenario, 0, 6, 0..2);
    let [before, after] = [&stubborn, &doubting].map(|records| total(records, Key::Strandings));
    let arrivals = total(&stubborn, Key::Arrivals);
    assert!(before > 0.9 * arrivals && after == 0.0, "{before} -> {after} of {arrivals}");
    // By hand: it stands for its patience at each try; backing off in between is no wait, in the longest as in the total.
    let manners = scenario.mower.shut_door;
    let whole = manners.patience_s * f64::from(manners.retries + 1);
    for record in &stubborn {
        let [longest, all] = [Key::WaitLongest, Key::WaitTotal].map(|key| record.value(key));
        assert!((longest - whole).abs() < 1e-3, "{longest} s and {whole} s by hand");
        assert!(longest <= 60.0 * all + 1e-6, "the longest wait, {longest} s, of {all} min in all");
    }
    let longest = doubting.iter().map(|record| record.value(Key::WaitLongest)).fold(0.0, f64::max);
    assert!((10.0..45.0).contains(&longest), "{longest} s");
    let log = log(&scenario, 6);
    assert!(when(&log, "notice", "the rangers contradict each other").len() > 20);
    for key in [Key::ClosingsOnOccupied, Key::Contacts] {
        assert_eq!(total(&doubting, key), 0.0, "{key:?}");
    }
}

/// A battery that only strokes drain, and that no sun charges for weeks: with the reserve heeded the door is never found shut by
/// an empty battery, and somebody is told why it stays open; without it is.
#[test]
fn nothing_closes_on_a_battery_that_could_not_open_again() {
    use dooryard::scenario::door::{Solar, Source};
    let mut scenario = support::base();
    scenario.visitors.clear();
    scenario.supply.standby_w = 1e-6;
    scenario.supply.source = Source::Solar(Solar {
        battery_wh: 1.0,
        usable: 0.8,
        panel_w: 1e-4,
        performance: 0.7,
        sun_h: 2.0,
        efficiency: 0.9,
        restarts_at: 0.5,
    });
    let mut shut_at_the_end = |reserve: f64| {
        scenario.strategies[0].controller.care.reopening_reserve = reserve;
        let log = log(&scenario, 6);
        let out = log.iter().position(|row| row.who == "battery").unwrap_or(log.len());
        let last = log[..out].iter().rev().find(|row| row.who == "door").expect("the door moved");
        let told = when(&log, "notice", "stays open, the battery could not open it again").len();
        (last.what.clone(), out < log.len(), told)
    };
    let (heeded, ran_out, told) = shut_at_the_end(1.0);
    assert_eq!((heeded.as_str(), ran_out), ("open", false), "stays open, and a charge is left");
    assert!(told >= 1);
    let (trusted, ran_out, told) = shut_at_the_end(0.0);
    assert!(ran_out && told == 0, "{trusted}");
    assert!(trusted != "open", "{trusted}");
}
