//! The file a user writes, and the typed, valid thing the rest of the house reads.

pub mod door;
pub mod limits;
pub mod mower;
pub mod resolved;
pub mod season;
pub mod sensor;
pub mod strategy;
pub mod visitor;
pub mod weather;

pub use resolved::Scenario;
