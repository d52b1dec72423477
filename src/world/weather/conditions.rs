//! Weather conditions and the season made of them.

use super::humidity;
use crate::math::time::{Instant, Span};
use crate::world::clock::LocalClock;

/// Temperature minus dew point below which fog is likely, K (common practice: relative humidity above 0.97).
pub const FOG_DEPRESSION_K: f64 = 0.5;

/// Wind above which radiation fog does not form, m/s (common practice).
pub const FOG_WIND_M_S: f64 = 3.0;

/// Conditions that hold from `from` until the next entry, or to the season's end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// First moment.
    pub from: Instant,
    /// Rain intensity, mm/h; exactly 0 when dry.
    pub rain_mm_h: f64,
    /// Air temperature, degC.
    pub temperature_c: f64,
    /// Dew point, degC; at most the temperature.
    pub dew_point_c: f64,
    /// Mean wind speed in the open at 10 m, m/s.
    pub wind_m_s: f64,
    /// Gust (3 s), m/s.
    pub gust_m_s: f64,
    /// Share of the clear-sky sunlight that reaches the ground, 0 to 1.2.
    pub clearness: f64,
}

impl Conditions {
    /// Relative humidity, 0 to 1.
    pub fn relative_humidity(&self) -> f64 {
        humidity::relative(self.temperature_c, self.dew_point_c)
    }

    /// Whether dew settles on a surface that is `colder_k` colder than the air, as glass under a clear night sky is by
    /// 2 to 4 K (common practice).
    pub fn dew_on(&self, colder_k: f64) -> bool {
        self.temperature_c - colder_k < self.dew_point_c
    }

    /// Whether there is fog: air within [`FOG_DEPRESSION_K`] of its dew point, wind below [`FOG_WIND_M_S`], no rain.
    pub fn fog(&self) -> bool {
        let damp = self.temperature_c - self.dew_point_c < FOG_DEPRESSION_K;
        damp && self.wind_m_s < FOG_WIND_M_S && self.rain_mm_h == 0.0
    }
}

/// The weather of one season: never empty, the first step at [`Instant::START`], strictly increasing.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonWeather {
    /// The steps.
    pub steps: Vec<Conditions>,
}

impl SeasonWeather {
    /// Index of the step that holds at `at`; 0 before the season.
    pub fn index_at(&self, at: Instant) -> usize {
        self.steps.partition_point(|step| step.from <= at).saturating_sub(1)
    }

    /// The conditions at `at`.
    pub fn at(&self, at: Instant) -> &Conditions {
        &self.steps[self.index_at(at)]
    }

    /// Every step with its length.
    pub fn stretches<'a>(&'a self, clock: &'a LocalClock) -> impl Iterator<Item = (&'a Conditions, Span)> {
        let ends = self.steps.iter().skip(1).map(|step| step.from).chain([clock.end()]);
        self.steps.iter().zip(ends).map(|(step, end)| (step, end.since(step.from)))
    }

    /// Depth of rain over the season, mm.
    pub fn total_rain_mm(&self, clock: &LocalClock) -> f64 {
        self.stretches(clock).map(|(step, length)| step.rain_mm_h * length.hours()).sum()
    }

    /// Time with rain.
    pub fn rain_time(&self, clock: &LocalClock) -> Span {
        let wet = self.stretches(clock).filter(|(step, _)| step.rain_mm_h > 0.0);
        wet.fold(Span::ZERO, |sum, (_, length)| sum + length)
    }
}
