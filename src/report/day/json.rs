//! The day as one JSON document (`--json`).
//!
//! Layout `dooryard-day/1`; keys are only ever added under this name.
//!
//! ```text
//! layout      "dooryard-day/1"
//! version     version of the tool
//! scenario    { name, sha256 }
//! strategy    its name
//! seed        seed in force, as a string (it may exceed 2^53)
//! season      season number
//! day         day of the season, from 0
//! date        its date
//! found       why this day was taken, or null
//! answer      what happened, in a sentence
//! story       [ { time, what, why } ]
//! failures    names of failures and faults that were under way for some of the day
//! counts      { sorties, arrivals, missed_arrivals, late_openings, false_openings, door_cycles, contacts, strandings,
//!               open_min, wet_floor_min, wait_s, rain_mm, rain_min }
//! events      [ { time, who, what, detail } ], as in events.csv
//! series      [ { name, unit, points } ]: how many rows of day.csv each has
//! warnings    list of texts
//! cautions    list of texts
//! ```
//!
//! Where a search finds no day, the document holds `layout`, `found` (null) and `answer` alone.

use serde::Serialize;
use serde_json::json;

use super::{Told, words};

#[derive(Serialize)]
struct Document<'a> {
    layout: &'static str,
    version: &'a str,
    scenario: serde_json::Value,
    strategy: &'a str,
    seed: String,
    season: u64,
    day: usize,
    date: String,
    found: Option<&'a str>,
    answer: String,
    story: Vec<serde_json::Value>,
    failures: &'a [String],
    counts: serde_json::Value,
    events: Vec<serde_json::Value>,
    series: Vec<serde_json::Value>,
    warnings: &'a [String],
    cautions: &'a [&'a str],
}

/// The document, indented, ended by a line break.
///
/// # Errors
/// If it can't be written as JSON.
pub fn document(told: &Told) -> serde_json::Result<String> {
    let replay = told.replay;
    let counts = &replay.counts;
    let sha256 = told.study.scenarios.first().map_or("", |played| played.sha256.as_str());
    let story = replay.story.iter().map(|incident| {
        let (what, why) = words::incident(incident);
        json!({ "time": (told.time)(incident.at), "what": what, "why": why.replace(crate::report::number::GLUE, " ") })
    });
    let events = replay.events.iter().map(
        |event| json!({ "time": (told.time)(event.at), "who": event.who, "what": event.what, "detail": event.detail }),
    );
    let film = &replay.film;
    let series = film.series.iter().map(|it| json!({ "name": it.name, "unit": it.unit, "points": it.points.len() }));
    let document = Document {
        layout: "dooryard-day/1",
        version: told.study.version,
        scenario: json!({ "name": told.scenario.name, "sha256": sha256 }),
        strategy: told.strategy(),
        seed: replay.seed.to_string(),
        season: replay.season,
        day: replay.day,
        date: replay.date.to_string(),
        found: told.found,
        answer: words::answer(told),
        story: story.collect(),
        failures: &replay.failures,
        counts: json!({
            "sorties": counts.sorties,
            "arrivals": counts.arrivals,
            "missed_arrivals": counts.missed,
            "late_openings": counts.late,
            "false_openings": counts.false_openings,
            "door_cycles": counts.cycles,
            "contacts": counts.contacts,
            "strandings": counts.strandings,
            "open_min": counts.open_min,
            "wet_floor_min": counts.wet_floor_min,
            "wait_s": counts.wait_s,
            "rain_mm": counts.rain_mm,
            "rain_min": counts.rain_min,
        }),
        events: events.collect(),
        series: series.collect(),
        warnings: told.warnings,
        cautions: told.cautions,
    };
    serde_json::to_string_pretty(&document).map(|text| text + "\n")
}
