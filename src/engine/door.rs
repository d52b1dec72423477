//! The season's door: strokes begin, end, fail, are turned back, and may come down on somebody.

use super::event::Event;
use super::plan::{CAUSE_MOWER_UNDER, CONTACT_CAUSES};
use super::season::Season;
use crate::engine::queue::Ticket;
use crate::ledger::blame::Blamed;
use crate::ledger::metric::Key;
use crate::math::time::{Instant, Span};
use crate::scenario::care::{BrownOut, TimeoutOf};
use crate::scenario::door::EDGE_ZONE_M;
use crate::scenario::failure::Act;
use crate::scenario::strategy::Controller as Settings;
use crate::sensing::sight::Body;
use crate::shelter::actuator::{Actuator, Line};
use crate::shelter::contact::{Contact, Notice};
use crate::shelter::controller::{Happening, Place};
use crate::shelter::duty::Duty;
use crate::shelter::heat::{Heating, Winding};
use crate::shelter::loads::{self, Loads};
use crate::shelter::mechanism::{self, Direction, Force};
use crate::shelter::power;
use crate::shelter::stroke::{Outcome, Stroke, StrokeTable};
use crate::shelter::wear;

mod sweep;

/// How a stroke is driven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To its end.
    Full,
    /// To its end, at the reduced speed of a door that looks for its end.
    Slow,
    /// By the back-off distance.
    BackOff,
}

/// Weight of the newest full stroke in the learned stroke time (common practice).
const LEARNS: f64 = 0.1;

/// Bounds of the learned stroke time as a multiple of the computed one (common practice): a door that takes three times as
/// long has a fault, not a habit.
const LEARNED: (f64, f64) = (0.5, 3.0);

/// What has been in the doorway for less than this can't be held against a closing stroke that begins: samples, latency and
/// the controller's own turn take some of the 0.2 s within which a reversal should have begun (common practice).
const REACTION: Span = Span(100_000);

/// The door and its drive.
#[derive(Clone, Debug)]
pub struct Door<'p> {
    stroke_m: f64,
    /// Position at rest, m from shut.
    position_m: f64,
    motion: Option<Running<'p>>,
    /// Motor temperatures as of `cooled_at`.
    winding: Winding,
    cooled_at: Instant,
    duty: Duty,
    /// Resistance of the winding at 20 degC, ohm.
    winding_ohm: f64,
    /// Running means of how long full strokes took, as multiples of the computed times: opening, closing.
    learned: [f64; 2],
}

/// A stroke under way.
#[derive(Clone, Copy, Debug)]
struct Running<'p> {
    stroke: &'p Stroke,
    direction: Direction,
    loads: Loads,
    began: Instant,
    from_m: f64,
    to_m: f64,
    /// Speed as a share of the usual one.
    pace: f64,
    /// Time that it takes in calm, mild weather, s.
    nominal_s: f64,
    /// Where it stands still against an obstacle, and since when, with the motor pushing.
    blocked: Option<(f64, Instant)>,
    end: Ticket,
    times_out: Instant,
    /// Past its end it pushes against the stop.
    runs_on: bool,
}

impl Running<'_> {
    fn position(&self, now: Instant) -> f64 {
        if let Some((position, _)) = self.blocked {
            return position;
        }
        let elapsed = now.since(self.began).seconds() * self.pace;
        let position = if self.from_m == self.stroke.from_m {
            self.stroke.position_at(elapsed)
        } else {
            let into = self.stroke.time_at(self.from_m) + (elapsed - self.stroke.start_s).max(0.0);
            self.stroke.position_at(into)
        };
        // A stalled profile may stop short of where this part begins; a part ends where it shall.
        match self.direction {
            Direction::Opening => position.max(self.from_m),
            Direction::Closing => position.min(self.from_m).max(self.to_m),
        }
    }
}

impl Running<'_> {
    /// Time from the beginning until a position ahead is reached, s; infinite if the stroke stalls before it.
    fn reaches(&self, position_m: f64) -> f64 {
        let full = self.stroke.time_at(position_m);
        if self.from_m == self.stroke.from_m {
            return full / self.pace;
        }
        let passed = full - self.stroke.time_at(self.from_m);
        if passed.is_finite() { (self.stroke.start_s + passed) / self.pace } else { f64::INFINITY }
    }
}

impl<'p> Door<'p> {
    /// A shut door with a cold motor.
    pub fn new(stroke_m: f64, ambient_c: f64, duty_period_s: f64, winding_ohm: f64) -> Door<'p> {
        Door {
            stroke_m,
            position_m: 0.0,
            motion: None,
            winding: Winding::rested(ambient_c),
            cooled_at: Instant::START,
            duty: Duty::new(Span::from_seconds(duty_period_s)),
            winding_ohm,
            learned: [1.0; 2],
        }
    }

    /// Position at a moment, m from shut.
    pub fn position(&self, now: Instant) -> f64 {
        self.motion.as_ref().map_or(self.position_m, |running| running.position(now))
    }

    /// Whether it is fully shut, as its end switch tells.
    pub fn is_shut(&self) -> bool {
        self.motion.is_none() && self.position_m <= SWITCH_PLAY_M
    }

    /// Whether it is fully open, as its end switch tells.
    pub fn is_open(&self) -> bool {
        self.motion.is_none() && self.position_m >= self.stroke_m - SWITCH_PLAY_M
    }

    /// Whether it moves (or pushes).
    pub fn is_moving(&self) -> bool {
        self.motion.is_some()
    }

    /// Whether it is closing.
    pub fn is_closing(&self) -> bool {
        self.motion.as_ref().is_some_and(|running| running.direction == Direction::Closing)
    }

    /// What the end switches say.
    pub fn place(&self) -> Place {
        if self.is_shut() {
            Place::Shut
        } else if self.is_open() {
            Place::Open
        } else {
            Place::Between
        }
    }

    /// Whether the cut-out stood open when the winding was last looked at.
    pub fn has_tripped(&self) -> bool {
        self.winding.tripped
    }

    /// Fullest duty period so far, as a share of the rating.
    pub fn duty_share(&self, drive: &crate::scenario::door::Drive) -> f64 {
        self.duty.utilisation(drive)
    }
}

/// What drives a moving door against whoever it touches.
struct Blow {
    /// Speed of the actuator, m/s.
    speed_m_s: f64,
    /// The working line of the drive.
    line: Line,
    /// How it notices an obstacle.
    notice: Notice,
}

/// The drive at a moment, for an observer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DriveView {
    /// Door position, m from shut.
    pub position_m: f64,
    /// Motor current, A: as the stroke was solved, quasi-static, the start's peak while it comes up to speed.
    pub current_a: f64,
    /// Winding temperature, degC.
    pub winding_c: f64,
    /// Housing temperature, degC.
    pub housing_c: f64,
}

impl<'p> Season<'p> {
    /// The drive at a moment of the present stretch.
    pub fn drive_at(&self, at: Instant) -> DriveView {
        let scenario = &self.plan.scenario;
        let (heat, position_m) = (&scenario.drive.heat, self.door.position(at));
        let mut winding = self.door.winding;
        let Some(running) = &self.door.motion else {
            winding.rest(heat, at.since(self.door.cooled_at).seconds(), self.sky.temperature_c);
            let (winding_c, housing_c) = (winding.winding_c, winding.housing_c);
            return DriveView { position_m, current_a: 0.0, winding_c, housing_c };
        };
        let ambient = running.loads.temperature_c;
        let moves_s = moving_s(running.stroke, running.from_m, running.pace).min(running.reaches(running.to_m));
        let stands = running.blocked.map(|(_, since)| since.min(at));
        let stalled =
            (at.since(running.began).seconds() > moves_s).then(|| running.began + Span::from_seconds(moves_s));
        let stands = stands.or(stalled);
        let moved_until = stands.unwrap_or(at);
        let moved_s = moved_until.since(running.began).seconds();
        winding.advance(heat, &self.heating(running.stroke), moved_s, ambient);
        let current_a = if stands.is_some() {
            let pushing = self.pushing_when(winding.winding_c);
            winding.advance(heat, &pushing, at.since(moved_until).seconds(), ambient);
            pushing.current_a
        } else if moved_s < running.stroke.start_s {
            running.stroke.peak_current_a
        } else {
            let (loads, winding_c) = StrokeTable::solved_with(running.direction, &running.loads);
            let line = Actuator::at(&scenario.drive, &scenario.supply, winding_c);
            let (door, drive) = (&scenario.door, &scenario.drive);
            match mechanism::drive_force(door, drive, running.direction, position_m, &loads, false) {
                Force::Push(force_n) => line.current_a(force_n),
                Force::Jammed(_) => line.start_current_a(),
            }
        };
        DriveView { position_m, current_a, winding_c: winding.winding_c, housing_c: winding.housing_c }
    }

    /// What heats while a motor as warm as this pushes without moving.
    fn pushing_when(&self, winding_c: f64) -> Heating {
        let scenario = &self.plan.scenario;
        self.pushing(&Actuator::at(&scenario.drive, &scenario.supply, winding_c))
    }

    /// What heats while the motor pushes without moving.
    fn pushing(&self, line: &Line) -> Heating {
        Heating { current_a: line.start_current_a(), resistance_20_ohm: self.door.winding_ohm, housing_w: 0.0 }
    }

    /// The controller's settings.
    pub fn settings(&self) -> &Settings {
        &self.plan.scenario.strategies[self.strategy.index].controller
    }

    /// A stroke in calm, mild weather.
    pub fn calm_stroke(&self, direction: Direction) -> &'p Stroke {
        self.plan.strokes.get(direction, &Loads { frozen: false, gust_m_s: 0.0, temperature_c: 20.0 })
    }

    /// What bears on a stroke that would begin now.
    pub fn loads(&self, direction: Direction) -> Loads {
        let weather = &self.outside.weather.steps[self.weather_step];
        let door = &self.plan.scenario.door;
        let wet = self.rain_ended.is_some_and(|end| self.now < end + loads::SEAL_DRIES_IN) || weather.rain_mm_h > 0.0;
        Loads {
            gust_m_s: weather.gust_m_s * self.plan.scenario.site.wind_factor,
            temperature_c: weather.temperature_c,
            frozen: direction == Direction::Opening
                && self.door.is_shut()
                && loads::frozen(door, weather.temperature_c, wet),
        }
    }

    /// Drives the door open or shut from where it is.
    pub fn drive(&mut self, direction: Direction, way: Way) {
        self.halt();
        let plan = self.plan;
        let scenario = &plan.scenario;
        let from_m = self.door.position_m;
        let loads = self.loads(direction);
        let number = self.counts_stroke();
        let stroke = plan.strokes.get(direction, &loads);
        self.book.count(Key::Strokes);
        self.book.peak(Key::SupplyPeak, stroke.peak_supply_w);
        let ambient = loads.temperature_c;
        let rested = self.now.since(self.door.cooled_at).seconds();
        self.door.winding.rest(&scenario.drive.heat, rested, ambient);
        self.door.cooled_at = self.now;
        let browned_out = power::stroke_browns_out(&scenario.supply, stroke);
        if browned_out {
            self.book.count(Key::BrownOuts);
        }
        if browned_out || self.door.winding.tripped {
            let why = if browned_out { "brown-out" } else { "thermal cut-out open" };
            self.trace("door", "stroke refused", why);
            let resets = browned_out && self.settings().care.brown_out == BrownOut::Resets;
            self.queue.schedule(self.now, if resets { Event::BrownOut } else { Event::StrokeFails });
            return;
        }
        for index in 0..self.senses.len() {
            self.senses_water(index);
        }
        let care = self.settings().care;
        let to_m = match (direction, way) {
            (Direction::Opening, _) => self.door.stroke_m,
            (Direction::Closing, Way::BackOff) => (from_m - care.back_off_m).max(0.0),
            (Direction::Closing, _) => 0.0,
        };
        let pace = if way == Way::Slow { care.homing_speed } else { 1.0 };
        let part = stroke.part(from_m, to_m);
        // A stroke that stalls before it has moved at all is a failed stroke, but not an opening.
        let leaves = !matches!(stroke.outcome, Outcome::Stalled { at_m, .. } if at_m <= 0.0);
        if direction == Direction::Opening && from_m <= SWITCH_PLAY_M && leaves {
            self.book.count(Key::Openings);
            self.this_hour().openings += 1;
            self.judge_opening();
        }
        let calm = self.calm_stroke(direction);
        let nominal_s = calm.time_between(from_m, to_m);
        let nominal_s = if nominal_s.is_finite() { nominal_s } else { part.time_s };
        let nominal_s = if nominal_s.is_finite() { nominal_s } else { UNKNOWN_STROKE_S };
        let usual = match care.timeout_of {
            TimeoutOf::Computed => 1.0,
            TimeoutOf::Learned => self.door.learned[direction as usize],
        };
        let timeout_s = (self.settings().stroke_timeout * nominal_s * usual / pace).max(SHORTEST_TIMEOUT_S);
        let takes_s = part.time_s / pace;
        let longest = takes_s.min(timeout_s);
        let times_out = self.now + Span::from_seconds(timeout_s);
        let overrun_s = if to_m == from_m { None } else { self.failing.overrun_s.take() };
        let unseen = takes_s <= timeout_s && self.end_unseen(loads.temperature_c);
        // What does not arrive, or is not seen to, pushes on until its time is over.
        let powered_s = if unseen { timeout_s } else { (longest + overrun_s.unwrap_or(0.0)).min(timeout_s) };
        let moves_s = moving_s(stroke, from_m, pace).min(longest);
        let trips = self.trips_after(stroke, ambient, moves_s, powered_s);
        let felt_s = [
            self.false_trip_s(number, &loads, longest),
            self.hits_object_s(direction, stroke, from_m).map(|at_s| at_s / pace),
        ]
        .into_iter()
        .flatten()
        .fold(f64::INFINITY, f64::min);
        let end = if felt_s < trips.unwrap_or(takes_s).min(longest) {
            self.queue.schedule(self.now + Span::from_seconds(felt_s), Event::ObstacleFelt)
        } else if let Some(trips_s) = trips {
            if !stroke.finishes() && trips_s >= moves_s {
                self.book.count(Key::Stalls);
            }
            self.queue.schedule(self.now + Span::from_seconds(trips_s), Event::StrokeFails)
        } else if takes_s + overrun_s.unwrap_or(0.0) <= timeout_s && !unseen {
            let lasts_s = takes_s + overrun_s.unwrap_or(0.0);
            self.queue.schedule(self.now + Span::from_seconds(lasts_s), Event::StrokeEnds)
        } else {
            if !stroke.finishes() {
                self.book.count(Key::Stalls);
            }
            self.queue.schedule(times_out, Event::StrokeFails)
        };
        self.contacts_bounce();
        let began = self.now;
        self.door.motion = Some(Running {
            stroke,
            direction,
            loads,
            began,
            from_m,
            to_m,
            pace,
            nominal_s,
            blocked: None,
            end,
            times_out,
            runs_on: unseen || overrun_s.is_some(),
        });
        let lasts_s = if part.time_s.is_finite() { takes_s } else { longest };
        self.stroke_draws(power::motor_wh(&scenario.supply, part.energy_j), stroke.start_s / pace, lasts_s);
        self.supply_sags(number);
        if self.tracing() {
            let what = if direction == Direction::Opening { "opening begins" } else { "closing begins" };
            self.trace("door", what, format!("from {:.3} m", from_m));
        }
        if direction == Direction::Closing {
            let occupants = self.occupants();
            if self.occupied_for_long() {
                self.book.count(Key::ClosingsOnOccupied);
                self.trace("door", "closing begins on an occupied doorway", String::new());
            }
            for (_, clears_m) in occupants.into_iter().flatten() {
                self.schedule_edge(clears_m);
            }
        }
        self.schedule_sweep();
        self.refresh(super::senses::change::DOOR);
    }

    /// When the cut-out opens, s from the stroke's beginning, if it does within `powered_s`: the motor moves for `moves_s`, then pushes.
    fn trips_after(&self, stroke: &Stroke, ambient_c: f64, moves_s: f64, powered_s: f64) -> Option<f64> {
        let (heat, heating) = (&self.plan.scenario.drive.heat, self.heating(stroke));
        let mut winding = self.door.winding;
        let moving = winding.time_until_above(heat, &heating, heat.trips_at_c, ambient_c, moves_s);
        if moving.is_some() || powered_s <= moves_s {
            return moving;
        }
        winding.advance(heat, &heating, moves_s, ambient_c);
        let pushing = self.pushing_when(winding.winding_c);
        let pushed = winding.time_until_above(heat, &pushing, heat.trips_at_c, ambient_c, powered_s - moves_s);
        pushed.map(|pushed_s| moves_s + pushed_s)
    }

    fn heating(&self, stroke: &Stroke) -> Heating {
        let moving = if stroke.time_s.is_finite() { stroke.time_s.max(1e-3) } else { UNKNOWN_STROKE_S };
        Heating {
            current_a: stroke.rms_current_a,
            resistance_20_ohm: self.door.winding_ohm,
            housing_w: stroke.friction_heat_j.max(0.0) / moving,
        }
    }

    /// Stops the motor and accounts for what it did. Nothing happens if it was off.
    pub fn halt(&mut self) {
        let Some(running) = self.door.motion.take() else { return };
        self.queue.cancel(running.end);
        let scenario = &self.plan.scenario;
        let drive = &scenario.drive;
        let position = running.position(self.now).clamp(0.0, self.door.stroke_m);
        self.door.position_m = position;
        let elapsed = self.now.since(running.began).seconds();
        let part = running.stroke.part(running.from_m, position);
        // What is left of the time, the motor pushed without moving.
        let moved_s = match running.blocked {
            Some((_, since)) => since.since(running.began).seconds(),
            None if part.time_s.is_finite() => (part.time_s / running.pace).min(elapsed),
            None => 0.0,
        };
        let pushed_s = (elapsed - moved_s).max(0.0);
        let ambient = running.loads.temperature_c;
        let mut peak = self.door.winding.advance(&drive.heat, &self.heating(running.stroke), moved_s, ambient);
        // A slower motor draws the same current against the same force, for longer.
        let mut energy_j = part.energy_j + part.copper_heat_j * (1.0 / running.pace - 1.0);
        if pushed_s > 1e-6 && (running.blocked.is_some() || running.runs_on || !running.stroke.finishes()) {
            let line = Actuator::at(drive, &scenario.supply, self.door.winding.winding_c);
            let pushing = self.pushing(&line);
            peak = peak.max(self.door.winding.advance(&drive.heat, &pushing, pushed_s, ambient));
            energy_j += line.power_w(line.available_n()) * pushed_s;
        }
        self.door.cooled_at = self.now;
        if self.door.winding.settle(&drive.heat) {
            self.book.count(Key::ThermalTrips);
            self.trace("door", "thermal cut-out opens", String::new());
        }
        self.door.duty.ran(running.began, self.now);
        self.book.peak(Key::WindingPeak, peak);
        self.book.add(Key::Travel, (position - running.from_m).abs());
        self.book.add(Key::OnTime, elapsed / 60.0);
        let wh = power::motor_wh(&scenario.supply, energy_j);
        self.book.add(Key::MotorEnergy, wh);
        self.book.add(Key::TotalEnergy, wh);
        self.draw_charge(wh);
        self.wears((position - running.from_m).abs() / self.door.stroke_m, part.damage);
        self.schedule_meeting();
    }

    /// The stroke has reached its end.
    pub fn stroke_ends(&mut self) {
        let Some(running) = self.door.motion else { return };
        for index in 0..self.senses.len() {
            self.senses_water(index);
        }
        self.halt();
        let full = running.from_m == running.stroke.from_m && running.pace == 1.0;
        let seconds = self.now.since(running.began).seconds();
        if full {
            let learned = &mut self.door.learned[running.direction as usize];
            *learned += LEARNS * ((seconds / running.nominal_s).clamp(LEARNED.0, LEARNED.1) - *learned);
        }
        match running.direction {
            Direction::Opening => {
                self.door.position_m = self.door.stroke_m;
                if full {
                    self.book.record().opening_strokes.add(seconds);
                }
            }
            Direction::Closing if running.to_m > 0.0 => self.door.position_m = running.to_m,
            Direction::Closing => {
                if full {
                    self.book.record().closing_strokes.add(seconds);
                }
                self.comes_to_shut();
            }
        }
        let what = match self.door.place() {
            Place::Open => "open",
            Place::Shut => "shut",
            Place::Between | Place::Contradictory => "has given way",
        };
        self.trace("door", what, String::new());
        self.refresh(super::senses::change::DOOR);
        self.contacts_bounce();
        self.gusts_rattle();
        self.object_falls();
        self.control(Happening::StrokeEnded);
        self.is_seen_open();
    }

    /// A stroke that stands under power until its time-out wears the drive as a full stroke at all its force.
    fn wears_by_stall(&mut self) {
        let Some(running) = self.door.motion else { return };
        if running.blocked.is_none() && !running.runs_on && running.stroke.finishes() {
            return;
        }
        let (drive, supply) = (&self.plan.scenario.drive, &self.plan.scenario.supply);
        let load = wear::stalled_load(drive, supply);
        self.wears(1.0, wear::stalled_damage(1.0, load, drive.wear.exponent, drive.wear.rated_strokes));
    }

    /// Books the used life of so many full strokes, counted in full and by their load.
    fn wears(&mut self, strokes: f64, by_load: f64) {
        self.book.add(Key::Damage, 100.0 * strokes / self.plan.scenario.drive.wear.rated_strokes);
        self.book.add(Key::DamageByLoad, 100.0 * by_load);
    }

    fn comes_to_shut(&mut self) {
        self.door.position_m = 0.0;
        self.book.count(Key::DoorCycles);
        self.book.today().cycles += 1;
        self.shut_in();
    }

    /// The panel presses on its seal, near enough to count as shut.
    pub fn seat(&mut self) {
        self.halt();
        self.comes_to_shut();
        self.trace("door", "shut on its seal", String::new());
        self.refresh(super::senses::change::DOOR);
        self.contacts_bounce();
        self.gusts_rattle();
    }

    /// The stroke fails: stall, trip, time-out, or refused by the supply.
    pub fn stroke_fails(&mut self) {
        self.trace("door", "stroke failed", String::new());
        self.book.count(Key::StrokesFailed);
        self.wears_by_stall();
        self.halt();
        self.refresh(super::senses::change::DOOR);
        self.control(Happening::StrokeFailed);
        self.is_seen_open();
    }

    /// Whoever waits for an open door sees it, whatever the controller thinks of it.
    fn is_seen_open(&mut self) {
        if self.door.is_open() {
            self.mower_sees_open_door();
            self.guests_see_open_door();
        }
    }

    /// Position at which the panel's edge reaches the object in the doorway, if there is one.
    fn failures_object(&self) -> Option<f64> {
        self.failing.object?;
        Some(self.failing.object_clears_m)
    }

    /// When a closing stroke meets something that no sensor sees, s after its start.
    fn hits_object_s(&self, direction: Direction, stroke: &Stroke, from_m: f64) -> Option<f64> {
        if direction == Direction::Opening {
            return None;
        }
        let under = |failure: usize| {
            let clears_m = self.plan.object_clears_m[failure];
            (from_m > clears_m).then(|| stroke.time_between(from_m, clears_m))
        };
        self.under_way(Act::Hunting).filter_map(under).filter(|at_s| at_s.is_finite()).min_by(f64::total_cmp)
    }

    /// The bodies in the doorway now, each as the cause of a contact and with the position at which the panel's edge
    /// reaches it; none for unused places.
    pub fn occupants(&self) -> [Option<(usize, f64)>; super::senses::BODIES_MAX] {
        let mut found = [None; super::senses::BODIES_MAX];
        let mut count = 0;
        if self.mower_body(self.now).is_some_and(|body| self.is_under(&body)) {
            found[count] = Some((CAUSE_MOWER_UNDER, self.plan.mower_clears_m));
            count += 1;
        }
        let object = self.failures_object();
        if let Some(clears_m) = object {
            let cause = CONTACT_CAUSES.len() + self.plan.scenario.visitors.len();
            found[count] = Some((cause, clears_m));
            count += 1;
        }
        for guest in self.guests_here() {
            if count < found.len() && self.is_under(&self.guest_body(guest, self.now)) {
                found[count] = Some((CONTACT_CAUSES.len() + guest.visitor, self.plan.visitor_clears_m[guest.visitor]));
                count += 1;
            }
        }
        found
    }

    /// Whether a body is where the panel comes down.
    pub fn is_under(&self, body: &Body) -> bool {
        let beside_m = 0.5 * self.plan.scenario.door.width_m;
        // A hair's breadth: the loader lets the mower rest at the very edge of the zone.
        let depth_m = EDGE_ZONE_M - 1e-9;
        body.x_m.0 < depth_m && body.x_m.1 > -depth_m && body.y_m.0 < beside_m && body.y_m.1 > -beside_m
    }

    /// Whether something is in the doorway and has been for as long as its sensors may need to say so. What came later has
    /// come under a moving door, as far as any controller can know.
    fn occupied_for_long(&self) -> bool {
        let before = Instant((self.now.0 - REACTION.0).max(0));
        let stayed = |body: &dyn Fn(Instant) -> Body| self.is_under(&body(self.now)) && self.is_under(&body(before));
        let mower = self.mower.is_near()
            && stayed(&|at| {
                let (x, y) = self.mower.motion.at(at);
                Body::of_mower(&self.plan.scenario.mower, x, y)
            });
        mower
            || self.failing.object_since.is_some_and(|since| since <= before)
            || self.guests_here().any(|guest| stayed(&|at| self.guest_body(guest, at)))
    }

    /// Somebody has come under a door that is closing: the edge reaches him when it is down to his height.
    pub fn schedule_edge(&mut self, clears_m: f64) {
        let Some(running) = self.door.motion else { return };
        if running.direction != Direction::Closing {
            return;
        }
        let at = if running.position(self.now) <= clears_m {
            self.now
        } else {
            let reached_s = running.reaches(clears_m);
            if reached_s.is_infinite() {
                return;
            }
            (running.began + Span::from_seconds(reached_s)).max(self.now)
        };
        self.queue.schedule(at, Event::EdgeDown);
    }

    /// The closing edge may be down on somebody.
    pub fn edge_down(&mut self) {
        let Some(running) = self.door.motion else { return };
        if running.direction != Direction::Closing || running.blocked.is_some() {
            return;
        }
        let position = running.position(self.now);
        // A hundredth of a millimetre: the edge was scheduled to be there now.
        let touches = |(_, clears_m): &(usize, f64)| position <= clears_m + 1e-5;
        let Some((cause, _)) = self.occupants().into_iter().flatten().find(touches) else { return };
        let (door, drive) = (&self.plan.scenario.door, &self.plan.scenario.drive);
        let Blow { speed_m_s, line, notice } = self.blow_of(&running, position);
        let contact = Contact::at(door, drive, &running.loads, position, speed_m_s, &line, notice);
        self.touches(running, position, cause, &contact);
    }

    /// What drives the moving door at a position that it has reached now.
    fn blow_of(&self, running: &Running, position_m: f64) -> Blow {
        let scenario = &self.plan.scenario;
        let before_m = running.position(self.now - Span(10_000));
        let notice = Notice::of(self.settings());
        Blow {
            speed_m_s: (before_m - position_m).abs() / 0.01,
            line: Actuator::at(&scenario.drive, &scenario.supply, self.door.winding.winding_c),
            notice: Notice { reaction_s: notice.reaction_s + self.reacts_later_s(), ..notice },
        }
    }

    /// Books a contact.
    pub fn counts_contact(&mut self, cause: usize, peak_force_n: f64) {
        self.book.count(Key::Contacts);
        self.book.today().contacts += 1;
        self.book.record().by_cause[Blamed::Contacts][cause] += 1;
        self.book.peak(Key::PeakContactForce, peak_force_n);
    }

    /// The moving door has touched somebody: it stands there, and the drive feels it or pushes on until it is over.
    fn touches(&mut self, running: Running<'p>, position_m: f64, cause: usize, contact: &Contact) {
        self.counts_contact(cause, contact.peak_force_n);
        self.book.count(Key::PanelContacts);
        self.book.peak(Key::PeakContactEnergy, contact.moving_energy_j);
        if self.tracing() {
            self.trace("door", "contact", format!("{:.0} N at {position_m:.3} m", contact.peak_force_n));
        }
        self.queue.cancel(running.end);
        let moved_s = self.now.since(running.began).seconds();
        let left_s = running.times_out.since(self.now).seconds().max(0.0);
        let trips = self.trips_after(running.stroke, running.loads.temperature_c, moved_s, moved_s + left_s);
        let pushes_s = trips.map_or(left_s, |trips_s| (trips_s - moved_s).max(0.0));
        let end = match contact.felt_after_s.filter(|felt_s| *felt_s <= pushes_s) {
            Some(felt_s) => self.queue.schedule(self.now + Span::from_seconds(felt_s), Event::ObstacleFelt),
            None => self.queue.schedule(self.now + Span::from_seconds(pushes_s), Event::StrokeFails),
        };
        self.door.motion = Some(Running { blocked: Some((position_m, self.now)), end, ..running });
        self.schedule_meeting();
    }

    /// The drive has noticed the obstacle.
    pub fn obstacle_felt(&mut self) {
        self.book.count(Key::ObstructionTrips);
        self.trace("door", "obstruction", String::new());
        self.halt();
        self.refresh(super::senses::change::DOOR);
        self.control(Happening::Obstructed);
        self.is_seen_open();
    }

    /// Whether the doorway is clear for something that needs the door at `clears_m` or further.
    pub fn doorway_clear(&self, clears_m: f64) -> bool {
        // What its end switch calls open gives all the room there is.
        let position_m = if self.door.is_open() { self.door.stroke_m } else { self.door.position(self.now) };
        position_m >= clears_m - 1e-9
    }
}

/// Time from the beginning until a stroke stalls, s: infinite if it doesn't; 0 if it doesn't move, or by less than the
/// profile tells.
fn moving_s(stroke: &Stroke, from_m: f64, pace: f64) -> f64 {
    let Outcome::Stalled { at_m, .. } = stroke.outcome else { return f64::INFINITY };
    let time_s = stroke.time_between(from_m, at_m);
    if time_s.is_finite() { time_s / pace } else { 0.0 }
}

/// An end switch still says that the door is at its end when it is this far off, m (its differential travel; common practice).
const SWITCH_PLAY_M: f64 = 2e-3;

/// Time that a stroke is given where no wind and no frost would let it end either, s (common practice: half a
/// minute).
const UNKNOWN_STROKE_S: f64 = 30.0;

/// Shortest time-out, s: a stroke of a few millimetres still needs its start.
const SHORTEST_TIMEOUT_S: f64 = 1.0;
