//! The run-length law of a k-of-n rule under noise alone: how long until the next false alarm.
//!
//! The samples are hits with probability p each, independent or with the memory of a two-state Markov chain; the
//! rule raises an alarm as soon as at least k of the last n samples are hits. The law is that of an absorbing Markov
//! chain on the windows of [`super::window`] (Feller, An Introduction to Probability Theory and Its Applications,
//! vol. 1, 3rd ed., XIII.7 for k = n; Champ & Woodall, Technometrics 29, 1987, 393-399 for run rules in general).
//!
//! **Start-up.** Two conventions are in use before n samples have arrived: missing samples count as misses
//! ([`StartUp::Partial`], what the detectors here do), or no alarm is raised before sample n ([`StartUp::Full`]). In
//! the first n samples nothing leaves the window, so a rule that would have spoken earlier still speaks at sample n:
//! the full wait is the larger of the partial wait and n.

use super::window::{RunRuleError, advance, checked};
use crate::math::absorbing::{AbsorbingChain, Moments, TooManyStates};
use crate::scenario::strategy::RunRule;

pub use super::window::miss_probability;

/// How hits follow each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hits {
    /// Each sample is a hit with probability `p`, whatever came before.
    Independent {
        /// Hit probability, 0 to 1.
        p: f64,
    },
    /// A stationary two-state Markov chain of hits and misses.
    Markov {
        /// Hit probability of any one sample, 0 to 1.
        p: f64,
        /// Correlation of neighbouring samples, 0 to 1.
        correlation: f64,
    },
}

impl Hits {
    /// Hit probability of any one sample.
    pub fn p(self) -> f64 {
        match self {
            Hits::Independent { p } | Hits::Markov { p, .. } => p,
        }
    }

    /// Hit probability of the sample after a hit (`true`) or a miss.
    fn after(self, hit: bool) -> f64 {
        match self {
            Hits::Independent { p } => p,
            Hits::Markov { p, correlation } if hit => p + correlation * (1.0 - p),
            Hits::Markov { p, correlation } => p * (1.0 - correlation),
        }
    }
}

/// What happens before n samples have arrived.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StartUp {
    /// Missing samples count as misses: the alarm may come after k samples.
    Partial,
    /// No alarm before sample n.
    Full,
}

/// Law of the number of samples to the first alarm, the alarm's own sample included.
#[derive(Clone, Debug, PartialEq)]
pub struct RunLength {
    rule: RunRule,
    hits: Hits,
    start_up: StartUp,
    chain: AbsorbingChain,
}

impl RunLength {
    /// The law for `rule` on samples that hit as `hits` says, from a cold start.
    ///
    /// # Errors
    /// If the rule is impossible or has too many states.
    pub fn new(rule: RunRule, hits: Hits, start_up: StartUp) -> Result<RunLength, RunRuleError> {
        checked(rule)?;
        // The state is (last sample, window). Before the first sample there is no last one, and then the
        // stationary probability applies. For independent samples the last one is irrelevant.
        let remember = |hit: bool| matches!(hits, Hits::Markov { .. }).then_some(hit);
        let ways = |(last, window): &(Option<bool>, u64)| {
            let p = last.map_or(hits.p(), |hit| hits.after(hit));
            [(1.0 - p, false), (p, true)].map(|(probability, hit)| {
                let after = advance(rule, *window, hit).map(|window| (remember(hit), window));
                (probability, after)
            })
        };
        let chain = AbsorbingChain::explore((None, 0), ways)
            .map_err(|TooManyStates| RunRuleError::TooManyStates { k: rule.k, n: rule.n })?;
        Ok(RunLength { rule, hits, start_up, chain })
    }

    /// Mean and standard deviation of the wait, in samples.
    pub fn moments(&self) -> Moments {
        let partial = self.chain.moments();
        if self.start_up == StartUp::Partial || !partial.mean.is_finite() {
            return partial;
        }
        // E[max(T, n)] = E[T] + sum over t < n of P(T <= t); E[max(T, n)^2] likewise with weights 2 t + 1.
        let mut mean = partial.mean;
        let mut square = partial.sd * partial.sd + partial.mean * partial.mean;
        for t in 1..self.rule.n as u64 {
            let early = self.chain.absorbed_within(t);
            mean += early;
            square += (2 * t + 1) as f64 * early;
        }
        Moments { mean, sd: libm::sqrt((square - mean * mean).max(0.0)) }
    }

    /// Probability of an alarm within the first `samples` samples; accurate also where it is tiny.
    pub fn alarm_within(&self, samples: u64) -> f64 {
        if self.too_early(samples) { 0.0 } else { self.chain.absorbed_within(samples) }
    }

    /// Probability of no alarm within the first `samples` samples; accurate also where it is tiny.
    pub fn quiet_through(&self, samples: u64) -> f64 {
        if self.too_early(samples) { 1.0 } else { self.chain.alive_after(samples) }
    }

    fn too_early(&self, samples: u64) -> bool {
        self.start_up == StartUp::Full && samples < self.rule.n as u64
    }

    /// Smallest number of samples within which an alarm has probability `q` or more; `None` beyond 2^62 samples.
    pub fn quantile(&self, q: f64) -> Option<u64> {
        let partial = self.chain.quantile(q)?;
        Some(if self.start_up == StartUp::Full { partial.max(self.rule.n as u64) } else { partial })
    }

    /// Alarms per sample once the rule has been quiet for long.
    pub fn tail_hazard(&self) -> f64 {
        self.chain.tail_hazard()
    }

    /// Long-run share of samples at which at least k of the last n are hits, nothing being reset by an alarm. For
    /// independent samples this is a binomial tail.
    pub fn alarm_share(&self) -> f64 {
        // law[last][count]: probability that the last sample is (not) a hit and `count` samples are hits so far.
        let n = self.rule.n;
        let mut law = [vec![0.0; n + 1], vec![0.0; n + 1]];
        law[0][0] = 1.0 - self.hits.p();
        law[1][1] = self.hits.p();
        for _ in 1..n {
            let mut next = [vec![0.0; n + 1], vec![0.0; n + 1]];
            for last in [0, 1] {
                let p = self.hits.after(last == 1);
                for count in 0..n {
                    next[0][count] += law[last][count] * (1.0 - p);
                    next[1][count + 1] += law[last][count] * p;
                }
            }
            law = next;
        }
        law.iter().map(|counts| counts[self.rule.k..].iter().sum::<f64>()).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both start-up conventions by brute force over all sequences of 12 samples, p = 0.3, hits with memory.
    #[test]
    fn start_up_and_memory_by_enumeration() {
        let rule = RunRule { k: 2, n: 4 };
        let hits = Hits::Markov { p: 0.3, correlation: 0.4 };
        for start_up in [StartUp::Partial, StartUp::Full] {
            let law = RunLength::new(rule, hits, start_up).expect("a small rule");
            let mut within = [0.0; 13];
            for sequence in 0_u32..1 << 12 {
                let bit = |sample: usize| sequence >> sample & 1 == 1;
                let weigh = |p: f64, hit: bool| if hit { p } else { 1.0 - p };
                let mut weight = weigh(0.3, bit(0));
                for sample in 1..12 {
                    weight *= weigh(hits.after(bit(sample - 1)), bit(sample));
                }
                let first = if start_up == StartUp::Full { rule.n } else { 1 };
                let alarm = (first..=12).find(|samples| {
                    (samples.saturating_sub(rule.n)..*samples).filter(|sample| bit(*sample)).count() >= rule.k
                });
                for sum in within.iter_mut().skip(alarm.unwrap_or(13)) {
                    *sum += weight;
                }
            }
            for (samples, exact) in within.iter().enumerate() {
                let got = law.alarm_within(samples as u64);
                assert!((got - exact).abs() < 1e-13, "{start_up:?} {samples}: {got} {exact}");
                assert!((law.quiet_through(samples as u64) + got - 1.0).abs() < 1e-13);
            }
            let median = within.iter().position(|probability| *probability >= 0.5).expect("more likely than not by 12");
            assert_eq!(law.quantile(0.5), Some(median as u64));
        }
    }

    /// The full start-up's moments against its own distribution summed far into the tail.
    #[test]
    fn moments_of_the_full_start_up() {
        let law = RunLength::new(RunRule { k: 2, n: 3 }, Hits::Independent { p: 0.4 }, StartUp::Full).expect("small");
        let Moments { mean, sd } = law.moments();
        let quiet: Vec<f64> = (0..400).map(|samples| law.quiet_through(samples)).collect();
        let first: f64 = quiet.iter().sum();
        let second: f64 = quiet.iter().enumerate().map(|(t, quiet)| (2 * t + 1) as f64 * quiet).sum();
        assert!((mean - first).abs() < 1e-12 && (sd - (second - first * first).sqrt()).abs() < 1e-11);
    }
}
