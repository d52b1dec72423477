//! Labelled passes: the answer in words, its figures and curve.

use std::io;

use super::figures::{self, Figure, with_ends};
use super::{Report, TableFile};
use crate::report::csv::writer;
use crate::report::number::{counted, exact, exact_or_empty, percent, significant, whole};
use crate::report::page::Tone;
use crate::report::plots::{PlotError, calibrate as plots};
use crate::report::table::{Cell, Table};
use crate::study::calibrate::Measured;
use crate::study::calibrate::passes::Passes;
use crate::study::calibrate::threshold::{Threshold, Way};

/// The way to a level in words.
pub fn way(way: Way) -> &'static str {
    match way {
        Way::DistributionFree => "by counting",
        Way::Normal => "by normal scores",
        Way::LeastCost => "of least cost",
    }
}

/// The report and its table files. `file` is the log's name.
///
/// # Errors
/// If a drawing or a table can't be made: a defect of the program.
pub fn report(passes: &Passes, file: &str, warnings: &[String]) -> Result<(Report, Vec<TableFile>), PlotError> {
    let all = figures(passes);
    let confidence = passes.settings.confidence;
    let files = vec![
        TableFile { name: "figures", texts: figures::TEXTS, csv: figures::csv(&all, "passes", confidence)? },
        TableFile { name: "levels", texts: &["level_by"], csv: levels_csv(passes)? },
        TableFile { name: "roc", texts: &[], csv: curve_csv(passes)? },
    ];
    let report = Report {
        opening: format!(
            "{file}: {} of the mower and {} of others in {} of observation",
            passes_of(passes.mower.len()),
            whole(passes.other.len() as u64),
            days(passes.settings.days)
        ),
        answer: answer(passes),
        tone: if passes.supported() { Tone::Good } else { Tone::Bad },
        facts: facts(passes),
        sections: vec![
            ("Three levels".to_owned(), levels_table(passes), notes(passes)),
            ("Figures".to_owned(), figures::table(&all, "passes", confidence), Vec::new()),
        ],
        drawings: plots::passes(passes)?,
        parts: Vec::new(),
        warnings: warnings.to_vec(),
        scenario: None,
    };
    Ok((report, files))
}

fn passes_of(count: usize) -> String {
    if count == 1 { "1 pass".to_owned() } else { format!("{} passes", whole(count as u64)) }
}

fn days(days: f64) -> String {
    format!("{} {}", significant(days, 3), if days == 1.0 { "day" } else { "days" })
}

fn answer(passes: &Passes) -> Vec<String> {
    let settings = &passes.settings;
    let (misses, confidence) = (percent(settings.misses), percent(settings.confidence));
    let n = passes.mower.len();
    let counted = passes.thresholds.iter().find(|threshold| threshold.way == Way::DistributionFree);
    let mut all = Vec::new();
    match counted {
        Some(level) => all.push(format!(
            "A level of {} misses at most {misses} of the mower's passes with {confidence} confidence, whatever the law of the \
             scores: it misses {} of {n}, a share of at most {}. It would open for others {} a day.",
            significant(level.level, 4),
            whole(level.missed),
            percent(level.miss_at_most),
            with_ends(&level.false_per_day, "")
        )),
        None => all.push(format!(
            "{} cannot support a level of {misses} missed with {confidence} confidence: it takes at least {}, none of them missed. \
             With so few, the best that can be said is at most {} missed, at the lowest score of all.",
            passes_of(n),
            passes_of(passes.needed as usize),
            percent(1.0 - libm::pow(1.0 - settings.confidence, 1.0 / n as f64))
        )),
    }
    all.push(format!(
        "The score tells mower from others with an area under the curve of {}.",
        with_ends(&passes.area, "")
    ));
    match passes.normal {
        Some(p) if p < 0.05 => all.push(format!(
            "The mower's scores are not normal (Anderson-Darling, p = {}): the level by normal scores keeps no promise here.",
            significant(p, 2)
        )),
        Some(p) => all.push(format!(
            "The mower's scores may be normal (Anderson-Darling, p = {}), which the level by normal scores rests on.",
            significant(p, 2)
        )),
        None => all.push("Too few scores to judge whether they are normal, which the level by normal scores rests on.".to_owned()),
    }
    all
}

fn notes(passes: &Passes) -> Vec<String> {
    let settings = &passes.settings;
    let confidence = percent(settings.confidence);
    vec![
        format!(
            "Missed at most: upper bound at {confidence}, exact binomial. By counting: the strictest level whose bound keeps the \
             share asked for. By normal scores: tolerance limit by the non-central t law, for normal scores only. Of least cost: no \
             confidence is in it; one missed arrival weighs as much as {} false openings, with {} arrivals a day.",
            significant(settings.worth, 3),
            significant(passes.arrivals_per_day, 3)
        ),
        "False openings a day: others' passes at or beyond the level in the time of observation, exact Poisson interval.".to_owned(),
        format!(
            "Passes that it takes, none missed: {}.",
            [0.05, 0.01, 0.001]
                .map(|misses| {
                    let needed = crate::study::calibrate::threshold::passes_needed(misses, settings.confidence);
                    format!("{} for {}", whole(needed), percent(misses))
                })
                .join(", ")
        ),
    ]
}

fn facts(passes: &Passes) -> Vec<[String; 3]> {
    let mut all: Vec<[String; 3]> = passes
        .thresholds
        .iter()
        .map(|level| {
            let note = format!("{} false openings a day", with_ends(&level.false_per_day, ""));
            [format!("level {}", way(level.way)), significant(level.level, 4), note]
        })
        .collect();
    let (area, ends) = figures::shown(&passes.area, "");
    all.push(["area under the curve".to_owned(), area, ends]);
    all
}

fn figures(passes: &Passes) -> Vec<Figure> {
    let (n, m) = (passes.mower.len() as u64, passes.other.len() as u64);
    let mut all = vec![
        Figure::new("area under the curve", "", passes.area, n + m, "DeLong, logit"),
        Figure::new("standard error of the area", "", Measured::alone(passes.area_error), n + m, "DeLong"),
        Figure::new("passes needed, none missed", "", Measured::alone(passes.needed as f64), n, ""),
        Figure::new("arrivals a day", "/d", Measured::alone(passes.arrivals_per_day), n, ""),
        Figure::new("passes of others a day", "/d", Measured::alone(m as f64 / passes.settings.days), m, ""),
    ];
    all.extend(
        passes
            .normal
            .map(|p| Figure::new("chance of so odd scores if normal", "", Measured::alone(p), n, "Anderson-Darling")),
    );
    all
}

fn levels_table(passes: &Passes) -> Table {
    let mut table = Table::new(&["level", "score", "missed", "missed at most", "false openings a day", "cost a day"])
        .of("levels.csv", &["level_by"]);
    for level in &passes.thresholds {
        let cells = vec![
            Cell::new(way(level.way)),
            Cell::new(significant(level.level, 4)).figure("level", level.level),
            Cell::new(format!("{} of {}", whole(level.missed), whole(passes.mower.len() as u64)))
                .field("missed", level.missed.to_string()),
            Cell::new(percent(level.miss_at_most)).figure("missed_share_at_most", level.miss_at_most),
            Cell::new(with_ends(&level.false_per_day, ""))
                .figure("false_openings_per_day", level.false_per_day.value)
                .perhaps("low", level.false_per_day.ends.map(|ends| ends.0))
                .perhaps("high", level.false_per_day.ends.map(|ends| ends.1)),
            Cell::new(significant(level.cost_per_day, 3)).figure("cost_per_day", level.cost_per_day),
        ];
        table.keyed(vec![way(level.way).to_owned()], cells);
    }
    if !passes.supported() {
        let mut cells = vec![Cell::new(format!(
            "{}: needs {}",
            way(Way::DistributionFree),
            counted(passes.needed, "pass").replace("passs", "passes")
        ))];
        cells.extend([(); 5].map(|()| Cell::new(crate::report::number::WITHHELD)));
        table.keyed(Vec::new(), cells);
    }
    table
}

fn levels_csv(passes: &Passes) -> io::Result<Vec<u8>> {
    let mut out = writer(Vec::new());
    out.write_record([
        "level_by",
        "level",
        "missed",
        "passes",
        "missed_share",
        "missed_share_at_most",
        "false_openings",
        "false_openings_per_day",
        "low",
        "high",
        "cost_per_day",
    ])?;
    for level in &passes.thresholds {
        let Threshold { missed, others, .. } = level;
        let ends = level.false_per_day.ends;
        out.write_record([
            way(level.way),
            &exact(level.level),
            &missed.to_string(),
            &passes.mower.len().to_string(),
            &exact(level.miss),
            &exact(level.miss_at_most),
            &others.to_string(),
            &exact(level.false_per_day.value),
            &exact_or_empty(ends.map(|ends| ends.0)),
            &exact_or_empty(ends.map(|ends| ends.1)),
            &exact(level.cost_per_day),
        ])?;
    }
    out.into_inner().map_err(|error| io::Error::other(error.to_string()))
}

fn curve_csv(passes: &Passes) -> io::Result<Vec<u8>> {
    let mut out = writer(Vec::new());
    out.write_record([
        "level",
        "hit_share",
        "hit_low",
        "hit_high",
        "false_share",
        "false_openings_per_day",
        "false_low",
        "false_high",
    ])?;
    for place in &passes.curve {
        let (hits, rate) = (place.hits.ends, place.false_per_day.ends);
        out.write_record([
            exact(place.level),
            exact(place.hits.value),
            exact_or_empty(hits.map(|ends| ends.0)),
            exact_or_empty(hits.map(|ends| ends.1)),
            exact(place.false_share),
            exact(place.false_per_day.value),
            exact_or_empty(rate.map(|ends| ends.0)),
            exact_or_empty(rate.map(|ends| ends.1)),
        ])?;
    }
    out.into_inner().map_err(|error| io::Error::other(error.to_string()))
}
