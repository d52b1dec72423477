//! Confidence intervals.

/// How an interval was computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Exact Poisson (Garwood 1936).
    Poisson,
    /// Student t.
    StudentT,
    /// Percentile bootstrap.
    Bootstrap,
    /// Wilson score (1927).
    Wilson,
}

/// A two-sided confidence interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Confidence, 0 to 1.
    pub confidence: f64,
    /// Method.
    pub method: Method,
}
