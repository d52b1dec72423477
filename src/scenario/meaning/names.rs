//! Names: given once, and known where they are used.

use std::collections::BTreeMap;

use super::error;
use crate::scenario::error::{Notes, Trouble, nearest};
use crate::scenario::measure::shorten;
use crate::scenario::read::Fields;

/// Most detectors; their states are kept in 64 bits.
const MOST_DETECTORS: usize = 64;

/// Names that conditions use for themselves.
const RESERVED: [&str; 2] = ["always", "never"];

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    for list in ["sensor", "detector", "strategy", "visitor", "fault"] {
        given_once(root, list, notes);
    }
    if let Some(drive) = root.child("drive") {
        given_once(drive, "part", notes);
    }
    for detector in root.entries("detector") {
        known(root, detector, "sensor", notes);
        if let Some(name) = detector.text("name").filter(|name| RESERVED.contains(name)) {
            let message = format!("a detector cannot be called \"{name}\": conditions use that word");
            error(notes, detector, "name", message, "");
        }
    }
    for fault in root.entries("fault").iter().chain(root.entries("failure")) {
        known(root, fault, "sensor", notes);
    }
    let mut on_bus = BTreeMap::new();
    for (number, device) in root.within("bus").map_or(&[][..], |bus| bus.entries("device")).iter().enumerate() {
        known(root, device, "sensor", notes);
        let Some(name) = device.text("sensor") else { continue };
        if let Some(first) = on_bus.insert(name, number + 1) {
            let message = format!("the sensor \"{}\" is on the bus twice", shorten(name));
            error(notes, device, "sensor", message, &format!("the other is device {first}"));
        }
    }
    if let Some(one_too_many) = root.entries("detector").get(MOST_DETECTORS) {
        let count = root.entries("detector").len();
        let message = format!("there are {count} detectors; {MOST_DETECTORS} at most are possible");
        error(notes, one_too_many, "name", message, "");
    }
    for strategy in root.entries("strategy") {
        for rule in ["open", "hold", "doorway", "close", "inside", "wet", "fallback"] {
            detectors_known(root, strategy, rule, notes);
        }
    }
}

fn given_once(root: &Fields, list: &str, notes: &mut Notes) {
    let mut seen = BTreeMap::new();
    for (number, entry) in root.entries(list).iter().enumerate() {
        let Some(name) = entry.text("name") else { continue };
        if let Some(first) = seen.insert(name, number + 1) {
            let message = format!("there are two of the name \"{}\" among the {}", shorten(name), plural(list));
            error(notes, entry, "name", message, &format!("the other is number {first}; rename one of them"));
        }
    }
}

fn plural(list: &str) -> String {
    match list {
        "strategy" => "strategies".to_owned(),
        other => format!("{other}s"),
    }
}

/// A sensor named by a detector or a fault.
fn known(root: &Fields, fields: &Fields, key: &str, notes: &mut Notes) {
    let Some(name) = fields.text(key) else { return };
    let names = root.names("sensor");
    if !names.contains(&name) {
        let help = if notes.crowded() { String::new() } else { advice(name, &names, "sensor") };
        error(notes, fields, key, format!("there is no sensor \"{}\"", shorten(name)), &help);
    }
}

fn detectors_known(root: &Fields, strategy: &Fields, rule: &str, notes: &mut Notes) {
    let names = root.names("detector");
    let sensors = root.names("sensor");
    let Some(condition) = strategy.condition(rule) else { return };
    condition.each_name(&mut |name, at| {
        if names.contains(&name) {
            return;
        }
        let mut trouble = Trouble::new(format!("there is no detector \"{}\"", shorten(name)));
        if sensors.contains(&name) {
            trouble = trouble.help(format!("\"{}\" is a sensor; a rule names detectors", shorten(name)));
        } else if !notes.crowded() {
            trouble = trouble.help(advice(name, &names, "detector"));
        }
        notes.error(at, strategy.key(rule), trouble);
    });
}

/// Advice on a name that is not among `names`.
fn advice(name: &str, names: &[&str], what: &str) -> String {
    match nearest(name, names.iter().copied()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None if names.is_empty() => format!("there are no {what}s"),
        None => {
            let known: Vec<String> = names.iter().take(10).map(|name| format!("\"{name}\"")).collect();
            let more = if names.len() > 10 { ", ..." } else { "" };
            format!("the {what}s are {}{more}", known.join(", "))
        }
    }
}
