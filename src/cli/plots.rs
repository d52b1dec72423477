//! Writes drawings, each with the figures behind it, and other files into a folder.

use std::path::Path;

use super::exit::Failure;
use super::{file, output};
use crate::report::plots::Figure;

/// Writes every drawing as SVG and CSV, and `files`; files of the same names are replaced, others stay.
pub fn write(folder: &Path, figures: &[Figure], files: &[(&str, &[u8])]) -> Result<(), Failure> {
    for figure in figures {
        file::write_whole(&folder.join(format!("{}.svg", figure.name)), figure.svg.as_bytes())?;
        file::write_whole(&folder.join(format!("{}.csv", figure.name)), &figure.csv)?;
    }
    files.iter().try_for_each(|(name, bytes)| file::write_whole(&folder.join(name), bytes))?;
    output::say(&format!("page and drawings are in {}", folder.display()));
    Ok(())
}
