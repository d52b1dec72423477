//! What each detector of a strategy did, over all seasons.

use super::result::DetectorResult;
use super::summary::estimate_counts;
use crate::ledger::metric::Key;
use crate::ledger::record::{CONDITIONS, DetectorTally, SeasonRecord};

/// Sums up the detectors of `names` (indices into the scenario's, with their names).
pub fn detectors(names: &[(usize, String)], seasons: &[SeasonRecord], confidence: f64) -> Vec<DetectorResult> {
    let hours: [f64; CONDITIONS.len()] =
        std::array::from_fn(|condition| seasons.iter().map(|record| record.condition_h[condition]).sum());
    let all_h: f64 = hours.iter().sum();
    names
        .iter()
        .map(|(index, name)| {
            let tallies: Vec<&DetectorTally> =
                seasons.iter().filter_map(|record| record.detectors.get(*index)).collect();
            let mut sum = DetectorTally::default();
            tallies.iter().for_each(|tally| sum.merge(tally));
            let rate = |condition: usize| {
                // Per season as it is estimated, then per day of that condition.
                let counts: Vec<f64> = tallies.iter().map(|tally| tally.false_runs[condition] as f64).collect();
                let per_season = estimate_counts(&counts, Key::FalseOpenings, confidence);
                let days = hours[condition] / 24.0 / seasons.len().max(1) as f64;
                let per_day = |value: f64| value / days;
                (days > 0.0)
                    .then(|| (per_day(per_season.mean), per_season.interval.map(|i| (per_day(i.low), per_day(i.high)))))
            };
            DetectorResult {
                name: name.clone(),
                false_per_day: std::array::from_fn(rate),
                noticed: sum.after.total(),
                unnoticed: sum.unnoticed,
                after: sum.after,
                left: sum.left,
                uptime: if all_h > 0.0 { 1.0 - sum.blind_h / all_h } else { 1.0 },
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two seasons of 240 h, half of it rain: 3 and 1 false runs in rain are 0.4 a day of rain.
    #[test]
    fn rates_are_per_day_of_the_condition() {
        let record = |runs| {
            let mut record = SeasonRecord::empty(0, 1, 0, 0);
            record.condition_h = [120.0, 100.0, 20.0];
            let mut tally =
                DetectorTally { false_runs: [runs, 0, 0], blind_h: 2.4, unnoticed: 1, ..Default::default() };
            tally.after.add(3.0);
            tally.left.add(1.25);
            record.detectors = vec![DetectorTally::default(), tally];
            record
        };
        let got = &detectors(&[(1, "eye".into())], &[record(3), record(1)], 0.95)[0];
        let (mean, interval) = got.false_per_day[0].expect("it rained");
        assert!((mean - 0.4).abs() < 1e-12);
        let (low, high) = interval.expect("four runs");
        assert!(low < 0.4 && high > 0.4);
        assert_eq!((got.noticed, got.unnoticed), (2, 2));
        assert!((got.uptime - 0.99).abs() < 1e-12);
        assert!((got.left.quantile(0.5).expect("two") - 1.26).abs() < 1e-12);
    }
}
