//! Scenarios as files: loading, printing, mistakes, hostile input.

#[path = "scenario/failures.rs"]
mod failures;
#[path = "scenario/hostile.rs"]
mod hostile;
#[path = "scenario/include.rs"]
mod include;
#[path = "scenario/mechanisms.rs"]
mod mechanisms;
#[path = "scenario/mistakes.rs"]
mod mistakes;
#[path = "scenario/schema.rs"]
mod schema;
#[path = "scenario/shipped.rs"]
mod shipped;

use std::fs;
use std::path::{Path, PathBuf};

use dooryard::ledger::metric::METRICS;
use dooryard::scenario::{Loaded, Problems, load};

fn load_file(path: &Path) -> Result<Loaded, Problems> {
    let metrics: Vec<_> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    load(path, &metrics)
}

/// Loads `bytes` as `garden.toml` in a folder of its own.
fn load_bytes(bytes: &[u8]) -> Result<Loaded, Problems> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("garden.toml");
    fs::write(&path, bytes).expect("writable");
    load_file(&path)
}

/// All scenario files of a folder, sorted.
fn files(folder: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        .collect();
    files.sort();
    files
}
