//! What happens outside in one season whatever the shelter does: weather, visitors, faults, unscheduled starts. Drawn
//! once per season and shown to every strategy alike.

use super::plan::{Plan, PlanError};
use crate::math::time::Instant;
use crate::world::faults::{Outage, outages};
use crate::world::timetable::unscheduled;
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
    /// Unscheduled starts of the mower.
    pub unscheduled: Vec<Instant>,
}

impl Outside {
    /// Draws the outside world of one season.
    ///
    /// # Errors
    /// If the observed weather can't be used.
    pub fn draw(plan: &Plan, seed: u64, season: u64) -> Result<Outside, PlanError> {
        let scenario = &plan.scenario;
        Ok(Outside {
            season,
            weather: season_weather(scenario, plan.record.as_ref(), &plan.clock, seed, season)?,
            visits: visits(scenario, &plan.clock, seed, season),
            outages: outages(scenario, &plan.clock, seed, season),
            unscheduled: unscheduled(&scenario.mower, &plan.clock, seed, season),
        })
    }
}
