//! The shortcut against the reference that draws every sample: whole seasons, for every kind of sensor and statistic.
//!
//! For each set-up the metrics that sensing decides are compared by their means over independent seasons, at a level
//! that is shared out over all comparisons (Bonferroni). So are, as distributions, the waits of arrivals and the delays of the
//! detector in question (two-sample chi-square tests), and the moments at which it first goes on in a season (two-sample
//! Kolmogorov-Smirnov test, one moment a season). The long tests do the same with many more seasons.

mod support;

#[path = "agreement/kinds.rs"]
mod kinds;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::{Histogram, SeasonRecord};
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::failure::{Failure, Hits, MODES, mode};
use dooryard::scenario::sensor::{End, NARROW, Sensor, SensorKind};
use dooryard::scenario::strategy::{BuiltIn, Condition, Detector, RatioTest, RunRule, Sense, Statistic};
use dooryard::sensing::channel::Sampling;
use rayon::prelude::*;
use statrs::distribution::{ChiSquared, ContinuousCDF as _, StudentsT};

const KEYS: [Key; 14] = [
    Key::FalseOpenings,
    Key::MissedArrivals,
    Key::MissedArrivalsExpected,
    Key::LateOpenings,
    Key::OpenTime,
    Key::Reversals,
    Key::WaitTotal,
    Key::Strokes,
    Key::ReadingsDropped,
    Key::OpenNobodyHome,
    Key::BeliefError,
    Key::ObstructionTrips,
    Key::DoorwayBlocked,
    Key::Resets,
];

/// Plenty of readings near the level, a background that is seen through noise, and a jumpy rule.
fn base() -> Scenario {
    let mut scenario = support::noisy();
    // One day on which it mows.
    scenario.calendar.first_day = jiff::civil::date(2025, 4, 2);
    scenario.calendar.last_day = scenario.calendar.first_day;
    scenario.sensors[1].period = Span(100_000);
    scenario
}

fn with(statistic: Statistic, change: impl Fn(&mut Scenario)) -> Scenario {
    let mut scenario = base();
    scenario.detectors[0].statistic = statistic;
    if matches!(statistic, Statistic::Cusum { .. } | Statistic::LikelihoodRatio(_)) {
        scenario.detectors[0].rule = RunRule { k: 1, n: 1 };
        scenario.detectors[0].release = RunRule { k: 1, n: 1 };
    }
    change(&mut scenario);
    scenario
}

fn setups() -> Vec<(&'static str, Scenario)> {
    let ratio = RatioTest {
        absent: 3.6,
        present: 2.6,
        spread: 0.2,
        false_alarm: 1e-4,
        false_rest: 1e-3,
        at_most: f64::INFINITY,
    };
    let aim = |scenario: &Scenario| match &scenario.sensors[0].kind {
        SensorKind::OpticalRange { aim, .. } => *aim,
        _ => unreachable!("the first sensor is the ranger"),
    };
    let none = |_: &mut Scenario| {};
    vec![
        ("level", with(Statistic::Level, none)),
        ("moving mean", with(Statistic::MovingMean(4), none)),
        ("moving median", with(Statistic::MovingMedian(5), none)),
        ("ewma", with(Statistic::Ewma { weight: 0.4 }, none)),
        ("cusum", with(Statistic::Cusum { limit: 0.3 }, none)),
        ("likelihood ratio", with(Statistic::LikelihoodRatio(ratio), none)),
        (
            "approach rate",
            with(Statistic::ApproachRate(12), |scenario| {
                let detector = &mut scenario.detectors[0];
                (detector.sense, detector.on, detector.off) = (Sense::Above, 0.25, 0.05);
                scenario.sensors[0].errors.noise = 0.02;
                scenario.sensors[0].errors.noise_growth = 0.0;
            }),
        ),
        (
            "ultrasonic",
            with(Statistic::Level, |scenario| {
                scenario.sensors[0].kind =
                    SensorKind::UltrasonicRange { aim: aim(scenario), background_m: Some(3.6), compensated: false };
            }),
        ),
        (
            "photons",
            with(Statistic::Level, |scenario| {
                scenario.sensors[0].kind = SensorKind::PhotonRange {
                    aim: aim(scenario),
                    photon: NARROW,
                    background: Some((3.6, 0.3)),
                    dew: 0.3,
                    dirt_per_day: 0.01,
                };
            }),
        ),
    ]
}

/// Every failure mode that has something to hit, each so often that a day meets it, and as bad as it usually is; the
/// platform and an end switch are listened to.
fn failing(mut scenario: Scenario) -> Scenario {
    let listened = [3, scenario.detectors.len()];
    scenario.sensors.push(Sensor {
        name: "switch".into(),
        kind: SensorKind::EndSwitch { end: End::Shut },
        period: Span(20_000),
        latency: Span::ZERO,
        errors: support::PERFECT,
    });
    let switch = Detector {
        name: "shut".into(),
        sensor: scenario.sensors.len() - 1,
        statistic: Statistic::Level,
        sense: Sense::Above,
        on: 0.5,
        off: 0.5,
        rule: RunRule { k: 1, n: 1 },
        release: RunRule { k: 2, n: 2 },
        ..scenario.detectors[1].clone()
    };
    scenario.detectors.push(switch);
    let unheard = Condition::All(vec![
        Condition::Any(listened.map(Condition::Detector).to_vec()),
        Condition::BuiltIn(BuiltIn::Never),
    ]);
    let strategy = &mut scenario.strategies[0];
    strategy.hold = Condition::Any(vec![strategy.hold.clone(), unheard]);
    for mode in MODES.iter().filter_map(|listed| mode(listed.name)) {
        let fits = |index: &usize| mode.hits.fits(&scenario.sensors[*index].kind);
        let mut failure = Failure::usual(mode, (0..scenario.sensors.len()).filter(fits).collect());
        if failure.sensors.is_empty() && mode.hits != Hits::Nothing {
            continue;
        }
        // Two a day, none of them for much longer than an hour, so that they come and go.
        if failure.per_year > 0.0 {
            failure.per_year = failure.per_year.max(730.0);
        }
        failure.lasts.mean_s = failure.lasts.mean_s.min(3_600.0);
        failure.lasts.sd_s = failure.lasts.sd_s.min(1_800.0);
        // By hand, without power or hunting it would do little else.
        if matches!(mode.name, "manual-left-on" | "power-loss" | "hunting" | "end-switch-stuck") {
            failure.per_year = 100.0;
        }
        scenario.failures.push(failure);
    }
    assert!(scenario.failures.len() > 40, "{}", scenario.failures.len());
    scenario
}

/// The same with failures at work, for each kind of ranger, and for noise that remembers.
fn failing_setups() -> Vec<(&'static str, Scenario)> {
    let mut setups: Vec<(&str, Scenario)> = setups()
        .into_iter()
        .filter(|(name, _)| ["level", "ultrasonic", "photons"].contains(name))
        .map(|(name, scenario)| (name, failing(scenario)))
        .collect();
    let mut remembered = base();
    remembered.sensors[0].errors.noise_correlation = 0.6;
    let mut drifting = base();
    let errors = &mut drifting.sensors[0].errors;
    (errors.random_drift, errors.random_drift_s) = (0.06, 900.0);
    setups.push(("random drift", drifting.clone()));
    setups.push(("random drift, failures", failing(drifting)));
    setups.push(("noise that remembers", remembered.clone()));
    setups.push(("noise that remembers, failures", failing(remembered)));
    setups
}

fn seasons(scenario: &Scenario, sampling: Sampling, first: u64, count: u64) -> Vec<SeasonRecord> {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let outside = |number| Outside::draw(&plan, 77, number).expect("weather");
    let options = Options { sampling, events: true };
    let named = &scenario.detectors[watched(scenario)].name;
    let one = |number| {
        let mut record = play(&plan, &outside(number), 0, 77, options);
        // Thousands of whole logs would fill the memory of most machines.
        record.events.retain(|row| row.who == *named && row.what == "detector on");
        record.events.shrink_to_fit();
        record
    };
    (first..first + count).into_par_iter().map(one).collect()
}

/// What is compared: the metrics, how often the detector in question goes on and makes false runs, and its delay in
/// noticing an approach.
const FIGURES: usize = KEYS.len() + 3;

/// The detector in question: the one of [`kinds`], or the first.
fn watched(scenario: &Scenario) -> usize {
    scenario.detectors.iter().position(|detector| detector.name == kinds::LISTENED).unwrap_or(0)
}

/// The moments at which the detector in question goes on, s.
fn goes_on(record: &SeasonRecord) -> impl Iterator<Item = f64> + '_ {
    record.events.iter().map(|row| row.at.seconds())
}

fn figure(scenario: &Scenario, record: &SeasonRecord, place: usize) -> f64 {
    let detector = watched(scenario);
    let tally = &record.detectors[detector];
    match place.checked_sub(KEYS.len()) {
        None => record.value(KEYS[place]),
        Some(0) => tally.false_runs.counted.iter().sum::<u64>() as f64,
        Some(1) => goes_on(record).count() as f64,
        Some(_) => {
            let bins = tally.after.counts.iter().enumerate();
            let sum: f64 = bins.map(|(bin, count)| 0.1 * bin as f64 * *count as f64).sum();
            sum / tally.after.total().max(1) as f64
        }
    }
}

fn moments(scenario: &Scenario, records: &[SeasonRecord], place: usize) -> (f64, f64) {
    let n = records.len() as f64;
    let figures: Vec<f64> = records.iter().map(|record| figure(scenario, record, place)).collect();
    let mean = figures.iter().sum::<f64>() / n;
    let square = figures.iter().map(|figure| (figure - mean).powi(2)).sum::<f64>();
    (mean, square / (n - 1.0) / n)
}

/// P-value of a two-sample Kolmogorov-Smirnov test (Stephens' form of the asymptotic law; ties make it cautious).
fn same_law(mut a: Vec<f64>, mut b: Vec<f64>) -> f64 {
    a.sort_by(f64::total_cmp);
    b.sort_by(f64::total_cmp);
    let share = |sorted: &[f64], at: f64| sorted.partition_point(|value| *value <= at) as f64 / sorted.len() as f64;
    let farthest = a.iter().chain(&b).map(|at| (share(&a, *at) - share(&b, *at)).abs()).fold(0.0, f64::max);
    let n = ((a.len() * b.len()) as f64 / (a.len() + b.len()) as f64).sqrt();
    let lambda = (n + 0.12 + 0.11 / n) * farthest;
    if lambda < 0.3 {
        return 1.0;
    }
    let term = |j: i32| 2.0 * (-1.0_f64).powi(j - 1) * (-2.0 * f64::from(j * j) * lambda * lambda).exp();
    (1..100).map(term).sum::<f64>().clamp(0.0, 1.0)
}

/// The test itself: equal laws give evenly spread p-values, different ones tiny ones.
#[test]
fn the_two_sample_test_knows_equal_laws_from_different_ones() {
    let mut stream = dooryard::math::random::Source::new(4, 0, "two samples").stream(0);
    let mut draw = |more: f64| (0..300).map(|_| stream.normal() + more).collect::<Vec<_>>();
    let small = (0..400).filter(|_| same_law(draw(0.0), draw(0.0)) < 0.1).count();
    // 40 expected, standard deviation 6.
    assert!((16..64).contains(&small), "{small}");
    assert!(same_law(draw(0.0), draw(0.5)) < 1e-4);
}

/// P-value of a two-sample chi-square test of histograms summed up over seasons, `width` of their bins pooled, and more until
/// they hold ten.
fn histograms_agree<'r>(
    exact: &'r [SeasonRecord],
    every: &'r [SeasonRecord],
    width: usize,
    of: impl Fn(&'r SeasonRecord) -> &'r Histogram,
) -> Option<f64> {
    let bins = |records: &'r [SeasonRecord]| {
        let mut counts = vec![0.0_f64; 200];
        for record in records {
            for (bin, count) in of(record).counts.iter().enumerate() {
                counts[(bin / width).min(199)] += *count as f64;
            }
        }
        counts
    };
    let (mut pooled, mut sum) = (Vec::new(), (0.0, 0.0));
    for (a, b) in bins(exact).into_iter().zip(bins(every)) {
        sum = (sum.0 + a, sum.1 + b);
        if sum.0 + sum.1 >= 20.0 {
            pooled.push(sum);
            sum = (0.0, 0.0);
        }
    }
    let (m, n) = pooled.iter().fold((0.0, 0.0), |(m, n), (a, b)| (m + a, n + b));
    if pooled.len() < 2 {
        return None;
    }
    let chi: f64 = pooled.iter().map(|(a, b)| (a * (n / m).sqrt() - b * (m / n).sqrt()).powi(2) / (a + b)).sum();
    ChiSquared::new((pooled.len() - 1) as f64).ok().map(|law| law.sf(chi))
}

/// The chance of a false alarm over all comparisons of fresh seeds.
const LEVEL: f64 = 1e-3;

fn compare(setups: &[(&str, Scenario)], count: u64) {
    let comparisons = (setups.len() * (FIGURES + 3)) as f64;
    let student = StudentsT::new(0.0, 1.0, (2 * count - 2) as f64).expect("degrees of freedom");
    let limit = -student.inverse_cdf(0.5 * LEVEL / comparisons);
    assert!((3.0..12.0).contains(&limit), "{limit}");
    let mut moved = 0;
    for (name, scenario) in setups {
        let detector = watched(scenario);
        let exact = seasons(scenario, Sampling::Exact, 0, count);
        let every = seasons(scenario, Sampling::Every, 1_000_000, count);
        for place in 0..FIGURES {
            let ((a, va), (b, vb)) = (moments(scenario, &exact, place), moments(scenario, &every, place));
            let error = (va + vb).sqrt();
            moved += usize::from(a > 0.0 && b > 0.0);
            assert!(
                (a - b).abs() <= limit * error + 1e-9,
                "{name}, figure {place}: exact {a}, every {b}, error {error}"
            );
        }
        // Bins of two seconds for waits, of half a second for delays.
        let waits = histograms_agree(&exact, &every, 20, |record| &record.waits);
        let delays = histograms_agree(&exact, &every, 5, |record| &record.detectors[detector].after);
        // A season in which it never goes on counts as later than all others.
        let first = |records: &[SeasonRecord]| {
            records.iter().map(|record| goes_on(record).next().unwrap_or(f64::INFINITY)).collect()
        };
        let first = Some(same_law(first(&exact), first(&every)));
        for (what, p) in [("waits", waits), ("delays", delays), ("first moments of going on", first)] {
            assert!(p.is_none_or(|p| p > LEVEL / comparisons), "{name}: {what} differ, p = {p:?}");
        }
    }
    assert!(moved > setups.len() * FIGURES / 3, "only {moved} figures moved");
}

#[test]
fn the_shortcut_agrees_with_every_sample() {
    compare(&setups(), 12);
}

#[test]
fn the_shortcut_agrees_with_every_sample_for_other_kinds() {
    compare(&kinds::setups(), 12);
}

/// The same with failures at work. What failures change reaches a sensor's law through changes of the season's state alone,
/// so that skipping must stay exact.
#[test]
fn the_shortcut_agrees_with_every_sample_while_things_fail() {
    compare(&failing_setups(), 8);
}

#[test]
#[ignore = "takes half an hour: 18 000 seasons"]
fn the_shortcut_agrees_with_every_sample_over_thousands_of_seasons() {
    compare(&setups(), 1_000);
}

#[test]
#[ignore = "takes an hour: 42 000 seasons"]
fn the_shortcut_agrees_with_every_sample_for_other_kinds_over_thousands_of_seasons() {
    compare(&kinds::setups(), 1_000);
}

#[test]
#[ignore = "takes a quarter of an hour: 5 000 seasons"]
fn the_shortcut_agrees_with_every_sample_while_things_fail_over_thousands_of_seasons() {
    compare(&failing_setups(), 500);
}
