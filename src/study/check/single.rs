//! Which single failure leaves nothing that could notice the mower.

use super::sight::is_behind;
use super::{Row, Verdict};
use crate::engine::watches_way;
use crate::scenario::Scenario;
use crate::scenario::sensor::{SensorKind, StatusCode};
use crate::scenario::strategy::{BuiltIn, Condition, Strategy};
use crate::sensing::reading::Eye;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    for strategy in &scenario.strategies {
        rows.push(row(scenario, strategy));
    }
}

fn row(scenario: &Scenario, strategy: &Strategy) -> Row {
    let question = format!("strategy {}: single failures that leave nothing to notice an arrival", strategy.name);
    let of = |lost: &dyn Fn(usize) -> bool| {
        let sees = |detector: usize| !is_behind(scenario, &scenario.detectors[detector]);
        let works = |detector: usize| {
            notices(scenario, detector) && sees(detector) && !lost(scenario.detectors[detector].sensor)
        };
        could_hold(&strategy.open, &works)
    };
    if !of(&|_| false) {
        return Row::stated("single_failure", question, Verdict::Tight)
            .key(format!("strategy.{}.open", strategy.name))
            .note("nothing notices an arrival even with all sensors at work");
    }
    let mut found: Vec<String> = (0..scenario.sensors.len())
        .filter(|sensor| !of(&|lost| lost == *sensor))
        .map(|sensor| format!("{} dead", scenario.sensors[sensor].name))
        .collect();
    let on_network = |sensor: usize| matches!(scenario.sensors[sensor].kind, SensorKind::Status { .. });
    // One status sensor that dies and one network that fails are the same loss.
    if !of(&|lost| on_network(lost)) {
        found.push("no network".to_string());
    }
    let wired =
        |sensor: usize| !on_network(sensor) && !matches!(scenario.sensors[sensor].kind, SensorKind::Clock { .. });
    let shared = !of(&|lost| wired(lost)) && !found.iter().any(|one| one.ends_with("dead"));
    if shared {
        found.push("a common cause on all wired sensors (supply, dirt, fog)".to_string());
    }
    let alone = found.iter().any(|one| !one.starts_with("a common cause"));
    found.push("no power".to_string());
    Row::stated("single_failure", question, if alone { Verdict::Tight } else { Verdict::Fits })
        .key(format!("strategy.{}.open", strategy.name))
        .note(found.join("; "))
}

/// Whether a detector can notice a mower that comes home: a sensor that sees bodies must look at its way up to where it waits.
pub(super) fn notices(scenario: &Scenario, detector: usize) -> bool {
    let detector = &scenario.detectors[detector];
    let sensor = &scenario.sensors[detector.sensor];
    match sensor.kind {
        SensorKind::OpticalRange { .. }
        | SensorKind::PhotonRange { .. }
        | SensorKind::UltrasonicRange { .. }
        | SensorKind::BreakBeam { .. } => watches_way(&Eye::new(sensor), &scenario.mower),
        SensorKind::Clock { .. } => true,
        SensorKind::Status { .. } => detector.says.contains(&StatusCode::Returning),
        SensorKind::PlatformLoad { .. }
        | SensorKind::Tilt { .. }
        | SensorKind::EndSwitch { .. }
        | SensorKind::RainGauge => false,
    }
}

/// Whether a condition can come to hold with the detectors that work; those that don't stay off.
fn could_hold(condition: &Condition, works: &dyn Fn(usize) -> bool) -> bool {
    match condition {
        Condition::Detector(detector) => works(*detector),
        Condition::BuiltIn(builtin) => *builtin == BuiltIn::Always,
        Condition::Any(parts) => parts.iter().any(|part| could_hold(part, works)),
        Condition::All(parts) => parts.iter().all(|part| could_hold(part, works)),
        Condition::AtLeast(least, parts) => parts.iter().filter(|part| could_hold(part, works)).count() >= *least,
        // A detector that is off makes it hold.
        Condition::Not(_) => true,
        Condition::For(_, part) | Condition::Lasting(_, part) => could_hold(part, works),
        Condition::LogOdds(sum) => {
            let weight = |evidence: &crate::scenario::strategy::Evidence| {
                let (with, without) = evidence.weights();
                if could_hold(&evidence.when, works) { with.max(without) } else { without }
            };
            sum.prior + sum.of.iter().map(weight).sum::<f64>() >= sum.at_least
        }
    }
}
