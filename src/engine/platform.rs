//! Load platforms that creep under what stands on them and swing when a wheel rolls on.
//!
//! **Creep** is followed exactly from one change of the season's state to the next; a load counts as soon as it begins to roll on
//! or off, since creep takes minutes and driving on seconds. The reading takes it in steps: it stays the same until the
//! creep is half a step away from it, so that samples can be skipped between. A step is a tenth of the noise (or of the
//! resolution, if that is more), so that the reading is never off by more than a twentieth of it. Both ways of sampling see the
//! same steps.
//!
//! **Water** comes and goes in steps, too, of half the noise.
//!
//! **Swing.** Each axle that rolls onto the platform or off it excites a damped oscillation, which is followed until it has
//! fallen to a hundredth ([`Platform::settles_s`]). While it lasts, each sample has a law of its own.

use arrayvec::ArrayVec;

use super::event::Event;
use super::queue::Ticket;
use super::season::Season;
use crate::math::time::{Instant, Span};
use crate::scenario::mower::Axles;
use crate::scenario::sensor::{Creep, Errors, Platform, SensorKind};
use crate::sensing::reading::load_on;

use super::senses::Bodies;

/// Axles that rolled on or off so shortly ago that the platform still swings, and those that will on the present drive.
const ROLLS: usize = 12;

/// Smallest step in which creep is read, kg.
const LEAST_STEP_KG: f64 = 1e-3;

/// What a load platform remembers.
#[derive(Clone, Debug)]
pub struct Laden {
    /// What it has crept by at `at`, kg, and under which load it creeps since, kg.
    crept_kg: f64,
    at: Instant,
    load_kg: f64,
    /// Whether somebody stands on it.
    occupied: bool,
    /// What its reading shows of the creep, kg.
    shown_kg: f64,
    /// When axles roll on (or off: negative), and what they carry, kg.
    rolls: ArrayVec<(Instant, f64), ROLLS>,
    /// The next step of its reading, or the end of its swing.
    next: Option<Ticket>,
}

impl Laden {
    /// Empty and at rest.
    pub const EMPTY: Laden = Laden {
        crept_kg: 0.0,
        at: Instant::START,
        load_kg: 0.0,
        occupied: false,
        shown_kg: 0.0,
        rolls: ArrayVec::new_const(),
        next: None,
    };

    /// What its reading shows of the creep, kg.
    pub fn shown_kg(&self) -> f64 {
        self.shown_kg
    }

    /// What shows of the creep while nobody stands on it, kg: what somebody who knows its zero takes for drift.
    pub fn left_kg(&self) -> f64 {
        if self.occupied { 0.0 } else { self.shown_kg }
    }

    /// What it swings by at a moment, kg.
    fn swing_kg(&self, spring: &Platform, at: Instant) -> f64 {
        let settles = Span::from_seconds(spring.settles_s());
        let lasting = self.rolls.iter().filter(|(on, _)| *on <= at && at < *on + settles);
        lasting.map(|(on, kg)| kg * (spring.response(at.since(*on).seconds()) - 1.0)).sum()
    }

    /// The most it swings by between two moments, kg, either way.
    fn swing_at_most_kg(&self, spring: &Platform, from: Instant, to: Instant) -> f64 {
        let settles = Span::from_seconds(spring.settles_s());
        let decay = std::f64::consts::TAU * spring.frequency_hz * spring.damping;
        let lasting = self.rolls.iter().filter(|(on, _)| *on <= to && from < *on + settles);
        let most = |on: Instant, kg: f64| {
            let since_s = from.since(on).seconds().max(0.0);
            kg.abs() * spring.swing * libm::exp(-decay * since_s)
        };
        lasting.map(|(on, kg)| most(*on, *kg)).sum()
    }

    /// When the last of the axles will have ceased to swing it.
    fn settled_at(&self, spring: &Platform) -> Instant {
        let settles = Span::from_seconds(spring.settles_s());
        self.rolls.iter().map(|(on, _)| *on + settles).max().unwrap_or(Instant::START)
    }

    /// Creeps on under the load so far; from `now` on under `load_kg`.
    fn creep_on(&mut self, creep: &Creep, step_kg: f64, now: Instant, load_kg: f64) {
        self.crept_kg = creep.after(self.crept_kg, self.load_kg, now.since(self.at).seconds());
        (self.at, self.load_kg) = (now, load_kg);
        let half = 0.5 * step_kg;
        if libm::fabs(self.crept_kg - self.shown_kg) >= half * (1.0 - 1e-6) {
            let left = creep.at_last() * load_kg - self.crept_kg;
            self.shown_kg = self.crept_kg + left.clamp(-half, half);
        }
    }

    /// When the reading takes its next step, if the load stays; never if it does not.
    fn steps_at(&self, creep: &Creep, step_kg: f64) -> Instant {
        let way = (creep.at_last() * self.load_kg - self.crept_kg).signum();
        let to = self.shown_kg + way * 0.5 * step_kg;
        // Rounded up, so that the step has been reached.
        let after = |seconds: f64| self.at + Span::from_seconds(seconds) + Span(1);
        creep.reaches_s(self.crept_kg, self.load_kg, to).map_or(Instant::NEVER, after)
    }
}

fn step_kg(errors: &Errors) -> f64 {
    (0.1 * errors.noise.max(errors.resolution)).max(LEAST_STEP_KG)
}

impl Season<'_> {
    fn platform(&self, index: usize) -> Option<(Creep, Platform, (f64, f64), f64)> {
        match self.plan.scenario.sensors[self.senses[index].sensor].kind {
            SensorKind::PlatformLoad { creep, spring, span_m, area_m2, .. } => {
                let changes = creep.in_half_an_hour > 0.0 || spring.swing > 0.0 || area_m2 > 0.0;
                changes.then_some((creep, spring, span_m, area_m2))
            }
            _ => None,
        }
    }

    /// Lets platform `index` feel what stands on it and who rolls onto it. To be called whenever its law is asked for again.
    pub fn feels_load(&mut self, index: usize) {
        let Some((creep, spring, span_m, area_m2)) = self.platform(index) else { return };
        if let Some(ticket) = self.senses[index].laden.next.take() {
            self.queue.cancel(ticket);
        }
        let mut next = Instant::NEVER;
        if creep.in_half_an_hour > 0.0 {
            let standing_kg = load_on(&self.bodies_at_rest(), span_m);
            let sense = &mut self.senses[index];
            let step_kg = step_kg(&self.plan.scenario.sensors[sense.sensor].errors);
            sense.laden.occupied = standing_kg > 0.0;
            sense.laden.creep_on(&creep, step_kg, self.now, standing_kg + area_m2 * sense.water_mm());
            next = sense.laden.steps_at(&creep, step_kg);
        }
        if let Some(axles) = self.plan.scenario.mower.axles.filter(|_| spring.swing > 0.0) {
            self.rolls(index, &spring, &axles, span_m);
            let settled = self.senses[index].laden.settled_at(&spring);
            if settled > self.now {
                next = next.min(settled);
            }
        }
        if let Some(lasts) = self.water_lasts(index) {
            next = next.min(self.now + lasts);
        }
        if next < self.end {
            self.senses[index].laden.next = Some(self.queue.schedule(next, Event::Laden(index as u32)));
        }
    }

    /// The bodies near the door where they will stand next.
    fn bodies_at_rest(&self) -> Bodies {
        let mut bodies = Bodies::new();
        bodies.extend(self.mower_body(self.mower.motion.ends()));
        bodies.extend(self.guests_here().map(|guest| self.guest_body(guest, guest.motion.ends())));
        bodies.extend(self.failing.object);
        bodies
    }

    /// Finds the axles that roll onto platform `index` or off it on the present drive.
    fn rolls(&mut self, index: usize, spring: &Platform, axles: &Axles, span_m: (f64, f64)) {
        let now = self.now;
        let settles = Span::from_seconds(spring.settles_s());
        let rolls = &mut self.senses[index].laden.rolls;
        rolls.retain(|(on, _)| *on <= now && now < *on + settles);
        if !self.mower.is_near() || !self.mower.motion.moves() {
            return;
        }
        let motion = &self.mower.motion;
        let inwards = motion.end().0 < motion.start().0;
        let (low, high) = (span_m.0.min(span_m.1), span_m.0.max(span_m.1));
        for (behind_m, share) in axles.each() {
            for (edge_m, onto) in [(high, inwards), (low, !inwards)] {
                let at = motion.passes_x(edge_m - behind_m).filter(|at| *at > now);
                let kg = share * self.plan.scenario.mower.mass_kg;
                if let Some(at) = at {
                    // More than there is room for would take a drive to and fro within a second.
                    let _ = rolls.try_push((at, if onto { kg } else { -kg }));
                }
            }
        }
    }

    /// Whether platform `index` swings now, or will before anything else happens to it.
    pub fn is_swinging(&self, index: usize) -> bool {
        self.platform(index).is_some_and(|(_, spring, ..)| self.senses[index].laden.settled_at(&spring) > self.now)
    }

    /// What platform `index` swings by at a moment, kg.
    pub fn swing_kg(&self, index: usize, at: Instant) -> f64 {
        self.platform(index).map_or(0.0, |(_, spring, ..)| self.senses[index].laden.swing_kg(&spring, at))
    }

    /// The most that platform `index` swings by between two moments, kg.
    pub fn swing_at_most_kg(&self, index: usize, from: Instant, to: Instant) -> f64 {
        let most = |spring: Platform| self.senses[index].laden.swing_at_most_kg(&spring, from, to);
        self.platform(index).map_or(0.0, |(_, spring, ..)| most(spring))
    }
}
