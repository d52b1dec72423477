//! Depths in blocks of time from an intensity whose autocovariance is a sum of exponentials.
//!
//! With `c(t) = sum_i A_i e^(-a_i t)` the depth in a block of length h has (double integral of c; standard)
//! * variance `sum_i 2 A_i / a_i^2 (a_i h - 1 + e^(-a_i h))`
//! * covariance of blocks k apart `sum_i A_i / a_i^2 (1 - e^(-a_i h))^2 e^(-a_i (k-1) h)`.

/// Autocovariance of an intensity: pairs of size, (mm/h)^2, and rate, 1/h.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Covariance(pub [(f64, f64); 2]);

impl Covariance {
    /// Variance of the depth in `h` hours, mm^2.
    pub fn variance(&self, h: f64) -> f64 {
        self.0.iter().map(|(size, rate)| 2.0 * size / (rate * rate) * (rate * h + libm::expm1(-rate * h))).sum()
    }

    /// Covariance of the depths in two blocks of `h` hours that begin `k` blocks apart, k >= 1, mm^2.
    pub fn lagged(&self, h: f64, k: u32) -> f64 {
        let wait = f64::from(k - 1) * h;
        let one = |(size, rate): &(f64, f64)| {
            let fall = libm::expm1(-rate * h) / rate;
            size * fall * fall * libm::exp(-rate * wait)
        };
        self.0.iter().map(one).sum()
    }
}
