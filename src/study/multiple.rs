//! Many comparisons at once.

/// Holm's adjusted probabilities (Scand. J. Statist. 6, 1979, 65-70), in the order given: rejecting all hypotheses
/// whose adjusted probability is at most alpha makes any false rejection at all at most as likely as alpha, whatever
/// the dependence among them.
pub fn holm(p_values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|a, b| p_values[*a].total_cmp(&p_values[*b]));
    let mut adjusted = vec![1.0; p_values.len()];
    let mut largest = 0.0_f64;
    for (rank, index) in order.into_iter().enumerate() {
        let weight = (p_values.len() - rank) as f64;
        largest = largest.max((weight * p_values[index]).min(1.0));
        adjusted[index] = largest;
    }
    adjusted
}

/// Confidence that each of `count` intervals needs so that all of them together hold with `confidence` (Bonferroni's
/// inequality: whatever the dependence among them).
pub fn each_confidence(confidence: f64, count: usize) -> f64 {
    1.0 - (1.0 - confidence) / count.max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// R: p.adjust(c(0.01, 0.04, 0.03, 0.005), "holm") is 0.03 0.06 0.06 0.02 (by hand: 4 x 0.005, 3 x 0.01,
    /// 2 x 0.03, then the larger of 0.04 and 0.06).
    #[test]
    fn holm_by_hand() {
        let adjusted = holm(&[0.01, 0.04, 0.03, 0.005]);
        for (got, expected) in adjusted.iter().zip([0.03, 0.06, 0.06, 0.02]) {
            assert!((got - expected).abs() < 1e-15, "{adjusted:?}");
        }
        assert_eq!(holm(&[0.6, 0.7]), [1.0, 1.0]);
        assert!(holm(&[]).is_empty());
    }

    #[test]
    fn the_error_is_shared_out() {
        assert!((each_confidence(0.95, 10) - 0.995).abs() < 1e-15);
        assert_eq!(each_confidence(0.9, 0), 0.9);
    }
}
