//! What went wrong: causes, and the seasons and days to look at first, each with the command that opens it.

use maud::{Markup, html};

use super::super::document;
use super::super::table::{Cell, Table};
use super::estimates::full;
use crate::report::context::Context;
use crate::report::{csv, number, words};
use crate::study::result::{Estimate, RunResult, StrategyResult, Worst};

/// The section.
pub fn section(result: &RunResult, context: &Context) -> Markup {
    html! {
        @for strategy in &result.strategies {
            h3 { (strategy.name) }
            @for (key, causes) in strategy.causes() {
                @let happened: Vec<&(String, Estimate)> = causes.iter().filter(|(_, it)| it.mean > 0.0).collect();
                @if happened.is_empty() {
                    p { "No " (key.metric().title) "." }
                } @else {
                    @let caption = format!("{}, {}", words::by_cause(key), strategy.name);
                    @let rows = happened.into_iter().map(|(cause, estimate)| {
                        (vec![strategy.name.as_str(), key.metric().key, cause.as_str()], cause.clone(), estimate)
                    });
                    (full(&caption, "causes.csv", &["strategy", "metric", "cause"], rows))
                }
            }
            (worst(result, strategy, false, context))
            (worst(result, strategy, true, context))
        }
        (document::note("Causes are those that stand out at the moment: of a false opening the likeliest one, of a \
                         missed arrival what was out of the ordinary. A command opens the day as a timeline; give it \
                         in the folder where this run was started (in the scenario's own if it was named by its whole \
                         path)."))
    }
}

fn worst(result: &RunResult, strategy: &StrategyResult, of_days: bool, context: &Context) -> Markup {
    let what = if of_days { "days" } else { "seasons" };
    let mut headings = vec!["what", "rank", "how much", "season"];
    if of_days {
        headings.extend(["date", "to open it"]);
    }
    let mut table = Table::new(format!("Worst {what}, {}", strategy.name), &headings)
        .of("worst.csv", &["strategy", "metric", "of", "rank"])
        .left(if of_days { &[4, 5] } else { &[] });
    for one in strategy.worst.iter().filter(|one| one.day.is_some() == of_days) {
        let (metric, rank) = (one.key.metric(), one.rank.to_string());
        let of = if of_days { "day" } else { "season" };
        let mut cells = vec![
            Cell::text(words::heading(one.key)),
            Cell::text(&rank),
            Cell::number("value", one.value, number::significant(one.value, 3)),
            Cell::number("season", one.season as f64, one.season.to_string()),
        ];
        if let Some(day) = one.day {
            let date = csv::date(result.scenario.calendar.first_day, day).to_string();
            let command = command(result, strategy, one, &date, context);
            cells.push(Cell::markup(html! { time datetime=(date) { (date) } }).field("date", &date));
            cells.push(Cell::markup(html! { code { (command) } }));
        }
        table.keyed(&[&strategy.name, metric.key, of, &rank], cells);
    }
    html! { @if !table.is_empty() { (table.render()) } }
}

/// The command that replays a day.
fn command(result: &RunResult, strategy: &StrategyResult, one: &Worst, date: &str, context: &Context) -> String {
    let seed = if result.seed == 1 { String::new() } else { format!(" --seed {}", result.seed) };
    format!(
        "dooryard day {} --season {} --date {date} --strategy {}{seed}",
        quoted(context.file),
        one.season,
        quoted(&strategy.name)
    )
}

/// A word of a command line, in quotes where a shell would take it apart.
fn quoted(word: &str) -> String {
    let harmless = |letter: char| letter.is_alphanumeric() || "-_./".contains(letter);
    if !word.is_empty() && word.chars().all(harmless) {
        word.to_string()
    } else {
        format!("\"{}\"", word.replace('\\', "\\\\").replace('"', "\\\""))
    }
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn names_of_several_words_stay_one() {
        assert_eq!(quoted("by-eye.toml"), "by-eye.toml");
        assert_eq!(quoted("eye or status"), "\"eye or status\"");
        assert_eq!(quoted("say \"hi\""), "\"say \\\"hi\\\"\"");
    }
}
