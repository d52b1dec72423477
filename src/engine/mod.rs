//! The engine: one queue, named streams, one season. The only place where the parts of the house meet.

pub mod approach;
mod charge;
pub mod event;
pub mod film;
pub mod outside;
pub mod plan;
mod platform;
mod polls;
pub mod queue;
pub mod season;

mod account;
mod control;
mod door;
mod drift;
mod edges;
mod failures;
mod guests;
mod health;
mod joint;
mod missed;
mod motion;
mod mower;
mod openings;
mod particles;
mod senses;
mod survey;
mod tallies;
mod watch;

pub use control::state_name;
pub use film::play_filmed;
pub use mower::stops;
pub use outside::Outside;
pub use plan::{Plan, PlanError};
pub use season::{Options, play};
pub use tallies::{looks, watches_way};
pub use watch::{Heard, Reduced, reduce};
