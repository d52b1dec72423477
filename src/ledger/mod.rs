//! What a season counts: exposures, cycles, contacts, duty, damage.

pub mod blame;
pub mod book;
pub mod film;
pub mod metric;
pub mod record;
