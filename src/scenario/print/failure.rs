//! `[[failure]]`.

use super::page::{Page, text};
use super::spread;
use crate::scenario::Scenario;
use crate::scenario::failure::{Failure, MODES, Often, mode as mode_of};

pub(super) fn failure(page: &mut Page, failure: &Failure, scenario: &Scenario) {
    let only = failure.only.and_then(|index| scenario.sensors.get(index));
    failure_of(page, failure, only.map(|sensor| sensor.name.as_str()));
}

fn failure_of(page: &mut Page, failure: &Failure, sensor: Option<&str>) {
    page.open("failure");
    page.raw("mode", text(failure.mode.name));
    page.raw("name", text(&failure.name));
    if let Some(sensor) = sensor {
        page.raw("sensor", text(sensor));
    }
    if matches!(failure.mode.often, Often::Episodes { .. }) {
        page.number("rate", failure.per_year);
    }
    if failure.mode.lasts.is_some() {
        spread(page, "lasts", failure.lasts);
    }
    for ((figure, _), value) in failure.mode.figures.iter().zip(&failure.figures) {
        page.number(figure.key(), *value);
    }
}

/// All modes as they usually are, with a word on each: a part that scenarios may include.
pub fn failures_part() -> String {
    let mut all = String::from(
        "# What goes wrong on real sites: every mode with plausible rates for a first run. All figures are common practice:\n\
         # engineering judgement, to be replaced by the records of the site. Include this file, or copy what matters.\n\
         # `dooryard what-if SCENARIO` plays each of them alone.\n",
    );
    for mode in &MODES {
        let mut page = Page::default();
        let Some(mode) = mode_of(mode.name) else { continue };
        failure_of(&mut page, &Failure::usual(mode, Vec::new()), None);
        all.push_str(&format!("\n# {}. {} Protection: {}", mode.number, mode.about, lower(mode.protects)));
        all.push_str(&page.finish());
    }
    all
}

fn lower(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or(String::new(), |first| first.to_lowercase().chain(letters).collect())
}
