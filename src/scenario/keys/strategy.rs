//! `[[detector]]`, `[controller]`, `[[strategy]]`.

use super::controller::CONTROLLER_KEYS;
use super::kind::{Kind, Per, Range};
use super::sensor::{ANALOGUE, RANGERS};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::SPEED;

/// What a mower can say of itself, in the order of the resolved codes.
pub const STATUS_CODES: &[&str] = &["docked", "leaving", "mowing", "returning", "error"];

/// What a detector can compute.
pub const STATISTICS: &[&str] =
    &["level", "moving mean", "moving median", "approach rate", "cusum", "ewma", "likelihood ratio"];

const SIGNED: Range = Range::within(-1e6, 1e6);
const SPEEDS: Range = Range::above(0.0, 100.0);
const ERROR_RATE: Range = Range::within(1e-12, 0.4);

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
        Key::new("statistic", Kind::Choice(STATISTICS), "What it computes from the readings.")
            .default("\"level\"")
            .only(ANALOGUE),
        Key::new(
            "samples",
            Kind::Integer(1, 99),
            "How many readings a moving mean or median or an approach rate takes; odd for a median.",
        )
        .absent("required for a moving mean or median and an approach rate")
        .only(ANALOGUE),
        Key::new("sense", Kind::Choice(&["below", "above"]), "On which side of the level it is on.")
            .absent("\"below\" for rangers, \"above\" for the rest")
            .only(ANALOGUE),
        Key::new(
            "on",
            Kind::Reading(Per::One, SIGNED),
            "Level at which it goes on; for a cusum the reference beyond which readings add up.",
        )
        .absent("required for all but an approach rate and a likelihood ratio")
        .only(ANALOGUE),
        Key::new("off", Kind::Reading(Per::One, SIGNED), "Level at which it goes off.")
            .absent("the same as `on`")
            .only(ANALOGUE),
        Key::new(
            "on_speed",
            Kind::Quantity(&SPEED, SPEEDS),
            "Speed towards the sensor at which an approach rate goes on.",
        )
        .absent("required for an approach rate")
        .only(RANGERS),
        Key::new("off_speed", Kind::Quantity(&SPEED, SPEEDS), "Speed below which an approach rate goes off.")
            .absent("the same as `on_speed`")
            .only(RANGERS),
        Key::new("limit", Kind::Reading(Per::One, Range::above(0.0, 1e6)), "Sum beyond which a cusum goes on or off.")
            .absent("required for a cusum")
            .only(ANALOGUE),
        Key::new("weight", Kind::Number(Range::within(1e-3, 1.0)), "Weight of the newest reading in an ewma.")
            .absent("required for an ewma")
            .only(ANALOGUE),
        Key::new("absent", Kind::Reading(Per::One, SIGNED), "Mean reading with nothing there, for a likelihood ratio.")
            .absent("required for a likelihood ratio")
            .only(ANALOGUE),
        Key::new("present", Kind::Reading(Per::One, SIGNED), "Mean reading with something there.")
            .absent("required for a likelihood ratio")
            .only(ANALOGUE),
        Key::new(
            "spread",
            Kind::Reading(Per::One, Range::above(0.0, 1e6)),
            "Standard deviation of a reading in both cases.",
        )
        .absent("required for a likelihood ratio")
        .only(ANALOGUE),
        Key::new(
            "false_alarm",
            Kind::Number(ERROR_RATE),
            "Probability of going on for nothing that a likelihood ratio aims at.",
        )
        .absent("required for a likelihood ratio")
        .only(ANALOGUE),
        Key::new(
            "false_rest",
            Kind::Number(ERROR_RATE),
            "Probability of staying off, or going off, with something there that it aims at.",
        )
        .absent("required for a likelihood ratio")
        .only(ANALOGUE),
        Key::new(
            "counts_at_most",
            Kind::Number(Range::above(0.0, 1e6)),
            "Most that one reading may count in a likelihood ratio, as a natural logarithm.",
        )
        .absent("no limit")
        .only(ANALOGUE),
        Key::new("says", Kind::Choices(STATUS_CODES), "Messages of the mower that turn it on.").only(&["status"]),
        Key::new("rule", Kind::Rule, "How many of the last samples must be on.").default("\"1 of 1\""),
        Key::new("release", Kind::Rule, "How many of the last samples must be off again.").absent("the same as `rule`"),
        Key::new("dropped", Kind::Choice(&["quiet", "hold", "reset"]), "What a sample without a reading does: \"quiet\" counts as one that does not speak, \"hold\" is left out, \"reset\" empties the windows.")
            .default("\"quiet\""),
    ],
};

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
        Key::new("inside", Kind::Condition, "The mower is inside while it holds.").default("\"never\""),
        Key::new(
            "wet",
            Kind::Condition,
            "It rains while it holds: the detectors of `open` then need one sample less to go on.",
        )
        .default("\"never\""),
        Key::new(
            "fallback",
            Kind::Condition,
            "Joins `open` once none of its sensors has a vote left, with on_dead_sensor = \"drop vote\".",
        )
        .default("\"never\""),
    ],
};
