//! Observed weather: a year of airport observations against independently computed statistics, playback rules, and
//! one test per kind of broken file.

mod common;

use common::{Record, data, number, records};
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::season::{Calendar, Site};
use dooryard::scenario::weather::Gaps;
use dooryard::world::clock::LocalClock;
use dooryard::world::sun;
use dooryard::world::weather::file_error::{MOST_PROBLEMS, ProblemKind};
use dooryard::world::weather::{Conditions, ObservedRecord, SeasonWeather, WeatherFileError};
use jiff::civil::{Date, date};
use std::io::Write as _;

fn year_2013() -> ObservedRecord {
    ObservedRecord::read(&data("weather/nyc2013_lga_hourly.csv")).unwrap()
}

fn stat(table: &str) -> Record {
    records(&format!("weather/stats/{table}.csv")).remove(0)
}

fn clock(zone: &str, first_day: Date, last_day: Date) -> LocalClock {
    LocalClock::new(&Calendar { first_day, last_day }, zone).unwrap()
}

fn site() -> Site {
    Site {
        latitude_deg: 40.777,
        longitude_deg: -73.873,
        time_zone: "America/New_York".to_owned(),
        door_faces_deg: 180.0,
        wind_factor: 0.5,
    }
}

/// Writes a file and reads it.
fn read(content: impl AsRef<[u8]>) -> Result<ObservedRecord, WeatherFileError> {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(content.as_ref()).unwrap();
    ObservedRecord::read(file.path())
}

/// Line, column and kind of a problem.
type Found = (Option<u64>, Option<&'static str>, ProblemKind);

/// A file that must fail: its problems and the whole message.
fn fails(content: impl AsRef<[u8]>) -> (Vec<Found>, String) {
    let error = read(content).unwrap_err();
    let message = error.to_string();
    let WeatherFileError::Invalid { problems, .. } = error else { panic!("{message}") };
    (problems.into_iter().map(|p| (p.line, p.column, p.kind)).collect(), message)
}

const HEADER: &str = "time,rain_mm,temperature_c,wind_m_s,gust_m_s\n";

/// Hourly rows from midnight UTC of a June day.
fn hours(fields: &[&str]) -> String {
    let row = |(hour, fields): (usize, &&str)| {
        let (day, hour) = (10 + hour / 24, hour % 24);
        format!("2024-06-{day}T{hour:02}:00:00Z,{fields}\n")
    };
    HEADER.to_owned() + &fields.iter().enumerate().map(row).collect::<String>()
}

#[test]
fn the_record_agrees_with_independent_statistics() {
    let record = year_2013();
    let (summary, meteo) = (stat("summary"), stat("meteo"));
    assert_eq!(record.step(), Span::HOUR);
    assert_eq!(record.rows().len() as f64, number(&summary, "rows"));
    let rain: Vec<f64> = record.rows().iter().filter_map(|row| row.rain_mm).collect();
    let total: f64 = rain.iter().sum();
    assert!((total - number(&summary, "total_mm")).abs() < 1e-6, "{total}");
    assert_eq!(record.rows().len() - rain.len(), number(&summary, "missing") as usize);
    let wet = rain.iter().filter(|depth| **depth >= 0.1).count() as f64 / rain.len() as f64;
    assert!((wet - number(&summary, "wet_hour_frac_0p1")).abs() < 5e-5, "{wet}");
    assert_eq!(rain.iter().copied().fold(0.0, f64::max), number(&summary, "max_1h_mm"));
    let check = |values: Vec<f64>, mean: f64, low: f64, high: f64| {
        let average = values.iter().sum::<f64>() / values.len() as f64;
        assert!((average - mean).abs() < 5e-4, "{average}, expected {mean}");
        assert_eq!(values.iter().copied().fold(f64::INFINITY, f64::min), low);
        assert_eq!(values.iter().copied().fold(f64::NEG_INFINITY, f64::max), high);
    };
    let temperature = record.rows().iter().filter_map(|row| row.temperature_c).collect();
    check(temperature, number(&meteo, "t_mean"), number(&meteo, "t_min"), number(&meteo, "t_max"));
    let wind = record.rows().iter().filter_map(|row| row.wind_m_s).collect();
    check(wind, number(&meteo, "wind_mean"), 0.0, number(&meteo, "wind_max"));
    let gusts: Vec<f64> = record.rows().iter().filter_map(|row| row.gust_m_s).collect();
    assert_eq!(gusts.len() as f64, number(&meteo, "gust_n"));
    assert_eq!(gusts.iter().copied().fold(0.0, f64::max), number(&meteo, "gust_max"));
    let gaps = record.gap_report();
    let count = |column: &str| gaps.iter().find(|gap| gap.column == column).unwrap().count;
    assert_eq!((count("time"), count("rain_mm"), count("wind_m_s")), (0, 24, 24));
    assert_eq!(count("gust_m_s") as usize, record.rows().len() - gusts.len());
}

/// The fixed offset of the file is that of Etc/GMT+5, so that local months are the table's months.
#[test]
fn monthly_totals_survive_playback() {
    let record = year_2013();
    for row in records("weather/stats/monthly_totals.csv") {
        let first = date(2013, number(&row, "month") as i8, 1);
        let clock = clock("Etc/GMT+5", first, first.last_of_month());
        let weather = record.season(&clock, &site(), Gaps::Dry).unwrap();
        let total = weather.total_rain_mm(&clock);
        assert!((total - number(&row, "rain_mm")).abs() < 1e-6, "{row:?}: {total}");
        assert_eq!(weather.steps[0].from, Instant::START);
        assert!(weather.steps.windows(2).all(|pair| pair[0].from < pair[1].from));
    }
}

/// Wet spells of the played season; an empty hour ends a spell, as in the table.
#[test]
fn spells_survive_playback() {
    let record = year_2013();
    let clock = clock("Etc/GMT+5", date(2013, 1, 1), date(2013, 12, 30));
    let weather = record.season(&clock, &site(), Gaps::Dry).unwrap();
    let mut wet_spells = Vec::new();
    let mut running = 0;
    for step in &weather.steps {
        if step.rain_mm_h > 0.0 {
            running += 1;
        } else if running > 0 {
            wet_spells.push(running);
            running = 0;
        }
    }
    let spells = stat("spells");
    assert_eq!(spells["kind"], "wet");
    let longest = *wet_spells.iter().max().unwrap();
    assert_eq!(f64::from(longest), number(&spells, "max_h"));
    let hours: i32 = wet_spells.iter().sum();
    let mean = f64::from(hours) / wet_spells.len() as f64;
    assert_eq!(wet_spells.len() as f64, number(&spells, "n"));
    assert!((mean - number(&spells, "mean_h")).abs() < 5e-4, "{mean}");
    let expected = Span(i64::from(hours) * Span::HOUR.0);
    assert_eq!(weather.rain_time(&clock), expected);
}

#[test]
fn gaps_are_refused_filled_or_dry() {
    let record = year_2013();
    let season = clock("America/New_York", date(2013, 4, 1), date(2013, 10, 31));
    let error = record.season(&season, &site(), Gaps::Refuse).unwrap_err();
    let text = error.to_string();
    assert!(matches!(error, WeatherFileError::Gaps { missing: 12, .. }), "{text}");
    assert!(text.contains("2013-07") && text.contains("no rain_mm, temperature_c, wind_m_s"), "{text}");
    assert!(text.contains("and 7 more") && text.contains("\"repeat\""), "{text}");
    // May and June 2013 have no gap at all.
    let early_summer = clock("Etc/GMT+5", date(2013, 5, 1), date(2013, 6, 30));
    assert!(record.season(&early_summer, &site(), Gaps::Refuse).is_ok());
}

fn play(content: &str, gaps: Gaps) -> (SeasonWeather, LocalClock) {
    let clock = clock("UTC", date(2024, 6, 10), date(2024, 6, 11));
    let record = read(content).unwrap();
    (record.season(&clock, &site(), gaps).unwrap(), clock)
}

fn two_days_with_a_hole() -> String {
    let mut fields = vec!["0,10,2,"; 48];
    fields[5] = "1.5,11,4,7";
    fields[28] = "0,20,3,9";
    fields[29] = ",,,";
    hours(&fields)
}

#[test]
fn a_dry_gap_keeps_the_last_temperature_and_wind() {
    let (weather, clock) = play(&two_days_with_a_hole(), Gaps::Dry);
    let hole = weather.at(Instant::from_seconds(29.5 * 3600.0));
    assert_eq!((hole.rain_mm_h, hole.temperature_c, hole.wind_m_s, hole.gust_m_s), (0.0, 20.0, 3.0, 4.5));
    assert_eq!(weather.total_rain_mm(&clock), 1.5);
    assert_eq!(weather.rain_time(&clock), Span::HOUR);
}

#[test]
fn a_repeated_gap_is_the_same_hour_of_the_day_before() {
    let (weather, clock) = play(&two_days_with_a_hole(), Gaps::Repeat);
    let hole = weather.at(Instant::from_seconds(29.5 * 3600.0));
    assert_eq!((hole.rain_mm_h, hole.temperature_c, hole.wind_m_s, hole.gust_m_s), (1.5, 11.0, 4.0, 7.0));
    assert_eq!(weather.total_rain_mm(&clock), 3.0);
    // A gust that is not reported: 1.5 times the wind. Sky: 0.25 in rain, 0.65 otherwise.
    assert_eq!((weather.steps[0].gust_m_s, weather.steps[0].clearness), (3.0, 0.65));
    assert_eq!((weather.steps[5].gust_m_s, weather.steps[5].clearness), (7.0, 0.25));
}

#[test]
fn a_gap_before_everything_is_dry_even_when_repeated() {
    let text = hours(&["0,10,2,"; 48]).replace("2024-06-10T00:00:00Z,0,10,2,", "2024-06-10T00:00:00Z,,,,");
    let (weather, _) = play(&text, Gaps::Repeat);
    assert_eq!((weather.steps[0].rain_mm_h, weather.steps[0].temperature_c), (0.0, 10.0));
}

#[test]
fn absent_rows_are_gaps() {
    let text = hours(&["0.5,10,2,"; 48]).replace("2024-06-10T07:00:00Z,0.5,10,2,\n", "");
    let record = read(&text).unwrap();
    assert_eq!(record.gap_report()[0].count, 1);
    let clock = clock("UTC", date(2024, 6, 10), date(2024, 6, 11));
    let error = record.season(&clock, &site(), Gaps::Refuse).unwrap_err().to_string();
    assert!(error.contains("2024-06-10T07:00:00+00:00: no row"), "{error}");
    assert_eq!(record.season(&clock, &site(), Gaps::Dry).unwrap().total_rain_mm(&clock), 23.5);
}

/// A season of another year: same month, day and hour in the record's own offset.
#[test]
fn another_year_is_matched_by_the_calendar() {
    let record = year_2013();
    let spring = clock("Etc/GMT+5", date(2025, 3, 1), date(2025, 5, 31));
    let total = record.season(&spring, &site(), Gaps::Dry).unwrap().total_rain_mm(&spring);
    assert!((total - (61.722 + 29.21 + 126.746)).abs() < 1e-6, "{total}");
    // 2024 has 29 February, 2013 has not: 28 February is played twice.
    let of = |first: Date, last: Date| {
        let clock = clock("Etc/GMT+5", first, last);
        record.season(&clock, &site(), Gaps::Dry).unwrap().total_rain_mm(&clock)
    };
    let twice = of(date(2024, 2, 28), date(2024, 2, 29));
    assert!((twice - 2.0 * of(date(2013, 2, 28), date(2013, 2, 28))).abs() < 1e-9);
    assert!((of(date(2024, 2, 1), date(2024, 2, 28)) - 80.264).abs() < 1e-6);
    // Over New Year the record starts again.
    let winter = of(date(2025, 12, 1), date(2026, 1, 31));
    assert!((winter - (113.284 + 64.262)).abs() < 1e-6, "{winter}");
    // Half inside the record, half after it.
    let winter = of(date(2013, 12, 1), date(2014, 1, 31));
    assert!((winter - (113.284 + 64.262)).abs() < 1e-6, "{winter}");
}

#[test]
fn a_leap_day_in_the_record_is_skipped_in_other_years() {
    let mut text = HEADER.to_owned();
    for day in ["02-28", "02-29", "03-01"] {
        for hour in 0..24 {
            let depth = if day == "02-29" { 1 } else { 0 };
            text.push_str(&format!("2024-{day}T{hour:02}:00:00Z,{depth},5,1,\n"));
        }
    }
    let record = read(text).unwrap();
    let rain = |year: i16| {
        let clock = clock("UTC", date(year, 2, 28), date(year, 3, 1));
        record.season(&clock, &site(), Gaps::Refuse).unwrap().total_rain_mm(&clock)
    };
    assert_eq!((rain(2023), rain(2024), rain(2028)), (0.0, 24.0, 24.0));
}

/// A step that straddles the season's start is cut there; half-hour offsets keep the record's phase.
#[test]
fn steps_keep_the_phase_of_the_record() {
    let record = read(hours(&["1,10,2,"; 48])).unwrap();
    let clock = clock("Asia/Kolkata", date(2024, 6, 11), date(2024, 6, 11));
    let weather = record.season(&clock, &site(), Gaps::Refuse).unwrap();
    // Local midnight is 18:30 UTC.
    assert_eq!(weather.steps[1].from, Instant::from_seconds(1_800.0));
    assert!((weather.total_rain_mm(&clock) - 24.0).abs() < 1e-9);
}

/// Irradiance of exactly 70 % of the clear sky comes back as clearness 0.7 while the sun is up.
#[test]
fn irradiance_gives_clearness() {
    let mut text = "time,rain_mm,temperature_c,wind_m_s,gust_m_s,ghi_w_m2\n".to_owned();
    let start = jiff::Timestamp::from_second(1_718_000_000 / 86_400 * 86_400).unwrap();
    for hour in 0..24 {
        let time = start + jiff::SignedDuration::from_hours(hour);
        let middle = time.as_second() as f64 + 1_800.0;
        let sun = sun::position(middle, site().latitude_deg, site().longitude_deg);
        text.push_str(&format!("{time},0,10,2,,{:.3}\n", 0.7 * sun::clear_sky_w_m2(sun.elevation_deg)));
    }
    let record = read(text).unwrap();
    let clock = clock("UTC", date(2024, 6, 10), date(2024, 6, 10));
    let weather = record.season(&clock, &site(), Gaps::Refuse).unwrap();
    let near = |step: &Conditions, value: f64| (step.clearness - value).abs() < 1e-4;
    // New York: the sun rises at 09:25 UTC; in the evening it is up until 00:27 UTC of the next day.
    assert!(weather.steps[10..].iter().all(|step| near(step, 0.7)), "{:?}", weather.steps);
    assert!(weather.steps[1..9].iter().all(|step| near(step, 0.65)), "{:?}", weather.steps);
}

#[test]
fn harmless_oddities_are_accepted() {
    let text = format!("\u{feff}{}", hours(&["0,10,2,", "0.2, 11 ,2,5"]));
    let text = text.replace("gust_m_s\n", "gust_m_s,station\n# a comment\n").replace("2,\n", "2,,x\n");
    let text = text.replace("2,5\n", "2,5,\"y, z\"\n").replace('\n', "\r\n");
    let record = read(&text).unwrap();
    assert_eq!(record.rows().len(), 2);
    assert_eq!(record.rows()[1].temperature_c, Some(11.0));
    assert_eq!(record.warnings().len(), 3, "{:?}", record.warnings());
    assert!(record.warnings()[0].contains("byte-order mark"));
    assert_eq!(record.warnings()[1], "the column `station` is not used");
    assert!(record.warnings()[2].starts_with("50 % of the winds have no gust"));
    let without_gust =
        "time,rain_mm,temperature_c,wind_m_s\n2024-06-10T00:00:00Z,0,1,2\n2024-06-10T01:00:00+02:00,0,1,2";
    assert!(matches!(&fails(without_gust).0[..], [(Some(3), _, ProblemKind::Backward { earlier: 2, .. })]));
    let without_gust = without_gust.replace("01:00:00+02", "03:00:00+02");
    let record = read(&without_gust).unwrap();
    assert_eq!(record.warnings().len(), 2, "{:?}", record.warnings());
    assert!(record.warnings()[0].contains("gust_m_s") && record.warnings()[1].contains("more than one UTC offset"));
}

#[test]
fn missing_file_and_folder() {
    let folder = tempfile::tempdir().unwrap();
    for path in [folder.path().join("absent.csv"), folder.path().to_owned()] {
        let error = ObservedRecord::read(&path).unwrap_err();
        assert!(matches!(error, WeatherFileError::Unreadable { .. }), "{error}");
        assert!(error.to_string().contains(path.to_str().unwrap()));
        assert!(std::error::Error::source(&error).is_some());
    }
}

#[test]
fn empty_and_binary_files() {
    assert_eq!(fails("").0, [(None, None, ProblemKind::Empty)]);
    assert_eq!(fails("# only\n# comments\n").0, [(None, None, ProblemKind::Empty)]);
    assert_eq!(fails(HEADER).0, [(None, None, ProblemKind::TooFewRows { found: 0 })]);
    assert_eq!(fails(hours(&["0,1,2,3"])).0, [(None, None, ProblemKind::TooFewRows { found: 1 })]);
    assert_eq!(fails([0x89, b'P', b'N', b'G', 0, 0, 0, 1]).0, [(None, None, ProblemKind::NotText)]);
    // Latin-1 degree sign in the second row.
    let mut bytes = hours(&["0,1,2,3"; 3]).into_bytes();
    let place = bytes.len() - 10;
    bytes[place] = 0xB0;
    assert!(matches!(&fails(bytes).0[..], [(Some(_), None, ProblemKind::NotText)]));
    // UTF-16 begins with a mark and is full of zero bytes.
    let utf16: Vec<u8> = "\u{feff}time,rain_mm\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(fails(utf16).0, [(None, None, ProblemKind::NotText)]);
}

#[test]
fn header_problems() {
    let (problems, text) = fails("Time,rain,temperature_c,wind_m_s,wind_m_s\n");
    assert_eq!(problems.len(), 3, "{text}");
    assert!(text.contains("line 1, column time: the column is missing; is it `Time`?"), "{text}");
    assert!(text.contains("line 1, column rain_mm: the column is missing; is it `rain`?"), "{text}");
    assert!(text.contains("line 1, column wind_m_s: the column is in the header more than once"), "{text}");
    let (_, text) = fails("time;rain_mm;temperature_c;wind_m_s\n2024-06-10T00:00:00Z;0;1;2\n");
    assert!(text.contains("the fields are separated by semicolons"), "{text}");
}

#[test]
fn field_problems_name_line_column_and_remedy() {
    let number = |found: &str| ProblemKind::Number { found: found.to_owned() };
    let (problems, text) = fails(hours(&["0,10,2,", "x,10?,inf,", "0,\"1,5\",-inf,1e999"]));
    let expected = [
        (Some(3), Some("rain_mm"), number("x")),
        (Some(3), Some("temperature_c"), number("10?")),
        (Some(3), Some("wind_m_s"), number("inf")),
        (Some(4), Some("temperature_c"), number("1,5")),
        (Some(4), Some("wind_m_s"), number("-inf")),
        (Some(4), Some("gust_m_s"), number("1e999")),
    ];
    assert_eq!(problems, expected, "{text}");
    assert!(text.contains("line 3, column rain_mm: `x` is not a number"), "{text}");
    let (problems, text) = fails(hours(&["-0.1,10,2,", "0,-998,2,", "0,99.8,121,130", "0,10,-1,"]));
    let found: Vec<f64> = problems
        .iter()
        .map(|problem| match problem.2 {
            ProblemKind::Range { found, .. } => found,
            _ => panic!("{text}"),
        })
        .collect();
    assert_eq!(found, [-0.1, -998.0, 99.8, 121.0, 130.0, -1.0]);
    assert!(text.contains("line 3, column temperature_c: -998 degC is outside -90 to 60 degC"), "{text}");
    assert!(text.contains("99.8 degC is outside -90 to 60 degC") && text.contains("in degrees Fahrenheit?"), "{text}");
    // 501 mm in an hour.
    let (problems, text) = fails(hours(&["0,10,2,", "501,10,2,"]));
    assert!(matches!(problems[..], [(Some(3), Some("rain_mm"), ProblemKind::Range { high: 500.0, .. })]), "{text}");
    let (problems, _) = fails(hours(&["0,10,2,", "0,10,2"]));
    assert_eq!(problems, [(Some(3), None, ProblemKind::FieldCount { found: 4, allowed: 5 })]);
    let (problems, _) = fails(hours(&["0,,2,", "0,,2,"]));
    assert_eq!(problems, [(None, Some("temperature_c"), ProblemKind::EmptyColumn)]);
}

#[test]
fn time_problems() {
    let file = |times: &[&str]| HEADER.to_owned() + &times.iter().map(|t| format!("{t},0,10,2,\n")).collect::<String>();
    for bad in ["", "yesterday", "2024-06-10 00:00", "2024-06-10T00:00:00", "2024-13-01T00:00:00Z", "1718000000"] {
        let (problems, text) = fails(file(&["2024-06-10T00:00:00Z", bad, "2024-06-10T02:00:00Z"]));
        assert!(matches!(problems[..], [(Some(3), Some("time"), ProblemKind::Time { .. })]), "{bad}: {text}");
    }
    let hour = |h: i32| format!("2024-06-10T{h:02}:00:00Z");
    let (problems, text) = fails(file(&[&hour(0), &hour(1), &hour(1), &hour(0), &hour(2)]));
    assert!(matches!(problems[0], (Some(4), _, ProblemKind::Duplicate { earlier: 3, .. })), "{text}");
    assert!(matches!(problems[1], (Some(5), _, ProblemKind::Backward { earlier: 3, .. })), "{text}");
    assert!(text.contains("line 4, column time: the time 2024-06-10T01:00:00+00:00 is that of line 3"), "{text}");
    let (problems, text) = fails(file(&[&hour(0), &hour(1), &hour(2), "2024-06-10T02:30:00Z"]));
    assert!(matches!(problems[..], [(Some(5), _, ProblemKind::Irregular { .. })]), "{text}");
    assert!(text.contains("30 min after the row above; the file's step is 60 min"), "{text}");
    for step in ["2024-06-12T00:00:00Z", "2024-06-10T07:00:00Z", "2024-06-10T00:00:00.5Z"] {
        let (problems, text) = fails(file(&[&hour(0), step]));
        assert!(matches!(problems[..], [(None, _, ProblemKind::Step { .. })]), "{text}");
    }
}

#[test]
fn no_more_than_twenty_problems_are_listed() {
    let error = read(hours(&["x,10,2,"; 40])).unwrap_err();
    let WeatherFileError::Invalid { problems, omitted, .. } = &error else { panic!("{error}") };
    assert_eq!((problems.len(), *omitted), (MOST_PROBLEMS, 20));
    assert!(error.to_string().ends_with("and 20 more"));
}
