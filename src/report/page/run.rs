//! The page of a run: the verdict first, then the few figures that matter, then everything.

use maud::{Markup, html};

use super::document::{self, Document, Section};
use super::figure::figures;
use super::table::{Cell, Table};
use super::verdict::{Tone, badge, verdict};
use crate::report::context::Context;
use crate::report::number;
use crate::report::plots::Figure;
use crate::report::{groups, words};
use crate::study::result::{Estimate, RunResult, StrategyResult, Verdict};

/// The whole page.
pub fn page(result: &RunResult, context: &Context, drawings: &[Figure]) -> String {
    let name = &result.scenario.name;
    let mut sections = vec![
        Section::new("verdict", "Verdict", answer(result)),
        Section::new("glance", "At a glance", glance(result)),
        Section::new("pictures", "Pictures", figures(drawings)),
    ];
    for (index, strategy) in result.strategies.iter().enumerate() {
        let heading = format!("Strategy {}", strategy.name);
        sections.push(Section::new(format!("strategy-{index}"), heading, self::strategy(strategy)));
    }
    sections.push(Section::new("assumptions", "Assumptions", assumptions(result, context)));
    if !context.cautions.is_empty() {
        sections.push(Section::new("cautions", "Keep in mind", document::list(context.cautions)));
    }
    let lead = html! {
        @if !result.scenario.about.is_empty() { p { (result.scenario.about) } }
        (document::note(&format!("{}. dooryard {}.", words::played(result), context.version)))
        @if let Some(marker) = words::incomplete(result) { p class="marker" { (marker) } }
        (document::warnings(&result.warnings))
    };
    let title = format!("{name}: season report");
    Document { title, heading: name.clone(), lead, sections, styles: &[], scripts: &[] }.render()
}

fn answer(result: &RunResult) -> Markup {
    html! {
        @for strategy in &result.strategies {
            @let tone = words::worst(strategy.limits.iter().map(|judged| judged.verdict));
            @let tone = if strategy.limits.is_empty() { Tone::Plain } else { tone_of(tone) };
            (verdict::<&str>(tone, &format!("{}: {}", strategy.name, words::overall(strategy)), &[]))
            @if !strategy.limits.is_empty() { (limits(strategy)) }
        }
    }
}

fn tone_of(worst: &str) -> Tone {
    match worst {
        "met" => Tone::Good,
        "undecided" => Tone::Open,
        _ => Tone::Bad,
    }
}

fn limits(strategy: &StrategyResult) -> Markup {
    let caption = format!("Limits of {}", strategy.name);
    let mut table = Table::new(caption, &["limit", "verdict", "what the seasons say"])
        .of("limits.csv", &["strategy", "metric", "bound"])
        .left(&[1, 2]);
    for judged in &strategy.limits {
        let more = words::would_decide(judged.verdict).map(|more| format!("; {more}")).unwrap_or_default();
        let word = match judged.verdict {
            Verdict::NotMet => "NOT MET",
            other => words::verdict(other),
        };
        table.keyed(
            &[&strategy.name, &judged.limit.metric, crate::report::csv::bound_name(judged.limit.bound)],
            vec![
                Cell::text(words::limit(&judged.limit)).field("value", number::exact(judged.limit.value)),
                Cell::markup(badge(judged.verdict.into(), word)).field("verdict", words::verdict(judged.verdict)),
                Cell::text(format!("{}{more}", words::evidence(judged)))
                    .field("mean", number::exact(judged.mean))
                    .field("confidence_bound", number::exact_or_empty(judged.confidence_bound)),
            ],
        );
    }
    table.render()
}

fn glance(result: &RunResult) -> Markup {
    let names = result.strategies.iter().map(|strategy| strategy.name.as_str());
    let headings: Vec<&str> = std::iter::once("mean per season").chain(names).collect();
    let mut table = Table::new("Key figures", &headings);
    for &key in groups::GLANCE {
        let cell = |strategy| groups::estimate(strategy, key).map_or(Cell::withheld(), |it| Cell::estimate(it, true));
        table.row(std::iter::once(Cell::text(words::heading(key))).chain(result.strategies.iter().map(cell)).collect());
    }
    html! { (table.render()) (document::note(&words::legend(result.confidence))) }
}

fn strategy(strategy: &StrategyResult) -> Markup {
    let all = html! {
        @for (title, keys) in groups::GROUPS {
            @let estimates = keys.iter().filter_map(|&key| groups::estimate(strategy, key));
            (estimates_table(title, "metrics.csv", &["strategy", "metric"], estimates.map(|estimate| {
                let key = vec![strategy.name.clone(), estimate.key.metric().key.to_string()];
                (key, words::heading(estimate.key), estimate)
            })))
        }
    };
    html! {
        @if !strategy.about.is_empty() { p { (strategy.about) } }
        p { "Waits at the door: " (words::waits(&strategy.waits)) "." }
        @for detector in &strategy.detectors { p { "Detector " (detector.name) ": " (words::detector(detector)) "." } }
        (causes(strategy, "False openings by cause", "false_openings", &strategy.false_causes))
        (causes(strategy, "Missed arrivals by cause", "missed_arrivals", &strategy.missed_causes))
        (document::folded("All figures", &all))
    }
}

fn causes(strategy: &StrategyResult, title: &str, metric: &str, causes: &[(String, Estimate)]) -> Markup {
    let rows = causes.iter().map(|(cause, estimate)| {
        (vec![strategy.name.clone(), metric.to_string(), cause.clone()], cause.clone(), estimate)
    });
    html! {
        @if !causes.is_empty() { (estimates_table(title, "causes.csv", &["strategy", "metric", "cause"], rows)) }
    }
}

/// Estimates with everything known about them, one per row: its key in the file, its name, the estimate.
fn estimates_table<'a>(
    title: &str,
    file: &str,
    keys: &[&str],
    rows: impl Iterator<Item = (Vec<String>, String, &'a Estimate)>,
) -> Markup {
    let headings = [title, "mean (low to high)", "method", "spread", "5 %", "median", "95 %", "least", "most"];
    let mut table = Table::new(title, &headings).of(file, keys).left(&[2]);
    for (key, name, estimate) in rows {
        let key: Vec<&str> = key.iter().map(String::as_str).collect();
        let three = |value| number::significant(value, 3);
        let [q05, q50, q95] = estimate.quantiles;
        let method = estimate.interval.map(|it| number::method_name(it.method));
        table.keyed(
            &key,
            vec![
                Cell::text(name),
                Cell::estimate(estimate, false),
                Cell::text(method.unwrap_or(number::WITHHELD)).field("method", method.unwrap_or_default()),
                Cell::optional("spread", estimate.spread, three),
                Cell::optional("q05", q05, three),
                Cell::optional("q50", q50, three),
                Cell::optional("q95", q95, three),
                Cell::number("min", estimate.range.0, three(estimate.range.0)),
                Cell::number("max", estimate.range.1, three(estimate.range.1)),
            ],
        );
    }
    table.render()
}

fn assumptions(result: &RunResult, context: &Context) -> Markup {
    let resolved = html! { pre { (context.resolved_scenario) } };
    html! {
        p { "Seed " (result.seed) ". Scenario SHA-256: " code { (result.scenario_hash) } }
        (document::folded("The scenario in full, defaults included", &resolved))
    }
}
