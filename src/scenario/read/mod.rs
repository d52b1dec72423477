//! Step one of two: what is written. Walks the table of keys over the document, checks shape, unit, range and unknown
//! keys, fills in defaults, and keeps every value with its place. What the values mean together is step two.

pub(crate) mod condition;
pub(crate) mod door;
pub(crate) mod limits;
pub(crate) mod mower;
pub(crate) mod objective;
pub(crate) mod resolve;
pub(crate) mod sensor;
pub(crate) mod site;
pub(crate) mod strategy;
pub(crate) mod value;
pub(crate) mod visitor;
pub(crate) mod weather;

use std::collections::BTreeMap;

use super::document::{Data, Table, Value};
use super::error::{Notes, Place, Trouble, nearest};
use super::include::name_of;
use super::keys::{Default, Form, Key, Need, SECTIONS, Section, section};
use super::measure::shorten;
use condition::Written;
use value::read_value;

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
    values: BTreeMap<&'static str, (Place, Typed)>,
    written: BTreeMap<String, Place>,
    children: BTreeMap<&'static str, Vec<Fields>>,
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
        self.entries(list).iter().filter_map(|entry| entry.text("name")).collect()
    }
}

fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

/// What reading one table needs to know of the rest.
pub(crate) struct Context<'n> {
    /// Where problems go.
    pub notes: &'n mut Notes,
    /// Kind of each sensor by name, for the units of detectors.
    sensor_kinds: BTreeMap<String, String>,
    /// Whether parts of the scenario could not be read, so that nothing can be called missing.
    incomplete: bool,
}

/// Reads the whole document.
pub(crate) fn read(document: &Table, incomplete: bool, notes: &mut Notes) -> Option<Fields> {
    let mut context = Context { notes, sensor_kinds: sensor_kinds(document), incomplete };
    let root = section("")?;
    Some(read_table(document, root, Place::default(), String::new(), &mut context))
}

fn sensor_kinds(document: &Table) -> BTreeMap<String, String> {
    let mut kinds = BTreeMap::new();
    if let Some((_, Value { data: Data::List(sensors), .. })) = document.get("sensor") {
        for sensor in sensors {
            if let (Some(name), Data::Table(table)) = (name_of(sensor), &sensor.data)
                && let Some((_, Value { data: Data::Text(kind), .. })) = table.get("kind")
            {
                kinds.entry(name.to_owned()).or_insert_with(|| kind.clone());
            }
        }
    }
    kinds
}

fn read_table(table: &Table, section: &'static Section, at: Place, path: String, context: &mut Context<'_>) -> Fields {
    let switch = switch_value(table, section, context);
    let mut fields = Fields {
        section,
        at,
        path,
        switch,
        values: BTreeMap::new(),
        written: BTreeMap::new(),
        children: BTreeMap::new(),
    };
    for (name, (key_at, value)) in table {
        fields.written.insert(name.clone(), value.at);
        if let Some(key) = section.key(name) {
            if key.applies(fields.switch.as_deref()) {
                let read = read_value(key, value, &fields, context.notes);
                if let Some(typed) = read {
                    fields.values.insert(key.name, (value.at, typed));
                }
            } else {
                misplaced(key, *key_at, &fields, context.notes);
            }
        } else if !section.children().any(|child| child.name() == name) {
            unknown(name, *key_at, &fields, context.notes);
        }
    }
    fill_defaults(&mut fields, context);
    for child in section.children() {
        let read = read_child(table.get(child.name()), child, &fields, context);
        fields.children.insert(child.name(), read);
    }
    fields
}

/// The value that decides which keys apply, if it is one of the known ones.
fn switch_value(table: &Table, section: &'static Section, context: &Context<'_>) -> Option<String> {
    if section.switch.is_empty() {
        return None;
    }
    let key = section.key(section.switch)?;
    let written = match table.get(section.switch) {
        Some((_, Value { data: Data::Text(text), .. })) => Some(text.clone()),
        Some(_) => None,
        None => match key.default {
            Default::Value(value) => Some(value.trim_matches('"').to_owned()),
            _ => None,
        },
    }?;
    let value = if section.path == "detector" { context.sensor_kinds.get(&written)?.clone() } else { written };
    let choices = match key.kind {
        super::keys::Kind::Choice(choices) => choices,
        _ => super::keys::SENSOR_KINDS,
    };
    choices.contains(&value.as_str()).then_some(value)
}

fn fill_defaults(fields: &mut Fields, context: &mut Context<'_>) {
    if fields.section.need == Need::Override {
        return;
    }
    for key in fields.section.keys {
        if fields.given(key.name) {
            continue;
        }
        // Keys of one kind only are filled in and missed only once the kind is known.
        if !key.only.is_empty() && (fields.switch.is_none() || !key.applies(fields.switch.as_deref())) {
            continue;
        }
        match key.default {
            Default::Required if !context.incomplete => {
                let trouble = Trouble::new(format!("`{}` is missing: expected {}", key.name, expected(key, fields)));
                context.notes.error(fields.at, fields.path.clone(), trouble);
            }
            Default::Value(text) => {
                if let Some(typed) = default_value(key, text, fields) {
                    fields.values.insert(key.name, (fields.at, typed));
                }
            }
            Default::Required | Default::Absent(_) => {}
        }
    }
}

/// What a key expects, in the sensor's unit where that is known.
fn expected(key: &Key, fields: &Fields) -> String {
    match key.kind {
        super::keys::Kind::Reading(per, _) => {
            let measure = fields.switch.as_deref().and_then(|kind| super::keys::reading_measure(kind, per));
            measure.map_or(key.kind.expected(), |measure| format!("{} such as \"{}\"", measure.name, measure.example))
        }
        kind => kind.expected(),
    }
}

/// A default is read as if it stood in the file, so that what is documented is what holds.
fn default_value(key: &Key, text: &str, fields: &Fields) -> Option<Typed> {
    let mut notes = Notes::default();
    let table = super::document::parse(&format!("value = {text}"), 0, &mut notes)?;
    let typed = read_value(key, &table.get("value")?.1, fields, &mut notes);
    debug_assert!(!notes.any_error(), "the default of {} is not valid", key.name);
    typed
}

fn read_child(
    entry: Option<&(Place, Value)>,
    child: &'static Section,
    parent: &Fields,
    context: &mut Context<'_>,
) -> Vec<Fields> {
    let path = join(&parent.path, child.name());
    let Some((key_at, value)) = entry else {
        return absent_child(child, parent, path, context);
    };
    let header = if value.at.start < value.at.end { value.at } else { *key_at };
    match (&value.data, child.form) {
        (Data::Table(table), Form::Table) => {
            // A table made of dotted keys or of its inner tables alone has no header of its own.
            vec![read_table(table, child, header, path, context)]
        }
        (Data::List(list), Form::List) => read_list(list, child, header, &path, context),
        (data, form) => {
            let wanted = match form {
                Form::Table => format!("a table, written {}", child.title()),
                Form::List => format!("a list of tables, each written {}", child.title()),
            };
            let trouble = Trouble::new(format!("expected {wanted}, found {}", data.describe()));
            context.notes.error(header, path, trouble);
            Vec::new()
        }
    }
}

fn read_list(list: &[Value], child: &'static Section, at: Place, path: &str, context: &mut Context<'_>) -> Vec<Fields> {
    let mut entries = Vec::new();
    for (number, item) in list.iter().enumerate() {
        let label = name_of(item).map_or_else(|| (number + 1).to_string(), shorten);
        let path = format!("{path}[{label}]");
        match &item.data {
            Data::Table(table) => entries.push(read_table(table, child, item.at, path, context)),
            other => {
                let trouble = Trouble::new(format!("expected a table, found {}", other.describe()));
                context.notes.error(item.at, path, trouble);
            }
        }
    }
    if entries.is_empty() && list.is_empty() && child.need == Need::Required && !context.incomplete {
        context.notes.error(at, path, nothing_of(child));
    }
    entries
}

fn absent_child(child: &'static Section, parent: &Fields, path: String, context: &mut Context<'_>) -> Vec<Fields> {
    match (child.need, child.form) {
        (Need::Required, _) if context.incomplete => Vec::new(),
        (Need::Required, Form::Table) => {
            let trouble = Trouble::new(format!("the section {} is missing", child.title())).help(child.about);
            missing(parent, path, trouble, context.notes);
            Vec::new()
        }
        (Need::Required, Form::List) => {
            missing(parent, path, nothing_of(child), context.notes);
            Vec::new()
        }
        (Need::Optional | Need::Override, Form::Table) => {
            vec![read_table(&Table::new(), child, parent.at, path, context)]
        }
        (Need::Optional | Need::Override, Form::List) => Vec::new(),
    }
}

/// Notes what is not there: at the header of the section it belongs in, or of the file as a whole.
fn missing(parent: &Fields, path: String, trouble: Trouble, notes: &mut Notes) {
    if parent.section.path.is_empty() {
        notes.whole_file(path, trouble);
    } else {
        notes.error(parent.at, path, trouble);
    }
}

fn nothing_of(child: &Section) -> Trouble {
    Trouble::new(format!("there is no {}: at least one is needed, written {}", child.name(), child.title()))
        .help(child.about)
}

fn misplaced(key: &Key, at: Place, fields: &Fields, notes: &mut Notes) {
    let kind = fields.switch.as_deref().unwrap_or("");
    let noun = if fields.section.path == "detector" { "a detector on a sensor of kind" } else { "the kind" };
    let noun = if fields.section.path == "weather" { "the source" } else { noun };
    let trouble = Trouble::new(format!("`{}` is not a key of {noun} \"{kind}\"", key.name))
        .help(format!("it belongs to {}", super::keys::quoted(key.only, " and ")));
    notes.error(at, fields.key(key.name), trouble);
}

fn unknown(name: &str, at: Place, fields: &Fields, notes: &mut Notes) {
    let switch = fields.switch.as_deref();
    let keys = fields.section.keys.iter().filter(|key| key.applies(switch)).map(|key| key.name);
    let near = nearest(name, keys.chain(fields.section.children().map(Section::name)));
    let place = if fields.section.path.is_empty() {
        "at the top of the file".to_owned()
    } else {
        format!("in {}", fields.section.title())
    };
    let trouble = Trouble::new(format!("unknown key `{}` {place}", shorten(name)));
    let homes: Vec<String> = SECTIONS
        .iter()
        .filter(|other| other.key(name).is_some() || other.children().any(|child| child.name() == name))
        .map(|other| if other.path.is_empty() { "the top of the file".to_owned() } else { other.title() })
        .collect();
    let trouble = match (near, homes.as_slice()) {
        (Some(near), _) => trouble.help(format!("did you mean `{near}`?")),
        (None, [home]) => trouble.help(format!("it belongs in {home}")),
        _ => trouble,
    };
    notes.error(at, fields.key(&shorten(name)), trouble);
}
