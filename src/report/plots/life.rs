//! `life.svg`: the chance to survive over the seasons.

use plotters::element::DashedPathElement;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::canvas::{self, HEADING, PLAIN, Setting, sheet};
use super::palette::{QUIET, series};
use super::{Figure, PlotError};
use crate::report::lifetime::short_law;
use crate::report::{csv, number};
use crate::study::lifetime::{LawLife, LifetimeResult};

/// Draws the life distribution.
///
/// # Errors
/// If it could not be drawn.
pub fn life(result: &LifetimeResult) -> Result<Figure, PlotError> {
    let answer = result.answer();
    let end = answer.curve.last().map_or(1.0, |point| point[0]).max(1e-9);
    let title = format!("{}: chance that the shelter's drive survives", result.name);
    let subtitle = if result.moved {
        "thick: the cautious law with its interval from the seasons; thin: the other laws; dots: a tenth and half have failed"
    } else {
        "the door never moved: there is no life to tell"
    };
    let svg = sheet((900, 460), &title, subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .x_label_area_size(44)
            .y_label_area_size(64)
            .build_cartesian_2d(0.0..end, 0.0..100.0)?;
        canvas::dressed(
            chart
                .configure_mesh()
                .x_desc("seasons")
                .y_desc("survive, %")
                .x_label_formatter(&|value: &f64| number::chosen((*value * 1e6).round() / 1e6))
                .y_label_formatter(&|value: &f64| number::chosen(value.round()))
                .light_line_style(WHITE),
        )
        .draw()?;
        if !result.moved {
            return Ok(());
        }
        let along = |law: &LawLife, column: usize| -> Vec<(f64, f64)> {
            law.curve.iter().map(|point| (point[0], 100.0 * point[column])).collect()
        };
        let band: Vec<(f64, f64)> = along(answer, 2).into_iter().chain(along(answer, 3).into_iter().rev()).collect();
        chart.draw_series([Polygon::new(band, series(result.cautious).mix(0.25))])?;
        for (index, law) in result.laws.iter().enumerate() {
            let stroke = if index == result.cautious { 3 } else { 1 };
            let style = series(index).stroke_width(stroke);
            // Low on the left, where the cautious law has not come yet and no other one is lower.
            let row = 300 + 18 * index as i32;
            let sample = [(96, row), (122, row)];
            if index != result.cautious && index + 1 == result.laws.len() {
                chart.draw_series([DashedPathElement::new(along(law, 1), 7, 5, style)])?;
                area.draw(&DashedPathElement::new(sample, 7, 5, style))?;
            } else {
                chart.draw_series([PathElement::new(along(law, 1), style)])?;
                area.draw(&PathElement::new(sample, style))?;
            }
            canvas::text(area, short_law(law), (130, row), Setting { size: 11.0, ..PLAIN })?;
        }
        for (life, share, words) in [(answer.b10.value, 90.0, "B10"), (answer.median.value, 50.0, "median")] {
            if life <= end {
                chart.draw_series([Circle::new((life, share), 4, series(result.cautious).filled())])?;
                let place = chart.backend_coord(&(life, share));
                let label = format!("{words}: {} seasons", number::significant(life, 3));
                let setting = Setting { across: HPos::Left, upright: VPos::Center, color: QUIET, ..PLAIN };
                canvas::text(area, &label, (place.0 + 8, place.1 - HEADING as i32 - 8), setting)?;
            }
        }
        Ok(())
    })?;
    let mut out = csv::writer(Vec::new());
    out.write_record(["law", "seasons", "survival", "low", "high"])?;
    for law in result.laws.iter().filter(|_| result.moved) {
        for point in &law.curve {
            let figures = point.map(number::exact);
            out.write_record(std::iter::once(short_law(law)).chain(figures.iter().map(String::as_str)))?;
        }
    }
    let alt = if result.moved {
        format!(
            "Chance to survive over seasons; by the cautious law nine in ten survive {} seasons, half {}.",
            number::significant(answer.b10.value, 3),
            number::significant(answer.median.value, 3)
        )
    } else {
        "The door never moved: there is no life to tell.".to_string()
    };
    Ok(Figure { name: "life", svg, csv: super::finished(out)?, alt })
}
