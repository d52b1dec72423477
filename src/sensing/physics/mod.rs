//! The physics behind the readings, as plain functions with their sources: light, rain drops, sound, load, tilt, age of
//! messages, obstruction.

pub mod age;
pub mod air;
pub mod drops;
pub mod load;
pub mod obstruction;
pub mod photon;
pub mod tilt;
