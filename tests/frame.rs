//! A mower that comes too far beside the middle touches a side of the doorway and tries again.

mod support;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::math::normal;
use dooryard::scenario::Scenario;
use dooryard::sensing::channel::Sampling;

const RETRIES: u32 = 2;

/// No visitors, no faults, and a door that is wider than the mower by twice this.
fn with_play(half_m: f64, sideways_m: f64) -> Scenario {
    let mut scenario = support::usual();
    scenario.visitors.clear();
    scenario.faults.clear();
    scenario.door.width_m = scenario.mower.width_m + 2.0 * half_m;
    scenario.mower.approach.sideways_m = sideways_m;
    scenario.mower.shut_door.retries = RETRIES;
    scenario
}

fn seasons(scenario: &Scenario) -> Vec<SeasonRecord> {
    let plan = Plan::new(scenario).expect("a plan");
    let options = Options { sampling: Sampling::Exact, events: false };
    (0..3).map(|season| play(&plan, &Outside::draw(&plan, 4, season).expect("weather"), 0, 4, options)).collect()
}

fn sum(records: &[SeasonRecord], key: Key) -> f64 {
    records.iter().map(|record| record.value(key)).sum()
}

/// With half the play of one standard deviation p = 31.7 % of tries touch (normal law). Each is aimed anew, so that an arrival has
/// p + p^2 + p^3 touches in three tries: two retries, and somebody must help where all three touch.
#[test]
fn touches_follow_the_normal_law() {
    let records = seasons(&with_play(0.05, 0.05));
    let (arrivals, touches) = (sum(&records, Key::Arrivals), sum(&records, Key::FrameTouches));
    let p = 2.0 * normal::tail(1.0);
    let mean = p + p * p + p * p * p;
    // Of one, two and three touches with p (1 - p), p^2 (1 - p), p^3.
    let square = p * (1.0 - p) + 4.0 * p * p * (1.0 - p) + 9.0 * p * p * p;
    let sigma = ((square - mean * mean) / arrivals).sqrt();
    assert!(arrivals > 100.0 && (touches / arrivals - mean).abs() < 4.0 * sigma, "{touches} of {arrivals}: {mean}");
    let stranded = arrivals * p.powi(RETRIES as i32 + 1);
    let helped = sum(&records, Key::Strandings);
    assert!((helped - stranded).abs() < 4.0 * stranded.sqrt() + 1.0, "{helped} {stranded}");
    // No contact with the door, and everybody who comes home leaves again.
    assert_eq!(sum(&records, Key::Contacts), 0.0);
    assert!((sum(&records, Key::Departures) - arrivals).abs() <= 3.0 + helped);
}

/// Room for ten standard deviations, or no scatter at all, and nothing touches.
#[test]
fn nobody_touches_with_room_to_spare() {
    for (half_m, sideways_m) in [(0.3, 0.03), (0.01, 0.0)] {
        let records = seasons(&with_play(half_m, sideways_m));
        assert_eq!(sum(&records, Key::FrameTouches), 0.0, "{half_m} {sideways_m}");
        assert!(sum(&records, Key::Arrivals) > 100.0);
    }
}
