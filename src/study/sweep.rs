//! How metrics change over one or two numbers of a scenario: a grid of variants on the same seasons.

use super::objective::{Aim, MeanCost, mean_cost};
use super::result::Estimate;
use super::summary::summarise;
use crate::ledger::metric::Key;
use crate::ledger::record::SeasonRecord;

/// One axis of a grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// Path of the key.
    pub path: String,
    /// Unit of the values; "" for a plain number.
    pub unit: &'static str,
    /// Values, ascending.
    pub values: Vec<f64>,
    /// The values as text with their units.
    pub labels: Vec<String>,
}

/// One place of a grid.
#[derive(Clone, Debug)]
pub struct Place {
    /// Index along each axis.
    pub at: Vec<usize>,
    /// One estimate per metric.
    pub estimates: Vec<Estimate>,
    /// What it costs; none without an objective.
    pub cost: Option<MeanCost>,
    /// Whether no other place has both fewer missed arrivals and fewer false openings.
    pub on_front: bool,
}

/// A grid of variants.
#[derive(Clone, Debug)]
pub struct Sweep {
    /// Strategy that played.
    pub strategy: String,
    /// Axes.
    pub axes: Vec<Axis>,
    /// Places, the last axis running fastest.
    pub places: Vec<Place>,
    /// Seasons of each place.
    pub seasons: u64,
}

/// Index along each axis of every place of a grid of these lengths, the last one running fastest.
pub fn grid(lengths: &[usize]) -> Vec<Vec<usize>> {
    let mut places = vec![Vec::new()];
    for length in lengths {
        let longer = |place: &Vec<usize>| {
            let place = place.clone();
            (0..*length).map(move |next| place.iter().copied().chain([next]).collect())
        };
        places = places.iter().flat_map(longer).collect();
    }
    places
}

/// `count` values from `low` to `high`, both included, at even distances; rounded, and each once, if `whole`.
pub fn steps(low: f64, high: f64, count: usize, whole: bool) -> Vec<f64> {
    let part = |index: usize| if count < 2 { 0.0 } else { index as f64 / (count - 1) as f64 };
    // The ends are exact; what lies between is rounded to twelve digits: beyond, only rounding errors are found.
    let at = |index: usize| match index {
        0 => low,
        last if last + 1 == count => high,
        _ => format!("{:.11e}", low + (high - low) * part(index)).parse().unwrap_or(low),
    };
    let mut values: Vec<f64> = (0..count).map(at).collect();
    if whole {
        values.iter_mut().for_each(|value| *value = value.round());
        values.dedup();
    }
    values
}

/// What a threshold trades: openings for nothing against arrivals missed. Of the misses the expected number, in which the
/// noise of the readings is integrated out, so that the curve goes on where hardly any is counted.
pub const TRADED: [Key; 2] = [Key::FalseOpenings, Key::MissedArrivalsFloored];

/// Sums up a grid: `records` are the seasons of its places.
pub fn sweep(
    strategy: &str,
    axes: Vec<Axis>,
    records: &[Vec<SeasonRecord>],
    aim: Option<&Aim>,
    confidence: f64,
) -> Sweep {
    let lengths: Vec<usize> = axes.iter().map(|axis| axis.values.len()).collect();
    let total = |records: &[SeasonRecord], key: Key| records.iter().map(|record| record.value(key)).sum::<f64>();
    let ends: Vec<[f64; 2]> = records.iter().map(|list| TRADED.map(|key| total(list, key))).collect();
    let places = grid(&lengths)
        .into_iter()
        .zip(records)
        .zip(super::compare::front(&ends))
        .map(|((at, records), on_front)| Place {
            at,
            estimates: summarise(records, confidence),
            cost: aim.map(|aim| mean_cost(&aim.costs(records), confidence)),
            on_front,
        })
        .collect();
    Sweep { strategy: strategy.to_string(), axes, places, seasons: records.first().map_or(0, Vec::len) as u64 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grids_and_steps() {
        assert_eq!(grid(&[2, 3]), [[0, 0], [0, 1], [0, 2], [1, 0], [1, 1], [1, 2]]);
        assert_eq!(steps(1.0, 2.0, 5, false), [1.0, 1.25, 1.5, 1.75, 2.0]);
        assert_eq!(steps(1.0, 1.3, 4, false), [1.0, 1.1, 1.2, 1.3]);
        assert_eq!(steps(1.0, 3.0, 5, true), [1.0, 2.0, 3.0]);
        assert_eq!(steps(2.0, 9.0, 1, false), [2.0]);
    }
}
