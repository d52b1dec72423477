//! `rain.svg` and `drive.svg`: means of related metrics with their intervals, strategies side by side.

use super::{Figure, PlotError, forest};
use crate::ledger::metric::Key;
use crate::report::{csv, groups, number, words};
use crate::study::result::RunResult;

/// Who gets wet, and for how long.
pub fn rain(result: &RunResult) -> Result<Figure, PlotError> {
    let keys = [Key::WetWaitingTime, Key::WetInsideTime, Key::WetFloorTime, Key::WetFloorDepth];
    draw(result, "rain", "exposure to rain", &keys)
}

/// What the drive bears.
pub fn drive(result: &RunResult) -> Result<Figure, PlotError> {
    let keys = [Key::DutyWorst, Key::WindingPeak, Key::Damage, Key::TotalEnergy];
    draw(result, "drive", "duty, heat, wear and energy", &keys)
}

fn draw(result: &RunResult, name: &'static str, what: &str, keys: &[Key]) -> Result<Figure, PlotError> {
    let panel = |key: &Key| forest::Panel {
        title: key.metric().title.to_string(),
        axis: words::axis(*key),
        log: false,
        rows: result
            .strategies
            .iter()
            .enumerate()
            .filter_map(|(index, strategy)| {
                let estimate = groups::estimate(strategy, *key)?;
                let interval = estimate.interval.map(|it| (it.low, it.high));
                Some(forest::Row { name: strategy.name.clone(), value: estimate.mean, interval, series: index })
            })
            .collect(),
    };
    let panels: Vec<forest::Panel> = keys.iter().map(panel).collect();
    let seasons = number::counted(result.seasons_played, "season");
    let title = format!("{}: {what}, {seasons}", result.scenario.name);
    let subtitle = format!("dot: mean per season; line: {} interval of the mean", number::percent(result.confidence));
    let svg = forest::forest(&title, &subtitle, &panels)?;
    let mut out = csv::writer(Vec::new());
    out.write_record(["strategy", "metric", "unit", "mean", "low", "high"])?;
    for (key, panel) in keys.iter().zip(&panels) {
        for row in &panel.rows {
            let ends = [row.interval.map(|it| it.0), row.interval.map(|it| it.1)].map(number::exact_or_empty);
            let metric = key.metric();
            let names = [row.name.clone(), metric.key.to_string(), metric.unit.to_string(), number::exact(row.value)];
            out.write_record(names.into_iter().chain(ends))?;
        }
    }
    let titles: Vec<&str> = keys.iter().map(|key| key.metric().title).collect();
    let alt = format!("Means per season with their intervals, one row per strategy: {}.", titles.join(", "));
    Ok(Figure { name, svg, csv: super::finished(out)?, alt })
}
