//! `dooryard misses`.

use std::path::PathBuf;

use super::exit::{Exit, Failure};
use super::wiring::{self, Loaded};
use super::{output, run};
use crate::engine::Plan;
use crate::report::folder;
use crate::report::misses::{self as report, Found, Told, json, text};
use crate::report::study_file::Study;
use crate::scenario::Scenario;
use crate::scenario::failure::{Act, Change};
use crate::study::field::threads;
use crate::study::rare::{RareSettings, rare_misses};

/// Estimate how rarely an arrival goes unnoticed, down to chances that no number of seasons would show.
///
/// The noise of the readings is integrated out and the conditions of an approach (weather and light of seasons played,
/// pace, offset to the side) are drawn where misses come from, then weighted back. Sensors are taken as sound, nobody else as
/// near, and status messages and clock as silent: what is left is what the sensors at the door can do by themselves.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    /// Work out only this strategy; may be given several times [default: all]
    #[arg(long, value_name = "NAME")]
    strategy: Vec<String>,
    /// Seasons whose weather the approaches meet
    #[arg(long, value_name = "N", default_value_t = 40, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    seasons: u64,
    /// Approaches worked out for each strategy, pilot draws apart
    #[arg(long, value_name = "N", default_value_t = 6_000, value_parser = clap::value_parser!(u64).range(100..=100_000_000))]
    draws: u64,
    /// Seed of all chance
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// Confidence of the intervals, 0.5 to 0.9999
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = run::confidence)]
    confidence: f64,
    /// Threads [default: as many as the machine has]; never changes a result
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=4096))]
    threads: Option<u16>,
    /// Also write text, page, figures as CSV and drawings (SVG, with a CSV beside each) into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print the answer as one JSON document
    #[arg(long)]
    json: bool,
}

/// Share of the draws that are made as they come: no weight then exceeds 10 / 3.
const DEFENSIVE: f64 = 0.3;

/// Estimates.
pub fn misses(arguments: &Arguments) -> Result<Exit, Failure> {
    let loaded = wiring::load(&arguments.scenario)?;
    let scenario = &loaded.scenario;
    let strategies = run::chosen(scenario, &arguments.strategy)?;
    if let Some(target) = &arguments.out {
        folder::check(target, "misses")?;
    }
    let plan = Plan::new(scenario)?;
    let pool = threads(arguments.threads.map(usize::from))?;
    let mut found = Vec::new();
    for strategy in strategies {
        let name = scenario.strategies[strategy].name.clone();
        if !output::is_quiet() {
            output::say(&format!("working out {name}"));
        }
        let settings = RareSettings {
            strategy,
            seed: arguments.seed,
            seasons: arguments.seasons,
            draws: arguments.draws,
            defensive: DEFENSIVE,
            confidence: arguments.confidence,
        };
        let misses = pool.install(|| rare_misses(&plan, &settings))?;
        found.push((name, misses));
    }
    let study = told(arguments, &loaded, &found);
    let told = Told {
        study: &study,
        warnings: &study.warnings,
        scenario: &scenario.name,
        hash: &loaded.sha256,
        version: env!("CARGO_PKG_VERSION"),
        seed: arguments.seed,
        confidence: arguments.confidence,
        common_cause: &scenario.common_cause,
        found: &found,
    };
    if let Some(target) = &arguments.out {
        report::write(target, &told)?;
        output::say(&format!("seed {}; results are in {}", arguments.seed, target.display()));
    }
    let answer = if arguments.json {
        json(&told)?
    } else {
        output::warn(&study.warnings);
        text(&told, output::setting())
    };
    output::print(&answer)?;
    Ok(Exit::Fine)
}

/// Most failures that the warning names.
const NAMED: usize = 6;

/// That failures are not part of the answer, where the scenario has some. Those that change the site for good are: what a drop, a dark
/// shell or a drift does to a reading is in its law.
fn left_out(scenario: &Scenario) -> Option<String> {
    let lasting = [Change::RainDrops, Change::DarkShell, Change::Uncompensated, Change::LoadDrift].map(Act::Change);
    let acts = |failure: &&crate::scenario::failure::Failure| {
        failure.acts(&scenario.sensors) && !lasting.contains(&failure.mode.act)
    };
    let failures = scenario.failures.iter().filter(acts);
    let names: Vec<&str> = failures.map(|failure| failure.name.as_str()).collect();
    let more = match names.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let named = names[..names.len().min(NAMED)].join(", ");
    (!names.is_empty()).then(|| {
        format!(
            "failures of the scenario are left out here, for sensors are taken as sound: {named}{more}; `run` and `what-if` \
             play them"
        )
    })
}

/// What the files tell of the study.
fn told(arguments: &Arguments, loaded: &Loaded, found: &[Found]) -> Study {
    let names: Vec<String> = found.iter().map(|(name, _)| name.clone()).collect();
    Study {
        command: "misses",
        version: env!("CARGO_PKG_VERSION"),
        scenarios: vec![loaded.played()],
        warnings: loaded.warnings_of_seasons().into_iter().chain(left_out(&loaded.scenario)).collect(),
        seed: arguments.seed,
        settings: vec![
            ("strategies".to_string(), names.into()),
            ("seasons".to_string(), (arguments.seasons as i64).into()),
            ("draws".to_string(), (arguments.draws as i64).into()),
            ("confidence".to_string(), arguments.confidence.into()),
        ],
    }
}
