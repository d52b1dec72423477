//! The one figure behind what fails: `check` names it, and made in the file it is accepted. A doorway's sensor that speaks too late, a
//! time-out too short, a supply that does not suit the motor, a gear too slow, a panel that opens too little, a guide that rubs.

mod check_support;

use check_support::{
    FLAP, LEAF, OUT_OF_ITS_WAY, beam, checked, design, edited_text, failing, is_mended, keys, loaded_text, read, row,
    seasons, verdict,
};
use dooryard::ledger::metric::Key;
use dooryard::math::normal;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::Mechanism;
use dooryard::study::check::{CheckResult, Verdict, check};

const BEAM: &str = "rate = \"20 Hz\"\nlatency = \"10 ms\"";
const RULE: &str = "sensor = \"beam\"\nrule = \"2 of 2\"";

/// Rate, latency and rule of the beam across the doorway: each too slow lets closings begin on the mower, and is named.
#[test]
fn a_doorway_sensor_that_speaks_too_late_is_named() {
    let sound = loaded_text(&design(None, &[]));
    assert_eq!(verdict(&check(&sound).expect("a result"), "doorway_sensor"), Verdict::Fits);
    assert_eq!(seasons(&sound, 4, Key::ClosingsOnOccupied), 0.0);
    let cases: [(&str, (&str, &str), &str); 3] = [
        ("rate", (BEAM, "rate = \"0.05 Hz\"\nlatency = \"10 ms\""), "sensor.beam.rate"),
        ("latency", (BEAM, "rate = \"20 Hz\"\nlatency = \"30 s\""), "sensor.beam.latency"),
        ("rule", (RULE, "sensor = \"beam\"\nrule = \"60 of 60\""), "detector.broken.rule"),
    ];
    for (name, piece, key) in cases {
        let file = design(None, &[piece]);
        let bad = is_mended(name, &file, &[key]);
        let late = row(&bad, "doorway_sensor");
        assert_eq!((late.verdict, late.key.as_str()), (Verdict::Fails, key), "{name}");
        assert!(seasons(&loaded_text(&file), 4, Key::ClosingsOnOccupied) > 0.0, "{name}");
        let good = edited_text(&file, &bad.changes);
        assert_eq!(verdict(&check(&good).expect("a result"), "doorway_sensor"), Verdict::Fits, "{name}");
        assert_eq!(seasons(&good, 4, Key::ClosingsOnOccupied), 0.0, "{name}");
    }
}

/// The figures of the row by hand: two samples of 50 ms and 10 ms, less 80 mm at 0.2 m/s, 16 % quicker.
#[test]
fn the_doorway_is_reckoned_by_hand() {
    let result = checked(&design(None, &[]));
    let lead_s = 0.08 / (0.2 * 1.16);
    assert!((row(&result, "doorway_sensor").value.expect("a time") - (0.11 - lead_s)).abs() < 1e-9);
    // Until 0.1 s after the mower has come under the edge it fits, from 0.2 s on it fails.
    for (after_s, expected) in
        [(0.09, Verdict::Fits), (0.11, Verdict::Tight), (0.19, Verdict::Tight), (0.21, Verdict::Fails)]
    {
        let slow = format!("rate = \"20 Hz\"\nlatency = \"{:.0} ms\"", 1_000.0 * (lead_s + after_s - 0.1));
        assert_eq!(verdict(&checked(&design(None, &[(BEAM, &slow)])), "doorway_sensor"), expected, "{after_s}");
    }
    // A beam that the mower breaks only once it is under the edge has to move out.
    let inside = design(None, &[("x = \"0.1 m\"", "x = \"-0.1 m\"")]);
    is_mended("inside", &inside, &["sensor.beam.x"]);
    // A rule that is not heeded has no time to keep.
    let off = checked(&design(None, &[("[controller]", "[controller]\ninterlock = false")]));
    assert!(off.rows.iter().all(|row| row.id != "doorway_sensor"));
}

/// A bus that holds the doorway's beam up is no longer excused because no arrival is late by it.
#[test]
fn a_bus_that_slows_the_doorway_fails() {
    let mut scenario = read("scenarios/courtyard.toml");
    scenario.bus.as_mut().expect("a bus").devices[1].conversion_s = 5.0;
    let bad = check(&scenario).expect("a result");
    assert_eq!(failing(&bad), ["doorway_sensor", "doorway_sensor", "bus_rate"]);
    assert_eq!((bad.mended, keys(&bad)), (true, vec!["bus.device.beam.conversion"]));
    bad.changes.iter().for_each(|change| change.apply(&mut scenario));
    assert_eq!(failing(&check(&scenario).expect("a result")), Vec::<&str>::new());
}

/// A bus that rests between its turns is told to rest less: the beam is not moved out for it.
#[test]
fn a_bus_that_rests_too_long_is_named() {
    let mut scenario = read("scenarios/courtyard.toml");
    scenario.bus.as_mut().expect("a bus").gap_s = 0.5;
    let bad = check(&scenario).expect("a result");
    assert!(failing(&bad).contains(&"bus_rate") && failing(&bad).contains(&"doorway_sensor"), "{:?}", failing(&bad));
    assert_eq!((bad.mended, keys(&bad)), (true, vec!["bus.gap"]), "{:?}", bad.left);
    bad.changes.iter().for_each(|change| change.apply(&mut scenario));
    assert_eq!(failing(&check(&scenario).expect("a result")), Vec::<&str>::new());
}

/// The door stands open when the mower comes, its closing only announced: no arrival is missed.
#[test]
fn an_announced_closing_is_still_open() {
    let [_, _, on, off] = OUT_OF_ITS_WAY;
    let scenario = loaded_text(&design(Some(FLAP), &[(r#"waits_at = "0.5 m""#, r#"waits_at = "0.43 m""#), on, off]));
    for row in check(&scenario).expect("a result").rows.iter().filter(|row| row.id == "stroke_time") {
        assert_ne!(row.verdict, Verdict::Fails, "{row:?}");
    }
    assert_eq!(seasons(&scenario, 4, Key::MissedArrivals), 0.0);
}

/// A beam far out that opens the door once, and a door that stays open for no longer than it must: it has shut again when the mower
/// comes. That is said, and staying open longer mends it.
#[test]
fn a_door_that_shuts_again_too_soon_stays_open_longer() {
    let file = design(
        None,
        &[
            (r#"open_at_least = "10 s""#, r#"open_at_least = "0 s""#),
            ("[controller]", &beam("2.6 m")),
            (r#"open = { any = ["near", "leaving"] }"#, r#"open = { any = ["out", "leaving"] }"#),
            (r#"hold = { any = ["near", {"#, r#"hold = { any = [{"#),
        ],
    );
    let bad = is_mended("shut again", &file, &["strategy.eye.controller.open_at_least"]);
    let row = row(&bad, "stroke_time");
    assert!(row.verdict == Verdict::Fails && row.note.contains("shuts again"), "{row:?}");
    let missed = |scenario: &Scenario| seasons(scenario, 2, Key::MissedArrivals) / seasons(scenario, 2, Key::Arrivals);
    let (before, after) = (missed(&loaded_text(&file)), missed(&edited_text(&file, &bad.changes)));
    assert!(before > 0.5 && after < 0.05, "{before} {after}");
}

/// A stroke that is given the time of a calm one, and no more, fails in any wind.
#[test]
fn a_time_out_without_room_is_named() {
    let file = design(None, &[("stroke_timeout = 1.5", "stroke_timeout = 1.0")]);
    let bad = is_mended(
        "time-out",
        &file,
        &["strategy.eye.controller.stroke_timeout", "strategy.eye and status.controller.stroke_timeout"],
    );
    assert_eq!(failing(&bad), ["stroke_timeout"]);
    let good = edited_text(&file, &bad.changes);
    let failed = |scenario: &Scenario| seasons(scenario, 2, Key::StrokesFailed);
    let (before, after) = (failed(&loaded_text(&file)), failed(&good));
    assert!(before > 100.0 && after < 0.1 * before, "{before} {after}");
}

/// A supply of another voltage, a cable that eats it, a standby that leaves nothing: the one figure, not a dozen of the motor's.
#[test]
fn a_supply_that_does_not_suit_the_motor_is_named() {
    let voltage = ("[supply]\nvoltage = \"24 V\"", "[supply]\nvoltage = \"6 V\"");
    let standby = (r#"standby = "2 W""#, r#"standby = "150 W""#);
    let cases = [
        ("voltage", voltage, "supply.voltage"),
        ("cable", (r#"cable = "0.3 ohm""#, r#"cable = "100 ohm""#), "supply.cable"),
        ("standby", standby, "supply.standby"),
    ];
    for (name, piece, key) in cases {
        let bad = is_mended(name, &design(None, &[piece]), &[key]);
        let own = format!("supply_{name}");
        for row in bad.rows.iter().filter(|row| row.verdict == Verdict::Fails) {
            assert_eq!(row.key, key, "{name}: {row:?}");
        }
        assert_eq!(verdict(&bad, &own), Verdict::Fails, "{name}");
    }
    let peak = row(&checked(&design(None, &[standby])), "supply_peak").note.clone();
    assert!(peak.contains("alone take more") && !peak.contains("soft start"), "{peak}");
    // Where nothing fails by it, another voltage is no failure.
    let near = checked(&design(None, &[("[supply]\nvoltage = \"24 V\"", "[supply]\nvoltage = \"21 V\"")]));
    assert_eq!(failing(&near), Vec::<&str>::new());
    assert!(verdict(&near, "supply_voltage") == Verdict::Tight && row(&near, "supply_voltage").is_past_limit());
}

const DRUM: [(&str, &str); 2] = [
    (
        "no_load_speed = \"60 mm/s\"\nstall_force = \"600 N\"",
        "kind = \"drum\"\nmotor_speed = \"50 Hz\"\nmotor_torque = \"0.25 N m\"\nmotor_inertia = \"2e-6 kg m2\"\ngear_ratio = 500\ngear_efficiency = 0.7\ndrum_diameter = \"40 mm\"",
    ),
    ("reflected_mass = \"400 kg\"\n", ""),
];

/// A gear that is merely too slow is geared up, however far; the values that are named carry no last digits of a product.
#[test]
fn a_gear_that_is_too_slow_is_geared_up() {
    let file = design(None, &DRUM);
    let bad = checked(&file);
    assert_eq!(verdict(&bad, "stroke_time"), Verdict::Fails);
    assert!(bad.mended && keys(&bad).contains(&"drive.gear_ratio"), "{:?} {:?}", bad.changes, bad.left);
    let good = edited_text(&file, &bad.changes);
    assert_eq!(failing(&check(&good).expect("a result")), Vec::<&str>::new());
    let named = bad.rows.iter().flat_map(|row| row.cures.iter().flatten()).chain(&bad.changes);
    for change in named {
        let digits = change.value.chars().filter(char::is_ascii_digit).collect::<String>();
        assert!(digits.trim_start_matches('0').trim_end_matches('0').len() <= 6, "{} = {}", change.key, change.value);
    }
}

/// A panel that opens too little: the angle that just does, where none is comfortable, and the length where no angle helps.
#[test]
fn a_panel_that_opens_too_little_gets_its_value() {
    // In memory, for what does not let the mower through may not load.
    let bad = |file: &str, spoil: &dyn Fn(&mut Mechanism)| {
        let mut scenario = loaded_text(file);
        spoil(&mut scenario.door.mechanism);
        let result = check(&scenario).expect("a result");
        assert!(!failing(&result).is_empty() && result.mended, "{:?} {:?}", result.changes, result.left);
        // In the file they replace what was spoilt there.
        let good = check(&edited_text(file, &result.changes)).expect("a result");
        assert_eq!(failing(&good), Vec::<&str>::new(), "{:?}", result.changes);
        result
    };
    let leaf = bad(&design(Some(LEAF), &OUT_OF_ITS_WAY), &|mechanism| {
        let Mechanism::SideLeaf(leaf) = mechanism else { panic!("a leaf") };
        leaf.open_angle_deg = 30.0;
    });
    assert_eq!(keys(&leaf), ["door.mechanism.open_angle"]);
    assert_eq!(leaf.changes[0].value, "\"90 deg\"");
    let file = design(Some(SLIDER), &QUICK_DRIVE);
    let slider = |spoil: &dyn Fn(&mut dooryard::scenario::door::DoubleSlider)| {
        bad(&file, &|mechanism| {
            let Mechanism::DoubleSlider(slider) = mechanism else { panic!("a double slider") };
            spoil(slider);
        })
    };
    // 0.27 m upright leaves 10 mm less than is comfortable: that, or a longer panel.
    let short = slider(&|slider| slider.length_m = 0.27);
    let cures =
        |result: &CheckResult| row(result, "headroom").cures.iter().map(|cure| cure[0].key.clone()).collect::<Vec<_>>();
    assert!(cures(&short).contains(&"door.mechanism.length".to_string()), "{:?}", cures(&short));
    // 0.25 m long no angle helps: another key.
    let shorter = slider(&|slider| slider.length_m = 0.25);
    assert_eq!(row(&shorter, "headroom").key, "door.mechanism.length");
    let tilted = slider(&|slider| slider.shut_angle_deg = 60.0);
    assert!(cures(&tilted).contains(&"door.mechanism.shut_angle".to_string()), "{:?}", cures(&tilted));
}

const SLIDER: &str =
    "kind = \"double slider\"\nlength = \"0.52 m\"\nopen_angle = \"75 deg\"\ndrive_at = \"both sliders\"";
const QUICK_DRIVE: [(&str, &str); 5] = [
    // Near the sill the panel's edge presses several times as hard as its drive.
    (r#"obstruction_force = "60 N""#, r#"obstruction_force = "20 N""#),
    (r#"no_load_speed = "60 mm/s""#, r#"no_load_speed = "0.1205 m/s""#),
    (r#"stall_force = "600 N""#, r#"stall_force = "298.7 N""#),
    (r#"rated_force = "200 N""#, r#"rated_force = "99.55 N""#),
    (r#"reflected_mass = "400 kg""#, r#"reflected_mass = "99.11 kg""#),
];

/// Guides and hinges that rub are named, not the drive that they are too much for.
#[test]
fn what_rubs_is_named() {
    for friction in ["0.9", "2.0"] {
        let rubs = format!("{SLIDER}\nfriction_vertical = {friction}\nfriction_horizontal = {friction}");
        let both = ["door.mechanism.friction_vertical", "door.mechanism.friction_horizontal"];
        let bad = is_mended(friction, &design(Some(&rubs), &QUICK_DRIVE), &both);
        assert_eq!(row(&bad, "force_opening").key, both[0]);
    }
    let hinge = format!("{FLAP}\nhinge_friction = 2\npin_radius = \"40 mm\"");
    let bad = checked(&design(Some(&hinge), &OUT_OF_ITS_WAY));
    assert!(bad.mended, "{:?} leave {:?}", bad.changes, bad.left);
    assert!(keys(&bad).iter().all(|key| ["door.mechanism.hinge_friction", "door.mechanism.pin_radius"].contains(key)));
    let lift =
        [("guide_friction = 0.15", "guide_friction = 2"), (r#"drive_offset = "0.05 m""#, r#"drive_offset = "0.1 m""#)];
    is_mended("guides", &design(None, &lift), &["door.mechanism.guide_friction"]);
}

/// A leaf that opens past its rod's toggle is opened less far; nothing else is named for what fails by that.
#[test]
fn a_leaf_past_its_toggle_opens_less_far() {
    let far = LEAF.replace("90 deg", "170 deg");
    let bad = is_mended("toggle", &design(Some(&far), &OUT_OF_ITS_WAY), &["door.mechanism.open_angle"]);
    assert!(row(&bad, "rod_lever").note.contains("points through the hinge"));
}

/// A multiplexer's own address behind it.
#[test]
fn a_device_at_the_multiplexers_address_is_tight() {
    let mut scenario = read("scenarios/courtyard.toml");
    let bus = scenario.bus.as_mut().expect("a bus");
    (bus.multiplexer, bus.devices[0].address) = (true, 0x70);
    let result = check(&scenario).expect("a result");
    let row = row(&result, "bus_addresses");
    assert!(row.verdict == Verdict::Tight && row.note.contains("multiplexer's own"), "{row:?}");
}

/// Strokes turned back as if they had met somebody, in some seasons of the first strategy.
fn trips(scenario: &Scenario) -> f64 {
    seasons(scenario, 2, Key::ObstructionTrips)
}

/// A lift without counterweight and guide reaction has nothing but its seal's 15 N to rub: a tenth of it, four times over, is 6 N. A threshold
/// below that turns strokes back in the season; the one that is named does not. How many: each of the seal's share of chance, by the
/// normal law, as far as Poisson's spread tells.
#[test]
fn a_threshold_below_the_frictions_scatter_is_named() {
    let lift = |force: &str| {
        design(
            None,
            &[
                (r#"counterweight = "3.5 kg""#, r#"counterweight = "0 kg""#),
                (r#"drive_offset = "0.05 m""#, r#"drive_offset = "0 m""#),
                (r#"obstruction_force = "60 N""#, &format!(r#"obstruction_force = "{force}""#)),
            ],
        )
    };
    let file = lift("2 N");
    let keys = ["eye", "eye and status"].map(|name| format!("strategy.{name}.controller.obstruction_force"));
    let bad = is_mended("threshold", &file, &keys.each_ref().map(String::as_str));
    let found = row(&bad, "obstruction_threshold");
    assert!((found.value.expect("a force") - 6.0).abs() < 0.01, "{found:?}");
    let scenario = loaded_text(&file);
    let expected = seasons(&scenario, 2, Key::Strokes) * normal::tail(2.0 / 1.5);
    let had = trips(&scenario);
    assert!((had - expected).abs() < 4.0 * expected.sqrt() + 0.1 * expected, "{had} {expected}");
    assert_eq!(trips(&edited_text(&file, &bad.changes)), 0.0);
    // A threshold that only cold and wind could reach is advice, and the season does not trip.
    let cold = loaded_text(&lift("20 N"));
    let advised = check(&cold).expect("a result");
    let tight = row(&advised, "obstruction_threshold");
    assert!(tight.verdict == Verdict::Tight && tight.is_past_limit() && !tight.advice.is_empty(), "{tight:?}");
    assert_eq!(trips(&cold), 0.0);
}

/// With the failures of the list that raise the force, the season trips, and the row fails by their figures: 50 N at -10 °C in the
/// coldest hour of ten seasons, 40 % of a gust's force on the panel.
#[test]
fn a_threshold_below_cold_and_wind_of_the_scenario_is_named() {
    let cold = "[[failure]]\nmode = \"cold-drive-reversals\"\nname = \"cold\"\nforce = \"50 N\"\n\n[controller]";
    let file =
        design(None, &[("[controller]", cold), (r#"obstruction_force = "60 N""#, r#"obstruction_force = "20 N""#)]);
    let keys = ["eye", "eye and status"].map(|name| format!("strategy.{name}.controller.obstruction_force"));
    let bad = is_mended("cold", &file, &keys.each_ref().map(String::as_str));
    let found = row(&bad, "obstruction_threshold");
    let by_hand = 50.0 * (20.0 - bad.climate.coldest_c) / 30.0;
    assert!((found.value.expect("a force") - by_hand).abs() < 1e-9, "{found:?}");
    let (before, after) = (trips(&loaded_text(&file)), trips(&edited_text(&file, &bad.changes)));
    assert!(before > 50.0 && after < 0.05 * before, "{before} {after}");
    let wind = "[[failure]]\nmode = \"wind-on-door\"\nname = \"wind\"\nshare = 0.4\n\n[controller]";
    let gusty = [
        ("[controller]", wind),
        (r#"obstruction_force = "60 N""#, r#"obstruction_force = "8 N""#),
        ("wind_factor = 0.5", "wind_factor = 0.9"),
        (r#"wind = "2.5 m/s""#, r#"wind = "5 m/s""#),
    ];
    let bad = checked(&design(None, &gusty));
    let found = row(&bad, "obstruction_threshold");
    let climate = &bad.climate;
    let air = 101_325.0 / (287.05 * (climate.gust_c + 273.15));
    let by_hand = 0.4 * 1.3 * 0.6 * 0.4 * 0.5 * air * climate.gust_m_s * climate.gust_m_s;
    assert!(
        found.verdict == Verdict::Fails && (found.value.expect("a force") / by_hand - 1.0).abs() < 1e-3,
        "{found:?}"
    );
}
