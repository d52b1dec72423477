//! Do a platform's levels tell the mower from nothing all season long? Temperature, dirt and random drift move what an empty platform
//! reads; once they carry it past the level on which a detector lets go, a mower that has left stays there for the door, and one that
//! comes home is not missed.

use super::change::{tidy, whole};
use super::climate::Climate;
use super::set::{Set, reading_unit};
use super::sight::DRIFTED;
use super::{Row, Side};
use crate::scenario::Scenario;
use crate::scenario::care::ZeroTracking;
use crate::scenario::sensor::{Sensor, SensorKind, TiltOn};
use crate::scenario::strategy::{Detector, Statistic};
use crate::sensing::reading::{Eye, Sky, Surroundings};
use crate::sensing::sight::Body;
use crate::shelter::condition::detectors_of;

/// Room that is comfortable, in standard deviations of the noise: a run rule deals with what goes beyond (common practice).
const ROOM: f64 = 3.0;

const ID: &str = "level_drift";

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let rules = scenario.strategies.iter().flat_map(|it| it.rules());
    let named = rules.fold(0, |bits, rule| bits | detectors_of(rule));
    for (index, detector) in scenario.detectors.iter().enumerate() {
        let sensor = &scenario.sensors[detector.sensor];
        if named >> index & 1 == 1 && goes_by_level(detector) && is_weighed(sensor) && drifts(sensor) {
            rows.extend(both(scenario, climate, index));
        }
    }
}

fn goes_by_level(detector: &Detector) -> bool {
    matches!(detector.statistic, Statistic::Level | Statistic::MovingMedian(_) | Statistic::MovingMean(_))
}

/// Whether a parked mower's weight is what it senses.
fn is_weighed(sensor: &Sensor) -> bool {
    matches!(sensor.kind, SensorKind::PlatformLoad { .. } | SensorKind::Tilt { on: TiltOn::Platform { .. } })
}

fn drifts(sensor: &Sensor) -> bool {
    let errors = &sensor.errors;
    errors.drift_per_k != 0.0 || errors.drift_per_day != 0.0 || errors.random_drift > 0.0
}

/// The empty platform against the lower of the two levels, and the mower in its dock against the higher one.
fn both(scenario: &Scenario, climate: &Climate, index: usize) -> Vec<Row> {
    let detector = &scenario.detectors[index];
    let sensor = &scenario.sensors[detector.sensor];
    let unit = reading_unit(scenario, index);
    let docked = [Body::of_mower(&scenario.mower, -scenario.mower.dock.depth_m, 0.0)];
    let tracked = tracked(scenario, sensor);
    let worst = |bodies: &[Body]| ends(sensor, climate, bodies, tracked);
    let (empty, loaded) = (worst(&[]), worst(&docked));
    let (low, high) = (detector.on.min(detector.off), detector.on.max(detector.off));
    // A detector that is about something else, or that no drift is needed to spoil, is for other rows.
    if empty.usual > low || loaded.usual < high {
        return Vec::new();
    }
    let room = ROOM * sensor.errors.noise;
    let note = format!(
        "the worst of {:.0} and {:.0} °C, the first day and the last before it is cleaned, {DRIFTED:.0} standard deviations of random drift{}",
        climate.coldest_c,
        climate.warmest_c,
        if tracked > 0.0 { format!(", less {tracked:.1} {unit} that the zero follows") } else { String::new() }
    );
    let key = |of_lower: bool| {
        let of_on = of_lower == (detector.on <= detector.off);
        format!("detector.{}.{}", detector.name, if of_on { "on" } else { "off" })
    };
    let question = |what: &str| format!("detector {}: {what}", detector.name);
    let rows = [
        Row::judged(
            ID,
            question("highest reading with nobody on the platform"),
            empty.highest,
            Side::AtMost,
            low,
            room,
            unit,
        )
        .key(key(true)),
        Row::judged(
            ID,
            question("lowest reading with the mower in its dock"),
            loaded.lowest,
            Side::AtLeast,
            high,
            room,
            unit,
        )
        .key(key(false)),
    ];
    // Half-way between the two, as far apart as now or as they can be.
    let (from, to) = (empty.highest + room, loaded.lowest - room);
    let half = (0.5 * (high - low)).min(0.5 * (to - from));
    let middle = 0.5 * (from + to);
    let told = rows.into_iter().map(|row| {
        let row = row.note(note.clone());
        if half < 0.0 {
            return row.note(format!(
                "{note}; no level lies between the two: compensate for temperature, clean more often, or let the zero follow ([controller] zero_tracking)"
            ));
        }
        let (lower, upper) = (tidy(middle - half), tidy(middle + half));
        let (on, off) = if detector.on <= detector.off { (lower, upper) } else { (upper, lower) };
        let sets = [Set::On(index, on), Set::Off(index, off)];
        row.changes(whole(&sets, ID, scenario, "levels half-way between the two"))
    });
    told.collect()
}

/// How far the controllers' zero follows a platform, where all of them do; 0 otherwise.
fn tracked(scenario: &Scenario, sensor: &Sensor) -> f64 {
    if !matches!(sensor.kind, SensorKind::PlatformLoad { .. }) {
        return 0.0;
    }
    let care = || scenario.strategies.iter().map(|strategy| &strategy.controller.care);
    let follows = care().all(|care| care.zero_tracking != ZeroTracking::Off);
    if follows { care().map(|care| care.zero_at_most_kg).fold(f64::INFINITY, f64::min) } else { 0.0 }
}

/// Mean readings over a season.
struct Ends {
    /// Where nothing has drifted: there the levels were set by hand.
    usual: f64,
    lowest: f64,
    highest: f64,
}

/// Readings with these bodies, in the mean of the noise; the zero follows as far as `tracked`.
fn ends(sensor: &Sensor, climate: &Climate, bodies: &[Body], tracked: f64) -> Ends {
    let eye = Eye::new(sensor);
    let errors = &sensor.errors;
    let uncleaned_d = climate.uncleaned_d(errors);
    let reading = |temperature_c: f64, days: f64, drifted: f64| {
        let sky = Sky { days, ..Sky::dark(temperature_c) };
        let seeing = eye.seeing(&sky).shifted(drifted * errors.random_drift);
        eye.law(&Surroundings::before_shut_door(bodies, sky, seeing)).targets[0].mean
    };
    let usual = reading(20.0, 0.0, 0.0);
    let mut ends = Ends { usual, lowest: f64::INFINITY, highest: f64::NEG_INFINITY };
    for temperature_c in [climate.coldest_c, climate.warmest_c] {
        for (days, drifted) in [(0.0, DRIFTED), (0.0, -DRIFTED), (uncleaned_d, DRIFTED), (uncleaned_d, -DRIFTED)] {
            let off = reading(temperature_c, days, drifted) - usual;
            let left = off.signum() * (off.abs() - tracked).max(0.0);
            ends.lowest = ends.lowest.min(usual + left);
            ends.highest = ends.highest.max(usual + left);
        }
    }
    ends
}
