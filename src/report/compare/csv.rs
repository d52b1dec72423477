//! A comparison as CSV.

use std::io;

use super::Told;
use crate::ledger::metric::METRICS;
use crate::report::csv::{ESTIMATE_COLUMNS, Sink, estimate_fields, writer};
use crate::report::number::{exact, exact_or_empty, method_name, unit_in_name};
use crate::report::words;
use crate::study::compare::{Comparison, Difference};

/// `differences.csv`: one row per contender (but the reference) and metric, the objective last.
pub(super) fn differences(comparison: &Comparison, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "contender",
        "minus",
        "metric",
        "unit",
        "seasons",
        "difference",
        "low",
        "high",
        "method",
        "p",
        "p_adjusted",
        "correlation",
        "variance_ratio",
    ])?;
    let reference = &comparison.standings[comparison.reference].name;
    for standing in &comparison.standings {
        let metric = |one: &Difference| (one.paired.key.metric().key, one.paired.key.metric().unit);
        let rows = standing.differences.iter().map(|one| (metric(one), one));
        for ((metric, unit), one) in rows.chain(standing.cost_difference.iter().map(|one| (("objective", ""), one))) {
            let paired = &one.paired;
            out.write_record([
                standing.name.clone(),
                reference.clone(),
                metric.to_string(),
                unit.to_string(),
                paired.seasons.to_string(),
                exact(paired.difference),
                exact_or_empty(paired.interval.map(|interval| interval.low)),
                exact_or_empty(paired.interval.map(|interval| interval.high)),
                paired.interval.map_or("", |interval| method_name(interval.method)).to_string(),
                exact_or_empty(paired.p_value),
                exact_or_empty(one.adjusted_p),
                exact_or_empty(paired.correlation),
                exact_or_empty(paired.variance_ratio),
            ])?;
        }
    }
    out.flush()
}

/// `metrics.csv`: one row per contender and metric.
pub(super) fn metrics(comparison: &Comparison, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["contender", "metric", "unit"].iter().chain(&ESTIMATE_COLUMNS))?;
    for standing in &comparison.standings {
        for estimate in &standing.estimates {
            let row = estimate.key.metric();
            let names = [standing.name.clone(), row.key.to_string(), row.unit.to_string()];
            out.write_record(names.into_iter().chain(estimate_fields(estimate)))?;
        }
    }
    out.flush()
}

/// `ranking.csv`: one row per contender, the best first.
pub(super) fn ranking(comparison: &Comparison, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["place", "contender", "limits", "cost", "cost_low", "cost_high", "left_selection_after"])?;
    for (place, index) in comparison.ranking.iter().enumerate() {
        let standing = &comparison.standings[*index];
        let interval = standing.cost.and_then(|cost| cost.interval);
        let left = comparison.selection.as_ref().and_then(|(among, selection)| {
            let at = among.iter().position(|other| other == index)?;
            selection.eliminated_after[at]
        });
        let verdicts =
            standing.limits.iter().map(|one| one.verdict).chain(standing.risks.iter().map(|one| one.verdict));
        out.write_record([
            (place + 1).to_string(),
            standing.name.clone(),
            words::worst(verdicts).to_string(),
            exact_or_empty(standing.cost.map(|cost| cost.mean)),
            exact_or_empty(interval.map(|interval| interval.low)),
            exact_or_empty(interval.map(|interval| interval.high)),
            left.map(|seasons| seasons.to_string()).unwrap_or_default(),
        ])?;
    }
    out.flush()
}

/// `seasons.csv`: one row per contender and season, with all metrics and the cost.
pub(super) fn seasons(comparison: &Comparison, told: &Told, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    let mut head = vec!["contender".to_string(), "season".to_string()];
    head.extend(METRICS.iter().map(|metric| format!("{}{}", metric.key, unit_in_name(metric.unit))));
    head.extend(told.aim.map(|_| "cost".to_string()));
    out.write_record(&head)?;
    for standing in &comparison.standings {
        for record in &standing.seasons {
            let mut row = vec![standing.name.clone(), record.season.to_string()];
            row.extend(record.values.iter().map(|value| exact(*value)));
            row.extend(told.aim.map(|aim| exact(aim.cost(record))));
            out.write_record(&row)?;
        }
    }
    out.flush()
}
