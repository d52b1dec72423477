//! Votes and summed log-odds against tables computed outside this crate.

mod common;

use common::{Record, Tally};
use dooryard::math::random::Source;
use dooryard::sensing::fusion::{Filter, missed_together, votes};

fn number(row: &Record, key: &str) -> f64 {
    row[key].parse().unwrap_or_else(|_| panic!("{key} of {row:?}"))
}

#[test]
fn votes_with_a_common_cause() {
    let mut tally = Tally::default();
    for row in common::records("sensing/votes.csv") {
        let n = |key: &str| number(&row, key);
        let got = votes(n("p_single"), n("beta_common_cause"));
        for (key, got) in [("p_and_of_2", got.both), ("p_or_of_2", got.either), ("p_2_of_3", got.two_of_three)] {
            tally.check_within(key, &format!("{row:?}"), got, n(key), 1e-9 * n(key));
        }
        // Two alike sensors miss together as often as both of two speak.
        let both = missed_together([n("p_single"); 2].into_iter(), n("beta_common_cause"));
        tally.check_within("together", &format!("{row:?}"), both, n("p_and_of_2"), 1e-9 * n("p_and_of_2"));
    }
    tally.finish(48);
}

fn filter(row: &Record) -> Filter {
    let n = |key: &str| number(row, key);
    Filter {
        present: n("p_hit_if_mower"),
        absent: n("p_hit_if_empty"),
        arrives: n("arrive_per_sample"),
        leaves: n("depart_per_sample"),
        limit: n("alarm_log_odds"),
        floor: n("floor"),
    }
}

/// The chain against the table's own chain and its Monte Carlo; and against the filter at work here.
#[test]
fn run_lengths_of_the_filter() {
    let mut tally = Tally::default();
    for row in common::records("sensing/logodds_arl.csv") {
        let n = |key: &str| number(&row, key);
        let filter = filter(&row);
        let mean = filter.chain(0.02, filter.absent).expect("a small grid").moments().mean;
        // Two chains on grids agree no better than either with itself at half the step.
        let grids = (n("arl0_grid0.02") - n("arl0_grid0.01")).abs();
        tally.check_within("grid", &format!("{row:?}"), mean, n("arl0_grid0.02"), grids);
        // The table's Monte Carlo cuts long runs off, hence its bias down; five standard errors.
        tally.check_within("monte carlo", &format!("{row:?}"), mean, n("mc_mean"), 5.0 * n("mc_se"));
        let delay = filter.chain(0.02, filter.present).expect("a small grid").moments().mean;
        let mut stream = Source::new(3, 0, "filter").stream(0);
        let waits: Vec<f64> = (0..4_000)
            .map(|_| {
                let (mut odds, mut samples) = (filter.floor, 0.0);
                while odds < filter.limit {
                    odds = filter.advance(odds, stream.chance(filter.present));
                    samples += 1.0;
                }
                samples
            })
            .collect();
        let average = waits.iter().sum::<f64>() / 4_000.0;
        let variance = waits.iter().map(|wait| (wait - average).powi(2)).sum::<f64>() / 3_999.0;
        // The grid's own error comes on top: a few parts in a thousand.
        let tolerance = 4.5 * (variance / 4_000.0).sqrt() + 5e-3 * delay;
        tally.check_within("delay", &format!("{row:?}"), delay, average, tolerance);
    }
    tally.finish(9);
}

/// What unlike sensors share can't spoil them more often than the best of them; one alone shares with nobody; the number
/// of sensors can't lower the chance below what they share.
#[test]
fn a_common_cause_bounds_what_further_sensors_are_worth() {
    assert_eq!(missed_together([0.3].into_iter(), 0.2), 0.3);
    let two = missed_together([1e-3, 0.2].into_iter(), 0.1);
    let by_hand = 0.1 * 1e-3 + (1.0 - 0.1 * 1e-3) * (0.9 * 1e-3) * (0.9 * 0.2);
    assert!((two - by_hand).abs() < 1e-18, "{two} {by_hand}");
    assert_eq!(missed_together([0.25, 0.5].into_iter(), 0.0), 0.125);
    let many = missed_together([1e-2; 9].into_iter(), 0.1);
    assert!((many / 1e-3 - 1.0).abs() < 1e-9, "{many}");
}
