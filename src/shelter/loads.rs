//! What acts on the panel besides its weight: wind and frost.
//!
//! Sources: dynamic pressure rho v^2 / 2 (Bernoulli; ASCE 7 writes 0.613 v^2 for rho = 1.226 kg/m3); density of dry
//! air by the ideal gas law at the sea-level pressure of ISO 2533 (from memory). The panel area is taken as fully
//! exposed over the whole stroke, which is cautious for a panel that slides behind a wall.

use crate::math::time::Span;
use crate::scenario::door::Door;

/// How long after rain the seal still counts as wet, so that frost can bind it (common practice).
pub const SEAL_DRIES_IN: Span = Span(12 * 3_600 * 1_000_000);

/// Sea-level pressure, Pa (ISO 2533, from memory). At 1000 m of altitude the true density is 11 % lower, so this
/// choice is cautious.
const SEA_LEVEL_PA: f64 = 101_325.0;

/// Specific gas constant of dry air, J/(kg K) (ISO 2533, from memory).
const GAS_CONSTANT_J_KG_K: f64 = 287.053;

/// Zero of the Celsius scale, K (exact by definition).
const CELSIUS_ZERO_K: f64 = 273.15;

/// Loads on the door during one stroke.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loads {
    /// Wind gust (3 s) at the door, m/s: the weather's gust times the site's wind factor.
    pub gust_m_s: f64,
    /// Air temperature, degC.
    pub temperature_c: f64,
    /// Whether the seal is frozen to its seat; see [`frozen`].
    pub frozen: bool,
}

impl Loads {
    /// Calm air at 20 degC, no frost.
    pub const CALM: Loads = Loads { gust_m_s: 0.0, temperature_c: 20.0, frozen: false };

    /// Wind force on the panel, N, positive inwards for a positive pressure coefficient.
    pub fn wind_n(&self, door: &Door) -> f64 {
        let pressure = dynamic_pressure_pa(air_density_kg_m3(self.temperature_c), self.gust_m_s);
        pressure * door.wind_coefficient * door.width_m * door.height_m
    }
}

/// Density of dry air at sea level, kg/m3. Temperatures below -100 degC count as -100 degC.
pub fn air_density_kg_m3(temperature_c: f64) -> f64 {
    SEA_LEVEL_PA / (GAS_CONSTANT_J_KG_K * (temperature_c.max(-100.0) + CELSIUS_ZERO_K))
}

/// Dynamic pressure rho v^2 / 2, Pa.
pub fn dynamic_pressure_pa(density_kg_m3: f64, speed_m_s: f64) -> f64 {
    0.5 * density_kg_m3 * speed_m_s * speed_m_s
}

/// Force that shears an ice bond, N: shear strength in kPa times the bonded area in m2, of which the share `progressive` is loaded at
/// a time (1: all at once; a seal that peels, 0.02 to 0.1, a guess of common practice). Strengths of ice on aluminium: 280 kPa of
/// bulk water ice, 530 of in-cloud ice, 780 of precipitation ice (AIP Advances 9, 055304, 2019); on rubber 20 to 100 (from
/// memory).
pub fn ice_bond_n(shear_kpa: f64, width_m: f64, length_m: f64, progressive: f64) -> f64 {
    1_000.0 * shear_kpa * width_m * length_m * progressive
}

/// Gust (3 s) over the basic wind speed (10 min mean) at a height above ground of roughness `z0_m`, at least the height of
/// `least_m` below which the profile is not followed: the root of ce = (1 + 7 Iv) cr^2 with cr = 0.19 (z0/0.05)^0.07 ln(z/z0) and
/// Iv = 1/ln(z/z0) (EN 1991-1-4, by a worked example).
pub fn gust_over_basic(height_m: f64, z0_m: f64, least_m: f64) -> f64 {
    let log = libm::log(height_m.max(least_m) / z0_m);
    let cr = 0.19 * libm::pow(z0_m / 0.05, 0.07) * log;
    ((1.0 + 7.0 / log) * cr * cr).sqrt()
}

/// Whether the seal is frozen: it has been wet (the caller knows: rain or dew since the last thaw) and the air is
/// colder than the door's freezing threshold.
pub fn frozen(door: &Door, temperature_c: f64, has_been_wet: bool) -> bool {
    has_been_wet && temperature_c < door.ice_below_c
}

/// Ratio of friction now to sliding friction: the door's break-away factor when the panel starts from rest, else 1.
pub fn friction_factor(door: &Door, starting: bool) -> f64 {
    if starting { door.breakaway } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Standard atmosphere: 1.225 kg/m3 at 15 degC; the tables of the US standard atmosphere give 1.3413 at -10 degC.
    #[test]
    fn density_of_the_standard_atmosphere() {
        assert!((air_density_kg_m3(15.0) - 1.225).abs() < 1e-4);
        assert!((air_density_kg_m3(-10.0) - 1.3413).abs() < 3e-4);
    }
}
