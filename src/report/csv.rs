//! Results as CSV (RFC 4180): full precision, units in the column names, a withheld figure is an empty field.

use std::io;

use ::csv::{Terminator, Writer, WriterBuilder};
use jiff::ToSpan;
use jiff::civil::Date;

use super::context::Context;
use super::number::{exact, exact_or_empty, method_name, unit_in_name};
use super::words;
use crate::ledger::metric::{self, METRICS};
use crate::scenario::limits::Bound;
use crate::study::result::{Estimate, RunResult, Verdict};

/// Where a table is written to.
pub type Sink<'a> = &'a mut dyn io::Write;

/// A writer with line feeds only, the same on every system.
pub fn writer<W: io::Write>(sink: W) -> Writer<W> {
    WriterBuilder::new().terminator(Terminator::Any(b'\n')).from_writer(sink)
}

/// `metrics.csv`: one row per strategy and metric.
pub fn metrics(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["strategy", "metric", "unit"].iter().chain(&ESTIMATE_COLUMNS))?;
    for strategy in &result.strategies {
        for estimate in &strategy.estimates {
            let row = estimate.key.metric();
            let names = [strategy.name.clone(), row.key.to_string(), row.unit.to_string()];
            out.write_record(names.into_iter().chain(estimate_fields(estimate)))?;
        }
    }
    out.flush()
}

/// `causes.csv`: one row per strategy and cause of a false opening or a missed arrival.
pub fn causes(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["strategy", "metric", "cause"].iter().chain(&ESTIMATE_COLUMNS))?;
    for strategy in &result.strategies {
        for (key, causes) in [("false_openings", &strategy.false_causes), ("missed_arrivals", &strategy.missed_causes)]
        {
            for (cause, estimate) in causes {
                let names = [strategy.name.clone(), key.to_string(), cause.clone()];
                out.write_record(names.into_iter().chain(estimate_fields(estimate)))?;
            }
        }
    }
    out.flush()
}

/// `limits.csv`: one row per strategy and acceptance limit.
pub fn limits(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "strategy",
        "metric",
        "unit",
        "bound",
        "value",
        "confidence",
        "mean",
        "confidence_bound",
        "verdict",
        "more_seasons",
    ])?;
    for strategy in &result.strategies {
        for judged in &strategy.limits {
            let more = match judged.verdict {
                Verdict::Undecided { more_seasons } => more_seasons.map(|more| more.to_string()).unwrap_or_default(),
                Verdict::Met | Verdict::NotMet => String::new(),
            };
            out.write_record([
                strategy.name.clone(),
                judged.limit.metric.clone(),
                metric::by_key(&judged.limit.metric).map_or("", |key| key.metric().unit).to_string(),
                bound_name(judged.limit.bound).to_string(),
                exact(judged.limit.value),
                exact(judged.limit.confidence),
                exact(judged.mean),
                exact_or_empty(judged.confidence_bound),
                words::verdict(judged.verdict).to_string(),
                more,
            ])?;
        }
    }
    out.flush()
}

/// `seasons.csv`: one row per strategy and season; one column per metric, then one per cause. A strategy that lacks a
/// cause has an empty field.
pub fn seasons(result: &RunResult, sink: Sink) -> io::Result<()> {
    let false_causes = union(result.strategies.iter().map(|strategy| &strategy.false_causes));
    let missed_causes = union(result.strategies.iter().map(|strategy| &strategy.missed_causes));
    let mut header = vec!["strategy".to_string(), "season".to_string()];
    header.extend(METRICS.iter().map(|row| format!("{}{}", row.key, unit_in_name(row.unit))));
    header.extend(false_causes.iter().map(|cause| format!("false_openings_by_{cause}")));
    header.extend(missed_causes.iter().map(|cause| format!("missed_arrivals_by_{cause}")));
    let mut out = writer(sink);
    out.write_record(header)?;
    for strategy in &result.strategies {
        for season in strategy.records()? {
            let season = season?;
            let mut row = vec![strategy.name.clone(), season.season.to_string()];
            row.extend(season.values.iter().map(|&value| exact(value)));
            row.extend(counts(&false_causes, &strategy.false_causes, &season.false_by_cause));
            row.extend(counts(&missed_causes, &strategy.missed_causes, &season.missed_by_cause));
            out.write_record(row)?;
        }
    }
    out.flush()
}

/// `days.csv`: one row per strategy, season and local day.
pub fn days(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "strategy",
        "season",
        "day",
        "date",
        "rain_mm",
        "rain_min",
        "sorties",
        "arrivals",
        "missed_arrivals",
        "late_openings",
        "false_openings",
        "door_cycles",
        "contacts",
        "strandings",
        "open_min",
        "wet_floor_min",
        "wait_s",
    ])?;
    for strategy in &result.strategies {
        for season in strategy.diaries()? {
            let season = season?;
            for (index, day) in season.days.iter().enumerate() {
                let counts = [
                    day.sorties,
                    day.arrivals,
                    day.missed,
                    day.late,
                    day.false_openings,
                    day.cycles,
                    day.contacts,
                    day.strandings,
                ];
                let mut row = vec![strategy.name.clone(), season.season.to_string(), index.to_string()];
                row.push(date(result.scenario.calendar.first_day, index).to_string());
                row.extend([day.rain_mm, day.rain_min].map(exact));
                row.extend(counts.map(|count| count.to_string()));
                row.extend([day.open_min, day.wet_floor_min, day.wait_s].map(exact));
                out.write_record(row)?;
            }
        }
    }
    out.flush()
}

/// `events.csv`: one row per event, with local time in RFC 3339.
pub fn events(result: &RunResult, context: &Context, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["strategy", "season", "time", "who", "what", "detail"])?;
    for strategy in &result.strategies {
        for season in strategy.diaries()? {
            let season = season?;
            let number = season.season.to_string();
            for event in &season.events {
                let time = (context.time)(event.at);
                out.write_record([&strategy.name, &number, &time, &event.who, &event.what, &event.detail])?;
            }
        }
    }
    out.flush()
}

/// The date `index` days after `first`.
pub fn date(first: Date, index: usize) -> Date {
    first.saturating_add((index as i64).days())
}

/// Name of a limit's side in files.
pub fn bound_name(bound: Bound) -> &'static str {
    match bound {
        Bound::AtMost => "at_most",
        Bound::AtLeast => "at_least",
    }
}

pub(super) const ESTIMATE_COLUMNS: [&str; 12] =
    ["seasons", "mean", "low", "high", "confidence", "method", "spread", "q05", "q50", "q95", "min", "max"];

pub(super) fn estimate_fields(estimate: &Estimate) -> [String; 12] {
    let interval = estimate.interval;
    [
        estimate.seasons.to_string(),
        exact(estimate.mean),
        exact_or_empty(interval.map(|it| it.low)),
        exact_or_empty(interval.map(|it| it.high)),
        exact_or_empty(interval.map(|it| it.confidence)),
        interval.map_or("", |it| method_name(it.method)).to_string(),
        exact_or_empty(estimate.spread),
        exact_or_empty(estimate.quantiles[0]),
        exact_or_empty(estimate.quantiles[1]),
        exact_or_empty(estimate.quantiles[2]),
        exact(estimate.range.0),
        exact(estimate.range.1),
    ]
}

/// All cause names, in order of first appearance.
fn union<'a>(lists: impl Iterator<Item = &'a Vec<(String, Estimate)>>) -> Vec<&'a str> {
    let mut names = Vec::new();
    for (name, _) in lists.flatten() {
        if !names.contains(&name.as_str()) {
            names.push(name.as_str());
        }
    }
    names
}

/// A season's counts in the order of `columns`.
fn counts(columns: &[&str], causes: &[(String, Estimate)], counts: &[u64]) -> Vec<String> {
    let count = |column: &&str| {
        let index = causes.iter().position(|(name, _)| name == column)?;
        counts.get(index).map(u64::to_string)
    };
    columns.iter().map(|column| count(column).unwrap_or_default()).collect()
}
