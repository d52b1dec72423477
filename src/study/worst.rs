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

/// What seasons leave for these lists, one season after another.
#[derive(Clone, Debug, Default)]
pub struct WorstSoFar {
    seasons: [Vec<Worst>; WRONG.len()],
    days: [Vec<Worst>; WRONG.len()],
    hours: [HourUse; HOURS],
}

impl WorstSoFar {
    /// Takes the next season in order.
    pub fn add(&mut self, record: &SeasonRecord) {
        for (place, (key, of)) in WRONG.into_iter().enumerate() {
            keep(&mut self.seasons[place], key, record.season, None, record.value(key));
            for (index, day) in record.days.iter().enumerate() {
                keep(&mut self.days[place], key, record.season, Some(index), of(day));
            }
        }
        for (all, one) in self.hours.iter_mut().zip(&record.hours) {
            all.openings += u64::from(one.openings);
            all.false_openings += u64::from(one.false_openings);
            all.arrivals += u64::from(one.arrivals);
            all.missed += u64::from(one.missed);
        }
    }

    /// The worst seasons, then the worst days, of each thing that goes wrong; the worst first, of equals the earliest.
    /// What never happened has none.
    pub fn worst(&self) -> Vec<Worst> {
        let lists = self.seasons.iter().chain(&self.days);
        let ranked = |list: &Vec<Worst>| {
            list.iter().cloned().enumerate().map(|(index, one)| Worst { rank: index + 1, ..one }).collect::<Vec<_>>()
        };
        lists.flat_map(ranked).collect()
    }

    /// Door use by hour of the local day, summed over seasons.
    pub fn hours(&self) -> [HourUse; HOURS] {
        self.hours
    }
}

/// Keeps the few largest values above nothing.
fn keep(kept: &mut Vec<Worst>, key: Key, season: u64, day: Option<usize>, value: f64) {
    if value <= 0.0 || kept.last().is_some_and(|last| kept.len() == NAMED && last.value >= value) {
        return;
    }
    let place = kept.partition_point(|other| other.value >= value);
    kept.insert(place, Worst { key, rank: 0, season, day, value });
    kept.truncate(NAMED);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_come_first_and_of_equals_the_earliest() {
        let record = |season, missed: [u32; 2]| {
            let mut record = SeasonRecord::empty(season, 2);
            for (day, missed) in record.days.iter_mut().zip(missed) {
                day.missed = missed;
            }
            record.values[Key::MissedArrivals as usize] = f64::from(missed[0] + missed[1]);
            record.hours[7].missed = missed[0];
            record
        };
        let seasons = [record(4, [1, 0]), record(5, [0, 3]), record(6, [1, 1]), record(7, [1, 0])];
        let mut so_far = WorstSoFar::default();
        seasons.iter().for_each(|record| so_far.add(record));
        let got: Vec<_> = so_far.worst().iter().map(|one| (one.rank, one.season, one.day, one.value)).collect();
        let expected = [
            (1, 5, None, 3.0),
            (2, 6, None, 2.0),
            (3, 4, None, 1.0),
            (1, 5, Some(1), 3.0),
            (2, 4, Some(0), 1.0),
            (3, 6, Some(0), 1.0),
        ];
        assert_eq!(got, expected);
        assert_eq!(so_far.hours()[7].missed, 3);
    }
}
