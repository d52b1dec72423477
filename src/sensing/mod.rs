//! Readings and detectors: what a sensor says, when a detector believes it, and how long that takes.

pub mod approach;
pub mod at_rest;
pub mod automaton;
mod averaged;
pub mod bound;
pub mod channel;
pub mod chart;
pub mod detector;
pub mod false_runs;
pub mod fusion;
pub mod health;
#[cfg(test)]
mod invented;
pub mod law;
pub mod noise;
pub mod physics;
pub mod reading;
pub mod remembered;
pub mod roc;
pub mod runrule;
pub mod runs;
pub mod sight;
pub mod statistic;
mod tilted;
pub mod window;
