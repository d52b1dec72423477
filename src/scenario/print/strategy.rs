//! `[[detector]]` and `[[strategy]]` as text.

use super::page::{Page, text};
use super::sensor::kind_name;
use crate::math::time::Span;
use crate::scenario::Scenario;
use crate::scenario::keys::{ANALOGUE, STATUS_CODES};
use crate::scenario::measure::DURATION;
use crate::scenario::strategy::{
    AfterPowerLoss, BuiltIn, Condition, Controller, Detector, Dropped, OnDeadSensor, RunRule, Sense, Statistic,
    Strategy,
};

pub(super) fn detector(page: &mut Page, detector: &Detector, scenario: &Scenario) {
    let Some(sensor) = scenario.sensors.get(detector.sensor) else { return };
    let kind = kind_name(&sensor.kind);
    page.open("detector");
    page.sensor_kind = kind;
    page.raw("name", text(&detector.name));
    page.raw("sensor", text(&sensor.name));
    if ANALOGUE.contains(&kind) {
        let (statistic, samples) = match detector.statistic {
            Statistic::Level => ("level", None),
            Statistic::MovingMean(samples) => ("moving mean", Some(samples)),
            Statistic::MovingMedian(samples) => ("moving median", Some(samples)),
        };
        page.raw("statistic", text(statistic));
        samples.iter().for_each(|samples| page.raw("samples", samples.to_string()));
        page.raw("sense", text(if detector.sense == Sense::Below { "below" } else { "above" }));
        page.number("on", detector.on);
        page.number("off", detector.off);
    }
    if !detector.says.is_empty() {
        let says: Vec<String> =
            detector.says.iter().map(|code| format!("\"{}\"", STATUS_CODES[*code as usize])).collect();
        page.raw("says", format!("[{}]", says.join(", ")));
    }
    page.raw("rule", rule(detector.rule));
    page.raw("release", rule(detector.release));
    let dropped = match detector.dropped {
        Dropped::Quiet => "quiet",
        Dropped::Hold => "hold",
        Dropped::Reset => "reset",
    };
    page.raw("dropped", text(dropped));
}

fn rule(rule: RunRule) -> String {
    format!("\"{} of {}\"", rule.k, rule.n)
}

pub(super) fn strategy(page: &mut Page, strategy: &Strategy, scenario: &Scenario) {
    page.open("strategy");
    page.raw("name", text(&strategy.name));
    page.raw("about", text(&strategy.about));
    page.raw("open", condition(&strategy.open, scenario));
    page.raw("hold", condition(&strategy.hold, scenario));
    page.raw("doorway", condition(&strategy.doorway, scenario));
    page.raw("close", condition(&strategy.close, scenario));
    controller(page, &strategy.controller);
}

fn condition(written: &Condition, scenario: &Scenario) -> String {
    let list = |parts: &[Condition]| {
        let parts: Vec<String> = parts.iter().map(|part| condition(part, scenario)).collect();
        format!("[{}]", parts.join(", "))
    };
    let timed = |word: &str, span: &Span, part: &Condition| {
        format!("{{ {word} = {}, of = {} }}", text(&DURATION.show(span.seconds())), condition(part, scenario))
    };
    match written {
        Condition::Detector(index) => text(scenario.detectors.get(*index).map_or("", |detector| &detector.name)),
        Condition::BuiltIn(BuiltIn::Always) => text("always"),
        Condition::BuiltIn(BuiltIn::Never) => text("never"),
        Condition::Any(parts) => format!("{{ any = {} }}", list(parts)),
        Condition::All(parts) => format!("{{ all = {} }}", list(parts)),
        Condition::AtLeast(count, parts) => format!("{{ at_least = {count}, of = {} }}", list(parts)),
        Condition::Not(part) => format!("{{ not = {} }}", condition(part, scenario)),
        Condition::For(span, part) => timed("for", span, part),
        Condition::Lasting(span, part) => timed("lasting", span, part),
    }
}

fn controller(page: &mut Page, controller: &Controller) {
    page.open("strategy.controller");
    page.number("open_at_least", controller.open_at_least.seconds());
    page.number("open_at_most", controller.open_at_most.map_or(f64::INFINITY, Span::seconds));
    page.number("warning", controller.warning.seconds());
    page.number("stroke_timeout", controller.stroke_timeout);
    page.number("retry_after", controller.retry_after.seconds());
    page.raw("retries", controller.retries.to_string());
    page.number("fault_cleared_after", controller.fault_cleared_after.seconds());
    page.number("obstruction_force", controller.obstruction_force_n);
    page.number("obstruction_reaction", controller.obstruction_reaction.seconds());
    let after = if controller.after_power_loss == AfterPowerLoss::Open { "open" } else { "stay" };
    page.raw("after_power_loss", text(after));
    let dead = if controller.on_dead_sensor == OnDeadSensor::HoldOpen { "hold open" } else { "ignore" };
    page.raw("on_dead_sensor", text(dead));
    page.number("dead_after", controller.dead_after.seconds());
}
