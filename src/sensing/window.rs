//! The window of a k-of-n run rule: what must be remembered of the last samples.
//!
//! A window is the last n - 1 samples as bits, the newest in bit 0, a 1 for a hit. Hits that can no longer take part
//! in any alarm are forgotten at once, which leaves fewer states than the windows with at most k - 1 hits: k states
//! instead of 2^(k-1) for "k in a row".

use crate::math::absorbing::STATES_MAX;
use crate::math::random::Stream;
use crate::scenario::strategy::{Dropped, RunRule};
use std::collections::BTreeMap;
use thiserror::Error;

/// A run rule that can't be computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum RunRuleError {
    /// k is 0 or larger than n, or n is larger than 64.
    #[error("a run rule needs 1 <= k <= n <= 64, not {k} of {n}")]
    Impossible {
        /// Hits asked for.
        k: usize,
        /// Samples looked at.
        n: usize,
    },
    /// The window has too many states.
    #[error("a run rule of {k} of {n} has more than {STATES_MAX} states; a smaller k, or a k nearer to n, has fewer")]
    TooManyStates {
        /// Hits asked for.
        k: usize,
        /// Samples looked at.
        n: usize,
    },
}

/// Checks that a rule can be a rule.
pub(super) fn checked(rule: RunRule) -> Result<RunRule, RunRuleError> {
    if rule.k >= 1 && rule.k <= rule.n && rule.n <= 64 {
        Ok(rule)
    } else {
        Err(RunRuleError::Impossible { k: rule.k, n: rule.n })
    }
}

/// The window after one more sample, or `None` for an alarm: at least k hits among this sample and the last n - 1.
///
/// The rule must satisfy 1 <= k <= n <= 64. The empty window is 0.
pub fn advance(rule: RunRule, window: u64, hit: bool) -> Option<u64> {
    let hits = window.count_ones() as usize + usize::from(hit);
    if hits >= rule.k {
        return None;
    }
    let kept = (1_u64 << (rule.n - 1)) - 1;
    Some(forget(rule, ((window << 1) | u64::from(hit)) & kept))
}

/// Drops hits that can't take part in an alarm any more. The best that can follow are hits only: an alarm after t of
/// them needs the hits of age at most n - t (age 1 is the newest) and t to make k. A hit of age a leaves the window
/// after n - a further samples, so it is idle if no t up to n - a reaches k. Idle hits are always the oldest ones.
pub(super) fn forget(rule: RunRule, mut window: u64) -> u64 {
    while window != 0 {
        let oldest = (u64::BITS - 1 - window.leading_zeros()) as usize;
        let age = oldest + 1;
        let useful = (1..=rule.n - age).any(|t| {
            let in_view = rule.n - t;
            let mask = (1_u64 << in_view) - 1;
            (window & mask).count_ones() as usize + t >= rule.k
        });
        if useful {
            break;
        }
        window &= !(1 << oldest);
    }
    window
}

/// What became of a sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It was a hit.
    Spoke,
    /// It was none.
    Quiet,
    /// It had no reading and is left out of the window.
    LeftOut,
}

/// One of these, in proportion to its weight; none if none has any.
fn pick<T>(ways: impl Iterator<Item = (T, f64)> + Clone, stream: &mut Stream) -> Option<T> {
    let total: f64 = ways.clone().map(|(_, weight)| weight).sum();
    let mut u = stream.uniform() * total;
    let mut chosen = None;
    for (way, weight) in ways.filter(|(_, weight)| *weight > 0.0) {
        chosen = Some(way);
        if u < weight {
            break;
        }
        u -= weight;
    }
    chosen
}

/// One sample along an approach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Probability that a reading, if there is one, is a hit.
    pub hit: f64,
    /// Probability that there is no reading.
    pub dropped: f64,
}

/// A probability far below rounding.
const NEVER: f64 = 1e-20;

/// How many samples, each left out with probability `left_out`, have n - 1 among them that are not (but for a probability far below
/// rounding: of m samples more than m - n + 1 would have to be left out, C(m, m - n + 2) ways; 32 n are enough in any case).
fn looked_back_on(n: usize, left_out: f64) -> u64 {
    let least = n - 1;
    let (mut samples, mut ways) = (least, least as f64 * left_out);
    while ways > NEVER && samples < 32 * n {
        samples += 1;
        ways *= samples as f64 / (samples + 1 - least) as f64 * left_out;
    }
    samples as u64
}

/// All windows of a rule, numbered, with what follows each.
#[derive(Clone, Debug, PartialEq)]
pub struct Windows {
    /// Window after a miss, per window; 0 is the empty one.
    after_miss: Vec<usize>,
    /// Window after a hit, `None` for an alarm.
    after_hit: Vec<Option<usize>>,
}

impl Windows {
    /// Numbers the windows of `rule`.
    ///
    /// # Errors
    /// If the rule is impossible or has too many windows.
    pub fn new(rule: RunRule) -> Result<Windows, RunRuleError> {
        checked(rule)?;
        let mut index = BTreeMap::from([(0, 0)]);
        let mut found = vec![0];
        let mut windows = Windows { after_miss: Vec::new(), after_hit: Vec::new() };
        while windows.after_miss.len() < found.len() {
            let window = found[windows.after_miss.len()];
            let mut number = |next: u64| {
                *index.entry(next).or_insert_with(|| {
                    found.push(next);
                    found.len() - 1
                })
            };
            // A miss can raise an alarm only from a window that already holds k hits, and there is none.
            windows.after_miss.push(advance(rule, window, false).map_or(0, &mut number));
            windows.after_hit.push(advance(rule, window, true).map(&mut number));
            if found.len() > STATES_MAX {
                return Err(RunRuleError::TooManyStates { k: rule.k, n: rule.n });
            }
        }
        Ok(windows)
    }

    /// Number of windows.
    pub fn count(&self) -> usize {
        self.after_miss.len()
    }

    /// Probability that a further hit raises an alarm, given that none was raised within `samples` samples from the empty
    /// window on, each a hit with probability `hit` and left out with probability `left_out`. Ends early once the law
    /// of the windows has settled. `room` is scratch.
    pub fn armed_after(&self, hit: f64, left_out: f64, samples: u64, length: usize, room: &mut [Vec<f64>; 2]) -> f64 {
        let [law, next] = room;
        law.clear();
        law.resize(self.count(), 0.0);
        law[0] = 1.0;
        next.resize(self.count(), 0.0);
        let armed_in = |law: &[f64]| -> f64 {
            law.iter().zip(&self.after_hit).filter(|(_, after)| after.is_none()).map(|(mass, _)| mass).sum()
        };
        let mut armed = armed_in(law);
        let mut steady = 0;
        for _ in 0..samples {
            self.one_more(law, next, hit, left_out);
            std::mem::swap(law, next);
            let before = std::mem::replace(&mut armed, armed_in(law));
            // Once a whole window has gone by without a change that rounding could show, nothing changes any more.
            steady = if (armed - before).abs() <= 4.0 * f64::EPSILON * armed { steady + 1 } else { 0 };
            if steady > 4 * length {
                break;
            }
        }
        armed
    }

    /// The law of the windows after one more sample that raised no alarm.
    fn one_more(&self, law: &[f64], next: &mut [f64], hit: f64, left_out: f64) {
        next.fill(0.0);
        for (window, mass) in law.iter().copied().enumerate() {
            next[self.after_miss[window]] += mass * (1.0 - hit - left_out);
            next[window] += mass * left_out;
            if let Some(after) = self.after_hit[window] {
                next[after] += mass * hit;
            }
        }
        let total: f64 = next.iter().sum();
        next.iter_mut().for_each(|mass| *mass /= total);
    }

    /// Draws what became of the last of `samples` samples after the empty window, newest first into `fates`, given that they
    /// raised no alarm and that one more hit does: the windows forwards, their law at each of the last samples kept, and then
    /// backwards from one that is armed, until n - 1 that were not left out are found, or all there were. `laws` is scratch.
    pub fn draw_armed(
        &self,
        rule: RunRule,
        (hit, left_out): (f64, f64),
        samples: u64,
        laws: &mut Vec<f64>,
        stream: &mut Stream,
        fates: &mut Vec<Fate>,
    ) {
        let count = self.count();
        let last = samples.min(looked_back_on(rule.n, left_out)) as usize;
        laws.clear();
        laws.resize((last + 2) * count, 0.0);
        laws[0] = 1.0;
        let mut steady = 0;
        for _ in 0..samples - last as u64 {
            let (law, next) = laws.split_at_mut(count);
            self.one_more(law, &mut next[..count], hit, left_out);
            let change: f64 = law.iter().zip(&*next).map(|(a, b)| libm::fabs(a - b)).sum();
            law.copy_from_slice(&next[..count]);
            steady = if change <= 4.0 * f64::EPSILON { steady + 1 } else { 0 };
            if steady > 4 * rule.n {
                break;
            }
        }
        for sample in 0..last {
            let (before, after) = laws.split_at_mut((sample + 1) * count);
            self.one_more(&before[sample * count..], &mut after[..count], hit, left_out);
        }
        let armed = |window: usize| self.after_hit[window].is_none();
        let law = &laws[last * count..(last + 1) * count];
        let mut window = pick((0..count).filter(|w| armed(*w)).map(|w| (w, law[w])), stream).unwrap_or(0);
        fates.clear();
        let mut places = 0;
        for sample in (0..last).rev() {
            if places + 1 == rule.n {
                break;
            }
            let law = &laws[sample * count..(sample + 1) * count];
            let ways = (0..count).flat_map(|before| {
                let quiet = if self.after_miss[before] == window { 1.0 - hit - left_out } else { 0.0 };
                let left = if before == window { left_out } else { 0.0 };
                let spoke = if self.after_hit[before] == Some(window) { hit } else { 0.0 };
                let fates = [(Fate::Quiet, quiet), (Fate::LeftOut, left), (Fate::Spoke, spoke)];
                fates.map(|(fate, p)| ((before, fate), law[before] * p))
            });
            let Some((before, fate)) = pick(ways, stream) else { return };
            fates.push(fate);
            places += usize::from(fate != Fate::LeftOut);
            window = before;
        }
    }

    /// Probability that the rule raises no alarm over the samples of an approach, starting from the empty window:
    /// a dynamic programme over samples that only adds positive terms, so that 1e-12 comes out as exactly as 0.5.
    ///
    /// `convention` says what a sample without a reading does: [`Dropped::Quiet`] counts it as a miss,
    /// [`Dropped::Hold`] leaves the window as it is, [`Dropped::Reset`] empties it.
    pub fn miss_probability(&self, convention: Dropped, samples: impl Iterator<Item = Sample>) -> f64 {
        let mut law = vec![0.0; self.count()];
        law[0] = 1.0;
        let mut next = law.clone();
        for Sample { hit, dropped } in samples {
            next.fill(0.0);
            let (hit, miss) = (hit * (1.0 - dropped), (1.0 - hit) * (1.0 - dropped));
            for (window, mass) in law.iter().copied().enumerate() {
                if mass == 0.0 {
                    continue;
                }
                next[self.after_miss[window]] += mass * miss;
                if let Some(after) = self.after_hit[window] {
                    next[after] += mass * hit;
                }
                let after_drop = match convention {
                    Dropped::Quiet => self.after_miss[window],
                    Dropped::Hold => window,
                    Dropped::Reset => 0,
                };
                next[after_drop] += mass * dropped;
            }
            std::mem::swap(&mut law, &mut next);
        }
        law.iter().sum()
    }
}

/// Probability that `rule` raises no alarm over samples with the given hit probabilities, starting from the empty
/// window. A sample without a reading is a miss here: fold its probability into the hit probability. For the other
/// conventions, and for many approaches with one rule, use [`Windows::miss_probability`].
///
/// # Errors
/// If the rule is impossible or has too many windows.
pub fn miss_probability(rule: RunRule, hit_probabilities: impl Iterator<Item = f64>) -> Result<f64, RunRuleError> {
    let samples = hit_probabilities.map(|hit| Sample { hit, dropped: 0.0 });
    Ok(Windows::new(rule)?.miss_probability(Dropped::Quiet, samples))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Forgetting must not change any alarm: all sequences of 13 samples against a literal count over the last n.
    #[test]
    fn forgetting_changes_no_alarm() {
        for n in 1..=7 {
            for k in 1..=n {
                let rule = RunRule { k, n };
                for sequence in 0_u32..1 << 13 {
                    let mut window = Some(0);
                    for sample in 0..13 {
                        let last = (sequence >> (sample + 1_usize).saturating_sub(n)) & ((1 << n.min(sample + 1)) - 1);
                        let alarm = last.count_ones() as usize >= k;
                        window = advance(rule, window.expect("no alarm yet"), sequence >> sample & 1 == 1);
                        assert_eq!(window.is_none(), alarm, "{k} of {n}, {sequence:b}, sample {sample}");
                        if alarm {
                            break;
                        }
                    }
                }
            }
        }
    }

    /// What became of the samples of a run: frequencies against all sequences, for a window that is left with gaps and one that
    /// is not, for early runs and late ones (5 standard deviations of a binomial number each).
    #[test]
    fn fates_of_a_run_have_their_law() {
        let rule = RunRule { k: 2, n: 3 };
        let windows = Windows::new(rule).expect("a small rule");
        let mut stream = crate::math::random::Source::new(3, 0, "fates").stream(0);
        let (mut laws, mut fates) = (Vec::new(), Vec::new());
        for left_out in [0.0, 0.25] {
            let p = [0.2, 0.8 - left_out, left_out];
            for samples in [2_u32, 5, 7] {
                // Every sequence of fates, oldest first, that raises no alarm and is armed in the end; of each the newest
                // until two are not left out.
                let mut law = BTreeMap::<Vec<usize>, f64>::new();
                for sequence in 0..3_usize.pow(samples) {
                    let each: Vec<usize> = (0..samples).map(|place| sequence / 3_usize.pow(place) % 3).collect();
                    let alarm = each.iter().try_fold(0, |window, fate| match fate {
                        2 => Some(window),
                        fate => advance(rule, window, *fate == 0),
                    });
                    let weight: f64 = each.iter().map(|fate| p[*fate]).product();
                    if alarm.is_some_and(|window| advance(rule, window, true).is_none()) && weight > 0.0 {
                        let mut places = 0;
                        let newest = each.iter().rev().take_while(|fate| {
                            places += usize::from(**fate != 2);
                            places <= 2 && !(places == 2 && **fate == 2)
                        });
                        *law.entry(newest.copied().collect()).or_default() += weight;
                    }
                }
                let total: f64 = law.values().sum();
                let n = 40_000;
                let mut counts = BTreeMap::<Vec<usize>, f64>::new();
                for _ in 0..n {
                    let odds = (p[0], left_out);
                    windows.draw_armed(rule, odds, u64::from(samples), &mut laws, &mut stream, &mut fates);
                    let place = |fate: &Fate| match fate {
                        Fate::Spoke => 0,
                        Fate::Quiet => 1,
                        Fate::LeftOut => 2,
                    };
                    *counts.entry(fates.iter().map(place).collect()).or_default() += 1.0;
                }
                assert!(counts.keys().all(|key| law.contains_key(key)), "an impossible run");
                for (key, weight) in &law {
                    let mean = f64::from(n) * weight / total;
                    let found = counts.get(key).copied().unwrap_or(0.0);
                    assert!((found - mean).abs() <= 5.0 * mean.sqrt() + 3.0, "{samples} {key:?}: {found}, {mean}");
                }
            }
        }
    }

    #[test]
    fn windows_are_few() {
        let count = |k, n| Windows::new(RunRule { k, n }).map(|windows| windows.count());
        assert_eq!(count(20, 20), Ok(20));
        assert_eq!(count(1, 64), Ok(1));
        assert_eq!(count(2, 64), Ok(64));
        assert_eq!(count(2, 3), Ok(3));
        assert_eq!(count(0, 3), Err(RunRuleError::Impossible { k: 0, n: 3 }));
        assert_eq!(count(4, 3), Err(RunRuleError::Impossible { k: 4, n: 3 }));
        assert_eq!(count(1, 65), Err(RunRuleError::Impossible { k: 1, n: 65 }));
        assert_eq!(count(32, 64), Err(RunRuleError::TooManyStates { k: 32, n: 64 }));
    }

    /// Emptying the window is worse than holding it, and both conventions agree when nothing is dropped.
    #[test]
    fn drop_conventions() {
        let windows = Windows::new(RunRule { k: 2, n: 4 }).expect("a small rule");
        let miss = |convention, dropped| {
            windows.miss_probability(convention, std::iter::repeat_n(Sample { hit: 0.4, dropped }, 12))
        };
        let all = [Dropped::Hold, Dropped::Quiet, Dropped::Reset];
        let [hold, quiet, reset] = all.map(|convention| miss(convention, 0.3));
        assert!(hold < quiet && quiet < reset, "{hold} {quiet} {reset}");
        assert!(all.iter().all(|convention| miss(*convention, 0.0) == miss(Dropped::Quiet, 0.0)));
    }
}
