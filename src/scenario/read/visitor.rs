//! `[[visitor]]` and `[[fault]]` as they are resolved.

use super::Fields;
use super::mower::spread;
use crate::scenario::visitor::{Fault, FaultKind, Only, Visitor};

pub(super) fn visitor(fields: &Fields) -> Option<Visitor> {
    Some(Visitor {
        name: fields.text("name")?.to_owned(),
        per_day: fields.number("per_day")?,
        hours: if fields.given("hours") { fields.numbers("hours")?.try_into().ok()? } else { [1.0; 24] },
        only: match fields.text("only")? {
            "door open" => Only::DoorOpen,
            "mower away" => Only::MowerAway,
            _ => Only::Always,
        },
        length_m: fields.number("length")?,
        width_m: fields.number("width")?,
        height_m: fields.number("height")?,
        mass_kg: fields.number("mass")?,
        reflectance: fields.number("reflectance")?,
        soft: fields.flag("soft")?,
        speed_m_s: fields.number("speed")?,
        nearest_m: fields.spread("nearest")?,
        sideways_m: fields.number("sideways")?,
        dwell: spread(fields, "dwell")?,
        enters: fields.number("enters")?,
        inside: spread(fields, "inside")?,
    })
}

/// `sensors` are the names of the sensors in their order.
pub(super) fn fault(fields: &Fields, sensors: &[&str]) -> Option<Fault> {
    let sensor = || fields.text("sensor").and_then(|name| sensors.iter().position(|other| *other == name));
    let kind = match fields.text("kind")? {
        "power" => FaultKind::Power,
        "network" => FaultKind::Network,
        "sensor stuck" => FaultKind::SensorStuck(sensor()?),
        "sensor silent" => FaultKind::SensorSilent(sensor()?),
        _ => FaultKind::SensorNoisy(sensor()?),
    };
    let noise_factor = if matches!(kind, FaultKind::SensorNoisy(_)) { fields.number("noise_factor")? } else { 1.0 };
    Some(Fault {
        name: fields.text("name")?.to_owned(),
        kind,
        per_year: fields.number("per_year")?,
        lasts: spread(fields, "lasts")?,
        noise_factor,
    })
}
