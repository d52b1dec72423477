//! Quantiles of the reference distributions, to nearly full precision.
//!
//! The distribution functions come from `statrs`. Its beta quantile (and with it Student's t) stops early, so the
//! quantiles here are refined on the distribution function, always on the tail that is the smaller one.

use statrs::distribution::{Beta, Continuous, ContinuousCDF, Gamma, Normal, StudentsT};

/// Degrees of freedom from which on an expansion takes over: the distribution function loses digits there.
const T_ASYMPTOTIC_FROM: f64 = 1e4;
/// Gamma shape from which on an approximation takes over: the distribution function becomes slow there. Only
/// planning ("how many seasons more?") comes so far.
const GAMMA_ASYMPTOTIC_FROM: f64 = 1e6;

/// Smallest positive start of a bracket for positive quantiles.
const TINY: f64 = 1e-300;

/// The x between [`TINY`] and `high` with P(X <= x) = `lower`, where `upper` = 1 - `lower` is passed in too so that
/// neither tail is rounded: bisection of the exponent until the bracket is narrow, then Newton's method inside it.
fn quantile<D>(distribution: &D, lower: f64, upper: f64, mut high: f64) -> f64
where
    D: ContinuousCDF<f64, f64> + Continuous<f64, f64>,
{
    let excess = |x: f64| {
        if lower <= upper { distribution.cdf(x) - lower } else { upper - distribution.sf(x) }
    };
    let mut low = TINY;
    let mut x = (low * high).sqrt();
    for _ in 0..200 {
        let value = excess(x);
        if value == 0.0 {
            return x;
        }
        if value > 0.0 {
            high = x;
        } else {
            low = x;
        }
        let newton = x - value / distribution.pdf(x);
        let next = if high > 4.0 * low {
            (low * high).sqrt()
        } else if low < newton && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - x).abs() <= 2.0 * f64::EPSILON * x {
            return next;
        }
        x = next;
    }
    x
}

/// Quantile of the standard normal distribution.
pub fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

/// Quantile of Student's t distribution with `df` degrees of freedom (positive, not necessarily whole), 0 < p < 1.
pub fn t_quantile(p: f64, df: f64) -> f64 {
    if df > T_ASYMPTOTIC_FROM {
        // Abramowitz & Stegun 26.7.5; the next term is below 1e-9 for p up to 0.9999.
        let z = normal_quantile(p);
        let square = z * z;
        let second = ((5.0 * square + 16.0) * square + 3.0) * z / (96.0 * df * df);
        return z + (square + 1.0) * z / (4.0 * df) + second;
    }
    let Ok(student) = StudentsT::new(0.0, 1.0, df) else { return f64::NAN };
    if p == 0.5 {
        return 0.0;
    }
    let tail = p.min(1.0 - p);
    let size = quantile(&student, 1.0 - tail, tail, 1e300);
    if p > 0.5 { size } else { -size }
}

/// P(|T| > t) of Student's t distribution with `df` degrees of freedom.
pub(super) fn t_two_sided(t: f64, df: f64) -> f64 {
    StudentsT::new(0.0, 1.0, df).map_or(f64::NAN, |student| 2.0 * student.cdf(-t.abs()))
}

/// Quantile of the beta distribution; `lower` and `upper` are the two tails and add up to 1.
pub(super) fn beta_quantile(a: f64, b: f64, lower: f64, upper: f64) -> f64 {
    Beta::new(a, b).map_or(f64::NAN, |beta| quantile(&beta, lower, upper, 1.0))
}

/// Quantile of the gamma distribution with unit scale; `lower` and `upper` are the two tails and add up to 1.
pub(super) fn gamma_quantile(shape: f64, lower: f64, upper: f64) -> f64 {
    if shape > GAMMA_ASYMPTOTIC_FROM {
        // Wilson & Hilferty (Proc. Nat. Acad. Sci. 17, 1931, 684-688).
        let z = if lower <= upper { normal_quantile(lower) } else { -normal_quantile(upper) };
        let root = 1.0 - 1.0 / (9.0 * shape) + z / (3.0 * shape.sqrt());
        return shape * root * root * root;
    }
    Gamma::new(shape, 1.0).map_or(f64::NAN, |gamma| quantile(&gamma, lower, upper, 1e300))
}

/// Quantile of the chi-square distribution with `df` degrees of freedom (positive, not necessarily whole), 0 < p < 1.
pub fn chi_square_quantile(p: f64, df: f64) -> f64 {
    2.0 * gamma_quantile(0.5 * df, p, 1.0 - p)
}

/// P(X > x) of the chi-square distribution with `df` degrees of freedom.
pub fn chi_square_tail(x: f64, df: f64) -> f64 {
    Gamma::new(0.5 * df, 0.5).map_or(f64::NAN, |gamma| gamma.sf(x))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The asymptotic forms continue the exact ones.
    #[test]
    fn no_step_where_the_asymptotic_forms_take_over() {
        let beside = |from: f64| [from, from * (1.0 + 1e-12)];
        for p in [0.6, 0.95, 0.9999] {
            let [exact, asymptotic] = beside(T_ASYMPTOTIC_FROM).map(|df| t_quantile(p, df));
            assert!((exact / asymptotic - 1.0).abs() < 1e-9, "t at {p}: {exact} {asymptotic}");
            for (lower, upper) in [(p, 1.0 - p), (1.0 - p, p)] {
                let [exact, asymptotic] =
                    beside(GAMMA_ASYMPTOTIC_FROM).map(|shape| gamma_quantile(shape, lower, upper));
                assert!((exact / asymptotic - 1.0).abs() < 1e-9, "gamma at {lower}: {exact} {asymptotic}");
            }
        }
    }

    /// The extreme tails keep their relative accuracy: t with 1 df is a Cauchy variable, tan(pi (p - 1/2)).
    #[test]
    fn cauchy_quantiles() {
        for p in [0.5, 0.75, 0.999, 1.0 - 1e-6] {
            let exact = (std::f64::consts::PI * (p - 0.5)).tan();
            assert!((t_quantile(p, 1.0) - exact).abs() <= 1e-9 * exact, "{p}");
            assert!((t_quantile(1.0 - p, 1.0) + exact).abs() <= 1e-9 * exact, "{p}");
        }
    }
}
