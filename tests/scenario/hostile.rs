//! Files that no user would write on purpose: every one ends in a report, none in a panic.

use std::fmt::Write as _;
use std::fs;

use dooryard::scenario::{Problems, starter};
use proptest::prelude::*;

use super::{load_bytes, load_file};

fn refused(bytes: &[u8]) -> Problems {
    load_bytes(bytes).expect_err("a report")
}

fn only_message(bytes: &[u8]) -> String {
    let problems = refused(bytes);
    assert_eq!(problems.list().len(), 1, "{problems}");
    problems.list()[0].message.clone()
}

#[test]
fn an_empty_file_is_called_empty() {
    for text in ["", "\n\n", "# only a comment", "\u{feff}"] {
        let message = only_message(text.as_bytes());
        assert!(message.ends_with("garden.toml\" is empty"), "{message}");
    }
}

#[test]
fn a_file_that_does_not_exist_is_named() {
    let problems = load_file("tests/no such file.toml".as_ref()).expect_err("a report");
    assert_eq!(problems.list()[0].message, "\"tests/no such file.toml\" does not exist");
    assert!(load_file("tests".as_ref()).expect_err("a report").list()[0].message.contains("folder"));
}

#[test]
fn a_huge_file_is_refused_before_it_is_read() {
    let text = format!("# {}\n", "x".repeat(98)).repeat(100_000);
    let message = only_message(text.as_bytes());
    assert!(message.ends_with("is larger than 4 MB; that is no scenario"), "{message}");
}

#[test]
fn bytes_that_are_no_text_are_placed() {
    let message = only_message(b"name = \"garden\"\nabout = \"\xff\xfe\"\n");
    assert!(message.ends_with("is not UTF-8 text: the byte at offset 25 (line 2) cannot be read"), "{message}");
    assert!(only_message(&[0x7f, b'E', b'L', b'F', 0x80]).contains("offset 4"));
}

#[test]
fn bytes_that_are_text_but_no_toml_are_reported() {
    assert!(!refused(&[0; 1000]).is_empty());
    assert!(!refused("\u{202e}\u{0}\u{7f}".as_bytes()).is_empty());
}

/// A condition has at most 128 parts: 127 names in an `any`.
#[test]
fn a_condition_with_too_many_parts_is_refused() {
    let message = |names: usize| {
        let names = vec!["\"near\""; names].join(", ");
        let problems = refused(format!("[[strategy]]\nname = \"a\"\nopen = {{ any = [{names}] }}").as_bytes());
        problems.list().iter().map(|one| one.message.clone()).find(|message| message.contains("parts in one condition"))
    };
    assert_eq!(message(127), None);
    assert!(message(200).is_some_and(|it| it.contains("expected at most 128 parts in one condition, found 201")));
}

#[test]
fn deep_nesting_ends_in_a_report() {
    for (open, close) in [("[", "]"), ("{ not = ", "}"), ("{ any = [", "]}")] {
        let text = format!("[[strategy]]\nopen = {}\"near\"{}", open.repeat(100_000), close.repeat(100_000));
        assert!(!refused(text.as_bytes()).is_empty());
        // As deep as the TOML reader lets through.
        let text = format!("[[strategy]]\nopen = {}\"near\"{}", open.repeat(35), close.repeat(35));
        assert!(!refused(text.as_bytes()).is_empty());
    }
    for text in ["a.".repeat(500_000) + "a = 1", format!("[{}a]", "a.".repeat(500_000))] {
        assert_eq!(only_message(text.as_bytes()), "a key with more than 16 dots");
    }
}

#[test]
fn very_many_mistakes_are_cut_short() {
    let mut text = String::new();
    for number in 0..50_000 {
        let _ = writeln!(text, "unknown{number} = {number}");
    }
    let problems = refused(text.as_bytes());
    assert!(problems.list().len() >= 50_000);
    let report = problems.render(false);
    assert!(report.len() < 100_000 && report.contains("more"), "{}", report.len());
}

#[test]
fn very_long_lists_are_bounded() {
    let mut text = String::new();
    for number in 0..20_000 {
        let _ = write!(
            text,
            "[[detector]]\nname = \"d{number}\"\nsensor = \"x{number}\"\n[[sensor]]\nname = \"s{number}\"\n"
        );
    }
    let problems = refused(text.as_bytes());
    let bounded = problems.list().iter().filter(|problem| problem.message.starts_with("more than 1000 entries"));
    assert_eq!(bounded.count(), 2);
}

#[test]
fn one_very_long_line_is_named_but_not_shown() {
    let text = format!("name = \"{}\"\n", "x".repeat(1_000_000));
    assert!(refused(text.as_bytes()).render(false).len() < 10_000);
}

#[test]
fn a_byte_order_mark_and_carriage_returns_are_read() {
    let text = starter("garden");
    let plain = load_bytes(text.as_bytes()).expect("sound");
    let marked = load_bytes(format!("\u{feff}{}", text.replace('\n', "\r\n")).as_bytes()).expect("sound");
    assert_eq!(plain.scenario, marked.scenario);
    assert_ne!(plain.hash, marked.hash);
    let broken = text.replace("\"0.4 m/s\"", "\"0.4 m\"").replace('\n', "\r\n");
    let report = refused(broken.as_bytes()).render(false);
    assert!(report.contains("garden.toml:") && !report.contains('\r'), "{report}");
}

#[test]
fn strange_numbers_are_refused() {
    for number in
        ["nan", "-inf", "1e308", "0x7fffffffffffffff", "-9223372036854775808", "1_000_000_000_000_000_000_000"]
    {
        let text = starter("garden").replace("wind_factor = 0.5", &format!("wind_factor = {number}"));
        assert_eq!(refused(text.as_bytes()).list().len(), 1, "{number}");
        let text = starter("garden").replace("at_most = 2", &format!("at_most = {number}"));
        assert_eq!(refused(text.as_bytes()).list().len(), 1, "{number}");
    }
}

/// Mutations of the starter: bytes changed, lines taken out, doubled, exchanged.
#[derive(Clone, Debug)]
enum Change {
    Byte(usize, u8),
    Remove(usize),
    Double(usize),
    Exchange(usize, usize),
    Cut(usize),
    Value(usize, String),
}

fn change() -> impl Strategy<Value = Change> {
    let values = prop::sample::select(vec![
        "\"\"",
        "0",
        "-1",
        "1e400",
        "nan",
        "[]",
        "{}",
        "\"0 m\"",
        "\"-1 s\"",
        "true",
        "2025-02-01",
        "[[1]]",
        "\"never\"",
        "{ not = \"near\" }",
        "\"1 of 1\"",
        "12:00:00",
        "\"1e15 m\"",
        "\"°\"",
        "'\u{1f33f}'",
    ]);
    prop_oneof![
        (any::<usize>(), any::<u8>()).prop_map(|(at, byte)| Change::Byte(at, byte)),
        any::<usize>().prop_map(Change::Remove),
        any::<usize>().prop_map(Change::Double),
        (any::<usize>(), any::<usize>()).prop_map(|(a, b)| Change::Exchange(a, b)),
        any::<usize>().prop_map(Change::Cut),
        (any::<usize>(), values).prop_map(|(at, value)| Change::Value(at, value.to_owned())),
    ]
}

fn apply(bytes: &mut Vec<u8>, change: &Change) {
    let mut lines: Vec<Vec<u8>> = bytes.split(|byte| *byte == b'\n').map(<[u8]>::to_vec).collect();
    let count = lines.len();
    match change {
        Change::Byte(at, byte) => {
            let at = at % bytes.len().max(1);
            if let Some(old) = bytes.get_mut(at) {
                *old = *byte;
            }
            return;
        }
        Change::Cut(at) => {
            bytes.truncate(at % (bytes.len() + 1));
            return;
        }
        Change::Remove(line) => {
            lines.remove(line % count);
        }
        Change::Double(line) => lines.insert(line % count, lines[line % count].clone()),
        Change::Exchange(a, b) => lines.swap(a % count, b % count),
        Change::Value(line, value) => {
            // From that line on, the first with a key.
            let keyed = (0..count).map(|step| (line + step) % count).find(|at| lines[*at].contains(&b'='));
            if let Some(at) = keyed {
                let key: Vec<u8> = lines[at].iter().copied().take_while(|byte| *byte != b'=').collect();
                lines[at] = [key.as_slice(), b"= ", value.as_bytes()].concat();
            }
        }
    }
    *bytes = lines.join(&b'\n');
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn no_mutation_of_the_starter_panics(changes in prop::collection::vec(change(), 1..8)) {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("garden.toml");
        let mut bytes = starter("garden").into_bytes();
        changes.iter().for_each(|change| apply(&mut bytes, change));
        fs::write(&path, &bytes).expect("writable");
        match load_file(&path) {
            Ok(loaded) => {
                // What loads also prints and loads again.
                fs::write(&path, dooryard::scenario::print(&loaded.scenario)).expect("writable");
                let again = load_file(&path).map_err(|problems| TestCaseError::fail(problems.to_string()))?;
                prop_assert_eq!(again.scenario, loaded.scenario);
            }
            Err(problems) => {
                prop_assert!(problems.errors() > 0);
                prop_assert!(!problems.render(true).is_empty());
            }
        }
    }
}
