//! `[[limit]]`.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};

/// `[[limit]]`.
pub(super) const LIMIT: Section = Section {
    path: "limit",
    form: Form::List,
    need: Need::Optional,
    switch: "",
    about: "An acceptance limit on the mean per season of a metric.",
    keys: &[
        Key::new("metric", Kind::Metric, "Which metric."),
        Key::new("at_most", Kind::MetricValue, "The mean must not exceed this.").absent("give `at_least` instead"),
        Key::new("at_least", Kind::MetricValue, "The mean must not fall short of this.")
            .absent("give `at_most` instead"),
        Key::new("confidence", Kind::Number(Range::within(0.5, 0.9999)), "Confidence of the decision.").default("0.95"),
    ],
};
