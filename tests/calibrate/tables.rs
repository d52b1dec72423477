//! Against tables computed outside this crate.

use std::collections::BTreeMap;

use dooryard::scenario::measure::{ANGLE, LENGTH, MASS, Measure};
use dooryard::study::calibrate::Measured;
use dooryard::study::calibrate::drift::Model;
use dooryard::study::calibrate::passes::{Passes, Settings, Side, passes};
use dooryard::study::calibrate::still::{Still, Verdict, still};
use dooryard::study::calibrate::threshold::{Way, passes_needed};
use dooryard::study::calibrate::tolerance::factor;
use dooryard::study::interval::clopper_pearson;
use dooryard::world::log::{read_passes, read_still};

use super::common::{data, number, records};

const SERIES: [(&str, &Measure); 3] = [("range_still", &LENGTH), ("load_still", &MASS), ("tilt_still", &ANGLE)];

fn calibrated((series, measure): (&str, &'static Measure), truth: Option<f64>) -> Still {
    let log = read_still(&data(&format!("sensing/calib_series_{series}.csv")), measure, None).expect("a sound log");
    assert!(log.warnings.is_empty() && log.begins.is_none());
    still(&log, truth, 0.95).expect("noise")
}

/// Every figure of the table, to the digits that two programs can agree on; what each series was drawn with lies within
/// the intervals.
#[test]
fn figures_of_three_series() {
    let table: BTreeMap<(String, String), f64> = records("sensing/calib_results.csv")
        .iter()
        .map(|row| ((row["series"].clone(), row["quantity"].clone()), number(row, "value")))
        .collect();
    let mut compared = 0;
    for (series, measure) in SERIES {
        let table = |quantity: &str| table.get(&(series.to_owned(), quantity.to_owned())).copied();
        let got = calibrated((series, measure), table("truth_bias"));
        let ends = |measured: &Measured| measured.ends.expect("an interval");
        let outliers = ends(&got.outliers.rate);
        let figures = [
            ("n", got.readings as f64),
            ("dt_s", got.sampling.period_s),
            ("dropout_fraction", got.sampling.dropout.value),
            ("quantisation", got.step),
            ("median", got.median),
            ("mean", got.mean.value),
            ("se_mean", got.mean_error),
            ("sigma_sd", got.sigma.value),
            ("sigma_sd_lo95", ends(&got.sigma).0),
            ("sigma_sd_hi95", ends(&got.sigma).1),
            ("sigma_mad", got.sigma_mad),
            ("sigma_diff", got.sigma_of_differences),
            ("r1", got.lag_one.value),
            ("von_neumann", got.von_neumann),
            ("n_eff", got.effective),
            ("slope_per_s", got.slope_per_s.value),
            ("se_slope", got.slope_error_per_s),
            ("outliers", got.outliers.count as f64),
            ("outlier_rate", got.outliers.rate.value),
            ("outlier_lo95", outliers.0),
            ("outlier_hi95", outliers.1),
        ];
        for (quantity, value) in figures {
            let expected = table(quantity).unwrap_or_else(|| panic!("no {quantity} of {series}"));
            // The slope of nearly level readings is what is left of large sums.
            let tolerance = if quantity == "slope_per_s" { 1e-12 } else { 1e-9 * expected.abs() + 1e-12 };
            assert!((value - expected).abs() <= tolerance, "{series}, {quantity}: {value} against {expected}");
            compared += 1;
        }
        let white = table("sigma_white_sheppard").expect("a figure");
        assert!(got.drift.is_some() || (got.white.value - white).abs() < 1e-9 * white);
        // What it was drawn with.
        let within = |measured: &Measured, truth: f64, what: &str| {
            let (low, high) = ends(measured);
            assert!(low <= truth && truth <= high, "{series}, {what}: {truth} not in {low} to {high}");
        };
        within(&got.white, table("truth_sig").expect("a truth"), "white noise");
        within(&got.sampling.dropout, table("truth_drop").expect("a truth"), "dropout");
        within(&got.outliers.rate, table("truth_out_rate").expect("a truth"), "outliers");
    }
    assert_eq!(compared, 63);
}

/// The verdicts: the ranger is white; platform and tilt drift, and say by which sign.
#[test]
fn verdicts() {
    let verdict = |index: usize| {
        let got = calibrated(SERIES[index], None);
        (got.verdict, got.best.readings, got.best.falling, got.drift)
    };
    assert_eq!(verdict(0), (Verdict::White, 1024, true, None));
    let (load, readings, falling, drift) = verdict(1);
    assert_eq!((load, readings, falling), (Verdict::Drift, 4, false));
    let drift = drift.expect("a drift");
    // It was drawn with 0.03 kg and 2 s, beside a random walk and a ramp.
    let (low, high) = drift.slow.ends.expect("ends");
    assert!(low < 0.03 && high > 0.03, "{drift:?}");
    assert!(drift.time_s.value > 1.0 && drift.time_s.value < 6.0, "{drift:?}");
    let (tilt, readings, falling, drift) = verdict(2);
    assert_eq!((tilt, readings, falling), (Verdict::Drift, 128, false));
    let (low, high) = drift.expect("a drift").slow.ends.expect("ends");
    assert!(low < 0.02 && high > 0.02, "{low} to {high}");
}

/// Curves with degrees of freedom and intervals, and the law that they were drawn from.
#[test]
fn allan_curves() {
    let rows = records("sensing/calib_allan.csv");
    let mut compared = 0;
    for (series, measure) in SERIES {
        let got = calibrated((series, measure), None);
        let rows: Vec<_> = rows.iter().filter(|row| row["series"] == series).collect();
        assert_eq!(rows.len(), got.curve.len(), "{series}");
        for (row, place) in rows.iter().zip(&got.curve) {
            let near = |value: f64, column: &str, tolerance: f64| {
                let expected = number(row, column);
                assert!((value / expected - 1.0).abs() < tolerance, "{series}, {column}: {value} against {expected}");
            };
            assert_eq!(place.readings as f64, number(row, "m"));
            near(place.time_s, "tau_s", 1e-9);
            near(place.deviation.value, "oadev_own", 1e-9);
            near(place.deviation.value, "oadev_allantools", 1e-9);
            // The table has six digits of these.
            near(place.freedom, "edf_white_simple", 1e-5);
            let (low, high) = place.deviation.ends.expect("ends");
            near(low, "lo95", 1e-5);
            near(high, "hi95", 1e-5);
            compared += 1;
        }
    }
    assert_eq!(compared, 33);
}

/// The closed form of the drift's variance, with a random walk and a ramp added by hand, against the table's theory.
#[test]
fn theory_of_drift() {
    // Series; period, s; walk, ramp per second, step between readings; noise and drift.
    let cases: [(&str, [f64; 4], Model); 3] = [
        ("range_still", [0.05, 0.0, 0.0, 0.001], Model { white: 0.0062, slow: 0.0, memory: 1.0 }),
        ("load_still", [0.1, 0.0008, 2e-5, 0.005], Model { white: 0.02, slow: 0.03, memory: 20.0 }),
        ("tilt_still", [0.02, 0.0, 2e-4, 0.01], Model { white: 0.09, slow: 0.02, memory: 750.0 }),
    ];
    for (series, [period_s, walk, ramp, step], model) in cases {
        for row in records("sensing/calib_allan.csv").iter().filter(|row| row["series"] == series) {
            let m = number(row, "m");
            let rounding = step * step / 12.0 / m;
            let walk = walk * walk * period_s * m * (1.0 / 3.0 + 1.0 / (6.0 * m * m));
            let ramp = ramp * m * period_s;
            let got = (model.variance(m as usize) + rounding + walk + 0.5 * ramp * ramp).sqrt();
            let expected = number(row, "theory");
            assert!((got / expected - 1.0).abs() < 1e-9, "{series}, {m}: {got} against {expected}");
        }
    }
}

fn labelled(side: Side, turn: f64) -> Passes {
    let mut log = read_passes(&data("sensing/roc_passes.csv")).expect("a sound log");
    log.mower.iter_mut().chain(&mut log.other).for_each(|score| *score *= turn);
    let settings =
        Settings { side, days: 25.0, misses: 0.05, confidence: 0.95, worth: 20.0, arrivals_per_day: Some(4.0) };
    passes(&log, settings)
}

/// Area, levels and false openings of the table; scores that are low for the mower give the same.
#[test]
fn labelled_passes() {
    let table: BTreeMap<String, f64> =
        records("sensing/roc_results.csv").iter().map(|row| (row["quantity"].clone(), number(row, "value"))).collect();
    for (side, turn) in [(Side::Above, 1.0), (Side::Below, -1.0)] {
        let got = labelled(side, turn);
        let level = |way: Way| *got.thresholds.iter().find(|one| one.way == way).expect("a level");
        let (counted, normal, cost) = (level(Way::DistributionFree), level(Way::Normal), level(Way::LeastCost));
        let rate = counted.false_per_day.ends.expect("ends");
        let exact = clopper_pearson(3, 120, 0.95).expect("trials");
        for (quantity, value) in [
            ("auc_delong", got.area.value),
            ("auc_mannwhitney_scipy", got.area.value),
            ("se_delong", got.area_error),
            ("thr_distribution_free_miss<=5%_conf95", turn * counted.level),
            ("misses_allowed", counted.missed as f64),
            ("miss_at_thr", counted.miss),
            ("miss_upper95_one_sided", counted.miss_at_most),
            ("tol_factor_p95_c95", factor(120, 0.95, 0.95)),
            ("tol_factor_n43_p90_c99_check", factor(43, 0.90, 0.99)),
            ("thr_normal_tolerance", turn * normal.level),
            ("fa_at_thr_count", counted.others as f64),
            ("fa_per_day", counted.false_per_day.value),
            ("fa_per_day_lo95", rate.0),
            ("fa_per_day_hi95", rate.1),
            ("cost_min_threshold", turn * cost.level),
            // The table counts in misses, here a false opening is the unit.
            ("cost_min_loss_per_day", cost.cost_per_day / 20.0),
            ("cost_min_miss", cost.miss),
            ("cost_min_fa_per_day", cost.false_per_day.value),
            ("n_for_zero_miss_p5_c95", passes_needed(0.05, 0.95) as f64),
            ("n_for_zero_miss_p1_c95", passes_needed(0.01, 0.95) as f64),
            ("n_for_zero_miss_p0.1_c95", passes_needed(0.001, 0.95) as f64),
            ("clopper_3_of_120_lo", exact.low),
            ("clopper_3_of_120_hi", exact.high),
            ("scipy_exact_3_of_120_hi", exact.high),
        ] {
            let mut expected = table[quantity];
            if quantity.starts_with("n_for") {
                expected = expected.ceil();
            }
            assert!((value - expected).abs() <= 1e-9 * expected.abs(), "{quantity}: {value} against {expected}");
        }
        // Other ways to the standard error, on the same passes.
        let (low, high) = got.area.ends.expect("ends");
        assert!(low < got.area.value && got.area.value < high && high < 1.0);
        assert!((table["se_bootstrap"] / got.area_error - 1.0).abs() < 0.02);
    }
}

#[test]
fn operating_curve() {
    let got = labelled(Side::Above, 1.0);
    let rows = records("sensing/roc_curve.csv");
    for row in &rows {
        let level = number(row, "threshold");
        let place = got.curve.iter().find(|place| place.level == level).expect("each level is a score");
        let (low, high) = place.hits.ends.expect("ends");
        for (value, column) in [
            (place.hits.value, "hit_rate"),
            (place.false_per_day.value, "false_alarms_per_day"),
            (low, "hit_lo95"),
            (high, "hit_hi95"),
        ] {
            let expected = number(row, column);
            // Eight digits in the table.
            assert!(
                (value - expected).abs() <= 1e-7 * expected.abs() + 1e-12,
                "{level}, {column}: {value}, {expected}"
            );
        }
    }
    assert_eq!(rows.len(), 98);
    assert_eq!(got.curve.last().map(|place| (place.hits.value, place.false_share)), Some((1.0, 1.0)));
}
