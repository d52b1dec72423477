//! Moist air: dew point, relative humidity, dew and fog.
//!
//! Saturation pressure by the Magnus formula `e = 6.1094 exp(17.625 t / (t + 243.04))` hPa with the coefficients of
//! Alduchov & Eskridge 1996 (J. Appl. Meteorol. 35, 601-609; from memory), within 0.4 % from -40 to 50 degC.

/// Magnus coefficients.
const A: f64 = 17.625;
const B: f64 = 243.04;

/// Saturation vapour pressure over water, hPa, at a temperature in degC.
pub fn saturation_hpa(temperature_c: f64) -> f64 {
    6.1094 * libm::exp(A * temperature_c / (temperature_c + B))
}

/// Relative humidity, 0 to 1, of air at `temperature_c` with dew point `dew_point_c`.
pub fn relative(temperature_c: f64, dew_point_c: f64) -> f64 {
    let exponent = A * dew_point_c / (dew_point_c + B) - A * temperature_c / (temperature_c + B);
    libm::exp(exponent).min(1.0)
}

/// Dew point, degC, of air at `temperature_c` with relative humidity `relative` (above 0, at most 1).
pub fn dew_point_c(temperature_c: f64, relative: f64) -> f64 {
    let exponent = libm::log(relative) + A * temperature_c / (temperature_c + B);
    B * exponent / (A - exponent)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Saturation pressures of the steam tables (IAPWS; from memory): 6.112 hPa at 0.01 degC, 23.39 at 20, 42.47 at 30.
    #[test]
    fn saturation_as_in_steam_tables() {
        for (temperature, exact) in [(0.01, 6.117), (20.0, 23.39), (30.0, 42.47)] {
            assert!((saturation_hpa(temperature) / exact - 1.0).abs() < 0.004, "{temperature}");
        }
    }

    #[test]
    fn dew_point_and_humidity_are_inverse() {
        for temperature in [-20.0, 0.0, 15.0, 35.0] {
            for humidity in [0.05, 0.5, 0.93, 1.0] {
                let dew_point = dew_point_c(temperature, humidity);
                assert!(dew_point <= temperature + 1e-12);
                assert!((relative(temperature, dew_point) - humidity).abs() < 1e-12);
                assert!((saturation_hpa(dew_point) / saturation_hpa(temperature) - humidity).abs() < 1e-12);
            }
        }
    }
}
