//! Two integrals over a storm's life that the dry probability of a Bartlett-Lewis process needs.
//!
//! `G(kappa, phi) = int_0^1 v^(phi-1) (1-v) e^(-kappa (1-v)) dv = e^(-kappa) 1F1(phi; phi+2; kappa) / (phi (phi+1))`
//! and `M = 1/phi - G + S1 + S2`, the mean time with at least one live cell per storm, in units of a mean cell. Both
//! follow from Rodriguez-Iturbe, Cox & Isham 1987 (Proc. R. Soc. A 410, 269-288; from memory) by expanding the
//! exponential; the series are
//! * `S1 = sum_{n>=1} (-1)^(n+1) kappa^n / (n n!) phi B(phi, n+1)`
//! * `S2 = sum_{m>=0} (-1)^m kappa^m / (m+1)! phi B(phi+1, m+1)`
//!
//! with the beta function B. The terms grow to about e^kappa before they fall, so that of 16 digits about
//! 16 - 0.43 kappa remain: [`MOST_CELLS`] keeps ten.

/// Largest kappa for which the series are used.
pub const MOST_CELLS: f64 = 12.0;

/// Terms of each series; at kappa = 12 the last one is below 1e-30.
const TERMS: usize = 80;

/// `M` and `G` of one (kappa, phi).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StormConstants {
    /// Mean time with rain per storm times the cell rate.
    pub wet: f64,
    /// The integral G.
    pub g: f64,
}

/// Whether no later term changes the sum: beyond the largest one (n > kappa) they only fall, and this one is less than what
/// the sum's last bit could show.
fn spent(n: f64, kappa: f64, term: f64, sum: f64) -> bool {
    n > kappa && term.abs() <= 1e-18 * sum.abs()
}

impl StormConstants {
    /// The constants for 0 <= kappa <= [`MOST_CELLS`] and phi > 0.
    pub fn new(kappa: f64, phi: f64) -> StormConstants {
        // 1F1: all terms positive. a_n = a_(n-1) (phi + n - 1) / (phi + 1 + n) kappa / n.
        let (mut term, mut sum) = (1.0, 1.0);
        for n in 1..=TERMS {
            let n = n as f64;
            term *= (phi + n - 1.0) / (phi + n + 1.0) * kappa / n;
            sum += term;
            if spent(n, kappa, term, sum) {
                break;
            }
        }
        let g = libm::exp(-kappa) * sum / (phi * (phi + 1.0));
        // phi B(phi, n+1) = n!/((phi+1)...(phi+n)): the factorial cancels that of the series.
        // S1: p_n = kappa^n / ((phi+1)...(phi+n)), term p_n / n with alternating sign.
        let (mut power, mut s1, mut sign) = (1.0, 0.0, 1.0);
        for n in 1..=TERMS {
            let n = n as f64;
            power *= kappa / (phi + n);
            s1 += sign * power / n;
            sign = -sign;
            if spent(n, kappa, power / n, s1) {
                break;
            }
        }
        // S2: phi B(phi+1, m+1) = phi m! / ((phi+1)...(phi+m+1)), so the term is phi q_m / (m+1) with
        // q_m = kappa^m / ((phi+1)...(phi+m+1)).
        let (mut power, mut s2, mut sign) = (1.0 / (phi + 1.0), 0.0, 1.0);
        for m in 0..TERMS {
            let m = m as f64;
            s2 += sign * phi * power / (m + 1.0);
            if spent(m, kappa, phi * power / (m + 1.0), s2) {
                break;
            }
            power *= kappa / (phi + m + 2.0);
            sign = -sign;
        }
        StormConstants { wet: 1.0 / phi - g + s1 + s2, g }
    }
}
