//! All that a log of something that stands still says about its sensor, with a verdict.

use super::allan::{self, Place};
use super::correlation::{autocorrelation, effective, von_neumann, von_neumann_sd};
use super::drift::{self, Drift};
use super::outliers::{self, OutlierRate};
use super::sampling::{self, Sampling};
use super::trend::trend;
use super::{Measured, median};
use crate::study::interval::{normal_quantile, t_quantile};
use crate::world::log::{GOOD, StillLog};

/// What the readings look like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Independent noise, as far as so many readings can tell.
    White,
    /// Part of the error lasts from reading to reading.
    Drift,
    /// Too few readings to tell.
    TooFew,
}

/// The sign by which a drift was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sign {
    /// Neighbours are alike (or unlike, if negative) by this correlation.
    Correlation(f64),
    /// All noise over that of differences.
    Ratio(f64),
    /// The Allan curve is proven to lie above that of white noise at this averaging time, s.
    Rise(f64),
    /// The readings rise in a straight line by so many standard errors.
    Line(f64),
}

/// Averaging that is worth while.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Best {
    /// Readings.
    pub readings: usize,
    /// The same as a time, s.
    pub time_s: f64,
    /// Whether the curve still falls at its end, so that longer may pay, too.
    pub falling: bool,
}

/// Flagged sample: when and what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flagged {
    /// Time, s.
    pub time_s: f64,
    /// Reading.
    pub reading: f64,
}

/// What a log says.
#[derive(Clone, Debug, PartialEq)]
pub struct Still {
    /// How it was sampled.
    pub sampling: Sampling,
    /// Readings in the log, outliers among them.
    pub readings: u64,
    /// Step between readings; 0 if none was found.
    pub step: f64,
    /// Outliers.
    pub outliers: OutlierRate,
    /// Each of them.
    pub flagged: Vec<Flagged>,
    /// Median of the others. All that follows is of these.
    pub median: f64,
    /// Their mean, its interval by the number of independent readings.
    pub mean: Measured,
    /// Mean less truth, if that is known.
    pub bias: Option<Measured>,
    /// Standard error of the mean.
    pub mean_error: f64,
    /// Standard deviation about a straight line: white noise and drift together.
    pub sigma: Measured,
    /// The same from the median absolute deviation.
    pub sigma_mad: f64,
    /// Standard deviation of white noise from the differences of neighbours, the rounding of readings among it.
    pub sigma_of_differences: f64,
    /// White noise without the rounding: from the fit where there is drift, else from the differences.
    pub white: Measured,
    /// Correlation of neighbours.
    pub lag_one: Measured,
    /// Number of independent readings that they are worth.
    pub effective: f64,
    /// Von Neumann's ratio, and between which ends it lies for white noise.
    pub von_neumann: f64,
    /// See above.
    pub von_neumann_white: (f64, f64),
    /// Rise of the straight line per second.
    pub slope_per_s: Measured,
    /// Standard error of the rise.
    pub slope_error_per_s: f64,
    /// The Allan curve.
    pub curve: Vec<Place>,
    /// Averaging that is worth while.
    pub best: Best,
    /// White noise and drift fitted to the curve, where there is drift.
    pub drift: Option<Drift>,
    /// Signs of drift.
    pub signs: Vec<Sign>,
    /// Verdict.
    pub verdict: Verdict,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Times and readings without outliers, and what the straight line leaves.
    pub kept: Kept,
}

/// Readings without outliers.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// Times, s.
    pub times: Vec<f64>,
    /// Readings.
    pub readings: Vec<f64>,
    /// What the straight line leaves.
    pub residuals: Vec<f64>,
}

/// Correlation of neighbours that is named (common practice): beyond it formulas for independent readings are off by
/// factors.
pub const CORRELATED: f64 = 0.1;
/// Ratio of all noise to that of differences beyond which there is drift (common practice).
const RATIO: f64 = 1.1;
/// Share of tests of white noise that may cry drift by chance.
const FALSE_CRY: f64 = 0.01;

/// Works out all of it; none if the readings are all alike but for outliers. `truth` is what they should have been.
pub fn still(log: &StillLog, truth: Option<f64>, confidence: f64) -> Option<Still> {
    let (sampling, all_times, all_readings) = sampling::sampling(&log.rows, confidence);
    let step = sampling::step(&all_readings);
    let places = outliers::outliers(&all_readings, step);
    let (mut times, mut readings, mut due) = (Vec::new(), Vec::new(), Vec::new());
    let mut next = places.iter().peekable();
    for (index, reading) in all_readings.iter().enumerate() {
        if next.next_if_eq(&&index).is_none() {
            times.push(all_times[index]);
            readings.push(*reading);
            due.push(sampling.places[index]);
        }
    }
    if readings.iter().all(|reading| *reading == readings[0]) {
        return None;
    }
    let middle = median(&mut readings.clone());
    let line = trend(&times, &readings);
    let n = readings.len();
    let worth = effective(&line.residuals);
    let t = |freedom: f64| t_quantile(0.5 + 0.5 * confidence, libm::fmax(freedom, 1.0));
    let mean_error = line.sd / libm::sqrt(worth);
    let about = |value: f64, half: f64| Measured::between(value, value - half, value + half);
    let mean = about(line.mean, t(worth - 1.0) * mean_error);
    let slope_error = line.error_per_s * libm::sqrt(n as f64 / worth);
    let slope = about(line.per_s, t(worth - 2.0) * slope_error);
    let freedom = libm::fmax(worth - 2.0, 1.0);
    let (low, high) = allan::chi_square_ends(line.sd, freedom, confidence);
    let level = median(&mut line.residuals.clone());
    let mut deviations: Vec<f64> = line.residuals.iter().map(|left| libm::fabs(left - level)).collect();
    let differences: f64 = readings.windows(2).map(|pair| (pair[1] - pair[0]) * (pair[1] - pair[0])).sum();
    let of_differences = libm::sqrt(differences / (2 * (n - 1)) as f64);
    let at_one = autocorrelation(&line.residuals, 1);
    let z = normal_quantile(0.5 + 0.5 * confidence);
    let half = z * libm::sqrt((1.0 - at_one * at_one) / n as f64);
    let band = z * von_neumann_sd(n);
    let filled = allan::filled(&due, &readings);
    let curve = allan::curve(&filled, sampling.period_s, confidence);
    let lines = slope.value / slope_error;
    let signs = signs(&curve, at_one, line.sd / of_differences, of_differences, lines, worth);
    let drifts = !signs.is_empty();
    let ramp = if signs.iter().any(|sign| matches!(sign, Sign::Line(_))) { slope.value } else { 0.0 };
    let drift = if drifts {
        drift::fit(&due, &readings, sampling.period_s, ramp * sampling.period_s, confidence)
    } else {
        None
    };
    // Rounding to a grid adds a twelfth of its square (Sheppard 1898).
    let unrounded = |sigma: f64| libm::sqrt(libm::fmax(sigma * sigma - step * step / 12.0, 0.0));
    let of_all = || {
        let (low, high) = allan::chi_square_ends(of_differences, allan::freedom(n, 1), confidence);
        Measured::between(of_differences, low, high)
    };
    let white = drift.map_or_else(of_all, |drift| drift.white).map(unrounded);
    let verdict = match (n < GOOD, drifts) {
        (true, _) => Verdict::TooFew,
        (false, true) => Verdict::Drift,
        (false, false) => Verdict::White,
    };
    Some(Still {
        readings: all_readings.len() as u64,
        step,
        outliers: outliers::rate(&places, &all_readings, middle, confidence),
        flagged: places
            .iter()
            .map(|place| Flagged { time_s: all_times[*place], reading: all_readings[*place] })
            .collect(),
        median: middle,
        bias: truth.map(|truth| mean.map(|mean| mean - truth)),
        mean,
        mean_error,
        sigma: Measured::between(line.sd, low, high),
        sigma_mad: outliers::SD_OVER_MAD * median(&mut deviations),
        sigma_of_differences: of_differences,
        white,
        lag_one: about(at_one, half),
        effective: worth,
        von_neumann: von_neumann(&line.residuals),
        von_neumann_white: (2.0 - band, 2.0 + band),
        slope_per_s: slope,
        slope_error_per_s: slope_error,
        best: best(&curve),
        curve,
        drift,
        signs,
        verdict,
        confidence,
        kept: Kept { times, readings, residuals: line.residuals },
        sampling,
    })
}

/// Signs that the readings are not independent about one value.
fn signs(curve: &[Place], at_one: f64, ratio: f64, white: f64, lines: f64, worth: f64) -> Vec<Sign> {
    let mut signs = Vec::new();
    if libm::fabs(at_one) > CORRELATED {
        signs.push(Sign::Correlation(at_one));
    }
    if ratio > RATIO {
        signs.push(Sign::Ratio(ratio));
    }
    // One octave above white noise by chance in a hundred logs, however many octaves are looked at.
    let alone = 1.0 - 2.0 * FALSE_CRY / curve.len().max(1) as f64;
    let above = |place: &&Place| {
        let (low, _) = allan::chi_square_ends(place.deviation.value, place.freedom, alone);
        place.freedom > 0.0 && low > white / libm::sqrt(place.readings as f64)
    };
    if let Some(place) = curve.iter().skip(1).find(above) {
        signs.push(Sign::Rise(place.time_s));
    }
    if libm::fabs(lines) > t_quantile(1.0 - 0.5 * FALSE_CRY, libm::fmax(worth - 2.0, 1.0)) {
        signs.push(Sign::Line(lines));
    }
    signs
}

/// Where the curve is lowest before it is proven to rise: before the interval of a later place lies above its own.
fn best(curve: &[Place]) -> Best {
    let mut lowest: Option<(usize, &Place)> = None;
    for (index, place) in curve.iter().enumerate() {
        match lowest {
            Some((_, low)) if place.deviation.low() > low.deviation.high() => break,
            Some((_, low)) if place.deviation.value >= low.deviation.value => {}
            _ => lowest = Some((index, place)),
        }
    }
    lowest.map_or(Best { readings: 1, time_s: 0.0, falling: true }, |(index, place)| Best {
        readings: place.readings,
        time_s: place.time_s,
        falling: index + 1 == curve.len(),
    })
}
