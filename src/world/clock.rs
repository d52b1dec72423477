//! The season's clock: from simulated time to local civil time and back.
//!
//! [`Instant`] 0 is the local midnight that begins the first day; the season ends at the local midnight after the
//! last day. A day with a change of clocks has 23 or 25 hours. All look-ups in the time-zone database (the IANA
//! database that the `jiff` crate bundles) happen once, in [`LocalClock::new`]; after that every question is
//! answered from a short table of offsets.

use jiff::civil::Date;
use jiff::tz::{Offset, TimeZone, TimeZoneDatabase};
use jiff::{SignedDuration, Timestamp};

use crate::math::time::{Instant, MICROS_PER_SECOND, Span};
use crate::scenario::season::Calendar;

/// Longest season that a clock accepts, days. The scenario allows 400; the margin is for tests and tools.
pub const LONGEST_SEASON_DAYS: i64 = 40_000;

/// Why no clock could be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ClockError {
    /// The time zone is not in the database.
    #[error("time zone `{name}` is not in the time-zone database{}", nearest_hint(.nearest))]
    UnknownZone {
        /// Name as given.
        name: String,
        /// Name in the database that looks most like it.
        nearest: Option<String>,
    },
    /// The last day is before the first.
    #[error("the season's last day {last} is before its first day {first}")]
    Backwards {
        /// First day.
        first: Date,
        /// Last day.
        last: Date,
    },
    /// Too many days.
    #[error("a season from {first} to {last} has {days} days; at most {LONGEST_SEASON_DAYS} can be played")]
    TooLong {
        /// First day.
        first: Date,
        /// Last day.
        last: Date,
        /// Their number.
        days: i64,
    },
    /// A day at the end of the calendar, for which no time in the zone exists.
    #[error("the day {day} is outside the years that can be converted to local time")]
    OutOfRange {
        /// The day.
        day: Date,
    },
}

fn nearest_hint(nearest: &Option<String>) -> String {
    nearest.as_ref().map(|name| format!("; did you mean `{name}`?")).unwrap_or_default()
}

/// A stretch of time with one offset from UTC.
#[derive(Clone, Copy, Debug)]
struct OffsetPiece {
    from: Instant,
    offset_us: i64,
}

/// A stretch of the season within one calendar month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MonthPiece {
    /// Its first moment.
    pub from: Instant,
    /// The first moment after it.
    pub to: Instant,
    /// The month, January = 0.
    pub month: usize,
}

/// Converts between the season's time and local civil time. Questions about moments outside the season are answered
/// with the first or last day's date and with the offset that holds at the season's edge.
#[derive(Clone, Debug)]
pub struct LocalClock {
    zone: TimeZone,
    start_us: i64,
    dates: Vec<Date>,
    /// Start of every day and, last, the season's end.
    day_starts: Vec<Instant>,
    offsets: Vec<OffsetPiece>,
    months: Vec<MonthPiece>,
}

impl LocalClock {
    /// The clock of a season in an IANA time zone.
    ///
    /// # Errors
    /// [`ClockError`]: unknown zone, a last day before the first, more than [`LONGEST_SEASON_DAYS`] days, or a day
    /// near the ends of the calendar (years -9999 and 9999).
    pub fn new(calendar: &Calendar, time_zone: &str) -> Result<LocalClock, ClockError> {
        let zone = find_zone(time_zone)?;
        let (first, last) = (calendar.first_day, calendar.last_day);
        let days = calendar.days();
        if days < 1 {
            return Err(ClockError::Backwards { first, last });
        }
        if days > LONGEST_SEASON_DAYS {
            return Err(ClockError::TooLong { first, last, days });
        }
        let midnight = |day: Date| -> Result<i64, ClockError> {
            let moment = day.to_zoned_datetime(zone.clone()).map_err(|_| ClockError::OutOfRange { day })?;
            Ok(moment.timestamp().as_microsecond())
        };
        let start_us = midnight(first)?;
        let mut dates = Vec::with_capacity(days as usize);
        let mut day_starts = Vec::with_capacity(days as usize + 1);
        let mut day = first;
        for _ in 0..days {
            dates.push(day);
            day_starts.push(Instant(midnight(day)? - start_us));
            day = day.tomorrow().map_err(|_| ClockError::OutOfRange { day })?;
        }
        day_starts.push(Instant(midnight(day)? - start_us));
        let offsets = offset_pieces(&zone, start_us, day_starts[days as usize]);
        let months = month_pieces(&dates, &day_starts);
        Ok(LocalClock { zone, start_us, dates, day_starts, offsets, months })
    }

    /// Length of the season.
    pub fn season_length(&self) -> Span {
        self.end().since(Instant::START)
    }

    /// The season's end: the local midnight after its last day.
    pub fn end(&self) -> Instant {
        self.day_starts[self.days()]
    }

    /// Number of local days.
    pub fn days(&self) -> usize {
        self.dates.len()
    }

    /// Local midnight that begins day `day` (0-based); the season's end for `days()` and beyond. Where the clocks
    /// skip midnight it is the first moment of that day.
    pub fn day_start(&self, day: usize) -> Instant {
        self.day_starts[day.min(self.days())]
    }

    /// Calendar date of day `day`; the last day's for anything beyond.
    pub fn date(&self, day: usize) -> Date {
        self.dates[day.min(self.days() - 1)]
    }

    /// The local day that holds `at`: 0 before the season, the last day from its end on.
    pub fn day_of(&self, at: Instant) -> usize {
        let last = self.days() - 1;
        // A guess by 24-hour days is at most a few days off (changes of clocks, historic jumps of the date line).
        let mut day = (at.0.max(0) / Span::DAY.0).min(last as i64) as usize;
        while day < last && self.day_starts[day + 1] <= at {
            day += 1;
        }
        while day > 0 && self.day_starts[day] > at {
            day -= 1;
        }
        day
    }

    fn offset_us(&self, at: Instant) -> i64 {
        // At most a handful of pieces: two changes of clocks a year.
        let later = self.offsets.iter().rev().find(|piece| piece.from <= at);
        later.map_or(self.offsets[0].offset_us, |piece| piece.offset_us)
    }

    fn micros_of_day(&self, at: Instant) -> i64 {
        (self.start_us + at.0 + self.offset_us(at)).rem_euclid(Span::DAY.0)
    }

    /// What a wall clock shows, as seconds after 00:00.
    pub fn second_of_day_local(&self, at: Instant) -> f64 {
        self.micros_of_day(at) as f64 / MICROS_PER_SECOND as f64
    }

    /// Civil hour, 0 to 23.
    pub fn hour_of_day(&self, at: Instant) -> usize {
        (self.micros_of_day(at) / Span::HOUR.0) as usize
    }

    /// The next moment after `at` at which the civil hour or the offset changes.
    pub fn next_hour_change(&self, at: Instant) -> Instant {
        let full_hour = at + Span(Span::HOUR.0 - self.micros_of_day(at) % Span::HOUR.0);
        let change = self.offsets.iter().map(|piece| piece.from).find(|from| *from > at);
        change.map_or(full_hour, |change| change.min(full_hour))
    }

    /// Month of the local date, January = 0.
    pub fn month(&self, at: Instant) -> usize {
        month_of(self.dates[self.day_of(at)])
    }

    /// The season cut at local month ends, in order.
    pub fn months(&self) -> &[MonthPiece] {
        &self.months
    }

    /// Weekday of day `day`, Monday = 0.
    pub fn weekday(&self, day: usize) -> usize {
        self.date(day).weekday().to_monday_zero_offset() as usize
    }

    /// Unix time: seconds since 1970-01-01T00:00:00Z, without leap seconds.
    pub fn unix_seconds(&self, at: Instant) -> f64 {
        self.unix_micros(at) as f64 / MICROS_PER_SECOND as f64
    }

    /// Unix time in microseconds.
    pub fn unix_micros(&self, at: Instant) -> i64 {
        self.start_us.saturating_add(at.0)
    }

    /// The moment of a Unix time in seconds, rounded to the nearest microsecond.
    pub fn from_unix_seconds(&self, unix_seconds: f64) -> Instant {
        Instant::from_seconds(unix_seconds - self.start_us as f64 / MICROS_PER_SECOND as f64)
    }

    /// The moment at which the wall clock shows `seconds` after 00:00 of day `day`; 86,400 and more reach into the
    /// following days. A time that the clocks skip is moved on by the length of the gap, a time that occurs twice
    /// means the first (the "compatible" rule of RFC 5545 and of the `Temporal` proposal, as in `jiff`).
    pub fn instant_of(&self, day: usize, seconds: f64) -> Instant {
        let wanted = SignedDuration::from_micros(Span::from_seconds(seconds).0);
        let date = self.dates[0].saturating_add(SignedDuration::from_hours(24 * day.min(1 << 20) as i64));
        let civil = date.at(0, 0, 0, 0).saturating_add(wanted);
        match civil.to_zoned_datetime(self.zone.clone()) {
            Ok(moment) => self.from_timestamp(moment.timestamp()),
            // Only at the ends of the calendar, where no zone rule applies any more.
            Err(_) => self.day_start(day) + Span::from_seconds(seconds),
        }
    }

    /// Date and time with the offset in force, RFC 3339.
    pub fn label(&self, at: Instant) -> String {
        match (Timestamp::from_microsecond(self.unix_micros(at)), self.offset(at)) {
            (Ok(timestamp), Some(offset)) => timestamp.display_with_offset(offset).to_string(),
            _ => format!("{} s after the season's start", at.seconds()),
        }
    }

    /// The offset from UTC in force at `at`.
    pub fn offset(&self, at: Instant) -> Option<Offset> {
        Offset::from_seconds((self.offset_us(at) / MICROS_PER_SECOND) as i32).ok()
    }

    /// The moment of a timestamp; negative before the season. Parts of a microsecond are cut off.
    pub fn from_timestamp(&self, timestamp: Timestamp) -> Instant {
        Instant(timestamp.as_microsecond() - self.start_us)
    }
}

fn find_zone(name: &str) -> Result<TimeZone, ClockError> {
    // The bundled database, not the machine's: the same rules, so the same results, everywhere.
    let database = TimeZoneDatabase::bundled();
    database.get(name).map_err(|_| {
        let wanted = name.to_lowercase();
        let score = |candidate: &str| strsim::jaro_winkler(&wanted, &candidate.to_lowercase());
        let best = database
            .available()
            .map(|zone| (score(zone.as_str()), zone.as_str().to_owned()))
            .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(&a.1)));
        // Below about 0.8 the Jaro-Winkler similarity offers names that have nothing to do with the one given.
        ClockError::UnknownZone { name: name.to_owned(), nearest: best.filter(|b| b.0 > 0.8).map(|b| b.1) }
    })
}

fn offset_pieces(zone: &TimeZone, start_us: i64, end: Instant) -> Vec<OffsetPiece> {
    let micros = |offset: Offset| i64::from(offset.seconds()) * MICROS_PER_SECOND;
    // `start_us` came from a timestamp, so the conversion back succeeds; UTC stands in for the impossible case.
    let Ok(start) = Timestamp::from_microsecond(start_us) else {
        return vec![OffsetPiece { from: Instant::START, offset_us: 0 }];
    };
    let mut pieces = vec![OffsetPiece { from: Instant::START, offset_us: micros(zone.to_offset(start)) }];
    for change in zone.following(start) {
        let from = Instant(change.timestamp().as_microsecond() - start_us);
        // The change at the very end matters to nobody inside the season.
        if from >= end {
            break;
        }
        pieces.push(OffsetPiece { from, offset_us: micros(change.offset()) });
    }
    pieces
}

fn month_of(date: Date) -> usize {
    (date.month() - 1) as usize
}

fn month_pieces(dates: &[Date], day_starts: &[Instant]) -> Vec<MonthPiece> {
    let mut pieces: Vec<MonthPiece> = Vec::new();
    for (day, date) in dates.iter().enumerate() {
        let (from, to) = (day_starts[day], day_starts[day + 1]);
        match pieces.last_mut() {
            Some(piece) if date.day() != 1 => piece.to = to,
            _ => pieces.push(MonthPiece { from, to, month: month_of(*date) }),
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use jiff::civil::date;

    fn clock(zone: &str, first_day: Date, last_day: Date) -> LocalClock {
        LocalClock::new(&Calendar { first_day, last_day }, zone).unwrap()
    }

    fn hours_of_day(clock: &LocalClock, day: usize) -> f64 {
        clock.day_start(day + 1).since(clock.day_start(day)).hours()
    }

    /// European Union: clocks change on the last Sundays of March and October (Directive 2000/84/EC): in 2025 on
    /// 30 March and 26 October. New South Wales: first Sundays of April and October: 6 April and 5 October 2025
    /// (dates from memory, both are in the IANA database).
    #[test]
    fn days_with_a_change_of_clocks() {
        let north = clock("Europe/Vienna", date(2025, 3, 1), date(2025, 10, 31));
        assert_eq!(hours_of_day(&north, 29), 23.0);
        assert_eq!(hours_of_day(&north, 239), 25.0);
        assert_eq!(north.date(239), date(2025, 10, 26));
        assert_eq!(north.days(), 245);
        assert_eq!(north.season_length().hours(), 245.0 * 24.0);
        let south = clock("Australia/Sydney", date(2025, 4, 1), date(2025, 10, 10));
        let odd: Vec<_> = (0..south.days()).filter(|d| hours_of_day(&south, *d) != 24.0).collect();
        assert_eq!(odd.iter().map(|d| south.date(*d)).collect::<Vec<_>>(), [date(2025, 4, 6), date(2025, 10, 5)]);
        assert_eq!((hours_of_day(&south, odd[0]), hours_of_day(&south, odd[1])), (25.0, 23.0));
    }

    #[test]
    fn skipped_and_repeated_times() {
        let north = clock("Europe/Vienna", date(2025, 3, 30), date(2025, 10, 26));
        // 02:30 does not exist on 30 March: it becomes 03:30 summer time, 01:30 UTC, 2.5 h after midnight (+01:00).
        assert_eq!(north.instant_of(0, 9_000.0), Instant::from_seconds(9_000.0));
        assert_eq!(north.label(north.instant_of(0, 9_000.0)), "2025-03-30T03:30:00+02:00");
        // 02:30 occurs twice on 26 October: the first is summer time.
        assert_eq!(north.label(north.instant_of(210, 9_000.0)), "2025-10-26T02:30:00+02:00");
        assert_eq!(north.label(north.instant_of(210, 86_400.0)), "2025-10-27T00:00:00+01:00");
        assert_eq!(north.instant_of(210, 86_400.0), north.end());
        let evening = north.day_start(210) + Span(25 * Span::HOUR.0 - 1);
        assert_eq!((north.hour_of_day(evening), north.day_of(evening)), (23, 210));
    }

    /// The tables against the crate's own conversion, at random moments of a year: whole-hour, half-hour (Lord Howe
    /// shifts by 30 min) and midnight (Havana, Beirut skip 00:00) changes, and a zone without any.
    #[test]
    fn agrees_with_the_time_zone_library() {
        for zone in ["America/New_York", "Australia/Lord_Howe", "America/Havana", "Asia/Beirut", "Asia/Kolkata"] {
            let clock = clock(zone, date(2023, 10, 1), date(2024, 11, 3));
            let tz = TimeZoneDatabase::bundled().get(zone).unwrap();
            let mut stream = Source::new(5, 0, zone).stream(0);
            for _ in 0..5_000 {
                let at = Instant(stream.between(0.0, clock.end().0 as f64) as i64);
                let truth = Timestamp::from_microsecond(clock.unix_micros(at)).unwrap().to_zoned_datetime(tz.clone());
                assert_eq!(clock.hour_of_day(at), truth.hour() as usize, "{zone} {truth}");
                assert_eq!(clock.month(at), truth.month() as usize - 1, "{zone} {truth}");
                assert_eq!(clock.date(clock.day_of(at)), truth.date(), "{zone} {truth}");
                assert_eq!(clock.weekday(clock.day_of(at)), truth.weekday().to_monday_zero_offset() as usize);
                let second = f64::from(truth.hour()) * 3600.0 + f64::from(truth.minute()) * 60.0;
                let second = second + f64::from(truth.second()) + f64::from(truth.subsec_nanosecond()) * 1e-9;
                assert!((clock.second_of_day_local(at) - second).abs() < 1e-6, "{zone} {truth}");
                assert_eq!(clock.from_timestamp(truth.timestamp()), at);
                let change = clock.next_hour_change(at);
                assert!(change > at && change.since(at) <= Span::HOUR);
                assert_eq!(clock.hour_of_day(at), clock.hour_of_day(change - Span(1)), "{zone} {truth}");
                let label: Timestamp = clock.label(at).parse().unwrap();
                assert_eq!(clock.from_timestamp(label), at);
            }
        }
    }

    /// Newfoundland changed its clocks at one minute past midnight until 2011 (IANA database): the hour that began at
    /// 00:00 ended after a minute.
    #[test]
    fn a_change_of_clocks_within_an_hour_ends_it() {
        let clock = clock("America/St_Johns", date(2010, 11, 6), date(2010, 11, 8));
        let midnight = clock.day_start(1);
        assert_eq!(clock.next_hour_change(midnight), midnight + Span::MINUTE);
        assert_eq!(clock.hour_of_day(midnight + Span::MINUTE), 23);
        assert_eq!(clock.day_start(2).since(midnight).hours(), 25.0);
    }

    #[test]
    fn months_cover_the_season() {
        let clock = clock("Europe/Vienna", date(2024, 2, 28), date(2024, 4, 2));
        let months: Vec<_> = clock.months().iter().map(|m| (m.month, m.to.since(m.from).hours())).collect();
        // February 28 and 29; March has one hour less (31 March 2024); April 1 and 2.
        assert_eq!(months, [(1, 48.0), (2, 31.0 * 24.0 - 1.0), (3, 48.0)]);
    }

    #[test]
    fn outside_the_season() {
        let clock = clock("Europe/Vienna", date(2025, 4, 1), date(2025, 4, 3));
        assert_eq!(clock.day_of(Instant(-5)), 0);
        assert_eq!(clock.day_of(clock.end()), 2);
        assert_eq!(clock.day_of(Instant::NEVER), 2);
        assert_eq!(clock.day_start(99), clock.end());
        assert!(clock.label(Instant::NEVER).contains("after the season"));
    }

    #[test]
    fn errors_name_the_remedy() {
        let days = Calendar { first_day: date(2025, 4, 1), last_day: date(2025, 4, 30) };
        let error = LocalClock::new(&days, "Europe/Wien").unwrap_err();
        assert!(error.to_string().contains("Europe/Wien"), "{error}");
        let error = LocalClock::new(&days, "europe/viena").unwrap_err();
        assert!(error.to_string().contains("did you mean `Europe/Vienna`?"), "{error}");
        let swapped = Calendar { first_day: days.last_day, last_day: days.first_day };
        assert!(matches!(LocalClock::new(&swapped, "UTC"), Err(ClockError::Backwards { .. })));
        let endless = Calendar { first_day: date(1, 1, 1), last_day: date(9999, 12, 31) };
        assert!(matches!(LocalClock::new(&endless, "UTC"), Err(ClockError::TooLong { .. })));
        let last = Calendar { first_day: date(9999, 12, 31), last_day: date(9999, 12, 31) };
        assert!(matches!(LocalClock::new(&last, "UTC"), Err(ClockError::OutOfRange { .. })));
    }
}
