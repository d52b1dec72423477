//! Which of several contenders is best, and is the difference real?
//!
//! All contenders play the same seasons. Differences are taken against one contender that was named before playing, and
//! their intervals hold all together with the stated confidence. The best is selected by Kim and Nelson's procedure among
//! the contenders that no limit has ruled out; it ends the study as soon as the answer is sure.
//!
//! A limit that is looked at again and again is met once too often by luck. So where the study may end early, a limit's
//! error (1 - its confidence) is shared out among the looks: one half to the last, the other evenly among those before
//! it. Then the chance of any wrong verdict at any look is no more than the limit allows (Boole's inequality), and each
//! verdict says with which confidence it was reached.

use std::ops::Range;

use super::decide::judge;
use super::multiple::{each_confidence, holm};
use super::objective::{Aim, MeanCost, RiskVerdict, judge_risk, mean_cost};
use super::paired::{self, PairedDifference, difference, of_costs};
use super::result::{Estimate, LimitVerdict, Verdict};
use super::selection::{Selection, kim_nelson_of_events};
use super::summary::summarise;
use crate::ledger::metric::{KEYS, Key};
use crate::ledger::record::SeasonRecord;
use crate::scenario::limits::Limit;
use crate::scenario::objective::Risk;

/// Seasons after which the variances of the selection are fixed.
pub const FIRST_LOOK: u64 = 20;
/// Seasons between two looks.
pub const BETWEEN_LOOKS: u64 = 20;

/// What is asked.
#[derive(Clone, Debug)]
pub struct CompareSettings<'a> {
    /// Most seasons to play.
    pub seasons: u64,
    /// Number of the first season.
    pub first_season: u64,
    /// The contender that the others are compared with.
    pub reference: usize,
    /// Confidence of all intervals together and of the selection.
    pub confidence: f64,
    /// What counts as better.
    pub aim: Option<Aim>,
    /// Whether to end as soon as the best is sure.
    pub early: bool,
    /// Limits that hold for all contenders.
    pub limits: &'a [Limit],
    /// Limits on the share of bad seasons.
    pub risks: &'a [Risk],
}

/// One contender's seasons, summed up.
#[derive(Clone, Debug)]
pub struct Standing {
    /// Name.
    pub name: String,
    /// One estimate per metric.
    pub estimates: Vec<Estimate>,
    /// Limits.
    pub limits: Vec<LimitVerdict>,
    /// Risks.
    pub risks: Vec<RiskVerdict>,
    /// What it costs; none without an objective.
    pub cost: Option<MeanCost>,
    /// Differences to the reference, one per metric; empty for the reference.
    pub differences: Vec<Difference>,
    /// Difference of the cost to the reference.
    pub cost_difference: Option<Difference>,
    /// Whether no other contender has both fewer missed arrivals and fewer false openings.
    pub on_front: bool,
    /// Its seasons.
    pub seasons: Vec<SeasonRecord>,
}

/// A difference with what many comparisons do to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// The difference; its interval holds together with all others of the study.
    pub paired: PairedDifference,
    /// Probability adjusted by Holm's procedure over all differences of the study.
    pub adjusted_p: Option<f64>,
}

/// What can be said about the best.
#[derive(Clone, Debug, PartialEq)]
pub enum Choice {
    /// Nothing says what is better.
    NoObjective,
    /// Every contender falls short of a limit.
    NoneMeets,
    /// This one is the only one that no limit rules out.
    OnlyOne(usize),
    /// This one is best (or within the indifference zone of the best) with the stated confidence.
    Best(usize),
    /// These can't be told apart with the seasons played; the first has the smallest mean.
    NotToldApart(Vec<usize>),
    /// No indifference zone is stated: this one has the smallest mean cost.
    Leads(usize),
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// Contenders in the order given.
    pub standings: Vec<Standing>,
    /// The one that the others are compared with.
    pub reference: usize,
    /// Places by limits, then by cost: contenders from best to worst.
    pub ranking: Vec<usize>,
    /// What can be said about the best.
    pub choice: Choice,
    /// Course of the selection among the contenders it was made among (their places in `standings`).
    pub selection: Option<(Vec<usize>, Selection)>,
    /// Number of differences whose intervals hold together.
    pub family: usize,
    /// Seasons played.
    pub seasons: u64,
    /// Seasons asked for.
    pub seasons_asked: u64,
    /// Whether the study ended early because the answer was sure.
    pub ended_early: bool,
    /// Whether limits were judged with more confidence than they ask for, because of the looks.
    pub shared_out: bool,
}

/// Gets seasons of all contenders; none if told to stop.
pub type Fetch<'f, E> = dyn FnMut(Range<u64>) -> Result<Option<Vec<Vec<SeasonRecord>>>, E> + 'f;

/// Compares contenders called `names`. `fetch` plays the seasons asked for, or knows them already: looks are taken at
/// fixed numbers of seasons, so that the answer is the same either way. None if told to stop.
///
/// # Errors
/// Those of `fetch`.
pub fn compare<E>(
    names: &[String],
    settings: &CompareSettings,
    fetch: &mut Fetch<'_, E>,
) -> Result<Option<Comparison>, E> {
    let mut records: Vec<Vec<SeasonRecord>> = vec![Vec::new(); names.len()];
    let mut played = 0;
    let mut ended_early = false;
    while played < settings.seasons && !ended_early {
        let step = if settings.early { BETWEEN_LOOKS } else { settings.seasons };
        let next = (played + step).min(settings.seasons);
        let Some(more) = fetch(settings.first_season + played..settings.first_season + next)? else {
            return Ok(None);
        };
        records.iter_mut().zip(more).for_each(|(all, more)| all.extend(more));
        played = next;
        ended_early = settings.early && played < settings.seasons && sure(&records, settings);
    }
    Ok(Some(conclude(names, records, settings, ended_early)))
}

/// Looks at limits after any of which the study may end. Without an indifference zone only the last can end it.
fn looks(settings: &CompareSettings) -> u64 {
    let looking = settings.early && settings.aim.as_ref().is_some_and(|aim| aim.indifference.is_some());
    if looking { settings.seasons.div_ceil(BETWEEN_LOOKS) } else { 1 }
}

/// The confidence at which a limit that asks for `confidence` is judged after `played` seasons.
fn spent(confidence: f64, played: u64, settings: &CompareSettings) -> f64 {
    let looks = looks(settings);
    if looks < 2 {
        return confidence;
    }
    let half = 0.5 * (1.0 - confidence);
    1.0 - if played < settings.seasons { half / (looks - 1) as f64 } else { half }
}

/// Verdicts of one contender.
fn verdicts(records: &[SeasonRecord], settings: &CompareSettings) -> (Vec<LimitVerdict>, Vec<RiskVerdict>) {
    let spent = |confidence: f64| spent(confidence, records.len() as u64, settings);
    let limit = |limit: &Limit| judge(&Limit { confidence: spent(limit.confidence), ..limit.clone() }, records);
    let risk = |risk: &Risk| judge_risk(&Risk { confidence: spent(risk.confidence), ..risk.clone() }, records);
    (settings.limits.iter().map(limit).collect(), settings.risks.iter().map(risk).collect())
}

/// 0 if all is met, 1 if something is open, 2 if something is not met.
fn class(limits: &[LimitVerdict], risks: &[RiskVerdict]) -> u8 {
    let verdicts = limits.iter().map(|one| one.verdict).chain(risks.iter().map(|one| one.verdict));
    let grade = |verdict| match verdict {
        Verdict::Met => 0,
        Verdict::Undecided { .. } => 1,
        Verdict::NotMet => 2,
    };
    verdicts.map(grade).max().unwrap_or(0)
}

/// The selection among contenders that are not ruled out.
fn select(
    records: &[Vec<SeasonRecord>],
    classes: &[u8],
    settings: &CompareSettings,
) -> Option<(Vec<usize>, Selection)> {
    let aim = settings.aim.as_ref()?;
    let among: Vec<usize> = (0..records.len()).filter(|index| classes[*index] < 2).collect();
    let costs: Vec<Vec<f64>> = among.iter().map(|index| aim.costs(&records[*index])).collect();
    let views: Vec<&[f64]> = costs.iter().map(Vec::as_slice).collect();
    let selection = kim_nelson_of_events(&views, aim.indifference?, 1.0 - settings.confidence, FIRST_LOOK as usize)?;
    Some((among, selection))
}

/// Whether the best is known and its limits are decided.
fn sure(records: &[Vec<SeasonRecord>], settings: &CompareSettings) -> bool {
    let classes: Vec<u8> = records
        .iter()
        .map(|records| verdicts(records, settings))
        .map(|(limits, risks)| class(&limits, &risks))
        .collect();
    let best = select(records, &classes, settings).and_then(|(among, selection)| selection.best().map(|b| among[b]));
    best.is_some_and(|best| classes[best] == 0)
}

fn conclude(
    names: &[String],
    records: Vec<Vec<SeasonRecord>>,
    settings: &CompareSettings,
    ended_early: bool,
) -> Comparison {
    let seasons = records.first().map_or(0, Vec::len) as u64;
    let judged: Vec<(Vec<LimitVerdict>, Vec<RiskVerdict>)> =
        records.iter().map(|records| verdicts(records, settings)).collect();
    let classes: Vec<u8> = judged.iter().map(|(limits, risks)| class(limits, risks)).collect();
    let selection = select(&records, &classes, settings);
    let (differences, cost_differences, family) = all_differences(&records, settings);
    let point = |records: &[SeasonRecord]| [Key::FalseOpenings, Key::MissedArrivals].map(|key| total(records, key));
    let front = front(&records.iter().map(|records| point(records)).collect::<Vec<_>>());
    let costs: Vec<Option<MeanCost>> = records
        .iter()
        .map(|records| settings.aim.as_ref().map(|aim| mean_cost(&aim.costs(records), settings.confidence)))
        .collect();
    let mut ranking: Vec<usize> = (0..names.len()).collect();
    let cost = |index: usize| costs[index].map_or(0.0, |cost| cost.mean);
    ranking.sort_by(|a, b| classes[*a].cmp(&classes[*b]).then(cost(*a).total_cmp(&cost(*b))));
    let choice = choice(&classes, selection.as_ref(), settings, &ranking);
    let mut parts = judged.into_iter().zip(differences).zip(cost_differences).zip(costs).zip(front);
    let standings = names
        .iter()
        .zip(records)
        .filter_map(|(name, seasons)| {
            let (((((limits, risks), differences), cost_difference), cost), on_front) = parts.next()?;
            let estimates = summarise(&seasons, settings.confidence);
            Some(Standing {
                name: name.clone(),
                estimates,
                limits,
                risks,
                cost,
                differences,
                cost_difference,
                on_front,
                seasons,
            })
        })
        .collect();
    Comparison {
        standings,
        reference: settings.reference,
        ranking,
        choice,
        selection,
        family,
        seasons,
        seasons_asked: settings.seasons,
        ended_early,
        shared_out: !(settings.limits.is_empty() && settings.risks.is_empty()) && looks(settings) > 1,
    }
}

fn choice(
    classes: &[u8],
    selection: Option<&(Vec<usize>, Selection)>,
    settings: &CompareSettings,
    ranking: &[usize],
) -> Choice {
    let Some(first) = ranking.first().copied().filter(|first| classes[*first] < 2) else {
        return Choice::NoneMeets;
    };
    if classes.len() > 1 && classes.iter().filter(|class| **class < 2).count() == 1 {
        return Choice::OnlyOne(first);
    }
    let Some(aim) = &settings.aim else { return Choice::NoObjective };
    if aim.indifference.is_none() {
        return Choice::Leads(first);
    }
    match selection {
        Some((among, selection)) => match selection.best() {
            Some(best) => Choice::Best(among[best]),
            None => {
                let survives = |index: &usize| selection.survivors.iter().any(|survivor| among[*survivor] == *index);
                Choice::NotToldApart(ranking.iter().copied().filter(survives).collect())
            }
        },
        // Too few seasons for a selection.
        None => Choice::NotToldApart(ranking.iter().copied().filter(|index| classes[*index] < 2).collect()),
    }
}

type Differences = (Vec<Vec<Difference>>, Vec<Option<Difference>>, usize);

/// Differences of all contenders to the reference. Metrics that are the same in all seasons of both are no comparison
/// and don't count among those that must hold together.
fn all_differences(records: &[Vec<SeasonRecord>], settings: &CompareSettings) -> Differences {
    let reference = &records[settings.reference];
    let others: Vec<usize> = (0..records.len()).filter(|index| *index != settings.reference).collect();
    let differs =
        |index: usize, key: Key| records[index].iter().zip(reference).any(|(a, b)| paired::differs(a, b, key));
    let varying = others.iter().flat_map(|index| KEYS.iter().filter(move |key| differs(*index, **key)));
    let family = varying.count() + if settings.aim.is_some() { others.len() } else { 0 };
    let each = each_confidence(settings.confidence, family);
    let mut differences: Vec<Vec<Difference>> = vec![Vec::new(); records.len()];
    let mut cost_differences: Vec<Option<Difference>> = vec![None; records.len()];
    for index in &others {
        let single = |paired| Difference { paired, adjusted_p: None };
        differences[*index] =
            KEYS.iter().map(|key| single(difference(&records[*index], reference, *key, each))).collect();
        cost_differences[*index] = settings.aim.as_ref().map(|aim| {
            let key = aim.metric.unwrap_or(Key::OpenTime);
            single(of_costs(key, &aim.costs(&records[*index]), &aim.costs(reference), each))
        });
    }
    let mut compared: Vec<&mut Difference> = Vec::new();
    for ((index, list), cost) in differences.iter_mut().enumerate().zip(cost_differences.iter_mut()) {
        if index != settings.reference {
            compared.extend(list.iter_mut().filter(|one| differs(index, one.paired.key)));
            compared.extend(cost.iter_mut());
        }
    }
    let p_values: Vec<f64> = compared.iter().map(|one| one.paired.p_value.unwrap_or(1.0)).collect();
    for (one, adjusted) in compared.into_iter().zip(holm(&p_values)) {
        one.adjusted_p = one.paired.p_value.map(|_| adjusted);
    }
    (differences, cost_differences, family)
}

fn total(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).sum()
}

/// Which points no other point beats in both coordinates (less is better; equal points don't beat each other).
pub fn front(points: &[[f64; 2]]) -> Vec<bool> {
    let beats = |a: &[f64; 2], b: &[f64; 2]| a[0] <= b[0] && a[1] <= b[1] && (a[0] < b[0] || a[1] < b[1]);
    points.iter().map(|point| !points.iter().any(|other| beats(other, point))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_front_is_what_nobody_beats() {
        let points = [[1.0, 5.0], [2.0, 2.0], [2.0, 3.0], [5.0, 1.0], [5.0, 1.0], [6.0, 6.0]];
        assert_eq!(front(&points), [true, true, false, true, true, false]);
    }
}
