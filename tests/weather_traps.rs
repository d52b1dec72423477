//! Observed files with the traps that real ones hold: each is survived and named in a warning, or refused by name.

mod common;

use common::{data, number, records};
use dooryard::math::time::Span;
use dooryard::scenario::season::Site;
use dooryard::scenario::weather::units::{RAIN, TEMPERATURE, Units, WIND, named};
use dooryard::scenario::weather::{Label, Layout};
use dooryard::world::sun;
use dooryard::world::weather::{ObservedRecord, WeatherFileError};
use jiff::{SignedDuration, Timestamp};
use std::io::Write as _;

fn read_as(content: &str, layout: Layout, label: Label) -> Result<ObservedRecord, WeatherFileError> {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(content.as_bytes()).unwrap();
    ObservedRecord::read_as(file.path(), layout, label, Units::default())
}

fn read_in(content: &str, units: Units) -> ObservedRecord {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(content.as_bytes()).unwrap();
    ObservedRecord::read_as(file.path(), Layout::Detect, Label::Start, units).unwrap()
}

fn read(content: &str) -> ObservedRecord {
    read_as(content, Layout::Detect, Label::Start).unwrap()
}

/// The one warning that contains `words`.
fn warned(record: &ObservedRecord, words: &str) -> String {
    let found: Vec<&String> = record.warnings().iter().filter(|text| text.contains(words)).collect();
    assert_eq!(found.len(), 1, "`{words}` in {:#?}", record.warnings());
    found[0].clone()
}

const HEADER: &str = "time,rain_mm,temperature_c,wind_m_s,gust_m_s\n";

/// Fifty days of hourly rows from 1 October 2024, 00:00 at -05:00, with the fields of hour `h`.
fn fifty_days(fields: impl Fn(usize) -> String) -> String {
    let start: Timestamp = "2024-10-01T05:00:00Z".parse().unwrap();
    let offset = jiff::tz::Offset::from_hours(-5).unwrap();
    let row = |hour: usize| {
        let time = start + SignedDuration::from_hours(hour as i64);
        format!("{},{}\n", time.display_with_offset(offset), fields(hour))
    };
    HEADER.to_owned() + &(0..1_200).map(row).collect::<String>()
}

fn usual(hour: usize) -> String {
    format!("{},10.5,2.5,4.5", if hour % 40 < 3 { "0.6" } else { "0" })
}

#[test]
fn a_sound_file_has_no_warning() {
    assert_eq!(read(&fifty_days(usual)).warnings(), [""; 0]);
}

#[test]
fn missing_codes_become_missing() {
    let text = fifty_days(|hour| match hour {
        5 => "-999,10,2,4".to_owned(),
        6 => "-9999,99.9,999,4".to_owned(),
        7 => "0,M,2,4".to_owned(),
        _ => usual(hour),
    });
    let record = read(&text);
    assert_eq!(
        (record.rows()[5].rain_mm, record.rows()[6].rain_mm, record.rows()[6].temperature_c),
        (None, None, None)
    );
    assert_eq!((record.rows()[6].wind_m_s, record.rows()[7].temperature_c), (None, None));
    assert!(warned(&record, "-999,").contains("column rain_mm: 1 values of -999, first in line 7"));
    warned(&record, "1 values of 99.9");
    warned(&record, "1 values of 999,");
}

/// Fifty days with irradiance and dew point; `odd` changes the fields of an hour.
fn with_light(odd: impl Fn(usize, &mut [String; 6])) -> String {
    let header = "time,rain_mm,temperature_c,wind_m_s,gust_m_s,ghi_w_m2,dew_point_c\n";
    let body = fifty_days(|hour| {
        let ghi = if (6..18).contains(&(hour % 24)) { 40 * (6 - (hour % 24).abs_diff(12)) + 7 * hour % 60 } else { 0 };
        let mut fields = [usual(hour).split(',').map(str::to_owned).collect(), vec![ghi.to_string(), "4.5".to_owned()]]
            .concat()
            .try_into()
            .unwrap();
        odd(hour, &mut fields);
        fields.join(",")
    });
    body.replacen(HEADER, header, 1)
}

/// Codes that the limits of a column allow: they stand apart from all other values, or there are too many of them.
#[test]
fn codes_that_could_be_values() {
    // Field, code, what is left of the column's largest (or coldest) value.
    for (field, code) in [
        (0, "99.9"),
        (0, "999.9"),
        (0, "9999"),
        (2, "99"),
        (2, "99.9"),
        (3, "99"),
        (3, "99.9"),
        (4, "999"),
        (4, "999.9"),
        (5, "-99"),
        (5, "-99.9"),
    ] {
        for every in [10, 1_000] {
            let record = read(&with_light(|hour, fields| {
                if hour % every == 5 {
                    fields[field] = code.to_owned();
                }
            }));
            let count = (0..1_200).filter(|hour| hour % every == 5).count();
            let row = record.rows()[5];
            let value =
                [row.rain_mm, row.temperature_c, row.wind_m_s, row.gust_m_s, row.ghi_w_m2, row.dew_point_c][field];
            assert_eq!(value, None, "{field} {code}");
            let warning = warned(&record, "are taken as missing");
            assert!(warning.contains(&format!("{count} values of {code}, first in line 7")), "{warning}");
            let left = record.rows().iter().flat_map(|row| [row.rain_mm, row.wind_m_s, row.gust_m_s]);
            assert_eq!(left.flatten().fold(0.0, f64::max), 4.5);
        }
    }
}

/// The same numbers as values: a wet day, a bright hour, a gale in km/h, a hot day in Fahrenheit.
#[test]
fn values_that_look_like_codes() {
    let start: Timestamp = "2024-01-01T00:00:00Z".parse().unwrap();
    let day = |n: i64| {
        let depth = if n == 10 { 99.9 } else { f64::from(u8::from(n % 20 == 1)) * 61.0 };
        format!("{},{depth},10.5,2.5,4.5\n", start + SignedDuration::from_hours(24 * n))
    };
    let wet = read(&(HEADER.to_owned() + &(0..100).map(day).collect::<String>()));
    assert_eq!(wet.rows()[10].rain_mm, Some(99.9));
    assert_eq!(wet.warnings(), [""; 0]);
    let bright = read(&with_light(|hour, fields| {
        if hour % 24 == 12 {
            fields[4] = (960 + hour / 24).to_string();
        }
    }));
    assert!(bright.warnings().is_empty() && bright.rows().iter().any(|row| row.ghi_w_m2 == Some(999.0)));
    let units = Units { wind: named(&WIND, "km/h"), temperature: named(&TEMPERATURE, "degF"), ..Units::default() };
    let gale = read_in(
        &fifty_days(|hour| format!("{},{},{},{}", hour % 40 / 39, 60 + hour % 40, 9 + hour % 7, 20 + hour % 80)),
        units,
    );
    assert!(gale.warnings().is_empty(), "{:?}", gale.warnings());
    assert!(gale.rows().iter().any(|row| row.gust_m_s.is_some_and(|gust| (gust - 27.5).abs() < 1e-9)));
    assert!(gale.rows().iter().any(|row| row.temperature_c.is_some_and(|warm| (warm - 37.222_222).abs() < 1e-6)));
}

/// Columns in other units, once they are said, are read like any other and raise no doubt.
#[test]
fn units_that_are_said() {
    let text = fifty_days(|hour| format!("{},50,{},14.5", if hour % 40 < 3 { 0.01 } else { 0.0 }, 4 + hour % 9));
    let doubtful = read(&text);
    assert!(warned(&doubtful, "inches").contains("`rain_unit = \"in\"`"));
    assert!(warned(&doubtful, "knots").contains("`wind_unit = \"knots\"`"));
    assert!(warned(&doubtful, "Fahrenheit").contains("`temperature_unit = \"degF\"`"));
    let units =
        Units { rain: named(&RAIN, "in"), temperature: named(&TEMPERATURE, "degF"), wind: named(&WIND, "knots") };
    let record = read_in(&text, units);
    assert_eq!(record.warnings(), [""; 0]);
    let row = record.rows()[1];
    assert!((row.rain_mm.unwrap() - 0.254).abs() < 1e-9 && (row.temperature_c.unwrap() - 10.0).abs() < 1e-9);
    assert!((row.wind_m_s.unwrap() - 5.0 * 0.514_444).abs() < 1e-4 && (row.gust_m_s.unwrap() - 7.459).abs() < 1e-3);
    let kelvins = fifty_days(|hour| usual(hour).replace("10.5", "283.6"));
    let refused = read_as(&kelvins, Layout::Csv, Label::Start).unwrap_err().to_string();
    assert!(refused.contains("(is it in kelvins? then set `temperature_unit = \"K\"`)"), "{refused}");
    // What cannot be true is judged after the conversion: 130 degF is not beyond 60 degC, 20 in an hour are too much.
    let hot = read_in(&fifty_days(|hour| usual(hour).replace("10.5", "130")), units);
    assert!((hot.rows()[0].temperature_c.unwrap() - 54.44).abs() < 0.01);
}

#[test]
fn traces_and_letters_of_doubt() {
    let record = read(&fifty_days(|hour| match hour {
        9 | 10 => "T,10,2,4".to_owned(),
        11 => "0.5s,10s,2,4".to_owned(),
        _ => usual(hour),
    }));
    assert_eq!((record.rows()[9].rain_mm, record.rows()[11].rain_mm), (Some(0.0), Some(0.5)));
    assert!(warned(&record, "traces").contains("2 traces (T), first in line 11"));
    assert!(warned(&record, "letter of doubt").contains("2 values carry"));
}

/// One wind of 1048 mph among twelve hundred, as in a published record; thirty of them refuse the file.
#[test]
fn absurd_outliers() {
    let odd = |odd: usize| fifty_days(move |hour| if hour < odd { "0,10,468.5,".to_owned() } else { usual(hour) });
    let record = read(&odd(1));
    assert_eq!(record.rows()[0].wind_m_s, None);
    assert!(warned(&record, "outlier").contains("line 2, column wind_m_s: 468.5 m/s is outside 0 to 120 m/s"));
    let error = read_as(&odd(30), Layout::Csv, Label::Start).unwrap_err();
    assert!(matches!(error, WeatherFileError::Invalid { .. }), "{error}");
}

/// One hour with more rain than can fall is left out as any other outlier; a cloudburst's minute, near the records, is not.
#[test]
fn depths_that_cannot_fall() {
    let record = read(&fifty_days(|hour| if hour == 7 { "812.8,10,2.5,".to_owned() } else { usual(hour) }));
    assert_eq!(record.rows()[7].rain_mm, None);
    let outlier = warned(&record, "outlier");
    assert!(outlier.contains("line 9, column rain_mm: 812.8 mm in one step is outside 0 to 500 mm"), "{outlier}");
    let start: Timestamp = "2024-07-01T00:00:00Z".parse().unwrap();
    let minute = |n: i64| {
        let depth = if n == 700 { "12.5" } else { "0" };
        format!("{},{depth},10.5,2.5,4.5\n", start + SignedDuration::from_mins(n))
    };
    let burst = read(&(HEADER.to_owned() + &(0..1_440).map(minute).collect::<String>()));
    assert_eq!((burst.rows()[700].rain_mm, burst.warnings()), (Some(12.5), &[][..]));
    let error = read_as(&fifty_days(|_| "812.8,10,2.5,".to_owned()), Layout::Csv, Label::Start).unwrap_err();
    assert!(error.to_string().contains("mm in one step"), "{error}");
}

/// Gusts below their mean wind: the wind in km/h beside gusts in m/s.
#[test]
fn gusts_below_the_wind() {
    let record = read(&fifty_days(|hour| format!("{},10.5,9.1,4.5", hour % 40 / 39)));
    assert!(warned(&record, "below the mean wind").starts_with("100 % of the gusts"));
}

#[test]
fn gust_not_reported_is_not_gust_missing() {
    let record =
        read(&fifty_days(|hour| format!("{},10.5,2.5,{}", hour % 40 / 39, if hour % 5 == 0 { "7.2" } else { "" })));
    assert!(warned(&record, "no gust was reported").starts_with("80 % of the winds"));
}

#[test]
fn absent_rows_are_counted() {
    let text: String = fifty_days(usual)
        .lines()
        .enumerate()
        .filter(|(n, _)| !(100..103).contains(n))
        .map(|(_, l)| format!("{l}\n"))
        .collect();
    assert!(
        warned(&read(&text), "absent")
            .starts_with("3 rows (3.0 h) are absent, the first after 2024-10-05T02:00:00-05:00")
    );
}

/// Local time written with one offset all year: an hour of a Sunday in November occurs twice.
#[test]
fn clock_time_with_a_fixed_offset() {
    let twice = "2024-11-03T01:00:00-05:00,0,10.5,2.5,4.5\n";
    let text = fifty_days(usual);
    let place = text.find("2024-11-03T02:00:00").unwrap();
    let text = format!("{}{twice}{}", &text[..place], &text[place..]);
    let warning = warned(&read(&text), "daylight saving");
    assert!(
        warning.contains("1 rows with a time that was there before") && warning.contains("is that of line"),
        "{warning}"
    );
    // The same on a Wednesday has no explanation: nobody can tell which row is true.
    let text = fifty_days(usual);
    let place = text.find("2024-10-16T02:00:00").unwrap();
    let refused = read_as(
        &format!("{}{}{}", &text[..place], twice.replace("11-03", "10-16"), &text[place..]),
        Layout::Detect,
        Label::Start,
    );
    assert!(refused.unwrap_err().to_string().contains("is that of line"));
    // A copy, value for value, is left out.
    let line = text.lines().find(|line| line.starts_with("2024-10-16T01:00:00")).unwrap();
    let record = read(&format!("{}{line}\n{}", &text[..place], &text[place..]));
    assert!(warned(&record, "copy an earlier row").starts_with("1 rows"));
    assert_eq!(record.rows().len(), 1_200);
}

/// The same in spring: an hour that the clock leaves out, where the record ends before the autumn shows it twice.
#[test]
fn clock_time_that_begins_in_spring() {
    let start: Timestamp = "2024-03-01T05:00:00Z".parse().unwrap();
    let offset = jiff::tz::Offset::from_hours(-5).unwrap();
    let without = |absent: &str| {
        let row = |hour: usize| {
            let time = start + SignedDuration::from_hours(hour as i64);
            format!("{},{}\n", time.display_with_offset(offset), usual(hour))
        };
        let rows = (0..1_000).map(row).filter(|row| !row.starts_with(absent)).collect::<String>();
        warned(&read(&format!("{HEADER}{rows}")), "1 rows (1.0 h) are absent")
    };
    let sunday = without("2024-03-10T02");
    assert!(
        sunday.contains("the hour after 2024-03-10T01:00:00-05:00 looks like the beginning of daylight saving"),
        "{sunday}"
    );
    assert!(!without("2024-03-11T02").contains("daylight") && !without("2024-03-10T12").contains("daylight"));
}

/// Civil time with its two offsets is understood and said.
#[test]
fn civil_time_with_both_offsets() {
    let text = fifty_days(usual).replace("2024-10-01T00:00:00-05:00", "2024-10-01T01:00:00-04:00");
    let record = read(&text);
    assert_eq!(record.rows()[1].unix_us - record.rows()[0].unix_us, Span::HOUR.0);
    warned(&record, "more than one UTC offset");
}

#[test]
fn byte_order_mark() {
    warned(&read(&format!("\u{feff}{}", fifty_days(usual))), "byte-order mark");
}

/// A gauge that reports 0 for 65 days.
#[test]
fn dead_gauge() {
    let start: Timestamp = "2024-01-01T00:00:00Z".parse().unwrap();
    let day = |n: i64| {
        let time = start + SignedDuration::from_hours(24 * n);
        format!("{time},{},10.5,2.5,4.5\n", if (10..75).contains(&n) { 0 } else { 3 })
    };
    let text = HEADER.to_owned() + &(0..100).map(day).collect::<String>();
    assert!(warned(&read(&text), "gauge").starts_with("no rain for 65 days from 2024-01-11T00:00:00+00:00"));
    assert!(read(&text.replace(",0,", ",0.1,")).warnings().is_empty());
}

#[test]
fn units_in_doubt() {
    // Depths of a 0.01 in bucket, left in inches: 5 to 50 hundredths in every fortieth hour.
    let inches = read(&fifty_days(|hour| format!("{},10.5,2.5,4.5", if hour % 40 == 0 { 0.01 } else { 0.0 })));
    warned(&inches, "is it in inches?");
    let knots = read(&fifty_days(|hour| format!("{},10.5,{},14.5", hour % 40 / 39, 4 + hour % 9)));
    warned(&knots, "knots");
    let fahrenheit = read(&fifty_days(|hour| format!("{},{},2.5,4.5", hour % 40 / 39, 40 + hour % 15)));
    warned(&fahrenheit, "Fahrenheit");
    let tenths = read(&fifty_days(|hour| format!("{},10.5,2.5,4.5", if hour % 4 == 0 { 25 } else { 0 })));
    warned(&tenths, "tenths of a millimetre");
}

/// Reanalyses have depths in metres; no drizzle brings a thousandth of a millimetre in an hour.
#[test]
fn rain_in_metres() {
    let text = fifty_days(|hour| format!("{},10.5,2.5,4.5", if hour % 40 < 3 { "0.0006" } else { "0" }));
    assert!(warned(&read(&text), "is it in metres?").contains("`rain_unit = \"m\"`"));
    let said = read_in(&text, Units { rain: named(&RAIN, "m"), ..Units::default() });
    assert_eq!((said.warnings(), said.rows()[0].rain_mm), (&[][..], Some(0.6)));
}

/// Tables that separate by something else are told so, not that their first column is missing.
#[test]
fn other_separators() {
    for (mark, name) in [(";", "semicolons"), ("\t", "tabs")] {
        let error =
            read_as(&fifty_days(usual).replace(',', mark), Layout::Detect, Label::Start).unwrap_err().to_string();
        assert!(error.contains(&format!("line 1, whole row: the fields are separated by {name}")), "{error}");
        assert!(!error.contains("column is missing"), "{error}");
    }
}

/// A gauge that adds up: no depth is beyond what can fall, and the sum of all would be absurd.
#[test]
fn a_running_total() {
    let total = |hour: usize| 0.6 * (3 * (hour / 40) + (hour % 40 + 1).min(3)) as f64;
    let text = fifty_days(|hour| format!("{:.1},10.5,2.5,4.5", total(hour)));
    let error = read_as(&text, Layout::Csv, Label::Start).unwrap_err().to_string();
    assert!(error.contains("column rain_mm: the depths rise 89 times and fall 0 times: a running total?"), "{error}");
    // One that begins anew every day falls as often as there are days of rain.
    let daily = fifty_days(|hour| format!("{:.1},10.5,2.5,4.5", 0.6 * (hour % 24).min(9) as f64));
    assert!(read_as(&daily, Layout::Csv, Label::Start).unwrap_err().to_string().contains("running total"));
}

/// Words that other programs write where nothing was observed, and traces written out.
#[test]
fn words_for_nothing() {
    let record = read(&fifty_days(|hour| match hour {
        9 => "NA,10,2,4".to_owned(),
        10 => "0,NaN,null,-".to_owned(),
        11 => "trace,10,2,4".to_owned(),
        _ => usual(hour),
    }));
    assert_eq!((record.rows()[9].rain_mm, record.rows()[11].rain_mm), (None, Some(0.0)));
    let row = record.rows()[10];
    assert_eq!((row.temperature_c, row.wind_m_s, row.gust_m_s), (None, None, None));
    assert!(warned(&record, "words").starts_with("4 words for a missing value, first in line 11"));
    warned(&record, "1 traces (T), first in line 13");
}

/// A gust of 0 in the wind says that none was reported; in a calm it is a gust.
#[test]
fn gusts_of_nothing() {
    let text = fifty_days(|hour| match hour % 4 {
        0 => "0,10.5,0,0".to_owned(),
        1 => format!("{},10.5,2.5,0", hour % 40 / 37),
        _ => "0,10.5,2.5,4.5".to_owned(),
    });
    let record = read(&text);
    assert_eq!([0, 1, 2].map(|row| record.rows()[row].gust_m_s), [Some(0.0), None, Some(4.5)]);
    assert!(warned(&record, "gusts of 0").contains("300 gusts of 0 beside a wind, first in line 3"));
}

/// Without sunlight the warmest moment of the mean day tells times that are hours off the site's.
#[test]
fn times_of_another_zone() {
    let offset_h = |later: f64| {
        let text = fifty_days(|hour| {
            // Warmest at 15:00 of the record's own offset, 40 minutes later than by the sun here.
            let angle = std::f64::consts::TAU * (hour as f64 - 14.5 - later) / 24.0;
            format!("{},{:.1},2.5,4.5", hour % 40 / 39, 12.0 + 4.0 * angle.cos())
        });
        read(&text).label_doubt(&site())
    };
    assert_eq!(offset_h(0.0), None);
    for later in [-5.0, 5.0, 9.0] {
        assert!(offset_h(later).is_some_and(|doubt| doubt.contains("is the offset from UTC right")), "{later}");
    }
    // A day without a course tells nothing.
    assert_eq!(read(&fifty_days(usual)).label_doubt(&site()), None);
}

fn site() -> Site {
    Site {
        latitude_deg: 36.1,
        longitude_deg: -79.95,
        time_zone: "America/New_York".to_owned(),
        door_faces_deg: 180.0,
        wind_factor: 0.5,
    }
}

/// Sunlight that is 0.7 of the clear sky at the middle of each half hour, labelled at its start, middle or end.
fn sunny(label_min: i64) -> String {
    let start: Timestamp = "2024-06-01T05:00:00Z".parse().unwrap();
    let mut text = "time,rain_mm,temperature_c,wind_m_s,gust_m_s,ghi_w_m2\n".to_owned();
    for step in 0..480 {
        let from = start + SignedDuration::from_mins(30 * step);
        let middle = (from + SignedDuration::from_mins(15)).as_second() as f64;
        let elevation = sun::position(middle, site().latitude_deg, site().longitude_deg).elevation_deg;
        let label = from + SignedDuration::from_mins(label_min);
        text.push_str(&format!(
            "{label},{},20.5,2.5,4.5,{:.1}\n",
            step % 40 / 39,
            0.7 * sun::clear_sky_w_m2(elevation)
        ));
    }
    text
}

#[test]
fn time_label_at_start_middle_or_end() {
    assert_eq!(read(&sunny(0)).label_doubt(&site()), None);
    // A middle label shows in the clock itself.
    warned(&read(&sunny(15)), "time_label = \"middle\"");
    let end = read(&sunny(30));
    assert!(end.label_doubt(&site()).unwrap().contains("time_label = \"end\""));
    for (minutes, label) in [(15, Label::Middle), (30, Label::End)] {
        let mended = read_as(&sunny(minutes), Layout::Csv, label).unwrap();
        assert_eq!(mended.label_doubt(&site()), None);
        assert_eq!(mended.rows()[0].unix_us, read(&sunny(0)).rows()[0].unix_us);
    }
    // Times an hour ahead, as clock time in summer would be.
    let ahead = read(&sunny(60)).label_doubt(&site()).unwrap();
    assert!(ahead.contains("daylight saving"), "{ahead}");
}

/// Five days of a TMY3 file against an independent conversion; its rain is in tenths of a millimetre.
#[test]
fn tmy3() {
    let record = ObservedRecord::read(&data("weather/tmy3_five_days.csv")).unwrap();
    let expected = records("weather/tmy3_five_days_expected.csv");
    assert_eq!((record.rows().len(), record.step()), (expected.len(), Span::HOUR));
    for (row, exact) in record.rows().iter().zip(&expected) {
        let time: Timestamp = exact["time"].parse().unwrap();
        assert_eq!(row.unix_us, time.as_microsecond(), "{exact:?}");
        assert!((row.rain_mm.unwrap() - 10.0 * number(exact, "rain_mm")).abs() < 1e-9, "{exact:?}");
        assert_eq!(row.temperature_c, Some(number(exact, "temperature_c")));
        assert_eq!(row.wind_m_s, Some(number(exact, "wind_m_s")));
        assert_eq!(row.ghi_w_m2, Some(number(exact, "ghi_w_m2")));
    }
    // Read from the file by eye: the first hour's dew point and direction.
    assert_eq!((record.rows()[0].dew_point_c, record.rows()[0].wind_from_deg), (Some(6.1), Some(200.0)));
    warned(&record, "TMY3: times name the end of an hour");
    assert!(warned(&record, "tenths").contains("`rain_unit = \"0.1 mm\"`"));
    assert_eq!(record.label_doubt(&site()), None);
    // Said so, it is the independent conversion's rain.
    let units = Units { rain: named(&RAIN, "0.1 mm"), ..Units::default() };
    let path = data("weather/tmy3_five_days.csv");
    let mended = ObservedRecord::read_as(&path, Layout::Detect, Label::Start, units).unwrap();
    for (row, exact) in mended.rows().iter().zip(&expected) {
        assert!((row.rain_mm.unwrap() - number(exact, "rain_mm")).abs() < 1e-9, "{exact:?}");
    }
    assert!(!mended.warnings().iter().any(|text| text.contains("tenths")));
}

#[test]
fn broken_tmy3() {
    let text = std::fs::read_to_string(data("weather/tmy3_five_days.csv")).unwrap();
    let refuse = |text: &str| read_as(text, Layout::Detect, Label::Start).unwrap_err().to_string();
    assert!(refuse(&text.replace("NC,-5.0", "NC,east")).contains("offset from UTC"));
    assert!(refuse(&text.replace("Wspd (m/s)", "Wind")).contains("no `Wspd (m/s)`"));
    assert!(refuse(&text.replace("01/01/1988,05:00", "13/01/1988,05:00")).contains("13/01/1988 05:00"));
    let record = read(&text.replacen(",A,7,200,A,7,6.2,A,7,", ",A,7,200,A,7,-9900,A,7,", 1));
    assert_eq!(record.rows()[0].wind_m_s, None);
    warned(&record, "values of -9900");
}

/// An EPW file of two days, by the places of the data dictionary, with its missing codes.
fn epw(year_of_second_day: i16) -> String {
    let mut text = "LOCATION,Nowhere,XX,Nowhere,made up,000000,36.10,-79.95,-5.0,273.0\nDESIGN CONDITIONS,0\n\
                    TYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\nHOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,made up\n\
                    COMMENTS 2,\nDATA PERIODS,1,1,Data,Sunday,1/1,12/31\n"
        .to_owned();
    for hour in 0..48 {
        let (year, day) = if hour < 24 { (1988, 1) } else { (year_of_second_day, 2) };
        let (temperature, ghi) =
            if hour == 3 { (99.9, 9999.0) } else { (5.5, if hour % 24 == 12 { 400.0 } else { 0.0 }) };
        let rain = if hour == 4 { 999.0 } else { f64::from(u8::from(hour == 10)) };
        text.push_str(&format!(
            "{year},1,{day},{},60,?9?9,{temperature},2.5,80,99300,0,0,300,{ghi},0,0,0,0,0,0,200,3.5,10,10,16.1,1370,9,\
             999999999,15,0.1,0,88,0.2,{rain},1.0\n",
            hour % 24 + 1
        ));
    }
    text
}

#[test]
fn epw_layout() {
    for second in [1988, 1975] {
        let record = read(&epw(second));
        assert_eq!((record.rows().len(), record.step()), (48, Span::HOUR));
        let row = &record.rows()[10];
        assert_eq!((row.rain_mm, row.temperature_c, row.wind_m_s), (Some(1.0), Some(5.5), Some(3.5)));
        assert_eq!(
            (row.dew_point_c, row.wind_from_deg, record.rows()[12].ghi_w_m2),
            (Some(2.5), Some(200.0), Some(400.0))
        );
        assert_eq!(
            (record.rows()[3].temperature_c, record.rows()[3].ghi_w_m2, record.rows()[4].rain_mm),
            (None, None, None)
        );
        let year = if second == 1988 { 1988 } else { 2001 };
        let first: Timestamp = format!("{year}-01-01T00:00:00-05:00").parse().unwrap();
        assert_eq!(record.rows()[0].unix_us, first.as_microsecond());
        warned(&record, "moved to its start");
        warned(&record, "1 values of 999,");
        assert_eq!(record.warnings().iter().any(|text| text.contains("different years")), second == 1975);
    }
    let refused = read_as(&epw(1988).replace(",-5.0,", ",x,"), Layout::Detect, Label::Start).unwrap_err().to_string();
    assert!(refused.contains("LOCATION"), "{refused}");
    let refused =
        read_as(&epw(1988).replace("1988,1,1,5,60", "1988,1,1,25,60"), Layout::Epw, Label::Start).unwrap_err();
    assert!(refused.to_string().contains("1988,1,1,25,60"), "{refused}");
}

/// Months of a typical year whose years happen to rise one by one are laid in one year, too; two real years are not.
#[test]
fn epw_of_rising_years() {
    let whole = epw(1988);
    let (head, rows) = whole.split_at(whole.find("1988,1,1,1,").unwrap());
    let other = |year: &str, month: &str| rows.replace("1988,1,", &format!("{year},{month},"));
    let joined = read(&format!("{head}{rows}{}{}", other("1989", "2"), other("1990", "3")));
    warned(&joined, "joins months of different years");
    let last: Timestamp = "2001-03-02T23:00:00-05:00".parse().unwrap();
    assert_eq!(joined.rows().last().unwrap().unix_us, last.as_microsecond());
    let real = read(&format!("{head}{rows}{}", other("1989", "1")));
    assert!(!real.warnings().iter().any(|text| text.contains("different years")), "{:?}", real.warnings());
    let last: Timestamp = "1989-01-02T23:00:00-05:00".parse().unwrap();
    assert_eq!(real.rows().last().unwrap().unix_us, last.as_microsecond());
}
