//! Optical time of flight by counted photons: how far, how exactly and how surely a target is seen.
//!
//! Signal counts fall with the square of the distance, ambient light adds counts of its own, the cover glass returns a
//! little of the light (crosstalk). The range comes from the mean arrival time: its error is shot noise, with variance
//! sigma0^2 plus c^2 (S + A + X) / S^2 where c is the effective half width of the pulse, and the crosstalk pulls it
//! towards the glass. This is the Poisson statistics of counting; figures are common practice where no source is given.

use super::drops::Beam;
use crate::math::normal;
use crate::scenario::sensor::Photon;

/// Reflectance to which the signal refers.
pub const REFERENCE: f64 = 0.5;

/// Share of the light that full dew and full dirt take on one pass through the window (common practice).
const DEW_LOSS: f64 = 0.5;
const DIRT_LOSS: f64 = 0.6;
/// Time over which one sample counts, s (common practice).
const INTEGRATION_S: f64 = 0.03;

/// Light and window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Light on the scene, klux.
    pub light_klux: f64,
    /// Rain, mm/h.
    pub rain_mm_h: f64,
    /// Dew on the window, 0 to 1.
    pub dew: f64,
    /// Dirt on the window, 0 to 1.
    pub dirt: f64,
}

impl Window {
    /// Leaves this share of the transmission of one pass.
    pub fn darken(&mut self, left: f64) {
        self.dirt = (1.0 - left * (1.0 - DIRT_LOSS * self.dirt)) / DIRT_LOSS;
    }
}

/// What a photon-counting ranger makes of a target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Return {
    /// Signal counts.
    pub signal: f64,
    /// Dark and ambient counts.
    pub ambient: f64,
    /// Pull of the crosstalk, m (negative).
    pub bias_m: f64,
    /// Noise of one reading, m.
    pub sigma_m: f64,
    /// Signal-to-noise ratio.
    pub ratio: f64,
    /// Probability of a valid reading.
    pub valid: f64,
}

impl Photon {
    /// The same module with this share of its light's output: less signal, and less crosstalk, which is its own light.
    pub fn aged(&self, output: f64) -> Photon {
        let crosstalk = (output * self.crosstalk.0, output * self.crosstalk.1);
        Photon { signal: output * self.signal, crosstalk, ..*self }
    }

    /// Transmission of the window on one pass.
    fn transmission(window: &Window) -> f64 {
        (1.0 - DEW_LOSS * window.dew) * (1.0 - DIRT_LOSS * window.dirt)
    }

    /// Dark and ambient counts.
    pub fn ambient(&self, window: &Window) -> f64 {
        self.dark + self.ambient_per_klux * window.light_klux * Photon::transmission(window)
    }

    /// What comes back from a target. Rain takes 0.01 R^0.6 per km on the way (from memory: direct extinction). That is some
    /// thirty times less than the cross-section of Marshall and Palmer's drops, but even that is 4 % of the signal at most
    /// within 5 m.
    pub fn look(&self, distance_m: f64, reflectance: f64, fill: f64, window: &Window) -> Return {
        let extinction = 1e-5 * libm::pow(window.rain_mm_h, 0.6);
        let pass = Photon::transmission(window);
        let signal = self.signal * reflectance / REFERENCE / (distance_m * distance_m)
            * fill
            * pass
            * pass
            * libm::exp(-2.0 * extinction * distance_m);
        let ambient = self.ambient(window);
        let crosstalk = self.crosstalk.0 + self.crosstalk.1 * window.dew;
        let noise = signal + ambient + crosstalk;
        let shot = self.pulse_m * self.pulse_m * noise / (signal * signal);
        let ratio = signal / libm::sqrt(noise);
        Return {
            signal,
            ambient,
            bias_m: -crosstalk / (signal + crosstalk) * (distance_m - self.glass_m),
            sigma_m: libm::sqrt(self.floor_m * self.floor_m + shot),
            ratio,
            valid: normal::cdf(ratio - self.ratio),
        }
    }

    /// Distance at which half of the readings are valid from a target that fills the cone, m, by bisection (the ratio
    /// falls with the distance).
    pub fn range_m(&self, reflectance: f64, window: &Window) -> f64 {
        let (mut low, mut high) = (1e-3, 1e3);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if self.look(middle, reflectance, 1.0, window).ratio > self.ratio { low = middle } else { high = middle }
        }
        low
    }

    /// Probability that a rain drop makes a short return. A drop's light passes the window twice, as any other.
    pub fn rain_return(&self, half_cone_deg: f64, nearest_m: f64, window: &Window) -> f64 {
        let pass = Photon::transmission(window);
        let beam = Beam {
            signal: self.signal * pass * pass,
            reference: REFERENCE,
            tan_half: libm::tan(half_cone_deg.to_radians()),
            threshold: self.ratio * libm::sqrt(self.ambient(window)),
            integration_s: INTEGRATION_S,
            from_m: nearest_m.max(self.sheltered_m),
        };
        beam.short_return(window.rain_mm_h)
    }
}
