//! Controllers: do their cautious settings fit the rules and sensors of their strategy?

use super::{error, warning};
use crate::math::time::Span;
use crate::scenario::error::Notes;
use crate::scenario::measure::shorten;
use crate::scenario::read::Fields;
use crate::scenario::read::condition::Written;
use crate::sensing::health;

/// Looking dead by chance more often than this is worth a warning, times per day: about once in a season of seven months.
const FALSE_DEATHS: f64 = 1.0 / 200.0;

pub(super) fn check(root: &Fields, notes: &mut Notes) {
    let Some(defaults) = root.child("controller") else { return };
    false_deaths(root, defaults, notes);
    for strategy in root.entries("strategy") {
        let Some(own) = strategy.child("controller") else { continue };
        let of = |key: &str| if own.given(key) { own } else { defaults };
        let no_rule = |rule: &str| matches!(strategy.condition(rule), Some(Written::Never));
        let longer_than_none = |key: &str| of(key).number(key).is_some_and(|span| span > 0.0);
        if of("interlock").flag("interlock") == Some(false) {
            let message = "this strategy does not heed its doorway rule: the door closes on whatever stands in it, unless the hold rule speaks";
            warning(notes, of("interlock"), "interlock", message, "only to see what the interlock is worth");
        }
        if of("zero_tracking").text("zero_tracking") == Some("gated") && no_rule("inside") {
            let message = "the zero is tracked while nobody is inside, but no rule says when somebody is";
            let help = "give the strategy an `inside` rule, or the zero swallows the parked mower";
            error(notes, of("zero_tracking"), "zero_tracking", message, help);
        }
        if longer_than_none("close_after_in") && no_rule("inside") {
            let message = "this wait never counts: no rule says when the mower is inside";
            warning(notes, of("close_after_in"), "close_after_in", message, "give the strategy an `inside` rule");
        }
        let doubts = of("contradiction_after").number("contradiction_after").is_some();
        if strategy.given("fallback") && !doubts && of("on_dead_sensor").text("on_dead_sensor") != Some("drop vote") {
            let message = "the fallback is never used: a dead sensor does not lose its vote alone";
            warning(notes, strategy, "fallback", message, "set on_dead_sensor = \"drop vote\" in its controller");
        }
    }
}

/// Warns of sensors that lose so many readings that they look dead by chance.
fn false_deaths(root: &Fields, defaults: &Fields, notes: &mut Notes) {
    for sensor in root.entries("sensor") {
        let (Some(name), Some(dry)) = (sensor.text("name"), sensor.number("dropout")) else { continue };
        let dropout = sensor.number("dropout_in_rain").unwrap_or(dry).max(dry).min(0.999_999);
        let period_s = sensor.number("period").or_else(|| sensor.number("rate").map(|rate| 1.0 / rate));
        let Some(period) = period_s.filter(|_| dropout > 0.0).map(|period_s| Span::from_seconds(period_s).max(Span(1)))
        else {
            continue;
        };
        let mut most: f64 = 0.0;
        for strategy in root.entries("strategy").iter().filter(|strategy| hears(root, strategy, name)) {
            let own = strategy.child("controller");
            let of = |key: &str| own.filter(|own| own.given(key)).unwrap_or(defaults);
            let at_least = of("dead_after").number("dead_after").map(Span::from_seconds);
            if let (Some(at_least), Some(samples)) = (at_least, of("dead_samples").count("dead_samples")) {
                let after = health::dead_after(at_least, samples, period);
                most = most.max(health::false_deaths_per_day(dropout, after, period));
            }
        }
        if most > FALSE_DEATHS {
            let message = format!(
                "\"{}\" loses so many readings that it looks dead by chance, up to {most:.1} times a day; seasons do not play that",
                shorten(name)
            );
            let key = if sensor.given("dropout_in_rain") { "dropout_in_rain" } else { "dropout" };
            warning(notes, sensor, key, message, "raise the controller's dead_after");
        }
    }
}

/// Whether a strategy's rules listen to a sensor.
fn hears(root: &Fields, strategy: &Fields, sensor: &str) -> bool {
    let mut heard = false;
    for rule in ["open", "hold", "doorway", "close", "inside", "wet", "fallback"] {
        let Some(condition) = strategy.condition(rule) else { continue };
        condition.each_name(&mut |name, _| {
            let detector = root.entries("detector").iter().find(|detector| detector.text("name") == Some(name));
            heard |= detector.and_then(|detector| detector.text("sensor")) == Some(sensor);
        });
    }
    heard
}
