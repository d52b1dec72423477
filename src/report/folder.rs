//! Writes a whole folder or nothing.
//!
//! Everything is written into a temporary folder beside the target. Only when that is complete, the old folder is
//! moved into the temporary one and the new one renamed into place; removing the temporary folder then removes the
//! old results. A failure at any step leaves the old folder where it was and removes the temporary one.
//!
//! A folder is replaced only if it is empty or if the same command of this program wrote it and nobody added to it: `run.toml`
//! names the command and lists what was written. So no command takes away what another one found out. Days that were looked at (`day-...`, each a folder of its own) stay when the run beside them is replaced.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use super::plots::Figure;
use super::run_file;

/// Writes the content of a file.
pub type Producer<'a> = Box<dyn FnOnce(&mut dyn Write) -> io::Result<()> + 'a>;

/// A file to write: its name and what writes its bytes.
pub struct Item<'a> {
    /// Name within the folder.
    pub name: String,
    /// Writes the content.
    pub write: Producer<'a>,
}

impl<'a> Item<'a> {
    /// A file called `name`, written by `write`.
    pub fn new(name: impl Into<String>, write: impl FnOnce(&mut dyn Write) -> io::Result<()> + 'a) -> Item<'a> {
        Item { name: name.into(), write: Box::new(write) }
    }
}

/// A drawing and the figures behind it.
pub fn drawn(figure: &Figure) -> [Item<'_>; 2] {
    [
        Item::new(format!("{}.svg", figure.name), |out| out.write_all(figure.svg.as_bytes())),
        Item::new(format!("{}.csv", figure.name), |out| out.write_all(&figure.csv)),
    ]
}

/// Why a folder was not written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The target holds something that this program didn't write.
    #[error(
        "`{}` was not written by dooryard (it holds {what}) and is left alone; choose another folder with --out, or \
         move it away",
        path.display()
    )]
    Foreign {
        /// The target.
        path: PathBuf,
        /// What was found in it.
        what: String,
    },
    /// The target holds what another command wrote.
    #[error(
        "`{}` holds what `dooryard {by}` wrote (`{what}` and others) and is left alone; choose another folder with --out, or \
         move it away",
        path.display()
    )]
    Other {
        /// The target.
        path: PathBuf,
        /// The command that wrote it.
        by: String,
        /// A file in it.
        what: String,
    },
    /// The target is a file.
    #[error("`{}` is a file, not a folder; choose another folder with --out", path.display())]
    NotAFolder {
        /// The target.
        path: PathBuf,
    },
    /// The system refused.
    #[error("cannot {doing} `{}`: {source}", path.display())]
    System {
        /// What was tried.
        doing: &'static str,
        /// With which file or folder.
        path: PathBuf,
        /// Why it failed.
        source: io::Error,
    },
    /// The old results were moved aside and could not be moved back.
    #[error("cannot rename `{}` into place: {source}; the earlier results are safe in `{}`", path.display(), kept.display())]
    Aside {
        /// The target.
        path: PathBuf,
        /// Where the old results are.
        kept: PathBuf,
        /// Why it failed.
        source: io::Error,
    },
}

/// Files that file browsers leave behind on their own.
const LITTER: [&str; 3] = [".DS_Store", "Thumbs.db", "desktop.ini"];

/// Checks, before hours of work, that `target` may be replaced by `command` and that its parent can be written to. Creates the
/// parent if it is missing.
pub fn check(target: &Path, command: &str) -> Result<(), FolderError> {
    replaceable(target, command)?;
    stage(target).map(drop)
}

/// As [`write()`] for a command that is no study: adds a `run.toml` that names the command and the files.
pub fn write_plain<'a>(
    target: &Path,
    command: &'a str,
    version: &'a str,
    mut items: Vec<Item<'a>>,
) -> Result<(), FolderError> {
    let mut names: Vec<String> = items.iter().map(|item| item.name.clone()).collect();
    names.push(run_file::NAME.to_owned());
    items.push(Item::new(run_file::NAME, move |out| {
        let text = run_file::plain(command, version, &names).map_err(io::Error::other)?;
        out.write_all(text.as_bytes())
    }));
    write(target, command, items)
}

/// Writes `items` as the folder `target`, replacing what `command` wrote there earlier. One of them is the `run.toml`.
pub fn write(target: &Path, command: &str, items: Vec<Item>) -> Result<(), FolderError> {
    replaceable(target, command)?;
    let staging = stage(target)?;
    let fresh = staging.path().join("new");
    fs::create_dir(&fresh).map_err(|source| system("create", &fresh, source))?;
    for item in items {
        let path = fresh.join(&item.name);
        // The path shown is the one the user knows, not the temporary one.
        let shown = target.join(&item.name);
        let file = File::create(&path).map_err(|source| system("create", &shown, source))?;
        let mut out = BufWriter::new(file);
        (item.write)(&mut out).and_then(|()| out.flush()).map_err(|source| system("write", &shown, source))?;
    }
    put_in_place(target, &fresh, staging)
}

/// Exchanges the old folder for the new one.
fn put_in_place(target: &Path, fresh: &Path, staging: TempDir) -> Result<(), FolderError> {
    // A link to a folder stays a link: what it points to is replaced.
    let target = &fs::canonicalize(target).unwrap_or_else(|_| target.to_path_buf());
    let old = staging.path().join("old");
    let had_old = match fs::rename(target, &old) {
        Ok(()) => true,
        Err(error) if error.kind() == io::ErrorKind::NotFound => false,
        Err(source) => return Err(system("replace", target, source)),
    };
    let kept = if had_old { days_in(&old) } else { Vec::new() };
    let moved = kept.iter().try_for_each(|name| fs::rename(old.join(name), fresh.join(name)));
    let Err(source) = moved.and_then(|()| fs::rename(fresh, target)) else {
        return Ok(());
    };
    for name in &kept {
        // Back with those that had been moved; for the others there is nothing to do.
        let _ = fs::rename(fresh.join(name), old.join(name));
    }
    if had_old && fs::rename(&old, target).is_err() {
        let kept = staging.keep().join("old");
        return Err(FolderError::Aside { path: target.clone(), kept, source });
    }
    Err(system("rename into place", target, source))
}

/// First letters of the folder of a day that was looked at.
const DAY: &str = "day-";

/// Name of the folder of a day: its strategy, season and date, and the seed where that is not 1.
pub fn day_name(strategy: &str, seed: u64, season: u64, date: impl std::fmt::Display) -> String {
    let plain =
        |letter: char| if letter.is_alphanumeric() { letter.to_lowercase().next().unwrap_or(letter) } else { '-' };
    let strategy: String = strategy.chars().map(plain).collect();
    let seed = if seed == 1 { String::new() } else { format!("-seed-{seed}") };
    format!("{DAY}{strategy}-{season}-{date}{seed}")
}

/// Folders in `folder` that hold a day each, written by this program.
fn days_in(folder: &Path) -> Vec<String> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    names.filter(|name| name.starts_with(DAY) && written_here(&folder.join(name)).is_some()).collect()
}

/// Which command of this program wrote a folder, and which files; none if it did not.
fn written_here(folder: &Path) -> Option<(String, Vec<String>)> {
    fs::read_to_string(folder.join(run_file::NAME)).ok().and_then(|text| run_file::written(&text))
}

/// The temporary folder beside `target`; removed when dropped. If `target` is a link, beside what it points to, since
/// a rename can't leave its file system.
fn stage(target: &Path) -> Result<TempDir, FolderError> {
    let real = fs::canonicalize(target).unwrap_or_else(|_| target.to_path_buf());
    let parent = match real.parent() {
        Some(parent) if parent.as_os_str().is_empty() => Path::new("."),
        Some(parent) => parent,
        None => return Err(FolderError::Foreign { path: real, what: "a whole file system".to_string() }),
    };
    fs::create_dir_all(parent).map_err(|source| system("create", parent, source))?;
    tempfile::Builder::new()
        .prefix(".dooryard-")
        .tempdir_in(parent)
        .map_err(|source| system("write to", parent, source))
}

/// Whether `target` is absent, empty or `command`'s own.
fn replaceable(target: &Path, command: &str) -> Result<(), FolderError> {
    match fs::metadata(target) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(source) => return Err(system("read", target, source)),
        Ok(found) if !found.is_dir() => return Err(FolderError::NotAFolder { path: target.to_path_buf() }),
        Ok(_) => {}
    }
    let entries = fs::read_dir(target).and_then(|entries| {
        entries.map(|entry| Ok(entry?.file_name().to_string_lossy().into_owned())).collect::<io::Result<Vec<String>>>()
    });
    let mut names = entries.map_err(|source| system("read", target, source))?;
    let days = days_in(target);
    names.retain(|name| !LITTER.contains(&name.as_str()) && !days.contains(name));
    names.sort();
    let Some(first) = names.first() else { return Ok(()) };
    let path = target.to_path_buf();
    let (by, foreign) = match written_here(target) {
        None => (None, Some(first)),
        Some((by, files)) => (Some(by), names.iter().find(|name| !files.contains(name))),
    };
    match (foreign, by) {
        (Some(name), _) => Err(FolderError::Foreign { path, what: format!("`{name}`") }),
        (None, Some(by)) if by != command => Err(FolderError::Other { path, by, what: first.clone() }),
        (None, _) => Ok(()),
    }
}

fn system(doing: &'static str, path: &Path, source: io::Error) -> FolderError {
    FolderError::System { doing, path: path.to_path_buf(), source }
}
