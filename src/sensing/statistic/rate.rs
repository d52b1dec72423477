//! Closing speed: least-squares slope of the last n readings over the times at which they were taken.
//!
//! Samples without a reading leave a gap and the slope takes account of it; readings more than 2 n samples old are
//! forgotten. "Far" empties the window. Speed towards the sensor counts as positive. While on, a window that is not
//! full speaks for off: nothing approaches.

use std::collections::VecDeque;

use crate::math::time::Span;
use crate::sensing::law::Boring;

#[derive(Clone, Debug)]
pub(in crate::sensing) struct Rate {
    on: f64,
    off: f64,
    length: usize,
    period_s: f64,
    /// Sample number and reading, oldest first.
    window: VecDeque<(u64, f64)>,
    clock: u64,
    /// Readings within this distance of each other's middle cannot have a slope of `on`.
    half_band: f64,
    /// Middle of the band in which all readings of the window lie.
    middle: Option<f64>,
}

impl Rate {
    pub fn new(on: f64, off: f64, length: usize, period: Span) -> Rate {
        // |slope| <= e sum|t - mean| / sum(t - mean)^2 for readings within e of a value, and by Cauchy and Schwarz that
        // is at most e n / sum|t - mean|, largest where no sample is missing.
        let middle = 0.5 * (length as f64 - 1.0);
        let spread: f64 = (0..length).map(|j| libm::fabs(j as f64 - middle)).sum();
        let half_band = 0.999 * on * period.seconds() * spread / length as f64;
        Rate {
            on,
            off,
            length,
            period_s: period.seconds(),
            window: VecDeque::with_capacity(length),
            clock: 0,
            half_band,
            middle: None,
        }
    }

    pub fn copy_from(&mut self, other: &Rate) {
        self.window.clone_from(&other.window);
        (self.clock, self.middle) = (other.clock, other.middle);
    }

    pub fn take(&mut self, value: f64, on: bool) -> bool {
        self.push(value);
        if value.is_finite() && !self.middle.is_some_and(|middle| self.near(middle, value)) {
            self.middle = None;
            if self.window.len() == self.length {
                let mean = self.window.iter().map(|(_, x)| x).sum::<f64>() / self.length as f64;
                self.middle = self.window.iter().all(|(_, x)| self.near(mean, *x)).then_some(mean);
            }
        }
        match self.speed() {
            Some(speed) => {
                if on {
                    speed < self.off
                } else {
                    speed >= self.on
                }
            }
            None => on,
        }
    }

    fn near(&self, middle: f64, value: f64) -> bool {
        value >= middle - self.half_band && value <= middle + self.half_band
    }

    pub fn push(&mut self, value: f64) {
        self.clock += 1;
        if !value.is_finite() {
            self.window.clear();
            self.middle = None;
            return;
        }
        if self.window.len() == self.length {
            self.window.pop_front();
        }
        self.window.push_back((self.clock, value));
        self.forget();
    }

    pub fn idle(&mut self, samples: u64) {
        self.clock += samples;
        self.forget();
    }

    fn forget(&mut self) {
        let oldest = self.clock.saturating_sub(2 * self.length as u64);
        while self.window.front().is_some_and(|(at, _)| *at <= oldest && self.clock > *at) {
            self.window.pop_front();
        }
    }

    /// Speed towards the sensor, reading units per second; none while the window is not full.
    pub fn speed(&self) -> Option<f64> {
        if self.window.len() < self.length {
            return None;
        }
        let n = self.length as f64;
        let first = self.window[0].0;
        let time = |at: u64| (at - first) as f64;
        let mean_t = self.window.iter().map(|(at, _)| time(*at)).sum::<f64>() / n;
        let mean_x = self.window.iter().map(|(_, x)| x).sum::<f64>() / n;
        let (mut cross, mut square) = (0.0, 0.0);
        for (at, x) in &self.window {
            let t = time(*at) - mean_t;
            cross += t * (x - mean_x);
            square += t * t;
        }
        Some(-cross / (square * self.period_s))
    }

    pub fn clear(&mut self) {
        self.window.clear();
        self.middle = None;
    }

    pub fn changed_over(&mut self) {}

    pub fn remembers(&self) -> usize {
        self.length
    }

    /// With no target, "far" changes nothing; with a still one, readings within the band don't.
    pub fn boring(&self) -> Boring {
        match self.middle {
            Some(middle) => {
                Boring { low: middle - self.half_band, high: middle + self.half_band, ..Boring::EVERYTHING }
            }
            None => Boring { low: f64::INFINITY, ..Boring::EVERYTHING },
        }
    }

    pub fn settled(&self, on: bool) -> bool {
        !on && (self.window.is_empty() || self.middle.is_some())
    }
}
