//! The one table of everything a scenario file may contain. Reading, range checks, unknown keys, the JSON Schema, the
//! reference text and the printed scenario all come from it, so that they cannot disagree.

mod common_cause;
mod controller;
mod door;
mod failure;
mod kind;
mod limit;
mod mower;
mod objective;
mod sensor;
mod site;
mod strategy;
mod visitor;
mod weather;

pub(crate) use kind::quoted;
pub use kind::{Kind, Per, Range, reading_measure};
pub use sensor::{ANALOGUE, RANGERS, SENSOR_KINDS};
pub use strategy::STATUS_CODES;
pub use weather::{GAPS, LABELS, LAYOUTS, WITHIN_HOUR, YEARS};

/// Whether a section is one table or a list of tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// `[section]`.
    Table,
    /// `[[section]]`.
    List,
}

/// Whether a section must be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// It must (a list: at least one entry).
    Required,
    /// Without it, its keys' defaults hold (a list: no entries).
    Optional,
    /// Without it, nothing is overridden: its keys have no defaults of their own.
    Override,
}

/// One section of the file.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    /// Dotted path; "" is the top of the file.
    pub path: &'static str,
    /// Table or list.
    pub form: Form,
    /// Whether it must be there.
    pub need: Need,
    /// The key whose value decides which others apply; "" if all always do.
    pub switch: &'static str,
    /// What it is, in one sentence.
    pub about: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
}

/// What holds when a key is not given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Default {
    /// It must be given.
    Required,
    /// This TOML value.
    Value(&'static str),
    /// Nothing, or what the words say.
    Absent(&'static str),
}

/// One key.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// Its name.
    pub name: &'static str,
    /// What its value must be.
    pub kind: Kind,
    /// What holds without it.
    pub default: Default,
    /// Values of the section's switch for which the key exists; empty for all.
    pub only: &'static [&'static str],
    /// Keys that stand in for a required one if all of them are given; empty for none.
    pub instead: &'static [&'static str],
    /// What it is, in one sentence.
    pub about: &'static str,
}

impl Key {
    /// A key that must be given.
    const fn new(name: &'static str, kind: Kind, about: &'static str) -> Key {
        Key { name, kind, default: Default::Required, only: &[], instead: &[], about }
    }

    /// With a default, written as TOML.
    const fn default(mut self, value: &'static str) -> Key {
        self.default = Default::Value(value);
        self
    }

    /// May be left out; `words` say what then holds.
    const fn absent(mut self, words: &'static str) -> Key {
        self.default = Default::Absent(words);
        self
    }

    /// Only for these values of the section's switch.
    const fn only(mut self, values: &'static [&'static str]) -> Key {
        self.only = values;
        self
    }

    /// Need not be given if all of these are.
    const fn instead(mut self, keys: &'static [&'static str]) -> Key {
        self.instead = keys;
        self
    }

    /// What must be given, in words; "" if it need not.
    pub fn demand(&self) -> String {
        match (self.default, self.instead) {
            (Default::Required, []) => "Required.".to_owned(),
            (Default::Required, keys) => format!("Required, or {}.", keys.join(" and ")),
            _ => String::new(),
        }
    }

    /// Whether it exists for this value of the switch (none: not known).
    pub fn applies(&self, switch: Option<&str>) -> bool {
        self.only.is_empty() || switch.is_none_or(|value| self.only.contains(&value))
    }
}

/// All sections; a section stands before those within it.
pub const SECTIONS: &[Section] = &[
    site::ROOT,
    site::SITE,
    site::SEASON,
    weather::WEATHER,
    weather::PROCESS,
    weather::SHIFT,
    mower::MOWER,
    mower::WINDOWS,
    mower::APPROACH,
    mower::DEPARTURE,
    mower::SHUT_DOOR,
    mower::DOCK,
    mower::RAIN,
    visitor::VISITOR,
    visitor::FAULT,
    failure::FAILURE,
    sensor::SENSOR,
    strategy::DETECTOR,
    strategy::CONTROLLER,
    strategy::STRATEGY,
    strategy::STRATEGY_CONTROLLER,
    door::DOOR,
    door::MECHANISM,
    door::DRIVE,
    door::HEAT,
    door::WEAR,
    door::PART,
    door::SUPPLY,
    door::BUS,
    door::BUS_DEVICE,
    common_cause::COMMON_CAUSE,
    limit::LIMIT,
    objective::RISK,
    objective::OBJECTIVE,
    objective::COST,
];

/// The section of this path.
pub fn section(path: &str) -> Option<&'static Section> {
    SECTIONS.iter().find(|section| section.path == path)
}

impl Section {
    /// The key of this name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|key| key.name == name)
    }

    /// The last part of the path.
    pub fn name(&self) -> &'static str {
        self.path.rsplit('.').next().unwrap_or("")
    }

    /// The sections directly within this one.
    pub fn children(&self) -> impl Iterator<Item = &'static Section> + use<> {
        let path = self.path;
        SECTIONS.iter().filter(move |other| {
            !other.path.is_empty() && other.path.rsplit_once('.').map_or("", |(parent, _)| parent) == path
        })
    }

    /// How the section is written: `[mower.dock]`, `[[sensor]]`.
    pub fn title(&self) -> String {
        match self.form {
            Form::Table => format!("[{}]", self.path),
            Form::List => format!("[[{}]]", self.path),
        }
    }
}

/// The reference of the format as text: every section and key with its meaning, range and default.
pub fn reference() -> String {
    let mut text = String::new();
    for section in SECTIONS {
        let title = if section.path.is_empty() { "Top of the file".to_owned() } else { section.title() };
        let need = match section.need {
            Need::Required => "",
            Need::Optional | Need::Override => " Optional.",
        };
        text.push_str(&format!("{title}\n{}{need}\n\n", section.about));
        for key in section.keys {
            let default = match key.default {
                Default::Required => key.demand(),
                Default::Value(value) => format!("Default: {value}."),
                Default::Absent(words) => format!("Without it: {words}."),
            };
            let only = if key.only.is_empty() { String::new() } else { format!(" Only for: {}.", key.only.join(", ")) };
            text.push_str(&format!(
                "  {}\n      {} {}. {default}{only}\n",
                key.name,
                key.about,
                capital(&key.kind.expected())
            ));
        }
        text.push('\n');
    }
    text
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn names_are_unique_and_switches_exist() {
        let mut paths = BTreeSet::new();
        for section in SECTIONS {
            assert!(paths.insert(section.path), "{}", section.path);
            let mut names = BTreeSet::new();
            for key in section.keys {
                assert!(names.insert(key.name), "{}.{}", section.path, key.name);
                assert!(key.about.ends_with('.'), "{}.{}", section.path, key.name);
            }
            for child in section.children() {
                assert!(names.insert(child.name()), "{}", child.path);
            }
            assert!(section.switch.is_empty() || section.key(section.switch).is_some());
        }
    }

    #[test]
    fn the_reference_names_every_key() {
        let text = reference();
        for section in SECTIONS {
            assert!(section.path.is_empty() || text.contains(&section.title()));
            assert!(section.keys.iter().all(|key| text.contains(&format!("  {}\n", key.name))));
        }
    }
}
