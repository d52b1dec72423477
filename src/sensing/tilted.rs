//! How often a detector whose statistic remembers readings goes on, while the law of its readings stays as it is: from draws.
//!
//! A detector lives on such readings, and from time to time a copy of it goes on for as many readings as it looks at, on draws that lean
//! towards its on level: a reading x comes exp(s x) times as often as it does, s such that the statistic comes to the level in the mean
//! (Siegmund, "Importance sampling in the Monte Carlo study of sequential tests", Annals of Statistics 4, 1976, 673-684; Bucklew,
//! Introduction to Rare Event Simulation, 2004, chapter 5). Copies that go on with the very last of them count, each with the ratio of the
//! two densities of all its readings: the mean is how often the detector goes on, however rarely that is, with no bias. What copies are left
//! to do then says for how long it stays on.
//!
//! A thousand copies leave an error of five per cent for noise, several times that where outliers must come together. The mean over the
//! moments of many seasons, for which this is made, has less, and its interval tells.

use super::detector::DetectorState;
use super::law::{Law, Reading};
use super::statistic::Frame;
use crate::math::random::Stream;
use crate::scenario::sensor::Sensor;
use crate::scenario::strategy::{Detector, Dropped, Sense, Statistic};

mod lean;

use lean::{Lean, Parts};

/// Copies at most and at least, and readings times what one of them takes to work out for all of them.
const COPIES: [f64; 2] = [50.0, 1_000.0];
const WORK: f64 = 1e6;

/// Readings for which a copy that has gone on is followed, at most.
const STAYS_ON: usize = 4_000;

/// Share of an average that readings so long ago that they are drawn as they come still have.
const FORGOTTEN: f64 = 0.1;

/// Share of scattered readings that lean, at most.
const SCATTERED: f64 = 0.5;

/// Most readings of the on rule together, and most samples without a reading between two.
const READINGS_MAX: usize = 2_000;

/// A detector, with what draws must know of it.
#[derive(Clone, Debug)]
pub(super) struct Tilted {
    detector: Detector,
    frame: Frame,
    /// Readings that its statistic looks at, and its run rule with it.
    reads: usize,
    leans: usize,
    way: Way,
}

/// What is reported of a raw value.
fn reported(law: &Law, (raw, far): (f64, bool)) -> Reading {
    if far { Reading::Value(f64::INFINITY) } else { law.report(raw) }
}

/// How readings that make it go on differ from others.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    /// All alike: smaller (-1) or greater (1).
    Level(f64),
    /// The less, the less an average of this weight still has of them when the rule begins.
    Fading(f64, f64),
    /// The more, the later: they come nearer.
    Nearer,
}

/// Room to work in.
#[derive(Clone, Debug, Default)]
pub(super) struct Room {
    leans: Vec<Lean>,
    /// Mean of each leaning reading.
    means: Vec<f64>,
}

/// Draws for any place.
struct Draws {
    as_they_come: Lean,
    scattered: Lean,
}

/// What a copy's readings are worth, and when it went on.
struct Ran {
    weight: f64,
    went_on: bool,
}

impl Tilted {
    /// Makes ready; none for what is no mean, rate or average, for an average that begins anew, and for rules over too many readings.
    pub fn new(detector: &Detector, sensor: &Sensor) -> Option<Tilted> {
        let reads = match detector.statistic {
            Statistic::MovingMean(n) | Statistic::ApproachRate(n) => n,
            // One that begins anew goes on by a few readings, too, which are not drawn here.
            Statistic::Ewma { .. } if detector.dropped == Dropped::Reset => return None,
            Statistic::Ewma { weight } if weight >= 1.0 => 1,
            Statistic::Ewma { weight } => libm::ceil(libm::log(FORGOTTEN) / libm::log1p(-weight)) as usize,
            _ => return None,
        };
        // Statistics of overlapping readings speak in a row.
        let leans = reads + detector.rule.k - 1;
        if leans > READINGS_MAX {
            return None;
        }
        let sign = if detector.sense == Sense::Below { -1.0 } else { 1.0 };
        let way = match detector.statistic {
            Statistic::ApproachRate(_) => Way::Nearer,
            Statistic::Ewma { weight } => Way::Fading(sign, weight),
            _ => Way::Level(sign),
        };
        Some(Tilted { detector: detector.clone(), frame: Frame::of(sensor), reads, leans, way })
    }

    /// How often it goes on, per reading, and the share of the readings after which it is on.
    pub fn often(&self, law: &Law, stream: &mut Stream, room: &mut Room) -> [f64; 2] {
        let parts = Parts::of(law, self.far_counts_as());
        let Some(draws) = self.lean(&parts, room) else { return [0.0; 2] };
        let apart = self.reads + self.detector.rule.n;
        let mut living = DetectorState::new(&self.detector, &self.frame);
        let lives = |state: &mut DetectorState, readings: usize, stream: &mut Stream| {
            for _ in 0..readings {
                self.pause(state, parts.nothing, stream);
                state.feed(reported(law, draws.as_they_come.draw(stream)));
            }
        };
        lives(&mut living, apart, stream);
        // A mean and a rate are worked out from all of their readings.
        let one = if let Way::Fading(..) = self.way { 10 } else { self.reads };
        let each = (apart + self.leans + self.detector.rule.n) * one;
        let copies = libm::floor((WORK / each as f64).clamp(COPIES[0], COPIES[1])) as usize;
        let mut copy = living.clone();
        let (mut often, mut on) = (0.0, 0.0);
        for _ in 0..copies {
            lives(&mut living, apart, stream);
            copy.copy_from(&living);
            let ran = self.run(&mut copy, law, &draws, &room.leans, stream);
            if ran.went_on && ran.weight > 0.0 {
                often += ran.weight;
                let mut stays = 0;
                while copy.is_on() && stays < STAYS_ON {
                    lives(&mut copy, 1, stream);
                    stays += 1;
                }
                on += ran.weight * stays as f64;
            }
        }
        [often / copies as f64, libm::fmin(on / copies as f64, 1.0)]
    }

    /// What counts as "far" in the statistic, where that is a number.
    fn far_counts_as(&self) -> Option<f64> {
        matches!(self.detector.statistic, Statistic::Ewma { .. }).then_some(self.frame.farthest)
    }

    /// Samples without a reading, before the next one: no more than there is something to forget.
    fn pause(&self, state: &mut DetectorState, nothing: f64, stream: &mut Stream) {
        let most = 2 * self.reads + self.detector.rule.n.max(self.detector.release.n) + 1;
        let mut samples = 0;
        while samples < most && nothing > 0.0 && stream.chance(nothing) {
            state.feed(Reading::Nothing);
            samples += 1;
        }
    }

    /// Leaning draws, to the last: whether it goes on with that one. Where a rule lets others come between those that speak, or a few
    /// outliers may make several rates speak, every second copy has readings that lean anywhere among those that the rule looks at: a mixture (Owen & Zhou, "Safe and effective importance
    /// sampling", JASA 95, 2000, 135-143).
    fn run(&self, state: &mut DetectorState, law: &Law, draws: &Draws, leans: &[Lean], stream: &mut Stream) -> Ran {
        // With any sample without a reading it would begin anew, and not come to its rule.
        let in_a_row = if self.detector.dropped == Dropped::Reset { self.leans } else { 0 };
        let before = self.detector.rule.n - self.detector.rule.k;
        let all = before + leans.len();
        let share = libm::fmin(leans.len() as f64 / all as f64, SCATTERED);
        let mixed = before > 0 || (self.way == Way::Nearer && self.leans > self.reads);
        let scattered = mixed && stream.chance(0.5);
        let mut ran = Ran { weight: 1.0, went_on: false };
        // How much more often the readings are drawn than they come, in a row and scattered.
        let mut ratios = [1.0; 2];
        let nothing = draws.as_they_come.nothing();
        for place in 0..all {
            if all - place < in_a_row {
                ran.weight *= 1.0 - nothing;
            } else {
                self.pause(state, nothing, stream);
            }
            let in_a_row = place.checked_sub(before).map(|place| &leans[place]);
            let scatters = scattered && stream.chance(share);
            let lean = if scatters { Some(&draws.scattered) } else { in_a_row.filter(|_| !scattered) };
            let drawn = lean.unwrap_or(&draws.as_they_come).draw(stream);
            ratios[0] *= in_a_row.map_or(1.0, |lean| lean.ratio(drawn.0));
            ratios[1] *= share * draws.scattered.ratio(drawn.0) + 1.0 - share;
            ran.went_on = state.feed(reported(law, drawn)) && state.is_on();
        }
        ran.weight /= if mixed { 0.5 * (ratios[0] + ratios[1]) } else { ratios[0] };
        ran
    }

    /// How each reading of a copy is drawn; none if there are none.
    fn lean(&self, parts: &Parts, room: &mut Room) -> Option<Draws> {
        let Room { leans, means } = room;
        let strength = self.strength(parts, self.leans, means);
        leans.clear();
        leans.extend((0..self.leans).filter_map(|place| {
            let s = strength * self.direction(place, self.leans);
            parts.lean(s, self.far_share(parts, place))
        }));
        // Enough for one statistic.
        let strength = if self.way == Way::Nearer { self.strength(parts, self.reads, means) } else { strength };
        let scattered = parts.lean(strength * self.direction(self.reads - 1, self.reads), None)?;
        Some(Draws { as_they_come: parts.lean(0.0, None)?, scattered })
    }

    /// The share of "far" among what is drawn for a reading, where it may be another one than it comes in: it leaves nothing of a rate and
    /// makes means infinite, one of it for as long as they look at it.
    fn far_share(&self, parts: &Parts, place: usize) -> Option<f64> {
        let seldom = libm::fmin(parts.far, 0.2 / self.leans as f64);
        match self.way {
            Way::Fading(..) => None,
            Way::Level(sign) if sign > 0.0 && (place + 1).is_multiple_of(self.reads) => {
                Some(libm::fmax(parts.far, 0.5))
            }
            _ => Some(seldom),
        }
    }

    /// Which way, and how much more than others, a reading of a row of so many leans.
    fn direction(&self, place: usize, row: usize) -> f64 {
        match self.way {
            Way::Level(sign) => sign,
            Way::Fading(sign, weight) => {
                let age = (self.reads - 1).saturating_sub(place);
                sign * libm::pow(1.0 - weight, age as f64)
            }
            Way::Nearer => 0.5 * (row - 1) as f64 - place as f64,
        }
    }

    /// How strong readings of a row lean: so that each statistic over them comes to the level in the mean, or as near as it gets.
    fn strength(&self, parts: &Parts, row: usize, means: &mut Vec<f64>) -> f64 {
        let (on, rest) = (self.detector.on, parts.mean(0.0));
        let mut reaches = |strength: f64| match self.way {
            Way::Level(sign) => sign * (parts.mean(sign * strength) - on) >= 0.0,
            Way::Fading(sign, weight) => {
                let mean = |average: f64, place: usize| {
                    (1.0 - weight) * average + weight * parts.mean(strength * self.direction(place, row))
                };
                sign * ((0..self.reads).fold(rest, mean) - on) >= 0.0
            }
            Way::Nearer => self.slowest(parts, strength, row, means) >= on,
        };
        let steepest = self.direction(0, row).abs().max(self.direction(row - 1, row).abs());
        let unit = parts.unit() * steepest;
        if unit <= 0.0 || reaches(0.0) {
            return 0.0;
        }
        let mut tried = (0..60).map(|doubled| libm::ldexp(1e-3, doubled) / unit);
        let Some(reached) = tried.find(|strength| reaches(*strength)) else {
            // It does not get there with what is to be read.
            return 0.0;
        };
        let (mut low, mut high) = (0.5 * reached, reached);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if reaches(middle) { high = middle } else { low = middle }
        }
        high
    }

    /// The least of the closing speeds that the means of leaning readings have.
    fn slowest(&self, parts: &Parts, strength: f64, row: usize, means: &mut Vec<f64>) -> f64 {
        means.clear();
        means.extend((0..row).map(|place| parts.mean(strength * self.direction(place, row))));
        let middle = 0.5 * (self.reads - 1) as f64;
        let square: f64 = (0..self.reads).map(|place| (place as f64 - middle) * (place as f64 - middle)).sum();
        let speed = |first: usize| {
            let cross: f64 = (0..self.reads).map(|place| (place as f64 - middle) * means[first + place]).sum();
            -cross / (square * self.frame.period.seconds())
        };
        (0..=row - self.reads).map(speed).fold(f64::INFINITY, libm::fmin)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use crate::scenario::strategy::RunRule;
    use crate::sensing::averaged::{self, Averaged};
    use crate::sensing::false_runs::{FalseRuns, Room as CycleRoom};
    use crate::sensing::invented::{self, normal, ranger};
    use crate::sensing::law::{Spurious, Target};

    /// Means over many streams, with their standard errors.
    fn many(detector: &Detector, law: &Law, streams: u64) -> [[f64; 2]; 2] {
        let tilted = Tilted::new(detector, &ranger(law.resolution)).expect("covered");
        let mut room = Room::default();
        let found: Vec<[f64; 2]> = (0..streams)
            .map(|number| tilted.often(law, &mut Source::new(11, number, "tilted").stream(0), &mut room))
            .collect();
        invented::mean_and_error(&found)
    }

    fn agree(what: &str, [mean, error]: [f64; 2], exact: f64, share: f64) {
        assert!((mean - exact).abs() < 4.5 * error, "{what}: {mean} +- {error} against {exact}");
        assert!(error < share * mean, "{what}: {mean} +- {error} against {exact}");
    }

    /// Twice Owen's T function is how often the second of two correlated normals passes a level that the first one did not (Owen, "Tables for
    /// computing bivariate normal probabilities", Annals of Mathematical Statistics 27, 1956, 1075-1090).
    fn passes(level: f64, correlation: f64) -> f64 {
        let end = ((1.0 - correlation) / (1.0 + correlation)).sqrt();
        const PARTS: usize = 4_000;
        let at = |part: usize| {
            let x = end * (part as f64 + 0.5) / PARTS as f64;
            (-0.5 * level * level * (1.0 + x * x)).exp() / (1.0 + x * x)
        };
        (0..PARTS).map(at).sum::<f64>() * end / PARTS as f64 / std::f64::consts::PI
    }

    /// Means of overlapping windows, and their slopes, are correlated normals.
    #[test]
    fn means_and_slopes_pass_levels_as_correlated_normals_do() {
        let sigma = 0.05;
        for (n, level) in [(3, 1.0), (10, 3.0), (10, 7.0), (40, 5.0), (80, 8.0)] {
            let on = 2.0 - level * sigma / f64::from(n).sqrt();
            let mean = invented::detector(Statistic::MovingMean(n as usize), (on, on));
            let exact = passes(level, f64::from(n - 1) / f64::from(n));
            for dropout in [0.0, 0.3] {
                let mut law = normal(2.0, sigma);
                law.targets[0].weight = 1.0 - dropout;
                let [often, _] = many(&Detector { dropped: Dropped::Hold, ..mean.clone() }, &law, 60);
                agree(&format!("mean of {n}, {dropout}"), often, exact, 0.1);
            }
            let middle = 0.5 * f64::from(n - 1);
            let way: Vec<f64> = (0..n).map(|place| f64::from(place) - middle).collect();
            let square: f64 = way.iter().map(|d| d * d).sum();
            let next: f64 = way.iter().zip(&way[1..]).map(|(a, b)| a * b).sum();
            let speed = level * sigma / square.sqrt() / 0.1;
            let rate = Detector {
                sense: Sense::Above,
                ..invented::detector(Statistic::ApproachRate(n as usize), (speed, speed))
            };
            let [often, _] = many(&rate, &normal(2.0, sigma), 60);
            agree(&format!("slope of {n}"), often, passes(level, next / square), 0.1);
        }
    }

    /// A mean of one is a level, whose rule has an exact law, and averages have one but for 1 %.
    #[test]
    fn rules_and_averages_agree_with_their_chains() {
        let mut seen = normal(2.0, 0.1);
        seen.targets[0].weight = 0.7;
        seen.targets[1] = Target { weight: 0.1, mean: 3.0, sigma: 0.3 };
        seen.spurious = Spurious { weight: 0.05, low: 0.1, high: 1.9 };
        seen.far = 0.05;
        seen.resolution = 0.01;
        let mut unseen = Law { far: 0.85, targets: [Target { weight: 0.0, mean: 0.0, sigma: 0.0 }; 2], ..seen };
        unseen.spurious = Spurious { weight: 0.05, low: 0.1, high: 4.0 };
        let mut gone = normal(1.0, 0.05);
        gone.targets[0].weight = 0.999;
        gone.far = 1e-5;
        let (one, ewma) = (Statistic::MovingMean(1), Statistic::Ewma { weight: 0.2 });
        let slow = Statistic::Ewma { weight: 0.05 };
        let cases = [
            ("level", seen, one, Sense::Below, (1.3, 1.6), (3, 3), 0.1),
            ("level, far", unseen, one, Sense::Below, (0.5, 1.6), (4, 5), 0.2),
            ("gone", gone, one, Sense::Above, (1.5, 1.2), (2, 2), 0.1),
            ("average", seen, ewma, Sense::Below, (1.2, 1.5), (2, 3), 0.1),
            ("rare average", seen, ewma, Sense::Below, (0.6, 1.5), (2, 2), 0.1),
            ("slow", seen, slow, Sense::Below, (1.5, 1.6), (1, 1), 0.1),
            ("slow, far", unseen, slow, Sense::Below, (2.8, 3.0), (2, 2), 0.1),
            ("slow, noise", normal(2.0, 0.1), slow, Sense::Below, (1.9, 1.95), (2, 4), 0.1),
            ("average, far", unseen, ewma, Sense::Below, (2.4, 3.0), (1, 1), 0.1),
        ];
        for (name, law, statistic, sense, levels, (k, n), share) in cases {
            for dropped in [Dropped::Quiet, Dropped::Hold, Dropped::Reset] {
                let detector = Detector {
                    sense,
                    rule: RunRule { k, n },
                    release: RunRule { k: 2, n: 2 },
                    dropped,
                    ..invented::detector(statistic, levels)
                };
                if dropped == Dropped::Reset && [ewma, slow].contains(&statistic) {
                    continue;
                }
                let sensor = ranger(law.resolution);
                let exact = match Averaged::new(&detector, &sensor) {
                    Some(average) => {
                        let [off, on] = average.waits(&law, &mut averaged::Room::default());
                        [1.0 / (off + on), on / (off + on)]
                    }
                    None => {
                        let runs = FalseRuns::new(&detector, &sensor).expect("hits");
                        let cycle = runs.cycle([&law; 2], &mut CycleRoom::new(Source::new(1, 0, "none")));
                        [cycle.per_day / sensor.samples_per_day(), cycle.on]
                    }
                };
                let readings = 1.0 - law.nothing_probability();
                let [often, on] = many(&detector, &law, 60);
                agree(&format!("{name} {dropped:?}"), often, exact[0] / readings, share);
                agree(&format!("{name} {dropped:?} on"), on, exact[1], 2.0 * share);
            }
        }
    }

    /// Against detectors at work: how often they go on and for how long, within 4.5 standard errors (of batches).
    #[test]
    fn draws_agree_with_detectors_at_work() {
        let mut seen = normal(2.0, 0.1);
        seen.targets[0].weight = 0.75;
        seen.spurious = Spurious { weight: 0.12, low: 0.1, high: 1.9 };
        seen.far = 0.03;
        let mut gone = normal(2.0, 0.1);
        gone.targets[0].weight = 0.9;
        gone.far = 0.001;
        // One of them makes a mean or a rate speak for a while, two apart make the rule.
        let mut outliers = normal(2.0, 0.02);
        outliers.targets[0].weight = 0.97;
        outliers.spurious = Spurious { weight: 0.02, low: 0.1, high: 1.0 };
        let cases = [
            (seen, Statistic::MovingMean(3), Sense::Below, (1.0, 1.2), (3, 5)),
            (seen, Statistic::MovingMean(8), Sense::Below, (1.4, 1.6), (2, 2)),
            (gone, Statistic::MovingMean(4), Sense::Above, (2.12, 2.1), (1, 2)),
            (outliers, Statistic::MovingMean(3), Sense::Below, (1.6, 1.7), (5, 30)),
            (outliers, Statistic::ApproachRate(10), Sense::Above, (0.45, 0.4), (7, 30)),
            (outliers, Statistic::ApproachRate(10), Sense::Above, (0.45, 0.4), (4, 4)),
            (seen, Statistic::ApproachRate(6), Sense::Above, (2.2, 0.5), (2, 3)),
        ];
        for (number, (law, statistic, sense, levels, (k, n))) in cases.into_iter().enumerate() {
            for dropped in [Dropped::Quiet, Dropped::Hold, Dropped::Reset] {
                let detector = Detector {
                    sense,
                    rule: RunRule { k, n },
                    release: RunRule { k: 2, n: 3 },
                    dropped,
                    ..invented::detector(statistic, levels)
                };
                let mut stream = Source::new(44, number as u64, "tilted").stream(0);
                let counted = invented::at_work(&detector, &ranger(0.0), &law, &mut stream);
                let found = many(&detector, &law, 60);
                let readings = [1.0 - law.nothing_probability(), 1.0];
                for which in [0, 1] {
                    let [mean, chance] = counted[which];
                    assert!(chance < 0.1 * mean, "{number} {dropped:?}: {mean} +- {chance}");
                    let [drawn, error] = found[which].map(|it| it * readings[which]);
                    agree(&format!("{number} {dropped:?} {which}"), [drawn, error.hypot(chance)], mean, 0.15);
                }
            }
        }
    }
}
