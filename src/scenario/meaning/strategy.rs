//! Strategies: will the door open, and is the doorway watched?

use super::sensing::{aim, aim_key, lanes};
use super::sight::meets;
use super::{error, warning};
use crate::scenario::error::Notes;
use crate::scenario::measure::shorten;
use crate::scenario::read::condition::Written;
use crate::scenario::read::{Fields, strategy::says};
use crate::scenario::sensor::StatusCode;

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    for strategy in root.entries("strategy") {
        if !strategy.given("doorway") || matches!(strategy.condition("doorway"), Some(Written::Never)) {
            let message = "this strategy has no doorway rule: the door may close on whatever stands in it";
            let help = "name a detector that sees the doorway, for example a break beam";
            warning(notes, strategy, if strategy.given("doorway") { "doorway" } else { "name" }, message, help);
        }
        if matches!(strategy.condition("close"), Some(Written::Never)) {
            warning(notes, strategy, "close", "with this rule the door never closes", "");
        }
        opening(root, strategy, notes);
    }
}

fn opening(root: &Fields, strategy: &Fields, notes: &mut Notes) {
    let Some(open) = strategy.condition("open") else { return };
    if matches!(open, Written::Never) {
        return warning(notes, strategy, "open", "with this rule the door never opens", "");
    }
    if open.needs_no_detector() {
        return;
    }
    // Anything unknown or not read whole counts as looking: it has its own error.
    let (mut notices, mut sees, mut turned) = (false, false, Vec::new());
    open.each_name(&mut |name, _| {
        let detector = root.entries("detector").iter().find(|detector| detector.text("name") == Some(name));
        match detector.map_or(Outlook::Sees, |detector| outlook(root, detector)) {
            Outlook::Sees => (notices, sees) = (true, true),
            Outlook::Told => notices = true,
            Outlook::Turned(sensor) => turned.push((sensor, name.to_owned(), AWAY)),
            Outlook::Behind(sensor) => turned.push((sensor, name.to_owned(), BEHIND)),
            Outlook::Elsewhere => {}
        }
    });
    for (sensor, _, (why, help)) in turned.iter().filter(|_| !notices) {
        let message = format!("{why}, and an opening rule has nothing else that would notice an arrival");
        error(notes, sensor, aim_key(sensor), message, help);
    }
    for (sensor, name, (why, help)) in turned.iter().filter(|_| notices && !sees) {
        let message = format!("{why}: detector \"{}\" of an opening rule never sees an arrival", shorten(name));
        let help = format!("fine if it is there for what happens inside; {help}");
        warning(notes, sensor, aim_key(sensor), message, &help);
    }
    if !notices && turned.is_empty() {
        let message = "no detector of the opening rule ever notices the mower's way home: every arrival will be missed";
        let help = "add a ranger or beam that looks at it, the status \"returning\", or a clock";
        warning(notes, strategy, "open", message, help);
    }
}

/// Why a ranger doesn't see the way home, and what to do.
type Unseen = (&'static str, &'static str);
const AWAY: Unseen = ("the sensor looks away from the mower's way home", "yaw 0 deg looks outwards, 180 deg inwards");
const BEHIND: Unseen = (
    "the sensor stands inside and looks out, where a shut door hides the mower's way home",
    "a sensor for arrivals stands before the door line, at an x of 0 m or more",
);

/// What a detector has to do with the mower's way home.
enum Outlook<'f> {
    /// Its sensor sees the mower before it reaches its waiting point, as far as can be known.
    Sees,
    /// It is told of it, or goes by the clock.
    Told,
    /// Its ranger sees nothing of the way home, but something inside.
    Turned(&'f Fields),
    /// Its ranger looks out from inside, so that a shut door hides the way home.
    Behind(&'f Fields),
    /// It notices other things.
    Elsewhere,
}

fn outlook<'f>(root: &'f Fields, detector: &Fields) -> Outlook<'f> {
    let Some(name) = detector.text("sensor") else { return Outlook::Sees };
    let Some(sensor) = root.entries("sensor").iter().find(|sensor| sensor.text("name") == Some(name)) else {
        return Outlook::Sees;
    };
    let door_height = root.child("door").and_then(|door| door.number("height"));
    match sensor.switch.as_deref() {
        Some("optical range" | "photon range" | "ultrasonic range") => match (aim(sensor), lanes(root)) {
            (Some(aim), Some([outside, inside])) if !meets(&aim, &outside) => {
                // Who sees neither has an error of his own.
                if meets(&aim, &inside) { Outlook::Turned(sensor) } else { Outlook::Elsewhere }
            }
            (Some(aim), _) if door_height.is_some_and(|height| aim.looks_through_door(height)) => {
                Outlook::Behind(sensor)
            }
            _ => Outlook::Sees,
        },
        Some("break beam") => match (sensor.number("x"), lanes(root)) {
            (Some(x), Some([outside, _])) if x < outside.from[0] => Outlook::Elsewhere,
            _ => Outlook::Sees,
        },
        Some("status") => {
            let says = says(detector);
            let home = says.iter().any(|code| matches!(code, StatusCode::Returning | StatusCode::Mowing));
            if says.is_empty() || home { Outlook::Told } else { Outlook::Elsewhere }
        }
        Some("platform load" | "tilt" | "end switch" | "rain gauge") => Outlook::Elsewhere,
        Some("clock") => Outlook::Told,
        _ => Outlook::Sees,
    }
}
