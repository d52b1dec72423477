//! The answer of `lifetime` as text and as JSON.

use serde::Serialize;

use super::number::{self, GLUE};
use super::table::{Table, hang};
use super::text::{Setting, heading, paragraph};
use crate::shelter::cautions::CAUTIONS;
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
    let behind = match &result.strategy {
        Some(strategy) => format!("strategy {strategy}, {} played", number::counted(result.seasons, "season")),
        None => "from a logged load history, counted by rainflow".to_string(),
    };
    paragraph(&mut out, &format!("{}: how long the drive lasts ({behind})", result.name), width);
    paragraph(&mut out, &answer(result), width);
    heading(&mut out, "Chance to survive", setting);
    let mut table = Table::new(&["seasons", "chance", "low to high"]);
    for (seasons, chance) in &result.survival {
        table.row(vec![
            number::significant(*seasons, 3),
            number::percent(chance.value),
            between(chance, number::percent),
        ]);
    }
    out.push_str(&table.render(setting));
    heading(&mut out, "Life in seasons", setting);
    let mut table = Table::new(&["", "seasons", "low to high"]);
    table.row(vec!["nine in ten survive (B10)".to_string(), life(result.b10.value), between(&result.b10, life)]);
    table.row(vec!["half survive (median)".to_string(), life(result.median.value), between(&result.median, life)]);
    out.push_str(&table.render(setting));
    heading(&mut out, "Parts in series", setting);
    let mut table = Table::new(&["part", "life used per season", "its own B10, seasons"]);
    for part in &result.parts {
        table.row(vec![part.name.clone(), percent(part.damage.value), life(part.b10)]);
    }
    out.push_str(&table.render(setting));
    if !result.causes.is_empty() {
        causes(&mut out, result, width, setting);
    }
    heading(&mut out, "What the exponent promises", setting);
    let mut table = Table::new(&["if the drive's life goes with", "its B10, seasons"]);
    for (index, (exponent, b10)) in result.by_exponent.iter().enumerate() {
        let words = match index {
            0 => "strokes, whatever their load".to_string(),
            1 => "load, as sliding wear does (Archard)".to_string(),
            _ => format!("load to the power of {}, as the scenario says", number::significant(*exponent, 2)),
        };
        table.row(vec![words, life(*b10)]);
    }
    out.push_str(&table.render(setting));
    let light: f64 = result.spectrum.iter().take(2).map(|bin| bin.0).sum();
    if light > 0.5 {
        let words = format!(
            "{} of the way is under a fifth of the rated force. There a fatigue exponent promises too much: sliding wear governs, \
             so plan with the smaller figures.",
            percent(light)
        );
        paragraph(&mut out, &words, width);
    }
    heading(&mut out, "Load spectrum", setting);
    let mut table = Table::new(&["load over rated", "share of the way", "share of the drive's damage"]);
    let last = result.spectrum.len() - 1;
    for (bin, (way, damage)) in result.spectrum.iter().enumerate().filter(|(_, shares)| shares.0 > 0.0) {
        let from = bin as f64 / 10.0;
        let range = if bin == last { format!("{from:.1} and more") } else { format!("{from:.1} to {:.1}", from + 0.1) };
        table.row(vec![range, percent(*way), percent(*damage)]);
    }
    out.push_str(&table.render(setting));
    out.push('\n');
    if let Some((duty, winding)) = result.hardest {
        let words = format!(
            "Hardest duty of all seasons: {} of the rating; hottest winding: {} degC. Both shorten life beyond what the load-life law \
             counts once they pass their ratings.",
            percent(duty / 100.0),
            number::significant(winding, 3)
        );
        paragraph(&mut out, &words, width);
    }
    paragraph(
        &mut out,
        "Damage adds up linearly (Palmgren, Miner) with the load to the power of the exponent; lives scatter by Weibull's law. The \
         intervals cover the seasons played, not errors of the ratings, which are usually far larger. Ageing by time (seals, \
         corrosion, grease) comes on top.",
        width,
    );
    heading(&mut out, "Keep in mind", setting);
    for caution in CAUTIONS {
        out.push_str(&hang("- ", caution, width));
    }
    out
}

fn answer(result: &LifetimeResult) -> String {
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

fn causes(out: &mut String, result: &LifetimeResult, width: usize, setting: Setting) {
    heading(out, "What takes the drive's life", setting);
    let whole: f64 = result.causes.iter().map(|(_, damage)| damage.value).sum();
    let mut table = Table::new(&["cause", "life used per season", "low to high", "share"]);
    for (of, damage) in &result.causes {
        let share = if whole > 0.0 { percent(damage.value / whole) } else { number::WITHHELD.to_string() };
        table.row(vec![cause(*of).to_string(), percent(damage.value), between(damage, percent), share]);
    }
    out.push_str(&table.render(setting));
    let strokes = number::significant(result.strokes.value, 4);
    paragraph(
        out,
        &format!(
            "{strokes} strokes per season. Ice acts on the first millimetre only: it shows as failed strokes, not as damage."
        ),
        width,
    );
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
