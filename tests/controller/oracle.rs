//! A slow, obvious controller, written from the rows of the transition table and from nothing else: it keeps the whole
//! log of what it was told and looks every time span up in it, row by row, in the order of precedence.

use dooryard::math::time::{Instant, Span};
use dooryard::scenario::care::{AfterRetries, ClosingTimeout, OpeningTimeout, SEATED_M};
use dooryard::scenario::strategy::{AfterPowerLoss, Controller as Settings, OnDeadSensor};
use dooryard::shelter::controller::{
    Command, Happening, Knowledge, LOOKS_AGAIN_AFTER, Notice, OPENS_IN_ANY_CASE_AFTER, Place, State, Voices,
};

/// The rows of the table that the controller has, in the table's order, and after them what the table leaves open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Row {
    AnyReset,
    StartupClosed,
    StartupOpen,
    StartupHomes,
    StartupContradiction,
    ClosedAsked,
    ClosedButton,
    OpeningEnds,
    OpeningObstructed,
    OpeningTimesOut,
    OpeningStopped,
    OpenMowerIn,
    OpenMowerGone,
    OpenNotClear,
    OpenTooLong,
    OpenSelfTestFails,
    ClosingDoorway,
    ClosingObstructed,
    ClosingAsked,
    ClosingEnds,
    ClosingTimesOut,
    ClosingSeals,
    ReversingEnds,
    ReversingGivesUp,
    StoppedRetries,
    FaultCleared,
    HoldOpenResumes,
    AnyManual,
    ManualEnds,
    AnyPowerLost,
    UnpoweredEnds,
    ClosedContradiction,
    AnyRangersDisagree,
    // What the table leaves open.
    OpeningWarned,
    WarningBrokenOff,
    WarningEnds,
    OpenDoorwayLost,
    OpeningFails,
    BackingOffEnds,
    StopPressed,
    GivesUp,
    StartupStays,
    HoldOpenTimeOver,
    OpenBatteryLow,
}

/// One thing it was told, and what it made of it.
#[derive(Clone, Copy, Debug)]
struct Entry {
    k: Knowledge,
    /// The row that fired last; none if nothing changed.
    row: Option<Row>,
    state: State,
    /// Failed strokes in a row after it.
    failed: u32,
    /// Whether the state began with this entry.
    begins: bool,
    /// Whether the door arrived at open with it.
    arrived_open: bool,
}

pub struct Oracle {
    settings: Settings,
    log: Vec<Entry>,
}

/// Whether voices that ought to be one are not.
fn differ(voices: Voices) -> bool {
    voices.some && !voices.all
}

type Outcome = (Row, State, Command);

impl Oracle {
    pub fn new(settings: Settings) -> Oracle {
        Oracle { settings, log: Vec::new() }
    }

    pub fn state(&self) -> State {
        self.log.last().map_or(State::Shut, |entry| entry.state)
    }

    /// Told something; `kept` says that the controller was told the same. Gives the command and the rows that fired.
    pub fn step(&mut self, known: &Knowledge, kept: bool) -> (Command, Vec<Row>) {
        let mut k = self.heeded(known);
        let (mut command, mut rows) = (Command::None, Vec::new());
        let length = self.log.len();
        // Nothing has changed yet.
        self.push(k, None, self.state(), self.failed(), false);
        while let Some((row, state, orders)) = self.row(&k) {
            let failed = self.failed_after(row);
            rows.push(row);
            self.push(k, Some(row), state, failed, true);
            if orders != Command::None {
                command = orders;
            }
            // What happened is used up; states without a wait of their own may end at once.
            k.happening = Happening::None;
            if !matches!(state, State::Startup | State::Shut | State::AboutToOpen | State::Open | State::Warning) {
                break;
            }
        }
        if rows.is_empty() && !kept {
            self.log.truncate(length);
        }
        (command, rows)
    }

    fn push(&mut self, k: Knowledge, row: Option<Row>, state: State, failed: u32, begins: bool) {
        let arrived_open =
            matches!(row, Some(Row::OpeningEnds | Row::ReversingEnds | Row::ReversingGivesUp | Row::StartupOpen));
        self.log.push(Entry { k, row, state, failed, begins, arrived_open });
    }

    fn heeded(&self, known: &Knowledge) -> Knowledge {
        let care = self.settings.care;
        let hold_open = self.settings.on_dead_sensor == OnDeadSensor::HoldOpen;
        let disagree = self.lasts(known, |k| differ(k.rangers), care.disagreement_after_s);
        let in_doubt = self.lasts(known, |k| differ(k.occupancy), care.contradiction_after_s);
        let (open_by_any, hold_by_any) = known.by_any_ranger;
        let stands_in = known.fallback && (known.blind || in_doubt);
        Knowledge {
            doorway: known.doorway && care.interlock,
            doorway_lost: known.doorway_lost && care.interlock,
            answers: known.answers || !care.self_test || !care.interlock,
            open: known.open || (known.dead_sensor && hold_open) || (disagree && open_by_any) || stands_in,
            hold: known.hold || (disagree && hold_by_any),
            battery_low: known.battery_low && care.reopening_reserve > 0.0,
            ..*known
        }
    }

    // ---- looking up ----

    /// Whether something has held for so long, at every entry since the controller last had power and now.
    fn lasts(&self, now: &Knowledge, holds: impl Fn(&Knowledge) -> bool, after_s: f64) -> bool {
        let powered = |entry: &&Entry| entry.state != State::Unpowered && entry.k.happening != Happening::PowerLost;
        let before = self.log.iter().rev().take_while(powered).take_while(|entry| holds(&entry.k)).last();
        let since = before.map_or(now.now, |entry| entry.k.now);
        holds(now) && after_s.is_finite() && now.now >= since + Span::from_seconds(after_s)
    }

    fn last(&self, what: impl Fn(&Entry) -> bool) -> Option<&Entry> {
        self.log.iter().rev().find(|entry| what(entry))
    }

    fn failed(&self) -> u32 {
        self.log.last().map_or(0, |entry| entry.failed)
    }

    fn entered(&self) -> Instant {
        self.last(|entry| entry.begins).map_or(Instant::START, |entry| entry.k.now)
    }

    /// The row by which the present state began.
    fn entered_by(&self) -> Option<Row> {
        self.last(|entry| entry.begins).and_then(|entry| entry.row)
    }

    /// The log since the last start.
    fn since_start(&self) -> &[Entry] {
        let first = self.log.iter().rposition(|entry| entry.begins && entry.state == State::Startup).unwrap_or(0);
        &self.log[first..]
    }

    /// Since when something has held at every entry up to the last.
    fn since(log: &[Entry], holds: impl Fn(&Knowledge) -> bool) -> Option<Instant> {
        log.iter().rev().take_while(|entry| holds(&entry.k)).last().map(|entry| entry.k.now)
    }

    fn clear_for(&self, span: Span) -> bool {
        let now = self.log.last().map_or(Instant::START, |entry| entry.k.now);
        Self::since(self.since_start(), |k| !k.doorway).is_some_and(|since| now >= since + span)
    }

    /// The last moment at which the mower came in or went, or somebody was in the doorway, or (with the mower gone) a rule
    /// held or asked for the door.
    fn still_since(&self) -> Instant {
        let restless = |k: &Knowledge| k.doorway || (!k.inside && (k.hold || k.open));
        let log = self.since_start();
        let started = log.first().filter(|entry| entry.state == State::Startup && entry.begins);
        let (mut still, mut was, mut inside) = match started {
            Some(entry) => (entry.k.now, restless(&entry.k), entry.k.inside),
            None => (Instant::START, false, false),
        };
        let skip = usize::from(started.is_some());
        for entry in log.iter().skip(skip) {
            // What held at the entry before held up to this one.
            if was || restless(&entry.k) || inside != entry.k.inside {
                still = entry.k.now;
            }
            (was, inside) = (restless(&entry.k), entry.k.inside);
        }
        still
    }

    /// Pauses: the first, then each so many times the last, up to the longest.
    fn pause(&self, failed: u32) -> Span {
        let care = self.settings.care;
        let first = self.settings.retry_after.seconds();
        let longest = care.retry_at_most.seconds().max(first);
        Span::from_seconds((first * care.retry_growth.powi(failed.saturating_sub(1) as i32)).min(longest))
    }

    fn not_before(&self) -> Instant {
        let entry = self.last(|entry| {
            matches!(entry.row, Some(Row::ReversingEnds | Row::ReversingGivesUp))
                || (entry.begins && entry.state == State::Startup)
        });
        match entry {
            Some(entry) if entry.state == State::Startup => entry.k.now,
            Some(entry) => entry.k.now + self.pause(entry.failed),
            None => Instant::START,
        }
    }

    fn opened_at(&self) -> Instant {
        self.last(|entry| entry.arrived_open).map_or(Instant::START, |entry| entry.k.now)
    }

    fn overruled(&self, k: &Knowledge) -> bool {
        self.settings.open_at_most.is_some_and(|most| k.now >= self.opened_at() + most)
    }

    fn may_close(&self, k: &Knowledge) -> bool {
        let care = self.settings.care;
        let delay = if k.inside { care.close_after_in } else { care.close_after_gone };
        let settled = delay.0 <= 0 || k.now >= self.still_since() + delay;
        k.close
            && !k.battery_low
            && !k.doorway
            && !k.doorway_lost
            && !k.open
            && (self.overruled(k) || (!k.hold && settled))
            && k.now >= self.opened_at() + self.settings.open_at_least
            && k.now >= self.not_before()
    }

    fn proven(&self, k: &Knowledge) -> bool {
        !k.doorway && !k.doorway_lost && k.answers && self.clear_for(self.settings.care.doorway_clear_for)
    }

    fn gives_up(&self) -> bool {
        self.failed() + 1 > self.settings.retries
    }

    /// Whether a closing is among the failures that count: nothing but a door that shuts, or a person, makes up for it.
    fn closing_failed(&self) -> bool {
        let counted = (1..self.log.len()).rev().take_while(|place| self.log[*place].failed > 0);
        let mut failures = counted.filter(|place| self.log[*place].failed > self.log[place - 1].failed);
        failures.any(|place| self.log[place - 1].state == State::Closing)
    }

    /// Whether the last start found the door between its ends, and it has not arrived at one since.
    fn is_lost(&self) -> bool {
        let ends = |entry: &Entry| entry.arrived_open || entry.row == Some(Row::StartupClosed);
        let homes = |entry: &Entry| entry.row == Some(Row::StartupHomes);
        self.last(|entry| ends(entry) || homes(entry)).is_some_and(homes)
    }

    fn failed_after(&self, row: Row) -> u32 {
        match row {
            Row::OpeningEnds | Row::ClosingEnds | Row::ClosingSeals | Row::FaultCleared => 0,
            Row::HoldOpenResumes | Row::HoldOpenTimeOver => 0,
            Row::OpeningObstructed
            | Row::OpeningTimesOut
            | Row::OpeningFails
            | Row::ClosingObstructed
            | Row::ClosingTimesOut => self.failed() + 1,
            Row::GivesUp => self.failed() + 1,
            Row::AnyReset if self.state().moves() => self.failed() + 1,
            _ => self.failed(),
        }
    }

    // ---- the rows ----

    fn row(&self, k: &Knowledge) -> Option<Outcome> {
        let care = self.settings.care;
        let state = self.state();
        let for_now = |span: Span| k.now >= self.entered() + span;
        if k.happening == Happening::PowerLost {
            return Some((Row::AnyPowerLost, State::Unpowered, Command::Halt));
        }
        if state == State::Unpowered {
            // Stable since the last time that it came back.
            let back = self.last(|entry| entry.k.happening == Happening::PowerBack || entry.begins)?;
            let stable = back.k.happening == Happening::PowerBack && k.now >= back.k.now + care.power_stable_for;
            return stable.then_some((Row::UnpoweredEnds, State::Startup, Command::Halt));
        }
        match k.happening {
            Happening::Reset if state.moves() && self.gives_up() => {
                return Some((Row::GivesUp, State::Fault, Command::Halt));
            }
            Happening::Reset => return Some((Row::AnyReset, State::Startup, Command::Halt)),
            Happening::ManualOn if state != State::Manual => {
                return Some((Row::AnyManual, State::Manual, Command::Halt));
            }
            Happening::ManualOff if state == State::Manual => {
                return Some((Row::ManualEnds, State::Startup, Command::Halt));
            }
            Happening::StopPressed if state == State::Opening => {
                return Some((Row::OpeningStopped, State::Stopped, Command::Halt));
            }
            Happening::StopPressed if state.moves() => {
                return Some((Row::StopPressed, State::Stopped, Command::Halt));
            }
            _ => {}
        }
        match state {
            State::Startup => self.startup(k),
            State::Shut if k.open => Some((Row::ClosedAsked, State::AboutToOpen, Command::None)),
            State::Shut if k.happening == Happening::OpenPressed => {
                Some((Row::ClosedButton, State::AboutToOpen, Command::None))
            }
            State::AboutToOpen if for_now(care.opening_warning) => {
                Some((Row::OpeningWarned, State::Opening, Command::DriveOpen))
            }
            State::Opening | State::Reversing => self.opening(k),
            State::BackingOff => {
                let over =
                    matches!(k.happening, Happening::StrokeEnded | Happening::StrokeFailed | Happening::Obstructed);
                (over || k.doorway || k.doorway_lost).then_some((Row::BackingOffEnds, State::Stopped, Command::Halt))
            }
            State::Stopped => {
                let pause = self.pause(self.failed());
                let retries = (for_now(pause) && !k.doorway) || for_now(pause + OPENS_IN_ANY_CASE_AFTER);
                let command = if self.is_lost() { Command::Home } else { Command::DriveOpen };
                retries.then_some((Row::StoppedRetries, State::Opening, command))
            }
            State::Open => self.open(k),
            State::Warning => {
                if !self.may_close(k) {
                    return Some((Row::WarningBrokenOff, State::Open, Command::None));
                }
                if !for_now(self.settings.warning) || !self.clear_for(care.doorway_clear_for) {
                    return None;
                }
                if !k.answers {
                    return Some((Row::OpenSelfTestFails, State::HoldOpen, Command::None));
                }
                self.proven(k).then_some((Row::WarningEnds, State::Closing, Command::DriveShut))
            }
            State::Closing => self.closing(k),
            State::HoldOpen => {
                if self.entered_by() == Some(Row::ReversingGivesUp) {
                    return for_now(care.hold_open_for).then_some((Row::HoldOpenTimeOver, State::Open, Command::None));
                }
                let begin = self.log.iter().rposition(|entry| entry.begins)?;
                let since = Self::since(&self.log[begin + 1..], |k| k.answers && !k.doorway_lost)?;
                (k.now >= since + care.self_test_ok_for).then_some((Row::HoldOpenResumes, State::Open, Command::None))
            }
            State::Manual if for_now(care.manual_at_most) => Some((Row::ManualEnds, State::Startup, Command::Halt)),
            State::Fault => {
                // A person comes, and again every so often while the doorway's sensors do not answer.
                let comes = self.entered() + self.settings.fault_cleared_after;
                let late = k.now.since(comes).0;
                let before = self.log[..self.log.len() - 1].iter().rev();
                let in_vain = before.take_while(|entry| entry.k.now == k.now).any(|entry| !entry.k.answers);
                (late >= 0 && late % LOOKS_AGAIN_AFTER.0 == 0 && k.answers && !in_vain).then_some((
                    Row::FaultCleared,
                    State::Startup,
                    Command::Halt,
                ))
            }
            _ => None,
        }
    }

    fn startup(&self, k: &Knowledge) -> Option<Outcome> {
        let care = self.settings.care;
        let listened = self.entered() + care.startup_listens;
        if k.now < listened {
            return None;
        }
        let at_last = k.now >= listened + OPENS_IN_ANY_CASE_AFTER;
        let power = matches!(self.entered_by(), Some(Row::UnpoweredEnds | Row::AnyReset));
        match k.place {
            Place::Contradictory => Some((Row::StartupContradiction, State::Fault, Command::Halt)),
            Place::Open => Some((Row::StartupOpen, State::Open, Command::None)),
            Place::Shut => (!k.doorway || at_last).then_some((Row::StartupClosed, State::Shut, Command::None)),
            Place::Between if power && self.settings.after_power_loss == AfterPowerLoss::Stay => {
                Some((Row::StartupStays, State::Fault, Command::Halt))
            }
            Place::Between => (at_last || self.clear_for(care.homing_clear_for)).then_some((
                Row::StartupHomes,
                State::Opening,
                Command::Home,
            )),
        }
    }

    fn opening(&self, k: &Knowledge) -> Option<Outcome> {
        let care = self.settings.care;
        match k.happening {
            Happening::StrokeEnded if self.state() == State::Opening && !self.closing_failed() => {
                Some((Row::OpeningEnds, State::Open, Command::None))
            }
            Happening::StrokeEnded if self.failed() > self.settings.retries => {
                Some((Row::ReversingGivesUp, State::HoldOpen, Command::None))
            }
            Happening::StrokeEnded => Some((Row::ReversingEnds, State::Open, Command::None)),
            Happening::StrokeFailed if care.opening_timeout == OpeningTimeout::Fault => {
                Some((Row::OpeningTimesOut, State::Fault, Command::Halt))
            }
            Happening::StrokeFailed | Happening::Obstructed if self.gives_up() => {
                Some((Row::GivesUp, State::Fault, Command::Halt))
            }
            Happening::StrokeFailed => Some((Row::OpeningFails, State::Stopped, Command::Halt)),
            Happening::Obstructed if care.back_off_m > 0.0 && self.proven(k) => {
                Some((Row::OpeningObstructed, State::BackingOff, Command::BackOff))
            }
            Happening::Obstructed => Some((Row::OpeningObstructed, State::Stopped, Command::Halt)),
            _ => None,
        }
    }

    fn open(&self, k: &Knowledge) -> Option<Outcome> {
        if k.doorway_lost {
            return Some((Row::OpenDoorwayLost, State::HoldOpen, Command::None));
        }
        if self.may_close(k) {
            let row = if k.inside { Row::OpenMowerIn } else { Row::OpenMowerGone };
            return Some((row, State::Warning, Command::None));
        }
        None
    }

    fn closing(&self, k: &Knowledge) -> Option<Outcome> {
        let care = self.settings.care;
        match k.happening {
            Happening::StrokeEnded => Some((Row::ClosingEnds, State::Shut, Command::None)),
            Happening::StrokeFailed | Happening::Obstructed => {
                let timed_out = k.happening == Happening::StrokeFailed && care.closing_timeout == ClosingTimeout::Stop;
                if care.soft_seal_m > 0.0 && k.position_m <= care.soft_seal_m.min(SEATED_M) && !k.doorway {
                    Some((Row::ClosingSeals, State::Shut, Command::Seat))
                } else if self.gives_up() && (timed_out || care.after_retries == AfterRetries::Fault) {
                    Some((Row::GivesUp, State::Fault, Command::Halt))
                } else if timed_out {
                    Some((Row::ClosingTimesOut, State::Stopped, Command::Halt))
                } else {
                    Some((Row::ClosingObstructed, State::Reversing, Command::DriveOpen))
                }
            }
            _ if k.doorway || k.doorway_lost => Some((Row::ClosingDoorway, State::Reversing, Command::DriveOpen)),
            _ if k.open && care.turns_back => Some((Row::ClosingAsked, State::Reversing, Command::DriveOpen)),
            _ => None,
        }
    }

    /// The rows that change no state: they hold at the last entry.
    pub fn staying(&self) -> Vec<Row> {
        let Some(entry) = self.log.last() else { return Vec::new() };
        let (k, state, care) = (&entry.k, self.state(), self.settings.care);
        let powered = state != State::Unpowered;
        let waits = state == State::Open;
        [
            (waits && k.doorway, Row::OpenNotClear),
            (waits && !k.doorway && self.overruled(k), Row::OpenTooLong),
            (waits && self.refused_for_the_battery(k), Row::OpenBatteryLow),
            (
                state == State::Shut && self.lasts(k, |k| differ(k.occupancy), care.contradiction_after_s),
                Row::ClosedContradiction,
            ),
            (powered && self.lasts(k, |k| differ(k.rangers), care.disagreement_after_s), Row::AnyRangersDisagree),
        ]
        .into_iter()
        .filter_map(|(holds, row)| holds.then_some(row))
        .collect()
    }

    fn refused_for_the_battery(&self, k: &Knowledge) -> bool {
        k.battery_low && self.may_close(&Knowledge { battery_low: false, ..*k })
    }

    /// Whether somebody must be told of a contradiction between rangers, or between the sensors inside, with this: the first
    /// time that it is found to have lasted.
    pub fn doubts(&self, known: &Knowledge) -> Vec<Notice> {
        let care = self.settings.care;
        let told = |holds: fn(&Knowledge) -> bool, after_s: f64| {
            let before = self
                .log
                .last()
                .is_some_and(|entry| entry.state != State::Unpowered && self.lasts(&entry.k, holds, after_s));
            self.lasts(known, holds, after_s) && !before
        };
        let rangers = told(|k| differ(k.rangers), care.disagreement_after_s);
        let inside = told(|k| differ(k.occupancy), care.contradiction_after_s);
        let found = [(rangers, Notice::RangersDisagree), (inside, Notice::InsideContradicts)];
        found.into_iter().filter_map(|(holds, notice)| holds.then_some(notice)).collect()
    }
}
