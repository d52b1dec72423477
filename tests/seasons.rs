//! Whole seasons: what must hold in every one of them, and what must come out of a well-set shelter.

mod support;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::KEYS;
use dooryard::sensing::channel::Sampling;

#[test]
fn look() {
    let scenario = support::base();
    let plan = Plan::new(&scenario).unwrap();
    let outside = Outside::draw(&plan, 1, 0).unwrap();
    for strategy in 0..2 {
        let record = play(&plan, &outside, strategy, 1, Options { sampling: Sampling::Exact, events: true });
        for key in KEYS {
            println!("{:24} {}", key.metric().key, record.value(*key));
        }
        println!("{:?} {:?} handled {}", record.false_by_cause, record.missed_by_cause, record.handled);
        for row in record.events.iter().take(120) {
            println!("{} {} {} {}", plan.clock.label(row.at), row.who, row.what, row.detail);
        }
    }
}
