//! What a reader must know before reading on: a door that hardly ever moves makes most figures look fine.

use crate::ledger::blame::Blamed;
use std::collections::BTreeSet;
use std::fmt;

use crate::engine::plan::{CAUSE_MOWER_UNDER, CAUSE_SWINGS_INTO_MOWER, mower_fits};
use crate::ledger::metric::Key;
use crate::ledger::record::SeasonRecord;
use crate::scenario::Scenario;
use crate::shelter::mechanism;

/// Share of strokes that fail beyond which the drive, not the strategy, decides the results: one in twenty.
const FAILING: f64 = 0.05;

/// Share of the season in fault beyond which it is named: one in twenty.
const IN_FAULT: f64 = 0.05;

/// Share of closings that end on the mower beyond which the door does no work: half of them.
const ON_THE_MOWER: f64 = 0.5;

/// Swings of the panel into the mower, as a share of arrivals, beyond which they are no accident: one in a hundred.
pub(super) const SWINGS: f64 = 0.01;

/// Why seasons can't show that anything stays below a bound: little of it may have happened because little was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Untried {
    /// No mower came home in any of the seasons.
    NothingArrived,
    /// The door opened and never came back to shut.
    NeverShut,
    /// Most closings ended on the mower.
    OnTheMower,
    /// More strokes failed than a drive that does its work lets fail.
    DriveFails,
    /// The mower gave up leaving more often than it left.
    HardlyLeft,
}

impl fmt::Display for Untried {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Untried::NothingArrived => "the mower never came home in any season",
            Untried::HardlyLeft => "the mower seldom got out",
            Untried::NeverShut => "the door opened and never came back to shut",
            Untried::OnTheMower => "most closings end on the mower",
            Untried::DriveFails => "the drive fails at its strokes",
        })
    }
}

/// What the seasons did not try, the gravest first; none if a bound from above means what it says.
pub fn untried(records: &[SeasonRecord]) -> Option<Untried> {
    if records.is_empty() {
        None
    } else if sum(records, Key::Arrivals) == 0.0 {
        Some(Untried::NothingArrived)
    } else if never_shut(records) {
        Some(Untried::NeverShut)
    } else if ends_on_mower(records) {
        Some(Untried::OnTheMower)
    } else {
        let hardly = hardly_left(records).then_some(Untried::HardlyLeft);
        if drive_fails(records) { Some(Untried::DriveFails) } else { hardly }
    }
}

fn hardly_left(records: &[SeasonRecord]) -> bool {
    sum(records, Key::MissedDepartures) > sum(records, Key::Departures)
}

fn never_shut(records: &[SeasonRecord]) -> bool {
    sum(records, Key::Openings) > 0.0 && sum(records, Key::DoorCycles) == 0.0
}

/// Contacts of one cause.
fn contacts(records: &[SeasonRecord], cause: usize) -> f64 {
    records.iter().filter_map(|record| record.by_cause[Blamed::Contacts].get(cause)).sum::<u64>() as f64
}

/// Closings that ended on the mower.
fn on_the_mower(records: &[SeasonRecord]) -> f64 {
    contacts(records, CAUSE_MOWER_UNDER)
}

fn ends_on_mower(records: &[SeasonRecord]) -> bool {
    let on_it = on_the_mower(records);
    on_it > ON_THE_MOWER * (on_it + sum(records, Key::DoorCycles))
}

fn drive_fails(records: &[SeasonRecord]) -> bool {
    let strokes = sum(records, Key::Strokes);
    strokes > 0.0 && failed(records) > FAILING * strokes
}

/// Strokes that failed, whatever the reason: stall, time-out, thermal cut-out, a supply that refused. A stroke that can't be
/// finished and is called off before it has failed counts, too.
fn failed(records: &[SeasonRecord]) -> f64 {
    let unfinished = sum(records, Key::Stalls) + sum(records, Key::BrownOuts);
    sum(records, Key::StrokesFailed).max(unfinished)
}

/// What follows for the limits.
const NOT_MET: &str = "no limit of the kind \"at most\" counts as met";

/// Warnings about a strategy's seasons, each a sentence that begins with its name.
pub fn alarms(name: &str, records: &[SeasonRecord]) -> Vec<String> {
    let of = |key| sum(records, key);
    let mut all = Vec::new();
    let mut warn = |words: String| all.push(format!("{name}: {words}"));
    if untried(records) == Some(Untried::NothingArrived) {
        let given_up = of(Key::MissedDepartures);
        let why = if given_up > 0.0 { "; it gave up leaving because the door did not let it out" } else { "" };
        warn(format!("the mower never came home in any season{why}. Nothing was tried, so {NOT_MET}"));
    }
    if untried(records) == Some(Untried::HardlyLeft) {
        let (given_up, left) = (of(Key::MissedDepartures), of(Key::Departures));
        warn(format!(
            "the mower gave up leaving {given_up:.0} times and left {left:.0} times, because the door did not let it out, so {NOT_MET}; \
             `dooryard check` says why"
        ));
    }
    if drive_fails(records) {
        let (strokes, failed) = (of(Key::Strokes), failed(records));
        let (stalled, refused, trips) = (of(Key::Stalls), of(Key::BrownOuts), of(Key::ThermalTrips));
        warn(format!(
            "of {strokes:.0} strokes {failed:.0} failed ({stalled:.0} stalled, {refused:.0} browned out, the thermal cut-out \
             opened {trips:.0} times): the drive can't do its work, so {NOT_MET}; `dooryard check` says why"
        ));
    }
    let ran_empty = records.iter().filter(|record| record.value(Key::BatteryEmpty) > 0.0).count();
    if ran_empty > 0 {
        let mean_h = of(Key::BatteryEmpty) / records.len() as f64;
        warn(format!(
            "the battery ran empty in {ran_empty} of {} seasons, for {mean_h:.1} h a season in the mean: panel or battery \
             is too small for the load, or the load too large",
            records.len()
        ));
    }
    if never_shut(records) {
        warn(format!("the door opened and never came back to shut, so {NOT_MET}; `dooryard check` says why"));
    }
    if ends_on_mower(records) {
        let (on_it, shut) = (on_the_mower(records), of(Key::DoorCycles));
        warn(format!(
            "the door came down on the mower {on_it:.0} times and shut {shut:.0} times, so {NOT_MET}: the mower stands where \
             the door closes, or nothing sees it there"
        ));
    }
    let (swung, arrivals) = (contacts(records, CAUSE_SWINGS_INTO_MOWER), of(Key::Arrivals));
    if swung > SWINGS * arrivals && swung > 0.0 {
        warn(format!(
            "the door swung into the mower {swung:.0} times in {arrivals:.0} arrivals: the panel's way needs a sensor that sees the \
             mower in it until it is inside, or a place to wait beyond it"
        ));
    }
    let season_h = of(Key::OpenTime) + of(Key::ShutTime);
    let share = of(Key::FaultTime) / season_h;
    if share > IN_FAULT {
        warn(format!("the controller stood in fault for {:.0} % of the time", 100.0 * share));
    }
    all
}

/// Says so if the open door is too small for the mower.
pub fn too_small(scenario: &Scenario) -> Option<String> {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let open_m = mechanism::stroke_m(door);
    (!mower_fits(scenario)).then(|| {
        format!(
            "the open door leaves {:.3} m of width and {:.3} m of height, but the mower is {:.3} m wide and {:.3} m high: it can \
             neither leave nor come home; `dooryard check` says what would help",
            mechanism::clear_width_m(door, open_m),
            mechanism::clear_height_m(door, open_m).min(door.height_m),
            mower.width_m,
            mower.height_m
        )
    })
}

/// Says so if a strategy's open rule looks through sensors whose noise remembers: their misses are counted, not worked out.
pub fn counts_only(scenario: &Scenario, strategy: usize, open_detectors: u64) -> Option<String> {
    let sensors: BTreeSet<usize> = (0..scenario.detectors.len())
        .filter(|detector| open_detectors >> detector & 1 == 1)
        .map(|detector| scenario.detectors[detector].sensor)
        .filter(|sensor| scenario.sensors[*sensor].errors.noise_correlation > 0.0)
        .collect();
    let names: Vec<String> = sensors
        .into_iter()
        .map(|sensor| &scenario.sensors[sensor])
        .map(|sensor| format!("{} ({} from sample to sample)", sensor.name, sensor.errors.noise_correlation))
        .collect();
    let name = &scenario.strategies[strategy].name;
    (!names.is_empty()).then(|| {
        format!(
            "{name}: the noise of {} is correlated; formulas for independent samples don't hold, so that arrivals it might \
             notice are counted as they turn out. `dooryard misses` works out their chances with it",
            names.join(" and ")
        )
    })
}

fn sum(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).filter(|value| value.is_finite()).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn season(values: &[(Key, f64)]) -> SeasonRecord {
        let mut record = SeasonRecord::empty(0, 0);
        values.iter().for_each(|(key, value)| record.values[*key as usize] = *value);
        record
    }

    #[test]
    fn sound_seasons_raise_none() {
        let sound = season(&[
            (Key::Arrivals, 10.0),
            (Key::Strokes, 40.0),
            (Key::Stalls, 1.0),
            (Key::StrokesFailed, 2.0),
            (Key::Openings, 20.0),
            (Key::DoorCycles, 20.0),
            (Key::ShutTime, 100.0),
            (Key::FaultTime, 1.0),
        ]);
        assert_eq!((alarms("s", std::slice::from_ref(&sound)), untried(&[sound])), (Vec::new(), None));
        assert_eq!((alarms("s", &[]), untried(&[])), (Vec::new(), None));
    }

    #[test]
    fn each_alarm() {
        let heard = |values: &[(Key, f64)], words: &str| {
            let all = alarms("s", &[season(values)]);
            assert!(all.iter().any(|line| line.starts_with("s: ") && line.contains(words)), "{words} in {all:?}");
        };
        heard(&[(Key::MissedDepartures, 3.0)], "gave up leaving");
        let hardly = [(Key::Arrivals, 2.0), (Key::Departures, 2.0), (Key::MissedDepartures, 3.0)];
        heard(&hardly, "gave up leaving 3 times and left 2 times");
        assert_eq!(untried(&[season(&hardly)]), Some(Untried::HardlyLeft));
        heard(&[(Key::Arrivals, 1.0), (Key::Strokes, 40.0), (Key::Stalls, 2.0), (Key::BrownOuts, 1.0)], "browned out");
        // Cut-outs and time-outs are neither stalls nor brown-outs.
        let tripping =
            [(Key::Arrivals, 1.0), (Key::Strokes, 40.0), (Key::StrokesFailed, 3.0), (Key::ThermalTrips, 2.0)];
        heard(&tripping, "of 40 strokes 3 failed (0 stalled, 0 browned out, the thermal cut-out opened 2 times)");
        assert_eq!(untried(&[season(&tripping)]), Some(Untried::DriveFails));
        heard(&[(Key::Arrivals, 1.0), (Key::BatteryEmpty, 5.0)], "battery ran empty in 1 of 1 seasons, for 5.0 h");
        heard(&[(Key::Arrivals, 1.0), (Key::Openings, 1.0)], "never came back to shut");
        let mut crushing = season(&[(Key::Arrivals, 1.0), (Key::Openings, 9.0), (Key::DoorCycles, 4.0)]);
        crushing.by_cause[Blamed::Contacts] = vec![0, 4];
        assert_eq!(untried(std::slice::from_ref(&crushing)), None);
        crushing.by_cause[Blamed::Contacts] = vec![0, 5];
        assert_eq!(untried(std::slice::from_ref(&crushing)), Some(Untried::OnTheMower));
        assert!(alarms("s", &[crushing])[0].contains("came down on the mower 5 times and shut 4 times"));
        let mut swinging = season(&[(Key::Arrivals, 200.0), (Key::Openings, 9.0), (Key::DoorCycles, 9.0)]);
        swinging.by_cause[Blamed::Contacts] = vec![0, 0, 2];
        assert!(alarms("s", std::slice::from_ref(&swinging)).is_empty());
        swinging.by_cause[Blamed::Contacts] = vec![0, 0, 3];
        assert!(alarms("s", &[swinging])[0].contains("swung into the mower 3 times in 200 arrivals"));
        heard(&[(Key::Arrivals, 1.0), (Key::ShutTime, 90.0), (Key::OpenTime, 10.0), (Key::FaultTime, 6.0)], "6 %");
    }
}
