//! What a weather record is like: totals by month, spells, intensities, the day, the wind.
//!
//! Generated weather is first written down as a record of hourly rows, so that both kinds are summarised alike.

use std::path::Path;

use crate::math::time::{Instant, Span};
use crate::study::weather_fit::depths::{Depths, Runs};
use crate::world::clock::LocalClock;
use crate::world::weather::observed::ObservedRow;
use crate::world::weather::{ObservedRecord, SeasonWeather};

/// Sectors of the wind rose.
pub const SECTORS: usize = 16;

/// Upper ends of the rose's classes of wind speed, m/s; the last class is open.
pub const SPEEDS: [f64; 4] = [2.0, 4.0, 6.0, 8.0];

/// Return periods of the table of gusts, years.
pub const RETURN_YEARS: [f64; 4] = [2.0, 5.0, 10.0, 50.0];

/// Days of a month, so that twelve of them are a year.
const MONTH_DAYS: f64 = 365.25 / 12.0;

/// Hourly depths that the table of intensities asks for, mm.
pub const DEPTHS_MM: [f64; 6] = [0.1, 0.5, 1.0, 2.5, 5.0, 10.0];

/// The summary.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// Observed length, years.
    pub years: f64,
    /// Step, h.
    pub step_h: f64,
    /// Depth per month of 30.4 days, mm, by month, from all observed steps; none without 20 days of them.
    pub monthly_mm: [Option<f64>; 12],
    /// Driest and wettest single month with at least 27 observed days, mm in 30.4 days, by month.
    pub range_mm: [Option<(f64, f64)>; 12],
    /// Share of hours with at least 0.1 mm; none from steps longer than an hour, as everything else by the hour.
    pub wet_hours: Option<f64>,
    /// Runs of wet and dry hours; an hour is wet from 0.1 mm on.
    pub runs: Runs,
    /// Shares of all hours with at least [`DEPTHS_MM`].
    pub exceeded: Option<[f64; DEPTHS_MM.len()]>,
    /// Depths of all wet hours, mm, ascending.
    pub depths_mm: Vec<f64>,
    /// Means by hour of the day; none where nothing was observed.
    pub day: Day,
    /// Share of time by sector (north first, clockwise) and class of speed; none without directions.
    pub rose: Option<Vec<[f64; SPEEDS.len() + 1]>>,
    /// Mean wind, m/s.
    pub wind_m_s: Option<f64>,
    /// Gusts with the return periods [`RETURN_YEARS`], m/s; none with less than ten months of gusts.
    pub gusts_m_s: Option<[Level; RETURN_YEARS.len()]>,
    /// Largest gust of every month with gusts, m/s, ascending.
    pub monthly_gusts_m_s: Vec<f64>,
}

/// A return level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// The level, m/s.
    pub m_s: f64,
    /// Its interval of 95 %, m/s, if the law is right.
    pub interval_m_s: (f64, f64),
}

/// Means by hour of the day, in the record's offset.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Day {
    /// Temperature, degC.
    pub temperature_c: [Option<f64>; 24],
    /// Wind, m/s.
    pub wind_m_s: [Option<f64>; 24],
    /// Rain, mm.
    pub rain_mm: [Option<f64>; 24],
}

/// Generated seasons as a record of hourly rows: depths, means, the largest gust. Seasons follow one another in time.
pub fn written_down(seasons: &[(LocalClock, SeasonWeather)]) -> Option<ObservedRecord> {
    let mut rows: Vec<ObservedRow> = Vec::new();
    for (clock, weather) in seasons {
        let mut hours = vec![Hour::default(); (clock.season_length().0 / Span::HOUR.0) as usize];
        for (step, length) in weather.stretches(clock) {
            // A step of a coarse record may last longer than an hour.
            let (mut from, to) = (step.from, step.from + length);
            while from < to {
                let index = (from.0 / Span::HOUR.0) as usize;
                let until = to.min(Instant((index as i64 + 1) * Span::HOUR.0));
                let share = until.since(from).hours();
                if let Some(hour) = hours.get_mut(index) {
                    hour.rain_mm += step.rain_mm_h * share;
                    hour.temperature_c += step.temperature_c * share;
                    hour.dew_point_c += step.dew_point_c * share;
                    hour.wind_m_s += step.wind_m_s * share;
                    hour.gust_m_s = hour.gust_m_s.max(step.gust_m_s);
                }
                from = until;
            }
        }
        let start_us = clock.unix_micros(Instant::START);
        rows.extend(hours.iter().enumerate().map(|(index, hour)| ObservedRow {
            unix_us: start_us + index as i64 * Span::HOUR.0,
            rain_mm: Some(hour.rain_mm),
            temperature_c: Some(hour.temperature_c),
            wind_m_s: Some(hour.wind_m_s),
            gust_m_s: Some(hour.gust_m_s),
            ghi_w_m2: None,
            dew_point_c: Some(hour.dew_point_c),
            wind_from_deg: None,
        }));
    }
    let offset = seasons.first()?.0.offset(Instant::START)?;
    ObservedRecord::of_rows(Path::new("generated"), rows, Span::HOUR, offset)
}

#[derive(Clone, Copy, Default)]
struct Hour {
    rain_mm: f64,
    temperature_c: f64,
    dew_point_c: f64,
    wind_m_s: f64,
    gust_m_s: f64,
}

/// Summarises records so that they can be compared: all rain by the hour is read through the coarsest gauge of those with
/// a gauge, which comes second, mm. A bucket reports drizzle as dry hours, so that the same weather looks drier through it.
pub fn summaries(records: &[ObservedRecord]) -> (Vec<Summary>, Option<f64>) {
    let buckets: Vec<Option<f64>> = records.iter().map(|record| Depths::of_record(record).bucket_mm()).collect();
    let coarsest =
        buckets.iter().flatten().copied().fold(None, |most: Option<f64>, mm| Some(most.map_or(mm, |m| m.max(mm))));
    let through = |own: &Option<f64>| coarsest.filter(|mm| own.is_none_or(|own| own < SAME_GAUGE * mm));
    (records.iter().zip(&buckets).map(|(record, own)| summary(record, through(own))).collect(), coarsest)
}

/// A bucket above this share of another is the same: depths are rounded to a hundredth of a millimetre.
const SAME_GAUGE: f64 = 0.95;

/// Summarises a record, its rain by the hour read through a gauge of that bucket.
pub fn summary(record: &ObservedRecord, bucket_mm: Option<f64>) -> Summary {
    let depths = Depths::of_record(record);
    let read = bucket_mm.map_or_else(|| depths.clone(), |mm| depths.through(mm));
    // Generators know no gauge: less than a tenth of a millimetre is no rain.
    let hourly = read.at_least(0.1);
    // By all that was observed: days with a gap are no drier or wetter for it.
    let months = depths.months();
    let of_month = |month: usize| months.iter().filter(move |one| usize::from(one.0.1) == month);
    let monthly_mm = std::array::from_fn(|month| {
        let (depth, days) = of_month(month).fold((0.0, 0.0), |sum, one| (sum.0 + one.1, sum.1 + one.2));
        (days >= 20.0).then(|| depth / days * MONTH_DAYS)
    });
    let range_mm = std::array::from_fn(|month| {
        let whole = of_month(month).filter(|one| one.2 >= 27.0).map(|one| one.1 / one.2 * MONTH_DAYS);
        whole.fold(None, |range: Option<(f64, f64)>, mm| {
            Some(range.map_or((mm, mm), |(low, high)| (low.min(mm), high.max(mm))))
        })
    });
    let by_hour = record.step() <= Span::HOUR;
    let mut all = if by_hour { hourly.hours() } else { Vec::new() };
    let count = all.len().max(1) as f64;
    let exceeded = DEPTHS_MM.map(|least| all.iter().filter(|depth| **depth >= least - 1e-9).count() as f64 / count);
    all.retain(|depth| *depth > 0.0);
    all.sort_by(f64::total_cmp);
    let (gusts_m_s, monthly_gusts_m_s) = gusts(record);
    let winds: Vec<f64> = record.rows().iter().filter_map(|row| row.wind_m_s).collect();
    Summary {
        years: crate::study::weather_fit::years(&depths),
        step_h: record.step().hours(),
        monthly_mm,
        range_mm,
        wet_hours: by_hour.then(|| all.len() as f64 / count),
        runs: hourly.runs(&[true; 12]),
        exceeded: by_hour.then_some(exceeded),
        depths_mm: all,
        day: if by_hour { day(record) } else { Day::default() },
        rose: rose(record),
        wind_m_s: (!winds.is_empty()).then(|| winds.iter().sum::<f64>() / winds.len() as f64),
        gusts_m_s,
        monthly_gusts_m_s,
    }
}

/// Local date and hour of a row.
fn local(record: &ObservedRecord, row: &ObservedRow) -> Option<jiff::civil::DateTime> {
    jiff::Timestamp::from_microsecond(row.unix_us).ok().map(|time| record.offset().to_datetime(time))
}

fn day(record: &ObservedRecord) -> Day {
    let mut sums = [[(0.0, 0.0); 3]; 24];
    for row in record.rows() {
        let Some(civil) = local(record, row) else { continue };
        let values = [row.temperature_c, row.wind_m_s, row.rain_mm.map(|depth| depth / record.step().hours())];
        for (sum, value) in sums[civil.hour() as usize].iter_mut().zip(values) {
            if let Some(value) = value {
                *sum = (sum.0 + value, sum.1 + 1.0);
            }
        }
    }
    let mean = |which: usize| {
        std::array::from_fn(|hour| Some(sums[hour][which]).filter(|sum| sum.1 > 0.0).map(|sum| sum.0 / sum.1))
    };
    Day { temperature_c: mean(0), wind_m_s: mean(1), rain_mm: mean(2) }
}

fn rose(record: &ObservedRecord) -> Option<Vec<[f64; SPEEDS.len() + 1]>> {
    let mut counts = vec![[0.0; SPEEDS.len() + 1]; SECTORS];
    let mut total = 0.0;
    for row in record.rows() {
        let (Some(wind_m_s), Some(from_deg)) = (row.wind_m_s, row.wind_from_deg) else { continue };
        total += 1.0;
        // Calm has no direction.
        if wind_m_s < 0.5 {
            continue;
        }
        let sector = (libm::floor(from_deg / 360.0 * SECTORS as f64 + 0.5) as usize) % SECTORS;
        counts[sector][SPEEDS.partition_point(|speed| *speed <= wind_m_s)] += 1.0;
    }
    if total < 100.0 {
        return None;
    }
    counts.iter_mut().flatten().for_each(|count| *count /= total);
    Some(counts)
}

/// Return levels by a Gumbel law through mean and standard deviation of the monthly largest gusts (Gumbel 1958,
/// *Statistics of Extremes*; from memory): a level with return period T years is not exceeded in a month with
/// probability (1 - 1/T)^(1/12). Months differ through the year, which makes the levels of long periods rough.
///
/// A level is mean + K s with K of the law; by the delta method with the law's skewness 1.1396 and kurtosis 5.4 its
/// variance is s^2 (1 + 1.1396 K + 1.1 K^2) / n (derived here).
fn gusts(record: &ObservedRecord) -> (Option<[Level; RETURN_YEARS.len()]>, Vec<f64>) {
    const EULER: f64 = 0.577_215_664_901_532_9;
    let mut months: Vec<((i16, i8), f64)> = Vec::new();
    for row in record.rows() {
        let (Some(gust), Some(civil)) = (row.gust_m_s, local(record, row)) else { continue };
        let month = (civil.year(), civil.month());
        match months.last_mut() {
            Some(last) if last.0 == month => last.1 = last.1.max(gust),
            _ => months.push((month, gust)),
        }
    }
    let mut largest: Vec<f64> = months.into_iter().map(|month| month.1).collect();
    largest.sort_by(f64::total_cmp);
    if largest.len() < 10 {
        return (None, largest);
    }
    let n = largest.len() as f64;
    let mean = largest.iter().sum::<f64>() / n;
    let variance = largest.iter().map(|gust| (gust - mean) * (gust - mean)).sum::<f64>() / (n - 1.0);
    let spread = libm::sqrt(variance);
    let level = |years: f64| {
        let monthly = libm::log1p(-1.0 / years) / 12.0;
        let factor = -libm::sqrt(6.0) / std::f64::consts::PI * (EULER + libm::log(-monthly));
        let m_s = mean + factor * spread;
        let half = 1.96 * spread * libm::sqrt((1.0 + 1.1396 * factor + 1.1 * factor * factor) / n);
        Level { m_s, interval_m_s: (m_s - half, m_s + half) }
    };
    (Some(RETURN_YEARS.map(level)), largest)
}

/// Mean of a list; none if it is empty.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// The smallest value that at least `share` of the list do not exceed; none if it is empty.
pub fn quantile(values: &[f64], share: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let index = libm::ceil(share * sorted.len() as f64) as usize;
    sorted.get(index.saturating_sub(1)).copied()
}
