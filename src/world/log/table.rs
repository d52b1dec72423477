//! The pass through a log: header and rows, with a list of what is wrong.

use std::path::Path;

use super::error::{LogError, MOST_PROBLEMS, Problem, ProblemKind};
use super::text_file;

/// A column that is looked for: what it is called in messages, and whether a heading is it.
pub(super) struct Wanted {
    pub name: &'static str,
    pub is: fn(&str) -> bool,
}

/// Problems so far.
#[derive(Default)]
pub(super) struct Complaints {
    problems: Vec<Problem>,
    omitted: usize,
}

impl Complaints {
    pub fn add(&mut self, line: Option<u64>, column: Option<&str>, kind: ProblemKind) {
        if self.problems.len() < MOST_PROBLEMS {
            self.problems.push(Problem { line, column: column.map(str::to_owned), kind });
        } else {
            self.omitted += 1;
        }
    }

    pub fn any(&self) -> bool {
        !self.problems.is_empty()
    }

    /// An error if there is any.
    pub fn finish(self, path: &Path) -> Result<(), LogError> {
        if self.any() { Err(self.give_up(path)) } else { Ok(()) }
    }

    /// What is wrong so far, as an error.
    pub fn give_up(self, path: &Path) -> LogError {
        LogError::Invalid { path: path.to_owned(), problems: self.problems, omitted: self.omitted }
    }
}

/// A log's columns that were looked for, as they are headed, and its rows with their lines.
pub(super) struct Rows<const N: usize> {
    pub headings: [String; N],
    pub rows: Vec<(u64, [String; N])>,
    pub warnings: Vec<String>,
}

/// Reads the columns `wanted`; none if there is nothing to go on with.
pub(super) fn read<const N: usize>(
    path: &Path,
    wanted: &[Wanted; N],
    all: &'static str,
    complaints: &mut Complaints,
) -> Result<Option<Rows<N>>, LogError> {
    let unreadable = |source| LogError::Unreadable { path: path.to_owned(), source };
    let file = text_file::open(path).map_err(unreadable)?;
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .flexible(true)
        .has_headers(false)
        .trim(csv::Trim::All)
        .from_reader(file);
    let mut found: Option<(Rows<N>, [usize; N], usize)> = None;
    let mut record = csv::StringRecord::new();
    loop {
        let more = match reader.read_record(&mut record) {
            Ok(more) => more,
            Err(error) => match error.into_kind() {
                csv::ErrorKind::Io(source) => return Err(unreadable(source)),
                // With ragged rows allowed and nothing deserialised, only bad UTF-8 is left.
                _ => {
                    complaints.add(Some(reader.position().line()), None, ProblemKind::NotText);
                    return Ok(None);
                }
            },
        };
        if !more {
            break;
        }
        let line = record.position().map_or(0, csv::Position::line);
        match &mut found {
            None => {
                let Some(head) = header(&record, line, wanted, complaints) else { return Ok(None) };
                found = Some((head.0, head.1, record.len()));
            }
            Some((_, _, width)) if *width != record.len() => {
                let kind = ProblemKind::FieldCount { found: record.len(), allowed: *width };
                complaints.add(Some(line), None, kind);
            }
            Some((rows, places, _)) => {
                rows.rows.push((line, places.map(|place| record.get(place).unwrap_or_default().to_owned())));
            }
        }
    }
    if found.is_none() {
        complaints.add(None, None, ProblemKind::Empty { wanted: all });
    }
    Ok(found.map(|(rows, ..)| rows))
}

fn header<const N: usize>(
    record: &csv::StringRecord,
    line: u64,
    wanted: &[Wanted; N],
    complaints: &mut Complaints,
) -> Option<(Rows<N>, [usize; N])> {
    let names: Vec<&str> = record.iter().map(|name| name.trim_start_matches('\u{feff}')).collect();
    let mut places = [0; N];
    for (column, place) in wanted.iter().zip(&mut places) {
        let mut fitting = names.iter().enumerate().filter(|(_, name)| (column.is)(name));
        match (fitting.next(), fitting.next()) {
            (Some((first, _)), None) => *place = first,
            (Some((_, first)), Some((_, second))) => {
                let kind = ProblemKind::TwoColumns { first: (*first).to_owned(), second: (*second).to_owned() };
                complaints.add(Some(line), None, kind);
            }
            (None, _) => {
                let kind = ProblemKind::MissingColumn {
                    wanted: column.name,
                    found: shorten(&names.join(",")),
                    nearest: nearest(column.name, names.iter().copied()),
                };
                complaints.add(Some(line), None, kind);
            }
        }
    }
    if complaints.any() {
        return None;
    }
    let unused = names.iter().enumerate().filter(|(place, _)| !places.contains(place));
    let warnings = unused.map(|(_, name)| format!("the column `{}` is not used", shorten(name))).collect();
    let headings = places.map(|place| names[place].to_owned());
    Some((Rows { headings, rows: Vec::new(), warnings }, places))
}

/// The name that looks most like `wanted`, if one does.
pub(super) fn nearest<'a>(wanted: &str, names: impl Iterator<Item = &'a str>) -> Option<String> {
    // Less alike than this is a different word.
    const ALIKE: f64 = 0.7;
    let scored = names.map(|name| (strsim::jaro_winkler(&name.to_lowercase(), wanted), name));
    scored.filter(|(score, _)| *score > ALIKE).max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, name)| shorten(name))
}

/// A text as it can stand in a message.
pub(super) fn shorten(text: &str) -> String {
    const MOST: usize = 60;
    if text.chars().count() <= MOST { text.to_owned() } else { text.chars().take(MOST).chain(['…']).collect() }
}
