//! `hours.svg`: at which hours of the day the door is used.

use super::canvas::{HEADING, sheet};
use super::strips::{self, Bar, Panel, Strip};
use super::{Figure, PlotError};
use crate::report::{csv, number};
use crate::study::result::{HourUse, RunResult};

/// Width of the sheet.
const WIDTH: u32 = 960;

/// What is counted by the hour: the noun of one, and where it is.
type Counted = (&'static str, fn(&HourUse) -> u64);

const COUNTED: [Counted; 4] = [
    ("opening", |hour| hour.openings),
    ("false opening", |hour| hour.false_openings),
    ("arrival", |hour| hour.arrivals),
    ("missed arrival", |hour| hour.missed),
];

/// Draws the door's use by hour of the local day, one panel for each thing that is counted.
pub fn hours(result: &RunResult) -> Result<Figure, PlotError> {
    let seasons = number::counted(result.seasons_played, "season");
    let title = format!("{}: the door by hour of the day, {seasons}", result.scenario.name);
    let subtitle = "local time; each bar: share of the strategy's openings (or arrivals) that fell into that hour";
    let panel_height = strips::height(result.strategies.len()) + 8;
    let svg = sheet((WIDTH, HEADING + 2 * panel_height), &title, subtitle, |area| {
        for (counted, cell) in COUNTED.iter().zip(&area.split_evenly((2, 2))) {
            strips::draw(cell, &panel(result, *counted))?;
        }
        Ok(())
    })?;
    let alt = format!(
        "Openings, false openings, arrivals and missed arrivals by hour of the local day over {seasons}, one row of bars \
         per strategy."
    );
    Ok(Figure { name: "hours", svg, csv: table(result)?, alt })
}

fn panel(result: &RunResult, (noun, of): Counted) -> Panel {
    let strips = result.strategies.iter().map(|strategy| {
        let total: u64 = strategy.hours.iter().map(of).sum();
        let bar = |(hour, count): (usize, u64)| Bar {
            from: hour as f64,
            to: hour as f64 + 1.0,
            share: count as f64 / total as f64,
        };
        let bars = strategy.hours.iter().map(of).enumerate().map(bar);
        let bars = if total == 0 { Vec::new() } else { bars.collect() };
        Strip::told(&strategy.name, &number::counted(total, noun), bars)
    });
    Panel {
        title: format!("{noun}s"),
        axis: "hour of the day".to_string(),
        share_of: "share",
        range: (0.0, 24.0),
        ticks: Some([0.0, 6.0, 12.0, 18.0, 24.0].to_vec()),
        whole: true,
        strips: strips.collect(),
    }
}

/// `hours.csv`: one row per strategy and hour, counts of all seasons together.
fn table(result: &RunResult) -> Result<Vec<u8>, PlotError> {
    let mut out = csv::writer(Vec::new());
    out.write_record(["strategy", "hour", "openings", "false_openings", "arrivals", "missed_arrivals"])?;
    for strategy in &result.strategies {
        for (hour, counts) in strategy.hours.iter().enumerate() {
            let row = [strategy.name.clone(), hour.to_string()];
            out.write_record(row.into_iter().chain(COUNTED.iter().map(|(_, of)| of(counts).to_string())))?;
        }
    }
    super::finished(out)
}
