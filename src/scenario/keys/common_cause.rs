//! `[common_cause]`.

use super::kind::{Kind, Range};
use super::mower::SHARE;
use super::{Form, Key, Need, Section};

/// `[common_cause]`.
pub(super) const COMMON_CAUSE: Section = Section {
    path: "common_cause",
    form: Form::Table,
    need: Need::Optional,
    switch: "",
    about: "What spoils all sensors at once (power, dirt or dew on both windows, fog) and no figure of noise shows.",
    keys: &[
        Key::new(
            "floor",
            Kind::Number(Range::within(0.0, 0.5)),
            "Share of arrivals that go unnoticed by such causes: no chance of a missed arrival is shown below it alone; 1e-5 to \
             1e-3 are common practice unless logs support less.",
        )
        .default("1e-4"),
        Key::new(
            "beta",
            Kind::Number(SHARE),
            "Share of a sensor's misses whose cause the other sensors at the door share; 0.01 to 0.2 are common practice.",
        )
        .default("0.05"),
    ],
};
