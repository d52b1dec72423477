//! Two figures against each other, each point with both intervals; points may be joined by a line.

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::element::{Circle, PathElement, Text};
use plotters::style::Color;

use super::PlotError;
use super::canvas::{self, HEADING, sheet};
use super::palette::{INK, QUIET, series};

/// A point.
#[derive(Clone, Debug)]
pub struct Point {
    /// What is written beside it; may be empty.
    pub name: String,
    /// The figures.
    pub at: [f64; 2],
    /// Their intervals.
    pub intervals: [Option<(f64, f64)>; 2],
    /// Colour: index of the series.
    pub series: usize,
    /// Drawn large.
    pub large: bool,
}

/// What is drawn.
#[derive(Clone, Debug)]
pub struct Scatter {
    /// Title and line below it.
    pub heading: [String; 2],
    /// Names of the axes with units.
    pub axes: [String; 2],
    /// Points.
    pub points: Vec<Point>,
    /// Lines through places.
    pub lines: Vec<Vec<[f64; 2]>>,
}

/// Draws it.
pub fn scatter(scatter: &Scatter) -> Result<String, PlotError> {
    let range = |axis: usize| {
        let ends = scatter.points.iter().flat_map(|point| {
            let (low, high) = point.intervals[axis].unwrap_or((point.at[axis], point.at[axis]));
            [low, high]
        });
        let (low, high) = ends
            .filter(|end| end.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), end| (l.min(end), h.max(end)));
        let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
        let pad = if high > low { 0.07 * (high - low) } else { 0.5 * high.abs().max(1.0) };
        (low - pad)..(high + pad)
    };
    let (across, up) = (range(0), range(1));
    let [title, subtitle] = &scatter.heading;
    sheet((960, HEADING + 460), title, subtitle, |area| {
        let mut chart = ChartBuilder::on(area)
            .margin_top(10)
            .margin_left(10)
            .margin_right(60)
            .set_label_area_size(LabelAreaPosition::Left, 78)
            .set_label_area_size(LabelAreaPosition::Bottom, 48)
            .build_cartesian_2d(across.clone(), up.clone())?;
        canvas::dressed(
            chart
                .configure_mesh()
                .x_max_light_lines(1)
                .y_max_light_lines(1)
                .x_label_formatter(&|value: &f64| canvas::tick(*value, across.end - across.start))
                .y_label_formatter(&|value: &f64| canvas::tick(*value, up.end - up.start))
                .x_desc(scatter.axes[0].as_str())
                .y_desc(scatter.axes[1].as_str()),
        )
        .draw()?;
        for line in &scatter.lines {
            let places = line.iter().map(|place| (place[0], place[1])).collect::<Vec<_>>();
            chart.draw_series([PathElement::new(places, QUIET.stroke_width(1))])?;
        }
        for point in &scatter.points {
            let color = series(point.series);
            let [x, y] = point.at;
            if let Some((low, high)) = point.intervals[0] {
                chart.draw_series([PathElement::new(vec![(low, y), (high, y)], color.stroke_width(1))])?;
            }
            if let Some((low, high)) = point.intervals[1] {
                chart.draw_series([PathElement::new(vec![(x, low), (x, high)], color.stroke_width(1))])?;
            }
            chart.draw_series([Circle::new((x, y), if point.large { 6 } else { 3 }, color.filled())])?;
            let name = canvas::shortened(&point.name, 260, 11.0);
            let style = canvas::font(11.0).color(&INK);
            chart.draw_series([Text::new(format!("  {name}"), (x, y), style)])?;
        }
        Ok(())
    })
}

/// The corners of the staircase through the points that nobody beats, from left to right.
pub fn staircase(mut points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(b[1].total_cmp(&a[1])));
    let mut corners: Vec<[f64; 2]> = Vec::new();
    for point in points {
        if let Some(last) = corners.last().copied() {
            corners.push([point[0], last[1]]);
        }
        corners.push(point);
    }
    corners
}
