//! One value of the document, by the kind that its key wants.

use super::condition::read_rule;
use super::number::{integer, list_of, monthly, number, quantity, spread};
use super::text::{check_text, rule, some_of};
use super::when::{date, days, time_of_day};
use super::{Fields, Typed};
use crate::scenario::document::{Data, Value};
use crate::scenario::error::{Notes, Place, Trouble};
use crate::scenario::keys::{Key, Kind, reading_measure};
use crate::scenario::measure::shorten;

/// Reads `value` for `key` of the table `fields`; what is wrong goes to `notes`.
pub(super) fn read_value(key: &Key, value: &Value, fields: &Fields, notes: &mut Notes) -> Option<Typed> {
    let path = fields.key(key.name);
    let before = notes.count();
    let typed = read_kind(key.kind, value, fields, &path, notes);
    match typed {
        // An entry of a list or a part of a condition may have been noted although the rest is good.
        Ok(typed) => (notes.count() == before).then_some(typed),
        Err((at, trouble)) => {
            notes.error(at, path, trouble);
            None
        }
    }
}

/// What is wrong, and where.
pub(super) type Misfit = (Place, Trouble);

fn read_kind(kind: Kind, value: &Value, fields: &Fields, path: &str, notes: &mut Notes) -> Result<Typed, Misfit> {
    let at = value.at;
    let fail = |trouble: Trouble| (at, trouble);
    match kind {
        Kind::Quantity(measure, range) => quantity(value, measure, range).map(Typed::Number),
        Kind::QuantityOr(word, measure, range) => match &value.data {
            Data::Text(text) if text == word => Ok(Typed::Word),
            _ => quantity(value, measure, range).map(Typed::Number),
        },
        Kind::Monthly(measure, range) => {
            monthly(value, notes, path, |item| quantity(item, measure, range)).map(Typed::Numbers)
        }
        Kind::MonthlyNumber(range) => monthly(value, notes, path, |item| number(item, range)).map(Typed::Numbers),
        Kind::Quantities(measure, count, range) => {
            list_of(value, count, kind, notes, path, |item| quantity(item, measure, range)).map(Typed::Numbers)
        }
        Kind::Numbers(count, range) => {
            list_of(value, count, kind, notes, path, |item| number(item, range)).map(Typed::Numbers)
        }
        Kind::Reading(per, range) => {
            // Without a known sensor there is no unit to check against; the sensor's own error suffices.
            match fields.switch.as_deref().and_then(|kind| reading_measure(kind, per)) {
                Some(measure) => quantity(value, measure, range).map(Typed::Number),
                None => Ok(Typed::Raw(value.clone())),
            }
        }
        Kind::Spread(measure, range) => spread(value, measure, range, path, notes),
        Kind::Number(range) => number(value, range).map(Typed::Number),
        Kind::Integer(min, max) => integer(value, min, max).map(Typed::Integer),
        Kind::Flag => match value.data {
            Data::Flag(flag) => Ok(Typed::Flag(flag)),
            _ => Err(fail(unexpected(value, &kind))),
        },
        Kind::MetricValue => match &value.data {
            Data::Text(_) | Data::Integer(_) | Data::Float(..) => Ok(Typed::Raw(value.clone())),
            _ => Err(fail(unexpected(value, &kind))),
        },
        Kind::Date => date(value).map(Typed::Date).map_err(fail),
        Kind::Days => days(value).map(Typed::Days),
        Kind::TimeOfDay => time_of_day(value).map(Typed::Seconds).ok_or_else(|| fail(unexpected(value, &kind))),
        Kind::Rule => rule(value).map_err(fail),
        Kind::Choices(choices) => some_of(value, choices, kind).map(Typed::Choices),
        // Consumed while the files were read and merged.
        Kind::Files => Ok(Typed::Word),
        // A condition notes its own errors; the stand-in is then dropped.
        Kind::Condition => Ok(read_rule(value, path, notes).map_or(Typed::Word, Typed::Condition)),
        Kind::Name
        | Kind::NameOf(_)
        | Kind::FolderName
        | Kind::Line
        | Kind::File
        | Kind::TimeZone
        | Kind::Metric
        | Kind::Choice(_) => match &value.data {
            Data::Text(text) => check_text(text, kind).map(|()| Typed::Text(text.clone())).map_err(fail),
            _ => Err(fail(unexpected(value, &kind))),
        },
    }
}

/// How the value stands in the file, roughly, for messages.
pub(super) fn written(value: &Value) -> String {
    match &value.data {
        Data::Text(text) => format!("\"{}\"", shorten(text)),
        Data::Integer(Some(number)) => number.to_string(),
        Data::Integer(None) => "a whole number that is too large".to_owned(),
        Data::Float(_, written) => shorten(written),
        Data::Flag(flag) => flag.to_string(),
        Data::Date(date) => date.to_string(),
        data @ (Data::List(_) | Data::Table(_)) => data.describe().to_owned(),
    }
}

pub(super) fn unexpected(value: &Value, kind: &Kind) -> Trouble {
    Trouble::new(format!("expected {}, found {}", kind.expected(), written(value)))
}
