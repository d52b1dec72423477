//! Every row of the transition table: where it is in the controller, or why it is not, and a script that exercises it.

use dooryard::shelter::controller::{Command, Happening, Notice, Place, State, Voices};

use super::oracle::Row;
use super::world::{World, by_the_table};

/// Where a row of the table is.
pub enum Placed {
    /// In the controller, with a script that ends in the row's next state.
    Here(Row, fn() -> World),
    /// Not in the controller, for this reason.
    Elsewhere(&'static str),
}

use Placed::{Elsewhere, Here};

/// The table's state and event, and where the row is.
pub const PLACED: &[(&str, &str, Placed)] = &[
    (
        "ANY",
        "power-up or watchdog reset",
        Here(Row::AnyReset, || {
            let mut w = opening();
            w.tell(Happening::Reset);
            assert_eq!(w.motor, None);
            w
        }),
    ),
    (
        "STARTUP",
        "closed limit made, doorway clear",
        Here(Row::StartupClosed, || {
            let mut w = started(Place::Shut);
            assert_eq!(w.controller.state(), State::Startup);
            w.wait(1.0);
            w
        }),
    ),
    (
        "STARTUP",
        "open limit made",
        Here(Row::StartupOpen, || {
            let mut w = started(Place::Open);
            w.wait(1.0);
            w
        }),
    ),
    (
        "STARTUP",
        "neither limit, doorway clear, no one near 10 s",
        Here(Row::StartupHomes, || {
            let mut w = started(Place::Between);
            w.k.doorway = true;
            w.tell(Happening::None);
            w.wait(30.0);
            w.k.doorway = false;
            w.tell(Happening::None);
            w.wait(9.0);
            assert_eq!(w.controller.state(), State::Startup);
            w.wait(1.0);
            w
        }),
    ),
    (
        "STARTUP",
        "both limits or limits contradict",
        Here(Row::StartupContradiction, || {
            let mut w = started(Place::Contradictory);
            w.wait(1.0);
            assert_eq!(w.controller.notice(), Some(Notice::Fault));
            w
        }),
    ),
    ("CLOSED", "arrival decided (fusion) or wanted-open from network with age < limit", Here(Row::ClosedAsked, asked)),
    (
        "CLOSED",
        "departure decided (inside motion, weight shift, status leaving)",
        // One rule asks for the door, whoever wants it.
        Here(Row::ClosedAsked, asked),
    ),
    (
        "CLOSED",
        "button or app open",
        Here(Row::ClosedButton, || {
            let mut w = World::new(by_the_table());
            w.tell(Happening::OpenPressed);
            w.wait(0.5);
            w
        }),
    ),
    (
        "CLOSED",
        "occupancy sensors contradict > 10 min",
        Here(Row::ClosedContradiction, || {
            let mut w = World::new(by_the_table());
            w.k.occupancy = Voices { some: true, all: false };
            w.tell(Happening::None);
            w.wait(599.9);
            w.tell(Happening::None);
            assert_eq!(w.controller.doubts().count(), 0);
            w.wait(0.1);
            assert_eq!(w.controller.doubts().collect::<Vec<_>>(), [Notice::InsideContradicts]);
            assert_eq!(w.controller.state(), State::Shut);
            // Now the fallback prior opens; without a contradiction it would not.
            let mut asked = World::new(by_the_table());
            for world in [&mut w, &mut asked] {
                world.k.fallback = true;
                world.tell(Happening::None);
            }
            assert_eq!((w.controller.state(), asked.controller.state()), (State::AboutToOpen, State::Shut));
            asked
        }),
    ),
    (
        "OPENING",
        "open limit made",
        Here(Row::OpeningEnds, || {
            let mut w = opening();
            w.tell(Happening::StrokeEnded);
            assert_eq!(w.motor, None);
            w
        }),
    ),
    (
        "OPENING",
        "current over limit after blanking, k-of-n",
        Here(Row::OpeningObstructed, || {
            let mut w = opening();
            w.wait(2.0);
            assert_eq!(w.tell(Happening::Obstructed).1, Command::BackOff);
            assert_eq!(w.controller.state(), State::BackingOff);
            w.tell(Happening::StrokeEnded);
            w
        }),
    ),
    (
        "OPENING",
        "run time > 1.5 x learned",
        Here(Row::OpeningTimesOut, || {
            let mut w = opening();
            w.tell(Happening::StrokeFailed);
            w
        }),
    ),
    (
        "OPENING",
        "stop button",
        Here(Row::OpeningStopped, || {
            let mut w = opening();
            w.tell(Happening::StopPressed);
            w
        }),
    ),
    (
        "OPEN",
        "mower seen fully inside (occupied, doorway clear, still t_settle) ",
        Here(Row::OpenMowerIn, || {
            let mut w = open();
            (w.k.inside, w.k.hold) = (true, false);
            w.tell(Happening::None);
            w.wait(19.9);
            assert_eq!(w.controller.state(), State::Open);
            w.wait(3.1);
            w
        }),
    ),
    (
        "OPEN",
        "mower seen gone (empty, doorway clear, outside clear) for t_gone",
        Here(Row::OpenMowerGone, || {
            let mut w = open();
            w.k.hold = true;
            w.tell(Happening::None);
            w.wait(60.0);
            w.k.hold = false;
            w.tell(Happening::None);
            w.wait(39.9);
            assert_eq!(w.controller.state(), State::Open);
            w.wait(3.1);
            w
        }),
    ),
    (
        "OPEN",
        "doorway not clear",
        Here(Row::OpenNotClear, || {
            let mut w = open();
            w.wait(39.0);
            w.k.doorway = true;
            w.tell(Happening::None);
            w.k.doorway = false;
            w.tell(Happening::None);
            // The wait for closing begins anew.
            w.wait(39.9);
            w
        }),
    ),
    (
        "OPEN",
        "open longer than t_max_open, night or rain",
        Here(Row::OpenTooLong, || {
            let mut w = open();
            w.k.doorway = true;
            w.tell(Happening::None);
            w.wait(3_600.0);
            assert_eq!(w.controller.notice(), Some(Notice::OpenTooLong));
            w
        }),
    ),
    ("OPEN", "doorway sensor failed self-test", Here(Row::OpenSelfTestFails, untested)),
    (
        "CLOSING",
        "doorway beam or presence sensor trips",
        Here(Row::ClosingDoorway, || {
            let mut w = closing();
            w.k.doorway = true;
            w.tell(Happening::None);
            w
        }),
    ),
    (
        "CLOSING",
        "current over limit k-of-n or edge switch",
        Here(Row::ClosingObstructed, || {
            let mut w = closing();
            w.tell(Happening::Obstructed);
            w
        }),
    ),
    (
        "CLOSING",
        "arrival or departure decided",
        Here(Row::ClosingAsked, || {
            let mut w = closing();
            w.k.open = true;
            w.tell(Happening::None);
            w
        }),
    ),
    (
        "CLOSING",
        "closed limit made",
        Here(Row::ClosingEnds, || {
            let mut w = closing();
            w.tell(Happening::StrokeEnded);
            w
        }),
    ),
    (
        "CLOSING",
        "run time > 1.5 x learned",
        Here(Row::ClosingTimesOut, || {
            let mut w = closing();
            w.tell(Happening::StrokeFailed);
            w
        }),
    ),
    (
        "CLOSING",
        "position inside last 20-25 mm and current limit",
        Here(Row::ClosingSeals, || {
            // 12 mm from shut something is between panel and frame; 3 mm from shut it is the seal.
            let mut w = closing();
            w.k.position_m = 0.012;
            w.tell(Happening::Obstructed);
            assert_eq!(w.controller.state(), State::Reversing);
            let mut w = closing();
            w.k.position_m = 0.003;
            assert_eq!(w.tell(Happening::Obstructed).1, Command::Seat);
            w
        }),
    ),
    (
        "REVERSING",
        "open limit made",
        Here(Row::ReversingEnds, || {
            let mut w = closing();
            for pause in [10.0, 60.0] {
                w.tell(Happening::Obstructed);
                w.tell(Happening::StrokeEnded);
                // The mower stands inside, so that only the pause before the retry counts, longer each time.
                w.k.inside = true;
                w.tell(Happening::None);
                let wait = f64::max(pause, 20.0);
                w.wait(wait - 0.1);
                assert_eq!(w.controller.state(), State::Open, "{pause}");
                w.wait(0.1 + 3.0);
                assert_eq!(w.controller.state(), State::Closing, "{pause}");
            }
            w.tell(Happening::Obstructed);
            w.tell(Happening::StrokeEnded);
            w.wait(299.0);
            w
        }),
    ),
    (
        "REVERSING",
        "retries > n_max",
        Here(Row::ReversingGivesUp, || {
            let mut w = closing();
            for _ in 0..3 {
                w.tell(Happening::Obstructed);
                w.tell(Happening::StrokeEnded);
                w.wait(400.0);
                assert_eq!(w.controller.state(), State::Closing);
            }
            w.tell(Happening::Obstructed);
            assert_eq!(w.tell(Happening::StrokeEnded).1, Command::None);
            w.wait(6.0 * 3_600.0 - 1.0);
            w
        }),
    ),
    (
        "STOPPED",
        "clear and operator or t_retry",
        Here(Row::StoppedRetries, || {
            let mut w = opening();
            w.tell(Happening::StopPressed);
            w.k.doorway = true;
            w.tell(Happening::None);
            w.wait(60.0);
            assert_eq!(w.controller.state(), State::Stopped);
            w.k.doorway = false;
            w.tell(Happening::None);
            w
        }),
    ),
    (
        "FAULT",
        "operator reset and self-test ok",
        Here(Row::FaultCleared, || {
            let mut w = opening();
            w.tell(Happening::StrokeFailed);
            w.k.answers = false;
            w.wait(7_200.0);
            assert_eq!(w.controller.state(), State::Fault);
            w.k.answers = true;
            w.wait(3_600.0);
            w
        }),
    ),
    (
        "HOLD_OPEN",
        "sensor self-test ok for 10 min",
        Here(Row::HoldOpenResumes, || {
            let mut w = untested();
            // Something holds the door, so that it is still open when it may close again.
            (w.k.answers, w.k.hold) = (true, true);
            w.tell(Happening::None);
            w.wait(300.0);
            w.k.answers = false;
            w.tell(Happening::None);
            w.k.answers = true;
            w.tell(Happening::None);
            w.wait(599.0);
            assert_eq!(w.controller.state(), State::HoldOpen);
            w.wait(1.0);
            w
        }),
    ),
    (
        "ANY",
        "manual release or handle moved (position changes with motor off)",
        Here(Row::AnyManual, || {
            let mut w = closing();
            w.tell(Happening::ManualOn);
            assert_eq!(w.motor, None);
            w
        }),
    ),
    (
        "MANUAL",
        "manual off, or 12 h elapsed with notify",
        Here(Row::ManualEnds, || {
            let mut w = opening();
            w.tell(Happening::ManualOn);
            w.wait(6.0 * 3_600.0);
            assert_eq!((w.controller.state(), w.controller.notice()), (State::Manual, Some(Notice::StillManual)));
            w.wait(6.0 * 3_600.0);
            assert_eq!((w.controller.state(), w.controller.notice()), (State::Startup, Some(Notice::ManualEnded)));
            let mut w = opening();
            w.tell(Happening::ManualOn);
            w.tell(Happening::ManualOff);
            w
        }),
    ),
    (
        "ANY moving",
        "supply < limit or power loss",
        Here(Row::AnyPowerLost, || {
            let mut w = closing();
            assert_eq!(w.tell(Happening::PowerLost).1, Command::Halt);
            w
        }),
    ),
    (
        "UNPOWERED",
        "power back, stable 10 s",
        Here(Row::UnpoweredEnds, || {
            let mut w = closing();
            w.tell(Happening::PowerLost);
            w.tell(Happening::PowerBack);
            w.wait(8.0);
            w.tell(Happening::PowerLost);
            w.tell(Happening::PowerBack);
            w.wait(9.9);
            assert_eq!(w.controller.state(), State::Unpowered);
            w.wait(0.1);
            w
        }),
    ),
    (
        "ANY",
        "two rangers disagree > 30 s",
        Here(Row::AnyRangersDisagree, || {
            // One of two rangers that must agree to open and to hold sees something.
            let sees = |w: &mut World| {
                w.k.rangers = Voices { some: true, all: false };
                w.k.by_any_ranger = (true, true);
                w.tell(Happening::None);
            };
            let mut w = World::new(by_the_table());
            sees(&mut w);
            w.wait(29.9);
            assert_eq!(w.controller.state(), State::Shut);
            w.wait(0.1);
            assert_eq!(w.controller.doubts().collect::<Vec<_>>(), [Notice::RangersDisagree]);
            assert_eq!(w.controller.state(), State::AboutToOpen);
            // While it is open, the same ranger keeps it from closing for as long as it sees something, and no longer.
            let mut w = open();
            sees(&mut w);
            w.wait(3_600.0);
            assert_eq!(w.controller.state(), State::Open);
            (w.k.rangers, w.k.by_any_ranger) = (Voices::default(), (false, false));
            w.tell(Happening::None);
            w.wait(43.0);
            assert_eq!(w.controller.state(), State::Closing);
            open()
        }),
    ),
    (
        "ANY",
        "network age > limit",
        Elsewhere(
            "a message grows stale at its sensor (`stale_after`), before the controller hears of it; the \
                   fallback to the timetable is the `fallback` rule, tested in whole seasons",
        ),
    ),
];

/// The controller's word for a state of the table.
pub fn named(state: &str) -> State {
    match state {
        "STARTUP" => State::Startup,
        "CLOSED" => State::Shut,
        "OPENING" => State::Opening,
        "OPEN" => State::Open,
        "CLOSING" => State::Closing,
        "REVERSING" => State::Reversing,
        "STOPPED" => State::Stopped,
        "FAULT" => State::Fault,
        "HOLD_OPEN" => State::HoldOpen,
        "MANUAL" => State::Manual,
        "UNPOWERED" => State::Unpowered,
        other => panic!("the table has a state {other:?} that the controller does not have"),
    }
}

fn started(place: Place) -> World {
    let mut w = opening();
    w.tell(Happening::PowerLost);
    w.k.open = false;
    w.k.place = place;
    w.tell(Happening::PowerBack);
    w.wait(10.0);
    w
}

fn asked() -> World {
    let mut w = World::new(by_the_table());
    w.k.open = true;
    assert_eq!(w.tell(Happening::None).1, Command::None);
    assert_eq!(w.controller.state(), State::AboutToOpen);
    w.wait(0.5);
    w
}

fn opening() -> World {
    let mut w = asked();
    assert_eq!(w.controller.state(), State::Opening);
    w.k.open = false;
    w.tell(Happening::None);
    w
}

fn open() -> World {
    let mut w = opening();
    w.tell(Happening::StrokeEnded);
    assert_eq!(w.controller.state(), State::Open);
    w
}

fn closing() -> World {
    let mut w = open();
    w.wait(43.0);
    assert_eq!(w.controller.state(), State::Closing);
    w
}

fn untested() -> World {
    let mut w = open();
    w.k.answers = false;
    w.tell(Happening::None);
    w.wait(39.9);
    assert_eq!(w.controller.state(), State::Open);
    w.wait(4.0);
    assert_eq!(w.controller.notice(), Some(Notice::HeldOpen));
    w
}
