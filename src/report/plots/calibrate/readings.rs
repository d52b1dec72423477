//! `readings.svg` and `quantiles.svg`: the log itself, and how normal it is.

use plotters::prelude::*;

use super::{WIDTH, axes};
use crate::report::csv::writer;
use crate::report::number::{counted, exact, whole};
use crate::report::plots::canvas::{Area, HEADING, sheet};
use crate::report::plots::palette::{INK, series};
use crate::report::plots::{Figure, PlotError, finished};
use crate::scenario::measure::Measure;
use crate::study::calibrate::still::Still;
use crate::study::interval::normal_quantile;

/// Stretches of the log that are drawn as one bar from the lowest to the highest reading.
const BARS: usize = 700;

/// From, to, lowest and highest reading of stretches of a log.
fn stretches(still: &Still) -> Vec<[f64; 4]> {
    let kept = &still.kept;
    let length = kept.times.len().div_ceil(BARS).max(1);
    let extremes = |readings: &[f64]| {
        readings
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)))
    };
    let parts = kept.times.chunks(length).zip(kept.readings.chunks(length));
    parts
        .map(|(times, readings)| {
            let (low, high) = extremes(readings);
            [times[0], times[times.len() - 1], low, high]
        })
        .collect()
}

pub fn readings(still: &Still, measure: &Measure) -> Result<Figure, PlotError> {
    let bars = stretches(still);
    let begins = bars.first().map_or(0.0, |bar| bar[0]);
    let length = bars.last().map_or(1.0, |bar| bar[1]) - begins;
    let flagged: Vec<(f64, f64)> = still.flagged.iter().map(|one| (one.time_s - begins, one.reading)).collect();
    let name = format!("reading, {}", measure.unit);
    let range = |values: &mut dyn Iterator<Item = f64>| {
        let (low, high) =
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        let pad = if high > low { 0.05 * (high - low) } else { 1.0 };
        low - pad..high + pad
    };
    let kept = range(&mut bars.iter().flat_map(|bar| [bar[2], bar[3]]));
    let all = range(&mut bars.iter().flat_map(|bar| [bar[2], bar[3]]).chain(flagged.iter().map(|it| it.1)));
    let panels = if flagged.is_empty() { 1 } else { 2 };
    let subtitle = if flagged.is_empty() {
        "bars: from lowest to highest reading of a stretch; line: straight line through all"
    } else {
        "above: all, outliers as rings; below: without them, with the straight line through all"
    };
    let svg = sheet((WIDTH, HEADING + 250 * panels), "The readings", subtitle, |area| {
        let parts = area.split_evenly((panels as usize, 1));
        let draw = |part: &Area, range: std::ops::Range<f64>, outliers: bool| -> Result<(), PlotError> {
            let mut chart = axes(part, ["time, s", &name], -0.01 * length..1.01 * length, range)?;
            chart.draw_series(bars.iter().map(|bar| {
                let at = 0.5 * (bar[0] + bar[1]) - begins;
                PathElement::new(vec![(at, bar[2]), (at, bar[3])], series(0).stroke_width(1))
            }))?;
            if outliers {
                chart.draw_series(flagged.iter().map(|place| Circle::new(*place, 4, series(1).stroke_width(2))))?;
            } else {
                let half = 0.5 * length * still.slope_per_s.value;
                let line = vec![(0.0, still.mean.value - half), (length, still.mean.value + half)];
                chart.draw_series([PathElement::new(line, INK.stroke_width(2))])?;
            }
            Ok(())
        };
        match parts.as_slice() {
            [both, without] => {
                draw(both, all.clone(), true)?;
                draw(without, kept.clone(), false)
            }
            parts => parts.iter().try_for_each(|part| draw(part, kept.clone(), false)),
        }
    })?;
    let mut out = writer(Vec::new());
    out.write_record(["from_s", "to_s", "lowest", "highest"])?;
    for bar in &bars {
        out.write_record(bar.map(exact))?;
    }
    let alt = format!(
        "{} over {}, with {} marked as outliers.",
        counted(still.readings, "reading"),
        crate::report::calibrate::figures::seconds(length),
        whole(still.outliers.count)
    );
    Ok(Figure { name: "readings", svg, csv: finished(out)?, alt })
}

/// Points of the quantile plot.
const POINTS: usize = 160;

pub fn quantiles(still: &Still, measure: &Measure) -> Result<Figure, PlotError> {
    let mut sorted = still.kept.residuals.clone();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    // Evenly along the normal axis, so that the tails are as dense as the middle; places by Blom (1958, from memory).
    let reach = normal_quantile(1.0 - 0.625 / (n as f64 + 0.25));
    let mut points: Vec<(f64, f64)> = (0..POINTS)
        .map(|index| {
            let z = reach * (2.0 * index as f64 / (POINTS - 1) as f64 - 1.0);
            let rank = crate::math::normal::cdf(z) * (n as f64 + 0.25) - 0.625;
            (z, sorted[(libm::round(rank).max(0.0) as usize).min(n - 1)])
        })
        .collect();
    points.dedup_by(|a, b| a.1 == b.1 && a.0 - b.0 < 0.02);
    let most = points.iter().fold(0.0_f64, |most, point| most.max(point.1.abs())).max(reach * still.sigma.value) * 1.06;
    let subtitle =
        "what the straight line leaves, against the quantiles of a normal law; line: a normal law with their spread";
    let name = format!("reading less line, {}", measure.unit);
    let svg = sheet((WIDTH, HEADING + 400), "Are the readings normal?", subtitle, |area| {
        let mut chart =
            axes(area, ["quantile of a standard normal law", &name], -1.05 * reach..1.05 * reach, -most..most)?;
        let ends = [-reach, reach].map(|z| (z, z * still.sigma.value));
        chart.draw_series([PathElement::new(ends.to_vec(), INK.stroke_width(1))])?;
        chart.draw_series(points.iter().map(|point| Circle::new(*point, 3, series(0).filled())))?;
        Ok(())
    })?;
    let mut out = writer(Vec::new());
    out.write_record(["normal_quantile", "reading_less_line"])?;
    for point in &points {
        out.write_record([exact(point.0), exact(point.1)])?;
    }
    let alt = "Quantiles of the readings against those of a normal law; steps are those of the readings.".to_owned();
    Ok(Figure { name: "quantiles", svg, csv: finished(out)?, alt })
}
