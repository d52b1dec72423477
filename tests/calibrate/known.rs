//! Known sensors are found again: logs drawn from the project's own sensor model, and false runs from detectors at work.

use dooryard::math::random::Source;
use dooryard::math::time::Span;
use dooryard::scenario::sensor::{Aim, Errors, Sensor, SensorKind};
use dooryard::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};
use dooryard::sensing::detector::DetectorState;
use dooryard::sensing::law::Reading;
use dooryard::sensing::reading::{Eye, Sky, Surroundings};
use dooryard::sensing::statistic::Frame;
use dooryard::study::calibrate::Measured;
use dooryard::study::calibrate::feedback::false_runs_per_day;
use dooryard::study::calibrate::figures::figures;
use dooryard::study::calibrate::still::{Sign, Still, Verdict, still};
use dooryard::world::log::{LogRow, StillLog};

/// Distance of the wall that stands still.
const WALL_M: f64 = 1.2;

fn ranger(errors: Errors) -> Sensor {
    let aim = Aim {
        position_m: [0.0, 0.0, 0.15],
        yaw_deg: 0.0,
        pitch_deg: 0.0,
        half_cone_deg: 2.0,
        nearest_m: 0.1,
        farthest_m: 4.0,
    };
    Sensor {
        name: "eye".to_owned(),
        kind: SensorKind::OpticalRange { aim, farthest_sun_m: 4.0, background_m: Some(WALL_M) },
        period: Span::from_seconds(0.05),
        latency: Span::ZERO,
        errors,
    }
}

fn errors() -> Errors {
    Errors {
        bias: 0.013,
        noise: 0.0062,
        resolution: 0.001,
        dropout: 0.01,
        dropout_rain: 0.01,
        spurious: 0.004,
        ..Errors::NONE
    }
}

const SKY: Sky = Sky::dark(20.0);

/// `n` samples of the sensor before its wall, the readings off by `drift(sample)`.
fn log(sensor: &Sensor, n: usize, number: u64, mut drift: impl FnMut(usize) -> f64) -> StillLog {
    let eye = Eye::new(sensor);
    let mut stream = Source::new(11, number, "known sensor").stream(0);
    let rows = (0..n)
        .map(|sample| {
            let mut seeing = eye.seeing(&SKY);
            seeing.offset += drift(sample);
            let law = eye.law(&Surroundings::before_shut_door(&[], SKY, seeing));
            let reading = match law.draw(&mut stream) {
                Reading::Value(value) if value.is_finite() => Some(value),
                _ => None,
            };
            LogRow { line: sample as u64 + 2, time_s: 0.05 * sample as f64, reading }
        })
        .collect();
    StillLog { rows, begins: None, warnings: Vec::new() }
}

/// Thirty logs: every figure's 95 % interval holds the truth in as many as it should, 4.5 standard errors of a share
/// allowed (at least 23 of 30), and the means agree with the truth within 4.5 of their own standard errors.
#[test]
fn a_known_ranger() {
    let repeats = 30;
    let truth = [0.013, 0.0062, 0.01, 0.004];
    let (mut held, mut sums, mut squares, mut whites) = ([0; 4], [0.0; 4], [0.0; 4], 0);
    for number in 0..repeats {
        let got = still(&log(&ranger(errors()), 4_000, number, |_| 0.0), Some(WALL_M), 0.95).expect("noise");
        assert_eq!(got.step, 0.001);
        assert!((got.sampling.period_s - 0.05).abs() < 1e-12);
        whites += i32::from(got.verdict == Verdict::White);
        let found = figures(&got, "optical range", 0.1);
        let figures = [
            found.bias.expect("a truth"),
            found.noise.expect("a noise"),
            found.dropout,
            found.spurious.expect("a rate"),
        ];
        for (index, figure) in figures.into_iter().enumerate() {
            held[index] += i32::from(figure.low() <= truth[index] && truth[index] <= figure.high());
            sums[index] += figure.value;
            squares[index] += figure.value * figure.value;
        }
    }
    let n = repeats as f64;
    for index in 0..4 {
        assert!(held[index] >= 23, "figure {index}: {} of {repeats} intervals hold the truth", held[index]);
        let mean = sums[index] / n;
        let error = ((squares[index] / n - mean * mean) / (n - 1.0)).sqrt();
        assert!((mean - truth[index]).abs() < 4.5 * error, "figure {index}: {mean} +- {error}, {}", truth[index]);
    }
    // One log in a hundred may cry drift by each of two tests.
    assert!(whites >= 27, "{whites} of {repeats} are called white");
}

/// A slow drift of 5 mm that forgets itself within 3 s: seen, measured, and not taken for white noise.
#[test]
fn a_known_drift() {
    let (memory, strength) = (60.0_f64, 0.005);
    let mut stream = Source::new(12, 0, "known drift").stream(0);
    let mut state = stream.normal();
    let path: Vec<f64> = (0..12_000)
        .map(|_| {
            state = (-1.0 / memory).exp() * state + (1.0 - (-2.0 / memory).exp()).sqrt() * stream.normal();
            strength * state
        })
        .collect();
    let got: Still =
        still(&log(&ranger(errors()), 12_000, 99, |sample| path[sample]), Some(WALL_M), 0.95).expect("noise");
    assert_eq!(got.verdict, Verdict::Drift);
    assert!(got.lag_one.value > 0.1 && got.effective < 1_500.0);
    let drift = got.drift.expect("a drift");
    // 4.5 standard errors on a scale of logarithms; a 95 % interval is 3.92 of them wide.
    let within = |measured: Measured, truth: f64| {
        let error = (measured.high() / measured.low()).ln() / 3.92;
        assert!((measured.value / truth).ln().abs() < 4.5 * error && error < 0.5, "{truth}, {measured:?}");
    };
    within(drift.slow, strength);
    within(drift.time_s, 3.0);
    within(got.white, 0.0062);
    assert!(drift.turns);
    // All noise together is more than the white one: what a careless reader would take for it.
    assert!(got.sigma.low() > got.white.high());
}

/// Four days of a reading a minute that rise by 2 mm a day: the only log that fills `drift_per_day`.
#[test]
fn a_log_of_days() {
    let sensor = ranger(Errors { noise: 0.004, dropout: 0.0, spurious: 0.0, dropout_rain: 0.0, ..errors() });
    let days = |sample: usize| sample as f64 / 1_440.0;
    let mut log = log(&sensor, 5_760, 5, |sample| 0.002 * days(sample));
    log.rows.iter_mut().for_each(|row| row.time_s *= 60.0 / 0.05);
    let got = still(&log, Some(WALL_M), 0.95).expect("noise");
    assert!(got.signs.iter().any(|sign| matches!(sign, Sign::Line(_))), "{:?}", got.signs);
    let drift = figures(&got, "optical range", 0.1).drift_per_day.expect("a log of days");
    let error = (drift.high() - drift.low()) / 3.92;
    assert!((drift.value - 0.002).abs() < 4.5 * error && error < 3e-4, "{drift:?}");
    let day = StillLog { rows: log.rows[..1_400].to_vec(), ..log };
    assert_eq!(figures(&still(&day, None, 0.95).expect("noise"), "optical range", 0.1).drift_per_day, None);
}

#[test]
fn a_short_log_and_a_coarse_step() {
    let got = still(&log(&ranger(errors()), 500, 1, |_| 0.0), Some(WALL_M), 0.95).expect("noise");
    assert_eq!(got.verdict, Verdict::TooFew);
    let coarse = Errors { resolution: 0.02, noise: 0.003, ..errors() };
    let got = still(&log(&ranger(coarse), 4_000, 2, |sample| if sample % 40 == 0 { 0.01 } else { 0.0 }), None, 0.95)
        .expect("noise");
    let found = figures(&got, "optical range", 0.1);
    assert!(found.hidden && found.bias.is_none(), "{found:?}");
    assert!((found.noise.expect("a noise").value - 0.005).abs() < 1e-12);
}

/// The mean rate of false runs against a detector at work on drawn readings, with and without slow drift (constant over
/// each of many stretches), 4.5 standard errors of the counts.
#[test]
fn false_runs_of_detectors_at_work() {
    let mut noisy = errors();
    (noisy.noise, noisy.dropout, noisy.spurious) = (0.1, 0.1, 0.03);
    let sensor = ranger(noisy);
    let frame = Frame { resolution: 0.001, period: Span::from_seconds(0.05), farthest: 4.0 };
    let eye = Eye::new(&sensor);
    for (number, (statistic, rule, slow)) in
        [(Statistic::Level, (2, 4), 0.0), (Statistic::Level, (3, 5), 0.05), (Statistic::MovingMedian(3), (2, 3), 0.0)]
            .into_iter()
            .enumerate()
    {
        let detector = Detector {
            name: "near".to_owned(),
            sensor: 0,
            statistic,
            sense: Sense::Below,
            on: 1.1,
            off: 1.15,
            says: Vec::new(),
            rule: RunRule { k: rule.0, n: rule.1 },
            release: RunRule { k: 3, n: 3 },
            dropped: Dropped::Quiet,
        };
        let errors = Errors { random_drift: slow, ..sensor.errors };
        let drifting = Sensor { errors, ..sensor.clone() };
        let exact = false_runs_per_day(&detector, &drifting, &SKY).expect("a chain");
        let mut stream = Source::new(13, number as u64, "false runs").stream(0);
        let (stretches, length) = (200, 5_000);
        let counts: Vec<f64> = (0..stretches)
            .map(|_| {
                let mut seeing = eye.seeing(&SKY);
                seeing.offset += slow * stream.normal();
                let law = eye.law(&Surroundings::before_shut_door(&[], SKY, seeing));
                let mut state = DetectorState::new(&detector, &frame);
                (0..length).filter(|_| state.feed(law.draw(&mut stream)) && state.is_on()).count() as f64
            })
            .collect();
        let day = 86_400.0 / (0.05 * f64::from(length));
        let mean = counts.iter().sum::<f64>() / f64::from(stretches);
        let spread = counts.iter().map(|count| (count - mean) * (count - mean)).sum::<f64>();
        let error = (spread / f64::from(stretches - 1) / f64::from(stretches)).sqrt();
        // A stretch begins off, not in the middle of a cycle, and ends within one: that is up to one run.
        assert!(mean > 50.0, "{mean} runs in a stretch say little");
        let got = mean * day;
        assert!((got - exact).abs() < (4.5 * error + 1.0) * day, "{statistic:?} {rule:?}: {got}, exact {exact}");
    }
}
