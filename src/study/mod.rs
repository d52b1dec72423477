//! Many seasons with a purpose: replications, intervals, decisions.

pub mod interval;
pub mod result;
