//! Typical meteorological year 3: NREL's CSV (Wilcox & Marion 2008, *Users Manual for TMY3 Data Sets*,
//! NREL/TP-581-43156; from memory).
//!
//! A line of the station (its fourth field the offset from UTC in hours), a header, and 8,760 rows that name the end of
//! their hour in local standard time. Months come from different years and are laid one behind another: the years
//! written are ignored. -9900 stands for missing.

use std::fs::File;
use std::io::BufReader;

use jiff::civil;
use jiff::tz::Offset;

use super::file_error::ProblemKind;
use super::observed::WIDTH;
use super::reading::Reading;

/// The year in which the twelve months are laid: like the file it has no 29 February.
pub(super) const NOMINAL_YEAR: i16 = 2001;

/// Columns used, in the order of the record: rain, temperature, wind, gust (none), irradiance, dew point, direction.
const NAMES: [&str; WIDTH] = [
    "Date (MM/DD/YYYY)",
    "Lprecip depth (mm)",
    "Dry-bulb (C)",
    "Wspd (m/s)",
    "",
    "GHI (W/m^2)",
    "Dew-point (C)",
    "Wdir (degrees)",
];

/// Reads all rows. Errors are the system's; everything else becomes a problem.
pub(super) fn table(reading: &mut Reading, input: BufReader<File>) -> Result<(), std::io::Error> {
    let mut offset = None;
    let mut places = [None; WIDTH];
    reading.warn(
        "TMY3: times name the end of an hour and are moved to its start; months of different years are laid in one",
    );
    super::reading::records(reading, input, |reading, record, line| {
        match line_kind(offset, &places) {
            Stage::Station => {
                offset = record.get(3).and_then(|text| text.parse::<f64>().ok()).and_then(offset_of);
                if offset.is_none() {
                    head(reading, line, "the fourth field of the first line must be the offset from UTC in hours");
                    return false;
                }
            }
            Stage::Header => {
                places = NAMES.map(|name| record.iter().position(|field| !name.is_empty() && field == name));
                for name in [NAMES[0], NAMES[1], NAMES[2], NAMES[3], "Time (HH:MM)"] {
                    if !record.iter().any(|field| field == name) {
                        head(reading, line, &format!("the header has no `{name}`"));
                        return false;
                    }
                }
            }
            Stage::Rows(offset) => row(reading, record, line, offset, &places),
        }
        true
    })
}

enum Stage {
    Station,
    Header,
    Rows(Offset),
}

fn line_kind(offset: Option<Offset>, places: &[Option<usize>; WIDTH]) -> Stage {
    match offset {
        None => Stage::Station,
        Some(_) if places[0].is_none() => Stage::Header,
        Some(offset) => Stage::Rows(offset),
    }
}

fn head(reading: &mut Reading, line: u64, what: &str) {
    reading.problem(Some(line), None, ProblemKind::Head { what: what.to_owned() });
}

/// An offset from UTC in hours, as these layouts write it.
pub(super) fn offset_of(hours: f64) -> Option<Offset> {
    let seconds = libm::round(hours * 3_600.0);
    // Clippy-proof range: Offset itself refuses what is beyond a day.
    Offset::from_seconds(seconds as i32).ok().filter(|_| hours.abs() <= 14.0)
}

/// The Unix microseconds of the end of hour `hour` (1 to 24) and `minute` of a day, in the nominal or a real year.
pub(super) fn end_of(year: i16, month: i8, day: i8, hour: i64, minute: i64, offset: Offset) -> Option<i64> {
    let midnight = offset.to_timestamp(civil::Date::new(year, month, day).ok()?.at(0, 0, 0, 0)).ok()?;
    Some(midnight.as_microsecond() + (hour * 60 + minute) * 60_000_000)
}

fn row(reading: &mut Reading, record: &csv::StringRecord, line: u64, offset: Offset, places: &[Option<usize>; WIDTH]) {
    let field = |place: Option<usize>| place.and_then(|place| record.get(place)).unwrap_or_default();
    let date = field(places[0]);
    let clock = field(places[0].map(|place| place + 1));
    let number = |text: Option<&str>| text.and_then(|text| text.parse::<i64>().ok());
    let mut parts = date.split('/');
    let (month, day) = (number(parts.next()), number(parts.next()));
    let mut parts = clock.split(':');
    let (hour, minute) = (number(parts.next()), number(parts.next()));
    let time = match (month, day, hour, minute) {
        (Some(month @ 1..=12), Some(day @ 1..=31), Some(hour @ 0..=24), Some(minute @ 0..=59)) => {
            end_of(NOMINAL_YEAR, month as i8, day as i8, hour, minute, offset)
        }
        _ => None,
    };
    let Some(unix_us) = time else {
        let found = format!("{date} {clock}");
        reading.problem(Some(line), Some("time"), ProblemKind::Time { found });
        return;
    };
    let values = std::array::from_fn(|column| match column {
        0 => None,
        _ => reading.value(field(places[column]), column, line),
    });
    reading.accept(line, unix_us, offset, values);
}
