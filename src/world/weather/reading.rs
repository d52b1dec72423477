//! The pass through a weather file: header, rows, step, with a list of everything that is wrong.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use jiff::Timestamp;
use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;

use super::file_error::{MOST_PROBLEMS, Problem, ProblemKind, WeatherFileError};
use super::observed::{COLUMNS, ObservedRecord, ObservedRow, time_label};
use crate::math::time::Span;

/// The first columns, which a file must have.
const NEEDED: usize = 4;

/// Limits of what can be true, by column, with the unit. The rain limit is a rate, checked once the step is known:
/// 500 mm/h is beyond the world record for an hour (305 mm, 1947; from memory). Wind: the record gust is 113 m/s
/// (1996; from memory). Temperature: the records are -89.2 and 56.7 degC (from memory). Pyranometers read a few
/// W/m2 below zero at night; that is clipped when the value is used.
const LIMITS: [(&str, f64, f64); 6] = [
    ("", 0.0, 0.0),
    ("mm", 0.0, 12_000.0),
    ("degC", -90.0, 60.0),
    ("m/s", 0.0, 120.0),
    ("m/s", 0.0, 120.0),
    ("W/m2", -20.0, 1_600.0),
];

/// Largest rain rate that is believed, mm/h.
const MOST_RAIN_MM_H: f64 = 500.0;

fn length_label(micros: i64) -> String {
    let minutes = micros as f64 / Span::MINUTE.0 as f64;
    if minutes >= 120.0 { format!("{} h", minutes / 60.0) } else { format!("{minutes} min") }
}

/// The state of a reading.
#[derive(Default)]
pub(super) struct Reading {
    rows: Vec<ObservedRow>,
    lines: Vec<u64>,
    offset: Option<Offset>,
    mixed_offsets: bool,
    places: [Option<usize>; 6],
    warnings: Vec<String>,
    problems: Vec<Problem>,
    omitted: usize,
}

impl Reading {
    pub fn problem(&mut self, line: Option<u64>, column: Option<&'static str>, kind: ProblemKind) {
        if self.problems.len() < MOST_PROBLEMS {
            self.problems.push(Problem { line, column, kind });
        } else {
            self.omitted += 1;
        }
    }

    /// Reads the header and all rows. Errors are the system's; everything else becomes a problem.
    pub fn table(&mut self, input: BufReader<File>) -> Result<(), std::io::Error> {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .flexible(true)
            .has_headers(false)
            .trim(csv::Trim::All)
            .from_reader(input);
        let mut record = csv::StringRecord::new();
        let mut width = None;
        loop {
            match reader.read_record(&mut record) {
                Ok(false) => break,
                Ok(true) => {}
                Err(error) => match error.into_kind() {
                    csv::ErrorKind::Io(error) => return Err(error),
                    // With ragged rows allowed and nothing deserialised, only bad UTF-8 is left.
                    _ => {
                        let line = reader.position().line();
                        self.problem(Some(line), None, ProblemKind::NotText);
                        return Ok(());
                    }
                },
            }
            let line = record.position().map_or(0, csv::Position::line);
            match width {
                None => {
                    width = Some(record.len());
                    if !self.header(&record, line) {
                        return Ok(());
                    }
                }
                Some(allowed) if allowed != record.len() => {
                    self.problem(Some(line), None, ProblemKind::FieldCount { found: record.len(), allowed });
                }
                Some(_) => self.row(&record, line),
            }
        }
        if width.is_none() {
            self.problem(None, None, ProblemKind::Empty);
        }
        Ok(())
    }

    /// False if the rows cannot be read for want of a column.
    fn header(&mut self, record: &csv::StringRecord, line: u64) -> bool {
        for (place, name) in record.iter().enumerate() {
            match COLUMNS.iter().position(|column| *column == name) {
                Some(column) if self.places[column].is_some() => {
                    self.problem(Some(line), Some(COLUMNS[column]), ProblemKind::RepeatedColumn);
                }
                Some(column) => self.places[column] = Some(place),
                None => self.warnings.push(format!("the column `{name}` is not used")),
            }
        }
        for (column, wanted) in COLUMNS.into_iter().enumerate().take(NEEDED) {
            if self.places[column].is_none() {
                let unknown = record.iter().filter(|name| !COLUMNS.contains(name));
                let nearest = unknown
                    .map(|name| (strsim::jaro_winkler(&name.to_lowercase(), wanted), name))
                    .max_by(|a, b| a.0.total_cmp(&b.0))
                    // Less alike than this is a different word.
                    .filter(|(score, _)| *score > 0.7)
                    .map(|(_, name)| name.to_owned());
                self.problem(Some(line), Some(wanted), ProblemKind::MissingColumn { nearest });
            }
        }
        if self.places[NEEDED].is_none() {
            self.warnings.push("there is no column `gust_m_s`: gusts follow from the mean wind".to_owned());
        }
        self.problems.is_empty()
    }

    fn row(&mut self, record: &csv::StringRecord, line: u64) {
        let field = |column: usize, places: &[Option<usize>; 6]| {
            places[column].and_then(|place| record.get(place)).unwrap_or_default().to_owned()
        };
        let text = field(0, &self.places);
        let time = match parse_time(&text) {
            Some(time) => Some(time),
            None => {
                self.problem(Some(line), Some(COLUMNS[0]), ProblemKind::Time { found: shorten(&text) });
                None
            }
        };
        let mut values = [None; 6];
        for column in 1..6 {
            let text = field(column, &self.places);
            if text.is_empty() {
                continue;
            }
            let (unit, low, high) = LIMITS[column];
            match text.parse::<f64>() {
                Ok(found) if found.is_finite() && (low..=high).contains(&found) => values[column] = Some(found),
                Ok(found) if found.is_finite() => {
                    self.problem(Some(line), Some(COLUMNS[column]), ProblemKind::Range { found, unit, low, high });
                }
                _ => self.problem(Some(line), Some(COLUMNS[column]), ProblemKind::Number { found: shorten(&text) }),
            }
        }
        let Some((unix_us, offset)) = time else { return };
        match self.offset {
            None => self.offset = Some(offset),
            Some(first) => self.mixed_offsets |= first != offset,
        }
        if let (Some(last), Some(&earlier)) = (self.rows.last(), self.lines.last()) {
            let label = || time_label(unix_us, offset);
            if unix_us == last.unix_us {
                self.problem(Some(line), Some(COLUMNS[0]), ProblemKind::Duplicate { time: label(), earlier });
                return;
            }
            if unix_us < last.unix_us {
                self.problem(Some(line), Some(COLUMNS[0]), ProblemKind::Backward { time: label(), earlier });
                return;
            }
        }
        let [_, rain_mm, temperature_c, wind_m_s, gust_m_s, ghi_w_m2] = values;
        self.rows.push(ObservedRow { unix_us, rain_mm, temperature_c, wind_m_s, gust_m_s, ghi_w_m2 });
        self.lines.push(line);
    }

    /// The record, or the list of problems.
    pub fn finish(mut self, path: &Path) -> Result<ObservedRecord, WeatherFileError> {
        let mut step = Span::ZERO;
        // The later checks would only repeat what is already wrong.
        if self.problems.is_empty() {
            step = self.check_step();
        }
        if self.problems.is_empty() {
            self.check_columns(step);
        }
        if !self.problems.is_empty() {
            let path = path.to_owned();
            return Err(WeatherFileError::Invalid { path, problems: self.problems, omitted: self.omitted });
        }
        let offset = self.offset.unwrap_or(Offset::UTC);
        if self.mixed_offsets {
            self.warnings
                .push(format!("times have more than one UTC offset; years are matched in the first, {offset}"));
        }
        Ok(ObservedRecord { path: path.to_owned(), rows: self.rows, step, offset, warnings: self.warnings })
    }

    /// The step is the commonest distance of two rows, the shorter of two equally common ones.
    fn check_step(&mut self) -> Span {
        if self.rows.len() < 2 {
            self.problem(None, None, ProblemKind::TooFewRows { found: self.rows.len() });
            return Span::ZERO;
        }
        let mut counts = std::collections::BTreeMap::new();
        for pair in self.rows.windows(2) {
            *counts.entry(pair[1].unix_us - pair[0].unix_us).or_insert(0_usize) += 1;
        }
        let commonest = counts.iter().max_by_key(|(length, count)| (**count, -**length));
        let step = commonest.map_or(Span::DAY.0, |(length, _)| *length);
        if step < Span::SECOND.0 || Span::DAY.0 % step != 0 {
            self.problem(None, Some(COLUMNS[0]), ProblemKind::Step { step: length_label(step) });
            return Span::ZERO;
        }
        for index in 1..self.rows.len() {
            let distance = self.rows[index].unix_us - self.rows[index - 1].unix_us;
            if distance % step != 0 {
                let kind = ProblemKind::Irregular { found: length_label(distance), step: length_label(step) };
                self.problem(Some(self.lines[index]), Some(COLUMNS[0]), kind);
            }
        }
        Span(step)
    }

    /// The rain rate, and that rain, temperature and wind hold anything at all.
    fn check_columns(&mut self, step: Span) {
        let high = MOST_RAIN_MM_H * step.hours();
        for index in 0..self.rows.len() {
            if let Some(found) = self.rows[index].rain_mm.filter(|depth| *depth > high) {
                let kind = ProblemKind::Range { found, unit: "mm in one step", low: 0.0, high };
                self.problem(Some(self.lines[index]), Some(COLUMNS[1]), kind);
            }
        }
        let empty = [
            self.rows.iter().all(|row| row.rain_mm.is_none()),
            self.rows.iter().all(|row| row.temperature_c.is_none()),
            self.rows.iter().all(|row| row.wind_m_s.is_none()),
        ];
        for (column, empty) in COLUMNS[1..NEEDED].iter().zip(empty) {
            if empty {
                self.problem(None, Some(column), ProblemKind::EmptyColumn);
            }
        }
    }
}

/// Unix microseconds and the offset written beside them.
fn parse_time(text: &str) -> Option<(i64, Offset)> {
    let time: Timestamp = text.parse().ok()?;
    let offset = Pieces::parse(text).ok()?.to_numeric_offset()?;
    Some((time.as_microsecond(), offset))
}

/// A field as it can stand in a message.
fn shorten(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST { text.to_owned() } else { text.chars().take(MOST).chain(['…']).collect() }
}
