//! The detectors of one sensor as a finite automaton over its readings: with it the noise of a sample can be integrated out
//! also where several detectors share the sensor's readings, or a rule asks for more than any one of them.
//!
//! Nothing about detectors is written a second time: the states are [`DetectorState`]s, and what a reading does to them is found
//! by feeding them one. For levels and medians it only matters between which levels a reading lies, so that one reading of each
//! kind tells all, and the automaton is exact. The sum of a CUSUM or of a likelihood ratio is a number: it is kept to multiples
//! of a step, and what falls between two of them is shared out so that its mean stays (Brook & Evans, Biometrika 59, 1972,
//! 539-549, put it into the cell it falls into). Where readings and reference lie on a common grid, as with most digital sensors,
//! the sums do, too, and nothing is shared out; a grid much finer than the limit is taken as one of such steps.

use std::collections::HashMap;

use super::detector::DetectorState;
use super::law::{Boring, Law, Reading};
use super::statistic::{Frame, Levels};
use crate::math::partition::alike;
use crate::scenario::strategy::{Detector, Dropped, Statistic};

/// Most states of the detectors of one sensor.
pub const STATES_MAX: usize = 4_096;

/// Most moves, states times kinds of readings.
const MOVES_MAX: usize = 3_000_000;

/// Most readings of a grid that are told apart.
const READINGS_MAX: usize = 1_500;

/// Steps that the whole way of a sum without a grid is divided into, at a fineness of 1.
const STEPS: f64 = 24.0;

/// A limit lies half-way between two steps: where a sum is rounded to them, it passes it as if it were not (Brook & Evans).
const HALF: f64 = 0.5;

/// Limits below this count as this where steps are chosen by them, in reading units.
const LIMIT_LEAST: f64 = 1e-3;

/// A multiple of a step counts as one up to this share of the step: sums of decimal fractions carry rounding errors.
const ON_GRID: f64 = 1e-6;

/// A fineness for automata that only show where to look.
pub const ROUGHLY: u32 = 0;

/// Why detectors have no automaton.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unfit {
    /// The detector of this place in the list takes a statistic that remembers the readings themselves.
    Statistic(usize),
    /// More than one of them keeps a sum.
    Sums,
    /// They have too many states.
    Large,
}

/// Where a reading leads: to one state, or in part to another one.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Move {
    to: u32,
    also: u32,
    /// Share that goes to `also`.
    share: f64,
}

/// Readings of one kind that lie next to each other.
#[derive(Clone, Copy, Debug)]
struct Piece {
    readings: Boring,
    kind: u32,
    /// Raw values that are reported as one of them, from and to below.
    raw: (f64, f64),
    /// Whether "far" is one of them.
    far: bool,
}

/// The detectors of one sensor.
#[derive(Clone, Debug)]
pub struct Automaton {
    pieces: Vec<Piece>,
    /// Number of kinds; the kind of having no reading is one of them.
    kinds: usize,
    nothing: u32,
    /// Which detectors are on in each state, as bits by their places in the list.
    on: Vec<u64>,
    exact: bool,
    /// The moves of each state, kinds that lie next to each other and lead to the same in one, and where each state's begin.
    runs: Vec<Run>,
    runs_of: Vec<usize>,
}

/// Kinds of readings that lie next to each other and lead to the same.
#[derive(Clone, Copy, Debug)]
struct Run {
    first: u32,
    end: u32,
    leads: Move,
}

/// What a sample may be: the probability of each kind of reading. Belongs to one automaton, for it keeps what it worked out.
#[derive(Clone, Debug, Default)]
pub struct Odds {
    of: Vec<f64>,
    /// Those of all kinds up to each, itself left out, and from each on.
    before: Vec<f64>,
    from: Vec<f64>,
    /// How far spurious returns from here on have gone by the two ends of each piece.
    spurious: Option<(f64, Vec<(f64, f64)>)>,
}

impl Odds {
    /// The probability of each kind of reading.
    pub fn of(&self) -> &[f64] {
        &self.of
    }
}

impl Automaton {
    /// The automaton of `detectors`, which all listen to the sensor of this frame, with their run rules or, `shorter`, with one
    /// sample less to go on; sums are kept to steps as many times finer as `fineness` says, or to the widest steps even on a grid of
    /// their own ([`ROUGHLY`]). `ends` says which of them being on, as bits by their places, is the end, so that nothing after it is
    /// asked for.
    ///
    /// # Errors
    /// If there is none: see [`Unfit`].
    pub fn new(
        detectors: &[&Detector],
        frame: &Frame,
        shorter: bool,
        fineness: u32,
        ends: impl Fn(u64) -> bool,
    ) -> Result<Automaton, Unfit> {
        if let Some(place) = detectors.iter().position(|detector| remembers_readings(detector)) {
            return Err(Unfit::Statistic(place));
        }
        let mut sums = detectors.iter().filter_map(|detector| Steps::of(detector, frame, fineness));
        let step = sums.next();
        if sums.next().is_some() {
            return Err(Unfit::Sums);
        }
        let (readings, all_told) = match &step {
            Some(steps) => grid(frame, steps)?,
            None => (by_levels(detectors, frame), true),
        };
        let start: Vec<DetectorState> = detectors
            .iter()
            .map(|detector| {
                let mut state = DetectorState::new(detector, frame);
                state.shorten(shorter);
                state
            })
            .collect();
        let mut explored = Explored { steps: step, exact: all_told, numbers: HashMap::new(), found: Vec::new() };
        explored.number(start)?;
        let kinds = readings.len() + 1;
        let (mut moves, mut on) = (Vec::new(), Vec::new());
        while on.len() < explored.found.len() {
            let from = explored.found[on.len()].clone();
            let bits = on_bits(&from);
            on.push(bits);
            if moves.len() > MOVES_MAX {
                return Err(Unfit::Large);
            }
            let here = (on.len() - 1) as u32;
            for place in 0..kinds {
                let reading = readings.get(place).map_or(Reading::Nothing, |(_, value)| Reading::Value(*value));
                moves.push(if ends(bits) {
                    Move { to: here, also: here, share: 0.0 }
                } else {
                    explored.fed(&from, reading)?
                });
            }
        }
        let raw = Raw { kinds, moves, on };
        let (kind_of, raw) = raw.with_alike_readings_merged();
        // Of sums hardly any two are alike.
        let merged = if step.is_some() { raw } else { raw.with_alike_states_merged() };
        let mut pieces: Vec<Piece> = Vec::new();
        for ((readings, _), kind) in readings.into_iter().zip(&kind_of) {
            match pieces.last_mut() {
                Some(last) if last.kind == *kind => {
                    (last.readings.high, last.readings.high_included) = (readings.high, readings.high_included);
                }
                _ => pieces.push(Piece { readings, kind: *kind, raw: (0.0, 0.0), far: false }),
            }
        }
        for piece in &mut pieces {
            piece.raw = Law::raw_values(&piece.readings, frame.resolution);
            piece.far = piece.readings.contains(Reading::Value(f64::INFINITY));
        }
        let nothing = kind_of[kinds - 1];
        let Raw { kinds, moves, on } = merged;
        let (mut runs, mut runs_of) = (Vec::<Run>::new(), vec![0]);
        for of_state in moves.chunks(kinds) {
            let begin = runs.len();
            for (kind, leads) in of_state.iter().enumerate() {
                let end = kind as u32 + 1;
                match runs[begin..].last_mut() {
                    Some(run) if run.leads == *leads => run.end = end,
                    _ => runs.push(Run { first: kind as u32, end, leads: *leads }),
                }
            }
            runs_of.push(runs.len());
        }
        Ok(Automaton { pieces, kinds, nothing, on, exact: explored.exact, runs, runs_of })
    }

    /// Number of states; the first is that of detectors that are off and have seen nothing.
    pub fn states(&self) -> usize {
        self.on.len()
    }

    /// Which detectors are on in a state, as bits by their places in the list.
    pub fn on(&self, state: usize) -> u64 {
        self.on[state]
    }

    /// Whether it is exact: no sum was shared out between two steps, and all readings of the sensor are told apart.
    pub fn is_exact(&self) -> bool {
        self.exact
    }

    /// What a sample of this law may be, each kind of reading accurate by itself.
    pub fn odds(&self, law: &Law, odds: &mut Odds) {
        let Odds { of, before, from, spurious } = odds;
        of.clear();
        of.resize(self.kinds, 0.0);
        of[self.nothing as usize] = law.nothing_probability();
        law.add_noise_between(self.pieces.iter().map(|piece| (piece.raw, piece.kind as usize)), of);
        if law.spurious.weight > 0.0 {
            let (lowest, highest) = law.raw_range();
            if spurious.as_ref().is_none_or(|(low, _)| *low != law.spurious.low) {
                let gone = |raw: f64| law.spurious.gone_by(raw.clamp(lowest, highest));
                let ends = self.pieces.iter().map(|it| (gone(it.raw.0), gone(it.raw.1)));
                *spurious = Some((law.spurious.low, ends.collect()));
            }
            let all = law.spurious.gone_by(law.spurious.high);
            let ends = spurious.iter().flat_map(|(_, ends)| ends);
            for (piece, (from, to)) in self.pieces.iter().zip(ends) {
                of[piece.kind as usize] += law.spurious.weight * (to.min(all) - from.min(all)) / all;
            }
        }
        for piece in self.pieces.iter().filter(|piece| piece.far) {
            of[piece.kind as usize] += law.far_probability();
        }
        let sums = |sum: &mut f64, p: f64| {
            let now = *sum;
            *sum += p;
            Some(now)
        };
        before.clear();
        before.extend(of.iter().copied().chain([0.0]).scan(0.0, sums));
        from.clear();
        from.extend(of.iter().rev().copied().chain([0.0]).scan(0.0, sums));
        from.reverse();
        debug_assert!((before[self.kinds] - 1.0).abs() < 1e-9, "{} of all readings are told apart", before[self.kinds]);
    }

    fn runs(&self, state: usize) -> &[Run] {
        &self.runs[self.runs_of[state]..self.runs_of[state + 1]]
    }

    /// The kinds of readings that do not leave a state as it is, ascending.
    pub fn moved_by(&self, state: usize) -> impl Iterator<Item = usize> {
        let moves = move |run: &&Run| run.leads.to as usize != state || run.leads.share != 0.0;
        self.runs(state).iter().filter(moves).flat_map(|run| run.first as usize..run.end as usize)
    }

    /// What a sample of these odds makes of `mass` in `state`: tells `put` each state that some of it goes to, and how much.
    pub fn pass(&self, state: usize, mass: f64, odds: &Odds, mut put: impl FnMut(usize, f64)) {
        for Run { first, end, leads } in self.runs(state) {
            let (first, end) = (*first as usize, *end as usize);
            // Each sum from the side on which it is accurate.
            let p = if first == 0 {
                odds.before[end]
            } else if end == self.kinds {
                odds.from[first]
            } else {
                odds.of[first..end].iter().sum()
            };
            let passed = mass * p;
            put(leads.to as usize, passed * (1.0 - leads.share));
            if leads.share > 0.0 {
                put(leads.also as usize, passed * leads.share);
            }
        }
    }
}

/// Whether a detector remembers more of its readings than on which side of its levels they lay, or one sum.
fn remembers_readings(detector: &Detector) -> bool {
    match detector.statistic {
        Statistic::Level | Statistic::Cusum { .. } | Statistic::LikelihoodRatio(_) => false,
        // A median that begins anew is not full for a time.
        Statistic::MovingMedian(n) => n > 1 && detector.dropped == Dropped::Reset,
        Statistic::MovingMean(n) => n > 1,
        Statistic::ApproachRate(_) | Statistic::Ewma { .. } => true,
    }
}

/// The steps to which a sum is kept.
#[derive(Clone, Copy, Debug)]
struct Steps {
    width: f64,
    /// Beyond so many the sum counts as this many.
    most: f64,
    /// What one of them is worth in readings, and the reading that adds nothing.
    reading: f64,
    reference: f64,
}

impl Steps {
    /// Those for the sum of a detector; none for one that keeps none.
    fn of(detector: &Detector, frame: &Frame, fineness: u32) -> Option<Steps> {
        let grid = frame.resolution;
        let Levels { on, off, .. } = Levels::of(detector, grid);
        let levels = [on, off];
        // Roughly, no grid is followed.
        let own_grid = (fineness != ROUGHLY).then_some(grid);
        let parts = f64::from(fineness.max(1));
        match detector.statistic {
            Statistic::Cusum { limit } => {
                let width =
                    own_grid.and_then(|grid| whole_part(grid, &levels)).filter(|width| limit / width < 5.0 * STEPS);
                let width = width.unwrap_or(limit.max(LIMIT_LEAST) / (STEPS * parts + HALF));
                // A sum beyond its limit speaks until the rule is complete. It grows on where samples without a reading keep the rule
                // from it; from so far up not even as many readings as the rule looks at bring it back.
                let readings = detector.rule.n.max(detector.release.n) as f64;
                let largest = if frame.farthest.is_finite() { frame.farthest } else { 1.0 };
                let most =
                    limit + readings * levels.map(|level| level.max(largest - level)).into_iter().fold(0.0, f64::max);
                Some(Steps { width, most: libm::ceil(most / width), reading: width, reference: levels[0] })
            }
            Statistic::LikelihoodRatio(test) => {
                let (accept, reject) = test.bounds();
                let slope = libm::fabs(test.present - test.absent) / (test.spread * test.spread);
                let middle = 0.5 * (test.present + test.absent);
                let all = accept - reject;
                let width = own_grid
                    .and_then(|grid| whole_part(grid, &[middle]))
                    .map(|part| slope * part)
                    .filter(|it| all / it < 10.0 * STEPS);
                let steps_up = libm::round(3.0 * STEPS * parts * accept / all);
                let width = width.unwrap_or(accept / (steps_up + HALF));
                Some(Steps { width, most: f64::INFINITY, reading: width / slope, reference: middle })
            }
            _ => None,
        }
    }
}

/// The largest whole part of a grid's step of which all levels are multiples; none without a grid, or where it would take more than
/// ten parts.
fn whole_part(grid: f64, levels: &[f64]) -> Option<f64> {
    let fits = |parts: &f64| {
        levels.iter().all(|level| {
            let steps = level * parts / grid;
            libm::fabs(steps - steps.round()) < ON_GRID
        })
    };
    (1..=10).map(f64::from).find(fits).map(|parts| grid / parts).filter(|_| grid > 0.0)
}

/// Readings that do the same to every detector, each with one of them, for detectors that only ask on which side of a level it
/// is.
fn by_levels(detectors: &[&Detector], frame: &Frame) -> Vec<(Boring, f64)> {
    let all: Vec<Levels> = detectors.iter().map(|detector| Levels::of(detector, frame.resolution)).collect();
    let mut levels: Vec<f64> = all.iter().flat_map(|it| [it.on, it.off]).filter(|level| level.is_finite()).collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup();
    // The levels themselves, what lies between them and beyond, and "far".
    let between = |low: f64, high: f64| Boring { low, low_included: false, high, high_included: false, nothing: false };
    let mut found = Vec::new();
    let mut low = f64::NEG_INFINITY;
    for level in levels {
        found.push((between(low, level), if low.is_finite() { 0.5 * (low + level) } else { level - 1.0 }));
        found.push((at(level), level));
        low = level;
    }
    found.push((between(low, f64::INFINITY), if low.is_finite() { low + 1.0 } else { 0.0 }));
    found.push((at(f64::INFINITY), f64::INFINITY));
    let says = |value: f64| -> Vec<[bool; 2]> {
        all.iter().map(|levels| [false, true].map(|on| levels.speaks(value, on))).collect()
    };
    let mut kept: Vec<(Boring, f64)> = Vec::new();
    for (readings, value) in found {
        match kept.last_mut() {
            Some((last, before)) if says(*before) == says(value) => {
                (last.high, last.high_included) = (readings.high, readings.high_included);
            }
            _ => kept.push((readings, value)),
        }
    }
    kept
}

/// One reading alone.
fn at(value: f64) -> Boring {
    Boring { low: value, low_included: true, high: value, high_included: true, nothing: false }
}

/// All readings of a ranger, and whether each is by itself. Where its own grid is finer than what the sum is kept to, or it has none,
/// stretches with their middles stand for them, laid so that a middle is a whole number of the sum's steps from its reference.
fn grid(frame: &Frame, steps: &Steps) -> Result<(Vec<(Boring, f64)>, bool), Unfit> {
    // A beam says 0 or 1.
    if !frame.farthest.is_finite() {
        return Ok((vec![(at(0.0), 0.0), (at(1.0), 1.0)], true));
    }
    let own = frame.resolution;
    let told = own > 0.0 && own > steps.reading * (1.0 - ON_GRID);
    let width = if told { own } else { steps.reading };
    if frame.farthest / width > READINGS_MAX as f64 {
        return Err(Unfit::Large);
    }
    let mut found: Vec<(Boring, f64)> = if told {
        let count = libm::floor(frame.farthest / width + ON_GRID) as usize;
        (0..=count).map(|step| width * step as f64).map(|it| (at(it), it)).collect()
    } else {
        let place = |reading: f64| (reading - steps.reference) / width;
        let (first, last) = (libm::floor(place(0.0)) as i64, libm::ceil(place(frame.farthest)) as i64);
        let stretch = |step: i64| {
            let middle = steps.reference + width * step as f64;
            let [low, high] = [middle - 0.5 * width, middle + 0.5 * width];
            (Boring { low, low_included: true, high, high_included: false, nothing: false }, middle)
        };
        (first..=last).map(stretch).collect()
    };
    found.push((at(f64::INFINITY), f64::INFINITY));
    Ok((found, told))
}

fn on_bits(states: &[DetectorState]) -> u64 {
    states.iter().enumerate().fold(0, |bits, (place, state)| bits | u64::from(state.is_on()) << place)
}

/// States found so far.
struct Explored {
    steps: Option<Steps>,
    exact: bool,
    numbers: HashMap<Vec<u64>, u32>,
    found: Vec<Vec<DetectorState>>,
}

impl Explored {
    /// The number of a state, a new one if it was not met before; sums lie on steps.
    fn number(&mut self, states: Vec<DetectorState>) -> Result<u32, Unfit> {
        let mut mark = Vec::new();
        states.iter().for_each(|state| state.mark(&mut mark));
        if let (Some(steps), Some(sum)) = (self.steps, sum_of(&states)) {
            mark.push((sum / steps.width).round() as i64 as u64);
        }
        let next = self.found.len() as u32;
        let number = *self.numbers.entry(mark).or_insert(next);
        if number == next {
            if self.found.len() == STATES_MAX {
                return Err(Unfit::Large);
            }
            self.found.push(states);
        }
        Ok(number)
    }

    /// Where a reading leads.
    fn fed(&mut self, from: &[DetectorState], reading: Reading) -> Result<Move, Unfit> {
        let mut states = from.to_vec();
        for state in &mut states {
            state.feed(reading);
            state.trim();
        }
        let (Some(of_sum), Some(sum)) = (self.steps, sum_of(&states)) else {
            let to = self.number(states)?;
            return Ok(Move { to, also: to, share: 0.0 });
        };
        let steps = libm::fmin(sum / of_sum.width, of_sum.most);
        let below = libm::floor(steps + ON_GRID);
        let share = if steps - below < ON_GRID { 0.0 } else { steps - below };
        let mut put = |steps: f64| {
            let mut moved = states.clone();
            moved.iter_mut().for_each(|state| state.set_sum(of_sum.width * steps));
            self.number(moved)
        };
        let to = put(below)?;
        let also = if share > 0.0 { put(below + 1.0)? } else { to };
        self.exact &= share == 0.0;
        Ok(Move { to, also, share })
    }
}

fn sum_of(states: &[DetectorState]) -> Option<f64> {
    states.iter().find_map(DetectorState::sum)
}

/// An automaton with a kind for every reading it was fed.
struct Raw {
    kinds: usize,
    moves: Vec<Move>,
    on: Vec<u64>,
}

impl Raw {
    /// The same with one kind for all readings that lead everywhere to the same, and each reading's kind.
    fn with_alike_readings_merged(self) -> (Vec<u32>, Raw) {
        let states = self.on.len();
        let mut found: HashMap<Vec<(u32, u32, u64)>, u32> = HashMap::new();
        let mut kept = Vec::new();
        let kind_of: Vec<u32> = (0..self.kinds)
            .map(|kind| {
                let all = (0..states).map(|state| self.moves[state * self.kinds + kind]);
                let next = found.len() as u32;
                let number = *found.entry(all.map(|it| (it.to, it.also, it.share.to_bits())).collect()).or_insert(next);
                if number == next {
                    kept.push(kind);
                }
                number
            })
            .collect();
        let of_state = |state: usize| kept.iter().map(move |kind| (state, *kind));
        let moves = (0..states).flat_map(of_state).map(|(state, kind)| self.moves[state * self.kinds + kind]).collect();
        (kind_of, Raw { kinds: kept.len(), moves, on: self.on })
    }

    /// The same with one state for all of which the same comes. The first stays the first.
    fn with_alike_states_merged(self) -> Raw {
        let states = self.on.len();
        let class = alike(states, |state, class| {
            let moves = &self.moves[state * self.kinds..(state + 1) * self.kinds];
            let moved = |it: &Move| (class[it.to as usize], class[it.also as usize], it.share.to_bits());
            (self.on[state], moves.iter().map(moved).collect::<Vec<_>>())
        });
        let count = class.iter().max().map_or(0, |last| *last as usize + 1);
        let mut kept = vec![0; count];
        (0..states).rev().for_each(|state| kept[class[state] as usize] = state);
        let moved = |it: &Move| Move { to: class[it.to as usize], also: class[it.also as usize], ..*it };
        let of_state = |state: &usize| self.moves[state * self.kinds..(state + 1) * self.kinds].iter().map(moved);
        Raw {
            kinds: self.kinds,
            moves: kept.iter().flat_map(of_state).collect(),
            on: kept.iter().map(|it| self.on[*it]).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use crate::math::time::Span;
    use crate::scenario::strategy::{RatioTest, RunRule, Sense};
    use crate::sensing::approach::{Evidence, Mass, QuietChain};
    use crate::sensing::invented;
    use crate::sensing::law::{Spurious, Target};

    const FRAME: Frame = Frame { resolution: 0.1, period: Span(50_000), farthest: 4.0 };

    fn detector(statistic: Statistic, (on, off): (f64, f64), rule: (usize, usize), dropped: Dropped) -> Detector {
        Detector {
            rule: RunRule { k: rule.0, n: rule.1 },
            release: RunRule { k: 2, n: 2 },
            dropped,
            ..invented::detector(statistic, (on, off))
        }
    }

    /// A target that comes nearer, drowned in noise, with outliers and dropped readings.
    fn law(sample: usize) -> Law {
        Law {
            targets: [
                Target { weight: 0.75, mean: 2.9 - 0.06 * sample as f64, sigma: 0.4 },
                Target { weight: 0.0, mean: 0.0, sigma: 0.0 },
            ],
            spurious: Spurious { weight: 0.03, low: 0.1, high: 2.0 },
            far: 0.1,
            resolution: 0.1,
            lowest: 0.1,
            highest: 4.0,
        }
    }

    /// The chance of having stayed where `ends` does not hold after so many samples, begun after ten "far".
    fn stayed(automaton: &Automaton, samples: usize, ends: impl Fn(u64) -> bool) -> f64 {
        let mut of = vec![0.0; automaton.states()];
        of[0] = 1.0;
        let mut odds = Odds::default();
        let far = Law::exact(f64::INFINITY, 0.0);
        for law in (0..10).map(|_| far).chain((0..samples).map(law)) {
            automaton.odds(&law, &mut odds);
            assert!((odds.of().iter().sum::<f64>() - 1.0).abs() < 1e-12);
            let mut into = vec![0.0; of.len()];
            for (state, mass) in of.iter().enumerate() {
                automaton.pass(state, *mass, &odds, |to, mass| into[to] += mass);
            }
            of = into;
            (0..of.len()).filter(|state| ends(automaton.on(*state))).for_each(|state| of[state] = 0.0);
        }
        of.iter().sum()
    }

    /// One detector by itself: the same chance as by the chain of hits.
    #[test]
    fn one_detector_is_the_chain_of_hits() {
        for (statistic, rule, dropped) in [
            (Statistic::Level, (3, 5), Dropped::Quiet),
            (Statistic::Level, (2, 4), Dropped::Hold),
            (Statistic::Level, (3, 4), Dropped::Reset),
            (Statistic::MovingMedian(5), (2, 3), Dropped::Quiet),
            (Statistic::MovingMedian(3), (3, 4), Dropped::Hold),
        ] {
            let detector = detector(statistic, (1.8, 2.05), rule, dropped);
            let automaton = Automaton::new(&[&detector], &FRAME, false, 1, |on| on != 0).expect("small");
            assert!(automaton.is_exact());
            let chain = QuietChain::new(&detector, 0.1).expect("small");
            let mut mass = Mass::default();
            assert!(chain.start(Evidence { hits: 0, spoke: 0 }, &mut mass));
            (0..25).for_each(|sample| {
                chain.step(chain.odds(&law(sample)), &mut mass, 0.0);
            });
            let (got, expected) = (stayed(&automaton, 25, |on| on != 0), mass.total());
            assert!((got / expected - 1.0).abs() < 1e-11, "{statistic:?} {rule:?}: {got} against {expected}");
        }
    }

    /// Against detectors at work on drawn readings, which share them: both on at once, one but not the other, sums, each within 4.5
    /// standard errors of the share that stays.
    #[test]
    fn detectors_that_share_readings_agree_with_detectors_at_work() {
        let level = detector(Statistic::Level, (1.6, 1.75), (2, 3), Dropped::Quiet);
        let median = detector(Statistic::MovingMedian(3), (2.2, 2.3), (2, 2), Dropped::Hold);
        let above = Detector { sense: Sense::Above, ..detector(Statistic::Level, (3.1, 2.9), (1, 1), Dropped::Reset) };
        let cusum = detector(Statistic::Cusum { limit: 2.0 }, (2.3, 2.3), (1, 1), Dropped::Quiet);
        let fine = detector(Statistic::Cusum { limit: 1.3 }, (2.2345, 2.4137), (2, 3), Dropped::Hold);
        let test =
            RatioTest { absent: 3.0, present: 2.2, spread: 0.6, false_alarm: 1e-3, false_rest: 1e-2, at_most: 1.5 };
        let ratio = detector(Statistic::LikelihoodRatio(test), (0.0, 0.0), (1, 1), Dropped::Quiet);
        let odd = RatioTest { present: 2.213, at_most: f64::INFINITY, ..test };
        let odd = detector(Statistic::LikelihoodRatio(odd), (0.0, 0.0), (1, 1), Dropped::Quiet);
        let free = RatioTest { at_most: f64::INFINITY, ..test };
        let free = detector(Statistic::LikelihoodRatio(free), (0.0, 0.0), (1, 1), Dropped::Quiet);
        type Ends = fn(u64) -> bool;
        let both: Ends = |on| on == 0b11;
        let any: Ends = |on| on != 0;
        let without: Ends = |on| on & 0b11 == 0b01;
        let cases: [(&str, Vec<&Detector>, Ends, bool); 8] = [
            ("level and median", vec![&level, &median], both, true),
            ("level, nothing above", vec![&level, &above], without, true),
            ("cusum on the grid", vec![&cusum], any, true),
            ("cusum and level", vec![&cusum, &level], both, true),
            ("cusum beside the grid", vec![&fine], any, false),
            ("ratio with a limit", vec![&ratio], any, false),
            ("ratio beside the grid", vec![&odd], any, false),
            ("ratio on the grid", vec![&free], any, true),
        ];
        for (number, (name, detectors, ends, exact)) in cases.into_iter().enumerate() {
            let automaton = Automaton::new(&detectors, &FRAME, false, 1, ends).expect(name);
            assert_eq!(automaton.is_exact(), exact, "{name}");
            let exact = stayed(&automaton, 20, ends);
            let mut stream = Source::new(29, number as u64, "automaton").stream(0);
            let (n, mut count) = (30_000, 0);
            for _ in 0..n {
                let mut states: Vec<DetectorState> =
                    detectors.iter().map(|it| DetectorState::new(it, &FRAME)).collect();
                let mut feed = |reading: Reading| {
                    states.iter_mut().for_each(|state| {
                        state.feed(reading);
                    });
                    !ends(on_bits(&states))
                };
                (0..10).for_each(|_| {
                    feed(Reading::Value(f64::INFINITY));
                });
                count += i32::from((0..20).all(|sample| feed(law(sample).draw(&mut stream))));
            }
            let share = f64::from(count) / f64::from(n);
            let error = (exact * (1.0 - exact) / f64::from(n)).sqrt();
            assert!((0.01..0.99).contains(&exact), "{name}: {exact}");
            assert!((share - exact).abs() < 4.5 * error, "{name}: {share} against {exact} +- {error}");
        }
    }

    /// What keeping sums to steps errs by, down to chances that hardly any draw meets, is little, and about what wider steps change. The
    /// readings' own grid makes it go up and down.
    #[test]
    fn wider_steps_tell_what_steps_err_by() {
        let test = RatioTest {
            absent: 3.0,
            present: 2.213,
            spread: 0.8,
            false_alarm: 1e-4,
            false_rest: 1e-3,
            at_most: f64::INFINITY,
        };
        let ratio = detector(Statistic::LikelihoodRatio(test), (0.0, 0.0), (1, 1), Dropped::Quiet);
        let cusum = detector(Statistic::Cusum { limit: 4.0 }, (2.4137, 2.4137), (1, 1), Dropped::Quiet);
        for (detector, samples) in [(&ratio, 45), (&cusum, 40)] {
            let chance = |fineness| {
                let ends = |on| on != 0;
                stayed(&Automaton::new(&[detector], &FRAME, false, fineness, ends).expect("small"), samples, ends)
            };
            let [wide, narrow, usual, finest] = [1, 2, 3, 30].map(chance);
            let [wide, narrow, real] = [wide, narrow, finest].map(|it| (it / usual - 1.0).abs());
            assert!(finest < 1e-3 && real > 0.0, "{finest}");
            assert!(real < 0.01 && real < 2.0 * wide.max(narrow), "{real} {wide} {narrow}");
        }
    }

    #[test]
    fn what_remembers_readings_has_none() {
        let of = |statistic| {
            let it = detector(statistic, (1.8, 2.0), (1, 1), Dropped::Quiet);
            Automaton::new(&[&it], &FRAME, false, 1, |_| false).map(|_| ())
        };
        assert_eq!(of(Statistic::MovingMean(3)), Err(Unfit::Statistic(0)));
        assert_eq!(of(Statistic::Ewma { weight: 0.2 }), Err(Unfit::Statistic(0)));
        assert_eq!(of(Statistic::MovingMean(1)), Ok(()));
        let sum = detector(Statistic::Cusum { limit: 1.0 }, (1.8, 2.0), (1, 1), Dropped::Quiet);
        assert_eq!(Automaton::new(&[&sum, &sum], &FRAME, false, 1, |_| false).map(|_| ()), Err(Unfit::Sums));
        let long = detector(Statistic::MovingMedian(31), (1.8, 2.0), (1, 1), Dropped::Quiet);
        assert_eq!(Automaton::new(&[&long], &FRAME, false, 1, |_| false).map(|_| ()), Err(Unfit::Large));
    }
}
