//! Simulated time as whole microseconds.
//!
//! [`Instant`] is a point on the season's own clock (0 = the season's first local midnight), [`Span`] a length of
//! time. Both are integers, so that two ways of reaching the same moment always agree and ties are real ties.
//! Conversions from seconds round to the nearest microsecond; one season (< 400 days) uses less than 2^45 of the
//! 2^63 available ticks.

use std::ops::{Add, AddAssign, Sub};

/// Microseconds in one second.
pub const MICROS_PER_SECOND: i64 = 1_000_000;

/// A moment on the season's clock, in microseconds after the season's start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

/// A length of time in microseconds. Never negative where the scenario supplies it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span(pub i64);

impl Instant {
    /// The season's first moment.
    pub const START: Instant = Instant(0);
    /// Later than everything a season can contain.
    pub const NEVER: Instant = Instant(i64::MAX / 4);

    /// Seconds after the season's start.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / MICROS_PER_SECOND as f64
    }

    /// The moment `seconds` after the season's start, rounded to the nearest microsecond.
    pub fn from_seconds(seconds: f64) -> Instant {
        Instant(Span::from_seconds(seconds).0)
    }

    /// Time from `earlier` to `self`; negative if `earlier` is in fact later.
    pub fn since(self, earlier: Instant) -> Span {
        Span(self.0 - earlier.0)
    }
}

impl Span {
    /// No time at all.
    pub const ZERO: Span = Span(0);
    /// One second.
    pub const SECOND: Span = Span(MICROS_PER_SECOND);
    /// One minute.
    pub const MINUTE: Span = Span(60 * MICROS_PER_SECOND);
    /// One hour.
    pub const HOUR: Span = Span(3_600 * MICROS_PER_SECOND);
    /// One day of 24 hours.
    pub const DAY: Span = Span(86_400 * MICROS_PER_SECOND);

    /// `seconds` rounded to the nearest microsecond. Saturates instead of wrapping, so that an absurd value
    /// stays absurdly long; not-a-number becomes zero.
    pub fn from_seconds(seconds: f64) -> Span {
        let ticks = libm::round(seconds * MICROS_PER_SECOND as f64);
        Span((ticks as i64).clamp(-Instant::NEVER.0, Instant::NEVER.0))
    }

    /// Length in seconds.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / MICROS_PER_SECOND as f64
    }

    /// Length in hours.
    pub fn hours(self) -> f64 {
        self.seconds() / 3_600.0
    }

    /// Length in minutes.
    pub fn minutes(self) -> f64 {
        self.seconds() / 60.0
    }
}

impl Add<Span> for Instant {
    type Output = Instant;
    fn add(self, span: Span) -> Instant {
        Instant(self.0.saturating_add(span.0))
    }
}

impl AddAssign<Span> for Instant {
    fn add_assign(&mut self, span: Span) {
        *self = *self + span;
    }
}

impl Sub<Span> for Instant {
    type Output = Instant;
    fn sub(self, span: Span) -> Instant {
        Instant(self.0.saturating_sub(span.0))
    }
}

impl Add for Span {
    type Output = Span;
    fn add(self, other: Span) -> Span {
        Span(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Span {
    fn add_assign(&mut self, other: Span) {
        *self = *self + other;
    }
}

impl Sub for Span {
    type Output = Span;
    fn sub(self, other: Span) -> Span {
        Span(self.0 - other.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_round_to_the_nearest_microsecond() {
        assert_eq!(Span::from_seconds(0.05), Span(50_000));
        assert_eq!(Span::from_seconds(1e-7), Span(0));
        assert_eq!(Span::from_seconds(-1.5), Span(-1_500_000));
        assert_eq!(Span::from_seconds(f64::NAN), Span(0));
        assert_eq!(Span::from_seconds(f64::INFINITY).0, Instant::NEVER.0);
    }
}
