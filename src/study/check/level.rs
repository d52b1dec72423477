//! Do a platform's levels tell the mower from nothing all season long? Temperature, dirt and random drift move what an empty platform
//! reads; once they carry it past the level on which a detector lets go, a mower that has left stays there for the door, and one that
//! comes home is not missed.

use super::change::{tidy, whole};
use super::climate::Climate;
use super::set::{Set, reading_unit};
use super::sight::{DRIFTED, with_random_drift};
use super::{Row, Side};
use crate::scenario::Scenario;
use crate::scenario::care::ZeroTracking;
use crate::scenario::sensor::{Sensor, SensorKind, TiltOn};
use crate::scenario::strategy::{Detector, Statistic, Strategy};
use crate::sensing::reading::{Eye, Sky, Surroundings};
use crate::sensing::sight::Body;
use crate::shelter::condition::detectors_of;

/// Room that is comfortable, in standard deviations of the noise: a run rule deals with what goes beyond (common practice).
const ROOM: f64 = 3.0;

const ID: &str = "level_drift";

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    for (index, detector) in scenario.detectors.iter().enumerate() {
        let sensor = &scenario.sensors[detector.sensor];
        if listeners(scenario, index).next().is_some() && goes_by_level(detector) && is_weighed(sensor) {
            rows.extend(both(scenario, climate, index));
        }
    }
}

/// The strategies whose rules name a detector.
fn listeners(scenario: &Scenario, detector: usize) -> impl Iterator<Item = &Strategy> {
    let names = move |strategy: &&Strategy| {
        strategy.rules().iter().fold(0, |bits, rule| bits | detectors_of(rule)) >> detector & 1 == 1
    };
    scenario.strategies.iter().filter(names)
}

fn goes_by_level(detector: &Detector) -> bool {
    matches!(detector.statistic, Statistic::Level | Statistic::MovingMedian(_) | Statistic::MovingMean(_))
}

/// Whether a parked mower's weight is what it senses.
fn is_weighed(sensor: &Sensor) -> bool {
    matches!(sensor.kind, SensorKind::PlatformLoad { .. } | SensorKind::Tilt { on: TiltOn::Platform { .. } })
}

/// The empty platform against the lower of the two levels, and the mower in its dock against the higher one.
fn both(scenario: &Scenario, climate: &Climate, index: usize) -> Vec<Row> {
    let detector = &scenario.detectors[index];
    let sensor = &scenario.sensors[detector.sensor];
    let unit = reading_unit(scenario, index);
    let docked = [Body::of_mower(&scenario.mower, -scenario.mower.dock.depth_m, 0.0)];
    let zero = Zero::of(scenario, climate, index);
    let worst = |bodies: &[Body]| ends(sensor, climate, bodies, zero.follows);
    let (empty, mut loaded) = (worst(&[]), worst(&docked));
    loaded.lowest -= zero.swallows;
    let (low, high) = (detector.on.min(detector.off), detector.on.max(detector.off));
    let room = ROOM * sensor.errors.noise;
    let note = format!(
        "the worst of {:.0} and {:.0} °C, the first day, the last before it is cleaned and the last of all{}{}",
        climate.coldest_c,
        climate.warmest_c,
        with_random_drift(sensor),
        zero.words(unit)
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
        if loaded.usual < high && empty.usual <= low {
            // A sill that the mower drives over is no place to stand on.
            return row
                .advised("a mower in its dock does not stand on it: such a detector can't tell whether it is home");
        }
        if half < 0.0 {
            let follow = match sensor.kind {
                SensorKind::PlatformLoad { .. } => ", or a zero that follows as fast ([controller] zero_tracking)",
                _ => "",
            };
            return row
                .note(format!("{note}; no level lies between the two: it takes a sensor that drifts less{follow}"));
        }
        let (lower, upper) = (tidy(middle - half), tidy(middle + half));
        let (on, off) = if detector.on <= detector.off { (lower, upper) } else { (upper, lower) };
        let sets = [Set::On(index, on), Set::Off(index, off)];
        row.changes(whole(&sets, ID, scenario, "levels half-way between the two"))
    });
    told.collect()
}

/// What the controllers' zero does to the readings of a platform.
struct Zero {
    /// How far it follows its drifts, where it is fast enough for them; 0 elsewhere.
    follows: f64,
    /// How much of a parked mower it takes for drift.
    swallows: f64,
}

/// Time within which air goes from its coldest to its warmest, at the most, h: the zero must follow as fast.
const WARMS_IN_H: f64 = 12.0;
/// How long a mower is parked, h: overnight, and on days on which it does not mow.
const PARKED_H: f64 = 24.0;

impl Zero {
    fn of(scenario: &Scenario, climate: &Climate, detector: usize) -> Zero {
        let sensor = &scenario.sensors[scenario.detectors[detector].sensor];
        let mut zero = Zero { follows: f64::INFINITY, swallows: 0.0 };
        if !matches!(sensor.kind, SensorKind::PlatformLoad { .. }) {
            return Zero { follows: 0.0, ..zero };
        }
        let errors = &sensor.errors;
        let by_warmth = libm::fabs(errors.drift_per_k) * (climate.warmest_c - climate.coldest_c) / WARMS_IN_H;
        let by_days = libm::fabs(errors.drift_per_day) / 24.0;
        let at_random = errors.random_drift * 3_600.0 / errors.random_drift_s;
        for strategy in listeners(scenario, detector) {
            let care = &strategy.controller.care;
            let fast = by_warmth + by_days + at_random <= care.zero_per_hour_kg;
            let tracks = care.zero_tracking != ZeroTracking::Off;
            zero.follows = zero.follows.min(if tracks && fast { care.zero_at_most_kg } else { 0.0 });
            if care.zero_tracking == ZeroTracking::Always {
                zero.swallows = zero.swallows.max(care.zero_at_most_kg.min(PARKED_H * care.zero_per_hour_kg));
            }
        }
        zero
    }

    fn words(&self, unit: &str) -> String {
        let mut words = String::new();
        if self.follows > 0.0 {
            words += &format!(", less {:.1} {unit} that the zero follows", self.follows);
        }
        if self.swallows > 0.0 {
            words += &format!("; of a parked mower the zero takes {:.1} {unit} for drift", self.swallows);
        }
        words
    }
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
    let reading = |temperature_c: f64, days: f64, drifted: f64| {
        let sky = Sky { days, ..Sky::dark(temperature_c) };
        let seeing = eye.seeing(&sky).shifted(drifted * errors.random_drift);
        eye.law(&Surroundings::before_shut_door(bodies, sky, seeing)).targets[0].mean
    };
    let usual = reading(20.0, 0.0, 0.0);
    let mut ends = Ends { usual, lowest: f64::INFINITY, highest: f64::NEG_INFINITY };
    for (temperature_c, days) in climate.drifting(errors) {
        for drifted in [DRIFTED, -DRIFTED] {
            let off = reading(temperature_c, days, drifted) - usual;
            let left = off.signum() * (off.abs() - tracked).max(0.0);
            ends.lowest = ends.lowest.min(usual + left);
            ends.highest = ends.highest.max(usual + left);
        }
    }
    ends
}
