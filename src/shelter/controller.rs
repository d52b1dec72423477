//! The door controller: pure decision. What it knows goes in, one command comes out; its transitions are all in
//! [`Controller::decide`], and nothing here moves, measures or draws anything, so that the same code could be
//! replayed on a log.
//!
//! Order of precedence, first match wins: power, fault, failed strokes, **occupied doorway** (never begin closing,
//! turn back if closing), hold, open, close. Every state has a way out and every wait ends: shut (a rule), opening
//! and reversing (end of the stroke or its time-out), open (a rule), warning (its time), closing (end of the stroke,
//! its time-out, or a reversal), stopped (the retry pause), fault (a person), unpowered (power).

use crate::math::time::Instant;
use crate::scenario::strategy::{AfterPowerLoss, Controller as Settings, OnDeadSensor};

/// What the controller is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// The door is shut.
    Shut,
    /// The door is opening.
    Opening,
    /// The door is open.
    Open,
    /// The door is open and about to close: light and beep.
    Warning,
    /// The door is closing.
    Closing,
    /// A closing stroke was turned back; the door is opening.
    Reversing,
    /// The door stands between its ends and waits for the next try.
    Stopped,
    /// Too many strokes failed: a person must look.
    Fault,
    /// No power.
    Unpowered,
}

/// What happened, besides rules changing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Happening {
    /// Nothing but a rule or a timer.
    None,
    /// The stroke reached its end.
    StrokeEnded,
    /// The stroke stalled, tripped or timed out.
    StrokeFailed,
    /// The force rose as it does against an obstacle.
    Obstructed,
    /// Power went.
    PowerLost,
    /// Power came back.
    PowerBack,
}

/// Where the end switches say the door is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Fully shut.
    Shut,
    /// Fully open.
    Open,
    /// Neither.
    Between,
}

/// What the controller knows when it decides.
#[derive(Clone, Copy, Debug)]
pub struct Knowledge {
    /// The time.
    pub now: Instant,
    /// What happened.
    pub happening: Happening,
    /// Where the door is.
    pub place: Place,
    /// The open rule.
    pub open: bool,
    /// The hold rule.
    pub hold: bool,
    /// The doorway rule: something is in the doorway.
    pub doorway: bool,
    /// The close rule.
    pub close: bool,
    /// A sensor of the strategy is known to be dead.
    pub dead_sensor: bool,
}

/// What the controller wants done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Nothing.
    None,
    /// Drive the door open from where it is.
    DriveOpen,
    /// Drive the door shut from where it is.
    DriveShut,
    /// Motor off.
    Halt,
}

/// The controller.
#[derive(Clone, Debug)]
pub struct Controller {
    settings: Settings,
    state: State,
    /// When it opened fully (the least open time counts from here).
    opened_at: Instant,
    /// The end of the present wait; `Instant::NEVER` if it waits for a rule or a stroke.
    deadline: Instant,
    /// No closing before this (after a reversal).
    not_before: Instant,
    failed: u32,
    /// Whether power went in mid-stroke.
    interrupted: bool,
}

impl Controller {
    /// A controller with the door shut.
    pub fn new(settings: Settings) -> Controller {
        Controller {
            settings,
            state: State::Shut,
            opened_at: Instant::START,
            deadline: Instant::NEVER,
            not_before: Instant::START,
            failed: 0,
            interrupted: false,
        }
    }

    /// What it is doing.
    pub fn state(&self) -> State {
        self.state
    }

    /// When it wants to be asked again although nothing happened.
    pub fn wake(&self) -> Instant {
        self.deadline
    }

    /// Whether the door has been asked for: open, opening, or turned back to opening.
    pub fn wants_open(&self) -> bool {
        matches!(self.state, State::Opening | State::Open | State::Warning | State::Reversing)
    }

    /// Decides. All transitions are here.
    pub fn decide(&mut self, k: &Knowledge) -> Command {
        match k.happening {
            Happening::PowerLost => return self.lose_power(),
            Happening::PowerBack if self.state == State::Unpowered => return self.regain_power(k),
            _ => {}
        }
        let stay_open = k.dead_sensor && self.settings.on_dead_sensor == OnDeadSensor::HoldOpen;
        let open = k.open || stay_open;
        match self.state {
            State::Unpowered => Command::None,
            State::Fault => {
                if k.now >= self.deadline {
                    self.failed = 0;
                    match k.place {
                        Place::Shut => self.enter(State::Shut),
                        Place::Open => self.opened(k.now),
                        Place::Between => return self.drive_open(),
                    }
                }
                Command::None
            }
            State::Shut => {
                if open {
                    self.drive_open()
                } else {
                    Command::None
                }
            }
            State::Opening | State::Reversing => match k.happening {
                Happening::StrokeEnded => {
                    let reversed = self.state == State::Reversing;
                    self.opened(k.now);
                    if reversed {
                        self.not_before = k.now + self.settings.retry_after;
                    } else {
                        self.failed = 0;
                    }
                    self.consider_closing(k, open)
                }
                Happening::StrokeFailed | Happening::Obstructed => self.fail(k.now),
                _ => Command::None,
            },
            State::Stopped => {
                if k.now >= self.deadline {
                    // Towards open: the direction that traps nobody.
                    return self.drive_open();
                }
                Command::None
            }
            State::Open => self.consider_closing(k, open),
            State::Warning => {
                if !self.may_close(k, open) {
                    self.enter(State::Open);
                    self.deadline = self.next_chance(k);
                    return Command::None;
                }
                if k.now >= self.deadline {
                    self.enter(State::Closing);
                    return Command::DriveShut;
                }
                Command::None
            }
            State::Closing => match k.happening {
                Happening::StrokeEnded => {
                    self.failed = 0;
                    self.enter(State::Shut);
                    if open { self.drive_open() } else { Command::None }
                }
                Happening::StrokeFailed | Happening::Obstructed => {
                    self.failed += 1;
                    if self.failed > self.settings.retries {
                        return self.fault(k.now);
                    }
                    self.enter(State::Reversing);
                    Command::DriveOpen
                }
                _ if k.doorway || open => {
                    self.enter(State::Reversing);
                    Command::DriveOpen
                }
                _ => Command::None,
            },
        }
    }

    fn enter(&mut self, state: State) {
        self.state = state;
        self.deadline = Instant::NEVER;
    }

    fn drive_open(&mut self) -> Command {
        self.enter(State::Opening);
        Command::DriveOpen
    }

    fn opened(&mut self, now: Instant) {
        self.enter(State::Open);
        self.opened_at = now;
    }

    /// Whether closing may begin. The doorway comes first; being held open can be overruled only by the longest
    /// open time, an occupied doorway by nothing.
    fn may_close(&self, k: &Knowledge, open: bool) -> bool {
        let held = k.hold && self.settings.open_at_most.is_none_or(|most| k.now < self.opened_at + most);
        !k.doorway
            && !open
            && !held
            && k.close
            && k.now >= self.opened_at + self.settings.open_at_least
            && k.now >= self.not_before
    }

    /// The next moment at which a time alone could allow closing.
    fn next_chance(&self, k: &Knowledge) -> Instant {
        let least = self.opened_at + self.settings.open_at_least;
        let most = self.settings.open_at_most.map_or(Instant::NEVER, |most| self.opened_at + most);
        [least, self.not_before, most].into_iter().filter(|at| *at > k.now).min().unwrap_or(Instant::NEVER)
    }

    fn consider_closing(&mut self, k: &Knowledge, open: bool) -> Command {
        if self.may_close(k, open) {
            self.enter(State::Warning);
            self.deadline = k.now + self.settings.warning;
            if self.settings.warning.0 <= 0 {
                self.enter(State::Closing);
                return Command::DriveShut;
            }
        } else {
            self.deadline = self.next_chance(k);
        }
        Command::None
    }

    fn fail(&mut self, now: Instant) -> Command {
        self.failed += 1;
        if self.failed > self.settings.retries {
            return self.fault(now);
        }
        self.enter(State::Stopped);
        self.deadline = now + self.settings.retry_after;
        Command::Halt
    }

    fn fault(&mut self, now: Instant) -> Command {
        self.enter(State::Fault);
        self.deadline = now + self.settings.fault_cleared_after;
        Command::Halt
    }

    fn lose_power(&mut self) -> Command {
        self.interrupted = matches!(self.state, State::Opening | State::Closing | State::Reversing | State::Stopped);
        self.enter(State::Unpowered);
        Command::Halt
    }

    fn regain_power(&mut self, k: &Knowledge) -> Command {
        match k.place {
            Place::Shut => {
                self.enter(State::Shut);
                if k.open { self.drive_open() } else { Command::None }
            }
            Place::Open => {
                self.opened(k.now);
                self.consider_closing(k, k.open)
            }
            Place::Between => match self.settings.after_power_loss {
                AfterPowerLoss::Open => self.drive_open(),
                AfterPowerLoss::Stay => {
                    self.enter(State::Stopped);
                    // A door left half-way is opened in the end: every wait ends.
                    self.deadline = k.now + self.settings.fault_cleared_after;
                    Command::None
                }
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use crate::math::time::Span;

    fn settings() -> Settings {
        Settings {
            open_at_least: Span::from_seconds(10.0),
            open_at_most: None,
            warning: Span::from_seconds(2.0),
            stroke_timeout: 1.5,
            retry_after: Span::from_seconds(10.0),
            retries: 2,
            fault_cleared_after: Span::HOUR,
            obstruction_force_n: 60.0,
            obstruction_reaction: Span::from_seconds(0.1),
            after_power_loss: AfterPowerLoss::Open,
            on_dead_sensor: OnDeadSensor::HoldOpen,
            dead_after: Span::from_seconds(5.0),
        }
    }

    fn know(seconds: f64, happening: Happening, place: Place) -> Knowledge {
        Knowledge {
            now: Instant::from_seconds(seconds),
            happening,
            place,
            open: false,
            hold: false,
            doorway: false,
            close: true,
            dead_sensor: false,
        }
    }

    #[test]
    fn a_quiet_cycle() {
        let mut c = Controller::new(settings());
        assert_eq!(c.decide(&Knowledge { open: true, ..know(1.0, Happening::None, Place::Shut) }), Command::DriveOpen);
        assert_eq!(c.decide(&know(8.0, Happening::StrokeEnded, Place::Open)), Command::None);
        assert_eq!((c.state(), c.wake()), (State::Open, Instant::from_seconds(18.0)));
        assert_eq!(c.decide(&know(18.0, Happening::None, Place::Open)), Command::None);
        assert_eq!((c.state(), c.wake()), (State::Warning, Instant::from_seconds(20.0)));
        assert_eq!(c.decide(&know(20.0, Happening::None, Place::Open)), Command::DriveShut);
        assert_eq!(c.decide(&know(27.0, Happening::StrokeEnded, Place::Shut)), Command::None);
        assert_eq!(c.state(), State::Shut);
    }

    #[test]
    fn an_occupied_doorway_stops_everything() {
        let mut c = Controller::new(settings());
        c.decide(&Knowledge { open: true, ..know(1.0, Happening::None, Place::Shut) });
        c.decide(&know(8.0, Happening::StrokeEnded, Place::Open));
        let busy = |t| Knowledge { doorway: true, ..know(t, Happening::None, Place::Open) };
        assert_eq!(c.decide(&busy(30.0)), Command::None);
        assert_eq!(c.state(), State::Open);
        c.decide(&know(31.0, Happening::None, Place::Open));
        assert_eq!(c.state(), State::Warning);
        c.decide(&busy(32.0));
        assert_eq!(c.state(), State::Open);
        c.decide(&know(33.0, Happening::None, Place::Open));
        assert_eq!(c.decide(&know(35.0, Happening::None, Place::Open)), Command::DriveShut);
        assert_eq!(c.decide(&Knowledge { place: Place::Between, ..busy(36.0) }), Command::DriveOpen);
        assert_eq!(c.state(), State::Reversing);
    }

    #[test]
    fn a_person_is_called_after_too_many_failures() {
        let mut c = Controller::new(settings());
        c.decide(&Knowledge { open: true, ..know(0.0, Happening::None, Place::Shut) });
        for t in [1.0, 20.0] {
            assert_eq!(c.decide(&know(t, Happening::StrokeFailed, Place::Between)), Command::Halt);
            assert_eq!(c.decide(&know(t + 10.0, Happening::None, Place::Between)), Command::DriveOpen);
        }
        assert_eq!(c.decide(&know(40.0, Happening::StrokeFailed, Place::Between)), Command::Halt);
        assert_eq!(c.state(), State::Fault);
        assert_eq!(c.decide(&know(3_640.0, Happening::None, Place::Between)), Command::DriveOpen);
    }

    /// Random sequences of happenings and rules: closing never begins nor goes on with the doorway reported
    /// occupied, no state lacks an exit, and moving states belong to the commands given.
    #[test]
    fn random_walk_keeps_the_interlocks() {
        let mut stream = Source::new(11, 0, "walk").stream(0);
        let mut c = Controller::new(settings());
        let mut now = 0.0;
        let mut place = Place::Shut;
        for _ in 0..200_000 {
            now += stream.exponential(3.0);
            let moving = matches!(c.state(), State::Opening | State::Closing | State::Reversing);
            let happening = match (stream.uniform() * 12.0) as u32 {
                0..=2 if moving => Happening::StrokeEnded,
                3 if moving => Happening::StrokeFailed,
                4 if moving => Happening::Obstructed,
                5 if stream.chance(0.05) => Happening::PowerLost,
                6 => Happening::PowerBack,
                _ => Happening::None,
            };
            if moving {
                place = Place::Between;
            }
            if happening == Happening::StrokeEnded {
                place = if c.state() == State::Closing { Place::Shut } else { Place::Open };
            }
            let k = Knowledge {
                now: Instant::from_seconds(now),
                happening,
                place,
                open: stream.chance(0.2),
                hold: stream.chance(0.2),
                doorway: stream.chance(0.3),
                close: stream.chance(0.8),
                dead_sensor: stream.chance(0.02),
            };
            let before = c.state();
            let command = c.decide(&k);
            if k.doorway {
                assert_ne!(command, Command::DriveShut);
                let ended = happening == Happening::StrokeEnded;
                assert!(c.state() != State::Closing || ended, "still closing on an occupied doorway from {before:?}");
            }
            match command {
                Command::DriveShut => assert_eq!(c.state(), State::Closing),
                Command::DriveOpen => assert!(matches!(c.state(), State::Opening | State::Reversing)),
                Command::Halt => assert!(matches!(c.state(), State::Stopped | State::Fault | State::Unpowered)),
                Command::None => {}
            }
            // A wait that is not for a rule, a stroke or power has a deadline.
            if matches!(c.state(), State::Warning | State::Stopped | State::Fault) {
                assert!(c.wake() < Instant::NEVER);
            }
        }
    }
}
