//! Changes that make a failing scenario pass: one key and its new value each, found row by row and proved together.
//!
//! A row that fails may know which keys would mend it and to what values, in more than one way. Each way of the first such row is
//! tried on a copy and all questions are asked again: the one after which least fails is kept, and so on until nothing fails, for
//! mending one row may bring up another (a panel that has come free may start too hard for its supply). In the end every change
//! that turns out not to be needed is taken back. No change is proposed with which the file would not load.
//!
//! Some figures belong together: a motor of twice the size takes twice the current, and a gear that doubles the force halves the
//! speed. Such changes are made and taken back as one; what they are is said in [`Change::together`].

use super::causes;
use super::climate::Climate;
use super::set::Set;
use super::{Row, Verdict, rows_of};
use crate::ledger::metric::METRICS;
use crate::scenario::Scenario;

/// Rounds of mending before giving up: more than there are rows that know a cure.
const ROUNDS: usize = 12;

/// A key and its new value.
#[derive(Clone, Debug)]
pub struct Change {
    /// Row that asks for it.
    pub row: &'static str,
    /// Key of the scenario; an entry of a list goes by its name, a bus device by its sensor, a limit by its metric.
    pub key: String,
    /// The value as the file would hold it; empty where the entry has to go.
    pub value: String,
    /// What it is a part of, where several changes are one: `a motor 1.5 times as large`; or what it stands for, where the key does
    /// not tell.
    pub together: Option<String>,
    pub(super) set: Set,
    /// Number of the whole that it is a part of; 0 where it stands by itself.
    pub(super) group: usize,
    /// Rows that fail with all other changes but this one, and what is one with it: names and subjects. None where that is not known.
    pub(super) needed_by: Option<Vec<(&'static str, String)>>,
}

/// Two changes are the same if they set the same; why they do does not matter.
impl PartialEq for Change {
    fn eq(&self, other: &Change) -> bool {
        self.key == other.key && self.value == other.value
    }
}

impl Change {
    /// Whether the two are parts of one whole, made together or not at all.
    pub fn is_one_with(&self, other: &Change) -> bool {
        self.group > 0 && self.group == other.group
    }

    /// Whether a row fails with all other changes but this one; none where that is not known.
    pub(super) fn is_needed_by(&self, row: &Row) -> Option<bool> {
        let rows = self.needed_by.as_ref()?;
        Some(rows.iter().any(|(id, question)| *id == row.id && *question == row.question))
    }

    /// Makes it.
    pub fn apply(&self, scenario: &mut Scenario) {
        self.set.apply(scenario);
    }
}

/// A scenario with some changes made.
pub(super) fn made(scenario: &Scenario, changes: &[Change]) -> Scenario {
    let mut mended = scenario.clone();
    changes.iter().for_each(|change| change.apply(&mut mended));
    mended
}

/// Changes that are one: none of them without the others.
pub(super) fn whole(sets: &[Set], row: &'static str, scenario: &Scenario, what: &str) -> Vec<Change> {
    sets.iter().map(|set| Change { together: Some(what.to_string()), group: 1, ..set.of(row, scenario) }).collect()
}

/// The largest value from `low` to `high` for which `holds`, which does so up to some value, by bisection; none if not even `low` does.
pub(super) fn largest(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> Option<f64> {
    if holds(high) {
        return Some(high);
    }
    if !holds(low) {
        return None;
    }
    let (mut low, mut high) = (low, high);
    for _ in 0..24 {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    Some(low)
}

/// The first of `steps` values from `low` on, `step` apart, for which `holds`.
pub(super) fn first(low: f64, step: f64, steps: u32, holds: impl Fn(f64) -> bool) -> Option<f64> {
    (0..=steps).map(|count| tidy(low + f64::from(count) * step)).find(|value| holds(*value))
}

/// A figure rounded down, or up, to a step: what a maker would write.
pub(super) fn floor_to(value: f64, step: f64) -> f64 {
    tidy((value / step + 1e-9).floor() * step)
}

/// See [`floor_to`].
pub(super) fn ceil_to(value: f64, step: f64) -> f64 {
    tidy((value / step - 1e-9).ceil() * step)
}

/// Takes away the last digits that a product of decimal steps leaves.
pub(super) fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// Whether a scenario written out would load. A limit that was left out has no figure any more.
fn loads(scenario: &Scenario) -> bool {
    let mut written = scenario.clone();
    written.limits.retain(|limit| limit.value.is_finite());
    let metrics: Vec<_> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    crate::scenario::load::is_valid(&written, &metrics)
}

/// What mends a scenario.
pub(super) struct Mended {
    /// The changes, one after the other.
    pub changes: Vec<Change>,
    /// The rows that fail after them: names and subjects.
    pub left: Vec<(&'static str, String)>,
}

/// The changes that make nothing fail any more, as far as there are any; none for a scenario where nothing fails.
pub(super) fn mend(scenario: &Scenario, climate: &Climate, rows: &[Row]) -> Mended {
    let fails = |rows: &[Row]| rows.iter().filter(|row| row.verdict == Verdict::Fails).count();
    let left = |rows: &[Row]| -> Vec<(&'static str, String)> {
        let failing = rows.iter().filter(|row| row.verdict == Verdict::Fails);
        failing.map(|row| (row.id, row.question.clone())).collect()
    };
    if fails(rows) == 0 {
        return Mended { changes: Vec::new(), left: Vec::new() };
    }
    // A scenario that was put together in memory may lack what a file must have.
    let strict = loads(scenario);
    let made = |changes: &[Change]| Some(made(scenario, changes)).filter(|mended| !strict || loads(mended));
    let mut changes: Vec<Change> = Vec::new();
    let mut rows = rows.to_vec();
    let mut best = (fails(&rows), Vec::new(), left(&rows));
    for round in 1..=ROUNDS {
        let mut next: Option<(usize, Vec<Change>, Vec<Row>)> = None;
        'rows: for row in rows.iter().filter(|row| row.verdict == Verdict::Fails) {
            for cure in &row.cures {
                // A cure that is already made and did not help is not made again.
                if cure.iter().all(|change| changes.contains(change)) {
                    continue;
                }
                let tried = with(&changes, cure, round);
                let Some(mended) = made(&tried) else { continue };
                let after = rows_of(&mended, climate);
                let left = fails(&after);
                if next.as_ref().is_none_or(|next| left < next.0) {
                    next = Some((left, tried, after));
                }
                if left == 0 {
                    break 'rows;
                }
            }
            // One row at a time: what mends it may mend the others.
            if next.is_some() {
                break;
            }
        }
        let Some((count, tried, mut after)) = next else { break };
        if let Some(mended) = made(&tried).filter(|_| count > 0) {
            causes::name(&mended, climate, &mut after);
        }
        (changes, rows) = (tried, after);
        if count < best.0 {
            best = (count, changes.clone(), left(&rows));
        }
        if count == 0 {
            break;
        }
    }
    let (count, mut changes, still) = best;
    if count > 0 {
        return Mended { changes, left: still };
    }
    // From the last one back: later changes answer to earlier ones. What another change had needed may go once that has gone.
    loop {
        let before = changes.len();
        let mut index = before;
        while index > 0 {
            index -= 1;
            let Some(last) = changes.get(index) else { continue };
            let fewer = without(&changes, last);
            let needed_by = made(&fewer).map(|mended| left(&rows_of(&mended, climate)));
            if needed_by.as_ref().is_some_and(Vec::is_empty) {
                changes = fewer;
            } else {
                changes[index].needed_by = needed_by;
            }
        }
        if changes.len() == before {
            return Mended { changes, left: Vec::new() };
        }
    }
}

/// Changes with a cure on top: a key that is set again takes its new value. A whole takes the wholes along whose figures it sets
/// anew, for its own figures answer to the rest of them.
fn with(changes: &[Change], cure: &[Change], round: usize) -> Vec<Change> {
    let mut all = changes.to_vec();
    for change in cure {
        let group = if change.group > 0 { round } else { 0 };
        let change = Change { group, ..change.clone() };
        match all.iter().position(|known| known.key == change.key) {
            Some(at) => {
                let old = all[at].group;
                all[at] = change;
                if old > 0 && group > 0 {
                    all.iter_mut().filter(|known| known.group == old).for_each(|known| known.group = group);
                }
            }
            None => all.push(change),
        }
    }
    all
}

/// Changes without one of them and all that are one with it.
fn without(changes: &[Change], gone: &Change) -> Vec<Change> {
    let stays = |change: &&Change| *change != gone && (gone.group == 0 || change.group != gone.group);
    changes.iter().filter(stays).cloned().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(key: &str, value: &str, group: usize) -> Change {
        let (key, value) = (key.to_string(), value.to_string());
        Change { row: "", key, value, together: None, set: Set::Pushes(true), group, needed_by: None }
    }

    /// A gear chosen for a larger motor goes when the motor goes.
    #[test]
    fn a_whole_takes_along_what_it_builds_on() {
        let motor = [change("force", "2", 1), change("current", "2", 1)];
        let gear = [change("force", "4", 1), change("speed", "1", 1)];
        let alone = change("limit", "3", 0);
        let all = with(&with(&with(&[], &motor, 1), std::slice::from_ref(&alone), 2), &gear, 3);
        let groups: Vec<_> = all.iter().map(|change| (change.key.as_str(), change.group)).collect();
        assert_eq!(groups, [("force", 3), ("current", 3), ("limit", 0), ("speed", 3)]);
        assert_eq!(without(&all, &all[0]), std::slice::from_ref(&alone));
        assert_eq!(without(&all, &alone).len(), 3);
    }
}
