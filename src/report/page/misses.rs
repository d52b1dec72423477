//! The page of `misses`.

use maud::{Markup, html};

use super::document::{self, Section};
use super::figure::figures;
use super::study;
use super::table::{Cell, Table};
use super::verdict::{Tone, verdict};
use crate::report::misses::{READING, SHARES, Told, answers, both, floor, opening, stories, table};
use crate::report::number;
use crate::report::plots::Figure;

/// The whole page.
pub fn page(told: &Told, drawings: &[Figure]) -> String {
    let mut answers = answers(told).into_iter();
    let first = answers.next().unwrap_or_else(|| "No strategy was worked out.".to_string());
    let answer = html! {
        (verdict(Tone::Plain, &first, &answers.collect::<Vec<_>>()))
        (document::note(&floor(told)))
        (document::note(READING))
    };
    let chances = html! {
        (figures(drawings.iter().filter(|one| one.name == "chances")))
        (Table::of_text("Chance to be missed", &table(told)).render())
    };
    let when = html! {
        (figures(drawings.iter().filter(|one| one.name == "shares")))
        (shares(told))
        @for story in stories(told) { (document::paragraph(&story)) }
    };
    let sections = vec![
        Section::new("answer", "Answer", answer),
        Section::new("chances", "How rarely an arrival goes unnoticed", chances),
        Section::new("when", "When it happens", when),
    ];
    study::page(told.study, &opening(told), told.warnings, sections)
}

fn shares(told: &Told) -> Markup {
    let headings: Vec<&str> = std::iter::once("strategy").chain(SHARES.iter().map(|(_, words)| *words)).collect();
    let caption = "Shares of the expected misses by noise alone";
    let mut table = Table::new(caption, &headings).of("misses.csv", &["strategy", "by"]);
    for (name, misses) in told.worked_out() {
        let cell = |((column, _), share): (&(&str, &str), f64)| {
            Cell::number(column, share, format!("{:.0}{}%", 100.0 * share, number::GLUE))
        };
        let cells = std::iter::once(Cell::text(name)).chain(SHARES.iter().zip(misses.shares).map(cell));
        let [_, (by, _)] = both(misses);
        table.keyed(&[name, by], cells.collect());
    }
    html! { @if !table.is_empty() { (table.render()) } }
}
