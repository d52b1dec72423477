//! What panels of rows share: a title, and a chart whose upright axis only counts rows.

use plotters::chart::{ChartBuilder, ChartContext, LabelAreaPosition};
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::SVGBackend;

use super::PlotError;
use super::axis::Axis;
use super::canvas::{self, Area, PLAIN, Setting};

/// A chart of rows.
pub type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<Axis, RangedCoordf64>>;

/// A panel's frame. Sizes are pixels.
pub struct Frame<'a> {
    /// Title, cut to the panel's width.
    pub title: &'a str,
    /// Where its left end stands.
    pub title_at: (i32, i32),
    /// Room left of the rows, above (title), right, and below (ticks and the axis' name).
    pub room: [u32; 4],
    /// Range of the axis.
    pub range: (f64, f64),
    /// Number of rows.
    pub rows: f64,
    /// Name of the axis with unit.
    pub axis: &'a str,
    /// Ticks.
    pub ticks: Vec<f64>,
    /// Text of a tick.
    pub tick: &'a dyn Fn(&f64) -> String,
}

/// Draws title, axis and grid; the rows go from 0 at the bottom to their number at the top.
pub fn frame<'a, 'b>(area: &'a Area<'b>, frame: &Frame) -> Result<Chart<'a, 'b>, PlotError> {
    let [left, above, right, below] = frame.room;
    let width = area.dim_in_pixel().0.saturating_sub(frame.title_at.0.unsigned_abs() + 12);
    let title = canvas::shortened(frame.title, width as usize, 13.0);
    canvas::text(area, &title, frame.title_at, Setting { size: 13.0, ..PLAIN })?;
    let mut chart = ChartBuilder::on(area)
        .margin_top(above)
        .margin_right(right)
        .set_label_area_size(LabelAreaPosition::Left, left)
        .set_label_area_size(LabelAreaPosition::Bottom, below)
        .build_cartesian_2d(Axis::new(frame.range, frame.ticks.clone()), 0.0..frame.rows)?;
    canvas::dressed(
        chart
            .configure_mesh()
            .disable_y_mesh()
            .disable_y_axis()
            .x_labels(frame.ticks.len())
            .x_max_light_lines(1)
            .x_label_formatter(&|value: &f64| (frame.tick)(value))
            .x_desc(frame.axis),
    )
    .draw()?;
    Ok(chart)
}
