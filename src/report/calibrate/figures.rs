//! `figures.csv` and its table: one row per figure, with unit, interval, what it rests on, and how its interval came.

use std::io;

use crate::report::csv::writer;
use crate::report::number::{WITHHELD, exact, exact_or_empty, figure_and_ends, percent, unit_text, whole};
use crate::report::table::{Cell, Table};
use crate::scenario::measure::Measure;
use crate::study::calibrate::Measured;

/// Columns of texts.
pub const TEXTS: &[&str] = &["figure", "unit", "by"];

/// A figure.
#[derive(Clone, Debug)]
pub struct Figure {
    /// Name: also its key in the file.
    pub name: &'static str,
    /// Unit in the file.
    pub unit: String,
    /// The figure.
    pub measured: Measured,
    /// Readings or passes behind it.
    pub of: u64,
    /// How its interval came; empty without one.
    pub by: &'static str,
}

impl Figure {
    /// A figure.
    pub fn new(name: &'static str, unit: impl Into<String>, measured: Measured, of: u64, by: &'static str) -> Figure {
        Figure { name, unit: unit.into(), measured, of, by }
    }
}

/// The unit in which people read a figure of this size, and what it is times the unit of the file.
fn readable(unit: &str, size: f64) -> (String, f64) {
    let small = |from: &str, to: &str| (unit.replacen(from, to, 1), 1e3);
    let of_length = unit == "m" || unit.starts_with("m/");
    match unit {
        "" | "%" => (unit.to_owned(), 1.0),
        _ if of_length && size < 0.1 => small("m", "mm"),
        _ if unit.starts_with("kg") && size < 0.1 => small("kg", "g"),
        "s" if size < 0.1 => small("s", "ms"),
        _ => (unit.to_owned(), 1.0),
    }
}

/// A figure as people read it: value with unit, and ends in the same unit.
pub fn shown(measured: &Measured, unit: &str) -> (String, String) {
    let size = libm::fmax(measured.value.abs(), measured.ends.map_or(0.0, |(low, high)| low.abs().max(high.abs())));
    let (symbol, times) = readable(unit, size);
    let scaled =
        Measured { value: measured.value * times, ends: measured.ends.map(|(low, high)| (low * times, high * times)) };
    let (value, ends) = figure_and_ends(scaled.value, scaled.ends);
    let unit = if symbol.is_empty() { String::new() } else { format!("\u{a0}{}", unit_text(&symbol)) };
    (format!("{value}{unit}"), if ends == WITHHELD { ends } else { format!("{ends}{unit}") })
}

/// Value and interval in one: `6.18 mm (6.07 to 6.30 mm)`.
pub fn with_ends(measured: &Measured, unit: &str) -> String {
    match shown(measured, unit) {
        (value, ends) if ends == WITHHELD => value,
        (value, ends) => format!("{value} ({ends})"),
    }
}

/// A length of time, s.
pub fn seconds(value: f64) -> String {
    shown(&Measured::alone(value), "s").0
}

/// A reading with the digits of its step or, without one, four.
pub fn reading(value: f64, measure: &Measure) -> String {
    shown(&Measured::alone((value * 1e4).round() / 1e4), measure.unit).0
}

/// The table.
pub fn table(figures: &[Figure], of: &str, confidence: f64) -> Table {
    let interval = format!("{} interval", percent(confidence));
    let mut table = Table::new(&["figure", "value", &interval, of, "by"]).left(4).of("figures.csv", &["figure"]);
    for figure in figures {
        let (value, ends) = shown(&figure.measured, &figure.unit);
        let cells = vec![
            Cell::new(figure.name),
            Cell::new(value).figure("value", figure.measured.value),
            Cell::new(ends)
                .perhaps("low", figure.measured.ends.map(|ends| ends.0))
                .perhaps("high", figure.measured.ends.map(|ends| ends.1)),
            Cell::new(whole(figure.of)).field(of, figure.of.to_string()),
            Cell::new(figure.by),
        ];
        table.keyed(vec![figure.name.to_owned()], cells);
    }
    table
}

/// `figures.csv`.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn csv(figures: &[Figure], of: &str, confidence: f64) -> io::Result<Vec<u8>> {
    let mut out = writer(Vec::new());
    out.write_record(["figure", "unit", "value", "low", "high", "confidence", of, "by"])?;
    for figure in figures {
        let ends = figure.measured.ends;
        out.write_record([
            figure.name,
            &figure.unit,
            &exact(figure.measured.value),
            &exact_or_empty(ends.map(|ends| ends.0)),
            &exact_or_empty(ends.map(|ends| ends.1)),
            &exact_or_empty(ends.map(|_| confidence)),
            &figure.of.to_string(),
            figure.by,
        ])?;
    }
    out.into_inner().map_err(|error| io::Error::other(error.to_string()))
}
