//! The day as plain text: what happened and why first, then its figures.

use super::{Told, words};
use crate::report::table::Table;
use crate::report::text::{Setting, heading, paragraph};

/// The short story of a day.
pub fn report(told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    paragraph(&mut out, &told.heading(), width);
    paragraph(&mut out, &format!("dooryard {}, seed {}", told.study.version, told.replay.seed), width);
    if let Some(found) = told.found {
        paragraph(&mut out, found, width);
    }
    for warning in told.warnings {
        paragraph(&mut out, &format!("Warning: {warning}"), width);
    }
    out.push('\n');
    paragraph(&mut out, &words::answer(told), width);
    if !told.replay.story.is_empty() {
        heading(&mut out, "What happened", setting);
        let whats: Vec<(String, String)> = told.replay.story.iter().map(words::incident).collect();
        let column = whats.iter().map(|(what, _)| what.chars().count()).max().unwrap_or(0);
        for (incident, (what, why)) in told.replay.story.iter().zip(whats) {
            let time = told.clock(incident.at);
            let first = if setting.plain { format!("{time}: {what}: ") } else { format!("{time}  {what:column$}  ") };
            out.push_str(&crate::report::table::hang(&first, &why, width));
        }
    }
    heading(&mut out, "The day in figures", setting);
    let mut table = Table::new(&["figure", "that day"]);
    for (name, value) in words::figures(told) {
        table.row(vec![name.to_string(), value]);
    }
    out.push_str(&table.render(setting));
    out
}
