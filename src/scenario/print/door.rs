//! `[door]`, `[drive]`, `[supply]` and `[bus]` as TOML.

use super::page::{Page, text};
use crate::scenario::Scenario;
use crate::scenario::bus::{Bus, Mode};
use crate::scenario::door::*;

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
    page.open("door.mechanism");
    match &door.mechanism {
        Mechanism::VerticalLift(lift) => self::lift(page, lift),
        Mechanism::DoubleSlider(slider) => self::slider(page, slider),
        Mechanism::TopFlap(flap) => self::flap(page, flap),
        Mechanism::SideLeaf(leaf) => self::leaf(page, leaf),
        Mechanism::HorizontalSlide(slide) => {
            page.raw("kind", text("horizontal slide"));
            page.number("stroke", slide.stroke_m);
            page.number("roller_friction", slide.roller_friction);
            page.number("guide_friction", slide.side_friction);
            page.number("track_slope", slide.slope_deg);
            page.number("guide_length", slide.guide_length_m);
            page.number("drive_offset", slide.drive_offset_m);
        }
        Mechanism::RollerCurtain(curtain) => {
            page.raw("kind", text("roller curtain"));
            page.number("stroke", curtain.stroke_m);
            page.number("bar", curtain.bar_kg);
            page.number("tube_radius", curtain.tube_radius_m);
            page.number("thickness", curtain.thickness_m);
            page.number("guide_friction", curtain.guide_friction);
        }
    }
}

fn lift(page: &mut Page, lift: &VerticalLift) {
    page.raw("kind", text("vertical lift"));
    page.number("stroke", lift.stroke_m);
    page.number("counterweight", lift.counterweight_kg);
    page.raw("pulleys", lift.pulleys.to_string());
    page.number("pulley_efficiency", lift.pulley_efficiency);
    page.number("guide_friction", lift.guide_friction);
    page.number("guide_length", lift.guide_length_m);
    page.number("drive_offset", lift.drive_offset_m);
}

fn slider(page: &mut Page, slider: &DoubleSlider) {
    page.raw("kind", text("double slider"));
    page.number("length", slider.length_m);
    page.number("overhang", slider.overhang_m);
    page.number("mass_at", slider.mass_at);
    page.number("friction_vertical", slider.friction_vertical);
    page.number("friction_horizontal", slider.friction_horizontal);
    page.number("shut_angle", slider.shut_angle_deg);
    page.number("open_angle", slider.open_angle_deg);
    page.number("counterweight", slider.counterweight_kg);
    page.number("spring", slider.spring_n);
    page.number("spring_travel", slider.spring_travel_m);
    let at = match slider.drive {
        PanelDrive::VerticalSlider => "vertical slider",
        PanelDrive::HorizontalSlider => "horizontal slider",
        PanelDrive::BothSliders => "both sliders",
        PanelDrive::Point { .. } => "point",
    };
    page.raw("drive_at", text(at));
    if let PanelDrive::Point { at, slope_deg } = slider.drive {
        page.number("point", at);
        page.number("slope", slope_deg);
    }
}

fn flap(page: &mut Page, flap: &TopFlap) {
    page.raw("kind", text("top flap"));
    swing(page, flap.opens);
    page.number("length", flap.length_m);
    page.number("hinge_height", flap.hinge_height_m);
    page.number("mass_at", flap.mass_at);
    page.number("open_angle", flap.open_angle_deg);
    page.number("hinge_friction", flap.hinge_friction);
    page.number("pin_radius", flap.pin_radius_m);
    rod(page, "rod", &flap.rod);
    if let Some(spring) = &flap.gas_spring {
        page.number("gas_spring", spring.force_n);
        page.number("gas_ratio", spring.ratio);
        page.number("gas_friction", spring.friction_n);
        rod(page, "gas", &spring.rod);
    }
}

fn leaf(page: &mut Page, leaf: &SideLeaf) {
    page.raw("kind", text("side leaf"));
    swing(page, leaf.opens);
    page.number("thickness", leaf.thickness_m);
    page.number("open_angle", leaf.open_angle_deg);
    page.number("hinge_friction", leaf.hinge_friction);
    page.number("pin_radius", leaf.pin_radius_m);
    page.number("thrust_radius", leaf.thrust_radius_m);
    page.number("hinge_span", leaf.hinge_span_m);
    page.number("lean", leaf.lean_deg);
    rod(page, "rod", &leaf.rod);
}

fn swing(page: &mut Page, swing: Swing) {
    page.raw("opens", text(if swing == Swing::Inwards { "inwards" } else { "outwards" }));
}

fn rod(page: &mut Page, prefix: &str, rod: &Rod) {
    page.number(&format!("{prefix}_frame_out"), rod.frame_out_m);
    page.number(&format!("{prefix}_frame_along"), rod.frame_along_m);
    page.number(&format!("{prefix}_panel_along"), rod.panel_along_m);
    page.number(&format!("{prefix}_panel_behind"), rod.panel_behind_m);
}

pub(super) fn drive(page: &mut Page, drive: &Drive) {
    page.open("drive");
    page.number("nominal_voltage", drive.nominal_v);
    match &drive.gear {
        Gear::Figures => {
            page.raw("kind", text("figures"));
            page.number("no_load_speed", drive.no_load_speed_m_s);
            page.number("stall_force", drive.stall_force_n);
            page.number("reflected_mass", drive.reflected_mass_kg);
            page.raw("self_locking", drive.self_locking.to_string());
        }
        Gear::Screw(motor, screw) => {
            page.raw("kind", text("screw"));
            self::motor(page, motor);
            page.number("lead", screw.lead_m);
            page.number("screw_diameter", screw.mean_diameter_m);
            page.number("screw_friction", screw.friction);
            page.number("flank", screw.flank_deg);
        }
        Gear::Drum(motor, drum) => {
            page.raw("kind", text("drum"));
            self::motor(page, motor);
            page.number("drum_diameter", drum.diameter_m);
            page.raw("self_locking", drive.self_locking.to_string());
        }
    }
    page.number("rated_force", drive.rated_force_n);
    page.number("no_load_current", drive.no_load_current_a);
    page.number("stall_current", drive.stall_current_a);
    page.number("current_limit", drive.current_limit_a);
    page.raw("pushes", drive.pushes.to_string());
    page.number("soft_start", drive.soft_start_s);
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
    for part in &drive.parts {
        page.open("drive.part");
        page.raw("name", text(&part.name));
        match part.rating {
            Rating::Stated { strokes, mean, exponent } => {
                page.number("rated_strokes", strokes);
                page.raw("rating", text(if mean { "mean" } else { "nine in ten" }));
                page.number("exponent", exponent);
            }
            Rating::Nut { wear_mm3_n_m, lead_m, mean_diameter_m, thread_m, turns } => {
                page.raw("kind", text("nut"));
                page.number("wear_factor", wear_mm3_n_m);
                page.number("lead", lead_m);
                page.number("mean_diameter", mean_diameter_m);
                page.number("thread_height", thread_m);
                page.number("turns", turns);
            }
            Rating::Relay { rated_a, exponent } => {
                page.raw("kind", text("relay"));
                page.number("rated_current", rated_a);
                page.number("current_exponent", exponent);
            }
        }
        page.number("weibull_shape", part.weibull_shape);
    }
}

fn motor(page: &mut Page, motor: &Motor) {
    page.number("motor_speed", motor.speed_hz);
    page.number("motor_torque", motor.stall_torque_nm);
    page.number("motor_inertia", motor.inertia_kg_m2);
    page.number("gear_ratio", motor.gear_ratio);
    page.number("gear_efficiency", motor.gear_efficiency);
}

pub(super) fn supply(page: &mut Page, supply: &Supply) {
    page.open("supply");
    let source = match &supply.source {
        Source::Limit => "limit",
        Source::Network(_) => "network",
        Source::Mains => "mains",
        Source::Solar(_) => "solar",
    };
    page.raw("source", text(source));
    page.number("voltage", supply.voltage_v);
    page.number("cable", supply.cable_ohm);
    match &supply.source {
        Source::Network(class) => page.raw("class", class.to_string()),
        _ => page.number("limit", supply.limit_w),
    }
    page.number("standby", supply.standby_w);
    page.number("efficiency", supply.efficiency);
    page.number("buffer", supply.buffer_j);
    if let Source::Solar(solar) = &supply.source {
        page.number("battery", solar.battery_wh);
        page.number("usable", solar.usable);
        page.number("panel", solar.panel_w);
        page.number("performance", solar.performance);
        page.number("sun", solar.sun_h);
        page.number("battery_efficiency", solar.efficiency);
        page.number("restarts_at", solar.restarts_at);
    }
}

pub(super) fn bus(page: &mut Page, bus: &Bus, scenario: &Scenario) {
    page.open("bus");
    let mode = match bus.mode {
        Mode::Standard => "standard",
        Mode::Fast => "fast",
        Mode::FastPlus => "fast plus",
    };
    page.raw("mode", text(mode));
    page.number("voltage", bus.voltage_v);
    page.number("pull_up", bus.pull_up_ohm);
    page.number("cable", bus.cable_m);
    page.number("cable_capacitance", bus.cable_pf_m);
    page.number("device_capacitance", bus.device_pf);
    page.raw("multiplexer", bus.multiplexer.to_string());
    page.number("gap", bus.gap_s);
    for device in &bus.devices {
        page.open("bus.device");
        if let Some(sensor) = scenario.sensors.get(device.sensor) {
            page.raw("sensor", text(&sensor.name));
        }
        page.raw("address", device.address.to_string());
        page.raw("register_bytes", device.register_bytes.to_string());
        page.raw("data_bytes", device.data_bytes.to_string());
        page.number("stretch", device.stretch_s);
        page.number("conversion", device.conversion_s);
    }
}
