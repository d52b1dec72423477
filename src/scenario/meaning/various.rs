//! Season, weather, visitors, limits.

use super::{error, warning};
use crate::scenario::error::{Notes, nearest};
use crate::scenario::measure::shorten;
use crate::scenario::read::{Fields, limits, site};

/// Longest season, days.
const LONGEST_SEASON: i64 = 400;

/// The metric that a limit should not rest on: it goes below what common causes allow.
const NOISE_ALONE: &str = "missed_arrivals_expected";

pub(super) fn check(root: &Fields, metrics: &[(&str, &str)], notes: &mut Notes) {
    if let Some(fields) = root.child("season") {
        season(fields, notes);
    }
    if let Some(fields) = root.child("weather") {
        weather(fields, notes);
    }
    for visitor in root.entries("visitor") {
        if visitor.given("hours") && visitor.numbers("hours").is_some_and(|hours| hours.iter().all(|rate| *rate == 0.0))
        {
            error(
                notes,
                visitor,
                "hours",
                "all hours are 0: the visits have no hour to fall in",
                "for no visits, set per_day to \"0 /d\"",
            );
        }
    }
    for fields in root.entries("limit") {
        limit(fields, metrics, notes);
    }
}

/// The rain process is given as a whole or not at all; the source "pulses" needs it.
fn weather(fields: &Fields, notes: &mut Notes) {
    const KEYS: [&str; 6] = ["storms", "depth", "shape", "scale", "cells", "ending"];
    let (Some(source), Some(rain)) = (fields.text("source"), fields.child("rain")) else { return };
    let missing: Vec<&str> = KEYS.into_iter().filter(|key| !rain.given(key)).collect();
    let some = missing.len() < KEYS.len() || rain.given("intensity_shape");
    match source {
        "generated" if some => {
            let message = "the source \"generated\" has its rain in spells: [weather.rain] is not used";
            warning(notes, fields, "source", message, "set source = \"pulses\" to use it");
        }
        "observed" if fields.text("within_hour") == Some("process") && !some => {
            let message = "within_hour = \"process\" needs a rain process, [weather.rain]";
            let help =
                "include the part that `dooryard weather fit` writes from a record; nothing else of it is used here";
            error(notes, fields, "within_hour", message, help);
        }
        "pulses" | "observed" if !missing.is_empty() && (source == "pulses" || some) => {
            let message = format!("[weather.rain] lacks {}", missing.join(", "));
            error(notes, fields, "source", message, "`dooryard weather fit` writes the whole section from a record");
        }
        _ => {}
    }
}

fn season(fields: &Fields, notes: &mut Notes) {
    let (Some(from), Some(to)) = (site::date(fields, "from"), site::date(fields, "to")) else { return };
    let days = (to - from).get_days() as i64 + 1;
    if days < 1 {
        error(notes, fields, "to", format!("the season ends on {to}, before it starts on {from}"), "");
    } else if days > LONGEST_SEASON {
        let message = format!("the season is {days} days long; {LONGEST_SEASON} at most are possible");
        error(notes, fields, "to", message, "a season is played many times over: one year says as much as several");
    }
}

fn limit(fields: &Fields, metrics: &[(&str, &str)], notes: &mut Notes) {
    match (fields.given("at_most"), fields.given("at_least")) {
        (true, true) => {
            error(notes, fields, "at_least", "a limit has either at_most or at_least", "write two limits instead");
        }
        (false, false) => {
            notes.error(
                fields.at,
                fields.path.clone(),
                super::trouble("the limit has no bound", "give at_most or at_least"),
            );
        }
        _ => {}
    }
    let Some(unit) = known_metric(fields, "metric", metrics, notes) else { return };
    if fields.text("metric") == Some(NOISE_ALONE) {
        let help = "missed_arrivals_floored counts these too, by [common_cause]";
        warning(notes, fields, "metric", "this counts the noise of the readings alone, not what sensors share", help);
    }
    for key in ["at_most", "at_least"] {
        if let Some(Err(trouble)) = limits::value(fields, key, unit) {
            notes.error(fields.place(key), fields.key(key), trouble);
        }
    }
}

/// The unit of the metric that a key names; notes an error if there is no such metric.
pub(super) fn known_metric<'m>(
    fields: &Fields,
    key: &str,
    metrics: &[(&str, &'m str)],
    notes: &mut Notes,
) -> Option<&'m str> {
    let name = fields.text(key)?;
    if let Some((_, unit)) = metrics.iter().find(|metric| metric.0 == name) {
        return Some(unit);
    }
    let help = match nearest(name, metrics.iter().map(|metric| metric.0)) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => String::new(),
    };
    error(notes, fields, key, format!("there is no metric \"{}\"", shorten(name)), &help);
    None
}
