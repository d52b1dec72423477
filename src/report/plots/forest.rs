//! Figures with their intervals, one row each, in panels with an axis of their own.

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::element::{Circle, PathElement};
use plotters::style::Color;
use plotters::style::text_anchor::{HPos, VPos};

use super::PlotError;
use super::canvas::{self, Area, HEADING, PLAIN, Setting, TEXT, sheet};
use super::palette::{GRID, INK, QUIET, series};

/// Width of the sheet.
const WIDTH: u32 = 960;
/// Panels side by side.
const ACROSS: u32 = 2;
/// Room for names left of a panel.
const NAMES: u32 = 190;
/// Height of a row; room above (title) and below (axis).
const ROW: u32 = 24;
const ABOVE: u32 = 28;
const BELOW: u32 = 44;

/// One row.
#[derive(Clone, Debug)]
pub struct Row {
    /// Name.
    pub name: String,
    /// The figure.
    pub value: f64,
    /// Its interval.
    pub interval: Option<(f64, f64)>,
    /// Colour: index of the series.
    pub series: usize,
}

/// Rows with a common axis.
#[derive(Clone, Debug)]
pub struct Panel {
    /// Title.
    pub title: String,
    /// Name of the axis with unit.
    pub axis: String,
    /// Rows from top to bottom.
    pub rows: Vec<Row>,
}

/// Draws panels of rows; a dark line stands at zero.
pub fn forest(title: &str, subtitle: &str, panels: &[Panel]) -> Result<String, PlotError> {
    let rows = panels.iter().map(|panel| panel.rows.len()).max().unwrap_or(1).max(1) as u32;
    let down = (panels.len() as u32).div_ceil(ACROSS).max(1);
    let height = ABOVE + BELOW + ROW * rows;
    sheet((WIDTH, HEADING + down * height), title, subtitle, |area| {
        for (panel, cell) in panels.iter().zip(area.split_evenly((down as usize, ACROSS as usize))) {
            draw(&cell, panel)?;
        }
        Ok(())
    })
}

fn draw(area: &Area, panel: &Panel) -> Result<(), PlotError> {
    let (width, height) = area.dim_in_pixel();
    let at = (12, 14);
    canvas::text(
        area,
        &canvas::shortened(&panel.title, width as usize - 24, 13.0),
        at,
        Setting { size: 13.0, ..PLAIN },
    )?;
    let ends = panel.rows.iter().flat_map(|row| {
        let (low, high) = row.interval.unwrap_or((row.value, row.value));
        [low, high, row.value]
    });
    let (low, high) =
        ends.filter(|end| end.is_finite()).fold((0.0_f64, 0.0_f64), |(l, h), end| (l.min(end), h.max(end)));
    // Where all is nothing, the axis still begins there.
    let (low, high) = if high > low { (low, high) } else { (0.0, 1.0) };
    let pad = 0.05 * (high - low);
    let (low, high) = (low - pad, high + pad);
    let rows = panel.rows.len().max(1) as f64;
    let mut chart = ChartBuilder::on(area)
        .margin_top(ABOVE)
        .margin_right(18)
        .set_label_area_size(LabelAreaPosition::Left, NAMES)
        .set_label_area_size(LabelAreaPosition::Bottom, BELOW)
        .build_cartesian_2d(low..high, 0.0..rows)?;
    chart
        .configure_mesh()
        .disable_y_mesh()
        .disable_y_axis()
        .x_labels(4)
        .x_max_light_lines(1)
        .x_label_formatter(&|value: &f64| canvas::tick(*value, high - low))
        .x_desc(panel.axis.as_str())
        .axis_style(INK)
        .bold_line_style(GRID)
        .label_style(canvas::font(11.0).color(&INK))
        .axis_desc_style(canvas::font(TEXT).color(&INK))
        .draw()?;
    chart.draw_series([PathElement::new(vec![(0.0, 0.0), (0.0, rows)], INK.stroke_width(1))])?;
    for (index, row) in panel.rows.iter().enumerate() {
        let y = rows - 0.5 - index as f64;
        let color = series(row.series);
        if let Some((from, to)) = row.interval {
            chart.draw_series([PathElement::new(vec![(from, y), (to, y)], color.stroke_width(2))])?;
        }
        if row.value.is_finite() {
            chart.draw_series([Circle::new((row.value, y), 4, color.filled())])?;
        }
        let room = (height - ABOVE - BELOW) as f64 / rows;
        let place = (NAMES as i32 - 8, (ABOVE as f64 + room * (index as f64 + 0.5)) as i32);
        let name = canvas::shortened(&row.name, NAMES as usize - 14, 11.0);
        let small = Setting { size: 11.0, color: QUIET, across: HPos::Right, upright: VPos::Center };
        canvas::text(area, &name, place, small)?;
    }
    Ok(())
}
