//! The pages of `weather show` and `weather fit`.

use maud::html;

use super::document::{self, Document, Section};
use super::figure::figures;
use super::study::cautions;
use super::table::Table;
use super::verdict::{Tone, verdict};
use crate::report::plots::Figure;
use crate::report::weather::{Named, agreed, answers, described, fit_table, gauge, legend, score, tables};
use crate::report::words::capital;
use crate::study::weather_fit::WeatherFit;

/// Records and scenarios' weather side by side.
pub fn page(all: &[Named], drawings: &[Figure], version: &str) -> String {
    let mut tables = tables(all).into_iter();
    let named =
        |(title, table): (&str, _)| Table::of_text(capital(title), &table).headed("quantity").in_order().render();
    let months = tables.next();
    let mut answers = answers(all).into_iter();
    let first = answers.next().unwrap_or_default();
    let answer = html! {
        (verdict(Tone::Plain, &first, &answers.collect::<Vec<_>>()))
        @for (what, notes) in described(all) {
            (document::note(&format!("{what}.")))
            (document::list(&notes.iter().map(|note| capital(note)).collect::<Vec<_>>()))
        }
        (figures(drawings.iter().filter(|one| one.name == "months")))
        @if let Some(months) = months { (named(months)) }
    };
    let rest = html! {
        @for table in tables { (named(table)) }
        @for line in legend() { (document::note(line)) }
    };
    let sections = vec![
        Section::new("answer", "What the weather is like", answer),
        Section::new("drawings", "Spells, intensity, the day, wind", {
            figures(drawings.iter().filter(|one| one.name != "months"))
        }),
        Section::new("figures", "All figures", rest),
        cautions(),
    ];
    let names: Vec<&str> = all.iter().map(|one| one.name.as_str()).collect();
    let title = format!("Weather: {}", names.join(", "));
    let lead = document::note(&format!("dooryard {version}."));
    Document { title: title.clone(), heading: title, lead, sections, styles: &[], scripts: &[] }.render()
}

/// What a fit achieved.
pub fn fit_page(record: &str, fit: &WeatherFit, drawings: &[Figure], version: &str) -> String {
    let (agreed, asked) = agreed(fit);
    let tone = if agreed == asked { Tone::Good } else { Tone::Open };
    let mut more = vec![format!("{}.", capital(&gauge(fit)))];
    more.extend(fit.notes.iter().map(|note| capital(note)));
    let score = score(fit).replace('\n', " ");
    let (first, rest) = score.split_once(". ").unwrap_or((&score, ""));
    let periods = html! {
        @for one in &fit.periods {
            @match fit_table(one) {
                Ok(table) => (Table::of_text(one.period.name, &table).headed("statistic").in_order().render()),
                Err(why) => (document::paragraph(&format!("{why}."))),
            }
        }
    };
    let answer = html! { (verdict(tone, &format!("{first}."), &more)) (document::note(rest)) (figures(drawings)) };
    let sections = vec![
        Section::new("answer", "How well the generator fits", answer),
        Section::new("periods", "Observed and fitted", periods),
        cautions(),
    ];
    let title = format!("Weather fitted to {record}");
    let lead = document::note(&format!("dooryard {version}."));
    Document { title: title.clone(), heading: title, lead, sections, styles: &[], scripts: &[] }.render()
}
