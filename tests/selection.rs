//! How often the procedures for the best design pick it, and how often the intervals of differences hold, over many
//! studies with known answers on fixed seeds.

use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::math::random::{Source, Stream};
use dooryard::study::multiple::each_confidence;
use dooryard::study::paired::difference;
use dooryard::study::selection::{
    Selection, dudewicz_dalal_h, dudewicz_dalal_observations, kim_nelson, kim_nelson_of_events, rinott_h,
    rinott_observations,
};
use statrs::distribution::{Binomial, DiscreteCDF};

/// Share of right picks among `studies` of `pick`, which gets a stream of its own.
fn right(name: &str, studies: u64, pick: impl Fn(&mut Stream) -> bool) -> f64 {
    let source = Source::new(5, 0, name);
    (0..studies).filter(|number| pick(&mut source.stream(*number))).count() as f64 / studies as f64
}

/// Slippage: design 0 is better by `delta` than all others, which are equal: the hardest case. `shared` is the share of
/// the variance that all designs have in common, season by season.
fn kim_nelson_picks_the_best(stream: &mut Stream, systems: usize, delta: f64, shared: f64) -> bool {
    const MOST: usize = 4_000;
    let mut costs: Vec<Vec<f64>> = vec![Vec::new(); systems];
    let mut next = 10;
    loop {
        while costs[0].len() < next {
            let common = shared.sqrt() * stream.normal();
            for (system, values) in costs.iter_mut().enumerate() {
                let mean = if system == 0 { 0.0 } else { delta };
                values.push(mean + common + (1.0 - shared).sqrt() * stream.normal());
            }
        }
        let views: Vec<&[f64]> = costs.iter().map(Vec::as_slice).collect();
        let selection = kim_nelson(&views, delta, 0.05, 10).expect("enough observations");
        if let Some(best) = selection.best() {
            return best == 0;
        }
        assert!(next < MOST, "the race does not end");
        next += 100;
    }
}

/// Catalogue rows IN-114 and IN-115: at least 0.95 (an independent implementation came to 0.9675 and 0.9625).
#[test]
fn kim_nelson_keeps_its_promise() {
    for (systems, studies) in [(2, 1_500), (5, 1_000)] {
        let share = right("independent", studies, |stream| kim_nelson_picks_the_best(stream, systems, 0.3, 0.0));
        assert!(share >= 0.95, "{systems} systems: {share}");
    }
}

#[test]
fn kim_nelson_keeps_its_promise_on_the_same_seasons() {
    let share = right("common", 1_000, |stream| kim_nelson_picks_the_best(stream, 4, 0.2, 0.8));
    assert!(share >= 0.95, "{share}");
}

/// Two-stage procedures in the slippage configuration, with unequal variances. Rinott's is conservative; Dudewicz and
/// Dalal's reaches P* exactly there, so that its rate is held to four standard errors on both sides.
#[test]
fn two_stage_procedures_keep_their_promise() {
    const SDS: [f64; 4] = [1.0, 0.5, 1.5, 1.0];
    const STUDIES: u64 = 1_500;
    let (n0, delta, pstar) = (15, 0.5, 0.9);
    let mean_of = |stream: &mut Stream, system: usize, count: usize| -> (f64, f64) {
        let centre = if system == 0 { 0.0 } else { delta };
        let values: Vec<f64> = (0..count).map(|_| centre + SDS[system] * stream.normal()).collect();
        let mean = values.iter().sum::<f64>() / count as f64;
        let square: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
        (mean, square / (count as f64 - 1.0))
    };
    let smallest = |means: Vec<f64>| means.iter().skip(1).all(|mean| means[0] < *mean);
    let h = rinott_h(SDS.len(), pstar, n0).unwrap();
    let share = right("rinott", STUDIES, |stream| {
        smallest(
            (0..SDS.len())
                .map(|system| {
                    let (first, variance) = mean_of(stream, system, n0);
                    let all = rinott_observations(h, variance, delta, n0);
                    let more = all - n0;
                    let second = if more == 0 { 0.0 } else { mean_of(stream, system, more).0 };
                    (first * n0 as f64 + second * more as f64) / all as f64
                })
                .collect(),
        )
    });
    assert!(share >= pstar, "Rinott: {share}");
    let h = dudewicz_dalal_h(SDS.len(), pstar, n0).unwrap();
    let share = right("dudewicz dalal", STUDIES, |stream| {
        smallest(
            (0..SDS.len())
                .map(|system| {
                    let (first, variance) = mean_of(stream, system, n0);
                    let (all, weight) = dudewicz_dalal_observations(h, variance, delta, n0);
                    weight * first + (1.0 - weight) * mean_of(stream, system, all - n0).0
                })
                .collect(),
        )
    });
    let error = (pstar * (1.0 - pstar) / STUDIES as f64).sqrt();
    assert!((share - pstar).abs() < 4.0 * error, "Dudewicz-Dalal: {share}");
}

/// Number of arrivals of a unit Poisson process within `mean`.
fn poisson(stream: &mut Stream, mean: f64) -> f64 {
    let (mut count, mut time) = (0.0, stream.exponential(1.0));
    while time <= mean {
        count += 1.0;
        time += stream.exponential(1.0);
    }
    count
}

/// Studies in which the interval of the difference misses the truth, held to the binomial law of the promised error:
/// fails beyond the point that chance exceeds once in a million.
fn holds(name: &str, key: Key, truth: f64, seasons: u64, season: impl Fn(&mut Stream) -> [Vec<(Key, f64)>; 2]) {
    const STUDIES: u64 = 800;
    const CONFIDENCE: f64 = 0.9;
    let missed = STUDIES as f64
        * (1.0
            - right(name, STUDIES, |stream| {
                let mut sides = [Vec::new(), Vec::new()];
                for number in 0..seasons {
                    for (side, values) in sides.iter_mut().zip(season(stream)) {
                        let mut record = SeasonRecord::empty(number, 0);
                        values.iter().for_each(|(key, value)| record.values[*key as usize] = *value);
                        side.push(record);
                    }
                }
                let got = difference(&sides[0], &sides[1], key, CONFIDENCE);
                got.interval.is_none_or(|interval| (interval.low..=interval.high).contains(&truth))
            }));
    let law = Binomial::new(1.0 - CONFIDENCE, STUDIES).unwrap();
    assert!(law.sf(missed.round() as u64) > 1e-6, "{name}: {missed} of {STUDIES} intervals miss");
}

#[test]
fn intervals_of_differences_hold() {
    // Rare events, most of them shared by both designs.
    holds("rare", Key::Strandings, 0.08, 60, |stream| {
        let shared = poisson(stream, 0.3);
        [0.1, 0.02].map(|own| vec![(Key::Strandings, shared + poisson(stream, own))])
    });
    // Frequent counts.
    holds("frequent", Key::Openings, -3.0, 30, |stream| {
        let shared = poisson(stream, 40.0);
        [2.0, 5.0].map(|own| vec![(Key::Openings, shared + poisson(stream, own))])
    });
    // Amounts with a common part and skewed own parts.
    holds("amounts", Key::OpenTime, 1.0, 40, |stream| {
        let shared = stream.gamma(2.0, 10.0);
        [3.0, 2.0].map(|mean| vec![(Key::OpenTime, shared + stream.gamma(1.5, mean))])
    });
    // Shares of numbers of trials that vary and are common to both.
    holds("shares", Key::MissedShare, 0.05, 40, |stream| {
        let arrivals = 40.0 + poisson(stream, 20.0);
        let misses = |stream: &mut Stream, p: f64| (0..arrivals as u64).filter(|_| stream.chance(p)).count() as f64;
        [0.15, 0.10].map(|p| vec![(Key::Arrivals, arrivals), (Key::MissedArrivals, misses(stream, p))])
    });
}

/// Six correlated amounts at once, each interval at the confidence that makes all of them hold together.
#[test]
fn simultaneous_intervals_hold_together() {
    let keys = [Key::OpenTime, Key::RainTime, Key::OnTime, Key::Travel, Key::MotorEnergy, Key::ShutTime];
    let each = each_confidence(0.9, keys.len());
    let share = right("together", 600, |stream| {
        let mut sides = [Vec::new(), Vec::new()];
        for number in 0..25 {
            let common = stream.normal();
            for side in &mut sides {
                let mut record = SeasonRecord::empty(number, 0);
                let own = stream.normal();
                keys.iter().for_each(|key| record.values[*key as usize] = 9.0 + common + own + 0.5 * stream.normal());
                side.push(record);
            }
        }
        keys.iter().all(|key| {
            let interval = difference(&sides[0], &sides[1], *key, each).interval.expect("25 seasons");
            (interval.low..=interval.high).contains(&0.0)
        })
    });
    assert!(share >= 0.9, "{share}");
}

type Procedure = fn(&[&[f64]], f64, f64, usize) -> Option<Selection>;

/// Counts of rare events, two designs, the better one better by the zone: the plain procedure falls short of its promise there
/// (twenty seasons without an event say that there is no variance), the one for events keeps it. Held to the binomial law:
/// fails beyond the point that chance exceeds once in a million.
#[test]
fn the_selection_keeps_its_promise_on_rare_events() {
    const STUDIES: u64 = 1_500;
    for (rates, name) in [([0.05, 0.1], "twentieth"), ([0.1, 0.2], "tenth"), ([0.2, 0.3], "fifth")] {
        let zone = rates[1] - rates[0];
        let wrong = |procedure: Procedure| {
            let share = right(name, STUDIES, |stream| {
                let mut costs: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
                loop {
                    for _ in 0..40 {
                        costs.iter_mut().zip(rates).for_each(|(costs, rate)| costs.push(poisson(stream, rate)));
                    }
                    let views: Vec<&[f64]> = costs.iter().map(Vec::as_slice).collect();
                    if let Some(best) = procedure(&views, zone, 0.05, 20).and_then(|selection| selection.best()) {
                        return best == 0;
                    }
                    assert!(costs[0].len() < 10_000, "the race does not end");
                }
            });
            ((1.0 - share) * STUDIES as f64).round() as u64
        };
        let (plain, guarded) = (wrong(kim_nelson), wrong(kim_nelson_of_events));
        let law = Binomial::new(0.05, STUDIES).unwrap();
        assert!(law.sf(guarded) > 1e-6, "{name}: wrong in {guarded} of {STUDIES} studies");
        assert!(guarded < plain, "{name}: {guarded} against {plain}");
    }
}
