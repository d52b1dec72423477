//! What happens outside in one season whatever the shelter does: weather, visitors, faults, unscheduled starts. Drawn
//! once per season and shown to every strategy alike.

use super::plan::{Plan, PlanError};
use super::survey::{Moment, moments};
use crate::math::time::Instant;
use crate::world::failures::{self, Episode};
use crate::world::faults::{Outage, outages};
use crate::world::timetable::{MowWindow, unscheduled};
use crate::world::visits::{Visit, visits};
use crate::world::weather::{SeasonWeather, season_weather};

/// One season's outside world.
#[derive(Clone, Debug)]
pub struct Outside {
    /// Season number.
    pub season: u64,
    /// Weather.
    pub weather: SeasonWeather,
    /// Visits that would take place.
    pub visits: Vec<Visit>,
    /// Faults.
    pub outages: Vec<Outage>,
    /// Episodes of failures.
    pub episodes: Vec<Episode>,
    /// Unscheduled starts of the mower, each with the number by which its sortie is drawn.
    pub unscheduled: Vec<(Instant, u64)>,
    /// When the laws of the sensors' readings are looked at.
    pub moments: Vec<Moment>,
    /// The windows that clocks believe in, where they are wrong.
    pub believed: Option<Vec<MowWindow>>,
}

impl Outside {
    /// Draws the outside world of one season.
    ///
    /// # Errors
    /// If the observed weather can't be used.
    pub fn draw(plan: &Plan, seed: u64, season: u64) -> Result<Outside, PlanError> {
        let scenario = &plan.scenario;
        let mut starts: Vec<(Instant, u64)> = (0..)
            .zip(unscheduled(&scenario.mower, &plan.clock, seed, season))
            .map(|(number, at)| (at, number))
            .collect();
        starts.extend(failures::odd_starts(scenario, &plan.clock, seed, season));
        starts.sort_unstable();
        let all = failures::episodes(scenario, &plan.clock, seed, season);
        let mut outages = outages(scenario, &plan.clock, seed, season);
        outages.extend(failures::joint_outages(scenario, &all));
        outages.sort_by_key(|outage| (outage.from, outage.fault));
        let weather = season_weather(scenario, plan.record.as_ref(), &plan.clock, seed, season)?;
        Ok(Outside {
            season,
            moments: moments(plan, &weather, seed, season),
            weather,
            visits: visits(scenario, &plan.clock, seed, season),
            outages,
            unscheduled: starts,
            believed: failures::believed_windows(scenario, &plan.windows, &all, &plan.clock_changes),
            episodes: all.into_iter().filter(|episode| failures::is_played(scenario, episode)).collect(),
        })
    }
}
