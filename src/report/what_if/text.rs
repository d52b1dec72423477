//! A what-if study as text.

use super::{Told, answers, harm_words, legend, measured, opening, order, unit, with_interval};
use crate::report::number;
use crate::report::table::Table;
use crate::report::text::{self, Setting};
use crate::study::what_if::{Hurt, Moved, Row, WhatIf};

/// Most metrics that a row names; the files and the page name all.
const NAMED: usize = 4;

/// The report as text.
pub fn report(result: &WhatIf, told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    text::paragraph(&mut out, &opening(result, told), width);
    text::warnings(&mut out, told.warnings, width);
    text::heading(&mut out, "Answer", setting);
    for answer in answers(result, told) {
        text::paragraph(&mut out, &answer, width);
    }
    text::heading(&mut out, "Harm, the most harmful failure first", setting);
    text::paragraph(&mut out, &format!("Harm: {}.", harm_words(told)), width);
    out.push('\n');
    out.push_str(&table(result, told).render(setting));
    text::heading(&mut out, "What each failure moves, and what protects", setting);
    for index in order(result) {
        out.push('\n');
        text::paragraph(&mut out, &explained(result, &result.rows[index], told), width);
    }
    out.push('\n');
    text::paragraph(&mut out, &legend(result, told), width);
    out
}

fn table(result: &WhatIf, told: &Told) -> Table {
    let mut headings = vec!["failure"];
    headings.extend(result.strategies.iter().map(String::as_str));
    headings.push("suffers least");
    let last = headings.len() - 1;
    let mut table = Table::new(&headings).left(last);
    let mut without = vec![format!("(without: {})", unit(told))];
    without.extend(result.base.iter().map(|mean| number::significant(*mean, 3)));
    without.push(String::new());
    table.row(without);
    for index in order(result) {
        let row = &result.rows[index];
        let mut cells = vec![row.name.clone()];
        cells.extend(row.hurt.iter().map(|hurt| with_interval(&hurt.harm).replacen(' ', "\n", 1)));
        cells.push(row.least.map_or(number::WITHHELD.to_string(), |least| result.strategies[least].clone()));
        table.row(cells);
    }
    table
}

fn named(hurt: &Hurt, moved: &[&Moved]) -> String {
    let mut words: Vec<String> = moved
        .iter()
        .take(NAMED)
        .map(|one| format!("{} {}", one.paired.key.metric().title, measured(&one.paired)))
        .collect();
    if moved.len() > NAMED {
        words.push(format!("and {} more", moved.len() - NAMED));
    }
    match (words.is_empty(), hurt.moved.is_empty()) {
        (true, true) => "nothing in any of these seasons".to_string(),
        (true, false) => "nothing for sure".to_string(),
        (false, _) => words.join("; "),
    }
}

fn explained(result: &WhatIf, row: &Row, told: &Told) -> String {
    let about = row.mode.map_or(String::new(), |mode| format!(" ({}) {}", mode.number, mode.about));
    let strategies: Vec<String> = result
        .strategies
        .iter()
        .enumerate()
        .map(|(index, name)| format!("{name}: {}.", named(&row.hurt[index], &row.moved(index, told.confidence))))
        .collect();
    let protects = row.mode.map_or(String::new(), |mode| format!(" Protection: {}", mode.protects));
    format!("{}{about} {}{protects}", row.name, strategies.join(" "))
}
