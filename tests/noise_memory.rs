//! Noise that remembers from sample to sample: the shortcut against drawing every sample, run lengths and misses against
//! a table and against detectors at work.

mod common;
mod support;

use dooryard::math::random::Source;
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};
use dooryard::sensing::channel::{Channel, Sampling};
use dooryard::sensing::detector::DetectorState;
use dooryard::sensing::law::{Law, Spurious, Target};
use dooryard::sensing::statistic::Frame;

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
    let n = 150;
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
