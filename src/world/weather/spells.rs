//! More or fewer rain spells in observed weather.
//!
//! A spell is a run of rain with less than an hour without rain in it. For a factor below 1 each is left out with
//! probability 1 - factor; above 1 each is also played again, factor - 1 times on average, at a time drawn uniformly
//! within its month, on top of what falls there. Everything but rain stays. Streams: `weather spell`, entity = spell.

use super::conditions::Conditions;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::world::clock::LocalClock;

/// Dry time that parts two spells. Common practice for gardens and roofs: an hour.
const APART: Span = Span::HOUR;

/// A stretch of rain.
#[derive(Clone, Copy)]
struct Piece {
    from: Instant,
    to: Instant,
    mm_h: f64,
}

/// The steps with `factor` times as many spells.
pub(super) fn change(
    steps: Vec<Conditions>,
    factor: f64,
    clock: &LocalClock,
    seed: u64,
    season: u64,
) -> Vec<Conditions> {
    let source = Source::new(seed, season, "weather spell");
    let mut pieces = Vec::new();
    for (number, spell) in spells(&steps, clock.end()).iter().enumerate() {
        let mut stream = source.stream(number as u64);
        if factor < 1.0 {
            if stream.chance(factor) {
                pieces.extend_from_slice(spell);
            }
            continue;
        }
        pieces.extend_from_slice(spell);
        let more = factor - 1.0;
        let copies = libm::floor(more) as u32 + u32::from(stream.chance(more - libm::floor(more)));
        let month = clock.months().iter().find(|month| month.to > spell[0].from);
        for _ in 0..copies {
            let Some(month) = month else { break };
            let start = Span(libm::floor(stream.uniform() * month.to.since(month.from).0 as f64) as i64);
            let moved = month.from + start;
            pieces.extend(spell.iter().map(|piece| Piece {
                from: moved + piece.from.since(spell[0].from),
                to: moved + piece.to.since(spell[0].from),
                mm_h: piece.mm_h,
            }));
        }
    }
    rebuild(&steps, &pieces, clock.end())
}

fn spells(steps: &[Conditions], end: Instant) -> Vec<Vec<Piece>> {
    let mut spells: Vec<Vec<Piece>> = Vec::new();
    for (number, step) in steps.iter().enumerate() {
        if step.rain_mm_h == 0.0 {
            continue;
        }
        let to = steps.get(number + 1).map_or(end, |next| next.from);
        let piece = Piece { from: step.from, to, mm_h: step.rain_mm_h };
        match spells.last_mut() {
            Some(spell) if step.from.since(spell[spell.len() - 1].to) < APART => spell.push(piece),
            _ => spells.push(vec![piece]),
        }
    }
    spells
}

/// The dry steps with the rain of the pieces.
fn rebuild(steps: &[Conditions], pieces: &[Piece], end: Instant) -> Vec<Conditions> {
    let mut edges: Vec<(Instant, i32, f64)> = Vec::with_capacity(2 * pieces.len());
    for piece in pieces.iter().filter(|piece| piece.from < end && piece.from < piece.to) {
        edges.push((piece.from, 1, piece.mm_h));
        edges.push((piece.to, -1, -piece.mm_h));
    }
    edges.sort_by_key(|edge| edge.0);
    let mut out: Vec<Conditions> = Vec::with_capacity(steps.len() + edges.len());
    let (mut live, mut mm_h, mut next) = (0, 0.0_f64, 0);
    for (number, step) in steps.iter().enumerate() {
        let to = steps.get(number + 1).map_or(end, |later| later.from);
        let mut from = step.from;
        loop {
            while let Some(edge) = edges.get(next).filter(|edge| edge.0 <= from) {
                live += edge.1;
                mm_h = if live == 0 { 0.0 } else { mm_h + edge.2 };
                next += 1;
            }
            out.push(Conditions { from, rain_mm_h: mm_h.max(0.0), ..*step });
            match edges.get(next).map(|edge| edge.0).filter(|at| *at < to) {
                Some(at) => from = at,
                None => break,
            }
        }
    }
    out
}
