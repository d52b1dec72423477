//! A detector that does not settle under a constant law: which of its samples speak is drawn, not what they read.
//!
//! A mower that gave up before the door may stand for hours at the edge of a cone, made out in half of the samples. A
//! level or a median of an odd number of readings, with any run rule, changes over by nothing but which samples speak
//! and which say nothing (the median of n lies on a level's far side exactly when most of the n readings do). So one
//! uniform number a sample tells when the detector changes over; the readings themselves are drawn for the median's
//! window alone, at the change, each given on which side it lies. Where the law changes earlier, the same numbers are
//! drawn again up to there.
//!
//! While nothing that it remembers speaks, samples that don't speak leave it as it is, with a reading or without: where few
//! speak, their number up to the next that does is drawn at once, and which of them had a reading is left open.

use super::{Channel, Next, ROW_ABOVE, SKIP_BELOW};
use crate::math::random::Stream;
use crate::scenario::strategy::{Dropped, RunRule, newest};

/// Samples drawn after which the first plan under a law ends even if nothing happens: many laws last no longer, and what was
/// drawn beyond one's end is lost. Every further plan draws twice as many, up to the most.
pub(super) const NEAREST: u32 = 20;
const FARTHEST: u32 = 1_024;

/// Below this probability that a sample speaks, drawing the number of those that don't costs less than a uniform number for each.
const GAPS_BELOW: f64 = 0.1;

/// One that was drawn by number costs as much as so many drawn one by one, and so does what follows on it.
const GAP_COSTS: u32 = 4;

/// Above this probability that a sample speaks, laws last long enough for several that do: then a tally of them all costs less
/// than a plan and a reading for each.
const WORTH_A_TALLY: f64 = 1e-4;

/// What changes a detector over, and what it holds, as bits (newest lowest, 1 = spoke).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::sensing) struct Tally {
    /// Readings of the statistic; 1 for a level.
    pub readings: usize,
    /// The run rule in force.
    pub rule: RunRule,
    /// What a sample without a reading does to the run.
    pub dropped: Dropped,
    /// The statistic's readings.
    pub window: u64,
    /// The run's samples.
    pub bits: u64,
}

impl Tally {
    /// How many of the statistic's readings speak.
    fn speaking(&self) -> usize {
        (self.window & newest(self.readings)).count_ones() as usize
    }

    /// Whether samples that don't speak can do nothing to it: see [`super::super::statistic`].
    fn is_settled(&self) -> bool {
        2 * self.speaking() < self.readings && self.rule.kept(self.bits) == 0
    }

    /// Whether no sample that spoke can still count towards a run.
    fn is_clear(&self) -> bool {
        self.window & newest(self.readings - 1) == 0 && self.rule.kept(self.bits) == 0
    }

    /// Whether one sample that speaks changes it over, from nothing on.
    fn changes_at_once(&self) -> bool {
        self.readings == 1 && self.rule.k == 1
    }
}

/// A tally with its bits counted, so that a sample costs no counting anew.
#[derive(Clone, Copy, Debug)]
struct Counted {
    tally: Tally,
    /// How many of the statistic's readings speak, and how many of the run's samples do.
    speaking: u32,
    spoke: u32,
}

impl Counted {
    fn new(tally: Tally) -> Counted {
        let spoke = (tally.bits & newest(tally.rule.n)).count_ones();
        Counted { tally, speaking: tally.speaking() as u32, spoke }
    }

    /// Whether samples that don't speak leave it as it is.
    fn is_idle(&self) -> bool {
        self.speaking == 0 && self.spoke == 0
    }

    /// Takes a sample, which said nothing (none) or spoke or did not; whether the detector changes over.
    fn take(&mut self, spoke: Option<bool>) -> bool {
        let Counted { tally: Tally { readings, rule, dropped, window, bits }, speaking, spoke: samples } = self;
        let speaks = match spoke {
            Some(spoke) => {
                *speaking = speaking.wrapping_add(shift(window, *readings, spoke));
                2 * *speaking as usize > *readings
            }
            None if *dropped == Dropped::Hold => return false,
            None => false,
        };
        *samples = samples.wrapping_add(shift(bits, rule.n, speaks));
        *samples as usize >= rule.k
    }
}

/// Puts a bit before `places` others, of which the oldest leaves; by how much their number rises (modulo 2^32).
fn shift(bits: &mut u64, places: usize, newest: bool) -> u32 {
    let leaves = (*bits >> (places - 1) & 1) as u32;
    *bits = *bits << 1 | u64::from(newest);
    u32::from(newest).wrapping_sub(leaves)
}

/// A tally drawn ahead, to be drawn again from its beginning as far as it is needed.
#[derive(Clone, Debug)]
pub(super) struct Ahead {
    begins: Stream,
    tally: Tally,
    /// Probabilities that a sample says nothing, and that it says nothing or speaks.
    nothing: f64,
    heard: f64,
    /// Logarithm of the probability that a sample doesn't speak, where numbers of such samples are drawn.
    gaps: Option<f64>,
}

/// What became of the first samples of a tally.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Outcome {
    samples: u32,
    /// How many had a reading, and of how many that didn't speak this was left open.
    read: u32,
    open: u32,
    changes: bool,
    tally: Tally,
}

impl Ahead {
    /// Draws until the detector changes over, until `enough` is seen of it, for `most` samples, or about as much as `effort`
    /// samples cost.
    fn draw(&self, stream: &mut Stream, most: u32, effort: u32, enough: impl Fn(&Tally) -> bool) -> Outcome {
        let mut counted = Counted::new(self.tally);
        let (mut samples, mut read, mut open, mut changes) = (0, 0, 0, false);
        let mut cost = 0;
        while samples < most && cost < effort && !changes && !(samples > 0 && enough(&counted.tally)) {
            if let Some(log_quiet) = self.gaps
                && counted.is_idle()
            {
                let gap = stream.failures_by_log(log_quiet).min(u64::from(most - samples)) as u32;
                samples += gap;
                open += gap;
                cost += GAP_COSTS;
                if samples < most {
                    samples += 1;
                    read += 1;
                    changes = counted.take(Some(true));
                }
                continue;
            }
            let u = stream.uniform();
            let spoke = (u >= self.nothing).then_some(u < self.heard);
            read += u32::from(spoke.is_some());
            samples += 1;
            cost += 1;
            changes = counted.take(spoke);
        }
        Outcome { samples, read, open, changes, tally: counted.tally }
    }

    /// Probability that a sample that doesn't speak says nothing.
    fn nothing_if_quiet(&self) -> f64 {
        (self.nothing / (1.0 - (self.heard - self.nothing))).min(1.0)
    }
}

impl Channel {
    /// Whether a settled detector is better tallied than skipped by number, if `p` is the probability that a sample speaks.
    pub(super) fn is_worth_a_tally(&self, p: f64) -> bool {
        let tally = if let [detector] = &self.detectors[..] { detector.tally() } else { None };
        p >= WORTH_A_TALLY && tally.is_some_and(|tally| !tally.changes_at_once())
    }

    /// Draws which samples speak, up to the one at which the only detector changes over, or until another plan serves better;
    /// false where that is not all there is to it. `p` is the probability that a sample speaks.
    pub(super) fn plan_tally(&mut self, p: f64) -> bool {
        let [detector] = &self.detectors[..] else { return false };
        let Some(tally) = detector.tally() else { return false };
        // What speaks seldom is skipped by number, and runs that a plan of their own can draw begin from nothing.
        let skips = p < WORTH_A_TALLY || (p < SKIP_BELOW && tally.changes_at_once());
        let runs = p < ROW_ABOVE && self.runs(p).is_some();
        let enough = |tally: &Tally| if runs { tally.is_clear() } else { skips && tally.is_settled() };
        let nothing = self.law.nothing_probability();
        let gaps = (p > 0.0 && p < GAPS_BELOW).then(|| libm::log1p(-p));
        let ahead = Ahead { begins: self.stream.clone(), tally, nothing, heard: nothing + p, gaps };
        let outcome = ahead.draw(&mut self.stream, u32::MAX, self.reach, enough);
        self.reach = (2 * self.reach).min(FARTHEST);
        // The sample that changes it over is the one that is due; a stretch without a change ends before the next.
        self.due = self.clock + i64::from(outcome.samples) - i64::from(outcome.changes);
        self.next = Next::Tally { changes: outcome.changes };
        self.ahead = Some(ahead);
        true
    }

    /// Accounts for the samples of a tally before number `first`.
    pub(super) fn reveal_tally(&mut self, first: i64) {
        let Some(ahead) = self.ahead.take() else { return };
        let samples = (first - self.clock) as u32;
        let outcome = ahead.draw(&mut ahead.begins.clone(), samples, u32::MAX, |_| false);
        debug_assert!(!outcome.changes || outcome.samples == samples, "a change lies beyond the samples that are due");
        if self.seen {
            self.in_view.0 += u64::from(samples);
            self.in_view.1 += f64::from(samples - outcome.read - outcome.open);
            self.in_view.1 += f64::from(outcome.open) * ahead.nothing_if_quiet();
        }
        self.clock = first;
        if self.memory > 0 {
            let places = self.places_taken(&ahead, &outcome);
            self.fill_in(outcome.tally.window, places);
        }
        self.detectors[0].remember(outcome.tally.bits);
        self.detectors[0].trim();
    }

    /// How many places of a statistic the samples of a tally have taken: as many as had a reading, no more than there are. Of those
    /// that were left open each had one by chance.
    fn places_taken(&mut self, ahead: &Ahead, outcome: &Outcome) -> u64 {
        let (all, mut taken) = (outcome.tally.readings as u64, u64::from(outcome.read));
        let (mut open, had_one) = (u64::from(outcome.open), 1.0 - ahead.nothing_if_quiet());
        while taken < all && open > 0 {
            let silent = self.stream.failures_before_success(had_one);
            if silent >= open {
                break;
            }
            open -= silent + 1;
            taken += 1;
        }
        taken.min(all)
    }

    /// Takes the sample at which a tally ends; the detectors that changed over, as bits.
    pub(super) fn sample_of_tally(&mut self, changes: bool) -> u64 {
        self.reveal_tally(self.due + i64::from(changes));
        if changes {
            self.detectors[0].change_over();
            self.refresh_boring();
        }
        self.plan();
        u64::from(changes)
    }
}
