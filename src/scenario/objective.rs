//! `[objective]` and `[[risk]]`: what counts as better, and what must not happen too often.

/// What counts as better between designs that meet the limits.
#[derive(Clone, Debug, PartialEq)]
pub struct Objective {
    /// What is to be small.
    pub goal: Goal,
    /// Difference of the goal per season that doesn't matter, in the metric's unit or in cost; none if not stated.
    pub indifference: Option<f64>,
}

/// What is to be small.
#[derive(Clone, Debug, PartialEq)]
pub enum Goal {
    /// One metric, by its key.
    Metric(String),
    /// The sum of all costs.
    Costs(Vec<Cost>),
}

/// Cost of a metric.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Key of the metric.
    pub metric: String,
    /// Cost of one occurrence or one unit of it, in any currency.
    pub cost: f64,
}

/// `[[risk]]`: a limit on the share of bad seasons.
#[derive(Clone, Debug, PartialEq)]
pub struct Risk {
    /// Key of the metric.
    pub metric: String,
    /// A season is bad if the metric exceeds this, in the metric's unit.
    pub above: f64,
    /// Share of bad seasons that is still acceptable, 0 to 1.
    pub at_most: f64,
    /// Confidence of the decision, 0.5 to 0.9999.
    pub confidence: f64,
}
