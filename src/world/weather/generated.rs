//! Weather drawn from monthly figures: spells of rain, and temperature, wind and clearness on an hourly grid.
//!
//! The three hourly series are driven by stationary Gaussian processes with exponentially falling correlation
//! (Ornstein & Uhlenbeck 1930; sampled on a grid it is an AR(1) series with coefficient exp(-1 h / memory)), started
//! in their stationary law:
//! * temperature = monthly mean + daily wave + spread x process;
//! * wind: the process mapped through its normal law to a Weibull law with the month's mean;
//! * clearness: the process mapped to a beta law with the month's mean; [`CLEARNESS_IN_RAIN`] while it rains.
//!
//! The grid counts elapsed hours from the season's start. Rain edges are exact and cut the hours they fall into.
//! Streams: `weather temperature`, `weather wind`, `weather cloud`, each entity 0, one draw per hour: a longer season
//! begins with the same weather.

use super::CLEARNESS_IN_RAIN;
use super::clearness::ClearnessLaw;
use super::conditions::{Conditions, SeasonWeather};
use super::rain;
use crate::math::normal;
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::weather::{Generated, Monthly};
use crate::world::clock::LocalClock;

/// Hour of the day at which the daily wave of temperature peaks. Common practice: two to three hours after noon;
/// hourly records of five stations gave 13 to 15.
const WARMEST_HOUR: f64 = 15.0;

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
            steps.push(Conditions { from, rain_mm_h, clearness, ..hour });
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
        let temperature_c = through_the_year(&weather.temperature_c, position)
            + through_the_year(&weather.temperature_swing_k, position) * wave
            + weather.temperature_spread_k * self.temperature.next();
        // Weibull quantile at Phi(z): scale (-ln(1 - Phi(z)))^(1/k), with the tail taken directly.
        let unit = libm::pow(-libm::log(normal::tail(self.wind.next())), 1.0 / weather.wind_shape);
        let wind_m_s = weather.wind_m_s[month] / self.weibull_mean * unit;
        Conditions {
            from,
            rain_mm_h: 0.0,
            temperature_c,
            wind_m_s,
            gust_m_s: weather.gust_factor * wind_m_s,
            clearness: self.laws[self.law_of_month[month]].at(self.cloud.next()),
        }
    }
}

/// A standard Gaussian process with exponentially falling correlation on the hourly grid.
struct Memory {
    keep: f64,
    renew: f64,
    value: Option<f64>,
    stream: Stream,
}

impl Memory {
    fn new(memory_h: f64, stream: Stream) -> Memory {
        let keep = if memory_h > 0.0 { libm::exp(-1.0 / memory_h) } else { 0.0 };
        Memory { keep, renew: libm::sqrt(1.0 - keep * keep), value: None, stream }
    }

    fn next(&mut self) -> f64 {
        let fresh = self.stream.normal();
        let value = self.value.map_or(fresh, |last| self.keep * last + self.renew * fresh);
        self.value = Some(value);
        value
    }
}

/// Place in the year in months: 0.5 is the middle of January, 11.5 that of December.
fn year_position(clock: &LocalClock, at: Instant) -> f64 {
    let date = clock.date(clock.day_of(at));
    let day = f64::from(date.day() - 1) + clock.second_of_day_local(at) / 86_400.0;
    f64::from(date.month() - 1) + day / f64::from(date.days_in_month())
}

/// A smooth yearly curve through the monthly values at mid-month: periodic Catmull-Rom cubic (Catmull & Rom 1974).
/// Its mean over a month differs from the month's value by the curve's bend: about 1 % of the yearly amplitude.
fn through_the_year(monthly: &Monthly, position: f64) -> f64 {
    let place = (position - 0.5).rem_euclid(12.0);
    let left = (place as usize).min(11);
    let t = place - left as f64;
    let value = |offset: usize| monthly[(left + offset + 11) % 12];
    let (p0, p1, p2, p3) = (value(0), value(1), value(2), value(3));
    let slope_left = 0.5 * (p2 - p0);
    let slope_right = 0.5 * (p3 - p1);
    let rise = p2 - p1;
    p1 + t
        * (slope_left + t * (3.0 * rise - 2.0 * slope_left - slope_right + t * (slope_left + slope_right - 2.0 * rise)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The curve meets every monthly value at mid-month, is continuous over New Year, and follows a yearly cosine
    /// within a hundredth of its amplitude.
    #[test]
    fn yearly_curve() {
        let wave = |position: f64| (2.0 * std::f64::consts::PI * (position - 7.0) / 12.0).cos();
        let monthly: Monthly = std::array::from_fn(|month| wave(month as f64 + 0.5));
        for step in 0..240 {
            let position = 0.05 * f64::from(step);
            assert!((through_the_year(&monthly, position) - wave(position)).abs() < 0.01, "{position}");
        }
        let uneven: Monthly = std::array::from_fn(|month| (month * month % 7) as f64);
        for (month, value) in uneven.iter().enumerate() {
            assert!((through_the_year(&uneven, month as f64 + 0.5) - value).abs() < 1e-12);
        }
        assert!((through_the_year(&uneven, 1e-9) - through_the_year(&uneven, 12.0 - 1e-9)).abs() < 1e-6);
    }
}
