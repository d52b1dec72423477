//! `life.svg`: the chance to survive over the seasons.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::canvas::{self, HEADING, PLAIN, Setting, TEXT, sheet};
use super::palette::{GRID, INK, QUIET, series};
use super::{Figure, PlotError};
use crate::report::{csv, number};
use crate::study::lifetime::LifetimeResult;

/// Draws the life distribution.
///
/// # Errors
/// If it could not be drawn.
pub fn life(result: &LifetimeResult) -> Result<Figure, PlotError> {
    let end = result.curve.last().map_or(1.0, |point| point[0]).max(1e-9);
    let title = format!("{}: chance that the shelter's drive survives", result.name);
    let subtitle = "line: estimate; band: interval from the seasons played; dots: a tenth and half have failed";
    let svg = sheet((900, 460), &title, subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .x_label_area_size(44)
            .y_label_area_size(64)
            .build_cartesian_2d(0.0..end, 0.0..100.0)?;
        chart
            .configure_mesh()
            .x_desc("seasons")
            .y_desc("survive, %")
            .x_label_formatter(&|value: &f64| number::chosen((*value * 1e6).round() / 1e6))
            .y_label_formatter(&|value: &f64| number::chosen(value.round()))
            .axis_style(INK)
            .bold_line_style(GRID)
            .light_line_style(WHITE)
            .label_style(canvas::font(11.0).color(&INK))
            .axis_desc_style(canvas::font(TEXT).color(&INK))
            .draw()?;
        let along = |column: usize| result.curve.iter().map(move |point| (point[0], 100.0 * point[column]));
        let band: Vec<(f64, f64)> = along(2).chain(along(3).collect::<Vec<_>>().into_iter().rev()).collect();
        chart.draw_series([Polygon::new(band, series(0).mix(0.25))])?;
        chart.draw_series([PathElement::new(along(1).collect::<Vec<_>>(), series(0).stroke_width(2))])?;
        for (life, share, words) in [(result.b10.value, 90.0, "B10"), (result.median.value, 50.0, "median")] {
            if life <= end {
                chart.draw_series([Circle::new((life, share), 4, series(1).filled())])?;
                let place = chart.backend_coord(&(life, share));
                let label = format!("{words}: {} seasons", number::significant(life, 3));
                let setting = Setting { across: HPos::Left, upright: VPos::Center, color: QUIET, ..PLAIN };
                canvas::text(area, &label, (place.0 + 8, place.1 - HEADING as i32 - 8), setting)?;
            }
        }
        Ok(())
    })?;
    let mut out = csv::writer(Vec::new());
    out.write_record(["seasons", "survival", "low", "high"])?;
    for point in &result.curve {
        out.write_record(point.map(number::exact))?;
    }
    let alt = format!(
        "Chance to survive over seasons; nine in ten survive {} seasons, half {}.",
        number::significant(result.b10.value, 3),
        number::significant(result.median.value, 3)
    );
    Ok(Figure { name: "life", svg, csv: super::finished(out)?, alt })
}
