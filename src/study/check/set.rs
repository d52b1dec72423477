//! The figures of a scenario that `check` may set otherwise: each with its key, its value as the file holds it, and what it does to a
//! scenario in memory.

use super::Change;
use super::change::tidy;
use crate::math::time::Span;
use crate::scenario::Scenario;
use crate::scenario::bus::{Device, Mode};
use crate::scenario::door::gear::Figures;
use crate::scenario::door::gear::Screw;
use crate::scenario::door::source::network_w;
use crate::scenario::door::{DoubleSlider, Gear, Mechanism, Motor, PanelDrive, Rating, Rod, Solar, Source};
use crate::scenario::keys::{Per, reading_measure};
use crate::scenario::limits::Bound;
use crate::scenario::print::kind_name;
use crate::scenario::sensor::{Aim, SensorKind};
use crate::scenario::strategy::RunRule;

/// What is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Set {
    Width(f64),
    Height(f64),
    Mass(f64),
    IceBelow(f64),
    EdgeStiffness(f64),
    /// A strategy's threshold.
    ObstructionForce(usize, f64),
    Stroke(f64),
    Length(f64),
    HingeHeight(f64),
    ShutAngle(f64),
    OpenAngle(f64),
    DriveAt(PanelDrive),
    /// Of the vertical and of the horizontal guide of a double slider.
    FrictionVertical(f64),
    FrictionHorizontal(f64),
    GuideFriction(f64),
    RollerFriction(f64),
    HingeFriction(f64),
    PinRadius(f64),
    DriveOffset(f64),
    Counterweight(f64),
    Bar(f64),
    RodFrameOut(f64),
    RodFrameAlong(f64),
    RodPanelAlong(f64),
    WaitsAt(f64),
    DockDepth(f64),
    Pushes(bool),
    StallForce(f64),
    RatedForce(f64),
    Speed(f64),
    NoLoadCurrent(f64),
    StallCurrent(f64),
    CurrentLimit(f64),
    ReflectedMass(f64),
    MotorTorque(f64),
    MotorInertia(f64),
    GearRatio(f64),
    Lead(f64),
    WindingHeat(f64),
    HousingHeat(f64),
    WindingHousing(f64),
    HousingAir(f64),
    DutyFactor(f64),
    RatedStrokes(f64),
    /// A part's figure that [`lasts_by`] names.
    PartLife(usize, f64),
    Class(u8),
    SupplyLimit(f64),
    SupplyVoltage(f64),
    SupplyCable(f64),
    Standby(f64),
    Panel(f64),
    Battery(f64),
    BusMode(Mode),
    PullUp(f64),
    BusCable(f64),
    BusGap(f64),
    Address(usize, u8),
    Stretch(usize, f64),
    Conversion(usize, f64),
    LimitValue(usize, f64),
    NoLimit(usize),
    Cone(usize, f64),
    Farthest(usize, f64),
    FarthestSun(usize, f64),
    /// Samples per second.
    Rate(usize, f64),
    Latency(usize, f64),
    Yaw(usize, f64),
    Pitch(usize, f64),
    /// Of a ranger above the ground.
    SensorHeight(usize, f64),
    /// Of a ranger before the door line.
    SensorX(usize, f64),
    BeamX(usize, f64),
    On(usize, f64),
    Off(usize, f64),
    /// A detector's rule for going on.
    Rule(usize, RunRule),
    /// Of one strategy, whether it has its own or takes that of `[controller]`.
    Warning(usize, f64),
    OpeningWarning(usize, f64),
    DeparturePatience(f64),
    /// Of a message, s.
    Delay(usize, f64),
    /// Time for which a message is believed, s.
    StaleAfter(usize, f64),
    Dropout(usize, f64),
    Spurious(usize, f64),
    OpenAtLeast(usize, f64),
    StrokeTimeout(usize, f64),
}

/// The unit of a detector's levels.
pub(super) fn reading_unit(scenario: &Scenario, detector: usize) -> &'static str {
    let kind = kind_name(&scenario.sensors[scenario.detectors[detector].sensor].kind);
    reading_measure(kind, Per::One).map_or("", |measure| measure.unit)
}

impl Set {
    /// The change of a scenario that this is, for the row `row`.
    pub(super) fn of(self, row: &'static str, scenario: &Scenario) -> Change {
        let (key, value) = self.written(scenario);
        Change { row, key, value, together: None, set: self, group: 0, needed_by: None }
    }

    /// Its key and its value as the file holds them.
    fn written(self, scenario: &Scenario) -> (String, String) {
        let sensor = |index: usize| &scenario.sensors[index].name;
        let detector = |index: usize| &scenario.detectors[index].name;
        let device = |index: usize| scenario.bus.as_ref().map_or("", |bus| sensor(bus.devices[index].sensor));
        let strategy =
            |index: usize, key: &str| format!("strategy.{}.controller.{key}", scenario.strategies[index].name);
        let figure = |key: &str, value: f64, unit: &str| (key.to_string(), quoted(&format!("{value} {unit}")));
        let bare = |key: &str, value: f64| (key.to_string(), value.to_string());
        match self {
            Set::Width(m) => figure("door.width", m, "m"),
            Set::Height(m) => figure("door.height", m, "m"),
            Set::Mass(kg) => figure("door.mass", kg, "kg"),
            Set::IceBelow(celsius) => figure("door.ice_below", celsius, "°C"),
            Set::EdgeStiffness(n_m) => figure("door.edge_stiffness", tidy(n_m / 1_000.0), "N/mm"),
            Set::ObstructionForce(of, n) => {
                figure(&format!("strategy.{}.controller.obstruction_force", scenario.strategies[of].name), n, "N")
            }
            Set::Stroke(m) => figure("door.mechanism.stroke", m, "m"),
            Set::Length(m) => figure("door.mechanism.length", m, "m"),
            Set::HingeHeight(m) => figure("door.mechanism.hinge_height", m, "m"),
            Set::ShutAngle(deg) => figure("door.mechanism.shut_angle", deg, "deg"),
            Set::OpenAngle(deg) => figure("door.mechanism.open_angle", deg, "deg"),
            Set::FrictionVertical(share) => bare("door.mechanism.friction_vertical", share),
            Set::FrictionHorizontal(share) => bare("door.mechanism.friction_horizontal", share),
            Set::GuideFriction(share) => bare("door.mechanism.guide_friction", share),
            Set::RollerFriction(share) => bare("door.mechanism.roller_friction", share),
            Set::HingeFriction(share) => bare("door.mechanism.hinge_friction", share),
            Set::PinRadius(m) => figure("door.mechanism.pin_radius", tidy(1_000.0 * m), "mm"),
            Set::DriveAt(place) => {
                let word = match place {
                    PanelDrive::VerticalSlider => "vertical slider",
                    PanelDrive::HorizontalSlider => "horizontal slider",
                    PanelDrive::BothSliders => "both sliders",
                    PanelDrive::Point { .. } => "point",
                };
                ("door.mechanism.drive_at".to_string(), quoted(word))
            }
            Set::DriveOffset(m) => figure("door.mechanism.drive_offset", m, "m"),
            Set::Counterweight(kg) => figure("door.mechanism.counterweight", kg, "kg"),
            Set::Bar(kg) => figure("door.mechanism.bar", kg, "kg"),
            Set::RodFrameOut(m) => figure("door.mechanism.rod_frame_out", m, "m"),
            Set::RodFrameAlong(m) => figure("door.mechanism.rod_frame_along", m, "m"),
            Set::RodPanelAlong(m) => figure("door.mechanism.rod_panel_along", m, "m"),
            Set::WaitsAt(m) => figure("mower.shut_door.waits_at", m, "m"),
            Set::DockDepth(m) => figure("mower.dock.depth", m, "m"),
            Set::Pushes(pushes) => ("drive.pushes".to_string(), pushes.to_string()),
            Set::StallForce(n) => figure("drive.stall_force", n, "N"),
            Set::RatedForce(n) => figure("drive.rated_force", n, "N"),
            Set::Speed(m_s) => figure("drive.no_load_speed", m_s, "m/s"),
            Set::NoLoadCurrent(a) => figure("drive.no_load_current", a, "A"),
            Set::StallCurrent(a) => figure("drive.stall_current", a, "A"),
            Set::CurrentLimit(a) => figure("drive.current_limit", a, "A"),
            Set::ReflectedMass(kg) => figure("drive.reflected_mass", kg, "kg"),
            Set::MotorTorque(nm) => figure("drive.motor_torque", nm, "N*m"),
            Set::MotorInertia(kg_m2) => figure("drive.motor_inertia", kg_m2, "kg*m2"),
            Set::GearRatio(ratio) => bare("drive.gear_ratio", ratio),
            Set::Lead(m) => figure("drive.lead", tidy(1_000.0 * m), "mm"),
            Set::WindingHeat(j_k) => figure("drive.heat.winding", j_k, "J/K"),
            Set::HousingHeat(j_k) => figure("drive.heat.housing", j_k, "J/K"),
            Set::WindingHousing(k_w) => figure("drive.heat.winding_housing", k_w, "K/W"),
            Set::HousingAir(k_w) => figure("drive.heat.housing_air", k_w, "K/W"),
            Set::DutyFactor(share) => bare("drive.duty_factor", share),
            Set::RatedStrokes(strokes) => bare("drive.wear.rated_strokes", strokes),
            Set::PartLife(part, figure) => {
                let part = &scenario.drive.parts[part];
                let (key, unit) = lasts_by(&part.rating);
                let value = unit.map_or_else(|| figure.to_string(), |unit| quoted(&format!("{figure} {unit}")));
                (format!("drive.part.{}.{key}", part.name), value)
            }
            Set::Class(class) => ("supply.class".to_string(), class.to_string()),
            Set::SupplyLimit(w) => figure("supply.limit", w, "W"),
            Set::SupplyVoltage(v) => figure("supply.voltage", v, "V"),
            Set::SupplyCable(ohm) => figure("supply.cable", ohm, "ohm"),
            Set::Standby(w) => figure("supply.standby", w, "W"),
            Set::Panel(w) => figure("supply.panel", w, "W"),
            Set::Battery(wh) => figure("supply.battery", wh, "Wh"),
            Set::BusMode(mode) => {
                let word = match mode {
                    Mode::Standard => "standard",
                    Mode::Fast => "fast",
                    Mode::FastPlus => "fast plus",
                };
                ("bus.mode".to_string(), quoted(word))
            }
            Set::PullUp(ohm) => figure("bus.pull_up", ohm, "ohm"),
            Set::BusCable(m) => figure("bus.cable", m, "m"),
            Set::BusGap(s) => figure("bus.gap", tidy(1_000.0 * s), "ms"),
            Set::Address(of, address) => (format!("bus.device.{}.address", device(of)), format!("0x{address:02X}")),
            Set::Stretch(of, s) => figure(&format!("bus.device.{}.stretch", device(of)), tidy(1_000.0 * s), "ms"),
            Set::Conversion(of, s) => figure(&format!("bus.device.{}.conversion", device(of)), tidy(1_000.0 * s), "ms"),
            Set::LimitValue(limit, value) => (super::limits::key_of(&scenario.limits[limit]), value.to_string()),
            Set::NoLimit(limit) => (super::limits::key_of(&scenario.limits[limit]), String::new()),
            Set::Cone(of, half_deg) => figure(&format!("sensor.{}.cone", sensor(of)), 2.0 * half_deg, "deg"),
            Set::Farthest(of, m) => figure(&format!("sensor.{}.farthest", sensor(of)), m, "m"),
            Set::FarthestSun(of, m) => figure(&format!("sensor.{}.farthest_sun", sensor(of)), m, "m"),
            Set::Rate(of, hz) => figure(&format!("sensor.{}.rate", sensor(of)), hz, "Hz"),
            Set::Latency(of, s) => figure(&format!("sensor.{}.latency", sensor(of)), tidy(1_000.0 * s), "ms"),
            Set::Yaw(of, deg) => figure(&format!("sensor.{}.yaw", sensor(of)), deg, "deg"),
            Set::Pitch(of, deg) => figure(&format!("sensor.{}.pitch", sensor(of)), deg, "deg"),
            Set::SensorHeight(of, m) | Set::SensorX(of, m) => {
                let mut place = scenario.sensors[of].kind.aim().map_or([0.0; 3], |aim| aim.position_m);
                place[if matches!(self, Set::SensorX(..)) { 0 } else { 2 }] = m;
                let place = place.map(|m| quoted(&format!("{m} m")));
                (format!("sensor.{}.position", sensor(of)), format!("[{}]", place.join(", ")))
            }
            Set::BeamX(of, m) => figure(&format!("sensor.{}.x", sensor(of)), m, "m"),
            Set::On(of, level) => figure(&format!("detector.{}.on", detector(of)), level, reading_unit(scenario, of)),
            Set::Off(of, level) => figure(&format!("detector.{}.off", detector(of)), level, reading_unit(scenario, of)),
            Set::Rule(of, RunRule { k, n }) => {
                (format!("detector.{}.rule", detector(of)), quoted(&format!("{k} of {n}")))
            }
            Set::OpeningWarning(of, s) => figure(&strategy(of, "opening_warning"), s, "s"),
            Set::DeparturePatience(s) => figure("mower.departure.patience", s, "s"),
            Set::Delay(of, s) => figure(&format!("sensor.{}.delay", sensor(of)), s, "s"),
            Set::StaleAfter(of, s) => figure(&format!("sensor.{}.stale_after", sensor(of)), tidy(s / 60.0), "min"),
            Set::Spurious(of, share) => bare(&format!("sensor.{}.spurious", sensor(of)), share),
            Set::Dropout(of, share) => bare(&format!("sensor.{}.dropout", sensor(of)), share),
            Set::Warning(of, s) => figure(&strategy(of, "warning"), s, "s"),
            Set::OpenAtLeast(of, s) => figure(&strategy(of, "open_at_least"), s, "s"),
            Set::StrokeTimeout(of, factor) => bare(&strategy(of, "stroke_timeout"), factor),
        }
    }

    /// Sets it; without effect on a scenario that has no such figure.
    pub(super) fn apply(self, scenario: &mut Scenario) {
        let (door, drive, supply) = (&mut scenario.door, &mut scenario.drive, &mut scenario.supply);
        match self {
            Set::Width(m) => door.width_m = m,
            Set::Height(m) => door.height_m = m,
            Set::Mass(kg) => door.mass_kg = kg,
            Set::IceBelow(celsius) => door.ice_below_c = celsius,
            Set::EdgeStiffness(n_m) => door.edge_stiffness_n_m = n_m,
            Set::ObstructionForce(of, n) => scenario.strategies[of].controller.obstruction_force_n = n,
            Set::Stroke(m) => match &mut door.mechanism {
                Mechanism::VerticalLift(lift) => lift.stroke_m = m,
                Mechanism::HorizontalSlide(slide) => slide.stroke_m = m,
                Mechanism::RollerCurtain(curtain) => curtain.stroke_m = m,
                Mechanism::DoubleSlider(_) | Mechanism::TopFlap(_) | Mechanism::SideLeaf(_) => {}
            },
            Set::Length(m) => match &mut door.mechanism {
                Mechanism::DoubleSlider(slider) => slider.length_m = m,
                Mechanism::TopFlap(flap) => flap.length_m = m,
                _ => {}
            },
            Set::HingeHeight(m) => {
                if let Mechanism::TopFlap(flap) = &mut door.mechanism {
                    flap.hinge_height_m = m;
                }
            }
            Set::ShutAngle(deg) => with_slider(&mut door.mechanism, |slider| slider.shut_angle_deg = deg),
            Set::FrictionVertical(share) => {
                with_slider(&mut door.mechanism, |slider| slider.friction_vertical = share);
            }
            Set::FrictionHorizontal(share) => {
                with_slider(&mut door.mechanism, |slider| slider.friction_horizontal = share);
            }
            Set::GuideFriction(share) => match &mut door.mechanism {
                Mechanism::VerticalLift(lift) => lift.guide_friction = share,
                Mechanism::HorizontalSlide(slide) => slide.side_friction = share,
                Mechanism::RollerCurtain(curtain) => curtain.guide_friction = share,
                _ => {}
            },
            Set::RollerFriction(share) => {
                if let Mechanism::HorizontalSlide(slide) = &mut door.mechanism {
                    slide.roller_friction = share;
                }
            }
            Set::HingeFriction(share) => match &mut door.mechanism {
                Mechanism::TopFlap(flap) => flap.hinge_friction = share,
                Mechanism::SideLeaf(leaf) => leaf.hinge_friction = share,
                _ => {}
            },
            Set::PinRadius(m) => match &mut door.mechanism {
                Mechanism::TopFlap(flap) => flap.pin_radius_m = m,
                Mechanism::SideLeaf(leaf) => leaf.pin_radius_m = m,
                _ => {}
            },
            Set::OpenAngle(deg) => match &mut door.mechanism {
                Mechanism::DoubleSlider(slider) => slider.open_angle_deg = deg,
                Mechanism::TopFlap(flap) => flap.open_angle_deg = deg,
                Mechanism::SideLeaf(leaf) => leaf.open_angle_deg = deg,
                Mechanism::VerticalLift(_) | Mechanism::HorizontalSlide(_) | Mechanism::RollerCurtain(_) => {}
            },
            Set::DriveAt(place) => with_slider(&mut door.mechanism, |slider| slider.drive = place),
            Set::DriveOffset(m) => match &mut door.mechanism {
                Mechanism::VerticalLift(lift) => lift.drive_offset_m = m,
                Mechanism::HorizontalSlide(slide) => slide.drive_offset_m = m,
                _ => {}
            },
            Set::Counterweight(kg) => match &mut door.mechanism {
                Mechanism::VerticalLift(lift) => lift.counterweight_kg = kg,
                Mechanism::DoubleSlider(slider) => slider.counterweight_kg = kg,
                _ => {}
            },
            Set::Bar(kg) => {
                if let Mechanism::RollerCurtain(curtain) = &mut door.mechanism {
                    curtain.bar_kg = kg;
                }
            }
            Set::RodFrameOut(m) => with_rod(&mut door.mechanism, |rod| rod.frame_out_m = m),
            Set::RodFrameAlong(m) => with_rod(&mut door.mechanism, |rod| rod.frame_along_m = m),
            Set::RodPanelAlong(m) => with_rod(&mut door.mechanism, |rod| rod.panel_along_m = m),
            Set::WaitsAt(m) => scenario.mower.shut_door.waits_at_m = m,
            Set::DockDepth(m) => scenario.mower.dock.depth_m = m,
            Set::Pushes(pushes) => drive.pushes = pushes,
            Set::StallForce(n) => drive.stall_force_n = n,
            Set::RatedForce(n) => drive.rated_force_n = n,
            Set::Speed(m_s) => drive.no_load_speed_m_s = m_s,
            Set::NoLoadCurrent(a) => drive.no_load_current_a = a,
            Set::StallCurrent(a) => drive.stall_current_a = a,
            Set::CurrentLimit(a) => drive.current_limit_a = a,
            Set::ReflectedMass(kg) => drive.reflected_mass_kg = kg,
            Set::MotorTorque(nm) => with_motor(scenario, |motor| motor.stall_torque_nm = nm),
            Set::MotorInertia(kg_m2) => with_motor(scenario, |motor| motor.inertia_kg_m2 = kg_m2),
            Set::GearRatio(ratio) => with_motor(scenario, |motor| motor.gear_ratio = ratio),
            Set::Lead(m) => with_screw(scenario, |screw| screw.lead_m = m),
            Set::WindingHeat(j_k) => drive.heat.winding_j_k = j_k,
            Set::HousingHeat(j_k) => drive.heat.housing_j_k = j_k,
            Set::WindingHousing(k_w) => drive.heat.winding_housing_k_w = k_w,
            Set::HousingAir(k_w) => drive.heat.housing_air_k_w = k_w,
            Set::DutyFactor(share) => drive.duty_factor = share,
            Set::RatedStrokes(strokes) => drive.wear.rated_strokes = strokes,
            Set::PartLife(part, figure) => match &mut drive.parts[part].rating {
                Rating::Stated { strokes, .. } => *strokes = figure,
                Rating::Nut { turns, .. } => *turns = figure,
                Rating::Relay { rated_a, .. } => *rated_a = figure,
            },
            Set::Class(class) => {
                supply.source = Source::Network(class);
                supply.limit_w = network_w(class).unwrap_or(supply.limit_w);
            }
            Set::SupplyLimit(w) => supply.limit_w = w,
            Set::SupplyVoltage(v) => supply.voltage_v = v,
            Set::SupplyCable(ohm) => supply.cable_ohm = ohm,
            Set::Standby(w) => supply.standby_w = w,
            Set::Panel(w) => with_sun(&mut supply.source, |solar| solar.panel_w = w),
            Set::Battery(wh) => with_sun(&mut supply.source, |solar| solar.battery_wh = wh),
            Set::BusMode(mode) => scenario.bus.iter_mut().for_each(|bus| bus.mode = mode),
            Set::PullUp(ohm) => scenario.bus.iter_mut().for_each(|bus| bus.pull_up_ohm = ohm),
            Set::BusCable(m) => scenario.bus.iter_mut().for_each(|bus| bus.cable_m = m),
            Set::BusGap(s) => scenario.bus.iter_mut().for_each(|bus| bus.gap_s = s),
            Set::Address(of, address) => with_device(scenario, of, |device| device.address = address),
            Set::Stretch(of, s) => with_device(scenario, of, |device| device.stretch_s = s),
            Set::Conversion(of, s) => with_device(scenario, of, |device| device.conversion_s = s),
            Set::LimitValue(limit, value) => scenario.limits[limit].value = value,
            Set::NoLimit(limit) => {
                let limit = &mut scenario.limits[limit];
                limit.value = if limit.bound == Bound::AtLeast { f64::NEG_INFINITY } else { f64::INFINITY };
            }
            Set::Cone(sensor, half_deg) => with_aim(scenario, sensor, |aim| aim.half_cone_deg = half_deg),
            Set::Farthest(sensor, m) => with_aim(scenario, sensor, |aim| aim.farthest_m = m),
            Set::FarthestSun(sensor, m) => {
                if let SensorKind::OpticalRange { farthest_sun_m, .. } = &mut scenario.sensors[sensor].kind {
                    *farthest_sun_m = m;
                }
            }
            Set::Rate(sensor, hz) => scenario.sensors[sensor].period = Span::from_seconds(1.0 / hz),
            Set::Latency(sensor, s) => scenario.sensors[sensor].latency = Span::from_seconds(s),
            Set::Yaw(sensor, deg) => with_aim(scenario, sensor, |aim| aim.yaw_deg = deg),
            Set::Pitch(sensor, deg) => with_aim(scenario, sensor, |aim| aim.pitch_deg = deg),
            Set::SensorHeight(sensor, m) => with_aim(scenario, sensor, |aim| aim.position_m[2] = m),
            Set::SensorX(sensor, m) => with_aim(scenario, sensor, |aim| aim.position_m[0] = m),
            Set::BeamX(sensor, m) => {
                if let SensorKind::BreakBeam { x_m, .. } = &mut scenario.sensors[sensor].kind {
                    *x_m = m;
                }
            }
            Set::On(detector, m) => scenario.detectors[detector].on = m,
            Set::Off(detector, m) => scenario.detectors[detector].off = m,
            Set::Rule(detector, rule) => scenario.detectors[detector].rule = rule,
            Set::Warning(strategy, s) => scenario.strategies[strategy].controller.warning = Span::from_seconds(s),
            Set::OpeningWarning(strategy, s) => {
                scenario.strategies[strategy].controller.care.opening_warning = Span::from_seconds(s);
            }
            Set::DeparturePatience(s) => scenario.mower.departure.patience_s = s,
            Set::Delay(sensor, s) => {
                if let SensorKind::Status { delay_s, .. } = &mut scenario.sensors[sensor].kind {
                    *delay_s = s;
                }
            }
            Set::StaleAfter(sensor, s) => {
                if let SensorKind::Status { stale_after_s, .. } = &mut scenario.sensors[sensor].kind {
                    *stale_after_s = s;
                }
            }
            Set::Spurious(sensor, share) => scenario.sensors[sensor].errors.spurious = share,
            Set::Dropout(sensor, share) => scenario.sensors[sensor].errors.dropout = share,
            Set::OpenAtLeast(strategy, s) => {
                scenario.strategies[strategy].controller.open_at_least = Span::from_seconds(s);
            }
            Set::StrokeTimeout(strategy, factor) => scenario.strategies[strategy].controller.stroke_timeout = factor,
        }
    }
}

/// A scenario with some figures set otherwise.
pub(super) fn set_in(scenario: &Scenario, sets: &[Set]) -> Scenario {
    let mut other = scenario.clone();
    sets.iter().for_each(|set| set.apply(&mut other));
    other
}

fn quoted(text: &str) -> String {
    format!("\"{text}\"")
}

fn with_rod(mechanism: &mut Mechanism, set: impl FnOnce(&mut Rod)) {
    match mechanism {
        Mechanism::TopFlap(flap) => set(&mut flap.rod),
        Mechanism::SideLeaf(leaf) => set(&mut leaf.rod),
        _ => {}
    }
}

fn with_slider(mechanism: &mut Mechanism, set: impl FnOnce(&mut DoubleSlider)) {
    if let Mechanism::DoubleSlider(slider) = mechanism {
        set(slider);
    }
}

fn with_sun(source: &mut Source, set: impl FnOnce(&mut Solar)) {
    if let Source::Solar(solar) = source {
        set(solar);
    }
}

fn with_device(scenario: &mut Scenario, device: usize, set: impl FnOnce(&mut Device)) {
    if let Some(device) = scenario.bus.as_mut().and_then(|bus| bus.devices.get_mut(device)) {
        set(device);
    }
}

/// A motor with a gear: what it gives at the panel follows.
fn with_motor(scenario: &mut Scenario, set: impl FnOnce(&mut Motor)) {
    match &mut scenario.drive.gear {
        Gear::Figures => {}
        Gear::Screw(motor, _) | Gear::Drum(motor, _) => set(motor),
    }
    follow(scenario);
}

/// A screw: what the drive gives, and whether it holds, follow.
fn with_screw(scenario: &mut Scenario, set: impl FnOnce(&mut Screw)) {
    if let Gear::Screw(_, screw) = &mut scenario.drive.gear {
        set(screw);
        scenario.drive.self_locking = screw.is_self_locking();
    }
    follow(scenario);
}

/// The drive's figures at the panel, worked out from its motor and gear.
fn follow(scenario: &mut Scenario) {
    let drive = &mut scenario.drive;
    let figures: Figures = match &drive.gear {
        Gear::Figures => return,
        Gear::Screw(motor, screw) => motor.with_screw(screw),
        Gear::Drum(motor, drum) => motor.with_drum(drum),
    };
    drive.no_load_speed_m_s = figures.no_load_speed_m_s;
    drive.stall_force_n = figures.stall_force_n;
    drive.reflected_mass_kg = figures.reflected_mass_kg;
}

fn with_aim(scenario: &mut Scenario, sensor: usize, set: impl FnOnce(&mut Aim)) {
    match &mut scenario.sensors[sensor].kind {
        SensorKind::OpticalRange { aim, .. }
        | SensorKind::PhotonRange { aim, .. }
        | SensorKind::UltrasonicRange { aim, .. } => set(aim),
        _ => {}
    }
}

/// The figure by which a part of a kind can be had for a longer life, and its unit in a scenario if it has one.
pub(super) fn lasts_by(rating: &Rating) -> (&'static str, Option<&'static str>) {
    match rating {
        Rating::Stated { .. } => ("rated_strokes", None),
        Rating::Nut { .. } => ("turns", None),
        Rating::Relay { .. } => ("rated_current", Some("A")),
    }
}
