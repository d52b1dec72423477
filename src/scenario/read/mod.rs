//! Step one of two: what is written. Walks the table of keys over the document, checks shape, unit, range and unknown
//! keys, fills in defaults, and keeps every value with its place. What the values mean together is step two.

mod common_cause;
mod complaint;
pub(crate) mod condition;
mod controller;
pub(crate) mod door;
pub(crate) mod failure;
mod fields;
pub(crate) mod limits;
pub(crate) mod mower;
mod number;
pub(crate) mod objective;
pub(crate) mod resolve;
pub(crate) mod sensor;
pub(crate) mod site;
pub(crate) mod strategy;
mod text;
mod value;
pub(crate) mod visitor;
pub(crate) mod weather;
pub(crate) mod when;

use std::collections::BTreeMap;

use super::document::{Data, Table, Value};
use super::error::{Notes, Place, Trouble};
use super::include::{MOST_ENTRIES, name_of};
use super::keys::{Default, Form, Key, Need, Section, section};
use super::measure::shorten;
use complaint::{misplaced, missing, nothing_of, unknown};
use fields::join;
pub(crate) use fields::{Fields, Typed};
use value::read_value;

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
    // Looked up once: a table may hold very many names.
    let children: Vec<&str> = section.children().map(|child| child.name()).collect();
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
        } else if !children.contains(&name.as_str()) {
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
            Default::Required if !key.instead.is_empty() && key.instead.iter().all(|other| fields.given(other)) => {}
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
    if list.len() > MOST_ENTRIES {
        let trouble = Trouble::new(format!("more than {MOST_ENTRIES} entries are too many; the rest is not read"));
        context.notes.error(at, path, trouble);
    }
    for (number, item) in list.iter().enumerate().take(MOST_ENTRIES) {
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
