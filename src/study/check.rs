//! Every question that can be answered before anything is built, one row each: no season is played.
//!
//! A row compares a value with a limit and says whether it fits, is tight, or fails, and which key of the scenario would
//! change it. The limits are the scenario's own figures where it has them; a few are rules of thumb, named as common practice
//! in the row. Frost is never called fine: how hard a seal freezes cannot be computed from anything a scenario holds.

use change::Mended;

use crate::engine::PlanError;
use crate::scenario::Scenario;
use crate::scenario::failure::{Act, Change as Lasting, Failure, Figure, Often};
use crate::world::failures::applied;

mod arrival;
mod causes;
mod change;
mod climate;
mod contact;
mod doorway;
pub mod drawings;
mod drive;
mod force;
mod lane;
mod leaving;
mod level;
mod limits;
mod motor;
mod power;
mod quiet;
mod rating;
mod rod;
mod room;
mod senses;
mod set;
mod settled;
mod sight;
mod single;
mod slider;
mod supply;
mod tail;
mod threshold;
mod timeout;
mod timing;

pub use change::Change;
pub use climate::Climate;
pub use drawings::Drawings;
pub use timing::required_m;

/// What a row says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// With room to spare.
    Fits,
    /// It works as computed, but little is left, or something that cannot be computed could spoil it.
    Tight,
    /// It does not work.
    Fails,
}

/// How a value is held against its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// At least the limit is needed.
    AtLeast,
    /// At most the limit is allowed.
    AtMost,
}

/// One question.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Short name, stable, for machines.
    pub id: &'static str,
    /// The question's subject in words.
    pub question: String,
    /// What was found; none where there is no figure.
    pub value: Option<f64>,
    /// What it is held against.
    pub limit: Option<f64>,
    /// How.
    pub side: Side,
    /// Unit of both.
    pub unit: &'static str,
    /// The verdict.
    pub verdict: Verdict,
    /// Key of the scenario that would change it.
    pub key: String,
    /// Where, why, what would help.
    pub note: String,
    /// Why it is no failure although its value lies past the limit; empty where it does not, or where it fails.
    pub advice: String,
    /// Ways to mend a failing row as far as it can tell, each of one or more changes of keys with values; empty where no value is
    /// known.
    pub cures: Vec<Vec<Change>>,
}

impl Row {
    /// A row with a figure: it fails beyond the limit, is tight within `tight` of it.
    fn judged(
        id: &'static str,
        question: impl Into<String>,
        value: f64,
        side: Side,
        limit: f64,
        tight: f64,
        unit: &'static str,
    ) -> Row {
        let left = if side == Side::AtLeast { value - limit } else { limit - value };
        // Not-a-number must not pass.
        let verdict = if left >= tight {
            Verdict::Fits
        } else if left >= 0.0 {
            Verdict::Tight
        } else {
            Verdict::Fails
        };
        Row {
            id,
            question: question.into(),
            value: Some(value),
            limit: Some(limit),
            side,
            unit,
            verdict,
            key: String::new(),
            note: String::new(),
            advice: String::new(),
            cures: Vec::new(),
        }
    }

    /// A row that has no figure.
    fn stated(id: &'static str, question: impl Into<String>, verdict: Verdict) -> Row {
        Row {
            id,
            question: question.into(),
            value: None,
            limit: None,
            side: Side::AtLeast,
            unit: "",
            verdict,
            key: String::new(),
            note: String::new(),
            advice: String::new(),
            cures: Vec::new(),
        }
    }

    fn key(mut self, key: impl Into<String>) -> Row {
        self.key = key.into();
        self
    }

    fn note(mut self, note: impl Into<String>) -> Row {
        self.note = note.into();
        self
    }

    /// With one cure; without any where there are no changes.
    fn changes(self, changes: Vec<Change>) -> Row {
        self.cures(vec![changes])
    }

    /// With several cures to choose from, the likeliest first.
    fn cures(mut self, cures: Vec<Vec<Change>>) -> Row {
        self.cures = cures.into_iter().filter(|cure| !cure.is_empty()).collect();
        // The first change is what the row names.
        if let Some(first) = self.cures.first().and_then(|cure| cure.first()) {
            self.key.clone_from(&first.key);
        }
        self
    }

    /// At best this verdict.
    fn at_best(mut self, verdict: Verdict) -> Row {
        self.verdict = self.verdict.max(verdict);
        self
    }

    /// A row past its limit that is no failure, for this reason: tight at best. Without effect on a row within its limit.
    fn advised(mut self, why: impl Into<String>) -> Row {
        if self.verdict == Verdict::Fails {
            self.verdict = Verdict::Tight;
            self.advice = why.into();
        }
        self
    }

    /// Whether its value lies past its limit: such a row fails, or says in its advice why it does not.
    pub fn is_past_limit(&self) -> bool {
        self.margin().is_some_and(|margin| margin < 0.0)
    }

    /// What is left to the limit, in the row's unit; negative past the limit.
    pub fn margin(&self) -> Option<f64> {
        let (value, limit) = (self.value?, self.limit?);
        Some(if self.side == Side::AtLeast { value - limit } else { limit - value })
    }
}

/// All answers.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckResult {
    /// The scenario's name.
    pub name: String,
    /// The weather that loads were taken from.
    pub climate: Climate,
    /// Names of the failures that change the design for good; the rows are those of what they leave of it.
    pub lasting: Vec<String>,
    /// The rows, in the order of the questions.
    pub rows: Vec<Row>,
    /// Changes that the rows ask for, one after the other; empty if nothing fails.
    pub changes: Vec<Change>,
    /// Whether nothing fails after them.
    pub mended: bool,
    /// What still fails after them: names and questions of the rows.
    pub left: Vec<(&'static str, String)>,
    /// For a double slider: where it could be pushed, and what that would change. They decide nothing.
    pub choices: Vec<Choice>,
}

/// One way to drive a double slider.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Short name, stable, for machines.
    pub id: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Range of the panel's angle that it cannot pass, opening and closing added up, degrees.
    pub dead_deg: f64,
    /// Stroke of the drive, m.
    pub stroke_m: f64,
    /// Where it locks and why, its largest force, and its ratio to the sill.
    pub note: String,
}

impl CheckResult {
    /// The worst verdict of all rows.
    pub fn verdict(&self) -> Verdict {
        self.rows.iter().map(|row| row.verdict).max().unwrap_or(Verdict::Fits)
    }

    /// The changes that answer a row: those of its own key, of its cures, and where it alone asks that question, those that were
    /// made for it. A change of such a key that was made for another row, perhaps the other way, does not answer a row that is mended
    /// without it; if no other is left, those answer without which the row fails.
    pub fn changes_for(&self, row: &Row) -> Vec<&Change> {
        let alone = self.rows.iter().filter(|other| other.id == row.id && other.verdict == Verdict::Fails).count() == 1;
        let fails = row.verdict == Verdict::Fails;
        let cures = |change: &Change| row.cures.iter().flatten().any(|cure| cure.key == change.key);
        let of_row = |change: &Change| {
            change.key == row.key || fails && (cures(change) || (alone || row.cures.is_empty()) && change.row == row.id)
        };
        let needed = |change: &Change| change.is_needed_by(row) == Some(true);
        let has_needed = fails && self.changes.iter().any(needed);
        let of_others = |change: &Change| change.row != row.id && change.is_needed_by(row) == Some(false);
        let answers = |change: &Change| of_row(change) && !(has_needed && of_others(change));
        let has_answer = !has_needed || self.changes.iter().any(answers);
        let named = |change: &&Change| if has_answer { answers(change) } else { needed(change) };
        let mut changes: Vec<&Change> = self.changes.iter().filter(named).collect();
        // Of a whole all of it, or what is named would contradict itself.
        let groups: Vec<usize> = changes.iter().map(|change| change.group).filter(|group| *group > 0).collect();
        if fails {
            changes = self.changes.iter().filter(|change| named(change) || groups.contains(&change.group)).collect();
        }
        changes
    }
}

/// Answers all questions.
///
/// # Errors
/// If the scenario's weather file or time zone can't be used.
pub fn check(scenario: &Scenario) -> Result<CheckResult, PlanError> {
    let climate = Climate::of(scenario)?;
    let mut rows = rows_of(scenario, &climate);
    causes::name(scenario, &climate, &mut rows);
    let Mended { changes, left } = change::mend(scenario, &climate, &rows);
    let choices = slider::choices(scenario, &climate);
    let mended = left.is_empty();
    let mut result = CheckResult {
        name: scenario.name.clone(),
        climate,
        lasting: lasting(scenario),
        rows,
        changes,
        mended,
        left,
        choices,
    };
    // The key of a row is that of the first change that answers it, wherever the row is shown.
    let keys: Vec<Option<String>> =
        result.rows.iter().map(|row| result.changes_for(row).first().map(|change| change.key.clone())).collect();
    for (row, key) in result.rows.iter_mut().zip(keys) {
        row.key = key.unwrap_or_else(|| std::mem::take(&mut row.key));
        if let Some((_, by)) = overridden(scenario).find(|(of, _)| *of == row.key) {
            row.key = by;
        }
    }
    Ok(result)
}

/// Keys that a lasting failure takes the say from, each with the failure's own.
fn overridden(scenario: &Scenario) -> impl Iterator<Item = (String, String)> + '_ {
    scenario.failures.iter().flat_map(|failure| {
        let by = |figure: Figure| format!("failure.{}.{}", failure.name, figure.key());
        match failure.mode.act {
            Act::Change(Lasting::SlowPolls) => {
                let polls = |sensor: &usize| format!("sensor.{}.poll", scenario.sensors[*sensor].name);
                failure.sensors.iter().map(|sensor| (polls(sensor), by(Figure::Delay))).collect()
            }
            Act::Change(Lasting::Ice) => vec![("door.ice".to_string(), by(Figure::Force))],
            _ => Vec::new(),
        }
    })
}

/// Names of the failures that change the design for good, so that all questions are asked of what they leave of it.
fn lasting(scenario: &Scenario) -> Vec<String> {
    let changes =
        |failure: &&Failure| matches!(failure.mode.act, Act::Change(_)) && failure.mode.often == Often::Constant;
    let acts = scenario.failures.iter().filter(changes).filter(|failure| failure.acts(&scenario.sensors));
    acts.map(|failure| failure.name.clone()).collect()
}

/// All questions in a known climate, of the scenario as its lasting failures leave it.
fn rows_of(scenario: &Scenario, climate: &Climate) -> Vec<Row> {
    let scenario = &applied(scenario);
    let mut rows = Vec::new();
    room::rows(scenario, &mut rows);
    rod::rows(scenario, climate, &mut rows);
    force::rows(scenario, climate, &mut rows);
    timing::rows(scenario, climate, &mut rows);
    leaving::rows(scenario, climate, &mut rows);
    timeout::rows(scenario, climate, &mut rows);
    doorway::rows(scenario, climate, &mut rows);
    tail::rows(scenario, &mut rows);
    lane::rows(scenario, climate, &mut rows);
    contact::rows(scenario, climate, &mut rows);
    threshold::rows(scenario, climate, &mut rows);
    drive::rows(scenario, climate, &mut rows);
    rating::rows(scenario, climate, &mut rows);
    supply::rows(scenario, climate, &mut rows);
    power::rows(scenario, climate, &mut rows);
    senses::rows(scenario, climate, &mut rows);
    level::rows(scenario, climate, &mut rows);
    single::rows(scenario, &mut rows);
    quiet::rows(scenario, &mut rows);
    limits::rows(scenario, &mut rows);
    rows
}
