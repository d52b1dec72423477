//! What the figures rest on: seed, scenario, every value with its origin.

use maud::{Markup, html};

use super::super::document;
use super::super::table::{Cell, Table};
use crate::report::context::Context;
use crate::report::csv::origin_name;
use crate::scenario::{Assumption, Origin};
use crate::study::result::RunResult;

/// The section.
pub fn section(result: &RunResult, context: &Context) -> Markup {
    html! {
        p { "Seed " (result.seed) ". Scenario SHA-256: " code { (result.scenario_hash) } }
        (values(context.assumptions, "assumptions.csv"))
        (document::appendix("The scenario as a file", &html! { pre tabindex="0" { (context.resolved_scenario) } }))
    }
}

/// All values, which `file` holds, folded away by section, with a sentence on how many of them somebody chose.
pub fn values(all: &[Assumption], file: &str) -> Markup {
    let mut sections: Vec<&str> = Vec::new();
    for one in all {
        if !sections.contains(&one.section) {
            sections.push(one.section);
        }
    }
    let of = |origin: Origin| all.iter().filter(|one| one.origin == origin).count();
    html! {
        @if !all.is_empty() {
            p {
                (all.len()) " values are in force: " (of(Origin::Set)) " are set in the scenario, " (of(Origin::Default))
                " are defaults, " (of(Origin::Derived)) " follow from others."
            }
        }
        @for section in sections {
            @let title = if section.is_empty() { "The scenario itself" } else { section };
            // On paper without what each key means, which takes more room than all else: the page on the screen has it.
            div.values {
                (document::folded(title, &table(title, file, all.iter().filter(|one| one.section == section)).render()))
            }
        }
    }
}

fn table<'a>(title: &str, file: &str, values: impl Iterator<Item = &'a Assumption>) -> Table {
    let headings = ["key", "value", "set or default", "meaning"];
    let mut table = Table::new(format!("Values of {title}"), &headings).of(file, &["key"]).left(&[1, 2, 3]);
    for one in values {
        let origin = origin_name(one.origin);
        table.keyed(
            &[&one.key],
            vec![
                Cell::text(&one.key),
                Cell::text(&one.value).field("value", &one.value),
                Cell::text(origin).field("origin", origin),
                Cell::text(one.about),
            ],
        );
    }
    table
}
