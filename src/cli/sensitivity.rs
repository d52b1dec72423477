//! `dooryard sensitivity`.

use std::path::PathBuf;

use super::exit::{Exit, Failure};
use super::over::{Over, Varied};
use super::progress::Meter;
use super::study::{Aims, Play, told};
use super::sweep::shown;
use super::{interrupt, output, run, wiring};
use crate::ledger::metric::Key;
use crate::math::random::Source;
use crate::report::folder;
use crate::report::sensitivity::{self as report, Told};
use crate::report::words;
use crate::study::field::{Field, threads};
use crate::study::morris::trajectories;
use crate::study::objective::Aim;
use crate::study::sensitivity::{Sensitivity, examine};
use crate::study::variance::Design;

/// Metrics that are examined unless others are asked for.
const EXAMINED: [Key; 5] =
    [Key::MissedArrivals, Key::FalseOpenings, Key::Strandings, Key::WaitTotal, Key::WetInsideTime];

/// Say which assumption drives which metric, so that you know what to measure first.
///
/// Screens all numbers by elementary effects (Morris) and shares out each metric's variance among them (Sobol indices),
/// every point on the same seasons.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    #[command(flatten)]
    over: Over,
    /// The strategy that plays [default: the first]
    #[arg(long, value_name = "NAME")]
    strategy: Option<String>,
    /// Metrics to examine; may be given several times
    #[arg(long, value_name = "METRIC")]
    metric: Vec<String>,
    /// Seasons at each point
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    seasons: u64,
    /// Trajectories of the screening
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u32).range(2..=100_000))]
    trajectories: u32,
    /// Levels of the screening's grid, even
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(2..=64))]
    levels: u32,
    /// Base points of the variance design; a power of two serves best
    #[arg(long, value_name = "N", default_value_t = 32, value_parser = clap::value_parser!(u32).range(8..=1_000_000))]
    base: u32,
    #[command(flatten)]
    aims: Aims,
    #[command(flatten)]
    play: Play,
}

/// Plays and reports.
pub fn sensitivity(arguments: &Arguments) -> Result<Exit, Failure> {
    let varied = Varied::load(&arguments.scenario, &arguments.over)?;
    let scenario = &varied.base.loaded.scenario;
    let strategy = run::one(scenario, arguments.strategy.as_deref())?;
    varied.concerns(strategy)?;
    let inputs = varied.ranges.len();
    let source = Source::new(arguments.play.seed, 0, "sensitivity design");
    let paths = trajectories(inputs, arguments.trajectories as usize, arguments.levels, &mut source.stream(0))
        .ok_or_else(|| Failure::Message("--levels must be even".to_string()))?;
    let design = Design::new(inputs, arguments.base as usize, &mut source.stream(1))
        .ok_or_else(|| Failure::Message("at most 20 numbers can be examined at once".to_string()))?;
    let mut metrics: Vec<(String, Aim)> = Vec::new();
    if let Some(aim) = arguments.aims.aim(scenario)? {
        metrics.push(("objective".to_string(), aim));
    }
    let keys = shown(&arguments.metric, &EXAMINED)?;
    metrics.extend(keys.iter().map(|key| (words::heading(*key), Aim::of_metric(*key, None))));
    let points: Vec<&Vec<f64>> = paths.iter().flat_map(|path| &path.points).chain(&design.points).collect();
    let scenarios = points.iter().map(|point| varied.scenario(&varied.place(point))).collect::<Result<Vec<_>, _>>()?;
    let only = [strategy];
    let field = Field::new(scenarios.iter().map(|scenario| (scenario, &only[..])))?;
    let target = arguments.play.target(&scenario.name, "sensitivity");
    folder::check(&target, "sensitivity")?;
    let pool = threads(arguments.play.threads.map(usize::from))?;
    let ground = arguments.play.ground(interrupt::watch()?, &pool);
    let meter = Meter::new();
    let all: Vec<usize> = (0..field.len()).collect();
    let first = arguments.play.first_season;
    let tick = meter.ticker(arguments.seasons * field.len() as u64);
    let played = field.play(&all, first..first + arguments.seasons, &ground, &tick)?;
    meter.finish();
    let Some(records) = played else {
        return Ok(arguments.play.interrupted(&target));
    };
    let (screened, spread) = records.split_at(paths.len() * (inputs + 1));
    let result = Sensitivity {
        strategy: scenario.strategies[strategy].name.clone(),
        inputs: varied
            .ranges
            .iter()
            .map(|range| {
                let show = |value| range.parameter.show(value);
                (range.parameter.path.clone(), format!("{} to {}", show(range.low), show(range.high)))
            })
            .collect(),
        drivers: examine(&metrics, (&paths, screened), (&design, spread), arguments.play.confidence),
        sizes: [u64::from(arguments.trajectories), u64::from(arguments.base), arguments.seasons],
    };
    let recorded = vec![
        ("over".to_string(), arguments.over.over.clone().into()),
        ("tie".to_string(), arguments.over.tie.clone().into()),
        ("strategy".to_string(), result.strategy.clone().into()),
        ("seasons".to_string(), (arguments.seasons as i64).into()),
        ("trajectories".to_string(), i64::from(arguments.trajectories).into()),
        ("levels".to_string(), i64::from(arguments.levels).into()),
        ("base".to_string(), i64::from(arguments.base).into()),
    ];
    let study = told("sensitivity", &[&wiring::told(&varied.base.loaded)], &arguments.play, recorded);
    let told = Told { study: &study, confidence: arguments.play.confidence };
    report::write(&target, &result, &told)?;
    let answer = if arguments.play.json {
        report::json(&result, &told)?
    } else {
        report::report(&result, &told, output::setting())
    };
    arguments.play.answer(&target, &answer)?;
    Ok(Exit::Fine)
}
