//! The page of a sensitivity study.

use maud::html;

use super::document::{self, Section};
use super::figure::figures;
use super::study;
use super::table::Table;
use super::verdict::{Tone, verdict};
use crate::report::plots::Figure;
use crate::report::sensitivity::{Told, answers, legend, moments, one, opening, ranges};
use crate::report::words::capital;
use crate::study::sensitivity::Sensitivity;

/// The whole page.
pub fn page(result: &Sensitivity, told: &Told, drawings: &[Figure]) -> String {
    let mut answers = answers(result).into_iter();
    let first = answers.next().unwrap_or_else(|| "No metric was examined.".to_string());
    let drivers = html! {
        (figures(drawings))
        @for drivers in &result.drivers {
            h3 { (drivers.name) }
            (document::paragraph(&format!("{}.", capital(&moments(drivers)))))
            (Table::of_text(format!("What drives it: {}", drivers.name), &one(result, drivers)).render())
        }
        (document::note(&legend(told)))
    };
    let sections = vec![
        Section::new("answer", "Answer", verdict(Tone::Plain, &first, &answers.collect::<Vec<_>>())),
        Section::new("drivers", "What drives what", drivers),
        Section::new("ranges", "What was varied", Table::of_text("Numbers and their ranges", &ranges(result)).render()),
    ];
    study::page(told.study, &opening(result, told), &told.study.warnings, sections)
}
