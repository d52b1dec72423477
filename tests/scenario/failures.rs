//! `[[failure]]` in files: the shipped part, defaults, what is said of mistakes.

use dooryard::scenario::failure::{Failure, Figure, MODES};
use dooryard::scenario::print;
use dooryard::scenario::print::failures_part;

use super::{load_bytes, load_file};

const PART: &str = "scenarios/parts/failures.toml";

/// The part is written from the list of modes; `DOORYARD_WRITE_REPORTS=1` writes it anew.
#[test]
fn the_shipped_part_holds_every_mode() {
    if std::env::var_os("DOORYARD_WRITE_REPORTS").is_some() {
        std::fs::write(PART, failures_part()).expect("writable");
    }
    assert_eq!(std::fs::read_to_string(PART).expect("readable"), failures_part());
}

/// Included into a shipped scenario, every entry is read as its mode usually is.
#[test]
fn the_part_is_read_as_usual() {
    let text = std::fs::read_to_string("scenarios/hillside.toml").expect("readable");
    let text = text.replace("\"parts/visitors.toml\"", "\"parts/visitors.toml\", \"parts/failures.toml\"");
    assert!(text.contains("parts/failures.toml"));
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path();
    std::fs::create_dir(path.join("parts")).expect("writable");
    for part in ["visitors.toml", "failures.toml"] {
        std::fs::copy(format!("scenarios/parts/{part}"), path.join("parts").join(part)).expect("copied");
    }
    std::fs::write(path.join("all.toml"), text).expect("writable");
    let loaded = load_file(&path.join("all.toml")).unwrap_or_else(|problems| panic!("{problems}"));
    let failures = &loaded.scenario.failures;
    assert_eq!(failures.len(), MODES.len());
    for (failure, mode) in failures.iter().zip(&MODES) {
        assert_eq!(failure.mode, mode);
        assert_eq!(*failure, Failure::usual(failure.mode, failure.sensors.clone()));
        let fits = |index: &usize| mode.hits.fits(&loaded.scenario.sensors[*index].kind);
        assert!((0..loaded.scenario.sensors.len()).filter(fits).eq(failure.sensors.iter().copied()), "{}", mode.name);
    }
    // One warning names all modes that have nothing to hit.
    let warnings = loaded.warnings.to_string();
    assert_eq!(warnings.matches("no sensor here can be hit by").count(), 1, "{warnings}");
    assert!(warnings.contains("switch-bounce") && warnings.contains("sun-blinded-ranger"), "{warnings}");
}

#[test]
fn mistakes_are_named() {
    let with = |failure: &str| {
        let text = std::fs::read_to_string("scenarios/hillside.toml").expect("readable");
        let text = text.replace("include = [\"parts/visitors.toml\"]\n", "");
        load_bytes(format!("{text}\n{failure}").as_bytes())
    };
    let complaint = |failure: &str| with(failure).expect_err("a mistake").to_string();
    // A panel that never tilts has no sensor to be hit, but the figure is read and printed.
    let tilt = with("[[failure]]\nmode = \"tilt-offset\"\nangle = \"0.8 deg\"\n").unwrap_or_else(|p| panic!("{p}"));
    assert_eq!(tilt.scenario.failures[0].figure(Figure::Angle), 0.8);
    assert!(print(&tilt.scenario).contains("angle = \"0.8 deg\""));
    let frozen = "[[failure]]\nmode = \"dead-or-frozen-sensor\"\n";
    assert!(with(frozen).is_ok());
    let sensor = complaint(&format!("{frozen}sensor = \"status\"\n"));
    assert!(sensor.contains("dead-or-frozen-sensor cannot hit \"status\""), "{sensor}");
    let twice = complaint(&format!("{frozen}{frozen}"));
    assert!(twice.contains("two of the name \"dead-or-frozen-sensor\" among the failures"), "{twice}");
    let key = complaint("[[failure]]\nmode = \"power-loss\"\nload = \"3 kg\"\n");
    assert!(key.contains("`load`"), "{key}");
    let mode = complaint("[[failure]]\nmode = \"power-los\"\n");
    assert!(mode.contains("power-loss"), "{mode}");
    let range = complaint("[[failure]]\nmode = \"spider-web\"\nshort_returns = 1.5\n");
    assert!(range.contains("at most 1"), "{range}");
}
