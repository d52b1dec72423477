//! Top of the file, `[site]`, `[season]`.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::ANGLE;

/// Top of the file.
pub(super) const ROOT: Section = Section {
    path: "",
    form: Form::Table,
    need: Need::Required,
    switch: "",
    about: "What the scenario is called and which parts it is made of.",
    keys: &[
        Key::new(
            "include",
            Kind::Files,
            "Files read before this one, relative to it; this file wins over them key by key.",
        )
        .absent("nothing is included"),
        Key::new("name", Kind::FolderName, "Name of the scenario and of its folder of results.")
            .absent("the name of the file"),
        Key::new("about", Kind::Line, "One line on what the scenario is about.").default("\"\""),
    ],
};

/// `[site]`.
pub(super) const SITE: Section = Section {
    path: "site",
    form: Form::Table,
    need: Need::Required,
    switch: "",
    about: "Where the shelter stands and how it is turned.",
    keys: &[
        Key::new("latitude", Kind::Quantity(&ANGLE, Range::within(-90.0, 90.0)), "Geographic latitude, north positive."),
        Key::new("longitude", Kind::Quantity(&ANGLE, Range::within(-180.0, 180.0)), "Geographic longitude, east positive."),
        Key::new("time_zone", Kind::TimeZone, "Time zone whose clock the timetable follows, daylight saving included."),
        Key::new(
            "door_faces",
            Kind::Quantity(&ANGLE, Range::within(0.0, 360.0)),
            "Compass direction that the door faces, clockwise from north.",
        )
        .default("\"180 deg\""),
        Key::new(
            "wind_factor",
            Kind::Number(Range::within(0.0, 2.0)),
            "Wind at the door over the wind in the weather record; half is common practice for door height in a garden.",
        )
        .default("0.5"),
    ],
};

/// `[season]`.
pub(super) const SEASON: Section = Section {
    path: "season",
    form: Form::Table,
    need: Need::Required,
    switch: "",
    about: "The days that every season plays, at most 400.",
    keys: &[Key::new("from", Kind::Date, "First day."), Key::new("to", Kind::Date, "Last day, played to its end.")],
};
