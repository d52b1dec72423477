//! `[common_cause]`: what sensors share, and what no noise figure therefore says.

/// What one cause spoils for all sensors at once: the supply, dirt or dew on both windows, fog, the weather.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CommonCause {
    /// Share of arrivals that go unnoticed whatever the sensors can do by themselves, 0 to 1: no probability of a missed
    /// arrival is shown below it without being told so.
    pub floor: f64,
    /// The beta factor: share of a sensor's misses that come from a cause which the others at the door share, 0 to 1.
    pub beta: f64,
}

/// What holds unless the scenario says otherwise (common practice; in the middle, by their logarithms, of the usual 1e-5
/// to 1e-3 per arrival and 0.01 to 0.2).
pub const USUAL: CommonCause = CommonCause { floor: 1e-4, beta: 0.05 };
