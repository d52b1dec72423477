//! Writes drawings into a folder, each with the figures behind it.

use std::fs;
use std::path::Path;

use super::exit::Failure;
use super::output;
use crate::report::plots::Figure;

/// Writes every drawing as SVG and CSV; files of the same names are replaced, others stay.
pub fn write(folder: &Path, figures: &[Figure]) -> Result<(), Failure> {
    let refused =
        |path: &Path, error: std::io::Error| Failure::Message(format!("cannot write `{}`: {error}", path.display()));
    fs::create_dir_all(folder).map_err(|error| refused(folder, error))?;
    for figure in figures {
        for (ending, bytes) in [("svg", figure.svg.as_bytes()), ("csv", &figure.csv[..])] {
            let path = folder.join(format!("{}.{ending}", figure.name));
            fs::write(&path, bytes).map_err(|error| refused(&path, error))?;
        }
    }
    output::say(&format!("drawings are in {}", folder.display()));
    Ok(())
}
