//! Does the door stay shut with nobody about? Twenty minutes of a dark, dry night are played past the sensors' own laws and the open rule as it
//! is, with the mower away. Rare false runs are for seasons; what opens the door again and again is a mistake in a rule, a level or a
//! sensor's figures, and wears out a drive whose life the other rows reckon by usual openings.

use super::set::Set;
use super::settled::{Still, holds, law, settled};
use super::sight::is_behind;
use super::timing::BEFORE_DOOR_M;
use super::{Row, Side, Verdict};
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::sensor::StatusCode;
use crate::scenario::strategy::Strategy;
use crate::sensing::detector::DetectorState;
use crate::sensing::law::Law;
use crate::sensing::statistic::Frame;
use crate::shelter::bus;
use crate::shelter::condition::{Evaluator, detectors_of};

/// How long the night is looked at, and how long the rules are left to settle before.
const NIGHT: Span = Span(20 * 60 * 1_000_000);
const SETTLES: Span = Span(2 * 60 * 1_000_000);
/// Openings in that time that are too many: a door that opens once an hour by chance comes to three in it with half a per cent
/// (Poisson).
const MOST: f64 = 3.0;
/// Most samples of one sensor that are looked at.
const SAMPLES_MAX: u64 = 100_000;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    for strategy in &scenario.strategies {
        rows.extend(row(scenario, strategy));
    }
}

/// None for a rule that holds all the while, or never, whoever is about.
fn row(scenario: &Scenario, strategy: &Strategy) -> Option<Row> {
    let by_itself = opens_for_itself(scenario, strategy);
    let openings = openings(scenario, strategy).or(by_itself.then_some(MOST + 1.0))?;
    let question =
        format!("strategy {}: openings in twenty minutes of a dark, dry night with nobody about", strategy.name);
    let row = Row::judged("quiet", question, openings, Side::AtMost, MOST - 1.0, 1.0, "")
        .key(format!("strategy.{}.open", strategy.name));
    Some(if by_itself {
        let named = detectors_of(&strategy.open);
        let behind = (0..scenario.detectors.len()).filter(|index| named >> index & 1 == 1).find_map(|index| {
            is_behind(scenario, &scenario.detectors[index]).then_some(scenario.detectors[index].sensor)
        });
        let row = match behind {
            Some(sensor) => row
                .key(format!("sensor.{}.position", scenario.sensors[sensor].name))
                .changes(vec![Set::SensorX(sensor, BEFORE_DOOR_M).of("quiet", scenario)]),
            None => row,
        };
        row.note("its open rule holds while the door is shut and no longer once it is open: the door opens for its own panel, shuts, and opens again (counting stops here)")
    } else if row.verdict == Verdict::Fails {
        row.note("noise and spurious readings alone make its open rule hold (counting stops here): a longer run rule, another level, or a sensor that errs less")
    } else {
        row
    })
}

/// Whether the open rule holds with nobody about while the door is shut, and not while it is open.
fn opens_for_itself(scenario: &Scenario, strategy: &Strategy) -> bool {
    let detectors = |door_open: bool| settled(scenario, &Still { door_open, ..AWAY });
    let (shut, open) = (detectors(false), detectors(true));
    holds(&strategy.open, shut, shut) && !holds(&strategy.open, shut, open)
}

/// Nobody about, the mower away.
const AWAY: Still = Still { bodies: &[], door_open: false, status: Some(StatusCode::Mowing), hours: false };

/// A sensor of the rule at its next sample.
struct Sampled {
    sensor: usize,
    next: Instant,
    period: Span,
    law: Law,
}

/// Openings that the open rule asks for; none if it holds throughout.
fn openings(scenario: &Scenario, strategy: &Strategy) -> Option<f64> {
    let named = detectors_of(&strategy.open);
    let of_rule = |sensor: usize| {
        (0..scenario.detectors.len()).any(|index| named >> index & 1 == 1 && scenario.detectors[index].sensor == sensor)
    };
    let mut sampled: Vec<Sampled> = (0..scenario.sensors.len())
        .filter(|sensor| of_rule(*sensor))
        .map(|sensor| {
            let period = Span::from_seconds(bus::reachable_period_s(scenario, sensor)).max(Span(1));
            Sampled { sensor, next: Instant::START + period, period, law: law(scenario, sensor, &AWAY) }
        })
        .collect();
    let mut states: Vec<DetectorState> = scenario
        .detectors
        .iter()
        .map(|detector| DetectorState::new(detector, &Frame::of(&scenario.sensors[detector.sensor])))
        .collect();
    let mut stream = Source::new(0, 0, "a quiet night of a check").stream(0);
    let mut rule = Evaluator::new(&strategy.open);
    let (begins, ends) = (Instant::START + SETTLES, Instant::START + SETTLES + NIGHT);
    // The door is asked for anew once it has stood open as long as it must.
    let stays = strategy.controller.open_at_least + strategy.controller.warning;
    let (mut bits, mut count, mut free, mut was) = (0_u64, 0.0, begins, true);
    let mut looked = 0;
    while let Some(sample) = sampled.iter_mut().min_by_key(|sample| sample.next) {
        let (now, wakes) = (sample.next, rule.wake());
        let at = now.min(wakes);
        looked += 1;
        if at >= ends || count > MOST || looked > SAMPLES_MAX * 4 {
            break;
        }
        if now <= wakes {
            let reading = sample.law.draw(&mut stream);
            let sensor = sample.sensor;
            sample.next = now + sample.period;
            for (index, state) in states.iter_mut().enumerate() {
                if scenario.detectors[index].sensor == sensor && state.feed(reading) {
                    bits ^= 1 << index;
                }
            }
        }
        let holds = rule.evaluate(at, bits);
        if holds && !was && at >= free {
            count += 1.0;
            free = at + stays;
        }
        if at >= begins {
            was = holds;
        }
    }
    let always = was && count == 0.0;
    (!always).then_some(count)
}
