//! EnergyPlus weather files (U.S. Department of Energy, *Auxiliary Programs*, "EnergyPlus Weather File (EPW) Data
//! Dictionary"; from memory).
//!
//! Eight lines of head, the first with the offset from UTC as its ninth field; then rows of year, month, day, hour 1 to
//! 24, minute, and 29 or more values by place. The time names the end of the step, in local standard time. Files of
//! typical years join months of different years; where the years written do not run on, or the months run through one year
//! only, all are laid in one year.

use std::fs::File;
use std::io::BufReader;

use jiff::tz::Offset;

use super::file_error::ProblemKind;
use super::observed::WIDTH;
use super::reading::Reading;
use super::tmy3::{NOMINAL_YEAR, end_of, offset_of};

/// Places in a row in the order of the record, and the code from which on a value is missing.
const PLACES: [Option<(usize, f64)>; WIDTH] = [
    None,
    Some((33, 999.0)),
    Some((6, 99.9)),
    Some((21, 999.0)),
    None,
    Some((13, 9_999.0)),
    Some((7, 99.9)),
    Some((20, 999.0)),
];

/// Reads all rows. Errors are the system's; everything else becomes a problem.
pub(super) fn table(reading: &mut Reading, input: BufReader<File>) -> Result<(), std::io::Error> {
    let mut offset = None;
    let mut rows: Vec<(u64, csv::StringRecord)> = Vec::new();
    reading.warn("EPW: times name the end of a step and are moved to its start");
    super::reading::records(reading, input, |reading, record, line| {
        let first = record.get(0).unwrap_or_default();
        if first.eq_ignore_ascii_case("LOCATION") {
            offset = record.get(8).and_then(|text| text.parse::<f64>().ok()).and_then(offset_of);
        }
        if offset.is_none() {
            let what = "the ninth field of the LOCATION line must be the offset from UTC in hours".to_owned();
            reading.problem(Some(line), None, ProblemKind::Head { what });
            return false;
        }
        if first.parse::<i16>().is_ok() {
            rows.push((line, record.clone()));
        }
        true
    })?;
    let Some(offset) = offset else { return Ok(()) };
    if stitched(&rows) {
        reading.warn("EPW: the file joins months of different years; they are laid in one year");
    }
    let nominal = stitched(&rows).then_some(NOMINAL_YEAR);
    for (line, record) in &rows {
        row(reading, record, *line, offset, nominal);
    }
    Ok(())
}

/// Whether months of different years were joined: the years go back or leap, or they differ although the months run through
/// a single year.
fn stitched(rows: &[(u64, csv::StringRecord)]) -> bool {
    let number = |row: &(u64, csv::StringRecord), place| {
        row.1.get(place).and_then(|text: &str| text.parse::<i32>().ok()).unwrap_or(0)
    };
    let steps = || rows.windows(2).map(|pair| number(&pair[1], 0) - number(&pair[0], 0));
    let one_year = rows
        .windows(2)
        .all(|pair| [1, 2, 3, 4].map(|p| number(&pair[0], p)) < [1, 2, 3, 4].map(|p| number(&pair[1], p)));
    steps().any(|step| !(0..=1).contains(&step)) || (one_year && steps().any(|step| step != 0))
}

fn row(reading: &mut Reading, record: &csv::StringRecord, line: u64, offset: Offset, nominal: Option<i16>) {
    let whole = |place: usize| record.get(place).and_then(|text| text.parse::<i64>().ok());
    let time = match (whole(0), whole(1), whole(2), whole(3), whole(4)) {
        (
            Some(year @ 1..=9998),
            Some(month @ 1..=12),
            Some(day @ 1..=31),
            Some(hour @ 1..=24),
            Some(minute @ 0..=60),
        ) => {
            // A whole hour is written as minute 0 or 60 of the hour that ends.
            let within = if minute == 0 { 60 } else { minute };
            end_of(nominal.unwrap_or(year as i16), month as i8, day as i8, hour - 1, within, offset)
        }
        _ => None,
    };
    let Some(unix_us) = time else {
        let found: Vec<&str> = record.iter().take(5).collect();
        reading.problem(Some(line), Some("time"), ProblemKind::Time { found: found.join(",") });
        return;
    };
    let values = std::array::from_fn(|column| {
        let (place, missing) = PLACES[column]?;
        let text = record.get(place).unwrap_or_default();
        match text.parse::<f64>() {
            Ok(found) if found >= missing => {
                reading.code(column, found, line);
                None
            }
            _ => reading.value(text, column, line),
        }
    });
    reading.accept(line, unix_us, offset, values);
}
