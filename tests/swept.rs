//! What the panel swings through outside the doorway: the mower that waits there, visitors, the docked mower.

mod support;

use dooryard::ledger::blame::Blamed;
use std::sync::atomic::AtomicBool;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::{EDGE_ZONE_M, Mechanism, Rod, SideLeaf, Swing};
use dooryard::scenario::mower::Spread;
use dooryard::scenario::visitor::{Fault, FaultKind};
use dooryard::sensing::channel::Sampling;
use dooryard::shelter::actuator::Actuator;
use dooryard::shelter::loads::Loads;
use dooryard::shelter::mechanism::{self, Direction, leaf, survey};
use dooryard::study::alarm;
use dooryard::study::check::{Verdict, check};
use dooryard::study::lifetime::lifetime;
use dooryard::study::run::{RunSettings, run};

fn a_leaf(opens: Swing) -> SideLeaf {
    SideLeaf {
        opens,
        thickness_m: 0.03,
        open_angle_deg: 90.0,
        hinge_friction: 0.2,
        pin_radius_m: 0.004,
        thrust_radius_m: 0.006,
        hinge_span_m: 0.3,
        lean_deg: 0.0,
        rod: Rod { frame_out_m: -0.3, frame_along_m: 0.2, panel_along_m: 0.13, panel_behind_m: 0.02 },
    }
}

/// A leaf 0.6 m wide, so slow that it is still on its way when the mower has come to its waiting point at 0.5 m. No visitors.
fn slow_leaf(opens: Swing) -> Scenario {
    let mut scenario = support::usual();
    scenario.calendar.last_day = jiff::civil::date(2025, 4, 21);
    scenario.door.mechanism = Mechanism::SideLeaf(a_leaf(opens));
    scenario.drive.no_load_speed_m_s = 0.006;
    scenario.visitors.clear();
    scenario
}

fn seasons(scenario: &Scenario) -> (Plan, Vec<SeasonRecord>) {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let options = Options { sampling: Sampling::Exact, events: true };
    let season = |number| play(&plan, &Outside::draw(&plan, 8, number).expect("weather"), 0, 8, options);
    let records = (0..3).map(season).collect();
    (plan, records)
}

fn contacts(plan: &Plan, records: &[SeasonRecord], cause: &str) -> u64 {
    let place = plan.causes[Blamed::Contacts].iter().position(|name| name == cause).expect("a cause");
    records.iter().map(|record| record.by_cause[Blamed::Contacts][place]).sum()
}

fn swings_into_mower(scenario: &Scenario) -> u64 {
    let (plan, records) = seasons(scenario);
    contacts(&plan, &records, "the door swings into the mower")
}

fn total(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).sum()
}

fn fails(scenario: &Scenario, id: &str) -> bool {
    let result = check(scenario).expect("it can be checked");
    result.rows.iter().any(|row| row.id == id && row.verdict == Verdict::Fails)
}

/// Where a leaf 0.6 m wide, hinged at y = 0.3 m, touches a box whose near side stands at x = 0.5 m, by hand: its edge reaches
/// 0.5 m at asin(5/6) = 56.4 deg, and leaves the box at its side of y = 0.21 m at acos(0.09/0.6) = 81.4 deg.
#[test]
fn where_a_leaf_touches_a_box() {
    let scenario = slow_leaf(Swing::Outwards);
    let door = &scenario.door;
    let swept = survey::swept(door, 0.26);
    let leaf = a_leaf(Swing::Outwards);
    let (first, last) = survey::meetings(door, &swept, (0.5, -0.21), (1.1, 0.21)).expect("it does");
    assert!((leaf::angle(&leaf, first.at_m).to_degrees() - (5.0_f64 / 6.0).asin().to_degrees()).abs() < 1e-6);
    assert!((leaf::angle(&leaf, last.at_m).to_degrees() - (0.09_f64 / 0.6).acos().to_degrees()).abs() < 1e-6);
    // It touches with its edge, first and last.
    assert!((first.share - 1.0).abs() < 1e-6, "{first:?}");
    assert!((last.share - 1.0).abs() < 1e-6, "{last:?}");
    let gain = survey::gain(door, &first);
    assert!((gain / mechanism::edge_gain(door, first.at_m) - 1.0).abs() < 1e-3, "{gain}");
    assert!(survey::meetings(door, &swept, (0.61, -0.21), (1.1, 0.21)).is_none());
    // A panel that keeps to the door line sweeps nothing.
    assert!(survey::swept(&support::usual().door, 0.26).is_empty());
}

/// The season feels what `check` refuses: a leaf that swings through the mower at its waiting point.
#[test]
fn a_leaf_swings_into_the_waiting_mower() {
    let scenario = slow_leaf(Swing::Outwards);
    assert!(fails(&scenario, "sweep_outside"));
    let (plan, records) = seasons(&scenario);
    let hits = contacts(&plan, &records, "the door swings into the mower");
    assert!(hits > 10, "{hits}");
    assert!(total(&records, Key::ObstructionTrips) >= hits as f64);
    assert!(total(&records, Key::Contacts) >= hits as f64);
    // The first touch of each season, by hand: at 56.4 deg, where the edge reaches 0.5 m.
    let (first, _) = survey::meetings(&scenario.door, &plan.sweep, (0.5, -0.21), (1.1, 0.21)).expect("it does");
    for record in &records {
        let contact = record.events.iter().find(|event| event.who == "door" && event.what == "contact");
        let detail = &contact.expect("a contact").detail;
        let at: f64 = detail
            .split("at ")
            .nth(1)
            .and_then(|rest| rest.split(' ').next())
            .and_then(|at| at.parse().ok())
            .expect(detail);
        assert!((at - first.at_m).abs() < 1.1e-3, "{detail} against {first:?}");
    }
    assert!(records.iter().all(|record| record.value(Key::PeakContactForce) > 0.0));
    assert!(records.iter().all(|record| record.value(Key::PeakContactEnergy) > 0.0));
}

/// Whoever plays seasons says so, too: what warns of it is the cause of the contacts, not their number.
#[test]
fn a_run_and_a_lifetime_say_that_the_panel_swings_into_the_mower() {
    let scenario = slow_leaf(Swing::Outwards);
    let stop = AtomicBool::new(false);
    let settings = RunSettings {
        seed: 8,
        first_season: 0,
        seasons: 3,
        strategies: vec![0],
        threads: Some(1),
        sampling: Sampling::Exact,
        events: false,
        confidence: 0.95,
        stop: &stop,
    };
    let says = |warnings: &[String]| warnings.iter().any(|line| line.contains("the door swung into the mower"));
    let played = run(&scenario, "", &settings, &|_| {}).expect("it runs");
    assert!(says(&played.warnings), "{:?}", played.warnings);
    let lives = lifetime(&scenario, &settings, &|_| {}).expect("it lasts");
    assert!(says(&lives.alarms), "{:?}", lives.alarms);
}

/// A drive that feels nothing pushes on until its time is over: the stroke fails.
#[test]
fn a_drive_that_feels_nothing_fails_at_it() {
    let felt = seasons(&slow_leaf(Swing::Outwards)).1;
    let mut numb = slow_leaf(Swing::Outwards);
    numb.strategies[0].controller.obstruction_force_n = 5_000.0;
    let numb = seasons(&numb).1;
    assert!(total(&felt, Key::StrokesFailed) < 1.0, "{}", total(&felt, Key::StrokesFailed));
    assert!(total(&numb, Key::StrokesFailed) > 10.0 && total(&numb, Key::ObstructionTrips) < 1.0);
    // It presses with all it has, warm as it is: more than what is felt in time.
    let scenario = slow_leaf(Swing::Outwards);
    let line = Actuator::at(&scenario.drive, &scenario.supply, 60.0);
    let swept = survey::swept(&scenario.door, 0.26);
    let (first, _) = survey::meetings(&scenario.door, &swept, (0.5, -0.21), (1.1, 0.21)).expect("it does");
    let gain = survey::gain(&scenario.door, &first);
    let (opening, calm) = (Direction::Opening, Loads::CALM);
    let press = mechanism::pressing_n(&scenario.door, opening, line.available_n(), first.at_m, &calm, gain);
    let peak =
        |records: &[SeasonRecord]| records.iter().map(|record| record.value(Key::PeakContactForce)).fold(0.0, f64::max);
    assert!(peak(&numb) > press, "{} {press}", peak(&numb));
    assert!(peak(&felt) < 0.9 * peak(&numb), "{} {}", peak(&felt), peak(&numb));
    // The threshold is a force of the drive; at the edge it is as much smaller as the edge is faster.
    assert!(peak(&felt) > 60.0 / gain, "{} {gain}", peak(&felt));
}

/// A mower on its way to a waiting point close to the door drives into a leaf that is on its own way: it stops where they meet, as
/// at a shut door, and comes no nearer while the leaf is in its lane.
#[test]
fn a_driving_mower_meets_the_leaf() {
    let mut near = slow_leaf(Swing::Outwards);
    near.mower.shut_door.waits_at_m = 0.1;
    let (plan, records) = seasons(&near);
    assert!(contacts(&plan, &records, "the door swings into the mower") > 10);
    let leaf = a_leaf(Swing::Outwards);
    let mut met = 0;
    for record in &records {
        for (place, event) in record.events.iter().enumerate() {
            if event.who != "door" || event.what != "contact" {
                continue;
            }
            let detail: Vec<f64> = event.detail.split(' ').filter_map(|word| word.parse().ok()).collect();
            let [force_n, at_m] = detail[..] else { panic!("{}", event.detail) };
            let nose = record.events[place + 1..].iter().take_while(|other| other.at == event.at).find_map(|other| {
                let stops = other.who == "mower" && other.what == "waits outside";
                stops.then(|| other.detail.split(' ').filter_map(|word| word.parse::<f64>().ok()).next()).flatten()
            });
            let Some(nose) = nose else { continue };
            met += 1;
            // Where the edge of the leaf is as far out as the nose, or, where it stands aside of it by then, its line is.
            let angle = leaf::angle(&leaf, at_m);
            assert!(nose > 0.1 && nose < 0.6 * angle.sin() + 0.01, "{nose} at {}", angle.to_degrees());
            // 11 kg or so at 0.2 m/s against 20 N/mm, whatever the leaf adds.
            let own =
                (near.door.edge_stiffness_n_m * near.mower.mass_kg).sqrt() * 0.5 * near.mower.approach.slow_speed_m_s;
            assert!(force_n > own, "{force_n} {own}");
        }
    }
    assert!(met > 10, "{met}");
    let mut far = near.clone();
    far.mower.shut_door.waits_at_m = 0.8;
    let (plan, apart) = seasons(&far);
    assert_eq!(contacts(&plan, &apart, "the door swings into the mower"), 0);
    // Every way home is an arrival, whether it ends at the waiting point or at the leaf.
    for record in &records {
        let homewards =
            record.events.iter().filter(|event| event.who == "mower" && event.what == "goes home").count() as f64;
        let arrivals = record.value(Key::Arrivals);
        assert!(homewards > 10.0 && arrivals <= homewards && arrivals >= homewards - 1.0, "{arrivals} {homewards}");
    }
    let waits = |records: &[SeasonRecord]| total(records, Key::WaitLongest);
    assert!(waits(&records) > waits(&apart), "{} {}", waits(&records), waits(&apart));
}

/// A leaf that stands half-way, without power, is in the lane: the mower pushes it, and is not where the leaf is.
#[test]
fn a_driving_mower_pushes_a_standing_leaf() {
    let pushes = |waits_at_m: f64| {
        let mut scenario = slow_leaf(Swing::Outwards);
        scenario.mower.shut_door.waits_at_m = waits_at_m;
        scenario.mower.shut_door.bumps = false;
        scenario.faults.push(Fault {
            name: "cut".into(),
            kind: FaultKind::Power,
            per_year: 20_000.0,
            lasts: Spread { mean_s: 600.0, sd_s: 60.0 },
            noise_factor: 1.0,
        });
        let (plan, records) = seasons(&scenario);
        contacts(&plan, &records, "the mower pushes the door")
    };
    let (near, far) = (pushes(0.1), pushes(0.8));
    assert!(near > far + 5, "{near} {far}");
}

/// A door that opens too little for the mower lets nobody through: it cannot leave, and nothing counts as met.
#[test]
fn a_door_too_small_stops_the_mower() {
    let mut narrow = slow_leaf(Swing::Outwards);
    narrow.drive.no_load_speed_m_s = 0.06;
    let mut low = narrow.clone();
    if let Mechanism::SideLeaf(leaf) = &mut narrow.door.mechanism {
        leaf.open_angle_deg = 30.0;
    }
    low.door.mechanism = support::flap();
    if let Mechanism::TopFlap(flap) = &mut low.door.mechanism {
        flap.open_angle_deg = 30.0;
    }
    let wide = slow_leaf(Swing::Outwards);
    for (scenario, fits) in [(&narrow, false), (&low, false), (&wide, true)] {
        assert_eq!(fails(scenario, "clear_width") || fails(scenario, "headroom"), !fits);
        assert_eq!(alarm::too_small(scenario).is_none(), fits);
        let (plan, records) = seasons(scenario);
        assert_eq!(total(&records, Key::Arrivals) > 0.0, fits);
        assert!(fits || contacts(&plan, &records, "the mower pushes the door") > 0);
        assert_eq!(alarm::untried(&records) == Some(alarm::Untried::NothingArrived), !fits);
    }
}

/// The zone under the edge is the loader's, to the last hair: where it lets the mower rest, the door comes down beside it.
#[test]
fn a_dock_at_the_edge_of_the_zone() {
    for (beyond_m, free) in [(EDGE_ZONE_M, true), (EDGE_ZONE_M - 0.001, false)] {
        let mut scenario = support::usual();
        scenario.calendar.last_day = jiff::civil::date(2025, 4, 21);
        for length_m in [0.6, 0.8] {
            scenario.mower.length_m = length_m;
            scenario.mower.dock.depth_m = length_m + beyond_m;
            let (plan, records) = seasons(&scenario);
            let crushed = contacts(&plan, &records, "the door comes down on the mower");
            assert_eq!(crushed == 0, free, "{length_m}: {crushed}");
            let names_it = alarm::alarms("s", &records).iter().any(|words| words.contains("came down on the mower"));
            assert_eq!(names_it, !free);
            assert_eq!(alarm::untried(&records).is_some(), !free);
        }
    }
}

/// Where the panel's way is free, it touches nobody: a mower that waits further out, a leaf that is open in time, one that opens
/// inwards before a deep dock.
#[test]
fn a_free_way_touches_nobody() {
    let mut further = slow_leaf(Swing::Outwards);
    further.mower.shut_door.waits_at_m = 0.8;
    let mut quick = slow_leaf(Swing::Outwards);
    quick.drive.no_load_speed_m_s = 0.06;
    let mut inwards = slow_leaf(Swing::Inwards);
    inwards.mower.dock.depth_m = 1.4;
    for (name, scenario) in [("further", further), ("quick", quick), ("inwards", inwards)] {
        assert_eq!(swings_into_mower(&scenario), 0, "{name}");
    }
}

/// A leaf that opens inwards swings into the mower in its dock.
#[test]
fn a_leaf_swings_into_the_docked_mower() {
    let scenario = slow_leaf(Swing::Inwards);
    assert!(fails(&scenario, "sweep_inside"));
    assert!(swings_into_mower(&scenario) > 10);
}

/// Visitors who stand in the panel's way are touched, too, each by name; those who keep their distance are not.
#[test]
fn a_leaf_swings_into_visitors() {
    let cats = |nearest_m: f64| {
        let mut scenario = slow_leaf(Swing::Outwards);
        scenario.drive.no_load_speed_m_s = 0.06;
        scenario.visitors = support::base().visitors;
        let cat = &mut scenario.visitors[0];
        (cat.per_day, cat.nearest_m, cat.sideways_m, cat.enters) = (60.0, (nearest_m, 0.02), 0.1, 0.0);
        cat.dwell = Spread { mean_s: 300.0, sd_s: 60.0 };
        let (plan, records) = seasons(&scenario);
        contacts(&plan, &records, "cat")
    };
    assert!(cats(0.45) > 5);
    assert_eq!(cats(1.5), 0);
}
