//! Sound in air: speed and absorption.

/// Speed of sound in air, m/s, at a temperature in degC: 331.3 sqrt(1 + T / 273.15) (ideal gas).
pub fn sound_speed_m_s(temperature_c: f64) -> f64 {
    331.3 * libm::sqrt(1.0 + temperature_c / 273.15)
}

/// Absorption of sound, dB/m, by the formulae of ISO 9613-1:1993 (relaxation of oxygen and nitrogen) at one standard
/// atmosphere; above 10 kHz they are extrapolated.
pub fn absorption_db_m(frequency_hz: f64, temperature_c: f64, humidity_percent: f64) -> f64 {
    const REFERENCE_K: f64 = 293.15;
    const TRIPLE_K: f64 = 273.16;
    let t = temperature_c + 273.15;
    let relative = t / REFERENCE_K;
    // Saturation pressure over one atmosphere (annex B), then the molar concentration of water, percent.
    let saturation = libm::pow(10.0, -6.8346 * libm::pow(TRIPLE_K / t, 1.261) + 4.6151);
    let h = humidity_percent * saturation;
    let oxygen_hz = 24.0 + 4.04e4 * h * (0.02 + h) / (0.391 + h);
    let root = libm::sqrt(relative);
    let nitrogen_hz = (9.0 + 280.0 * h * libm::exp(-4.170 * (1.0 / libm::cbrt(relative) - 1.0))) / root;
    let f2 = frequency_hz * frequency_hz;
    let oxygen = 0.01275 * libm::exp(-2239.1 / t) / (oxygen_hz + f2 / oxygen_hz);
    let nitrogen = 0.1068 * libm::exp(-3352.0 / t) / (nitrogen_hz + f2 / nitrogen_hz);
    8.686 * f2 * (1.84e-11 * root + (oxygen + nitrogen) / (relative * relative * root))
}
