//! An evolution strategy with covariance matrix adaptation on the unit cube, for few coordinates, some of which may stand
//! for whole numbers.
//!
//! After Hansen, The CMA Evolution Strategy: A Tutorial (arXiv 1604.00772, 2016), with its default constants (from
//! memory). Points outside the cube are reflected into it. A coordinate that stands for whole numbers keeps a standard
//! deviation of at least a third of a cell, without which all points would end up in one cell for good (a plain form
//! of the margin of Hamano et al., GECCO 2022). Only the order of the points counts, so that any noise that keeps the
//! order does no harm; points should be compared on the same seasons.

use crate::math::random::Stream;

/// Least standard deviation of a whole number, in cells.
const LEAST_CELLS: f64 = 0.35;

/// State of the strategy.
#[derive(Clone, Debug)]
pub struct Cma {
    /// Centre of the distribution.
    mean: Vec<f64>,
    /// Step size.
    sigma: f64,
    covariance: Vec<Vec<f64>>,
    path_sigma: Vec<f64>,
    path_c: Vec<f64>,
    generation: u32,
    weights: Vec<f64>,
    /// Width of a cell of each coordinate that stands for whole numbers; 0 for the others.
    cells: Vec<f64>,
    constants: Constants,
    /// Axes (columns) and lengths of the covariance's ellipsoid.
    axes: Vec<Vec<f64>>,
    lengths: Vec<f64>,
}

#[derive(Clone, Copy, Debug)]
struct Constants {
    mu_eff: f64,
    c_sigma: f64,
    d_sigma: f64,
    c_c: f64,
    c_1: f64,
    c_mu: f64,
    chi: f64,
}

/// Points per generation for this many coordinates.
pub fn population(coordinates: usize) -> usize {
    4 + (3.0 * libm::log(coordinates as f64)) as usize
}

impl Cma {
    /// Begins at `start` with standard deviation `sigma` in all coordinates. `cells` are the widths of the cells of whole
    /// numbers in the cube, 0 for other coordinates.
    pub fn new(start: Vec<f64>, sigma: f64, cells: Vec<f64>) -> Cma {
        let n = start.len();
        let dimension = n as f64;
        let lambda = population(n);
        let mu = lambda / 2;
        let raw: Vec<f64> =
            (0..mu).map(|rank| libm::log((lambda as f64 + 1.0) / 2.0) - libm::log(rank as f64 + 1.0)).collect();
        let sum: f64 = raw.iter().sum();
        let weights: Vec<f64> = raw.iter().map(|weight| weight / sum).collect();
        let mu_eff = 1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>();
        let c_sigma = (mu_eff + 2.0) / (dimension + mu_eff + 5.0);
        let c_1 = 2.0 / ((dimension + 1.3) * (dimension + 1.3) + mu_eff);
        let constants = Constants {
            mu_eff,
            c_sigma,
            d_sigma: 1.0 + 2.0 * (libm::sqrt((mu_eff - 1.0) / (dimension + 1.0)) - 1.0).max(0.0) + c_sigma,
            c_c: (4.0 + mu_eff / dimension) / (dimension + 4.0 + 2.0 * mu_eff / dimension),
            c_1,
            c_mu: (1.0 - c_1)
                .min(2.0 * (mu_eff - 2.0 + 1.0 / mu_eff) / ((dimension + 2.0) * (dimension + 2.0) + mu_eff)),
            chi: libm::sqrt(dimension) * (1.0 - 1.0 / (4.0 * dimension) + 1.0 / (21.0 * dimension * dimension)),
        };
        let unit = |i: usize| (0..n).map(|j| f64::from(u8::from(i == j))).collect::<Vec<f64>>();
        let identity: Vec<Vec<f64>> = (0..n).map(unit).collect();
        Cma {
            mean: start,
            sigma,
            covariance: identity.clone(),
            path_sigma: vec![0.0; n],
            path_c: vec![0.0; n],
            generation: 0,
            weights,
            cells,
            constants,
            axes: identity,
            lengths: vec![1.0; n],
        }
    }

    /// Points of the next generation.
    pub fn ask(&self, stream: &mut Stream) -> Vec<Vec<f64>> {
        let n = self.mean.len();
        let one = |stream: &mut Stream| {
            let z: Vec<f64> = (0..n).map(|axis| self.lengths[axis] * stream.normal()).collect();
            let at = |i: usize| {
                let offset = self.sigma * (0..n).map(|axis| self.axes[i][axis] * z[axis]).sum::<f64>();
                let sd = self.sigma * libm::sqrt(self.covariance[i][i]);
                let least = LEAST_CELLS * self.cells[i];
                // Widens the spread of a whole number that would otherwise be stuck.
                let widened = if least > sd && sd > 0.0 { offset * least / sd } else { offset };
                reflected(self.mean[i] + widened)
            };
            (0..n).map(at).collect()
        };
        (0..population(n)).map(|_| one(stream)).collect()
    }

    /// Largest standard deviation among the coordinates.
    pub fn spread(&self) -> f64 {
        let sd = |i: usize| self.sigma * libm::sqrt(self.covariance[i][i]);
        (0..self.mean.len()).map(sd).fold(0.0, f64::max)
    }

    /// Learns from a generation's points, sorted from the best to the worst.
    pub fn tell(&mut self, sorted: &[Vec<f64>]) {
        let n = self.mean.len();
        let c = self.constants;
        let old = self.mean.clone();
        let chosen = &sorted[..self.weights.len().min(sorted.len())];
        let step = |point: &Vec<f64>, i: usize| (point[i] - old[i]) / self.sigma;
        let moved: Vec<f64> =
            (0..n).map(|i| chosen.iter().zip(&self.weights).map(|(point, w)| w * step(point, i)).sum()).collect();
        self.mean = (0..n).map(|i| old[i] + self.sigma * moved[i]).collect();
        // C^(-1/2) moved, through the axes.
        let along: Vec<f64> = (0..n)
            .map(|axis| (0..n).map(|i| self.axes[i][axis] * moved[i]).sum::<f64>() / self.lengths[axis])
            .collect();
        let whitened: Vec<f64> = (0..n).map(|i| (0..n).map(|axis| self.axes[i][axis] * along[axis]).sum()).collect();
        let keep = 1.0 - c.c_sigma;
        let gain = libm::sqrt(c.c_sigma * (2.0 - c.c_sigma) * c.mu_eff);
        self.path_sigma.iter_mut().zip(&whitened).for_each(|(path, w)| *path = keep * *path + gain * w);
        let length = libm::sqrt(self.path_sigma.iter().map(|x| x * x).sum::<f64>());
        self.generation += 1;
        let settled = length / libm::sqrt(1.0 - libm::pow(keep, 2.0 * f64::from(self.generation)));
        let moving = settled < (1.4 + 2.0 / (n as f64 + 1.0)) * c.chi;
        let h = f64::from(u8::from(moving));
        let gain_c = h * libm::sqrt(c.c_c * (2.0 - c.c_c) * c.mu_eff);
        self.path_c.iter_mut().zip(&moved).for_each(|(path, y)| *path = (1.0 - c.c_c) * *path + gain_c * y);
        let lost = (1.0 - h) * c.c_c * (2.0 - c.c_c);
        for i in 0..n {
            for j in 0..n {
                let rank_mu: f64 =
                    chosen.iter().zip(&self.weights).map(|(point, w)| w * step(point, i) * step(point, j)).sum();
                let old = self.covariance[i][j];
                self.covariance[i][j] = (1.0 - c.c_1 - c.c_mu) * old
                    + c.c_1 * (self.path_c[i] * self.path_c[j] + lost * old)
                    + c.c_mu * rank_mu;
            }
        }
        // Reflection and widening break the theory now and then: the cube bounds the step.
        self.sigma = (self.sigma * libm::exp(c.c_sigma / c.d_sigma * (length / c.chi - 1.0))).clamp(1e-8, 1.0);
        (self.lengths, self.axes) = ellipsoid(&self.covariance);
    }
}

/// A coordinate reflected at the cube's faces until it lies inside.
fn reflected(x: f64) -> f64 {
    let folded = libm::fmod(x.abs(), 2.0);
    if folded <= 1.0 { folded } else { 2.0 - folded }
}

/// Lengths (square roots of the eigenvalues) and axes (eigenvectors, as columns) of a symmetric matrix, by Jacobi
/// rotations.
fn ellipsoid(matrix: &[Vec<f64>]) -> (Vec<f64>, Vec<Vec<f64>>) {
    let n = matrix.len();
    let mut a = matrix.to_vec();
    let mut v: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    for _ in 0..60 {
        let off: f64 = (0..n).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| a[i][j] * a[i][j]).sum();
        let diagonal: f64 = (0..n).map(|i| a[i][i] * a[i][i]).sum();
        if off <= 1e-30 * diagonal {
            break;
        }
        for p in 0..n {
            for q in p + 1..n {
                if a[p][q] == 0.0 {
                    continue;
                }
                let theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
                let t = 1.0_f64.copysign(theta) / (theta.abs() + libm::sqrt(theta * theta + 1.0));
                let cos = 1.0 / libm::sqrt(t * t + 1.0);
                let sin = t * cos;
                for row in &mut a {
                    let (x, y) = (row[p], row[q]);
                    row[p] = cos * x - sin * y;
                    row[q] = sin * x + cos * y;
                }
                let (upper, lower) = a.split_at_mut(q);
                for (above, below) in upper[p].iter_mut().zip(&mut lower[0]) {
                    let (x, y) = (*above, *below);
                    *above = cos * x - sin * y;
                    *below = sin * x + cos * y;
                }
                for row in &mut v {
                    let (x, y) = (row[p], row[q]);
                    row[p] = cos * x - sin * y;
                    row[q] = sin * x + cos * y;
                }
            }
        }
    }
    // Rounding may push a tiny eigenvalue below zero.
    ((0..n).map(|i| libm::sqrt(a[i][i].max(1e-20))).collect(), v)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// [[2, 1], [1, 2]] has eigenvalues 1 and 3 with axes (1, -1) and (1, 1).
    #[test]
    fn an_ellipsoid_by_hand() {
        let (lengths, axes) = ellipsoid(&[vec![2.0, 1.0], vec![1.0, 2.0]]);
        let mut squares: Vec<f64> = lengths.iter().map(|length| length * length).collect();
        squares.sort_by(f64::total_cmp);
        assert!((squares[0] - 1.0).abs() < 1e-12 && (squares[1] - 3.0).abs() < 1e-12);
        assert!((axes[0][0].abs() - 0.5_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn reflection_stays_in_the_cube() {
        for (x, expected) in [(0.3, 0.3), (-0.2, 0.2), (1.25, 0.75), (2.1, 0.1), (-1.4, 0.6)] {
            assert!((reflected(x) - expected).abs() < 1e-12, "{x}");
        }
    }
}
