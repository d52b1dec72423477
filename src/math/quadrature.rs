//! Gauss-Legendre quadrature and the integral equations it turns into linear ones (Nystroem, Acta Mathematica 54, 1930,
//! 185-204).

/// Nodes and weights on an interval: the integral of f is the sum of weight x f(node), exact for polynomials of degree
/// below twice the number of nodes.
#[derive(Clone, Debug, PartialEq)]
pub struct Quadrature {
    /// Nodes, ascending.
    pub nodes: Vec<f64>,
    /// Their weights.
    pub weights: Vec<f64>,
}

impl Quadrature {
    /// The rule with `count` nodes on [from, to]. The nodes are the roots of the Legendre polynomial, found by Newton's
    /// method from the usual first guess cos(pi (i - 1/4) / (n + 1/2)) (Abramowitz & Stegun 25.4.30; guess from memory).
    pub fn legendre(count: usize, from: f64, to: f64) -> Quadrature {
        let n = count as f64;
        let (half, middle) = (0.5 * (to - from), 0.5 * (to + from));
        let (mut nodes, mut weights) = (Vec::with_capacity(count), Vec::with_capacity(count));
        for i in (1..=count).rev() {
            let mut x = libm::cos(std::f64::consts::PI * (i as f64 - 0.25) / (n + 0.5));
            let mut slope = 1.0;
            for _ in 0..100 {
                let (mut before, mut value) = (1.0, x);
                for k in 2..=count {
                    let k = k as f64;
                    (before, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k);
                }
                if count == 1 {
                    (before, value) = (1.0, x);
                }
                slope = n * (x * value - before) / (x * x - 1.0);
                let step = value / slope;
                x -= step;
                if libm::fabs(step) < 1e-15 {
                    break;
                }
            }
            nodes.push(middle + half * x);
            weights.push(half * 2.0 / ((1.0 - x * x) * slope * slope));
        }
        Quadrature { nodes, weights }
    }

    /// The integral of `f`.
    pub fn integrate(&self, f: impl Fn(f64) -> f64) -> f64 {
        self.nodes.iter().zip(&self.weights).map(|(x, weight)| weight * f(*x)).sum()
    }
}

/// Solves `matrix` x = each of `right` in place by elimination with row exchange; `matrix` holds rows.
///
/// # Panics
/// If the sizes do not fit.
pub fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let n = matrix.len();
    assert!(matrix.iter().all(|row| row.len() == n) && right.iter().all(|side| side.len() == n), "sizes differ");
    for column in 0..n {
        let mut pivot = column;
        for row in column + 1..n {
            if libm::fabs(matrix[row][column]) > libm::fabs(matrix[pivot][column]) {
                pivot = row;
            }
        }
        matrix.swap(column, pivot);
        right.iter_mut().for_each(|side| side.swap(column, pivot));
        let (above, below) = matrix.split_at_mut(column + 1);
        let lead = &above[column];
        for (offset, row) in below.iter_mut().enumerate() {
            let factor = row[column] / lead[column];
            if factor == 0.0 {
                continue;
            }
            for (entry, other) in row[column..].iter_mut().zip(&lead[column..]) {
                *entry -= factor * other;
            }
            for side in &mut right {
                side[column + 1 + offset] -= factor * side[column];
            }
        }
    }
    for side in &mut right {
        for row in (0..n).rev() {
            let known: f64 = matrix[row][row + 1..].iter().zip(&side[row + 1..]).map(|(a, x)| a * x).sum();
            side[row] = (side[row] - known) / matrix[row][row];
        }
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five nodes on [-1, 1] (Abramowitz & Stegun table 25.4): roots of P5, and x^9 + x^8 exactly.
    #[test]
    fn five_nodes() {
        let rule = Quadrature::legendre(5, -1.0, 1.0);
        let root = |sign: f64| (5.0 + sign * 2.0 * (10.0_f64 / 7.0).sqrt()).sqrt() / 3.0;
        let nodes = [-root(1.0), -root(-1.0), 0.0, root(-1.0), root(1.0)];
        assert!(rule.nodes.iter().zip(nodes).all(|(got, root)| (got - root).abs() < 1e-15));
        assert!((rule.weights[2] - 128.0 / 225.0).abs() < 1e-15);
        assert!((rule.integrate(|x| x.powi(9) + x.powi(8)) - 2.0 / 9.0).abs() < 1e-15);
        assert!((Quadrature::legendre(1, 2.0, 4.0).integrate(|x| x) - 6.0).abs() < 1e-14);
    }

    #[test]
    fn a_linear_system_that_needs_an_exchange() {
        let matrix = vec![vec![0.0, 2.0, 1.0], vec![1.0, 1.0, 0.0], vec![4.0, 0.0, 3.0]];
        let x = solve(matrix, vec![vec![7.0, 3.0, 13.0]]);
        assert!(x[0].iter().zip([1.0, 2.0, 3.0]).all(|(got, want): (&f64, f64)| (got - want).abs() < 1e-14));
    }
}
