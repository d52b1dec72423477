//! The drive force over the path of a stroke.
//!
//! The path is cut into equal panels, and again where the mechanism's force jumps. A panel keeps the mechanism's force at
//! both ends, taken from the inside of the panel, and by how much its mean by Simpson's rule lies above theirs.

use super::super::loads::Loads;
use super::super::mechanism::{self, Direction, Force, Jam};
use crate::scenario::door::{Door, Drive};

/// Panels of equal length that a path is cut into.
pub const PANELS: usize = 256;

/// One piece of the path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Panel {
    /// Length, m.
    pub length_m: f64,
    /// Force at its beginning, N.
    pub first_n: f64,
    /// Force at its end, N.
    pub last_n: f64,
    /// Mean force of a parabola through ends and middle, less the mean of the ends, N; 0 where the force is linear.
    pub bow_n: f64,
    /// Distance travelled at its end, m.
    pub end_m: f64,
    /// If it ends on the equal grid: how many grid steps have been travelled.
    pub grid: Option<usize>,
}

/// The force over a path.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Which way.
    pub direction: Direction,
    /// Start, m from shut.
    pub from_m: f64,
    /// End, m from shut.
    pub to_m: f64,
    /// Force to set off from rest.
    pub start: Force,
    /// Whether that force contains ice.
    pub start_iced: bool,
    /// The pieces, up to a jam if there is one.
    pub panels: Vec<Panel>,
    /// Distance travelled and reason of a jam on the way.
    pub jam: Option<(f64, Jam)>,
}

impl Profile {
    /// The profile of a door from `from_m` (taken into the stroke's range) to the end of its stroke.
    pub fn new(door: &Door, drive: &Drive, direction: Direction, loads: &Loads, from_m: f64) -> Profile {
        let full = mechanism::stroke_m(door).max(0.0);
        let from_m = from_m.clamp(0.0, full);
        let to_m = if direction == Direction::Opening { full } else { 0.0 };
        let way = if direction == Direction::Opening { 1.0 } else { -1.0 };
        let cuts: Vec<f64> = mechanism::breakpoints_m(door).iter().map(|at| (at - from_m) * way).collect();
        let mut profile = Profile::of((to_m - from_m).abs(), &cuts, |travelled| {
            mechanism::drive_force(door, drive, direction, from_m + way * travelled, loads, false)
        });
        profile.direction = direction;
        profile.from_m = from_m;
        profile.to_m = to_m;
        profile.set_start(door, drive, loads);
        profile
    }

    /// The profile of any force law over `length_m` of travel, from position 0 upwards; `cuts` are the distances
    /// where the force jumps. The force to set off is the force at the beginning.
    pub fn of(length_m: f64, cuts: &[f64], force: impl Fn(f64) -> Force) -> Profile {
        let mut profile = Profile {
            direction: Direction::Opening,
            from_m: 0.0,
            to_m: length_m,
            start: force(0.0),
            start_iced: false,
            panels: Vec::new(),
            jam: None,
        };
        if length_m <= 0.0 {
            return profile;
        }
        let mut begin = 0.0;
        let mut known = None;
        for End { at_m: end, grid, cut } in ends(length_m, cuts) {
            let length = end - begin;
            // A jump at a cut must be seen from the inside of the panel, on both sides.
            let inside = length * 1e-9;
            let first = known.unwrap_or_else(|| force(begin + inside));
            let last = force(end - inside);
            let middle = force(begin + 0.5 * length);
            let (first_n, middle_n, last_n) = match (first, middle, last) {
                (Force::Push(first_n), Force::Push(middle_n), Force::Push(last_n)) => (first_n, middle_n, last_n),
                (Force::Jammed(jam), ..) | (_, Force::Jammed(jam), _) | (.., Force::Jammed(jam)) => {
                    profile.jam = Some((begin, jam));
                    break;
                }
            };
            let bow_n = (4.0 * middle_n - 2.0 * (first_n + last_n)) / 6.0;
            profile.panels.push(Panel { length_m: length, first_n, last_n, bow_n, end_m: end, grid });
            known = (!cut).then_some(last);
            begin = end;
        }
        profile
    }

    /// Sets the force that sets the panel off, for the frost of these loads; the rest of the profile stays.
    pub fn set_start(&mut self, door: &Door, drive: &Drive, loads: &Loads) {
        self.start = mechanism::drive_force(door, drive, self.direction, self.from_m, loads, true);
        let thawed = Loads { frozen: false, ..*loads };
        self.start_iced = loads.frozen
            && self.start != mechanism::drive_force(door, drive, self.direction, self.from_m, &thawed, true);
    }

    /// Length of the path, m.
    pub fn length_m(&self) -> f64 {
        (self.to_m - self.from_m).abs()
    }

    /// Position after `travelled_m`, m from shut.
    pub fn position_m(&self, travelled_m: f64) -> f64 {
        if self.to_m >= self.from_m { self.from_m + travelled_m } else { self.from_m - travelled_m }
    }

    /// Integral of (|F|/rated)^exponent over each panel, m, by Simpson's rule. A driving load wears the gear as much as
    /// a resisting one, hence the magnitude.
    pub fn damage_by_panel(&self, exponent: f64, rated_n: f64) -> Vec<f64> {
        let weight = |force_n: f64| libm::pow(force_n.abs() / rated_n, exponent);
        let mut known = (f64::NAN, 0.0);
        self.panels
            .iter()
            .map(|panel| {
                let first = if panel.first_n == known.0 { known.1 } else { weight(panel.first_n) };
                if panel.first_n == panel.last_n && panel.bow_n == 0.0 {
                    known = (panel.last_n, first);
                    return first * panel.length_m;
                }
                let last = weight(panel.last_n);
                known = (panel.last_n, last);
                panel.length_m / 6.0
                    * (first + 4.0 * weight(0.5 * (panel.first_n + panel.last_n) + 1.5 * panel.bow_n) + last)
            })
            .collect()
    }
}

/// End of a panel.
struct End {
    at_m: f64,
    grid: Option<usize>,
    /// Whether the force jumps there.
    cut: bool,
}

/// Ends of the panels: the equal grid, and the cuts between. A cut that falls on the grid takes the grid's place.
fn ends(length_m: f64, cuts: &[f64]) -> Vec<End> {
    let step = length_m / PANELS as f64;
    let mut ends: Vec<End> =
        (1..=PANELS).map(|i| End { at_m: length_m * (i as f64 / PANELS as f64), grid: Some(i), cut: false }).collect();
    for &at_m in cuts {
        if !(at_m > 0.0 && at_m < length_m) {
            continue;
        }
        match ends.iter_mut().find(|end| (end.at_m - at_m).abs() < 1e-6 * step) {
            // The end of the path is not moved: nothing follows it.
            Some(end) if end.grid == Some(PANELS) => {}
            Some(end) => (end.at_m, end.cut) = (at_m, true),
            None => ends.push(End { at_m, grid: None, cut: true }),
        }
    }
    ends.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    ends
}
