//! Screening by elementary effects (Morris, Technometrics 33, 1991, 161-174): which inputs matter at all, by a few
//! trajectories through a coarse grid.

use super::interval::Interval;
use super::interval::mean::mean_and_variance;
use super::variance::percentiles;
use crate::math::random::{Source, Stream};

/// Resamples for the intervals.
const RESAMPLES: usize = 1_000;

/// Jump between two points of a trajectory, in units of the cube, on a grid of `levels` levels: levels / (2 (levels -
/// 1)). With an even number of levels every level is then reached equally often.
pub fn jump(levels: u32) -> f64 {
    f64::from(levels) / (2.0 * f64::from(levels - 1))
}

/// One trajectory: inputs + 1 points, each differing from the one before in one coordinate by the jump.
#[derive(Clone, Debug, PartialEq)]
pub struct Trajectory {
    /// The points.
    pub points: Vec<Vec<f64>>,
    /// Which coordinate each step changes.
    pub order: Vec<usize>,
}

/// Trajectories from random grid points, in random order of the inputs. None without inputs or with an odd number of
/// levels, or less than two.
pub fn trajectories(inputs: usize, count: usize, levels: u32, stream: &mut Stream) -> Option<Vec<Trajectory>> {
    if inputs == 0 || levels < 2 || !levels.is_multiple_of(2) {
        return None;
    }
    Some((0..count).map(|_| trajectory(inputs, levels, stream)).collect())
}

fn trajectory(inputs: usize, levels: u32, stream: &mut Stream) -> Trajectory {
    let pick = |stream: &mut Stream, of: u64| ((u128::from(stream.bits()) * u128::from(of)) >> 64) as u64;
    let half = levels / 2;
    let mut grid: Vec<u32> = (0..inputs).map(|_| pick(stream, u64::from(levels)) as u32).collect();
    let mut order: Vec<usize> = (0..inputs).collect();
    for last in (1..inputs).rev() {
        order.swap(last, pick(stream, last as u64 + 1) as usize);
    }
    let place = |grid: &[u32]| grid.iter().map(|level| f64::from(*level) / f64::from(levels - 1)).collect::<Vec<f64>>();
    let mut points = vec![place(&grid)];
    for input in &order {
        // The jump is half the levels: from the lower half up, from the upper half down.
        grid[*input] = if grid[*input] < half { grid[*input] + half } else { grid[*input] - half };
        points.push(place(&grid));
    }
    Trajectory { points, order }
}

/// Elementary effects of one input, summed up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effects {
    /// Mean: the direction of the effect.
    pub mu: f64,
    /// Mean of the absolute values (Campolongo, Cariboni & Saltelli, Environ. Model. Softw. 22, 2007, 1509-1518): the
    /// effect's size.
    pub mu_star: f64,
    /// Its bootstrap interval over trajectories.
    pub mu_star_interval: Interval,
    /// Standard deviation (divisor n - 1): not straight, or dependent on other inputs.
    pub sigma: f64,
}

/// Elementary effects, one list per input with one value per trajectory: (f(x + jump) - f(x)) / jump with x the lower
/// of the two points. `values` are the function's values at the trajectories' points, in their order. None if their
/// number is wrong or one is no number.
pub fn elementary(trajectories: &[Trajectory], values: &[f64]) -> Option<Vec<Vec<f64>>> {
    let inputs = trajectories.first()?.order.len();
    if values.len() != trajectories.len() * (inputs + 1) || values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let mut effects = vec![Vec::with_capacity(trajectories.len()); inputs];
    for (trajectory, values) in trajectories.iter().zip(values.chunks_exact(inputs + 1)) {
        for (step, input) in trajectory.order.iter().enumerate() {
            let moved = trajectory.points[step + 1][*input] - trajectory.points[step][*input];
            effects[*input].push((values[step + 1] - values[step]) / moved);
        }
    }
    Some(effects)
}

/// Sums up the effects of each input. None below two trajectories.
pub fn effects(trajectories: &[Trajectory], values: &[f64], confidence: f64) -> Option<Vec<Effects>> {
    if trajectories.len() < 2 {
        return None;
    }
    let source = Source::new(0, 0, "screening");
    let sum_up = |(input, effects): (usize, &Vec<f64>)| {
        let (mu, variance) = mean_and_variance(effects);
        let n = effects.len();
        let mut stream = source.stream(input as u64);
        let pick = |bits: u64| ((u128::from(bits) * n as u128) >> 64) as usize;
        let resample = |_| (0..n).map(|_| effects[pick(stream.bits())].abs()).sum::<f64>() / n as f64;
        let means: Vec<f64> = (0..RESAMPLES).map(resample).collect();
        Effects {
            mu,
            mu_star: effects.iter().map(|effect| effect.abs()).sum::<f64>() / n as f64,
            mu_star_interval: percentiles(means, confidence),
            sigma: variance.sqrt(),
        }
    };
    Some(elementary(trajectories, values)?.iter().enumerate().map(sum_up).collect())
}
