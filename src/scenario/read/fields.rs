//! What one table was read into: its good values, each with its place.

use std::collections::BTreeMap;

use super::condition::Written;
use crate::scenario::document::Value;
use crate::scenario::error::Place;
use crate::scenario::keys::Section;

/// A value of the right shape.
#[derive(Clone, Debug)]
pub(crate) enum Typed {
    Number(f64),
    /// The word that may stand instead of a quantity.
    Word,
    Numbers(Vec<f64>),
    Spread(f64, f64),
    Integer(i64),
    Flag(bool),
    Text(String),
    /// Indices into the choices, each with its place.
    Choices(Vec<usize>),
    Days([bool; 7]),
    Seconds(i32),
    Date(jiff::civil::Date),
    Rule(usize, usize),
    Condition(Written),
    /// A limit's value, read once the metric's unit is known.
    Raw(Value),
}

/// One table as it was read: its good values, what stood in the file, and the sections within it.
#[derive(Clone, Debug)]
pub(crate) struct Fields {
    /// Its row in the table of sections.
    pub section: &'static Section,
    /// Place of its header.
    pub at: Place,
    /// Path for messages, with the name or number of a list's entry.
    pub path: String,
    /// The value of the section's switch; of a detector, the kind of its sensor.
    pub switch: Option<String>,
    pub(super) values: BTreeMap<&'static str, (Place, Typed)>,
    pub(super) written: BTreeMap<String, Place>,
    pub(super) children: BTreeMap<&'static str, Vec<Fields>>,
}

impl Fields {
    fn typed(&self, key: &str) -> Option<&Typed> {
        debug_assert!(self.section.key(key).is_some(), "no key {key} in {}", self.section.path);
        self.values.get(key).map(|entry| &entry.1)
    }

    /// A number; also a whole one.
    pub fn number(&self, key: &str) -> Option<f64> {
        match self.typed(key)? {
            Typed::Number(value) => Some(*value),
            Typed::Integer(value) => Some(*value as f64),
            _ => None,
        }
    }

    /// A number, or `word` where the word stands for it.
    pub fn number_or(&self, key: &str, word: f64) -> Option<f64> {
        match self.typed(key)? {
            Typed::Word => Some(word),
            _ => self.number(key),
        }
    }

    /// A list of numbers.
    pub fn numbers(&self, key: &str) -> Option<&[f64]> {
        match self.typed(key)? {
            Typed::Numbers(values) => Some(values),
            _ => None,
        }
    }

    /// Twelve numbers.
    pub fn monthly(&self, key: &str) -> Option<[f64; 12]> {
        self.numbers(key)?.try_into().ok()
    }

    /// Mean and standard deviation.
    pub fn spread(&self, key: &str) -> Option<(f64, f64)> {
        match self.typed(key)? {
            Typed::Spread(mean, sd) => Some((*mean, *sd)),
            _ => None,
        }
    }

    /// A whole number.
    pub fn integer(&self, key: &str) -> Option<i64> {
        match self.typed(key)? {
            Typed::Integer(value) => Some(*value),
            _ => None,
        }
    }

    /// A small whole number that cannot be negative; the table of keys has bounded it.
    pub fn count(&self, key: &str) -> Option<u32> {
        self.integer(key)?.try_into().ok()
    }

    /// True or false.
    pub fn flag(&self, key: &str) -> Option<bool> {
        match self.typed(key)? {
            Typed::Flag(value) => Some(*value),
            _ => None,
        }
    }

    /// A text, name or choice.
    pub fn text(&self, key: &str) -> Option<&str> {
        match self.typed(key)? {
            Typed::Text(text) => Some(text),
            _ => None,
        }
    }

    /// Any other kind of value.
    pub fn value(&self, key: &str) -> Option<&Typed> {
        self.typed(key)
    }

    /// A condition.
    pub fn condition(&self, key: &str) -> Option<&Written> {
        match self.typed(key)? {
            Typed::Condition(condition) => Some(condition),
            _ => None,
        }
    }

    /// Whether the key has a value, be it given or its default.
    pub fn has(&self, key: &str) -> bool {
        self.values.contains_key(key)
    }

    /// Whether the key stands in the file, be its value good or not.
    pub fn given(&self, key: &str) -> bool {
        self.written.contains_key(key)
    }

    /// The place of a key's value, or of the header if it is not given.
    pub fn place(&self, key: &str) -> Place {
        self.written.get(key).copied().unwrap_or(self.at)
    }

    /// The path of a key for messages.
    pub fn key(&self, key: &str) -> String {
        join(&self.path, key)
    }

    /// The section within this one, if it is a table.
    pub fn child(&self, name: &str) -> Option<&Fields> {
        self.children.get(name)?.first()
    }

    /// The section within this one of this dotted path.
    pub fn within(&self, path: &str) -> Option<&Fields> {
        path.split('.').try_fold(self, |fields, name| fields.child(name))
    }

    /// The entries of a list within this section.
    pub fn entries(&self, name: &str) -> &[Fields] {
        self.children.get(name).map_or(&[], Vec::as_slice)
    }

    /// Whether a list within this section was read whole.
    pub fn names(&self, list: &str) -> Vec<&str> {
        let named = self.entries(list).iter().filter(|entry| entry.section.key("name").is_some());
        named.filter_map(|entry| entry.text("name")).collect()
    }
}

/// A key within a path.
pub(super) fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}
