//! Numbers of a scenario by the path of their key.

use std::fs;
use std::path::{Path, PathBuf};

use dooryard::ledger::metric::METRICS;
use dooryard::scenario::sensor::SensorKind;
use dooryard::scenario::weather::Weather;
use dooryard::scenario::{Base, Scenario, load};

fn metrics() -> Vec<(&'static str, &'static str)> {
    METRICS.iter().map(|metric| (metric.key, metric.unit)).collect()
}

fn shipped(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(name)
}

/// The orchard with one number set.
fn with(path: &str, text: &str) -> Scenario {
    let metrics = metrics();
    let base = Base::load(&shipped("orchard.toml"), &metrics).unwrap();
    let parameter = base.parameter(path).unwrap();
    let value = parameter.read(text).unwrap();
    base.with(&[(&parameter, value)]).unwrap()
}

fn message(path: &str) -> String {
    let metrics = metrics();
    Base::load(&shipped("orchard.toml"), &metrics).unwrap().parameter(path).unwrap_err().to_string()
}

#[test]
fn numbers_of_all_kinds_are_set() {
    assert_eq!(with("detector.near.on", "2000 mm").detectors[0].on, 2.0);
    assert_eq!(with("detector.near.rule.k", "2").detectors[0].rule.k, 2);
    assert_eq!(with("detector.near.rule.n", "7").detectors[0].rule.n, 7);
    assert_eq!(with("detector.at home.rule.n", "3").detectors[4].rule.n, 3);
    assert_eq!(with("mower.run.mean", "1 h").mower.run.mean_s, 3600.0);
    assert_eq!(with("mower.run.spread", "5 min").mower.run.sd_s, 300.0);
    assert_eq!(with("mower.shut_door.retries", "1").mower.shut_door.retries, 1);
    assert_eq!(with("visitor.cat.enters", "0.5").visitors[0].enters, 0.5);
    // Not written there: the default holds, and a strategy's own timing overrides the general one.
    assert_eq!(with("door.breakaway", "1.5").door.breakaway, 1.5);
    let slow = with("strategy.timetable.controller.warning", "5 s");
    let warnings: Vec<f64> = slow.strategies.iter().map(|one| one.controller.warning.seconds()).collect();
    assert_eq!(warnings, [2.0, 2.0, 5.0]);
    let SensorKind::OpticalRange { aim, .. } = with("sensor.eye.position[2]", "0.4 m").sensors[0].kind.clone() else {
        panic!("an optical ranger")
    };
    assert_eq!(aim.position_m, [0.05, 0.0, 0.4]);
    for (path, months) in [("weather.wind", 12), ("weather.temperature[0]", 1)] {
        let text = if path == "weather.wind" { "6.125 m/s" } else { "9.125 °C" };
        let Weather::Generated(weather) = with(path, text).weather else { panic!("generated weather") };
        let set = if months == 12 { weather.wind_m_s } else { weather.temperature_c };
        assert_eq!(set.iter().filter(|value| [6.125, 9.125].contains(*value)).count(), months);
    }
}

#[test]
fn nothing_else_changes() {
    let metrics = metrics();
    let base = Base::load(&shipped("orchard.toml"), &metrics).unwrap();
    for path in ["detector.near.on", "sensor.eye.position[1]", "mower.run.mean", "detector.near.rule.k", "weather.wind"]
    {
        let parameter = base.parameter(path).unwrap();
        let current = parameter.current.expect("the orchard gives it");
        assert_eq!(base.with(&[(&parameter, current)]).unwrap(), base.loaded.scenario, "{path}");
    }
}

#[test]
fn every_check_applies() {
    let metrics = metrics();
    let base = Base::load(&shipped("orchard.toml"), &metrics).unwrap();
    for (path, value, word) in [
        ("detector.near.on", 3.5, "off"),
        ("detector.near.rule.k", 6.0, "k of n"),
        ("mower.dock.failure", 1.5, "at most 0.99"),
        ("sensor.eye.noise", -0.1, "more than 0"),
    ] {
        let parameter = base.parameter(path).unwrap();
        let error = base.with(&[(&parameter, value)]).unwrap_err().to_string();
        assert!(error.contains(word) && error.contains(path), "{error}");
    }
    // Together with its partner the first one is fine.
    let [on, off] = ["detector.near.on", "detector.near.off"].map(|path| base.parameter(path).unwrap());
    let scenario = base.with(&[(&on, 3.5), (&off, 3.7)]).unwrap();
    assert_eq!((scenario.detectors[0].on, scenario.detectors[0].off), (3.5, 3.7));
    assert!(base.parameter("detector.near.rule.k").unwrap().read("2.5").unwrap_err().contains("whole"));
    assert!(base.parameter("detector.near.on").unwrap().read("2.5").unwrap_err().contains("2.5 m"));
    assert!(base.parameter("detector.near.on").unwrap().read("3 s").is_err());
}

#[test]
fn wrong_paths_are_answered_with_what_there_is() {
    for (path, answer) in [
        ("detector.nera.on", "did you mean `near`?"),
        ("detector.near.onn", "did you mean `on`?"),
        ("detectr.near.on", "did you mean `detector`?"),
        ("detector", "say which detector"),
        ("detector.near", "numbers here: samples, on, off, on_speed"),
        ("detector.outer broken.on", "no key `on`"),
        ("detector.near.rule", "`rule.k` or `rule.n`"),
        ("mower.run", "`run.mean` or `run.spread`"),
        ("sensor.eye.position", "`position[0]` to `position[2]`"),
        ("sensor.eye.position[3]", "[0] to [2]"),
        ("sensor.eye.position[x]", "not a place in a list"),
        ("sensor.eye.noise[0]", "one number"),
        ("sensor.eye.kind", "not a number"),
        ("mower.approach.speed.mean", "nothing within"),
        ("mower.windows", "no names by which"),
        ("mower.windows[1].from", "no names by which"),
        ("detector[0].on", "say which detector is meant by its name: near"),
        ("", "no key"),
        ("..", "no key"),
    ] {
        let message = message(path);
        assert!(message.contains(answer), "`{path}`: {message}");
    }
}

/// A part that includes the scenario and sets the numbers loads to the same scenario.
#[test]
fn a_part_says_the_same() {
    let metrics = metrics();
    let base = Base::load(&shipped("orchard.toml"), &metrics).unwrap();
    let paths = [
        ("detector.near.on", 2.2),
        ("detector.near.rule.k", 4.0),
        ("sensor.eye.position[2]", 0.3),
        ("strategy.eye.controller.warning", 3.5),
        ("mower.approach.slow_speed", 0.15),
        ("controller.open_at_least", 20.0),
        ("mower.charge.spread", 60.0),
    ];
    let parameters: Vec<_> = paths.iter().map(|(path, value)| (base.parameter(path).unwrap(), *value)).collect();
    let settings: Vec<_> = parameters.iter().map(|(parameter, value)| (parameter, *value)).collect();
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("vary");
    fs::create_dir_all(&folder).unwrap();
    let file = folder.join("part.toml");
    fs::write(&file, base.part(&shipped("orchard.toml").display().to_string(), &settings)).unwrap();
    let mut again = load(&file, &metrics).unwrap_or_else(|problems| panic!("{problems}")).scenario;
    let expected = base.with(&settings).unwrap();
    again.name.clone_from(&expected.name);
    assert_eq!(again, expected);
}
