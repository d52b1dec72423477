//! Weather with pulse rain: temperature, dew point, wind, gusts and sky on an hourly grid, each tied to the rain.
//!
//! * temperature = monthly mean + daily wave + spread x process - cooling by rain. The cooling approaches
//!   its full value with a time constant of one hour while it rains and 0 while it does not (assumption); its long-run
//!   mean is added back, so that the monthly mean is what the scenario says. Richardson 1981 (Water Resour. Res. 17,
//!   182-190; from memory) ties daily temperature to wet and dry days likewise.
//! * dew point = coldest temperature of the day - dryness x own process, at most the temperature: the rule that air is
//!   close to saturation at dawn (Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 48; from memory), with
//!   days on which it is and others on which it is not. While it rains at least [`RAIN_DEPRESSION_K`] below.
//! * wind: the process mapped through its normal law to a Weibull law, times a daily wave, stronger in rain; bounded
//!   by 4.5 standard deviations.
//! * gust = wind x (1 + peak factor x turbulence intensity), the peak factor drawn every hour.
//! * clearness: the process mapped to a beta law; a fixed value while it rains.
//!
//! Processes are stationary Gaussian with exponentially falling correlation (AR(1) on the grid). Streams: `weather
//! temperature`, `weather humidity`, `weather wind`, `weather gust`, `weather cloud`, each entity 0, one draw per hour:
//! a longer season begins with the same weather.

use super::clearness::ClearnessLaw;
use super::conditions::{Conditions, SeasonWeather};
use super::grid::{Memory, WARMEST_HOUR, through_the_year, year_position};
use super::pulses::{moments::Moments, storms};
use super::wind;
use crate::math::normal;
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::weather::{Air, Monthly, PulseYear, Pulses};
use crate::world::clock::LocalClock;

/// Bound of the wind's normal value: one hour in 33 years would lie beyond.
const MOST_NORMAL: f64 = 4.5;

/// Memory of the clearness, h. Common practice; half-hourly and hourly clear-sky indices correlate by about 0.85 from
/// one value to the next.
const CLOUD_MEMORY_H: f64 = 3.0;

/// Memory of the dryness of the air, h: air masses change in a day or two (assumption).
pub(super) const HUMIDITY_MEMORY_H: f64 = 36.0;

/// Coldest temperature of the day minus dew point where the scenario says nothing: mean and standard deviation, K
/// (assumption; in humid climates the two are equal on clear nights, so that dew falls on many of them).
pub const DRYNESS_K: f64 = 1.0;
/// See [`DRYNESS_K`].
pub const DRYNESS_SPREAD_K: f64 = 2.0;

/// Temperature minus dew point while it rains, K: relative humidity about 0.94 (common practice).
pub const RAIN_DEPRESSION_K: f64 = 1.0;

/// Time constant of the cooling by rain, h (assumption).
const COOLING_TIME_H: f64 = 1.0;

/// Cooling by night over that by day (records: 0 to 1 K by night, 4 to 6 K by day).
const NIGHT_COOLING: f64 = 0.1;

/// Share of the afternoon's cooling at a value of the daily wave (-1 coldest, +1 warmest hour).
fn cooling_share(wave: f64) -> f64 {
    NIGHT_COOLING + (1.0 - NIGHT_COOLING) * 0.5 * (1.0 + wave)
}

/// Draws the weather of one season.
pub fn generate(weather: &Pulses, clock: &LocalClock, seed: u64, season: u64) -> SeasonWeather {
    let rain = shifted(weather);
    let showers = storms::showers(&rain, clock, seed, season);
    let mut hours = Hours::new(weather, &rain, seed, season);
    let mut steps = Vec::with_capacity(showers.len() + clock.season_length().hours() as usize + 1);
    let mut wet_index = 0;
    let mut hour_start = Instant::START;
    while hour_start < clock.end() {
        let hour_end = (hour_start + Span::HOUR).min(clock.end());
        let hour = hours.next(clock, hour_start);
        let mut from = hour_start;
        // The running shower, then every one that begins within the hour.
        loop {
            while showers.get(wet_index + 1).is_some_and(|next| next.from <= from) {
                wet_index += 1;
            }
            let to = showers.get(wet_index + 1).map_or(hour_end, |next| next.from.min(hour_end));
            steps.push(hours.step(&hour, from, showers[wet_index].rain_mm_h, to.since(from).hours()));
            if to >= hour_end {
                break;
            }
            from = to;
        }
        hour_start += Span::HOUR;
    }
    SeasonWeather { steps }
}

/// The rain process with the scenario's changes.
pub(super) fn shifted(weather: &Pulses) -> PulseYear {
    let mut rain = weather.rain;
    for month in &mut rain {
        month.intensity_mm *= weather.shift.rain;
        month.storms_per_h *= weather.shift.spells;
    }
    rain
}

/// The dry-weather values of one hour.
struct Hour {
    temperature_c: f64,
    /// Cooling that a long rain would reach, K.
    cooling_k: f64,
    dew_point_c: f64,
    wind_m_s: f64,
    gust_factor: f64,
    clearness: f64,
}

/// The hourly series and the cooling that runs between the rain's edges.
struct Hours<'a> {
    air: &'a Air,
    shift: crate::scenario::weather::Shift,
    temperature: Memory,
    humidity: Memory,
    wind: Memory,
    gust: Stream,
    cloud: Memory,
    weibull_mean: f64,
    wet_share: Monthly,
    laws: [ClearnessLaw; 12],
    cooling_k: f64,
}

impl Hours<'_> {
    fn new<'a>(weather: &'a Pulses, rain: &PulseYear, seed: u64, season: u64) -> Hours<'a> {
        let air = &weather.air;
        let stream = |name| Source::new(seed, season, name).stream(0);
        Hours {
            air,
            shift: weather.shift,
            temperature: Memory::new(air.temperature_memory_h, stream("weather temperature")),
            humidity: Memory::new(HUMIDITY_MEMORY_H, stream("weather humidity")),
            wind: Memory::new(air.wind_memory_h, stream("weather wind")),
            gust: stream("weather gust"),
            cloud: Memory::new(CLOUD_MEMORY_H, stream("weather cloud")),
            // Mean of the Weibull law with scale 1: Gamma(1 + 1/k).
            weibull_mean: libm::tgamma(1.0 + 1.0 / air.wind_shape),
            wet_share: rain.map(|month| if month.storms_per_h > 0.0 { Moments::new(&month).wet_now() } else { 0.0 }),
            laws: ClearnessLaw::monthly(&air.clearness, air.clearness_spread),
            cooling_k: 0.0,
        }
    }

    /// The hour that begins at `from`; what depends on the time of day is taken at its middle.
    fn next(&mut self, clock: &LocalClock, from: Instant) -> Hour {
        let air = self.air;
        let middle = from + Span(Span::HOUR.0 / 2);
        let month = clock.month(middle);
        let position = year_position(clock, middle);
        let hour = clock.second_of_day_local(middle) / 3_600.0;
        let wave = libm::cos(2.0 * std::f64::consts::PI * (hour - WARMEST_HOUR) / 24.0);
        let cooling_k = air.rain_cooling_k * cooling_share(wave);
        let swing_k = through_the_year(&air.temperature_swing_k, position);
        let slow_c = through_the_year(&air.temperature_c, position)
            + through_the_year(&air.temperature_spread_k, position).max(0.0) * self.temperature.next()
            + self.shift.warming_k;
        let wet_share = self.wet_share[month];
        let dryness_k = air.dryness_k + air.dryness_spread_k * self.humidity.next();
        // Weibull quantile at Phi(z): scale (-ln(1 - Phi(z)))^(1/k), with the tail taken directly.
        let z = self.wind.next().clamp(-MOST_NORMAL, MOST_NORMAL);
        let unit = libm::pow(-libm::log(normal::tail(z)), 1.0 / air.wind_shape) / self.weibull_mean;
        let swing = 1.0 + through_the_year(&air.wind_swing, position) * wave;
        // Dry wind so that wet and dry hours together have the month's mean.
        let dry = air.wind_m_s[month] / (1.0 + (air.wind_in_rain - 1.0) * wet_share);
        Hour {
            temperature_c: slow_c + swing_k * wave + wet_share * cooling_k,
            cooling_k,
            dew_point_c: slow_c - swing_k - dryness_k,
            wind_m_s: dry * unit * swing.max(0.0) * self.shift.wind,
            gust_factor: wind::gust_factor(wind::peak_factor(self.gust.uniform_positive()), air.roughness_m),
            clearness: self.laws[month].at(self.cloud.next()),
        }
    }

    /// A stretch of the hour with one rain intensity; runs the cooling on to its end and reports its mean.
    fn step(&mut self, hour: &Hour, from: Instant, rain_mm_h: f64, length_h: f64) -> Conditions {
        let wet = rain_mm_h > 0.0;
        let aim = if wet { hour.cooling_k } else { 0.0 };
        let gone = -libm::expm1(-length_h / COOLING_TIME_H);
        let excess = self.cooling_k - aim;
        let mean = if length_h > 0.0 { aim + excess * gone * COOLING_TIME_H / length_h } else { self.cooling_k };
        self.cooling_k = aim + excess * (1.0 - gone);
        let temperature_c = hour.temperature_c - mean;
        let damp = if wet { temperature_c - RAIN_DEPRESSION_K } else { f64::NEG_INFINITY };
        let wind_m_s = hour.wind_m_s * if wet { self.air.wind_in_rain } else { 1.0 };
        Conditions {
            from,
            rain_mm_h,
            temperature_c,
            dew_point_c: hour.dew_point_c.max(damp).min(temperature_c),
            wind_m_s,
            gust_m_s: wind_m_s * hour.gust_factor,
            clearness: if wet { self.air.clearness_in_rain } else { hour.clearness },
        }
    }
}
