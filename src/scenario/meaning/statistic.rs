//! Which keys a detector's statistic takes, and what they must mean together.

use super::{error, trouble};
use crate::scenario::error::Notes;
use crate::scenario::read::{Fields, Typed};

/// Statistics with the keys that they alone need, those that they also take, and an example of the first.
const KEYS: &[(&str, &[&str], &[&str], &str)] = &[
    ("level", &["on"], &["sense", "off"], "on = \"2.5 m\""),
    ("moving mean", &["samples", "on"], &["sense", "off"], "samples = 5"),
    ("moving median", &["samples", "on"], &["sense", "off"], "samples = 5"),
    ("approach rate", &["samples", "on_speed"], &["off_speed"], "on_speed = \"0.1 m/s\""),
    ("cusum", &["limit", "on"], &["sense", "off"], "limit = \"0.5 m\""),
    ("ewma", &["weight", "on"], &["sense", "off"], "weight = 0.2"),
    (
        "likelihood ratio",
        &["absent", "present", "spread", "false_alarm", "false_rest"],
        &["counts_at_most"],
        "false_alarm = 1e-6",
    ),
];

/// Every key that belongs to some statistics only.
const ALL: &[&str] = &[
    "samples",
    "sense",
    "on",
    "off",
    "on_speed",
    "off_speed",
    "limit",
    "weight",
    "absent",
    "present",
    "spread",
    "false_alarm",
    "false_rest",
    "counts_at_most",
];

pub(super) fn check(detector: &Fields, notes: &mut Notes) {
    let Some(statistic) = detector.text("statistic") else { return };
    let Some((name, needs, takes, example)) = KEYS.iter().find(|(name, ..)| *name == statistic) else { return };
    for key in ALL.iter().filter(|key| detector.given(key)) {
        if !needs.contains(key) && !takes.contains(key) {
            let others: Vec<&str> = KEYS
                .iter()
                .filter(|(_, a, b, _)| a.contains(key) || b.contains(key))
                .map(|(other, ..)| *other)
                .collect();
            error(
                notes,
                detector,
                key,
                format!("`{key}` does not go with the statistic \"{name}\""),
                &goes_with(&others),
            );
        }
    }
    for key in needs.iter().filter(|key| !detector.given(key)) {
        let message = format!("`{key}` is missing: the statistic \"{name}\" needs it");
        let help = if example.starts_with(key) { format!("add for example {example}") } else { String::new() };
        notes.error(detector.at, detector.path.clone(), trouble(message, &help));
    }
    match *name {
        "moving median" if detector.integer("samples").is_some_and(|count| count % 2 == 0) => {
            let count = detector.integer("samples").unwrap_or_default();
            error(
                notes,
                detector,
                "samples",
                format!("a moving median takes an odd number of readings, found {count}"),
                "",
            );
        }
        "approach rate" => approach_rate(detector, notes),
        "cusum" | "likelihood ratio" => decides_alone(name, detector, notes),
        _ => {}
    }
    if *name == "likelihood ratio"
        && let (Some(absent), Some(present)) = (detector.number("absent"), detector.number("present"))
        && absent == present
    {
        error(notes, detector, "present", "the readings with and without something there are the same", "");
    }
}

fn goes_with(statistics: &[&str]) -> String {
    format!("it goes with {}", crate::scenario::keys::quoted(statistics, " and "))
}

fn approach_rate(detector: &Fields, notes: &mut Notes) {
    if detector.switch.as_deref().is_some_and(|kind| !kind.ends_with("range")) {
        let message = "only a ranger has an approach rate";
        return error(notes, detector, "statistic", message, "use a moving mean, a cusum or an ewma for other sensors");
    }
    if detector.integer("samples").is_some_and(|count| count < 2) {
        error(notes, detector, "samples", "a speed needs at least 2 readings", "");
    }
    if let (Some(on), Some(off)) = (detector.number("on_speed"), detector.number("off_speed"))
        && off > on
    {
        error(notes, detector, "off_speed", "the off speed lies over the on speed", "it would go off as it goes on");
    }
}

/// These collect evidence themselves: a run rule on top would count the same evidence again.
fn decides_alone(name: &str, detector: &Fields, notes: &mut Notes) {
    for key in ["rule", "release"] {
        let single = matches!(detector.value(key), Some(Typed::Rule(1, 1)) | None);
        if detector.given(key) && !single {
            let message = format!("a {name} collects its own evidence and takes no run rule but \"1 of 1\"");
            error(notes, detector, key, message, "remove it; raise the limit or lower the error rates instead");
        }
    }
}
