//! `lifetime` against the season's own book, Weibull's law, and a hand-counted history.

mod support;

use std::sync::atomic::AtomicBool;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::report::lifetime::{json, text};
use dooryard::report::plots::life::life;
use dooryard::report::text::Setting;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::{Drive, Mechanism, Part, Rating, Wear};
use dooryard::scenario::weather::Weather;
use dooryard::sensing::channel::Sampling;
use dooryard::shelter::actuator::Actuator;
use dooryard::shelter::mechanism;
use dooryard::shelter::wear::{Basis, Weibull, rating_of};
use dooryard::study::lifetime::{CAUSES, Cause, LifetimeResult, Ranged, from_history, lifetime};
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
    let (mut damage, mut strokes, mut life_used) = (0.0, 0.0, 0.0);
    for season in 0..SEASONS {
        let outside = Outside::draw(&plan, 3, season).expect("weather");
        let record = play(&plan, &outside, 0, 3, Options { sampling: Sampling::Exact, events: false });
        damage += record.value(Key::DamageByLoad) / 100.0 / SEASONS as f64;
        life_used += record.value(Key::Damage) / 100.0 / SEASONS as f64;
        strokes += record.value(Key::Strokes) / SEASONS as f64;
    }
    assert!(damage > 0.0);
    assert!((result.parts[0].damage.value - damage).abs() < 1e-6 * damage, "{} {damage}", result.parts[0].damage.value);
    assert_eq!(result.strokes.value, strokes);
    // What a run calls the life used is the drive's share of it by the law that leads here.
    let leads = result.answer().parts[0].damage.value;
    assert!((leads - life_used).abs() < 1e-6 * life_used && life_used > 2.0 * damage, "{leads} {life_used} {damage}");
    let load_life = |cause: Cause| !matches!(cause, Cause::Duty);
    let of_causes: f64 = result.causes.iter().filter(|it| load_life(it.0)).map(|(_, damage)| damage.value).sum();
    assert!((of_causes - damage).abs() < 1e-6 * damage);
    assert_eq!(result, played(&scenario, 1), "threads never change a result");
}

/// The drive alone, by its own exponent: B10, median and survival are Weibull's of the mean damage.
#[test]
fn one_part_follows_weibull() {
    let scenario = windy();
    let result = played(&scenario, 2);
    let own = &result.laws[2];
    let law = Weibull::of_drive(&scenario.drive.wear).per(result.parts[0].damage.value);
    assert!((own.b10.value - law.b_life(0.1)).abs() < 1e-9 * own.b10.value);
    assert!((own.median.value - law.b_life(0.5)).abs() < 1e-9 * own.median.value);
    for (seasons, chance) in &own.survival {
        assert!((chance.value - law.survival(*seasons)).abs() < 1e-12);
        let interval = chance.interval.expect("four seasons support one");
        assert!(interval.low <= chance.value && chance.value <= interval.high);
    }
    // No exponent gives the rated strokes, which all count in full.
    let by: Vec<f64> = result.laws.iter().map(|law| law.b10.value).collect();
    let strokes = scenario.drive.wear.rated_strokes / result.strokes.value;
    assert!(by[0] >= 0.99 * strokes && by[0] < 1.2 * strokes && by[0] < by[1] && by[1] < by[2], "{by:?} {strokes}");
    let shares = result.spectrum.iter().fold((0.0, 0.0), |sum, bin| (sum.0 + bin.0, sum.1 + bin.1));
    assert!((shares.0 - 1.0).abs() < 1e-9 && (shares.1 - 1.0).abs() < 1e-9);
}

/// Under light loads the answer is the life of strokes counted in full, in headline, table, document and drawing; under loads
/// above the rating the load-life law is the shorter one.
#[test]
fn the_shortest_life_leads() {
    let mut scenario = windy();
    let light = played(&scenario, 2);
    assert_eq!((light.cautious, light.answer().exponent), (0, 0.0));
    let report = text(&light, Setting::default());
    let lead = format!("Nine in ten last {}", dooryard::report::number::significant(light.laws[0].b10.value, 3));
    assert!(report.replace('\n', " ").contains(&lead), "{lead}: {report}");
    let document: serde_json::Value = serde_json::from_str(&json(&light, "0", &[]).expect("JSON")).expect("JSON");
    assert_eq!(document["b10_seasons"]["value"].as_f64(), Some(light.laws[0].b10.value));
    let figure = life(&light).expect("a drawing");
    // The sheet ends with the cautious law, not where a fatigue law would.
    let last = light.laws[0].curve.last().expect("points")[0];
    assert!(
        last <= 20.0 * light.laws[0].b10.value && light.laws.iter().all(|law| law.curve.last().unwrap()[0] == last)
    );
    assert!(
        ["every stroke in full", "sliding wear", "as the scenario says"].iter().all(|law| figure.svg.contains(law))
    );
    scenario.drive.rated_force_n = 2.0;
    let heavy = played(&scenario, 2);
    assert_eq!(heavy.cautious, 2);
    let plan = Plan::new(&scenario).expect("a plan");
    let used: f64 = (0..SEASONS)
        .map(|season| {
            let outside = Outside::draw(&plan, 3, season).expect("weather");
            play(&plan, &outside, 0, 3, Options { sampling: Sampling::Exact, events: false }).value(Key::Damage) / 100.0
        })
        .sum();
    let mean = used / SEASONS as f64;
    let leads = heavy.answer().parts[0].damage.value;
    assert!((leads - mean).abs() < 1e-6 * mean, "{leads} {mean}");
}

/// Brushes that last a tenth of the drive are the weakest part: the headline names them, and what takes their life.
#[test]
fn the_weakest_part_leads() {
    let mut scenario = windy();
    let brushes = Part {
        name: "brushes".into(),
        rating: Rating::Stated { strokes: 2_000.0, mean: true, exponent: 0.0 },
        weibull_shape: 3.0,
    };
    scenario.drive.parts.push(brushes);
    let result = played(&scenario, 2);
    let (name, causes) = result.weakest.as_ref().expect("not the drive");
    assert_eq!(name, "brushes");
    // Strokes count whatever the wind: it takes none of their life, and all causes together take what the part's row says.
    let of = |cause: Cause| causes.iter().find(|it| it.0 == cause).expect("a cause").1;
    assert_eq!((of(Cause::Wind), of(Cause::Ice)), (0.0, 0.0));
    let all: f64 = causes.iter().map(|it| it.1).sum();
    assert!((all - result.parts[1].damage.value).abs() < 1e-9 * all);
    assert!(text(&result, Setting::default()).replace('\n', " ").contains("The weakest part is brushes"));
}

/// A door that never moves has no life: no figure pretends that it lasts for ever.
#[test]
fn a_door_that_never_moves_has_no_life() {
    let mut scenario = support::base();
    // Refused by its supply, and held by its own load.
    scenario.supply.limit_w = 3.0;
    let refused = played(&scenario, 2);
    scenario.supply.limit_w = 500.0;
    scenario.drive.stall_force_n = 1.0;
    scenario.drive.rated_force_n = 0.5;
    for result in [refused, played(&scenario, 2)] {
        assert!(!result.moved);
        let report = text(&result, Setting::default());
        // It was asked to move, though: the strokes that were begun or refused are those that a run counts.
        let asked = format!("of {} strokes per season", dooryard::report::number::significant(result.strokes.value, 4));
        assert!(result.strokes.value > 0.0 && report.replace('\n', " ").contains(&asked), "{asked}: {report}");
        assert!(report.contains("never moved") && !report.contains("100 %") && !report.contains("no end"), "{report}");
        let document: serde_json::Value = serde_json::from_str(&json(&result, "0", &[]).expect("JSON")).expect("JSON");
        assert!(document["moved"] == false && document["survival"][0]["chance"]["value"].is_null());
        assert!(life(&result).expect("a drawing").svg.contains("never moved"));
    }
}

/// A lift door that is too light for its counterweight, with a drive that can't push: it opens and never comes back. Every
/// closing stalls and takes a full stroke of the drive's life at all its force; the motor's heat uses up the insulation first
/// if the drive is good for many strokes; and what a run warns of stands before the answer.
#[test]
fn a_door_that_never_shuts_wears_its_drive() {
    let sound = played(&windy(), 2);
    let mut scenario = windy();
    scenario.drive.pushes = false;
    let Mechanism::VerticalLift(lift) = &mut scenario.door.mechanism else { panic!("a lift") };
    lift.counterweight_kg = 12.0;
    let result = played(&scenario, 2);
    let of = |cause: Cause| result.causes.iter().find(|it| it.0 == cause).expect("a cause").1.value;
    let wear = scenario.drive.wear;
    let force = Actuator::at(&scenario.drive, &scenario.supply, 20.0).available_n();
    let each = (force / scenario.drive.rated_force_n).powf(wear.exponent) / wear.rated_strokes;
    let stalls = of(Cause::Stalls) / each;
    assert!(stalls > 0.2 * result.strokes.value, "{stalls} of {}", result.strokes.value);
    assert!((stalls * SEASONS as f64).fract().abs() < 1e-6 || (stalls * SEASONS as f64).fract() > 1.0 - 1e-6);
    // In full: each stall at least as a stroke of the rating.
    assert!(result.laws[0].parts[0].damage.value >= stalls / wear.rated_strokes);
    assert!(result.answer().b10.value < sound.answer().b10.value);
    assert!(result.alarms.iter().any(|alarm| alarm.contains("never came back to shut")), "{:?}", result.alarms);
    assert!(result.alarms.iter().any(|alarm| alarm.contains("stalled")) && sound.alarms.is_empty());
    let report = text(&result, Setting::default()).replace('\n', " ");
    let (warned, answered) =
        (report.find("Warning:").expect("a warning"), report.find("Nine in ten").expect("an answer"));
    assert!(warned < answered, "{report}");
    scenario.drive.wear.rated_strokes = 1e12;
    let strong = played(&scenario, 2);
    let used = strong.causes.iter().find(|it| it.0 == Cause::Duty).expect("a cause").1.value;
    assert_eq!(strong.burns_first(), Some(1.0 / used));
    assert_eq!(sound.burns_first(), None);
    let report = text(&strong, Setting::default()).replace('\n', " ");
    let lead = format!("winding's insulation in {} seasons", dooryard::report::number::significant(1.0 / used, 3));
    assert!(report.contains(&lead), "{lead}: {report}");
    let document: serde_json::Value = serde_json::from_str(&json(&strong, "0", &[]).expect("JSON")).expect("JSON");
    assert_eq!(document["insulation_seasons"].as_f64(), Some(1.0 / used));
    assert_eq!(document["warnings"].as_array().map(Vec::len), Some(strong.alarms.len()));
}

/// Frost on a wet seal costs the drive something, a warm season nothing; the insulation of a motor whose cut-out opens lower
/// is used up sooner, by two for every ten kelvin.
#[test]
fn ice_and_duty_take_their_share() {
    let of =
        |result: &LifetimeResult, cause: Cause| result.causes.iter().find(|it| it.0 == cause).expect("a cause").1.value;
    let mut scenario = windy();
    let warm = played(&scenario, 2);
    assert_eq!(of(&warm, Cause::Ice), 0.0);
    let Weather::Generated(weather) = &mut scenario.weather else { panic!("generated") };
    weather.temperature_c = [-6.0; 12];
    (scenario.door.ice_n, scenario.door.ice_below_c) = (60.0, 0.0);
    assert!(of(&played(&scenario, 2), Cause::Ice) > 0.0);
    let mut cooler = windy();
    cooler.drive.heat.trips_at_c -= 10.0;
    let (usual, less) = (of(&warm, Cause::Duty), of(&played(&cooler, 2), Cause::Duty));
    assert!(usual > 0.0 && (less / usual - 2.0).abs() < 1e-9, "{usual} {less}");
}

/// A twin part with the drive's own law takes the drive's damage and halves nothing but the hazard: the series' B10 is that of two
/// equal parts, scale 2^(-1/shape).
#[test]
fn parts_stand_in_series() {
    let mut scenario = windy();
    let wear = scenario.drive.wear;
    let twin = Part {
        name: "twin".into(),
        rating: Rating::Stated { strokes: wear.rated_strokes, mean: false, exponent: wear.exponent },
        weibull_shape: wear.weibull_shape,
    };
    let alone = played(&scenario, 2);
    scenario.drive.parts.push(twin);
    // A switch counts strokes whatever their load.
    let switch = Part {
        name: "switch".into(),
        rating: Rating::Stated { strokes: 1e12, mean: true, exponent: 0.0 },
        weibull_shape: 1.5,
    };
    scenario.drive.parts.push(switch);
    let both = played(&scenario, 2);
    assert!((both.parts[1].damage.value - both.parts[0].damage.value).abs() < 1e-6 * both.parts[0].damage.value);
    let (alone_b10, both_b10) = (alone.laws[2].b10.value, both.laws[2].b10.value);
    let expected = alone_b10 * 2.0_f64.powf(-1.0 / wear.weibull_shape);
    assert!((both_b10 - expected).abs() < 1e-5 * expected, "{both_b10} {expected}");
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
    let scenario = support::base();
    let drive = &scenario.drive;
    let history = [0.0, 100.0, 0.0, 200.0, 0.0, 200.0, 0.0];
    let result = from_history(&scenario, &history, 0.5, 0.95).expect("cycles");
    let by_hand = ((100.0_f64 / 200.0).powi(3) + 2.0) / 20_000.0 / 0.5;
    assert!((result.parts[0].damage.value - by_hand).abs() < 1e-12 * by_hand, "{}", result.parts[0].damage.value);
    assert!((result.strokes.value - 6.0).abs() < 1e-12);
    let law = Weibull::of_drive(&drive.wear).per(by_hand);
    assert!((result.laws[2].b10.value - law.b_life(0.1)).abs() < 1e-9 * result.laws[2].b10.value);
    // A force that never changes moves nothing.
    assert_eq!(from_history(&scenario, &[80.0; 20], 1.0, 0.95), None);
    // Figures at the ends of what is accepted stay figures.
    let hard = [0.0, 1e7, -1e7, 0.0];
    let steep =
        Drive { wear: Wear { exponent: 20.0, rated_strokes: 1.0, ..drive.wear }, rated_force_n: 0.1, ..drive.clone() };
    let steep = Scenario { drive: steep, ..support::base() };
    let extreme = from_history(&steep, &hard, 1e-6, 0.95).expect("cycles");
    let report = text(&extreme, Setting::default());
    assert!(!report.contains("NaN") && !report.contains(" inf") && !report.contains("no end"), "{report}");
    assert!(extreme.laws.iter().all(|law| law.survival.iter().all(|(_, chance)| (0.0..=1.0).contains(&chance.value))));
}

#[test]
fn reports_and_the_drawing() {
    for result in [played(&windy(), 2), from_history(&support::base(), &[0.0, 150.0, 0.0], 1.0, 0.95).expect("cycles")]
    {
        let report = text(&result, Setting::default());
        assert!(report.lines().all(|line| line.chars().count() <= 80 && line.trim_end() == line), "{report}");
        assert!(report.contains("Nine in ten") && !report.contains("NaN"), "{report}");
        let document: serde_json::Value = serde_json::from_str(&json(&result, "0", &[]).expect("JSON")).expect("JSON");
        assert_eq!(document["survival"].as_array().expect("a list").len(), 4);
        let figure = life(&result).expect("a drawing");
        assert!(figure.svg.contains("</svg>") && !figure.svg.contains("NaN"));
    }
}

/// What no drive can do is refused at the door: forces beyond belief, a log without a cycle, ratings of no stroke and no force.
#[test]
fn impossible_figures_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str, content: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, content).expect("a file");
        path
    };
    let starter = dooryard::scenario::starter("hedge");
    let sound = at("sound.toml", &starter);
    let run = |arguments: &[&std::ffi::OsStr]| {
        let mut command = assert_cmd::Command::cargo_bin("dooryard").expect("the binary");
        let output = command.arg("lifetime").args(arguments).output().expect("it runs");
        (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
    };
    for (name, forces, words) in [
        ("huge.csv", "0\n1e300\n0\n", "line 3: `1e300` is not a force"),
        ("nan.csv", "0\nNaN\n0\n", "is not a force"),
        ("alike.csv", "80\n80\n80\n", "there is no cycle"),
    ] {
        let log = at(name, &format!("force_n\n{forces}"));
        let (code, said) = run(&[sound.as_os_str(), "--from".as_ref(), log.as_os_str()]);
        assert!(code == Some(2) && said.contains(words), "{name}: {code:?} {said}");
    }
    for (name, was, now) in [
        ("strokes.toml", "rated_strokes = 20000", "rated_strokes = 1e-300"),
        ("force.toml", "rated_force = \"200 N\"", "rated_force = \"1e-300 N\""),
    ] {
        assert!(starter.contains(was), "{was}");
        let (code, said) = run(&[at(name, &starter.replace(was, now)).as_os_str()]);
        assert!(code == Some(2) && said.contains("1e-300"), "{name}: {code:?} {said}");
        // Named as it was written, not with three hundred zeros.
        assert!(said.contains("found 1e-300") || said.contains("found \"1e-300 N\""), "{name}: {said}");
        assert!(!said.contains("0000000000"), "{name}: {said}");
    }
}

/// What is left of a used shelter: one part has the law's own conditional survival and mean residual life (checked against a
/// handbook's rows in the door's tests); of several the mean time left is the integral of their common survival, here of two equal
/// parts, which are one part of scale 2^(-1/shape).
#[test]
fn a_used_shelter_has_less_left() {
    let mut scenario = support::base();
    let history = [0.0, 150.0, 0.0, 120.0, 0.0];
    let alone = from_history(&scenario, &history, 0.01, 0.95).expect("cycles");
    let part = &alone.answer().parts[0];
    let law = part.law.per(part.damage.value);
    let used = 0.4 * law.scale;
    let left = alone.after(used);
    assert_eq!(left.survival[1], (3.0, Ranged { value: law.conditional_survival(used, 3.0), interval: None }));
    assert_eq!(left.mean.value, law.mean_residual_life(used));
    let wear = scenario.drive.wear;
    scenario.drive.parts.push(Part {
        name: "twin".into(),
        rating: Rating::Stated { strokes: wear.rated_strokes, mean: false, exponent: wear.exponent },
        weibull_shape: wear.weibull_shape,
    });
    let both = from_history(&scenario, &history, 0.01, 0.95).expect("cycles").after(used);
    let twins = Weibull { scale: law.scale * 2.0_f64.powf(-1.0 / law.shape), ..law };
    let expected = twins.mean_residual_life(used);
    assert!((both.mean.value - expected).abs() < 1e-9 * expected, "{} {expected}", both.mean.value);
}

/// A nut and a relay in a scenario get the lives of the reference tables (`nut_wear.csv`, `relay_life.csv`: an independent reference
/// program): a nut for the drive's rated force, a relay for its start current.
#[test]
fn nuts_and_relays_get_their_tables_lives() {
    let mut scenario = support::base();
    let stroke_m = mechanism::stroke_m(&scenario.door);
    scenario.drive.rated_force_n = 300.0;
    // The table's strokes are of 0.3 m.
    let nut = Rating::Nut { wear_mm3_n_m: 2e-7, lead_m: 0.003, mean_diameter_m: 0.0105, thread_m: 0.0015, turns: 8.0 };
    let (strokes, exponent, basis) =
        rating_of(&Part { name: "nut".into(), rating: nut, weibull_shape: 3.0 }, &scenario);
    let table = 746_917.4 * 0.3 / stroke_m;
    assert!((strokes - table).abs() < 1e-6 * table, "{strokes} {table}");
    assert_eq!((exponent, basis), (1.0, Basis::Mean));
    scenario.drive.current_limit_a = 1.0;
    let relay = Rating::Relay { rated_a: 5.0, exponent: 1.3 };
    let (strokes, exponent, _) =
        rating_of(&Part { name: "relay".into(), rating: relay, weibull_shape: 1.5 }, &scenario);
    assert!((strokes - 810_328.3).abs() < 1e-6 * strokes, "{strokes}");
    assert_eq!(exponent, 0.0);
}
