//! What can be wrong with a weather file, said so that its owner can mend it.

use std::fmt;
use std::path::PathBuf;

/// Most problems listed for one file.
pub const MOST_PROBLEMS: usize = 20;

/// Why a weather file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum WeatherFileError {
    /// It cannot be opened or read.
    #[error("cannot read the weather file {}", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Its content is wrong.
    #[error("{}", listing(.path, .problems, *.omitted))]
    Invalid {
        /// The file.
        path: PathBuf,
        /// The problems in file order, at most [`MOST_PROBLEMS`].
        problems: Vec<Problem>,
        /// How many more there are.
        omitted: usize,
    },
    /// How long it rained within its long steps is not known.
    #[error(
        "the weather file {} has steps of {hours} h: how long it rains within them can't be told from their depth. \
         Include the part that `dooryard weather fit` writes from an hourly record of the same climate: its rain process, \
         [weather.rain], is all that is used of it beside a record. Or set within_hour = \"even\" to have it rain all through each step",
        .path.display()
    )]
    Coarse {
        /// The file.
        path: PathBuf,
        /// Its step.
        hours: f64,
    },
    /// Hours of the season have no record and the scenario refuses gaps.
    #[error("{}", gap_listing(.path, .first, *.missing))]
    Gaps {
        /// The file.
        path: PathBuf,
        /// The first gaps: the record's step and the columns without a value.
        first: Vec<Gap>,
        /// Number of steps of the season with a gap.
        missing: usize,
    },
}

/// A step of the season for which the record has no value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gap {
    /// Time in the record, RFC 3339.
    pub time: String,
    /// What is missing: "no row", or the empty columns.
    pub missing: String,
}

/// One problem at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Line in the file, from 1; none for the file as a whole.
    pub line: Option<u64>,
    /// Column name, where one is meant.
    pub column: Option<&'static str>,
    /// What is wrong.
    pub kind: ProblemKind,
}

/// Kinds of problems, with what was found and what is allowed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ProblemKind {
    /// Nothing in the file, or only comments.
    #[error("the file is empty: a header line with the columns time,rain_mm,temperature_c,wind_m_s,gust_m_s is needed")]
    Empty,
    /// Zero bytes or bytes that are not UTF-8.
    #[error("this is not UTF-8 text; save the table as CSV in UTF-8")]
    NotText,
    /// A header but no rows, or a single row.
    #[error("{found} data rows; at least two are needed, because the time step is the distance of two rows")]
    TooFewRows {
        /// How many.
        found: usize,
    },
    /// A needed column is not in the header.
    #[error("the column is missing{}", near(.nearest))]
    MissingColumn {
        /// The header's column that looks most like it.
        nearest: Option<String>,
    },
    /// A header whose fields are separated by something else than commas.
    #[error("the fields are separated by {found}; put commas between them, and points into decimal numbers")]
    Separator {
        /// By what.
        found: &'static str,
    },
    /// Depths that add up from row to row.
    #[error("the depths rise {rises} times and fall {falls} times: a running total? Write what fell in each step")]
    RunningTotal {
        /// Rows with more than the row above.
        rises: usize,
        /// Rows with less.
        falls: usize,
    },
    /// A column is in the header twice.
    #[error("the column is in the header more than once")]
    RepeatedColumn,
    /// A column without a single value.
    #[error("the column holds no value at all")]
    EmptyColumn,
    /// A row with more or fewer fields than the header.
    #[error("{found} fields, but the header has {allowed}")]
    FieldCount {
        /// Fields in the row.
        found: usize,
        /// Fields in the header.
        allowed: usize,
    },
    /// Not an RFC 3339 time with an offset.
    #[error("`{found}` is not an RFC 3339 time with an offset, such as 2025-04-01T13:00:00+02:00")]
    Time {
        /// As written.
        found: String,
    },
    /// Not a number.
    #[error("`{found}` is not a number; leave the field empty where nothing was observed")]
    Number {
        /// As written.
        found: String,
    },
    /// A number that cannot be true.
    #[error("{found} {unit} is outside {low} to {high} {unit}; leave the field empty where nothing was observed{}", other_degrees(*.found, .unit))]
    Range {
        /// The value.
        found: f64,
        /// Unit of the limits.
        unit: &'static str,
        /// Smallest allowed.
        low: f64,
        /// Largest allowed.
        high: f64,
    },
    /// The same time as an earlier row.
    #[error("the time {time} is that of line {earlier} as well")]
    Duplicate {
        /// The time.
        time: String,
        /// The line before.
        earlier: u64,
    },
    /// A time before that of the row above.
    #[error("the time {time} is before that of line {earlier}; rows must be in order of time")]
    Backward {
        /// The time.
        time: String,
        /// The line before.
        earlier: u64,
    },
    /// A distance to the row above that is not a multiple of the step.
    #[error("{found} after the row above; the file's step is {step}, and gaps must be whole steps")]
    Irregular {
        /// Distance found.
        found: String,
        /// The usual step.
        step: String,
    },
    /// The head of a TMY3 or EPW file lacks what its rows need.
    #[error("{what}")]
    Head {
        /// What is missing.
        what: String,
    },
    /// A step that cannot be used.
    #[error("the file's step is {step}; it must divide a day: from 1 s to 24 h")]
    Step {
        /// The step.
        step: String,
    },
}

/// A question for what looks like degrees Fahrenheit or kelvins.
fn other_degrees(found: f64, unit: &str) -> &'static str {
    match unit {
        "degC" if (60.0..=135.0).contains(&found) => {
            " (is it in degrees Fahrenheit? then set `temperature_unit = \"degF\"`)"
        }
        "degC" if (200.0..=330.0).contains(&found) => " (is it in kelvins? then set `temperature_unit = \"K\"`)",
        _ => "",
    }
}

fn near(nearest: &Option<String>) -> String {
    nearest.as_ref().map(|name| format!("; is it `{name}`?")).unwrap_or_default()
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(out, "line {line}, ")?;
        }
        if let Some(column) = self.column {
            write!(out, "column {column}: ")?;
        } else if self.line.is_some() {
            write!(out, "whole row: ")?;
        }
        write!(out, "{}", self.kind)
    }
}

fn listing(path: &std::path::Path, problems: &[Problem], omitted: usize) -> String {
    let mut text = format!("the weather file {} cannot be used:", path.display());
    for problem in problems {
        text.push_str(&format!("\n  {problem}"));
    }
    if omitted > 0 {
        text.push_str(&format!("\n  and {omitted} more"));
    }
    text
}

fn gap_listing(path: &std::path::Path, first: &[Gap], missing: usize) -> String {
    let mut text = format!(
        "the weather file {} has no values for {missing} steps of the season (set `gaps` to \"dry\" or \"repeat\" to play it all the same):",
        path.display()
    );
    for gap in first {
        text.push_str(&format!("\n  {}: {}", gap.time, gap.missing));
    }
    if missing > first.len() {
        text.push_str(&format!("\n  and {} more", missing - first.len()));
    }
    text
}
