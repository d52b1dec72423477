//! `chances.svg` and `shares.svg`: how rarely an arrival goes unnoticed, and under which conditions.

use super::{SHARES, Told, both};
use crate::report::csv::writer;
use crate::report::number::{self, exact, exact_or_empty};
use crate::report::plots::{Figure, PlotError, finished, forest};

/// All drawings; none where no strategy can be worked out.
pub(super) fn all(told: &Told) -> Result<Vec<Figure>, PlotError> {
    if told.worked_out().next().is_none() { Ok(Vec::new()) } else { Ok(vec![chances(told)?, shares(told)?]) }
}

/// Chance per approach and expected misses per season, one row per strategy.
fn chances(told: &Told) -> Result<Figure, PlotError> {
    let panel = |title: &str, axis: &str, per_season: bool| forest::Panel {
        title: title.to_string(),
        axis: axis.to_string(),
        log: true,
        rows: told
            .worked_out()
            .enumerate()
            .flat_map(|(series, (name, misses))| {
                both(misses).into_iter().enumerate().map(move |(place, (by, chance))| {
                    let each = (chance.mean, chance.interval.map(|it| (it.low, it.high)));
                    let (value, interval) = if per_season { misses.per_season(chance) } else { each };
                    let name = if place == 0 { name.to_string() } else { format!("{name}, {by}") };
                    forest::Row { name, value, interval, series }
                })
            })
            .collect(),
    };
    let panels = [
        panel("Chance that an arrival goes unnoticed", "per approach, 0 to 1", false),
        panel("Expected arrivals that go unnoticed", "per season", true),
    ];
    let title = format!("{}: arrivals that nobody notices", told.scenario);
    let subtitle = format!(
        "by the sensors at the door; dot: estimate; line: {} interval; logarithmic axis, what is below 1e-15 stands at its end",
        number::percent(told.confidence)
    );
    let svg = forest::forest(&title, &subtitle, &panels)?;
    let mut out = writer(Vec::new());
    out.write_record(["strategy", "of", "estimate", "low", "high"])?;
    for (panel, of) in panels.iter().zip(["approach", "season"]) {
        for row in &panel.rows {
            let ends = [row.interval.map(|it| it.0), row.interval.map(|it| it.1)].map(exact_or_empty);
            out.write_record([row.name.clone(), of.to_string(), exact(row.value)].into_iter().chain(ends))?;
        }
    }
    let alt =
        "Chance per approach and expected arrivals per season that go unnoticed, with common causes and by noise \
               alone, two rows per strategy."
            .to_string();
    Ok(Figure { name: "chances", svg, csv: finished(out)?, alt })
}

/// Shares of the expected misses by condition, one panel per strategy.
fn shares(told: &Told) -> Result<Figure, PlotError> {
    let panels: Vec<forest::Panel> = told
        .worked_out()
        .enumerate()
        .map(|(series, (name, misses))| forest::Panel {
            title: name.to_string(),
            axis: "share of the expected misses, %".to_string(),
            log: false,
            rows: SHARES
                .iter()
                .zip(misses.shares)
                .map(|((_, words), share)| forest::Row {
                    name: words.to_string(),
                    value: 100.0 * share,
                    interval: None,
                    series,
                })
                .collect(),
        })
        .collect();
    let title = format!("{}: when arrivals go unnoticed", told.scenario);
    let svg = forest::forest(&title, "conditions overlap: the shares of a strategy need not add up to 100 %", &panels)?;
    let mut out = writer(Vec::new());
    out.write_record(["strategy", "condition", "share_percent"])?;
    for panel in &panels {
        for row in &panel.rows {
            out.write_record([panel.title.as_str(), &row.name, &exact(row.value)])?;
        }
    }
    let alt =
        "Shares of the expected misses that come in rain, in bright light, to the side, at an odd pace, or with a sensor \
               far off by random drift, one panel per strategy."
            .to_string();
    Ok(Figure { name: "shares", svg, csv: finished(out)?, alt })
}
