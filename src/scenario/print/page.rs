//! A page of TOML whose values take their units from the table of keys.

use crate::scenario::keys::{Kind, Section, reading_measure, section};

/// What was written: a section or an entry of a list begins, or a value stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::scenario) enum Line {
    /// Path of the section.
    Open(&'static str),
    /// Key and value, as TOML.
    Value(String, String),
}

/// The text so far and the section that is being written.
#[derive(Default)]
pub(super) struct Page {
    text: String,
    /// The same line by line.
    pub lines: Vec<Line>,
    section: Option<&'static Section>,
    /// Kind of sensor whose reading units apply.
    pub sensor_kind: &'static str,
}

/// A text as TOML.
pub(super) fn text(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

impl Page {
    /// Begins a section or an entry of a list.
    pub fn open(&mut self, path: &str) {
        self.section = section(path);
        if let Some(section) = self.section {
            self.text.push_str(&format!("\n{}\n", section.title()));
            self.lines.push(Line::Open(section.path));
        }
    }

    /// A value that is already TOML.
    pub fn raw(&mut self, key: &str, value: impl AsRef<str>) {
        self.text.push_str(&format!("{key} = {}\n", value.as_ref()));
        self.lines.push(Line::Value(key.to_owned(), value.as_ref().to_owned()));
    }

    /// A number of whatever kind the key is.
    pub fn number(&mut self, key: &str, value: f64) {
        let shown = self.show(key, value);
        self.raw(key, shown);
    }

    /// A number as the key's kind writes it.
    fn show(&self, key: &str, value: f64) -> String {
        let kind = self.section.or_else(|| section("")).and_then(|section| section.key(key)).map(|key| key.kind);
        match kind {
            Some(Kind::QuantityOr(word, ..)) if value.is_infinite() => text(word),
            Some(
                Kind::Quantity(measure, _)
                | Kind::QuantityOr(_, measure, _)
                | Kind::Monthly(measure, _)
                | Kind::Quantities(measure, ..)
                | Kind::Spread(measure, _),
            ) => text(&measure.show(value)),
            Some(Kind::Reading(per, _)) => match reading_measure(self.sensor_kind, per) {
                Some(measure) => text(&measure.show(value)),
                None => value.to_string(),
            },
            _ => value.to_string(),
        }
    }

    /// Twelve months; one value if they are alike.
    pub fn monthly(&mut self, key: &str, values: &[f64; 12]) {
        if values.iter().all(|value| *value == values[0]) {
            self.number(key, values[0]);
        } else {
            self.list(key, values);
        }
    }

    /// A list of quantities.
    pub fn list(&mut self, key: &str, values: &[f64]) {
        let shown: Vec<String> = values.iter().map(|value| self.show(key, *value)).collect();
        self.raw(key, format!("[{}]", shown.join(", ")));
    }

    /// A mean with its standard deviation.
    pub fn spread(&mut self, key: &str, mean: f64, sd: f64) {
        let shown = format!("{{ mean = {}, spread = {} }}", self.show(key, mean), self.show(key, sd));
        self.raw(key, shown);
    }

    /// The whole text.
    pub fn finish(self) -> String {
        self.text
    }
}
