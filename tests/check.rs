//! `check` on whole scenarios: shipped ones pass, a bad design fails for the right reasons and passes once repaired.

mod check_support;
mod common;
mod support;

use check_support::{edited, failing, loaded_text, read, row, starter, verdict};
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::{Key, METRICS};
use dooryard::report::check::{json, text};
use dooryard::report::plots::door;
use dooryard::report::text::Setting;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::{Mechanism, RollerCurtain, VerticalLift};
use dooryard::scenario::limits::Bound;
use dooryard::scenario::sensor::SensorKind;
use dooryard::sensing::channel::Sampling;
use dooryard::study::check::{Drawings, Row, Verdict, check, required_m};

#[test]
fn shipped_scenarios_pass() {
    for name in [
        "scenarios/coast.toml",
        "scenarios/hillside.toml",
        "scenarios/orchard.toml",
        "tests/scenarios/observed_year.toml",
    ] {
        let result = check(&read(name)).expect("weather is there");
        assert_eq!(failing(&result), Vec::<&str>::new(), "{name}");
        // Every question has its key, and frost is never called fine.
        assert!(result.rows.iter().all(|row| !row.key.is_empty()), "{name}");
        assert_eq!(verdict(&result, "force_opening_ice"), Verdict::Tight);
    }
}

#[test]
fn a_bad_design_fails_for_its_reasons_and_passes_once_repaired() {
    let bad = check(&read("tests/scenarios/stuck-panel.toml")).expect("weather is there");
    let fails = failing(&bad);
    for id in ["jam_opening", "jam_closing", "force_opening", "supply_peak", "bus_addresses", "limits"] {
        assert!(fails.contains(&id), "{id} is missing in {fails:?}");
    }
    // What is sound stays so.
    for id in ["headroom", "sweep_outside", "sweep_inside", "contact_energy", "drive_figures"] {
        assert!(!fails.contains(&id), "{id}");
    }
    let jam = bad.rows.iter().find(|row| row.id == "jam_opening").expect("a row");
    // atan(0.2) = 11.31 deg: 0.52 m (1 - cos) = 10.1 mm.
    assert!((jam.value.expect("a length") - 0.52 * (1.0 - 0.2_f64.atan().cos())).abs() < 1e-5);
    assert_eq!(jam.key, "door.mechanism.drive_at");
    // Next to a dead zone more force is no cure, and a motor that stands is no matter of the whole drive.
    for id in ["force_closing", "force_closing_wind", "duty", "stroke_time"] {
        assert_eq!(
            (verdict(&bad, id), row(&bad, id).key.as_str()),
            (Verdict::Fails, "door.mechanism.drive_at"),
            "{id}"
        );
    }
    let dead = |id: &str| bad.choices.iter().find(|choice| choice.id == id).expect("a choice").dead_deg;
    assert!(dead("vertical") > 20.0 && dead("chain") == 0.0 && dead("horizontal") == 0.0);
    assert!(dead("wheels") < 3.0 && dead("wheels") > 0.0);
    // Friction beside a dead zone needs a higher threshold; the lower one that the blow asks for is no answer to it.
    let threshold = row(&bad, "obstruction_threshold");
    let answers: Vec<&str> = bad.changes_for(threshold).iter().map(|change| change.key.as_str()).collect();
    assert_eq!((threshold.verdict, answers), (Verdict::Fails, vec!["door.mechanism.drive_at"]));
    // Exactly the changes that the rows name, made in the file, and nothing else.
    assert!(bad.mended && !bad.changes.is_empty());
    let report = text(&bad, Setting::default()).split_whitespace().collect::<Vec<_>>().join(" ");
    for change in &bad.changes {
        assert!(row(&bad, change.row).verdict == Verdict::Fails, "{} asks for a change and does not fail", change.row);
        let words = match change.value.as_str() {
            "" => format!("leave out {}", change.key),
            value => format!("{} = {value}", change.key),
        };
        let named = [": ", ", "].map(|before| format!("{before}{words}"));
        assert!(named.iter().any(|words| report.contains(words)), "{change:?} is named by no row");
    }
    for expected in ["door.mechanism.drive_at", "supply.class", "drive.current_limit", "bus.device.beam.address"] {
        assert!(bad.changes.iter().any(|change| change.key == expected), "{expected}: {:?}", bad.changes);
    }
    let good = check(&edited("tests/scenarios/stuck-panel.toml", &bad.changes)).expect("weather is there");
    assert_eq!(failing(&good), Vec::<&str>::new());
    assert!(good.changes.is_empty());
    // The panel lies over the docked mower, which is no fault.
    assert_eq!(verdict(&good, "sweep_inside"), Verdict::Fits);
    // None of them is idle: without any one something fails.
    for index in 0..bad.changes.len() {
        let mut fewer = bad.changes.clone();
        fewer.remove(index);
        let without = check(&edited("tests/scenarios/stuck-panel.toml", &fewer)).expect("weather is there");
        assert!(!failing(&without).is_empty(), "{:?} is not needed", bad.changes[index]);
    }
}

/// What `check` calls in time is in time when the season is played: the rows speak of a mower two standard deviations quicker
/// and further aside than the mean, in the dark and in the sun, so that one arrival in twenty may still be late.
#[test]
fn in_time_on_paper_is_in_time_in_the_season() {
    let shipped = ["coast", "hillside", "orchard"].map(|name| read(&format!("scenarios/{name}.toml")));
    for scenario in shipped.into_iter().chain([starter()]) {
        let result = check(&scenario).expect("weather is there");
        let plan = Plan::new(&scenario).expect("a plan");
        let outside = Outside::draw(&plan, 1, 0).expect("weather");
        let mut looked = 0;
        for (index, strategy) in scenario.strategies.iter().enumerate() {
            let fits = |row: &&Row| row.question.starts_with(&format!("strategy {}:", strategy.name));
            let row = result.rows.iter().find(fits).expect("a row for each strategy");
            if row.verdict != Verdict::Fits {
                continue;
            }
            looked += 1;
            let record = play(&plan, &outside, index, 1, Options { sampling: Sampling::Exact, events: false });
            let (late, arrivals) = (record.value(Key::LateOpenings), record.value(Key::Arrivals));
            assert!(
                arrivals > 50.0 && late <= 0.05 * arrivals,
                "{} {}: {late} of {arrivals}",
                scenario.name,
                strategy.name
            );
        }
        assert!(looked > 0, "{}: no strategy is in time", scenario.name);
    }
}

/// A new scenario is a sound one: nothing fails, and what it would accept is met with room to spare.
#[test]
fn the_starter_is_sound() {
    let scenario = starter();
    let result = check(&scenario).expect("weather is there");
    assert_eq!(failing(&result), Vec::<&str>::new());
    let plan = Plan::new(&scenario).expect("a plan");
    let seasons: Vec<_> = (0..4).map(|season| Outside::draw(&plan, 1, season).expect("weather")).collect();
    for index in 0..scenario.strategies.len() {
        let options = Options { sampling: Sampling::Exact, events: false };
        let records: Vec<_> = seasons.iter().map(|outside| play(&plan, outside, index, 1, options)).collect();
        for limit in &scenario.limits {
            let at = METRICS.iter().position(|metric| metric.key == limit.metric).expect("a metric");
            let key = dooryard::ledger::metric::KEYS[at];
            let mean = records.iter().map(|record| record.value(key)).sum::<f64>() / 4.0;
            assert!(limit.bound == Bound::AtMost && mean <= 0.5 * limit.value, "{}: {mean}", limit.metric);
        }
    }
    // Its comments speak of 2.6 m and of 7 s.
    let seen = row(&result, "detection_distance").value.expect("a distance");
    assert!((2.55..2.7).contains(&seen), "{seen}");
    let lasts = row(&result, "stroke_time").value.expect("a time");
    assert!((6.9..7.2).contains(&lasts), "{lasts}");
}

/// A cone wider than the mower sees it late however far its level reaches: the row names the cone, and its value helps.
#[test]
fn a_wide_cone_is_named_not_the_level() {
    let mut scenario = starter();
    let SensorKind::OpticalRange { aim, farthest_sun_m, .. } = &mut scenario.sensors[0].kind else { panic!("an eye") };
    (aim.half_cone_deg, aim.farthest_m, *farthest_sun_m) = (7.5, 4.0, 4.0);
    let result = check(&scenario).expect("weather is there");
    for id in ["stroke_time", "detection_distance"] {
        assert_eq!((verdict(&result, id), row(&result, id).key.as_str()), (Verdict::Fails, "sensor.eye.cone"), "{id}");
    }
    let named: Vec<&str> = result.changes.iter().map(|change| change.key.as_str()).collect();
    assert_eq!((result.mended, named), (true, vec!["sensor.eye.cone"]));
    // Raising the level does nothing.
    let seen = row(&result, "detection_distance").value;
    (scenario.detectors[0].on, scenario.detectors[0].off) = (3.4, 3.7);
    assert_eq!(row(&check(&scenario).expect("a result"), "detection_distance").value, seen);
    // A mower that has to wait at every arrival is not tight.
    scenario.mower.shut_door.patience_s = 600.0;
    let patient = check(&scenario).expect("a result");
    let late = row(&patient, "stroke_time");
    assert!(
        late.verdict == Verdict::Fails && late.margin().expect("a margin") < 0.0 && late.note.contains("waits outside")
    );
}

/// A lift balanced in full on a cord does not come down: a lighter counterweight helps, the place of the drive does not.
#[test]
fn a_balanced_lift_on_a_cord_does_not_close() {
    let mut scenario = support::base();
    let Mechanism::VerticalLift(lift) = scenario.door.mechanism.clone() else { panic!("a lift") };
    let with = |counterweight_kg| Mechanism::VerticalLift(VerticalLift { counterweight_kg, ..lift });
    scenario.door.mechanism = with(scenario.door.mass_kg);
    scenario.drive.pushes = false;
    let result = check(&scenario).expect("a result");
    for id in ["closes_by_itself", "jam_closing", "force_closing"] {
        assert_eq!(verdict(&result, id), Verdict::Fails, "{id}");
        assert_eq!(row(&result, id).key, "door.mechanism.counterweight", "{id}");
        let words = format!("{} {}", row(&result, id).question, row(&result, id).note);
        assert!(words.contains("push") && !words.contains("jams"), "{words}");
    }
    let change = result.changes.iter().find(|change| change.key == "door.mechanism.counterweight").expect("a change");
    change.apply(&mut scenario);
    let lighter = check(&scenario).expect("a result");
    assert_eq!(verdict(&lighter, "closes_by_itself"), Verdict::Fits);
    assert_eq!(verdict(&lighter, "jam_closing"), Verdict::Fits);
    // A step more would hang again.
    let Mechanism::VerticalLift(now) = &scenario.door.mechanism else { panic!("a lift") };
    scenario.door.mechanism = with(now.counterweight_kg + 0.1);
    assert_eq!(verdict(&check(&scenario).expect("a result"), "closes_by_itself"), Verdict::Fails);
    scenario.drive.pushes = true;
    assert_eq!(verdict(&check(&scenario).expect("a result"), "closes_by_itself"), Verdict::Fits);
}

/// What a drive does not notice it presses on: the threshold decides how hard, and `check` says so and names it.
#[test]
fn the_threshold_decides_how_hard_a_door_presses() {
    let with = |force_n: f64| {
        let mut scenario = starter();
        scenario.strategies.iter_mut().for_each(|strategy| strategy.controller.obstruction_force_n = force_n);
        check(&scenario).expect("a result")
    };
    let force = |force_n: f64| row(&with(force_n), "contact_force").value.expect("a force");
    let forces = [30.0, 60.0, 150.0, 300.0, 460.0].map(|threshold| (threshold, force(threshold)));
    assert!(forces.is_sorted_by(|a, b| a.1 < b.1), "{forces:?}");
    assert!(forces.iter().all(|(threshold, force)| force > threshold), "{forces:?}");
    // By hand: 600 N x (4 A - 0.4 A)/(5 A - 0.4 A) = 470 N, and what of the panel its counterweight leaves.
    let pressed = force(5_000.0);
    assert!(pressed >= 469.5 && pressed > forces[4].1, "{pressed}");
    for (threshold, words) in [(300.0, "lies above this limit"), (5_000.0, "does not notice it")] {
        let result = with(threshold);
        let told = row(&result, "contact_force");
        assert!(told.note.contains(words), "{}", told.note);
        assert_eq!(told.verdict, Verdict::Fails);
        assert!(result.mended, "{:?}", result.left);
        let lowers = |name: &str| {
            let key = format!("strategy.{name}.controller.obstruction_force");
            result.changes.iter().any(|change| change.key == key)
        };
        assert!(lowers("eye") && lowers("eye and status"), "{:?}", result.changes);
    }
    assert!(!row(&with(60.0), "contact_force").note.contains("notice"));
    // One careless strategy is enough.
    let mut one = starter();
    one.strategies[1].controller.obstruction_force_n = 300.0;
    let result = check(&one).expect("a result");
    assert_eq!(row(&result, "contact_force").value, Some(forces[3].1));
    assert!(row(&result, "contact_force").note.contains("strategy eye and status"));
}

/// Nothing pushes a hanging curtain, whatever the file says of its drive: no blow of the rotor, and a light bar hangs up.
#[test]
fn a_curtain_cannot_be_pushed() {
    let mut scenario = support::base();
    let curtain = |bar_kg| {
        Mechanism::RollerCurtain(RollerCurtain {
            stroke_m: 0.38,
            bar_kg,
            tube_radius_m: 0.025,
            thickness_m: 0.004,
            guide_friction: 0.2,
        })
    };
    (scenario.door.mechanism, scenario.door.mass_kg, scenario.door.seal_n) = (curtain(2.0), 4.0, 5.0);
    let force = |scenario: &Scenario| row(&check(scenario).expect("a result"), "contact_force").value.expect("a force");
    scenario.drive.pushes = true;
    let pushed = force(&scenario);
    scenario.drive.pushes = false;
    assert_eq!(pushed, force(&scenario));
    // An edge stopped by its obstacle carries the curtain's weight and its blow, no more.
    assert!(pushed < 200.0, "{pushed}");
    (scenario.door.mechanism, scenario.door.mass_kg) = (curtain(0.01), 0.02);
    scenario.drive.pushes = true;
    let light = check(&scenario).expect("a result");
    assert_eq!(
        (verdict(&light, "closes_by_itself"), row(&light, "closes_by_itself").key.as_str()),
        (Verdict::Fails, "door.mechanism.bar")
    );
}

/// Every row names a key that a user can find: never a whole section.
#[test]
fn keys_are_not_vague() {
    let files = ["scenarios/coast.toml", "scenarios/orchard.toml", "tests/scenarios/stuck-panel.toml"];
    for scenario in files.map(read) {
        for row in check(&scenario).expect("weather is there").rows {
            let sections = [
                "drive",
                "drive.heat",
                "strategy.open",
                "door.mechanism",
                "supply",
                "sensor.eye",
                "bus.device.address",
            ];
            assert!(!sections.contains(&row.key.as_str()), "{}: {}", row.id, row.key);
        }
    }
}

/// One figure changed for the worse moves its own row and no sound one to a failure.
#[test]
fn each_row_can_fail() {
    let base = support::base();
    let mut sound = base.clone();
    sound.door.edge_stiffness_n_m = 4_000.0;
    // The second strategy asks only when the mower leaves: every arrival is missed.
    assert_eq!(verdict(&check(&sound).expect("a result"), "stroke_time"), Verdict::Fits);
    assert_eq!(failing(&check(&sound).expect("a result")), ["stroke_time"]);
    sound.strategies.truncate(1);
    assert_eq!(failing(&check(&sound).expect("a result")), Vec::<&str>::new());
    type Spoil = (&'static str, fn(&mut Scenario));
    let worse: [Spoil; 8] = [
        ("clear_width", |s| s.mower.width_m = 0.55),
        ("headroom", |s| s.mower.height_m = 0.41),
        ("force_opening", |s| s.drive.stall_force_n = 20.0),
        ("contact_force", |s| s.door.edge_stiffness_n_m = 500_000.0),
        ("contact_energy", |s| s.drive.reflected_mass_kg = 4_000.0),
        ("duty", |s| s.drive.duty_factor = 0.01),
        ("winding", |s| (s.drive.heat.winding_j_k, s.drive.heat.winding_housing_k_w) = (0.05, 4_000.0)),
        ("supply_peak", |s| s.supply.limit_w = 40.0),
    ];
    for (id, spoil) in worse {
        let mut scenario = sound.clone();
        spoil(&mut scenario);
        assert_eq!(verdict(&check(&scenario).expect("a result"), id), Verdict::Fails, "{id}");
    }
}

#[test]
fn reports_and_drawings() {
    let scenario = read("tests/scenarios/stuck-panel.toml");
    let result = check(&scenario).expect("weather is there");
    let report = text(&result, Setting::default());
    assert!(report.lines().all(|line| line.chars().count() <= 80 && line.trim_end() == line), "{report}");
    for words in ["What fails", "EN 12453", "UL 325", "IEC 60335-2-103", "Where to push the panel", "licensed"] {
        assert!(report.contains(words), "{words}");
    }
    assert!(!report.contains("inf") && !report.contains("NaN"), "{report}");
    let document: serde_json::Value =
        serde_json::from_str(&json(&result, "0", &[]).expect("a document")).expect("JSON");
    assert_eq!(document["verdict"], "fails");
    assert_eq!(document["rows"].as_array().expect("rows").len(), result.rows.len());
    let drawings = Drawings::new(&scenario, &result.climate).expect("drawings");
    assert!(!drawings.zones.is_empty() && drawings.winding.len() > 100);
    // Every start is refused by the supply: the sheet says so rather than show a cool motor.
    assert_eq!(drawings.strokes, 0);
    let figures = door::all(&drawings).expect("figures");
    assert!(figures.iter().any(|figure| figure.svg.contains("the supply refuses them all")));
    for figure in door::all(&drawings).expect("figures") {
        assert!(figure.svg.starts_with("<svg") && figure.svg.contains("</svg>") && !figure.svg.contains("NaN"));
        assert!(figure.csv.len() > 100 && !figure.alt.is_empty());
    }
}

/// The day that is drawn is the one on which the season's book has its hottest winding, whatever the number of its strokes; a motor
/// that stalls against the ice, or a jam, heats too.
#[test]
fn the_hottest_day_is_drawn() {
    let sound = read("scenarios/orchard.toml");
    let mut stalled = read("tests/scenarios/stuck-panel.toml");
    stalled.supply.limit_w = 500.0;
    for scenario in [sound, stalled] {
        let result = check(&scenario).expect("weather is there");
        let drawings = Drawings::new(&scenario, &result.climate).expect("drawings");
        let plan = Plan::new(&scenario).expect("a plan");
        let outside = Outside::draw(&plan, 1, 0).expect("weather");
        let record = play(&plan, &outside, 0, 1, Options { sampling: Sampling::Exact, events: false });
        let booked = record.value(Key::WindingPeak);
        let drawn = drawings.winding.iter().map(|point| point.1).fold(f64::NEG_INFINITY, f64::max);
        assert!(drawings.strokes > 0, "{}", scenario.name);
        // The replay takes the means of whole strokes for cut-short ones.
        assert!((drawn - booked).abs() < 2.0, "{}: {drawn} against {booked}", scenario.name);
    }
}

/// What acts on batteries and glass is named as what acts on fingers.
#[test]
fn cautions_name_what_can_hurt() {
    let all = dooryard::shelter::cautions::CAUTIONS.join(" ").to_lowercase();
    for word in ["force", "shear", "mains", "battery", "glass", "local codes", "licensed"] {
        assert!(all.contains(word), "{word}");
    }
}

/// A shelter far from the mains is held to the sun it gets: the shipped one by its panel and battery.
#[test]
fn a_solar_supply_is_checked() {
    let mut scenario = read("scenarios/coast.toml");
    let result = check(&scenario).expect("weather is there");
    assert!(verdict(&result, "solar_balance") != Verdict::Fails && verdict(&result, "battery_dark") != Verdict::Fails);
    // Standby of 0.8 W over 0.9 for 24 hours takes 21.3 Wh before the motor; 20 W x 0.65 x 3 h bring 39 Wh.
    let balance = row(&result, "solar_balance");
    assert!(balance.value.expect("energy") > 21.3 && (balance.limit.expect("sun") - 39.0).abs() < 1e-9);
    scenario.supply.standby_w = 4.0;
    assert_eq!(verdict(&check(&scenario).expect("a result"), "solar_balance"), Verdict::Fails);
}

/// Speed x (opening time + latency) + margin, against a table computed elsewhere.
#[test]
fn required_detection_distance() {
    for row in common::records("sensing/required_detection_distance.csv") {
        let n = |column: &str| common::number(&row, column);
        let got = required_m(n("speed_m_s"), n("open_time_s"), n("detection_latency_s"), n("margin_m"));
        assert!((got - n("d_need_m")).abs() < 1e-12, "{row:?}: {got}");
    }
}

/// A ranger that alone opens the door is a single failure; with the mower's messages beside it only what takes both is.
#[test]
fn single_failures_are_named() {
    let note = |scenario: &Scenario, strategy: &str| {
        let result = check(scenario).expect("a result");
        let of = |row: &&dooryard::study::check::Row| row.id == "single_failure" && row.question.contains(strategy);
        result.rows.iter().find(of).expect("a row").clone()
    };
    let scenario = read("scenarios/hillside.toml");
    let alone = note(&scenario, "strategy ranger:");
    assert!(alone.note.contains("ear dead") && alone.verdict == Verdict::Tight, "{alone:?}");
    let messages = note(&scenario, "strategy status:");
    assert!(messages.note.contains("no network"), "{messages:?}");
    let both = note(&scenario, "strategy ranger or status:");
    assert!(!both.note.contains("dead") && both.verdict == Verdict::Fits, "{both:?}");
}

/// Dew leaves an optical ranger what the scenario's own failure says, and the more of it the farther it sees; one that gets no reading
/// in rain is blind there.
#[test]
fn dew_and_rain_are_asked_of_an_optical_ranger() {
    let seen = |more: &str, id: &str| {
        let text = format!("include = [\"{}/scenarios/orchard.toml\"]\n{more}", env!("CARGO_MANIFEST_DIR"));
        let result = check(&loaded_text(&text)).expect("a result");
        result.rows.iter().find(|row| row.id == id).and_then(|row| row.value).expect("a value")
    };
    let dew = |range: f64| {
        seen(&format!("[[failure]]\nmode = \"dew-on-window\"\nrange = {range}\n"), "detection_distance_dew")
    };
    assert!(dew(0.3) < dew(0.5));
    assert_eq!(dew(0.7), seen("", "detection_distance_dew"));
    assert!(dew(1.0) > dew(0.7));
    let rain = |share: f64| {
        seen(&format!("[[sensor]]\nname = \"eye\"\ndropout_in_rain = {share}\n"), "detection_distance_rain")
    };
    assert!(rain(0.5) > 0.0);
    assert_eq!(rain(1.0), 0.0);
}

/// Hard conditions never lengthen what an optical ranger sees; full sun shortens it.
#[test]
fn detection_in_hard_conditions() {
    let result = check(&read("scenarios/orchard.toml")).expect("a result");
    let seen = |id: &str| result.rows.iter().find(|row| row.id == id).and_then(|row| row.value).expect("a value");
    assert!(seen("detection_distance_sun") <= seen("detection_distance"));
    assert!(seen("detection_distance_dark_shell") <= seen("detection_distance"));
    // Every condition is asked of it; dew takes some of its range.
    assert!(seen("detection_distance_rain") > 0.0);
    assert!(seen("detection_distance_dew") < seen("detection_distance"));
}
