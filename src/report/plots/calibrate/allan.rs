//! `allan.svg`: the Allan deviation over averaging time.

use plotters::prelude::*;

use super::{WIDTH, laws};
use crate::report::csv::writer;
use crate::report::number::exact;
use crate::report::plots::canvas::{self, HEADING, TEXT, sheet};
use crate::report::plots::palette::{GRID, INK, QUIET, series};
use crate::report::plots::{Figure, PlotError, finished};
use crate::scenario::measure::Measure;
use crate::study::calibrate::allan::Place;
use crate::study::calibrate::still::Still;

/// What is labelled along an axis of times or deviations: 1, 2 and 5 times a power of ten, the others would crowd it.
fn tick(value: &f64) -> String {
    let digits = format!("{value:.1e}");
    let labelled = ["1.0", "2.0", "5.0"].contains(&digits.split('e').next().unwrap_or_default());
    // Places along the axis are multiples that rounding has blurred.
    digits.parse::<f64>().ok().filter(|_| labelled).map_or_else(String::new, |value| value.to_string())
}

pub fn allan(still: &Still, measure: &Measure) -> Result<Figure, PlotError> {
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
            .light_line_style(TRANSPARENT)
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
    Ok(Figure { name: "allan", svg, csv: finished(out)?, alt })
}
