//! Acceptance limits: met, not met, or not yet decided.
//!
//! A limit is met when the one-sided confidence bound of the mean on the far side lies within it, and not met when
//! the bound on the near side lies beyond it, both at the limit's confidence and with the method that the metric's
//! interval uses. In between the seasons don't decide. Looking again after more seasons and stopping at the first
//! decision makes the error somewhat larger than the confidence says; the number of further seasons given here is
//! meant for planning one second look.

use super::alarm::untried;
use super::basis::Basis;
use super::interval::mean::smallest;
use super::result::{LimitVerdict, Verdict};
use super::summary;
use crate::ledger::metric::by_key;
use crate::ledger::record::SeasonRecord;
use crate::scenario::limits::{Bound, Limit};

/// Decides on a limit. Without any season, or for a metric that doesn't exist, it stays undecided.
///
/// Seasons in which no mower ever came home, the door never came back to shut, or the drive fails at its strokes have not
/// tried what a limit of the kind "at most" is about: it is then never met.
///
/// A limit of "at most 0" on a count can never be met by seasons without the event, because the true mean may always
/// be a little larger: it stays undecided with no number of further seasons.
pub fn judge(limit: &Limit, records: &[SeasonRecord]) -> LimitVerdict {
    let basis = by_key(&limit.metric).map(|key| summary::basis_of_limit(records, key));
    let untried = if limit.bound == Bound::AtMost { untried(records) } else { None };
    let open = Verdict::Undecided { more_seasons: None };
    let (mean, confidence_bound, verdict) = match &basis {
        Some(basis) if basis.seasons > 0 => match decide(limit, basis) {
            Verdict::NotMet => (basis.mean, near_bound(limit, basis, basis.seasons), Verdict::NotMet),
            other => {
                let verdict = if untried.is_some() { open } else { of_all(other, basis.seasons, records.len()) };
                (basis.mean, far_bound(limit, basis, basis.seasons), verdict)
            }
        },
        _ => (0.0, None, open),
    };
    let untried = untried.filter(|_| verdict != Verdict::NotMet);
    LimitVerdict { limit: limit.clone(), mean, confidence_bound, verdict, untried }
}

/// A verdict with its further seasons among all, where only some of the seasons bear on it.
fn of_all(verdict: Verdict, bearing: u64, all: usize) -> Verdict {
    let scaled = |more: u64| (more as f64 * all as f64 / bearing as f64).ceil() as u64;
    match verdict {
        Verdict::Undecided { more_seasons } => Verdict::Undecided { more_seasons: more_seasons.map(scaled) },
        decided => decided,
    }
}

fn decide(limit: &Limit, basis: &Basis) -> Verdict {
    if meets(limit, basis, basis.seasons) {
        Verdict::Met
    } else if violates(limit, basis, basis.seasons) {
        Verdict::NotMet
    } else {
        Verdict::Undecided { more_seasons: more_seasons(limit, basis) }
    }
}

/// Further seasons after which the limit would be decided if mean and spread stayed as they are; `None` if the mean
/// sits on the limit, if the spread is unknown, or if it would take more than some 1e9.
fn more_seasons(limit: &Limit, basis: &Basis) -> Option<u64> {
    let within = match limit.bound {
        Bound::AtMost => basis.mean <= limit.value,
        Bound::AtLeast => basis.mean >= limit.value,
    };
    let decided = |seasons: u64| if within { meets(limit, basis, seasons) } else { violates(limit, basis, seasons) };
    smallest(basis.seasons, decided).map(|seasons| seasons - basis.seasons)
}

fn meets(limit: &Limit, basis: &Basis, seasons: u64) -> bool {
    let bound = far_bound(limit, basis, seasons);
    bound.is_some_and(|bound| match limit.bound {
        Bound::AtMost => bound <= limit.value,
        Bound::AtLeast => bound >= limit.value,
    })
}

fn violates(limit: &Limit, basis: &Basis, seasons: u64) -> bool {
    let bound = near_bound(limit, basis, seasons);
    bound.is_some_and(|bound| match limit.bound {
        Bound::AtMost => bound > limit.value,
        Bound::AtLeast => bound < limit.value,
    })
}

/// The bound that must lie beyond a limit that is not met: lower for `AtMost`, upper for `AtLeast`.
fn near_bound(limit: &Limit, basis: &Basis, seasons: u64) -> Option<f64> {
    match limit.bound {
        Bound::AtMost => basis.lower_with(seasons, limit.confidence),
        Bound::AtLeast => basis.upper_with(seasons, limit.confidence),
    }
}

/// The bound that must lie within the limit: upper for `AtMost`, lower for `AtLeast`.
fn far_bound(limit: &Limit, basis: &Basis, seasons: u64) -> Option<f64> {
    match limit.bound {
        Bound::AtMost => basis.upper_with(seasons, limit.confidence),
        Bound::AtLeast => basis.lower_with(seasons, limit.confidence),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::metric::Key;

    fn records(key: Key, values: &[f64]) -> Vec<SeasonRecord> {
        let record = |(season, value): (usize, &f64)| {
            let mut record = SeasonRecord::empty(season as u64, 0);
            record.values[Key::Arrivals as usize] = 1.0;
            record.values[key as usize] = *value;
            record
        };
        values.iter().enumerate().map(record).collect()
    }

    fn limit(key: Key, bound: Bound, value: f64, confidence: f64) -> Limit {
        Limit { metric: key.metric().key.to_owned(), bound, value, confidence }
    }

    fn at_most(key: Key, value: f64, values: &[f64]) -> LimitVerdict {
        judge(&limit(key, Bound::AtMost, value, 0.95), &records(key, values))
    }

    /// No event in n seasons: bound -ln(0.05) / n = 2.9957 / n, so a limit of 0.05 takes 60 seasons.
    #[test]
    fn no_event_yet() {
        let got = at_most(Key::Strandings, 0.05, &[0.0; 10]);
        assert_eq!(got.verdict, Verdict::Undecided { more_seasons: Some(50) });
        assert!((got.confidence_bound.expect("counts have bounds") - 0.299_573_227_355_399).abs() < 1e-12);
        assert_eq!(at_most(Key::Strandings, 0.05, &[0.0; 59]).verdict, Verdict::Undecided { more_seasons: Some(1) });
        assert_eq!(at_most(Key::Strandings, 0.05, &[0.0; 60]).verdict, Verdict::Met);
        assert_eq!(at_most(Key::Strandings, 0.0, &[0.0; 60]).verdict, Verdict::Undecided { more_seasons: None });
    }

    /// One event: the lower bound at 95 % is -ln(0.95) = 0.0513 per exposure, the upper one 4.7439 (half of the
    /// 95 % point of chi-square with 4 degrees of freedom, 9.4877, any printed table).
    #[test]
    fn one_event() {
        assert_eq!(at_most(Key::Contacts, 0.0512, &[1.0]).verdict, Verdict::NotMet);
        let undecided = at_most(Key::Contacts, 0.0514, &[1.0]);
        assert!(matches!(undecided.verdict, Verdict::Undecided { more_seasons: Some(1..) }), "{undecided:?}");
        assert!((undecided.confidence_bound.expect("a bound") - 4.743_86).abs() < 1e-5);
        let met = judge(&limit(Key::Contacts, Bound::AtLeast, 0.0512, 0.95), &records(Key::Contacts, &[1.0]));
        assert_eq!(met.verdict, Verdict::Met);
    }

    /// A limit of 150 N on the peak contact force. 29 seasons without a contact, or with one contact of 100 N, meet it (success run); with one
    /// of 200 N it is not met, though the mean of all seasons is 7 N; so with two of 190 N and 210 N in 100, whose mean is 200 N:
    /// t(0.95, 1) = 6.3138, 200 - 6.3138 x 14.142 / sqrt 2 = 136.9 leaves it open, six such are enough.
    #[test]
    fn a_limit_on_a_peak_goes_by_the_seasons_that_have_one() {
        let judged = |contacts: &[f64], seasons: usize| {
            let mut values = vec![0.0; seasons];
            values[..contacts.len()].copy_from_slice(contacts);
            at_most(Key::PeakContactForce, 150.0, &values)
        };
        assert_eq!(judged(&[], 29).verdict, Verdict::Met);
        assert_eq!(judged(&[100.0], 29).verdict, Verdict::Met);
        assert!(matches!(judged(&[100.0], 28).verdict, Verdict::Undecided { more_seasons: Some(1) }));
        let one = judged(&[200.0], 29);
        assert_eq!((one.verdict, one.mean), (Verdict::NotMet, 200.0));
        assert!(matches!(judged(&[190.0, 210.0], 100).verdict, Verdict::Undecided { more_seasons: Some(50..) }));
        assert_eq!(judged(&[190.0, 210.0, 190.0, 210.0, 190.0, 210.0], 100).verdict, Verdict::NotMet);
    }

    /// With as many more seasons as it says, and alike ones, the limit is decided, and with one fewer it is not.
    #[test]
    fn the_number_of_further_seasons_is_the_smallest() {
        let pattern = [2.0, 0.0, 1.0, 1.0, 0.0, 0.0, 1.0, 0.0];
        let Verdict::Undecided { more_seasons: Some(more) } = at_most(Key::Contacts, 1.0, &pattern).verdict else {
            panic!("0.625 a season in 8 seasons can't exclude 1")
        };
        // Events stay in proportion to seasons, fractions of events included.
        let bound = |seasons: u64| crate::study::interval::poisson_upper(0.625 * seasons as f64, seasons as f64, 0.95);
        assert!(bound(8 + more) <= 1.0 && bound(8 + more - 1) > 1.0, "{more}");
    }

    /// Student: 16.0, 14.0 in turn, n = 8: sd = sqrt(8 / 7), t(0.95, 7) = 1.894579; upper 15 + 0.7161.
    #[test]
    fn amounts() {
        let values = [16.0, 14.0, 16.0, 14.0, 16.0, 14.0, 16.0, 14.0];
        let exact = 15.0 + 1.894_578_605 * (8.0_f64 / 7.0 / 8.0).sqrt();
        let got = at_most(Key::OpenTime, 15.8, &values);
        assert_eq!(got.verdict, Verdict::Met);
        assert!((got.confidence_bound.expect("eight seasons") - exact).abs() < 1e-8);
        assert_eq!(at_most(Key::OpenTime, 14.2, &values).verdict, Verdict::NotMet);
        // t(n - 1) sqrt(8 / 7 / n) <= 0.4: n = 20 gives 1.7291 * 0.2390 = 0.4133, n = 21 gives 1.7247 * 0.2333 =
        // 0.4024, n = 22 gives 1.7207 * 0.2279 = 0.3922.
        let got = at_most(Key::OpenTime, 15.4, &values).verdict;
        assert_eq!(got, Verdict::Undecided { more_seasons: Some(14) });
        assert_eq!(at_most(Key::OpenTime, 15.0, &values).verdict, Verdict::Undecided { more_seasons: None });
        assert_eq!(at_most(Key::OpenTime, 20.0, &values[..1]).verdict, Verdict::Undecided { more_seasons: None });
    }

    /// Success run: 0.9^29 = 0.0471, so alike seasons decide from 29 on at a one-sided 95 %.
    #[test]
    fn alike_seasons() {
        let got = at_most(Key::WetFloorTime, 1.0, &[0.0; 10]);
        assert_eq!((got.verdict, got.confidence_bound), (Verdict::Undecided { more_seasons: Some(19) }, None));
        assert_eq!(at_most(Key::WetFloorTime, 0.0, &[0.0; 29]).verdict, Verdict::Met);
    }

    /// Nobody came home, the door never shut again, or a tenth of the strokes stalled: "at most" is not met however few
    /// there are, "at least" is judged as ever, and what is beyond its bound stays not met.
    #[test]
    fn what_was_not_tried_is_not_met() {
        use crate::study::alarm::Untried;
        let base = [(Key::Arrivals, 9.0), (Key::Openings, 9.0), (Key::DoorCycles, 9.0), (Key::Strokes, 20.0)];
        let seasons = |changed: Option<(Key, f64)>| {
            let mut record = SeasonRecord::empty(0, 0);
            base.iter().chain(&changed).for_each(|(key, value)| record.values[*key as usize] = *value);
            vec![record; 60]
        };
        let none = limit(Key::Contacts, Bound::AtMost, 0.05, 0.95);
        let sound = judge(&none, &seasons(None));
        assert_eq!((sound.verdict, sound.untried), (Verdict::Met, None));
        for (changed, why) in [
            ((Key::Arrivals, 0.0), Untried::NothingArrived),
            ((Key::DoorCycles, 0.0), Untried::NeverShut),
            ((Key::Stalls, 2.0), Untried::DriveFails),
            ((Key::BrownOuts, 2.0), Untried::DriveFails),
        ] {
            let records = seasons(Some(changed));
            let got = judge(&none, &records);
            assert_eq!((got.verdict, got.untried), (Verdict::Undecided { more_seasons: None }, Some(why)));
            let many = judge(&limit(Key::Strokes, Bound::AtMost, 1.0, 0.95), &records);
            assert_eq!((many.verdict, many.untried), (Verdict::NotMet, None));
            let least = judge(&limit(Key::Strokes, Bound::AtLeast, 1.0, 0.95), &records);
            assert_eq!((least.verdict, least.untried), (Verdict::Met, None));
        }
    }

    #[test]
    fn nothing_to_judge() {
        let undecided = Verdict::Undecided { more_seasons: None };
        assert_eq!(at_most(Key::Contacts, 1.0, &[]).verdict, undecided);
        let unknown = Limit { metric: "no such metric".to_owned(), bound: Bound::AtMost, value: 1.0, confidence: 0.9 };
        assert_eq!(judge(&unknown, &records(Key::Contacts, &[1.0])).verdict, undecided);
    }
}
