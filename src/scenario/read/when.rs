//! Dates, days of the week and times of day.

use jiff::civil::Date;

use super::text::{choose, some_of};
use super::value::{Misfit, unexpected};
use crate::scenario::document::{Data, Value};
use crate::scenario::error::Trouble;
use crate::scenario::keys::Kind;

pub(super) fn date(value: &Value) -> Result<Date, Trouble> {
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

pub(super) fn days(value: &Value) -> Result<[bool; 7], Misfit> {
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

/// Seconds after midnight; "24:00" is the day's end.
pub(super) fn time_of_day(value: &Value) -> Option<i32> {
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
