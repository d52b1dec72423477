//! Plays many seasons of a scenario in parallel and sums them up.
//!
//! Seasons are handed out to threads one by one and gathered by number: what comes out does not depend on how many
//! threads there are. Every strategy plays in the same outside world, season by season.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use rayon::prelude::*;
use thiserror::Error;

use super::alarm::alarms;
use super::decide::judge;
use super::detectors::detectors;
use super::result::{RunResult, StrategyResult};
use super::summary::{estimate_counts, summarise};
use super::worst::{hours, worst};
use crate::engine::{Options, Outside, Plan, PlanError, play};
use crate::ledger::metric::Key;
use crate::ledger::record::{Histogram, SeasonRecord};
use crate::scenario::Scenario;
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
    /// The threads could not be started.
    #[error("the threads could not be started: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
}

/// Plays the seasons. When `stop` turns true, seasons under way are finished and no further one is begun; the result
/// then holds the seasons from the first up to the first one that is missing.
///
/// # Errors
/// If the weather file or time zone can't be used, or no threads can be had.
pub fn run(
    scenario: &Scenario,
    scenario_hash: &str,
    settings: &RunSettings,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<RunResult, StudyError> {
    let plan = Plan::new(scenario)?;
    let options = Options { sampling: settings.sampling, events: settings.events };
    let done = AtomicU64::new(0);
    let all = settings.seasons;
    progress(Progress { done: 0, all });
    let play_season = |number: u64| -> Option<Result<Vec<SeasonRecord>, PlanError>> {
        if settings.stop.load(Ordering::Relaxed) {
            return None;
        }
        let played = Outside::draw(&plan, settings.seed, settings.first_season + number).map(|outside| {
            settings
                .strategies
                .iter()
                .map(|strategy| play(&plan, &outside, *strategy, settings.seed, options))
                .collect()
        });
        progress(Progress { done: done.fetch_add(1, Ordering::Relaxed) + 1, all });
        Some(played)
    };
    let mut pool = rayon::ThreadPoolBuilder::new();
    if let Some(threads) = settings.threads {
        pool = pool.num_threads(threads);
    }
    let seasons: Vec<Option<Result<Vec<SeasonRecord>, PlanError>>> = pool
        .build()?
        .install(|| (0..all as usize).into_par_iter().with_max_len(1).map(|n| play_season(n as u64)).collect());
    let mut by_strategy: Vec<Vec<SeasonRecord>> = vec![Vec::new(); settings.strategies.len()];
    for season in seasons {
        let Some(season) = season else { break };
        for (records, record) in by_strategy.iter_mut().zip(season?) {
            records.push(record);
        }
    }
    Ok(sum_up_all(&plan, scenario, scenario_hash, settings, by_strategy))
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
    Ok(sum_up_all(&plan, scenario, scenario_hash, settings, by_strategy))
}

fn sum_up_all(
    plan: &Plan,
    scenario: &Scenario,
    scenario_hash: &str,
    settings: &RunSettings,
    by_strategy: Vec<Vec<SeasonRecord>>,
) -> RunResult {
    let seasons_played = by_strategy.first().map_or(0, Vec::len) as u64;
    let strategies: Vec<StrategyResult> = settings
        .strategies
        .iter()
        .zip(by_strategy)
        .map(|(strategy, records)| sum_up(plan, *strategy, records, settings.confidence))
        .collect();
    let mut warnings = plan.record.as_ref().map(|record| record.warnings().to_vec()).unwrap_or_default();
    warnings.extend(strategies.iter().flat_map(|strategy| alarms(&strategy.name, &strategy.seasons)));
    RunResult {
        scenario: scenario.clone(),
        scenario_hash: scenario_hash.to_string(),
        seed: settings.seed,
        first_season: settings.first_season,
        seasons_asked: settings.seasons,
        seasons_played,
        confidence: settings.confidence,
        warnings,
        strategies,
    }
}

fn sum_up(plan: &Plan, strategy: usize, seasons: Vec<SeasonRecord>, confidence: f64) -> StrategyResult {
    let spec = &plan.scenario.strategies[strategy];
    let causes = |names: &[String], key: Key, of: fn(&SeasonRecord) -> &Vec<u64>| {
        names
            .iter()
            .enumerate()
            .map(|(index, name)| {
                let counts: Vec<f64> = seasons.iter().map(|record| of(record)[index] as f64).collect();
                (name.clone(), estimate_counts(&counts, key, confidence))
            })
            .collect()
    };
    let merged = |of: fn(&SeasonRecord) -> &Histogram| {
        let mut sum = Histogram::new(seasons.first().map_or(100, |record| of(record).bin_ms));
        seasons.iter().for_each(|record| sum.merge(of(record)));
        sum
    };
    StrategyResult {
        name: spec.name.clone(),
        about: spec.about.clone(),
        estimates: summarise(&seasons, confidence),
        false_causes: causes(&plan.false_causes, Key::FalseOpenings, |record| &record.false_by_cause),
        missed_causes: causes(&plan.missed_causes, Key::MissedArrivals, |record| &record.missed_by_cause),
        contact_causes: causes(&plan.contact_causes, Key::Contacts, |record| &record.contacts_by_cause),
        hours: hours(&seasons),
        worst: worst(&seasons),
        waits: merged(|record| &record.waits),
        opening_strokes: merged(|record| &record.opening_strokes),
        closing_strokes: merged(|record| &record.closing_strokes),
        detectors: detectors(&own_detectors(plan, strategy), &seasons, confidence),
        limits: plan.scenario.limits.iter().map(|limit| judge(limit, &seasons)).collect(),
        seasons,
    }
}

/// Detectors that the strategy's rules name.
fn own_detectors(plan: &Plan, strategy: usize) -> Vec<(usize, String)> {
    let named = plan.strategies[strategy].detectors;
    let all = plan.scenario.detectors.iter().enumerate();
    all.filter(|(index, _)| named >> index & 1 == 1).map(|(index, detector)| (index, detector.name.clone())).collect()
}
