//! What the commands that play studies have in common.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use rayon::ThreadPool;

use super::exit::{Exit, Failure};
use super::nearest::hint;
use super::output;
use super::wiring::{Loaded, Sampling};
use crate::ledger::metric::{Key, METRICS, by_key};
use crate::report::study_file::Study;
use crate::scenario::Scenario;
use crate::scenario::objective::{Cost, Goal, Objective};
use crate::study::field::Ground;
use crate::study::objective::Aim;

/// How seasons are played and where the answer goes.
#[derive(Debug, clap::Args)]
pub struct Play {
    /// Seed of all chance; every report says it
    #[arg(long, value_name = "S", default_value_t = 1)]
    pub seed: u64,
    /// Number of the first season; season N is the same in every study with the same seed
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u64).range(0..=1_000_000_000_000))]
    pub first_season: u64,
    /// Threads [default: as many as the machine has]; never changes a result
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=4096))]
    pub threads: Option<u16>,
    /// Output folder [default: output/, the scenario's name and the command]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print the result as one JSON document instead of the text report
    #[arg(long)]
    pub json: bool,
    /// How idle sensors are sampled
    #[arg(long, value_enum, default_value_t = Sampling::Exact)]
    pub sampling: Sampling,
    /// Confidence, 0.5 to 0.9999
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = super::run::confidence)]
    pub confidence: f64,
}

impl Play {
    /// The output folder.
    pub fn target(&self, scenario: &str, command: &str) -> PathBuf {
        self.out.clone().unwrap_or_else(|| Path::new("output").join(format!("{scenario}-{command}")))
    }

    /// Says that nothing was written into `target` because the user interrupted.
    pub fn interrupted(&self, target: &Path) -> Exit {
        output::say(&format!("interrupted; nothing was written, `{}` is as it was", target.display()));
        Exit::Interrupted
    }

    /// Says where the results are, then prints the answer.
    ///
    /// # Errors
    /// If standard output can't be written to.
    pub fn answer(&self, target: &Path, answer: &str) -> Result<(), Failure> {
        output::say(&format!("seed {}; results are in {}", self.seed, target.display()));
        output::print(answer)
    }

    /// How seasons are played, without their events.
    pub fn ground<'a>(&self, stop: &'a AtomicBool, pool: &'a ThreadPool) -> Ground<'a> {
        Ground { seed: self.seed, sampling: self.sampling.into(), events: false, stop, pool }
    }
}

/// What counts as better, if not as the scenario says.
#[derive(Debug, clap::Args)]
pub struct Aims {
    /// Metric whose mean per season is to be small, instead of the scenario's objective
    #[arg(long, value_name = "METRIC", conflicts_with = "cost")]
    pub minimise: Option<String>,
    /// Cost of a metric, instead of the scenario's objective; may be given several times
    #[arg(long, value_name = "METRIC=COST")]
    pub cost: Vec<String>,
    /// Difference per season that doesn't matter, in the metric's unit or in cost
    #[arg(long, value_name = "X")]
    pub indifference: Option<f64>,
}

impl Aims {
    /// The aim: as given on the command line, or the scenario's.
    ///
    /// # Errors
    /// If a metric doesn't exist or a figure makes no sense.
    pub fn aim(&self, scenario: &Scenario) -> Result<Option<Aim>, Failure> {
        if self.indifference.is_some_and(|zone| !(zone > 0.0 && zone.is_finite())) {
            return Err(Failure::Message("--indifference must be more than 0".to_string()));
        }
        let goal = match (&self.minimise, self.cost.as_slice()) {
            (Some(name), _) => Some(Goal::Metric(metric(name)?.metric().key.to_string())),
            (None, []) => None,
            (None, costs) => Some(Goal::Costs(costs.iter().map(|text| cost(text)).collect::<Result<_, _>>()?)),
        };
        let objective = match (goal, &scenario.objective) {
            (Some(goal), _) => Some(Objective { goal, indifference: self.indifference }),
            (None, Some(own)) => {
                Some(Objective { indifference: self.indifference.or(own.indifference), ..own.clone() })
            }
            (None, None) => None,
        };
        Ok(objective.as_ref().and_then(Aim::new))
    }
}

/// The metric of this name.
///
/// # Errors
/// If there is none, with the nearest name.
pub fn metric(name: &str) -> Result<Key, Failure> {
    by_key(name).ok_or_else(|| {
        let keys: Vec<&str> = METRICS.iter().map(|metric| metric.key).collect();
        let near = hint(name, keys.iter().copied());
        // All of them only where none is meant.
        let all = if near.is_empty() { format!("\n  there are: {}", keys.join(", ")) } else { String::new() };
        Failure::Message(format!("there is no metric `{name}`{near}{all}"))
    })
}

fn cost(text: &str) -> Result<Cost, Failure> {
    let wrong = || Failure::Message(format!("`{text}`: write --cost METRIC=COST, such as --cost strandings=20"));
    let (name, cost) = text.split_once('=').ok_or_else(wrong)?;
    let cost: f64 = cost.trim().parse().map_err(|_| wrong())?;
    if !cost.is_finite() {
        return Err(wrong());
    }
    Ok(Cost { metric: metric(name.trim())?.metric().key.to_string(), cost })
}

/// What `run.toml` tells about a study of these scenarios.
pub fn told(
    command: &'static str,
    scenarios: &[&Loaded],
    play: &Play,
    mut settings: Vec<(String, toml::Value)>,
) -> Study {
    settings.push(("first_season".to_string(), (play.first_season as i64).into()));
    settings.push(("confidence".to_string(), play.confidence.into()));
    settings.push(("sampling".to_string(), play.sampling.name().into()));
    Study {
        command,
        version: env!("CARGO_PKG_VERSION"),
        scenarios: scenarios.iter().map(|loaded| loaded.played()).collect(),
        warnings: scenarios.iter().flat_map(|loaded| loaded.warnings_of_seasons()).collect(),
        seed: play.seed,
        settings,
    }
}
