//! What a season counts: exposures, cycles, contacts, duty, damage.

pub mod metric;
pub mod record;
