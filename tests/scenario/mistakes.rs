//! The gallery of mistakes: each file in `tests/mistakes` has one (or, if it is called `many-...`, several), and beside
//! it stands the report that the user sees. With `DOORYARD_WRITE_REPORTS=1` the reports are written anew.

use std::collections::BTreeSet;
use std::fs;

use dooryard::scenario::{Level, Problems, starter::starter};

use super::{files, load_bytes, load_file};

fn report(problems: &Problems) -> String {
    problems.render(false).replace('\\', "/") + "\n"
}

#[test]
fn each_mistake_is_reported_as_shown() {
    let write = std::env::var_os("DOORYARD_WRITE_REPORTS").is_some();
    let mut wrong = Vec::new();
    for file in files("tests/mistakes") {
        let problems = match load_file(&file) {
            Ok(loaded) => loaded.warnings,
            Err(problems) => problems,
        };
        let name = file.file_stem().expect("a name").to_string_lossy().into_owned();
        let expected = if name.starts_with("warning-") { Level::Warning } else { Level::Error };
        let text = report(&problems);
        if !name.starts_with("many-") && problems.list().len() != 1 {
            wrong.push(format!("{name}: {} problems\n{text}", problems.list().len()));
        }
        if problems.list().iter().any(|problem| problem.level != expected || problem.line == 0) {
            wrong.push(format!("{name}: not all are {expected:?}s with a place\n{text}"));
        }
        let shown = file.with_extension("txt");
        if write {
            fs::write(&shown, &text).expect("writable");
        } else if fs::read_to_string(&shown).unwrap_or_default().replace("\r\n", "\n") != text {
            wrong.push(format!("{name}: the report differs from {}\n{text}", shown.display()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn many_mistakes_are_all_reported_in_order() {
    let problems = load_file("tests/mistakes/many-at-once.toml".as_ref()).expect_err("mistakes");
    let keys: Vec<&str> = problems.list().iter().map(|problem| problem.key.as_str()).collect();
    let expected = [
        "name",
        "site.latitude",
        "mower.colour",
        "mower.approach.speed",
        "mower.approach.slow_from",
        "mower.shut_door.waits_at",
        "sensor[eye].rate",
        "sensor[eye].cone",
        "detector[near].off",
        "detector[lost].sensor",
        "strategy[eye].open",
        "strategy[eye].hold.all[2].lasting",
        "drive.heat.resets_at",
        "limit[3].metric",
    ];
    let missing: BTreeSet<_> = expected.iter().filter(|key| !keys.contains(key)).collect();
    assert!(missing.is_empty(), "{missing:?} not in {keys:?}\n{problems}");
    let lines: Vec<usize> =
        problems.list().iter().filter(|p| p.file.ends_with("many-at-once.toml")).map(|p| p.line).collect();
    assert!(lines.is_sorted(), "{lines:?}");
}

/// A rated force is held to what motor and gear give, as one is to the stall force that a file states.
#[test]
fn a_screw_is_rated_below_its_stall_too() {
    let with = |rated: &str| {
        let figures = "no_load_speed = \"60 mm/s\"\nstall_force = \"600 N\"\nrated_force = \"200 N\"\n";
        let motor = format!(
            "kind = \"screw\"\nmotor_speed = \"60 Hz\"\nmotor_torque = \"0.25 N*m\"\nmotor_inertia = \"2e-6 kg*m2\"\n\
             gear_ratio = 5\ngear_efficiency = 0.8\nlead = \"5 mm\"\nscrew_diameter = \"12 mm\"\nrated_force = \"{rated}\"\n"
        );
        let starter = starter("hedge");
        assert!(starter.contains(figures));
        let text = starter.replace(figures, &motor);
        let kept = |line: &&str| !line.starts_with("self_locking") && !line.starts_with("reflected_mass");
        load_bytes(text.lines().filter(kept).collect::<Vec<_>>().join("\n").as_bytes())
    };
    let problems = with("100 kN").expect_err("far beyond its stall");
    let [problem] = problems.list() else { panic!("{problems}") };
    assert_eq!(problem.key, "drive.rated_force");
    // 0.25 N m x 5 x 0.8 x 2 pi / 5 mm, less what the screw's friction takes: what is named is allowed, a newton more is not.
    let named = problem.message.clone() + &problem.help.clone().unwrap_or_default();
    let allowed: f64 = named
        .split("at most ")
        .nth(1)
        .and_then(|rest| rest.split(" N").next())
        .and_then(|number| number.trim().parse().ok())
        .unwrap_or_else(|| panic!("{named}"));
    assert!(allowed > 300.0 && allowed < 1_257.0, "{allowed}");
    assert!(with(&format!("{allowed} N")).is_ok() && with(&format!("{} N", allowed + 1.0)).is_err());
}

#[test]
fn no_mistake_has_lost_its_file() {
    let reports = fs::read_dir("tests/mistakes").expect("a folder").map(|entry| entry.expect("readable").path());
    for report in reports.filter(|path| path.extension().is_some_and(|end| end == "txt")) {
        assert!(report.with_extension("toml").exists(), "{}", report.display());
    }
}

#[test]
fn colour_is_given_only_when_asked_for() {
    let problems = load_file("tests/mistakes/wrong-dimension.toml".as_ref()).expect_err("a mistake");
    assert!(!problems.render(false).contains('\u{1b}'));
    assert!(problems.render(true).contains('\u{1b}'));
}
