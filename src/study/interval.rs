//! Confidence intervals, one file per family of methods.
//!
//! Every interval is equal-tailed: its upper end at confidence `2 c - 1` is the one-sided upper bound at confidence
//! `c`, and likewise below.

pub mod bootstrap;
pub mod mean;
pub mod poisson;
pub mod proportion;
mod quantile;

pub use bootstrap::bootstrap;
pub use mean::{Difference, paired, replications_for_half_width, student_t, welch};
pub use poisson::{poisson, poisson_lower, poisson_upper};
pub use proportion::{clopper_pearson, wilson};
pub use quantile::{chi_square_quantile, chi_square_tail, normal_quantile, t_quantile};

/// How an interval was computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Exact Poisson (Garwood 1936).
    Poisson,
    /// Student t.
    StudentT,
    /// Bootstrap of the mean, bias-corrected and accelerated (Efron 1987).
    Bootstrap,
    /// Wilson score (1927).
    Wilson,
    /// Exact binomial (Clopper & Pearson 1934).
    ClopperPearson,
    /// Difference of two exact Poisson rates of unmatched events (Zou & Donner 2008).
    Unmatched,
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
