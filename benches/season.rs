//! Cost of a whole season, per season and per event, and exact sampling against drawing every sample of one week.
//!
//! The benchmark model (`tests/scenarios/benchmark.toml`), a shipped scenario (`scenarios/hillside.toml`, its last
//! strategy), and the invented scenario of the tests.

#[path = "../tests/support/mod.rs"]
mod support;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use dooryard::cli::wiring::metrics;
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::scenario::{Scenario, load};
use dooryard::sensing::channel::Sampling;
use jiff::ToSpan as _;
use jiff::civil::date;
use std::path::Path;

const EXACT: Options = Options { sampling: Sampling::Exact, events: false };
const EVERY: Options = Options { sampling: Sampling::Every, events: false };

fn read(path: &str) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    load(&path, metrics()).unwrap_or_else(|_| panic!("{} is a valid scenario", path.display())).scenario
}

fn scenarios() -> [(&'static str, Scenario, usize); 3] {
    let mut invented = support::usual();
    invented.calendar.last_day = date(2025, 10, 31);
    [
        ("benchmark model", read("tests/scenarios/benchmark.toml"), 0),
        ("hillside", read("scenarios/hillside.toml"), 2),
        ("invented", invented, 0),
    ]
}

fn seasons(c: &mut Criterion) {
    for (name, scenario, strategy) in scenarios() {
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        let mut group = c.benchmark_group(name);
        let mut number = 0;
        group.bench_function("outside", |b| {
            b.iter(|| {
                number += 1;
                Outside::draw(&plan, 1, number).expect("generated weather")
            })
        });
        let outsides: Vec<Outside> = (0..16).map(|n| Outside::draw(&plan, 1, n).expect("generated weather")).collect();
        let handled: u64 = outsides.iter().map(|outside| play(&plan, outside, strategy, 1, EXACT).handled).sum();
        group.throughput(Throughput::Elements(handled / 16));
        let mut number = 0;
        group.bench_function("play, per season and event", |b| {
            b.iter(|| {
                number += 1;
                play(&plan, &outsides[number % 16], strategy, 1, EXACT)
            })
        });
        group.finish();

        let mut week = scenario.clone();
        week.calendar.last_day = week.calendar.first_day.saturating_add(6.days());
        let week = Plan::new(&week).expect("the scenario can be planned");
        let outside = Outside::draw(&week, 1, 0).expect("generated weather");
        let mut group = c.benchmark_group(format!("{name}, one week"));
        group.sample_size(10);
        for (way, options) in [("exact", EXACT), ("every sample", EVERY)] {
            group.bench_function(way, |b| b.iter(|| play(&week, &outside, strategy, 1, options)));
        }
        group.finish();
    }
}

criterion_group!(benches, seasons);
criterion_main!(benches);
