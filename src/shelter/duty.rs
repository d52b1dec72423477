//! Duty: how much of any ten minutes the motor has run.
//!
//! A drive rated "S3, 25 %, 10 min" (IEC 60034-1; the ten minutes from memory, so the period is the scenario's) may
//! run for 2.5 minutes in every window of ten, wherever the window begins. The fullest window always ends at a stop:
//! moving a window forward while the motor runs at its end never empties it, and after a stop it only empties.

use std::collections::VecDeque;

use crate::math::time::{Instant, Span};
use crate::scenario::door::Drive;

/// On-time in a sliding window; exact, and each stretch enters and leaves once.
#[derive(Clone, Debug)]
pub struct Duty {
    period: Span,
    /// Stretches that can still reach into a window, oldest first.
    recent: VecDeque<(Instant, Instant)>,
    /// Sum of their lengths.
    sum: Span,
    fullest: Span,
}

impl Duty {
    /// Nothing has run yet; windows of `period`.
    pub fn new(period: Span) -> Duty {
        Duty { period, recent: VecDeque::new(), sum: Span::ZERO, fullest: Span::ZERO }
    }

    /// The motor ran from `start` to `stop`. Stretches are given in order and do not overlap.
    pub fn ran(&mut self, start: Instant, stop: Instant) {
        debug_assert!(start <= stop, "a stretch cannot end before it begins");
        debug_assert!(self.recent.back().is_none_or(|last| last.1 <= start), "stretches must come in order");
        self.recent.push_back((start, stop));
        self.sum += stop.since(start);
        let opened = stop - self.period;
        while let Some(&(first, last)) = self.recent.front().filter(|stretch| stretch.1 <= opened) {
            self.sum = self.sum - last.since(first);
            self.recent.pop_front();
        }
        self.fullest = self.fullest.max(self.on_time(stop));
    }

    /// On-time in the window that ends at `now`, which is not before the last stop.
    pub fn on_time(&self, now: Instant) -> Span {
        let opened = now - self.period;
        let mut sum = self.sum;
        for &(start, stop) in &self.recent {
            if start >= opened {
                break;
            }
            sum = sum - stop.min(opened).since(start);
        }
        sum
    }

    /// On-time of the fullest window so far.
    pub fn fullest(&self) -> Span {
        self.fullest
    }

    /// On-time of the fullest window so far over what the drive's rating allows; above 1 breaks the rating.
    pub fn utilisation(&self, drive: &Drive) -> f64 {
        self.fullest.seconds() / (drive.duty_factor * self.period.seconds())
    }
}

/// Share of the final temperature rise that a body of time constant `tau_s` reaches at the end of the on-time, in a
/// steady series of equal cycles.
pub fn peak_share(on_s: f64, cycle_s: f64, tau_s: f64) -> f64 {
    libm::expm1(-on_s / tau_s) / libm::expm1(-cycle_s / tau_s)
}

/// How much more loss a body that may carry a load for ever can stand in equal cycles (S3). The ratio of currents is
/// its square root.
pub fn cyclic_loss_ratio(on_s: f64, cycle_s: f64, tau_s: f64) -> f64 {
    1.0 / peak_share(on_s, cycle_s, tau_s)
}

/// How much more loss a cold body can stand once for `on_s` (S2).
pub fn short_time_loss_ratio(on_s: f64, tau_s: f64) -> f64 {
    -1.0 / libm::expm1(-on_s / tau_s)
}
