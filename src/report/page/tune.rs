//! The page of a tuning.

use maud::html;

use super::document::{self, Section};
use super::figure::figures;
use super::study;
use super::table::Table;
use super::verdict::{Tone, verdict};
use crate::report::plots::Figure;
use crate::report::tune::{self, Told};
use crate::report::words;
use crate::study::tune::Tuned;

/// The whole page.
pub fn page(tuned: &Tuned, told: &Told, drawings: &[Figure]) -> String {
    let confirmed = &tuned.confirmation;
    let tone = match confirmed.difference.interval {
        Some(it) if told.best.is_some() && it.high < 0.0 => Tone::Good,
        Some(it) if told.best.is_some() && it.low > 0.0 => Tone::Bad,
        _ => Tone::Open,
    };
    let part: &[&str] = if told.part.is_some() { &[tune::PART] } else { &[] };
    let answer = html! {
        (verdict(tone, &tune::answer(tuned, told), part))
        (Table::of_text("The numbers, as they are and at their best", &tune::settings(tuned, told)).render())
        (study::verdicts("Limits, confirmed on fresh seasons", &words::verdicts(&confirmed.limits, &confirmed.risks)))
    };
    let front = html! {
        (figures(drawings))
        (Table::of_text("The front: nothing tried is better in both", &tune::trades(tuned, told)).render())
        (document::note(&tune::legend(tuned, told)))
    };
    let sections = vec![Section::new("answer", "Answer", answer), Section::new("front", "What was tried", front)];
    study::page(told.study, &tune::opening(tuned, told), &told.study.warnings, sections)
}
