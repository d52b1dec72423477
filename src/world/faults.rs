//! When things stop working for a while.
//!
//! Each fault is an alternating renewal process that starts in working order: exponential working times with mean
//! 365.25 days / `per_year`, then an outage of drawn length during which no further one can begin. Stream
//! `fault NAME`, entity = outage number: the working time before it, then its length.

use super::clock::LocalClock;
use super::spread::draw;
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::visitor::Fault;

/// Seconds in a Julian year of 365.25 days.
pub const YEAR_S: f64 = 365.25 * 86_400.0;

/// One outage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Outage {
    /// Index into the scenario's faults.
    pub fault: usize,
    /// Its first moment.
    pub from: Instant,
    /// The first moment after it, at most the season's end.
    pub to: Instant,
}

/// All outages of a season, by start; equal starts by the fault's index.
pub fn outages(scenario: &Scenario, clock: &LocalClock, seed: u64, season: u64) -> Vec<Outage> {
    outages_of(&scenario.faults, clock, seed, season)
}

fn outages_of(faults: &[Fault], clock: &LocalClock, seed: u64, season: u64) -> Vec<Outage> {
    let mut all = Vec::new();
    for (index, fault) in faults.iter().enumerate().filter(|(_, fault)| fault.per_year > 0.0) {
        let source = Source::new(seed, season, &format!("fault {}", fault.name));
        let mut repaired = Instant::START;
        for number in 0.. {
            let mut stream = source.stream(number);
            let from = repaired + Span::from_seconds(stream.exponential(YEAR_S / fault.per_year));
            if from >= clock.end() {
                break;
            }
            // At least a microsecond, so that time moves on even for a fault that lasts no time at all.
            repaired = from + Span::from_seconds(draw(&fault.lasts, &mut stream)).max(Span(1));
            all.push(Outage { fault: index, from, to: repaired.min(clock.end()) });
        }
    }
    all.sort_by_key(|outage| (outage.from, outage.fault));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::mower::Spread;
    use crate::scenario::season::Calendar;
    use crate::scenario::visitor::FaultKind;
    use jiff::civil::date;

    fn fault(name: &str, per_year: f64, mean_s: f64) -> Fault {
        let lasts = Spread { mean_s, sd_s: 0.3 * mean_s };
        Fault { name: name.to_owned(), kind: FaultKind::Power, per_year, lasts, noise_factor: 1.0 }
    }

    fn clock() -> LocalClock {
        let calendar = Calendar { first_day: date(2025, 4, 1), last_day: date(2025, 10, 31) };
        LocalClock::new(&calendar, "Europe/Vienna").unwrap()
    }

    /// Outages per working time equal the rate: given the working time T the count is Poisson with mean rate x T,
    /// because working times are exponential (renewal theory). 300 seasons, 4 standard errors, outages that fill a
    /// sixth of the time so that a rate per calendar time would fail.
    #[test]
    fn rate_holds_per_working_time() {
        let clock = clock();
        let faults = [fault("mains", 12.0, 6.0 * 86_400.0)];
        let (mut count, mut down_s) = (0.0, 0.0);
        let seasons = 300;
        for season in 0..seasons {
            let found = outages_of(&faults, &clock, 2, season);
            count += found.len() as f64;
            down_s += found.iter().map(|outage| outage.to.since(outage.from).seconds()).sum::<f64>();
            assert!(found.windows(2).all(|pair| pair[0].to < pair[1].from));
            assert!(found.iter().all(|outage| outage.from < outage.to && outage.to <= clock.end()));
        }
        let total_s = seasons as f64 * clock.season_length().seconds();
        let exact = 12.0 * (total_s - down_s) / YEAR_S;
        assert!((count - exact).abs() < 4.0 * exact.sqrt(), "{count}, exact {exact}");
        let calendar = 12.0 * total_s / YEAR_S;
        assert!((count - calendar).abs() > 4.0 * calendar.sqrt(), "the test cannot tell the two rates apart");
    }

    #[test]
    fn outages_are_sorted_and_independent_of_other_faults() {
        let clock = clock();
        let (a, b) = (fault("a", 40.0, 3_600.0), fault("b", 60.0, 60.0));
        let both = outages_of(&[a, b.clone(), fault("never", 0.0, 60.0)], &clock, 1, 0);
        assert!(both.is_sorted_by_key(|outage| (outage.from, outage.fault)));
        let alone = outages_of(&[b], &clock, 1, 0);
        let same: Vec<Outage> = both.iter().filter(|o| o.fault == 1).map(|o| Outage { fault: 0, ..*o }).collect();
        assert_eq!(alone, same);
        assert!(both.iter().any(|o| o.fault == 0) && both.iter().all(|o| o.fault < 2));
    }
}
