//! What detectors say once everything has stood still for a while, and what rules make of it.

use super::arrival::dry;
use super::sight::DARK;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::sensor::StatusCode;
use crate::scenario::strategy::Condition;
use crate::sensing::detector::DetectorState;
use crate::sensing::law::Law;
use crate::sensing::reading::{Eye, Surroundings};
use crate::sensing::sight::Body;
use crate::sensing::statistic::Frame;
use crate::shelter::condition::Evaluator;

/// How long everything has stood still when the rules are asked; before that it was otherwise for as long.
pub(super) const STILL: Span = Span::DAY;

/// What is about.
#[derive(Clone, Copy)]
pub(super) struct Still<'b> {
    pub bodies: &'b [Body],
    pub door_open: bool,
    /// What the mower has said.
    pub status: Option<StatusCode>,
    /// Whether it is within the mowing hours.
    pub hours: bool,
}

/// What a reading of a sensor is like, in the dark and dry.
pub(super) fn law(scenario: &Scenario, sensor: usize, still: &Still) -> Law {
    let eye = Eye::new(&scenario.sensors[sensor]).at_door(scenario.door.height_m);
    let mut around = Surroundings::before_shut_door(still.bodies, DARK, dry(&eye, &DARK));
    (around.door_shut, around.door_open) = (!still.door_open, still.door_open);
    (around.status, around.clock) = (still.status.map(|code| code as u8), still.hours);
    eye.law(&around)
}

/// Detectors that are on, in the dark and dry, as bits.
pub(super) fn settled(scenario: &Scenario, still: &Still) -> u64 {
    let mut stream = Source::new(0, 0, "what stands still in a check").stream(0);
    let mut on = 0;
    for (index, detector) in scenario.detectors.iter().enumerate() {
        let law = law(scenario, detector.sensor, still);
        let mut state = DetectorState::new(detector, &Frame::of(&scenario.sensors[detector.sensor]));
        for _ in 0..2 * (state.memory() + detector.rule.n.max(detector.release.n)) {
            state.feed(law.draw(&mut stream));
        }
        on |= u64::from(state.is_on()) << index;
    }
    on
}

/// Whether a rule holds after these detectors have been on for long, and those before them.
pub(super) fn holds(rule: &Condition, before: u64, now: u64) -> bool {
    let mut rule = Evaluator::new(rule);
    rule.evaluate(Instant::START, before);
    rule.evaluate(Instant::START + STILL, now);
    rule.evaluate(Instant::START + STILL + STILL, now)
}
