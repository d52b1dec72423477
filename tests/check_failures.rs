//! `check` asks of the scenario as its lasting failures leave it, of what else notices the mower, and of a mower that stops where
//! the panel comes down.

mod check_support;

use check_support::{failing, read, row};
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::EDGE_ZONE_M;
use dooryard::scenario::failure::{Failure, mode};
use dooryard::scenario::sensor::SensorKind;
use dooryard::scenario::strategy::Condition;
use dooryard::sensing::channel::Sampling;
use dooryard::study::check::{CheckResult, Verdict, check};

fn courtyard() -> Scenario {
    read("scenarios/courtyard.toml")
}

/// With a failure of this mode and these figures, in the mode's order.
fn with(scenario: &Scenario, name: &str, figures: &[f64]) -> Scenario {
    let mode = mode(name).expect("a mode");
    let fits = |index: &usize| mode.hits.fits(&scenario.sensors[*index].kind);
    let mut failure = Failure::usual(mode, (0..scenario.sensors.len()).filter(fits).collect());
    failure.figures = figures.to_vec();
    Scenario { failures: vec![failure], ..scenario.clone() }
}

fn checked(scenario: &Scenario) -> CheckResult {
    check(scenario).expect("a result")
}

fn place(scenario: &Scenario, detector: &str) -> usize {
    scenario.detectors.iter().position(|it| it.name == detector).expect("a detector")
}

/// A shell as dark as the failure says is asked about as if the mower itself were so dark; wet it is darker still.
#[test]
fn a_dark_shell_is_asked_about() {
    let plain = courtyard();
    let dark = with(&plain, "dark-mower-shell", &[0.02, 1.0]);
    let mut own = plain.clone();
    own.mower.reflectance = 0.02;
    let (by_failure, by_mower) = (checked(&dark), checked(&own));
    assert_eq!(failing(&checked(&plain)), Vec::<&str>::new());
    assert!(failing(&by_failure).contains(&"detection_distance"), "{:?}", failing(&by_failure));
    assert_eq!(failing(&by_failure), failing(&by_mower));
    assert_eq!(by_failure.lasting, ["dark-mower-shell"]);
    // An optical ranger's reach follows the root of the reflectance here or stays put; wet by half it is never seen from farther.
    let wet = |factor: f64| {
        let result = checked(&with(&plain, "dark-mower-shell", &[0.07, factor]));
        row(&result, "detection_distance_dark_shell").value.expect("a distance")
    };
    assert!(wet(0.5) < wet(1.0) - 0.2, "{} against {}", wet(0.5), wet(1.0));
}

/// Ice of a failure binds the seal that is asked about.
#[test]
fn lasting_ice_is_asked_about() {
    let hillside = read("scenarios/hillside.toml");
    let iced = checked(&with(&hillside, "frozen-door", &[8_000.0]));
    assert!(!failing(&checked(&hillside)).contains(&"frozen_seal"));
    let frozen = iced.rows.iter().find(|row| row.question.contains("frozen seal")).expect("a row");
    assert_eq!(frozen.verdict, Verdict::Fails);
}

/// A beam in the doorway does not notice a mower that waits before it; one across its way does.
#[test]
fn a_beam_in_the_doorway_notices_no_arrival() {
    let alone = |x: f64| {
        let mut scenario = courtyard();
        let broken = place(&scenario, "broken");
        let beam = scenario.detectors[broken].sensor;
        if let SensorKind::BreakBeam { x_m, .. } = &mut scenario.sensors[beam].kind {
            *x_m = x;
        }
        let near = place(&scenario, "near");
        scenario.strategies.truncate(1);
        scenario.strategies[0].open = Condition::Any(vec![Condition::Detector(near), Condition::Detector(broken)]);
        row(&checked(&scenario), "single_failure").note.contains("eye dead")
    };
    assert!(alone(0.08));
    assert!(!alone(1.5));
}

/// A line just inside the edge does not see a mower whose tail is farther in, but within the way of a panel that swings into the shelter:
/// the season's panel swings into it there, and nowhere once the line lies at the end of that way.
#[test]
fn a_tail_in_the_way_of_a_swinging_panel_is_asked_about() {
    let with_line = |x: f64| {
        let mut scenario = courtyard();
        let inner = scenario.detectors[place(&scenario, "broken inside")].sensor;
        if let SensorKind::BreakBeam { x_m, .. } = &mut scenario.sensors[inner].kind {
            *x_m = x;
        }
        scenario.strategies.truncate(1);
        let unnoticed = row(&checked(&scenario), "stops_in_the_way").value.expect("a length");
        let contacts = [0.1, 0.15, 0.2, 0.3].map(|short_m| {
            let plan = Plan::new(&with(&scenario, "half-on-platform", &[1.0, short_m])).expect("a plan");
            let outside = Outside::draw(&plan, 1, 0).expect("weather");
            play(&plan, &outside, 0, 1, Options { sampling: Sampling::Exact, events: false }).value(Key::PanelContacts)
        });
        (unnoticed, contacts.iter().sum::<f64>())
    };
    let (unnoticed, contacts) = with_line(-0.04);
    assert!(unnoticed > 0.05 && contacts > 500.0, "{unnoticed} m, {contacts} contacts");
    let (unnoticed, contacts) = with_line(-0.16);
    assert!(unnoticed == 0.0 && contacts < 20.0, "{unnoticed} m, {contacts} contacts");
}

/// By hand: with nothing but a line at x = 0.08 m a mower whose tail is between the edge's zone and that line is under the edge and
/// breaks nothing.
#[test]
fn a_tail_stops_in_the_way_is_asked_about() {
    let mut scenario = courtyard();
    for row in checked(&scenario).rows.iter().filter(|row| row.id == "stops_in_the_way") {
        assert_eq!((row.value, row.verdict), (Some(0.0), Verdict::Fits));
    }
    let outer = place(&scenario, "broken");
    scenario.strategies.truncate(1);
    scenario.strategies[0].doorway = Condition::Detector(outer);
    scenario.strategies[0].hold = Condition::Detector(outer);
    let result = checked(&scenario);
    let under = row(&result, "stops_in_the_way");
    // And farther in, as far as the panel swings.
    let least = 0.08 + EDGE_ZONE_M;
    assert!((least - 0.011..least + 0.2).contains(&under.value.expect("a length")), "{:?}", under.value);
    assert!(under.note.contains("to 0.08 m") || under.note.contains("to 0.07 m"), "{}", under.note);
    assert_eq!(under.verdict, Verdict::Tight);
    // A longest open time overrules whatever the hold rule sees.
    let inner = place(&scenario, "broken inside");
    scenario.strategies[0].hold = Condition::Detector(inner);
    assert_eq!(row(&checked(&scenario), "stops_in_the_way").verdict, Verdict::Fits);
    scenario.strategies[0].controller.open_at_most = Some(dooryard::math::time::Span::HOUR);
    assert_eq!(row(&checked(&scenario), "stops_in_the_way").verdict, Verdict::Tight);
}
