//! Is a mower noticed that has stopped with its tail, or any of it, under the edge?
//!
//! One that stops short of its dock, or gets stuck, stands where the panel comes down, for as long as it likes. A line across the
//! doorway outside the edge is free again before the tail has passed the edge: then nothing keeps the door open but the hold rule.
//! The mower is put at every place at which any of it is within the edge's zone, a centimetre apart, and everything is left to
//! settle: there the doorway rule should hold, or the hold rule where no longest open time overrules it.

use super::settled::{Still, holds, settled};
use super::{Row, Side};
use crate::scenario::Scenario;
use crate::scenario::door::EDGE_ZONE_M;
use crate::scenario::sensor::StatusCode;
use crate::scenario::strategy::Strategy;
use crate::sensing::sight::Body;

/// Step of the places at which the mower stands, m.
const STEP_M: f64 = 0.01;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let mower = &scenario.mower;
    let under_m = mower.length_m + 2.0 * EDGE_ZONE_M;
    let places = (under_m / STEP_M).ceil() as usize;
    // The place of the tail, and the detectors that are on.
    let stands = |place: usize| {
        let tail_m = -EDGE_ZONE_M + (place as f64 + 0.5) * under_m / places as f64;
        let bodies = [Body::of_mower(mower, tail_m - mower.length_m, 0.0)];
        let still = Still { bodies: &bodies, door_open: true, status: Some(StatusCode::Returning), hours: true };
        (tail_m, settled(scenario, &still))
    };
    let stands: Vec<(f64, u64)> = (0..places).map(stands).collect();
    for strategy in &scenario.strategies {
        let unnoticed: Vec<f64> =
            stands.iter().filter(|(_, on)| !keeps_open(strategy, *on)).map(|(tail_m, _)| *tail_m).collect();
        rows.push(row(strategy, &unnoticed, under_m / places as f64));
    }
}

/// Whether a rule that nothing overrules keeps the door open.
fn keeps_open(strategy: &Strategy, on: u64) -> bool {
    let controller = &strategy.controller;
    (controller.care.interlock && holds(&strategy.doorway, 0, on))
        || (controller.open_at_most.is_none() && holds(&strategy.hold, 0, on))
}

fn row(strategy: &Strategy, unnoticed: &[f64], step_m: f64) -> Row {
    let question = format!("strategy {}: where a mower that stops under the edge is not noticed", strategy.name);
    let length_m = unnoticed.len() as f64 * step_m;
    let row = Row::judged("under_the_edge", question, length_m, Side::AtMost, 0.0, 0.0, "m")
        .key(format!("strategy.{}.doorway", strategy.name));
    let (Some(first), Some(last)) = (unnoticed.first(), unnoticed.last()) else { return row };
    row.note(format!(
        "with its tail between {first:.2} m and {last:.2} m outside the door line, some of it under the edge"
    ))
    .advised(
        "it seldom stops just there, but then the door comes down on it: a second line just inside the edge sees it",
    )
}
