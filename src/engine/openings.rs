//! How often noise alone opens the door, from the laws of the sensors' readings: however rarely it does.
//!
//! With nobody there the detectors of different sensors go on and off independently of each other. How often a rule comes to hold is
//! then a sum over their changes: how often each comes, times the chance that the others are such that the rule holds after it and did
//! not before, over the share of time at which it does not hold (the frequency of a system's failure; Birnbaum, "On the importance of
//! different components in a multicomponent system", 1969; Barlow & Proschan, Statistical Theory of Reliability and Life Testing, 1975,
//! chapter 7). What messages, clocks, switches, tilt sensors and rain gauges say, and what sensors say that fail or see somebody, is
//! taken as it is at the moment.

use arrayvec::ArrayVec;
use thiserror::Error;

use super::drift::Looked;
use super::joint::{bits_of, has_duration, named};
use super::season::Season;
use crate::ledger::metric::Key;
use crate::scenario::Scenario;
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::Detector;
use crate::sensing::at_rest::{AtRest, Settled};
use crate::sensing::false_runs::{Cycle, FalseRuns};
use crate::sensing::law::Law;
use crate::shelter::condition::detectors_of;
use crate::shelter::controller::State;
use crate::shelter::mechanism::Direction;

/// Most detectors whose noise is followed in one rule: all sets of them are gone through.
const DETECTORS_MAX: u32 = 10;

/// What the openings of a strategy by noise alone need.
#[derive(Clone, Debug)]
pub struct NoisePlan {
    parts: Vec<Part>,
    /// Whether working it out takes long, compared with others.
    pub slow: bool,
}

/// Detectors of one sensor.
#[derive(Clone, Debug)]
struct Part {
    /// The sensor's place among those of the strategy.
    place: usize,
    /// Its detectors of the opening rule, by their indices in the scenario, and as bits.
    detectors: Vec<usize>,
    bits: u64,
    /// Where there is more than one: with their run rules and, where rain shortens these, with one sample less.
    together: Vec<AtRest>,
}

/// What was worked out last, and room to work in.
#[derive(Clone, Debug, Default)]
pub struct Noise {
    /// Of each part with more than one detector: by what laws, whether with one sample less, and what.
    together: Vec<Option<([Law; 2], bool, Settled)>>,
    /// Of the parts that noise moves at the moment.
    parts: Vec<Settled>,
}

/// Why the openings of a strategy by noise alone can't be worked out.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NoNoise {
    /// There is a `for` or a `lasting` in it.
    #[error("the {0} rule waits or lasts for a time")]
    Duration(&'static str),
    /// Rangers that contradict each other open, too.
    #[error("rangers that contradict each other for `disagreement_after` open, too")]
    Disagreement,
    /// No law of its changes is known.
    #[error("detector `{0}` remembers too much, or noise that remembers")]
    Remembers(String),
    /// Nor of the detectors of a sensor together.
    #[error("the detectors of sensor `{0}` remember too much together, or readings, or noise that remembers")]
    Together(String),
    /// Too many.
    #[error("it asks more than {DETECTORS_MAX} detectors that noise moves")]
    Many,
}

impl NoisePlan {
    /// Of the strategy of this number, whose sensors are these, each with its detectors, and with these rangers, each as its detectors.
    ///
    /// # Errors
    /// If it can't be worked out: see [`NoNoise`].
    pub fn new(
        scenario: &Scenario,
        strategy: usize,
        rangers: &[u64],
        open_detectors: u64,
        sensors: &[(usize, Vec<usize>)],
        false_runs: &[[Option<FalseRuns>; 2]],
    ) -> Result<NoisePlan, NoNoise> {
        let spec = &scenario.strategies[strategy];
        let care = &spec.controller.care;
        // While the sensors inside contradict each other for long enough, the fallback opens, too.
        let doubts = care.contradiction_after_s.is_finite();
        if has_duration(&spec.open) {
            return Err(NoNoise::Duration("open"));
        }
        if doubts && has_duration(&spec.fallback) {
            return Err(NoNoise::Duration("fallback"));
        }
        let followed = open_detectors | if doubts { detectors_of(&spec.fallback) } else { 0 };
        if care.disagreement_after_s.is_finite() && rangers.len() > 1 {
            return Err(NoNoise::Disagreement);
        }
        let short: &[bool] = if spec.shortens() { &[false, true] } else { &[false] };
        let mut plan = NoisePlan { parts: Vec::new(), slow: false };
        for (place, (sensor, detectors)) in sensors.iter().enumerate() {
            let detectors: Vec<usize> = detectors.iter().copied().filter(|d| followed >> d & 1 == 1).collect();
            let sensor = &scenario.sensors[*sensor];
            if detectors.is_empty() || !opens_by_noise(&sensor.kind) {
                continue;
            }
            // Where no law of them is known, a platform's are taken as they are, too: a mean is quieter still than a reading.
            let platform = matches!(sensor.kind, SensorKind::PlatformLoad { .. });
            let name = |detector: usize| scenario.detectors[detector].name.clone();
            let found = if let [one] = detectors[..] {
                let runs: Option<Vec<_>> =
                    short.iter().map(|short| false_runs[one][usize::from(*short)].as_ref()).collect();
                let slow = runs.map(|runs| runs.iter().any(|runs| runs.is_slow()));
                slow.map(|slow| (Vec::new(), slow)).ok_or_else(|| NoNoise::Remembers(name(one)))
            } else {
                let all: Vec<&Detector> = detectors.iter().map(|d| &scenario.detectors[*d]).collect();
                let chains: Option<Vec<_>> = short.iter().map(|short| AtRest::new(&all, sensor, *short)).collect();
                let found = chains.map(|chains| {
                    let slow = chains.iter().any(AtRest::is_slow);
                    (chains, slow)
                });
                found.ok_or_else(|| NoNoise::Together(sensor.name.clone()))
            };
            let (together, slow) = match found {
                Err(_) if platform => continue,
                found => found?,
            };
            plan.slow |= slow;
            plan.parts.push(Part { place, bits: bits_of(&detectors), detectors, together });
        }
        let all = plan.parts.iter().fold(0, |bits, part| bits | part.bits);
        if all.count_ones() > DETECTORS_MAX { Err(NoNoise::Many) } else { Ok(plan) }
    }
}

impl Part {
    /// What it does, if its only detector goes on and off like this.
    fn alone(&self, cycle: Cycle, into: &mut Settled) {
        into.shares.clear();
        into.changes.clear();
        into.shares.extend([(0, 1.0 - cycle.on), (self.bits, cycle.on)]);
        into.changes.extend([(0, self.bits, cycle.per_day), (self.bits, 0, cycle.per_day)]);
    }

    /// Gives its detectors, whose places in the part are the bits so far, the bits that they have in the scenario.
    fn name(&self, settled: &mut Settled) {
        let named = |on: u64| named(&self.detectors, on);
        settled.shares.iter_mut().for_each(|(on, _)| *on = named(*on));
        settled.changes.iter_mut().for_each(|(a, b, _)| (*a, *b) = (named(*a), named(*b)));
    }
}

/// Whether noise makes a kind of sensor say that somebody is there: what messages, hours and switches say has none, and what tilt sensors
/// and rain gauges say follows the door and the weather.
fn opens_by_noise(kind: &SensorKind) -> bool {
    match kind {
        SensorKind::OpticalRange { .. }
        | SensorKind::PhotonRange { .. }
        | SensorKind::UltrasonicRange { .. }
        | SensorKind::BreakBeam { .. }
        | SensorKind::PlatformLoad { .. } => true,
        SensorKind::Tilt { .. }
        | SensorKind::EndSwitch { .. }
        | SensorKind::RainGauge
        | SensorKind::Status { .. }
        | SensorKind::Clock { .. } => false,
    }
}

impl Season<'_> {
    /// How often a day noise alone would open the door as things are now, if they stayed so, and what that is worth where sensors are looked
    /// at under drifts of choice. What each detector does at rest has just been looked at, for the `number`th time.
    pub fn openings_by_noise(&mut self, plan: &NoisePlan, number: u32) -> (f64, f64) {
        let idle = self.controller.state() == State::Shut && self.door.is_shut() && self.powered;
        let on = self.votes() & self.strategy.open_detectors;
        // An opening now would have another cause.
        if !idle
            || self.mower.wants_the_door()
            || self.guest_near().is_some()
            || self.out_of_order(on)
            || self.sees_mower(on)
        {
            return (0.0, 1.0);
        }
        let (mut worth, mut chosen) = (1.0, false);
        let mut drifting: ArrayVec<(usize, &Part, Looked), { DETECTORS_MAX as usize }> = ArrayVec::new();
        let mut known = std::mem::take(&mut self.noise);
        known.together.resize_with(plan.parts.len(), || None);
        let mut followed = 0;
        let mut count = 0;
        for (part, together) in plan.parts.iter().zip(&mut known.together) {
            let place = part.place;
            if self.senses[place].has_fault()
                || self.episode_on(place)
                || part.bits & self.health.voteless() != 0
                || !self.nothing_in_view(place)
            {
                continue;
            }
            if known.parts.len() == count {
                known.parts.push(Settled::default());
            }
            if let Some(looked) = self.senses[place].looked {
                (worth, chosen) = (worth * looked.worth, chosen | looked.is_chosen);
                drifting.push((count, part, looked));
            }
            let into = &mut known.parts[count];
            (followed, count) = (followed | part.bits, count + 1);
            let short = self.shortened(part);
            let Some(chain) = part.together.get(usize::from(short)) else {
                let detector = part.detectors[0];
                let known = self.surveyed[detector][usize::from(short)];
                let cycle = known.map_or(Cycle::default(), |(_, cycle)| cycle);
                part.alone(cycle, into);
                continue;
            };
            let laws = self.laws_at_rest(place);
            let settled = match together {
                Some((before, as_short, settled)) if *before == laws && *as_short == short => settled,
                _ => {
                    let (.., mut settled) = together.take().unwrap_or((laws, false, Settled::default()));
                    let room = &mut self.survey_room.at_rest;
                    chain.settle([&laws[0], &laws[1]], room, &mut settled);
                    let (.., settled) = together.insert((laws, short, settled));
                    settled
                }
            };
            into.shares.clone_from(&settled.shares);
            into.changes.clone_from(&settled.changes);
            part.name(into);
        }
        // Steps of the drifts make it be asked for, too: of one after the other from look to look, standing for all.
        let stepping = drifting.get(number as usize % drifting.len().max(1)).copied();
        if let Some((_, part, _)) = stepping {
            if known.parts.len() == count {
                known.parts.push(Settled::default());
            }
            self.after_step(part, &mut known.parts[count]);
        }
        let [open, .., fallback, _, _] = &self.rules;
        let falls_back = self.controller.is_in_doubt();
        let asks = |on: u64| open.rests_on(on) || (falls_back && fallback.rests_on(on));
        let given = self.votes() & !followed;
        let (often, at_rest) = comes_to_hold(&asks, given, &known.parts[..count]);
        let mut by_steps = 0.0;
        if let Some((at, _, looked)) = stepping {
            known.parts.swap(at, count);
            let after = chance(&|on| !asks(on), given, &known.parts[..count], count, 0);
            by_steps = drifting.len() as f64 * looked.by_steps(1.0 - at_rest, 1.0 - after);
        }
        self.noise = known;
        // Now the door is shut. Under a drift of choice it would not be while the rule holds, nor for a while after: like a counter
        // that each count makes deaf for a while, and those meanwhile for longer (Feller, On probability problems in the theory of
        // counters, 1948).
        if chosen {
            (often * libm::exp(-often * self.busy_d()) + by_steps, worth)
        } else {
            (if at_rest > 0.0 { (often + by_steps) / at_rest } else { 0.0 }, worth)
        }
    }

    /// The shares of a part's detectors a step of their sensor's drift later.
    fn after_step(&mut self, part: &Part, into: &mut Settled) {
        let Some(chain) = part.together.get(usize::from(self.shortened(part))) else {
            return part.alone(Cycle { on: self.on_after_step[part.detectors[0]], per_day: 0.0 }, into);
        };
        self.look_stepped(part.place, true);
        let laws = self.laws_at_rest(part.place);
        self.look_stepped(part.place, false);
        chain.settle([&laws[0], &laws[1]], &mut self.survey_room.at_rest, into);
        part.name(into);
    }

    /// Whether rain shortens the rules of a part's detectors at the moment: it does those of the opening rule.
    fn shortened(&self, part: &Part) -> bool {
        self.short_rule && part.bits & self.strategy.open_detectors != 0
    }

    /// How long the door is busy with an opening by noise at least, days.
    fn busy_d(&self) -> f64 {
        let strokes_s: f64 =
            [Direction::Opening, Direction::Closing].map(|way| self.calm_stroke(way).time_s).iter().sum();
        let settings = self.settings();
        let pauses = settings.care.opening_warning + settings.open_at_least + settings.warning;
        // A stroke that stalls in calm air takes for ever.
        libm::fmin((strokes_s + pauses.seconds()) / 86_400.0, 1.0)
    }

    /// At the end of the season: openings by noise as often as they are to be expected, or as often as they came where that is not known.
    pub fn close_openings(&mut self) {
        let record = self.book.record();
        let expected = record.noise_openings.in_season(&record.condition_h);
        self.book.add(Key::NoiseOpeningsExpected, expected);
    }
}

/// How often it comes to be asked for, where these detectors stay on and those of each part change on their own, and the share of time at
/// which it is not asked for.
fn comes_to_hold(asks: &impl Fn(u64) -> bool, given: u64, parts: &[Settled]) -> (f64, f64) {
    let at_rest = chance(&|on| !asks(on), given, parts, parts.len(), 0);
    let mut sum = 0.0;
    for (place, part) in parts.iter().enumerate() {
        for (before, after, often) in &part.changes {
            if *often > 0.0 {
                let holds = |others: u64| !asks(others | before) && asks(others | after);
                sum += often * chance(&holds, given, parts, place, 0);
            }
        }
    }
    (sum, at_rest)
}

/// The chance that `holds` is true of the detectors on, those of the parts from `next` on (all but that at `place`) among them.
fn chance(holds: &impl Fn(u64) -> bool, on: u64, parts: &[Settled], place: usize, next: usize) -> f64 {
    if next == parts.len() {
        return f64::from(u8::from(holds(on)));
    }
    if next == place {
        return chance(holds, on, parts, place, next + 1);
    }
    let shares = parts[next].shares.iter().filter(|(_, share)| *share > 0.0);
    shares.map(|(bits, share)| share * chance(holds, on | bits, parts, place, next + 1)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::strategy::Condition;
    use crate::shelter::condition::Evaluator;

    fn part(bit: u64, on: f64, per_day: f64) -> Settled {
        Settled { shares: vec![(0, 1.0 - on), (bit, on)], changes: vec![(0, bit, per_day), (bit, 0, per_day)] }
    }

    /// Two of three units that fail independently: w1 (p2 (1 - p3) + p3 (1 - p2)) and so on (Barlow & Proschan, chapter 7); any of
    /// them; and one with another one off, which comes to hold also when that one goes off.
    #[test]
    fn frequencies_of_systems() {
        let d = Condition::Detector;
        let (p, w) = ([0.1, 1e-7, 0.3], [2.0, 1e-9, 5.0]);
        let parts: Vec<Settled> = (0..3).map(|i| part(1 << i, p[i], w[i])).collect();
        let of = |rule: Condition, given: u64| {
            let rule = Evaluator::new(&rule);
            let (often, at_rest) = comes_to_hold(&|on| rule.rests_on(on), given, &parts);
            if at_rest > 0.0 { often / at_rest } else { 0.0 }
        };
        let one = |a: f64, b: f64| a * (1.0 - b) + b * (1.0 - a);
        let none = |a: f64, b: f64| (1.0 - a) * (1.0 - b);
        let close = |got: f64, exact: f64| assert!((got / exact - 1.0).abs() < 1e-14, "{got} against {exact}");
        let two = Condition::AtLeast(2, vec![d(0), d(1), d(2)]);
        let twice = p[0] * p[1] + p[0] * p[2] + p[1] * p[2] - 2.0 * p[0] * p[1] * p[2];
        let often = w[0] * one(p[1], p[2]) + w[1] * one(p[0], p[2]) + w[2] * one(p[0], p[1]);
        close(of(two.clone(), 0), often / (1.0 - twice));
        let any = Condition::Any(vec![d(0), d(1), d(2)]);
        let often = w[0] * none(p[1], p[2]) + w[1] * none(p[0], p[2]) + w[2] * none(p[0], p[1]);
        close(of(any.clone(), 0), often / (none(p[0], p[1]) * (1.0 - p[2])));
        assert_eq!(of(any, 1 << 5), of(Condition::Any(vec![d(0), d(1), d(2)]), 0));
        let without = Condition::All(vec![d(0), Condition::Not(Box::new(d(2)))]);
        close(of(without, 0), (w[0] * (1.0 - p[2]) + w[2] * p[0]) / (1.0 - p[0] * (1.0 - p[2])));
        // A clock that says no; one that says yes.
        let by_the_clock = Condition::All(vec![d(1), d(5)]);
        assert_eq!(of(by_the_clock.clone(), 0), 0.0);
        close(of(by_the_clock, 1 << 5), w[1] / (1.0 - p[1]));
        close(of(Condition::All(vec![d(0), d(1)]), 0), (w[0] * p[1] + w[1] * p[0]) / (1.0 - p[0] * p[1]));
        // What holds now is not waited for.
        assert_eq!(of(Condition::Any(vec![d(0), d(5)]), 1 << 5), 0.0);
    }
}
