//! Reports of a what-if study: the answer first, then the failures by their harm, then what each moves and what protects.

mod csv;
mod figure;
mod json;
mod text;

use std::io;
use std::path::Path;

use super::folder::{self, Item};
use super::number;
use super::output::OutputError;
use super::study_file::{self, Study};
use super::text::Setting;
use super::{page, words};
use crate::ledger::metric::Key;
use crate::study::paired::PairedDifference;
use crate::study::what_if::{USUAL_COSTS, Uncounted, WhatIf};

pub use json::document;
pub use text::report;

/// What the reports say besides the result.
#[derive(Clone, Debug)]
pub struct Told<'a> {
    /// The study.
    pub study: &'a Study,
    /// Confidence of all intervals together.
    pub confidence: f64,
    /// The metric that is minimised; none for costs.
    pub metric: Option<Key>,
    /// Whether the usual costs stand in for an objective.
    pub stands_in: bool,
    /// Warnings.
    pub warnings: &'a [String],
    /// Names of the failures that have nothing to hit and were not played.
    pub left_out: &'a [String],
}

/// Writes the whole output folder, or nothing.
///
/// # Errors
/// If a file can't be written or the plot can't be drawn.
pub fn write(target: &Path, result: &WhatIf, told: &Told) -> Result<(), OutputError> {
    let figures = vec![figure::ranked(result, told)?, figure::together(result, told)?];
    let mut items = vec![
        Item::new("summary.txt", move |out| out.write_all(report(result, told, Setting::default()).as_bytes())),
        Item::new("report.html", |out| out.write_all(page::what_if::page(result, told, &figures).as_bytes())),
        Item::new("harm.csv", move |out| csv::harm(result, out)),
        Item::new("moved.csv", move |out| csv::moved(result, out)),
        Item::new("what-if.json", move |out| {
            out.write_all(document(result, told).map_err(io::Error::other)?.as_bytes())
        }),
    ];
    study_file::finish(&mut items, &figures, told.study);
    Ok(folder::write(target, told.study.command, items)?)
}

/// Places of all rows: the most harmful failure first, all together last.
pub(super) fn order(result: &WhatIf) -> Vec<usize> {
    let mut order = result.ranking();
    order.extend((0..result.rows.len()).filter(|index| result.rows[*index].mode.is_none()));
    order
}

/// What was played, in a sentence.
pub(super) fn opening(result: &WhatIf, told: &Told) -> String {
    format!(
        "{}: each failure mode alone and all together, on the same {} as without, seed {}. dooryard {}.",
        told.study.scenarios.iter().map(|scenario| scenario.name.as_str()).collect::<Vec<_>>().join(", "),
        number::counted(result.seasons, "season"),
        told.study.seed,
        told.study.version
    )
}

/// What hurts most, in a few sentences: over all strategies first, then one for each of several, then all together.
pub(super) fn answers(result: &WhatIf, told: &Told) -> Vec<String> {
    let sure = |harm: &PairedDifference| harm.interval.is_some_and(|it| it.low > 0.0);
    let singles = result.ranking();
    let of = |row: usize, strategy: usize| &result.rows[row].hurt[strategy].harm;
    // The surely harmful failure with the largest harm to some of these strategies.
    let worst = |strategies: std::ops::Range<usize>| {
        let pairs = singles.iter().flat_map(|row| strategies.clone().map(move |strategy| (*row, strategy)));
        let sure = pairs.filter(|(row, strategy)| sure(of(*row, *strategy)));
        sure.max_by(|a, b| of(a.0, a.1).difference.total_cmp(&of(b.0, b.1).difference))
    };
    let count = result.strategies.len();
    let unit = unit(told);
    let mut answers = vec![match worst(0..count) {
        Some((row, strategy)) => format!(
            "{} hurts most. Added {unit}: {} for {}.",
            result.rows[row].name,
            with_interval(of(row, strategy)),
            result.strategies[strategy]
        ),
        None => "No failure by itself does harm beyond chance.".to_string(),
    }];
    if count > 1 {
        answers.extend(result.strategies.iter().enumerate().map(|(index, name)| match worst(index..index + 1) {
            Some((row, _)) => {
                format!("{name} suffers most from {}: {}.", result.rows[row].name, with_interval(of(row, index)))
            }
            None => format!("{name} suffers from no single failure beyond chance."),
        }));
    }
    if let Some(all) = result.rows.iter().find(|row| row.mode.is_none()) {
        let harms = result.strategies.iter().zip(&all.hurt);
        let each: Vec<String> = harms.map(|(name, hurt)| format!("{} for {name}", with_interval(&hurt.harm))).collect();
        let least = match all.least {
            Some(least) => format!(" {} surely suffers least.", result.strategies[least]),
            None if count > 1 => " Which strategy suffers least can't be told.".to_string(),
            None => String::new(),
        };
        answers.push(format!("{}: {}.{least}", words::capital(&all.name), each.join(", ")));
    }
    let harmful = singles.iter().filter(|row| (0..count).any(|strategy| sure(of(**row, strategy)))).count();
    answers.push(format!("{harmful} of {} do harm beyond chance.", number::counted(singles.len() as u64, "failure")));
    answers.extend(uncounted(result));
    answers
}

/// What the harm leaves out although failures raise it, in a sentence; none if there is nothing of the kind.
fn uncounted(result: &WhatIf) -> Option<String> {
    let one = |left: &Uncounted| {
        let (row, strategy) = left.most;
        format!(
            "{} (by {}, most by {}: {} for {})",
            left.key.metric().title,
            number::counted(left.failures as u64, "failure"),
            result.rows[row].name,
            measured(&left.paired),
            result.strategies[strategy]
        )
    };
    let each: Vec<String> = result.uncounted.iter().map(one).collect();
    (!each.is_empty()).then(|| format!("Harm does not count what is raised beyond chance, too: {}.", each.join("; ")))
}

/// What harm is counted in, with its unit: `cost per season`.
pub(super) fn unit(told: &Told) -> String {
    told.metric.map_or("cost per season".to_string(), words::axis)
}

pub(super) fn signed(value: f64) -> String {
    let text = number::significant(value, 3);
    if value > 0.0 { format!("+{text}") } else { text }
}

/// The ends of a difference's interval; none where the seasons can't support one.
pub(super) fn ends(difference: &PairedDifference) -> Option<String> {
    difference.interval.map(|interval| format!("{} to {}", signed(interval.low), signed(interval.high)))
}

/// A difference and its interval.
pub(super) fn with_interval(difference: &PairedDifference) -> String {
    let interval = ends(difference).unwrap_or_else(|| number::WITHHELD.to_string());
    format!("{} ({interval})", signed(difference.difference))
}

/// A difference of a metric with its unit, and its interval.
pub(super) fn measured(difference: &PairedDifference) -> String {
    let interval = ends(difference).unwrap_or_else(|| number::WITHHELD.to_string());
    let value = number::with_unit(&signed(difference.difference), difference.key.metric().unit);
    format!("{value} ({interval})")
}

/// What harm is counted in, costs included.
pub(super) fn harm_words(told: &Told) -> String {
    match told.metric {
        Some(key) => words::axis(key),
        None if told.stands_in => {
            let one = |(key, cost): &(Key, f64)| match key.metric().unit {
                "" => format!("{} {cost}", key.metric().title),
                unit => format!("{} {cost} per {}", key.metric().title, number::unit_text(unit)),
            };
            let costs: Vec<String> = USUAL_COSTS.iter().map(one).collect();
            format!(
                "cost per season; the scenario has no [objective], so that usual costs stand in (common practice): {}",
                costs.join(", ")
            )
        }
        None => "cost per season by the scenario's objective".to_string(),
    }
}

/// How to read it.
pub(super) fn legend(result: &WhatIf, told: &Told) -> String {
    let left_out = match told.left_out {
        [] => String::new(),
        names => format!(" Not played, for nothing here can be hit by them: {}.", names.join(", ")),
    };
    format!(
        "Differences per season with the failure minus without, on the same seasons. The intervals of harm hold together \
         with {0} confidence; a metric is named if its difference is beyond chance at {0} over all {1} comparisons (Holm), \
         with an interval of its own. Where nothing is sure, the failure came too seldom or did too little for so few seasons: \
         more (--seasons) would tell.{left_out} Rates and figures of the modes are common practice: replace them by records of the \
         site. What protects is advice, no proof; local codes and licensed practice decide. {2}",
        number::percent(told.confidence),
        number::whole(result.family as u64),
        words::common_causes_of(told.study)
    )
}
