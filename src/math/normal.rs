//! The standard normal distribution function, accurate in both tails.

/// P(Z <= x). Uses the complementary error function, so that small left tails keep their relative accuracy.
pub fn cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// P(Z > x), accurate for large x where `1 - cdf(x)` would cancel.
pub fn tail(x: f64) -> f64 {
    cdf(-x)
}

/// P(Z <= x) and P(Z > x), the smaller of them accurate in its tail.
pub fn both_sides(x: f64) -> (f64, f64) {
    if x < 0.0 {
        let below = cdf(x);
        (below, 1.0 - below)
    } else {
        let above = tail(x);
        (1.0 - above, above)
    }
}

/// Whether the tail beyond `far` is so small that taking it off the one beyond `near` changes no bit, both taken on the side of
/// `far`'s sign or `near` on the other: tail(b)/tail(a) < exp((a^2 - b^2)/2), which is below 2^-57 from b^2 - a^2 = 80 on.
pub fn is_lost(far: f64, near: f64) -> bool {
    const NEGLIGIBLE: f64 = 80.0;
    far * far - near * near > NEGLIGIBLE
}

/// P(a <= Z < b) for a < b, subtracted in the tail where the numbers are small.
///
/// A term too small to change the other one by rounding is not worked out: cdf(-9) is 1e-19, and see [`is_lost`].
pub fn between(a: f64, b: f64) -> f64 {
    if a > 0.0 {
        return if is_lost(b, a) { tail(a) } else { tail(a) - tail(b) };
    }
    if b > 0.0 {
        let upper = if b > 9.0 { 1.0 } else { cdf(b) };
        return if a < -9.0 { upper } else { upper - cdf(a) };
    }
    if is_lost(a, b) { cdf(b) } else { cdf(b) - cdf(a) }
}

/// Density of the standard normal law.
pub fn density(x: f64) -> f64 {
    const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_5;
    libm::exp(-0.5 * x * x) / ROOT_TWO_PI
}

#[cfg(test)]
mod tests {
    /// Leaving out what rounding would lose changes no bit.
    #[test]
    fn between_is_the_difference_to_the_last_bit() {
        let ends: Vec<f64> =
            (-400..=400).map(|i| 0.1 * f64::from(i)).chain([f64::NEG_INFINITY, f64::INFINITY]).collect();
        for a in &ends {
            for b in ends.iter().filter(|b| *b > a) {
                let plain = if *a > 0.0 { super::tail(*a) - super::tail(*b) } else { super::cdf(*b) - super::cdf(*a) };
                assert_eq!(super::between(*a, *b).to_bits(), plain.to_bits(), "from {a} to {b}");
            }
        }
    }

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
