//! The benchmark model as a scenario against its known means.
//!
//! `tests/scenarios/benchmark.toml` states a small model that has been played in other ways before: tick by tick and by
//! shortcuts, 20 000 seasons (from memory; the closed form of its false runs is computed here). The scenario's first
//! lines list what the two models do differently; each figure is compared where they coincide, or after the stated
//! difference, by the standard error of the seasons played here.

use dooryard::cli::wiring::metrics;
use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::blame::Blamed;
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::scenario::load;
use dooryard::scenario::strategy::RunRule;
use dooryard::sensing::channel::Sampling;
use dooryard::sensing::runrule::{Hits, RunLength, StartUp};
use std::path::Path;

const SEASONS: u64 = 100;

/// Four and a half standard errors: 13 comparisons, a false alarm below 1e-4 for a fresh seed.
const LIMIT: f64 = 4.5;

struct Played(Vec<SeasonRecord>);

impl Played {
    /// Mean and standard error of a figure.
    fn mean(&self, figure: impl Fn(&SeasonRecord) -> f64) -> (f64, f64) {
        let n = self.0.len() as f64;
        let mean = self.0.iter().map(&figure).sum::<f64>() / n;
        let square: f64 = self.0.iter().map(|record| (figure(record) - mean).powi(2)).sum();
        (mean, (square / (n - 1.0) / n).sqrt())
    }

    /// Compares a mean with its known value, which is known to within `known`.
    #[track_caller]
    fn agrees(&self, what: &str, figure: impl Fn(&SeasonRecord) -> f64, wanted: f64, known: f64) {
        let (mean, error) = self.mean(figure);
        let error = error.hypot(known);
        assert!((mean - wanted).abs() <= LIMIT * error, "{what}: {mean} against {wanted}, error {error}");
    }
}

fn cause(plan: &Plan, name: &str) -> usize {
    plan.causes[Blamed::FalseOpenings].iter().position(|cause| cause == name).expect("a cause of the scenario")
}

#[test]
fn the_means_of_a_season_are_those_of_the_benchmark_model() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios/benchmark.toml");
    let loaded = load(&path, metrics()).expect("the scenario is valid");
    let plan = Plan::new(&loaded.scenario).expect("the scenario can be planned");
    let options = Options { sampling: Sampling::Exact, events: false };
    let season = |n| play(&plan, &Outside::draw(&plan, 11, n).expect("generated weather"), 0, 11, options);
    let played = Played((0..SEASONS).map(season).collect());
    let value = |key: Key| move |record: &SeasonRecord| record.value(key);
    let sorties = 3.0 * 214.0;

    played.agrees("departures", value(Key::Departures), sorties, 1e-9);
    played.agrees("arrivals", value(Key::Arrivals), sorties, 1e-9);
    // The model counts a closing that is turned back as an opening, under its cause; here it is none. The door closes for
    // 12 s of each cycle: the cat's for whoever comes, the mower's for the cat alone, since it comes at its own times.
    let season_s = 214.0 * 86_400.0;
    let cat_s = 852.0 * 12.0 / season_s;
    let (mower_turns, cat_turns) = (2.0 * sorties * cat_s, 856.0 * (cat_s + 2.0 * sorties * 12.0 / season_s));
    assert!((mower_turns + cat_turns - 1.9).abs() < 0.05);
    let strokes = |record: &SeasonRecord| record.value(Key::Openings) + record.value(Key::Reversals);
    played.agrees("openings", strokes, 2_135.5, 0.3);
    played.agrees("cycles", value(Key::DoorCycles), 2_133.6, 0.3);
    played.agrees("reversals", value(Key::Reversals), 1.9, 0.05);
    let wanted = |record: &SeasonRecord| record.value(Key::Openings) - record.value(Key::FalseOpenings);
    played.agrees("openings for the mower", wanted, 641.0 + 641.2 - mower_turns, 0.1);
    let cat = cause(&plan, "cat");
    let by_cat = |record: &SeasonRecord| record.by_cause[Blamed::FalseOpenings][cat] as f64;
    // Visits follow each other without regard to their length.
    played.agrees("openings for the cat", by_cat, 852.3 - cat_turns + 856.0 * 15.0 / 21_600.0, 0.2);
    played.agrees("late", value(Key::LateOpenings), 641.2, 0.1);
    played.agrees("no misses", value(Key::MissedArrivals), 0.0, 1e-9);
    // Ticks of 50 ms in the model, samples at any phase here: a fraction of a tick on each wait.
    let wait_s = |record: &SeasonRecord| 60.0 * record.value(Key::WaitTotal);
    played.agrees("waits", wait_s, 129_836.0 * 0.05, 641.0 * 0.05 / 4.0);
    let rain = |record: &SeasonRecord| record.value(Key::RainTime);
    played.agrees("rain", rain, 214.0 * 24.0 * 1.5 / 23.5, 1.0);
    // Each sortie keeps the door open for longer by the way from the dock to the line and by the mower's length.
    let open_in_rain = |record: &SeasonRecord| 60.0 * record.value(Key::WetFloorTime);
    let longer_s = sorties * (1.0 + 0.1) / 0.4 * 1.5 / 23.5;
    played.agrees("rain with the door open", open_in_rain, 127_500.0 * 0.05 + longer_s, 10.0);

    // False runs of noise: the closed form of the run rule at the probabilities of each weather, and the model's own.
    let noise: Vec<usize> = ["noise", "rain"].map(|name| cause(&plan, name)).to_vec();
    let by_noise =
        |record: &SeasonRecord| noise.iter().map(|c| record.by_cause[Blamed::FalseOpenings][*c] as f64).sum();
    let runs = |p: f64, hours: f64| {
        let law =
            RunLength::new(RunRule { k: 3, n: 5 }, Hits::Independent { p }, StartUp::Partial).expect("a small rule");
        hours * 3_600.0 * 20.0 / law.moments().mean
    };
    let wet_h = 214.0 * 24.0 * 1.5 / 23.5;
    // The door is shut for all but half a percent of the season; only then a false run opens it.
    let shut = 1.0 - (2_133.6 * 47.0 / 3_600.0) / (214.0 * 24.0);
    let theory = shut * (runs(1e-4, 214.0 * 24.0 - wet_h) + runs(2e-3, wet_h));
    assert!((theory - 1.119).abs() < 0.003, "{theory}");
    played.agrees("openings for nothing", by_noise, theory, 0.03);
}
