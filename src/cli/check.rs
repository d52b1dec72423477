//! `dooryard check`.

use std::path::PathBuf;

use super::exit::{Exit, Failure};
use super::{output, plots, wiring};
use crate::report::check::{csv, json, text};
use crate::report::plots::door;
use crate::report::{self, folder, page};
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
    /// Also write a page, the answers as CSV, and drawings of panel, forces and winding temperature (SVG, with a CSV beside
    /// each) as this folder; an earlier check there is replaced once all is written
    #[arg(long, value_name = "DIR", alias = "plots")]
    out: Option<PathBuf>,
}

/// Name of the command in the folders that it writes.
const COMMAND: &str = "check";

/// Answers the questions.
pub fn check(arguments: &Arguments) -> Result<Exit, Failure> {
    if let Some(folder) = &arguments.out {
        folder::check(folder, COMMAND)?;
    }
    let loaded = wiring::load(&arguments.scenario)?;
    let result = check::check(&loaded.scenario)?;
    if let Some(folder) = &arguments.out {
        let drawings = door::all(&Drawings::new(&loaded.scenario, &result.climate)?)?;
        let version = env!("CARGO_PKG_VERSION");
        let page = page::check::page(&result, &drawings, &loaded.assumptions, &loaded.warnings, version);
        let (mut answers, mut values) = (Vec::new(), Vec::new());
        csv(&result, &mut answers)?;
        report::csv::assumptions(&loaded.assumptions, &mut values)?;
        let files = [("report.html", page.as_bytes()), ("check.csv", &answers), ("assumptions.csv", &values)];
        plots::write(folder, COMMAND, &drawings, &files)?;
    }
    let report = if arguments.json {
        json(&result, env!("CARGO_PKG_VERSION"), &loaded.warnings)?
    } else {
        output::warn(&loaded.warnings);
        text(&result, output::setting())
    };
    output::print(&report)?;
    Ok(if result.verdict() == Verdict::Fails { Exit::FallsShort } else { Exit::Fine })
}
