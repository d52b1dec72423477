//! The mower: its windows, its way home, its dock.

use super::{error, metres};
use crate::scenario::door::EDGE_ZONE_M;
use crate::scenario::error::Notes;
use crate::scenario::read::{Fields, mower};

/// Lengths nearer to each other than this are the same, m: sums of decimals miss each other by less.
const HAIR_M: f64 = 1e-9;

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    let Some(body) = root.child("mower") else { return };
    for window in body.entries("windows") {
        if let (Some(from), Some(to)) = (mower::seconds(window, "from"), mower::seconds(window, "to"))
            && to <= from
        {
            let message = "the window ends before it starts, or as it starts";
            error(notes, window, "to", message, "a window over midnight is written as two");
        }
    }
    if body.given("axles")
        && let (Some(axles), Some(length)) = (mower::axles(body), body.number("length"))
    {
        let [front, rear] = axles.behind_nose_m;
        if front >= rear || rear > length {
            let message = format!(
                "the axles at {} and {} behind the nose do not carry a body {} long",
                metres(front),
                metres(rear),
                metres(length)
            );
            error(notes, body, "axles", message, "the front axle comes first, and both lie under the body");
        }
    }
    if let (Some(approach), Some(shut_door)) = (body.child("approach"), body.child("shut_door")) {
        way_home(approach, shut_door, notes);
    }
    if let Some(dock) = body.child("dock") {
        if let (Some(depth), Some(length)) = (dock.number("depth"), body.number("length"))
            && depth < length + EDGE_ZONE_M - HAIR_M
        {
            let ends = if depth <= length { "the door could not shut" } else { "the door would come down on its tail" };
            let message = format!(
                "the docked nose is {} behind the door line, but the mower is {} long: {ends}",
                metres(depth),
                metres(length)
            );
            // What is named must read as a maker writes it: sums of decimals end in noise.
            let least = (1e6 * (length + EDGE_ZONE_M)).round() / 1e6;
            let help = format!("it must be at least {}", metres(least));
            error(notes, dock, "depth", message, &help);
        }
        if let (Some(back_off), Some(depth)) = (dock.number("back_off"), dock.number("depth"))
            && back_off > depth
        {
            let message = format!("backing off {} from the dock would take the nose out of the door", metres(back_off));
            error(notes, dock, "back_off", message, &format!("the dock is {} behind the door line", metres(depth)));
        }
    }
}

fn way_home(approach: &Fields, shut_door: &Fields, notes: &mut Notes) {
    let Some(from) = approach.number("from") else { return };
    if let Some(slow_from) = approach.number("slow_from")
        && slow_from > from
    {
        let message = format!("it slows down at {}, before its way home begins at {}", metres(slow_from), metres(from));
        error(notes, approach, "slow_from", message, "");
    }
    let Some(waits_at) = shut_door.number("waits_at") else { return };
    if waits_at < EDGE_ZONE_M - HAIR_M {
        let message = format!("it waits at {}, where the door would come down on its nose", metres(waits_at));
        error(notes, shut_door, "waits_at", message, &format!("it must be at least {}", metres(EDGE_ZONE_M)));
    }
    if waits_at >= from {
        let message =
            format!("it waits at {}, where its way home has not begun (from {})", metres(waits_at), metres(from));
        error(notes, shut_door, "waits_at", message, "the waiting point must be nearer to the door");
    } else if let Some(back_off) = shut_door.number("back_off")
        && waits_at + back_off > from
    {
        let reach = metres(from - waits_at);
        let message = format!(
            "backing off {} from {} goes beyond the way home (from {})",
            metres(back_off),
            metres(waits_at),
            metres(from)
        );
        error(notes, shut_door, "back_off", message, &format!("{reach} at most"));
    }
}
