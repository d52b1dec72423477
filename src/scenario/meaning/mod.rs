//! Step two of two: what the scenario means.

use super::error::Notes;
use super::read::Fields;

pub(crate) fn check(_root: &Fields, _metrics: &[(&str, &str)], _notes: &mut Notes) {}
