//! Where to look first: the seasons and days in which most went wrong, and the hours in which the door moves.

use super::result::{HourUse, Worst};
use crate::ledger::metric::Key;
use crate::ledger::record::{Day, HOURS, SeasonRecord};

/// Seasons and days that are named for each thing that goes wrong.
const NAMED: usize = 3;

/// What goes wrong, and what a day knows of it, in the metric's unit.
type Wrong = (Key, fn(&Day) -> f64);

const WRONG: [Wrong; 6] = [
    (Key::MissedArrivals, |day| f64::from(day.missed)),
    (Key::FalseOpenings, |day| f64::from(day.false_openings)),
    (Key::Contacts, |day| f64::from(day.contacts)),
    (Key::Strandings, |day| f64::from(day.strandings)),
    (Key::WaitTotal, |day| day.wait_s / 60.0),
    (Key::WetFloorTime, |day| day.wet_floor_min),
];

/// The worst seasons, then the worst days, of each thing that goes wrong; the worst first, of equals the earliest. What
/// never happened has none.
pub fn worst(seasons: &[SeasonRecord]) -> Vec<Worst> {
    let mut all = Vec::new();
    for (key, _) in WRONG {
        let values = seasons.iter().map(|record| (record.season, None, record.value(key)));
        all.extend(ranked(key, values));
    }
    for (key, of) in WRONG {
        let values = seasons.iter().flat_map(|record| {
            record.days.iter().enumerate().map(move |(index, day)| (record.season, Some(index), of(day)))
        });
        all.extend(ranked(key, values));
    }
    all
}

/// The largest values above nothing. One pass that keeps the few largest: there are as many days as seasons have.
fn ranked(key: Key, values: impl Iterator<Item = (u64, Option<usize>, f64)>) -> Vec<Worst> {
    let mut kept: Vec<Worst> = Vec::with_capacity(NAMED + 1);
    for (season, day, value) in values.filter(|(.., value)| *value > 0.0) {
        let place = kept.partition_point(|other| other.value >= value);
        if place < NAMED {
            kept.insert(place, Worst { key, rank: 0, season, day, value });
            kept.truncate(NAMED);
        }
    }
    kept.iter_mut().enumerate().for_each(|(index, one)| one.rank = index + 1);
    kept
}

/// Door use by hour of the local day, summed over seasons.
pub fn hours(seasons: &[SeasonRecord]) -> [HourUse; HOURS] {
    let mut sum = [HourUse::default(); HOURS];
    for record in seasons {
        for (all, one) in sum.iter_mut().zip(&record.hours) {
            all.openings += u64::from(one.openings);
            all.false_openings += u64::from(one.false_openings);
            all.arrivals += u64::from(one.arrivals);
            all.missed += u64::from(one.missed);
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_come_first_and_of_equals_the_earliest() {
        let record = |season, missed: [u32; 2]| {
            let mut record = SeasonRecord::empty(season, 2, 0, 0);
            for (day, missed) in record.days.iter_mut().zip(missed) {
                day.missed = missed;
            }
            record.values[Key::MissedArrivals as usize] = f64::from(missed[0] + missed[1]);
            record.hours[7].missed = missed[0];
            record
        };
        let seasons = [record(4, [1, 0]), record(5, [0, 3]), record(6, [1, 1]), record(7, [1, 0])];
        let got: Vec<_> = worst(&seasons).iter().map(|one| (one.rank, one.season, one.day, one.value)).collect();
        let expected = [
            (1, 5, None, 3.0),
            (2, 6, None, 2.0),
            (3, 4, None, 1.0),
            (1, 5, Some(1), 3.0),
            (2, 4, Some(0), 1.0),
            (3, 6, Some(0), 1.0),
        ];
        assert_eq!(got, expected);
        assert_eq!(hours(&seasons)[7].missed, 3);
    }
}
