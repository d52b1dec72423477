//! How readings hang together, and how many independent ones they are worth.

/// Correlation of values `lag` places apart. The values' mean must be 0.
pub fn autocorrelation(values: &[f64], lag: usize) -> f64 {
    if lag >= values.len() {
        return 0.0;
    }
    let all: f64 = values.iter().map(|value| value * value).sum();
    let together: f64 = values.iter().zip(&values[lag..]).map(|(a, b)| a * b).sum();
    if all > 0.0 { together / all } else { 0.0 }
}

/// Values up to which every lag is looked at; longer logs are looked at in blocks.
const ONE_BY_ONE: usize = 20_000;

/// Number of independent values whose mean would be as uncertain as that of these: n / (1 + 2 sum of correlations), the
/// sum over pairs of neighbouring lags up to the first pair that is not positive (Geyer, Statistical Science 7, 1992,
/// 473-483, initial positive sequence), at most n. The values' mean must be 0.
///
/// Of more than 20 000 values the means of blocks take their place: the mean of all is the mean of the blocks, and the
/// correlation within a block is in its variance.
pub fn effective(values: &[f64]) -> f64 {
    let n = values.len();
    let block = n.div_ceil(ONE_BY_ONE).max(1);
    if block == 1 {
        return n as f64 / (1.0 + 2.0 * positive_sum(values));
    }
    let means: Vec<f64> = values.chunks_exact(block).map(|part| part.iter().sum::<f64>() / block as f64).collect();
    let square = |values: &[f64]| values.iter().map(|value| value * value).sum::<f64>() / values.len() as f64;
    let of_blocks = means.len() as f64 / (1.0 + 2.0 * positive_sum(&means));
    libm::fmin(square(values) / square(&means) * of_blocks, n as f64)
}

fn positive_sum(values: &[f64]) -> f64 {
    let mut sum = 0.0;
    let mut lag = 1;
    while lag + 1 < values.len() {
        let pair = autocorrelation(values, lag) + autocorrelation(values, lag + 1);
        if pair <= 0.0 {
            break;
        }
        sum += pair;
        lag += 2;
    }
    sum
}

/// Sum of squared differences of neighbours over the sum of squares: about 2 for white noise, less where neighbours are
/// alike (von Neumann, Ann. Math. Statist. 12, 1941, 367-395). The values' mean must be 0.
pub fn von_neumann(residuals: &[f64]) -> f64 {
    let apart: f64 = residuals.windows(2).map(|pair| (pair[1] - pair[0]) * (pair[1] - pair[0])).sum();
    apart / residuals.iter().map(|value| value * value).sum::<f64>()
}

/// Standard deviation of that ratio for white noise of `n` readings: sqrt(4 (n - 2) / (n^2 - 1)) (as above).
pub fn von_neumann_sd(n: usize) -> f64 {
    let n = n as f64;
    libm::sqrt(4.0 * (n - 2.0) / (n * n - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    fn first_order(n: usize, memory: f64, number: u64) -> Vec<f64> {
        let mut stream = Source::new(9, number, "first order").stream(0);
        let mut value = stream.normal();
        let values: Vec<f64> = (0..n)
            .map(|_| {
                value = memory * value + libm::sqrt(1.0 - memory * memory) * stream.normal();
                value
            })
            .collect();
        let mean = values.iter().sum::<f64>() / n as f64;
        values.into_iter().map(|value| value - mean).collect()
    }

    /// A first-order process is worth n (1 - phi) / (1 + phi) independent values; the spread of the estimate is judged by
    /// that of sixteen repeats, one by one and in blocks.
    #[test]
    fn a_first_order_process() {
        for (n, memory) in [(8_000, 0.6), (60_000, 0.9)] {
            let exact = n as f64 * (1.0 - memory) / (1.0 + memory);
            let found: Vec<f64> = (0..16).map(|number| effective(&first_order(n, memory, number)) / exact).collect();
            let mean = found.iter().sum::<f64>() / 16.0;
            let error = (found.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / 15.0 / 16.0).sqrt();
            assert!((mean - 1.0).abs() < 4.5 * error && error < 0.05, "{n}: {mean} +- {error}");
        }
    }

    #[test]
    fn white_noise_and_alternation() {
        let white = first_order(4_000, 0.0, 77);
        assert!((von_neumann(&white) - 2.0).abs() < 4.5 * von_neumann_sd(4_000));
        let alternating: Vec<f64> = (0..100).map(|i| if i % 2 == 0 { 1.0 } else { -1.0 }).collect();
        assert!((autocorrelation(&alternating, 1) + 0.99).abs() < 1e-12);
        assert!((von_neumann(&alternating) - 3.96).abs() < 1e-12);
        assert_eq!(effective(&alternating), 100.0);
    }
}
