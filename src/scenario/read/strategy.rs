//! `[[detector]]`, `[controller]` and `[[strategy]]` as they are resolved.

use super::condition::Written;
use super::{Fields, Typed};
use crate::math::time::Span;
use crate::scenario::keys::ANALOGUE;
use crate::scenario::sensor::StatusCode;
use crate::scenario::strategy::{
    AfterPowerLoss, BuiltIn, Condition, Controller, Detector, Dropped, OnDeadSensor, RunRule, Sense, Statistic,
    Strategy,
};

/// `sensors` are the names of the sensors in their order.
pub(super) fn detector(fields: &Fields, sensors: &[&str]) -> Option<Detector> {
    let analogue = ANALOGUE.contains(&fields.switch.as_deref()?);
    let rule = run_rule(fields, "rule")?;
    let (on, off) = if analogue {
        let on = fields.number("on")?;
        (on, if fields.given("off") { fields.number("off")? } else { on })
    } else {
        (0.5, 0.5)
    };
    Some(Detector {
        name: fields.text("name")?.to_owned(),
        sensor: sensors.iter().position(|name| Some(*name) == fields.text("sensor"))?,
        statistic: if analogue { statistic(fields)? } else { Statistic::Level },
        sense: sense(fields)?,
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
        "optical range" | "ultrasonic range" => Sense::Below,
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
        Written::For(seconds, part) => Condition::For(Span::from_seconds(*seconds), boxed(part)?),
        Written::Lasting(seconds, part) => Condition::Lasting(Span::from_seconds(*seconds), boxed(part)?),
    })
}

fn controller(own: &Fields, defaults: &Fields) -> Option<Controller> {
    let of = |key: &str| if own.given(key) { own } else { defaults };
    let span = |key: &str| of(key).number(key).map(Span::from_seconds);
    let at_most = of("open_at_most").number_or("open_at_most", f64::INFINITY)?;
    Some(Controller {
        open_at_least: span("open_at_least")?,
        open_at_most: at_most.is_finite().then(|| Span::from_seconds(at_most)),
        warning: span("warning")?,
        stroke_timeout: of("stroke_timeout").number("stroke_timeout")?,
        retry_after: span("retry_after")?,
        retries: of("retries").count("retries")?,
        fault_cleared_after: span("fault_cleared_after")?,
        obstruction_force_n: of("obstruction_force").number("obstruction_force")?,
        obstruction_reaction: span("obstruction_reaction")?,
        after_power_loss: match of("after_power_loss").text("after_power_loss")? {
            "open" => AfterPowerLoss::Open,
            _ => AfterPowerLoss::Stay,
        },
        on_dead_sensor: match of("on_dead_sensor").text("on_dead_sensor")? {
            "hold open" => OnDeadSensor::HoldOpen,
            _ => OnDeadSensor::Ignore,
        },
        dead_after: span("dead_after")?,
    })
}
