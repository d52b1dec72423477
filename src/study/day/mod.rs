//! One day under the lens: exactly that day of one season, with everything that was seen of it, and what happened in it.

mod find;
mod story;

pub use find::{Find, Found, Searched, find};
pub use story::{Closest, Happened, Incident, failures_between, story, waits};

use jiff::civil::Date;

use crate::engine::{Options, Outside, Plan, PlanError, play_filmed};
use crate::ledger::film::Film;
use crate::ledger::record::{Day, EventRow, SeasonRecord};
use crate::math::time::Instant;
use crate::sensing::channel::Sampling;

/// A day that was played again.
#[derive(Clone, Debug)]
pub struct Replay {
    /// Index of the strategy in the scenario.
    pub strategy: usize,
    /// Seed.
    pub seed: u64,
    /// Season number.
    pub season: u64,
    /// Day of the season, from 0.
    pub day: usize,
    /// Its date.
    pub date: Date,
    /// What the books say of it.
    pub counts: Day,
    /// Its events: those of the season that lie in it, unchanged.
    pub events: Vec<EventRow>,
    /// What was seen.
    pub film: Film,
    /// What happened and why.
    pub story: Vec<Incident>,
    /// Names of the failures and faults of which an episode was under way for some of it.
    pub failures: Vec<String>,
    /// By how much a wall clock is ahead of the time since midnight, s, and from when on: a second entry where clocks are
    /// changed.
    pub wall: Vec<(Instant, f64)>,
}

/// Plays a season again and looks at one of its days (0 is the first).
///
/// # Errors
/// If the season's weather can't be had.
pub fn replay(plan: &Plan, strategy: usize, seed: u64, season: u64, day: usize) -> Result<Replay, PlanError> {
    let outside = Outside::draw(plan, seed, season)?;
    let options = Options { sampling: Sampling::Exact, events: true };
    let (record, film) = play_filmed(plan, &outside, strategy, seed, options, day);
    let events = events_of(&record, &film);
    let story = story(plan, strategy, &events, &film);
    Ok(Replay {
        strategy,
        seed,
        season,
        day,
        date: plan.clock.date(day),
        counts: record.days[day],
        events,
        story,
        failures: failures_between(plan, &record.events, film.from, film.to),
        wall: wall(plan, &film),
        film,
    })
}

/// The events of a film's stretch.
fn events_of(record: &SeasonRecord, film: &Film) -> Vec<EventRow> {
    record.events.iter().filter(|event| event.at >= film.from && event.at < film.to).cloned().collect()
}

fn wall(plan: &Plan, film: &Film) -> Vec<(Instant, f64)> {
    let mut shifts: Vec<(Instant, f64)> = Vec::new();
    let mut at = film.from;
    while at < film.to {
        let shift = plan.clock.second_of_day_local(at) - at.since(film.from).seconds();
        if shifts.last().is_none_or(|(_, last)| (shift - last).abs() > 0.5) {
            shifts.push((at, shift));
        }
        at = plan.clock.next_hour_change(at);
    }
    shifts
}

/// The day of the season that has this date; none outside the season.
pub fn day_of(plan: &Plan, date: Date) -> Option<usize> {
    (0..plan.clock.days()).find(|day| plan.clock.date(*day) == date)
}
