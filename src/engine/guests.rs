//! The season's visitors: they come, look, perhaps go in, and leave.

use super::event::Event;
use super::motion::{Motion, Trail};
use super::queue::Ticket;
use super::season::Season;
use crate::ledger::metric::Key;
use crate::math::time::{Instant, Span};
use crate::scenario::visitor::Only;
use crate::sensing::sight::Body;
use crate::world::visits::Visit;

/// A visitor's way: it comes from and goes back to a place this far out and to the side of its nearest point, m.
/// (Common practice for gardens: whatever walks up to a shelter crosses the last metres of lawn obliquely.)
const COMES_FROM_M: (f64, f64) = (2.5, 4.0);

/// How far inside it stays: x of its middle, m.
const INSIDE_M: f64 = -0.35;

/// What a visitor is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doing {
    Coming,
    Dwelling,
    GoingToLine,
    GoingIn,
    Inside,
    Trapped,
    GoingOut,
    Leaving,
}

/// A visitor near the door.
#[derive(Clone, Debug)]
pub struct Guest {
    /// Index of its kind.
    pub visitor: usize,
    /// Where its middle is.
    pub motion: Motion,
    trail: Trail,
    /// Half of its mean horizontal size, m.
    pub half_m: f64,
    visit: Visit,
    doing: Doing,
    next: Option<Ticket>,
    /// Counted as shut in since the door last shut.
    counted: bool,
}

impl Guest {
    /// Whether it stands at its nearest point, outside.
    pub fn dwells(&self) -> bool {
        self.doing == Doing::Dwelling
    }
}

/// When a visit begins: the walk to the nearest point takes its time.
pub fn begins(visit: &Visit, speed_m_s: f64) -> Instant {
    let walk_s = COMES_FROM_M.0.hypot(COMES_FROM_M.1) / speed_m_s.max(1e-3);
    Instant((visit.at - Span::from_seconds(walk_s)).0.max(0))
}

impl Season<'_> {
    /// Those who are near the door now.
    pub fn guests_here(&self) -> impl Iterator<Item = &Guest> {
        self.guests[..self.guests_reach].iter().flatten()
    }

    /// A guest's body at a moment.
    pub fn guest_body(&self, guest: &Guest, at: Instant) -> Body {
        let spec = &self.plan.scenario.visitors[guest.visitor];
        let (x, y) = guest.trail.at(&guest.motion, at);
        Body {
            x_m: (x - guest.half_m, x + guest.half_m),
            y_m: (y - guest.half_m, y + guest.half_m),
            height_m: spec.height_m,
            reflectance: spec.reflectance,
            soft: spec.soft,
            mass_kg: spec.mass_kg,
            axles: None,
        }
    }

    /// A visit begins, if its kind comes at such a moment and there is room in the list (ten at a time).
    pub fn visit_begins(&mut self, index: usize) {
        let visit = self.outside.visits[index];
        let spec = &self.plan.scenario.visitors[visit.visitor];
        let comes = match spec.only {
            Only::Always => true,
            Only::DoorOpen => !self.door.is_shut(),
            Only::MowerAway => self.mower.is_out() && !self.mower.is_near(),
        };
        let Some(place) = self.guests.iter().position(Option::is_none) else { return };
        if !comes {
            return;
        }
        let side = if visit.from_left { 1.0 } else { -1.0 };
        let from = (visit.nearest_m + COMES_FROM_M.0, visit.sideways_m + side * COMES_FROM_M.1);
        let motion = Motion::straight(self.now, from, (visit.nearest_m, visit.sideways_m), spec.speed_m_s);
        self.guests[place] = Some(Guest {
            visitor: visit.visitor,
            motion,
            trail: Trail::default(),
            half_m: 0.25 * (spec.length_m + spec.width_m),
            visit,
            doing: Doing::Coming,
            next: None,
            counted: false,
        });
        self.guests_reach = self.guests_reach.max(place + 1);
        self.trace(&spec.name, "comes", String::new());
        self.guest_moved(place, motion.ends());
    }

    fn guest_moved(&mut self, place: usize, next: Instant) {
        self.refresh(super::senses::change::BODIES);
        if let Some(guest) = &mut self.guests[place] {
            guest.next = Some(self.queue.schedule(next.max(self.now), Event::Guest(place as u32)));
        }
    }

    fn guest_walks(&mut self, place: usize, doing: Doing, to: (f64, f64)) {
        let now = self.now;
        let Some(guest) = &mut self.guests[place] else { return };
        let speed = self.plan.scenario.visitors[guest.visitor].speed_m_s;
        guest.doing = doing;
        guest.trail.leaves(guest.motion);
        guest.motion = Motion::straight(now, guest.motion.at(now), to, speed);
        let ends = guest.motion.ends();
        self.guest_moved(place, ends);
    }

    fn guest_stays(&mut self, place: usize, doing: Doing, lasts: Span) {
        let now = self.now;
        let Some(guest) = &mut self.guests[place] else { return };
        let (x, y) = guest.motion.at(now);
        guest.trail.leaves(guest.motion);
        guest.motion = Motion::standing(now, x, y);
        guest.doing = doing;
        self.guest_moved(place, now + lasts);
        self.schedule_sweep();
    }

    /// A guest takes its next step.
    pub fn guest_step(&mut self, place: usize) {
        let Some(guest) = &mut self.guests[place] else { return };
        guest.next = None;
        let visit = guest.visit;
        let clears_m = self.plan.visitor_clears_m[guest.visitor];
        let line = guest.half_m;
        match guest.doing {
            Doing::Coming => self.guest_stays(place, Doing::Dwelling, visit.dwell),
            Doing::Dwelling => {
                let enters = self.plan.scenario.visitors[visit.visitor].enters;
                if visit.enters_draw < enters && self.door.is_open() {
                    self.guest_walks(place, Doing::GoingToLine, (line, 0.0));
                } else {
                    self.guest_goes(place);
                }
            }
            Doing::GoingToLine => {
                if self.doorway_clear(clears_m) {
                    self.guest_walks(place, Doing::GoingIn, (INSIDE_M.min(-2.0 * line), 0.0));
                    self.schedule_edge(clears_m);
                } else {
                    self.guest_goes(place);
                }
            }
            Doing::GoingIn => self.guest_stays(place, Doing::Inside, visit.inside),
            Doing::Inside | Doing::Trapped => {
                if self.door.is_open() {
                    self.guest_walks(place, Doing::GoingOut, (visit.nearest_m.max(line), visit.sideways_m));
                    self.schedule_edge(clears_m);
                } else if let Some(guest) = &mut self.guests[place] {
                    // It waits for the next opening.
                    guest.doing = Doing::Trapped;
                }
            }
            Doing::GoingOut => self.guest_goes(place),
            Doing::Leaving => {
                self.vanishes();
                self.guests[place] = None;
                while self.guests_reach > 0 && self.guests[self.guests_reach - 1].is_none() {
                    self.guests_reach -= 1;
                }
                self.refresh(super::senses::change::BODIES);
                self.trace(&self.plan.scenario.visitors[visit.visitor].name, "gone", String::new());
            }
        }
    }

    fn guest_goes(&mut self, place: usize) {
        let Some(guest) = &self.guests[place] else { return };
        let side = if guest.visit.from_left { 1.0 } else { -1.0 };
        let to = (guest.visit.nearest_m + COMES_FROM_M.0, guest.visit.sideways_m + side * COMES_FROM_M.1);
        self.guest_walks(place, Doing::Leaving, to);
    }

    /// The door has opened fully: trapped guests come out.
    pub fn guests_see_open_door(&mut self) {
        for place in 0..self.guests.len() {
            if self.guests[place].as_ref().is_some_and(|guest| guest.doing == Doing::Trapped) {
                self.guest_step(place);
            }
        }
    }

    /// The door has shut: guests inside are shut in, each counted once per visit.
    pub fn shut_in(&mut self) {
        for place in 0..self.guests.len() {
            let Some(guest) = &mut self.guests[place] else { continue };
            let inside = matches!(guest.doing, Doing::GoingIn | Doing::Inside | Doing::Trapped | Doing::GoingOut)
                && guest.motion.at(self.now).0 < 0.0;
            if inside && !guest.counted {
                guest.counted = true;
                let name = &self.plan.scenario.visitors[guest.visitor].name;
                self.book.count(Key::TrappedVisitors);
                self.trace(name, "shut in", String::new());
            }
        }
    }

    /// A guest near the door, if there is one: the index of its kind.
    pub fn guest_near(&self) -> Option<usize> {
        self.guests_here().map(|guest| guest.visitor).next()
    }
}
