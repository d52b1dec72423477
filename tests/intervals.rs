//! Interval formulas against printed tables and general-purpose libraries.

mod common;

use common::{Row, Tally};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::study::exact::{mcnemar, two_rates};
use dooryard::study::interval::{
    Interval, clopper_pearson, paired, poisson, replications_for_half_width, t_quantile, welch, wilson,
};
use dooryard::study::paired::{PairedDifference, difference};
use dooryard::study::selection::{dudewicz_dalal_h, kim_nelson_eta, kim_nelson_h2, rinott_h};

const ELSEWHERE: [(&str, &str); 1] = [("kn_pcs_lower_bound", "simulated in tests/selection.rs")];

fn side(row: &Row, interval: Option<Interval>) -> f64 {
    let interval = interval.expect("there are trials");
    match row.text("side") {
        "lower" => interval.low,
        "upper" => interval.high,
        other => panic!("{}: side {other:?}", row.id),
    }
}

fn systems(row: &Row) -> usize {
    row.whole("systems") as usize
}

/// The row's two samples as an amount of two designs on the same seasons.
fn same_seasons(row: &Row) -> PairedDifference {
    let records = |values: Vec<f64>| -> Vec<SeasonRecord> {
        let record = |(season, value): (usize, &f64)| {
            let mut record = SeasonRecord::empty(season as u64, 0);
            record.values[Key::OpenTime as usize] = *value;
            record
        };
        values.iter().enumerate().map(record).collect()
    };
    difference(&records(row.list("a")), &records(row.list("b")), Key::OpenTime, row.number("conf"))
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
            "crn_correlation" => same_seasons(&row).correlation.expect("both vary"),
            "crn_variance_ratio" => same_seasons(&row).variance_ratio.expect("both vary"),
            "poisson_two_rate_pvalue" => {
                two_rates([row.whole("x1"), row.whole("x2")], [row.number("exposure1"), row.number("exposure2")])
            }
            "mcnemar_exact_pvalue" => mcnemar(row.whole("only_a"), row.whole("only_b")),
            "rinott_h" => rinott_h(systems(&row), row.number("pstar"), row.whole("n0") as usize).expect("in range"),
            "dudewicz_dalal_h" => {
                dudewicz_dalal_h(systems(&row), row.number("pstar"), row.whole("n0") as usize).expect("in range")
            }
            "kn_eta" => kim_nelson_eta(systems(&row), row.number("alpha"), row.whole("n0") as usize),
            "kn_h2" => kim_nelson_h2(systems(&row), row.number("alpha"), row.whole("n0") as usize),
            _ => {
                tally.skip(&row, &ELSEWHERE);
                continue;
            }
        };
        tally.check(&row, got);
    }
    tally.finish(115);
}
