//! `[objective]`, `[[objective.cost]]`, `[[risk]]`.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};

/// `[objective]`.
pub(super) const OBJECTIVE: Section = Section {
    path: "objective",
    form: Form::Table,
    need: Need::Optional,
    switch: "",
    about: "What counts as better between designs that meet the limits: one metric, or a sum of costs.",
    keys: &[
        Key::new("minimise", Kind::Metric, "Metric whose mean per season is to be small.")
            .absent("the sum of the costs is to be small; without any, designs are not ranked"),
        Key::new(
            "indifference",
            Kind::MetricValue,
            "Difference per season that doesn't matter, in the metric's unit or in cost.",
        )
        .absent("comparisons don't end early"),
    ],
};

/// `[[objective.cost]]`.
pub(super) const COST: Section = Section {
    path: "objective.cost",
    form: Form::List,
    need: Need::Optional,
    switch: "",
    about: "What one occurrence or one unit of a metric costs.",
    keys: &[
        Key::new("metric", Kind::Metric, "Which metric."),
        Key::new("cost", Kind::Number(Range::within(-1e9, 1e9)), "Cost of one occurrence or unit, in any currency."),
    ],
};

/// `[[risk]]`.
pub(super) const RISK: Section = Section {
    path: "risk",
    form: Form::List,
    need: Need::Optional,
    switch: "",
    about: "An acceptance limit on the share of bad seasons.",
    keys: &[
        Key::new("metric", Kind::Metric, "Which metric."),
        Key::new("above", Kind::MetricValue, "A season is bad if the metric exceeds this."),
        Key::new("at_most", Kind::Number(Range::within(0.0, 1.0)), "Share of bad seasons that is acceptable."),
        Key::new("confidence", Kind::Number(Range::within(0.5, 0.9999)), "Confidence of the decision.").default("0.95"),
    ],
};
