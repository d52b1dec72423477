//! The pass through a weather file: header, rows, step, with a list of everything that is wrong.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use jiff::Timestamp;
use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;

use super::codes::{self, Candidate};
use super::doubts;
use super::file_error::{MOST_PROBLEMS, Problem, ProblemKind, WeatherFileError};
use super::observed::{COLUMNS, ObservedRecord, ObservedRow, WIDTH, coldest, time_label};
use crate::math::time::Span;
use crate::scenario::weather::Label;
use crate::scenario::weather::units::Units;

/// The first columns, which a file must have.
const NEEDED: usize = 4;

/// Limits of what can be true, by column, with the unit. The limit of rain depends on the step: see [`most_rain_mm`]. Wind: the record gust is 113 m/s
/// (1996; from memory). Temperature: the records are -89.2 and 56.7 degC (from memory). Pyranometers read a few
/// W/m2 below zero at night; that is clipped when the value is used.
const LIMITS: [(&str, f64, f64); WIDTH] = [
    ("", 0.0, 0.0),
    ("mm", 0.0, 12_000.0),
    ("degC", -90.0, 60.0),
    ("m/s", 0.0, 120.0),
    ("m/s", 0.0, 120.0),
    ("W/m2", -20.0, 1_600.0),
    ("degC", -90.0, 45.0),
    ("deg", 0.0, 360.0),
];

/// Numbers that stand for "missing" in files of many makers. Where one could be true, [`codes`] decides.
const CODES: [f64; 15] = [
    -99.0, -99.9, -999.0, -999.9, -9999.0, -9900.0, -99999.0, 99.0, 99.9, 999.0, 999.9, 9999.0, 9999.9, 99999.0,
    999999.0,
];

/// Words that stand for "missing" in tables of many makers, and the empty field.
const NOTHING: [&str; 12] = ["", "M", "NA", "N/A", "NaN", "nan", "null", "NULL", "None", "none", "-", "--"];

/// Depths that rise so often, and fall less than a quarter as often, add up from row to row: depths of their own rise and
/// fall about equally often.
const RISES: usize = 20;

/// One in so many rows may hold a value that cannot be true, or a time that was there before for a reason, and be left
/// out with a warning; more are an error of the file as a whole.
const ODD_ROWS: usize = 1_000;

/// Largest depth that is believed in a step of `hours`, mm: a fifth above the envelope of the world's records, which grows
/// as the 0.47th power of the duration from 425 mm in an hour (Jennings 1950; from memory). 73 mm in a minute, 2,230 mm in
/// a day.
fn most_rain_mm(hours: f64) -> f64 {
    libm::round(500.0 * libm::pow(hours, 0.47))
}

fn length_label(micros: i64) -> String {
    let minutes = micros as f64 / Span::MINUTE.0 as f64;
    if minutes >= 120.0 { format!("{} h", minutes / 60.0) } else { format!("{minutes} min") }
}

/// What was met and may be forgiven, with how often and the first line.
#[derive(Default)]
struct Oddities {
    /// Missing-value codes: column, code, count, line.
    codes: Vec<(usize, f64, usize, u64)>,
    /// Values that may be such codes.
    candidates: Vec<Candidate>,
    /// Words for "missing".
    words: Option<(usize, u64)>,
    /// Gusts of 0 beside a wind.
    still_gusts: Option<(usize, u64)>,
    /// Traces of rain.
    traces: Option<(usize, u64)>,
    /// Values with a letter behind them.
    marked: Option<(usize, u64)>,
    /// Values that cannot be true.
    outliers: Vec<Problem>,
    /// Rows at or before the time of the row above.
    repeats: Vec<(Problem, Repeat)>,
}

/// Why a time may be there again.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Repeat {
    /// The clocks went back.
    Autumn,
    /// A copy of an earlier row, value for value, as where two downloads overlap.
    Copy,
    /// No innocent reason: which of the rows is true can't be told.
    Unexplained,
}

fn repeat(rows: &[ObservedRow], row: &ObservedRow, offset: Offset) -> Repeat {
    let same = rows.binary_search_by_key(&row.unix_us, |earlier| earlier.unix_us).is_ok_and(|at| rows[at] == *row);
    match (same, clocks_change(row.unix_us, offset)) {
        (_, true) => Repeat::Autumn,
        (true, false) => Repeat::Copy,
        (false, false) => Repeat::Unexplained,
    }
}

fn once_more(tally: &mut Option<(usize, u64)>, line: u64) {
    tally.get_or_insert((0, line)).0 += 1;
}

/// The state of a reading.
#[derive(Default)]
pub(super) struct Reading {
    units: Units,
    rows: Vec<ObservedRow>,
    lines: Vec<u64>,
    offset: Option<Offset>,
    mixed_offsets: bool,
    places: [Option<usize>; WIDTH],
    warnings: Vec<String>,
    oddities: Oddities,
    problems: Vec<Problem>,
    omitted: usize,
}

impl Reading {
    /// Nothing read yet, of a file in these units.
    pub fn new(units: Units) -> Reading {
        Reading { units, ..Reading::default() }
    }

    pub fn problem(&mut self, line: Option<u64>, column: Option<&'static str>, kind: ProblemKind) {
        if self.problems.len() < MOST_PROBLEMS {
            self.problems.push(Problem { line, column, kind });
        } else {
            self.omitted += 1;
        }
    }

    /// Notes a warning.
    pub fn warn(&mut self, text: impl Into<String>) {
        self.warnings.push(text.into());
    }

    /// Reads the header and all rows. Errors are the system's; everything else becomes a problem.
    pub fn table(&mut self, input: BufReader<File>) -> Result<(), std::io::Error> {
        let mut width = None;
        records(self, input, |reading, record, line| {
            match width {
                None => {
                    width = Some(record.len());
                    return reading.header(record, line);
                }
                Some(allowed) if allowed != record.len() => {
                    let kind = ProblemKind::FieldCount { found: record.len(), allowed };
                    reading.problem(Some(line), None, kind);
                }
                Some(_) => reading.row(record, line),
            }
            true
        })?;
        if width.is_none() && self.problems.is_empty() {
            self.problem(None, None, ProblemKind::Empty);
        }
        Ok(())
    }

    /// False if the rows cannot be read for want of a column.
    fn header(&mut self, record: &csv::StringRecord, line: u64) -> bool {
        if let (1, Some(whole)) = (record.len(), record.get(0)) {
            let others = [(';', "semicolons"), ('\t', "tabs")];
            if let Some((_, found)) = others.into_iter().find(|(mark, _)| whole.contains(*mark)) {
                self.problem(Some(line), None, ProblemKind::Separator { found });
                return false;
            }
        }
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
        let field = |column: usize, places: &[Option<usize>]| {
            places[column].and_then(|place| record.get(place)).unwrap_or_default()
        };
        let text = field(0, &self.places);
        let time = parse_time(text);
        if time.is_none() {
            self.problem(Some(line), Some(COLUMNS[0]), ProblemKind::Time { found: shorten(text) });
        }
        let places = self.places;
        let mut values = std::array::from_fn(|column| match column {
            0 => None,
            _ => self.value(field(column, &places), column, line),
        });
        // No gust is below the mean wind: 0 is how some write that none was reported.
        if values[4] == Some(0.0) && values[3].is_some_and(|wind| wind > 0.0) {
            values[4] = None;
            once_more(&mut self.oddities.still_gusts, line);
        }
        if let Some((unix_us, offset)) = time {
            self.accept(line, unix_us, offset, values);
        }
    }

    /// A field as a value; everything that is wrong with it is noted.
    pub fn value(&mut self, text: &str, column: usize, line: u64) -> Option<f64> {
        let (unit, low, high) = LIMITS[column];
        if NOTHING.contains(&text) {
            if text.len() > 1 || text == "-" {
                once_more(&mut self.oddities.words, line);
            }
            return None;
        }
        if column == 1 && ["T", "t", "trace", "Trace", "TRACE"].contains(&text) {
            once_more(&mut self.oddities.traces, line);
            return Some(0.0);
        }
        // "12.3s" is a suspect value, "0.02T" an estimated trace: the number counts, the letter is reported.
        let digits = text.trim_end_matches(|letter: char| ['s', 'T', 'V', '*'].contains(&letter));
        if digits.len() < text.len() && digits.parse::<f64>().is_ok() {
            once_more(&mut self.oddities.marked, line);
        }
        match digits.parse::<f64>() {
            Ok(code) if (low..=high).contains(&self.converted(column, code)) => {
                let value = self.converted(column, code);
                if CODES.contains(&code) {
                    self.oddities.candidates.push(Candidate { column, code, value, line });
                }
                Some(value)
            }
            Ok(found) if CODES.contains(&found) => {
                self.code(column, found, line);
                None
            }
            Ok(found) if found.is_finite() => {
                let kind = ProblemKind::Range { found: self.converted(column, found), unit, low, high };
                self.oddities.outliers.push(Problem { line: Some(line), column: Some(COLUMNS[column]), kind });
                None
            }
            _ => {
                self.problem(Some(line), Some(COLUMNS[column]), ProblemKind::Number { found: shorten(text) });
                None
            }
        }
    }

    /// A number of the file in the program's unit.
    fn converted(&self, column: usize, found: f64) -> f64 {
        match column {
            1 => self.units.rain.value(found),
            2 | 6 => self.units.temperature.value(found),
            3 | 4 => self.units.wind.value(found),
            _ => found,
        }
    }

    /// Notes a missing-value code.
    pub fn code(&mut self, column: usize, found: f64, line: u64) {
        let codes = &mut self.oddities.codes;
        match codes.iter_mut().find(|code| (code.0, code.1) == (column, found)) {
            Some(code) => code.2 += 1,
            None => codes.push((column, found, 1, line)),
        }
    }

    /// Adds a row; values in the order of [`COLUMNS`].
    pub fn accept(&mut self, line: u64, unix_us: i64, offset: Offset, values: [Option<f64>; WIDTH]) {
        match self.offset {
            None => self.offset = Some(offset),
            Some(first) => self.mixed_offsets |= first != offset,
        }
        let row = ObservedRow::of(unix_us, values);
        if let (Some(last), Some(&earlier)) = (self.rows.last(), self.lines.last())
            && unix_us <= last.unix_us
        {
            let time = time_label(unix_us, offset);
            let kind = if unix_us == last.unix_us {
                ProblemKind::Duplicate { time, earlier }
            } else {
                ProblemKind::Backward { time, earlier }
            };
            let problem = Problem { line: Some(line), column: Some(COLUMNS[0]), kind };
            self.oddities.repeats.push((problem, repeat(&self.rows, &row, offset)));
            return;
        }
        self.rows.push(row);
        self.lines.push(line);
    }

    /// The record, or the list of problems. `label` is the moment of a step that the times name.
    pub fn finish(mut self, path: &Path, label: Label) -> Result<ObservedRecord, WeatherFileError> {
        self.forgive();
        let mut step = Span::ZERO;
        // The later checks would only repeat what is already wrong.
        if self.problems.is_empty() {
            step = self.check_step();
        }
        if self.problems.is_empty() {
            self.check_depths(step);
        }
        if self.problems.is_empty() {
            self.check_columns();
        }
        if !self.problems.is_empty() {
            self.problems.sort_by_key(|problem| problem.line.unwrap_or(0));
            let path = path.to_owned();
            return Err(WeatherFileError::Invalid { path, problems: self.problems, omitted: self.omitted });
        }
        let offset = self.offset.unwrap_or(Offset::UTC);
        if self.mixed_offsets {
            self.warnings.push(format!(
                "times have more than one UTC offset, as with daylight saving; years are matched in the first, {offset}"
            ));
        }
        let back = match label {
            Label::Start => 0,
            Label::Middle => step.0 / 2,
            Label::End => step.0,
        };
        for row in &mut self.rows {
            row.unix_us -= back;
        }
        let coldest = coldest(&self.rows, offset);
        let mut record = ObservedRecord {
            path: path.to_owned(),
            rows: self.rows,
            step,
            offset,
            warnings: self.warnings,
            coldest,
            library: None,
        };
        let doubts = doubts::doubts(&record);
        record.warnings.extend(doubts);
        Ok(record)
    }

    /// Turns oddities into warnings if they are few, into problems if they are many.
    fn forgive(&mut self) {
        for code in codes::take(&mut self.rows, &self.lines, &std::mem::take(&mut self.oddities.candidates)) {
            self.code(code.column, code.code, code.line);
        }
        let oddities = std::mem::take(&mut self.oddities);
        for (column, code, count, line) in oddities.codes {
            let name = COLUMNS[column];
            self.warn(format!("column {name}: {count} values of {code}, first in line {line}, are taken as missing"));
        }
        if let Some((count, line)) = oddities.words {
            self.warn(format!("{count} words for a missing value, first in line {line}, are taken as missing"));
        }
        if let Some((count, line)) = oddities.still_gusts {
            self.warn(format!(
                "column gust_m_s: {count} gusts of 0 beside a wind, first in line {line}, are taken as \"no gust was reported\""
            ));
        }
        if let Some((count, line)) = oddities.traces {
            self.warn(format!("column rain_mm: {count} traces (T), first in line {line}, count as no rain"));
        }
        if let Some((count, line)) = oddities.marked {
            self.warn(format!("{count} values carry a letter of doubt, first in line {line}; their numbers are used"));
        }
        let allowed = self.rows.len() / ODD_ROWS;
        self.leave_out(oddities.outliers);
        // An hour that occurs twice is up to sixty rows of a file of minutes.
        let (forgiven, refused): (Vec<_>, Vec<_>) =
            oddities.repeats.into_iter().partition(|(_, why)| *why != Repeat::Unexplained);
        let few = forgiven.len() <= allowed;
        for (why, what, cause) in [
            (Repeat::Copy, "that copy an earlier row", ""),
            (
                Repeat::Autumn,
                "with a time that was there before",
                "; this looks like the end of daylight saving: times must keep one offset from UTC all year",
            ),
        ] {
            let mut these = forgiven.iter().filter(|(_, reason)| *reason == why);
            if let Some((first, _)) = these.next().filter(|_| few) {
                let count = 1 + these.count();
                self.warn(format!("{count} rows {what} are left out, first {first}{cause}"));
            }
        }
        for (problem, _) in forgiven.into_iter().filter(|_| !few).chain(refused) {
            self.problem(problem.line, problem.column, problem.kind);
        }
    }

    /// Warns of outliers that were left out, or refuses the file if they are many.
    fn leave_out(&mut self, outliers: Vec<Problem>) {
        let few = outliers.len() <= self.rows.len() / ODD_ROWS;
        for problem in outliers {
            if few {
                self.warn(format!("left out as an outlier: {problem}"));
            } else {
                self.problem(problem.line, problem.column, problem.kind);
            }
        }
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

    /// Depths that cannot fall in one step are outliers like others: left out if they are few.
    fn check_depths(&mut self, step: Span) {
        let high = most_rain_mm(step.hours());
        let mut found = Vec::new();
        for (row, line) in self.rows.iter_mut().zip(&self.lines) {
            if let Some(depth) = row.rain_mm.take_if(|depth| *depth > high) {
                let kind = ProblemKind::Range { found: depth, unit: "mm in one step", low: 0.0, high };
                found.push(Problem { line: Some(*line), column: Some(COLUMNS[1]), kind });
            }
        }
        self.leave_out(found);
    }

    /// That depths do not add up, and that rain, temperature and wind hold anything at all.
    fn check_columns(&mut self) {
        let depths: Vec<f64> = self.rows.iter().filter_map(|row| row.rain_mm).collect();
        let rises = depths.windows(2).filter(|pair| pair[1] > pair[0]).count();
        let falls = depths.windows(2).filter(|pair| pair[1] < pair[0]).count();
        if rises >= RISES && 4 * falls < rises {
            return self.problem(None, Some(COLUMNS[1]), ProblemKind::RunningTotal { rises, falls });
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

/// Calls `each` with every record and its line until it says false. Errors are the system's.
pub(super) fn records(
    reading: &mut Reading,
    input: BufReader<File>,
    mut each: impl FnMut(&mut Reading, &csv::StringRecord, u64) -> bool,
) -> Result<(), std::io::Error> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .flexible(true)
        .has_headers(false)
        .trim(csv::Trim::All)
        .from_reader(input);
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(false) => return Ok(()),
            Ok(true) => {}
            Err(error) => match error.into_kind() {
                csv::ErrorKind::Io(error) => return Err(error),
                // With ragged rows allowed and nothing deserialised, only bad UTF-8 is left.
                _ => {
                    let line = reader.position().line();
                    reading.problem(Some(line), None, ProblemKind::NotText);
                    return Ok(());
                }
            },
        }
        let line = record.position().map_or(0, csv::Position::line);
        if !each(reading, &record, line) {
            return Ok(());
        }
    }
}

/// Whether a time lies in the small hours of a Sunday in autumn (October and November in the north, March and April in
/// the south), when clocks are put back.
fn clocks_change(unix_us: i64, offset: Offset) -> bool {
    Timestamp::from_microsecond(unix_us).is_ok_and(|time| {
        let civil = offset.to_datetime(time);
        civil.weekday() == jiff::civil::Weekday::Sunday && civil.hour() < 4 && [3, 4, 10, 11].contains(&civil.month())
    })
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
