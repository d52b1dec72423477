//! One day under the lens: the same day as in the season, whatever is looked at.

mod support;

use dooryard::engine::{Options, Outside, Plan, play, play_filmed};
use dooryard::ledger::film::{About, Shape};
use dooryard::scenario::Scenario;
use dooryard::sensing::channel::Sampling;

fn shipped(name: &str) -> Scenario {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(name);
    dooryard::scenario::load(&path, dooryard::cli::wiring::metrics()).expect("a shipped scenario").scenario
}

#[test]
fn looking_changes_nothing() {
    for name in ["orchard.toml", "hillside.toml", "coast.toml"] {
        let scenario = shipped(name);
        let plan = Plan::new(&scenario).expect("a plan");
        for strategy in 0..scenario.strategies.len() {
            let outside = Outside::draw(&plan, 1, 3).expect("weather");
            let options = Options { sampling: Sampling::Exact, events: true };
            let day = 40 + 31 * strategy;
            let plain = play(&plan, &outside, strategy, 1, options);
            let (filmed, film) = play_filmed(&plan, &outside, strategy, 1, options, day);
            assert_eq!(plain, filmed, "{name} {strategy}");
            let mut total = 0;
            for series in &film.series {
                total += series.points.len();
                println!("{name} {strategy} {:?} {} {}", series.shape, series.name, series.points.len());
            }
            println!("{name} {strategy} total {total}");
        }
    }
}
