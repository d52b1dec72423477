//! Does the supply suit the motor: its voltage, what the cable takes of it, and what is left of its power beside the standby?
//!
//! All other rows are reckoned with the voltage and the cable as they are, so neither fails by itself; where something fails because of
//! one of them, it is named as the cause ([`super::causes`]).

use super::change::{floor_to, tidy};
use super::climate::Climate;
use super::power::browns_out;
use super::set::{Set, set_in};
use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::shelter::actuator::Actuator;
use crate::shelter::power::supply_w;

/// Range of voltage in which a motor is as its catalogue says, over its nominal one (IEC 60034-1, zone B: a tenth either way; from
/// memory).
const VOLTAGE: (f64, f64) = (0.9, 1.1);
/// Share of the voltage that a cable may take at the start of a motor, and that a proposed one takes (common practice: a tenth, a
/// twentieth).
const CABLE: (f64, f64) = (0.1, 0.05);
/// What is left to these figures that counts as tight.
const TIGHT: f64 = 0.02;
/// Share of the supply beyond which the standby leaves little for a motor (common practice).
const MUCH: f64 = 0.5;
/// Of what the supply gives beside the motor, the share that a proposed standby uses; and of all it gives, where the motor alone is too
/// much.
const SPARE: (f64, f64) = (0.9, 0.1);

const ASIDE: &str = "the other rows are reckoned with it, and name it where something fails by it";

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    rows.push(voltage(scenario));
    rows.push(cable(scenario));
    let supply = &scenario.supply;
    if supply.limit_w.is_finite() {
        let (standby_w, limit_w) = (supply_w(supply, 0.0), supply.limit_w);
        let question = "standby of controller and sensors, of what the supply gives";
        let mut row = Row::judged("supply_standby", question, standby_w, Side::AtMost, limit_w, MUCH * limit_w, "W")
            .key("supply.standby");
        if row.verdict != Verdict::Fits {
            row.note = "as the supply feels it, with the converter's losses; the motor gets what is left".to_string();
        }
        if row.verdict == Verdict::Fails {
            row = row.changes(vec![less_standby(scenario, climate).of("supply_standby", scenario)]);
        }
        rows.push(row);
    }
}

fn voltage(scenario: &Scenario) -> Row {
    let (given_v, nominal_v) = (scenario.supply.voltage_v, scenario.drive.nominal_v);
    let share = given_v / nominal_v;
    let (side, limit) = if share < 1.0 { (Side::AtLeast, VOLTAGE.0) } else { (Side::AtMost, VOLTAGE.1) };
    Row::judged("supply_voltage", "voltage of the supply over that of the motor", share, side, limit, TIGHT, "x")
        .key("supply.voltage")
        .note(format!("{given_v} V for a motor of {nominal_v} V; speed and force go with it"))
        .advised(ASIDE)
}

/// Share of the voltage that the cable takes at the start from rest, with a winding at 20 degC.
fn lost(scenario: &Scenario) -> f64 {
    let line = Actuator::at(&scenario.drive, &scenario.supply, 20.0);
    line.start_current_a() * scenario.supply.cable_ohm / scenario.supply.voltage_v
}

fn cable(scenario: &Scenario) -> Row {
    let question = "share of the voltage that the cable to the motor takes as it starts";
    Row::judged("supply_cable", question, lost(scenario), Side::AtMost, CABLE.0, TIGHT, "x")
        .key("supply.cable")
        .note("a tenth is common practice; what the cable takes is missing in the force")
        .advised(ASIDE)
}

/// The motor's own voltage, where the supply gives another.
pub(super) fn own_voltage(scenario: &Scenario) -> Option<Set> {
    let nominal_v = scenario.drive.nominal_v;
    let share = scenario.supply.voltage_v / nominal_v;
    (!(VOLTAGE.0..=VOLTAGE.1).contains(&share)).then_some(Set::SupplyVoltage(tidy(nominal_v)))
}

/// A thicker, or shorter, cable, where it takes too much.
pub(super) fn better_cable(scenario: &Scenario) -> Option<Set> {
    if lost(scenario) <= CABLE.0 {
        return None;
    }
    let drive = &scenario.drive;
    let start_a = drive.current_limit_a.min(drive.stall_current_a);
    let ohm = CABLE.1 * scenario.supply.voltage_v / start_a;
    Some(Set::SupplyCable(if ohm >= 0.01 { floor_to(ohm, 0.01) } else { tidy(ohm) }))
}

/// Whether controller and sensors alone take all that the supply gives.
pub(super) fn is_all_standby(scenario: &Scenario) -> bool {
    supply_w(&scenario.supply, 0.0) > scenario.supply.limit_w
}

/// A standby that leaves the motor what it needs; where the motor alone needs more than there is, a tenth of the supply.
pub(super) fn less_standby(scenario: &Scenario, climate: &Climate) -> Set {
    let holds = |standby_w: f64| !browns_out(&set_in(scenario, &[Set::Standby(standby_w)]), climate);
    let supply = &scenario.supply;
    let all_w = supply.limit_w * supply.efficiency;
    let most = super::change::largest(0.0, all_w, holds).filter(|standby_w| *standby_w > 0.0);
    let standby_w = most.map_or(SPARE.1 * all_w, |standby_w| SPARE.0 * standby_w);
    Set::Standby(if standby_w >= 0.1 { floor_to(standby_w, 0.1) } else { tidy(standby_w) })
}
