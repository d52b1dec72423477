//! `dooryard misses` from the outside.

use std::process::{Command, Output};

fn dooryard(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_dooryard")).args(arguments).output().expect("the program starts")
}

fn document(arguments: &[&str]) -> serde_json::Value {
    let output = dooryard(arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

/// A strategy that counting would call perfect has a chance all the same; one that waits for messages has none to work
/// out; a thread more or less changes nothing.
#[test]
fn chances_beyond_counting() {
    let path = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    let base = ["misses", &path, "--seasons", "2", "--draws", "400", "--quiet", "--json"];
    let one = document(&[&base[..], &["--threads", "1"]].concat());
    assert_eq!(one, document(&[&base[..], &["--threads", "2"]].concat()));
    assert_eq!(one["layout"], "dooryard-misses/1");
    let strategies = one["strategies"].as_array().expect("a list");
    assert_eq!(strategies.len(), 3);
    for strategy in strategies {
        let misses = &strategy["misses"];
        assert_eq!(misses.is_null(), strategy["name"] == "status", "{strategy}");
        if misses.is_null() {
            continue;
        }
        assert!(misses["particles"].is_null(), "{strategy}");
        let chance = misses["chance"]["mean"].as_f64().expect("a number");
        assert!(chance > 0.0 && chance < 1e-3, "{strategy}");
        let each = misses["approaches"].as_f64().unwrap() / misses["seasons"].as_f64().unwrap();
        let season = misses["per_season"]["mean"].as_f64().unwrap();
        assert!((season - each * chance).abs() <= 1e-12 * season, "{strategy}");
        // With three draws in ten made as they come no weight exceeds ten thirds.
        assert!(misses["heaviest_weight"].as_f64().unwrap() <= 10.0 / 3.0 + 1e-9);
    }
    let text = dooryard(&base[..base.len() - 1]);
    let printed = String::from_utf8_lossy(&text.stdout);
    assert!(printed.contains("status: can't be worked out") && printed.contains("effective"), "{printed}");
}

/// A rule that waits is followed by particles, which text, document and table say; a thread more or less changes nothing.
#[test]
fn a_rule_that_waits_is_followed_by_particles() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("patient.toml");
    let hillside = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    let hillside = std::fs::read_to_string(hillside).expect("the scenario");
    let parts = format!("{}/scenarios/parts/", env!("CARGO_MANIFEST_DIR"));
    let patient = hillside.replace("\"parts/", &format!("\"{parts}")).replace(
        r#"open = { any = ["leaving", { all = ["near", { not = "at home" }] }] }"#,
        r#"open = { any = ["leaving", { for = "7 s", of = { any = ["near", { lasting = "1 s", of = "near" }] } }] }"#,
    );
    std::fs::write(&path, patient).expect("written");
    let path = path.to_str().expect("text");
    let out = folder.path().join("out");
    let base = ["misses", path, "--strategy", "ranger", "--seasons", "2", "--draws", "200", "--quiet"];
    let one = document(&[&base[..], &["--json", "--threads", "1"]].concat());
    assert_eq!(one, document(&[&base[..], &["--json", "--threads", "2"]].concat()));
    let misses = &one["strategies"][0]["misses"];
    let [chance, particles] =
        [&misses["chance"]["mean"], &misses["particles"]].map(|it| it.as_f64().expect("a number"));
    assert!(chance > 0.0 && chance < 1.0 && particles == 128.0, "{one}");
    let text = dooryard(&[&base[..], &["--out", out.to_str().expect("text")]].concat());
    let text = String::from_utf8_lossy(&text.stdout).replace('\n', " ");
    assert!(text.contains("for 128 particles"), "{text}");
    let mut table = csv::Reader::from_path(out.join("misses.csv")).expect("a table");
    let column = table.headers().expect("a head").iter().position(|name| name == "particles").expect("a column");
    assert!(table.records().all(|row| &row.expect("a row")[column] == "128"));
}

#[test]
fn an_unknown_strategy_is_named() {
    let path = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    let output = dooryard(&["misses", &path, "--strategy", "rangr"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("did you mean `ranger`?"));
}

/// A ranger whose samples are nearly all late, and sensors lost together every other day: none of it is part of the chances, which is
/// said. A dark shell is, and is not named.
#[test]
fn failures_that_are_left_out_are_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let hillside = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    let warned = |failures: &str| {
        let path = folder.path().join("failing.toml");
        std::fs::write(&path, format!("include = [{hillside:?}]\n{failures}")).expect("written");
        let path = path.display().to_string();
        let told = document(&["misses", &path, "--seasons", "1", "--draws", "100", "--quiet", "--json"]);
        told["warnings"].to_string()
    };
    let said = warned(
        "[[failure]]\nmode = \"missed-deadlines\"\ndropout = 0.9\n[[failure]]\nmode = \"common-cause-loss\"\n\
         [[failure]]\nmode = \"dark-mower-shell\"\n",
    );
    assert!(said.contains("left out") && said.contains("missed-deadlines, common-cause-loss;"), "{said}");
    assert!(!said.contains("dark-mower-shell"), "{said}");
    assert!(!warned("").contains("left out"));
}

/// Where the floor decides, the table says so instead of counting draws that decide nothing.
#[test]
fn the_floor_decides_where_noise_does_not() {
    let path = format!("{}/scenarios/hillside.toml", env!("CARGO_MANIFEST_DIR"));
    let output =
        dooryard(&["misses", &path, "--seasons", "1", "--draws", "100", "--quiet", "--strategy", "ranger", "--plain"]);
    let printed = String::from_utf8_lossy(&output.stdout);
    assert!(printed.contains("the floor decides") && !printed.contains(" 0 of 100"), "{printed}");
}
