//! Readings, detectors, run-length laws, miss probability.

pub mod runrule;
pub mod window;
