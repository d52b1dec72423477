//! Exact laws for noise that remembers: false runs and misses of detectors made of hits.
//!
//! Independent samples make a debounce look far better than it is: with a correlation of 0.9 from sample to sample,
//! three hits of five come 200 times as often as the hit probability suggests. Here the state is the noise itself together
//! with what the detector remembers of the last hits. The noise is a first-order autoregression ([`super::noise`]); its
//! values are taken at the nodes of a Gauss-Legendre rule on each stretch between the values at which a reading changes
//! sides, so that every function that is integrated is smooth there (Nystroem's method; Brook & Evans, Biometrika 59, 1972,
//! 539-549, did the same with cells).

use super::approach::{Evidence, Odds, QuietChain};
use super::law::Law;
use super::window::{RunRuleError, advance, checked};
use crate::math::absorbing::{AbsorbingChain, TooManyStates};
use crate::math::normal;
use crate::math::quadrature::Quadrature;
use crate::scenario::strategy::RunRule;
use statrs::distribution::{ContinuousCDF as _, Normal};

/// Correlation from one sample to the next beyond which formulas for independent samples mislead (common practice).
pub const MATTERS: f64 = 0.1;

/// Noise beyond this many standard deviations has no weight that a double could show beside the rest.
const EDGE: f64 = 7.5;

/// Nodes per width of the transition's density: enough for eight digits.
const NODES_PER_WIDTH: f64 = 1.6;

/// Nodes on [-EDGE, EDGE] with stretches ending at `cuts`, each as (value, weight), `per_width` of them and more to a width of
/// the transition's density.
fn nodes(cuts: &[f64], correlation: f64, per_width: f64) -> Vec<(f64, f64)> {
    let width = libm::sqrt((1.0 - correlation) * (1.0 + correlation));
    let mut ends: Vec<f64> = cuts.iter().copied().filter(|cut| cut.abs() < EDGE).collect();
    ends.extend([-EDGE, EDGE]);
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    let mut nodes = Vec::new();
    for pair in ends.windows(2) {
        let count = libm::ceil(per_width * (pair[1] - pair[0]) / width) as usize + 6;
        let rule = Quadrature::legendre(count, pair[0], pair[1]);
        nodes.extend(rule.nodes.into_iter().zip(rule.weights));
    }
    nodes
}

/// The law of the number of samples until k of the last n are hits, each a hit with probability `p`, by noise with this
/// correlation (0 to below 1) that has gone on for ever; missing samples before the first count as misses.
///
/// # Errors
/// If the rule is impossible or has too many states.
pub fn run_length(rule: RunRule, p: f64, correlation: f64) -> Result<AbsorbingChain, RunRuleError> {
    let level = Normal::standard().inverse_cdf(1.0 - p);
    let nodes = nodes(&[level], correlation, NODES_PER_WIDTH);
    let width = libm::sqrt((1.0 - correlation) * (1.0 + correlation));
    let to_each = |density: &dyn Fn(f64) -> f64| -> Vec<f64> {
        let weights: Vec<f64> = nodes.iter().map(|(value, weight)| weight * density(*value)).collect();
        // What the rule and the edge leave out is a matter of the last digits.
        let total: f64 = weights.iter().sum();
        weights.into_iter().map(|weight| weight / total).collect()
    };
    let steps = Steps {
        hits: nodes.iter().map(|(value, _)| *value >= level).collect(),
        first: to_each(&normal::density),
        next: nodes
            .iter()
            .map(|(from, _)| to_each(&|value| normal::density((value - correlation * from) / width)))
            .collect(),
    };
    run_length_of(rule, &steps)
}

/// Noise on a few values: which of them are hits, the chance of each at the first sample, and from each to each.
struct Steps {
    hits: Vec<bool>,
    first: Vec<f64>,
    next: Vec<Vec<f64>>,
}

fn run_length_of(rule: RunRule, steps: &Steps) -> Result<AbsorbingChain, RunRuleError> {
    checked(rule)?;
    // The state is the last sample's noise, none before the first, and the window.
    AbsorbingChain::explore((None, 0), |(from, window): &(Option<usize>, u64)| {
        let chances = from.map_or(&steps.first, |from| &steps.next[from]);
        let window = *window;
        chances.iter().enumerate().map(move |(to, chance)| {
            let after = advance(rule, window, steps.hits[to]);
            (*chance, after.map(|window| (Some(to), window)))
        })
    })
    .map_err(|TooManyStates| RunRuleError::TooManyStates { k: rule.k, n: rule.n })
}

/// The law of a detector's state along an approach while it is off, with noise that remembers.
#[derive(Clone, Debug)]
pub struct RememberedMass {
    correlation: f64,
    /// The noise's nodes, and for each state the mass at each of them; none before the first sample that could be a hit:
    /// the noise is then as it ever was, and the detector has no evidence.
    at: Option<(Vec<f64>, Vec<Vec<f64>>)>,
}

/// Hit probabilities below this are passed over while there is no evidence.
const NOTHING_YET: f64 = 1e-14;

impl RememberedMass {
    /// A detector without evidence, under noise with this correlation from sample to sample.
    pub fn new(correlation: f64) -> RememberedMass {
        RememberedMass { correlation, at: None }
    }

    /// The probability of having stayed off.
    pub fn total(&self) -> f64 {
        self.at.as_ref().map_or(1.0, |(_, of)| of.iter().flatten().sum())
    }

    /// One sample under `law`.
    pub fn step(&mut self, chain: &QuietChain, law: &Law) {
        if self.at.is_none() && chain.odds(law).hit < NOTHING_YET {
            return;
        }
        let nodes = nodes(&chain.cuts(law), self.correlation, NODES_PER_WIDTH);
        let width = libm::sqrt((1.0 - self.correlation) * (1.0 + self.correlation));
        let states = chain.states();
        // Mass that arrives at each node, by state.
        let arrives: Vec<Vec<f64>> = match &self.at {
            None => {
                let mut of = vec![Vec::new(); states];
                if let Some(start) = chain.state_of(Evidence { hits: 0, spoke: 0 }) {
                    of[start] = nodes.iter().map(|(value, weight)| weight * normal::density(*value)).collect();
                }
                of
            }
            Some((before, of)) => {
                let kernel: Vec<Vec<f64>> = nodes
                    .iter()
                    .map(|(value, weight)| {
                        let density = |from: &f64| normal::density((value - self.correlation * from) / width) / width;
                        before.iter().map(|from| weight * density(from)).collect()
                    })
                    .collect();
                let moved = |mass: &Vec<f64>| -> Vec<f64> {
                    if mass.iter().all(|mass| *mass <= 0.0) {
                        return Vec::new();
                    }
                    kernel.iter().map(|row| row.iter().zip(mass).map(|(k, m)| k * m).sum()).collect()
                };
                of.iter().map(moved).collect()
            }
        };
        let odds: Vec<Odds> = nodes.iter().map(|(value, _)| chain.odds(&law.at_noise(*value))).collect();
        let mut of = vec![vec![0.0; nodes.len()]; states];
        for (state, mass) in arrives.iter().enumerate() {
            for (way, to) in chain.ways(state).into_iter().enumerate() {
                let Some(to) = to else { continue };
                for ((sum, mass), odds) in of[to].iter_mut().zip(mass).zip(&odds) {
                    *sum += mass * [odds.hit, odds.miss, odds.nothing][way];
                }
            }
        }
        self.at = Some((nodes.into_iter().map(|(value, _)| value).collect(), of));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same noise cut into cells, each standing for its middle, with the exact chance of each cell from there: means of
    /// the run length err by the square of the cells' width, so that those of two widths extrapolate (Richardson) to the
    /// law without cells.
    #[test]
    fn ever_smaller_cells_lead_to_the_same_law() {
        let rule = RunRule { k: 2, n: 3 };
        for (p, correlation) in [(0.05, 0.6), (0.01, 0.3)] {
            let level = Normal::standard().inverse_cdf(1.0 - p);
            let width = libm::sqrt((1.0 - correlation) * (1.0 + correlation));
            let mean = |cells: usize| {
                let of = |from: f64, to: f64, count: usize| {
                    (0..=count).map(move |i| from + (to - from) * i as f64 / count as f64).collect::<Vec<f64>>()
                };
                let low = (cells as f64 * (level + EDGE) / (2.0 * EDGE)) as usize;
                let mut ends = of(-EDGE, level, low);
                ends.extend(of(level, EDGE, cells - low).into_iter().skip(1));
                let chances = |mean: f64, width: f64| -> Vec<f64> {
                    let chance = |pair: &[f64]| {
                        let [a, b] = [0, 1].map(|end| (pair[end] - mean) / width);
                        if a > 0.0 { normal::tail(a) - normal::tail(b) } else { normal::cdf(b) - normal::cdf(a) }
                    };
                    ends.windows(2).map(chance).collect()
                };
                let middles: Vec<f64> = ends.windows(2).map(|pair| 0.5 * (pair[0] + pair[1])).collect();
                let steps = Steps {
                    hits: middles.iter().map(|middle| *middle > level).collect(),
                    first: chances(0.0, 1.0),
                    next: middles.iter().map(|middle| chances(correlation * middle, width)).collect(),
                };
                run_length_of(rule, &steps).expect("small").moments().mean
            };
            let exact = run_length(rule, p, correlation).expect("small").moments().mean;
            let [coarse, fine] = [mean(120), mean(240)];
            let better = fine + (fine - coarse) / 3.0;
            assert!((fine / exact - 1.0).abs() < 5e-3, "{fine} {exact}");
            assert!(
                (better / exact - 1.0).abs() < 0.1 * (fine / exact - 1.0).abs(),
                "{coarse} {fine} {better} {exact}"
            );
        }
    }

    /// Twice the nodes change nothing that matters.
    #[test]
    fn the_nodes_are_enough() {
        let law = Law {
            targets: [
                super::super::law::Target { weight: 0.9, mean: 1.25, sigma: 0.2 },
                super::super::law::Target { weight: 0.0, mean: 0.0, sigma: 0.0 },
            ],
            ..Law::SILENT
        };
        assert_eq!(law.noise_cuts(1.0, true).len(), 1);
        let integral = |per_width: f64| -> f64 {
            let nodes = nodes(&law.noise_cuts(1.0, true), 0.9, per_width);
            let hit = |value: f64| if law.at_noise(value).split(1.0, true).0 > 0.0 { 1.0 } else { 0.0 };
            nodes.iter().map(|(value, weight)| weight * normal::density(*value) * hit(*value)).sum()
        };
        let exact = normal::tail(1.25);
        assert!((integral(NODES_PER_WIDTH) / exact - 1.0).abs() < 1e-8, "{} {exact}", integral(NODES_PER_WIDTH));
        assert!((integral(2.0 * NODES_PER_WIDTH) / exact - 1.0).abs() < 1e-11);
    }
}
