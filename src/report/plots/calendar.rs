//! `calendar.svg`: one season day by day: weeks from left to right, Monday to Sunday downwards. Darker means more, and
//! the number is printed where there is room for it, so that the drawing can be read without its shades.

use jiff::ToSpan;
use jiff::civil::Date;
use plotters::element::Rectangle;
use plotters::style::text_anchor::{HPos, VPos};
use plotters::style::{Color, RGBColor};

use super::canvas::{self, Area, HEADING, PLAIN, Setting, sheet};
use super::palette::{GRID, QUIET, series, text_on};
use super::{Figure, PlotError};
use crate::ledger::record::{Day, SeasonRecord};
use crate::report::{csv, number};
use crate::study::result::RunResult;

/// Side of a day's square, and room between two.
const CELL: i32 = 20;
const GAP: i32 = 2;
/// Left of the first week; above and below a grid.
const LEFT: i32 = 60;
const ABOVE: i32 = 44;
const BELOW: i32 = 12;
/// Shades between nothing and most.
const SHADES: i32 = 4;

/// What a grid shows of a day.
struct Grid {
    title: &'static str,
    unit: &'static str,
    color: usize,
    of: fn(&Day) -> f64,
}

const GRIDS: [Grid; 4] = [
    Grid { title: "rain", unit: "mm", color: 0, of: |day| day.rain_mm },
    Grid { title: "sorties", unit: "", color: 2, of: |day| f64::from(day.sorties) },
    Grid { title: "missed arrivals", unit: "", color: 1, of: |day| f64::from(day.missed) },
    Grid { title: "false openings", unit: "", color: 3, of: |day| f64::from(day.false_openings) },
];

/// Draws the first season of the first strategy day by day.
pub fn calendar(result: &RunResult) -> Result<Figure, PlotError> {
    let first_day = result.scenario.calendar.first_day;
    let strategy = result.strategies.first();
    let season = strategy.and_then(|strategy| strategy.seasons.first());
    let days = season.map_or(&[][..], |season| &season.days);
    let weeks = days.len().checked_sub(1).map_or(1, |last| place(first_day, last).0 + 1);
    let size = ((LEFT + weeks * (CELL + GAP) + 20).max(760) as u32, HEADING + GRIDS.len() as u32 * grid_height());
    let (name, number) = (strategy.map_or("no strategy", |it| &it.name), season.map_or(0, |it| it.season));
    let title = format!("{}: season {number} day by day, strategy {name}", result.scenario.name);
    let subtitle = "one season, not a mean; weeks from left to right, figures of single days in the squares";
    let svg = sheet(size, &title, subtitle, |area| {
        for (index, grid) in GRIDS.iter().enumerate() {
            let part = area.margin(index as u32 * grid_height(), 0, 0, 0);
            draw(&part, grid, first_day, days)?;
        }
        Ok(())
    })?;
    let alt = format!(
        "Calendar of season {number} with strategy {name}: rain, sorties, missed arrivals and false openings of each day."
    );
    let csv = table(first_day, strategy.map_or("", |it| &it.name), season)?;
    Ok(Figure { name: "calendar", svg, csv, alt })
}

fn grid_height() -> u32 {
    (ABOVE + 7 * (CELL + GAP) + BELOW) as u32
}

/// Week (column) and weekday (row, Monday 0) of the day `index` days after `first`.
fn place(first: Date, index: usize) -> (i32, i32) {
    let offset = i32::from(first.weekday().to_monday_zero_offset());
    let from_monday = offset + index as i32;
    (from_monday / 7, from_monday % 7)
}

fn draw(area: &Area, grid: &Grid, first_day: Date, days: &[Day]) -> Result<(), PlotError> {
    let values: Vec<f64> = days.iter().map(grid.of).collect();
    let most = values.iter().copied().fold(0.0, f64::max);
    let total: f64 = values.iter().sum();
    let figure = |value: f64| number::with_unit(&number::significant(value, 3), grid.unit);
    let title = format!("{}: {} in the season", grid.title, figure(total));
    canvas::text(area, &title, (LEFT, 12), Setting { size: 13.0, ..PLAIN })?;
    legend(area, grid, most, &figure)?;
    for (row, name) in ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"].iter().enumerate() {
        let at = (LEFT - 8, ABOVE + row as i32 * (CELL + GAP) + CELL / 2);
        canvas::text(area, name, at, Setting { size: 10.0, color: QUIET, across: HPos::Right, ..PLAIN })?;
    }
    for (index, &value) in values.iter().enumerate() {
        let (week, weekday) = place(first_day, index);
        let at = (LEFT + week * (CELL + GAP), ABOVE + weekday * (CELL + GAP));
        let shade = shade_of(value, most);
        square(area, at, grid.color, shade)?;
        if value > 0.0 {
            let color = text_on(tint(series(grid.color), shade));
            let middle = (at.0 + CELL / 2, at.1 + CELL / 2);
            canvas::text(area, &brief(value), middle, Setting { size: 9.0, color, across: HPos::Center, ..PLAIN })?;
        }
        let date = csv::date(first_day, index);
        // Short last months would run into the next name: a month is named where its first day stands.
        if date.day() == 1 || (index == 0 && first_day.saturating_add(14.days()).month() == first_day.month()) {
            let at = (at.0, ABOVE - 10);
            canvas::text(area, month(date), at, Setting { size: 10.0, color: QUIET, upright: VPos::Center, ..PLAIN })?;
        }
    }
    if values.is_empty() {
        canvas::text(area, "no season was played", (LEFT + 20, ABOVE + 40), Setting { color: QUIET, ..PLAIN })?;
    }
    Ok(())
}

/// Squares from nothing to most, right of the title.
fn legend(area: &Area, grid: &Grid, most: f64, figure: &dyn Fn(f64) -> String) -> Result<(), PlotError> {
    let start = LEFT + 330;
    let small = Setting { size: 11.0, color: QUIET, ..PLAIN };
    canvas::text(area, "0", (start - 6, 12), Setting { across: HPos::Right, ..small })?;
    for shade in 0..=SHADES {
        square(area, (start + shade * (CELL + GAP), 12 - CELL / 2), grid.color, shade)?;
    }
    let end = start + (SHADES + 1) * (CELL + GAP);
    canvas::text(area, &format!("{} on the fullest day", figure(most)), (end + 4, 12), small)
}

fn square(area: &Area, (x, y): (i32, i32), color: usize, shade: i32) -> Result<(), PlotError> {
    let corners = [(x, y), (x + CELL, y + CELL)];
    if shade == 0 {
        return Ok(area.draw(&Rectangle::new(corners, GRID.stroke_width(1)))?);
    }
    Ok(area.draw(&Rectangle::new(corners, tint(series(color), shade).filled()))?)
}

/// Shade of a value: 0 for nothing, then equal steps up to [`SHADES`] for the largest.
fn shade_of(value: f64, most: f64) -> i32 {
    if value <= 0.0 { 0 } else { ((value / most * f64::from(SHADES)).ceil() as i32).clamp(1, SHADES) }
}

/// `color` mixed with white for the lighter shades and with black for the darkest.
fn tint(RGBColor(red, green, blue): RGBColor, shade: i32) -> RGBColor {
    let weights = [0.0, 0.25, 0.5, 0.85, 1.0];
    let weight = weights[shade.clamp(0, SHADES) as usize];
    let dark = if shade == SHADES { 0.7 } else { 1.0 };
    let mix = |part: u8| ((255.0 + (f64::from(part) - 255.0) * weight) * dark).round() as u8;
    RGBColor(mix(red), mix(green), mix(blue))
}

/// A figure short enough for a square.
fn brief(value: f64) -> String {
    match value {
        value if value < 0.5 && value.fract() != 0.0 => "<1".to_string(),
        value if value >= 999.5 => "…".to_string(),
        value => format!("{value:.0}"),
    }
}

fn month(date: Date) -> &'static str {
    const NAMES: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    NAMES[(date.month() - 1) as usize]
}

/// `calendar.csv`: one row per day.
fn table(first_day: Date, strategy: &str, season: Option<&SeasonRecord>) -> Result<Vec<u8>, PlotError> {
    let mut out = csv::writer(Vec::new());
    out.write_record(["strategy", "season", "day", "date", "rain_mm", "sorties", "missed_arrivals", "false_openings"])?;
    if let Some(season) = season {
        for (index, day) in season.days.iter().enumerate() {
            let date = csv::date(first_day, index).to_string();
            let (number, index) = (season.season.to_string(), index.to_string());
            let mut row = vec![strategy.to_string(), number, index, date];
            row.extend(GRIDS.iter().map(|grid| number::exact((grid.of)(day))));
            out.write_record(row)?;
        }
    }
    super::finished(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_stand_under_their_weekday() {
        let first = date(2025, 4, 2); // a Wednesday
        assert_eq!(place(first, 0), (0, 2));
        assert_eq!(place(first, 4), (0, 6));
        assert_eq!(place(first, 5), (1, 0));
    }

    #[test]
    fn only_nothing_is_an_empty_square() {
        assert_eq!([0.0, 0.01, 5.0, 10.0].map(|value| shade_of(value, 10.0)), [0, 1, 2, 4]);
        assert_eq!(shade_of(0.0, 0.0), 0);
    }

    #[test]
    fn figures_fit_their_square() {
        assert_eq!([0.2, 0.7, 12.4, 999.7].map(brief), ["<1", "1", "12", "…"]);
    }
}
