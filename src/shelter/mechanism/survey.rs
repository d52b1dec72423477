//! Surveys along the stroke that need no kind of mechanism: dead zones, reach, what the panel sweeps through, and where a body
//! passes.

use super::{
    Direction, Force, Jam, asked_force, clear_height_m, clear_width_m, drive_force, opens_sideways, pose, stroke_m,
    uncovered_m,
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

/// A position with the panel's line there.
pub type Pose = (f64, [(f64, f64); 2]);

/// Reach out of the door line that counts as none, m: a panel's own thickness is not modelled.
const KEEPS_TO_LINE_M: f64 = 1e-3;

/// What the panel sweeps through out of the door line, as far up as bodies reach.
#[derive(Clone, Debug, PartialEq)]
pub struct Swept {
    /// Its poses along the stroke; none where it keeps to the door line.
    poses: Vec<Pose>,
    /// How far it reaches into the shelter, m.
    inside_m: f64,
    /// How far it reaches outside, m.
    outside_m: f64,
}

impl Swept {
    /// Whether it may touch what lies between two distances from the door line (x outwards, m): a quick look.
    pub fn may_touch(&self, x_m: (f64, f64)) -> bool {
        !self.is_empty() && x_m.0 <= self.outside_m && x_m.1 >= -self.inside_m
    }

    /// Whether the panel keeps to the door line.
    pub fn is_empty(&self) -> bool {
        self.poses.is_empty()
    }
}

/// What the panel sweeps through below `height_m`.
pub fn swept(door: &Door, height_m: f64) -> Swept {
    let mut swept = Swept { poses: Vec::new(), inside_m: 0.0, outside_m: 0.0 };
    let highest = if opens_sideways(door) { f64::INFINITY } else { height_m };
    for (_, line) in poses(door) {
        let all = ((f64::NEG_INFINITY, f64::NEG_INFINITY), (f64::INFINITY, highest));
        let Some((from, to)) = common(line, all.0, all.1) else { continue };
        for share in [from, to] {
            let x = line[0].0 + (line[1].0 - line[0].0) * share;
            (swept.inside_m, swept.outside_m) = (swept.inside_m.max(-x), swept.outside_m.max(x));
        }
    }
    if swept.inside_m.max(swept.outside_m) > KEEPS_TO_LINE_M {
        swept.poses = poses(door).collect();
    }
    swept
}

/// The panel's line at every step of the stroke, with its position.
pub fn poses(door: &Door) -> impl Iterator<Item = Pose> + '_ {
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

/// Where the panel touches a box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Meeting {
    /// Position of the door, m from shut.
    pub at_m: f64,
    /// The touching point's place along the panel's line, as a share of it.
    pub share: f64,
}

/// Where the panel first touches a box on its way open, and where it does on its way shut; none if it never does. Between two
/// poses the ends are bisected.
pub fn meetings(door: &Door, swept: &Swept, low: (f64, f64), high: (f64, f64)) -> Option<(Meeting, Meeting)> {
    let poses = &swept.poses;
    let inside = |pose: &Pose| crosses(pose.1, low, high);
    let first = poses.iter().position(inside)?;
    let last = first + poses[first..].iter().take_while(|pose| inside(pose)).count() - 1;
    let end = |touches: f64, clear: Option<&Pose>| {
        let at_m =
            clear.map_or(touches, |(clear, _)| bisected(*clear, touches, |at| crosses(pose(door, at), low, high)));
        let (enter, leave) = common(pose(door, at_m), low, high)?;
        Some(Meeting { at_m, share: 0.5 * (enter + leave) })
    };
    Some((end(poses[first].0, first.checked_sub(1).map(|i| &poses[i]))?, end(poses[last].0, poses.get(last + 1))?))
}

/// Two opposite corners of a body in the plane of the panel's pose, by its extent outwards, sideways and upwards, m; none if it
/// stands beside a panel that opens upwards.
pub fn corners(door: &Door, x_m: (f64, f64), y_m: (f64, f64), height_m: f64) -> Option<[(f64, f64); 2]> {
    if opens_sideways(door) {
        return Some([(x_m.0, y_m.0), (x_m.1, y_m.1)]);
    }
    let half_m = 0.5 * door.width_m;
    let beside = y_m.0 >= half_m || y_m.1 <= -half_m;
    (!beside).then_some([(x_m.0, 0.0), (x_m.1, height_m)])
}

/// Where the panel at a position touches a box; none if it does not.
pub fn touch(door: &Door, position_m: f64, low: (f64, f64), high: (f64, f64)) -> Option<Meeting> {
    let (enter, leave) = common(pose(door, position_m), low, high)?;
    Some(Meeting { at_m: position_m, share: 0.5 * (enter + leave) })
}

/// Travel of the touching point per travel of the actuator.
pub fn gain(door: &Door, meeting: &Meeting) -> f64 {
    let full = stroke_m(door).max(0.0);
    let step = full / STEPS as f64;
    let (a, b) = ((meeting.at_m - step).max(0.0), (meeting.at_m + step).min(full));
    let point = |at: f64| {
        let [(x0, y0), (x1, y1)] = pose(door, at);
        (x0 + (x1 - x0) * meeting.share, y0 + (y1 - y0) * meeting.share)
    };
    let ((x0, y0), (x1, y1)) = (point(a), point(b));
    if b > a { libm::hypot(x1 - x0, y1 - y0) / (b - a) } else { 0.0 }
}

/// Whether a segment and a box with inside have a point in common.
fn crosses(line: [(f64, f64); 2], low: (f64, f64), high: (f64, f64)) -> bool {
    common(line, low, high).is_some()
}

/// The part of a segment that a box with inside holds, as shares of it (Liang and Barsky 1984).
fn common([(x0, y0), (x1, y1)]: [(f64, f64); 2], low: (f64, f64), high: (f64, f64)) -> Option<(f64, f64)> {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (start, end, least, most) in [(x0, x1, low.0, high.0), (y0, y1, low.1, high.1)] {
        let way = end - start;
        if way == 0.0 {
            if start < least || start > most {
                return None;
            }
            continue;
        }
        let (a, b) = ((least - start) / way, (most - start) / way);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    (enter <= leave).then_some((enter, leave))
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
    let half = 0.5 * uncovered_m(door, full);
    edge(0.0, full, |x| uncovered_m(door, x) >= half)
}

/// Where a statement that does not hold at `low` begins to hold on the way to `high`, by bisection.
fn edge(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    if holds(low) {
        return low;
    }
    bisected(low, high, holds)
}

/// The same where it is known not to hold at `low`; `high` may lie on either side.
fn bisected(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (low, high);
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
