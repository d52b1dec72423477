//! `[door]`, `[drive]` and `[supply]` as they are resolved.

use super::Fields;
use crate::scenario::door::{Door, Drive, Heat, Mechanism, Supply, VerticalLift, Wear};

pub(super) fn door(fields: &Fields) -> Option<Door> {
    Some(Door {
        width_m: fields.number("width")?,
        height_m: fields.number("height")?,
        mechanism: mechanism(fields.child("mechanism")?)?,
        mass_kg: fields.number("mass")?,
        seal_n: fields.number("seal")?,
        seal_zone_m: fields.number("seal_zone")?,
        breakaway: fields.number("breakaway")?,
        wind_coefficient: fields.number("wind_coefficient")?,
        ice_n: fields.number("ice")?,
        ice_below_c: fields.number("ice_below")?,
        edge_stiffness_n_m: fields.number("edge_stiffness")?,
        contact_force_limit_n: fields.number("contact_force_limit")?,
        contact_energy_limit_j: fields.number("contact_energy_limit")?,
    })
}

fn mechanism(fields: &Fields) -> Option<Mechanism> {
    fields.text("kind")?;
    Some(Mechanism::VerticalLift(VerticalLift {
        stroke_m: fields.number("stroke")?,
        counterweight_kg: fields.number("counterweight")?,
        pulleys: fields.count("pulleys")?,
        pulley_efficiency: fields.number("pulley_efficiency")?,
        guide_friction: fields.number("guide_friction")?,
        guide_length_m: fields.number("guide_length")?,
        drive_offset_m: fields.number("drive_offset")?,
    }))
}

pub(super) fn drive(fields: &Fields) -> Option<Drive> {
    let heat = fields.child("heat")?;
    let wear = fields.child("wear")?;
    Some(Drive {
        nominal_v: fields.number("nominal_voltage")?,
        no_load_speed_m_s: fields.number("no_load_speed")?,
        stall_force_n: fields.number("stall_force")?,
        rated_force_n: fields.number("rated_force")?,
        no_load_current_a: fields.number("no_load_current")?,
        stall_current_a: fields.number("stall_current")?,
        current_limit_a: fields.number_or("current_limit", f64::INFINITY)?,
        self_locking: fields.flag("self_locking")?,
        pushes: fields.flag("pushes")?,
        reflected_mass_kg: fields.number("reflected_mass")?,
        duty_factor: fields.number("duty_factor")?,
        duty_period_s: fields.number("duty_period")?,
        heat: Heat {
            winding_j_k: heat.number("winding")?,
            housing_j_k: heat.number("housing")?,
            winding_housing_k_w: heat.number("winding_housing")?,
            housing_air_k_w: heat.number("housing_air")?,
            trips_at_c: heat.number("trips_at")?,
            resets_at_c: heat.number("resets_at")?,
        },
        wear: Wear {
            rated_strokes: wear.number("rated_strokes")?,
            exponent: wear.number("exponent")?,
            weibull_shape: wear.number("weibull_shape")?,
        },
    })
}

pub(super) fn supply(fields: &Fields) -> Option<Supply> {
    Some(Supply {
        voltage_v: fields.number("voltage")?,
        cable_ohm: fields.number("cable")?,
        limit_w: fields.number("limit")?,
        standby_w: fields.number("standby")?,
        efficiency: fields.number("efficiency")?,
    })
}
