//! The door controller: pure decision. What it knows goes in, one command comes out; its transitions are all in
//! [`Controller::decide`], and nothing here moves, measures or draws anything, so that the same code could be
//! replayed on a log.
//!
//! Order of precedence, first match wins: power, a restart, the hand on the door, the stop button, **the doorway** (never
//! begin closing nor go on closing while it is occupied or unproven), an obstacle, the ends of the stroke, then hold, open,
//! close. Proven means: its rule has been at rest for a while, its sensors answer a self-test asked for this closing, and
//! none of them has lost its vote. Every state has a way out and every wait ends:
//!
//! | state | what ends it |
//! |---|---|
//! | starting up | listening, then what the end switches say; between them a clear doorway, after ten minutes in any case |
//! | shut, open | a rule |
//! | about to open, about to close | its time |
//! | opening, closing, reversing, backing off | the end of the stroke, an obstacle, its time-out |
//! | stopped | the pause before the next try, and a clear doorway, after ten more minutes in any case |
//! | held open | a sensor that answers again, or time |
//! | by hand | a person, or time |
//! | fault | a person |
//! | unpowered | power |
//!
//! Timings and their defaults are common practice for small door drives.

mod decide;
mod dispute;

pub use dispute::Voices;

use crate::math::time::{Instant, Span};
use crate::scenario::strategy::Controller as Settings;
use dispute::Dispute;

/// What the controller is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Just started: it listens, the motor is off.
    Startup,
    /// The door is shut.
    Shut,
    /// The door is shut and about to open: light and beep.
    AboutToOpen,
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
    /// An opening stroke met an obstacle; the door gives way a little.
    BackingOff,
    /// The door stands between its ends and waits for the next try.
    Stopped,
    /// The door is held open: its doorway cannot be proven clear, or closing has failed too often.
    HoldOpen,
    /// A person works the door by hand; the motor is off.
    Manual,
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
    /// The controller was reset by a dip of its supply.
    Reset,
    /// Somebody pressed "open".
    OpenPressed,
    /// Somebody pressed "stop".
    StopPressed,
    /// Somebody took the door into his hands: the release, or a panel that moves with the motor off.
    ManualOn,
    /// He gave it back.
    ManualOff,
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
    /// Both at once, which cannot be.
    Contradictory,
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
    /// How far it is from shut, m.
    pub position_m: f64,
    /// The open rule.
    pub open: bool,
    /// The hold rule.
    pub hold: bool,
    /// The open rule and the hold rule with any ranger counting as all.
    pub by_any_ranger: (bool, bool),
    /// What the rangers of the opening rule say.
    pub rangers: Voices,
    /// What the detectors say that tell whether the mower is in.
    pub occupancy: Voices,
    /// The fallback rule.
    pub fallback: bool,
    /// No sensor of the opening rule has a vote left.
    pub blind: bool,
    /// The doorway rule: something is in the doorway.
    pub doorway: bool,
    /// The close rule.
    pub close: bool,
    /// The rule that says whether the mower is inside.
    pub inside: bool,
    /// A sensor of the strategy has no vote.
    pub dead_sensor: bool,
    /// A sensor of the doorway rule has no vote, and that is heeded.
    pub doorway_lost: bool,
    /// The doorway's sensors would answer a self-test now. It is asked only where the answer matters.
    pub answers: bool,
    /// The battery holds less than is needed to close and to open again, with the reserve that is asked for.
    pub battery_low: bool,
}

/// What the controller wants done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Nothing.
    None,
    /// Drive the door open from where it is.
    DriveOpen,
    /// The same at reduced speed: it does not know yet where it is.
    Home,
    /// Drive the door shut from where it is.
    DriveShut,
    /// Drive it towards shut by the back-off distance.
    BackOff,
    /// Motor off.
    Halt,
    /// Motor off; the panel presses on its seal and counts as shut.
    Seat,
}

/// What a person is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Notice {
    /// The door waits for a person.
    Fault,
    /// The door is held open.
    HeldOpen,
    /// The door has been open for longer than it should be, and something still holds it.
    OpenTooLong,
    /// The door is still worked by hand.
    StillManual,
    /// Manual operation was ended after its longest time.
    ManualEnded,
    /// The door stays open because the battery could not open it again.
    BatteryLow,
    /// The rangers have contradicted each other for long.
    RangersDisagree,
    /// The sensors that say whether the mower is in have contradicted each other for long.
    InsideContradicts,
}

/// Why the door is held open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Held {
    /// The doorway's sensors failed their self-test or lost their vote.
    Unproven,
    /// Closing has failed too often.
    Retries,
}

/// The controller.
#[derive(Clone, Debug)]
pub struct Controller {
    settings: Settings,
    state: State,
    /// When the present state began.
    entered: Instant,
    /// The end of the present wait; `Instant::NEVER` if it waits for a rule or a stroke.
    deadline: Instant,
    /// When it opened fully (the least open time counts from here).
    opened_at: Instant,
    /// No closing before this (after a reversal).
    not_before: Instant,
    /// While stopped: the end of the pause before the next try.
    ready_at: Instant,
    /// Strokes that failed in a row; kept through a loss of power.
    failed: u32,
    /// Whether a restart has just cut a stroke off, and whether firmware gone wrong tries again without limit or pause.
    cut_off: bool,
    hunts: bool,
    /// Whether one of them was a closing: then only a door that shuts, or a person, makes up for them.
    closing_failed: bool,
    /// Whether a start follows a loss of power rather than a person's work.
    power_was_lost: bool,
    /// Whether it does not know where the door is, and has met no end since.
    lost: bool,
    /// Since when the doorway rule has been at rest; none while it speaks.
    clear_since: Option<Instant>,
    /// Since when the mower has stayed in or gone, with the doorway clear, and whether it was at rest then.
    still_since: Instant,
    restless: bool,
    inside: bool,
    held: Held,
    /// Since when the doorway's sensors have answered, while it is held open for them.
    answers_since: Option<Instant>,
    /// The rangers, and the detectors of occupancy, as far as they contradict each other.
    rangers: Dispute,
    occupancy: Dispute,
    /// Whether the notice of the present state was given.
    noticed: bool,
    /// Whether somebody was told of the low battery since the door was last shut.
    battery_told: bool,
    notice: Option<Notice>,
}

/// A door found half-way, or stopped, whose doorway does not become clear is opened after this in any case: opening traps
/// nobody (common practice: ten minutes).
pub const OPENS_IN_ANY_CASE_AFTER: Span = Span(600_000_000);

/// A fault that a person would clear is looked at again after this while the doorway's sensors do not answer (common
/// practice: an hour).
pub const LOOKS_AGAIN_AFTER: Span = Span::HOUR;

/// A battery that is too low to close on is looked at again after this (common practice: ten minutes).
pub const LOOKS_AT_BATTERY_AFTER: Span = Span(600_000_000);

impl Controller {
    /// A controller with the door shut.
    pub fn new(settings: Settings) -> Controller {
        Controller {
            settings,
            state: State::Shut,
            entered: Instant::START,
            deadline: Instant::NEVER,
            opened_at: Instant::START,
            not_before: Instant::START,
            ready_at: Instant::START,
            failed: 0,
            cut_off: false,
            hunts: false,
            closing_failed: false,
            power_was_lost: false,
            lost: false,
            clear_since: None,
            still_since: Instant::START,
            restless: false,
            inside: false,
            held: Held::Unproven,
            answers_since: None,
            rangers: Dispute::default(),
            occupancy: Dispute::default(),
            noticed: false,
            battery_told: false,
            notice: None,
        }
    }

    /// What it is doing.
    pub fn state(&self) -> State {
        self.state
    }

    /// When it wants to be asked again although nothing happened.
    pub fn wake(&self) -> Instant {
        let care = &self.settings.care;
        let rangers = self.rangers.due(care.disagreement_after_s);
        self.deadline.min(rangers).min(self.occupancy.due(care.contradiction_after_s))
    }

    /// What the last decision had to tell a person, contradictions between sensors apart.
    pub fn notice(&self) -> Option<Notice> {
        self.notice
    }

    /// The contradictions that the last decision found to have lasted too long.
    pub fn doubts(&self) -> impl Iterator<Item = Notice> + use<> {
        let rangers = self.rangers.is_news().then_some(Notice::RangersDisagree);
        let occupancy = self.occupancy.is_news().then_some(Notice::InsideContradicts);
        rangers.into_iter().chain(occupancy)
    }

    /// Whether rangers contradict each other.
    pub fn rangers_dispute(&self) -> bool {
        self.rangers.is_open()
    }

    /// Whether the sensors inside have contradicted each other for too long.
    pub fn is_in_doubt(&self) -> bool {
        self.occupancy.lasts()
    }

    /// Whether the door has been asked for: open, opening, or turned back to opening.
    pub fn wants_open(&self) -> bool {
        matches!(
            self.state,
            State::AboutToOpen | State::Opening | State::Open | State::Warning | State::Reversing | State::HoldOpen
        )
    }
}

#[cfg(test)]
mod tests;
