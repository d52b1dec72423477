//! Sample time, missing readings, and the step between readings.

use super::{Measured, median};
use crate::study::interval::clopper_pearson;
use crate::world::log::LogRow;

/// How a log was sampled.
#[derive(Clone, Debug, PartialEq)]
pub struct Sampling {
    /// Time between samples, s.
    pub period_s: f64,
    /// Standard deviation of the distance of two samples about a whole number of periods, s.
    pub jitter_s: f64,
    /// Samples that there should be from the first to the last.
    pub due: u64,
    /// Share of them that gave no reading.
    pub dropout: Measured,
    /// Longest time without a reading, s.
    pub longest_gap_s: f64,
    /// Samples closer than half a period to the one before.
    pub crowded: u64,
    /// Place of each reading among the samples due, from 0.
    pub places: Vec<u64>,
}

/// The sampling of a log in order of time, and its readings with their times.
///
/// The period is the median distance of two samples, then the time from first to last over the periods in it (counted
/// step by step, so that a clock that is a little off leaves no gap). A sample without a reading counts as missing like
/// one that was not written. The share has the exact binomial interval.
pub fn sampling(rows: &[LogRow], confidence: f64) -> (Sampling, Vec<f64>, Vec<f64>) {
    let mut steps: Vec<f64> = rows.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).collect();
    let rough = median(&mut steps);
    let periods = |step: f64| if rough > 0.0 { libm::round(step / rough) } else { 1.0 };
    let whole: f64 = rows.windows(2).map(|pair| periods(pair[1].time_s - pair[0].time_s)).sum();
    let span = rows.last().map_or(0.0, |last| last.time_s) - rows.first().map_or(0.0, |first| first.time_s);
    let period_s = if whole > 0.0 { span / whole } else { rough };
    let (mut place, mut crowded, mut off) = (0_u64, 0, 0.0);
    let (mut times, mut readings, mut places) = (Vec::new(), Vec::new(), Vec::new());
    let (mut gap, mut since) = (0.0, rows.first().map_or(0.0, |row| row.time_s));
    for (index, row) in rows.iter().enumerate() {
        if index > 0 {
            let step = row.time_s - rows[index - 1].time_s;
            let count = periods(step);
            crowded += u64::from(count < 1.0);
            place += count as u64;
            off += (step - count * period_s) * (step - count * period_s);
        }
        if let Some(reading) = row.reading {
            gap = libm::fmax(gap, row.time_s - since);
            since = row.time_s;
            // Two readings for one place: the later one takes it.
            if places.last() == Some(&place) {
                times.pop();
                readings.pop();
                places.pop();
            }
            times.push(row.time_s);
            readings.push(reading);
            places.push(place);
        }
    }
    let due = place + 1;
    let missing = due.saturating_sub(readings.len() as u64);
    let interval = clopper_pearson(missing, due, confidence);
    let dropout =
        Measured { value: missing as f64 / due as f64, ends: interval.map(|interval| (interval.low, interval.high)) };
    let jitter_s = libm::sqrt(off / (rows.len().max(2) - 1) as f64);
    // Rounding of decimal times is no jitter.
    let jitter_s = if jitter_s < 1e-6 * period_s { 0.0 } else { jitter_s };
    (Sampling { period_s, jitter_s, due, dropout, longest_gap_s: gap, crowded, places }, times, readings)
}

/// Share of the readings that must lie on a grid (common practice).
const ON_GRID: f64 = 0.995;
/// How far off, in steps, a reading may lie that counts as on the grid: rounding of a decimal text is far below.
const OFF_GRID: f64 = 0.01;

/// Step between readings: the smallest gap of any two different ones, if nearly all lie on that grid; else 0.
pub fn step(readings: &[f64]) -> f64 {
    let mut sorted = readings.to_vec();
    sorted.sort_by(f64::total_cmp);
    let scale = sorted.last().map_or(0.0, |last| libm::fmax(last.abs(), sorted[0].abs()));
    // Gaps of rounding errors are none.
    let gaps = sorted.windows(2).map(|pair| pair[1] - pair[0]).filter(|gap| *gap > 1e-12 * scale);
    let smallest = gaps.fold(f64::INFINITY, f64::min);
    if !smallest.is_finite() {
        return 0.0;
    }
    // The difference of two decimal texts has lost digits: ten of them are left.
    let step: f64 = format!("{smallest:.9e}").parse().unwrap_or(smallest);
    let on = |reading: &&f64| {
        let steps = (*reading - sorted[0]) / step;
        libm::fabs(steps - libm::round(steps)) < OFF_GRID
    };
    if readings.iter().filter(on).count() as f64 > ON_GRID * readings.len() as f64 { step } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(time_s: f64, reading: Option<f64>) -> LogRow {
        LogRow { line: 0, time_s, reading }
    }

    /// Ten samples due, one not written, one empty: two of ten are missing.
    #[test]
    fn missing_samples_and_empty_ones() {
        let rows: Vec<LogRow> =
            (0..10).filter(|i| *i != 4).map(|i| row(0.1 * f64::from(i), (i != 7).then_some(1.0))).collect();
        let (found, times, readings) = sampling(&rows, 0.95);
        assert!((found.period_s - 0.1).abs() < 1e-12 && found.jitter_s < 1e-12);
        assert_eq!((found.due, times.len(), readings.len(), found.crowded), (10, 8, 8, 0));
        assert!((found.dropout.value - 0.2).abs() < 1e-12 && (found.longest_gap_s - 0.2).abs() < 1e-12);
        assert_eq!(found.places, [0, 1, 2, 3, 5, 6, 8, 9]);
    }

    #[test]
    fn a_clock_that_is_off_leaves_no_gap() {
        let rows: Vec<LogRow> = (0..20_000).map(|i| row(f64::from(i) * 0.100_3, Some(1.0))).collect();
        let (found, ..) = sampling(&rows, 0.95);
        assert_eq!((found.due, found.dropout.value), (20_000, 0.0));
    }

    #[test]
    fn steps() {
        assert_eq!(step(&[0.33, 0.45, 0.44, 0.53]), 0.01);
        assert_eq!(step(&[2.0, 2.0]), 0.0);
        // An irrational grid is none.
        let roots: Vec<f64> = (1..200).map(|i| f64::from(i).sqrt()).collect();
        assert_eq!(step(&roots), 0.0);
    }
}
