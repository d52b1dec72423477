//! How old a polled status message is.

use crate::math::normal;
use crate::math::quadrature::Quadrature;

/// A status that is polled over a network that loses polls and delays answers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Polled {
    /// Time between polls, s.
    pub poll_s: f64,
    /// Median of the log-normal delay, s.
    pub delay_s: f64,
    /// Sigma of its logarithm.
    pub spread: f64,
    /// Probability that a poll is lost.
    pub loss: f64,
}

impl Polled {
    /// Mean time from an event to its being known, s: half a poll, the mean delay, and one more poll for each lost one.
    pub fn mean_age_s(&self) -> f64 {
        0.5 * self.poll_s
            + self.delay_s * libm::exp(0.5 * self.spread * self.spread)
            + self.poll_s * self.loss / (1.0 - self.loss)
    }

    /// Probability that an event is known `t` seconds later: wait U(0, T) + T x geometric losses + delay.
    pub fn known_within(&self, t: f64) -> f64 {
        let mut sum = 0.0;
        let mut weight = 1.0 - self.loss;
        let mut left = t;
        while left > 0.0 && weight > 1e-18 {
            sum += weight * self.first_within(left);
            weight *= self.loss;
            left -= self.poll_s;
        }
        sum
    }

    /// The same if no poll is lost: mean of the delay's distribution over the wait. With the integral of the log-normal
    /// distribution function I(t) = t F(t) - m exp(s^2 / 2) Phi((ln(t / m) - s^2) / s) it is (I(t) - I(t - T)) / T.
    fn first_within(&self, t: f64) -> f64 {
        let integral = |t: f64| {
            if t <= 0.0 {
                return 0.0;
            }
            let z = libm::log(t / self.delay_s) / self.spread;
            let partial = self.delay_s * libm::exp(0.5 * self.spread * self.spread) * normal::cdf(z - self.spread);
            t * normal::cdf(z) - partial
        };
        if self.poll_s <= 0.0 {
            return normal::cdf(libm::log(t / self.delay_s) / self.spread);
        }
        if t < 1e-3 * self.delay_s {
            // The difference would cancel.
            let cdf = |u: f64| normal::cdf(libm::log(u / self.delay_s) / self.spread);
            return Quadrature::legendre(32, (t - self.poll_s).max(0.0), t).integrate(cdf) / self.poll_s;
        }
        (integral(t) - integral(t - self.poll_s)) / self.poll_s
    }
}
