//! The page of a run: the verdict first, then the few figures that matter, then what went wrong and why, then everything
//! by topic, and at the end what all of it rests on.

pub mod assumptions;
mod estimates;
mod sensors;
mod wrong;

use maud::{Markup, html};

use super::document::{self, Document, Section};
use super::figure::figure;
use super::table::{Cell, Table};
use super::verdict::{Fact, Tone, badge, facts, verdict};
use crate::report::context::Context;
use crate::report::csv::bound_name;
use crate::report::number::{self, exact_or_empty};
use crate::report::plots::Figure;
use crate::report::{groups, words};
use crate::study::result::{RunResult, StrategyResult, Verdict};

/// The whole page.
pub fn page(result: &RunResult, context: &Context, drawings: &[Figure]) -> String {
    let name = &result.scenario.name;
    let drawn =
        |name: &str| html! { @if let Some(one) = drawings.iter().find(|one| one.name == name) { (figure(one)) } };
    let group = |title: &str| estimates::group(result, title);
    let rain = html! {
        (drawn("rain")) (group("Rain"))
        (document::note("Depths are what falls in the open; how much of it reaches the mower or the floor depends on \
                         wind and roof."))
    };
    let door = html! { (drawn("hours")) (waits(result)) (drawn("waits")) (group("Arrivals"))
    (document::note(&words::common_causes(&result.scenario.common_cause)))
    (group("Door")) };
    let drive = html! { (drawn("drive")) (group("Drive")) (drawn("winding")) (drawn("strokes")) };
    let mut sections = vec![
        Section::new("verdict", "Verdict", answer(result)),
        Section::new("key-figures", "The figures that matter", key_figures(result)),
        Section::new("wrong", "What went wrong, and why", wrong::section(result, context)),
        Section::new("calendar", "The season day by day", drawn("calendar")),
        Section::new("rain", "Exposure to rain", rain),
        Section::new("door", "Use of the door", door),
        Section::new("drive", "Drive: duty, heat and wear", drive),
    ];
    if drawings.iter().any(|one| one.name == "panel") {
        let mechanism = html! { (drawn("panel")) (drawn("forces")) };
        sections.push(Section::new("mechanism", "The door at its positions", mechanism));
    }
    sections.extend([
        Section::new("sensors", "Sensors and detectors", sensors::section(result)),
        Section::new("seasons", "From season to season", drawn("distribution")),
        Section::new("figures", "All figures", estimates::all(result)),
        Section::new("assumptions", "Assumptions", assumptions::section(result, context)),
    ]);
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
            @let answer = format!("{}: {}", strategy.name, words::overall(strategy));
            @let all = words::verdicts(&strategy.limits, &strategy.risks);
            (verdict(tone(strategy), &answer, &all.iter().map(sentence).collect::<Vec<_>>()))
        }
        @if result.strategies.iter().any(|strategy| !strategy.limits.is_empty()) {
            (document::folded("The limits as a table", &limits(result)))
        }
        @if result.strategies.iter().any(|strategy| !strategy.risks.is_empty()) {
            (document::folded("The limits on bad seasons as a table", &risks(result)))
        }
    }
}

fn tone(strategy: &StrategyResult) -> Tone {
    let worst = words::worst_verdict(strategy.decisions());
    worst.map_or(Tone::Plain, Tone::from)
}

/// One limit in a sentence: the verdict, what is limited, what the seasons say.
fn sentence((verdict, what, evidence): &(Verdict, String, String)) -> String {
    let more = words::would_decide(*verdict).map(|more| format!(" {}.", words::capital(&more)));
    format!("{} ({}): {evidence}.{}", words::capital(what), words::verdict(*verdict), more.unwrap_or_default())
}

fn risks(result: &RunResult) -> Markup {
    let headings = ["limit", "strategy", "verdict", "bad seasons", "bound of their share, %"];
    let mut table =
        Table::new("Limits on bad seasons", &headings).of("risks.csv", &["strategy", "metric", "above"]).left(&[1, 2]);
    for strategy in &result.strategies {
        for judged in &strategy.risks {
            let word = match judged.verdict {
                Verdict::NotMet => "NOT MET",
                other => words::verdict(other),
            };
            let percent = |share: f64| number::significant(100.0 * share, 3);
            table.keyed(
                &[&strategy.name, &judged.risk.metric, &number::chosen(judged.risk.above)],
                vec![
                    Cell::text(words::risk(&judged.risk)),
                    Cell::text(&strategy.name),
                    Cell::markup(badge(judged.verdict.into(), word)).field("verdict", words::verdict(judged.verdict)),
                    Cell::number("bad", judged.bad as f64, number::whole(judged.bad)),
                    Cell::optional("share_bound", judged.bound, percent),
                ],
            );
        }
    }
    table.render()
}

fn limits(result: &RunResult) -> Markup {
    let headings = ["limit", "strategy", "verdict", "allowed", "mean", "confidence bound"];
    let mut table =
        Table::new("Acceptance limits", &headings).of("limits.csv", &["strategy", "metric", "bound"]).left(&[1, 2]);
    for strategy in &result.strategies {
        for judged in &strategy.limits {
            let (limit, three) = (&judged.limit, |value| number::significant(value, 3));
            let word = match judged.verdict {
                Verdict::NotMet => "NOT MET",
                other => words::verdict(other),
            };
            table.keyed(
                &[&strategy.name, &limit.metric, bound_name(limit.bound)],
                vec![
                    Cell::text(words::limit(limit)),
                    Cell::text(&strategy.name),
                    Cell::markup(badge(judged.verdict.into(), word)).field("verdict", words::verdict(judged.verdict)),
                    Cell::number("value", limit.value, number::chosen(limit.value)),
                    Cell::number("mean", judged.mean, three(judged.mean)),
                    Cell::optional("confidence_bound", judged.confidence_bound, three),
                ],
            );
        }
    }
    table.render()
}

/// The few figures that matter: of a single strategy as facts, of several as a table.
fn key_figures(result: &RunResult) -> Markup {
    let caption = format!(
        "Means per season over {}, with their {} intervals",
        number::counted(result.seasons_played, "season"),
        number::percent(result.confidence)
    );
    html! {
        @if let [only] = result.strategies.as_slice() {
            (facts(&groups::GLANCE.iter().take(8).filter_map(|&key| {
                let estimate = groups::estimate(only, key)?;
                let interval = number::interval(estimate);
                let note = if interval == number::WITHHELD { String::new() } else { interval };
                Some(Fact { name: words::heading(key), value: number::mean(estimate), note })
            }).collect::<Vec<_>>()))
        }
        (estimates::side_by_side(result, &caption, groups::GLANCE))
        (document::note(&words::legend(result.confidence)))
    }
}

fn waits(result: &RunResult) -> Markup {
    html! { @for strategy in &result.strategies { p { strong { (strategy.name) } ": " (words::waits(&strategy.waits)) "." } } }
}

/// An exact figure as the field of a cell.
fn field(cell: Cell, column: &str, value: Option<f64>) -> Cell {
    cell.field(column, exact_or_empty(value))
}

/// A whole number as a cell of a file's column.
fn count(column: &str, value: u64) -> Cell {
    Cell::number(column, value as f64, number::whole(value))
}
