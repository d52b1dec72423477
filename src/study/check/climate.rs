//! The worst weather that the door meets: extremes of ten seasons.

use crate::engine::{Outside, Plan, PlanError};
use crate::math::time::Instant;
use crate::scenario::Scenario;
use crate::shelter::loads::{self, Loads};

/// Seasons drawn for the extremes; they are always the same.
const SEASONS: u64 = 10;
/// Seed of these seasons.
const SEED: u64 = 1;

/// Extremes at the door.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Climate {
    /// Strongest gust at the door, m/s.
    pub gust_m_s: f64,
    /// Air temperature in it, degC.
    pub gust_c: f64,
    /// Lowest temperature, degC.
    pub coldest_c: f64,
    /// Highest temperature, degC.
    pub warmest_c: f64,
    /// Whether a wet seal met frost.
    pub frost: bool,
}

impl Climate {
    /// The extremes of ten seasons of a scenario.
    ///
    /// # Errors
    /// If its weather can't be used.
    pub fn of(scenario: &Scenario) -> Result<Climate, PlanError> {
        let plan = Plan::new(scenario)?;
        let mut climate = Climate {
            gust_m_s: 0.0,
            gust_c: 20.0,
            coldest_c: f64::INFINITY,
            warmest_c: f64::NEG_INFINITY,
            frost: false,
        };
        for season in 0..SEASONS {
            let outside = Outside::draw(&plan, SEED, season)?;
            let mut dries: Option<Instant> = None;
            for (step, length) in outside.weather.stretches(&plan.clock) {
                let gust = step.gust_m_s * scenario.site.wind_factor;
                if gust > climate.gust_m_s {
                    (climate.gust_m_s, climate.gust_c) = (gust, step.temperature_c);
                }
                climate.coldest_c = climate.coldest_c.min(step.temperature_c);
                climate.warmest_c = climate.warmest_c.max(step.temperature_c);
                let wet = step.rain_mm_h > 0.0 || dries.is_some_and(|until| step.from < until);
                climate.frost |= loads::frozen(&scenario.door, step.temperature_c, wet);
                if step.rain_mm_h > 0.0 {
                    dries = Some(step.from + length + loads::SEAL_DRIES_IN);
                }
            }
        }
        Ok(climate)
    }

    /// Calm at the warmest.
    pub fn calm(&self) -> Loads {
        Loads { gust_m_s: 0.0, temperature_c: self.warmest_c, frozen: false }
    }

    /// The strongest gust.
    pub fn windy(&self) -> Loads {
        Loads { gust_m_s: self.gust_m_s, temperature_c: self.gust_c, frozen: false }
    }

    /// A frozen seal in calm air at the lowest temperature.
    pub fn icy(&self) -> Loads {
        Loads { gust_m_s: 0.0, temperature_c: self.coldest_c, frozen: true }
    }
}
