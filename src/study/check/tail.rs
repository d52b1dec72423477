//! Is a mower noticed that has stopped where the panel comes: with its tail, or any of it, under the edge, or within the way of a panel
//! that swings into the shelter?
//!
//! One that stops short of its dock, or gets stuck, stands there for as long as it likes. A line across the doorway outside the edge
//! is free again before the tail has passed the edge: then nothing keeps the door open but the hold rule. The mower is put at every
//! place between the edge and its dock at which the closing panel meets it, a centimetre apart, and everything is left to settle:
//! there the doorway rule or the open rule should hold, or the hold rule where no longest open time overrules it. Places before the door
//! are [`super::lane`]'s.

use super::lane::last_met;
use super::settled::{Still, holds, settled};
use super::{Row, Side};
use crate::scenario::Scenario;
use crate::scenario::door::EDGE_ZONE_M;
use crate::scenario::sensor::StatusCode;
use crate::scenario::strategy::Strategy;
use crate::sensing::sight::Body;
use crate::shelter::mechanism::survey;

/// Step of the places at which the mower stands, m.
const STEP_M: f64 = 0.01;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let swept = survey::swept(door, mower.height_m);
    // Farther in than both it is of no concern, and its dock has rows of its own.
    let docked_m = mower.length_m - mower.dock.depth_m;
    let farthest_m = survey::sweep(door).inside_m.max(EDGE_ZONE_M).min(-docked_m - STEP_M);
    let from_m = mower.length_m + EDGE_ZONE_M;
    let places = ((from_m + farthest_m) / STEP_M).floor().max(0.0) as usize;
    // The place of the tail, and the detectors that are on.
    let stands = |place: usize| {
        let tail_m = from_m - (place as f64 + 0.5) * STEP_M;
        let body = Body::of_mower(mower, tail_m - mower.length_m, 0.0);
        let met = tail_m > -EDGE_ZONE_M || last_met(door, &swept, &body).is_some();
        let still = Still { bodies: &[body], door_open: true, status: Some(StatusCode::Returning), hours: true };
        met.then(|| (tail_m, settled(scenario, &still)))
    };
    let stands: Vec<(f64, u64)> = (0..places).filter_map(stands).collect();
    for strategy in &scenario.strategies {
        let unnoticed: Vec<f64> =
            stands.iter().filter(|(_, on)| !keeps_open(strategy, *on)).map(|(tail_m, _)| *tail_m).collect();
        rows.push(row(strategy, &unnoticed));
    }
}

/// Whether a rule that nothing overrules keeps the door open.
fn keeps_open(strategy: &Strategy, on: u64) -> bool {
    let controller = &strategy.controller;
    (controller.care.interlock && holds(&strategy.doorway, 0, on))
        || holds(&strategy.open, 0, on)
        || (controller.open_at_most.is_none() && holds(&strategy.hold, 0, on))
}

fn row(strategy: &Strategy, unnoticed: &[f64]) -> Row {
    let question =
        format!("strategy {}: where a mower that stops in the panel's way on its way in is not noticed", strategy.name);
    let length_m = unnoticed.len() as f64 * STEP_M;
    let row = Row::judged("stops_in_the_way", question, length_m, Side::AtMost, 0.0, 0.0, "m")
        .key(format!("strategy.{}.doorway", strategy.name));
    let (Some(first), Some(last)) = (unnoticed.last(), unnoticed.first()) else { return row };
    row.note(format!("with its tail from {first:.2} m to {last:.2} m outside the door line (below 0: inside)")).advised(
        "it seldom stops just there, but then the door comes down on it or swings into it: a second line inside, at the end of the \
         panel's way, sees it",
    )
}
