//! The two classical processes with one cell rate for all storms, in closed form: Bartlett-Lewis (cells born while a
//! storm's window is open) and Neyman-Scott (cells scattered behind the storm's origin).
//!
//! They are not used to draw weather: Bartlett-Lewis is the process that a single storm of the generator follows, and
//! both tie the formulas to published ones. Rodriguez-Iturbe, Cox & Isham 1987 (Proc. R. Soc. A 410, 269-288) for the
//! second moments, Cowpertwait 1991 (Water Resour. Res. 27, 1431-1438) for the dry probability of Neyman-Scott (from
//! memory).

use super::constants::StormConstants;
use super::covariance::Covariance;

/// Bartlett-Lewis process; the first cell is born with the storm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BartlettLewis {
    /// Rate of storms, 1/h (lambda).
    pub storms_per_h: f64,
    /// Rate of cells while the window is open, 1/h (beta).
    pub cells_per_h: f64,
    /// Rate at which the window closes, 1/h (gamma).
    pub closing_per_h: f64,
    /// Rate at which a cell ends, 1/h (eta).
    pub ending_per_h: f64,
    /// Mean intensity of a cell, mm/h, exponential (mu_X).
    pub intensity_mm_h: f64,
}

impl BartlettLewis {
    /// Mean number of cells per storm.
    pub fn cells(&self) -> f64 {
        1.0 + self.cells_per_h / self.closing_per_h
    }

    /// Mean depth in `h` hours, mm.
    pub fn mean(&self, h: f64) -> f64 {
        self.storms_per_h * self.cells() * self.intensity_mm_h / self.ending_per_h * h
    }

    /// Autocovariance of the intensity: a cell with itself, E[X^2] e^(-eta t), and ordered pairs of cells of a storm,
    /// which are v apart with density proportional to e^(-gamma v). Needs gamma != eta.
    pub fn covariance(&self) -> Covariance {
        let (kappa, phi) = (self.cells_per_h / self.ending_per_h, self.closing_per_h / self.ending_per_h);
        let size = self.storms_per_h * self.cells() * self.intensity_mm_h * self.intensity_mm_h / self.ending_per_h;
        let pair = kappa / (1.0 - phi * phi);
        Covariance([(size * (2.0 - pair * phi), self.ending_per_h), (size * pair, self.closing_per_h)])
    }

    /// Probability that it does not rain at all in `h` hours.
    pub fn dry(&self, h: f64) -> f64 {
        libm::exp(self.log_dry(h))
    }

    /// Natural logarithm of [`BartlettLewis::dry`], also where that would underflow.
    pub fn log_dry(&self, h: f64) -> f64 {
        let (kappa, phi) = (self.cells_per_h / self.ending_per_h, self.closing_per_h / self.ending_per_h);
        let constants = StormConstants::new(kappa, phi);
        let late = kappa / (kappa + phi) * -libm::expm1(-(kappa + phi) * self.ending_per_h * h);
        -self.storms_per_h * (h + (constants.wet + constants.g * late) / self.ending_per_h)
    }
}

/// How many cells a Neyman-Scott storm has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellCount {
    /// One more than a Poisson number.
    AtLeastOne,
    /// A Poisson number: a storm may have no cell.
    Poisson,
}

/// Neyman-Scott process: every cell is born an exponential delay after the storm's origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NeymanScott {
    /// Rate of storms, 1/h (lambda).
    pub storms_per_h: f64,
    /// Rate of the delay, 1/h (beta).
    pub delay_per_h: f64,
    /// Rate at which a cell ends, 1/h (eta).
    pub ending_per_h: f64,
    /// Mean number of cells (nu).
    pub cells: f64,
    /// Law of that number.
    pub count: CellCount,
    /// Mean intensity of a cell, mm/h, exponential (mu_X).
    pub intensity_mm_h: f64,
}

impl NeymanScott {
    /// Mean depth in `h` hours, mm.
    pub fn mean(&self, h: f64) -> f64 {
        self.storms_per_h * self.cells * self.intensity_mm_h / self.ending_per_h * h
    }

    /// Autocovariance of the intensity; E[C(C-1)] pairs per storm, whose distance is Laplace with rate beta. Needs
    /// beta != eta.
    pub fn covariance(&self) -> Covariance {
        let (beta, eta) = (self.delay_per_h, self.ending_per_h);
        let pairs = match self.count {
            CellCount::AtLeastOne => self.cells * self.cells - 1.0,
            CellCount::Poisson => self.cells * self.cells,
        };
        let square = self.storms_per_h * self.intensity_mm_h * self.intensity_mm_h;
        let pair = square * pairs * beta / (2.0 * eta * (beta * beta - eta * eta));
        Covariance([(2.0 * square * self.cells / eta + pair * beta, eta), (-pair * eta, beta)])
    }

    /// Probability that it does not rain at all in `h` hours: exp(-lambda x integral over storm origins of the chance
    /// that the storm wets the interval), integrated by Simpson's rule.
    pub fn dry(&self, h: f64) -> f64 {
        let (beta, eta) = (self.delay_per_h, self.ending_per_h);
        let spoilt = |p: f64| match self.count {
            CellCount::AtLeastOne => 1.0 - (1.0 - p) * libm::exp(-(self.cells - 1.0) * p),
            CellCount::Poisson => -libm::expm1(-self.cells * p),
        };
        // Chance that one cell of a storm that began `age` before the interval wets it: alive at its start, or later.
        let early = |age: f64| {
            let alive = beta / (beta - eta) * (libm::exp(-eta * age) - libm::exp(-beta * age));
            spoilt(alive - libm::exp(-beta * age) * libm::expm1(-beta * h))
        };
        let within = |left: f64| spoilt(-libm::expm1(-beta * left));
        // Beyond 45 times the slower scale the integrand is below 1e-16 of its largest value.
        let reach = 45.0 / beta.min(eta);
        libm::exp(-self.storms_per_h * (simpson(early, reach) + simpson(within, h)))
    }
}

/// Integral of a smooth function over 0..to by Simpson's rule on a grid that is fine at 0, where storms are young:
/// x = to s^3.
fn simpson(f: impl Fn(f64) -> f64, to: f64) -> f64 {
    const CELLS: usize = 2_000;
    let value = |i: usize| {
        let s = i as f64 / CELLS as f64;
        f(to * s * s * s) * 3.0 * s * s
    };
    let inner: f64 = (1..CELLS).map(|i| value(i) * if i % 2 == 1 { 4.0 } else { 2.0 }).sum();
    to * (value(0) + inner + value(CELLS)) / (3.0 * CELLS as f64)
}
