//! The rain process of one period of the year, fitted to a record, with what it makes of the record's statistics.

use super::depths::{Blocks, Depths, Spells};
use super::search::{self, Target, What};
use super::{Row, Tolerance};
use crate::math::time::Span;
use crate::scenario::weather::PulseMonth;
use crate::world::weather::pulses::{moments::Moments, series};
use crate::world::weather::within::wet_share;

/// Lengths of blocks that are always fitted, h.
const SCALES_H: [f64; 3] = [1.0, 6.0, 24.0];

/// Days of the process that are drawn to see what a bucket does to it.
const BUCKET_DAYS: i64 = 120 * 30;

/// Days that are drawn for what the report has no formula for.
const REPORT_DAYS: i64 = 400 * 30;

/// Seed of those days.
const REPORT_SEED: u64 = 99;

/// Rounds of the correction for the bucket.
const ROUNDS: usize = 4;

/// A fitted period.
#[derive(Clone, Debug, PartialEq)]
pub struct RainFit {
    /// Its process.
    pub process: PulseMonth,
    /// What was left of the objective.
    pub objective: f64,
    /// Observed and fitted statistics.
    pub rows: Vec<Row>,
}

/// Block lengths to fit: the usual ones and the record's own step if that is finer.
fn scales(step: Span) -> Vec<f64> {
    let own = step.hours();
    let mut scales: Vec<f64> = SCALES_H.into_iter().filter(|hours| *hours >= own).collect();
    if own < 1.0 {
        scales.insert(0, own);
    }
    scales
}

fn weight(what: What, hours: f64) -> f64 {
    match what {
        What::Variation if hours >= 24.0 => 6.0,
        What::Variation if hours >= 6.0 => 3.0,
        What::Variation => 1.0,
        // The mean dry spell is the mean wet one times the odds of dryness, so an hour's share matters most.
        What::Wet if hours <= 1.0 => 6.0,
        What::Wet => 2.0,
        What::Lag1 if hours <= 1.0 => 0.4,
        What::Lag1 if hours <= 6.0 => 0.2,
        What::Lag1 => 0.02,
    }
}

fn value(what: What, blocks: &Blocks) -> f64 {
    match what {
        What::Variation => libm::sqrt(blocks.variance) / blocks.mean,
        What::Lag1 => blocks.lag1,
        What::Wet => blocks.wet,
    }
}

fn targets(blocks: &[Blocks]) -> Vec<Target> {
    let mut targets = Vec::new();
    for one in blocks {
        for what in [What::Variation, What::Lag1, What::Wet] {
            let value = value(what, one);
            // A correlation about 0 can't be met as a ratio.
            if value > 0.02 {
                targets.push(Target { what, hours: one.hours, value, weight: weight(what, one.hours) });
            }
        }
    }
    targets
}

/// Fits the chosen months of a record. `stretch` is the length of the period in days, for runs. None if too little of
/// it is observed; a period without any rain has a process without storms.
pub fn fit(observed: &Depths, chosen: &[bool; 12], bucket_mm: Option<f64>, stretch: usize) -> Option<RainFit> {
    let step = observed.step();
    let blocks: Vec<Blocks> =
        scales(step).into_iter().map(|hours| observed.blocks(hours, chosen)).collect::<Option<_>>()?;
    let hourly_mm = blocks[0].mean / blocks[0].hours;
    if hourly_mm <= 0.0 {
        let process = PulseMonth {
            storms_per_h: 0.0,
            intensity_mm: 1.0,
            rate_shape: 2.1,
            rate_scale_h: 1.0,
            cells: 0.1,
            ending: 0.1,
        };
        return Some(RainFit { process, objective: 0.0, rows: Vec::new() });
    }
    let wanted = targets(&blocks);
    let (mut process, mut objective) = search::search(&wanted, hourly_mm);
    for round in 0..ROUNDS {
        let Some(bucket_mm) = bucket_mm else { break };
        // The statistics that the process would need without a bucket in order to show the observed ones with it.
        let bare = drawn(&process, BUCKET_DAYS, step, stretch, round as u64);
        let read = bare.through(bucket_mm);
        let all = [true; 12];
        let corrected: Vec<Target> = wanted
            .iter()
            .map(|target| {
                let ratio = match (bare.blocks(target.hours, &all), read.blocks(target.hours, &all)) {
                    (Some(bare), Some(read)) => value(target.what, &bare) / value(target.what, &read),
                    _ => 1.0,
                };
                let sound = ratio.is_finite() && ratio > 0.0;
                let most = if target.what == What::Variation { f64::INFINITY } else { 0.98 };
                Target { value: (target.value * if sound { ratio } else { 1.0 }).min(most), ..*target }
            })
            .collect();
        (process, objective) = search::search(&corrected, hourly_mm);
    }
    let bare = drawn(&process, REPORT_DAYS, step, stretch, REPORT_SEED);
    let read = bucket_mm.map_or_else(|| bare.clone(), |bucket_mm| bare.through(bucket_mm));
    let mut rows = rows(&blocks, observed.spells(chosen), &bare, &read, &process);
    rows.extend(within_hours(observed, chosen, &read, &process));
    Some(RainFit { process, objective, rows })
}

fn drawn(process: &PulseMonth, days: i64, step: Span, stretch: usize, seed: u64) -> Depths {
    Depths::of_series(series::depths(process, days, step, seed), step, stretch)
}

/// The report. The mean is by its formula. The other statistics of blocks are by theirs too, times what the gauge's
/// bucket makes of them in a long drawn series: the series' own noise, large for the heavy tail of a day's variance,
/// is the same with and without the bucket and cancels. Spells have no formula and come from the series.
fn rows(observed: &[Blocks], spells: Option<Spells>, bare: &Depths, read: &Depths, process: &PulseMonth) -> Vec<Row> {
    let all = [true; 12];
    let mut rows = Vec::new();
    let mut add = |name: String, unit, observed: f64, fitted: f64, tolerance| {
        rows.push(Row { name, unit, observed, fitted, tolerance });
    };
    let moments = Moments::new(process);
    let monthly = 730.5;
    let mean = observed[0].mean / observed[0].hours * monthly;
    add("depth in 30.4 d".to_owned(), "mm", mean, moments.mean(monthly), Tolerance::Within(0.05));
    for one in observed {
        let (Some(bare), Some(read)) = (bare.blocks(one.hours, &all), read.blocks(one.hours, &all)) else { continue };
        let label = length(one.hours);
        let variance = moments.variance(one.hours) * (read.variance / bare.variance);
        let lag1 = moments.correlation(one.hours) * (read.lag1 / bare.lag1);
        let wet = (1.0 - moments.dry(one.hours)) * (read.wet / bare.wet);
        add(format!("variance in {label}"), "mm2", one.variance, variance, Tolerance::Within(0.15));
        add(format!("lag-1 correlation of {label}"), "", one.lag1, lag1, Tolerance::None);
        add(format!("share dry in {label}"), "", 1.0 - one.wet, 1.0 - wet, Tolerance::Within(0.15));
    }
    if let (Some(seen), Some(fitted)) = (spells, read.spells(&all)) {
        add("mean wet spell".to_owned(), "h", seen.wet_h, fitted.wet_h, Tolerance::Within(0.2));
        add("mean dry spell".to_owned(), "h", seen.dry_h, fitted.dry_h, Tolerance::Within(0.2));
    }
    rows
}

/// Records of hours say nothing of how long it rains within them, so that processes which agree on everything that is
/// fitted may differ by a third in this: reported beside what minute records of other places have for such depths.
fn within_hours(observed: &Depths, chosen: &[bool; 12], read: &Depths, process: &PulseMonth) -> Option<Row> {
    let step = observed.step();
    if step < Span::HOUR {
        return None;
    }
    let shares = series::wet_shares(process, REPORT_DAYS, step, REPORT_SEED);
    let elsewhere = observed.mean_of_wet(chosen, |_, depth| wet_share(depth / step.hours()))?;
    let fitted = read.mean_of_wet(&[true; 12], |index, _| shares.get(index).copied().unwrap_or(0.0))?;
    let name = "rain in a wet hour (minute records)".to_owned();
    Some(Row { name, unit: "min", observed: 60.0 * elsewhere, fitted: 60.0 * fitted, tolerance: Tolerance::None })
}

fn length(hours: f64) -> String {
    if hours < 1.0 { format!("{:.0} min", 60.0 * hours) } else { format!("{hours:.0} h") }
}
