//! An observed weather record: reading and checking the file.
//!
//! The file is CSV with a header. Columns: `time` (RFC 3339 with offset, the start of the step), `rain_mm` (depth in
//! `[time, time + step)`), `temperature_c`, `wind_m_s` (mean), and optionally `gust_m_s` (largest 3 s gust) and
//! `ghi_w_m2` (global horizontal irradiance). An empty field means "not observed". Lines that begin with `#` are
//! comments; a byte-order mark is ignored; other columns are ignored with a warning. Rows are in order of time at
//! one fixed step that divides a day; absent rows are gaps.

use std::fs::File;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::tz::Offset;

use super::file_error::{ProblemKind, WeatherFileError};
use super::reading::Reading;
use crate::math::time::Span;

/// Columns in the order of [`ObservedRow`].
pub(super) const COLUMNS: [&str; 6] = ["time", "rain_mm", "temperature_c", "wind_m_s", "gust_m_s", "ghi_w_m2"];
/// One row of the record; `None` means not observed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ObservedRow {
    /// Start of the step, Unix microseconds.
    pub unix_us: i64,
    /// Depth of rain in the step, mm.
    pub rain_mm: Option<f64>,
    /// Air temperature, degC.
    pub temperature_c: Option<f64>,
    /// Mean wind, m/s.
    pub wind_m_s: Option<f64>,
    /// Gust, m/s.
    pub gust_m_s: Option<f64>,
    /// Global horizontal irradiance, W/m2.
    pub ghi_w_m2: Option<f64>,
}

/// Missing values of one column, or missing rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GapCount {
    /// Column, or "time" for absent rows.
    pub column: &'static str,
    /// Steps without a value.
    pub count: u64,
    /// The same in hours.
    pub hours: f64,
}

/// A record that has been read and checked.
#[derive(Clone, Debug, PartialEq)]
pub struct ObservedRecord {
    pub(super) path: PathBuf,
    pub(super) rows: Vec<ObservedRow>,
    pub(super) step: Span,
    pub(super) offset: Offset,
    pub(super) warnings: Vec<String>,
}

impl ObservedRecord {
    /// Reads and checks a file, row by row.
    ///
    /// # Errors
    /// [`WeatherFileError::Unreadable`], or [`WeatherFileError::Invalid`] with up to [`MOST_PROBLEMS`](super::file_error::MOST_PROBLEMS)
    /// problems.
    pub fn read(path: &Path) -> Result<ObservedRecord, WeatherFileError> {
        let unreadable = |source| WeatherFileError::Unreadable { path: path.to_owned(), source };
        let mut input = BufReader::with_capacity(1 << 16, File::open(path).map_err(unreadable)?);
        let mut reading = Reading::default();
        // A binary file may have no line ends at all: look at its beginning before looking for lines.
        if input.fill_buf().map_err(unreadable)?.contains(&0) {
            reading.problem(None, None, ProblemKind::NotText);
        } else {
            reading.table(input).map_err(unreadable)?;
        }
        reading.finish(path)
    }

    /// The rows in order of time. Absent rows are not in the list.
    pub fn rows(&self) -> &[ObservedRow] {
        &self.rows
    }

    /// The fixed step.
    pub fn step(&self) -> Span {
        self.step
    }

    /// What the reader ignored or assumed.
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    /// Missing rows (as `time`) and, per column, missing values in the rows that are there. An empty gust is listed
    /// too although it usually means "no gust reported".
    pub fn gap_report(&self) -> Vec<GapCount> {
        let span = self.rows[self.rows.len() - 1].unix_us - self.rows[0].unix_us;
        let absent = (span / self.step.0 + 1) as u64 - self.rows.len() as u64;
        let empty =
            |value: fn(&ObservedRow) -> Option<f64>| self.rows.iter().filter(|row| value(row).is_none()).count() as u64;
        let counts = [
            absent,
            empty(|row| row.rain_mm),
            empty(|row| row.temperature_c),
            empty(|row| row.wind_m_s),
            empty(|row| row.gust_m_s),
            empty(|row| row.ghi_w_m2),
        ];
        let count = |(column, count)| GapCount { column, count, hours: count as f64 * self.step.hours() };
        COLUMNS.into_iter().zip(counts).map(count).collect()
    }
}

/// Local time with the record's offset, for messages.
pub(super) fn time_label(unix_us: i64, offset: Offset) -> String {
    match Timestamp::from_microsecond(unix_us) {
        Ok(time) => time.display_with_offset(offset).to_string(),
        Err(_) => format!("{unix_us} us"),
    }
}
