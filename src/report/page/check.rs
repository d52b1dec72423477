//! The page of a check.

use maud::{Markup, html};

use super::document::{self, Document, Section};
use super::figure::figures;
use super::run::assumptions;
use super::study::cautions;
use super::table::Table;
use super::verdict::{Tone, badge, verdict};
use crate::report::check::{advice, answer, answered_by, headline, promise, questions, remedies, told, weather, word};
use crate::report::plots::Figure;
use crate::report::words::capital;
use crate::scenario::Assumption;
use crate::study::check::{CheckResult, Row, Verdict};

/// The whole page.
pub fn page(
    result: &CheckResult,
    drawings: &[Figure],
    values: &[Assumption],
    warnings: &[String],
    version: &str,
) -> String {
    let of = |wanted: Verdict| result.rows.iter().filter(move |row| row.verdict == wanted);
    let answer = html! {
        (verdict(tone(result.verdict()), &format!("{}.", capital(&answer(result))), &[weather(result)]))
        (explained("What fails", of(Verdict::Fails), result))
        (explained("What is tight", of(Verdict::Tight), result))
        @if let Some(words) = promise(result) {
            h3 { "What would mend it" }
            p { (words) }
            @if !result.changes.is_empty() {
                ul {
                    @for change in answered_by(result) { li { code { (change) } } }
                }
            }
        }
    };
    let mut sections = vec![
        Section::new("answer", "Answer", answer),
        Section::new(
            "questions",
            "All questions",
            Table::of_text("Questions and margins", &questions(result)).render(),
        ),
        Section::new("drawings", "Panel, forces, heat", figures(drawings)),
    ];
    if !result.choices.is_empty() {
        let all: Vec<String> = result.choices.iter().map(told).collect();
        sections.push(Section::new("choices", "Where to push the panel", document::list(&all)));
    }
    sections.push(Section::new("assumptions", "Assumptions", assumptions::values(values, "assumptions.csv")));
    sections.push(cautions());
    let title = format!("{}: can it be built?", result.name);
    let lead = html! {
        (document::note(&format!("Answered without playing a season. dooryard {version}.")))
        (document::warnings(warnings))
    };
    Document { title: title.clone(), heading: title, lead, sections, styles: &[], scripts: &[] }.render()
}

fn tone(verdict: Verdict) -> Tone {
    match verdict {
        Verdict::Fits => Tone::Good,
        Verdict::Tight => Tone::Open,
        Verdict::Fails => Tone::Bad,
    }
}

/// Rows with their reasons and the key to change.
fn explained<'r>(heading: &str, rows: impl Iterator<Item = &'r Row>, result: &CheckResult) -> Markup {
    let rows: Vec<&Row> = rows.collect();
    html! {
        @if !rows.is_empty() {
            h3 { (heading) }
            ul {
                @for row in rows {
                    li {
                        (badge(tone(row.verdict), word(row.verdict))) " " (headline(row))
                        @if !row.note.is_empty() { br; span class="quiet" { (row.note) } }
                        @if let Some(words) = advice(row) { br; span class="quiet" { (words) } }
                        @for (index, remedy) in remedies(row, result).iter().enumerate() {
                            @if index == 0 { br; "change: " } @else { ", " }
                            code { (remedy) }
                        }
                    }
                }
            }
        }
    }
}
