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
use crate::scenario::failure::{Act, Failure, Figure, Often, When};
use crate::scenario::sensor::{SensorKind, StatusCode, TiltOn};
use crate::sensing::reading::Seeing;
use crate::sensing::sight::Body;
use crate::shelter::controller::Happening;
use crate::world::spread::draw;

/// Temperature at which a drive has the friction it was set up with, and the one to which `force` of the cold refers, degC.
const SET_UP_C: f64 = 20.0;
const COLD_C: f64 = -10.0;

/// Spread of the logarithm of the friction from stroke to stroke (grit, grease; common practice).
const DRAG_SPREAD: f64 = 0.3;

/// When an inrush current is taken for an obstacle, s after the start (within the usual blanking of 0.3 s).
const INRUSH_S: f64 = 0.2;

/// When the supply's sag restarts the controller, s after the start of a stroke.
const SAG_S: f64 = 0.05;

/// The failures of a season at work.
#[derive(Clone, Debug, Default)]
pub struct Failing {
    /// How many episodes or moments of each failure are under way; constant ones are always.
    active: Vec<u32>,
    /// Random sources of the occasions.
    occasions: Vec<Source>,
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
    object_waits: Option<f64>,
    /// Since when the mower is parked.
    parked: Option<Instant>,
    /// What the mower has said so far, by message; kept only where messages can arrive late.
    pub said: Vec<u8>,
    pub keeps_said: bool,
}

impl Failing {
    /// Nothing has happened yet.
    pub fn new(plan: &Plan, seed: u64, season: u64) -> Failing {
        let failures = &plan.scenario.failures;
        // What comes for a moment waits for its moment.
        let always = |failure: &Failure| {
            failure.mode.often == Often::Constant && !matches!(failure.mode.act, Act::Chatter | Act::Bounce)
        };
        let source = |failure: &Failure| Source::new(seed, season, &format!("failure {} occasions", failure.name));
        Failing {
            active: failures.iter().map(|failure| u32::from(always(failure))).collect(),
            occasions: failures.iter().map(source).collect(),
            parked: Some(Instant::START),
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

    /// The failures under way that act like this.
    pub fn failing(&self, act: Act) -> impl Iterator<Item = &'p Failure> + '_ {
        let active = |(index, _): &(usize, &Failure)| self.failing.active[*index] > 0;
        self.failures().iter().enumerate().filter(active).map(|(_, failure)| failure).filter(move |f| f.mode.act == act)
    }

    /// The failures of this kind that strike on an occasion, each with the stream for whatever else it draws.
    pub fn strikes(&self, act: Act, occasion: u64) -> Option<(usize, &'p Failure, Stream)> {
        self.failures().iter().enumerate().filter(|(_, failure)| failure.mode.act == act).find_map(
            |(index, failure)| {
                let mut stream = self.failing.occasions[index].stream(occasion);
                stream.chance(failure.figure(Figure::Share)).then_some((index, failure, stream))
            },
        )
    }

    /// An episode begins or ends.
    pub fn episode(&mut self, index: usize, begins: bool) {
        let failure = self.outside.episodes[index].failure;
        if begins {
            self.queue.schedule(self.outside.episodes[index].to, Event::EpisodeEnds(index as u32));
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
                self.failing.object_waits = Some(failure.figure(Figure::Distance));
                self.object_falls();
            }
            Act::Object if self.failing(Act::Object).next().is_none() => {
                self.failing.object_waits = None;
                self.failing.object_since = None;
                if self.failing.object.take().is_some() {
                    self.refresh(change::BODIES);
                }
            }
            Act::Manual => self.control(if begins { Happening::ManualOn } else { Happening::ManualOff }),
            _ => self.refresh_hit(index),
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
        for index in 0..self.failures().len() {
            let failure = &self.failures()[index];
            if failure.mode.act == act {
                let lasts = draw(&failure.lasts, &mut self.failing.occasions[index].stream(occasion));
                self.failure_steps(index, true);
                self.queue.schedule(self.now + Span::from_seconds(lasts), Event::FailurePasses(index as u32));
            }
        }
    }

    /// Something is left in the doorway as soon as the door stands open.
    pub fn object_falls(&mut self) {
        if !self.door.is_open() || self.failing.object.is_some() {
            return;
        }
        let Some(height_m) = self.failing.object_waits.take() else { return };
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
        for failure in &sense.hit_by {
            if self.failing.active[*failure] == 0 {
                continue;
            }
            let failure = &self.failures()[*failure];
            match failure.mode.act {
                Act::Reading(when) if self.holds(when, failure) => {
                    err(failure, kind, when, &mut seeing);
                    noise *= failure.given(Figure::NoiseFactor).unwrap_or(1.0);
                }
                Act::Web if !matches!(kind, SensorKind::BreakBeam { .. }) => {
                    err(failure, kind, When::Always, &mut seeing);
                }
                Act::Slanted => shorten_range(kind, failure.figure(Figure::Range), When::Always, &mut seeing),
                Act::Dirt => {
                    let weeks = self.plan.eyes[sense.sensor].since_cleaning(&self.sky) / 7.0;
                    let left = libm::pow(1.0 - failure.figure(Figure::LossPerWeek), weeks);
                    shorten_range(kind, left, When::Always, &mut seeing);
                    noise /= left;
                }
                Act::AutoZero => {
                    if let Some(since) = self.failing.parked {
                        let taken = failure.figure(Figure::Tare) * self.now.since(since).hours() / 24.0;
                        seeing.offset -= taken.min(self.plan.scenario.mower.mass_kg);
                    }
                }
                Act::Chatter => noise *= failure.figure(Figure::NoiseFactor),
                Act::Bounce => seeing.blinded = failure.figure(Figure::Share),
                Act::PhantomIn => seeing.offset += as_angle(kind, failure.figure(Figure::Load)),
                Act::PhantomOut => seeing.scale = 0.0,
                _ => {}
            }
        }
        (seeing, noise)
    }

    fn holds(&self, when: When, failure: &Failure) -> bool {
        match when {
            When::Always => true,
            When::Sun => self.sky.sun.is_some(),
            When::DryNight => self.sky.light_klux < 1.0 && self.sky.rain_mm_h <= 0.0,
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

    /// Whether a failure blocks this beam.
    pub fn blocked(&self, index: usize) -> bool {
        let blocks = |act: Act| matches!(act, Act::Blocked | Act::Web);
        let hit_by = &self.senses[index].hit_by;
        hit_by.iter().any(|f| self.failing.active[*f] > 0 && blocks(self.failures()[*f].mode.act))
    }

    /// The mower is parked, or no longer is.
    pub fn parks(&mut self, parked: bool) {
        self.failing.parked = parked.then_some(self.now);
        if parked {
            self.failing.dockings += 1;
            self.for_a_moment(Act::Chatter, self.failing.dockings);
        }
    }

    /// The way home begins: on some the echo is weak, until the mower is in.
    pub fn echo_weakens(&mut self, key: u64) {
        if let Some((index, ..)) = self.strikes(Act::Slanted, key) {
            self.failure_steps(index, true);
        }
    }

    /// The mower is in.
    pub fn echo_recovers(&mut self) {
        for index in 0..self.failures().len() {
            if self.failures()[index].mode.act == Act::Slanted && self.failing.active[index] > 0 {
                self.failure_steps(index, false);
            }
        }
    }

    /// A stroke begins: its number among the season's.
    pub fn counts_stroke(&mut self) -> u64 {
        self.failing.strokes += 1;
        self.failing.strokes
    }

    /// A stroke has ended, well or not.
    pub fn switches_bounce(&mut self) {
        self.for_a_moment(Act::Bounce, self.failing.strokes);
    }

    /// When the drive of a stroke takes something for an obstacle that it was not told of, s after its start.
    pub fn false_trip_s(&self, stroke: u64, loads: &crate::shelter::loads::Loads, lasts_s: f64) -> Option<f64> {
        let threshold = self.plan.scenario.strategies[self.strategy.index].controller.obstruction_force_n;
        let mut first = self.strikes(Act::StartTrip, stroke).map(|_| INRUSH_S);
        let mut trips = |at_s: f64| first = Some(first.map_or(at_s, |earlier: f64| earlier.min(at_s)));
        for (index, failure) in self.failures().iter().enumerate() {
            let extra = |stream: &mut Stream| match failure.mode.act {
                Act::ColdDrag => {
                    let cold = ((SET_UP_C - loads.temperature_c) / (SET_UP_C - COLD_C)).max(0.0);
                    failure.figure(Figure::Force) * cold * libm::exp(DRAG_SPREAD * stream.normal())
                }
                Act::WindTrip => failure.figure(Figure::Share) * loads.wind_n(&self.plan.scenario.door),
                _ => 0.0,
            };
            if matches!(failure.mode.act, Act::ColdDrag | Act::WindTrip) {
                let mut stream = self.failing.occasions[index].stream(stroke);
                if extra(&mut stream) > threshold {
                    trips(stream.uniform() * if lasts_s.is_finite() { lasts_s } else { 1.0 });
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

    /// How much later the drive notices an obstacle, s.
    pub fn reacts_later_s(&self) -> f64 {
        self.failing(Act::SlowReaction).map(|failure| failure.figure(Figure::Delay)).sum()
    }

    /// A motor start may restart the controller.
    pub fn supply_sags(&mut self, stroke: u64) {
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
        self.failing.object.is_some() || self.mower.doing == Doing::StuckInDoorway
    }
}

/// The errors of a failure's figures.
fn err(failure: &Failure, kind: &SensorKind, when: When, seeing: &mut Seeing) {
    let either = |a: f64, b: f64| 1.0 - (1.0 - a) * (1.0 - b);
    let beam = matches!(kind, SensorKind::BreakBeam { .. });
    for ((figure, _), value) in failure.mode.figures.iter().zip(&failure.figures) {
        match figure {
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
