//! A log of readings of something that stands still.
//!
//! Columns: the time (`t`, `time`, `timestamp`; seconds, or RFC 3339; `t_ms` for milliseconds) and `reading`, with the
//! unit behind it if it is another than usual (`reading_mm`). An empty reading is a sample without one.

use std::path::Path;

use jiff::Timestamp;

use super::error::{LogError, ProblemKind};
use super::table::{Complaints, Wanted, read, shorten};
use crate::scenario::measure::Measure;
use crate::scenario::units::{Unit, split_number};

/// One sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogRow {
    /// Line in the file.
    pub line: u64,
    /// Time, s: since the first row for times of day, else as written.
    pub time_s: f64,
    /// The reading in the sensor's usual unit; none where there was none.
    pub reading: Option<f64>,
}

/// A log.
#[derive(Clone, Debug, PartialEq)]
pub struct StillLog {
    /// Samples in order of time.
    pub rows: Vec<LogRow>,
    /// The first time, if the times are times of day.
    pub begins: Option<Timestamp>,
    /// What its owner should know.
    pub warnings: Vec<String>,
}

/// Fewest readings with which anything is worked out: the window for outliers holds so many.
pub const LEAST: usize = 100;
/// Readings of a good log (common practice): 100 s at 20 Hz.
pub const GOOD: usize = 2_000;

const COLUMNS: [Wanted; 2] = [Wanted { name: "t", is: is_time }, Wanted { name: "reading", is: is_reading }];

fn is_time(name: &str) -> bool {
    let name = name.to_lowercase();
    let bare = name.strip_suffix("_ms").or(name.strip_suffix("_s")).unwrap_or(&name);
    ["t", "time", "timestamp"].contains(&bare)
}

fn is_reading(name: &str) -> bool {
    name == "reading" || name.starts_with("reading_")
}

/// How times are written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Times {
    Seconds,
    OfDay,
}

impl Times {
    fn name(self) -> &'static str {
        match self {
            Times::Seconds => "a number of seconds",
            Times::OfDay => "a time of day",
        }
    }
}

/// Readings that are nearer to each other than this have the same time, s.
const LEAST_STEP_S: f64 = 1e-6;

/// Reads a log whose readings are a `measure`; `unit` is that of the column if its heading names none.
///
/// # Errors
/// If it can't be read, or anything in it is wrong: all that is, with lines.
pub fn read_still(path: &Path, measure: &'static Measure, unit: Option<&str>) -> Result<StillLog, LogError> {
    let mut complaints = Complaints::default();
    let Some(table) = read(path, &COLUMNS, "t,reading", &mut complaints)? else {
        return Err(complaints.give_up(path));
    };
    let [time_heading, heading] = &table.headings;
    let to_s = if time_heading.to_lowercase().ends_with("_ms") { 1e-3 } else { 1.0 };
    let symbol = heading.strip_prefix("reading_").or(unit).unwrap_or(measure.unit);
    let own = Unit::parse(measure.unit).unwrap_or(Unit::NONE);
    let Some(given) = Unit::parse(symbol).ok().filter(|given| given.same_dimension(own)) else {
        let kind = ProblemKind::Unit { found: shorten(symbol), wanted: measure.name, unit: measure.unit };
        complaints.add(None, Some(heading), kind);
        return Err(complaints.give_up(path));
    };
    let mut rows: Vec<LogRow> = Vec::with_capacity(table.rows.len());
    let mut first: Option<(Times, u64, Option<Timestamp>)> = None;
    for (line, [time, reading]) in &table.rows {
        let Some((how, at, stamp)) = parsed(time, to_s, first.and_then(|first| first.2)) else {
            complaints.add(Some(*line), Some(time_heading), ProblemKind::Time { found: shorten(time) });
            continue;
        };
        let (was, first_line, _) = *first.get_or_insert((how, *line, stamp));
        if was != how {
            let kind =
                ProblemKind::MixedTimes { found: shorten(time), is: how.name(), was: was.name(), line: first_line };
            complaints.add(Some(*line), Some(time_heading), kind);
            continue;
        }
        if let Some(before) = rows.last().filter(|before| at < before.time_s + LEAST_STEP_S) {
            let how = if at < before.time_s { "before" } else { "the same as" };
            let kind = ProblemKind::Backwards { found: shorten(time), how, earlier: before.line };
            complaints.add(Some(*line), Some(time_heading), kind);
            continue;
        }
        match value(reading, heading) {
            Ok(value) => {
                let reading = value.map(|value| given.convert(value, own));
                rows.push(LogRow { line: *line, time_s: at, reading });
            }
            Err(kind) => complaints.add(Some(*line), Some(heading), kind),
        }
    }
    if !complaints.any() {
        judge(&rows, measure, heading, &mut complaints);
    }
    complaints.finish(path)?;
    Ok(StillLog { rows, begins: first.and_then(|first| first.2), warnings: table.warnings })
}

/// A time: how it is written, s, and itself as a time of day; these count from `start`.
fn parsed(text: &str, to_s: f64, start: Option<Timestamp>) -> Option<(Times, f64, Option<Timestamp>)> {
    if let Ok(seconds) = text.parse::<f64>() {
        return seconds.is_finite().then_some((Times::Seconds, seconds * to_s, None));
    }
    let stamp: Timestamp = text.parse().ok()?;
    let since = stamp.as_nanosecond() - start.unwrap_or(stamp).as_nanosecond();
    Some((Times::OfDay, since as f64 * 1e-9, Some(stamp)))
}

/// A reading; none for an empty field.
fn value(text: &str, column: &str) -> Result<Option<f64>, ProblemKind> {
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        Ok(_) => Err(ProblemKind::NotFinite { found: shorten(text) }),
        Err(_) => Err(match split_number(text) {
            Some((_, unit)) if Unit::parse(unit).is_ok() => {
                let column = column.split('_').next().unwrap_or(column).to_owned();
                ProblemKind::UnitInCell { found: shorten(text), column }
            }
            _ => ProblemKind::Number { found: shorten(text) },
        }),
    }
}

/// Faults of the log as a whole.
fn judge(rows: &[LogRow], measure: &Measure, column: &str, complaints: &mut Complaints) {
    let mut values: Vec<f64> = rows.iter().filter_map(|row| row.reading).collect();
    if values.len() < LEAST {
        let kind = ProblemKind::TooFew { found: values.len(), least: LEAST, good: GOOD };
        complaints.add(None, None, kind);
        return;
    }
    if let Some((line, kind)) = dwarfed(rows) {
        complaints.add(Some(line), None, kind);
        return;
    }
    values.sort_by(f64::total_cmp);
    let shown = |value: f64| measure.show(value);
    if values.first() == values.last() {
        let kind = ProblemKind::AllEqual { count: values.len(), value: shown(values[0]) };
        complaints.add(None, Some(column), kind);
        return;
    }
    let median = values[values.len() / 2];
    // Millimetres among metres, grams among kilograms, centimetres among metres: one in a hundred readings or more
    // within a fifth of such a multiple of the median is no noise.
    for (factor, times) in [("1000", 1e3), ("100", 1e2), ("1/1000", 1e-3), ("1/100", 1e-2)] {
        let of_another = |value: f64| median != 0.0 && (value / (median * times) - 1.0).abs() < 0.2;
        let mut odd = rows.iter().filter(|row| row.reading.is_some_and(of_another));
        let Some(first) = odd.next() else { continue };
        let count = 1 + odd.count();
        // Readings near nothing are what a short return looks like, too: only the larger unit gives itself away there.
        if count >= 3 && count * 100 >= values.len() && (times > 1.0 || count * 10 >= values.len()) {
            let found = shown(first.reading.unwrap_or_default());
            let kind = ProblemKind::MixedUnits { found, factor, median: shown(median), count };
            complaints.add(Some(first.line), Some(column), kind);
            return;
        }
    }
}

/// A log may last so many times as long as its readings: beyond it, more than nine in ten samples are missing.
const LONGEST: f64 = 10.0;

/// The longest gap of a log that is mostly gap.
fn dwarfed(rows: &[LogRow]) -> Option<(u64, ProblemKind)> {
    let mut steps: Vec<f64> = rows.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).collect();
    let longest = rows.windows(2).max_by(|a, b| (a[1].time_s - a[0].time_s).total_cmp(&(b[1].time_s - b[0].time_s)))?;
    let span: f64 = steps.iter().sum();
    steps.sort_by(f64::total_cmp);
    let logged_s = rows.len() as f64 * steps[steps.len() / 2];
    let gap_s = longest[1].time_s - longest[0].time_s;
    (span > LONGEST * logged_s).then_some((longest[1].line, ProblemKind::Gap { gap_s, logged_s }))
}
