//! `waits.svg`: the share of arrivals that wait longer than a given time, on logarithmic axes, so that the rare long
//! waits are as readable as the common short ones.

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::coord::combinators::IntoLogRange;
use plotters::element::{Circle, Cross, PathElement, Polygon, Rectangle};
use plotters::series::LineSeries;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, RGBColor};

use super::canvas::{self, Area, HEADING, PLAIN, Setting, TEXT, sheet};
use super::palette::{GRID, QUIET, series};
use super::{Figure, PlotError};
use crate::ledger::record::Histogram;
use crate::report::{csv, number};
use crate::study::result::RunResult;

const WIDTH: u32 = 960;
const CHART: u32 = 380;
/// Height of a line of the legend.
const LEGEND: u32 = 20;
/// Markers per curve.
const MARKERS: usize = 9;

/// A point of a curve: a wait in seconds, and the share of arrivals that wait longer.
type Point = (f64, f64);

/// Draws the share of arrivals waiting longer than a given time, one curve per strategy.
pub fn waits(result: &RunResult) -> Result<Figure, PlotError> {
    let seasons = number::counted(result.seasons_played, "season");
    let title = format!("{}: how long the mower waits at the door, {seasons}", result.scenario.name);
    let subtitle = "share of arrivals that wait longer than the time below; each curve drops at its longest wait";
    let curves: Vec<Vec<Point>> = result.strategies.iter().map(|strategy| curve(&strategy.waits)).collect();
    let size = (WIDTH, HEADING + LEGEND * result.strategies.len() as u32 + CHART);
    let svg = sheet(size, &title, subtitle, |area| {
        for (index, strategy) in result.strategies.iter().enumerate() {
            let y = (LEGEND * index as u32 + LEGEND / 2) as i32;
            let color = series(index);
            area.draw(&PathElement::new(vec![(62, y), (94, y)], color.stroke_width(2)))?;
            marker(area, index, (78, y), color)?;
            let words = format!("{}, {}", strategy.name, number::counted(strategy.waits.total(), "arrival"));
            canvas::text(area, &canvas::shortened(&words, WIDTH as usize - 120, TEXT), (102, y), PLAIN)?;
        }
        chart(&area.margin(LEGEND * result.strategies.len() as u32, 0, 0, 0), &curves)
    })?;
    let alt = format!("Share of arrivals that wait longer than a given time over {seasons}, one curve per strategy.");
    Ok(Figure { name: "waits", svg, csv: table(result)?, alt })
}

/// The share of arrivals above each bin's upper edge, up to the last positive share.
fn curve(waits: &Histogram) -> Vec<Point> {
    let total = waits.total();
    let mut longer = total;
    let mut points = Vec::new();
    for (bin, count) in waits.counts.iter().enumerate() {
        longer -= count;
        if longer == 0 {
            break;
        }
        points.push(((bin + 1) as f64 * f64::from(waits.bin_ms) / 1_000.0, longer as f64 / total as f64));
    }
    points
}

fn chart(area: &Area, curves: &[Vec<Point>]) -> Result<(), PlotError> {
    let points = || curves.iter().flatten();
    let (width, height) = area.dim_in_pixel();
    if points().next().is_none() {
        let middle = (width as i32 / 2, height as i32 / 2);
        let setting = Setting { size: 14.0, color: QUIET, across: HPos::Center, ..PLAIN };
        return canvas::text(
            area,
            "No arrival waited longer than the shortest time counted, or there were no arrivals.",
            middle,
            setting,
        );
    }
    let shortest = points().map(|point| point.0).fold(f64::INFINITY, f64::min);
    let longest = points().map(|point| point.0).fold(0.0, f64::max);
    let rarest = points().map(|point| point.1).fold(1.0, f64::min);
    let decade = |value: f64, round: fn(f64) -> f64| libm::pow(10.0, round(libm::log10(value)));
    // A hair beyond the outer decades, so that rounding doesn't drop their ticks.
    let (left, right) = (decade(shortest, libm::floor) * 0.999, decade(longest, libm::ceil) * 1.001);
    let bottom = decade(rarest, libm::floor) * 0.999;
    // Where few wait, the curves have the height to themselves.
    let most = points().map(|point| point.1).fold(0.0, f64::max);
    let top = decade(most, libm::ceil).min(1.0).max(bottom * 10.0) * 1.001;
    let mut chart = ChartBuilder::on(area)
        .margin_top(12)
        .margin_left(8)
        .margin_right(24)
        .set_label_area_size(LabelAreaPosition::Left, 70)
        .set_label_area_size(LabelAreaPosition::Bottom, 46)
        .build_cartesian_2d((left..right).log_scale(), (bottom..top).log_scale())?;
    canvas::dressed(
        chart
            .configure_mesh()
            .x_labels(6)
            .y_labels(6)
            .max_light_lines(1)
            .x_label_formatter(&|seconds| number::significant(tidy(*seconds), 1))
            .y_label_formatter(&|share| format!("{} %", number::significant(tidy(*share * 100.0), 1)))
            .x_desc("wait, s")
            .y_desc("share of arrivals that wait longer")
            .light_line_style(GRID),
    )
    .draw()?;
    for (index, points) in curves.iter().enumerate() {
        let color = series(index);
        chart.draw_series(LineSeries::new(stairs(points, bottom), color.stroke_width(2)))?;
        for point in spaced(points, left, right) {
            // The chart answers in pixels of the whole sheet, the area draws in its own.
            let (sheet, own) = (chart.backend_coord(&point), area.get_base_pixel());
            marker(area, index, (sheet.0 - own.0, sheet.1 - own.1), color)?;
        }
    }
    Ok(())
}

/// The curve as stairs, each level only where it changes, with the final drop.
fn stairs(points: &[Point], bottom: f64) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::new();
    for (index, &(wait, share)) in points.iter().enumerate() {
        let before = out.last().map(|point| point.1);
        if before != Some(share) {
            out.extend(before.map(|before| (wait, before)));
            out.push((wait, share));
        }
        if index + 1 == points.len() {
            out.push((wait, share));
            out.push((wait, bottom));
        }
    }
    out
}

/// A few points of the curve, evenly spread along the logarithmic axis.
fn spaced(points: &[Point], left: f64, right: f64) -> Vec<Point> {
    let step = libm::log10(right / left) / MARKERS as f64;
    let mut out = Vec::new();
    let mut due = f64::NEG_INFINITY;
    for &(wait, share) in points {
        let along = libm::log10(wait / left);
        if along >= due {
            out.push((wait, share));
            due = along + step;
        }
    }
    out
}

/// The marker of a series: its shape changes with the index, so that curves differ without colour.
fn marker(area: &Area, index: usize, (x, y): (i32, i32), color: RGBColor) -> Result<(), PlotError> {
    let fill = color.filled();
    match index % 5 {
        0 => area.draw(&Circle::new((x, y), 5, fill))?,
        1 => area.draw(&Rectangle::new([(x - 4, y - 4), (x + 4, y + 4)], fill))?,
        2 => area.draw(&Polygon::new(vec![(x, y - 6), (x + 6, y + 5), (x - 6, y + 5)], fill))?,
        3 => area.draw(&Polygon::new(vec![(x, y - 6), (x + 6, y), (x, y + 6), (x - 6, y)], fill))?,
        _ => area.draw(&Cross::new((x, y), 5, color.stroke_width(2)))?,
    }
    Ok(())
}

/// A power of ten without the rounding errors of the logarithmic axis.
fn tidy(value: f64) -> f64 {
    let power = libm::pow(10.0, libm::round(libm::log10(value)));
    if (value / power - 1.0).abs() < 1e-6 { power } else { value }
}

/// `waits.csv`: one row per strategy and bin that holds any arrival, at the full resolution.
fn table(result: &RunResult) -> Result<Vec<u8>, PlotError> {
    let mut out = csv::writer(Vec::new());
    out.write_record(["strategy", "from_s", "to_s", "arrivals", "share_longer"])?;
    for strategy in &result.strategies {
        let waits = &strategy.waits;
        let edge = |bin: usize| number::exact(bin as f64 * f64::from(waits.bin_ms) / 1_000.0);
        let (total, mut longer) = (waits.total(), waits.total());
        for (bin, &count) in waits.counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            longer -= count;
            let share = number::exact(longer as f64 / total as f64);
            out.write_record([&strategy.name, &edge(bin), &edge(bin + 1), &count.to_string(), &share])?;
        }
    }
    super::finished(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_is_the_share_above_each_edge() {
        let mut waits = Histogram::new(100);
        for seconds in [0.0, 0.05, 0.25, 0.25] {
            waits.add(seconds);
        }
        assert_eq!(curve(&waits), [(0.1, 0.5), (0.2, 0.5)]);
        assert_eq!(stairs(&curve(&waits), 0.01), [(0.1, 0.5), (0.2, 0.5), (0.2, 0.01)]);
    }
}
