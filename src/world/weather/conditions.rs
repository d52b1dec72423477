//! Weather conditions and the season made of them.

use crate::math::time::{Instant, Span};
use crate::world::clock::LocalClock;

/// Conditions that hold from `from` until the next entry, or to the season's end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// First moment.
    pub from: Instant,
    /// Rain intensity, mm/h; exactly 0 when dry.
    pub rain_mm_h: f64,
    /// Air temperature, degC.
    pub temperature_c: f64,
    /// Mean wind speed in the open at 10 m, m/s.
    pub wind_m_s: f64,
    /// Gust (3 s), m/s.
    pub gust_m_s: f64,
    /// Share of the clear-sky sunlight that reaches the ground, 0 to 1.2.
    pub clearness: f64,
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
