//! What makes a readable record doubtful: units that cannot be, a dead gauge, times that name another moment of the
//! step. Each doubt is one sentence that names it.

use jiff::Timestamp;
use jiff::civil::Weekday;

use super::observed::{ObservedRecord, ObservedRow, time_label};
use crate::math::time::{MICROS_PER_SECOND, Span};
use crate::scenario::season::Site;
use crate::world::sun;

/// A longer run without any rain is more likely a dead gauge than a drought, days.
const DEAD_GAUGE_DAYS: i64 = 60;

/// Rain in a year that is not believed, mm: four times that of a wet temperate place.
const MOST_YEARLY_MM: f64 = 4_000.0;

/// Mean depth of a wet hour that is not believed, mm: drizzle brings a tenth.
const LEAST_WET_MM_H: f64 = 0.01;

/// Hours from solar noon to the warmest moment of the mean day that are believed: two to four inland, about noon by the sea
/// (common practice).
const WARMEST_H: (f64, f64) = (-1.0, 6.5);

/// A mean day whose wave is less than this tells no hour, K.
const LEAST_WAVE_K: f64 = 1.0;

/// Days from which on there is a mean day.
const MEAN_DAYS: i64 = 20;

/// Mean wind at a place where somebody mows a lawn that is not believed, m/s.
const MOST_MEAN_WIND_M_S: f64 = 10.0;

/// What a command that reads a file without a scenario wants instead of a key.
const OPTION: &str = "without a scenario: --";

/// Doubts that need nothing but the record.
pub(super) fn doubts(record: &ObservedRecord) -> Vec<String> {
    let checks = [absent_rows, dead_gauge, rain_unit, wind_unit, temperature_unit, gusts, weak_gusts, middle_labels];
    checks.iter().filter_map(|check| check(record)).collect()
}

fn values(record: &ObservedRecord, value: fn(&ObservedRow) -> Option<f64>) -> Vec<f64> {
    record.rows.iter().filter_map(value).collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn absent_rows(record: &ObservedRecord) -> Option<String> {
    let pair = record.rows.windows(2).find(|pair| pair[1].unix_us - pair[0].unix_us > record.step.0)?;
    let absent = record.gap_report()[0];
    let after = time_label(pair[0].unix_us, record.offset);
    let jump = record.rows.windows(2).find(|pair| clocks_forward(record, pair[0].unix_us, pair[1].unix_us));
    let spring = jump.map_or(String::new(), |pair| {
        format!(
            "; the hour after {} looks like the beginning of daylight saving: times must keep one offset from UTC all year",
            time_label(pair[0].unix_us, record.offset)
        )
    });
    Some(format!("{} rows ({:.1} h) are absent, the first after {after}{spring}", absent.count, absent.hours))
}

/// Whether just the hour is absent that clocks leave out when they are put forward: in the small hours of a Sunday of March or
/// April, of September or October in the south.
fn clocks_forward(record: &ObservedRecord, last_us: i64, next_us: i64) -> bool {
    let civil = |us: i64| Timestamp::from_microsecond(us).ok().map(|time| record.offset.to_datetime(time));
    let hour = next_us - last_us - record.step.0 == Span::HOUR.0;
    hour && civil(next_us).is_some_and(|next| {
        next.weekday() == Weekday::Sunday && (1..=4).contains(&next.hour()) && [3, 4, 9, 10].contains(&next.month())
    })
}

/// The longest run of rows, whole or not, without rain.
fn dead_gauge(record: &ObservedRecord) -> Option<String> {
    let mut longest = (0, 0);
    let mut start = None;
    for row in &record.rows {
        match row.rain_mm {
            Some(depth) if depth > 0.0 => start = None,
            _ => {
                let from = *start.get_or_insert(row.unix_us);
                longest = longest.max((row.unix_us + record.step.0 - from, from));
            }
        }
    }
    let days = longest.0 / Span::DAY.0;
    let from = time_label(longest.1, record.offset);
    (days >= DEAD_GAUGE_DAYS).then(|| format!("no rain for {days} days from {from}: was the rain gauge working?"))
}

fn rain_unit(record: &ObservedRecord) -> Option<String> {
    let rain = values(record, |row| row.rain_mm);
    let wet: Vec<f64> = rain.iter().copied().filter(|depth| *depth > 0.0).collect();
    if wet.len() < 20 {
        return None;
    }
    let yearly = rain.iter().sum::<f64>() / (rain.len() as f64 * record.step.hours()) * 8_766.0;
    // A tipping bucket of 0.01 in, written in tenths of a millimetre and rounded: 3, 5, 8, 10, 13 ...
    let tenths = |depth: &&f64| (1..=800).any(|k| (2.54 * f64::from(k) - **depth).abs() <= 0.5 && depth.fract() == 0.0);
    let on_lattice = wet.iter().filter(tenths).count() as f64 / wet.len() as f64;
    if yearly > MOST_YEARLY_MM && on_lattice > 0.9 {
        return Some(format!(
            "rain of {yearly:.0} mm a year on a lattice of 2.54: the unit is tenths of a millimetre whatever the header says; \
             set `rain_unit = \"0.1 mm\"` ({OPTION}rain-unit \"0.1 mm\")"
        ));
    }
    if yearly > MOST_YEARLY_MM {
        return Some(format!(
            "rain of {yearly:.0} mm a year: is it in tenths of a millimetre (`rain_unit = \"0.1 mm\"`), or a total \
             that adds up from row to row?"
        ));
    }
    let hundredths = wet.iter().filter(|depth| (**depth * 100.0 - libm::round(**depth * 100.0)).abs() < 1e-6).count();
    let smallest = wet.iter().copied().fold(f64::INFINITY, f64::min);
    let inches = (0.005..=0.015).contains(&smallest) && hundredths as f64 > 0.9 * wet.len() as f64;
    if inches && yearly < 150.0 {
        return Some(format!(
            "rain of {yearly:.1} mm a year in steps of 0.01: is it in inches? Then set `rain_unit = \"in\"` ({OPTION}rain-unit in)"
        ));
    }
    let wet_mm_h = mean(&wet) / record.step.hours();
    (wet_mm_h < LEAST_WET_MM_H).then(|| {
        format!(
            "rain of {yearly:.2} mm a year, {wet_mm_h:.4} mm in a wet hour: is it in metres? Then set `rain_unit = \"m\"` \
             ({OPTION}rain-unit m)"
        )
    })
}

fn wind_unit(record: &ObservedRecord) -> Option<String> {
    let wind = values(record, |row| row.wind_m_s);
    let average = mean(&wind);
    let whole = wind.iter().filter(|speed| speed.fract() == 0.0).count() as f64 / wind.len().max(1) as f64;
    let whole = wind.len() >= 100 && whole > 0.95;
    if average > MOST_MEAN_WIND_M_S || (whole && average > 5.5) {
        let text = if whole { " in whole numbers" } else { "" };
        return Some(format!(
            "a mean wind of {average:.1} m/s{text}: is it in knots, mph or km/h? Then set `wind_unit = \"knots\"` and so on ({OPTION}wind-unit)"
        ));
    }
    None
}

fn temperature_unit(record: &ObservedRecord) -> Option<String> {
    let average = mean(&values(record, |row| row.temperature_c));
    (average > 35.0).then(|| format!("a mean temperature of {average:.1} degC: is it in degrees Fahrenheit? Then set `temperature_unit = \"degF\"` \
             ({OPTION}temperature-unit degF)"))
}

/// Empty gusts beside winds: reported only when gusty, or missing?
fn gusts(record: &ObservedRecord) -> Option<String> {
    let winds = record.rows.iter().filter(|row| row.wind_m_s.is_some()).count();
    let without = record.rows.iter().filter(|row| row.wind_m_s.is_some() && row.gust_m_s.is_none()).count();
    let share = without as f64 / winds.max(1) as f64;
    (share > 0.05 && without < winds).then(|| {
        format!(
            "{:.0} % of the winds have no gust: taken as \"no gust was reported\", not as missing; gusts follow from the wind there",
            100.0 * share
        )
    })
}

/// No gust is below its mean wind: more than one in twenty that is tells of two units, or of exchanged columns.
fn weak_gusts(record: &ObservedRecord) -> Option<String> {
    let pairs: Vec<(f64, f64)> = record.rows.iter().filter_map(|row| row.wind_m_s.zip(row.gust_m_s)).collect();
    let weak = pairs.iter().filter(|(wind, gust)| gust < wind).count() as f64 / pairs.len().max(1) as f64;
    (weak > 0.05).then(|| {
        format!(
            "{:.0} % of the gusts are below the mean wind of their step: are the columns in different units, or exchanged?",
            100.0 * weak
        )
    })
}

/// Times half a step off the step's own grid.
fn middle_labels(record: &ObservedRecord) -> Option<String> {
    let local_us = record.rows[0].unix_us + i64::from(record.offset.seconds()) * MICROS_PER_SECOND;
    (local_us.rem_euclid(record.step.0) == record.step.0 / 2 && record.step > Span::MINUTE).then(|| {
        "times lie in the middle of the clock's steps: if they name the middle of a step, set `time_label = \"middle\"`".to_owned()
    })
}

impl ObservedRecord {
    /// Whether the daily courses of sunlight and temperature fit times that name the start of a step, at this site: the centre
    /// of gravity of the irradiance lies at solar noon within a fifth of a step or a quarter of an hour, or, where there is
    /// none, the warmest moment of the mean day in the hours after it. `None` if they do, or if there is nothing to tell by.
    pub fn label_doubt(&self, site: &Site) -> Option<String> {
        // Hours from solar noon to the middle of a row's step, by the sun's own hour angle.
        let after_noon_h = |row: &ObservedRow| {
            let middle = (row.unix_us + self.step.0 / 2) as f64 / MICROS_PER_SECOND as f64;
            sun::hour_angle_deg(middle, site.longitude_deg, sun::equation_of_time_min(middle)) / 15.0
        };
        let (mut weight, mut moment) = (0.0, 0.0);
        for row in &self.rows {
            let Some(ghi_w_m2) = row.ghi_w_m2.filter(|ghi| *ghi > 0.0) else { continue };
            weight += ghi_w_m2;
            moment += ghi_w_m2 * after_noon_h(row);
        }
        if weight <= 0.0 {
            return self.warmest_doubt(after_noon_h);
        }
        let late_h = moment / weight;
        let step_h = self.step.hours();
        let allowed = (0.2 * step_h).max(0.25);
        (late_h.abs() > allowed).then(|| {
            let hint = if (late_h - 0.5 * step_h).abs() < 0.25 * step_h {
                "times seem to name the middle of a step (`time_label = \"middle\"`)"
            } else if (late_h - step_h).abs() < 0.25 * step_h {
                "times seem to name the end of a step (`time_label = \"end\"`)"
            } else {
                "is the offset from UTC right, or is it local time with daylight saving?"
            };
            format!("sunlight is centred {late_h:.2} h after solar noon: {hint}")
        })
    }

    /// The mean day's first harmonic peaks at an hour that is not believed.
    fn warmest_doubt(&self, after_noon_h: impl Fn(&ObservedRow) -> f64) -> Option<String> {
        let length_us = self.rows.last()?.unix_us - self.rows.first()?.unix_us;
        if length_us < MEAN_DAYS * Span::DAY.0 || self.step.0 > 6 * Span::HOUR.0 {
            return None;
        }
        let mut hours = [(0.0, 0.0); 24];
        for row in &self.rows {
            let Some(temperature_c) = row.temperature_c else { continue };
            let hour = &mut hours[after_noon_h(row).rem_euclid(24.0) as usize % 24];
            *hour = (hour.0 + temperature_c, hour.1 + 1.0);
        }
        // Coarse steps leave hours of the day empty.
        let (mut real, mut imaginary, mut count) = (0.0, 0.0, 0.0);
        let seen = || hours.iter().enumerate().filter(|(_, hour)| hour.1 > 0.0).map(|(at, hour)| (at, hour.0 / hour.1));
        let overall = seen().map(|(_, mean)| mean).sum::<f64>() / seen().count().max(1) as f64;
        for (at, mean) in seen() {
            let angle = std::f64::consts::TAU * (at as f64 + 0.5) / 24.0;
            real += (mean - overall) * libm::cos(angle);
            imaginary += (mean - overall) * libm::sin(angle);
            count += 1.0;
        }
        let wave_k = 2.0 * libm::sqrt(real * real + imaginary * imaginary) / count;
        let warmest_h = libm::atan2(imaginary, real) / std::f64::consts::TAU * 24.0;
        (wave_k >= LEAST_WAVE_K && !(WARMEST_H.0..=WARMEST_H.1).contains(&warmest_h)).then(|| {
            format!(
                "the mean day is warmest {warmest_h:+.1} h from the site's solar noon: is the offset from UTC right (local times \
                 written as UTC, or the other way round), and the record from near the site?"
            )
        })
    }
}
