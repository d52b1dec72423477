//! The search for a month's rain process: the generalised method of moments (Hansen 1982, Econometrica 50, 1029-1054)
//! with a diagonal weighting.
//!
//! Minimised is `sum of w (1 - model / observed)^2` over the targets, plus a mild penalty on windows beyond two days:
//! moments alone can't tell a storm of three weeks from a wet season. The mean is met exactly through iota. Bounds keep
//! to processes that are sound to simulate; below a shape of 2 the length of a storm would have no variance. Start:
//! 1,440 points, log-uniform within the bounds, the best eight by the simplex method, the best of these once more.

use crate::math::random::Source;
use crate::math::simplex::{Minimum, minimise};
use crate::scenario::weather::PulseMonth;
use crate::world::weather::pulses::moments::Moments;

/// One statistic that the model shall have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Which.
    pub what: What,
    /// Length of a block, h.
    pub hours: f64,
    /// Its value.
    pub value: f64,
    /// Its weight.
    pub weight: f64,
}

/// Kinds of targets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Standard deviation over mean.
    Variation,
    /// Correlation of neighbouring blocks.
    Lag1,
    /// Share of blocks with rain.
    Wet,
}

/// Bounds of lambda, kappa, phi, alpha, nu.
pub const BOUNDS: [(f64, f64); 5] = [(0.002, 0.2), (0.01, 12.0), (0.002, 0.9), (2.1, 25.0), (0.02, 12.0)];

/// Windows longer than this are penalised, h.
const LONG_WINDOW_H: f64 = 48.0;

/// Relative error of a variance or dry share beyond which it costs extra: two thirds of the report's tolerance, which
/// leaves the rest to the noise of the report's own drawn series.
const ROOM: f64 = 0.10;

/// What that costs, for the square of the part beyond. Large against the weights, so that a correlation gives way first.
const BEYOND: f64 = 50.0;

/// Points of the first sweep.
const POINTS: u64 = 1_440;

/// Best of them that are followed up.
const FOLLOWED: usize = 8;

/// The process at a point in logarithms; beyond the bounds that on the bound.
fn month(point: &[f64], hourly_mm: f64) -> PulseMonth {
    let at = |index: usize| libm::exp(point[index]).clamp(BOUNDS[index].0, BOUNDS[index].1);
    let (storms_per_h, cells, ending) = (at(0), at(1), at(2));
    PulseMonth {
        storms_per_h,
        intensity_mm: hourly_mm / (storms_per_h * (1.0 + cells / ending)),
        rate_shape: at(3),
        rate_scale_h: at(4),
        cells,
        ending,
    }
}

/// What is minimised.
pub fn objective(model: &PulseMonth, targets: &[Target]) -> f64 {
    let moments = Moments::new(model);
    let misfit = |target: &Target| {
        let value = match target.what {
            What::Variation => libm::sqrt(moments.variance(target.hours)) / moments.mean(target.hours),
            What::Lag1 => moments.correlation(target.hours),
            What::Wet => 1.0 - moments.dry(target.hours),
        };
        let off = 1.0 - value / target.value;
        // Variances and dry shares are judged, so it costs extra to leave what they are judged by.
        let judged = match target.what {
            What::Variation => (value / target.value).powi(2) - 1.0,
            What::Wet => (target.value - value) / (1.0 - target.value),
            What::Lag1 => 0.0,
        };
        let beyond = (judged.abs() - ROOM).max(0.0);
        target.weight * off * off + BEYOND * beyond * beyond
    };
    let long = libm::log(moments.window_h() / LONG_WINDOW_H).max(0.0);
    targets.iter().map(misfit).sum::<f64>() + 0.01 * long * long
}

/// The best process for the targets and a mean depth per hour above 0, with its objective.
pub fn search(targets: &[Target], hourly_mm: f64) -> (PulseMonth, f64) {
    let mut value = |point: &[f64]| {
        let beyond = |(x, (low, high)): (&f64, &(f64, f64))| {
            let outside = (libm::log(*low) - x).max(x - libm::log(*high)).max(0.0);
            outside * outside
        };
        let outside: f64 = point.iter().zip(&BOUNDS).map(beyond).sum();
        objective(&month(point, hourly_mm), targets) + outside
    };
    let source = Source::new(0, 0, "weather fit");
    let mut sweep: Vec<Minimum> = (0..POINTS)
        .map(|number| {
            let mut stream = source.stream(number);
            let at: Vec<f64> =
                BOUNDS.iter().map(|(low, high)| stream.between(libm::log(*low), libm::log(*high))).collect();
            Minimum { value: value(&at), at }
        })
        .collect();
    sweep.sort_by(|a, b| a.value.total_cmp(&b.value));
    let mut best: Option<Minimum> = None;
    for start in sweep.iter().take(FOLLOWED) {
        let found = minimise(&mut value, &start.at, 0.3, 1e-7, 600);
        if best.as_ref().is_none_or(|best| found.value < best.value) {
            best = Some(found);
        }
    }
    // A simplex that has collapsed starts anew.
    let mut best = best.unwrap_or_else(|| sweep.swap_remove(0));
    for edge in [0.2, 0.05] {
        best = minimise(&mut value, &best.at, edge, 1e-11, 2_000);
    }
    let model = tidy(month(&best.at, hourly_mm), hourly_mm);
    let value = objective(&model, targets);
    (model, value)
}

/// Four digits are more than any record determines; iota keeps the mean, with six.
fn tidy(model: PulseMonth, hourly_mm: f64) -> PulseMonth {
    let short = PulseMonth {
        storms_per_h: digits(model.storms_per_h, 4),
        rate_shape: digits(model.rate_shape, 4),
        rate_scale_h: digits(model.rate_scale_h, 4),
        cells: digits(model.cells, 4),
        ending: digits(model.ending, 4),
        ..model
    };
    let cells_per_storm = 1.0 + short.cells / short.ending;
    PulseMonth { intensity_mm: digits(hourly_mm / (short.storms_per_h * cells_per_storm), 6), ..short }
}

/// `value` with so many significant digits.
fn digits(value: f64, count: i32) -> f64 {
    if value <= 0.0 {
        return value;
    }
    let scale = libm::pow(10.0, f64::from(count - 1) - libm::floor(libm::log10(value)));
    // Through text, so that the shortest decimal is what is meant.
    let rounded = libm::round(value * scale) / scale;
    format!("{rounded:.12}").parse().unwrap_or(rounded)
}

/// Names of the parameters that a fit left on a bound; alpha on its lower bound is usual and not listed.
pub fn on_bounds(model: &PulseMonth) -> Vec<&'static str> {
    let values = [model.storms_per_h, model.cells, model.ending, model.rate_shape, model.rate_scale_h];
    let names = ["storms", "cells", "ending", "shape", "scale"];
    let touches = |index: &usize| {
        let (low, high) = BOUNDS[*index];
        values[*index] >= 0.999 * high || (values[*index] <= 1.001 * low && names[*index] != "shape")
    };
    (0..5).filter(touches).map(|index| names[index]).collect()
}
