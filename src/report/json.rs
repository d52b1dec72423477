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
//! all_limits_met  whether every limit and risk of every strategy is met (true if there is none)
//! common_cause    { floor, beta }: share of arrivals that common causes hide, and the beta factor; they stand under the
//!                 metric missed_arrivals_floored
//! warnings        list of texts
//! cautions        list of texts
//! strategies      one object per strategy, in the scenario's order:
//!   name, about
//!   limits        [ { metric, unit, bound: "at_most" | "at_least", value, confidence, mean, confidence_bound,
//!                     verdict: "met" | "not met" | "undecided", more_seasons, untried } ]
//!                 confidence_bound: the mean's one-sided bound that decides, upper for "at_most", lower for
//!                 "at_least"; the other one if the verdict is "not met". untried: what the seasons did not try, if
//!                 that is why a limit "at_most" is not met; else null
//!   risks         [ { metric, unit, above, share_at_most, confidence, bad, seasons, share_bound, verdict, more_seasons,
//!                     untried } ]: seasons in which the metric lay above, with the upper bound of their share, 0 to 1; the
//!                 lower one if the verdict is "not met"
//!   metrics       [ { metric, title, unit, seasons, mean, interval, spread, quantiles, min, max } ]
//!                 interval: { low, high, confidence, method } or null; quantiles: { q05, q50, q95 }
//!   false_openings, missed_arrivals, missed_departures, contacts
//!                 causes: [ { cause, seasons, mean, interval, spread, quantiles, min, max } ]
//!   detectors     [ { detector, noticed, unnoticed, false_per_day, expected_false_per_day, after_q50_s, after_q95_s,
//!                     left_q50_m, left_q05_m, uptime } ]: approaches noticed and not; false_per_day, counted and by the law of
//!                     its readings: { rain, dry_daylight, dry_night }, each { mean, low, high } or null; seconds from the beginning of the drive to the door and metres left
//!                     to the waiting point when it noticed; share of the time with a working sensor
//!   noise_openings
//!                 { per_day, expected_per_day, not_worked_out }: openings by noise alone, counted and by the laws of the
//!                 readings: { rain, dry_daylight, dry_night }, each { mean, low, high } or null; why there are no laws, or null
//!   hours         [ { openings, false_openings, arrivals, missed_arrivals } ]: 24 local hours, sums over the seasons
//!   worst         [ { metric, unit, of: "season" | "day", rank, season, date, value } ]
//!   waits         { arrivals, resolution_s, q50_s, q95_s, longest_s }: each quantile is the upper edge of its bin
//! ```

use crate::ledger::blame::Blamed;
use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::context::Context;
use super::csv::{bound_name, condition_name, date};
use super::number::method_name;
use super::words;
use crate::ledger::metric;
use crate::ledger::record::CONDITIONS;
use crate::scenario::common_cause::CommonCause;
use crate::study::objective::RiskVerdict;
use crate::study::result::{DetectorResult, Estimate, HourUse, LimitVerdict, Rate, RunResult, StrategyResult, Worst};

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
        common_cause: CommonCausePart::from(&result.scenario.common_cause),
        warnings: &result.warnings,
        cautions: context.cautions,
        strategies: result.strategies.iter().map(|it| strategy_part(it, calendar.first_day)).collect(),
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
    common_cause: CommonCausePart,
    warnings: &'a [String],
    cautions: &'a [&'a str],
    strategies: Vec<StrategyPart<'a>>,
}

/// The causes that sensors share, as every document names them.
#[derive(Serialize)]
pub(super) struct CommonCausePart {
    floor: f64,
    beta: f64,
}

impl From<&CommonCause> for CommonCausePart {
    fn from(common: &CommonCause) -> CommonCausePart {
        CommonCausePart { floor: common.floor, beta: common.beta }
    }
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
    risks: Vec<RiskPart<'a>>,
    metrics: Vec<MetricPart>,
    false_openings: Vec<CausePart<'a>>,
    missed_arrivals: Vec<CausePart<'a>>,
    missed_departures: Vec<CausePart<'a>>,
    contacts: Vec<CausePart<'a>>,
    detectors: Vec<DetectorPart<'a>>,
    noise_openings: NoiseOpeningsPart,
    hours: Vec<HourPart>,
    worst: Vec<WorstPart>,
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
    untried: Option<String>,
}

#[derive(Serialize)]
struct RiskPart<'a> {
    metric: &'a str,
    unit: &'static str,
    above: f64,
    share_at_most: f64,
    confidence: f64,
    bad: u64,
    seasons: u64,
    share_bound: Option<f64>,
    verdict: &'static str,
    more_seasons: Option<u64>,
    untried: Option<String>,
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
struct DetectorPart<'a> {
    detector: &'a str,
    noticed: u64,
    unnoticed: u64,
    false_per_day: BTreeMap<String, Option<RatePart>>,
    expected_false_per_day: BTreeMap<String, Option<RatePart>>,
    after_q50_s: Option<f64>,
    after_q95_s: Option<f64>,
    left_q50_m: Option<f64>,
    left_q05_m: Option<f64>,
    uptime: f64,
}

#[derive(Serialize)]
struct NoiseOpeningsPart {
    per_day: BTreeMap<String, Option<RatePart>>,
    expected_per_day: BTreeMap<String, Option<RatePart>>,
    not_worked_out: Option<String>,
}

#[derive(Serialize)]
struct RatePart {
    mean: f64,
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Serialize)]
struct HourPart {
    openings: u64,
    false_openings: u64,
    arrivals: u64,
    missed_arrivals: u64,
}

#[derive(Serialize)]
struct WorstPart {
    metric: &'static str,
    unit: &'static str,
    of: &'static str,
    rank: usize,
    season: u64,
    date: Option<String>,
    value: f64,
}

#[derive(Serialize)]
struct WaitsPart {
    arrivals: u64,
    resolution_s: f64,
    q50_s: Option<f64>,
    q95_s: Option<f64>,
    longest_s: Option<f64>,
}

fn rates(rates: &[Option<Rate>]) -> BTreeMap<String, Option<RatePart>> {
    let rate = |rate: &Option<Rate>| {
        let (mean, interval) = (*rate)?;
        Some(RatePart { mean, low: interval.map(|it| it.0), high: interval.map(|it| it.1) })
    };
    CONDITIONS.iter().zip(rates).map(|(condition, of)| (condition_name(condition), rate(of))).collect()
}

fn detector_part(detector: &DetectorResult) -> DetectorPart<'_> {
    DetectorPart {
        detector: &detector.name,
        noticed: detector.noticed,
        unnoticed: detector.unnoticed,
        false_per_day: rates(&detector.false_per_day),
        expected_false_per_day: rates(&detector.expected_false_per_day),
        after_q50_s: detector.after.quantile(0.5),
        after_q95_s: detector.after.quantile(0.95),
        left_q50_m: detector.left.quantile(0.5),
        left_q05_m: detector.left.quantile(0.05),
        uptime: detector.uptime,
    }
}

fn hour_part(hour: &HourUse) -> HourPart {
    HourPart {
        openings: hour.openings,
        false_openings: hour.false_openings,
        arrivals: hour.arrivals,
        missed_arrivals: hour.missed,
    }
}

fn worst_part(one: &Worst, first_day: Date) -> WorstPart {
    let metric = one.key.metric();
    WorstPart {
        metric: metric.key,
        unit: metric.unit,
        of: if one.day.is_some() { "day" } else { "season" },
        rank: one.rank,
        season: one.season,
        date: one.day.map(|day| date(first_day, day).to_string()),
        value: one.value,
    }
}

fn strategy_part(strategy: &StrategyResult, first_day: Date) -> StrategyPart<'_> {
    let waits = &strategy.waits;
    StrategyPart {
        name: &strategy.name,
        about: &strategy.about,
        limits: strategy.limits.iter().map(limit_part).collect(),
        risks: strategy.risks.iter().map(risk_part).collect(),
        metrics: strategy.estimates.iter().map(metric_part).collect(),
        false_openings: strategy.causes[Blamed::FalseOpenings].iter().map(cause_part).collect(),
        missed_arrivals: strategy.causes[Blamed::MissedArrivals].iter().map(cause_part).collect(),
        missed_departures: strategy.causes[Blamed::MissedDepartures].iter().map(cause_part).collect(),
        contacts: strategy.causes[Blamed::Contacts].iter().map(cause_part).collect(),
        detectors: strategy.detectors.iter().map(detector_part).collect(),
        noise_openings: NoiseOpeningsPart {
            per_day: rates(&strategy.noise_openings.per_day),
            expected_per_day: rates(&strategy.noise_openings.expected_per_day),
            not_worked_out: strategy.noise_openings.not_worked_out.clone(),
        },
        hours: strategy.hours.iter().map(hour_part).collect(),
        worst: strategy.worst.iter().map(|one| worst_part(one, first_day)).collect(),
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
        more_seasons: super::csv::more_seasons(judged.verdict),
        untried: judged.untried.map(|why| why.to_string()),
    }
}

fn risk_part(judged: &RiskVerdict) -> RiskPart<'_> {
    RiskPart {
        metric: &judged.risk.metric,
        unit: metric::by_key(&judged.risk.metric).map_or("", |key| key.metric().unit),
        above: judged.risk.above,
        share_at_most: judged.risk.at_most,
        confidence: judged.risk.confidence,
        bad: judged.bad,
        seasons: judged.seasons,
        share_bound: judged.bound,
        verdict: words::verdict(judged.verdict),
        more_seasons: super::csv::more_seasons(judged.verdict),
        untried: judged.untried.map(|why| why.to_string()),
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
