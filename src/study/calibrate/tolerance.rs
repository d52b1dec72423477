//! The factor of a one-sided normal tolerance limit: mean - k s lies below a share p of a normal law with confidence c
//! (NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3): k = t'(c; n - 1, z_p sqrt n) / sqrt n with the quantile t'
//! of the non-central t law.
//!
//! That law is integrated here: with S the sample's standard deviation over the true one, T = (Z + delta) / S, so
//! P(T <= t) is the mean of Phi(t S - delta) over S, and n - 1 times S squared is chi-square.

use crate::math::normal;
use crate::math::quadrature::Quadrature;
use crate::study::interval::normal_quantile;
use statrs::function::gamma::ln_gamma;

/// Standard deviations of S on either side that are integrated over: what lies beyond is below 1e-20.
const REACH: f64 = 10.0;
/// Panels and nodes in each.
const PANELS: usize = 8;
const NODES: usize = 32;

/// The law of S for `freedom` degrees of freedom: nodes, each with its weight times the density there.
fn scales(freedom: f64) -> Vec<(f64, f64)> {
    let spread = 1.0 / libm::sqrt(2.0 * freedom);
    let (low, high) = ((1.0 - REACH * spread).max(0.0), 1.0 + REACH * spread);
    // f(s) = 2 (v/2)^(v/2) / Gamma(v/2) s^(v-1) exp(-v s^2 / 2).
    let half = 0.5 * freedom;
    let constant = libm::log(2.0) + half * libm::log(half) - ln_gamma(half);
    let density = |s: f64| libm::exp(constant + (freedom - 1.0) * libm::log(s) - half * s * s);
    let edge = |panel: usize| low + (high - low) * panel as f64 / PANELS as f64;
    let rules = (0..PANELS).map(|panel| Quadrature::legendre(NODES, edge(panel), edge(panel + 1)));
    rules
        .flat_map(|rule| rule.nodes.into_iter().zip(rule.weights).collect::<Vec<_>>())
        .map(|(s, weight)| (s, weight * density(s)))
        .collect()
}

/// The factor k for `n` values, two or more; `share` and `confidence` between 0 and 1.
pub fn factor(n: u64, share: f64, confidence: f64) -> f64 {
    let n = n as f64;
    let scales = scales(n - 1.0);
    let root = libm::sqrt(n);
    let delta = normal_quantile(share) * root;
    // P(mean - k s <= the law's quantile), rising with k.
    let covers = |k: f64| scales.iter().map(|(s, weight)| weight * normal::cdf(k * root * s - delta)).sum::<f64>();
    let (mut low, mut high) = (-1.0, 1.0);
    while covers(high) < confidence && high < 1e9 {
        high *= 2.0;
    }
    while covers(low) > confidence && low > -1e9 {
        low *= 2.0;
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if covers(middle) < confidence { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::interval::t_quantile;

    /// The handbook's example has n = 43, p = 0.90, confidence 0.99: 1.8740 (its approximation gives 1.8752); more digits
    /// from an independent program.
    #[test]
    fn the_handbook() {
        assert!((factor(43, 0.90, 0.99) - 1.873_953_605_851_198_7).abs() < 1e-9);
        assert!((factor(120, 0.95, 0.95) - 1.899_292_513_895_698).abs() < 1e-9);
    }

    /// With p = 0.5 the law is central: k = t(c; n - 1) / sqrt n, down to the smallest samples.
    #[test]
    fn central() {
        for n in [2, 3, 5, 20, 400] {
            let exact = t_quantile(0.95, n as f64 - 1.0) / f64::sqrt(n as f64);
            assert!((factor(n, 0.5, 0.95) / exact - 1.0).abs() < 1e-7, "{n}: {} {exact}", factor(n, 0.5, 0.95));
        }
    }
}
