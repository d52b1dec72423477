//! An observed weather record: reading and checking the file.
//!
//! Three layouts: the CSV of this program, typical meteorological year 3 ([`tmy3`]) and EnergyPlus weather
//! ([`epw`]).
//!
//! The CSV has a header. Columns: `time` (RFC 3339 with offset, the start of the step), `rain_mm` (depth in
//! `[time, time + step)`), `temperature_c`, `wind_m_s` (mean), and optionally `gust_m_s` (largest 3 s gust),
//! `ghi_w_m2` (global horizontal irradiance), `dew_point_c` and `wind_from_deg`. An empty field means "not observed". Lines that begin with `#` are
//! comments; a byte-order mark is ignored; other columns are ignored with a warning. Rows are in order of time at
//! one fixed step that divides a day; absent rows are gaps.

use std::fs::File;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::tz::Offset;

use super::file_error::{ProblemKind, WeatherFileError};
use super::reading::Reading;
use super::within::Library;
use super::{epw, tmy3};
use crate::math::time::Span;
use crate::scenario::weather::units::Units;
use crate::scenario::weather::{Label, Layout, Observed, WithinHour};

/// Columns in the order of [`ObservedRow`].
pub(super) const COLUMNS: [&str; WIDTH] =
    ["time", "rain_mm", "temperature_c", "wind_m_s", "gust_m_s", "ghi_w_m2", "dew_point_c", "wind_from_deg"];

/// Number of columns.
pub(super) const WIDTH: usize = 8;

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
    /// Dew point, degC.
    pub dew_point_c: Option<f64>,
    /// Where the wind comes from, degrees from north by east.
    pub wind_from_deg: Option<f64>,
}

impl ObservedRow {
    /// A row of values in the order of the columns; the first, the time, is not looked at.
    pub(super) fn of(unix_us: i64, values: [Option<f64>; WIDTH]) -> ObservedRow {
        let [_, rain_mm, temperature_c, wind_m_s, gust_m_s, ghi_w_m2, dew_point_c, wind_from_deg] = values;
        ObservedRow { unix_us, rain_mm, temperature_c, wind_m_s, gust_m_s, ghi_w_m2, dew_point_c, wind_from_deg }
    }

    /// The values in that order.
    pub(super) fn values(&self) -> [Option<f64>; WIDTH] {
        [
            None,
            self.rain_mm,
            self.temperature_c,
            self.wind_m_s,
            self.gust_m_s,
            self.ghi_w_m2,
            self.dew_point_c,
            self.wind_from_deg,
        ]
    }
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
    /// Local days (since 1970 in the record's offset) with their coldest temperature, in order.
    pub(super) coldest: Vec<(i64, f64)>,
    /// Showers by which depths are cut, if the scenario gives a rain process.
    pub(super) library: Option<Library>,
}

impl ObservedRecord {
    /// Reads and checks a file in whatever layout it is, times naming the start of a step, in the program's units.
    ///
    /// # Errors
    /// As [`ObservedRecord::read_as`].
    pub fn read(path: &Path) -> Result<ObservedRecord, WeatherFileError> {
        ObservedRecord::read_as(path, Layout::Detect, Label::Start, Units::default())
    }

    /// Reads the scenario's file and makes it ready to be played season by season.
    ///
    /// # Errors
    /// As [`ObservedRecord::read_as`], and [`WeatherFileError::Coarse`].
    pub fn load(observed: &Observed) -> Result<ObservedRecord, WeatherFileError> {
        let mut record = ObservedRecord::read_as(&observed.file, observed.layout, observed.label, observed.units)?;
        record.fine_enough(observed)?;
        if record.step > Span::HOUR && observed.within_hour == WithinHour::Even {
            record.warnings.push(format!(
                "steps of {} h played evenly: it rains all through every step with rain, far longer than in truth",
                record.step.hours()
            ));
        }
        if let (Some(rain), WithinHour::Spells | WithinHour::Process) = (&observed.rain, observed.within_hour) {
            let least = record.rows.iter().filter_map(|row| row.rain_mm).filter(|depth| *depth > 0.0);
            let least = least.fold(f64::INFINITY, f64::min);
            record.library = Some(Library::new(rain, record.step, 0.5 * least, observed.within_hour));
        }
        Ok(record)
    }

    /// How long it rains within steps longer than an hour must be known, or not be asked.
    pub(super) fn fine_enough(&self, observed: &Observed) -> Result<(), WeatherFileError> {
        if self.step > Span::HOUR && observed.within_hour != WithinHour::Even && observed.rain.is_none() {
            return Err(WeatherFileError::Coarse { path: self.path.clone(), hours: self.step.hours() });
        }
        Ok(())
    }

    /// Reads and checks a file, row by row; its numbers are converted from `units` before anything else is made of them.
    ///
    /// # Errors
    /// [`WeatherFileError::Unreadable`], or [`WeatherFileError::Invalid`] with up to [`MOST_PROBLEMS`](super::file_error::MOST_PROBLEMS)
    /// problems.
    pub fn read_as(
        path: &Path,
        layout: Layout,
        label: Label,
        units: Units,
    ) -> Result<ObservedRecord, WeatherFileError> {
        let unreadable = |source| WeatherFileError::Unreadable { path: path.to_owned(), source };
        let mut input = BufReader::with_capacity(1 << 16, File::open(path).map_err(unreadable)?);
        let head = input.fill_buf().map_err(unreadable)?;
        let mut reading = Reading::new(units);
        // A binary file may have no line ends at all: look at its beginning before looking for lines.
        if head.contains(&0) {
            reading.problem(None, None, ProblemKind::NotText);
            return reading.finish(path, label);
        }
        if head.starts_with(b"\xEF\xBB\xBF") {
            reading.warn("the file begins with a byte-order mark, which is ignored");
        }
        let layout = if layout == Layout::Detect { detect(head) } else { layout };
        let label = match layout {
            Layout::Tmy3 | Layout::Epw => Label::End,
            _ => label,
        };
        let read = match layout {
            Layout::Tmy3 => tmy3::table(&mut reading, input),
            Layout::Epw => epw::table(&mut reading, input),
            Layout::Csv | Layout::Detect => reading.table(input),
        };
        read.map_err(unreadable)?;
        reading.finish(path, label)
    }

    /// A record made of rows in order of time on one grid; none without rows.
    pub fn of_rows(name: &Path, rows: Vec<ObservedRow>, step: Span, offset: Offset) -> Option<ObservedRecord> {
        let coldest = coldest(&rows, offset);
        let record =
            ObservedRecord { path: name.to_owned(), rows, step, offset, warnings: Vec::new(), coldest, library: None };
        (!record.rows.is_empty()).then_some(record)
    }

    /// The rows in order of time. Absent rows are not in the list.
    pub fn rows(&self) -> &[ObservedRow] {
        &self.rows
    }

    /// The fixed step.
    pub fn step(&self) -> Span {
        self.step
    }

    /// The offset from UTC in which its days are counted: that of its first time.
    pub fn offset(&self) -> Offset {
        self.offset
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What the reader ignored or assumed, and what is doubtful.
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
            empty(|row| row.dew_point_c),
            empty(|row| row.wind_from_deg),
        ];
        let count = |(column, count)| GapCount { column, count, hours: count as f64 * self.step.hours() };
        COLUMNS.into_iter().zip(counts).map(count).collect()
    }
}

/// The local day of a moment: days since 1970 in the record's offset.
pub(super) fn local_day(unix_us: i64, offset: Offset) -> i64 {
    (unix_us + i64::from(offset.seconds()) * 1_000_000).div_euclid(Span::DAY.0)
}

/// The coldest temperature of each local day that has any.
pub(super) fn coldest(rows: &[ObservedRow], offset: Offset) -> Vec<(i64, f64)> {
    let mut days: Vec<(i64, f64)> = Vec::new();
    for row in rows {
        let Some(temperature_c) = row.temperature_c else { continue };
        let day = local_day(row.unix_us, offset);
        match days.last_mut() {
            Some(last) if last.0 == day => last.1 = last.1.min(temperature_c),
            _ => days.push((day, temperature_c)),
        }
    }
    days
}

/// Local time with the record's offset, for messages.
pub(super) fn time_label(unix_us: i64, offset: Offset) -> String {
    match Timestamp::from_microsecond(unix_us) {
        Ok(time) => time.display_with_offset(offset).to_string(),
        Err(_) => format!("{unix_us} us"),
    }
}

/// The layout by the file's first two lines: EPW begins with LOCATION, TMY3 has dates in its second line's header.
fn detect(head: &[u8]) -> Layout {
    let text = String::from_utf8_lossy(&head[..head.len().min(4_000)]);
    let text = text.trim_start_matches('\u{feff}');
    let mut lines = text.lines();
    let first = lines.next().unwrap_or_default();
    if first.to_ascii_uppercase().starts_with("LOCATION,") {
        Layout::Epw
    } else if lines.next().unwrap_or_default().starts_with("Date (MM/DD/YYYY)") {
        Layout::Tmy3
    } else {
        Layout::Csv
    }
}
