//! Commands that vary numbers of a scenario, as their users meet them.

mod short_support;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::Duration;

/// A folder with the short scenario.
fn scratch(name: &str) -> PathBuf {
    short_support::scratch("vary_commands", name, "2025-04-04")
}

fn dooryard(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_dooryard"));
    command.current_dir(folder).args(arguments);
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn succeeded(output: &Output) -> String {
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", text(&output.stderr));
    text(&output.stdout)
}

const TUNE: [&str; 15] = [
    "tune",
    "short.toml",
    "-q",
    "--strategy",
    "ranger",
    "--over",
    "detector.near.on=1 m..3 m",
    "--tie",
    "detector.near.off=detector.near.on+0.4 m",
    "--over",
    "detector.near.rule.k=1..6",
    "--plays",
    "80",
    "--confirm",
    "20",
];

/// Killed again and again at whatever moment, a study goes on where it was and ends with the same bytes.
#[test]
fn a_tuning_survives_being_killed() {
    let folder = scratch("kill");
    let whole = succeeded(&dooryard(&folder, &TUNE).args(["--out", "whole"]).output().unwrap());
    let memory = folder.join("killed.resume");
    for pause in [30, 60, 120, 200] {
        let mut child = dooryard(&folder, &TUNE).args(["--out", "killed", "--threads", "1"]).spawn().unwrap();
        std::thread::sleep(Duration::from_millis(pause));
        let _ = child.kill();
        child.wait().unwrap();
        if folder.join("killed").exists() {
            break;
        }
        // As a kill in mid-writing would leave it: the last line torn. The first one comes with the file, by a rename.
        if let Ok(bytes) = fs::read(&memory)
            && bytes.iter().filter(|byte| **byte == b'\n').count() > 1
        {
            fs::write(&memory, &bytes[..bytes.len().saturating_sub(3)]).unwrap();
        }
    }
    let resumed = dooryard(&folder, &TUNE).args(["--out", "killed"]).output().unwrap();
    assert_eq!(succeeded(&resumed), whole);
    for file in ["tuned.toml", "tried.csv", "confirmation.csv", "front.svg"] {
        assert_eq!(
            fs::read(folder.join("killed").join(file)).unwrap(),
            fs::read(folder.join("whole").join(file)).unwrap()
        );
    }
    assert!(!memory.exists(), "the resume file stays behind");
    // The part that was found is a scenario.
    let played = dooryard(&folder, &["run", "whole/tuned.toml", "-q", "--seasons", "1"]).output().unwrap();
    succeeded(&played);
}

#[test]
fn a_resume_file_of_another_study_is_refused() {
    let folder = scratch("other");
    fs::write(folder.join("x.resume"), "something else\n").unwrap();
    let output = dooryard(&folder, &TUNE).args(["--resume", "x.resume"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("belongs to another study"));
    assert_eq!(fs::read_to_string(folder.join("x.resume")).unwrap(), "something else\n");
}

#[test]
fn sensitivity_ranks_what_was_varied() {
    let folder = scratch("sensitivity");
    let arguments = [
        "sensitivity",
        "short.toml",
        "-q",
        "--over",
        "controller.open_at_least=10 s..60 s",
        "--over",
        "sensor.ear.noise=5 mm..6 mm",
        "--metric",
        "open_time",
        "--base",
        "8",
        "--trajectories",
        "3",
        "--seasons",
        "1",
    ];
    let report = succeeded(&dooryard(&folder, &arguments).output().unwrap());
    // How long the door stays open drives how long it is open; a millimetre of noise doesn't.
    let (_, table) = report.split_once("time open or moving").expect("the metric is reported");
    let [slow, noise] = ["controller.open_at_least", "sensor.ear.noise"].map(|path| table.find(path).unwrap());
    assert!(slow < noise, "{report}");
    assert!(folder.join("output/short-sensitivity/drivers.svg").exists());
}

/// Where all places are the same nobody is told that one is the best of them, and the answer stands before the tables; values
/// are told with the digits that somebody can set.
#[test]
fn a_sweep_without_a_difference_names_no_best_place() {
    let folder = scratch("alike");
    let sweep = ["sweep", "short.toml", "-q", "--over", "detector.near.on=1.5 m..2 m:4", "--metric", "brown_outs"];
    let report = succeeded(&dooryard(&folder, &sweep).args(["--seasons", "2"]).output().unwrap());
    let (before, tables) = report.split_once("\nbrown-outs").expect("a table");
    let flat = before.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("Answer") && flat.contains("Brown-outs per season: the same, 0"), "{report}");
    assert!(flat.contains("at all 4 places.") && !flat.contains("Brown-outs per season: smallest"), "{report}");
    assert!(tables.contains("1.667 m") && !tables.contains("1.66666"), "{report}");
    let csv = fs::read_to_string(folder.join("output/short-sweep/metrics.csv")).unwrap();
    assert!(csv.contains("1.66666666667,"), "files keep all digits");
}

#[test]
fn mistakes_are_answered_with_what_would_be_right() {
    let folder = scratch("mistakes");
    for (arguments, answer) in [
        (&["sweep", "short.toml", "--over", "detector.near.on"][..], "KEY=LOW..HIGH"),
        (&["sweep", "short.toml", "--over", "detector.near.on=3 m"], "LOW..HIGH"),
        (&["sweep", "short.toml", "--over", "detector.near.on=3..1 m"], "from a lower to a higher"),
        (&["sweep", "short.toml", "--over", "detector.near.on=1..3"], "no unit"),
        (&["sweep", "short.toml", "--over", "detector.nea.on=1..3 m"], "did you mean `near`?"),
        (&["sweep", "short.toml", "--over", "detector.near.on=1..3 m:0"], "at least 1"),
        (&["sweep", "short.toml", "--over", "detector.near.on=3..5 m:3"], "not valid"),
        (&["sweep", "short.toml"], "--over"),
        (
            &["sweep", "short.toml", "--over", "detector.near.on=1..3 m", "--tie", "detector.near.off=door.mass+1 m"],
            "must follow a number",
        ),
        (&["tune", "short.toml", "--over", "detector.near.on=1..3 m", "--worse-by", "0"], "more than 0"),
        (&["sensitivity", "short.toml", "--over", "detector.near.on=1..3 m", "--levels", "3"], "even"),
    ] {
        let output = dooryard(&folder, arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(text(&output.stderr).contains(answer), "{arguments:?}: {}", text(&output.stderr));
    }
}

/// Wherever seasons are played, a mower that does not fit through the open door is said first; of a sweep also at how many places.
#[test]
fn a_door_too_small_is_said_wherever_seasons_are_played() {
    let folder = scratch("small");
    let scenarios = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut scenario: toml::Table = fs::read_to_string(scenarios.join("hillside.toml")).unwrap().parse().unwrap();
    let visitors = scenarios.join("parts/visitors.toml").display().to_string();
    scenario["include"] = vec![visitors].into();
    scenario["season"]["to"] = "2025-04-04".parse::<toml::value::Datetime>().unwrap().into();
    let leaf = |deg: u32| {
        let keys = format!(
            "kind = \"side leaf\"\nhinge_span = \"0.3 m\"\nopen_angle = \"{deg} deg\"\nopens = \"outwards\"\nrod_frame_out = \"-300 mm\"\n\
             rod_frame_along = \"200 mm\"\nrod_panel_along = \"130 mm\"\nrod_panel_behind = \"20 mm\""
        );
        toml::Value::Table(keys.parse().unwrap())
    };
    for (name, deg) in [("small", 30), ("wide", 90)] {
        scenario["door"]["mechanism"] = leaf(deg);
        scenario.insert("name".into(), name.into());
        fs::write(folder.join(format!("{name}.toml")), scenario.to_string()).unwrap();
    }
    let near = ["--over", "detector.near.on=1 m..3 m", "--strategy", "ranger"];
    let commands: [(&str, Vec<&str>); 9] = [
        ("run", vec!["--seasons", "2"]),
        ("compare", vec!["--seasons", "2"]),
        ("lifetime", vec!["--seasons", "2"]),
        ("misses", vec!["--seasons", "1", "--draws", "100"]),
        ("what-if", vec!["--seasons", "2", "--failure", "wind-on-door"]),
        ("day", vec!["--season", "0", "--date", "2025-04-02", "--out", "day"]),
        ("tune", [&near[..], &["--plays", "20", "--confirm", "10"]].concat()),
        ("sweep", [&near[..], &["--seasons", "2"]].concat()),
        ("sensitivity", [&near[..], &["--base", "8", "--trajectories", "2", "--seasons", "1"]].concat()),
    ];
    let says = |name: &str, command: &str, more: &[&str]| {
        let file = format!("{name}.toml");
        let output = dooryard(&folder, &[&[command, &file, "-q"], more].concat()).output().unwrap();
        let all = text(&output.stdout) + &text(&output.stderr);
        assert!(matches!(output.status.code(), Some(0 | 1)), "{command}: {all}");
        all.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let words = "it can neither leave nor come home";
    for (command, more) in &commands {
        assert!(says("small", command, more).contains(words), "{command}");
        assert!(!says("wide", command, more).contains(words), "{command}");
    }
    let swept = ["--over", "door.mechanism.open_angle=30 deg..90 deg:3", "--seasons", "2"];
    assert!(says("wide", "sweep", &swept).contains("at 2 of 3 places the open door is too small"));
}
