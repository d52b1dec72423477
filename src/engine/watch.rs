//! Expected misses: the exact probability that an approach goes unnoticed, in place of a yes or no.
//!
//! When the mower begins its drive to the door, the noise of the samples to come is integrated out: for each detector
//! that could ask for the door, [`QuietChain`] works out how likely it is to stay off until the nose is at the waiting
//! point, sample by sample under the law of that moment, with weather, light, drift, faults and the mower's path as
//! they are drawn. No randomness is consumed, so that a season is the same with and without.
//!
//! **What is added up.** Let A be "nobody asks during the approach". The expected misses of an arrival are
//! P(A | everything at the beginning and outside) plus 1 if somebody did ask and the arrival was missed all the same
//! (the door had shut again): together they have the mean of the counted misses. The first part is only known where the
//! approach is *plain*: door shut and nobody asking at the beginning, no visitor near, and neither a visit nor a fault
//! that begins or ends on the way. Other approaches count as they turn out. Whether an approach is plain does not depend
//! on the noise that is integrated out, so that nothing is biased by it.
//!
//! **Which open rules.** Detectors of the mower's status, of the clock, of the rain gauge and of the platform's load keep
//! their state of the beginning (an approach on which one changes over counts as it turns out). With these filled in, the rule must come down to "any of" detectors of
//! different rangers and beams that are made of hits; see [`reduce`]. Where the noise of one of these remembers from
//! sample to sample, arrivals count as they turn out.

use super::approach::Outset;
use super::plan::{Plan, StrategyPlan};
use super::season::Season;
use crate::ledger::metric::Key;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::{BuiltIn, Condition, Detector, LogOdds};
use crate::sensing::approach::{Mass, QuietChain, SHORTEST_STRETCH};
use crate::sensing::fusion::missed_together;
use crate::sensing::law::Law;
use crate::shelter::condition::{detectors_of, is_heard};
use crate::shelter::controller::State;

/// What an open rule comes down to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reduced {
    /// It holds.
    True,
    /// It can't hold as long as status, clock, load and rain gauge don't change.
    False,
    /// It will hold as soon as one of these detectors is on.
    Any(u64),
    /// Something else.
    Other,
}

/// What is known of detectors, as bits.
#[derive(Clone, Copy, Debug, Default)]
pub struct Heard {
    /// Those of which it is known whether they are on. All others are off at present.
    pub known: u64,
    /// Those that are on.
    pub on: u64,
    /// Those that have nothing to say: no evidence in a sum of log-odds, off elsewhere.
    pub silent: u64,
}

/// Fills what is known of detectors into a condition.
pub fn reduce(condition: &Condition, heard: Heard) -> Reduced {
    let bit = |value: bool| if value { Reduced::True } else { Reduced::False };
    match condition {
        Condition::Detector(d) if heard.known >> d & 1 == 1 => bit(heard.on >> d & 1 == 1),
        Condition::Detector(d) => Reduced::Any(1 << d),
        Condition::BuiltIn(builtin) => bit(*builtin == BuiltIn::Always),
        Condition::Any(parts) => at_least(1, parts, heard),
        Condition::All(parts) => at_least(parts.len(), parts, heard),
        Condition::AtLeast(least, parts) => at_least(*least, parts, heard),
        Condition::Not(part) => match reduce(part, heard) {
            Reduced::True => Reduced::False,
            Reduced::False => Reduced::True,
            Reduced::Any(_) | Reduced::Other => Reduced::Other,
        },
        Condition::LogOdds(sum) => summed(sum, heard),
        // It may not have held for long enough yet.
        Condition::For(_, part) => match reduce(part, heard) {
            Reduced::False => Reduced::False,
            _ => Reduced::Other,
        },
        // It may last from before.
        Condition::Lasting(_, part) => match reduce(part, heard) {
            Reduced::False => Reduced::Other,
            reduced => reduced,
        },
    }
}

/// A sum of log-odds comes down to "any of" if each piece of evidence that is open would be enough by itself, and to
/// nothing if all together would not be.
fn summed(sum: &LogOdds, heard: Heard) -> Reduced {
    let (mut certain, mut gains, mut mask) = (sum.prior, Vec::new(), 0);
    for evidence in &sum.of {
        if !is_heard(detectors_of(&evidence.when), heard.silent) {
            continue;
        }
        let (with, without) = evidence.weights();
        match reduce(&evidence.when, heard) {
            Reduced::True => certain += with,
            Reduced::False => certain += without,
            // While the detectors are off.
            Reduced::Any(detectors) => {
                certain += without;
                gains.push(with - without);
                mask |= detectors;
            }
            Reduced::Other => return Reduced::Other,
        }
    }
    let most: f64 = gains.iter().map(|gain| gain.max(0.0)).sum();
    if certain + most < sum.at_least {
        Reduced::False
    } else if gains.is_empty() {
        Reduced::True
    } else if certain < sum.at_least && gains.iter().all(|gain| certain + gain >= sum.at_least) {
        Reduced::Any(mask)
    } else {
        Reduced::Other
    }
}

fn at_least(least: usize, parts: &[Condition], heard: Heard) -> Reduced {
    let (mut wanted, mut mask, mut open, mut other) = (least, 0_u64, 0, false);
    for part in parts {
        match reduce(part, heard) {
            Reduced::True => wanted = wanted.saturating_sub(1),
            Reduced::False => {}
            Reduced::Any(detectors) => {
                open += 1;
                mask |= detectors;
            }
            Reduced::Other => {
                open += 1;
                other = true;
            }
        }
    }
    if wanted == 0 {
        Reduced::True
    } else if open < wanted {
        Reduced::False
    } else if wanted == 1 && !other {
        Reduced::Any(mask)
    } else {
        Reduced::Other
    }
}

/// The detectors that listen to messages, as bits: all silent where none comes.
pub fn silent_messages(scenario: &Scenario) -> u64 {
    scenario.detectors_that(|it| matches!(scenario.sensors[it.sensor].kind, SensorKind::Status { .. }))
}

/// Whether the noise of all sensors of these detectors is independent from sample to sample: the programme over samples is
/// for such noise only. (A single approach can be worked out with noise that remembers, too, but that takes far too long
/// for every arrival of a season: see [`super::approach`].)
pub fn independent(scenario: &Scenario, detectors: u64) -> bool {
    (0..scenario.detectors.len())
        .filter(|d| detectors >> d & 1 == 1)
        .all(|d| scenario.sensors[scenario.detectors[d].sensor].errors.noise_correlation <= 0.0)
}

/// What a strategy needs to be watched.
#[derive(Clone, Debug)]
pub struct WatchPlan {
    /// Detectors of status, clock, rain gauge and load, as bits.
    known: u64,
    /// The detectors that are made of hits.
    chains: Vec<Chained>,
}

/// A detector that is made of hits.
#[derive(Clone, Debug)]
struct Chained {
    detector: usize,
    usual: QuietChain,
    /// With the run rule of rainy weather, where the strategy has one.
    shorter: Option<QuietChain>,
}

impl Chained {
    fn of(&self, short: bool) -> &QuietChain {
        self.shorter.as_ref().filter(|_| short).unwrap_or(&self.usual)
    }
}

impl WatchPlan {
    /// Makes ready; `shortens` says that the strategy has a rule that shortens its run rules.
    pub fn new(scenario: &Scenario, open_detectors: u64, shortens: bool) -> WatchPlan {
        let (mut known, mut chains) = (0, Vec::new());
        for (index, detector) in scenario.detectors.iter().enumerate().filter(|(d, _)| open_detectors >> d & 1 == 1) {
            let sensor = &scenario.sensors[detector.sensor];
            match sensor.kind {
                // A platform feels the water that an open door lets in; that of an approach's seconds can't carry it over
                // its level, unless it lay there before.
                SensorKind::Status { .. }
                | SensorKind::Clock { .. }
                | SensorKind::RainGauge
                | SensorKind::PlatformLoad { .. } => known |= 1 << index,
                // These sense the door, which would be shut if nobody asked and is not if somebody does.
                SensorKind::Tilt { .. } | SensorKind::EndSwitch { .. } => {}
                _ if sensor.kind.looks_through_door(scenario.door.height_m) => {}
                SensorKind::OpticalRange { .. }
                | SensorKind::PhotonRange { .. }
                | SensorKind::UltrasonicRange { .. }
                | SensorKind::BreakBeam { .. } => {
                    let chain = |detector: &Detector| QuietChain::new(detector, sensor.errors.resolution);
                    let shorter = shortens.then(|| Detector { rule: detector.rule.shortened(), ..detector.clone() });
                    let chained = chain(detector).map(|usual| Chained {
                        detector: index,
                        usual,
                        shorter: shorter.as_ref().and_then(chain),
                    });
                    // Without a chain for both there is none.
                    chains.extend(chained.filter(|it| it.shorter.is_some() == shortens));
                }
            }
        }
        WatchPlan { known, chains }
    }

    /// Detectors of status, clock, rain gauge and load, as bits.
    pub fn known(&self) -> u64 {
        self.known
    }

    /// The chain of a detector, if it has one: by its own run rule, or by that of rainy weather.
    pub fn chain(&self, detector: usize, short: bool) -> Option<&QuietChain> {
        self.chains.iter().find(|chained| chained.detector == detector).map(|chained| chained.of(short))
    }

    /// Whether all of these detectors have chains, and sensors of their own.
    pub fn covers(&self, scenario: &Scenario, detectors: u64) -> bool {
        let mut sensors = 0_u64;
        (0..64).filter(|d| detectors >> d & 1 == 1).all(|d: usize| {
            let sensor = 1 << scenario.detectors[d].sensor;
            let own = sensors & sensor == 0;
            sensors |= sensor;
            own && self.chains.iter().any(|chained| chained.detector == d)
        })
    }

    /// Whether there is any state of status and clock in which approaches can be worked out.
    pub fn serves(&self, scenario: &Scenario, open: &Condition) -> bool {
        let known: Vec<usize> = (0..64).filter(|d| self.known >> d & 1 == 1).collect();
        // Beyond ten such detectors not every state is tried.
        (0_u64..1 << known.len().min(10)).any(|choice| {
            let on = known.iter().enumerate().fold(0, |on, (place, d)| on | (choice >> place & 1) << d);
            match reduce(open, Heard { known: self.known, on, silent: 0 }) {
                Reduced::Any(detectors) => self.covers(scenario, detectors),
                Reduced::False => true,
                Reduced::True | Reduced::Other => false,
            }
        })
    }
}

/// One detector on the watch.
#[derive(Clone, Debug, Default)]
struct Watched {
    sense: usize,
    chain: usize,
    /// First sample not yet worked in.
    next: i64,
    /// First sample that comes too late.
    end: i64,
    mass: Mass,
    /// Laws of samples that were drawn or worked out since the last event, by number (one may come again after later ones, with the
    /// same law): the programme needs them again.
    drawn: Vec<(i64, Law)>,
}

/// The watch over the present approach.
#[derive(Clone, Debug, Default)]
pub struct Watch {
    plain: bool,
    /// What held when the drive to the door began.
    outset: Option<Outset>,
    /// Whether the run rules are those of rainy weather.
    short: bool,
    asked: bool,
    detectors: u64,
    watched: Vec<Watched>,
    count: usize,
    /// 0 once it can be called certain that somebody asks.
    unnoticed: f64,
}

impl Watch {
    /// Where the laws of sensor `index` are kept that were worked out since the last event, if it is watched.
    pub fn laws_of(&mut self, index: usize) -> Option<&mut Vec<(i64, Law)>> {
        let count = if self.plain { self.count } else { 0 };
        self.watched[..count].iter_mut().find(|watched| watched.sense == index).map(|watched| &mut watched.drawn)
    }
}

/// Stretches over which a bound is asked, samples.
const STRETCHES: [i64; 3] = [96, 24, SHORTEST_STRETCH];
/// A probability below this is not followed further: a mean of one in 10^9 arrivals errs by less than a millionth of itself.
const NEVER: f64 = 1e-15;
/// A state with less probability than this is given up: even a thousand states along a hundred samples would not show.
const NEGLIGIBLE_STATE: f64 = 1e-21;
/// Where no bound is of use, so many samples are worked in before another is asked for.
const BETWEEN_BOUNDS: i64 = 6;

impl Season<'_> {
    /// The drive to the door begins; `arrives` is when the nose will be at the waiting point.
    pub fn watch_begins(&mut self, arrives: Instant) {
        self.watch.plain = false;
        self.watch.asked = false;
        self.watch.outset = Some(Outset { sky: self.sky, short: self.short_rule });
        self.watch.short = self.short_rule;
        let plan: &Plan = self.plan;
        let strategy: &StrategyPlan = self.strategy;
        let Some(watch_plan) = &strategy.watch else { return };
        let undisturbed = self.controller.state() == State::Shut
            && self.door.is_shut()
            && !self.rules[0].value()
            && self.powered
            && !self.health.any_lost()
            && !self.controller.rangers_dispute()
            && !self.falls_back()
            && !self.health.may_change(self.now, arrives)
            && self.guests_here().next().is_none()
            && !self.disturbed_before(arrives);
        if !undisturbed {
            return;
        }
        let open = &plan.scenario.strategies[strategy.index].open;
        let heard = Heard { known: watch_plan.known, on: self.heard, silent: self.silent_detectors() };
        let detectors = match reduce(open, heard) {
            Reduced::Any(detectors) if watch_plan.covers(&plan.scenario, detectors) => detectors,
            Reduced::False => 0,
            Reduced::Any(_) | Reduced::True | Reduced::Other => return,
        };
        if !independent(&plan.scenario, detectors) {
            return;
        }
        self.watch.detectors = detectors;
        self.watch.count = 0;
        self.watch.unnoticed = 1.0;
        for detector in (0..64).filter(|d| detectors >> d & 1 == 1) {
            let sensor = plan.scenario.detectors[detector].sensor;
            let place = self.senses.iter().position(|sense| sense.sensor == sensor);
            let chain = watch_plan.chains.iter().position(|chained| chained.detector == detector);
            let (Some(sense), Some(chain)) = (place, chain) else { return };
            let Some(state) = self.senses[sense].detectors.iter().position(|other| *other == detector) else { return };
            self.channels[sense].remember_all(self.now);
            let evidence = self.channels[sense].evidence(state);
            if self.heard >> detector & 1 == 1 {
                return;
            }
            let Some(evidence) = evidence else { return };
            if self.watch.watched.len() == self.watch.count {
                self.watch.watched.push(Watched::default());
            }
            let latency = plan.scenario.sensors[sensor].latency;
            let watched = &mut self.watch.watched[self.watch.count];
            (watched.sense, watched.chain) = (sense, chain);
            watched.drawn.clear();
            watched.next = self.channels[sense].first_sample(self.now);
            watched.end = self.channels[sense].first_sample(arrives - latency);
            if !watch_plan.chains[chain].of(self.watch.short).start(evidence, &mut watched.mass) {
                return;
            }
            self.watch.count += 1;
        }
        self.watch.plain = true;
    }

    /// Whether a visit begins, or a fault begins, ends or is noticed, before `arrives`.
    fn disturbed_before(&self, arrives: Instant) -> bool {
        let dead_after = self.plan.scenario.strategies[self.strategy.index].controller.dead_after;
        let within = |at: Instant| at > self.now && at <= arrives;
        let visits = &self.outside.visits;
        let first = visits.partition_point(|visit| visit.at < self.now);
        let comes = |index: usize| {
            let visit = &visits[index];
            let begins = super::guests::begins(visit, self.plan.scenario.visitors[visit.visitor].speed_m_s);
            begins <= arrives
        };
        // A visit is listed by its nearest moment and begins at most ten minutes before.
        let horizon = arrives + Span::from_seconds(600.0);
        (first..visits.len()).take_while(|index| visits[*index].at <= horizon).any(comes)
            || self
                .outside
                .outages
                .iter()
                .take_while(|outage| outage.from <= arrives)
                .any(|outage| within(outage.from) || within(outage.to) || within(outage.from + dead_after))
            || self
                .outside
                .episodes
                .iter()
                .take_while(|episode| episode.from <= arrives)
                .any(|episode| within(episode.from) || within(episode.to))
    }

    /// Keeps the law of a sample of sensor `index` that was just drawn.
    pub fn watch_draws(&mut self, index: usize) {
        if let (Some(laws), Some(drawn)) = (self.watch.laws_of(index), self.channels[index].just_drawn()) {
            laws.push(drawn);
        }
    }

    /// Sensor `index` has another law from now on: what was worked out ahead no longer holds.
    pub fn watch_learns(&mut self, index: usize) {
        if let Some(laws) = self.watch.laws_of(index) {
            let first = self.channels[index].first_sample(self.now);
            laws.retain(|(sample, _)| *sample < first);
        }
    }

    /// Works in the samples before `now`, while everything is still as it was. To be called before anything changes.
    pub fn watch_on(&mut self, now: Instant) {
        if !self.watch.plain {
            return;
        }
        // Taken out while the season that it is part of is asked.
        let mut watch = std::mem::take(&mut self.watch);
        let Watch { watched, count, unnoticed, short, .. } = &mut watch;
        for watched in &mut watched[..*count] {
            self.work_in(watched, *short, now);
            if watched.mass.total() <= NEVER {
                // Surely noticed: the others don't matter any more.
                *count = 0;
                *unnoticed = 0.0;
                break;
            }
        }
        self.watch = watch;
    }

    fn work_in(&self, watched: &mut Watched, short: bool, now: Instant) {
        let Some(plan) = &self.strategy.watch else { return };
        let chain = plan.chains[watched.chain].of(short);
        let channel = &self.channels[watched.sense];
        let end = channel.first_sample(now).min(watched.end);
        let quiet = chain.quiet();
        let moving = channel.is_moving();
        let sense = watched.sense;
        let mut drawn = std::mem::take(&mut watched.drawn);
        let mut known = drawn.iter().peekable();
        let mut law_at = |sample: i64| {
            while known.next_if(|(other, _)| *other < sample).is_some() {}
            match known.peek() {
                Some((other, law)) if *other == sample => {
                    debug_assert_eq!(
                        *law,
                        self.law_of(sense, channel.time_of(sample)),
                        "the law of {sample} was another"
                    );
                    *law
                }
                _ => self.law_of(sense, channel.time_of(sample)),
            }
        };
        let still = if moving { chain.odds(&Law::SILENT) } else { chain.odds(&law_at(watched.next)) };
        let mut total = watched.mass.total();
        let mut next_bound = watched.next;
        let mut latest = 0.0;
        while watched.next < end && total > NEVER {
            if watched.next >= next_bound && latest < chain.worth_a_bound_below() {
                // Pass over what can hardly matter, but for the samples that the state then depends on.
                let (from, mut to) = (watched.next, watched.next);
                while to < end {
                    let left = end - to;
                    let passed = if moving {
                        let guess = self.undisturbed(watched.sense, channel.time_of(to), &quiet);
                        let guess = guess.map_or(0, |span| channel.samples_in(span) * 7 / 8).min(left);
                        let first = (to == from && guess > STRETCHES[0]).then_some(guess);
                        first.into_iter().chain(STRETCHES).map(|stretch| stretch.min(left)).find(|stretch| {
                            let (a, b) = (channel.time_of(to), channel.time_of(to + stretch));
                            let hit = self.bound_of(watched.sense, a, b, &quiet);
                            chain.may_pass_over(hit, *stretch, &watched.mass)
                        })
                    } else {
                        Some(left).filter(|left| chain.may_pass_over(still.hit, *left, &watched.mass))
                    };
                    let Some(passed) = passed else { break };
                    to += passed;
                }
                if to - chain.reach() > from {
                    chain.forget(&mut watched.mass);
                    watched.next = to - chain.reach();
                }
                next_bound = to.max(from) + BETWEEN_BOUNDS;
                if watched.next >= end {
                    break;
                }
            }
            let odds = if moving { chain.odds(&law_at(watched.next)) } else { still };
            latest = odds.hit;
            chain.step(odds, &mut watched.mass, NEGLIGIBLE_STATE);
            watched.next += 1;
            total = watched.mass.total();
        }
        watched.next = watched.next.max(end);
        drawn.clear();
        watched.drawn = drawn;
    }

    /// Something changed that is no noise and that the working out does not know of: this arrival counts as it turns out.
    pub fn watch_disturbed(&mut self) {
        self.watch.plain = false;
    }

    /// A detector was heard.
    pub fn watch_hears(&mut self, detector: usize, on: bool) {
        if self.watch.plain {
            if self.watch.detectors >> detector & 1 == 1 {
                self.watch.asked |= on;
            } else if self.strategy.watch.as_ref().is_some_and(|plan| plan.known >> detector & 1 == 1) {
                self.watch.plain = false;
            }
        }
    }

    /// The nose is at the waiting point: books the expected misses of this arrival.
    pub fn watch_ends(&mut self, missed: bool) {
        if let (Some(outsets), Some(outset)) = (&mut self.outsets, self.watch.outset.take()) {
            outsets.push(outset);
        }
        let counted = f64::from(u8::from(missed));
        let common = self.plan.scenario.common_cause;
        let (expected, floored) = if self.watch.plain {
            let watched = &self.watch.watched[..self.watch.count];
            let stayed_off = || watched.iter().map(|watched| watched.mass.total());
            let unnoticed = self.watch.unnoticed * stayed_off().product::<f64>();
            // The beta-factor model is one of rare misses: of sensors that hardly see it would make a better pair than two
            // that share nothing.
            let together = (self.watch.unnoticed * missed_together(stayed_off(), common.beta)).max(unnoticed);
            self.book.count(Key::ArrivalsIntegrated);
            let after_all = if self.watch.asked { counted } else { 0.0 };
            (unnoticed + after_all, together.max(common.floor) + after_all)
        } else {
            (counted, counted.max(common.floor))
        };
        self.book.add(Key::MissedArrivalsExpected, expected);
        // The part that is known and the part that is counted may come to more than 1 for one arrival, here as above: only
        // their mean means anything, and a cap would bias it.
        self.book.add(Key::MissedArrivalsFloored, floored);
        self.watch.plain = false;
    }
}
