//! A drive that fails at its strokes without stalling: its seasons say so, and its misses have their own causes.

mod support;

use dooryard::ledger::blame::Blamed;
use std::sync::atomic::AtomicBool;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::scenario::Scenario;
use dooryard::scenario::care::BrownOut;
use dooryard::sensing::channel::Sampling;
use dooryard::study::alarm::{Untried, alarms, untried};
use dooryard::study::lifetime::lifetime;
use dooryard::study::run::RunSettings;

fn seasons(scenario: &Scenario) -> (Plan, Vec<SeasonRecord>) {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let options = Options { sampling: Sampling::Exact, events: false };
    let season = |number| play(&plan, &Outside::draw(&plan, 5, number).expect("weather"), 0, 5, options);
    let records = (0..3).map(season).collect();
    (plan, records)
}

fn total(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).sum()
}

fn missed_by(plan: &Plan, records: &[SeasonRecord], cause: &str) -> u64 {
    let place = plan.causes[Blamed::MissedArrivals].iter().position(|name| name == cause).expect("a cause");
    records.iter().map(|record| record.by_cause[Blamed::MissedArrivals][place]).sum()
}

/// A controller that tries again and again, so that it never comes to stand in fault.
fn patient() -> Scenario {
    let mut scenario = support::usual();
    scenario.calendar.last_day = jiff::civil::date(2025, 4, 21);
    scenario.strategies[0].controller.retries = 10_000;
    scenario
}

/// A winding so small that its cut-out opens in the middle of many strokes.
fn hot() -> Scenario {
    let mut scenario = patient();
    let heat = &mut scenario.drive.heat;
    (heat.winding_j_k, heat.winding_housing_k_w, heat.trips_at_c, heat.resets_at_c) = (0.25, 60.0, 45.0, 38.0);
    scenario
}

/// Cut-outs are neither stalls nor brown-outs, and count among the strokes that failed all the same: a warning, no bound from
/// above, and the same from `lifetime`.
#[test]
fn a_drive_that_trips_is_named() {
    let scenario = hot();
    let (_, records) = seasons(&scenario);
    let [strokes, failed, trips, stalls, brown_outs] =
        [Key::Strokes, Key::StrokesFailed, Key::ThermalTrips, Key::Stalls, Key::BrownOuts]
            .map(|key| total(&records, key));
    assert!(failed > 0.05 * strokes && trips > 0.0, "{failed} of {strokes}, {trips} trips");
    assert!(stalls + brown_outs < 0.05 * strokes, "{stalls} stalls, {brown_outs} brown-outs");
    let said = alarms("eye", &records);
    let expected = format!("eye: of {strokes:.0} strokes {failed:.0} failed");
    assert!(said.iter().any(|line| line.starts_with(&expected)), "{said:?}");
    assert_eq!(untried(&records), Some(Untried::DriveFails));
    let settings = RunSettings {
        seasons: 2,
        first_season: 0,
        seed: 5,
        strategies: vec![0],
        threads: Some(1),
        events: false,
        sampling: Sampling::Exact,
        confidence: 0.95,
        stop: &AtomicBool::new(false),
    };
    let life = lifetime(&scenario, &settings, &|_| {}).expect("it can be played");
    assert!(life.alarms.iter().any(|line| line.contains("the thermal cut-out opened")), "{:?}", life.alarms);
}

/// A controller that waits to try again is not in fault: what it misses then is put down to the cut-out or to the stroke.
#[test]
fn misses_of_a_stopped_door_have_causes_of_their_own() {
    let (plan, records) = seasons(&hot());
    assert_eq!(total(&records, Key::FaultTime), 0.0);
    assert_eq!(missed_by(&plan, &records, "controller in fault"), 0);
    assert!(missed_by(&plan, &records, "thermal cut-out") > 10);
    // Time-outs just before the end of each stroke: a closing counts as shut on its seal, an opening goes on after a pause.
    let mut hasty = patient();
    hasty.strategies[0].controller.stroke_timeout = 0.993;
    let (plan, records) = seasons(&hasty);
    assert_eq!(missed_by(&plan, &records, "controller in fault"), 0);
    assert!(missed_by(&plan, &records, "failed stroke") > 10, "{:?}", records[0].by_cause[Blamed::MissedArrivals]);
    assert_eq!(missed_by(&plan, &records, "thermal cut-out"), 0);
}

/// A stroke that the supply refuses has failed, whether the controller restarts over it or not.
#[test]
fn refused_strokes_count_as_failed() {
    for brown_out in [BrownOut::Resets, BrownOut::RidesThrough] {
        let mut scenario = patient();
        scenario.supply.limit_w = 10.0;
        scenario.strategies[0].controller.care.brown_out = brown_out;
        let (_, records) = seasons(&scenario);
        let [failed, refused] = [Key::StrokesFailed, Key::BrownOuts].map(|key| total(&records, key));
        assert!(refused > 10.0, "{brown_out:?}: {refused}");
        assert_eq!(failed, refused, "{brown_out:?}");
    }
}
