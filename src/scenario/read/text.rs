//! Names, choices and other texts.

use super::Typed;
use super::value::{Misfit, unexpected, written};
use crate::scenario::document::{Data, Value};
use crate::scenario::error::{Trouble, nearest};
use crate::scenario::keys::{Kind, quoted};
use crate::scenario::measure::shorten;

pub(super) fn some_of(value: &Value, choices: &[&str], kind: Kind) -> Result<Vec<usize>, Misfit> {
    let Data::List(list) = &value.data else {
        return Err((value.at, unexpected(value, &kind)));
    };
    if list.is_empty() {
        return Err((value.at, Trouble::new(format!("expected {}, found an empty list", kind.expected()))));
    }
    let mut found = Vec::new();
    for item in list {
        let index = match &item.data {
            Data::Text(text) => choices.iter().position(|choice| choice == text),
            _ => None,
        };
        match (index, &item.data) {
            (Some(index), _) if found.contains(&index) => {
                return Err((item.at, Trouble::new(format!("{} is listed twice", written(item)))));
            }
            (Some(index), _) => found.push(index),
            (None, data) => {
                let trouble = Trouble::new(format!("expected {}, found {}", quoted(choices, " or "), written(item)));
                let text = if let Data::Text(text) = data { text.as_str() } else { "" };
                return Err((item.at, choose(text, trouble, choices.iter().copied())));
            }
        }
    }
    found.sort_unstable();
    Ok(found)
}

/// Adds the nearest choice to a complaint.
pub(super) fn choose<'a>(found: &str, trouble: Trouble, choices: impl IntoIterator<Item = &'a str>) -> Trouble {
    match nearest(found, choices) {
        Some(near) => trouble.help(format!("did you mean \"{near}\"?")),
        None => trouble,
    }
}

pub(super) fn rule(value: &Value) -> Result<Typed, Trouble> {
    let wrong = unexpected(value, &Kind::Rule);
    let Data::Text(text) = &value.data else { return Err(wrong) };
    let mut words = text.split_whitespace();
    let (Some(k), Some("of"), Some(n), None) = (words.next(), words.next(), words.next(), words.next()) else {
        return Err(wrong);
    };
    let (Ok(k), Ok(n)) = (k.parse::<usize>(), n.parse::<usize>()) else { return Err(wrong) };
    if k >= 1 && k <= n && n <= 64 {
        Ok(Typed::Rule(k, n))
    } else {
        Err(Trouble::new(format!("the rule \"{}\" cannot be kept: \"k of n\" needs 1 <= k <= n <= 64", shorten(text))))
    }
}

pub(super) fn check_text(text: &str, kind: Kind) -> Result<(), Trouble> {
    let found = format!("expected {}, found \"{}\"", kind.expected(), shorten(text));
    match kind {
        Kind::Choice(choices) if !choices.contains(&text) => {
            Err(choose(text, Trouble::new(found), choices.iter().copied()))
        }
        Kind::FolderName => {
            let good = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
            if !text.is_empty() && text.len() <= 64 && text.chars().all(good) {
                Ok(())
            } else {
                Err(Trouble::new(found))
            }
        }
        Kind::Name => {
            let long = text.chars().count();
            if (1..=64).contains(&long) && text.trim() == text && !text.chars().any(char::is_control) {
                Ok(())
            } else {
                Err(Trouble::new(found).help("without control characters and without spaces at its ends"))
            }
        }
        Kind::Line if text.chars().any(char::is_control) || text.chars().count() > 500 => {
            Err(Trouble::new(found).help("at most 500 characters, without line breaks"))
        }
        Kind::File if text.is_empty() => Err(Trouble::new(found)),
        Kind::TimeZone if jiff::tz::TimeZone::get(text).is_err() => {
            let trouble = Trouble::new(format!("there is no time zone \"{}\"", shorten(text)));
            Err(match near_zone(text) {
                Some(near) => trouble.help(format!("did you mean \"{near}\"?")),
                None => trouble.help("expected a name of the IANA database such as \"Europe/Vienna\""),
            })
        }
        _ => Ok(()),
    }
}

/// The time zone whose place, the part after the last `/`, is nearest: the regions are too alike to tell by the whole
/// name.
fn near_zone(text: &str) -> Option<String> {
    let place = |name: &str| name.rsplit('/').next().unwrap_or("").to_owned();
    let zones: Vec<(String, String)> =
        jiff::tz::db().available().map(|name| (place(name.as_str()), name.to_string())).collect();
    let near = nearest(&place(text), zones.iter().map(|zone| zone.0.as_str()))?;
    zones.iter().find(|zone| zone.0 == near).map(|zone| zone.1.clone())
}
