//! `[controller]`, and the same keys of a strategy's own `controller`.

use super::Key;
use super::kind::{Kind, Range};
use super::mower::{DAY, SOME_OF_A_DAY};
use crate::scenario::care::{
    AfterRetries, BrownOut, ClosingTimeout, OpeningTimeout, TimeoutOf, Unhealthy, ZeroTracking,
};
use crate::scenario::measure::{DURATION, FORCE, LENGTH, MASS};

/// Waits in front of which somebody may stand.
const SHORT: Range = Range::within(0.0, 600.0);
/// Waits for a person: up to thirty days.
const LONG: Range = Range::above(0.0, 2_592_000.0);
/// A small part of a stroke.
const SHORT_WAY: Range = Range::within(0.0, 0.5);

pub(super) const CONTROLLER_KEYS: &[Key] = &[
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
        "Force of the drive above the computed one that counts as an obstacle.",
    )
    .default("\"60 N\""),
    Key::new(
        "obstruction_reaction",
        Kind::Quantity(&DURATION, Range::within(0.0, 10.0)),
        "Time from there until the motor has stopped.",
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
        Kind::Choice(&["hold open", "ignore", "drop vote"]),
        "What it does when a sensor is known to be dead: opens and stays open; carries on without it; or does so only while others see, does not close on a doorway without its sensor, and follows `fallback` in the end.",
    )
    .default("\"hold open\""),
    Key::new(
        "dead_after",
        Kind::Quantity(&DURATION, Range::above(0.0, 864_000.0)),
        "How long a sensor must be silent before it is known to be dead.",
    )
    .default("\"5 s\""),
    Key::new("interlock", Kind::Flag, "Whether the doorway rule is heeded; false only to see what it is worth.")
        .default("true"),
    Key::new(
        "doorway_clear_for",
        Kind::Quantity(&DURATION, SHORT),
        "How long the doorway must have been clear before a closing begins.",
    )
    .default("\"1 s\""),
    Key::new(
        "self_test",
        Kind::Flag,
        "Whether the sensors of the doorway rule must pass a self-test before each closing; a silent or stuck one fails it.",
    )
    .default("true"),
    Key::new(
        "self_test_ok_for",
        Kind::Quantity(&DURATION, DAY),
        "How long they must pass it before the door, held open after a failure, may close again.",
    )
    .default("\"10 min\""),
    Key::new(
        "hold_open_for",
        Kind::Quantity(&DURATION, LONG),
        "How long the door is held open once closing has failed too often.",
    )
    .default("\"6 h\""),
    Key::new(
        "close_after_in",
        Kind::Quantity(&DURATION, DAY),
        "Closing begins no sooner than this after the mower was last seen to come in (`inside`).",
    )
    .default("\"0 s\""),
    Key::new(
        "close_after_gone",
        Kind::Quantity(&DURATION, DAY),
        "Closing begins no sooner than this after the mower was last seen to leave and all was clear.",
    )
    .default("\"0 s\""),
    Key::new("turns_back", Kind::Flag, "Whether a closing door turns back when the opening rule speaks.")
        .default("true"),
    Key::new("opening_warning", Kind::Quantity(&DURATION, SHORT), "Warning before opening begins.")
        .default("\"0 s\""),
    Key::new(
        "back_off",
        Kind::Quantity(&LENGTH, SHORT_WAY),
        "Way back after an obstruction in an opening stroke, if the doorway is proven clear; 0 m for none.",
    )
    .default("\"30 mm\""),
    Key::new(
        "soft_seal",
        Kind::Quantity(&LENGTH, SHORT_WAY),
        "Last part of the closing stroke in which a stop within 5 mm of shut counts as shut; 0 m for none.",
    )
    .default("\"25 mm\""),
    Key::new(
        "stroke_timeout_of",
        Kind::Choice(TimeoutOf::WORDS),
        "Whether the time-out is a multiple of the computed time or follows the time that recent strokes took.",
    )
    .default("\"computed\""),
    Key::new(
        "opening_timeout",
        Kind::Choice(OpeningTimeout::WORDS),
        "What follows an opening that timed out: another try, or waiting for a person at once.",
    )
    .default("\"retry\""),
    Key::new(
        "closing_timeout",
        Kind::Choice(ClosingTimeout::WORDS),
        "What follows a closing that timed out: it turns back at once, or stops and opens after a pause.",
    )
    .default("\"reverse\""),
    Key::new(
        "retry_growth",
        Kind::Number(Range::within(1.0, 100.0)),
        "Each further pause before a retry is this many times the last.",
    )
    .default("6"),
    Key::new(
        "retry_at_most",
        Kind::Quantity(&DURATION, Range::within(0.0, 86_400.0)),
        "Longest pause before a retry, if longer than `retry_after`.",
    )
    .default("\"5 min\""),
    Key::new(
        "after_retries",
        Kind::Choice(AfterRetries::WORDS),
        "When closing has failed too often: hold the door open for a while, or stop and wait for a person.",
    )
    .default("\"hold open\""),
    Key::new(
        "power_stable_for",
        Kind::Quantity(&DURATION, SHORT),
        "How long power must have been back before the controller starts.",
    )
    .default("\"10 s\""),
    Key::new(
        "startup_listens",
        Kind::Quantity(&DURATION, SHORT),
        "How long it listens after a start before anything moves.",
    )
    .default("\"1 s\""),
    Key::new(
        "homing_clear_for",
        Kind::Quantity(&DURATION, SHORT),
        "How long the doorway must have been clear before a door found half-way is opened; after 10 min it is opened in any case.",
    )
    .default("\"10 s\""),
    Key::new(
        "homing_speed",
        Kind::Number(Range::within(0.05, 1.0)),
        "Speed of that opening, as a share of the usual one.",
    )
    .default("0.5"),
    Key::new(
        "brown_out",
        Kind::Choice(BrownOut::WORDS),
        "What a stroke that overloads the supply does to the controller: it restarts and forgets its timers and detectors, or only the stroke fails.",
    )
    .default("\"resets\""),
    Key::new(
        "manual_at_most",
        Kind::Quantity(&DURATION, LONG),
        "How long manual operation lasts if nobody ends it.",
    )
    .default("\"12 h\""),
    Key::new("manual_reminder", Kind::Quantity(&DURATION, LONG), "When somebody is reminded of it.")
        .default("\"6 h\""),
    Key::new("unhealthy", Kind::Choices(Unhealthy::WORDS), "What makes a sensor count as dead.")
        .default("[\"dead\"]"),
    Key::new(
        "dead_samples",
        Kind::Integer(1, 100_000),
        "A sensor is dead no sooner than after this many sample times without a reading.",
    )
    .default("5"),
    Key::new(
        "frozen_samples",
        Kind::Integer(2, 1_000_000),
        "A sensor whose noise exceeds its resolution is frozen once it has repeated a value for more samples than this; noise is judged on as many.",
    )
    .default("200"),
    Key::new(
        "noisy_beyond",
        Kind::Number(Range::above(1.0, 1000.0)),
        "A sensor is noisy beyond this multiple of its stated noise.",
    )
    .default("3"),
    Key::new(
        "drifted_beyond",
        Kind::Number(Range::above(0.0, 1e6)),
        "A sensor with a reference has drifted once it is off by more than this multiple of its stated noise.",
    )
    .default("3"),
    Key::new(
        "contradiction_after",
        Kind::QuantityOr("never", &DURATION, Range::within(1.0, 864_000.0)),
        "Once the detectors that say whether the mower is in (platforms, messages of the docked mower) have contradicted each \
         other for so long, the `fallback` rule may open, too, and somebody is told; 10 min are common practice.",
    )
    .default("\"never\""),
    Key::new(
        "disagreement_after",
        Kind::QuantityOr("never", &DURATION, Range::within(1.0, 864_000.0)),
        "Once rangers of the opening rule have contradicted each other for so long, any one of them counts as all (any opens, all \
         must be clear to close), and somebody is told; 30 s are common practice.",
    )
    .default("\"never\""),
    Key::new(
        "reopening_reserve",
        Kind::Number(Range::within(0.0, 1000.0)),
        "No closing begins while the battery holds less than this many times the energy of that closing and of the opening after \
         it; 0: the battery is not heeded.",
    )
    .default("1"),
    Key::new(
        "message_at_most",
        Kind::QuantityOr("any age", &DURATION, Range::above(0.0, 864_000.0)),
        "Oldest message of the mower that is believed when it arrives, by its time stamp; one from the future by as much is not \
         either, nor one that a newer one has overtaken. 2 min are common practice.",
    )
    .default("\"any age\""),
    Key::new(
        "zero_tracking",
        Kind::Choice(ZeroTracking::WORDS),
        "Whether the zero of load platforms follows their reading: only behind a shut door with nobody inside, or always.",
    )
    .default("\"off\""),
    Key::new(
        "zero_per_hour",
        Kind::Quantity(&MASS, Range::above(0.0, 1000.0)),
        "Fastest change of that zero in an hour.",
    )
    .default("\"0.1 kg\""),
    Key::new(
        "zero_at_most",
        Kind::Quantity(&MASS, Range::above(0.0, 1000.0)),
        "Largest change of that zero in all.",
    )
    .default("\"2 kg\""),
];
