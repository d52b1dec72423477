//! The law of the clearness of the sky: a beta law stretched to 0..1.2.
//!
//! Half-hourly ratios of measured to Haurwitz clear-sky irradiance spread over nearly the whole range and exceed 1 when
//! sunlit cloud edges add to the beam; a stretched beta law fits them (fits to two records gave 1.15 and 0.97 as upper
//! ends). The quantile is tabulated here rather than taken from a library so that it uses only operations that give
//! the same bits on every platform; the tests hold it to a library's.

use crate::math::normal;

/// Largest clearness, as in the scenario.
const TOP: f64 = 1.2;

/// Cells of the table.
const CELLS: usize = 512;

/// Smallest `a + b` of the beta law: below it the sky would only ever be black or brilliant. A spread that asks for
/// less is cut to what this allows.
const LEAST_SHAPE_SUM: f64 = 0.5;

/// Turns a standard normal value into a clearness with a given mean and standard deviation.
#[derive(Clone, Debug)]
pub(super) enum ClearnessLaw {
    /// No spread, or a mean at an end of the range.
    Constant(f64),
    /// Distribution function at the edges of equal cells of 0..1.
    Table(Vec<f64>),
}

impl ClearnessLaw {
    /// The law with this mean (0 to 1.2) and standard deviation. By the method of moments a + b = m(1-m)/v - 1.
    pub fn new(mean: f64, sd: f64) -> ClearnessLaw {
        let (m, v) = (mean / TOP, (sd / TOP) * (sd / TOP));
        if !(m > 0.0 && m < 1.0 && v > 0.0) {
            return ClearnessLaw::Constant(mean.clamp(0.0, TOP));
        }
        let sum = (m * (1.0 - m) / v - 1.0).max(LEAST_SHAPE_SUM);
        // So narrow that the table's cells would show: a constant.
        if sum > 20_000.0 {
            return ClearnessLaw::Constant(mean);
        }
        ClearnessLaw::Table(distribution(m * sum, (1.0 - m) * sum))
    }

    /// The laws of twelve monthly means with one spread.
    pub fn monthly(means: &[f64; 12], sd: f64) -> [ClearnessLaw; 12] {
        let mut known: Vec<(f64, ClearnessLaw)> = Vec::new();
        means.map(|mean| {
            if let Some((_, law)) = known.iter().find(|(other, _)| *other == mean) {
                return law.clone();
            }
            known.push((mean, ClearnessLaw::new(mean, sd)));
            known[known.len() - 1].1.clone()
        })
    }

    /// The clearness at standard normal value `z`: the quantile at Phi(z), linear within a cell.
    pub fn at(&self, z: f64) -> f64 {
        match self {
            ClearnessLaw::Constant(value) => *value,
            ClearnessLaw::Table(table) => {
                let p = normal::cdf(z);
                let cell = table.partition_point(|edge| *edge <= p).clamp(1, CELLS) - 1;
                let height = table[cell + 1] - table[cell];
                let part = if height > 0.0 { ((p - table[cell]) / height).clamp(0.0, 1.0) } else { 0.5 };
                TOP * (cell as f64 + part) / CELLS as f64
            }
        }
    }
}

/// Distribution function of Beta(a, b) at the edges of the cells. In each cell the power that may be singular at the
/// nearer end is integrated exactly, the other factor taken at the middle (in logarithms, against underflow).
fn distribution(a: f64, b: f64) -> Vec<f64> {
    let edge = |i: usize| i as f64 / CELLS as f64;
    // Mass of [low, high] under x^(p-1) (1-x)^(q-1), the first factor exact.
    let log_mass = |low: f64, high: f64, p: f64, q: f64| {
        let below = if low > 0.0 { libm::pow(low / high, p) } else { 0.0 };
        p * libm::log(high) + libm::log1p(-below) - libm::log(p) + (q - 1.0) * libm::log1p(-0.5 * (low + high))
    };
    let logs: Vec<f64> = (0..CELLS)
        .map(|i| {
            let (low, high) = (edge(i), edge(i + 1));
            if i < CELLS / 2 { log_mass(low, high, a, b) } else { log_mass(1.0 - high, 1.0 - low, b, a) }
        })
        .collect();
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut table = vec![0.0];
    let mut sum = 0.0;
    for log in logs {
        sum += libm::exp(log - largest);
        table.push(sum);
    }
    for value in &mut table {
        *value /= sum;
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Beta, ContinuousCDF as _};

    /// Against the quantile of the `statrs` library: within the width of one table cell, 0.0023.
    #[test]
    fn agrees_with_a_library_quantile() {
        for (mean, sd) in [(0.65, 0.25), (0.3, 0.1), (0.9, 0.35), (0.65, 0.02), (1.0, 0.3)] {
            let law = ClearnessLaw::new(mean, sd);
            let (m, v) = (mean / TOP, (sd / TOP) * (sd / TOP));
            let sum = m * (1.0 - m) / v - 1.0;
            let beta = Beta::new(m * sum, (1.0 - m) * sum).unwrap();
            for step in -30..=30 {
                let z = 0.1 * f64::from(step);
                let exact = TOP * beta.inverse_cdf(normal::cdf(z));
                let got = law.at(z);
                assert!((got - exact).abs() < TOP / CELLS as f64, "mean {mean} sd {sd} z {z}: {got}, exact {exact}");
            }
        }
    }

    #[test]
    fn impossible_spreads_fall_back() {
        assert_eq!(ClearnessLaw::new(0.65, 0.0).at(1.0), 0.65);
        assert_eq!(ClearnessLaw::new(0.0, 0.2).at(3.0), 0.0);
        assert_eq!(ClearnessLaw::new(1.2, 0.2).at(-3.0), 1.2);
        // Mean 0.1 of 1.2 cannot have standard deviation 0.5; the law that remains keeps the mean.
        let law = ClearnessLaw::new(0.1, 0.5);
        let n = 4_000;
        let z = |i: i32| {
            let p = (f64::from(i) + 0.5) / f64::from(n);
            statrs::distribution::Normal::standard().inverse_cdf(p)
        };
        let mean = (0..n).map(|i| law.at(z(i))).sum::<f64>() / f64::from(n);
        assert!((mean - 0.1).abs() < 1e-3, "{mean}");
        assert!((-80..=80).all(|i| (0.0..=TOP).contains(&law.at(f64::from(i) * 0.1))));
    }
}
