//! Drives given by motor and gear: their figures at the panel.
//!
//! A screw of lead p and mean diameter d with friction mu and flank half angle b (15 degrees trapezoidal, 14.5 degrees acme):
//!
//! ```text
//! lambda = atan(p/(pi d))   phi = atan(mu/cos b)   efficiency = tan lambda / tan(lambda + phi)   self-locking: lambda <= phi
//! F = 2 pi eta T/p          v = n p                m = J (2 pi i/p)^2
//! ```
//!
//! (Any text on machine elements.) A belt or drum of diameter D: F = T eta i/(D/2), v = pi D n/i, m = J (2 i/D)^2. T and
//! n are the motor's stall torque and no-load speed, i its gear's ratio. Vibration can loosen a screw within about a
//! degree of phi (common practice), so "self-locking" just below it deserves a brake.

use std::f64::consts::PI;

/// Where a drive's figures come from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Gear {
    /// Given for the whole actuator.
    Figures,
    /// A motor with a gear and a screw.
    Screw(Motor, Screw),
    /// A motor with a gear and a belt pulley or cord drum.
    Drum(Motor, Drum),
}

/// A geared motor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motor {
    /// No-load speed of the rotor, turns per second.
    pub speed_hz: f64,
    /// Stall torque of the rotor, N m.
    pub stall_torque_nm: f64,
    /// Inertia of the rotor, kg m2.
    pub inertia_kg_m2: f64,
    /// Turns of the rotor per turn of the gear's output.
    pub gear_ratio: f64,
    /// Efficiency of the gear, 0 to 1.
    pub gear_efficiency: f64,
}

/// A screw with its nut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screw {
    /// Lead, m.
    pub lead_m: f64,
    /// Mean diameter of the thread, m.
    pub mean_diameter_m: f64,
    /// Friction coefficient in the thread.
    pub friction: f64,
    /// Half angle of the flanks, degrees.
    pub flank_deg: f64,
}

/// A belt pulley or cord drum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drum {
    /// Diameter, m.
    pub diameter_m: f64,
}

/// Figures at the panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// No-load speed, m/s.
    pub no_load_speed_m_s: f64,
    /// Stall force, N.
    pub stall_force_n: f64,
    /// Inertia as seen at the panel, kg.
    pub reflected_mass_kg: f64,
}

impl Screw {
    /// Lead angle, rad.
    pub fn lead_angle(&self) -> f64 {
        libm::atan2(self.lead_m, PI * self.mean_diameter_m)
    }

    /// Friction angle, rad.
    pub fn friction_angle(&self) -> f64 {
        libm::atan2(self.friction, libm::cos(self.flank_deg.to_radians()))
    }

    /// Efficiency against a load.
    pub fn efficiency(&self) -> f64 {
        let (lead, friction) = (self.lead_angle(), self.friction_angle());
        libm::tan(lead) / libm::tan(lead + friction)
    }

    /// Efficiency at which a load drives the screw; 0 if it is self-locking.
    pub fn back_efficiency(&self) -> f64 {
        let (lead, friction) = (self.lead_angle(), self.friction_angle());
        (libm::tan(lead - friction) / libm::tan(lead)).max(0.0)
    }

    /// Torque to lower a load over the torque to raise it; negative if the load overhauls the screw.
    pub fn lowering_ratio(&self) -> f64 {
        let (lead, friction) = (self.lead_angle(), self.friction_angle());
        libm::tan(friction - lead) / libm::tan(friction + lead)
    }

    /// Whether the load cannot drive it.
    pub fn is_self_locking(&self) -> bool {
        self.lead_angle() <= self.friction_angle()
    }
}

impl Motor {
    /// Figures at the nut of a screw.
    pub fn with_screw(&self, screw: &Screw) -> Figures {
        let radians_per_metre = 2.0 * PI * self.gear_ratio / screw.lead_m;
        Figures {
            no_load_speed_m_s: self.speed_hz / self.gear_ratio * screw.lead_m,
            stall_force_n: self.stall_torque_nm * self.gear_efficiency * screw.efficiency() * radians_per_metre,
            reflected_mass_kg: self.inertia_kg_m2 * radians_per_metre * radians_per_metre,
        }
    }

    /// Figures at the belt or cord of a drum.
    pub fn with_drum(&self, drum: &Drum) -> Figures {
        let radians_per_metre = 2.0 * self.gear_ratio / drum.diameter_m;
        Figures {
            no_load_speed_m_s: 2.0 * PI * self.speed_hz / radians_per_metre,
            stall_force_n: self.stall_torque_nm * self.gear_efficiency * radians_per_metre,
            reflected_mass_kg: self.inertia_kg_m2 * radians_per_metre * radians_per_metre,
        }
    }
}
