//! The answer of `lifetime` as text, table file and JSON.

use std::io;

use serde::Serialize;

use super::csv::{Sink, writer};
use super::number::{self, GLUE, exact_or_empty};
use super::table::{Cell, Table, hang};
use super::text::{Setting, heading, paragraph};
use crate::shelter::cautions::CAUTIONS;
use crate::study::interval::Interval;
use crate::study::lifetime::{Cause, LifetimeResult, Ranged};

/// A cause in words.
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Mower => "the mower's own departures and arrivals",
        Cause::FalseOpenings => "false openings",
        Cause::Retries => "strokes turned back or tried again",
        Cause::Wind => "wind on top of all",
    }
}

/// The whole report.
pub fn text(result: &LifetimeResult, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    paragraph(&mut out, &format!("{}: how long the drive lasts ({})", result.name, behind(result)), width);
    paragraph(&mut out, &answer(result), width);
    for (title, table, notes) in sections(result) {
        heading(&mut out, title, setting);
        out.push_str(&table.render(setting));
        notes.iter().for_each(|note| paragraph(&mut out, note, width));
    }
    out.push('\n');
    notes(result).iter().for_each(|note| paragraph(&mut out, note, width));
    heading(&mut out, "Keep in mind", setting);
    for caution in CAUTIONS {
        out.push_str(&hang("- ", caution, width));
    }
    out
}

pub(super) fn answer(result: &LifetimeResult) -> String {
    let mut causes = result.causes.clone();
    causes.sort_by(|one, other| other.1.value.total_cmp(&one.1.value));
    let weakest = result.parts.iter().min_by(|one, other| one.b10.total_cmp(&other.b10));
    let first =
        format!("Nine in ten last {} seasons, half last {}.", life(result.b10.value), life(result.median.value));
    let part = weakest
        .filter(|_| result.parts.len() > 1)
        .map_or(String::new(), |part| format!(" The weakest part is {}.", part.name));
    let worst = causes
        .first()
        .filter(|(_, damage)| damage.value > 0.0)
        .map_or(String::new(), |(worst, _)| format!(" Most of the drive's life goes to {}.", cause(*worst)));
    // The headline must not promise what a fatigue law says of loads that it is not valid for.
    let floor = result.by_exponent.first().map_or(String::new(), |(_, b10)| {
        format!(" If every stroke counted in full, nine in ten would last {}.", life(*b10))
    });
    format!("{first}{floor}{part}{worst}")
}

/// The tables with their titles and what is to be said of them. Their figures are those of `lifetime.csv`.
pub(super) fn sections(result: &LifetimeResult) -> Vec<(&'static str, Table, Vec<String>)> {
    let table = |headings: &[&str]| Table::new(headings).of("lifetime.csv", &["figure", "of"]);
    let ranged = |cell: Cell, of: &Ranged| cell.perhaps("value", finite(of.value));
    let ends = |text: String, of: &Ranged| {
        let end = |side: fn(&Interval) -> f64| of.interval.as_ref().map(side);
        Cell::new(text).perhaps("low", end(|it| it.low)).perhaps("high", end(|it| it.high))
    };
    let key = |figure: &str, of: &str| vec![figure.to_string(), of.to_string()];
    let mut all = Vec::new();
    let mut survival = table(&["seasons", "chance", "low to high"]);
    for (seasons, chance) in &result.survival {
        let cells = vec![
            Cell::new(number::significant(*seasons, 3)),
            ranged(Cell::new(number::percent(chance.value)), chance),
            ends(between(chance, number::percent), chance),
        ];
        survival.keyed(key("survival", &number::exact(*seasons)), cells);
    }
    all.push(("Chance to survive", survival, Vec::new()));
    let mut lives = table(&["", "seasons", "low to high"]);
    for (name, of, words) in
        [("b10", &result.b10, "nine in ten survive (B10)"), ("median", &result.median, "half survive (median)")]
    {
        let cells = vec![Cell::new(words), ranged(Cell::new(life(of.value)), of), ends(between(of, life), of)];
        lives.keyed(key("life_seasons", name), cells);
    }
    all.push(("Life in seasons", lives, Vec::new()));
    let mut parts = table(&["part", "life used per season", "its own B10, seasons"]);
    for part in &result.parts {
        let damage = ranged(Cell::new(percent(part.damage.value)), &part.damage);
        let cells =
            vec![Cell::new(&part.name), damage, Cell::new(life(part.b10)).perhaps("b10_seasons", finite(part.b10))];
        parts.keyed(key("part_damage", &part.name), cells);
    }
    all.push(("Parts in series", parts, Vec::new()));
    if !result.causes.is_empty() {
        let whole: f64 = result.causes.iter().map(|(_, damage)| damage.value).sum();
        let mut causes = table(&["cause", "life used per season", "low to high", "share"]);
        for (of, damage) in &result.causes {
            let share = if whole > 0.0 { percent(damage.value / whole) } else { number::WITHHELD.to_string() };
            let name = cause(*of);
            let cells = vec![
                Cell::new(name),
                ranged(Cell::new(percent(damage.value)), damage),
                ends(between(damage, percent), damage),
                share.into(),
            ];
            causes.keyed(key("cause_damage", name), cells);
        }
        let strokes = format!(
            "{} strokes per season. Ice acts on the first millimetre only: it shows as failed strokes, not as damage.",
            number::significant(result.strokes.value, 4)
        );
        all.push(("What takes the drive's life", causes, vec![strokes]));
    }
    let mut exponents = table(&["if the drive's life goes with", "its B10, seasons"]);
    for (index, (exponent, b10)) in result.by_exponent.iter().enumerate() {
        let words = match index {
            0 => "strokes, whatever their load".to_string(),
            1 => "load, as sliding wear does (Archard)".to_string(),
            _ => format!("load to the power of {}, as the scenario says", number::significant(*exponent, 2)),
        };
        let cells = vec![Cell::new(words), Cell::new(life(*b10)).perhaps("value", finite(*b10))];
        exponents.keyed(key("drive_b10_seasons", EXPONENTS[index.min(2)]), cells);
    }
    let light: f64 = result.spectrum.iter().take(2).map(|bin| bin.0).sum();
    let warning = (light > 0.5).then(|| {
        format!(
            "{} of the way is under a fifth of the rated force. There a fatigue exponent promises too much: sliding wear governs, \
             so plan with the smaller figures.",
            percent(light)
        )
    });
    all.push(("What the exponent promises", exponents, warning.into_iter().collect()));
    let mut spectrum = table(&["load over rated", "share of the way", "share of the drive's damage"]);
    let last = result.spectrum.len() - 1;
    for (bin, (way, damage)) in result.spectrum.iter().enumerate().filter(|(_, shares)| shares.0 > 0.0) {
        let from = bin as f64 / 10.0;
        let range = if bin == last { format!("{from:.1} and more") } else { format!("{from:.1} to {:.1}", from + 0.1) };
        let way = Cell::new(percent(*way)).figure("value", *way);
        let cells = vec![Cell::new(range), way, Cell::new(percent(*damage)).figure("damage_share", *damage)];
        spectrum.keyed(key("way_share", &number::exact(from)), cells);
    }
    all.push(("Load spectrum", spectrum, Vec::new()));
    all
}

/// What the drive's life may go with, as `lifetime.csv` names it.
const EXPONENTS: [&str; 3] = ["every stroke in full", "load", "load to the scenario's exponent"];

/// What is to be said of all of it.
pub(super) fn notes(result: &LifetimeResult) -> Vec<String> {
    let hardest = result.hardest.map(|(duty, winding)| {
        format!(
            "Hardest duty of all seasons: {} of the rating; hottest winding: {} degC. Both shorten life beyond what the load-life law \
             counts once they pass their ratings.",
            percent(duty / 100.0),
            number::significant(winding, 3)
        )
    });
    let law = "Damage adds up linearly (Palmgren, Miner) with the load to the power of the exponent; lives scatter by Weibull's law. The \
               intervals cover the seasons played, not errors of the ratings, which are usually far larger. Ageing by time (seals, \
               corrosion, grease) comes on top.";
    hardest.into_iter().chain([law.to_string()]).collect()
}

/// What the figures rest on.
pub(super) fn behind(result: &LifetimeResult) -> String {
    match &result.strategy {
        Some(strategy) => format!("strategy {strategy}, {} played", number::counted(result.seasons, "season")),
        None => "from a logged load history, counted by rainflow".to_string(),
    }
}

/// `lifetime.csv`: one row per figure; what has no end or no interval is empty.
pub fn csv(result: &LifetimeResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["figure", "of", "value", "low", "high", "b10_seasons", "damage_share"])?;
    let mut row = |figure: &str, of: &str, ranged: &Ranged, more: [Option<f64>; 2]| {
        let ends = [ranged.interval.map(|it| it.low), ranged.interval.map(|it| it.high)];
        let figures = [finite(ranged.value), ends[0], ends[1], more[0], more[1]].map(exact_or_empty);
        out.write_record([figure.to_string(), of.to_string()].into_iter().chain(figures))
    };
    let alone = |value: f64| Ranged { value, interval: None };
    row("strokes_per_season", "all", &result.strokes, [None; 2])?;
    row("life_seasons", "b10", &result.b10, [None; 2])?;
    row("life_seasons", "median", &result.median, [None; 2])?;
    for (seasons, chance) in &result.survival {
        row("survival", &number::exact(*seasons), chance, [None; 2])?;
    }
    for part in &result.parts {
        row("part_damage", &part.name, &part.damage, [finite(part.b10), None])?;
    }
    for (of, damage) in &result.causes {
        row("cause_damage", cause(*of), damage, [None; 2])?;
    }
    for ((_, b10), name) in result.by_exponent.iter().zip(EXPONENTS) {
        row("drive_b10_seasons", name, &alone(*b10), [None; 2])?;
    }
    for (bin, (way, damage)) in result.spectrum.iter().enumerate() {
        row("way_share", &number::exact(bin as f64 / 10.0), &alone(*way), [None, Some(*damage)])?;
    }
    out.flush()
}

/// Shares are often small: two digits, however small.
fn percent(share: f64) -> String {
    format!("{}{GLUE}%", number::significant(100.0 * share, 2))
}

fn life(seasons: f64) -> String {
    if seasons.is_finite() { number::significant(seasons, 3) } else { "no end".to_string() }
}

fn between(ranged: &Ranged, show: fn(f64) -> String) -> String {
    ranged
        .interval
        .map_or(number::WITHHELD.to_string(), |it| format!("{}{GLUE}to{GLUE}{}", show(it.low), show(it.high)))
}

/// The answer as one JSON document of the layout `dooryard-lifetime/1`; keys are only ever added under this name. A figure without
/// end or without interval is `null`.
pub fn json(result: &LifetimeResult, version: &str, warnings: &[String]) -> serde_json::Result<String> {
    let document = Document {
        layout: "dooryard-lifetime/1",
        version,
        scenario: &result.name,
        strategy: result.strategy.as_deref(),
        seasons: result.seasons,
        confidence: result.confidence,
        warnings,
        cautions: CAUTIONS,
        strokes_per_season: figure(&result.strokes),
        b10_seasons: figure(&result.b10),
        median_seasons: figure(&result.median),
        survival: result
            .survival
            .iter()
            .map(|(seasons, chance)| Survival { seasons: *seasons, chance: figure(chance) })
            .collect(),
        parts: result
            .parts
            .iter()
            .map(|part| PartOf {
                name: &part.name,
                damage_per_season: figure(&part.damage),
                b10_seasons: finite(part.b10),
            })
            .collect(),
        drive_b10_by_exponent: result
            .by_exponent
            .iter()
            .map(|(exponent, b10)| ByExponent { exponent: *exponent, b10_seasons: finite(*b10) })
            .collect(),
        causes: result
            .causes
            .iter()
            .map(|(of, damage)| CauseOf { cause: cause(*of), damage_per_season: figure(damage) })
            .collect(),
        spectrum: result
            .spectrum
            .iter()
            .enumerate()
            .map(|(bin, (way, damage))| Bin { from: bin as f64 / 10.0, way_share: *way, damage_share: *damage })
            .collect(),
    };
    serde_json::to_string_pretty(&document).map(|text| text + "\n")
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn figure(ranged: &Ranged) -> Figure {
    Figure {
        value: finite(ranged.value),
        low: ranged.interval.and_then(|it| finite(it.low)),
        high: ranged.interval.and_then(|it| finite(it.high)),
    }
}

#[derive(Serialize)]
struct Figure {
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Serialize)]
struct Survival {
    seasons: f64,
    chance: Figure,
}

#[derive(Serialize)]
struct PartOf<'a> {
    name: &'a str,
    damage_per_season: Figure,
    b10_seasons: Option<f64>,
}

#[derive(Serialize)]
struct ByExponent {
    exponent: f64,
    b10_seasons: Option<f64>,
}

#[derive(Serialize)]
struct CauseOf {
    cause: &'static str,
    damage_per_season: Figure,
}

#[derive(Serialize)]
struct Bin {
    from: f64,
    way_share: f64,
    damage_share: f64,
}

#[derive(Serialize)]
struct Document<'a> {
    layout: &'static str,
    version: &'a str,
    scenario: &'a str,
    strategy: Option<&'a str>,
    seasons: u64,
    confidence: f64,
    warnings: &'a [String],
    cautions: &'a [&'a str],
    strokes_per_season: Figure,
    b10_seasons: Figure,
    median_seasons: Figure,
    survival: Vec<Survival>,
    parts: Vec<PartOf<'a>>,
    drive_b10_by_exponent: Vec<ByExponent>,
    causes: Vec<CauseOf>,
    spectrum: Vec<Bin>,
}
