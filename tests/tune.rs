//! The optimiser on published test functions with noise, against random search with as many plays; and what it must
//! never do.

use std::convert::Infallible;

use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::math::random::Source;
use dooryard::scenario::limits::{Bound, Limit};
use dooryard::study::objective::Aim;
use dooryard::study::result::Verdict;
use dooryard::study::tune::{Answer, Request, TuneSettings, Tuned, tune};

/// A season of a function's value with noise: common to all points, and of each point's own.
fn season(value: f64, season: u64, point: &[f64], noise: [f64; 2]) -> SeasonRecord {
    let mut record = SeasonRecord::empty(season, 0);
    let common = Source::new(1, season, "common").stream(0).normal();
    let name: String = point.iter().map(|x| format!("{x:?},")).collect();
    let own = Source::new(1, season, &name).stream(0).normal();
    record.values[Key::OpenTime as usize] = value + noise[0] * common + noise[1] * own;
    record
}

type Function = fn(&[f64]) -> f64;

/// Moved sphere, minimum 0 at (0.3, 0.4, ...).
fn sphere(x: &[f64]) -> f64 {
    x.iter().enumerate().map(|(i, x)| (x - 0.3 - 0.1 * i as f64).powi(2)).sum::<f64>() * 100.0
}

/// Rosenbrock's function (Computer Journal 3, 1960, 175-184) on (-2, 2)^2, minimum 0 at (1, 1).
fn rosenbrock(x: &[f64]) -> f64 {
    let y: Vec<f64> = x.iter().map(|x| 4.0 * x - 2.0).collect();
    y.windows(2).map(|y| 100.0 * (y[1] - y[0] * y[0]).powi(2) + (1.0 - y[0]).powi(2)).sum()
}

/// Branin's function (Dixon & Szego 1978), minimum 0.397887.
fn branin(x: &[f64]) -> f64 {
    use std::f64::consts::PI;
    let (a, b) = (15.0 * x[0] - 5.0, 15.0 * x[1]);
    (b - 5.1 / (4.0 * PI * PI) * a * a + 5.0 / PI * a - 6.0).powi(2) + 10.0 * (1.0 - 1.0 / (8.0 * PI)) * a.cos() + 10.0
}

fn settings(whole: Vec<Option<u64>>, aim: &Aim, seed: u64) -> TuneSettings<'_> {
    TuneSettings {
        current: Some(vec![0.9; whole.len()]),
        whole,
        plays: 900,
        seasons: 4,
        confirm: 30,
        first_season: 0,
        seed,
        confidence: 0.95,
        aim,
        limits: &[],
        risks: &[],
        worse_by: None,
    }
}

fn point_of(request: &Request, coordinates: usize) -> Vec<f64> {
    request.point.clone().unwrap_or_else(|| vec![0.9; coordinates])
}

fn play(function: Function, noise: [f64; 2], coordinates: usize) -> impl FnMut(&[Request]) -> Vec<Answer> {
    move |requests| {
        let answer = |request: &Request| {
            let point = point_of(request, coordinates);
            Some(request.seasons.clone().map(|n| season(function(&point), n, &point, noise)).collect())
        };
        requests.iter().map(answer).collect()
    }
}

fn tuned(function: Function, noise: [f64; 2], settings: &TuneSettings) -> Tuned {
    let mut playing = play(function, noise, settings.whole.len());
    tune::<Infallible>(settings, &mut |requests| Ok(Some(playing(requests)))).unwrap().expect("never told to stop")
}

/// Random search with the same plays: points with four seasons each; the best mean wins.
fn random_search(function: Function, noise: [f64; 2], settings: &TuneSettings, plays: u64) -> f64 {
    let mut stream = Source::new(settings.seed, 0, "random search").stream(0);
    let mut best = (f64::INFINITY, f64::INFINITY);
    for _ in 0..plays / 4 {
        let mut point: Vec<f64> = settings.whole.iter().map(|_| stream.uniform()).collect();
        for (x, whole) in point.iter_mut().zip(&settings.whole) {
            if let Some(count) = whole {
                *x = ((*x * *count as f64).floor() + 0.5) / *count as f64;
            }
        }
        let mean = |n| season(function(&point), n, &point, noise).value(Key::OpenTime);
        let mean = (0..4).map(mean).sum::<f64>() / 4.0;
        if mean < best.0 {
            best = (mean, function(&point));
        }
    }
    best.1
}

/// On each function: mean regret (true value above the minimum) over twelve seeds, against that of random search.
#[test]
fn beats_random_search_on_noisy_functions() {
    let aim = Aim::of_metric(Key::OpenTime, Some(0.2));
    let mixed = || vec![None, None, Some(9), Some(6)];
    // The best whole-number cells of the moved sphere: middles nearest to 0.5 and 0.6 are 0.5 and 0.583.
    let lowest_mixed = 100.0 * (0.6 - 3.5 / 6.0_f64).powi(2);
    for (name, function, whole, minimum, share) in [
        ("sphere", sphere as Function, vec![None; 4], 0.0, 0.25),
        ("mixed sphere", sphere, mixed(), lowest_mixed, 0.5),
        ("rosenbrock", rosenbrock, vec![None; 2], 0.0, 0.8),
        ("branin", branin, vec![None; 2], 0.397_887, 0.8),
    ] {
        let noise = [2.0, 0.5];
        let mut regrets = [0.0, 0.0];
        for seed in 0..12 {
            let settings = settings(whole.clone(), &aim, seed);
            let result = tuned(function, noise, &settings);
            let at = result.best.unwrap_or_else(|| vec![0.9; whole.len()]);
            regrets[0] += function(&at) - minimum;
            regrets[1] += random_search(function, noise, &settings, result.plays) - minimum;
        }
        println!("{name}: {:.3} against {:.3}", regrets[0] / 12.0, regrets[1] / 12.0);
        assert!(regrets[0] >= -1e-6, "{name}: below the minimum");
        assert!(regrets[0] < share * regrets[1], "{name}: {regrets:?}");
    }
}

/// The confirmation is unbiased: its mean cost differs from the true one by chance only, over many studies.
#[test]
fn the_confirmation_does_not_flatter_the_winner() {
    let aim = Aim::of_metric(Key::OpenTime, Some(0.2));
    let (mut sum, mut square, studies) = (0.0, 0.0, 30);
    for seed in 100..100 + studies {
        let mut settings = settings(vec![None; 3], &aim, seed);
        settings.plays = 300;
        // Seasons of their own for each study.
        settings.first_season = seed * 1000;
        let result = tuned(sphere, [0.0, 3.0], &settings);
        let at = result.best.unwrap_or_else(|| vec![0.9; 3]);
        let costs = aim.costs(&result.confirmation.best);
        let off = costs.iter().sum::<f64>() / costs.len() as f64 - sphere(&at);
        sum += off;
        square += off * off;
    }
    let n = studies as f64;
    let error = ((square / n - (sum / n).powi(2)) / (n - 1.0)).sqrt();
    assert!((sum / n).abs() < 4.0 * error, "off by {} +- {error}", sum / n);
}

/// A limit cuts off the minimum: the best setting keeps it, near its edge.
#[test]
fn hard_limits_are_kept() {
    let aim = Aim::of_metric(Key::OpenTime, Some(0.2));
    // Missed arrivals fall with x0; at most 3 allows x0 >= 0.7, while the cost is least at 0.3.
    let limits = [Limit { metric: "missed_arrivals".into(), bound: Bound::AtMost, value: 3.0, confidence: 0.9 }];
    let settings = TuneSettings { limits: &limits, ..settings(vec![None; 2], &aim, 3) };
    let result = tune::<Infallible>(&settings, &mut |requests| {
        let answer = |request: &Request| {
            let point = point_of(request, 2);
            let one = |n| {
                let mut record = season(sphere(&point), n, &point, [1.0, 0.5]);
                record.values[Key::Arrivals as usize] = 10.0;
                record.values[Key::MissedArrivals as usize] = 10.0 * (1.0 - point[0]);
                record
            };
            Some(request.seasons.clone().map(one).collect())
        };
        Ok(Some(requests.iter().map(answer).collect()))
    });
    let result = result.unwrap().unwrap();
    let best = result.best.expect("better than the corner");
    assert!(best[0] >= 0.7 && best[0] < 0.8, "{best:?}");
    assert_eq!(result.confirmation.limits[0].verdict, Verdict::Met);
    assert!(result.front.iter().all(|index| result.tried[*index].broken == 0.0));
    // Towards the limit it can't move; away from it a little.
    assert!(result.flat[0].bounded[0]);
}

/// Interrupted anywhere and begun again with what was remembered, the study ends the same and plays nothing twice.
#[test]
fn remembered_seasons_lead_the_same_way() {
    let aim = Aim::of_metric(Key::OpenTime, Some(0.2));
    let settings = TuneSettings { plays: 200, ..settings(vec![None, Some(5)], &aim, 7) };
    let mut playing = play(sphere, [1.0, 1.0], 2);
    let whole = tuned(sphere, [1.0, 1.0], &settings);
    let mut remembered: Vec<(Request, Answer)> = Vec::new();
    let (mut begun, mut result) = (0, None);
    while result.is_none() {
        begun += 1;
        let mut fresh = 0;
        result = tune::<Infallible>(&settings, &mut |requests| {
            let mut answers = Vec::new();
            for request in requests {
                match remembered.iter().find(|(known, _)| known == request) {
                    Some((_, answer)) => answers.push(answer.clone()),
                    None if fresh == 5 => return Ok(None),
                    None => {
                        fresh += 1;
                        let answer = playing(std::slice::from_ref(request)).remove(0);
                        remembered.push((request.clone(), answer.clone()));
                        answers.push(answer);
                    }
                }
            }
            Ok(Some(answers))
        })
        .unwrap();
        assert!(begun < 200, "no progress");
    }
    let result = result.unwrap();
    assert!(begun > 5);
    assert_eq!((result.best, result.plays, result.flat), (whole.best, whole.plays, whole.flat));
    let fresh: usize = remembered.iter().filter_map(|(_, answer)| answer.as_ref()).map(Vec::len).sum();
    assert!(fresh as u64 <= whole.plays);
}

/// Where most of the cube is no valid scenario, the search stays in the rest.
#[test]
fn invalid_settings_are_passed_over() {
    let aim = Aim::of_metric(Key::OpenTime, Some(0.2));
    let settings = settings(vec![None; 2], &aim, 11);
    let result = tune::<Infallible>(&settings, &mut |requests| {
        let answer = |request: &Request| {
            let point = point_of(request, 2);
            let valid = point[0] + point[1] > 0.9;
            valid.then(|| request.seasons.clone().map(|n| season(sphere(&point), n, &point, [1.0, 0.3])).collect())
        };
        Ok(Some(requests.iter().map(answer).collect()))
    });
    let best = result.unwrap().unwrap().best.expect("better than the corner");
    // The nearest valid point to (0.3, 0.4) is (0.4, 0.5).
    assert!(best[0] + best[1] > 0.9 && sphere(&best) < 4.0, "{best:?}");
}

/// Whole numbers have few settings: once all of them have played all their seasons, the search has nothing left to ask for, and
/// ends, however many plays it may still take.
#[test]
fn few_whole_numbers_come_to_an_end() {
    let aim = Aim::of_metric(Key::OpenTime, Some(0.2));
    let mut settings = settings(vec![Some(6)], &aim, 3);
    settings.plays = 100_000;
    let result = tuned(sphere, [2.0, 0.5], &settings);
    // The middle of the cell from 1/6 to 2/6 lies nearest to the minimum at 0.3.
    assert_eq!(result.best, Some(vec![0.25]));
    assert!(result.plays < 2_000, "{} plays for six settings", result.plays);
}
