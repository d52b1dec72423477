//! Variance-based sensitivity: which share of a result's variance each uncertain input causes, alone (first-order
//! index) and with all its interactions (total index); Sobol 1993.

use super::interval::mean::mean_and_variance;
use super::interval::{Interval, Method};
use super::sobol::{MOST_DIMENSIONS, Sobol};
use crate::math::random::{Source, Stream};

/// Resamples for the intervals.
const RESAMPLES: usize = 1_000;

/// Points of the unit cube at which a function must be known.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// Inputs.
    pub inputs: usize,
    /// Base points.
    pub base: usize,
    /// `base` blocks of (inputs + 2) points: a, b, then a with one coordinate of b for each input.
    pub points: Vec<Vec<f64>>,
}

/// Indices of one input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indices {
    /// First-order index.
    pub first: f64,
    /// Its bootstrap interval.
    pub first_interval: Interval,
    /// Total index.
    pub total: f64,
    /// Its bootstrap interval.
    pub total_interval: Interval,
}

impl Design {
    /// A design on a shifted Sobol sequence. None without inputs or with more than half of [`MOST_DIMENSIONS`], or
    /// without base points. Powers of two serve best.
    pub fn new(inputs: usize, base: usize, stream: &mut Stream) -> Option<Design> {
        if inputs == 0 || 2 * inputs > MOST_DIMENSIONS || base == 0 {
            return None;
        }
        let mut sobol = Sobol::shifted(2 * inputs, stream)?;
        let mut points = Vec::with_capacity(base * (inputs + 2));
        for _ in 0..base {
            let both = sobol.next_point();
            let (a, b) = both.split_at(inputs);
            points.push(a.to_vec());
            points.push(b.to_vec());
            for input in 0..inputs {
                let mut mixed = a.to_vec();
                mixed[input] = b[input];
                points.push(mixed);
            }
        }
        Some(Design { inputs, base, points })
    }

    /// Indices of all inputs from the function's values at the design's points, in their order. First-order index by
    /// Saltelli et al. (Comput. Phys. Commun. 181, 2010, 259-270, table 2 b), total index by Jansen (Comput. Phys.
    /// Commun. 117, 1999, 35-43; ibid. table 2 f), the values centred. Intervals: percentiles of resampled base points.
    /// None if the number of values is wrong, one is no number, or they don't vary.
    pub fn indices(&self, values: &[f64], confidence: f64) -> Option<Vec<Indices>> {
        let width = self.inputs + 2;
        if values.len() != self.points.len() || values.iter().any(|value| !value.is_finite()) {
            return None;
        }
        let rows: Vec<&[f64]> = values.chunks_exact(width).collect();
        let everything: Vec<usize> = (0..self.base).collect();
        let estimates = estimate(&rows, &everything)?;
        let mut stream = Source::new(0, 0, "sensitivity").stream(0);
        let mut resampled: Vec<Vec<(f64, f64)>> = Vec::with_capacity(RESAMPLES);
        let pick = |bits: u64| ((u128::from(bits) * self.base as u128) >> 64) as usize;
        for _ in 0..RESAMPLES {
            let rows_again: Vec<usize> = (0..self.base).map(|_| pick(stream.bits())).collect();
            resampled.extend(estimate(&rows, &rows_again));
        }
        let interval = |pick: &dyn Fn(&(f64, f64)) -> f64, input: usize| {
            percentiles(resampled.iter().map(|estimates| pick(&estimates[input])).collect(), confidence)
        };
        let indices = estimates.iter().enumerate().map(|(input, (first, total))| Indices {
            first: *first,
            first_interval: interval(&|estimate| estimate.0, input),
            total: *total,
            total_interval: interval(&|estimate| estimate.1, input),
        });
        Some(indices.collect())
    }
}

/// First-order and total index of each input from some rows; none if the values don't vary.
fn estimate(rows: &[&[f64]], chosen: &[usize]) -> Option<Vec<(f64, f64)>> {
    let both: Vec<f64> = chosen.iter().flat_map(|row| [rows[*row][0], rows[*row][1]]).collect();
    let (mean, variance) = mean_and_variance(&both);
    // Rejects NaN as well; equal values may leave a variance of rounding errors.
    let varies = variance > 1e-24 * mean * mean;
    if !varies {
        return None;
    }
    let n = chosen.len() as f64;
    let inputs = rows[0].len() - 2;
    let index = |input: usize| {
        let (mut first, mut total) = (0.0, 0.0);
        for row in chosen.iter().map(|row| rows[*row]) {
            let (a, b, mixed) = (row[0], row[1], row[2 + input]);
            first += (b - mean) * (mixed - a);
            total += (a - mixed) * (a - mixed);
        }
        (first / n / variance, 0.5 * total / n / variance)
    };
    Some((0..inputs).map(index).collect())
}

/// Percentile interval of resampled figures.
pub(super) fn percentiles(mut figures: Vec<f64>, confidence: f64) -> Interval {
    figures.sort_by(f64::total_cmp);
    let at = |p: f64| {
        let place = (p * (figures.len() + 1) as f64 - 1.0).clamp(0.0, figures.len().saturating_sub(1) as f64);
        figures.get(place.round() as usize).copied().unwrap_or(f64::NAN)
    };
    let tail = 0.5 * (1.0 - confidence);
    Interval { low: at(tail), high: at(1.0 - tail), confidence, method: Method::Bootstrap }
}
