//! Is the door open in time? The stroke against what is left of the approach after detection, strategy by strategy.

use super::climate::Climate;
use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::mower::Approach;
use crate::scenario::sensor::{SensorKind, StatusCode};
use crate::scenario::strategy::{Detector, Sense, Strategy};
use crate::sensing::reading::{Eye, Sky, Surroundings};
use crate::sensing::sight::Body;
use crate::shelter::bus;
use crate::shelter::condition::detectors_of;
use crate::shelter::mechanism::{self, Direction, survey};
use crate::shelter::stroke;

/// Steps of the nose along the approach.
const STEP_M: f64 = 0.01;
/// Standard deviations by which a fast mower, or a short way home, is quicker than the mean.
const QUICK: f64 = 2.0;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let stroke = stroke::solve(door, &scenario.drive, &scenario.supply, Direction::Opening, &climate.windy(), 0.0);
    let clears = survey::clears_at_m(door, mower.width_m, mower.height_m);
    let needs_s = stroke.time_at(clears);
    for strategy in &scenario.strategies {
        let named = detectors_of(&strategy.open);
        let seen = (0..scenario.detectors.len()).filter(|detector| named >> detector & 1 == 1);
        let best = seen
            .filter_map(|detector| notice(scenario, &scenario.detectors[detector]))
            .max_by(|one, other| one.left_s.total_cmp(&other.left_s));
        rows.push(time_row(scenario, strategy, needs_s, best));
    }
    coverage(scenario, needs_s, rows);
}

fn time_row(scenario: &Scenario, strategy: &Strategy, needs_s: f64, best: Option<Notice>) -> Row {
    let question = format!("strategy {}: the door clears the mower before it reaches its waiting point", strategy.name);
    if needs_s.is_infinite() {
        return Row::stated("stroke_time", question, Verdict::Fails)
            .key("drive")
            .note("in the strongest gust the opening stroke does not get that far");
    }
    let Some(notice) = best else {
        return Row { key: "strategy.open".to_string(), ..Row::stated("stroke_time", question, Verdict::Tight) }
            .note("no detector of its open rule sees an arrival coming: it relies on a timetable or on chance");
    };
    let patience = scenario.mower.shut_door.patience_s;
    let mut row =
        Row::judged("stroke_time", question, needs_s, Side::AtMost, notice.left_s, 0.1 * needs_s, "s").key(notice.key);
    if row.verdict == Verdict::Fails && needs_s <= notice.left_s + patience {
        row.verdict = Verdict::Tight;
        row.note = format!(
            "{}; the mower waits outside for {:.1} s of its patience of {patience:.0} s",
            notice.note,
            needs_s - notice.left_s
        );
    } else {
        row.note = notice.note;
    }
    row
}

/// What a detector leaves of the approach.
struct Notice {
    left_s: f64,
    key: String,
    note: String,
}

/// Air and light under which a ranger is asked, and the shell that it looks at.
#[derive(Clone, Copy)]
struct Look {
    id: &'static str,
    name: &'static str,
    sky: Sky,
    dew: bool,
    reflectance: Option<f64>,
}

const DARK: Sky = Sky { rain_mm_h: 0.0, temperature_c: 15.0, light_klux: 0.0, sun: None, days: 0.0 };

const DRY: Look = Look { id: "detection_distance", name: "dark and dry", sky: DARK, dew: false, reflectance: None };

/// Rain of a heavy shower, full sun on the scene (not into the sensor), full dew, a wet black shell (common practice).
const HARD: [Look; 4] = [
    Look { id: "detection_distance_rain", name: "rain of 10 mm/h", sky: Sky { rain_mm_h: 10.0, ..DARK }, ..DRY },
    Look { id: "detection_distance_sun", name: "full sun", sky: Sky { light_klux: 100.0, ..DARK }, ..DRY },
    Look { id: "detection_distance_dew", name: "dew on the window", dew: true, ..DRY },
    Look { id: "detection_distance_dark_shell", name: "dark wet shell", reflectance: Some(0.07), ..DRY },
];

/// Distance at which a mower must be noticed: what it covers while the door is asked for and opens, and a margin, m.
pub fn required_m(speed_m_s: f64, opens_s: f64, latency_s: f64, margin_m: f64) -> f64 {
    speed_m_s * (opens_s + latency_s) + margin_m
}

fn notice(scenario: &Scenario, detector: &Detector) -> Option<Notice> {
    let sensor = &scenario.sensors[detector.sensor];
    let approach = &scenario.mower.approach;
    let period_s = bus::reachable_period_s(scenario, detector.sensor);
    let rule_s = detector.rule.k as f64 * period_s + sensor.latency.seconds();
    match &sensor.kind {
        SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. } | SensorKind::UltrasonicRange { .. }
            if detector.sense == Sense::Below =>
        {
            let from_m = seen_from(scenario, detector, &DRY)?;
            let left_s = travel_s(approach, from_m, scenario.mower.shut_door.waits_at_m)
                / (1.0 + QUICK * approach.speed_spread)
                - rule_s;
            Some(Notice {
                left_s,
                key: format!("detector.{}.on", detector.name),
                note: format!(
                    "{} sees the nose from {from_m:.2} m; its rule takes {rule_s:.2} s; quick mower",
                    detector.name
                ),
            })
        }
        SensorKind::Status { poll_s, delay_s, delay_spread, .. } if detector.says.contains(&StatusCode::Returning) => {
            let way = approach.way_home;
            let least_s = (way.mean_s - QUICK * way.sd_s).max(0.1 * way.mean_s);
            let approach_s = travel_s(approach, approach.from_m, scenario.mower.shut_door.waits_at_m)
                / (1.0 + QUICK * approach.speed_spread);
            let late_s = poll_s + delay_s * libm::exp(QUICK * delay_spread);
            Some(Notice {
                left_s: least_s + approach_s - late_s,
                key: "mower.approach.way_home".to_string(),
                note: format!(
                    "{} tells of the return; a late message (2 sigma) takes {late_s:.1} s; short way home",
                    detector.name
                ),
            })
        }
        _ => None,
    }
}

/// Time from one place of the nose to another on the way in, s.
fn travel_s(approach: &Approach, from_m: f64, to_m: f64) -> f64 {
    let (from, slow) = (from_m.min(approach.from_m), approach.slow_from_m);
    let fast_m = (from - to_m.max(slow)).max(0.0);
    let slow_m = (from.min(slow) - to_m).max(0.0);
    fast_m / approach.speed_m_s + slow_m / approach.slow_speed_m_s
}

/// Place of the nose from which a ranger's level holds without a gap, on the middle line and at 2 standard deviations to either side,
/// in this look; none if it never does outside the waiting point.
fn seen_from(scenario: &Scenario, detector: &Detector, look: &Look) -> Option<f64> {
    let mower = &scenario.mower;
    let aside = [0.0, 2.0 * mower.approach.sideways_m, -2.0 * mower.approach.sideways_m];
    aside
        .iter()
        .map(|y| seen_from_beside(scenario, detector, *y, look))
        .min_by(f64::total_cmp)
        .filter(|x| *x > mower.shut_door.waits_at_m)
}

fn seen_from_beside(scenario: &Scenario, detector: &Detector, y_m: f64, look: &Look) -> f64 {
    let mower = &scenario.mower;
    let eye = Eye::new(&scenario.sensors[detector.sensor]);
    let sky = look.sky;
    let mut seeing = eye.seeing(&sky);
    seeing.window.dew = if look.dew { 1.0 } else { 0.0 };
    let mut seen = f64::NEG_INFINITY;
    let steps = (mower.approach.from_m / STEP_M) as usize;
    for step in 0..=steps {
        let nose = step as f64 * STEP_M;
        if nose < mower.shut_door.waits_at_m {
            continue;
        }
        let mut body = Body::of_mower(mower, nose, y_m);
        body.reflectance = look.reflectance.map_or(body.reflectance, |dark| body.reflectance.min(dark));
        let law = eye.law(&Surroundings::before_shut_door(&[body], sky, seeing));
        let weight: f64 =
            law.targets.iter().filter(|target| target.mean <= detector.on).map(|target| target.weight).sum();
        // More often than not, so that a rule of the usual kind is met within its window.
        if weight >= 0.5 {
            seen = nose;
        } else if seen.is_finite() {
            break;
        }
    }
    seen
}

/// How much of the approach the rangers that open the door cover.
fn coverage(scenario: &Scenario, needs_s: f64, rows: &mut Vec<Row>) {
    if needs_s.is_infinite() {
        return;
    }
    let opens = scenario.strategies.iter().fold(0, |bits, strategy| bits | detectors_of(&strategy.open));
    let (mower, approach) = (&scenario.mower, &scenario.mower.approach);
    for (index, detector) in scenario.detectors.iter().enumerate() {
        let sensor = &scenario.sensors[detector.sensor];
        let ranger = matches!(
            sensor.kind,
            SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. } | SensorKind::UltrasonicRange { .. }
        );
        if opens >> index & 1 == 0 || !ranger || detector.sense != Sense::Below {
            continue;
        }
        let wanted_m = needed_m(scenario, detector, needs_s);
        let seen = seen_from(scenario, detector, &DRY);
        let mut row = Row::judged(
            "detection_distance",
            format!("detector {}: distance of the nose at which it sees the mower", detector.name),
            seen.unwrap_or(0.0),
            Side::AtLeast,
            wanted_m,
            0.1 * wanted_m,
            "m",
        )
        .key(format!("detector.{}.on", detector.name))
        .note(format!("needed for a stroke of {needs_s:.1} s before the waiting point; dark and dry, 2 standard deviations ({:.2} m) to either side", 2.0 * approach.sideways_m));
        if row.verdict == Verdict::Fails && seen.is_some() {
            // Late is not blind: the mower waits.
            row.verdict = Verdict::Tight;
        }
        if seen.is_none() {
            row.note = format!(
                "it does not see a mower that comes {:.2} m beside the middle before it stands at its waiting point ({:.2} m)",
                2.0 * approach.sideways_m,
                mower.shut_door.waits_at_m
            );
            row.key = format!("sensor.{}", sensor.name);
        }
        rows.push(row);
        hard_looks(scenario, detector, wanted_m, rows);
    }
}

/// The same in rain, full sun, with dew and with a dark wet shell, where the sensor minds them. Late or blind in one of them is not the end: the
/// mower waits, or something else notices it.
fn hard_looks(scenario: &Scenario, detector: &Detector, wanted_m: f64, rows: &mut Vec<Row>) {
    let sensor = &scenario.sensors[detector.sensor];
    for look in &HARD {
        let minds = match sensor.kind {
            SensorKind::UltrasonicRange { .. } => look.sky.rain_mm_h > 0.0,
            SensorKind::PhotonRange { .. } => true,
            _ => !look.dew && look.sky.rain_mm_h <= 0.0,
        };
        if !minds {
            continue;
        }
        let seen = seen_from(scenario, detector, look);
        let mut row = Row::judged(
            look.id,
            format!("detector {}: the same with {}", detector.name, look.name),
            seen.unwrap_or(0.0),
            Side::AtLeast,
            wanted_m,
            0.1 * wanted_m,
            "m",
        )
        .key(format!("sensor.{}", sensor.name));
        if row.verdict == Verdict::Fails {
            row.verdict = Verdict::Tight;
            row.note = match seen {
                Some(_) => "late: the mower waits for the door",
                None => "blind before the waiting point: something else must notice the mower",
            }
            .to_string();
        }
        rows.push(row);
    }
}

/// Distance of the nose from which the approach lasts as long as detection and stroke.
fn needed_m(scenario: &Scenario, detector: &Detector, needs_s: f64) -> f64 {
    let approach = &scenario.mower.approach;
    let period_s = bus::reachable_period_s(scenario, detector.sensor);
    let rule_s = detector.rule.k as f64 * period_s + scenario.sensors[detector.sensor].latency.seconds();
    let lasts_s = (needs_s + rule_s) * (1.0 + QUICK * approach.speed_spread);
    let waits = scenario.mower.shut_door.waits_at_m;
    let slow_s = travel_s(approach, approach.slow_from_m, waits);
    if lasts_s <= slow_s {
        required_m(approach.slow_speed_m_s, lasts_s, 0.0, waits)
    } else {
        required_m(approach.speed_m_s, lasts_s - slow_s, 0.0, approach.slow_from_m.max(waits))
    }
}

/// Time of the calm opening stroke, for others.
pub(super) fn calm_times_s(scenario: &Scenario, climate: &Climate) -> (f64, f64) {
    let solve = |direction, from| {
        stroke::solve(&scenario.door, &scenario.drive, &scenario.supply, direction, &climate.calm(), from).time_s
    };
    (solve(Direction::Opening, 0.0), solve(Direction::Closing, mechanism::stroke_m(&scenario.door)))
}
