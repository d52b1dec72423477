//! What a sensor's figures mean for a scenario: ranges of false openings and unnoticed arrivals.

use std::io;

use crate::report::csv::writer;
use crate::report::misses::small;
use crate::report::number::{WITHHELD, exact, whole};
use crate::report::table::{Cell, Table};
use crate::study::calibrate::feedback::{Feedback, SKIES, Spread, StrategySpread, Way};

/// Columns of texts.
pub const TEXTS: &[&str] = &["of", "name", "figure", "unit"];

/// One row: of what, its name, the figure, its unit, what it is.
type Row<'a> = (&'static str, &'a str, String, &'static str, Option<Spread>);

fn rows(found: &Feedback) -> Vec<Row<'_>> {
    let skies = |each: &Option<[Spread; SKIES.len()]>, what: &str| -> Vec<(String, Option<Spread>)> {
        let name = |(sky, _, _): &(&str, f64, f64)| format!("{what}, {sky}");
        SKIES.iter().enumerate().map(|(index, sky)| (name(sky), each.map(|each| each[index]))).collect()
    };
    let mut all: Vec<Row> = Vec::new();
    for strategy in &found.strategies {
        let openings = skies(&strategy.false_per_day, "false openings a day");
        all.extend(
            openings.into_iter().map(|(figure, spread)| ("strategy", strategy.name.as_str(), figure, "/d", spread)),
        );
        all.push(("strategy", &strategy.name, "unnoticed, per arrival".to_owned(), "", strategy.unnoticed));
    }
    for detector in &found.detectors {
        let runs = skies(&detector.false_per_day, "false runs a day");
        all.extend(runs.into_iter().map(|(figure, spread)| ("detector", detector.name.as_str(), figure, "/d", spread)));
    }
    all
}

fn shown(value: f64) -> String {
    if value == 0.0 { "0".to_owned() } else { small(value) }
}

/// A range as people read it.
fn range(spread: &Spread) -> String {
    let (low, high) = (shown(spread.low), shown(spread.high));
    if low == high { low } else { format!("{low} to {high}") }
}

/// The answer in a sentence, a clause for each strategy, always ranges.
pub fn answer(scenario: &str, found: &Feedback) -> String {
    let of = |strategy: &StrategySpread| {
        let openings = match (&strategy.false_per_day, strategy.way) {
            (_, Way::Never) => "opens for nothing by this sensor alone".to_owned(),
            (Some(each), way) => {
                let low = each.iter().map(|spread| spread.low).fold(f64::INFINITY, f64::min);
                let high = each.iter().map(|spread| spread.high).fold(0.0, f64::max);
                let all = range(&Spread { low, high, ..each[0] });
                let out = if way == Way::WithMessages {
                    " (while messages or timetable say that the mower is out)"
                } else {
                    ""
                };
                format!("opens falsely {all} times a day{out}")
            }
            (None, _) => "has false openings that can't be worked out".to_owned(),
        };
        let misses = match &strategy.unnoticed {
            Some(spread) => format!("leaves an arrival unnoticed with a chance of {}", range(spread)),
            None => "has unnoticed arrivals that can't be worked out".to_owned(),
        };
        format!("strategy {} {openings} and {misses}", strategy.name)
    };
    let all: Vec<String> = found.strategies.iter().map(of).collect();
    format!("In {scenario}, with each figure of sensor {} anywhere in its interval: {}.", found.sensor, all.join("; "))
}

/// The table and what is to be said of it.
pub fn table(found: &Feedback) -> (Table, Vec<String>) {
    let mut table =
        Table::new(&["figure", "as the scenario has it", "at the log's figures", "range over their intervals"])
            .of("feedback.csv", &["of", "name", "figure"]);
    for (of, name, figure, _, spread) in rows(found) {
        let cells = match &spread {
            Some(spread) => vec![
                Cell::new(format!("{of} {name}: {figure}")),
                Cell::new(shown(spread.before)).figure("before", spread.before),
                Cell::new(shown(spread.middle)).figure("middle", spread.middle),
                Cell::new(range(spread)).figure("low", spread.low).figure("high", spread.high),
            ],
            None => {
                vec![Cell::new(format!("{of} {name}: {figure}")), WITHHELD.into(), WITHHELD.into(), WITHHELD.into()]
            }
        };
        table.keyed(vec![of.to_owned(), name.to_owned(), figure], cells);
    }
    let mut notes = vec![
        "A single number would be more than the log can say: the range holds every combination of the ends of noise and drift, \
         bias, missing and spurious readings. False runs and openings are exact for a shut door with nobody there, at 20 °C and \
         without dirt, slow drift averaged over; rain is 10 mm/h. They are of this sensor alone."
            .to_owned(),
        format!(
            "Unnoticed: by the sensors at the door alone, status messages and clock silent, over the weather of {} approaches in {} \
             seasons; the range holds the spread of the estimate, too. A chance far below one in ten thousand says that noise is not \
             what will make a strategy miss: causes that are shared or not in the model put a floor under it.",
            whole(found.approaches),
            whole(found.seasons)
        ),
    ];
    let unknown = |strategy: &StrategySpread| strategy.unnoticed.is_none() || strategy.false_per_day.is_none();
    let names: Vec<&str> = found.strategies.iter().filter(|one| unknown(one)).map(|one| one.name.as_str()).collect();
    if !names.is_empty() {
        notes.push(format!(
            "What stands as {WITHHELD} can't be worked out ({}): the open rule needs messages or a timetable, waits or lasts for a time, \
             or a detector remembers readings; play the scenario with `dooryard run`.",
            names.join(", ")
        ));
    }
    (table, notes)
}

/// `feedback.csv`: one row per figure of a strategy or detector.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn csv(found: &Feedback) -> io::Result<Vec<u8>> {
    let mut out = writer(Vec::new());
    out.write_record(["of", "name", "figure", "unit", "before", "low", "middle", "high"])?;
    for (of, name, figure, unit, spread) in rows(found) {
        let ends =
            spread.map_or([(); 4].map(|()| String::new()), |it| [it.before, it.low, it.middle, it.high].map(exact));
        out.write_record([of, name, &figure, unit].into_iter().chain(ends.iter().map(String::as_str)))?;
    }
    out.into_inner().map_err(|error| io::Error::other(error.to_string()))
}
