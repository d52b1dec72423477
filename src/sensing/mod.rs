//! Readings and detectors: what a sensor says, when a detector believes it, and how long that takes.

pub mod bound;
pub mod channel;
pub mod detector;
pub mod law;
pub mod reading;
pub mod runrule;
pub mod sight;
pub mod window;
