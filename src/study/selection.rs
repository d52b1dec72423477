//! Selection of the best of several designs with a guarantee.
//!
//! All procedures here promise to pick the best design with probability P* or more, whenever the best one is better
//! than every other one by the indifference zone or more. With designs closer than that, they pick a good one: within
//! the zone of the best.

use statrs::distribution::{Continuous, ContinuousCDF, StudentsT};

use super::interval::t_quantile;
use crate::math::normal;

/// Intervals of Simpson's rule; an even number.
const STEPS: usize = 240;

/// Integral of `f` from `low` to `high` by Simpson's rule.
fn integral(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let step = (high - low) / STEPS as f64;
    let weight = |index: usize| match index {
        0 | STEPS => 1.0,
        odd if odd % 2 == 1 => 4.0,
        _ => 2.0,
    };
    (0..=STEPS).map(|index| weight(index) * f(low + step * index as f64)).sum::<f64>() * step / 3.0
}

/// The h at which a probability that grows with h reaches `pstar`, by bisection to nearly full precision.
fn solve(pstar: f64, probability: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while probability(high) < pstar && high < 1e6 {
        high *= 2.0;
    }
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if probability(middle) < pstar { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Rinott's constant (Commun. Statist. A 7, 1978, 799-811) for `systems` independent designs, `n0` first-stage
/// observations each: the h with
/// int [ int Phi(h / sqrt((n0 - 1) (1/x + 1/y))) f(x) dx ]^(k - 1) f(y) dy = P*, f the chi-square density with n0 - 1
/// degrees of freedom. None unless 2 <= systems, 2 <= n0 and 1/systems < P* < 1.
pub fn rinott_h(systems: usize, pstar: f64, n0: usize) -> Option<f64> {
    check(systems, pstar, n0)?;
    let df = (n0 - 1) as f64;
    // x = s^2 makes the density smooth for every df: s follows the chi law, whose sd never exceeds 0.71.
    let ln_scale = (1.0 - 0.5 * df) * std::f64::consts::LN_2 - libm::lgamma(0.5 * df);
    let density = |s: f64| {
        if s <= 0.0 {
            return if df == 1.0 { libm::exp(ln_scale) } else { 0.0 };
        }
        libm::exp(ln_scale + (df - 1.0) * libm::log(s) - 0.5 * s * s)
    };
    let (low, high) = ((df.sqrt() - 7.0).max(0.0), df.sqrt() + 8.0);
    let power = (systems - 1) as i32;
    let step = (high - low) / STEPS as f64;
    let nodes: Vec<(f64, f64)> =
        (0..=STEPS).map(|i| low + step * i as f64).map(|s| (1.0 / (s * s), density(s))).collect();
    let simpson = |values: &dyn Fn(usize) -> f64| {
        let weight = |i: usize| if i == 0 || i == STEPS { 1.0 } else { 2.0 + 2.0 * (i % 2) as f64 };
        (0..=STEPS).map(|i| weight(i) * values(i)).sum::<f64>() * step / 3.0
    };
    let probability = |h: f64| {
        let inner = |y: f64| simpson(&|i| nodes[i].1 * normal::cdf(h / (df * (nodes[i].0 + y)).sqrt()));
        simpson(&|j| nodes[j].1 * inner(nodes[j].0).powi(power))
    };
    Some(solve(pstar, probability))
}

/// Observations that Rinott's procedure takes of a design in all: first-stage `variance`, indifference zone `delta`.
pub fn rinott_observations(h: f64, variance: f64, delta: f64, n0: usize) -> usize {
    n0.max((h * h * variance / (delta * delta)).ceil() as usize)
}

/// Dudewicz and Dalal's constant (Sankhya B 37, 1975, 28-78): the h with int F(t + h)^(k - 1) f(t) dt = P*, F and f of
/// Student's t with n0 - 1 degrees of freedom. None as for [`rinott_h`].
pub fn dudewicz_dalal_h(systems: usize, pstar: f64, n0: usize) -> Option<f64> {
    check(systems, pstar, n0)?;
    let df = (n0 - 1) as f64;
    let student = StudentsT::new(0.0, 1.0, df).ok()?;
    // t = sinh(w) spreads the heavy tails evenly over the nodes.
    let end = libm::asinh(t_quantile(1.0 - 1e-12, df));
    let power = (systems - 1) as i32;
    let probability = |h: f64| {
        integral(-end, end, |w| {
            let t = libm::sinh(w);
            student.pdf(t) * libm::cosh(w) * student.cdf(t + h).powi(power)
        })
    };
    Some(solve(pstar, probability))
}

/// Observations that Dudewicz and Dalal's procedure takes of a design in all, and the weight of the first-stage mean
/// in the weighted mean that is compared (the second stage's mean gets the rest).
pub fn dudewicz_dalal_observations(h: f64, variance: f64, delta: f64, n0: usize) -> (usize, f64) {
    let needed = h * h * variance / (delta * delta);
    let all = (n0 + 1).max(needed.ceil() as usize);
    let (first, n) = (n0 as f64, all as f64);
    let inner = 1.0 - n / first * (1.0 - (n - first) / needed);
    (all, first / n * (1.0 + inner.max(0.0).sqrt()))
}

fn check(systems: usize, pstar: f64, n0: usize) -> Option<()> {
    // Rejects NaN as well. More than a million systems would overflow the exponent's type and any patience.
    ((2..=1_000_000).contains(&systems) && n0 >= 2 && pstar > 1.0 / systems as f64 && pstar < 1.0).then_some(())
}

/// Kim and Nelson's eta with c = 1 (ACM TOMACS 11, 2001, 251-273), for `systems` designs, error probability `alpha`
/// and `n0` first-stage observations; formula from memory.
pub fn kim_nelson_eta(systems: usize, alpha: f64, n0: usize) -> f64 {
    0.5 * (libm::pow(2.0 * alpha / (systems as f64 - 1.0), -2.0 / (n0 as f64 - 1.0)) - 1.0)
}

/// Their h squared, 2 eta (n0 - 1).
pub fn kim_nelson_h2(systems: usize, alpha: f64, n0: usize) -> f64 {
    2.0 * kim_nelson_eta(systems, alpha, n0) * (n0 as f64 - 1.0)
}

/// State of a sequential selection.
#[derive(Clone, Debug, PartialEq)]
pub struct Selection {
    /// Designs still in the race, in their order; never empty.
    pub survivors: Vec<usize>,
    /// Observations after which each design was eliminated; none for survivors.
    pub eliminated_after: Vec<Option<usize>>,
    /// Observations used of each survivor.
    pub observations: usize,
}

impl Selection {
    /// The selected design, if only one is left.
    pub fn best(&self) -> Option<usize> {
        (self.survivors.len() == 1).then(|| self.survivors[0])
    }
}

/// Kim and Nelson's fully sequential procedure for the design with the smallest mean, on observations that are
/// already there: `costs[i][r]` is observation r of design i. Observations with the same r may be correlated, which is
/// what playing the same seasons is for. After `n0` observations the variances of all differences are fixed; from then
/// on design i leaves as soon as, for some l in the race, sum of (i - l) > max(0, h^2 S^2 / (2 delta) - delta r / 2).
///
/// Each observation is looked at in turn, so that the outcome doesn't depend on how many are added at a time. The
/// promise (best design with probability 1 - alpha if it is better by `delta` or more) is proved for normal
/// observations. None with fewer than `n0` (at least 2) observations, `delta` or `alpha` out of range, or no design.
pub fn kim_nelson(costs: &[&[f64]], delta: f64, alpha: f64, n0: usize) -> Option<Selection> {
    race(costs, delta, alpha, n0, 0.0)
}

/// The same for what happens rarely, or seldom costs much: `n0` observations without an event say that there is no variance, and
/// the first event then decides. So the first stage of a pair of designs goes on until its variance rests on no fewer than
/// [`EFFECTIVE`] observations, (sum of x^2)^2 / sum of x^4 for the deviations x of the differences from their mean. For counts
/// of 0.05 against 0.1 a season the plain procedure is right in 92 % of studies where 95 % are promised, this one in 95.8 %
/// (`tests/selection.rs`); of normal observations most have enough of them at 20, the others wait a little.
pub fn kim_nelson_of_events(costs: &[&[f64]], delta: f64, alpha: f64, n0: usize) -> Option<Selection> {
    race(costs, delta, alpha, n0, EFFECTIVE)
}

/// Observations that a variance must rest on (chosen by simulation with counts and with rare large costs).
pub const EFFECTIVE: f64 = 8.0;

/// A first stage so many times as long as it need be is not waited for any longer, except where most differences are the same: there
/// the events are what is waited for.
const LONGEST_FIRST: usize = 5;

/// A pair's first stage: its observations, and the variance of the differences over them.
struct FirstStage {
    observations: usize,
    variance: f64,
}

/// What is known of some values, one added after the other: sums of powers of their deviations from the mean (Pébay, Sandia
/// report SAND2008-6212; from memory), and the values in order.
#[derive(Default)]
struct Known {
    mean: f64,
    squares: f64,
    cubes: f64,
    fourths: f64,
    sorted: Vec<f64>,
}

impl Known {
    fn add(&mut self, value: f64) {
        let place = self.sorted.partition_point(|other| other.total_cmp(&value).is_lt());
        self.sorted.insert(place, value);
        let n = self.sorted.len() as f64;
        let delta = value - self.mean;
        let step = delta / n;
        let term = delta * step * (n - 1.0);
        self.mean += step;
        self.fourths +=
            term * step * step * (n * n - 3.0 * n + 3.0) + 6.0 * step * step * self.squares - 4.0 * step * self.cubes;
        self.cubes += term * step * (n - 2.0) - 3.0 * step * self.squares;
        self.squares += term;
    }

    /// Whether half of the values or more are the same.
    fn mostly_one(&self) -> bool {
        // What fills half of the places stands in the middle one.
        let middle = self.sorted[self.sorted.len() / 2];
        let below = self.sorted.partition_point(|value| *value < middle);
        let upto = self.sorted.partition_point(|value| *value <= middle);
        2 * (upto - below) >= self.sorted.len()
    }

    /// Whether the variance rests on so many observations.
    fn rests_on(&self, effective: f64) -> bool {
        let all_the_same = self.sorted.first() == self.sorted.last();
        // Always the same difference: told, if it is one. Always none may be an event that has not come yet.
        if all_the_same { self.mean != 0.0 } else { self.squares * self.squares >= effective * self.fourths }
    }
}

/// The first stage of `a` against `b`: at least `n0` observations, and as many as it takes until the variance rests on
/// `effective` of them; none if there are too few.
fn first_stage(a: &[f64], b: &[f64], n0: usize, effective: f64) -> Option<FirstStage> {
    let mut known = Known::default();
    for (index, (a, b)) in a.iter().zip(b).enumerate() {
        known.add(a - b);
        let observations = index + 1;
        // One season far off makes the variance large, not small, and can't mislead where seasons differ anyway.
        let patient = || observations < LONGEST_FIRST * n0 || known.mostly_one();
        if observations >= n0 && (effective == 0.0 || known.rests_on(effective) || !patient()) {
            return Some(FirstStage { observations, variance: known.squares / (observations - 1) as f64 });
        }
    }
    None
}

fn race(costs: &[&[f64]], delta: f64, alpha: f64, n0: usize, effective: f64) -> Option<Selection> {
    let systems = costs.len();
    let observations = costs.iter().map(|values| values.len()).min()?;
    let in_range = delta > 0.0 && alpha > 0.0 && alpha < 1.0;
    if n0 < 2 || observations < n0 || !in_range {
        return None;
    }
    let mut eliminated_after = vec![None; systems];
    if systems == 1 {
        return Some(Selection { survivors: vec![0], eliminated_after, observations: n0 });
    }
    // Of each pair once: its differences have the same variance either way.
    let stage = |i: usize, l: usize| first_stage(&costs[i][..observations], &costs[l][..observations], n0, effective);
    let stages: Vec<Vec<Option<FirstStage>>> = (0..systems).map(|i| (0..i).map(|l| stage(i, l)).collect()).collect();
    let stage_of = |i: usize, l: usize| stages[i.max(l)][i.min(l)].as_ref();
    // Above 1/2, two designs would need no observation at all; the formula then turns negative.
    let h2 = |stage: &FirstStage| kim_nelson_h2(systems, alpha, stage.observations).max(0.0);
    let mut sums: Vec<f64> = costs.iter().map(|values| values[..n0].iter().sum()).collect();
    let mut race: Vec<usize> = (0..systems).collect();
    let mut r = n0;
    loop {
        let boundary =
            |stage: &FirstStage| (h2(stage) * stage.variance / (2.0 * delta) - 0.5 * delta * r as f64).max(0.0);
        let beaten = |i: usize, l: usize| {
            let stage = stage_of(i, l).filter(|stage| stage.observations <= r);
            stage.is_some_and(|stage| sums[i] - sums[l] > boundary(stage))
        };
        let leaves = |i: &usize| race.iter().any(|l| l != i && beaten(*i, *l));
        let leaving: Vec<usize> = race.iter().copied().filter(leaves).collect();
        leaving.iter().for_each(|i| eliminated_after[*i] = Some(r));
        race.retain(|i| !leaving.contains(i));
        if race.len() <= 1 || r == observations {
            break;
        }
        for (sum, values) in sums.iter_mut().zip(costs) {
            *sum += values[r];
        }
        r += 1;
    }
    // Once all boundaries are 0, only designs with the same sum are left: they are equal as far as anyone can tell.
    Some(Selection { survivors: race, eliminated_after, observations: r })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_makes_no_sense_has_no_constant() {
        assert_eq!(rinott_h(1, 0.9, 20), None);
        assert_eq!(rinott_h(5, 0.2, 20), None);
        assert_eq!(rinott_h(5, f64::NAN, 20), None);
        assert_eq!(dudewicz_dalal_h(2, 0.9, 1), None);
        assert_eq!(kim_nelson(&[&[1.0, 2.0], &[1.0]], 1.0, 0.05, 2), None);
        assert_eq!(kim_nelson(&[], 1.0, 0.05, 2), None);
        assert_eq!(kim_nelson(&[&[1.0, 2.0]], 0.0, 0.05, 2), None);
    }

    /// Two systems by hand: h^2 for alpha = 0.05, n0 = 2 is (1 / 0.01 - 1) = 99. Differences 1 and 3: S^2 = 2, sum 4.
    /// With delta = 10, the boundary at r = 2 is 99 * 2 / 20 - 10 = -0.1, so 0: the second one (cheaper) stays.
    #[test]
    fn a_race_by_hand() {
        let (a, b) = ([5.0, 7.0], [4.0, 4.0]);
        let selection = kim_nelson(&[&a, &b], 10.0, 0.05, 2).unwrap();
        assert_eq!(selection.best(), Some(1));
        assert_eq!(selection.eliminated_after, [Some(2), None]);
        // With delta = 9.9, the boundary is 10 - 9.9 = 0.1: 4 exceeds it as well; with delta 5, 19.8 - 5 is not.
        assert_eq!(kim_nelson(&[&a, &b], 9.9, 0.05, 2).unwrap().best(), Some(1));
        assert_eq!(kim_nelson(&[&a, &b], 5.0, 0.05, 2).unwrap().survivors, [0, 1]);
    }

    /// Whatever differs by the same amount every time is told, and one season far off does not keep others from being told;
    /// what never differs, or hardly ever, is waited for.
    #[test]
    fn first_stages_of_odd_differences() {
        let steady = |value: f64, n: usize| vec![value; n];
        let (a, b) = (steady(184.0, 60), steady(91.0, 60));
        assert_eq!(kim_nelson_of_events(&[&a, &b], 5.0, 0.05, 20).unwrap().best(), Some(1));
        assert_eq!(kim_nelson_of_events(&[&b, &b], 5.0, 0.05, 20).unwrap().best(), None);
        let wavy: Vec<f64> = (0..120).map(|n| 3.0 + f64::from(n % 7) * 0.1 + if n == 4 { 30.0 } else { 0.0 }).collect();
        let low = steady(1.0, 120);
        assert_eq!(kim_nelson_of_events(&[&wavy[..99], &low[..99]], 0.5, 0.05, 20).unwrap().best(), None);
        assert_eq!(kim_nelson_of_events(&[&wavy, &low], 0.5, 0.05, 20).unwrap().best(), Some(1));
        let rare: Vec<f64> = (0..120).map(|n| if n == 30 || n == 90 { 1.0 } else { 0.0 }).collect();
        assert_eq!(kim_nelson_of_events(&[&rare, &steady(0.0, 120)], 0.001, 0.05, 20).unwrap().best(), None);
    }

    /// Equal designs stay together for ever, and one design needs no race.
    #[test]
    fn equals_are_not_told_apart() {
        let a = [1.0; 50];
        assert_eq!(kim_nelson(&[&a, &a], 0.1, 0.05, 10).unwrap().best(), None);
        assert_eq!(kim_nelson(&[&a], 0.1, 0.05, 10).unwrap().best(), Some(0));
    }
}
