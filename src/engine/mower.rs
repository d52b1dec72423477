//! The season's mower: timetable, sorties, the way home, manners at the door, docking.
//!
//! Everything random about a sortie is drawn at once from the stream of that sortie (source `mower sortie`, entity =
//! window number and place in the window), so that strategies that treat it differently still meet the same mower.

use super::event::Event;
use super::motion::{Motion, Trail};
use super::plan::{CAUSE_MOWER_PUSHES, OBJECT_WIDTH_M};
use super::queue::Ticket;
use super::season::Season;
use crate::ledger::blame::Blamed;
use crate::ledger::book::Whereabouts;
use crate::ledger::metric::Key;
use crate::math::random::Stream;
use crate::math::time::{Instant, Span};
use crate::scenario::failure::{Act, Figure};
use crate::scenario::mower::RainHabit;
use crate::scenario::sensor::StatusCode;
use crate::sensing::sight::Body;
use crate::world::spread::draw;

/// What stops the mower in an open doorway, as the event log has it.
pub mod stops {
    /// It is wider or higher than what is open.
    pub const TOO_LARGE: &str = "does not fit through the door";
    /// Something lies there.
    pub const BLOCKED: &str = "is stopped by something in the doorway";
    /// It comes too far to the side.
    pub const TOUCHES: &str = "touches a side of the doorway";
}

/// What the mower is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    /// In the dock, charging or waiting for its next window.
    Docked,
    /// About to leave.
    Noticing,
    /// Ready to leave, the door is not open.
    WaitingInside,
    /// Backing out, tail not yet at the door line.
    BackingToLine,
    /// Backing out through the doorway and away.
    Leaving,
    /// Mowing.
    Mowing,
    /// On its way to the place where the drive to the door begins.
    GoingHome,
    /// Driving towards the door, fast.
    Approaching,
    /// Driving towards its waiting point, slowly.
    Nearing,
    /// Standing outside a door that is not open.
    WaitingOutside,
    /// Backing off for another try.
    BackingOff,
    /// From the waiting point to the door line.
    ToLine,
    /// From the door line to the dock.
    Entering,
    /// Backing up for another docking attempt.
    DockingAgain,
    /// Standing half on the platform for a while.
    HalfOn,
    /// Driving into the doorway, to get stuck there.
    ToStuck,
    /// Stuck in the doorway.
    StuckInDoorway,
    /// Given up outside.
    StrandedOutside,
    /// Given up inside.
    StrandedInside,
}

/// One sortie's draws.
#[derive(Clone, Debug)]
pub struct Sortie {
    key: u64,
    /// It says nothing of its departure.
    silent: bool,
    run_s: f64,
    way_home_s: f64,
    speed: f64,
    sideways_m: f64,
    charge_s: f64,
    docking: Stream,
}

/// The mower.
#[derive(Clone, Debug)]
pub struct Mower {
    /// What it is doing.
    pub doing: Doing,
    /// Where its nose is (x) and its sideways offset (y).
    pub motion: Motion,
    trail: Trail,
    next: Option<Ticket>,
    sortie: Option<Sortie>,
    /// When the battery is full.
    ready: Instant,
    /// Window in which mowing is being counted, its mowing time so far, sorties begun in it.
    window: usize,
    mowed_s: f64,
    begun: u64,
    /// Mowing began.
    mowing_since: Instant,
    /// The present sortie counts for the window's lawn.
    counts: bool,
    arrived: bool,
    waiting_since: Instant,
    /// Time stood outside in the present wait before that, s: backing off between two tries is no standing.
    waited_s: f64,
    tries: u32,
    docking_tries: u32,
    /// Tries that have ended in the doorway: something lies there, the open door is too small, or it came too far to a side.
    object_tries: u32,
}

/// Departure that can't begin now: how long until it is tried again, s, where nothing else says so (common practice:
/// firmware looks every few minutes).
const LOOK_AGAIN_S: f64 = 300.0;

/// Tells the key of a sortie that follows a docking at once from that of the one before.
const AGAIN: u64 = 1 << 50;

/// Tells a new try of a sortie at the door from its other draws.
const TRIES: u64 = 1 << 59;

/// Tells the way in of a sortie from its way out, as occasions.
const ARRIVING: u64 = 1 << 61;

/// A sortie shorter than this is not begun, s (common practice).
const SHORTEST_RUN_S: f64 = 300.0;

impl Mower {
    /// In its dock, charged.
    pub fn docked(nose_m: f64) -> Mower {
        Mower {
            doing: Doing::Docked,
            motion: Motion::standing(Instant::START, nose_m, 0.0),
            trail: Trail::default(),
            next: None,
            sortie: None,
            ready: Instant::START,
            window: 0,
            mowed_s: 0.0,
            begun: 0,
            mowing_since: Instant::START,
            counts: false,
            arrived: false,
            waiting_since: Instant::START,
            waited_s: 0.0,
            tries: 0,
            docking_tries: 0,
            object_tries: 0,
        }
    }

    /// Whether it is arriving, departing or waiting, so that an open door serves it.
    pub fn wants_the_door(&self) -> bool {
        !matches!(self.doing, Doing::Docked | Doing::Mowing | Doing::StrandedOutside | Doing::StrandedInside)
    }

    fn motion_begins(&mut self, motion: Motion) {
        self.trail.leaves(self.motion);
        self.motion = motion;
    }

    /// Whether its body is near the door (anywhere from the dock to the far end of the approach).
    pub fn is_near(&self) -> bool {
        !matches!(self.doing, Doing::Mowing | Doing::GoingHome)
    }

    /// Whether it is on its way home and not yet at its waiting point.
    pub fn is_coming(&self) -> bool {
        matches!(self.doing, Doing::GoingHome | Doing::Approaching | Doing::Nearing)
    }

    /// Where it is for rain and door.
    pub fn whereabouts(&self) -> Whereabouts {
        match self.doing {
            Doing::Docked
            | Doing::Noticing
            | Doing::WaitingInside
            | Doing::BackingToLine
            | Doing::Entering
            | Doing::DockingAgain
            | Doing::HalfOn
            | Doing::StrandedInside => Whereabouts::Inside,
            Doing::ToStuck
            | Doing::StuckInDoorway
            | Doing::WaitingOutside
            | Doing::BackingOff
            | Doing::StrandedOutside => Whereabouts::Waiting,
            Doing::Nearing if self.tries > 0 => Whereabouts::Waiting,
            _ => Whereabouts::Away,
        }
    }

    /// Whether a sortie is under way.
    pub fn is_out(&self) -> bool {
        self.sortie.is_some()
    }
}

impl Season<'_> {
    /// The mower's body at a moment, if it is near the door.
    // Asked for each reading in view: called rather than inlined, it makes seasons a twentieth slower.
    #[inline]
    pub fn mower_body(&self, at: Instant) -> Option<Body> {
        if !self.mower.is_near() {
            return None;
        }
        let (x, y) = self.mower.trail.at(&self.mower.motion, at);
        let body = Body::of_mower(&self.plan.scenario.mower, x, y);
        Some(Body { reflectance: self.failing.shell * body.reflectance, ..body })
    }

    fn mower_at(&mut self, at: Instant) {
        if let Some(ticket) = self.mower.next.take() {
            self.queue.cancel(ticket);
        }
        if at < self.end {
            self.mower.next = Some(self.queue.schedule(at.max(self.now), Event::Mower));
        }
    }

    fn mower_after(&mut self, seconds: f64) {
        self.mower_at(self.now + Span::from_seconds(seconds));
    }

    fn mower_does(&mut self, doing: Doing) {
        let was_near = self.mower.is_near();
        self.mower.doing = doing;
        if was_near && !self.mower.is_near() {
            self.vanishes();
        }
        if self.tracing() {
            let (x, _) = self.mower.motion.at(self.now);
            self.trace("mower", doing_name(doing), format!("nose at {x:.2} m"));
        }
    }

    /// Drives straight ahead to `x` at `speed`; the next step comes when it is there.
    fn mower_drives(&mut self, doing: Doing, x_m: f64, speed_m_s: f64) {
        let (_, y_m) = self.mower.motion.at(self.now);
        self.mower_drives_to(doing, (x_m, y_m), speed_m_s);
    }

    fn mower_drives_to(&mut self, doing: Doing, to_m: (f64, f64), speed_m_s: f64) {
        let from = self.mower.motion.at(self.now);
        self.mower.motion_begins(Motion::straight(self.now, from, to_m, speed_m_s));
        self.mower_does(doing);
        self.refresh(super::senses::change::BODIES);
        self.mower_at(self.mower.motion.ends());
        self.schedule_meeting();
    }

    fn mower_stands(&mut self, doing: Doing) {
        let (x, y) = self.mower.motion.at(self.now);
        self.mower.motion_begins(Motion::standing(self.now, x, y));
        self.mower_does(doing);
        self.refresh(super::senses::change::BODIES);
        self.schedule_sweep();
    }

    /// Plans the next scheduled departure.
    pub fn plan_departure(&mut self) {
        let mower = &self.plan.scenario.mower;
        let earliest = self.mower.ready.max(self.now);
        while let Some(window) = self.plan.windows.get(self.mower.window) {
            let left_s = mower.lawn_s - self.mower.mowed_s;
            let delay_s = if self.mower.begun == 0 {
                self.window_source.stream(window.number).between(0.0, mower.start_delay_s)
            } else {
                0.0
            };
            let at = earliest.max(window.from + Span::from_seconds(delay_s));
            if left_s >= SHORTEST_RUN_S.min(mower.lawn_s) && at + Span::from_seconds(SHORTEST_RUN_S) < window.to {
                self.mower_at(at);
                return;
            }
            self.mower.window += 1;
            self.mower.mowed_s = 0.0;
            self.mower.begun = 0;
        }
        if let Some(ticket) = self.mower.next.take() {
            self.queue.cancel(ticket);
        }
    }

    /// Time from now until the mower is willing to leave as far as rain goes, s; 0 for now.
    fn rain_delay(&self) -> f64 {
        let rain = &self.plan.scenario.mower.rain;
        if rain.habit == RainHabit::CarryOn {
            return 0.0;
        }
        if self.sky.rain_mm_h > 0.0 {
            return LOOK_AGAIN_S;
        }
        match self.rain_ended {
            Some(end) => ((end + Span::from_seconds(rain.resumes_after_s)).since(self.now).seconds()).max(0.0),
            None => 0.0,
        }
    }

    fn draw_sortie(&self, key: u64) -> Sortie {
        let mower = &self.plan.scenario.mower;
        let mut stream = self.sortie_source.stream(key);
        let beside = self.strikes(Act::Sideways, key).map_or(0.0, |(_, failure, mut more)| {
            failure.figure(Figure::Distance) * if more.chance(0.5) { 1.0 } else { -1.0 }
        });
        Sortie {
            key,
            silent: self.strikes(Act::SilentDeparture, key).is_some(),
            run_s: draw(&mower.run, &mut stream),
            way_home_s: draw(&mower.approach.way_home, &mut stream),
            speed: mower.approach.pace(stream.normal()),
            sideways_m: mower.approach.sideways_m * stream.normal() + beside,
            charge_s: draw(&mower.charge, &mut stream),
            docking: stream,
        }
    }

    /// An unscheduled start: only from the dock and only with a full battery.
    pub fn unscheduled_start(&mut self, number: u64) {
        if self.mower.doing != Doing::Docked || self.now < self.mower.ready || !self.powered {
            return;
        }
        let sortie = self.draw_sortie(u64::MAX / 2 + number);
        self.trace("mower", "unscheduled start", String::new());
        self.begin_departure(sortie, false);
    }

    /// It leaves again right after docking, if nothing has come between.
    pub fn leaves_again(&mut self, key: u64) {
        if self.mower.doing != Doing::Docked || !self.powered {
            return;
        }
        let sortie = self.draw_sortie(key);
        self.trace("mower", "leaves again", String::new());
        self.begin_departure(sortie, false);
    }

    fn begin_departure(&mut self, sortie: Sortie, counts: bool) {
        let notice_s = self.plan.scenario.mower.departure.notice_s;
        let silent = sortie.silent;
        self.parks(false);
        self.mower.sortie = Some(sortie);
        self.mower.counts = counts;
        self.mower_does(Doing::Noticing);
        if !silent {
            self.announce(StatusCode::Leaving);
        }
        self.mower_after(notice_s);
    }

    /// The mower takes its next step.
    pub fn mower_step(&mut self) {
        self.mower.next = None;
        let plan = self.plan;
        let spec = &plan.scenario.mower;
        match self.mower.doing {
            Doing::Docked => {
                let delay_s = self.rain_delay();
                if delay_s > 0.0 {
                    let at = self.now + Span::from_seconds(delay_s);
                    let window_ends = plan.windows.get(self.mower.window).map_or(self.end, |window| window.to);
                    if at + Span::from_seconds(SHORTEST_RUN_S) < window_ends {
                        self.mower_at(at);
                    } else {
                        self.mower.ready = self.mower.ready.max(window_ends);
                        self.plan_departure();
                    }
                    return;
                }
                let Some(window) = plan.windows.get(self.mower.window) else { return };
                let key = window.number << 16 | self.mower.begun.min(0xFFFF);
                self.mower.begun += 1;
                let sortie = self.draw_sortie(key);
                self.begin_departure(sortie, true);
            }
            Doing::Noticing => {
                if self.door.is_open() {
                    self.mower_backs_out();
                } else {
                    self.mower_stands(Doing::WaitingInside);
                    self.mower_after(spec.departure.patience_s);
                }
            }
            Doing::WaitingInside => self.give_up_departure(),
            Doing::BackingToLine => {
                let panel = !self.doorway_clear(plan.mower_clears_m) || !plan.mower_fits;
                if panel || self.object_stops_mower() {
                    // It runs its tail against what is there and goes back to where it stood.
                    if panel {
                        self.bump();
                    }
                    self.goes_back_inside();
                    return;
                }
                self.book.count(Key::Departures);
                self.book.today().sorties += 1;
                self.passes_doorway(self.sortie_key());
                self.mower_drives(Doing::Leaving, spec.approach.from_m, spec.departure.speed_m_s);
                self.schedule_edge(plan.mower_clears_m);
            }
            Doing::Leaving => self.begin_mowing(),
            Doing::Mowing => self.go_home("run done"),
            Doing::GoingHome => {
                let sideways_m = self.mower.sortie.as_ref().map_or(0.0, |sortie| sortie.sideways_m);
                self.mower.motion_begins(Motion::standing(self.now, spec.approach.from_m, sideways_m));
                let speed = spec.approach.speed_m_s * self.pace();
                let (slow_from, waits_at) = (spec.approach.slow_from_m, spec.shut_door.waits_at_m);
                self.mower_drives(Doing::Approaching, slow_from.max(waits_at), speed);
                let slow = spec.approach.slow_speed_m_s * self.pace();
                let fast = self.mower.motion;
                let nearing = Motion::straight(fast.ends(), fast.end(), (waits_at, sideways_m), slow);
                self.watch_begins(nearing.ends());
                self.tally_approach();
            }
            Doing::Approaching => {
                self.mower_drives(
                    Doing::Nearing,
                    spec.shut_door.waits_at_m,
                    spec.approach.slow_speed_m_s * self.pace(),
                );
            }
            Doing::Nearing => self.arrive(),
            Doing::WaitingOutside => self.lose_patience(),
            Doing::BackingOff => {
                self.mower_drives(
                    Doing::Nearing,
                    spec.shut_door.waits_at_m,
                    spec.approach.slow_speed_m_s * self.pace(),
                );
            }
            Doing::ToLine => {
                if !self.doorway_clear(plan.mower_clears_m) {
                    self.bump();
                    let (_, y) = self.mower.motion.at(self.now);
                    self.mower.motion_begins(Motion::standing(self.now, spec.shut_door.waits_at_m, y));
                    self.wait_outside();
                    return;
                }
                if !plan.mower_fits {
                    self.bump();
                    self.stopped_in_doorway(stops::TOO_LARGE);
                    return;
                }
                if self.object_stops_mower() {
                    self.stopped_in_doorway(stops::BLOCKED);
                    return;
                }
                if self.touches_frame() {
                    self.book.count(Key::FrameTouches);
                    self.stopped_in_doorway(stops::TOUCHES);
                    return;
                }
                self.passes_doorway(self.sortie_key() ^ ARRIVING);
                self.drives_in();
                self.schedule_edge(plan.mower_clears_m);
            }
            Doing::ToStuck => self.gets_stuck(),
            Doing::StuckInDoorway => {
                self.trace("mower", "helped by a person", String::new());
                self.mower_drives(Doing::Entering, -spec.dock.depth_m, spec.approach.slow_speed_m_s * self.pace());
            }
            Doing::HalfOn => {
                self.mower_drives(Doing::Entering, -spec.dock.depth_m, spec.approach.slow_speed_m_s * self.pace());
            }
            Doing::Entering => {
                if !self.stops_short() {
                    self.dock();
                }
            }
            Doing::DockingAgain => {
                self.mower_drives(Doing::Entering, -spec.dock.depth_m, spec.approach.slow_speed_m_s * self.pace());
            }
            Doing::StrandedOutside | Doing::StrandedInside => self.helped(),
        }
    }

    /// Key of the present sortie, for occasions.
    fn sortie_key(&self) -> u64 {
        self.mower.sortie.as_ref().map_or(0, |sortie| sortie.key)
    }

    /// From the door line on, unless it gets stuck in the doorway or stops half on the platform.
    fn drives_in(&mut self) {
        let spec = &self.plan.scenario.mower;
        let speed = spec.approach.slow_speed_m_s * self.pace();
        let key = self.sortie_key();
        if self.strikes(Act::StuckInDoorway, key).is_some() {
            self.mower_drives(Doing::ToStuck, -0.5 * spec.length_m, speed);
            return;
        }
        let short_m = self.strikes(Act::HalfOn, key).map_or(0.0, |(_, failure, _)| failure.figure(Figure::Distance));
        self.mower_drives(Doing::Entering, -(spec.dock.depth_m - short_m).max(0.0), speed);
    }

    /// Its bumper has met something in the doorway: it backs off and tries again, as before a shut door. In the end it gives up
    /// at its waiting point, and somebody must come, who takes the thing away.
    fn stopped_in_doorway(&mut self, how: &str) {
        let manners = self.plan.scenario.mower.shut_door;
        self.trace("mower", how, String::new());
        self.mower.object_tries += 1;
        let back = manners.waits_at_m + manners.back_off_m;
        let speed = self.plan.scenario.mower.approach.slow_speed_m_s;
        let (_, y_m) = self.mower.motion.at(self.now);
        let y_m = if self.touches_frame() { self.aims_anew_m() } else { y_m };
        self.mower_drives_to(Doing::BackingOff, (back, y_m), speed);
    }

    /// Whether it is farther beside the middle than the open door leaves it room.
    fn touches_frame(&self) -> bool {
        let (_, y_m) = self.mower.motion.at(self.now);
        self.plan.mower_fits && y_m.abs() > self.plan.half_play_m + 1e-9
    }

    /// How far beside the middle its next try brings it, m: as its way home scatters, without what brought it astray.
    fn aims_anew_m(&self) -> f64 {
        let key = self.sortie_key() ^ TRIES ^ u64::from(self.mower.object_tries) << 52;
        self.plan.scenario.mower.approach.sideways_m * self.sortie_source.stream(key).normal()
    }

    /// It could not back out: it stands in its dock again and waits.
    fn goes_back_inside(&mut self) {
        let spec = &self.plan.scenario.mower;
        let (_, y) = self.mower.motion.at(self.now);
        self.mower.motion_begins(Motion::standing(self.now, -spec.dock.depth_m, y));
        self.mower_stands(Doing::WaitingInside);
        self.mower_after(spec.departure.patience_s);
    }

    /// The panel and the driving mower have met. Before the door it stops there as at a shut door; on its way out it goes back; in
    /// the shelter it waits and tries again. One that is driving out of the panel's way goes on.
    pub fn stopped_by_panel(&mut self) {
        match self.mower.doing {
            Doing::Approaching | Doing::Nearing | Doing::ToLine => {
                let (x, y) = self.mower.motion.at(self.now);
                self.mower.motion_begins(Motion::standing(self.now, x, y));
                self.arrive();
            }
            Doing::BackingToLine => self.goes_back_inside(),
            Doing::Entering | Doing::DockingAgain | Doing::ToStuck => {
                self.mower_stands(Doing::DockingAgain);
                self.mower_after(self.plan.scenario.mower.shut_door.patience_s);
            }
            _ => {}
        }
    }

    fn gets_stuck(&mut self) {
        let key = self.sortie_key();
        let lasts_s = self
            .strikes(Act::StuckInDoorway, key)
            .map_or(0.0, |(_, failure, mut more)| draw(&failure.lasts, &mut more));
        self.book.count(Key::Strandings);
        self.book.today().strandings += 1;
        self.announce(StatusCode::Error);
        self.mower_stands(Doing::StuckInDoorway);
        self.mower_after(lasts_s);
    }

    /// Whether it has just stopped half on the platform; then it stands there for a while.
    fn stops_short(&mut self) -> bool {
        let spec = &self.plan.scenario.mower;
        let (x, _) = self.mower.motion.at(self.now);
        // Times are whole microseconds, so that it stops within a hair of where it was sent.
        if x <= -spec.dock.depth_m + 1e-3 {
            return false;
        }
        let key = self.sortie_key();
        let Some((_, failure, mut more)) = self.strikes(Act::HalfOn, key) else { return false };
        let lasts_s = draw(&failure.lasts, &mut more);
        self.mower_stands(Doing::HalfOn);
        self.mower_after(lasts_s);
        true
    }

    fn pace(&self) -> f64 {
        self.mower.sortie.as_ref().map_or(1.0, |sortie| sortie.speed)
    }

    /// The door has opened fully: whoever waits for it goes.
    pub fn mower_sees_open_door(&mut self) {
        match self.mower.doing {
            Doing::WaitingInside => self.mower_backs_out(),
            Doing::WaitingOutside => self.enter(),
            _ => {}
        }
    }

    fn mower_backs_out(&mut self) {
        let spec = &self.plan.scenario.mower;
        self.mower_drives(Doing::BackingToLine, -spec.length_m, spec.departure.speed_m_s);
    }

    fn give_up_departure(&mut self) {
        self.book.count(Key::MissedDepartures);
        let silent = self.mower.sortie.as_ref().is_some_and(|sortie| sortie.silent);
        let cause = self.missed_departure_cause(silent);
        self.book.record().by_cause[Blamed::MissedDepartures][cause] += 1;
        if self.tracing() {
            self.trace("mower", "departure given up", self.plan.causes[Blamed::MissedDepartures][cause].clone());
        }
        if silent {
            // Nobody knows that it wants to leave: it has tried the door.
            self.bump();
        }
        let charge_s = self.mower.sortie.take().map_or(0.0, |sortie| sortie.charge_s);
        // It tries again when a charge would have been done.
        self.mower.ready = self.now + Span::from_seconds(charge_s);
        self.mower_stands(Doing::Docked);
        self.parks(true);
        self.announce(StatusCode::Docked);
        self.plan_departure();
    }

    fn begin_mowing(&mut self) {
        let spec = &self.plan.scenario.mower;
        let run_s = self.mower.sortie.as_ref().map_or(0.0, |sortie| sortie.run_s);
        let mut until_s = run_s;
        if self.mower.counts {
            until_s = until_s.min((spec.lawn_s - self.mower.mowed_s).max(SHORTEST_RUN_S));
            if let Some(window) = self.plan.windows.get(self.mower.window) {
                until_s = until_s.min(window.to.since(self.now).seconds().max(0.0));
            }
        }
        self.mower.mowing_since = self.now;
        self.mower_stands(Doing::Mowing);
        self.announce(StatusCode::Mowing);
        self.mower_after(until_s);
        if self.sky.rain_mm_h > 0.0 {
            self.rain_began();
        }
    }

    /// Rain has begun, or the mower has begun to mow in it.
    pub fn rain_began(&mut self) {
        let rain = &self.plan.scenario.mower.rain;
        if rain.habit == RainHabit::GoHome && self.mower.doing == Doing::Mowing {
            self.queue.schedule(self.now + Span::from_seconds(rain.reacts_after_s), Event::RainMinded);
        }
    }

    /// It has rained for a while: home, if it still rains and has done so without a break.
    pub fn rain_minded(&mut self) {
        let rain = &self.plan.scenario.mower.rain;
        let long = self.rain_since.is_some_and(|since| self.now >= since + Span::from_seconds(rain.reacts_after_s));
        let mowed = self.now >= self.mower.mowing_since + Span::from_seconds(rain.reacts_after_s);
        if self.mower.doing == Doing::Mowing && long && mowed {
            self.go_home("rain");
        }
    }

    fn go_home(&mut self, why: &str) {
        if self.mower.counts {
            self.mower.mowed_s += self.now.since(self.mower.mowing_since).seconds();
        }
        let way_home_s = self.mower.sortie.as_ref().map_or(0.0, |sortie| sortie.way_home_s);
        self.mower.arrived = false;
        (self.asked, self.noticed, self.seen) = (false, 0, 0);
        self.mower.tries = 0;
        self.echo_weakens(self.sortie_key());
        self.mower_does(Doing::GoingHome);
        self.trace("mower", "goes home", why);
        self.announce(StatusCode::Returning);
        self.mower_after(way_home_s);
    }

    /// The nose is at the waiting point.
    fn arrive(&mut self) {
        if !self.mower.arrived {
            self.mower.arrived = true;
            self.book.count(Key::Arrivals);
            self.book.today().arrivals += 1;
            self.this_hour().arrivals += 1;
            let missed = (!self.door.is_open() || self.door.is_closing()) && !self.controller.wants_open();
            self.watch_ends(missed);
            self.tally_arrival();
            if self.door.is_open() && !self.door.is_closing() {
                self.book.record().waits.add(0.0);
            } else if self.controller.wants_open() {
                self.book.count(Key::LateOpenings);
                self.book.today().late += 1;
            } else {
                self.book.count(Key::MissedArrivals);
                self.book.today().missed += 1;
                self.this_hour().missed += 1;
                let cause = self.missed_cause();
                self.book.record().by_cause[Blamed::MissedArrivals][cause] += 1;
                if self.tracing() {
                    let name = self.plan.causes[Blamed::MissedArrivals][cause].clone();
                    self.trace("mower", "missed arrival", name);
                }
            }
        }
        if self.door.is_open() {
            self.enter();
        } else {
            self.wait_outside();
        }
    }

    fn wait_outside(&mut self) {
        let patience_s = self.plan.scenario.mower.shut_door.patience_s;
        if self.mower.doing != Doing::WaitingOutside {
            self.mower.waiting_since = self.now;
            if self.mower.tries == 0 {
                self.mower.waited_s = 0.0;
            }
        }
        self.mower_stands(Doing::WaitingOutside);
        self.mower_after(patience_s);
    }

    /// It stands no longer, for now or for good.
    fn stood(&mut self) {
        self.mower.waited_s += self.now.since(self.mower.waiting_since).seconds();
    }

    fn end_wait(&mut self) {
        let waited = self.mower.waited_s;
        self.book.record().waits.add(waited);
        self.book.peak(Key::WaitLongest, waited);
    }

    fn enter(&mut self) {
        let standing = self.mower.doing == Doing::WaitingOutside;
        if standing {
            self.stood();
        }
        if standing || self.mower.tries > 0 {
            self.end_wait();
            self.mower.tries = 0;
        }
        if self.mower.object_tries > self.plan.scenario.mower.shut_door.retries {
            self.mower.object_tries = 0;
            self.strand(Doing::StrandedOutside);
            return;
        }
        let speed = self.plan.scenario.mower.approach.slow_speed_m_s * self.pace();
        let to_m = if self.object_stops_mower() { 0.5 * OBJECT_WIDTH_M } else { 0.0 };
        self.mower_drives(Doing::ToLine, to_m, speed);
    }

    fn bump(&mut self) {
        self.pushes_door(self.plan.scenario.mower.shut_door.bump_force_n);
    }

    /// The mower pushes the door with a force, N.
    pub fn pushes_door(&mut self, force_n: f64) {
        self.counts_contact(CAUSE_MOWER_PUSHES, force_n);
        self.trace("mower", "contact", "the mower pushes the door");
    }

    fn lose_patience(&mut self) {
        let manners = self.plan.scenario.mower.shut_door;
        self.stood();
        if self.mower.tries >= manners.retries {
            self.end_wait();
            self.mower.tries = 0;
            self.strand(Doing::StrandedOutside);
            return;
        }
        self.mower.tries += 1;
        if manners.bumps {
            self.bump();
        }
        let back = manners.waits_at_m + manners.back_off_m;
        let speed = self.plan.scenario.mower.approach.slow_speed_m_s;
        self.mower_drives(Doing::BackingOff, back, speed);
    }

    fn strand(&mut self, doing: Doing) {
        self.book.count(Key::Strandings);
        self.book.today().strandings += 1;
        self.announce(StatusCode::Error);
        self.mower_stands(doing);
        self.mower_after(self.plan.scenario.mower.shut_door.help_after_s);
    }

    /// A person has put the mower into its dock.
    fn helped(&mut self) {
        self.trace("mower", "helped by a person", String::new());
        self.object_taken_away();
        self.docked();
    }

    fn dock(&mut self) {
        let dock = self.plan.scenario.mower.dock;
        let failed = self.mower.sortie.as_mut().is_some_and(|sortie| sortie.docking.chance(dock.failure));
        if !failed {
            self.docked();
            return;
        }
        self.book.count(Key::DockingFailures);
        self.mower.docking_tries += 1;
        if self.mower.docking_tries >= dock.attempts {
            self.strand(Doing::StrandedInside);
            return;
        }
        let speed = self.plan.scenario.mower.approach.slow_speed_m_s;
        self.mower_drives(Doing::DockingAgain, -dock.depth_m + dock.back_off_m, speed);
    }

    fn docked(&mut self) {
        let spec = &self.plan.scenario.mower;
        let key = self.sortie_key();
        let charge_s = self.mower.sortie.take().map_or(0.0, |sortie| sortie.charge_s);
        self.echo_recovers();
        (self.mower.docking_tries, self.mower.object_tries) = (0, 0);
        self.mower.ready = self.now + Span::from_seconds(charge_s);
        self.mower.motion_begins(Motion::standing(self.now, -spec.dock.depth_m, 0.0));
        self.mower_stands(Doing::Docked);
        self.parks(true);
        self.announce(StatusCode::Docked);
        self.plan_departure();
        if let Some((_, failure, _)) = self.strikes(Act::Redeparture, key) {
            let at = self.now + Span::from_seconds(failure.figure(Figure::Delay));
            self.queue.schedule(at, Event::Redeparture(key.wrapping_add(AGAIN)));
        }
    }
}

/// An activity in plain words.
pub fn doing_name(doing: Doing) -> &'static str {
    match doing {
        Doing::Docked => "docked",
        Doing::Noticing => "about to leave",
        Doing::WaitingInside => "waits inside",
        Doing::BackingToLine | Doing::Leaving => "leaves",
        Doing::Mowing => "mows",
        Doing::GoingHome => "on its way home",
        Doing::Approaching => "approaches",
        Doing::Nearing => "nears the door",
        Doing::WaitingOutside => "waits outside",
        Doing::BackingOff => "backs off",
        Doing::ToLine | Doing::Entering => "enters",
        Doing::DockingAgain => "docks again",
        Doing::HalfOn => "stands half on the platform",
        Doing::ToStuck => "enters",
        Doing::StuckInDoorway => "stuck in the doorway",
        Doing::StrandedOutside => "stranded outside",
        Doing::StrandedInside => "stranded inside",
    }
}
