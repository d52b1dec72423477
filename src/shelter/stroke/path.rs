//! Integrals of time, charge and heat over a profile.
//!
//! Within a panel the force is linear in the way, so the speed is too, and the current is linear in the speed,
//! I = a + b v. Then with the logarithmic mean of the end speeds all integrals are exact:
//!
//! ```text
//! t = h ln(v1/v2)/(v1 - v2)      integral of I dt = a t + b h      integral of I^2 dt = a^2 t + 2 a b h + b^2 h (v1 + v2)/2
//! ```
//!
//! This keeps the logarithmic approach to a stall, where any rule with fixed weights fails. The linear force of a panel is
//! the one through its ends, moved to the panel's true mean, so that the error for a smooth force falls with the fourth
//! power of the panel's length.

use super::super::actuator::Line;
use super::Stall;
use super::profile::{PANELS, Panel, Profile};

/// What a panel moving along a profile adds up, start from rest not counted.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// Distance travelled and reason of a stop on the way.
    pub stall: Option<(f64, Stall)>,
    /// Panels finished.
    pub panels: usize,
    /// Time over the finished panels, s.
    pub time_s: f64,
    /// Integral of the current's magnitude, A s.
    pub charge_as: f64,
    /// Integral of the current drawn from the driver (none while braking), A s.
    pub drawn_as: f64,
    /// Integral of the squared current, A^2 s.
    pub square_a2s: f64,
    /// Work done on the panel, J.
    pub work_j: f64,
    /// Largest current, A.
    pub running_current_a: f64,
    /// Least ratio of available to required force, over the whole path.
    pub least_margin: f64,
    /// Distance travelled where it occurs, m.
    pub least_margin_at: f64,
    /// Times at the equally spaced positions, s; infinite where it does not arrive.
    pub times_s: Vec<f64>,
}

impl Path {
    /// Integrates; times are kept at `knots` equally spaced positions (a divisor of the panel number plus one).
    pub fn along(profile: &Profile, line: &Line, knots: usize) -> Path {
        debug_assert!(PANELS.is_multiple_of(knots - 1), "knots must fall on the grid");
        let mut path = Path {
            stall: None,
            panels: 0,
            time_s: 0.0,
            charge_as: 0.0,
            drawn_as: 0.0,
            square_a2s: 0.0,
            work_j: 0.0,
            running_current_a: 0.0,
            least_margin: f64::INFINITY,
            least_margin_at: 0.0,
            times_s: vec![f64::INFINITY; knots],
        };
        path.times_s[0] = 0.0;
        if !line.turns() {
            path.least_margin = 0.0;
            path.stall = Some((0.0, Stall::NoPower));
            return path;
        }
        let every = PANELS / (knots - 1);
        let (available, holds) = (line.available_n(), line.holds_n());
        // Over the whole path, also beyond a stall: how much is missing in the worst place.
        profile.panels.iter().for_each(|panel| path.watch_margin(panel, available));
        for panel in &profile.panels {
            if let Some((share, reason)) = stop(panel, available, holds) {
                path.stall = Some((panel.end_m - panel.length_m * (1.0 - share), reason));
                return path;
            }
            path.add(panel, line, available);
            path.panels += 1;
            if let Some(grid) = panel.grid.filter(|grid| grid.is_multiple_of(every)) {
                path.times_s[grid / every] = path.time_s;
            }
        }
        path.stall = profile.jam.map(|(at, jam)| (at, Stall::Jammed(jam)));
        path
    }

    fn watch_margin(&mut self, panel: &Panel, available_n: f64) {
        for (force, at) in [(panel.first_n, panel.end_m - panel.length_m), (panel.last_n, panel.end_m)] {
            if force > 0.0 && available_n / force < self.least_margin {
                self.least_margin = available_n / force;
                self.least_margin_at = at;
            }
        }
    }

    fn add(&mut self, panel: &Panel, line: &Line, available_n: f64) {
        // Next to a stall the moved line could pass the limit, which the panel itself does not.
        let bow = if panel.first_n.max(panel.last_n) + panel.bow_n < available_n { panel.bow_n } else { 0.0 };
        let (first, last) = (panel.first_n + bow, panel.last_n + bow);
        self.work_j += panel.length_m * 0.5 * (first + last);
        self.running_current_a =
            self.running_current_a.max(line.current_a(panel.first_n).abs()).max(line.current_a(panel.last_n).abs());
        // The line bends at no force where the motor feels a driving load by another share than a resisting one; and the
        // current changes its sign where the motor begins to brake.
        let nowhere = f64::INFINITY;
        let mut bends = [if line.lowering == -1.0 { nowhere } else { 0.0 }, -line.brakes_from_n()];
        if last > first {
            bends.reverse();
        }
        let mut from = (0.0, first);
        for bend in bends {
            if (first - bend) * (last - bend) < 0.0 {
                let share = (bend - first) / (last - first);
                self.add_straight(panel.length_m * (share - from.0), from.1, bend, line);
                from = (share, bend);
            }
        }
        self.add_straight(panel.length_m * (1.0 - from.0), from.1, last, line);
    }

    /// Adds a piece over which the line does not bend.
    fn add_straight(&mut self, length_m: f64, first_n: f64, last_n: f64, line: &Line) {
        let (v1, v2) = (line.speed_m_s(first_n), line.speed_m_s(last_n));
        let a = line.stall_current_a;
        let b = -(line.stall_current_a - line.no_load_current_a) / line.no_load_speed_m_s;
        let time = length_m * slowness(v1, v2);
        let charge = a * time + b * length_m;
        self.time_s += time;
        self.charge_as += charge.abs();
        self.drawn_as += charge.max(0.0);
        self.square_a2s += a * a * time + 2.0 * a * b * length_m + b * b * length_m * 0.5 * (v1 + v2);
    }
}

/// Reciprocal of the logarithmic mean of two positive speeds.
fn slowness(v1: f64, v2: f64) -> f64 {
    let x = (v1 - v2) / v2;
    // Below 1e-8 the next term of the series, x^2/3, is under the rounding of 1.
    let ratio = if x.abs() < 1e-8 { 1.0 - 0.5 * x } else { libm::log1p(x) / x };
    ratio / v2
}

/// Share of the panel after which the force reaches a limit of the drive, and which.
fn stop(panel: &Panel, available_n: f64, holds_n: f64) -> Option<(f64, Stall)> {
    let crossing = |limit: f64, reason: Stall| {
        if panel.first_n == panel.last_n {
            return Some((0.0, reason));
        }
        Some((((limit - panel.first_n) / (panel.last_n - panel.first_n)).clamp(0.0, 1.0), reason))
    };
    if panel.first_n >= available_n {
        return Some((0.0, Stall::TooWeak));
    }
    if -panel.first_n > holds_n {
        return Some((0.0, Stall::Overruns));
    }
    if panel.last_n >= available_n {
        return crossing(available_n, Stall::TooWeak);
    }
    if -panel.last_n > holds_n {
        return crossing(-holds_n, Stall::Overruns);
    }
    None
}
