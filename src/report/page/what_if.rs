//! The page of a what-if study.

use maud::{Markup, html};

use super::document::{self, Section};
use super::figure::figures;
use super::study;
use super::table::{Cell, Table};
use super::verdict::{Tone, verdict};
use crate::report::number::{self, WITHHELD, exact, exact_or_empty};
use crate::report::plots::Figure;
use crate::report::what_if::{Told, answers, ends, harm_words, legend, opening, order, signed, unit, with_interval};
use crate::report::words;
use crate::study::paired::PairedDifference;
use crate::study::what_if::{Row, WhatIf};

/// The whole page.
pub fn page(result: &WhatIf, told: &Told, drawings: &[Figure]) -> String {
    let mut answers = answers(result, told).into_iter();
    let first = answers.next().unwrap_or_else(|| "No failure was played.".to_string());
    let answer = html! {
        (verdict(Tone::Plain, &first, &answers.collect::<Vec<_>>()))
        (document::note(&format!("Harm: {}.", harm_words(told))))
    };
    let ranked = html! { (figures(drawings)) (harm(result, told)) (without(result, told)) };
    let moved = html! {
        (document::note("Only what is beyond chance over all comparisons is listed; moved.csv has all that differed."))
        @for index in order(result) { (failure(result, &result.rows[index], told)) }
        (document::note(&legend(result, told)))
    };
    let sections = vec![
        Section::new("answer", "Answer", answer),
        Section::new("ranked", "Failures by their harm", ranked),
        Section::new("moved", "What each failure moves, and what protects", moved),
    ];
    study::page(told.study, &opening(result, told), told.warnings, sections)
}

/// One row per failure, one column per strategy.
fn harm(result: &WhatIf, told: &Told) -> Markup {
    let mut headings = vec!["failure", "no."];
    headings.extend(result.strategies.iter().map(String::as_str));
    headings.push("suffers least");
    let caption = format!("Added {} with the failure, and its interval", unit(told));
    let mut table = Table::new(caption, &headings).of("harm.csv", &["failure", "strategy"]).left(&[headings.len() - 1]);
    for index in order(result) {
        let row = &result.rows[index];
        let number = row.mode.map(|mode| mode.number.to_string());
        let first = result.strategies.first().map_or("", String::as_str);
        let mut cells = vec![Cell::text(&row.name)];
        cells.push(match row.mode {
            Some(mode) => Cell::number("number", mode.number as f64, mode.number.to_string()),
            None => Cell::text("").field("number", number.unwrap_or_default()),
        });
        cells[1] = cells[1].clone().of_row(&[&row.name, first]);
        cells.extend(
            row.hurt
                .iter()
                .zip(&result.strategies)
                .map(|(hurt, strategy)| difference("harm", &hurt.harm).of_row(&[&row.name, strategy])),
        );
        cells.push(match row.least {
            Some(least) => {
                let name = &result.strategies[least];
                Cell::text(name).field("suffers_least", "true").of_row(&[&row.name, name])
            }
            None => Cell::withheld(),
        });
        table.row(cells);
    }
    table.render()
}

/// What the seasons are like without failures.
fn without(result: &WhatIf, told: &Told) -> Markup {
    let caption = format!("Without any failure and with all together: {}", unit(told));
    let mut table =
        Table::new(caption, &["strategy", "without", "all together"]).of("harm.csv", &["failure", "strategy"]);
    if let Some(all) = result.rows.iter().find(|row| row.mode.is_none()) {
        for (strategy, hurt) in result.strategies.iter().zip(&all.hurt) {
            let [with, without] = hurt.harm.means;
            let figure = |column: &str, value: f64| Cell::number(column, value, number::significant(value, 3));
            let cells = vec![Cell::text(strategy), figure("without", without), figure("with", with)];
            table.keyed(&[&all.name, strategy], cells);
        }
    }
    html! { @if !table.is_empty() { (table.render()) } }
}

/// A difference with its interval, as fields of a file.
fn difference(column: &str, of: &PairedDifference) -> Cell {
    let shown = html! { (signed(of.difference)) @if let Some(ends) = ends(of) { small { (ends) } } };
    Cell::markup(shown)
        .sorted_by(of.difference)
        .field(column, exact(of.difference))
        .field("low", exact_or_empty(of.interval.map(|it| it.low)))
        .field("high", exact_or_empty(of.interval.map(|it| it.high)))
}

/// One failure: what it is, what it moves, what protects.
fn failure(result: &WhatIf, row: &Row, told: &Told) -> Markup {
    let headings = ["per season", "strategy", "without", "with", "difference", "adjusted p"];
    let mut table = Table::new(format!("What {} moves", row.name), &headings)
        .of("moved.csv", &["failure", "strategy", "metric"])
        .left(&[1]);
    for (index, strategy) in result.strategies.iter().enumerate() {
        for one in row.moved(index, told.confidence) {
            let paired = &one.paired;
            let [with, without] = paired.means;
            let figure = |column: &str, value: f64| Cell::number(column, value, number::significant(value, 3));
            let cells = vec![
                Cell::text(words::heading(paired.key)),
                Cell::text(strategy),
                figure("without", without),
                figure("with", with),
                difference("difference", paired),
                Cell::number("p_adjusted", one.adjusted_p, number::significant(one.adjusted_p, 2)),
            ];
            table.keyed(&[&row.name, strategy, paired.key.metric().key], cells);
        }
    }
    let worst = row.hurt.iter().map(|hurt| &hurt.harm).max_by(|a, b| a.difference.total_cmp(&b.difference));
    let summary = format!("{}: {}", row.name, worst.map_or(WITHHELD.to_string(), with_interval));
    let body = html! {
        @if let Some(mode) = row.mode { p { (mode.about) } p { strong { "Protection: " } (mode.protects) } }
        @if table.is_empty() { p { "It moves nothing beyond chance." } } @else { (table.render()) }
    };
    document::folded(&summary, &body)
}
