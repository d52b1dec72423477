//! Rare misses: what no number of seasons would show, from few approaches that are chosen with care.
//!
//! The chance of an approach to go unnoticed is known for given conditions ([`Approach`]: exactly, or by particles without bias, whose
//! scatter is then part of every draw); what remains is its
//! mean over the conditions, and if misses come from a few bad ones (a dark mower far to the side in the rain), a plain
//! average never meets them. So conditions are drawn from a *defensive mixture* (Hesterberg, Technometrics 37, 1995,
//! 185-194): a share of the draws as they come, the others from cells of conditions that were found to be bad
//! ([`cells`]), and every draw is weighted by the ratio of the two densities. The weights are unbiased whatever the
//! preference, and none exceeds one over the defensive share.
//!
//! Conditions are weather and light of an approach, drawn from those of seasons played, and the path: pace and sideways
//! offset (normal, as the scenario has them), the phase of the sampling, and the random drift of sensors that have one (normal). The seasons' own weather is a sample, too: its
//! scatter from season to season is part of the interval where there are two seasons or more. All arrivals count alike, also
//! those at which a message opened the door: messages are taken as silent.

pub mod cells;
mod weigh;

use std::collections::HashMap;
use std::ops::Range;

use rayon::prelude::*;

use super::interval::Interval;
use cells::{Cells, Strata};
use weigh::{capped, halves_agree, if_known, weigh_draws};

use crate::engine::approach::{Approach, DRIFTS_MAX, NotWorkedOut, Outset, Path, Unnoticed};
use crate::engine::{Outside, Plan, PlanError};
use crate::math::random::Source;

pub use cells::{Axis, Draw};
pub use weigh::{EFFECTIVE_LEAST, RareEstimate};

/// What is to be estimated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RareSettings {
    /// Strategy, by index into the scenario's.
    pub strategy: usize,
    /// Seed.
    pub seed: u64,
    /// Seasons played for their weather.
    pub seasons: u64,
    /// Approaches worked out for the estimate, pilot draws apart.
    pub draws: u64,
    /// Share of the draws that are made as they come, above 0 and at most 1.
    pub defensive: f64,
    /// Confidence of the interval.
    pub confidence: f64,
}

/// The conditions that are averaged over.
#[derive(Clone, Copy, Debug)]
pub struct Conditions<'a, const D: usize> {
    /// Number of places.
    pub places: usize,
    /// What kind each place is of: those of a kind are so much alike that one tells what to expect of all.
    pub kinds: &'a [u32],
    /// The season that each place comes from, and how many there are; none if that is of no account.
    pub seasons: Option<(&'a [u32], u64)>,
    /// The numbers on which the chance may depend.
    pub axes: [Axis; D],
}

/// Estimates the mean of `chance` over conditions.
pub fn estimate<const D: usize>(
    conditions: &Conditions<D>,
    chance: impl Fn(&Draw<D>) -> f64 + Sync,
    settings: &RareSettings,
) -> RareEstimate {
    let draws = drawn(conditions, &chance, |draw| (chance(draw), ()), settings);
    let found = weigh_draws(&draws, |(chance, ())| *chance, conditions.seasons, settings.confidence).0;
    if_known(found, halves_agree(&draws, |(chance, ())| *chance))
}

/// The draws behind [`estimate`], each with its chance and what else was found. Cells are preferred by `roughly` the chance.
///
/// Places are told apart first: one of each kind is tried at the usual path and at the worst one over all places. All is done twice,
/// each time for half of the draws: where one half knows of a way to be missed that the other does not, they disagree.
fn drawn<const D: usize, C: Send>(
    conditions: &Conditions<D>,
    roughly: impl Fn(&Draw<D>) -> f64 + Sync,
    chance: impl Fn(&Draw<D>) -> (f64, C) + Sync,
    settings: &RareSettings,
) -> Vec<(Draw<D>, (f64, C))> {
    let source = |what: &str| Source::new(settings.seed, 0, &format!("rare conditions {what}"));
    let kinds = conditions.kinds.iter().max().map_or(0, |kind| *kind as usize + 1);
    let mut firsts = vec![0; kinds];
    (0..conditions.places).rev().for_each(|place| firsts[conditions.kinds[place] as usize] = place);
    let drawn = source("drawn");
    let half = |half: usize, numbers: Range<u64>| -> Vec<(Draw<D>, (f64, C))> {
        let explore = |strata: Strata, pilots: u64, what: &str| {
            let source = source(&format!("{what} {half}"));
            Cells::explore(strata, conditions.axes, settings.defensive, pilots, &source, &roughly)
        };
        let pilots = settings.draws.max(500);
        let worst = explore(Strata::one(conditions.places), pilots / 5, "over all places").worst();
        let score = |place: usize| -> f64 {
            let tried = [conditions.axes.map(Axis::usual), worst].map(|z| {
                let density: f64 = conditions.axes.iter().zip(z).map(|(axis, z)| axis.density(z)).product();
                density * roughly(&Draw { place, z, weight: 1.0 })
            });
            tried.iter().sum()
        };
        let of_kinds: Vec<f64> = firsts.par_iter().map(|place| score(*place)).collect();
        let scores: Vec<f64> = conditions.kinds.iter().map(|kind| of_kinds[*kind as usize]).collect();
        let cells = explore(Strata::by_score(&scores), 2 * pilots, "cell by cell");
        let draw = |number: u64| {
            let draw = cells.draw(&mut drawn.stream(number));
            let found = chance(&draw);
            (draw, found)
        };
        numbers.into_par_iter().map(draw).collect()
    };
    let middle = settings.draws / 2;
    let mut draws = half(0, 0..middle);
    draws.extend(half(1, middle..settings.draws));
    draws
}

/// Sums up draws whose chances are nowhere below `floor`. What exceeds it is estimated: the weights of a part that is
/// the same everywhere would only add their own noise. Its interval is withheld where that of the noise alone is.
fn above_floor<const D: usize>(
    draws: &[(Draw<D>, (f64, Unnoticed))],
    floor: f64,
    alone: &RareEstimate,
    seasons: Option<(&[u32], u64)>,
    confidence: f64,
) -> RareEstimate {
    let (above, _) = weigh_draws(draws, |(_, found)| found.with_common - floor, seasons, confidence);
    let interval = above.interval.filter(|_| alone.interval.is_some());
    let interval = interval.map(|it| Interval { low: floor + it.low, high: floor + it.high, ..it });
    capped(RareEstimate { mean: floor + above.mean, interval, ..above })
}

/// How rarely a strategy misses, and under which conditions.
#[derive(Clone, Debug, PartialEq)]
pub struct RareMisses {
    /// Chance per approach by the noise of the readings alone.
    pub chance: RareEstimate,
    /// The same with the causes that sensors share: the beta factor, and no approach below the floor.
    pub floored: RareEstimate,
    /// Approaches of the seasons whose weather was used: all that arrived. Messages, visitors and faults are not part of the
    /// chance, so what they did to an arrival takes none away.
    pub approaches: u64,
    /// Seasons they come from.
    pub seasons: u64,
    /// Shares of the expected misses: in rain; in bright light (10 klx and more: clear sky by day); with an offset to the
    /// side beyond two standard deviations; at a pace beyond two standard deviations; with a random drift of some sensor beyond two.
    pub shares: [f64; 5],
    /// Share of the chance by which it may be off because detectors' sums are kept to steps; 0 where they are not.
    pub by_steps: f64,
    /// How many particles stand for the noise of each approach; none where it is integrated out.
    pub particles: Option<usize>,
    /// Share of the draws in which all particles died out. Their chance counts as 0, for which the others make up in the mean; where it is
    /// many that few others make up for, the mean is likely too small.
    pub died_out: f64,
    /// Whether that may hide more of the chance than an interval would bear.
    pub dies_out: bool,
}

impl RareMisses {
    /// Expected misses per season by one of its chances per approach, with the interval's ends.
    pub fn per_season(&self, chance: &RareEstimate) -> (f64, Option<(f64, f64)>) {
        let each = self.approaches as f64 / self.seasons as f64;
        (each * chance.mean, chance.interval.map(|it| (each * it.low, each * it.high)))
    }
}

/// Light above which it counts as bright, klx: some of a clear day's 100, more than any room (common practice).
const BRIGHT_KLUX: f64 = 10.0;

/// In no more of the draws than this may all particles die out, for an interval (common practice). Draws count alike, whatever they weigh: where
/// they come in proportion to what they add, each that dies out hides about as much.
const DIED_OUT_AT_MOST: f64 = 0.02;

/// The chance of an approach to go unnoticed, over the weather of seasons and the spread of paths, or why it can't be worked out.
///
/// # Errors
/// If the weather can't be had.
pub fn rare_misses(plan: &Plan, settings: &RareSettings) -> Result<Result<RareMisses, NotWorkedOut>, PlanError> {
    let approach = match Approach::new(plan, settings.strategy) {
        Ok(approach) => approach,
        Err(reason) => return Ok(Err(reason)),
    };
    let by_season = season_outsets(plan, settings)?;
    let season = |(season, outsets): (usize, &Vec<Outset>)| vec![season as u32; outsets.len()];
    let season_of: Vec<u32> = by_season.iter().enumerate().flat_map(season).collect();
    let outsets = by_season.concat();
    if outsets.is_empty() {
        return Ok(Err(NotWorkedOut::NoArrival));
    }
    let seasons = Some((&season_of[..], settings.seasons));
    let chance = |draw: &Draw<PATH>| {
        let found = approach.unnoticed(&outsets[draw.place], &path_of(plan, draw.z));
        (found.alone, found)
    };
    let kinds = kinds(&outsets);
    let axes = cut_axes(plan, &approach);
    let conditions = Conditions { places: outsets.len(), kinds: &kinds, seasons, axes };
    let roughly = |draw: &Draw<PATH>| approach.roughly_unnoticed(&outsets[draw.place], &path_of(plan, draw.z));
    let draws = drawn(&conditions, roughly, chance, settings);
    let (chance, values) = weigh_draws(&draws, |(alone, _)| *alone, seasons, settings.confidence);
    let died_out = draws.iter().filter(|(_, (_, found))| found.died_out).count() as f64 / draws.len().max(1) as f64;
    let dies_out = died_out > DIED_OUT_AT_MOST;
    let chance = if_known(chance, !dies_out && halves_agree(&draws, |(alone, _)| *alone));
    let floored = above_floor(&draws, plan.scenario.common_cause.floor, &chance, seasons, settings.confidence);
    let total: f64 = values.iter().sum();
    let share = |holds: &dyn Fn(&Draw<PATH>) -> bool| {
        let part: f64 = draws.iter().zip(&values).filter(|((draw, _), _)| holds(draw)).map(|(_, value)| value).sum();
        // An empty sum is minus nought.
        if total > 0.0 { part.abs() / total } else { 0.0 }
    };
    let shares = [
        share(&|draw| outsets[draw.place].sky.rain_mm_h > 0.0),
        share(&|draw| outsets[draw.place].sky.light_klux >= BRIGHT_KLUX),
        share(&|draw| draw.z[1].abs() > 2.0),
        share(&|draw| draw.z[0].abs() > 2.0),
        share(&|draw| draw.z[3..].iter().take(approach.drifting().len()).any(|drift| drift.abs() > 2.0)),
    ];
    let off: f64 = draws.iter().zip(&values).map(|((_, (_, found)), value)| found.by_steps * value).sum();
    let by_steps = if total > 0.0 { off / total } else { 0.0 };
    let approaches = outsets.len() as u64;
    Ok(Ok(RareMisses {
        chance,
        floored,
        approaches,
        seasons: settings.seasons,
        shares,
        by_steps,
        particles: approach.particles(),
        died_out,
        dies_out,
    }))
}

/// What held at the beginning of all approaches of each of the seasons asked for, one for each arrival.
///
/// # Errors
/// If the weather can't be had.
pub fn season_outsets(plan: &Plan, settings: &RareSettings) -> Result<Vec<Vec<Outset>>, PlanError> {
    (0..settings.seasons)
        .into_par_iter()
        .map(|season| {
            let outside = Outside::draw(plan, settings.seed, season)?;
            Ok(crate::engine::approach::outsets(plan, &outside, settings.strategy, settings.seed))
        })
        .collect()
}

/// What kind of weather and light each approach has: alike in rain, dew, light, temperature, where the sun stands, and how long the
/// season has lasted.
pub fn kinds(outsets: &[Outset]) -> Vec<u32> {
    let doublings = |value: f64| if value > 0.0 { libm::floor(libm::log2(value)) as i32 } else { i32::MIN };
    let steps = |value: f64, step: f64| libm::floor(value / step) as i32;
    let mut known = HashMap::new();
    let kind = |Outset { sky, short }: &Outset| {
        let sun = sky
            .sun
            .filter(|_| sky.direct_klux > 0.0)
            .map(|(yaw, elevation)| (steps(yaw, 30.0), steps(elevation, 15.0)));
        let light = (doublings(sky.light_klux), doublings(sky.direct_klux), sun);
        let air = (steps(sky.temperature_c, 8.0), steps(sky.humidity, 0.25));
        let next = known.len() as u32;
        *known.entry((*short, sky.dew, doublings(sky.rain_mm_h), light, air, steps(sky.days, 28.0))).or_insert(next)
    };
    outsets.iter().map(kind).collect()
}

/// Cells that conditions are cut into before any is halved, at most, where sensors drift.
const CELLS_MAX: usize = 512;

/// The numbers of [`path_of`], cut as finely as few cells allow: drifts are one number each, and the rest leaves them what it does not take.
fn cut_axes(plan: &Plan, approach: &Approach) -> [Axis; PATH] {
    let drifting = approach.drifting().len();
    let [pace, sideways, phase] = match drifting {
        0 | 1 => [8, 16, 2],
        2 => [4, 16, 1],
        _ => [2, 8, 1],
    };
    let cut = |drift: usize| path_axes(plan, approach, [pace, sideways, phase, drift]);
    let cells = |axes: &[Axis]| axes.iter().map(|axis| axis.parts().max(1)).product::<usize>();
    [8, 4].into_iter().map(cut).find(|axes| cells(axes) <= CELLS_MAX).unwrap_or_else(|| cut(2))
}

/// How many numbers say what a path is like.
pub const PATH: usize = 3 + DRIFTS_MAX;

/// The numbers of [`path_of`], cut into so many parts each (the drifts alike) where they vary at all.
pub fn path_axes(plan: &Plan, approach: &Approach, [pace, sideways, phase, drift]: [usize; 4]) -> [Axis; PATH] {
    let way = plan.scenario.mower.approach;
    let varies = |parts: usize, varies: bool| if varies { parts } else { 0 };
    let mut axes = [Axis::Normal(0); PATH];
    axes[0] = Axis::Normal(varies(pace, way.speed_spread > 0.0));
    axes[1] = Axis::Normal(varies(sideways, way.sideways_m > 0.0));
    axes[2] = Axis::Even(phase);
    axes[3..].iter_mut().take(approach.drifting().len()).for_each(|axis| *axis = Axis::Normal(drift));
    axes
}

/// The path that standard normal numbers for pace, offset and drifts and an even one for the phase stand for.
pub fn path_of(plan: &Plan, [pace, sideways, phase, drifts @ ..]: [f64; PATH]) -> Path {
    let way = plan.scenario.mower.approach;
    Path { pace: way.pace(pace), sideways_m: way.sideways_m * sideways, phase, drifts }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::normal;

    const SETTINGS: RareSettings =
        RareSettings { strategy: 0, seed: 5, seasons: 0, draws: 4_000, defensive: 0.3, confidence: 0.95 };

    fn places<const D: usize>(kinds: &[u32]) -> Conditions<'_, D> {
        Conditions { places: kinds.len(), kinds, seasons: None, axes: [Axis::Normal(16); D] }
    }

    /// P(Z > c) and P(|Z| > c) by draws, against the exact tail down to 1e-12 (values of the normal tail at 3, 4.5, 6, 7), for
    /// twenty seeds each: all within 4.5 standard errors and with an error of some percent; a second number that does not
    /// matter is left alone. With two sides, each seed must find both.
    #[test]
    fn normal_tails() {
        for (c, tail) in [(3.0, 1.349_898e-3), (4.5, 3.397_673e-6), (6.0, 9.865_876e-10), (7.0, 1.279_813e-12)] {
            // A steep but soft step, as a miss probability is: its mean is that of a slightly wider tail.
            let soft = 0.3;
            let exact = normal::tail(c / libm::sqrt(1.0 + soft * soft));
            assert!(exact > tail);
            for (sides, seed) in (0..40).map(|it| (1 + it % 2, it)) {
                let of = |z: f64| normal::cdf((z - c) / soft);
                let chance = |draw: &Draw<2>| of(draw.z[0]) + if sides == 2 { of(-draw.z[0]) } else { 0.0 };
                let exact = f64::from(sides) * exact;
                let settings = RareSettings { seed: u64::from(seed as u8), ..SETTINGS };
                let got = estimate(&places(&[0; 10]), |draw| chance(draw), &settings);
                assert!((got.mean - exact).abs() < 4.5 * got.error, "{c}, {sides}: {got:?} against {exact}");
                assert!(got.error < 0.05 * exact && got.effective > 800.0, "{c}, {sides}: {got:?}");
                assert!(got.heaviest <= 1.0 / SETTINGS.defensive + 1e-12);
            }
        }
    }

    /// Two ways to be missed, one of them narrow and off the axes: both are found.
    #[test]
    fn two_ways_to_be_missed() {
        let chance = |draw: &Draw<2>| {
            let [pace, side] = draw.z;
            normal::tail(6.0 + 0.5 * pace - side) + 0.2 * normal::tail(9.0 + pace + side)
        };
        let tail = |c: f64, slopes: f64| normal::tail(c / libm::sqrt(1.0 + slopes));
        let exact = tail(6.0, 1.25) + 0.2 * tail(9.0, 2.0);
        for seed in 0..20 {
            let got = estimate(&places(&[0; 30]), chance, &RareSettings { seed, ..SETTINGS });
            assert!((got.mean - exact).abs() < 4.5 * got.error, "{got:?} against {exact}");
            assert!(got.error < 0.06 * exact, "{got:?}");
        }
    }

    /// One bad place in five hundred, or in twenty thousand, decides; its share is found.
    #[test]
    fn a_bad_place() {
        for (count, seed) in (0..10).flat_map(|seed| [(500, seed), (20_000, seed)]) {
            let kinds: Vec<u32> = (0..count).collect();
            let chance = |draw: &Draw<1>| if draw.place == 321 { normal::tail(4.0 - draw.z[0]) } else { 1e-30 };
            let got = estimate(&places(&kinds), chance, &RareSettings { seed, ..SETTINGS });
            let exact = normal::tail(4.0 / std::f64::consts::SQRT_2) / f64::from(count);
            assert!((got.mean - exact).abs() < 4.5 * got.error, "{got:?} against {exact}");
            assert!(got.error < 0.15 * exact, "{got:?}");
        }
    }

    /// The 95 % interval holds the truth in 93 to 97 % of repeats, with one side and with two (2,000 repeats: the bounds are 4
    /// standard errors of 0.5 %).
    #[test]
    fn intervals_cover() {
        for sides in [1, 2] {
            let exact = f64::from(sides) * normal::tail(4.0 / libm::sqrt(1.25));
            let covers = |seed: u64| {
                let settings = RareSettings { seed, draws: 600, ..SETTINGS };
                let of = |z: f64| normal::cdf((z - 4.0) / 0.5);
                let both = |z: f64| of(z) + if sides == 2 { of(-z) } else { 0.0 };
                let got = estimate::<1>(&places(&[0]), |draw| both(draw.z[0]), &settings);
                got.interval.is_some_and(|interval| interval.low <= exact && exact <= interval.high)
            };
            let share = (0..2_000).filter(|seed| covers(*seed)).count() as f64 / 2_000.0;
            assert!((0.93..=0.97).contains(&share), "{sides}: {share}");
        }
    }

    /// A chance that is the same under all conditions needs no draws: weights add nothing to it, and it is never above 1.
    #[test]
    fn a_constant_chance_is_exact() {
        for chance in [1.0, 0.3] {
            let settings = RareSettings { seed: 9, ..SETTINGS };
            let got = estimate::<2>(&places(&[0; 7]), |_| chance, &settings);
            let interval = got.interval.expect("enough draws");
            assert!((got.mean - chance).abs() < 1e-9, "{got:?}");
            assert!(interval.high <= 1.0 && interval.high - interval.low < 1e-9, "{got:?}");
        }
    }
}
