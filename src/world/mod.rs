//! world
pub mod clock;
pub mod sun;
