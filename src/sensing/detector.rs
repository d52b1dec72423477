//! A detector at work: readings in, on or off out.
//!
//! While off it counts the samples whose statistic lies on the on side of the on level, while on those whose
//! statistic lies on the off side of the off level; when k of the last n count, it changes over and the count starts
//! anew. Conventions: a window that is not full yet counts its missing samples as quiet; the sample that completes
//! the rule is the one at which the detector changes; a statistic over n readings speaks only once it has n.

use super::approach::Evidence;
use super::channel::Tally;
use super::law::{Boring, Reading};
use super::statistic::{Frame, Memory};
use super::window::forget;
use crate::scenario::strategy::{Detector, Dropped, RunRule};

/// State of one detector.
#[derive(Clone, Debug)]
pub struct DetectorState {
    statistic: Memory,
    rule: RunRule,
    release: RunRule,
    /// Whether it needs one sample less to go on, for now.
    shorter: bool,
    dropped: Dropped,
    /// Bit c set: status code c counts as on. 0 for detectors with levels.
    says: u8,
    on: bool,
    /// Last samples as bits, newest lowest: 1 = speaks for a change.
    bits: u64,
}

impl DetectorState {
    /// A detector that is off and has seen nothing; `frame` is its sensor's.
    pub fn new(detector: &Detector, frame: &Frame) -> DetectorState {
        let says = detector.says.iter().fold(0, |mask, code| mask | 1 << (*code as u8));
        DetectorState {
            statistic: Memory::new(detector, frame),
            rule: detector.rule,
            release: detector.release,
            shorter: false,
            dropped: detector.dropped,
            says,
            on: false,
            bits: 0,
        }
    }

    /// Becomes as another state of the same detector, in the room that it has.
    pub(super) fn copy_from(&mut self, other: &DetectorState) {
        self.statistic.copy_from(&other.statistic);
        (self.on, self.shorter, self.bits) = (other.on, other.shorter, other.bits);
    }

    /// Its statistic; none where that is the reading itself, or where it says nothing yet.
    pub fn statistic(&self) -> Option<f64> {
        self.statistic.value()
    }

    /// From now on it needs one sample less to go on (never none), or as many as its rule says.
    pub fn shorten(&mut self, shorter: bool) {
        self.shorter = shorter;
    }

    /// The run rule that would change it over now.
    fn in_force(&self) -> RunRule {
        match (self.on, self.shorter) {
            (true, _) => self.release,
            (false, false) => self.rule,
            (false, true) => self.rule.shortened(),
        }
    }

    /// Number of the run rule that would change it over now: to go on, to go on with one sample less, to go off.
    pub fn rule_in_force(&self) -> usize {
        if self.on { 2 } else { usize::from(self.shorter) }
    }

    /// Off, and with nothing remembered.
    pub fn begin_anew(&mut self) {
        self.statistic.clear();
        (self.on, self.shorter, self.bits) = (false, false, 0);
    }

    /// Whether it is on.
    pub fn is_on(&self) -> bool {
        self.on
    }

    /// Number of readings its statistic looks at beyond the newest one.
    pub fn memory(&self) -> usize {
        self.statistic.remembers()
    }

    /// Takes one reading; true if the detector changed over.
    pub fn feed(&mut self, reading: Reading) -> bool {
        let speaks = match reading {
            Reading::Nothing => {
                self.statistic.idle(1);
                match self.dropped {
                    Dropped::Quiet => false,
                    Dropped::Hold => return false,
                    Dropped::Reset => {
                        self.bits = 0;
                        self.statistic.clear();
                        return false;
                    }
                }
            }
            Reading::Value(value) if self.says != 0 => self.names(value) != self.on,
            Reading::Value(value) => self.statistic.take(value, self.on),
        };
        self.bits = self.bits << 1 | u64::from(speaks);
        if self.in_force().is_complete(self.bits) {
            self.change_over();
            return true;
        }
        false
    }

    /// Takes a reading that was skipped: it was boring. Called oldest first.
    pub fn refill(&mut self, reading: Reading) {
        self.statistic.refill(reading);
    }

    /// Samples without a reading went by.
    pub fn idle(&mut self, samples: u64) {
        self.statistic.idle(samples);
    }

    /// Whether a status code is one of those that count as on.
    fn names(&self, value: f64) -> bool {
        (0.0..8.0).contains(&value) && self.says >> (value as u8) & 1 == 1
    }

    /// The readings to which it does not react in its present state, once it is settled.
    pub fn boring(&self) -> Boring {
        let nothing = self.dropped != Dropped::Reset;
        if self.says != 0 {
            return Boring { low: 0.0, high: 0.0, low_included: false, high_included: false, nothing };
        }
        Boring { nothing, ..self.statistic.boring(self.on) }
    }

    /// Whether it, settled, would not react to this reading (exact, also for status codes).
    pub fn ignores(&self, reading: Reading) -> bool {
        match reading {
            Reading::Value(value) if self.says != 0 => self.names(value) == self.on,
            _ => self.boring().contains(reading),
        }
    }

    /// Whether it listens to status codes rather than to levels.
    pub fn is_coded(&self) -> bool {
        self.says != 0
    }

    /// Whether its boring readings depend on more than on and off.
    pub fn shifts(&self) -> bool {
        self.statistic.shifts()
    }

    /// Whether boring readings can do nothing to it: no sample of its run window speaks, and its statistic can't.
    pub fn settled(&self) -> bool {
        self.bits == 0 && self.statistic.settled(self.on)
    }

    /// The run rule over readings that must be complete before anything comes of them, and what a sample without a reading does
    /// to it, for a detector that forgets nothing all at once: a level's own, with which it changes over, or that of a full median,
    /// which speaks when most of its readings do. A median leaves out samples without a reading.
    pub fn runs(&self) -> Option<(RunRule, Dropped)> {
        if self.dropped == Dropped::Reset {
            return None;
        }
        match &self.statistic {
            Memory::Level(_) => Some((self.in_force(), self.dropped)),
            statistic => statistic.majority().map(|rule| (rule, Dropped::Hold)),
        }
    }

    /// Whether it changes over with the first complete run of [`DetectorState::runs`]: a median that must speak more than once does
    /// not.
    pub fn changes_with_a_run(&self) -> bool {
        matches!(self.statistic, Memory::Level(_)) || self.in_force().k == 1
    }

    /// A run of [`DetectorState::runs`] is complete; true if it changed over.
    pub fn completed_a_run(&mut self) -> bool {
        self.bits = self.bits << 1 | 1;
        let changes = self.changes_with_a_run() || self.in_force().is_complete(self.bits);
        if changes {
            self.change_over();
        }
        self.trim();
        changes
    }

    /// All that it changes over by, for a level or a full median of an odd number of readings that does not begin anew with a
    /// sample without a reading.
    pub(super) fn tally(&self) -> Option<Tally> {
        if self.dropped == Dropped::Reset || self.says != 0 || self.in_force().n > 64 {
            return None;
        }
        let (readings, window) = self.statistic.majority_bits(self.on)?;
        Some(Tally { readings, rule: self.in_force(), dropped: self.dropped, window, bits: self.bits })
    }

    /// A median's readings are all such as don't speak; which ones will be told when it is asked what they are.
    pub fn hold_quiet(&mut self) {
        self.statistic.hold_quiet(self.on);
    }

    /// Whether no sample that spoke can still count towards a run.
    pub fn is_clear(&self) -> bool {
        self.bits == 0 && self.statistic.is_clear(self.on)
    }

    /// Samples that must speak in a row from now on to change it over.
    pub fn needs(&self) -> u64 {
        let rule = self.in_force();
        let mut bits = self.bits;
        let mut needs = 0;
        loop {
            bits = bits << 1 | 1;
            needs += 1;
            if rule.is_complete(bits) {
                return needs;
            }
        }
    }

    /// The window of its run rule holds these samples, newest lowest: 1 = spoke.
    pub fn remember(&mut self, bits: u64) {
        self.bits = bits;
    }

    /// `samples` samples spoke, too few to change it over.
    pub fn spoke(&mut self, samples: u64) {
        self.bits = if samples >= 64 { u64::MAX } else { self.bits << samples | ((1 << samples) - 1) };
        self.trim();
    }

    /// A sample with a reading did not speak.
    pub fn stayed_quiet(&mut self) {
        self.bits <<= 1;
        self.trim();
    }

    /// Its run is complete.
    pub fn change_over(&mut self) {
        self.on = !self.on;
        self.bits = 0;
        self.statistic.changed_over();
    }

    /// What it remembers, as a run of hits; none while it is on, while a median's window is not full, and for statistics
    /// that remember more. To be asked when nothing skipped waits to be remembered.
    pub fn evidence(&self) -> Option<Evidence> {
        if self.on {
            return None;
        }
        Some(Evidence { hits: self.statistic.hits()?, spoke: self.bits })
    }

    /// Whether its statistic may remember a hit from before the samples that are skipped now.
    pub fn may_hold_hits(&self) -> bool {
        self.statistic.hits() != Some(0)
    }

    /// All that tells it from other states of the same detector but for its sum, for levels, medians and sums.
    pub(super) fn mark(&self, into: &mut Vec<u64>) {
        let rule = self.in_force();
        into.extend([u64::from(self.on), forget(rule, rule.kept(self.bits))]);
        self.statistic.mark(into);
    }

    /// The sum that its statistic keeps, if it does.
    pub(super) fn sum(&self) -> Option<f64> {
        self.statistic.sum()
    }

    /// Puts another number into the sum that its statistic keeps, if it does.
    pub(super) fn set_sum(&mut self, sum: f64) {
        self.statistic.set_sum(sum);
    }

    /// The bits of its run window.
    pub fn bits(&self) -> u64 {
        self.bits
    }

    /// Shortens `bits` to its window, so that `settled` sees only what still matters.
    pub fn trim(&mut self) {
        let rule = if self.on { self.release } else { self.rule };
        // The oldest bit of the window leaves it with the next sample.
        self.bits = rule.kept(self.bits);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::time::Span;
    use crate::scenario::strategy::Statistic;
    use crate::sensing::invented;

    const FRAME: Frame = Frame { resolution: 0.0, period: Span(100_000), farthest: f64::INFINITY };

    fn detector(statistic: Statistic, rule: RunRule, dropped: Dropped) -> Detector {
        Detector { rule, release: RunRule { k: 2, n: 2 }, dropped, ..invented::detector(statistic, (1.0, 1.5)) }
    }

    fn run(detector: &Detector, readings: &[f64]) -> Vec<bool> {
        let mut state = DetectorState::new(detector, &FRAME);
        readings
            .iter()
            .map(|value| {
                let reading = if value.is_nan() { Reading::Nothing } else { Reading::Value(*value) };
                state.feed(reading);
                state.is_on()
            })
            .collect()
    }

    const DROP: f64 = f64::NAN;

    #[test]
    fn two_of_three_with_hysteresis() {
        let d = detector(Statistic::Level, RunRule { k: 2, n: 3 }, Dropped::Quiet);
        let states = run(&d, &[0.9, 2.0, 0.9, 1.2, 1.6, 1.2, 1.6, 1.6, 2.0]);
        assert_eq!(states, [false, false, true, true, true, true, true, false, false]);
    }

    #[test]
    fn dropped_readings_follow_the_convention() {
        let rule = RunRule { k: 2, n: 2 };
        let readings = [0.9, DROP, 0.9, 0.9];
        let by = |dropped| run(&detector(Statistic::Level, rule, dropped), &readings);
        assert_eq!(by(Dropped::Quiet), [false, false, false, true]);
        assert_eq!(by(Dropped::Hold), [false, false, true, true]);
        let reset = run(&detector(Statistic::Level, RunRule { k: 2, n: 3 }, Dropped::Reset), &readings);
        assert_eq!(reset, [false, false, false, true]);
        let quiet = run(&detector(Statistic::Level, RunRule { k: 2, n: 3 }, Dropped::Quiet), &readings);
        assert_eq!(quiet, [false, false, true, true]);
    }

    /// The median of an odd window lies on the on side exactly when more than half of its readings do.
    #[test]
    fn median_equals_a_majority() {
        use crate::math::random::Source;
        let median = detector(Statistic::MovingMedian(5), RunRule { k: 1, n: 1 }, Dropped::Quiet);
        let mut stream = Source::new(1, 1, "median").stream(0);
        let mut state = DetectorState::new(&median, &FRAME);
        let mut history: Vec<f64> = Vec::new();
        for _ in 0..5_000 {
            let value = stream.between(0.0, 2.2);
            history.push(value);
            let was_on = state.is_on();
            state.feed(Reading::Value(value));
            if history.len() >= 5 {
                let last = &history[history.len() - 5..];
                let below_on = last.iter().filter(|v| **v <= 1.0).count() >= 3;
                let above_off = last.iter().filter(|v| **v > 1.5).count() >= 3;
                let release = if was_on { above_off } else { below_on };
                // Releases need two in a row; entries need one.
                if !was_on {
                    assert_eq!(state.is_on(), release);
                }
            }
        }
    }

    #[test]
    fn moving_mean_waits_until_it_is_full() {
        let d = detector(Statistic::MovingMean(3), RunRule { k: 1, n: 1 }, Dropped::Quiet);
        assert_eq!(run(&d, &[0.5, 0.5, 0.5, 2.0, 2.0, 2.0, 2.0]), [false, false, true, true, true, true, false]);
    }
}
