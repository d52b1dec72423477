//! Detectors that no chain follows, along an approach: statistics that remember their readings, rules that wait or last, noise that
//! remembers under rules of several.
//!
//! Many particles go the way together. Each is the detectors at work with readings of its own; who asks for the door dies, and when the
//! weights of the others have grown apart, new ones are drawn from among them in proportion. The product of what is left each time is an
//! unbiased estimate of the chance that nobody asks, whatever the number of particles and whenever they are drawn anew by what is known by
//! then (Del Moral, Feynman-Kac Formulae, 2004, section 7.4; Johansen, Del Moral & Doucet, "Sequential Monte Carlo samplers for rare
//! events", 2006).
//! Where the mower is in view readings are drawn widely and weighted ([`crate::sensing::law::wide`]), or none would live to see a rare run
//! of bad ones.

use super::joint::{Part, bits_of, duration, silenced};
use crate::math::random::Stream;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::strategy::Condition;
use crate::sensing::detector::DetectorState;
use crate::sensing::law::Law;
use crate::sensing::law::wide::Draw;
use crate::sensing::statistic::Frame;
use crate::shelter::condition::Evaluator;

/// Particles for a chance, and where it only shows where to look.
pub const PARTICLES: usize = 128;
pub const PARTICLES_ROUGHLY: usize = 32;

/// Share of the readings that are drawn widely where the mower is in view and not too far away to matter; and where more than [`DIE`] of
/// the particles died of the last sample, or a reading does something to a detector with more than [`LIKELY`] chance: there those that are
/// left owe their lives to readings that seldom come. (What is known before a sample may decide how it is drawn.)
const WIDE: [f64; 2] = [0.02, 0.4];
const DIE: f64 = 0.25;
const LIKELY: f64 = 0.5;

/// Until a reading does something to a detector with more than this chance, a few particles stand for all.
const STIRRED: f64 = 0.01;
const FEW: usize = 8;

/// What is left of the mass is drawn anew once the weights are worth fewer particles than this share.
const WORTH: f64 = 0.5;

/// Before the first sample durations count as over.
const LONG_BEFORE: Span = Span(366 * 86_400 * 1_000_000);

/// Most samples without anybody in view that detectors are given beforehand.
const BEFOREHAND_MAX: usize = 2_000;

/// The detectors of an open rule that are followed by particles.
#[derive(Clone, Debug)]
pub(super) struct Followed {
    pub parts: Vec<Part>,
    /// The rest of each part.
    own: Vec<Own>,
    /// The rules, any of which is enough.
    rules: Vec<Evaluator>,
    /// Whether they wait or last for a time.
    timed: bool,
}

/// What a part brings along.
#[derive(Clone, Debug)]
struct Own {
    /// Its first detector among all, and beyond the last.
    begin: usize,
    end: usize,
    states: Vec<DetectorState>,
    correlation: f64,
    /// Samples with nobody there after which it no longer matters how it began.
    settles_after: usize,
}

/// Detectors at work, with readings of their own.
#[derive(Debug)]
struct Particle {
    states: Vec<DetectorState>,
    rules: Vec<Evaluator>,
    /// Detectors that are on, as bits of the scenario's.
    on: u64,
    /// Noise of each part's last sample, in standard deviations.
    noise: Vec<f64>,
    weight: f64,
}

impl Particle {
    fn twin(&self) -> Particle {
        let mut twin = Particle { states: Vec::new(), rules: Vec::new(), on: 0, noise: Vec::new(), weight: 0.0 };
        twin.become_like(self);
        twin
    }

    /// Becomes like another one; keeps its room.
    fn become_like(&mut self, other: &Particle) {
        self.states.clone_from(&other.states);
        self.rules.clone_from(&other.rules);
        self.noise.clone_from(&other.noise);
        (self.on, self.weight) = (other.on, other.weight);
    }
}

/// A sample as particles take it.
pub(super) struct Sample<'a> {
    pub part: usize,
    /// When the controller hears of it.
    pub heard: Instant,
    pub law: &'a Law,
    /// Whether it is any other than with nobody there.
    pub in_view: bool,
}

/// Many particles.
pub(super) struct Swarm<'a> {
    followed: &'a Followed,
    particles: Vec<Particle>,
    /// How many there are to be.
    count: usize,
    /// The product of what was left each time that particles were drawn anew.
    total: f64,
    /// Share of the weight that died of the last sample of each part.
    died: Vec<f64>,
    stream: &'a mut Stream,
}

impl Followed {
    /// Of detectors of these parts, and rules any of which is enough, with the messages that are silent.
    pub fn new(scenario: &Scenario, parts: Vec<Part>, rules: &[Condition], timed: bool, silent: u64) -> Followed {
        let lasts = rules.iter().map(duration).max().unwrap_or(Span::ZERO);
        let mut begin = 0;
        let mut own = Vec::with_capacity(parts.len());
        for part in &parts {
            let sensor = &scenario.sensors[part.sensor];
            let frame = Frame::of(sensor);
            let detectors = || part.detectors.iter().map(|detector| &scenario.detectors[*detector]);
            let end = begin + part.detectors.len();
            own.push(Own {
                begin,
                end,
                states: detectors().map(|detector| DetectorState::new(detector, &frame)).collect(),
                correlation: sensor.errors.noise_correlation,
                settles_after: 2 * part.fades_after(scenario) + lasts.0.div_euclid(sensor.period.0) as usize,
            });
            begin = end;
        }
        let rules = rules.iter().map(|rule| silenced(rule, silent)).collect();
        Followed { parts, own, rules, timed }
    }

    /// Samples that a part is given before anybody comes.
    pub fn beforehand(&self, part: usize) -> usize {
        self.own[part].settles_after.min(BEFOREHAND_MAX)
    }

    /// The chance that a reading of this law does something to a detector that is off and has seen nothing; one to which every reading may
    /// do something, by what it has seen, tells of no more than that.
    fn stirs(&self, part: usize, law: &Law) -> f64 {
        let chance = |state: &DetectorState| {
            if state.shifts() { LIKELY } else { law.interesting_probability(&state.boring()) }
        };
        self.own[part].states.iter().map(chance).fold(0.0, f64::max)
    }

    /// So many particles, or a few that stand for them until somebody is seen, with all detectors off and nothing seen, before `start`;
    /// `short` says whether their rules need one sample less.
    pub fn swarm<'a>(&'a self, count: usize, short: bool, start: Instant, stream: &'a mut Stream) -> Swarm<'a> {
        let mut rules = if self.timed { self.rules.clone() } else { Vec::new() };
        rules.iter_mut().for_each(|rule| {
            rule.evaluate(start - LONG_BEFORE, 0);
        });
        let mut states: Vec<DetectorState> = self.own.iter().flat_map(|own| own.states.iter().cloned()).collect();
        states.iter_mut().for_each(|state| state.shorten(short));
        let particle = |stream: &mut Stream| Particle {
            states: states.clone(),
            rules: rules.clone(),
            on: 0,
            noise: self.own.iter().map(|own| if own.correlation > 0.0 { stream.normal() } else { 0.0 }).collect(),
            weight: 1.0,
        };
        let particles = (0..count.div_ceil(FEW)).map(|_| particle(stream)).collect();
        Swarm { followed: self, particles, count, total: 1.0, died: vec![0.0; self.parts.len()], stream }
    }
}

impl Swarm<'_> {
    /// Copies of the few that stood for all until now take their own ways from here on.
    fn multiply(&mut self) {
        if self.particles.len() >= self.count {
            return;
        }
        // As many of each, or the weights would not keep their sum.
        let few = self.particles.len();
        for place in few..few * self.count.div_ceil(few) {
            self.particles.push(self.particles[place % few].twin());
        }
    }

    /// All take a sample.
    pub fn take(&mut self, sample: &Sample) {
        let Sample { part, heard, law, in_view } = *sample;
        let Followed { own, rules, timed, parts } = self.followed;
        let (own, detectors) = (&own[part], &parts[part].detectors);
        let stirs = if in_view { self.followed.stirs(part, law) } else { 0.0 };
        if stirs > STIRRED {
            self.multiply();
        }
        let wide = if self.died[part] > DIE || stirs > LIKELY {
            WIDE[1]
        } else if stirs > STIRRED {
            WIDE[0]
        } else {
            0.0
        };
        let draw = Draw::new(law, own.correlation, wide);
        let mut died = 0.0;
        let all = bits_of(detectors);
        for particle in self.particles.iter_mut().filter(|particle| particle.weight > 0.0) {
            if *timed && particle.comes_to_ask(heard) {
                particle.weight = 0.0;
                continue;
            }
            let (reading, ratio) = draw.next(&mut particle.noise[part], self.stream);
            particle.weight *= ratio;
            let mut changed = false;
            let mut on = 0;
            for (state, detector) in particle.states[own.begin..own.end].iter_mut().zip(detectors) {
                changed |= state.feed(reading);
                on |= u64::from(state.is_on()) << detector;
            }
            if !changed {
                continue;
            }
            particle.on = particle.on & !all | on;
            let asks = if *timed {
                particle.rules.iter_mut().any(|rule| rule.evaluate(heard, particle.on))
            } else {
                rules.iter().any(|rule| rule.rests_on(particle.on))
            };
            if asks {
                died += particle.weight;
                particle.weight = 0.0;
            }
        }
        let live = self.weights();
        self.died[part] = if died > 0.0 { died / (died + live) } else { 0.0 };
        self.renew(live);
    }

    /// Time goes by until `now` without a sample.
    pub fn wait(&mut self, now: Instant) {
        if self.followed.timed {
            let asking = self.particles.iter_mut().filter(|particle| particle.weight > 0.0);
            asking.filter_map(|particle| particle.comes_to_ask(now).then_some(particle)).for_each(|it| it.weight = 0.0);
        }
    }

    /// The chance so far that nobody has asked.
    pub fn left(&self) -> f64 {
        self.total * self.weights() / self.particles.len() as f64
    }

    /// Counts from now on: given that nobody has asked.
    pub fn begin(&mut self) {
        let left = self.left();
        if left > 0.0 {
            self.total /= left;
        }
    }

    fn weights(&self) -> f64 {
        self.particles.iter().map(|particle| particle.weight).sum()
    }

    /// Draws particles anew in proportion to their weights, evenly spaced from a random beginning (Kitagawa, J. Comput. Graph. Stat. 5,
    /// 1996, 1-25), if these, of this sum, are worth too few.
    fn renew(&mut self, sum: f64) {
        let count = self.particles.len();
        let squares: f64 = self.particles.iter().map(|particle| particle.weight * particle.weight).sum();
        if sum <= 0.0 || sum * sum >= WORTH * count as f64 * squares {
            return;
        }
        self.total *= sum / count as f64;
        let (each, first) = (sum / count as f64, self.stream.uniform());
        // How many come of each; who has none gives its room to one of those that have several.
        let mut reached = 0.0;
        let mut before = 0;
        let copies: Vec<usize> = self
            .particles
            .iter()
            .map(|particle| {
                reached += particle.weight;
                let until = (libm::ceil(reached / each - first).max(0.0) as usize).clamp(before, count);
                let copies = until - before;
                before = until;
                copies
            })
            .collect();
        // Rounding may leave one out: the last that lives has it.
        let missing = count - copies.iter().sum::<usize>();
        let last = self.particles.iter().rposition(|particle| particle.weight > 0.0).unwrap_or_default();
        let mut room = (0..count).filter(|place| copies[*place] == 0 && (missing == 0 || *place != last));
        for (place, copies) in copies.iter().enumerate() {
            let wanted = copies + if place == last { missing } else { 0 };
            for _ in 1..wanted {
                let Some(empty) = room.next() else { break };
                if let Ok([from, to]) = self.particles.get_disjoint_mut([place, empty]) {
                    to.become_like(from);
                }
            }
        }
        self.particles.iter_mut().for_each(|particle| particle.weight = 1.0);
    }
}

impl Particle {
    /// Whether a duration that is over by `now` makes it ask, with the detectors as they are.
    fn comes_to_ask(&mut self, now: Instant) -> bool {
        let mut asks = false;
        for rule in &mut self.rules {
            while rule.wake() <= now {
                asks |= rule.evaluate(rule.wake(), self.on);
            }
        }
        asks
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::normal;
    use crate::math::random::Source;
    use crate::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};
    use crate::sensing::law::Target;

    const PERIOD: Span = Span(50_000);

    /// One detector on one sensor that reads without steps.
    fn followed(statistic: Statistic, rule: RunRule, on: f64, asks: &Condition, timed: bool) -> Followed {
        let detector = Detector {
            name: "near".into(),
            sensor: 0,
            statistic,
            sense: Sense::Below,
            on,
            off: on,
            rule,
            release: RunRule { k: 1, n: 1 },
            dropped: Dropped::Quiet,
            says: Vec::new(),
        };
        let frame = Frame { resolution: 0.0, period: PERIOD, farthest: f64::INFINITY };
        let own = Own {
            begin: 0,
            end: 1,
            states: vec![DetectorState::new(&detector, &frame)],
            correlation: 0.0,
            settles_after: 0,
        };
        let parts = vec![Part { sensor: 0, detectors: vec![0] }];
        Followed { parts, own: vec![own], rules: vec![Evaluator::new(asks)], timed }
    }

    fn at(sample: usize) -> Instant {
        Instant::START + Span(PERIOD.0 * sample as i64)
    }

    /// The chance that is left after each sample of these laws, in one go of so many particles.
    fn left(followed: &Followed, laws: &[Law], count: usize, in_view: bool, number: u64) -> Vec<f64> {
        let mut stream = Source::new(7, 0, "tests").stream(number);
        let mut swarm = followed.swarm(count, false, Instant::START, &mut stream);
        swarm.multiply();
        let after = |(sample, law): (usize, &Law)| {
            swarm.take(&Sample { part: 0, heard: at(sample), law, in_view });
            swarm.wait(at(sample + 1) - Span(1));
            swarm.left()
        };
        laws.iter().enumerate().map(after).collect()
    }

    /// Mean of goes within 4.5 standard errors, and these less than `share` of it.
    fn holds(name: &str, goes: &[f64], expected: f64, share: f64) {
        let count = goes.len() as f64;
        let mean = goes.iter().sum::<f64>() / count;
        let error = (goes.iter().map(|it| (it - mean) * (it - mean)).sum::<f64>() / (count * (count - 1.0))).sqrt();
        assert!((mean - expected).abs() < 4.5 * error, "{name}: {mean:e} +- {error:e} against {expected:e}");
        assert!(error < share * expected, "{name}: {mean:e} +- {error:e}");
    }

    /// Runs of detections that do not come, for a sensor that sees with probability p and drops a sample with probability q: an exact
    /// programme in 60 digits, confirmed by de Moivre's closed form (Uspensky 1937, chapter V; Feller XIII.7): catalogue 09, rows RV-004,
    /// RV-012, RV-027, RV-033, RV-038. By a run rule, and by a single sample that holds `for` as long: both must be the same.
    #[test]
    fn runs_that_do_not_come() {
        for (n, p, q, k, expected) in [
            (6, 0.6, 0.05, 2, 0.226_571_654_449),
            (28, 0.8, 0.02, 3, 1.273_617_126_687_81e-4),
            (50, 0.9, 0.02, 4, 2.942_936_648_218_19e-8),
            (54, 0.9, 0.03, 5, 4.959_852_553_724_59e-6),
            (33, 0.95, 0.01, 3, 9.133_759_706_728e-12),
        ] {
            let mut law = Law::SILENT;
            law.targets =
                [(p, 0.5), (1.0 - p, 3.0)].map(|(share, mean)| Target { weight: (1.0 - q) * share, mean, sigma: 0.0 });
            let detector = Condition::Detector(0);
            let by_rule = followed(Statistic::Level, RunRule { k, n: k }, 1.0, &detector, false);
            // A microsecond before the next sample: what comes at the same moment as that is another matter.
            let holds_for = Condition::For(Span(PERIOD.0 * k as i64 - 1), Box::new(detector.clone()));
            let by_time = followed(Statistic::Level, RunRule { k: 1, n: 1 }, 1.0, &holds_for, true);
            // A detector that is on stays on over a dropped sample.
            let mut told = law;
            told.targets[1].weight = 1.0 - law.targets[0].weight;
            for (name, followed, law) in [("rule", by_rule, law), ("time", by_time, told)] {
                let laws = vec![law; n];
                let go = |number: u64| left(&followed, &laws, PARTICLES, true, number)[n - 1];
                let goes: Vec<f64> = (0..300).map(go).collect();
                holds(&format!("{name}, {k} of {n}"), &goes, expected, 0.08);
            }
        }
    }

    /// Two means of four readings that overlap by three: normal numbers of correlation 3/4, both of which lie beyond h with probability
    /// Phi(-h) - 2 T(h, sqrt((1 - r) / (1 + r))) (Owen, Ann. Math. Stat. 27, 1956, 1075-1090).
    #[test]
    fn means_that_overlap() {
        let owen = |h: f64, a: f64| {
            let steps = 2_000;
            let sum: f64 = (0..steps)
                .map(|step| a * (f64::from(step) + 0.5) / f64::from(steps))
                .map(|x| libm::exp(-0.5 * h * h * (1.0 + x * x)) / (1.0 + x * x))
                .sum();
            sum * a / f64::from(steps) / (2.0 * std::f64::consts::PI)
        };
        for h in [1.0, 3.0, 4.0] {
            let mut law = Law::SILENT;
            law.targets[0] = Target { weight: 1.0, mean: 1.0 - h * 0.1 / 2.0, sigma: 0.1 };
            let followed =
                followed(Statistic::MovingMean(4), RunRule { k: 1, n: 1 }, 1.0, &Condition::Detector(0), false);
            let goes: Vec<f64> = (0..400).map(|number| left(&followed, &[law; 5], 2_000, true, number)[4]).collect();
            holds(&format!("{h}"), &goes, normal::tail(h) - 2.0 * owen(h, (0.25_f64 / 1.75).sqrt()), 0.25);
        }
    }

    /// Mean time to the first signal of an EWMA of weight 0.4 whose limit is 3.054 of its own deviations on one side: 1,003.567 samples
    /// (the integral equation's value in the table of run lengths; Crowder, Technometrics 29, 1987, 401-407, for the method). The sum of
    /// the chances left after each sample, which fall geometrically in the end.
    #[test]
    fn averages_of_which_none_signals() {
        let (weight, factor, samples) = (0.4, 3.054, 3_000);
        let mut law = Law::SILENT;
        law.targets[0] = Target { weight: 1.0, mean: 0.0, sigma: 1.0 };
        let mut laws = vec![law; samples + 1];
        // An average begins with its first reading.
        laws[0].targets[0].sigma = 0.0;
        let limit = -factor * libm::sqrt(weight / (2.0 - weight));
        let asks = Condition::Detector(0);
        let followed = followed(Statistic::Ewma { weight }, RunRule { k: 1, n: 1 }, limit, &asks, false);
        let go = |number: u64| {
            let left = left(&followed, &laws, 400, false, number);
            let each = libm::log(left[samples / 2] / left[samples]) / (samples / 2) as f64;
            left[..samples].iter().sum::<f64>() + left[samples] / each
        };
        let goes: Vec<f64> = (0..24).map(go).collect();
        holds("average", &goes, 1_003.567_255_044_110_1, 0.02);
    }
}
