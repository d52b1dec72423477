//! The answers of `calibrate` as text, table files, JSON (layout `dooryard-calibrate/1`) and page.
//!
//! * [`figures`]: the table of figures that both kinds of log have
//! * [`still`]: readings of something that stands still
//! * [`still_tables`]: its tables
//! * [`passes`]: labelled passes
//! * [`feedback`]: what a sensor's figures mean for a scenario
//! * [`part`]: a sensor's figures as a part of a scenario

pub mod feedback;
pub mod figures;
pub mod part;
pub mod passes;
pub mod still;
pub mod still_tables;

use std::io;
use std::path::Path;

use super::folder::{self, Item};
use super::json_tables::{self, Source};
use super::output::OutputError;
use super::plots::Figure;
use super::study_file::{Played, assumptions_file};
use super::table::{Table, hang};
use super::text::{Setting, heading, paragraph};
use crate::shelter::cautions::CAUTIONS;

/// Name and version of the JSON layout.
pub const LAYOUT: &str = "dooryard-calibrate/1";

/// A report, before it is set as text or page.
#[derive(Clone, Debug)]
pub struct Report {
    /// What was read, in a sentence.
    pub opening: String,
    /// The answer: a sentence, and more of them.
    pub answer: Vec<String>,
    /// How good it is.
    pub tone: super::page::Tone,
    /// The few figures that matter: name, value, what belongs to it.
    pub facts: Vec<[String; 3]>,
    /// Tables, each under a title with what is to be said of it.
    pub sections: Vec<(String, Table, Vec<String>)>,
    /// Drawings.
    pub drawings: Vec<Figure>,
    /// The part of a scenario, if there is one: the name of its file and its text.
    pub parts: Vec<(String, String)>,
    /// Warnings.
    pub warnings: Vec<String>,
    /// The scenario that the answer also rests on, if one was given.
    pub scenario: Option<Played>,
}

/// A table as CSV: the name of its file without ending, which columns are texts, its bytes.
pub struct TableFile {
    /// Name without ending.
    pub name: &'static str,
    /// Columns of texts.
    pub texts: &'static [&'static str],
    /// The bytes.
    pub csv: Vec<u8>,
}

/// The text.
pub fn text(report: &Report, version: &str, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    paragraph(&mut out, &report.opening, width);
    paragraph(&mut out, &format!("dooryard {version}"), width);
    heading(&mut out, "Verdict", setting);
    report.answer.iter().for_each(|sentence| paragraph(&mut out, sentence, width));
    for warning in &report.warnings {
        out.push('\n');
        out.push_str(&hang("Warning: ", warning, width));
    }
    for (title, table, notes) in &report.sections {
        heading(&mut out, title, setting);
        out.push_str(&table.render(setting));
        for note in notes {
            out.push('\n');
            paragraph(&mut out, note, width);
        }
    }
    heading(&mut out, "Keep in mind", setting);
    CAUTIONS.iter().for_each(|caution| out.push_str(&hang("- ", caution, width)));
    out
}

/// The JSON document.
///
/// # Errors
/// If a table can't be read back: a defect of the program.
pub fn json(report: &Report, tables: &[TableFile], version: &str) -> io::Result<String> {
    let writers: Vec<_> = tables.iter().map(|table| move |out: super::csv::Sink| out.write_all(&table.csv)).collect();
    let sources: Vec<Source> = tables
        .iter()
        .zip(&writers)
        .map(|(table, write)| Source { name: table.name, texts: table.texts, write })
        .collect();
    json_tables::document(LAYOUT, version, &report.answer, None, &report.warnings, &sources)
}

/// Name of the command in the folders that it writes.
pub const COMMAND: &str = "calibrate";

/// Writes the folder, or nothing.
///
/// # Errors
/// If the folder is not ours or can't be written.
pub fn write(target: &Path, report: &Report, tables: &[TableFile], version: &str) -> Result<(), OutputError> {
    let text = text(report, version, Setting::default());
    let page = super::page::calibrate::page(report, version);
    let mut items = vec![
        Item::new("summary.txt", |out| out.write_all(text.as_bytes())),
        Item::new("report.html", |out| out.write_all(page.as_bytes())),
    ];
    if let Some(scenario) = &report.scenario {
        items.push(Item::new(assumptions_file(0), |out| super::csv::assumptions(&scenario.assumptions, out)));
    }
    for table in tables {
        items.push(Item::new(format!("{}.csv", table.name), |out| out.write_all(&table.csv)));
    }
    for figure in &report.drawings {
        items.push(Item::new(format!("{}.svg", figure.name), |out| out.write_all(figure.svg.as_bytes())));
        if tables.iter().all(|table| table.name != figure.name) {
            items.push(Item::new(format!("{}.csv", figure.name), |out| out.write_all(&figure.csv)));
        }
    }
    for (name, part) in &report.parts {
        items.push(Item::new(name.clone(), |out| out.write_all(part.as_bytes())));
    }
    Ok(folder::write_plain(target, COMMAND, version, items)?)
}
