//! Is the door open in time? The stroke against what is left of the approach after detection, strategy by strategy.
//!
//! The mower drives in only through a door that stands fully open, so the whole stroke counts, not the part of it that uncovers
//! the mower's height.

use super::arrival::{self, Outcome, Times, Way};
use super::change::{ceil_to, first, floor_to};
use super::climate::Climate;
use super::force::{blocked, force_key, heavier};
use super::motor::{faster, geared_up};
use super::set::{Set, set_in};
use super::sight::{self, DARK, FULL_SUN, Short};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::mower::{Approach, Mower};
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::{Detector, Dropped, Statistic, Strategy};
use crate::sensing::runrule::{Hits, RunLength, StartUp};
use crate::shelter::bus;
use crate::shelter::condition::detectors_of;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke;

/// Standard deviations by which a fast mower, or a short way home, is quicker than the mean.
pub(super) const QUICK: f64 = 2.0;
/// Room that a proposed figure leaves, as a factor.
const ROOM: f64 = 1.15;
/// Beyond this factor a faster drive is another drive; another gear alone may go further.
const FASTER: f64 = 3.0;
/// Farthest that a gear is changed (common practice: within one family of gears, ratios of 1 to 30 can be had).
pub(super) const GEARED: f64 = 30.0;
/// Longest least open time that is proposed, in steps of a second: beyond it the door would rather be held by what sees the mower.
const OPEN_LONGER: u32 = 60;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let windy = climate.windy();
    let stroke = stroke::solve(&scenario.door, &scenario.drive, &scenario.supply, Direction::Opening, &windy, 0.0);
    // Detectors that open the door, and those of strategies that are late.
    let (mut opens, mut late) = (0, 0);
    let mut longest_s: f64 = 0.0;
    for strategy in &scenario.strategies {
        let row = time_row(scenario, climate, strategy, stroke.time_s);
        let named = detectors_of(&strategy.open);
        opens |= named;
        if row.verdict == Verdict::Fails {
            late |= named;
        }
        longest_s = longest_s.max(strategy.controller.care.opening_warning.seconds());
        rows.push(row);
    }
    if stroke.time_s.is_finite() {
        sight::rows(scenario, climate, stroke.time_s + longest_s, opens, late, rows);
    }
}

/// How many strategies are late, or never ask.
pub(super) fn late(scenario: &Scenario, climate: &Climate) -> usize {
    let windy = climate.windy();
    let stroke = stroke::solve(&scenario.door, &scenario.drive, &scenario.supply, Direction::Opening, &windy, 0.0);
    let fails = |strategy: &&Strategy| time_row(scenario, climate, strategy, stroke.time_s).verdict == Verdict::Fails;
    scenario.strategies.iter().filter(fails).count()
}

fn time_row(scenario: &Scenario, climate: &Climate, strategy: &Strategy, stroke_s: f64) -> Row {
    const ID: &str = "stroke_time";
    let question =
        format!("strategy {}: the door stands open before the mower reaches its waiting point", strategy.name);
    if stroke_s.is_infinite() {
        let row = Row::stated(ID, question, Verdict::Fails)
            .note("in the strongest gust the opening stroke does not come to its end");
        return match blocked(scenario, Direction::Opening, &climate.windy()) {
            Some((_, key)) => row.key(key),
            None => row.key(force_key(scenario)),
        };
    }
    let warning_s = strategy.controller.care.opening_warning.seconds();
    let needs_s = stroke_s + warning_s;
    let times = Times { opens_s: needs_s, closes_s: calm_times_s(scenario, climate).1 };
    let worst = worst(scenario, strategy, times);
    let Some(left_s) = worst.left_s else {
        let row = Row::stated(ID, question, Verdict::Fails);
        return if worst.shut_again {
            shut_again(scenario, strategy, times, row)
        } else {
            never(scenario, climate, strategy, times, worst.decides, row)
        };
    };
    let mut row = Row::judged(ID, question, needs_s, Side::AtMost, left_s, 0.1 * needs_s, "s");
    row.key = format!("strategy.{}.open", strategy.name);
    row.note = told(scenario, worst.decides, left_s);
    if warning_s > 0.0 {
        row.note.push_str(&format!("; {warning_s:.1} s of it are the warning before the stroke"));
    }
    if let Some(detector) = worst.decides {
        row.key = key(scenario, &scenario.detectors[detector]);
    }
    if row.verdict == Verdict::Fails {
        let open_by = |other: &Scenario| {
            let windy = climate.windy();
            let stroke = stroke::solve(&other.door, &other.drive, &other.supply, Direction::Opening, &windy, 0.0);
            ROOM * (stroke.time_s + warning_s) <= left_s
        };
        let balanced = heavier(scenario, climate, open_by).map(|set| vec![set.of(ID, scenario)]);
        // A warning that takes the time which the stroke alone would have.
        let shorter_s = floor_to(left_s - ROOM * stroke_s, 0.5);
        let at = scenario.strategies.iter().position(|other| other.name == strategy.name).unwrap_or(0);
        let quiet = (warning_s > 0.0 && shorter_s >= 0.0)
            .then(|| vec![Set::OpeningWarning(at, shorter_s.min(warning_s)).of(ID, scenario)]);
        row.note.push_str(&waits(scenario, strategy, times, needs_s - left_s));
        if let Some(detector) = worst.decides {
            let detector = &scenario.detectors[detector];
            // What the rule itself waits for after the detector has spoken.
            let after_s = (word_left_s(scenario, detector) - left_s).max(0.0);
            let cures = sooner(scenario, climate, detector, needs_s + after_s, left_s, ID);
            row = row.cures(quiet.into_iter().chain(balanced).chain(cures).collect());
        }
    }
    after_hours(scenario, strategy, times, row)
}

/// The worst of the ways home that a strategy must stand: a quick mower, messages late, on the middle line and to either side, in the
/// dark and in the sun; and a slow one, for which the door must stay open long enough.
fn worst(scenario: &Scenario, strategy: &Strategy, times: Times) -> Outcome {
    let aside_m = QUICK * scenario.mower.approach.sideways_m;
    let mut worst: Option<Outcome> = None;
    for (quick, aside_m) in [(QUICK, 0.0), (QUICK, aside_m), (QUICK, -aside_m), (-QUICK, 0.0)] {
        for sky in [DARK, FULL_SUN] {
            let way = Way { quick, aside_m, sky, after_hours: false };
            let outcome = arrival::outcome(scenario, strategy, times, &way);
            let left = |outcome: &Outcome| outcome.left_s.unwrap_or(f64::NEG_INFINITY);
            if worst.as_ref().is_none_or(|worst| left(&outcome) < left(worst)) {
                worst = Some(outcome);
            }
        }
    }
    worst.unwrap_or(Outcome { left_s: None, decides: None, shut_again: false })
}

/// What decides when the door is asked for.
fn told(scenario: &Scenario, decides: Option<usize>, left_s: f64) -> String {
    if left_s.is_infinite() {
        return "its open rule holds all the time that the mower is out, within the mowing hours".to_string();
    }
    let approach = &scenario.mower.approach;
    let aside_m = QUICK * approach.sideways_m;
    let who = format!("a mower 2 standard deviations quick, up to {aside_m:.2} m beside the middle");
    let approach_s = travel_s(approach, approach.from_m, scenario.mower.shut_door.waits_at_m);
    let pace = approach.pace(QUICK);
    let place = if left_s * pace > approach_s {
        "before the drive towards the door".to_string()
    } else {
        format!("with its nose at {:.2} m", nose_at(&scenario.mower, approach_s - left_s * pace))
    };
    match decides {
        Some(detector) => {
            let detector = &scenario.detectors[detector];
            format!(
                "{} decides: the door is asked for {place}{}; {who}",
                detector.name,
                sight::short_note(scenario, detector)
            )
        }
        None => format!("the door is asked for {place}; {who}"),
    }
}

/// Whose wait it is, for how long.
fn waits(scenario: &Scenario, strategy: &Strategy, times: Times, wait_s: f64) -> String {
    let patience = scenario.mower.shut_door.patience_s;
    let mean = Way { quick: 0.0, aside_m: 0.0, sky: DARK, after_hours: false };
    let mean = match arrival::outcome(scenario, strategy, times, &mean).left_s {
        Some(left_s) if left_s >= times.opens_s => "a mean one is in time".to_string(),
        Some(left_s) if left_s >= 0.0 => format!("a mean one for {:.1} s", times.opens_s - left_s),
        Some(left_s) => {
            format!("a mean one for {:.1} s; nothing has asked when it comes: missed arrivals", times.opens_s - left_s)
        }
        None => "for a mean one the door is never asked for".to_string(),
    };
    format!("; such a mower waits outside for {wait_s:.1} s, of its patience of {patience:.0} s; {mean}")
}

/// The door has opened in time, and shut again before the mower came.
fn shut_again(scenario: &Scenario, strategy: &Strategy, times: Times, row: Row) -> Row {
    let index = scenario.strategies.iter().position(|other| other.name == strategy.name).unwrap_or(0);
    let now_s = strategy.controller.open_at_least.seconds();
    let stays = |seconds: f64| {
        let other = set_in(scenario, &[Set::OpenAtLeast(index, seconds)]);
        worst(&other, &other.strategies[index], times).left_s.is_some()
    };
    let longer = first(ceil_to(now_s + 0.5, 1.0), 1.0, OPEN_LONGER, stays);
    row.key(format!("strategy.{}.hold", strategy.name))
        .note("the door is asked for and opens, but nothing holds it until a mower 2 standard deviations slow, or quick, has come: it shuts again and nothing asks anew; such an arrival is missed")
        .changes(longer.map(|seconds| Set::OpenAtLeast(index, seconds).of("stroke_time", scenario)).into_iter().collect())
}

/// Some mower, if not every one, does not make the rule ask.
fn never(
    scenario: &Scenario,
    climate: &Climate,
    strategy: &Strategy,
    times: Times,
    decides: Option<usize>,
    row: Row,
) -> Row {
    let mean = Way { quick: 0.0, aside_m: 0.0, sky: DARK, after_hours: false };
    let whose = if arrival::outcome(scenario, strategy, times, &mean).left_s.is_some() {
        let aside_m = QUICK * scenario.mower.approach.sideways_m;
        format!("a mower that comes {aside_m:.2} m beside the middle, or in full sun, never makes its open rule hold")
    } else {
        "its open rule never holds while the mower comes or waits".to_string()
    };
    let row = row.key(format!("strategy.{}.open", strategy.name));
    let Some(index) = decides else { return row.note(format!("{whose}: such an arrival is missed")) };
    let detector = &scenario.detectors[index];
    let row = if super::single::notices(scenario, index) { row.key(key(scenario, detector)) } else { row };
    row.note(format!(
        "{whose}: {} does not speak{}; such an arrival is missed",
        detector.name,
        sight::short_note(scenario, detector)
    ))
    .cures(sooner(scenario, climate, detector, times.opens_s, f64::NEG_INFINITY, "stroke_time"))
}

/// Hours that end before the mower is home.
fn after_hours(scenario: &Scenario, strategy: &Strategy, times: Times, row: Row) -> Row {
    let named = detectors_of(&strategy.open);
    let clock = (0..scenario.detectors.len()).filter(|index| named >> index & 1 == 1).find_map(|index| {
        let sensor = &scenario.sensors[scenario.detectors[index].sensor];
        matches!(sensor.kind, SensorKind::Clock { .. }).then_some(sensor)
    });
    let Some(clock) = clock.filter(|_| row.verdict != Verdict::Fails) else { return row };
    let way = Way { quick: QUICK, aside_m: 0.0, sky: DARK, after_hours: true };
    if arrival::outcome(scenario, strategy, times, &way).left_s.is_some_and(|left_s| left_s >= times.opens_s) {
        return row;
    }
    let (approach, mower) = (&scenario.mower.approach, &scenario.mower);
    let lag_s = approach.way_home.mean_s
        + QUICK * approach.way_home.sd_s
        + travel_s(approach, approach.from_m, mower.shut_door.waits_at_m);
    let note = format!(
        "{}; a mower that sets out for home as the hours end may find it shut: that takes a lag of {:.0} min, or something else that notices it",
        row.note,
        (lag_s / 60.0).ceil()
    );
    row.at_best(Verdict::Tight).key(format!("sensor.{}.lag", clock.name)).note(note)
}

/// Distance at which a mower must be noticed: what it covers while the door is asked for and opens, and a margin, m.
pub fn required_m(speed_m_s: f64, opens_s: f64, latency_s: f64, margin_m: f64) -> f64 {
    speed_m_s * (opens_s + latency_s) + margin_m
}

/// Time that a ranger's or a beam's word leaves of the approach of a quick mower, s, by the places alone.
pub(super) fn word_left_s(scenario: &Scenario, detector: &Detector) -> f64 {
    let approach = &scenario.mower.approach;
    let from_m = match &scenario.sensors[detector.sensor].kind {
        SensorKind::BreakBeam { x_m, .. } => Some(*x_m),
        _ if sight::is_ranger_level(scenario, detector) => sight::seen_dry(scenario, detector),
        _ => None,
    };
    let Some(from_m) = from_m else { return f64::NEG_INFINITY };
    let pace = approach.pace(QUICK);
    travel_s(approach, from_m, scenario.mower.shut_door.waits_at_m) / pace - rule_s(scenario, detector)
}

/// The key that lets a detector speak earlier.
fn key(scenario: &Scenario, detector: &Detector) -> String {
    let sensor = &scenario.sensors[detector.sensor];
    let key = match &sensor.kind {
        SensorKind::BreakBeam { .. } => "x",
        SensorKind::Status { .. } if remembered(scenario, detector).is_some() => "stale_after",
        SensorKind::Status { poll_s, delay_s, .. } if poll_s > delay_s => "poll",
        SensorKind::Status { .. } => "delay",
        SensorKind::Clock { .. } => "lead",
        SensorKind::PlatformLoad { .. } | SensorKind::Tilt { .. } | SensorKind::EndSwitch { .. } => {
            return format!("detector.{}.on", detector.name);
        }
        SensorKind::RainGauge => return format!("detector.{}.on", detector.name),
        _ if sight::is_ranger_level(scenario, detector) => {
            return sight::sight_key(scenario, detector, sight::short(scenario, detector));
        }
        _ => return format!("detector.{}.{}", detector.name, statistic_key(detector)),
    };
    format!("sensor.{}.{key}", sensor.name)
}

/// How long a message must be believed so that it is not forgotten on the way home, where it is believed for less: a long run, and a
/// long way. None for one that is asked for again and again.
fn remembered(scenario: &Scenario, detector: &Detector) -> Option<Set> {
    let SensorKind::Status { poll_s, stale_after_s, .. } = scenario.sensors[detector.sensor].kind else { return None };
    let (approach, mower) = (&scenario.mower.approach, &scenario.mower);
    let long = |mean_s: f64, sd_s: f64| mean_s + QUICK * sd_s;
    let home_s = long(approach.way_home.mean_s, approach.way_home.sd_s)
        + travel_s(approach, approach.from_m, mower.shut_door.waits_at_m);
    let all_s = long(mower.run.mean_s, mower.run.sd_s) + home_s;
    (poll_s <= 0.0 && stale_after_s < home_s).then(|| Set::StaleAfter(detector.sensor, ceil_to(all_s, 600.0)))
}

/// The figure of a statistic that makes it quicker.
fn statistic_key(detector: &Detector) -> &'static str {
    match detector.statistic {
        Statistic::ApproachRate(_) => "samples",
        Statistic::Cusum { .. } => "limit",
        Statistic::LikelihoodRatio(_) => "false_alarm",
        Statistic::Ewma { .. } | Statistic::Level | Statistic::MovingMean(_) | Statistic::MovingMedian(_) => "on",
    }
}

/// Typical time from the first reading beyond the level to the detector's word, s: the statistic's window must fill with more of them
/// than of the old ones, then the rule; samples without a reading lengthen both.
pub(super) fn rule_s(scenario: &Scenario, detector: &Detector) -> f64 {
    let sensor = &scenario.sensors[detector.sensor];
    let period_s = bus::reachable_period_s(scenario, detector.sensor);
    let filling = match detector.statistic {
        Statistic::MovingMean(n) | Statistic::MovingMedian(n) => n / 2,
        _ => 0,
    };
    let speaks = 1.0 - sensor.errors.dropout;
    let run = match detector.dropped {
        _ if speaks >= 1.0 => detector.rule.k as f64,
        Dropped::Hold => detector.rule.k as f64 / speaks,
        Dropped::Quiet | Dropped::Reset => {
            RunLength::new(detector.rule, Hits::Independent { p: speaks }, StartUp::Partial)
                .ok()
                .and_then(|law| law.quantile(0.5))
                .map_or(f64::INFINITY, |samples| samples as f64)
        }
    };
    (run + filling as f64 / speaks) * period_s + sensor.latency.seconds()
}

/// What brings detection forward far enough for a stroke: another aim, or a narrower cone, where the sensor does not see as far as its
/// level says, a farther level as far as its reach in the sun allows, a beam farther out; else a faster drive.
pub(super) fn sooner(
    scenario: &Scenario,
    climate: &Climate,
    detector: &Detector,
    needs_s: f64,
    left_s: f64,
    row: &'static str,
) -> Vec<Vec<Change>> {
    if let Some(set) = remembered(scenario, detector) {
        return vec![vec![set.of(row, scenario)]];
    }
    let wanted_m = ROOM * needed_m(scenario, detector, needs_s);
    let farther = match &scenario.sensors[detector.sensor].kind {
        SensorKind::BreakBeam { x_m, .. } => {
            let x_m = ceil_to(wanted_m, 0.05).max(*x_m);
            (x_m <= scenario.mower.approach.from_m).then(|| vec![Set::BeamX(detector.sensor, x_m)])
        }
        _ if sight::is_ranger_level(scenario, detector) => farther(scenario, detector, wanted_m),
        _ => None,
    };
    if let Some(sets) = farther {
        return vec![sets.into_iter().map(|set| set.of(row, scenario)).collect()];
    }
    let factor = ROOM * needs_s / left_s;
    if left_s <= 0.0 {
        Vec::new()
    } else if factor <= FASTER {
        faster(scenario, climate, row, factor)
    } else if factor <= GEARED {
        geared_up(scenario, row, factor)
    } else {
        Vec::new()
    }
}

/// Where a ranger that stands behind the door is better placed, m: beside or above the doorway, clear of panel and rain.
pub(super) const BEFORE_DOOR_M: f64 = 0.05;

/// What lets a ranger see the nose from `wanted_m`; none if nothing known does.
fn farther(scenario: &Scenario, detector: &Detector, wanted_m: f64) -> Option<Vec<Set>> {
    let index = scenario.detectors.iter().position(|other| other.name == detector.name)?;
    let seen = sight::seen_dry(scenario, detector);
    let mut sets = Vec::new();
    let mut reached = seen.unwrap_or(0.0);
    if sight::is_short(scenario, detector, seen) {
        let better = match sight::short(scenario, detector) {
            Short::Past(Some(set)) => Some((set, sight::seen_if(scenario, &[set], detector))),
            Short::Behind => {
                let set = Set::SensorX(detector.sensor, BEFORE_DOOR_M);
                Some((set, sight::seen_if(scenario, &[set], detector)))
            }
            _ => sight::narrowed(scenario, detector, wanted_m)
                .map(|(half_deg, seen_m)| (Set::Cone(detector.sensor, half_deg), seen_m)),
        };
        if let Some((set, seen_m)) = better {
            sets.push(set);
            reached = seen_m;
        }
    }
    let reach_m = scenario.sensors[detector.sensor].kind.aim().map_or(0.0, |aim| aim.farthest_m);
    let on = ceil_to(wanted_m + 0.1, 0.05).min(floor_to(reach_m.min(scenario.mower.approach.from_m), 0.05));
    if reached < wanted_m && on > detector.on {
        sets.push(Set::On(index, on));
        sets.push(Set::Off(index, ceil_to(on + (detector.off - detector.on), 0.05)));
        reached = sight::seen_if(scenario, &sets, detector);
    }
    if reached < wanted_m
        && let SensorKind::OpticalRange { farthest_sun_m, .. } = &scenario.sensors[detector.sensor].kind
    {
        // In steps of half a metre up to the reach in the dark.
        let steps = ((reach_m - farthest_sun_m) / 0.5).max(0.0) as u32;
        for step in 1..=steps {
            let farther = Set::FarthestSun(detector.sensor, floor_to(farthest_sun_m + 0.5 * f64::from(step), 0.1));
            let with: Vec<Set> = sets.iter().copied().chain([farther]).collect();
            let seen_m = sight::seen_if(scenario, &with, detector);
            if seen_m >= wanted_m {
                (sets, reached) = (with, seen_m);
                break;
            }
        }
    }
    (reached >= wanted_m / ROOM && !sets.is_empty()).then_some(sets)
}

/// Place of the nose so many seconds after the drive towards the door has begun, by the mean speeds, m; it stops at its waiting point.
pub(super) fn nose_at(mower: &Mower, elapsed_s: f64) -> f64 {
    let (approach, waits) = (&mower.approach, mower.shut_door.waits_at_m);
    let slow_from = approach.slow_from_m.min(approach.from_m).max(waits);
    let fast_s = (approach.from_m - slow_from) / approach.speed_m_s;
    let nose = if elapsed_s <= fast_s {
        approach.from_m - approach.speed_m_s * elapsed_s.max(0.0)
    } else {
        slow_from - approach.slow_speed_m_s * (elapsed_s - fast_s)
    };
    nose.max(waits)
}

/// Time from one place of the nose to another on the way in, s.
pub(super) fn travel_s(approach: &Approach, from_m: f64, to_m: f64) -> f64 {
    let (from, slow) = (from_m.min(approach.from_m), approach.slow_from_m);
    let fast_m = (from - to_m.max(slow)).max(0.0);
    let slow_m = (from.min(slow) - to_m).max(0.0);
    fast_m / approach.speed_m_s + slow_m / approach.slow_speed_m_s
}

/// Distance of the nose from which the approach lasts as long as detection and stroke.
pub(super) fn needed_m(scenario: &Scenario, detector: &Detector, needs_s: f64) -> f64 {
    let approach = &scenario.mower.approach;
    let lasts_s = (needs_s + rule_s(scenario, detector)) * approach.pace(QUICK);
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
