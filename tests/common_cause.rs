//! The floor of common causes: no chance of a missed arrival below it, in seasons, estimates and reports.

mod support;

use std::process::Command;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::scenario::Scenario;
use dooryard::scenario::common_cause::CommonCause;
use dooryard::scenario::sensor::StatusCode;
use dooryard::scenario::strategy::Condition;
use dooryard::sensing::channel::Sampling;
use dooryard::study::rare::{RareMisses, RareSettings, rare_misses};

fn scenario(floor: f64, beta: f64) -> Scenario {
    let mut scenario = support::usual();
    scenario.calendar.last_day = jiff::civil::date(2025, 4, 21);
    scenario.common_cause = CommonCause { floor, beta };
    scenario
}

/// Two rangers side by side, each with a level that the mower only just reaches in time.
fn pair(floor: f64, beta: f64) -> Scenario {
    let mut scenario = scenario(floor, beta);
    scenario.visitors.clear();
    scenario.sensors[0].errors.noise = 0.1;
    scenario.sensors[0].errors.dropout = 0.3;
    scenario.detectors[0].on = 0.75;
    scenario.detectors[0].off = 0.9;
    scenario.sensors.push(dooryard::scenario::sensor::Sensor { name: "second".into(), ..scenario.sensors[0].clone() });
    let second = scenario.sensors.len() - 1;
    let detector = dooryard::scenario::strategy::Detector {
        name: "also near".into(),
        sensor: second,
        ..scenario.detectors[0].clone()
    };
    scenario.detectors.push(detector);
    let last = scenario.detectors.len() - 1;
    scenario.strategies[0].open = Condition::Any([0, 2, last].map(Condition::Detector).to_vec());
    scenario
}

fn season(scenario: &Scenario) -> SeasonRecord {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let outside = Outside::draw(&plan, 3, 0).expect("weather");
    play(&plan, &outside, 0, 3, Options { sampling: Sampling::Exact, events: false })
}

fn rare(scenario: &Scenario) -> RareMisses {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let settings = RareSettings { strategy: 0, seed: 3, seasons: 2, draws: 500, defensive: 0.3, confidence: 0.95 };
    rare_misses(&plan, &settings).expect("weather").expect("approaches")
}

/// Good sensors never miss by noise: each arrival then counts the floor, or itself where it was missed for another
/// reason; without floor and beta the metric is that of the noise alone; and no other figure moves.
#[test]
fn each_arrival_counts_the_floor_at_least() {
    let without = season(&scenario(0.0, 0.0));
    assert_eq!(without.value(Key::MissedArrivalsFloored), without.value(Key::MissedArrivalsExpected));
    let (arrivals, missed) = (without.value(Key::Arrivals), without.value(Key::MissedArrivals));
    assert!(arrivals > 10.0 && without.value(Key::MissedArrivalsExpected) - missed < 1e-6);
    for floor in [1e-4, 0.01] {
        let with = season(&scenario(floor, 0.0));
        let wanted = missed + (arrivals - missed) * floor;
        let got = with.value(Key::MissedArrivalsFloored);
        assert!((got - wanted).abs() < 1e-6, "{got} {wanted}");
        for (place, (a, b)) in with.values.iter().zip(&without.values).enumerate() {
            assert!(place == Key::MissedArrivalsFloored as usize || a == b, "metric {place}: {a} {b}");
        }
    }
}

/// Two alike sensors: the beta factor raises the chance that both miss, and a floor of one half holds for every approach.
#[test]
fn sensors_that_share_causes_miss_together() {
    let noise = season(&pair(0.0, 0.0));
    let shared = season(&pair(0.0, 0.2));
    let [alone, with] = [&noise, &shared].map(|record| record.value(Key::MissedArrivalsFloored));
    assert_eq!(noise.value(Key::MissedArrivalsExpected), shared.value(Key::MissedArrivalsExpected));
    assert!(alone > 1e-9 && with > 1.1 * alone, "{alone} {with}");
    // The same in single approaches; for alike sensors p p and beta p + (1 - beta p) ((1 - beta) p)^2.
    let [plain, common] = [pair(0.0, 0.0), pair(0.0, 0.2)].map(|scenario| rare(&scenario));
    assert_eq!(plain.chance, common.chance);
    assert!((plain.floored.mean - plain.chance.mean).abs() < 1e-12 * plain.chance.mean);
    assert!(common.floored.mean > 1.1 * common.chance.mean, "{:?}", common.floored);
    let floored = rare(&pair(0.5, 0.2)).floored;
    assert!(floored.mean >= 0.5 && floored.mean < 1.0, "{floored:?}");
    let ends = floored.interval.expect("enough draws");
    assert!(ends.low >= 0.5 && ends.low <= floored.mean && floored.mean <= ends.high);
}

/// Messages are taken as silent, so that arrivals at which one came count like all others. By hand: sensors that never miss
/// by noise leave the floor times the arrivals of a season, whatever opened the door to them.
#[test]
fn expected_misses_of_a_season_are_the_floor_times_all_its_arrivals() {
    let mut scenario = scenario(0.01, 0.0);
    scenario.strategies[0].open = Condition::Any([0, 2].map(Condition::Detector).to_vec());
    scenario.detectors[2].says.push(StatusCode::Returning);
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    let options = Options { sampling: Sampling::Exact, events: false };
    let records = [0, 1].map(|number| play(&plan, &Outside::draw(&plan, 3, number).expect("weather"), 0, 3, options));
    let total = |key: Key| records.iter().map(|record| record.value(key)).sum::<f64>();
    let arrivals = total(Key::Arrivals);
    // Messages come at most of them: plain approaches are few.
    let plain = total(Key::ArrivalsIntegrated);
    assert!(arrivals > 30.0 && plain < 0.5 * arrivals, "{plain} of {arrivals}");
    let found = rare(&scenario);
    assert_eq!((found.approaches as f64, found.seasons), (arrivals, 2));
    assert!(found.chance.mean < 1e-6, "{:?}", found.chance);
    let (mean, _) = found.per_season(&found.floored);
    let by_hand = 0.01 * arrivals / 2.0;
    assert!((mean / by_hand - 1.0).abs() < 1e-4, "{mean} and {by_hand} by hand");
}

/// A chance far below the floor is the floor, and says so.
#[test]
fn a_chance_below_the_floor_is_the_floor() {
    let found = rare(&scenario(1e-4, 0.05));
    assert!(found.chance.mean < 1e-5, "{:?}", found.chance);
    assert!((found.floored.mean / 1e-4 - 1.0).abs() < 0.1, "{:?}", found.floored);
}

fn dooryard(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_dooryard")).args(arguments).output().expect("the program starts");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The scenario's own floor, not the usual one, stands in text, JSON, tables and page.
#[test]
fn reports_name_the_floor() {
    let folder = tempfile::tempdir().expect("a folder");
    let hillside = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    let file = folder.path().join("floored.toml");
    let text = format!(
        "include = [{hillside:?}]\nname = \"floored\"\n[season]\nfrom = 2025-06-01\nto = 2025-06-20\n[common_cause]\nfloor = \
         \"0.3 %\"\nbeta = \"12 %\"\n"
    );
    std::fs::write(&file, text).expect("written");
    let file = file.to_str().expect("a path");
    let out = folder.path().join("out");
    let out = out.to_str().expect("a path");
    let seasons = ["--seasons", "3", "--quiet", "--strategy", "ranger"];
    let printed = dooryard(&[&["run", file, "--out", out][..], &seasons].concat());
    let flat = |text: &str| text.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ");
    let named = |text: &str| flat(text).contains("0.3 % of arrivals") && flat(text).contains("12 % of");
    assert!(named(&printed) && flat(&printed).contains("Floor of common causes"), "{printed}");
    let read = |name: &str| std::fs::read_to_string(format!("{out}/{name}")).expect(name);
    assert!(named(&read("report.html")));
    assert!(read("assumptions.csv").contains("common_cause.floor"));
    let row = |key: &str| {
        let metrics = read("metrics.csv");
        let row = metrics.lines().find(|line| line.contains(&format!(",{key},"))).expect(key).to_owned();
        row.split(',').map(str::to_owned).collect::<Vec<_>>()
    };
    let metrics = read("metrics.csv");
    let place = metrics.lines().next().expect("a head").split(',').position(|name| name == "mean").expect("mean");
    let mean = |key: &str| row(key)[place].parse::<f64>().expect(key);
    assert!(mean("missed_arrivals_floored") >= 0.003 * mean("arrivals") - 1e-9);
    let json: serde_json::Value =
        serde_json::from_str(&dooryard(&[&["run", file, "--json", "--out", out][..], &seasons].concat()))
            .expect("JSON");
    assert_eq!(json["common_cause"], serde_json::json!({ "floor": 0.003, "beta": 0.12 }));
    let misses = ["misses", file, "--seasons", "1", "--draws", "200", "--quiet", "--strategy", "ranger"];
    let printed = dooryard(&misses);
    assert!(named(&printed), "{printed}");
    let json: serde_json::Value = serde_json::from_str(&dooryard(&[&misses[..], &["--json"]].concat())).expect("JSON");
    assert_eq!(json["common_cause"]["floor"], 0.003);
    let found = &json["strategies"][0]["misses"];
    assert!(found["chance"]["mean"].as_f64().expect("a chance") < 0.003);
    assert!(found["with_common_causes"]["chance"]["mean"].as_f64().expect("a chance") >= 0.003);
}

/// `tune` trades missed arrivals with common causes against the rest, and says what floor they stand on.
#[test]
fn tuning_names_the_floor() {
    let folder = tempfile::tempdir().expect("a folder");
    let hillside = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    let file = folder.path().join("floored.toml");
    let text = format!(
        "include = [{hillside:?}]\nname = \"floored\"\n[season]\nfrom = 2025-06-01\nto = 2025-06-04\n[common_cause]\nfloor = \
         \"0.3 %\"\n"
    );
    std::fs::write(&file, text).expect("written");
    let (file, out) = (file.display().to_string(), folder.path().join("out"));
    let over =
        ["--strategy", "ranger", "--over", "detector.near.rule.k=3..4", "--plays", "20", "--confirm", "10", "--quiet"];
    let printed = dooryard(&[&["tune", &file, "--out", &out.display().to_string()][..], &over].concat());
    let page = std::fs::read_to_string(out.join("report.html")).expect("a page");
    for told in [printed, page] {
        let flat = told.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains("Floor of common causes") && flat.contains("0.3 % of arrivals"), "{flat}");
    }
}
