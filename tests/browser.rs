//! The pages in a real browser: on a phone and on a desk, light and dark, used, and on paper. Skipped where no browser is
//! found (`DOORYARD_BROWSER` may name one).

mod browser_support;
mod short_support;

use std::fs;
use std::path::Path;
use std::process::Command;

use browser_support::{Scheme, assert_in_order, find, print, skipped, visit};

fn dooryard(folder: &Path, arguments: &[&str]) {
    let output = Command::new(env!("CARGO_BIN_EXE_dooryard")).current_dir(folder).args(arguments).output().unwrap();
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", String::from_utf8_lossy(&output.stderr));
}

/// Clicks the heading of the first column of figures twice; notes the order before and after each.
const SORTING: &str = "\
    const table = d.querySelector('table.sortable');\
    const column = [...table.tBodies[0].rows[0].cells].findIndex((cell) => cell.dataset.sort !== undefined);\
    const head = table.tHead.rows[0].cells[column], button = head.querySelector('button');\
    const values = () => [...table.tBodies[0].rows].map((row) => Number(row.cells[column].dataset.sort));\
    found.sorting = { name: button.textContent, before: values() };\
    button.click(); found.sorting.first = [head.getAttribute('aria-sort'), values()];\
    button.click(); found.sorting.second = [head.getAttribute('aria-sort'), values()];\
    found.buttons = d.querySelectorAll('th[scope=col] button').length;";

#[test]
fn pages_in_a_browser() {
    let Some(browser) = find() else {
        skipped("pages_in_a_browser");
        return;
    };
    let folder = short_support::scratch("browser", "pages", "2025-05-04");
    dooryard(&folder, &["run", "short.toml", "--seasons", "4", "-q", "--out", "run"]);
    dooryard(&folder, &["check", "short.toml", "--out", "check"]);
    dooryard(&folder, &["compare", "short.toml", "--seasons", "6", "-q", "--out", "compare"]);
    for name in ["run", "check", "compare"] {
        look_at(&browser, &folder, name, true);
    }
}

/// The pages of the other studies: the same rules, on a small part of each.
#[test]
fn pages_of_studies_in_a_browser() {
    let Some(browser) = find() else {
        skipped("pages_of_studies_in_a_browser");
        return;
    };
    let folder = short_support::scratch("browser", "studies", "2025-04-08");
    let over = ["--over", "detector.near.on=1 m..3 m", "--tie", "detector.near.off=detector.near.on+0.4 m"];
    let play = |name: &str, more: &[&str]| {
        dooryard(&folder, &[&[name, "short.toml", "--out", name, "-q"][..], more].concat());
    };
    play(
        "what-if",
        &["--seasons", "3", "--failure", "network-outage", "--failure", "hunting", "--failure", "spider-web"],
    );
    play("misses", &["--seasons", "2", "--draws", "200"]);
    play("lifetime", &["--seasons", "3"]);
    play("sweep", &[&["--seasons", "2", "--steps", "3"][..], &over].concat());
    play("sensitivity", &[&["--seasons", "1", "--base", "8", "--trajectories", "2"][..], &over].concat());
    let tuned = ["--minimise", "missed_arrivals", "--plays", "40", "--confirm", "10"];
    play("tune", &[&tuned[..], &over].concat());
    let record = format!("{}/tests/data/weather/nyc2013_lga_hourly.csv", env!("CARGO_MANIFEST_DIR"));
    dooryard(&folder, &["weather", "show", &record, "short.toml", "--years", "1", "--out", "show"]);
    dooryard(&folder, &["weather", "fit", &record, "--by", "year", "--out", "part.toml", "--report", "fit"]);
    for name in ["what-if", "misses", "lifetime", "sweep", "sensitivity", "tune", "show", "fit"] {
        look_at(&browser, &folder, name, false);
    }
}

/// Holds the page of a folder to the rules on a phone and on a desk, light and dark, and prints it.
fn look_at(browser: &Path, folder: &Path, name: &str, sorts: bool) {
    let file = folder.join(name).join("report.html");
    let page = fs::read_to_string(&file).unwrap();
    let mut papers = Vec::new();
    for (width, scheme) in [(360, Scheme::Light), (1280, Scheme::Dark)] {
        let found = visit(browser, &page, width, scheme, if sorts { SORTING } else { "" }, folder);
        assert_in_order(&found, &format!("{name}, {width} pixels, {scheme:?}"));
        assert!(found["drawings"].as_u64().unwrap() > u64::from(sorts));
        if sorts {
            assert_sorted(&found);
        }
        papers.push(found["paper"].to_string());
    }
    assert_ne!(papers[0], papers[1], "dark is another colour than light");
    assert!(print(browser, &file, &folder.join(format!("{name}.pdf"))) > 20_000, "{name} on paper");
}

fn assert_sorted(found: &serde_json::Value) {
    // What is not known has no value; it stands last either way.
    let values = |list: &serde_json::Value| -> Vec<f64> {
        let values: Vec<Option<f64>> = list.as_array().unwrap().iter().map(serde_json::Value::as_f64).collect();
        let known = values.iter().flatten().count();
        assert!(list == &found["sorting"]["before"] || values[known..].iter().all(Option::is_none), "{values:?}");
        values.into_iter().flatten().collect()
    };
    let sorting = &found["sorting"];
    let mut expected = values(&sorting["before"]);
    expected.sort_by(f64::total_cmp);
    assert!(expected.first() < expected.last(), "a column of equal figures shows no sorting");
    assert_eq!(sorting["second"][0], "ascending");
    assert_eq!(values(&sorting["second"][1]), expected);
    expected.reverse();
    assert_eq!(sorting["first"][0], "descending");
    assert_eq!(values(&sorting["first"][1]), expected);
    assert!(found["buttons"].as_u64().unwrap() > 4);
}
