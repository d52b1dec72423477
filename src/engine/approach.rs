//! A single approach by itself: how likely it is to go unnoticed under given conditions, outside any season.
//!
//! What a season adds up as expected misses is worked out here for conditions of one's choosing, so that rare ones can
//! be looked at more often than they come ([`crate::study::rare`]). Sensors are sound, nobody else is near, the door is
//! shut, and the detectors of status and clock are off.

use std::borrow::Cow;

pub use super::joint::NotWorkedOut;
use super::joint::{By, Group, Joint, Part, Product, groups};
use super::motion::Motion;
use super::outside::Outside;
use super::particles::{Followed, PARTICLES, PARTICLES_ROUGHLY, Sample};
use super::plan::Plan;
use super::season::{Options, Season};
use super::watch::WatchPlan;
use crate::math::random::{Source, Stream};
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::mower::Mower;
use crate::scenario::sensor::Sensor;
use crate::sensing::approach::{Evidence, Mass};
use crate::sensing::automaton::Odds;
use crate::sensing::channel::Sampling;
use crate::sensing::fusion::missed_together;
use crate::sensing::law::Law;
use crate::sensing::reading::{Eye, Seeing, Sky, Surroundings};
use crate::sensing::remembered::RememberedMass;
use crate::sensing::sight::Body;

/// Most sensors whose random drift an approach follows.
pub const DRIFTS_MAX: usize = 3;

/// The mower's way home, the phase of the sampling, and how far the sensors have drifted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Path {
    /// Speed as a multiple of the usual one.
    pub pace: f64,
    /// Sideways offset, m.
    pub sideways_m: f64,
    /// Where in its sampling period each sensor is when the drive begins, 0 to 1 (shifted by a third of a turn from
    /// sensor to sensor, so that they do not all sample at once).
    pub phase: f64,
    /// Random drift of each sensor that has one ([`Approach::drifting`]), in its standard deviations: constant for the length of
    /// an approach.
    pub drifts: [f64; DRIFTS_MAX],
}

impl Path {
    /// At the usual pace, straight on, nothing drifted.
    pub const USUAL: Path = Path { pace: 1.0, sideways_m: 0.0, phase: 0.0, drifts: [0.0; DRIFTS_MAX] };
}

/// What holds at the beginning of an approach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outset {
    /// Weather and light.
    pub sky: Sky,
    /// Whether the strategy's `wet` rule shortens its run rules.
    pub short: bool,
}

/// Probabilities that nobody asks for the door.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unnoticed {
    /// By the noise of each sensor alone.
    pub alone: f64,
    /// With the causes that the sensors share: the beta factor and the floor of the scenario.
    pub with_common: f64,
    /// Share of it by which it may be off because sums are kept to steps; 0 where they are not.
    pub by_steps: f64,
    /// Whether all particles died out: `alone` is 0 then, and others make up for it.
    pub died_out: bool,
}

/// What was worked out for detectors that are followed together.
struct Chance {
    chance: f64,
    by_steps: f64,
    died_out: bool,
}

impl Chance {
    fn exact(chance: f64) -> Chance {
        Chance { chance, by_steps: 0.0, died_out: false }
    }
}

/// A strategy's approach.
#[derive(Clone, Debug)]
pub struct Approach<'p> {
    plan: &'p Plan,
    watch: Cow<'p, WatchPlan>,
    groups: Vec<Group>,
    drifting: Vec<usize>,
}

/// A chance of being unnoticed below this is not followed further.
const NEVER: f64 = 1e-40;

/// Most samples without anybody in view that detectors followed together are given beforehand.
const BEFOREHAND_MAX: usize = 400;

impl<'p> Approach<'p> {
    /// Makes ready.
    ///
    /// # Errors
    /// If the open rule of the strategy can't be worked out with status, clock, load and rain gauge off.
    pub fn new(plan: &'p Plan, strategy: usize) -> Result<Approach<'p>, NotWorkedOut> {
        Approach::of(plan, strategy, By::Usual)
    }

    /// The same by particles alone, also where there are chains: to hold one against the other.
    ///
    /// # Errors
    /// As [`Approach::new`].
    pub fn by_particles(plan: &'p Plan, strategy: usize) -> Result<Approach<'p>, NotWorkedOut> {
        Approach::of(plan, strategy, By::Particles)
    }

    /// The same with noise integrated out also where it remembers, for detectors alone that are made of hits: that takes long.
    ///
    /// # Errors
    /// As [`Approach::new`].
    pub fn integrated(plan: &'p Plan, strategy: usize) -> Result<Approach<'p>, NotWorkedOut> {
        Approach::of(plan, strategy, By::Integration)
    }

    fn of(plan: &'p Plan, strategy: usize, by: By) -> Result<Approach<'p>, NotWorkedOut> {
        let scenario = &plan.scenario;
        let open = plan.strategies[strategy].open_detectors;
        let watch = match &plan.strategies[strategy].watch {
            Some(watch) => Cow::Borrowed(watch),
            None => Cow::Owned(WatchPlan::new(scenario, open, scenario.strategies[strategy].shortens())),
        };
        let groups = groups(scenario, strategy, &watch, by)?;
        let mut drifting: Vec<usize> = groups.iter().flat_map(|group| sensors_of(scenario, group)).collect();
        drifting.retain(|sensor| scenario.sensors[*sensor].errors.random_drift > 0.0);
        drifting.sort_unstable();
        drifting.dedup();
        if drifting.len() > DRIFTS_MAX {
            return Err(NotWorkedOut::Drifts);
        }
        Ok(Approach { plan, watch, groups, drifting })
    }

    /// Sensors whose readings decide and that drift at random, ascending.
    pub fn drifting(&self) -> &[usize] {
        &self.drifting
    }

    /// How many particles stand for the noise of its readings; none if all of it is integrated out.
    pub fn particles(&self) -> Option<usize> {
        self.groups.iter().any(|group| matches!(group, Group::Followed(_))).then_some(PARTICLES)
    }

    /// Probability that nobody asks for the door before the nose is at the waiting point.
    pub fn unnoticed(&self, outset: &Outset, path: &Path) -> Unnoticed {
        self.worked_out(outset, path, false)
    }

    /// About the same, by the noise of each sensor alone, sooner where detectors keep sums: to look for conditions that matter.
    pub fn roughly_unnoticed(&self, outset: &Outset, path: &Path) -> f64 {
        self.worked_out(outset, path, true).alone
    }

    fn worked_out(&self, outset: &Outset, path: &Path, roughly: bool) -> Unnoticed {
        let mut place = 0;
        let mut worked_out = Vec::with_capacity(self.groups.len());
        for group in &self.groups {
            worked_out.push(match group {
                Group::Alone(detector) => {
                    let sensor = self.plan.scenario.detectors[*detector].sensor;
                    let looks = self.looks(sensor, &mut place, outset, path);
                    Chance::exact(self.alone(*detector, &looks, outset.short))
                }
                Group::Joint(joint) => {
                    let looks = self.all_looks(&joint.parts, &mut place, outset, path);
                    jointly(joint, &looks, outset.short, roughly)
                }
                Group::Followed(followed) => {
                    let looks = self.all_looks(&followed.parts, &mut place, outset, path);
                    let count = if roughly { PARTICLES_ROUGHLY } else { PARTICLES };
                    let stream = &mut Source::new(0, 0, "particles").stream(fingerprint(outset, path, place));
                    by_particles(followed, &looks, outset.short, count, stream)
                }
            });
        }
        let common = &self.plan.scenario.common_cause;
        let alone = worked_out.iter().map(|it| it.chance).product();
        // The beta-factor model is one of rare misses: of sensors that hardly see it would make a better pair than two that
        // share nothing.
        let each = worked_out.iter().map(|it| it.chance);
        let with_common = missed_together(each, common.beta).max(alone).max(common.floor);
        let by_steps = worked_out.iter().map(|it| it.by_steps).sum();
        let died_out = worked_out.iter().any(|it| it.died_out);
        Unnoticed { alone, with_common, by_steps, died_out }
    }

    fn all_looks(&self, parts: &[Part], place: &mut usize, outset: &Outset, path: &Path) -> Vec<Looks<'p>> {
        parts.iter().map(|part| self.looks(part.sensor, place, outset, path)).collect()
    }

    /// How a sensor sees the mower on its way; `place` counts the sensors.
    fn looks(&self, sensor: usize, place: &mut usize, outset: &Outset, path: &Path) -> Looks<'p> {
        let scenario = &self.plan.scenario;
        let (mower, way) = (&scenario.mower, &scenario.mower.approach);
        let waits_at = mower.shut_door.waits_at_m;
        let start = Instant::START;
        let slow_from = (way.slow_from_m.max(waits_at), path.sideways_m);
        let fast = Motion::straight(start, (way.from_m, path.sideways_m), slow_from, way.speed_m_s * path.pace);
        let to = (waits_at, path.sideways_m);
        let slow = Motion::straight(fast.ends(), fast.end(), to, way.slow_speed_m_s * path.pace);
        let (own, eye) = (&scenario.sensors[sensor], &self.plan.eyes[sensor]);
        let drifted = self.drifting.iter().position(|drifting| *drifting == sensor).map_or(0.0, |at| path.drifts[at]);
        let seeing = eye.seeing(&outset.sky).shifted(own.errors.random_drift * drifted);
        let turn = path.phase + *place as f64 / 3.0;
        *place += 1;
        let first = start + Span(((turn - libm::floor(turn)) * own.period.0 as f64) as i64);
        let end = slow.ends() - own.latency;
        Looks { mower, eye, sensor: own, sky: outset.sky, seeing, ways: [fast, slow], first, end }
    }

    /// Probability that a detector by itself stays off.
    fn alone(&self, detector: usize, looks: &Looks, short: bool) -> f64 {
        let Some(chain) = self.watch.chain(detector, short) else { return 1.0 };
        let mut mass = Mass::default();
        chain.start(Evidence { hits: 0, spoke: 0 }, &mut mass);
        let correlation = looks.sensor.errors.noise_correlation;
        let mut remembered = (correlation > 0.0).then(|| RememberedMass::new(correlation));
        let (mut at, mut total) = (looks.first, 1.0);
        while at < looks.end && total > NEVER {
            let law = looks.law(at);
            total = match &mut remembered {
                Some(remembered) => {
                    remembered.step(chain, &law);
                    remembered.total()
                }
                None => {
                    chain.step(chain.odds(&law), &mut mass, 0.0);
                    mass.total()
                }
            };
            at += looks.sensor.period;
        }
        total
    }
}

/// The sensors of detectors that are followed together.
fn sensors_of(scenario: &Scenario, group: &Group) -> Vec<usize> {
    match group {
        Group::Alone(detector) => vec![scenario.detectors[*detector].sensor],
        Group::Joint(joint) => sensors(&joint.parts),
        Group::Followed(followed) => sensors(&followed.parts),
    }
}

fn sensors(parts: &[Part]) -> Vec<usize> {
    parts.iter().map(|part| part.sensor).collect()
}

/// A number of these conditions, by which the chances of their particles are told from others'.
fn fingerprint(outset: &Outset, path: &Path, group: usize) -> u64 {
    let Path { pace, sideways_m, phase, drifts } = path;
    let Sky { days, temperature_c, .. } = outset.sky;
    let values = [*pace, *sideways_m, *phase, days, temperature_c, group as f64];
    // After Fowler, Noll & Vo, word by word instead of byte by byte.
    let absorb = |hash: u64, value: &f64| (hash ^ value.to_bits()).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(29);
    values.iter().chain(drifts).fold(0xcbf2_9ce4_8422_2325, absorb)
}

/// How a sensor sees the mower on its way.
struct Looks<'p> {
    mower: &'p Mower,
    eye: &'p Eye,
    sensor: &'p Sensor,
    sky: Sky,
    seeing: Seeing,
    /// Fast, then slow.
    ways: [Motion; 2],
    /// First sample, and where those end that are heard in time.
    first: Instant,
    end: Instant,
}

impl Looks<'_> {
    fn law(&self, at: Instant) -> Law {
        let [fast, slow] = &self.ways;
        let (x, y) = if at < fast.ends() { fast.at(at) } else { slow.at(at) };
        let bodies = [Body::of_mower(self.mower, x, y)];
        self.eye.law(&Surroundings::before_shut_door(&bodies, self.sky, self.seeing))
    }

    /// When it samples, as far as that is heard in time.
    fn samples(&self) -> impl Iterator<Item = Instant> {
        let (end, period) = (self.end, self.sensor.period);
        std::iter::successors(Some(self.first), move |at| Some(*at + period)).take_while(move |at| *at < end)
    }

    fn at_rest(&self) -> Law {
        self.eye.law(&Surroundings::before_shut_door(&[], self.sky, self.seeing))
    }

    /// When the controller hears of a sample.
    fn heard(&self, at: Instant) -> Instant {
        at + self.sensor.latency
    }
}

/// Whose next sample is heard first, of those that are in time.
fn heard_first(looks: &[Looks], next: &[Instant]) -> Option<usize> {
    let in_time = (0..looks.len()).filter(|part| next[*part] < looks[*part].end);
    in_time.min_by_key(|part| looks[*part].heard(next[*part]))
}

/// Probability that detectors followed together don't ask, and the share of it by which the steps of sums may be off.
///
/// Sample after sample, as they are heard. What the finest steps of sums err by is about what wider ones change.
/// `roughly` asks for the widest steps alone.
fn jointly(joint: &Joint, looks: &[Looks], short: bool, roughly: bool) -> Chance {
    let chance = |product: &Product| {
        let parts = || 0..looks.len();
        let at_rest: Vec<Law> = looks.iter().map(Looks::at_rest).collect();
        let mut mass = product.start(roughly);
        for part in parts() {
            (0..joint.settles_after[part].min(BEFOREHAND_MAX)).for_each(|_| {
                product.step(part, &at_rest[part], true, &mut mass);
            });
        }
        mass.begin();
        // Until one of them sees the mower, each sample of a part asks with the same share of what is left.
        let seen = parts().map(|part| {
            let mut odds = Odds::default();
            let rest = product.rest(part, &at_rest[part], &mass);
            let mut samples = looks[part].samples();
            samples.find(|at| product.sees(part, &looks[part].law(*at), &rest, &mut odds)).unwrap_or(looks[part].end)
        });
        let seen: Vec<Instant> = seen.collect();
        let first = parts().map(|part| looks[part].heard(seen[part])).min().unwrap_or(Instant::START);
        let mut next: Vec<Instant> = Vec::with_capacity(looks.len());
        for part in parts() {
            let waits = looks[part].samples().take_while(|at| looks[part].heard(*at) < first).count() as i64;
            let share = product.step(part, &at_rest[part], true, &mut mass.clone());
            mass.wait(waits, share);
            next.push(looks[part].first + Span(looks[part].sensor.period.0 * waits));
        }
        while mass.total() > NEVER {
            let Some(part) = heard_first(looks, &next) else { break };
            let (look, at) = (&looks[part], next[part]);
            let ripens = product.ripens(look.heard(at), look.sensor.period, look.heard(look.end));
            product.step(part, &look.law(at), ripens, &mut mass);
            next[part] += look.sensor.period;
        }
        mass.total()
    };
    if let Some(rough) = joint.rough(short).filter(|_| roughly) {
        return Chance::exact(chance(rough));
    }
    let Some((finest, wider)) = joint.products(short).split_first() else { return Chance::exact(1.0) };
    let found = chance(finest);
    if found <= NEVER {
        return Chance::exact(found);
    }
    let off = wider.iter().map(|wider| libm::fabs(chance(wider) / found - 1.0)).fold(0.0, libm::fmax);
    Chance { chance: found, by_steps: off, died_out: false }
}

/// An estimate of the probability that detectors followed by particles don't ask. Sample after sample, as they are heard.
fn by_particles(followed: &Followed, looks: &[Looks], short: bool, count: usize, stream: &mut Stream) -> Chance {
    let parts = || 0..looks.len();
    let at_rest: Vec<Law> = looks.iter().map(Looks::at_rest).collect();
    let beforehand = |part: usize| Span(looks[part].sensor.period.0 * followed.beforehand(part) as i64);
    let mut next: Vec<Instant> = parts().map(|part| looks[part].first - beforehand(part)).collect();
    let mut swarm = followed.swarm(count, short, next.iter().copied().min().unwrap_or(Instant::START), stream);
    let mut begun = false;
    while swarm.left() > NEVER {
        let Some(part) = heard_first(looks, &next) else { break };
        let (look, at, rest) = (&looks[part], next[part], at_rest[part]);
        if !begun && at >= look.first {
            swarm.begin();
            begun = true;
        }
        let law = if at < look.first { rest } else { look.law(at) };
        swarm.take(&Sample { part, heard: look.heard(at), law: &law, in_view: law != rest });
        next[part] = at + look.sensor.period;
    }
    if !begun {
        swarm.begin();
    }
    let arrives = looks.iter().map(|look| look.heard(look.end)).max();
    arrives.into_iter().for_each(|arrives| swarm.wait(arrives));
    let chance = swarm.left();
    Chance { chance, by_steps: 0.0, died_out: chance <= 0.0 }
}

/// What held at the beginning of each approach of a season, one for each arrival: also of those at which a
/// message came, somebody was near or a sensor was faulty, for an approach by itself leaves these out ([`Approach`]).
pub fn outsets(plan: &Plan, outside: &Outside, strategy: usize, seed: u64) -> Vec<Outset> {
    let options = Options { sampling: Sampling::Exact, events: false };
    Season::record_outsets(plan, outside, strategy, seed, options)
}
