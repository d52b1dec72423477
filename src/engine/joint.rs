//! An open rule taken apart: which of its detectors have to be followed together along an approach, and the states they can be in
//! together.
//!
//! A rule that any of several conditions fulfils goes unnoticed when all of them do; where they rest on different sensors, their
//! chances multiply. What asks for several detectors at once, or for detectors that share a sensor, is followed as one chain: its
//! state is that of every detector, [`Automaton`] by automaton, and the mass in all states in which the rule does not hold is the
//! chance of having gone unnoticed. Where a rule over one sensor must hold `for` a time, the samples that it has held for so far are part of
//! the state.

use thiserror::Error;

use super::particles::Followed;
use super::watch::{Heard, Reduced, WatchPlan, independent, reduce, silent_messages};
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::{BuiltIn, Condition, Detector};
use crate::sensing::automaton::{Automaton, Odds, ROUGHLY};
use crate::sensing::law::Law;
use crate::sensing::statistic::{Frame, fades_after};
use crate::shelter::condition::{Evaluator, detectors_of};

/// Samples are as at rest while what moves the detectors differs by less than this share of itself and this much.
const ALIKE: f64 = 1e-3;
const UNSEEN: f64 = 1e-13;

/// Most states of detectors that are followed together.
const STATES_MAX: usize = 40_000;

/// How many times finer than the widest the steps of sums are.
const FINENESS: u32 = 3;

/// What of the mass is less than this share of it is not followed: where a chance is worked out, and where it only shows where to look.
const NEGLIGIBLE: f64 = 1e-20;
const ROUGHLY_NEGLIGIBLE: f64 = 1e-12;

/// Why the approaches of a strategy can't be worked out.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NotWorkedOut {
    /// The rule holds with nobody there.
    #[error("its open rule holds with nobody there")]
    Always,
    /// No detector at the door is enough.
    #[error("its open rule can't hold without a message, a clock or a load")]
    NoSensor,
    /// It senses the door, which would be shut if nobody asked, or may do so.
    #[error("detector `{0}` has a tilt sensor or an end switch, or looks through the door")]
    Door(String),
    /// Too many drifts to average over.
    #[error("more than three of its sensors have a `random_drift`")]
    Drifts,
    /// No arrival.
    #[error("nothing arrived in these seasons")]
    NoArrival,
}

/// Detectors of one sensor that are followed together.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// The sensor.
    pub sensor: usize,
    /// Its detectors, by index, ascending.
    pub detectors: Vec<usize>,
}

impl Part {
    /// Samples after which what was seen before has faded from its detectors: from what they compute, and from their being on.
    pub fn fades_after(&self, scenario: &Scenario) -> usize {
        let frame = Frame::of(&scenario.sensors[self.sensor]);
        let detectors = self.detectors.iter().map(|detector| &scenario.detectors[*detector]);
        let each = detectors.map(|it| fades_after(it, &frame, f64::INFINITY) + it.release.n);
        each.max().unwrap_or_default()
    }
}

/// Detectors that are followed together, and no others need be.
#[derive(Clone, Debug)]
pub(super) enum Group {
    /// One detector that is made of hits, for which the watch has a chain.
    Alone(usize),
    /// Several, or one that keeps a sum, by a chain of all their states.
    Joint(Box<Joint>),
    /// Any others, by particles.
    Followed(Box<Followed>),
}

/// Several detectors that are followed together.
#[derive(Clone, Debug)]
pub(super) struct Joint {
    pub parts: Vec<Part>,
    /// By their usual run rules, and by those of rainy weather, where there are such.
    usual: Chains,
    short: Option<Chains>,
    /// Samples of each part with nobody there after which it no longer matters how it began.
    pub settles_after: Vec<usize>,
}

/// The chains of detectors with one set of run rules.
#[derive(Clone, Debug)]
struct Chains {
    /// The finest first, with wider steps only if it is not exact.
    products: Vec<Product>,
    /// The same with the widest steps, to look where chances are large; none without sums.
    rough: Option<Product>,
}

/// The states of several automata together.
#[derive(Clone, Debug)]
pub(super) struct Product {
    automata: Vec<Automaton>,
    /// States of each automaton lie so far apart.
    strides: Vec<usize>,
    /// Whether the rule holds in each state of all.
    asks: Vec<bool>,
    held: Option<Held>,
}

/// What must hold for a time: there are as many layers of states as samples that it may have held for.
#[derive(Clone, Debug)]
struct Held {
    /// Whether it holds in each state of a layer.
    holds: Vec<bool>,
    /// So many samples in a row at which it holds, and it is over before the next.
    samples: usize,
    time: Span,
}

impl Held {
    /// The state that one that was entered with a sample counts as: one layer up if it holds, over if it `ripens`, or at the bottom.
    fn next(&self, entered: usize, ripens: bool) -> usize {
        let count = self.holds.len();
        let (layer, state) = (entered / count, entered % count);
        if !self.holds[state] {
            state
        } else if layer + 1 < self.samples {
            state + (layer + 1) * count
        } else if ripens {
            count * self.samples
        } else {
            entered
        }
    }
}

/// Rules any of which is enough.
struct Asks {
    at_once: Vec<Evaluator>,
    /// One that must hold for a time.
    held: Option<(Evaluator, Span)>,
}

impl Asks {
    /// Those of these rules; none if more than one of them must hold for a time, or waits or lasts otherwise.
    fn of(rules: &[Condition], silent: u64) -> Option<Asks> {
        let mut asks = Asks { at_once: Vec::new(), held: None };
        for rule in rules {
            match rule {
                Condition::For(time, rule) if !has_duration(rule) && asks.held.is_none() => {
                    asks.held = Some((silenced(rule, silent), *time));
                }
                rule if !has_duration(rule) => asks.at_once.push(silenced(rule, silent)),
                _ => return None,
            }
        }
        Some(asks)
    }

    fn at_once(&self, on: u64) -> bool {
        self.at_once.iter().any(|rule| rule.rests_on(on))
    }
}

/// A rule ready to be asked, with those of its detectors that have nothing to say.
pub(super) fn silenced(rule: &Condition, silent: u64) -> Evaluator {
    let mut rule = Evaluator::new(rule);
    rule.heed_silent(silent);
    rule
}

/// The law of the detectors' state while nobody asks.
#[derive(Clone, Debug)]
pub(super) struct JointMass {
    of: Vec<f64>,
    /// The states that hold some of it: few of all that there are.
    held: Vec<usize>,
    /// The same after a sample; empty between two.
    room: Vec<f64>,
    reached: Vec<usize>,
    /// Less than this share of it in one state is not followed.
    negligible: f64,
    /// Of each part.
    odds: Vec<Odds>,
    total: f64,
}

/// How detectors are followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum By {
    /// By chains where they have them and their noise does not remember: over all its values that would take far too long for thousands of
    /// approaches.
    Usual,
    /// By chains wherever they have them.
    Integration,
    /// By particles.
    Particles,
}

/// The detectors of an open rule that are followed together, group by group, in order of their first.
///
/// # Errors
/// If there is no way to follow them.
pub(super) fn groups(
    scenario: &Scenario,
    strategy: usize,
    watch: &WatchPlan,
    by: By,
) -> Result<Vec<Group>, NotWorkedOut> {
    let rule = &scenario.strategies[strategy].open;
    let heard = Heard { known: watch.known(), on: 0, silent: silent_messages(scenario) };
    let mut alternatives = Vec::new();
    gather(rule, heard, &mut alternatives)?;
    if alternatives.is_empty() {
        return Err(NotWorkedOut::NoSensor);
    }
    let chains = (by != By::Particles).then_some(watch);
    let mut groups = together(scenario, heard, alternatives)
        .into_iter()
        .map(|(detectors, rules)| Ok((detectors, group(scenario, strategy, (by, chains), (heard, detectors), &rules)?)))
        .collect::<Result<Vec<_>, _>>()?;
    groups.sort_by_key(|(detectors, _)| detectors.trailing_zeros());
    Ok(groups.into_iter().map(|(_, group)| group).collect())
}

/// The conditions any of which is enough, with what is known filled in; those that can't hold are left out.
fn gather(rule: &Condition, heard: Heard, into: &mut Vec<Condition>) -> Result<(), NotWorkedOut> {
    match reduce(rule, heard) {
        Reduced::True => return Err(NotWorkedOut::Always),
        Reduced::False => {}
        Reduced::Any(detectors) => {
            into.extend((0..64).filter(|d| detectors >> d & 1 == 1).map(Condition::Detector));
        }
        Reduced::Other => match rule {
            Condition::Any(parts) | Condition::AtLeast(1, parts) => {
                return parts.iter().try_for_each(|part| gather(part, heard, into));
            }
            // It waits for what is known, or lasts from it.
            _ if detectors_of(rule) & !heard.known == 0 => {
                if silenced(rule, heard.silent).rests_on(heard.on) {
                    return Err(NotWorkedOut::Always);
                }
            }
            _ => into.push(rule.clone()),
        },
    }
    Ok(())
}

/// For how long a condition may wait, or last, from what its detectors said before.
pub(super) fn duration(condition: &Condition) -> Span {
    let longest = |parts: &[Condition]| parts.iter().map(duration).max().unwrap_or(Span::ZERO);
    match condition {
        Condition::Detector(_) | Condition::BuiltIn(_) => Span::ZERO,
        Condition::Any(parts) | Condition::All(parts) | Condition::AtLeast(_, parts) => longest(parts),
        Condition::LogOdds(sum) => sum.of.iter().map(|evidence| duration(&evidence.when)).max().unwrap_or(Span::ZERO),
        Condition::Not(part) => duration(part),
        Condition::For(span, part) | Condition::Lasting(span, part) => *span + duration(part),
    }
}

/// Whether a condition waits or lasts for a time.
pub(super) fn has_duration(condition: &Condition) -> bool {
    match condition {
        Condition::Detector(_) | Condition::BuiltIn(BuiltIn::Always | BuiltIn::Never) => false,
        Condition::Any(parts) | Condition::All(parts) | Condition::AtLeast(_, parts) => parts.iter().any(has_duration),
        Condition::LogOdds(sum) => sum.of.iter().any(|evidence| has_duration(&evidence.when)),
        Condition::Not(part) => has_duration(part),
        Condition::For(..) | Condition::Lasting(..) => true,
    }
}

/// Alternatives that share a sensor, together, each with the detectors at the door that they name.
fn together(scenario: &Scenario, heard: Heard, alternatives: Vec<Condition>) -> Vec<(u64, Vec<Condition>)> {
    let sensors = |detectors: u64| {
        let named = (0..scenario.detectors.len()).filter(|d| detectors >> d & 1 == 1);
        named.fold(0_u64, |bits, d| bits | 1 << scenario.detectors[d].sensor)
    };
    let mut found: Vec<(u64, Vec<Condition>)> = Vec::new();
    for rule in alternatives {
        let (mut detectors, mut rules) = (detectors_of(&rule) & !heard.known, vec![rule]);
        // Those with a sensor in common join it.
        while let Some(place) = found.iter().position(|(other, _)| sensors(*other) & sensors(detectors) != 0) {
            let (more, others) = found.swap_remove(place);
            detectors |= more;
            rules.extend(others);
        }
        found.push((detectors, rules));
    }
    found
}

fn group(
    scenario: &Scenario,
    strategy: usize,
    (by, chains): (By, Option<&WatchPlan>),
    (heard, detectors): (Heard, u64),
    rules: &[Condition],
) -> Result<Group, NotWorkedOut> {
    let remembers = !independent(scenario, detectors);
    let alone = by == By::Integration || !remembers;
    if alone && detectors.is_power_of_two() && chains.is_some_and(|it| it.covers(scenario, detectors)) {
        let alone = detectors.trailing_zeros() as usize;
        if rules.iter().all(|rule| *rule == Condition::Detector(alone)) {
            return Ok(Group::Alone(alone));
        }
    }
    let mut parts: Vec<Part> = Vec::new();
    for (index, detector) in scenario.detectors.iter().enumerate().filter(|(d, _)| detectors >> d & 1 == 1) {
        let kind = &scenario.sensors[detector.sensor].kind;
        if senses_door(kind) || kind.looks_through_door(scenario.door.height_m) {
            return Err(NotWorkedOut::Door(detector.name.clone()));
        }
        match parts.iter_mut().find(|part| part.sensor == detector.sensor) {
            Some(part) => part.detectors.push(index),
            None => parts.push(Part { sensor: detector.sensor, detectors: vec![index] }),
        }
    }
    if rules.iter().any(|rule| silenced(rule, heard.silent).rests_on(0)) {
        return Err(NotWorkedOut::Always);
    }
    let timed = rules.iter().any(has_duration);
    let chained = chains.is_some() && !remembers;
    // The samples of several sensors are no common clock.
    let asks = Asks::of(rules, heard.silent).filter(|asks| chained && (asks.held.is_none() || parts.len() == 1));
    let joint = asks.and_then(|asks| Joint::new(scenario, strategy, &parts, &asks));
    Ok(match joint {
        Some(joint) => Group::Joint(Box::new(joint)),
        None => Group::Followed(Box::new(Followed::new(scenario, parts, rules, timed, heard.silent))),
    })
}

impl Joint {
    /// The chains of detectors; none where they have none, or too large ones.
    fn new(scenario: &Scenario, strategy: usize, parts: &[Part], asks: &Asks) -> Option<Joint> {
        let keeps_sum = |detector: &usize| scenario.detectors[*detector].statistic.keeps_sum();
        let any_sum = parts.iter().any(|part| part.detectors.iter().any(keeps_sum));
        let chains = |shorter: bool| {
            let product = |fineness: u32| Product::new(scenario, parts, shorter, fineness, asks);
            let finest = product(FINENESS)?;
            let exact = finest.automata.iter().all(Automaton::is_exact);
            let wider = if exact { 1..1 } else { 1..FINENESS };
            let products = std::iter::once(Some(finest)).chain(wider.map(product)).collect::<Option<Vec<_>>>()?;
            let rough = if any_sum { Some(product(ROUGHLY)?) } else { None };
            Some(Chains { products, rough })
        };
        let short = if scenario.strategies[strategy].shortens() { Some(chains(true)?) } else { None };
        let usual = chains(false)?;
        let held = usual.products.iter().flat_map(|it| &it.held).map(|held| held.samples).max().unwrap_or_default();
        // Twice, for what noise sets off may be set off again before it has faded.
        let settles_after = parts.iter().map(|part| 2 * part.fades_after(scenario) + held).collect();
        Some(Joint { usual, short, settles_after, parts: parts.to_vec() })
    }
}

fn senses_door(kind: &SensorKind) -> bool {
    matches!(kind, SensorKind::Tilt { .. } | SensorKind::EndSwitch { .. })
}

/// These detectors as bits of the scenario's.
pub(super) fn bits_of(detectors: &[usize]) -> u64 {
    detectors.iter().fold(0, |bits, detector| bits | 1 << detector)
}

/// Those of these detectors that are on by their places in the list, as bits of the scenario's.
pub(super) fn named(detectors: &[usize], on: u64) -> u64 {
    detectors.iter().enumerate().fold(0, |bits, (place, detector)| bits | (on >> place & 1) << detector)
}

impl Joint {
    /// Its chains: one if it is exact, otherwise others with wider steps behind it.
    pub fn products(&self, short: bool) -> &[Product] {
        &self.chains(short).products
    }

    fn chains(&self, short: bool) -> &Chains {
        self.short.as_ref().filter(|_| short).unwrap_or(&self.usual)
    }

    /// A chain that shows where chances are large.
    pub fn rough(&self, short: bool) -> Option<&Product> {
        let Chains { products, rough } = self.chains(short);
        rough.as_ref().or(products.first())
    }
}

impl Product {
    fn new(scenario: &Scenario, parts: &[Part], shorter: bool, fineness: u32, asks: &Asks) -> Option<Product> {
        let alone = parts.len() == 1;
        let automaton = |part: &Part| {
            let sensor = &scenario.sensors[part.sensor];
            let detectors: Vec<&Detector> = part.detectors.iter().map(|d| &scenario.detectors[*d]).collect();
            let ends = |on: u64| alone && asks.at_once(named(&part.detectors, on));
            Automaton::new(&detectors, &Frame::of(sensor), shorter, fineness, ends).ok()
        };
        let automata = parts.iter().map(automaton).collect::<Option<Vec<_>>>()?;
        let mut strides = Vec::new();
        let mut count = 1_usize;
        for automaton in &automata {
            strides.push(count);
            count *= automaton.states();
            if count > STATES_MAX {
                return None;
            }
        }
        let on = |state: usize| {
            let each = parts.iter().zip(&automata).zip(&strides);
            each.fold(0, |bits, ((part, it), stride)| {
                bits | named(&part.detectors, it.on(state / stride % it.states()))
            })
        };
        let at_once = (0..count).map(|state| asks.at_once(on(state))).collect();
        let held = asks.held.as_ref().map(|(rule, time)| {
            let period = parts.iter().map(|part| scenario.sensors[part.sensor].period.0).max().unwrap_or(1);
            let samples = (time.0 + period - 1).div_euclid(period).max(1) as usize;
            Held { holds: (0..count).map(|state| rule.rests_on(on(state))).collect(), samples, time: *time }
        });
        let layers = held.as_ref().map_or(1, |held| held.samples);
        (count.saturating_mul(layers) <= STATES_MAX).then_some(Product { automata, strides, asks: at_once, held })
    }

    /// All detectors off, and nothing seen.
    pub fn start(&self, roughly: bool) -> JointMass {
        // One more for what has held for long enough.
        let mut of = vec![0.0; self.states() + 1];
        of[0] = 1.0;
        let room = vec![0.0; of.len()];
        let odds = vec![Odds::default(); self.automata.len()];
        let negligible = if roughly { ROUGHLY_NEGLIGIBLE } else { NEGLIGIBLE };
        JointMass { of, held: vec![0], room, reached: Vec::new(), negligible, odds, total: 1.0 }
    }

    fn states(&self) -> usize {
        self.asks.len() * self.held.as_ref().map_or(1, |held| held.samples)
    }

    /// Whether what has held for long enough by the next sample after `heard` asks before the mower arrives.
    pub fn ripens(&self, heard: Instant, period: Span, arrives: Instant) -> bool {
        let since = |held: &Held| heard - Span(period.0 * (held.samples as i64 - 1));
        self.held.as_ref().is_none_or(|held| since(held) + held.time <= arrives)
    }

    /// One sample of a part; the share of the mass that asks with it, what has held for long enough among it if that `ripens`.
    pub fn step(&self, part: usize, law: &Law, ripens: bool, mass: &mut JointMass) -> f64 {
        let (automaton, stride) = (&self.automata[part], self.strides[part]);
        let JointMass { of, held, room, reached, negligible, odds, total } = mass;
        let odds = &mut odds[part];
        automaton.odds(law, odds);
        let negligible = *negligible * *total;
        for state in held.drain(..) {
            let from = std::mem::take(&mut of[state]);
            if from <= negligible {
                continue;
            }
            let own = state / stride % automaton.states();
            let base = state - own * stride;
            automaton.pass(own, from, odds, |to, mass| {
                let place = base + to * stride;
                let place = self.held.as_ref().map_or(place, |held| held.next(place, ripens));
                if room[place] == 0.0 && mass > 0.0 {
                    reached.push(place);
                }
                room[place] += mass;
            });
        }
        let (mut asked, mut stayed) = (0.0, 0.0);
        let last = self.states();
        reached.retain(|state| {
            let asks = *state >= last || self.asks[*state % self.asks.len()];
            *(if asks { &mut asked } else { &mut stayed }) += room[*state];
            if asks {
                room[*state] = 0.0;
            }
            !asks
        });
        std::mem::swap(of, room);
        std::mem::swap(held, reached);
        let share = if *total > 0.0 { asked / *total } else { 0.0 };
        *total = stayed;
        share
    }

    /// What tells of each part whether it sees somebody.
    pub fn rest(&self, part: usize, law: &Law, mass: &JointMass) -> Rest {
        let (automaton, stride) = (&self.automata[part], self.strides[part]);
        let likeliest = mass.of.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(state, _)| state);
        let state = likeliest / stride % automaton.states();
        let mut odds = Odds::default();
        automaton.odds(law, &mut odds);
        Rest { moves: automaton.moved_by(state).collect(), odds }
    }

    /// Whether a sample of a part under `law` is any other than at rest.
    pub fn sees(&self, part: usize, law: &Law, rest: &Rest, odds: &mut Odds) -> bool {
        self.automata[part].odds(law, odds);
        let [now, before] = [odds.of(), rest.odds.of()];
        let (mut apart, mut at_rest) = (0.0, 0.0);
        for kind in &rest.moves {
            apart += libm::fabs(now[*kind] - before[*kind]);
            at_rest += before[*kind];
        }
        apart > ALIKE * at_rest + UNSEEN
    }
}

/// What a sample of a part is with nobody there.
pub(super) struct Rest {
    /// The kinds of readings that move the likeliest state.
    moves: Vec<usize>,
    odds: Odds,
}

impl JointMass {
    /// The probability that nobody has asked.
    pub fn total(&self) -> f64 {
        self.total
    }

    /// Counts from now on: given that nobody has asked.
    pub fn begin(&mut self) {
        let total = self.total;
        if total > 0.0 {
            self.of.iter_mut().for_each(|mass| *mass /= total);
            self.total = 1.0;
        }
    }

    /// That many samples went by, each of which this share of the mass asks with.
    pub fn wait(&mut self, samples: i64, share: f64) {
        let left = libm::exp(samples as f64 * libm::log1p(-share.min(1.0)));
        self.of.iter_mut().for_each(|mass| *mass *= left);
        self.total *= left;
    }
}
