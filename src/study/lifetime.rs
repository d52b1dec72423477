//! How long the drive lasts: plays seasons, adds up what every stroke takes of its life and why, and turns that into the chance
//! to survive.
//!
//! Every stroke of a season is looked up again from the event log: its direction, where it began and ended, and the weather's class.
//! A stroke that stalls counts as a full one at all the force that the drive has, beside the way that it went. Damage adds up
//! linearly (Palmgren 1924, Miner 1945); lives scatter by Weibull's law; parts stand in series. Over several seasons the damage is
//! taken to grow at its mean rate: what differs from season to season is small against the scatter of the lives. The intervals cover the seasons played, not errors of the ratings.
//!
//! A load-life exponent is measured near the rated load. Far below it, where a shelter's door mostly works, it promises lives
//! that no drive has: there sliding wear governs (Archard: life goes with the load), and things that count strokes whatever
//! their load. So the life is worked out by three laws, and the shortest is the answer.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

use super::alarm::alarms;
use super::field::threads;
use super::in_order::in_order;
use super::interval::Interval;
use super::interval::mean::student_t;
use super::run::{Progress, RunSettings, StudyError};
use crate::engine::{Options, Outside, Plan, PlanError, play};
use crate::ledger::metric::Key;
use crate::ledger::record::SeasonRecord;
use crate::scenario::Scenario;
use crate::scenario::door::Drive;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::rainflow;
use crate::shelter::stroke::table::class_profile;
use crate::shelter::wear::{Series, Weibull, rating_of, stalled_damage, stalled_load};

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
    /// Law of its life in damage form.
    pub law: Weibull,
}

/// What is left of a shelter that has worked for a while.
#[derive(Clone, Debug, PartialEq)]
pub struct Left {
    /// Seasons it has worked.
    pub used: f64,
    /// Chance that it lasts each of [`HORIZONS`] more, given that it works now.
    pub survival: Vec<(f64, Ranged)>,
    /// Mean seasons left, given that it works now; infinite if nothing wears.
    pub mean: Ranged,
}

/// Life by one law: all parts' exponents held to at most one number.
#[derive(Clone, Debug, PartialEq)]
pub struct LawLife {
    /// Largest exponent of life over load; infinite for the parts' own exponents.
    pub exponent: f64,
    /// Each part under this law; the drive first.
    pub parts: Vec<PartLife>,
    /// Seasons that nine in ten of such shelters survive.
    pub b10: Ranged,
    /// Seasons that half of them survive.
    pub median: Ranged,
    /// Chance to survive each of [`HORIZONS`].
    pub survival: Vec<(f64, Ranged)>,
    /// Curve of the chance to survive over seasons: estimate, low and high; over the same seasons for all laws.
    pub curve: Vec<[f64; 4]>,
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
    /// Damage of the drive per season, by cause, with its own exponent; of [`Cause::Duty`] the used life of the winding's insulation.
    pub causes: Vec<(Cause, Ranged)>,
    /// Name of the part that is the weakest by the cautious law, if it is not the drive, and the damage per season that each cause
    /// does to it with its own exponent.
    pub weakest: Option<(String, Vec<(Cause, f64)>)>,
    /// Share of the way, and of the drive's damage, at each tenth of the rated force.
    pub spectrum: Vec<(f64, f64)>,
    /// Each part with its own exponent; the drive first.
    pub parts: Vec<PartLife>,
    /// Whether anything moved; if not, there is no life to tell.
    pub moved: bool,
    /// Life by each law: every stroke in full, sliding wear, the scenario's exponents.
    pub laws: Vec<LawLife>,
    /// Index of the cautious law: the one with the shortest life.
    pub cautious: usize,
    /// Worst duty against the rating, %, and highest winding temperature, degC, of all seasons; none for a logged history.
    pub hardest: Option<(f64, f64)>,
    /// What a reader must know before the answer: the warnings that a run of these seasons would raise.
    pub alarms: Vec<String>,
    /// Cycles counted in a logged history, by range; none for played seasons.
    pub cycles: Vec<Counted>,
    /// What is left after some seasons' use by the cautious law, if that was asked for.
    pub left: Option<Left>,
}

/// Cycles of a logged history of nearly one range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// Least and largest range, N.
    pub range_n: (f64, f64),
    /// Cycles; halves are left open by the history's ends.
    pub count: f64,
    /// Damage of the drive, 1 at the rated life, with its own exponent.
    pub damage: f64,
}

impl LifetimeResult {
    /// The answer: life by the cautious law.
    pub fn answer(&self) -> &LawLife {
        &self.laws[self.cautious]
    }

    /// What is left of such a shelter after `used` seasons, by the cautious law, if it works.
    pub fn after(&self, used: f64) -> Left {
        let ends = Ends::of(self.answer().parts.iter().map(|part| (part.law, part.damage)));
        let survival =
            HORIZONS.map(|more| (more, ends.ranged(|series| series.conditional_survival(used, more)))).to_vec();
        Left { used, survival, mean: ends.ranged(|series| series.mean_left(used)) }
    }

    /// Seasons until the winding's insulation is used up, if that comes before the end that the cautious law foresees for nine in
    /// ten.
    pub fn burns_first(&self) -> Option<f64> {
        let (_, used) = self.causes.iter().find(|(cause, _)| *cause == Cause::Duty)?;
        let seasons = 1.0 / used.value;
        (used.value > 0.0 && seasons < self.answer().b10.value).then_some(seasons)
    }
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
    let season = |number: usize| -> Result<Tally, PlanError> {
        let outside = Outside::draw(&plan, settings.seed, settings.first_season + number as u64)?;
        let record = play(&plan, &outside, strategy, settings.seed, options);
        let tally = causes::tally(&plan, &outside, &record);
        progress(Progress { done: done.fetch_add(1, Ordering::Relaxed) + 1, all });
        Ok(tally)
    };
    let tallies = in_order(&threads(settings.threads)?, all as usize, settings.stop, season)?;
    Ok(sum_up(scenario, &scenario.strategies[strategy].name, &tallies, settings.confidence))
}

fn ranged(values: &[f64], confidence: f64) -> Ranged {
    let value = if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 };
    // Damage and counts cannot be negative.
    let interval = student_t(values, confidence).map(|it| Interval { low: it.low.max(0.0), ..it });
    Ranged { value, interval }
}

/// A part's law in damage form, and its damage per season.
type Worn = (String, Weibull, Ranged);

/// Largest exponents of the laws that are compared.
pub(super) const LAWS: [f64; 3] = [0.0, 1.0, f64::INFINITY];

/// Name, rated strokes, exponent and law in damage form of the drive and of each part.
pub(super) fn rated(scenario: &Scenario) -> Vec<(String, f64, f64, Weibull)> {
    let drive = &scenario.drive;
    let own = ("drive".to_string(), drive.wear.rated_strokes, drive.wear.exponent, Weibull::of_drive(&drive.wear));
    let part = |part: &crate::scenario::door::Part| {
        let (strokes, exponent, basis) = rating_of(part, scenario);
        (part.name.clone(), strokes, exponent, Weibull::of_damage(part.weibull_shape, basis))
    };
    std::iter::once(own).chain(drive.parts.iter().map(part)).collect()
}

/// Damage of a full stroke of a class, at a rating of one stroke, for each exponent asked for so far.
struct PerStroke<'s> {
    scenario: &'s Scenario,
    known: BTreeMap<(Direction, usize, u64), f64>,
}

impl PerStroke<'_> {
    fn of(&mut self, direction: Direction, class: usize, exponent: f64) -> f64 {
        let (door, drive) = (&self.scenario.door, &self.scenario.drive);
        *self.known.entry((direction, class, exponent.to_bits())).or_insert_with(|| {
            let profile = class_profile(door, drive, direction, class);
            profile.damage_by_panel(exponent, drive.rated_force_n).iter().sum::<f64>() / mechanism::stroke_m(door)
        })
    }
}

/// Way per wind class and direction, and what each law makes of it.
fn sum_up(scenario: &Scenario, strategy: &str, tallies: &[Tally], confidence: f64) -> LifetimeResult {
    let mut per_stroke = PerStroke { scenario, known: BTreeMap::new() };
    let ratings = rated(scenario);
    let stalled_load = stalled_load(&scenario.drive, &scenario.supply);
    let mut laws: Vec<(f64, Vec<Worn>)> = Vec::new();
    for most in LAWS {
        let mut worn = Vec::new();
        for (index, (name, strokes, exponent, law)) in ratings.iter().enumerate() {
            let exponent = exponent.min(most);
            let damages: Vec<f64> = if index == 0 && most.is_infinite() {
                // As the seasons' own books have it.
                tallies.iter().map(Tally::mechanical).collect()
            } else {
                let of_season = |tally: &Tally| -> f64 {
                    let of_way = |((direction, class, _), way): (&(Direction, usize, usize), &f64)| {
                        way * per_stroke.of(*direction, *class, exponent)
                    };
                    tally.way.iter().map(of_way).sum::<f64>() / strokes
                        + stalled_damage(tally.stalls, stalled_load, exponent, *strokes)
                };
                tallies.iter().map(of_season).collect()
            };
            worn.push((name.clone(), *law, ranged(&damages, confidence)));
        }
        laws.push((most, worn));
    }
    let causes = CAUSES.iter().enumerate().map(|(index, cause)| {
        let values: Vec<f64> = tallies.iter().map(|tally| tally.damage[index]).collect();
        (*cause, ranged(&values, confidence))
    });
    // Those that the supply or the cut-out refused are strokes that were asked for, too.
    let strokes: Vec<f64> = tallies.iter().map(|tally| tally.metrics.value(Key::Strokes)).collect();
    let peak = |key: Key| tallies.iter().map(|tally| tally.metrics.value(key)).fold(0.0, f64::max);
    let metrics: Vec<SeasonRecord> = tallies.iter().map(|tally| tally.metrics.clone()).collect();
    let result = LifetimeResult {
        strategy: Some(strategy.to_string()),
        seasons: tallies.len() as u64,
        strokes: ranged(&strokes, confidence),
        causes: causes.collect(),
        spectrum: spectrum(scenario, tallies),
        moved: tallies.iter().any(Tally::moved),
        hardest: Some((peak(Key::DutyWorst), peak(Key::WindingPeak))),
        alarms: alarms(strategy, &metrics),
        ..lives(&scenario.name, &laws, confidence)
    };
    let weakest = weakest(result.answer());
    let weakest = (weakest > 0).then(|| {
        let (name, strokes, exponent, _) = &ratings[weakest];
        let mut causes = to_part(&mut per_stroke, tallies, *strokes, *exponent);
        let stalls: f64 = tallies.iter().map(|tally| tally.stalls).sum();
        causes[Cause::Stalls as usize].1 =
            stalled_damage(stalls, stalled_load, *exponent, *strokes) / tallies.len().max(1) as f64;
        (name.clone(), causes)
    });
    LifetimeResult { weakest, ..result }
}

/// The part that fails first.
fn weakest(law: &LawLife) -> usize {
    (0..law.parts.len()).min_by(|one, other| law.parts[*one].b10.total_cmp(&law.parts[*other].b10)).unwrap_or(0)
}

/// What each cause does to a part in a mean season; wind is what a class adds to calm air.
fn to_part(per_stroke: &mut PerStroke, tallies: &[Tally], strokes: f64, exponent: f64) -> Vec<(Cause, f64)> {
    let mut damage = [0.0; CAUSES.len()];
    for ((direction, class, cause), way) in tallies.iter().flat_map(|tally| &tally.way) {
        let all = way * per_stroke.of(*direction, *class, exponent);
        let calm = (way * per_stroke.of(*direction, 0, exponent)).min(all);
        damage[*cause] += calm;
        damage[Cause::Wind as usize] += all - calm;
    }
    let whole = strokes * tallies.len().max(1) as f64;
    CAUSES.iter().map(|cause| (*cause, damage[*cause as usize] / whole)).collect()
}

/// Share of the way, and of the drive's damage, at each tenth of the rated force.
fn spectrum(scenario: &Scenario, tallies: &[Tally]) -> Vec<(f64, f64)> {
    let drive = &scenario.drive;
    let mut spectrum = vec![(0.0, 0.0); BINS];
    let mut classes: BTreeMap<(Direction, usize), f64> = BTreeMap::new();
    for ((direction, class, _), way) in tallies.iter().flat_map(|tally| &tally.way) {
        *classes.entry((*direction, *class)).or_insert(0.0) += way;
    }
    for ((direction, class), way) in &classes {
        let profile = class_profile(&scenario.door, drive, *direction, *class);
        let wear = profile.damage_by_panel(drive.wear.exponent, drive.rated_force_n);
        for (panel, damage) in profile.panels.iter().zip(wear) {
            let load = 0.5 * (panel.first_n + panel.last_n).abs() / drive.rated_force_n;
            let bin = ((10.0 * load) as usize).min(BINS - 1);
            spectrum[bin].0 += way * panel.length_m;
            spectrum[bin].1 += way * damage;
        }
    }
    let whole = spectrum.iter().fold((0.0, 0.0), |sum, bin| (sum.0 + bin.0, sum.1 + bin.1));
    for bin in &mut spectrum {
        bin.0 /= f64::max(whole.0, f64::MIN_POSITIVE);
        bin.1 /= f64::max(whole.1, f64::MIN_POSITIVE);
    }
    spectrum
}

/// Life of parts in series under each law.
fn lives(name: &str, laws: &[(f64, Vec<Worn>)], confidence: f64) -> LifetimeResult {
    let mut all: Vec<LawLife> = laws.iter().map(|(exponent, worn)| life(*exponent, worn)).collect();
    let cautious =
        (0..all.len()).min_by(|one, other| all[*one].b10.value.total_cmp(&all[*other].b10.value)).unwrap_or(0);
    // The answer's curve to its end; the others over the same seasons.
    let series = Ends::of_worn(&laws[cautious].1).middle;
    let b10 = all[cautious].b10.value;
    let end = series.b_life(0.99).filter(|_| b10.is_finite()).map_or(10.0, |end| end.min(20.0 * b10.max(1e-9)));
    for (law, (_, worn)) in all.iter_mut().zip(laws) {
        let Ends { middle, fast, slow, .. } = Ends::of_worn(worn);
        law.curve = (0..=POINTS)
            .map(|point| {
                let seasons = end * point as f64 / POINTS as f64;
                [seasons, middle.survival(seasons), fast.survival(seasons), slow.survival(seasons)]
            })
            .collect();
    }
    LifetimeResult {
        name: name.to_string(),
        strategy: None,
        seasons: 0,
        confidence,
        strokes: Ranged { value: 0.0, interval: None },
        causes: Vec::new(),
        weakest: None,
        spectrum: Vec::new(),
        parts: all.last().map(|law| law.parts.clone()).unwrap_or_default(),
        moved: true,
        laws: all,
        cautious,
        hardest: None,
        alarms: Vec::new(),
        cycles: Vec::new(),
        left: None,
    }
}

/// Parts in series at the mean, the most and the least damage. Parts wear together, so their ends are taken together.
struct Ends {
    middle: Series,
    fast: Series,
    slow: Series,
    known: Option<Interval>,
}

impl Ends {
    fn of(parts: impl Iterator<Item = (Weibull, Ranged)> + Clone) -> Ends {
        let series =
            |of: fn(&Ranged) -> f64| Series { parts: parts.clone().map(|(law, damage)| (law, of(&damage))).collect() };
        Ends {
            middle: series(|damage| damage.value),
            fast: series(|damage| damage.interval.map_or(damage.value, |it| it.high)),
            slow: series(|damage| damage.interval.map_or(damage.value, |it| it.low)),
            known: parts.clone().find_map(|(_, damage)| damage.interval),
        }
    }

    fn of_worn(worn: &[Worn]) -> Ends {
        Ends::of(worn.iter().map(|(_, law, damage)| (*law, *damage)))
    }

    /// A figure that falls as damage grows: more damage, shorter life, so the ends change sides.
    fn ranged(&self, of: impl Fn(&Series) -> f64) -> Ranged {
        let interval = self.known.map(|it| Interval { low: of(&self.fast), high: of(&self.slow), ..it });
        Ranged { value: of(&self.middle), interval }
    }
}

/// Life of parts in series under one law, its curve left out.
fn life(exponent: f64, worn: &[Worn]) -> LawLife {
    let ends = Ends::of_worn(worn);
    let of_life = |q: f64| ends.ranged(|series| series.b_life(q).unwrap_or(f64::INFINITY));
    LawLife {
        exponent,
        parts: worn
            .iter()
            .map(|(name, law, damage)| PartLife {
                name: name.clone(),
                damage: *damage,
                b10: b10_of(law, damage.value),
                law: *law,
            })
            .collect(),
        b10: of_life(0.1),
        median: of_life(0.5),
        survival: HORIZONS.map(|seasons| (seasons, ends.ranged(|series| series.survival(seasons)))).to_vec(),
        curve: Vec::new(),
    }
}

/// Life from a logged load history, N, that covers `seasons` seasons, counted by rainflow. A cycle counts as a stroke under its
/// range. None if the history holds no cycle: its forces are all alike.
pub fn from_history(scenario: &Scenario, history: &[f64], seasons: f64, confidence: f64) -> Option<LifetimeResult> {
    let cycles = rainflow::count(history);
    if cycles.is_empty() {
        return None;
    }
    let drive = &scenario.drive;
    let laws = LAWS.map(|most| {
        let worn = rated(scenario).into_iter().map(|(name, strokes, exponent, law)| {
            let value = rainflow::damage(&cycles, drive.rated_force_n, strokes, exponent.min(most)) / seasons;
            (name, law, Ranged { value, interval: None })
        });
        (most, worn.collect())
    });
    let mut spectrum = vec![(0.0, 0.0); BINS];
    let total: f64 = cycles.iter().map(|cycle| cycle.count).sum();
    let damage: f64 = rainflow::damage(&cycles, drive.rated_force_n, 1.0, drive.wear.exponent);
    for cycle in &cycles {
        let load = cycle.range / drive.rated_force_n;
        let bin = ((10.0 * load) as usize).min(BINS - 1);
        spectrum[bin].0 += cycle.count / total;
        spectrum[bin].1 += cycle.count * libm::pow(load, drive.wear.exponent) / damage.max(f64::MIN_POSITIVE);
    }
    let strokes = Ranged { value: total / seasons, interval: None };
    let cycles = counted(&cycles, drive);
    Some(LifetimeResult { strokes, spectrum, cycles, ..lives(&scenario.name, &laws, confidence) })
}

/// Most rows of counted cycles: ranges nearer to each other than a share of the largest one are put together.
const MOST_ROWS: f64 = 20.0;

/// Cycles by range, the largest first.
fn counted(cycles: &[rainflow::Cycle], drive: &Drive) -> Vec<Counted> {
    let most = cycles.iter().map(|cycle| cycle.range).fold(0.0, f64::max);
    let mut rows: BTreeMap<i64, Counted> = BTreeMap::new();
    for cycle in cycles {
        let bin = (MOST_ROWS * cycle.range / most) as i64;
        let damage = rainflow::damage(
            std::slice::from_ref(cycle),
            drive.rated_force_n,
            drive.wear.rated_strokes,
            drive.wear.exponent,
        );
        let row = rows.entry(-bin).or_insert(Counted { range_n: (cycle.range, cycle.range), count: 0.0, damage: 0.0 });
        row.range_n = (row.range_n.0.min(cycle.range), row.range_n.1.max(cycle.range));
        row.count += cycle.count;
        row.damage += damage;
    }
    rows.into_values().collect()
}

/// B10 in seasons at a damage per season; infinite if nothing wears.
fn b10_of(law: &Weibull, damage: f64) -> f64 {
    if damage > 0.0 { law.per(damage).b_life(0.1) } else { f64::INFINITY }
}
