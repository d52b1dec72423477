//! `dooryard new`.

use std::path::{Path, PathBuf};

use super::exit::{Exit, Failure};
use super::{file, output, wiring};

/// Write a commented starter scenario to begin from.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Name of the scenario (written to NAME.toml), or the path of the file to write
    #[arg(value_name = "NAME|PATH", default_value = "shelter")]
    target: PathBuf,
    /// Overwrite a file that exists
    #[arg(long)]
    force: bool,
}

/// Writes the starter scenario.
pub fn new(arguments: &Arguments) -> Result<Exit, Failure> {
    let path = target(&arguments.target);
    let text = wiring::starter(&name(&path)?)?;
    file::write_new(&path, text.as_bytes(), arguments.force)?;
    output::say(&format!("wrote {0}; play it with: dooryard run {0}", path.display()));
    Ok(Exit::Fine)
}

/// The file to write: the path itself if it ends in `.toml`, else with that ending.
fn target(target: &Path) -> PathBuf {
    if target.extension().is_some_and(|extension| extension == "toml") {
        return target.to_path_buf();
    }
    let mut name = target.as_os_str().to_owned();
    name.push(".toml");
    PathBuf::from(name)
}

/// The scenario's name: the file's name without ending.
fn name(path: &Path) -> Result<String, Failure> {
    let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
    let fits = |letter: char| letter.is_ascii_alphanumeric() || letter == '-' || letter == '_';
    if !stem.is_empty() && stem.chars().all(fits) {
        return Ok(stem.to_string());
    }
    Err(Failure::Message(format!("`{stem}` can't be a scenario's name; letters, digits, - and _ can")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_paths() {
        assert_eq!(target(Path::new("hedge")), Path::new("hedge.toml"));
        assert_eq!(target(Path::new("a/hedge.toml")), Path::new("a/hedge.toml"));
        assert_eq!(target(Path::new("v1.2")), Path::new("v1.2.toml"));
        assert_eq!(name(Path::new("a/hedge-2.toml")), Ok("hedge-2".to_string()));
        assert!(name(Path::new("a/my hedge.toml")).is_err());
        assert!(name(Path::new("v1.2.toml")).is_err());
    }
}
