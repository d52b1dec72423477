//! Whom a false opening is put down to, and what counts as a false run: only what would have opened the door by itself is a cause,
//! and a detector that remembers somebody does not speak of nothing.

use dooryard::engine::plan::{DEPARTURE_CAUSES, FALSE_CAUSES, KEPT_CAUSES, MISSED_CAUSES};
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::blame::Blamed;
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::failure::{Failure, mode};
use dooryard::scenario::mower::Spread;
use dooryard::scenario::sensor::{Errors, Sensor, SensorKind, StatusCode};
use dooryard::scenario::strategy::{
    BuiltIn, Condition, Detector, Evidence, LogOdds, OnDeadSensor, RunRule, Sense, Statistic,
};
use dooryard::scenario::visitor::{Fault, FaultKind};
use dooryard::scenario::weather::Weather;
use dooryard::sensing::channel::Sampling;

/// The coast in June, where the eye sees things that are not there, with a clock and a strategy for each of these open rules.
fn coast(rules: &[Condition]) -> Scenario {
    let path = format!("{}/scenarios/coast.toml", env!("CARGO_MANIFEST_DIR"));
    let mut scenario =
        dooryard::scenario::load(path.as_ref(), dooryard::cli::wiring::metrics()).expect("a scenario").scenario;
    (scenario.calendar.first_day, scenario.calendar.last_day) =
        (jiff::civil::date(2025, 6, 1), jiff::civil::date(2025, 6, 30));
    let eye = scenario.detectors[near(&scenario)].sensor;
    scenario.sensors[eye].errors.spurious = 2e-4;
    let clock = SensorKind::Clock { lead_s: 0.0, lag_s: 3_600.0 };
    let clock = Sensor { name: "own clock".into(), kind: clock, ..scenario.sensors[status(&scenario)].clone() };
    scenario.sensors.push(clock);
    let messages = status(&scenario);
    if let SensorKind::Status { stale_after_s, .. } = &mut scenario.sensors[messages].kind {
        *stale_after_s = 21_600.0;
    }
    let hears = |name: &str, sensor: usize, says: Vec<StatusCode>| Detector {
        name: name.into(),
        sensor,
        statistic: Statistic::Level,
        sense: Sense::Above,
        on: 0.5,
        off: 0.5,
        says,
        rule: RunRule { k: 1, n: 1 },
        release: RunRule { k: 1, n: 1 },
        ..scenario.detectors[0].clone()
    };
    let out = hears("out", status(&scenario), vec![StatusCode::Mowing, StatusCode::Returning]);
    let hours = hears("own hours", scenario.sensors.len() - 1, Vec::new());
    scenario.detectors.extend([out, hours]);
    let near = near(&scenario);
    (scenario.detectors[near].statistic, scenario.detectors[near].rule) = (Statistic::Level, RunRule { k: 1, n: 1 });
    let base = scenario.strategies.iter().find(|it| it.name == "quick in rain").expect("a strategy").clone();
    let of = |rule: &Condition| {
        let mut strategy = base.clone();
        strategy.open = rule.clone();
        strategy
    };
    scenario.strategies = rules.iter().map(of).collect();
    scenario
}

fn near(scenario: &Scenario) -> usize {
    scenario.detectors.iter().position(|it| it.name == "near").expect("a detector")
}

fn status(scenario: &Scenario) -> usize {
    scenario.sensors.iter().position(|it| matches!(it.kind, SensorKind::Status { .. })).expect("a sensor")
}

/// Near, out and hours, as conditions; the last two are the detectors that [`coast`] adds.
fn conditions() -> [Condition; 3] {
    let scenario = coast(&[]);
    let last = scenario.detectors.len() - 1;
    [near(&scenario), last - 1, last].map(Condition::Detector)
}

fn season(scenario: &Scenario, strategy: usize) -> SeasonRecord {
    let plan = Plan::new(scenario).expect("a plan");
    let outside = Outside::draw(&plan, 1, 0).expect("weather");
    play(&plan, &outside, strategy, 1, Options { sampling: Sampling::Exact, events: false })
}

fn place(causes: &[&str], cause: &str) -> usize {
    causes.iter().position(|name| *name == cause).expect("a cause")
}

fn put_down_to(record: &SeasonRecord, cause: &str) -> u64 {
    record.by_cause[Blamed::FalseOpenings][place(&FALSE_CAUSES, cause)]
}

/// Hours and messages that only let the eye speak are not to blame for it; those that open by themselves are.
#[test]
fn what_only_permits_is_no_cause() {
    let [near, out, hours] = conditions();
    let both = |gate: &Condition| Condition::All(vec![near.clone(), gate.clone()]);
    let either = Condition::Any(vec![hours.clone(), near.clone()]);
    let plain = coast(&[]);
    let leaving = plain.detectors.iter().position(|it| it.name == "leaving").expect("a detector");
    let told = Condition::Any(vec![both(&out), Condition::Detector(leaving)]);
    let scenario = coast(&[both(&hours), told, either]);
    for (strategy, gate) in [(0, "timetable"), (1, "status message")] {
        let record = season(&scenario, strategy);
        let noise = put_down_to(&record, "noise") + put_down_to(&record, "rain") + put_down_to(&record, "sun");
        assert_eq!(put_down_to(&record, gate), 0);
        assert!(
            noise > 20,
            "{strategy} {noise} {:?} {}",
            record.by_cause[Blamed::FalseOpenings],
            record.value(Key::Openings)
        );
    }
    let record = season(&scenario, 2);
    let [timetable, noise] = ["timetable", "noise"].map(|cause| put_down_to(&record, cause));
    // The hours open once a day, within them nothing opens anew.
    assert!((10..=40).contains(&timetable) && noise > 20, "{timetable}, {noise}");
}

/// A dead gauge that the open rule never asks opens nothing; an eye that is to hold the door open when it is dead does.
#[test]
fn only_a_dead_sensor_that_opens_is_a_cause() {
    let [near, ..] = conditions();
    let mut scenario = coast(&[near]);
    let gauge = scenario.sensors.iter().position(|it| matches!(it.kind, SensorKind::RainGauge)).expect("a gauge");
    scenario.faults.push(Fault {
        name: "gauge".into(),
        kind: FaultKind::SensorSilent(gauge),
        per_year: 300.0,
        lasts: Spread { mean_s: 43_200.0, sd_s: 0.0 },
        noise_factor: 1.0,
    });
    let dead = |on_dead_sensor: OnDeadSensor| {
        let mut scenario = scenario.clone();
        scenario.strategies[0].controller.on_dead_sensor = on_dead_sensor;
        let record = season(&scenario, 0);
        (put_down_to(&record, "dead sensor"), put_down_to(&record, "noise"))
    };
    let (drop_vote, noise) = dead(OnDeadSensor::DropVote);
    assert!(drop_vote == 0 && noise > 50, "{drop_vote}, {noise}");
    let (hold_open, _) = dead(OnDeadSensor::HoldOpen);
    assert!(hold_open > 5, "{hold_open}");
}

/// Birds that fly past a perfect eye leave it, and it speaks a moment later of what it has seen: no false run.
#[test]
fn what_is_remembered_is_no_false_run() {
    let [near, ..] = conditions();
    let mut scenario = coast(&[near]);
    let detector = self::near(&scenario);
    let eye = scenario.detectors[detector].sensor;
    scenario.sensors[eye].errors = Errors::NONE;
    scenario.detectors[detector].rule = RunRule { k: 4, n: 12 };
    for visitor in &mut scenario.visitors {
        visitor.per_day = 200.0;
        visitor.speed_m_s = 3.0;
        visitor.dwell = Spread { mean_s: 0.05, sd_s: 0.02 };
    }
    let record = season(&scenario, 0);
    let tally = &record.detectors[detector];
    assert_eq!(tally.false_runs.counted, [0; 3]);
    // It has seen plenty.
    assert!(record.value(Key::FalseOpenings) > 50.0, "{}", record.value(Key::FalseOpenings));
}

/// Without a network nobody hears messages: a third of the season down is a third of the uptime gone.
#[test]
fn no_network_is_no_uptime() {
    let [_, out, _] = conditions();
    let mut scenario = coast(&[out]);
    scenario.strategies[0].hold = Condition::BuiltIn(BuiltIn::Never);
    scenario.strategies[0].controller.care.power_stable_for = Span::ZERO;
    scenario.faults = vec![Fault {
        name: "network".into(),
        kind: FaultKind::Network,
        per_year: 365.25,
        lasts: Spread { mean_s: 28_800.0, sd_s: 0.0 },
        noise_factor: 1.0,
    }];
    let plan = Plan::new(&scenario).expect("a plan");
    let outside = Outside::draw(&plan, 1, 0).expect("weather");
    let mut down = vec![];
    for outage in &outside.outages {
        down.push((outage.from.seconds(), outage.to.seconds()));
    }
    down.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut hours, mut until) = (0.0, 0.0_f64);
    for (from, to) in down {
        hours += (to.min(30.0 * 86_400.0) - from.max(until)).max(0.0) / 3_600.0;
        until = until.max(to);
    }
    let record = season(&scenario, 0);
    let blind_h = record.detectors[scenario.detectors.len() - 2].blind_h;
    assert!(hours > 100.0 && (blind_h - hours).abs() < 1e-3, "{blind_h} h of {hours}");
}

/// Arrivals at the coast's door in June for this open rule, after a change, all put down to a cause.
fn missed(rule: Condition, change: impl Fn(&mut Scenario)) -> (SeasonRecord, u64, f64) {
    let mut scenario = coast(&[rule]);
    // In the middle of the eye's cone where it waits: beside it, it would be out of reach.
    scenario.mower.approach.sideways_m = 0.0;
    change(&mut scenario);
    let record = season(&scenario, 0);
    let (all, arrivals) = (record.by_cause[Blamed::MissedArrivals].iter().sum(), record.value(Key::Arrivals));
    (record, all, arrivals)
}

fn missed_by(record: &SeasonRecord, cause: &str) -> u64 {
    record.by_cause[Blamed::MissedArrivals][place(&[KEPT_CAUSES.as_slice(), &MISSED_CAUSES].concat(), cause)]
}

/// An eye that each condition blinds on purpose, and one that has nothing to complain of but where it looks, how long it waits, or a
/// message that it never hears: each has its cause, by far the most of those missed.
#[test]
fn a_missed_arrival_has_the_cause_that_was_built_in() {
    let [near, out, hours] = conditions();
    let eye = |scenario: &Scenario| scenario.detectors[self::near(scenario)].sensor;
    let set_eye = |scenario: &mut Scenario, set: &dyn Fn(&mut SensorKind, &mut Errors)| {
        let eye = eye(scenario);
        let sensor = &mut scenario.sensors[eye];
        set(&mut sensor.kind, &mut sensor.errors);
    };
    let by_day = |s: &mut Scenario| {
        set_eye(s, &|kind, _| {
            let SensorKind::OpticalRange { farthest_sun_m, .. } = kind else { panic!("an optical ranger") };
            *farthest_sun_m = 0.05;
        });
    };
    let aside = |s: &mut Scenario| {
        set_eye(s, &|kind, _| {
            let SensorKind::OpticalRange { aim, .. } = kind else { panic!("an optical ranger") };
            aim.yaw_deg += 100.0;
        });
    };
    let patient = |s: &mut Scenario| {
        let near = self::near(s);
        s.detectors[near].rule = RunRule { k: 64, n: 64 };
        let eye = eye(s);
        s.sensors[eye].period = Span::from_seconds(2.0);
    };
    let forgetful = |s: &mut Scenario| {
        let messages = status(s);
        let SensorKind::Status { stale_after_s, .. } = &mut s.sensors[messages].kind else { panic!("messages") };
        *stale_after_s = 20.0;
    };
    let dim = |s: &mut Scenario| {
        let eye = eye(s);
        let mut dirt = Failure::usual(mode("dirt-on-window").expect("a mode"), vec![eye]);
        dirt.figures[0] = 0.8;
        s.failures.push(dirt);
        s.sensors[eye].errors.cleaned_every_days = f64::INFINITY;
    };
    // Somebody has to let it out.
    let leaving = coast(&[]).detectors.iter().position(|it| it.name == "leaving").expect("a detector");
    let or_leaving = |rule: &Condition| Condition::Any(vec![rule.clone(), Condition::Detector(leaving)]);
    type Change<'a> = &'a dyn Fn(&mut Scenario);
    let delayed = |s: &mut Scenario| s.mower.approach.way_home = Spread { mean_s: 36_000.0, sd_s: 0.0 };
    let mostly = |cause: &str, rule: Condition, change: Change| {
        let (record, all, arrivals) = missed(rule, change);
        let of_it = missed_by(&record, cause);
        assert!(
            all as f64 > 0.25 * arrivals,
            "{cause}: {all} of {arrivals} missed, {:?}",
            record.by_cause[Blamed::MissedArrivals]
        );
        assert!(of_it * 10 >= all * 8, "{cause}: {of_it} of {all}, {:?}", record.by_cause[Blamed::MissedArrivals]);
        record
    };
    // Half of the time the mower reads as farther off than the level.
    let wandering = |s: &mut Scenario| {
        let eye = eye(s);
        s.sensors[eye].errors.random_drift = 10.0;
    };
    let cases: [(&str, Condition, Change); 7] = [
        ("drift", or_leaving(&near), &wandering),
        ("sun or daylight", or_leaving(&near), &by_day),
        ("out of reach", or_leaving(&near), &aside),
        ("noticed too late", or_leaving(&near), &patient),
        ("message not heard", or_leaving(&out), &forgetful),
        ("outside the hours", hours.clone(), &delayed),
        ("dew or dirt", or_leaving(&near), &dim),
    ];
    for (cause, rule, change) in cases {
        mostly(cause, rule, change);
    }
    // The same where the eye loses the mower before it waits: it is too near there.
    let too_near = |s: &mut Scenario| {
        let eye = eye(s);
        let SensorKind::OpticalRange { aim, .. } = &mut s.sensors[eye].kind else { panic!("an optical ranger") };
        aim.nearest_m = 1.0;
    };
    let evening = |s: &mut Scenario| {
        too_near(s);
        delayed(s);
    };
    let dazzled = |s: &mut Scenario| {
        too_near(s);
        by_day(s);
    };
    let smeared = |s: &mut Scenario| {
        too_near(s);
        dim(s);
    };
    // It looks down from above on a place two metres before the door: from there it takes longer than the door stays open.
    let slow = |s: &mut Scenario| {
        let (near, eye) = (self::near(s), eye(s));
        (s.detectors[near].on, s.detectors[near].off) = (3.0, 3.2);
        let SensorKind::OpticalRange { aim, .. } = &mut s.sensors[eye].kind else { panic!("an optical ranger") };
        (aim.position_m, aim.yaw_deg, aim.pitch_deg) = ([0.05, 0.0, 1.0], 0.0, -20.0);
        s.mower.approach.slow_speed_m_s = 0.02;
        s.strategies[0].hold = Condition::BuiltIn(BuiltIn::Never);
        s.strategies[0].controller.open_at_least = Span::from_seconds(10.0);
        s.strategies[0].controller.warning = Span::from_seconds(1.0);
    };
    // It forgets its messages, too, but none of them would have opened the door.
    let aside_and_deaf = |s: &mut Scenario| {
        aside(s);
        forgetful(s);
    };
    let late = |s: &mut Scenario| {
        let eye = eye(s);
        s.sensors[eye].latency = Span::from_seconds(60.0);
    };
    let with_hours = or_leaving(&Condition::All(vec![near.clone(), hours.clone()]));
    let evidence = Evidence { when: near.clone(), present: 0.9, absent: 0.01 };
    let never_enough = Condition::LogOdds(LogOdds { at_least: 9.0, prior: -2.0, of: vec![evidence] });
    let cases: [(&str, Condition, Change); 7] = [
        ("sun or daylight", or_leaving(&near), &dazzled),
        ("dew or dirt", or_leaving(&near), &smeared),
        ("outside the hours", with_hours, &evening),
        ("shut again too early", or_leaving(&near), &slow),
        ("another condition of the rule", or_leaving(&never_enough), &too_near),
        ("out of reach", or_leaving(&near), &aside_and_deaf),
        ("noticed too late", or_leaving(&near), &late),
    ];
    for (cause, rule, change) in cases {
        let record = mostly(cause, rule, change);
        // What the controller hears of only after the mower has come, it has not noticed in time.
        let eye = &record.detectors[self::near(&coast(&[]))];
        let noticed = ["outside the hours", "shut again too early", "another condition of the rule"].contains(&cause);
        let (in_time, not) = (eye.after.total() as f64, eye.unnoticed as f64);
        assert!(
            if noticed { in_time > 9.0 * not } else { not > 9.0 * in_time || cause != "noticed too late" },
            "{cause}: {in_time} {not}"
        );
    }
    // Rain alone: where it takes nearly all readings, nothing is missed in the dry.
    let (record, all, _) = missed(or_leaving(&near), |s| {
        set_eye(s, &|_, errors| errors.dropout_rain = 0.999);
        let Weather::Generated(weather) = &mut s.weather else { panic!("generated weather") };
        (weather.dry_spell_h, weather.wet_spell_h) = ([6.0; 12], [6.0; 12]);
        (weather.intensity_mm_h, weather.intensity_shape) = ([15.0; 12], 20.0);
    });
    let rain = missed_by(&record, "rain");
    assert!(rain > 5 && rain * 10 >= all * 8, "{rain} of {all}, {:?}", record.by_cause[Blamed::MissedArrivals]);
}

/// Departures given up, each for the reason that was built in, by far the most of them.
#[test]
fn a_departure_given_up_has_the_cause_that_was_built_in() {
    let detector = |name: &str| {
        let place = coast(&[]).detectors.iter().position(|it| it.name == name).expect("a detector");
        Condition::Detector(place)
    };
    let [near, out, _] = conditions();
    let leaving = detector("leaving");
    let fault = |kind: FaultKind| {
        let lasts = Spread { mean_s: 28_800.0, sd_s: 0.0 };
        Fault { name: "often".into(), kind, per_year: 1_500.0, lasts, noise_factor: 1.0 }
    };
    let deaf = |s: &mut Scenario| {
        let messages = status(s);
        let SensorKind::Status { loss, .. } = &mut s.sensors[messages].kind else { panic!("messages") };
        *loss = 0.9;
    };
    let silent = |s: &mut Scenario| {
        let mut silent = Failure::usual(mode("departure-undetected").expect("a mode"), vec![]);
        silent.figures[0] = 0.5;
        s.failures.push(silent);
    };
    let stuck = |s: &mut Scenario| s.faults = vec![fault(FaultKind::SensorStuck(status(s)))];
    let hasty = |s: &mut Scenario| (s.mower.departure.notice_s, s.mower.departure.patience_s) = (12.0, 1.0);
    let evidence = Evidence { when: near.clone(), present: 0.9, absent: 0.01 };
    let never = Condition::LogOdds(LogOdds { at_least: 9.0, prior: -2.0, of: vec![evidence] });
    let never = Condition::All(vec![leaving.clone(), never]);
    type Change<'a> = &'a dyn Fn(&mut Scenario);
    let cases: [(&str, &Condition, Change); 8] = [
        ("nothing listens for it", &out, &|_| ()),
        ("message not heard", &leaving, &deaf),
        ("network", &leaving, &|s| s.faults = vec![fault(FaultKind::Network)]),
        ("power", &leaving, &|s| s.faults = vec![fault(FaultKind::Power)]),
        ("sensor fault", &leaving, &stuck),
        ("mower silent", &leaving, &silent),
        ("door too late", &leaving, &hasty),
        ("another condition of the rule", &never, &|_| ()),
    ];
    for (cause, rule, change) in cases {
        let mut scenario = coast(std::slice::from_ref(rule));
        change(&mut scenario);
        let record = season(&scenario, 0);
        let all: u64 = record.by_cause[Blamed::MissedDepartures].iter().sum();
        assert_eq!(all as f64, record.value(Key::MissedDepartures), "{cause}");
        let place = place(&[KEPT_CAUSES.as_slice(), &DEPARTURE_CAUSES].concat(), cause);
        let of_it = record.by_cause[Blamed::MissedDepartures][place];
        assert!(
            of_it > 5 && of_it * 10 >= all * 8,
            "{cause}: {of_it} of {all}, {:?}",
            record.by_cause[Blamed::MissedDepartures]
        );
    }
}
