//! Opens a file of rows as a user names it.

use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::Path;

/// How much of its beginning is looked at, bytes.
const HEAD: usize = 1 << 16;

/// Opens a text file for reading row by row.
///
/// # Errors
/// If it can't be opened, is a folder, or begins with something that is in no text: a file of another kind may have no line ends at all, and
/// a device no end, so that looking for the first row would never come back.
pub fn open(path: &Path) -> io::Result<BufReader<File>> {
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder"));
    }
    let mut reader = BufReader::with_capacity(HEAD, file);
    if reader.fill_buf()?.contains(&0) {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "it is not a text file"));
    }
    Ok(reader)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{Read as _, Write as _};

    #[test]
    fn only_text_is_opened() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = |name: &str, bytes: &[u8]| {
            let path = folder.path().join(name);
            File::create(&path).and_then(|mut file| file.write_all(bytes)).expect("room on the disk");
            path
        };
        let kind = |path: &Path| open(path).err().map(|error| error.kind());
        assert_eq!(kind(folder.path()), Some(io::ErrorKind::IsADirectory));
        assert_eq!(kind(&folder.path().join("none")), Some(io::ErrorKind::NotFound));
        assert_eq!(kind(&file("image", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR")), Some(io::ErrorKind::InvalidData));
        let mut text = String::new();
        open(&file("log", b"a,b\n1,2\n")).expect("text").read_to_string(&mut text).expect("all of it");
        assert_eq!(text, "a,b\n1,2\n");
    }
}
