//! The memory of a long study: every result is appended to a file as soon as it is there, so that a study that is
//! stopped, by Ctrl-C or by force, goes on where it was.
//!
//! The first line says what the results belong to. Each further line is one request with its seasons and a checksum; a
//! line that was torn by a kill in mid-writing is recognised and dropped.

use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::exit::Failure;
use super::{file, parts};
use crate::ledger::metric::KEYS;
use crate::ledger::record::SeasonRecord;
use crate::study::tune::{Answer, Request};

/// First words of a resume file.
const LAYOUT: &str = "dooryard-resume/1";

#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Belongs {
    layout: String,
    version: String,
    arguments: Vec<String>,
    scenario: String,
}

/// A request as it stands in the file: the bits of its point, its seasons.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
struct Asked {
    point: Option<Vec<u64>>,
    from: u64,
    to: u64,
}

#[derive(Debug, Serialize, Deserialize)]
struct Line {
    asked: Asked,
    /// One list per season: the bits of all metrics.
    seasons: Vec<Vec<u64>>,
}

/// What has been played so far.
#[derive(Debug)]
pub struct Memory {
    path: PathBuf,
    file: File,
    known: BTreeMap<Asked, Answer>,
}

fn asked(request: &Request) -> Asked {
    let bits = |point: &Vec<f64>| point.iter().map(|x| x.to_bits()).collect();
    Asked { point: request.point.as_ref().map(bits), from: request.seasons.start, to: request.seasons.end }
}

fn checksum(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

/// A line with its checksum in front.
fn sealed(text: &str) -> String {
    format!("{} {text}\n", checksum(text))
}

/// The text of a line that is whole.
fn unsealed(line: &str) -> Option<&str> {
    let (sum, text) = line.split_once(' ')?;
    (sum == checksum(text)).then_some(text)
}

impl Memory {
    /// Opens the file, or begins it.
    ///
    /// # Errors
    /// If it can't be used, or holds the results of another study.
    pub fn open(path: &Path, scenario: &str) -> Result<Memory, Failure> {
        let failed = |error: std::io::Error| Failure::Message(format!("cannot use `{}`: {error}", path.display()));
        let belongs = Belongs {
            layout: LAYOUT.to_string(),
            version: env!("CARGO_PKG_VERSION").to_string(),
            arguments: parts::shaping(std::env::args_os().skip(1))?,
            scenario: scenario.to_string(),
        };
        let mut known = BTreeMap::new();
        let text = match std::fs::read(path) {
            Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
            Err(error) if error.kind() == ErrorKind::NotFound => String::new(),
            Err(error) => return Err(failed(error)),
        };
        let mut whole = String::new();
        let mut lines = text.split_inclusive('\n');
        match lines.next().map(|line| line.strip_suffix('\n').and_then(unsealed)) {
            None => {}
            Some(first) => {
                let other: Option<Belongs> = first.and_then(|text| serde_json::from_str(text).ok());
                if other.as_ref() != Some(&belongs) {
                    return Err(Failure::Message(format!(
                        "`{}` belongs to another study (other arguments, another scenario or version); remove it, or give \
                         another file with --resume",
                        path.display()
                    )));
                }
                whole.push_str(&sealed(first.unwrap_or_default()));
            }
        }
        for line in lines {
            // Whatever follows a torn line was never finished either.
            let Some(text) = line.strip_suffix('\n').and_then(unsealed) else { break };
            let Some((asked, answer)) = serde_json::from_str::<Line>(text).ok().and_then(restored) else { break };
            known.insert(asked, answer);
            whole.push_str(line);
        }
        if whole.is_empty() {
            whole = sealed(&serde_json::to_string(&belongs)?);
        }
        if whole != text {
            file::write_whole(path, whole.as_bytes())?;
        }
        let file = OpenOptions::new().append(true).open(path).map_err(failed)?;
        Ok(Memory { path: path.to_path_buf(), file, known })
    }

    /// Plays that are known.
    pub fn remembered(&self) -> u64 {
        self.known.values().flatten().map(|records| records.len() as u64).sum()
    }

    /// Whether the answer to a request is known.
    pub fn knows(&self, request: &Request) -> bool {
        self.known.contains_key(&asked(request))
    }

    /// The answer to a request that is known; none also for one that isn't.
    pub fn recall(&self, request: &Request) -> Answer {
        self.known.get(&asked(request)).cloned().flatten()
    }

    /// Notes that a request's setting is no valid scenario. That needn't be written down: it shows again.
    pub fn refuse(&mut self, request: &Request) {
        self.known.insert(asked(request), None);
    }

    /// Remembers what was played.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn remember<'r>(
        &mut self,
        played: impl Iterator<Item = (&'r Request, &'r [SeasonRecord])>,
    ) -> Result<(), Failure> {
        let mut text = String::new();
        for (request, records) in played {
            let bits = |record: &SeasonRecord| record.values.iter().map(|value| value.to_bits()).collect();
            let line = Line { asked: asked(request), seasons: records.iter().map(bits).collect() };
            text.push_str(&sealed(&serde_json::to_string(&line)?));
            // What is remembered is what a resumed study would read, so that both go the same way.
            if let Some((asked, answer)) = restored(line) {
                self.known.insert(asked, answer);
            }
        }
        let path = &self.path;
        let failed = |error: std::io::Error| Failure::Message(format!("cannot write `{}`: {error}", path.display()));
        self.file.write_all(text.as_bytes()).and_then(|()| self.file.sync_data()).map_err(failed)
    }

    /// Removes the file: the study is done. If that fails, it merely stays.
    pub fn forget(self) {
        drop(self.file);
        let _ = std::fs::remove_file(&self.path);
    }
}

fn restored(line: Line) -> Option<(Asked, Answer)> {
    let season = |(number, bits): (u64, Vec<u64>)| {
        if bits.len() != KEYS.len() {
            return None;
        }
        let mut record = SeasonRecord::empty(number, 0);
        record.values = bits.into_iter().map(f64::from_bits).collect();
        Some(record)
    };
    let (from, to) = (line.asked.from, line.asked.to);
    if to.checked_sub(from)? != line.seasons.len() as u64 {
        return None;
    }
    let records: Option<Vec<SeasonRecord>> = (from..to).zip(line.seasons).map(season).collect();
    Some((line.asked, Some(records?)))
}
