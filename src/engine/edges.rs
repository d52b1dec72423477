//! Sensors to which a moving body is either there or not: a break beam.
//!
//! Its law stays the same from the moment at which somebody comes into the beam to the moment at which he leaves it.
//! These moments are found to the microsecond and become events, so that nothing needs to be drawn between them.

use arrayvec::ArrayVec;

use super::event::Event;
use super::season::Season;
use super::senses::BODIES_MAX;
use crate::math::time::Instant;
use crate::scenario::sensor::SensorKind;

/// Moments at which one body can come into a beam or leave it: each of its four sides passes a line once.
const MOMENTS: usize = 4 * BODIES_MAX;

impl Season<'_> {
    /// Whether sensor `index` is told when somebody comes into its view rather than asked at every sample.
    pub fn goes_by_edges(&self, index: usize) -> bool {
        !self.every && matches!(self.plan.eyes[self.senses[index].sensor].sensor().kind, SensorKind::BreakBeam { .. })
    }

    /// Somebody comes into the view of sensor `index` or leaves it.
    pub fn edge_passes(&mut self, index: usize) {
        self.senses[index].edge = None;
        self.refresh_sense(index);
    }

    /// Schedules the next moment at which the beam of sensor `index` is broken or free again, if the present motions
    /// lead to one.
    pub fn schedule_edge_of(&mut self, index: usize) {
        if let Some(ticket) = self.senses[index].edge.take() {
            self.queue.cancel(ticket);
        }
        if let Some(at) = self.next_edge(index) {
            self.senses[index].edge = Some(self.queue.schedule(at, Event::Edge(index as u32)));
        }
    }

    fn next_edge(&self, index: usize) -> Option<Instant> {
        let eye = &self.plan.eyes[self.senses[index].sensor];
        let SensorKind::BreakBeam { x_m, span_m, .. } = eye.sensor().kind else { return None };
        let (low, high) = (span_m.0.min(span_m.1), span_m.0.max(span_m.1));
        let mut moments: ArrayVec<Instant, MOMENTS> = ArrayVec::new();
        let mut note = |at: Option<Instant>| moments.extend(at.filter(|at| *at >= self.now));
        let mower = &self.plan.scenario.mower;
        if self.mower.is_near() {
            let motion = &self.mower.motion;
            let half = 0.5 * mower.width_m;
            [x_m, x_m - mower.length_m].into_iter().for_each(|x| note(motion.passes_x(x)));
            [low - half, high + half].into_iter().for_each(|y| note(motion.passes_y(y)));
        }
        for guest in self.guests_here() {
            let half = guest.half_m;
            [x_m - half, x_m + half].into_iter().for_each(|x| note(guest.motion.passes_x(x)));
            [low - half, high + half].into_iter().for_each(|y| note(guest.motion.passes_y(y)));
        }
        moments.sort_unstable();
        let broken = self.is_broken(index, self.now);
        // The computed moment is within a microsecond or two of the first one at which the bodies say so themselves.
        let near = |at: &Instant| {
            (-2..=2).map(|us| Instant(at.0 + us)).find(|at| *at > self.now && self.is_broken(index, *at) != broken)
        };
        moments.iter().find_map(near)
    }

    /// Whether somebody is in the beam of sensor `index` at a moment of the present stretch.
    fn is_broken(&self, index: usize, at: Instant) -> bool {
        let eye = &self.plan.eyes[self.senses[index].sensor];
        self.mower_body(at).is_some_and(|body| eye.is_broken_by(&body))
            || self.guests_here().any(|guest| eye.is_broken_by(&self.guest_body(guest, at)))
    }
}
