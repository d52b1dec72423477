//! `check` and what moves readings slowly: drifts of a ranger and of a platform, and the sun in a ranger's cone.

mod check_support;

use check_support::{edited_text, failing, loaded_text, read, row, starter_with};
use dooryard::scenario::Scenario;
use dooryard::study::check::{CheckResult, Verdict, check};

fn checked(scenario: &Scenario) -> CheckResult {
    check(scenario).expect("a result")
}

/// Three standard deviations of drift take away as much of the distance at which a level is met, and as many hundredths of it as
/// the air is away from 20 degC times its drift per kelvin.
#[test]
fn a_drifting_ranger_sees_the_mower_later() {
    let drift = ("drift_per_day = \"0.5 mm/d\"", "random_drift = \"0.2 m\"");
    let warmth = ("drift_per_kelvin = \"0.2 mm/K\"\n", "");
    let result = checked(&starter_with(&[drift, warmth]));
    let seen = |id: &str| row(&result, id).value.expect("a distance");
    let lost = seen("detection_distance") - seen("detection_distance_drifted");
    assert!((lost - 0.6).abs() < 0.03, "{lost}");
    let warm = checked(&starter_with(&[
        ("drift_per_day = \"0.5 mm/d\"\n", ""),
        (warmth.0, "drift_per_kelvin = \"20 mm/K\"\n"),
    ]));
    let lost = row(&warm, "detection_distance").value.expect("a distance")
        - row(&warm, "detection_distance_drifted").value.expect("a distance");
    // The distance itself is asked for at 15 degC.
    let expected = 0.02 * (warm.climate.warmest_c - 15.0);
    assert!((lost - expected).abs() < 0.04, "{lost} against {expected}");
    let without = checked(&starter_with(&[("drift_per_day = \"0.5 mm/d\"\n", ""), warmth]));
    assert!(without.rows.iter().all(|row| row.id != "detection_distance_drifted"));
}

/// An eye that looks level to the east has the rising sun in its cone, one to the north never has (at 47 degrees north, in a cone of 8
/// degrees); a wider cone has it for longer.
#[test]
fn low_sun_is_asked_for_where_it_shines_in() {
    let facing = |faces: &str, cone: &str| {
        let scenario = starter_with(&[
            ("door_faces = \"180 deg\"", faces),
            ("pitch = \"-2 deg\"", "pitch = \"0 deg\""),
            ("cone = \"4 deg\"", cone),
        ]);
        let result = checked(&scenario);
        let hours = result.rows.iter().find(|row| row.id == "detection_distance_low_sun").map(|row| {
            let words: Vec<&str> = row.note.split_whitespace().collect();
            let unit = words.iter().position(|word| *word == "h").expect("hours");
            words[unit - 1].parse::<f64>().expect("a number")
        });
        hours.unwrap_or(0.0)
    };
    let east = |cone: &str| facing("door_faces = \"80 deg\"", cone);
    let (narrow, wide) = (east("cone = \"8 deg\""), east("cone = \"16 deg\""));
    assert!(narrow > 0.0 && wide > narrow, "{narrow} {wide}");
    assert_eq!(facing("door_faces = \"0 deg\"", "cone = \"8 deg\""), 0.0);
}

/// Hillside's platform with parts that drift more: too far for its levels, but not for others; too far for any; and with a zero that
/// follows.
#[test]
fn a_platform_that_drifts_past_its_levels() {
    let text = std::fs::read_to_string("scenarios/hillside.toml").expect("a file");
    // Its parts stand beside it.
    let beside = std::env::current_dir().expect("a folder").join("scenarios/parts");
    let text = text.replace("\"parts/", &format!("\"{}/", beside.display()));
    let text = text.replace("drift_per_day = \"5 g/d\"\n", "");
    let with = |drift: &str| text.replace("drift_per_kelvin = \"10 g/K\"", drift);
    assert!(failing(&checked(&read("scenarios/hillside.toml"))).is_empty());
    let bad = with("drift_per_kelvin = \"240 g/K\"");
    let result = checked(&loaded_text(&bad));
    assert_eq!(failing(&result), ["level_drift"]);
    let row = result.rows.iter().find(|row| row.verdict == Verdict::Fails).expect("it fails");
    // The mower's 17 kg in the coldest hour.
    let lowest = 17.0 - 0.24 * (20.0 - result.climate.coldest_c);
    assert!((row.value.expect("a load") - lowest).abs() < 0.5, "{row:?}");
    assert!(result.mended, "{:?}", result.changes);
    let keys: Vec<&str> = result.changes.iter().map(|change| change.key.as_str()).collect();
    assert_eq!(keys, ["detector.at home.on", "detector.at home.off"]);
    assert!(result.changes.iter().all(|change| change.value.ends_with("kg\"")), "{:?}", result.changes);
    assert!(failing(&checked(&edited_text(&bad, &result.changes))).is_empty());
    // Random drift counts like the other.
    let random = checked(&loaded_text(&with("random_drift = \"1.8 kg\"")));
    assert_eq!(failing(&random), ["level_drift"]);
    // No level is left.
    let lost = checked(&loaded_text(&with("drift_per_kelvin = \"600 g/K\"")));
    assert!(!lost.mended && failing(&lost).contains(&"level_drift"));
    assert!(lost.rows.iter().any(|row| row.id == "level_drift" && row.note.contains("zero_tracking")));
    // A zero that follows mends it, where it is fast enough and does not take the mower for drift, too.
    let tracking = |how: &str, per_hour: &str| {
        let keys = format!(
            "[controller]\nzero_tracking = \"{how}\"\nzero_per_hour = \"{per_hour}\"\nzero_at_most = \"9 kg\"\n"
        );
        let text = bad.replace("[controller]\n", &keys).replace("doorway = {", "inside = \"at home\"\ndoorway = {");
        failing(&checked(&loaded_text(&text))).contains(&"level_drift")
    };
    assert!(!tracking("gated", "2 kg") && tracking("gated", "100 g") && tracking("always", "2 kg"));
    // A bias puts the empty platform over its levels for good; a mower beside it is no weight on it, which is said.
    assert_eq!(failing(&checked(&loaded_text(&with("bias = \"10 kg\"")))), ["level_drift"]);
    let sill = text.replace("span = [\"-1 m\", \"-0.1 m\"]", "span = [\"-0.2 m\", \"-0.1 m\"]");
    let sill = checked(&loaded_text(&sill));
    let beside = sill.rows.iter().find(|row| row.id == "level_drift" && row.is_past_limit()).expect("a row");
    assert!(beside.advice.contains("does not stand on it"), "{beside:?}");
}
