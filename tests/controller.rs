//! The controller against the transition table: every row by a script, and random sequences of events against a slow
//! oracle written from the rows.

#[path = "controller/off.rs"]
mod off;
#[path = "controller/oracle.rs"]
mod oracle;
#[path = "controller/table.rs"]
mod table;
#[path = "controller/world.rs"]
mod world;

mod common;

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use dooryard::math::time::Span;
use dooryard::scenario::care::{AfterRetries, Care, ClosingTimeout, OpeningTimeout};
use dooryard::scenario::strategy::{AfterPowerLoss, Controller as Settings, OnDeadSensor};
use dooryard::shelter::controller::{Happening, Knowledge, Place, State, Voices};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};

use off::{OFF, Off, bare};
use oracle::{Oracle, Row};
use table::{PLACED, Placed, named};
use world::{World, by_the_table, way};

/// Every row is placed, and every row that is here does what it says.
#[test]
fn every_row_of_the_table_is_placed_and_exercised() {
    let rows = common::records("sensing/controller_transitions.csv");
    let mut used = BTreeSet::new();
    for row in &rows {
        let (state, event) = (row["state"].as_str(), row["event_and_guard"].as_str());
        let placed = PLACED.iter().position(|(s, e, _)| (*s, *e) == (state, event));
        let Some(index) = placed else { panic!("the row \"{state}: {event}\" is placed nowhere") };
        used.insert(index);
        match &PLACED[index].2 {
            Placed::Elsewhere(reason) => assert!(reason.len() > 40, "{event}: say why"),
            Placed::Here(_, script) => {
                let ends = script().controller.state();
                if row["next_state"] == "same" {
                    // The script itself shows that nothing but the weighing of the sensors changes.
                    continue;
                }
                let next: Vec<State> = row["next_state"].split(" or ").map(named).collect();
                assert!(next.contains(&ends), "{state}: {event} ends in {ends:?}, not in {next:?}");
            }
        }
    }
    assert_eq!(used.len(), PLACED.len(), "a row that is placed is no longer in the table");
}

/// A step of a random sequence.
#[derive(Clone, Copy, Debug)]
struct Step {
    /// Tenths of a second before it.
    tenths: u16,
    what: u8,
    /// Which input changes, if none of the happenings is drawn.
    input: u8,
    place: u8,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let waits = prop_oneof![4 => 1_u16..20, 4 => 20_u16..300, 1 => 300_u16..4_000];
    let step = (waits, 0_u8..40, 0_u8..20, 0_u8..4).prop_map(|(tenths, what, input, place)| Step {
        tenths,
        what,
        input,
        place,
    });
    prop::collection::vec(step, 20..120)
}

fn settings() -> impl Strategy<Value = Settings> {
    // Tenths of a second, small enough for every wait to end within a sequence.
    let spans = prop::collection::vec(0_i64..200, 16);
    let choices = prop::collection::vec(0_u8..4, 13);
    (spans, choices, 0_u32..4).prop_map(|(spans, choices, retries)| {
        let s = |index: usize| Span(spans[index] * 100_000);
        let one_in_four = |index: usize| choices[index] == 0;
        let half = |index: usize| choices[index] < 2;
        let tenth = Span(100_000);
        Settings {
            open_at_least: s(0),
            open_at_most: half(0).then(|| s(1) + s(1) + Span(1_000_000)),
            warning: if one_in_four(1) { Span::ZERO } else { s(2) },
            retry_after: s(3).max(tenth),
            retries,
            fault_cleared_after: s(4).max(tenth),
            after_power_loss: if half(2) { AfterPowerLoss::Open } else { AfterPowerLoss::Stay },
            on_dead_sensor: if half(3) { OnDeadSensor::DropVote } else { OnDeadSensor::HoldOpen },
            care: Care {
                interlock: !one_in_four(4),
                doorway_clear_for: s(5),
                self_test: !one_in_four(5),
                self_test_ok_for: s(6).max(tenth),
                hold_open_for: s(7).max(tenth),
                close_after_in: if half(6) { Span::ZERO } else { s(8) },
                close_after_gone: if half(6) { Span::ZERO } else { s(9) },
                turns_back: !one_in_four(7),
                opening_warning: if half(7) { Span::ZERO } else { s(10) },
                back_off_m: if one_in_four(8) { 0.0 } else { 0.03 },
                soft_seal_m: if one_in_four(9) { 0.0 } else { 0.025 },
                opening_timeout: if half(8) { OpeningTimeout::Retry } else { OpeningTimeout::Fault },
                closing_timeout: if half(9) { ClosingTimeout::Reverse } else { ClosingTimeout::Stop },
                retry_growth: 2.0,
                retry_at_most: s(3) + s(11),
                after_retries: if half(4) { AfterRetries::HoldOpen } else { AfterRetries::Fault },
                power_stable_for: s(12),
                startup_listens: if half(5) { Span::ZERO } else { s(13) },
                homing_clear_for: s(6),
                manual_at_most: (s(8) + s(8)).max(tenth),
                manual_reminder: s(8).max(tenth),
                contradiction_after_s: if half(10) { f64::INFINITY } else { s(14).max(tenth).seconds() },
                disagreement_after_s: if half(11) { f64::INFINITY } else { s(15).max(tenth).seconds() },
                reopening_reserve: if one_in_four(12) { 0.0 } else { 1.0 },
                ..Care::default()
            },
            ..by_the_table()
        }
    })
}

/// What a step tells, given what the door can have done.
fn happening(step: Step, world: &World) -> Happening {
    let moving = world.motor.is_some();
    match step.what {
        0..=7 if moving => Happening::StrokeEnded,
        8..=12 if moving => Happening::StrokeFailed,
        13..=15 if moving => Happening::Obstructed,
        16 => Happening::PowerLost,
        17..=18 => Happening::PowerBack,
        19 => Happening::Reset,
        20 => Happening::OpenPressed,
        21 => Happening::StopPressed,
        22 => Happening::ManualOn,
        23..=24 => Happening::ManualOff,
        _ => Happening::None,
    }
}

/// Nobody speaks, then some, then all.
fn next(voices: Voices) -> Voices {
    Voices { some: !voices.all, all: voices.some && !voices.all }
}

fn change(step: Step, world: &mut World) {
    let k = &mut world.k;
    match step.input {
        0..=1 => k.doorway = !k.doorway,
        2..=3 => k.open = !k.open,
        4 => k.hold = !k.hold,
        5 => k.close = !k.close,
        6..=7 => k.inside = !k.inside,
        8 => k.answers = !k.answers,
        9 => k.doorway_lost = !k.doorway_lost,
        10 => k.dead_sensor = !k.dead_sensor,
        11 => k.fallback = !k.fallback,
        12 => k.blind = !k.blind,
        13 => k.battery_low = !k.battery_low,
        14 => k.by_any_ranger.0 = !k.by_any_ranger.0,
        15 => k.by_any_ranger.1 = !k.by_any_ranger.1,
        16..=17 => k.rangers = next(k.rangers),
        18 => k.occupancy = next(k.occupancy),
        _ => k.position_m = if k.position_m > 0.1 { 0.003 } else { 0.2 },
    }
    let by_hand = matches!(world.controller.state(), State::Manual | State::Unpowered);
    if by_hand || (world.controller.state() == State::Startup && step.place == 3) {
        world.k.place = [Place::Shut, Place::Open, Place::Between, Place::Contradictory][usize::from(step.place)];
    }
}

/// Random sequences: the controller, told only what happens and woken when it asks, and the oracle, asked every tenth of a
/// second, agree in state and command at every step. Meanwhile the world checks that nothing moves twice at once or towards
/// shut in an unproven doorway. Every row that is here fires, and every state is entered and left.
#[test]
fn random_sequences_agree_with_the_oracle() {
    let (fired, left) = play_at_random(3_500, |_| {});
    for (state, event, placed) in PLACED {
        if let Placed::Here(row, _) = placed {
            assert!(fired.get(row).is_some_and(|times| *times >= 5), "{state}: {event}: {:?}", fired.get(row));
        }
    }
    // The states of the table, and those between them, all have exits.
    assert_eq!(left.len(), 14);
    // What the table leaves open, but the low battery.
    assert!(fired.get(&Row::OpenBatteryLow).is_some_and(|times| *times >= 5));
}

/// Plays random sequences with random settings, changed by `change_settings`: how often each row fired, and which states were
/// left. Every step is held to the oracle, and every sequence must settle.
fn play_at_random(cases: u32, change_settings: impl Fn(&mut Settings)) -> (BTreeMap<Row, u32>, BTreeSet<State>) {
    let fired = RefCell::new(BTreeMap::<Row, u32>::new());
    let left = RefCell::new(BTreeSet::<State>::new());
    let mut runner = TestRunner::new_with_rng(
        Config { cases, failure_persistence: None, ..Config::default() },
        proptest::test_runner::TestRng::deterministic_rng(proptest::test_runner::RngAlgorithm::ChaCha),
    );
    let result = runner.run(&(settings(), steps()), |(mut settings, steps)| {
        change_settings(&mut settings);
        let (mut world, mut oracle) = (World::new(settings), Oracle::new(settings));
        let together = |world: &mut World, oracle: &mut Oracle, happening: Happening| {
            let before = world.controller.state();
            let doubts = oracle.doubts(&Knowledge { happening, ..world.k });
            let (told, command) = world.tell(happening);
            if before != State::Unpowered && happening != Happening::PowerLost {
                prop_assert_eq!(
                    world.controller.doubts().collect::<Vec<_>>(),
                    doubts,
                    "in {:?}, told {:?}",
                    before,
                    told
                );
            }
            let (expected, rows) = oracle.step(&told, true);
            for row in rows.into_iter().chain(oracle.staying()) {
                *fired.borrow_mut().entry(row).or_default() += 1;
            }
            let after = world.controller.state();
            if before != after {
                left.borrow_mut().insert(before);
            }
            prop_assert_eq!((after, command), (oracle.state(), expected), "from {:?}, told {:?}", before, told);
            Ok(())
        };
        for step in steps {
            for _ in 0..step.tenths {
                world.k.now += Span(100_000);
                if world.controller.wake() <= world.k.now {
                    together(&mut world, &mut oracle, Happening::None)?;
                } else {
                    let (_, rows) = oracle.step(&world.k, false);
                    prop_assert!(rows.is_empty(), "{:?} by itself, but the controller sleeps", rows);
                }
            }
            let happening = happening(step, &world);
            if happening == Happening::None {
                change(step, &mut world);
            }
            together(&mut world, &mut oracle, happening)?;
        }
        settles(&mut world)
    });
    result.unwrap_or_else(|failure| panic!("{failure}"));
    (fired.into_inner(), left.into_inner())
}

/// Every row of the table can be turned off: by settings with which it never fires, or by keys that take away what the controller
/// does in it by itself, so that the row's script goes another way (of what five rows do outside the controller, only that the
/// keys exist is asked here). With all of them off at once the controller still agrees with the oracle, moves one way at a time and
/// comes to rest.
#[test]
fn every_row_can_be_turned_off() {
    let rows = common::records("sensing/controller_transitions.csv");
    let keys: BTreeSet<&str> = controller_keys();
    let mut used = BTreeSet::new();
    for row in &rows {
        let (state, event) = (row["state"].as_str(), row["event_and_guard"].as_str());
        let place = OFF.iter().position(|(s, e, _)| (*s, *e) == (state, event));
        let Some(place) = place else { panic!("no word on how \"{state}: {event}\" is turned off") };
        used.insert(place);
        let names = |named: &[&str]| {
            for key in named {
                assert!(keys.contains(key), "{state}: {event}: no key {key} of [controller]");
            }
        };
        match &OFF[place].2 {
            Off::Never(row, turn) => {
                let fired = play_at_random(150, turn).0;
                assert_eq!(fired.get(row), None, "{state}: {event} fires although it is turned off");
                assert!(!fired.is_empty());
            }
            Off::Without(named, turn) => {
                names(named);
                let placed = PLACED.iter().find(|(s, e, _)| (*s, *e) == (state, event));
                let Some((_, _, Placed::Here(_, script))) = placed else { panic!("{state}: {event} has no script") };
                let (as_it_is, without) = (way(*script, |_| {}), way(*script, *turn));
                assert!(as_it_is.len() >= 2, "{state}: {event}: {as_it_is:?}");
                assert_ne!(as_it_is, without, "{state}: {event} goes the same way without it");
            }
            Off::Outside(named) => names(named),
        }
    }
    assert_eq!(used.len(), OFF.len(), "a row that is no longer in the table");
    play_at_random(300, bare);
}

/// The keys of `[controller]`, from the schema.
fn controller_keys() -> BTreeSet<&'static str> {
    dooryard::scenario::keys::section("controller").expect("a section").keys.iter().map(|key| key.name).collect()
}

/// Whatever state the sequence ended in: once nothing disturbs any more, every wait ends and the door shuts.
fn settles(world: &mut World) -> Result<(), TestCaseError> {
    let k = &mut world.k;
    (k.doorway, k.open, k.hold, k.dead_sensor, k.doorway_lost) = (false, false, false, false, false);
    (k.rangers, k.occupancy, k.fallback, k.battery_low) = (Voices::default(), Voices::default(), false, false);
    (k.close, k.answers, k.position_m) = (true, true, 0.2);
    if k.place == Place::Contradictory {
        k.place = Place::Between;
    }
    world.tell(Happening::PowerBack);
    for _ in 0..200 {
        if world.controller.state() == State::Shut {
            return Ok(());
        }
        if world.motor.is_some() {
            world.k.now += Span::SECOND;
            world.tell(Happening::StrokeEnded);
        } else {
            let wake = world.controller.wake();
            prop_assert!(wake < dooryard::math::time::Instant::NEVER, "{:?} never ends", world.controller.state());
            world.k.now = wake.max(world.k.now);
            world.tell(Happening::None);
        }
    }
    prop_assert!(false, "still {:?} after 200 steps", world.controller.state());
    Ok(())
}

/// A doorway that never becomes clear again: the door ends open or stays shut, and nothing waits for ever half-way.
#[test]
fn a_doorway_blocked_for_ever_leaves_no_door_half_way() {
    for (name, _, placed) in PLACED {
        let Placed::Here(row, script) = placed else { continue };
        let mut w = script();
        w.k.doorway = true;
        (w.k.open, w.k.rangers, w.k.fallback) = (false, Voices::default(), false);
        if w.controller.state() == State::Unpowered {
            w.tell(Happening::PowerBack);
        }
        if w.k.place == Place::Contradictory {
            w.k.place = Place::Between;
        }
        w.tell(Happening::None);
        for _ in 0..50 {
            if w.motor.is_some() {
                w.tell(Happening::StrokeEnded);
            }
            w.wait(3_600.0);
        }
        let ends = w.controller.state();
        assert!(matches!(ends, State::Open | State::HoldOpen | State::Shut), "{name} {row:?}: {ends:?}");
        assert_ne!(w.k.place, Place::Between, "{name} {row:?}");
    }
}
