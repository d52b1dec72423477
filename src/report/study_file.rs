//! `run.toml` of studies other than a plain run: enough to repeat them. Like that of a run, it holds nothing that the
//! result's bytes don't depend on.

use serde::Serialize;
use toml::{Table, Value};

use super::csv;
use super::folder::{self, Item};
use super::plots::Figure;
use super::run_file::{LAYOUT, NAME};
use crate::scenario::Assumption;
use crate::scenario::common_cause::CommonCause;

/// A scenario that took part.
#[derive(Clone, Debug, Serialize)]
pub struct Played {
    /// Name.
    pub name: String,
    /// SHA-256 of all that was read.
    pub sha256: String,
    /// The resolved scenario, defaults included.
    pub resolved: String,
    /// All values in force, each with where it comes from; they stand in a file of their own.
    #[serde(skip)]
    pub assumptions: Vec<Assumption>,
    /// What its sensors share: reports name it; in the file it is part of the resolved scenario.
    #[serde(skip)]
    pub common_cause: CommonCause,
}

/// What is told about a study.
#[derive(Clone, Debug)]
pub struct Study {
    /// The command.
    pub command: &'static str,
    /// Version of the tool.
    pub version: &'static str,
    /// The scenarios.
    pub scenarios: Vec<Played>,
    /// What is to be said of the scenarios before the answer.
    pub warnings: Vec<String>,
    /// Seed.
    pub seed: u64,
    /// All settings that shaped the result.
    pub settings: Vec<(String, Value)>,
}

#[derive(Serialize)]
struct StudyFile<'a> {
    layout: &'static str,
    command: &'a str,
    version: &'a str,
    /// As text: TOML integers end at 2^63.
    seed: String,
    files: &'a [String],
    settings: Table,
    scenarios: &'a [Played],
}

/// The file's text; `files` are all files of the folder, this one included.
///
/// # Errors
/// If it can't be written as TOML.
pub fn text(study: &Study, files: &[String]) -> Result<String, toml::ser::Error> {
    toml::to_string_pretty(&StudyFile {
        layout: LAYOUT,
        command: study.command,
        version: study.version,
        seed: study.seed.to_string(),
        files,
        settings: study.settings.iter().cloned().collect(),
        scenarios: &study.scenarios,
    })
}

/// The file with the values of the scenario at `index`: those of the first are in `assumptions.csv`.
pub(super) fn assumptions_file(index: usize) -> String {
    if index == 0 { "assumptions.csv".to_string() } else { format!("assumptions-{}.csv", index + 1) }
}

/// Adds the scenarios' values, figures with their tables, and `run.toml`.
pub(super) fn finish<'a>(items: &mut Vec<Item<'a>>, figures: &'a [Figure], study: &'a Study) {
    for (index, scenario) in study.scenarios.iter().enumerate() {
        let write = move |out: csv::Sink| csv::assumptions(&scenario.assumptions, out);
        items.push(Item::new(assumptions_file(index), write));
    }
    items.extend(figures.iter().flat_map(folder::drawn));
    let mut names: Vec<String> = items.iter().map(|item| item.name.clone()).collect();
    names.push(NAME.to_string());
    items.push(Item::new(NAME, move |out| {
        let text = text(study, &names).map_err(std::io::Error::other)?;
        out.write_all(text.as_bytes())
    }));
}
