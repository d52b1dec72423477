//! Depths per step of the process of one month, as a gauge with a fine scale would write them down.

use super::storms;
use crate::math::time::{Instant, Span};
use crate::scenario::season::Calendar;
use crate::scenario::weather::PulseMonth;
use crate::world::clock::LocalClock;
use crate::world::weather::rain::Shower;

/// Depths, mm, in the steps of `days` days (at most 40,000) of a month's process; a step must divide a day.
pub fn depths(month: &PulseMonth, days: i64, step: Span, seed: u64) -> Vec<f64> {
    let Some((showers, end)) = drawn(month, days, seed) else { return Vec::new() };
    let mut depths = vec![0.0; (end.0 / step.0) as usize];
    each_within(&showers, end, step, |index, _, length, mm_h| {
        if let Some(depth) = depths.get_mut(index) {
            *depth += mm_h * length.hours();
        }
    });
    depths
}

/// The share of each of those steps in which it rains, from the same draws.
pub fn wet_shares(month: &PulseMonth, days: i64, step: Span, seed: u64) -> Vec<f64> {
    let Some((showers, end)) = drawn(month, days, seed) else { return Vec::new() };
    let mut shares = vec![0.0; (end.0 / step.0) as usize];
    each_within(&showers, end, step, |index, _, length, mm_h| {
        if let Some(share) = shares.get_mut(index).filter(|_| mm_h > 0.0) {
            *share += length.0 as f64 / step.0 as f64;
        }
    });
    shares
}

/// The showers of `days` days of a month's process, and their end.
pub(in crate::world::weather) fn drawn(month: &PulseMonth, days: i64, seed: u64) -> Option<(Vec<Shower>, Instant)> {
    // Any calendar will do: all months have the same process.
    let first_day = jiff::civil::date(2001, 1, 1);
    let last_day = first_day.checked_add(jiff::Span::new().days(days.checked_sub(1)?)).ok()?;
    let clock = LocalClock::new(&Calendar { first_day, last_day }, "UTC").ok()?;
    Some((storms::showers(&[*month; 12], &clock, seed, 0), clock.end()))
}

/// Calls `each` with (step's index, time from its start, length, mm/h) for every stretch of constant intensity within
/// a step.
pub(in crate::world::weather) fn each_within(
    showers: &[Shower],
    end: Instant,
    step: Span,
    mut each: impl FnMut(usize, Span, Span, f64),
) {
    for (number, shower) in showers.iter().enumerate() {
        let to = showers.get(number + 1).map_or(end, |next| next.from);
        let mut from = shower.from;
        while from < to {
            let index = from.0 / step.0;
            let begin = Instant(index * step.0);
            let until = (begin + step).min(to);
            each(index as usize, from.since(begin), until.since(from), shower.rain_mm_h);
            from = until;
        }
    }
}
