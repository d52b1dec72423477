//! Step two of two: what the scenario means. Each check looks only at values that step one found good, so that one
//! mistake is reported once.

mod controller;
mod door;
mod failure;
mod mower;
mod names;
mod objective;
mod sensing;
mod sight;
mod statistic;
mod strategy;
mod various;

use super::error::{Notes, Trouble};
use super::read::Fields;

/// Checks references, orders and geometry.
pub(crate) fn check(root: &Fields, metrics: &[(&str, &str)], notes: &mut Notes) {
    names::check(root, notes);
    failure::check(root, notes);
    various::check(root, metrics, notes);
    objective::check(root, metrics, notes);
    mower::check(root, notes);
    door::check(root, notes);
    sensing::check(root, notes);
    strategy::check(root, notes);
    controller::check(root, notes);
}

/// Checks what can be told of a scenario of which parts could not be read: where its rangers look.
pub(crate) fn check_incomplete(root: &Fields, notes: &mut Notes) {
    sensing::aims(root, notes);
}

/// Notes an error at a key.
fn error(notes: &mut Notes, fields: &Fields, key: &str, message: impl Into<String>, help: &str) {
    notes.error(fields.place(key), fields.key(key), trouble(message, help));
}

/// Notes a warning at a key.
fn warning(notes: &mut Notes, fields: &Fields, key: &str, message: impl Into<String>, help: &str) {
    notes.warning(fields.place(key), fields.key(key), trouble(message, help));
}

fn trouble(message: impl Into<String>, help: &str) -> Trouble {
    let trouble = Trouble::new(message);
    if help.is_empty() { trouble } else { trouble.help(help) }
}

/// A length for messages.
fn metres(value: f64) -> String {
    crate::scenario::measure::LENGTH.show(value)
}
