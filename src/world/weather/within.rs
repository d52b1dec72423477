//! The depth of an observed hour, laid into spells within the hour.
//!
//! Spread evenly, an hour's depth would rain all hour; minute records show that hours with little rain are wet for
//! half of the time, nearly always in one run. Two rules:
//!
//! * **Block** (no rain process known): one run at constant intensity whose share of the step follows from the depth by
//!   [`wet_share`], next to the neighbouring wet step if there is one (either, if both are), else at a uniform place.
//! * **Library** (rain process fitted to the record): a wet hour of the process that has the same neighbours, wet or dry,
//!   and about the same depth, scaled to the depth: the process conditioned on the hour's total, by repetition and
//!   proportional adjustment (Koutsoyiannis & Onof 2001, J. Hydrol. 246, 109-122; from memory). Among the hours that
//!   qualify those with more or less rain in them are preferred so that hours of this depth rain for [`wet_share`] on
//!   average (`lean`); where the process has none that rain long enough, a block is laid. The choice "process" takes them
//!   as they come.
//!
//! **Why the process is not taken at its word.** Statistics of hours do not determine it within the hour: processes that
//! agree with all of them differ by a third in how long a wet hour rains. Minutes of rain against records to the minute
//! (two winters, 193 and 46 wet hours), wet ten-minute steps against a year of ten-minute depths in another climate,
//! summed to hours, played and read through the record's gauge again:
//!
//! | | first winter | second winter | year: wet steps | year: variance in ten minutes |
//! |---|---|---|---|---|
//! | evenly | +17 % | +24 % | +23 % | -39 % |
//! | block | -1 % | +2 % | +17 % | -37 % |
//! | process fitted to the hours, as it is | -26 % | -3 % | +11 % | -26 % |
//! | the same, by the minutes (this rule) | -3 % | -1 % | +10 % | -29 % |
//! | process fitted to the ten minutes, as it is | | | +5 % | -15 % |
//! | the same, by the minutes | | | +10 % | -27 % |
//!
//! The shares were measured in the two winters, so that these agree by construction as far as hours of one depth are alike;
//! with those of the second alone the first comes out 2 % short by blocks and 4 % by the process.
//! The year has no part in the shares: there every rule rains too long. Summer showers are shorter than the shares
//! have it, and only a process fitted to steps of ten minutes or less can know.
//!
//! Stream `weather within hour`, entity = number of the step in the season.

use super::conditions::Conditions;
use super::pulses::series;
use crate::math::random::{Source, Stream};
use crate::math::time::Span;
use crate::scenario::weather::{PulseMonth, PulseYear, WithinHour};
use crate::world::clock::LocalClock;

/// Steps up to this length are played as they are: they say themselves when it rains.
const FINE: Span = Span(10 * 60 * 1_000_000);

/// Share of an hour with rain by its depth, mm: means of minute records of begin and end of rain at two airports, 193
/// and 46 wet hours of winter. Between them linear in the logarithm of the depth.
const SHARES: [(f64, f64); 7] =
    [(0.1, 0.47), (0.254, 0.65), (0.45, 0.77), (0.9, 0.85), (1.9, 0.93), (3.8, 0.985), (6.0, 1.0)];

/// Share of a step with rain for a mean intensity over the step, mm/h.
pub fn wet_share(mean_mm_h: f64) -> f64 {
    let above = SHARES.partition_point(|(depth, _)| *depth <= mean_mm_h);
    if above == 0 {
        return SHARES[0].1;
    }
    let Some(high) = SHARES.get(above) else { return 1.0 };
    let low = SHARES[above - 1];
    low.1 + (high.1 - low.1) * libm::log(mean_mm_h / low.0) / libm::log(high.0 / low.0)
}

/// How depths are laid.
pub(super) enum Rule<'a> {
    /// Evenly over the step.
    Even,
    /// In one run.
    Block,
    /// As in a like hour of the process.
    Library(&'a Library),
}

/// Cuts every wet step longer than ten minutes.
pub(super) fn spread(
    steps: Vec<Conditions>,
    step: Span,
    clock: &LocalClock,
    rule: &Rule<'_>,
    seed: u64,
    season: u64,
) -> Vec<Conditions> {
    if step <= FINE || matches!(rule, Rule::Even) {
        return steps;
    }
    let source = Source::new(seed, season, "weather within hour");
    let mut cut = Vec::with_capacity(steps.len() * 5 / 4);
    for (number, wet) in steps.iter().enumerate() {
        if wet.rain_mm_h == 0.0 {
            cut.push(*wet);
            continue;
        }
        let to = steps.get(number + 1).map_or(clock.end(), |next| next.from);
        let length = to.since(wet.from);
        let before = number > 0 && steps[number - 1].rain_mm_h > 0.0;
        let after = steps.get(number + 1).is_some_and(|next| next.rain_mm_h > 0.0);
        let mut stream = source.stream(number as u64);
        let pieces = match rule {
            Rule::Library(library) => library.pieces(clock.month(wet.from), wet.rain_mm_h, before, after, &mut stream),
            _ => None,
        };
        let pieces = pieces.unwrap_or_else(|| match step {
            // A process without any rain in this month says nothing of a step too long for a block.
            long if long > Span::HOUR => vec![(0.0, wet.rain_mm_h)],
            _ => block(wet.rain_mm_h, before, after, &mut stream),
        });
        lay(wet, length, &pieces, &mut cut);
    }
    cut
}

/// Rain from a share of the step on, until the next piece: (share, mm/h).
type Piece = (f64, f64);

fn block(mean_mm_h: f64, before: bool, after: bool, stream: &mut Stream) -> Vec<Piece> {
    let share = wet_share(mean_mm_h);
    let place = stream.uniform();
    let start = match (before, after) {
        (true, false) => 0.0,
        (false, true) => 1.0 - share,
        (true, true) => {
            if place < 0.5 {
                0.0
            } else {
                1.0 - share
            }
        }
        (false, false) => place * (1.0 - share),
    };
    vec![(0.0, 0.0), (start, mean_mm_h / share), (start + share, 0.0)]
}

/// Lays pieces into a step, exact to the microsecond in time and to rounding in depth.
fn lay(wet: &Conditions, length: Span, pieces: &[Piece], out: &mut Vec<Conditions>) {
    let edge = |share: f64| Span(libm::round(share.clamp(0.0, 1.0) * length.0 as f64) as i64);
    let mut laid: Vec<(Span, f64)> = Vec::new();
    for (share, mm_h) in pieces {
        let from = edge(*share);
        match laid.last_mut() {
            Some(last) if last.0 == from => last.1 = *mm_h,
            _ if from < length => laid.push((from, *mm_h)),
            _ => {}
        }
    }
    let ends = laid.iter().skip(1).map(|piece| piece.0).chain([length]);
    let depth: f64 = laid.iter().zip(ends).map(|(piece, to)| piece.1 * Span(to.0 - piece.0.0).hours()).sum();
    // What rounding to microseconds moved; nothing at all could only be left of a piece below a microsecond.
    let scale = if depth > 0.0 { wet.rain_mm_h * length.hours() / depth } else { 0.0 };
    if scale == 0.0 {
        out.push(*wet);
        return;
    }
    out.extend(laid.iter().map(|(from, mm_h)| Conditions { from: wet.from + *from, rain_mm_h: mm_h * scale, ..*wet }));
}

/// One wet step of the process.
#[derive(Clone, Debug, PartialEq)]
struct Sample {
    mean_mm_h: f64,
    /// Share of the step with rain.
    wet: f64,
    pieces: Vec<Piece>,
}

/// The wet steps of a month's process.
#[derive(Clone, Debug, PartialEq)]
struct Shelf {
    /// By neighbours (dry and dry, wet and dry, dry and wet, wet and wet), each in order of depth.
    samples: [Vec<Sample>; 4],
    /// By depth of [`SHARES`]: how much samples with more minutes of rain are preferred (see [`Shelf::lean`]).
    /// None where the process has no hours that rain for long enough.
    lean: [Option<f64>; SHARES.len()],
}

/// Wet steps of a rain process by month and neighbours, in order of depth.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Library {
    /// Which shelf a month uses: months with the same process share one.
    shelf_of_month: [usize; 12],
    shelves: Vec<Shelf>,
}

/// Days of the process on a shelf.
const SHELF_DAYS: i64 = 1_500;

/// Of so many samples nearest in depth one is drawn.
const NEAREST: usize = 24;

/// Samples, nearest in depth whatever their neighbours, by which the preference for a depth is found.
const LEANING: usize = 200;

/// The strongest preference: of two samples that differ by a tenth of a step in their rain one is taken e^3 times as often.
const MOST_LEAN: f64 = 30.0;

/// A process that rains for less of an hour than this below the share is not asked: its hours are laid in blocks.
const SHORT: f64 = 0.1;

impl Library {
    /// Draws the library; a step of less than `least_mm` counts as dry, as a gauge would have it. The draws belong to
    /// the process alone, so that every season of every seed uses the same library.
    pub fn new(rain: &PulseYear, step: Span, least_mm: f64, way: WithinHour) -> Library {
        // How long it rains was measured for hours, not for longer steps.
        let leaning = way == WithinHour::Spells && step <= Span::HOUR;
        let mut known: Vec<PulseMonth> = Vec::new();
        let mut shelves = Vec::new();
        let shelf_of_month = rain.map(|month| {
            known.iter().position(|other| *other == month).unwrap_or_else(|| {
                known.push(month);
                shelves.push(shelf(&month, step, least_mm, leaning));
                known.len() - 1
            })
        });
        Library { shelf_of_month, shelves }
    }

    fn pieces(
        &self,
        month: usize,
        mean_mm_h: f64,
        before: bool,
        after: bool,
        stream: &mut Stream,
    ) -> Option<Vec<Piece>> {
        let shelf = &self.shelves[self.shelf_of_month[month]];
        let alike = &shelf.samples[usize::from(before) + 2 * usize::from(after)];
        let samples = Some(alike)
            .filter(|alike| !alike.is_empty())
            .or_else(|| shelf.samples.iter().max_by_key(|all| all.len()))?;
        let nearest = nearest(samples, mean_mm_h, NEAREST);
        let lean = shelf.lean(mean_mm_h)?;
        let weights: Vec<f64> = nearest.iter().map(|sample| libm::exp(lean * (sample.wet - 1.0))).collect();
        let mut left = stream.uniform() * weights.iter().sum::<f64>();
        let pick = weights.iter().position(|weight| {
            left -= weight;
            left < 0.0
        });
        nearest.get(pick.unwrap_or(nearest.len().saturating_sub(1))).map(|sample| sample.pieces.clone())
    }
}

/// So many samples nearest in rank to a depth.
fn nearest(samples: &[Sample], mean_mm_h: f64, most: usize) -> &[Sample] {
    let place = samples.partition_point(|sample| sample.mean_mm_h < mean_mm_h);
    let first = place.saturating_sub(most / 2).min(samples.len().saturating_sub(most));
    &samples[first..(first + most).min(samples.len())]
}

impl Shelf {
    /// The preference for a depth, linear in its logarithm between those of [`SHARES`].
    fn lean(&self, mean_mm_h: f64) -> Option<f64> {
        let above = SHARES.partition_point(|(depth, _)| *depth <= mean_mm_h);
        if above == 0 || above == SHARES.len() {
            return self.lean[above.min(SHARES.len() - 1)];
        }
        let (low, high) = (SHARES[above - 1].0, SHARES[above].0);
        let part = libm::log(mean_mm_h / low) / libm::log(high / low);
        let (lower, upper) = (self.lean[above - 1]?, self.lean[above]?);
        Some(lower + part * (upper - lower))
    }
}

/// The preference theta by which samples about a depth rain for the share `wanted` of their steps on average, if each is
/// taken in proportion to e^(theta share): of all ways to choose among them the one that changes the process least
/// (minimum relative entropy). None if even the strongest leaves them short by more than [`SHORT`].
fn lean(samples: &[Sample], wanted: f64) -> Option<f64> {
    let mean = |theta: f64| {
        let (sum, all) = samples.iter().fold((0.0, 0.0), |(sum, all), sample| {
            let weight = libm::exp(theta * (sample.wet - 1.0));
            (sum + weight * sample.wet, all + weight)
        });
        sum / all
    };
    let (mut low, mut high) = (-MOST_LEAN, MOST_LEAN);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if mean(middle) < wanted { low = middle } else { high = middle }
    }
    let theta = 0.5 * (low + high);
    (mean(theta) > wanted - SHORT).then_some(theta)
}

fn shelf(month: &PulseMonth, step: Span, least_mm: f64, leaning: bool) -> Shelf {
    let mut shelf = Shelf { samples: [const { Vec::new() }; 4], lean: [Some(0.0); SHARES.len()] };
    let Some((showers, end)) = series::drawn(month, SHELF_DAYS, 0) else { return shelf };
    let count = (end.0 / step.0) as usize;
    let mut steps: Vec<Sample> = vec![Sample { mean_mm_h: 0.0, wet: 0.0, pieces: Vec::new() }; count];
    series::each_within(&showers, end, step, |index, from, length, mm_h| {
        if let Some(sample) = steps.get_mut(index) {
            sample.pieces.push((from.0 as f64 / step.0 as f64, mm_h));
            let share = length.0 as f64 / step.0 as f64;
            sample.mean_mm_h += mm_h * share;
            sample.wet += if mm_h > 0.0 { share } else { 0.0 };
        }
    });
    let wet = |sample: &Sample| sample.mean_mm_h > 0.0 && sample.mean_mm_h * step.hours() >= least_mm;
    for index in 1..count.saturating_sub(1) {
        if wet(&steps[index]) {
            let place = usize::from(wet(&steps[index - 1])) + 2 * usize::from(wet(&steps[index + 1]));
            shelf.samples[place].push(steps[index].clone());
        }
    }
    for samples in &mut shelf.samples {
        samples.sort_by(|a, b| a.mean_mm_h.total_cmp(&b.mean_mm_h));
    }
    if leaning {
        let mut all = shelf.samples.concat();
        all.sort_by(|a, b| a.mean_mm_h.total_cmp(&b.mean_mm_h));
        shelf.lean = SHARES.map(|(depth, share)| lean(nearest(&all, depth, LEANING), share));
    }
    shelf
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_preference_meets_the_share() {
        let sample = |wet: f64| Sample { mean_mm_h: 1.0, wet, pieces: Vec::new() };
        let samples: Vec<Sample> = [0.1, 0.3, 0.5, 0.9, 1.0].map(sample).into();
        for wanted in [0.2, 0.56, 0.8, 0.97] {
            let theta = lean(&samples, wanted).unwrap();
            let weights = samples.iter().map(|sample| libm::exp(theta * sample.wet));
            let met = weights.clone().zip(&samples).map(|(weight, sample)| weight * sample.wet).sum::<f64>();
            assert!((met / weights.sum::<f64>() - wanted).abs() < 1e-6, "{wanted}");
        }
        // Their own mean needs none; what no choice among them can meet is met as far as it goes.
        assert!(lean(&samples, 0.56).unwrap().abs() < 1e-6 && lean(&samples, 0.05).unwrap() <= -29.9);
        assert_eq!(lean(&samples[..3], 0.7), None);
    }

    #[test]
    fn shares_grow_with_depth() {
        assert_eq!((wet_share(0.01), wet_share(0.254), wet_share(50.0)), (0.47, 0.65, 1.0));
        assert!((1..200).all(|i| wet_share(0.05 * f64::from(i)) <= wet_share(0.05 * f64::from(i + 1))));
    }
}
