//! Drawings of `check`: the panel with the mower to scale, the drive's force over the stroke, the motor's temperature over
//! the hardest day.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::canvas::{self, HEADING, PLAIN, Setting, TEXT, sheet};
use super::palette::{GRID, INK, QUIET, series};
use super::{Figure, PlotError};
use crate::report::{csv, number};
use crate::shelter::mechanism::Direction;
use crate::study::check::drawings::Drawings;

/// Width of the sheets.
const WIDTH: u32 = 900;
/// Height of the sheets with a chart.
const HEIGHT: u32 = 460;
/// Height of the row of names above the forces.
const LEGEND: u32 = 26;

/// All drawings of a check.
///
/// # Errors
/// If one could not be drawn.
pub fn all(drawings: &Drawings) -> Result<Vec<Figure>, PlotError> {
    Ok(vec![panel(drawings)?, forces(drawings)?, winding(drawings)?])
}

/// `panel.svg`: the panel at five positions and the mower's outline, one scale for both directions.
pub fn panel(drawings: &Drawings) -> Result<Figure, PlotError> {
    let points = || {
        let corners = drawings.mower.iter().flat_map(|outline| [outline.low, outline.high]);
        corners.chain(drawings.traces.iter().flatten().copied()).chain([(0.0, 0.0)])
    };
    let range = |of: fn((f64, f64)) -> f64| {
        points().map(of).fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(x), high.max(x)))
    };
    let (left, right) = range(|point| point.0);
    let (low, high) = range(|point| point.1);
    let (wide, tall) = (right - left + 0.2, high - low + 0.2);
    let scale = (f64::from(WIDTH - 60) / wide).min(620.0 / tall);
    let height = HEADING + (tall * scale) as u32 + 50;
    let at = |(x, y): (f64, f64)| ((40.0 + (x - left + 0.1) * scale) as i32, ((tall - 0.1 - (y - low)) * scale) as i32);
    let view = if drawings.plan_view { "seen from above" } else { "seen from the side" };
    let title = format!("{}: panel and mower to scale, {view}", drawings.name);
    let subtitle = "lines: panel at 0, 25, 50, 75 and 100 % of its stroke; dotted: ways of its ends; boxes: mower; left is the dock";
    let svg = sheet((WIDTH, height), &title, subtitle, |area| {
        if drawings.plan_view {
            // The door line with its opening.
            let half = 0.5 * drawings.opening_m.0;
            for (from, to) in [(low - 0.1, -half), (half, high + 0.1)] {
                area.draw(&PathElement::new(vec![at((0.0, from)), at((0.0, to))], QUIET.stroke_width(3)))?;
            }
        } else {
            area.draw(&PathElement::new(vec![at((left - 0.1, 0.0)), at((right + 0.1, 0.0))], QUIET.stroke_width(2)))?;
        }
        for outline in &drawings.mower {
            let (a, b) = (at(outline.low), at(outline.high));
            let corners = vec![a, (b.0, a.1), b, (a.0, b.1), a];
            area.draw(&Polygon::new(corners.clone(), GRID.mix(0.5)))?;
            area.draw(&PathElement::new(corners, QUIET.stroke_width(1)))?;
            let middle = ((a.0 + b.0) / 2, (a.1 + b.1) / 2);
            canvas::text(area, outline.name, middle, Setting { color: QUIET, across: HPos::Center, ..PLAIN })?;
        }
        for trace in &drawings.traces {
            for point in trace.iter().step_by(6) {
                area.draw(&Circle::new(at(*point), 1, QUIET.filled()))?;
            }
        }
        // The end that moves: the other one of a hinged panel stays where it is.
        let moved = |end: usize| {
            drawings.traces[end]
                .first()
                .zip(drawings.traces[end].last())
                .map_or(0.0, |(a, b)| (a.0 - b.0).hypot(a.1 - b.1))
        };
        let labelled = usize::from(moved(0) == 0.0);
        for (index, (share, line)) in drawings.poses.iter().enumerate() {
            area.draw(&PathElement::new(vec![at(line[0]), at(line[1])], series(index).stroke_width(4)))?;
            let end = at(line[labelled]);
            let label = format!("{:.0} %", 100.0 * share);
            let setting = Setting { size: 11.0, color: series(index), across: HPos::Left, upright: VPos::Bottom };
            canvas::text(area, &label, (end.0 + 6, end.1 - 3), setting)?;
        }
        // A tenth of a metre for the scale.
        let foot = (tall * scale) as i32 + 18;
        area.draw(&PathElement::new(vec![(40, foot), (40 + (0.1 * scale) as i32, foot)], INK.stroke_width(2)))?;
        canvas::text(area, "0.1 m", (46 + (0.1 * scale) as i32, foot), PLAIN)
    })?;
    let mut out = csv::writer(Vec::new());
    let second = if drawings.plan_view { "y_m" } else { "z_m" };
    out.write_record(["share_of_stroke", "end", "x_m", second])?;
    for (share, line) in &drawings.poses {
        for (end, point) in line.iter().enumerate() {
            out.write_record([number::exact(*share), end.to_string(), number::exact(point.0), number::exact(point.1)])?;
        }
    }
    let alt = format!("The panel at five positions, {view}, with the mower waiting outside and in the dock, to scale.");
    Ok(Figure { name: "panel", svg, csv: super::finished(out)?, alt })
}

/// `forces.svg`: required force over the stroke, available force, dead zones.
pub fn forces(drawings: &Drawings) -> Result<Figure, PlotError> {
    let full = drawings.curves.iter().flat_map(|curve| &curve.points).map(|point| point.0).fold(0.0, f64::max);
    let known = || drawings.curves.iter().flat_map(|curve| curve.points.iter().filter_map(|point| point.1));
    let (available, hot) = drawings.available_n;
    // Next to a jam the force grows without bound; the sheet ends a little above what the drive can give.
    let top = (1.15 * available).max(1.0);
    let bottom = known().fold(0.0, f64::min).max(-top) * 1.1;
    let title = format!("{}: force of the drive over its stroke", drawings.name);
    let subtitle = "negative: the load drives the panel; grey band: no force moves it there (strongest gust)";
    let svg = sheet((WIDTH, HEIGHT), &title, subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .margin_top(LEGEND)
            .x_label_area_size(44)
            .y_label_area_size(64)
            .build_cartesian_2d(0.0..1000.0 * full.max(1e-3), bottom..top)?;
        chart
            .configure_mesh()
            .x_label_formatter(&|value| number::chosen(round(*value)))
            .y_label_formatter(&|value| number::chosen(round(*value)))
            .x_desc("position of the drive, mm from shut")
            .y_desc("force along the motion, N")
            .axis_style(INK)
            .bold_line_style(GRID)
            .light_line_style(WHITE)
            .label_style(canvas::font(11.0).color(&INK))
            .axis_desc_style(canvas::font(TEXT).color(&INK))
            .draw()?;
        for (_, zone) in &drawings.zones {
            chart.draw_series([Rectangle::new(
                [(1000.0 * zone.from_m, bottom), (1000.0 * zone.to_m, top)],
                QUIET.mix(0.25).filled(),
            )])?;
        }
        let lines = if hot < 0.95 * available {
            vec![(available, "drive at the coldest"), (hot, "drive at its cut-out")]
        } else {
            vec![(hot, "drive, whatever its temperature")]
        };
        for (force, words) in lines {
            chart.draw_series([PathElement::new(vec![(0.0, force), (1000.0 * full, force)], INK.stroke_width(2))])?;
            let place = chart.backend_coord(&(1000.0 * full, force));
            let setting = Setting { size: 11.0, across: HPos::Right, upright: VPos::Bottom, color: INK };
            canvas::text(area, words, (place.0 - 4, place.1 - HEADING as i32 - 2), setting)?;
        }
        for (index, curve) in drawings.curves.iter().enumerate() {
            for piece in curve.points.split(|point| point.1.is_none()) {
                let line: Vec<(f64, f64)> =
                    piece.iter().filter_map(|point| Some((1000.0 * point.0, point.1?.clamp(bottom, top)))).collect();
                chart.draw_series([PathElement::new(line, series(index).stroke_width(2))])?;
            }
            let column = 80 + 200 * index as i32;
            area.draw(&PathElement::new(vec![(column, 12), (column + 24, 12)], series(index).stroke_width(3)))?;
            canvas::text(area, curve.name, (column + 30, 12), Setting { size: 11.0, ..PLAIN })?;
        }
        Ok(())
    })?;
    let mut out = csv::writer(Vec::new());
    out.write_record(["curve", "position_m", "force_n", "available_cold_n", "available_hot_n"])?;
    for curve in &drawings.curves {
        for (at, force) in &curve.points {
            out.write_record([
                curve.name.to_string(),
                number::exact(*at),
                number::exact_or_empty(*force),
                number::exact(available),
                number::exact(hot),
            ])?;
        }
    }
    let words: Vec<String> = drawings
        .zones
        .iter()
        .map(|(direction, zone)| {
            let way = if *direction == Direction::Opening { "opening" } else { "closing" };
            format!("{way} it {} from {:.0} to {:.0} mm", zone.jam, 1000.0 * zone.from_m, 1000.0 * zone.to_m)
        })
        .collect();
    let zones = if words.is_empty() { "no dead zone".to_string() } else { words.join("; ") };
    let alt =
        format!("Force that the door asks of its drive over the stroke, against what the drive can give; {zones}.");
    Ok(Figure { name: "forces", svg, csv: super::finished(out)?, alt })
}

/// `winding.svg`: winding temperature over the hardest day.
pub fn winding(drawings: &Drawings) -> Result<Figure, PlotError> {
    let warmest = drawings.winding.iter().map(|point| point.1).fold(f64::MIN, f64::max);
    let coldest = drawings.winding.iter().map(|point| point.1).fold(f64::MAX, f64::min);
    let top = drawings.trips_at_c.max(warmest) + 10.0;
    let bottom = (coldest - 5.0).min(0.0);
    let title = format!("{}: winding temperature on {}", drawings.name, drawings.date);
    let which = match drawings.strokes {
        0 => "no stroke of the season begins: the supply refuses them all".to_string(),
        1 => "the day of one season on which it gets hottest (1 stroke)".to_string(),
        count => format!("the day of one season on which it gets hottest ({count} strokes)"),
    };
    let subtitle = format!("{which}; line: its cut-out opens at {:.0} degC", drawings.trips_at_c);
    let svg = sheet((WIDTH, HEIGHT), &title, &subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .x_label_area_size(44)
            .y_label_area_size(64)
            .build_cartesian_2d(0.0..24.0, bottom..top)?;
        chart
            .configure_mesh()
            .x_label_formatter(&|value| number::chosen(round(*value)))
            .y_label_formatter(&|value| number::chosen(round(*value)))
            .x_desc("hours since midnight")
            .y_desc("winding, degC")
            .x_labels(13)
            .axis_style(INK)
            .bold_line_style(GRID)
            .light_line_style(WHITE)
            .label_style(canvas::font(11.0).color(&INK))
            .axis_desc_style(canvas::font(TEXT).color(&INK))
            .draw()?;
        chart.draw_series([PathElement::new(
            vec![(0.0, drawings.trips_at_c), (24.0, drawings.trips_at_c)],
            INK.stroke_width(2),
        )])?;
        // A day with a change of clocks has 23 or 25 hours: what lies beyond the sheet is left to the table.
        let line: Vec<(f64, f64)> = drawings.winding.iter().copied().filter(|point| point.0 <= 24.0).collect();
        chart.draw_series([PathElement::new(line, series(1).stroke_width(2))])?;
        Ok(())
    })?;
    let mut out = csv::writer(Vec::new());
    out.write_record(["hours", "winding_c"])?;
    for (hour, celsius) in &drawings.winding {
        out.write_record([number::exact(*hour), number::exact(*celsius)])?;
    }
    let alt = format!(
        "Winding temperature on {}: at most {warmest:.0} degC with {} strokes.",
        drawings.date, drawings.strokes
    );
    Ok(Figure { name: "winding", svg, csv: super::finished(out)?, alt })
}

/// Takes the rounding errors of a tick away: the axis places ticks by repeated addition.
fn round(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}
