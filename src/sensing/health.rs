//! Judging a sensor's health without drawing its readings.
//!
//! A controller sees three signs in a sensor's readings: it says nothing (dead), it repeats one value although its noise
//! would not let it (frozen), its noise is a multiple of the stated one (noisy). A fault begins at a known moment and
//! changes the law of the readings from there, so that the moment at which the sign shows follows without a sample:
//!
//! - **dead**: a fixed time after the last reading;
//! - **frozen**: a fixed number of samples after the value stuck;
//! - **noisy**: the noise is estimated from blocks of n readings, each by m = 2 floor(n / 4) disjoint pairs of successive
//!   readings, half the squared difference of each (von Neumann 1941 for the use of successive differences, from
//!   memory: a slow drift cancels). The sum over the true variance follows chi-square with m degrees of freedom exactly,
//!   if the noise is white and normal; blocks are independent, so that the number of blocks until one is
//!   conspicuous is geometric: one draw for each fault.
//!
//! The figures (5 sample times, 200 samples, 3 times the noise) are common practice. What a healthy sensor does by chance
//! is left out: [`conspicuous`] is below 1e-100 for it at the usual figures. A sensor that loses so many readings that it
//! looks dead now and then ([`false_deaths_per_day`]) is warned of when the scenario is read. Rounding to the
//! resolution and bodies that move in view are not counted into the noise.

use super::law::Reading;
use crate::math::time::{Instant, Span};

/// How long a sensor that falls silent takes to be known as dead: at least so long, and so many sample times.
pub fn dead_after(at_least: Span, samples: u32, period: Span) -> Span {
    at_least.max(Span(period.0.saturating_mul(i64::from(samples))))
}

/// Expected false deaths per day of a sensor that loses each reading with probability `dropout`: runs of lost readings of
/// the length that counts as dead, each begun by a good one (runs in Bernoulli trials, Feller, vol. 1, XIII.7).
pub fn false_deaths_per_day(dropout: f64, dead_after: Span, period: Span) -> f64 {
    let samples = (dead_after.seconds() / period.seconds()).max(1.0);
    libm::exp(samples * libm::log(dropout)) * (1.0 - dropout) * 86_400.0 / period.seconds()
}

/// Whether a sensor stuck at this reading can be told from one whose readings happen to be alike: "far" and "nothing"
/// repeat by nature, and so does a sensor whose noise is no larger than its resolution.
pub fn freezes_visibly(stuck_at: Reading, noise: f64, resolution: f64) -> bool {
    matches!(stuck_at, Reading::Value(value) if value.is_finite()) && noise > resolution
}

/// Degrees of freedom of the noise estimated from a block of `samples` readings.
pub fn block_freedom(samples: u32) -> u32 {
    2 * (samples / 4).max(1)
}

/// Probability that a block of `samples` readings looks noisier than `beyond` times the stated noise when its noise is
/// truly `factor` times the stated one: the upper tail of chi-square at m (beyond / factor)^2 for m = [`block_freedom`], a finite
/// sum because m is even (Erlang: P(chi2_m > x) = sum over i < m/2 of exp(-x/2) (x/2)^i / i!).
pub fn conspicuous(samples: u32, beyond: f64, factor: f64) -> f64 {
    let m = block_freedom(samples);
    let h = 0.5 * f64::from(m) * (beyond / factor).powi(2);
    let ln_h = libm::log(h);
    let term = |i: u32| libm::exp(f64::from(i) * ln_h - h - libm::lgamma(f64::from(i) + 1.0));
    (0..m / 2).map(term).sum::<f64>().min(1.0)
}

/// How long a noisy sensor takes to be known as such: `blocks` blocks, the last of which is conspicuous.
pub fn noisy_after(blocks: u64, samples: u32, period: Span) -> Span {
    let block = period.0.saturating_mul(i64::from(samples));
    // Beyond the clock's range is never.
    Span(block.saturating_mul(i64::try_from(blocks).unwrap_or(i64::MAX)).min(Instant::NEVER.0 / 2))
}

/// Whether a sensor with a reference has drifted from it.
pub fn has_drifted(drift: f64, noise: f64, beyond: f64) -> bool {
    noise > 0.0 && libm::fabs(drift) > beyond * noise
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use statrs::distribution::{ChiSquared, ContinuousCDF};

    /// The finite sum against the survival function of an independent library.
    #[test]
    fn conspicuous_blocks_follow_chi_square() {
        for samples in [4, 40, 200, 1_000] {
            let m = f64::from(block_freedom(samples));
            let law = ChiSquared::new(m).unwrap();
            for factor in [1.5, 2.5, 2.9, 3.0, 3.2, 4.0, 8.0] {
                let (own, other) = (conspicuous(samples, 3.0, factor), law.sf(m * (3.0 / factor).powi(2)));
                assert!((own - other).abs() <= 1e-9 * other + 1e-12, "{samples} {factor}: {own} {other}");
            }
        }
        assert!(conspicuous(200, 3.0, 1.0) < 1e-100);
    }

    /// The geometric number of blocks against readings drawn one by one and judged: means over 400 runs within 4
    /// standard errors, for a noise factor at which several blocks pass unnoticed.
    #[test]
    fn skipping_to_the_judgement_agrees_with_drawing_every_reading() {
        let (samples, beyond, factor) = (40, 3.0, 2.7);
        let p = conspicuous(samples, beyond, factor);
        assert!((0.02..0.5).contains(&p), "{p}");
        let mut stream = Source::new(3, 0, "noisy").stream(0);
        let runs = 400;
        let drawn: Vec<f64> = (0..runs)
            .map(|_| {
                let mut blocks = 0.0;
                loop {
                    blocks += 1.0;
                    let m = block_freedom(samples);
                    let pair = |stream: &mut crate::math::random::Stream| {
                        let (a, b) = (factor * stream.normal(), factor * stream.normal());
                        0.5 * (a - b).powi(2)
                    };
                    let sum: f64 = (0..m).map(|_| pair(&mut stream)).sum();
                    if sum / f64::from(m) > beyond * beyond {
                        return blocks;
                    }
                }
            })
            .collect();
        let mean = drawn.iter().sum::<f64>() / f64::from(runs);
        let sd = (drawn.iter().map(|b| (b - mean).powi(2)).sum::<f64>() / f64::from(runs - 1)).sqrt();
        assert!((mean - 1.0 / p).abs() < 4.0 * sd / f64::from(runs).sqrt(), "{mean} against {}", 1.0 / p);
    }

    /// Runs of 3 lost readings, counted in drawn ones: a Poisson-like count, within 4 standard errors.
    #[test]
    fn false_deaths_are_runs_of_lost_readings() {
        let (dropout, period) = (0.2, Span::from_seconds(0.1));
        let expected = false_deaths_per_day(dropout, Span::from_seconds(0.3), period);
        let mut stream = Source::new(3, 0, "lost").stream(0);
        let (mut run, mut deaths) = (0, 0.0);
        for _ in 0..864_000 {
            run = if stream.chance(dropout) { run + 1 } else { 0 };
            deaths += f64::from(u8::from(run == 3));
        }
        assert!((deaths - expected).abs() < 4.0 * expected.sqrt(), "{deaths} against {expected}");
    }

    #[test]
    fn what_repeats_by_nature_is_not_frozen() {
        assert!(freezes_visibly(Reading::Value(1.0), 0.02, 0.01));
        assert!(!freezes_visibly(Reading::Value(1.0), 0.01, 0.01));
        assert!(!freezes_visibly(Reading::Value(f64::INFINITY), 0.02, 0.01));
        assert!(!freezes_visibly(Reading::Nothing, 0.02, 0.01));
        assert!(!has_drifted(0.1, 0.0, 3.0) && has_drifted(-0.1, 0.02, 3.0) && !has_drifted(0.05, 0.02, 3.0));
        let second = Span::SECOND;
        assert_eq!(dead_after(Span(5_000_000), 5, Span(50_000)), Span(5_000_000));
        assert_eq!(dead_after(second, 5, Span::MINUTE), Span(300_000_000));
        assert_eq!(noisy_after(u64::MAX, 200, second), Span(Instant::NEVER.0 / 2));
    }
}
