//! The changes that `check` names: made in the file, it loads and nothing fails; and rows that must not reassure.

mod check_support;

use check_support::{edited, edited_text, failing, read, row, starter_text, starter_with, verdict};
use dooryard::report::check::text;
use dooryard::report::page;
use dooryard::report::text::Setting;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::{Mechanism, Source};
use dooryard::study::check::{CheckResult, Verdict, check};

fn checked(scenario: &Scenario) -> CheckResult {
    check(scenario).expect("a result")
}

fn keys(result: &CheckResult) -> Vec<&str> {
    result.changes.iter().map(|change| change.key.as_str()).collect()
}

/// Its name, what is spoilt in the starter's text, and the keys that mend it.
type Design<'d> = (&'d str, &'d [(&'d str, &'d str)], &'d [&'d str]);

/// Levels, an aim, a supply, an edge and a rotor of the starter, spoilt one at a time; the named changes, made in the file, are accepted.
#[test]
fn named_changes_load_and_are_accepted() {
    let near = [(r#"on = "2.6 m""#, r#"on = "1.2 m""#), (r#"off = "2.9 m""#, r#"off = "1.5 m""#)];
    let designs: [Design; 5] = [
        ("levels", &near, &["detector.near.on", "detector.near.off"]),
        ("askew", &[(r#"yaw = "0 deg""#, r#"yaw = "20 deg""#)], &["sensor.eye.yaw"]),
        // A current limit alone would leave too little force for a frozen seal.
        ("supply", &[(r#"limit = "120 W""#, r#"limit = "30 W""#)], &["supply.limit"]),
        ("edge", &[(r#"edge_stiffness = "5 N/mm""#, r#"edge_stiffness = "60 N/mm""#)], &["door.edge_stiffness"]),
        ("rotor", &[(r#"reflected_mass = "400 kg""#, r#"reflected_mass = "4000 kg""#)], &["drive.reflected_mass"]),
    ];
    for (name, spoilt, expected) in designs {
        let file = starter_text(spoilt);
        let bad = checked(&starter_with(spoilt));
        assert!(!failing(&bad).is_empty() && bad.mended, "{name}: {:?} {:?}", failing(&bad), bad.changes);
        assert_eq!(keys(&bad), expected, "{name}");
        let good = checked(&edited_text(&file, &bad.changes));
        assert_eq!(failing(&good), Vec::<&str>::new(), "{name}: {:?}", bad.changes);
    }
}

/// A toggle that would need many times the drive's force is cured by taking hold elsewhere: a drive of that force would crush.
#[test]
fn a_toggle_is_taken_hold_of_elsewhere() {
    let stuck = "tests/scenarios/stuck-panel.toml";
    let mut changes = checked(&read(stuck)).changes;
    for change in &mut changes {
        if change.key == "door.mechanism.drive_at" {
            change.value = "\"horizontal slider\"".to_string();
        }
    }
    let bad = checked(&edited(stuck, &changes));
    assert!(failing(&bad).contains(&"force_opening"), "{:?}", failing(&bad));
    assert!(bad.mended, "{:?}", bad.changes);
    assert_eq!(keys(&bad), ["door.mechanism.drive_at"]);
    assert_eq!(bad.changes[0].value, "\"both sliders\"");
}

/// Panel and battery of a shelter in too little sun, by one division each.
#[test]
fn a_solar_supply_gets_its_sizes() {
    let mut scenario = read("scenarios/coast.toml");
    let Source::Solar(solar) = &mut scenario.supply.source else { panic!("a solar supply") };
    (solar.sun_h, solar.battery_wh) = (1.0, 10.0);
    let solar = *solar;
    let bad = checked(&scenario);
    let day_wh = row(&bad, "solar_balance").value.expect("energy");
    let named = |key: &str| {
        let change = bad.changes.iter().find(|change| change.key == key).unwrap_or_else(|| panic!("no {key}"));
        change
            .value
            .trim_matches('"')
            .split(' ')
            .next()
            .and_then(|number| number.parse::<f64>().ok())
            .expect("a number")
    };
    assert!(bad.mended);
    assert!(
        named("supply.panel") * solar.performance >= day_wh && named("supply.panel") * solar.performance < 1.5 * day_wh
    );
    assert!((named("supply.battery") * solar.usable * solar.efficiency / day_wh - 3.0).abs() < 0.2);
    bad.changes.iter().for_each(|change| change.apply(&mut scenario));
    assert_eq!(failing(&checked(&scenario)), Vec::<&str>::new());
}

/// At least 5 and at most 1: no figure between them is a mending; one of the two has to go.
#[test]
fn limits_that_contradict_are_not_reconciled() {
    let second = "\n[[limit]]\nmetric = \"strandings\"\nat_least = 5\n\n[[risk]]";
    let spoilt = [("\n[[risk]]", second)];
    let bad = checked(&starter_with(&spoilt));
    assert_eq!(failing(&bad), ["limits"]);
    assert!(row(&bad, "limits").note.contains("contradict"), "{}", row(&bad, "limits").note);
    assert_eq!((bad.mended, keys(&bad)), (true, vec!["limit.strandings.at_least"]));
    assert!(text(&bad, Setting::default()).contains("leave out limit.strandings.at_least"));
    let good = checked(&edited_text(&starter_text(&spoilt), &bad.changes));
    assert_eq!(failing(&good), Vec::<&str>::new());
}

/// The page names what the text names.
#[test]
fn the_page_shows_the_values() {
    let bad = checked(&read("tests/scenarios/stuck-panel.toml"));
    let page = page::check::page(&bad, &[], &[], &[], "0");
    assert!(page.contains("What would mend it") && page.contains("With these changes together nothing fails"));
    for change in bad.changes.iter().filter(|change| !change.value.is_empty()) {
        let escaped = format!("{} = {}", change.key, change.value).replace('"', "&quot;");
        assert!(page.matches(&escaped).count() >= 2, "{escaped} stands beside its row and in the list");
    }
}

/// A counterweight heavier than the panel, and a gear that lets go: the door opens by itself.
#[test]
fn an_overbalanced_door_flies_open() {
    let heavy = (r#"counterweight = "3.5 kg""#, r#"counterweight = "9 kg""#);
    let bad = checked(&starter_with(&[heavy, ("self_locking = true", "self_locking = false")]));
    let held = row(&bad, "holds_unpowered");
    assert!(held.verdict == Verdict::Tight && held.note.contains("flies open"), "{held:?}");
    assert!(!held.note.contains("falls shut"), "{held:?}");
    // A gear that locks holds it; one kilogram to spare against 15 N of seal and the guides does not fly.
    assert_eq!(verdict(&checked(&starter_with(&[heavy])), "holds_unpowered"), Verdict::Fits);
}

/// A drive that does not bring the panel shut does not close the door.
#[test]
fn a_door_that_its_drive_cannot_close_does_not_close() {
    let bad = checked(&read("tests/scenarios/stuck-panel.toml"));
    assert_eq!(verdict(&bad, "jam_closing"), Verdict::Fails);
    let closes = row(&bad, "closes_by_itself");
    assert_eq!((closes.verdict, closes.key.as_str()), (Verdict::Fails, "door.mechanism.drive_at"), "{closes:?}");
}

/// Without any friction the vertical pull has its dead point at the hanging panel and nowhere else: a point, not 3e-17 m.
#[test]
fn a_dead_point_is_called_one() {
    let mut scenario = read("tests/scenarios/stuck-panel.toml");
    let Mechanism::DoubleSlider(slider) = &mut scenario.door.mechanism else { panic!("a double slider") };
    (slider.friction_vertical, slider.friction_horizontal) = (0.0, 0.0);
    let result = checked(&scenario);
    let jam = row(&result, "jam_opening");
    assert_eq!((jam.verdict, jam.value), (Verdict::Fails, None), "{jam:?}");
    assert!(jam.note.contains("at one point, 0 mm of 385 mm"), "{}", jam.note);
    assert!(!text(&result, Setting::default()).contains("e-1"));
}

/// What ice may hold is worked out for this door: 5 mm round 0.6 m x 0.4 m is 0.01 m2, at 280 kPa 2800 N, a tenth of it 280 N; on
/// rubber at 20 kPa a fiftieth of 200 N.
#[test]
fn the_bond_of_a_frozen_seal_is_worked_out() {
    let note = row(&checked(&starter_with(&[])), "force_opening_ice").note.clone();
    for words in ["(2.0 m)", "holds 4 N on rubber", "to 280 N on aluminium", "2800 N where that shears at once"] {
        assert!(note.contains(words), "{words}: {note}");
    }
}
