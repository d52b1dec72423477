//! Every value that a scenario holds, with its unit and whether somebody set it or its default holds.
//!
//! The values are those of the printed scenario; where they come from is looked up in what was read.

use std::collections::BTreeMap;

use super::Scenario;
use super::failure::Failure;
use super::keys::{Form, Section, section};
use super::print::{self, Line};
use super::read::Fields;

/// Where a value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// It stands in the scenario or a part of it.
    Set,
    /// Nothing is said: the key's default holds.
    Default,
    /// It follows from other values, such as a sensor's period from its rate.
    Derived,
}

/// One value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assumption {
    /// Path of the section, such as `mower.approach`; of a list, the same for all entries. Empty at the top.
    pub section: &'static str,
    /// Path of the key with the names of entries, such as `sensor[near].noise`.
    pub key: String,
    /// The value with its unit.
    pub value: String,
    /// Where it comes from.
    pub origin: Origin,
    /// What the key means, in one sentence.
    pub about: &'static str,
}

/// All values of a scenario that was read into `root`, in the order in which it is printed.
pub(crate) fn list(scenario: &Scenario, root: &Fields) -> Vec<Assumption> {
    let mut all = Vec::new();
    let mut at = section("");
    // Entries begun so far of each list.
    let mut begun: BTreeMap<&'static str, usize> = BTreeMap::new();
    for line in print::lines(scenario) {
        match line {
            Line::Open(path) => {
                at = section(path);
                begun.retain(|list, _| !list.strip_prefix(path).is_some_and(|rest| rest.starts_with('.')));
                if at.is_some_and(|section| section.form == Form::List) {
                    *begun.entry(path).or_default() += 1;
                }
            }
            Line::Value(key, value) => {
                let Some(section) = at else { continue };
                let fields = find(root, section, &begun);
                all.push(Assumption {
                    section: section.path,
                    origin: origin(root, fields, &key),
                    about: section.key(&key).map_or("", |key| key.about),
                    value: shown(&value),
                    key: fields.map_or_else(|| format!("{}.{key}", section.path), |fields| fields.key(&key)),
                });
            }
        }
    }
    all
}

/// Values of failures that a study adds to a scenario as they usually are: nobody set them.
pub fn usual_failures(scenario: &Scenario, failures: &[Failure]) -> Vec<Assumption> {
    let value = |failure: &Failure, line: Line| match line {
        Line::Open(_) => None,
        Line::Value(key, value) => Some(Assumption {
            section: "failure",
            about: section("failure").and_then(|section| section.key(&key)).map_or("", |key| key.about),
            key: format!("failure[{}].{key}", failure.name),
            value: shown(&value),
            origin: Origin::Default,
        }),
    };
    let values = |failure: &Failure| {
        print::failure_lines(failure, scenario).into_iter().filter_map(|line| value(failure, line)).collect::<Vec<_>>()
    };
    failures.iter().flat_map(values).collect()
}

/// What was read for the entry of `section` that is being printed.
fn find<'f>(root: &'f Fields, at: &Section, begun: &BTreeMap<&'static str, usize>) -> Option<&'f Fields> {
    let ends = at.path.match_indices('.').map(|(index, _)| index).chain([at.path.len()]);
    ends.filter(|end| *end > 0).try_fold(root, |fields, end| {
        let step = section(&at.path[..end])?;
        match step.form {
            Form::Table => fields.child(step.name()),
            Form::List => fields.entries(step.name()).get(begun.get(step.path)?.checked_sub(1)?),
        }
    })
}

fn origin(root: &Fields, fields: Option<&Fields>, key: &str) -> Origin {
    let of = |fields: &Fields| {
        if fields.given(key) { Some(Origin::Set) } else { fields.has(key).then_some(Origin::Default) }
    };
    // A strategy's own timings default to those of the controller.
    let general = fields.filter(|fields| fields.section.path == "strategy.controller").and(root.child("controller"));
    fields.and_then(of).or_else(|| general.and_then(of)).unwrap_or(Origin::Derived)
}

/// A TOML value for people: without quotes.
fn shown(value: &str) -> String {
    let parsed: Option<toml::Table> = format!("value = {value}").parse().ok();
    match parsed.as_ref().and_then(|table| table.get("value")) {
        Some(toml::Value::String(text)) => text.clone(),
        Some(toml::Value::Table(entries)) => {
            let entry = |(name, value): (&String, &toml::Value)| format!("{name} {}", shown(&value.to_string()));
            entries.iter().map(entry).collect::<Vec<_>>().join(", ")
        }
        Some(toml::Value::Array(items)) => {
            items.iter().map(|item| shown(&item.to_string())).collect::<Vec<_>>().join(", ")
        }
        _ => value.to_owned(),
    }
}
