//! Sensors and detectors: do they look at what they should, and can their levels be reached?

use super::sight::{Box3, meets};
use super::{error, metres, statistic, trouble, warning};
use crate::scenario::error::Notes;
use crate::scenario::keys::{Kind, Per, Range, reading_measure};
use crate::scenario::measure::{DURATION, LENGTH, MASS};
use crate::scenario::read::sensor::{period, span};
use crate::scenario::read::{Fields, strategy as read_strategy, strategy::says};
use crate::scenario::sensor::{Aim, StatusCode, share_unheard};
use crate::scenario::strategy::Sense;

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    for sensor in root.entries("sensor") {
        sampling(sensor, notes);
        noise(sensor, notes);
        match sensor.switch.as_deref() {
            Some("optical range" | "photon range" | "ultrasonic range") => ranger(root, sensor, notes),
            Some("break beam") => beam(root, sensor, notes),
            Some("platform load") => platform(root, sensor, notes),
            Some("tilt") => tilt(root, sensor, notes),
            Some("status") => believed(root, sensor, notes),
            _ => {}
        }
    }
    for detector in root.entries("detector") {
        levels(root, detector, notes);
    }
}

/// A tilt sensor has its noise, or what it follows from.
fn noise(sensor: &Fields, notes: &mut Notes) {
    match (sensor.given("noise_density"), sensor.given("bandwidth")) {
        (false, false) => {}
        (true, true) if sensor.given("noise") => {
            let message = "a tilt sensor has either a noise or the noise density and bandwidth from which it follows";
            error(notes, sensor, "noise", message, "remove one of the two");
        }
        (true, true) => {}
        (density, _) => {
            let (given, missing) =
                if density { ("noise_density", "bandwidth") } else { ("bandwidth", "noise_density") };
            let message = format!("the noise follows from a density and a bandwidth, but there is no `{missing}`");
            error(notes, sensor, given, message, "add it, or give the noise itself");
        }
    }
}

fn sampling(sensor: &Fields, notes: &mut Notes) {
    match (sensor.given("rate"), sensor.given("period")) {
        (true, true) => {
            return error(notes, sensor, "period", "a sensor has either a rate or a period", "remove one of the two");
        }
        (false, false) if !matches!(sensor.switch.as_deref(), Some("status" | "clock") | None) => {
            let message = "the sensor has neither a rate nor a period";
            return notes.error(sensor.at, sensor.path.clone(), trouble(message, "add for example rate = \"10 Hz\""));
        }
        _ => {}
    }
    let seconds = sensor.number("period").or_else(|| sensor.number("rate").map(|rate| 1.0 / rate));
    if let Some(seconds) = seconds
        && period(sensor).is_none()
    {
        let key = if sensor.given("period") { "period" } else { "rate" };
        let message = "the time between two samples is not a whole number of microseconds";
        error(notes, sensor, key, message, &format!("the nearest is period = \"{} us\"", (seconds * 1e6).round()));
    }
}

/// The rangers that look away from the mower's path, of a scenario of which parts could not be read: those alone whose aim is
/// written where it could be.
pub(super) fn aims(root: &Fields, notes: &mut Notes) {
    for sensor in root.entries("sensor") {
        let ranger = matches!(sensor.switch.as_deref(), Some("optical range" | "photon range" | "ultrasonic range"));
        if ranger && ["position", "yaw", "cone", "farthest"].iter().all(|key| sensor.given(key)) {
            looks_away(root, sensor, notes);
        }
    }
}

/// A quantity's value; the bound of what it may be, `of` its range, where it can't be read.
fn or_bound(fields: &Fields, key: &str, of: fn(&Range) -> f64) -> Option<f64> {
    fields.number(key).or_else(|| match &fields.section.key(key)?.kind {
        Kind::Quantity(_, range) => Some(of(range)),
        _ => None,
    })
}

/// Mounting of a ranger. What can't be read of its cone and its range is taken as wide as it may be, so that it looks away
/// only if it does so in any case.
pub(super) fn aim(sensor: &Fields) -> Option<Aim> {
    Some(Aim {
        position_m: sensor.numbers("position")?.try_into().ok()?,
        yaw_deg: sensor.number("yaw")?,
        pitch_deg: sensor.number("pitch")?,
        half_cone_deg: or_bound(sensor, "cone", |range| range.max)? / 2.0,
        nearest_m: or_bound(sensor, "nearest", |range| range.min)?,
        farthest_m: or_bound(sensor, "farthest", |range| range.max)?,
    })
}

/// The space that the mower's body sweeps: outside from the waiting point on, and inside to the dock. What can't be read is
/// taken as large as it may be.
pub(super) fn lanes(root: &Fields) -> Option<[Box3; 2]> {
    let mower = root.child("mower")?;
    let most = |key: &str| or_bound(mower, key, |range| range.max);
    // A mower that fits its door is no larger than the opening.
    let opening = |key: &str| root.child("door").and_then(|door| door.number(key));
    let half = mower.number("width").or_else(|| opening("width")).or_else(|| most("width"))? / 2.0;
    let height = mower.number("height").or_else(|| opening("height")).or_else(|| most("height"))?;
    let length = most("length")?;
    let waits_at = or_bound(root.within("mower.shut_door")?, "waits_at", |range| range.min)?;
    let from = or_bound(root.within("mower.approach")?, "from", |range| range.max)?;
    let depth = or_bound(root.within("mower.dock")?, "depth", |range| range.max)?;
    let lane = |near: f64, far: f64| Box3 { from: [near, -half, 0.0], to: [far, half, height] };
    (waits_at < from).then(|| [lane(waits_at, from + length), lane(-depth, 0.0)])
}

fn ranger(root: &Fields, sensor: &Fields, notes: &mut Notes) {
    if let (Some(nearest), Some(farthest)) = (sensor.number("nearest"), sensor.number("farthest"))
        && nearest >= farthest
    {
        let message =
            format!("the shortest reading ({}) is not less than the longest ({})", metres(nearest), metres(farthest));
        return error(notes, sensor, "nearest", message, "");
    }
    if let (Some(sun), Some(nearest), Some(farthest)) =
        (sensor.number("farthest_sun"), sensor.number("nearest"), sensor.number("farthest"))
        && !(nearest..=farthest).contains(&sun)
    {
        let message = format!("the reach in the sun must lie between {} and {}", metres(nearest), metres(farthest));
        error(notes, sensor, "farthest_sun", message, "light only ever shortens it");
    }
    looks_away(root, sensor, notes);
}

fn looks_away(root: &Fields, sensor: &Fields, notes: &mut Notes) {
    if let (Some(aim), Some(lanes)) = (aim(sensor), lanes(root))
        && !lanes.iter().any(|lane| meets(&aim, lane))
    {
        let message =
            "the sensor looks away from the mower's path: its cone meets neither the way home nor the way to the dock";
        let help = "the way is as wide and high as the mower; yaw 0 deg looks outwards, 180 deg inwards; \
                    a negative pitch looks down";
        error(notes, sensor, aim_key(sensor), message, help);
    }
}

/// The key of a ranger's aim that its file holds.
pub(super) fn aim_key(sensor: &Fields) -> &'static str {
    if sensor.given("yaw") { "yaw" } else { "position" }
}

fn beam(root: &Fields, sensor: &Fields, notes: &mut Notes) {
    let Some(mower) = root.child("mower") else { return };
    if let (Some(z), Some(height)) = (sensor.number("z"), mower.number("height"))
        && z > height
    {
        let message = format!("the beam at {} passes over the mower, which is {} high", metres(z), metres(height));
        error(notes, sensor, "z", message, "");
    }
    if needs(sensor, "span", notes)
        && let (Some((from, to)), Some(width)) = (span(sensor), mower.number("width"))
        && (from.max(to) < -width / 2.0 || from.min(to) > width / 2.0 || from == to)
    {
        let message = "the beam does not cross the mower's path";
        error(notes, sensor, "span", message, "the path is as wide as the mower, around y = 0");
    }
}

/// A sensor that believes nothing for a larger share of the time than this is hardly meant so.
const UNHEARD_TOO_LONG: f64 = 0.01;

/// A polled status that is hardly believed is worth a word. A pushed message that is forgotten during a run leaves a rule without
/// it, unless the next one comes through.
fn believed(root: &Fields, sensor: &Fields, notes: &mut Notes) {
    let Some(run) = root.child("mower").and_then(|mower| mower.spread("run")).map(|run| run.0) else { return };
    let (Some(poll), Some(stale)) = (sensor.number("poll"), sensor.number("stale_after")) else { return };
    let loss = sensor.number("loss").unwrap_or_default();
    let unheard = if poll > 0.0 { share_unheard(stale / poll, loss) } else { 0.0 };
    if unheard > UNHEARD_TOO_LONG {
        let message = format!(
            "it polls every {}, {} % of the polls are lost, and an answer is believed for {}: for {:.0} % of the time it \
             believes nothing",
            DURATION.show(poll),
            libm::round(1_000.0 * loss) / 10.0,
            DURATION.show(stale),
            100.0 * unheard
        );
        let key = if sensor.given("stale_after") { "stale_after" } else { "name" };
        warning(notes, sensor, key, message, "believe an answer for the time of some polls, or poll more often");
    }
    let name = sensor.text("name");
    let follows = root.entries("detector").iter().any(|detector| {
        detector.text("sensor") == name && name.is_some() && says(detector).contains(&StatusCode::Mowing)
    });
    if follows && poll <= 0.0 && stale < run {
        let message = format!(
            "a message is believed for {}, a run lasts {} on the average: a detector that says \"mowing\" is off again \
             before the mower is home, and one lost message leaves it so",
            DURATION.show(stale),
            DURATION.show(run)
        );
        let help = "believe it for longer than a run, or poll";
        warning(notes, sensor, if sensor.given("stale_after") { "stale_after" } else { "name" }, message, help);
    }
}

/// Whether a key that only some kinds need is there.
fn needs(sensor: &Fields, key: &str, notes: &mut Notes) -> bool {
    if !sensor.given(key) {
        let message = format!("`{key}` is missing");
        notes.error(sensor.at, sensor.path.clone(), trouble(message, "this kind of sensor needs it"));
    }
    sensor.given(key)
}

fn platform(root: &Fields, sensor: &Fields, notes: &mut Notes) {
    if !needs(sensor, "span", notes) {
        return;
    }
    let Some((from, to)) = span(sensor) else { return };
    if from >= to {
        return error(notes, sensor, "span", "the platform must reach from the smaller x to the larger", "");
    }
    let Some(depth) = root.within("mower.dock").and_then(|dock| dock.number("depth")) else { return };
    if from < -depth || to > 0.0 {
        let message =
            format!("the platform reaches out of the shelter, which lies between x = {} and 0 m", metres(-depth));
        error(notes, sensor, "span", message, "x is negative inside; the dock is the far end");
    }
}

fn tilt(root: &Fields, sensor: &Fields, notes: &mut Notes) {
    match sensor.text("on") {
        Some("platform") => {
            needs(sensor, "tilt_per_load", notes);
            platform(root, sensor, notes);
        }
        Some("panel") => {
            for key in ["tilt_per_load", "span"] {
                if sensor.given(key) {
                    error(notes, sensor, key, format!("`{key}` belongs to a tilt sensor on a platform"), "");
                }
            }
            let kind = root.within("door.mechanism").and_then(|door| door.text("kind"));
            if let Some(kind) = kind.filter(|kind| !matches!(*kind, "double slider" | "top flap")) {
                let message = format!("the panel of a {kind} never tilts, so this sensor would never see anything");
                error(notes, sensor, "on", message, "an end switch sees whether the door is shut");
            }
        }
        _ => {}
    }
}

fn levels(root: &Fields, detector: &Fields, notes: &mut Notes) {
    statistic::check(detector, notes);
    let (Some(on), Some(sense)) = (detector.number("on"), read_strategy::sense(detector)) else { return };
    if let Some(off) = detector.number("off") {
        let (wrong, side) = match sense {
            Sense::Below => (off < on, "under"),
            Sense::Above => (off > on, "over"),
        };
        if wrong {
            let word = if sense == Sense::Below { "below" } else { "above" };
            let measure = detector.switch.as_deref().and_then(|kind| reading_measure(kind, Per::One));
            let show = |level: f64| measure.map_or(level.to_string(), |measure| measure.show(level));
            let message = format!(
                "the off level ({}) lies {side} the on level ({}) of a detector that is on {word} it",
                show(off),
                show(on)
            );
            error(
                notes,
                detector,
                "off",
                message,
                "it would go off as it goes on; give the other side, or leave it out",
            );
        }
    }
    let Some(name) = detector.text("sensor") else { return };
    let Some(sensor) = root.entries("sensor").iter().find(|sensor| sensor.text("name") == Some(name)) else { return };
    match sensor.switch.as_deref() {
        Some("optical range" | "photon range" | "ultrasonic range") => {
            if let (Some(nearest), Some(farthest)) = (sensor.number("nearest"), sensor.number("farthest"))
                && !(nearest..=farthest).contains(&on)
            {
                let message = format!(
                    "the sensor never reads the on level of {}: its readings lie between {} and {}",
                    LENGTH.show(on),
                    metres(nearest),
                    metres(farthest)
                );
                error(notes, detector, "on", message, "");
            }
        }
        Some("platform load") if sense == Sense::Above => {
            if let Some(mass) = root.child("mower").and_then(|mower| mower.number("mass"))
                && on > mass
            {
                let message =
                    format!("the mower ({}) is lighter than the on level of {}", MASS.show(mass), MASS.show(on));
                error(notes, detector, "on", message, "");
            }
        }
        _ => {}
    }
}
