//! Chances of being missed by particles: statistics that remember readings, rules that wait or last, noise that remembers under rules of
//! several.

mod support;

use dooryard::engine::Plan;
use dooryard::engine::approach::{Approach, NotWorkedOut, Outset, Path};
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::strategy::{BuiltIn, Condition, RunRule, Sense, Statistic};
use dooryard::study::rare::{RareMisses, RareSettings, rare_misses, season_outsets};

const SETTINGS: RareSettings =
    RareSettings { strategy: 0, seed: 31, seasons: 30, draws: 500, defensive: 0.5, confidence: 0.95 };

fn all(parts: &[usize]) -> Condition {
    Condition::All(parts.iter().map(|it| Condition::Detector(*it)).collect())
}

fn holds_for(seconds: f64, rule: Condition) -> Condition {
    Condition::For(Span::from_seconds(seconds), Box::new(rule))
}

fn chance(scenario: &Scenario, settings: &RareSettings) -> RareMisses {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    rare_misses(&plan, settings).expect("weather").expect("approaches")
}

/// A shelter whose eye, or eyes, see the mower dimly, with the strategy's open rule changed; nobody else comes.
fn with(open: Condition, change: impl Fn(&mut Scenario)) -> Scenario {
    let mut scenario = support::three_looks();
    // The mower says when it wants to leave.
    scenario.strategies[0].open = Condition::Any(vec![Condition::Detector(2), open]);
    change(&mut scenario);
    scenario
}

/// Where there is a chain, too, both say the same: over many phases and offsets, the mean of their ratio is 1 within 4.5 standard errors,
/// down to one arrival in ten millions.
#[test]
fn particles_agree_with_chains() {
    let rare = |it: &mut Scenario| {
        for sensor in [0, 4] {
            it.sensors[sensor].errors.dropout = 0.02;
        }
    };
    let sharp = |it: &mut Scenario| {
        (it.sensors[0].errors.dropout, it.sensors[0].errors.noise) = (0.02, 0.005);
        (it.detectors[0].rule, it.detectors[0].on) = (RunRule { k: 1, n: 1 }, 0.55);
    };
    // Returns from nothing keep a detector on that is slow to let go: what holds for a while may begin long before the mower comes.
    let haunted = |it: &mut Scenario| {
        (it.sensors[0].errors.dropout, it.sensors[0].errors.spurious) = (0.6, 0.02);
        (it.detectors[0].rule, it.detectors[0].on) = (RunRule { k: 1, n: 1 }, 0.3);
        it.detectors[0].release = RunRule { k: 5, n: 5 };
    };
    let cases: [(&str, Scenario, f64); 10] = [
        ("nothing for a while", with(holds_for(0.45, Condition::Detector(0)), haunted), 0.1),
        ("a level that one reading in view passes", with(Condition::Detector(0), sharp), 0.15),
        ("a level", with(Condition::Detector(0), |_| ()), 0.05),
        ("a level that misses seldom", with(Condition::Detector(0), rare), 0.15),
        ("both eyes", with(all(&[0, 4]), |_| ()), 0.05),
        ("either eye", with(support::any(&[0, 4]), |_| ()), 0.05),
        ("a median", with(Condition::Detector(5), |_| ()), 0.05),
        ("a level for a while", with(holds_for(0.43, Condition::Detector(0)), |_| ()), 0.05),
        (
            "a median for a while, or a level",
            with(Condition::Any(vec![Condition::Detector(0), holds_for(0.2, Condition::Detector(5))]), |_| ()),
            0.05,
        ),
        (
            "noise that remembers",
            with(Condition::Detector(0), |it| {
                it.sensors[0].errors.noise_correlation = 0.9;
                it.sensors[0].errors.noise = 0.3;
            }),
            0.05,
        ),
    ];
    for (name, scenario, share) in cases {
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        let sky = season_outsets(&plan, &RareSettings { seasons: 1, ..SETTINGS }).expect("weather").concat()[0].sky;
        let outset = Outset { sky, short: false };
        let [chains, particles] =
            [Approach::integrated, Approach::by_particles].map(|it| it(&plan, 0).expect("worked out"));
        assert!(chains.particles().is_none() && particles.particles().is_some(), "{name}");
        let mut ratios = Vec::new();
        let mut least = 1.0_f64;
        for number in 0..120 {
            let phase = f64::from(number) / 120.0;
            let path = Path { phase, sideways_m: 0.04 * (phase - 0.5), ..Path::USUAL };
            let exact = chains.unnoticed(&outset, &path).alone;
            least = least.min(exact);
            ratios.push(particles.unnoticed(&outset, &path).alone / exact);
        }
        let count = ratios.len() as f64;
        let mean = ratios.iter().sum::<f64>() / count;
        let error = (ratios.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / (count * (count - 1.0))).sqrt();
        println!("{name}: {mean} +- {error}, from {least:e}");
        assert!((mean - 1.0).abs() < 4.5 * error, "{name}: {mean} +- {error}");
        assert!(error < share, "{name}: {mean} +- {error}");
    }
}

/// Against what seasons count, within 4 standard errors: means, averages and speeds, rules that wait or last, alone and together.
#[test]
fn particles_agree_with_counted_misses() {
    let d = Condition::Detector;
    let statistic = |statistic: Statistic, on: f64| {
        move |it: &mut Scenario| {
            let detector = &mut it.detectors[0];
            (detector.statistic, detector.on, detector.off) = (statistic, on, on + 0.2);
            detector.rule = RunRule { k: 1, n: 1 };
        }
    };
    let remembers = |it: &mut Scenario| {
        for sensor in [0, 4] {
            it.sensors[sensor].errors.noise_correlation = 0.7;
            it.sensors[sensor].errors.noise = 0.4;
        }
    };
    let cases = [
        ("mean", with(d(0), statistic(Statistic::MovingMean(4), 0.57))),
        ("average", with(d(0), statistic(Statistic::Ewma { weight: 0.35 }, 0.57))),
        (
            "speed",
            with(d(0), |it| {
                statistic(Statistic::ApproachRate(12), 0.4)(it);
                (it.detectors[0].sense, it.detectors[0].off) = (Sense::Above, 0.3);
                (it.sensors[0].errors.noise, it.sensors[0].errors.noise_growth) = (0.05, 0.0);
                // It is noticed far away, and the door must not have shut again when it comes.
                it.strategies[0].controller.open_at_least = Span::from_seconds(60.0);
            }),
        ),
        (
            "after a while, in one",
            with(
                Condition::All(vec![Condition::Lasting(Span::from_seconds(0.5), Box::new(d(0))), holds_for(0.2, d(4))]),
                |_| (),
            ),
        ),
        ("noise that remembers, both", with(all(&[0, 4]), remembers)),
        ("too many states", with(all(&[0, 4]), |it| it.detectors[4].rule = RunRule { k: 8, n: 24 })),
        (
            "a while each, and shorter rules",
            with(Condition::Any(vec![holds_for(0.5, d(0)), holds_for(0.7, d(5))]), |it| {
                it.strategies[0].wet = Condition::BuiltIn(BuiltIn::Always);
                it.detectors[0].rule = RunRule { k: 3, n: 4 };
            }),
        ),
    ];
    for (name, scenario) in cases {
        let got = chance(&scenario, &SETTINGS);
        assert!(got.particles.is_some(), "{name}");
        support::agrees(name, &got, &scenario, 40);
    }
}

/// A message that says nothing neither holds for a while nor lasts from before.
#[test]
fn what_is_known_neither_waits_nor_lasts() {
    let scenario = with(Condition::Lasting(Span::SECOND, Box::new(Condition::Detector(2))), |_| ());
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    assert_eq!(Approach::new(&plan, 0).err(), Some(NotWorkedOut::NoSensor));
    let silent = Condition::Not(Box::new(Condition::Detector(2)));
    let scenario = with(holds_for(1.0, silent), |_| ());
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    assert_eq!(Approach::new(&plan, 0).err(), Some(NotWorkedOut::Always));
}
