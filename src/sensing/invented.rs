//! What the tests of this room are about: detectors of no particular shelter.

use super::detector::DetectorState;
use super::law::{Law, Target};
use super::statistic::Frame;
use crate::math::random::Stream;
use crate::math::time::Span;
use crate::scenario::sensor::{Aim, Errors, Sensor, SensorKind};
use crate::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};

/// A detector of small readings that goes on and off with a single sample.
pub fn detector(statistic: Statistic, (on, off): (f64, f64)) -> Detector {
    Detector {
        name: "invented".into(),
        sensor: 0,
        statistic,
        sense: Sense::Below,
        on,
        off,
        rule: RunRule { k: 1, n: 1 },
        release: RunRule { k: 1, n: 1 },
        dropped: Dropped::Quiet,
        says: Vec::new(),
    }
}

/// A ranger of ten samples a second that sees 4 m far.
pub fn ranger(resolution: f64) -> Sensor {
    let aim = Aim {
        position_m: [0.0, 0.0, 0.2],
        yaw_deg: 0.0,
        pitch_deg: 0.0,
        half_cone_deg: 10.0,
        nearest_m: 0.0,
        farthest_m: 4.0,
    };
    Sensor {
        name: "eye".into(),
        kind: SensorKind::OpticalRange { aim, farthest_sun_m: 4.0, background_m: Some(2.0) },
        period: Span(100_000),
        latency: Span::ZERO,
        errors: Errors { resolution, ..Errors::NONE },
    }
}

/// Readings of such a ranger that are normal.
pub fn normal(mean: f64, sigma: f64) -> Law {
    let mut law = Law { lowest: 0.1, highest: 4.0, ..Law::SILENT };
    law.targets[0] = Target { weight: 1.0, mean, sigma };
    law
}

/// How often a sample a detector at work goes on, and the share of the samples after which it is on: each with its standard error, from the
/// scatter of 40 batches of 20,000 samples.
pub fn at_work(detector: &Detector, sensor: &Sensor, law: &Law, stream: &mut Stream) -> [[f64; 2]; 2] {
    const BATCHES: usize = 40;
    const SAMPLES: usize = 20_000;
    let mut state = DetectorState::new(detector, &Frame::of(sensor));
    let mut batches = [[0.0; 2]; BATCHES];
    for [often, share] in &mut batches {
        for _ in 0..SAMPLES {
            let changed = state.feed(law.draw(stream));
            *often += f64::from(u8::from(changed && state.is_on())) / SAMPLES as f64;
            *share += f64::from(u8::from(state.is_on())) / SAMPLES as f64;
        }
    }
    mean_and_error(&batches)
}

/// Means of pairs of numbers, each with its standard error.
pub fn mean_and_error(pairs: &[[f64; 2]]) -> [[f64; 2]; 2] {
    let n = pairs.len() as f64;
    [0, 1].map(|which| {
        let mean = pairs.iter().map(|it| it[which]).sum::<f64>() / n;
        let squares: f64 = pairs.iter().map(|it| (it[which] - mean) * (it[which] - mean)).sum();
        [mean, (squares / (n * (n - 1.0))).sqrt()]
    })
}
