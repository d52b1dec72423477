//! The probability that a detector stays off along an approach, with the noise of every sample integrated out.
//!
//! A dynamic programme over the samples: the state is what the detector remembers of the last hits and of the last
//! samples that spoke, the mass in all states is the probability of having stayed off so far. It only adds positive
//! terms, so that a probability of 1e-150 is as exact as one of a half. It covers every detector whose state is made
//! of hits alone: a level with its run rule, and a moving median, which is beyond the level exactly if a majority of
//! its readings is. A mean, an EWMA, a sum and a rate remember the readings themselves and are not covered.

use arrayvec::ArrayVec;
use std::collections::BTreeMap;

use super::law::{Boring, Law, Reading, snap};
use super::window::{advance, checked};
use crate::math::absorbing::STATES_MAX;
use crate::math::partition::alike;
use crate::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};

/// The shortest stretch of samples that is passed over.
pub const SHORTEST_STRETCH: i64 = 8;

/// Stretches on which a detector goes on with less than this probability are passed over: a miss probability errs by
/// less than that share of itself per stretch.
const NEGLIGIBLE: f64 = 1e-6;

/// What one sample may be. The three add up to 1, each accurate by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Odds {
    /// A reading on the on side of the level.
    pub hit: f64,
    /// A reading on the other side.
    pub miss: f64,
    /// No reading.
    pub nothing: f64,
}

/// What a detector that is off remembers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Evidence {
    /// The last readings but the newest n of a median's n, newest lowest: 1 = hit. 0 for a level.
    pub hits: u64,
    /// The last samples of its run rule, newest lowest: 1 = spoke for on.
    pub spoke: u64,
}

/// The law of a detector's state while it is off: a mass in each, together the probability of having stayed off.
#[derive(Clone, Debug, Default)]
pub struct Mass {
    /// More places than states, see [`places`]: the last is for what has gone on, which is not kept.
    of: Vec<f64>,
    room: Vec<f64>,
    total: f64,
}

impl Mass {
    /// The probability of having stayed off.
    pub fn total(&self) -> f64 {
        self.total
    }

    /// All mass in one of `count` states.
    fn put(&mut self, count: usize, state: u32, total: f64) {
        let places = places(count);
        self.of.clear();
        self.of.resize(places, 0.0);
        self.room.resize(places, 0.0);
        self.of[state as usize] = total;
        self.total = total;
    }
}

/// Places for the mass of this many states and of "on": a power of two, so that a state's number cut to so many bits is always
/// one of them and needs no comparing.
fn places(states: usize) -> usize {
    (states + 1).next_power_of_two()
}

/// A sum in eight lanes, so that no addition waits for the one before it.
fn sum(values: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let chunks = values.chunks_exact(8);
    let rest: f64 = chunks.remainder().iter().sum();
    for chunk in chunks {
        lanes.iter_mut().zip(chunk).for_each(|(lane, value)| *lane += value);
    }
    lanes.iter().sum::<f64>() + rest
}

/// A detector's way from off to on, sample by sample.
#[derive(Clone, Debug)]
pub struct QuietChain {
    /// Next state after a hit, a miss, nothing; none once on.
    after: Vec<[Option<u32>; 3]>,
    states: BTreeMap<Evidence, u32>,
    /// The same as `after`, with one more state for "on".
    flat: Vec<[u32; 3]>,
    /// Fewest further hits with which each state can go on.
    needed: Vec<u32>,
    /// Above this probability of a hit no stretch of a few samples can be passed over.
    worth_a_bound_below: f64,
    levels: (Sense, f64, f64),
    says: u8,
    /// How many readings its statistic looks at, and its run rule.
    length: usize,
    rule: RunRule,
}

impl QuietChain {
    /// The chain of a detector whose sensor has this resolution; none for a detector that remembers more than hits, or too
    /// many of them.
    pub fn new(detector: &Detector, resolution: f64) -> Option<QuietChain> {
        let length = match detector.statistic {
            Statistic::Level | Statistic::MovingMean(1) => 1,
            Statistic::MovingMedian(n) if n == 1 || detector.dropped != Dropped::Reset => n,
            _ => return None,
        };
        let rule = checked(detector.rule).ok()?;
        let mut chain = QuietChain {
            after: Vec::new(),
            states: BTreeMap::new(),
            flat: Vec::new(),
            needed: Vec::new(),
            worth_a_bound_below: 0.0,
            levels: (detector.sense, snap(detector.on, resolution), resolution),
            says: detector.says.iter().fold(0, |mask, code| mask | 1 << (*code as u8)),
            length,
            rule,
        };
        if length > 16 {
            return None;
        }
        // Every content of the median's window may be the start.
        let mut found: Vec<Evidence> = (0..1_u64 << (length - 1)).map(|hits| Evidence { hits, spoke: 0 }).collect();
        for (index, evidence) in found.iter().enumerate() {
            chain.states.insert(*evidence, index as u32);
        }
        while chain.after.len() < found.len() {
            if found.len() > STATES_MAX {
                return None;
            }
            let from = found[chain.after.len()];
            let ways = [chain.read(from, true), chain.read(from, false), chain.dropped(from, detector.dropped)];
            let states = &mut chain.states;
            chain.after.push(ways.map(|way| {
                way.map(|evidence| {
                    *states.entry(evidence).or_insert_with(|| {
                        found.push(evidence);
                        found.len() as u32 - 1
                    })
                })
            }));
        }
        chain.merge_alike();
        chain.count_needed();
        chain.worth_a_bound_below = chain.largest_hit(SHORTEST_STRETCH, NEGLIGIBLE);
        let on = places(chain.after.len()) as u32 - 1;
        chain.flat = chain.after.iter().map(|ways| ways.map(|way| way.unwrap_or(on))).collect();
        Some(chain)
    }

    /// Merges states of which the same comes whatever the samples to follow. A median of five with a rule of 6 of 8 keeps a third of
    /// its states. The first stays the first.
    fn merge_alike(&mut self) {
        let class =
            alike(self.after.len(), |state, class| self.after[state].map(|way| way.map(|to| class[to as usize])));
        let count = class.iter().max().map_or(0, |last| *last as usize + 1);
        let mut after = vec![[None; 3]; count];
        for (state, ways) in self.after.iter().enumerate() {
            after[class[state] as usize] = ways.map(|way| way.map(|to| class[to as usize]));
        }
        self.after = after;
        self.states.values_mut().for_each(|state| *state = class[*state as usize]);
    }

    /// Fewest hits on any way to "on", by relaxation: a hit costs one, anything else nothing.
    fn count_needed(&mut self) {
        self.needed = vec![u32::MAX; self.after.len()];
        let mut changed = true;
        while changed {
            changed = false;
            for (state, ways) in self.after.iter().enumerate() {
                let cost =
                    |way: &Option<u32>, hit: u32| way.map_or(0, |to| self.needed[to as usize]).saturating_add(hit);
                let [hit, miss, nothing] = ways;
                let least = cost(hit, 1).min(cost(miss, 0)).min(cost(nothing, 0));
                if least < self.needed[state] {
                    self.needed[state] = least;
                    changed = true;
                }
            }
        }
    }

    fn read(&self, from: Evidence, hit: bool) -> Option<Evidence> {
        let window = from.hits << 1 | u64::from(hit);
        let speaks = window.count_ones() as usize > self.length / 2;
        let spoke = advance(self.rule, from.spoke, speaks)?;
        Some(Evidence { hits: window & ((1 << (self.length - 1)) - 1), spoke })
    }

    fn dropped(&self, from: Evidence, convention: Dropped) -> Option<Evidence> {
        Some(match convention {
            Dropped::Quiet => Evidence { spoke: advance(self.rule, from.spoke, false)?, ..from },
            Dropped::Hold => from,
            Dropped::Reset => Evidence { hits: 0, spoke: 0 },
        })
    }

    /// Mean number of samples of these odds from no evidence to "on"; infinite if it never goes on. `mass` is scratch.
    ///
    /// The chances of still being off are added up, sample by sample, until the same share of them goes on each time: from there
    /// on they fall geometrically. As the share is a sum of what goes on, a wait of 1e20 samples is as exact as one of ten.
    pub fn mean_wait(&self, odds: Odds, mass: &mut Mass) -> f64 {
        const STEADY: f64 = 1e-12;
        mass.put(self.after.len(), 0, 1.0);
        let (mut sum, mut off, mut share, mut steady) = (0.0, 1.0, 0.0, 0);
        // Where hardly any sample says anything it takes long for the share to settle.
        for _ in 0..1_000_000 {
            sum += off;
            let goes_on = self.step(odds, mass, 0.0);
            let now = goes_on / off;
            off -= goes_on;
            if off <= STEADY {
                return sum;
            }
            steady = if libm::fabs(now - share) <= STEADY * now { steady + 1 } else { 0 };
            share = now;
            if steady > 2 * self.reach() + 2 {
                break;
            }
        }
        sum + off / share
    }

    /// Number of samples that its state depends on.
    pub fn reach(&self) -> i64 {
        (self.length + self.rule.n) as i64 - 2
    }

    /// Above this probability of a hit not even the shortest stretch is passed over, so that asking for its bound is in vain.
    pub fn worth_a_bound_below(&self) -> f64 {
        self.worth_a_bound_below
    }

    /// The largest probability of a hit with which going on from nothing within `samples` samples is bounded by `at_most`, by
    /// bisection: the bound rises with it.
    fn largest_hit(&self, samples: i64, at_most: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            *(if self.fresh_at_most(middle, samples) < at_most { &mut low } else { &mut high }) = middle;
        }
        low
    }

    /// Ways in which the `hits` further hits of a state can come, each with probability `hit` at most.
    fn ways_at_most(&self, hits: u32, hit: f64) -> f64 {
        let window = self.reach() as usize;
        let way = |ways: f64, i: usize| ways * (window - i.min(window)) as f64 / (i + 1) as f64 * hit;
        (0..hits as usize).fold(1.0, way).min(1.0)
    }

    /// An upper bound on the probability of going on within `samples` samples from nothing, each a hit with probability `hit` at
    /// most.
    ///
    /// Going on takes at least m hits within a window of w samples, and some sample must be the last of them: samples
    /// C(w - 1, m - 1) p^m.
    fn fresh_at_most(&self, hit: f64, samples: i64) -> f64 {
        samples as f64 * hit * self.ways_at_most(self.needed[0].saturating_sub(1), hit)
    }

    /// Whether `samples` samples from the present state on, each a hit with probability `hit` at most, can be passed over: the
    /// share of the mass that goes on is less than a millionth. From a state that needs j more hits, these must come while it
    /// lasts, C(w - 1, j) p^j ways (see [`QuietChain::reach`]).
    pub fn may_pass_over(&self, hit: f64, samples: i64, mass: &Mass) -> bool {
        let fresh = self.fresh_at_most(hit, samples);
        if fresh >= NEGLIGIBLE {
            return false;
        }
        let ways: ArrayVec<f64, 65> = (0..=self.needed[0].min(64)).map(|hits| self.ways_at_most(hits, hit)).collect();
        let states = mass.of.iter().zip(&self.needed).skip(1).filter(|(mass, _)| **mass > 0.0);
        let pending: f64 = states.map(|(mass, needed)| mass * ways[(*needed as usize).min(ways.len() - 1)]).sum();
        let share = if mass.total > 0.0 { pending / mass.total } else { 0.0 };
        fresh + share < NEGLIGIBLE
    }

    /// Gathers all mass in the state without evidence.
    pub fn forget(&self, mass: &mut Mass) {
        let total = mass.total;
        mass.put(self.after.len(), 0, total);
    }

    /// Puts all mass on the state of this evidence; false if it has none (the detector would be on).
    pub fn start(&self, evidence: Evidence, mass: &mut Mass) -> bool {
        mass.put(self.after.len(), 0, 0.0);
        // Bits that can't matter any more are forgotten by the chain: replay the evidence through it.
        let mut spoke = 0;
        for place in (0..self.rule.n.saturating_sub(1)).rev() {
            match advance(self.rule, spoke, evidence.spoke >> place & 1 == 1) {
                Some(next) => spoke = next,
                None => return false,
            }
        }
        let state = self.states.get(&Evidence { spoke, ..evidence });
        if let Some(state) = state {
            mass.put(self.after.len(), *state, 1.0);
        }
        state.is_some()
    }

    /// One sample; what goes on with it. States that hold `negligible` or less are given up.
    pub fn step(&self, odds: Odds, mass: &mut Mass, negligible: f64) -> f64 {
        let Mass { of, room, total } = mass;
        room.fill(0.0);
        let last = room.len() - 1;
        let room_of = &mut room[..=last];
        for ([hit, miss, nothing], from) in self.flat.iter().zip(of.iter()) {
            if *from > negligible {
                room_of[*hit as usize & last] += odds.hit * from;
                room_of[*miss as usize & last] += odds.miss * from;
                room_of[*nothing as usize & last] += odds.nothing * from;
            }
        }
        let goes_on = std::mem::take(&mut room_of[last]);
        std::mem::swap(of, room);
        *total = sum(of);
        goes_on
    }

    /// Number of its states.
    pub fn states(&self) -> usize {
        self.after.len()
    }

    /// The state of this evidence.
    pub fn state_of(&self, evidence: Evidence) -> Option<usize> {
        self.states.get(&evidence).map(|state| *state as usize)
    }

    /// Next state after a hit, a miss, nothing; none once on.
    pub fn ways(&self, state: usize) -> [Option<usize>; 3] {
        self.after[state].map(|way| way.map(|to| to as usize))
    }

    /// The values of the noise, in standard deviations, at which a reading under this law changes sides.
    pub fn cuts(&self, law: &Law) -> Vec<f64> {
        law.noise_cuts(self.levels.1, self.levels.0 == Sense::Below)
    }

    /// The readings that are not hits, nothing among them.
    pub fn quiet(&self) -> Boring {
        match self.levels.0 {
            Sense::Below => Boring { low: self.levels.1, low_included: false, ..Boring::EVERYTHING },
            Sense::Above => Boring { high: self.levels.1, high_included: false, ..Boring::EVERYTHING },
        }
    }

    /// What a sample under this law may be.
    pub fn odds(&self, law: &Law) -> Odds {
        if self.says != 0 {
            return self.coded_odds(law);
        }
        let (below, above, nothing) = law.split(self.levels.1, self.levels.0 == Sense::Below);
        match self.levels.0 {
            Sense::Below => Odds { hit: below, miss: above, nothing },
            Sense::Above => Odds { hit: above, miss: below, nothing },
        }
    }

    /// Status codes are exact values.
    fn coded_odds(&self, law: &Law) -> Odds {
        let mut odds = Odds { hit: 0.0, miss: law.far, nothing: law.nothing_weight() };
        for target in law.targets.iter().filter(|target| target.weight > 0.0) {
            let named = (0.0..8.0).contains(&target.mean) && self.says >> (target.mean as u8) & 1 == 1;
            *(if named { &mut odds.hit } else { &mut odds.miss }) += target.weight;
        }
        odds
    }

    /// Whether a reading is a hit.
    pub fn hits(&self, reading: Reading) -> bool {
        match (reading, self.levels.0) {
            (Reading::Nothing, _) => false,
            (Reading::Value(value), _) if self.says != 0 => {
                (0.0..8.0).contains(&value) && self.says >> (value as u8) & 1 == 1
            }
            (Reading::Value(value), Sense::Below) => value <= self.levels.1,
            (Reading::Value(value), Sense::Above) => value >= self.levels.1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::absorbing::AbsorbingChain;
    use crate::math::random::Source;
    use crate::math::time::Span;
    use crate::sensing::detector::DetectorState;
    use crate::sensing::invented;
    use crate::sensing::law::{Spurious, Target};
    use crate::sensing::statistic::Frame;

    fn detector(statistic: Statistic, rule: (usize, usize), dropped: Dropped) -> Detector {
        Detector { rule: RunRule { k: rule.0, n: rule.1 }, dropped, ..invented::detector(statistic, (2.0, 2.0)) }
    }

    /// The chain of samples of these odds from no evidence to "on".
    fn wait(chain: &QuietChain, odds: Odds) -> AbsorbingChain {
        let ways = |state: &u32| {
            let [hit, miss, nothing] = chain.after[*state as usize];
            [(odds.hit, hit), (odds.miss, miss), (odds.nothing, nothing)]
        };
        AbsorbingChain::explore(0_u32, ways).expect("few states")
    }

    /// Mean waits against the exact elimination over the same chain, from a wait of some samples to one of 1e27.
    #[test]
    fn mean_waits_agree_with_elimination() {
        let mut mass = Mass::default();
        for (statistic, rule, dropped) in [
            (Statistic::Level, (3, 5), Dropped::Quiet),
            (Statistic::Level, (2, 4), Dropped::Hold),
            (Statistic::Level, (3, 3), Dropped::Reset),
            (Statistic::MovingMedian(5), (2, 3), Dropped::Quiet),
        ] {
            let chain = QuietChain::new(&detector(statistic, rule, dropped), 0.0).expect("few states");
            for (hit, nothing) in [(0.6, 0.1), (0.1, 0.0), (1e-3, 0.5), (1e-7, 0.01), (1e-9, 0.9)] {
                let odds = Odds { hit, miss: 1.0 - hit - nothing, nothing };
                let exact = wait(&chain, odds).moments().mean;
                let got = chain.mean_wait(odds, &mut mass);
                assert!((got / exact - 1.0).abs() < 1e-8, "{statistic:?} {rule:?} {odds:?}: {got} against {exact}");
            }
            let never = Odds { hit: 0.0, miss: 0.5, nothing: 0.5 };
            assert_eq!(chain.mean_wait(never, &mut mass), f64::INFINITY);
        }
    }

    /// Against detectors at work on drawn readings of a target that comes nearer, started after ten readings far off, for
    /// all statistics covered and all conventions: 4.5 standard errors of the share that stays off.
    #[test]
    fn the_programme_agrees_with_detectors_at_work() {
        let law = |sample: usize| Law {
            targets: [
                Target { weight: 0.7, mean: 2.8 - 0.07 * sample as f64, sigma: 0.4 },
                Target { weight: 0.0, mean: 0.0, sigma: 0.0 },
            ],
            spurious: Spurious { weight: 0.02, low: 0.1, high: 2.0 },
            far: 0.1,
            resolution: 0.1,
            lowest: 0.1,
            highest: 4.0,
        };
        let setups = [
            (Statistic::Level, (3, 5), Dropped::Quiet),
            (Statistic::Level, (3, 3), Dropped::Hold),
            (Statistic::Level, (3, 4), Dropped::Reset),
            (Statistic::MovingMedian(3), (1, 1), Dropped::Quiet),
            (Statistic::MovingMedian(3), (3, 5), Dropped::Quiet),
            (Statistic::MovingMedian(5), (2, 2), Dropped::Hold),
        ];
        let frame = Frame { resolution: 0.1, period: Span(50_000), farthest: 4.0 };
        for (number, (statistic, rule, dropped)) in setups.into_iter().enumerate() {
            let detector = detector(statistic, rule, dropped);
            let chain = QuietChain::new(&detector, 0.1).expect("covered");
            let mut mass = Mass::default();
            assert!(chain.start(Evidence { hits: 0, spoke: 0 }, &mut mass));
            for sample in 0..14 {
                let odds = chain.odds(&law(sample));
                assert!((odds.hit + odds.miss + odds.nothing - 1.0).abs() < 1e-12);
                chain.step(odds, &mut mass, 0.0);
            }
            let exact = mass.total();
            let mut stream = Source::new(21, number as u64, "approach").stream(0);
            let (n, mut stayed) = (20_000, 0);
            for _ in 0..n {
                let mut state = DetectorState::new(&detector, &frame);
                (0..10).for_each(|_| {
                    state.feed(Reading::Value(3.5));
                });
                stayed += i32::from((0..14).all(|sample| !state.feed(law(sample).draw(&mut stream))));
            }
            let share = f64::from(stayed) / f64::from(n);
            let error = (exact * (1.0 - exact) / f64::from(n)).sqrt();
            assert!((0.02..0.98).contains(&exact), "{exact}");
            assert!((share - exact).abs() < 4.5 * error, "{statistic:?} {rule:?}: {share} against {exact}");
        }
    }

    /// Against every sequence of nine samples (hit, miss or nothing), each handed to a detector at work, started after every
    /// possible content of a median's window: the probabilities of those that leave it off add up to the programme's.
    #[test]
    fn the_programme_agrees_with_every_sequence_of_samples() {
        let setups = [
            (Statistic::Level, 1, (4, 6), Dropped::Quiet),
            (Statistic::Level, 1, (2, 4), Dropped::Reset),
            (Statistic::MovingMedian(5), 5, (3, 4), Dropped::Quiet),
            (Statistic::MovingMedian(3), 3, (2, 3), Dropped::Hold),
            (Statistic::MovingMedian(5), 5, (1, 1), Dropped::Hold),
        ];
        let frame = Frame { resolution: 0.1, period: Span(50_000), farthest: 4.0 };
        let odds: Vec<Odds> = (0..9)
            .map(|sample| 0.1 + 0.08 * f64::from(sample))
            .map(|hit| Odds { hit, miss: 0.7 * (1.0 - hit), nothing: 0.3 * (1.0 - hit) })
            .collect();
        let readings = [Reading::Value(1.0), Reading::Value(3.0), Reading::Nothing];
        for (statistic, length, rule, dropped) in setups {
            let detector = detector(statistic, rule, dropped);
            let chain = QuietChain::new(&detector, 0.1).expect("covered");
            for hits in (0..1_u64 << (length - 1)).filter(|hits| 2 * hits.count_ones() < length) {
                let mut mass = Mass::default();
                assert!(chain.start(Evidence { hits, spoke: 0 }, &mut mass));
                for odds in &odds {
                    chain.step(*odds, &mut mass, 0.0);
                }
                // The oldest first, behind enough misses to leave nothing else.
                let mut begun = DetectorState::new(&detector, &frame);
                let before = (0..length - 1).rev().map(|place| readings[usize::from(hits >> place & 1 == 0)]);
                let on = std::iter::repeat_n(readings[1], 10).chain(before).any(|reading| begun.feed(reading));
                if on || begun.evidence() != Some(Evidence { hits, spoke: 0 }) {
                    // Some of these readings spoke on the way.
                    continue;
                }
                let mut stayed = 0.0;
                for sequence in 0..3_usize.pow(9) {
                    let (mut state, mut left, mut weight) = (begun.clone(), sequence, 1.0);
                    let off = odds.iter().all(|odds| {
                        let kind = left % 3;
                        left /= 3;
                        weight *= [odds.hit, odds.miss, odds.nothing][kind];
                        !state.feed(readings[kind])
                    });
                    stayed += if off { weight } else { 0.0 };
                }
                assert!(
                    (stayed - mass.total()).abs() < 1e-12 && (1e-6..0.999).contains(&stayed),
                    "{statistic:?} {rule:?} {hits:b}: {stayed} against {}",
                    mass.total()
                );
            }
        }
    }

    #[test]
    fn what_remembers_readings_is_not_covered() {
        for statistic in [Statistic::MovingMean(3), Statistic::Ewma { weight: 0.3 }, Statistic::Cusum { limit: 1.0 }] {
            assert!(QuietChain::new(&detector(statistic, (1, 1), Dropped::Quiet), 0.0).is_none());
        }
        assert!(QuietChain::new(&detector(Statistic::MovingMedian(3), (1, 1), Dropped::Reset), 0.0).is_none());
    }
}
