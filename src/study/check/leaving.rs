//! Do the rules let the mower out, and does the door ever shut again?
//!
//! A mower that wants to leave says so, waits for a fully open door, and gives up: what the rules have made of its word by then is
//! asked of the rules themselves, with everything else about at rest, as [`settled`](super::settled) has it. The same for a door
//! with nobody before it, the mower docked or away, within the mowing hours or not: somewhere its rules must let it shut.

use super::change::{ceil_to, floor_to};
use super::climate::Climate;
use super::motor::faster;
use super::set::{Set, set_in};
use super::settled::{Still, settled};
use super::timing::QUICK;
use super::{Change, Row, Side, Verdict};
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::sensor::{SensorKind, StatusCode};
use crate::scenario::strategy::Strategy;
use crate::sensing::sight::Body;
use crate::shelter::condition::{Evaluator, detectors_of};
use crate::shelter::mechanism::Direction;
use crate::shelter::stroke;

/// Room that is comfortable, and that a proposed figure leaves, as a share.
const ROOM: f64 = 0.15;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let windy = climate.windy();
    let stroke = stroke::solve(&scenario.door, &scenario.drive, &scenario.supply, Direction::Opening, &windy, 0.0);
    for (index, strategy) in scenario.strategies.iter().enumerate() {
        rows.extend(departure(scenario, climate, index, stroke.time_s));
        rows.push(shuts(scenario, strategy));
    }
}

/// Shares of lost messages from which on they are told, and beyond which the mower gives up leaving more often than it leaves (common
/// practice; the second is what `run` warns of).
const FEW_LOST: f64 = 0.05;
const MOST_LOST: f64 = 0.5;

/// Time for which the rules are followed after the mower has had its say, s, at most: a day, as nothing of a departure lasts longer.
const FOLLOWED: Span = Span::DAY;

/// When the open rule holds, s after the mower has decided to leave; infinite if it never does. None if it holds all the while.
fn asked_s(scenario: &Scenario, strategy: &Strategy) -> Option<f64> {
    let mower = &scenario.mower;
    let docked = [Body::of_mower(mower, -mower.dock.depth_m, 0.0)];
    let still = Still { bodies: &docked, door_open: false, status: Some(StatusCode::Docked), hours: true };
    let (before, after) =
        (settled(scenario, &still), settled(scenario, &Still { status: Some(StatusCode::Leaving), ..still }));
    let mut rule = Evaluator::new(&strategy.open);
    let decides = Instant::START + FOLLOWED;
    rule.evaluate(Instant::START, before);
    if rule.evaluate(decides, before) {
        return None;
    }
    let mut now = decides + Span::from_seconds(late_s(scenario, strategy));
    while !rule.evaluate(now, after) {
        now = rule.wake();
        if now >= decides + FOLLOWED + FOLLOWED {
            return Some(f64::INFINITY);
        }
    }
    Some(now.since(decides).seconds())
}

/// Status sensors of the open rule.
fn told<'s>(scenario: &'s Scenario, strategy: &Strategy) -> impl Iterator<Item = (usize, &'s SensorKind)> + 's {
    let named = detectors_of(&strategy.open);
    let sensors = scenario.detectors.iter().enumerate().filter(move |(index, _)| named >> index & 1 == 1);
    sensors
        .map(|(_, detector)| (detector.sensor, &scenario.sensors[detector.sensor].kind))
        .filter(|(_, kind)| matches!(kind, SensorKind::Status { .. }))
}

/// Share of departures that are given up since the word of them is lost, and the sensor that loses it: it is said once, and where several
/// sensors hear of it, it is lost at least as often as by the best of them. None where it is asked for again and again, or nothing is lost.
fn unheard(scenario: &Scenario, strategy: &Strategy) -> Option<(usize, f64)> {
    let losses: Vec<(usize, f64)> = told(scenario, strategy)
        .map(|(sensor, kind)| match kind {
            SensorKind::Status { poll_s, loss, .. } if *poll_s <= 0.0 => (sensor, *loss),
            _ => (sensor, 0.0),
        })
        .collect();
    losses.into_iter().min_by(|one, other| one.1.total_cmp(&other.1)).filter(|(_, loss)| *loss > 0.0)
}

/// How late a message of the mower comes, s: two standard deviations, after a whole round of polling.
fn late_s(scenario: &Scenario, strategy: &Strategy) -> f64 {
    let late = told(scenario, strategy).map(|(_, kind)| match kind {
        SensorKind::Status { poll_s, delay_s, delay_spread, .. } => poll_s + delay_s * libm::exp(QUICK * delay_spread),
        _ => 0.0,
    });
    late.fold(0.0, f64::max)
}

/// None where the strokes do not end, which other rows say.
fn departure(scenario: &Scenario, climate: &Climate, index: usize, stroke_s: f64) -> Option<Row> {
    const ID: &str = "departure";
    if !stroke_s.is_finite() {
        return None;
    }
    let strategy = &scenario.strategies[index];
    let leaves = &scenario.mower.departure;
    let question = format!("strategy {}: the door stands open before the mower gives up leaving", strategy.name);
    let limit_s = leaves.notice_s + leaves.patience_s;
    let Some(asked_s) = asked_s(scenario, strategy) else {
        let row = Row::stated(ID, question, Verdict::Fits).key(format!("strategy.{}.open", strategy.name));
        return Some(row.note("the door stands open while the mower is in its dock, within the mowing hours"));
    };
    if !asked_s.is_finite() {
        let row = Row::stated(ID, question, Verdict::Fails).key(format!("strategy.{}.open", strategy.name));
        return Some(row.note(
            "its open rule never holds for a mower that wants to leave: it needs a detector that hears of it (says = [\"leaving\"]), or hours that open the door",
        ));
    }
    let lost = unheard(scenario, strategy).filter(|(_, share)| *share > FEW_LOST);
    let says = lost.map(|(sensor, share)| {
        let name = &scenario.sensors[sensor].name;
        let why = format!(
            "{:.0} % of the messages that it leaves are lost on the way to {name}, and as many departures are given up",
            100.0 * share
        );
        (format!("sensor.{name}.loss"), why, share > MOST_LOST)
    });
    if let Some((key, why, true)) = &says {
        return Some(Row::stated(ID, question, Verdict::Fails).key(key).note(why));
    }
    let opens_s = stroke_s + strategy.controller.care.opening_warning.seconds();
    let needs_s = asked_s + opens_s;
    let mut row = Row::judged(ID, question, needs_s, Side::AtMost, limit_s, ROOM * needs_s, "s")
        .key("mower.departure.patience")
        .note(format!(
            "{asked_s:.1} s until its open rule holds, with a message two standard deviations late, and {opens_s:.1} s until the door stands open in the strongest gust; the mower waits for {:.0} s before it leaves and {:.0} s for the door",
            leaves.notice_s, leaves.patience_s
        ));
    if row.verdict == Verdict::Fails {
        row = row.cures(in_time(scenario, climate, index, (asked_s, opens_s), limit_s));
    } else if let Some((key, why, _)) = says {
        let note = format!("{why}; {}", row.note);
        row = row.key(key).note(note).at_best(Verdict::Tight);
    }
    Some(row)
}

/// A message that comes sooner where that takes the longest, more patience, a faster drive.
fn in_time(
    scenario: &Scenario,
    climate: &Climate,
    index: usize,
    (asked_s, opens_s): (f64, f64),
    limit_s: f64,
) -> Vec<Vec<Change>> {
    const ID: &str = "departure";
    let strategy = &scenario.strategies[index];
    let needs_s = (1.0 + ROOM) * (asked_s + opens_s);
    let patience = Set::DeparturePatience(ceil_to(needs_s - scenario.mower.departure.notice_s, 1.0));
    let left_s = limit_s / (1.0 + ROOM) - opens_s;
    let sooner = told(scenario, strategy).filter_map(|(sensor, kind)| {
        let SensorKind::Status { poll_s, delay_spread, .. } = kind else { return None };
        let delay_s = floor_to((left_s - poll_s) / libm::exp(QUICK * delay_spread), 0.1);
        let set = Set::Delay(sensor, delay_s);
        (delay_s > 0.0).then_some(set)
    });
    let mends = |set: &Set| {
        let other = set_in(scenario, &[*set]);
        asked_s_of(&other, index) + opens_s <= limit_s
    };
    let mut ways: Vec<Vec<Change>> = sooner.filter(mends).map(|set| vec![set.of(ID, scenario)]).collect();
    let by_patience = vec![patience.of(ID, scenario)];
    let at = if asked_s > opens_s { ways.len() } else { 0 };
    ways.insert(at, by_patience);
    let stroke_s = opens_s - strategy.controller.care.opening_warning.seconds();
    let room_s = limit_s / (1.0 + ROOM) - asked_s - (opens_s - stroke_s);
    if room_s > 0.0 && stroke_s / room_s <= FASTEST {
        ways.extend(faster(scenario, climate, ID, stroke_s / room_s));
    }
    ways
}

/// Beyond this factor a faster drive is another drive (common practice).
const FASTEST: f64 = 3.0;

fn asked_s_of(scenario: &Scenario, index: usize) -> f64 {
    asked_s(scenario, &scenario.strategies[index]).unwrap_or(0.0)
}

/// Whether the rules let an open door shut with nobody before it.
fn shuts(scenario: &Scenario, strategy: &Strategy) -> Row {
    let mower = &scenario.mower;
    let docked = [Body::of_mower(mower, -mower.dock.depth_m, 0.0)];
    let mut blocks: Option<&str> = None;
    for hours in [true, false] {
        let in_dock = Still { bodies: &docked, door_open: true, status: Some(StatusCode::Docked), hours };
        let away = Still { bodies: &[], status: Some(StatusCode::Mowing), ..in_dock };
        for still in [in_dock, away] {
            let bits = settled(scenario, &still);
            let holds = |rule| super::settled::holds(rule, bits, bits);
            let by = if !holds(&strategy.close) {
                "close"
            } else if strategy.controller.care.interlock && holds(&strategy.doorway) {
                "doorway"
            } else if holds(&strategy.open) {
                "open"
            } else if holds(&strategy.hold) && strategy.controller.open_at_most.is_none() {
                "hold"
            } else {
                let question = format!("strategy {}: the door shuts again with nobody before it", strategy.name);
                return Row::stated("shuts", question, Verdict::Fits).key(format!("strategy.{}.hold", strategy.name));
            };
            blocks = blocks.or(Some(by));
        }
    }
    let by = blocks.unwrap_or("hold");
    let question = format!("strategy {}: the door shuts again with nobody before it", strategy.name);
    Row::stated("shuts", question, Verdict::Fails).key(format!("strategy.{}.{by}", strategy.name)).note(format!(
        "with the mower in its dock as with it away, within the mowing hours and outside them, its {by} rule keeps the door from shutting: once open it stays so"
    ))
}
