//! Interval formulas against printed tables and general-purpose libraries.

mod common;

use common::{Row, Tally};
use dooryard::study::interval::{
    Interval, clopper_pearson, paired, poisson, replications_for_half_width, t_quantile, welch, wilson,
};

const LATER: [(&str, &str); 9] = [
    ("poisson_two_rate_pvalue", "comparison of two rates"),
    ("mcnemar_exact_pvalue", "comparison of paired detections"),
    ("crn_correlation", "belongs to the comparison of strategies"),
    ("crn_variance_ratio", "belongs to the comparison of strategies"),
    ("rinott_h", "selection of the best"),
    ("dudewicz_dalal_h", "selection of the best"),
    ("kn_eta", "selection of the best"),
    ("kn_h2", "selection of the best"),
    ("kn_pcs_lower_bound", "selection of the best"),
];

fn side(row: &Row, interval: Option<Interval>) -> f64 {
    let interval = interval.expect("there are trials");
    match row.text("side") {
        "lower" => interval.low,
        "upper" => interval.high,
        other => panic!("{}: side {other:?}", row.id),
    }
}

#[test]
fn intervals_catalogue() {
    let mut tally = Tally::default();
    for row in common::rows("catalogue/03_intervals_selection.csv") {
        let confidence = || row.number("conf");
        let a_and_b = || (row.list("a"), row.list("b"));
        let paired = || paired(&a_and_b().0, &a_and_b().1, confidence()).expect("pairs");
        let got = match row.quantity.as_str() {
            "wilson" => side(&row, wilson(row.number("x"), row.number("n"), confidence())),
            "clopper_pearson" => side(&row, clopper_pearson(row.whole("x"), row.whole("n"), confidence())),
            "poisson_exact" => side(&row, poisson(row.number("x"), row.number("exposure"), confidence())),
            // One-sided at c is the end of the two-sided interval at 2 c - 1.
            "zero_events_upper_one_sided" => {
                clopper_pearson(0, row.whole("n"), 2.0 * confidence() - 1.0).expect("there are trials").high
            }
            "t_quantile" => t_quantile(row.number("prob"), row.number("df")),
            "paired_mean_diff" => paired().mean,
            "paired_halfwidth" => paired().half_width,
            "paired_t" => paired().t,
            "paired_pvalue" => paired().p_value,
            "welch_halfwidth" => welch(&a_and_b().0, &a_and_b().1, confidence()).expect("two samples").half_width,
            "replications_for_halfwidth" => {
                let needed = replications_for_half_width(row.number("sd"), row.number("halfwidth"), confidence());
                needed.expect("a reachable half width") as f64
            }
            _ => {
                tally.skip(&row, &LATER);
                continue;
            }
        };
        tally.check(&row, got);
    }
    tally.finish(84);
}
