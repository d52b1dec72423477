//! What the tests of `check` share: scenarios read, edited as a user would, and rows looked up.

#![allow(dead_code, reason = "each test uses its own part of this")]

use std::path::Path;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::{Key, METRICS};
use dooryard::scenario::{Loaded, Scenario, load, starter as template};
use dooryard::sensing::channel::Sampling;
use dooryard::study::check::{Change, CheckResult, Row, Verdict, check};

pub fn read(path: &str) -> Scenario {
    let metrics: Vec<_> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    load(Path::new(path), &metrics).unwrap_or_else(|problems| panic!("{problems}")).scenario
}

pub fn failing(result: &CheckResult) -> Vec<&'static str> {
    result.rows.iter().filter(|row| row.verdict == Verdict::Fails).map(|row| row.id).collect()
}

pub fn row<'r>(result: &'r CheckResult, id: &str) -> &'r Row {
    result.rows.iter().find(|row| row.id == id).unwrap_or_else(|| panic!("no row {id}"))
}

pub fn verdict(result: &CheckResult, id: &str) -> Verdict {
    row(result, id).verdict
}

/// The starter as `dooryard new` writes it.
pub fn starter() -> Scenario {
    starter_with(&[])
}

/// The starter's text with pieces of it replaced.
pub fn starter_text(changes: &[(&str, &str)]) -> String {
    let mut text = template::starter("hedge");
    for (old, new) in changes {
        assert!(text.contains(old), "the starter has no {old}");
        text = text.replacen(old, new, 1);
    }
    text
}

/// The starter with pieces of its text replaced, and what its loading warns of.
pub fn loaded_with(changes: &[(&str, &str)]) -> Loaded {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("hedge.toml");
    std::fs::write(&file, starter_text(changes)).expect("a file");
    let metrics: Vec<_> = METRICS.iter().map(|metric| (metric.key, metric.unit)).collect();
    load(&file, &metrics).unwrap_or_else(|problems| panic!("{problems}"))
}

/// A scenario of this text.
pub fn loaded_text(text: &str) -> Scenario {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("design.toml");
    std::fs::write(&file, text).expect("a file");
    read(file.to_str().expect("a path"))
}

/// The starter with pieces of its text replaced, without warnings.
pub fn starter_with(changes: &[(&str, &str)]) -> Scenario {
    loaded_with(changes).scenario
}

/// A beam across the way home, `x` from the door line, and its detector, for the starter's `[controller]` line.
pub fn beam(x: &str) -> String {
    format!(
        r#"
[[sensor]]
name = "outer"
kind = "break beam"
rate = "20 Hz"
latency = "10 ms"
dropout = 0
spurious = 0
x = "{x}"
z = "0.12 m"
span = ["-0.3 m", "0.3 m"]

[[detector]]
name = "out"
sensor = "outer"
rule = "2 of 2"
release = "5 of 5"

[controller]"#
    )
}

/// A leaf and a flap on a rod that are sound in the starter with their places and levels.
pub const LEAF: &str = "kind = \"side leaf\"\nhinge_span = \"0.3 m\"\nopen_angle = \"90 deg\"\nopens = \"outwards\"\nrod_frame_out = \"-300 mm\"\nrod_frame_along = \"200 mm\"\nrod_panel_along = \"130 mm\"\nrod_panel_behind = \"20 mm\"";
pub const FLAP: &str = "kind = \"top flap\"\nlength = \"0.42 m\"\nhinge_height = \"0.44 m\"\nopen_angle = \"85 deg\"\nopens = \"outwards\"\nrod_frame_out = \"-295 mm\"\nrod_frame_along = \"255 mm\"\nrod_panel_along = \"85 mm\"\nrod_panel_behind = \"20 mm\"";
pub const OUT_OF_ITS_WAY: [(&str, &str); 4] = [
    // The eye sees the mower until the beam at the door line does.
    (r#"pitch = "-2 deg""#, r#"pitch = "-4 deg""#),
    (r#"waits_at = "0.5 m""#, r#"waits_at = "0.8 m""#),
    (r#"on = "2.6 m""#, r#"on = "3.4 m""#),
    (r#"off = "2.9 m""#, r#"off = "3.7 m""#),
];

/// The starter with its mechanism's section replaced, and pieces of its text.
pub fn design(mechanism: Option<&str>, pieces: &[(&str, &str)]) -> String {
    let text = starter_text(pieces);
    let Some(mechanism) = mechanism else { return text };
    let begin = text.find("[door.mechanism]").expect("a mechanism");
    let end = text[begin..].find("[drive]").expect("a drive") + begin;
    format!("{}[door.mechanism]\n{mechanism}\n\n{}", &text[..begin], &text[end..])
}

/// Sets keys of a scenario file as a user would: an entry of a list goes by its name, its sensor or its metric.
pub fn edited(path: &str, changes: &[Change]) -> Scenario {
    edited_text(&std::fs::read_to_string(path).expect("a file"), changes)
}

/// The same with a file's text.
pub fn edited_text(text: &str, changes: &[Change]) -> Scenario {
    let mut table: toml::Table = text.parse().expect("TOML");
    for change in changes {
        if change.value.is_empty() {
            leave_out(&mut table, &change.key);
            continue;
        }
        let words: Vec<&str> = change.key.split('.').collect();
        let (last, way) = words.split_last().expect("a key");
        let mut place = &mut table;
        let mut way = way.iter();
        while let Some(word) = way.next() {
            let missing = || toml::Value::Table(toml::Table::new());
            place = match place.entry(*word).or_insert_with(missing) {
                toml::Value::Table(inner) => inner,
                toml::Value::Array(list) => {
                    let name = *way.next().expect("a name");
                    let meant = |entry: &toml::Value| {
                        let is = |key: &str| entry.get(key).and_then(toml::Value::as_str) == Some(name);
                        (is("name") || is("sensor") || is("metric")) && (!is("metric") || entry.get(last).is_some())
                    };
                    let entry = list.iter_mut().find(|entry| meant(entry)).expect("an entry of that name");
                    entry.as_table_mut().expect("a table")
                }
                other => panic!("{word} is {other}"),
            };
        }
        let value: toml::Table = format!("value = {}", change.value).parse().expect("a value as TOML");
        place.insert((*last).to_string(), value["value"].clone());
    }
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("edited.toml");
    std::fs::write(&file, toml::to_string(&table).expect("TOML")).expect("a file");
    read(file.to_str().expect("a path"))
}

/// Takes out the limit of a key like `limit.strandings.at_least`.
fn leave_out(table: &mut toml::Table, key: &str) {
    let ["limit", metric, bound] = key.split('.').collect::<Vec<_>>()[..] else { panic!("{key} is no limit") };
    let limits = table["limit"].as_array_mut().expect("limits");
    let before = limits.len();
    limits.retain(|limit| limit["metric"].as_str() != Some(metric) || limit.get(bound).is_none());
    assert_eq!(limits.len() + 1, before, "{key}");
}

pub fn checked(text: &str) -> CheckResult {
    check(&loaded_text(text)).expect("a result")
}

pub fn keys(result: &CheckResult) -> Vec<&str> {
    result.changes.iter().map(|change| change.key.as_str()).collect()
}

/// Sums of a metric over some seasons of the first strategy.
pub fn seasons(scenario: &Scenario, count: u64, key: Key) -> f64 {
    let plan = Plan::new(scenario).expect("a plan");
    let one = |season| {
        let outside = Outside::draw(&plan, 1, season).expect("weather");
        play(&plan, &outside, 0, 1, Options { sampling: Sampling::Exact, events: false }).value(key)
    };
    (0..count).map(one).sum()
}

/// It fails, names these keys, and made in the file they are accepted.
pub fn is_mended(name: &str, file: &str, expected: &[&str]) -> CheckResult {
    let bad = checked(file);
    assert!(!failing(&bad).is_empty(), "{name} passes");
    assert!(bad.mended, "{name}: {:?} leave {:?}", bad.changes, bad.left);
    assert_eq!(keys(&bad), expected, "{name}: {:?}", bad.changes);
    let good = check(&edited_text(file, &bad.changes)).expect("a result");
    assert_eq!(failing(&good), Vec::<&str>::new(), "{name}: {:?}", bad.changes);
    bad
}
