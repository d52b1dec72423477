use super::*;
use crate::scenario::care::Care;
use crate::scenario::strategy::{AfterPowerLoss, OnDeadSensor};

fn settings() -> Settings {
    Settings {
        open_at_least: Span::from_seconds(10.0),
        open_at_most: None,
        warning: Span::from_seconds(2.0),
        stroke_timeout: 1.5,
        retry_after: Span::from_seconds(10.0),
        retries: 2,
        fault_cleared_after: Span::HOUR,
        obstruction_force_n: 60.0,
        obstruction_reaction: Span::from_seconds(0.1),
        after_power_loss: AfterPowerLoss::Open,
        on_dead_sensor: OnDeadSensor::HoldOpen,
        dead_after: Span::from_seconds(5.0),
        care: Care::default(),
    }
}

fn know(seconds: f64, happening: Happening, place: Place) -> Knowledge {
    Knowledge {
        now: Instant::from_seconds(seconds),
        happening,
        place,
        open: false,
        hold: false,
        doorway: false,
        close: true,
        inside: false,
        position_m: 0.2,
        dead_sensor: false,
        doorway_lost: false,
        answers: true,
        by_any_ranger: (false, false),
        rangers: Voices::default(),
        occupancy: Voices::default(),
        fallback: false,
        blind: false,
        battery_low: false,
    }
}

#[test]
fn a_quiet_cycle() {
    let mut c = Controller::new(settings());
    assert_eq!(c.decide(&Knowledge { open: true, ..know(1.0, Happening::None, Place::Shut) }), Command::DriveOpen);
    assert_eq!(c.decide(&know(8.0, Happening::StrokeEnded, Place::Open)), Command::None);
    assert_eq!((c.state(), c.wake()), (State::Open, Instant::from_seconds(18.0)));
    assert_eq!(c.decide(&know(18.0, Happening::None, Place::Open)), Command::None);
    assert_eq!((c.state(), c.wake()), (State::Warning, Instant::from_seconds(20.0)));
    assert_eq!(c.decide(&know(20.0, Happening::None, Place::Open)), Command::DriveShut);
    assert_eq!(c.decide(&know(27.0, Happening::StrokeEnded, Place::Shut)), Command::None);
    assert_eq!(c.state(), State::Shut);
}

#[test]
fn an_occupied_doorway_stops_everything() {
    let mut c = Controller::new(settings());
    c.decide(&Knowledge { open: true, ..know(1.0, Happening::None, Place::Shut) });
    c.decide(&know(8.0, Happening::StrokeEnded, Place::Open));
    let busy = |t| Knowledge { doorway: true, ..know(t, Happening::None, Place::Open) };
    assert_eq!(c.decide(&busy(30.0)), Command::None);
    assert_eq!(c.state(), State::Open);
    c.decide(&know(31.0, Happening::None, Place::Open));
    assert_eq!(c.state(), State::Warning);
    c.decide(&busy(32.0));
    assert_eq!(c.state(), State::Open);
    c.decide(&know(33.0, Happening::None, Place::Open));
    assert_eq!(c.decide(&know(35.0, Happening::None, Place::Open)), Command::DriveShut);
    assert_eq!(c.decide(&Knowledge { place: Place::Between, ..busy(36.0) }), Command::DriveOpen);
    assert_eq!(c.state(), State::Reversing);
}

#[test]
fn a_person_is_called_after_too_many_failures() {
    let mut c = Controller::new(settings());
    c.decide(&Knowledge { open: true, ..know(0.0, Happening::None, Place::Shut) });
    // Pauses of 10 s and 60 s.
    for (t, pause) in [(1.0, 10.0), (20.0, 60.0)] {
        assert_eq!(c.decide(&know(t, Happening::StrokeFailed, Place::Between)), Command::Halt);
        assert_eq!(c.decide(&know(t + pause - 0.1, Happening::None, Place::Between)), Command::None);
        assert_eq!(c.decide(&know(t + pause, Happening::None, Place::Between)), Command::DriveOpen);
    }
    assert_eq!(c.decide(&know(90.0, Happening::StrokeFailed, Place::Between)), Command::Halt);
    assert_eq!((c.state(), c.notice()), (State::Fault, Some(Notice::Fault)));
    assert_eq!(c.decide(&know(3_690.0, Happening::None, Place::Between)), Command::Halt);
    assert_eq!(c.state(), State::Startup);
    assert_eq!(c.decide(&know(3_700.0, Happening::None, Place::Between)), Command::Home);
}

/// Until it has met an end it looks for one slowly, however often it tries.
#[test]
fn a_door_that_is_lost_drives_slowly() {
    let mut c = Controller::new(settings());
    c.decide(&know(0.0, Happening::PowerLost, Place::Between));
    c.decide(&know(10.0, Happening::PowerBack, Place::Between));
    let orders = |c: &mut Controller, from: i32, to: i32| -> Vec<Command> {
        let told = |t| c.decide(&know(f64::from(t), Happening::None, Place::Between));
        (from..to).map(told).filter(|command| *command != Command::None).collect()
    };
    assert_eq!(orders(&mut c, 11, 200), [Command::Halt, Command::Home]);
    assert_eq!(c.decide(&know(210.0, Happening::StrokeFailed, Place::Between)), Command::Halt);
    assert_eq!(orders(&mut c, 211, 400), [Command::Home]);
    // An end once met, the next stroke is an ordinary one.
    c.decide(&know(410.0, Happening::StrokeEnded, Place::Open));
    assert_eq!(orders(&mut c, 411, 600), [Command::DriveShut]);
    c.decide(&know(610.0, Happening::Obstructed, Place::Between));
    c.decide(&know(611.0, Happening::StopPressed, Place::Between));
    assert_eq!(orders(&mut c, 612, 800), [Command::DriveOpen]);
}

/// Opening, and told every second that nothing happens until `to`.
fn goes_on(c: &mut Controller, from: i32, to: i32) {
    for t in from..to {
        c.decide(&know(f64::from(t), Happening::None, Place::Between));
    }
}

#[test]
fn restarts_that_cut_strokes_off_have_a_limit() {
    let mut c = Controller::new(settings());
    c.decide(&Knowledge { open: true, ..know(0.0, Happening::None, Place::Shut) });
    for restart in 1..=3 {
        assert_eq!(c.state(), State::Opening, "before restart {restart}");
        let t = 200 * restart;
        c.is_cut_off();
        c.decide(&know(f64::from(t), Happening::PowerLost, Place::Between));
        c.decide(&know(f64::from(t + 1), Happening::PowerBack, Place::Between));
        goes_on(&mut c, t + 2, t + 100);
    }
    assert_eq!((c.state(), c.notice()), (State::Fault, None));
    // Off in between, it counts no stroke.
    let mut c = Controller::new(settings());
    for restart in 1..=9 {
        c.is_cut_off();
        c.decide(&know(f64::from(100 * restart), Happening::PowerLost, Place::Shut));
    }
    assert_eq!(c.failed, 0);
}

#[test]
fn firmware_gone_wrong_tries_without_end() {
    let mut c = Controller::new(settings());
    c.hunt(true);
    c.decide(&Knowledge { open: true, ..know(0.0, Happening::None, Place::Shut) });
    let fails = |c: &mut Controller, t: i32| c.decide(&know(f64::from(t), Happening::StrokeFailed, Place::Between));
    for t in (10..310).step_by(30) {
        fails(&mut c, t);
        assert_eq!(c.state(), State::Stopped, "at {t} s");
        // It pauses for no more than five seconds.
        goes_on(&mut c, t + 1, t + 7);
        assert_eq!(c.state(), State::Opening, "at {t} s");
    }
    c.hunt(false);
    fails(&mut c, 400);
    assert_eq!(c.state(), State::Fault);
}
