//! What the pages of studies have in common: title, what was played, what all rests on, cautions.

use maud::{Markup, html};

use super::document::{self, Document, Section};
use super::run::assumptions;
use super::table::{Cell, Table};
use super::verdict::{Tone, badge};
use crate::report::study_file::{Played, Study, assumptions_file};
use crate::report::words;
use crate::shelter::cautions::CAUTIONS;
use crate::study::result::Verdict;

/// The page of a study: `opening` says what was played, `sections` hold the answer first.
pub fn page(study: &Study, opening: &str, warnings: &[String], mut sections: Vec<Section>) -> String {
    let names: Vec<&str> = study.scenarios.iter().map(|scenario| scenario.name.as_str()).collect();
    let names = names.join(", ");
    sections.push(Section::new("assumptions", "Assumptions", settings(study)));
    sections.push(cautions());
    let lead = html! { (document::note(opening)) (document::warnings(warnings)) };
    let title = format!("{names}: {}", study.command);
    Document { title: title.clone(), heading: title, lead, sections, styles: &[], scripts: &[] }.render()
}

/// The cautions as the last section.
pub fn cautions() -> Section {
    Section::new("cautions", "Keep in mind", document::list(CAUTIONS))
}

fn settings(study: &Study) -> Markup {
    let mut table = Table::new("Settings of the study", &["setting", "value"]).left(&[1]);
    table.row(vec![Cell::text("seed"), Cell::text(study.seed.to_string())]);
    for (name, value) in &study.settings {
        table.row(vec![Cell::text(name), Cell::text(setting(value))]);
    }
    html! {
        (table.render())
        @if study.settings.iter().any(|(name, _)| name == "over") {
            p { "What the study varies stands above with its range; below it has the value of the scenario as it is." }
        }
        @for (index, scenario) in study.scenarios.iter().enumerate() { (rests_on(index, scenario)) }
    }
}

/// All values of the scenario at `index` of a study.
pub fn rests_on(index: usize, scenario: &Played) -> Markup {
    html! {
        h3 { "Scenario " (scenario.name) }
        p { "SHA-256: " code { (scenario.sha256) } }
        (assumptions::values(&scenario.assumptions, &assumptions_file(index)))
        (document::appendix(
            &format!("{} as a file", scenario.name),
            &html! { pre tabindex="0" { (scenario.resolved) } }
        ))
    }
}

/// A setting for people: texts without quotes, lists without brackets.
fn setting(value: &toml::Value) -> String {
    match value {
        toml::Value::String(text) => text.clone(),
        toml::Value::Array(items) if items.is_empty() => "none".to_string(),
        toml::Value::Array(items) => items.iter().map(setting).collect::<Vec<_>>().join(", "),
        other => other.to_string(),
    }
}

/// Verdicts of limits and risks: verdict, what is limited, what the seasons say.
pub fn verdicts(caption: &str, all: &[(Verdict, String, String)]) -> Markup {
    let mut table = Table::new(caption, &["limit", "verdict", "what the seasons say"]).left(&[1, 2]);
    for (verdict, what, why) in all {
        let mark = badge(Tone::from(*verdict), words::verdict(*verdict));
        table.row(vec![Cell::text(what), Cell::markup(mark), Cell::text(why)]);
    }
    html! { @if !table.is_empty() { (table.render()) } }
}
