//! The page of a comparison.

use maud::{Markup, html};

use super::document::{self, Section};
use super::figure::figures;
use super::study;
use super::table::Table;
use super::verdict::{Tone, verdict};
use crate::report::compare::{Told, text};
use crate::report::plots::Figure;
use crate::report::{groups, words};
use crate::study::compare::{Choice, Comparison, Standing};

/// The whole page.
pub fn page(comparison: &Comparison, told: &Told, drawings: &[Figure]) -> String {
    let tone = match comparison.choice {
        Choice::Best(_) | Choice::OnlyOne(_) => Tone::Good,
        Choice::NoneMeets => Tone::Bad,
        Choice::NotToldApart(_) | Choice::Leads(_) => Tone::Open,
        Choice::NoObjective => Tone::Plain,
    };
    let answer = html! {
        (verdict::<&str>(tone, &text::answer(comparison, told), &[]))
        (Table::of_text("Ranking, the best first", &text::ranking(comparison, told)).render())
        @for index in &comparison.ranking {
            @let standing = &comparison.standings[*index];
            @let caption = format!("Limits of {}", standing.name);
            (study::verdicts(&caption, &words::verdicts(&standing.limits, &standing.risks)))
        }
    };
    let reference = &comparison.standings[comparison.reference];
    let differences = html! {
        (figures(drawings.iter().filter(|one| one.name != "tradeoff")))
        @for standing in comparison.standings.iter().filter(|standing| !standing.differences.is_empty()) {
            @let caption = format!("{} minus {}", standing.name, reference.name);
            (Table::of_text(caption, &text::differences(standing)).render())
            (document::paragraph(&text::reductions(standing)))
        }
        (document::note(&text::legend(comparison, told)))
    };
    let sections = vec![
        Section::new("answer", "Answer", answer),
        Section::new("differences", "Differences", differences),
        Section::new(
            "figures",
            "Each by itself",
            html! {
                (figures(drawings.iter().filter(|one| one.name == "tradeoff"))) (glance(&comparison.standings))
            },
        ),
    ];
    study::page(told.study, &text::opening(comparison, told), told.warnings, sections)
}

/// Key figures of all contenders.
fn glance(standings: &[Standing]) -> Markup {
    let all = standings.iter().map(|standing| (standing.name.as_str(), standing.estimates.as_slice()));
    Table::means("Key figures", "contender", &all.collect::<Vec<_>>(), groups::GLANCE).render()
}
