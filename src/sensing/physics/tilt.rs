//! An accelerometer as a tilt sensor.

/// Noise of the angle, degrees, from a noise density in ug/sqrt(Hz), a bandwidth in Hz (one pole: noise bandwidth pi/2
/// times as much), the number of readings averaged, and the angle from level; one axis by arc sine.
pub fn sigma_deg(density_ug: f64, bandwidth_hz: f64, averages: f64, angle_deg: f64) -> f64 {
    let noise_g = 1e-6 * density_ug * libm::sqrt(std::f64::consts::FRAC_PI_2 * bandwidth_hz) / libm::sqrt(averages);
    noise_g.to_degrees() / libm::cos(angle_deg.to_radians())
}

/// Error of the angle, degrees, by an offset of the acceleration in mg.
pub fn offset_deg(offset_mg: f64) -> f64 {
    (1e-3 * offset_mg).to_degrees()
}
