//! A field of contenders (designs to be told apart) on the same seasons.
//!
//! Contenders of one scenario share the outside world of a season; those of different scenarios share the seed, the
//! season's number and the names of the random streams, which makes weather, departures and visits the same wherever the
//! scenarios agree.

use std::ops::Range;
use std::sync::atomic::AtomicBool;

use super::in_order::in_order;
use super::run::StudyError;
use crate::engine::{Options, Outside, Plan, PlanError, play};
use crate::ledger::record::SeasonRecord;
use crate::scenario::Scenario;
use crate::sensing::channel::Sampling;

/// Scenarios made ready, and which of their strategies take part.
#[derive(Debug)]
pub struct Field {
    plans: Vec<Plan>,
    /// Plan and strategy of each contender.
    contenders: Vec<(usize, usize)>,
}

/// How seasons are played.
#[derive(Debug)]
pub struct Ground<'a> {
    /// Seed.
    pub seed: u64,
    /// Which samples are drawn.
    pub sampling: Sampling,
    /// Whether to keep event logs.
    pub events: bool,
    /// Turns true when no further season should be begun.
    pub stop: &'a AtomicBool,
    /// Threads to play on.
    pub pool: &'a rayon::ThreadPool,
}

/// Threads to play on; as many as the machine has if none is given.
///
/// # Errors
/// If they can't be had.
pub fn threads(threads: Option<usize>) -> Result<rayon::ThreadPool, StudyError> {
    let mut pool = rayon::ThreadPoolBuilder::new();
    if let Some(threads) = threads {
        pool = pool.num_threads(threads);
    }
    Ok(pool.build()?)
}

impl Field {
    /// Makes scenarios ready; of each, these strategies take part.
    ///
    /// # Errors
    /// If a weather file or time zone can't be used.
    pub fn new<'s>(scenarios: impl IntoIterator<Item = (&'s Scenario, &'s [usize])>) -> Result<Field, PlanError> {
        let mut field = Field { plans: Vec::new(), contenders: Vec::new() };
        for (scenario, strategies) in scenarios {
            let index = field.plans.len();
            field.plans.push(Plan::new(scenario)?);
            field.contenders.extend(strategies.iter().map(|strategy| (index, *strategy)));
        }
        Ok(field)
    }

    /// A contender's plan and the index of its strategy.
    pub fn plan(&self, contender: usize) -> (&Plan, usize) {
        let (plan, strategy) = self.contenders[contender];
        (&self.plans[plan], strategy)
    }

    /// Number of contenders.
    pub fn len(&self) -> usize {
        self.contenders.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.contenders.is_empty()
    }

    /// Plays some seasons of some contenders: one list of records per contender asked for. None if told to stop before
    /// all were played. `tick` is called after each season of a contender.
    ///
    /// # Errors
    /// If a season's weather can't be had.
    pub fn play(
        &self,
        which: &[usize],
        seasons: Range<u64>,
        ground: &Ground,
        tick: &(dyn Fn() + Sync),
    ) -> Result<Option<Vec<Vec<SeasonRecord>>>, PlanError> {
        let options = Options { sampling: ground.sampling, events: ground.events };
        // One piece of work is one season of one scenario, so that its outside world is drawn once.
        let mut of_plan: Vec<Vec<usize>> = vec![Vec::new(); self.plans.len()];
        for (place, contender) in which.iter().enumerate() {
            of_plan[self.contenders[*contender].0].push(place);
        }
        let busy: Vec<usize> = (0..self.plans.len()).filter(|plan| !of_plan[*plan].is_empty()).collect();
        let work: Vec<(u64, usize)> =
            seasons.clone().flat_map(|season| busy.iter().map(move |plan| (season, *plan))).collect();
        let one = |piece: usize| -> Result<Vec<SeasonRecord>, PlanError> {
            let (season, plan) = work[piece];
            let ready = &self.plans[plan];
            let outside = Outside::draw(ready, ground.seed, season)?;
            let play_one = |place: &usize| {
                let strategy = self.contenders[which[*place]].1;
                let record = play(ready, &outside, strategy, ground.seed, options);
                tick();
                record
            };
            Ok(of_plan[plan].iter().map(play_one).collect())
        };
        let played = in_order(ground.pool, work.len(), ground.stop, one)?;
        if played.len() < work.len() {
            return Ok(None);
        }
        let mut records: Vec<Vec<SeasonRecord>> = vec![Vec::new(); which.len()];
        for ((_, plan), played) in work.iter().zip(played) {
            for (place, record) in of_plan[*plan].iter().zip(played) {
                records[*place].push(record);
            }
        }
        Ok(Some(records))
    }
}
