//! Numbers and quantities, alone and in lists.

use super::Typed;
use super::value::{Misfit, unexpected, written};
use crate::scenario::document::{Data, Value};
use crate::scenario::error::{Notes, Trouble, nearest};
use crate::scenario::keys::{Kind, Range};
use crate::scenario::measure::{LARGEST, Measure, read_as, shorten};

pub(super) fn quantity(value: &Value, measure: &Measure, range: Range) -> Result<f64, Misfit> {
    let found = match &value.data {
        Data::Text(text) => measure.read(text),
        Data::Integer(_) | Data::Float(..) => Err(measure.bare(&written(value))),
        _ => Err(Trouble::new(format!(
            "expected {} such as \"{}\", found {}",
            measure.name,
            measure.example,
            written(value)
        ))),
    };
    let number = found.map_err(|trouble| (value.at, trouble))?;
    if range.contains(number) {
        return Ok(number);
    }
    let allowed = range.describe(|bound| measure.show(bound));
    Err((value.at, Trouble::new(format!("expected {} of {allowed}, found {}", measure.name, written(value)))))
}

pub(super) fn number(value: &Value, range: Range) -> Result<f64, Misfit> {
    let allowed = range.describe(|bound| bound.to_string());
    let wrong = || (value.at, Trouble::new(format!("expected a number of {allowed}, found {}", written(value))));
    let number = match &value.data {
        Data::Integer(Some(number)) => *number as f64,
        Data::Float(number, _) => *number,
        Data::Text(text) if text.trim_end().ends_with('%') => {
            read_as(text, "").map_err(|trouble| (value.at, trouble))?
        }
        Data::Text(text) if text.trim().parse::<f64>().is_ok() => {
            let (at, trouble) = wrong();
            return Err((at, trouble.help("a plain number stands without quotes")));
        }
        _ => return Err(wrong()),
    };
    if range.contains(number) { Ok(number) } else { Err(wrong()) }
}

/// The number of a limit, in the metric's unit.
pub(crate) fn metric_value(value: &Value, unit: &str) -> Result<f64, Trouble> {
    let number = match &value.data {
        Data::Integer(Some(number)) => *number as f64,
        Data::Float(number, _) => *number,
        Data::Text(text) => return read_as(text, unit),
        _ => f64::NAN,
    };
    if number.abs() <= LARGEST {
        Ok(number)
    } else {
        Err(Trouble::new(format!("expected a number of at most 1e15, found {}", written(value))))
    }
}

pub(super) fn integer(value: &Value, min: i64, max: i64) -> Result<i64, Misfit> {
    match value.data {
        Data::Integer(Some(number)) if (min..=max).contains(&number) => Ok(number),
        _ => Err((value.at, unexpected(value, &Kind::Integer(min, max)))),
    }
}

/// One value for all months, or twelve.
pub(super) fn monthly(
    value: &Value,
    notes: &mut Notes,
    path: &str,
    read: impl Fn(&Value) -> Result<f64, Misfit>,
) -> Result<Vec<f64>, Misfit> {
    match &value.data {
        Data::List(list) if list.len() == 12 => Ok(each(list, notes, path, read)),
        Data::List(list) => Err((
            value.at,
            Trouble::new(format!(
                "expected one value or a list of twelve, January first, found a list of {}",
                list.len()
            )),
        )),
        _ => read(value).map(|number| vec![number; 12]),
    }
}

pub(super) fn list_of(
    value: &Value,
    count: usize,
    kind: Kind,
    notes: &mut Notes,
    path: &str,
    read: impl Fn(&Value) -> Result<f64, Misfit>,
) -> Result<Vec<f64>, Misfit> {
    match &value.data {
        Data::List(list) if list.len() == count => Ok(each(list, notes, path, read)),
        Data::List(list) => {
            Err((value.at, Trouble::new(format!("expected {}, found a list of {}", kind.expected(), list.len()))))
        }
        _ => Err((value.at, unexpected(value, &kind))),
    }
}

/// Reads all entries, so that each bad one is named.
pub(super) fn each(
    list: &[Value],
    notes: &mut Notes,
    path: &str,
    read: impl Fn(&Value) -> Result<f64, Misfit>,
) -> Vec<f64> {
    let mut numbers = Vec::with_capacity(list.len());
    for (index, item) in list.iter().enumerate() {
        match read(item) {
            Ok(number) => numbers.push(number),
            Err((at, trouble)) => notes.error(at, format!("{path}[{}]", index + 1), trouble),
        }
    }
    numbers
}

pub(super) fn spread(
    value: &Value,
    measure: &'static Measure,
    range: Range,
    path: &str,
    notes: &mut Notes,
) -> Result<Typed, Misfit> {
    let kind = Kind::Spread(measure, range);
    let Data::Table(table) = &value.data else {
        return Err((value.at, unexpected(value, &kind)));
    };
    let mut found = [None, None];
    for (name, (key_at, item)) in table {
        let (slot, range) = match name.as_str() {
            "mean" => (0, range),
            "spread" => (1, Range::within(0.0, range.max)),
            other => {
                let trouble = Trouble::new(format!("unknown key `{}`", shorten(other)));
                let trouble = match nearest(other, ["mean", "spread"]) {
                    Some(near) => trouble.help(format!("did you mean `{near}`?")),
                    None => trouble.help("a spread has `mean` and `spread` (the standard deviation)"),
                };
                notes.error(*key_at, format!("{path}.{}", shorten(other)), trouble);
                continue;
            }
        };
        match quantity(item, measure, range) {
            Ok(number) => found[slot] = Some(number),
            Err((at, trouble)) => {
                notes.error(at, format!("{path}.{name}"), trouble);
                found[slot] = Some(0.0);
            }
        }
    }
    match found {
        [Some(mean), Some(sd)] => Ok(Typed::Spread(mean, sd)),
        [mean, _] => {
            let missing = if mean.is_none() { "mean" } else { "spread" };
            Err((value.at, Trouble::new(format!("`{missing}` is missing: expected {}", kind.expected()))))
        }
    }
}
