//! Minimum of a function of several variables without derivatives: the simplex method of Nelder & Mead (Computer
//! Journal 7, 1965, 308-313) with their coefficients: reflection 1, expansion 2, contraction and shrinking 1/2.

/// A point and the function's value there.
#[derive(Clone, Debug, PartialEq)]
pub struct Minimum {
    /// Where.
    pub at: Vec<f64>,
    /// The value.
    pub value: f64,
}

/// Searches from `start` with a first simplex of edge `edge` along each axis until all values lie within `tolerance` of
/// the best (absolute) or `evaluations` are spent. Values that are not numbers count as infinite. A simplex may
/// collapse short of a minimum; starting anew from the result is the usual remedy.
pub fn minimise(
    f: &mut dyn FnMut(&[f64]) -> f64,
    start: &[f64],
    edge: f64,
    tolerance: f64,
    evaluations: usize,
) -> Minimum {
    let n = start.len();
    let mut spent = 0;
    let mut value = |at: Vec<f64>| {
        spent += 1;
        let value = f(&at);
        (Minimum { value: if value.is_nan() { f64::INFINITY } else { value }, at }, spent)
    };
    let mut corners = vec![value(start.to_vec()).0];
    for axis in 0..n {
        let mut at = start.to_vec();
        at[axis] += edge;
        corners.push(value(at).0);
    }
    loop {
        // A stable sort: equal values keep their order, so that the search is the same everywhere.
        corners.sort_by(|a, b| a.value.total_cmp(&b.value));
        let worst = corners[n].clone();
        if worst.value - corners[0].value <= tolerance {
            break;
        }
        let centre: Vec<f64> =
            (0..n).map(|axis| corners[..n].iter().map(|c| c.at[axis]).sum::<f64>() / n as f64).collect();
        let along = |t: f64| (0..n).map(|axis| centre[axis] + t * (worst.at[axis] - centre[axis])).collect();
        let (reflected, _) = value(along(-1.0));
        let (next, count) = if reflected.value < corners[0].value {
            let (expanded, count) = value(along(-2.0));
            (Some(if expanded.value < reflected.value { expanded } else { reflected }), count)
        } else if reflected.value < corners[n - 1].value {
            (Some(reflected), 0)
        } else {
            let (contracted, count) = value(along(if reflected.value < worst.value { -0.5 } else { 0.5 }));
            (Some(contracted).filter(|c| c.value < reflected.value.min(worst.value)), count)
        };
        let mut count = count;
        match next {
            Some(next) => corners[n] = next,
            None => {
                let best = corners[0].at.clone();
                for corner in &mut corners[1..] {
                    let at = corner.at.iter().zip(&best).map(|(x, b)| b + 0.5 * (x - b)).collect();
                    (*corner, count) = value(at);
                }
            }
        }
        if count >= evaluations {
            corners.sort_by(|a, b| a.value.total_cmp(&b.value));
            break;
        }
    }
    corners.swap_remove(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The valley of Rosenbrock 1960 (Computer Journal 3, 175-184): minimum 0 at (1, 1), from its usual start.
    #[test]
    fn rosenbrock() {
        let mut f = |x: &[f64]| 100.0 * (x[1] - x[0] * x[0]).powi(2) + (1.0 - x[0]).powi(2);
        let found = minimise(&mut f, &[-1.2, 1.0], 0.5, 1e-14, 2_000);
        assert!((found.at[0] - 1.0).abs() < 1e-5 && (found.at[1] - 1.0).abs() < 1e-5, "{found:?}");
    }

    /// Powell's singular function (1962) of four variables: minimum 0 at the origin, with a singular Hessian.
    #[test]
    fn powell() {
        let mut f = |x: &[f64]| {
            (x[0] + 10.0 * x[1]).powi(2)
                + 5.0 * (x[2] - x[3]).powi(2)
                + (x[1] - 2.0 * x[2]).powi(4)
                + 10.0 * (x[0] - x[3]).powi(4)
        };
        let found = minimise(&mut f, &[3.0, -1.0, 0.0, 1.0], 1.0, 1e-16, 5_000);
        assert!(found.value < 1e-10, "{found:?}");
    }

    #[test]
    fn limits_and_not_a_number() {
        let mut calls = 0;
        let mut f = |x: &[f64]| {
            calls += 1;
            if x[0] < 0.0 { f64::NAN } else { (x[0] - 0.1).powi(2) }
        };
        let found = minimise(&mut f, &[5.0], 1.0, 1e-12, 30);
        assert!(calls <= 40 && found.at[0] >= 0.0 && found.value < 0.1, "{found:?} {calls}");
    }
}
