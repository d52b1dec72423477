//! Run-length laws of the statistics that remember: how many samples a CUSUM, an EWMA or a sequential probability ratio
//! test takes to speak, for independent normal readings.
//!
//! Means come from the integral equations (Page, Biometrika 41, 1954, 100-115; Crowder, Technometrics 29, 1987, 401-407;
//! Wald, Sequential Analysis, 1947) solved on Gauss-Legendre nodes. The kernels are smooth, so the error of the nodes is
//! at the level of rounding, and rounding is amplified about as much as the run is long: a mean of 1e6 samples has
//! some nine good digits. Whole distributions come from a chain of cells (Brook & Evans, Biometrika 59, 1972, 539-549),
//! whose discretisation error falls with the square of the number of cells (see [`cusum_chain`]).
//!
//! Readings are in units of their standard deviation, their target value is 0, `mean` is their present mean.

use crate::math::absorbing::{AbsorbingChain, TooManyStates};
use crate::math::normal::{cdf, density, tail};
use crate::math::quadrature::{Quadrature, solve};

/// Nodes for a kernel of standard deviation `sigma` on an interval of this length.
fn nodes(length: f64, sigma: f64) -> usize {
    (40.0 + 5.0 * length / sigma).min(500.0) as usize
}

/// Mean run length of a one-sided CUSUM S = max(0, S + x - reference), S > limit, that starts at `start`.
///
/// L(s) = 1 + L(0) Phi(k - mean - s) + integral over 0..h of L(y) phi(y - s + k - mean) dy.
pub fn cusum_mean(reference: f64, limit: f64, mean: f64, start: f64) -> f64 {
    let k = reference - mean;
    let rule = Quadrature::legendre(nodes(limit, 1.0), 0.0, limit);
    let n = rule.nodes.len();
    // Unknowns: L at zero, then at the nodes.
    let row = |s: f64| -> Vec<f64> {
        std::iter::once(cdf(k - s)).chain((0..n).map(|j| rule.weights[j] * density(rule.nodes[j] - s + k))).collect()
    };
    let place = |index: usize| if index == 0 { 0.0 } else { rule.nodes[index - 1] };
    let lengths = &invert(n + 1, |index| row(place(index)), vec![vec![1.0; n + 1]])[0];
    1.0 + row(start).iter().zip(lengths).map(|(weight, length)| weight * length).sum::<f64>()
}

/// Solves x - K x = right, with `row` giving the rows of K.
fn invert(n: usize, row: impl Fn(usize) -> Vec<f64>, right: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let matrix = (0..n)
        .map(|index| {
            let mut entries: Vec<f64> = row(index).iter().map(|entry| -entry).collect();
            entries[index] += 1.0;
            entries
        })
        .collect();
    solve(matrix, right)
}

/// Mean run length of two one-sided CUSUMs, one for each direction, both started at `start` (Lucas & Crosier,
/// Technometrics 24, 1982, 199-205): (L+(s) L-(0) + L+(0) L-(s) - L+(0) L-(0)) / (L+(0) + L-(0)), which holds as long as
/// only one of them can be above zero at the limit (limit not below the reference).
pub fn cusum_mean_two_sided(reference: f64, limit: f64, mean: f64, start: f64) -> f64 {
    let up = |s| cusum_mean(reference, limit, mean, s);
    let down = |s| cusum_mean(reference, limit, -mean, s);
    let (up_0, down_0) = (up(0.0), down(0.0));
    (up(start) * down_0 + up_0 * down(start) - up_0 * down_0) / (up_0 + down_0)
}

/// The chain of a one-sided CUSUM started at 0 on `cells` cells: the first holds 0 and half a width, the others
/// a width of 2 limit / (2 cells - 1). The mean run length errs by an amount that falls as 1 / cells^2 (below 7e-4 of the
/// mean at 100 cells for reference 0.5 and limit 4 or 5).
///
/// # Errors
/// If there are more cells than a chain can have.
pub fn cusum_chain(reference: f64, limit: f64, mean: f64, cells: usize) -> Result<AbsorbingChain, TooManyStates> {
    let width = 2.0 * limit / (2 * cells - 1) as f64;
    let k = reference - mean;
    AbsorbingChain::explore(0_usize, |from| {
        let middle = *from as f64 * width;
        let edge = |cell: usize| (cell as f64 + 0.5) * width - middle + k;
        let lowest = cdf(edge(0));
        let between = (1..cells).map(|cell| {
            let (a, b) = (edge(cell - 1), edge(cell));
            if a > 0.0 { tail(a) - tail(b) } else { cdf(b) - cdf(a) }
        });
        std::iter::once(lowest)
            .chain(between)
            .enumerate()
            .map(|(cell, p)| (p, Some(cell)))
            .chain([(tail(edge(cells - 1)), None)])
            .collect::<Vec<_>>()
    })
}

/// Standard deviation of an EWMA that has run for long, in those of a reading: sqrt(w / (2 - w)).
pub fn ewma_sigma(weight: f64) -> f64 {
    libm::sqrt(weight / (2.0 - weight))
}

/// Mean run length of an EWMA started at 0 that speaks when it leaves `factor` of its own standard deviations on either
/// side.
pub fn ewma_mean_two_sided(weight: f64, factor: f64, mean: f64) -> f64 {
    let limit = factor * ewma_sigma(weight);
    ewma_mean_between(weight, -limit, limit, mean)
}

/// The same for one side. Where it starts below minus eight and a half of its standard deviations it is taken to be
/// there; the chance of ever coming there by chance is below 1e-15 a sample.
pub fn ewma_mean_one_sided(weight: f64, factor: f64, mean: f64) -> f64 {
    let sigma = ewma_sigma(weight);
    // The mean of the EWMA drifts to the mean of the readings; leave room below that too.
    ewma_mean_between(weight, -8.5 * sigma + mean.min(0.0), factor * sigma, mean)
}

/// L(u) = 1 + 1/w integral of L(y) phi((y - (1 - w) u) / w - mean) dy.
fn ewma_mean_between(weight: f64, low: f64, high: f64, mean: f64) -> f64 {
    let rule = Quadrature::legendre(nodes(high - low, weight), low, high);
    let n = rule.nodes.len();
    let row = |u: f64| -> Vec<f64> {
        let kernel = |y: f64| density((y - (1.0 - weight) * u) / weight - mean) / weight;
        (0..n).map(|j| rule.weights[j] * kernel(rule.nodes[j])).collect()
    };
    let lengths = &invert(n, |index| row(rule.nodes[index]), vec![vec![1.0; n]])[0];
    1.0 + row(0.0).iter().zip(lengths).map(|(weight, length)| weight * length).sum::<f64>()
}

/// What a sequential test does in the end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TestLaw {
    /// Probability of deciding for "something is there".
    pub accepts: f64,
    /// Mean number of samples to the decision.
    pub samples: f64,
}

/// The law of a sequential probability ratio test of two normal means `separation` standard deviations apart with
/// bounds ln A and ln B (`accept` > 0 > `reject`), for readings of mean `mean` (0: nothing there, `separation`:
/// something). Exact but for rounding: no overshoot is neglected.
pub fn ratio_test(separation: f64, (accept, reject): (f64, f64), mean: f64) -> TestLaw {
    // The log-likelihood ratio of a reading is normal with this mean and standard deviation `separation`.
    let step = separation * mean - 0.5 * separation * separation;
    let rule = Quadrature::legendre(nodes(accept - reject, separation), reject, accept);
    let n = rule.nodes.len();
    let row = |s: f64| -> Vec<f64> {
        let kernel = |y: f64| density((y - s - step) / separation) / separation;
        (0..n).map(|j| rule.weights[j] * kernel(rule.nodes[j])).collect()
    };
    let over = |s: f64| tail((accept - s - step) / separation);
    let right = vec![rule.nodes.iter().map(|s| over(*s)).collect(), vec![1.0; n]];
    let solved = invert(n, |index| row(rule.nodes[index]), right);
    let from_zero = |values: &[f64]| row(0.0).iter().zip(values).map(|(weight, value)| weight * value).sum::<f64>();
    TestLaw { accepts: over(0.0) + from_zero(&solved[0]), samples: 1.0 + from_zero(&solved[1]) }
}

/// The same in Wald's approximation, which neglects the overshoot: from 7 to 25 % too few samples in common cases.
pub fn ratio_test_wald(separation: f64, (accept, reject): (f64, f64), something: bool) -> TestLaw {
    let step = if something { 0.5 } else { -0.5 } * separation * separation;
    // P(decides for something) from the likelihood identity E[exp(-+ sum)] = 1 with the sums exactly on the bounds.
    let sign = if something { -1.0 } else { 1.0 };
    let (a, b) = (libm::exp(sign * accept), libm::exp(sign * reject));
    let accepts = (1.0 - b) / (a - b);
    TestLaw { accepts, samples: (accepts * accept + (1.0 - accepts) * reject) / step }
}

/// Mean overshoot of a bound by a normal random walk with small steps, in standard deviations of a step: minus
/// zeta(1/2) / sqrt(2 pi) (Siegmund, Sequential Analysis, 1985, ch. X; constant from memory).
pub const OVERSHOOT: f64 = 0.582_597_157_939_010_7;

/// Wald's approximation with both bounds moved out by the mean overshoot.
pub fn ratio_test_siegmund(separation: f64, (accept, reject): (f64, f64), something: bool) -> TestLaw {
    let over = OVERSHOOT * separation;
    ratio_test_wald(separation, (accept + over, reject - over), something)
}

/// Correlation of neighbouring values of the moving weighted sum with these weights, over independent readings.
pub fn lag_correlation(weights: &[f64]) -> f64 {
    let product: f64 = weights.windows(2).map(|pair| pair[0] * pair[1]).sum();
    product / weights.iter().map(|w| w * w).sum::<f64>()
}

/// Weights of the least-squares slope over n readings, per sample period, oldest first.
pub fn slope_weights(n: usize) -> Vec<f64> {
    let count = n as f64;
    let scale = 12.0 / (count * (count * count - 1.0));
    (0..n).map(|j| scale * (j as f64 - 0.5 * (count - 1.0))).collect()
}

/// P(X <= a, Y <= b) of standard normal X and Y with correlation `r` in (-1, 1): the integral over the correlation of
/// the density at (a, b) (Plackett, Biometrika 41, 1954, 351-360), substituted by its arc sine.
pub fn bivariate_cdf(a: f64, b: f64, r: f64) -> f64 {
    let kernel = |angle: f64| {
        let (sine, cosine) = (libm::sin(angle), libm::cos(angle));
        libm::exp(-(a * a + b * b - 2.0 * a * b * sine) / (2.0 * cosine * cosine))
    };
    let rule = Quadrature::legendre(96, 0.0, libm::asin(r));
    cdf(a) * cdf(b) + rule.integrate(kernel) / std::f64::consts::TAU
}

/// Rate at which a stationary normal sequence with neighbour correlation `r` rises above `z`, per sample.
///
/// P(X <= z < Y) / P(X <= z): per sample that could begin a crossing.
pub fn crossing_rate(z: f64, r: f64) -> f64 {
    // P(X <= z, Y > z) = P(X <= z) - P(both <= z); by symmetry also Phi(-z) - P(both > z), which is small where z is.
    let crossing = tail(z) - bivariate_cdf(-z, -z, r);
    crossing / cdf(z)
}
