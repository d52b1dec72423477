//! Looks through seasons for a day on which something happened.

use std::ops::Range;

use super::story::waits;
use crate::engine::{Options, Outside, PlanError, play};
use crate::ledger::metric::Key;
use crate::ledger::record::{Day, SeasonRecord};
use crate::sensing::channel::Sampling;
use crate::study::field::{Field, Ground};

/// What is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Find {
    /// The first day with a missed arrival.
    Missed,
    /// The first day with a false opening.
    FalseOpening,
    /// The first day on which the door touched somebody, or the mower the door.
    Contact,
    /// The first day on which a person had to help the mower.
    Stranding,
    /// The day of the longest single wait outside the door.
    LongestWait,
    /// The day with the most rain.
    Wettest,
}

/// The day that was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Season.
    pub season: u64,
    /// Day of the season, from 0.
    pub day: usize,
    /// How often it happened that day; for the longest wait its length, s; for the wettest day the rain, mm.
    pub amount: f64,
}

/// How a search ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Searched {
    /// With a day.
    Found(Found),
    /// Without: no season holds such a day.
    Nothing,
    /// It was told to stop.
    Stopped,
}

/// Seasons that are played before one looks whether it is enough.
const AT_ONCE: u64 = 16;

impl Find {
    /// All kinds.
    pub const ALL: [Find; 6] =
        [Find::Missed, Find::FalseOpening, Find::Contact, Find::Stranding, Find::LongestWait, Find::Wettest];

    /// How much of it a day holds, for what is counted by the day.
    fn of(self, day: &Day) -> f64 {
        match self {
            Find::Missed => f64::from(day.missed),
            Find::FalseOpening => f64::from(day.false_openings),
            Find::Contact => f64::from(day.contacts),
            Find::Stranding => f64::from(day.strandings),
            Find::LongestWait => day.wait_s,
            Find::Wettest => day.rain_mm,
        }
    }

    /// Whether the first such day is as good as any.
    pub fn takes_the_first(self) -> bool {
        !matches!(self, Find::LongestWait | Find::Wettest)
    }
}

/// Looks for a day in the seasons of the field's first contender. The lowest season and day win a tie.
///
/// # Errors
/// If a season's weather can't be had.
pub fn find(
    field: &Field,
    what: Find,
    seasons: Range<u64>,
    ground: &Ground,
    tick: &(dyn Fn() + Sync),
) -> Result<Searched, PlanError> {
    let mut best: Option<Found> = None;
    let mut next = seasons.start;
    while next < seasons.end {
        let some = next..(next + AT_ONCE).min(seasons.end);
        next = some.end;
        let Some(played) = field.play(&[0], some, ground, tick)? else { return Ok(Searched::Stopped) };
        for record in played.iter().flatten() {
            if let Some(found) = best_of(what, record)
                && best.is_none_or(|best| found.amount > best.amount)
            {
                best = Some(found);
            }
            if best.is_some() && what.takes_the_first() {
                return Ok(best.map_or(Searched::Nothing, Searched::Found));
            }
        }
    }
    if let (Find::LongestWait, Some(found)) = (what, best) {
        return day_of_wait(field, found.season, ground.seed);
    }
    Ok(best.map_or(Searched::Nothing, Searched::Found))
}

/// The season's first day with some of it, or the one with most.
fn best_of(what: Find, record: &SeasonRecord) -> Option<Found> {
    if what == Find::LongestWait {
        // Which day it was, the books don't say.
        let longest = record.value(Key::WaitLongest);
        return (longest > 0.0).then_some(Found { season: record.season, day: 0, amount: longest });
    }
    let mut best: Option<Found> = None;
    for (index, day) in record.days.iter().enumerate() {
        let amount = what.of(day);
        let better = amount > best.map_or(0.0, |best| best.amount);
        if better && (best.is_none() || !what.takes_the_first()) {
            best = Some(Found { season: record.season, day: index, amount });
        }
    }
    best
}

/// The day on which a season's longest wait began.
fn day_of_wait(field: &Field, season: u64, seed: u64) -> Result<Searched, PlanError> {
    let (plan, strategy) = field.plan(0);
    let outside = Outside::draw(plan, seed, season)?;
    let record = play(plan, &outside, strategy, seed, Options { sampling: Sampling::Exact, events: true });
    let longest = waits(&record.events).into_iter().reduce(|best, wait| if wait.1 > best.1 { wait } else { best });
    Ok(longest.map_or(Searched::Nothing, |(began, seconds)| {
        Searched::Found(Found { season, day: plan.clock.day_of(began), amount: seconds })
    }))
}
