//! `[[visitor]]` and `[[fault]]`.

use super::kind::{Kind, Range};
use super::mower::{BODY, SHARE, SOME_OF_A_DAY};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{DURATION, LENGTH, MASS, PER_DAY, PER_YEAR, SPEED};

/// Kinds of fault that concern one sensor.
const OF_A_SENSOR: &[&str] = &["sensor stuck", "sensor silent", "sensor noisy"];

/// `[[visitor]]`.
pub(super) const VISITOR: Section = Section {
    path: "visitor",
    form: Form::List,
    need: Need::Optional,
    switch: "",
    about: "Anything else that moves near the door.",
    keys: &[
        Key::new("name", Kind::Name, "Name; false openings are counted under it."),
        Key::new("per_day", Kind::Quantity(&PER_DAY, Range::within(0.0, 1000.0)), "Mean number of visits."),
        Key::new("hours", Kind::Numbers(24, Range::within(0.0, 1e6)), "Relative rate in each hour of the local day.")
            .absent("all hours alike"),
        Key::new("only", Kind::Choice(&["always", "door open", "mower away"]), "When it comes at all.")
            .default("\"always\""),
        Key::new("length", Kind::Quantity(&LENGTH, BODY), "Length along its path."),
        Key::new("width", Kind::Quantity(&LENGTH, BODY), "Width."),
        Key::new("height", Kind::Quantity(&LENGTH, BODY), "Height."),
        Key::new("mass", Kind::Quantity(&MASS, Range::within(0.0, 1000.0)), "Mass."),
        Key::new("reflectance", Kind::Number(Range::above(0.0, 1.0)), "Share of light that it reflects diffusely.")
            .default("0.4"),
        Key::new("soft", Kind::Flag, "Soft surface (fur, cloth, leaves): weak ultrasonic echo.").default("false"),
        Key::new("speed", Kind::Quantity(&SPEED, Range::within(0.01, 20.0)), "Walking speed."),
        Key::new("nearest", Kind::Spread(&LENGTH, Range::within(0.0, 20.0)), "Nearest distance from the door line."),
        Key::new(
            "sideways",
            Kind::Quantity(&LENGTH, Range::within(0.0, 20.0)),
            "Standard deviation of the sideways offset where it stops.",
        ),
        Key::new("dwell", Kind::Spread(&DURATION, SOME_OF_A_DAY), "How long it stays at the nearest point."),
        Key::new("enters", Kind::Number(SHARE), "Probability that it goes in if the door is open.").default("0"),
        Key::new("inside", Kind::Spread(&DURATION, SOME_OF_A_DAY), "How long it stays inside.")
            .default("{ mean = \"20 min\", spread = \"15 min\" }"),
    ],
};

/// `[[fault]]`.
pub(super) const FAULT: Section = Section {
    path: "fault",
    form: Form::List,
    need: Need::Optional,
    switch: "kind",
    about: "Something that stops working for a while.",
    keys: &[
        Key::new("name", Kind::Name, "Name, for the report."),
        Key::new(
            "kind",
            Kind::Choice(&["power", "network", "sensor stuck", "sensor silent", "sensor noisy"]),
            "What fails.",
        ),
        Key::new("sensor", Kind::NameOf("sensor"), "The sensor that fails.").only(OF_A_SENSOR),
        Key::new(
            "per_year",
            Kind::Quantity(&PER_YEAR, Range::within(0.0, 100_000.0)),
            "Mean number per year of working time.",
        ),
        Key::new("lasts", Kind::Spread(&DURATION, Range::above(0.0, 31_557_600.0)), "How long it lasts."),
        Key::new("noise_factor", Kind::Number(Range::within(1.0, 1000.0)), "Factor on the sensor's noise.")
            .default("4")
            .only(&["sensor noisy"]),
    ],
};
