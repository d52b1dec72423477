//! Writes a page, drawings with the figures behind them, and other files as a folder.

use std::path::Path;

use super::exit::Failure;
use super::output;
use crate::report::folder::{self, Item};
use crate::report::plots::Figure;

/// Writes every drawing as SVG and CSV, and `files`, as the folder of `command`: whole or not at all, and only where nothing
/// else is.
///
/// # Errors
/// If the folder holds something else or can't be written.
pub fn write(folder: &Path, command: &str, figures: &[Figure], files: &[(&str, &[u8])]) -> Result<(), Failure> {
    let mut items: Vec<Item> =
        files.iter().map(|(name, bytes)| Item::new(*name, move |out| out.write_all(bytes))).collect();
    items.extend(figures.iter().flat_map(folder::drawn));
    folder::write_plain(folder, command, env!("CARGO_PKG_VERSION"), items)?;
    output::say(&format!("page and drawings are in {}", folder.display()));
    Ok(())
}
