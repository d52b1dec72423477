//! Drawing a duration from a mean and a spread.

use crate::math::random::Stream;
use crate::scenario::mower::Spread;

/// Draws before the last one is clamped instead. Even a standard deviation of a hundred means leaves one draw in
/// ninety inside the cut, so that only absurd spreads ever reach this.
const TRIES: u32 = 1_000;

/// One duration in seconds: normal, drawn anew until it lies between a tenth of and three times the mean.
///
/// With no standard deviation the mean itself, with a mean of zero zero; neither draws. Note that the cut moves the
/// mean of the law a little upwards when the standard deviation exceeds about half the mean.
pub fn draw(spread: &Spread, stream: &mut Stream) -> f64 {
    let mean = spread.mean_s;
    if mean <= 0.0 {
        return 0.0;
    }
    if spread.sd_s <= 0.0 {
        return mean;
    }
    let (low, high) = (0.1 * mean, 3.0 * mean);
    let mut value = mean;
    for _ in 0..TRIES {
        value = mean + spread.sd_s * stream.normal();
        if (low..=high).contains(&value) {
            return value;
        }
    }
    value.clamp(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::normal::cdf;
    use crate::math::random::Source;

    fn density(x: f64) -> f64 {
        (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
    }

    /// Mean of a normal law cut on both sides: m + s (phi(a) - phi(b)) / (Phi(b) - Phi(a)) (Johnson, Kotz &
    /// Balakrishnan 1994, section 13.10; from memory), within 4.5 standard errors.
    #[test]
    fn mean_of_the_cut_law() {
        let n = 40_000;
        for (mean_s, sd_s) in [(60.0, 5.0), (60.0, 40.0), (20.0, 60.0)] {
            let spread = Spread { mean_s, sd_s };
            let mut stream = Source::new(3, 0, "spread").stream(0);
            let draws: Vec<f64> = (0..n).map(|_| draw(&spread, &mut stream)).collect();
            assert!(draws.iter().all(|x| (0.1 * mean_s..=3.0 * mean_s).contains(x)));
            let average = draws.iter().sum::<f64>() / n as f64;
            let variance = draws.iter().map(|x| (x - average).powi(2)).sum::<f64>() / (n - 1) as f64;
            let (a, b) = (-0.9 * mean_s / sd_s, 2.0 * mean_s / sd_s);
            let exact = mean_s + sd_s * (density(a) - density(b)) / (cdf(b) - cdf(a));
            let error = (variance / n as f64).sqrt();
            assert!((average - exact).abs() < 4.5 * error, "{mean_s} +- {sd_s}: {average}, exact {exact}");
        }
    }

    #[test]
    fn degenerate_spreads_do_not_draw() {
        let mut stream = Source::new(3, 0, "spread").stream(0);
        let untouched = stream.clone().bits();
        assert_eq!(draw(&Spread { mean_s: 7.0, sd_s: 0.0 }, &mut stream), 7.0);
        assert_eq!(draw(&Spread { mean_s: 0.0, sd_s: 3.0 }, &mut stream), 0.0);
        assert_eq!(stream.bits(), untouched);
        // An absurd spread ends, inside the cut.
        let wild = draw(&Spread { mean_s: 1.0, sd_s: 1e12 }, &mut stream);
        assert!((0.1..=3.0).contains(&wild));
    }
}
