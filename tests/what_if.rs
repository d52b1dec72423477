//! `what-if` as a user calls it: files, JSON, the same bytes for any number of threads, mistakes.

use std::path::Path;

use assert_cmd::Command;

fn what_if(folder: &Path, more: &[&str]) -> assert_cmd::assert::Assert {
    let mut command = Command::cargo_bin("dooryard").expect("built");
    command.args(["what-if", "scenarios/hillside.toml", "--strategy", "status", "--quiet", "--seasons", "3", "--out"]);
    command.arg(folder).args(["--failure", "network-outage", "--failure", "manual-left-on"]).args(more).assert()
}

#[test]
fn files_and_json() {
    let folder = tempfile::tempdir().expect("a folder");
    let (one, two) = (folder.path().join("one"), folder.path().join("two"));
    let shown = what_if(&one, &["--threads", "1", "--json"]).success();
    let document: serde_json::Value = serde_json::from_slice(&shown.get_output().stdout).expect("JSON");
    let rows = document["rows"].as_array().expect("rows");
    assert_eq!(rows.len(), 3);
    assert_eq!(rows[0]["mode"], "network-outage");
    assert_eq!(rows[2]["failure"], "all together");
    assert!(rows[0]["protects"].as_str().is_some_and(|words| words.ends_with('.')));
    what_if(&two, &["--threads", "2"]).success();
    for file in [
        "summary.txt",
        "harm.csv",
        "moved.csv",
        "what-if.json",
        "ranked.svg",
        "ranked.csv",
        "together.svg",
        "together.csv",
        "report.html",
        "assumptions.csv",
        "run.toml",
    ] {
        let [a, b] = [&one, &two].map(|folder| std::fs::read(folder.join(file)).expect(file));
        assert!(!a.is_empty() && a == b, "{file}");
    }
}

#[test]
fn an_unknown_failure_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let failed = what_if(&folder.path().join("none"), &["--failure", "network-outrage"]).code(2);
    let said = String::from_utf8_lossy(&failed.get_output().stderr).into_owned();
    assert!(said.contains("did you mean `network-outage`"), "{said}");
    assert!(!folder.path().join("none").exists());
}
