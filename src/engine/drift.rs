//! Slow random drift of a sensor: a frame that settles, a cable that warms, an amplifier that ages to and fro.
//!
//! **Model.** A drift that forgets itself with one correlation time (Ornstein-Uhlenbeck, Phys. Rev. 36, 1930, 823-841; first-order
//! Gauss-Markov), normal with a standard deviation at every moment. Its autocorrelation is exp(-lag / correlation time). It stays
//! as it is from one step of a grid to the next: that is the model and no shortcut, so that readings are independent given the drift and laws
//! change at events alone. Values on the grid follow exactly from one to the next (Gillespie, Phys. Rev. E 54, 1996, 2084-2091).
//!
//! A drift belongs to its sensor, whatever else is listened to: strategies with the same sensor meet the same drift.

use super::event::Event;
use super::season::Season;
use crate::math::normal;
use crate::math::random::{Source, Stream};
use crate::math::time::Span;
use crate::scenario::care::ZeroTracking;
use crate::scenario::sensor::{Sensor, SensorKind};

/// Steps in a correlation time: each changes the drift by a quarter of its standard deviation.
const STEPS: f64 = 30.0;
/// The shortest step, s: most of what a drift does in less is done to one run of a detector and one approach.
const STEP_LEAST_S: f64 = 20.0;

/// Drifts reach so far where the laws of readings are looked at, in standard deviations, but for one in half a million as they come.
const REACH: f64 = 5.5;

/// A drift as it goes.
#[derive(Clone, Debug)]
pub struct RandomDrift {
    /// What it is now, in the reading's unit.
    now: f64,
    /// Its standard deviation.
    spread: f64,
    step: Span,
    /// Share of it that a step keeps, and the standard deviation of what a step adds.
    keeps: f64,
    adds: f64,
    draws: Stream,
    looks: Source,
}

/// A drift that stands for others, and what it might be a step later.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Looked {
    /// What it adds to the reading beyond what it adds now.
    beyond: f64,
    /// The same after a step.
    beyond_after: f64,
    /// Whether the laws are asked for after the step.
    stepped: bool,
    /// Whether it is another drift than that of now.
    pub is_chosen: bool,
    /// What it is worth: the density of such a drift over that by which it was chosen.
    pub worth: f64,
    /// Steps a day.
    steps_per_day: f64,
}

impl Looked {
    /// What it adds to the reading beyond what it adds now.
    pub fn beyond(&self) -> f64 {
        if self.stepped { self.beyond_after } else { self.beyond }
    }

    /// How often a day the steps of the drift turn something on that holds for a share `before` of the time under this drift and `after` under
    /// the one after a step. What goes on and off quickly, compared with a step, comes on p' (p' - p) times more often after
    /// it than it does in the long run, which is half of (p' - p)^2 in the mean, as there are as many steps back.
    pub fn by_steps(&self, before: f64, after: f64) -> f64 {
        0.5 * self.steps_per_day * (after - before) * (after - before)
    }
}

impl RandomDrift {
    /// The drift of a sensor in one season; none if it has none.
    pub fn of(sensor: &Sensor, seed: u64, season: u64) -> Option<RandomDrift> {
        let (spread, time_s) = (sensor.errors.random_drift, sensor.errors.random_drift_s);
        if spread <= 0.0 {
            return None;
        }
        let step_s = (time_s / STEPS).max(STEP_LEAST_S);
        let mut draws = Source::new(seed, season, &format!("sensor {} drift", sensor.name)).stream(0);
        Some(RandomDrift {
            now: spread * draws.normal(),
            spread,
            step: Span::from_seconds(step_s),
            keeps: libm::exp(-step_s / time_s),
            adds: spread * libm::sqrt(-libm::expm1(-2.0 * step_s / time_s)),
            draws,
            looks: Source::new(seed, season, &format!("sensor {} looked at", sensor.name)),
        })
    }

    /// What it is now, in the reading's unit.
    pub fn now(&self) -> f64 {
        self.now
    }

    /// The drift at which the laws are looked at for the `number`th time: that of now, or one of choice, for which large ones, which bring most
    /// false runs, come much more often than they do (a defensive mixture of the normal law and an even one; Hesterberg,
    /// Technometrics 37, 1995, 185-194).
    fn looked_at(&self, number: u32, is_chosen: bool) -> Looked {
        let mut stream = self.looks.stream(u64::from(number));
        let z = match is_chosen {
            false => self.now / self.spread,
            true if stream.chance(0.5) => stream.normal(),
            true => stream.between(-REACH, REACH),
        };
        let even = if libm::fabs(z) < REACH { 0.5 / REACH } else { 0.0 };
        let density = normal::density(z);
        let after = self.keeps * self.spread * z + self.adds * stream.normal();
        Looked {
            beyond: self.spread * z - self.now,
            beyond_after: after - self.now,
            stepped: false,
            is_chosen,
            worth: if is_chosen { density / (0.5 * density + 0.5 * even) } else { 1.0 },
            steps_per_day: 86_400.0 / self.step.seconds(),
        }
    }

    /// From one step of the grid to the next.
    fn step(&mut self) {
        self.now = self.keeps * self.now + self.adds * self.draws.normal();
    }
}

impl Season<'_> {
    /// Schedules the next step of the drift of sensor `index`, if it has one.
    pub fn schedule_random_drift(&mut self, index: usize) {
        if let Some(drift) = &self.senses[index].random_drift {
            self.queue.schedule(self.now + drift.step, Event::RandomDrift(index as u32));
        }
    }

    /// Has the laws of readings under drifts of choice until [`Season::look_as_is`]: each sensor's own, for the `number`th time. A sensor whose
    /// drift something follows, a tracked zero or a vote that it loses, has the drift of now.
    pub fn look_drifted(&mut self, number: u32) {
        let care = *self.care();
        for sense in &mut self.senses {
            let kind = &self.plan.scenario.sensors[sense.sensor].kind;
            let tracked = matches!(kind, SensorKind::PlatformLoad { .. }) && care.zero_tracking != ZeroTracking::Off;
            let is_chosen = !tracked && !care.unhealthy.drifted;
            sense.looked = sense.random_drift.as_ref().map(|drift| drift.looked_at(number, is_chosen));
        }
    }

    /// Has the laws of sensor `index` a step of its drift later, or as before it.
    pub fn look_stepped(&mut self, index: usize, stepped: bool) {
        if let Some(looked) = &mut self.senses[index].looked {
            looked.stepped = stepped;
        }
    }

    /// Has the laws of readings as they are again.
    pub fn look_as_is(&mut self) {
        self.senses.iter_mut().for_each(|sense| sense.looked = None);
    }

    /// The drift of sensor `index` takes a step.
    pub fn random_drift_steps(&mut self, index: usize) {
        if let Some(drift) = &mut self.senses[index].random_drift {
            drift.step();
        }
        self.refresh_one(index);
        self.judge_drift();
        self.schedule_random_drift(index);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::sensor::Errors;

    /// Mean 0, the standard deviation asked for, and the autocorrelation exp(-lag / time) of the theory at half the time, the time
    /// and twice the time, from 400 seasons of 40 times each. The effective number of independent values is about n (1 - r) / (1 + r) for the mean
    /// (r: correlation of neighbours) and with r^2 for squares (Bartlett 1946); the bounds are 4 standard errors.
    #[test]
    fn it_has_the_law_of_the_theory() {
        let errors = Errors { random_drift: 0.04, random_drift_s: 7_200.0, ..Errors::NONE };
        let (kind, period) = (SensorKind::RainGauge, Span::from_seconds(1.0));
        let mut sensor = Sensor { name: "gauge".into(), kind, period, latency: Span(0), errors };
        let (seasons, length) = (400, 1_200);
        let paths: Vec<Vec<f64>> = (0..seasons)
            .map(|season| {
                let mut drift = RandomDrift::of(&sensor, 3, season).expect("it drifts");
                assert_eq!(drift.step, Span::from_seconds(240.0));
                (0..length)
                    .map(|_| {
                        let now = drift.now() / 0.04;
                        drift.step();
                        now
                    })
                    .collect()
            })
            .collect();
        let all = (seasons * length) as f64;
        let r: f64 = libm::exp(-1.0 / 30.0);
        let mean = paths.iter().flatten().sum::<f64>() / all;
        assert!(mean.abs() < 4.0 * libm::sqrt((1.0 + r) / (1.0 - r) / all), "{mean}");
        for (lag, expected) in [(0, 1.0), (15, libm::exp(-0.5)), (30, libm::exp(-1.0)), (60, libm::exp(-2.0))] {
            let products = paths.iter().flat_map(|path| path.windows(lag + 1).map(move |it| it[0] * it[lag]));
            let count = (seasons as usize * (length as usize - lag)) as f64;
            let covariance = products.sum::<f64>() / count;
            let error = libm::sqrt(2.0 * (1.0 + r * r) / (1.0 - r * r) / count);
            assert!((covariance - expected).abs() < 4.0 * error, "{lag}: {covariance} against {expected}");
        }
        // Short times have a grid of their own; without a spread there is none.
        sensor.errors.random_drift_s = 60.0;
        assert_eq!(RandomDrift::of(&sensor, 3, 0).map(|it| it.step), Some(Span::from_seconds(20.0)));
        sensor.errors.random_drift = 0.0;
        assert!(RandomDrift::of(&sensor, 3, 0).is_none());
    }

    /// Looks at drifts of choice stand for as many as come: their worth adds up to their number, and what lies beyond z standard deviations to
    /// what the normal law has there (tables: 3.167e-5 beyond 4, 3.398e-6 beyond 4.5), within 4 standard errors.
    #[test]
    fn looks_stand_for_the_law() {
        let errors = Errors { random_drift: 0.5, ..Errors::NONE };
        let (kind, period) = (SensorKind::RainGauge, Span::from_seconds(1.0));
        let sensor = Sensor { name: "gauge".into(), kind, period, latency: Span(0), errors };
        let drift = RandomDrift::of(&sensor, 8, 0).expect("it drifts");
        let looks: Vec<(f64, f64)> = (0..200_000)
            .map(|number| {
                let Looked { beyond, worth, .. } = drift.looked_at(number, true);
                assert!(worth <= 2.0 + 1e-12);
                ((beyond + drift.now()) / 0.5, worth)
            })
            .collect();
        let n = looks.len() as f64;
        for (beyond, exact) in [(f64::INFINITY, 1.0), (-4.0, 3.167e-5), (-4.5, 3.398e-6)] {
            let of = |(z, worth): &(f64, f64)| if *z < beyond { *worth } else { 0.0 };
            let mean = looks.iter().map(of).sum::<f64>() / n;
            let squares: f64 = looks.iter().map(|look| (of(look) - mean).powi(2)).sum();
            let error = libm::sqrt(squares / n / n);
            assert!((mean - exact).abs() < 4.0 * error && error < 0.05 * exact, "{beyond}: {mean} +- {error}");
        }
    }
}
