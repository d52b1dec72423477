//! Mean or median of the last n readings.
//!
//! Both speak only once n readings have come, and both lie between the smallest and the largest of them.

use super::Levels;
use crate::scenario::strategy::{RunRule, newest};

/// Longest window of a moving median.
pub const MEDIAN_MAX: usize = 99;

/// A window of readings.
#[derive(Clone, Debug)]
pub(in crate::sensing) struct Window {
    pub levels: Levels,
    median: bool,
    /// The last readings, newest at `newest`.
    values: Vec<f64>,
    newest: usize,
    filled: usize,
    /// Readings in a row that did not speak, since the last one that did or the last change: what a mean is judged by.
    boring_run: usize,
}

impl Window {
    pub fn new(levels: Levels, length: usize, median: bool) -> Window {
        Window { levels, median, values: vec![0.0; length], newest: 0, filled: 0, boring_run: 0 }
    }

    pub fn copy_from(&mut self, other: &Window) {
        self.values.clone_from(&other.values);
        (self.newest, self.filled, self.boring_run) = (other.newest, other.filled, other.boring_run);
    }

    pub fn take(&mut self, value: f64, on: bool) -> bool {
        self.boring_run = if self.levels.speaks(value, on) { 0 } else { self.boring_run + 1 };
        self.push(value);
        self.value().is_some_and(|value| self.levels.speaks(value, on))
    }

    /// Holds nothing but readings that don't speak, if it is a median: as far beyond its level as can be.
    pub fn hold_quiet(&mut self, on: bool) {
        if self.median {
            let farthest = [f64::NEG_INFINITY, f64::INFINITY].into_iter().find(|value| !self.levels.speaks(*value, on));
            self.values.fill(farthest.unwrap_or_default());
            self.filled = self.values.len();
        }
    }

    /// Mean or median; none while the window is not full.
    pub fn value(&self) -> Option<f64> {
        (self.filled == self.values.len()).then(|| self.statistic())
    }

    pub fn push(&mut self, value: f64) {
        self.newest = (self.newest + 1) % self.values.len();
        self.values[self.newest] = value;
        self.filled = (self.filled + 1).min(self.values.len());
    }

    pub fn clear(&mut self) {
        self.filled = 0;
        self.boring_run = 0;
    }

    pub fn changed_over(&mut self) {
        self.boring_run = 0;
    }

    pub fn remembers(&self) -> usize {
        self.values.len() - 1
    }

    /// Whether readings that don't speak can't make it speak. A mean must have forgotten all that did. A median speaks only
    /// if most of its readings do: while they are no majority, each that doesn't can only make them fewer.
    pub fn settled(&self, on: bool) -> bool {
        if !self.median {
            return self.boring_run >= self.values.len();
        }
        let n = self.values.len();
        let speaking = (0..self.filled).filter(|age| self.levels.speaks(self.aged(*age), on)).count();
        2 * speaking < n
    }

    /// Readings that make a majority, and how many it looks at, if it is a full median: it speaks exactly when so many of them
    /// do.
    pub fn majority(&self) -> Option<RunRule> {
        let n = self.values.len();
        (self.median && n % 2 == 1 && self.filled == n).then_some(RunRule { k: n / 2 + 1, n })
    }

    /// Whether none of its readings speaks that are still there when the next one comes.
    pub fn is_clear(&self, on: bool) -> bool {
        (0..self.filled.min(self.values.len() - 1)).all(|age| !self.levels.speaks(self.aged(age), on))
    }

    /// Which of its readings speak, newest lowest; of more than 64, the newest.
    pub fn bits(&self, on: bool) -> u64 {
        let speaks = |age: usize| u64::from(self.levels.speaks(self.aged(age), on)) << age;
        (0..self.filled.min(64)).map(speaks).sum()
    }

    /// Its readings but for the oldest of a full one, newest first, and how many it has.
    pub fn mark(&self, into: &mut Vec<u64>) {
        into.push(self.filled as u64);
        into.extend((0..self.filled.min(self.values.len() - 1)).map(|age| self.aged(age).to_bits()));
    }

    /// The reading of this age; 0 is the newest.
    fn aged(&self, age: usize) -> f64 {
        let n = self.values.len();
        self.values[(self.newest + n - age) % n]
    }

    pub fn hits(&self) -> Option<u64> {
        let n = self.values.len();
        if !self.median || self.filled < n || n > 64 {
            return None;
        }
        Some(self.bits(false) & newest(n - 1))
    }

    fn statistic(&self) -> f64 {
        if !self.median {
            return self.values.iter().sum::<f64>() / self.values.len() as f64;
        }
        let mut sorted = [0.0_f64; MEDIAN_MAX];
        let sorted = &mut sorted[..self.values.len().min(MEDIAN_MAX)];
        sorted.copy_from_slice(&self.values[..sorted.len()]);
        let middle = sorted.len() / 2;
        let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
        *median
    }
}
