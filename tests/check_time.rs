//! Whether a strategy is in time: `check` and the season must say the same, whatever the open rule, the sensors and the controller.

mod check_support;

use check_support::{beam, loaded_with, read, row, starter_with, verdict};
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::sensor::SensorKind;
use dooryard::scenario::strategy::{Condition, Evidence, LogOdds};
use dooryard::sensing::channel::Sampling;
use dooryard::study::check::{Row, Verdict, check};

fn with_beam(x: &str, rule: &str) -> Scenario {
    let open = format!("open = {rule}");
    starter_with(&[("[controller]", &beam(x)), (r#"open = { any = ["near", "leaving"] }"#, &open)])
}

/// The row of each strategy.
fn in_time(scenario: &Scenario) -> Vec<Row> {
    let result = check(scenario).expect("a result");
    result.rows.into_iter().filter(|row| row.id == "stroke_time").collect()
}

/// Share of a season's arrivals that were late or missed.
fn not_in_time(scenario: &Scenario, strategy: usize) -> f64 {
    let plan = Plan::new(scenario).expect("a plan");
    let outside = Outside::draw(&plan, 1, 0).expect("weather");
    let record = play(&plan, &outside, strategy, 1, Options { sampling: Sampling::Exact, events: false });
    assert!(record.value(Key::Arrivals) > 50.0);
    (record.value(Key::LateOpenings) + record.value(Key::MissedArrivals)) / record.value(Key::Arrivals)
}

/// What fails in `check` is late at nearly every arrival; what fits, at one in twenty at most.
fn agree(name: &str, scenario: &Scenario, expected: Verdict, key: &str) {
    for (index, row) in in_time(scenario).iter().enumerate() {
        let share = not_in_time(scenario, index);
        assert_eq!((row.verdict, row.key.as_str()), (expected, key), "{name} {index}: {row:?}");
        let right = if expected == Verdict::Fails { share > 0.9 } else { share <= 0.05 };
        assert!(right, "{name} {index}: {share} of the season's arrivals, and {row:?}");
    }
}

/// The starter's second strategy opens for what comes near only while the mower says that it is under way: that it says so all
/// the time does not help a ranger that sees it late, or never.
#[test]
fn a_rule_is_as_quick_as_its_parts_allow() {
    let near = [(r#"on = "2.6 m""#, r#"on = "1.2 m""#), (r#"off = "2.9 m""#, r#"off = "1.5 m""#)];
    agree("late", &starter_with(&near), Verdict::Fails, "detector.near.on");
    agree("askew", &starter_with(&[(r#"yaw = "0 deg""#, r#"yaw = "20 deg""#)]), Verdict::Fails, "sensor.eye.yaw");
    let fast = [(r#"slow_speed = "0.2 m/s""#, r#"slow_speed = "0.35 m/s""#)];
    agree("fast mower", &starter_with(&fast), Verdict::Fails, "detector.near.on");
}

#[test]
fn the_warning_before_the_stroke_counts() {
    let warning = [(r#"warning = "2 s""#, "warning = \"2 s\"\nopening_warning = \"5 s\"")];
    let scenario = starter_with(&warning);
    agree("warning", &scenario, Verdict::Fails, "detector.near.on");
    let without = in_time(&starter_with(&[]))[0].value.expect("a time");
    assert!((in_time(&scenario)[0].value.expect("a time") - without - 5.0).abs() < 1e-9);
}

/// Beams, speeds and lossy sensors open doors, too.
#[test]
fn whatever_opens_the_door_is_judged() {
    let alone = r#"{ any = ["out", "leaving"] }"#;
    let first = |scenario: &Scenario| in_time(scenario).swap_remove(0);
    let close = with_beam("0.9 m", alone);
    let row = first(&close);
    assert_eq!((row.verdict, row.key.as_str()), (Verdict::Fails, "sensor.outer.x"), "{row:?}");
    assert!(not_in_time(&close, 0) > 0.9);
    // 0.4 m at 0.2 m/s, two standard deviations of 8 % quicker, less two or three samples of 50 ms and 10 ms.
    let left = row.limit.expect("a time");
    assert!((1.724 - 0.16 - 1e-3..=1.724 - 0.06).contains(&left), "{left}");
    let far = with_beam("2.6 m", alone);
    assert_eq!(first(&far).verdict, Verdict::Fits);
    assert!(not_in_time(&far, 0) <= 0.05);
    // Inside the waiting point nothing breaks it before the mower is in.
    let inside = first(&with_beam("0.3 m", alone));
    assert_eq!((inside.verdict, inside.key.as_str(), inside.value), (Verdict::Fails, "sensor.outer.x", None));
    let speed = starter_with(&[(
        "statistic = \"moving median\"        # or \"level\", \"moving mean\"\nsamples = 3\nsense = \"below\"\non = \"2.6 m\"\noff = \"2.9 m\"",
        "statistic = \"approach rate\"\nsamples = 5\non_speed = \"0.1 m/s\"",
    )]);
    agree("approach rate", &speed, Verdict::Fits, "detector.near.samples");
    // More than every second sample lost: slower by some samples, not blind.
    agree("dropouts", &starter_with(&[("dropout = 0.002", "dropout = 0.6")]), Verdict::Fits, "detector.near.on");
}

/// A slow sensor makes quick mowers wait, not all of them: the row says which.
#[test]
fn it_says_who_waits() {
    let slow = starter_with(&[(r#"latency = "50 ms""#, r#"latency = "3 s""#)]);
    let row = in_time(&slow).swap_remove(0);
    assert_eq!(row.verdict, Verdict::Fails);
    assert!(
        row.note.contains("such a mower waits outside") && row.note.contains("a mean one is in time"),
        "{}",
        row.note
    );
    let share = not_in_time(&slow, 0);
    assert!((0.05..0.7).contains(&share), "{share}");
}

/// Combinations, durations and log-odds, of which the parts' times are known: the eye speaks 8.87 s, a beam at 0.9 m 1.66 s before
/// the mower arrives.
#[test]
fn combinations_take_the_time_of_the_part_that_decides() {
    let mut scenario = with_beam("0.9 m", r#"{ any = ["out", "leaving"] }"#);
    let detector = |scenario: &Scenario, name: &str| {
        Condition::Detector(scenario.detectors.iter().position(|one| one.name == name).expect("a detector"))
    };
    let (near, out) = (detector(&scenario, "near"), detector(&scenario, "out"));
    let (broken, under_way) = (detector(&scenario, "broken"), detector(&scenario, "under way"));
    let mut left = |open: Condition| {
        scenario.strategies[0].open = open;
        in_time(&scenario).swap_remove(0).limit
    };
    let of = |one: &Condition| Box::new(one.clone());
    let eye = left(near.clone()).expect("a time");
    let beam = left(out.clone()).expect("a time");
    assert!(eye > 8.0 && beam < 2.0);
    let same = |got: Option<f64>, expected: f64, what: &str| {
        // Noise is drawn anew: a sample of the eye more or less.
        assert!(got.is_some_and(|got| (got - expected).abs() <= 0.21), "{what}: {got:?} against {expected}");
    };
    same(left(Condition::Any(vec![near.clone(), out.clone()])), eye, "any");
    same(left(Condition::All(vec![near.clone(), out.clone()])), beam, "all");
    let three = vec![near.clone(), out.clone(), broken.clone()];
    same(left(Condition::AtLeast(2, three.clone())), beam, "two of three");
    assert_eq!(left(Condition::AtLeast(3, three)), None);
    same(left(Condition::All(vec![near.clone(), Condition::Not(of(&broken))])), eye, "not");
    same(left(Condition::For(Span::from_seconds(2.0), of(&near))), eye - 2.0, "for");
    // The beam is broken for 3 s while the mower passes: lasting bridges the rest.
    let bridged = Condition::Lasting(Span::from_seconds(60.0), of(&out));
    same(left(Condition::All(vec![bridged, near.clone()])), beam, "lasting");
    let evidence = |when: &Condition| Evidence { when: when.clone(), present: 0.9, absent: 0.1 };
    let sum =
        |at_least: f64| Condition::LogOdds(LogOdds { at_least, prior: 0.0, of: vec![evidence(&near), evidence(&out)] });
    // ln 9 for each that is on, -ln 9 for each that is off: one alone gives 0, both 4.4.
    same(left(sum(-0.1)), eye, "log-odds of one");
    same(left(sum(4.0)), beam, "log-odds of both");
    assert_eq!(left(sum(4.5)), None);
    // What holds all the time that the mower is out.
    assert_eq!(left(under_way), Some(f64::INFINITY));
}

/// A timetable is open in time as long as its hours cover the way home.
#[test]
fn a_timetable_counts_while_its_hours_last() {
    let mut scenario = read("scenarios/orchard.toml");
    let at = scenario.strategies.iter().position(|strategy| strategy.name == "timetable").expect("a strategy");
    let timetable = |scenario: &Scenario| in_time(scenario).swap_remove(at);
    assert_eq!(timetable(&scenario).verdict, Verdict::Fits);
    let before = not_in_time(&scenario, at);
    assert!(before <= 0.05, "{before}");
    for sensor in &mut scenario.sensors {
        if let SensorKind::Clock { lag_s, .. } = &mut sensor.kind {
            *lag_s = 0.0;
        }
    }
    let row = timetable(&scenario);
    assert!(row.verdict == Verdict::Tight && row.key.ends_with(".lag"), "{row:?}");
    assert!(not_in_time(&scenario, at) > before);
}

/// A ranger that sees late fails no design in which something else is in time at every strategy.
#[test]
fn a_late_ranger_beside_one_in_time_is_tight() {
    let late = [(r#"on = "2.6 m""#, r#"on = "1.2 m""#), (r#"off = "2.9 m""#, r#"off = "1.5 m""#)];
    let rule = |old: &'static str, new: &'static str| (old, new);
    let returning =
        "says = [\"leaving\"]\n\n[[detector]]\nname = \"coming\"\nsensor = \"status\"\nsays = [\"returning\"]";
    let scenario = starter_with(&[
        late[0],
        late[1],
        rule("says = [\"leaving\"]", returning),
        rule(r#"open = { any = ["near", "leaving"] }"#, r#"open = { any = ["near", "leaving", "coming"] }"#),
        rule(
            r#"open = { any = ["leaving", { all = ["near", "under way"] }] }"#,
            r#"open = { any = ["leaving", "coming"] }"#,
        ),
        rule(r#"hold = { any = ["near","#, r#"hold = { any = ["near", "coming","#),
        rule(r#"hold = { any = ["near", {"#, r#"hold = { any = ["near", "coming", {"#),
    ]);
    let result = check(&scenario).expect("a result");
    assert_eq!(verdict(&result, "stroke_time"), Verdict::Fits, "{:?}", row(&result, "stroke_time"));
    assert_eq!(verdict(&result, "detection_distance"), Verdict::Tight);
    assert!(not_in_time(&scenario, 0) <= 0.05);
}

/// A message that is forgotten during a run is worth a warning where a rule counts on it; the season strands mowers with it.
#[test]
fn a_message_forgotten_during_a_run_is_warned_of() {
    let short = loaded_with(&[(r#"stale_after = "2 h""#, r#"stale_after = "15 min""#)]);
    let words = short.warnings.to_string();
    assert!(words.contains("believed for 15 min") && words.contains("stale_after"), "{words}");
    assert!(!loaded_with(&[]).warnings.to_string().contains("believed"));
}
