//! `[site]` and `[season]` as they are resolved.

use super::{Fields, Typed};
use crate::scenario::season::{Calendar, Site};

pub(super) fn site(fields: &Fields) -> Option<Site> {
    Some(Site {
        latitude_deg: fields.number("latitude")?,
        longitude_deg: fields.number("longitude")?,
        time_zone: fields.text("time_zone")?.to_owned(),
        door_faces_deg: fields.number("door_faces")?,
        wind_factor: fields.number("wind_factor")?,
    })
}

pub(super) fn calendar(fields: &Fields) -> Option<Calendar> {
    Some(Calendar { first_day: date(fields, "from")?, last_day: date(fields, "to")? })
}

/// The date of a key.
pub(crate) fn date(fields: &Fields, key: &str) -> Option<jiff::civil::Date> {
    match fields.value(key)? {
        Typed::Date(date) => Some(*date),
        _ => None,
    }
}
