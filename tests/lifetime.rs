//! `lifetime` against the season's own book, Weibull's law, and a hand-counted history.

mod support;

use std::sync::atomic::AtomicBool;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::report::lifetime::{json, text};
use dooryard::report::plots::life::life;
use dooryard::report::text::Setting;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::Part;
use dooryard::sensing::channel::Sampling;
use dooryard::shelter::wear::Weibull;
use dooryard::study::lifetime::{CAUSES, Cause, LifetimeResult, from_history, lifetime};
use dooryard::study::run::RunSettings;

const SEASONS: u64 = 4;

fn played(scenario: &Scenario, threads: usize) -> LifetimeResult {
    let stop = AtomicBool::new(false);
    let settings = RunSettings {
        seasons: SEASONS,
        first_season: 0,
        seed: 3,
        strategies: vec![0],
        threads: Some(threads),
        events: false,
        sampling: Sampling::Exact,
        confidence: 0.95,
        stop: &stop,
    };
    lifetime(scenario, &settings, &|_| ()).expect("it plays")
}

fn windy() -> Scenario {
    let mut scenario = support::base();
    scenario.site.wind_factor = 1.2;
    scenario
}

/// What the log's strokes add up to is what the season's book counted, stroke by stroke.
#[test]
fn damage_agrees_with_the_book() {
    let scenario = windy();
    let result = played(&scenario, 2);
    let plan = Plan::new(&scenario).expect("a plan");
    let (mut damage, mut strokes) = (0.0, 0.0);
    for season in 0..SEASONS {
        let outside = Outside::draw(&plan, 3, season).expect("weather");
        let record = play(&plan, &outside, 0, 3, Options { sampling: Sampling::Exact, events: false });
        damage += record.value(Key::Damage) / 100.0 / SEASONS as f64;
        strokes += record.value(Key::Strokes) / SEASONS as f64;
    }
    assert!(damage > 0.0);
    assert!((result.parts[0].damage.value - damage).abs() < 1e-6 * damage, "{} {damage}", result.parts[0].damage.value);
    assert_eq!(result.strokes.value, strokes);
    let of_causes: f64 = result.causes.iter().map(|(_, damage)| damage.value).sum();
    assert!((of_causes - damage).abs() < 1e-6 * damage);
    assert_eq!(result, played(&scenario, 1), "threads never change a result");
}

/// The drive alone: B10, median and survival are Weibull's of the mean damage.
#[test]
fn one_part_follows_weibull() {
    let scenario = windy();
    let result = played(&scenario, 2);
    let law = Weibull::of_drive(&scenario.drive.wear).per(result.parts[0].damage.value);
    assert!((result.b10.value - law.b_life(0.1)).abs() < 1e-9 * result.b10.value);
    assert!((result.median.value - law.b_life(0.5)).abs() < 1e-9 * result.median.value);
    for (seasons, chance) in &result.survival {
        assert!((chance.value - law.survival(*seasons)).abs() < 1e-12);
        let interval = chance.interval.expect("four seasons support one");
        assert!(interval.low <= chance.value && chance.value <= interval.high);
    }
    // Its own exponent gives the figure above; no exponent gives the rated strokes, which all count in full.
    let by = &result.by_exponent;
    assert!((by[2].1 - result.b10.value).abs() < 1e-6 * result.b10.value);
    let strokes = scenario.drive.wear.rated_strokes / result.strokes.value;
    assert!(
        by[0].1 >= 0.99 * strokes && by[0].1 < 1.2 * strokes && by[0].1 < by[1].1 && by[1].1 < by[2].1,
        "{by:?} {strokes}"
    );
    let shares = result.spectrum.iter().fold((0.0, 0.0), |sum, bin| (sum.0 + bin.0, sum.1 + bin.1));
    assert!((shares.0 - 1.0).abs() < 1e-9 && (shares.1 - 1.0).abs() < 1e-9);
}

/// A twin part with the drive's own law takes the drive's damage and halves nothing but the hazard: the series' B10 is that of two
/// equal parts, scale 2^(-1/shape).
#[test]
fn parts_stand_in_series() {
    let mut scenario = windy();
    let wear = scenario.drive.wear;
    let twin = Part {
        name: "twin".into(),
        rated_strokes: wear.rated_strokes,
        mean_life: false,
        exponent: wear.exponent,
        weibull_shape: wear.weibull_shape,
    };
    let alone = played(&scenario, 2);
    scenario.drive.parts.push(twin);
    // A switch counts strokes whatever their load.
    let switch =
        Part { name: "switch".into(), rated_strokes: 1e12, mean_life: true, exponent: 0.0, weibull_shape: 1.5 };
    scenario.drive.parts.push(switch);
    let both = played(&scenario, 2);
    assert!((both.parts[1].damage.value - both.parts[0].damage.value).abs() < 1e-6 * both.parts[0].damage.value);
    let expected = alone.b10.value * 2.0_f64.powf(-1.0 / wear.weibull_shape);
    assert!((both.b10.value - expected).abs() < 1e-5 * expected, "{} {expected}", both.b10.value);
    // Full strokes per season over the rating: nearly the strokes begun, as few are cut short.
    let strokes = both.parts[2].damage.value * 1e12;
    assert!(strokes <= both.strokes.value + 1e-6 && strokes > 0.9 * both.strokes.value, "{strokes}");
}

/// More wind, more damage by wind; a nosy cat costs false openings.
#[test]
fn causes_follow_what_causes_them() {
    let share = |result: &LifetimeResult, cause: Cause| {
        let index = CAUSES.iter().position(|other| *other == cause).expect("listed");
        result.causes[index].1.value
    };
    let calm = played(
        &Scenario {
            site: {
                let mut site = support::base().site;
                site.wind_factor = 0.0;
                site
            },
            ..support::base()
        },
        2,
    );
    let (storm, mut quiet) = (played(&windy(), 2), windy());
    assert_eq!(share(&calm, Cause::Wind), 0.0);
    assert!(share(&storm, Cause::Wind) > 0.0);
    quiet.visitors.clear();
    let quiet = played(&quiet, 2);
    assert!(share(&quiet, Cause::FalseOpenings) < share(&storm, Cause::FalseOpenings));
}

/// Three strokes of 100, 200 and 200 N from rest and back: Miner by hand.
#[test]
fn a_logged_history() {
    let drive = support::base().drive;
    let history = [0.0, 100.0, 0.0, 200.0, 0.0, 200.0, 0.0];
    let result = from_history("log", &drive, &history, 0.5, 0.95);
    let by_hand = ((100.0_f64 / 200.0).powi(3) + 2.0) / 20_000.0 / 0.5;
    assert!((result.parts[0].damage.value - by_hand).abs() < 1e-12 * by_hand, "{}", result.parts[0].damage.value);
    assert!((result.strokes.value - 6.0).abs() < 1e-12);
    let law = Weibull::of_drive(&drive.wear).per(by_hand);
    assert!((result.b10.value - law.b_life(0.1)).abs() < 1e-9 * result.b10.value);
}

#[test]
fn reports_and_the_drawing() {
    for result in [played(&windy(), 2), from_history("log", &support::base().drive, &[0.0, 150.0, 0.0], 1.0, 0.95)] {
        let report = text(&result, Setting::default());
        assert!(report.lines().all(|line| line.chars().count() <= 80 && line.trim_end() == line), "{report}");
        assert!(report.contains("Nine in ten") && !report.contains("NaN"), "{report}");
        let document: serde_json::Value = serde_json::from_str(&json(&result, "0", &[]).expect("JSON")).expect("JSON");
        assert_eq!(document["survival"].as_array().expect("a list").len(), 4);
        let figure = life(&result).expect("a drawing");
        assert!(figure.svg.contains("</svg>") && !figure.svg.contains("NaN"));
    }
}
