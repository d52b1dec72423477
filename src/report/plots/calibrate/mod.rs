//! Drawings of calibrations: the Allan curve, the readings, their quantiles; the operating curve and the scores.

mod allan;
mod passes;
mod readings;

use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;

use super::canvas::{self, Area, TEXT};
use super::palette::{GRID, INK};
use super::{Figure, PlotError};
use crate::scenario::measure::Measure;
use crate::study::calibrate::passes::Passes;
use crate::study::calibrate::still::Still;

const WIDTH: u32 = 960;

/// Drawings of a log of something that stands still.
///
/// # Errors
/// If one can't be drawn.
pub fn still(still: &Still, measure: &Measure) -> Result<Vec<Figure>, PlotError> {
    Ok(vec![allan::allan(still, measure)?, readings::readings(still, measure)?, readings::quantiles(still, measure)?])
}

/// Drawings of labelled passes.
///
/// # Errors
/// If one can't be drawn.
pub fn passes(passes: &Passes) -> Result<Vec<Figure>, PlotError> {
    Ok(vec![passes::roc(passes)?, passes::scores(passes)?])
}

/// Allan deviation of means of `readings`, by white noise alone and by the fitted model.
pub fn laws(still: &Still, readings: usize) -> (f64, Option<f64>) {
    let white = still.drift.map_or(still.sigma_of_differences, |drift| drift.model.white);
    let fitted = still.drift.map(|drift| libm::sqrt(drift.model.variance(readings)));
    (white / libm::sqrt(readings as f64), fitted)
}

/// A chart over two linear axes.
type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Two linear axes with their names, drawn over the whole area.
fn axes<'a, 'b>(
    area: &'a Area<'b>,
    [across, up]: [&str; 2],
    x: std::ops::Range<f64>,
    y: std::ops::Range<f64>,
) -> Result<Chart<'a, 'b>, PlotError> {
    let (width, height) = (x.end - x.start, y.end - y.start);
    let mut chart = ChartBuilder::on(area)
        .margin(10)
        .margin_right(24)
        .x_label_area_size(42)
        .y_label_area_size(78)
        .build_cartesian_2d(x, y)?;
    chart
        .configure_mesh()
        .x_desc(across)
        .y_desc(up)
        .y_labels(6)
        .x_label_formatter(&|value: &f64| canvas::tick(*value, width))
        .y_label_formatter(&|value: &f64| canvas::tick(*value, height))
        .axis_style(INK)
        .bold_line_style(GRID)
        .light_line_style(WHITE)
        .label_style(canvas::font(11.0).color(&INK))
        .axis_desc_style(canvas::font(TEXT).color(&INK))
        .draw()?;
    Ok(chart)
}
