//! One stroke: how long it takes, what it costs, or where it stops.
//!
//! The drive force over the stroke ([`profile`]) meets the actuator's line: t = integral of ds/v(F(s)), energy =
//! integral of V I dt, heat = integral of I^2 R dt, damage by the load-life law. The motion is quasi-static: the inertia
//! enters only as the time that the start from rest costs. A stroke whose force reaches what the drive can give does
//! not end; it says where it stops.

use std::fmt;

use super::actuator::{Actuator, Line};
use super::loads::Loads;
use super::mechanism::{self, Direction, Jam};
use super::power::supply_w;
use crate::scenario::door::{Door, Drive, Supply};

pub mod path;
pub mod profile;
pub mod table;

pub use path::Path;
pub use profile::Profile;
pub use table::StrokeTable;

/// Number of equally spaced positions, both ends included, for which the time is kept.
pub const KNOTS: usize = 65;

/// Why a stroke does not end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stall {
    /// No force moves the panel.
    Jammed(Jam),
    /// Neither voltage nor current limit let the motor turn.
    NoPower,
    /// The drive is too weak to break the ice at the seal.
    Ice,
    /// The drive is too weak to set the panel off from rest.
    TooWeakToStart,
    /// The load grows beyond the drive's force on the way.
    TooWeak,
    /// The load drives the panel harder than the drive can hold.
    Overruns,
}

impl Stall {
    /// Whether it is a jam that no stronger drive would cure.
    pub fn is_jam(self) -> bool {
        matches!(self, Stall::Jammed(_))
    }
}

impl fmt::Display for Stall {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Stall::Jammed(jam) => jam.fmt(f),
            Stall::NoPower => f.write_str("the voltage, or the driver's current limit, does not turn the motor"),
            Stall::Ice => f.write_str("the drive is too weak to break the ice at the seal"),
            Stall::TooWeakToStart => f.write_str("the drive is too weak to set the panel off"),
            Stall::TooWeak => f.write_str("the load grows beyond the drive's force"),
            Stall::Overruns => f.write_str("the load overruns the drive"),
        }
    }
}

/// How a stroke ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// It reaches the end.
    Finished,
    /// It stops on the way.
    Stalled {
        /// Position where it stops, m from shut.
        at_m: f64,
        /// Whether no stronger drive would help.
        jammed: bool,
        /// Why.
        reason: Stall,
    },
}

/// One stroke from rest.
///
/// Of a stalled stroke, energy, heat, damage and means cover the part up to the last of the integration's panels
/// that it finishes (at most 1/256 of the way short of the stop); `time_s` is infinite, because it never arrives.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// Finished or stalled.
    pub outcome: Outcome,
    /// Which way.
    pub direction: Direction,
    /// Where it starts, m from shut.
    pub from_m: f64,
    /// Where it is to end, m from shut.
    pub to_m: f64,
    /// Part of the time that the start from rest costs, s: what a start takes longer than a flying one, if the path is
    /// long enough to come up to speed (on a shorter one it is an upper bound).
    pub start_s: f64,
    /// Time, s, with the start; infinite if stalled.
    pub time_s: f64,
    /// Electrical energy at the driver, J.
    pub energy_j: f64,
    /// Heat in the winding, J.
    pub copper_heat_j: f64,
    /// Heat in the cable, J.
    pub cable_heat_j: f64,
    /// Work done on the panel, J; negative where the load drives.
    pub work_j: f64,
    /// Friction of motor and gear, J: the rest of the energy balance, at least 0.
    pub friction_heat_j: f64,
    /// Mean of the magnitude of the motor current while moving, A.
    pub mean_current_a: f64,
    /// Root mean square of the motor current while moving, A: what heats.
    pub rms_current_a: f64,
    /// Largest current after the start, A.
    pub running_current_a: f64,
    /// Largest current, A: stall current or current limit, at the start from rest.
    pub peak_current_a: f64,
    /// Largest power drawn from the supply, W, converter and standby included. A current limiter draws less than this
    /// at standstill, but reaches it while the motor speeds up at the limit.
    pub peak_supply_w: f64,
    /// Used fraction of life: mean of (|F|/rated)^p over the path, times path per full stroke, over the rated strokes.
    pub damage: f64,
    /// Least ratio of available to required force over the whole path (beyond a stall, too), the start included;
    /// infinite if no force is required, 0 at a jam.
    pub least_margin: f64,
    /// Where it occurs, m from shut.
    pub least_margin_at_m: f64,
    /// Times to reach [`KNOTS`] equally spaced positions of the path, s; infinite beyond a stall.
    pub times_s: [f64; KNOTS],
}

/// The share of a stroke between two positions of its path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Time, s, with one start from rest.
    pub time_s: f64,
    /// Electrical energy at the driver, J.
    pub energy_j: f64,
    /// Heat in the winding, J.
    pub copper_heat_j: f64,
    /// Heat in motor and gear by friction, J.
    pub friction_heat_j: f64,
    /// Used fraction of life.
    pub damage: f64,
}

/// Solves the stroke from rest at `from_m` to the end, with a rested motor: its winding at air temperature.
pub fn solve(door: &Door, drive: &Drive, supply: &Supply, direction: Direction, loads: &Loads, from_m: f64) -> Stroke {
    solve_with_winding(door, drive, supply, direction, loads, from_m, loads.temperature_c)
}

/// Solves the stroke with the winding at `winding_c` degC: with the cut-out's temperature, the weakest drive that
/// ever runs.
pub fn solve_with_winding(
    door: &Door,
    drive: &Drive,
    supply: &Supply,
    direction: Direction,
    loads: &Loads,
    from_m: f64,
    winding_c: f64,
) -> Stroke {
    let profile = Profile::new(door, drive, direction, loads, from_m);
    let line = Actuator::at(drive, supply, winding_c);
    let path = Path::along(&profile, &line, KNOTS);
    let damage = profile.damage_by_panel(drive.wear.exponent, drive.rated_force_n);
    Stroke::new(door, drive, supply, &profile, &damage, &line, &path)
}

impl Stroke {
    /// Puts together what the integration found and what the start from rest needs.
    fn new(
        door: &Door,
        drive: &Drive,
        supply: &Supply,
        profile: &Profile,
        damage_by_panel: &[f64],
        line: &Line,
        path: &Path,
    ) -> Stroke {
        let full_m = mechanism::stroke_m(door);
        let mut stroke = Stroke {
            outcome: Outcome::Finished,
            direction: profile.direction,
            from_m: profile.from_m,
            to_m: profile.to_m,
            start_s: 0.0,
            time_s: path.time_s,
            energy_j: path.drawn_as * line.voltage_v,
            copper_heat_j: path.square_a2s * line.winding_ohm,
            cable_heat_j: path.square_a2s * line.cable_ohm,
            work_j: path.work_j,
            friction_heat_j: 0.0,
            mean_current_a: 0.0,
            rms_current_a: 0.0,
            running_current_a: path.running_current_a,
            peak_current_a: line.start_current_a(),
            peak_supply_w: supply_w(supply, line.voltage_v * line.start_current_a()),
            damage: 0.0,
            least_margin: path.least_margin,
            least_margin_at_m: profile.position_m(path.least_margin_at),
            times_s: [f64::INFINITY; KNOTS],
        };
        if profile.length_m() <= 0.0 {
            // Already there: nothing starts, whatever the drive can do.
            stroke.least_margin = f64::INFINITY;
            stroke.times_s = [0.0; KNOTS];
            stroke.peak_current_a = 0.0;
            stroke.peak_supply_w = supply_w(supply, 0.0);
            return stroke;
        }
        stroke.friction_heat_j =
            (stroke.energy_j - stroke.copper_heat_j - stroke.cable_heat_j - stroke.work_j).max(0.0);
        if path.time_s > 0.0 {
            stroke.mean_current_a = path.charge_as / path.time_s;
            stroke.rms_current_a = (path.square_a2s / path.time_s).sqrt();
        }
        let covered: f64 = damage_by_panel[..path.panels].iter().sum();
        stroke.damage = covered / full_m / drive.wear.rated_strokes;
        stroke.times_s.copy_from_slice(&path.times_s);
        if let Some((at, reason)) = path.stall {
            stroke.stall(profile.position_m(at), reason);
        }
        let moving_kg = mechanism::moving_mass_kg(door) + drive.reflected_mass_kg;
        stroke.start(profile, moving_kg, line);
        if drive.soft_start_s > 0.0 && stroke.start_s > 0.0 {
            stroke.soften(profile, moving_kg, line, drive.soft_start_s, supply);
        }
        stroke
    }

    /// Adds the start from rest: its force, its time, or that it fails.
    fn start(&mut self, profile: &Profile, moving_kg: f64, line: &Line) {
        let force = match profile.start {
            _ if !line.turns() => return self.stall_at_start(Stall::NoPower),
            mechanism::Force::Jammed(jam) => return self.stall_at_start(Stall::Jammed(jam)),
            mechanism::Force::Push(force) => force,
        };
        let available = line.available_n();
        if force > 0.0 && available / force < self.least_margin {
            self.least_margin = available / force;
            self.least_margin_at_m = self.from_m;
        }
        if force >= available {
            return self.stall_at_start(if profile.start_iced { Stall::Ice } else { Stall::TooWeakToStart });
        }
        if -force > line.holds_n() {
            return self.stall_at_start(Stall::Overruns);
        }
        // Once it has broken away, it speeds up against the force of a moving panel.
        let moving_n = profile.panels.first().map_or(force, |panel| panel.first_n);
        self.start_s = line.start_loss_s(moving_n, moving_kg);
        self.time_s += self.start_s;
        for time in &mut self.times_s {
            *time += self.start_s;
        }
    }

    /// A driver that raises the voltage steadily over `ramp_s` lets the speed rise with it: the current then holds only the load and
    /// the inertia's share, m v/ramp, but no more than without; half the ramp is lost. (Quasi-static motor on a ramp.)
    fn soften(&mut self, profile: &Profile, moving_kg: f64, line: &Line, ramp_s: f64, supply: &Supply) {
        let mechanism::Force::Push(start_n) = profile.start else { return };
        let moving_n = profile.panels.first().map_or(start_n, |panel| panel.first_n);
        let inertia_n = moving_kg * line.speed_m_s(moving_n) / ramp_s;
        self.peak_current_a = line.current_a(start_n.max(moving_n + inertia_n)).max(self.running_current_a);
        self.peak_supply_w = supply_w(supply, line.voltage_v * self.peak_current_a);
        self.start_s += 0.5 * ramp_s;
        self.time_s += 0.5 * ramp_s;
        for time in &mut self.times_s {
            *time += 0.5 * ramp_s;
        }
    }

    fn stall_at_start(&mut self, reason: Stall) {
        self.times_s = [f64::INFINITY; KNOTS];
        self.energy_j = 0.0;
        self.copper_heat_j = 0.0;
        self.cable_heat_j = 0.0;
        self.work_j = 0.0;
        self.friction_heat_j = 0.0;
        self.mean_current_a = 0.0;
        self.rms_current_a = 0.0;
        self.running_current_a = 0.0;
        self.damage = 0.0;
        self.stall(self.from_m, reason);
    }

    fn stall(&mut self, at_m: f64, reason: Stall) {
        self.outcome = Outcome::Stalled { at_m, jammed: reason.is_jam(), reason };
        self.time_s = f64::INFINITY;
        if reason.is_jam() {
            self.least_margin = 0.0;
            self.least_margin_at_m = at_m;
        }
    }

    /// Whether it reaches its end.
    pub fn finishes(&self) -> bool {
        self.outcome == Outcome::Finished
    }

    /// Position after `time_s` from the command, m from shut. Linear between the kept positions; a stalled stroke
    /// goes on from its last kept position at the pace that it had, up to where it stops.
    pub fn position_at(&self, time_s: f64) -> f64 {
        let next = self.times_s.partition_point(|&t| t <= time_s);
        if next == 0 {
            return self.from_m;
        }
        if next == KNOTS {
            return self.to_m;
        }
        let (before, after) = (self.times_s[next - 1], self.times_s[next]);
        let knots = if after.is_finite() {
            (time_s - before) / (after - before)
        } else if time_s > before && next > 1 {
            (time_s - before) / (before - self.times_s[next - 2])
        } else {
            0.0
        };
        let share = ((next - 1) as f64 + knots) / (KNOTS - 1) as f64;
        self.from_m + (self.to_m - self.from_m) * share.min(self.reached())
    }

    /// Share of the path that it can reach, 0 to 1.
    fn reached(&self) -> f64 {
        match self.outcome {
            Outcome::Finished => 1.0,
            Outcome::Stalled { at_m, .. } => self.share(at_m),
        }
    }

    /// Time from the command until `position_m` is reached, s; infinite beyond a stall. Positions outside the path
    /// count as its nearer end.
    pub fn time_at(&self, position_m: f64) -> f64 {
        let share = self.share(position_m);
        let knot = ((share * (KNOTS - 1) as f64) as usize).min(KNOTS - 2);
        let part = share * (KNOTS - 1) as f64 - knot as f64;
        let (before, after) = (self.times_s[knot], self.times_s[knot + 1]);
        if part <= 0.0 || before.is_infinite() { before } else { before + (after - before) * part }
    }

    /// Time for the part of the path between two positions when it starts from rest there, s.
    pub fn time_between(&self, from_m: f64, to_m: f64) -> f64 {
        let (first, last) = (self.time_at(from_m), self.time_at(to_m));
        // Both infinite (both beyond a stall) must not become not-a-number.
        if first.is_infinite() || last.is_infinite() { f64::INFINITY } else { self.start_s + (last - first).abs() }
    }

    /// Time, energy, heat and damage of the part of the path between two positions: energy and heat in proportion to
    /// the moving time, damage in proportion to the way.
    pub fn part(&self, from_m: f64, to_m: f64) -> Part {
        let time_s = self.time_between(from_m, to_m);
        let moving = self.time_s - self.start_s;
        let of_time =
            if moving > 0.0 && moving.is_finite() { ((time_s - self.start_s) / moving).clamp(0.0, 1.0) } else { 0.0 };
        let of_way = (self.share(to_m) - self.share(from_m)).abs();
        Part {
            time_s,
            energy_j: self.energy_j * of_time,
            copper_heat_j: self.copper_heat_j * of_time,
            friction_heat_j: self.friction_heat_j * of_time,
            damage: self.damage * of_way,
        }
    }

    /// Share of the path covered at a position, 0 to 1.
    fn share(&self, position_m: f64) -> f64 {
        let length = self.to_m - self.from_m;
        if length == 0.0 { 0.0 } else { ((position_m - self.from_m) / length).clamp(0.0, 1.0) }
    }
}
