//! Figures with their intervals, one row each, in panels with an axis of their own.

use plotters::element::{Circle, PathElement};
use plotters::style::Color;
use plotters::style::text_anchor::{HPos, VPos};

use super::PlotError;
use super::axis;
use super::canvas::{self, Area, HEADING, Setting, sheet};
use super::palette::{INK, QUIET, series};
use super::rows::{self, Frame};

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

/// What a logarithmic axis ends at: a chance below is no figure of this world.
pub const LEAST: f64 = 1e-15;

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
    /// Whether the axis is logarithmic, from [`LEAST`] on: for chances that lie decades apart.
    pub log: bool,
    /// Rows from top to bottom.
    pub rows: Vec<Row>,
}

/// Draws panels of rows; a dark line stands at zero, unless the axis is logarithmic.
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

/// All that a panel shows.
fn ends(panel: &Panel) -> impl Iterator<Item = f64> {
    let of = |row: &Row| {
        let (low, high) = row.interval.unwrap_or((row.value, row.value));
        [low, high, row.value]
    };
    panel.rows.iter().flat_map(of).filter(|end| end.is_finite())
}

/// The range of an axis that holds zero.
fn range(panel: &Panel) -> (f64, f64) {
    let (low, high) = ends(panel).fold((0.0_f64, 0.0_f64), |(l, h), end| (l.min(end), h.max(end)));
    // Where all is nothing, the axis still begins there.
    let (low, high) = if high > low { (low, high) } else { (0.0, 1.0) };
    let pad = 0.05 * (high - low);
    (low - pad, high + pad)
}

/// The range of a logarithmic axis, whole powers of ten.
fn decades(panel: &Panel) -> (f64, f64) {
    let powers = ends(panel).map(|end| end.max(LEAST).log10());
    let (low, high) = powers.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), end| (l.min(end), h.max(end)));
    if low <= high { (low.floor(), high.ceil().max(low.floor() + 1.0)) } else { (-1.0, 0.0) }
}

/// Whole powers of ten on an axis, at most seven.
fn powers((low, high): (f64, f64)) -> Vec<f64> {
    let step = libm::ceil((high - low) / 6.0).max(1.0);
    (0..).map(|index| low + f64::from(index) * step).take_while(|power| *power <= high + 1e-9).collect()
}

/// Text of a power of ten; nothing between two.
fn power(exponent: f64) -> String {
    let whole = exponent.round();
    if (exponent - whole).abs() > 1e-6 {
        String::new()
    } else if whole.abs() <= 3.0 {
        crate::report::number::chosen(10_f64.powf(whole))
    } else {
        format!("1e{whole}")
    }
}

fn draw(area: &Area, panel: &Panel) -> Result<(), PlotError> {
    let height = area.dim_in_pixel().1;
    let (low, high) = if panel.log { decades(panel) } else { range(panel) };
    let rows = panel.rows.len().max(1) as f64;
    let along = |value: f64| if panel.log { value.max(LEAST).log10() } else { value };
    let tick = |value: &f64| if panel.log { power(*value) } else { canvas::tick(*value, high - low) };
    let mut chart = rows::frame(
        area,
        &Frame {
            title: &panel.title,
            title_at: (12, 14),
            room: [NAMES, ABOVE, 18, BELOW],
            range: (low, high),
            rows,
            axis: &panel.axis,
            ticks: if panel.log { powers((low, high)) } else { axis::few((low, high), 5) },
            tick: &tick,
        },
    )?;
    if !panel.log {
        chart.draw_series([PathElement::new(vec![(0.0, 0.0), (0.0, rows)], INK.stroke_width(1))])?;
    }
    for (index, row) in panel.rows.iter().enumerate() {
        let y = rows - 0.5 - index as f64;
        let color = series(row.series);
        if let Some((from, to)) = row.interval {
            chart.draw_series([PathElement::new(vec![(along(from), y), (along(to), y)], color.stroke_width(2))])?;
        }
        if row.value.is_finite() {
            chart.draw_series([Circle::new((along(row.value), y), 4, color.filled())])?;
        }
        let room = (height - ABOVE - BELOW) as f64 / rows;
        let place = (NAMES as i32 - 8, (ABOVE as f64 + room * (index as f64 + 0.5)) as i32);
        let name = canvas::shortened(&row.name, NAMES as usize - 14, 11.0);
        let small = Setting { size: 11.0, color: QUIET, across: HPos::Right, upright: VPos::Center };
        canvas::text(area, &name, place, small)?;
    }
    Ok(())
}
