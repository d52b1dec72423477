//! Draws a season's storms and sums their cells into showers of constant intensity.
//!
//! Storms are a Poisson process. Cells are exact in time; the sum is exactly zero when none lives (they are counted, a
//! sum of floats alone would leave a phantom drizzle).
//!
//! **Months.** Each process has its own months (neighbours with the same figures share one): it is in its stationary state
//! from their beginning on and is cut off at their end, so that every month has just the rain, the variance and the
//! spells of its figures. Were storms to rain on into the next month, one of storms of three days would lose a tenth of
//! its rain to it. The price: rain on the last midnight of a month stops there, or another begins; that is less than
//! one in a year for every fitted set known here.
//!
//! **Start.** Storms of the 30 days before are drawn like all others. Windows that are still open after
//! that are rare but, the law of a storm's rate having a heavy tail, carry some per cent of the rain: their number,
//! ages and rates are drawn from their exact law given that they are open, so that the process starts in the stationary
//! state. A cell that lives longer than 30 days is not drawn (below 1e-4 of the rain for every fitted set known here).
//!
//! Streams, for the process number n of the season, from 0: `weather storms` 2 n for the gaps, 2 n + 1 for the number of
//! old storms; `weather storm` 2^32 n + the number of the storm, `weather old storm` likewise, for everything within it.
//! A longer season begins with the same rain.

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

/// A process and its place in the season, hours from the season's start.
struct Reign<'a> {
    month: &'a PulseMonth,
    /// Its number in the season.
    number: u64,
    from_h: f64,
    to_h: f64,
}

/// The season's rain in order: the first entry at the season's start, then every moment at which the intensity
/// changes.
pub(in crate::world::weather) fn showers(year: &PulseYear, clock: &LocalClock, seed: u64, season: u64) -> Vec<Shower> {
    let mut showers: Vec<Shower> = Vec::new();
    let mut pieces = clock.months().iter().peekable();
    let mut number = 0;
    while let Some(first) = pieces.next() {
        let month = &year[first.month];
        let mut to = first.to;
        while let Some(more) = pieces.next_if(|piece| year[piece.month] == *month) {
            to = more.to;
        }
        let hours = |at: Instant| at.since(Instant::START).hours();
        let reign = Reign { month, number, from_h: hours(first.from), to_h: hours(to) };
        let mut rain = sum(reign.edges(seed, season), first.from, to);
        // It stays dry across the month's end.
        if showers.last().is_some_and(|last| last.rain_mm_h == 0.0)
            && rain.first().is_some_and(|one| one.rain_mm_h == 0.0)
        {
            rain.remove(0);
        }
        showers.extend(rain);
        number += 1;
    }
    showers
}

impl Reign<'_> {
    fn edges(&self, seed: u64, season: u64) -> Vec<Edge> {
        let mut edges = Vec::new();
        let mut gaps = Source::new(seed, season, "weather storms").stream(2 * self.number);
        let within = Source::new(seed, season, "weather storm");
        let month = self.month;
        let mut start_h = self.from_h - WARM_UP_H;
        for number in self.numbers() {
            // At a rate of 0 no storm ever comes.
            start_h += gaps.exponential(1.0) / month.storms_per_h;
            if start_h.is_nan() || start_h >= self.to_h {
                break;
            }
            let mut stream = within.stream(number);
            let rate = stream.gamma(month.rate_shape, month.rate_shape / month.rate_scale_h);
            let window_h = stream.exponential(1.0 / (month.ending * rate));
            self.cell(rate, start_h, &mut stream, &mut edges);
            self.cells(rate, start_h, (start_h + window_h).min(self.to_h), &mut stream, &mut edges);
        }
        self.old_storms(seed, season, &mut edges);
        edges
    }

    /// Numbers of storms, other than those of all other processes.
    fn numbers(&self) -> std::ops::RangeFrom<u64> {
        (self.number << 32)..
    }

    /// Cells at kappa x rate between two times, by exponential gaps.
    fn cells(&self, rate: f64, from_h: f64, to_h: f64, stream: &mut Stream, edges: &mut Vec<Edge>) {
        let month = self.month;
        if month.cells <= 0.0 {
            return;
        }
        let gap_h = 1.0 / (month.cells * rate);
        let mut at_h = from_h + stream.exponential(gap_h);
        while at_h < to_h {
            self.cell(rate, at_h, stream, edges);
            at_h += stream.exponential(gap_h);
        }
    }

    /// One cell: intensity, then duration.
    fn cell(&self, rate: f64, at_h: f64, stream: &mut Stream, edges: &mut Vec<Edge>) {
        let month = self.month;
        let mean_mm_h = month.intensity_mm * rate;
        let exponential = month.intensity_shape == 1.0;
        let mm_h =
            if exponential { stream.exponential(mean_mm_h) } else { stream.gamma(month.intensity_shape, mean_mm_h) };
        let to_h = at_h + stream.exponential(1.0 / rate);
        if to_h > self.from_h {
            let moment = |h: f64| Instant::from_seconds(3_600.0 * h);
            let (from, to) = (moment(at_h), moment(to_h));
            // A cell of less than a microsecond has no place on the clock.
            if from < to && mm_h > 0.0 {
                edges.push(Edge { at: from, mm_h });
                edges.push(Edge { at: to, mm_h: -mm_h });
            }
        }
    }

    /// Storms that began more than the warm-up W ago and whose window is still open when the process begins. A window is
    /// longer than a with probability (nu / (nu + phi a))^alpha, so that they are a Poisson number with mean lambda times the
    /// integral of that from W; their cells of the last W are drawn.
    fn old_storms(&self, seed: u64, season: u64, edges: &mut Vec<Edge>) {
        let PulseMonth { storms_per_h, rate_shape, rate_scale_h, ending, .. } = *self.month;
        let count = Source::new(seed, season, "weather storms");
        let within = Source::new(seed, season, "weather old storm");
        let fall = rate_scale_h / (rate_scale_h + ending * WARM_UP_H);
        let mean = storms_per_h * rate_scale_h / ((rate_shape - 1.0) * ending) * libm::pow(fall, rate_shape - 1.0);
        let mut counting = count.stream(2 * self.number + 1);
        // A Poisson number by exponential gaps; the mean is below 1 for fitted sets, about 1,000 at the worst allowed.
        let mut spent = counting.exponential(1.0);
        for number in self.numbers() {
            if spent >= mean {
                break;
            }
            let mut stream = within.stream(number);
            // Age: P(A > a | A > W) = ((nu + phi W) / (nu + phi a))^(alpha - 1).
            let stretch = libm::pow(stream.uniform_positive(), -1.0 / (rate_shape - 1.0));
            let reach = (rate_scale_h + ending * WARM_UP_H) * stretch;
            // The rate given a window longer than the age: e^(-phi eta a) tilts the gamma law.
            let rate = stream.gamma(rate_shape, rate_shape / reach);
            let left_h = stream.exponential(1.0 / (ending * rate));
            self.cells(rate, self.from_h - WARM_UP_H, (self.from_h + left_h).min(self.to_h), &mut stream, edges);
            spent += counting.exponential(1.0);
        }
    }
}

/// Sums the edges between two moments.
fn sum(mut edges: Vec<Edge>, start: Instant, end: Instant) -> Vec<Shower> {
    edges.sort_by_key(|edge| edge.at);
    let mut showers = vec![Shower { from: start, rain_mm_h: 0.0 }];
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
        let shower = Shower { from: at.max(start), rain_mm_h: mm_h.max(0.0) };
        match showers.last_mut() {
            Some(last) if last.from == shower.from => *last = shower,
            _ => showers.push(shower),
        }
    }
    showers
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::season::Calendar;
    use jiff::civil::date;

    /// Months of slow storms (their rain comes 64 h after their beginning) between months of quick ones (3 h), all of the same
    /// mean rain: each kind keeps its own. Storms that rained on into the next month had the slow ones lose 8 % to the quick.
    #[test]
    fn months_keep_their_rain() {
        let slow = PulseMonth {
            storms_per_h: 0.1,
            intensity_mm: 0.1,
            rate_shape: 25.0,
            rate_scale_h: 24.0,
            cells: 0.0875,
            ending: 0.0138,
            intensity_shape: 1.0,
        };
        let quick = PulseMonth { cells: 3.0, ending: 0.5, intensity_mm: 0.1 * (1.0 + 0.0875 / 0.0138) / 7.0, ..slow };
        let year: PulseYear = std::array::from_fn(|month| if month % 2 == 0 { slow } else { quick });
        let days = Calendar { first_day: date(2025, 1, 1), last_day: date(2025, 12, 31) };
        let clock = LocalClock::new(&days, "UTC").unwrap();
        let (mut depth_mm, mut hours) = ([0.0; 2], [0.0; 2]);
        const SEASONS: u64 = 60;
        for season in 0..SEASONS {
            let showers = showers(&year, &clock, 1, season);
            for (index, shower) in showers.iter().enumerate() {
                let to = showers.get(index + 1).map_or(clock.end(), |next| next.from);
                // No stretch of rain reaches across a month's end.
                depth_mm[clock.month(shower.from) % 2] += shower.rain_mm_h * to.since(shower.from).hours();
            }
            for piece in clock.months() {
                hours[piece.month % 2] += piece.to.since(piece.from).hours();
            }
        }
        let mean = |month: &PulseMonth| month.storms_per_h * month.intensity_mm * (1.0 + month.cells / month.ending);
        // 360 months with 74 storms each: a standard error of about 1 %.
        for (kind, month) in [slow, quick].iter().enumerate() {
            let off = depth_mm[kind] / hours[kind] / mean(month) - 1.0;
            assert!(off.abs() < 0.035, "{kind}: {off}");
        }
    }

    /// A season that goes on begins with the same rain.
    #[test]
    fn a_longer_season_begins_with_the_same_rain() {
        let month = |storms_per_h| PulseMonth {
            storms_per_h,
            intensity_mm: 1.0,
            rate_shape: 4.0,
            rate_scale_h: 6.0,
            cells: 0.2,
            ending: 0.05,
            intensity_shape: 1.0,
        };
        let year: PulseYear = std::array::from_fn(|number| month(0.02 + 0.01 * number as f64));
        let clock = |last_day| LocalClock::new(&Calendar { first_day: date(2025, 4, 1), last_day }, "UTC").unwrap();
        let long = showers(&year, &clock(date(2025, 7, 31)), 3, 0);
        for last_day in [date(2025, 4, 30), date(2025, 5, 20), date(2025, 6, 29)] {
            let short = showers(&year, &clock(last_day), 3, 0);
            assert!(short.len() > 20 && long.starts_with(&short), "{last_day}");
        }
    }
}
