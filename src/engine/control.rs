//! The controller in its season: told what happened, its commands carried out.

use super::door::Way;
use super::event::Event;
use super::plan::FALSE_CAUSES;
use super::season::Season;
use super::senses::Sense;
use crate::ledger::blame::Blamed;
use crate::ledger::metric::Key;
use crate::math::time::{Instant, Span};
use crate::scenario::failure::Act;
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::OnDeadSensor;
use crate::sensing::reading::Eye;
use crate::shelter::controller::{Command, Happening, Knowledge, State, Voices};
use crate::shelter::mechanism::Direction;

impl Season<'_> {
    /// Lets the controller decide after something happened or a detector or timer changed.
    pub fn control(&mut self, happening: Happening) {
        let detectors = self.votes();
        let now = self.now;
        let [strict @ .., open_by_any, hold_by_any] = &mut self.rules;
        let [open, hold, doorway, close, inside, wet, fallback] =
            strict.each_mut().map(|rule| rule.evaluate(now, detectors));
        let by_any = self.strategy.by_any_ranger(detectors);
        let by_any_ranger = (open_by_any.evaluate(now, by_any), hold_by_any.evaluate(now, by_any));
        self.follow_rain(wet);
        let before = self.controller.state();
        self.decides_from = before;
        let command = self.controller.decide(&Knowledge {
            now,
            happening,
            place: self.switches_say(happening),
            position_m: self.door.position(now),
            open,
            hold,
            by_any_ranger,
            rangers: self.rangers_say(detectors),
            occupancy: Voices::of(self.strategy.occupancy & !self.health.voteless(), detectors),
            fallback,
            blind: self.falls_back(),
            doorway,
            close,
            inside,
            dead_sensor: self.health.any_lost(),
            doorway_lost: self.doorway_lost(),
            answers: self.doorway_answers(),
            battery_low: self.battery_low(),
        });
        self.pass_on_notices();
        if open && self.controller.wants_open() {
            self.asked_on_way(detectors);
        }
        let after = self.controller.state();
        if before != after {
            if before == State::Closing && after == State::Reversing {
                self.book.count(Key::Reversals);
            }
            if self.tracing() {
                let names: Vec<&str> = (0..self.plan.scenario.detectors.len())
                    .filter(|d| detectors >> d & 1 == 1)
                    .map(|d| self.plan.scenario.detectors[d].name.as_str())
                    .collect();
                let names = if names.is_empty() { "no detector on".to_string() } else { names.join(", ") };
                self.trace("controller", state_name(after), names);
            }
        }
        if command != Command::None {
            self.catch_up();
        }
        match command {
            Command::None => {}
            Command::DriveOpen => self.drive(Direction::Opening, Way::Full),
            Command::Home => self.drive(Direction::Opening, Way::Slow),
            Command::DriveShut => self.drive(Direction::Closing, Way::Full),
            Command::BackOff => self.drive(Direction::Closing, Way::BackOff),
            Command::Halt => {
                self.halt();
                self.refresh(super::senses::change::DOOR);
            }
            Command::Seat => self.seat(),
        }
        self.schedule_wake();
        // A switch that somebody has thrown stays thrown while there is no power.
        if before == State::Unpowered && after != State::Unpowered && self.failing(Act::Manual).next().is_some() {
            self.control(Happening::ManualOn);
        }
    }

    fn schedule_wake(&mut self) {
        let wake = self.rules.iter().map(|rule| rule.wake()).fold(self.controller.wake(), Instant::min);
        if self.wake.is_some_and(|(at, _)| at == wake) {
            return;
        }
        if let Some((_, ticket)) = self.wake.take() {
            self.queue.cancel(ticket);
        }
        if wake < Instant::NEVER {
            // A wake that is already due must still move on in time, or the season would stand still.
            let at = if wake > self.now { wake } else { self.now + Span(1) };
            self.wake = Some((wake, self.queue.schedule(at, Event::Wake)));
        }
    }

    /// The controller wakes by itself.
    pub fn wake_up(&mut self) {
        self.wake = None;
        self.control(Happening::None);
    }

    /// One more cause keeps the power away, or one less.
    pub fn power_fault(&mut self, begins: bool) {
        self.power_faults = if begins { self.power_faults + 1 } else { self.power_faults.saturating_sub(1) };
        self.power_changed();
    }

    /// Power went or came back, or one of several power faults ended while others go on.
    fn power_changed(&mut self) {
        let powered = self.power_faults == 0;
        if powered == self.powered {
            return;
        }
        self.charge_to_now();
        self.powered = powered;
        self.blind = self.blind_now();
        if powered {
            self.refresh(super::senses::change::ALL);
            self.control(Happening::PowerBack);
        } else {
            self.control(Happening::PowerLost);
            self.refresh(super::senses::change::ALL);
            self.forget();
        }
    }

    /// An opening from shut: false if no mower is arriving, departing or waiting; then its cause is looked for.
    pub fn judge_opening(&mut self) {
        if self.mower.wants_the_door() {
            return;
        }
        self.book.count(Key::FalseOpenings);
        self.book.today().false_openings += 1;
        self.this_hour().false_openings += 1;
        let cause = self.false_cause();
        self.book.record().by_cause[Blamed::FalseOpenings][cause] += 1;
        if by_noise(cause) {
            let condition = self.condition();
            self.book.record().noise_openings.counted[condition] += 1;
        }
        if self.tracing() {
            let name = self.plan.causes[Blamed::FalseOpenings][cause].clone();
            self.trace("door", "false opening", name);
        }
    }

    /// The places of the sensors to which these detectors listen.
    fn places_of(&self, on: u64) -> impl Iterator<Item = usize> {
        (0..self.senses.len()).filter(move |place| self.senses[*place].detectors.iter().any(|d| on >> d & 1 == 1))
    }

    /// Whether a sensor to which these detectors listen has a fault or an episode of a failure.
    pub fn out_of_order(&self, on: u64) -> bool {
        self.places_of(on).any(|place| self.senses[place].has_fault() || self.episode_on(place))
    }

    /// Whether the mower is near, and a sensor to which these detectors listen has somebody in view.
    pub fn sees_mower(&self, on: u64) -> bool {
        let looks = |place: usize| super::tallies::looks(&self.plan.scenario.sensors[self.senses[place].sensor].kind);
        self.mower.is_near() && self.places_of(on).any(|place| looks(place) && !self.nothing_in_view(place))
    }

    /// The likeliest cause of an opening that nobody needed: whoever of the open rule's detectors is on, asked in the order power,
    /// retry, dead sensor or fallback, fault or episode of a failure, visitor, mower that did not come for the door, insect or leaf in
    /// a beam, timetable, status, sun, rain, drift, noise.
    fn false_cause(&self) -> usize {
        let named = |name: &str| FALSE_CAUSES.iter().position(|cause| *cause == name).unwrap_or(0);
        if self.decides_from == State::Startup {
            return named("after power loss");
        }
        if self.decides_from == State::Stopped {
            return named("retry of a failed stroke");
        }
        let [open, ..] = &self.rules;
        let stands_in = self.falls_back();
        let held_open = self.settings().on_dead_sensor == OnDeadSensor::HoldOpen;
        if !open.value() && self.health.any_lost() && (stands_in || held_open) {
            return named("dead sensor");
        }
        if !open.value() && stands_in {
            return named("fault");
        }
        let on = self.votes() & self.strategy.open_detectors;
        let listening = || self.places_of(on).map(|place| &self.senses[place]);
        if self.out_of_order(on) {
            return named("fault");
        }
        if let Some(visitor) = self.guest_near() {
            return FALSE_CAUSES.len() + visitor;
        }
        if self.sees_mower(on) {
            return named("mower in view");
        }
        if listening().any(|sense| sense.is_falsely_broken()) {
            return named("insect or leaf");
        }
        // Hours and messages that only permit are no cause: the rule must hold by them alone.
        let of = |test: fn(&SensorKind) -> bool| {
            let those = listening().filter(|sense| test(&self.plan.scenario.sensors[sense.sensor].kind));
            those.flat_map(|sense| &sense.detectors).fold(0_u64, |bits, d| bits | 1 << d) & on
        };
        let (clocks, messages) =
            (of(|kind| matches!(kind, SensorKind::Clock { .. })), of(|kind| matches!(kind, SensorKind::Status { .. })));
        if clocks | messages != 0 && open.rests_on(clocks | messages) {
            return named(if clocks != 0 && !open.rests_on(messages) { "timetable" } else { "status message" });
        }
        // The door was shut until now.
        let sky = |eye: &Eye| self.sky_at(eye, true);
        let (dazzled, rains_in) = (|eye: &Eye| eye.dazzled(&sky(eye)), |eye: &Eye| eye.rains_in(&sky(eye)));
        if listening().any(|sense| dazzled(&self.plan.eyes[sense.sensor])) {
            return named("sun");
        }
        if listening().any(|sense| rains_in(&self.plan.eyes[sense.sensor])) {
            return named("rain");
        }
        let drifted = |sense: &Sense| {
            let offset = self.plan.eyes[sense.sensor].drift(&self.sky) + sense.drifted();
            offset.abs() > 3.0 * self.plan.scenario.sensors[sense.sensor].errors.noise && offset != 0.0
        };
        if listening().any(drifted) {
            return named("drift");
        }
        named("noise")
    }
}

/// Whether the cause of this place comes with nobody there and nothing out of order.
fn by_noise(cause: usize) -> bool {
    FALSE_CAUSES.get(cause).is_some_and(|name| ["noise", "insect or leaf", "rain", "sun", "drift"].contains(name))
}

/// A state in plain words.
pub fn state_name(state: State) -> &'static str {
    match state {
        State::Startup => "starting up",
        State::Shut => "shut",
        State::AboutToOpen => "about to open",
        State::Opening => "opening",
        State::Open => "open",
        State::Warning => "about to close",
        State::Closing => "closing",
        State::Reversing => "reversing",
        State::BackingOff => "backing off",
        State::HoldOpen => "held open",
        State::Manual => "worked by hand",
        State::Stopped => "stopped, will retry",
        State::Fault => "fault, waits for a person",
        State::Unpowered => "without power",
    }
}
