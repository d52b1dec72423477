//! Channels whose noise remembers: what is skipped, and how.
//!
//! Readings then are not independent given the conditions, and no geometric law holds. What is skipped is decided by the
//! noise itself ([`super::super::noise`]): while it stays within the interval in which no target's reading is interesting,
//! only what does not depend on it (spurious returns, dropped samples) can be, with a constant probability for each sample.
//! While things move, and for statistics that remember readings, every sample is drawn.

use super::{Channel, Next, SKIP_BELOW, Sampling};
use crate::math::time::Instant;
use crate::sensing::law::{Law, Reading};
use crate::sensing::noise::{Noise, Quiet};

/// The noise of a channel.
#[derive(Clone, Copy, Debug)]
pub(super) struct Remembered {
    /// After the last sample accounted for.
    noise: Noise,
    /// Where it stays until the sample that is due, and what it is then (at a checkpoint: at the sample before).
    planned: Option<(Quiet, Noise)>,
}

/// Samples after which a plan ends even if nothing happens: laws seldom stay the same for longer.
const FARTHEST: u64 = 8_192;

impl Channel {
    /// Gives the noise a memory: the correlation of neighbouring samples, 0 to below 1. To be called before anything else.
    pub fn correlate(mut self, correlation: f64) -> Channel {
        if correlation > 0.0 {
            let noise = Noise::stationary(correlation, &mut self.stream);
            self.noise = Some(Remembered { noise, planned: None });
            self.plan();
        }
        self
    }

    /// Chooses the next sample to draw; `next` and `due` say "simply the next one" so far.
    pub(super) fn plan_remembered(&mut self, mut known: Remembered) {
        known.planned = None;
        self.noise = Some(known);
        if self.moving || self.sampling == Sampling::Every || !self.settled_or_silent() {
            return;
        }
        if self.law.targets.iter().all(|target| target.weight <= 0.0) {
            // Nothing that is read depends on the noise.
            let p = self.odds();
            if p < SKIP_BELOW {
                self.next = Next::Interesting;
                let gap = self.stream.failures_before_success(p);
                self.due_after(gap);
            }
            return;
        }
        if self.memory > 0 {
            return;
        }
        let Some(quiet) = self.law.quiet_noise(&self.boring) else { return };
        let aside = self.law.without_noise(&self.boring).interesting_probability(&self.boring);
        if aside >= SKIP_BELOW {
            return;
        }
        let most = self.stream.failures_before_success(aside).saturating_add(1);
        let within = most.min(FARTHEST);
        let mut noise = known.noise;
        let left = noise.leaves(within, &quiet, &mut self.stream);
        let (samples, next) = match left {
            Some(samples) => (samples - 1, Next::Outside),
            None if within == most => (within - 1, Next::Aside),
            None => (within, Next::Checkpoint),
        };
        self.due = self.clock + samples as i64;
        self.next = next;
        self.noise = Some(Remembered { noise: known.noise, planned: Some((quiet, noise)) });
    }

    /// Takes the sample that is due, as [`Channel::sample`] does.
    pub(super) fn sample_remembered(&mut self, mut known: Remembered, mut law_at: impl FnMut(Instant) -> Law) -> u64 {
        let passed = (self.due - self.clock) as u64;
        let planned = known.planned.map_or(known.noise, |(_, noise)| noise);
        self.skip_to(self.due);
        let reading = match self.next {
            Next::Checkpoint => {
                known.noise = planned;
                self.noise = Some(known);
                self.plan();
                return 0;
            }
            Next::Outside => {
                known.noise = planned;
                self.law.at_noise(planned.value()).draw(&mut self.stream)
            }
            Next::Aside => {
                known.noise = planned;
                self.law.without_noise(&self.boring).draw_interesting(&self.boring, &mut self.stream)
            }
            Next::Interesting => {
                let constant = self.law;
                self.recall(|_| constant);
                known.noise.pass(passed + 1, &mut self.stream);
                self.law.draw_interesting(&self.boring, &mut self.stream)
            }
            _ => {
                if self.moving {
                    self.law = law_at(self.time_of(self.due));
                }
                let value = known.noise.step(&mut self.stream);
                self.law.at_noise(value).draw(&mut self.stream)
            }
        };
        self.count_seen(reading);
        self.noise = Some(known);
        self.take(reading)
    }

    /// Accounts for the noise of the samples before number `first`.
    pub(super) fn reveal_remembered(&mut self, first: i64, mut known: Remembered) {
        let samples = (first - self.clock) as u64;
        match known.planned.take() {
            Some((_, noise)) if self.next == Next::Checkpoint && first == self.due => known.noise = noise,
            Some((quiet, _)) => known.noise.pass_quietly(samples, &quiet, &mut self.stream),
            None => known.noise.pass(samples, &mut self.stream),
        }
        self.noise = Some(known);
    }

    /// Draws one reading as the value at which a stuck sensor sticks: that of the last sample's noise.
    pub(super) fn last_remembered(&mut self, now: Instant) -> Reading {
        self.reveal(self.first_sample(now).max(self.clock));
        let value = self.noise.map_or(0.0, |known| known.noise.value());
        let reading = self.law.at_noise(value).draw(&mut self.stream);
        self.plan();
        reading
    }
}
