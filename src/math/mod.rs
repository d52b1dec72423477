//! The few numerics no library gives: simulated time, named random streams, accurate normal tails.

pub mod normal;
pub mod random;
pub mod time;
