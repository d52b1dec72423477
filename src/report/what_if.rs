//! Reports of a what-if study.

use std::io;
use std::path::Path;

use serde_json::{Value, json};

use super::csv::{Sink, writer};
use super::folder::{self, Item};
use super::number::{self, exact, exact_or_empty};
use super::output::OutputError;
use super::plots::{Figure, PlotError, finished, forest};
use super::study_file::{self, Study};
use super::table::Table;
use super::text::{self, Setting};
use super::words;
use crate::ledger::metric::Key;
use crate::study::paired::PairedDifference;
use crate::study::what_if::{Moved, Row, USUAL_COSTS, WhatIf};

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
}

/// Most metrics that a row of the text names; the files name all.
const NAMED: usize = 4;

/// Most rows of the plot.
const DRAWN: usize = 30;

/// Writes the whole output folder, or nothing.
///
/// # Errors
/// If a file can't be written or the plot can't be drawn.
pub fn write(target: &Path, result: &WhatIf, told: &Told) -> Result<(), OutputError> {
    let figures = vec![figure(result, told)?];
    let mut items = vec![
        Item::new("summary.txt", move |out| out.write_all(report(result, told, Setting::default()).as_bytes())),
        Item::new("harm.csv", move |out| harm(result, out)),
        Item::new("moved.csv", move |out| moved(result, out)),
        Item::new("what-if.json", move |out| {
            out.write_all(document(result, told).map_err(io::Error::other)?.as_bytes())
        }),
    ];
    study_file::finish(&mut items, &figures, told.study);
    Ok(folder::write(target, items)?)
}

fn signed(value: f64) -> String {
    let text = number::significant(value, 3);
    if value > 0.0 { format!("+{text}") } else { text }
}

fn with_interval(difference: &PairedDifference) -> String {
    let ends = difference.interval.map_or(number::WITHHELD.to_string(), |interval| {
        format!("{} to {}", signed(interval.low), signed(interval.high))
    });
    format!("{} ({ends})", signed(difference.difference))
}

fn named(moved: &[&Moved]) -> String {
    let mut words: Vec<String> = moved
        .iter()
        .take(NAMED)
        .map(|one| format!("{} {}", one.paired.key.metric().title, with_interval(&one.paired)))
        .collect();
    if moved.len() > NAMED {
        words.push(format!("and {} more", moved.len() - NAMED));
    }
    if words.is_empty() { "nothing for sure".to_string() } else { words.join("; ") }
}

/// What harm is counted in.
fn harm_words(told: &Told) -> String {
    match told.metric {
        Some(key) => format!("{} per season", key.metric().title),
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

/// The report as text.
pub fn report(result: &WhatIf, told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    let opening = format!(
        "{}: each failure mode alone and all together, on the same {} as without, seed {}. dooryard {}.",
        told.study.scenarios.iter().map(|scenario| scenario.name.as_str()).collect::<Vec<_>>().join(", "),
        number::counted(result.seasons, "season"),
        told.study.seed,
        told.study.version
    );
    text::paragraph(&mut out, &opening, width);
    out.push('\n');
    text::paragraph(&mut out, &format!("Harm: {}.", harm_words(told)), width);
    out.push('\n');
    let mut headings = vec!["failure mode"];
    headings.extend(result.strategies.iter().map(String::as_str));
    headings.push("suffers least");
    let last = headings.len() - 1;
    let mut table = Table::new(&headings).left(last);
    let mut without: Vec<String> = vec!["(without: cost per season)".to_string()];
    without.extend(result.base.iter().map(|mean| number::significant(*mean, 3)));
    without.push(String::new());
    table.row(without);
    let mut order = result.ranking();
    order.extend((0..result.rows.len()).filter(|index| result.rows[*index].mode.is_none()));
    for index in &order {
        let row = &result.rows[*index];
        let mut cells = vec![row.name.clone()];
        cells.extend(row.hurt.iter().map(|hurt| with_interval(&hurt.harm)));
        cells.push(row.least.map_or("-".to_string(), |least| result.strategies[least].clone()));
        table.row(cells);
    }
    out.push_str(&table.render(setting));
    out.push_str("\nWhat each mode moves, and what protects\n");
    for index in &order {
        let row = &result.rows[*index];
        out.push('\n');
        text::paragraph(&mut out, &explained(result, row, told), width);
    }
    let legend = format!(
        "\nDifferences per season with the failure minus without, on the same seasons. The intervals of harm hold together \
         with {0} confidence; a metric is named if its difference is beyond chance at {0} over all {1} comparisons (Holm), \
         with an interval of its own. Rates and figures of the modes are common practice: replace them by records of the \
         site. What protects is advice, no proof; local codes and licensed practice decide. {2}",
        number::percent(told.confidence),
        number::whole(result.family as u64),
        words::common_causes_of(told.study)
    );
    text::paragraph(&mut out, &legend, width);
    for warning in told.warnings {
        text::paragraph(&mut out, &format!("Warning: {warning}"), width);
    }
    out
}

fn explained(result: &WhatIf, row: &Row, told: &Told) -> String {
    let about = row.mode.map_or(String::new(), |mode| format!(" ({}) {}", mode.number, mode.about));
    let strategies: Vec<String> = result
        .strategies
        .iter()
        .enumerate()
        .map(|(index, name)| format!("{name}: {}.", named(&row.moved(index, told.confidence))))
        .collect();
    let protects = row.mode.map_or(String::new(), |mode| format!(" Protection: {}", mode.protects));
    format!("{}{about} {}{protects}", row.name, strategies.join(" "))
}

fn harm(result: &WhatIf, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["failure", "mode", "number", "strategy", "harm", "low", "high", "p", "suffers_least"])?;
    for row in &result.rows {
        for (index, hurt) in row.hurt.iter().enumerate() {
            out.write_record([
                row.name.clone(),
                row.mode.map_or("", |mode| mode.name).to_string(),
                row.mode.map(|mode| mode.number.to_string()).unwrap_or_default(),
                result.strategies[index].clone(),
                exact(hurt.harm.difference),
                exact_or_empty(hurt.harm.interval.map(|interval| interval.low)),
                exact_or_empty(hurt.harm.interval.map(|interval| interval.high)),
                exact_or_empty(hurt.harm.p_value),
                (row.least == Some(index)).to_string(),
            ])?;
        }
    }
    out.flush()
}

fn moved(result: &WhatIf, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "failure",
        "strategy",
        "metric",
        "unit",
        "without",
        "with",
        "difference",
        "low",
        "high",
        "p",
        "p_adjusted",
    ])?;
    for row in &result.rows {
        for (index, hurt) in row.hurt.iter().enumerate() {
            for one in &hurt.moved {
                let metric = one.paired.key.metric();
                out.write_record([
                    row.name.clone(),
                    result.strategies[index].clone(),
                    metric.key.to_string(),
                    metric.unit.to_string(),
                    exact(one.paired.means[1]),
                    exact(one.paired.means[0]),
                    exact(one.paired.difference),
                    exact_or_empty(one.paired.interval.map(|interval| interval.low)),
                    exact_or_empty(one.paired.interval.map(|interval| interval.high)),
                    exact_or_empty(one.paired.p_value),
                    exact(one.adjusted_p),
                ])?;
            }
        }
    }
    out.flush()
}

/// The result as JSON.
///
/// # Errors
/// If it can't be written.
pub fn document(result: &WhatIf, told: &Told) -> serde_json::Result<String> {
    let difference = |one: &PairedDifference| {
        json!({
            "difference": one.difference,
            "low": one.interval.map(|interval| interval.low),
            "high": one.interval.map(|interval| interval.high),
            "p": one.p_value,
        })
    };
    let row = |row: &Row| {
        let hurt: Vec<Value> = result
            .strategies
            .iter()
            .enumerate()
            .map(|(index, strategy)| {
                let moved: Vec<Value> = row
                    .moved(index, told.confidence)
                    .iter()
                    .map(|one| {
                        let mut value = difference(&one.paired);
                        value["metric"] = json!(one.paired.key.metric().key);
                        value["unit"] = json!(one.paired.key.metric().unit);
                        value["p_adjusted"] = json!(one.adjusted_p);
                        value
                    })
                    .collect();
                json!({ "strategy": strategy, "harm": difference(&row.hurt[index].harm), "moved": moved })
            })
            .collect();
        json!({
            "failure": row.name,
            "mode": row.mode.map(|mode| mode.name),
            "number": row.mode.map(|mode| mode.number),
            "about": row.mode.map(|mode| mode.about),
            "protects": row.mode.map(|mode| mode.protects),
            "suffers_least": row.least.map(|least| &result.strategies[least]),
            "strategies": hurt,
        })
    };
    serde_json::to_string_pretty(&json!({
        "command": told.study.command,
        "version": told.study.version,
        "seed": told.study.seed.to_string(),
        "seasons": result.seasons,
        "confidence": told.confidence,
        "harm": harm_words(told),
        "comparisons": result.family,
        "without": result.strategies.iter().zip(&result.base).map(|(name, cost)| json!({ "strategy": name, "cost": cost })).collect::<Vec<_>>(),
        "rows": result.rows.iter().map(row).collect::<Vec<_>>(),
    }))
    .map(|text| text + "\n")
}

/// Modes ranked by harm, one panel per strategy; all together at the end.
fn figure(result: &WhatIf, told: &Told) -> Result<Figure, PlotError> {
    let mut order: Vec<usize> = result.ranking().into_iter().take(DRAWN).collect();
    order.extend((0..result.rows.len()).filter(|index| result.rows[*index].mode.is_none()));
    let panel = |(index, strategy): (usize, &String)| forest::Panel {
        title: strategy.clone(),
        axis: told.metric.map_or("harm per season".to_string(), |key| format!("{} per season", key.metric().title)),
        rows: order
            .iter()
            .map(|place| {
                let row = &result.rows[*place];
                let harm = &row.hurt[index].harm;
                forest::Row {
                    name: row.name.clone(),
                    value: harm.difference,
                    interval: harm.interval.map(|interval| (interval.low, interval.high)),
                    series: index,
                }
            })
            .collect(),
    };
    let panels: Vec<forest::Panel> = result.strategies.iter().enumerate().map(panel).collect();
    let title = "Failure modes by harm per season".to_string();
    let subtitle = format!(
        "the same {} with and without; line: interval, all together {}",
        number::counted(result.seasons, "season"),
        number::percent(told.confidence)
    );
    let svg = forest::forest(&title, &subtitle, &panels)?;
    let mut out = writer(Vec::new());
    out.write_record(["strategy", "failure", "harm", "low", "high"])?;
    for panel in &panels {
        for row in &panel.rows {
            out.write_record([
                panel.title.clone(),
                row.name.clone(),
                exact(row.value),
                exact_or_empty(row.interval.map(|interval| interval.0)),
                exact_or_empty(row.interval.map(|interval| interval.1)),
            ])?;
        }
    }
    let alt = format!("{title}, one panel per strategy, the most harmful first, all together last.");
    Ok(Figure { name: "ranked", svg, csv: finished(out)?, alt })
}
