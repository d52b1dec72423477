//! `dooryard run`.

use std::ops::Range;
use std::path::{Path, PathBuf};

use super::clock::Clock;
use super::exit::{Exit, Failure};
use super::nearest::hint;
use super::parts::{self, Known, Share};
use super::progress::Meter;
use super::wiring::{self, Loaded, Progress, RunSettings, Sampling};
use super::{interrupt, output};
use crate::ledger::record::SeasonRecord;
use crate::report::context::Context;
use crate::report::plots::door;
use crate::report::text;
use crate::report::{self, folder, json, words};
use crate::scenario::Scenario;
use crate::shelter::cautions::CAUTIONS;
use crate::study::check::{Climate, Drawings};
use crate::study::result::RunResult;

/// What every reader of a run should keep in mind.
const READING: &[&str] = &[
    "The intervals cover chance from season to season. They don't cover errors of the scenario: a figure that was \
     guessed there stays a guess here.",
    "Visitors, faults and weather are those that the scenario lists; what it leaves out never happens.",
    "Rain depths are what falls in the open; how much of it reaches the mower or the floor depends on wind and roof.",
];

/// Play many seasons of a scenario and report what happened, with its uncertainty.
///
/// Writes texts, tables, plots and a page to the output folder, and the report to standard output. The same scenario,
/// seed and settings give the same bytes, whatever the number of threads.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    /// Seasons to play
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u64).range(1..=1_000_000_000))]
    seasons: u64,
    /// Seed of all chance; every report says it
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// Play only this strategy; may be given several times
    #[arg(long, value_name = "NAME")]
    strategy: Vec<String>,
    /// Threads [default: as many as the machine has]; never changes a result
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=4096))]
    threads: Option<u16>,
    /// Output folder [default: output/ and the scenario's name]; an earlier run there is replaced once all is written
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also record every event of every season in events.csv (large)
    #[arg(long)]
    events: bool,
    /// Print the result as one JSON document instead of the text report
    #[arg(long)]
    json: bool,
    /// How idle sensors are sampled
    #[arg(long, value_enum, default_value_t = Sampling::Exact)]
    sampling: Sampling,
    /// Number of the first season; season N is the same in every run with the same seed
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u64).range(0..=1_000_000_000_000))]
    first_season: u64,
    /// Confidence of the intervals, 0.5 to 0.9999
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = confidence)]
    confidence: f64,
    /// Play only share I of N and write a part file, for `dooryard merge`
    #[arg(long, value_name = "I/N")]
    part: Option<Share>,
}

/// Plays the seasons (or takes those that are known) and delivers the result.
pub fn run(arguments: &Arguments, known: Option<&Known>) -> Result<Exit, Failure> {
    let loaded = wiring::load(&arguments.scenario)?;
    let scenario = &loaded.scenario;
    let strategies = chosen(scenario, &arguments.strategy)?;
    let target = arguments.out.clone().unwrap_or_else(|| Path::new("output").join(&scenario.name));
    let clock = Clock::new(scenario)?;
    if let Some(share) = arguments.part {
        return play_part(arguments, share, &loaded, strategies);
    }
    // A folder that can't be written should fail now, not after all seasons were played.
    folder::check(&target, "run")?;
    let settings = settings(arguments, strategies)?;
    let meter = Meter::new();
    let played = match known {
        Some(known) => {
            known.check(&[&loaded.sha256], settings.strategies.len())?;
            let seasons = settings.first_season..settings.first_season + settings.seasons;
            wiring::sum_up(&loaded, &settings, known.fetch(seasons)?)
        }
        None => wiring::run(&loaded, &settings, &|progress: Progress| meter.show(progress.done, progress.all)),
    };
    meter.finish();
    let mut result = played?;
    result.warnings.splice(0..0, loaded.warnings_of_seasons());
    let recorded = recorded(&settings, scenario);
    let cautions: Vec<&str> = READING.iter().chain(CAUTIONS).copied().collect();
    let climate = Climate::of(scenario)?;
    let mechanism = door::all(&Drawings::new(scenario, &climate)?)?;
    let file = as_named(&arguments.scenario);
    let context = Context {
        file: &file,
        assumptions: &loaded.assumptions,
        mechanism: &mechanism,
        version: env!("CARGO_PKG_VERSION"),
        settings: &recorded,
        resolved_scenario: &loaded.resolved,
        cautions: &cautions,
        time: &|at| clock.text(at),
    };
    let (exit, report) = deliver(&result, &context, &target, arguments.json)?;
    output::print(&report)?;
    Ok(exit)
}

/// The scenario's file in the commands that a report suggests: as the user named it, so that they work where the run was
/// started. Of a whole path only the file's name: results should not tell, or depend on, where on a machine a folder lies.
fn as_named(path: &Path) -> String {
    let named = if path.is_absolute() { path.file_name().map(Path::new).unwrap_or(path) } else { path };
    let named = named.to_string_lossy();
    if std::path::MAIN_SEPARATOR == '/' { named.into_owned() } else { named.replace(std::path::MAIN_SEPARATOR, "/") }
}

fn settings(arguments: &Arguments, strategies: Vec<usize>) -> Result<RunSettings<'static>, Failure> {
    Ok(RunSettings {
        seasons: arguments.seasons,
        first_season: arguments.first_season,
        seed: arguments.seed,
        strategies,
        threads: arguments.threads.map(usize::from),
        events: arguments.events,
        sampling: arguments.sampling.into(),
        confidence: arguments.confidence,
        stop: interrupt::watch()?,
    })
}

/// Plays a share of the seasons and writes its part file.
fn play_part(arguments: &Arguments, share: Share, loaded: &Loaded, strategies: Vec<usize>) -> Result<Exit, Failure> {
    let folder =
        arguments.out.clone().unwrap_or_else(|| Path::new("output").join(format!("{}-parts", loaded.scenario.name)));
    let settings = settings(arguments, strategies)?;
    let seasons = share.seasons(settings.first_season, settings.seasons);
    let meter = Meter::new();
    let plays = (seasons.end - seasons.start) * settings.strategies.len() as u64;
    let played = wiring::play_some(loaded, &settings, seasons.clone(), &meter.ticker(plays));
    meter.finish();
    finish_part(share, &folder, &[&loaded.sha256], seasons, played?)
}

/// Writes a part file, unless stopped before all its seasons were played.
pub fn finish_part(
    share: Share,
    folder: &Path,
    scenarios: &[&str],
    seasons: Range<u64>,
    played: Option<Vec<Vec<SeasonRecord>>>,
) -> Result<Exit, Failure> {
    let Some(records) = played else {
        output::say("interrupted; no part was written");
        return Ok(Exit::Interrupted);
    };
    let file = share.file(folder);
    parts::write(&file, scenarios, seasons.clone(), &records)?;
    output::say(&format!("{} seasons are in {}", seasons.end - seasons.start, file.display()));
    Ok(Exit::Fine)
}

/// Writes the output folder, says on standard error where it is, and returns the exit code and what belongs on
/// standard output. An interrupted run leaves the folder as it is.
pub fn deliver(result: &RunResult, context: &Context, target: &Path, as_json: bool) -> Result<(Exit, String), Failure> {
    let interrupted = words::incomplete(result).is_some();
    if interrupted {
        let (played, asked) = (result.seasons_played, result.seasons_asked);
        output::say(&format!(
            "interrupted after {played} of {asked} seasons; nothing was written, `{}` is as it was",
            target.display()
        ));
    } else {
        report::output::write(target, result, context)?;
        output::say(&format!("seed {}; results are in {}", result.seed, target.display()));
    }
    let report = if result.seasons_played == 0 && !as_json {
        String::new()
    } else if as_json {
        json::document(result, context)?
    } else {
        text::report(result, context, output::setting())
    };
    let exit = match (interrupted, words::all_met(result)) {
        (true, _) => Exit::Interrupted,
        (false, true) => Exit::Fine,
        (false, false) => Exit::FallsShort,
    };
    Ok((exit, report))
}

/// Indices of the strategies asked for, in the scenario's order; all if none was named.
pub fn chosen(scenario: &Scenario, asked: &[String]) -> Result<Vec<usize>, Failure> {
    let names = || scenario.strategies.iter().map(|strategy| strategy.name.as_str());
    if let Some(unknown) = asked.iter().find(|name| !names().any(|known| known == *name)) {
        let known: Vec<String> = names().map(|name| format!("`{name}`")).collect();
        let hint = hint(unknown, names());
        return Err(Failure::Message(format!(
            "the scenario has no strategy `{unknown}`{hint}\nit has: {}",
            known.join(", ")
        )));
    }
    let wanted = |name: &str| asked.is_empty() || asked.iter().any(|other| other == name);
    Ok(names().enumerate().filter(|(_, name)| wanted(name)).map(|(index, _)| index).collect())
}

/// Index of the strategy called `name`, or of the first one.
pub fn one(scenario: &Scenario, name: Option<&str>) -> Result<usize, Failure> {
    match name {
        None => Ok(0),
        Some(name) => Ok(chosen(scenario, &[name.to_string()])?.first().copied().unwrap_or(0)),
    }
}

/// Settings that shape the result, for `run.toml`; threads and folders don't, so they are left out.
fn recorded(settings: &RunSettings, scenario: &Scenario) -> Vec<(String, toml::Value)> {
    let names: Vec<String> = settings.strategies.iter().map(|&index| scenario.strategies[index].name.clone()).collect();
    let sampling = match settings.sampling {
        crate::sensing::channel::Sampling::Exact => "exact",
        crate::sensing::channel::Sampling::Every => "every",
    };
    vec![
        ("strategies".to_string(), names.into()),
        ("sampling".to_string(), sampling.into()),
        ("events".to_string(), settings.events.into()),
    ]
}

/// Parses a confidence.
pub fn confidence(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.5..=0.9999).contains(&value) => Ok(value),
        Ok(value) if (50.0..=99.99).contains(&value) => Err(format!("write it as a share: {}", value / 100.0)),
        _ => Err("a number from 0.5 to 0.9999 is needed".to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn confidence_is_a_share() {
        assert_eq!(confidence("0.99"), Ok(0.99));
        assert_eq!(confidence("95"), Err("write it as a share: 0.95".to_string()));
        for bad in ["0.4", "1", "nan", "high"] {
            assert!(confidence(bad).is_err(), "{bad}");
        }
    }
}
