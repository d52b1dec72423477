//! The season's panel on its way: it may swing through somebody who stands outside the doorway or in the dock.
//!
//! A leaf or a flap leaves the door line, and what it sweeps through is no doorway that an interlock watches. Who stands
//! still there when a stroke begins, or comes to stand there while it lasts, is met where the panel's line first touches
//! his box, as `check` reckons it. Nobody is met who overlaps the panel where it rests: he has come up to it and stands
//! beside it in truth. Mechanisms whose panel keeps to the door line have nothing to look at and cost nothing.
//!
//! The driving mower is met, too: by a panel on its way, or where it drives against one that stands between its ends. A panel
//! that moves on into the mower is a contact like any other, with the mower's own motion on top: both are stopped by
//! the same edge, so that the squares of what each would reach add up (energy). A panel that stands, or gives way more slowly
//! than the mower comes on, is pushed by the mower. In the doorway itself it is the closing edge that meets it, and a fully
//! open door lets it by.

use arrayvec::ArrayVec;

use super::super::event::Event;
use super::super::plan::{CAUSE_SWINGS_INTO_MOWER, CONTACT_CAUSES};
use super::super::season::Season;
use super::super::senses::BODIES_MAX;
use super::{Blow, Running};
use crate::ledger::metric::Key;
use crate::math::time::{Instant, Span};
use crate::sensing::sight::Body;
use crate::shelter::contact::{self, Contact};
use crate::shelter::controller::Place;
use crate::shelter::mechanism::Direction;
use crate::shelter::mechanism::survey::{self, Meeting};

/// Positions nearer to each other than this are the same, m: a tenth of a millimetre.
const HAIR_M: f64 = 1e-4;

/// Looks along the mower's way for the moment at which it meets the panel. At a walking pace two of them lie a few
/// millimetres apart.
const LOOKS: i64 = 200;

impl Season<'_> {
    /// Who stands still near the door but not in the doorway, each as the cause of a contact.
    fn bystanders(&self) -> ArrayVec<(usize, Body), BODIES_MAX> {
        let mut found = ArrayVec::new();
        let mower = self.mower_body(self.now).filter(|_| !self.mower.motion.moves());
        found.extend(mower.map(|body| (CAUSE_SWINGS_INTO_MOWER, body)));
        let standing = self.guests_here().filter(|guest| guest.dwells());
        found.extend(standing.map(|guest| (CONTACT_CAUSES.len() + guest.visitor, self.guest_body(guest, self.now))));
        found.retain(|(_, body)| self.plan.sweep.may_touch(body.x_m) && !self.is_under(body));
        found
    }

    /// Two opposite corners of a body in the plane of the panel's pose; none if it stands beside the panel.
    fn corners(&self, body: &Body) -> Option<[(f64, f64); 2]> {
        survey::corners(&self.plan.scenario.door, body.x_m, body.y_m, body.height_m)
    }

    /// Where the panel, moving on from `from_m`, first touches a body.
    fn meets(&self, direction: Direction, from_m: f64, body: &Body) -> Option<Meeting> {
        let door = &self.plan.scenario.door;
        let [low, high] = self.corners(body)?;
        let (first, last) = survey::meetings(door, &self.plan.sweep, low, high)?;
        match direction {
            Direction::Opening if from_m <= first.at_m + HAIR_M && last.at_m > from_m + HAIR_M => {
                Some(Meeting { at_m: first.at_m.max(from_m), ..first })
            }
            Direction::Closing if from_m > last.at_m + HAIR_M => Some(last),
            _ => None,
        }
    }

    /// A stroke has begun, or somebody has come to stand while one lasts: the panel may meet him on its way.
    pub fn schedule_sweep(&mut self) {
        if self.plan.sweep.is_empty() {
            return;
        }
        self.schedule_meeting();
        let Some(running) = self.door.motion.filter(|running| running.blocked.is_none()) else { return };
        let from_m = running.position(self.now);
        for (_, body) in self.bystanders() {
            let Some(meeting) = self.meets(running.direction, from_m, &body) else { continue };
            let reached_s = running.reaches(meeting.at_m);
            let ahead = match running.direction {
                Direction::Opening => meeting.at_m <= running.to_m,
                Direction::Closing => meeting.at_m >= running.to_m,
            };
            if ahead && reached_s.is_finite() {
                let at = (running.began + Span::from_seconds(reached_s)).max(self.now);
                self.queue.schedule(at, Event::PanelMeets);
            }
        }
    }

    /// The panel may be at somebody who stands in its way.
    pub fn panel_meets(&mut self) {
        self.mower_meets();
        let Some(running) = self.door.motion.filter(|running| running.blocked.is_none()) else { return };
        let position_m = running.position(self.now);
        let met = self.bystanders().into_iter().find_map(|(cause, body)| {
            let meeting = self.meets(running.direction, running.from_m, &body)?;
            ((position_m - meeting.at_m).abs() <= HAIR_M).then_some((cause, meeting))
        });
        let Some((cause, meeting)) = met else { return };
        let (door, drive) = (&self.plan.scenario.door, &self.plan.scenario.drive);
        let Blow { speed_m_s, line, notice } = self.blow_of(&running, position_m);
        let gain = survey::gain(door, &meeting);
        let (loads, direction) = (&running.loads, running.direction);
        let contact = Contact::on_the_way(door, drive, loads, direction, position_m, gain, speed_m_s, &line, notice);
        self.touches(running, position_m, cause, &contact);
    }

    /// The driving mower where it touches the panel at a moment of the present motions; none once the door is fully open.
    fn mower_touches(&self, at: Instant) -> Option<Meeting> {
        let body = self.mower_body(at).filter(|body| self.plan.sweep.may_touch(body.x_m))?;
        let [low, high] = self.corners(&body)?;
        survey::touch(&self.plan.scenario.door, self.door.position(at), low, high)
    }

    /// The mower has set off, or the door has: they may meet on their ways.
    pub fn schedule_meeting(&mut self) {
        let stands_between = self.door.place() == Place::Between;
        if self.plan.sweep.is_empty() || !self.mower.motion.moves() || !(self.door.is_moving() || stands_between) {
            return;
        }
        let ends = self.mower.motion.ends();
        let both = self.mower_body(self.now).zip(self.mower_body(ends));
        let way = both.map(|(a, b)| (a.x_m.0.min(b.x_m.0), a.x_m.1.max(b.x_m.1)));
        if ends <= self.now || !way.is_some_and(|way| self.plan.sweep.may_touch(way)) {
            return;
        }
        let look = |count: i64| Instant(self.now.0 + (ends.0 - self.now.0) * count / LOOKS);
        // Where it touches to begin with it stands beside the panel; it meets it after it has been free of it.
        let mut touched = self.mower_touches(self.now).is_some();
        for count in 1..=LOOKS {
            let touches = self.mower_touches(look(count)).is_some();
            if touches && !touched {
                let (mut free, mut met) = (look(count - 1), look(count));
                while met.0 - free.0 > 1 {
                    let middle = Instant((free.0 + met.0) / 2);
                    if self.mower_touches(middle).is_some() { met = middle } else { free = middle }
                }
                self.queue.schedule(met, Event::PanelMeets);
                return;
            }
            touched = touches;
        }
    }

    /// The driving mower may be at the panel now.
    fn mower_meets(&mut self) {
        let stands_between = self.door.place() == Place::Between;
        if !self.mower.motion.moves() || !(self.door.is_moving() || stands_between) {
            return;
        }
        let Some(meeting) = self.mower_touches(self.now) else { return };
        let was_free = self.mower_touches(self.now - Span(1)).is_none();
        let under = self.mower_body(self.now).is_some_and(|body| self.is_under(&body));
        if !was_free || under {
            return;
        }
        let (door, drive) = (&self.plan.scenario.door, &self.plan.scenario.drive);
        let (mass_kg, mower_m_s) = (self.plan.scenario.mower.mass_kg, self.mower.motion.speed_m_s());
        let own_n = contact::kinetic_peak_n(0.0, door.edge_stiffness_n_m, mass_kg, mower_m_s);
        let own_j = contact::energy_j(mass_kg, mower_m_s);
        let running = self.door.motion.filter(|running| running.blocked.is_none() && self.moves_into(running));
        if let Some(running) = running {
            let Blow { speed_m_s, line, notice } = self.blow_of(&running, meeting.at_m);
            let gain = survey::gain(door, &meeting);
            let (loads, direction, at_m) = (&running.loads, running.direction, meeting.at_m);
            let panel = Contact::on_the_way(door, drive, loads, direction, at_m, gain, speed_m_s, &line, notice);
            let contact = Contact {
                peak_force_n: libm::hypot(panel.peak_force_n, own_n),
                moving_energy_j: panel.moving_energy_j + own_j,
                ..panel
            };
            self.touches(running, at_m, CAUSE_SWINGS_INTO_MOWER, &contact);
        } else {
            self.pushes_door(own_n.max(self.plan.scenario.mower.shut_door.bump_force_n));
            self.book.peak(Key::PeakContactEnergy, own_j);
        }
        self.stopped_by_panel();
    }

    /// Whether the moving panel would press on the mower if that stood still now.
    fn moves_into(&self, running: &Running) -> bool {
        let onwards_m = match running.direction {
            Direction::Opening => HAIR_M,
            Direction::Closing => -HAIR_M,
        };
        let Some([low, high]) = self.mower_body(self.now).and_then(|body| self.corners(&body)) else { return false };
        let position_m = self.door.position(self.now) + onwards_m;
        (0.0..=self.door.stroke_m).contains(&position_m)
            && survey::touch(&self.plan.scenario.door, position_m, low, high).is_some()
    }
}
