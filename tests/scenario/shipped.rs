//! The starter and the shipped scenarios load cleanly, and print to something that loads to the same.

use dooryard::math::time::Span;
use dooryard::scenario::keys::SECTIONS;
use dooryard::scenario::objective::{Goal, Objective};
use dooryard::scenario::sensor::{SensorKind, StatusCode};
use dooryard::scenario::strategy::{Condition, Sense, Statistic};
use dooryard::scenario::weather::Weather;
use dooryard::scenario::{Scenario, print, starter};

use super::{files, load_bytes, load_file};

fn all() -> Vec<(String, Scenario)> {
    let mut all: Vec<(String, Scenario)> = files("scenarios")
        .iter()
        .map(|path| {
            let loaded = load_file(path).unwrap_or_else(|problems| panic!("{problems}"));
            assert!(loaded.warnings.is_empty(), "{}", loaded.warnings);
            (path.display().to_string(), loaded.scenario)
        })
        .collect();
    let loaded = load_bytes(starter("garden").as_bytes()).unwrap_or_else(|problems| panic!("{problems}"));
    assert!(loaded.warnings.is_empty(), "{}", loaded.warnings);
    all.push(("starter".to_owned(), loaded.scenario));
    assert!(all.len() >= 4);
    all
}

/// A scenario that uses every key and every kind; no user would write it.
fn everything() -> Scenario {
    let loaded = load_file("tests/scenario/everything.toml".as_ref()).unwrap_or_else(|problems| panic!("{problems}"));
    assert!(loaded.warnings.is_empty(), "{}", loaded.warnings);
    loaded.scenario
}

#[test]
fn every_key_of_the_table_is_read_and_printed() {
    let written = std::fs::read_to_string("tests/scenario/everything.toml").expect("readable");
    let printed = print(&everything());
    // The kinds of mechanism, drive and supply, and the bus, are read and printed in their own tests.
    let others = ["door.mechanism", "drive", "drive.part", "supply", "bus", "bus.device"];
    for key in SECTIONS.iter().filter(|section| !others.contains(&section.path)).flat_map(|section| section.keys) {
        let here = |text: &str| text.contains(&format!("{} = ", key.name));
        // Parts are read in other tests. Observed weather has no figures of a generator.
        let drawn = key.only.contains(&"generated") || key.only.contains(&"pulses");
        // An objective has either costs or a metric to minimise; the latter is read in a test of its own.
        // This panel doesn't tilt; failures of tilt sensors are read in a test of their own.
        if !["include", "minimise", "angle"].contains(&key.name) && !drawn {
            assert!(here(&written), "{}", key.name);
            // The printed scenario has the period instead of the rate, and the noise instead of what it follows from.
            let resolved = ["rate", "noise_density", "bandwidth"].contains(&key.name);
            assert!(here(&printed) || resolved, "{}", key.name);
        }
    }
}

#[test]
fn unusual_units_mean_the_same() {
    let scenario = everything();
    assert_eq!(scenario.mower.mass_kg, 11.0);
    assert!((scenario.mower.approach.speed_m_s - 0.4).abs() < 1e-15);
    assert_eq!(scenario.mower.lawn_s, 10_800.0);
    assert_eq!(scenario.site.wind_factor, 0.45);
    assert!((scenario.site.latitude_deg + 42.971_834_634_811_75).abs() < 1e-12);
    assert_eq!(scenario.site.longitude_deg, -71.25);
    assert_eq!(scenario.supply.cable_ohm, 0.3);
    assert_eq!(scenario.drive.heat.housing_j_k, 400.0);
    assert_eq!(scenario.drive.current_limit_a, f64::INFINITY);
    assert_eq!(scenario.limits[0].value, 10.0);
    assert_eq!(scenario.limits[1].value, 110.0);
    assert_eq!(scenario.sensors[0].errors.cleaned_every_days, 1.5);
    assert_eq!(scenario.sensors[1].period, Span(128_000));
    assert_eq!(scenario.sensors[2].errors.dropout_rain, 0.0);
    assert_eq!(scenario.mower.windows[0].days, [true; 7]);
    assert_eq!(scenario.mower.windows[1].from_s, 9 * 3600 + 30);
    assert_eq!(scenario.strategies[0].controller.open_at_most, None);
    // 150 ug per root hertz behind 0.2 Hz, taken every 0.2 s: 150e-6 sqrt(pi/2 0.2) rad, and exp(-2 pi 0.04).
    let tip = scenario.sensors.iter().find(|sensor| sensor.name == "tip").expect("a tilt sensor");
    assert!((tip.errors.noise - 0.004_817_2).abs() < 1e-6, "{}", tip.errors.noise);
    assert!((tip.errors.noise_correlation - 0.777_76).abs() < 1e-4, "{}", tip.errors.noise_correlation);
}

#[test]
fn a_printed_scenario_loads_to_an_equal_one() {
    let mut scenarios = all();
    scenarios.push(("everything".to_owned(), everything()));
    for (name, scenario) in scenarios {
        let text = print(&scenario);
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("printed.toml");
        std::fs::write(&path, &text).expect("writable");
        let mut expected = scenario;
        // The record is named as from the scenario's own folder, so a scenario printed elsewhere takes it along.
        if let Weather::Observed(observed) = &mut expected.weather {
            let beside = folder.path().join(&observed.named);
            std::fs::copy(&observed.file, &beside).expect("the record can be copied");
            observed.file = beside;
        }
        let again = load_file(&path).unwrap_or_else(|problems| panic!("{name}: {problems}\n{text}"));
        assert_eq!(again.scenario, expected, "{name}");
        assert_eq!(print(&again.scenario), text, "{name}");
    }
}

#[test]
fn the_starter_says_what_it_means() {
    let loaded = load_bytes(starter("my garden!").as_bytes()).unwrap_or_else(|problems| panic!("{problems}"));
    let scenario = loaded.scenario;
    assert_eq!(scenario.name, "my_garden_");
    assert_eq!(scenario.mower.approach.sideways_m, 0.04);
    assert_eq!(scenario.drive.no_load_speed_m_s, 0.06);
    assert_eq!(scenario.door.edge_stiffness_n_m, 5_000.0);
    assert_eq!(scenario.mower.windows[0].to_s, 17 * 3600 + 1800);
    assert_eq!(scenario.mower.windows[0].days, [true, false, true, false, true, false, false]);
    let eye = &scenario.sensors[0];
    assert_eq!(eye.period, Span(100_000));
    assert_eq!(eye.errors.drift_per_k, 0.0002);
    assert!(matches!(&eye.kind, SensorKind::OpticalRange { aim, .. } if aim.half_cone_deg == 2.0));
    let near = &scenario.detectors[0];
    assert_eq!((near.statistic, near.sense, near.on), (Statistic::MovingMedian(3), Sense::Below, 2.6));
    assert_eq!(scenario.detectors[3].says, [StatusCode::Leaving, StatusCode::Mowing, StatusCode::Returning]);
    assert_eq!(
        scenario.strategies[1].open,
        Condition::Any(vec![
            Condition::Detector(2),
            Condition::All(vec![Condition::Detector(0), Condition::Detector(3)])
        ])
    );
    // A strategy overrides one timing and keeps the others.
    assert_eq!(scenario.strategies[0].controller.open_at_least, Span::from_seconds(10.0));
    assert_eq!(scenario.strategies[1].controller.open_at_least, Span::from_seconds(15.0));
    assert_eq!(scenario.strategies[1].controller.warning, scenario.strategies[0].controller.warning);
}

#[test]
fn limits_are_converted_to_the_unit_of_their_metric() {
    for (name, scenario) in all() {
        let value = |metric: &str| scenario.limits.iter().find(|limit| limit.metric == metric).map(|limit| limit.value);
        match name.as_str() {
            "scenarios/orchard.toml" => assert_eq!(value("wet_inside_time"), Some(180.0)),
            "scenarios/coast.toml" => {
                assert_eq!(value("total_energy"), Some(6000.0));
                assert_eq!(value("detector_uptime"), Some(95.0));
            }
            _ => {}
        }
    }
}

/// The door must be able to open between the detection and the waiting point, or the scenario teaches nothing.
#[test]
fn detection_leaves_time_for_the_stroke() {
    for (name, scenario) in all() {
        let near = scenario.detectors.iter().find(|detector| detector.name == "near").expect("a ranger");
        let approach = &scenario.mower.approach;
        assert!(near.on <= approach.slow_from_m, "{name}");
        let warning = (near.on - scenario.mower.shut_door.waits_at_m) / approach.slow_speed_m_s;
        let stroke = dooryard::shelter::mechanism::stroke_m(&scenario.door) / scenario.drive.no_load_speed_m_s;
        let reaction = near.rule.n as f64 * scenario.sensors[near.sensor].period.seconds();
        assert!(warning > 1.15 * stroke + reaction, "{name}: {warning} s for a stroke of {stroke} s");
    }
}

/// One metric instead of costs, its indifference zone in the metric's unit: 2 h are 120 min.
#[test]
fn an_objective_of_one_metric() {
    let costs = "[[objective.cost]]";
    let text = starter("garden");
    let (before, _) = text.split_once("[objective]").expect("the starter states an objective");
    assert!(text.contains(costs) && !before.contains(costs));
    let own = "[objective]\nminimise = \"wet_inside_time\"\nindifference = \"2 h\"\n";
    let loaded = load_bytes(format!("{before}{own}").as_bytes()).unwrap_or_else(|problems| panic!("{problems}"));
    let goal = Goal::Metric("wet_inside_time".to_owned());
    assert_eq!(loaded.scenario.objective, Some(Objective { goal, indifference: Some(120.0) }));
    let again = load_bytes(print(&loaded.scenario).as_bytes()).unwrap_or_else(|problems| panic!("{problems}"));
    assert_eq!(again.scenario, loaded.scenario);
}

/// What an objective or a risk can't be, each with the word that the message must contain.
#[test]
fn objectives_that_make_no_sense() {
    let text = starter("garden");
    let (before, _) = text.split_once("[objective]").expect("the starter states an objective");
    for (own, word) in [
        ("[objective]\nminimise = \"stranding\"", "did you mean \"strandings\"?"),
        ("[objective]\nminimise = \"strandings\"\nindifference = 0", "more than 0"),
        ("[objective]\nminimise = \"strandings\"\nindifference = \"1 min\"", "plain number"),
        ("[objective]\nindifference = 1", "belongs to an objective"),
        ("[objective]\nminimise = \"strandings\"\n[[objective.cost]]\nmetric = \"strandings\"\ncost = 1", "either"),
        ("[[objective.cost]]\nmetric = \"strandngs\"\ncost = 1", "no metric"),
        ("[[risk]]\nmetric = \"strandings\"\nabove = \"3 mm\"\nat_most = 0.1", "plain number"),
        ("[[risk]]\nmetric = \"strandings\"\nabove = 3\nat_most = 2", "at most 1"),
    ] {
        let problems = load_bytes(format!("{before}{own}\n").as_bytes()).expect_err(own);
        assert!(problems.to_string().contains(word), "{own}: {problems}");
    }
}
