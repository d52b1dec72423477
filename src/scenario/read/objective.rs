//! `[objective]` and `[[risk]]` as they are resolved.

use super::Fields;
use super::limits::value;
use crate::scenario::objective::{Cost, Goal, Objective, Risk};

/// The objective; none if nothing is to be minimised. The outer none says that a check has noted an error.
#[allow(clippy::option_option, reason = "as of all readers, the outer one stands for an error noted before")]
pub(super) fn objective(fields: &Fields, metrics: &[(&str, &str)]) -> Option<Option<Objective>> {
    let costs = fields.entries("cost");
    let goal = match fields.text("minimise") {
        Some(metric) => Goal::Metric(metric.to_owned()),
        None if costs.is_empty() => return Some(None),
        None => Goal::Costs(costs.iter().map(cost).collect::<Option<_>>()?),
    };
    let indifference = match value(fields, "indifference", unit(fields, metrics)) {
        None => None,
        Some(read) => Some(read.ok()?),
    };
    Some(Some(Objective { goal, indifference }))
}

/// Unit of the goal; "" for a cost.
pub(crate) fn unit<'m>(fields: &Fields, metrics: &[(&str, &'m str)]) -> &'m str {
    let metric = fields.text("minimise").and_then(|name| metrics.iter().find(|known| known.0 == name));
    metric.map_or("", |metric| metric.1)
}

fn cost(fields: &Fields) -> Option<Cost> {
    Some(Cost { metric: fields.text("metric")?.to_owned(), cost: fields.number("cost")? })
}

/// `metrics` are keys and units of all metrics.
pub(super) fn risk(fields: &Fields, metrics: &[(&str, &str)]) -> Option<Risk> {
    let metric = fields.text("metric")?;
    let unit = metrics.iter().find(|known| known.0 == metric)?.1;
    Some(Risk {
        metric: metric.to_owned(),
        above: value(fields, "above", unit)?.ok()?,
        at_most: fields.number("at_most")?,
        confidence: fields.number("confidence")?,
    })
}
