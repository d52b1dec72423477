//! `[mower]` as it is resolved.

use super::{Fields, Typed};
use crate::scenario::mower::{
    Approach, Axles, Departure, Dock, Mower, RainHabit, RainManners, ShutDoor, Spread, Window,
};

pub(super) fn mower(fields: &Fields) -> Option<Mower> {
    Some(Mower {
        length_m: fields.number("length")?,
        width_m: fields.number("width")?,
        height_m: fields.number("height")?,
        mass_kg: fields.number("mass")?,
        reflectance: fields.number("reflectance")?,
        axles: if fields.given("axles") { Some(axles(fields)?) } else { None },
        windows: fields.entries("windows").iter().map(window).collect::<Option<_>>()?,
        run: spread(fields, "run")?,
        charge: spread(fields, "charge")?,
        lawn_s: fields.number("lawn")?,
        start_delay_s: fields.number("start_delay")?,
        unscheduled_per_day: fields.number("unscheduled")?,
        approach: approach(fields.child("approach")?)?,
        departure: departure(fields.child("departure")?)?,
        shut_door: shut_door(fields.child("shut_door")?)?,
        dock: dock(fields.child("dock")?)?,
        rain: rain(fields.child("rain")?)?,
    })
}

/// The axles, if they are given.
pub(crate) fn axles(fields: &Fields) -> Option<Axles> {
    let behind_nose_m = fields.numbers("axles")?.try_into().ok()?;
    Some(Axles { behind_nose_m, rear_share: fields.number("rear_share")? })
}

/// A spread of durations.
pub(super) fn spread(fields: &Fields, key: &str) -> Option<Spread> {
    fields.spread(key).map(|(mean_s, sd_s)| Spread { mean_s, sd_s })
}

/// A time of day, seconds after midnight.
pub(crate) fn seconds(fields: &Fields, key: &str) -> Option<i32> {
    match fields.value(key)? {
        Typed::Seconds(seconds) => Some(*seconds),
        _ => None,
    }
}

fn window(fields: &Fields) -> Option<Window> {
    let Typed::Days(days) = fields.value("days")? else { return None };
    Some(Window { days: *days, from_s: seconds(fields, "from")?, to_s: seconds(fields, "to")? })
}

fn approach(fields: &Fields) -> Option<Approach> {
    Some(Approach {
        way_home: spread(fields, "way_home")?,
        from_m: fields.number("from")?,
        speed_m_s: fields.number("speed")?,
        slow_from_m: fields.number("slow_from")?,
        slow_speed_m_s: fields.number("slow_speed")?,
        speed_spread: fields.number("speed_spread")?,
        sideways_m: fields.number("sideways")?,
    })
}

fn departure(fields: &Fields) -> Option<Departure> {
    Some(Departure {
        notice_s: fields.number("notice")?,
        patience_s: fields.number("patience")?,
        speed_m_s: fields.number("speed")?,
    })
}

fn shut_door(fields: &Fields) -> Option<ShutDoor> {
    Some(ShutDoor {
        waits_at_m: fields.number("waits_at")?,
        patience_s: fields.number("patience")?,
        retries: fields.count("retries")?,
        back_off_m: fields.number("back_off")?,
        bumps: fields.flag("bumps")?,
        bump_force_n: fields.number("bump_force")?,
        help_after_s: fields.number("help_after")?,
    })
}

fn dock(fields: &Fields) -> Option<Dock> {
    Some(Dock {
        depth_m: fields.number("depth")?,
        failure: fields.number("failure")?,
        back_off_m: fields.number("back_off")?,
        attempts: fields.count("attempts")?,
    })
}

fn rain(fields: &Fields) -> Option<RainManners> {
    Some(RainManners {
        habit: match fields.text("habit")? {
            "go home" => RainHabit::GoHome,
            "stay home" => RainHabit::StayHome,
            _ => RainHabit::CarryOn,
        },
        reacts_after_s: fields.number("reacts_after")?,
        resumes_after_s: fields.number("resumes_after")?,
    })
}
