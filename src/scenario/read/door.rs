//! `[door]`, `[drive]` and `[supply]` as they are resolved.

use super::Fields;
use crate::scenario::bus::{Bus, Device, Mode};
use crate::scenario::door::*;

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
    Some(match fields.text("kind")? {
        "double slider" => Mechanism::DoubleSlider(DoubleSlider {
            length_m: fields.number("length")?,
            overhang_m: fields.number("overhang")?,
            mass_at: fields.number("mass_at")?,
            friction_vertical: fields.number("friction_vertical")?,
            friction_horizontal: fields.number("friction_horizontal")?,
            shut_angle_deg: fields.number("shut_angle")?,
            open_angle_deg: fields.number("open_angle")?,
            drive: match fields.text("drive_at")? {
                "vertical slider" => PanelDrive::VerticalSlider,
                "horizontal slider" => PanelDrive::HorizontalSlider,
                "both sliders" => PanelDrive::BothSliders,
                _ => PanelDrive::Point { at: fields.number("point")?, slope_deg: fields.number("slope")? },
            },
            counterweight_kg: fields.number("counterweight")?,
            spring_n: fields.number("spring")?,
            spring_travel_m: fields.number("spring_travel")?,
        }),
        "top flap" => {
            let length_m = fields.number("length")?;
            let gas_n = fields.number_or("gas_spring", 0.0)?;
            let gas = GasSpring {
                rod: rod(fields, "gas")?,
                force_n: gas_n,
                ratio: fields.number("gas_ratio")?,
                friction_n: fields.number("gas_friction")?,
            };
            Mechanism::TopFlap(TopFlap {
                opens: swing(fields)?,
                length_m,
                hinge_height_m: fields.number("hinge_height")?,
                mass_at: fields.number("mass_at")?,
                open_angle_deg: fields.number("open_angle")?,
                hinge_friction: fields.number("hinge_friction")?,
                pin_radius_m: fields.number("pin_radius")?,
                rod: rod(fields, "rod")?,
                gas_spring: (gas_n > 0.0).then_some(gas),
            })
        }
        "side leaf" => Mechanism::SideLeaf(SideLeaf {
            opens: swing(fields)?,
            thickness_m: fields.number("thickness")?,
            open_angle_deg: fields.number("open_angle")?,
            hinge_friction: fields.number("hinge_friction")?,
            pin_radius_m: fields.number("pin_radius")?,
            thrust_radius_m: fields.number("thrust_radius")?,
            hinge_span_m: fields.number("hinge_span")?,
            lean_deg: fields.number("lean")?,
            rod: rod(fields, "rod")?,
        }),
        "horizontal slide" => Mechanism::HorizontalSlide(HorizontalSlide {
            stroke_m: fields.number("stroke")?,
            roller_friction: fields.number("roller_friction")?,
            side_friction: fields.number("guide_friction")?,
            slope_deg: fields.number("track_slope")?,
            guide_length_m: fields.number("guide_length")?,
            drive_offset_m: fields.number("drive_offset")?,
        }),
        "roller curtain" => Mechanism::RollerCurtain(RollerCurtain {
            stroke_m: fields.number("stroke")?,
            bar_kg: fields.number("bar")?,
            tube_radius_m: fields.number("tube_radius")?,
            thickness_m: fields.number("thickness")?,
            guide_friction: fields.number("guide_friction")?,
        }),
        _ => Mechanism::VerticalLift(VerticalLift {
            stroke_m: fields.number("stroke")?,
            counterweight_kg: fields.number("counterweight")?,
            pulleys: fields.count("pulleys")?,
            pulley_efficiency: fields.number("pulley_efficiency")?,
            guide_friction: fields.number("guide_friction")?,
            guide_length_m: fields.number("guide_length")?,
            drive_offset_m: fields.number("drive_offset")?,
        }),
    })
}

fn swing(fields: &Fields) -> Option<Swing> {
    Some(if fields.text("opens")? == "inwards" { Swing::Inwards } else { Swing::Outwards })
}

/// A rod's pivots: keys with this prefix.
fn rod(fields: &Fields, prefix: &str) -> Option<Rod> {
    let at = |name: &str| fields.number(&format!("{prefix}_{name}"));
    Some(Rod {
        frame_out_m: at("frame_out")?,
        frame_along_m: at("frame_along")?,
        panel_along_m: at("panel_along")?,
        panel_behind_m: at("panel_behind")?,
    })
}

/// Where the figures come from; with them, and whether the gear holds by itself.
pub(crate) fn gear(fields: &Fields) -> Option<(Gear, gear::Figures, bool)> {
    let kind = fields.text("kind")?;
    if kind == "figures" {
        let figures = gear::Figures {
            no_load_speed_m_s: fields.number("no_load_speed")?,
            stall_force_n: fields.number("stall_force")?,
            reflected_mass_kg: fields.number("reflected_mass")?,
        };
        return Some((Gear::Figures, figures, fields.flag("self_locking")?));
    }
    let motor = Motor {
        speed_hz: fields.number("motor_speed")?,
        stall_torque_nm: fields.number("motor_torque")?,
        inertia_kg_m2: fields.number("motor_inertia")?,
        gear_ratio: fields.number("gear_ratio")?,
        gear_efficiency: fields.number("gear_efficiency")?,
    };
    if kind == "screw" {
        let screw = Screw {
            lead_m: fields.number("lead")?,
            mean_diameter_m: fields.number("screw_diameter")?,
            friction: fields.number("screw_friction")?,
            flank_deg: fields.number("flank")?,
        };
        return Some((Gear::Screw(motor, screw), motor.with_screw(&screw), screw.is_self_locking()));
    }
    let drum = Drum { diameter_m: fields.number("drum_diameter")? };
    Some((Gear::Drum(motor, drum), motor.with_drum(&drum), fields.flag("self_locking")?))
}

pub(super) fn drive(fields: &Fields) -> Option<Drive> {
    let heat = fields.child("heat")?;
    let wear = fields.child("wear")?;
    let (gear, figures, self_locking) = gear(fields)?;
    Some(Drive {
        nominal_v: fields.number("nominal_voltage")?,
        no_load_speed_m_s: figures.no_load_speed_m_s,
        stall_force_n: figures.stall_force_n,
        rated_force_n: fields.number("rated_force")?,
        no_load_current_a: fields.number("no_load_current")?,
        stall_current_a: fields.number("stall_current")?,
        current_limit_a: fields.number_or("current_limit", f64::INFINITY)?,
        self_locking,
        pushes: fields.flag("pushes")?,
        reflected_mass_kg: figures.reflected_mass_kg,
        duty_factor: fields.number("duty_factor")?,
        duty_period_s: fields.number("duty_period")?,
        soft_start_s: fields.number("soft_start")?,
        gear,
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
        parts: fields.entries("part").iter().map(part).collect::<Option<_>>()?,
    })
}

fn part(fields: &Fields) -> Option<Part> {
    Some(Part {
        name: fields.text("name")?.to_owned(),
        rating: match fields.text("kind")? {
            "nut" => Rating::Nut {
                wear_mm3_n_m: fields.number("wear_factor")?,
                lead_m: fields.number("lead")?,
                mean_diameter_m: fields.number("mean_diameter")?,
                thread_m: fields.number("thread_height")?,
                turns: fields.number("turns")?,
            },
            "relay" => {
                Rating::Relay { rated_a: fields.number("rated_current")?, exponent: fields.number("current_exponent")? }
            }
            _ => Rating::Stated {
                strokes: fields.number("rated_strokes")?,
                mean: fields.text("rating")? == "mean",
                exponent: fields.number("exponent")?,
            },
        },
        weibull_shape: fields.number("weibull_shape")?,
    })
}

pub(super) fn supply(fields: &Fields) -> Option<Supply> {
    let (source, limit_w) = match fields.text("source")? {
        "network" => {
            let class = fields.count("class")? as u8;
            (Source::Network(class), source::network_w(class)?)
        }
        "mains" => (Source::Mains, fields.number("limit")?),
        "solar" => {
            let solar = Solar {
                battery_wh: fields.number("battery")?,
                usable: fields.number("usable")?,
                panel_w: fields.number("panel")?,
                performance: fields.number("performance")?,
                sun_h: fields.number("sun")?,
                efficiency: fields.number("battery_efficiency")?,
                restarts_at: fields.number("restarts_at")?,
            };
            (Source::Solar(solar), fields.number("limit")?)
        }
        _ => (Source::Limit, fields.number("limit")?),
    };
    Some(Supply {
        voltage_v: fields.number("voltage")?,
        cable_ohm: fields.number("cable")?,
        limit_w,
        standby_w: fields.number("standby")?,
        efficiency: fields.number("efficiency")?,
        buffer_j: fields.number("buffer")?,
        source,
    })
}

/// The bus; none without devices on it.
pub(super) fn bus(fields: &Fields, sensors: &[&str]) -> Option<Option<Bus>> {
    let device = |fields: &Fields| {
        let name = fields.text("sensor")?;
        Some(Device {
            sensor: sensors.iter().position(|sensor| *sensor == name)?,
            address: fields.count("address")? as u8,
            register_bytes: fields.count("register_bytes")?,
            data_bytes: fields.count("data_bytes")?,
            stretch_s: fields.number("stretch")?,
            conversion_s: fields.number("conversion")?,
        })
    };
    let devices: Vec<Device> = fields.entries("device").iter().map(device).collect::<Option<_>>()?;
    if devices.is_empty() {
        return Some(None);
    }
    Some(Some(Bus {
        mode: match fields.text("mode")? {
            "standard" => Mode::Standard,
            "fast plus" => Mode::FastPlus,
            _ => Mode::Fast,
        },
        voltage_v: fields.number("voltage")?,
        pull_up_ohm: fields.number("pull_up")?,
        cable_m: fields.number("cable")?,
        cable_pf_m: fields.number("cable_capacitance")?,
        device_pf: fields.number("device_capacitance")?,
        multiplexer: fields.flag("multiplexer")?,
        gap_s: fields.number("gap")?,
        devices,
    }))
}
