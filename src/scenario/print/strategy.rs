//! `[[detector]]` and `[[strategy]]` as text.

use super::controller::controller;
use super::page::{Page, text};
use super::sensor::kind_name;
use crate::math::time::Span;
use crate::scenario::Scenario;
use crate::scenario::keys::{ANALOGUE, STATUS_CODES};
use crate::scenario::measure::DURATION;
use crate::scenario::strategy::{BuiltIn, Condition, Detector, Dropped, RunRule, Sense, Statistic, Strategy};

pub(super) fn detector(page: &mut Page, detector: &Detector, scenario: &Scenario) {
    let Some(sensor) = scenario.sensors.get(detector.sensor) else { return };
    let kind = kind_name(&sensor.kind);
    page.open("detector");
    page.sensor_kind = kind;
    page.raw("name", text(&detector.name));
    page.raw("sensor", text(&sensor.name));
    if ANALOGUE.contains(&kind) {
        statistic(page, detector);
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

fn statistic(page: &mut Page, detector: &Detector) {
    let (name, samples) = match detector.statistic {
        Statistic::Level => ("level", None),
        Statistic::MovingMean(samples) => ("moving mean", Some(samples)),
        Statistic::MovingMedian(samples) => ("moving median", Some(samples)),
        Statistic::ApproachRate(samples) => ("approach rate", Some(samples)),
        Statistic::Cusum { .. } => ("cusum", None),
        Statistic::Ewma { .. } => ("ewma", None),
        Statistic::LikelihoodRatio(_) => ("likelihood ratio", None),
    };
    page.raw("statistic", text(name));
    samples.iter().for_each(|samples| page.raw("samples", samples.to_string()));
    match detector.statistic {
        Statistic::ApproachRate(_) => {
            page.number("on_speed", detector.on);
            page.number("off_speed", detector.off);
            return;
        }
        Statistic::LikelihoodRatio(test) => {
            page.number("absent", test.absent);
            page.number("present", test.present);
            page.number("spread", test.spread);
            page.number("false_alarm", test.false_alarm);
            page.number("false_rest", test.false_rest);
            if test.at_most.is_finite() {
                page.number("counts_at_most", test.at_most);
            }
            return;
        }
        Statistic::Cusum { limit } => page.number("limit", limit),
        Statistic::Ewma { weight } => page.number("weight", weight),
        Statistic::Level | Statistic::MovingMean(_) | Statistic::MovingMedian(_) => {}
    }
    page.raw("sense", text(if detector.sense == Sense::Below { "below" } else { "above" }));
    page.number("on", detector.on);
    page.number("off", detector.off);
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
    page.raw("inside", condition(&strategy.inside, scenario));
    page.raw("wet", condition(&strategy.wet, scenario));
    page.raw("fallback", condition(&strategy.fallback, scenario));
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
        Condition::LogOdds(sum) => {
            let of: Vec<String> = sum
                .of
                .iter()
                .map(|evidence| {
                    format!(
                        "{{ when = {}, present = {}, absent = {} }}",
                        condition(&evidence.when, scenario),
                        evidence.present,
                        evidence.absent
                    )
                })
                .collect();
            format!("{{ log_odds = {}, prior = {}, of = [{}] }}", sum.at_least, sum.prior, of.join(", "))
        }
        Condition::For(span, part) => timed("for", span, part),
        Condition::Lasting(span, part) => timed("lasting", span, part),
    }
}
