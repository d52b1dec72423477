//! `[[failure]]`: names given once, sensors that can be hit, modes that have something to hit.

use std::collections::BTreeSet;

use super::{error, metres, trouble};
use crate::scenario::error::Notes;
use crate::scenario::failure::{Act, Hits, Target, mode};
use crate::scenario::measure::shorten;
use crate::scenario::read::Fields;
use crate::scenario::read::failure::name;

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    let mut names = BTreeSet::new();
    let mut idle: Vec<&str> = Vec::new();
    let mut first_idle = None;
    for fields in root.entries("failure") {
        if let Some(name) = name(fields)
            && !names.insert(name)
        {
            let message = format!("there are two of the name \"{}\" among the failures", shorten(name));
            error(notes, fields, "name", message, "give one of them another name");
        }
        let Some(mode) = fields.text("mode").and_then(mode) else { continue };
        distances(root, fields, mode.act, notes);
        let fits = |sensor: &&Fields| {
            sensor.text("kind").is_some_and(|kind| mode.hits.include(Target::written(kind, sensor.text("on"))))
        };
        if let Some(wanted) = fields.text("sensor") {
            let sensor = root.entries("sensor").iter().find(|sensor| sensor.text("name") == Some(wanted));
            if sensor.is_some_and(|sensor| !fits(&sensor)) {
                let message = format!("{} cannot hit \"{}\"", mode.name, shorten(wanted));
                error(notes, fields, "sensor", message, &format!("it hits {}", mode.hits.words()));
            }
        } else if mode.hits != Hits::Nothing && !root.entries("sensor").iter().any(|sensor| fits(&sensor)) {
            idle.push(mode.name);
            first_idle = first_idle.or(Some(fields));
        }
    }
    if let Some(fields) = first_idle {
        let message = format!("no sensor here can be hit by {}", idle.join(", "));
        notes.warning(fields.at, fields.path.clone(), trouble(message, "these failures change nothing"));
    }
}

/// What lies in the way has a height, and a mower that stops short is past the door line.
fn distances(root: &Fields, fields: &Fields, act: Act, notes: &mut Notes) {
    let Some(distance_m) = fields.number("distance").filter(|_| fields.given("distance")) else { return };
    match act {
        Act::Object | Act::Hunting if distance_m <= 0.0 => {
            error(notes, fields, "distance", "what lies in the way has no height", "give a height above 0 m");
        }
        Act::HalfOn => {
            let depth_m = root.within("mower.dock").and_then(|dock| dock.number("depth"));
            if let Some(depth_m) = depth_m.filter(|depth_m| distance_m >= *depth_m) {
                let message = format!("{} short of its dock the mower is not past the door line", metres(distance_m));
                let help = format!("give less than the depth of the dock, {}", metres(depth_m));
                error(notes, fields, "distance", message, &help);
            }
        }
        _ => {}
    }
}
