//! When failures come, and what they change of the scenario itself.
//!
//! Episodes of a failure are a Poisson process by civil hour from which those are left out that would begin during
//! another one of the same failure. Streams: `failure NAME episodes`, entity 0, for the beginnings; `failure NAME`,
//! entity = episode number, for the lengths; `failure NAME occasions` for occasions (arrivals, strokes), whose entity is
//! the engine's number of the occasion; `failure NAME months`, entity = number of the beginning, for what comes more often in
//! some months. A further failure therefore changes nothing else.

mod changes;

pub use changes::applied;

use super::clock::LocalClock;
use super::faults::Outage;
use super::spread::draw;
use super::timetable::MowWindow;
use super::visits::by_the_hour;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::failure::{Act, Failure, Figure, Often};
use crate::scenario::sensor::SensorKind;

/// One episode of a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Episode {
    /// Index into the scenario's failures.
    pub failure: usize,
    /// Its first moment.
    pub from: Instant,
    /// The first moment after it, at most the season's end.
    pub to: Instant,
}

/// Days of a Julian year.
const YEAR_D: f64 = 365.25;

/// All episodes of a season, by beginning; equal ones by the failure's index.
pub fn episodes(scenario: &Scenario, clock: &LocalClock, seed: u64, season: u64) -> Vec<Episode> {
    let mut all = Vec::new();
    for (index, failure) in scenario.failures.iter().enumerate() {
        // What a failure changes of the scenario has its own rate there.
        if !matches!(failure.mode.act, Act::Change(_)) {
            all.extend(episodes_of(failure, index, clock, seed, season));
        }
    }
    all.sort_by_key(|episode| (episode.from, episode.failure));
    all
}

fn episodes_of(failure: &Failure, index: usize, clock: &LocalClock, seed: u64, season: u64) -> Vec<Episode> {
    let Often::Episodes { hours, .. } = failure.mode.often else { return Vec::new() };
    let begins = Source::new(seed, season, &format!("failure {} episodes", failure.name)).stream(0);
    let lengths = Source::new(seed, season, &format!("failure {}", failure.name));
    let mut over = Instant::START;
    let mut found = Vec::new();
    let by_month = failure.mode.by_month();
    let most = by_month.iter().copied().fold(1.0, f64::max);
    let in_season = Source::new(seed, season, &format!("failure {} months", failure.name));
    let times = by_the_hour(most * failure.per_year / YEAR_D, &hours.rates(), clock, begins);
    for (number, from) in times.into_iter().enumerate() {
        // Thinned to the month's rate (Lewis and Shedler 1979).
        let share = by_month[clock.month(from)] / most;
        if from < over || (share < 1.0 && !in_season.stream(number as u64).chance(share)) {
            continue;
        }
        // At least a microsecond, so that time moves on even for an episode that lasts no time at all.
        over = from + Span::from_seconds(draw(&failure.lasts, &mut lengths.stream(number as u64))).max(Span(1));
        found.push(Episode { failure: index, from, to: over.min(clock.end()) });
    }
    found
}

/// Whether the engine plays an episode; those of silence become outages, those of the timetable wrong windows.
pub fn is_played(scenario: &Scenario, episode: &Episode) -> bool {
    !matches!(scenario.failures[episode.failure].mode.act, Act::Silent | Act::Prior)
}

/// Outages of the sensors that a common cause silences, all at once: one per sensor and episode, of the faults that
/// [`applied`] has added for them.
pub fn joint_outages(scenario: &Scenario, episodes: &[Episode]) -> Vec<Outage> {
    let mut outages = Vec::new();
    for episode in episodes {
        let failure = &scenario.failures[episode.failure];
        if failure.mode.act == Act::Silent {
            let name = changes::joint_name(failure);
            let hit = scenario.faults.iter().enumerate().filter(|(_, fault)| fault.name == name);
            outages.extend(hit.map(|(fault, _)| Outage { fault, from: episode.from, to: episode.to }));
        }
    }
    outages
}

/// Starts at odd times, each with the number by which its sortie is drawn: Poisson by `failure NAME episodes`.
pub fn odd_starts(scenario: &Scenario, clock: &LocalClock, seed: u64, season: u64) -> Vec<(Instant, u64)> {
    let mut starts = Vec::new();
    for (index, failure) in (1_u64..).zip(&scenario.failures) {
        if failure.mode.act == Act::OddStarts {
            let stream = Source::new(seed, season, &format!("failure {} episodes", failure.name)).stream(0);
            let times = by_the_hour(failure.figure(Figure::PerDay), &[1.0; 24], clock, stream);
            starts.extend((0..).zip(times).map(|(number, at): (u64, Instant)| (at, index << 32 | number)));
        }
    }
    starts
}

/// A day on which clocks are put forward or back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClockChange {
    /// Its first moment.
    pub from: Instant,
    /// The first moment after it.
    pub to: Instant,
    /// By how much a clock that was not changed is late; negative if it is early.
    pub late: Span,
}

/// The season's days with a change of clocks, if some failure has stamps or clocks miss it.
pub fn clock_changes(scenario: &Scenario, clock: &LocalClock) -> Vec<ClockChange> {
    if !scenario.failures.iter().any(|failure| failure.mode.act == Act::Stale) {
        return Vec::new();
    }
    let starts: Vec<Instant> = (0..clock.days()).map(|day| clock.day_start(day)).chain([clock.end()]).collect();
    let change = |pair: &[Instant]| {
        // A day without an hour has put clocks forward: one that was not is an hour behind, and what it does comes late.
        let late = Span(24 * Span::HOUR.0 - pair[1].since(pair[0]).0);
        (late.0 != 0).then_some(ClockChange { from: pair[0], to: pair[1], late })
    };
    starts.windows(2).filter_map(change).collect()
}

/// The windows that clocks believe in, where some failure of the timetable has them off or has them miss a change of time;
/// none where they are right.
pub fn believed_windows(
    scenario: &Scenario,
    windows: &[MowWindow],
    episodes: &[Episode],
    changes: &[ClockChange],
) -> Option<Vec<MowWindow>> {
    let wrong = |episode: &&Episode| scenario.failures[episode.failure].mode.act == Act::Prior;
    let clock = |sensor: &usize| matches!(scenario.sensors[*sensor].kind, SensorKind::Clock { .. });
    let misses = |failure: &Failure| failure.mode.act == Act::Stale && failure.sensors.iter().any(clock);
    let missed = if scenario.failures.iter().any(misses) { changes } else { &[] };
    if !episodes.iter().any(|episode| wrong(&episode)) && missed.is_empty() {
        return None;
    }
    let mut believed: Vec<MowWindow> = windows
        .iter()
        .map(|window| {
            let hit = episodes.iter().filter(wrong).find(|e| e.from <= window.from && window.from < e.to);
            let late = hit.map_or(Span::ZERO, |episode| {
                Span::from_seconds(scenario.failures[episode.failure].figure(Figure::Delay))
            });
            let change = missed.iter().find(|change| (change.from..change.to).contains(&window.from));
            let late = change.map_or(late, |change| Span(late.0 + change.late.0));
            MowWindow { from: window.from + late, to: window.to + late, number: window.number }
        })
        .collect();
    // A late window may run into the next one that is on time.
    believed.sort_by_key(|window| (window.from, window.to));
    let mut apart: Vec<MowWindow> = Vec::new();
    for window in believed {
        match apart.last_mut() {
            Some(last) if window.from <= last.to => last.to = last.to.max(window.to),
            _ => apart.push(window),
        }
    }
    Some(apart)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::failure::mode;
    use crate::scenario::season::Calendar;
    use jiff::civil::date;

    fn clock() -> LocalClock {
        let calendar = Calendar { first_day: date(2025, 4, 1), last_day: date(2025, 10, 31) };
        LocalClock::new(&calendar, "Europe/Vienna").unwrap()
    }

    /// Dew comes between two and six: of Poisson episodes of rate 70 per year the number in 200 seasons of 214 days is
    /// 200 * 70 * 214 / 365.25 (4 standard errors), and all begin in these hours. Those that would begin within another
    /// one are few (4 h of dew within 4 h of beginnings, 0.19 a day) and looked for beside it.
    #[test]
    fn episodes_keep_rate_and_hours() {
        let clock = clock();
        let dew = Failure::usual(mode("dew-on-window").unwrap(), vec![0]);
        let (mut count, seasons) = (0.0, 200);
        for season in 0..seasons {
            let found = episodes_of(&dew, 0, &clock, 5, season);
            assert!(found.windows(2).all(|pair| pair[0].to <= pair[1].from));
            assert!(found.iter().all(|episode| (2..6).contains(&clock.hour_of_day(episode.from))));
            count += found.len() as f64;
        }
        let days = clock.season_length().seconds() / 86_400.0;
        let most = seasons as f64 * 70.0 * days / 365.25;
        // At most one more within the 4 h that are left of the same night: 0.19 of them, half of the time too late.
        let least = most * (1.0 - 0.19);
        assert!(count < most + 4.0 * most.sqrt() && count > least - 4.0 * least.sqrt(), "{count}: {least} to {most}");
    }

    #[test]
    fn another_failure_changes_nothing() {
        let clock = clock();
        let usual = |name: &str| Failure::usual(mode(name).unwrap(), vec![0]);
        let alone = episodes_of(&usual("spider-web"), 0, &clock, 1, 3);
        let beside = episodes_of(&usual("spider-web"), 7, &clock, 1, 3);
        assert!(!alone.is_empty());
        assert!(alone.iter().zip(&beside).all(|(a, b)| (a.from, a.to) == (b.from, b.to)));
    }
}
