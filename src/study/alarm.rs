//! What a reader must know before reading on: a door that hardly ever moves makes most figures look fine.

use std::collections::BTreeSet;
use std::fmt;

use crate::ledger::metric::Key;
use crate::ledger::record::SeasonRecord;
use crate::scenario::Scenario;

/// Share of strokes that fail beyond which the drive, not the strategy, decides the results: one in twenty.
const FAILING: f64 = 0.05;

/// Share of the season in fault beyond which it is named: one in twenty.
const IN_FAULT: f64 = 0.05;

/// Why seasons can't show that anything stays below a bound: little of it may have happened because little was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Untried {
    /// No mower came home in any of the seasons.
    NothingArrived,
    /// The door opened and never came back to shut.
    NeverShut,
    /// More strokes failed than a drive that does its work lets fail.
    DriveFails,
}

impl fmt::Display for Untried {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Untried::NothingArrived => "the mower never came home in any season",
            Untried::NeverShut => "the door opened and never came back to shut",
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
    } else {
        drive_fails(records).then_some(Untried::DriveFails)
    }
}

fn never_shut(records: &[SeasonRecord]) -> bool {
    sum(records, Key::Openings) > 0.0 && sum(records, Key::DoorCycles) == 0.0
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
        let why = if given_up > 0.0 { "; it gave up leaving because the door stayed shut" } else { "" };
        warn(format!("the mower never came home in any season{why}. Nothing was tried, so {NOT_MET}"));
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
    let season_h = of(Key::OpenTime) + of(Key::ShutTime);
    let share = of(Key::FaultTime) / season_h;
    if share > IN_FAULT {
        warn(format!("the controller stood in fault for {:.0} % of the time", 100.0 * share));
    }
    all
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
        let mut record = SeasonRecord::empty(0, 0, 0, 0);
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
        heard(&[(Key::Arrivals, 1.0), (Key::Strokes, 40.0), (Key::Stalls, 2.0), (Key::BrownOuts, 1.0)], "browned out");
        // Cut-outs and time-outs are neither stalls nor brown-outs.
        let tripping =
            [(Key::Arrivals, 1.0), (Key::Strokes, 40.0), (Key::StrokesFailed, 3.0), (Key::ThermalTrips, 2.0)];
        heard(&tripping, "of 40 strokes 3 failed (0 stalled, 0 browned out, the thermal cut-out opened 2 times)");
        assert_eq!(untried(&[season(&tripping)]), Some(Untried::DriveFails));
        heard(&[(Key::Arrivals, 1.0), (Key::BatteryEmpty, 5.0)], "battery ran empty in 1 of 1 seasons, for 5.0 h");
        heard(&[(Key::Arrivals, 1.0), (Key::Openings, 1.0)], "never came back to shut");
        heard(&[(Key::Arrivals, 1.0), (Key::ShutTime, 90.0), (Key::OpenTime, 10.0), (Key::FaultTime, 6.0)], "6 %");
    }
}
