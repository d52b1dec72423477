//! The page of a calibration.

use maud::html;

use super::document::{self, Document, Section};
use super::figure::figures;
use super::study::{cautions, rests_on};
use super::table::Table;
use super::verdict::{Fact, facts, verdict};
use crate::report::calibrate::Report;
use crate::report::number::WITHHELD;

/// The whole page.
pub fn page(report: &Report, version: &str) -> String {
    let (first, more) = report.answer.split_first().map_or(("", &[][..]), |(first, more)| (first.as_str(), more));
    let few: Vec<Fact> = report
        .facts
        .iter()
        .map(|[name, value, note]| Fact {
            name: name.clone(),
            value: value.clone(),
            note: if note == WITHHELD { String::new() } else { note.clone() },
        })
        .collect();
    let answer = html! { (verdict(report.tone, first, more)) (facts(&few)) };
    let mut sections = vec![Section::new("answer", "Verdict", answer)];
    let mut tables = report.sections.iter().enumerate().map(|(index, (title, table, notes))| {
        let body = html! {
            (Table::of_text(title.clone(), table).in_order().render())
            @for note in notes { (document::paragraph(note)) }
        };
        Section::new(format!("table-{}", index + 1), title.clone(), body)
    });
    sections.extend(tables.next());
    sections.push(Section::new("drawings", "Drawings", figures(&report.drawings)));
    sections.extend(tables);
    if !report.parts.is_empty() {
        let body = html! {
            @for (name, text) in &report.parts {
                p { "In this folder as " code { (name) } ":" }
                pre tabindex="0" { (text) }
            }
        };
        sections.push(Section::new("part", "For the scenario", body));
    }
    if let Some(scenario) = &report.scenario {
        sections.push(Section::new("assumptions", "Assumptions", rests_on(0, scenario)));
    }
    sections.push(cautions());
    let log = report.opening.split(':').next().unwrap_or_default();
    let lead = html! {
        (document::note(&format!("{}. dooryard {version}.", report.opening)))
        (document::warnings(&report.warnings))
    };
    let heading = format!("Calibration from {log}");
    Document { title: heading.clone(), heading, lead, sections, styles: &[], scripts: &[] }.render()
}
