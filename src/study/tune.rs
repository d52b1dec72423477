//! The best setting of some numbers, under limits, from noisy seasons.
//!
//! 1. **Start**: the setting as it is, and points of a shifted Sobol sequence, a few seasons each.
//! 2. **Search**: an evolution strategy ([`super::cma`]) from the best of them. All points of a generation play the same
//!    seasons. After half of the seasons, points that are clearly worse than the best half drop out (a race: seasons go
//!    where they matter). When a generation's differences drown in their own uncertainty, the next ones get more seasons.
//! 3. **Final race** among the best points found, on seasons that the search has not seen, by Kim and Nelson's procedure.
//! 4. **Confirmation** of the winner against the setting as it was, again on fresh seasons: the estimate of a winner on
//!    the seasons that made it win would flatter it.
//! 5. **Flatness**: how far each number may move from the winner before the mean is worse by a stated amount.
//!
//! Points that break a limit by their estimates rank behind all that don't, by how much they break it; settings that are
//! no valid scenario are never played and rank last. Everything is a function of the seed and of the seasons' results:
//! with the results remembered, a study that was interrupted goes the same way again, up to where it was, and on.

use std::ops::Range;

use super::cma::{Cma, population};
use super::compare::front;
use super::decide::judge;
use super::objective::{Aim, RiskVerdict, judge_risk};
use super::paired::{PairedDifference, of_costs};
use super::result::{LimitVerdict, Verdict};
use super::selection::kim_nelson_of_events;
use super::sobol::Sobol;
use super::sweep::TRADED;
use crate::ledger::metric::Key;
use crate::ledger::record::SeasonRecord;
use crate::math::random::Source;
use crate::scenario::limits::{Bound, Limit};
use crate::scenario::objective::Risk;

/// Seasons that the final race takes: its first number, apart from those of the search.
const RACE_FROM: u64 = 100_000_000;
/// First season of the confirmation and the flatness.
const CONFIRM_FROM: u64 = 200_000_000;
/// Points in the final race.
const FINALISTS: usize = 6;
/// Seasons between two looks of the final race, and most seasons of a finalist.
const RACE_STEP: u64 = 12;
const RACE_MOST: u64 = 72;
/// Standard errors of a paired difference that drop a point out of its generation.
const CLEARLY_WORSE: f64 = 2.5;
/// Most seasons of a point in the search.
const SEASONS_MOST: u64 = 64;
/// Generations in a row that may ask for nothing new. Whole numbers have few settings: once all that the search comes by have
/// played, it would go round for ever.
const IDLE_MOST: u32 = 12;
/// Moves of a number for the flatness, as parts of its range.
const MOVES: [f64; 4] = [1.0 / 16.0, 1.0 / 8.0, 1.0 / 4.0, 1.0 / 2.0];

/// What is asked.
#[derive(Clone, Debug)]
pub struct TuneSettings<'a> {
    /// For each number: how many whole values it has; none if it isn't a whole number.
    pub whole: Vec<Option<u64>>,
    /// The setting as it is, in the unit cube; none if it lies outside the ranges.
    pub current: Option<Vec<f64>>,
    /// Plays (seasons times points) that start and search may take.
    pub plays: u64,
    /// Seasons of each point at first.
    pub seasons: u64,
    /// Seasons of the confirmation.
    pub confirm: u64,
    /// Number of the first season.
    pub first_season: u64,
    /// Seed.
    pub seed: u64,
    /// Confidence of race and intervals.
    pub confidence: f64,
    /// What counts as better.
    pub aim: &'a Aim,
    /// Limits.
    pub limits: &'a [Limit],
    /// Limits on the share of bad seasons.
    pub risks: &'a [Risk],
    /// By how much the mean may get worse for the flatness; none for the indifference zone or a twentieth of the mean.
    pub worse_by: Option<f64>,
}

/// Seasons asked for at one setting: the point of the unit cube; none for the scenario as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// The point; none for the setting as it is.
    pub point: Option<Vec<f64>>,
    /// Seasons.
    pub seasons: Range<u64>,
}

/// What comes back for a request: none if the setting is no valid scenario.
pub type Answer = Option<Vec<SeasonRecord>>;

/// Plays requests, or remembers their results; none if told to stop.
pub type Play<'f, E> = dyn FnMut(&[Request]) -> Result<Option<Vec<Answer>>, E> + 'f;

/// A setting that was tried.
#[derive(Clone, Debug)]
pub struct Tried {
    /// Its point; none for the setting as it is.
    pub point: Option<Vec<f64>>,
    /// Seasons it played in the search.
    pub seasons: u64,
    /// Mean cost over them.
    pub cost: f64,
    /// By how much it breaks limits, 0 if not.
    pub broken: f64,
    /// What a threshold trades, per season: see [`TRADED`].
    pub tradeoff: [f64; 2],
}

/// How far a number may move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flat {
    /// Downwards and upwards, as parts of the range; the largest move tried that is not worse by the stated amount.
    pub moves: [f64; 2],
    /// Whether the next move tried in that direction is worse; false where the range or the moves end.
    pub bounded: [bool; 2],
}

/// The setting as it was and the best one, on the same fresh seasons.
#[derive(Clone, Debug)]
pub struct Confirmation {
    /// Seasons of the best setting.
    pub best: Vec<SeasonRecord>,
    /// Seasons of the setting as it was.
    pub current: Vec<SeasonRecord>,
    /// Cost of the best minus that of the setting as it was.
    pub difference: PairedDifference,
    /// Limits of the best.
    pub limits: Vec<LimitVerdict>,
    /// Risks of the best.
    pub risks: Vec<RiskVerdict>,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Tuned {
    /// Point of the best setting; none if it is the setting as it is.
    pub best: Option<Vec<f64>>,
    /// Whether the final race had one winner (or others within the indifference zone could not be told apart).
    pub sole: bool,
    /// The confirmation.
    pub confirmation: Confirmation,
    /// Everything tried, in the order of trying.
    pub tried: Vec<Tried>,
    /// Which of them nobody beats in false openings and expected missed arrivals, among those that break no limit (among all if
    /// each breaks one).
    pub front: Vec<usize>,
    /// Flatness of each number.
    pub flat: Vec<Flat>,
    /// Amount that the flatness is about.
    pub worse_by: f64,
    /// Seasons of the flatness.
    pub flat_seasons: u64,
    /// Plays in all.
    pub plays: u64,
    /// Generations of the search.
    pub generations: u32,
}

/// A setting and its seasons so far.
struct Candidate {
    point: Option<Vec<f64>>,
    records: Vec<SeasonRecord>,
    valid: bool,
}

struct Study<'s, 'a, 'p, 'f, E> {
    settings: &'s TuneSettings<'a>,
    play: &'p mut Play<'f, E>,
    tried: Vec<Candidate>,
    plays: u64,
}

/// Tunes. None if told to stop.
///
/// # Errors
/// Those of `play`.
pub fn tune<E>(settings: &TuneSettings, play: &mut Play<'_, E>) -> Result<Option<Tuned>, E> {
    let mut study = Study { settings, play, tried: Vec::new(), plays: 0 };
    let Some(start) = study.start()? else { return Ok(None) };
    let Some(generations) = study.search(start)? else { return Ok(None) };
    let Some((best, sole)) = study.race()? else { return Ok(None) };
    let Some(confirmation) = study.confirm(best)? else { return Ok(None) };
    // What the fresh seasons find worse is not recommended, whatever those of the search said.
    let is_worse = confirmation.difference.interval.is_some_and(|interval| interval.low > 0.0);
    let (best, confirmation) = if is_worse {
        (0, study.confirmed(confirmation.current.clone(), confirmation.current))
    } else {
        (best, confirmation)
    };
    let Some((flat, worse_by, flat_seasons)) = study.flatness(best, &confirmation)? else { return Ok(None) };
    let tried: Vec<Tried> = study.tried.iter().map(|candidate| study.told(candidate)).collect();
    let front = study.front(&tried);
    let best = study.tried[best].point.clone();
    Ok(Some(Tuned {
        best,
        sole,
        confirmation,
        front,
        tried,
        flat,
        worse_by,
        flat_seasons,
        plays: study.plays,
        generations,
    }))
}

impl<E> Study<'_, '_, '_, '_, E> {
    /// Plays requests; plays of settings that are no scenario don't count.
    fn ask(&mut self, requests: &[Request]) -> Result<Option<Vec<Answer>>, E> {
        let answers = (self.play)(requests)?;
        if let Some(answers) = &answers {
            self.plays += answers.iter().flatten().map(|records| records.len() as u64).sum::<u64>();
        }
        Ok(answers)
    }

    /// Brings some candidates to `seasons` seasons each. False if told to stop.
    fn bring(&mut self, which: &[usize], seasons: u64) -> Result<bool, E> {
        let first = self.settings.first_season;
        let short: Vec<usize> = which
            .iter()
            .copied()
            .filter(|index| self.tried[*index].valid && (self.tried[*index].records.len() as u64) < seasons)
            .collect();
        let request = |index: &usize| Request {
            point: self.tried[*index].point.clone(),
            seasons: first + self.tried[*index].records.len() as u64..first + seasons,
        };
        let requests: Vec<Request> = short.iter().map(request).collect();
        let Some(answers) = self.ask(&requests)? else { return Ok(false) };
        for (index, answer) in short.into_iter().zip(answers) {
            let candidate = &mut self.tried[index];
            match answer {
                Some(records) => candidate.records.extend(records),
                None => candidate.valid = false,
            }
        }
        Ok(true)
    }

    /// The candidate of a point, new or known: whole numbers make different points the same setting.
    fn candidate(&mut self, point: Vec<f64>) -> usize {
        let settled = self.settled(point);
        match self.tried.iter().position(|candidate| candidate.point.as_ref() == Some(&settled)) {
            Some(index) => index,
            None => {
                self.tried.push(Candidate { point: Some(settled), records: Vec::new(), valid: true });
                self.tried.len() - 1
            }
        }
    }

    /// Moves whole numbers to the middle of their cell.
    fn settled(&self, mut point: Vec<f64>) -> Vec<f64> {
        for (x, whole) in point.iter_mut().zip(&self.settings.whole) {
            *x = x.clamp(0.0, 1.0);
            if let Some(count) = whole {
                let cells = *count as f64;
                *x = ((*x * cells).floor().min(cells - 1.0) + 0.5) / cells;
            }
        }
        point
    }

    /// Rank of a candidate over its first `seasons` seasons: what it breaks, then what it costs.
    fn rank(&self, index: usize, seasons: usize) -> (f64, f64) {
        let candidate = &self.tried[index];
        if !candidate.valid || candidate.records.is_empty() {
            return (f64::INFINITY, f64::INFINITY);
        }
        let records = &candidate.records[..seasons.min(candidate.records.len())];
        (self.broken(records), mean(&self.settings.aim.costs(records)))
    }

    /// By how much the estimates break the limits, each relative to its limit.
    fn broken(&self, records: &[SeasonRecord]) -> f64 {
        let limit = |limit: &Limit| {
            let excess = match limit.bound {
                Bound::AtMost => judge(limit, records).mean - limit.value,
                Bound::AtLeast => limit.value - judge(limit, records).mean,
            };
            excess.max(0.0) / limit.value.abs().max(1e-3)
        };
        let risk = |risk: &Risk| {
            let bad = judge_risk(risk, records).bad as f64 / records.len().max(1) as f64;
            (bad - risk.at_most).max(0.0) / risk.at_most.max(1e-3)
        };
        self.settings.limits.iter().map(limit).sum::<f64>() + self.settings.risks.iter().map(risk).sum::<f64>()
    }

    fn told(&self, candidate: &Candidate) -> Tried {
        let n = candidate.records.len().max(1) as f64;
        let mean_of = |key: Key| candidate.records.iter().map(|record| record.value(key)).sum::<f64>() / n;
        let playable = candidate.valid && !candidate.records.is_empty();
        Tried {
            point: candidate.point.clone(),
            seasons: candidate.records.len() as u64,
            cost: if playable { mean(&self.settings.aim.costs(&candidate.records)) } else { f64::INFINITY },
            broken: if playable { self.broken(&candidate.records) } else { f64::INFINITY },
            tradeoff: TRADED.map(mean_of),
        }
    }

    fn sorted(&self, which: &[usize], seasons: usize) -> Vec<usize> {
        let mut ranked: Vec<(usize, (f64, f64))> =
            which.iter().map(|index| (*index, self.rank(*index, seasons))).collect();
        ranked.sort_by(|(_, a), (_, b)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        ranked.into_iter().map(|(index, _)| index).collect()
    }

    /// The setting as it is and a space-filling start; the best of them.
    fn start(&mut self) -> Result<Option<usize>, E> {
        let coordinates = self.settings.whole.len();
        self.tried.push(Candidate { point: None, records: Vec::new(), valid: true });
        let mut stream = Source::new(self.settings.seed, 0, "tune start").stream(0);
        // A quarter of the plays, but no fewer than a simplex and no more than 64 points.
        let points =
            (self.settings.plays / 4 / self.settings.seasons.max(1)).clamp(coordinates as u64 + 2, 64) as usize;
        let mut which = vec![0];
        if let Some(mut sobol) = Sobol::shifted(coordinates, &mut stream) {
            for _ in 0..points {
                let next = self.candidate(sobol.next_point());
                if !which.contains(&next) {
                    which.push(next);
                }
            }
        }
        if !self.bring(&which, self.settings.seasons)? {
            return Ok(None);
        }
        Ok(Some(self.sorted(&which, usize::MAX)[0]))
    }

    /// The evolution strategy; number of generations.
    fn search(&mut self, start: usize) -> Result<Option<u32>, E> {
        let coordinates = self.settings.whole.len();
        let centre = vec![0.5; coordinates];
        let from = self.tried[start].point.clone().or_else(|| self.settings.current.clone()).unwrap_or(centre);
        let cells = self.settings.whole.iter().map(|whole| whole.map_or(0.0, |count| 1.0 / count as f64)).collect();
        let mut strategy = Cma::new(from, 0.2, cells);
        let source = Source::new(self.settings.seed, 0, "tune search");
        let mut seasons = self.settings.seasons;
        let (mut generation, mut idle) = (0, 0);
        while self.plays + population(coordinates) as u64 * seasons <= self.settings.plays
            && strategy.spread() > 1e-3
            && idle < IDLE_MOST
        {
            let points = strategy.ask(&mut source.stream(u64::from(generation)));
            generation += 1;
            let before = self.plays;
            let which: Vec<usize> = points.iter().map(|point| self.candidate(point.clone())).collect();
            let distinct = unique(&which);
            let half = seasons.div_ceil(2);
            if !self.bring(&distinct, half)? {
                return Ok(None);
            }
            let staying = self.staying(&distinct, half as usize);
            if !self.bring(&staying, seasons)? {
                return Ok(None);
            }
            // Those that stayed rank among themselves on all seasons, in front of those that dropped out.
            let dropped: Vec<usize> = distinct.iter().copied().filter(|index| !staying.contains(index)).collect();
            let mut order = self.sorted(&staying, seasons as usize);
            order.extend(self.sorted(&dropped, half as usize));
            if self.drowned(&order, seasons as usize) {
                seasons = (2 * seasons).min(SEASONS_MOST);
            }
            idle = if self.plays == before { idle + 1 } else { 0 };
            let mut sorted: Vec<(usize, Vec<f64>)> = which
                .iter()
                .zip(points)
                .map(|(index, point)| (order.iter().position(|other| other == index).unwrap_or(usize::MAX), point))
                .collect();
            sorted.sort_by_key(|(place, _)| *place);
            strategy.tell(&sorted.into_iter().map(|(_, point)| point).collect::<Vec<_>>());
        }
        Ok(Some(generation))
    }

    /// Costs of a candidate's first seasons.
    fn costs(&self, index: usize, seasons: usize) -> Vec<f64> {
        let records = &self.tried[index].records;
        self.settings.aim.costs(&records[..seasons.min(records.len())])
    }

    /// The better half, and all that are not clearly worse than its last.
    fn staying(&self, which: &[usize], seasons: usize) -> Vec<usize> {
        let order = self.sorted(which, seasons);
        let keep = order.len().div_ceil(2);
        let Some(last) = order.get(keep.saturating_sub(1)).copied() else { return order };
        let (last_broken, _) = self.rank(last, seasons);
        let stays = |place: usize, index: usize| {
            let (broken, _) = self.rank(index, seasons);
            if place < keep {
                return broken.is_finite();
            }
            // What breaks limits more is left behind; what costs more, only if that is clear.
            broken <= last_broken && !clearly(&self.costs(index, seasons), &self.costs(last, seasons))
        };
        order.iter().enumerate().filter(|(place, index)| stays(*place, **index)).map(|(_, index)| *index).collect()
    }

    /// Whether the best and the middle of a generation can't be told apart.
    fn drowned(&self, order: &[usize], seasons: usize) -> bool {
        let (Some(best), Some(middle)) = (order.first(), order.get(order.len() / 2)) else { return false };
        let (best, middle) = (self.costs(*best, seasons), self.costs(*middle, seasons));
        let n = best.len().min(middle.len());
        let (mean, error) = paired_error(&middle[..n], &best[..n]);
        mean < error
    }

    /// The final race: the winner, and whether it is alone.
    fn race(&mut self) -> Result<Option<(usize, bool)>, E> {
        let valid: Vec<usize> = (0..self.tried.len()).filter(|index| self.tried[*index].valid).collect();
        // Points with few seasons are flattered by luck: each mean is judged a standard error worse than it is.
        let cautious = |index: usize| {
            let costs = self.costs(index, usize::MAX);
            let (_, variance) = super::interval::mean::mean_and_variance(&costs);
            let (broken, cost) = self.rank(index, usize::MAX);
            (broken, cost + (variance / costs.len() as f64).sqrt())
        };
        let mut ranked: Vec<(usize, (f64, f64))> = valid.iter().map(|index| (*index, cautious(*index))).collect();
        ranked.sort_by(|(_, a), (_, b)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut finalists: Vec<usize> = ranked.iter().take(FINALISTS).map(|(index, _)| *index).collect();
        if !finalists.contains(&0) && self.tried[0].valid {
            finalists.push(0);
        }
        let mut records: Vec<Vec<SeasonRecord>> = vec![Vec::new(); finalists.len()];
        let mut racing: Vec<usize> = (0..finalists.len()).collect();
        let mut played = 0;
        while racing.len() > 1 && played < RACE_MOST {
            let from = RACE_FROM + self.settings.first_season + played;
            let request = |place: &usize| Request {
                point: self.tried[finalists[*place]].point.clone(),
                seasons: from..from + RACE_STEP,
            };
            let requests: Vec<Request> = racing.iter().map(request).collect();
            let Some(answers) = self.ask(&requests)? else { return Ok(None) };
            for (place, answer) in racing.iter().zip(answers) {
                records[*place].extend(answer.unwrap_or_default());
            }
            played += RACE_STEP;
            racing = self.still_racing(&records, &racing);
        }
        let key = |place: &usize| {
            let records = &records[*place];
            if records.is_empty() {
                return (0.0, 0.0);
            }
            (self.broken(records), mean(&self.settings.aim.costs(records)))
        };
        let mut order: Vec<(usize, (f64, f64))> = racing.iter().map(|place| (*place, key(place))).collect();
        order.sort_by(|(_, a), (_, b)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        Ok(Some((order.first().map_or(0, |(place, _)| finalists[*place]), racing.len() == 1)))
    }

    /// Who is left of the race: first the limits, then Kim and Nelson.
    fn still_racing(&self, records: &[Vec<SeasonRecord>], racing: &[usize]) -> Vec<usize> {
        let falls_short = |place: &usize| {
            let records = &records[*place];
            self.settings.limits.iter().any(|limit| judge(limit, records).verdict == Verdict::NotMet)
                || self.settings.risks.iter().any(|risk| judge_risk(risk, records).verdict == Verdict::NotMet)
        };
        let within: Vec<usize> = racing.iter().copied().filter(|place| !falls_short(place)).collect();
        let among = if within.is_empty() { racing.to_vec() } else { within };
        let costs: Vec<Vec<f64>> = among.iter().map(|place| self.settings.aim.costs(&records[*place])).collect();
        let views: Vec<&[f64]> = costs.iter().map(Vec::as_slice).collect();
        let lowest = costs.iter().map(|costs| mean(costs)).fold(f64::INFINITY, f64::min);
        // Without a stated zone, a twentieth of the cost doesn't matter.
        let zone = self.settings.aim.indifference.unwrap_or(0.05 * lowest.abs()).max(1e-9);
        match kim_nelson_of_events(&views, zone, 1.0 - self.settings.confidence, RACE_STEP as usize) {
            Some(selection) => selection.survivors.iter().map(|survivor| among[*survivor]).collect(),
            None => among,
        }
    }

    fn confirm(&mut self, best: usize) -> Result<Option<Confirmation>, E> {
        let from = CONFIRM_FROM + self.settings.first_season;
        let seasons = from..from + self.settings.confirm;
        let request = |point: Option<Vec<f64>>| Request { point, seasons: seasons.clone() };
        let requests = [request(self.tried[best].point.clone()), request(None)];
        let Some(mut answers) = self.ask(&requests)? else { return Ok(None) };
        let current = answers.pop().flatten().unwrap_or_default();
        let best = answers.pop().flatten().unwrap_or_default();
        Ok(Some(self.confirmed(best, current)))
    }

    fn confirmed(&self, best: Vec<SeasonRecord>, current: Vec<SeasonRecord>) -> Confirmation {
        let aim = self.settings.aim;
        let key = aim.metric.unwrap_or(Key::OpenTime);
        Confirmation {
            difference: of_costs(key, &aim.costs(&best), &aim.costs(&current), self.settings.confidence),
            limits: self.settings.limits.iter().map(|limit| judge(limit, &best)).collect(),
            risks: self.settings.risks.iter().map(|risk| judge_risk(risk, &best)).collect(),
            best,
            current,
        }
    }

    /// Moves each number alone, on the first seasons of the confirmation.
    #[allow(clippy::type_complexity, reason = "flatness, its amount and its seasons, or none if told to stop")]
    fn flatness(&mut self, best: usize, confirmed: &Confirmation) -> Result<Option<(Vec<Flat>, f64, u64)>, E> {
        let aim = self.settings.aim;
        let base = aim.costs(&confirmed.best);
        let own = 0.05 * mean(&base).abs();
        let worse_by = self.settings.worse_by.or(aim.indifference).unwrap_or(own);
        let seasons = (self.settings.confirm / 3).clamp(1, 20);
        let from = CONFIRM_FROM + self.settings.first_season;
        let Some(point) = self.tried[best].point.clone().or_else(|| self.settings.current.clone()) else {
            return Ok(Some((Vec::new(), worse_by, seasons)));
        };
        let mut flat = Vec::new();
        for coordinate in 0..point.len() {
            let mut one = Flat { moves: [0.0; 2], bounded: [false; 2] };
            for (side, sign) in [-1.0, 1.0].into_iter().enumerate() {
                for step in self.moves(coordinate) {
                    let mut moved = point.clone();
                    moved[coordinate] += sign * step;
                    if !(0.0..=1.0).contains(&moved[coordinate]) {
                        break;
                    }
                    let request = Request { point: Some(self.settled(moved)), seasons: from..from + seasons };
                    let Some(mut answers) = self.ask(&[request])? else { return Ok(None) };
                    let worse = match answers.pop().flatten() {
                        None => true,
                        Some(records) => {
                            let costs = aim.costs(&records);
                            mean(&costs) - mean(&base[..costs.len().min(base.len())]) > worse_by
                                || self.broken(&records) > self.broken(&confirmed.best[..records.len()])
                        }
                    };
                    if worse {
                        one.bounded[side] = true;
                        break;
                    }
                    one.moves[side] = step;
                }
            }
            flat.push(one);
        }
        Ok(Some((flat, worse_by, seasons)))
    }

    /// Moves to try of a coordinate: whole numbers move by whole cells.
    fn moves(&self, coordinate: usize) -> Vec<f64> {
        match self.settings.whole[coordinate] {
            None => MOVES.to_vec(),
            Some(count) => [1, 2, 4, 8].iter().map(|cells| f64::from(*cells) / count as f64).collect(),
        }
    }

    fn front(&self, tried: &[Tried]) -> Vec<usize> {
        let playable = |index: &usize| tried[*index].cost.is_finite();
        let all: Vec<usize> = (0..tried.len()).filter(playable).collect();
        let within: Vec<usize> = all.iter().copied().filter(|index| tried[*index].broken == 0.0).collect();
        let among = if within.is_empty() { all } else { within };
        let on_front = front(&among.iter().map(|index| tried[*index].tradeoff).collect::<Vec<_>>());
        among.iter().zip(on_front).filter(|(_, on)| *on).map(|(index, _)| *index).collect()
    }
}

fn unique(which: &[usize]) -> Vec<usize> {
    let mut seen = Vec::new();
    for index in which {
        if !seen.contains(index) {
            seen.push(*index);
        }
    }
    seen
}

fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// Mean and standard error of a - b.
fn paired_error(a: &[f64], b: &[f64]) -> (f64, f64) {
    let differences: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
    if differences.len() < 2 {
        return (mean(&differences), f64::INFINITY);
    }
    let (mean, variance) = super::interval::mean::mean_and_variance(&differences);
    (mean, (variance / differences.len() as f64).sqrt())
}

/// Whether a is clearly larger than b.
fn clearly(a: &[f64], b: &[f64]) -> bool {
    let (mean, error) = paired_error(a, b);
    mean > CLEARLY_WORSE * error
}
