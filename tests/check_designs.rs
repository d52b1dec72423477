//! Invented bad designs: `check` rejects each for its reason, names whole changes that load, and accepts the design once they are made;
//! where it can name none, it says so.

mod check_support;

use std::collections::BTreeMap;

use check_support::{LEAF, design, edited_text, failing, loaded_text, read, row, verdict};
use dooryard::report::check::{json, text};
use dooryard::report::text::Setting;
use dooryard::scenario::bus::Bus;
use dooryard::scenario::sensor::SensorKind;
use dooryard::shelter::actuator::Actuator;
use dooryard::study::check::{CheckResult, Verdict, check};

/// A flap at its toggle, a curtain, a double slider: the mechanism's section, for the starter's.
const TOGGLE: &str = "kind = \"top flap\"\nlength = \"0.38 m\"\nhinge_height = \"0.4 m\"\nopen_angle = \"85 deg\"\nrod_frame_out = \"200 mm\"\nrod_frame_along = \"50 mm\"\nrod_panel_along = \"130 mm\"";
const CURTAIN: &str = "kind = \"roller curtain\"\nstroke = \"0.4 m\"\nbar = \"0.05 kg\"";
const HALFWAY: &str =
    "kind = \"double slider\"\nlength = \"0.52 m\"\nopen_angle = \"50 deg\"\ndrive_at = \"both sliders\"";
const HANGING: &str =
    "kind = \"double slider\"\nlength = \"0.52 m\"\nopen_angle = \"75 deg\"\ndrive_at = \"vertical slider\"";

fn checked(text: &str) -> CheckResult {
    check(&loaded_text(text)).expect("a result")
}

/// What must hold of every result: a row past its limit fails, or says why it does not; rows that fail give no such excuse; JSON names
/// the key that the text names.
fn is_consistent(name: &str, result: &CheckResult) {
    let report = text(result, Setting::default()).split_whitespace().collect::<Vec<_>>().join(" ");
    let document: serde_json::Value = serde_json::from_str(&json(result, "0", &[]).expect("JSON")).expect("JSON");
    let mut excused = 0;
    for (row, part) in result.rows.iter().zip(document["rows"].as_array().expect("rows")) {
        let fails = row.verdict == Verdict::Fails;
        if row.is_past_limit() {
            assert!(fails || !row.advice.is_empty(), "{name}: {} is past its limit without a word", row.id);
        }
        assert!(
            row.advice.is_empty() || !fails && row.is_past_limit(),
            "{name}: {} excuses what needs no excuse",
            row.id
        );
        excused += usize::from(!row.advice.is_empty());
        assert_eq!(part["past_limit"], row.is_past_limit(), "{name}: {}", row.id);
        assert_eq!(part["no_failure"].as_str().unwrap_or(""), row.advice, "{name}: {}", row.id);
        assert_eq!(part["key"], row.key.as_str(), "{name}: {}", row.id);
        if let Some(first) = result.changes_for(row).first() {
            assert_eq!(first.key, row.key, "{name}: {}: text and JSON name different keys", row.id);
        }
    }
    let words = match excused {
        0 => String::new(),
        1 => ", 1 of them past its limit".to_string(),
        count => format!(", {count} of them past their limits"),
    };
    assert!(report.contains(&format!("tight{words}")) || result.verdict() == Verdict::Fits, "{name}: {report}");
    assert!(excused == 0 || report.contains("past its limit, but no failure"), "{name}");
    // Whatever fails, something is said about mending it.
    assert_eq!(result.verdict() == Verdict::Fails, report.contains("What would mend it"), "{name}");
}

/// Name, mechanism, pieces, rows that must fail, rows that must not.
type Bad<'d> = (&'d str, Option<&'d str>, &'d [(&'d str, &'d str)], &'d [&'d str], &'d [&'d str]);

const BAD: [Bad; 13] = [
    (
        "a leaf too weak for the gust",
        Some(LEAF),
        &[
            ("wind_factor = 0.5", "wind_factor = 0.9"),
            (r#"wind = "2.5 m/s""#, r#"wind = "5 m/s""#),
            (r#"waits_at = "0.5 m""#, r#"waits_at = "0.7 m""#),
        ],
        &["force_opening_wind"],
        &["drive_figures", "jam_opening"],
    ),
    (
        "a motor that overheats",
        None,
        &[
            (r#"winding = "60 J/K""#, r#"winding = "2 J/K""#),
            (r#"housing = "400 J/K""#, r#"housing = "20 J/K""#),
            (r#"winding_housing = "2.5 K/W""#, r#"winding_housing = "12 K/W""#),
            (r#"counterweight = "3.5 kg""#, r#"counterweight = "0 kg""#),
            (r#"mass = "5 kg""#, r#"mass = "22 kg""#),
        ],
        &["winding", "rated_load"],
        &["force_opening", "duty"],
    ),
    (
        "a drive for a toy",
        None,
        &[(r#"rated_force = "200 N""#, r#"rated_force = "5 N""#)],
        &["rated_load", "rated_load_wind", "life"],
        &["force_opening"],
    ),
    (
        "a relay for a lamp",
        None,
        &[(
            "rated_strokes = 300000\nexponent = 0                       # whatever the load",
            "kind = \"relay\"\nrated_current = \"0.1 A\"",
        )],
        &["life"],
        &["force_opening"],
    ),
    ("a short duty", None, &[("duty_factor = 0.1", "duty_factor = 0.02")], &["duty"], &["winding"]),
    (
        "a seal that freezes hard",
        None,
        &[(r#"ice = "60 N""#, r#"ice = "3000 N""#), ("from = 2025-04-01", "from = 2025-03-01")],
        &["force_opening_ice"],
        &["force_opening"],
    ),
    (
        "too narrow and too low",
        None,
        &[(r#"width = "0.6 m""#, r#"width = "0.45 m""#), (r#"stroke = "0.4 m""#, r#"stroke = "0.27 m""#)],
        &["clear_width"],
        &["force_opening"],
    ),
    (
        "a leaf against the waiting mower",
        Some(LEAF),
        &[(r#"waits_at = "0.5 m""#, r#"waits_at = "0.3 m""#)],
        &["sweep_outside"],
        &["sweep_inside"],
    ),
    (
        "a rod at its toggle",
        Some(TOGGLE),
        &[(r#"waits_at = "0.5 m""#, r#"waits_at = "0.6 m""#)],
        &["rod_lever"],
        &["headroom"],
    ),
    (
        "a curtain without weight",
        Some(CURTAIN),
        &[(r#"mass = "5 kg""#, r#"mass = "0.6 kg""#)],
        &["closes_by_itself"],
        &["contact_energy"],
    ),
    ("a panel that stops half-way", Some(HALFWAY), &[], &["headroom"], &["jam_opening", "clear_width"]),
    ("a panel pulled at the wrong end", Some(HANGING), &[], &["jam_opening"], &["headroom"]),
    (
        "figures that contradict",
        None,
        &[(r#"stall_current = "5 A""#, r#"stall_current = "2 A""#)],
        &["drive_figures"],
        &["force_opening"],
    ),
];

#[test]
fn bad_designs_are_rejected_and_accepted_once_mended() {
    for (name, mechanism, pieces, bad, sound) in BAD {
        let file = design(mechanism, pieces);
        let before = checked(&file);
        let fails = failing(&before);
        assert!(bad.iter().all(|id| fails.contains(id)), "{name}: {fails:?}");
        assert!(sound.iter().all(|id| !fails.contains(id)), "{name}: {fails:?}");
        is_consistent(name, &before);
        assert!(before.mended && before.left.is_empty(), "{name}: {:?} leave {:?}", before.changes, before.left);
        let mended = edited_text(&file, &before.changes);
        let after = check(&mended).expect("a result");
        assert_eq!(failing(&after), Vec::<&str>::new(), "{name}: {:?}", before.changes);
        is_consistent(name, &after);
        // What is one is named whole: its motor's figures still agree.
        let share = |drive| Actuator::gear_efficiency(drive);
        let (was, is) = (share(&loaded_text(&file).drive), share(&mended.drive));
        assert!(is <= 1.0 && (is - was).abs() < 0.01 || bad == ["drive_figures"], "{name}: {was} {is}");
        let mut wholes: BTreeMap<&str, usize> = BTreeMap::new();
        for change in &before.changes {
            *wholes.entry(change.together.as_deref().unwrap_or("")).or_default() += 1;
        }
        for (whole, count) in wholes.iter().filter(|(whole, _)| whole.starts_with("a motor")) {
            assert!(*count >= 8, "{name}: only {count} figures of {whole}");
        }
    }
}

/// A motor stalled in the wind gets its whole figures, not force alone.
#[test]
fn a_stalled_motor_is_replaced_whole() {
    let (_, mechanism, pieces, _, _) = BAD[0];
    let result = checked(&design(mechanism, pieces));
    let value = |key: &str| result.changes.iter().any(|change| change.key == key);
    assert!(value("drive.stall_force"), "{:?}", result.changes);
    // More force at the same power is slower; at the same speed it takes more current.
    assert!(value("drive.no_load_speed") || value("drive.stall_current"), "{:?}", result.changes);
    let named = row(&result, "force_opening_wind");
    assert_eq!(named.key, result.changes_for(named)[0].key);
}

/// Ice is the weather's: the cure is more force or a seal that does not freeze, never a smaller guess.
#[test]
fn a_smaller_guess_is_no_cure_for_ice() {
    let (_, mechanism, pieces, _, _) = BAD[4];
    let result = checked(&design(mechanism, pieces));
    assert!(result.changes.iter().all(|change| change.key != "door.ice"), "{:?}", result.changes);
    let seal = result.changes.iter().find(|change| change.key == "door.ice_below");
    assert!(seal.is_none_or(|change| change.together.as_deref().is_some_and(|it| it.contains("heated seal"))));
    assert!(row(&result, "force_opening_ice").note.contains("drip edge"));
}

/// What no value mends is said to need another design.
#[test]
fn nothing_to_name_is_said() {
    // A mower that comes faster than any detector could ask.
    let hasty =
        [(r#"speed = "0.4 m/s""#, r#"speed = "3 m/s""#), (r#"slow_speed = "0.2 m/s""#, r#"slow_speed = "3 m/s""#)];
    let result = checked(&design(None, &hasty));
    assert!(!result.mended && !result.left.is_empty(), "{:?}", result.changes);
    let report = text(&result, Setting::default()).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(report.contains("it asks for another design"), "{report}");
    let document: serde_json::Value = serde_json::from_str(&json(&result, "0", &[]).expect("JSON")).expect("JSON");
    assert_eq!(document["left"].as_array().expect("a list").len(), result.left.len());
    is_consistent("hasty", &result);
}

/// Each mechanism that does not close says what its own reason is.
#[test]
fn a_door_that_does_not_close_says_why() {
    let curtain = checked(&design(Some(CURTAIN), &[(r#"mass = "5 kg""#, r#"mass = "0.6 kg""#)]));
    let note = &row(&curtain, "closes_by_itself").note;
    assert!(note.contains("bar of 0.05 kg") && note.contains("nothing pushes a curtain"), "{note}");
    assert!(!note.contains("balanced") && !note.contains("only pulls"), "{note}");
    let slider = HANGING.replace("vertical slider", "both sliders");
    let cord = [("pushes = true", "pushes = false")];
    let hanging = checked(&design(Some(&slider), &cord));
    let note = &row(&hanging, "closes_by_itself").note;
    assert!(!note.contains("counterweight") && !note.contains("balanced"), "{note}");
    let balanced = checked(&design(
        None,
        &[("pushes = true", "pushes = false"), (r#"counterweight = "3.5 kg""#, r#"counterweight = "5 kg""#)],
    ));
    let note = &row(&balanced, "closes_by_itself").note;
    assert!(note.contains("counterweight of 5.0 kg leaves of the panel's 5.0 kg"), "{note}");
}

/// A bus on which no resistor works, and one that a single device holds up.
#[test]
fn the_bus_names_its_own_reason() {
    let spoilt = |spoil: fn(&mut Bus)| {
        let mut scenario = read("scenarios/courtyard.toml");
        spoil(scenario.bus.as_mut().expect("a bus"));
        check(&scenario).expect("a result")
    };
    // 30 pF + 2 x 10 pF + 5.8 m x 60 pF/m = 398 pF: below 400 pF, but 300 ns/(0.8473 x 398 pF) = 890 ohm, and (3.3 V - 0.4 V)/3 mA = 967 ohm.
    let full = spoilt(|bus| bus.cable_m = 5.8);
    let pull_up = row(&full, "bus_pull_up");
    assert_eq!(pull_up.verdict, Verdict::Fails);
    for words in ["no resistor works", "967 ohm", "890 ohm", "398 pF"] {
        assert!(pull_up.note.contains(words), "{words}: {}", pull_up.note);
    }
    assert!(full.mended && full.changes.iter().any(|change| ["bus.cable", "bus.mode"].contains(&change.key.as_str())));
    is_consistent("a full bus", &full);
    let slow = spoilt(|bus| bus.devices[1].stretch_s = 0.09);
    let rate = slow.rows.iter().find(|row| row.id == "bus_rate" && row.is_past_limit()).expect("a slow sensor");
    assert!(rate.key == "bus.device.beam.stretch" && rate.note.contains("stretches the clock for 90.0 ms"), "{rate:?}");
    is_consistent("a slow bus", &slow);
}

/// The key named for a dark wet shell moves that row, and the level does not.
#[test]
fn the_key_for_a_dark_shell_moves_its_row() {
    const ID: &str = "detection_distance_dark_shell";
    let scenario = loaded_text(&design(None, &[]));
    let before = check(&scenario).expect("a result");
    let key = row(&before, ID).key.clone();
    let seen = |scenario: &dooryard::scenario::Scenario| {
        row(&check(scenario).expect("a result"), ID).value.expect("a distance")
    };
    let now = seen(&scenario);
    let pieces: &[(&str, &str)] = match key.as_str() {
        "sensor.eye.cone" => &[(r#"cone = "4 deg""#, r#"cone = "3 deg""#)],
        "sensor.eye.farthest" => &[(r#"farthest = "6 m""#, r#"farthest = "8 m""#)],
        other => panic!("{other}"),
    };
    assert!(seen(&loaded_text(&design(None, pieces))) > now + 0.02, "{key}");
    let level = [(r#"on = "2.6 m""#, r#"on = "3.1 m""#), (r#"off = "2.9 m""#, r#"off = "3.4 m""#)];
    assert!((seen(&loaded_text(&design(None, &level))) - now).abs() < 0.015);
}

/// The load of a mean hour and of the gust against the rating; the rule between them. The starter's load is its own.
#[test]
fn a_rating_is_held_against_the_load() {
    let rated = |newton: f64| {
        let rating = format!("rated_force = \"{newton} N\"");
        checked(&design(None, &[(r#"rated_force = "200 N""#, &rating)]))
    };
    let sound = rated(200.0);
    assert_eq!(verdict(&sound, "rated_load"), Verdict::Fits);
    let load_n = row(&sound, "rated_load_wind").value.expect("a load");
    // Above the rating, and not twice it: seldom, so no failure.
    let tight = rated((load_n / 1.5).round());
    assert_eq!(verdict(&tight, "rated_load_wind"), Verdict::Tight);
    assert!(row(&tight, "rated_load_wind").advice.contains("seldom"));
    let bad = rated((load_n / 2.5).round());
    assert_eq!(verdict(&bad, "rated_load_wind"), Verdict::Fails);
    is_consistent("a weak rating", &bad);
    // Twice the strokes, half the life.
    let seasons = |result: &CheckResult| row(result, "life").value.expect("seasons");
    let strokes = "rated_strokes = 20000              # that nine in ten drives survive at the rated force";
    let parts = (r"rated_strokes = 40000", "rated_strokes = 20000");
    let halved = checked(&design(
        None,
        &[(strokes, "rated_strokes = 10000"), parts, ("rated_strokes = 300000", "rated_strokes = 150000")],
    ));
    assert!((seasons(&halved) / seasons(&sound) - 0.5).abs() < 1e-9);
}

/// All shipped scenarios are consistent and none fails.
#[test]
fn shipped_scenarios_are_consistent() {
    for name in ["coast", "courtyard", "hillside", "orchard"] {
        let result = check(&read(&format!("scenarios/{name}.toml"))).expect("weather is there");
        assert_eq!(failing(&result), Vec::<&str>::new(), "{name}");
        is_consistent(name, &result);
    }
}

/// A ranger that is kept dry behind the door sees no arrival while the door is shut, or sees the panel and opens for it, again and
/// again: `check` sends it out, and there nothing is left that fails.
#[test]
fn a_ranger_behind_the_door_is_sent_out() {
    let behind = |x_m: f64| {
        let mut scenario = read("scenarios/hillside.toml");
        if let SensorKind::UltrasonicRange { aim, .. } = &mut scenario.sensors[0].kind {
            aim.position_m = [x_m, 0.0, 0.4];
        }
        scenario
    };
    for (x_m, id, note) in [(-0.2, "stroke_time", "behind the shut door"), (-0.3, "quiet", "for its own panel")] {
        let mut scenario = behind(x_m);
        let bad = check(&scenario).expect("a result");
        let found = bad.rows.iter().find(|row| row.id == id && row.verdict == Verdict::Fails).expect("a failing row");
        assert!(found.key == "sensor.ear.position" && found.note.contains(note), "{x_m}: {found:?}");
        assert!(bad.mended && bad.changes.iter().any(|change| change.key == found.key), "{x_m}: {:?}", bad.changes);
        bad.changes.iter().for_each(|change| change.apply(&mut scenario));
        assert_eq!(failing(&check(&scenario).expect("a result")), Vec::<&str>::new(), "{x_m}");
    }
}
