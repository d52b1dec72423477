//! How often a detector goes on with nobody there, exactly: from the law of its readings, without a single one of them.
//!
//! It goes on, goes off again, and so on: one false run for each mean time there and back. Both are mean times to absorption of
//! chains over what the detector remembers ([`QuietChain`]), so that a run in a thousand years is known as well as one an
//! hour. What the median holds when it begins to go off is taken as quiet, which matters only where runs come every few seconds.
//!
//! What keeps a sum, and what looks at a beam that insects break, goes by the stationary law of its automaton ([`AtRest`]), sums that
//! lie on no grid in steps (Brook & Evans, Biometrika 59, 1972, 539-549); an EWMA goes by steps of its own (`averaged`). Moving means,
//! approach rates and EWMAs that change slowly go by draws that lean towards the level (`tilted`).

use super::approach::{Mass, Odds, QuietChain};
use super::at_rest::{self, AtRest, Settled};
use super::averaged::{self, Averaged};
use super::law::{Law, snap};
use super::tilted::{self, Tilted};
use crate::math::random::Source;
use crate::scenario::sensor::Sensor;
use crate::scenario::strategy::{Detector, Sense};

/// The false runs of a detector.
#[derive(Clone, Debug)]
pub struct FalseRuns {
    of: Of,
    samples_per_day: f64,
}

/// What it remembers.
#[derive(Clone, Debug)]
enum Of {
    /// Hits, by its ways to on and to off.
    Hits(Box<Hits>),
    /// A sum, or hits by turns.
    Chain(Box<AtRest>),
    /// A weighted average.
    Average(Box<Averaged>),
    /// Readings, by draws.
    Drawn(Box<Tilted>),
}

#[derive(Clone, Debug)]
struct Hits {
    on: QuietChain,
    off: QuietChain,
    sense: Sense,
    off_level: f64,
}

/// How a detector goes on and off by turns.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cycle {
    /// How often it goes on, per day.
    pub per_day: f64,
    /// Share of the time that it is on.
    pub on: f64,
}

/// Room to work in.
#[derive(Clone, Debug)]
pub struct Room {
    mass: Mass,
    averaged: averaged::Room,
    tilted: tilted::Room,
    /// For [`AtRest`], and what it says.
    pub at_rest: at_rest::Room,
    settled: Settled,
    /// Where draws come from, and how many times some were made.
    source: Source,
    drawn: u64,
}

impl Room {
    /// What is drawn next has the numbers of what was drawn last, so that the difference of the two is that of their laws.
    pub fn draw_again(&mut self) {
        self.drawn = self.drawn.saturating_sub(1);
    }

    /// Room for all that is asked for with draws of this source.
    pub fn new(source: Source) -> Room {
        Room {
            mass: Mass::default(),
            averaged: Default::default(),
            tilted: Default::default(),
            at_rest: Default::default(),
            settled: Settled::default(),
            source,
            drawn: 0,
        }
    }
}

impl FalseRuns {
    /// Makes ready; none for noise that remembers, for what has no law here (medians and averages that begin anew after a sample without a
    /// reading and have too many states, sums of what is no range, what insects break but for hits and sums), and for too many readings.
    pub fn new(detector: &Detector, sensor: &Sensor) -> Option<FalseRuns> {
        if sensor.errors.noise_correlation > 0.0 {
            return None;
        }
        let chain = || AtRest::new(&[detector], sensor, false).map(|chain| Of::Chain(Box::new(chain)));
        let of = if detector.statistic.keeps_sum() || at_rest::insects(sensor).is_some() {
            chain()?
        } else {
            let average = Averaged::new(detector, sensor);
            let (quick, slow) = match average {
                Some(average) if average.is_quick() => (Some(average), None),
                average => (None, average),
            };
            let average = |it: Averaged| Of::Average(Box::new(it));
            let hits = || Hits::new(detector, sensor).map(|it| Of::Hits(Box::new(it)));
            let drawn = || Tilted::new(detector, sensor).map(|it| Of::Drawn(Box::new(it)));
            quick.map(average).or_else(hits).or_else(drawn).or_else(|| slow.map(average))?
        };
        Some(FalseRuns { of, samples_per_day: sensor.samples_per_day() })
    }

    /// False runs a day while readings follow the first law, or the second while an insect breaks the beam.
    pub fn per_day(&self, laws: [&Law; 2], room: &mut Room) -> f64 {
        self.cycle(laws, room).per_day
    }

    /// The same, and the share of the time that it is on.
    pub fn cycle(&self, laws: [&Law; 2], room: &mut Room) -> Cycle {
        let [on, off] = match &self.of {
            Of::Chain(chain) => {
                chain.settle(laws, &mut room.at_rest, &mut room.settled);
                let is_on = |bits: &u64| bits & 1 == 1;
                let goes_on = |(before, after, _): &&(u64, u64, f64)| !is_on(before) && is_on(after);
                let of_shares = room.settled.shares.iter().filter(|(bits, _)| is_on(bits));
                return Cycle {
                    per_day: room.settled.changes.iter().filter(goes_on).map(|(.., often)| often).sum(),
                    on: of_shares.map(|(_, share)| share).sum(),
                };
            }
            Of::Hits(hits) => hits.waits(laws[0], &mut room.mass),
            Of::Average(averaged) => averaged.waits(laws[0], &mut room.averaged),
            Of::Drawn(tilted) => {
                let mut stream = room.source.stream(room.drawn);
                room.drawn += 1;
                let [often, on] = tilted.often(laws[0], &mut stream, &mut room.tilted);
                let readings = 1.0 - laws[0].nothing_probability();
                return Cycle { per_day: self.samples_per_day * readings * often, on };
            }
        };
        if on.is_infinite() {
            return Cycle::default();
        }
        Cycle { per_day: self.samples_per_day / (on + off), on: if off.is_infinite() { 1.0 } else { off / (on + off) } }
    }

    /// Whether working it out takes long, compared with others.
    pub fn is_slow(&self) -> bool {
        match &self.of {
            Of::Hits(_) => false,
            Of::Chain(chain) => chain.is_slow(),
            Of::Average(_) | Of::Drawn(_) => true,
        }
    }

    /// Whether what it gives is an estimate by draws: right in the mean over many, with an error of several per cent or more by itself.
    pub fn is_drawn(&self) -> bool {
        matches!(self.of, Of::Drawn(_))
    }
}

impl Hits {
    fn new(detector: &Detector, sensor: &Sensor) -> Option<Hits> {
        let resolution = sensor.errors.resolution;
        Some(Hits {
            on: QuietChain::new(detector, resolution)?,
            off: QuietChain::new(&Detector { rule: detector.release, ..detector.clone() }, resolution)?,
            sense: detector.sense,
            off_level: snap(detector.off, resolution),
        })
    }

    /// Mean numbers of samples for which it is off and on.
    fn waits(&self, law: &Law, mass: &mut Mass) -> [f64; 2] {
        let on = self.on.mean_wait(self.on.odds(law), mass);
        if on.is_infinite() {
            return [on, 0.0];
        }
        [on, self.off.mean_wait(self.off_odds(law), mass)]
    }

    /// What a sample may be for a detector that is on: a hit speaks for off.
    fn off_odds(&self, law: &Law) -> Odds {
        let (below, above, nothing) = law.split(self.off_level, self.sense == Sense::Below);
        match self.sense {
            Sense::Below => Odds { hit: above, miss: below, nothing },
            Sense::Above => Odds { hit: below, miss: above, nothing },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;
    use crate::math::time::Span;
    use crate::scenario::sensor::{Errors, SensorKind};
    use crate::scenario::strategy::{Dropped, RunRule, Statistic};
    use crate::sensing::detector::DetectorState;
    use crate::sensing::invented;
    use crate::sensing::law::{Spurious, Target};
    use crate::sensing::statistic::Frame;

    /// A law of which a reading is on with probability p, else well beyond the off level; `nothing` of them say nothing.
    fn law(p: f64, nothing: f64) -> Law {
        let mut law = Law::SILENT;
        law.targets[0] = Target { weight: 1.0 - p - nothing, mean: 3.0, sigma: 0.0 };
        law.spurious = Spurious { weight: p, low: 0.1, high: 0.5 };
        law
    }

    fn runs(rule: (usize, usize), release: (usize, usize), dropped: Dropped) -> FalseRuns {
        let detector = Detector {
            rule: RunRule { k: rule.0, n: rule.1 },
            release: RunRule { k: release.0, n: release.1 },
            dropped,
            ..invented::detector(Statistic::Level, (1.0, 1.2))
        };
        let sensor = Sensor {
            name: "eye".into(),
            kind: SensorKind::RainGauge,
            period: Span(50_000),
            latency: Span::ZERO,
            errors: Errors::NONE,
        };
        FalseRuns::new(&detector, &sensor).expect("a run rule")
    }

    /// A run of r hits in a row takes (1 - p^r) / (p^r (1 - p)) samples on average (Feller, vol. 1, XIII.7), one of the other kind
    /// 1 / (1 - p): down to a run in a hundred thousand million years. Left out, samples without a reading only stretch it.
    #[test]
    fn runs_in_a_row_follow_feller() {
        let mut room = Room::new(Source::new(1, 0, "none"));
        for (p, r) in [(0.3, 2), (0.01, 3), (1e-4, 3), (1e-6, 4), (1e-9, 2)] {
            let wait = |p: f64| (1.0 - f64::powi(p, r)) / (f64::powi(p, r) * (1.0 - p)) + 1.0 / (1.0 - p);
            let run = (r as usize, r as usize);
            for (dropped, nothing) in [(Dropped::Quiet, 0.0), (Dropped::Hold, 0.0), (Dropped::Hold, 0.4)] {
                let got = runs(run, (1, 1), dropped).per_day([&law(p * (1.0 - nothing), nothing); 2], &mut room);
                let exact = 20.0 * 86_400.0 * (1.0 - nothing) / wait(p);
                assert!((got / exact - 1.0).abs() < 1e-9, "{p} {r} {dropped:?} {nothing}: {got} against {exact}");
            }
        }
        assert_eq!(runs((2, 3), (1, 1), Dropped::Quiet).per_day([&law(0.0, 0.1); 2], &mut room), 0.0);
        assert_eq!(runs((2, 3), (1, 1), Dropped::Hold).per_day([&Law::SILENT; 2], &mut room), 0.0);
    }

    /// A beam of 50 samples a second that insects break six times an hour for half a second. Of one that is asked for one sample, and
    /// lets go with one, each change seen is a run: clear a share of the time, times the chance of a change. Where it takes r samples
    /// in a row, a break must last on: the chance that it does so. With dropped readings, against detectors at work on beams drawn.
    #[test]
    fn insects_break_a_beam_by_turns() {
        let beam = |false_per_hour: f64, dropout: f64| Sensor {
            name: "beam".into(),
            kind: SensorKind::BreakBeam { x_m: 0.1, z_m: 0.1, span_m: (-0.3, 0.3), false_per_hour, false_break_s: 0.5 },
            period: Span(20_000),
            latency: Span::ZERO,
            errors: Errors { dropout, ..Errors::NONE },
        };
        let detector = |rule: (usize, usize), release: (usize, usize)| Detector {
            sense: Sense::Above,
            rule: RunRule { k: rule.0, n: rule.1 },
            release: RunRule { k: release.0, n: release.1 },
            ..invented::detector(Statistic::Level, (0.5, 0.5))
        };
        let mut room = Room::new(Source::new(1, 0, "none"));
        let [clear, broken] = [0.0, 1.0].map(|value| Law::exact(value, 0.0));
        let sensor = beam(6.0, 0.0);
        let [comes, goes] = at_rest::insects(&sensor).expect("insects");
        let share_clear = (1.0 / 0.5) / (1.0 / 0.5 + 6.0 / 3_600.0);
        for r in [1, 2, 10] {
            let runs = FalseRuns::new(&detector((r, r), (1, 1)), &sensor).expect("a run rule");
            let got = runs.per_day([&clear, &broken], &mut room);
            let exact = 50.0 * 86_400.0 * share_clear * comes * (1.0 - goes).powi(r as i32 - 1);
            assert!((got / exact - 1.0).abs() < 1e-7, "{r}: {got} against {exact}");
        }
        // Breaks so often that they run into one another, and readings that are dropped.
        let sensor = beam(2_000.0, 0.2);
        let it = detector((4, 6), (9, 9));
        let [clear, broken] = [0.0, 1.0].map(|value| Law::exact(value, 0.2));
        let got = FalseRuns::new(&it, &sensor).expect("a run rule").per_day([&clear, &broken], &mut room);
        let changes = at_rest::insects(&sensor).expect("insects");
        let mut stream = Source::new(5, 0, "insects").stream(0);
        let mut state = DetectorState::new(&it, &Frame::of(&sensor));
        let (days, mut law, mut count) = (0.4, 0, 0);
        for _ in 0..(days * 50.0 * 86_400.0) as u64 {
            law = if stream.chance(changes[law]) { 1 - law } else { law };
            let changed = state.feed([&clear, &broken][law].draw(&mut stream));
            count += i32::from(changed && state.is_on());
        }
        let expected = got * days;
        assert!((f64::from(count) - expected).abs() < 4.0 * expected.sqrt(), "{count} against {expected}");
        assert!(expected > 1_000.0, "{expected}");
    }
}
