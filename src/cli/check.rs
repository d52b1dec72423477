//! `dooryard check`.

use std::path::PathBuf;

use super::exit::{Exit, Failure};
use super::{output, plots, wiring};
use crate::report::check::{json, text};
use crate::report::plots::door;
use crate::study::check::{self, Drawings, Verdict};

/// Answer every question that needs no season: room, force, jams, timing, contact, heat, supply, bus, sensors.
///
/// One row for each question with its margin and the key of the scenario that would change it. Exit code 1 if anything
/// fails.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    /// Print the answers as one JSON document
    #[arg(long)]
    json: bool,
    /// Also draw panel, forces and winding temperature into this folder (SVG, with a CSV beside each)
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
}

/// Answers the questions.
pub fn check(arguments: &Arguments) -> Result<Exit, Failure> {
    let loaded = wiring::load(&arguments.scenario)?;
    let result = check::check(&loaded.scenario)?;
    if let Some(folder) = &arguments.plots {
        let drawings = Drawings::new(&loaded.scenario, &result.climate)?;
        plots::write(folder, &door::all(&drawings)?)?;
    }
    let report = if arguments.json {
        json(&result, env!("CARGO_PKG_VERSION"), &loaded.warnings)?
    } else {
        loaded.warnings.iter().for_each(|warning| output::say(&format!("warning: {warning}")));
        text(&result, output::setting())
    };
    output::print(&report)?;
    Ok(if result.verdict() == Verdict::Fails { Exit::FallsShort } else { Exit::Fine })
}
