//! Where draws are made: conditions in cells, each preferred by what it was found to hold.
//!
//! Numbers (normal ones within [`REACH`]) are cut into boxes, and places (weather) into strata from bad to good. A few pilot
//! draws in each cell tell what it adds to the mean; the cell that adds most is halved, along the number that matters most in it,
//! and so on, until none is left that adds much (adaptive stratification as in Press & Farrar, Computers in Physics 4, 1990, 190-195, but by boxes that are
//! halved where most is rather than along all of an axis). Every cell is looked at, so that a second way to be missed, on the
//! other side or in rare weather, is not passed by because the first was found sooner. A preference of one normal law
//! does that: it closes in on one of two sides and reports half of the truth with a narrow interval.

use rayon::prelude::*;

use crate::math::normal;
use crate::math::random::{Source, Stream};

/// A number on which a chance may depend: its law, and into how many cells it is cut before any is halved; 0 if the chance does
/// not depend on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// Standard normal.
    Normal(usize),
    /// Even between 0 and 1.
    Even(usize),
}

impl Axis {
    pub(super) fn parts(self) -> usize {
        match self {
            Axis::Normal(parts) | Axis::Even(parts) => parts,
        }
    }

    fn matters(self) -> bool {
        self.parts() > 0
    }

    /// The ends between which it is cut.
    fn ends(self) -> (f64, f64) {
        match self {
            Axis::Normal(_) => (-REACH, REACH),
            Axis::Even(_) => (0.0, 1.0),
        }
    }

    pub(super) fn density(self, value: f64) -> f64 {
        match self {
            Axis::Normal(_) => normal::density(value),
            Axis::Even(_) => 1.0,
        }
    }

    /// Its mean.
    pub(super) fn usual(self) -> f64 {
        let (from, to) = self.ends();
        0.5 * (from + to)
    }

    fn as_it_comes(self, stream: &mut Stream) -> f64 {
        match self {
            Axis::Normal(_) => stream.normal(),
            Axis::Even(_) => stream.uniform(),
        }
    }
}

/// Conditions as a place in a list (all alike likely) and independent numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Draw<const D: usize> {
    /// Place in the list.
    pub place: usize,
    /// The numbers.
    pub z: [f64; D],
    /// Ratio of the density as it comes to the density drawn from.
    pub weight: f64,
}

/// Cells reach so far, standard deviations: 2e-17 lies beyond, which only draws as they come meet.
pub const REACH: f64 = 8.5;

/// Pilot draws in each cell, one in each slice of each number: where only the first three numbers may matter, and where others do, so that few draws
/// meet a cell's fullest corner.
const PILOTS: [usize; 2] = [8, 16];
/// No cell is halved that holds less than this share of all that was found, nor along a side shorter than this share of the whole.
const SMALL: f64 = 1.0 / 4096.0;
const SHORT: f64 = 1.0 / 128.0;
/// What adds nothing at all counts as this much where slices are held against each other.
const NOTHING: f64 = 1e-300;
/// Cells halved in one go.
const BATCH: usize = 32;
/// Share of the preference that all cells have alike.
const ALIKE: f64 = 0.1;
/// A cell is taken to hold at least this share of what the fullest beside it does: few pilot draws may have missed its fullest corner. Where
/// only the first three numbers may matter, and where others do.
const BESIDE: [f64; 2] = [0.05, 0.15];

/// Shares of the places, the worst first, at which strata end.
const STRATA: [f64; 6] = [0.001, 0.005, 0.025, 0.1, 0.35, 1.0];
/// Places whose scores differ by no more than this factor are as good as alike.
const ALL_ALIKE: f64 = 2.0;

/// Places in strata. Within each, half of the draws take all places alike, half by their scores.
#[derive(Clone, Debug, PartialEq)]
pub struct Strata {
    /// The places, stratum by stratum.
    order: Vec<usize>,
    /// Where each stratum begins in that order, and the end of the last.
    ends: Vec<usize>,
    /// The stratum of each place, and its number in that order.
    of: Vec<usize>,
    at: Vec<usize>,
    /// Running sums of the scores, in that order, from the beginning of each stratum.
    sums: Vec<f64>,
}

impl Strata {
    /// All places in one.
    pub fn one(places: usize) -> Strata {
        Strata::new((0..places).collect(), vec![0, places], &vec![0.0; places])
    }

    /// Places by their scores, the highest first: a stratum of its own for each thousandth, two hundredth and so on.
    pub fn by_score(scores: &[f64]) -> Strata {
        let places = scores.len();
        let (low, high) = scores.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), s| (low.min(*s), high.max(*s)));
        if high <= ALL_ALIKE * low {
            return Strata::one(places);
        }
        let mut order: Vec<usize> = (0..places).collect();
        order.sort_by(|a, b| scores[*b].total_cmp(&scores[*a]).then(a.cmp(b)));
        let mut ends = vec![0];
        ends.extend(STRATA.map(|share| libm::ceil(share * places as f64) as usize));
        ends.dedup();
        Strata::new(order, ends, scores)
    }

    fn new(order: Vec<usize>, ends: Vec<usize>, scores: &[f64]) -> Strata {
        let (mut of, mut at) = (vec![0; order.len()], vec![0; order.len()]);
        let mut sums = Vec::with_capacity(order.len());
        for (stratum, ends) in ends.windows(2).enumerate() {
            let mut sum = 0.0;
            for place in &order[ends[0]..ends[1]] {
                (of[*place], at[*place]) = (stratum, sums.len());
                sum += scores[*place];
                sums.push(sum);
            }
        }
        Strata { order, ends, of, at, sums }
    }

    /// The place of a stratum that a number from 0 to 1 stands for: one of all alike in its lower half, by score in its upper.
    fn draw(&self, stratum: usize, u: f64) -> Standing {
        let (from, to) = (self.ends[stratum], self.ends[stratum + 1]);
        let total = self.sums[to - 1];
        let at = if u < 0.5 || total <= 0.0 {
            let share = if total > 0.0 { 2.0 * u } else { u };
            from + (share * (to - from) as f64) as usize
        } else {
            from + self.sums[from..to].partition_point(|sum| *sum <= (2.0 * u - 1.0) * total)
        };
        self.standing(stratum, at.min(to - 1))
    }

    /// A place that was drawn from all alike.
    fn any(&self, stream: &mut Stream) -> usize {
        ((stream.uniform() * self.of.len() as f64) as usize).min(self.of.len() - 1)
    }

    /// The share of a place.
    fn share(&self, place: usize) -> f64 {
        self.standing(self.of[place], self.at[place]).share
    }

    /// The place at number `at` of the order, in its stratum.
    fn standing(&self, stratum: usize, at: usize) -> Standing {
        let (from, to) = (self.ends[stratum], self.ends[stratum + 1]);
        let (alike, total) = (1.0 / (to - from) as f64, self.sums[to - 1]);
        let before = if at == from { 0.0 } else { self.sums[at - 1] };
        let drawn = if total > 0.0 { 0.5 * (alike + (self.sums[at] - before) / total) } else { alike };
        Standing { place: self.order[at], share: 1.0 / (self.of.len() as f64 * drawn) }
    }

    fn count(&self) -> usize {
        self.ends.len() - 1
    }
}

/// A place as it was drawn from its stratum.
#[derive(Clone, Copy, Debug)]
struct Standing {
    place: usize,
    /// Its chance among all places over its chance in the stratum.
    share: f64,
}

/// A box of conditions in one stratum.
#[derive(Clone, Debug, PartialEq)]
struct Cell<const D: usize> {
    stratum: usize,
    low: [f64; D],
    high: [f64; D],
    /// The number that matters most in it, by its pilot draws.
    along: usize,
    /// Root mean square of what its pilot draws say that it adds to the mean.
    adds: f64,
}

/// Cells with a preference among them.
#[derive(Clone, Debug, PartialEq)]
pub struct Cells<const D: usize> {
    strata: Strata,
    /// The numbers. Those that don't matter are drawn as they come.
    axes: [Axis; D],
    /// Stratum by stratum.
    cells: Vec<Cell<D>>,
    /// Where each stratum's cells begin, and the end of the last.
    begin: Vec<usize>,
    /// Running sums of the chances of the cells.
    sums: Vec<f64>,
    /// Share of the draws that are made as they come.
    defensive: f64,
}

impl<const D: usize> Cells<D> {
    /// Looks at `chance` in all cells, and closer at those that matter, with about `pilots` draws that are thrown away afterwards.
    pub fn explore(
        strata: Strata,
        axes: [Axis; D],
        defensive: f64,
        pilots: u64,
        source: &Source,
        chance: &(impl Fn(&Draw<D>) -> f64 + Sync),
    ) -> Cells<D> {
        let mut it = Cells { strata, axes, cells: Vec::new(), begin: Vec::new(), sums: Vec::new(), defensive };
        let mut first = it.first();
        it.look(&mut first, 0, source, chance);
        let mut looked = first.len();
        it.cells = first;
        let most = looked + pilots as usize / PILOTS[it.many()];
        while looked < most {
            let large = it.large(((most - looked) / 2).clamp(1, BATCH));
            if large.is_empty() {
                break;
            }
            let mut halves: Vec<Cell<D>> =
                large.iter().flat_map(|(cell, along)| it.cells[*cell].halved(*along)).collect();
            it.look(&mut halves, looked as u64, source, chance);
            looked += halves.len();
            for (pair, (cell, _)) in large.iter().enumerate() {
                it.cells[*cell] = halves[2 * pair].clone();
                it.cells.push(halves[2 * pair + 1].clone());
            }
        }
        it.prefer();
        it
    }

    /// Whether numbers beyond the third matter, as a place in [`PILOTS`] and [`BESIDE`].
    fn many(&self) -> usize {
        usize::from(self.axes.iter().skip(3).any(|axis| axis.matters()))
    }

    fn first(&self) -> Vec<Cell<D>> {
        let ends = self.axes.map(Axis::ends);
        let all = Cell { stratum: 0, low: ends.map(|it| it.0), high: ends.map(|it| it.1), along: 0, adds: 0.0 };
        let mut cells: Vec<Cell<D>> = (0..self.strata.count()).map(|stratum| Cell { stratum, ..all.clone() }).collect();
        for i in (0..D).filter(|i| self.axes[*i].matters()) {
            let parts = self.axes[i].parts();
            let (from, side) = (ends[i].0, (ends[i].1 - ends[i].0) / parts as f64);
            let cut = |cell: Cell<D>| {
                (0..parts).map(move |part| {
                    let mut one = cell.clone();
                    (one.low[i], one.high[i]) = (from + side * part as f64, from + side * (part + 1) as f64);
                    one
                })
            };
            cells = cells.into_iter().flat_map(cut).collect();
        }
        cells
    }

    /// Length of a cell's side as a share of the whole.
    fn side(&self, cell: &Cell<D>, i: usize) -> f64 {
        let (from, to) = self.axes[i].ends();
        (cell.high[i] - cell.low[i]) / (to - from)
    }

    /// The cells that add most and may be halved, at most so many, each with the number along which: the one that matters most
    /// unless that is short already, then the longest.
    fn large(&self, most: usize) -> Vec<(usize, usize)> {
        let total: f64 = self.cells.iter().map(|cell| cell.adds).sum();
        let may = |(index, cell): (usize, &Cell<D>)| {
            let sides = (0..D).filter(|i| self.axes[*i].matters()).map(|i| (self.side(cell, i), i));
            let longest = sides.fold((0.0, cell.along), |a, b| if b.0 > a.0 { b } else { a });
            let along = if self.side(cell, cell.along) > SHORT { cell.along } else { longest.1 };
            (cell.adds > SMALL * total && longest.0 > SHORT).then_some((index, along))
        };
        let mut large: Vec<(usize, usize)> = self.cells.iter().enumerate().filter_map(may).collect();
        large.sort_by(|a, b| self.cells[b.0].adds.total_cmp(&self.cells[a.0].adds).then(a.0.cmp(&b.0)));
        large.truncate(most);
        large
    }

    /// Makes pilot draws in each of these cells; `before` cells were looked at before them.
    fn look(&self, cells: &mut [Cell<D>], before: u64, source: &Source, chance: &(impl Fn(&Draw<D>) -> f64 + Sync)) {
        cells.par_iter_mut().enumerate().for_each(|(index, cell)| {
            let mut stream = source.stream(before + index as u64);
            // A Latin square: the place and each number take each slice once (McKay, Beckman & Conover, Technometrics 21, 1979).
            let pilots = PILOTS[self.many()];
            let places = shuffled(pilots, &mut stream);
            let slices: [Vec<usize>; D] = std::array::from_fn(|_| shuffled(pilots, &mut stream));
            let (mut square, mut upper_less_lower) = (0.0, [0.0; D]);
            for pilot in 0..pilots {
                let own = std::array::from_fn(|number: usize| slices[number][pilot]);
                let (draw, share) = self.within(cell, Some(places[pilot]), Some(own), &mut stream);
                let adds = share * self.mass(cell, &draw.z) * chance(&draw);
                square += adds * adds;
                let log = libm::log(adds.max(NOTHING));
                for (sum, slice) in upper_less_lower.iter_mut().zip(own) {
                    *sum += if slice < pilots / 2 { -log } else { log };
                }
            }
            let matters = |i: usize| if self.axes[i].matters() { libm::fabs(upper_less_lower[i]) } else { -1.0 };
            cell.along = (1..D).fold(0, |most, i| if matters(i) > matters(most) { i } else { most });
            cell.adds = libm::sqrt(square / pilots as f64);
        });
    }

    /// A draw within a cell: the place and the numbers that matter evenly, in the slices named if any are. Beside it the share of
    /// its place.
    fn within(
        &self,
        cell: &Cell<D>,
        place: Option<usize>,
        slices: Option<[usize; D]>,
        stream: &mut Stream,
    ) -> (Draw<D>, f64) {
        let sliced =
            |slice: Option<usize>, u: f64| slice.map_or(u, |slice| (slice as f64 + u) / PILOTS[self.many()] as f64);
        let Standing { place, share } = self.strata.draw(cell.stratum, sliced(place, stream.uniform()));
        let z = std::array::from_fn(|i| {
            if !self.axes[i].matters() {
                return self.axes[i].as_it_comes(stream);
            }
            let along = sliced(slices.map(|slices| slices[i]), stream.uniform());
            cell.low[i] + (cell.high[i] - cell.low[i]) * along
        });
        (Draw { place, z, weight: 1.0 }, share)
    }

    /// Probability that numbers as they come lie in a cell, were their density all over it that at `z`.
    fn mass(&self, cell: &Cell<D>, z: &[f64; D]) -> f64 {
        let sides = (0..D).filter(|i| self.axes[*i].matters());
        sides.map(|i| (cell.high[i] - cell.low[i]) * self.axes[i].density(z[i])).product()
    }

    /// Turns what the cells add into chances to be drawn from.
    fn prefer(&mut self) {
        self.cells.sort_by_key(|cell| cell.stratum);
        self.begin = (0..=self.strata.count()).map(|it| self.cells.partition_point(|cell| cell.stratum < it)).collect();
        let least = |cell: &Cell<D>| {
            let near = &self.cells[self.begin[cell.stratum]..self.begin[cell.stratum + 1]];
            let fullest = near.iter().filter(|other| other.touches(cell)).map(|other| other.adds).fold(0.0, f64::max);
            cell.adds.max(BESIDE[self.many()] * fullest)
        };
        let adds: Vec<f64> = self.cells.par_iter().map(least).collect();
        let (total, count) = (adds.iter().sum::<f64>(), adds.len() as f64);
        let mut sum = 0.0;
        self.sums = adds
            .iter()
            .map(|adds| {
                // Where no pilot draw was ever missed, all cells are alike.
                sum += if total > 0.0 { (1.0 - ALIKE) * adds / total + ALIKE / count } else { 1.0 / count };
                sum
            })
            .collect();
    }

    /// Draws conditions.
    pub fn draw(&self, stream: &mut Stream) -> Draw<D> {
        if stream.chance(self.defensive) {
            let place = self.strata.any(stream);
            let z = self.axes.map(|axis| axis.as_it_comes(stream));
            let draw = Draw { place, z, weight: 1.0 };
            let cell = self.cell_of(&draw);
            let share = self.strata.share(place);
            return Draw { weight: self.weight(cell, share, &draw.z), ..draw };
        }
        let u = stream.uniform();
        let cell = self.sums.partition_point(|sum| *sum <= u).min(self.cells.len() - 1);
        let (draw, share) = self.within(&self.cells[cell], None, None, stream);
        Draw { weight: self.weight(Some(cell), share, &draw.z), ..draw }
    }

    /// The cell that conditions lie in; none beyond the reach of all.
    fn cell_of(&self, draw: &Draw<D>) -> Option<usize> {
        let stratum = self.strata.of[draw.place];
        let holds = |index: &usize| {
            let cell = &self.cells[*index];
            (0..D).filter(|i| self.axes[*i].matters()).all(|i| (cell.low[i]..cell.high[i]).contains(&draw.z[i]))
        };
        (self.begin[stratum]..self.begin[stratum + 1]).find(holds)
    }

    /// Ratio of the density as it comes to the mixture drawn from; `share` is that of the place.
    fn weight(&self, cell: Option<usize>, share: f64, z: &[f64; D]) -> f64 {
        let preferred = cell.map_or(0.0, |cell| {
            let before = if cell == 0 { 0.0 } else { self.sums[cell - 1] };
            (self.sums[cell] - before) / (share * self.mass(&self.cells[cell], z))
        });
        1.0 / (self.defensive + (1.0 - self.defensive) * preferred)
    }

    /// The middle of the cell that adds most.
    pub fn worst(&self) -> [f64; D] {
        let worst = self.cells.iter().reduce(|a, b| if b.adds > a.adds { b } else { a });
        std::array::from_fn(|i| match worst {
            Some(cell) if self.axes[i].matters() => 0.5 * (cell.low[i] + cell.high[i]),
            _ => self.axes[i].usual(),
        })
    }
}

/// So many slices in random order.
fn shuffled(count: usize, stream: &mut Stream) -> Vec<usize> {
    let mut slices: Vec<usize> = (0..count).collect();
    for left in (1..count).rev() {
        slices.swap(left, (stream.uniform() * (left + 1) as f64) as usize);
    }
    slices
}

impl<const D: usize> Cell<D> {
    /// Whether two cells of a stratum have a point in common.
    fn touches(&self, other: &Cell<D>) -> bool {
        (0..D).all(|i| self.low[i] <= other.high[i] && other.low[i] <= self.high[i])
    }

    fn halved(&self, along: usize) -> [Cell<D>; 2] {
        let middle = 0.5 * (self.low[along] + self.high[along]);
        let (mut lower, mut upper) = (self.clone(), self.clone());
        (lower.high[along], upper.low[along]) = (middle, middle);
        [lower, upper]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Weighted back, draws have the law of conditions as they come: the weights have mean 1, the numbers mean 0 and variance 1,
    /// every place its share; whatever the preference (5 standard errors).
    #[test]
    fn weights_undo_the_preference() {
        let scores: Vec<f64> = (0..400).map(|place| if place % 100 == 7 { 1.0 } else { 1e-9 }).collect();
        let chance = |draw: &Draw<3>| {
            let bad = if draw.place % 100 == 7 { 0.0 } else { 1.5 };
            normal::tail(3.0 + bad - draw.z[0].abs()) * if draw.z[1] > 0.5 { 1.0 } else { 0.1 } * draw.z[2].powi(4)
        };
        let axes = [Axis::Normal(8), Axis::Normal(8), Axis::Even(2)];
        let source = Source::new(3, 0, "weights");
        let cells = Cells::explore(Strata::by_score(&scores), axes, 0.3, 2_000, &source, &chance);
        let n = 60_000;
        let draws: Vec<Draw<3>> = (0..n).map(|number| cells.draw(&mut source.stream(1 << 40 | number))).collect();
        let agrees = |what: &str, of: &dyn Fn(&Draw<3>) -> f64, wanted: f64| {
            let values: Vec<f64> = draws.iter().map(|draw| draw.weight * of(draw)).collect();
            let mean = values.iter().sum::<f64>() / n as f64;
            let square = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
            let error = (square / (n * (n - 1)) as f64).sqrt();
            assert!((mean - wanted).abs() < 5.0 * error, "{what}: {mean} against {wanted}, error {error}");
        };
        agrees("weight", &|_| 1.0, 1.0);
        agrees("bad places", &|draw| f64::from(u8::from(draw.place % 100 == 7)), 0.01);
        agrees("even", &|draw| draw.z[2], 0.5);
        agrees("even square", &|draw| draw.z[2] * draw.z[2], 1.0 / 3.0);
        for i in 0..2 {
            agrees("mean", &|draw| draw.z[i], 0.0);
            agrees("square", &|draw| draw.z[i] * draw.z[i], 1.0);
            agrees("far out", &|draw| f64::from(u8::from(draw.z[i] < -3.0)), normal::tail(3.0));
        }
        assert!(draws.iter().all(|draw| draw.weight <= 1.0 / 0.3 + 1e-12));
    }

    #[test]
    fn strata_go_from_bad_to_good() {
        let scores: Vec<f64> = (0..1_000).map(f64::from).collect();
        let strata = Strata::by_score(&scores);
        assert_eq!(strata.ends, [0, 1, 5, 25, 100, 350, 1_000]);
        assert_eq!((strata.order[0], strata.of[999], strata.of[0]), (999, 0, 5));
        assert_eq!(Strata::by_score(&[1.0, 1.5, 2.0]), Strata::one(3));
        assert_eq!(Strata::by_score(&[0.0, 0.0]), Strata::one(2));
        assert_eq!(Strata::by_score(&[1.0, 9.0]).ends, [0, 1, 2]);
    }
}
