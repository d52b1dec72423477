//! How long the drive lasts: plays seasons, adds up what every stroke takes of its life and why, and turns that into the chance
//! to survive.
//!
//! Every stroke of a season is looked up again from the event log: its direction, where it began and ended, and the weather's class.
//! Damage adds up linearly (Palmgren 1924, Miner 1945); lives scatter by Weibull's law; parts stand in series. Over several seasons
//! the damage is taken to grow at its mean rate: what differs from season to season is small against the scatter of the
//! lives. The intervals cover the seasons played, not errors of the ratings.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use super::interval::Interval;
use super::interval::mean::student_t;
use super::run::{Progress, RunSettings, StudyError};
use crate::engine::{Options, Outside, Plan, PlanError, play};
use crate::ledger::metric::Key;
use crate::scenario::Scenario;
use crate::scenario::door::Drive;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::rainflow;
use crate::shelter::stroke::table::{class_profile, wind_class};
use crate::shelter::wear::{Basis, Series, Weibull};

mod causes;

pub use causes::{CAUSES, Cause, Tally};

/// Numbers of seasons for which the chance to survive is given.
pub const HORIZONS: [f64; 4] = [1.0, 3.0, 5.0, 10.0];
/// Bins of the load spectrum, in tenths of the rated force; the last holds all above.
pub const BINS: usize = 21;
/// Points of the life distribution.
const POINTS: usize = 200;

/// A figure with its interval; none where too few seasons support one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ranged {
    /// The figure.
    pub value: f64,
    /// Its interval.
    pub interval: Option<Interval>,
}

/// A part with its wear.
#[derive(Clone, Debug, PartialEq)]
pub struct PartLife {
    /// Name.
    pub name: String,
    /// Damage per season, 1 at the rated life.
    pub damage: Ranged,
    /// Seasons that nine in ten survive; infinite if nothing wears.
    pub b10: f64,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct LifetimeResult {
    /// Scenario's name.
    pub name: String,
    /// Strategy whose seasons were played; none for a logged history.
    pub strategy: Option<String>,
    /// Seasons behind it.
    pub seasons: u64,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Strokes per season.
    pub strokes: Ranged,
    /// Damage of the drive per season, by cause.
    pub causes: Vec<(Cause, Ranged)>,
    /// Share of the way, and of the drive's damage, at each tenth of the rated force.
    pub spectrum: Vec<(f64, f64)>,
    /// Each part; the drive first.
    pub parts: Vec<PartLife>,
    /// Seasons that nine in ten, and that half of such shelters survive.
    pub b10: Ranged,
    /// Median life, seasons.
    pub median: Ranged,
    /// B10 of the drive, seasons, if its life went with the load to the power of 0 (every stroke counts in full), of 1 (sliding wear),
    /// and of its own exponent. A fatigue exponent promises too much under light loads.
    pub by_exponent: Vec<(f64, f64)>,
    /// Chance to survive each of [`HORIZONS`].
    pub survival: Vec<(f64, Ranged)>,
    /// Curve of the chance to survive over seasons: estimate, low and high.
    pub curve: Vec<[f64; 4]>,
    /// Worst duty against the rating, %, and highest winding temperature, degC, of all seasons; none for a logged history.
    pub hardest: Option<(f64, f64)>,
}

/// Plays seasons of one strategy.
///
/// # Errors
/// If the scenario can't be played or no threads can be had.
pub fn lifetime(
    scenario: &Scenario,
    settings: &RunSettings,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<LifetimeResult, StudyError> {
    let plan = Plan::new(scenario)?;
    let strategy = settings.strategies.first().copied().unwrap_or(0);
    let options = Options { sampling: settings.sampling, events: true };
    let (done, all) = (AtomicU64::new(0), settings.seasons);
    let season = |number: u64| -> Option<Result<Tally, PlanError>> {
        if settings.stop.load(Ordering::Relaxed) {
            return None;
        }
        let tally = Outside::draw(&plan, settings.seed, settings.first_season + number).map(|outside| {
            let record = play(&plan, &outside, strategy, settings.seed, options);
            causes::tally(&plan, &outside, &record)
        });
        progress(Progress { done: done.fetch_add(1, Ordering::Relaxed) + 1, all });
        Some(tally)
    };
    let mut pool = rayon::ThreadPoolBuilder::new();
    if let Some(threads) = settings.threads {
        pool = pool.num_threads(threads);
    }
    let played: Vec<_> =
        pool.build()?.install(|| (0..all as usize).into_par_iter().with_max_len(1).map(|n| season(n as u64)).collect());
    let mut tallies = Vec::new();
    for tally in played {
        let Some(tally) = tally else { break };
        tallies.push(tally?);
    }
    Ok(sum_up(scenario, &scenario.strategies[strategy].name, &tallies, settings.confidence))
}

fn ranged(values: &[f64], confidence: f64) -> Ranged {
    let value = if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 };
    // Damage and counts cannot be negative.
    let interval = student_t(values, confidence).map(|it| Interval { low: it.low.max(0.0), ..it });
    Ranged { value, interval }
}

/// Way per wind class and direction, and what each exponent makes of it.
fn sum_up(scenario: &Scenario, strategy: &str, tallies: &[Tally], confidence: f64) -> LifetimeResult {
    let drive = &scenario.drive;
    let mut spectrum = vec![(0.0, 0.0); BINS];
    let classes: BTreeMap<(Direction, usize), f64> =
        tallies.iter().flat_map(|tally| &tally.way).fold(BTreeMap::new(), |mut sum, (class, way)| {
            *sum.entry(*class).or_insert(0.0) += way;
            sum
        });
    // Damage of one full stroke of each class for each part, in its own exponent.
    let mut per_stroke: BTreeMap<(Direction, usize), Vec<f64>> = BTreeMap::new();
    let full = mechanism::stroke_m(&scenario.door);
    for (class, way) in &classes {
        let profile = class_profile(&scenario.door, drive, class.0, class.1);
        let damages = drive.parts.iter().map(|part| {
            profile.damage_by_panel(part.exponent, drive.rated_force_n).iter().sum::<f64>() / full / part.rated_strokes
        });
        per_stroke.insert(*class, damages.collect());
        let wear = profile.damage_by_panel(drive.wear.exponent, drive.rated_force_n);
        for (panel, damage) in profile.panels.iter().zip(wear) {
            let load = 0.5 * (panel.first_n + panel.last_n).abs() / drive.rated_force_n;
            let bin = ((10.0 * load) as usize).min(BINS - 1);
            spectrum[bin].0 += way * panel.length_m / full;
            spectrum[bin].1 += way * damage / full;
        }
    }
    let whole = spectrum.iter().fold((0.0, 0.0), |sum, bin| (sum.0 + bin.0, sum.1 + bin.1));
    for bin in &mut spectrum {
        bin.0 /= f64::max(whole.0, f64::MIN_POSITIVE);
        bin.1 /= f64::max(whole.1, f64::MIN_POSITIVE);
    }
    let drive_damage: Vec<f64> = tallies.iter().map(|tally| tally.damage.iter().sum()).collect();
    let mut laws = vec![("drive".to_string(), Weibull::of_drive(&drive.wear), ranged(&drive_damage, confidence))];
    for (index, part) in drive.parts.iter().enumerate() {
        let of_season =
            |tally: &Tally| -> f64 { tally.way.iter().map(|(class, way)| way * per_stroke[class][index]).sum() };
        let damages: Vec<f64> = tallies.iter().map(of_season).collect();
        let basis = if part.mean_life { Basis::Mean } else { Basis::B10 };
        laws.push((part.name.clone(), Weibull::of_damage(part.weibull_shape, basis), ranged(&damages, confidence)));
    }
    let law = Weibull::of_drive(&drive.wear);
    let seasons = tallies.len().max(1) as f64;
    let by_exponent = exponents(drive).map(|exponent| {
        let damage: f64 = classes
            .iter()
            .map(|(class, way)| {
                let profile = class_profile(&scenario.door, drive, class.0, class.1);
                way * profile.damage_by_panel(exponent, drive.rated_force_n).iter().sum::<f64>() / full
            })
            .sum();
        (exponent, b10_of(&law, damage / drive.wear.rated_strokes / seasons))
    });
    let by_exponent = by_exponent.to_vec();
    let causes = CAUSES.iter().enumerate().map(|(index, cause)| {
        let values: Vec<f64> = tallies.iter().map(|tally| tally.damage[index]).collect();
        (*cause, ranged(&values, confidence))
    });
    let strokes: Vec<f64> = tallies.iter().map(|tally| tally.strokes as f64).collect();
    let peak = |of: fn(&Tally) -> f64| tallies.iter().map(of).fold(0.0, f64::max);
    LifetimeResult {
        strategy: Some(strategy.to_string()),
        seasons: tallies.len() as u64,
        strokes: ranged(&strokes, confidence),
        causes: causes.collect(),
        spectrum,
        by_exponent,
        hardest: Some((peak(|tally| tally.duty), peak(|tally| tally.winding_c))),
        ..lives(&scenario.name, &laws, confidence)
    }
}

/// Life of parts in series, each with its law in damage form and its damage per season.
fn lives(name: &str, laws: &[(String, Weibull, Ranged)], confidence: f64) -> LifetimeResult {
    let series =
        |of: fn(&Ranged) -> f64| Series { parts: laws.iter().map(|(_, law, damage)| (*law, of(damage))).collect() };
    let middle = series(|damage| damage.value);
    // More damage, shorter life: the ends change sides. Parts wear together, so their ends are taken together.
    let slow = series(|damage| damage.interval.map_or(damage.value, |it| it.low));
    let fast = series(|damage| damage.interval.map_or(damage.value, |it| it.high));
    let known = laws.iter().any(|(_, _, damage)| damage.interval.is_some());
    let method = laws.iter().find_map(|(_, _, damage)| damage.interval).map(|it| it.method);
    let ranged = |value: f64, low: f64, high: f64| Ranged {
        value,
        interval: method.filter(|_| known).map(|method| Interval { low, high, confidence, method }),
    };
    let life = |series: &Series, q: f64| series.b_life(q).unwrap_or(f64::INFINITY);
    let of_life = |q: f64| ranged(life(&middle, q), life(&fast, q), life(&slow, q));
    let survive = |seasons: f64| ranged(middle.survival(seasons), fast.survival(seasons), slow.survival(seasons));
    let b10 = of_life(0.1);
    let end = if b10.value.is_finite() { life(&middle, 0.99).min(20.0 * b10.value.max(1e-9)) } else { 10.0 };
    let curve = (0..=POINTS).map(|point| {
        let seasons = end * point as f64 / POINTS as f64;
        [seasons, middle.survival(seasons), fast.survival(seasons), slow.survival(seasons)]
    });
    LifetimeResult {
        name: name.to_string(),
        strategy: None,
        seasons: 0,
        confidence,
        strokes: Ranged { value: 0.0, interval: None },
        causes: Vec::new(),
        spectrum: Vec::new(),
        parts: laws
            .iter()
            .map(|(name, law, damage)| PartLife { name: name.clone(), damage: *damage, b10: b10_of(law, damage.value) })
            .collect(),
        b10,
        median: of_life(0.5),
        by_exponent: Vec::new(),
        survival: HORIZONS.iter().map(|seasons| (*seasons, survive(*seasons))).collect(),
        curve: curve.collect(),
        hardest: None,
    }
}

/// Life from a logged load history, N, that covers `seasons` seasons, counted by rainflow. A cycle counts as a stroke under its
/// range.
pub fn from_history(name: &str, drive: &Drive, history: &[f64], seasons: f64, confidence: f64) -> LifetimeResult {
    let cycles = rainflow::count(history);
    let per_season =
        |rated: f64, exponent: f64| rainflow::damage(&cycles, drive.rated_force_n, rated, exponent) / seasons;
    let known = |value: f64| Ranged { value, interval: None };
    let mut laws = vec![(
        "drive".to_string(),
        Weibull::of_drive(&drive.wear),
        known(per_season(drive.wear.rated_strokes, drive.wear.exponent)),
    )];
    for part in &drive.parts {
        let basis = if part.mean_life { Basis::Mean } else { Basis::B10 };
        laws.push((
            part.name.clone(),
            Weibull::of_damage(part.weibull_shape, basis),
            known(per_season(part.rated_strokes, part.exponent)),
        ));
    }
    let law = Weibull::of_drive(&drive.wear);
    let by_exponent =
        exponents(drive).map(|exponent| (exponent, b10_of(&law, per_season(drive.wear.rated_strokes, exponent))));
    let mut spectrum = vec![(0.0, 0.0); BINS];
    let total: f64 = cycles.iter().map(|cycle| cycle.count).sum();
    let damage: f64 = rainflow::damage(&cycles, drive.rated_force_n, 1.0, drive.wear.exponent);
    for cycle in &cycles {
        let load = cycle.range / drive.rated_force_n;
        let bin = ((10.0 * load) as usize).min(BINS - 1);
        spectrum[bin].0 += cycle.count / total;
        spectrum[bin].1 += cycle.count * libm::pow(load, drive.wear.exponent) / damage.max(f64::MIN_POSITIVE);
    }
    LifetimeResult {
        strokes: known(total / seasons),
        spectrum,
        by_exponent: by_exponent.to_vec(),
        ..lives(name, &laws, confidence)
    }
}

/// The exponents that are compared.
fn exponents(drive: &Drive) -> [f64; 3] {
    [0.0, 1.0, drive.wear.exponent]
}

/// B10 in seasons at a damage per season; infinite if nothing wears.
fn b10_of(law: &Weibull, damage: f64) -> f64 {
    if damage > 0.0 { law.per(damage).b_life(0.1) } else { f64::INFINITY }
}

/// Loads of a stroke from the weather at a moment.
fn loads_at(plan: &Plan, outside: &Outside, at: crate::math::time::Instant) -> Loads {
    let weather = outside.weather.at(at);
    Loads {
        gust_m_s: weather.gust_m_s * plan.scenario.site.wind_factor,
        temperature_c: weather.temperature_c,
        frozen: false,
    }
}

/// Wind class of the same.
fn class_at(plan: &Plan, outside: &Outside, at: crate::math::time::Instant) -> usize {
    wind_class(&loads_at(plan, outside, at))
}

/// Value of a metric for the extremes.
fn peak_of(record: &crate::ledger::record::SeasonRecord, key: Key) -> f64 {
    record.value(key)
}
