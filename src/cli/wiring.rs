//! The few calls into the rest of the house, in one place.

use std::path::Path;
use std::sync::OnceLock;

use super::exit::Failure;
use super::output;
use crate::ledger::metric::METRICS;
use crate::ledger::record::SeasonRecord;
use crate::report::study_file::Played;
use crate::scenario::{self, Assumption, Problem, Problems, Scenario};
use crate::study;
use crate::study::alarm::too_small;
use crate::study::field::{Field, Ground, threads};
use crate::study::result::RunResult;
pub use crate::study::run::{Progress, RunSettings};

/// A scenario file, read.
pub struct Loaded {
    /// The scenario.
    pub scenario: Scenario,
    /// The resolved scenario as text, defaults included.
    pub resolved: String,
    /// All values in force, each with where it comes from.
    pub assumptions: Vec<Assumption>,
    /// SHA-256 of everything that was read, hexadecimal.
    pub sha256: String,
    /// Warnings about it, laid out.
    pub warnings: Vec<String>,
}

impl Loaded {
    /// What the files of a study tell of it.
    pub fn played(&self) -> Played {
        Played {
            name: self.scenario.name.clone(),
            sha256: self.sha256.clone(),
            resolved: self.resolved.clone(),
            assumptions: self.assumptions.clone(),
            common_cause: self.scenario.common_cause,
        }
    }

    /// What is said wherever seasons of it are played: the warnings about its file, and whether they can show anything at all.
    pub fn warnings_of_seasons(&self) -> Vec<String> {
        let small = too_small(&self.scenario).map(|words| format!("{}: {words}", self.scenario.name));
        self.warnings.iter().cloned().chain(small).collect()
    }
}

/// How samples are made while nothing is in view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Sampling {
    /// The next false run of a detector is drawn from its exact law
    Exact,
    /// Every sample is generated: the slow reference that `exact` must agree with
    Every,
}

impl Sampling {
    /// Its name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Sampling::Exact => "exact",
            Sampling::Every => "every",
        }
    }
}

impl From<Sampling> for crate::sensing::channel::Sampling {
    fn from(sampling: Sampling) -> crate::sensing::channel::Sampling {
        match sampling {
            Sampling::Exact => crate::sensing::channel::Sampling::Exact,
            Sampling::Every => crate::sensing::channel::Sampling::Every,
        }
    }
}

/// Keys and units of all metrics.
pub fn metrics() -> &'static [(&'static str, &'static str)] {
    static LIST: OnceLock<Vec<(&str, &str)>> = OnceLock::new();
    LIST.get_or_init(|| METRICS.iter().map(|metric| (metric.key, metric.unit)).collect())
}

/// Reads a scenario file.
pub fn load(path: &Path) -> Result<Loaded, Failure> {
    Ok(told(&scenario::load(path, metrics()).map_err(laid_out)?))
}

/// What the reports tell of a scenario.
pub fn told(loaded: &scenario::Loaded) -> Loaded {
    Loaded {
        resolved: scenario::print(&loaded.scenario),
        scenario: loaded.scenario.clone(),
        assumptions: loaded.assumptions.clone(),
        sha256: loaded.hash.clone(),
        warnings: loaded.warnings.list().iter().map(one_line).collect(),
    }
}

/// A warning in one line, for the report. The file's name is enough there: the report may be read elsewhere.
fn one_line(problem: &Problem) -> String {
    let file = problem.file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let help = problem.help.as_ref().map(|help| format!(" ({help})")).unwrap_or_default();
    format!("{file} line {}: {}: {}{help}", problem.line, problem.key, problem.message)
}

/// Problems of a scenario, laid out with its lines.
pub fn laid_out(problems: Problems) -> Failure {
    Failure::Rendered(problems.render(output::colour_on_stderr()))
}

/// Plays some of the seasons that `settings` asks for, for a part of the whole: one list per strategy; none if stopped.
pub fn play_some(
    loaded: &Loaded,
    settings: &RunSettings,
    seasons: std::ops::Range<u64>,
    tick: &(dyn Fn() + Sync),
) -> Result<Option<Vec<Vec<SeasonRecord>>>, Failure> {
    let field = Field::new([(&loaded.scenario, settings.strategies.as_slice())])?;
    let pool = threads(settings.threads)?;
    let ground = Ground {
        seed: settings.seed,
        sampling: settings.sampling,
        events: settings.events,
        stop: settings.stop,
        pool: &pool,
    };
    let all: Vec<usize> = (0..field.len()).collect();
    Ok(field.play(&all, seasons, &ground, tick)?)
}

/// The result of seasons that were played before.
pub fn sum_up(loaded: &Loaded, settings: &RunSettings, records: Vec<Vec<SeasonRecord>>) -> Result<RunResult, Failure> {
    Ok(study::run::assemble(&loaded.scenario, &loaded.sha256, settings, records)?)
}

/// Plays the seasons.
pub fn run(
    loaded: &Loaded,
    settings: &RunSettings,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<RunResult, Failure> {
    study::run::run_stored(&loaded.scenario, &loaded.sha256, settings, progress)
        .map_err(|error| Failure::Message(error.to_string()))
}

/// The JSON Schema of the scenario format.
pub fn json_schema() -> Result<String, Failure> {
    serde_json::to_string_pretty(&scenario::json_schema())
        .map_err(|error| Failure::Message(format!("the schema could not be written: {error}")))
}

/// The text of a starter scenario.
pub fn starter(name: &str) -> Result<String, Failure> {
    Ok(scenario::starter(name))
}
