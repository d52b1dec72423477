//! Curves with bands: how figures change along one axis, one panel per figure.

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::element::{Circle, PathElement, Polygon};
use plotters::style::Color;

use super::PlotError;
use super::canvas::{self, Area, HEADING, PLAIN, Setting, sheet};
use super::palette::series;

/// A place along the axis, the value there and its interval.
pub type Place = (f64, f64, Option<(f64, f64)>);

/// One panel.
#[derive(Clone, Debug)]
pub struct Panel {
    /// Title.
    pub title: String,
    /// Places.
    pub points: Vec<Place>,
}

/// Draws panels with the common axis `axis`.
pub fn curves(title: &str, subtitle: &str, axis: &str, panels: &[Panel]) -> Result<String, PlotError> {
    let down = (panels.len() as u32).div_ceil(2).max(1);
    sheet((960, HEADING + down * 260), title, subtitle, |area| {
        for (index, (panel, cell)) in panels.iter().zip(area.split_evenly((down as usize, 2))).enumerate() {
            draw(&cell, panel, axis, index)?;
        }
        Ok(())
    })
}

fn draw(area: &Area, panel: &Panel, axis: &str, index: usize) -> Result<(), PlotError> {
    let width = area.dim_in_pixel().0 as usize;
    canvas::text(area, &canvas::shortened(&panel.title, width - 80, 13.0), (66, 14), Setting { size: 13.0, ..PLAIN })?;
    let spread = |values: &mut dyn Iterator<Item = f64>| {
        let (low, high) = values
            .filter(|value| value.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), value| (l.min(value), h.max(value)));
        let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
        // Where all is nothing, the axis begins there: there is no less than none.
        match (low, high) {
            (low, high) if high > low => (low, high),
            (0.0, _) => (0.0, 1.0),
            (low, high) => (low - 0.5, high + 0.5),
        }
    };
    let (left, right) = spread(&mut panel.points.iter().map(|point| point.0));
    let (low, high) = spread(&mut panel.points.iter().flat_map(|(_, value, interval)| {
        let (low, high) = interval.unwrap_or((*value, *value));
        [low, high]
    }));
    let pad = 0.06 * (high - low);
    let mut chart = ChartBuilder::on(area)
        .margin_top(28)
        .margin_right(18)
        .set_label_area_size(LabelAreaPosition::Left, 66)
        .set_label_area_size(LabelAreaPosition::Bottom, 42)
        .build_cartesian_2d(left..right, low - pad..high + pad)?;
    canvas::dressed(
        chart
            .configure_mesh()
            .x_labels(6)
            .y_labels(5)
            .x_max_light_lines(1)
            .y_max_light_lines(1)
            .x_label_formatter(&|value: &f64| canvas::tick(*value, right - left))
            .y_label_formatter(&|value: &f64| canvas::tick(*value, high - low))
            .x_desc(axis),
    )
    .draw()?;
    let color = series(index);
    let banded: Vec<(f64, (f64, f64))> =
        panel.points.iter().filter_map(|(x, _, interval)| interval.map(|interval| (*x, interval))).collect();
    let lower = banded.iter().map(|(x, (low, _))| (*x, *low));
    let upper = banded.iter().rev().map(|(x, (_, high))| (*x, *high));
    chart.draw_series([Polygon::new(lower.chain(upper).collect::<Vec<_>>(), color.mix(0.2))])?;
    let line: Vec<(f64, f64)> = panel.points.iter().map(|(x, y, _)| (*x, *y)).collect();
    chart.draw_series([PathElement::new(line.clone(), color.stroke_width(2))])?;
    chart.draw_series(line.into_iter().map(|place| Circle::new(place, 3, color.filled())))?;
    Ok(())
}
