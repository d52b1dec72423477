//! Temperature, dew point, wind and sky of the generator from a record's hourly values.

use super::filled;
use crate::math::time::{MICROS_PER_SECOND, Span};
use crate::scenario::season::Site;
use crate::scenario::weather::Air;
use crate::world::sun;
use crate::world::weather::ObservedRecord;
use crate::world::weather::observed::ObservedRow;
use crate::world::weather::wind::{PEAK_FACTOR, REFERENCE_M};

/// What holds where a record says nothing.
const USUAL: Air = Air {
    temperature_c: [10.0; 12],
    temperature_swing_k: [4.0; 12],
    temperature_spread_k: [3.5; 12],
    temperature_memory_h: 40.0,
    rain_cooling_k: 4.5,
    dryness_k: 1.0,
    dryness_spread_k: 2.0,
    wind_m_s: [3.0; 12],
    wind_shape: 2.0,
    wind_memory_h: 9.5,
    wind_swing: [0.25; 12],
    wind_in_rain: 1.2,
    roughness_m: 0.1,
    clearness: [0.65; 12],
    clearness_spread: 0.25,
    clearness_in_rain: 0.25,
};

/// The warmest hour of the generator's daily wave.
const WARMEST_HOUR: f64 = 15.0;

/// A row with its place in the calendar.
struct Hour<'a> {
    row: &'a ObservedRow,
    day: i64,
    month: usize,
    /// cos of the daily wave, 1 at the warmest hour.
    wave: f64,
    /// Hour of the day.
    hour: f64,
}

/// Sums of a value and of its product with the daily wave.
#[derive(Clone, Copy, Default)]
struct Wave {
    count: f64,
    sum: f64,
    wave: f64,
}

impl Wave {
    fn add(&mut self, value: f64, wave: f64) {
        self.count += 1.0;
        self.sum += value;
        self.wave += value * wave;
    }

    /// Mean and amplitude of the daily wave (projection: the wave has mean 0 and mean square 1/2 over whole days);
    /// none from less than ten days of hours.
    fn solve(&self) -> Option<(f64, f64)> {
        (self.count >= 240.0).then(|| (self.sum / self.count, 2.0 * self.wave / self.count))
    }
}

/// Fits everything that the record holds; what it does not is the usual, and noted.
pub(super) fn fit(record: &ObservedRecord, site: Option<&Site>, notes: &mut Vec<String>) -> Air {
    let hours = hours(record);
    let mut air = USUAL;
    temperature(&hours, &mut air, notes);
    wind(record, &hours, &mut air, notes);
    dew_point(&hours, &mut air, notes);
    sky(record, site, &mut air, notes);
    for values in [&mut air.temperature_c, &mut air.temperature_swing_k, &mut air.wind_m_s, &mut air.clearness] {
        values.iter_mut().for_each(|value| *value = rounded(*value, 0.01));
    }
    air.wind_swing.iter_mut().for_each(|value| *value = rounded(*value, 0.01));
    air
}

/// A figure with no more digits than it deserves.
fn rounded(value: f64, unit: f64) -> f64 {
    let steps = libm::round(1.0 / unit);
    libm::round(value * steps) / steps
}

fn hours(record: &ObservedRecord) -> Vec<Hour<'_>> {
    let offset = record.offset();
    let every = (Span::HOUR.0 / record.step().0).max(1) as usize;
    let hour_of = |row: &'_ ObservedRow| {
        let local_us = row.unix_us + i64::from(offset.seconds()) * MICROS_PER_SECOND;
        (local_us.div_euclid(Span::DAY.0), local_us.rem_euclid(Span::DAY.0) as f64 / Span::HOUR.0 as f64)
    };
    let rows = record.rows().iter().enumerate().filter(|(index, _)| index % every == 0).map(|(_, row)| row);
    rows.filter_map(|row| {
        let (day, hour) = hour_of(row);
        let date = jiff::Timestamp::from_microsecond(row.unix_us).ok().map(|time| offset.to_datetime(time).date())?;
        let wave = libm::cos(2.0 * std::f64::consts::PI * (hour + 0.5 - WARMEST_HOUR) / 24.0);
        Some(Hour { row, day, month: (date.month() - 1) as usize, wave, hour })
    })
    .collect()
}

/// Monthly means and amplitudes; months without data from their neighbours.
fn monthly(hours: &[Hour<'_>], value: impl Fn(&ObservedRow) -> Option<f64>) -> Option<([f64; 12], [f64; 12], bool)> {
    let mut sums = [Wave::default(); 12];
    for hour in hours {
        if let Some(value) = value(hour.row) {
            sums[hour.month].add(value, hour.wave);
        }
    }
    let solved = sums.map(|sum| sum.solve());
    let gaps = solved.iter().any(Option::is_none);
    let all = filled(&solved)?;
    Some((all.map(|pair| pair.0), all.map(|pair| pair.1), gaps))
}

/// Correlation of a series of hours with itself `lag` hours later, mean 0; none without pairs.
fn correlation(series: &[(i64, f64)], lag: i64) -> Option<f64> {
    let variance = series.iter().map(|x| x.1 * x.1).sum::<f64>() / series.len().max(1) as f64;
    let mut later = 0;
    let (mut sum, mut pairs) = (0.0, 0.0);
    for (at, value) in series {
        while later < series.len() && series[later].0 < at + lag {
            later += 1;
        }
        if let Some((_, other)) = series.get(later).filter(|other| other.0 == at + lag) {
            sum += value * other;
            pairs += 1.0;
        }
    }
    (pairs > 100.0 && variance > 0.0).then(|| sum / pairs / variance)
}

/// Memory of an exponentially forgetting process from its correlations at these lags: the mean of -lag / ln r.
fn memory_h(series: &[(i64, f64)], lags: &[i64]) -> Option<f64> {
    let found: Vec<f64> = lags
        .iter()
        .filter_map(|lag| {
            correlation(series, *lag).filter(|r| (0.02..0.999).contains(r)).map(|r| -*lag as f64 / libm::log(r))
        })
        .collect();
    (!found.is_empty()).then(|| found.iter().sum::<f64>() / found.len() as f64)
}

/// Monthly standard deviations from sums of squares and their counts: the first harmonic of the variances through the year,
/// because a month of one year holds but a handful of independent days; one figure where a month has less than ten days.
fn spread(squares: &[(f64, f64); 12]) -> [f64; 12] {
    let (sum, count) = squares.iter().fold((0.0, 0.0), |(sum, count), month| (sum + month.0, count + month.1));
    let overall = sum / f64::max(count, 1.0);
    if squares.iter().any(|month| month.1 < 240.0) {
        return [libm::sqrt(overall); 12];
    }
    let variances = squares.map(|month| month.0 / month.1);
    let angle = |month: usize| 2.0 * std::f64::consts::PI * (month as f64 + 0.5) / 12.0;
    let mean = variances.iter().sum::<f64>() / 12.0;
    let along = |of: fn(f64) -> f64| (0..12).map(|month| variances[month] * of(angle(month))).sum::<f64>() / 6.0;
    let (real, imaginary) = (along(libm::cos), along(libm::sin));
    // No month has less than a quarter of the mean variance, however uneven the others are.
    let smooth = |month: usize| mean + real * libm::cos(angle(month)) + imaginary * libm::sin(angle(month));
    std::array::from_fn(|month| libm::sqrt(smooth(month).max(0.25 * mean)))
}

fn temperature(hours: &[Hour<'_>], air: &mut Air, notes: &mut Vec<String>) {
    let Some((mean, swing, gaps)) = monthly(hours, |row| row.temperature_c) else {
        notes.push("temperature: less than ten days in every month; the usual figures stand".to_owned());
        return;
    };
    if gaps {
        notes.push("temperature: months without data have the figures of the nearest month that has".to_owned());
    }
    (air.temperature_c, air.temperature_swing_k) = (mean, swing.map(|k| k.max(0.0)));
    // What is left after the month's mean and wave; the steps at month ends are part of its spread.
    let mut squares = [(0.0, 0.0); 12];
    let rest: Vec<(i64, f64)> = hours
        .iter()
        .filter_map(|hour| {
            let rest = hour.row.temperature_c? - mean[hour.month] - swing[hour.month] * hour.wave;
            squares[hour.month].0 += rest * rest;
            squares[hour.month].1 += 1.0;
            Some((hour.day * 24 + hour.hour as i64, rest))
        })
        .collect();
    air.temperature_spread_k = spread(&squares).map(|k| rounded(k, 0.01));
    if let Some(memory) = memory_h(&rest, &[6, 12, 24]) {
        air.temperature_memory_h = rounded(memory, 0.1);
    }
    let mut afternoons = [(0.0, 0.0); 2];
    for (hour, (_, rest)) in hours.iter().filter(|hour| hour.row.temperature_c.is_some()).zip(&rest) {
        if let (13.0..17.0, Some(rain_mm)) = (hour.hour, hour.row.rain_mm) {
            let side = &mut afternoons[usize::from(rain_mm > 0.0)];
            *side = (side.0 + 1.0, side.1 + rest);
        }
    }
    let [dry, wet] = afternoons;
    if dry.0 > 20.0 && wet.0 > 20.0 {
        air.rain_cooling_k = rounded((dry.1 / dry.0 - wet.1 / wet.0).clamp(0.0, 15.0), 0.1);
    }
}

fn wind(record: &ObservedRecord, hours: &[Hour<'_>], air: &mut Air, notes: &mut Vec<String>) {
    let Some((mean, swing, gaps)) = monthly(hours, |row| row.wind_m_s) else {
        notes.push("wind: less than ten days in every month; the usual figures stand".to_owned());
        return;
    };
    if gaps {
        notes.push("wind: months without data have the figures of the nearest month that has".to_owned());
    }
    air.wind_m_s = mean;
    air.wind_swing = std::array::from_fn(|m| (swing[m] / mean[m].max(0.1)).clamp(0.0, 0.9));
    let relative: Vec<(i64, f64)> = hours
        .iter()
        .filter_map(|hour| {
            let expected = mean[hour.month] * (1.0 + air.wind_swing[hour.month] * hour.wave);
            hour.row.wind_m_s.map(|wind| (hour.day * 24 + hour.hour as i64, wind / expected.max(0.1) - 1.0))
        })
        .collect();
    let variation = libm::sqrt(relative.iter().map(|x| x.1 * x.1).sum::<f64>() / relative.len().max(1) as f64);
    // Weibull shape from the coefficient of variation: k = cv^-1.086 (Justus et al. 1978, J. Appl. Meteorol. 17,
    // 350-353; from memory).
    air.wind_shape = rounded(libm::pow(variation.clamp(0.1, 2.0), -1.086), 0.01);
    if let Some(memory) = memory_h(&relative, &[3, 6, 12]) {
        air.wind_memory_h = rounded(memory, 0.1);
    }
    let mut sides = [(0.0, 0.0); 2];
    for (hour, (_, rest)) in hours.iter().filter(|hour| hour.row.wind_m_s.is_some()).zip(&relative) {
        if let Some(rain_mm) = hour.row.rain_mm {
            let side = &mut sides[usize::from(rain_mm > 0.0)];
            *side = (side.0 + 1.0, side.1 + rest + 1.0);
        }
    }
    let [dry, wet] = sides;
    if dry.0 > 100.0 && wet.0 > 50.0 && dry.1 > 0.0 {
        air.wind_in_rain = rounded((wet.1 / wet.0 / (dry.1 / dry.0)).clamp(0.5, 3.0), 0.01);
    }
    let rows = record.rows().iter();
    let pairs: Vec<(f64, f64)> = rows.filter_map(|row| row.wind_m_s.zip(row.gust_m_s)).collect();
    let winds = record.rows().iter().filter(|row| row.wind_m_s.is_some()).count();
    // Gusts that are written only when it is gusty would make every wind gusty.
    let mut ratios: Vec<f64> = pairs.iter().filter(|(wind, _)| *wind > 3.0).map(|(wind, gust)| gust / wind).collect();
    if pairs.len() as f64 > 0.8 * winds as f64 && ratios.len() > 100 {
        ratios.sort_by(f64::total_cmp);
        let median = ratios[ratios.len() / 2];
        // Median gust factor = 1 + peak factor / ln(z / z0).
        let roughness = REFERENCE_M * libm::exp(-PEAK_FACTOR / (median - 1.0).max(0.05));
        air.roughness_m = rounded(roughness.clamp(0.0005, 2.0), 0.0001);
    } else {
        notes.push("gusts: reported for too few hours; the usual roughness stands".to_owned());
    }
}

fn dew_point(hours: &[Hour<'_>], air: &mut Air, notes: &mut Vec<String>) {
    let mut days: Vec<(i64, f64, f64, f64)> = Vec::new();
    for hour in hours {
        let (Some(temperature_c), Some(dew_point_c)) = (hour.row.temperature_c, hour.row.dew_point_c) else { continue };
        match days.last_mut() {
            Some(last) if last.0 == hour.day => {
                last.1 = last.1.min(temperature_c);
                last.2 += dew_point_c;
                last.3 += 1.0;
            }
            _ => days.push((hour.day, temperature_c, dew_point_c, 1.0)),
        }
    }
    let dryness: Vec<f64> = days.iter().filter(|day| day.3 >= 20.0).map(|day| day.1 - day.2 / day.3).collect();
    if dryness.len() < 10 {
        notes.push("dew point: not observed; the usual dryness of the air stands".to_owned());
        return;
    }
    let n = dryness.len() as f64;
    let mean = dryness.iter().sum::<f64>() / n;
    let sd = libm::sqrt(dryness.iter().map(|k| (k - mean) * (k - mean)).sum::<f64>() / n);
    air.dryness_k = rounded(mean.clamp(-5.0, 30.0), 0.1);
    air.dryness_spread_k = rounded(sd.min(15.0), 0.1);
}

/// Clearness where the sun is above this, degrees: below, ratios of irradiances are mostly error.
const HIGH_SUN_DEG: f64 = 15.0;

fn sky(record: &ObservedRecord, site: Option<&Site>, air: &mut Air, notes: &mut Vec<String>) {
    let observed = record.rows().iter().any(|row| row.ghi_w_m2.is_some());
    let Some(site) = site.filter(|_| observed) else {
        let why = if observed { "the site is not known (give --latitude and --longitude)" } else { "not observed" };
        notes.push(format!("sunlight: {why}; the usual clearness stands"));
        return;
    };
    let mut sums = [[(0.0, 0.0, 0.0); 2]; 12];
    for row in record.rows() {
        let (Some(ghi_w_m2), Some(rain_mm)) = (row.ghi_w_m2, row.rain_mm) else { continue };
        let middle = (row.unix_us + record.step().0 / 2) as f64 / MICROS_PER_SECOND as f64;
        let elevation = sun::position(middle, site.latitude_deg, site.longitude_deg).elevation_deg;
        if elevation < HIGH_SUN_DEG {
            continue;
        }
        let clearness = (ghi_w_m2 / sun::clear_sky_w_m2(elevation)).clamp(0.0, 1.2);
        let month = jiff::Timestamp::from_microsecond(row.unix_us)
            .map_or(0, |time| record.offset().to_datetime(time).month() as usize - 1);
        let side = &mut sums[month][usize::from(rain_mm > 0.0)];
        *side = (side.0 + 1.0, side.1 + clearness, side.2 + clearness * clearness);
    }
    let dry = sums.map(|sides| (sides[0].0 >= 40.0).then(|| sides[0].1 / sides[0].0));
    let Some(clearness) = filled(&dry) else {
        notes.push("sunlight: too few hours with a high sun; the usual clearness stands".to_owned());
        return;
    };
    air.clearness = clearness;
    let total =
        |side: usize| sums.iter().fold((0.0, 0.0, 0.0), |t, s| (t.0 + s[side].0, t.1 + s[side].1, t.2 + s[side].2));
    // Spread within the months: mean square minus the months' own means.
    let explained: f64 = sums.iter().map(|s| if s[0].0 > 0.0 { s[0].1 * s[0].1 / s[0].0 } else { 0.0 }).sum();
    let all = total(0);
    air.clearness_spread = rounded(libm::sqrt(((all.2 - explained) / all.0).max(0.0)).min(0.5), 0.01);
    let wet = total(1);
    if wet.0 >= 20.0 {
        air.clearness_in_rain = rounded(wet.1 / wet.0, 0.01);
    }
}
