//! What is wrong with a scenario, where, and what would be right.

use std::fmt;
use std::ops::Range;
use std::path::PathBuf;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level as Mark, Origin, Renderer, Snippet};

/// Whether a scenario with this problem can be played.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// It cannot.
    Error,
    /// It can, but the results deserve a second look.
    Warning,
}

/// A message with an optional hint, not yet tied to a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// What was found and what is allowed.
    pub message: String,
    /// What to do about it.
    pub help: Option<String>,
}

impl Trouble {
    /// A message alone.
    pub fn new(message: impl Into<String>) -> Trouble {
        Trouble { message: message.into(), help: None }
    }

    /// With a hint.
    pub fn help(mut self, help: impl Into<String>) -> Trouble {
        self.help = Some(help.into());
        self
    }
}

/// A place in one of the files read: bytes `start..end` of file number `file`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Number of the file in the order of reading; the scenario itself is 0.
    pub file: usize,
    /// First byte.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
}

/// A file that was read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Source {
    /// Its path, as given or as reached from the file that includes it.
    pub path: PathBuf,
    /// Its text.
    pub text: String,
}

/// One problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Error or warning.
    pub level: Level,
    /// The file.
    pub file: PathBuf,
    /// Line, from 1; 0 if the problem concerns the file as a whole.
    pub line: usize,
    /// Column in characters, from 1; 0 if the problem concerns the file as a whole.
    pub column: usize,
    /// Bytes of the file.
    pub span: Range<usize>,
    /// Path of the key, such as `mower.approach.speed`; may be empty.
    pub key: String,
    /// What was found and what is allowed.
    pub message: String,
    /// What to do about it.
    pub help: Option<String>,
    place: Place,
}

/// Problems in the order of their files and positions, with the texts they point into.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems {
    list: Vec<Problem>,
    sources: Vec<Source>,
}

/// Where problems are collected while a scenario is read.
#[derive(Clone, Debug, Default)]
pub(crate) struct Notes {
    list: Vec<(Level, Option<Place>, String, Trouble)>,
}

impl Notes {
    /// Notes an error at a place.
    pub(crate) fn error(&mut self, place: Place, key: impl Into<String>, trouble: Trouble) {
        self.list.push((Level::Error, Some(place), key.into(), trouble));
    }

    /// Notes a warning at a place.
    pub(crate) fn warning(&mut self, place: Place, key: impl Into<String>, trouble: Trouble) {
        self.list.push((Level::Warning, Some(place), key.into(), trouble));
    }

    /// Notes an error about something that the scenario's file lacks: where the file ends, it would be added.
    pub(crate) fn at_the_end(&mut self, key: impl Into<String>, trouble: Trouble) {
        self.error(Place { file: 0, start: usize::MAX, end: usize::MAX }, key, trouble);
    }

    /// Notes an error about the scenario's file as a whole.
    pub(crate) fn whole_file(&mut self, key: impl Into<String>, trouble: Trouble) {
        self.list.push((Level::Error, None, key.into(), trouble));
    }

    /// How many have been noted.
    pub(crate) fn count(&self) -> usize {
        self.list.len()
    }

    /// Whether there are already far more problems than are ever shown, so that advice on further ones is idle (and
    /// would take time in proportion to all names).
    pub(crate) fn crowded(&self) -> bool {
        self.list.len() > 10 * MOST_SHOWN
    }

    /// Whether an error has been noted.
    pub(crate) fn any_error(&self) -> bool {
        self.list.iter().any(|note| note.0 == Level::Error)
    }

    /// Sorts, drops exact repetitions and works out lines and columns.
    pub(crate) fn finish(mut self, sources: Vec<Source>) -> Problems {
        let order = |note: &(Level, Option<Place>, String, Trouble)| {
            let place = note.1.unwrap_or_default();
            (place.file, note.1.is_some(), place.start, note.0)
        };
        self.list.sort_by_key(order);
        self.list.dedup();
        let mut cursor = Cursor::default();
        let mut list: Vec<Problem> = Vec::with_capacity(self.list.len());
        for (level, place, key, trouble) in self.list {
            let whole = place.is_none();
            let place = place.unwrap_or_default();
            let source = sources.get(place.file);
            let last = source.map_or(0, |source| source.text.trim_end().len());
            let place = if place.start == usize::MAX { Place { start: last, end: last, ..place } } else { place };
            let file = source.map(|source| source.path.clone()).unwrap_or_default();
            let (line, column) = match source {
                Some(source) if !whole => cursor.advance(place, &source.text),
                _ => (0, 0),
            };
            let (message, help) = (trouble.message, trouble.help);
            list.push(Problem { level, file, line, column, span: place.start..place.end, key, message, help, place });
        }
        Problems { list, sources }
    }
}

/// Line and column of rising places, each character counted once: a long line may hold very many problems.
#[derive(Default)]
struct Cursor {
    file: usize,
    offset: usize,
    /// Complete lines and characters of the current one before `offset`.
    lines: usize,
    characters: usize,
}

impl Cursor {
    fn advance(&mut self, place: Place, text: &str) -> (usize, usize) {
        if place.file != self.file || place.start < self.offset {
            *self = Cursor { file: place.file, ..Cursor::default() };
        }
        for character in text.get(self.offset..place.start.min(text.len())).unwrap_or("").chars() {
            if character == '\n' {
                self.lines += 1;
                self.characters = 0;
            } else {
                self.characters += 1;
            }
        }
        self.offset = place.start;
        (self.lines + 1, self.characters + 1)
    }
}

/// Problems shown at most; a file with more has one mistake repeated, and the rest are counted.
const MOST_SHOWN: usize = 100;

/// A line longer than this, in bytes, is named but not shown.
const LONGEST_SHOWN_LINE: usize = 1000;

impl Problems {
    /// All problems, by file and position.
    pub fn list(&self) -> &[Problem] {
        &self.list
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// How many errors.
    pub fn errors(&self) -> usize {
        self.list.iter().filter(|problem| problem.level == Level::Error).count()
    }

    /// The report for people: each problem with its line and a caret, in colour if `colour`.
    pub fn render(&self, colour: bool) -> String {
        let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
        let renderer = renderer.decor_style(DecorStyle::Ascii);
        let mut shown: Vec<String> =
            self.list.iter().take(MOST_SHOWN).map(|problem| self.render_one(problem, &renderer)).collect();
        if self.list.len() > MOST_SHOWN {
            shown.push(format!("... and {} more", self.list.len() - MOST_SHOWN));
        }
        shown.join("\n\n")
    }

    fn render_one(&self, problem: &Problem, renderer: &Renderer) -> String {
        let mark = match problem.level {
            Level::Error => Mark::ERROR,
            Level::Warning => Mark::WARNING,
        };
        let path = problem.file.display().to_string();
        let title = mark.primary_title(problem.message.as_str());
        let mut group = match self.excerpt(problem) {
            Some((text, span)) => {
                let annotation =
                    AnnotationKind::Primary.span(span).label(Some(problem.key.as_str()).filter(|key| !key.is_empty()));
                title.element(Snippet::source(text).line_start(problem.line).path(path).annotation(annotation))
            }
            None if problem.line == 0 => title.element(Origin::path(path)),
            None => title.element(Origin::path(path).line(problem.line).char_column(problem.column)),
        };
        if let Some(help) = &problem.help {
            group = group.element(Mark::HELP.message(help.as_str()));
        }
        renderer.render(&[group])
    }

    /// The line of a problem and the bytes of it to mark.
    fn excerpt(&self, problem: &Problem) -> Option<(&str, Range<usize>)> {
        if problem.line == 0 {
            return None;
        }
        let text = self.sources.get(problem.place.file)?.text.as_str();
        let from = text.get(..problem.span.start)?.rfind('\n').map_or(0, |at| at + 1);
        let line = text.get(from..)?.lines().next().unwrap_or("");
        if line.len() > LONGEST_SHOWN_LINE {
            return None;
        }
        let start = (problem.span.start - from).min(line.len());
        let end = (problem.span.end.max(problem.span.start) - from).clamp(start, line.len());
        line.get(start..end).map(|_| (line, start..end))
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Problems {}

/// The candidate that was probably meant by `found`, if one is plausibly near: normalised Damerau-Levenshtein
/// similarity (Damerau 1964) of at least 0.6, so that no silly advice is given.
pub(crate) fn nearest<'a>(found: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // The distance takes time in proportion to both lengths; no name is this long.
    if found.len() > 100 {
        return None;
    }
    let mut best: Option<(f64, &str)> = None;
    for candidate in candidates {
        let likeness = strsim::normalized_damerau_levenshtein(&found.to_lowercase(), &candidate.to_lowercase());
        if likeness >= 0.6 && best.is_none_or(|(top, _)| likeness > top) {
            best = Some((likeness, candidate));
        }
    }
    best.map(|(_, name)| name)
}
