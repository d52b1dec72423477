//! The standard normal distribution function, accurate in both tails.

/// P(Z <= x). Uses the complementary error function, so that small left tails keep their relative accuracy.
pub fn cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// P(Z > x), accurate for large x where `1 - cdf(x)` would cancel.
pub fn tail(x: f64) -> f64 {
    cdf(-x)
}

/// Density of the standard normal law.
pub fn density(x: f64) -> f64 {
    const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_5;
    libm::exp(-0.5 * x * x) / ROOT_TWO_PI
}

#[cfg(test)]
mod tests {
    /// Abramowitz & Stegun table 26.1 (values to the printed digits, from memory) and the far tail by the
    /// asymptotic series phi(x)/x (1 - 1/x^2 + 3/x^4).
    #[test]
    fn known_values() {
        assert!((super::cdf(1.0) - 0.841_344_746_068_543).abs() < 1e-14);
        assert!((super::cdf(-1.96) - 0.024_997_895_148_220).abs() < 1e-14);
        let x: f64 = 12.0;
        let phi = (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let series = phi / x * (1.0 - 1.0 / x.powi(2) + 3.0 / x.powi(4) - 15.0 / x.powi(6));
        assert!((super::tail(x) / series - 1.0).abs() < 1e-5);
    }
}
