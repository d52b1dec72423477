//! `[[limit]]` as it is resolved.

use super::number::metric_value;
use super::{Fields, Typed};
use crate::scenario::error::Trouble;
use crate::scenario::limits::{Bound, Limit};

/// `metrics` are keys and units of all metrics.
pub(super) fn limit(fields: &Fields, metrics: &[(&str, &str)]) -> Option<Limit> {
    let metric = fields.text("metric")?;
    let unit = metrics.iter().find(|known| known.0 == metric)?.1;
    let bound = if fields.given("at_most") { Bound::AtMost } else { Bound::AtLeast };
    let key = if bound == Bound::AtMost { "at_most" } else { "at_least" };
    Some(Limit {
        metric: metric.to_owned(),
        bound,
        value: value(fields, key, unit)?.ok()?,
        confidence: fields.number("confidence")?,
    })
}

/// The value of a bound in the metric's unit; none if it is not given.
pub(crate) fn value(fields: &Fields, key: &str, unit: &str) -> Option<Result<f64, Trouble>> {
    match fields.value(key)? {
        Typed::Raw(raw) => Some(metric_value(raw, unit)),
        _ => None,
    }
}
