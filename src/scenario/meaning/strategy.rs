//! Strategies: will the door open, and is the doorway watched?

use super::sensing::lanes;
use super::sight::meets;
use super::warning;
use crate::scenario::error::Notes;
use crate::scenario::read::condition::Written;
use crate::scenario::read::sensor::aim;
use crate::scenario::read::{Fields, strategy::says};
use crate::scenario::sensor::StatusCode;

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    for strategy in root.entries("strategy") {
        if !strategy.given("doorway") || matches!(strategy.condition("doorway"), Some(Written::Never)) {
            let message = "this strategy has no doorway rule: the door may close on whatever stands in it";
            let help = "name a detector that sees the doorway, for example a break beam";
            warning(notes, strategy, if strategy.given("doorway") { "doorway" } else { "name" }, message, help);
        }
        if matches!(strategy.condition("close"), Some(Written::Never)) {
            warning(notes, strategy, "close", "with this rule the door never closes", "");
        }
        opening(root, strategy, notes);
    }
}

fn opening(root: &Fields, strategy: &Fields, notes: &mut Notes) {
    let Some(open) = strategy.condition("open") else { return };
    if matches!(open, Written::Never) {
        return warning(notes, strategy, "open", "with this rule the door never opens", "");
    }
    if open.needs_no_detector() {
        return;
    }
    // Anything unknown or not read whole counts as looking: it has its own error.
    let mut looks = false;
    open.each_name(&mut |name, _| {
        if !looks {
            let detector = root.entries("detector").iter().find(|detector| detector.text("name") == Some(name));
            looks = detector.is_none_or(|detector| notices_arrival(root, detector));
        }
    });
    if !looks {
        let message = "no detector of the opening rule ever notices the mower's way home: every arrival will be missed";
        let help = "add a ranger or beam that looks at it, the status \"returning\", or a clock";
        warning(notes, strategy, "open", message, help);
    }
}

/// Whether the detector's sensor sees, or is told of, the mower before it reaches its waiting point.
fn notices_arrival(root: &Fields, detector: &Fields) -> bool {
    let Some(name) = detector.text("sensor") else { return true };
    let Some(sensor) = root.entries("sensor").iter().find(|sensor| sensor.text("name") == Some(name)) else {
        return true;
    };
    match sensor.switch.as_deref() {
        Some("optical range" | "ultrasonic range") => match (aim(sensor), lanes(root)) {
            (Some(aim), Some([outside, _])) => meets(&aim, &outside),
            _ => true,
        },
        Some("break beam") => match (sensor.number("x"), lanes(root)) {
            (Some(x), Some([outside, _])) => x >= outside.from[0],
            _ => true,
        },
        Some("status") => {
            let says = says(detector);
            says.is_empty() || says.iter().any(|code| matches!(code, StatusCode::Returning | StatusCode::Mowing))
        }
        Some("platform load" | "tilt" | "end switch" | "rain gauge") => false,
        _ => true,
    }
}
