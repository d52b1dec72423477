//! Does the doorway's sensor speak in time? Its place, its rate, its latency and its rule against the mower that drives in and the edge
//! that comes down.
//!
//! As the season has it: a mower breaks the sensor's line, and a moment later its nose is under the edge. A closing that begins before
//! the word has come begins on an occupied doorway, which no sound strategy does; it turns back with the word, if the edge is not down
//! by then. So
//!
//! ```text
//! lead  = (x - half the edge's zone) / v      what the sensor's place outside the edge gives; negative for one inside
//! after = word - lead                         the word after the nose has come under the edge; negative before it
//! fits:  after <= 0.1 s                       what the season forgives a closing that has just begun, too
//! fails: after >  0.2 s                       within which a reversal should have begun (common practice)
//! ```
//!
//! with the word as k samples and the latency after the break, and v two standard deviations quick. What breaks the sensor from the
//! inside, and visitors, are left to the season.

use super::change::{ceil_to, floor_to};
use super::climate::Climate;
use super::senses;
use super::set::{Set, set_in};
use super::sight;
use super::timing::{QUICK, rule_s};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::EDGE_ZONE_M;
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::{Condition, Detector, RunRule, Strategy};
use crate::shelter::condition::detectors_of;
use crate::shelter::mechanism::{self, Direction, survey};
use crate::shelter::{bus, stroke};

/// What the season forgives a word, and within what a reversal should have begun, s (both common practice).
const AFTER_S: (f64, f64) = (0.1, 0.2);
/// Farthest place outside the edge that is proposed for a beam, as a share of the shortest body's length (common practice).
pub(super) const OF_BODY: f64 = 0.5;
/// Step of a proposed place, m.
const STEP_M: f64 = 0.01;
/// Share of the time that there is which a proposed figure uses.
const SPARE: f64 = 0.9;
/// Rates that are proposed, Hz: each with a period of whole microseconds, and none faster than through-beam switches and rangers of
/// this kind are commonly read.
const RATES_HZ: [f64; 10] = [1.0, 2.0, 4.0, 5.0, 10.0, 20.0, 25.0, 40.0, 50.0, 100.0];
/// A rule of more samples than this is shortened before a sensor is asked for more of them (common practice).
const LONG_RULE: usize = 5;

const ID: &str = "doorway_sensor";

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let Some(edge) = Edge::of(scenario, climate) else { return };
    for (index, strategy) in scenario.strategies.iter().enumerate() {
        let Some((mut row, word)) = row(scenario, strategy, &edge) else { continue };
        if row.verdict == Verdict::Fails {
            let others = others(scenario, strategy, &edge, word.detector);
            let cures = [word].into_iter().chain(others).map(|word| quicker(scenario, index, &edge, &word));
            row = row.cures(cures.into_iter().find(|cures| !cures.is_empty()).unwrap_or_default());
        }
        rows.push(row);
    }
}

/// How many strategies hear of the mower in the doorway too late.
pub(super) fn late(scenario: &Scenario, climate: &Climate) -> usize {
    let Some(edge) = Edge::of(scenario, climate) else { return 0 };
    let fails =
        |strategy: &&Strategy| row(scenario, strategy, &edge).is_some_and(|(row, _)| row.verdict == Verdict::Fails);
    scenario.strategies.iter().filter(fails).count()
}

/// The edge and the mower that drives in under it.
struct Edge {
    /// From the beginning of a closing until the edge is down to the mower, s.
    down_s: f64,
    /// Speed of the mower, m/s.
    speed_m_s: f64,
}

impl Edge {
    /// None where the door does not close.
    fn of(scenario: &Scenario, climate: &Climate) -> Option<Edge> {
        let (door, mower) = (&scenario.door, &scenario.mower);
        let full_m = mechanism::stroke_m(door);
        let closing =
            stroke::solve(door, &scenario.drive, &scenario.supply, Direction::Closing, &climate.calm(), full_m);
        let down_s = closing.time_at(survey::clears_at_m(door, mower.width_m, mower.height_m));
        let speed_m_s = mower.approach.slow_speed_m_s * mower.approach.pace(QUICK);
        down_s.is_finite().then_some(Edge { down_s, speed_m_s })
    }
}

/// When a rule first holds for a mower that drives in.
#[derive(Clone, Copy)]
struct Word {
    /// The detector that decides when.
    detector: usize,
    /// From the moment when the mower is where it sees it until the nose is under the edge, s; negative for a sensor inside.
    lead_s: f64,
    /// From that moment until the rule holds, s.
    takes_s: f64,
}

impl Word {
    /// After the nose has come under the edge, s.
    fn after_s(&self) -> f64 {
        self.takes_s - self.lead_s
    }
}

/// What a detector has to say; none if it does not see a mower in the doorway.
fn word_of(scenario: &Scenario, edge: &Edge, detector: usize) -> Option<Word> {
    let it = &scenario.detectors[detector];
    let mower = &scenario.mower;
    let from_m = match &scenario.sensors[it.sensor].kind {
        SensorKind::BreakBeam { x_m, z_m, span_m, .. } => {
            let crosses = span_m.0.min(span_m.1) < 0.5 * mower.width_m && span_m.0.max(span_m.1) > -0.5 * mower.width_m;
            let passes = (-mower.dock.depth_m..mower.approach.from_m).contains(x_m);
            (*z_m < mower.height_m && crosses && passes).then_some(*x_m)?
        }
        _ if sight::is_ranger_level(scenario, it) => sight::seen_dry(scenario, it)?,
        _ => return None,
    };
    Some(Word { detector, lead_s: (from_m - EDGE_ZONE_M) / edge.speed_m_s, takes_s: rule_s(scenario, it) })
}

/// When a condition first holds; none if it does not by what sees the mower.
fn word(scenario: &Scenario, edge: &Edge, condition: &Condition) -> Option<Word> {
    let sooner = |one: &Word, other: &Word| one.after_s().total_cmp(&other.after_s());
    let each = |parts: &[Condition]| parts.iter().map(|part| word(scenario, edge, part)).collect::<Vec<_>>();
    match condition {
        Condition::Detector(detector) => word_of(scenario, edge, *detector),
        Condition::Any(parts) => each(parts).into_iter().flatten().min_by(sooner),
        Condition::All(parts) => each(parts).into_iter().collect::<Option<Vec<_>>>()?.into_iter().max_by(sooner),
        Condition::AtLeast(least, parts) => {
            let mut words: Vec<Word> = each(parts).into_iter().flatten().collect();
            words.sort_by(sooner);
            words.get(least.checked_sub(1)?).copied()
        }
        Condition::For(span, part) => {
            let held = word(scenario, edge, part)?;
            Some(Word { takes_s: held.takes_s + span.seconds(), ..held })
        }
        Condition::Lasting(_, part) => word(scenario, edge, part),
        Condition::LogOdds(sum) => {
            let mut odds = sum.prior + sum.of.iter().map(|evidence| evidence.weights().1).sum::<f64>();
            let mut words: Vec<(Word, f64)> = Vec::new();
            for evidence in &sum.of {
                let (with, without) = evidence.weights();
                words.extend(word(scenario, edge, &evidence.when).map(|word| (word, with - without)));
            }
            words.sort_by(|one, other| sooner(&one.0, &other.0));
            words.into_iter().find_map(|(word, gain)| {
                odds += gain;
                (odds >= sum.at_least).then_some(word)
            })
        }
        Condition::BuiltIn(_) | Condition::Not(_) => None,
    }
}

/// The row of a strategy; none where nothing of its doorway rule sees a mower drive in, or the rule is not heeded.
fn row(scenario: &Scenario, strategy: &Strategy, edge: &Edge) -> Option<(Row, Word)> {
    if !strategy.controller.care.interlock {
        return None;
    }
    let word = word(scenario, edge, &strategy.doorway)?;
    let (mower, detector) = (&scenario.mower, &scenario.detectors[word.detector]);
    let under_s = (mower.length_m + 2.0 * EDGE_ZONE_M) / edge.speed_m_s;
    let question = format!(
        "strategy {}: word of the doorway's sensor, after a quick mower has come under the edge (below 0: before)",
        strategy.name
    );
    let after_s = word.after_s();
    let mut row = Row::judged(ID, question, after_s, Side::AtMost, AFTER_S.1, AFTER_S.1 - AFTER_S.0, "s")
        .key(parts(scenario, &word)[0].0.clone());
    let seen = if word.lead_s >= 0.0 {
        format!("{:.2} s before it is under the edge", word.lead_s)
    } else {
        format!("{:.2} s after it has come under the edge", -word.lead_s)
    };
    row.note = format!(
        "{} meets the mower {seen} and needs {:.2} s to say so; the mower is under it for {under_s:.1} s, and the edge is down to the mower's height {:.1} s after a closing has begun",
        detector.name, word.takes_s, edge.down_s
    );
    let down_s = edge.down_s.min(under_s);
    row.note.push_str(match row.verdict {
        Verdict::Fits => "; no closing begins on it",
        _ if after_s < down_s => "; a closing may begin on it, and turns back before the edge is down",
        _ => "; closings begin on it, and the edge may come down on it",
    });
    Some((row, word))
}

/// Samples that a detector needs to speak.
fn samples(scenario: &Scenario, detector: &Detector) -> f64 {
    let sensor = &scenario.sensors[detector.sensor];
    (rule_s(scenario, detector) - sensor.latency.seconds()) / bus::reachable_period_s(scenario, detector.sensor)
}

/// What makes up the time to the word: keys with seconds, the longest first.
fn parts(scenario: &Scenario, word: &Word) -> Vec<(String, f64)> {
    let detector = &scenario.detectors[word.detector];
    let sensor = &scenario.sensors[detector.sensor];
    let period_s = bus::reachable_period_s(scenario, detector.sensor);
    let latency_s = sensor.latency.seconds();
    let own_s = sensor.period.seconds();
    let samples = samples(scenario, detector);
    let mut parts = vec![(format!("sensor.{}.latency", sensor.name), latency_s)];
    let sampling = if detector.rule.k > LONG_RULE {
        format!("detector.{}.rule", detector.name)
    } else {
        format!("sensor.{}.rate", sensor.name)
    };
    parts.push((sampling, samples * own_s));
    if period_s > own_s {
        let key = senses::slows(scenario, detector.sensor).map_or_else(|| "bus.mode".to_string(), |slow| slow.key);
        parts.push((key, samples * (period_s - own_s)));
    }
    parts.sort_by(|one, other| other.1.total_cmp(&one.1));
    parts
}

/// What the other detectors of a doorway rule have to say, the soonest first: one of them may be slow for a reason of its own.
fn others(scenario: &Scenario, strategy: &Strategy, edge: &Edge, decides: usize) -> Vec<Word> {
    let named = detectors_of(&strategy.doorway);
    let others = (0..scenario.detectors.len()).filter(|other| *other != decides && named >> other & 1 == 1);
    let mut words: Vec<Word> = others.filter_map(|other| word_of(scenario, edge, other)).collect();
    words.sort_by(|one, other| one.after_s().total_cmp(&other.after_s()));
    words
}

/// Less of what takes the most time, so that the word comes before the mower is under the edge, where that can be; else in time.
fn quicker(scenario: &Scenario, place: usize, edge: &Edge, word: &Word) -> Vec<Vec<Change>> {
    let detector = &scenario.detectors[word.detector];
    let (sensor, index) = (&scenario.sensors[detector.sensor], detector.sensor);
    let verdict = |sets: &[Set]| {
        let other = set_in(scenario, sets);
        row(&other, &other.strategies[place], edge).map_or(Verdict::Fails, |(row, _)| row.verdict)
    };
    let latency_s = sensor.latency.seconds();
    let period_s = bus::reachable_period_s(scenario, index);
    let samples = samples(scenario, detector);
    // What of the word is neither sampling nor latency: a condition that must have held for a while.
    let held_s = word.takes_s - rule_s(scenario, detector);
    let mut cures: Vec<Vec<Change>> = Vec::new();
    for (limit_s, wanted) in [(AFTER_S.0, Verdict::Fits), (AFTER_S.1, Verdict::Tight)] {
        let left_s = SPARE * (word.lead_s + limit_s) - held_s;
        let mut ways: Vec<Vec<Set>> = Vec::new();
        if left_s > latency_s {
            let needed_hz = samples / (left_s - latency_s);
            let rate = RATES_HZ.into_iter().find(|hz| *hz >= needed_hz).map(|hz| vec![Set::Rate(index, hz)]);
            let other = samples - detector.rule.k as f64;
            let k = (((left_s - latency_s) / period_s - other).floor().max(0.0) as usize).min(detector.rule.k);
            let rule = (k > 0 && k < detector.rule.k).then(|| {
                let n = (detector.rule.n * k / detector.rule.k).max(k);
                vec![Set::Rule(word.detector, RunRule { k, n })]
            });
            if detector.rule.k > LONG_RULE {
                ways.extend(rule.into_iter().chain(rate));
            } else {
                ways.extend(rate.into_iter().chain(rule));
            }
        }
        let sampling_s = samples * period_s;
        if left_s > sampling_s && latency_s > 0.0 {
            ways.push(vec![Set::Latency(index, floor_to(left_s - sampling_s, 0.001))]);
        }
        let slow = senses::slows(scenario, index).map(|change| change.set);
        ways.extend(slow.map(|set| vec![set]));
        if let SensorKind::BreakBeam { x_m, .. } = &sensor.kind {
            // Farther out, but no body that comes may fit between it and the edge.
            let visitors = scenario.visitors.iter().map(|visitor| visitor.length_m);
            let shortest_m = visitors.fold(scenario.mower.length_m, f64::min);
            let out_m = ceil_to(EDGE_ZONE_M + edge.speed_m_s * (word.takes_s / SPARE - limit_s).max(0.0), STEP_M);
            // A line inside the edge has work of its own where it is not the only one.
            let alone = detectors_of(&scenario.strategies[place].doorway).count_ones() == 1;
            let room = (alone || *x_m > -EDGE_ZONE_M)
                && out_m > *x_m
                && out_m < (OF_BODY * shortest_m).min(scenario.mower.shut_door.waits_at_m);
            ways.extend(room.then(|| vec![Set::BeamX(index, out_m)]));
        }
        let found = ways.into_iter().filter(|sets| verdict(sets) <= wanted);
        cures.extend(found.map(|sets| sets.into_iter().map(|set| set.of(ID, scenario)).collect::<Vec<_>>()));
        if !cures.is_empty() {
            break;
        }
    }
    // What takes the most comes first.
    let longest = parts(scenario, word);
    let rank = |cure: &Vec<Change>| longest.iter().position(|(key, _)| cure[0].key == *key).unwrap_or(longest.len());
    cures.sort_by_key(rank);
    cures
}
