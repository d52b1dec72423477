//! The door against the mower; the drive's own figures.

use super::{error, metres, warning};
use crate::scenario::door::Gear;
use crate::scenario::error::Notes;
use crate::scenario::measure::{ANGLE, FORCE, MASS, TEMPERATURE};
use crate::scenario::read::{Fields, door};

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    let mechanism = root.within("door.mechanism");
    if let (Some(door), Some(mower)) = (root.child("door"), root.child("mower")) {
        clearance(door, "width", "wide", mower, "width", notes);
        clearance(door, "height", "high", mower, "height", notes);
        if let Some(mechanism) = mechanism {
            let side = if mechanism.text("kind") == Some("horizontal slide") { "width" } else { "height" };
            clearance(mechanism, "stroke", "long", mower, side, notes);
            angles(mechanism, notes);
        }
    }
    if let (Some(door), Some(mechanism), Some(drive)) = (root.child("door"), mechanism, root.child("drive")) {
        balance(door, mechanism, drive, notes);
    }
    if let Some(drive) = root.child("drive") {
        ratings(drive, notes);
    }
}

/// The opening, or the stroke, must exceed the mower.
fn clearance(fields: &Fields, key: &str, adjective: &str, mower: &Fields, side: &str, notes: &mut Notes) {
    let (Some(opening), Some(body)) = (fields.number(key), mower.number(side)) else { return };
    if opening <= body {
        let what = if key == "stroke" { "the stroke" } else { "the opening" };
        let message = format!("{what} is {} {adjective}, but the mower's {side} is {}", metres(opening), metres(body));
        error(notes, fields, key, message, &format!("it must be more than the mower's {side}"));
    }
}

/// A double slider's panel must swing up, not down.
fn angles(mechanism: &Fields, notes: &mut Notes) {
    if mechanism.text("kind") != Some("double slider") {
        return;
    }
    let (Some(shut), Some(open)) = (mechanism.number("shut_angle"), mechanism.number("open_angle")) else { return };
    if open <= shut || open > 90.0 {
        let message = format!("the panel would swing from {} to {}", ANGLE.show(shut), ANGLE.show(open));
        error(notes, mechanism, "open_angle", message, "it must be more than shut_angle and at most 90 deg");
    }
}

/// A counterweight heavier than the panel leaves a panel that must be driven shut.
fn balance(door: &Fields, mechanism: &Fields, drive: &Fields, notes: &mut Notes) {
    let (Some(panel), Some(counterweight)) = (door.number("mass"), mechanism.number("counterweight")) else { return };
    if counterweight > panel && drive.flag("pushes") == Some(false) {
        let message = format!(
            "the counterweight ({}) is heavier than the panel ({}), and the drive cannot push the door shut",
            MASS.show(counterweight),
            MASS.show(panel)
        );
        warning(notes, mechanism, "counterweight", message, "the door will not close by itself");
    }
}

fn ratings(drive: &Fields, notes: &mut Notes) {
    if let (Some(rated), Some((gear, figures, _))) = (drive.number("rated_force"), door::gear(drive))
        && rated > figures.stall_force_n
    {
        let (message, help) = match gear {
            Gear::Figures => ("the rated force is more than the stall force".to_string(), String::new()),
            Gear::Screw(..) | Gear::Drum(..) => {
                let (made_of, stall) =
                    (if matches!(gear, Gear::Drum(..)) { "drum" } else { "screw" }, figures.stall_force_n);
                // Rounded down, so that what is named is allowed.
                let allowed = FORCE.show((10.0 * stall).floor() / 10.0);
                let message =
                    format!("the rated force is more than the stall force of this motor with its {made_of}, {allowed}");
                (message, format!("it must be at most {allowed}"))
            }
        };
        error(notes, drive, "rated_force", message, &help);
    }
    if let (Some(idle), Some(stall)) = (drive.number("no_load_current"), drive.number("stall_current"))
        && idle >= stall
    {
        error(notes, drive, "no_load_current", "the no-load current is not less than the stall current", "");
    }
    if let (Some(limit), Some(idle)) = (drive.number("current_limit"), drive.number("no_load_current"))
        && limit <= idle
    {
        error(
            notes,
            drive,
            "current_limit",
            "the current limit is not more than the no-load current",
            "the motor could not even turn",
        );
    }
    let Some(heat) = drive.child("heat") else { return };
    if let (Some(trips), Some(resets)) = (heat.number("trips_at"), heat.number("resets_at"))
        && resets >= trips
    {
        let message = format!(
            "the cut-out would close again at {} although it opens at {}",
            TEMPERATURE.show(resets),
            TEMPERATURE.show(trips)
        );
        error(notes, heat, "resets_at", message, "it must be below trips_at");
    }
}
