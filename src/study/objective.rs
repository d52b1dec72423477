//! What counts as better, season by season, and limits on the share of bad seasons.

use super::alarm::{Untried, untried};
use super::basis::Basis;
use super::interval::clopper_pearson;
use super::interval::mean::smallest;
use super::interval::{Interval, mean};
use super::result::Verdict;
use crate::ledger::metric::{Key, Kind, by_key};
use crate::ledger::record::SeasonRecord;
use crate::scenario::objective::{Goal, Objective, Risk};

/// An objective, ready to be computed.
#[derive(Clone, Debug, PartialEq)]
pub struct Aim {
    weights: Vec<(Key, f64)>,
    /// The one metric that is minimised; none for a sum of costs.
    pub metric: Option<Key>,
    /// Difference that doesn't matter; none if not stated.
    pub indifference: Option<f64>,
}

impl Aim {
    /// The objective's aim; none if it names a metric that doesn't exist.
    pub fn new(objective: &Objective) -> Option<Aim> {
        let (weights, metric) = match &objective.goal {
            Goal::Metric(name) => (vec![(by_key(name)?, 1.0)], by_key(name)),
            Goal::Costs(costs) => {
                let weight = |cost: &crate::scenario::objective::Cost| Some((by_key(&cost.metric)?, cost.cost));
                (costs.iter().map(weight).collect::<Option<Vec<_>>>()?, None)
            }
        };
        Some(Aim { weights, metric, indifference: objective.indifference })
    }

    /// The aim of minimising one metric.
    pub fn of_metric(key: Key, indifference: Option<f64>) -> Aim {
        Aim { weights: vec![(key, 1.0)], metric: Some(key), indifference }
    }

    /// The aim in words: `least missed_arrivals`, `least cost: strandings 20, false_openings 0.5`.
    pub fn told(&self) -> String {
        let goal = match self.metric {
            Some(key) => format!("least {}", key.metric().key),
            None => {
                let cost = |(key, weight): &(Key, f64)| format!("{} {weight}", key.metric().key);
                format!("least cost: {}", self.weights.iter().map(cost).collect::<Vec<_>>().join(", "))
            }
        };
        self.indifference.map_or(goal.clone(), |zone| format!("{goal}; indifference {zone}"))
    }

    /// Whether it minds this metric.
    pub fn counts(&self, key: Key) -> bool {
        self.weights.iter().any(|(counted, weight)| *counted == key && *weight != 0.0)
    }

    /// What one season costs. A share of no trials counts as 0.
    pub fn cost(&self, record: &SeasonRecord) -> f64 {
        let value = |key: Key| match key.metric().kind {
            Kind::Share => {
                let arrivals = record.value(Key::Arrivals);
                if arrivals > 0.0 { record.value(Key::MissedArrivals) / arrivals } else { 0.0 }
            }
            Kind::Count | Kind::Amount | Kind::Peak | Kind::PeakIfAny => record.value(key),
        };
        self.weights.iter().map(|(key, weight)| weight * value(*key)).sum()
    }

    /// What each season costs.
    pub fn costs(&self, records: &[SeasonRecord]) -> Vec<f64> {
        records.iter().map(|record| self.cost(record)).collect()
    }

    /// Unit of the cost; "" for a sum of costs.
    pub fn unit(&self) -> &'static str {
        self.metric.map_or("", |key| key.metric().unit)
    }
}

/// Mean with its interval, of costs per season.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanCost {
    /// Mean per season; 0 without seasons.
    pub mean: f64,
    /// Its interval; none where the seasons can't support one.
    pub interval: Option<Interval>,
}

/// Mean cost of some seasons.
pub fn mean_cost(costs: &[f64], confidence: f64) -> MeanCost {
    if costs.is_empty() || costs.iter().any(|cost| !cost.is_finite()) {
        return MeanCost { mean: 0.0, interval: None };
    }
    let basis = Basis::of_amounts(costs);
    MeanCost { mean: mean::mean_and_variance(costs).0, interval: basis.interval(confidence) }
}

/// Decision on a risk.
#[derive(Clone, Debug, PartialEq)]
pub struct RiskVerdict {
    /// The risk.
    pub risk: Risk,
    /// Bad seasons.
    pub bad: u64,
    /// Seasons.
    pub seasons: u64,
    /// Bound of the share of bad seasons at the risk's confidence (Clopper & Pearson): the lower one where it refutes the risk, the
    /// upper one otherwise; none without seasons.
    pub bound: Option<f64>,
    /// Decision.
    pub verdict: Verdict,
    /// What the seasons did not try, if that is why it is not met.
    pub untried: Option<Untried>,
}

/// Decides on a risk: met if the upper confidence bound of the share of bad seasons is at most the accepted one, not
/// met if the lower one is above it. Both bounds are exact. As a limit of the kind "at most" it is never met by seasons that have not
/// tried what it is about.
pub fn judge_risk(risk: &Risk, records: &[SeasonRecord]) -> RiskVerdict {
    let seasons = records.len() as u64;
    let key = by_key(&risk.metric);
    let bad = match key {
        Some(key) => {
            let aim = Aim::of_metric(key, None);
            records.iter().filter(|record| aim.cost(record) > risk.above).count() as u64
        }
        None => 0,
    };
    // One-sided at c: the end of the two-sided interval at 2 c - 1.
    let bounds = |bad: u64, seasons: u64| clopper_pearson(bad, seasons, 2.0 * risk.confidence - 1.0);
    let now = bounds(bad, seasons).filter(|_| key.is_some());
    let not_met = now.is_some_and(|interval| interval.low > risk.at_most);
    let untried = untried(records).filter(|_| !not_met);
    let verdict = match now {
        _ if not_met => Verdict::NotMet,
        _ if untried.is_some() => Verdict::Undecided { more_seasons: None },
        Some(interval) if interval.high <= risk.at_most => Verdict::Met,
        _ => Verdict::Undecided { more_seasons: now.and_then(|_| more_seasons(risk, bad, seasons)) },
    };
    let bound = now.map(|interval| if not_met { interval.low } else { interval.high });
    RiskVerdict { risk: risk.clone(), bad, seasons, bound, verdict, untried }
}

/// Further seasons after which the risk would be decided if bad ones came as often as so far.
fn more_seasons(risk: &Risk, bad: u64, seasons: u64) -> Option<u64> {
    const LARGEST: u64 = 10_000_000;
    let share = bad as f64 / seasons as f64;
    if share == risk.at_most {
        return None;
    }
    let decided = |n: u64| {
        if n > LARGEST {
            return true;
        }
        let bad = (share * n as f64).round() as u64;
        clopper_pearson(bad, n, 2.0 * risk.confidence - 1.0).is_some_and(|interval| {
            if share < risk.at_most { interval.high <= risk.at_most } else { interval.low > risk.at_most }
        })
    };
    smallest(seasons, decided).filter(|n| *n <= LARGEST).map(|n| n - seasons)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::objective::Cost;

    fn records(values: &[f64]) -> Vec<SeasonRecord> {
        let record = |(season, value): (usize, &f64)| {
            let mut record = SeasonRecord::empty(season as u64, 0);
            record.values[Key::Strandings as usize] = *value;
            record.values[Key::FalseOpenings as usize] = 10.0;
            record.values[Key::Arrivals as usize] = 100.0;
            record
        };
        values.iter().enumerate().map(record).collect()
    }

    #[test]
    fn costs_add_up() {
        let cost = |metric: &str, cost| Cost { metric: metric.into(), cost };
        let goal = Goal::Costs(vec![cost("strandings", 20.0), cost("false_openings", 0.5)]);
        let aim = Aim::new(&Objective { goal, indifference: None }).unwrap();
        assert_eq!(aim.costs(&records(&[0.0, 2.0])), [5.0, 45.0]);
        assert_eq!(Aim::new(&Objective { goal: Goal::Metric("nothing".into()), indifference: None }), None);
    }

    /// The success-run theorem: with 0.95^n <= 0.05, n = 59 seasons without a bad one show at most one bad in twenty.
    #[test]
    fn one_season_in_twenty() {
        let risk = Risk { metric: "strandings".into(), above: 0.0, at_most: 0.05, confidence: 0.95 };
        assert_eq!(judge_risk(&risk, &records(&[0.0; 59])).verdict, Verdict::Met);
        assert_eq!(judge_risk(&risk, &records(&[0.0; 58])).verdict, Verdict::Undecided { more_seasons: Some(1) });
        // Four bad ones of four refute it by a lower bound of 0.05^(1/4) = 47 %.
        let refuted = judge_risk(&risk, &records(&[1.0; 4]));
        assert_eq!(refuted.verdict, Verdict::NotMet);
        assert!((refuted.bound.expect("seasons") - 0.05_f64.powf(0.25)).abs() < 1e-9, "{refuted:?}");
        assert_eq!(judge_risk(&risk, &[]).verdict, Verdict::Undecided { more_seasons: None });
        // A door that never came back to shut has shown nothing, unless it is too much already.
        let stuck = |values: &[f64]| {
            let mut records = records(values);
            records.iter_mut().for_each(|record| record.values[Key::Openings as usize] = 9.0);
            judge_risk(&risk, &records)
        };
        let none = stuck(&[0.0; 59]);
        assert_eq!(none.verdict, Verdict::Undecided { more_seasons: None });
        assert_eq!(none.untried, Some(Untried::NeverShut));
        let all = stuck(&[1.0; 4]);
        assert_eq!((all.verdict, all.untried), (Verdict::NotMet, None));
    }
}
