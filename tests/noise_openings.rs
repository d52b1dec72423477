//! Openings by noise alone: as often as the laws of the readings and the open rule give them, against counted ones.

mod support;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::Scenario;
use dooryard::scenario::failure::{Failure, mode};
use dooryard::scenario::mower::Spread;
use dooryard::scenario::sensor::{SensorKind, StatusCode};
use dooryard::scenario::strategy::{
    BuiltIn, Condition, Detector, Evidence, LogOdds, RatioTest, RunRule, Sense, Statistic,
};
use dooryard::scenario::visitor::{Fault, FaultKind};
use dooryard::sensing::channel::Sampling;

/// A shelter whose two eyes (sensors 0 and 4) see things that are not there; detectors: near 0, beam 1, leaving 2, second 4, nearer (a
/// median of the first eye) 5. Nobody comes but the mower, nothing fails.
fn two_eyes() -> Scenario {
    let mut scenario = support::dim();
    scenario.visitors.clear();
    scenario.faults.clear();
    let SensorKind::BreakBeam { false_per_hour, false_break_s, .. } = &mut scenario.sensors[1].kind else {
        panic!("beam")
    };
    (*false_per_hour, *false_break_s) = (1.0, 2.0);
    let errors = &mut scenario.sensors[0].errors;
    (errors.spurious, errors.spurious_rain, errors.dropout, errors.resolution) = (0.01, 3e-4, 0.1, 0.05);
    support::second_eye(&mut scenario);
    scenario.sensors[4].errors.spurious = 0.004;
    scenario.strategies.truncate(1);
    scenario
}

fn seasons(scenario: &Scenario, count: u64, sampling: Sampling) -> Vec<SeasonRecord> {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let outside = |number| Outside::draw(&plan, 37, number).expect("weather");
    let options = Options { sampling, events: false };
    (0..count).map(|number| play(&plan, &outside(number), 0, 37, options)).collect()
}

fn both(parts: [usize; 2]) -> Condition {
    Condition::All(parts.map(Condition::Detector).to_vec())
}

/// For each kind of rule, by condition: within 4 standard errors of the number counted, those of the moments that were looked at
/// among them. The metric that takes the expected ones has the mean of the one that counts.
#[test]
fn expected_openings_have_the_mean_of_the_counted_ones() {
    let plain = two_eyes();
    let with = |open: Condition| {
        let mut scenario = plain.clone();
        // The mower says when it wants to leave.
        scenario.strategies[0].open = Condition::Any(vec![Condition::Detector(2), open]);
        scenario
    };
    let changed = |mut scenario: Scenario, change: &dyn Fn(&mut Scenario)| {
        change(&mut scenario);
        scenario
    };
    // Slow to let go, so that two are on at once now and then.
    let slow = |scenario: &mut Scenario| {
        for detector in [0, 4, 5] {
            scenario.detectors[detector].release = RunRule { k: 20, n: 20 };
        }
        (scenario.sensors[0].errors.spurious, scenario.sensors[4].errors.spurious) = (0.02, 0.012);
    };
    let evidence =
        |detector: usize, present: f64| Evidence { when: Condition::Detector(detector), present, absent: 0.1 };
    let sum = LogOdds { at_least: 3.0, prior: 0.0, of: vec![evidence(0, 0.9), evidence(4, 0.9), evidence(1, 0.3)] };
    let without = Condition::All(vec![Condition::Detector(0), Condition::Not(Box::new(Condition::Detector(4)))]);
    let test = RatioTest { absent: 3.0, present: 0.5, spread: 0.8, false_alarm: 1e-2, false_rest: 1e-3, at_most: 2.0 };
    let single = |statistic: Statistic, spurious: f64| {
        changed(with(Condition::Detector(0)), &|scenario| {
            let detector = &mut scenario.detectors[0];
            detector.statistic = statistic;
            (detector.rule, detector.release) = (RunRule { k: 1, n: 1 }, RunRule { k: 1, n: 1 });
            scenario.sensors[0].errors.spurious = spurious;
        })
    };
    let closing = changed(single(Statistic::ApproachRate(6), 0.012), &|scenario| {
        let detector = &mut scenario.detectors[0];
        (detector.sense, detector.on, detector.off) = (Sense::Above, 2.0, 0.4);
        detector.rule = RunRule { k: 3, n: 3 };
    });
    let cases = [
        ("any", with(support::any(&[0, 4]))),
        ("both", changed(with(both([0, 4])), &slow)),
        ("two of three", changed(with(Condition::AtLeast(2, [0, 1, 4].map(Condition::Detector).to_vec())), &slow)),
        ("two of one sensor", with(both([0, 5]))),
        ("not the other", changed(with(without), &slow)),
        ("log-odds", changed(with(Condition::LogOdds(sum)), &slow)),
        (
            "shorter",
            changed(with(support::any(&[0, 4])), &|scenario| {
                scenario.strategies[0].wet = Condition::BuiltIn(BuiltIn::Always);
                (scenario.sensors[0].errors.spurious, scenario.sensors[4].errors.spurious) = (1e-3, 1e-5);
            }),
        ),
        // On for so long that much of the time nothing can open.
        (
            "often on",
            changed(with(Condition::Detector(0)), &|scenario| {
                scenario.detectors[0].release = RunRule { k: 20, n: 20 };
                scenario.sensors[0].errors.spurious = 0.1;
            }),
        ),
        // A door to the east, for minutes after sunrise.
        (
            "low sun",
            changed(with(Condition::Detector(0)), &|scenario| {
                scenario.site.door_faces_deg = 90.0;
                let errors = &mut scenario.sensors[0].errors;
                (errors.spurious, errors.spurious_rain, errors.spurious_sun) = (1e-3, 0.0, 0.3);
                let SensorKind::OpticalRange { aim, .. } = &mut scenario.sensors[0].kind else { panic!("ranger") };
                aim.half_cone_deg = 12.0;
            }),
        ),
        // Before a wall that drift brings near now and then.
        (
            "drift",
            changed(with(Condition::Detector(0)), &|scenario| {
                let eye = &mut scenario.sensors[0];
                (eye.errors.spurious, eye.errors.spurious_rain) = (0.0, 0.0);
                (eye.errors.random_drift, eye.errors.random_drift_s) = (0.12, 3_600.0);
                let SensorKind::OpticalRange { background_m, .. } = &mut eye.kind else { panic!("ranger") };
                *background_m = Some(1.2);
            }),
        ),
        // The first eye sees nothing; while the platform feels a mower that is not there, the fallback listens to the second one.
        (
            "in doubt",
            changed(with(Condition::Detector(0)), &|scenario| {
                (scenario.sensors[0].errors.spurious, scenario.sensors[0].errors.spurious_rain) = (0.0, 0.0);
                scenario.sensors[4].errors.spurious = 0.004;
                let docked =
                    Detector { name: "docked".into(), says: vec![StatusCode::Docked], ..scenario.detectors[2].clone() };
                scenario.detectors.push(docked);
                let strategy = &mut scenario.strategies[0];
                strategy.inside = both([3, 6]);
                strategy.fallback = Condition::Detector(4);
                strategy.controller.care.contradiction_after_s = 60.0;
                let mut phantom = Failure::usual(mode("phantom-occupancy").expect("a mode"), vec![3]);
                (phantom.per_year, phantom.lasts) = (600.0, Spread { mean_s: 86_400.0, sd_s: 20_000.0 });
                scenario.failures.push(phantom);
            }),
        ),
        // A platform by a mean of its readings keeps the door shut for as long as the mower is in.
        (
            "platform",
            changed(
                with(Condition::All(vec![Condition::Detector(0), Condition::Not(Box::new(Condition::Detector(3)))])),
                &|scenario| {
                    scenario.detectors[3].statistic = Statistic::MovingMean(5);
                    scenario.sensors[0].errors.spurious = 0.03;
                },
            ),
        ),
        // An eye that sticks now and then: what it opens with the other one is no noise.
        (
            "stuck",
            changed(with(both([0, 4])), &|scenario| {
                slow(scenario);
                scenario.faults.push(Fault {
                    name: "sticks".into(),
                    kind: FaultKind::SensorStuck(4),
                    per_year: 200.0,
                    lasts: Spread { mean_s: 7_200.0, sd_s: 0.0 },
                    noise_factor: 1.0,
                });
            }),
        ),
        ("cusum", single(Statistic::Cusum { limit: 0.9 }, 0.005)),
        ("ratio", single(Statistic::LikelihoodRatio(test), 0.02)),
        ("average", single(Statistic::Ewma { weight: 0.4 }, 0.12)),
        ("mean", single(Statistic::MovingMean(3), 0.06)),
        ("rate", closing),
    ];
    for (name, scenario) in cases {
        // What keeps a sum stops at each outlier; large drifts are rare and last.
        let count = match name {
            "cusum" | "ratio" | "average" | "mean" | "rate" | "often on" => 8,
            "drift" => 200,
            _ => 30,
        };
        let records = seasons(&scenario, count, Sampling::Exact);
        let sum = |of: &dyn Fn(&SeasonRecord) -> f64| records.iter().map(of).sum::<f64>();
        let mut seen = 0;
        for condition in 0..3 {
            let of = |record: &SeasonRecord| {
                let it = &record.noise_openings;
                (it.counted[condition] as f64, it.expected[condition], it.weight[condition])
            };
            let days = sum(&|record| record.condition_h[condition] / 24.0);
            let (counted, moments) = (sum(&|record| of(record).0), sum(&|record| of(record).2));
            let rate = sum(&|record| of(record).1) / moments;
            let residual = |record: &SeasonRecord| {
                let (_, expected, moments) = of(record);
                (expected - rate * moments).powi(2)
            };
            let sampled = sum(&residual).sqrt() / moments * days;
            let what = format!("{name} {condition}: {counted} in {days} days, {} expected", rate * days);
            assert!(moments > 1.0, "{what}");
            // Of the number counted, whichever of the two is right.
            let error = (rate * days).max(counted).sqrt().hypot(sampled);
            assert!((counted - rate * days).abs() <= 4.0 * error, "{what} +- {sampled}");
            // The mower is out for a few hours a day only, and the sensors inside are in doubt only then.
            let roughly = if matches!(name, "platform" | "in doubt") { 0.5 } else { 0.2 };
            seen += usize::from(counted > 50.0 && sampled < roughly * counted);
        }
        assert!(seen >= if matches!(name, "low sun" | "often on" | "platform" | "in doubt") { 1 } else { 2 }, "{name}");
        let by = |record: &SeasonRecord| {
            let counted: u64 = record.noise_openings.counted.iter().sum();
            counted as f64 - record.value(Key::NoiseOpeningsExpected)
        };
        let n = records.len() as f64;
        let mean = sum(&by) / n;
        let error = (sum(&|record| (by(record) - mean).powi(2)) / (n - 1.0) / n).sqrt();
        assert!(mean.abs() < 4.0 * error, "{name}: {mean} +- {error}");
    }
}

/// The dry moments of a season with a low sun stand for as much time as it has, and find the sun as often as it shines in; all of them, and
/// those that are thorough.
#[test]
fn moments_find_the_sun_in_proportion() {
    let mut scenario = two_eyes();
    scenario.calendar.last_day = jiff::civil::date(2025, 9, 30);
    scenario.site.door_faces_deg = 90.0;
    scenario.sensors[0].errors.spurious_sun = 0.3;
    let SensorKind::OpticalRange { aim, .. } = &mut scenario.sensors[0].kind else { panic!("ranger") };
    aim.half_cone_deg = 12.0;
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    let outsides: Vec<Outside> = (0..100).map(|n| Outside::draw(&plan, 7, n).expect("weather")).collect();
    // The sun's light in the cone, by the plan's steps of half an hour, under a sky that is not thick with clouds.
    let shines = |at: Instant| {
        let place = plan.lights.partition_point(|light| light.at <= at).checked_sub(1);
        place.map_or(0.0, |place| plan.dazzle[place] * plan.lights[place].direct_klux)
    };
    for thorough in [false, true] {
        let (mut found, mut time, mut exact, mut dry) = (0.0, 0.0, 0.0, 0.0);
        for outside in &outsides {
            let of = |at: Instant| {
                let step = outside.weather.at(at);
                let through = ((step.clearness - 0.25) / 0.75).clamp(0.0, 1.0);
                if step.rain_mm_h > 0.0 { None } else { Some((shines(at) * through).powi(2)) }
            };
            for moment in outside.moments.iter().filter(|moment| !thorough || moment.thorough) {
                if let Some(light) = of(moment.at) {
                    (found, time) = (found + moment.worth * light, time + moment.weight);
                }
            }
            // Every five minutes from the middle of the first.
            let steps = plan.clock.end().since(Instant::START).0 / 300_000_000;
            for at in (0..steps).map(|step| Instant(step * 300_000_000 + 150_000_000)) {
                if let Some(light) = of(at) {
                    (exact, dry) = (exact + light, dry + 1.0);
                }
            }
        }
        let (got, exact) = (found / time, exact / dry);
        assert!(exact > 0.0 && (got / exact - 1.0).abs() < 0.05, "{thorough}: {got} against {exact}");
    }
}

/// What hardly ever comes is told, too: that both eyes see something that is not there, once in thousands of years; and a rule that waits
/// is not worked out, so that its openings count as they turn out.
#[test]
fn rare_openings_have_a_figure_and_rules_that_wait_have_none() {
    let mut rare = two_eyes();
    rare.strategies[0].open = Condition::Any(vec![Condition::Detector(2), both([0, 4])]);
    let mut waits = rare.clone();
    let near = Box::new(Condition::Detector(0));
    waits.strategies[0].open =
        Condition::Any(vec![Condition::Detector(2), Condition::For(Span::from_seconds(0.1), near)]);
    let per_day = |scenario: &Scenario| {
        let records = seasons(scenario, 2, Sampling::Exact);
        let sum = |of: &dyn Fn(&SeasonRecord) -> f64| records.iter().map(of).sum::<f64>();
        let moments = sum(&|record| record.noise_openings.weight.iter().sum());
        let expected = sum(&|record| record.value(Key::NoiseOpeningsExpected));
        let counted = sum(&|record| record.noise_openings.counted.iter().sum::<u64>() as f64);
        (sum(&|record| record.noise_openings.expected.iter().sum()) / moments, moments, counted, expected)
    };
    let mut rarer = rare.clone();
    for sensor in [0, 4] {
        (rarer.sensors[sensor].errors.spurious, rarer.sensors[sensor].errors.spurious_rain) = (1e-4, 0.0);
    }
    let (often, moments, ..) = per_day(&rare);
    let (seldom, _, counted, expected) = per_day(&rarer);
    // Three readings of five and two of four: the rates go by the third and the second power, the times that they last stay.
    assert!(moments > 20.0 && often > 1e-6 && seldom > 0.0 && seldom < 1e-7 * often, "{moments} {often} {seldom}");
    assert!(counted == 0.0 && expected > 0.0 && expected < 1e-9, "{counted} {expected}");
    // Two eyes that contradict each other for long enough open, too.
    let mut contradict = two_eyes();
    contradict.strategies[0].open = rare.strategies[0].open.clone();
    contradict.strategies[0].controller.care.disagreement_after_s = 0.2;
    for scenario in [waits, contradict] {
        let (_, moments, counted, expected) = per_day(&scenario);
        assert!(moments == 0.0 && counted > 0.0 && expected == counted, "{moments} {counted} {expected}");
    }
}

/// A platform that feels the parked mower and an eye that sees what is not there: with the mower in, that opens for the mower in view, and
/// with the mower out it does not open. Neither is noise alone.
#[test]
fn a_parked_mower_is_no_noise() {
    let mut scenario = two_eyes();
    scenario.sensors[0].errors.spurious = 0.03;
    scenario.strategies[0].open = Condition::Any(vec![Condition::Detector(2), both([0, 3])]);
    let records = seasons(&scenario, 2, Sampling::Exact);
    let sum = |of: &dyn Fn(&SeasonRecord) -> f64| records.iter().map(of).sum::<f64>();
    let counted = sum(&|record| record.noise_openings.counted.iter().sum::<u64>() as f64);
    let expected = sum(&|record| record.value(Key::NoiseOpeningsExpected));
    let weight = sum(&|record| record.noise_openings.weight.iter().sum());
    assert!(sum(&|record| record.value(Key::FalseOpenings)) > 100.0 && weight > 20.0);
    assert!(counted == 0.0 && expected < 0.1, "{counted} {expected}");
}

/// The moments of rain integrate what depends on its intensity: as it is, its 1.2th power as drops are seen, and the third power of
/// that, as for three sightings; season by season, within 4 standard errors of no difference, and hardly off in any season.
#[test]
fn moments_in_rain_integrate_over_its_intensity() {
    let mut scenario = two_eyes();
    scenario.calendar.last_day = jiff::civil::date(2025, 9, 30);
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    let outsides: Vec<Outside> = (0..200).map(|n| Outside::draw(&plan, 5, n).expect("weather")).collect();
    for (power, rough) in [(0.0, 0.4), (1.2, 0.15), (3.6, 0.15)] {
        let of = |rain_mm_h: f64| if rain_mm_h > 0.0 { rain_mm_h.powf(power) } else { 0.0 };
        let (mut exact, mut off) = (0.0, Vec::new());
        for outside in &outsides {
            let stretches = outside.weather.stretches(&plan.clock);
            let whole: f64 = stretches.map(|(step, length)| of(step.rain_mm_h) * length.hours() / 24.0).sum();
            let wet = outside.moments.iter().map(|moment| (moment, outside.weather.at(moment.at).rain_mm_h));
            let got: f64 = wet.map(|(moment, rain_mm_h)| moment.worth * of(rain_mm_h)).sum();
            exact += whole / outsides.len() as f64;
            off.push(got - whole);
        }
        let n = off.len() as f64;
        let mean = off.iter().sum::<f64>() / n;
        let spread = (off.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        assert!(mean.abs() < 4.0 * spread / n.sqrt(), "{power}: {mean} +- {spread} of {exact}");
        assert!(spread < rough * exact, "{power}: {spread} of {exact}");
    }
    // Those that are thorough, by themselves, divided by their weights.
    for power in [1.2, 3.6] {
        let (mut sums, mut whole) = ([0.0; 2], [0.0; 2]);
        for outside in &outsides {
            for (step, length) in outside.weather.stretches(&plan.clock).filter(|(step, _)| step.rain_mm_h > 0.0) {
                whole[0] += step.rain_mm_h.powf(power) * length.hours();
                whole[1] += length.hours();
            }
            let thorough = outside.moments.iter().filter(|moment| moment.thorough);
            for (moment, rain_mm_h) in thorough.map(|moment| (moment, outside.weather.at(moment.at).rain_mm_h)) {
                if rain_mm_h > 0.0 {
                    sums[0] += moment.worth * rain_mm_h.powf(power);
                    sums[1] += moment.weight;
                }
            }
        }
        let (got, exact) = (sums[0] / sums[1], whole[0] / whole[1]);
        assert!((got / exact - 1.0).abs() < 0.05, "{power}: {got} against {exact}");
    }
    let in_order = |outside: &Outside| outside.moments.is_sorted_by_key(|moment| moment.at);
    assert!(outsides.iter().all(in_order));
}
