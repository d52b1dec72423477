//! Failures at work: which are under way, what they do to readings, and when they strike.
//!
//! A failure spoils a sensor only by changing what [`Seeing`] says of it at a change of the season's state, so that the law
//! of a reading stays constant between changes, and skipping and its bounds stay exact.

use super::event::Event;
use super::mower::Doing;
use super::plan::{OBJECT_WIDTH_M, Plan};
use super::season::Season;
use super::senses::change;
use crate::ledger::metric::Key;
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::care::{BrownOut, ZeroTracking};
use crate::scenario::failure::{Act, Change, Failure, Figure, Often, When};
use crate::scenario::sensor::{End, SensorKind, StatusCode, TiltOn};
use crate::sensing::reading::Seeing;
use crate::sensing::sight::Body;
use crate::shelter::controller::{Happening, Place, State};
use crate::shelter::mechanism;
use crate::shelter::obstruction::{self, DRAG_SPREAD, SET_UP_C};
use crate::world::failures::ClockChange;
use crate::world::spread::draw;

/// When an inrush current is taken for an obstacle, s after the start (within the usual blanking of 0.3 s).
const INRUSH_S: f64 = 0.2;

/// Extra edges of a contact that closes or opens, in the mean, mean gap between them, s, and longest bouncing, s (common
/// practice; measured contacts bounce for a fraction of a millisecond to 50 ms).
const BOUNCES: f64 = 5.0;
const BOUNCE_GAP_S: f64 = 3e-4;
const BOUNCES_AT_MOST_S: f64 = 0.05;

/// Age of a message above which, and below nothing, it is an odd one, s: what a change of clocks makes of a fresh message.
const ODD_AGE_S: f64 = 3_600.0;

/// What a mower drives over without noticing, m (common practice: less than the clearance of its bumper).
const DRIVES_OVER_M: f64 = 0.06;

/// When the supply's sag restarts the controller, s after the start of a stroke.
const SAG_S: f64 = 0.05;

/// The failures of a season at work.
#[derive(Clone, Debug, Default)]
pub struct Failing {
    /// How many episodes or moments of each failure are under way; constant ones are always.
    active: Vec<u32>,
    /// Random sources of the occasions.
    occasions: Vec<Source>,
    /// Of the friction of each stroke; none until a season begins.
    friction: Option<Source>,
    /// Strokes so far, as occasions.
    strokes: u64,
    /// Dockings so far.
    dockings: u64,
    /// The next stroke runs into its end stop for so long, s.
    pub overrun_s: Option<f64>,
    /// Something lies in the doorway, or will as soon as the door is open.
    pub object: Option<Body>,
    /// Since when it lies there.
    pub object_since: Option<Instant>,
    /// Position at which the panel's edge reaches it, m from shut.
    pub object_clears_m: f64,
    /// The failure whose object will.
    object_waits: Option<usize>,
    /// Whether the mower is parked, and since when that holds; what zero tracking had swallowed of it by then, kg.
    parked: (bool, Instant),
    swallowed_kg: f64,
    /// Whether the present film of each failure on windows is read as a near target.
    echoes: Vec<bool>,
    /// Share of the mower's reflectance that is left at present.
    pub shell: f64,
    /// What the mower has said so far, by message; kept only where messages can arrive late.
    pub said: Vec<u8>,
    pub keeps_said: bool,
}

impl Failing {
    /// Nothing has happened yet.
    pub fn new(plan: &Plan, seed: u64, season: u64) -> Failing {
        let failures = &plan.scenario.failures;
        // What comes for a moment waits for its moment.
        let always = |failure: &Failure| failure.mode.often == Often::Constant && failure.mode.act != Act::Chatter;
        let source = |failure: &Failure| Source::new(seed, season, &format!("failure {} occasions", failure.name));
        Failing {
            active: failures.iter().map(|failure| u32::from(always(failure))).collect(),
            occasions: failures.iter().map(source).collect(),
            friction: Some(Source::new(seed, season, "drive friction")),
            parked: (true, Instant::START),
            echoes: vec![false; failures.len()],
            shell: 1.0,
            said: vec![StatusCode::Docked as u8],
            keeps_said: failures.iter().any(|failure| failure.mode.act == Act::Stale),
            ..Failing::default()
        }
    }
}

impl<'p> Season<'p> {
    fn failures(&self) -> &'p [Failure] {
        &self.plan.scenario.failures
    }

    /// The places of the failures under way that act like this.
    pub fn under_way(&self, act: Act) -> impl Iterator<Item = usize> + '_ {
        self.plan.by_act.of(act).iter().copied().filter(|index| self.failing.active[*index] > 0)
    }

    /// The failures under way that act like this.
    pub fn failing(&self, act: Act) -> impl Iterator<Item = &'p Failure> + '_ {
        self.under_way(act).map(|index| &self.failures()[index])
    }

    /// The failures of this kind that strike on an occasion, each with the stream for whatever else it draws.
    pub fn strikes(&self, act: Act, occasion: u64) -> Option<(usize, &'p Failure, Stream)> {
        self.plan.by_act.of(act).iter().find_map(|index| {
            let failure = &self.failures()[*index];
            let mut stream = self.failing.occasions[*index].stream(occasion);
            stream.chance(failure.figure(Figure::Share)).then_some((*index, failure, stream))
        })
    }

    /// An episode begins or ends.
    pub fn episode(&mut self, index: usize, begins: bool) {
        let failure = self.outside.episodes[index].failure;
        if begins {
            self.queue.schedule(self.outside.episodes[index].to, Event::EpisodeEnds(index as u32));
            // Only films on windows ask.
            let mut stream = self.failing.occasions[failure].stream(index as u64);
            self.failing.echoes[failure] = stream.chance(self.failures()[failure].figure(Figure::Share));
        }
        self.failure_steps(failure, begins);
    }

    /// A failure that came for a moment has passed.
    pub fn failure_passes(&mut self, failure: usize) {
        self.failure_steps(failure, false);
    }

    fn failure_steps(&mut self, index: usize, begins: bool) {
        let failure = &self.failures()[index];
        let count = &mut self.failing.active[index];
        *count = if begins { *count + 1 } else { count.saturating_sub(1) };
        if failure.lasts.mean_s >= 1.0 || failure.lasts.mean_s == 0.0 {
            self.trace(&failure.name, if begins { "failure begins" } else { "failure ends" }, String::new());
        }
        match failure.mode.act {
            Act::Overrun if begins => self.failing.overrun_s = Some(failure.figure(Figure::Delay)),
            Act::Object if begins => {
                self.failing.object_waits = Some(index);
                self.object_falls();
            }
            Act::Object if self.failing(Act::Object).next().is_none() => {
                self.failing.object_waits = None;
                self.object_taken_away();
            }
            Act::Change(Change::DarkShell) => self.shell_changes(),
            Act::Manual if begins => self.control(Happening::ManualOn),
            // The last hand on the switch decides.
            Act::Manual if self.failing(Act::Manual).next().is_none() => self.control(Happening::ManualOff),
            Act::Manual => {}
            Act::Hunting => {
                let hunts = self.failing(Act::Hunting).next().is_some();
                self.controller.hunt(hunts);
            }
            _ => {
                self.refresh_hit(index);
                if !begins && self.controller.state() == State::HoldOpen {
                    // The doorway's sensors may answer again.
                    self.control(Happening::None);
                }
            }
        }
    }

    /// Asks the sensors that a failure hits for their law again.
    fn refresh_hit(&mut self, failure: usize) {
        for index in 0..self.senses.len() {
            if self.senses[index].hit_by.contains(&failure) {
                self.refresh_one(index);
            }
        }
    }

    /// A failure comes for a moment, as long as it draws.
    fn for_a_moment(&mut self, act: Act, occasion: u64) {
        let plan = self.plan;
        for index in plan.by_act.of(act).iter().copied() {
            let lasts = draw(&self.failures()[index].lasts, &mut self.failing.occasions[index].stream(occasion));
            self.failure_steps(index, true);
            self.queue.schedule(self.now + Span::from_seconds(lasts), Event::FailurePasses(index as u32));
        }
    }

    /// Something is left in the doorway as soon as the door stands open.
    pub fn object_falls(&mut self) {
        if !self.door.is_open() || self.failing.object.is_some() {
            return;
        }
        let Some(failure) = self.failing.object_waits.take() else { return };
        let height_m = self.failures()[failure].figure(Figure::Distance);
        self.failing.object_clears_m = self.plan.object_clears_m[failure];
        let half_m = 0.5 * OBJECT_WIDTH_M;
        self.failing.object_since = Some(self.now);
        self.failing.object = Some(Body {
            x_m: (-half_m, half_m),
            y_m: (-half_m, half_m),
            height_m,
            reflectance: 0.3,
            soft: true,
            mass_kg: 0.5,
            axles: None,
        });
        self.trace("object", "lies in the doorway", String::new());
        self.refresh(change::BODIES);
    }

    /// What failures make of what a sensor sees, and by how much they multiply its noise.
    pub fn spoilt(&self, index: usize, clear: Seeing) -> (Seeing, f64) {
        let (mut seeing, mut noise) = (clear, 1.0);
        let sense = &self.senses[index];
        let kind = &self.plan.scenario.sensors[sense.sensor].kind;
        for index_of in sense.hit_by.iter().copied() {
            if self.failing.active[index_of] == 0 {
                continue;
            }
            let failure = &self.failures()[index_of];
            match failure.mode.act {
                Act::Reading(when) if self.holds(when, failure) => {
                    let left_out = match when {
                        When::Dew if self.failing.echoes[index_of] => Some(Figure::Range),
                        When::Dew => Some(Figure::ShortReturns),
                        _ => None,
                    };
                    err(failure, kind, when, left_out, &mut seeing);
                    noise *= failure.given(Figure::NoiseFactor).unwrap_or(1.0);
                }
                Act::Web if !matches!(kind, SensorKind::BreakBeam { .. }) => {
                    err(failure, kind, When::Always, None, &mut seeing);
                }
                Act::Slanted => shorten_range(kind, failure.figure(Figure::Range), When::Always, &mut seeing),
                Act::Dirt => {
                    let weeks = self.plan.eyes[sense.sensor].since_cleaning(&self.sky) / 7.0;
                    let left = libm::exp(weeks * self.plan.log_left_per_week[index_of]);
                    shorten_range(kind, left, When::Always, &mut seeing);
                    // A ranger that counts photons has its noise from what comes back.
                    if !matches!(kind, SensorKind::PhotonRange { .. }) {
                        noise /= left;
                    }
                }
                Act::AutoZero => seeing.offset -= self.swallowed_kg(failure),
                Act::Chatter => noise *= failure.figure(Figure::NoiseFactor),
                Act::Bounce => seeing.blinded = f64::from(u8::from(sense.contact_off)),
                Act::PhantomIn => seeing.offset += as_angle(kind, failure.figure(Figure::Load)),
                Act::PhantomOut => seeing.scale = 0.0,
                _ => {}
            }
        }
        (seeing, noise)
    }

    /// Whether an episode of a failure is at work on sensor `index`, under conditions in which it acts.
    pub fn episode_on(&self, index: usize) -> bool {
        self.senses[index].hit_by.iter().any(|hit| {
            let failure = &self.failures()[*hit];
            let acts = match failure.mode.act {
                Act::Reading(when) => self.holds(when, failure),
                _ => true,
            };
            self.failing.active[*hit] > 0 && matches!(failure.mode.often, Often::Episodes { .. }) && acts
        })
    }

    fn holds(&self, when: When, failure: &Failure) -> bool {
        match when {
            When::Always => true,
            When::Sun => self.sky.direct_klux > 0.0,
            When::Dew => self.sky.dew,
            When::RainOrGust => {
                let gust = self.outside.weather.steps[self.weather_step].gust_m_s;
                self.sky.rain_mm_h > 0.0 || gust > failure.figure(Figure::Gust)
            }
            When::DoorMoves => self.door.is_moving(),
        }
    }

    /// What a status sensor is made to believe; none if nothing interferes.
    pub fn believes(&self, index: usize) -> Option<Option<u8>> {
        let hit = |act: Act| {
            self.senses[index].hit_by.iter().any(|f| self.failing.active[*f] > 0 && self.failures()[*f].mode.act == act)
        };
        // It is the belief in or out that is wrong: that it leaves is still heard.
        let out = matches!(self.announced, StatusCode::Mowing | StatusCode::Returning);
        if out && hit(Act::PhantomIn) {
            Some(Some(StatusCode::Docked as u8))
        } else if self.announced == StatusCode::Docked && hit(Act::PhantomOut) {
            Some(None)
        } else {
            None
        }
    }

    /// How much later a message to status sensor `index` comes by a failure, s, and how much later a second copy of it, if one is
    /// sent: each delay is exponential, so that messages overtake each other.
    pub fn comes_late(&self, index: usize) -> (f64, Option<f64>) {
        let (mut late_s, mut again_s) = (0.0, None);
        for hit in self.stale_of(index).filter(|hit| self.failing.active[*hit] > 0) {
            let failure = &self.failures()[hit];
            let key = u64::from(self.message) << 8 | self.senses[index].sensor as u64;
            let mut stream = self.failing.occasions[hit].stream(key);
            late_s += stream.exponential(failure.figure(Figure::Delay));
            if stream.chance(failure.figure(Figure::Share)) {
                again_s = Some(late_s + stream.exponential(failure.figure(Figure::Delay)));
            }
        }
        (late_s, again_s)
    }

    /// The failures of stale messages that can hit a sensor.
    fn stale_of(&self, index: usize) -> impl Iterator<Item = usize> + '_ {
        self.senses[index].hit_by.iter().copied().filter(|hit| self.failures()[*hit].mode.act == Act::Stale)
    }

    /// Whether status sensor `index` believes a message that was sent so long ago. On the day of a change of clocks its stamp is
    /// an hour off where a failure says so. Without a limit on the age what is overtaken is believed, too, while messages
    /// come out of order; a receiver that looks at the stamps never goes back to an older message.
    pub fn is_believed(&mut self, index: usize, message: u32, age_s: u32) -> bool {
        let misdated = self.stale_of(index).next().is_some();
        let disorder = self.stale_of(index).any(|hit| self.failing.active[hit] > 0);
        let shift_s = if misdated { self.clock_off_s() } else { 0.0 };
        let reads_s = f64::from(age_s) + shift_s;
        if misdated && !(0.0..=ODD_AGE_S).contains(&reads_s) && self.tracing() {
            let name = self.plan.scenario.sensors[self.senses[index].sensor].name.clone();
            self.trace(&name, "message of an odd age", format!("{reads_s:.0} s"));
        }
        let most_s = self.plan.scenario.strategies[self.strategy.index].controller.care.message_at_most_s;
        let newest = message == self.message;
        if most_s.is_infinite() {
            return newest || disorder;
        }
        let in_order = if disorder { message >= self.senses[index].heard_message() } else { newest };
        in_order && reads_s.abs() <= most_s
    }

    /// By how much the stamps of this day are off, s: positive if they look old.
    fn clock_off_s(&self) -> f64 {
        let today = |change: &&ClockChange| (change.from..change.to).contains(&self.now);
        self.plan.clock_changes.iter().find(today).map_or(0.0, |change| change.late.seconds())
    }

    /// The end switch at which the door is, if a failure makes it bounce: it has just been reached, or is left. The number of
    /// extra edges is geometric, the gaps between them are exponential, and the contact rests in the end.
    pub fn contacts_bounce(&mut self) {
        for index in 0..self.senses.len() {
            let sensor = &self.plan.scenario.sensors[self.senses[index].sensor];
            let SensorKind::EndSwitch { end } = sensor.kind else { continue };
            let position_m = self.door.position(self.now);
            let there = match end {
                End::Shut => position_m <= 0.0,
                End::Open => position_m >= mechanism::stroke_m(&self.plan.scenario.door),
            };
            if there && let Some(hit) = self.bounces(index) {
                let mut edges = Edges::default();
                edges.bounce(0.0, &mut self.failing.occasions[hit].stream(self.now.0 as u64));
                self.contact_is_off(index, edges);
            }
        }
    }

    /// The failure that makes an end switch bounce, if there is one.
    fn bounces(&self, index: usize) -> Option<usize> {
        self.senses[index].hit_by.iter().copied().find(|hit| self.failures()[*hit].mode.act == Act::Bounce)
    }

    /// The contact of end switch `index` has these edges from now on. Only stretches in which a sample is taken matter, so
    /// that the others are left out.
    fn contact_is_off(&mut self, index: usize, mut edges: Edges) {
        edges.at_s.sort_by(f64::total_cmp);
        for [from_s, to_s] in edges.at_s.as_chunks().0 {
            let [from, to] = [from_s, to_s].map(|after_s| self.now + Span::from_seconds(*after_s));
            let channel = &self.channels[index];
            if channel.time_of(channel.first_sample(from)) < to {
                for at in [from, to] {
                    self.queue.schedule(at, Event::ContactToggles(index as u32));
                }
            }
        }
    }

    /// The contact of end switch `index` opens or closes by itself.
    pub fn contact_toggles(&mut self, index: usize) {
        self.senses[index].contact_off = !self.senses[index].contact_off;
        self.refresh_one(index);
    }

    /// Whether gusts rattle a shut door so that end switch `index` minds, and how often, 1/d.
    fn rattles_per_day(&self, index: usize) -> Option<f64> {
        let sensor = &self.plan.scenario.sensors[self.senses[index].sensor];
        let shut = matches!(sensor.kind, SensorKind::EndSwitch { end: End::Shut }) && self.door.is_shut();
        let failure = &self.failures()[self.bounces(index).filter(|_| shut)?];
        let weather = &self.outside.weather.steps[self.weather_step];
        let gust_m_s = weather.gust_m_s * self.plan.scenario.site.wind_factor;
        let per_day = failure.figure(Figure::PerDay);
        (gust_m_s > failure.figure(Figure::Gust) && per_day > 0.0).then_some(per_day)
    }

    /// The door has shut, or the wind has changed: gusts may rattle it from now on. What is due already stays so, since waits
    /// without a memory may be cut anywhere.
    pub fn gusts_rattle(&mut self) {
        for index in 0..self.senses.len() {
            if !self.senses[index].rattle_due
                && let Some(per_day) = self.rattles_per_day(index)
            {
                let sense = &mut self.senses[index];
                sense.rattle_due = true;
                let wait = Span::from_seconds(sense.rattles.exponential(86_400.0 / per_day));
                self.queue.schedule(self.now + wait, Event::Rattle(index as u32));
            }
        }
    }

    /// A gust is due to rattle the door: if it is still shut and windy, the contact is off for a moment.
    pub fn rattle(&mut self, index: usize) {
        self.senses[index].rattle_due = false;
        if self.rattles_per_day(index).is_some()
            && let Some(hit) = self.bounces(index)
        {
            let mut stream = self.failing.occasions[hit].stream(self.now.0 as u64);
            let lasts_s = draw(&self.failures()[hit].lasts, &mut stream);
            let mut edges = Edges { at_s: vec![0.0, lasts_s] };
            edges.bounce(0.0, &mut stream);
            edges.bounce(lasts_s, &mut stream);
            self.contact_is_off(index, edges);
        }
        self.gusts_rattle();
    }

    /// Whether something lies in the doorway that stops the mower: its bumper feels what it cannot drive over.
    pub fn object_stops_mower(&self) -> bool {
        self.failing.object.is_some_and(|object| object.height_m > DRIVES_OVER_M)
    }

    /// A person takes away what lies in the doorway.
    pub fn object_taken_away(&mut self) {
        self.failing.object_since = None;
        if self.failing.object.take().is_some() {
            self.vanishes();
            self.trace("object", "is taken away", String::new());
            self.refresh(change::BODIES);
        }
    }

    /// Whether a failure blocks this beam.
    pub fn blocked(&self, index: usize) -> bool {
        let blocks = |act: Act| matches!(act, Act::Blocked | Act::Web);
        let hit_by = &self.senses[index].hit_by;
        hit_by.iter().any(|f| self.failing.active[*f] > 0 && blocks(self.failures()[*f].mode.act))
    }

    /// The mower is parked, or no longer is.
    pub fn parks(&mut self, parked: bool) {
        let swallows = self.failing(Act::AutoZero).next();
        self.failing.swallowed_kg = swallows.map_or(0.0, |failure| self.swallowed_kg(failure));
        self.failing.parked = (parked, self.now);
        if parked {
            self.failing.dockings += 1;
            self.for_a_moment(Act::Chatter, self.failing.dockings);
        }
    }

    /// What zero tracking that is not gated has swallowed by now, kg: the zero follows what lies on the platform at a steady
    /// rate, up to the parked mower's weight and back to nothing once it has left. A controller that gates the tracking has
    /// taken it over.
    fn swallowed_kg(&self, failure: &Failure) -> f64 {
        let care = &self.plan.scenario.strategies[self.strategy.index].controller.care;
        if care.zero_tracking == ZeroTracking::Gated {
            return 0.0;
        }
        let (parked, since) = self.failing.parked;
        let moved_kg = failure.figure(Figure::Tare) * self.now.since(since).hours() / 24.0;
        let sign = if parked { 1.0 } else { -1.0 };
        (self.failing.swallowed_kg + sign * moved_kg).clamp(0.0, self.plan.scenario.mower.mass_kg)
    }

    /// It begins to rain, or ceases: a dark shell is wet until it has dried.
    pub fn rain_turns(&mut self, rains: bool) {
        let plan = self.plan;
        for index in plan.by_act.of(Act::Change(Change::DarkShell)).iter().copied() {
            let failure = &self.failures()[index];
            if rains {
                self.failure_steps(index, true);
            } else {
                let dries = draw(&failure.lasts, &mut self.failing.occasions[index].stream(self.weather_step as u64));
                self.queue.schedule(self.now + Span::from_seconds(dries), Event::FailurePasses(index as u32));
            }
        }
    }

    /// The shell gets wet or has dried. The mode is there all season, so that only what comes on top of that is wet.
    fn shell_changes(&mut self) {
        let those = self.plan.by_act.of(Act::Change(Change::DarkShell)).iter();
        let wet = those.filter(|index| self.failing.active[**index] > 1);
        let shell = wet.map(|index| self.failures()[*index].figure(Figure::WetFactor)).product();
        if self.failing.shell != shell {
            self.failing.shell = shell;
            self.refresh(change::BODIES);
        }
    }

    /// The way home begins: on some the echo is weak, until the mower is in.
    pub fn echo_weakens(&mut self, key: u64) {
        let plan = self.plan;
        for index in plan.by_act.of(Act::Slanted).iter().copied() {
            let share = self.failures()[index].figure(Figure::Share);
            if self.failing.occasions[index].stream(key).chance(share) {
                self.failure_steps(index, true);
            }
        }
    }

    /// The mower is in.
    pub fn echo_recovers(&mut self) {
        let plan = self.plan;
        for index in plan.by_act.of(Act::Slanted).iter().copied() {
            if self.failing.active[index] > 0 {
                self.failure_steps(index, false);
            }
        }
    }

    /// A stroke begins: its number among the season's.
    pub fn counts_stroke(&mut self) -> u64 {
        self.failing.strokes += 1;
        self.failing.strokes
    }

    /// When the drive of a stroke takes something for an obstacle that it was not told of, s after its start.
    pub fn false_trip_s(&self, stroke: u64, loads: &crate::shelter::loads::Loads, lasts_s: f64) -> Option<f64> {
        let threshold = self.plan.scenario.strategies[self.strategy.index].controller.obstruction_force_n;
        let mut first = self.strikes(Act::StartTrip, stroke).map(|_| INRUSH_S);
        let mut trips = |at_s: f64| first = Some(first.map_or(at_s, |earlier: f64| earlier.min(at_s)));
        let within_s = if lasts_s.is_finite() { lasts_s } else { 1.0 };
        // Drawn only where it may come to something.
        if let Some(friction) = &self.failing.friction
            && obstruction::may_trip(self.plan.friction_n, threshold)
        {
            let mut stream = friction.stream(stroke);
            if obstruction::above_computed_n(self.plan.friction_n, stream.normal()) > threshold {
                trips(stream.uniform() * within_s);
            }
        }
        for act in [Act::ColdDrag, Act::WindTrip] {
            for index in self.plan.by_act.of(act) {
                let failure = &self.failures()[*index];
                let mut stream = self.failing.occasions[*index].stream(stroke);
                let extra_n = if act == Act::ColdDrag {
                    let cold_n = obstruction::cold_n(failure.figure(Figure::Force), loads.temperature_c);
                    cold_n * libm::exp(DRAG_SPREAD * stream.normal())
                } else {
                    obstruction::wind_n(failure.figure(Figure::Share), &self.plan.scenario.door, loads)
                };
                if extra_n > threshold {
                    trips(stream.uniform() * within_s);
                }
            }
        }
        first
    }

    /// Whether the end switch fails to report the end of a stroke.
    pub fn end_unseen(&self, temperature_c: f64) -> bool {
        let shifted = |failure: &Failure| {
            failure.figure(Figure::Shift) * (temperature_c - SET_UP_C).abs() > failure.figure(Figure::Distance)
        };
        self.failing(Act::EndUnseen).next().is_some() || self.failing(Act::EndShift).any(shifted)
    }

    /// What the end switches say to a controller that may be starting up (it asks at no other time): one that fails does not
    /// tell of its end.
    pub fn switches_say(&self, happening: Happening) -> Place {
        let starts =
            matches!(self.controller.state(), State::Startup | State::Unpowered | State::Manual | State::Fault)
                || happening == Happening::Reset;
        let place = self.door.place();
        if starts && self.end_unseen(self.sky.temperature_c) { Place::Between } else { place }
    }

    /// How much later the drive notices an obstacle, s.
    pub fn reacts_later_s(&self) -> f64 {
        self.failing(Act::SlowReaction).map(|failure| failure.figure(Figure::Delay)).sum()
    }

    /// A motor start may restart the controller.
    pub fn supply_sags(&mut self, stroke: u64) {
        if self.settings().care.brown_out == BrownOut::RidesThrough {
            return;
        }
        if let Some((index, failure, mut stream)) = self.strikes(Act::ResetOnStroke, stroke) {
            let lasts = Span::from_seconds(draw(&failure.lasts, &mut stream));
            self.restarts(index, Span::from_seconds(SAG_S), lasts);
        }
    }

    /// The mower begins to pass the doorway: the controller may restart while it does.
    pub fn passes_doorway(&mut self, occasion: u64) {
        if let Some((index, failure, mut stream)) = self.strikes(Act::ResetInDoorway, occasion) {
            let lasts = Span::from_seconds(draw(&failure.lasts, &mut stream));
            self.restarts(index, Span::SECOND, lasts);
        }
    }

    fn restarts(&mut self, failure: usize, after: Span, lasts: Span) {
        self.queue.schedule(self.now + after, Event::ResetBegins(failure as u32));
        self.queue.schedule(self.now + after + lasts, Event::ResetEnds(failure as u32));
    }

    /// The controller restarts, or has restarted.
    pub fn reset(&mut self, failure: usize, begins: bool) {
        let name = &self.failures()[failure].name;
        self.trace(name, if begins { "controller restarts" } else { "controller is back" }, String::new());
        if begins {
            self.book.count(Key::Resets);
            // Or it would try for ever.
            self.controller.is_cut_off();
        }
        self.power_fault(begins);
    }

    /// Detectors of occupancy that say other than the truth, where the truth is plain: the mower is parked or away.
    pub fn belief_errors(&self) -> u32 {
        let truth = match self.mower.doing {
            Doing::Docked | Doing::Noticing | Doing::WaitingInside | Doing::StrandedInside => u64::MAX,
            Doing::Mowing | Doing::GoingHome => 0,
            _ => return 0,
        };
        ((self.heard ^ truth) & self.strategy.occupancy).count_ones()
    }

    /// Whether something stands or lies still in the doorway.
    pub fn doorway_blocked(&self) -> bool {
        let under = || self.mower_body(self.now).is_some_and(|body| self.is_under(&body));
        self.failing.object.is_some()
            || match self.mower.doing {
                Doing::StuckInDoorway => true,
                Doing::HalfOn => under(),
                _ => false,
            }
    }
}

/// When a contact opens or closes by itself, s from now on; as often as not, so that it rests as it was.
#[derive(Clone, Debug, Default)]
struct Edges {
    at_s: Vec<f64>,
}

impl Edges {
    /// It bounces from `from_s` on.
    fn bounce(&mut self, from_s: f64, stream: &mut Stream) {
        let count = stream.failures_before_success(1.0 / (1.0 + BOUNCES));
        let (mut after_s, first) = (0.0, self.at_s.len());
        for _ in 0..count {
            after_s += stream.exponential(BOUNCE_GAP_S);
            if after_s >= BOUNCES_AT_MOST_S {
                break;
            }
            self.at_s.push(from_s + after_s);
        }
        if !(self.at_s.len() - first).is_multiple_of(2) {
            self.at_s.push(from_s + (after_s + stream.exponential(BOUNCE_GAP_S)).min(BOUNCES_AT_MOST_S));
        }
    }
}

/// The errors of a failure's figures, one of them left out.
fn err(failure: &Failure, kind: &SensorKind, when: When, left_out: Option<Figure>, seeing: &mut Seeing) {
    let either = |a: f64, b: f64| 1.0 - (1.0 - a) * (1.0 - b);
    let beam = matches!(kind, SensorKind::BreakBeam { .. });
    for ((figure, _), value) in failure.mode.figures.iter().zip(&failure.figures) {
        match figure {
            _ if left_out == Some(*figure) => {}
            Figure::Range => shorten_range(kind, *value, when, seeing),
            Figure::ShortReturns if beam => seeing.blinded = either(seeing.blinded, *value),
            Figure::ShortReturns => seeing.short = either(seeing.short, *value),
            Figure::Dropout => seeing.drop = either(seeing.drop, *value),
            Figure::Bias | Figure::Angle => seeing.offset += value,
            Figure::Load => seeing.offset += as_angle(kind, *value),
            Figure::WeightSeen => seeing.scale *= value,
            _ => {}
        }
    }
}

/// A load in the sensor's unit.
fn as_angle(kind: &SensorKind, load_kg: f64) -> f64 {
    match kind {
        SensorKind::Tilt { on: TiltOn::Platform { deg_per_kg, .. } } => deg_per_kg * load_kg,
        _ => load_kg,
    }
}

/// Leaves this share of a ranger's range: by light where the sun takes it, by the window's transmission otherwise (the
/// signal falls with the square of both the transmission and the distance), by the level of an echo.
fn shorten_range(kind: &SensorKind, left: f64, when: When, seeing: &mut Seeing) {
    match kind {
        SensorKind::OpticalRange { .. } => seeing.range_m *= left,
        SensorKind::PhotonRange { .. } if when == When::Sun => {
            let square = left * left;
            seeing.window.light_klux /= square * square;
        }
        SensorKind::PhotonRange { .. } => seeing.window.darken(left),
        SensorKind::UltrasonicRange { .. } => seeing.level_db += 40.0 * libm::log10(left),
        _ => {}
    }
}
