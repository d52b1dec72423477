//! What the page's script knows: the same values as `day.csv`, and where they belong.
//!
//! ```text
//! length   length of the day, s
//! wall     [ [from second, seconds a wall clock is ahead], ... ]
//! series   [ { name, unit, shape: "steps" | "line" | "dots", t: [seconds since midnight], v: [value | null | "far"],
//!              names: { value: what it means } or null } ]
//! states   { "mower state": { t, v: [text] }, "controller state": ... }
//! tracks   [ { read: [ [series, name] ], states: name or null } ], in the page's order
//! sensors  [ { name, reading, likeliest, on: [ [series, detector] ] } ]: indices of series
//! scene    which series move what: { nose, sideways, door, clear, pose: [4], visitors: [ [x, name, kind, sideways] ] };
//!          `sideways` is null where the shelter is seen from the side
//! start    the moment shown first, s
//! ```

use serde_json::{Value, json};

use super::tracks::{Track, names};
use super::{Told, rounded};
use crate::ledger::film::{About, Shape, States};
use crate::math::time::Instant;
use crate::shelter::mechanism;

/// A ranger's reading without a target.
pub const FAR: &str = "far";

/// The document, without line breaks.
pub fn data(told: &Told, tracks: &[Track]) -> String {
    let film = &told.replay.film;
    let seconds = |points: &mut dyn Iterator<Item = Instant>| points.map(|at| told.second(at)).collect::<Vec<f64>>();
    let series = film.series.iter().map(|series| {
        let shape = match series.shape {
            Shape::Steps => "steps",
            Shape::Line => "line",
            Shape::Dots => "dots",
        };
        json!({
            "name": series.name,
            "unit": super::unit_text(series.unit),
            "shape": shape,
            "t": seconds(&mut series.points.iter().map(|point| point.0)),
            "v": series.points.iter().map(|point| value(point.1)).collect::<Vec<Value>>(),
            "names": names_of(told, series.about),
        })
    });
    let states = |states: &States| {
        json!({
            "t": seconds(&mut states.changes.iter().map(|change| change.0)),
            "v": states.changes.iter().map(|change| change.1).collect::<Vec<&str>>(),
        })
    };
    let place = |about: About| film.series.iter().position(|series| series.about == about);
    let plan_view = mechanism::opens_sideways(&told.scenario.door);
    let visitors = film.series.iter().enumerate().filter_map(|(index, series)| match series.about {
        About::Visitor(kind) => {
            let sideways = place(About::VisitorSideways(kind)).filter(|_| plan_view);
            Some(json!([index, told.scenario.visitors[kind].name, kind, sideways]))
        }
        _ => None,
    });
    let wall: Vec<Value> = told.replay.wall.iter().map(|(at, shift)| json!([told.second(*at), shift])).collect();
    json!({
        "length": told.length_s(),
        "wall": wall,
        "series": series.collect::<Vec<Value>>(),
        "states": { film.mower.name: states(&film.mower), film.controller.name: states(&film.controller) },
        "tracks": tracks.iter().map(|track| json!({ "read": track.read, "states": track.states })).collect::<Vec<Value>>(),
        "sensors": sensors(told),
        "scene": {
            "nose": place(About::Nose),
            "sideways": place(About::Sideways).filter(|_| plan_view),
            "door": place(About::Door),
            "clear": place(About::Clear),
            "pose": (0..4).map(|end| place(About::Pose(end))).collect::<Vec<_>>(),
            "visitors": visitors.collect::<Vec<Value>>(),
        },
        "start": told.second(start(told)),
    })
    .to_string()
}

/// The moment that is shown first: the first incident, or else the first time the door moves, or midday.
pub fn start(told: &Told) -> Instant {
    let film = &told.replay.film;
    let opens = || {
        let door = film.about(About::Door)?;
        door.points.iter().find(|(_, share)| *share > 30.0).map(|(at, _)| *at)
    };
    let incident = told.replay.story.iter().find(|it| it.what.is_mishap()).map(|incident| incident.at);
    let middle = || Instant((film.from.0 + film.to.0) / 2);
    incident.or_else(opens).unwrap_or_else(middle)
}

/// Sensors of the strategy with their series, in the scenario's order.
fn sensors(told: &Told) -> Vec<Value> {
    let film = &told.replay.film;
    let place = |about: About| film.series.iter().position(|series| series.about == about);
    film.series
        .iter()
        .filter_map(|series| match series.about {
            About::Reading(sensor) => Some(sensor),
            _ => None,
        })
        .map(|sensor| {
            let detectors = told.scenario.detectors.iter().enumerate().filter(|(_, it)| it.sensor == sensor);
            let on: Vec<Value> = detectors
                .filter_map(|(index, detector)| place(About::On(index)).map(|at| json!([at, detector.name])))
                .collect();
            json!({
                "name": told.scenario.sensors[sensor].name,
                "reading": place(About::Reading(sensor)),
                "likeliest": place(About::Expected(sensor)),
                "on": on,
            })
        })
        .collect()
}

/// What the values of a sensor with few of them mean.
fn names_of(told: &Told, about: About) -> Value {
    let (About::Reading(sensor) | About::Expected(sensor)) = about else { return Value::Null };
    let names = names(&told.scenario.sensors[sensor]);
    if names.is_empty() {
        return Value::Null;
    }
    names.iter().map(|(value, name)| (format!("{value}"), json!(name))).collect::<serde_json::Map<_, _>>().into()
}

fn value(value: f64) -> Value {
    if value == f64::INFINITY { json!(FAR) } else { json!(value.is_finite().then(|| rounded(value))) }
}
