//! Rain as clustered pulses: closed forms against independent tables, generated series against the closed forms.

mod common;

use common::{Record, inputs, number, records};
use dooryard::math::time::Instant;
use dooryard::scenario::season::Calendar;
use dooryard::scenario::weather::{Air, PulseMonth, PulseYear, Pulses, Shift};
use dooryard::world::clock::LocalClock;
use dooryard::world::weather::pulses::constants::StormConstants;
use dooryard::world::weather::pulses::fixed_rate::{BartlettLewis, CellCount, NeymanScott};
use dooryard::world::weather::pulses::moments::Moments;
use dooryard::world::weather::{SeasonWeather, generate_pulses};
use jiff::civil::{Date, date};
use statrs::distribution::{Continuous as _, Gamma};

/// A month from (lambda, iota, alpha, nu, kappa, phi).
fn month(set: [f64; 6]) -> PulseMonth {
    let [storms_per_h, intensity_mm, rate_shape, rate_scale_h, cells, ending] = set;
    PulseMonth { storms_per_h, intensity_mm, rate_shape, rate_scale_h, cells, ending, intensity_shape: 1.0 }
}

/// The parameters behind cases 4 and 5 of the table.
const CASE_4: [f64; 6] = [0.02, 0.4, 3.5, 1.2, 0.6, 0.06];
const CASE_5: [f64; 6] = [0.012, 0.5, 1.8, 0.8, 0.3, 0.03];

/// A fit to ten Julys of an alpine record: the heaviest tail of storm lengths that a fit may have.
const JULY: [f64; 6] = [0.0298, 0.801, 2.1, 0.457, 0.2064, 0.0425];

fn air() -> Air {
    Air {
        temperature_c: [10.0; 12],
        temperature_swing_k: [4.0; 12],
        temperature_spread_k: [3.5; 12],
        temperature_memory_h: 40.0,
        rain_cooling_k: 4.5,
        dryness_k: 1.0,
        dryness_spread_k: 2.0,
        wind_m_s: [3.0; 12],
        wind_shape: 2.0,
        wind_memory_h: 9.5,
        wind_swing: [0.25; 12],
        wind_in_rain: 1.2,
        roughness_m: 0.1,
        clearness: [0.65; 12],
        clearness_spread: 0.25,
        clearness_in_rain: 0.25,
    }
}

fn weather(rain: PulseYear) -> Pulses {
    Pulses { rain, air: air(), shift: Shift::NONE }
}

fn clock(first_day: Date, last_day: Date) -> LocalClock {
    LocalClock::new(&Calendar { first_day, last_day }, "UTC").unwrap()
}

/// The series against quadrature, 24 pairs over the whole range of the fit.
#[test]
fn storm_constants() {
    for row in records("weather/checks/rainmodel_constants.csv") {
        let found = StormConstants::new(number(&row, "kappa"), number(&row, "phi"));
        for (value, column) in [(found.wet, "M_series"), (found.g, "G_series")] {
            let exact = number(&row, column);
            // The table prints twelve digits; the alternating sums lose up to five of sixteen at kappa = 12.
            assert!((value / exact - 1.0).abs() < 5e-11, "{row:?}: {value}");
        }
    }
}

/// Step of the table: ten minutes are printed as 0.1667 h.
fn step_h(row: &Record) -> f64 {
    let h = number(row, "h");
    if h < 0.2 { 1.0 / 6.0 } else { h }
}

/// Mean of a function of the rate under its gamma law, by Simpson's rule over ln eta from 1e-9 to 1e3 mean rates.
fn mean_over_rates(alpha: f64, nu: f64, f: impl Fn(f64) -> f64) -> f64 {
    let law = Gamma::new(alpha, nu).unwrap();
    let (low, high, cells) = ((1e-9 * alpha / nu).ln(), (1e3 * alpha / nu).ln(), 20_000);
    let width = (high - low) / f64::from(cells);
    let value = |i: i32| {
        let eta = (low + width * f64::from(i)).exp();
        law.pdf(eta) * eta * f(eta)
    };
    let inner: f64 = (1..cells).map(|i| value(i) * if i % 2 == 1 { 4.0 } else { 2.0 }).sum();
    (value(0) + inner + value(cells)) * width / 3.0
}

/// Mean, variance, lag-1 correlation and wet share at a step of h hours.
fn statistics(case: &str, h: f64) -> [f64; 4] {
    let of_month = |set| {
        let m = Moments::new(&month(set));
        [m.mean(h), m.variance(h), m.correlation(h), 1.0 - m.dry(h)]
    };
    // Random rate, intensities of their own (exponential in the table): the fixed-rate formulas averaged over the rate.
    let averaged = |lambda: f64, phi: f64, kappa: f64, alpha: f64, nu: f64, mx: f64| {
        let storm = |eta: f64| BartlettLewis {
            storms_per_h: lambda,
            cells_per_h: kappa * eta,
            closing_per_h: phi * eta,
            ending_per_h: eta,
            intensity_mm_h: mx,
        };
        let over = |f: &dyn Fn(f64) -> f64| mean_over_rates(alpha, nu, f);
        let variance = over(&|eta| storm(eta).covariance().variance(h));
        let lagged = over(&|eta| storm(eta).covariance().lagged(h, 1));
        let dry = over(&|eta| storm(eta).log_dry(h)).exp();
        [over(&|eta| storm(eta).mean(h)), variance, lagged / variance, 1.0 - dry]
    };
    match case {
        "1" => {
            let storm = BartlettLewis {
                storms_per_h: 4.0 / 240.0,
                cells_per_h: 0.3,
                closing_per_h: 0.1,
                ending_per_h: 2.0,
                intensity_mm_h: 4.0,
            };
            let c = storm.covariance();
            [storm.mean(h), c.variance(h), c.lagged(h, 1) / c.variance(h), 1.0 - storm.dry(h)]
        }
        "2" => averaged(0.569_75 / 24.0, 0.048_387, 0.599_64, 7.2933, 0.052_518 * 24.0, 30.48 / 24.0),
        "3" => averaged(0.9396 / 24.0, 0.0568, 1.058_19, 2.695_19, 0.006_282_9 * 24.0, 24.334 / 24.0),
        "4" => of_month(CASE_4),
        "5" => of_month(CASE_5),
        _ => panic!("{case}"),
    }
}

/// Every row; the table's six decimals are its only limit.
#[test]
fn moments_of_the_processes() {
    let mut checked = 0;
    for row in records("weather/checks/rainmodel_moments.csv") {
        let found = statistics(&row["case"], step_h(&row));
        let value = found[["mean", "var", "lag1", "wet"].iter().position(|stat| *stat == row["stat"]).unwrap()];
        let exact = number(&row, "theory");
        // Half a unit of the sixth decimal, and half a unit of the last digit of the parameters: four digits in the mean
        // intensity of case 2, 30.48 mm/d, five in that of case 3, 24.334 mm/d, squared in the variance.
        let slack = match row["case"].as_str() {
            "2" => 2.0 * 0.005 / 30.48 * exact,
            "3" => 2.0 * 0.0005 / 24.334 * exact,
            _ => 0.0,
        };
        assert!((value - exact).abs() < 0.6e-6 + slack, "{row:?}: {value}");
        checked += 1;
    }
    assert_eq!(checked, 80);
}

/// The tied process is the fixed-rate process averaged over the rate: the closed forms against quadrature.
#[test]
fn closed_forms_are_averages_over_the_rate() {
    for set in [CASE_4, JULY, [0.011, 1.79, 2.1, 1.59, 0.54, 0.14]] {
        let [lambda, iota, alpha, nu, kappa, phi] = set;
        let storm = |eta: f64| BartlettLewis {
            storms_per_h: lambda,
            cells_per_h: kappa * eta,
            closing_per_h: phi * eta,
            ending_per_h: eta,
            intensity_mm_h: iota * eta,
        };
        let moments = Moments::new(&month(set));
        for h in [1.0 / 6.0, 1.0, 6.0, 24.0] {
            let same = |found: f64, exact: f64, what: &str| {
                assert!((found / exact - 1.0).abs() < 1e-6, "{set:?} {h} h {what}: {found}, by quadrature {exact}");
            };
            same(moments.mean(h), mean_over_rates(alpha, nu, |eta| storm(eta).mean(h)), "mean");
            same(
                moments.variance(h),
                mean_over_rates(alpha, nu, |eta| storm(eta).covariance().variance(h)),
                "variance",
            );
            for k in [1, 2, 7] {
                let exact = mean_over_rates(alpha, nu, |eta| storm(eta).covariance().lagged(h, k));
                same(moments.lagged(h, k), exact, "covariance");
            }
            same(moments.dry(h).ln(), mean_over_rates(alpha, nu, |eta| storm(eta).log_dry(h)), "dry");
        }
        let soon = -moments.dry(1e-9).ln();
        assert!((moments.wet_now() + (-soon).exp_m1()).abs() < 1e-9);
    }
}

/// Block statistics of the two classical processes: the rows on rain in continuous time of the collected checks. Left
/// out of that collection: rows on hourly chains (001 to 033; no such generator here), rows on the alternating
/// process (034 to 041; `weather_generated.rs`), rows on drops, radar and light in rain (132 to 180; no such model
/// here).
#[test]
fn classical_processes() {
    let mut checked = 0;
    for row in records("weather/rain_pulses.csv") {
        let given = inputs(&row);
        let Some(model) = given.get("model") else { continue };
        let value = |key: &str| given[key].parse::<f64>().unwrap();
        let bartlett_lewis = || BartlettLewis {
            storms_per_h: value("lambda"),
            cells_per_h: value("beta"),
            closing_per_h: value("gamma"),
            ending_per_h: value("eta"),
            intensity_mm_h: value("mux"),
        };
        let neyman_scott = || NeymanScott {
            storms_per_h: value("lambda"),
            delay_per_h: value("beta"),
            ending_per_h: value("eta"),
            cells: value("nu"),
            count: if given["cells"] == "poisson" { CellCount::Poisson } else { CellCount::AtLeastOne },
            intensity_mm_h: value("mux"),
        };
        let bl = *model == "bartlett-lewis";
        let mean = |h| if bl { bartlett_lewis().mean(h) } else { neyman_scott().mean(h) };
        let covariance = || if bl { bartlett_lewis().covariance() } else { neyman_scott().covariance() };
        let dry = |h| if bl { bartlett_lewis().dry(h) } else { neyman_scott().dry(h) };
        let found = match row["quantity"].as_str() {
            "depth_mean" => mean(value("h")),
            "depth_variance" => covariance().variance(value("h")),
            "depth_lag1_autocovariance" => covariance().lagged(value("h"), 1),
            "lag1_autocorrelation" => covariance().lagged(value("h"), 1) / covariance().variance(value("h")),
            "prob_dry" => dry(value("h")),
            "prob_dry_given_previous_dry" => dry(2.0 * value("h")) / dry(value("h")),
            "wet_fraction_of_time" => 1.0 - dry(0.0),
            "mean_cells_per_storm" => bartlett_lewis().cells(),
            other => panic!("{other}"),
        };
        let exact = number(&row, "expected");
        assert!((found / exact - 1.0).abs() <= number(&row, "tol_rel"), "{row:?}: {found}");
        checked += 1;
    }
    assert_eq!(checked, 90);
}

/// Depths in blocks of whole hours; every step lies within one hour.
fn hourly(weather: &SeasonWeather, clock: &LocalClock) -> Vec<f64> {
    let mut depths = vec![0.0; clock.season_length().hours() as usize];
    for (step, length) in weather.stretches(clock) {
        depths[(step.from.seconds() / 3_600.0) as usize] += step.rain_mm_h * length.hours();
    }
    depths
}

/// Mean and standard error.
fn estimate(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

fn close(values: &[f64], exact: f64, widest: f64, what: &str) {
    let (mean, error) = estimate(values);
    assert!((mean - exact).abs() < 4.5 * error, "{what}: {mean} +- {error}, exact {exact}");
    assert!(error < widest * exact.abs(), "{what}: standard error {error} of {exact} proves nothing");
}

/// Independent seasons of 40 days against the closed forms: raw moments of blocks and shares of dry blocks, by their
/// own standard error. 4.5 of them wide: false alarm below 1e-5 a check.
#[test]
fn generated_rain_has_the_moments_of_the_formulas() {
    let clock = clock(date(2025, 6, 1), date(2025, 7, 10));
    for (set, intensity_shape, seasons, widest) in
        [(CASE_4, 1.0, 500, 0.08), (JULY, 1.0, 500, 0.12), (CASE_4, 0.4, 500, 0.1), (CASE_4, 3.0, 500, 0.08)]
    {
        let month = PulseMonth { intensity_shape, ..month(set) };
        let model = weather([month; 12]);
        let moments = Moments::new(&month);
        let series: Vec<Vec<f64>> =
            (0..seasons).map(|season| hourly(&generate_pulses(&model, &clock, 5, season), &clock)).collect();
        for h in [1_usize, 6, 24] {
            let blocks: Vec<Vec<f64>> =
                series.iter().map(|hours| hours.chunks(h).map(|block| block.iter().sum()).collect()).collect();
            let per_season = |f: &dyn Fn(&[f64]) -> f64| -> Vec<f64> { blocks.iter().map(|b| f(b)).collect() };
            let average = |values: &mut dyn Iterator<Item = f64>, n: usize| values.sum::<f64>() / n as f64;
            let hours = h as f64;
            let what = |name: &str| format!("{month:?}, {h} h, {name}");
            let mean = moments.mean(hours);
            close(&per_season(&|b| average(&mut b.iter().copied(), b.len())), mean, widest, &what("mean"));
            let square = moments.variance(hours) + mean * mean;
            close(&per_season(&|b| average(&mut b.iter().map(|x| x * x), b.len())), square, widest, &what("square"));
            let product = moments.lagged(hours, 1) + mean * mean;
            let products = |b: &[f64]| average(&mut b.windows(2).map(|p| p[0] * p[1]), b.len() - 1);
            close(&per_season(&products), product, widest, &what("product"));
            let dry = |b: &[f64]| average(&mut b.iter().map(|x| f64::from(*x == 0.0)), b.len());
            close(&per_season(&dry), moments.dry(hours), widest, &what("dry"));
        }
        // Runs of wet and of dry hours in stretches of forty days: how many there are of each in a season.
        let runs = |wet: bool| {
            let begins = |hours: &[f64]| {
                let first = usize::from((hours[0] > 0.0) == wet);
                first + hours.windows(2).filter(|pair| (pair[0] > 0.0) != wet && (pair[1] > 0.0) == wet).count()
            };
            series.iter().map(|hours| begins(hours) as f64).collect::<Vec<f64>>()
        };
        let (wet_h, dry_h) = moments.spells(960.0);
        close(&runs(true), 960.0 * (1.0 - moments.dry(1.0)) / wet_h, widest, "wet runs");
        close(&runs(false), 960.0 * moments.dry(1.0) / dry_h, widest, "dry runs");
    }
}

/// The season starts in the stationary state: the first moment rains as often and the first day brings as much as any,
/// although windows of more than 30 days carry several per cent of this set's rain.
#[test]
fn the_first_day_is_like_any_other() {
    let set = [0.06, 2.0, 2.1, 2.1, 0.12, 0.0346];
    let clock = clock(date(2025, 6, 1), date(2025, 6, 1));
    let model = weather([month(set); 12]);
    let moments = Moments::new(&month(set));
    let days: Vec<SeasonWeather> = (0..6_000).map(|season| generate_pulses(&model, &clock, 3, season)).collect();
    let now: Vec<f64> = days.iter().map(|day| f64::from(day.steps[0].rain_mm_h > 0.0)).collect();
    close(&now, moments.wet_now(), 0.02, "raining at the start");
    let depth: Vec<f64> = days.iter().map(|day| day.total_rain_mm(&clock)).collect();
    close(&depth, moments.mean(24.0), 0.03, "first day's depth");
}

/// Rain edges are exact moments, dry is exactly zero, and nothing depends on how long the season lasts.
#[test]
fn rain_is_events() {
    let short = clock(date(2025, 5, 1), date(2025, 6, 15));
    let long = clock(date(2025, 5, 1), date(2025, 9, 30));
    let mut rain = [month(JULY); 12];
    rain[5].storms_per_h = 0.0;
    let model = weather(rain);
    for season in 0..5 {
        let weather = generate_pulses(&model, &short, 9, season);
        assert_eq!(weather.steps[0].from, Instant::START);
        assert!(weather.steps.windows(2).all(|pair| pair[0].from < pair[1].from));
        assert!(weather.steps.iter().all(|step| step.rain_mm_h == 0.0 || step.rain_mm_h > 1e-9));
        assert!(weather.steps.iter().any(|step| step.rain_mm_h == 0.0));
        assert!(weather.steps.iter().any(|step| step.rain_mm_h > 0.0 && step.from.0 % 60_000_000 != 0));
        let longer = generate_pulses(&model, &long, 9, season);
        assert_eq!(weather.steps[..], longer.steps[..weather.steps.len()]);
        // No storm begins in June; the last rain is that of May's last storms.
        let july = long.months()[2].from;
        let late = long.months()[1].from + dooryard::math::time::Span(20 * 86_400_000_000);
        assert!(longer.steps.iter().filter(|s| s.from > late && s.from < july).all(|s| s.rain_mm_h < 1.0));
        assert!(longer.steps.iter().any(|step| step.from > july && step.rain_mm_h > 0.0));
    }
}
