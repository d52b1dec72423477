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
use crate::study::check::drawings::{Curve, Drawings};

/// Length of a dash and of the gap behind it, pixels.
const DASH: u32 = 7;
const GAP: u32 = 5;
/// Height of the row of names above the forces.
const LEGEND: u32 = 26;

/// For each curve the first one that lies on it, within `near` all along: itself, or one before it.
fn alike(curves: &[Curve], near: f64) -> Vec<usize> {
    let same = |one: &Curve, other: &Curve| {
        one.points.len() == other.points.len()
            && one.points.iter().zip(&other.points).all(|(a, b)| match (a.1, b.1) {
                (Some(a), Some(b)) => (a - b).abs() <= near,
                (None, None) => true,
                _ => false,
            })
    };
    (0..curves.len())
        .map(|index| (0..index).find(|before| same(&curves[*before], &curves[index])).unwrap_or(index))
        .collect()
}

/// Names of lines that lie on each other: what they share is said once.
fn together(names: &[&str]) -> String {
    let parts: Vec<(&str, &str)> = names.iter().filter_map(|name| name.split_once(", ")).collect();
    match parts.first() {
        Some((_, when)) if parts.len() == names.len() && parts.iter().all(|part| part.1 == *when) => {
            let ways: Vec<&str> = parts.iter().map(|part| part.0).collect();
            format!("{}, {when}", ways.join(" and "))
        }
        _ => names.join(" and "),
    }
}

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
        // Whole lines first: broken ones on top leave them to be seen. Of lines that lie on each other one is drawn, under both names.
        let alike = alike(&drawings.curves, 0.01 * top);
        let mut column = 80;
        let mut order: Vec<usize> = (0..drawings.curves.len()).filter(|index| alike[*index] == *index).collect();
        order.sort_by_key(|index| drawings.curves[*index].name.contains("gust"));
        for index in order {
            let curve = &drawings.curves[index];
            let names: Vec<&str> = (index..alike.len())
                .filter(|other| alike[*other] == index)
                .map(|other| drawings.curves[other].name)
                .collect();
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
            let sample = [(column, 12), (column + 26, 12)];
            if broken {
                area.draw(&DashedPathElement::new(sample, DASH, GAP, style))?;
            } else {
                area.draw(&PathElement::new(sample, style))?;
            }
            let words = together(&names);
            canvas::text(area, &words, (column + 32, 12), Setting { size: 11.0, ..PLAIN })?;
            column += 62 + 6 * words.chars().count() as i32;
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A leaf closes in calm air as hard as it opens: one line, both names; a line that differs anywhere has its own.
    #[test]
    fn lines_on_each_other_are_named_together() {
        let curve = |name, forces: [Option<f64>; 3]| Curve {
            name,
            points: forces.into_iter().enumerate().map(|(at, force)| (at as f64, force)).collect(),
        };
        let curves = [
            curve("opening, calm", [Some(1.0), Some(2.0), None]),
            curve("opening, strongest gust", [Some(1.0), Some(9.0), None]),
            curve("closing, calm", [Some(1.0), Some(2.01), None]),
            curve("closing, strongest gust", [Some(1.0), Some(2.0), Some(3.0)]),
        ];
        assert_eq!(alike(&curves, 0.1), [0, 1, 0, 3]);
        assert_eq!(alike(&curves, 0.001), [0, 1, 2, 3]);
        assert_eq!(together(&["opening, calm", "closing, calm"]), "opening and closing, calm");
        assert_eq!(
            together(&["opening, calm", "opening, strongest gust"]),
            "opening, calm and opening, strongest gust"
        );
    }
}
