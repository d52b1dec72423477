//! Writes a single file whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use super::exit::Failure;

/// Writes `bytes` to `path`: into a temporary file beside it first, then renamed, so that a full disk or a kill leaves
/// what was there. Missing folders are made; a link is followed; a device or pipe is written to as it is.
///
/// # Errors
/// If it can't be written.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    put(path, bytes, true).map_err(|error| Failure::Message(format!("cannot write `{}`: {error}", path.display())))
}

/// As [`write_whole`]; a file that exists is left alone unless `force`, with advice.
///
/// # Errors
/// If it can't be written, or exists.
pub fn write_new(path: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    put(path, bytes, force).map_err(|error| {
        let shown = path.display();
        Failure::Message(if error.kind() == io::ErrorKind::AlreadyExists {
            format!("`{shown}` exists already; give another name, or --force to overwrite it")
        } else {
            format!("cannot write `{shown}`: {error}")
        })
    })
}

fn put(path: &Path, bytes: &[u8], replace: bool) -> io::Result<()> {
    let there = fs::metadata(path).ok();
    if there.is_some() && !replace {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    if there.as_ref().is_some_and(|there| !there.is_file()) {
        return fs::write(path, bytes);
    }
    let path = &fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let folder = path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    fs::create_dir_all(folder)?;
    let mut builder = tempfile::Builder::new();
    builder.prefix(".dooryard-");
    // As any new file: for everybody, less what the user's mask takes away.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    let placed = if replace { file.persist(path) } else { file.persist_noclobber(path) };
    placed.map(drop).map_err(|refused| refused.error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_there_stays_or_is_replaced_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep/a.toml");
        write_new(&path, b"one", false).unwrap();
        let refused = write_new(&path, b"two", false).unwrap_err();
        assert!(matches!(refused, Failure::Message(words) if words.contains("exists already")));
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write_new(&path, b"two", true).unwrap();
        write_whole(&path, b"three").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"three");
        // Nothing else is left beside it.
        assert_eq!(fs::read_dir(path.parent().unwrap()).unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn links_and_devices_stay_what_they_are() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (folder.path().join("real"), folder.path().join("link"));
        fs::write(&real, "old").unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        write_whole(&link, b"new").unwrap();
        assert_eq!(fs::read(&real).unwrap(), b"new");
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        let full = Path::new("/dev/full");
        if full.exists() {
            assert!(write_whole(full, b"x").is_err() && full.exists());
        }
    }
}
