//! A short scenario of three strategies in a folder of its own, for tests that play it as a user would.

use std::fs;
use std::path::{Path, PathBuf};

/// An empty folder of the test `test` for its part `name`, with `short.toml`: the hillside from the first of April to `to`.
pub fn scratch(test: &str, name: &str, to: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test).join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    let hillside = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/hillside.toml");
    let text = format!("include = ['{}']\nname = \"short\"\n[season]\nto = {to}\n", hillside.display());
    fs::write(path.join("short.toml"), text).unwrap();
    path
}
