//! Fits: known processes are recovered from generated series, published records reproduced.

mod common;

use common::{Record, data, number, records};
use dooryard::math::time::Span;
use dooryard::scenario::season::Site;
use dooryard::scenario::weather::PulseMonth;
use dooryard::study::weather_fit::depths::Depths;
use dooryard::study::weather_fit::{FitError, Periods, WeatherFit, fit, rain};
use dooryard::world::weather::ObservedRecord;
use dooryard::world::weather::pulses::moments::Moments;
use dooryard::world::weather::pulses::series;
use std::io::Write as _;

const ALL: [bool; 12] = [true; 12];

fn month(set: [f64; 6]) -> PulseMonth {
    let [storms_per_h, intensity_mm, rate_shape, rate_scale_h, cells, ending] = set;
    PulseMonth { storms_per_h, intensity_mm, rate_shape, rate_scale_h, cells, ending, intensity_shape: 1.0 }
}

fn estimate(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

/// A parameter's name, its value, the widest standard error of its logarithm that still proves something.
type Figure = (&'static str, fn(&PulseMonth) -> f64, f64);

/// Eight records of ten years each: the mean of the fitted logarithms agrees with the truth within four of its standard
/// errors. What the data determine well (storms, cells, windows) is found within 10 %; shape and scale of the rate
/// trade against each other and spread more, as they must.
#[test]
fn known_processes_are_recovered() {
    for set in [[0.02, 1.2, 2.6, 1.5, 0.3, 0.06], [0.03, 0.9, 3.5, 1.2, 0.6, 0.1]] {
        let truth = month(set);
        let fits: Vec<PulseMonth> = (0..8)
            .map(|seed| {
                let depths = Depths::of_series(series::depths(&truth, 3_652, Span::HOUR, seed), Span::HOUR, 30);
                rain::fit(&depths, &ALL, None, 30).unwrap().process
            })
            .collect();
        let figures: [Figure; 6] = [
            ("lambda", |m| m.storms_per_h, 0.05),
            ("iota", |m| m.intensity_mm, 0.1),
            ("alpha", |m| m.rate_shape, 0.15),
            ("nu", |m| m.rate_scale_h, 0.2),
            ("kappa", |m| m.cells, 0.1),
            ("phi", |m| m.ending, 0.1),
        ];
        for (name, value, widest) in figures {
            let logs: Vec<f64> = fits.iter().map(|fit| value(fit).ln()).collect();
            let (mean, error) = estimate(&logs);
            let off = mean - value(&truth).ln();
            assert!(off.abs() < 4.0 * error.max(0.005) && error < widest, "{set:?} {name}: off by {off} +- {error}");
        }
        // What the parameters say together is found much better than each of them.
        for h in [1.0, 6.0, 24.0] {
            let exact = Moments::new(&truth);
            for fit in &fits {
                let found = Moments::new(fit);
                assert!((found.mean(h) / exact.mean(h) - 1.0).abs() < 0.15);
                assert!(((1.0 - found.dry(h)) / (1.0 - exact.dry(h)) - 1.0).abs() < 0.1);
                assert!((found.wet_now() / exact.wet_now() - 1.0).abs() < 0.15);
            }
        }
    }
}

/// Read through a bucket of 0.254 mm a process looks drier; the correction finds most of the lost time again.
#[test]
fn the_bucket_is_corrected_for() {
    let truth = month([0.02, 1.2, 2.6, 1.5, 0.3, 0.06]);
    let share = Moments::new(&truth).wet_now();
    let (mut plain, mut corrected) = (0.0, 0.0);
    for seed in 0..4 {
        let bare = Depths::of_series(series::depths(&truth, 3_652, Span::HOUR, seed), Span::HOUR, 30);
        assert_eq!(bare.bucket_mm(), None);
        let read = bare.through(0.254);
        assert!((read.bucket_mm().unwrap() - 0.254).abs() < 1e-9);
        plain += Moments::new(&rain::fit(&read, &ALL, None, 30).unwrap().process).wet_now() / 4.0;
        corrected += Moments::new(&rain::fit(&read, &ALL, Some(0.254), 30).unwrap().process).wet_now() / 4.0;
    }
    assert!(plain / share < 0.85, "without: {plain} of {share}");
    assert!((corrected / share - 1.0).abs() < 0.07, "with: {corrected} of {share}");
}

/// Block statistics and spells of two records against independently computed tables.
#[test]
fn statistics_of_records() {
    let of = |file: &str| Depths::of_record(&ObservedRecord::read(&data(file)).unwrap());
    let lga = of("weather/nyc2013_lga_hourly.csv");
    for (hours, mean, variance, lag1, dry) in
        [(1.0, 0.1113, 0.559, 0.472, 0.934), (6.0, 0.673, 9.19, 0.373, 0.854), (24.0, 2.76, 64.6, 0.092, 0.664)]
    {
        let found = lga.blocks(hours, &ALL).unwrap();
        // The tables' last digit.
        let close = |value: f64, exact: f64| (value / exact - 1.0).abs() < 0.006;
        assert!(close(found.mean, mean) && close(found.variance, variance), "{found:?}");
        assert!((found.lag1 - lag1).abs() < 0.001 && close(1.0 - found.wet, dry), "{found:?}");
    }
    let table: Vec<Record> = records("weather/stats/spells.csv");
    let spells = lga.spells(&ALL).unwrap();
    assert!((spells.wet_h - number(&table[0], "mean_h")).abs() < 1e-3, "{spells:?}");
    assert_eq!(lga.runs(&ALL).wet.len() as f64, number(&table[0], "n"));
}

/// The rows of a fit that miss their tolerance, with their period.
fn missed(fit: &WeatherFit) -> Vec<String> {
    let rains = fit.periods.iter().map(|one| (one.period.name, &one.rain.as_ref().unwrap().rows));
    let missed = rains.flat_map(|(period, rows)| {
        rows.iter().filter(|row| row.agrees() == Some(false)).map(move |row| format!("{period}: {row:?}"))
    });
    missed.collect()
}

/// Rows that are judged.
fn judged(fit: &WeatherFit) -> usize {
    fit.periods.iter().flat_map(|one| &one.rain.as_ref().unwrap().rows).filter(|row| row.agrees().is_some()).count()
}

/// A year at an airport, a winter at another, a wet month on a hill: by year, by seasons and month by month all means are
/// met within 5 %, variances and shares dry within 15 %, spells within 20 %, by processes that could be rain.
#[test]
fn published_records_are_reproduced() {
    for (file, bucket_mm, cuts) in [
        ("nyc2013_lga_hourly", 0.254, &[(Periods::Year, 9), (Periods::Seasons, 36), (Periods::Months, 108)][..]),
        ("atl2020_hourly", 0.254, &[(Periods::Year, 9), (Periods::Months, 18)]),
        ("mast_ie_2017_06_10min", 0.1, &[(Periods::Auto, 11)]),
    ] {
        let record = ObservedRecord::read(&data(&format!("weather/{file}.csv"))).unwrap();
        for (by, rows) in cuts {
            let mut fitted = fit(&record, None, *by).unwrap();
            assert!((fitted.bucket_mm.unwrap() - bucket_mm).abs() < 1e-9, "{file}");
            // The months that were not observed at all.
            fitted.periods.retain(|one| one.rain.is_some());
            assert_eq!((missed(&fitted), judged(&fitted)), (vec![], *rows), "{file} {by:?}");
            for month in &fitted.rain {
                let cell_h = month.rate_scale_h / (month.rate_shape - 1.0);
                let window_h = cell_h / month.ending;
                let rain = (1.0 / 12.1..8.1).contains(&cell_h) && (0.2..72.1).contains(&window_h);
                let storms = (1.4..145.0).contains(&(720.0 * month.storms_per_h));
                assert!(rain && storms && (0.24..4.1).contains(&month.intensity_shape), "{file} {by:?}: {month:?}");
            }
        }
    }
}

/// Where exponential intensities can't have what was observed, uneven ones are found: records of ten years each, whose
/// fitted shapes scatter about the truth.
#[test]
fn uneven_intensities_are_recovered() {
    let truth = PulseMonth { intensity_shape: 0.4, ..month([0.018, 3.8, 8.0, 25.0, 0.05, 0.2]) };
    let fits: Vec<PulseMonth> = (0..8)
        .map(|seed| {
            let depths = Depths::of_series(series::depths(&truth, 3_652, Span::HOUR, seed), Span::HOUR, 30);
            rain::fit(&depths, &ALL, None, 30).unwrap().process
        })
        .collect();
    let logs: Vec<f64> = fits.iter().map(|fit| (fit.intensity_shape / 0.4).ln()).collect();
    let (mean, error) = estimate(&logs);
    assert!(mean.abs() < 4.0 * error && error < 0.15, "off by {mean} +- {error}: {logs:?}");
}

/// Rain on every day at all hours of the day, as no Poisson process has it: the share of dry days, 0, has no ratio, and what is
/// out of reach is said with what was reached.
#[test]
fn what_is_out_of_reach() {
    let start: jiff::Timestamp = "2024-05-01T00:00:00Z".parse().unwrap();
    let row = |hour: i64| {
        let (day, first) = (hour / 24, 7 * (hour / 24) % 20);
        let wet = (first..first + 1 + day % 3).contains(&(hour % 24));
        let depth = if wet { 0.2 * ((5 * hour) % 11 + 1) as f64 } else { 0.0 };
        format!("{},{depth:.1},10.5,2.5,4.5\n", start + jiff::SignedDuration::from_hours(hour))
    };
    let text = "time,rain_mm,temperature_c,wind_m_s,gust_m_s\n".to_owned() + &(0..60 * 24).map(row).collect::<String>();
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(text.as_bytes()).unwrap();
    let fitted = fit(&ObservedRecord::read(file.path()).unwrap(), None, Periods::Year).unwrap();
    let rows = &fitted.periods[0].rain.as_ref().unwrap().rows;
    let days = rows.iter().find(|row| row.name == "share dry in 24 h").unwrap();
    assert_eq!((days.observed, days.agrees()), (0.0, None));
    let hours = rows.iter().find(|row| row.name == "share dry in 1 h").unwrap();
    assert_eq!(hours.agrees(), Some(true));
    let missed: Vec<_> = rows.iter().filter(|row| row.agrees() == Some(false)).collect();
    let told = fitted.notes.iter().filter(|note| note.contains("no rain process was found")).collect::<Vec<_>>();
    assert!(!missed.is_empty() && told.len() == 1, "{rows:?} {told:?}");
    assert!(missed.iter().all(|row| told[0].contains(&row.name)), "{told:?}");
}

/// A record of a few months says little about the others, and that is said.
#[test]
fn months_that_were_not_observed() {
    let notes = |file: &str, by: Periods| {
        let record = ObservedRecord::read(&data(file)).unwrap();
        fit(&record, None, by).unwrap().notes.into_iter().filter(|note| note.starts_with("rain: ")).collect::<Vec<_>>()
    };
    let winter = notes("weather/atl2020_hourly.csv", Periods::Auto);
    assert_eq!(winter.len(), 1);
    assert!(
        winter[0].contains("March, April, May") && winter[0].contains("is the rain of January, February"),
        "{winter:?}"
    );
    let june = notes("weather/mast_ie_2017_06_10min.csv", Periods::Year);
    assert!(june[0].contains("is the rain of June,") && !june[0].contains("rain: June"), "{june:?}");
    assert_eq!(notes("weather/nyc2013_lga_hourly.csv", Periods::Seasons), [""; 0]);
}

/// Temperature, wind and gusts of the records against independently computed figures.
#[test]
fn air_of_records() {
    let airport = ObservedRecord::read(&data("weather/nyc2013_lga_hourly.csv")).unwrap();
    let fitted = fit(&airport, None, Periods::Year).unwrap();
    // Means of the year weighted by hours; Weibull shape 2.2 to 2.4 without calms, 1.8 to 2.1 with; memory of the
    // temperature 40 h from correlations .85 .71 .54 at 6, 12, 24 h, spread 3.7 to 4.3 K (general-purpose tools).
    const DAYS: [f64; 12] = [31.0, 28.0, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 30.0];
    let mean = |monthly: &[f64; 12]| monthly.iter().zip(DAYS).map(|(x, days)| x * days).sum::<f64>() / 364.0;
    assert!((mean(&fitted.air.temperature_c) - 13.2).abs() < 0.1);
    assert!((mean(&fitted.air.wind_m_s) - 4.75).abs() < 0.05);
    assert!((1.8..2.4).contains(&fitted.air.wind_shape) && (1.15..1.26).contains(&fitted.air.wind_in_rain));
    assert!((36.0..48.0).contains(&fitted.air.temperature_memory_h), "{:?}", fitted.air);
    // Squares of the spread through the year by general-purpose tools: a mean of 4.28^2, 4.94 in January, 3.43 in June.
    let spread = fitted.air.temperature_spread_k;
    assert!(((mean(&spread.map(|k| k * k))).sqrt() - 4.28).abs() < 0.03, "{spread:?}");
    assert!((spread[0] - 4.94).abs() < 0.03 && (spread[5] - 3.43).abs() < 0.03, "{spread:?}");
    let hill = ObservedRecord::read(&data("weather/mast_ie_2017_06_10min.csv")).unwrap();
    let fitted = fit(&hill, None, Periods::Auto).unwrap();
    // Median ten-minute gust factor 1.35: 10 m exp(-2.5 / 0.35) = 0.0079 m.
    assert!((0.005..0.012).contains(&fitted.air.roughness_m), "{:?}", fitted.air);
    assert!(fitted.notes.iter().any(|note| note.starts_with("temperature: months without data")));
}

/// Sunlight of known clearness comes back as that clearness.
#[test]
fn clearness_of_a_record() {
    let site = Site {
        latitude_deg: 47.0,
        longitude_deg: 11.0,
        time_zone: "Europe/Vienna".to_owned(),
        door_faces_deg: 180.0,
        wind_factor: 0.5,
    };
    let mut text = "time,rain_mm,temperature_c,wind_m_s,gust_m_s,ghi_w_m2\n".to_owned();
    let start: jiff::Timestamp = "2024-05-01T00:00:00Z".parse().unwrap();
    for hour in 0..40 * 24 {
        let time = start + jiff::SignedDuration::from_hours(hour);
        let sun = dooryard::world::sun::position(time.as_second() as f64 + 1_800.0, 47.0, 11.0).elevation_deg;
        let (rain, share) = if hour % 10 == 0 { (0.6, 0.3) } else { (0.0, if hour % 2 == 0 { 0.6 } else { 0.8 }) };
        let ghi = share * dooryard::world::sun::clear_sky_w_m2(sun);
        text.push_str(&format!("{time},{rain},10.5,2.5,4.5,{ghi:.2}\n"));
    }
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(text.as_bytes()).unwrap();
    let record = ObservedRecord::read(file.path()).unwrap();
    let fitted = fit(&record, Some(&site), Periods::Year).unwrap();
    // Of nine dry hours in ten, four are at 0.6 and five at 0.8: mean 0.711, standard deviation 0.099.
    assert!(fitted.air.clearness.iter().all(|share| (share - 0.71).abs() < 0.02), "{:?}", fitted.air.clearness);
    assert!((fitted.air.clearness_spread - 0.1).abs() < 0.01 && fitted.air.clearness_in_rain == 0.3);
}

#[test]
fn what_cannot_be_fitted() {
    let read = |step_h: i64, count: i64, rain: &dyn Fn(i64) -> f64| {
        let start: jiff::Timestamp = "2024-05-01T00:00:00Z".parse().unwrap();
        let row =
            |n: i64| format!("{},{},10.5,2.5,4.5\n", start + jiff::SignedDuration::from_hours(step_h * n), rain(n));
        let text =
            "time,rain_mm,temperature_c,wind_m_s,gust_m_s\n".to_owned() + &(0..count).map(row).collect::<String>();
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(text.as_bytes()).unwrap();
        fit(&ObservedRecord::read(file.path()).unwrap(), None, Periods::Auto)
    };
    assert!(matches!(read(3, 400, &|n| (n % 7 / 6) as f64), Err(FitError::Step { .. })));
    assert!(matches!(read(1, 100, &|n| (n % 7 / 6) as f64), Err(FitError::TooLittle)));
    // A record without any rain gives a process without storms.
    let dry = read(1, 800, &|_| 0.0).unwrap();
    assert!(dry.rain.iter().all(|month| month.storms_per_h == 0.0));
}
