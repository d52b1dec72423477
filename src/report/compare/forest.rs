//! `differences.svg`: differences of the main metrics with their intervals.

use super::Told;
use crate::report::plots::{Figure, PlotError, finished, forest};
use crate::report::{csv, groups, number, words};
use crate::study::compare::{Comparison, Difference, Standing};

/// Draws the differences; none with a single contender.
pub(super) fn figure(comparison: &Comparison, told: &Told) -> Result<Option<Figure>, PlotError> {
    let others: Vec<(usize, &Standing)> =
        comparison.standings.iter().enumerate().filter(|(_, standing)| !standing.differences.is_empty()).collect();
    if others.is_empty() {
        return Ok(None);
    }
    let panel = |title: String, axis: String, of: &dyn Fn(&Standing) -> Option<&Difference>| forest::Panel {
        title,
        axis,
        log: false,
        rows: others
            .iter()
            .filter_map(|(index, standing)| {
                let paired = &of(standing)?.paired;
                Some(forest::Row {
                    name: standing.name.clone(),
                    value: paired.difference,
                    interval: paired.interval.map(|interval| (interval.low, interval.high)),
                    series: *index,
                })
            })
            .collect(),
    };
    let mut panels = Vec::new();
    if told.aim.is_some() {
        panels.push(panel("objective".into(), "difference per season".into(), &|standing| {
            standing.cost_difference.as_ref()
        }));
    }
    let differs = |key: &&crate::ledger::metric::Key| {
        others.iter().any(|(_, standing)| standing.differences[**key as usize].adjusted_p.is_some())
    };
    for key in groups::GLANCE.iter().filter(differs) {
        let per_season = words::axis(*key).replacen(key.metric().title, "", 1);
        let axis = format!("difference{per_season}");
        panels.push(panel(key.metric().title.into(), axis, &|standing| standing.differences.get(*key as usize)));
    }
    let reference = &comparison.standings[comparison.reference].name;
    let title = format!("Difference to {reference} on the same {}", number::counted(comparison.seasons, "season"));
    let subtitle =
        format!("dot: mean; line: interval; all hold together with {} confidence", number::percent(told.confidence));
    let svg = forest::forest(&title, &subtitle, &panels)?;
    let mut out = csv::writer(Vec::new());
    out.write_record(["panel", "contender", "difference", "low", "high"])?;
    for panel in &panels {
        for row in &panel.rows {
            out.write_record([
                panel.title.clone(),
                row.name.clone(),
                number::exact(row.value),
                number::exact_or_empty(row.interval.map(|interval| interval.0)),
                number::exact_or_empty(row.interval.map(|interval| interval.1)),
            ])?;
        }
    }
    let alt = format!("{title}, one panel per metric, one row per contender.");
    Ok(Some(Figure { name: "forest", svg, csv: finished(out)?, alt }))
}
