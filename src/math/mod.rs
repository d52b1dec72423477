//! The few numerics no library gives: simulated time, named random streams, accurate normal tails, absorbing chains.

pub mod absorbing;
pub mod normal;
pub mod partition;
pub mod quadrature;
pub mod random;
pub mod simplex;
pub mod stationary;
pub mod time;
