//! A door in the hands of the controller: what it commands is done, what is told to it is kept consistent, and what must
//! never happen is watched for.

use std::cell::{Cell, RefCell};

use dooryard::math::time::{Instant, Span};
use dooryard::scenario::care::Care;
use dooryard::scenario::strategy::{AfterPowerLoss, Controller as Settings, OnDeadSensor};
use dooryard::shelter::controller::{Command, Controller, Happening, Knowledge, Place, State, Voices};

thread_local! {
    /// What a test changes in the settings of the table's scripts.
    static TURN: Cell<fn(&mut Settings)> = const { Cell::new(|_| {}) };
    /// The states a script has been in so far, and since when.
    static WAY: RefCell<Vec<(Instant, State)>> = const { RefCell::new(Vec::new()) };
}

/// The way that a script goes with changed settings: the states it has been in, up to where it does not do what it says.
pub fn way(script: fn() -> World, turn: fn(&mut Settings)) -> Vec<(Instant, State)> {
    TURN.set(turn);
    WAY.take();
    // What comes after the script belongs to it as well: a quarter of a day.
    let _ = std::panic::catch_unwind(|| script().wait(21_600.0));
    TURN.set(|_| {});
    WAY.take()
}

/// Settings with the figures of the table, where it has them.
pub fn by_the_table() -> Settings {
    use dooryard::scenario::care::{AfterRetries, ClosingTimeout, OpeningTimeout};
    let s = Span::from_seconds;
    let mut settings = Settings {
        open_at_least: s(10.0),
        open_at_most: Some(s(3_600.0)),
        warning: s(3.0),
        stroke_timeout: 1.5,
        retry_after: s(10.0),
        retries: 3,
        fault_cleared_after: s(7_200.0),
        obstruction_force_n: 60.0,
        obstruction_reaction: s(0.1),
        after_power_loss: AfterPowerLoss::Open,
        on_dead_sensor: OnDeadSensor::DropVote,
        dead_after: s(5.0),
        care: Care {
            close_after_in: s(20.0),
            close_after_gone: s(40.0),
            opening_warning: s(0.5),
            opening_timeout: OpeningTimeout::Fault,
            closing_timeout: ClosingTimeout::Stop,
            after_retries: AfterRetries::HoldOpen,
            contradiction_after_s: 600.0,
            disagreement_after_s: 30.0,
            ..Care::default()
        },
    };
    TURN.get()(&mut settings);
    settings
}

/// The door and what is known of it.
pub struct World {
    pub controller: Controller,
    pub settings: Settings,
    pub k: Knowledge,
    /// The motor: towards open, or towards shut.
    pub motor: Option<bool>,
    clear_since: Option<Instant>,
}

impl World {
    pub fn new(settings: Settings) -> World {
        let k = Knowledge {
            now: Instant::START,
            happening: Happening::None,
            place: Place::Shut,
            position_m: 0.2,
            open: false,
            hold: false,
            doorway: false,
            close: true,
            inside: false,
            dead_sensor: false,
            doorway_lost: false,
            answers: true,
            by_any_ranger: (false, false),
            rangers: Voices::default(),
            occupancy: Voices::default(),
            fallback: false,
            blind: false,
            battery_low: false,
        };
        World { controller: Controller::new(settings), settings, k, motor: None, clear_since: None }
    }

    /// Tells the controller what happened, does what it says, and checks what must hold. Gives what it was told and its
    /// command.
    pub fn tell(&mut self, happening: Happening) -> (Knowledge, Command) {
        if happening == Happening::StrokeEnded {
            // A back-off ends between the ends.
            if self.controller.state() != State::BackingOff {
                self.k.place = if self.motor == Some(true) { Place::Open } else { Place::Shut };
            }
            self.motor = None;
        }
        if self.k.doorway {
            self.clear_since = None;
        } else {
            self.clear_since.get_or_insert(self.k.now);
        }
        self.k.happening = happening;
        let told = self.k;
        let command = self.controller.decide(&told);
        self.k.happening = Happening::None;
        self.obey(command);
        WAY.with_borrow_mut(|way| {
            let state = self.controller.state();
            if way.last().is_none_or(|(_, last)| *last != state) {
                way.push((self.k.now, state));
            }
        });
        self.check(&told, command);
        (told, command)
    }

    /// A while later, woken whenever it asked to be.
    pub fn wait(&mut self, seconds: f64) {
        let until = self.k.now + Span::from_seconds(seconds);
        let mut woken = 0;
        while self.controller.wake() <= until {
            self.k.now = self.controller.wake().max(self.k.now);
            self.tell(Happening::None);
            woken += 1;
            assert!(woken < 100, "it wakes without end in {:?}", self.controller.state());
        }
        self.k.now = until;
    }

    fn obey(&mut self, command: Command) {
        match command {
            Command::None => {}
            Command::DriveOpen | Command::Home => self.motor = Some(true),
            Command::DriveShut | Command::BackOff => self.motor = Some(false),
            Command::Halt => self.motor = None,
            Command::Seat => (self.motor, self.k.place) = (None, Place::Shut),
        }
        if self.motor.is_some() {
            self.k.place = Place::Between;
        }
    }

    fn check(&self, told: &Knowledge, command: Command) {
        let (care, state) = (&self.settings.care, self.controller.state());
        // One motion at a time, and the one that the state says.
        let expected = match state {
            State::Opening | State::Reversing => Some(true),
            State::Closing | State::BackingOff => Some(false),
            _ => None,
        };
        assert_eq!(self.motor, expected, "{state:?} after {command:?}, told {told:?}");
        if care.interlock {
            let towards_shut = matches!(command, Command::DriveShut | Command::BackOff);
            let proven = !told.doorway
                && !told.doorway_lost
                && (told.answers || !care.self_test)
                && self.clear_since.is_some_and(|since| told.now >= since + care.doorway_clear_for);
            assert!(!towards_shut || proven, "{command:?} in an unproven doorway: {told:?}");
            assert!(
                !(told.doorway || told.doorway_lost) || self.motor != Some(false),
                "goes on towards shut in {state:?}: {told:?}"
            );
        }
        let refused = told.battery_low && care.reopening_reserve > 0.0;
        assert!(!refused || command != Command::DriveShut, "closes on a battery that could not open again: {told:?}");
        // A wait that ends with time has an end in sight.
        let ends_by_time =
            matches!(state, State::Startup | State::AboutToOpen | State::Warning | State::Stopped | State::Manual)
                || state == State::Fault;
        assert!(!ends_by_time || self.controller.wake() < Instant::NEVER, "{state:?} waits for ever");
    }
}
