//! Changes that make a failing scenario pass: one key and its new value each, found row by row and proved together.
//!
//! A row that fails may know which key would mend it and to what value. The changes of the first such row are made on a copy,
//! all questions are asked again, and so on until nothing fails: mending one row may bring up another (a panel that has come
//! free may start too hard for its supply). In the end every change that turns out not to be needed is taken back.

use super::climate::Climate;
use super::{Row, Verdict, rows_of};
use crate::scenario::Scenario;
use crate::scenario::door::source::network_w;
use crate::scenario::door::{Mechanism, PanelDrive, Source};
use crate::scenario::sensor::{Aim, SensorKind};

/// Rounds of mending before giving up: more than there are rows that know a cure.
const ROUNDS: usize = 12;

/// A key and its new value.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Row that asks for it.
    pub row: &'static str,
    /// Key of the scenario; an entry of a list goes by its name, a bus device by its sensor, a limit by its metric.
    pub key: String,
    /// The value as the file would hold it.
    pub value: String,
    set: Set,
}

/// What is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Set {
    DriveAt(PanelDrive),
    DriveOffset(f64),
    Counterweight(f64),
    Pushes(bool),
    StallForce(f64),
    Speed(f64),
    CurrentLimit(f64),
    Class(u8),
    SupplyLimit(f64),
    Address(usize, u8),
    LimitValue(usize, f64),
    Cone(usize, f64),
    FarthestSun(usize, f64),
    On(usize, f64),
    Off(usize, f64),
    Yaw(usize, f64),
    Pitch(usize, f64),
    BeamX(usize, f64),
}

impl Set {
    /// The change of a scenario that this is, for the row `row`.
    pub(super) fn of(self, row: &'static str, scenario: &Scenario) -> Change {
        let sensor = |index: usize| &scenario.sensors[index].name;
        let detector = |index: usize| &scenario.detectors[index].name;
        let (key, value) = match self {
            Set::DriveAt(place) => {
                let word = match place {
                    PanelDrive::VerticalSlider => "vertical slider",
                    PanelDrive::HorizontalSlider => "horizontal slider",
                    PanelDrive::BothSliders => "both sliders",
                    PanelDrive::Point { .. } => "point",
                };
                ("door.mechanism.drive_at".to_string(), quoted(word))
            }
            Set::DriveOffset(m) => ("door.mechanism.drive_offset".to_string(), quoted(&format!("{m} m"))),
            Set::Counterweight(kg) => ("door.mechanism.counterweight".to_string(), quoted(&format!("{kg} kg"))),
            Set::Pushes(pushes) => ("drive.pushes".to_string(), pushes.to_string()),
            Set::StallForce(n) => ("drive.stall_force".to_string(), quoted(&format!("{n} N"))),
            Set::Speed(m_s) => ("drive.no_load_speed".to_string(), quoted(&format!("{m_s} m/s"))),
            Set::CurrentLimit(a) => ("drive.current_limit".to_string(), quoted(&format!("{a} A"))),
            Set::Class(class) => ("supply.class".to_string(), class.to_string()),
            Set::SupplyLimit(w) => ("supply.limit".to_string(), quoted(&format!("{w} W"))),
            Set::Address(device, address) => {
                let device = scenario.bus.as_ref().map_or(0, |bus| bus.devices[device].sensor);
                (format!("bus.device.{}.address", sensor(device)), format!("0x{address:02X}"))
            }
            Set::LimitValue(limit, value) => {
                let limit = &scenario.limits[limit];
                (super::limits::key_of(limit), value.to_string())
            }
            Set::Cone(of, half_deg) => {
                (format!("sensor.{}.cone", sensor(of)), quoted(&format!("{} deg", 2.0 * half_deg)))
            }
            Set::FarthestSun(of, m) => (format!("sensor.{}.farthest_sun", sensor(of)), quoted(&format!("{m} m"))),
            Set::On(of, m) => (format!("detector.{}.on", detector(of)), quoted(&format!("{m} m"))),
            Set::Off(of, m) => (format!("detector.{}.off", detector(of)), quoted(&format!("{m} m"))),
            Set::Yaw(of, deg) => (format!("sensor.{}.yaw", sensor(of)), quoted(&format!("{deg} deg"))),
            Set::Pitch(of, deg) => (format!("sensor.{}.pitch", sensor(of)), quoted(&format!("{deg} deg"))),
            Set::BeamX(of, m) => (format!("sensor.{}.x", sensor(of)), quoted(&format!("{m} m"))),
        };
        Change { row, key, value, set: self }
    }
}

fn quoted(text: &str) -> String {
    format!("\"{text}\"")
}

impl Change {
    /// Makes it.
    pub fn apply(&self, scenario: &mut Scenario) {
        let mechanism = &mut scenario.door.mechanism;
        match (self.set, mechanism) {
            (Set::DriveAt(place), Mechanism::DoubleSlider(slider)) => slider.drive = place,
            (Set::DriveOffset(m), Mechanism::VerticalLift(lift)) => lift.drive_offset_m = m,
            (Set::DriveOffset(m), Mechanism::HorizontalSlide(slide)) => slide.drive_offset_m = m,
            (Set::Counterweight(kg), Mechanism::VerticalLift(lift)) => lift.counterweight_kg = kg,
            (Set::DriveAt(_) | Set::DriveOffset(_) | Set::Counterweight(_), _) => {}
            (Set::Pushes(pushes), _) => scenario.drive.pushes = pushes,
            (Set::StallForce(n), _) => scenario.drive.stall_force_n = n,
            (Set::Speed(m_s), _) => scenario.drive.no_load_speed_m_s = m_s,
            (Set::CurrentLimit(a), _) => scenario.drive.current_limit_a = a,
            (Set::Class(class), _) => {
                scenario.supply.source = Source::Network(class);
                scenario.supply.limit_w = network_w(class).unwrap_or(scenario.supply.limit_w);
            }
            (Set::SupplyLimit(w), _) => scenario.supply.limit_w = w,
            (Set::Address(device, address), _) => {
                if let Some(device) = scenario.bus.as_mut().and_then(|bus| bus.devices.get_mut(device)) {
                    device.address = address;
                }
            }
            (Set::LimitValue(limit, value), _) => scenario.limits[limit].value = value,
            (Set::Cone(sensor, half_deg), _) => {
                if let Some(aim) = aim_mut(&mut scenario.sensors[sensor].kind) {
                    aim.half_cone_deg = half_deg;
                }
            }
            (Set::FarthestSun(sensor, m), _) => {
                if let SensorKind::OpticalRange { farthest_sun_m, .. } = &mut scenario.sensors[sensor].kind {
                    *farthest_sun_m = m;
                }
            }
            (Set::Yaw(sensor, deg), _) => {
                if let Some(aim) = aim_mut(&mut scenario.sensors[sensor].kind) {
                    aim.yaw_deg = deg;
                }
            }
            (Set::Pitch(sensor, deg), _) => {
                if let Some(aim) = aim_mut(&mut scenario.sensors[sensor].kind) {
                    aim.pitch_deg = deg;
                }
            }
            (Set::BeamX(sensor, m), _) => {
                if let SensorKind::BreakBeam { x_m, .. } = &mut scenario.sensors[sensor].kind {
                    *x_m = m;
                }
            }
            (Set::On(detector, m), _) => scenario.detectors[detector].on = m,
            (Set::Off(detector, m), _) => scenario.detectors[detector].off = m,
        }
    }
}

/// Mounting of a sensor that has a cone.
pub(super) fn aim(kind: &SensorKind) -> Option<&Aim> {
    match kind {
        SensorKind::OpticalRange { aim, .. }
        | SensorKind::PhotonRange { aim, .. }
        | SensorKind::UltrasonicRange { aim, .. } => Some(aim),
        _ => None,
    }
}

fn aim_mut(kind: &mut SensorKind) -> Option<&mut Aim> {
    match kind {
        SensorKind::OpticalRange { aim, .. }
        | SensorKind::PhotonRange { aim, .. }
        | SensorKind::UltrasonicRange { aim, .. } => Some(aim),
        _ => None,
    }
}

/// A figure rounded down, or up, to a step: what a maker would write.
pub(super) fn floor_to(value: f64, step: f64) -> f64 {
    tidy((value / step + 1e-9).floor() * step)
}

/// See [`floor_to`].
pub(super) fn ceil_to(value: f64, step: f64) -> f64 {
    tidy((value / step - 1e-9).ceil() * step)
}

/// Takes away the last digits that a product of decimal steps leaves.
fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// The changes that make nothing fail any more, and whether they do; without effect on a scenario where nothing fails.
pub(super) fn mend(scenario: &Scenario, climate: &Climate, rows: &[Row]) -> (Vec<Change>, bool) {
    let mut changes: Vec<Change> = Vec::new();
    let mut rows = rows.to_vec();
    let made = |changes: &[Change]| {
        let mut mended = scenario.clone();
        changes.iter().for_each(|change| change.apply(&mut mended));
        mended
    };
    let fails = |rows: &[Row]| rows.iter().any(|row| row.verdict == Verdict::Fails);
    for _ in 0..ROUNDS {
        // A cure that is already made and did not help is not made again.
        let fresh =
            |row: &&Row| row.verdict == Verdict::Fails && row.changes.iter().any(|change| !changes.contains(change));
        let Some(row) = rows.iter().find(fresh) else { break };
        for change in row.changes.clone() {
            match changes.iter_mut().find(|known| known.key == change.key) {
                Some(known) => *known = change,
                None => changes.push(change),
            }
        }
        rows = rows_of(&made(&changes), climate);
    }
    if fails(&rows) {
        return (changes, false);
    }
    // From the last one back: later changes answer to earlier ones.
    for index in (0..changes.len()).rev() {
        let mut fewer = changes.clone();
        fewer.remove(index);
        if !fails(&rows_of(&made(&fewer), climate)) {
            changes = fewer;
        }
    }
    (changes, true)
}
