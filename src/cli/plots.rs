//! Writes drawings into a folder, each with the figures behind it.

use std::path::Path;

use super::exit::Failure;
use super::{file, output};
use crate::report::plots::Figure;

/// Writes every drawing as SVG and CSV; files of the same names are replaced, others stay.
pub fn write(folder: &Path, figures: &[Figure]) -> Result<(), Failure> {
    for figure in figures {
        for (ending, bytes) in [("svg", figure.svg.as_bytes()), ("csv", &figure.csv[..])] {
            let path = folder.join(format!("{}.{ending}", figure.name));
            file::write_whole(&path, bytes)?;
        }
    }
    output::say(&format!("drawings are in {}", folder.display()));
    Ok(())
}
