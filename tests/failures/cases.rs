//! What each mode is held to: where it is played, how it is forced, which figure must move and which way.

use super::rigs;
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::{Histogram, SeasonRecord};
use dooryard::scenario::Scenario;
use dooryard::scenario::failure::{Failure, Figure};
use dooryard::scenario::mower::Spread;

/// One mode.
pub struct Case {
    /// Its number in the list.
    pub number: usize,
    /// Where it is played.
    pub rig: fn() -> Scenario,
    /// The strategy that plays.
    pub strategy: usize,
    /// How it is made to show within a few seasons.
    pub force: fn(&mut Failure),
    /// The figure of the list's column `metric`.
    pub figure: fn(&SeasonRecord) -> f64,
    /// Whether it must rise.
    pub rises: bool,
    /// Whether the figure needs the event log.
    pub events: bool,
    /// What is unsafe and named by the list (or is a push of the mower at the door, where it names a missed departure).
    pub unsafe_too: &'static [Key],
}

const HOUR: f64 = 3_600.0;

fn often(failure: &mut Failure, per_year: f64, mean_s: f64) {
    failure.per_year = per_year;
    failure.lasts = Spread { mean_s, sd_s: 0.3 * mean_s };
}

fn set(failure: &mut Failure, figure: Figure, value: f64) {
    let place = failure.mode.figures.iter().position(|(other, _)| *other == figure).expect("the mode has the figure");
    failure.figures[place] = value;
}

macro_rules! metric {
    ($key:ident) => {
        |record: &SeasonRecord| record.value(Key::$key)
    };
}

fn mean(histogram: &Histogram) -> f64 {
    let width = f64::from(histogram.bin_ms) / 1_000.0;
    let sum: f64 = histogram.counts.iter().zip(0..).map(|(n, bin)| *n as f64 * (f64::from(bin) + 0.5) * width).sum();
    sum / histogram.total().max(1) as f64
}

/// How far away the first detector notices the mower, m.
fn noticed_at_m(record: &SeasonRecord) -> f64 {
    let tally = &record.detectors[0];
    mean(&tally.left) * tally.left.total() as f64 / (tally.left.total() + tally.unnoticed).max(1) as f64
}

/// Contacts at the place where most of them happen.
fn reversed_at_one_place(record: &SeasonRecord) -> f64 {
    let mut places = std::collections::BTreeMap::<&str, u32>::new();
    for row in record.events.iter().filter(|row| row.who == "door" && row.what == "contact") {
        let place = row.detail.split(" at ").nth(1).expect("a place");
        *places.entry(place).or_default() += 1;
    }
    f64::from(places.values().copied().max().unwrap_or(0))
}

fn happened(record: &SeasonRecord, who: &str, what: &str, detail: &str) -> f64 {
    let same = |row: &&dooryard::ledger::record::EventRow| {
        row.who == who && row.what == what && (detail.is_empty() || row.detail == detail)
    };
    record.events.iter().filter(same).count() as f64
}

const fn case(number: usize, rig: fn() -> Scenario, force: fn(&mut Failure), figure: fn(&SeasonRecord) -> f64) -> Case {
    Case { number, rig, strategy: 0, force, figure, rises: true, events: false, unsafe_too: &[] }
}

const fn with_events(case: Case) -> Case {
    Case { events: true, ..case }
}

const fn falls(case: Case) -> Case {
    Case { rises: false, ..case }
}

const fn messages(case: Case) -> Case {
    Case { strategy: 1, ..case }
}

const fn names(case: Case, unsafe_too: &'static [Key]) -> Case {
    Case { unsafe_too, ..case }
}

fn as_usual(_: &mut Failure) {}

/// Every mode.
pub const CASES: &[Case] = &[
    case(
        1,
        rigs::plain,
        |f| {
            often(f, 1_500.0, 3.0 * HOUR);
            set(f, Figure::Range, 0.05);
        },
        metric!(MissedArrivals),
    ),
    // Between three and nine in the morning, as the table has it.
    case(
        2,
        rigs::plain,
        |f| {
            often(f, 300.0, 3.0 * HOUR);
            set(f, Figure::ShortReturns, 0.05);
            set(f, Figure::Share, 1.0);
        },
        |record| record.hours[3..9].iter().map(|hour| hour.false_openings as f64).sum(),
    ),
    // The other kind of film takes range.
    falls(case(
        2,
        rigs::early,
        |f| {
            often(f, 300.0, 5.0 * HOUR);
            set(f, Figure::Range, 0.2);
            set(f, Figure::Share, 0.0);
        },
        noticed_at_m,
    )),
    case(3, rigs::plain, |f| set(f, Figure::LossPerWeek, 0.4), metric!(MissedArrivals)),
    case(4, rigs::plain, |f| often(f, 100.0, 12.0 * HOUR), metric!(OpenNobodyHome)),
    case(5, rigs::plain, |f| often(f, 3_000.0, 0.3), metric!(FalseOpenings)),
    case(6, rigs::plain, |f| set(f, Figure::SpuriousRain, 0.03), metric!(FalseOpenings)),
    falls(case(7, rigs::plain, |f| set(f, Figure::Reflectance, 0.03), noticed_at_m)),
    // As dark as it is without the mode while it is dry: only when it is wet is it noticed later.
    falls(case(
        7,
        rigs::careless,
        |f| {
            set(f, Figure::Reflectance, 1.0);
            set(f, Figure::WetFactor, 0.1);
            f.lasts = Spread { mean_s: 6.0 * HOUR, sd_s: HOUR };
        },
        noticed_at_m,
    )),
    names(case(8, rigs::plain, |f| set(f, Figure::Share, 0.5), metric!(MissedArrivals)), &[Key::Contacts]),
    case(
        9,
        rigs::walled,
        |f| {
            often(f, 30.0, 72.0 * HOUR);
            set(f, Figure::Bias, -0.5);
        },
        metric!(OpenNobodyHome),
    ),
    falls(case(10, rigs::sound, as_usual, noticed_at_m)),
    case(
        11,
        rigs::sound,
        |f| {
            set(f, Figure::Dropout, 0.8);
            set(f, Figure::Gust, 4.0);
        },
        metric!(ReadingsDropped),
    ),
    case(
        12,
        rigs::sound,
        |f| {
            set(f, Figure::Share, 0.5);
            set(f, Figure::Range, 0.03);
        },
        metric!(MissedArrivals),
    ),
    case(13, rigs::plain, |f| set(f, Figure::LoadDrift, 1.0), metric!(BeliefError)),
    case(14, rigs::plain, |f| set(f, Figure::Tare, 100.0), metric!(BeliefError)),
    case(15, rigs::plain, |f| often(f, 100.0, 12.0 * HOUR), metric!(BeliefError)),
    case(16, rigs::plain, |f| often(f, 100.0, 12.0 * HOUR), metric!(BeliefError)),
    with_events(case(
        17,
        rigs::plain,
        |f| {
            f.lasts = Spread { mean_s: 20.0, sd_s: 5.0 };
            set(f, Figure::NoiseFactor, 100.0);
        },
        |record| happened(record, "on platform", "detector on", ""),
    )),
    case(18, rigs::plain, |f| set(f, Figure::Share, 0.5), metric!(OpenTime)),
    falls(with_events(case(
        19,
        rigs::flap,
        |f| often(f, 50.0, 48.0 * HOUR),
        |record| happened(record, "ajar", "detector off", ""),
    ))),
    with_events(case(20, rigs::flap, as_usual, |record| happened(record, "beyond", "detector on", ""))),
    case(21, rigs::plain, |f| often(f, 50.0, 24.0 * HOUR), metric!(OpenTime)),
    // At the ends of strokes only, then in gusts only.
    with_events(case(
        22,
        rigs::switched,
        |f| set(f, Figure::PerDay, 0.0),
        |record| happened(record, "shut", "detector on", "") / record.value(Key::Strokes),
    )),
    with_events(case(
        22,
        rigs::switched_in_wind,
        |f| set(f, Figure::Gust, 8.0),
        |record| happened(record, "shut", "detector on", "") / record.value(Key::Strokes),
    )),
    case(23, rigs::plain, |f| often(f, 50.0, 24.0 * HOUR), metric!(StrokesFailed)),
    case(24, rigs::plain, |f| set(f, Figure::Shift, 1e-3), metric!(StrokesFailed)),
    case(25, rigs::plain, |f| set(f, Figure::Force, 250.0), metric!(ObstructionTrips)),
    names(
        case(26, rigs::reckless, as_usual, metric!(PeakContactForce)),
        &[Key::Contacts, Key::PanelContacts, Key::ClosingsOnOccupied, Key::PeakContactForce, Key::PeakContactEnergy],
    ),
    case(27, rigs::plain, |f| set(f, Figure::Share, 0.2), metric!(ObstructionTrips)),
    case(28, rigs::frosty, as_usual, metric!(Stalls)),
    case(29, rigs::plain, |f| f.per_year = 300.0, metric!(OnTime)),
    case(30, rigs::plain, |f| often(f, 50.0, HOUR), metric!(PowerOut)),
    case(31, rigs::plain, |f| set(f, Figure::Share, 0.2), metric!(Resets)),
    messages(case(32, rigs::plain, |f| often(f, 1_000.0, 8.0 * HOUR), metric!(MissedArrivals))),
    messages(case(33, rigs::plain, |f| set(f, Figure::Delay, 600.0), metric!(WaitTotal))),
    messages(case(34, rigs::plain, |f| often(f, 1_000.0, 72.0 * HOUR), metric!(FalseOpenings))),
    // On the day of a change of clocks alone, every message looks an hour old or an hour too young.
    with_events(messages(case(
        34,
        rigs::clocks_change,
        |f| f.per_year = 0.0,
        |record| happened(record, "status", "message of an odd age", ""),
    ))),
    case(35, rigs::clocked, |f| set(f, Figure::PerDay, 2.0), metric!(MissedArrivals)),
    case(
        36,
        rigs::clocked,
        |f| {
            often(f, 30.0, 240.0 * HOUR);
            set(f, Figure::Delay, 5.0 * HOUR);
        },
        metric!(MissedArrivals),
    ),
    with_events(case(37, rigs::careless, as_usual, |record| happened(record, "mower", "goes home", "rain"))),
    case(38, rigs::plain, |f| set(f, Figure::Share, 0.3), metric!(DockingFailures)),
    case(
        39,
        rigs::plain,
        |f| {
            set(f, Figure::Share, 0.5);
            set(f, Figure::Delay, 10.0);
        },
        metric!(Reversals),
    ),
    case(40, rigs::plain, |f| set(f, Figure::Share, 0.3), metric!(DoorwayBlocked)),
    names(case(41, rigs::plain, |f| set(f, Figure::PerDay, 20.0), metric!(TrappedVisitors)), &[Key::TrappedVisitors]),
    case(42, rigs::plain, |f| set(f, Figure::PerDay, 20.0), metric!(FalseOpenings)),
    case(43, rigs::plain, |f| set(f, Figure::PerDay, 10.0), metric!(DoorCycles)),
    case(44, rigs::plain, |f| often(f, 400.0, 12.0 * HOUR), metric!(DoorwayBlocked)),
    case(44, rigs::plain, |f| often(f, 400.0, 12.0 * HOUR), metric!(OpenTime)),
    // Below the beams nothing sees it: the door comes down on it, always at the same place, and turns back.
    names(
        with_events(case(
            44,
            rigs::plain,
            |f| {
                often(f, 400.0, 12.0 * HOUR);
                set(f, Figure::Distance, 0.04);
            },
            reversed_at_one_place,
        )),
        &[Key::Contacts, Key::PanelContacts, Key::ClosingsOnOccupied, Key::PeakContactForce, Key::PeakContactEnergy],
    ),
    case(45, rigs::plain, |f| often(f, 50.0, 12.0 * HOUR), metric!(ManualTime)),
    // The mower pushes the door: the table's contact events, and their force.
    names(
        case(46, rigs::plain, |f| set(f, Figure::Share, 0.3), metric!(MissedDepartures)),
        &[Key::Contacts, Key::PeakContactForce],
    ),
    case(47, rigs::plain, |f| often(f, 600.0, 24.0 * HOUR), metric!(BeliefError)),
    case(48, rigs::plain, |f| often(f, 200.0, 12.0 * HOUR), metric!(BeliefError)),
    case(49, rigs::plain, |f| often(f, 50.0, 12.0 * HOUR), metric!(SensorBlind)),
    case(50, rigs::plain, |f| set(f, Figure::Dropout, 0.3), metric!(ReadingsDropped)),
    falls(case(51, rigs::plain, |f| often(f, 50.0, 12.0 * HOUR), metric!(DetectorUptime))),
    case(52, rigs::plain, |f| set(f, Figure::ShortReturns, 3e-3), metric!(FalseOpenings)),
    case(53, rigs::plain, |f| set(f, Figure::ShortReturns, 0.08), metric!(Reversals)),
    case(54, rigs::plain, |f| often(f, 300.0, 12.0 * HOUR), metric!(Reversals)),
    case(55, rigs::windy, |f| set(f, Figure::Share, 1.0), metric!(ObstructionTrips)),
    case(56, rigs::plain, |f| set(f, Figure::Share, 0.3), metric!(Resets)),
];
