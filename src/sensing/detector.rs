//! A detector at work: readings in, on or off out.
//!
//! While off it counts the samples whose statistic lies on the on side of the on level, while on those whose
//! statistic lies on the off side of the off level; when k of the last n count, it changes over and the count starts
//! anew. Conventions: a window that is not full yet counts its missing samples as quiet; the sample that completes
//! the rule is the one at which the detector changes; a statistic over n readings speaks only once it has n.

use super::law::{Boring, Reading, snap};
use crate::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};

/// State of one detector.
#[derive(Clone, Debug)]
pub struct DetectorState {
    sense: Sense,
    on_level: f64,
    off_level: f64,
    rule: RunRule,
    release: RunRule,
    dropped: Dropped,
    median: bool,
    /// Bit c set: status code c counts as on. 0 for detectors with levels.
    says: u8,
    on: bool,
    /// Last samples as bits, newest lowest: 1 = speaks for a change.
    bits: u64,
    /// The last readings, newest at `newest`; empty for a level detector.
    window: Vec<f64>,
    newest: usize,
    filled: usize,
    /// Boring values in a row since the last interesting one or the last change.
    boring_run: usize,
}

impl DetectorState {
    /// A detector that is off and has seen nothing. `resolution` is its sensor's.
    pub fn new(detector: &Detector, resolution: f64) -> DetectorState {
        let (length, median) = match detector.statistic {
            Statistic::Level => (0, false),
            Statistic::MovingMean(n) => (n, false),
            Statistic::MovingMedian(n) => (n, true),
        };
        let says = detector.says.iter().fold(0, |mask, code| mask | 1 << (*code as u8));
        DetectorState {
            sense: detector.sense,
            on_level: snap(detector.on, resolution),
            off_level: snap(detector.off, resolution),
            rule: detector.rule,
            release: detector.release,
            dropped: detector.dropped,
            median,
            says,
            on: false,
            bits: 0,
            window: vec![0.0; if length > 1 { length } else { 0 }],
            newest: 0,
            filled: 0,
            boring_run: 0,
        }
    }

    /// Whether it is on.
    pub fn is_on(&self) -> bool {
        self.on
    }

    /// Number of readings its statistic looks at beyond the newest one.
    pub fn memory(&self) -> usize {
        self.window.len().saturating_sub(1)
    }

    /// Takes one reading; true if the detector changed over.
    pub fn feed(&mut self, reading: Reading, boring: bool) -> bool {
        let speaks = match reading {
            Reading::Nothing => match self.dropped {
                Dropped::Quiet => false,
                Dropped::Hold => return false,
                Dropped::Reset => {
                    self.bits = 0;
                    self.filled = 0;
                    self.boring_run = 0;
                    return false;
                }
            },
            Reading::Value(value) => {
                self.boring_run = if boring { self.boring_run + 1 } else { 0 };
                self.push(value);
                match self.statistic(value) {
                    Some(statistic) => self.speaks(statistic),
                    None => false,
                }
            }
        };
        self.bits = self.bits << 1 | u64::from(speaks);
        let RunRule { k, n } = if self.on { self.release } else { self.rule };
        let mask = u64::MAX >> (64 - n.clamp(1, 64));
        if (self.bits & mask).count_ones() as usize >= k {
            self.on = !self.on;
            self.bits = 0;
            self.boring_run = 0;
            return true;
        }
        false
    }

    /// Replaces what the statistic remembers: called with boring values, oldest first, after samples were skipped.
    pub fn refill(&mut self, value: f64) {
        self.push(value);
    }

    fn push(&mut self, value: f64) {
        if self.window.is_empty() {
            return;
        }
        self.newest = (self.newest + 1) % self.window.len();
        self.window[self.newest] = value;
        self.filled = (self.filled + 1).min(self.window.len());
    }

    fn statistic(&self, value: f64) -> Option<f64> {
        if self.window.is_empty() {
            return Some(value);
        }
        if self.filled < self.window.len() {
            return None;
        }
        let n = self.window.len();
        if self.median {
            let mut sorted = [0.0_f64; MEDIAN_MAX];
            let sorted = &mut sorted[..n.min(MEDIAN_MAX)];
            sorted.copy_from_slice(&self.window[..sorted.len()]);
            let middle = sorted.len() / 2;
            let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
            return Some(*median);
        }
        Some(self.window.iter().sum::<f64>() / n as f64)
    }

    /// Whether a statistic speaks for a change.
    fn speaks(&self, statistic: f64) -> bool {
        if self.says != 0 {
            let named = (0.0..8.0).contains(&statistic) && self.says >> (statistic as u8) & 1 == 1;
            return named != self.on;
        }
        match (self.sense, self.on) {
            (Sense::Below, false) => statistic <= self.on_level,
            (Sense::Below, true) => statistic > self.off_level,
            (Sense::Above, false) => statistic >= self.on_level,
            (Sense::Above, true) => statistic < self.off_level,
        }
    }

    /// The readings to which it does not react in its present state, once it is settled. For a mean or a median this
    /// is sound because both lie between the smallest and the largest reading of their window.
    pub fn boring(&self) -> Boring {
        let mut boring = Boring { nothing: self.dropped != Dropped::Reset, ..Boring::EVERYTHING };
        if self.says != 0 {
            return Boring { low: 0.0, high: 0.0, low_included: false, high_included: false, ..boring };
        }
        match (self.sense, self.on) {
            (Sense::Below, false) => (boring.low, boring.low_included) = (self.on_level, false),
            (Sense::Below, true) => boring.high = self.off_level,
            (Sense::Above, false) => (boring.high, boring.high_included) = (self.on_level, false),
            (Sense::Above, true) => boring.low = self.off_level,
        }
        boring
    }

    /// Whether this reading alone would not make it speak (exact, also for status codes).
    pub fn ignores(&self, reading: Reading) -> bool {
        match reading {
            Reading::Nothing => self.dropped != Dropped::Reset,
            Reading::Value(value) => !self.speaks(value),
        }
    }

    /// Whether it listens to status codes rather than to levels.
    pub fn is_coded(&self) -> bool {
        self.says != 0
    }

    /// Whether nothing of an earlier excitement is left in its windows.
    pub fn settled(&self) -> bool {
        self.bits == 0 && self.boring_run >= self.window.len().max(1)
    }

    /// The bits of its run window, for tests.
    pub fn bits(&self) -> u64 {
        self.bits
    }

    /// Shortens `bits` to its window, so that `settled` sees only what still matters.
    pub fn trim(&mut self) {
        let n = if self.on { self.release.n } else { self.rule.n };
        // The oldest bit of the window leaves it with the next sample.
        let keep = n.clamp(1, 64) - 1;
        self.bits &= if keep == 0 { 0 } else { u64::MAX >> (64 - keep) };
    }
}

/// Longest window of a moving median.
pub const MEDIAN_MAX: usize = 99;

#[cfg(test)]
mod tests {
    use super::*;

    fn detector(statistic: Statistic, rule: RunRule, dropped: Dropped) -> Detector {
        Detector {
            name: "d".into(),
            sensor: 0,
            statistic,
            sense: Sense::Below,
            on: 1.0,
            off: 1.5,
            rule,
            release: RunRule { k: 2, n: 2 },
            dropped,
            says: Vec::new(),
        }
    }

    fn run(detector: &Detector, readings: &[f64]) -> Vec<bool> {
        let mut state = DetectorState::new(detector, 0.0);
        readings
            .iter()
            .map(|value| {
                let reading = if value.is_nan() { Reading::Nothing } else { Reading::Value(*value) };
                let boring = state.boring().contains(reading);
                state.feed(reading, boring);
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
        let mut state = DetectorState::new(&median, 0.0);
        let mut history: Vec<f64> = Vec::new();
        for _ in 0..5_000 {
            let value = stream.between(0.0, 2.2);
            history.push(value);
            let was_on = state.is_on();
            state.feed(Reading::Value(value), false);
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
