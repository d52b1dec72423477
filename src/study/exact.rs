//! Exact tests of counts, all of them conditional binomial tests.

use statrs::distribution::{Binomial, DiscreteCDF};

/// Two probabilities of one binomial law count as equal within this factor: rounding must not break ties.
const TIE: f64 = 1.0 + 1e-7;

/// Two-sided probability, under success probability `p`, of an outcome at most as likely as `successes` among
/// `trials`: the sum of all probabilities that don't exceed that of the outcome (Clopper-Pearson's test by minimum
/// likelihood, as general-purpose statistics libraries compute it). 1 without trials.
pub fn binomial_two_sided(successes: u64, trials: u64, p: f64) -> f64 {
    if trials == 0 || successes > trials || !(0.0..=1.0).contains(&p) {
        return 1.0;
    }
    if p == 0.0 || p == 1.0 {
        let certain = if p == 0.0 { 0 } else { trials };
        return if successes == certain { 1.0 } else { 0.0 };
    }
    let Ok(law) = Binomial::new(p, trials) else { return 1.0 };
    let likely = ln_probability(successes, trials, p);
    let as_unlikely = |other: u64| ln_probability(other, trials, p) <= likely + libm::log(TIE);
    let mode = ((trials + 1) as f64 * p) as u64;
    // The law rises up to its mode and falls after it: on the far side, bisection finds where the tail begins.
    let tails = if successes <= mode {
        let far = first(mode.max(successes + 1), trials + 1, as_unlikely);
        law.cdf(successes) + if far > trials { 0.0 } else { law.sf(far - 1) }
    } else {
        let not_yet = first(0, mode + 1, |other| !as_unlikely(other));
        law.sf(successes - 1) + if not_yet == 0 { 0.0 } else { law.cdf(not_yet - 1) }
    };
    tails.min(1.0)
}

/// Smallest number from `from` (up to, not including, `to`) at which a condition holds that stays true once it has
/// become so; `to` if there is none.
fn first(from: u64, to: u64, holds: impl Fn(u64) -> bool) -> u64 {
    let (mut low, mut high) = (from, to);
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) { high = middle } else { low = middle + 1 }
    }
    low
}

fn ln_probability(x: u64, n: u64, p: f64) -> f64 {
    let ln_factorial = |count: u64| libm::lgamma(count as f64 + 1.0);
    let ways = ln_factorial(n) - ln_factorial(x) - ln_factorial(n - x);
    ways + x as f64 * libm::log(p) + (n - x) as f64 * libm::log1p(-p)
}

/// McNemar's test, exact (Psychometrika 12, 1947, 153-157): of the cases in which two designs differ, `only_a` happened
/// with the first alone and `only_b` with the second alone. Two-sided probability if both are equally likely.
pub fn mcnemar(only_a: u64, only_b: u64) -> f64 {
    binomial_two_sided(only_a, only_a + only_b, 0.5)
}

/// Two-sided exact test that two Poisson rates are equal (Przyborowski & Wilenski, Biometrika 31, 1940, 313-323):
/// `events` in `exposure` each. Given their sum, the first count is binomial.
pub fn two_rates(events: [u64; 2], exposure: [f64; 2]) -> f64 {
    let whole = exposure[0] + exposure[1];
    // Rejects NaN as well.
    if !(exposure[0] > 0.0 && exposure[1] > 0.0 && whole.is_finite()) {
        return 1.0;
    }
    binomial_two_sided(events[0], events[0] + events[1], exposure[0] / whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Adding up every outcome at most as likely, for all small cases.
    #[test]
    fn equals_the_sum_over_all_outcomes() {
        for n in 0..=12_u64 {
            for p in [0.05, 0.3, 0.5, 0.77] {
                let ways = |x: u64| (0..x).map(|i| (n - i) as f64 / (i + 1) as f64).product::<f64>();
                let probability = |x: u64| ways(x) * f64::powi(p, x as i32) * f64::powi(1.0 - p, (n - x) as i32);
                for x in 0..=n {
                    let sum: f64 = (0..=n).map(probability).filter(|other| *other <= probability(x) * TIE).sum();
                    let got = binomial_two_sided(x, n, p);
                    assert!((got - sum).abs() < 1e-12, "{x} of {n} at {p}: {got} {sum}");
                }
            }
        }
    }

    #[test]
    fn extremes() {
        assert_eq!(binomial_two_sided(0, 0, 0.5), 1.0);
        assert_eq!(binomial_two_sided(1, 3, 0.0), 0.0);
        assert_eq!(binomial_two_sided(3, 3, 1.0), 1.0);
        assert_eq!(two_rates([3, 4], [0.0, 1.0]), 1.0);
        assert!(mcnemar(0, 2_000) < 1e-300);
    }
}
