//! Drawings of weather, several series side by side: months, spells, intensities, the day, the wind rose, gusts.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::axis::{Axis, ticks};
use super::canvas::{self, Area, PLAIN, Setting, TEXT, sheet};
use super::palette::{GRID, QUIET, series};
use super::{Figure, PlotError};
use crate::report::number::{chosen, exact};
use crate::report::weather::{MONTHS, Named};
use crate::study::weather_summary::{SECTORS, SPEEDS};

/// Size of a sheet with one chart.
const SIZE: (u32, u32) = (820, 420);

/// Most marks on a line.
const MARKS: usize = 40;

/// Hours of a day.
const DAY: (f64, f64) = (0.0, 24.0);

/// Points of one series.
type Points = Vec<(f64, f64)>;

/// What a chart of lines shows.
struct Lines<'a> {
    name: &'static str,
    title: &'a str,
    subtitle: &'a str,
    x: &'a str,
    y: &'a str,
    /// Logarithmic x axis: points are given as log10.
    log_x: bool,
    /// The same for y.
    log_y: bool,
    /// Labels of the x axis instead of numbers.
    labels: Option<&'a [&'a str]>,
    /// The y axis begins at 0.
    from_zero: bool,
    /// Range of the x axis; none to follow the points.
    range_x: Option<(f64, f64)>,
}

/// All drawings; those without data are left out.
pub fn weather(all: &[Named]) -> Result<Vec<Figure>, PlotError> {
    let mut figures = vec![months(all)?, spells(all, true)?, spells(all, false)?, depths(all)?];
    figures.extend(day(all)?);
    if all.iter().any(|one| one.summary.monthly_gusts_m_s.len() >= 3) {
        figures.push(gusts(all)?);
    }
    if all.iter().any(|one| one.summary.rose.is_some()) {
        figures.push(rose(all)?);
    }
    Ok(figures)
}

fn months(all: &[Named]) -> Result<Figure, PlotError> {
    let points = |one: &Named| -> Points {
        let known = one.summary.monthly_mm.iter().enumerate();
        known.filter_map(|(month, mm)| mm.map(|mm| (month as f64, mm))).collect()
    };
    let what = Lines {
        name: "months",
        title: "Rain by month",
        subtitle: "depth per 30.4 days",
        x: "month",
        y: "rain in 30.4 days, mm",
        log_x: false,
        log_y: false,
        labels: Some(&MONTHS),
        from_zero: true,
        range_x: Some((0.0, 11.0)),
    };
    lines(all, &what, points)
}

/// Share of spells longer than a given length.
fn spells(all: &[Named], wet: bool) -> Result<Figure, PlotError> {
    let points = |one: &Named| {
        let runs = if wet { &one.summary.runs.wet } else { &one.summary.runs.dry };
        exceedance(runs, |share| 100.0 * share)
    };
    let (name, title) = if wet { ("wet_spells", "Wet spells") } else { ("dry_spells", "Dry spells") };
    let what = Lines {
        name,
        title,
        subtitle: "share of spells that last at least so long; an hour is wet from 0.1 mm on",
        x: "length, hours",
        y: "share of spells, %",
        log_x: true,
        log_y: true,
        labels: None,
        from_zero: false,
        range_x: None,
    };
    lines(all, &what, points)
}

fn depths(all: &[Named]) -> Result<Figure, PlotError> {
    let points = |one: &Named| {
        let hours = one.summary.wet_hours.unwrap_or(0.0) * 8_766.0;
        exceedance(&one.summary.depths_mm, |share| share * hours)
    };
    let what = Lines {
        name: "intensity",
        title: "Rain intensity",
        subtitle: "hours in a year with at least this depth",
        x: "depth in an hour, mm",
        y: "hours a year",
        log_x: true,
        log_y: true,
        labels: None,
        from_zero: false,
        range_x: None,
    };
    lines(all, &what, points)
}

fn day(all: &[Named]) -> Result<Vec<Figure>, PlotError> {
    let figure = |name, title, y, from_zero, value: &dyn Fn(&Named) -> [Option<f64>; 24]| {
        let points = |one: &Named| -> Points {
            value(one).iter().enumerate().filter_map(|(hour, y)| y.map(|y| (hour as f64 + 0.5, y))).collect()
        };
        let what = Lines {
            name,
            title,
            subtitle: "mean by hour of the day, all year",
            x: "hour of the day",
            y,
            log_x: false,
            log_y: false,
            labels: None,
            from_zero,
            range_x: Some(DAY),
        };
        lines(all, &what, points)
    };
    Ok(vec![
        figure("day_temperature", "Temperature through the day", "mean temperature, °C", false, &|one| {
            one.summary.day.temperature_c
        })?,
        figure("day_wind", "Wind through the day", "mean wind, m/s", true, &|one| one.summary.day.wind_m_s)?,
        figure("day_rain", "Rain through the day", "rain in this hour, mm a year", true, &|one| {
            one.summary.day.rain_mm.map(|mm| mm.map(|mm| 365.25 * mm))
        })?,
    ])
}

/// Largest gusts of months against their mean return period in months (plotting position of Weibull: (n + 1) / rank).
fn gusts(all: &[Named]) -> Result<Figure, PlotError> {
    let points = |one: &Named| -> Points {
        let gusts = &one.summary.monthly_gusts_m_s;
        let n = gusts.len();
        gusts.iter().enumerate().map(|(i, gust)| (((n + 1) as f64 / (n - i) as f64).log10(), *gust)).collect()
    };
    let what = Lines {
        name: "gusts",
        title: "Largest gusts of a month",
        subtitle: "once in so many months on average",
        x: "months between two such gusts",
        y: "gust, m/s",
        log_x: true,
        log_y: false,
        labels: None,
        from_zero: true,
        range_x: None,
    };
    lines(all, &what, points)
}

/// Points (log10 x, log10 of the scaled share of values of at least x), at most two hundred of them.
fn exceedance(values: &[f64], scale: impl Fn(f64) -> f64) -> Points {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|x| *x > 0.0).collect();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let mut points: Points = Vec::new();
    for (index, value) in sorted.iter().enumerate() {
        let x = value.log10();
        let far = points.last().is_none_or(|last| x > last.0 + 0.012);
        if far || index + 1 == n {
            points.push((x, scale((n - index) as f64 / n as f64).log10()));
        }
    }
    points
}

fn lines(all: &[Named], what: &Lines, points: impl Fn(&Named) -> Points) -> Result<Figure, PlotError> {
    let drawn: Vec<Points> = all.iter().map(points).collect();
    let range = |pick: fn(&(f64, f64)) -> f64| {
        let values = drawn.iter().flatten().map(pick);
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        if low < high {
            (low, high)
        } else if low.is_finite() {
            (low - 0.5, low + 0.5)
        } else {
            (0.0, 1.0)
        }
    };
    let (x, y) = (what.range_x.unwrap_or_else(|| range(|p| p.0)), range(|p| p.1));
    let low = if what.from_zero { y.0.min(0.0) } else { y.0 - 0.05 * (y.1 - y.0) };
    let y = (low, y.1 + 0.06 * (y.1 - low));
    let svg = sheet(SIZE, what.title, what.subtitle, |area| {
        legend(area, all)?;
        chart(area, what, (x, y), &drawn)
    })?;
    let mut table = super::super::csv::writer(Vec::new());
    table.write_record(["series", "x", "y"])?;
    let back = |value: f64, log: bool| exact(if log { 10_f64.powf(value) } else { value });
    for (one, points) in all.iter().zip(&drawn) {
        for (x, y) in points {
            table.write_record([one.name.as_str(), &back(*x, what.log_x), &back(*y, what.log_y)])?;
        }
    }
    let names: Vec<&str> = all.iter().map(|one| one.name.as_str()).collect();
    let alt = format!("{} of {}: {}.", what.title, names.join(" and "), what.subtitle);
    Ok(Figure { name: what.name, svg, csv: super::finished(table)?, alt })
}

fn chart(area: &Area, what: &Lines, range: ((f64, f64), (f64, f64)), drawn: &[Points]) -> Result<(), PlotError> {
    let x_ticks = match what.labels {
        Some(labels) => (0..labels.len()).map(|index| index as f64).collect(),
        None if what.range_x == Some(DAY) => (0..=8).map(|part| 3.0 * f64::from(part)).collect(),
        None => ticks(range.0, what.log_x),
    };
    let y_ticks = ticks(range.1, what.log_y);
    let mut chart = ChartBuilder::on(area)
        .margin_top(26)
        .margin_left(10)
        .margin_right(22)
        .set_label_area_size(plotters::chart::LabelAreaPosition::Left, 64)
        .set_label_area_size(plotters::chart::LabelAreaPosition::Bottom, 46)
        .build_cartesian_2d(Axis::new(range.0, x_ticks.clone()), Axis::new(range.1, y_ticks.clone()))?;
    let number = |value: f64, log: bool| {
        let value = (value * 1e9).round() / 1e9;
        chosen(if log { 10_f64.powf(value) } else { value })
    };
    let x_label = |value: &f64| match what.labels {
        Some(labels) => labels.get(value.round().max(0.0) as usize).map(ToString::to_string).unwrap_or_default(),
        None => number(*value, what.log_x),
    };
    canvas::dressed(
        chart
            .configure_mesh()
            .x_labels(x_ticks.len().max(1))
            .y_labels(y_ticks.len().max(1))
            .x_max_light_lines(0)
            .y_max_light_lines(0)
            .x_label_formatter(&x_label)
            .y_label_formatter(&|value: &f64| number(*value, what.log_y))
            .x_desc(what.x)
            .y_desc(what.y),
    )
    .draw()?;
    for (index, points) in drawn.iter().enumerate() {
        let color = series(index);
        // Lines differ by their marks as well as by colour.
        chart.draw_series([PathElement::new(points.clone(), color.stroke_width(2))])?;
        let every = points.len().div_ceil(MARKS).max(1);
        chart.draw_series(points.iter().step_by(every).map(|point| mark(index, *point, color)))?;
    }
    Ok(())
}

/// The mark of a series.
fn mark<'a, C: Clone + 'static>(index: usize, at: C, color: RGBColor) -> DynElement<'static, SVGBackend<'a>, C> {
    match index % 3 {
        0 => Circle::new(at, 4, color.filled()).into_dyn(),
        1 => TriangleMarker::new(at, 6, color.filled()).into_dyn(),
        _ => Cross::new(at, 4, color.stroke_width(2)).into_dyn(),
    }
}

/// The names of the series above a chart.
fn legend(area: &Area, all: &[Named]) -> Result<(), PlotError> {
    let most = (SIZE.0 as usize - 80) / all.len().max(1);
    let mut left = 74;
    for (index, one) in all.iter().enumerate() {
        area.draw(&PathElement::new(vec![(left, 10), (left + 18, 10)], series(index).stroke_width(2)))?;
        area.draw(&mark(index, (left + 9, 10), series(index)))?;
        let name = canvas::shortened(&one.name, most.max(40) - 30, TEXT);
        canvas::text(area, &name, (left + 24, 10), PLAIN)?;
        left += 24 + (0.6 * TEXT * name.chars().count() as f64) as i32 + 16;
    }
    Ok(())
}

/// One rose per series with directions: the length of a sector is its share of time, stacked by speed.
fn rose(all: &[Named]) -> Result<Figure, PlotError> {
    let with: Vec<&Named> = all.iter().filter(|one| one.summary.rose.is_some()).collect();
    let cell = 360;
    let size = (cell * with.len().max(1) as u32 + 120, 430);
    let sectors = |one: &Named| one.summary.rose.clone().unwrap_or_default();
    let most = with.iter().flat_map(|one| sectors(one)).map(|classes| classes.iter().sum::<f64>()).fold(0.01, f64::max);
    let top = (most * 20.0).ceil() / 20.0;
    let svg = sheet(size, "Wind rose", "where the wind comes from: share of time by direction and speed", |area| {
        for (index, one) in with.iter().enumerate() {
            let middle = ((cell as i32) * index as i32 + cell as i32 / 2, 190);
            draw_rose(area, middle, 140.0 / top, top, &sectors(one), &one.name)?;
        }
        let left = (cell * with.len() as u32) as i32 + 4;
        for class in 0..=SPEEDS.len() {
            let at = 60 + 22 * class as i32;
            area.draw(&Rectangle::new([(left, at - 6), (left + 16, at + 6)], shade(class).filled()))?;
            let words = match (class, SPEEDS.get(class)) {
                (0, Some(to)) => format!("to {to} m/s"),
                (_, Some(to)) => format!("{} to {to}", SPEEDS[class - 1]),
                (_, None) => format!("above {}", SPEEDS[class - 1]),
            };
            canvas::text(area, &words, (left + 22, at), PLAIN)?;
        }
        Ok(())
    })?;
    let mut table = super::super::csv::writer(Vec::new());
    table.write_record(["series", "from_deg", "above_m_s", "share"])?;
    for one in &with {
        for (sector, classes) in sectors(one).iter().enumerate() {
            for (class, share) in classes.iter().enumerate() {
                let above = if class == 0 { 0.5 } else { SPEEDS[class - 1] };
                let from = 360.0 * sector as f64 / SECTORS as f64;
                table.write_record([one.name.as_str(), &exact(from), &exact(above), &exact(*share)])?;
            }
        }
    }
    let names: Vec<&str> = with.iter().map(|one| one.name.as_str()).collect();
    let alt = format!("Wind rose of {}: share of time by direction and speed.", names.join(" and "));
    Ok(Figure { name: "rose", svg, csv: super::finished(table)?, alt })
}

/// From light to dark with the speed.
fn shade(class: usize) -> RGBColor {
    const SHADES: [RGBColor; 5] = [
        RGBColor(0xC6, 0xDB, 0xEF),
        RGBColor(0x8F, 0xBF, 0xE0),
        RGBColor(0x4F, 0x9A, 0xCB),
        RGBColor(0x1F, 0x6F, 0xB0),
        RGBColor(0x08, 0x30, 0x6B),
    ];
    SHADES[class.min(SHADES.len() - 1)]
}

fn draw_rose(
    area: &Area,
    middle: (i32, i32),
    scale: f64,
    top: f64,
    sectors: &[[f64; SPEEDS.len() + 1]],
    name: &str,
) -> Result<(), PlotError> {
    let place = |radius: f64, degrees: f64| {
        let angle = degrees.to_radians();
        (middle.0 + (radius * angle.sin()).round() as i32, middle.1 - (radius * angle.cos()).round() as i32)
    };
    for part in [0.5, 1.0] {
        area.draw(&Circle::new(middle, (top * part * scale) as i32, GRID.stroke_width(1)))?;
        let label = format!("{} %", chosen(100.0 * top * part));
        canvas::text(area, &label, place(top * part * scale, 11.25), Setting { size: 10.0, color: QUIET, ..PLAIN })?;
    }
    let half = 180.0 / SECTORS as f64 * 0.8;
    for (sector, classes) in sectors.iter().enumerate() {
        let direction = 360.0 * sector as f64 / SECTORS as f64;
        let mut inner = 0.0;
        for (class, share) in classes.iter().enumerate() {
            let outer = inner + share * scale;
            if outer > inner {
                let arc = |radius: f64, back: bool| {
                    (0..=6).map(move |i| {
                        let along = f64::from(i) / 3.0 - 1.0;
                        (radius, direction + half * if back { -along } else { along })
                    })
                };
                let outline: Vec<(i32, i32)> =
                    arc(outer, false).chain(arc(inner, true)).map(|(radius, degrees)| place(radius, degrees)).collect();
                area.draw(&Polygon::new(outline, shade(class).filled()))?;
            }
            inner = outer;
        }
    }
    let centred = Setting { across: HPos::Center, upright: VPos::Center, ..PLAIN };
    for (letter, degrees) in [("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)] {
        canvas::text(area, letter, place(top * scale + 14.0, degrees), centred)?;
    }
    canvas::text(area, &canvas::shortened(name, 320, TEXT), (middle.0, 362), centred)
}
