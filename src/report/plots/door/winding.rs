//! The motor's temperature over the hardest day.

use plotters::prelude::*;

use super::{HEIGHT, WIDTH, round};
use crate::report::plots::canvas::{self, sheet};
use crate::report::plots::palette::{INK, series};
use crate::report::plots::{Figure, PlotError, finished};
use crate::report::{csv, number};
use crate::study::check::drawings::Drawings;

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
    let subtitle = format!("{which}; line: its cut-out opens at {:.0} °C", drawings.trips_at_c);
    let svg = sheet((WIDTH, HEIGHT), &title, &subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin(12)
            .x_label_area_size(44)
            .y_label_area_size(64)
            .build_cartesian_2d(0.0..24.0, bottom..top)?;
        canvas::dressed(
            chart
                .configure_mesh()
                .x_label_formatter(&|value| number::chosen(round(*value)))
                .y_label_formatter(&|value| number::chosen(round(*value)))
                .x_desc("hours since midnight")
                .y_desc("winding, °C")
                .x_labels(13)
                .light_line_style(WHITE),
        )
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
    let alt =
        format!("Winding temperature on {}: at most {warmest:.0} °C with {} strokes.", drawings.date, drawings.strokes);
    Ok(Figure { name: "winding", svg, csv: finished(out)?, alt })
}
