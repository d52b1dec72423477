//! What a season counts: exposures, cycles, contacts, duty, damage.

pub mod book;
pub mod film;
pub mod metric;
pub mod record;
