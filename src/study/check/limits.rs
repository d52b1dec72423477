//! Acceptance limits that contradict each other.

use super::{Row, Verdict};
use crate::scenario::Scenario;
use crate::scenario::limits::Bound;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let limits = &scenario.limits;
    let clash = limits.iter().filter(|limit| limit.bound == Bound::AtLeast).find_map(|low| {
        let high = limits
            .iter()
            .find(|high| high.metric == low.metric && high.bound == Bound::AtMost && high.value < low.value)?;
        Some(format!("{} would have to be at least {} and at most {}", low.metric, low.value, high.value))
    });
    let negative = limits
        .iter()
        .find(|limit| limit.bound == Bound::AtMost && limit.value < 0.0)
        .map(|limit| format!("{} cannot be below 0", limit.metric));
    let found = clash.or(negative);
    let verdict = if found.is_some() { Verdict::Fails } else { Verdict::Fits };
    rows.push(
        Row::stated("limits", "acceptance limits can be met together", verdict)
            .key("limit")
            .note(found.unwrap_or_default()),
    );
}
