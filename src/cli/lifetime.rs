//! `dooryard lifetime`.

use std::path::{Path, PathBuf};

use super::exit::{Exit, Failure};
use super::progress::Meter;
use super::wiring::{self, Loaded, Progress, RunSettings};
use super::{interrupt, output, plots, run};
use crate::report::lifetime::{csv, json, text};
use crate::report::plots::life::life;
use crate::report::{self, folder, page};
use crate::study::lifetime::{LifetimeResult, from_history, lifetime};
use crate::world::log::text_file;

/// Play seasons and say how long the drive lasts: load spectrum, damage by cause, chance to survive.
///
/// With --from, a logged load history is counted instead (rainflow), and no season is played.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    /// Seasons to play
    #[arg(long, value_name = "N", default_value_t = 50, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    seasons: u64,
    /// Seed of all chance
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// The strategy to play [default: the scenario's first]
    #[arg(long, value_name = "NAME")]
    strategy: Option<String>,
    /// Threads [default: as many as the machine has]; never changes a result
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=4096))]
    threads: Option<u16>,
    /// Confidence of the intervals, 0.5 to 0.9999
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = run::confidence)]
    confidence: f64,
    /// A logged history of the drive's force in newtons: a CSV file with a column `force_n`
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// Seasons that the logged history covers
    #[arg(long, value_name = "N", default_value_t = 1.0, requires = "from", value_parser = some_seasons)]
    from_seasons: f64,
    /// Seasons the drive has already worked: also say what is left of one that still works
    #[arg(long, value_name = "N", value_parser = some_seasons)]
    used: Option<f64>,
    /// Print the result as one JSON document
    #[arg(long)]
    json: bool,
    /// Also write a page, the figures as CSV, and a drawing of the life distribution (SVG, with a CSV beside it) as this
    /// folder; an earlier lifetime study there is replaced once all is written
    #[arg(long, value_name = "DIR", alias = "plots")]
    out: Option<PathBuf>,
}

/// Name of the command in the folders that it writes.
const COMMAND: &str = "lifetime";

/// Plays or reads, and reports.
pub fn run_lifetime(arguments: &Arguments) -> Result<Exit, Failure> {
    let loaded = wiring::load(&arguments.scenario)?;
    // A folder that can't be written should fail now, not after all seasons were played.
    if let Some(folder) = &arguments.out {
        folder::check(folder, COMMAND)?;
    }
    let scenario = &loaded.scenario;
    let asked: Vec<String> = arguments.strategy.iter().cloned().collect();
    let mut strategies = run::chosen(scenario, &asked)?;
    strategies.truncate(1);
    let mut result = match &arguments.from {
        Some(file) => {
            let history = history(file)?;
            from_history(scenario, &history, arguments.from_seasons, arguments.confidence).ok_or_else(|| {
                refused(file, "there is no cycle: all its forces are alike, and nothing was moved".to_string())
            })?
        }
        None => {
            let settings = RunSettings {
                seasons: arguments.seasons,
                first_season: 0,
                seed: arguments.seed,
                strategies,
                threads: arguments.threads.map(usize::from),
                events: false,
                sampling: crate::sensing::channel::Sampling::Exact,
                confidence: arguments.confidence,
                stop: interrupt::watch()?,
            };
            let meter = Meter::new();
            let played = lifetime(scenario, &settings, &|progress: Progress| meter.show(progress.done, progress.all));
            meter.finish();
            played?
        }
    };
    result.left = arguments.used.map(|used| result.after(used));
    deliver(arguments, &loaded, &result)
}

fn deliver(arguments: &Arguments, loaded: &Loaded, result: &LifetimeResult) -> Result<Exit, Failure> {
    // A logged history was not played.
    let warnings = &if arguments.from.is_some() { loaded.warnings.clone() } else { loaded.warnings_of_seasons() };
    let interrupted = arguments.from.is_none() && result.seasons < arguments.seasons;
    if interrupted {
        let kept = arguments
            .out
            .as_ref()
            .map_or(String::new(), |folder| format!("; nothing was written, `{}` is as it was", folder.display()));
        output::say(&format!("interrupted after {} of {} seasons{kept}", result.seasons, arguments.seasons));
    }
    if interrupted && result.seasons == 0 {
        return Ok(Exit::Interrupted);
    }
    if let Some(folder) = arguments.out.as_ref().filter(|_| !interrupted) {
        let drawings = [life(result)?];
        let version = env!("CARGO_PKG_VERSION");
        let page = page::lifetime::page(result, &drawings, &loaded.assumptions, warnings, version);
        let (mut figures, mut values) = (Vec::new(), Vec::new());
        csv(result, &mut figures)?;
        report::csv::assumptions(&loaded.assumptions, &mut values)?;
        let files = [("report.html", page.as_bytes()), ("lifetime.csv", &figures), ("assumptions.csv", &values)];
        plots::write(folder, COMMAND, &drawings, &files)?;
    }
    let report = if arguments.json {
        json(result, env!("CARGO_PKG_VERSION"), warnings)?
    } else {
        output::warn(warnings);
        text(result, output::setting())
    };
    output::print(&report)?;
    Ok(if interrupted { Exit::Interrupted } else { Exit::Fine })
}

/// Largest force of a logged history that is believed, N: a hundred times what any drive of a scenario may have.
const MOST_N: f64 = 1e7;

fn refused(file: &Path, what: String) -> Failure {
    Failure::Message(format!("`{}`: {what}", file.display()))
}

/// The forces of a logged history, N.
fn history(file: &Path) -> Result<Vec<f64>, Failure> {
    let refused = |what: String| refused(file, what);
    let opened = text_file::open(file).map_err(|error| refused(error.to_string()))?;
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(opened);
    let head = reader.headers().map_err(|error| refused(error.to_string()))?;
    let column = head
        .iter()
        .position(|name| name == "force_n")
        .ok_or_else(|| refused("there is no column `force_n` (force of the drive in newtons)".to_string()))?;
    let mut forces = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| refused(error.to_string()))?;
        let line = record.position().map_or(0, csv::Position::line);
        let text = record.get(column).unwrap_or("");
        let force = text.parse::<f64>().ok().filter(|force| force.abs() <= MOST_N);
        forces.push(force.ok_or_else(|| {
            refused(format!("line {line}: `{text}` is not a force in newtons of at most {MOST_N:.0}"))
        })?);
    }
    if forces.len() < 2 {
        return Err(refused("a history needs two values at least".to_string()));
    }
    Ok(forces)
}

/// Parses a number of seasons.
fn some_seasons(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value > 0.0 && value <= 1e6 => Ok(value),
        _ => Err("a number above 0 is needed".to_string()),
    }
}
