//! `[[detector]]`, `[controller]` and `[[strategy]]` as they are resolved.

use super::condition::Written;
use super::controller::controller;
use super::{Fields, Typed};
use crate::math::time::Span;
use crate::scenario::keys::ANALOGUE;
use crate::scenario::sensor::StatusCode;
use crate::scenario::strategy::{
    BuiltIn, Condition, Detector, Dropped, Evidence, LogOdds, RatioTest, RunRule, Sense, Statistic, Strategy,
};

/// `sensors` are the names of the sensors in their order.
pub(super) fn detector(fields: &Fields, sensors: &[&str]) -> Option<Detector> {
    let analogue = ANALOGUE.contains(&fields.switch.as_deref()?);
    let rule = run_rule(fields, "rule")?;
    let statistic = if analogue { statistic(fields)? } else { Statistic::Level };
    let (on, off) = match statistic {
        _ if !analogue => (0.5, 0.5),
        Statistic::LikelihoodRatio(_) => (0.0, 0.0),
        Statistic::ApproachRate(_) => levels(fields, "on_speed", "off_speed")?,
        _ => levels(fields, "on", "off")?,
    };
    Some(Detector {
        name: fields.text("name")?.to_owned(),
        sensor: sensors.iter().position(|name| Some(*name) == fields.text("sensor"))?,
        statistic,
        sense: if matches!(statistic, Statistic::ApproachRate(_)) { Sense::Above } else { sense(fields)? },
        on,
        off,
        says: says(fields),
        rule,
        release: if fields.given("release") { run_rule(fields, "release")? } else { rule },
        dropped: match fields.text("dropped")? {
            "hold" => Dropped::Hold,
            "reset" => Dropped::Reset,
            _ => Dropped::Quiet,
        },
    })
}

/// The sense of a detector, by its kind of sensor if it is not given.
pub(crate) fn sense(fields: &Fields) -> Option<Sense> {
    if fields.given("sense") {
        return Some(if fields.text("sense")? == "below" { Sense::Below } else { Sense::Above });
    }
    Some(match fields.switch.as_deref()? {
        "optical range" | "photon range" | "ultrasonic range" => Sense::Below,
        _ => Sense::Above,
    })
}

/// The messages that turn a detector on; empty unless its sensor is the mower's status.
pub(crate) fn says(fields: &Fields) -> Vec<StatusCode> {
    const CODES: [StatusCode; 5] =
        [StatusCode::Docked, StatusCode::Leaving, StatusCode::Mowing, StatusCode::Returning, StatusCode::Error];
    match fields.value("says") {
        Some(Typed::Choices(choices)) => choices.iter().filter_map(|index| CODES.get(*index).copied()).collect(),
        _ => Vec::new(),
    }
}

fn levels(fields: &Fields, on: &str, off: &str) -> Option<(f64, f64)> {
    let level = fields.number(on)?;
    Some((level, if fields.given(off) { fields.number(off)? } else { level }))
}

fn run_rule(fields: &Fields, key: &str) -> Option<RunRule> {
    match fields.value(key)? {
        Typed::Rule(k, n) => Some(RunRule { k: *k, n: *n }),
        _ => None,
    }
}

fn statistic(fields: &Fields) -> Option<Statistic> {
    let samples = || fields.count("samples").map(|samples| samples as usize);
    Some(match fields.text("statistic")? {
        "moving mean" => Statistic::MovingMean(samples()?),
        "moving median" => Statistic::MovingMedian(samples()?),
        "approach rate" => Statistic::ApproachRate(samples()?),
        "cusum" => Statistic::Cusum { limit: fields.number("limit")? },
        "ewma" => Statistic::Ewma { weight: fields.number("weight")? },
        "likelihood ratio" => Statistic::LikelihoodRatio(RatioTest {
            absent: fields.number("absent")?,
            present: fields.number("present")?,
            spread: fields.number("spread")?,
            false_alarm: fields.number("false_alarm")?,
            false_rest: fields.number("false_rest")?,
            at_most: if fields.given("counts_at_most") { fields.number("counts_at_most")? } else { f64::INFINITY },
        }),
        _ => Statistic::Level,
    })
}

/// `detectors` are the names of the detectors in their order; `defaults` the scenario's `[controller]`.
pub(super) fn strategy(fields: &Fields, detectors: &[&str], defaults: &Fields) -> Option<Strategy> {
    let condition = |key: &str| resolve(fields.condition(key)?, detectors);
    Some(Strategy {
        name: fields.text("name")?.to_owned(),
        about: fields.text("about")?.to_owned(),
        open: condition("open")?,
        hold: condition("hold")?,
        doorway: condition("doorway")?,
        close: condition("close")?,
        inside: condition("inside")?,
        wet: condition("wet")?,
        fallback: condition("fallback")?,
        controller: controller(fields.child("controller")?, defaults)?,
    })
}

fn resolve(written: &Written, detectors: &[&str]) -> Option<Condition> {
    let all = |parts: &[Written]| parts.iter().map(|part| resolve(part, detectors)).collect::<Option<Vec<_>>>();
    let boxed = |part: &Written| resolve(part, detectors).map(Box::new);
    Some(match written {
        Written::Name(name, _) => Condition::Detector(detectors.iter().position(|other| other == name)?),
        Written::Always => Condition::BuiltIn(BuiltIn::Always),
        Written::Never => Condition::BuiltIn(BuiltIn::Never),
        Written::Any(parts) => Condition::Any(all(parts)?),
        Written::All(parts) => Condition::All(all(parts)?),
        Written::AtLeast(count, parts) => Condition::AtLeast(*count, all(parts)?),
        Written::Not(part) => Condition::Not(boxed(part)?),
        Written::LogOdds(at_least, prior, of) => Condition::LogOdds(LogOdds {
            at_least: *at_least,
            prior: *prior,
            of: of
                .iter()
                .map(|(when, present, absent)| {
                    Some(Evidence { when: resolve(when, detectors)?, present: *present, absent: *absent })
                })
                .collect::<Option<Vec<_>>>()?,
        }),
        Written::For(seconds, part) => Condition::For(Span::from_seconds(*seconds), boxed(part)?),
        Written::Lasting(seconds, part) => Condition::Lasting(Span::from_seconds(*seconds), boxed(part)?),
    })
}
