//! Acceptance limits that contradict each other.

use super::set::Set;
use super::{Row, Verdict};
use crate::scenario::Scenario;
use crate::scenario::limits::{Bound, Limit};

/// Key of a limit's figure: a limit goes by its metric.
pub(super) fn key_of(limit: &Limit) -> String {
    let bound = if limit.bound == Bound::AtMost { "at_most" } else { "at_least" };
    format!("limit.{}.{bound}", limit.metric)
}

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let limits = &scenario.limits;
    let clash =
        limits.iter().enumerate().filter(|(_, limit)| limit.bound == Bound::AtLeast).find_map(|(index, low)| {
            let high = limits
                .iter()
                .find(|high| high.metric == low.metric && high.bound == Bound::AtMost && high.value < low.value)?;
            let why = format!(
                "{} would have to be at least {} and at most {}: they contradict each other, one has to go (the likelier mistake is named)",
                low.metric, low.value, high.value
            );
            Some((why, Set::NoLimit(index)))
        });
    let negative = limits
        .iter()
        .enumerate()
        .find(|(_, limit)| limit.bound == Bound::AtMost && limit.value < 0.0)
        .map(|(index, limit)| (format!("{} cannot be below 0", limit.metric), Set::LimitValue(index, 0.0)));
    let found = negative.or(clash);
    let row = Row::stated("limits", "acceptance limits can be met together", Verdict::Fits).key("limit");
    rows.push(match found {
        None => row,
        Some((why, set)) => Row { verdict: Verdict::Fails, ..row }.note(why).changes(vec![set.of("limits", scenario)]),
    });
}
