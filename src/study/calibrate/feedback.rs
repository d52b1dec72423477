//! What a sensor's figures mean for a scenario: false runs of its detectors and false openings of the strategies while
//! nobody is there, and the chance of an arrival to go unnoticed, at the ends of the figures' intervals.
//!
//! False runs are worked out, not counted: the run rule's mean time from off to on, and back, under the law of a reading
//! with nothing before the sensor. Slow drift is constant over a run, so it is averaged over. Misses are those of
//! [`crate::study::rare`] with the drift as one more condition of an approach. All corners of the intervals are tried,
//! and the range over them is the answer: one number would be more than a log can say.

use super::figures::{Corner, Figures, errors};
use crate::engine::approach::{Approach, Outset};
use crate::engine::{Heard, Plan, PlanError, Reduced, reduce};
use crate::math::normal;
use crate::math::quadrature::Quadrature;
use crate::math::random::Source;
use crate::scenario::Scenario;
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::Detector;
use crate::sensing::false_runs::{FalseRuns, Room};
use crate::sensing::reading::{Eye, Sky, Surroundings};
use crate::study::rare::{Conditions, Draw, PATH, RareSettings, estimate, kinds, path_axes, path_of, season_outsets};

/// Weather and light for which false runs are worked out: at 20 °C, on the first day.
pub const SKIES: [(&str, f64, f64); 3] = [("dry night", 0.0, 0.0), ("dry, full sun", 0.0, 100.0), ("rain", 10.0, 10.0)];

/// A figure with the scenario's own sensor, and over the intervals of the log's figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// With the scenario's figures.
    pub before: f64,
    /// Least over the intervals.
    pub low: f64,
    /// With the log's figures themselves.
    pub middle: f64,
    /// Most over the intervals.
    pub high: f64,
}

/// False runs of a detector.
#[derive(Clone, Debug, PartialEq)]
pub struct DetectorSpread {
    /// The detector.
    pub name: String,
    /// A day, for each of [`SKIES`]; none if its statistic remembers readings, which has no exact law here.
    pub false_per_day: Option<[Spread; SKIES.len()]>,
}

/// What it means for a strategy.
#[derive(Clone, Debug, PartialEq)]
pub struct StrategySpread {
    /// The strategy.
    pub name: String,
    /// How false runs of this sensor reach the door.
    pub way: Way,
    /// False openings a day of a shut door by this sensor, for each of [`SKIES`].
    pub false_per_day: Option<[Spread; SKIES.len()]>,
    /// Chance of an arrival to go unnoticed by the sensors at the door alone; the ends hold the spread of the estimate,
    /// too. None if the open rule can't be worked out.
    pub unnoticed: Option<Spread>,
}

/// How a sensor's false runs reach the door.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Each opens it.
    Alone,
    /// Each opens it while messages or the timetable say that the mower is out.
    WithMessages,
    /// None opens it by itself.
    Never,
    /// The open rule can't be worked out.
    Unknown,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Feedback {
    /// The sensor.
    pub sensor: String,
    /// Its detectors.
    pub detectors: Vec<DetectorSpread>,
    /// The strategies.
    pub strategies: Vec<StrategySpread>,
    /// Approaches whose weather was used, and the seasons they come from.
    pub approaches: u64,
    /// See above.
    pub seasons: u64,
}

/// How much is worked out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Seasons whose weather the approaches meet.
    pub seasons: u64,
    /// Approaches for each strategy and corner, pilot draws apart.
    pub draws: u64,
    /// Seed.
    pub seed: u64,
    /// Confidence of the estimate of misses.
    pub confidence: f64,
}

/// Standard deviations of slow drift that are averaged over, and nodes.
const REACH: f64 = 6.0;
const NODES: usize = 32;
/// Share of the draws that are made as they come.
const DEFENSIVE: f64 = 0.3;

/// Works out what `figures` of the sensor with this index mean.
///
/// # Errors
/// If the scenario's weather or time zone can't be used.
pub fn feedback(scenario: &Scenario, sensor: usize, figures: &Figures, effort: &Effort) -> Result<Feedback, PlanError> {
    let own = &scenario.sensors[sensor];
    let tried: Vec<Sensor> = Corner::all()
        .into_iter()
        .map(|corner| Sensor { errors: errors(figures, &own.errors, corner), ..own.clone() })
        .collect();
    let detectors: Vec<(usize, DetectorSpread)> = scenario
        .detectors
        .iter()
        .enumerate()
        .filter(|(_, detector)| detector.sensor == sensor)
        .map(|(index, detector)| (index, detector_spread(detector, own, &tried)))
        .collect();
    let base = Plan::new(scenario)?;
    let plans: Vec<Plan> = tried.iter().map(|now| Plan::new(&with(scenario, sensor, now))).collect::<Result<_, _>>()?;
    let (mut strategies, mut approaches) = (Vec::new(), 0);
    for (index, strategy) in scenario.strategies.iter().enumerate() {
        let (way, mask) = way(scenario, sensor, &strategy.open);
        let runs: Option<Vec<&[Spread; SKIES.len()]>> = detectors
            .iter()
            .filter(|(detector, _)| mask >> detector & 1 == 1)
            .map(|(_, spread)| spread.false_per_day.as_ref())
            .collect();
        let false_per_day = match way {
            Way::Never => Some([Spread { before: 0.0, low: 0.0, middle: 0.0, high: 0.0 }; SKIES.len()]),
            Way::Unknown => None,
            Way::Alone | Way::WithMessages => runs.map(|runs| std::array::from_fn(|sky| added(&runs, sky))),
        };
        let settings = RareSettings {
            strategy: index,
            seed: effort.seed,
            seasons: effort.seasons,
            draws: effort.draws,
            defensive: DEFENSIVE,
            confidence: effort.confidence,
        };
        let outsets = season_outsets(&base, &settings)?.concat();
        approaches = approaches.max(outsets.len() as u64);
        let before = unnoticed(&base, &outsets, &settings);
        let after: Option<Vec<[f64; 3]>> = plans.iter().map(|plan| unnoticed(plan, &outsets, &settings)).collect();
        let unnoticed = before.zip(after).map(|(before, after)| Spread {
            before: before[1],
            low: after.iter().map(|it| it[0]).fold(f64::INFINITY, f64::min),
            middle: after[0][1],
            high: after.iter().map(|it| it[2]).fold(0.0, f64::max),
        });
        strategies.push(StrategySpread { name: strategy.name.clone(), way, false_per_day, unnoticed });
    }
    Ok(Feedback {
        sensor: own.name.clone(),
        detectors: detectors.into_iter().map(|(_, spread)| spread).collect(),
        strategies,
        approaches,
        seasons: effort.seasons,
    })
}

fn with(scenario: &Scenario, sensor: usize, now: &Sensor) -> Scenario {
    let mut other = scenario.clone();
    other.sensors[sensor] = now.clone();
    other
}

/// Sums of detectors, end by end.
fn added(runs: &[&[Spread; SKIES.len()]], sky: usize) -> Spread {
    let sum = |of: fn(&Spread) -> f64| runs.iter().map(|run| of(&run[sky])).sum();
    Spread { before: sum(|s| s.before), low: sum(|s| s.low), middle: sum(|s| s.middle), high: sum(|s| s.high) }
}

/// Whether runs of the sensor's detectors open the door by themselves, and of which (as bits).
fn way(scenario: &Scenario, sensor: usize, open: &crate::scenario::strategy::Condition) -> (Way, u64) {
    let others = scenario.detectors_that(|detector| detector.sensor != sensor);
    let say_out = scenario.detectors_that(|detector| {
        matches!(
            scenario.sensors[detector.sensor].kind,
            SensorKind::Status { .. } | SensorKind::Clock { .. } | SensorKind::RainGauge
        )
    });
    let heard = |on: u64| Heard { known: others, on, silent: 0 };
    match (reduce(open, heard(0)), reduce(open, heard(say_out & others))) {
        (Reduced::Any(mask), _) => (Way::Alone, mask),
        (Reduced::False | Reduced::Other, Reduced::Any(mask)) => (Way::WithMessages, mask),
        (Reduced::Other, _) | (_, Reduced::Other) => (Way::Unknown, 0),
        _ => (Way::Never, 0),
    }
}

/// False runs a day of a detector in each sky.
fn detector_spread(detector: &Detector, own: &Sensor, tried: &[Sensor]) -> DetectorSpread {
    let in_sky = |(_, rain_mm_h, light_klux): &(&str, f64, f64)| -> Option<Spread> {
        let sky = Sky { rain_mm_h: *rain_mm_h, light_klux: *light_klux, ..Sky::dark(20.0) };
        let before = false_runs_per_day(detector, own, &sky)?;
        let after: Vec<f64> =
            tried.iter().map(|sensor| false_runs_per_day(detector, sensor, &sky)).collect::<Option<_>>()?;
        Some(Spread {
            before,
            low: after.iter().copied().fold(f64::INFINITY, f64::min),
            middle: after[0],
            high: after.iter().copied().fold(0.0, f64::max),
        })
    };
    let all: Option<Vec<Spread>> = SKIES.iter().map(in_sky).collect();
    DetectorSpread { name: detector.name.clone(), false_per_day: all.and_then(|all| all.try_into().ok()) }
}

/// False runs a day of a detector whose sensor sees nothing, in the mean over its random drift; none for what is drawn (moving means,
/// approach rates, slow EWMAs), noise that remembers, or too many states.
pub fn false_runs_per_day(detector: &Detector, sensor: &Sensor, sky: &Sky) -> Option<f64> {
    let runs = FalseRuns::new(detector, sensor).filter(|runs| !runs.is_drawn())?;
    let eye = Eye::new(sensor);
    let mut room = Room::new(Source::new(0, 0, "false runs"));
    let mut rate = |shift: f64| {
        let seeing = eye.seeing(sky).shifted(shift);
        let laws = [false, true].map(|false_break| {
            eye.law(&Surroundings { false_break, ..Surroundings::before_shut_door(&[], *sky, seeing) })
        });
        runs.per_day([&laws[0], &laws[1]], &mut room)
    };
    let slow = sensor.errors.random_drift;
    if slow <= 0.0 {
        return Some(rate(0.0));
    }
    let rule = Quadrature::legendre(NODES, -REACH, REACH);
    let weighed = rule.nodes.iter().zip(&rule.weights);
    Some(weighed.map(|(z, weight)| weight * normal::density(*z) * rate(slow * z)).sum())
}

/// The chance of an arrival to go unnoticed: low end, estimate, high end; none if it can't be worked out.
fn unnoticed(plan: &Plan, outsets: &[Outset], settings: &RareSettings) -> Option<[f64; 3]> {
    let approach = Approach::new(plan, settings.strategy).ok().filter(|_| !outsets.is_empty())?;
    // With the causes that sensors share: noise alone may promise less than any arrival can be counted on.
    let chance = |draw: &Draw<PATH>| approach.unnoticed(&outsets[draw.place], &path_of(plan, draw.z)).with_common;
    // Nothing is rarer here than the common causes, so that few cells do.
    let axes = path_axes(plan, &approach, [1, 8, 1, 4]);
    let conditions = Conditions { places: outsets.len(), kinds: &kinds(outsets), seasons: None, axes };
    let found = estimate(&conditions, chance, settings);
    // Few effective draws support no interval; their error still says how far off the estimate may be.
    let (low, high) = found
        .interval
        .map_or(((found.mean - 2.0 * found.error).max(0.0), (found.mean + 2.0 * found.error).min(1.0)), |it| {
            (it.low, it.high.min(1.0))
        });
    Some([low, found.mean, high])
}
