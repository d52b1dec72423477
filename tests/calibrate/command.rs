//! The command as its users meet it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;

use super::browser_support::{Scheme, assert_in_order, find, visit};
use super::page_support::{assert_sound, assert_values_of_files, parse};

fn root(path: &str) -> String {
    format!("{}/{path}", env!("CARGO_MANIFEST_DIR"))
}

fn scratch(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("calibrate").join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn dooryard(folder: &Path, arguments: &[&str]) -> Output {
    Command::cargo_bin("dooryard").unwrap().current_dir(folder).arg("calibrate").args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// What a command that must end with this code printed.
#[track_caller]
fn printed(folder: &Path, arguments: &[&str], code: i32) -> String {
    let output = dooryard(folder, arguments);
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

/// The page of a folder, held to the rules of all pages.
fn assert_page(folder: &Path, least: usize, drawings: &[&str]) {
    let page = parse(&fs::read_to_string(folder.join("report.html")).unwrap());
    assert_sound(&page);
    let compared = assert_values_of_files(&page, &|name| fs::read(folder.join(name)).ok());
    assert!(compared >= least, "only {compared} values");
    for drawing in drawings {
        assert!(page.all().iter().any(|it| it.get("id") == Some(&format!("figure-{drawing}"))), "{drawing}");
        let table = fs::read_to_string(folder.join(format!("{drawing}.csv"))).unwrap();
        assert!(table.lines().count() > 5, "{drawing}");
    }
}

fn assert_spoken(text: &str) {
    for line in text.lines() {
        assert!(!line.contains("---") && !line.contains("===") && !line.trim_start().contains("   "), "{line}");
    }
}

fn number_after(text: &str, key: &str) -> f64 {
    let rest = text.lines().find_map(|line| line.strip_prefix(key)).unwrap_or_else(|| panic!("no {key} in {text}"));
    let digits = rest.trim_start_matches([' ', '=', '"']);
    let end = digits.find([' ', '"']).unwrap_or(digits.len());
    digits[..end].parse().unwrap_or_else(|_| panic!("{rest}"))
}

/// The shipped log with the shipped scenario, as the README shows it: answer, files, part, and a scenario that plays.
#[test]
fn a_still_log_with_its_scenario() {
    let folder = scratch("still");
    let log = root("scenarios/logs/eye-still.csv");
    let scenario = root("scenarios/orchard.toml");
    let base = [
        "still",
        &log,
        "--truth",
        "2.5 m",
        "--scenario",
        &scenario,
        "--sensor",
        "eye",
        "--seasons",
        "1",
        "--draws",
        "200",
    ];
    let shown = printed(&folder, &base, 0);
    assert!(shown.contains("Slow drift present") && shown.contains("independent ones"), "{shown}");
    assert!(shown.contains("false openings a day") && shown.contains("What it means for orchard"), "{shown}");
    let out = folder.join("output/eye-still-calibrate");
    assert_page(&out, 120, &["allan", "readings", "quantiles"]);
    // What the log was drawn with stands in its first lines.
    let part = fs::read_to_string(out.join("sensor.toml")).unwrap();
    assert!((number_after(&part, "bias") - 22.0).abs() < 6.0, "{part}");
    assert!((number_after(&part, "dropout") - 0.006).abs() < 0.004 && part.contains("resolution = \"1 mm\""), "{part}");
    assert!((number_after(&part, "spurious") - 0.0025).abs() < 0.002, "{part}");
    // 31 mm less what the scenario's growth makes of 2.52 m, which is 15 mm.
    assert!((number_after(&part, "noise") - 15.9).abs() < 1.5, "{part}");
    assert!(part.contains("\nrandom_drift = \"") && part.contains("# drift_per_day"), "{part}");
    // Each within its interval's usual width about the 14 mm and 25 s that were drawn.
    assert!((number_after(&part, "random_drift") - 14.0).abs() < 4.0, "{part}");
    assert!((number_after(&part, "random_drift_time") - 25.0).abs() < 15.0, "{part}");
    let checked =
        Command::cargo_bin("dooryard").unwrap().arg("check").arg(out.join("calibrated.toml")).arg("--json").output();
    let checked = checked.unwrap();
    assert!(matches!(checked.status.code(), Some(0 | 1)), "{}", text(&checked.stderr));
    assert!(text(&checked.stdout).contains("orchard-calibrated"));
    // A range of each strategy, from low to high, that holds the figure itself.
    let before = fs::read(out.join("feedback.csv")).unwrap();
    let document: serde_json::Value =
        serde_json::from_str(&printed(&folder, &[&base[..], &["--json"]].concat(), 0)).unwrap();
    assert_eq!(document["layout"], "dooryard-calibrate/1");
    assert!(document["cautions"].as_array().is_some_and(|cautions| !cautions.is_empty()));
    let rows = document["tables"]["feedback"].as_array().unwrap();
    let known: Vec<&serde_json::Value> = rows.iter().filter(|row| row["low"].is_number()).collect();
    assert!(known.len() >= 6, "{rows:?}");
    for row in &known {
        let at = |key: &str| row[key].as_f64().unwrap();
        assert!(at("low") <= at("middle") && at("middle") <= at("high"), "{row}");
    }
    let wide = known.iter().filter(|row| row["low"].as_f64() < row["high"].as_f64()).count();
    assert!(wide >= 3, "ranges, not numbers: {known:?}");
    assert!(document["tables"]["figures"].as_array().unwrap().iter().all(|row| row["value"].is_number()));
    // The same bytes again, over its own folder.
    assert_eq!(fs::read(out.join("feedback.csv")).unwrap(), before);
    assert_spoken(&printed(&folder, &[&base[..], &["--plain"]].concat(), 0));
}

/// Times of day, millimetres, no scenario: the same figures as in seconds and metres.
#[test]
fn other_times_and_units() {
    let folder = scratch("units");
    let lines = fs::read_to_string(root("scenarios/logs/eye-still.csv")).unwrap();
    let mut other = "\u{feff}reading_mm,time,note\n".to_owned();
    let begins: jiff::Timestamp = "2025-06-01T05:30:00+02:00".parse().unwrap();
    for line in lines.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit())) {
        let (t, reading) = line.split_once(',').unwrap();
        let at = begins + jiff::SignedDuration::from_secs_f64(t.parse().unwrap());
        let mm = (reading.parse::<f64>().unwrap() * 1000.0).round();
        other.push_str(&format!("{mm},{at},x\n"));
    }
    fs::write(folder.join("other.csv"), other).unwrap();
    let kind = ["--kind", "optical range", "--json"];
    let figures = |file: &str| {
        let shown = printed(&folder, &[&["still", file][..], &kind].concat(), 0);
        let document: serde_json::Value = serde_json::from_str(&shown).unwrap();
        (document["tables"]["figures"].clone(), document["warnings"].to_string())
    };
    let (seconds, _) = figures(&root("scenarios/logs/eye-still.csv"));
    let (of_day, warnings) = figures("other.csv");
    assert!(warnings.contains("`note` is not used"), "{warnings}");
    for (one, other) in seconds.as_array().unwrap().iter().zip(of_day.as_array().unwrap()) {
        assert_eq!(one["figure"], other["figure"]);
        let (a, b) = (one["value"].as_f64().unwrap(), other["value"].as_f64().unwrap());
        assert!((a - b).abs() <= 1e-6 * a.abs() + 1e-9, "{one} {other}");
    }
    let part = fs::read_to_string(folder.join("output/other-calibrate/sensor.toml")).unwrap();
    assert!(part.contains("name = \"other\"") && part.contains("# bias"), "{part}");
}

/// A part that is included after a scenario changes the sensor of that name.
#[test]
fn the_part_wins_when_it_is_included_last() {
    let folder = scratch("part");
    let log = root("scenarios/logs/eye-still.csv");
    printed(
        &folder,
        &["still", &log, "--kind", "optical range", "--truth", "2.5 m", "--sensor", "eye", "--out", "part"],
        0,
    );
    let scenario = toml::Value::String(root("scenarios/orchard.toml"));
    fs::write(folder.join("both.toml"), format!("include = [{scenario}, \"part/sensor.toml\"]\n")).unwrap();
    let loaded = dooryard::cli::wiring::load(&folder.join("both.toml")).map_err(|failure| failure.to_string()).unwrap();
    let eye = &loaded.scenario.sensors[0];
    assert!((eye.errors.bias - 0.022).abs() < 0.006 && eye.errors.spurious > 0.001, "{eye:?}");
    assert_eq!(eye.errors.resolution, 0.001);
}

#[test]
fn labelled_passes() {
    let folder = scratch("passes");
    let log = root("scenarios/logs/passes.csv");
    let base = ["passes", &log, "--days", "25"];
    let shown = printed(&folder, &base, 0);
    for words in ["by counting", "by normal scores", "of least cost", "It would open for others", "59 for 5 %"] {
        assert!(shown.contains(words), "{words} in {shown}");
    }
    assert_page(&folder.join("output/passes-calibrate"), 20, &["roc", "scores"]);
    let document: serde_json::Value =
        serde_json::from_str(&printed(&folder, &[&base[..], &["--json"]].concat(), 0)).unwrap();
    assert_eq!(document["layout"], "dooryard-calibrate/1");
    assert_eq!(document["tables"]["levels"].as_array().unwrap().len(), 3);
    assert_spoken(&printed(&folder, &[&base[..], &["--plain"]].concat(), 0));
    // 132 passes can't show that one in a hundred is missed.
    let shown = printed(&folder, &[&base[..], &["--misses", "1 %"]].concat(), 1);
    assert!(shown.contains("cannot support") && shown.contains("at least 299 passes"), "{shown}");
}

/// Too few to tell is an answer, and ends with 1.
#[test]
fn a_short_log() {
    let folder = scratch("short");
    let lines = fs::read_to_string(root("scenarios/logs/eye-still.csv")).unwrap();
    let some: Vec<&str> = lines.lines().take(600).collect();
    fs::write(folder.join("some.csv"), some.join("\n")).unwrap();
    let shown = printed(&folder, &["still", "some.csv", "--kind", "optical-range"], 1);
    assert!(shown.contains("Too few readings") && shown.contains("2000"), "{shown}");
}

/// Each mistake ends with 2, names file and line, and leaves everything as it was.
#[test]
fn mistakes() {
    let folder = scratch("mistakes");
    let good: String = (0..150).map(|i| format!("{}.{},1.2{}\n", i / 10, i % 10, i % 7)).collect();
    let with = |line: &str| format!("t,reading\n{good}{line}\n");
    let still = |name: &str| vec!["still".to_owned(), name.to_owned(), "--kind".to_owned(), "optical range".to_owned()];
    let passes = |name: &str| vec!["passes".to_owned(), name.to_owned(), "--days".to_owned(), "3".to_owned()];
    let cases = [
        (String::new(), still("a.csv"), vec!["the file is empty", "t,reading"]),
        ("t,reading\n1,2\n".to_owned(), still("a.csv"), vec!["1 rows with a reading", "at least 100"]),
        (
            "time,redaing\n1,2\n".to_owned(),
            still("a.csv"),
            vec!["line 1", "no column `reading`", "did you mean `redaing`?"],
        ),
        (with("15.0,abc"), still("a.csv"), vec!["line 152, column reading", "`abc` is not a number"]),
        (with("15.0,NaN"), still("a.csv"), vec!["line 152", "not a finite number", "leave the field empty"]),
        (with("15.0,1203 mm"), still("a.csv"), vec!["line 152", "carries a unit", "reading_mm"]),
        (with("3.0,1.2"), still("a.csv"), vec!["line 152, column t", "3.0 is before that of line 151"]),
        (with("14.9,1.2"), still("a.csv"), vec!["the same as that of line 151"]),
        (with("noon,1.2"), still("a.csv"), vec!["`noon` is no time", "RFC 3339"]),
        (
            with("2025-06-01T05:30:00Z,1.2"),
            still("a.csv"),
            vec!["is a time of day, but line 2 has a number of seconds"],
        ),
        (with("15.0,1.2,3"), still("a.csv"), vec!["line 152", "3 fields, but the header has 2"]),
        (
            with("15.0,1200\n15.1,1201\n15.2,1203"),
            still("a.csv"),
            vec!["line 152", "1000 times", "two units are mixed"],
        ),
        (format!("t,reading\n{}", good.replace(|c: char| c.is_ascii_digit(), "1")), still("a.csv"), vec!["line 3"]),
        (
            (0..150).fold("t,reading\n".to_owned(), |text, i| format!("{text}{i},2.5\n")),
            still("a.csv"),
            vec!["all 150 readings are 2.5 m"],
        ),
        (with("").replace("reading", "reading_kg"), still("a.csv"), vec!["unit `kg` is not a length"]),
        (
            "label,score\nmover,2\nother,1\n".to_owned(),
            passes("a.csv"),
            vec!["line 2, column label", "did you mean `mower`?"],
        ),
        (
            "label,score\nmower,2\nmower,x\n".to_owned(),
            passes("a.csv"),
            vec!["line 3, column score", "`x` is not a number"],
        ),
        ("label,score\nmower,2\nmower,3\n".to_owned(), passes("a.csv"), vec!["no pass is labelled `other`"]),
        (
            with(""),
            [still("a.csv"), vec!["--truth".to_owned(), "2 kg".to_owned()]].concat(),
            vec!["--truth", "a length"],
        ),
        (with(""), vec!["still".to_owned(), "a.csv".to_owned()], vec!["--kind"]),
        (with(""), [still("a.csv")[..3].to_vec(), vec!["clock".to_owned()]].concat(), vec!["`clock`", "platform load"]),
        (with(""), still("absent.csv"), vec!["absent.csv"]),
        ("label,score\nmower,1\n".to_owned(), vec!["passes".to_owned(), "a.csv".to_owned()], vec!["--days"]),
    ];
    for (content, arguments, words) in cases {
        fs::write(folder.join("a.csv"), content).unwrap();
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let output = dooryard(&folder, &arguments);
        let told = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {told}");
        assert!(output.stdout.is_empty() && words.iter().all(|word| told.contains(word)), "{words:?} in {told}");
        assert!(!folder.join("output/a-calibrate").exists(), "{arguments:?}");
    }
    // A sensor that the scenario does not have, and a folder that is somebody else's.
    fs::write(folder.join("a.csv"), with("")).unwrap();
    let scenario = root("scenarios/orchard.toml");
    let output = dooryard(&folder, &["still", "a.csv", "--scenario", &scenario, "--sensor", "eyes"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("did you mean `eye`?"), "{}", text(&output.stderr));
    fs::create_dir(folder.join("mine")).unwrap();
    fs::write(folder.join("mine/letter.txt"), "mine").unwrap();
    let output = dooryard(&folder, &["still", "a.csv", "--kind", "optical range", "--out", "mine"]);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(fs::read_dir(folder.join("mine")).unwrap().count(), 1);
}

/// Both pages on a phone and on a desk, light and dark: nothing overflows, nothing is cut off, nothing is fetched.
#[test]
fn pages_in_a_browser() {
    let Some(browser) = find() else {
        eprintln!("skipped: no browser was found; DOORYARD_BROWSER may name one");
        return;
    };
    let folder = scratch("browser");
    let (still, passes) = (root("scenarios/logs/eye-still.csv"), root("scenarios/logs/passes.csv"));
    printed(&folder, &["still", &still, "--kind", "optical-range", "--truth", "2.5 m", "--out", "still"], 0);
    printed(&folder, &["passes", &passes, "--days", "25", "--out", "passes"], 0);
    for (name, drawings) in [("still", 3), ("passes", 2)] {
        let page = fs::read_to_string(folder.join(name).join("report.html")).unwrap();
        for (width, scheme) in [(390, Scheme::Light), (390, Scheme::Dark), (1280, Scheme::Light)] {
            let found = visit(&browser, &page, width, scheme, "", &folder);
            assert_in_order(&found, &format!("{name}, {width} pixels, {scheme:?}"));
            assert_eq!(found["drawings"], drawings);
        }
    }
}
