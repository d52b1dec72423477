//! world
