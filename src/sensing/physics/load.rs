//! Load cells under a platform: limits of the cells, corners, driving on, creep.

pub use crate::scenario::sensor::{Creep, Platform};

/// Accuracy class of a load cell by OIML R 60.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellClass {
    /// Class C.
    C,
    /// Class D.
    D,
}

/// Limits of a load cell (OIML R 60-1, apportionment factor 0.7).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CellLimits {
    /// Verification interval, kg.
    pub interval_kg: f64,
    /// Largest error at the load, kg.
    pub error_kg: f64,
    /// Largest creep in 30 minutes, kg.
    pub creep_kg: f64,
    /// Largest creep between 20 and 30 minutes, kg.
    pub late_creep_kg: f64,
    /// Largest change of the zero on taking the load off, kg.
    pub return_kg: f64,
    /// Largest change of the zero, kg/K, if the least interval equals the interval.
    pub zero_kg_per_k: f64,
}

/// Share of the whole error that the cell may use.
const SHARE: f64 = 0.7;

/// Limits of a cell with `intervals` intervals and maximum `capacity_kg`, at a load of `load_kg`.
///
/// Errors of 0.5, 1 and 1.5 intervals up to 500, 2000 and 10000 intervals (class C) or 50, 200 and 1000 (class D);
/// creep in 30 minutes 0.7 of the error limit, between 20 and 30 minutes 0.15; return half an interval; zero 0.7
/// of the least interval per 5 K.
pub fn cell_limits(class: CellClass, intervals: u32, capacity_kg: f64, load_kg: f64) -> CellLimits {
    let interval_kg = capacity_kg / f64::from(intervals);
    let steps = match class {
        CellClass::C => [500.0, 2000.0],
        CellClass::D => [50.0, 200.0],
    };
    let loaded = load_kg / interval_kg * (1.0 - 1e-12);
    let factor = if loaded <= steps[0] {
        0.5
    } else if loaded <= steps[1] {
        1.0
    } else {
        1.5
    };
    let error_kg = SHARE * factor * interval_kg;
    CellLimits {
        interval_kg,
        error_kg,
        creep_kg: 0.7 * error_kg,
        late_creep_kg: 0.15 * error_kg,
        return_kg: 0.5 * interval_kg,
        zero_kg_per_k: SHARE * interval_kg / 5.0,
    }
}

/// Forces on the four cells at the corners (+-1, +-1) of a rigid plate on equal springs, in the order (+,+), (+,-), (-,+),
/// (-,-), for a load of `load` at (xi, eta); a negative one means the plate lifts off.
pub fn corner_loads(load: f64, xi: f64, eta: f64) -> [f64; 4] {
    [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)].map(|(sx, sy)| 0.25 * load * (1.0 + sx * xi + sy * eta))
}

impl Platform {
    /// Share of a wheel's load that shows `t` seconds after it came: 1 - swing exp(-zeta w t) cos(w_d t); 0 before.
    pub fn response(&self, t: f64) -> f64 {
        if t < 0.0 {
            return 0.0;
        }
        let w = std::f64::consts::TAU * self.frequency_hz;
        let wd = w * libm::sqrt(1.0 - self.damping * self.damping);
        1.0 - self.swing * libm::exp(-self.damping * w * t) * libm::cos(wd * t)
    }

    /// How long a wheel's swing is followed, s: until its envelope has fallen to a hundredth of its beginning.
    pub fn settles_s(&self) -> f64 {
        if self.swing > 0.0 {
            libm::log(100.0) / (self.damping * std::f64::consts::TAU * self.frequency_hz)
        } else {
            0.0
        }
    }
}

/// Time for which OIML R 60-1 leaves the load on a cell to find its creep, s.
const CREEP_TEST_S: f64 = 1_800.0;

/// One exponential: of a load L the reading grows towards L + C L, and falls back the same way when it is off again (OIML R
/// 60-1 tests both: the creep, and the return of the minimum load). Loads that come and go add up, as in any linear
/// viscoelastic body.
impl Creep {
    /// What a load that stands for ever adds to the reading, as a share of it: the growth of half an hour over 1 - exp(-30
    /// min / time).
    pub fn at_last(&self) -> f64 {
        if self.in_half_an_hour <= 0.0 { 0.0 } else { self.in_half_an_hour / -libm::expm1(-CREEP_TEST_S / self.time_s) }
    }

    /// What the reading has crept, kg, `seconds` after it had crept by `crept_kg`, under `load_kg`.
    pub fn after(&self, crept_kg: f64, load_kg: f64, seconds: f64) -> f64 {
        let last = self.at_last() * load_kg;
        last + (crept_kg - last) * libm::exp(-seconds / self.time_s)
    }

    /// When a reading that has crept by `crept_kg` will have crept to `to_kg` under `load_kg`, s; none if it never does.
    pub fn reaches_s(&self, crept_kg: f64, load_kg: f64, to_kg: f64) -> Option<f64> {
        let last = self.at_last() * load_kg;
        let ratio = (last - crept_kg) / (last - to_kg);
        (ratio >= 1.0 && ratio.is_finite()).then(|| self.time_s * libm::log(ratio))
    }
}

/// Growth of the reading under a standing load by creep: 1 + share (1 - exp(-t / tau)).
pub fn creep_factor(share: f64, tau_s: f64, t: f64) -> f64 {
    1.0 - share * libm::expm1(-t.max(0.0) / tau_s)
}

/// Longest time constant of an exponential creep that meets the limit of 20 to 30 minutes if it just meets that of 30
/// minutes, min: exp(-20/tau) - exp(-30/tau) = (0.15/0.7) (1 - exp(-30/tau)), by bisection.
pub fn longest_creep_tau_min() -> f64 {
    let excess = |tau: f64| {
        let at = |t: f64| -libm::expm1(-t / tau);
        (at(30.0) - at(20.0)) / at(30.0) - 0.15 / 0.7
    };
    let (mut low, mut high) = (1.0, 1000.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if excess(middle) > 0.0 { high = middle } else { low = middle }
    }
    low
}

/// Noise of a bridge amplifier as load, kg: density x sqrt(bandwidth) over (sensitivity x excitation), times capacity.
pub fn bridge_noise_kg(density_v: f64, bandwidth_hz: f64, mv_per_v: f64, excitation_v: f64, capacity_kg: f64) -> f64 {
    density_v * libm::sqrt(bandwidth_hz) / (mv_per_v * 1e-3 * excitation_v) * capacity_kg
}
