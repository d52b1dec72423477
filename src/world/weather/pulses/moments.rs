//! Closed-form statistics of the rain process of a month.
//!
//! For a storm of rate eta the process is [Bartlett-Lewis](super::fixed_rate::BartlettLewis) with cells at kappa eta,
//! closing at phi eta, ending at eta and intensity iota eta; all sizes are then free of eta but for one factor 1/eta,
//! and the average over eta ~ Gamma(alpha, rate nu) needs only
//! `g(s) = E[(1 - e^(-eta s)) / eta] = nu / (alpha - 1) (1 - (nu / (nu + s))^(alpha - 1))`.
//! Rodriguez-Iturbe, Cox & Isham 1988 and Kaczmarska, Isham & Onof 2014 (from memory) define the process; the
//! formulas are derived here and held to fixed-rate formulas averaged numerically and to long generated series.

use super::constants::StormConstants;
use crate::scenario::weather::PulseMonth;

/// The statistics of one month's rain process, stationary. Needs alpha > 1, phi != 1, kappa <= 12.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    month: PulseMonth,
    constants: StormConstants,
}

impl Moments {
    /// Prepares the constants.
    pub fn new(month: &PulseMonth) -> Moments {
        Moments { month: *month, constants: StormConstants::new(month.cells, month.ending) }
    }

    /// Mean number of cells per storm.
    pub fn cells_per_storm(&self) -> f64 {
        1.0 + self.month.cells / self.month.ending
    }

    /// Mean time for which a storm's window is open, h.
    pub fn window_h(&self) -> f64 {
        self.month.rate_scale_h / ((self.month.rate_shape - 1.0) * self.month.ending)
    }

    /// Mean depth in `h` hours, mm.
    pub fn mean(&self, h: f64) -> f64 {
        self.month.storms_per_h * h * self.month.intensity_mm * self.cells_per_storm()
    }

    /// E[(1 - e^(-eta s)) / eta], h.
    fn g(&self, s: f64) -> f64 {
        let (alpha, nu) = (self.month.rate_shape, self.month.rate_scale_h);
        -nu / (alpha - 1.0) * libm::expm1((alpha - 1.0) * -libm::log1p(s / nu))
    }

    /// The two weights of the covariance (of cells, of pairs) with their common factor.
    fn weights(&self) -> (f64, f64, f64) {
        let pair = self.month.cells / (1.0 - self.month.ending * self.month.ending);
        let square = self.month.intensity_mm * self.month.intensity_mm;
        // E[X^2] over the square of the mean: 2 for exponential intensities.
        let uneven = 1.0 + 1.0 / self.month.intensity_shape;
        (self.month.storms_per_h * self.cells_per_storm() * square, uneven - pair * self.month.ending, pair)
    }

    /// Variance of the depth in `h` hours, mm^2.
    pub fn variance(&self, h: f64) -> f64 {
        let (size, cell, pair) = self.weights();
        let phi = self.month.ending;
        2.0 * size * (cell * (h - self.g(h)) + pair / (phi * phi) * (phi * h - self.g(phi * h)))
    }

    /// Covariance of the depths in two blocks of `h` hours that begin `k` blocks apart, k >= 1, mm^2.
    pub fn lagged(&self, h: f64, k: u32) -> f64 {
        let (size, cell, pair) = self.weights();
        let k = f64::from(k);
        let fall = |c: f64| 2.0 * self.g(c * k * h) - self.g(c * (k - 1.0) * h) - self.g(c * (k + 1.0) * h);
        let phi = self.month.ending;
        size * (cell * fall(1.0) + pair / (phi * phi) * fall(phi))
    }

    /// Correlation of the depths in two neighbouring blocks of `h` hours.
    pub fn correlation(&self, h: f64) -> f64 {
        self.lagged(h, 1) / self.variance(h)
    }

    /// Probability that it does not rain at all in `h` hours.
    pub fn dry(&self, h: f64) -> f64 {
        let PulseMonth { storms_per_h, rate_shape, rate_scale_h, cells, ending, .. } = self.month;
        let fall = (rate_shape - 1.0) * -libm::log1p((cells + ending) * h / rate_scale_h);
        let late = self.constants.g * cells / (cells + ending) * -libm::expm1(fall);
        libm::exp(-storms_per_h * (h + rate_scale_h / (rate_shape - 1.0) * (self.constants.wet + late)))
    }

    /// Mean lengths of runs of wet and of dry hours, h, in stretches of `stretch_h` hours that cut runs at their ends. A dry run
    /// begins with the stretch if its first hour is dry, else after each wet hour that a dry one follows, whose probability is
    /// `P_dry(1 h) - P_dry(2 h)`; so do wet ones. Expected hours over expected runs: the mean over many stretches together.
    pub fn spells(&self, stretch_h: f64) -> (f64, f64) {
        let dry = self.dry(1.0);
        let turns = (stretch_h - 1.0) * (dry - self.dry(2.0));
        let mean = |share: f64| share * stretch_h / (share + turns);
        (mean(1.0 - dry), mean(dry))
    }

    /// Share of time with rain: the chance that it rains at a given moment.
    pub fn wet_now(&self) -> f64 {
        let wet_h = self.month.rate_scale_h / (self.month.rate_shape - 1.0) * self.constants.wet;
        -libm::expm1(-self.month.storms_per_h * wet_h)
    }
}
