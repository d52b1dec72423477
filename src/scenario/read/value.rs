//! One value of the document, by the kind that its key wants.

use jiff::civil::Date;

use super::condition::read_condition;
use super::{Fields, Typed};
use crate::scenario::document::{Data, Value};
use crate::scenario::error::{Notes, Place, Trouble, nearest};
use crate::scenario::keys::{Key, Kind, Range, quoted, reading_measure};
use crate::scenario::measure::{LARGEST, Measure, read_as, shorten};

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

type Reading = Result<Typed, (Place, Trouble)>;

fn read_kind(kind: Kind, value: &Value, fields: &Fields, path: &str, notes: &mut Notes) -> Reading {
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
            Data::Text(_) | Data::Integer(_) | Data::Float(_) => Ok(Typed::Raw(value.clone())),
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
        Kind::Condition => Ok(read_condition(value, path, notes).map_or(Typed::Word, Typed::Condition)),
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
fn written(value: &Value) -> String {
    match &value.data {
        Data::Text(text) => format!("\"{}\"", shorten(text)),
        Data::Integer(Some(number)) => number.to_string(),
        Data::Integer(None) => "a whole number that is too large".to_owned(),
        Data::Float(number) => number.to_string(),
        Data::Flag(flag) => flag.to_string(),
        Data::Date(date) => date.to_string(),
        data @ (Data::List(_) | Data::Table(_)) => data.describe().to_owned(),
    }
}

fn unexpected(value: &Value, kind: &Kind) -> Trouble {
    Trouble::new(format!("expected {}, found {}", kind.expected(), written(value)))
}

fn quantity(value: &Value, measure: &Measure, range: Range) -> Result<f64, (Place, Trouble)> {
    let found = match &value.data {
        Data::Text(text) => measure.read(text),
        Data::Integer(_) | Data::Float(_) => Err(measure.bare(&written(value))),
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

fn number(value: &Value, range: Range) -> Result<f64, (Place, Trouble)> {
    let allowed = range.describe(|bound| bound.to_string());
    let wrong = || (value.at, Trouble::new(format!("expected a number of {allowed}, found {}", written(value))));
    let number = match &value.data {
        Data::Integer(Some(number)) => *number as f64,
        Data::Float(number) => *number,
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
        Data::Float(number) => *number,
        Data::Text(text) => return read_as(text, unit),
        _ => f64::NAN,
    };
    if number.abs() <= LARGEST {
        Ok(number)
    } else {
        Err(Trouble::new(format!("expected a number of at most 1e15, found {}", written(value))))
    }
}

fn integer(value: &Value, min: i64, max: i64) -> Result<i64, (Place, Trouble)> {
    match value.data {
        Data::Integer(Some(number)) if (min..=max).contains(&number) => Ok(number),
        _ => Err((value.at, unexpected(value, &Kind::Integer(min, max)))),
    }
}

/// One value for all months, or twelve.
fn monthly(
    value: &Value,
    notes: &mut Notes,
    path: &str,
    read: impl Fn(&Value) -> Result<f64, (Place, Trouble)>,
) -> Result<Vec<f64>, (Place, Trouble)> {
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

fn list_of(
    value: &Value,
    count: usize,
    kind: Kind,
    notes: &mut Notes,
    path: &str,
    read: impl Fn(&Value) -> Result<f64, (Place, Trouble)>,
) -> Result<Vec<f64>, (Place, Trouble)> {
    match &value.data {
        Data::List(list) if list.len() == count => Ok(each(list, notes, path, read)),
        Data::List(list) => {
            Err((value.at, Trouble::new(format!("expected {}, found a list of {}", kind.expected(), list.len()))))
        }
        _ => Err((value.at, unexpected(value, &kind))),
    }
}

/// Reads all entries, so that each bad one is named.
fn each(
    list: &[Value],
    notes: &mut Notes,
    path: &str,
    read: impl Fn(&Value) -> Result<f64, (Place, Trouble)>,
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

fn spread(value: &Value, measure: &'static Measure, range: Range, path: &str, notes: &mut Notes) -> Reading {
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

fn date(value: &Value) -> Result<Date, Trouble> {
    let wrong = unexpected(value, &Kind::Date);
    match &value.data {
        Data::Date(date) => match (date.date, date.time) {
            (Some(day), None) => {
                let year = i16::try_from(day.year).map_err(|_| wrong.clone())?;
                // The calendar's ends are kept clear, so that the days around a season exist too.
                if !(1900..=2200).contains(&year) {
                    return Err(Trouble::new(format!("expected a year from 1900 to 2200, found {year}")));
                }
                Date::new(year, day.month as i8, day.day as i8).map_err(|_| wrong)
            }
            _ => Err(wrong),
        },
        Data::Text(text) if text.parse::<Date>().is_ok() => Err(wrong.help("a date stands without quotes")),
        _ => Err(wrong),
    }
}

/// Days of the week as the scenario writes them, Monday first.
pub(crate) const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// Words for several days.
pub(crate) const DAY_WORDS: [(&str, [bool; 7]); 3] = [
    ("every day", [true; 7]),
    ("weekdays", [true, true, true, true, true, false, false]),
    ("weekend", [false, false, false, false, false, true, true]),
];

fn days(value: &Value) -> Result<[bool; 7], (Place, Trouble)> {
    let words = DAY_WORDS.iter().map(|word| word.0);
    match &value.data {
        Data::Text(text) => match DAY_WORDS.iter().find(|word| word.0 == text) {
            Some((_, days)) => Ok(*days),
            None => Err((value.at, choose(text, unexpected(value, &Kind::Days), words.chain(DAYS)))),
        },
        Data::List(_) => {
            let mut days = [false; 7];
            for index in some_of(value, &DAYS, Kind::Days)? {
                days[index] = true;
            }
            Ok(days)
        }
        _ => Err((value.at, unexpected(value, &Kind::Days))),
    }
}

fn some_of(value: &Value, choices: &[&str], kind: Kind) -> Result<Vec<usize>, (Place, Trouble)> {
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
fn choose<'a>(found: &str, trouble: Trouble, choices: impl IntoIterator<Item = &'a str>) -> Trouble {
    match nearest(found, choices) {
        Some(near) => trouble.help(format!("did you mean \"{near}\"?")),
        None => trouble,
    }
}

/// Seconds after midnight; "24:00" is the day's end.
fn time_of_day(value: &Value) -> Option<i32> {
    let (hour, minute, second) = match &value.data {
        Data::Date(date) => match (date.date, date.time) {
            (None, Some(time)) if time.nanosecond.unwrap_or(0) == 0 => {
                (i32::from(time.hour), i32::from(time.minute), i32::from(time.second.unwrap_or(0)))
            }
            _ => return None,
        },
        Data::Text(text) => {
            let mut parts = text.split(':').map(|part| {
                let digits = part.len() == 2 && part.bytes().all(|byte| byte.is_ascii_digit());
                if digits { part.parse::<i32>().ok() } else { None }
            });
            let (hour, minute) = (parts.next()??, parts.next()??);
            let second = parts.next().map_or(Some(0), |part| part)?;
            if parts.next().is_some() {
                return None;
            }
            (hour, minute, second)
        }
        _ => return None,
    };
    let seconds = hour * 3600 + minute * 60 + second;
    ((0..60).contains(&minute) && (0..60).contains(&second) && (0..=86_400).contains(&seconds)).then_some(seconds)
}

fn rule(value: &Value) -> Result<Typed, Trouble> {
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

fn check_text(text: &str, kind: Kind) -> Result<(), Trouble> {
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
            let names: Vec<String> = jiff::tz::db().available().map(|name| name.to_string()).collect();
            let trouble = Trouble::new(format!("there is no time zone \"{}\"", shorten(text)));
            Err(match nearest(text, names.iter().map(String::as_str)) {
                Some(near) => trouble.help(format!("did you mean \"{near}\"?")),
                None => trouble.help("expected a name of the IANA database such as \"Europe/Vienna\""),
            })
        }
        _ => Ok(()),
    }
}
