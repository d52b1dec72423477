//! Weather drawn from monthly figures: spells of rain, and temperature, wind and clearness on an hourly grid.
//!
//! The three hourly series are driven by stationary Gaussian processes with exponentially falling correlation
//! (Ornstein & Uhlenbeck 1930; sampled on a grid it is an AR(1) series with coefficient exp(-1 h / memory)), started
//! in their stationary law:
//! * temperature = monthly mean + daily wave + spread x process;
//! * dew point = coldest temperature of the day - dryness, as in [`air`](super::air), with [`DRYNESS_K`];
//! * wind: the process mapped through its normal law to a Weibull law with the month's mean;
//! * clearness: the process mapped to a beta law with the month's mean; [`CLEARNESS_IN_RAIN`] while it rains.
//!
//! The grid counts elapsed hours from the season's start. Rain edges are exact and cut the hours they fall into.
//! Streams: `weather temperature`, `weather humidity`, `weather wind`, `weather cloud`, each entity 0, one draw per hour: a longer season
//! begins with the same weather.

use super::CLEARNESS_IN_RAIN;
use super::air::{DRYNESS_K, DRYNESS_SPREAD_K, HUMIDITY_MEMORY_H, RAIN_DEPRESSION_K};
use super::clearness::ClearnessLaw;
use super::conditions::{Conditions, SeasonWeather};
use super::grid::{Memory, WARMEST_HOUR, through_the_year, year_position};
use super::rain;
use crate::math::normal;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::weather::Generated;
use crate::world::clock::LocalClock;

/// Time after which the correlation of cloudiness has fallen to 1/e, h. Common practice; half-hourly and hourly
/// clear-sky indices correlate by about 0.85 from one value to the next.
const CLOUD_MEMORY_H: f64 = 3.0;

/// Draws the weather of one season.
pub fn generate(weather: &Generated, clock: &LocalClock, seed: u64, season: u64) -> SeasonWeather {
    let showers = rain::showers(weather, clock, seed, season);
    let mut hours = Hours::new(weather, seed, season);
    let mut steps = Vec::new();
    let mut wet_index = 0;
    let mut hour_start = Instant::START;
    while hour_start < clock.end() {
        let hour_end = hour_start + Span::HOUR;
        let hour = hours.next(clock, hour_start);
        let mut from = hour_start;
        // The running shower, then every one that begins within the hour.
        loop {
            while showers.get(wet_index + 1).is_some_and(|next| next.from <= from) {
                wet_index += 1;
            }
            let rain_mm_h = showers[wet_index].rain_mm_h;
            let clearness = if rain_mm_h > 0.0 { CLEARNESS_IN_RAIN } else { hour.clearness };
            let damp = if rain_mm_h > 0.0 { hour.temperature_c - RAIN_DEPRESSION_K } else { f64::NEG_INFINITY };
            let dew_point_c = hour.dew_point_c.max(damp);
            steps.push(Conditions { from, rain_mm_h, clearness, dew_point_c, ..hour });
            match showers.get(wet_index + 1) {
                Some(next) if next.from < hour_end => from = next.from,
                _ => break,
            }
        }
        hour_start = hour_end;
    }
    SeasonWeather { steps }
}

/// The hourly series.
struct Hours<'a> {
    weather: &'a Generated,
    temperature: Memory,
    humidity: Memory,
    wind: Memory,
    cloud: Memory,
    weibull_mean: f64,
    /// One law per distinct monthly mean, and which one a month uses.
    laws: Vec<ClearnessLaw>,
    law_of_month: [usize; 12],
}

impl Hours<'_> {
    fn new(weather: &Generated, seed: u64, season: u64) -> Hours<'_> {
        let stream = |name| Source::new(seed, season, name).stream(0);
        let mut means: Vec<f64> = Vec::new();
        let law_of_month = weather.clearness.map(|mean| {
            means.iter().position(|known| *known == mean).unwrap_or_else(|| {
                means.push(mean);
                means.len() - 1
            })
        });
        Hours {
            weather,
            temperature: Memory::new(weather.temperature_memory_h, stream("weather temperature")),
            humidity: Memory::new(HUMIDITY_MEMORY_H, stream("weather humidity")),
            wind: Memory::new(weather.wind_memory_h, stream("weather wind")),
            cloud: Memory::new(CLOUD_MEMORY_H, stream("weather cloud")),
            // Mean of the Weibull law with scale 1: Gamma(1 + 1/k).
            weibull_mean: libm::tgamma(1.0 + 1.0 / weather.wind_shape),
            laws: means.iter().map(|mean| ClearnessLaw::new(*mean, weather.clearness_spread)).collect(),
            law_of_month,
        }
    }

    /// The dry-weather conditions of the hour that begins at `from`; what depends on the time of day is taken at the
    /// middle of the hour.
    fn next(&mut self, clock: &LocalClock, from: Instant) -> Conditions {
        let weather = self.weather;
        let middle = from + Span(Span::HOUR.0 / 2);
        let month = clock.month(middle);
        let position = year_position(clock, middle);
        let hour = clock.second_of_day_local(middle) / 3_600.0;
        let wave = libm::cos(2.0 * std::f64::consts::PI * (hour - WARMEST_HOUR) / 24.0);
        let swing_k = through_the_year(&weather.temperature_swing_k, position);
        let temperature_c = through_the_year(&weather.temperature_c, position)
            + swing_k * wave
            + through_the_year(&weather.temperature_spread_k, position).max(0.0) * self.temperature.next()
            + weather.shift.warming_k;
        // Weibull quantile at Phi(z): scale (-ln(1 - Phi(z)))^(1/k), with the tail taken directly.
        let unit = libm::pow(-libm::log(normal::tail(self.wind.next())), 1.0 / weather.wind_shape);
        let wind_m_s = weather.wind_m_s[month] / self.weibull_mean * unit * weather.shift.wind;
        Conditions {
            from,
            rain_mm_h: 0.0,
            temperature_c,
            dew_point_c: temperature_c
                .min(temperature_c - swing_k * (1.0 + wave) - DRYNESS_K - DRYNESS_SPREAD_K * self.humidity.next()),
            wind_m_s,
            gust_m_s: weather.gust_factor * wind_m_s,
            clearness: self.laws[self.law_of_month[month]].at(self.cloud.next()),
        }
    }
}
