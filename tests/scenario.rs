//! Scenarios as files: loading, mistakes, printing.

use std::fs;
use std::path::Path;

use dooryard::ledger::metric::METRICS;
use dooryard::scenario::{Loaded, Problems, load, starter};

fn metrics() -> Vec<(&'static str, &'static str)> {
    METRICS.iter().map(|metric| (metric.key, metric.unit)).collect()
}

fn load_text(text: &str) -> Result<Loaded, Problems> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("garden.toml");
    fs::write(&path, text).expect("writable");
    load(Path::new(&path), &metrics())
}

#[test]
fn the_starter_loads_without_errors_or_warnings() {
    let loaded = load_text(&starter("garden")).unwrap_or_else(|problems| panic!("{problems}"));
    assert!(loaded.warnings.is_empty(), "{}", loaded.warnings);
    assert_eq!(loaded.scenario.name, "garden");
    assert_eq!(loaded.scenario.mower.approach.sideways_m, 0.04);
}
