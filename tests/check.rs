//! `check` on whole scenarios: shipped ones pass, a bad design fails for the right reasons and passes once repaired.

mod common;
mod support;

use std::path::Path;

use dooryard::ledger::metric::METRICS;
use dooryard::report::check::{json, text};
use dooryard::report::plots::door;
use dooryard::report::text::Setting;
use dooryard::scenario::door::{Mechanism, VerticalLift};
use dooryard::scenario::{Scenario, load};
use dooryard::study::check::{CheckResult, Drawings, Verdict, check, required_m};

fn read(path: &str) -> Scenario {
    let metrics: Vec<_> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    load(Path::new(path), &metrics).unwrap_or_else(|problems| panic!("{problems}")).scenario
}

fn failing(result: &CheckResult) -> Vec<&'static str> {
    result.rows.iter().filter(|row| row.verdict == Verdict::Fails).map(|row| row.id).collect()
}

fn verdict(result: &CheckResult, id: &str) -> Verdict {
    result.rows.iter().find(|row| row.id == id).unwrap_or_else(|| panic!("no row {id}")).verdict
}

#[test]
fn shipped_scenarios_pass() {
    for name in [
        "scenarios/coast.toml",
        "scenarios/hillside.toml",
        "scenarios/orchard.toml",
        "tests/scenarios/observed_year.toml",
    ] {
        let result = check(&read(name)).expect("weather is there");
        assert_eq!(failing(&result), Vec::<&str>::new(), "{name}");
        // Every question has its key, and frost is never called fine.
        assert!(result.rows.iter().all(|row| !row.key.is_empty()), "{name}");
        assert_eq!(verdict(&result, "force_opening_ice"), Verdict::Tight);
    }
}

#[test]
fn a_bad_design_fails_for_its_reasons_and_passes_once_repaired() {
    let bad = check(&read("tests/scenarios/stuck-panel.toml")).expect("weather is there");
    let fails = failing(&bad);
    for id in ["jam_opening", "jam_closing", "force_opening", "supply_peak", "bus_addresses", "limits"] {
        assert!(fails.contains(&id), "{id} is missing in {fails:?}");
    }
    // What is sound stays so.
    for id in ["headroom", "sweep_outside", "sweep_inside", "contact_energy", "drive_figures"] {
        assert!(!fails.contains(&id), "{id}");
    }
    let jam = bad.rows.iter().find(|row| row.id == "jam_opening").expect("a row");
    // atan(0.2) = 11.31 deg: 0.52 m (1 - cos) = 10.1 mm.
    assert!((jam.value.expect("a length") - 0.52 * (1.0 - 0.2_f64.atan().cos())).abs() < 1e-5);
    assert_eq!(jam.key, "door.mechanism.drive_at");
    let dead = |id: &str| bad.choices.iter().find(|choice| choice.id == id).expect("a choice").dead_deg;
    assert!(dead("vertical") > 20.0 && dead("chain") == 0.0 && dead("horizontal") == 0.0);
    assert!(dead("wheels") < 3.0 && dead("wheels") > 0.0);
    let good = check(&read("tests/scenarios/free-panel.toml")).expect("weather is there");
    assert_eq!(failing(&good), Vec::<&str>::new());
    // The panel lies over the docked mower, which is no fault.
    assert_eq!(verdict(&good, "sweep_inside"), Verdict::Fits);
}

/// A lift balanced in full on a cord does not come down; pushed by a rod it does.
#[test]
fn a_balanced_lift_on_a_cord_does_not_close() {
    let mut scenario = support::base();
    let Mechanism::VerticalLift(lift) = scenario.door.mechanism.clone() else { panic!("a lift") };
    scenario.door.mechanism = Mechanism::VerticalLift(VerticalLift { counterweight_kg: scenario.door.mass_kg, ..lift });
    scenario.drive.pushes = false;
    let result = check(&scenario).expect("a result");
    assert_eq!(verdict(&result, "closes_by_itself"), Verdict::Fails);
    scenario.drive.pushes = true;
    assert_eq!(verdict(&check(&scenario).expect("a result"), "closes_by_itself"), Verdict::Fits);
}

/// One figure changed for the worse moves its own row and no sound one to a failure.
#[test]
fn each_row_can_fail() {
    let base = support::base();
    let mut sound = base.clone();
    sound.door.edge_stiffness_n_m = 4_000.0;
    assert_eq!(failing(&check(&sound).expect("a result")), Vec::<&str>::new());
    type Spoil = (&'static str, fn(&mut Scenario));
    let worse: [Spoil; 8] = [
        ("clear_width", |s| s.mower.width_m = 0.55),
        ("headroom", |s| s.mower.height_m = 0.41),
        ("force_opening", |s| s.drive.stall_force_n = 20.0),
        ("contact_force", |s| s.door.edge_stiffness_n_m = 500_000.0),
        ("contact_energy", |s| s.drive.reflected_mass_kg = 4_000.0),
        ("duty", |s| s.drive.duty_factor = 0.01),
        ("winding", |s| (s.drive.heat.winding_j_k, s.drive.heat.winding_housing_k_w) = (0.05, 4_000.0)),
        ("supply_peak", |s| s.supply.limit_w = 40.0),
    ];
    for (id, spoil) in worse {
        let mut scenario = sound.clone();
        spoil(&mut scenario);
        assert_eq!(verdict(&check(&scenario).expect("a result"), id), Verdict::Fails, "{id}");
    }
}

#[test]
fn reports_and_drawings() {
    let scenario = read("tests/scenarios/stuck-panel.toml");
    let result = check(&scenario).expect("weather is there");
    let report = text(&result, Setting::default());
    assert!(report.lines().all(|line| line.chars().count() <= 80 && line.trim_end() == line), "{report}");
    for words in ["What fails", "EN 12453", "UL 325", "IEC 60335-2-103", "Where to push the panel", "licensed"] {
        assert!(report.contains(words), "{words}");
    }
    assert!(!report.contains("inf") && !report.contains("NaN"), "{report}");
    let document: serde_json::Value =
        serde_json::from_str(&json(&result, "0", &[]).expect("a document")).expect("JSON");
    assert_eq!(document["verdict"], "fails");
    assert_eq!(document["rows"].as_array().expect("rows").len(), result.rows.len());
    let drawings = Drawings::new(&scenario, &result.climate).expect("drawings");
    assert!(!drawings.zones.is_empty() && drawings.winding.len() > 100);
    for figure in door::all(&drawings).expect("figures") {
        assert!(figure.svg.starts_with("<svg") && figure.svg.contains("</svg>") && !figure.svg.contains("NaN"));
        assert!(figure.csv.len() > 100 && !figure.alt.is_empty());
    }
}

/// Speed x (opening time + latency) + margin, against a table computed elsewhere.
#[test]
fn required_detection_distance() {
    for row in common::records("sensing/required_detection_distance.csv") {
        let n = |column: &str| common::number(&row, column);
        let got = required_m(n("speed_m_s"), n("open_time_s"), n("detection_latency_s"), n("margin_m"));
        assert!((got - n("d_need_m")).abs() < 1e-12, "{row:?}: {got}");
    }
}

/// A ranger that alone opens the door is a single failure; with the mower's messages beside it only what takes both is.
#[test]
fn single_failures_are_named() {
    let note = |scenario: &Scenario, strategy: &str| {
        let result = check(scenario).expect("a result");
        let of = |row: &&dooryard::study::check::Row| row.id == "single_failure" && row.question.contains(strategy);
        result.rows.iter().find(of).expect("a row").clone()
    };
    let scenario = read("scenarios/hillside.toml");
    let alone = note(&scenario, "strategy ranger:");
    assert!(alone.note.contains("ear dead") && alone.verdict == Verdict::Tight, "{alone:?}");
    let messages = note(&scenario, "strategy status:");
    assert!(messages.note.contains("no network"), "{messages:?}");
    let both = note(&scenario, "strategy ranger or status:");
    assert!(!both.note.contains("dead") && both.verdict == Verdict::Fits, "{both:?}");
}

/// Hard conditions never lengthen what an optical ranger sees; full sun shortens it.
#[test]
fn detection_in_hard_conditions() {
    let result = check(&read("scenarios/orchard.toml")).expect("a result");
    let seen = |id: &str| result.rows.iter().find(|row| row.id == id).and_then(|row| row.value).expect("a value");
    assert!(seen("detection_distance_sun") <= seen("detection_distance"));
    assert!(seen("detection_distance_dark_shell") <= seen("detection_distance"));
}
