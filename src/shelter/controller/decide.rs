//! The transitions.

use super::dispute::Dispute;
use super::{
    Command, Controller, Happening, Held, Knowledge, LOOKS_AGAIN_AFTER, LOOKS_AT_BATTERY_AFTER, Notice,
    OPENS_IN_ANY_CASE_AFTER, Place, State,
};
use crate::math::time::{Instant, Span};
use crate::scenario::care::{AfterRetries, ClosingTimeout, OpeningTimeout, SEATED_M};
use crate::scenario::strategy::{AfterPowerLoss, OnDeadSensor};

/// Pause before a try of firmware that has no limit to them (common practice: such firmware tries at once).
const NO_PAUSE: Span = Span(5_000_000);

impl State {
    /// Whether the motor runs.
    pub fn moves(self) -> bool {
        matches!(self, State::Opening | State::Closing | State::Reversing | State::BackingOff)
    }
}

impl Controller {
    /// Decides. All transitions are here.
    pub fn decide(&mut self, known: &Knowledge) -> Command {
        self.notice = None;
        self.rangers.nothing_new();
        self.occupancy.nothing_new();
        match known.happening {
            Happening::PowerLost => return self.lose_power(known.now),
            Happening::PowerBack if self.state == State::Unpowered => {
                self.deadline = known.now + self.settings.care.power_stable_for;
            }
            _ => {}
        }
        if self.state == State::Unpowered && known.now < self.deadline {
            return Command::None;
        }
        let k = &self.heeded(known);
        if self.state == State::Unpowered {
            if std::mem::take(&mut self.cut_off) && self.is_at_its_limit() {
                return self.fault(k.now);
            }
            return self.start_up(k, true);
        }
        self.observe(k);
        match k.happening {
            Happening::Reset => return self.reset(k),
            Happening::ManualOn if self.state != State::Manual => return self.hand_over(k.now),
            Happening::ManualOff if self.state == State::Manual => return self.start_up(k, false),
            Happening::StopPressed if self.state.moves() => return self.stop(k.now),
            _ => {}
        }
        match self.state {
            State::Unpowered => Command::None,
            State::Startup => self.find_itself(k),
            State::Shut => {
                if k.open || k.happening == Happening::OpenPressed {
                    self.begin_opening(k.now)
                } else {
                    Command::None
                }
            }
            State::AboutToOpen => {
                if k.now >= self.deadline {
                    self.drive_open(k.now)
                } else {
                    Command::None
                }
            }
            State::Opening | State::Reversing => self.on_the_way_open(k),
            State::BackingOff => match k.happening {
                Happening::StrokeEnded | Happening::StrokeFailed | Happening::Obstructed => self.stop(k.now),
                _ if k.doorway || k.doorway_lost => self.stop(k.now),
                _ => Command::None,
            },
            State::Stopped => {
                let at_last = self.ready_at + OPENS_IN_ANY_CASE_AFTER;
                if k.now >= at_last || (k.now >= self.ready_at && !k.doorway) {
                    // Towards open: the direction that traps nobody.
                    return if self.lost { self.home(k.now) } else { self.drive_open(k.now) };
                }
                self.deadline = if k.now < self.ready_at { self.ready_at } else { at_last };
                Command::None
            }
            State::Open => self.rest_open(k),
            State::Warning => self.about_to_close(k),
            State::Closing => self.on_the_way_shut(k),
            State::HoldOpen => self.stay_held(k),
            State::Manual => {
                if k.now >= self.entered + self.settings.care.manual_at_most {
                    let command = self.start_up(k, false);
                    self.notice = Some(Notice::ManualEnded);
                    return command;
                }
                if !self.noticed && k.now >= self.entered + self.settings.care.manual_reminder {
                    self.tell(Notice::StillManual);
                }
                self.deadline = self.next_in_manual();
                Command::None
            }
            State::Fault => {
                if k.now >= self.deadline {
                    if !k.answers {
                        self.deadline = k.now + LOOKS_AGAIN_AFTER;
                        return Command::None;
                    }
                    self.forgive();
                    return self.start_up(k, false);
                }
                Command::None
            }
        }
    }

    /// What it heeds of what is known: without the interlock nothing of the doorway, without the self-test no answer to
    /// it; a dead sensor opens if it is to hold open. Rangers that have contradicted each other for long count as all that
    /// any of them says; with the opening rule blind, or the sensors inside in contradiction, the fallback may open, too.
    fn heeded(&mut self, known: &Knowledge) -> Knowledge {
        let mut k = *known;
        let care = &self.settings.care;
        if self.rangers.hears(k.now, k.rangers, care.disagreement_after_s) {
            k.open |= k.by_any_ranger.0;
            k.hold |= k.by_any_ranger.1;
        }
        let in_doubt = self.occupancy.hears(k.now, k.occupancy, care.contradiction_after_s);
        k.open |= k.fallback && (k.blind || in_doubt);
        if !care.interlock {
            (k.doorway, k.doorway_lost, k.answers) = (false, false, true);
        }
        k.answers |= !care.self_test;
        k.battery_low &= care.reopening_reserve > 0.0;
        k.open |= k.dead_sensor && self.settings.on_dead_sensor == OnDeadSensor::HoldOpen;
        k
    }

    /// Keeps account of since when the doorway has been clear and the mower has been in or gone.
    fn observe(&mut self, k: &Knowledge) {
        if k.doorway {
            self.clear_since = None;
        } else {
            self.clear_since.get_or_insert(k.now);
        }
        let restless = restless(k);
        if restless || self.restless || k.inside != self.inside {
            self.still_since = k.now;
        }
        self.restless = restless;
        self.inside = k.inside;
    }

    fn enter(&mut self, state: State, now: Instant) {
        self.state = state;
        self.entered = now;
        self.deadline = Instant::NEVER;
        self.noticed = false;
    }

    fn tell(&mut self, notice: Notice) {
        self.noticed = true;
        self.notice = Some(notice);
    }

    // ---- power, restart, hand, stop ----

    fn lose_power(&mut self, now: Instant) -> Command {
        self.enter(State::Unpowered, now);
        (self.rangers, self.occupancy) = (Dispute::default(), Dispute::default());
        Command::Halt
    }

    /// A dip of the supply: a stroke that it cut off counts as failed, or it would try for ever.
    fn reset(&mut self, k: &Knowledge) -> Command {
        if self.state.moves() {
            self.count_failure();
            if self.is_at_its_limit() {
                return self.fault(k.now);
            }
        }
        self.start_up(k, true)
    }

    fn hand_over(&mut self, now: Instant) -> Command {
        self.enter(State::Manual, now);
        self.deadline = self.next_in_manual();
        Command::Halt
    }

    fn next_in_manual(&self) -> Instant {
        let care = &self.settings.care;
        let ends = self.entered + care.manual_at_most;
        if self.noticed { ends } else { ends.min(self.entered + care.manual_reminder) }
    }

    fn stop(&mut self, now: Instant) -> Command {
        self.wait_stopped(now, self.pause());
        Command::Halt
    }

    fn wait_stopped(&mut self, now: Instant, pause: Span) {
        self.enter(State::Stopped, now);
        self.ready_at = now + pause;
        self.deadline = self.ready_at;
    }

    // ---- start ----

    /// Begins to listen, with nothing remembered but the number of failed strokes.
    fn start_up(&mut self, k: &Knowledge, power_was_lost: bool) -> Command {
        self.enter(State::Startup, k.now);
        self.power_was_lost = power_was_lost;
        self.not_before = k.now;
        self.clear_since = (!k.doorway).then_some(k.now);
        (self.still_since, self.restless, self.inside) = (k.now, restless(k), k.inside);
        match self.find_itself(k) {
            Command::None => Command::Halt,
            command => command,
        }
    }

    fn find_itself(&mut self, k: &Knowledge) -> Command {
        let care = self.settings.care;
        let listened = self.entered + care.startup_listens;
        if k.now < listened {
            self.deadline = listened;
            return Command::None;
        }
        let at_last = listened + OPENS_IN_ANY_CASE_AFTER;
        let in_any_case = k.now >= at_last;
        self.lost = k.place == Place::Between;
        match k.place {
            Place::Contradictory => self.fault(k.now),
            Place::Open => self.opened(k),
            Place::Shut if !k.doorway || in_any_case => {
                self.enter(State::Shut, k.now);
                if k.open { self.begin_opening(k.now) } else { Command::None }
            }
            Place::Between if self.power_was_lost && self.settings.after_power_loss == AfterPowerLoss::Stay => {
                // A door left half-way waits for a person; with none it is opened in the end: every wait ends.
                self.fault(k.now)
            }
            Place::Between if in_any_case || self.clear_for(care.homing_clear_for, k.now) => self.home(k.now),
            Place::Shut | Place::Between => {
                let clear = self.clear_since.map_or(Instant::NEVER, |since| since + care.homing_clear_for);
                self.deadline = at_last.min(clear);
                Command::None
            }
        }
    }

    fn clear_for(&self, span: Span, now: Instant) -> bool {
        self.clear_since.is_some_and(|since| now >= since + span)
    }

    // ---- opening ----

    fn begin_opening(&mut self, now: Instant) -> Command {
        let warning = self.settings.care.opening_warning;
        if warning.0 <= 0 {
            return self.drive_open(now);
        }
        self.enter(State::AboutToOpen, now);
        self.deadline = now + warning;
        Command::None
    }

    fn drive_open(&mut self, now: Instant) -> Command {
        self.enter(State::Opening, now);
        Command::DriveOpen
    }

    /// Opens at reduced speed: where the end is, it has yet to find out.
    fn home(&mut self, now: Instant) -> Command {
        self.enter(State::Opening, now);
        Command::Home
    }

    fn turn_back(&mut self, now: Instant) -> Command {
        self.enter(State::Reversing, now);
        Command::DriveOpen
    }

    fn on_the_way_open(&mut self, k: &Knowledge) -> Command {
        match k.happening {
            Happening::StrokeEnded if self.state == State::Reversing || self.closing_failed => {
                self.not_before = k.now + self.pause();
                if self.is_at_its_limit() {
                    self.opened_at = k.now;
                    self.lost = false;
                    return self.hold_open(Held::Retries, k.now);
                }
                self.opened(k)
            }
            Happening::StrokeEnded => {
                self.forgive();
                self.opened(k)
            }
            Happening::StrokeFailed if self.settings.care.opening_timeout == OpeningTimeout::Fault => {
                self.count_failure();
                self.fault(k.now)
            }
            Happening::StrokeFailed => self.fail(k.now),
            Happening::Obstructed => {
                self.count_failure();
                if self.is_at_its_limit() {
                    return self.fault(k.now);
                }
                // Giving way is a movement towards shut: not in a doorway that is not proven clear.
                if self.settings.care.back_off_m > 0.0 && self.proven(k) {
                    self.enter(State::BackingOff, k.now);
                    return Command::BackOff;
                }
                self.stop(k.now)
            }
            _ => Command::None,
        }
    }

    fn opened(&mut self, k: &Knowledge) -> Command {
        self.enter(State::Open, k.now);
        self.lost = false;
        self.opened_at = k.now;
        self.rest_open(k)
    }

    // ---- open ----

    /// Whether something may move towards shut: the doorway is clear, has been for long enough, and its sensors answer.
    fn proven(&self, k: &Knowledge) -> bool {
        !k.doorway && !k.doorway_lost && k.answers && self.clear_for(self.settings.care.doorway_clear_for, k.now)
    }

    /// The moment from which the hold rule is overruled.
    fn open_at_most(&self) -> Instant {
        self.settings.open_at_most.map_or(Instant::NEVER, |most| self.opened_at + most)
    }

    fn still_until(&self) -> Instant {
        let care = &self.settings.care;
        let delay = if self.inside { care.close_after_in } else { care.close_after_gone };
        if delay.0 <= 0 { Instant::START } else { self.still_since + delay }
    }

    /// Whether closing may be announced. The doorway comes first; being held open can be overruled only by the longest
    /// open time, an occupied doorway by nothing.
    fn may_close(&self, k: &Knowledge) -> bool {
        let overruled = k.now >= self.open_at_most();
        !k.doorway
            && !k.doorway_lost
            && !k.open
            && (!k.hold || overruled)
            && k.close
            && !k.battery_low
            && k.now >= self.opened_at + self.settings.open_at_least
            && k.now >= self.not_before
            && (overruled || k.now >= self.still_until())
    }

    /// The next moment at which a time alone could allow closing.
    fn next_chance(&self, k: &Knowledge) -> Instant {
        let least = self.opened_at + self.settings.open_at_least;
        // Restlessness ends with a rule, not with time.
        let still = if self.restless { Instant::NEVER } else { self.still_until() };
        let charged = if k.battery_low { k.now + LOOKS_AT_BATTERY_AFTER } else { Instant::NEVER };
        [least, self.not_before, still, self.open_at_most(), charged]
            .into_iter()
            .filter(|at| *at > k.now)
            .min()
            .unwrap_or(Instant::NEVER)
    }

    fn rest_open(&mut self, k: &Knowledge) -> Command {
        if k.doorway_lost {
            return self.hold_open(Held::Unproven, k.now);
        }
        if self.may_close(k) {
            self.enter(State::Warning, k.now);
            self.deadline = k.now + self.settings.warning;
            return if self.settings.warning.0 <= 0 { self.about_to_close(k) } else { Command::None };
        }
        if !self.noticed && k.now >= self.open_at_most() {
            self.tell(Notice::OpenTooLong);
        } else if !self.battery_told && self.may_close(&Knowledge { battery_low: false, ..*k }) {
            // Nothing else keeps it from closing.
            self.battery_told = true;
            self.notice = Some(Notice::BatteryLow);
        }
        self.deadline = self.next_chance(k);
        Command::None
    }

    fn about_to_close(&mut self, k: &Knowledge) -> Command {
        if !self.may_close(k) {
            self.enter(State::Open, k.now);
            return self.rest_open(k);
        }
        if k.now < self.deadline {
            return Command::None;
        }
        let clear_for = self.settings.care.doorway_clear_for;
        if !self.clear_for(clear_for, k.now) {
            self.deadline = self.clear_since.map_or(Instant::NEVER, |since| since + clear_for);
            return Command::None;
        }
        // Asked last, so that the answer is for this closing.
        if !k.answers {
            return self.hold_open(Held::Unproven, k.now);
        }
        self.enter(State::Closing, k.now);
        Command::DriveShut
    }

    fn hold_open(&mut self, held: Held, now: Instant) -> Command {
        self.enter(State::HoldOpen, now);
        self.tell(Notice::HeldOpen);
        self.held = held;
        self.answers_since = None;
        if held == Held::Retries {
            self.deadline = now + self.settings.care.hold_open_for;
        }
        Command::None
    }

    fn stay_held(&mut self, k: &Knowledge) -> Command {
        if self.held == Held::Unproven {
            if k.answers && !k.doorway_lost {
                let since = *self.answers_since.get_or_insert(k.now);
                self.deadline = since + self.settings.care.self_test_ok_for;
            } else {
                self.answers_since = None;
                self.deadline = Instant::NEVER;
            }
        }
        if k.now < self.deadline {
            return Command::None;
        }
        self.forgive();
        self.enter(State::Open, k.now);
        self.rest_open(k)
    }

    // ---- closing ----

    fn on_the_way_shut(&mut self, k: &Knowledge) -> Command {
        match k.happening {
            Happening::StrokeEnded => self.shut(k, Command::None),
            Happening::StrokeFailed | Happening::Obstructed => {
                let care = self.settings.care;
                let seated = k.position_m <= care.soft_seal_m.min(SEATED_M) && care.soft_seal_m > 0.0;
                if seated && !k.doorway {
                    return self.shut(k, Command::Seat);
                }
                if k.happening == Happening::StrokeFailed && care.closing_timeout == ClosingTimeout::Stop {
                    return self.fail(k.now);
                }
                self.count_failure();
                if self.is_at_its_limit() && care.after_retries == AfterRetries::Fault {
                    return self.fault(k.now);
                }
                self.turn_back(k.now)
            }
            _ if k.doorway || k.doorway_lost => self.turn_back(k.now),
            _ if k.open && self.settings.care.turns_back => self.turn_back(k.now),
            _ => Command::None,
        }
    }

    fn shut(&mut self, k: &Knowledge, command: Command) -> Command {
        self.forgive();
        self.battery_told = false;
        self.enter(State::Shut, k.now);
        if !k.open {
            return command;
        }
        match self.begin_opening(k.now) {
            Command::None => command,
            opening => opening,
        }
    }

    // ---- failures ----

    /// A restart cuts off whatever it does: a stroke under way counts as failed.
    pub fn is_cut_off(&mut self) {
        if self.state.moves() {
            self.count_failure();
            self.cut_off = true;
        }
    }

    /// Its firmware goes wrong, or right again: it tries for ever, and at once.
    pub fn hunt(&mut self, hunts: bool) {
        self.hunts = hunts;
    }

    /// Whether no retry is left.
    fn is_at_its_limit(&self) -> bool {
        !self.hunts && self.failed > self.settings.retries
    }

    /// Pause before the next try: it grows with every failure in a row.
    fn pause(&self) -> Span {
        if self.hunts {
            return NO_PAUSE.min(self.settings.retry_after);
        }
        let first = self.settings.retry_after;
        let longest = self.settings.care.retry_at_most.max(first).seconds();
        let mut pause = first.seconds();
        for _ in 1..self.failed {
            pause *= self.settings.care.retry_growth;
            if pause >= longest {
                return Span::from_seconds(longest);
            }
        }
        Span::from_seconds(pause)
    }

    fn forgive(&mut self) {
        (self.failed, self.closing_failed) = (0, false);
    }

    fn count_failure(&mut self) {
        self.failed += 1;
        self.closing_failed |= self.state == State::Closing;
    }

    fn fail(&mut self, now: Instant) -> Command {
        self.count_failure();
        if self.is_at_its_limit() {
            return self.fault(now);
        }
        self.stop(now)
    }

    fn fault(&mut self, now: Instant) -> Command {
        self.enter(State::Fault, now);
        self.tell(Notice::Fault);
        self.deadline = now + self.settings.fault_cleared_after;
        Command::Halt
    }
}

/// Whether somebody may be coming or going: in the doorway, or outside with a rule that holds or asks for the door.
fn restless(k: &Knowledge) -> bool {
    k.doorway || (!k.inside && (k.hold || k.open))
}
