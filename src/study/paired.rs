//! Two designs that played the same seasons: the difference of a metric, with its uncertainty.
//!
//! Playing the same seasons (common random numbers) makes good and bad seasons cancel in the difference. How much that
//! helps is said by the variance ratio var(a - b) / (var a + var b): 0.1 means that independent seasons would have to be
//! ten times as many for the same certainty.
//!
//! * **Amounts, peaks, frequent counts**: the mean of the seasons' differences, with the method that suits their law
//!   (`study::basis`).
//! * **Shares**: the difference of the pooled shares, on each season's contribution to it (linearisation of the ratio:
//!   Kish, Survey Sampling, 1965).
//! * **Rare counts**: of the difference of each season, the surplus of a and the surplus of b are added up separately.
//!   These unmatched events are Poisson counts for rare events; given their number, that of a is binomial with 1/2
//!   (McNemar's argument). The interval joins the two exact Poisson intervals by the method of variance estimates
//!   recovery (Zou & Donner, Statistics in Medicine 27, 2008, 1693-1702). Used for fewer than
//!   100 unmatched events that don't come in bunches.

use super::basis::{Basis, RARE_BELOW, overdispersed};
use super::exact::mcnemar;
use super::interval::mean::mean_and_variance;
use super::interval::{Interval, Method, paired, poisson};
use crate::ledger::metric::{Key, Kind};
use crate::ledger::record::SeasonRecord;

/// Difference of one metric, a minus b, over seasons that both have played.
#[derive(Clone, Debug, PartialEq)]
pub struct PairedDifference {
    /// The metric.
    pub key: Key,
    /// Seasons that count: played by both, with a value for both.
    pub seasons: u64,
    /// Means of a and b.
    pub means: [f64; 2],
    /// Difference of the means.
    pub difference: f64,
    /// Two-sided interval of the difference; none where the seasons can't support one.
    pub interval: Option<Interval>,
    /// Two-sided probability of so large a difference if there were none; not adjusted for other comparisons. None
    /// below two seasons.
    pub p_value: Option<f64>,
    /// Correlation of a and b between seasons; none where one of them doesn't vary.
    pub correlation: Option<f64>,
    /// var(a - b) / (var a + var b); none where neither varies.
    pub variance_ratio: Option<f64>,
}

impl PairedDifference {
    /// How many times fewer seasons the pairing needs for the same certainty; infinite if the differences don't vary.
    pub fn variance_reduction(&self) -> Option<f64> {
        self.variance_ratio.map(|ratio| 1.0 / ratio)
    }
}

/// Part of a value below which a difference is rounding: sums of the same durations in another order.
const ROUNDING: f64 = 1e-9;

/// Two values of one season; the same if they differ by rounding only.
fn level([a, b]: [f64; 2]) -> [f64; 2] {
    if (a - b).abs() <= ROUNDING * a.abs().max(b.abs()) { [a, a] } else { [a, b] }
}

/// Whether two seasons differ in a metric by more than rounding.
pub(super) fn differs(a: &SeasonRecord, b: &SeasonRecord, key: Key) -> bool {
    let plain = |key: Key| {
        let [a, b] = level([a.value(key), b.value(key)]);
        a != b
    };
    match key.metric().kind {
        Kind::Share => plain(Key::MissedArrivals) || plain(Key::Arrivals),
        Kind::Count | Kind::Amount | Kind::Peak | Kind::PeakIfAny => plain(key),
    }
}

/// Difference of a metric between two designs, season by season; records beyond the shorter list are left out.
pub fn difference(a: &[SeasonRecord], b: &[SeasonRecord], key: Key, confidence: f64) -> PairedDifference {
    let pairs = a.iter().zip(b);
    match key.metric().kind {
        Kind::Share => of_shares(
            key,
            &pairs
                .map(|(a, b)| [a, b].map(|r| (r.value(Key::MissedArrivals), r.value(Key::Arrivals))))
                .collect::<Vec<_>>(),
            confidence,
        ),
        kind => {
            let finite = |pair: &[f64; 2]| pair.iter().all(|value| value.is_finite());
            let values: Vec<[f64; 2]> =
                pairs.map(|(a, b)| [a.value(key), b.value(key)]).filter(finite).map(level).collect();
            of_values(key, &values, kind == Kind::Count, confidence)
        }
    }
}

/// Difference of what seasons cost, headed by `key`.
pub fn of_costs(key: Key, a: &[f64], b: &[f64], confidence: f64) -> PairedDifference {
    let pairs = a.iter().zip(b).map(|(a, b)| [*a, *b]).filter(|pair| pair.iter().all(|value| value.is_finite()));
    of_values(key, &pairs.collect::<Vec<_>>(), false, confidence)
}

/// Difference of plain values per season.
fn of_values(key: Key, values: &[[f64; 2]], counts: bool, confidence: f64) -> PairedDifference {
    let [a, b] = [0, 1].map(|side| values.iter().map(|pair| pair[side]).collect::<Vec<f64>>());
    let differences: Vec<f64> = values.iter().map(|[a, b]| a - b).collect();
    let n = values.len() as f64;
    let [mean_a, mean_b] = [&a, &b].map(|side| if side.is_empty() { 0.0 } else { side.iter().sum::<f64>() / n });
    let (correlation, variance_ratio) = correlation(&a, &b);
    let (interval, p_value) = match if counts { unmatched(&differences) } else { None } {
        Some(surplus) => (rare_difference(surplus, n, confidence), Some(mcnemar(surplus[0] as u64, surplus[1] as u64))),
        None => {
            let p_value = paired(&a, &b, confidence).map(|difference| difference.p_value);
            (Basis::of_amounts(&differences).interval(confidence), p_value)
        }
    };
    PairedDifference {
        key,
        seasons: values.len() as u64,
        means: [mean_a, mean_b],
        difference: mean_a - mean_b,
        interval,
        p_value,
        correlation,
        variance_ratio,
    }
}

/// Surplus of a and of b, if these are few and don't come in bunches; none if they are not rare events.
fn unmatched(differences: &[f64]) -> Option<[f64; 2]> {
    if differences.is_empty() || differences.iter().any(|difference| difference.fract() != 0.0) {
        return None;
    }
    let side = |sign: f64| -> Vec<f64> { differences.iter().map(|difference| (sign * difference).max(0.0)).collect() };
    let sides = [side(1.0), side(-1.0)];
    let total: f64 = sides.iter().flatten().sum();
    if total == 0.0 || total >= RARE_BELOW || sides.iter().any(|side| overdispersed(side)) {
        return None;
    }
    Some(sides.map(|side| side.iter().sum()))
}

/// Interval of the difference of two Poisson rates over the same `seasons`.
fn rare_difference(events: [f64; 2], seasons: f64, confidence: f64) -> Option<Interval> {
    let [a, b] = events.map(|events| poisson(events, seasons, confidence));
    let (a, b) = (a?, b?);
    let [rate_a, rate_b] = events.map(|events| events / seasons);
    let down = libm::hypot(rate_a - a.low, b.high - rate_b);
    let up = libm::hypot(a.high - rate_a, rate_b - b.low);
    let difference = rate_a - rate_b;
    Some(Interval { low: difference - down, high: difference + up, confidence, method: Method::Unmatched })
}

/// Difference of pooled shares: successes and trials of a and b per season.
fn of_shares(key: Key, seasons: &[[(f64, f64); 2]], confidence: f64) -> PairedDifference {
    let good = |pair: &&[(f64, f64); 2]| pair.iter().all(|(x, m)| x.is_finite() && *m > 0.0);
    let tried: Vec<&[(f64, f64); 2]> = seasons.iter().filter(good).collect();
    let n = tried.len() as f64;
    let sum = |side: usize| tried.iter().fold((0.0, 0.0), |sum, pair| (sum.0 + pair[side].0, sum.1 + pair[side].1));
    let pooled = [sum(0), sum(1)];
    let shares = pooled.map(|(successes, trials)| if trials > 0.0 { successes / trials } else { 0.0 });
    // Season i adds (x_i - r m_i) / mean m to the share's error.
    let part = |side: usize| -> Vec<f64> {
        let per_season = pooled[side].1 / n;
        tried.iter().map(|pair| shares[side] + (pair[side].0 - shares[side] * pair[side].1) / per_season).collect()
    };
    let parts = [part(0), part(1)];
    let values: Vec<[f64; 2]> = parts[0].iter().zip(&parts[1]).map(|(a, b)| [*a, *b]).collect();
    let mut difference = of_values(key, &values, false, confidence);
    difference.means = shares;
    difference.difference = shares[0] - shares[1];
    difference
}

/// Correlation and var(a - b) / (var a + var b).
fn correlation(a: &[f64], b: &[f64]) -> (Option<f64>, Option<f64>) {
    if a.len() < 2 {
        return (None, None);
    }
    let ((mean_a, variance_a), (mean_b, variance_b)) = (mean_and_variance(a), mean_and_variance(b));
    let product: f64 = a.iter().zip(b).map(|(a, b)| (a - mean_a) * (b - mean_b)).sum();
    let covariance = product / (a.len() - 1) as f64;
    let both = (variance_a * variance_b).sqrt();
    let sum = variance_a + variance_b;
    let differences: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
    let ratio = (sum > 0.0).then(|| mean_and_variance(&differences).1 / sum);
    ((both > 0.0).then(|| covariance / both), ratio)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(pairs: &[[f64; 2]]) -> PairedDifference {
        of_values(Key::Strandings, pairs, true, 0.95)
    }

    /// Three strandings that only a had, one that only b had, one that both had in the same season.
    #[test]
    fn rare_events_are_matched_season_by_season() {
        let mut seasons = vec![[0.0, 0.0]; 60];
        seasons[3] = [1.0, 0.0];
        seasons[10] = [1.0, 0.0];
        seasons[20] = [1.0, 1.0];
        seasons[30] = [0.0, 1.0];
        seasons[40] = [1.0, 0.0];
        let got = counts(&seasons);
        assert_eq!(got.p_value, Some(mcnemar(3, 1)));
        // Garwood for 3 (0.6187, 8.7673) and 1 (0.0253, 5.5716), from printed tables, joined by hand.
        let interval = got.interval.unwrap();
        let low = 2.0 - f64::hypot(3.0 - 0.6187, 5.5716 - 1.0);
        let high = 2.0 + f64::hypot(8.7673 - 3.0, 1.0 - 0.0253);
        assert!((interval.low * 60.0 - low).abs() < 2e-4 && (interval.high * 60.0 - high).abs() < 2e-4, "{interval:?}");
        assert_eq!(interval.method, Method::Unmatched);
    }

    #[test]
    fn never_a_nan() {
        for seasons in [&[][..], &[[1.0, 2.0]], &[[0.0, 0.0], [0.0, 0.0]], &[[3.0, 1.0], [3.0, 1.0]]] {
            let got = counts(seasons);
            let shares: Vec<[(f64, f64); 2]> = seasons.iter().map(|pair| pair.map(|x| (x, 0.0))).collect();
            for got in [got, of_shares(Key::MissedShare, &shares, 0.95)] {
                let mut figures = vec![got.difference, got.means[0], got.means[1]];
                figures.extend([got.p_value, got.correlation, got.variance_ratio].into_iter().flatten());
                assert!(figures.iter().all(|figure| figure.is_finite()), "{got:?}");
            }
        }
    }

    /// With equal trials in all seasons the difference of pooled shares is that of the seasons' shares.
    #[test]
    fn shares_of_equal_trials() {
        let missed = [[1.0, 0.0], [3.0, 1.0], [0.0, 0.0], [2.0, 2.0]];
        let shares = of_shares(Key::MissedShare, &missed.map(|pair| pair.map(|x| (x, 20.0))), 0.95);
        let plain = of_values(Key::MissedShare, &missed.map(|pair| pair.map(|x| x / 20.0)), false, 0.95);
        assert!((shares.difference - 0.0375).abs() < 1e-15);
        let (got, expected) = (shares.interval.unwrap(), plain.interval.unwrap());
        assert!((got.low - expected.low).abs() < 1e-12 && (got.high - expected.high).abs() < 1e-12);
    }
}
