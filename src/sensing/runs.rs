//! The next false run of a k-of-n rule, drawn from its law instead of being waited for.
//!
//! While the law of a reading stays the same, samples speak for a change independently with one probability p. Nearly
//! all runs that begin come to nothing, and need not be played: the next completed run is drawn directly, by thinning
//! (Lewis & Shedler, Naval Research Logistics Quarterly 26, 1979, 403-413, in discrete time). Candidates come with a
//! constant probability per sample that is never less than the true one, and each is kept with the ratio of the two.
//!
//! **Bound.** A sample completes a run if it speaks and at least k - 1 of the n - 1 before it do, and if no run was
//! complete before. "At least k - 1 speak" can only gain by more samples that speak, "none was complete" can only lose;
//! two such events of independent samples are negatively correlated (Harris, Proc. Cambridge Phil. Soc. 56, 1960,
//! 13-20), so that the probability without the second condition bounds the one with it.
//!
//! **Border.** When the law changes before a run is complete, what the window holds by then is drawn from its law given
//! that no run was complete: a run half full when the cat appears stays half full.

use super::window::Windows;
use crate::math::random::Stream;
use crate::scenario::strategy::{Dropped, RunRule};

/// Below this probability that a window holds nothing, drawing windows backwards takes too many tries.
const EMPTY_AT_LEAST: f64 = 0.3;

/// Independent samples before a run rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Runs {
    rule: RunRule,
    hold: bool,
    /// Probability that a sample speaks, and that it is left out of the window.
    speaks: f64,
    left_out: f64,
    /// Probability that a whole window's samples neither speak nor are left out.
    empty: f64,
    /// Upper bound on the probability that a sample completes a run.
    at_most: f64,
}

impl Runs {
    /// Samples that speak with probability `speaks` and give no reading with probability `nothing`; none where drawing
    /// runs directly would not pay or can't be done.
    pub fn new(rule: RunRule, dropped: Dropped, speaks: f64, nothing: f64) -> Option<Runs> {
        if rule.k < 2 || dropped == Dropped::Reset || speaks <= 0.0 {
            return None;
        }
        let hold = dropped == Dropped::Hold;
        let left_out = if hold { nothing } else { 0.0 };
        let empty = power(1.0 - speaks - left_out, rule.n - 1);
        if empty < EMPTY_AT_LEAST {
            return None;
        }
        let at_most = speaks * at_least(rule.k - 1, rule.n - 1, speaks / (1.0 - left_out));
        Some(Runs { rule, hold, speaks, left_out, empty, at_most })
    }

    /// Upper bound on the probability that a sample completes a run.
    pub fn at_most(&self) -> f64 {
        self.at_most
    }

    /// Probability that a sample completes a run, given that none of the `lag` samples before it did and that the window
    /// was empty before these. `windows` is that of the rule, `room` is scratch.
    pub fn completes(&self, lag: u64, windows: &Windows, room: &mut [Vec<f64>; 2]) -> f64 {
        self.speaks * windows.armed_after(self.speaks, self.left_out, lag, self.rule.n, room)
    }

    /// Probabilities that a sample speaks and that it is left out of the window.
    pub fn odds(&self) -> (f64, f64) {
        (self.speaks, self.left_out)
    }

    /// Draws what the window holds, newest sample in bit 0, after `samples` samples on an empty window without a complete
    /// run, and how many of its n - 1 places these have taken.
    ///
    /// The last n - 1 samples say everything if none of them speaks or is left out. If one does, the window before them
    /// is drawn in the same way, they are played on it, and all is drawn anew if that completes a run.
    pub fn window_after(&self, samples: u64, stream: &mut Stream) -> (u64, u64) {
        let block = samples.min(self.rule.n as u64 - 1);
        let rest = 1.0 - self.speaks - self.left_out;
        let empty = if block == self.rule.n as u64 - 1 { self.empty } else { power(rest, block as usize) };
        loop {
            let u = stream.uniform();
            if u < empty {
                return (0, block);
            }
            // The first sample of the block that speaks or is left out: geometric, given that there is one.
            let mut first = 0;
            let mut reached = 1.0 - rest;
            while u >= empty + reached && first + 1 < block {
                first += 1;
                reached += power(rest, first as usize) * (1.0 - rest);
            }
            let before = if samples > block { self.window_after(samples - block, stream) } else { (0, 0) };
            let played = self.play(before, first, block, stream);
            if let Some(window) = played {
                return window;
            }
        }
    }

    /// Plays a block whose first sample out of the ordinary is number `first`; none if that completes a run.
    fn play(&self, before: (u64, u64), first: u64, block: u64, stream: &mut Stream) -> Option<(u64, u64)> {
        let kept = (1_u64 << (self.rule.n - 1)) - 1;
        let mut window = before.0 << first & kept;
        let mut places = before.1 + first;
        for sample in first..block {
            let mut u = stream.uniform();
            if sample == first {
                u *= self.speaks + self.left_out;
            }
            if u < self.speaks {
                if window.count_ones() as usize + 1 >= self.rule.k {
                    return None;
                }
                window = (window << 1 | 1) & kept;
                places += 1;
            } else if !self.hold || u >= self.speaks + self.left_out {
                window = window << 1 & kept;
                places += 1;
            }
        }
        Some((window, places.min(self.rule.n as u64 - 1)))
    }
}

fn power(base: f64, exponent: usize) -> f64 {
    (0..exponent).fold(1.0, |product, _| product * base)
}

/// P(at least `least` of `count` independent trials succeed), summed from its positive terms.
fn at_least(least: usize, count: usize, p: f64) -> f64 {
    let mut term = power(p, least);
    for i in 0..least {
        term *= (count - i) as f64 / (i + 1) as f64;
    }
    if p >= 1.0 {
        return 1.0;
    }
    term *= power(1.0 - p, count - least);
    let mut sum = 0.0;
    for successes in least..=count {
        sum += term;
        term *= (count - successes) as f64 / (successes + 1) as f64 * p / (1.0 - p);
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    const CASES: [(RunRule, Dropped, f64, f64); 5] = [
        (RunRule { k: 3, n: 5 }, Dropped::Quiet, 0.2, 0.3),
        (RunRule { k: 2, n: 2 }, Dropped::Quiet, 0.24, 0.0),
        (RunRule { k: 2, n: 6 }, Dropped::Quiet, 0.1, 0.0),
        (RunRule { k: 3, n: 4 }, Dropped::Hold, 0.2, 0.1),
        (RunRule { k: 2, n: 5 }, Dropped::Hold, 0.15, 0.08),
    ];

    /// One sample on a window; none if it completes a run.
    fn step(rule: RunRule, dropped: Dropped, window: u64, speaks: f64, nothing: f64, u: f64) -> Option<u64> {
        let kept = (1_u64 << (rule.n - 1)) - 1;
        let quiet = if dropped == Dropped::Hold { u < speaks + nothing } else { false };
        if u < speaks {
            (window.count_ones() as usize + 1 < rule.k).then_some((window << 1 | 1) & kept)
        } else if quiet {
            Some(window)
        } else {
            Some(window << 1 & kept)
        }
    }

    /// Exact laws by going through all windows: the masses after each number of samples, given no complete run.
    fn exact(case: (RunRule, Dropped, f64, f64), samples: usize) -> (Vec<f64>, f64) {
        let (rule, dropped, speaks, nothing) = case;
        let mut mass = vec![0.0; 1 << (rule.n - 1)];
        mass[0] = 1.0;
        let hold = if dropped == Dropped::Hold { nothing } else { 0.0 };
        let advance = |mass: &[f64]| {
            let mut next = vec![0.0; mass.len()];
            for (window, m) in mass.iter().enumerate() {
                for (p, u) in [(speaks, 0.0), (hold, speaks + 1e-9), (1.0 - speaks - hold, 1.0)] {
                    if let Some(to) = step(rule, dropped, window as u64, speaks, nothing, u) {
                        next[to as usize] += m * p;
                    }
                }
            }
            next
        };
        for _ in 0..samples {
            mass = advance(&mass);
        }
        let total: f64 = mass.iter().sum();
        let after: f64 = advance(&mass).iter().sum();
        (mass.iter().map(|m| m / total).collect(), 1.0 - after / total)
    }

    /// The probability of completing a run after any number of samples, and that it never exceeds its bound.
    #[test]
    fn completing_agrees_with_all_windows_played_through() {
        for case in CASES {
            let (rule, dropped, speaks, nothing) = case;
            let runs = Runs::new(rule, dropped, speaks, nothing).expect("a rule to draw runs of");
            let windows = Windows::new(rule).expect("a small rule");
            let mut room = [Vec::new(), Vec::new()];
            for lag in [0, 1, 2, 3, 4, 5, 7, 12, 40, 400] {
                let (_, wanted) = exact(case, lag);
                let found = runs.completes(lag as u64, &windows, &mut room);
                assert!((found - wanted).abs() < 1e-12, "{case:?} after {lag}: {found} against {wanted}");
                assert!(found <= runs.at_most() * (1.0 + 1e-12), "{case:?} after {lag}");
            }
            let far = runs.completes(u64::MAX, &windows, &mut room);
            assert!((far - exact(case, 400).1).abs() < 1e-12, "{case:?}");
        }
    }

    /// Windows at the border: frequencies against the exact law, chi-square at 5 sigma of its normal approximation.
    #[test]
    fn windows_at_the_border_have_their_law() {
        let mut stream = Source::new(3, 0, "windows").stream(0);
        for case in CASES {
            let (rule, dropped, speaks, nothing) = case;
            let runs = Runs::new(rule, dropped, speaks, nothing).expect("a rule to draw runs of");
            for lag in [1, 2, 4, 6, 30] {
                let (law, _) = exact(case, lag);
                let mut counts = vec![0.0; law.len()];
                let n = 60_000.0;
                for _ in 0..n as usize {
                    counts[runs.window_after(lag as u64, &mut stream).0 as usize] += 1.0;
                }
                let (mut chi, mut cells) = (0.0, 0.0);
                for (count, p) in counts.iter().zip(law) {
                    if p * n >= 5.0 {
                        chi += (count - n * p).powi(2) / (n * p);
                        cells += 1.0;
                    } else {
                        assert!(*count <= p * n + 5.0 * (p * n).sqrt() + 3.0, "{case:?}, {lag}: a rare window");
                    }
                }
                let free: f64 = cells - 1.0;
                assert!(chi <= free + 5.0 * (2.0 * free).sqrt() + 5.0, "{case:?}, {lag}: chi-square {chi}, {free}");
            }
        }
    }
}
