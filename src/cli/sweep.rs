//! `dooryard sweep`.

use std::path::PathBuf;

use super::exit::{Exit, Failure};
use super::over::{Over, Varied};
use super::parts::{Known, Share};
use super::progress::Meter;
use super::study::{Aims, Play, metric, told};
use super::{interrupt, output, run, wiring};
use crate::ledger::metric::Key;
use crate::report::folder;
use crate::report::sweep::{self as report, Told};
use crate::study::alarm::too_small;
use crate::study::field::{Field, threads};
use crate::study::sweep::{grid, sweep as sum_up};

/// Most places of a grid.
const MOST_PLACES: usize = 10_000;

/// Metrics that are shown unless others are asked for.
const SHOWN: [Key; 9] = [
    Key::MissedArrivals,
    Key::MissedArrivalsExpected,
    Key::MissedArrivalsFloored,
    Key::FalseOpenings,
    Key::NoiseOpeningsExpected,
    Key::Strandings,
    Key::WaitTotal,
    Key::WetInsideTime,
    Key::DoorCycles,
];

/// Show how metrics change over one or two numbers of the scenario.
///
/// Every place of the grid plays the same seasons. Of one number, curves with intervals and missed arrivals against false
/// openings are drawn; of two, maps.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    #[command(flatten)]
    over: Over,
    /// Values of each number, unless --over says otherwise (KEY=LOW..HIGH:N)
    #[arg(long, value_name = "N", default_value_t = 9, value_parser = clap::value_parser!(u16).range(1..=1000))]
    steps: u16,
    /// The strategy that plays [default: the first]
    #[arg(long, value_name = "NAME")]
    strategy: Option<String>,
    /// Metrics to show; may be given several times [default: misses, false openings, strandings, waits, rain, cycles]
    #[arg(long, value_name = "METRIC")]
    metric: Vec<String>,
    /// Seasons at each place
    #[arg(long, value_name = "N", default_value_t = 50, value_parser = clap::value_parser!(u64).range(2..=1_000_000_000))]
    seasons: u64,
    #[command(flatten)]
    aims: Aims,
    /// Play only share I of N and write a part file, for `dooryard merge`
    #[arg(long, value_name = "I/N")]
    part: Option<Share>,
    #[command(flatten)]
    play: Play,
}

/// Plays (or takes `known` seasons) and reports.
pub fn sweep(arguments: &Arguments, known: Option<&Known>) -> Result<Exit, Failure> {
    let varied = Varied::load(&arguments.scenario, &arguments.over)?;
    let scenario = &varied.base.loaded.scenario;
    let strategy = run::one(scenario, arguments.strategy.as_deref())?;
    varied.concerns(strategy)?;
    let axes = varied.axes(usize::from(arguments.steps));
    if axes.len() > 2 {
        return Err(Failure::Message("sweep takes one or two --over; for more, use tune or sensitivity".to_string()));
    }
    let lengths: Vec<usize> = axes.iter().map(|axis| axis.values.len()).collect();
    if lengths.iter().product::<usize>() > MOST_PLACES {
        return Err(Failure::Message(format!("more than {MOST_PLACES} places; take fewer steps")));
    }
    let shown = shown(&arguments.metric, &SHOWN)?;
    let aim = arguments.aims.aim(scenario)?;
    let values = |at: &Vec<usize>| at.iter().zip(&axes).map(|(index, axis)| axis.values[*index]).collect::<Vec<f64>>();
    let scenarios = grid(&lengths).iter().map(|at| varied.scenario(&values(at))).collect::<Result<Vec<_>, _>>()?;
    let only = [strategy];
    let field = Field::new(scenarios.iter().map(|scenario| (scenario, &only[..])))?;
    let loaded = wiring::told(&varied.base.loaded);
    let hashes = [loaded.sha256.as_str()];
    let target = arguments.play.target(&scenario.name, "sweep");
    let pool = threads(arguments.play.threads.map(usize::from))?;
    let ground = arguments.play.ground(interrupt::watch()?, &pool);
    let meter = Meter::new();
    let all: Vec<usize> = (0..field.len()).collect();
    let first = arguments.play.first_season;
    let seasons = match arguments.part {
        Some(share) => share.seasons(first, arguments.seasons),
        None => first..first + arguments.seasons,
    };
    if arguments.part.is_none() {
        folder::check(&target, "sweep")?;
    }
    let played = match known {
        Some(known) => {
            known.check(&hashes, field.len())?;
            Some(known.fetch(seasons.clone())?)
        }
        None => {
            let plays = (seasons.end - seasons.start) * field.len() as u64;
            field.play(&all, seasons.clone(), &ground, &meter.ticker(plays))?
        }
    };
    meter.finish();
    if let Some(share) = arguments.part {
        let folder = arguments.play.target(&scenario.name, "sweep-parts");
        return run::finish_part(share, &folder, &hashes, seasons, played);
    }
    let Some(records) = played else {
        return Ok(arguments.play.interrupted(&target));
    };
    let recorded = vec![
        ("over".to_string(), arguments.over.over.clone().into()),
        ("tie".to_string(), arguments.over.tie.clone().into()),
        ("steps".to_string(), i64::from(arguments.steps).into()),
        ("strategy".to_string(), scenario.strategies[strategy].name.clone().into()),
        ("seasons".to_string(), (arguments.seasons as i64).into()),
    ];
    let mut study = told("sweep", &[&loaded], &arguments.play, recorded);
    let small = scenarios.iter().filter(|scenario| too_small(scenario).is_some()).count();
    if small > 0 && too_small(scenario).is_none() {
        study.warnings.push(format!(
            "at {small} of {} places the open door is too small for the mower, which can neither leave nor come home there",
            scenarios.len()
        ));
    }
    let result = sum_up(&scenario.strategies[strategy].name, axes, &records, aim.as_ref(), arguments.play.confidence);
    let told = Told { study: &study, confidence: arguments.play.confidence, shown: &shown, aim: aim.as_ref() };
    report::write(&target, &result, &told)?;
    let answer = if arguments.play.json {
        report::json(&result, &told)?
    } else {
        report::report(&result, &told, output::setting())
    };
    arguments.play.answer(&target, &answer)?;
    Ok(Exit::Fine)
}

/// The metrics asked for, or the usual ones.
pub fn shown(asked: &[String], usual: &[Key]) -> Result<Vec<Key>, Failure> {
    if asked.is_empty() {
        return Ok(usual.to_vec());
    }
    asked.iter().map(|name| metric(name)).collect()
}
