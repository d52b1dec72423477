//! What can be wrong with a log, said so that its owner can mend it.

use std::fmt;
use std::path::{Path, PathBuf};

/// Most problems listed for one file.
pub const MOST_PROBLEMS: usize = 20;

/// Why a log can't be used.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// It can't be opened or read.
    #[error("cannot read the log {}: {source}", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Its content is wrong.
    #[error("{}", told(.path, .problems, *.omitted))]
    Invalid {
        /// The file.
        path: PathBuf,
        /// The problems in file order, at most twenty.
        problems: Vec<Problem>,
        /// How many more there are.
        omitted: usize,
    },
}

/// One problem.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Line in the file, from 1; none for the file as a whole.
    pub line: Option<u64>,
    /// Column, where one is meant.
    pub column: Option<String>,
    /// What is wrong.
    pub kind: ProblemKind,
}

/// Kinds of problems, with what was found and what is allowed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ProblemKind {
    /// No header.
    #[error("the file is empty: a header line with the columns {wanted} is needed")]
    Empty {
        /// Columns.
        wanted: &'static str,
    },
    /// Not UTF-8.
    #[error("this is not UTF-8 text; save the table as CSV in UTF-8")]
    NotText,
    /// A column that must be there is not.
    #[error("no column `{wanted}` in the header ({found}){}", near(.nearest))]
    MissingColumn {
        /// What is needed.
        wanted: &'static str,
        /// The header.
        found: String,
        /// The header's column that looks most like it.
        nearest: Option<String>,
    },
    /// Two columns could be meant.
    #[error("the header has both `{first}` and `{second}`: rename the one that is not meant")]
    TwoColumns {
        /// One.
        first: String,
        /// The other.
        second: String,
    },
    /// A row of another width than the header.
    #[error("{found} fields, but the header has {allowed}")]
    FieldCount {
        /// In the row.
        found: usize,
        /// In the header.
        allowed: usize,
    },
    /// Not a time.
    #[error("`{found}` is no time: write seconds such as 12.05, or RFC 3339 such as 2025-06-01T05:30:00.05+02:00")]
    Time {
        /// As written.
        found: String,
    },
    /// Seconds and RFC 3339 in one file.
    #[error("`{found}` is {is}, but line {line} has {was}; write all times alike")]
    MixedTimes {
        /// As written.
        found: String,
        /// What it is.
        is: &'static str,
        /// What the first one was.
        was: &'static str,
        /// Line of the first one.
        line: u64,
    },
    /// Not later than the row before.
    #[error("the time {found} is {how} that of line {earlier}; rows must be in order of time")]
    Backwards {
        /// As written.
        found: String,
        /// "before" or "the same as".
        how: &'static str,
        /// The row before.
        earlier: u64,
    },
    /// Not a number.
    #[error("`{found}` is not a number; leave the field empty where the sensor gave no reading")]
    Number {
        /// As written.
        found: String,
    },
    /// NaN or infinite.
    #[error("`{found}` is not a finite number; leave the field empty where the sensor gave no reading")]
    NotFinite {
        /// As written.
        found: String,
    },
    /// A number with a unit behind it.
    #[error("`{found}` carries a unit of its own; the unit stands once, in the header (`{column}_mm`) or with --unit")]
    UnitInCell {
        /// As written.
        found: String,
        /// The column.
        column: String,
    },
    /// A unit that the readings can't have.
    #[error("the unit `{found}` is not {wanted}; the sensor's readings are in {unit}, or a unit that fits it")]
    Unit {
        /// As written.
        found: String,
        /// "a length".
        wanted: &'static str,
        /// Its usual unit.
        unit: &'static str,
    },
    /// Some readings are another unit's.
    #[error(
        "{found} is {factor} times the log's median {median}, as are {count} readings in all: two units are mixed; write \
         them all in one"
    )]
    MixedUnits {
        /// The first of them.
        found: String,
        /// 1000, 100 or their inverses.
        factor: &'static str,
        /// The median.
        median: String,
        /// How many.
        count: usize,
    },
    /// Too few readings.
    #[error("{found} rows with a reading; at least {least} are needed ({good} or more make a good log)")]
    TooFew {
        /// How many.
        found: usize,
        /// How many are needed.
        least: usize,
        /// How many are asked for.
        good: usize,
    },
    /// A gap that dwarfs the log.
    #[error(
        "{gap_s:.0} s without a reading before this row, in a log that holds {logged_s:.0} s of them: the logger stopped or \
         its clock jumped; cut the log there"
    )]
    Gap {
        /// Length of the gap, s.
        gap_s: f64,
        /// Readings times the usual distance of two, s.
        logged_s: f64,
    },
    /// All readings are alike.
    #[error(
        "all {count} readings are {value}: a sensor that never moves is frozen, or its log is rounded too coarsely; there \
         is no noise to learn from"
    )]
    AllEqual {
        /// How many.
        count: usize,
        /// The value.
        value: String,
    },
    /// A label that is no label.
    #[error("the label `{found}` is not known; allowed are mower and other{}", near(.nearest))]
    Label {
        /// As written.
        found: String,
        /// The nearest.
        nearest: Option<String>,
    },
    /// No pass of a kind.
    #[error("no pass is labelled `{label}`; both kinds are needed, at least two of each")]
    NoPasses {
        /// The label.
        label: &'static str,
    },
}

fn near(nearest: &Option<String>) -> String {
    nearest.as_ref().map(|name| format!("; did you mean `{name}`?")).unwrap_or_default()
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, &self.column) {
            (Some(line), Some(column)) => write!(out, "line {line}, column {column}: {}", self.kind),
            (Some(line), None) => write!(out, "line {line}: {}", self.kind),
            (None, Some(column)) => write!(out, "column {column}: {}", self.kind),
            (None, None) => write!(out, "{}", self.kind),
        }
    }
}

fn told(path: &Path, problems: &[Problem], omitted: usize) -> String {
    let list: String = problems.iter().map(|problem| format!("\n  {problem}")).collect();
    let more = if omitted > 0 { format!("\n  and {omitted} more") } else { String::new() };
    format!("the log {} cannot be used:{list}{more}", path.display())
}
