//! Readings and detectors: what a sensor says, and when a detector believes it.

pub mod channel;
pub mod detector;
pub mod law;
pub mod reading;
pub mod sight;
