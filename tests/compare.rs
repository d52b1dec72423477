//! Comparisons and merged parts, as their users meet them.

mod short_support;

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;

/// A folder with the short scenario.
fn scratch(name: &str) -> PathBuf {
    short_support::scratch("compare", name, "2025-04-05")
}

fn dooryard(folder: &Path, arguments: &str) -> Command {
    let mut command = Command::cargo_bin("dooryard").unwrap();
    command.current_dir(folder).args(arguments.split(' '));
    command
}

fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read(path).unwrap()))
        .collect();
    files.sort();
    assert!(!files.is_empty());
    files
}

/// Seven parts merge into the bytes of the single study, whatever their order.
#[test]
fn merged_parts_equal_the_single_study() {
    let folder = scratch("merge");
    for (command, parts) in [
        ("run short.toml --seasons 23 --events", "output/short-parts"),
        ("compare short.toml --seasons 90 --indifference 3", "output/short-compare-parts"),
        ("sweep short.toml --seasons 16 --over mower.approach.speed=0.3..0.4m/s:3", "output/short-sweep-parts"),
        (
            "what-if short.toml --seasons 9 --failure network-outage --failure hunting --strategy status",
            "output/short-what-if-parts",
        ),
    ] {
        let single = dooryard(&folder, &format!("{command} -q --out single")).output().unwrap();
        let mut merge = dooryard(&folder, "merge --out merged");
        for part in [3, 1, 7, 2, 5, 4, 6] {
            dooryard(&folder, &format!("{command} -q --threads 1 --part {part}/7")).assert().code(0);
            merge.arg(folder.join(parts).join(format!("part-{part}-of-7.jsonl")));
        }
        let merged = merge.output().unwrap();
        assert_eq!(merged.status.code(), single.status.code(), "{}", String::from_utf8_lossy(&merged.stderr));
        assert_eq!(merged.stdout, single.stdout);
        assert!(!single.stdout.is_empty());
        assert_eq!(files(&folder.join("merged")), files(&folder.join("single")), "{command}");
    }
}

#[test]
fn parts_that_do_not_belong_together_are_refused() {
    let folder = scratch("refuse");
    let part = |part: &str, seed: u64, out: &str| {
        let line = format!("run short.toml -q --seasons 4 --seed {seed} --part {part} --out {out}");
        dooryard(&folder, &line).assert().code(0);
        folder.join(out).join(format!("part-{}.jsonl", part.replace('/', "-of-")))
    };
    let (one, two, other) = (part("1/2", 1, "a"), part("2/2", 1, "a"), part("2/2", 9, "b"));
    let refused = |paths: &[&PathBuf], why: &str| {
        let mut merge = dooryard(&folder, "merge --out merged");
        let output = merge.args(paths).output().unwrap();
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{error}");
        assert!(error.contains(why), "{error}");
        assert!(!folder.join("merged").exists());
    };
    refused(&[&one, &other], "--seed 9");
    refused(&[&one], "don't hold the seasons");
    refused(&[&two], "don't hold the seasons");
    refused(&[&one, &one, &two], "doubled");
    let damaged = folder.join("damaged.jsonl");
    fs::write(&damaged, fs::read_to_string(&two).unwrap().replacen(":0,", ":1,", 1)).unwrap();
    refused(&[&one, &damaged], "damaged");
    fs::write(&damaged, "").unwrap();
    refused(&[&one, &damaged], "damaged");
    // A scenario that was changed after its parts were played.
    let scenario = folder.join("short.toml");
    fs::write(&scenario, fs::read_to_string(&scenario).unwrap() + "\n# changed\n").unwrap();
    refused(&[&one, &two], "has changed since");
}

#[test]
fn a_comparison_names_the_best_and_what_it_rests_on() {
    let folder = scratch("answer");
    let output =
        dooryard(&folder, "compare short.toml -q --seasons 60 --minimise false_openings --indifference 1").output();
    let output = output.unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    for word in ["Answer", "status is best, with 95 % confidence", "Ranking", "status minus ranger", "gain"] {
        assert!(text.contains(word), "no `{word}` in\n{text}");
    }
    let differences = fs::read_to_string(folder.join("output/short-compare/differences.csv")).unwrap();
    assert!(differences.starts_with("contender,minus,metric,unit,seasons,difference,low,high,method,p,p_adjusted"));
    for (arguments, why) in [
        ("compare short.toml --against nobody", "there is no contender `nobody`"),
        ("compare short.toml --minimise false_opnings", "did you mean `false_openings`?"),
        ("compare short.toml --cost strandings", "--cost METRIC=COST"),
        ("compare short.toml --indifference 0", "more than 0"),
        ("compare short.toml --part 3/2", "I from 1 to N"),
    ] {
        let output = dooryard(&folder, arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments}");
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(error.contains(why), "{error}");
    }
}
