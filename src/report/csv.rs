//! Results as CSV (RFC 4180): full precision, units in the column names, a withheld figure is an empty field.

use crate::ledger::blame::{BLAMED, ByCause};
use std::io;

use ::csv::{Terminator, Writer, WriterBuilder};
use jiff::ToSpan;
use jiff::civil::Date;

use super::context::Context;
use super::number::{exact, exact_or_empty, method_name, unit_in_name};
use super::words;
use crate::ledger::metric::{self, METRICS};
use crate::ledger::record::{CONDITIONS, EventRow};
use crate::math::time::Instant;
use crate::scenario::limits::Bound;
use crate::scenario::{Assumption, Origin};
use crate::study::result::{Estimate, Rate, RunResult, Verdict};

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

/// `causes.csv`: one row per strategy and cause of a false opening, a missed arrival or departure, or a contact.
pub fn causes(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["strategy", "metric", "cause"].iter().chain(&ESTIMATE_COLUMNS))?;
    for strategy in &result.strategies {
        for blamed in BLAMED {
            let key = blamed.key().metric().key;
            for (cause, estimate) in &strategy.causes[blamed] {
                let names = [strategy.name.clone(), key.to_string(), cause.clone()];
                out.write_record(names.into_iter().chain(estimate_fields(estimate)))?;
            }
        }
    }
    out.flush()
}

/// `worst.csv`: the worst seasons and days, one row each; a season as a whole has no date.
pub fn worst(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["strategy", "metric", "unit", "of", "rank", "season", "date", "value"])?;
    for strategy in &result.strategies {
        for one in &strategy.worst {
            let metric = one.key.metric();
            let day = one.day.map(|day| date(result.scenario.calendar.first_day, day).to_string());
            out.write_record([
                strategy.name.as_str(),
                metric.key,
                metric.unit,
                if day.is_some() { "day" } else { "season" },
                &one.rank.to_string(),
                &one.season.to_string(),
                &day.unwrap_or_default(),
                &exact(one.value),
            ])?;
        }
    }
    out.flush()
}

/// Name of a condition as part of a column's name: `dry_night`.
pub(super) fn condition_name(condition: &str) -> String {
    condition.replace(' ', "_")
}

/// Columns of a rate a day with its interval, for each condition.
fn rate_columns(prefix: &str) -> impl Iterator<Item = String> {
    let of = move |condition: &str| {
        let name = condition_name(condition);
        ["", "_low", "_high"].map(|end| format!("{prefix}_{name}{end}"))
    };
    CONDITIONS.into_iter().flat_map(of)
}

fn rate_fields(rates: [Option<Rate>; CONDITIONS.len()]) -> impl Iterator<Item = String> {
    rates.into_iter().flat_map(|rate| {
        let interval = rate.and_then(|(_, interval)| interval);
        [rate.map(|it| it.0), interval.map(|it| it.0), interval.map(|it| it.1)].map(exact_or_empty)
    })
}

/// `noise_openings.csv`: how often a day noise alone opened the door, by condition, counted and by the laws of the readings.
pub fn noise_openings(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    let columns = ["per_day", "expected_per_day"].into_iter().flat_map(rate_columns);
    let why = "not_worked_out".to_string();
    out.write_record(std::iter::once("strategy".to_string()).chain(columns).chain([why]))?;
    for strategy in &result.strategies {
        let openings = &strategy.noise_openings;
        let rates = [openings.per_day, openings.expected_per_day].into_iter().flat_map(rate_fields);
        let why = openings.not_worked_out.clone().unwrap_or_default();
        out.write_record(std::iter::once(strategy.name.clone()).chain(rates).chain([why]))?;
    }
    out.flush()
}

/// `detectors.csv`: what each detector of each strategy did: false runs a day by condition, how soon and how far off it
/// noticed the mower.
pub fn detectors(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    let mut head = ["strategy", "detector", "noticed", "unnoticed"].map(str::to_string).to_vec();
    head.extend(["false_per_day", "expected_false_per_day"].into_iter().flat_map(rate_columns));
    head.extend(["after_q50_s", "after_q95_s", "left_q50_m", "left_q05_m", "uptime"].map(str::to_string));
    out.write_record(&head)?;
    for strategy in &result.strategies {
        for detector in &strategy.detectors {
            let mut row = vec![strategy.name.clone(), detector.name.clone()];
            row.extend([detector.noticed, detector.unnoticed].map(|count| count.to_string()));
            row.extend([detector.false_per_day, detector.expected_false_per_day].into_iter().flat_map(rate_fields));
            let quantiles = [
                detector.after.quantile(0.5),
                detector.after.quantile(0.95),
                detector.left.quantile(0.5),
                detector.left.quantile(0.05),
            ];
            row.extend(quantiles.map(exact_or_empty));
            row.push(exact(detector.uptime));
            out.write_record(row)?;
        }
    }
    out.flush()
}

/// Where a value comes from, as files and pages say it.
pub(super) fn origin_name(origin: Origin) -> &'static str {
    match origin {
        Origin::Set => "set",
        Origin::Default => "default",
        Origin::Derived => "follows from others",
    }
}

/// `assumptions.csv`: every value of the scenario with where it comes from.
pub fn assumptions(all: &[Assumption], sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["key", "value", "origin", "meaning"])?;
    for one in all {
        out.write_record([one.key.as_str(), &one.value, origin_name(one.origin), one.about])?;
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
                more_seasons(judged.verdict).map(|more| more.to_string()).unwrap_or_default(),
            ])?;
        }
    }
    out.flush()
}

/// Further seasons that would decide.
pub(super) fn more_seasons(verdict: Verdict) -> Option<u64> {
    match verdict {
        Verdict::Undecided { more_seasons } => more_seasons,
        Verdict::Met | Verdict::NotMet => None,
    }
}

/// `risks.csv`: one row per strategy and limit on the share of bad seasons.
pub fn risks(result: &RunResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "strategy",
        "metric",
        "unit",
        "above",
        "share_at_most",
        "confidence",
        "bad",
        "seasons",
        "share_bound",
        "verdict",
        "more_seasons",
    ])?;
    for strategy in &result.strategies {
        for judged in &strategy.risks {
            out.write_record([
                strategy.name.clone(),
                judged.risk.metric.clone(),
                metric::by_key(&judged.risk.metric).map_or("", |key| key.metric().unit).to_string(),
                exact(judged.risk.above),
                exact(judged.risk.at_most),
                exact(judged.risk.confidence),
                judged.bad.to_string(),
                judged.seasons.to_string(),
                exact_or_empty(judged.bound),
                words::verdict(judged.verdict).to_string(),
                more_seasons(judged.verdict).map(|more| more.to_string()).unwrap_or_default(),
            ])?;
        }
    }
    out.flush()
}

/// `seasons.csv`: one row per strategy and season; one column per metric, then one per cause. A strategy that lacks a
/// cause has an empty field.
pub fn seasons(result: &RunResult, sink: Sink) -> io::Result<()> {
    let causes = ByCause::of(|blamed| union(result.strategies.iter().map(|strategy| &strategy.causes[blamed])));
    let mut header = vec!["strategy".to_string(), "season".to_string()];
    header.extend(METRICS.iter().map(|row| format!("{}{}", row.key, unit_in_name(row.unit))));
    for blamed in BLAMED {
        let metric = blamed.key().metric().key;
        header.extend(causes[blamed].iter().map(|cause| format!("{metric}_by_{cause}")));
    }
    let mut out = writer(sink);
    out.write_record(header)?;
    for strategy in &result.strategies {
        for season in strategy.records()? {
            let season = season?;
            let mut row = vec![strategy.name.clone(), season.season.to_string()];
            row.extend(season.values.iter().map(|&value| exact(value)));
            for blamed in BLAMED {
                row.extend(counts(&causes[blamed], &strategy.causes[blamed], &season.by_cause[blamed]));
            }
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
                let ([rain_mm, rain_min, open_min, wet_floor_min, wait_s], counts) = day.parts();
                let mut row = vec![strategy.name.clone(), season.season.to_string(), index.to_string()];
                row.push(date(result.scenario.calendar.first_day, index).to_string());
                row.extend([rain_mm, rain_min].map(exact));
                row.extend(counts.map(|count| count.to_string()));
                row.extend([open_min, wet_floor_min, wait_s].map(exact));
                out.write_record(row)?;
            }
        }
    }
    out.flush()
}

/// `events.csv`: one row per event, with local time in RFC 3339.
pub fn events(result: &RunResult, context: &Context, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(EVENT_COLUMNS)?;
    for strategy in &result.strategies {
        for season in strategy.diaries()? {
            let season = season?;
            event_rows(&mut out, &strategy.name, season.season, &season.events, context.time)?;
        }
    }
    out.flush()
}

/// Columns of `events.csv`.
pub const EVENT_COLUMNS: [&str; 6] = ["strategy", "season", "time", "who", "what", "detail"];

/// Rows of `events.csv`.
pub fn event_rows<W: io::Write>(
    out: &mut Writer<W>,
    strategy: &str,
    season: u64,
    events: &[EventRow],
    time: &dyn Fn(Instant) -> String,
) -> io::Result<()> {
    let number = season.to_string();
    for event in events {
        out.write_record([strategy, &number, &time(event.at), &event.who, &event.what, &event.detail])?;
    }
    Ok(())
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
