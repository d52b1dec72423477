//! The result as one JSON document (`--json`).
//!
//! Layout `dooryard-run/1`; keys are only ever added under this name. A withheld figure is `null`.
//!
//! ```text
//! layout          "dooryard-run/1"
//! version         version of the tool
//! scenario        { name, about, sha256, first_day, last_day }
//! seed            seed in force, as a string (it may exceed 2^53)
//! first_season    number of the first season
//! seasons_asked   seasons asked for
//! seasons         seasons played
//! complete        whether all seasons asked for were played
//! confidence      confidence of the intervals, 0 to 1
//! all_limits_met  whether every limit of every strategy is met (true if there is none)
//! warnings        list of texts
//! cautions        list of texts
//! strategies      one object per strategy, in the scenario's order:
//!   name, about
//!   limits        [ { metric, unit, bound: "at_most" | "at_least", value, confidence, mean, confidence_bound,
//!                     verdict: "met" | "not met" | "undecided", more_seasons } ]
//!                 confidence_bound: the mean's one-sided bound that decides, upper for "at_most", lower for
//!                 "at_least"; the other one if the verdict is "not met"
//!   metrics       [ { metric, title, unit, seasons, mean, interval, spread, quantiles, min, max } ]
//!                 interval: { low, high, confidence, method } or null; quantiles: { q05, q50, q95 }
//!   false_openings, missed_arrivals
//!                 causes: [ { cause, seasons, mean, interval, spread, quantiles, min, max } ]
//!   waits         { arrivals, resolution_s, q50_s, q95_s, longest_s }: each quantile is the upper edge of its bin
//! ```

use serde::Serialize;

use super::context::Context;
use super::csv::bound_name;
use super::number::method_name;
use super::words;
use crate::ledger::metric;
use crate::study::result::{Estimate, LimitVerdict, RunResult, StrategyResult, Verdict};

/// The document, indented, ended by a line break.
pub fn document(result: &RunResult, context: &Context) -> serde_json::Result<String> {
    let calendar = &result.scenario.calendar;
    let document = Document {
        layout: "dooryard-run/1",
        version: context.version,
        scenario: ScenarioPart {
            name: &result.scenario.name,
            about: &result.scenario.about,
            sha256: &result.scenario_hash,
            first_day: calendar.first_day.to_string(),
            last_day: calendar.last_day.to_string(),
        },
        seed: result.seed.to_string(),
        first_season: result.first_season,
        seasons_asked: result.seasons_asked,
        seasons: result.seasons_played,
        complete: words::incomplete(result).is_none(),
        confidence: result.confidence,
        all_limits_met: words::all_met(result),
        warnings: &result.warnings,
        cautions: context.cautions,
        strategies: result.strategies.iter().map(strategy_part).collect(),
    };
    serde_json::to_string_pretty(&document).map(|text| text + "\n")
}

#[derive(Serialize)]
struct Document<'a> {
    layout: &'static str,
    version: &'a str,
    scenario: ScenarioPart<'a>,
    seed: String,
    first_season: u64,
    seasons_asked: u64,
    seasons: u64,
    complete: bool,
    confidence: f64,
    all_limits_met: bool,
    warnings: &'a [String],
    cautions: &'a [&'a str],
    strategies: Vec<StrategyPart<'a>>,
}

#[derive(Serialize)]
struct ScenarioPart<'a> {
    name: &'a str,
    about: &'a str,
    sha256: &'a str,
    first_day: String,
    last_day: String,
}

#[derive(Serialize)]
struct StrategyPart<'a> {
    name: &'a str,
    about: &'a str,
    limits: Vec<LimitPart<'a>>,
    metrics: Vec<MetricPart>,
    false_openings: Vec<CausePart<'a>>,
    missed_arrivals: Vec<CausePart<'a>>,
    waits: WaitsPart,
}

#[derive(Serialize)]
struct LimitPart<'a> {
    metric: &'a str,
    unit: &'static str,
    bound: &'static str,
    value: f64,
    confidence: f64,
    mean: f64,
    confidence_bound: Option<f64>,
    verdict: &'static str,
    more_seasons: Option<u64>,
}

#[derive(Serialize)]
struct MetricPart {
    metric: &'static str,
    title: &'static str,
    unit: &'static str,
    #[serde(flatten)]
    figures: Figures,
}

#[derive(Serialize)]
struct CausePart<'a> {
    cause: &'a str,
    #[serde(flatten)]
    figures: Figures,
}

#[derive(Serialize)]
struct Figures {
    seasons: u64,
    mean: f64,
    interval: Option<IntervalPart>,
    spread: Option<f64>,
    quantiles: Quantiles,
    min: f64,
    max: f64,
}

#[derive(Serialize)]
struct IntervalPart {
    low: f64,
    high: f64,
    confidence: f64,
    method: &'static str,
}

#[derive(Serialize)]
struct Quantiles {
    q05: Option<f64>,
    q50: Option<f64>,
    q95: Option<f64>,
}

#[derive(Serialize)]
struct WaitsPart {
    arrivals: u64,
    resolution_s: f64,
    q50_s: Option<f64>,
    q95_s: Option<f64>,
    longest_s: Option<f64>,
}

fn strategy_part(strategy: &StrategyResult) -> StrategyPart<'_> {
    let waits = &strategy.waits;
    StrategyPart {
        name: &strategy.name,
        about: &strategy.about,
        limits: strategy.limits.iter().map(limit_part).collect(),
        metrics: strategy.estimates.iter().map(metric_part).collect(),
        false_openings: strategy.false_causes.iter().map(cause_part).collect(),
        missed_arrivals: strategy.missed_causes.iter().map(cause_part).collect(),
        waits: WaitsPart {
            arrivals: waits.total(),
            resolution_s: f64::from(waits.bin_ms) / 1_000.0,
            q50_s: waits.quantile(0.5),
            q95_s: waits.quantile(0.95),
            longest_s: waits.quantile(1.0),
        },
    }
}

fn limit_part(judged: &LimitVerdict) -> LimitPart<'_> {
    LimitPart {
        metric: &judged.limit.metric,
        unit: metric::by_key(&judged.limit.metric).map_or("", |key| key.metric().unit),
        bound: bound_name(judged.limit.bound),
        value: judged.limit.value,
        confidence: judged.limit.confidence,
        mean: judged.mean,
        confidence_bound: judged.confidence_bound,
        verdict: words::verdict(judged.verdict),
        more_seasons: match judged.verdict {
            Verdict::Undecided { more_seasons } => more_seasons,
            Verdict::Met | Verdict::NotMet => None,
        },
    }
}

fn metric_part(estimate: &Estimate) -> MetricPart {
    let row = estimate.key.metric();
    MetricPart { metric: row.key, title: row.title, unit: row.unit, figures: figures(estimate) }
}

fn cause_part((cause, estimate): &(String, Estimate)) -> CausePart<'_> {
    CausePart { cause, figures: figures(estimate) }
}

fn figures(estimate: &Estimate) -> Figures {
    let [q05, q50, q95] = estimate.quantiles;
    Figures {
        seasons: estimate.seasons,
        mean: estimate.mean,
        interval: estimate.interval.map(|it| IntervalPart {
            low: it.low,
            high: it.high,
            confidence: it.confidence,
            method: method_name(it.method),
        }),
        spread: estimate.spread,
        quantiles: Quantiles { q05, q50, q95 },
        min: estimate.range.0,
        max: estimate.range.1,
    }
}
