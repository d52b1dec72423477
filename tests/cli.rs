//! The command line as its users meet it.

mod report_support;

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use dooryard::cli::clock::Clock;
use dooryard::cli::exit::Exit;
use dooryard::cli::run::deliver;
use dooryard::math::time::{Instant, Span};
use dooryard::study::result::Verdict;
use report_support::{context, result, settings};

fn dooryard(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("dooryard").unwrap();
    command.args(arguments);
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn scratch(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("cli").join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

#[test]
fn help_names_the_commands_and_exit_codes() {
    let output = dooryard(&["--help"]).assert().code(0).get_output().clone();
    let help = text(&output.stdout);
    for word in ["run", "new", "schema", "Exit codes: 0 fine"] {
        assert!(help.contains(word), "help lacks `{word}`:\n{help}");
    }
    assert!(output.stderr.is_empty());
}

#[test]
fn help_of_run_names_every_option_and_its_default() {
    let output = dooryard(&["run", "--help"]).assert().code(0).get_output().clone();
    let help = text(&output.stdout);
    let options = ["--seasons", "--seed", "--strategy", "--threads", "--out", "--events", "--quiet", "--json"];
    for word in
        options.iter().chain(&["--sampling", "--first-season", "--confidence", "[default: 200]", "slow reference"])
    {
        assert!(help.contains(word), "help lacks `{word}`:\n{help}");
    }
}

#[test]
fn the_version_is_that_of_the_package() {
    dooryard(&["--version"]).assert().code(0).stdout(format!("dooryard {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn mistakes_on_the_command_line_end_with_2() {
    for (arguments, hint) in [
        (&["runn"][..], "'run'"),
        (&["run", "x.toml", "--sesons", "3"], "--seasons"),
        (&["run", "x.toml", "--seasons", "0"], "0 is not in 1.."),
        (&["run", "x.toml", "--confidence", "95"], "0.95"),
        (&["run", "x.toml", "--threads", "0"], "0 is not in 1.."),
        (&["run", "x.toml", "--sampling", "some"], "exact"),
        (&["run"], "<SCENARIO>"),
        (&[], "Usage"),
    ] {
        let output = dooryard(arguments).assert().code(2).get_output().clone();
        assert!(output.stdout.is_empty(), "{arguments:?}");
        assert!(text(&output.stderr).contains(hint), "{arguments:?}: {}", text(&output.stderr));
    }
}

#[test]
fn a_missing_scenario_ends_with_2_and_one_error() {
    let output = dooryard(&["run", "no-such-file.toml"]).assert().code(2).get_output().clone();
    assert!(output.stdout.is_empty());
    let error = text(&output.stderr);
    assert!(error.contains("no-such-file.toml") && error.matches("error:").count() == 1, "{error}");
}

#[test]
fn a_name_that_no_scenario_can_have_is_refused_before_anything_is_written() {
    let folder = scratch("name");
    let output = dooryard(&["new", "my hedge"]).current_dir(&folder).assert().code(2).get_output().clone();
    assert!(text(&output.stderr).contains("my hedge"));
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
}

#[test]
fn the_verdict_decides_the_exit_code() {
    let folder = scratch("verdict");
    let settings = settings();
    let mut met = result(&["radar"], 5);
    let exit = |result: &_, name: &str| deliver(result, &context(&settings), &folder.join(name), false).unwrap().0;
    met.strategies[0].risks[0].verdict = Verdict::Met;
    assert_eq!(exit(&met, "met"), Exit::Fine);
    met.strategies[0].risks[0].verdict = Verdict::NotMet;
    assert_eq!(exit(&met, "risk"), Exit::FallsShort);
    met.strategies[0].risks[0].verdict = Verdict::Met;
    met.strategies[0].limits[0].verdict = Verdict::Undecided { more_seasons: None };
    assert_eq!(exit(&met, "open"), Exit::FallsShort);
    met.strategies[0].limits[0].verdict = Verdict::NotMet;
    assert_eq!(exit(&met, "not"), Exit::FallsShort);
    met.strategies[0].limits.clear();
    assert_eq!(exit(&met, "none"), Exit::Fine);
}

#[test]
fn an_interrupted_run_leaves_earlier_results_alone() {
    let target = scratch("interrupted").join("hedge");
    let settings = settings();
    let complete = result(&["radar"], 5);
    deliver(&complete, &context(&settings), &target, false).unwrap();
    let before = fs::read(target.join("seasons.csv")).unwrap();
    let mut partial = result(&["radar"], 3);
    partial.seasons_asked = 1_000;
    let (exit, report) = deliver(&partial, &context(&settings), &target, false).unwrap();
    assert_eq!(exit, Exit::Interrupted);
    assert!(report.contains("incomplete: 3 of 1000 seasons"));
    assert_eq!(fs::read(target.join("seasons.csv")).unwrap(), before);
}

#[test]
fn json_is_all_there_is_on_standard_output() {
    let target = scratch("json").join("hedge");
    let (_, report) = deliver(&result(&["radar"], 5), &context(&settings()), &target, true).unwrap();
    let document: serde_json::Value = serde_json::from_str(&report).unwrap();
    assert_eq!(document["layout"], "dooryard-run/1");
}

#[test]
fn an_output_folder_that_cannot_be_made_is_named_with_the_reason() {
    let folder = scratch("blocked");
    fs::write(folder.join("file"), "in the way").unwrap();
    let target = folder.join("file/hedge");
    let failure = deliver(&result(&["radar"], 2), &context(&settings()), &target, false).unwrap_err().to_string();
    assert!(failure.contains("file") && failure.contains("os error"), "{failure}");
}

/// Expected times: the rules of the European Union's summer time (Directive 2000/84/EC): at 01:00 UTC on the last
/// Sunday of March clocks go from 02:00 to 03:00 in Central European Time.
#[test]
fn events_are_told_in_local_time() {
    let mut scenario = result(&[], 0).scenario;
    scenario.calendar.first_day = jiff::civil::date(2025, 3, 30);
    let clock = Clock::new(&scenario).unwrap();
    assert_eq!(clock.text(Instant::START), "2025-03-30T00:00:00.000+01:00");
    let hours = |count: i64| Instant(count * Span::HOUR.0 + 250_000);
    assert_eq!(clock.text(hours(1)), "2025-03-30T01:00:00.250+01:00");
    assert_eq!(clock.text(hours(2)), "2025-03-30T03:00:00.250+02:00");
    scenario.site.time_zone = "Nowhere/Land".to_string();
    assert!(Clock::new(&scenario).is_err());
}
