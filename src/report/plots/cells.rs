//! A figure over two axes, as cells with their numbers; the lines of equal value are where the shade steps.

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::element::Rectangle;
use plotters::style::text_anchor::{HPos, VPos};
use plotters::style::{Color, RGBColor};

use super::PlotError;
use super::canvas::{self, Area, HEADING, PLAIN, Setting, sheet};
use super::palette::{QUIET, text_on};
use crate::report::number;

/// Shades; few, so that their edges show lines of equal value.
const SHADES: f64 = 8.0;

/// One panel: values by column, then row.
#[derive(Clone, Debug)]
pub struct Panel {
    /// Title.
    pub title: String,
    /// One list per column, from the bottom up.
    pub values: Vec<Vec<f64>>,
}

/// Draws panels over the same axes: their names, and the labels of their places.
pub fn cells(
    title: &str,
    subtitle: &str,
    axes: [&str; 2],
    labels: &[Vec<String>; 2],
    panels: &[Panel],
) -> Result<String, PlotError> {
    let down = (panels.len() as u32).div_ceil(2).max(1);
    sheet((960, HEADING + down * 320), title, subtitle, |area| {
        for (panel, cell) in panels.iter().zip(area.split_evenly((down as usize, 2))) {
            draw(&cell, panel, axes, labels)?;
        }
        Ok(())
    })
}

fn draw(area: &Area, panel: &Panel, axes: [&str; 2], labels: &[Vec<String>; 2]) -> Result<(), PlotError> {
    let (width, height) = area.dim_in_pixel();
    canvas::text(
        area,
        &canvas::shortened(&panel.title, width as usize - 90, 13.0),
        (76, 14),
        Setting { size: 13.0, ..PLAIN },
    )?;
    let (columns, rows) = (labels[0].len().max(1), labels[1].len().max(1));
    let finite = panel.values.iter().flatten().filter(|value| value.is_finite());
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), value| (l.min(*value), h.max(*value)));
    let told = |value: f64| number::significant(value, 2);
    let (left, top, right, bottom) = (76, 28, 14, 56);
    let mut chart = ChartBuilder::on(area)
        .margin_top(top)
        .margin_right(right)
        .set_label_area_size(LabelAreaPosition::Left, left)
        .set_label_area_size(LabelAreaPosition::Bottom, bottom)
        .build_cartesian_2d(0.0..columns as f64, 0.0..rows as f64)?;
    let (step_x, step_y) =
        (f64::from(width - left - right) / columns as f64, f64::from(height - top - bottom) / rows as f64);
    let small = Setting { size: 10.0, color: QUIET, across: HPos::Center, upright: VPos::Center };
    for (column, values) in panel.values.iter().enumerate() {
        let x = left as f64 + step_x * (column as f64 + 0.5);
        for (row, value) in values.iter().enumerate() {
            // Cells that read the same look the same.
            let share = if told(high) != told(low) {
                ((value - low) / (high - low) * SHADES).floor().min(SHADES - 1.0) / SHADES
            } else {
                0.0
            };
            // From nearly white to the palette's blue.
            let shade = |light: f64, dark: f64| (light + (dark - light) * share) as u8;
            let color = RGBColor(shade(244.0, 86.0), shade(248.0, 160.0), shade(252.0, 211.0));
            let (from, to) = ((column as f64, row as f64), (column as f64 + 1.0, row as f64 + 1.0));
            chart.draw_series([Rectangle::new([from, to], color.filled())])?;
            let y = f64::from(height - bottom) - step_y * (row as f64 + 0.5);
            canvas::text(area, &told(*value), (x as i32, y as i32), Setting { color: text_on(color), ..small })?;
        }
        if let Some(label) = labels[0].get(column) {
            let label = canvas::shortened(label, step_x as usize + 8, 10.0);
            canvas::text(area, &label, (x as i32, (height - bottom + 12) as i32), small)?;
        }
    }
    for (row, label) in labels[1].iter().enumerate() {
        let y = f64::from(height - bottom) - step_y * (row as f64 + 0.5);
        let place = (left as i32 - 6, y as i32);
        canvas::text(area, &canvas::shortened(label, 62, 10.0), place, Setting { across: HPos::Right, ..small })?;
    }
    let name = canvas::shortened(&format!("across: {}; up: {}", axes[0], axes[1]), width as usize - 90, 11.0);
    canvas::text(area, &name, (left as i32, height as i32 - 20), Setting { size: 11.0, ..PLAIN })
}
