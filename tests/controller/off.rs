//! How each row of the transition table is turned off in a scenario, to see what it is worth.

use super::oracle::Row;
use dooryard::math::time::Span;
use dooryard::scenario::care::{AfterRetries, ClosingTimeout, OpeningTimeout};
use dooryard::scenario::strategy::Controller as Settings;

/// How a row is turned off.
pub enum Off {
    /// By these settings: then it never fires, whatever happens.
    Never(Row, fn(&mut Settings)),
    /// By these keys, which take away what the controller does by itself in it (its wait, its speed, its limit); the event
    /// stays, because it is a fact of the door or somebody's wish. With these settings the row's script goes another way.
    Without(&'static [&'static str], fn(&mut Settings)),
    /// By these keys, which act outside the controller: what they are worth is tested in whole seasons.
    Outside(&'static [&'static str]),
}

use Off::{Never, Outside, Without};

/// The table's state and event, and how the row is turned off.
pub const OFF: &[(&str, &str, Off)] = &[
    (
        "ANY",
        "power-up or watchdog reset",
        Without(&["startup_listens", "homing_clear_for", "brown_out"], |s| {
            (s.care.startup_listens, s.care.homing_clear_for) = (Span::ZERO, Span::ZERO);
        }),
    ),
    ("STARTUP", "closed limit made, doorway clear", Without(&["startup_listens", "interlock"], at_once)),
    ("STARTUP", "open limit made", Without(&["startup_listens"], at_once)),
    (
        "STARTUP",
        "neither limit, doorway clear, no one near 10 s",
        Without(&["homing_clear_for", "homing_speed", "after_power_loss"], |s| s.care.homing_clear_for = Span::ZERO),
    ),
    (
        "STARTUP",
        "both limits or limits contradict",
        Without(&["fault_cleared_after"], |s| s.fault_cleared_after = Span::SECOND),
    ),
    (
        "CLOSED",
        "arrival decided (fusion) or wanted-open from network with age < limit",
        Without(&["opening_warning", "message_at_most"], unannounced),
    ),
    (
        "CLOSED",
        "departure decided (inside motion, weight shift, status leaving)",
        Without(&["opening_warning"], unannounced),
    ),
    ("CLOSED", "button or app open", Without(&["opening_warning"], unannounced)),
    (
        "CLOSED",
        "occupancy sensors contradict > 10 min",
        Never(Row::ClosedContradiction, |s| s.care.contradiction_after_s = f64::INFINITY),
    ),
    ("OPENING", "open limit made", Outside(&["stroke_timeout"])),
    (
        "OPENING",
        "current over limit after blanking, k-of-n",
        Without(&["obstruction_force", "back_off"], |s| s.care.back_off_m = 0.0),
    ),
    (
        "OPENING",
        "run time > 1.5 x learned",
        Never(Row::OpeningTimesOut, |s| s.care.opening_timeout = OpeningTimeout::Retry),
    ),
    ("OPENING", "stop button", Without(&["retry_after"], |s| s.retry_after = Span::SECOND)),
    (
        "OPEN",
        "mower seen fully inside (occupied, doorway clear, still t_settle) ",
        Without(&["close_after_in", "warning"], |s| s.care.close_after_in = Span::ZERO),
    ),
    (
        "OPEN",
        "mower seen gone (empty, doorway clear, outside clear) for t_gone",
        Without(&["close_after_gone", "warning"], |s| s.care.close_after_gone = Span::ZERO),
    ),
    ("OPEN", "doorway not clear", Never(Row::OpenNotClear, |s| s.care.interlock = false)),
    ("OPEN", "open longer than t_max_open, night or rain", Never(Row::OpenTooLong, |s| s.open_at_most = None)),
    ("OPEN", "doorway sensor failed self-test", Never(Row::OpenSelfTestFails, |s| s.care.self_test = false)),
    ("CLOSING", "doorway beam or presence sensor trips", Never(Row::ClosingDoorway, |s| s.care.interlock = false)),
    ("CLOSING", "current over limit k-of-n or edge switch", Outside(&["obstruction_force", "retries"])),
    ("CLOSING", "arrival or departure decided", Never(Row::ClosingAsked, |s| s.care.turns_back = false)),
    ("CLOSING", "closed limit made", Outside(&["stroke_timeout"])),
    (
        "CLOSING",
        "run time > 1.5 x learned",
        Never(Row::ClosingTimesOut, |s| s.care.closing_timeout = ClosingTimeout::Reverse),
    ),
    (
        "CLOSING",
        "position inside last 20-25 mm and current limit",
        Never(Row::ClosingSeals, |s| s.care.soft_seal_m = 0.0),
    ),
    (
        "REVERSING",
        "open limit made",
        Without(&["retry_after", "retry_growth", "retry_at_most"], |s| s.care.retry_growth = 1.0),
    ),
    ("REVERSING", "retries > n_max", Never(Row::ReversingGivesUp, |s| s.care.after_retries = AfterRetries::Fault)),
    ("STOPPED", "clear and operator or t_retry", Without(&["retry_after", "interlock"], |s| s.care.interlock = false)),
    (
        "FAULT",
        "operator reset and self-test ok",
        Without(&["fault_cleared_after", "self_test"], |s| s.care.self_test = false),
    ),
    ("HOLD_OPEN", "sensor self-test ok for 10 min", Never(Row::HoldOpenResumes, |s| s.care.interlock = false)),
    (
        "ANY",
        "manual release or handle moved (position changes with motor off)",
        Without(&["manual_at_most", "manual_reminder"], |s| s.care.manual_at_most = Span::SECOND),
    ),
    (
        "MANUAL",
        "manual off, or 12 h elapsed with notify",
        Without(&["manual_at_most", "manual_reminder"], |s| s.care.manual_at_most = Span::from_seconds(60.0)),
    ),
    ("ANY moving", "supply < limit or power loss", Outside(&["brown_out", "after_power_loss", "reopening_reserve"])),
    ("UNPOWERED", "power back, stable 10 s", Without(&["power_stable_for"], |s| s.care.power_stable_for = Span::ZERO)),
    (
        "ANY",
        "two rangers disagree > 30 s",
        Never(Row::AnyRangersDisagree, |s| s.care.disagreement_after_s = f64::INFINITY),
    ),
    ("ANY", "network age > limit", Outside(&["message_at_most", "on_dead_sensor"])),
];

/// A start without listening first.
fn at_once(settings: &mut Settings) {
    settings.care.startup_listens = Span::ZERO;
}

/// An opening without a warning before it.
fn unannounced(settings: &mut Settings) {
    settings.care.opening_warning = Span::ZERO;
}

/// All that a controller does of its own accord turned off, as far as there are keys for it.
pub fn bare(settings: &mut Settings) {
    for (_, _, off) in OFF {
        if let Never(_, turn) = off {
            turn(settings);
        }
    }
    let care = &mut settings.care;
    for wait in [
        &mut care.doorway_clear_for,
        &mut care.close_after_in,
        &mut care.close_after_gone,
        &mut care.opening_warning,
        &mut care.power_stable_for,
        &mut care.startup_listens,
        &mut care.homing_clear_for,
        &mut settings.warning,
    ] {
        *wait = Span::ZERO;
    }
    (care.back_off_m, care.reopening_reserve) = (0.0, 0.0);
}
