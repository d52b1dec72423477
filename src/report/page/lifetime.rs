//! The page of a lifetime study.

use maud::html;

use super::document::{self, Document, Section};
use super::figure::figures;
use super::run::assumptions;
use super::study::cautions;
use super::table::Table;
use super::verdict::{Tone, verdict};
use crate::report::lifetime::{answer, behind, notes, sections};
use crate::report::plots::Figure;
use crate::report::words::capital;
use crate::scenario::Assumption;
use crate::study::lifetime::LifetimeResult;

/// The whole page.
pub fn page(
    result: &LifetimeResult,
    drawings: &[Figure],
    values: &[Assumption],
    warnings: &[String],
    version: &str,
) -> String {
    // The headline is what counts; what else is to be said stands below it.
    let answer = answer(result);
    let (first, more) = answer.split_once(". ").unwrap_or((&answer, ""));
    let first = format!("{}.", first.trim_end_matches('.'));
    let more: Vec<&str> = Some(more).filter(|more| !more.is_empty()).into_iter().collect();
    let all = html! {
        @for (title, table, notes) in sections(result) {
            (Table::of_text(title, &table).in_order().render())
            @for note in &notes { (document::paragraph(note)) }
        }
        @for note in notes(result) { (document::note(&note)) }
    };
    let sections = vec![
        Section::new(
            "answer",
            "Answer",
            html! {
                (verdict(Tone::Plain, &first, &more)) (figures(drawings))
            },
        ),
        Section::new("figures", "Figures", all),
        Section::new("assumptions", "Assumptions", assumptions::values(values, "assumptions.csv")),
        cautions(),
    ];
    let title = format!("{}: how long the drive lasts", result.name);
    let lead = html! {
        (document::note(&format!("{}. dooryard {version}.", capital(&behind(result)))))
        (document::warnings(warnings))
    };
    Document { title: title.clone(), heading: title, lead, sections, styles: &[], scripts: &[] }.render()
}
