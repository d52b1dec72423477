//! Plays many seasons of a scenario in parallel and sums them up.
//!
//! Seasons are handed out to threads one by one and gathered by number: what comes out does not depend on how many
//! threads there are. Every strategy plays in the same outside world, season by season.

use crate::ledger::blame::{BLAMED, ByCause};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use thiserror::Error;

use super::alarm::{alarms, counts_only};
use super::decide::judge;
use super::detectors::{Asked, DetectorSums};
use super::field::threads;
use super::in_order::in_order;
use super::objective::judge_risk;
use super::result::{NoiseOpenings, RunResult, Stored, StrategyResult};
use super::store::Store;
use super::summary::{estimate_counts, summarise};
use super::worst::WorstSoFar;
use crate::engine::{Options, Outside, Plan, PlanError, looks, play};
use crate::ledger::record::{CONDITIONS, Histogram, SeasonRecord};
use crate::scenario::Scenario;
use crate::scenario::weather::Weather;
use crate::sensing::channel::Sampling;

/// What is to be played.
#[derive(Clone, Debug)]
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
    /// Whether to keep the event logs.
    pub events: bool,
    /// Which samples are drawn.
    pub sampling: Sampling,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Turns true when no further season should be begun.
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

/// Why a study could not be played.
#[derive(Debug, Error)]
pub enum StudyError {
    /// The scenario can't be played.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The seasons can't be stored for the time of the study.
    #[error("the seasons can't be stored in the folder for temporary files: {0}")]
    Store(#[from] std::io::Error),
    /// The threads could not be started.
    #[error("the threads could not be started: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
}

/// Plays the seasons and keeps them in memory. When `stop` turns true, seasons under way are finished and no further one
/// is begun; the result then holds all that were played.
///
/// # Errors
/// If the weather file or time zone can't be used, or no threads can be had.
pub fn run(
    scenario: &Scenario,
    scenario_hash: &str,
    settings: &RunSettings,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<RunResult, StudyError> {
    play_all(scenario, scenario_hash, settings, progress, Sum::in_memory)
}

/// The same with the seasons in temporary files, so that their number is no matter of memory.
///
/// # Errors
/// As [`run`], and if the temporary files can't be written.
pub fn run_stored(
    scenario: &Scenario,
    scenario_hash: &str,
    settings: &RunSettings,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<RunResult, StudyError> {
    play_all(scenario, scenario_hash, settings, progress, Sum::stored)
}

/// Seasons played per thread before they are gathered: enough that threads seldom wait for each other.
const BLOCK: usize = 16;

fn play_all(
    scenario: &Scenario,
    scenario_hash: &str,
    settings: &RunSettings,
    progress: &(dyn Fn(Progress) + Sync),
    empty: fn() -> Result<Sum, StudyError>,
) -> Result<RunResult, StudyError> {
    let plan = Plan::new(scenario)?;
    let options = Options { sampling: settings.sampling, events: settings.events };
    let done = AtomicU64::new(0);
    let all = settings.seasons;
    progress(Progress { done: 0, all });
    let play_season = |number: u64| -> Result<Vec<SeasonRecord>, PlanError> {
        let outside = Outside::draw(&plan, settings.seed, settings.first_season + number)?;
        let played = |strategy: &usize| play(&plan, &outside, *strategy, settings.seed, options);
        let records = settings.strategies.iter().map(played).collect();
        progress(Progress { done: done.fetch_add(1, Ordering::Relaxed) + 1, all });
        Ok(records)
    };
    let pool = threads(settings.threads)?;
    let mut sums: Vec<Sum> = settings.strategies.iter().map(|_| empty()).collect::<Result<_, _>>()?;
    let block = (BLOCK * pool.current_num_threads()) as u64;
    for from in (0..all).step_by(block as usize) {
        let count = block.min(all - from) as usize;
        let seasons = in_order(&pool, count, settings.stop, |number| play_season(from + number as u64))?;
        let stopped = seasons.len() < count;
        for season in seasons {
            for (sum, record) in sums.iter_mut().zip(season) {
                sum.add(record)?;
            }
        }
        if stopped {
            break;
        }
    }
    sum_up_all(&plan, scenario, scenario_hash, settings, sums)
}

/// The result of seasons that were played before, one list per strategy of `settings`.
///
/// # Errors
/// As [`run`].
pub fn assemble(
    scenario: &Scenario,
    scenario_hash: &str,
    settings: &RunSettings,
    by_strategy: Vec<Vec<SeasonRecord>>,
) -> Result<RunResult, StudyError> {
    let plan = Plan::new(scenario)?;
    let sum = |records: Vec<SeasonRecord>| {
        let mut sum = Sum::in_memory()?;
        records.into_iter().try_for_each(|record| sum.add(record))?;
        Ok(sum)
    };
    let sums = by_strategy.into_iter().map(sum).collect::<Result<_, StudyError>>()?;
    sum_up_all(&plan, scenario, scenario_hash, settings, sums)
}

fn sum_up_all(
    plan: &Plan,
    scenario: &Scenario,
    scenario_hash: &str,
    settings: &RunSettings,
    sums: Vec<Sum>,
) -> Result<RunResult, StudyError> {
    let seasons_played = sums.first().map_or(0, |sum| sum.played);
    let mut warnings = plan.record.as_ref().map(|record| record.warnings().to_vec()).unwrap_or_default();
    if let (Some(record), Weather::Observed(observed)) = (&plan.record, &scenario.weather) {
        warnings.extend(record.label_doubt(&scenario.site));
        warnings.extend(record.few_years(&plan.clock, observed.years));
    }
    let mut strategies = Vec::new();
    for (strategy, sum) in settings.strategies.iter().zip(sums) {
        let (result, alarms) = sum.result(plan, *strategy, settings.confidence)?;
        strategies.push(result);
        warnings.extend(alarms);
        warnings.extend(counts_only(scenario, *strategy, plan.strategies[*strategy].open_detectors));
    }
    Ok(RunResult {
        scenario: scenario.clone(),
        scenario_hash: scenario_hash.to_string(),
        seed: settings.seed,
        first_season: settings.first_season,
        seasons_asked: settings.seasons,
        seasons_played,
        confidence: settings.confidence,
        warnings,
        strategies,
    })
}

/// The seasons of one strategy as they come.
struct Sum {
    played: u64,
    seasons: Vec<SeasonRecord>,
    store: Option<Store>,
    waits: Histogram,
    opening_strokes: Histogram,
    closing_strokes: Histogram,
    detectors: DetectorSums,
    worst: WorstSoFar,
}

impl Sum {
    fn in_memory() -> Result<Sum, StudyError> {
        Ok(Sum {
            played: 0,
            seasons: Vec::new(),
            store: None,
            waits: Histogram::new(100),
            opening_strokes: Histogram::new(50),
            closing_strokes: Histogram::new(50),
            detectors: DetectorSums::default(),
            worst: WorstSoFar::default(),
        })
    }

    fn stored() -> Result<Sum, StudyError> {
        Ok(Sum { store: Some(Store::new()?), ..Sum::in_memory()? })
    }

    fn add(&mut self, record: SeasonRecord) -> Result<(), StudyError> {
        self.played += 1;
        self.waits.merge(&record.waits);
        self.opening_strokes.merge(&record.opening_strokes);
        self.closing_strokes.merge(&record.closing_strokes);
        self.detectors.add(&record);
        self.worst.add(&record);
        if let Some(store) = &mut self.store {
            store.push(&record)?;
            if !self.seasons.is_empty() {
                return Ok(());
            }
        }
        self.seasons.push(record);
        Ok(())
    }

    /// The result, and what a reader must know before.
    fn result(
        mut self,
        plan: &Plan,
        strategy: usize,
        confidence: f64,
    ) -> Result<(StrategyResult, Vec<String>), StudyError> {
        if let Some(store) = &mut self.store {
            store.finish()?;
        }
        let spec = &plan.scenario.strategies[strategy];
        let mut result = StrategyResult {
            name: spec.name.clone(),
            about: spec.about.clone(),
            estimates: Vec::new(),
            causes: ByCause::default(),
            hours: self.worst.hours(),
            worst: self.worst.worst(),
            waits: self.waits,
            opening_strokes: self.opening_strokes,
            closing_strokes: self.closing_strokes,
            detectors: Vec::new(),
            noise_openings: NoiseOpenings::default(),
            limits: Vec::new(),
            risks: Vec::new(),
            seasons: self.seasons,
            store: self.store.map(|store| Stored(Arc::new(store))),
        };
        // Counts first, then metrics, so that of many seasons no more than one of the two is in memory at once.
        let mut counts = ByCause::of(|blamed| columns(plan.causes[blamed].len()));
        let mut runs = columns(plan.scenario.detectors.len() * CONDITIONS.len());
        let mut by_noise = columns(CONDITIONS.len());
        for record in result.records()? {
            let record = record?;
            let all_runs = record.detectors.iter().flat_map(|tally| &tally.false_runs.counted);
            for blamed in BLAMED {
                extend(&mut counts[blamed], record.by_cause[blamed].iter());
            }
            extend(&mut runs, all_runs);
            extend(&mut by_noise, record.noise_openings.counted.iter());
        }
        result.causes = ByCause::of(|blamed| {
            let counts = std::mem::take(&mut counts[blamed]);
            let each = plan.causes[blamed].iter().zip(&counts);
            each.map(|(name, counts)| (name.clone(), estimate_counts(counts, blamed.key(), confidence))).collect()
        });
        let false_runs = move |detector: usize, condition: usize| runs[detector * CONDITIONS.len() + condition].clone();
        result.detectors = self.detectors.results(&own_detectors(plan, strategy), false_runs, confidence);
        let why = plan.strategies[strategy].noise.as_ref().err().map(ToString::to_string);
        result.noise_openings = self.detectors.openings(|condition| by_noise[condition].clone(), why, confidence);
        let mut metrics: Vec<SeasonRecord> = Vec::with_capacity(self.played as usize);
        for record in result.records()? {
            metrics.push(record?.metrics());
        }
        result.estimates = summarise(&metrics, confidence);
        result.limits = plan.scenario.limits.iter().map(|limit| judge(limit, &metrics)).collect();
        result.risks = plan.scenario.risks.iter().map(|risk| judge_risk(risk, &metrics)).collect();
        let alarms = alarms(&result.name, &metrics);
        Ok((result, alarms))
    }
}

fn columns(count: usize) -> Vec<Vec<f64>> {
    vec![Vec::new(); count]
}

fn extend<'a>(columns: &mut [Vec<f64>], counts: impl Iterator<Item = &'a u64>) {
    columns.iter_mut().zip(counts).for_each(|(column, count)| column.push(*count as f64));
}

/// Detectors that the strategy's rules name.
fn own_detectors(plan: &Plan, strategy: usize) -> Vec<Asked> {
    let named = plan.strategies[strategy].detectors;
    let all = plan.scenario.detectors.iter().enumerate();
    let own = all.filter(|(index, _)| named >> index & 1 == 1);
    own.map(|(index, detector)| Asked {
        index,
        name: detector.name.clone(),
        looks: looks(&plan.scenario.sensors[detector.sensor].kind),
    })
    .collect()
}
