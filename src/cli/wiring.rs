//! The few calls into the rest of the house, in one place.

use std::path::Path;

use super::exit::Failure;
use crate::ledger::metric::METRICS;
use crate::scenario::Scenario;
use crate::study;
use crate::study::result::RunResult;
pub use crate::study::run::{Progress, RunSettings};

/// A scenario file, read.
pub struct Loaded {
    /// The scenario.
    pub scenario: Scenario,
    /// The resolved scenario as text, defaults included.
    pub resolved: String,
    /// SHA-256 of everything that was read, hexadecimal.
    pub sha256: String,
    /// Warnings about it.
    pub warnings: Vec<String>,
}

/// How samples are made while nothing is in view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Sampling {
    /// The next false run of a detector is drawn from its exact law
    Exact,
    /// Every sample is generated: the slow reference that `exact` must agree with
    Every,
}

impl From<Sampling> for crate::sensing::channel::Sampling {
    fn from(sampling: Sampling) -> crate::sensing::channel::Sampling {
        match sampling {
            Sampling::Exact => crate::sensing::channel::Sampling::Exact,
            Sampling::Every => crate::sensing::channel::Sampling::Every,
        }
    }
}

/// Reads a scenario file.
pub fn load(path: &Path) -> Result<Loaded, Failure> {
    not_wired(&format!("reading `{}`", path.display()))
}

/// Plays the seasons.
pub fn run(
    loaded: &Loaded,
    settings: &RunSettings,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<RunResult, Failure> {
    study::run::run(&loaded.scenario, &loaded.sha256, settings, progress)
        .map_err(|error| Failure::Message(error.to_string()))
}

/// The JSON Schema of the scenario format.
pub fn json_schema() -> Result<String, Failure> {
    not_wired("the schema")
}

/// The text of a starter scenario.
pub fn starter(_: &str) -> Result<String, Failure> {
    not_wired("the starter scenario")
}

fn not_wired<T>(what: &str) -> Result<T, Failure> {
    Err(Failure::Message(format!("{what} is not wired yet")))
}
