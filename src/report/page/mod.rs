//! `report.html`: a report as one self-contained page. Nothing is fetched from elsewhere; all of it can be read without
//! script, on a phone, on paper, in light and dark, and by ear.
//!
//! The kit: [`document`] (head, style, navigation), [`table`] (captions, scopes, sorting), [`figure`](mod@figure) (drawings with title
//! and description), [`verdict`](mod@verdict) (the answer and its marks). Text is escaped by the templates.
//!
//! What the page rounds for reading stands in full beside it: a cell says which columns of which table file it shows, so
//! that each value can be held against the file (`data-csv`, see [`table`]).

pub mod calibrate;
pub mod check;
pub mod compare;
#[cfg(test)]
mod contrast;
pub mod document;
pub mod figure;
pub mod lifetime;
pub mod misses;
pub mod run;
pub mod sensitivity;
mod study;
pub mod sweep;
pub mod table;
pub mod tune;
pub mod verdict;
pub mod weather;
pub mod what_if;

pub use document::{Document, Section};
pub use figure::figure;
pub use maud::{Markup, PreEscaped, html};
pub use run::page;
pub use table::{Cell, Table};
pub use verdict::{Fact, Tone, badge, facts, verdict};
