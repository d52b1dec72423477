//! The actuator: a permanent-magnet DC motor with a fixed gear, described at the panel.
//!
//! From V = I R + k w and torque = k I follow straight lines (any text on DC machines):
//!
//! ```text
//! v = v0 (1 - F/Fs)        I = I0 + (Is - I0) F/Fs        R = Vn/Is at 20 degC
//! ```
//!
//! At another voltage V, with a cable Rc and a warm winding R' = R (1 + 0.00393 (T - 20)):
//! v0' = v0 (V - I0 (R' + Rc))/(Vn - I0 R), Is' = V/(R' + Rc), Fs' = Fs (Is' - I0)/(Is - I0). The weakening of the
//! magnet with temperature is left out: it costs thrust (about 0.1 to 0.2 %/K, from memory) but far less than the
//! winding's 0.4 %/K, and cold starts make up for it.
//!
//! A driver's current limit does not change the line below it; it caps the force.
//!
//! When the load |F| drives the panel, the motor feels the share `lowering` of it:
//! - a self-locking screw has to be turned even then, against tan(phi - lambda)/tan(phi + lambda) of the load, about a quarter
//!   of it for a usual trapezoidal thread (any text on machine elements); one that does not lock passes on what its friction
//!   leaves, a negative share.
//! - any other self-locking gear, of which no more is known, runs at no-load speed with no-load current: share 0.
//! - any other gear passes the whole load on to the motor, which is held by the driver: share -1. The line continues to the
//!   other side, v = v0 (1 + |F|/Fs), the current falls below I0 and may turn into a braking current. The driver does not
//!   return energy to the supply. Beyond the braking current that the driver or the resistance allows, the load
//!   overruns the drive.

use super::heat::COPPER_PER_K;
use crate::scenario::door::gear::Gear;
use crate::scenario::door::{Drive, Supply};

/// Builds the working line of a drive on a supply.
#[derive(Clone, Copy, Debug)]
pub struct Actuator;

/// Speed, current and force of a drive at one voltage and one winding temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Voltage at the driver, V.
    pub voltage_v: f64,
    /// Resistance of the winding at its temperature, ohm.
    pub winding_ohm: f64,
    /// Resistance of the cable, ohm.
    pub cable_ohm: f64,
    /// No-load speed, m/s; 0 if the motor does not turn.
    pub no_load_speed_m_s: f64,
    /// No-load current, A.
    pub no_load_current_a: f64,
    /// Force at which the motor stands still at full voltage, N; 0 if the motor does not turn.
    pub stall_force_n: f64,
    /// Current at standstill and full voltage, A.
    pub stall_current_a: f64,
    /// Driver's current limit, A.
    pub current_limit_a: f64,
    /// Share of a driving load that the motor feels: positive if it must still push, negative if the load drives it.
    pub lowering: f64,
}

/// Share of a driving load that the motor of a drive feels, as a force against it.
fn lowering(drive: &Drive) -> f64 {
    match drive.gear {
        Gear::Screw(_, screw) => screw.lowering_ratio(),
        _ if drive.self_locking => 0.0,
        _ => -1.0,
    }
}

impl Actuator {
    /// The working line of `drive` on `supply` with the winding at `winding_c` degC.
    pub fn at(drive: &Drive, supply: &Supply, winding_c: f64) -> Line {
        let cold_ohm = winding_ohm_20(drive);
        // Winding temperatures below -200 degC would make the linear law negative.
        let winding_ohm = cold_ohm * (1.0 + COPPER_PER_K * (winding_c.max(-200.0) - 20.0));
        let total_ohm = winding_ohm + supply.cable_ohm;
        let stall_current_a = supply.voltage_v / total_ohm;
        let emf = supply.voltage_v - drive.no_load_current_a * total_ohm;
        let nominal_emf = drive.nominal_v - drive.no_load_current_a * cold_ohm;
        // Its own friction takes the no-load current; a driver that limits the current below that stands still.
        let turns = emf > 0.0 && nominal_emf > 0.0 && drive.current_limit_a > drive.no_load_current_a;
        let current_span = drive.stall_current_a - drive.no_load_current_a;
        Line {
            voltage_v: supply.voltage_v,
            winding_ohm,
            cable_ohm: supply.cable_ohm,
            no_load_speed_m_s: if turns { drive.no_load_speed_m_s * emf / nominal_emf } else { 0.0 },
            no_load_current_a: drive.no_load_current_a,
            stall_force_n: if turns {
                drive.stall_force_n * (stall_current_a - drive.no_load_current_a) / current_span
            } else {
                0.0
            },
            stall_current_a,
            current_limit_a: drive.current_limit_a,
            lowering: lowering(drive),
        }
    }

    /// Share of the motor's own mechanical power that reaches the panel, Fs v0 / ((Vn - I0 R)(Is - I0)). The rest is
    /// lost in the gear. A value above 1 means that the catalogue figures contradict each other.
    pub fn gear_efficiency(drive: &Drive) -> f64 {
        let emf = drive.nominal_v - drive.no_load_current_a * winding_ohm_20(drive);
        drive.stall_force_n * drive.no_load_speed_m_s / (emf * (drive.stall_current_a - drive.no_load_current_a))
    }
}

/// Resistance of the winding at 20 degC, ohm: catalogue voltage over catalogue stall current.
pub fn winding_ohm_20(drive: &Drive) -> f64 {
    drive.nominal_v / drive.stall_current_a
}

impl Line {
    /// Whether the motor turns at all at this voltage and current limit.
    pub fn turns(&self) -> bool {
        self.no_load_speed_m_s > 0.0 && self.stall_force_n > 0.0
    }

    /// Largest force, N: the stall force, or less under a current limit.
    pub fn available_n(&self) -> f64 {
        self.force_of_current(self.start_current_a()).max(0.0)
    }

    /// Largest load, N, that the drive can hold back; infinite for a self-locking gear.
    pub fn holds_n(&self) -> f64 {
        if self.lowering >= 0.0 {
            f64::INFINITY
        } else {
            self.force_of_current(-self.start_current_a()) / self.lowering
        }
    }

    /// Driving load, N, at which the motor begins to brake; infinite for a self-locking gear.
    pub fn brakes_from_n(&self) -> f64 {
        if self.lowering >= 0.0 {
            return f64::INFINITY;
        }
        let span = self.stall_current_a - self.no_load_current_a;
        self.stall_force_n * (self.no_load_current_a / span) / -self.lowering
    }

    /// Current at the start from rest, A: stall current or the driver's limit.
    pub fn start_current_a(&self) -> f64 {
        self.stall_current_a.min(self.current_limit_a)
    }

    /// Speed at a force, m/s; 0 from the stall force on.
    pub fn speed_m_s(&self, force_n: f64) -> f64 {
        if !self.turns() {
            return 0.0;
        }
        (self.no_load_speed_m_s * (1.0 - self.motor_force_n(force_n) / self.stall_force_n)).max(0.0)
    }

    /// Motor current at a force, A; negative while it brakes; at most the start current.
    pub fn current_a(&self, force_n: f64) -> f64 {
        if !self.turns() {
            return self.start_current_a();
        }
        let slope = (self.stall_current_a - self.no_load_current_a) / self.stall_force_n;
        (self.no_load_current_a + slope * self.motor_force_n(force_n)).min(self.start_current_a())
    }

    /// Electrical power at the driver at a force, W; never negative.
    pub fn power_w(&self, force_n: f64) -> f64 {
        self.voltage_v * self.current_a(force_n).max(0.0)
    }

    /// Time that a start from rest takes longer than a start at full speed, s, against a constant force, with
    /// `moving_kg` in motion; infinite if it does not start.
    ///
    /// Up to the speed where the line leaves the current limit the force is constant, then the speed approaches its
    /// final value exponentially with the time constant m v0/Fs; both parts are exact.
    pub fn start_loss_s(&self, force_n: f64, moving_kg: f64) -> f64 {
        match self.start_phases(force_n, moving_kg) {
            Some(p) => {
                p.first_s * (1.0 - 0.5 * p.corner_m_s / p.final_m_s) + p.tau_s * (1.0 - p.corner_m_s / p.final_m_s)
            }
            None => f64::INFINITY,
        }
    }

    /// Time from rest to the share `share` (0 to 1, exclusive) of the final speed, s; infinite if it does not start.
    pub fn start_time_s(&self, share: f64, force_n: f64, moving_kg: f64) -> f64 {
        let Some(p) = self.start_phases(force_n, moving_kg) else { return f64::INFINITY };
        let goal = share * p.final_m_s;
        if goal <= p.corner_m_s {
            return p.first_s * goal / p.corner_m_s;
        }
        p.first_s + p.tau_s * libm::log((p.final_m_s - p.corner_m_s) / (p.final_m_s - goal))
    }

    fn start_phases(&self, force_n: f64, moving_kg: f64) -> Option<StartPhases> {
        let force = self.motor_force_n(force_n);
        let surplus = self.available_n() - force;
        if !self.turns() || surplus <= 0.0 {
            return None;
        }
        let corner_m_s = (self.no_load_speed_m_s * (1.0 - self.available_n() / self.stall_force_n)).max(0.0);
        Some(StartPhases {
            corner_m_s,
            final_m_s: self.no_load_speed_m_s * (1.0 - force / self.stall_force_n),
            first_s: moving_kg * corner_m_s / surplus,
            tau_s: moving_kg * self.no_load_speed_m_s / self.stall_force_n,
        })
    }

    /// Force that the motor sees.
    fn motor_force_n(&self, force_n: f64) -> f64 {
        if force_n >= 0.0 { force_n } else { -self.lowering * force_n }
    }

    fn force_of_current(&self, current_a: f64) -> f64 {
        if !self.turns() {
            return 0.0;
        }
        self.stall_force_n * (current_a - self.no_load_current_a) / (self.stall_current_a - self.no_load_current_a)
    }
}

/// The two phases of a start.
struct StartPhases {
    /// Speed where the current leaves its limit, m/s.
    corner_m_s: f64,
    /// Speed in the end, m/s.
    final_m_s: f64,
    /// Time at the current limit, s.
    first_s: f64,
    /// Time constant afterwards, s.
    tau_s: f64,
}
