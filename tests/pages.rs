//! The pages, documents and spoken texts of all commands, as their users get them.

mod page_support;
mod short_support;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use page_support::{Element, assert_fetches_nothing, assert_sound, assert_values_of_files, parse};

/// A folder with the short scenario.
fn scratch(name: &str) -> PathBuf {
    short_support::scratch("pages", name, "2025-04-04")
}

fn dooryard(folder: &Path, arguments: &[&str]) -> Output {
    let output = Command::new(env!("CARGO_BIN_EXE_dooryard")).current_dir(folder).args(arguments).output().unwrap();
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{arguments:?}: {told}");
    output
}

fn printed(folder: &Path, arguments: &[&str]) -> String {
    String::from_utf8(dooryard(folder, arguments).stdout).unwrap()
}

/// The page of a folder, held to all rules; at least `least` of its values must be those of the files.
fn page(folder: &Path, least: usize) -> Element {
    let text = fs::read_to_string(folder.join("report.html")).unwrap();
    let page = parse(&text);
    assert_sound(&page);
    let compared = assert_values_of_files(&page, &|name| fs::read(folder.join(name)).ok());
    assert!(compared >= least, "only {compared} values of {}", folder.display());
    // The answer comes first, in a box.
    let first = page.named("section")[0].named("div").into_iter().find(|div| div.get("class").is_some());
    assert!(first.unwrap().get("class").unwrap().starts_with("verdict"), "the answer comes first");
    // Beside each drawing stand its figures.
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|ending| ending == "svg") {
            let table = fs::read_to_string(path.with_extension("csv")).unwrap();
            assert!(table.lines().count() >= 1 && table.contains(','), "{}", path.display());
        }
    }
    page
}

fn document(folder: &Path, arguments: &[&str], layout: &str) -> serde_json::Value {
    let document: serde_json::Value = serde_json::from_str(&printed(folder, arguments)).unwrap();
    assert_eq!(document["layout"], layout);
    assert_eq!(document["version"], env!("CARGO_PKG_VERSION"));
    assert!(document["cautions"].as_array().is_some_and(|cautions| !cautions.is_empty()));
    document
}

/// For a screen reader: no rules, no columns.
fn assert_spoken(text: &str) {
    for line in text.lines() {
        assert!(!line.contains("---") && !line.contains("==="), "a rule: {line}");
        assert!(!line.trim_start().contains("   "), "a column: {line}");
    }
    assert!(text.lines().any(|line| line.contains(": ") && line.ends_with('.')));
}

const OVER: [&str; 5] =
    ["--over", "detector.near.on=1 m..3 m", "--tie", "detector.near.off=detector.near.on+0.4 m", "-q"];

fn with<'a>(arguments: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    [arguments, more].concat()
}

#[test]
fn a_run() {
    let folder = scratch("run");
    let spoken = printed(&folder, &["run", "short.toml", "--seasons", "6", "-q", "--plain", "--seed", "5"]);
    assert_spoken(&spoken);
    let page = page(&folder.join("output/short"), 2_000);
    for drawing in ["calendar", "rain", "hours", "waits", "drive", "winding", "strokes", "panel", "forces"] {
        assert!(page.all().iter().any(|it| it.get("id") == Some(&format!("figure-{drawing}"))), "{drawing}");
    }
    // The command that opens a day repeats the seed, or it would open another day.
    let commands: Vec<&Element> =
        page.named("code").into_iter().filter(|code| code.text.starts_with("dooryard day")).collect();
    assert!(!commands.is_empty());
    assert!(
        commands.iter().all(|code| code.text.contains("day short.toml --season ") && code.text.ends_with("--seed 5"))
    );
    document(&folder, &["run", "short.toml", "--seasons", "2", "-q", "--json"], "dooryard-run/1");
}

#[test]
fn a_check_and_a_lifetime() {
    let folder = scratch("check");
    assert_spoken(&printed(&folder, &["check", "short.toml", "--plain", "--out", "answers"]));
    page(&folder.join("answers"), 100);
    document(&folder, &["check", "short.toml", "--json"], "dooryard-check/1");
    let lifetime = ["lifetime", "short.toml", "--seasons", "3", "-q"];
    assert_spoken(&printed(&folder, &with(&lifetime, &["--plain", "--out", "life"])));
    page(&folder.join("life"), 30);
    document(&folder, &with(&lifetime, &["--json"]), "dooryard-lifetime/1");
}

#[test]
fn a_comparison() {
    let folder = scratch("compare");
    let compare = ["compare", "short.toml", "--seasons", "20", "-q", "--minimise", "missed_arrivals"];
    assert_spoken(&printed(&folder, &with(&compare, &["--plain"])));
    page(&folder.join("output/short-compare"), 100);
    let document = document(&folder, &with(&compare, &["--json"]), "dooryard-compare/1");
    assert_eq!(document["tables"]["ranking"].as_array().unwrap().len(), 3);
    assert_eq!(document["study"]["seed"], "1");
    assert!(document["tables"]["metrics"][0]["mean"].is_number());
}

#[test]
fn a_sweep_and_a_sensitivity_study() {
    let folder = scratch("sweep");
    let sweep = with(&["sweep", "short.toml", "--seasons", "3", "--steps", "3"], &OVER);
    assert_spoken(&printed(&folder, &with(&sweep, &["--plain"])));
    page(&folder.join("output/short-sweep"), 60);
    let swept = document(&folder, &with(&sweep, &["--json"]), "dooryard-sweep/1");
    assert!(swept["tables"]["metrics"][0]["detector.near.on [m]"].is_number());
    let sensitivity =
        with(&["sensitivity", "short.toml", "--seasons", "1", "--base", "8", "--trajectories", "2"], &OVER);
    assert_spoken(&printed(&folder, &with(&sensitivity, &["--plain"])));
    page(&folder.join("output/short-sensitivity"), 5);
    document(&folder, &with(&sensitivity, &["--json"]), "dooryard-sensitivity/1");
}

#[test]
fn a_tuning() {
    let folder = scratch("tune");
    let tune =
        with(&["tune", "short.toml", "--minimise", "missed_arrivals", "--plays", "40", "--confirm", "10"], &OVER);
    assert_spoken(&printed(&folder, &with(&tune, &["--plain"])));
    page(&folder.join("output/short-tune"), 6);
    let document = document(&folder, &with(&tune, &["--json"]), "dooryard-tune/1");
    assert_eq!(document["tables"]["confirmation"].as_array().unwrap().len(), 10);
}

/// Every failure of the page is that of the files; the document says the same answer.
#[test]
fn a_what_if() {
    let folder = scratch("what-if");
    let what_if =
        ["what-if", "short.toml", "--seasons", "4", "-q", "--failure", "network-outage", "--failure", "hunting"];
    assert_spoken(&printed(&folder, &with(&what_if, &["--plain"])));
    let out = folder.join("output/short-what-if");
    let page = page(&out, 60);
    let document = document(&folder, &with(&what_if, &["--json"]), "dooryard-what-if/1");
    let first = document["answer"][0].as_str().unwrap();
    assert!(page.named("p").iter().any(|it| it.get("class") == Some("answer") && it.text == first), "{first}");
    // The modes that were played stand among the values, as nobody set them.
    let values = fs::read_to_string(out.join("assumptions.csv")).unwrap();
    assert!(values.lines().any(|line| line.starts_with("failure[network-outage].rate,") && line.contains(",default,")));
    assert!(!values.contains("failure[power-loss]"), "it was not played");
    assert_eq!(document["study"]["settings"]["objective"].as_str().unwrap().split(':').next(), Some("least cost"));
}

#[test]
fn misses() {
    let folder = scratch("misses");
    let misses = ["misses", "short.toml", "--seasons", "2", "--draws", "200", "-q"];
    assert_spoken(&printed(&folder, &with(&misses, &["--plain", "--out", "missed"])));
    let page = page(&folder.join("missed"), 20);
    for drawing in ["chances", "shares"] {
        assert!(page.all().iter().any(|it| it.get("id") == Some(&format!("figure-{drawing}"))), "{drawing}");
    }
    let document = document(&folder, &with(&misses, &["--json"]), "dooryard-misses/1");
    assert_eq!(document["answer"].as_array().unwrap().len(), 3);
}

/// A day's page loads nothing either, and says what it rests on.
#[test]
fn a_day() {
    let folder = scratch("day");
    dooryard(&folder, &["day", "short.toml", "--season", "0", "--date", "2025-04-02", "--out", "seen"]);
    let page = parse(&fs::read_to_string(folder.join("seen/report.html")).unwrap());
    assert_fetches_nothing(&page);
    let compared = assert_values_of_files(&page, &|name| fs::read(folder.join("seen").join(name)).ok());
    assert!(compared > 100, "only {compared} values");
    // Whoever passes by is in the picture with head and name.
    let scene = page.all().into_iter().find(|it| it.get("id") == Some("scene")).expect("the shelter").clone();
    let high: f64 = scene.get("data-high").unwrap().parse().unwrap();
    let tall = scene.named("rect").into_iter().filter_map(|it| it.get("data-tall")?.parse::<f64>().ok());
    let tallest = tall.fold(0.0, f64::max);
    assert!(tallest > 0.0 && high >= tallest + 0.2, "{tallest} m tall in a picture of {high} m");
    assert!(page.named("nav")[0].text.contains("Assumptions"));
}

/// All values of every scenario stand on the page of each study and in a file beside it, with their origin.
#[test]
fn studies_say_all_assumptions() {
    let folder = scratch("all-assumptions");
    let other = fs::read_to_string(folder.join("short.toml")).unwrap().replace("\"short\"", "\"other\"");
    fs::write(folder.join("other.toml"), other).unwrap();
    dooryard(
        &folder,
        &["compare", "short.toml", "other.toml", "--strategy", "status", "--seasons", "2", "-q", "--out", "two"],
    );
    let page = page(&folder.join("two"), 900);
    for file in ["assumptions.csv", "assumptions-2.csv"] {
        let rows = csv::Reader::from_path(folder.join("two").join(file)).unwrap().into_records().count();
        let tables = page.named("table").into_iter().filter(|table| table.get("data-file") == Some(file));
        let shown: usize = tables.map(|table| table.named("tbody")[0].named("tr").len()).sum();
        assert!(rows > 300 && shown == rows, "{file}: {shown} of {rows}");
    }
}

#[test]
fn weather() {
    let folder = scratch("weather");
    let record = format!("{}/tests/data/weather/nyc2013_lga_hourly.csv", env!("CARGO_MANIFEST_DIR"));
    let show = ["weather", "show", &record, "short.toml", "--years", "2"];
    assert_spoken(&printed(&folder, &with(&show, &["--plain", "--out", "shown"])));
    page(&folder.join("shown"), 80);
    document(&folder, &with(&show, &["--json"]), "dooryard-weather-show/1");
    let fit = ["weather", "fit", &record, "--by", "year", "--out", "part.toml", "--force"];
    assert_spoken(&printed(&folder, &with(&fit, &["--plain", "--report", "fit"])));
    page(&folder.join("fit"), 10);
    let document = document(&folder, &with(&fit, &["--json"]), "dooryard-weather-fit/1");
    assert!(document["tables"]["fit"][0]["observed"].is_number());
}

/// What nobody set is said to be a default; setting it to the very same value makes it set.
#[test]
fn assumptions_say_who_made_them() {
    let folder = scratch("assumptions");
    let origin = |more: &str| {
        let text = fs::read_to_string(folder.join("short.toml")).unwrap();
        fs::write(folder.join("other.toml"), format!("{text}{more}")).unwrap();
        dooryard(&folder, &["check", "other.toml", "--out", "answers"]);
        let mut rows = csv::Reader::from_path(folder.join("answers/assumptions.csv")).unwrap();
        let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
        let keys: std::collections::BTreeSet<String> = rows.iter().map(|row| row[0].to_string()).collect();
        assert_eq!(keys.len(), rows.len(), "a key stands twice");
        move |key: &str| {
            let row = rows.iter().find(|row| &row[0] == key).unwrap_or_else(|| panic!("no {key}"));
            (row[1].to_string(), row[2].to_string())
        }
    };
    let before = origin("");
    let (value, of) = before("strategy[ranger].controller.obstruction_reaction");
    assert_eq!(of, "default", "{value}");
    assert_eq!(before("season.to"), ("2025-04-04".to_string(), "set".to_string()));
    let after = origin(&format!("[controller]\nobstruction_reaction = \"{value}\"\n"));
    assert_eq!(after("strategy[ranger].controller.obstruction_reaction"), (value, "set".to_string()));
}
