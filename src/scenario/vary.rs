//! One scenario, many variants: sets numbers of a written scenario by the path of their key and resolves it again, so
//! that every check applies to every variant.
//!
//! A path is the key's section and name joined by dots, list entries by their name:
//! `mower.approach.speed`, `detector.near.on`, `visitor.cat.per_day`, `strategy.eye.controller.warning`. Of a value with
//! several numbers, one is named: `sensor.eye.position[0]` (from 0), `mower.run.mean`, `mower.run.spread`,
//! `detector.near.rule.k`, `detector.near.rule.n`; the twelve months of `weather.wind` may be set one by one or, without
//! a number, all alike. A name that contains a dot stands in double quotes.

use std::collections::BTreeMap;
use std::path::Path;

use super::Scenario;
use super::document::{Data, Table, Value};
use super::error::{Place, Problems, nearest};
use super::keys::{Form, Key, Kind, reading_measure, section};
use super::load::{Loaded, Written, load_written, resolve_written};
use super::measure::{Measure, read_as};
use super::read::{Fields, Typed};

/// A scenario to be varied.
#[derive(Clone, Debug)]
pub struct Base<'m> {
    /// The scenario as it is written.
    pub loaded: Loaded,
    written: Written,
    metrics: &'m [(&'m str, &'m str)],
}

/// Why a key can't be varied, or not so.
#[derive(Debug, thiserror::Error)]
pub enum VaryError {
    /// There is no such number in the scenario.
    #[error("{message}")]
    Path {
        /// What is wrong with the path, and what would be right.
        message: String,
    },
    /// The scenario would not be valid.
    #[error("{what}: the scenario is not valid then:\n{problems}")]
    Invalid {
        /// The settings.
        what: String,
        /// What is wrong.
        problems: Box<Problems>,
    },
}

/// One number of a scenario.
#[derive(Clone, Debug)]
pub struct Parameter {
    /// Its path as the user writes it.
    pub path: String,
    /// Unit in which it is counted here; "" for a plain number.
    pub unit: &'static str,
    /// Whether it is a whole number.
    pub whole: bool,
    /// Its value in the scenario as it is written; none where nothing or a word stands for it.
    pub current: Option<f64>,
    measure: Option<&'static Measure>,
    section: Vec<Step>,
    key: &'static Key,
    part: Part,
}

/// A value to write: one of its parameters, and all its numbers.
type Leaf<'p> = (&'p Parameter, Vec<f64>);

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Step {
    Table(&'static str),
    Entry(&'static str, usize, String),
}

/// Which of a value's numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    /// The only one, or all alike.
    All,
    /// This one of a list, a spread (mean, spread) or a rule (k, n).
    At(usize),
}

impl Parameter {
    /// Reads a value, in any unit that fits; a whole number must be one.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(&self, text: &str) -> Result<f64, String> {
        let text = text.trim();
        let read = match self.measure {
            Some(measure) => measure.read(text),
            None => read_as(text, ""),
        };
        let value = read.map_err(|trouble| match trouble.help {
            Some(help) => format!("{}; {help}", trouble.message),
            None => trouble.message,
        })?;
        if self.whole && value.fract() != 0.0 {
            return Err(format!("`{}` is a whole number, found {text}", self.path));
        }
        Ok(value)
    }

    /// The strategy that it belongs to; none if all share it.
    pub fn strategy(&self) -> Option<&str> {
        match self.section.first() {
            Some(Step::Entry("strategy", _, name)) => Some(name),
            _ => None,
        }
    }

    /// A value with its unit.
    pub fn show(&self, value: f64) -> String {
        self.measure.map_or_else(|| value.to_string(), |measure| measure.show(value))
    }
}

impl<'m> Base<'m> {
    /// Loads the scenario in `path`; `metrics` as for [`super::load()`].
    ///
    /// # Errors
    /// As [`super::load()`].
    pub fn load(path: &Path, metrics: &'m [(&'m str, &'m str)]) -> Result<Base<'m>, Problems> {
        let (loaded, written) = load_written(path, metrics)?;
        Ok(Base { loaded, written, metrics })
    }

    /// The number at `path`.
    ///
    /// # Errors
    /// If there is none, with the nearest name there is.
    pub fn parameter(&self, path: &str) -> Result<Parameter, VaryError> {
        locate(&self.written.root, path).map_err(|message| VaryError::Path { message })
    }

    /// The scenario with some numbers set.
    ///
    /// # Errors
    /// If it is not valid then.
    pub fn with(&self, settings: &[(&Parameter, f64)]) -> Result<Scenario, VaryError> {
        let mut document = self.written.document.clone();
        for (parameter, components) in self.leaves(settings) {
            let data = parameter.data(&components);
            put(&mut document, &parameter.section, parameter.key.name, data);
        }
        resolve_written(&document, &self.written.sources, self.metrics)
            .map_err(|problems| VaryError::Invalid { what: told(settings), problems: Box::new(problems) })
    }

    /// A scenario file that includes `include` (the path of this scenario, seen from that file) and sets some numbers.
    pub fn part(&self, include: &str, settings: &[(&Parameter, f64)]) -> String {
        let mut text = format!("include = [{}]\n", quoted(include));
        let mut open: Option<&[Step]> = None;
        for (parameter, components) in self.leaves(settings) {
            if open != Some(&parameter.section) {
                let names: Vec<&str> = parameter.section.iter().map(Step::name).collect();
                let mut path = String::new();
                // The named entries on the way must be opened too, to say which ones are meant.
                for (depth, step) in parameter.section.iter().enumerate() {
                    path = names[..=depth].join(".");
                    if let Step::Entry(_, _, name) = step {
                        text.push_str(&format!("\n[[{path}]]\nname = {}\n", quoted(name)));
                    }
                }
                if let Some(Step::Table(_)) = parameter.section.last() {
                    text.push_str(&format!("\n[{path}]\n"));
                }
            }
            text.push_str(&format!("{} = {}\n", parameter.key.name, toml_text(&parameter.data(&components))));
            open = Some(&parameter.section);
        }
        text
    }

    /// The values to write, each with all its numbers, in the order of their sections.
    fn leaves<'p>(&self, settings: &[(&'p Parameter, f64)]) -> Vec<Leaf<'p>> {
        let mut leaves: BTreeMap<(&[Step], &str), Leaf> = BTreeMap::new();
        for (parameter, value) in settings {
            let leaf = leaves.entry((&parameter.section, parameter.key.name));
            let (_, components) = leaf.or_insert_with(|| {
                let fields = walk(&self.written.root, &parameter.section);
                (parameter, fields.map(|fields| components(fields, parameter.key)).unwrap_or_default())
            });
            match parameter.part {
                Part::All => components.fill(*value),
                Part::At(index) => {
                    if let Some(slot) = components.get_mut(index) {
                        *slot = *value;
                    }
                }
            }
            if components.is_empty() {
                components.push(*value);
            }
        }
        leaves.into_values().collect()
    }
}

impl Step {
    fn name(&self) -> &'static str {
        match self {
            Step::Table(name) | Step::Entry(name, ..) => name,
        }
    }
}

impl Parameter {
    /// The value as a file contains it.
    fn data(&self, components: &[f64]) -> Data {
        let one = |value: f64| match self.measure {
            Some(measure) => Data::Text(measure.show(value)),
            None if self.whole => Data::Integer(Some(value as i64)),
            None => Data::Float(value, value.to_string()),
        };
        let item = |value: &f64| Value { at: Place::default(), data: one(*value) };
        match (self.key.kind, components) {
            (Kind::Rule, [k, n]) => Data::Text(format!("{k} of {n}")),
            (Kind::Spread(..), [mean, spread]) => {
                let entry = |name: &str, value| (name.to_owned(), (Place::default(), item(value)));
                Data::Table(Table::from([entry("mean", mean), entry("spread", spread)]))
            }
            (_, [value]) => one(*value),
            (Kind::Monthly(..) | Kind::MonthlyNumber(..), values) if values.windows(2).all(|two| two[0] == two[1]) => {
                values.first().map_or(Data::List(Vec::new()), |value| one(*value))
            }
            (_, values) => Data::List(values.iter().map(item).collect()),
        }
    }
}

/// `detector.near.on = 2.1 m, detector.near.off = 2.4 m`.
fn told(settings: &[(&Parameter, f64)]) -> String {
    let one = |(parameter, value): &(&Parameter, f64)| format!("{} = {}", parameter.path, parameter.show(*value));
    settings.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn toml_text(data: &Data) -> String {
    match data {
        Data::Text(text) => quoted(text),
        Data::Integer(number) => number.unwrap_or(0).to_string(),
        Data::Float(number, _) => toml::Value::Float(*number).to_string(),
        Data::List(list) => {
            format!("[{}]", list.iter().map(|item| toml_text(&item.data)).collect::<Vec<_>>().join(", "))
        }
        Data::Table(table) => {
            let entry = |(name, (_, value)): (&String, &(Place, Value))| format!("{name} = {}", toml_text(&value.data));
            format!("{{ {} }}", table.iter().map(entry).collect::<Vec<_>>().join(", "))
        }
        Data::Flag(flag) => flag.to_string(),
        Data::Date(date) => date.to_string(),
    }
}

/// Sets a value in a document; sections that don't stand there yet are added.
fn put(document: &mut Table, steps: &[Step], key: &str, data: Data) {
    let mut table = document;
    for step in steps {
        let fresh = || (Place::default(), Value { at: Place::default(), data: Data::Table(Table::new()) });
        let (_, value) = table.entry(step.name().to_owned()).or_insert_with(fresh);
        let inner = match (step, &mut value.data) {
            (Step::Table(_), Data::Table(inner)) => inner,
            (Step::Entry(_, index, _), Data::List(list)) => match list.get_mut(*index).map(|item| &mut item.data) {
                Some(Data::Table(inner)) => inner,
                _ => return,
            },
            _ => return,
        };
        table = inner;
    }
    // A value keeps its place in the file, so that messages can point there.
    let at = table.get(key).map_or(Place::default(), |(_, old)| old.at);
    let key_at = table.get(key).map_or(Place::default(), |(key_at, _)| *key_at);
    table.insert(key.to_owned(), (key_at, Value { at, data }));
}

fn walk<'f>(root: &'f Fields, steps: &[Step]) -> Option<&'f Fields> {
    steps.iter().try_fold(root, |fields, step| match step {
        Step::Table(name) => fields.child(name),
        Step::Entry(name, index, _) => fields.entries(name).get(*index),
    })
}

/// All numbers of a value; none where nothing or a word stands for it.
fn components(fields: &Fields, key: &Key) -> Vec<f64> {
    match fields.value(key.name) {
        Some(Typed::Number(value)) => vec![*value],
        Some(Typed::Integer(value)) => vec![*value as f64],
        Some(Typed::Numbers(values)) => values.clone(),
        Some(Typed::Spread(mean, spread)) => vec![*mean, *spread],
        Some(Typed::Rule(k, n)) => vec![*k as f64, *n as f64],
        _ => Vec::new(),
    }
}

/// Parts of a path: split at dots outside of double quotes.
fn words(path: &str) -> Vec<String> {
    let (mut words, mut word, mut inside) = (Vec::new(), String::new(), false);
    for letter in path.chars() {
        match letter {
            '"' => inside = !inside,
            '.' if !inside => words.push(std::mem::take(&mut word)),
            other => word.push(other),
        }
    }
    words.push(word);
    words
}

fn locate(root: &Fields, path: &str) -> Result<Parameter, String> {
    let words = words(path);
    let mut fields = root;
    let mut section_steps = Vec::new();
    let mut rest = words.as_slice();
    loop {
        let Some((word, after)) = rest.split_first() else {
            return Err(format!("`{path}` names a section, not a number in it; {}", numbers_of(fields)));
        };
        let Some(child) = fields.section.children().find(|child| child.name() == word) else { break };
        if child.form == Form::Table {
            fields = fields.child(child.name()).ok_or_else(|| format!("the scenario has no section `{word}`"))?;
            section_steps.push(Step::Table(child.name()));
            rest = after;
            continue;
        }
        let names = fields.names(child.name());
        let Some((name, after)) = after.split_first() else {
            return Err(which(path, word, &names));
        };
        let entries = fields.entries(child.name());
        let Some(index) =
            entries.iter().position(|entry| entry.section.key("name").is_some() && entry.text("name") == Some(name))
        else {
            return Err(format!("`{path}`: there is no {word} \"{name}\"{}", hint(name, &names)));
        };
        section_steps.push(Step::Entry(child.name(), index, name.clone()));
        fields = &entries[index];
        rest = after;
    }
    let (word, after) = (&rest[0], &rest[1..]);
    let (name, index) = match word.strip_suffix(']').and_then(|word| word.split_once('[')) {
        Some((name, index)) => {
            (name, Some(index.parse::<usize>().map_err(|_| format!("`{path}`: `[{index}]` is not a place in a list"))?))
        }
        None => (word.as_str(), None),
    };
    if fields.section.children().any(|child| child.name() == name) {
        return Err(which(path, name, &fields.names(name)));
    }
    let applies = |key: &&Key| key.applies(fields.switch.as_deref());
    let Some(key) = fields.section.key(name).filter(applies) else {
        let keys = fields.section.keys.iter().filter(applies).map(|key| key.name);
        let known: Vec<&str> = keys.chain(fields.section.children().map(|child| child.name())).collect();
        return Err(format!("`{path}`: there is no key `{name}` here{}", hint(name, &known)));
    };
    let mut values = components(fields, key);
    // A strategy's own timings default to those of the controller.
    if values.is_empty()
        && fields.section.path == "strategy.controller"
        && let Some(general) = root.child("controller")
    {
        values = components(general, key);
    }
    let (measure, whole, count) =
        nature(key, fields).ok_or_else(|| format!("`{path}` is not a number; {}", numbers_of(fields)))?;
    let inner: Vec<&str> = after.iter().map(String::as_str).collect();
    let part = match (key.kind, index, inner.as_slice()) {
        (Kind::Spread(..), None, ["mean"]) | (Kind::Rule, None, ["k"]) => Part::At(0),
        (Kind::Spread(..), None, ["spread"]) | (Kind::Rule, None, ["n"]) => Part::At(1),
        (Kind::Spread(..), ..) => return Err(format!("`{path}`: name `{name}.mean` or `{name}.spread`")),
        (Kind::Rule, ..) => return Err(format!("`{path}`: name `{name}.k` or `{name}.n` of the rule \"k of n\"")),
        (_, _, [_, ..]) => return Err(format!("`{path}`: there is nothing within `{name}`")),
        (_, Some(index), []) if count > 1 && index < count => Part::At(index),
        (_, Some(_), []) if count > 1 => {
            return Err(format!("`{path}`: `{name}` has {count} numbers, [0] to [{}]", count - 1));
        }
        (_, Some(_), []) => return Err(format!("`{path}`: `{name}` is one number, not a list")),
        (Kind::Monthly(..) | Kind::MonthlyNumber(..), None, []) => Part::All,
        (_, None, []) if count > 1 => {
            return Err(format!(
                "`{path}`: `{name}` has {count} numbers: name one, `{name}[0]` to `{name}[{}]`",
                count - 1
            ));
        }
        (_, None, []) => Part::All,
    };
    let current = match part {
        Part::At(index) => values.get(index).copied(),
        Part::All => values.first().copied().filter(|first| values.iter().all(|value| value == first)),
    };
    if matches!(part, Part::At(_)) && values.len() != count.max(2) {
        return Err(format!("`{path}`: the scenario must give `{name}` before one of its numbers can be varied"));
    }
    let unit = measure.map_or("", |measure| measure.unit);
    Ok(Parameter { path: path.to_owned(), unit, whole, current, measure, section: section_steps, key, part })
}

/// Asks for one of the entries of a list.
fn which(path: &str, list: &str, names: &[&str]) -> String {
    if names.is_empty() {
        return format!("`{path}`: the entries of `{list}` have no names by which one could be meant");
    }
    format!("`{path}`: say which {list} is meant by its name: {}", names.join(", "))
}

/// Measure, wholeness and count of the numbers of a key; none if it has none.
fn nature(key: &Key, fields: &Fields) -> Option<(Option<&'static Measure>, bool, usize)> {
    Some(match key.kind {
        Kind::Quantity(measure, _) | Kind::QuantityOr(_, measure, _) => (Some(measure), false, 1),
        Kind::Monthly(measure, _) => (Some(measure), false, 12),
        Kind::MonthlyNumber(_) => (None, false, 12),
        Kind::Quantities(measure, count, _) => (Some(measure), false, count),
        Kind::Numbers(count, _) => (None, false, count),
        Kind::Spread(measure, _) => (Some(measure), false, 2),
        Kind::Reading(per, _) => (Some(reading_measure(fields.switch.as_deref()?, per)?), false, 1),
        Kind::Number(_) => (None, false, 1),
        Kind::Integer(..) => (None, true, 1),
        Kind::Rule => (None, true, 2),
        _ => return None,
    })
}

/// `; did you mean ...?` or what there is.
fn hint(found: &str, known: &[&str]) -> String {
    match nearest(found, known.iter().copied()) {
        Some(near) => format!("; did you mean `{near}`?"),
        None if known.is_empty() => String::new(),
        None => format!("; there is: {}", known.join(", ")),
    }
}

fn numbers_of(fields: &Fields) -> String {
    let applies = |key: &&Key| key.applies(fields.switch.as_deref()) && nature(key, fields).is_some();
    let names: Vec<&str> = fields.section.keys.iter().filter(applies).map(|key| key.name).collect();
    if names.is_empty() {
        let inner: Vec<&str> = section(fields.section.path)
            .into_iter()
            .flat_map(super::keys::Section::children)
            .map(|child| child.name())
            .collect();
        return format!("it holds: {}", inner.join(", "));
    }
    format!("numbers here: {}", names.join(", "))
}
