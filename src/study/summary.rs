//! Many seasons' values of one metric as one [`Estimate`]. The choice of method is explained in `study::basis`.

use super::basis::{Basis, alike};
use super::interval::mean::mean_and_variance;
use super::result::Estimate;
use crate::ledger::metric::{KEYS, Key, Kind};
use crate::ledger::record::SeasonRecord;

/// Fewest seasons for the 5 % and 95 % quantiles between seasons: two seasons are then expected beyond each.
pub const TAIL_QUANTILES_FROM: usize = 40;
/// Fewest seasons for the median.
pub const MEDIAN_FROM: usize = 5;

/// One estimate per metric, in the order of [`KEYS`]. The missed share is computed from missed arrivals and arrivals.
pub fn summarise(records: &[SeasonRecord], confidence: f64) -> Vec<Estimate> {
    KEYS.iter().map(|key| estimate(records, *key, confidence)).collect()
}

/// Estimate of a metric.
pub fn estimate(records: &[SeasonRecord], key: Key, confidence: f64) -> Estimate {
    let values = per_season(records, key);
    build(&values, key, basis(records, key), confidence)
}

/// Estimate from one count per season, whatever metric `key` is the heading of: for single causes of events.
pub fn estimate_counts(values: &[f64], key: Key, confidence: f64) -> Estimate {
    let values = finite(values.iter().copied());
    build(&values, key, Basis::of_counts(&values), confidence)
}

/// What the estimate of a metric rests on.
pub(super) fn basis(records: &[SeasonRecord], key: Key) -> Basis {
    match key.metric().kind {
        Kind::Count => Basis::of_counts(&per_season(records, key)),
        Kind::Amount | Kind::Peak | Kind::PeakIfAny => Basis::of_amounts(&per_season(records, key)),
        Kind::Share => Basis::of_shares(&records.iter().map(missed_of_arrivals).collect::<Vec<_>>()),
    }
}

/// What a limit on a metric is judged by. Of a peak that one season only has reached, no spread is known: that season's value stands for all,
/// as where all are alike.
pub(super) fn basis_of_limit(records: &[SeasonRecord], key: Key) -> Basis {
    let basis = basis(records, key);
    let once = key.metric().kind == Kind::PeakIfAny && basis.seasons == 1;
    if once { Basis::of_amounts(&vec![basis.mean; records.len()]) } else { basis }
}

/// Successes and trials of the only share among the metrics.
fn missed_of_arrivals(record: &SeasonRecord) -> (f64, f64) {
    (record.value(Key::MissedArrivals), record.value(Key::Arrivals))
}

/// The seasons' values; of a share, those of the seasons with trials; of a peak of what need not happen, those of the seasons in which it
/// did, and of all where it never did. Values that are no numbers are left out, so
/// that one broken season can't turn a whole report into "NaN".
fn per_season(records: &[SeasonRecord], key: Key) -> Vec<f64> {
    match key.metric().kind {
        Kind::Share => finite(records.iter().map(missed_of_arrivals).map(|(missed, arrivals)| missed / arrivals)),
        Kind::PeakIfAny => {
            let mut values = finite(records.iter().map(|record| record.value(key)));
            if values.iter().any(|value| *value > 0.0) {
                values.retain(|value| *value > 0.0);
            }
            values
        }
        Kind::Count | Kind::Amount | Kind::Peak => finite(records.iter().map(|record| record.value(key))),
    }
}

fn finite(values: impl Iterator<Item = f64>) -> Vec<f64> {
    values.filter(|value| value.is_finite()).collect()
}

fn build(values: &[f64], key: Key, basis: Basis, confidence: f64) -> Estimate {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let interval = basis.interval(confidence).map(|mut interval| {
        // No metric but a temperature can be negative; a symmetric interval of a small mean doesn't know.
        if key.metric().unit != "degC" {
            interval.low = interval.low.max(0.0);
        }
        interval
    });
    let supported = |p: f64, seasons: usize| (sorted.len() >= seasons).then(|| quantile(&sorted, p));
    Estimate {
        key,
        seasons: values.len() as u64,
        mean: basis.mean,
        interval,
        spread: (values.len() >= 2).then(|| if alike(values) { 0.0 } else { mean_and_variance(values).1.sqrt() }),
        quantiles: [
            supported(0.05, TAIL_QUANTILES_FROM),
            supported(0.5, MEDIAN_FROM),
            supported(0.95, TAIL_QUANTILES_FROM),
        ],
        range: (sorted.first().copied().unwrap_or(0.0), sorted.last().copied().unwrap_or(0.0)),
    }
}

/// Sample quantile of sorted values, definition 8 of Hyndman & Fan (The American Statistician 50, 1996, 361-365):
/// nearly median-unbiased whatever the distribution.
fn quantile(sorted: &[f64], p: f64) -> f64 {
    let n = sorted.len() as f64;
    let place = ((n + 1.0 / 3.0) * p + 1.0 / 3.0).clamp(1.0, n);
    let (index, part) = (place.floor() as usize - 1, place.fract());
    let next = sorted[(index + 1).min(sorted.len() - 1)];
    sorted[index] + part * (next - sorted[index])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::interval::Method;

    fn records(rows: &[&[(Key, f64)]]) -> Vec<SeasonRecord> {
        let record = |(season, row): (usize, &&[(Key, f64)])| {
            let mut record = SeasonRecord::empty(season as u64, 0);
            for (key, value) in *row {
                record.values[*key as usize] = *value;
            }
            record
        };
        rows.iter().enumerate().map(record).collect()
    }

    /// R: quantile(c(1, 2, 4, 8, 16, 32), c(.05, .5, .95), type = 8): by the definition, places (6 + 1/3) p + 1/3 =
    /// 0.65, 3.5 and 6.35, so 1 (clamped), 6 and 32 (clamped); and p = 0.3 at place 2.2333 gives 2.4667.
    #[test]
    fn quantiles_of_type_eight() {
        let sorted = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
        assert_eq!([0.05, 0.5, 0.95].map(|p| quantile(&sorted, p)), [1.0, 6.0, 32.0]);
        assert!((quantile(&sorted, 0.3) - (2.0 + 2.0 * (6.0 + 1.0 / 3.0) * 0.3 + 2.0 / 3.0 - 4.0)).abs() < 1e-12);
    }

    #[test]
    fn quantiles_are_withheld_where_seasons_are_few() {
        let of = |n: usize| {
            let values: Vec<f64> = (0..n).map(|value| value as f64).collect();
            estimate_counts(&values, Key::Openings, 0.95).quantiles.map(|quantile| quantile.is_some())
        };
        assert_eq!(of(4), [false, false, false]);
        assert_eq!(of(5), [false, true, false]);
        assert_eq!(of(39), [false, true, false]);
        assert_eq!(of(40), [true, true, true]);
    }

    /// Two contacts in four seasons, of 100 N and 140 N: 120 N in a season with one, not 60 N; none in four: 0 N.
    #[test]
    fn a_peak_goes_by_the_seasons_that_have_one() {
        let one = |newton: f64| vec![(Key::PeakContactForce, newton), (Key::WaitLongest, newton)];
        let of = |values: &[f64]| {
            let rows: Vec<_> = values.iter().map(|newton| one(*newton)).collect();
            summarise(&records(&rows.iter().map(Vec::as_slice).collect::<Vec<_>>()), 0.95)
        };
        let force = &of(&[0.0, 100.0, 0.0, 140.0])[Key::PeakContactForce as usize];
        assert_eq!((force.seasons, force.mean, force.range), (2, 120.0, (100.0, 140.0)));
        assert_eq!(of(&[0.0, 100.0, 0.0, 140.0])[Key::WaitLongest as usize].mean, 60.0);
        let none = &of(&[0.0; 4])[Key::PeakContactForce as usize];
        assert_eq!((none.seasons, none.mean, none.range), (4, 0.0, (0.0, 0.0)));
    }

    #[test]
    fn the_missed_share_is_pooled_over_arrivals() {
        let records = records(&[
            &[(Key::Arrivals, 10.0), (Key::MissedArrivals, 1.0)],
            &[(Key::Arrivals, 30.0), (Key::MissedArrivals, 1.0)],
            &[],
        ]);
        let summary = summarise(&records, 0.95);
        let share = &summary[Key::MissedShare as usize];
        assert_eq!((share.mean, share.seasons, share.range), (0.05, 2, (1.0 / 30.0, 0.1)));
        assert_eq!(share.interval.map(|interval| interval.method), Some(Method::Wilson));
        let arrivals = &summary[Key::Arrivals as usize];
        assert!((arrivals.mean - 40.0 / 3.0).abs() < 1e-12);
    }

    /// No season, one season, equal seasons, zeros, broken numbers: every figure is a number or withheld.
    #[test]
    fn never_a_nan() {
        let broken: &[(Key, f64)] = &[(Key::WaitTotal, f64::NAN), (Key::WindingPeak, f64::INFINITY)];
        let some: &[(Key, f64)] = &[(Key::WaitTotal, 3.0), (Key::Openings, 200.0), (Key::WindingPeak, -4.0)];
        let cases: [&[&[(Key, f64)]]; 6] =
            [&[], &[some], &[some, some], &[broken], &[some, broken, some], &[&[], &[], &[]]];
        for case in cases {
            let summary = summarise(&records(case), 0.95);
            assert_eq!(summary.len(), KEYS.len());
            for estimate in summary {
                let ends = estimate.interval.map(|interval| [interval.low, interval.high]);
                let mut figures = vec![estimate.mean, estimate.range.0, estimate.range.1];
                figures.extend(ends.into_iter().flatten());
                figures.extend(estimate.spread);
                figures.extend(estimate.quantiles.into_iter().flatten());
                assert!(figures.iter().all(|figure| figure.is_finite()), "{estimate:?}");
            }
        }
        let broken = &summarise(&records(&[some, broken, some]), 0.95)[Key::WaitTotal as usize];
        assert_eq!((broken.seasons, broken.mean, broken.spread), (2, 3.0, Some(0.0)));
    }

    /// A mean of 1/4 event with Student's t would reach below zero.
    #[test]
    fn intervals_stay_above_zero_but_for_temperatures() {
        let rows: [&[(Key, f64)]; 4] = [
            &[(Key::WaitTotal, 1.0), (Key::WindingPeak, -1.0)],
            &[(Key::WindingPeak, -2.0)],
            &[(Key::WindingPeak, -3.0)],
            &[(Key::WindingPeak, -9.0)],
        ];
        let summary = summarise(&records(&rows), 0.95);
        let low = |key: Key| summary[key as usize].interval.expect("four seasons").low;
        assert_eq!(low(Key::WaitTotal), 0.0);
        assert!(low(Key::WindingPeak) < -3.75);
    }
}
