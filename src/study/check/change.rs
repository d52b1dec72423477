//! Changes that make a failing scenario pass: one key and its new value each, found row by row and proved together.
//!
//! A row that fails may know which keys would mend it and to what values, in more than one way. Each way of the first such row is
//! tried on a copy and all questions are asked again: the one after which least fails is kept, and so on until nothing fails, for
//! mending one row may bring up another (a panel that has come free may start too hard for its supply). In the end every change
//! that turns out not to be needed is taken back. No change is proposed with which the file would not load.

use super::climate::Climate;
use super::{Row, Verdict, rows_of};
use crate::ledger::metric::METRICS;
use crate::scenario::Scenario;
use crate::scenario::door::source::network_w;
use crate::scenario::door::{Mechanism, PanelDrive, Source};
use crate::scenario::limits::Bound;
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
    /// The value as the file would hold it; empty where the entry has to go.
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
    NoLimit(usize),
    Panel(f64),
    Battery(f64),
    EdgeStiffness(f64),
    ReflectedMass(f64),
    Ice(f64),
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
            Set::NoLimit(limit) => (super::limits::key_of(&scenario.limits[limit]), String::new()),
            Set::Panel(w) => ("supply.panel".to_string(), quoted(&format!("{w} W"))),
            Set::Battery(wh) => ("supply.battery".to_string(), quoted(&format!("{wh} Wh"))),
            Set::EdgeStiffness(n_m) => {
                ("door.edge_stiffness".to_string(), quoted(&format!("{} N/mm", tidy(n_m / 1_000.0))))
            }
            Set::ReflectedMass(kg) => ("drive.reflected_mass".to_string(), quoted(&format!("{kg} kg"))),
            Set::Ice(n) => ("door.ice".to_string(), quoted(&format!("{n} N"))),
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
            (Set::NoLimit(limit), _) => {
                let limit = &mut scenario.limits[limit];
                limit.value = if limit.bound == Bound::AtLeast { f64::NEG_INFINITY } else { f64::INFINITY };
            }
            (Set::Panel(w), _) => {
                if let Source::Solar(solar) = &mut scenario.supply.source {
                    solar.panel_w = w;
                }
            }
            (Set::Battery(wh), _) => {
                if let Source::Solar(solar) = &mut scenario.supply.source {
                    solar.battery_wh = wh;
                }
            }
            (Set::EdgeStiffness(n_m), _) => scenario.door.edge_stiffness_n_m = n_m,
            (Set::ReflectedMass(kg), _) => scenario.drive.reflected_mass_kg = kg,
            (Set::Ice(n), _) => scenario.door.ice_n = n,
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

/// The largest value from `low` to `high` for which `holds`, which does so up to some value, by bisection; none if not even `low` does.
pub(super) fn largest(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> Option<f64> {
    if holds(high) {
        return Some(high);
    }
    if !holds(low) {
        return None;
    }
    let (mut low, mut high) = (low, high);
    for _ in 0..24 {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    Some(low)
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

/// Whether a scenario written out would load. A limit that was left out has no figure any more.
fn loads(scenario: &Scenario) -> bool {
    let mut written = scenario.clone();
    written.limits.retain(|limit| limit.value.is_finite());
    let metrics: Vec<_> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    crate::scenario::load::is_valid(&written, &metrics)
}

/// The changes that make nothing fail any more, and whether they do; without effect on a scenario where nothing fails.
pub(super) fn mend(scenario: &Scenario, climate: &Climate, rows: &[Row]) -> (Vec<Change>, bool) {
    let fails = |rows: &[Row]| rows.iter().filter(|row| row.verdict == Verdict::Fails).count();
    if fails(rows) == 0 {
        return (Vec::new(), true);
    }
    // A scenario that was put together in memory may lack what a file must have.
    let strict = loads(scenario);
    let made = |changes: &[Change]| {
        let mut mended = scenario.clone();
        changes.iter().for_each(|change| change.apply(&mut mended));
        (!strict || loads(&mended)).then_some(mended)
    };
    let mut changes: Vec<Change> = Vec::new();
    let mut rows = rows.to_vec();
    let mut best = (fails(&rows), Vec::new());
    for _ in 0..ROUNDS {
        let mut next: Option<(usize, Vec<Change>, Vec<Row>)> = None;
        for row in rows.iter().filter(|row| row.verdict == Verdict::Fails) {
            for cure in &row.cures {
                // A cure that is already made and did not help is not made again.
                if cure.iter().all(|change| changes.contains(change)) {
                    continue;
                }
                let tried = with(&changes, cure);
                let Some(mended) = made(&tried) else { continue };
                let after = rows_of(&mended, climate);
                let left = fails(&after);
                if next.as_ref().is_none_or(|next| left < next.0) {
                    next = Some((left, tried, after));
                }
            }
            // One row at a time: what mends it may mend the others.
            if next.is_some() {
                break;
            }
        }
        let Some((left, tried, after)) = next else { break };
        (changes, rows) = (tried, after);
        if left < best.0 {
            best = (left, changes.clone());
        }
        if left == 0 {
            break;
        }
    }
    if best.0 > 0 {
        return (best.1, false);
    }
    let mut changes = best.1;
    // From the last one back: later changes answer to earlier ones. What another change had needed may go once that has gone.
    loop {
        let before = changes.len();
        for index in (0..before).rev() {
            let mut fewer = changes.clone();
            fewer.remove(index);
            if made(&fewer).is_some_and(|mended| fails(&rows_of(&mended, climate)) == 0) {
                changes = fewer;
            }
        }
        if changes.len() == before {
            return (changes, true);
        }
    }
}

/// Changes with a cure on top: a key that is set again takes its new value.
fn with(changes: &[Change], cure: &[Change]) -> Vec<Change> {
    let mut all = changes.to_vec();
    for change in cure {
        match all.iter_mut().find(|known| known.key == change.key) {
            Some(known) => *known = change.clone(),
            None => all.push(change.clone()),
        }
    }
    all
}
