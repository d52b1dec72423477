//! Local time of moments on the season's clock.

use jiff::{SignedDuration, Timestamp, tz::TimeZone};

use crate::math::time::Instant;
use crate::scenario::Scenario;

/// Turns moments into RFC 3339 texts of the site's local time, to the millisecond.
#[derive(Clone, Debug)]
pub struct Clock {
    midnight: Timestamp,
    zone: TimeZone,
}

impl Clock {
    /// The clock of a scenario. Fails if its time zone is unknown or the calendar lies outside what can be written.
    pub fn new(scenario: &Scenario) -> Result<Clock, jiff::Error> {
        let start = scenario.calendar.first_day.in_tz(&scenario.site.time_zone)?;
        Ok(Clock { midnight: start.timestamp(), zone: start.time_zone().clone() })
    }

    /// Text of a moment, e.g. `2025-04-01T06:30:00.250+02:00`; a moment beyond all calendars stays at their end.
    pub fn text(&self, at: Instant) -> String {
        let time = self.midnight.saturating_add(SignedDuration::from_micros(at.0)).unwrap_or(Timestamp::MAX);
        time.to_zoned_datetime(self.zone.clone()).strftime("%Y-%m-%dT%H:%M:%S%.3f%:z").to_string()
    }
}
