//! Studies of many seasons: the same bytes whatever the threads, replayable seasons, an observed year.

mod support;

use std::path::Path;
use std::sync::atomic::AtomicBool;

use dooryard::ledger::metric::{Key, METRICS};
use dooryard::scenario::{self, Scenario};
use dooryard::sensing::channel::Sampling;
use dooryard::study::result::RunResult;
use dooryard::study::run::{RunSettings, run};

static GO_ON: AtomicBool = AtomicBool::new(false);

fn settings(seasons: u64, threads: usize) -> RunSettings<'static> {
    RunSettings {
        seasons,
        first_season: 0,
        seed: 1,
        strategies: vec![0, 1],
        threads: Some(threads),
        events: true,
        sampling: Sampling::Exact,
        confidence: 0.95,
        stop: &GO_ON,
    }
}

fn play(scenario: &Scenario, settings: &RunSettings) -> RunResult {
    run(scenario, "no hash", settings, &|_| {}).expect("the study can be played")
}

fn load(path: &str) -> Scenario {
    let metrics: Vec<(&str, &str)> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    match scenario::load(Path::new(path), &metrics) {
        Ok(loaded) => loaded.scenario,
        Err(problems) => panic!("{problems}"),
    }
}

/// One, two and eight threads, and a second run: the same records to the last bit, events included.
#[test]
fn threads_change_nothing() {
    let mut scenario = support::noisy();
    scenario.calendar.last_day = jiff::civil::date(2025, 4, 20);
    let one = play(&scenario, &settings(6, 1));
    for threads in [1, 2, 8] {
        let other = play(&scenario, &settings(6, threads));
        assert_eq!(one.strategies, other.strategies, "{threads} threads");
    }
}

/// Any season can be replayed alone, and with other strategies beside it or not.
#[test]
fn a_season_replays_alone() {
    let mut scenario = support::noisy();
    scenario.calendar.last_day = jiff::civil::date(2025, 4, 20);
    let all = play(&scenario, &settings(5, 2));
    let alone = play(&scenario, &RunSettings { first_season: 3, strategies: vec![1], ..settings(1, 1) });
    assert_eq!(all.strategies[1].seasons[3], alone.strategies[0].seasons[0]);
    let elsewhere = play(&scenario, &RunSettings { seed: 2, ..settings(5, 2) });
    assert_ne!(all.strategies[0].seasons[3], elsewhere.strategies[0].seasons[3]);
}

#[test]
fn a_study_that_is_stopped_keeps_what_it_has() {
    let scenario = support::base();
    let stop = AtomicBool::new(true);
    let result = play(&scenario, &RunSettings { stop: &stop, ..settings(5, 2) });
    assert_eq!((result.seasons_asked, result.seasons_played), (5, 0));
}

/// The rain that the books count over an observed year is the rain of the record: its own sum over the days played
/// (the file's hourly depths, summed here independently of the weather room's reader).
#[test]
fn an_observed_year_rains_what_was_observed() {
    let scenario = load("tests/scenarios/observed_year.toml");
    let result = play(&scenario, &RunSettings { events: false, ..settings(2, 2) });
    let mut sum = 0.0;
    let mut wet_hours = 0;
    let text = std::fs::read_to_string("tests/data/weather/nyc2013_lga_hourly.csv").expect("the data file is there");
    for line in text.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let mut fields = line.split(',');
        let (time, rain) = (fields.next().unwrap_or(""), fields.next().unwrap_or(""));
        let rain: f64 = rain.parse().unwrap_or(0.0);
        // The record runs on standard time (-05:00) all year, the season on civil time: from 2 January 00:00 -05:00 to
        // 30 December 00:00 -05:00 both are the same in winter.
        if ("2013-01-02T00:00:00-05:00".."2013-12-30T00:00:00-05:00").contains(&time) {
            sum += rain;
            wet_hours += i32::from(rain > 0.0);
        }
    }
    assert!(sum > 900.0, "the file should hold most of its 968.756 mm in these days, found {sum}");
    for strategy in &result.strategies {
        for season in &strategy.seasons {
            assert!((season.value(Key::RainDepth) - sum).abs() < 1e-6, "{} mm of {sum}", season.value(Key::RainDepth));
            assert!((season.value(Key::RainTime) - f64::from(wet_hours)).abs() < 1e-6);
            assert!(season.value(Key::WetFloorDepth) < 0.2 * sum);
        }
        // The same weather every season, but not the same luck.
        assert_ne!(strategy.seasons[0], strategy.seasons[1]);
    }
}

/// Common random numbers: the outside is the same for every strategy, so that arrivals go together.
#[test]
fn strategies_meet_the_same_outside() {
    let mut scenario = support::usual();
    scenario.visitors.clear();
    let mut twin = scenario.strategies[0].clone();
    twin.name = "twin".into();
    // Longer than its hold rule would keep it open.
    twin.controller.open_at_least = dooryard::math::time::Span::from_seconds(40.0);
    scenario.strategies[1] = twin;
    let result = play(&scenario, &RunSettings { events: false, ..settings(8, 2) });
    let [a, b] = [0, 1].map(|s: usize| &result.strategies[s].seasons);
    for (a, b) in a.iter().zip(b) {
        // Summed in other pieces, hence rounded otherwise.
        let (rain_a, rain_b) = (a.value(Key::RainDepth), b.value(Key::RainDepth));
        assert!((rain_a - rain_b).abs() < 1e-9 * rain_a, "{rain_a} {rain_b}");
        assert_eq!(a.value(Key::Arrivals), b.value(Key::Arrivals));
        assert_eq!(a.value(Key::DockingFailures), b.value(Key::DockingFailures));
        assert!(b.value(Key::OpenTime) > a.value(Key::OpenTime));
    }
}
