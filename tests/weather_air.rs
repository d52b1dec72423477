//! Weather tied to pulse rain: monthly means are what the scenario says, whatever the rain does to the hours, and the
//! ties have the strength that was asked for.

use dooryard::math::time::Span;
use dooryard::scenario::season::Calendar;
use dooryard::scenario::weather::{Air, Generated, PulseMonth, Pulses, Shift};
use dooryard::world::LocalClock;
use dooryard::world::weather::generated::generate;
use dooryard::world::weather::pulses::moments::Moments;
use dooryard::world::weather::{Conditions, SeasonWeather, generate_pulses};
use jiff::civil::date;

/// A rainy month: raining for about a tenth of the time.
const MONTH: PulseMonth = PulseMonth {
    storms_per_h: 0.0233,
    intensity_mm: 0.6528,
    rate_shape: 2.6,
    rate_scale_h: 1.3,
    cells: 0.25,
    ending: 0.05,
    intensity_shape: 1.0,
};

fn model() -> Pulses {
    Pulses {
        rain: [MONTH; 12],
        air: Air {
            temperature_c: [14.0; 12],
            temperature_swing_k: [4.0; 12],
            temperature_spread_k: [3.0; 12],
            temperature_memory_h: 40.0,
            rain_cooling_k: 4.5,
            dryness_k: 1.0,
            dryness_spread_k: 2.0,
            wind_m_s: [3.2; 12],
            wind_shape: 2.0,
            wind_memory_h: 9.5,
            wind_swing: [0.25; 12],
            wind_in_rain: 1.3,
            roughness_m: 0.03,
            clearness: [0.7; 12],
            clearness_spread: 0.2,
            clearness_in_rain: 0.22,
        },
        shift: Shift::NONE,
    }
}

fn thirty_days() -> LocalClock {
    LocalClock::new(&Calendar { first_day: date(2025, 6, 1), last_day: date(2025, 6, 30) }, "UTC").unwrap()
}

/// One figure per season: the mean of a value over the time that is chosen, then mean and standard error over seasons.
fn over_seasons(
    seasons: &[SeasonWeather],
    clock: &LocalClock,
    value: impl Fn(&Conditions, f64) -> Option<f64>,
) -> (f64, f64) {
    let each: Vec<f64> = seasons
        .iter()
        .map(|weather| {
            let (mut sum, mut time) = (0.0, 0.0);
            for (step, length) in weather.stretches(clock) {
                let hour = clock.second_of_day_local(step.from) / 3_600.0;
                if let Some(value) = value(step, hour) {
                    sum += value * length.hours();
                    time += length.hours();
                }
            }
            sum / time
        })
        .collect();
    let n = each.len() as f64;
    let mean = each.iter().sum::<f64>() / n;
    let variance = each.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

#[test]
fn means_are_what_the_scenario_says() {
    let (model, clock) = (model(), thirty_days());
    let seasons: Vec<SeasonWeather> = (0..200).map(|season| generate_pulses(&model, &clock, 8, season)).collect();
    let near = |(mean, error): (f64, f64), exact: f64, slack: f64, what: &str| {
        assert!((mean - exact).abs() < 4.5 * error + slack, "{what}: {mean} +- {error}, wanted {exact}");
        assert!(error < 0.05 * exact.abs(), "{what}: {error} of {exact} proves nothing");
    };
    let wet_share = Moments::new(&MONTH).wet_now();
    assert!((0.08..0.22).contains(&wet_share), "{wet_share}");
    near(over_seasons(&seasons, &clock, |c, _| Some(f64::from(c.rain_mm_h > 0.0))), wet_share, 0.0, "raining");
    // The cooling follows the rain by an hour, its compensation does not: a few hundredths of a kelvin.
    near(over_seasons(&seasons, &clock, |c, _| Some(c.temperature_c)), 14.0, 0.05, "temperature");
    near(over_seasons(&seasons, &clock, |c, _| Some(c.wind_m_s)), 3.2, 0.0, "wind");
    let dry = |c: &Conditions, hour: f64| (c.rain_mm_h == 0.0 && (10.0..16.0).contains(&hour)).then_some(c.clearness);
    near(over_seasons(&seasons, &clock, dry), 0.7, 0.0, "clearness");
    // Gust factor 1 + 2.5 / ln(10 / 0.03) = 1.43.
    near(over_seasons(&seasons, &clock, |c, _| Some(c.gust_m_s / c.wind_m_s)), 1.430, 0.0, "gust factor");
}

#[test]
fn rain_goes_with_cold_afternoons_wind_and_cloud() {
    let (model, clock) = (model(), thirty_days());
    let seasons: Vec<SeasonWeather> = (0..300).map(|season| generate_pulses(&model, &clock, 9, season)).collect();
    let afternoon = |wet: bool| {
        over_seasons(&seasons, &clock, move |c, hour| {
            ((c.rain_mm_h > 0.0) == wet && (14.0..16.0).contains(&hour)).then_some(c.temperature_c)
        })
    };
    let ((wet, a), (dry, b)) = (afternoon(true), afternoon(false));
    // 4.5 K for a long rain; short ones have not cooled yet and dry hours after rain are still cold.
    let colder = dry - wet;
    assert!(a + b < 0.5 && (2.0..4.5).contains(&colder), "{colder} K, errors {a} and {b}");
    let wind =
        |wet: bool| over_seasons(&seasons, &clock, move |c, _| ((c.rain_mm_h > 0.0) == wet).then_some(c.wind_m_s));
    let ((wet, a), (dry, b)) = (wind(true), wind(false));
    let error = (wet / dry) * ((a / wet).powi(2) + (b / dry).powi(2)).sqrt();
    assert!((wet / dry - 1.3).abs() < 4.5 * error && error < 0.03, "{} +- {error}", wet / dry);
    assert!(seasons.iter().flat_map(|s| &s.steps).all(|c| c.rain_mm_h == 0.0 || c.clearness == 0.22));
}

/// Dew at dawn on many clear nights, hardly by day; fog now and then; never more water than the air holds.
#[test]
fn dew_and_fog_come_at_dawn() {
    let (model, clock) = (model(), thirty_days());
    let seasons: Vec<SeasonWeather> = (0..100).map(|season| generate_pulses(&model, &clock, 10, season)).collect();
    assert!(seasons.iter().flat_map(|s| &s.steps).all(|c| c.dew_point_c <= c.temperature_c));
    let share = |from: f64, to: f64, is: fn(&Conditions) -> bool| {
        let inside = move |c: &Conditions, hour: f64| {
            (c.rain_mm_h == 0.0 && (from..to).contains(&hour)).then(|| f64::from(is(c)))
        };
        over_seasons(&seasons, &clock, inside).0
    };
    let (dawn, noon) = (share(3.0, 5.0, |c| c.dew_on(2.0)), share(12.0, 16.0, |c| c.dew_on(2.0)));
    // Dryness normal(1, 2) K: dew on a surface 2 K colder with probability Phi(0.5) = 0.69 at the coldest hour.
    assert!((0.5..0.75).contains(&dawn) && noon < 0.05, "dew at dawn {dawn}, at noon {noon}");
    let (dawn, noon) = (share(3.0, 5.0, Conditions::fog), share(12.0, 16.0, Conditions::fog));
    assert!((0.05..0.4).contains(&dawn) && noon < 0.01, "fog at dawn {dawn}, at noon {noon}");
    let humid = over_seasons(&seasons, &clock, |c, _| (c.rain_mm_h > 0.0).then(|| c.relative_humidity())).0;
    assert!((0.92..0.97).contains(&humid), "{humid}");
}

#[test]
fn shifts_of_pulse_weather() {
    let clock = thirty_days();
    let plain = generate_pulses(&model(), &clock, 3, 0);
    let mut shifted = model();
    shifted.shift = Shift { rain: 2.0, spells: 1.0, wind: 0.5, warming_k: 3.0 };
    let weather = generate_pulses(&shifted, &clock, 3, 0);
    assert_eq!(plain.steps.len(), weather.steps.len());
    for (a, b) in plain.steps.iter().zip(&weather.steps) {
        assert!((2.0 * a.rain_mm_h - b.rain_mm_h).abs() < 1e-9 && (0.5 * a.wind_m_s - b.wind_m_s).abs() < 1e-12);
        assert!((a.temperature_c + 3.0 - b.temperature_c).abs() < 1e-9);
    }
    // Twice as many storms: twice the depth on the average.
    shifted.shift = Shift { spells: 2.0, ..Shift::NONE };
    let depths: Vec<f64> =
        (0..300).map(|season| generate_pulses(&shifted, &clock, 3, season).total_rain_mm(&clock)).collect();
    let mean = depths.iter().sum::<f64>() / 300.0;
    let sd = (depths.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 299.0).sqrt();
    let exact = 2.0 * Moments::new(&MONTH).mean(720.0);
    assert!((mean - exact).abs() < 4.5 * sd / 300.0_f64.sqrt(), "{mean} +- {sd}, {exact}");
}

fn alternating(shift: Shift) -> Generated {
    Generated {
        wet_spell_h: [4.0; 12],
        dry_spell_h: [16.0; 12],
        intensity_mm_h: [1.4; 12],
        intensity_shape: 0.6,
        intensity_step_h: 0.5,
        temperature_c: [10.0; 12],
        temperature_swing_k: [4.0; 12],
        temperature_spread_k: [3.0; 12],
        temperature_memory_h: 40.0,
        wind_m_s: [3.0; 12],
        wind_shape: 2.0,
        wind_memory_h: 10.0,
        gust_factor: 1.7,
        clearness: [0.65; 12],
        clearness_spread: 0.2,
        shift,
    }
}

#[test]
fn shifts_of_alternating_weather() {
    let clock = thirty_days();
    let plain = generate(&alternating(Shift::NONE), &clock, 3, 0);
    let weather = generate(&alternating(Shift { rain: 2.0, spells: 1.0, wind: 0.5, warming_k: 3.0 }), &clock, 3, 0);
    for (a, b) in plain.steps.iter().zip(&weather.steps) {
        assert!((2.0 * a.rain_mm_h - b.rain_mm_h).abs() < 1e-9 && (0.5 * a.wind_m_s - b.wind_m_s).abs() < 1e-12);
        assert!((a.temperature_c + 3.0 - b.temperature_c).abs() < 1e-9);
    }
    // Half as many spells of the same length: raining for 4 in 40 hours instead of 4 in 20.
    let fewer = alternating(Shift { spells: 0.5, ..Shift::NONE });
    let seasons: Vec<SeasonWeather> = (0..200).map(|season| generate(&fewer, &clock, 4, season)).collect();
    let (share, error) = over_seasons(&seasons, &clock, |c, _| Some(f64::from(c.rain_mm_h > 0.0)));
    assert!((share - 0.1).abs() < 4.5 * error && error < 0.005, "{share} +- {error}");
    assert_eq!(clock.season_length(), Span(30 * Span::DAY.0));
}
