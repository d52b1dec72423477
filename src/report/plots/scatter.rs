//! Two figures against each other, each point with both intervals; points may be joined by a line.

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::element::{Circle, PathElement};
use plotters::style::Color;
use plotters::style::text_anchor::HPos;

use super::PlotError;
use super::canvas::{self, Area, HEADING, PLAIN, Setting, sheet};
use super::labels::{self, Rect};
use super::palette::{QUIET, series};

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
        // Where all is nothing, the axis begins there: there is no less than none.
        let (low, high) = match (low, high) {
            (low, high) if high > low => (low, high),
            (0.0, _) => (0.0, 1.0),
            (low, high) => (low - 0.5 * high.abs(), high + 0.5 * high.abs()),
        };
        let pad = 0.07 * (high - low);
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
            chart.draw_series([Circle::new((x, y), radius(point), color.filled())])?;
        }
        // The chart answers in pixels of the whole sheet, the area draws in its own.
        let base = area.get_base_pixel();
        let own = |at: (f64, f64)| {
            let (x, y) = chart.backend_coord(&at);
            (f64::from(x - base.0), f64::from(y - base.1))
        };
        let (from, to) = (own((across.start, up.end)), own((across.end, up.start)));
        // Names may go on to the right of the chart.
        let room = Rect { left: from.0, top: from.1, right: to.0 + 56.0, bottom: to.1 };
        named(area, &scatter.points, &own, room)
    })
}

fn radius(point: &Point) -> i32 {
    if point.large { 6 } else { 3 }
}

/// Font size of names.
const NAME: f64 = 11.0;

/// Writes the names where they cover neither each other nor a point; of those that have no room the drawing says so.
fn named(area: &Area, points: &[Point], own: &dyn Fn((f64, f64)) -> (f64, f64), room: Rect) -> Result<(), PlotError> {
    let places: Vec<(f64, f64)> = points.iter().map(|point| own((point.at[0], point.at[1]))).collect();
    let dots: Vec<Rect> = places
        .iter()
        .zip(points)
        .map(|((x, y), point)| Rect::around((*x, *y), f64::from(radius(point)) + 1.0, f64::from(radius(point)) + 1.0))
        .collect();
    let crosses: Vec<Rect> = points.iter().flat_map(|point| cross(point, own)).collect();
    let mut names = labels::gathered(&places, &points.iter().map(|point| point.name.as_str()).collect::<Vec<_>>());
    names.retain(|(_, name)| !name.is_empty());
    for (_, name) in &mut names {
        *name = canvas::shortened(name, 260, NAME);
    }
    let put = labels::put(&names, NAME, room, &dots, &crosses);
    for ((at, name), place) in names.iter().zip(&put) {
        let Some(place) = place else { continue };
        if place.far {
            let end = ((at.0 as i32, at.1 as i32), place.near_end(*at));
            area.draw(&PathElement::new(vec![end.0, end.1], QUIET.stroke_width(1)))?;
        }
        // Letters are reckoned, not measured: what is left over lies on the far side of the name.
        let (x, across) = match place.area {
            area if area.left >= at.0 => (area.left + 1.0, HPos::Left),
            area if area.right <= at.0 => (area.right - 1.0, HPos::Right),
            area => (0.5 * (area.left + area.right), HPos::Center),
        };
        let at = (x as i32, (0.5 * (place.area.top + place.area.bottom)) as i32);
        canvas::text(area, name, at, Setting { size: NAME, across, ..PLAIN })?;
    }
    let left_out = put.iter().filter(|place| place.is_none()).count();
    if left_out > 0 {
        let words = format!("{left_out} names have no room here; the table beside the drawing has all");
        let corner = (room.right as i32, room.bottom as i32 + 40);
        canvas::text(area, &words, corner, Setting { size: NAME, color: QUIET, across: HPos::Right, ..PLAIN })?;
    }
    Ok(())
}

/// The boxes of a point's intervals.
fn cross(point: &Point, own: &dyn Fn((f64, f64)) -> (f64, f64)) -> Vec<Rect> {
    let [x, y] = point.at;
    let ends = point.intervals[0].map(|(low, high)| [(low, y), (high, y)]);
    let upright = point.intervals[1].map(|(low, high)| [(x, low), (x, high)]);
    let lines = [ends, upright].into_iter().flatten();
    lines.map(|[from, to]| Rect::between(own(from), own(to))).collect()
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
