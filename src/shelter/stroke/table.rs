//! All strokes a season can ask for, solved once.
//!
//! The classes are chosen so that a stroke in the table never has more margin than the true one, and with a
//! self-locking drive is never quicker (what drives another drive's panel may be held by more wind):
//! - **Wind**: gust times the square root of the air density relative to 1.225 kg/m3 (the force depends on nothing
//!   else), rounded up to whole m/s from 0 to 50. (A gust of 45 m/s at -20 degC counts as 49 m/s.) Anything stronger
//!   counts as 75 m/s.
//! - **Temperature**: the winding of a rested motor is as warm as the air; classes of 5 K from -30 to 50 degC, rounded up,
//!   because a warm winding is weaker. Beyond the ends the nearest class counts.
//! - **Frost**: counts for openings only, and only for setting off.
//!
//! That makes 52 x 17 x 3 strokes. The force profile of a wind class does not depend on the temperature, so it is solved
//! once per class and direction; each temperature then costs one pass of closed-form sums.

use super::super::actuator::Actuator;
use super::super::loads::{Loads, air_density_kg_m3};
use super::super::mechanism::{self, Direction};
use super::path::Path;
use super::profile::Profile;
use super::{KNOTS, Stroke};
use crate::scenario::Scenario;
use crate::scenario::door::{Door, Drive, Supply};

/// Strongest whole-number wind class, m/s.
const STRONGEST_M_S: usize = 50;
/// Effective gust of the class beyond, m/s: stronger than any gust at the door of a garden shelter.
const BEYOND_M_S: f64 = 75.0;
const GUSTS: usize = STRONGEST_M_S + 2;
/// Coldest temperature class, degC.
const COLDEST_C: f64 = -30.0;
/// Width of a temperature class, K.
const STEP_K: f64 = 5.0;
const TEMPERATURES: usize = 17;
/// Air density to which wind classes refer, kg/m3 (standard atmosphere at 15 degC).
const REFERENCE_DENSITY_KG_M3: f64 = 1.225;

/// Strokes by class of wind, temperature, frost and direction.
#[derive(Clone, Debug)]
pub struct StrokeTable {
    strokes: Vec<Stroke>,
}

/// The kinds of full stroke.
#[derive(Clone, Copy)]
enum Kind {
    Opening,
    OpeningFrozen,
    Closing,
}

const KINDS: [Kind; 3] = [Kind::Opening, Kind::OpeningFrozen, Kind::Closing];

impl StrokeTable {
    /// Solves all strokes of a scenario's door.
    pub fn new(scenario: &Scenario) -> StrokeTable {
        StrokeTable::of(&scenario.door, &scenario.drive, &scenario.supply)
    }

    /// Solves all strokes of a door.
    pub fn of(door: &Door, drive: &Drive, supply: &Supply) -> StrokeTable {
        let lines: Vec<_> = (0..TEMPERATURES).map(|t| Actuator::at(drive, supply, class_c(t))).collect();
        let mut strokes = Vec::with_capacity(KINDS.len() * GUSTS * TEMPERATURES);
        for kind in KINDS {
            for gust in 0..GUSTS {
                let loads = class_loads(kind, gust);
                let (direction, from_m) = match kind {
                    Kind::Opening | Kind::OpeningFrozen => (Direction::Opening, 0.0),
                    Kind::Closing => (Direction::Closing, mechanism::stroke_m(door)),
                };
                let profile = Profile::new(door, drive, direction, &loads, from_m);
                let damage = profile.damage_by_panel(drive.wear.exponent, drive.rated_force_n);
                for line in &lines {
                    let path = Path::along(&profile, line, KNOTS);
                    strokes.push(Stroke::new(door, drive, supply, &profile, &damage, line, &path));
                }
            }
        }
        StrokeTable { strokes }
    }

    /// The full stroke from rest under these loads.
    pub fn get(&self, direction: Direction, loads: &Loads) -> &Stroke {
        let kind = kind_of(direction, loads);
        let gust = gust_class(loads);
        &self.strokes[(kind as usize * GUSTS + gust) * TEMPERATURES + temperature_class(loads.temperature_c)]
    }

    /// The loads and the winding temperature, degC, with which [`StrokeTable::get`]'s stroke was solved.
    pub fn solved_with(direction: Direction, loads: &Loads) -> (Loads, f64) {
        (class_loads(kind_of(direction, loads), gust_class(loads)), class_c(temperature_class(loads.temperature_c)))
    }

    /// All strokes, for a summary.
    pub fn strokes(&self) -> &[Stroke] {
        &self.strokes
    }
}

fn kind_of(direction: Direction, loads: &Loads) -> Kind {
    match (direction, loads.frozen) {
        (Direction::Opening, false) => Kind::Opening,
        (Direction::Opening, true) => Kind::OpeningFrozen,
        (Direction::Closing, _) => Kind::Closing,
    }
}

/// The wind class of loads: see the module's head.
pub fn wind_class(loads: &Loads) -> usize {
    gust_class(loads)
}

/// Force profile of the full stroke in a wind class.
pub fn class_profile(door: &Door, drive: &Drive, direction: Direction, class: usize) -> Profile {
    let from_m = if direction == Direction::Opening { 0.0 } else { mechanism::stroke_m(door) };
    let kind = if direction == Direction::Opening { Kind::Opening } else { Kind::Closing };
    Profile::new(door, drive, direction, &class_loads(kind, class.min(GUSTS - 1)), from_m)
}

/// Loads with the wind force of a class: at the temperature of the reference density.
fn class_loads(kind: Kind, gust: usize) -> Loads {
    let gust_m_s = if gust > STRONGEST_M_S { BEYOND_M_S } else { gust as f64 };
    // Inverse of the gas law at the reference density, so that the class's own density factor is 1.
    let temperature_c = (air_density_kg_m3(0.0) / REFERENCE_DENSITY_KG_M3 - 1.0) * 273.15;
    Loads { gust_m_s, temperature_c, frozen: matches!(kind, Kind::OpeningFrozen) }
}

/// Upper edge of a temperature class, degC.
fn class_c(class: usize) -> f64 {
    COLDEST_C + STEP_K * class as f64
}

/// Whole numbers that rounding has lifted by a hair must not go to the next class.
const HAIR: f64 = 1e-9;

fn gust_class(loads: &Loads) -> usize {
    let density = air_density_kg_m3(loads.temperature_c) / REFERENCE_DENSITY_KG_M3;
    let effective = loads.gust_m_s.abs() * density.sqrt();
    // Not-a-number and infinity fall into the strongest class.
    if effective <= STRONGEST_M_S as f64 { libm::ceil(effective - HAIR).max(0.0) as usize } else { GUSTS - 1 }
}

fn temperature_class(temperature_c: f64) -> usize {
    let class = libm::ceil((temperature_c - COLDEST_C) / STEP_K - HAIR);
    // Not-a-number counts as the warmest, which is the weakest drive.
    if class.is_nan() { TEMPERATURES - 1 } else { class.clamp(0.0, (TEMPERATURES - 1) as f64) as usize }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_round_to_the_cautious_side() {
        let at = |gust_m_s, temperature_c| gust_class(&Loads { gust_m_s, temperature_c, frozen: false });
        assert_eq!(at(0.0, 20.0), 0);
        // 15 degC has the reference density (1.22500 to five digits); 10.2 m/s rounds up.
        assert_eq!(at(10.2, 15.0), 11);
        // -20 degC: 10 m/s x sqrt(1.394/1.225) = 10.67 m/s.
        assert_eq!(at(10.0, -20.0), 11);
        assert_eq!(at(60.0, 20.0), GUSTS - 1);
        assert_eq!(at(f64::NAN, 20.0), GUSTS - 1);
        assert_eq!(temperature_class(-80.0), 0);
        assert_eq!(temperature_class(-30.0), 0);
        assert_eq!(temperature_class(-29.9), 1);
        assert_eq!(class_c(temperature_class(20.0)), 20.0);
        assert_eq!(class_c(temperature_class(20.1)), 25.0);
        assert_eq!(temperature_class(90.0), 16);
    }

    #[test]
    fn a_class_has_the_wind_of_its_name() {
        for gust in 0..=STRONGEST_M_S {
            assert_eq!(gust_class(&class_loads(Kind::Opening, gust)), gust);
        }
    }
}
