//! The season's sensors as the controller judges them: who has lost its vote, and whose zero is tracked.

use super::event::Event;
use super::season::Season;
use super::senses::{Sense, change};
use crate::ledger::metric::Key;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::care::{Care, ZeroTracking};
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::OnDeadSensor;
use crate::scenario::visitor::FaultKind;
use crate::sensing::health;
use crate::sensing::law::Reading;
use crate::shelter::condition::Evaluator;
use crate::shelter::controller::{Happening, Notice, State, Voices};

/// Who has a vote.
#[derive(Clone, Debug, Default)]
pub struct Votes {
    /// Outages that have been noticed and not yet been found ended (indices into the season's outages).
    noticed: Vec<u32>,
    /// Judgements to come: when, and of which outage.
    expected: Vec<(Instant, u32)>,
    /// Sensors that have drifted, as bits by their places among the strategy's.
    drifted: u64,
    /// Sensors without a vote, likewise.
    lost: u64,
    /// Their detectors.
    voteless: u64,
}

impl Votes {
    /// Whether any sensor has lost its vote.
    pub fn any_lost(&self) -> bool {
        self.lost != 0
    }

    /// The detectors of sensors without a vote, as bits.
    pub fn voteless(&self) -> u64 {
        self.voteless
    }

    /// Whether a judgement may change the votes after `now`, up to `until`.
    pub fn may_change(&self, now: Instant, until: Instant) -> bool {
        self.expected.iter().any(|(at, _)| *at > now && *at <= until)
    }
}

/// Time between two steps of a tracked zero (common practice).
const ZERO_STEP: Span = Span(600_000_000);

impl Season<'_> {
    pub fn care(&self) -> &Care {
        &self.plan.scenario.strategies[self.strategy.index].controller.care
    }

    fn on_dead_sensor(&self) -> OnDeadSensor {
        self.plan.scenario.strategies[self.strategy.index].controller.on_dead_sensor
    }

    /// What the controller hears of its detectors, those without a vote left out.
    pub fn votes(&self) -> u64 {
        self.heard & !self.health.voteless
    }

    /// The detectors that have nothing to say: those without a vote, and those that listen to messages of which none is believed.
    pub fn silent_detectors(&self) -> u64 {
        let kind = |sense: &Sense| &self.plan.scenario.sensors[sense.sensor].kind;
        let deaf = |sense: &&Sense| matches!(kind(sense), SensorKind::Status { .. }) && sense.status().is_none();
        let silent = self.senses.iter().filter(deaf).flat_map(|sense| &sense.detectors);
        silent.fold(self.health.voteless, |bits, detector| bits | 1 << detector)
    }

    /// A detector has nothing to say any more, or has again: what weighs evidence minds. Whether any rule does.
    fn heed_silent(&mut self) -> bool {
        let silent = self.silent_detectors();
        let mut minds = false;
        self.rules.iter_mut().for_each(|rule| minds |= rule.heed_silent(silent));
        minds
    }

    /// A status sensor has begun or ceased to believe what it heard.
    pub fn belief_changes(&mut self) {
        if self.heed_silent() {
            self.watch_disturbed();
            self.control(Happening::None);
        }
    }

    /// Whether a sensor of the doorway rule has lost its vote, and that is heeded.
    pub fn doorway_lost(&self) -> bool {
        self.on_dead_sensor() == OnDeadSensor::DropVote && self.health.lost & self.strategy.doorway_senses != 0
    }

    /// Whether the last sensor of the opening rule has lost its vote, so that the fallback joins it. A rule that only listens to
    /// the mower has lost its last vote once the network is down and what was heard has grown too old.
    pub fn falls_back(&self) -> bool {
        if self.on_dead_sensor() != OnDeadSensor::DropVote {
            return false;
        }
        let (eyes, ears) = (self.strategy.open_senses, self.strategy.open_ears);
        if eyes != 0 {
            return eyes & !self.health.lost == 0;
        }
        let deaf = |place: usize| ears >> place & 1 == 0 || self.senses[place].status().is_none();
        ears != 0 && self.network_faults > 0 && (0..self.senses.len()).all(deaf)
    }

    /// What the mower says is no longer believed, or is again: a rule that only listens to it may fall back now.
    pub fn ears_change(&mut self) {
        if self.strategy.open_senses == 0 && self.on_dead_sensor() == OnDeadSensor::DropVote {
            self.watch_disturbed();
            self.control(Happening::None);
        }
    }

    /// What the rangers of the opening rule say, each as a whole; those without a vote are not asked.
    pub fn rangers_say(&self, votes: u64) -> Voices {
        let (mut asked, mut on) = (0_u64, 0_u64);
        for (place, detectors) in self.strategy.rangers.iter().enumerate() {
            let heard = detectors & !self.health.voteless;
            asked |= u64::from(heard != 0) << place;
            on |= u64::from(heard & votes != 0) << place;
        }
        Voices::of(asked, on)
    }

    /// Whether the doorway's sensors answer a self-test now: each is made to see something for a moment (a beam's emitter is
    /// switched off, a ranger's target or a bridge's shunt is switched in). A silent or stuck one does not follow, nor one
    /// that loses nearly every reading.
    pub fn doorway_answers(&self) -> bool {
        self.powered
            && (0..self.senses.len())
                .filter(|place| self.strategy.tested_senses >> place & 1 == 1)
                .all(|place| self.senses[place].answers())
    }

    /// A fault has begun or ended: when will it be noticed?
    pub fn expect_judgement(&mut self, outage: u32, begins: bool) {
        let fault = &self.plan.scenario.faults[self.outside.outages[outage as usize].fault];
        let (FaultKind::SensorSilent(sensor) | FaultKind::SensorStuck(sensor) | FaultKind::SensorNoisy(sensor)) =
            fault.kind
        else {
            return;
        };
        let Some(place) = self.senses.iter().position(|sense| sense.sensor == sensor) else { return };
        let spec = &self.plan.scenario.sensors[sensor];
        let care = *self.care();
        let block = Span(spec.period.0.saturating_mul(i64::from(care.frozen_samples)));
        if !begins {
            // Silence and repetition end with the first other reading; a block must pass for the noise.
            if matches!(fault.kind, FaultKind::SensorNoisy(_)) && self.health.noticed.contains(&outage) {
                self.judge_at(self.now + block, outage);
            } else {
                self.judge(outage);
            }
            return;
        }
        let dead_after = self.plan.scenario.strategies[self.strategy.index].controller.dead_after;
        let dead_after = health::dead_after(dead_after, care.dead_samples, spec.period);
        match fault.kind {
            FaultKind::SensorSilent(_) if care.unhealthy.dead => self.judge_at(self.now + dead_after, outage),
            FaultKind::SensorStuck(_) => match self.senses[place].stuck_at() {
                Reading::Nothing if care.unhealthy.dead => self.judge_at(self.now + dead_after, outage),
                stuck_at
                    if care.unhealthy.frozen
                        && health::freezes_visibly(stuck_at, spec.errors.noise, spec.errors.resolution) =>
                {
                    let first = self.channels[place].first_sample(self.now);
                    let at = self.channels[place].time_of(first + i64::from(care.frozen_samples));
                    self.judge_at(at, outage);
                }
                _ => {}
            },
            FaultKind::SensorNoisy(_) if care.unhealthy.noisy && self.reads_something(place) => {
                let p = health::conspicuous(care.frozen_samples, care.noisy_beyond, fault.noise_factor);
                let name = format!("sensor {} health", spec.name);
                let mut stream = Source::new(self.seed, self.outside.season, &name).stream(u64::from(outage));
                let blocks = stream.failures_before_success(p).saturating_add(1);
                let after = health::noisy_after(blocks, care.frozen_samples, spec.period);
                self.judge_at(self.now + after, outage);
            }
            _ => {}
        }
    }

    /// Whether sensor `place` reads a number with noise, with nobody there, most of the time: noise shows in nothing else.
    fn reads_something(&self, place: usize) -> bool {
        let law = self.law_at_rest(place);
        law.targets.iter().filter(|target| target.sigma > 0.0).map(|target| target.weight).sum::<f64>() > 0.5
    }

    fn judge_at(&mut self, at: Instant, outage: u32) {
        if at < self.end {
            self.health.expected.push((at, outage));
            self.queue.schedule(at, Event::Judged(outage));
        }
    }

    /// A sensor's readings have shown by now whether this outage affects them.
    pub fn judge(&mut self, outage: u32) {
        let now = self.now;
        self.health.expected.retain(|(at, _)| *at > now);
        self.health.noticed.retain(|other| *other != outage);
        if now < self.outside.outages[outage as usize].to {
            self.health.noticed.push(outage);
        }
        self.count_votes();
    }

    /// Asks again who has drifted; after the weather has changed, or a random drift.
    pub fn judge_drift(&mut self) {
        if !self.care().unhealthy.drifted {
            return;
        }
        let beyond = self.care().drifted_beyond;
        let mut drifted = 0;
        for (place, sense) in self.senses.iter().enumerate() {
            let eye = &self.plan.eyes[sense.sensor];
            let refers = match &eye.sensor().kind {
                SensorKind::OpticalRange { background_m, .. } => background_m.is_some(),
                SensorKind::PlatformLoad { .. } | SensorKind::Tilt { .. } => true,
                _ => false,
            };
            let drift = eye.drift(&self.sky) + sense.drifted() + sense.laden.left_kg() - sense.zero();
            if refers && health::has_drifted(drift, eye.sensor().errors.noise, beyond) {
                drifted |= 1 << place;
            }
        }
        if drifted != self.health.drifted {
            self.health.drifted = drifted;
            self.count_votes();
        }
    }

    fn count_votes(&mut self) {
        let mut lost = self.health.drifted;
        for outage in &self.health.noticed {
            let fault = &self.plan.scenario.faults[self.outside.outages[*outage as usize].fault];
            if let FaultKind::SensorSilent(sensor) | FaultKind::SensorStuck(sensor) | FaultKind::SensorNoisy(sensor) =
                fault.kind
                && let Some(place) = self.senses.iter().position(|sense| sense.sensor == sensor)
            {
                lost |= 1 << place;
            }
        }
        if lost == self.health.lost {
            return;
        }
        if self.tracing() {
            let changed = lost ^ self.health.lost;
            for place in (0..self.senses.len()).filter(|place| changed >> place & 1 == 1) {
                let name = self.plan.scenario.sensors[self.senses[place].sensor].name.clone();
                let what = if lost >> place & 1 == 1 { "loses its vote" } else { "has its vote back" };
                self.trace(&name, what, String::new());
            }
        }
        self.health.lost = lost;
        let places = (0..self.senses.len()).filter(|place| lost >> place & 1 == 1);
        self.health.voteless = places
            .flat_map(|place| self.senses[place].detectors.iter())
            .fold(0, |voteless, detector| voteless | 1 << detector);
        self.heed_silent();
        self.watch_disturbed();
        self.control(Happening::None);
    }

    /// The first step of tracked zeros.
    pub fn track_zeros(&mut self) {
        let platform = |sense: &super::senses::Sense| {
            matches!(self.plan.scenario.sensors[sense.sensor].kind, SensorKind::PlatformLoad { .. })
        };
        if self.care().zero_tracking != ZeroTracking::Off && self.senses.iter().any(platform) {
            self.queue.schedule(self.now + ZERO_STEP, Event::ZeroStep);
        }
    }

    /// Moves the zero of load platforms towards what they read, by no more than the rate allows. The mean of the last
    /// minutes is taken as the law's own: thousands of readings leave no noise in it.
    pub fn zero_step(&mut self) {
        self.queue.schedule(self.now + ZERO_STEP, Event::ZeroStep);
        let care = *self.care();
        let rest = self.controller.state() == State::Shut
            && self.door.is_shut()
            && self.rules.iter().zip([true, true, true, false, true]).all(|(rule, counts)| !counts || !rule.value());
        if !self.powered || (care.zero_tracking == ZeroTracking::Gated && !rest) {
            return;
        }
        let most = care.zero_per_hour_kg * ZERO_STEP.hours();
        for place in 0..self.senses.len() {
            let sense = &self.senses[place];
            let sensor = &self.plan.scenario.sensors[sense.sensor];
            if !matches!(sensor.kind, SensorKind::PlatformLoad { .. })
                || sense.is_faulty()
                || self.health.lost >> place & 1 == 1
            {
                continue;
            }
            let off = self.law_of(place, self.now).targets[0].mean;
            let zero = (sense.zero() + off.clamp(-most, most)).clamp(-care.zero_at_most_kg, care.zero_at_most_kg);
            if zero != sense.zero() {
                self.senses[place].set_zero(zero);
                self.refresh_one(place);
            }
        }
    }

    /// The supply has dipped under a stroke: the controller restarts and has forgotten what it was doing.
    pub fn browned_out(&mut self) {
        self.trace("controller", "restarts after a brown-out", String::new());
        self.book.count(Key::StrokesFailed);
        self.halt();
        self.forget();
        self.refresh(change::DOOR);
        self.control(Happening::Reset);
    }

    /// The controller forgets what it was waiting for: rules with their durations, detectors with their windows.
    pub fn forget(&mut self) {
        self.heard = 0;
        self.rules.iter_mut().for_each(Evaluator::begin_anew);
        self.short_rule = false;
        for place in 0..self.senses.len() {
            self.channels[place].forget(self.now);
            let latency = self.senses[place].latency();
            if latency.0 > 0 {
                // What is still on its way from before is followed by what holds now.
                for place_of in 0..self.senses[place].detectors.len() {
                    let detector = self.senses[place].detectors[place_of] as u32;
                    self.queue.schedule(self.now + latency, Event::Heard(detector, false));
                }
            }
        }
        self.watch_disturbed();
    }

    /// Lets the detectors of the opening rule need one sample less while it rains, or as many as usual again.
    pub fn follow_rain(&mut self, wet: bool) {
        if wet == self.short_rule {
            return;
        }
        self.short_rule = wet;
        for place in 0..self.senses.len() {
            let opens = |detector: &usize| self.strategy.open_detectors >> detector & 1 == 1;
            let which = self.senses[place].detectors.iter().map(opens);
            self.channels[place].shorten(self.now, which, wet);
        }
        self.watch_disturbed();
    }

    /// Writes what a person is told into the event log.
    pub fn pass_on_notices(&mut self) {
        for doubt in self.controller.doubts() {
            self.trace("notice", notice_text(doubt), String::new());
            // The rules are no longer those that the working out knows of.
            self.watch_disturbed();
        }
        if let Some(notice) = self.controller.notice() {
            self.trace("notice", notice_text(notice), String::new());
        }
    }
}

/// What a person is told, in words.
fn notice_text(notice: Notice) -> &'static str {
    match notice {
        Notice::Fault => "waits for a person",
        Notice::HeldOpen => "holds the door open",
        Notice::OpenTooLong => "the door has been open for long",
        Notice::StillManual => "the door is still worked by hand",
        Notice::ManualEnded => "ends the work by hand",
        Notice::BatteryLow => "stays open, the battery could not open it again",
        Notice::RangersDisagree => "the rangers contradict each other",
        Notice::InsideContradicts => "the sensors inside contradict each other",
    }
}
