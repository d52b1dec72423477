//! Sobol indices and elementary effects on functions whose answers are known.

mod common;

use std::f64::consts::PI;

use common::{Row, Tally};
use dooryard::math::random::Source;
use dooryard::study::morris::{Trajectory, effects, elementary, jump, trajectories};
use dooryard::study::variance::Design;

type Function = Box<dyn Fn(&[f64]) -> f64>;

/// The row's function on the unit cube, and its number of inputs.
fn function(row: &Row) -> (Function, usize) {
    match row.text("fn") {
        "ishigami" => {
            let (a, b) = (row.number("a"), row.number("b"));
            let f = move |u: &[f64]| {
                let x: Vec<f64> = u.iter().map(|u| PI * (2.0 * u - 1.0)).collect();
                x[0].sin() + a * x[1].sin().powi(2) + b * x[2].powi(4) * x[0].sin()
            };
            (Box::new(f), 3)
        }
        "sobol_g" => {
            let a = row.list("a");
            let inputs = a.len();
            let f = move |u: &[f64]| u.iter().zip(&a).map(|(u, a)| ((4.0 * u - 2.0).abs() + a) / (1.0 + a)).product();
            (Box::new(f), inputs)
        }
        "linear" => {
            let c = row.list("c");
            let inputs = c.len();
            (Box::new(move |u: &[f64]| u.iter().zip(&c).map(|(u, c)| u * c).sum()), inputs)
        }
        other => panic!("{}: function {other:?}", row.id),
    }
}

const NOT_COMPUTED: [(&str, &str); 1] = [("sobol_second", "pairs of inputs are not estimated")];

const BASE: usize = 4096;

/// Estimates on 4096 base points: the table asks for about 3 / sqrt(N); the quasi-random points do much better.
#[test]
fn sobol_indices_catalogue() {
    let mut tally = Tally::default();
    for row in common::rows("catalogue/08_sensitivity.csv") {
        if row.quantity.starts_with("morris") {
            continue;
        }
        let (f, inputs) = function(&row);
        let design = Design::new(inputs, BASE, &mut Source::new(1, 0, "design").stream(0)).unwrap();
        let values: Vec<f64> = design.points.iter().map(|point| f(point)).collect();
        let base: Vec<f64> = values.chunks_exact(inputs + 2).map(|block| block[0]).collect();
        let mean = base.iter().sum::<f64>() / BASE as f64;
        let fourth = |power: i32| base.iter().map(|value| (value - mean).powi(power)).sum::<f64>() / BASE as f64;
        let (variance, n) = (fourth(2), BASE as f64);
        let of_factor = |pick: fn(&dooryard::study::variance::Indices) -> f64| {
            let indices = design.indices(&values, 0.95).expect("the function varies");
            pick(&indices[row.whole("factor") as usize - 1])
        };
        let (got, tolerance) = match row.quantity.as_str() {
            // Held to four standard errors of independent points.
            "mean" => (mean, 4.0 * (variance / n).sqrt()),
            "variance" => (variance, 4.0 * ((fourth(4) - variance * variance) / n).sqrt()),
            "sobol_first" => (of_factor(|indices| indices.first), 0.75 / n.sqrt()),
            "sobol_total" => (of_factor(|indices| indices.total), 0.75 / n.sqrt()),
            _ => {
                tally.skip(&row, &NOT_COMPUTED);
                continue;
            }
        };
        tally.check_within(&row.id, &row.quantity, got, row.expected, tolerance);
    }
    tally.finish(41);
}

/// Exact moments over all grid points: every point with every step, as trajectories of one step each.
#[test]
fn elementary_effects_catalogue() {
    let mut tally = Tally::default();
    for row in common::rows("catalogue/08_sensitivity.csv") {
        if !row.quantity.starts_with("morris") {
            continue;
        }
        let (f, inputs) = function(&row);
        let (levels, factor) = (row.whole("levels") as u32, row.whole("factor") as usize - 1);
        let points = (levels as usize).pow(inputs as u32);
        let level = |point: usize, input: usize| point / (levels as usize).pow(input as u32) % levels as usize;
        let mut moments = [0.0; 3];
        let mut count = 0.0;
        for point in 0..points {
            let x: Vec<f64> = (0..inputs).map(|input| level(point, input) as f64 / f64::from(levels - 1)).collect();
            if x[factor] + jump(levels) > 1.0 + 1e-9 {
                continue;
            }
            let mut moved = x.clone();
            moved[factor] += jump(levels);
            let values = [f(&x), f(&moved)];
            // A trajectory may visit the inputs in any order; here the one of interest is the only one.
            let step = Trajectory { points: vec![vec![x[factor]], vec![moved[factor]]], order: vec![0] };
            let effect = elementary(&[step], &values).unwrap()[0][0];
            moments = [moments[0] + effect, moments[1] + effect.abs(), moments[2] + effect * effect];
            count += 1.0;
        }
        let [mu, mu_star, square] = moments.map(|moment| moment / count);
        let got = match row.quantity.as_str() {
            "morris_mu" => mu,
            "morris_mu_star" => mu_star,
            "morris_sigma" => (square - mu * mu).max(0.0).sqrt(),
            other => panic!("{}: {other:?}", row.id),
        };
        tally.check(&row, got);
    }
    tally.finish(39);
}

/// Random trajectories come near the exact moments: five of their own standard errors on a fixed seed.
#[test]
fn trajectories_catalogue() {
    const COUNT: usize = 2_000;
    let mut tally = Tally::default();
    for row in common::rows("catalogue/08_sensitivity.csv") {
        if !row.quantity.starts_with("morris") {
            continue;
        }
        let (f, inputs) = function(&row);
        let levels = row.whole("levels") as u32;
        let mut stream = Source::new(2, 0, "trajectories").stream(0);
        let paths = trajectories(inputs, COUNT, levels, &mut stream).unwrap();
        let values: Vec<f64> = paths.iter().flat_map(|path| &path.points).map(|point| f(point)).collect();
        let factor = row.whole("factor") as usize - 1;
        let got = effects(&paths, &values, 0.95).unwrap()[factor];
        let singles = &elementary(&paths, &values).unwrap()[factor];
        let n = COUNT as f64;
        let central = |power: i32| singles.iter().map(|effect| (effect - got.mu).powi(power)).sum::<f64>() / n;
        let sizes = singles.iter().map(|effect| (effect.abs() - got.mu_star).powi(2)).sum::<f64>() / n;
        // A size that is always the same has no error but rounding.
        let rounding = 1e-9;
        let (value, error) = match row.quantity.as_str() {
            "morris_mu" => (got.mu, (central(2) / n).sqrt()),
            "morris_mu_star" => (got.mu_star, (sizes / n).sqrt()),
            "morris_sigma" => (
                got.sigma,
                ((central(4) - central(2).powi(2)) / n).max(0.0).sqrt() / (2.0 * got.sigma) + 0.5 * got.sigma / n,
            ),
            other => panic!("{}: {other:?}", row.id),
        };
        tally.check_within(&row.id, &row.quantity, value, row.expected, 5.0 * error + rounding);
    }
    tally.finish(39);
}

/// The bootstrap intervals of the indices hold the truth about as often as they say, with plain base points of 256.
#[test]
fn intervals_of_indices_hold() {
    let rows = common::rows("catalogue/08_sensitivity.csv");
    let truth = |quantity: &str, factor: u64| {
        let row = rows.iter().find(|row| {
            row.quantity == quantity
                && row.text("fn") == "ishigami"
                && row.number("a") == 7.0
                && row.inputs.get("factor").is_some_and(|text| *text == factor.to_string())
        });
        row.unwrap().expected
    };
    let (f, inputs) = function(&rows[0]);
    let mut inside = 0;
    let studies = 60;
    for study in 0..studies {
        let design = Design::new(inputs, 256, &mut Source::new(3, study, "design").stream(0)).unwrap();
        let values: Vec<f64> = design.points.iter().map(|point| f(point)).collect();
        let indices = design.indices(&values, 0.9).unwrap();
        for (factor, indices) in (1..).zip(&indices) {
            let first = truth("sobol_first", factor);
            let total = truth("sobol_total", factor);
            inside += u32::from((indices.first_interval.low..=indices.first_interval.high).contains(&first));
            inside += u32::from((indices.total_interval.low..=indices.total_interval.high).contains(&total));
        }
    }
    // Low-discrepancy points err less than the resampling of rows believes: conservative.
    assert!(f64::from(inside) >= 0.9 * 6.0 * studies as f64, "{inside} of {}", 6 * studies);
}

#[test]
fn nonsense_is_refused() {
    let mut stream = Source::new(0, 0, "none").stream(0);
    assert!(Design::new(0, 8, &mut stream).is_none() && Design::new(21, 8, &mut stream).is_none());
    let design = Design::new(2, 8, &mut stream).unwrap();
    assert_eq!(design.indices(&[1.0; 32], 0.95), None);
    assert_eq!(design.indices(&[1.0; 3], 0.95), None);
    assert!(trajectories(2, 5, 3, &mut stream).is_none() && trajectories(0, 5, 4, &mut stream).is_none());
    let one = trajectories(2, 1, 4, &mut stream).unwrap();
    assert_eq!(effects(&one, &[1.0, 2.0, 3.0], 0.95), None);
    assert_eq!(elementary(&one, &[1.0, f64::NAN, 3.0]), None);
}
