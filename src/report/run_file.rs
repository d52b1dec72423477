//! `run.toml`: enough to repeat a run. Holds nothing that the result's bytes don't depend on: no time of day, no
//! number of threads, no path.

use serde::{Deserialize, Serialize};
use toml::{Table, Value};

use super::context::Context;
use crate::study::result::RunResult;

/// Name of the file.
pub const NAME: &str = "run.toml";

/// What the first key says.
pub(super) const LAYOUT: &str = "dooryard-output/1";

#[derive(Serialize)]
struct RunFile<'a> {
    layout: &'static str,
    version: &'a str,
    scenario: &'a str,
    scenario_sha256: &'a str,
    /// As text: TOML integers end at 2^63.
    seed: String,
    first_season: u64,
    seasons: u64,
    seasons_asked: u64,
    confidence: f64,
    files: &'a [String],
    settings: Table,
    resolved: Resolved<'a>,
}

#[derive(Serialize)]
struct Resolved<'a> {
    scenario: &'a str,
}

/// The file's text; `files` are all files of the folder, this one included.
pub fn text(result: &RunResult, context: &Context, files: &[String]) -> Result<String, toml::ser::Error> {
    let settings: Table =
        context.settings.iter().map(|(name, value): &(String, Value)| (name.clone(), value.clone())).collect();
    toml::to_string_pretty(&RunFile {
        layout: LAYOUT,
        version: context.version,
        scenario: &result.scenario.name,
        scenario_sha256: &result.scenario_hash,
        seed: result.seed.to_string(),
        first_season: result.first_season,
        seasons: result.seasons_played,
        seasons_asked: result.seasons_asked,
        confidence: result.confidence,
        files,
        settings,
        resolved: Resolved { scenario: context.resolved_scenario },
    })
}

/// The text for a folder that holds no run: which command wrote it (`what`), and by which version.
///
/// # Errors
/// If the text can't be written as TOML.
pub fn plain(what: &str, version: &str, files: &[String]) -> Result<String, toml::ser::Error> {
    #[derive(Serialize)]
    struct Plain<'a> {
        layout: &'static str,
        version: &'a str,
        what: &'a str,
        files: &'a [String],
    }
    toml::to_string_pretty(&Plain { layout: LAYOUT, version, what, files })
}

/// Name of the command that writes a run; its `run.toml` is the only one that names none.
pub const RUN: &str = "run";

/// What the folder with this `run.toml` was written by, and its files; none if it is not one of ours.
pub fn written(text: &str) -> Option<(String, Vec<String>)> {
    #[derive(Deserialize)]
    struct Read {
        layout: String,
        files: Vec<String>,
        #[serde(alias = "what")]
        command: Option<String>,
    }
    let read: Read = toml::from_str(text).ok()?;
    (read.layout == LAYOUT).then(|| (read.command.unwrap_or_else(|| RUN.to_string()), read.files))
}
