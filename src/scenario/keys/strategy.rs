//! `[[detector]]`, `[controller]`, `[[strategy]]`.

use super::kind::{Kind, Per, Range};
use super::mower::{DAY, SOME_OF_A_DAY};
use super::sensor::ANALOGUE;
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{DURATION, FORCE};

/// What a mower can say of itself, in the order of the resolved codes.
pub const STATUS_CODES: &[&str] = &["docked", "leaving", "mowing", "returning", "error"];

/// `[[detector]]`. Which keys apply depends on the kind of its sensor.
pub(super) const DETECTOR: Section = Section {
    path: "detector",
    form: Form::List,
    need: Need::Required,
    switch: "sensor",
    about: "A detector: one sensor's readings into on or off.",
    keys: &[
        Key::new("name", Kind::Name, "Name, for conditions."),
        Key::new("sensor", Kind::NameOf("sensor"), "Its sensor."),
        Key::new(
            "statistic",
            Kind::Choice(&["level", "moving mean", "moving median"]),
            "What it computes from the readings.",
        )
        .default("\"level\"")
        .only(ANALOGUE),
        Key::new("samples", Kind::Integer(1, 99), "How many readings a moving mean or median takes; odd for a median.")
            .absent("required for a moving mean or median")
            .only(ANALOGUE),
        Key::new("sense", Kind::Choice(&["below", "above"]), "On which side of the level it is on.")
            .absent("\"below\" for rangers, \"above\" for the rest")
            .only(ANALOGUE),
        Key::new("on", Kind::Reading(Per::One, Range::within(-1e6, 1e6)), "Level at which it goes on.").only(ANALOGUE),
        Key::new("off", Kind::Reading(Per::One, Range::within(-1e6, 1e6)), "Level at which it goes off.")
            .absent("the same as `on`")
            .only(ANALOGUE),
        Key::new("says", Kind::Choices(STATUS_CODES), "Messages of the mower that turn it on.").only(&["status"]),
        Key::new("rule", Kind::Rule, "How many of the last samples must be on.").default("\"1 of 1\""),
        Key::new("release", Kind::Rule, "How many of the last samples must be off again.").absent("the same as `rule`"),
        Key::new("dropped", Kind::Choice(&["quiet", "hold", "reset"]), "What a sample without a reading does.")
            .default("\"quiet\""),
    ],
};

const CONTROLLER_KEYS: &[Key] = &[
    Key::new("open_at_least", Kind::Quantity(&DURATION, DAY), "Least time open before closing.").default("\"10 s\""),
    Key::new(
        "open_at_most",
        Kind::QuantityOr("never", &DURATION, SOME_OF_A_DAY),
        "Longest time open before closing is tried although the strategy holds.",
    )
    .default("\"never\""),
    Key::new("warning", Kind::Quantity(&DURATION, Range::within(0.0, 600.0)), "Warning before closing begins.")
        .default("\"2 s\""),
    Key::new(
        "stroke_timeout",
        Kind::Number(Range::within(1.0, 100.0)),
        "Time-out of a stroke, as a multiple of its computed time.",
    )
    .default("1.5"),
    Key::new(
        "retry_after",
        Kind::Quantity(&DURATION, Range::within(0.0, 86_400.0)),
        "Pause before a failed or reversed stroke is tried again.",
    )
    .default("\"10 s\""),
    Key::new("retries", Kind::Integer(0, 1000), "Failed strokes in a row before it waits for a person.").default("3"),
    Key::new(
        "fault_cleared_after",
        Kind::Quantity(&DURATION, Range::above(0.0, 2_592_000.0)),
        "How long a person takes to clear a fault.",
    )
    .default("\"12 h\""),
    Key::new(
        "obstruction_force",
        Kind::Quantity(&FORCE, Range::above(0.0, 10_000.0)),
        "Force above the computed one that counts as an obstacle.",
    )
    .default("\"60 N\""),
    Key::new(
        "obstruction_reaction",
        Kind::Quantity(&DURATION, Range::within(0.0, 10.0)),
        "Time from contact to the reversal of the motor.",
    )
    .default("\"100 ms\""),
    Key::new(
        "after_power_loss",
        Kind::Choice(&["open", "stay"]),
        "What it does when a stroke was cut off by a power loss.",
    )
    .default("\"open\""),
    Key::new(
        "on_dead_sensor",
        Kind::Choice(&["hold open", "ignore"]),
        "What it does when a sensor is known to be dead.",
    )
    .default("\"hold open\""),
    Key::new(
        "dead_after",
        Kind::Quantity(&DURATION, Range::above(0.0, 864_000.0)),
        "How long a sensor must be silent before it is known to be dead.",
    )
    .default("\"5 s\""),
];

/// `[controller]`.
pub(super) const CONTROLLER: Section = Section {
    path: "controller",
    form: Form::Table,
    need: Need::Optional,
    switch: "",
    about: "Timings of the controller, for all strategies.",
    keys: CONTROLLER_KEYS,
};

/// `controller` of a strategy.
pub(super) const STRATEGY_CONTROLLER: Section = Section {
    path: "strategy.controller",
    form: Form::Table,
    need: Need::Override,
    switch: "",
    about: "Timings of this strategy alone, where they differ from [controller].",
    keys: CONTROLLER_KEYS,
};

/// `[[strategy]]`.
pub(super) const STRATEGY: Section = Section {
    path: "strategy",
    form: Form::List,
    need: Need::Required,
    switch: "",
    about: "A strategy: when the door opens, stays open and may close.",
    keys: &[
        Key::new("name", Kind::Name, "Name."),
        Key::new("about", Kind::Line, "One line for the report.").default("\"\""),
        Key::new("open", Kind::Condition, "Asks for the door while it holds."),
        Key::new("hold", Kind::Condition, "Keeps an open door open while it holds.").default("\"never\""),
        Key::new("doorway", Kind::Condition, "The doorway is occupied while it holds: the door does not close.")
            .default("\"never\""),
        Key::new("close", Kind::Condition, "Allows closing while it holds.").default("\"always\""),
    ],
};
