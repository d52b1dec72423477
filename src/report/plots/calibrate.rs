//! Drawings of calibrations: the Allan curve, the readings, their quantiles; the operating curve and the scores.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::bins::Bins;
use super::canvas::{self, Area, HEADING, PLAIN, Setting, TEXT, sheet};
use super::palette::{GRID, INK, QUIET, series};
use super::strips::{self, Bar, Panel, Strip};
use super::{Figure, PlotError};
use crate::report::csv::writer;
use crate::report::number::{chosen, counted, exact, percent, significant, whole};
use crate::scenario::measure::Measure;
use crate::study::calibrate::allan::Place;
use crate::study::calibrate::passes::{Passes, Side};
use crate::study::calibrate::still::Still;
use crate::study::calibrate::threshold::Way;
use crate::study::interval::normal_quantile;

const WIDTH: u32 = 960;

/// Drawings of a log of something that stands still.
///
/// # Errors
/// If one can't be drawn.
pub fn still(still: &Still, measure: &Measure) -> Result<Vec<Figure>, PlotError> {
    Ok(vec![allan(still, measure)?, readings(still, measure)?, quantiles(still, measure)?])
}

/// Drawings of labelled passes.
///
/// # Errors
/// If one can't be drawn.
pub fn passes(passes: &Passes) -> Result<Vec<Figure>, PlotError> {
    Ok(vec![roc(passes)?, scores(passes)?])
}

/// Allan deviation of means of `readings`, by white noise alone and by the fitted model.
pub fn laws(still: &Still, readings: usize) -> (f64, Option<f64>) {
    let white = still.drift.map_or(still.sigma_of_differences, |drift| drift.model.white);
    let fitted = still.drift.map(|drift| libm::sqrt(drift.model.variance(readings)));
    (white / libm::sqrt(readings as f64), fitted)
}

/// What is labelled along an axis of times or deviations: 1, 2 and 5 times a power of ten, the others would crowd it.
fn tick(value: &f64) -> String {
    let digits = format!("{value:.1e}");
    if ["1.0", "2.0", "5.0"].contains(&digits.split('e').next().unwrap_or_default()) {
        chosen(*value)
    } else {
        String::new()
    }
}

fn allan(still: &Still, measure: &Measure) -> Result<Figure, PlotError> {
    // Nothing has no place on an axis of logarithms.
    let curve: Vec<&Place> = still.curve.iter().filter(|place| place.deviation.value > 0.0).collect();
    let (first, last) =
        (curve.first().map_or(1.0, |place| place.time_s), curve.last().map_or(2.0, |place| place.time_s));
    let ends =
        curve.iter().flat_map(|place| [place.deviation.low(), place.deviation.high(), laws(still, place.readings).0]);
    let (low, high) = ends
        .filter(|end| *end > 0.0)
        .fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), end| (low.min(end), high.max(end)));
    let (low, high) = if low < high { (low / 1.3, high * 1.3) } else { (0.1, 1.0) };
    let subtitle = "Allan deviation against averaging time; band: interval; grey: white noise alone; thin: fitted; ring: longest useful";
    let svg = sheet((WIDTH, HEADING + 420), "How noise falls with averaging", subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .margin_right(24)
            .x_label_area_size(44)
            .y_label_area_size(78)
            .build_cartesian_2d((first / 1.2..last * 1.2).log_scale(), (low..high).log_scale())?;
        chart
            .configure_mesh()
            .x_desc("averaged over, s")
            .y_desc(format!("Allan deviation, {}", measure.unit))
            .x_label_formatter(&tick)
            .y_label_formatter(&tick)
            .axis_style(INK)
            .bold_line_style(GRID)
            .light_line_style(GRID.mix(0.4))
            .label_style(canvas::font(11.0).color(&INK))
            .axis_desc_style(canvas::font(TEXT).color(&INK))
            .draw()?;
        let upper = curve.iter().map(|place| (place.time_s, place.deviation.high()));
        let lower = curve.iter().rev().map(|place| (place.time_s, place.deviation.low()));
        chart.draw_series([Polygon::new(upper.chain(lower).collect::<Vec<_>>(), series(0).mix(0.2))])?;
        let white = curve.iter().map(|place| (place.time_s, laws(still, place.readings).0)).collect::<Vec<_>>();
        chart.draw_series([PathElement::new(white, QUIET.stroke_width(2))])?;
        if still.drift.is_some() {
            let fitted = curve.iter().filter_map(|place| Some((place.time_s, laws(still, place.readings).1?)));
            chart.draw_series([PathElement::new(fitted.collect::<Vec<_>>(), series(1).stroke_width(1))])?;
        }
        let line = curve.iter().map(|place| (place.time_s, place.deviation.value)).collect::<Vec<_>>();
        chart.draw_series([PathElement::new(line.clone(), series(0).stroke_width(2))])?;
        chart.draw_series(line.into_iter().map(|place| Circle::new(place, 3, series(0).filled())))?;
        if let Some(best) = curve.iter().find(|place| place.readings == still.best.readings) {
            chart.draw_series([Circle::new((best.time_s, best.deviation.value), 7, INK.stroke_width(2))])?;
        }
        Ok(())
    })?;
    let mut out = writer(Vec::new());
    out.write_record(["time_s", "deviation"])?;
    for place in &curve {
        out.write_record([exact(place.time_s), exact(place.deviation.value)])?;
    }
    let best = crate::report::calibrate::figures::seconds(still.best.time_s);
    let alt = if still.best.falling {
        format!("Allan deviation over averaging time: it falls up to {best}, the longest time that the log can judge.")
    } else {
        format!("Allan deviation over averaging time: lowest before its rise at {best}.")
    };
    Ok(Figure { name: "allan", svg, csv: super::finished(out)?, alt })
}

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

fn readings(still: &Still, measure: &Measure) -> Result<Figure, PlotError> {
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
            let across = range.end - range.start;
            let mut chart = ChartBuilder::on(part)
                .margin(10)
                .margin_right(24)
                .x_label_area_size(40)
                .y_label_area_size(78)
                .build_cartesian_2d(-0.01 * length..1.01 * length, range)?;
            chart
                .configure_mesh()
                .x_desc("time, s")
                .y_desc(name.as_str())
                .y_labels(6)
                .x_label_formatter(&|value: &f64| canvas::tick(*value, length))
                .y_label_formatter(&|value: &f64| canvas::tick(*value, across))
                .axis_style(INK)
                .bold_line_style(GRID)
                .light_line_style(WHITE)
                .label_style(canvas::font(11.0).color(&INK))
                .axis_desc_style(canvas::font(TEXT).color(&INK))
                .draw()?;
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
    Ok(Figure { name: "readings", svg, csv: super::finished(out)?, alt })
}

/// Points of the quantile plot.
const POINTS: usize = 160;

fn quantiles(still: &Still, measure: &Measure) -> Result<Figure, PlotError> {
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
    let svg = sheet((WIDTH, HEADING + 400), "Are the readings normal?", subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .margin_right(24)
            .x_label_area_size(44)
            .y_label_area_size(78)
            .build_cartesian_2d(-1.05 * reach..1.05 * reach, -most..most)?;
        chart
            .configure_mesh()
            .x_desc("quantile of a standard normal law")
            .y_desc(format!("reading less line, {}", measure.unit))
            .x_label_formatter(&|value: &f64| canvas::tick(*value, reach))
            .y_label_formatter(&|value: &f64| canvas::tick(*value, most))
            .axis_style(INK)
            .bold_line_style(GRID)
            .light_line_style(WHITE)
            .label_style(canvas::font(11.0).color(&INK))
            .axis_desc_style(canvas::font(TEXT).color(&INK))
            .draw()?;
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
    Ok(Figure { name: "quantiles", svg, csv: super::finished(out)?, alt })
}

/// Ink of a level: the series of its way.
fn ink(way: Way) -> RGBColor {
    series(match way {
        Way::DistributionFree => 1,
        Way::Normal => 2,
        Way::LeastCost => 3,
    })
}

fn roc(passes: &Passes) -> Result<Figure, PlotError> {
    let curve = &passes.curve;
    // The part that anybody would choose from: up to a few times the loosest of the levels.
    let loosest = passes.thresholds.iter().fold(0.0_f64, |most, level| most.max(level.false_per_day.high()));
    let all = curve.last().map_or(1.0, |place| place.false_per_day.value);
    let right = (2.0 * loosest).clamp(0.02 * all, all).max(1e-9);
    let side = if passes.settings.side == Side::Above { "at least" } else { "at most" };
    let subtitle = format!(
        "open when the score is {side} the level; band: interval of the share; marks: the levels with the interval of false openings"
    );
    let svg = sheet((WIDTH, HEADING + 430), "What a level catches, and what it lets open", &subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .margin_right(24)
            .x_label_area_size(44)
            .y_label_area_size(70)
            .build_cartesian_2d(-0.01 * right..right, 0.0..103.0)?;
        chart
            .configure_mesh()
            .x_desc("false openings a day")
            .y_desc("mower's passes caught, %")
            .x_label_formatter(&|value: &f64| canvas::tick(*value, right))
            .y_label_formatter(&|value: &f64| canvas::tick(*value, 100.0))
            .axis_style(INK)
            .bold_line_style(GRID)
            .light_line_style(WHITE)
            .label_style(canvas::font(11.0).color(&INK))
            .axis_desc_style(canvas::font(TEXT).color(&INK))
            .draw()?;
        let shown: Vec<_> = curve.iter().filter(|place| place.false_per_day.value <= right).collect();
        let at =
            |place: &&crate::study::calibrate::passes::RocPlace, share: f64| (place.false_per_day.value, 100.0 * share);
        let upper = shown.iter().map(|place| at(place, place.hits.high()));
        let lower = shown.iter().rev().map(|place| at(place, place.hits.low()));
        chart.draw_series([Polygon::new(upper.chain(lower).collect::<Vec<_>>(), series(0).mix(0.2))])?;
        let line = std::iter::once((0.0, 0.0)).chain(shown.iter().map(|place| at(place, place.hits.value)));
        chart.draw_series([PathElement::new(line.collect::<Vec<_>>(), series(0).stroke_width(2))])?;
        for (index, level) in passes.thresholds.iter().enumerate() {
            let (x, y) = (level.false_per_day.value, 100.0 * (1.0 - level.miss));
            let (low, high) = (level.false_per_day.low(), level.false_per_day.high().min(right));
            chart.draw_series([PathElement::new(vec![(low, y), (high, y)], ink(level.way).stroke_width(2))])?;
            chart.draw_series([Circle::new((x, y), 6, ink(level.way).filled())])?;
            let row = 250 + 20 * index as i32;
            area.draw(&Circle::new((510, row), 6, ink(level.way).filled()))?;
            let words = format!(
                "{}: level {}, {} missed",
                crate::report::calibrate::passes::way(level.way),
                significant(level.level, 4),
                percent(level.miss)
            );
            canvas::text(area, &words, (524, row), PLAIN)?;
        }
        let area_words =
            format!("area under the whole curve: {}", crate::report::calibrate::figures::with_ends(&passes.area, ""));
        let quiet = Setting { color: QUIET, across: HPos::Left, upright: VPos::Center, ..PLAIN };
        canvas::text(area, &area_words, (510, 250 + 20 * passes.thresholds.len() as i32), quiet)
    })?;
    let mut out = writer(Vec::new());
    out.write_record(["false_openings_per_day", "hit_share"])?;
    for place in curve {
        out.write_record([exact(place.false_per_day.value), exact(place.hits.value)])?;
    }
    let alt = format!(
        "Share of the mower's passes caught over false openings a day, with {} levels marked; area under the curve {}.",
        passes.thresholds.len(),
        significant(passes.area.value, 3)
    );
    Ok(Figure { name: "roc", svg, csv: super::finished(out)?, alt })
}

fn scores(passes: &Passes) -> Result<Figure, PlotError> {
    let both = || passes.mower.iter().chain(&passes.other);
    let (low, high) =
        both().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), score| (low.min(*score), high.max(*score)));
    let bins = Bins::amount(low, high);
    let level = passes.thresholds.first();
    let kinds = [("the mower", &passes.mower), ("others", &passes.other)];
    let counts: Vec<Vec<u64>> = kinds.iter().map(|(_, scores)| bins.counts(scores.iter().copied())).collect();
    let strips = kinds.iter().zip(&counts).map(|((name, scores), counts)| {
        let bar = |(index, count): (usize, &u64)| {
            let (from, to) = bins.edges(index);
            Bar { from, to, share: *count as f64 / scores.len() as f64 }
        };
        Strip {
            name: format!("{name}: {} passes", whole(scores.len() as u64)),
            bars: counts.iter().enumerate().map(bar).collect(),
            mark: level.map(|level| level.level),
        }
    });
    let panel = Panel {
        title: "Scores".to_owned(),
        axis: "score".to_owned(),
        share_of: "share of passes",
        range: bins.range(),
        whole: false,
        strips: strips.collect(),
    };
    let marked = level.map_or(String::new(), |level| {
        format!("dark line: level {} {}", crate::report::calibrate::passes::way(level.way), significant(level.level, 4))
    });
    let svg = sheet((WIDTH, HEADING + strips::height(2) + 8), "Scores of the passes", &marked, |area| {
        strips::draw(area, &panel)
    })?;
    let mut out = writer(Vec::new());
    out.write_record(["from", "to", "mower", "other"])?;
    for (index, (mower, other)) in counts[0].iter().zip(&counts[1]).enumerate() {
        let (from, to) = bins.edges(index);
        out.write_record([exact(from), exact(to), mower.to_string(), other.to_string()])?;
    }
    let alt = "Distribution of the scores, the mower's above and others' below.".to_owned();
    Ok(Figure { name: "scores", svg, csv: super::finished(out)?, alt })
}
