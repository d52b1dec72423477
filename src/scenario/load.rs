//! Loads a scenario: reads, checks both steps, resolves, and hashes what was read.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::assumptions::{self, Assumption};
use super::document::{self, Table};
use super::error::{Notes, Problems, Source, Trouble};
use super::include::{Reader, unreadable};
use super::measure::shorten;
use super::read::{self, Fields, resolve::resolve, weather};
use super::{Scenario, meaning, print};

/// A scenario that can be played.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// The scenario.
    pub scenario: Scenario,
    /// What deserves a second look; may be empty.
    pub warnings: Problems,
    /// SHA-256 over all files read, in the order of reading, each followed by its length as eight little-endian
    /// bytes, the observed weather last; hexadecimal.
    pub hash: String,
    /// All values in force, each with where it comes from.
    pub assumptions: Vec<Assumption>,
    /// The scenario's own files in the order of reading; the scenario itself is the first.
    pub sources: Vec<PathBuf>,
}

/// A scenario as it is written, checked: the start for variations of it.
#[derive(Clone, Debug)]
pub(crate) struct Written {
    /// All that is written, parts merged in.
    pub document: Table,
    /// The files.
    pub sources: Vec<Source>,
    /// The same, checked, with defaults.
    pub root: Fields,
}

/// Loads the scenario in `path`. `metrics` are the keys and units that limits may name.
///
/// # Errors
/// All errors of both steps (what is written, what it means) with the warnings among them, by file and position.
pub fn load(path: &Path, metrics: &[(&str, &str)]) -> Result<Loaded, Problems> {
    load_written(path, metrics).map(|(loaded, _)| loaded)
}

/// [`load`], with what is written.
pub(crate) fn load_written(path: &Path, metrics: &[(&str, &str)]) -> Result<(Loaded, Written), Problems> {
    let mut notes = Notes::default();
    let mut reader = Reader::new(&mut notes);
    let document = reader.read(path, None);
    let (sources, mut hash, incomplete) = (reader.sources, reader.hash, reader.incomplete);
    let Some(document) = document else {
        return Err(notes.finish(sources));
    };
    if document.is_empty() && !notes.any_error() {
        let trouble = Trouble::new(format!("\"{}\" is empty", path.display()));
        notes.whole_file("", trouble.help("a commented starter scenario shows all that can stand in it"));
        return Err(notes.finish(sources));
    }
    let Some(root) = read::read(&document, incomplete, &mut notes) else {
        return Err(notes.finish(sources));
    };
    if incomplete {
        meaning::check_incomplete(&root, &mut notes);
    } else {
        meaning::check(&root, metrics, &mut notes);
        if let Err((at, key, trouble)) = add_weather(&root, &sources, &mut hash) {
            notes.error(at, key, trouble);
        }
    }
    if notes.any_error() {
        return Err(notes.finish(sources));
    }
    let Some(scenario) = resolve(&root, &sources, metrics) else {
        return Err(put_together(notes, sources));
    };
    let paths = sources.iter().map(|source| source.path.clone()).collect();
    let hash = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    let assumptions = assumptions::list(&scenario, &root);
    let loaded = Loaded { scenario, warnings: notes.finish(sources.clone()), hash, assumptions, sources: paths };
    Ok((loaded, Written { document, sources, root }))
}

/// Checks and resolves a document that differs from a file's only in numbers.
pub(crate) fn resolve_written(
    document: &Table,
    sources: &[Source],
    metrics: &[(&str, &str)],
) -> Result<Scenario, Problems> {
    let mut notes = Notes::default();
    let Some(root) = read::read(document, false, &mut notes) else {
        return Err(notes.finish(sources.to_vec()));
    };
    meaning::check(&root, metrics, &mut notes);
    if notes.any_error() {
        return Err(notes.finish(sources.to_vec()));
    }
    resolve(&root, sources, metrics).ok_or_else(|| put_together(notes, sources.to_vec()))
}

/// Whether a scenario, written out, would load.
pub(crate) fn is_valid(scenario: &Scenario, metrics: &[(&str, &str)]) -> bool {
    let mut notes = Notes::default();
    let written = document::parse(&print::print(scenario), 0, &mut notes);
    let root = written.and_then(|document| read::read(&document, false, &mut notes));
    if let Some(root) = &root {
        meaning::check(root, metrics, &mut notes);
    }
    root.is_some() && !notes.any_error()
}

fn put_together(mut notes: Notes, sources: Vec<Source>) -> Problems {
    notes.whole_file("", Trouble::new("the scenario could not be put together; this is a fault of the program"));
    notes.finish(sources)
}

type Misfit = (super::error::Place, String, Trouble);

/// Adds the observed weather file to the hash, piece by piece: it may be large.
fn add_weather(root: &Fields, sources: &[super::error::Source], hash: &mut Sha256) -> Result<(), Misfit> {
    let Some(fields) = root.child("weather") else { return Ok(()) };
    if fields.switch.as_deref() != Some("observed") {
        return Ok(());
    }
    let Some(file) = weather::file(fields, sources) else { return Ok(()) };
    stream(&file, hash).map_err(|error| {
        let name = shorten(fields.text("file").unwrap_or(""));
        let trouble = Trouble::new(format!("the weather file \"{name}\" {}", unreadable(&error)))
            .help("its path is relative to the file that names it");
        (fields.place("file"), fields.key("file"), trouble)
    })
}

fn stream(path: &Path, hash: &mut Sha256) -> io::Result<()> {
    let mut file = File::open(path)?;
    let found = file.metadata()?;
    if found.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder"));
    }
    // It is read twice, and a device may have no end.
    if !found.is_file() {
        return Err(io::Error::other("it is no ordinary file"));
    }
    let mut piece = vec![0; 64 * 1024];
    let mut length = 0_u64;
    loop {
        match file.read(&mut piece)? {
            0 => break,
            count => {
                hash.update(&piece[..count]);
                length += count as u64;
            }
        }
    }
    hash.update(length.to_le_bytes());
    Ok(())
}
