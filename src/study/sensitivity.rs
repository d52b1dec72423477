//! Which uncertain input drives which metric: screening by elementary effects, then shares of variance.
//!
//! The function that is examined is a metric's mean over a few seasons, the same ones at every point, so that seasons
//! don't blur the comparison of points. What remains is how these seasons answer to the inputs.

use super::morris::{Effects, Trajectory, effects};
use super::objective::Aim;
use super::variance::{Design, Indices};
use crate::ledger::record::SeasonRecord;

/// Sensitivity of one metric to all inputs.
#[derive(Clone, Debug)]
pub struct Drivers {
    /// The metric's heading.
    pub name: String,
    /// Its unit.
    pub unit: &'static str,
    /// Mean over all points of the variance design.
    pub mean: f64,
    /// Standard deviation over them: what the inputs do together.
    pub spread: f64,
    /// Elementary effects over the inputs' whole ranges; none if they can't be computed.
    pub effects: Option<Vec<Effects>>,
    /// Shares of variance; none where the metric doesn't vary.
    pub indices: Option<Vec<Indices>>,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Sensitivity {
    /// Strategy that played.
    pub strategy: String,
    /// Paths of the inputs, with their ranges as text.
    pub inputs: Vec<(String, String)>,
    /// One entry per metric.
    pub drivers: Vec<Drivers>,
    /// Trajectories, base points, seasons at each point.
    pub sizes: [u64; 3],
}

/// Examines metrics, each given as name and aim. `screened` are the seasons at the trajectories' points, `varied` those
/// at the design's.
pub fn examine(
    metrics: &[(String, Aim)],
    (paths, screened): (&[Trajectory], &[Vec<SeasonRecord>]),
    (design, varied): (&Design, &[Vec<SeasonRecord>]),
    confidence: f64,
) -> Vec<Drivers> {
    let value = |aim: &Aim, records: &[SeasonRecord]| aim.costs(records).iter().sum::<f64>() / records.len() as f64;
    let examine_one = |(name, aim): &(String, Aim)| {
        let at_paths: Vec<f64> = screened.iter().map(|records| value(aim, records)).collect();
        let at_design: Vec<f64> = varied.iter().map(|records| value(aim, records)).collect();
        let bases: Vec<f64> = at_design.chunks_exact(design.inputs + 2).flat_map(|row| [row[0], row[1]]).collect();
        let (mean, variance) = super::interval::mean::mean_and_variance(&bases);
        Drivers {
            name: name.clone(),
            unit: aim.unit(),
            mean,
            spread: variance.sqrt(),
            effects: effects(paths, &at_paths, confidence),
            indices: design.indices(&at_design, confidence),
        }
    };
    metrics.iter().map(examine_one).collect()
}
