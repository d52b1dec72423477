//! `strokes.svg`: how long opening and closing take.

use super::canvas::{HEADING, sheet};
use super::strips::{self, Bar, Panel, Strip};
use super::{Figure, PlotError};
use crate::ledger::record::Histogram;
use crate::report::{csv, number};
use crate::study::result::{RunResult, StrategyResult};

/// Width of the sheet.
const WIDTH: u32 = 960;
/// More bars than this are merged.
const BARS_MOST: usize = 40;

/// A kind of stroke: name and where its histogram is.
type Stroke = (&'static str, fn(&StrategyResult) -> &Histogram);

const STROKES: [Stroke; 2] = [("opening", |it| &it.opening_strokes), ("closing", |it| &it.closing_strokes)];

/// Draws the distribution of the completed strokes' durations, opening beside closing.
pub fn strokes(result: &RunResult) -> Result<Figure, PlotError> {
    let seasons = number::counted(result.seasons_played, "season");
    let title = format!("{}: how long the door takes, {seasons}", result.scenario.name);
    let subtitle = "completed strokes of all seasons; each bar: share of the strategy's strokes with that duration";
    let size = (WIDTH, HEADING + strips::height(result.strategies.len()) + 8);
    let svg = sheet(size, &title, subtitle, |area| {
        for (stroke, cell) in STROKES.iter().zip(&area.split_evenly((1, 2))) {
            strips::draw(cell, &panel(result, *stroke))?;
        }
        Ok(())
    })?;
    let alt = format!(
        "Distribution of the durations of completed opening and closing strokes over {seasons}, one row of bars per \
         strategy."
    );
    Ok(Figure { name: "strokes", svg, csv: table(result)?, alt })
}

fn panel(result: &RunResult, (name, of): Stroke) -> Panel {
    let histograms: Vec<&Histogram> = result.strategies.iter().map(of).collect();
    let first = histograms.iter().filter_map(|it| it.counts.iter().position(|&count| count > 0)).min();
    let end = histograms.iter().map(|it| it.counts.iter().rposition(|&count| count > 0).map_or(0, |bin| bin + 1)).max();
    let (first, end) = (first.unwrap_or(0), end.unwrap_or(0).max(first.unwrap_or(0) + 1));
    let merged = (end - first).div_ceil(BARS_MOST);
    let bin_s = histograms.first().map_or(1.0, |it| f64::from(it.bin_ms) / 1_000.0);
    let strips = result.strategies.iter().zip(&histograms).map(|(strategy, histogram)| {
        let total = histogram.total();
        let counts = histogram.counts.get(first..).unwrap_or_default();
        let bars = counts.chunks(merged).enumerate().map(|(index, counts)| Bar {
            from: (first + index * merged) as f64 * bin_s,
            to: (first + (index + 1) * merged) as f64 * bin_s,
            share: counts.iter().sum::<u64>() as f64 / total as f64,
        });
        let bars = if total == 0 { Vec::new() } else { bars.collect() };
        Strip::told(&strategy.name, &number::counted(total, "stroke"), bars)
    });
    // A few empty bins beside the bars, so that a single duration doesn't fill the panel.
    let (from, to) = (first.saturating_sub(2 * merged), end.next_multiple_of(merged) + 2 * merged);
    Panel {
        title: format!("{name} strokes"),
        axis: format!("duration of an {name} stroke, s").replace("an closing", "a closing"),
        ticks: None,
        share_of: "share of strokes",
        range: (from as f64 * bin_s, to as f64 * bin_s),
        whole: false,
        strips: strips.collect(),
    }
}

/// `strokes.csv`: one row per strategy, kind of stroke and bin that holds any, at the full resolution.
fn table(result: &RunResult) -> Result<Vec<u8>, PlotError> {
    let mut out = csv::writer(Vec::new());
    out.write_record(["strategy", "stroke", "from_s", "to_s", "strokes"])?;
    for strategy in &result.strategies {
        for (name, of) in STROKES {
            let histogram = of(strategy);
            let edge = |bin: usize| number::exact(bin as f64 * f64::from(histogram.bin_ms) / 1_000.0);
            for (bin, &count) in histogram.counts.iter().enumerate().filter(|(_, count)| **count > 0) {
                out.write_record([&strategy.name, name, &edge(bin), &edge(bin + 1), &count.to_string()])?;
            }
        }
    }
    super::finished(out)
}
