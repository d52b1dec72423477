//! The drive's force over the stroke.

use plotters::element::DashedPathElement;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::{HEIGHT, WIDTH, round};
use crate::report::plots::canvas::{self, HEADING, PLAIN, Setting, sheet};
use crate::report::plots::palette::{INK, QUIET, series};
use crate::report::plots::thin::fewer;
use crate::report::plots::{Figure, PlotError, finished};
use crate::report::{csv, number};
use crate::shelter::mechanism::Direction;
use crate::study::check::drawings::Drawings;

/// Length of a dash and of the gap behind it, pixels.
const DASH: u32 = 7;
const GAP: u32 = 5;
/// Height of the row of names above the forces.
const LEGEND: u32 = 26;

/// `forces.svg`: required force over the stroke, available force, dead zones.
pub fn forces(drawings: &Drawings) -> Result<Figure, PlotError> {
    let full = drawings.curves.iter().flat_map(|curve| &curve.points).map(|point| point.0).fold(0.0, f64::max);
    let known = || drawings.curves.iter().flat_map(|curve| curve.points.iter().filter_map(|point| point.1));
    let (available, hot) = drawings.available_n;
    // Next to a jam the force grows without bound; the sheet ends a little above what the drive can give.
    let top = (1.15 * available).max(1.0);
    let bottom = known().fold(0.0, f64::min).max(-top) - 0.05 * top;
    let title = format!("{}: force of the drive over its stroke", drawings.name);
    let subtitle = "negative: the load drives the panel; grey band: no force moves it there (strongest gust)";
    let svg = sheet((WIDTH, HEIGHT), &title, subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .margin_top(LEGEND)
            .x_label_area_size(44)
            .y_label_area_size(64)
            .build_cartesian_2d(0.0..1000.0 * full.max(1e-3), bottom..top)?;
        canvas::dressed(
            chart
                .configure_mesh()
                .x_label_formatter(&|value| number::chosen(round(*value)))
                .y_label_formatter(&|value| number::chosen(round(*value)))
                .x_desc("position of the drive, mm from shut")
                .y_desc("force along the motion, N")
                .light_line_style(WHITE),
        )
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
        chart.draw_series([PathElement::new(vec![(0.0, 0.0), (1000.0 * full, 0.0)], INK.stroke_width(1))])?;
        let (across, up) = chart.plotting_area().dim_in_pixel();
        let pixels = [f64::from(across) / (1000.0 * full.max(1e-3)), f64::from(up) / (top - bottom)];
        for (index, curve) in drawings.curves.iter().enumerate() {
            let style = series(index).stroke_width(2);
            // In the gust broken lines, so that neither colour nor a line below is needed to tell them.
            let broken = curve.name.contains("gust");
            for piece in curve.points.split(|point| point.1.is_none()) {
                let line: Vec<(f64, f64)> =
                    piece.iter().filter_map(|point| Some((1000.0 * point.0, point.1?.clamp(bottom, top)))).collect();
                let line = fewer(&line, pixels);
                if broken {
                    chart.draw_series([DashedPathElement::new(line, DASH, GAP, style)])?;
                } else {
                    chart.draw_series([PathElement::new(line, style)])?;
                }
            }
            let column = 80 + 200 * index as i32;
            let sample = [(column, 12), (column + 26, 12)];
            if broken {
                area.draw(&DashedPathElement::new(sample, DASH, GAP, style))?;
            } else {
                area.draw(&PathElement::new(sample, style))?;
            }
            canvas::text(area, curve.name, (column + 32, 12), Setting { size: 11.0, ..PLAIN })?;
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
    Ok(Figure { name: "forces", svg, csv: finished(out)?, alt })
}
