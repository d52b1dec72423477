//! Where does a ranger see the mower, how well does its cone cover the approach, and what keeps it from seeing farther?

use super::change::{ceil_to, floor_to};
use super::climate::Climate;
use super::set::{Set, set_in};
use super::timing::{needed_m, sooner, word_left_s};
use super::{Row, Side, Verdict};
use crate::engine::plan::{LIGHT_STEP, Light};
use crate::scenario::Scenario;
use crate::scenario::failure::{Act, Change, Failure, Figure, mode};
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::{Detector, Sense, Statistic};
use crate::sensing::reading::{Eye, Sky, Surroundings};
use crate::sensing::sight::Body;

/// Steps of the nose along the approach.
const STEP_M: f64 = 0.01;
/// Share of its level from which on a ranger counts as seeing the nose as far as its level says.
const AS_FAR: f64 = 0.9;
/// Narrowest cone that is proposed, half angle in degrees (common practice: single-zone modules go down to a few degrees).
const NARROWEST_DEG: f64 = 1.0;
/// Share of samples without a reading beyond which a sensor counts as blind (common practice).
const MOST_DROPPED: f64 = 0.95;

/// By how much a figure is made better to see whether it moves a row, as a factor, and an aim, degrees.
const BETTER: f64 = 1.2;
const ANOTHER_DEG: f64 = 4.0;

/// Air and light under which a ranger is asked, and the shell that it looks at.
#[derive(Clone, Copy)]
struct Look {
    id: &'static str,
    name: &'static str,
    sky: Sky,
    dew: bool,
    reflectance: Option<f64>,
    /// Standard deviations of its random drift by which a reading is too large.
    drifted: f64,
}

/// Light on the scene under which a ranger must still see the mower, klux: the full sun for which its reach is given.
const FULL_SUN_KLUX: f64 = 100.0;

/// A dry night.
pub(super) const DARK: Sky = Sky::dark(15.0);

const DRY: Look =
    Look { id: "detection_distance", name: "dark and dry", sky: DARK, dew: false, reflectance: None, drifted: 0.0 };

/// Full sun on the scene, not into the sensor.
pub(super) const FULL_SUN: Sky = Sky { light_klux: FULL_SUN_KLUX, ..DARK };

const SUN: Look = Look { id: "detection_distance_sun", name: "full sun", sky: FULL_SUN, ..DRY };

/// Reflectance of a wet black shell (common practice: 5 to 10 %).
const BLACK: f64 = 0.07;

/// Rain of a heavy shower, full sun on the scene (not into the sensor), full dew, a wet black shell (common practice).
const HARD: [Look; 4] = [
    Look { id: "detection_distance_rain", name: "rain of 10 mm/h", sky: Sky { rain_mm_h: 10.0, ..DARK }, ..DRY },
    SUN,
    Look { id: "detection_distance_dew", name: "dew on the window", dew: true, ..DRY },
    Look { id: "detection_distance_dark_shell", name: "dark wet shell", reflectance: Some(BLACK), ..DRY },
];

/// Random drift that a ranger or a level must bear, in its standard deviations: one moment in seven hundred is worse (normal law).
pub(super) const DRIFTED: f64 = 3.0;

/// Whether a ranger sees the nose only well inside its level: its cone is too wide, or looks past the mower.
pub(super) fn is_short(scenario: &Scenario, detector: &Detector, seen_m: Option<f64>) -> bool {
    seen_m.unwrap_or(0.0) < AS_FAR * detector.on.min(scenario.mower.approach.from_m)
}

/// Why a ranger does not see the nose from as far as its level says.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Short {
    /// It does: the level decides.
    Not,
    /// It looks out from inside, where the shut door ends its view.
    Behind,
    /// Its reach in the sun.
    Sun,
    /// Its cone is too wide: the mower fills too little of it.
    Wide,
    /// Nearly all of its samples give no reading.
    Dropped,
    /// A narrower cone does not help: it looks past the mower, or not far enough. Another aim that helps, where there is one.
    Past(Option<Set>),
}

pub(super) fn short(scenario: &Scenario, detector: &Detector) -> Short {
    if is_behind(scenario, detector) {
        return Short::Behind;
    }
    let dark = seen_from(scenario, detector, &DRY);
    if !is_short(scenario, detector, dark) {
        return if is_short(scenario, detector, seen_dry(scenario, detector)) { Short::Sun } else { Short::Not };
    }
    if scenario.sensors[detector.sensor].errors.dropout > MOST_DROPPED {
        return Short::Dropped;
    }
    if narrowed(scenario, detector, f64::INFINITY).is_some() {
        return Short::Wide;
    }
    Short::Past(aimed(scenario, detector))
}

/// Whether a shut door hides what is outside from a detector's ranger.
pub(super) fn is_behind(scenario: &Scenario, detector: &Detector) -> bool {
    scenario.sensors[detector.sensor].kind.looks_through_door(scenario.door.height_m)
}

/// The one change of its aim with which a ranger sees the nose from farthest; none if no other aim sees it from farther.
fn aimed(scenario: &Scenario, detector: &Detector) -> Option<Set> {
    let sensor = detector.sensor;
    let aim = scenario.sensors[sensor].kind.aim()?;
    let yaw = (aim.yaw_deg != 0.0).then_some(Set::Yaw(sensor, 0.0));
    let pitches = (-15..=10).step_by(2).map(f64::from).filter(|deg| *deg != aim.pitch_deg);
    let now = seen_dry(scenario, detector).unwrap_or(0.0);
    let mut best: Option<(Set, f64)> = None;
    for set in yaw.into_iter().chain(pitches.map(|deg| Set::Pitch(sensor, deg))) {
        let seen = seen_if(scenario, &[set], detector);
        if seen > now + 5.0 * STEP_M && best.is_none_or(|(_, known)| seen > known) {
            best = Some((set, seen));
        }
    }
    best.map(|(set, _)| set)
}

/// The key that brings detection forward.
pub(super) fn sight_key(scenario: &Scenario, detector: &Detector, short: Short) -> String {
    let sensor = &scenario.sensors[detector.sensor];
    let optical = matches!(sensor.kind, SensorKind::OpticalRange { .. });
    match short {
        Short::Not => format!("detector.{}.on", detector.name),
        Short::Sun if optical => format!("sensor.{}.farthest_sun", sensor.name),
        Short::Wide => format!("sensor.{}.cone", sensor.name),
        Short::Dropped => format!("sensor.{}.dropout", sensor.name),
        Short::Past(Some(set)) => set.of("", scenario).key,
        Short::Behind | Short::Sun | Short::Past(None) => format!("sensor.{}.position", sensor.name),
    }
}

/// [`short_of_level`] of a detector that has one.
pub(super) fn short_note(scenario: &Scenario, detector: &Detector) -> String {
    if is_ranger_level(scenario, detector) {
        short_of_level(detector, short(scenario, detector))
    } else {
        String::new()
    }
}

/// Whether a detector speaks of a distance below its level.
pub(super) fn is_ranger_level(scenario: &Scenario, detector: &Detector) -> bool {
    let kind = &scenario.sensors[detector.sensor].kind;
    let levels = !matches!(detector.statistic, Statistic::ApproachRate(_) | Statistic::LikelihoodRatio(_));
    levels && detector.sense == Sense::Below && kind.aim().is_some()
}

/// `, well short of its level of 2.60 m: ...`, where it is.
fn short_of_level(detector: &Detector, short: Short) -> String {
    let why = match short {
        Short::Not => return String::new(),
        Short::Behind => return ", since its sensor stands behind the shut door and sees but the panel".to_string(),
        Short::Sun => "in full sun it does not reach farther",
        Short::Wide => "its cone is wider than the mower there",
        Short::Dropped => "nearly all of its samples give no reading",
        Short::Past(_) => "it looks past the mower or does not reach so far",
    };
    format!(", well short of its level of {:.2} m: {why}", detector.on)
}

/// The widest narrower cone, as half angle in degrees, with which the nose is seen from `wanted_m`, else the one that sees
/// farthest; with its distance. None if no narrower cone sees farther than this one.
pub(super) fn narrowed(scenario: &Scenario, detector: &Detector, wanted_m: f64) -> Option<(f64, f64)> {
    let now = seen_dry(scenario, detector).unwrap_or(0.0);
    let mut half_deg = scenario.sensors[detector.sensor].kind.aim()?.half_cone_deg;
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
pub(super) fn seen_if(scenario: &Scenario, sets: &[Set], detector: &Detector) -> f64 {
    let other = set_in(scenario, sets);
    let detector = other.detectors.iter().find(|it| it.name == detector.name).unwrap_or(detector);
    seen_dry(&other, detector).unwrap_or(0.0)
}

/// The key that moves what a ranger sees in this look: of its level, its cone, its reach and its aim, each made better by as much, the
/// one that brings the most.
fn key_in(scenario: &Scenario, detector: &Detector, look: &Look) -> String {
    let sensor = detector.sensor;
    let seen = |sets: &[Set]| {
        let other = set_in(scenario, sets);
        let detector = other.detectors.iter().find(|it| it.name == detector.name).unwrap_or(detector);
        seen_from(&other, detector, look).unwrap_or(0.0)
    };
    let mut tried = Vec::new();
    if let Some(index) = scenario.detectors.iter().position(|other| other.name == detector.name) {
        let on = ceil_to(BETTER * detector.on, 0.05);
        tried.push(vec![Set::On(index, on), Set::Off(index, on + (detector.off - detector.on))]);
    }
    if let Some(aim) = scenario.sensors[sensor].kind.aim() {
        tried.push(vec![Set::Cone(sensor, aim.half_cone_deg / BETTER)]);
        tried.push(vec![Set::Farthest(sensor, BETTER * aim.farthest_m)]);
        tried.push(vec![Set::Pitch(sensor, aim.pitch_deg + ANOTHER_DEG)]);
        tried.push(vec![Set::Pitch(sensor, aim.pitch_deg - ANOTHER_DEG)]);
        if aim.yaw_deg != 0.0 {
            tried.push(vec![Set::Yaw(sensor, 0.0)]);
        }
    }
    if let SensorKind::OpticalRange { farthest_sun_m, .. } = scenario.sensors[sensor].kind {
        tried.push(vec![Set::FarthestSun(sensor, BETTER * farthest_sun_m)]);
    }
    let now = seen(&[]);
    let mut best: Option<(f64, String)> = None;
    for sets in &tried {
        let gain = seen(sets) - now;
        if gain > 1.5 * STEP_M && best.as_ref().is_none_or(|(known, _)| gain > *known) {
            best = Some((gain, sets[0].of("", scenario).key));
        }
    }
    best.map_or_else(|| format!("sensor.{}.position", scenario.sensors[sensor].name), |(_, key)| key)
}

/// Place of the nose from which a ranger sees the mower in dry weather, in the dark as with the sun on the scene.
pub(super) fn seen_dry(scenario: &Scenario, detector: &Detector) -> Option<f64> {
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
    if is_behind(scenario, detector) {
        return f64::NEG_INFINITY;
    }
    let mower = &scenario.mower;
    let eye = Eye::new(&scenario.sensors[detector.sensor]);
    let sky = look.sky;
    let drifted = look.drifted * eye.sensor().errors.random_drift;
    let mut seeing = eye.seeing(&sky).shifted(drifted);
    seeing.window.dew = if look.dew { 1.0 } else { 0.0 };
    // A plain optical ranger knows no film by itself: what the failure of that name leaves of its range.
    if look.dew && matches!(scenario.sensors[detector.sensor].kind, SensorKind::OpticalRange { .. }) {
        seeing.range_m *= range_under_dew(scenario, detector.sensor);
    }
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
        // Most of the readings that there are; samples without one only lengthen the wait.
        if weight >= 0.5 * (1.0 - seeing.drop).max(1.0 - MOST_DROPPED) {
            seen = nose;
        } else if seen.is_finite() {
            break;
        }
    }
    seen
}

/// Reflectance of a wet shell: this one, or what the scenario's own dark shells leave of the mower's in rain.
fn wet_shell(scenario: &Scenario, dark: f64) -> f64 {
    let wet = |failure: &&Failure| failure.mode.act == Act::Change(Change::DarkShell);
    let left: f64 = scenario.failures.iter().filter(wet).map(|failure| failure.figure(Figure::WetFactor)).product();
    dark.min(left * scenario.mower.reflectance)
}

/// Share of an optical ranger's range that dew leaves it: as the scenario's own failure says, else as the mode usually does (common
/// practice).
fn range_under_dew(scenario: &Scenario, sensor: usize) -> f64 {
    let Some(dew) = mode("dew-on-window") else { return 1.0 };
    let own =
        scenario.failures.iter().filter(|failure| failure.mode.name == dew.name && failure.sensors.contains(&sensor));
    own.map(|failure| failure.figure(Figure::Range))
        .min_by(f64::total_cmp)
        .unwrap_or_else(|| Failure::usual(dew, vec![sensor]).figure(Figure::Range))
}

/// How much of the approach the rangers that open the door cover: `opens` has those detectors as bits, `late` those of strategies that
/// are late.
pub(super) fn rows(scenario: &Scenario, climate: &Climate, needs_s: f64, opens: u64, late: u64, rows: &mut Vec<Row>) {
    let (mower, approach) = (&scenario.mower, &scenario.mower.approach);
    for (index, detector) in scenario.detectors.iter().enumerate() {
        if opens >> index & 1 == 0 || !is_ranger_level(scenario, detector) {
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
        .key(key)
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
        if row.verdict == Verdict::Fails && late >> index & 1 == 0 {
            row = row.advised("all strategies that it opens for are in time without it");
        } else if row.verdict == Verdict::Fails {
            let left_s = word_left_s(scenario, detector);
            row = row.cures(sooner(scenario, climate, detector, needs_s, left_s, "detection_distance"));
        }
        rows.push(row);
        hard_looks(scenario, climate, detector, wanted_m, rows);
    }
}

/// The same in rain, full sun, with dew and with a dark wet shell, with the sun in its cone, and drifted, where the sensor minds them. Late
/// or blind in one of them is not the end: the mower waits, or something else notices it.
fn hard_looks(scenario: &Scenario, climate: &Climate, detector: &Detector, wanted_m: f64, rows: &mut Vec<Row>) {
    let sensor = &scenario.sensors[detector.sensor];
    let judged = |look: &Look, seen: Option<f64>| {
        Row::judged(
            look.id,
            format!("detector {}: the same with {}", detector.name, look.name),
            seen.unwrap_or(0.0),
            Side::AtLeast,
            wanted_m,
            0.1 * wanted_m,
            "m",
        )
        .key(key_in(scenario, detector, look))
    };
    let seldom = |row: Row, seen: Option<f64>| {
        row.advised(match seen {
            Some(_) => "such an hour is seldom, and a mower seen late waits for the door",
            None => "such an hour is seldom, but the sensor is blind then: something else must notice the mower",
        })
    };
    for look in &HARD {
        let minds = match sensor.kind {
            SensorKind::UltrasonicRange { .. } => look.sky.rain_mm_h > 0.0,
            SensorKind::PhotonRange { .. } => true,
            _ => look.sky.rain_mm_h <= 0.0 || sensor.errors.dropout_rain > sensor.errors.dropout,
        };
        if !minds {
            continue;
        }
        let look = &Look { reflectance: look.reflectance.map(|dark| wet_shell(scenario, dark)), ..*look };
        let seen = seen_from(scenario, detector, look);
        rows.push(seldom(judged(look, seen), seen));
    }
    if let Some((look, hours)) = dazzling(scenario, climate, sensor) {
        let seen = seen_from(scenario, detector, &look);
        let note = format!("under a clear sky the sun stands in its cone for {hours:.0} h of the season");
        rows.push(seldom(judged(&look, seen), seen).note(note));
    }
    if let Some((look, seen)) = drifted(scenario, climate, detector) {
        let note = format!(
            "the worst of {:.0} and {:.0} °C, the first day, the last before it is cleaned and the last of all, dark and in full sun{}",
            climate.coldest_c,
            climate.warmest_c,
            with_random_drift(sensor)
        );
        rows.push(judged(&look, seen).advised("a mower seen late waits for the door").note(note));
    }
}

/// What is to be said of a sensor's random drift at its worst; nothing if it has none.
pub(super) fn with_random_drift(sensor: &Sensor) -> String {
    if sensor.errors.random_drift > 0.0 {
        format!(", {DRIFTED:.0} standard deviations of random drift")
    } else {
        String::new()
    }
}

/// The brightest sun in a ranger's cone, and for how many hours it stands there; none if it never does, or the sensor does not mind.
fn dazzling(scenario: &Scenario, climate: &Climate, sensor: &Sensor) -> Option<(Look, f64)> {
    // Behind the door it is the panel that it does not see past.
    if sensor.kind.looks_through_door(scenario.door.height_m) {
        return None;
    }
    let eye = Eye::new(sensor);
    let under =
        |light: &Light| Sky { sun: light.sun, direct_klux: light.direct_klux, light_klux: light.clear_klux, ..DARK };
    let skies = || climate.lights.iter().map(under).filter(|sky| sky.direct_klux > 0.0 && eye.sun_in_cone(sky));
    let brightest = skies().max_by(|one, other| one.direct_klux.total_cmp(&other.direct_klux))?;
    let hours = skies().count() as f64 * LIGHT_STEP.hours();
    Some((Look { id: "detection_distance_low_sun", name: "the sun in its cone", sky: brightest, ..DRY }, hours))
}

/// The look with all drifts at their worst, and the place of the nose from which the detector sees the mower then; none for a sensor that
/// does not drift.
fn drifted(scenario: &Scenario, climate: &Climate, detector: &Detector) -> Option<(Look, Option<f64>)> {
    let sensor = &scenario.sensors[detector.sensor];
    let errors = &sensor.errors;
    let by_warmth = errors.drift_per_k != 0.0 || matches!(sensor.kind, SensorKind::UltrasonicRange { .. });
    if !by_warmth && !sensor.changes_with_days() && errors.random_drift <= 0.0 {
        return None;
    }
    let looks = climate.drifting(errors).flat_map(|(temperature_c, days)| {
        [DARK, FULL_SUN].map(|light| {
            let sky = Sky { days, temperature_c, ..light };
            Look { id: "detection_distance_drifted", name: "all its drifts against it", sky, drifted: DRIFTED, ..DRY }
        })
    });
    looks
        .map(|look| (look, seen_from(scenario, detector, &look)))
        .min_by(|(_, one), (_, other)| one.unwrap_or(0.0).total_cmp(&other.unwrap_or(0.0)))
}
