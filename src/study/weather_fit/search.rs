//! The search for a month's rain process: the generalised method of moments (Hansen 1982, Econometrica 50, 1029-1054)
//! with a diagonal weighting, held to what the fit is judged by.
//!
//! Minimised is `sum of w (1 - model / observed)^2` over the targets, under the condition that every judged statistic lies
//! within two thirds of its tolerance. Where no process meets that, the largest of the judged errors, each in parts of its
//! tolerance, is made as small as it can be: both are one objective with a penalty on a high power mean of those errors (an
//! exterior penalty; Luenberger & Ye, Linear and Nonlinear Programming, from memory). The mean is met exactly through iota.
//!
//! Mean runs of wet and dry hours follow from the dry probability of two hours, so that they are fitted like the rest.
//!
//! **Bounds** (`BOUNDS`) keep to processes that are sound to simulate and could be rain; below a shape of 2 the length of a
//! storm would have no variance. Windows beyond two days are penalised mildly: moments alone can't tell a storm of three
//! weeks from a wet season.
//!
//! **Intensities** are exponential as long as that leaves all judged statistics well within their tolerances, else of a gamma
//! law whose shape is fitted too (Onof & Wheater 1994, J. Hydrol. 157, 177-195, for another process of this kind; from
//! memory): one figure less for records that need none.
//!
//! Start: 1,440 points, log-uniform within the bounds, the best eight by the simplex method, the best of these anew until it
//! stays.

use crate::math::random::Source;
use crate::math::simplex::{Minimum, minimise};
use crate::scenario::weather::PulseMonth;
use crate::world::weather::pulses::moments::Moments;

/// One statistic that the model shall have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Which.
    pub what: What,
    /// Length of a block, h; of the stretch that cuts runs for spells.
    pub hours: f64,
    /// As observed.
    pub value: f64,
    /// Its weight.
    pub weight: f64,
    /// What the gauge makes of it: a factor on the model's value.
    pub gauge: f64,
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
    /// Mean run of wet hours, h.
    WetSpell,
    /// Mean run of dry hours, h.
    DrySpell,
}

impl What {
    /// Relative error by which it is judged, a variation by that of its square, a wet share by that of the dry share; none
    /// where it is only fitted.
    pub fn tolerance(self) -> Option<f64> {
        match self {
            What::Variation | What::Wet => Some(0.15),
            What::WetSpell | What::DrySpell => Some(0.2),
            What::Lag1 => None,
        }
    }
}

/// Bounds of: storms per hour; mean length of a cell, h (five minutes to a working day); mean window of a storm, h (to three
/// days, the longest that a front or a low takes to pass; common practice); cells beyond the first; shape of a storm's rate
/// (alpha) minus 1; shape of the intensities (a spread of half to twice the mean). The bounds of cells and windows are those
/// of the scenario too.
const BOUNDS: [(f64, f64); 6] = [(0.002, 0.2), (1.0 / 12.0, 8.0), (0.25, 72.0), (0.01, 50.0), (1.1, 24.0), (0.25, 4.0)];

/// The scenario's keys that stand for them, for a note about bounds.
const KEYS: [&str; 6] = ["storms", "scale", "ending", "cells", "shape", "intensity_shape"];

/// Bounds of kappa (see [`MOST_CELLS`](crate::world::weather::pulses::constants::MOST_CELLS)) and phi.
const CELLS: (f64, f64) = (0.0, 12.0);
const ENDING: (f64, f64) = (0.002, 0.9);

/// Windows longer than this are penalised, h.
const LONG_WINDOW_H: f64 = 48.0;

/// Part of a tolerance that judged errors may take: the rest is left to the noise of the report's own drawn series.
const ROOM: f64 = 2.0 / 3.0;

/// Part of a tolerance up to which exponential intensities are good enough.
const GOOD: f64 = 0.9;

/// What a judged error beyond its room costs, for the square of the part beyond.
const BEYOND: f64 = 500.0;

/// Exponents of the mean that stands for the largest judged error: smooth while the search is far, at most 4 % above it
/// for ten of them in the end.
const POWERS: (i32, i32) = (12, 60);

/// What intensities far from exponential cost, for the square of the shape's logarithm.
const UNUSUAL: f64 = 0.01;

/// Points of the first sweep.
const POINTS: u64 = 1_440;

/// Best of them that are followed up.
const FOLLOWED: usize = 8;

/// A simplex that has collapsed starts anew, at most so often.
const RESTARTS: usize = 8;

/// The process at a point in logarithms; beyond the bounds that on the bound. Without a sixth coordinate intensities are
/// exponential.
fn month(point: &[f64], hourly_mm: f64) -> PulseMonth {
    let at = |index: usize| libm::exp(point[index]).clamp(BOUNDS[index].0, BOUNDS[index].1);
    let (storms_per_h, cell_h, shape) = (at(0), at(1), 1.0 + at(4));
    let ending = (cell_h / at(2)).clamp(ENDING.0, ENDING.1);
    let cells = (at(3) * ending).clamp(CELLS.0, CELLS.1);
    PulseMonth {
        storms_per_h,
        intensity_mm: hourly_mm / (storms_per_h * (1.0 + cells / ending)),
        rate_shape: shape,
        rate_scale_h: cell_h * (shape - 1.0),
        cells,
        ending,
        intensity_shape: if point.len() > 5 { at(5) } else { 1.0 },
    }
}

/// The point in logarithms of a process.
fn point(model: &PulseMonth) -> [f64; 6] {
    let cell_h = model.rate_scale_h / (model.rate_shape - 1.0);
    let values = [
        model.storms_per_h,
        cell_h,
        cell_h / model.ending,
        model.cells / model.ending,
        model.rate_shape - 1.0,
        model.intensity_shape,
    ];
    std::array::from_fn(|index| libm::log(values[index].clamp(BOUNDS[index].0, BOUNDS[index].1)))
}

/// What the model has of a target, read through the gauge.
fn seen(moments: &Moments, target: &Target) -> f64 {
    let value = match target.what {
        What::Variation => libm::sqrt(moments.variance(target.hours)) / moments.mean(target.hours),
        What::Lag1 => moments.correlation(target.hours),
        What::Wet => 1.0 - moments.dry(target.hours),
        What::WetSpell => moments.spells(target.hours).0,
        What::DrySpell => moments.spells(target.hours).1,
    };
    let value = target.gauge * value;
    if target.what == What::Wet { value.min(1.0) } else { value }
}

/// A judged error in parts of its tolerance; 0 for what is not judged.
fn judged(target: &Target, seen: f64) -> f64 {
    let off = match target.what {
        What::Variation => (seen / target.value).powi(2) - 1.0,
        // Of nothing there is no part: where no block was dry, its share is only fitted.
        What::Wet if target.value >= 1.0 => return 0.0,
        What::Wet => (target.value - seen) / (1.0 - target.value),
        _ => seen / target.value - 1.0,
    };
    target.what.tolerance().map_or(0.0, |most| off.abs() / most)
}

/// The largest judged error of a process, in parts of its tolerance.
pub fn worst(model: &PulseMonth, targets: &[Target]) -> f64 {
    let moments = Moments::new(model);
    targets.iter().map(|target| judged(target, seen(&moments, target))).fold(0.0, f64::max)
}

/// What is minimised.
pub fn objective(model: &PulseMonth, targets: &[Target]) -> f64 {
    smooth(model, targets, POWERS.1)
}

/// The same with another exponent.
fn smooth(model: &PulseMonth, targets: &[Target], power: i32) -> f64 {
    let moments = Moments::new(model);
    let (mut misfit, mut largest, mut powers) = (0.0, 0.0_f64, 0.0);
    for target in targets {
        let seen = seen(&moments, target);
        let off = 1.0 - seen / target.value;
        misfit += target.weight * off * off;
        let judged = judged(target, seen);
        // The sum of (judged / largest)^power, with whatever is largest so far.
        if judged > largest {
            powers = powers * (largest / judged).powi(power) + 1.0;
            largest = judged;
        } else if largest > 0.0 {
            powers += (judged / largest).powi(power);
        }
    }
    let beyond = (largest * libm::pow(powers, 1.0 / f64::from(power)) - ROOM).max(0.0);
    let long = libm::log(moments.window_h() / LONG_WINDOW_H).max(0.0);
    let unusual = libm::log(model.intensity_shape);
    misfit + BEYOND * beyond * beyond + 0.01 * long * long + UNUSUAL * unusual * unusual
}

/// The best process for the targets and a mean depth per hour above 0, with its objective. The search also starts from
/// `known`, if there is one.
pub fn search(targets: &[Target], hourly_mm: f64, known: Option<&PulseMonth>) -> (PulseMonth, f64) {
    let known = known.map(point);
    let starts = |length: usize| known.iter().map(|point| point[..length].to_vec()).collect::<Vec<_>>();
    let exponential = best(targets, hourly_mm, 5, starts(5));
    let found = month(&exponential.at, hourly_mm);
    let found = if worst(&found, targets) <= GOOD {
        found
    } else {
        let mut starts = starts(6);
        starts.push(point(&found).to_vec());
        month(&best(targets, hourly_mm, 6, starts).at, hourly_mm)
    };
    let model = tidy(found, hourly_mm);
    let value = objective(&model, targets);
    (model, value)
}

/// The best point of so many coordinates.
fn best(targets: &[Target], hourly_mm: f64, length: usize, mut starts: Vec<Vec<f64>>) -> Minimum {
    let bounds = &BOUNDS[..length];
    let value = |point: &[f64], power: i32| {
        let beyond = |(x, (low, high)): (&f64, &(f64, f64))| {
            let outside = (libm::log(*low) - x).max(x - libm::log(*high)).max(0.0);
            outside * outside
        };
        let outside: f64 = point.iter().zip(bounds).map(beyond).sum();
        smooth(&month(point, hourly_mm), targets, power) + outside
    };
    // Where something is known already, it is a good start and fewer others are needed.
    let followed = if starts.is_empty() { FOLLOWED } else { FOLLOWED / 3 };
    let source = Source::new(0, 0, "weather fit");
    let mut sweep: Vec<Minimum> = (0..POINTS)
        .map(|number| {
            let mut stream = source.stream(number);
            let at: Vec<f64> =
                bounds.iter().map(|(low, high)| stream.between(libm::log(*low), libm::log(*high))).collect();
            Minimum { value: value(&at, POWERS.0), at }
        })
        .collect();
    sweep.sort_by(|a, b| a.value.total_cmp(&b.value));
    starts.extend(sweep.into_iter().take(followed).map(|point| point.at));
    let followed = starts.iter().map(|start| minimise(&mut |at| value(at, POWERS.0), start, 0.3, 1e-7, 800));
    let best = followed.min_by(|a, b| a.value.total_cmp(&b.value));
    let mut best = best.unwrap_or_else(|| Minimum { value: f64::INFINITY, at: vec![0.0; length] });
    best.value = value(&best.at, POWERS.1);
    for restart in 0..RESTARTS {
        let edge = if restart % 2 == 0 { 0.25 } else { 0.05 };
        let again = minimise(&mut |at| value(at, POWERS.1), &best.at, edge, 1e-11, 2_000);
        let gained = best.value - again.value;
        best = again;
        if restart > 1 && gained < 1e-5 * best.value {
            break;
        }
    }
    best
}

/// Four digits are more than any record determines; iota keeps the mean, with six.
fn tidy(model: PulseMonth, hourly_mm: f64) -> PulseMonth {
    let short = PulseMonth {
        storms_per_h: digits(model.storms_per_h, 4),
        rate_shape: digits(model.rate_shape, 4),
        rate_scale_h: digits(model.rate_scale_h, 4),
        cells: digits(model.cells, 4),
        ending: digits(model.ending, 4),
        intensity_shape: digits(model.intensity_shape, 4),
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

/// Keys of what a fit left on a bound; a storm's rate as uneven as it may be (alpha on its lower bound) is usual and not
/// listed.
pub fn on_bounds(model: &PulseMonth) -> Vec<&'static str> {
    let point = point(model);
    let touches = |index: &usize| {
        let (low, high) = (libm::log(BOUNDS[*index].0), libm::log(BOUNDS[*index].1));
        let combined = match KEYS[*index] {
            "ending" => model.ending >= 0.999 * ENDING.1 || model.ending <= 1.001 * ENDING.0,
            "cells" => model.cells >= 0.999 * CELLS.1,
            _ => false,
        };
        combined || point[*index] >= high - 0.002 || (point[*index] <= low + 0.002 && KEYS[*index] != "shape")
    };
    (0..6).filter(touches).map(|index| KEYS[index]).collect()
}
