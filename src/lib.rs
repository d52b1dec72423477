//! dooryard plays seasons of a robot mower and its automatic shelter and says what would go wrong, how often, and
//! what to change, before anything is cut or soldered.
//!
//! Dependencies point down this list only: `cli`, `report`, `study`, `engine`, `ledger`, `world`, `sensing`,
//! `shelter`, `scenario`, `math`.

pub mod cli;
pub mod engine;
pub mod ledger;
pub mod math;
pub mod report;
pub mod scenario;
pub mod sensing;
pub mod shelter;
pub mod study;
pub mod world;
