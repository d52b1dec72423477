//! The season's sensors: what they see now, when their law changes, and how the controller hears of it.

use arrayvec::ArrayVec;

use super::drift::{Looked, RandomDrift};
use super::event::Event;
use super::motion::Motion;
use super::plan::{Plan, StrategyPlan};
use super::platform::Laden;
use super::polls::Polls;
use super::queue::Ticket;
use super::season::Season;
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::failure::{Act, When};
use crate::scenario::sensor::{SensorKind, StatusCode, TiltOn};
use crate::scenario::visitor::FaultKind;
use crate::sensing::bound::Hull;
use crate::sensing::channel::{Channel, Sampling};
use crate::sensing::detector::DetectorState;
use crate::sensing::law::{Boring, Law, Reading};
use crate::sensing::reading::{Eye, Seeing, Sky, Surroundings};
use crate::sensing::sight::Body;
pub use crate::sensing::sight::{BODIES_MAX, GUESTS_MAX};
use crate::sensing::statistic::Frame;
use crate::shelter::mechanism;
use crate::world::timetable;

/// What changed, so that only the sensors that mind are asked again.
pub mod change {
    /// Weather or light.
    pub const SKY: u8 = 1;
    /// Somebody moved, stopped, came or went.
    pub const BODIES: u8 = 2;
    /// The door reached or left an end.
    pub const DOOR: u8 = 4;
    /// A status message, a window's edge, a false break, a fault.
    pub const OWN: u8 = 8;
    /// Everything.
    pub const ALL: u8 = 15;
}

/// The bodies near the door at one moment.
pub type Bodies = ArrayVec<Body, BODIES_MAX>;

/// One sensor at work.
#[derive(Clone, Debug)]
pub struct Sense {
    /// Index of the sensor.
    pub sensor: usize,
    /// Its detectors among the scenario's, in the channel's order.
    pub detectors: Vec<usize>,
    minds: u8,
    /// Failures that can hit it, by their places in the scenario.
    pub hit_by: Vec<usize>,
    /// Whether what they make of it changes when somebody moves.
    spoilt_by_bodies: bool,
    /// What weather and light do to it now, failures and random drift apart.
    clear: Seeing,
    /// The same with these.
    seeing: Seeing,
    /// Its random drift, if it has one.
    pub random_drift: Option<RandomDrift>,
    /// The drift for which its laws are asked instead, while the season looks at them.
    pub looked: Option<Looked>,
    /// Factor of failures on its noise.
    rough: f64,
    /// Whether a failure blocks it.
    blocked: bool,
    /// What a failure makes it believe instead of the mower's status.
    believed: Option<Option<u8>>,
    latency: Span,
    /// Faults at work on it, as a count of each.
    silent: u32,
    stuck: u32,
    stuck_at: Reading,
    /// Factors on the noise of the faults that make it noisy now.
    noisy: Vec<f64>,
    /// Last believed status code and the number of its message.
    status: Option<u8>,
    heard_message: u32,
    /// The moment at which that message grows too old.
    stale: Option<Ticket>,
    /// The polls of a status sensor that has to ask.
    pub polls: Option<Polls>,
    /// The next moment at which somebody begins or ceases to be noticed.
    pub edge: Option<Ticket>,
    false_break: bool,
    breaks: Stream,
    /// End switch: whether its contact bounces off just now, whether a gust is due to rattle it, and when gusts do.
    pub contact_off: bool,
    pub rattle_due: bool,
    pub rattles: Stream,
    /// Water standing on the platform, mm, as of `water_at`, and the rain that falls on it since, mm/h.
    water_mm: f64,
    water_at: Instant,
    rained_on_mm_h: f64,
    /// Zero that the controller takes off a platform's readings, kg.
    zero: f64,
    /// What a platform remembers of its load.
    pub laden: Laden,
}

impl Sense {
    /// A sensor that has seen nothing.
    pub fn new(plan: &Plan, sensor: usize, detectors: &[usize], seed: u64, season: u64) -> Sense {
        let spec = &plan.scenario.sensors[sensor];
        let minds = change::OWN
            | match &spec.kind {
                SensorKind::OpticalRange { .. }
                | SensorKind::PhotonRange { .. }
                | SensorKind::UltrasonicRange { .. } => change::SKY | change::BODIES,
                SensorKind::BreakBeam { .. } => change::SKY | change::BODIES,
                SensorKind::PlatformLoad { .. } => change::SKY | change::BODIES | change::DOOR,
                SensorKind::Tilt { on: TiltOn::Platform { .. } } => change::SKY | change::BODIES,
                SensorKind::Tilt { on: TiltOn::Panel } => change::SKY | change::DOOR,
                SensorKind::EndSwitch { .. } => change::DOOR,
                SensorKind::RainGauge => change::SKY,
                SensorKind::Status { .. } | SensorKind::Clock { .. } => change::OWN,
            };
        let failures = plan.scenario.failures.iter().enumerate();
        let hit_by: Vec<usize> =
            failures.filter(|(_, failure)| failure.sensors.contains(&sensor)).map(|(index, _)| index).collect();
        let swallows = |f: &usize| plan.scenario.failures[*f].mode.act == Act::AutoZero;
        let spoilt_by_bodies = hit_by.iter().any(swallows);
        let moved = |f: &usize| plan.scenario.failures[*f].mode.act == Act::Reading(When::DoorMoves);
        let minds = minds | if hit_by.iter().any(moved) { change::DOOR } else { 0 };
        let eye = &plan.eyes[sensor];
        let minds = minds | if eye.is_indoors() { change::DOOR } else { 0 };
        let clear = eye.seeing(&DARK);
        Sense {
            sensor,
            detectors: detectors.to_vec(),
            minds,
            hit_by,
            spoilt_by_bodies,
            clear,
            seeing: clear,
            random_drift: RandomDrift::of(spec, seed, season),
            looked: None,
            rough: 1.0,
            blocked: false,
            believed: None,
            latency: spec.latency,
            silent: 0,
            stuck: 0,
            stuck_at: Reading::Nothing,
            noisy: Vec::new(),
            // The mower sits in its dock when the season begins, and everybody knows.
            status: Some(StatusCode::Docked as u8),
            heard_message: 0,
            stale: None,
            polls: Polls::of(spec, seed, season),
            edge: None,
            false_break: false,
            breaks: Source::new(seed, season, &format!("sensor {} false breaks", spec.name)).stream(0),
            contact_off: false,
            rattle_due: false,
            rattles: Source::new(seed, season, &format!("sensor {} rattles", spec.name)).stream(0),
            water_mm: 0.0,
            water_at: Instant::START,
            rained_on_mm_h: 0.0,
            zero: 0.0,
            laden: Laden::EMPTY,
        }
    }

    /// What its random drift adds to its readings now.
    pub fn drifted(&self) -> f64 {
        self.random_drift.as_ref().map_or(0.0, RandomDrift::now)
    }

    /// What weather and light do to it now, and its random drift.
    fn unspoilt(&self) -> Seeing {
        self.clear.shifted(self.drifted())
    }

    /// Water standing on the platform, mm.
    pub fn water_mm(&self) -> f64 {
        self.water_mm
    }

    /// Whether it gives no usable reading (power apart).
    pub fn is_faulty(&self) -> bool {
        self.silent > 0 || self.stuck > 0
    }

    /// Whether it follows a self-test.
    pub fn answers(&self) -> bool {
        !self.is_faulty() && self.seeing.drop < SILENT
    }

    /// The status code that a status sensor believes; none if it believes nothing that it has heard.
    pub fn status(&self) -> Option<u8> {
        self.status
    }

    /// The number of the last message that was believed.
    pub fn heard_message(&self) -> u32 {
        self.heard_message
    }

    /// What it repeats while it is stuck.
    pub fn stuck_at(&self) -> Reading {
        self.stuck_at
    }

    /// Time from a reading to the controller's hearing of it.
    pub fn latency(&self) -> Span {
        self.latency
    }

    /// Its tracked zero, in reading units.
    pub fn zero(&self) -> f64 {
        self.zero
    }

    /// Sets its tracked zero.
    pub fn set_zero(&mut self, zero: f64) {
        self.zero = zero;
    }

    /// Whether an insect or a leaf breaks the beam.
    pub fn is_falsely_broken(&self) -> bool {
        self.false_break
    }

    /// Whether a fault of any kind is at work on it.
    pub fn has_fault(&self) -> bool {
        self.is_faulty() || !self.noisy.is_empty()
    }
}

/// The sensors of a strategy, in the scenario's order.
pub fn senses(plan: &Plan, strategy: &StrategyPlan, seed: u64, season: u64) -> Vec<Sense> {
    strategy.sensors.iter().map(|(sensor, detectors)| Sense::new(plan, *sensor, detectors, seed, season)).collect()
}

/// Their channels, in the same order.
pub fn channels(plan: &Plan, strategy: &StrategyPlan, seed: u64, season: u64, sampling: Sampling) -> Vec<Channel> {
    let channel = |(sensor, detectors): &(usize, Vec<usize>)| {
        let spec = &plan.scenario.sensors[*sensor];
        let source = Source::new(seed, season, &format!("sensor {}", spec.name));
        let channel = Channel::new(spec.period, source, states(plan, *sensor, detectors), sampling);
        channel.correlate(spec.errors.noise_correlation)
    };
    strategy.sensors.iter().map(channel).collect()
}

fn states(plan: &Plan, sensor: usize, detectors: &[usize]) -> Vec<DetectorState> {
    let frame = Frame::of(&plan.scenario.sensors[sensor]);
    detectors.iter().map(|detector| DetectorState::new(&plan.scenario.detectors[*detector], &frame)).collect()
}

impl Season<'_> {
    /// The weather and light of the moment.
    pub fn sky(&self) -> Sky {
        let weather = &self.outside.weather.steps[self.weather_step];
        let light = self.plan.lights.get(self.light_step);
        let light_klux = light.map_or(0.0, |light| light.clear_klux) * weather.clearness;
        // By day the sun warms the glass: then only air that is damp itself keeps it wet.
        let colder_k = if light_klux < WINDOW_COLDER_BELOW_KLUX { WINDOW_COLDER_K } else { 0.0 };
        Sky {
            rain_mm_h: weather.rain_mm_h,
            temperature_c: weather.temperature_c,
            humidity: weather.relative_humidity(),
            dew: weather.rain_mm_h <= 0.0 && (weather.dew_on(colder_k) || weather.fog()),
            light_klux,
            direct_klux: shines(weather.clearness) * light.map_or(0.0, |light| light.direct_klux),
            sun: light.and_then(|light| light.sun),
            days: self.now.seconds() / 86_400.0,
        }
    }

    /// The weather and light that come to a sensor beside a shut door, or one that is not.
    pub fn sky_at(&self, eye: &Eye, shut: bool) -> Sky {
        if shut && eye.is_indoors() { self.sky.indoors() } else { self.sky }
    }

    /// Gathers the bodies near the door at a moment of the present stretch.
    fn bodies(&self, at: Instant, bodies: &mut Bodies) {
        bodies.clear();
        if let Some(body) = self.mower_body(at) {
            bodies.push(body);
        }
        for guest in self.guests_here() {
            bodies.push(self.guest_body(guest, at));
        }
        bodies.extend(self.failing.object);
    }

    /// Asks the sensors that mind `changed` for their law again.
    pub fn refresh(&mut self, changed: u8) {
        for index in 0..self.senses.len() {
            if self.senses[index].minds & changed != 0 {
                let eye = &self.plan.eyes[self.senses[index].sensor];
                if changed & change::SKY != 0 || (changed & change::DOOR != 0 && eye.is_indoors()) {
                    self.senses[index].clear = eye.seeing(&self.sky_at(eye, self.door.is_shut()));
                }
                if changed == change::BODIES && !self.senses[index].spoilt_by_bodies {
                    debug_assert!(self.is_spoilt_as_before(index), "a failure minds that somebody moves");
                    self.refresh_sense(index);
                } else {
                    self.refresh_one(index);
                }
            }
        }
    }

    /// Asks sensor `index` for its law again, failures included.
    pub fn refresh_one(&mut self, index: usize) {
        if !self.senses[index].hit_by.is_empty() {
            let (seeing, rough) = self.spoilt(index, self.senses[index].unspoilt());
            let (blocked, believed) = (self.blocked(index), self.believes(index));
            let sense = &mut self.senses[index];
            (sense.seeing, sense.rough, sense.blocked, sense.believed) = (seeing, rough, blocked, believed);
        } else {
            self.senses[index].seeing = self.senses[index].unspoilt();
        }
        self.refresh_sense(index);
    }

    /// Whether failures make the same of what sensor `index` sees as when it was last asked for its law.
    fn is_spoilt_as_before(&self, index: usize) -> bool {
        let sense = &self.senses[index];
        (sense.seeing, sense.rough) == self.spoilt(index, sense.unspoilt()) && sense.blocked == self.blocked(index)
    }

    /// Asks sensor `index` for its law again.
    pub fn refresh_sense(&mut self, index: usize) {
        self.senses_water(index);
        self.feels_load(index);
        let changes = |season: &Self| season.sees_motion(index) || season.is_swinging(index);
        let in_view = self.powered && !self.senses[index].is_faulty() && changes(self);
        let moving = in_view && !self.goes_by_edges(index);
        let law = self.law_of(index, self.now);
        self.channels[index].set_law(self.now, law, moving, in_view);
        self.watch_learns(index);
        if in_view && !moving {
            self.schedule_edge_of(index);
        } else if let Some(ticket) = self.senses[index].edge.take() {
            self.queue.cancel(ticket);
        }
        if moving {
            self.plan_ahead(index);
        }
    }

    /// Lets sensor `index` skip what can't matter while things move.
    fn plan_ahead(&mut self, index: usize) {
        if self.watches_the_panel(index) {
            // The bounds know of bodies only: while the panel turns, its tilt sensor takes every sample.
            return;
        }
        if !self.channels[index].could_skip() {
            return;
        }
        let mut watched = self.watch.laws_of(index).map(std::mem::take);
        self.with_channel(index, |channel, season| {
            channel.plan_ahead(
                season.motions_end(),
                |boring| season.undisturbed(index, season.now, boring),
                |from, to, boring| season.bound_of(index, from, to, boring),
                |sample, at| {
                    let law = season.law_of(index, at);
                    if let Some(laws) = &mut watched {
                        laws.push((sample, law));
                    }
                    law
                },
            );
        });
        if let (Some(laws), Some(watched)) = (self.watch.laws_of(index), watched) {
            *laws = watched;
        }
    }

    /// Lets channel `index` ask about the season that it is part of: it is taken out of it meanwhile.
    fn with_channel<R>(&mut self, index: usize, act: impl FnOnce(&mut Channel, &Self) -> R) -> R {
        let mut channels = std::mem::take(&mut self.channels);
        let result = act(&mut channels[index], self);
        self.channels = channels;
        result
    }

    /// When the first of those who move ceases to.
    fn motions_end(&self) -> Instant {
        let guests = self.guests_here().map(|guest| &guest.motion);
        let all = std::iter::once(&self.mower.motion).chain(guests);
        all.map(Motion::ends).filter(|ends| *ends > self.now).min().unwrap_or(Instant::NEVER)
    }

    /// How long from a moment of the present stretch on sensor `index` will hardly notice anything, if the only body that it can
    /// see moves.
    pub fn undisturbed(&self, index: usize, from: Instant, boring: &Boring) -> Option<Span> {
        let eye = &self.plan.eyes[self.senses[index].sensor];
        let mut seen = None;
        let mut count = 0;
        let mut aside = Span(i64::MAX);
        let mut look = |body: Body, last: Body, motion: &Motion| {
            let left = motion.ends().since(from);
            if let Some(distance_m) = eye.flat_distance_m(&body) {
                count += 1;
                seen = Some((distance_m, body, last, *motion));
            } else if left.0 > 0
                && let Some(share) = eye.aside_until(&body, &last)
            {
                aside = aside.min(Span((share * left.0 as f64) as i64));
            }
        };
        if let Some(body) = self.mower_body(from) {
            let (x, y) = self.mower.motion.end();
            look(body, Body::of_mower(&self.plan.scenario.mower, x, y), &self.mower.motion);
        }
        for guest in self.guests_here() {
            let last = self.guest_body(guest, guest.motion.ends());
            look(self.guest_body(guest, from), last, &guest.motion);
        }
        let Some((distance_m, body, last, motion)) = seen else {
            return Some(aside).filter(|span| span.0 > 0 && span.0 < i64::MAX);
        };
        let left = motion.ends().since(from);
        if count > 1 || left.0 <= 0 {
            return None;
        }
        let towards = eye.flat_distance_m(&last).map(|end_m| end_m < distance_m);
        let quiet_m = eye.quiet_way_m(&self.around(index, from, &[]), distance_m, &body, towards, boring)?;
        let quiet = Span::from_seconds((quiet_m / motion.speed_m_s()).min(86_400.0));
        Some(quiet.min(left))
    }

    /// An upper bound on the probability that a reading of sensor `index` is not boring, for all moments of a stretch.
    pub fn bound_of(&self, index: usize, from: Instant, to: Instant, boring: &Boring) -> f64 {
        let (mut first, mut last, mut hulls) = (Bodies::new(), Bodies::new(), ArrayVec::<Hull, BODIES_MAX>::new());
        self.bodies(from, &mut first);
        self.bodies(to, &mut last);
        for (a, b) in first.iter().zip(&last) {
            hulls.push(Hull::between(a, b));
        }
        let eye = &self.plan.eyes[self.senses[index].sensor];
        let mut around = self.around(index, from, &[]);
        around.swing_kg = self.swing_at_most_kg(index, from, to);
        eye.interesting_at_most(&around, &hulls, boring)
    }

    /// Whether sensor `index` sees the panel turn just now.
    fn watches_the_panel(&self, index: usize) -> bool {
        let eye = &self.plan.eyes[self.senses[index].sensor];
        let door = &self.plan.scenario.door;
        self.door.is_moving()
            && matches!(eye.sensor().kind, SensorKind::Tilt { on: TiltOn::Panel })
            && mechanism::panel_deg(door, mechanism::stroke_m(door)) != 0.0
    }

    /// Whether something that moves now could change what this sensor reads.
    fn sees_motion(&self, index: usize) -> bool {
        let eye = &self.plan.eyes[self.senses[index].sensor];
        if self.watches_the_panel(index) {
            return true;
        }
        let mower = &self.plan.scenario.mower;
        if self.mower.motion.moves() && self.mower.is_near() {
            let half = 0.5 * mower.length_m;
            let (a, b) = (self.mower.motion.start(), self.mower.motion.end());
            if eye.could_notice((a.0 + half, a.1), (b.0 + half, b.1), half.hypot(0.5 * mower.width_m)) {
                return true;
            }
        }
        self.guests_here().any(|guest| {
            let margin = std::f64::consts::SQRT_2 * guest.half_m;
            guest.motion.moves() && eye.could_notice(guest.motion.start(), guest.motion.end(), margin)
        })
    }

    /// The law of a reading of sensor `index` at a moment of the present stretch.
    pub fn law_of(&self, index: usize, at: Instant) -> Law {
        let sense = &self.senses[index];
        if !self.powered || sense.silent > 0 {
            return Law::SILENT;
        }
        if sense.stuck > 0 {
            return match sense.stuck_at {
                Reading::Nothing => Law::SILENT,
                Reading::Value(value) => Law::exact(value, 0.0),
            };
        }
        let mut bodies = Bodies::new();
        self.bodies(at, &mut bodies);
        let mut around = self.around(index, at, &bodies);
        around.swing_kg = self.swing_kg(index, at);
        self.plan.eyes[sense.sensor].law(&around)
    }

    /// Whether sensor `index` would read the same with nobody there.
    pub fn nothing_in_view(&self, index: usize) -> bool {
        self.law_of(index, self.now) == self.law_at_rest(index)
    }

    /// The law of a reading of sensor `index` now, with nobody there.
    pub fn law_at_rest(&self, index: usize) -> Law {
        self.plan.eyes[self.senses[index].sensor].law(&self.around(index, self.now, &[]))
    }

    /// The laws of a reading of sensor `index` now, with nobody there: without an insect before it, and with one.
    pub fn laws_at_rest(&self, index: usize) -> [Law; 2] {
        let blocked = self.senses[index].blocked;
        let around = self.around(index, self.now, &[]);
        [false, true].map(|insect| {
            let around = Surroundings { false_break: insect || blocked, ..around };
            self.plan.eyes[self.senses[index].sensor].law(&around)
        })
    }

    /// Everything that sensor `index` can sense at present, with these bodies.
    pub fn around<'a>(&self, index: usize, at: Instant, bodies: &'a [Body]) -> Surroundings<'a> {
        let sense = &self.senses[index];
        let eye = &self.plan.eyes[sense.sensor];
        let clock = match eye.sensor().kind {
            SensorKind::Clock { lead_s, lag_s } => {
                let (lead, lag) = (Span::from_seconds(lead_s), Span::from_seconds(lag_s));
                timetable::inside(self.believed_windows(), self.now, lead, lag)
            }
            _ => false,
        };
        // Only a sensor on the panel feels its angle, and some mechanisms have to solve their linkage for it.
        let panel_deg = match eye.sensor().kind {
            SensorKind::Tilt { on: TiltOn::Panel } => {
                mechanism::panel_deg(&self.plan.scenario.door, self.door.position(at))
            }
            _ => 0.0,
        };
        Surroundings {
            bodies,
            sky: self.sky,
            seeing: sense.looked.map_or(sense.seeing, |looked| sense.seeing.shifted(looked.beyond())),
            door_shut: self.door.is_shut(),
            door_open: self.door.is_open(),
            panel_deg,
            water_mm: sense.water_mm,
            status: sense.believed.unwrap_or(sense.status),
            clock,
            false_break: sense.false_break || sense.blocked,
            zero: sense.zero,
            crept_kg: sense.laden.shown_kg(),
            swing_kg: 0.0,
            noise_factor: sense.rough * sense.noisy.iter().copied().reduce(f64::max).unwrap_or(1.0),
        }
    }

    /// Lets channels that skipped samples while things moved remember what they must of them, before anything changes.
    pub fn catch_up(&mut self) {
        for index in 0..self.channels.len() {
            if self.channels[index].has_skipped_in_motion() {
                self.with_channel(index, |channel, season| channel.catch_up(season.now, |at| season.law_of(index, at)));
            }
        }
    }

    /// Takes the sample that is due at sensor `index` and passes on what its detectors make of it.
    pub fn sample(&mut self, index: usize) {
        self.handled += 1;
        let at = self.channels[index].next_time();
        self.now = at;
        let changed = if self.channels[index].is_moving() {
            let changed = self.with_channel(index, |channel, season| channel.sample(|at| season.law_of(index, at)));
            self.watch_draws(index);
            self.plan_ahead(index);
            changed
        } else {
            self.channels[index].sample(|_| Law::SILENT)
        };
        if changed != 0 {
            self.tell(index, changed);
            self.account();
        }
    }

    /// Passes change-overs of sensor `index` on to the controller, after the sensor's latency.
    fn tell(&mut self, index: usize, changed: u64) {
        for place in 0..self.senses[index].detectors.len() {
            if changed >> place & 1 == 1 {
                let detector = self.senses[index].detectors[place];
                let on = self.channels[index].is_on(place);
                if on {
                    self.tally_on(index, detector);
                }
                if self.tracing() {
                    let name = self.plan.scenario.detectors[detector].name.clone();
                    self.trace(&name, if on { "detector on" } else { "detector off" }, String::new());
                }
                if self.senses[index].latency.0 > 0 {
                    self.queue.schedule(self.now + self.senses[index].latency, Event::Heard(detector as u32, on));
                } else {
                    self.hear(detector, on);
                }
            }
        }
    }

    /// The controller hears of a detector.
    pub fn hear(&mut self, detector: usize, on: bool) {
        self.watch_hears(detector, on);
        if on {
            self.heard |= 1 << detector;
            self.tally_heard(detector);
        } else {
            self.heard &= !(1 << detector);
        }
        self.control(crate::shelter::controller::Happening::None);
    }

    /// Water on a platform: rain falls on it while the door is not shut, and runs off exponentially.
    pub fn senses_water(&mut self, index: usize) {
        let SensorKind::PlatformLoad { drained_per_hour, .. } =
            self.plan.scenario.sensors[self.senses[index].sensor].kind
        else {
            return;
        };
        let falls = if self.door.is_shut() { 0.0 } else { self.sky.rain_mm_h };
        let sense = &mut self.senses[index];
        let hours = self.now.since(sense.water_at).hours();
        sense.water_at = self.now;
        // Until now it was the rain, and the door, of last time.
        let rain = std::mem::replace(&mut sense.rained_on_mm_h, falls);
        if hours <= 0.0 || (rain == 0.0 && sense.water_mm == 0.0) {
            return;
        }
        // dw/dt = rain - k w, exactly.
        let k = drains_per_h(drained_per_hour);
        if k < 1e-9 {
            sense.water_mm += rain * hours;
        } else {
            let kept = libm::exp(-k * hours);
            sense.water_mm = sense.water_mm * kept + rain / k * (1.0 - kept);
        }
        // Below a hundredth of a millimetre nothing is felt; forgetting it keeps dry laws equal to each other.
        if sense.water_mm < 0.01 && rain == 0.0 && falls == 0.0 {
            sense.water_mm = 0.0;
        }
    }

    /// How long the water on platform `index` takes to change its reading by half the noise; never where none comes or goes.
    pub fn water_lasts(&self, index: usize) -> Option<Span> {
        let sense = &self.senses[index];
        let sensor = &self.plan.scenario.sensors[sense.sensor];
        let SensorKind::PlatformLoad { drained_per_hour, area_m2, .. } = sensor.kind else { return None };
        if sense.rained_on_mm_h == 0.0 && sense.water_mm == 0.0 {
            return None;
        }
        let flow_mm_h = sense.rained_on_mm_h - drains_per_h(drained_per_hour) * sense.water_mm;
        let step_mm = 0.5 * sensor.errors.noise.max(sensor.errors.resolution).max(WATER_STEP_KG) / area_m2;
        let lasts_s = 3_600.0 * step_mm / libm::fabs(flow_mm_h);
        (lasts_s < WATER_SPAN_S).then(|| Span::from_seconds(lasts_s.max(1.0)))
    }

    /// A reading like the last one of sensor `index`.
    fn last_reading(&mut self, index: usize) -> Reading {
        self.with_channel(index, |channel, season| channel.last_reading(season.now, |at| season.law_of(index, at)))
    }

    /// A fault begins or ends.
    pub fn fault(&mut self, outage: usize, begins: bool) {
        self.fault_changes(outage, begins);
        self.blind = self.blind_now();
    }

    fn fault_changes(&mut self, outage: usize, begins: bool) {
        let outage = self.outside.outages[outage];
        let fault = &self.plan.scenario.faults[outage.fault];
        self.trace(&fault.name, if begins { "fault begins" } else { "fault ends" }, String::new());
        let step = |count: &mut u32| *count = if begins { *count + 1 } else { count.saturating_sub(1) };
        match fault.kind {
            FaultKind::Power => self.power_fault(begins),
            FaultKind::Network => {
                step(&mut self.network_faults);
                self.network_changed(begins);
                self.ears_change();
            }
            FaultKind::SensorStuck(sensor) | FaultKind::SensorSilent(sensor) | FaultKind::SensorNoisy(sensor) => {
                let Some(index) = self.senses.iter().position(|sense| sense.sensor == sensor) else { return };
                if matches!(fault.kind, FaultKind::SensorStuck(_)) && begins && self.senses[index].stuck == 0 {
                    self.senses[index].stuck_at = self.last_reading(index);
                }
                let sense = &mut self.senses[index];
                match fault.kind {
                    FaultKind::SensorStuck(_) => step(&mut sense.stuck),
                    FaultKind::SensorSilent(_) => {
                        step(&mut sense.silent);
                    }
                    _ => {
                        // The loudest drowns the others.
                        if begins {
                            sense.noisy.push(fault.noise_factor);
                        } else if let Some(place) = sense.noisy.iter().position(|other| *other == fault.noise_factor) {
                            sense.noisy.swap_remove(place);
                        }
                    }
                }
                self.refresh_sense(index);
                if !begins {
                    // The doorway's sensors may answer again.
                    self.control(crate::shelter::controller::Happening::None);
                }
            }
        }
    }

    /// The mower says something over the network.
    pub fn announce(&mut self, code: StatusCode) {
        self.message += 1;
        self.announced = code;
        self.keep_said();
        if self.network_faults > 0 {
            // Pushed messages are lost; polls find out when the network is back (see `network_changed`).
            return;
        }
        for index in 0..self.senses.len() {
            self.send(index);
        }
    }

    /// Keeps what has been said where it may arrive late.
    fn keep_said(&mut self) {
        if self.failing.keeps_said {
            self.failing.said.push(self.announced as u8);
        }
    }

    /// Sends the present status to one status sensor.
    fn send(&mut self, index: usize) {
        let sensor = self.senses[index].sensor;
        let spec = &self.plan.scenario.sensors[sensor];
        let SensorKind::Status { poll_s, loss, delay_s, delay_spread, .. } = spec.kind else { return };
        let mut stream = self.status_source.stream(u64::from(self.message) << 8 | sensor as u64);
        let mut wait_s = 0.0;
        if poll_s > 0.0 {
            // Wait for the next poll; each lost one costs another round.
            wait_s += poll_s * stream.uniform();
            let lost = stream.failures_before_success(1.0 - loss.min(0.999));
            wait_s += poll_s * lost as f64;
        } else if stream.chance(loss) {
            return;
        }
        let delayed_s = delay_s * libm::exp(delay_spread * stream.normal());
        wait_s += delayed_s;
        let (late_s, again_s) = self.comes_late(index);
        for late_s in std::iter::once(late_s).chain(again_s) {
            let at = self.now + Span::from_seconds(wait_s + late_s);
            // Whole seconds are enough for an age.
            self.queue.schedule(at, Event::Status(index as u32, self.message, (delayed_s + late_s) as u32));
        }
    }

    /// A status message arrives, this many seconds after it was sent.
    pub fn status_arrives(&mut self, index: usize, message: u32, age_s: u32) {
        if self.network_faults > 0 || !self.powered || !self.is_believed(index, message, age_s) {
            // Lost on the way, too old or overtaken by a newer one.
            return;
        }
        let SensorKind::Status { poll_s, stale_after_s, .. } =
            self.plan.scenario.sensors[self.senses[index].sensor].kind
        else {
            return;
        };
        if let Some(ticket) = self.senses[index].stale.take() {
            self.queue.cancel(ticket);
        }
        let code = self.failing.said.get(message as usize).copied().unwrap_or(self.announced as u8);
        self.senses[index].status = Some(code);
        self.senses[index].heard_message = message;
        self.polls_bring_news(index);
        if poll_s <= 0.0 && code != StatusCode::Docked as u8 {
            // A pushed message ages from its arrival; polls renew it while the network is up. That the mower sits in
            // its dock stays believed until it says otherwise.
            let stale = self.now + Span::from_seconds(stale_after_s);
            self.senses[index].stale = Some(self.queue.schedule(stale, Event::StatusStale(index as u32, message)));
        }
        self.refresh_one(index);
        self.belief_changes();
    }

    /// A message has grown too old to be believed.
    pub fn status_stale(&mut self, index: usize, message: u32) {
        if self.senses[index].heard_message == message {
            self.forgets_status(index);
        }
    }

    /// Status sensor `index` no longer believes what it heard last.
    pub fn forgets_status(&mut self, index: usize) {
        self.senses[index].status = None;
        self.refresh_one(index);
        self.belief_changes();
        self.ears_change();
    }

    /// Status sensor `index` is told how the mower is.
    pub fn renews_status(&mut self, index: usize) {
        self.senses[index].status = Some(self.announced as u8);
        self.senses[index].heard_message = self.message;
        self.refresh_one(index);
        self.belief_changes();
    }

    fn network_changed(&mut self, begins: bool) {
        for index in 0..self.senses.len() {
            let SensorKind::Status { poll_s, stale_after_s, .. } =
                self.plan.scenario.sensors[self.senses[index].sensor].kind
            else {
                continue;
            };
            if begins && self.network_faults == 1 {
                let stale = self.now + Span::from_seconds(stale_after_s);
                self.queue.schedule(stale, Event::StatusStale(index as u32, self.senses[index].heard_message));
            } else if self.network_faults == 0 && poll_s > 0.0 {
                // The message number must rise, or a stale mark of the old one would hit the renewed one.
                self.message += 1;
                self.keep_said();
                self.send(index);
            }
        }
    }

    /// The edge of a widened mowing window passes for clock sensor `index`; the next one is scheduled.
    pub fn clock_edge(&mut self, index: usize, edge: u32) {
        self.refresh_sense(index);
        self.schedule_clock_edge(index, edge);
    }

    /// Schedules the first edge numbered `edge` or later that lies ahead; edges 2w and 2w + 1 begin and end window w.
    pub fn schedule_clock_edge(&mut self, index: usize, mut edge: u32) {
        let SensorKind::Clock { lead_s, lag_s } = self.plan.scenario.sensors[self.senses[index].sensor].kind else {
            return;
        };
        while let Some(window) = self.believed_windows().get(edge as usize / 2) {
            let at = if edge.is_multiple_of(2) {
                window.from - Span::from_seconds(lead_s)
            } else {
                window.to + Span::from_seconds(lag_s)
            };
            edge += 1;
            if at > self.now {
                self.queue.schedule(at, Event::ClockEdge(index as u32, edge));
                return;
            }
        }
    }

    /// The windows as clocks know them.
    fn believed_windows(&self) -> &[timetable::MowWindow] {
        self.outside.believed.as_deref().unwrap_or(&self.plan.windows)
    }

    /// A false break of beam `index` begins (even number) or ends (odd); the next change is scheduled.
    pub fn false_break(&mut self, index: usize, number: u32) {
        let begins = number.is_multiple_of(2);
        self.senses[index].false_break = begins;
        self.refresh_sense(index);
        self.schedule_false_break(index, number + 1);
    }

    /// Schedules change `number` of beam `index`.
    pub fn schedule_false_break(&mut self, index: usize, number: u32) {
        let SensorKind::BreakBeam { false_per_hour, false_break_s, .. } =
            self.plan.scenario.sensors[self.senses[index].sensor].kind
        else {
            return;
        };
        if false_per_hour <= 0.0 || false_break_s <= 0.0 {
            return;
        }
        let mean_s = if number.is_multiple_of(2) { 3_600.0 / false_per_hour } else { false_break_s };
        let wait = Span::from_seconds(self.senses[index].breaks.exponential(mean_s));
        self.queue.schedule(self.now + wait, Event::FalseBreak(index as u32, number));
    }

    /// Sensors of the strategy that are blind now, as bits.
    pub fn blind_now(&self) -> u64 {
        let deaf = |sense: &Sense| {
            let kind = &self.plan.scenario.sensors[sense.sensor].kind;
            self.network_faults > 0 && matches!(kind, SensorKind::Status { .. })
        };
        let blind = |sense: &Sense| !self.powered || sense.is_faulty() || deaf(sense);
        self.senses.iter().enumerate().fold(0, |bits, (index, sense)| bits | u64::from(blind(sense)) << index)
    }
}

/// A sensor that loses so large a share of its readings is as good as silent (common practice).
const SILENT: f64 = 0.99;

/// The sky before the season's first look at it.
const DARK: Sky = Sky::dark(20.0);

/// Up to this share of the clear sky's light the sun does not come through.
const CLOUDED: f64 = 0.25;

/// Share of the sun's own light that comes through clouds which leave this share of all light: behind a thick cloud there is no sun to
/// shine into anything (common practice: a quarter of the clear sky's light is diffuse).
pub fn shines(clearness: f64) -> f64 {
    ((clearness - CLOUDED) / (1.0 - CLOUDED)).clamp(0.0, 1.0)
}

/// Glass under an open sky is colder than the air by so much, K (common practice: 2 to 4), while there is less light than this,
/// klux.
const WINDOW_COLDER_K: f64 = 3.0;
const WINDOW_COLDER_BELOW_KLUX: f64 = 10.0;

/// The least change of a platform's water that is followed, kg, and the slowest that is worth an event of its own, s.
const WATER_STEP_KG: f64 = 0.02;
const WATER_SPAN_S: f64 = 4.0 * 3_600.0;

/// Rate at which water runs off, 1/h, from the share that has run off after an hour.
fn drains_per_h(drained_per_hour: f64) -> f64 {
    -libm::log1p(-drained_per_hour.clamp(0.0, 0.999_999))
}

/// The random source of status messages.
pub fn status_source(seed: u64, season: u64) -> Source {
    Source::new(seed, season, "status messages")
}
