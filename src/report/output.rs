//! The output folder of a run: which files it holds and what writes each.

use std::io;
use std::path::Path;

use super::context::Context;
use super::folder::{self, FolderError, Item};
use super::plots::{self, Figure, PlotError};
use super::text::{self, Setting};
use super::{csv, page, run_file};
use crate::study::result::{RunResult, StrategyResult};

/// Why the output of a run was not written.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The folder could not be written.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// A plot could not be drawn.
    #[error(transparent)]
    Plot(#[from] PlotError),
}

/// Writes the whole output folder, or nothing.
pub fn write(target: &Path, result: &RunResult, context: &Context) -> Result<(), OutputError> {
    let mut figures = plots::all(result)?;
    figures.extend_from_slice(context.mechanism);
    Ok(folder::write(target, run_file::RUN, items(result, context, &figures))?)
}

/// All files of the folder. `events.csv` is among them only if events were recorded.
pub fn items<'a>(result: &'a RunResult, context: &'a Context<'a>, figures: &'a [Figure]) -> Vec<Item<'a>> {
    let mut items = vec![
        Item::new("summary.txt", move |out| {
            out.write_all(text::report(result, context, Setting::default()).as_bytes())
        }),
        Item::new("report.html", move |out| out.write_all(page::page(result, context, figures).as_bytes())),
        Item::new("metrics.csv", move |out| csv::metrics(result, out)),
        Item::new("causes.csv", move |out| csv::causes(result, out)),
        Item::new("worst.csv", move |out| csv::worst(result, out)),
        Item::new("detectors.csv", move |out| csv::detectors(result, out)),
        Item::new("noise_openings.csv", move |out| csv::noise_openings(result, out)),
        Item::new("assumptions.csv", move |out| csv::assumptions(context.assumptions, out)),
        Item::new("limits.csv", move |out| csv::limits(result, out)),
        Item::new("risks.csv", move |out| csv::risks(result, out)),
        Item::new("seasons.csv", move |out| csv::seasons(result, out)),
        Item::new("days.csv", move |out| csv::days(result, out)),
    ];
    if result.strategies.iter().any(StrategyResult::has_events) {
        items.push(Item::new("events.csv", move |out| csv::events(result, context, out)));
    }
    items.extend(figures.iter().flat_map(folder::drawn));
    let mut names: Vec<String> = items.iter().map(|item| item.name.clone()).collect();
    names.push(run_file::NAME.to_string());
    items.push(Item::new(run_file::NAME, move |out| {
        let text = run_file::text(result, context, &names).map_err(io::Error::other)?;
        out.write_all(text.as_bytes())
    }));
    items
}
