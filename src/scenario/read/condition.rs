//! Conditions as they are written, names not yet looked up.

use super::value::written;
use crate::scenario::document::{Data, Value};
use crate::scenario::error::{Notes, Place, Trouble, nearest};
use crate::scenario::keys::Kind;
use crate::scenario::measure::{DURATION, shorten};
use crate::scenario::strategy::PARTS_MAX;

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
    /// Limit, prior, and the evidence with its chances of holding with and without something there.
    LogOdds(f64, f64, Vec<(Written, f64, f64)>),
    /// Seconds and part.
    For(f64, Box<Written>),
    Lasting(f64, Box<Written>),
}

impl Written {
    /// Number of its parts: every name, combination and duration counts.
    fn parts(&self) -> usize {
        1 + match self {
            Written::Name(..) | Written::Always | Written::Never => 0,
            Written::Any(parts) | Written::All(parts) | Written::AtLeast(_, parts) => {
                parts.iter().map(Written::parts).sum()
            }
            Written::LogOdds(_, _, of) => of.iter().map(|(part, ..)| part.parts()).sum(),
            Written::Not(part) | Written::For(_, part) | Written::Lasting(_, part) => part.parts(),
        }
    }

    /// Calls `visit` with each detector named.
    pub fn each_name(&self, visit: &mut impl FnMut(&str, Place)) {
        match self {
            Written::Name(name, at) => visit(name, *at),
            Written::Always | Written::Never => {}
            Written::Any(parts) | Written::All(parts) | Written::AtLeast(_, parts) => {
                parts.iter().for_each(|part| part.each_name(visit));
            }
            Written::LogOdds(_, _, of) => of.iter().for_each(|(part, ..)| part.each_name(visit)),
            Written::Not(part) | Written::For(_, part) | Written::Lasting(_, part) => part.each_name(visit),
        }
    }

    /// Whether it can hold although no detector has spoken, so that it needs none.
    pub fn needs_no_detector(&self) -> bool {
        match self {
            Written::Always | Written::Not(_) | Written::LogOdds(..) => true,
            Written::Name(..) | Written::Never => false,
            Written::Any(parts) => parts.iter().any(Written::needs_no_detector),
            Written::All(parts) => parts.iter().all(Written::needs_no_detector),
            Written::AtLeast(least, parts) => parts.iter().filter(|part| part.needs_no_detector()).count() >= *least,
            Written::For(_, part) | Written::Lasting(_, part) => part.needs_no_detector(),
        }
    }
}

/// The keys that make a table a condition, each with the key that must accompany it.
const FORMS: [(&str, &str); 7] =
    [("any", ""), ("all", ""), ("not", ""), ("at_least", "of"), ("for", "of"), ("lasting", "of"), ("log_odds", "of")];

/// Longest duration within a condition, s: a season.
const LONGEST: f64 = 31_557_600.0;

/// Reads a whole condition, of a bounded number of parts. None after an error, which is in `notes`.
pub(super) fn read_rule(value: &Value, path: &str, notes: &mut Notes) -> Option<Written> {
    let written = read_condition(value, path, notes)?;
    let parts = written.parts();
    if parts > PARTS_MAX {
        let trouble = Trouble::new(format!("expected at most {PARTS_MAX} parts in one condition, found {parts}"));
        notes.error(value.at, path, trouble.help("each name, combination and duration in it is a part"));
        return None;
    }
    Some(written)
}

/// Reads a condition. The TOML reader has bounded its depth. None after an error, which is in `notes`.
fn read_condition(value: &Value, path: &str, notes: &mut Notes) -> Option<Written> {
    match &value.data {
        Data::Text(text) => Some(match text.as_str() {
            "always" => Written::Always,
            "never" => Written::Never,
            name => Written::Name(name.to_owned(), value.at),
        }),
        Data::Table(table) => {
            let summed = table.contains_key("log_odds");
            let known =
                |name: &str| name == "of" || (summed && name == "prior") || FORMS.iter().any(|form| form.0 == name);
            let mut sound = true;
            for (name, (at, _)) in table.iter().filter(|entry| !known(entry.0)) {
                let trouble = Trouble::new(format!("unknown key `{}` in a condition", shorten(name)));
                let trouble = match nearest(name, FORMS.iter().map(|form| form.0)) {
                    Some(near) => trouble.help(format!("did you mean `{near}`?")),
                    None => {
                        trouble.help("a condition has any, all, not, at_least with of, for with of, lasting with of, or log_odds with of")
                    }
                };
                notes.error(*at, format!("{path}.{}", shorten(name)), trouble);
                sound = false;
            }
            let forms: Vec<_> = FORMS.iter().filter(|form| table.contains_key(form.0)).collect();
            let [(form, partner)] = forms.as_slice() else {
                if sound {
                    let trouble = Trouble::new(format!(
                        "expected exactly one of any, all, not, at_least, for, lasting, log_odds; found {}",
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
            let read = if summed {
                let prior = table.get("prior").map(|entry| &entry.1);
                log_odds(head, prior, of?, &format!("{path}.log_odds"), notes)
            } else {
                read_form(form, head, of, path, notes)
            };
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
                Data::Float(_, written) => Err(DURATION.bare(written)),
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

/// `{ log_odds = 3, prior = -9, of = [{ when = "near", present = 0.9, absent = 0.001 }] }`.
fn log_odds(head: &Value, prior: Option<&Value>, of: &Value, path: &str, notes: &mut Notes) -> Option<Written> {
    let nats = |value: &Value, notes: &mut Notes| {
        let number = plain(value).filter(|number| number.abs() <= 1e6);
        if number.is_none() {
            let message = format!("expected a number of nats, found {}", written(value));
            notes.error(value.at, path, Trouble::new(message));
        }
        number
    };
    let limit = nats(head, notes);
    let prior = match prior {
        Some(value) => nats(value, notes),
        None => Some(0.0),
    };
    let Data::List(list) = &of.data else {
        let trouble = Trouble::new(format!("expected a list of evidence, found {}", of.data.describe()));
        notes.error(of.at, path, trouble);
        return None;
    };
    if list.is_empty() {
        notes.error(of.at, path, Trouble::new("expected a list of evidence, found an empty one"));
        return None;
    }
    let read: Vec<_> =
        list.iter().enumerate().map(|(i, item)| evidence(item, &format!("{path}[{}]", i + 1), notes)).collect();
    let read: Option<Vec<_>> = read.into_iter().collect();
    Some(Written::LogOdds(limit?, prior?, read?))
}

fn plain(value: &Value) -> Option<f64> {
    match value.data {
        Data::Integer(Some(number)) => Some(number as f64),
        Data::Float(number, _) if number.is_finite() => Some(number),
        _ => None,
    }
}

fn evidence(value: &Value, path: &str, notes: &mut Notes) -> Option<(Written, f64, f64)> {
    let Data::Table(table) = &value.data else {
        let message = format!("expected a table with when, present and absent, found {}", value.data.describe());
        notes.error(value.at, path, Trouble::new(message));
        return None;
    };
    let mut sound = true;
    for (name, (at, _)) in table.iter().filter(|(name, _)| !["when", "present", "absent"].contains(&name.as_str())) {
        let trouble = Trouble::new(format!("unknown key `{}` in a piece of evidence", shorten(name)));
        notes.error(*at, format!("{path}.{}", shorten(name)), trouble.help("it has when, present and absent"));
        sound = false;
    }
    let chance = |key: &str, notes: &mut Notes| match table.get(key) {
        Some((_, value)) => {
            let number = plain(value).filter(|number| *number > 0.0 && *number < 1.0);
            if number.is_none() {
                let message = format!("expected a number between 0 and 1, both excluded, found {}", written(value));
                notes.error(value.at, format!("{path}.{key}"), Trouble::new(message));
            }
            number
        }
        None => {
            notes.error(value.at, path, Trouble::new(format!("`{key}` is missing in a piece of evidence")));
            None
        }
    };
    let (present, absent) = (chance("present", notes), chance("absent", notes));
    let when = match table.get("when") {
        Some((_, when)) => read_condition(when, &format!("{path}.when"), notes),
        None => {
            notes.error(value.at, path, Trouble::new("`when` is missing in a piece of evidence"));
            None
        }
    };
    Some((when?, present?, absent?)).filter(|_| sound)
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
