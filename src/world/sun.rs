//! Where the sun stands and how much light it gives under a clear sky.
//!
//! Position by the low-accuracy series of J. Meeus, *Astronomical Algorithms* (1991; chapters 25 and 28 of the second
//! edition), in the form that the US National Oceanic and Atmospheric Administration's public solar calculator uses
//! (formulas from memory). Universal time stands in for dynamical time: the minute between them moves the sun by
//! less than 0.001 degrees. **Promise:** elevation within 0.01 degrees of the full SPA algorithm (Reda & Andreas 2004,
//! NREL/TP-560-34302), checked in the tests for dates from 1994 to 2025. Elevations are geometric: the bending of
//! light by the air (0.5 degrees at the horizon) enters only through the -0.833 degrees that define sunrise.

use super::clock::LocalClock;
use crate::math::time::{Instant, Span};
use crate::scenario::season::Site;

/// Elevation of the sun's centre at sunrise and sunset, degrees: 34' of refraction and 16' of half diameter (the
/// convention of almanacs).
pub const HORIZON_DEG: f64 = -0.833;

/// Luminous efficacy of daylight, lm/W. Common practice: 105 to 120 for clear and overcast skies.
pub const DAYLIGHT_LM_PER_W: f64 = 120.0;

const DEG: f64 = std::f64::consts::PI / 180.0;

/// Direction of the sun.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunPosition {
    /// Angle above the horizon, degrees, without refraction.
    pub elevation_deg: f64,
    /// Compass bearing, degrees clockwise from north, 0 to 360.
    pub azimuth_deg: f64,
}

/// What depends on the date alone, nearly: the sun's declination and the equation of time.
struct Ephemeris {
    declination: f64,
    equation_of_time_min: f64,
}

fn ephemeris(unix_seconds: f64) -> Ephemeris {
    // Unix time 0 is Julian date 2,440,587.5; t counts Julian centuries from 2000-01-01T12:00.
    let t = (unix_seconds / 86_400.0 + 2_440_587.5 - 2_451_545.0) / 36_525.0;
    let mean_longitude = DEG * (280.466_46 + t * (36_000.769_83 + 0.000_303_2 * t));
    let anomaly = DEG * (357.529_11 + t * (35_999.050_29 - 0.000_153_7 * t));
    let eccentricity = 0.016_708_634 - t * (0.000_042_037 + 0.000_000_126_7 * t);
    let centre = libm::sin(anomaly) * (1.914_602 - t * (0.004_817 + 0.000_014 * t))
        + libm::sin(2.0 * anomaly) * (0.019_993 - 0.000_101 * t)
        + 0.000_289 * libm::sin(3.0 * anomaly);
    // Longitude of the moon's ascending node: carries the main terms of nutation.
    let node = DEG * (125.04 - 1_934.136 * t);
    let longitude = mean_longitude + DEG * (centre - 0.005_69 - 0.004_78 * libm::sin(node));
    let obliquity_seconds = 21.448 - t * (46.815 + t * (0.000_59 - 0.001_813 * t));
    let obliquity = DEG * (23.0 + (26.0 + obliquity_seconds / 60.0) / 60.0 + 0.002_56 * libm::cos(node));
    let declination = libm::asin(libm::sin(obliquity) * libm::sin(longitude));
    let half = libm::tan(0.5 * obliquity);
    let y = half * half;
    let e = eccentricity;
    let radians = y * libm::sin(2.0 * mean_longitude) - 2.0 * e * libm::sin(anomaly)
        + 4.0 * e * y * libm::sin(anomaly) * libm::cos(2.0 * mean_longitude)
        - 0.5 * y * y * libm::sin(4.0 * mean_longitude)
        - 1.25 * e * e * libm::sin(2.0 * anomaly);
    Ephemeris { declination, equation_of_time_min: 4.0 * radians / DEG }
}

/// Apparent minus mean solar time, minutes (positive: the sundial is ahead).
pub fn equation_of_time_min(unix_seconds: f64) -> f64 {
    ephemeris(unix_seconds).equation_of_time_min
}

/// Hour angle of the sun, degrees, -180 to 180, 0 at solar noon.
pub(crate) fn hour_angle_deg(unix_seconds: f64, longitude_deg: f64, equation_of_time_min: f64) -> f64 {
    let turned = unix_seconds.rem_euclid(86_400.0) / 240.0 - 180.0 + longitude_deg + equation_of_time_min / 4.0;
    (turned + 180.0).rem_euclid(360.0) - 180.0
}

/// Position of the sun at Unix time `unix_seconds` (UTC), at latitude (north positive) and longitude (east positive)
/// in degrees.
pub fn position(unix_seconds: f64, latitude_deg: f64, longitude_deg: f64) -> SunPosition {
    let sun = ephemeris(unix_seconds);
    let hour = DEG * hour_angle_deg(unix_seconds, longitude_deg, sun.equation_of_time_min);
    let (sin_lat, cos_lat) = (libm::sin(DEG * latitude_deg), libm::cos(DEG * latitude_deg));
    let (sin_dec, cos_dec) = (libm::sin(sun.declination), libm::cos(sun.declination));
    // The unit vector to the sun in local axes: up, north, east.
    let up = sin_lat * sin_dec + cos_lat * cos_dec * libm::cos(hour);
    let north = cos_lat * sin_dec - sin_lat * cos_dec * libm::cos(hour);
    let east = -cos_dec * libm::sin(hour);
    let elevation_deg = libm::atan2(up, libm::hypot(north, east)) / DEG;
    SunPosition { elevation_deg, azimuth_deg: (libm::atan2(east, north) / DEG).rem_euclid(360.0) }
}

/// One solar day: the noon and the rise before and the set after it. Times are Unix seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SolarDay {
    /// Sunrise; none where the sun stays up or down all day.
    pub sunrise: Option<f64>,
    /// Passage of the meridian.
    pub noon: f64,
    /// Sunset; none where the sun stays up or down all day.
    pub sunset: Option<f64>,
    /// Elevation at noon, degrees: tells the polar day from the polar night.
    pub noon_elevation_deg: f64,
}

/// The solar day whose noon is nearest to `around` (Unix seconds). Sunrise and sunset are the crossings of
/// [`HORIZON_DEG`] within twelve hours of noon, found by bisection to a millisecond.
pub fn solar_day(around: f64, latitude_deg: f64, longitude_deg: f64) -> SolarDay {
    let mut noon = around;
    // The hour angle advances by 15 degrees an hour to within the slow drift of the equation of time (30 s a day),
    // so that each pass cuts the error by a factor of some 3,000.
    for _ in 0..4 {
        noon -= 240.0 * hour_angle_deg(noon, longitude_deg, equation_of_time_min(noon));
    }
    let height = |time: f64| position(time, latitude_deg, longitude_deg).elevation_deg - HORIZON_DEG;
    let at_noon = height(noon);
    let crossing = |midnight: f64| {
        let (mut low, mut high) = (midnight, noon);
        if height(low) >= 0.0 || at_noon <= 0.0 {
            return None;
        }
        while (high - low).abs() > 1e-3 {
            let middle = 0.5 * (low + high);
            if height(middle) < 0.0 { low = middle } else { high = middle }
        }
        Some(0.5 * (low + high))
    };
    SolarDay {
        sunrise: crossing(noon - 43_200.0),
        noon,
        sunset: crossing(noon + 43_200.0),
        noon_elevation_deg: at_noon + HORIZON_DEG,
    }
}

/// The solar day of the season's local day `day`: the one whose noon is nearest to twelve hours after midnight.
pub fn solar_day_of(clock: &LocalClock, site: &Site, day: usize) -> SolarDay {
    let midday = clock.day_start(day) + Span(Span::DAY.0 / 2);
    solar_day(clock.unix_seconds(midday), site.latitude_deg, site.longitude_deg)
}

/// Position of the sun over the site at a moment of the season.
pub fn position_at(clock: &LocalClock, site: &Site, at: Instant) -> SunPosition {
    position(clock.unix_seconds(at), site.latitude_deg, site.longitude_deg)
}

/// Global horizontal irradiance under a clear sky, W/m2: Haurwitz 1945 (J. Meteorology 2, 154-166) and 1946,
/// 1098 s exp(-0.059/s) with s = sin(elevation); 0 below the horizon.
pub fn clear_sky_w_m2(elevation_deg: f64) -> f64 {
    let s = libm::sin(DEG * elevation_deg);
    if s > 0.0 { 1_098.0 * s * libm::exp(-0.059 / s) } else { 0.0 }
}

/// Irradiance of a surface that faces the sun under a clear sky by the sun alone, W/m2: 1353 x 0.7^(m^0.678) with m the
/// air mass (A. & M. Meinel, Applied Solar Energy, 1976) by F. Kasten & A. Young (Applied Optics 28, 1989, 4735-4738); 0
/// below the horizon.
pub fn clear_direct_w_m2(elevation_deg: f64) -> f64 {
    if elevation_deg <= 0.0 {
        return 0.0;
    }
    let mass = 1.0 / (libm::sin(DEG * elevation_deg) + 0.505_72 * libm::pow(elevation_deg + 6.079_95, -1.636_4));
    // Close to the horizon the two formulas part: the sun gives no more than all of the sky.
    let most = clear_sky_w_m2(elevation_deg) / libm::sin(DEG * elevation_deg);
    (1_353.0 * libm::pow(0.7, libm::pow(mass, 0.678))).min(most)
}

/// Illuminance of a horizontal surface, klx, for global irradiance in W/m2 (see [`DAYLIGHT_LM_PER_W`]).
pub fn illuminance_klx(irradiance_w_m2: f64) -> f64 {
    irradiance_w_m2 * DAYLIGHT_LM_PER_W / 1_000.0
}

/// Angle between the sun and an axis that points to compass bearing `azimuth_deg` and `elevation_deg` above the
/// horizon, degrees, 0 to 180. Accurate near 0, where it decides about glare.
pub fn angle_to_axis(sun: SunPosition, azimuth_deg: f64, elevation_deg: f64) -> f64 {
    // Half-angle (haversine) form: the arc cosine of the dot product loses digits near 0 and 180 degrees.
    let half_sine = |degrees: f64| libm::sin(0.5 * DEG * degrees);
    let rise = half_sine(sun.elevation_deg - elevation_deg);
    let turn = half_sine(sun.azimuth_deg - azimuth_deg);
    let shrink = libm::cos(DEG * sun.elevation_deg) * libm::cos(DEG * elevation_deg);
    let square = (rise * rise + shrink * turn * turn).clamp(0.0, 1.0);
    2.0 * libm::asin(libm::sqrt(square)) / DEG
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 947 W/m2 from the zenith, 846 at an air mass of 1.5 (the formula's own examples); never more than the whole sky gives
    /// by Haurwitz's formula.
    #[test]
    fn the_sun_alone_gives_less_than_the_sky() {
        assert!((clear_direct_w_m2(90.0) - 947.0).abs() < 1.0);
        assert!((clear_direct_w_m2(41.75) - 846.0).abs() < 2.0);
        for tenths in 1..900 {
            let elevation_deg = f64::from(tenths) / 10.0;
            let level = clear_direct_w_m2(elevation_deg) * libm::sin(DEG * elevation_deg);
            let sky = clear_sky_w_m2(elevation_deg);
            assert!(level <= sky * (1.0 + 1e-12), "{elevation_deg}: {level} of {sky}");
            assert!(elevation_deg < 2.0 || level < 0.95 * sky, "{elevation_deg}: {level} of {sky}");
        }
        assert_eq!(clear_direct_w_m2(-1.0), 0.0);
    }

    #[test]
    fn angle_between_axes() {
        let sun = SunPosition { elevation_deg: 30.0, azimuth_deg: 350.0 };
        assert!(angle_to_axis(sun, 350.0, 30.0) < 1e-9);
        assert!((angle_to_axis(sun, 170.0, -30.0) - 180.0).abs() < 1e-5);
        // Across north, at the horizon, angles are differences of bearings.
        let low = SunPosition { elevation_deg: 0.0, azimuth_deg: 359.0 };
        assert!((angle_to_axis(low, 2.0, 0.0) - 3.0).abs() < 1e-9);
        // Straight up: the complement of the elevation.
        assert!((angle_to_axis(sun, 0.0, 90.0) - 60.0).abs() < 1e-9);
    }

    #[test]
    fn no_light_below_the_horizon() {
        assert_eq!(clear_sky_w_m2(0.0), 0.0);
        assert_eq!(clear_sky_w_m2(-40.0), 0.0);
        // 1098 exp(-0.059) = 1035.1 W/m2 with the sun overhead; 124 klx.
        assert!((clear_sky_w_m2(90.0) - 1_035.1).abs() < 0.1);
        assert!((illuminance_klx(1_000.0) - 120.0).abs() < 1e-12);
    }
}
