//! Noise that remembers from sample to sample: the shortcut against drawing every sample, run lengths and misses against
//! a table and against detectors at work.

mod common;
mod support;

use std::sync::atomic::AtomicBool;

use common::Tally;
use dooryard::engine::Plan;
use dooryard::ledger::metric::Key;
use dooryard::math::random::Source;
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::Scenario;
use dooryard::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};
use dooryard::sensing::approach::{Evidence, Mass, QuietChain};
use dooryard::sensing::channel::{Channel, Sampling};
use dooryard::sensing::detector::DetectorState;
use dooryard::sensing::law::{Law, Reading, Spurious, Target};
use dooryard::sensing::noise::Noise;
use dooryard::sensing::remembered::{RememberedMass, run_length};
use dooryard::sensing::statistic::Frame;
use dooryard::study::rare::{RareSettings, rare_misses};
use dooryard::study::result::RunResult;
use dooryard::study::run::{RunSettings, run};

const PERIOD: Span = Span(50_000);

fn detector(statistic: Statistic, rule: RunRule, dropped: Dropped) -> Detector {
    Detector {
        name: "d".into(),
        sensor: 0,
        statistic,
        sense: Sense::Below,
        on: 1.2,
        off: 1.3,
        rule,
        release: RunRule { k: 2, n: 3 },
        dropped,
        says: Vec::new(),
    }
}

fn law(mean: f64, sigma: f64, drop: f64, spurious: f64) -> Law {
    let mut law = Law::SILENT;
    law.targets[0] = Target { weight: 1.0 - drop - spurious, mean, sigma };
    law.spurious = Spurious { weight: spurious, low: 0.1, high: mean };
    (law.resolution, law.lowest, law.highest) = (0.01, 0.1, 5.0);
    law
}

/// Change-overs of the detector, the samples that it was on, and the samples until it first changed over.
fn play(sampling: Sampling, detector: &Detector, correlation: f64, seed: u64, laws: &[Law], samples: i64) -> [f64; 3] {
    let frame = Frame { resolution: 0.01, period: PERIOD, farthest: 5.0 };
    let states = vec![DetectorState::new(detector, &frame)];
    let mut channel = Channel::new(PERIOD, Source::new(seed, 0, "eye"), states, sampling).correlate(correlation);
    let (mut changes, mut on, mut since, mut first) = (0.0, 0.0, Instant::START, f64::NAN);
    for (piece, law) in laws.iter().enumerate() {
        let start = Instant(piece as i64 * samples * PERIOD.0);
        let end = start + Span(samples * PERIOD.0);
        channel.set_law(start, *law, false, false);
        while channel.next_time() < end {
            let now = channel.next_time();
            if channel.sample(|_| unreachable!("nothing moves here")) & 1 == 0 {
                continue;
            }
            changes += 1.0;
            if first.is_nan() {
                first = now.since(Instant::START).seconds();
            }
            if channel.is_on(0) {
                since = now;
            } else {
                on += now.since(since).seconds();
            }
        }
    }
    let whole = laws.len() as f64 * samples as f64 * PERIOD.seconds();
    [changes, on, if first.is_nan() { whole } else { first }]
}

/// Skipping and drawing every sample agree in their means over independent seeds, whatever the statistic and the
/// convention, with laws that change every `samples` samples: 3 outputs x 9 set-ups x 2 at 4.5 standard errors.
#[test]
fn skipping_agrees_with_every_sample() {
    let mut nobody = law(2.0, 0.1, 0.02, 0.01);
    (nobody.far, nobody.targets[0].weight) = (nobody.targets[0].weight, 0.0);
    let setups = [
        (Statistic::Level, RunRule { k: 1, n: 1 }, Dropped::Quiet, 0.6),
        (Statistic::Level, RunRule { k: 3, n: 5 }, Dropped::Quiet, 0.9),
        (Statistic::Level, RunRule { k: 2, n: 3 }, Dropped::Hold, 0.3),
        (Statistic::Level, RunRule { k: 2, n: 2 }, Dropped::Reset, 0.95),
        (Statistic::MovingMean(4), RunRule { k: 2, n: 3 }, Dropped::Quiet, 0.6),
        (Statistic::MovingMedian(3), RunRule { k: 1, n: 1 }, Dropped::Hold, 0.8),
        (Statistic::Ewma { weight: 0.4 }, RunRule { k: 1, n: 1 }, Dropped::Quiet, 0.7),
    ];
    let n = 40;
    for samples in [700, 37] {
        let laws: Vec<Law> = (0..(14_000 / samples))
            .map(|i| match i % 6 {
                0 | 3 => law(2.0, 0.25, 0.02, 1e-3),
                1 => law(1.8, 0.17, 0.1, 1e-4),
                2 => nobody,
                4 => law(1.1, 0.2, 0.2, 0.0),
                _ => Law::SILENT,
            })
            .collect();
        for (statistic, rule, dropped, correlation) in setups {
            let detector = detector(statistic, rule, dropped);
            let moments = [Sampling::Exact, Sampling::Every].map(|sampling| {
                let seeds = if sampling == Sampling::Exact { 0..n } else { 10_000..10_000 + n };
                let found: Vec<[f64; 3]> =
                    seeds.map(|seed| play(sampling, &detector, correlation, seed, &laws, samples)).collect();
                [0, 1, 2].map(|place| {
                    let mean = found.iter().map(|values| values[place]).sum::<f64>() / n as f64;
                    (mean, found.iter().map(|values| (values[place] - mean).powi(2)).sum::<f64>() / (n * n) as f64)
                })
            });
            let [exact, every] = moments;
            assert!(exact[0].0 > 2.0, "{statistic:?}: {exact:?}");
            for ((a, va), (b, vb)) in exact.into_iter().zip(every) {
                let error = (va + vb).sqrt();
                assert!(
                    (a - b).abs() <= 4.5 * error,
                    "{samples} {statistic:?} {rule:?} {dropped:?}: {a} {b} +- {error}"
                );
            }
        }
    }
}

/// The law of the run length against the table: its Monte Carlo within 4 of its standard errors; its chain within the error of
/// that chain's cells, which grows as the transition narrows (0.3 % at a correlation of 0.9; that cells err so, and that
/// ever smaller ones lead to the law here, is shown beside the code); and without correlation the exact mean.
#[test]
fn run_lengths_of_correlated_noise() {
    let mut tally = Tally::default();
    for row in common::records("sensing/ar1_effect.csv") {
        let n = |key: &str| common::number(&row, key);
        let rule = RunRule { k: n("k") as usize, n: n("n") as usize };
        let law = run_length(rule, n("p_hit"), n("lag1_corr")).expect("a small rule");
        let mean = law.moments().mean;
        let text = format!("{row:?}");
        tally.check_within("Monte Carlo", &text, mean, n("mc_mean"), 4.0 * n("mc_se"));
        tally.check_within("chain", &text, mean, n("ar1_chain_mean_samples"), 3e-3 * mean);
        if n("lag1_corr") == 0.0 {
            tally.check_within("independent", &text, mean, n("iid_mean_samples"), 1e-9 * mean);
        }
    }
    tally.finish(18);
}

/// Detectors at work on drawn readings of an approach, started without evidence: the share that stays off against the
/// exact probability, 4.5 standard errors; far from what independent samples would give.
#[test]
fn the_chance_to_stay_off_with_correlated_noise() {
    let approach = |sample: i64| law(2.6 - 0.03 * sample as f64, 0.3, 0.25, 0.01);
    let (samples, runs) = (38, 20_000);
    for (statistic, rule, dropped, correlation) in [
        (Statistic::Level, RunRule { k: 3, n: 5 }, Dropped::Quiet, 0.6),
        (Statistic::Level, RunRule { k: 4, n: 4 }, Dropped::Hold, 0.9),
        (Statistic::MovingMedian(3), RunRule { k: 2, n: 3 }, Dropped::Quiet, 0.8),
        (Statistic::Level, RunRule { k: 2, n: 2 }, Dropped::Reset, 0.3),
    ] {
        let detector = detector(statistic, rule, dropped);
        let chain = QuietChain::new(&detector, 0.01).expect("made of hits");
        let mut remembered = RememberedMass::new(correlation);
        let mut independent = Mass::default();
        assert!(chain.start(Evidence { hits: 0, spoke: 0 }, &mut independent));
        for sample in 0..samples {
            remembered.step(&chain, &approach(sample));
            chain.step(chain.odds(&approach(sample)), &mut independent, 0.0);
        }
        let exact = remembered.total();
        assert!((0.01..0.99).contains(&exact), "{exact}");
        let frame = Frame { resolution: 0.01, period: PERIOD, farthest: 5.0 };
        let mut stream = Source::new(41, 0, "approach").stream(0);
        let mut stayed = 0;
        for _ in 0..runs {
            let mut state = DetectorState::new(&detector, &frame);
            // A median speaks once its window is full.
            (0..10).for_each(|_| {
                state.feed(Reading::Value(4.0));
            });
            let mut noise = Noise::stationary(correlation, &mut stream);
            stayed += i32::from((0..samples).all(|sample| {
                let value = noise.step(&mut stream);
                !state.feed(approach(sample).at_noise(value).draw(&mut stream))
            }));
        }
        let share = f64::from(stayed) / f64::from(runs);
        let error = (exact * (1.0 - exact) / f64::from(runs)).sqrt();
        assert!((share - exact).abs() < 4.5 * error, "{statistic:?} {correlation}: {share} against {exact} +- {error}");
        assert!((independent.total() - exact).abs() > 10.0 * error, "{statistic:?}: {exact} tells nothing");
    }
    // Without correlation it is the programme for independent samples, down to where nothing is left.
    let chain =
        QuietChain::new(&detector(Statistic::Level, RunRule { k: 3, n: 5 }, Dropped::Quiet), 0.01).expect("hits");
    let (mut remembered, mut independent) = (RememberedMass::new(1e-9), Mass::default());
    assert!(chain.start(Evidence { hits: 0, spoke: 0 }, &mut independent));
    for sample in 0..60 {
        remembered.step(&chain, &approach(sample));
        chain.step(chain.odds(&approach(sample)), &mut independent, 0.0);
    }
    let (a, b) = (remembered.total(), independent.total());
    assert!(b < 0.05 && (a / b - 1.0).abs() < 1e-6, "{a} {b}");
}

/// A season whose ranger remembers: its arrivals are counted rather than worked out, and the report says so; `misses`
/// works them out, and finds more of them than with independent noise.
#[test]
fn the_formula_for_independent_samples_is_not_used() {
    let mut scenario = support::usual();
    scenario.calendar.last_day = jiff::civil::date(2025, 4, 7);
    scenario.visitors.clear();
    let eye = &mut scenario.sensors[0].errors;
    (eye.noise, eye.dropout) = (0.25, 0.2);
    scenario.sensors[0].period = Span(200_000);
    scenario.detectors[0].on = 0.8;
    scenario.detectors[0].off = 0.9;
    let chance = |scenario: &Scenario| {
        let plan = Plan::new(scenario).expect("planned");
        let settings = RareSettings { strategy: 0, seed: 3, seasons: 2, draws: 100, defensive: 0.5, confidence: 0.95 };
        rare_misses(&plan, &settings).expect("weather").map(|found| found.chance.mean)
    };
    let white = chance(&scenario).expect("approaches");
    let settings = |stop| RunSettings {
        seasons: 2,
        first_season: 0,
        seed: 3,
        strategies: vec![0, 1],
        threads: Some(1),
        events: false,
        sampling: Sampling::Exact,
        confidence: 0.95,
        stop,
    };
    let stop = AtomicBool::new(false);
    let played = |scenario: &Scenario| run(scenario, "", &settings(&stop), &|_| {}).expect("played");
    let integrated = |result: &RunResult| result.strategies[0].estimates[Key::ArrivalsIntegrated as usize].mean;
    let plain = played(&scenario);
    assert!(integrated(&plain) > 0.0 && plain.warnings.is_empty(), "{:?}", plain.warnings);
    scenario.sensors[0].errors.noise_correlation = 0.6;
    let remembered = played(&scenario);
    assert_eq!(integrated(&remembered), 0.0);
    let [warning] = &remembered.warnings[..] else { panic!("{:?}", remembered.warnings) };
    assert!(warning.starts_with("eye: the noise of eye (0.6 ") && warning.contains("misses"), "{warning}");
    let found = chance(&scenario).expect("approaches");
    assert!(found > 1.2 * white, "{found} against {white}");
}
