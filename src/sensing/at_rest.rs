//! How often the detectors of one sensor change over, and how long which of them are on, while the law of its readings stays as it is:
//! what noise alone makes of them, however rarely.
//!
//! Their automaton is a Markov chain on such readings; its stationary law tells the share of samples with which each set of them is
//! on, and how often one set follows another. A beam that insects break has two laws, by turns of exponential length: which of them
//! holds is part of the chain's state.

use super::automaton::{Automaton, Odds};
use super::law::Law;
use super::statistic::Frame;
use crate::math::stationary::stationary;
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::Detector;

/// Most states for which the stationary law is worked out: it takes a third of their cube in operations.
const STATES_MAX: usize = 250;

/// Up to so many states it is a matter of microseconds.
const STATES_QUICK: usize = 60;

/// How many times finer than the widest the steps of sums are, if that leaves few enough states.
const FINENESS: [u32; 3] = [3, 2, 1];

/// The detectors of one sensor, on readings that nobody changes.
#[derive(Clone, Debug)]
pub struct AtRest {
    automaton: Automaton,
    samples_per_day: f64,
    /// Where insects break a beam: the chance that one has come by the next sample, and that it has gone.
    insects: Option<[f64; 2]>,
}

/// What becomes of them: their own readings make them change over from one set of those that are on to another.
#[derive(Clone, Debug, Default)]
pub struct Settled {
    /// Share of the samples at which these, as bits by their places in the list, are on and no others.
    pub shares: Vec<(u64, f64)>,
    /// How often these give way to those, per day.
    pub changes: Vec<(u64, u64, f64)>,
}

/// Room to work in.
#[derive(Clone, Debug, Default)]
pub struct Room {
    odds: Odds,
    matrix: Vec<f64>,
    law: Vec<f64>,
    /// What a sample makes of each state, under the law that holds.
    moves: Vec<(usize, usize, usize, f64)>,
}

impl AtRest {
    /// Makes ready; none for detectors that have no automaton, or one with too many states, and for noise that remembers. `shorter`
    /// says whether they need one sample less to go on.
    pub fn new(detectors: &[&Detector], sensor: &Sensor, shorter: bool) -> Option<AtRest> {
        if sensor.errors.noise_correlation > 0.0 {
            return None;
        }
        let frame = Frame::of(sensor);
        // An automaton of sums knows the readings of rangers and beams only.
        let measured = frame.farthest.is_finite() || matches!(sensor.kind, SensorKind::BreakBeam { .. });
        if !measured && detectors.iter().any(|it| it.statistic.keeps_sum()) {
            return None;
        }
        let of = |fineness: &u32| Automaton::new(detectors, &frame, shorter, *fineness, |_| false).ok();
        let insects = insects(sensor);
        let most = if insects.is_some() { STATES_MAX / 2 } else { STATES_MAX };
        let automaton = FINENESS.iter().filter_map(of).find(|it| it.states() <= most)?;
        Some(AtRest { automaton, samples_per_day: sensor.samples_per_day(), insects })
    }

    /// Whether it is exact; otherwise sums are kept to steps.
    pub fn is_exact(&self) -> bool {
        self.automaton.is_exact()
    }

    /// Whether working out what becomes of them takes long, compared with a few hits that one detector remembers.
    pub fn is_slow(&self) -> bool {
        self.states() > STATES_QUICK
    }

    fn laws(&self) -> usize {
        if self.insects.is_some() { 2 } else { 1 }
    }

    fn states(&self) -> usize {
        self.laws() * self.automaton.states()
    }

    /// What becomes of detectors that begin with all off and nothing seen, on readings of the first law for ever, or of the second one
    /// while an insect breaks the beam.
    pub fn settle(&self, laws: [&Law; 2], room: &mut Room, settled: &mut Settled) {
        let (own, states) = (self.automaton.states(), self.states());
        let Room { odds, matrix, law: shares, moves } = room;
        moves.clear();
        for (turn, law) in laws.into_iter().enumerate().take(self.laws()) {
            // Odds belong to one automaton.
            *odds = Odds::default();
            self.automaton.odds(law, odds);
            for state in 0..own {
                self.automaton.pass(state, 1.0, odds, |to, p| moves.push((turn, state, to, p)));
            }
        }
        matrix.clear();
        matrix.resize(states * states, 0.0);
        for (turn, from, to, p) in &*moves {
            let row = &mut matrix[(turn * own + from) * states..][..states];
            let changes = self.insects.map_or(0.0, |changes| changes[*turn]);
            row[turn * own + to] += p * (1.0 - changes);
            if changes > 0.0 {
                row[(1 - turn) * own + to] += p * changes;
            }
        }
        stationary(matrix, shares);
        settled.shares.clear();
        settled.changes.clear();
        for (state, share) in shares.iter().enumerate() {
            let on = self.automaton.on(state % own);
            match settled.shares.iter_mut().find(|(bits, _)| *bits == on) {
                Some((_, sum)) => *sum += share,
                None => settled.shares.push((on, *share)),
            }
        }
        for (turn, from, to, p) in &*moves {
            let [before, after] = [*from, *to].map(|state| self.automaton.on(state));
            let often = shares[turn * own + from] * p * self.samples_per_day;
            if before == after || often <= 0.0 {
                continue;
            }
            match settled.changes.iter_mut().find(|(from, to, _)| (*from, *to) == (before, after)) {
                Some((.., sum)) => *sum += often,
                None => settled.changes.push((before, after, often)),
            }
        }
    }
}

/// How a beam that insects break changes from one sample to the next: both turns are exponential.
pub(super) fn insects(sensor: &Sensor) -> Option<[f64; 2]> {
    let SensorKind::BreakBeam { false_per_hour, false_break_s, .. } = sensor.kind else { return None };
    if false_per_hour <= 0.0 || false_break_s <= 0.0 {
        return None;
    }
    let (comes, goes) = (false_per_hour / 3_600.0, 1.0 / false_break_s);
    let changed = -libm::expm1(-(comes + goes) * sensor.period.seconds());
    Some([comes, goes].map(|rate| rate / (comes + goes) * changed))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use crate::scenario::sensor::Errors;
    use crate::scenario::strategy::{RatioTest, RunRule, Statistic};
    use crate::sensing::detector::DetectorState;
    use crate::sensing::false_runs::{FalseRuns, Room as CycleRoom};
    use crate::sensing::invented;
    use crate::sensing::law::{Reading, Spurious, Target};

    fn detector(statistic: Statistic, (on, off): (f64, f64), rule: (usize, usize)) -> Detector {
        Detector {
            rule: RunRule { k: rule.0, n: rule.1 },
            // What keeps a sum changes over at once.
            release: if rule.1 == 1 { RunRule { k: 1, n: 1 } } else { RunRule { k: 2, n: 3 } },
            ..invented::detector(statistic, (on, off))
        }
    }

    fn law(mean: f64, sigma: f64, spurious: f64, resolution: f64) -> Law {
        let mut law = Law { resolution, lowest: 0.0, highest: 4.0, ..Law::SILENT };
        law.targets[0] = Target { weight: 0.95 - spurious, mean, sigma };
        law.spurious = Spurious { weight: spurious, low: 0.1, high: mean };
        law
    }

    fn settled(detectors: &[&Detector], sensor: &Sensor, law: &Law) -> Settled {
        let mut settled = Settled::default();
        AtRest::new(detectors, sensor, false).expect("small").settle([law; 2], &mut Room::default(), &mut settled);
        settled
    }

    /// Mean run lengths of one-sided CUSUMs of normal readings, from the table that `tests/charts.rs` reads (integral equations; Page's
    /// scheme with reference 0.5 standard deviations): 335.4, 930.9, and 10.38 after a shift of one. Sums kept to steps of a 72nd of
    /// the limit miss them by no more than a seventh of a per cent.
    #[test]
    fn cusums_run_as_long_as_published() {
        let sigma = 0.05;
        let sensor = invented::ranger(0.0);
        for (limit, shift, exact) in
            [(4.0, 0.0, 335.367_577_627), (5.0, 0.0, 930.887_012_064), (5.0, 1.0, 10.375_975_300)]
        {
            // Readings of 2 m; the reference lies half a standard deviation nearer, the shift goes towards it.
            let on = 2.0 - 0.5 * sigma;
            let cusum = detector(Statistic::Cusum { limit: limit * sigma }, (on, on), (1, 1));
            let chain = AtRest::new(&[&cusum], &sensor, false).expect("small");
            assert!(!chain.is_exact() && chain.is_slow());
            let mut law = law(2.0 - shift * sigma, sigma, 0.0, 0.0);
            law.targets[0].weight = 1.0;
            let mut now = Settled::default();
            chain.settle([&law; 2], &mut Room::default(), &mut now);
            let off: f64 = now.shares.iter().filter(|(on, _)| *on == 0).map(|(_, share)| share).sum();
            let often: f64 = now.changes.iter().filter(|(before, ..)| *before == 0).map(|(.., often)| often).sum();
            let got = off * 864_000.0 / often;
            assert!((got / exact - 1.0).abs() < 1.5e-3, "{limit} {shift}: {got} against {exact}");
            let cycle = FalseRuns::new(&cusum, &sensor)
                .expect("a sum")
                .cycle([&law; 2], &mut CycleRoom::new(Source::new(1, 0, "none")));
            assert!((cycle.per_day / often - 1.0).abs() < 1e-12 && (cycle.on + off - 1.0).abs() < 1e-12);
        }
    }

    /// One level or median: as often, and on for as long, as by mean waiting times, down to runs that never come.
    #[test]
    fn one_detector_goes_on_as_by_its_waits() {
        let sensor = invented::ranger(0.05);
        for (statistic, rule, spurious) in [
            (Statistic::Level, (3, 5), 0.05),
            (Statistic::Level, (3, 5), 1e-7),
            (Statistic::MovingMedian(3), (2, 3), 0.1),
            (Statistic::MovingMedian(3), (2, 3), 1e-9),
        ] {
            let detector = detector(statistic, (1.2, 1.4), rule);
            let law = law(2.0, 0.03, spurious, 0.05);
            let got = settled(&[&detector], &sensor, &law);
            let often: f64 = got.changes.iter().filter(|(before, ..)| *before == 0).map(|(.., often)| often).sum();
            let cycle = FalseRuns::new(&detector, &sensor)
                .expect("hits")
                .cycle([&law; 2], &mut CycleRoom::new(Source::new(1, 0, "none")));
            // What a median holds when it goes off is taken as quiet by the waits.
            let alike = if statistic == Statistic::Level || spurious < 1e-6 { 1e-6 } else { 0.05 };
            assert!((often / cycle.per_day - 1.0).abs() < alike, "{statistic:?} {spurious}: {often} {cycle:?}");
        }
    }

    /// Two levels, a sum and a ratio on the same readings against detectors at work: how long each set is on, and how often one gives
    /// way to another, within 4.5 standard errors (of batches: what a detector remembers spoils the binomial law).
    #[test]
    fn detectors_together_agree_with_detectors_at_work() {
        let near = detector(Statistic::Level, (1.2, 1.4), (2, 3));
        let nearer = detector(Statistic::Level, (0.4, 0.5), (1, 2));
        let cusum = detector(Statistic::Cusum { limit: 1.0 }, (1.6, 1.7), (1, 1));
        let test =
            RatioTest { absent: 2.0, present: 1.5, spread: 0.4, false_alarm: 0.02, false_rest: 0.05, at_most: 2.0 };
        let ratio = detector(Statistic::LikelihoodRatio(test), (0.0, 0.0), (1, 1));
        let sensor = invented::ranger(0.05);
        let law = law(2.0, 0.2, 0.12, 0.05);
        for (number, all) in [vec![&near, &nearer], vec![&near, &cusum], vec![&ratio]].into_iter().enumerate() {
            let exact = settled(&all, &sensor, &law);
            assert!((exact.shares.iter().map(|(_, share)| share).sum::<f64>() - 1.0).abs() < 1e-12);
            let mut stream = Source::new(41, number as u64, "at rest").stream(0);
            let mut states: Vec<DetectorState> =
                all.iter().map(|it| DetectorState::new(it, &Frame::of(&sensor))).collect();
            let (batches, samples) = (40, 5_000);
            let (mut shares, mut changes) = (vec![[0.0; 4]; batches], vec![[[0.0; 4]; 4]; batches]);
            let mut before = 0_usize;
            for batch in 0..batches {
                for _ in 0..samples {
                    let reading: Reading = law.draw(&mut stream);
                    let mut on = 0;
                    for (place, state) in states.iter_mut().enumerate() {
                        state.feed(reading);
                        on |= usize::from(state.is_on()) << place;
                    }
                    shares[batch][on] += 1.0 / f64::from(samples);
                    changes[batch][before][on] += 864_000.0 / f64::from(samples);
                    before = on;
                }
            }
            let close = |got: &dyn Fn(usize) -> f64, exact: f64, what: &str| {
                let n = batches as f64;
                let mean = (0..batches).map(got).sum::<f64>() / n;
                let error = ((0..batches).map(|b| (got(b) - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt();
                assert!((mean - exact).abs() < 4.5 * error, "{number} {what}: {mean} +- {error} against {exact}");
                usize::from(error < 0.1 * mean)
            };
            let mut told = 0;
            for (on, share) in &exact.shares {
                told += close(&|batch| shares[batch][*on as usize], *share, &format!("{on:b}"));
            }
            for (from, to, often) in &exact.changes {
                // What is not to be seen in so short a time is left out.
                if often * batches as f64 * f64::from(samples) / 864_000.0 < 30.0 {
                    continue;
                }
                let got = |batch: usize| changes[batch][*from as usize][*to as usize];
                told += close(&got, *often, &format!("{from:b} to {to:b}"));
            }
            assert!(told >= if all.len() == 1 { 4 } else { 7 }, "{number}: {told} of {exact:?}");
        }
    }

    #[test]
    fn what_has_no_automaton_has_none() {
        let eye = invented::ranger(0.05);
        let none = |detector: &Detector, sensor: &Sensor| AtRest::new(&[detector], sensor, false).is_none();
        let level = detector(Statistic::Level, (1.2, 1.4), (3, 5));
        assert!(!none(&level, &eye));
        assert!(none(&detector(Statistic::Ewma { weight: 0.2 }, (1.2, 1.4), (1, 1)), &eye));
        assert!(none(&level, &Sensor { errors: Errors { noise_correlation: 0.5, ..eye.errors }, ..eye.clone() }));
        // A sum of what a rain gauge says, which has no farthest reading.
        let cusum = detector(Statistic::Cusum { limit: 1.0 }, (1.2, 1.4), (1, 1));
        assert!(none(&cusum, &Sensor { kind: SensorKind::RainGauge, ..eye }));
    }
}
