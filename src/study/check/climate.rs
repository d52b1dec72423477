//! The worst weather that the door meets: extremes of ten seasons.

use crate::engine::plan::Light;
use crate::engine::{Outside, Plan, PlanError};
use crate::math::time::Instant;
use crate::scenario::Scenario;
use crate::scenario::door::Door;
use crate::scenario::sensor::Errors;
use crate::shelter::loads::{self, Loads};

/// Seasons drawn for the extremes; they are always the same.
const SEASONS: u64 = 10;
/// Seed of these seasons.
const SEED: u64 = 1;

/// Share of the time between two cleanings after which a window is at its dirtiest.
const BEFORE_CLEANED: f64 = 0.999;

/// Extremes at the door.
#[derive(Clone, Debug, PartialEq)]
pub struct Climate {
    /// Strongest gust at the door, m/s.
    pub gust_m_s: f64,
    /// Air temperature in it, degC.
    pub gust_c: f64,
    /// Lowest temperature, degC.
    pub coldest_c: f64,
    /// Highest temperature, degC.
    pub warmest_c: f64,
    /// Gust whose pressure is the mean one of the seasons, m/s.
    pub mean_gust_m_s: f64,
    /// Mean temperature, degC.
    pub mean_c: f64,
    /// Lowest temperature with a wet seal, degC; infinite if it was never wet.
    pub coldest_wet_c: f64,
    /// Whether a wet seal met frost.
    pub frost: bool,
    /// Length of a season, days.
    pub season_d: f64,
    /// Where the sun stands, every [`crate::engine::plan::LIGHT_STEP`]; empty where no sensor minds light.
    pub lights: Vec<Light>,
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
            mean_gust_m_s: 0.0,
            mean_c: 0.0,
            coldest_wet_c: f64::INFINITY,
            frost: false,
            season_d: 0.0,
            lights: Vec::new(),
        };
        let (mut hours, mut gusts, mut degrees) = (0.0, 0.0, 0.0);
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
                let lasts = length.hours();
                hours += lasts;
                gusts += lasts * gust * gust;
                degrees += lasts * step.temperature_c;
                let wet = step.rain_mm_h > 0.0 || dries.is_some_and(|until| step.from < until);
                if wet {
                    climate.coldest_wet_c = climate.coldest_wet_c.min(step.temperature_c);
                }
                if step.rain_mm_h > 0.0 {
                    dries = Some(step.from + length + loads::SEAL_DRIES_IN);
                }
            }
        }
        if hours > 0.0 {
            (climate.mean_gust_m_s, climate.mean_c) = ((gusts / hours).sqrt(), degrees / hours);
        }
        climate.season_d = hours / 24.0 / SEASONS as f64;
        climate.lights = plan.lights;
        climate.frost = climate.freezes(&scenario.door);
        Ok(climate)
    }

    /// The longest that a sensor goes uncleaned, days: a moment before the next cleaning, or the season's end.
    pub fn uncleaned_d(&self, errors: &Errors) -> f64 {
        self.season_d.min(BEFORE_CLEANED * errors.cleaned_every_days)
    }

    /// Temperature, degC, and days from the season's start at which a sensor has drifted furthest: the coldest and the warmest air on the
    /// first day, on the last before it is cleaned and on the last of all (age goes on whatever is cleaned).
    pub fn drifting(&self, errors: &Errors) -> impl Iterator<Item = (f64, f64)> + use<> {
        let days = [0.0, self.uncleaned_d(errors), self.season_d];
        [self.coldest_c, self.warmest_c].into_iter().flat_map(move |degrees| days.map(|days| (degrees, days)))
    }

    /// Whether a door's seal froze in these seasons.
    pub fn freezes(&self, door: &Door) -> bool {
        loads::frozen(door, self.coldest_wet_c, self.coldest_wet_c.is_finite())
    }

    /// A mean hour of the seasons.
    pub fn mean(&self) -> Loads {
        Loads { gust_m_s: self.mean_gust_m_s, temperature_c: self.mean_c, frozen: false }
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
