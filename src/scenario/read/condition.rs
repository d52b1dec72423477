//! Conditions as they are written, names not yet looked up.

use super::value::written;
use crate::scenario::document::{Data, Value};
use crate::scenario::error::{Notes, Place, Trouble, nearest};
use crate::scenario::keys::Kind;
use crate::scenario::measure::{DURATION, shorten};

/// A written condition; names keep their place.
#[derive(Clone, Debug)]
pub(crate) enum Written {
    /// A detector's name.
    Name(String, Place),
    Always,
    Never,
    Any(Vec<Written>),
    All(Vec<Written>),
    AtLeast(usize, Vec<Written>),
    Not(Box<Written>),
    /// Seconds and part.
    For(f64, Box<Written>),
    Lasting(f64, Box<Written>),
}

impl Written {
    /// Calls `visit` with each detector named.
    pub fn each_name(&self, visit: &mut impl FnMut(&str, Place)) {
        match self {
            Written::Name(name, at) => visit(name, *at),
            Written::Always | Written::Never => {}
            Written::Any(parts) | Written::All(parts) | Written::AtLeast(_, parts) => {
                parts.iter().for_each(|part| part.each_name(visit));
            }
            Written::Not(part) | Written::For(_, part) | Written::Lasting(_, part) => part.each_name(visit),
        }
    }

    /// Whether it can hold although no detector has spoken, so that it needs none.
    pub fn needs_no_detector(&self) -> bool {
        match self {
            Written::Always | Written::Not(_) => true,
            Written::Name(..) | Written::Never => false,
            Written::Any(parts) | Written::All(parts) | Written::AtLeast(_, parts) => {
                parts.iter().any(Written::needs_no_detector)
            }
            Written::For(_, part) | Written::Lasting(_, part) => part.needs_no_detector(),
        }
    }
}

/// The keys that make a table a condition, each with the key that must accompany it.
const FORMS: [(&str, &str); 6] =
    [("any", ""), ("all", ""), ("not", ""), ("at_least", "of"), ("for", "of"), ("lasting", "of")];

/// Longest duration within a condition, s: a season.
const LONGEST: f64 = 31_557_600.0;

/// Reads a condition. The TOML reader has bounded its depth. None after an error, which is in `notes`.
pub(super) fn read_condition(value: &Value, path: &str, notes: &mut Notes) -> Option<Written> {
    match &value.data {
        Data::Text(text) => Some(match text.as_str() {
            "always" => Written::Always,
            "never" => Written::Never,
            name => Written::Name(name.to_owned(), value.at),
        }),
        Data::Table(table) => {
            let known = |name: &str| name == "of" || FORMS.iter().any(|form| form.0 == name);
            let mut sound = true;
            for (name, (at, _)) in table.iter().filter(|entry| !known(entry.0)) {
                let trouble = Trouble::new(format!("unknown key `{}` in a condition", shorten(name)));
                let trouble = match nearest(name, FORMS.iter().map(|form| form.0)) {
                    Some(near) => trouble.help(format!("did you mean `{near}`?")),
                    None => {
                        trouble.help("a condition has any, all, not, at_least with of, for with of, or lasting with of")
                    }
                };
                notes.error(*at, format!("{path}.{}", shorten(name)), trouble);
                sound = false;
            }
            let forms: Vec<_> = FORMS.iter().filter(|form| table.contains_key(form.0)).collect();
            let [(form, partner)] = forms.as_slice() else {
                if sound {
                    let trouble = Trouble::new(format!(
                        "expected exactly one of any, all, not, at_least, for, lasting; found {}",
                        forms.len()
                    ));
                    notes.error(value.at, path, trouble);
                }
                return None;
            };
            if table.contains_key("of") != (*partner == "of") {
                let verb = if partner.is_empty() { "does not go" } else { "must go" };
                notes.error(value.at, path, Trouble::new(format!("`{form}` {verb} with `of`")));
                return None;
            }
            let head = &table.get(*form)?.1;
            let of = table.get("of").map(|entry| &entry.1);
            let read = read_form(form, head, of, path, notes);
            if sound { read } else { None }
        }
        other => {
            let trouble = Trouble::new(format!("expected {}, found {}", Kind::Condition.expected(), other.describe()));
            notes.error(value.at, path, trouble);
            None
        }
    }
}

fn read_form(form: &str, head: &Value, of: Option<&Value>, path: &str, notes: &mut Notes) -> Option<Written> {
    let path = format!("{path}.{form}");
    match form {
        "any" => parts(head, &path, notes).map(Written::Any),
        "all" => parts(head, &path, notes).map(Written::All),
        "not" => read_condition(head, &path, notes).map(|part| Written::Not(Box::new(part))),
        "at_least" => {
            let parts = parts(of?, &path, notes)?;
            match head.data {
                Data::Integer(Some(count)) if count >= 1 && count as usize <= parts.len() => {
                    Some(Written::AtLeast(count as usize, parts))
                }
                _ => {
                    let trouble = Trouble::new(format!(
                        "expected a whole number from 1 to {}, the number of parts, found {}",
                        parts.len(),
                        written(head)
                    ));
                    notes.error(head.at, path, trouble);
                    None
                }
            }
        }
        _ => {
            let part = read_condition(of?, &path, notes);
            let seconds = match &head.data {
                Data::Text(text) => DURATION.read(text),
                Data::Integer(Some(number)) => Err(DURATION.bare(&number.to_string())),
                Data::Float(number) => Err(DURATION.bare(&number.to_string())),
                other => Err(Trouble::new(format!("expected a duration such as \"2 s\", found {}", other.describe()))),
            };
            let seconds = seconds.and_then(|seconds| {
                if (0.0..=LONGEST).contains(&seconds) {
                    Ok(seconds)
                } else {
                    Err(Trouble::new("expected a duration of at least 0 s and at most a year"))
                }
            });
            match (seconds, part) {
                (Ok(seconds), Some(part)) if form == "for" => Some(Written::For(seconds, Box::new(part))),
                (Ok(seconds), Some(part)) => Some(Written::Lasting(seconds, Box::new(part))),
                (Err(trouble), _) => {
                    notes.error(head.at, path, trouble);
                    None
                }
                (Ok(_), None) => None,
            }
        }
    }
}

fn parts(value: &Value, path: &str, notes: &mut Notes) -> Option<Vec<Written>> {
    let Data::List(list) = &value.data else {
        let trouble = Trouble::new(format!("expected a list of conditions, found {}", value.data.describe()));
        notes.error(value.at, path, trouble);
        return None;
    };
    if list.is_empty() {
        notes.error(value.at, path, Trouble::new("expected a list of conditions, found an empty one"));
        return None;
    }
    // All parts are read before giving up, so that each bad one is named.
    let read: Vec<Option<Written>> = list
        .iter()
        .enumerate()
        .map(|(index, item)| read_condition(item, &format!("{path}[{}]", index + 1), notes))
        .collect();
    read.into_iter().collect()
}
