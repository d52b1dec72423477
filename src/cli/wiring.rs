//! The few calls into the rest of the house, in one place.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use super::exit::Failure;
use crate::scenario::Scenario;
use crate::study::result::RunResult;

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

/// What a run asks of the study.
pub struct RunSettings<'a> {
    /// Seasons to play.
    pub seasons: u64,
    /// Number of the first season.
    pub first_season: u64,
    /// Seed.
    pub seed: u64,
    /// Strategies to play, by index into the scenario's.
    pub strategies: Vec<usize>,
    /// Threads; none for as many as the machine has.
    pub threads: Option<usize>,
    /// Whether to record events.
    pub events: bool,
    /// Sampling.
    pub sampling: Sampling,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Turns true when the study should stop after the seasons under way.
    pub stop: &'a AtomicBool,
}

/// How far a study is.
#[derive(Clone, Copy, Debug)]
pub struct Progress {
    /// Seasons played.
    pub done: u64,
    /// Seasons asked for.
    pub all: u64,
}

/// Reads a scenario file.
pub fn load(path: &Path) -> Result<Loaded, Failure> {
    not_wired(&format!("reading `{}`", path.display()))
}

/// Plays the seasons.
pub fn run(_: &Loaded, _: &RunSettings, _: &(dyn Fn(Progress) + Sync)) -> Result<RunResult, Failure> {
    not_wired("playing seasons")
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
