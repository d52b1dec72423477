//! `distribution.svg`: how the main metrics vary from season to season.

use std::io;

use super::bins::Bins;
use super::canvas::{HEADING, sheet};
use super::strips::{self, Bar, Panel, Strip};
use super::{Figure, PlotError};
use crate::ledger::metric::{Key, Kind};
use crate::report::{csv, groups, number, words};
use crate::study::result::{RunResult, StrategyResult};

/// Width of the sheet.
const WIDTH: u32 = 960;
/// Panels side by side.
const ACROSS: u32 = 2;

/// Draws the distribution over seasons of the main metrics, one panel each.
pub fn distribution(result: &RunResult) -> Result<Figure, PlotError> {
    let panels: Vec<(Key, Bins, Vec<Vec<u64>>)> =
        groups::DRAWN.iter().map(|&key| counted(result, key)).collect::<io::Result<_>>()?;
    let down = (panels.len() as u32).div_ceil(ACROSS);
    let panel_height = strips::height(result.strategies.len()) + 8;
    let seasons = number::counted(result.seasons_played, "season");
    let title = format!("{}: what {seasons} looked like", result.scenario.name);
    let subtitle = "each bar: share of seasons with that figure; dark line: mean over the seasons";
    let svg = sheet((WIDTH, HEADING + down * panel_height), &title, subtitle, |area| {
        let cells = area.split_evenly((down as usize, ACROSS as usize));
        for ((key, bins, counts), cell) in panels.iter().zip(&cells) {
            strips::draw(cell, &panel(result, *key, *bins, counts))?;
        }
        Ok(())
    })?;
    let names: Vec<&str> = groups::DRAWN.iter().map(|key| key.metric().title).collect();
    let alt = format!("Distribution over {seasons} of {}, one row of bars per strategy.", names.join(", "));
    Ok(Figure { name: "distribution", svg, csv: table(result, &panels)?, alt })
}

/// Bins over all strategies, and the seasons of each strategy in them.
fn counted(result: &RunResult, key: Key) -> io::Result<(Key, Bins, Vec<Vec<u64>>)> {
    let values = |strategy: &StrategyResult| -> io::Result<Vec<f64>> {
        strategy.records()?.map(|season| Ok(season?.value(key))).collect()
    };
    let values = result.strategies.iter().map(values).collect::<io::Result<Vec<_>>>()?;
    let all = values.iter().flatten();
    let (low, high) =
        all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)));
    let (low, high) = if low <= high { (low, high) } else { (0.0, 0.0) };
    let bins = if key.metric().kind == Kind::Count { Bins::whole(low, high) } else { Bins::amount(low, high) };
    let per_strategy = values.iter().map(|values| bins.counts(values.iter().copied()));
    Ok((key, bins, per_strategy.collect()))
}

fn panel(result: &RunResult, key: Key, bins: Bins, counts: &[Vec<u64>]) -> Panel {
    let whole = key.metric().kind == Kind::Count;
    let strips = result.strategies.iter().zip(counts).map(|(strategy, counts)| {
        let seasons: u64 = counts.iter().sum();
        let bars = counts.iter().enumerate().map(|(index, &count)| {
            let (from, to) = bins.edges(index);
            Bar { from, to, share: count as f64 / seasons as f64 }
        });
        let estimate = groups::estimate(strategy, key).filter(|_| seasons > 0);
        let mean = estimate.map(|it| format!(": mean {}", number::mean(it))).unwrap_or_default();
        Strip {
            name: format!("{}{mean}", strategy.name),
            bars: if seasons == 0 { Vec::new() } else { bars.collect() },
            mark: estimate.map(|it| it.mean),
        }
    });
    Panel {
        title: key.metric().title.to_string(),
        axis: words::axis(key),
        ticks: None,
        share_of: "share of seasons",
        range: padded(bins),
        whole,
        strips: strips.collect(),
    }
}

/// Range of the axis: few bars get room beside them, but nothing below zero if no bar is there.
fn padded(bins: Bins) -> (f64, f64) {
    let (low, high) = bins.range();
    let extra = (5.0 * bins.width - (high - low)).max(0.0);
    let from = (low - extra / 2.0).max(low.min(0.0));
    (from, from + (high - low) + extra)
}

/// `distribution.csv`: one row per strategy, metric and bar.
fn table(result: &RunResult, panels: &[(Key, Bins, Vec<Vec<u64>>)]) -> Result<Vec<u8>, PlotError> {
    let mut out = csv::writer(Vec::new());
    out.write_record(["strategy", "metric", "unit", "from", "to", "seasons"])?;
    for (key, bins, counts) in panels {
        let row = key.metric();
        for (strategy, counts) in result.strategies.iter().zip(counts) {
            for (index, count) in counts.iter().enumerate() {
                let (from, to) = bins.edges(index);
                let (from, to) = (number::exact(from), number::exact(to));
                out.write_record([&strategy.name, row.key, row.unit, &from, &to, &count.to_string()])?;
            }
        }
    }
    super::finished(out)
}
