//! `[[visitor]]`: anything else that moves near the door; `[[fault]]`: something that stops working for a while.

use super::mower::Spread;

/// When a visitor comes at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Only {
    /// Whenever its hour comes.
    Always,
    /// Only while the door is open (a cat that likes the dry platform).
    DoorOpen,
    /// Only while the mower is out.
    MowerAway,
}

/// One kind of visitor.
#[derive(Clone, Debug, PartialEq)]
pub struct Visitor {
    /// Name; false openings are counted under it.
    pub name: String,
    /// Mean visits per day.
    pub per_day: f64,
    /// Relative rate by local hour of day; scaled so that a day sums to `per_day`.
    pub hours: [f64; 24],
    /// When it comes at all.
    pub only: Only,
    /// Length along its path, m.
    pub length_m: f64,
    /// Width, m.
    pub width_m: f64,
    /// Height, m.
    pub height_m: f64,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Diffuse reflectance, 0 to 1.
    pub reflectance: f64,
    /// Soft surface (fur, cloth, leaves): weak ultrasonic echo.
    pub soft: bool,
    /// Walking speed, m/s.
    pub speed_m_s: f64,
    /// Mean and spread of the nearest distance from the door line, m.
    pub nearest_m: (f64, f64),
    /// Standard deviation of the sideways offset at its stopping place, m.
    pub sideways_m: f64,
    /// How long it stays at the nearest point.
    pub dwell: Spread,
    /// Probability that it goes in if the door is open when it is at the nearest point, 0 to 1.
    pub enters: f64,
    /// How long it stays inside; a shut door keeps it there until the next opening.
    pub inside: Spread,
}

/// What fails.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FaultKind {
    /// No power: nothing moves, nothing is sensed.
    Power,
    /// No network: no status messages.
    Network,
    /// The sensor of this index repeats its last reading.
    SensorStuck(usize),
    /// The sensor of this index gives no readings.
    SensorSilent(usize),
    /// The sensor of this index has its noise multiplied by the fault's `noise_factor`.
    SensorNoisy(usize),
}

/// A fault: alternating renewal, exponential gaps.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Name, for the report.
    pub name: String,
    /// What fails.
    pub kind: FaultKind,
    /// Mean number per year of 365.25 days of working time.
    pub per_year: f64,
    /// How long it lasts.
    pub lasts: Spread,
    /// Factor on the noise for `SensorNoisy`, at least 1.
    pub noise_factor: f64,
}
