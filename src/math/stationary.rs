//! The stationary law of a finite Markov chain, every probability accurate to rounding however small it is: elimination without a
//! single subtraction (Grassmann, Taksar & Heyman, Operations Research 33, 1985, 1107-1116; O'Cinneide, Numerische Mathematik 65,
//! 1993, 109-120, on its entries' relative error).

/// The law that a chain comes to which begins in its first state. `matrix` holds, row by row, the probabilities of going from each
/// state to each other one; they need not add up exactly, for staying is what is left. It is used up. Where some states are never
/// left again, the chain ends up there: in those of the last of them, by their numbers, if there are several such sets.
///
/// # Panics
/// If the matrix is not square: that is a bug of the caller.
pub fn stationary(matrix: &mut [f64], law: &mut Vec<f64>) {
    let n = matrix.len().isqrt();
    assert_eq!(n * n, matrix.len(), "a square matrix");
    law.clear();
    law.resize(n, 0.0);
    if n == 0 {
        return;
    }
    // States that are never come to must not pass for such as are never left.
    law[0] = 1.0;
    let mut found = true;
    while std::mem::take(&mut found) {
        for from in 0..n {
            if law[from] == 0.0 {
                continue;
            }
            for to in 0..n {
                if law[to] == 0.0 && matrix[from * n + to] > 0.0 {
                    law[to] = 1.0;
                    found = true;
                }
            }
        }
    }
    (1..n).filter(|state| law[*state] == 0.0).for_each(|state| matrix[state * n] = 1.0);
    law.fill(0.0);
    // Each state is left out of the chain, the last first: who goes there goes on from there at once.
    let mut first = 0;
    for last in (1..n).rev() {
        let (before, row) = matrix.split_at_mut(last * n);
        let leaves: f64 = row[..last].iter().sum();
        if leaves <= 0.0 {
            // It is never left towards those before it: these are gone for good.
            first = last;
            break;
        }
        for from in 0..last {
            let of = &mut before[from * n..from * n + n];
            let goes = of[last] / leaves;
            of[last] = goes;
            if goes > 0.0 {
                of[..last].iter_mut().zip(&row[..last]).for_each(|(p, on)| *p += goes * on);
            }
        }
    }
    law[first] = 1.0;
    let mut sum = 1.0;
    for state in first + 1..n {
        let comes: f64 = (first..state).map(|from| law[from] * matrix[from * n + state]).sum();
        law[state] = comes;
        sum += comes;
    }
    law.iter_mut().for_each(|p| *p /= sum);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn law_of(rows: &[&[f64]]) -> Vec<f64> {
        let (mut matrix, mut law) = (rows.concat(), Vec::new());
        stationary(&mut matrix, &mut law);
        law
    }

    /// A random walk on a line that goes up with p and down with q: (p/q)^i, down to 1e-180 (Feller, vol. 1, 3rd ed., XV.7).
    #[test]
    fn a_walk_on_a_line_is_geometric() {
        let (p, q, n) = (1e-9, 0.3, 20);
        let mut matrix = vec![0.0; n * n];
        for state in 0..n {
            if state + 1 < n {
                matrix[state * n + state + 1] = p;
            }
            if state > 0 {
                matrix[state * n + state - 1] = q;
            }
        }
        let mut law = Vec::new();
        stationary(&mut matrix, &mut law);
        for state in 1..n {
            let exact = f64::powi(p / q, state as i32) * law[0];
            assert!((law[state] / exact - 1.0).abs() < 1e-13, "{state}: {} against {exact}", law[state]);
        }
        assert!((law.iter().sum::<f64>() - 1.0).abs() < 1e-15);
    }

    /// The chain of the weather in the Land of Oz: rain, nice, snow with 2/5, 1/5, 2/5 (Kemeny, Snell & Thompson, Introduction to
    /// Finite Mathematics, 3rd ed. 1974; Grinstead & Snell, Introduction to Probability, example 11.19).
    #[test]
    fn the_land_of_oz() {
        let law = law_of(&[&[0.5, 0.25, 0.25], &[0.5, 0.0, 0.5], &[0.25, 0.25, 0.5]]);
        for (got, exact) in law.iter().zip([0.4, 0.2, 0.4]) {
            assert!((got - exact).abs() < 1e-15, "{law:?}");
        }
    }

    #[test]
    fn what_is_never_left_keeps_all() {
        assert_eq!(law_of(&[&[0.5, 0.5], &[0.0, 1.0]]), [0.0, 1.0]);
        let law = law_of(&[&[0.9, 0.1, 0.0], &[0.0, 0.5, 0.5], &[0.0, 0.25, 0.75]]);
        assert!(law[0] == 0.0 && (law[1] - 1.0 / 3.0).abs() < 1e-15, "{law:?}");
        // What is never come to keeps nothing, also where it is never left.
        assert_eq!(law_of(&[&[1.0, 0.0], &[0.0, 1.0]]), [1.0, 0.0]);
        assert_eq!(law_of(&[&[0.0, 0.0, 1.0], &[0.0, 1.0, 0.0], &[1.0, 0.0, 0.0]]), [0.5, 0.0, 0.5]);
        assert_eq!(law_of(&[&[1.0]]), [1.0]);
        assert_eq!(law_of(&[]), [0.0; 0]);
    }
}
