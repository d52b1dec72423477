//! Rain as wet and dry spells that alternate: a two-state Markov chain in continuous time.
//!
//! Spell lengths are exponential with monthly means (alternating renewal; Cox 1962, *Renewal Theory*). At a month's
//! end the rest of the running spell is drawn anew with the new mean, which is exact because the exponential law has
//! no memory. The state at the season's start is drawn from its long-run share, mean wet / (mean wet + mean dry), so
//! that no warm-up is needed. Within a wet spell the intensity is gamma, drawn anew every `intensity_step_h`.
//!
//! Real rain clusters: storms of several showers make daily totals more variable than this model's. That matters for
//! floods, little for how often and how long it rains, which is what a door and a mower care about.
//!
//! Streams, entity = spell number: `weather rain` for the start state (first spell only), then the length month by
//! month; `weather rain intensity` for the intensities, step by step. A longer season begins with the same rain.

use std::ops::Range;

use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::weather::Generated;
use crate::world::clock::{LocalClock, MonthPiece};

/// A stretch of constant rain intensity, wet or dry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shower {
    /// First moment.
    pub from: Instant,
    /// mm/h; exactly 0 in a dry spell.
    pub rain_mm_h: f64,
}

/// Mean length of a spell in a month, hours, with the degenerate months decided: no wet spells at all (then dry is
/// endless) or no dry ones (then wet is).
fn mean_h(weather: &Generated, month: usize, wet: bool) -> f64 {
    let wet_h = weather.wet_spell_h[month];
    let dry_h = dry_spell_h(weather, month);
    match (wet_h > 0.0, dry_h > 0.0, wet) {
        (true, true, true) => wet_h,
        (true, true, false) => dry_h,
        (true, false, true) | (false, _, false) => f64::INFINITY,
        (true, false, false) | (false, _, true) => 0.0,
    }
}

/// The month's mean dry spell with the scenario's change of the number of spells: `spells` times as many in the same
/// time leave less between them, but at least a tenth.
fn dry_spell_h(weather: &Generated, month: usize) -> f64 {
    let (wet_h, dry_h, more) = (weather.wet_spell_h[month], weather.dry_spell_h[month], weather.shift.spells);
    if more == 1.0 {
        dry_h
    } else if more <= 0.0 {
        f64::INFINITY
    } else {
        ((wet_h + dry_h) / more - wet_h).max(0.1 * dry_h)
    }
}

/// Long-run share of wet time with a month's means.
fn wet_share(weather: &Generated, month: usize) -> f64 {
    let (wet_h, dry_h) = (mean_h(weather, month, true), mean_h(weather, month, false));
    if wet_h.is_infinite() {
        1.0
    } else if dry_h.is_infinite() {
        0.0
    } else {
        wet_h / (wet_h + dry_h)
    }
}

/// The season's rain in order: the first entry at the season's start, neighbouring entries of different spells or
/// different intensity steps.
pub(super) fn showers(weather: &Generated, clock: &LocalClock, seed: u64, season: u64) -> Vec<Shower> {
    let lengths = Source::new(seed, season, "weather rain");
    let intensities = Source::new(seed, season, "weather rain intensity");
    let (months, end) = (clock.months(), clock.end());
    let mut showers = Vec::new();
    let mut from = Instant::START;
    let mut wet = false;
    for number in 0.. {
        let mut stream = lengths.stream(number);
        if number == 0 {
            wet = stream.chance(wet_share(weather, months[0].month));
        }
        let to = spell_end(weather, months, from, wet, &mut stream).min(end);
        if wet {
            fill(weather, clock, from..to, &mut intensities.stream(number), &mut showers);
        } else {
            showers.push(Shower { from, rain_mm_h: 0.0 });
        }
        if to >= end {
            return showers;
        }
        (from, wet) = (to, !wet);
    }
    showers
}

/// End of a spell that begins at `from`: at least a microsecond later, so that time moves on.
fn spell_end(weather: &Generated, months: &[MonthPiece], from: Instant, wet: bool, stream: &mut Stream) -> Instant {
    let first = months.partition_point(|month| month.to <= from);
    let mut start = from;
    for month in &months[first..] {
        let length = Span::from_seconds(3_600.0 * stream.exponential(mean_h(weather, month.month, wet)));
        if length < month.to.since(start) {
            return (start + length).max(from + Span(1));
        }
        start = month.to;
    }
    start
}

/// Cuts a wet spell into steps of constant intensity; the step's month sets the mean.
fn fill(weather: &Generated, clock: &LocalClock, spell: Range<Instant>, stream: &mut Stream, out: &mut Vec<Shower>) {
    let step = Span::from_seconds(3_600.0 * weather.intensity_step_h).max(Span(1));
    let mut at = spell.start;
    while at < spell.end {
        let mean = weather.intensity_mm_h[clock.month(at)];
        out.push(Shower { from: at, rain_mm_h: weather.shift.rain * stream.gamma(weather.intensity_shape, mean) });
        at += step;
    }
}
