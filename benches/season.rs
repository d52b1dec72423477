//! Seasons per second and events per second of a whole season, sampling exactly and, for comparison, every sample of
//! one week.

#[path = "../tests/support/mod.rs"]
mod support;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::sensing::channel::Sampling;
use jiff::civil::date;

fn seasons(c: &mut Criterion) {
    let mut scenario = support::usual();
    scenario.calendar.last_day = date(2025, 10, 31);
    let plan = Plan::new(&scenario).expect("the invented scenario can be planned");
    let options = Options { sampling: Sampling::Exact, events: false };
    let mut group = c.benchmark_group("season");
    let mut number = 0;
    group.bench_function("outside", |b| {
        b.iter(|| {
            number += 1;
            Outside::draw(&plan, 1, number).expect("generated weather")
        })
    });
    let outsides: Vec<Outside> = (0..16).map(|n| Outside::draw(&plan, 1, n).expect("generated weather")).collect();
    let handled: u64 = outsides.iter().map(|outside| play(&plan, outside, 0, 1, options).handled).sum();
    group.throughput(Throughput::Elements(handled / 16));
    let mut number = 0;
    group.bench_function("play, 214 days, per event", |b| {
        b.iter(|| {
            number += 1;
            play(&plan, &outsides[number % 16], 0, 1, options)
        })
    });
    group.finish();

    let mut week = scenario.clone();
    week.calendar.last_day = date(2025, 4, 7);
    let week = Plan::new(&week).expect("the invented scenario can be planned");
    let outside = Outside::draw(&week, 1, 0).expect("generated weather");
    let mut group = c.benchmark_group("one week");
    group.sample_size(10);
    for (name, sampling) in [("exact", Sampling::Exact), ("every sample", Sampling::Every)] {
        group.bench_function(name, |b| b.iter(|| play(&week, &outside, 0, 1, Options { sampling, events: false })));
    }
    group.finish();
}

criterion_group!(benches, seasons);
criterion_main!(benches);
