//! Writes drawings, each with the figures behind it, and other files into a folder.

use std::fs;
use std::path::Path;

use super::exit::Failure;
use super::output;
use crate::report::plots::Figure;

/// Writes every drawing as SVG and CSV, and `files`; files of the same names are replaced, others stay.
pub fn write(folder: &Path, figures: &[Figure], files: &[(&str, &[u8])]) -> Result<(), Failure> {
    let refused =
        |path: &Path, error: std::io::Error| Failure::Message(format!("cannot write `{}`: {error}", path.display()));
    fs::create_dir_all(folder).map_err(|error| refused(folder, error))?;
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        fs::write(&path, bytes).map_err(|error| refused(&path, error))
    };
    for figure in figures {
        write(&format!("{}.svg", figure.name), figure.svg.as_bytes())?;
        write(&format!("{}.csv", figure.name), &figure.csv)?;
    }
    files.iter().try_for_each(|(name, bytes)| write(name, bytes))?;
    output::say(&format!("page and drawings are in {}", folder.display()));
    Ok(())
}
