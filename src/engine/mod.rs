//! One season: the only place where the parts meet.

pub mod queue;
