//! Reports of an invented result.

mod page_support;
mod report_support;

use dooryard::ledger::blame::Blamed;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::{fs, io};

use dooryard::ledger::metric::{KEYS, Key};
use dooryard::report::folder::{self, FolderError, Item};
use dooryard::report::plots::{self, Figure};
use dooryard::report::text::Setting;
use dooryard::report::{csv, json, output, run_file, text};
use dooryard::study::result::RunResult;
use report_support::{context, result, settings};

const PAIR: [&str; 2] = ["radar and beam", "beam only"];

/// Compares with a stored text; `UPDATE_SNAPSHOTS=1 cargo test --test report` stores it anew.
fn snapshot(name: &str, actual: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots").join(name);
    if std::env::var_os("UPDATE_SNAPSHOTS").is_some() {
        fs::write(&path, actual).unwrap();
    }
    let expected = fs::read_to_string(&path).unwrap_or_default();
    assert!(expected == actual, "`{}` differs; now it is:\n{actual}", path.display());
}

/// All files of the output folder, by name.
fn files(result: &RunResult) -> BTreeMap<String, Vec<u8>> {
    let settings = settings();
    let context = context(&settings);
    let figures = plots::all(result).unwrap();
    let items = output::items(result, &context, &figures);
    let write = |item: Item| {
        let mut bytes = Vec::new();
        (item.write)(&mut bytes).unwrap();
        (item.name, bytes)
    };
    items.into_iter().map(write).collect()
}

fn rows(bytes: &[u8]) -> Vec<BTreeMap<String, String>> {
    ::csv::Reader::from_reader(bytes).deserialize().collect::<Result<_, _>>().unwrap()
}

/// Reads back a figure that may be withheld.
fn figure(text: &str) -> Option<f64> {
    (!text.is_empty()).then(|| text.parse().unwrap())
}

#[test]
fn the_text_of_two_strategies() {
    let text = text::report(&result(&PAIR, 200), &context(&settings()), Setting::default());
    assert!(text.lines().all(|line| line.chars().count() <= 80), "a line is wider than 80 columns");
    assert!(text.lines().all(|line| line.trim_end() == line), "a line ends in spaces");
    snapshot("two-strategies.txt", &text);
}

#[test]
fn the_text_of_an_interrupted_run_of_four_strategies() {
    let mut result = result(&["status", "radar", "radar and beam", "a very long name of a strategy"], 12);
    result.seasons_asked = 1_000;
    result.warnings =
        vec!["the sensor `radar` sees the mower's waiting point only at the edge of its cone".to_string()];
    let text = text::report(&result, &context(&settings()), Setting::default());
    assert!(text.contains("incomplete: 12 of 1000 seasons"));
    assert!(text.lines().all(|line| line.chars().count() <= 80), "a line is wider than 80 columns");
    snapshot("interrupted.txt", &text);
}

#[test]
fn the_text_of_one_season_withholds_what_one_season_cannot_say() {
    let text = text::report(&result(&["radar"], 1), &context(&settings()), Setting { width: 100, plain: false });
    assert!(text.contains("1 season (number 0), "));
    snapshot("one-season.txt", &text);
}

#[test]
fn metrics_read_back_exactly() {
    let result = result(&PAIR, 30);
    let mut bytes = Vec::new();
    csv::metrics(&result, &mut bytes).unwrap();
    let rows = rows(&bytes);
    let estimates: Vec<_> =
        result.strategies.iter().flat_map(|strategy| strategy.estimates.iter().map(move |it| (strategy, it))).collect();
    assert_eq!(rows.len(), estimates.len());
    for (row, (strategy, estimate)) in rows.iter().zip(estimates) {
        assert_eq!(row["strategy"], strategy.name);
        assert_eq!(row["metric"], estimate.key.metric().key);
        assert_eq!(figure(&row["mean"]), Some(estimate.mean));
        assert_eq!(figure(&row["low"]), estimate.interval.map(|it| it.low));
        assert_eq!(figure(&row["high"]), estimate.interval.map(|it| it.high));
        assert_eq!(figure(&row["spread"]), estimate.spread);
        assert_eq!(figure(&row["q95"]), estimate.quantiles[2]);
        assert_eq!(figure(&row["max"]), Some(estimate.range.1));
    }
}

#[test]
fn withheld_figures_are_empty_fields() {
    let files = files(&result(&["radar"], 1));
    for row in rows(&files["metrics.csv"]) {
        for column in ["low", "high", "confidence", "method", "spread", "q05", "q95"] {
            assert_eq!(row[column], "", "{column} of {}", row["metric"]);
        }
    }
}

#[test]
fn seasons_and_days_read_back_exactly() {
    let result = result(&PAIR, 5);
    let files = files(&result);
    let seasons = rows(&files["seasons.csv"]);
    let records: Vec<_> = result.strategies.iter().flat_map(|strategy| &strategy.seasons).collect();
    assert_eq!(seasons.len(), records.len());
    for (row, record) in seasons.iter().zip(&records) {
        assert_eq!(row["season"], record.season.to_string());
        assert_eq!(figure(&row["wait_total_min"]), Some(record.value(Key::WaitTotal)));
        assert_eq!(figure(&row["duty_worst_percent"]), Some(record.value(Key::DutyWorst)));
        assert_eq!(figure(&row["missed_arrivals"]), Some(record.value(Key::MissedArrivals)));
        let cat = &row["false_openings_by_cat \"Tom\" & <friends>, all"];
        assert_eq!(*cat, record.by_cause[Blamed::FalseOpenings][2].to_string());
        assert_eq!(row["contacts_by_the mower pushes the door"], record.by_cause[Blamed::Contacts][0].to_string());
        assert_eq!(row["missed_departures_by_no power"], record.by_cause[Blamed::MissedDepartures][0].to_string());
        assert_eq!(row.len(), 2 + KEYS.len() + record.by_cause.iter().map(Vec::len).sum::<usize>());
    }
    let days = rows(&files["days.csv"]);
    assert_eq!(days.len(), records.iter().map(|record| record.days.len()).sum::<usize>());
    for (row, day) in days.iter().zip(records.iter().flat_map(|record| &record.days)) {
        assert_eq!(figure(&row["rain_mm"]), Some(day.rain_mm));
        assert_eq!(figure(&row["wait_s"]), Some(day.wait_s));
        assert_eq!(row["false_openings"], day.false_openings.to_string());
    }
    assert_eq!((days[0]["date"].as_str(), days[213]["date"].as_str()), ("2025-04-01", "2025-10-31"));
}

#[test]
fn events_carry_their_time() {
    let files = files(&result(&["radar"], 2));
    let events = rows(&files["events.csv"]);
    assert_eq!(events.len(), 2);
    assert_eq!(events[1]["time"], "2025-04-01T00:00:12+02:00");
    assert_eq!(events[1]["detail"], "asked for by \"radar\", twice");
}

#[test]
fn events_are_left_out_when_none_were_recorded() {
    let mut result = result(&["radar"], 2);
    result.strategies[0].seasons[0].events.clear();
    assert!(!files(&result).contains_key("events.csv"));
}

/// Equal but for the last bit: the JSON reader used here trades it for speed.
fn same(read: &serde_json::Value, written: Option<f64>) -> bool {
    match (read.as_f64(), written) {
        (Some(read), Some(written)) => (read - written).abs() <= 2.0 * f64::EPSILON * written.abs(),
        (read, written) => read == written,
    }
}

#[test]
fn the_document_holds_the_same_figures() {
    let mut result = result(&PAIR, 30);
    result.seed = u64::MAX;
    let document: serde_json::Value =
        serde_json::from_str(&json::document(&result, &context(&settings())).unwrap()).unwrap();
    assert_eq!(document["layout"], "dooryard-run/1");
    assert_eq!(document["seed"], u64::MAX.to_string());
    assert_eq!(document["complete"], true);
    assert_eq!(document["all_limits_met"], false);
    for (strategy, part) in result.strategies.iter().zip(document["strategies"].as_array().unwrap()) {
        for (estimate, row) in strategy.estimates.iter().zip(part["metrics"].as_array().unwrap()) {
            assert_eq!(row["metric"], estimate.key.metric().key);
            assert!(same(&row["mean"], Some(estimate.mean)), "{row}");
            assert!(same(&row["interval"]["high"], estimate.interval.map(|it| it.high)), "{row}");
            assert!(same(&row["quantiles"]["q05"], estimate.quantiles[0]), "{row}");
        }
        assert_eq!(part["waits"]["q95_s"].as_f64(), strategy.waits.quantile(0.95));
    }
    assert_eq!(document["strategies"][1]["limits"][2]["more_seasons"], 337);
}

#[test]
fn withheld_figures_are_null_in_the_document() {
    let text = json::document(&result(&["radar"], 1), &context(&settings())).unwrap();
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let row = &document["strategies"][0]["metrics"][0];
    assert!(row["interval"].is_null() && row["spread"].is_null() && row["quantiles"]["q05"].is_null());
}

#[test]
fn the_page_holds_the_figures_of_the_tables() {
    let files = files(&result(&PAIR, 30));
    let text = String::from_utf8(files["report.html"].clone()).unwrap();
    let page = page_support::parse(&text);
    page_support::assert_sound(&page);
    let compared = page_support::assert_values_of_files(&page, &|name| files.get(name).cloned());
    // Every metric of both strategies with nine figures, and more.
    assert!(compared > 2 * KEYS.len() * 9, "only {compared} values");
    assert!(text.contains("cat &quot;Tom&quot; &amp; &lt;friends&gt;, all"), "text is escaped");
    assert!(page.text.contains("cat \"Tom\" & <friends>, all"));
    assert_eq!(page.named("svg").len(), 7);
    assert!(
        text.matches("http").count() == text.matches("http://www.w3.org").count() + text.matches("http-equiv").count()
    );
}

/// What happens more often makes no longer page: it has the same tables and drawings for any number of seasons.
#[test]
fn the_page_does_not_grow_with_the_seasons() {
    let size = |seasons| files(&result(&PAIR, seasons))["report.html"].len();
    let (few, many) = (size(60), size(1_000));
    assert!(many < few + few / 5, "{few} bytes of 60 seasons, {many} of 1,000");
    assert!(many < 3_000_000);
}

#[test]
fn the_pages_of_odd_results_are_sound() {
    for (name, result) in odd_results() {
        let files = files(&result);
        let page = page_support::parse(std::str::from_utf8(&files["report.html"]).unwrap());
        page_support::assert_sound(&page);
        let compared = page_support::assert_values_of_files(&page, &|name| files.get(name).cloned());
        assert!(compared > 0 || name == "nobody", "{name}");
    }
}

/// Every start tag has its end tag, in order; enough of XML for what the drawings use.
fn assert_well_formed(xml: &str, name: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = xml;
    while let Some(start) = rest.find('<') {
        assert!(!rest[..start].contains('>'), "{name}: a bare > in text");
        let end = start + rest[start..].find('>').unwrap_or_else(|| panic!("{name}: a tag without end"));
        let tag = &rest[start + 1..end];
        assert!(!tag.contains('<'), "{name}: `<` inside the tag `{tag}`");
        assert_eq!(tag.matches('"').count() % 2, 0, "{name}: an attribute without end in `{tag}`");
        if let Some(closed) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(closed), "{name}: tags don't nest");
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().unwrap());
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "{name}: {open:?} stay open");
    for entity in xml.split('&').skip(1) {
        assert!(
            ["amp;", "lt;", "gt;", "quot;", "apos;", "#39;"].iter().any(|known| entity.starts_with(known)),
            "{name}"
        );
    }
}

/// Every number in an attribute of a drawing is a number, and every point lies on the sheet.
fn assert_on_the_sheet(figure: &Figure) {
    let svg = &figure.svg;
    for bad in ["NaN", "nan", "inf", "Infinity", "-2147483648", "2147483647"] {
        assert!(!svg.contains(bad), "{} contains {bad}", figure.name);
    }
    let attribute = |tag: &str, name: &str| -> Option<f64> {
        tag.split_once(&format!(" {name}=\""))?.1.split('"').next()?.parse().ok()
    };
    let (width, height) = (attribute(svg, "width").unwrap(), attribute(svg, "height").unwrap());
    for tag in svg.split('<') {
        for (name, most) in [("x", width), ("y", height), ("x1", width), ("y1", height), ("x2", width), ("y2", height)]
        {
            if let Some(value) = attribute(tag, name) {
                assert!((-1.0..=most + 1.0).contains(&value), "{}: {name} = {value} of {most}: {tag}", figure.name);
            }
        }
    }
}

/// Results that drawings easily get wrong.
fn odd_results() -> Vec<(&'static str, RunResult)> {
    let mut no_season = result(&PAIR, 0);
    no_season.seasons_asked = 10;
    let mut constant = result(&["radar"], 8);
    for season in &mut constant.strategies[0].seasons {
        season.values.fill(3.25);
        season.values[Key::MissedArrivals as usize] = 0.0;
    }
    let mut short = result(&["radar"], 3);
    short.scenario.calendar.last_day = short.scenario.calendar.first_day;
    for season in &mut short.strategies[0].seasons {
        season.days.truncate(1);
    }
    let many: Vec<String> = (0..9).map(|index| format!("strategy {index} with a long & <odd> name")).collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    vec![
        ("pair", result(&PAIR, 200)),
        ("single", result(&["radar"], 1)),
        ("none", no_season),
        ("nobody", result(&[], 0)),
        ("constant", constant),
        ("short", short),
        ("many", result(&many, 20)),
    ]
}

#[test]
fn drawings_are_well_formed_and_without_missing_numbers() {
    for (name, result) in odd_results() {
        for figure in plots::all(&result).unwrap() {
            assert_well_formed(&figure.svg, &format!("{name}/{}", figure.name));
            assert_on_the_sheet(&figure);
            assert!(figure.svg.contains("<title>"), "{} names itself", figure.name);
        }
    }
}

#[test]
fn drawings_count_every_season_and_every_stroke() {
    let result = result(&PAIR, 50);
    let files = files(&result);
    let sum = |rows: &[BTreeMap<String, String>], column: &str, keep: &dyn Fn(&BTreeMap<String, String>) -> bool| {
        rows.iter().filter(|row| keep(row)).map(|row| row[column].parse::<u64>().unwrap()).sum::<u64>()
    };
    let distribution = rows(&files["distribution.csv"]);
    for metric in ["missed_arrivals", "wait_total", "door_cycles", "duty_worst"] {
        assert_eq!(sum(&distribution, "seasons", &|row| row["metric"] == metric), 2 * 50, "{metric}");
    }
    let strokes = rows(&files["strokes.csv"]);
    let first = &result.strategies[0];
    let counted = sum(&strokes, "strokes", &|row| row["strategy"] == PAIR[0] && row["stroke"] == "opening");
    assert_eq!(counted, first.opening_strokes.total());
    let waits = rows(&files["waits.csv"]);
    assert_eq!(sum(&waits, "arrivals", &|row| row["strategy"] == PAIR[0]), first.waits.total());
    assert_eq!(waits.last().unwrap()["share_longer"], "0");
    assert_eq!(rows(&files["calendar.csv"]).len(), 214);
}

#[test]
fn the_same_result_gives_the_same_bytes() {
    assert_eq!(files(&result(&PAIR, 20)), files(&result(&PAIR, 20)));
}

#[test]
fn the_run_file_lists_all_files_and_keeps_the_scenario() {
    let files = files(&result(&PAIR, 3));
    let text = String::from_utf8(files["run.toml"].clone()).unwrap();
    let mut listed = run_file::written(&text).unwrap().1;
    listed.sort();
    assert_eq!(listed, files.keys().cloned().collect::<Vec<_>>());
    let table: toml::Table = text.parse().unwrap();
    assert_eq!(table["resolved"]["scenario"].as_str(), Some(context(&[]).resolved_scenario));
    assert_eq!(table["settings"]["sampling"].as_str(), Some("exact"));
    assert!(!table.contains_key("threads"));
}

/// A fresh folder that a test may fill; kept after the test.
fn scratch(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("report").join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// A minimal folder as this program writes it.
fn items(word: &'static str) -> Vec<Item<'static>> {
    vec![
        Item::new("word.txt", move |out| out.write_all(word.as_bytes())),
        Item::new("run.toml", |out| {
            out.write_all(b"layout = \"dooryard-output/1\"\nfiles = [\"word.txt\", \"run.toml\"]\n")
        }),
    ]
}

#[test]
fn a_whole_run_is_written_and_replaced() {
    let parent = scratch("whole");
    let target = parent.join("deep/hedge");
    for (name, result) in odd_results() {
        let settings = settings();
        output::write(&parent.join(name), &result, &context(&settings)).unwrap();
    }
    for seasons in [3, 4] {
        output::write(&target, &result(&PAIR, seasons), &context(&settings())).unwrap();
        assert_eq!(rows(&fs::read(target.join("seasons.csv")).unwrap()).len() as u64, 2 * seasons);
        assert_eq!(names(&parent.join("deep")), ["hedge"], "nothing is left beside the folder");
    }
    assert_eq!(names(&target).len(), 28);
}

#[test]
fn a_failure_leaves_the_old_folder_alone() {
    let parent = scratch("failure");
    let target = parent.join("hedge");
    folder::write(&target, "run", items("old")).unwrap();
    let mut broken = items("new");
    broken.push(Item::new("late.csv", |out| {
        out.write_all(b"half of it")?;
        Err(io::Error::new(io::ErrorKind::StorageFull, "no space left on device"))
    }));
    let error = folder::write(&target, "run", broken).unwrap_err().to_string();
    assert!(error.contains("late.csv") && error.contains("no space left on device"), "{error}");
    assert!(!error.contains(".dooryard-"), "the temporary folder is no business of the user's: {error}");
    assert_eq!(fs::read_to_string(target.join("word.txt")).unwrap(), "old");
    assert_eq!(names(&parent), ["hedge"], "the temporary folder is gone");
    assert_eq!(names(&target), ["run.toml", "word.txt"]);
}

#[test]
fn a_folder_of_somebody_else_is_refused() {
    let parent = scratch("foreign");
    let target = parent.join("photos");
    fs::create_dir(&target).unwrap();
    folder::check(&target, "run").unwrap();
    fs::write(target.join("cat.jpg"), "meow").unwrap();
    for outcome in [folder::check(&target, "run"), folder::write(&target, "run", items("new"))] {
        assert!(matches!(&outcome, Err(FolderError::Foreign { what, .. }) if what == "`cat.jpg`"), "{outcome:?}");
    }
    // Another program's run.toml doesn't make it ours.
    fs::write(target.join("run.toml"), "files = [\"cat.jpg\", \"run.toml\"]").unwrap();
    assert!(matches!(folder::check(&target, "run"), Err(FolderError::Foreign { .. })));
    assert_eq!(names(&target), ["cat.jpg", "run.toml"]);
}

#[test]
fn a_folder_of_ours_with_something_added_is_refused() {
    let target = scratch("added").join("hedge");
    folder::write(&target, "run", items("old")).unwrap();
    fs::write(target.join("notes.txt"), "mine").unwrap();
    let error = folder::write(&target, "run", items("new")).unwrap_err().to_string();
    assert!(error.contains("notes.txt"), "{error}");
    assert_eq!(fs::read_to_string(target.join("notes.txt")).unwrap(), "mine");
}

/// What one command wrote no other one replaces; the message names the command, the folder and what is in it.
#[test]
fn a_folder_of_another_command_is_refused() {
    let target = scratch("commands").join("hedge");
    let plain = |command: &str| {
        folder::write_plain(&target, command, "0", vec![Item::new("word.txt", |out| out.write_all(b"new"))])
    };
    folder::write(&target, "run", items("old")).unwrap();
    for error in [folder::check(&target, "check").unwrap_err(), plain("check").unwrap_err()] {
        let said = error.to_string();
        assert!(matches!(&error, FolderError::Other { by, .. } if by == "run"), "{said}");
        assert!(["hedge", "`dooryard run`", "`run.toml`"].iter().all(|part| said.contains(part)), "{said}");
    }
    assert_eq!(fs::read_to_string(target.join("word.txt")).unwrap(), "old");
    fs::remove_dir_all(&target).unwrap();
    plain("check").unwrap();
    plain("check").unwrap();
    assert!(matches!(plain("lifetime"), Err(FolderError::Other { by, .. }) if by == "check"));
    assert!(matches!(folder::write(&target, "run", items("old")), Err(FolderError::Other { .. })));
    fs::write(target.join("cat.jpg"), "meow").unwrap();
    assert!(matches!(plain("check"), Err(FolderError::Foreign { what, .. }) if what == "`cat.jpg`"));
    assert_eq!(fs::read_to_string(target.join("word.txt")).unwrap(), "new");
}

#[test]
fn a_file_in_the_way_is_named() {
    let parent = scratch("file");
    fs::write(parent.join("hedge"), "a file").unwrap();
    assert!(matches!(folder::check(&parent.join("hedge"), "run"), Err(FolderError::NotAFolder { .. })));
    let error = folder::check(&parent.join("hedge/deeper"), "run").unwrap_err().to_string();
    assert!(error.contains("hedge"), "{error}");
}

#[cfg(unix)]
#[test]
fn the_folder_is_readable_like_any_other() {
    use std::os::unix::fs::PermissionsExt;
    let parent = scratch("permissions");
    fs::create_dir(parent.join("plain")).unwrap();
    folder::write(&parent.join("hedge"), "run", items("new")).unwrap();
    let mode = |name: &str| fs::metadata(parent.join(name)).unwrap().permissions().mode();
    assert_eq!(mode("hedge"), mode("plain"));
}
