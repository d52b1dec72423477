//! Is the door open in time? The stroke against what is left of the approach after detection, strategy by strategy.
//!
//! The mower drives in only through a door that stands fully open, so the whole stroke counts, not the part of it that uncovers
//! the mower's height.

use super::change::{Set, aim, ceil_to, floor_to};
use super::climate::Climate;
use super::force::{blocked, force_key};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Gear;
use crate::scenario::mower::Approach;
use crate::scenario::sensor::{SensorKind, StatusCode};
use crate::scenario::strategy::{Detector, Sense, Statistic, Strategy};
use crate::sensing::reading::{Eye, Sky, Surroundings};
use crate::sensing::sight::Body;
use crate::shelter::bus;
use crate::shelter::condition::detectors_of;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke;

/// Steps of the nose along the approach.
const STEP_M: f64 = 0.01;
/// Standard deviations by which a fast mower, or a short way home, is quicker than the mean.
const QUICK: f64 = 2.0;
/// Share of its level from which on a ranger counts as seeing the nose as far as its level says.
const AS_FAR: f64 = 0.9;
/// Room that a proposed figure leaves, as a factor.
const ROOM: f64 = 1.15;
/// Narrowest cone that is proposed, half angle in degrees (common practice: single-zone modules go down to a few degrees).
const NARROWEST_DEG: f64 = 1.0;
/// Beyond this factor a faster drive is another drive.
const FASTER: f64 = 3.0;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let windy = climate.windy();
    let stroke = stroke::solve(&scenario.door, &scenario.drive, &scenario.supply, Direction::Opening, &windy, 0.0);
    let needs_s = stroke.time_s;
    for strategy in &scenario.strategies {
        let named = detectors_of(&strategy.open);
        let seen = (0..scenario.detectors.len()).filter(|detector| named >> detector & 1 == 1);
        let best = seen
            .filter_map(|detector| Some((detector, notice(scenario, &scenario.detectors[detector])?)))
            .max_by(|(_, one), (_, other)| one.left_s.total_cmp(&other.left_s));
        rows.push(time_row(scenario, climate, strategy, needs_s, best));
    }
    coverage(scenario, needs_s, rows);
}

fn time_row(
    scenario: &Scenario,
    climate: &Climate,
    strategy: &Strategy,
    needs_s: f64,
    best: Option<(usize, Notice)>,
) -> Row {
    let question =
        format!("strategy {}: the door stands open before the mower reaches its waiting point", strategy.name);
    if needs_s.is_infinite() {
        let row = Row::stated("stroke_time", question, Verdict::Fails)
            .note("in the strongest gust the opening stroke does not come to its end");
        return match blocked(scenario, Direction::Opening, &climate.windy()) {
            Some((_, key)) => row.key(key),
            None => row.key(force_key(scenario)),
        };
    }
    let Some((detector, notice)) = best else {
        return Row::stated("stroke_time", question, Verdict::Tight)
            .key(format!("strategy.{}.open", strategy.name))
            .note("no detector of its open rule sees an arrival coming: it relies on a timetable or on chance");
    };
    let mut row =
        Row::judged("stroke_time", question, needs_s, Side::AtMost, notice.left_s, 0.1 * needs_s, "s").key(notice.key);
    row.note = notice.note;
    if row.verdict == Verdict::Fails {
        let patience = scenario.mower.shut_door.patience_s;
        row.note = format!(
            "{}; the mower waits outside for {:.1} s at every arrival, of its patience of {patience:.0} s",
            row.note,
            needs_s - notice.left_s
        );
        let detector = &scenario.detectors[detector];
        if notice.from_m.is_some() {
            row = row.changes(sooner(scenario, detector, needs_s, "stroke_time"));
        }
    }
    row
}

/// What a detector leaves of the approach.
struct Notice {
    left_s: f64,
    /// Place of the nose from which a ranger sees it; none for a message.
    from_m: Option<f64>,
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

/// Light on the scene under which a ranger must still see the mower, klux: the full sun for which its reach is given.
const FULL_SUN_KLUX: f64 = 100.0;

const DARK: Sky = Sky { rain_mm_h: 0.0, temperature_c: 15.0, light_klux: 0.0, sun: None, days: 0.0 };

const DRY: Look = Look { id: "detection_distance", name: "dark and dry", sky: DARK, dew: false, reflectance: None };

const SUN: Look =
    Look { id: "detection_distance_sun", name: "full sun", sky: Sky { light_klux: FULL_SUN_KLUX, ..DARK }, ..DRY };

/// Rain of a heavy shower, full sun on the scene (not into the sensor), full dew, a wet black shell (common practice).
const HARD: [Look; 4] = [
    Look { id: "detection_distance_rain", name: "rain of 10 mm/h", sky: Sky { rain_mm_h: 10.0, ..DARK }, ..DRY },
    SUN,
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
    let rule_s = rule_s(scenario, detector);
    match &sensor.kind {
        SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. } | SensorKind::UltrasonicRange { .. }
            if detector.sense == Sense::Below =>
        {
            let from_m = seen_dry(scenario, detector)?;
            let short = short(scenario, detector);
            let left_s = travel_s(approach, from_m, scenario.mower.shut_door.waits_at_m)
                / (1.0 + QUICK * approach.speed_spread)
                - rule_s;
            Some(Notice {
                left_s,
                from_m: Some(from_m),
                key: sight_key(scenario, detector, short),
                note: format!(
                    "{} sees the nose from {from_m:.2} m{}; its rule takes {rule_s:.2} s; quick mower",
                    detector.name,
                    short_of_level(detector, short)
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
                from_m: None,
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

/// Time from the first reading below the level to the detector's word, s: the statistic's window must fill with more of them than
/// of the old ones, then the rule.
fn rule_s(scenario: &Scenario, detector: &Detector) -> f64 {
    let sensor = &scenario.sensors[detector.sensor];
    let period_s = bus::reachable_period_s(scenario, detector.sensor);
    let filling = match detector.statistic {
        Statistic::MovingMean(n) | Statistic::MovingMedian(n) => n / 2,
        _ => 0,
    };
    (detector.rule.k + filling) as f64 * period_s + sensor.latency.seconds()
}

/// Whether a ranger sees the nose only well inside its level: its cone is too wide, or looks past the mower.
fn is_short(scenario: &Scenario, detector: &Detector, seen_m: Option<f64>) -> bool {
    seen_m.unwrap_or(0.0) < AS_FAR * detector.on.min(scenario.mower.approach.from_m)
}

/// Why a ranger does not see the nose from as far as its level says.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Short {
    /// It does: the level decides.
    Not,
    /// Its reach in the sun.
    Sun,
    /// Its cone is too wide: the mower fills too little of it.
    Wide,
    /// A narrower cone does not help: it looks past the mower, or not far enough.
    Past,
}

fn short(scenario: &Scenario, detector: &Detector) -> Short {
    let dark = seen_from(scenario, detector, &DRY);
    if !is_short(scenario, detector, dark) {
        return if is_short(scenario, detector, seen_dry(scenario, detector)) { Short::Sun } else { Short::Not };
    }
    if narrowed(scenario, detector, f64::INFINITY).is_some() { Short::Wide } else { Short::Past }
}

/// The key that brings detection forward.
fn sight_key(scenario: &Scenario, detector: &Detector, short: Short) -> String {
    let sensor = &scenario.sensors[detector.sensor];
    let optical = matches!(sensor.kind, SensorKind::OpticalRange { .. });
    match short {
        Short::Not => format!("detector.{}.on", detector.name),
        Short::Sun if optical => format!("sensor.{}.farthest_sun", sensor.name),
        Short::Wide => format!("sensor.{}.cone", sensor.name),
        Short::Sun | Short::Past => format!("sensor.{}.position", sensor.name),
    }
}

/// `, well short of its level of 2.60 m: ...`, where it is.
fn short_of_level(detector: &Detector, short: Short) -> String {
    let why = match short {
        Short::Not => return String::new(),
        Short::Sun => "in full sun it does not reach farther",
        Short::Wide => "its cone is wider than the mower there",
        Short::Past => "it looks past the mower or does not reach so far",
    };
    format!(", well short of its level of {:.2} m: {why}", detector.on)
}

/// The widest narrower cone, as half angle in degrees, with which the nose is seen from `wanted_m`, else the one that sees
/// farthest; with its distance. None if no narrower cone sees farther than this one.
fn narrowed(scenario: &Scenario, detector: &Detector, wanted_m: f64) -> Option<(f64, f64)> {
    let now = seen_dry(scenario, detector).unwrap_or(0.0);
    let mut half_deg = aim(&scenario.sensors[detector.sensor].kind)?.half_cone_deg;
    let mut best: Option<(f64, f64)> = None;
    while half_deg > NARROWEST_DEG {
        half_deg = floor_to(0.8 * half_deg, 0.25).max(NARROWEST_DEG);
        let seen = seen_if(scenario, &[Set::Cone(detector.sensor, half_deg)], detector);
        if seen > now + 5.0 * STEP_M && best.is_none_or(|(_, known)| seen > known) {
            best = Some((half_deg, seen));
        }
        if seen >= wanted_m {
            break;
        }
    }
    best
}

/// Where the nose is seen from with some figures set otherwise, m; 0 if nowhere.
fn seen_if(scenario: &Scenario, sets: &[Set], detector: &Detector) -> f64 {
    let mut other = scenario.clone();
    sets.iter().for_each(|set| set.of("", scenario).apply(&mut other));
    let detector = other.detectors.iter().find(|it| it.name == detector.name).unwrap_or(detector);
    seen_dry(&other, detector).unwrap_or(0.0)
}

/// What brings detection forward far enough for a stroke: a narrower cone where the sensor does not see as far as its level
/// says, a farther level as far as its reach in the sun allows; else a faster drive.
fn sooner(scenario: &Scenario, detector: &Detector, needs_s: f64, row: &'static str) -> Vec<Change> {
    let wanted_m = ROOM * needed_m(scenario, detector, needs_s);
    let index = scenario.detectors.iter().position(|other| other.name == detector.name).unwrap_or(0);
    let seen = seen_dry(scenario, detector);
    let mut sets = Vec::new();
    let mut reached = seen.unwrap_or(0.0);
    if is_short(scenario, detector, seen)
        && let Some((half_deg, seen_m)) = narrowed(scenario, detector, wanted_m)
    {
        sets.push(Set::Cone(detector.sensor, half_deg));
        reached = seen_m;
    }
    let reach_m = aim(&scenario.sensors[detector.sensor].kind).map_or(0.0, |aim| aim.farthest_m);
    let on = ceil_to(wanted_m + 0.1, 0.05).min(floor_to(reach_m.min(scenario.mower.approach.from_m), 0.05));
    if reached < wanted_m && on > detector.on {
        sets.push(Set::On(index, on));
        sets.push(Set::Off(index, ceil_to(on + (detector.off - detector.on), 0.05)));
        reached = seen_if(scenario, &sets, detector);
    }
    if reached < wanted_m
        && let SensorKind::OpticalRange { farthest_sun_m, .. } = &scenario.sensors[detector.sensor].kind
    {
        // In steps of half a metre up to the reach in the dark.
        let steps = ((reach_m - farthest_sun_m) / 0.5).max(0.0) as u32;
        for step in 1..=steps {
            let farther = Set::FarthestSun(detector.sensor, floor_to(farthest_sun_m + 0.5 * f64::from(step), 0.1));
            let with: Vec<Set> = sets.iter().copied().chain([farther]).collect();
            let seen_m = seen_if(scenario, &with, detector);
            if seen_m >= wanted_m {
                (sets, reached) = (with, seen_m);
                break;
            }
        }
    }
    if reached >= wanted_m / ROOM {
        return sets.into_iter().map(|set| set.of(row, scenario)).collect();
    }
    let Some(notice) = notice(scenario, detector) else { return Vec::new() };
    let factor = ROOM * needs_s / notice.left_s;
    if scenario.drive.gear == Gear::Figures && notice.left_s > 0.0 && factor <= FASTER {
        let speed = ceil_to(factor * scenario.drive.no_load_speed_m_s, 0.001);
        return vec![Set::Speed(speed).of(row, scenario)];
    }
    Vec::new()
}

/// Time from one place of the nose to another on the way in, s.
fn travel_s(approach: &Approach, from_m: f64, to_m: f64) -> f64 {
    let (from, slow) = (from_m.min(approach.from_m), approach.slow_from_m);
    let fast_m = (from - to_m.max(slow)).max(0.0);
    let slow_m = (from.min(slow) - to_m).max(0.0);
    fast_m / approach.speed_m_s + slow_m / approach.slow_speed_m_s
}

/// Place of the nose from which a ranger sees the mower in dry weather, in the dark as with the sun on the scene.
fn seen_dry(scenario: &Scenario, detector: &Detector) -> Option<f64> {
    let in_sun = seen_from(scenario, detector, &SUN)?;
    Some(in_sun.min(seen_from(scenario, detector, &DRY)?))
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
        let seen = seen_dry(scenario, detector);
        let short = short(scenario, detector);
        let key = sight_key(scenario, detector, short);
        let mut row = Row::judged(
            "detection_distance",
            format!("detector {}: distance of the nose at which it sees the mower", detector.name),
            seen.unwrap_or(0.0),
            Side::AtLeast,
            wanted_m,
            0.1 * wanted_m,
            "m",
        )
        .key(key.clone())
        .note(format!(
            "needed for a stroke of {needs_s:.1} s before the waiting point; dry, in the dark and in full sun, 2 standard deviations ({:.2} m) to either side{}",
            2.0 * approach.sideways_m,
            short_of_level(detector, short)
        ));
        if seen.is_none() {
            row.note = format!(
                "it does not see a mower that comes {:.2} m beside the middle before it stands at its waiting point ({:.2} m)",
                2.0 * approach.sideways_m,
                mower.shut_door.waits_at_m
            );
        }
        if row.verdict == Verdict::Fails {
            row = row.changes(sooner(scenario, detector, needs_s, "detection_distance"));
        }
        rows.push(row);
        hard_looks(scenario, detector, wanted_m, &key, rows);
    }
}

/// The same in rain, full sun, with dew and with a dark wet shell, where the sensor minds them. Late or blind in one of them is not the end: the
/// mower waits, or something else notices it.
fn hard_looks(scenario: &Scenario, detector: &Detector, wanted_m: f64, key: &str, rows: &mut Vec<Row>) {
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
        .key(key);
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
    let lasts_s = (needs_s + rule_s(scenario, detector)) * (1.0 + QUICK * approach.speed_spread);
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
