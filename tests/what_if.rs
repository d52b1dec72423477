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

/// Differences carry their units, what costs nothing by the objective is told where it rises, and who is not played is named.
#[test]
fn units_what_harm_leaves_out_and_who_is_not_played() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("own.toml");
    let hillside = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::write(
        &path,
        format!(
            "include = [{hillside:?}]\n[[failure]]\nmode = \"departure-undetected\"\nshare = 0.5\n\
             [[failure]]\nmode = \"manual-left-on\"\nrate = \"200 /yr\"\n[[failure]]\nmode = \"lost-position\"\nrate = \"0 /yr\"\n\
             [[failure]]\nmode = \"dew-on-window\"\n[[failure]]\nmode = \"dark-mower-shell\"\n"
        ),
    )
    .expect("written");
    let out = folder.path().join("out");
    let mut command = Command::cargo_bin("dooryard").expect("built");
    command.arg("what-if").arg(&path).args(["--strategy", "status", "--quiet", "--seasons", "6", "--out"]).arg(&out);
    command.assert().success();
    let text = std::fs::read_to_string(out.join("summary.txt")).expect("a summary");
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ").replace('\u{a0}', " ");
    let after = |start: &str| {
        let from = text.find(start).unwrap_or_else(|| panic!("{start}: {text}"));
        text[from..].chars().take(200).collect::<String>()
    };
    let manual = after("in manual +");
    assert!(manual.split_whitespace().nth(3) == Some("h"), "{manual}");
    // The hillside's objective has no cost of a contact or a missed departure.
    let uncounted = after("Harm does not count");
    assert!(uncounted.contains("contacts (by 1 failure, most by departure-undetected: +"), "{uncounted}");
    assert!(after("lost-position (29)").contains("status: nothing in any of these seasons."));
    assert!(after("Not played").contains("hit by them: dew-on-window, dark-mower-shell."));
    let json = std::fs::read_to_string(out.join("what-if.json")).expect("a document");
    let document: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(document["left_out"], serde_json::json!(["dew-on-window", "dark-mower-shell"]));
    assert!(document["uncounted"].as_array().is_some_and(|all| all.iter().any(|one| one["metric"] == "contacts")));
}

/// A mode that has nothing to hit is told from one that does not exist, and both messages say what there is.
#[test]
fn a_failure_with_nothing_to_hit_is_told_apart() {
    let folder = tempfile::tempdir().expect("a folder");
    let said = |name: &str| {
        let failed = what_if(&folder.path().join("none"), &["--failure", name]).code(2);
        String::from_utf8_lossy(&failed.get_output().stderr).into_owned()
    };
    let idle = said("dew-on-window");
    assert!(idle.contains("`dew-on-window` has nothing to hit in this scenario"), "{idle}");
    assert!(idle.contains("what can be played: ") && idle.contains("spider-web"), "{idle}");
    assert!(said("xyz").contains("there is no failure `xyz` here"));
}
