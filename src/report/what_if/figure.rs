//! `ranked.svg`: failures ranked by harm; `together.svg`: all of them at once.

use super::{Told, unit};
use crate::report::csv::writer;
use crate::report::number::{self, exact, exact_or_empty};
use crate::report::plots::{Figure, PlotError, finished, forest};
use crate::study::what_if::WhatIf;

/// Most failures of the plot; the table has all.
const DRAWN: usize = 20;

/// Failures ranked by harm, one panel per strategy.
pub(super) fn ranked(result: &WhatIf, told: &Told) -> Result<Figure, PlotError> {
    let singles = result.ranking();
    let drawn = &singles[..singles.len().min(DRAWN)];
    let panel = |(index, strategy): (usize, &String)| forest::Panel {
        title: strategy.clone(),
        axis: format!("added {}", unit(told)),
        log: false,
        rows: drawn.iter().map(|place| row(result, *place, index, &result.rows[*place].name)).collect(),
    };
    let panels: Vec<forest::Panel> = result.strategies.iter().enumerate().map(panel).collect();
    let title = "Failures by their harm per season, each alone".to_string();
    let shown = match singles.len() {
        all if all > drawn.len() => format!("the {} most harmful of {all}; ", drawn.len()),
        _ => String::new(),
    };
    let alt = format!("{title}, one panel per strategy, the most harmful first.");
    draw("ranked", &title, &shown, &panels, result, told, alt)
}

/// All failures together, one row per strategy.
pub(super) fn together(result: &WhatIf, told: &Told) -> Result<Figure, PlotError> {
    let title = "All failures together".to_string();
    let all = result.rows.iter().position(|row| row.mode.is_none());
    let rows = |place: usize| {
        result.strategies.iter().enumerate().map(move |(index, name)| row(result, place, index, name)).collect()
    };
    let panel = forest::Panel {
        title: "harm to each strategy".to_string(),
        axis: format!("added {}", unit(told)),
        log: false,
        rows: all.map(rows).unwrap_or_default(),
    };
    let alt = format!("{title}: harm per season, one row per strategy.");
    draw("together", &title, "", &[panel], result, told, alt)
}

fn row(result: &WhatIf, place: usize, strategy: usize, name: &str) -> forest::Row {
    let harm = &result.rows[place].hurt[strategy].harm;
    forest::Row {
        name: name.to_string(),
        value: harm.difference,
        interval: harm.interval.map(|interval| (interval.low, interval.high)),
        series: strategy,
    }
}

fn draw(
    name: &'static str,
    title: &str,
    shown: &str,
    panels: &[forest::Panel],
    result: &WhatIf,
    told: &Told,
    alt: String,
) -> Result<Figure, PlotError> {
    let subtitle = format!(
        "{shown}the same {} with and without; line: interval; all hold together with {} confidence",
        number::counted(result.seasons, "season"),
        number::percent(told.confidence)
    );
    let svg = forest::forest(title, &subtitle, panels)?;
    let mut out = writer(Vec::new());
    out.write_record(["panel", "row", "harm", "low", "high"])?;
    for panel in panels {
        for row in &panel.rows {
            let ends = [row.interval.map(|it| it.0), row.interval.map(|it| it.1)].map(exact_or_empty);
            out.write_record([panel.title.clone(), row.name.clone(), exact(row.value)].into_iter().chain(ends))?;
        }
    }
    Ok(Figure { name, svg, csv: finished(out)?, alt })
}
