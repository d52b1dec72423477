//! Surveys along the stroke that need no kind of mechanism: dead zones, reach, what the panel sweeps through, and where a body
//! passes.

use super::{
    Direction, Force, Jam, asked_force, clear_height_m, clear_width_m, drive_force, opens_sideways, pose, stroke_m,
};
use crate::scenario::door::{Door, Drive};
use crate::shelter::loads::Loads;

/// Steps of a survey. A zone narrower than a step's width is not seen between two steps; ends are bisected.
pub const STEPS: usize = 240;

/// A stretch of the stroke where no force moves the panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeadZone {
    /// Its beginning, m from shut.
    pub from_m: f64,
    /// Its end, m from shut.
    pub to_m: f64,
    /// Why.
    pub jam: Jam,
}

/// Stretches where the panel does not move in `direction` under these loads, from shut to open.
pub fn dead_zones(door: &Door, drive: &Drive, direction: Direction, loads: &Loads) -> Vec<DeadZone> {
    let jam_at = |position: f64| match drive_force(door, drive, direction, position, loads, false) {
        Force::Jammed(jam) => Some(jam),
        Force::Push(_) => None,
    };
    let full = stroke_m(door).max(0.0);
    let mut zones: Vec<DeadZone> = Vec::new();
    let mut before = (0.0, None);
    for step in 0..=STEPS {
        let at = full * step as f64 / STEPS as f64;
        let jam = jam_at(at);
        match (before.1, jam) {
            (None, Some(jam)) => {
                let from_m = if step == 0 { 0.0 } else { edge(before.0, at, |x| jam_at(x).is_some()) };
                zones.push(DeadZone { from_m, to_m: at, jam });
            }
            (Some(_), Some(_)) => {
                if let Some(zone) = zones.last_mut() {
                    zone.to_m = at;
                }
            }
            (Some(_), None) => {
                if let Some(zone) = zones.last_mut() {
                    zone.to_m = edge(before.0, at, |x| jam_at(x).is_none());
                }
            }
            (None, None) => {}
        }
        before = (at, jam);
    }
    zones
}

/// Whether the panel must be pushed somewhere on its way shut.
pub fn needs_push_to_close(door: &Door, loads: &Loads) -> bool {
    let full = stroke_m(door).max(0.0);
    (0..=STEPS).any(|step| {
        let at = full * step as f64 / STEPS as f64;
        let pushed = |starting| !matches!(asked_force(door, Direction::Closing, at, loads, starting), Force::Push(f) if f <= 0.0);
        pushed(false) || (step == STEPS && pushed(true))
    })
}

/// The largest force that the mechanism asks for in a direction, N, and where; the start from rest included. None where it
/// jams.
pub fn hardest(door: &Door, drive: &Drive, direction: Direction, loads: &Loads) -> Option<(f64, f64)> {
    let full = stroke_m(door).max(0.0);
    let start = if direction == Direction::Opening { 0.0 } else { full };
    let mut worst = (f64::NEG_INFINITY, start);
    for step in 0..=STEPS {
        let at = full * step as f64 / STEPS as f64;
        for starting in if at == start { &[false, true][..] } else { &[false][..] } {
            match drive_force(door, drive, direction, at, loads, *starting) {
                Force::Jammed(_) => return None,
                Force::Push(force) if force > worst.0 => worst = (force, at),
                Force::Push(_) => {}
            }
        }
    }
    Some(worst)
}

/// How far the panel reaches on its way, m, from the door line; 0 where it does not leave it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Into the shelter.
    pub inside_m: f64,
    /// Outside.
    pub outside_m: f64,
    /// Above the sill (side view), or sideways from the opening's middle (plan).
    pub beyond_m: f64,
}

/// The room the panel sweeps through.
pub fn sweep(door: &Door) -> Sweep {
    let mut sweep = Sweep { inside_m: 0.0, outside_m: 0.0, beyond_m: 0.0 };
    for (_, line) in poses(door) {
        for (x, other) in line {
            sweep.inside_m = sweep.inside_m.max(-x);
            sweep.outside_m = sweep.outside_m.max(x);
            sweep.beyond_m = sweep.beyond_m.max(other.abs());
        }
    }
    sweep
}

/// The panel's line at every step of the stroke, with its position.
pub fn poses(door: &Door) -> impl Iterator<Item = (f64, [(f64, f64); 2])> + '_ {
    let full = stroke_m(door).max(0.0);
    (0..=STEPS).map(move |step| {
        let at = full * step as f64 / STEPS as f64;
        (at, pose(door, at))
    })
}

/// First position at which the panel enters a box given by two opposite corners in the plane of its pose; none if it never does.
pub fn hits(door: &Door, low: (f64, f64), high: (f64, f64)) -> Option<f64> {
    poses(door).find(|(_, line)| crosses(*line, low, high)).map(|(at, _)| at)
}

/// Whether a segment and a box with inside have a point in common (Liang and Barsky 1984).
fn crosses([(x0, y0), (x1, y1)]: [(f64, f64); 2], low: (f64, f64), high: (f64, f64)) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (start, end, least, most) in [(x0, x1, low.0, high.0), (y0, y1, low.1, high.1)] {
        let way = end - start;
        if way == 0.0 {
            if start < least || start > most {
                return false;
            }
            continue;
        }
        let (a, b) = ((least - start) / way, (most - start) / way);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    enter <= leave
}

/// Whether a body in the middle of the opening passes at a position.
pub fn passes(door: &Door, position_m: f64, width_m: f64, height_m: f64) -> bool {
    if opens_sideways(door) {
        // One side of the opening is uncovered first; the body needs it up to its far side.
        door.height_m >= height_m && clear_width_m(door, position_m) >= 0.5 * (door.width_m + width_m)
    } else {
        clear_height_m(door, position_m) >= height_m
    }
}

/// Position from which a body in the middle of the opening passes, m from shut. Somebody too large for the opening stands in it
/// with a leg or an arm: the edge meets that half-way (common practice).
pub fn clears_at_m(door: &Door, width_m: f64, height_m: f64) -> f64 {
    let full = stroke_m(door).max(0.0);
    if passes(door, full, width_m, height_m) {
        return edge(0.0, full, |x| passes(door, x, width_m, height_m));
    }
    let uncovered = |x: f64| if opens_sideways(door) { clear_width_m(door, x) } else { clear_height_m(door, x) };
    let half = 0.5 * uncovered(full);
    edge(0.0, full, |x| uncovered(x) >= half)
}

/// Where a statement that does not hold at `low` begins to hold on the way to `high`, by bisection.
fn edge(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (low, high);
    if holds(low) {
        return low;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if holds(middle) { high = middle } else { low = middle }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::crosses;

    #[test]
    fn lines_and_boxes() {
        let unit = ((0.0, 0.0), (1.0, 1.0));
        assert!(crosses([(-1.0, 0.5), (2.0, 0.5)], unit.0, unit.1));
        assert!(crosses([(0.2, 0.2), (0.3, 0.3)], unit.0, unit.1));
        assert!(crosses([(-0.5, 0.5), (0.5, -0.5)], unit.0, unit.1));
        assert!(!crosses([(-0.6, 0.5), (0.5, -0.6)], unit.0, unit.1));
        assert!(!crosses([(1.1, -5.0), (1.1, 5.0)], unit.0, unit.1));
        assert!(!crosses([(-5.0, 2.0), (5.0, 1.01)], unit.0, unit.1));
    }
}
