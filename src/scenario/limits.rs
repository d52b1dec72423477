//! `[[limit]]`: acceptance limits on metrics.

/// Side of a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// The mean must not exceed the value.
    AtMost,
    /// The mean must not fall short of the value.
    AtLeast,
}

/// One acceptance limit, on the mean per season of a metric.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Key of the metric (see `ledger::metric`).
    pub metric: String,
    /// Side.
    pub bound: Bound,
    /// Value, in the metric's unit.
    pub value: f64,
    /// Confidence of the decision, 0.5 to 0.9999.
    pub confidence: f64,
}
