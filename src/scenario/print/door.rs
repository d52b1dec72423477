//! `[door]`, `[drive]` and `[supply]` as text.

use super::page::{Page, text};
use crate::scenario::door::{Door, Drive, Mechanism, Supply};

pub(super) fn door(page: &mut Page, door: &Door) {
    page.open("door");
    page.number("width", door.width_m);
    page.number("height", door.height_m);
    page.number("mass", door.mass_kg);
    page.number("seal", door.seal_n);
    page.number("seal_zone", door.seal_zone_m);
    page.number("breakaway", door.breakaway);
    page.number("wind_coefficient", door.wind_coefficient);
    page.number("ice", door.ice_n);
    page.number("ice_below", door.ice_below_c);
    page.number("edge_stiffness", door.edge_stiffness_n_m);
    page.number("contact_force_limit", door.contact_force_limit_n);
    page.number("contact_energy_limit", door.contact_energy_limit_j);
    let Mechanism::VerticalLift(lift) = &door.mechanism;
    page.open("door.mechanism");
    page.raw("kind", text("vertical lift"));
    page.number("stroke", lift.stroke_m);
    page.number("counterweight", lift.counterweight_kg);
    page.raw("pulleys", lift.pulleys.to_string());
    page.number("pulley_efficiency", lift.pulley_efficiency);
    page.number("guide_friction", lift.guide_friction);
    page.number("guide_length", lift.guide_length_m);
    page.number("drive_offset", lift.drive_offset_m);
}

pub(super) fn drive(page: &mut Page, drive: &Drive) {
    page.open("drive");
    page.number("nominal_voltage", drive.nominal_v);
    page.number("no_load_speed", drive.no_load_speed_m_s);
    page.number("stall_force", drive.stall_force_n);
    page.number("rated_force", drive.rated_force_n);
    page.number("no_load_current", drive.no_load_current_a);
    page.number("stall_current", drive.stall_current_a);
    page.number("current_limit", drive.current_limit_a);
    page.raw("self_locking", drive.self_locking.to_string());
    page.raw("pushes", drive.pushes.to_string());
    page.number("reflected_mass", drive.reflected_mass_kg);
    page.number("duty_factor", drive.duty_factor);
    page.number("duty_period", drive.duty_period_s);
    page.open("drive.heat");
    page.number("winding", drive.heat.winding_j_k);
    page.number("housing", drive.heat.housing_j_k);
    page.number("winding_housing", drive.heat.winding_housing_k_w);
    page.number("housing_air", drive.heat.housing_air_k_w);
    page.number("trips_at", drive.heat.trips_at_c);
    page.number("resets_at", drive.heat.resets_at_c);
    page.open("drive.wear");
    page.number("rated_strokes", drive.wear.rated_strokes);
    page.number("exponent", drive.wear.exponent);
    page.number("weibull_shape", drive.wear.weibull_shape);
}

pub(super) fn supply(page: &mut Page, supply: &Supply) {
    page.open("supply");
    page.number("voltage", supply.voltage_v);
    page.number("cable", supply.cable_ohm);
    page.number("limit", supply.limit_w);
    page.number("standby", supply.standby_w);
    page.number("efficiency", supply.efficiency);
}
