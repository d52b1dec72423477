//! Chances of being missed where a rule asks for several detectors, or for detectors that share a sensor or keep a sum.

mod common;
mod support;

use common::Tally;
use dooryard::engine::Plan;
use dooryard::engine::approach::{Approach, NotWorkedOut, Outset, Path};
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::sensor::SensorKind;
use dooryard::scenario::strategy::{Condition, Detector, Evidence, LogOdds, RatioTest, RunRule, Statistic};
use dooryard::study::rare::{RareMisses, RareSettings, rare_misses, season_outsets};

fn all(parts: &[usize]) -> Condition {
    Condition::All(parts.iter().map(|it| Condition::Detector(*it)).collect())
}

fn chance(scenario: &Scenario, seasons: u64, draws: u64) -> RareMisses {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let settings = RareSettings { strategy: 0, seed: 31, seasons, draws, defensive: 0.5, confidence: 0.95 };
    rare_misses(&plan, &settings).expect("weather").expect("approaches")
}

/// What is worked out against what seasons count: 4 standard errors of the share missed.
#[test]
fn chances_agree_with_counted_misses() {
    let plain = support::three_looks();
    let with = |open: Condition| {
        let mut scenario = plain.clone();
        // The mower says when it wants to leave.
        scenario.strategies[0].open = Condition::Any(vec![Condition::Detector(2), open]);
        scenario
    };
    let alone = |change: &dyn Fn(&mut Detector)| {
        let mut scenario = with(Condition::Detector(0));
        change(&mut scenario.detectors[0]);
        scenario
    };
    let evidence =
        |detector: usize, present: f64| Evidence { when: Condition::Detector(detector), present, absent: 0.1 };
    let sum = LogOdds { at_least: 2.5, prior: 0.0, of: vec![evidence(0, 0.9), evidence(4, 0.8), evidence(1, 0.7)] };
    let test = RatioTest {
        absent: 0.9,
        present: 0.5,
        spread: 0.3,
        false_alarm: 0.02,
        false_rest: 1e-2,
        at_most: f64::INFINITY,
    };
    let mut rainy = with(all(&[0, 4]));
    rainy.strategies[0].wet = Condition::BuiltIn(dooryard::scenario::strategy::BuiltIn::Always);
    rainy.detectors[4].rule = RunRule { k: 3, n: 4 };
    // Insects before both windows: the second eye sees nothing else so near.
    let mut outliers = with(all(&[0, 4]));
    (outliers.sensors[0].errors.spurious, outliers.sensors[4].errors.spurious) = (0.01, 0.3);
    (outliers.detectors[4].on, outliers.detectors[4].off) = (0.2, 0.3);
    let holds_for = |seconds: f64, detector: usize| {
        Condition::For(Span::from_seconds(seconds), Box::new(Condition::Detector(detector)))
    };
    let cases = [
        ("both eyes", with(all(&[0, 4]))),
        ("both eyes, outliers", outliers),
        ("both eyes, shorter", rainy),
        ("two of three", with(Condition::AtLeast(2, [0, 1, 4].map(Condition::Detector).to_vec()))),
        ("two of one sensor", with(all(&[0, 5]))),
        ("any of one sensor", with(support::any(&[0, 5]))),
        ("both eyes or the beam", with(Condition::Any(vec![all(&[0, 4]), Condition::Detector(1)]))),
        (
            "an eye, not the beam",
            with(Condition::All(vec![Condition::Detector(0), Condition::Not(Box::new(Condition::Detector(1)))])),
        ),
        ("log-odds", with(Condition::LogOdds(sum))),
        ("holds for a while", with(holds_for(0.4, 0))),
        ("holds for a while and a bit, shorter", {
            let mut scenario = with(holds_for(0.33, 0));
            scenario.strategies[0].wet = Condition::BuiltIn(dooryard::scenario::strategy::BuiltIn::Always);
            scenario.detectors[0].rule = RunRule { k: 3, n: 4 };
            scenario
        }),
        (
            "cusum",
            alone(&|it| {
                it.statistic = Statistic::Cusum { limit: 0.55 };
                (it.rule, it.on, it.off) = (RunRule { k: 1, n: 1 }, 0.6, 0.75);
            }),
        ),
        (
            "ratio",
            alone(&|it| {
                it.statistic = Statistic::LikelihoodRatio(test);
                it.rule = RunRule { k: 1, n: 1 };
            }),
        ),
    ];
    for (name, scenario) in cases {
        let got = chance(&scenario, 30, 600);
        assert_eq!(got.particles, None, "{name}");
        support::agrees(name, &got, &scenario, 60);
    }
}

/// Three eyes alike but for where they are, each of which misses by itself with a chance of its own and does not let go again: that two
/// of three, all of two and any of two are missed follows from those as from independent events; the formulas are those of the table.
#[test]
fn votes_of_eyes_that_do_not_let_go_are_independent_events() {
    let two_of_three = |[a, b, c]: [f64; 3]| a * b + a * c + b * c - 2.0 * a * b * c;
    let mut tally = Tally::default();
    let rows = common::records("sensing/votes.csv");
    for row in rows.iter().filter(|row| row["beta_common_cause"] == "0.0") {
        let number = |key: &str| -> f64 { row[key].parse().expect(key) };
        let p = number("p_single");
        let expected = [number("p_and_of_2"), number("p_or_of_2"), number("p_2_of_3")];
        for (got, expected) in [p * p, 1.0 - (1.0 - p) * (1.0 - p), two_of_three([p; 3])].into_iter().zip(expected) {
            tally.check_within("votes", &format!("{row:?}"), got, expected, 1e-12);
        }
    }
    tally.finish(12);
    let mut scenario = support::three_looks();
    let mut third = scenario.sensors[4].clone();
    third.name = "third eye".into();
    let SensorKind::OpticalRange { aim, .. } = &mut third.kind else { panic!("ranger") };
    aim.position_m[1] = -0.05;
    scenario.sensors.push(third);
    let third = Detector { name: "third".into(), sensor: 5, ..scenario.detectors[4].clone() };
    scenario.detectors.push(third);
    for sensor in [0, 4, 5] {
        scenario.sensors[sensor].period = Span(100_000);
        scenario.sensors[sensor].latency = Span(50_000);
    }
    for detector in [0, 4, 6] {
        // So many in a row are not to be had on the way.
        scenario.detectors[detector].release = RunRule { k: 18, n: 18 };
        scenario.detectors[detector].off = 7.0;
    }
    let sky = {
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        let settings = RareSettings { strategy: 0, seed: 3, seasons: 1, draws: 0, defensive: 0.3, confidence: 0.95 };
        season_outsets(&plan, &settings).expect("weather").concat()[0].sky
    };
    let outset = Outset { sky, short: false };
    let unnoticed = |open: Condition, phase: f64| {
        let mut scenario = scenario.clone();
        scenario.strategies[0].open = open;
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        let approach = Approach::new(&plan, 0).expect("can be worked out");
        approach.unnoticed(&outset, &Path { sideways_m: 0.02, phase, ..Path::USUAL }).alone
    };
    let d = Condition::Detector;
    // Sensors sample a third of a period after one another.
    let each = [0, 4, 6].map(|detector| [0.0, 1.0 / 3.0, 2.0 / 3.0].map(|phase| unnoticed(d(detector), phase)));
    let [a, b, c] = [each[0][0], each[1][1], each[2][2]];
    assert!([a, b, c].iter().all(|p| (0.002..0.9).contains(p)), "{a} {b} {c}");
    let alike = |got: f64, expected: f64| assert!((got / expected - 1.0).abs() < 1e-9, "{got} against {expected}");
    alike(unnoticed(Condition::AtLeast(2, vec![d(0), d(4), d(6)]), 0.0), two_of_three([a, b, c]));
    alike(unnoticed(all(&[0, 4]), 0.0), 1.0 - (1.0 - a) * (1.0 - b));
    alike(unnoticed(support::any(&[0, 4, 6]), 0.0), a * b * c);
    // Of a pair and one alone, the one alone comes after the pair.
    let either = Condition::Any(vec![all(&[0, 4]), d(6)]);
    alike(unnoticed(either, 0.0), (1.0 - (1.0 - a) * (1.0 - b)) * c);
}

/// What can't be worked out says why.
#[test]
fn what_can_not_be_worked_out_says_why() {
    let why = |change: &dyn Fn(&mut Scenario)| {
        let mut scenario = support::three_looks();
        scenario.strategies[0].open = all(&[0, 4]);
        change(&mut scenario);
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        Approach::new(&plan, 0).err()
    };
    let open = |rule: Condition| move |scenario: &mut Scenario| scenario.strategies[0].open = rule.clone();
    assert_eq!(why(&|_| {}), None);
    assert_eq!(why(&open(Condition::Detector(2))), Some(NotWorkedOut::NoSensor));
    assert_eq!(why(&open(Condition::Not(Box::new(Condition::Detector(2))))), Some(NotWorkedOut::Always));
    assert_eq!(why(&open(Condition::Not(Box::new(Condition::Detector(0))))), Some(NotWorkedOut::Always));
}
