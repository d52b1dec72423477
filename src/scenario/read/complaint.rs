//! Complaints about keys and sections that are missing, unknown or in the wrong place.

use super::Fields;
use crate::scenario::error::{Notes, Place, Trouble, nearest};
use crate::scenario::keys::{Key, SECTIONS, Section, quoted};
use crate::scenario::measure::shorten;

/// Notes what is not there: at the header of the section it belongs in, or at the end of the file.
pub(super) fn missing(parent: &Fields, path: String, trouble: Trouble, notes: &mut Notes) {
    if parent.section.path.is_empty() {
        notes.at_the_end(path, trouble);
    } else {
        notes.error(parent.at, path, trouble);
    }
}

pub(super) fn nothing_of(child: &Section) -> Trouble {
    Trouble::new(format!("there is no {}: at least one is needed, written {}", child.name(), child.title()))
        .help(child.about)
}

pub(super) fn misplaced(key: &Key, at: Place, fields: &Fields, notes: &mut Notes) {
    let kind = fields.switch.as_deref().unwrap_or("");
    let noun = match fields.section.path {
        "detector" => "a detector on a sensor of kind".to_owned(),
        "weather" => "weather whose source is".to_owned(),
        _ => format!("a {} of kind", fields.section.name()),
    };
    let trouble = Trouble::new(format!("`{}` is not a key of {noun} \"{kind}\"", key.name))
        .help(format!("it belongs to {}", quoted(key.only, " and ")));
    notes.error(at, fields.key(key.name), trouble);
}

/// Names listed at most; more are counted.
const MOST_LISTED: usize = 20;

/// What may stand in a section, for whoever wrote something that is like none of it.
fn allowed(fields: &Fields, switch: Option<&str>) -> String {
    let names: Vec<&str> = names(fields, switch).collect();
    let listed: Vec<String> = names.iter().take(MOST_LISTED).map(|name| format!("`{name}`")).collect();
    let more = match names.len().saturating_sub(MOST_LISTED) {
        0 => String::new(),
        more => format!(" and {more} more (`dooryard schema` lists all)"),
    };
    let place = if fields.section.path.is_empty() { "the top of the file".to_owned() } else { fields.section.title() };
    format!("{place} may have {}{more}", listed.join(", "))
}

fn names(fields: &Fields, switch: Option<&str>) -> impl Iterator<Item = &'static str> {
    let keys = fields.section.keys.iter().filter(move |key| key.applies(switch)).map(|key| key.name);
    keys.chain(fields.section.children().map(Section::name))
}

pub(super) fn unknown(name: &str, at: Place, fields: &Fields, notes: &mut Notes) {
    let switch = fields.switch.as_deref();
    let crowded = notes.crowded();
    let near = if crowded { None } else { nearest(name, names(fields, switch)) };
    let place = if fields.section.path.is_empty() {
        "at the top of the file".to_owned()
    } else {
        format!("in {}", fields.section.title())
    };
    let trouble = Trouble::new(format!("unknown key `{}` {place}", shorten(name)));
    let homes: Vec<String> = SECTIONS
        .iter()
        .filter(|other| !crowded && (other.key(name).is_some() || other.children().any(|child| child.name() == name)))
        .map(|other| if other.path.is_empty() { "the top of the file".to_owned() } else { other.title() })
        .collect();
    let trouble = match (near, homes.as_slice()) {
        (Some(near), _) => trouble.help(format!("did you mean `{near}`?")),
        (None, [home]) => trouble.help(format!("it belongs in {home}")),
        _ if crowded => trouble,
        _ => trouble.help(allowed(fields, switch)),
    };
    notes.error(at, fields.key(&shorten(name)), trouble);
}
