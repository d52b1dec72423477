//! Laying an observed record over a season.
//!
//! **Which step of the record.** Within the record's span a season is played at its own time. Outside it the calendar
//! decides: the step with the same month, day and time of day in the record's fixed offset. The season's first year is
//! matched to the earliest record year that covers its first moment, later years to the years after it; where the
//! record does not reach that far, to the earliest year that covers the step. 29 February is played from 28 February
//! if the record's year has none.
//!
//! **Which year.** A scenario may have the year drawn instead: one for the whole season, or one for each month of it,
//! among the years that cover it; the calendar decides as above within them. Streams: `weather year` 0, or the
//! number of the season's month.
//!
//! **What a step says.** The depth of a step longer than ten minutes falls in a spell within it, or evenly: see
//! [`within`](super::within). Then the scenario's changes apply: factors on rain and wind, warming, and more or fewer
//! rain spells (see [`spells`](super::spells)).
//!
//! **Missing values.** Rain, temperature and wind follow the scenario's `gaps`. A gust that was not reported is
//! [`GUST_FACTOR`] times the mean wind. Clearness is measured over clear-sky irradiance where the record has
//! irradiance and the sun is above [`LOW_SUN_DEG`] (in between the last value is carried on); without irradiance it
//! is [`CLEARNESS_IN_RAIN`] in rain and [`CLEARNESS_DRY`] otherwise. A dew point that was not observed is the coldest
//! temperature of the day minus [`DRYNESS_K`], in rain at most [`RAIN_DEPRESSION_K`] below the temperature.

use jiff::Timestamp;
use jiff::civil::DateTime;

use super::CLEARNESS_IN_RAIN;
use super::air::{DRYNESS_K, RAIN_DEPRESSION_K};
use super::conditions::{Conditions, SeasonWeather};
use super::file_error::{Gap, WeatherFileError};
use super::observed::{ObservedRecord, ObservedRow, local_day, time_label};
use super::spells;
use super::within::{self, Rule};
use crate::math::random::Source;
use crate::math::time::{Instant, MICROS_PER_SECOND, Span};
use crate::scenario::season::Site;
use crate::scenario::weather::{Gaps, Observed, WithinHour, Years};
use crate::world::clock::LocalClock;
use crate::world::sun;

/// Gust (3 s) over mean wind where no gust was reported. Common practice in the open; airport records that do report
/// gusts have medians of 1.4 to 1.6.
pub const GUST_FACTOR: f64 = 1.5;

/// Clearness in dry weather without irradiance data. Common practice; mean clear-sky indices of two records were
/// 0.65 and 0.70.
pub const CLEARNESS_DRY: f64 = 0.65;

/// Largest clearness; cloud edges can add a fifth to the clear sky.
const MOST_CLEARNESS: f64 = 1.2;

/// Sun elevation below which a ratio of irradiances is mostly error, degrees.
pub const LOW_SUN_DEG: f64 = 5.0;

/// Days that `repeat` looks back for the same hour.
const REPEAT_DAYS: i64 = 7;

/// Gaps listed in a refusal.
const GAPS_LISTED: usize = 5;

impl ObservedRecord {
    /// One season's weather from this record, as the scenario wants it played.
    ///
    /// # Errors
    /// [`WeatherFileError::Gaps`] for a gap that is refused, [`WeatherFileError::Coarse`] for long steps without a rain
    /// process.
    pub fn play(
        &self,
        observed: &Observed,
        clock: &LocalClock,
        site: &Site,
        seed: u64,
        season: u64,
    ) -> Result<SeasonWeather, WeatherFileError> {
        self.fine_enough(observed)?;
        let calendar = Matching::drawn(self, clock, observed.years, seed, season);
        let mut weather = self.lay(&calendar, clock, site, observed.gaps)?;
        let own;
        let rule = match (observed.within_hour, &observed.rain, &self.library) {
            (WithinHour::Even, ..) => Rule::Even,
            (_, None, _) => Rule::Block,
            (_, Some(_), Some(library)) => Rule::Library(library),
            (_, Some(rain), None) => {
                own = within::Library::new(rain, self.step, 0.0, observed.within_hour);
                Rule::Library(&own)
            }
        };
        weather.steps = within::spread(weather.steps, self.step, clock, &rule, seed, season);
        let shift = &observed.shift;
        for step in &mut weather.steps {
            step.rain_mm_h *= shift.rain;
            step.wind_m_s *= shift.wind;
            step.gust_m_s *= shift.wind;
            step.temperature_c += shift.warming_k;
            step.dew_point_c += shift.warming_k;
        }
        if shift.spells != 1.0 {
            weather.steps = spells::change(weather.steps, shift.spells, clock, seed, season);
        }
        Ok(weather)
    }

    /// The season's weather from this record, taken to have been observed at the site, with each depth spread evenly
    /// over its step.
    ///
    /// With [`Gaps::Refuse`] every step of the season needs rain, temperature and wind. With [`Gaps::Dry`] missing rain
    /// is no rain. With [`Gaps::Repeat`] each missing value is that of the same hour of the day before, up to seven
    /// days back, then as with `Dry`. Missing temperature and wind are then the last known value, or the record's first
    /// at the beginning.
    ///
    /// # Errors
    /// [`WeatherFileError::Gaps`] for a gap that is refused.
    pub fn season(&self, clock: &LocalClock, site: &Site, gaps: Gaps) -> Result<SeasonWeather, WeatherFileError> {
        self.lay(&Matching::new(self, clock), clock, site, gaps)
    }

    fn lay(
        &self,
        calendar: &Matching<'_>,
        clock: &LocalClock,
        site: &Site,
        gaps: Gaps,
    ) -> Result<SeasonWeather, WeatherFileError> {
        let mut filling = Filling::new(self, site, gaps);
        let mut steps = Vec::new();
        let (mut missing, mut first) = (0, Vec::new());
        // The record's grid, carried over to the season: the step divides a day, so that its phase is the same.
        let start_us = clock.unix_micros(Instant::START);
        let phase = (start_us - self.rows[0].unix_us).rem_euclid(self.step.0);
        let mut grid = Instant(-phase);
        while grid < clock.end() {
            let record_us = calendar.record_time(grid, clock.unix_micros(grid));
            let row = self.row_at(record_us);
            if let Some(gap) = self.gap(record_us, row) {
                missing += 1;
                if first.len() < GAPS_LISTED {
                    first.push(gap);
                }
            }
            steps.push(filling.conditions(grid.max(Instant::START), record_us, row));
            grid += self.step;
        }
        if gaps == Gaps::Refuse && missing > 0 {
            return Err(WeatherFileError::Gaps { path: self.path.clone(), first, missing });
        }
        Ok(SeasonWeather { steps })
    }

    /// A word of warning where years are to be drawn and the record has no choice of them.
    pub fn few_years(&self, clock: &LocalClock, years: Years) -> Option<String> {
        let matching = Matching::new(self, clock);
        let stretches = stretches(clock, years);
        let choices = stretches.iter().map(|(from, to)| matching.choices(clock, *from, *to).len());
        let fixed = choices.filter(|count| *count < 2).count();
        let of = match years {
            Years::Calendar => return None,
            Years::Whole => "years = \"whole\", but not two years of the record cover the season".to_owned(),
            Years::Months => format!(
                "years = \"months\", but not two years of the record cover {} of the season's {} months",
                fixed,
                stretches.len()
            ),
        };
        let same = if fixed == stretches.len() { "every season has" } else { "there every season has" };
        (fixed > 0).then(|| format!("{of}: {same} the same weather"))
    }

    fn row_at(&self, unix_us: i64) -> Option<&ObservedRow> {
        self.rows.binary_search_by_key(&unix_us, |row| row.unix_us).ok().map(|index| &self.rows[index])
    }

    fn gap(&self, record_us: i64, row: Option<&ObservedRow>) -> Option<Gap> {
        let missing = match row {
            None => "no row".to_owned(),
            Some(row) => {
                let columns =
                    [("rain_mm", row.rain_mm), ("temperature_c", row.temperature_c), ("wind_m_s", row.wind_m_s)];
                let empty = columns.iter().filter(|column| column.1.is_none()).map(|column| column.0);
                let empty: Vec<&str> = empty.collect();
                if empty.is_empty() {
                    return None;
                }
                format!("no {}", empty.join(", "))
            }
        };
        Some(Gap { time: time_label(record_us, self.offset), missing })
    }

    fn civil(&self, unix_us: i64) -> Option<DateTime> {
        Timestamp::from_microsecond(unix_us).ok().map(|time| self.offset.to_datetime(time))
    }
}

/// Stretches of the season for each of which a year of the record is drawn.
fn stretches(clock: &LocalClock, years: Years) -> Vec<(Instant, Instant)> {
    match years {
        Years::Calendar => Vec::new(),
        Years::Whole => vec![(Instant::START, clock.end())],
        Years::Months => clock.months().iter().map(|month| (month.from, month.to)).collect(),
    }
}

/// How times of the season are matched to times of the record.
struct Matching<'a> {
    record: &'a ObservedRecord,
    /// The record's first moment and the first after it.
    span_us: std::ops::Range<i64>,
    /// Record year minus season year.
    shift: i16,
    /// Years that the record touches.
    years: std::ops::RangeInclusive<i16>,
    /// Record year minus season year from each moment on, where years are drawn.
    drawn: Vec<(Instant, i16)>,
}

impl Matching<'_> {
    fn new<'a>(record: &'a ObservedRecord, clock: &LocalClock) -> Matching<'a> {
        let span_us = record.rows[0].unix_us..record.rows[record.rows.len() - 1].unix_us + record.step.0;
        let (from_us, to_us) = (clock.unix_micros(Instant::START), clock.unix_micros(clock.end()));
        let year = |us: i64| record.civil(us).map_or(0, |civil| civil.year());
        let years = year(span_us.start)..=year(span_us.end - 1);
        let overlap = span_us.start < to_us && from_us < span_us.end;
        let mut matching = Matching { record, span_us, shift: 0, years, drawn: Vec::new() };
        if !overlap {
            let covers = |year: &i16| matching.in_year(from_us, *year).is_some_and(|us| matching.span_us.contains(&us));
            let chosen = matching.years.clone().find(covers).unwrap_or(*matching.years.start());
            matching.shift = chosen - year(from_us);
        }
        matching
    }

    /// Matching with drawn years; as [`Matching::new`] for stretches that no year of the record covers.
    fn drawn<'a>(record: &'a ObservedRecord, clock: &LocalClock, years: Years, seed: u64, season: u64) -> Matching<'a> {
        let mut matching = Matching::new(record, clock);
        let source = Source::new(seed, season, "weather year");
        for (number, (from, to)) in stretches(clock, years).into_iter().enumerate() {
            let choices = matching.choices(clock, from, to);
            if !choices.is_empty() {
                let pick = source.stream(number as u64).uniform() * choices.len() as f64;
                matching.drawn.push((from, choices[(pick as usize).min(choices.len() - 1)]));
            }
        }
        matching
    }

    /// Years of the record, less that of the season, that cover a stretch of the season.
    fn choices(&self, clock: &LocalClock, from: Instant, to: Instant) -> Vec<i16> {
        let (record, step) = (self.record, self.record.step);
        let (first_us, last_us) = (clock.unix_micros(from), clock.unix_micros(to - step));
        let Some(own) = record.civil(first_us).map(|civil| civil.year()) else { return Vec::new() };
        let covers = |shift: &i16| {
            [first_us, last_us].into_iter().all(|us| {
                let year = record.civil(us).map_or(0, |civil| civil.year()).saturating_add(*shift);
                // The first step may begin before the record by its phase.
                let found = self.in_year(us, year);
                found.is_some_and(|us| self.span_us.contains(&us) || self.span_us.contains(&(us + step.0)))
            })
        };
        (*self.years.start() - own..=*self.years.end() - own).filter(covers).collect()
    }

    /// Time in the record of a step of the season that begins at `at`; where the record does not cover it, the time it
    /// should have.
    fn record_time(&self, at: Instant, unix_us: i64) -> i64 {
        let at = at.max(Instant::START);
        if let Some((_, shift)) = self.drawn.iter().rev().find(|(from, _)| *from <= at)
            && let Some(civil) = self.record.civil(unix_us)
            && let Some(us) = self.in_year(unix_us, civil.year().saturating_add(*shift))
        {
            return us;
        }
        if self.span_us.contains(&unix_us) {
            return unix_us;
        }
        let Some(civil) = self.record.civil(unix_us) else { return unix_us };
        let regular = civil.year().saturating_add(self.shift);
        let mut choices = std::iter::once(regular).chain(self.years.clone()).filter_map(|y| self.in_year(unix_us, y));
        let covered = choices.find(|us| self.span_us.contains(us));
        covered.or_else(|| self.in_year(unix_us, regular)).unwrap_or(unix_us)
    }

    /// The same month, day and time of day in another year, in the record's offset.
    fn in_year(&self, unix_us: i64, year: i16) -> Option<i64> {
        let civil = self.record.civil(unix_us)?;
        let moved = civil.with().year(year).build().or_else(|_| civil.with().year(year).day(28).build()).ok()?;
        let time = self.record.offset.to_timestamp(moved).ok()?;
        Some(time.as_microsecond())
    }
}

/// Fills missing values and remembers the last known ones.
struct Filling<'a> {
    record: &'a ObservedRecord,
    site: &'a Site,
    gaps: Gaps,
    temperature_c: f64,
    wind_m_s: f64,
    measured_clearness: Option<f64>,
}

impl Filling<'_> {
    fn new<'a>(record: &'a ObservedRecord, site: &'a Site, gaps: Gaps) -> Filling<'a> {
        let first = |value: fn(&ObservedRow) -> Option<f64>| record.rows.iter().find_map(value).unwrap_or(0.0);
        Filling {
            record,
            site,
            gaps,
            temperature_c: first(|row| row.temperature_c),
            wind_m_s: first(|row| row.wind_m_s),
            measured_clearness: None,
        }
    }

    /// A value of the row, or of the same hour of an earlier day.
    fn value<T>(&self, us: i64, row: Option<&ObservedRow>, value: impl Fn(&ObservedRow) -> Option<T>) -> Option<T> {
        let found = row.and_then(&value);
        if found.is_some() || self.gaps != Gaps::Repeat {
            return found;
        }
        (1..=REPEAT_DAYS).find_map(|day| self.record.row_at(us - day * Span::DAY.0).and_then(&value))
    }

    fn conditions(&mut self, from: Instant, us: i64, row: Option<&ObservedRow>) -> Conditions {
        let depth_mm = self.value(us, row, |row| row.rain_mm).unwrap_or(0.0);
        // The gust belongs to its mean wind: both from the same row.
        let wind = self.value(us, row, |row| row.wind_m_s.map(|wind| (wind, row.gust_m_s)));
        self.wind_m_s = wind.map_or(self.wind_m_s, |wind| wind.0);
        let gust_m_s = wind.and_then(|wind| wind.1).unwrap_or(GUST_FACTOR * self.wind_m_s);
        self.temperature_c = self.value(us, row, |row| row.temperature_c).unwrap_or(self.temperature_c);
        let ghi_w_m2 = self.value(us, row, |row| row.ghi_w_m2);
        if let Some(measured) = ghi_w_m2.and_then(|ghi| self.clearness(us, ghi)) {
            self.measured_clearness = Some(measured);
        }
        let wet = depth_mm > 0.0;
        let damp = if wet { self.temperature_c - RAIN_DEPRESSION_K } else { f64::NEG_INFINITY };
        let observed_dew_c = self.value(us, row, |row| row.dew_point_c);
        let dew_point_c = observed_dew_c.unwrap_or_else(|| self.dawn(us).max(damp)).min(self.temperature_c);
        let rule = if wet { CLEARNESS_IN_RAIN } else { CLEARNESS_DRY };
        Conditions {
            from,
            rain_mm_h: depth_mm / self.record.step.hours(),
            temperature_c: self.temperature_c,
            dew_point_c,
            wind_m_s: self.wind_m_s,
            gust_m_s,
            clearness: self.measured_clearness.unwrap_or(rule),
        }
    }

    /// Dew point by the rule of dawn: the day's coldest temperature, or else that of now, minus the usual dryness.
    fn dawn(&self, us: i64) -> f64 {
        let day = local_day(us, self.record.offset);
        let days = &self.record.coldest;
        let coldest_c = days.binary_search_by_key(&day, |entry| entry.0).map_or(self.temperature_c, |at| days[at].1);
        coldest_c - DRYNESS_K
    }

    /// Irradiance over clear-sky irradiance at the middle of the record's step, if the sun is high enough.
    fn clearness(&self, us: i64, ghi_w_m2: f64) -> Option<f64> {
        let middle = (us + self.record.step.0 / 2) as f64 / MICROS_PER_SECOND as f64;
        let elevation = sun::position(middle, self.site.latitude_deg, self.site.longitude_deg).elevation_deg;
        (elevation > LOW_SUN_DEG).then(|| (ghi_w_m2 / sun::clear_sky_w_m2(elevation)).clamp(0.0, MOST_CLEARNESS))
    }
}
