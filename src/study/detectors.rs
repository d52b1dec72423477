//! What each detector of a strategy did over all seasons, and how often noise alone opened the door.

use super::interval::t_quantile;
use super::result::{DetectorResult, NoiseOpenings, Rate};
use super::summary::estimate_counts;
use crate::ledger::metric::Key;
use crate::ledger::record::{ByNoise, CONDITIONS, DetectorTally, SeasonRecord};

/// A detector that is asked for.
#[derive(Clone, Debug)]
pub struct Asked {
    /// Index into the scenario's detectors.
    pub index: usize,
    /// Its name.
    pub name: String,
    /// Whether its sensor sees bodies: only then is there a false run.
    pub looks: bool,
}

/// What the detectors of a strategy did, added up season by season.
#[derive(Clone, Debug, Default)]
pub struct DetectorSums {
    seasons: u64,
    hours: [f64; CONDITIONS.len()],
    tallies: Vec<DetectorTally>,
    expected: Vec<Expected>,
    openings: Expected,
}

/// Expected rates, by condition.
type Expected = [RatioSums; CONDITIONS.len()];

fn add_expected(sums: &mut Expected, by_noise: &ByNoise) {
    for (place, sums) in sums.iter_mut().enumerate() {
        sums.add(by_noise.expected[place], by_noise.weight[place]);
    }
}

/// Sums over seasons for a ratio of two figures of each: of `a` and `b`, and of their products. What `Basis::of_shares` does with a list
/// of seasons, without keeping one: a study may have any number of them.
#[derive(Clone, Copy, Debug, Default)]
struct RatioSums {
    seasons: u64,
    a: f64,
    b: f64,
    aa: f64,
    ab: f64,
    bb: f64,
}

impl RatioSums {
    fn add(&mut self, a: f64, b: f64) {
        self.seasons += 1;
        self.a += a;
        self.b += b;
        self.aa += a * a;
        self.ab += a * b;
        self.bb += b * b;
    }

    /// The ratio of the sums with Student's interval of a ratio estimator, its residuals taken season by season (Cochran, Sampling
    /// Techniques, 3rd ed. 1977, 6.3); none without any `b`.
    fn ratio(&self, confidence: f64) -> Option<Rate> {
        let n = self.seasons as f64;
        let ratio = (self.b > 0.0).then(|| self.a / self.b)?;
        let residuals = (self.aa - 2.0 * ratio * self.ab + ratio * ratio * self.bb).max(0.0);
        let interval = (self.seasons > 1).then(|| {
            let error = libm::sqrt(residuals * n / (n - 1.0)) / self.b;
            let half = t_quantile(0.5 + 0.5 * confidence, n - 1.0) * error;
            ((ratio - half).max(0.0), ratio + half)
        });
        Some((ratio, interval))
    }
}

impl DetectorSums {
    /// Adds a season.
    pub fn add(&mut self, record: &SeasonRecord) {
        self.seasons += 1;
        self.hours.iter_mut().zip(record.condition_h).for_each(|(sum, hours)| *sum += hours);
        self.tallies.resize_with(record.detectors.len().max(self.tallies.len()), DetectorTally::default);
        self.tallies.iter_mut().zip(&record.detectors).for_each(|(sum, tally)| sum.merge(tally));
        self.expected.resize(self.tallies.len(), Default::default());
        for (sums, tally) in self.expected.iter_mut().zip(&record.detectors) {
            add_expected(sums, &tally.false_runs);
        }
        add_expected(&mut self.openings, &record.noise_openings);
    }

    /// How often something of which so many came in each season did per day of each condition; none where the condition never held.
    fn counted(&self, counts: impl Fn(usize) -> Vec<f64>, confidence: f64) -> [Option<Rate>; CONDITIONS.len()] {
        std::array::from_fn(|condition| {
            // Per season as it is estimated, then per day of that condition.
            let per_season = estimate_counts(&counts(condition), Key::FalseOpenings, confidence);
            let days = self.hours[condition] / 24.0 / self.seasons.max(1) as f64;
            let per_day = |value: f64| value / days;
            (days > 0.0)
                .then(|| (per_day(per_season.mean), per_season.interval.map(|i| (per_day(i.low), per_day(i.high)))))
        })
    }

    /// How often noise alone opened the door; `openings` gives how often it did in each season, by condition;
    /// `not_worked_out` why its laws are not known, if so.
    pub fn openings(
        &self,
        openings: impl Fn(usize) -> Vec<f64>,
        not_worked_out: Option<String>,
        confidence: f64,
    ) -> NoiseOpenings {
        NoiseOpenings {
            not_worked_out,
            per_day: self.counted(openings, confidence),
            expected_per_day: self.openings.map(|sums| sums.ratio(confidence)),
        }
    }

    /// The detectors asked for; `false_runs` gives the false runs of a detector in each season, by condition.
    pub fn results(
        &self,
        asked: &[Asked],
        false_runs: impl Fn(usize, usize) -> Vec<f64>,
        confidence: f64,
    ) -> Vec<DetectorResult> {
        let all_h: f64 = self.hours.iter().sum();
        let result = |asked: &Asked| {
            let sum = self.tallies.get(asked.index).cloned().unwrap_or_default();
            let counted = || self.counted(|condition| false_runs(asked.index, condition), confidence);
            DetectorResult {
                name: asked.name.clone(),
                false_per_day: if asked.looks { counted() } else { [None; CONDITIONS.len()] },
                expected_false_per_day: std::array::from_fn(|condition| {
                    let sums = self.expected.get(asked.index).filter(|_| asked.looks)?;
                    sums[condition].ratio(confidence)
                }),
                noticed: sum.after.total(),
                unnoticed: sum.unnoticed,
                uptime: if all_h > 0.0 { 1.0 - sum.blind_h / all_h } else { 1.0 },
                after: sum.after,
                left: sum.left,
            }
        };
        asked.iter().map(result).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Expected rates are those of all moments alike, whatever season they lie in: 2 + 4 a day at 5 + 10 moments are 0.4 each; the
    /// residuals 0 say that it is the same in both. With 3 + 4 the ratio is 7/15 and the residuals are +-2/3, so that the error is
    /// sqrt(2 x 8/9)/15.
    #[test]
    fn expected_rates_are_ratios_over_seasons() {
        let of = |first: f64| {
            let mut sums = RatioSums::default();
            sums.add(first, 5.0);
            sums.add(4.0, 10.0);
            sums.ratio(0.95).expect("moments")
        };
        let (mean, interval) = of(2.0);
        let (low, high) = interval.expect("two seasons");
        assert!((mean - 0.4).abs() < 1e-12 && high - low < 1e-6, "{low} {high}");
        let (mean, interval) = of(3.0);
        let high = interval.expect("two seasons").1;
        let error = f64::sqrt(2.0 * 8.0 / 9.0) / 15.0;
        // Student's t with one degree of freedom: 12.706.
        assert!((mean - 7.0 / 15.0).abs() < 1e-12 && (high - mean - 12.706_204_736 * error).abs() < 1e-6, "{high}");
        assert_eq!(RatioSums::default().ratio(0.95), None);
    }

    /// Two seasons of 240 h, half of it rain: 3 and 1 false runs in rain are 0.4 a day of rain.
    #[test]
    fn rates_are_per_day_of_the_condition() {
        let record = |runs| {
            let mut record = SeasonRecord::empty(0, 1);
            record.condition_h = [120.0, 100.0, 20.0];
            let false_runs = ByNoise { counted: [runs, 0, 0], ..Default::default() };
            let mut tally = DetectorTally { false_runs, blind_h: 2.4, unnoticed: 1, ..Default::default() };
            tally.after.add(3.0);
            tally.left.add(1.25);
            record.detectors = vec![DetectorTally::default(), tally];
            record
        };
        let mut sums = DetectorSums::default();
        [3, 1].into_iter().for_each(|runs| sums.add(&record(runs)));
        let runs = |_: usize, condition: usize| if condition == 0 { vec![3.0, 1.0] } else { vec![0.0, 0.0] };
        let asked = |looks| [Asked { index: 1, name: "eye".into(), looks }];
        assert_eq!(sums.results(&asked(false), runs, 0.95)[0].false_per_day, [None; 3]);
        let got = &sums.results(&asked(true), runs, 0.95)[0];
        let (mean, interval) = got.false_per_day[0].expect("it rained");
        assert!((mean - 0.4).abs() < 1e-12);
        let (low, high) = interval.expect("four runs");
        assert!(low < 0.4 && high > 0.4);
        assert_eq!((got.noticed, got.unnoticed), (2, 2));
        assert!((got.uptime - 0.99).abs() < 1e-12);
        assert!((got.left.quantile(0.5).expect("two") - 1.26).abs() < 1e-12);
    }
}
