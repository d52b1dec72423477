//! Another motor, another gear: what else changes with it.
//!
//! A larger motor is taken as so many motors of the present kind side by side: force, currents, inertia and heat capacities grow by
//! their number, thermal resistances fall by it, speed and efficiency stay. (Exact for motors in parallel; catalogues scale much like
//! it.) Another gear trades speed for force at the same power, and the rotor's inertia counts with the square of its ratio. So the
//! figures of the drive still agree with each other afterwards.

use super::Change;
use super::change::{ceil_to, whole};
use super::climate::Climate;
use super::power::{browns_out, stronger};
use super::set::{Set, set_in};
use crate::scenario::Scenario;
use crate::scenario::door::Gear;

/// Beyond this factor it is another drive altogether rather than a larger one of its kind (common practice).
const MOST: f64 = 8.0;
/// Step from one size to the next that is tried: the steps of the preferred numbers R20 (ISO 3).
const STEP: f64 = 1.122;

/// Digits that a maker would write: three, and a fourth so that the figures still agree.
fn figure(value: f64) -> f64 {
    // Written out and read back: a product of decimal steps would leave last digits.
    format!("{value:.3e}").parse().unwrap_or(value)
}

/// The figures of a drive with `size` motors for one, geared down by `down` (below 1: up).
fn drive(scenario: &Scenario, size: f64, down: f64) -> Vec<Set> {
    let drive = &scenario.drive;
    let mut sets = Vec::new();
    let mut put = |set: fn(f64) -> Set, value: f64, factor: f64| {
        if factor != 1.0 && value.is_finite() && value > 0.0 {
            sets.push(set(figure(value * factor)));
        }
    };
    match &drive.gear {
        Gear::Figures => {
            put(Set::StallForce, drive.stall_force_n, size * down);
            put(Set::Speed, drive.no_load_speed_m_s, 1.0 / down);
            put(Set::ReflectedMass, drive.reflected_mass_kg, size * down * down);
        }
        Gear::Screw(motor, _) | Gear::Drum(motor, _) => {
            put(Set::MotorTorque, motor.stall_torque_nm, size);
            put(Set::MotorInertia, motor.inertia_kg_m2, size);
            put(Set::GearRatio, motor.gear_ratio, down);
        }
    }
    put(Set::RatedForce, drive.rated_force_n, size * down);
    put(Set::NoLoadCurrent, drive.no_load_current_a, size);
    put(Set::StallCurrent, drive.stall_current_a, size);
    put(Set::CurrentLimit, drive.current_limit_a, size);
    put(Set::WindingHeat, drive.heat.winding_j_k, size);
    put(Set::HousingHeat, drive.heat.housing_j_k, size);
    put(Set::WindingHousing, drive.heat.winding_housing_k_w, 1.0 / size);
    put(Set::HousingAir, drive.heat.housing_air_k_w, 1.0 / size);
    sets
}

/// With a supply that stands it, where the present one does not.
fn fed(scenario: &Scenario, climate: &Climate, mut sets: Vec<Set>) -> Vec<Set> {
    let other = set_in(scenario, &sets);
    if browns_out(&other, climate) && !browns_out(scenario, climate) {
        sets.extend(stronger(&other, climate));
    }
    sets
}

/// Sizes from just above one on.
fn sizes(most: f64) -> impl Iterator<Item = f64> {
    let count = (libm::log(most) / libm::log(STEP)) as i32;
    (1..=count).map(|step| (100.0 * libm::pow(STEP, f64::from(step))).round() / 100.0)
}

/// The smallest motor of this kind, with its supply, with which `holds`.
pub(super) fn larger(
    scenario: &Scenario,
    climate: &Climate,
    row: &'static str,
    holds: impl Fn(&Scenario) -> bool,
) -> Vec<Change> {
    let found = sizes(MOST).find(|size| holds(&set_in(scenario, &drive(scenario, *size, 1.0))));
    let Some(size) = found else { return Vec::new() };
    let sets = fed(scenario, climate, drive(scenario, size, 1.0));
    whole(&sets, row, scenario, &format!("a motor {size} times as large"))
}

/// The same motor with the least reduction with which `holds`.
pub(super) fn geared_down(scenario: &Scenario, row: &'static str, holds: impl Fn(&Scenario) -> bool) -> Vec<Change> {
    let found = sizes(MOST).find(|down| holds(&set_in(scenario, &drive(scenario, 1.0, *down))));
    let Some(down) = found else { return Vec::new() };
    whole(&drive(scenario, 1.0, down), row, scenario, &format!("the same motor geared down {down} times"))
}

/// The ways to run `faster` times as fast: geared up, with the force that is left, and with a motor that makes up for it.
pub(super) fn faster(scenario: &Scenario, climate: &Climate, row: &'static str, faster: f64) -> Vec<Vec<Change>> {
    let up = (1_000.0 * faster).ceil() / 1_000.0;
    let strong = fed(scenario, climate, drive(scenario, up, 1.0 / up));
    let mut ways = geared_up(scenario, row, faster);
    ways.push(whole(&strong, row, scenario, &format!("a motor {up} times as large, geared up as much")));
    ways
}

/// The same motor geared up, with the force that is left; for a screw also by a longer lead.
pub(super) fn geared_up(scenario: &Scenario, row: &'static str, up: f64) -> Vec<Vec<Change>> {
    let up = (1_000.0 * up).ceil() / 1_000.0;
    let what = format!("the same motor geared up {up} times");
    let mut ways = vec![whole(&drive(scenario, 1.0, 1.0 / up), row, scenario, &what)];
    if let Gear::Screw(_, screw) = &scenario.drive.gear {
        let lead_m = ceil_to(up * screw.lead_m, 0.001);
        let sets: Vec<Set> = drive(scenario, 1.0, screw.lead_m / lead_m)
            .into_iter()
            .map(|set| if matches!(set, Set::GearRatio(_)) { Set::Lead(lead_m) } else { set })
            .collect();
        ways.push(whole(&sets, row, scenario, "a screw of a longer lead"));
    }
    ways
}

/// A smaller motor geared down to the same force at a share of the speed.
pub(super) fn slowed(scenario: &Scenario, row: &'static str, share: f64) -> Vec<Change> {
    whole(
        &drive(scenario, share, 1.0 / share),
        row,
        scenario,
        &format!("a motor of {share} times the size, geared down as much"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shelter::actuator::Actuator;

    /// Motors side by side, and another gear, give the same share of the motor's power to the panel.
    #[test]
    fn figures_still_agree() {
        let text = crate::scenario::starter("hedge");
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("hedge.toml");
        std::fs::write(&file, text).expect("a file");
        let metrics: Vec<_> = crate::ledger::metric::METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
        let loaded = crate::scenario::load(&file, &metrics).unwrap_or_else(|problems| panic!("{problems}"));
        let before = loaded.scenario;
        let share = Actuator::gear_efficiency(&before.drive);
        for (size, down) in [(1.0, 3.0), (2.5, 1.0), (2.0, 0.5), (0.3, 3.3)] {
            let after = set_in(&before, &drive(&before, size, down));
            let now = Actuator::gear_efficiency(&after.drive);
            assert!((now / share - 1.0).abs() < 2e-3, "{size} {down}: {share} {now}");
            let power = |it: &Scenario| it.drive.stall_force_n * it.drive.no_load_speed_m_s;
            assert!((power(&after) / power(&before) / size - 1.0).abs() < 2e-3, "{size} {down}");
        }
    }
}
