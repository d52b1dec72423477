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
const BUCKET_DAYS: i64 = 400 * 30;

/// Days that are drawn for what the report has no formula for.
const REPORT_DAYS: i64 = 400 * 30;

/// Seed of those days.
const REPORT_SEED: u64 = 99;

/// Rounds of the correction for the bucket.
const ROUNDS: usize = 10;

/// Change of the objective from which on another round is no use, relative and absolute.
const SETTLED: f64 = 0.02;

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
        What::Wet if hours <= 1.0 => 6.0,
        What::Wet => 2.0,
        What::Lag1 if hours <= 1.0 => 0.4,
        What::Lag1 if hours <= 6.0 => 0.2,
        What::Lag1 => 0.02,
        What::WetSpell | What::DrySpell => 1.0,
    }
}

fn value(what: What, blocks: &Blocks) -> f64 {
    match what {
        What::Variation => libm::sqrt(blocks.variance) / blocks.mean,
        What::Lag1 => blocks.lag1,
        _ => blocks.wet,
    }
}

/// What a fit is to have, without regard to the gauge; `stretch` in days cuts runs.
fn targets(blocks: &[Blocks], hourly_mm: f64, spells: Option<Spells>, stretch: usize) -> Vec<Target> {
    let mut targets = Vec::new();
    let mut add =
        |what, hours, value| targets.push(Target { what, hours, value, weight: weight(what, hours), gauge: 1.0 });
    for one in blocks {
        for what in [What::Variation, What::Lag1, What::Wet] {
            // Complete days alone may be wetter than all hours, whose mean the process has: its variance shall agree.
            let value = match what {
                What::Variation => libm::sqrt(one.variance) / (hourly_mm * one.hours),
                _ => value(what, one),
            };
            // A correlation about 0 can't be met as a ratio.
            if value > 0.02 {
                add(what, one.hours, value);
            }
        }
    }
    if let Some(spells) = spells {
        let stretch_h = 24.0 * stretch as f64;
        add(What::WetSpell, stretch_h, spells.wet_h);
        add(What::DrySpell, stretch_h, spells.dry_h);
    }
    targets
}

/// What the gauge makes of a statistic: its value in a drawn series read through the gauge over that in the bare series.
/// The series' own noise, large for the heavy tail of a day's variance, is the same in both and cancels.
fn gauge(what: What, hours: f64, bare: &Depths, read: &Depths) -> f64 {
    let all = [true; 12];
    let ratio = match what {
        What::WetSpell | What::DrySpell => {
            let mean = |spells: Spells| if what == What::WetSpell { spells.wet_h } else { spells.dry_h };
            read.spells(&all).zip(bare.spells(&all)).map(|(read, bare)| mean(read) / mean(bare))
        }
        _ => read
            .blocks(hours, &all)
            .zip(bare.blocks(hours, &all))
            .map(|(read, bare)| value(what, &read) / value(what, &bare)),
    };
    ratio.filter(|ratio| ratio.is_finite() && *ratio > 0.0).unwrap_or(1.0)
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
            intensity_shape: 1.0,
        };
        return Some(RainFit { process, objective: 0.0, rows: Vec::new() });
    }
    let spells = observed.spells(chosen);
    let mut targets = targets(&blocks, hourly_mm, spells, stretch);
    let (mut process, mut objective) = search::search(&targets, hourly_mm, None);
    // What a bucket does depends on the process, and the process on that: the round whose process is best with the bucket's
    // effect on itself counts.
    let mut best: Option<(PulseMonth, f64)> = None;
    for round in 0..ROUNDS {
        let Some(bucket_mm) = bucket_mm else { break };
        let bare = drawn(&process, BUCKET_DAYS, step, stretch, 0);
        let read = bare.through(bucket_mm);
        for target in &mut targets {
            target.gauge = gauge(target.what, target.hours, &bare, &read);
        }
        let last = objective;
        objective = search::objective(&process, &targets);
        if best.is_none_or(|(_, least)| objective < least) {
            best = Some((process, objective));
        }
        if round > 0 && (objective - last).abs() < SETTLED * (1.0 + last) {
            break;
        }
        if round + 1 < ROUNDS {
            (process, _) = search::search(&targets, hourly_mm, Some(&process));
        }
    }
    (process, objective) = best.unwrap_or((process, objective));
    let bare = drawn(&process, REPORT_DAYS, step, stretch, REPORT_SEED);
    let read = bucket_mm.map_or_else(|| bare.clone(), |bucket_mm| bare.through(bucket_mm));
    let mut rows = rows(&blocks, spells, stretch, &bare, &read, &process);
    rows.extend(within_hours(observed, chosen, &read, &process));
    Some(RainFit { process, objective, rows })
}

fn drawn(process: &PulseMonth, days: i64, step: Span, stretch: usize, seed: u64) -> Depths {
    Depths::of_series(series::depths(process, days, step, seed), step, stretch)
}

/// The report: each statistic by its formula, times what the gauge's bucket makes of it in a long drawn series.
fn rows(
    observed: &[Blocks],
    spells: Option<Spells>,
    stretch: usize,
    bare: &Depths,
    read: &Depths,
    process: &PulseMonth,
) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut add = |name: String, unit, observed: f64, fitted: f64, what: What| {
        // Of nothing there is no part.
        let tolerance = what.tolerance().filter(|_| observed > 0.0).map_or(Tolerance::None, Tolerance::Within);
        rows.push(Row { name, unit, observed, fitted, tolerance });
    };
    let moments = Moments::new(process);
    for one in observed {
        let gauge = |what| gauge(what, one.hours, bare, read);
        let label = length(one.hours);
        let variance = moments.variance(one.hours) * gauge(What::Variation).powi(2);
        let lag1 = moments.correlation(one.hours) * gauge(What::Lag1);
        let wet = ((1.0 - moments.dry(one.hours)) * gauge(What::Wet)).min(1.0);
        add(format!("variance in {label}"), "mm2", one.variance, variance, What::Variation);
        add(format!("lag-1 correlation of {label}"), "", one.lag1, lag1, What::Lag1);
        add(format!("share dry in {label}"), "", 1.0 - one.wet, 1.0 - wet, What::Wet);
    }
    if let Some(seen) = spells {
        let (wet_h, dry_h) = moments.spells(24.0 * stretch as f64);
        let gauge = |what| gauge(what, 1.0, bare, read);
        add("mean wet spell".to_owned(), "h", seen.wet_h, wet_h * gauge(What::WetSpell), What::WetSpell);
        add("mean dry spell".to_owned(), "h", seen.dry_h, dry_h * gauge(What::DrySpell), What::DrySpell);
    }
    let monthly = 730.5;
    let mean = observed[0].mean / observed[0].hours * monthly;
    let depth = Row {
        name: "depth in 30.4 d".to_owned(),
        unit: "mm",
        observed: mean,
        fitted: moments.mean(monthly),
        tolerance: Tolerance::Within(0.05),
    };
    rows.insert(0, depth);
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
