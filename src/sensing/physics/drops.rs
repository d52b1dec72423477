//! Rain drops: how many of which size, how fast they fall, and how often one of them is taken for a target.

use crate::math::quadrature::Quadrature;

/// Drops per cubic metre and per millimetre of diameter in rain of `rain_mm_h`, of diameter `d_mm` (Marshall & Palmer,
/// Journal of Meteorology 5, 1948, 165-166): 8000 exp(-4.1 R^-0.21 D).
pub fn number_per_m3_mm(rain_mm_h: f64, d_mm: f64) -> f64 {
    NUMBER_AT_ZERO * libm::exp(-decay_per_mm(rain_mm_h) * d_mm)
}

/// N at diameter zero, 1/(m3 mm).
pub const NUMBER_AT_ZERO: f64 = 8000.0;

/// Decay of the number with diameter, 1/mm.
pub fn decay_per_mm(rain_mm_h: f64) -> f64 {
    4.1 * libm::pow(rain_mm_h, -0.21)
}

/// Drops per cubic metre larger than `d_mm`.
pub fn number_above(rain_mm_h: f64, d_mm: f64) -> f64 {
    let decay = decay_per_mm(rain_mm_h);
    NUMBER_AT_ZERO / decay * libm::exp(-decay * d_mm)
}

/// Moment of order `order` of the diameters, mm^order per m3: N0 order! / decay^(order + 1).
pub fn moment(rain_mm_h: f64, order: f64) -> f64 {
    NUMBER_AT_ZERO * libm::tgamma(order + 1.0) / libm::pow(decay_per_mm(rain_mm_h), order + 1.0)
}

/// Fall speed of a drop, m/s (Atlas, Srivastava & Sekhon, Reviews of Geophysics 11, 1973, 1-35): 9.65 - 10.3 exp(-0.6 D),
/// not below 0.
pub fn fall_speed_m_s(d_mm: f64) -> f64 {
    (9.65 - 10.3 * libm::exp(-0.6 * d_mm)).max(0.0)
}

/// Drops larger than `d_mm` that fall through a horizontal square metre per second: with the exponential law and the
/// fall speed above this is N0 exp(-L d) (9.65 / L - 10.3 exp(-0.6 d) / (L + 0.6)); valid for diameters at which drops fall.
pub fn flux_above(rain_mm_h: f64, d_mm: f64) -> f64 {
    let decay = decay_per_mm(rain_mm_h);
    NUMBER_AT_ZERO * libm::exp(-decay * d_mm) * (9.65 / decay - 10.3 * libm::exp(-0.6 * d_mm) / (decay + 0.6))
}

/// Largest drop that is counted, mm: larger ones break up (common practice).
pub const LARGEST_MM: f64 = 6.0;
/// Smallest drop that is counted, mm: smaller ones hardly fall, and are too faint to be taken for a target.
const SMALLEST_MM: f64 = 0.15;

/// A narrow beam of light among drops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beam {
    /// Signal counts from a target at 1 m with the reference reflectance that fills the cone.
    pub signal: f64,
    /// That reflectance.
    pub reference: f64,
    /// Tangent of the half cone angle.
    pub tan_half: f64,
    /// Counts that make a target.
    pub threshold: f64,
    /// Time over which one sample counts, s.
    pub integration_s: f64,
    /// Nearest distance at which a drop counts, m: the blind zone or the end of the shelter over the beam.
    pub from_m: f64,
}

/// Diffuse reflectance of a drop (common practice).
const DROP_REFLECTANCE: f64 = 0.05;

impl Beam {
    /// Probability that at least one drop makes a short return in one sample.
    ///
    /// A drop of diameter D at distance z returns signal (reflectance / reference) (D / 2)^2 / (z^4 tan^2 a) counts while
    /// it is in the beam, for the share 2 z tan a / (v t) of the integration time at most. Out to the distance at which that
    /// falls to the threshold, the drops in the beam and those that fall into it during the sample are counted.
    pub fn short_return(&self, rain_mm_h: f64) -> f64 {
        if rain_mm_h <= 0.0 {
            return 0.0;
        }
        // Only the largest drops count, and from some diameter on; pieces keep the kink out of the quadrature.
        let mut drops = 0.0;
        let pieces = 24;
        let width = (LARGEST_MM - SMALLEST_MM) / f64::from(pieces);
        for piece in 0..pieces {
            let from = SMALLEST_MM + width * f64::from(piece);
            drops += Quadrature::legendre(12, from, from + width)
                .integrate(|d| number_per_m3_mm(rain_mm_h, d) * self.volume_m3(d));
        }
        -libm::expm1(-drops)
    }

    /// Volume whose drops of this diameter make a return in one sample, m3.
    fn volume_m3(&self, d_mm: f64) -> f64 {
        let speed = fall_speed_m_s(d_mm);
        let radius_m = 0.5e-3 * d_mm;
        let at_1_m =
            self.signal * DROP_REFLECTANCE / self.reference * radius_m * radius_m / (self.tan_half * self.tan_half);
        // Beyond z1 a drop stays in the beam for the whole sample.
        let z1 = speed * self.integration_s / (2.0 * self.tan_half);
        let whole = libm::pow(at_1_m / self.threshold, 0.25);
        let reach = if whole >= z1 { whole } else { libm::cbrt(at_1_m / (z1 * self.threshold)) };
        if reach <= self.from_m {
            return 0.0;
        }
        let cubes = reach.powi(3) - self.from_m.powi(3);
        let squares = reach * reach - self.from_m * self.from_m;
        std::f64::consts::PI / 3.0 * self.tan_half * self.tan_half * cubes
            + self.tan_half * speed * self.integration_s * squares
    }
}
