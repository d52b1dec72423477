//! The page of a sweep.

use maud::html;

use super::document::{self, Section};
use super::figure::figures;
use super::study;
use super::table::Table;
use super::verdict::{Tone, verdict};
use crate::report::plots::Figure;
use crate::report::sweep::{Told, answers, legend, opening, tables};
use crate::study::sweep::Sweep;

/// The whole page.
pub fn page(sweep: &Sweep, told: &Told, drawings: &[Figure]) -> String {
    let mut answers = answers(sweep, told).into_iter();
    let first = answers.next().unwrap_or_else(|| "Nothing is shown.".to_string());
    let answer = html! {
        (verdict(Tone::Plain, &first, &answers.collect::<Vec<_>>()))
        (document::note("The smallest of several estimates is often small by luck: look at the intervals of its \
                         neighbours, and let a tuning confirm it on fresh seasons."))
    };
    let tables = html! {
        (figures(drawings.iter().filter(|one| one.name == "tradeoff")))
        @for (title, table) in tables(sweep, told) { (Table::of_text(title, &table).render()) }
        (document::note(&legend(told)))
    };
    let sections = vec![
        Section::new("answer", "Answer", answer),
        Section::new("shape", "How it changes", figures(drawings.iter().filter(|one| one.name != "tradeoff"))),
        Section::new("places", "All places", tables),
    ];
    study::page(told.study, &opening(sweep, told), &told.study.warnings, sections)
}
