//! `[[failure]]`: names given once, sensors that can be hit, modes that have something to hit.

use std::collections::BTreeSet;

use super::{error, trouble};
use crate::scenario::error::Notes;
use crate::scenario::failure::{Hits, Target, mode};
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
