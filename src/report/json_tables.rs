//! Studies as JSON documents (`--json`): the same figures as in the table files, row by row.
//!
//! Layouts `dooryard-compare/1`, `dooryard-tune/1`, `dooryard-sweep/1`, `dooryard-sensitivity/1`,
//! `dooryard-weather-show/1`, `dooryard-weather-fit/1`, `dooryard-calibrate/1`; keys are only ever added under these names.
//!
//! ```text
//! layout      name and version of the layout
//! version     version of the tool
//! answer      the answer, a list of sentences
//! study       of studies that play seasons: { command, seed (as a string), settings, scenarios: [ { name, sha256,
//!             common_cause } ] }; common_cause: { floor, beta } under expected misses
//! warnings    list of texts
//! cautions    list of texts
//! tables      { name: [ row ] }: one entry per table file, under its name without ending; a row is an object with the
//!             file's columns. An empty field is null; columns of figures hold numbers, all others texts
//! ```

use std::io;

use serde_json::{Map, Value, json};

use super::csv::Sink;
use super::study_file::Study;
use crate::shelter::cautions::CAUTIONS;

/// Writes a table as CSV.
type Write<'a> = &'a dyn Fn(Sink) -> io::Result<()>;

/// A table: its name, the columns that hold texts, what writes it as CSV.
pub struct Source<'a> {
    /// Name of its file without ending.
    pub name: &'static str,
    /// Columns of texts; all others hold figures.
    pub texts: &'a [&'a str],
    /// Writes it.
    pub write: Write<'a>,
}

/// The document, indented, ended by a line break.
///
/// # Errors
/// If a table can't be written or read back: a defect of the program.
pub fn document(
    layout: &str,
    version: &str,
    answer: &[String],
    study: Option<&Study>,
    warnings: &[String],
    sources: &[Source],
) -> io::Result<String> {
    let mut tables = Map::new();
    for source in sources {
        let mut bytes = Vec::new();
        (source.write)(&mut bytes)?;
        tables.insert(source.name.to_string(), rows(&bytes, source.texts)?);
    }
    let document = json!({
        "layout": layout,
        "version": version,
        "answer": answer,
        "study": study.map(told),
        "warnings": warnings,
        "cautions": CAUTIONS,
        "tables": tables,
    });
    Ok(serde_json::to_string_pretty(&document)? + "\n")
}

/// What was played, as every document says it.
pub(super) fn told(study: &Study) -> Value {
    let scenario = |one: &super::study_file::Played| {
        let common_cause = json!({ "floor": one.common_cause.floor, "beta": one.common_cause.beta });
        json!({ "name": one.name, "sha256": one.sha256, "common_cause": common_cause })
    };
    let settings: Map<String, Value> =
        study.settings.iter().map(|(name, value)| (name.clone(), json!(value))).collect();
    json!({
        "command": study.command,
        "seed": study.seed.to_string(),
        "settings": settings,
        "scenarios": study.scenarios.iter().map(scenario).collect::<Vec<_>>(),
    })
}

/// Rows of a CSV file as objects.
fn rows(bytes: &[u8], texts: &[&str]) -> io::Result<Value> {
    let mut reader = csv::Reader::from_reader(bytes);
    let head = reader.headers()?.clone();
    let mut rows = Vec::new();
    for record in reader.records() {
        let field = |(column, text): (&str, &str)| {
            let value = match text {
                "" => Value::Null,
                text if texts.contains(&column) => Value::from(text),
                text => figure(text),
            };
            (column.to_string(), value)
        };
        rows.push(Value::Object(head.iter().zip(record?.iter()).map(field).collect()));
    }
    Ok(Value::Array(rows))
}

/// A figure: whole where it can be, for the reader's sake.
fn figure(text: &str) -> Value {
    match (text, text.parse::<u64>(), text.parse::<f64>()) {
        ("true", ..) => Value::from(true),
        ("false", ..) => Value::from(false),
        (_, Ok(whole), _) => Value::from(whole),
        (_, _, Ok(value)) => Value::from(value),
        _ => Value::from(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A contender called 7 stays a text; what is withheld is null; figures are numbers.
    #[test]
    fn columns_keep_their_kind() {
        let table = b"contender,mean,low,best\n7,0.5,,true\n";
        let got = rows(table, &["contender"]).expect("a table");
        assert_eq!(got, json!([{ "contender": "7", "mean": 0.5, "low": null, "best": true }]));
    }
}
