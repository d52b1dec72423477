//! The program as a user runs it: a scenario file in, an output folder out.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use dooryard::scenario;

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder can be made")
}

fn dooryard(arguments: &[&str], at: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_dooryard"))
        .args(arguments)
        .current_dir(at)
        .env("NO_COLOR", "1")
        .output()
        .expect("the program can be started")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("output is UTF-8")
}

/// A copy of the starter that is played in a moment.
fn quick(at: &Path) -> PathBuf {
    let path = at.join("yard.toml");
    let starter = scenario::starter("yard").replace("to = 2025-10-31", "to = 2025-04-10");
    fs::write(&path, starter).expect("the scenario can be written");
    path
}

fn run(at: &Path, more: &[&str]) -> Output {
    let mut arguments = vec!["run", "yard.toml", "--seasons", "6", "--quiet"];
    arguments.extend(more);
    dooryard(&arguments, at)
}

fn files(at: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = fs::read_dir(at)
        .expect("the folder can be listed")
        .map(|entry| {
            let entry = entry.expect("an entry");
            let name = entry.file_name().to_string_lossy().into_owned();
            (name, fs::read(entry.path()).expect("a file can be read"))
        })
        .collect();
    files.sort();
    files
}

#[test]
fn new_makes_a_scenario_that_runs_as_it_is() {
    let place = folder();
    let made = dooryard(&["new", "hedge"], place.path());
    assert!(made.status.success(), "{}", text(&made.stderr));
    let played = dooryard(&["run", "hedge.toml", "--seasons", "2", "--quiet"], place.path());
    assert!(matches!(played.status.code(), Some(0 | 1)), "{}", text(&played.stderr));
    let report = text(&played.stdout);
    assert!(report.starts_with("hedge") && report.contains("seed 1"), "{report}");
    let names: Vec<String> = files(&place.path().join("output/hedge")).into_iter().map(|(name, _)| name).collect();
    for expected in
        ["summary.txt", "metrics.csv", "seasons.csv", "days.csv", "run.toml", "report.html", "distribution.svg"]
    {
        assert!(names.iter().any(|name| name == expected), "{expected} is missing: {names:?}");
    }
    // A second time it refuses to overwrite.
    assert_eq!(dooryard(&["new", "hedge"], place.path()).status.code(), Some(2));
}

/// The same bytes for one and two threads and for a second run, in every file and on standard output.
#[test]
fn bytes_do_not_depend_on_threads() {
    let place = folder();
    quick(place.path());
    let mut results = Vec::new();
    for (threads, out) in [("1", "a"), ("2", "b"), ("2", "c")] {
        let output = run(place.path(), &["--threads", threads, "--events", "--out", out]);
        assert!(matches!(output.status.code(), Some(0 | 1)), "{}", text(&output.stderr));
        results.push((output.stdout, files(&place.path().join(out))));
    }
    for (stdout, files) in &results[1..] {
        assert_eq!(stdout, &results[0].0);
        for (mine, first) in files.iter().zip(&results[0].1) {
            assert!(mine == first, "{} differs", first.0);
        }
        assert_eq!(files.len(), results[0].1.len());
    }
}

/// The same bytes wherever the scenario and its weather record lie: a part in another folder names the record.
#[test]
fn bytes_do_not_depend_on_the_folder() {
    let record = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/weather/nyc2013_lga_hourly.csv");
    let starter = scenario::starter("yard");
    let (before, rest) = starter.split_once("[weather]").expect("the starter has weather");
    let after = &rest[rest.find("\n[mower]").expect("more sections follow")..];
    let dates = |text: &str| text.replace("2025-04-01", "2013-04-01").replace("2025-10-31", "2013-04-04");
    let main = dates(&format!("include = [\"parts/air/year.toml\"]\n{before}{after}"));
    let mut results = Vec::new();
    for deep in ["", "one/more"] {
        let place = folder();
        let home = place.path().join(deep);
        fs::create_dir_all(home.join("parts/air")).expect("folders can be made");
        fs::create_dir_all(home.join("parts/records")).expect("folders can be made");
        fs::copy(&record, home.join("parts/records/year.csv")).expect("the record can be copied");
        let part = "[weather]\nsource = \"observed\"\nfile = \"../records/year.csv\"\ngaps = \"dry\"\n";
        fs::write(home.join("parts/air/year.toml"), part).expect("the part can be written");
        fs::write(home.join("yard.toml"), &main).expect("the scenario can be written");
        let output = run(&home, &["--out", "out"]);
        assert!(matches!(output.status.code(), Some(0 | 1)), "{}", text(&output.stderr));
        let files = files(&home.join("out"));
        let settings = files.iter().find(|(name, _)| name == "run.toml").expect("run.toml");
        assert!(text(&settings.1).contains("file = \"parts/air/../records/year.csv\""), "{}", text(&settings.1));
        results.push(files);
    }
    for (mine, first) in results[1].iter().zip(&results[0]) {
        assert!(mine == first, "{} differs", first.0);
    }
}

/// `--json` is one document and nothing else, and holds what the CSV files hold.
#[test]
fn json_is_pure_and_agrees_with_the_table() {
    let place = folder();
    quick(place.path());
    let output = run(place.path(), &["--json", "--out", "out"]);
    let document: serde_json::Value = serde_json::from_slice(&output.stdout).expect("standard output is JSON");
    assert_eq!(document["layout"], "dooryard-run/1");
    let table = text(&fs::read(place.path().join("out/metrics.csv")).expect("metrics.csv"));
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let headings = reader.headers().expect("a heading").clone();
    let column = |name: &str| headings.iter().position(|heading| heading == name).expect("a column");
    let row = reader
        .records()
        .map(|row| row.expect("a row"))
        .find(|row| &row[column("metric")] == "arrivals")
        .expect("arrivals are there");
    let mean: f64 = row[column("mean")].parse().expect("a number");
    let found = document.to_string().contains(&format!("{mean}"));
    assert!(found && mean > 0.0, "the mean of arrivals, {mean}, is not in the JSON document");
}

#[test]
fn an_unknown_strategy_names_the_nearest() {
    let place = folder();
    let path = quick(place.path());
    let name = {
        let loaded = scenario::load(&path, &[("missed_arrivals", "")]);
        loaded.map(|loaded| loaded.scenario.strategies[0].name.clone()).unwrap_or_else(|_| "eye only".into())
    };
    let wrong = format!("{name}x");
    let output = run(place.path(), &["--strategy", &wrong]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("did you mean"), "{}", text(&output.stderr));
    assert!(!place.path().join("output").exists(), "something was written all the same");
}

/// Bad input leaves earlier results as they are.
#[test]
fn a_bad_scenario_keeps_earlier_results() {
    let place = folder();
    let path = quick(place.path());
    run(place.path(), &["--out", "out"]);
    let before = files(&place.path().join("out"));
    let broken =
        fs::read_to_string(&path).expect("the scenario").replace("mass = \"11 kg\"", "mass = \"-11 kg\"\nmas = 1");
    fs::write(&path, broken).expect("the scenario can be written");
    let output = run(place.path(), &["--out", "out"]);
    assert_eq!(output.status.code(), Some(2));
    let message = text(&output.stderr);
    assert!(message.contains("yard.toml:") && message.contains("-11 kg") && message.contains("`mas`"), "{message}");
    assert!(output.stdout.is_empty());
    assert_eq!(files(&place.path().join("out")), before);
}

/// An observed record that the scenario refuses for its gaps, a missing one, and one that runs backwards: exit 2 and
/// the file's name.
#[test]
fn bad_weather_files_are_refused() {
    let place = folder();
    let starter = scenario::starter("yard").replace("to = 2025-10-31", "to = 2025-04-10");
    let from = starter.find("[weather]").expect("a weather section");
    let to = starter.find("[mower]").expect("a mower section");
    let weather = "[weather]\nsource = \"observed\"\nfile = \"record.csv\"\ngaps = \"refuse\"\n\n";
    fs::write(place.path().join("yard.toml"), format!("{}{weather}{}", &starter[..from], &starter[to..]))
        .expect("the scenario can be written");
    let heading = "time,rain_mm,temperature_c,wind_m_s,gust_m_s\n";
    let row = |day: u32, hour: u32| format!("2025-04-{day:02}T{hour:02}:00:00+02:00,0,10,2,4\n");
    let backwards = format!("{heading}{}{}{}", row(1, 0), row(1, 2), row(1, 1));
    let doubled = format!("{heading}{}{}{}", row(1, 0), row(1, 1), row(1, 1));
    let short = format!("{heading}{}", (0..24).map(|hour| row(1, hour)).collect::<String>());
    let cases = [
        ("missing", None),
        ("empty", Some(String::new())),
        ("binary", Some("\u{0}\u{1}\u{2}garbage\u{0}".into())),
        ("backwards", Some(backwards)),
        ("doubled", Some(doubled)),
        ("gaps", Some(short)),
        ("infinite", Some(format!("{heading}2025-04-01T00:00:00+02:00,inf,10,2,4\n"))),
    ];
    for (name, content) in cases {
        let record = place.path().join("record.csv");
        let _ = fs::remove_file(&record);
        if let Some(content) = content {
            fs::write(&record, content).expect("the record can be written");
        }
        let output = run(place.path(), &[]);
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{name}: {message}");
        assert!(message.contains("record.csv"), "{name}: {message}");
        assert!(!place.path().join("output/yard").exists(), "{name}: something was written");
    }
}

/// An output folder that can't be written is noticed before anything is played.
#[test]
fn an_unwritable_folder_is_refused_at_once() {
    let place = folder();
    quick(place.path());
    fs::write(place.path().join("taken"), "a file").expect("a file can be written");
    let output = run(place.path(), &["--out", "taken/results"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("taken"), "{}", text(&output.stderr));
}

/// Ctrl-C: the seasons played are counted, nothing is written, exit 130.
#[cfg(unix)]
#[test]
fn an_interrupt_stops_cleanly() {
    use std::io::{BufRead, BufReader};
    use std::process::Stdio;

    let place = folder();
    quick(place.path());
    let mut child = Command::new(env!("CARGO_BIN_EXE_dooryard"))
        .args(["run", "yard.toml", "--seasons", "1000000", "--out", "out"])
        .current_dir(place.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program can be started");
    // Progress on a pipe comes every few seconds; the interrupt is sent as soon as the handler can be in place.
    std::thread::sleep(std::time::Duration::from_secs(2));
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill can be run");
    assert!(sent.success());
    let status = child.wait().expect("the program ends");
    let mut message = String::new();
    for line in BufReader::new(child.stderr.take().expect("standard error")).lines() {
        message += &line.expect("a line");
        message.push('\n');
    }
    assert_eq!(status.code(), Some(130), "{message}");
    assert!(message.contains("of 1000000 seasons"), "{message}");
    assert!(!place.path().join("out").exists(), "an interrupted run wrote its folder");
}

#[test]
fn the_schema_is_json() {
    let output = dooryard(&["schema"], Path::new("."));
    assert!(output.status.success());
    let schema: serde_json::Value = serde_json::from_slice(&output.stdout).expect("the schema is JSON");
    assert!(schema["properties"]["mower"].is_object());
}
