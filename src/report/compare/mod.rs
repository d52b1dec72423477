//! Reports of a comparison.

mod csv;
mod forest;
mod scatter;
pub(super) mod text;

use std::io;
use std::path::Path;

use super::csv::Sink;
use super::folder::{self, Item};
use super::json_tables::{self, Source};
use super::output::OutputError;
use super::page;
use super::plots::Figure;
use super::study_file::{self, Study};
use crate::study::compare::Comparison;
use crate::study::objective::Aim;

pub use text::report;

/// The comparison as one JSON document of the layout `dooryard-compare/1`.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn json(comparison: &Comparison, told: &Told) -> io::Result<String> {
    let answer = [text::answer(comparison, told)];
    let sources = [
        Source { name: "ranking", texts: &["contender", "limits"], write: &|out: Sink| csv::ranking(comparison, out) },
        Source {
            name: "differences",
            texts: &["contender", "minus", "metric", "unit", "method"],
            write: &|out: Sink| csv::differences(comparison, out),
        },
        Source {
            name: "metrics",
            texts: &["contender", "metric", "unit", "method"],
            write: &|out: Sink| csv::metrics(comparison, out),
        },
    ];
    let version = told.study.version;
    json_tables::document("dooryard-compare/1", version, &answer, Some(told.study), told.warnings, &sources)
}

/// What the reports say besides the comparison.
#[derive(Clone, Debug)]
pub struct Told<'a> {
    /// The study.
    pub study: &'a Study,
    /// Confidence of all intervals together.
    pub confidence: f64,
    /// The objective.
    pub aim: Option<&'a Aim>,
    /// Number of the first season.
    pub first_season: u64,
    /// Warnings.
    pub warnings: &'a [String],
}

/// Writes the whole output folder, or nothing.
///
/// # Errors
/// If a file can't be written or a plot can't be drawn.
pub fn write(target: &Path, comparison: &Comparison, told: &Told) -> Result<(), OutputError> {
    let mut figures: Vec<Figure> = Vec::new();
    figures.extend(forest::figure(comparison, told)?);
    figures.push(scatter::figure(comparison, told)?);
    let mut items = vec![
        Item::new("summary.txt", move |out| {
            out.write_all(report(comparison, told, super::text::Setting::default()).as_bytes())
        }),
        Item::new("report.html", |out| out.write_all(page::compare::page(comparison, told, &figures).as_bytes())),
        Item::new("differences.csv", move |out| csv::differences(comparison, out)),
        Item::new("metrics.csv", move |out| csv::metrics(comparison, out)),
        Item::new("ranking.csv", move |out| csv::ranking(comparison, out)),
        Item::new("seasons.csv", move |out| csv::seasons(comparison, told, out)),
    ];
    study_file::finish(&mut items, &figures, told.study);
    Ok(folder::write(target, told.study.command, items)?)
}
