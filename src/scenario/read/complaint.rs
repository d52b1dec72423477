//! Complaints about keys and sections that are missing, unknown or in the wrong place.

use super::Fields;
use crate::scenario::error::{Notes, Place, Trouble, nearest};
use crate::scenario::keys::{Key, SECTIONS, Section, quoted};
use crate::scenario::measure::shorten;

/// Notes what is not there: at the header of the section it belongs in, or of the file as a whole.
pub(super) fn missing(parent: &Fields, path: String, trouble: Trouble, notes: &mut Notes) {
    if parent.section.path.is_empty() {
        notes.whole_file(path, trouble);
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

pub(super) fn unknown(name: &str, at: Place, fields: &Fields, notes: &mut Notes) {
    let switch = fields.switch.as_deref();
    let keys = fields.section.keys.iter().filter(|key| key.applies(switch)).map(|key| key.name);
    let candidates = keys.chain(fields.section.children().map(Section::name));
    let crowded = notes.crowded();
    let near = if crowded { None } else { nearest(name, candidates) };
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
        _ => trouble,
    };
    notes.error(at, fields.key(&shorten(name)), trouble);
}
