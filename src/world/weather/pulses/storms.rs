//! Draws a season's storms and sums their cells into showers of constant intensity.
//!
//! Storms are a Poisson process with the month's rate, drawn by its operational time: the gap between storms is a unit
//! exponential spent at the rate of the months it crosses, which is exact across month ends. A storm keeps the
//! parameters of the month in which it began. Cells are exact in time; the sum is exactly zero when none lives (they
//! are counted, a sum of floats alone would leave a phantom drizzle).
//!
//! **Start.** Storms of the 30 days before the season are drawn like all others. Windows that are still open after
//! that are rare but, the law of a storm's rate having a heavy tail, carry some per cent of the rain: their number,
//! ages and rates are drawn from their exact law given that they are open, so that the season starts in the stationary
//! state. A cell that lives longer than 30 days is not drawn (below 1e-4 of the rain for every fitted set known here).
//! Before its first day the season's clock knows no months: these storms follow the first month's parameters.
//!
//! Streams: `weather storms` 0 for the gaps, 1 for the number of old storms; `weather storm` per storm of the season
//! and warm-up, `weather old storm` per old one, for everything within it. A longer season begins with the same rain.

use crate::math::random::{Source, Stream};
use crate::math::time::Instant;
use crate::scenario::weather::{PulseMonth, PulseYear};
use crate::world::clock::LocalClock;
use crate::world::weather::rain::Shower;

/// How long before the season storms are drawn, hours.
const WARM_UP_H: f64 = 720.0;

/// A change of intensity: a cell that begins (+) or ends (-).
#[derive(Clone, Copy, Debug)]
struct Edge {
    at: Instant,
    mm_h: f64,
}

/// The season's rain in order: the first entry at the season's start, then every moment at which the intensity
/// changes.
pub(in crate::world::weather) fn showers(year: &PulseYear, clock: &LocalClock, seed: u64, season: u64) -> Vec<Shower> {
    let mut edges = Vec::new();
    let gaps = Source::new(seed, season, "weather storms");
    let within = Source::new(seed, season, "weather storm");
    let mut starts = Starts { year, clock, at_h: -WARM_UP_H, stream: gaps.stream(0) };
    let end_h = clock.season_length().hours();
    for number in 0.. {
        let Some((start_h, month)) = starts.next(end_h) else { break };
        let mut stream = within.stream(number);
        let rate = stream.gamma(month.rate_shape, month.rate_shape / month.rate_scale_h);
        let window_h = stream.exponential(1.0 / (month.ending * rate));
        cell(month, rate, start_h, &mut stream, &mut edges);
        cells(month, rate, start_h, (start_h + window_h).min(end_h), &mut stream, &mut edges);
    }
    old_storms(&year[clock.month(Instant::START)], end_h, seed, season, &mut edges);
    sum(edges, clock.end())
}

/// The beginnings of storms.
struct Starts<'a> {
    year: &'a PulseYear,
    clock: &'a LocalClock,
    at_h: f64,
    stream: Stream,
}

impl Starts<'_> {
    /// The next storm before `end_h`, with its month's parameters.
    fn next(&mut self, end_h: f64) -> Option<(f64, &PulseMonth)> {
        let mut left = self.stream.exponential(1.0);
        // Month pieces in order; the first one also stands for the time before the season.
        for piece in self.clock.months() {
            let piece_end_h = piece.to.since(Instant::START).hours();
            if self.at_h >= piece_end_h {
                continue;
            }
            let month = &self.year[piece.month];
            let room = (piece_end_h - self.at_h) * month.storms_per_h;
            if left < room {
                self.at_h += left / month.storms_per_h;
                return (self.at_h < end_h).then_some((self.at_h, month));
            }
            left -= room;
            self.at_h = piece_end_h;
        }
        None
    }
}

/// Cells at kappa x rate between two times, by exponential gaps.
fn cells(month: &PulseMonth, rate: f64, from_h: f64, to_h: f64, stream: &mut Stream, edges: &mut Vec<Edge>) {
    if month.cells <= 0.0 {
        return;
    }
    let gap_h = 1.0 / (month.cells * rate);
    let mut at_h = from_h + stream.exponential(gap_h);
    while at_h < to_h {
        cell(month, rate, at_h, stream, edges);
        at_h += stream.exponential(gap_h);
    }
}

/// One cell: intensity, then duration.
fn cell(month: &PulseMonth, rate: f64, at_h: f64, stream: &mut Stream, edges: &mut Vec<Edge>) {
    let mean_mm_h = month.intensity_mm * rate;
    let exponential = month.intensity_shape == 1.0;
    let mm_h = if exponential { stream.exponential(mean_mm_h) } else { stream.gamma(month.intensity_shape, mean_mm_h) };
    let to_h = at_h + stream.exponential(1.0 / rate);
    if to_h > 0.0 {
        let moment = |h: f64| Instant::from_seconds(3_600.0 * h);
        let (from, to) = (moment(at_h), moment(to_h));
        // A cell of less than a microsecond has no place on the clock.
        if from < to && mm_h > 0.0 {
            edges.push(Edge { at: from, mm_h });
            edges.push(Edge { at: to, mm_h: -mm_h });
        }
    }
}

/// Storms that began more than the warm-up W ago and whose window is still open at the season's start. A window is
/// longer than a with probability (nu / (nu + phi a))^alpha, so that they are a Poisson number with mean lambda times the
/// integral of that from W; their cells of the last W are drawn.
fn old_storms(month: &PulseMonth, end_h: f64, seed: u64, season: u64, edges: &mut Vec<Edge>) {
    let PulseMonth { storms_per_h, rate_shape, rate_scale_h, ending, .. } = *month;
    let count = Source::new(seed, season, "weather storms");
    let within = Source::new(seed, season, "weather old storm");
    let fall = rate_scale_h / (rate_scale_h + ending * WARM_UP_H);
    let mean = storms_per_h * rate_scale_h / ((rate_shape - 1.0) * ending) * libm::pow(fall, rate_shape - 1.0);
    let mut counting = count.stream(1);
    // A Poisson number by exponential gaps; the mean is below 1 for fitted sets, about 1,000 at the worst allowed.
    let mut spent = counting.exponential(1.0);
    let mut number = 0;
    while spent < mean {
        let mut stream = within.stream(number);
        // Age: P(A > a | A > W) = ((nu + phi W) / (nu + phi a))^(alpha - 1).
        let stretch = libm::pow(stream.uniform_positive(), -1.0 / (rate_shape - 1.0));
        let reach = (rate_scale_h + ending * WARM_UP_H) * stretch;
        // The rate given a window longer than the age: e^(-phi eta a) tilts the gamma law.
        let rate = stream.gamma(rate_shape, rate_shape / reach);
        let left_h = stream.exponential(1.0 / (ending * rate));
        cells(month, rate, -WARM_UP_H, left_h.min(end_h), &mut stream, edges);
        spent += counting.exponential(1.0);
        number += 1;
    }
}

/// Sums the edges.
fn sum(mut edges: Vec<Edge>, end: Instant) -> Vec<Shower> {
    edges.sort_by_key(|edge| edge.at);
    let mut showers = vec![Shower { from: Instant::START, rain_mm_h: 0.0 }];
    let (mut live, mut mm_h) = (0_usize, 0.0_f64);
    let mut rest = edges.as_slice();
    while let Some(first) = rest.first() {
        let at = first.at;
        if at >= end {
            break;
        }
        let together = rest.partition_point(|edge| edge.at == at);
        for edge in &rest[..together] {
            mm_h += edge.mm_h;
            if edge.mm_h > 0.0 { live += 1 } else { live -= 1 }
        }
        rest = &rest[together..];
        if live == 0 {
            mm_h = 0.0;
        }
        let shower = Shower { from: at.max(Instant::START), rain_mm_h: mm_h.max(0.0) };
        match showers.last_mut() {
            Some(last) if last.from == shower.from => *last = shower,
            _ => showers.push(shower),
        }
    }
    showers
}
