//! Files and their parts: reads the scenario's file and all that it includes, and merges them.
//!
//! Parts come first, in their order, and the including file wins over them key by key: tables that the format knows
//! as sections merge deeply; entries of lists of tables merge by `name` across files (those without a name are
//! appended); every other value replaces the earlier one as a whole. Where the including file chooses another kind of something
//! than its part (another source of the weather, say), what only the part's kind has is left out: a part that `weather fit` wrote
//! for the source "pulses" lends its rain process to observed weather.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::document::{Data, LARGEST_FILE, Table, Value, parse};
use super::error::{Notes, Place, Source, Trouble};
use super::keys::{Form, Kind, section};

/// Deepest nesting of includes.
pub const DEEPEST: usize = 8;

/// Most files in all; keeps files that include each other twice over from multiplying.
pub const MOST_FILES: usize = 64;

/// Most entries in one list of tables. Far beyond any scenario; keeps checks that compare all with all quick.
pub const MOST_ENTRIES: usize = 1000;

/// Reads files; remembers their texts and hashes them in the order of reading.
pub(crate) struct Reader<'a> {
    /// The files read.
    pub sources: Vec<Source>,
    /// Hash over their bytes, each followed by its length.
    pub hash: Sha256,
    /// Whether a part could not be read, so that what seems missing may only be unread.
    pub incomplete: bool,
    /// Where problems go.
    pub notes: &'a mut Notes,
    /// The chain of files being read, for cycles.
    chain: Vec<PathBuf>,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(notes: &'a mut Notes) -> Reader<'a> {
        Reader { sources: Vec::new(), hash: Sha256::new(), incomplete: false, notes, chain: Vec::new() }
    }

    /// Reads `path` with all its parts, merged. None if it could not be read or a file is not valid TOML.
    pub(crate) fn read(&mut self, path: &Path, from: Option<Place>) -> Option<Table> {
        let bytes = match read_bounded(path) {
            Ok(bytes) => bytes,
            Err(message) => return self.refuse(path, from, message),
        };
        add_to_hash(&mut self.hash, &bytes);
        let text = match String::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                let at = error.utf8_error().valid_up_to();
                let line = error.as_bytes()[..at].iter().filter(|byte| **byte == b'\n').count() + 1;
                return self.refuse(
                    path,
                    from,
                    format!("is not UTF-8 text: the byte at offset {at} (line {line}) cannot be read"),
                );
            }
        };
        let text = match text.strip_prefix('\u{feff}') {
            Some(rest) => rest.to_owned(),
            None => text,
        };
        let file = self.sources.len();
        let parsed = parse(&text, file, self.notes);
        self.sources.push(Source { path: path.to_owned(), text });
        let mut table = parsed?;
        let Some((_, include)) = table.remove("include") else {
            return Some(table);
        };
        self.chain.push(identity(path));
        let mut base = self.read_parts(&include, path);
        self.chain.pop();
        merge(&mut base, table, "");
        Some(base)
    }

    fn read_parts(&mut self, include: &Value, path: &Path) -> Table {
        let mut base = Table::new();
        let before = self.notes.count();
        let parts = parts(include, self.notes);
        self.incomplete |= self.notes.count() > before;
        for (at, name) in parts {
            let part = path.parent().unwrap_or(Path::new("")).join(name);
            let trouble = if self.chain.contains(&identity(&part)) {
                Some(Trouble::new(format!("\"{name}\" includes itself, directly or by way of others")))
            } else if self.chain.len() >= DEEPEST {
                Some(Trouble::new(format!("includes go deeper than {DEEPEST} files")))
            } else if self.sources.len() >= MOST_FILES {
                Some(Trouble::new(format!("more than {MOST_FILES} files are included")))
            } else {
                None
            };
            match trouble {
                Some(trouble) => {
                    self.notes.error(at, "include", trouble);
                    self.incomplete = true;
                }
                None => match self.read(&part, Some(at)) {
                    Some(table) => merge(&mut base, table, ""),
                    None => self.incomplete = true,
                },
            }
        }
        base
    }

    fn refuse(&mut self, path: &Path, from: Option<Place>, message: String) -> Option<Table> {
        let trouble = Trouble::new(format!("\"{}\" {message}", path.display()));
        match from {
            Some(at) => self.notes.error(at, "include", trouble),
            None => {
                self.sources.push(Source { path: path.to_owned(), text: String::new() });
                self.notes.whole_file("", trouble);
            }
        }
        None
    }
}

/// The listed parts: a list of texts.
fn parts<'v>(include: &'v Value, notes: &mut Notes) -> Vec<(Place, &'v str)> {
    let Data::List(list) = &include.data else {
        let trouble = Trouble::new(format!(
            "expected a list of files such as [\"parts/cat.toml\"], found {}",
            include.data.describe()
        ));
        notes.error(include.at, "include", trouble);
        return Vec::new();
    };
    let mut found = Vec::new();
    for item in list {
        match &item.data {
            Data::Text(name) if !name.is_empty() => found.push((item.at, name.as_str())),
            other => {
                let trouble = Trouble::new(format!("expected the path of a file, found {}", other.describe()));
                notes.error(item.at, "include", trouble);
            }
        }
    }
    found
}

/// One name for a file however it is reached; the path itself where the file cannot be found.
fn identity(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}

fn read_bounded(path: &Path) -> Result<Vec<u8>, String> {
    let file = File::open(path).map_err(|error| unreadable(&error))?;
    if file.metadata().is_ok_and(|data| data.is_dir()) {
        return Err("is a folder, not a file".to_owned());
    }
    let mut bytes = Vec::new();
    file.take(LARGEST_FILE + 1).read_to_end(&mut bytes).map_err(|error| unreadable(&error))?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err("is larger than 4 MB; that is no scenario".to_owned());
    }
    Ok(bytes)
}

/// Why a file cannot be read, in the same words on every system where that is possible.
pub(crate) fn unreadable(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "does not exist".to_owned(),
        io::ErrorKind::PermissionDenied => "may not be read".to_owned(),
        io::ErrorKind::IsADirectory => "is a folder, not a file".to_owned(),
        _ => format!("cannot be read: {error}"),
    }
}

/// Adds a file's bytes and their number, so that moving text from one file to the next changes the hash.
pub(crate) fn add_to_hash(hash: &mut Sha256, bytes: &[u8]) {
    hash.update(bytes);
    hash.update((bytes.len() as u64).to_le_bytes());
}

/// Lays `top` over `base`; `path` is the section they are.
fn merge(base: &mut Table, top: Table, path: &str) {
    for (key, (key_at, value)) in top {
        let inner = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
        let known = section(&inner);
        match (known.map(|section| section.form), base.get_mut(&key), value.data) {
            (Some(Form::Table), Some((_, Value { data: Data::Table(below), .. })), Data::Table(above)) => {
                leave_out(below, &above, &inner);
                merge(below, above, &inner);
            }
            (Some(Form::List), Some((_, Value { data: Data::List(below), .. })), Data::List(above)) => {
                merge_lists(below, above, &inner);
            }
            (_, _, data) => {
                base.insert(key, (key_at, Value { at: value.at, data }));
            }
        }
    }
}

/// Takes out of `base` what only its own kind has, if `top` chooses another: what no kind of the two has is a mistake and
/// stays, to be reported.
fn leave_out(base: &mut Table, top: &Table, path: &str) {
    let Some(section) = section(path) else { return };
    let Some(Kind::Choice(choices)) = section.key(section.switch).map(|switch| switch.kind) else { return };
    let chosen = |table: &Table| match table.get(section.switch) {
        Some((_, Value { data: Data::Text(name), .. })) => choices.iter().find(|choice| *choice == name).copied(),
        _ => None,
    };
    let (Some(old), Some(new)) = (chosen(base), chosen(top)) else { return };
    base.retain(|name, _| section.key(name).is_none_or(|key| !key.applies(Some(old)) || key.applies(Some(new))));
}

fn merge_lists(below: &mut Vec<Value>, above: Vec<Value>, path: &str) {
    // Only entries of other files are merged into: two of one name within a file are a mistake to be reported.
    let mut free: Vec<Option<String>> = below.iter().map(|item| name_of(item).map(str::to_owned)).collect();
    // One more than allowed is kept, so that the reader of the list notices and says so.
    for item in above.into_iter().take(MOST_ENTRIES + 1) {
        let name = name_of(&item).map(str::to_owned);
        let same = name.and_then(|name| free.iter().position(|other| other.as_ref() == Some(&name)));
        match (same, item) {
            (Some(index), Value { at, data: Data::Table(table) }) => {
                free[index] = None;
                if let Value { at: place, data: Data::Table(base) } = &mut below[index] {
                    *place = at;
                    leave_out(base, &table, path);
                    merge(base, table, path);
                }
            }
            (_, item) if below.len() <= MOST_ENTRIES => below.push(item),
            _ => {}
        }
    }
}

/// The `name` of an entry of a list of tables.
pub(crate) fn name_of(value: &Value) -> Option<&str> {
    let Data::Table(table) = &value.data else { return None };
    match table.get("name") {
        Some((_, Value { data: Data::Text(name), .. })) => Some(name),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Expected value: Python 3 `hashlib.sha256(b"abc" + (3).to_bytes(8, "little") + (0).to_bytes(8, "little"))`.
    #[test]
    fn the_hash_is_framed_by_lengths() {
        let mut hash = Sha256::new();
        add_to_hash(&mut hash, b"abc");
        add_to_hash(&mut hash, b"");
        let shown: String = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(shown, "edf924a230005b1ac1320ca33f70fb797e71211db9d9e921ec44b18a822b8c22");
    }
}
