//! The season's panel on its way: it may swing through somebody who stands outside the doorway or in the dock.
//!
//! A leaf or a flap leaves the door line, and what it sweeps through is no doorway that an interlock watches. Who stands
//! still there when a stroke begins, or comes to stand there while it lasts, is met where the panel's line first touches
//! his box, as `check` reckons it. Nobody is met who overlaps the panel where it rests: he has come up to it and stands
//! beside it in truth. Mechanisms whose panel keeps to the door line have nothing to look at and cost nothing.

use arrayvec::ArrayVec;

use super::super::event::Event;
use super::super::plan::CONTACT_CAUSES;
use super::super::season::Season;
use super::super::senses::BODIES_MAX;
use super::Blow;
use crate::math::time::Span;
use crate::sensing::sight::Body;
use crate::shelter::contact::Contact;
use crate::shelter::mechanism::survey::{self, Meeting};
use crate::shelter::mechanism::{self, Direction};

/// Place among the causes of contacts of a panel that swings into the mower.
const CAUSE_SWINGS_INTO_MOWER: usize = 2;

/// Positions nearer to each other than this are the same, m: a tenth of a millimetre.
const HAIR_M: f64 = 1e-4;

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

    /// Where the panel, moving on from `from_m`, first touches a body.
    fn meets(&self, direction: Direction, from_m: f64, body: &Body) -> Option<Meeting> {
        let door = &self.plan.scenario.door;
        let (low, high) = if mechanism::opens_sideways(door) {
            ((body.x_m.0, body.y_m.0), (body.x_m.1, body.y_m.1))
        } else {
            let half_m = 0.5 * door.width_m;
            if body.y_m.0 >= half_m || body.y_m.1 <= -half_m {
                return None;
            }
            ((body.x_m.0, 0.0), (body.x_m.1, body.height_m))
        };
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
        let Some(running) = self.door.motion.filter(|running| running.blocked.is_none()) else { return };
        let position_m = running.position(self.now);
        let met = self.bystanders().into_iter().find_map(|(cause, body)| {
            let meeting = self.meets(running.direction, running.from_m, &body)?;
            ((position_m - meeting.at_m).abs() <= HAIR_M).then_some((cause, meeting))
        });
        let Some((cause, meeting)) = met else { return };
        let (door, drive) = (&self.plan.scenario.door, &self.plan.scenario.drive);
        let Blow { speed_m_s, available_n, reaction_s } = self.blow_of(&running, position_m);
        let gain = survey::gain(door, &meeting);
        let (contact, pressing_n) = Contact::on_the_way(
            door,
            drive,
            &running.loads,
            running.direction,
            position_m,
            gain,
            speed_m_s,
            available_n,
            reaction_s,
        );
        self.touches(running, position_m, cause, &contact, pressing_n, reaction_s);
    }
}
