//! `dooryard schema`.

use super::exit::{Exit, Failure};
use super::{output, wiring};

/// Print the JSON Schema of the scenario format, for editors that check and complete TOML files.
#[derive(Debug, clap::Args)]
pub struct Arguments {}

/// Prints the schema.
pub fn schema(_: &Arguments) -> Result<Exit, Failure> {
    let mut text = wiring::json_schema()?;
    if !text.ends_with('\n') {
        text.push('\n');
    }
    output::print(&text)?;
    Ok(Exit::Fine)
}
