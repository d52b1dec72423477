//! A what-if study as CSV.

use std::io;

use crate::report::csv::{Sink, writer};
use crate::report::number::{exact, exact_or_empty};
use crate::study::what_if::WhatIf;

/// `harm.csv`: one row per failure and strategy, all together last; means per season with and without, and their difference.
pub(super) fn harm(result: &WhatIf, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "failure",
        "mode",
        "number",
        "strategy",
        "without",
        "with",
        "harm",
        "low",
        "high",
        "p",
        "suffers_least",
    ])?;
    for row in &result.rows {
        for (index, hurt) in row.hurt.iter().enumerate() {
            out.write_record([
                row.name.clone(),
                row.mode.map_or("", |mode| mode.name).to_string(),
                row.mode.map(|mode| mode.number.to_string()).unwrap_or_default(),
                result.strategies[index].clone(),
                exact(hurt.harm.means[1]),
                exact(hurt.harm.means[0]),
                exact(hurt.harm.difference),
                exact_or_empty(hurt.harm.interval.map(|interval| interval.low)),
                exact_or_empty(hurt.harm.interval.map(|interval| interval.high)),
                exact_or_empty(hurt.harm.p_value),
                (row.least == Some(index)).to_string(),
            ])?;
        }
    }
    out.flush()
}

/// `moved.csv`: one row per failure, strategy and metric that differed in some season.
pub(super) fn moved(result: &WhatIf, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "failure",
        "strategy",
        "metric",
        "unit",
        "without",
        "with",
        "difference",
        "low",
        "high",
        "p",
        "p_adjusted",
    ])?;
    for row in &result.rows {
        for (index, hurt) in row.hurt.iter().enumerate() {
            for one in &hurt.moved {
                let metric = one.paired.key.metric();
                out.write_record([
                    row.name.clone(),
                    result.strategies[index].clone(),
                    metric.key.to_string(),
                    metric.unit.to_string(),
                    exact(one.paired.means[1]),
                    exact(one.paired.means[0]),
                    exact(one.paired.difference),
                    exact_or_empty(one.paired.interval.map(|interval| interval.low)),
                    exact_or_empty(one.paired.interval.map(|interval| interval.high)),
                    exact_or_empty(one.paired.p_value),
                    exact(one.adjusted_p),
                ])?;
            }
        }
    }
    out.flush()
}
