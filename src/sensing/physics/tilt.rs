//! An accelerometer as a tilt sensor.

pub use crate::scenario::sensor::tilt_noise_deg as sigma_deg;

/// Error of the angle, degrees, by an offset of the acceleration in mg.
pub fn offset_deg(offset_mg: f64) -> f64 {
    (1e-3 * offset_mg).to_degrees()
}
