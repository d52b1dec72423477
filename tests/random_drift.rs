//! Slow random drift of a sensor: what it does to false runs, to misses, counted, expected and rare, against the formulas of the normal law.

mod support;

use dooryard::engine::approach::{Approach, Outset, Path};
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::math::normal;
use dooryard::scenario::Scenario;
use dooryard::scenario::sensor::SensorKind;
use dooryard::scenario::strategy::{BuiltIn, Condition, Detector, RunRule};
use dooryard::sensing::channel::Sampling;
use dooryard::sensing::reading::Sky;
use dooryard::study::calibrate::feedback::false_runs_per_day;
use dooryard::study::rare::{RareSettings, rare_misses};
use std::f64::consts::TAU;

fn seasons(scenario: &Scenario, count: u64, sampling: Sampling) -> Vec<SeasonRecord> {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let outside = |number| Outside::draw(&plan, 41, number).expect("weather");
    (0..count).map(|number| play(&plan, &outside(number), 0, 41, Options { sampling, events: false })).collect()
}

/// Mean of a figure of seasons and its standard error.
fn mean(records: &[SeasonRecord], of: impl Fn(&SeasonRecord) -> f64) -> (f64, f64) {
    let n = records.len() as f64;
    let mean = records.iter().map(&of).sum::<f64>() / n;
    let squares: f64 = records.iter().map(|record| (of(record) - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0) / n).sqrt())
}

/// Expected false runs a day of the first detector, and the standard error by seasons of that ratio.
fn expected_rate(records: &[SeasonRecord]) -> (f64, f64) {
    let of = |record: &SeasonRecord| {
        let runs = &record.detectors[0].false_runs;
        (runs.expected.iter().sum::<f64>(), runs.weight.iter().sum::<f64>())
    };
    let (expected, weight) = records.iter().map(of).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let rate = expected / weight;
    let residual = |(expected, weight): (f64, f64)| (expected - rate * weight).powi(2);
    (rate, records.iter().map(of).map(residual).sum::<f64>().sqrt() / weight)
}

/// A shelter whose eye looks at a wall, in the same light and air whatever the weather. Nobody comes but the mower, nothing fails.
fn before_a_wall(wall_m: f64) -> Scenario {
    let mut scenario = support::dim();
    // No sun comes into a cone to the north.
    scenario.site.door_faces_deg = 0.0;
    scenario.visitors.clear();
    scenario.faults.clear();
    let eye = &mut scenario.sensors[0];
    let errors = &mut eye.errors;
    (errors.dropout, errors.dropout_rain, errors.spurious, errors.spurious_rain, errors.spurious_sun) =
        (0.0, 0.0, 0.0, 0.0, 0.0);
    (errors.drift_per_k, errors.drift_per_day, errors.noise_growth) = (0.0, 0.0, 0.0);
    let SensorKind::OpticalRange { aim, farthest_sun_m, background_m } = &mut eye.kind else { panic!("ranger") };
    *farthest_sun_m = aim.farthest_m;
    *background_m = Some(wall_m);
    scenario
}

/// Owen's T by the midpoint rule (Owen, Ann. Math. Stat. 27, 1956, 1075-1090): T(h, a) is the integral from 0 to a of
/// exp(-h^2 (1 + x^2) / 2) / (1 + x^2) dx, over two pi.
fn owens_t(h: f64, a: f64) -> f64 {
    let steps = 2_000;
    let at = |step: i32| {
        let x = a * (f64::from(step) + 0.5) / f64::from(steps);
        (-0.5 * h * h * (1.0 + x * x)).exp() / (1.0 + x * x)
    };
    (0..steps).map(at).sum::<f64>() * a / f64::from(steps) / TAU
}

/// A level that a single sample switches goes on with probability p (1 - p) per sample given the drift; in the mean over a normal drift that is
/// 2 T(h, sqrt((1 - r) / (1 + r))), with h the level's distance from the mean in spreads of noise and drift together and r the
/// drift's share of their variance (two samples under the same drift are two normal numbers of correlation r; Owen 1956). Held to
/// it: what `calibrate` says of a drift, seasons' counted false runs with either sampling, and their expected ones.
#[test]
fn false_runs_have_the_mean_of_the_normal_law() {
    let (wall_m, noise, drift) = (1.0, 0.05, 0.08);
    let mut scenario = before_a_wall(wall_m);
    let detector: &mut Detector = &mut scenario.detectors[0];
    (detector.on, detector.off) = (0.65, 0.65);
    (detector.rule, detector.release) = (RunRule { k: 1, n: 1 }, RunRule { k: 1, n: 1 });
    let eye = &mut scenario.sensors[0];
    (eye.errors.noise, eye.errors.resolution) = (noise, 0.0);
    (eye.errors.random_drift, eye.errors.random_drift_s) = (drift, 1_800.0);
    let (all, r) = (noise.hypot(drift), drift * drift / (noise * noise + drift * drift));
    let per_sample = 2.0 * owens_t((wall_m - 0.65) / all, ((1.0 - r) / (1.0 + r)).sqrt());
    let per_day = per_sample * eye.samples_per_day();
    let worked_out = false_runs_per_day(&scenario.detectors[0], &scenario.sensors[0], &Sky::dark(12.0)).expect("a law");
    assert!((worked_out / per_day - 1.0).abs() < 1e-6, "{worked_out} against {per_day}");
    for (sampling, count) in [(Sampling::Exact, 40), (Sampling::Every, 10)] {
        let records = seasons(&scenario, count, sampling);
        let days: f64 = records.iter().map(|record| record.condition_h.iter().sum::<f64>() / 24.0).sum();
        let each = days / count as f64;
        let (counted, error) =
            mean(&records, |record| record.detectors[0].false_runs.counted.iter().sum::<u64>() as f64 / each);
        assert!((counted - per_day).abs() < 4.0 * error, "{sampling:?}: {counted} +- {error} against {per_day}");
        assert!(error < 0.15 * per_day, "{sampling:?}: {error} of {per_day}");
        let (rate, error) = expected_rate(&records);
        assert!((rate - per_day).abs() < 4.0 * error, "{sampling:?}: {rate} +- {error} expected against {per_day}");
    }
}

/// Where there is hardly any noise, a detector goes on as a step of the drift takes the reading past its level: 2 T(h, sqrt((1 - r) / (1 + r)))
/// times a step, with h the level's distance in drifts and r the correlation of neighbouring steps (Owen 1956). Counted, and expected.
#[test]
fn steps_of_a_drift_make_false_runs() {
    let (wall_m, drift, time_s) = (1.0, 0.2, 3_600.0);
    let mut scenario = before_a_wall(wall_m);
    let detector: &mut Detector = &mut scenario.detectors[0];
    (detector.on, detector.off) = (0.65, 0.65);
    (detector.rule, detector.release) = (RunRule { k: 3, n: 5 }, RunRule { k: 5, n: 5 });
    let errors = &mut scenario.sensors[0].errors;
    (errors.noise, errors.resolution) = (1e-5, 0.0);
    (errors.random_drift, errors.random_drift_s) = (drift, time_s);
    let r = (-1.0_f64 / 30.0).exp();
    let per_day = 30.0 * 86_400.0 / time_s * 2.0 * owens_t((wall_m - 0.65) / drift, ((1.0 - r) / (1.0 + r)).sqrt());
    let records = seasons(&scenario, 60, Sampling::Exact);
    let days: f64 = records.iter().map(|record| record.condition_h.iter().sum::<f64>() / 24.0).sum();
    let each = days / records.len() as f64;
    let (counted, error) =
        mean(&records, |record| record.detectors[0].false_runs.counted.iter().sum::<u64>() as f64 / each);
    // Some come while the mower is in view, which are not counted.
    assert!((counted - per_day).abs() < 4.0 * error + 0.05 * per_day, "{counted} +- {error} against {per_day}");
    assert!(error < 0.1 * per_day, "{error} of {per_day}");
    let (rate, error) = expected_rate(&records);
    assert!((rate - per_day).abs() < 4.0 * error + 0.05 * per_day, "{rate} +- {error} expected against {per_day}");
    assert!(error < 0.25 * per_day, "{error} of {per_day}");
    let openings = records.iter().map(|record| record.noise_openings.counted.iter().sum::<u64>() as f64).sum::<f64>();
    let expected = records.iter().map(|record| record.value(Key::NoiseOpeningsExpected)).sum::<f64>();
    assert!(openings > 100.0 && (expected / openings - 1.0).abs() < 0.35, "{openings} openings, {expected} expected");
}

/// The same seasons without the drift have far fewer: it is not in vain.
#[test]
fn without_drift_there_are_fewer() {
    let mut scenario = before_a_wall(1.0);
    (scenario.detectors[0].on, scenario.detectors[0].off) = (0.65, 0.7);
    scenario.detectors[0].rule = RunRule { k: 2, n: 3 };
    scenario.sensors[0].errors.noise = 0.08;
    let runs = |scenario: &Scenario| {
        seasons(scenario, 5, Sampling::Exact)
            .iter()
            .map(|it| it.detectors[0].false_runs.counted.iter().sum::<u64>())
            .sum::<u64>()
    };
    let without = runs(&scenario);
    scenario.sensors[0].errors.random_drift = 0.08;
    let with = runs(&scenario);
    assert!(with > 5 * without.max(1), "{with} with, {without} without");
}

/// A drift that often carries the mower out of the level: as many arrivals are missed as the laws of the samples under it say, whichever way
/// samples are drawn, and in the mean those of an approach by itself averaged over the drift.
#[test]
fn misses_follow_the_drift() {
    let mut scenario = before_a_wall(3.0);
    // The mower says when it wants to leave.
    scenario.strategies[0].open = Condition::Any(vec![Condition::Detector(2), Condition::Detector(0)]);
    scenario.detectors[0].rule = RunRule { k: 3, n: 5 };
    (scenario.detectors[0].on, scenario.detectors[0].off) = (0.65, 0.8);
    let errors = &mut scenario.sensors[0].errors;
    (errors.noise, errors.random_drift, errors.random_drift_s) = (0.03, 0.15, 3_600.0);
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    let approach = Approach::new(&plan, 0).expect("it can be worked out");
    assert_eq!(approach.drifting(), [0]);
    let exact = {
        let outset = Outset { sky: Sky::dark(12.0), short: false };
        let at = |z: f64, phase: f64| {
            approach.unnoticed(&outset, &Path { phase, drifts: [z, 0.0, 0.0], ..Path::USUAL }).alone
        };
        let nodes = (-60..=60).map(|node| 0.1 * f64::from(node));
        let phases = |z: f64| (0..4).map(|phase| at(z, (f64::from(phase) + 0.5) / 4.0)).sum::<f64>() / 4.0;
        nodes.map(|z| 0.1 * normal::density(z) * phases(z)).sum::<f64>()
    };
    for (sampling, count) in [(Sampling::Exact, 100), (Sampling::Every, 8)] {
        let records = seasons(&scenario, count, sampling);
        let by = |record: &SeasonRecord| record.value(Key::MissedArrivals) - record.value(Key::MissedArrivalsExpected);
        let (apart, error) = mean(&records, by);
        assert!(apart.abs() < 4.0 * error, "{sampling:?}: {apart} +- {error}");
        let arrivals: f64 = records.iter().map(|record| record.value(Key::Arrivals)).sum();
        let each = arrivals / count as f64;
        let (share, error) = mean(&records, |record| record.value(Key::MissedArrivalsExpected) / each);
        // Pace and offset play a small part that the mean over the drift alone leaves out.
        assert!((share - exact).abs() < 4.0 * error + 0.02 * exact, "{sampling:?}: {share} +- {error} against {exact}");
        assert!(exact > 0.05 && error < 0.4 * exact, "{exact}, {error}");
    }
}

/// Misses that take a drift of many standard deviations are found by choosing such drifts, against the integral over the drift by Simpson's
/// rule; nearly all of them come with a large one. With two drifting eyes that both must fail, against the double integral.
#[test]
fn rare_drifts_are_found() {
    let mut one = before_a_wall(3.0);
    (one.mower.approach.sideways_m, one.mower.approach.speed_spread) = (0.0, 0.0);
    one.detectors[0].rule = RunRule { k: 3, n: 5 };
    (one.detectors[0].on, one.detectors[0].off) = (0.7, 0.8);
    let errors = &mut one.sensors[0].errors;
    (errors.noise, errors.random_drift) = (0.01, 0.05);
    // The mower says when it wants to leave.
    one.strategies[0].open = Condition::Any(vec![Condition::Detector(2), Condition::Detector(0)]);
    let mut two = one.clone();
    two.sensors[0].errors.random_drift = 0.07;
    support::second_eye(&mut two);
    two.sensors[4].errors.random_drift = 0.08;
    (two.detectors[0].on, two.detectors[0].off) = (0.7, 0.8);
    (two.detectors[4].on, two.detectors[4].off) = (0.7, 0.8);
    two.strategies[0].open = Condition::Any([2, 0, 4].map(Condition::Detector).to_vec());
    for (name, scenario, reach) in [("one", one, 8.0), ("two", two, 7.0)] {
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        let approach = Approach::new(&plan, 0).expect("it can be worked out");
        let outset = Outset { sky: Sky::dark(12.0), short: false };
        let (steps, phases) = if name == "one" { (400, 64) } else { (80, 24) };
        let step = 2.0 * reach / f64::from(steps);
        let weighed = |node: i32| {
            let simpson = if node == 0 || node == steps { 1.0 } else { 2.0 + 2.0 * f64::from(node % 2) };
            let z = -reach + step * f64::from(node);
            (z, simpson * normal::density(z) * step / 3.0)
        };
        let at = |drifts: [f64; 2]| -> f64 {
            let all = (0..phases).map(|phase| (f64::from(phase) + 0.5) / f64::from(phases));
            let path = |phase: f64| Path { phase, drifts: [drifts[0], drifts[1], 0.0], ..Path::USUAL };
            all.map(|phase| approach.unnoticed(&outset, &path(phase)).alone).sum::<f64>() / f64::from(phases)
        };
        let exact: f64 = (0..=steps)
            .map(weighed)
            .map(|(z, weight)| {
                let other = |node: i32| {
                    let (y, of_it) = weighed(node);
                    of_it * at([z, y])
                };
                weight * if name == "one" { at([z, 0.0]) } else { (0..=steps).map(other).sum() }
            })
            .sum();
        assert!(exact > 1e-13 && exact < 1e-4, "{name}: {exact}");
        for seed in 1..=3 {
            let settings =
                RareSettings { strategy: 0, seed, seasons: 2, draws: 4_000, defensive: 0.3, confidence: 0.95 };
            let got = rare_misses(&plan, &settings).expect("weather").expect("approaches");
            let chance = got.chance;
            // At the phases at which one sample more is heard in time the integral over them has a step.
            let off = (chance.mean - exact).abs();
            assert!(off < 4.5 * chance.error + 0.02 * exact, "{name}: {chance:?} against {exact}");
            assert!(chance.error < 0.1 * exact && chance.interval.is_some(), "{name}: {chance:?} against {exact}");
            assert!(got.shares[4] > 0.9, "{name}: {:?}", got.shares);
        }
    }
}

/// A strategy that listens to more sensors meets the same drift of the first: its detector makes the same false runs.
#[test]
fn a_drift_belongs_to_its_sensor() {
    let mut scenario = before_a_wall(1.0);
    scenario.sensors[0].errors.random_drift = 0.08;
    support::second_eye(&mut scenario);
    scenario.sensors[4].errors.random_drift = 0.03;
    scenario.strategies.truncate(1);
    scenario.strategies[0].open = Condition::Detector(2);
    // Listened to, and never minded: the door and the mower do the same.
    let keep = |scenario: &mut Scenario, open: &[usize]| {
        let parts = open.iter().map(|detector| Condition::Detector(*detector)).collect();
        let unheard = Condition::All(vec![Condition::Any(parts), Condition::BuiltIn(BuiltIn::Never)]);
        let hold = &mut scenario.strategies[0].hold;
        *hold = Condition::Any(vec![Condition::Detector(2), unheard]);
    };
    let (mut alone, mut both) = (scenario.clone(), scenario);
    keep(&mut alone, &[0]);
    keep(&mut both, &[0, 4]);
    let runs = |scenario: &Scenario| seasons(scenario, 1, Sampling::Every)[0].detectors[0].false_runs.counted;
    let (alone, both) = (runs(&alone), runs(&both));
    assert_eq!(alone, both);
    assert!(alone.iter().sum::<u64>() > 20, "{alone:?}");
}
