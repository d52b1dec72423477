//! Who comes to the door besides the mower, and when.
//!
//! Each visitor is a Poisson process whose rate depends on the civil hour. The list holds every visit that *would*
//! take place; whether one does (`only = "door open"`) and whether the visitor goes in is the engine's to decide from
//! the state of the door, with the draw that the visit carries. A strategy therefore never changes who comes.
//!
//! Streams: `visitor NAME arrivals`, entity 0, for the times; `visitor NAME`, entity = visit number, for what a visit
//! is like. Renaming a visitor changes its visits; adding another does not.

use super::clock::LocalClock;
use super::spread::draw;
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::visitor::Visitor;

/// Nearest that a visitor comes to the door line, m: it does not walk through a shut door.
pub const CLOSEST_M: f64 = 0.05;

/// One visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Visit {
    /// Index into the scenario's visitors.
    pub visitor: usize,
    /// When it arrives at its nearest point.
    pub at: Instant,
    /// Number among this visitor's visits of the season, from 0.
    pub number: u64,
    /// Distance of the nearest point from the door line, m.
    pub nearest_m: f64,
    /// Sideways offset at the nearest point, m.
    pub sideways_m: f64,
    /// How long it stays at the nearest point.
    pub dwell: Span,
    /// Uniform on [0, 1): it goes in when this is below the visitor's `enters` and the door is open.
    pub enters_draw: f64,
    /// How long it stays inside if it goes in.
    pub inside: Span,
    /// Whether it comes from the left (+y) rather than the right, seen from the dock.
    pub from_left: bool,
}

/// All visits of a season, by time; equal times by the visitor's index, then by number.
pub fn visits(scenario: &Scenario, clock: &LocalClock, seed: u64, season: u64) -> Vec<Visit> {
    visits_of(&scenario.visitors, clock, seed, season)
}

fn visits_of(visitors: &[Visitor], clock: &LocalClock, seed: u64, season: u64) -> Vec<Visit> {
    let mut all = Vec::new();
    for (index, visitor) in visitors.iter().enumerate() {
        let details = Source::new(seed, season, &format!("visitor {}", visitor.name));
        for (number, at) in arrivals(visitor, clock, seed, season).into_iter().enumerate() {
            all.push(visit(visitor, index, at, number as u64, &details));
        }
    }
    all.sort_by_key(|visit| (visit.at, visit.visitor, visit.number));
    all
}

fn visit(visitor: &Visitor, index: usize, at: Instant, number: u64, details: &Source) -> Visit {
    let mut stream = details.stream(number);
    // The order of these draws is part of the results: add new ones at the end.
    let (mean_m, sd_m) = visitor.nearest_m;
    Visit {
        visitor: index,
        at,
        number,
        nearest_m: (mean_m + sd_m * stream.normal()).max(CLOSEST_M),
        sideways_m: visitor.sideways_m * stream.normal(),
        dwell: Span::from_seconds(draw(&visitor.dwell, &mut stream)),
        enters_draw: stream.uniform(),
        inside: Span::from_seconds(draw(&visitor.inside, &mut stream)),
        from_left: stream.chance(0.5),
    }
}

/// Arrival times by the time-change of a Poisson process (Cinlar 1975; from memory): unit-exponential steps of the
/// integrated rate, which is linear within each civil hour, so exact. An ordinary day sums to `per_day`; a day with
/// a change of clocks has one hour's share more or less.
fn arrivals(visitor: &Visitor, clock: &LocalClock, seed: u64, season: u64) -> Vec<Instant> {
    let source = Source::new(seed, season, &format!("visitor {} arrivals", visitor.name));
    by_the_hour(visitor.per_day, &visitor.hours, clock, source.stream(0))
}

/// Times of a Poisson process of `per_day` on an ordinary day, with relative rates by civil hour.
pub(super) fn by_the_hour(per_day: f64, hours: &[f64; 24], clock: &LocalClock, mut stream: Stream) -> Vec<Instant> {
    let mut times = Vec::new();
    let sum: f64 = hours.iter().sum();
    if !(sum > 0.0 && per_day > 0.0) {
        return times;
    }
    let (mut from, end) = (Instant::START, clock.end());
    let mut wanted = stream.exponential(1.0);
    while from < end {
        let to = clock.next_hour_change(from).min(end);
        let rate = per_day * hours[clock.hour_of_day(from)] / sum / Span::HOUR.seconds();
        let length = to.since(from).seconds();
        let mut used = 0.0;
        while rate * (length - used) > wanted {
            used += wanted / rate;
            wanted = stream.exponential(1.0);
            // Rounding to microseconds must not carry a visit over the season's end.
            times.push((from + Span::from_seconds(used)).min(end - Span(1)));
        }
        wanted -= rate * (length - used);
        from = to;
    }
    times
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::mower::Spread;
    use crate::scenario::season::Calendar;
    use crate::scenario::visitor::Only;
    use jiff::civil::date;

    fn cat(name: &str, per_day: f64, hours: [f64; 24]) -> Visitor {
        Visitor {
            name: name.to_owned(),
            per_day,
            hours,
            only: Only::Always,
            length_m: 0.45,
            width_m: 0.18,
            height_m: 0.28,
            mass_kg: 4.5,
            reflectance: 0.4,
            soft: true,
            speed_m_s: 0.6,
            nearest_m: (0.9, 0.5),
            sideways_m: 0.4,
            dwell: Spread { mean_s: 15.0, sd_s: 10.0 },
            enters: 0.2,
            inside: Spread { mean_s: 1200.0, sd_s: 900.0 },
        }
    }

    fn year() -> LocalClock {
        let calendar = Calendar { first_day: date(2025, 1, 1), last_day: date(2025, 12, 31) };
        LocalClock::new(&calendar, "Europe/Vienna").unwrap()
    }

    fn dusk() -> [f64; 24] {
        let mut hours = [0.0; 24];
        hours[2] = 1.0;
        hours[6] = 2.0;
        hours[20] = 5.0;
        hours[21] = 2.0;
        hours
    }

    /// Counts per civil hour are Poisson with the stated mean (4 standard errors, fixed seed): 2 a.m. is skipped
    /// once and repeated once in the year, so that its hours number 365 as well.
    #[test]
    fn visits_follow_the_hours() {
        let clock = year();
        let per_day = 12.0;
        let found = visits_of(&[cat("cat", per_day, dusk())], &clock, 1, 0);
        let mut counts = [0_u32; 24];
        for visit in &found {
            counts[clock.hour_of_day(visit.at)] += 1;
        }
        for (hour, count) in counts.into_iter().enumerate() {
            let exact = 365.0 * per_day * dusk()[hour] / 10.0;
            assert!((f64::from(count) - exact).abs() <= 4.0 * exact.sqrt(), "hour {hour}: {count}, exact {exact}");
        }
        // Within an hour the arrivals are uniform: Kolmogorov-Smirnov distance below 1.95 / sqrt(n) (level 0.001).
        let mut parts: Vec<f64> = found.iter().map(|v| clock.second_of_day_local(v.at) % 3600.0 / 3600.0).collect();
        parts.sort_by(f64::total_cmp);
        let n = parts.len() as f64;
        let distance = parts.iter().enumerate().map(|(i, u)| (u - (i as f64 + 0.5) / n).abs()).fold(0.0, f64::max);
        assert!(distance + 0.5 / n < 1.95 / n.sqrt(), "distance {distance}");
    }

    /// A Poisson count over many seasons: variance equals mean within 4 standard errors.
    #[test]
    fn counts_are_poisson() {
        let calendar = Calendar { first_day: date(2025, 6, 1), last_day: date(2025, 6, 10) };
        let clock = LocalClock::new(&calendar, "Europe/Vienna").unwrap();
        let seasons = 400_u64;
        let visitors = [cat("cat", 2.5, dusk())];
        let counts: Vec<f64> = (0..seasons).map(|s| visits_of(&visitors, &clock, 9, s).len() as f64).collect();
        let mean = counts.iter().sum::<f64>() / seasons as f64;
        let variance = counts.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / (seasons - 1) as f64;
        assert!((mean - 25.0).abs() < 4.0 * (25.0 / seasons as f64).sqrt(), "mean {mean}");
        assert!((variance / mean - 1.0).abs() < 4.0 * (2.0 / seasons as f64).sqrt(), "dispersion {}", variance / mean);
    }

    #[test]
    fn visits_are_sorted_and_independent_of_other_visitors() {
        let clock = year();
        let (cat, fox) = (cat("cat", 3.0, dusk()), cat("fox", 1.0, [1.0; 24]));
        let both = visits_of(&[fox.clone(), cat.clone()], &clock, 4, 2);
        assert!(both.is_sorted_by_key(|visit| (visit.at, visit.visitor)));
        assert!(both.iter().all(|visit| visit.at < clock.end() && visit.nearest_m >= CLOSEST_M));
        let alone = visits_of(&[cat], &clock, 4, 2);
        let same: Vec<Visit> = both.iter().filter(|v| v.visitor == 1).map(|v| Visit { visitor: 0, ..*v }).collect();
        assert_eq!(alone, same);
        assert!(alone.iter().enumerate().all(|(i, visit)| visit.number == i as u64));
        let left = both.iter().filter(|visit| visit.from_left).count() as f64;
        let n = both.len() as f64;
        assert!((left - 0.5 * n).abs() < 4.0 * (0.25 * n).sqrt(), "{left} of {n}");
        // P(nearest = closest) = Phi((0.05 - 0.9) / 0.5) = Phi(-1.7) = 0.044565 (normal table).
        let clamped = both.iter().filter(|visit| visit.nearest_m == CLOSEST_M).count() as f64;
        assert!((clamped - 0.044_565 * n).abs() < 4.0 * (0.044_565 * n).sqrt(), "{clamped} of {n}");
    }

    #[test]
    fn nobody_comes_without_a_rate() {
        let visitors = [cat("never", 0.0, [1.0; 24]), cat("no hours", 3.0, [0.0; 24])];
        assert!(visits_of(&visitors, &year(), 1, 0).is_empty());
    }
}
