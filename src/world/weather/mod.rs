//! A season's weather: a list of stretches with constant conditions.
//!
//! [`season_weather`] makes it from the scenario, either drawn by the [`generated`] weather or replayed from an
//! [`observed`] record. Rain is exactly zero in dry stretches, and every change of intensity is a stretch's start, so
//! that the engine meets rain edges as events.

pub mod air;
mod clearness;
mod codes;
pub mod conditions;
mod doubts;
pub mod epw;
pub mod file_error;
pub mod generated;
mod grid;
pub mod humidity;
pub mod observed;
mod playback;
pub mod pulses;
mod rain;
mod reading;
pub mod spells;
pub mod tmy3;
pub mod wind;
pub mod within;

pub use air::generate as generate_pulses;
pub use conditions::{Conditions, SeasonWeather};
pub use file_error::WeatherFileError;
pub use observed::ObservedRecord;

use super::clock::LocalClock;
use crate::scenario::Scenario;
use crate::scenario::weather::Weather;

/// Share of clear-sky sunlight while it rains. Common practice: half-hourly records give 0.2 to 0.3.
pub const CLEARNESS_IN_RAIN: f64 = 0.25;

/// The weather of one season.
///
/// `record` is the observed record if the caller has read it already, as a study of many seasons should; without it
/// the scenario's file is read here.
///
/// # Errors
/// [`WeatherFileError`] for an observed record that cannot be read or has gaps that the scenario refuses. Generated
/// weather never fails.
pub fn season_weather(
    scenario: &Scenario,
    record: Option<&ObservedRecord>,
    clock: &LocalClock,
    seed: u64,
    season: u64,
) -> Result<SeasonWeather, WeatherFileError> {
    match (&scenario.weather, record) {
        (Weather::Generated(generated), _) => Ok(generated::generate(generated, clock, seed, season)),
        (Weather::Pulses(pulses), _) => Ok(air::generate(pulses, clock, seed, season)),
        (Weather::Observed(observed), Some(record)) => record.play(observed, clock, &scenario.site, seed, season),
        (Weather::Observed(observed), None) => {
            ObservedRecord::load(observed)?.play(observed, clock, &scenario.site, seed, season)
        }
    }
}
