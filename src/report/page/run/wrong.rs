//! What went wrong: causes, and the seasons and days to look at first, each with the command that opens it.

use crate::ledger::blame::BLAMED;
use maud::{Markup, html};

use super::super::document;
use super::super::table::{Cell, Table};
use super::estimates::full;
use crate::report::context::Context;
use crate::report::{csv, folder, number, words};
use crate::study::result::{Estimate, RunResult, StrategyResult, Worst};

/// The section.
pub fn section(result: &RunResult, context: &Context) -> Markup {
    html! {
        @for strategy in &result.strategies {
            h3 { (strategy.name) }
            @for blamed in BLAMED {
                @let (key, causes) = (blamed.key(), &strategy.causes[blamed]);
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
                         missed arrival what was out of the ordinary. A command writes the day as a timeline; give it \
                         in the folder where this run was started (in the scenario's own if it was named by its whole \
                         path). From then on the day's date leads to it, if the day lies beside this page: where this run \
                         was told to write elsewhere, tell the command the same place with --out, followed by the name \
                         of the day's folder."))
    }
}

fn worst(result: &RunResult, strategy: &StrategyResult, of_days: bool, context: &Context) -> Markup {
    let what = if of_days { "days" } else { "seasons" };
    let headings: &[&str] = if of_days {
        &["what", "timeline of", "how much", "rank", "season", "written by"]
    } else {
        &["what", "how much", "rank", "season"]
    };
    let mut table = Table::new(format!("Worst {what}, {}", strategy.name), headings)
        .of("worst.csv", &["strategy", "metric", "of", "rank"])
        .left(if of_days { &[1, 5] } else { &[] });
    for one in strategy.worst.iter().filter(|one| one.day.is_some() == of_days) {
        let (metric, rank) = (one.key.metric(), one.rank.to_string());
        let of = if of_days { "day" } else { "season" };
        let mut cells = vec![
            Cell::text(words::heading(one.key)),
            Cell::number("value", one.value, number::significant(one.value, 3)),
            Cell::text(&rank),
            Cell::number("season", one.season as f64, one.season.to_string()),
        ];
        if let Some(day) = one.day {
            let date = csv::date(result.scenario.calendar.first_day, day).to_string();
            let command = command(result, strategy, one, &date, context);
            // Where `dooryard day` puts it beside a run.
            let there = format!("{}/report.html", folder::day_name(&strategy.name, result.seed, one.season, &date));
            let link = html! { a href=(there) { time datetime=(date) { (date) } } };
            cells.insert(1, Cell::markup(link).field("date", &date));
            cells.push(Cell::markup(html! { code.command { (command) } }));
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

/// A word of a command line, in quotes where a shell would take it apart: in double ones, which every shell knows, unless
/// something is in it that means something within those, too (a variable, a command to run, history).
fn quoted(word: &str) -> String {
    let harmless = |letter: char| letter.is_alphanumeric() || "-_./".contains(letter);
    if !word.is_empty() && word.chars().all(harmless) {
        word.to_string()
    } else if word.contains(['$', '`', '\\', '"', '!']) {
        format!("'{}'", word.replace('\'', "'\\''"))
    } else {
        format!("\"{word}\"")
    }
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn names_of_several_words_stay_one() {
        assert_eq!(quoted("by-eye.toml"), "by-eye.toml");
        assert_eq!(quoted("eye or status"), "\"eye or status\"");
        assert_eq!(quoted("say \"hi\""), "'say \"hi\"'");
    }

    /// A name is never run, looked up or taken from the history by the shell it is pasted into.
    #[test]
    fn nothing_in_a_name_is_run() {
        assert_eq!(quoted("$HOME `id`"), "'$HOME `id`'");
        assert_eq!(quoted("$(id)!"), "'$(id)!'");
        assert_eq!(quoted("back\\slash"), "'back\\slash'");
        assert_eq!(quoted("Jo's"), "\"Jo's\"");
        assert_eq!(quoted("Jo's $x"), "'Jo'\\''s $x'");
    }
}
