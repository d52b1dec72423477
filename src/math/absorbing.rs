//! Absorbing Markov chains: how many steps until absorption.
//!
//! Everything here adds and multiplies positive numbers only; nothing is computed as a difference of two larger
//! ones. A wait of 1e20 steps therefore comes out to nearly full precision, where solving with `I - T` as it stands
//! returns noise: the diagonal of `I - T` would be such a difference. Instead each pivot is formed as the sum of the
//! probabilities of leaving the state (Grassmann, Taksar & Heyman, Operations Research 33, 1985, 1107-1116; accuracy:
//! O'Cinneide, Numerische Mathematik 65, 1993, 109-120).

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use thiserror::Error;

/// Largest number of states handled. The dense elimination takes states^3 / 3 operations.
pub const STATES_MAX: usize = 2_048;

/// A chain has more states than can be handled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error("the chain has more than {STATES_MAX} states")]
pub struct TooManyStates;

/// A way out of a state: its probability and where it leads, `None` for absorption.
pub type Way<S> = (f64, Option<S>);

/// A chain that starts in one state and ends in absorption.
#[derive(Clone, Debug, PartialEq)]
pub struct AbsorbingChain {
    /// Ways out of each state; state 0 is the start.
    ways: Vec<Vec<(f64, Option<usize>)>>,
}

/// Mean and standard deviation of the number of steps to absorption.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// Mean number of steps.
    pub mean: f64,
    /// Standard deviation of the number of steps.
    pub sd: f64,
}

impl AbsorbingChain {
    /// Finds all states that can be reached from `start`. `ways` lists the ways out of a state; the probabilities
    /// are not negative and add up to 1. Ways of probability 0 are left out.
    ///
    /// # Errors
    /// If there are more than [`STATES_MAX`] states.
    pub fn explore<S: Ord + Clone, I: IntoIterator<Item = Way<S>>>(
        start: S,
        ways: impl Fn(&S) -> I,
    ) -> Result<AbsorbingChain, TooManyStates> {
        let mut index = BTreeMap::from([(start.clone(), 0)]);
        let mut states = vec![start];
        let mut chain = AbsorbingChain { ways: Vec::new() };
        while chain.ways.len() < states.len() {
            let mut row = Vec::new();
            for (probability, target) in ways(&states[chain.ways.len()]) {
                if probability <= 0.0 {
                    continue;
                }
                let target = target.map(|state| match index.entry(state) {
                    Entry::Occupied(known) => *known.get(),
                    Entry::Vacant(new) => {
                        states.push(new.key().clone());
                        *new.insert(states.len() - 1)
                    }
                });
                row.push((probability, target));
            }
            if states.len() > STATES_MAX {
                return Err(TooManyStates);
            }
            chain.ways.push(row);
        }
        Ok(chain)
    }

    /// Number of states, absorption not counted.
    pub fn states(&self) -> usize {
        self.ways.len()
    }

    /// Mean and standard deviation of the number of steps from the start to absorption; infinite where absorption
    /// is not certain.
    pub fn moments(&self) -> Moments {
        let eliminated = Elimination::new(self);
        let mean = eliminated.solve(&vec![1.0; self.states()]);
        // E[T^2] from a state, with T = 1 + T': 1 + 2 E[T'] + E[T'^2].
        let mut constants = vec![1.0; self.states()];
        for (constant, ways) in constants.iter_mut().zip(&self.ways) {
            for (probability, target) in ways {
                *constant += target.map_or(0.0, |state| 2.0 * probability * mean[state]);
            }
        }
        let square = eliminated.solve(&constants)[0];
        // The only subtraction. Waits are never much more regular than their mean, so little cancels.
        let variance = (square - mean[0] * mean[0]).max(0.0);
        if mean[0].is_finite() && square.is_finite() {
            Moments { mean: mean[0], sd: libm::sqrt(variance) }
        } else {
            Moments { mean: f64::INFINITY, sd: f64::INFINITY }
        }
    }

    /// Probability of absorption within `steps` steps, accurate also where it is tiny.
    pub fn absorbed_within(&self, steps: u64) -> f64 {
        self.distribution_after(steps)[self.states()]
    }

    /// Probability of no absorption within `steps` steps, accurate also where it is tiny.
    pub fn alive_after(&self, steps: u64) -> f64 {
        self.distribution_after(steps)[..self.states()].iter().sum()
    }

    /// Where the chain is after `steps` steps: one probability per state and, last, that of absorption.
    fn distribution_after(&self, steps: u64) -> Vec<f64> {
        let mut row = vec![0.0; self.states() + 1];
        row[0] = 1.0;
        let edges: usize = self.ways.iter().map(Vec::len).sum();
        let size = (self.states() + 1) as f64;
        let squarings = f64::from(u64::BITS - steps.leading_zeros());
        if steps as f64 * edges as f64 <= squarings * size * size * size {
            for _ in 0..steps {
                row = self.step(&row);
            }
            return row;
        }
        let mut power = Dense::transition(self);
        let mut left = steps;
        while left > 0 {
            if left & 1 == 1 {
                row = power.apply(&row);
            }
            left >>= 1;
            if left > 0 {
                power = power.squared();
            }
        }
        row
    }

    fn step(&self, row: &[f64]) -> Vec<f64> {
        let mut next = vec![0.0; row.len()];
        let absorbed = self.states();
        next[absorbed] = row[absorbed];
        for (mass, ways) in row.iter().zip(&self.ways) {
            for (probability, target) in ways {
                next[target.unwrap_or(absorbed)] += mass * probability;
            }
        }
        next
    }

    /// Smallest number of steps by which absorption has probability `q` or more; `None` if that takes more than
    /// 2^62 steps. Found by descent on binary powers of the transition matrix.
    pub fn quantile(&self, q: f64) -> Option<u64> {
        let mut powers = vec![Dense::transition(self)];
        let mut start = vec![0.0; self.states() + 1];
        start[0] = 1.0;
        // The first power of two that is enough bounds the descent.
        let absorbed = self.states();
        while powers.last().is_some_and(|power| power.apply(&start)[absorbed] < q) {
            if powers.len() > 62 {
                return None;
            }
            powers.push(powers.last()?.squared());
        }
        let mut steps = 0;
        for (bit, power) in powers.iter().enumerate().rev() {
            let later = power.apply(&start);
            if later[absorbed] < q {
                start = later;
                steps += 1 << bit;
            }
        }
        Some(steps + 1)
    }

    /// Rate per step at which the chain is absorbed after having survived for long: `-ln` of the largest eigenvalue
    /// among the transient states. Found from the law of the state given survival, by repeated squaring; the chain
    /// must not be periodic.
    pub fn tail_hazard(&self) -> f64 {
        let size = self.states();
        let mut power = Dense::transition(self);
        let mut law = vec![0.0; size + 1];
        law[0] = 1.0;
        // 2^50 steps: enough even for chains that forget slowly; the law usually settles after a few squarings.
        for _ in 0..50 {
            let mut later = power.apply(&law);
            later[size] = 0.0;
            let alive: f64 = later.iter().sum();
            if alive <= 0.0 {
                return f64::INFINITY;
            }
            later.iter_mut().for_each(|mass| *mass /= alive);
            let moved: f64 = later.iter().zip(&law).map(|(a, b)| (a - b).abs()).sum();
            law = later;
            if moved < 1e-15 {
                break;
            }
            power = power.squared_as_is();
            power.forget_absorption();
        }
        let absorbed = self.step(&law)[size];
        -libm::log1p(-absorbed)
    }
}

/// The eliminated system: solves `x = c + T x` for any positive constants `c`.
struct Elimination {
    size: usize,
    /// Below the diagonal the multipliers, above it the eliminated rows.
    matrix: Vec<f64>,
    /// Pivots: probability of leaving each state at its turn.
    leaving: Vec<f64>,
}

impl Elimination {
    fn new(chain: &AbsorbingChain) -> Elimination {
        let size = chain.states();
        let mut matrix = vec![0.0; size * size];
        let mut absorbed = vec![0.0; size];
        for (state, ways) in chain.ways.iter().enumerate() {
            for (probability, target) in ways {
                match target {
                    Some(target) => matrix[state * size + target] += probability,
                    None => absorbed[state] += probability,
                }
            }
        }
        let mut leaving = vec![0.0; size];
        // From the last state to the first, so that the start is left over.
        for pivot in (0..size).rev() {
            let (above, below) = matrix.split_at_mut(pivot * size);
            let row = &below[..pivot];
            leaving[pivot] = row.iter().sum::<f64>() + absorbed[pivot];
            for state in 0..pivot {
                let entry = &mut above[state * size + pivot];
                if *entry == 0.0 {
                    continue;
                }
                *entry /= leaving[pivot];
                let factor = *entry;
                absorbed[state] += factor * absorbed[pivot];
                for (target, probability) in above[state * size..state * size + pivot].iter_mut().zip(row) {
                    *target += factor * probability;
                }
            }
        }
        Elimination { size, matrix, leaving }
    }

    fn solve(&self, constants: &[f64]) -> Vec<f64> {
        let mut x = constants.to_vec();
        for pivot in (0..self.size).rev() {
            for state in 0..pivot {
                let factor = self.matrix[state * self.size + pivot];
                if factor != 0.0 {
                    x[state] += factor * x[pivot];
                }
            }
        }
        for state in 0..self.size {
            let row = &self.matrix[state * self.size..state * self.size + state];
            let known: f64 = row.iter().zip(&x).map(|(probability, value)| probability * value).sum();
            x[state] = (x[state] + known) / self.leaving[state];
        }
        x
    }
}

/// A square matrix with the absorbing state as last row and column.
struct Dense {
    size: usize,
    entries: Vec<f64>,
}

impl Dense {
    fn transition(chain: &AbsorbingChain) -> Dense {
        let size = chain.states() + 1;
        let mut entries = vec![0.0; size * size];
        for (state, ways) in chain.ways.iter().enumerate() {
            for (probability, target) in ways {
                entries[state * size + target.unwrap_or(size - 1)] += probability;
            }
        }
        entries[size * size - 1] = 1.0;
        Dense { size, entries }
    }

    /// The matrix of twice as many steps. Each row is brought back to the sum 1 by its larger part, staying or
    /// absorbed; otherwise the rounding of 1 - 1e-9 would double with every squaring and drown the 1e-9.
    fn squared(&self) -> Dense {
        let mut square = self.squared_as_is();
        for row in square.entries.chunks_exact_mut(self.size) {
            let Some((absorbed, staying)) = row.split_last_mut() else { break };
            let stay: f64 = staying.iter().sum();
            if *absorbed > stay {
                *absorbed = 1.0 - stay;
            } else {
                let scale = (1.0 - *absorbed) / stay;
                staying.iter_mut().for_each(|entry| *entry *= scale);
            }
        }
        square
    }

    fn squared_as_is(&self) -> Dense {
        let entries = self.entries.chunks_exact(self.size).flat_map(|row| self.apply(row)).collect();
        Dense { size: self.size, entries }
    }

    fn apply(&self, row: &[f64]) -> Vec<f64> {
        let mut product = vec![0.0; self.size];
        for (mass, entries) in row.iter().zip(self.entries.chunks_exact(self.size)) {
            if *mass != 0.0 {
                product.iter_mut().zip(entries).for_each(|(sum, entry)| *sum += mass * entry);
            }
        }
        product
    }

    /// Clears the absorbing column and brings the rest back to size, so that squaring goes on with the conditional
    /// law of the survivors instead of vanishing.
    fn forget_absorption(&mut self) {
        let size = self.size;
        for state in 0..size {
            self.entries[state * size + size - 1] = 0.0;
        }
        let largest = self.entries.iter().copied().fold(0.0, f64::max);
        if largest > 0.0 {
            self.entries.iter_mut().for_each(|entry| *entry /= largest);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The gambler's fortune between 0 and `top`: absorbed at both ends. Mean duration `start * (top - start)` for
    /// a fair coin (Feller, vol. 1, 3rd ed., XIV.3).
    #[test]
    fn the_fair_game_lasts_as_long_as_feller_says() {
        let game = |fortune: &u32| {
            [-1, 1].map(|step| {
                let next = fortune.checked_add_signed(step).filter(|next| *next > 0 && *next < 20);
                (0.5, next)
            })
        };
        let chain = AbsorbingChain::explore(7, game).expect("a small chain");
        assert_eq!(chain.states(), 19);
        assert!((chain.moments().mean - 7.0 * 13.0).abs() < 1e-10);
        assert!((chain.absorbed_within(5) + chain.alive_after(5) - 1.0).abs() < 1e-15);
        // Largest eigenvalue of the walk on 1..20 is cos(pi / 20); waiting every other time makes it aperiodic.
        let lazy = |fortune: &u32| {
            game(fortune)
                .into_iter()
                .map(|(p, next)| (p / 2.0, next))
                .chain([(0.5, Some(*fortune))])
                .collect::<Vec<_>>()
        };
        let chain = AbsorbingChain::explore(7, lazy).expect("a small chain");
        let hazard = -(0.5 + 0.5 * (std::f64::consts::PI / 20.0).cos()).ln();
        assert!((chain.tail_hazard() / hazard - 1.0).abs() < 1e-12);
    }

    /// One state left with probability p each step: geometric law.
    #[test]
    fn the_geometric_wait() {
        for p in [0.3, 1e-9] {
            let chain = AbsorbingChain::explore((), |_| [(1.0 - p, Some(())), (p, None)]).expect("one state");
            let Moments { mean, sd } = chain.moments();
            assert!((mean * p - 1.0).abs() < 1e-14 && (sd * p / (1.0 - p).sqrt() - 1.0).abs() < 1e-9);
            let median = ((0.5_f64).ln() / (-p).ln_1p()).ceil();
            assert_eq!(chain.quantile(0.5), Some(median as u64));
            assert!((chain.tail_hazard() / -(-p).ln_1p() - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn endless_and_oversized_chains_are_told_apart() {
        let endless = AbsorbingChain::explore((), |_| [(1.0, Some(()))]).expect("one state");
        assert_eq!(endless.moments().mean, f64::INFINITY);
        assert_eq!(endless.quantile(0.5), None);
        assert_eq!(endless.absorbed_within(1 << 40), 0.0);
        assert_eq!(AbsorbingChain::explore(0_u64, |n| [(1.0, Some(n + 1))]), Err(TooManyStates));
    }
}
