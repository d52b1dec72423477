//! Generated weather against closed forms. Every estimate comes from independent seasons on a fixed seed and is judged
//! by its own standard error, 4.5 of them wide (false alarm below 1e-5 a check).

mod common;

use common::{inputs, number, records};
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::season::Calendar;
use dooryard::scenario::weather::{Generated, Monthly, Shift};
use dooryard::world::clock::LocalClock;
use dooryard::world::weather::SeasonWeather;
use dooryard::world::weather::generated::generate;
use jiff::civil::{Date, date};

fn clock(zone: &str, first_day: Date, last_day: Date) -> LocalClock {
    LocalClock::new(&Calendar { first_day, last_day }, zone).unwrap()
}

fn flat(value: f64) -> Monthly {
    [value; 12]
}

fn weather() -> Generated {
    Generated {
        wet_spell_h: flat(4.0),
        dry_spell_h: flat(10.0),
        intensity_mm_h: flat(1.4),
        intensity_shape: 0.6,
        intensity_step_h: 1.0 / 3.0,
        temperature_c: flat(10.0),
        temperature_swing_k: flat(0.0),
        temperature_spread_k: [3.5; 12],
        temperature_memory_h: 40.0,
        wind_m_s: flat(2.8),
        wind_shape: 2.0,
        wind_memory_h: 10.0,
        gust_factor: 1.7,
        clearness: flat(0.65),
        clearness_spread: 0.25,
        shift: Shift::NONE,
    }
}

fn wet_at(season: &SeasonWeather, hour: f64) -> bool {
    season.at(Instant::from_seconds(3600.0 * hour)).rain_mm_h > 0.0
}

/// Mean and standard error.
fn estimate(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

fn close(values: &[f64], exact: f64, what: &str) {
    let (mean, error) = estimate(values);
    assert!((mean - exact).abs() < 4.5 * error, "{what}: {mean} +- {error}, exact {exact}");
    // An estimate too vague to fail would prove nothing.
    assert!(error < 0.05 * exact.abs(), "{what}: standard error {error} of {exact}");
}

fn share(hits: usize, of: usize, exact: f64, what: &str) {
    let error = (exact * (1.0 - exact) / of as f64).sqrt();
    let got = hits as f64 / of as f64;
    assert!((got - exact).abs() < 4.5 * error, "{what}: {got} of {of}, exact {exact} +- {error}");
    assert!(of > 500, "{what}: {of} cases only");
}

/// The chain of wet and dry spells against its closed forms, from one-day seasons: independent, in the stationary
/// state from the first moment on.
#[test]
fn spells_are_the_two_state_chain() {
    let day = clock("UTC", date(2025, 6, 1), date(2025, 6, 1));
    for row in records("weather/rain_chain.csv") {
        let given = inputs(&row);
        let rate = |key: &str| given[key].parse::<f64>().unwrap();
        let model = Generated {
            dry_spell_h: flat(1.0 / rate("rate_dry_to_wet")),
            wet_spell_h: flat(1.0 / rate("rate_wet_to_dry")),
            ..weather()
        };
        let n = 4_000;
        let seasons: Vec<SeasonWeather> = (0..n).map(|season| generate(&model, &day, 11, season)).collect();
        let exact = number(&row, "expected");
        let what = &row["id"];
        match row["quantity"].as_str() {
            "ct_wet_fraction" => {
                for hour in [0.0, 5.5, 23.0] {
                    share(seasons.iter().filter(|s| wet_at(s, hour)).count(), seasons.len(), exact, what);
                }
            }
            "ct_prob_wet_after" => {
                let dry: Vec<_> = seasons.iter().filter(|s| !wet_at(s, 0.0)).collect();
                share(dry.iter().filter(|s| wet_at(s, rate("t"))).count(), dry.len(), exact, what);
            }
            "ct_prob_dry_interval" => {
                let end = Instant::from_seconds(3600.0 * rate("t"));
                let dry = |s: &&SeasonWeather| s.steps.iter().all(|step| step.from >= end || step.rain_mm_h == 0.0);
                share(seasons.iter().filter(dry).count(), seasons.len(), exact, what);
            }
            "ct_spell_starts_per_day" => {
                let starts = |s: &SeasonWeather| {
                    s.steps.windows(2).filter(|p| p[0].rain_mm_h == 0.0 && p[1].rain_mm_h > 0.0).count() as f64
                };
                close(&seasons.iter().map(starts).collect::<Vec<_>>(), exact, what);
            }
            other => panic!("unknown check {other}"),
        }
    }
}

/// Lengths of whole spells and the depth over many summers.
#[test]
fn spell_lengths_and_depth() {
    let summer = clock("Europe/Vienna", date(2025, 6, 1), date(2025, 8, 31));
    let model = weather();
    let (mut wet_h, mut dry_h, mut depths, mut times) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for season in 0..150 {
        let drawn = generate(&model, &summer, 3, season);
        depths.push(drawn.total_rain_mm(&summer));
        times.push(drawn.rain_time(&summer).hours());
        // Spells of this season that begin in its first 60 days, so that none is lost for being long.
        let mut begun: Option<(bool, Instant)> = None;
        for pair in drawn.steps.windows(2) {
            let wet = pair[1].rain_mm_h > 0.0;
            if (pair[0].rain_mm_h > 0.0) != wet {
                if let Some((was_wet, from)) = begun.take().filter(|b| b.1 < Instant(60 * Span::DAY.0)) {
                    let spells = if was_wet { &mut wet_h } else { &mut dry_h };
                    spells.push(pair[1].from.since(from).hours());
                }
                begun = Some((wet, pair[1].from));
            }
        }
    }
    close(&wet_h, 4.0, "wet spell");
    close(&dry_h, 10.0, "dry spell");
    // Exponential: the second moment is twice the squared mean.
    close(&wet_h.iter().map(|h| h * h).collect::<Vec<_>>(), 32.0, "wet spell squared");
    let hours = summer.season_length().hours();
    close(&times, hours * 4.0 / 14.0, "time in rain");
    close(&depths, hours * 4.0 / 14.0 * 1.4, "depth");
}

/// At a month's end the chain goes on with the new rates: P(wet) relaxes from the old share to the new one as
/// p + (q - p) exp(-(a + b) t). Drawing whole spells with the month of their start would not.
#[test]
fn month_borders_are_exact() {
    let days = clock("UTC", date(2025, 1, 31), date(2025, 2, 1));
    let mut model = weather();
    (model.wet_spell_h[0], model.dry_spell_h[0]) = (10.0, 30.0);
    (model.wet_spell_h[1], model.dry_spell_h[1]) = (5.0, 5.0);
    model.intensity_mm_h[1] = 4.2;
    let n = 4_000;
    let seasons: Vec<SeasonWeather> = (0..n).map(|season| generate(&model, &days, 5, season)).collect();
    for (hour, exact) in [(23.9, 0.25), (27.0, 0.5 - 0.25 * (-0.4 * 3.0_f64).exp()), (47.9, 0.5)] {
        share(seasons.iter().filter(|s| wet_at(s, hour)).count(), seasons.len(), exact, &format!("hour {hour}"));
    }
    // The intensity follows the month of the step: seen well after the border.
    let late = |s: &SeasonWeather| Some(s.at(Instant::from_seconds(3600.0 * 40.0)).rain_mm_h).filter(|r| *r > 0.0);
    close(&seasons.iter().filter_map(late).collect::<Vec<_>>(), 4.2, "February's intensity");
}

/// The first step of each wet spell: gamma with the stated mean and shape, so variance mean^2 / shape.
#[test]
fn intensities_are_gamma() {
    let month = clock("UTC", date(2025, 6, 1), date(2025, 6, 30));
    let mut first = Vec::new();
    let third = Span(Span::MINUTE.0 * 20);
    for season in 0..150 {
        let drawn = generate(&weather(), &month, 8, season);
        let mut since: Option<Instant> = None;
        for pair in drawn.steps.windows(2) {
            if pair[1].rain_mm_h == 0.0 {
                since = None;
            } else if pair[0].rain_mm_h == 0.0 {
                since = Some(pair[1].from);
                first.push(pair[1].rain_mm_h);
            } else if let Some(start) = since {
                // Within a spell the intensity changes only on its own 20-minute steps.
                let on_step = (pair[1].from.since(start).0 % third.0) == 0;
                assert!(on_step || pair[1].rain_mm_h == pair[0].rain_mm_h, "{pair:?}");
            }
        }
    }
    close(&first, 1.4, "intensity");
    let squares: Vec<f64> = first.iter().map(|x| (x - 1.4).powi(2)).collect();
    close(&squares, 1.4 * 1.4 / 0.6, "variance of the intensity");
}

/// Anomalies of temperature: variance, and correlation exp(-lag / memory).
#[test]
fn temperature_remembers() {
    let summer = clock("UTC", date(2025, 6, 1), date(2025, 8, 31));
    let model = Generated { wet_spell_h: flat(0.0), ..weather() };
    let (mut means, mut squares, mut products) = (Vec::new(), Vec::new(), Vec::new());
    for season in 0..400 {
        let t: Vec<f64> = generate(&model, &summer, 2, season).steps.iter().map(|s| s.temperature_c).collect();
        assert_eq!(t.len(), 92 * 24);
        let n = t.len() as f64;
        means.push(t.iter().sum::<f64>() / n);
        squares.push(t.iter().map(|x| (x - 10.0).powi(2)).sum::<f64>() / n);
        let lagged = t.iter().zip(&t[20..]).map(|(x, y)| (x - 10.0) * (y - 10.0)).sum::<f64>();
        products.push(lagged / (n - 20.0));
    }
    close(&means, 10.0, "mean temperature");
    close(&squares, 3.5 * 3.5, "variance of the temperature");
    close(&products, 3.5 * 3.5 * (-0.5_f64).exp(), "covariance at half the memory");
}

/// Without the random part the temperature is the yearly curve plus the daily wave.
#[test]
fn temperature_follows_year_and_day() {
    let mut model = Generated { temperature_spread_k: [0.0; 12], temperature_swing_k: flat(4.0), ..weather() };
    model.temperature_c = std::array::from_fn(|month| 2.0 * month as f64);
    // 16 June is the middle of a month of 30 days, 00:00; the civil clock is two hours ahead of UTC.
    let days = clock("Europe/Vienna", date(2025, 6, 1), date(2025, 6, 30));
    let drawn = generate(&model, &days, 1, 0);
    let of_day = |day: usize| -> Vec<f64> {
        (0..24).map(|h| drawn.at(days.day_start(day) + Span(Span::HOUR.0 * h + 1)).temperature_c).collect()
    };
    let hours = of_day(15);
    let warmest = (0..24).max_by(|a, b| hours[*a].total_cmp(&hours[*b])).unwrap();
    assert!(warmest == 14 || warmest == 15, "{warmest}");
    let low = hours.iter().copied().fold(f64::INFINITY, f64::min);
    assert!((hours[warmest] - low - 8.0).abs() < 0.15, "swing {}", hours[warmest] - low);
    let mean = hours.iter().sum::<f64>() / 24.0;
    // Half a day after mid-June the straight monthly rise has added 2 K / 30 / 2.
    assert!((mean - (10.0 + 1.0 / 30.0)).abs() < 1e-9, "{mean}");
    let spread = |day: usize| of_day(day).iter().sum::<f64>() / 24.0;
    assert!((spread(29) - spread(0) - 2.0 * 29.0 / 30.0).abs() < 1e-9);
}

/// A spread by months: the middle of each month has its own, whatever its neighbours have.
#[test]
fn temperature_scatters_by_the_month() {
    let mut model = Generated { temperature_swing_k: flat(0.0), ..weather() };
    model.temperature_spread_k = std::array::from_fn(|month| if month < 6 { 2.0 } else { 5.0 });
    for (month, spread_k) in [(3, 2.0), (9, 5.0)] {
        let days = clock("UTC", date(2025, month, 15), date(2025, month, 16));
        let squares: Vec<f64> = (0..800)
            .map(|season| generate(&model, &days, 6, season).at(days.day_start(1)).temperature_c)
            .map(|temperature_c| (temperature_c - 10.0).powi(2))
            .collect();
        close(&squares, spread_k * spread_k, "variance of the month");
    }
}

/// Wind: mean, Weibull shape (share of hours above a level), memory of the underlying process, gusts.
#[test]
fn wind_is_weibull() {
    let summer = clock("UTC", date(2025, 6, 1), date(2025, 8, 31));
    let model = Generated { wet_spell_h: flat(0.0), ..weather() };
    // Scale of a Weibull law of shape 2 with mean m: m / Gamma(1.5) = 2 m / sqrt(pi).
    let scale = 2.0 * 2.8 / std::f64::consts::PI.sqrt();
    let (mut means, mut high, mut low, mut both) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    // The median of the wind is at z = 0; P(z_1 > 0, z_2 > 0) = 1/4 + asin(r) / 2 pi (Sheppard 1899).
    let median = scale * std::f64::consts::LN_2.sqrt();
    for season in 0..200 {
        let drawn = generate(&model, &summer, 6, season);
        let u: Vec<f64> = drawn.steps.iter().map(|step| step.wind_m_s).collect();
        let n = u.len() as f64;
        let share = |test: &dyn Fn(f64) -> bool| u.iter().filter(|x| test(**x)).count() as f64 / n;
        means.push(u.iter().sum::<f64>() / n);
        high.push(share(&|x| x > 1.5 * scale));
        low.push(share(&|x| x > 0.5 * scale));
        let pairs = u.iter().zip(&u[5..]).filter(|(a, b)| **a > median && **b > median).count();
        both.push(pairs as f64 / (n - 5.0));
        assert!(drawn.steps.iter().all(|step| (step.gust_m_s / step.wind_m_s - 1.7).abs() < 1e-12));
    }
    close(&means, 2.8, "mean wind");
    close(&high, (-2.25_f64).exp(), "share above 1.5 scales");
    close(&low, (-0.25_f64).exp(), "share above half a scale");
    let correlation = (-0.5_f64).exp();
    close(&both, 0.25 + correlation.asin() / (2.0 * std::f64::consts::PI), "both above the median");
}

#[test]
fn clearness_has_its_mean_and_spread() {
    let summer = clock("UTC", date(2025, 6, 1), date(2025, 8, 31));
    let model = Generated { wet_spell_h: flat(0.0), ..weather() };
    let (mut means, mut squares) = (Vec::new(), Vec::new());
    for season in 0..100 {
        let k: Vec<f64> = generate(&model, &summer, 6, season).steps.iter().map(|step| step.clearness).collect();
        assert!(k.iter().all(|k| (0.0..=1.2).contains(k)));
        means.push(k.iter().sum::<f64>() / k.len() as f64);
        squares.push(k.iter().map(|k| (k - 0.65).powi(2)).sum::<f64>() / k.len() as f64);
    }
    close(&means, 0.65, "clearness");
    close(&squares, 0.25 * 0.25, "variance of the clearness");
    let rainy = generate(&weather(), &summer, 6, 0);
    assert!(rainy.steps.iter().filter(|step| step.rain_mm_h > 0.0).all(|step| step.clearness == 0.25));
}

#[test]
fn steps_are_in_order_and_rain_edges_are_not_on_the_hour() {
    // With both changes of the clocks.
    let year = clock("Europe/Vienna", date(2025, 1, 1), date(2025, 12, 31));
    let drawn = generate(&weather(), &year, 1, 0);
    assert_eq!(drawn.steps[0].from, Instant::START);
    assert!(drawn.steps.windows(2).all(|pair| pair[0].from < pair[1].from));
    assert!(drawn.steps.last().unwrap().from < year.end());
    let edges: Vec<_> = drawn.steps.windows(2).filter(|p| (p[0].rain_mm_h > 0.0) != (p[1].rain_mm_h > 0.0)).collect();
    assert!(edges.len() > 1_000 && edges.iter().all(|pair| pair[1].from.0 % Span::HOUR.0 != 0));
    // Every full hour begins a step.
    let hours = drawn.steps.iter().filter(|step| step.from.0 % Span::HOUR.0 == 0).count();
    assert_eq!(hours, 8_760);
}

#[test]
fn streams_are_independent() {
    let short = clock("Europe/Vienna", date(2025, 4, 1), date(2025, 5, 31));
    let long = clock("Europe/Vienna", date(2025, 4, 1), date(2025, 7, 31));
    let model = weather();
    let season = generate(&model, &short, 1, 7);
    assert!(season == generate(&model, &short, 1, 7));
    assert!(season != generate(&model, &short, 1, 8));
    assert!(season != generate(&model, &short, 2, 7));
    // A longer season begins with the same weather.
    let longer = generate(&model, &long, 1, 7);
    assert!(season.steps[..] == longer.steps[..season.steps.len()]);
    // Another wind law leaves rain and temperature alone.
    let windy = generate(&Generated { wind_m_s: flat(9.0), wind_shape: 1.5, ..model }, &short, 1, 7);
    assert_eq!(season.steps.len(), windy.steps.len());
    for (a, b) in season.steps.iter().zip(&windy.steps) {
        assert_eq!(
            (a.from, a.rain_mm_h, a.temperature_c, a.clearness),
            (b.from, b.rain_mm_h, b.temperature_c, b.clearness)
        );
    }
}

#[test]
fn always_dry_and_always_wet() {
    let days = clock("UTC", date(2025, 4, 1), date(2025, 5, 31));
    let never = generate(&Generated { wet_spell_h: flat(0.0), ..weather() }, &days, 1, 0);
    assert_eq!((never.total_rain_mm(&days), never.rain_time(&days)), (0.0, Span::ZERO));
    let always = generate(&Generated { dry_spell_h: flat(0.0), ..weather() }, &days, 1, 0);
    assert_eq!(always.rain_time(&days), days.season_length());
    // No rain in May only: the running spell ends with April.
    let mut april = weather();
    april.wet_spell_h[4] = 0.0;
    let drawn = generate(&april, &days, 1, 0);
    let may = days.day_start(30);
    assert!(drawn.steps.iter().filter(|step| step.from >= may).all(|step| step.rain_mm_h == 0.0));
    assert!(drawn.total_rain_mm(&days) > 0.0);
}
