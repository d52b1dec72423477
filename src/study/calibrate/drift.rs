//! White noise and slow drift, fitted to an Allan curve.
//!
//! The model: independent noise on every reading, and a drift that forgets itself (first-order Gauss-Markov, also called
//! Ornstein-Uhlenbeck) with a standard deviation and a correlation time. Its Allan variance is known exactly for sampled
//! readings. The fit takes each octave's variance as chi-square distributed with its degrees of freedom (quasi
//! maximum likelihood: neighbouring octaves are not independent), so its interval does not come from the likelihood but
//! from fits to logs drawn from the fitted model (parametric bootstrap, Efron & Tibshirani 1993).

use rayon::prelude::*;

use super::Measured;
use super::allan::{Sparse, octaves, sparse};
use crate::math::random::Source;
use crate::math::simplex::minimise;

/// White noise, drift, and the drift's memory.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Model {
    /// Standard deviation of the white noise, the rounding of readings among it.
    pub white: f64,
    /// Standard deviation of the slow drift.
    pub slow: f64,
    /// Its correlation time in readings.
    pub memory: f64,
}

/// Below this product of readings and rate the closed form loses its digits to cancellation, and a random walk is as good.
const NEARLY_A_WALK: f64 = 1e-4;

impl Model {
    /// Allan variance of means of `m` readings: var(mean) - cov(mean, next mean) of the autocovariance s^2 phi^|lag|.
    pub fn variance(&self, m: usize) -> f64 {
        self.variance_sparse(m, 1.0 / m as f64)
    }

    /// The same where readings are missing, so that white noise of variance 1 has `white_of_one`.
    fn variance_sparse(&self, m: usize, white_of_one: f64) -> f64 {
        let m = m as f64;
        let white = self.white * self.white * white_of_one;
        // 1 - phi and 1 - phi^m without cancellation.
        let rate = -libm::expm1(-1.0 / self.memory);
        let square = self.slow * self.slow;
        if m * rate < NEARLY_A_WALK {
            return white + square * 2.0 * rate * m * (1.0 / 3.0 + 1.0 / (6.0 * m * m));
        }
        let (phi, forgotten) = (1.0 - rate, -libm::expm1(-m / self.memory));
        let mean = m * (1.0 + phi) / rate - 2.0 * phi * forgotten / (rate * rate);
        let next = phi * forgotten * forgotten / (rate * rate);
        white + square * (mean - next) / (m * m)
    }

    /// Draws `n` readings about 0.
    fn draw(&self, n: usize, number: u64) -> Vec<f64> {
        let mut stream = Source::new(0, 0, "drift bootstrap").stream(number);
        let phi = libm::exp(-1.0 / self.memory);
        let fresh = libm::sqrt(-libm::expm1(-2.0 / self.memory));
        let mut drift = stream.normal();
        (0..n)
            .map(|_| {
                drift = phi * drift + fresh * stream.normal();
                self.slow * drift + self.white * stream.normal()
            })
            .collect()
    }
}

/// A fitted model with its intervals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// The model.
    pub model: Model,
    /// Standard deviation of the white noise, the rounding of readings among it.
    pub white: Measured,
    /// Standard deviation of the slow drift.
    pub slow: Measured,
    /// Its correlation time, s.
    pub time_s: Measured,
    /// Whether the log is long enough to see the drift turn round: five of its correlation times (common practice). If
    /// not, its strength and time are at least what is said.
    pub turns: bool,
}

/// Readings drawn for the bootstrap, over all replicates.
const DRAWS: usize = 10_000_000;
/// Fewest and most replicates.
const REPLICATES: (usize, usize) = (80, 200);
/// Correlation times that a log must hold for its drift to turn round (common practice).
const TIMES: f64 = 5.0;

/// Fits the model to readings at `places` of the samples due, which rise in a straight line by `ramp` per place (0 if they
/// don't); none for a log too short for four octaves.
pub fn fit(places: &[u64], readings: &[f64], period_s: f64, ramp: f64, confidence: f64) -> Option<Drift> {
    let n = places.last().zip(places.first()).map_or(0, |(last, first)| last - first + 1) as usize;
    let curve = sparse(places, readings);
    if curve.len() < 4 {
        return None;
    }
    let model = fit_model(&curve, n, ramp, None);
    let replicates = (DRAWS / n.max(1)).clamp(REPLICATES.0, REPLICATES.1);
    let drawn: Vec<Model> = (0..replicates as u64)
        .into_par_iter()
        .map(|number| {
            let all: Vec<u64> = (0..n as u64).collect();
            fit_model(&sparse(&all, &model.draw(n, number)), n, 0.0, Some(model))
        })
        .collect();
    let ends = |of: fn(&Model) -> f64| {
        let mut values: Vec<f64> = drawn.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        let at = |p: f64| values[((p * (values.len() + 1) as f64) as usize).clamp(1, values.len()) - 1];
        let tail = 0.5 * (1.0 - confidence);
        (at(tail), at(1.0 - tail))
    };
    let measured = |value: f64, (low, high): (f64, f64)| Measured::between(value, low.min(value), high.max(value));
    Some(Drift {
        model,
        white: measured(model.white, ends(|model| model.white)),
        slow: measured(model.slow, ends(|model| model.slow)),
        time_s: measured(model.memory, ends(|model| model.memory)).map(|readings| readings * period_s),
        turns: model.memory * TIMES < n as f64,
    })
}

/// The likeliest model of a curve; `near` is where to begin if that is known.
fn fit_model(curve: &[Sparse], n: usize, ramp: f64, near: Option<Model>) -> Model {
    // A memory between one reading and the whole log.
    let (shortest, longest) = (0.0, libm::log(n as f64));
    let model = |at: &[f64]| {
        let share = 1.0 / (1.0 + libm::exp(-at[2]));
        Model {
            white: libm::exp(at[0]),
            slow: libm::exp(at[1]),
            memory: libm::exp(shortest + (longest - shortest) * share),
        }
    };
    let mut misfit = |at: &[f64]| {
        let model = model(at);
        let of = |place: &Sparse| {
            let rising = ramp * place.places as f64;
            let expected = model.variance_sparse(place.places, place.white) + 0.5 * rising * rising;
            place.freedom * (libm::log(expected) + place.variance / expected)
        };
        curve.iter().filter(|place| place.freedom > 0.0).map(of).sum::<f64>()
    };
    let place_of = |memory: f64| {
        let share = ((libm::log(memory) - shortest) / (longest - shortest)).clamp(1e-3, 1.0 - 1e-3);
        libm::log(share / (1.0 - share))
    };
    let first = libm::sqrt(curve[0].variance);
    let starts: Vec<[f64; 3]> = match near {
        Some(model) => vec![[libm::log(model.white), libm::log(model.slow), place_of(model.memory)]],
        // The curve of such a drift is highest, 0.62 of its strength, at 1.89 correlation times (IEEE Std 952, from
        // memory); try every octave as that place.
        None => octaves(n)
            .step_by(2)
            .skip(1)
            .filter_map(|m| curve.iter().find(|place| place.places == m))
            .map(|place| {
                let strength = libm::log(libm::sqrt(place.variance) / 0.62);
                [libm::log(first), strength, place_of(place.places as f64 / 1.89)]
            })
            .collect(),
    };
    let mut best: Option<(f64, Vec<f64>)> = None;
    for start in starts {
        let rough = minimise(&mut misfit, &start, 0.5, 1e-9, 600);
        let fine = minimise(&mut misfit, &rough.at, 0.1, 1e-10, 600);
        if best.as_ref().is_none_or(|(value, _)| fine.value < *value) {
            best = Some((fine.value, fine.at));
        }
    }
    best.map_or(Model { white: first, slow: 0.0, memory: 1.0 }, |(_, at)| model(&at))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The closed form against the double sum over the autocovariance, and its hand-over to the random walk.
    #[test]
    fn closed_form() {
        for (memory, m) in [(0.5, 3), (20.0, 1), (20.0, 16), (300.0, 40), (5_000.0, 7)] {
            let model = Model { white: 0.3, slow: 1.7, memory };
            let covariance = |lag: i64| 1.7 * 1.7 * (-(lag.abs() as f64) / memory).exp();
            let mut sum = 0.0;
            for j in 0..m {
                for k in 0..m {
                    sum += covariance(j - k) - covariance(j - k - m);
                }
            }
            let exact = 0.09 / m as f64 + sum / (m * m) as f64;
            let found = model.variance(m as usize);
            assert!((found / exact - 1.0).abs() < 1e-8, "{memory}, {m}: {found} {exact}");
        }
        let model = Model { white: 0.0, slow: 1.0, memory: 8.0 / NEARLY_A_WALK };
        let (walk, closed) = (model.variance(7), Model { memory: 6.9 / NEARLY_A_WALK, ..model }.variance(7));
        assert!((walk * 8.0 / (closed * 6.9) - 1.0).abs() < 1e-3);
    }

    /// Known models are found again: the log of each parameter within 4.5 of its spread over repeats.
    #[test]
    fn known_models() {
        let truth = Model { white: 1.0, slow: 0.8, memory: 60.0 };
        let fitted: Vec<Model> = (0..12)
            .map(|number| {
                let readings = truth.draw(12_000, 1_000 + number);
                let all: Vec<u64> = (0..12_000).collect();
                fit_model(&sparse(&all, &readings), 12_000, 0.0, None)
            })
            .collect();
        for (name, of, exact) in [
            ("white", (|model| model.white) as fn(&Model) -> f64, 1.0_f64),
            ("slow", |model| model.slow, 0.8),
            ("memory", |model| model.memory, 60.0),
        ] {
            let logs: Vec<f64> = fitted.iter().map(|model| (of(model) / exact).ln()).collect();
            let mean = logs.iter().sum::<f64>() / 12.0;
            let error = (logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / 11.0 / 12.0).sqrt();
            assert!(mean.abs() < 4.5 * error && error < 0.1, "{name}: {mean} +- {error}");
        }
    }
}
