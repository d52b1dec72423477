//! The answer of `lifetime` as text and as JSON.

use serde::Serialize;

use super::number::{self, GLUE};
use super::table::{Table, hang};
use super::text::{Setting, heading, paragraph};
use crate::shelter::cautions::CAUTIONS;
use crate::study::lifetime::{Cause, LawLife, LifetimeResult, Ranged};

/// A cause in words.
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Mower => "the mower's own departures and arrivals",
        Cause::FalseOpenings => "false openings",
        Cause::Retries => "strokes turned back or tried again",
        Cause::Wind => "wind on top of all",
        Cause::Ice => "tearing off a frozen seal",
        Cause::Duty => "heat of its duty (the winding's insulation)",
    }
}

/// A law in words, after "if".
fn law(law: &LawLife) -> &'static str {
    match law.exponent {
        0.0 => "every stroke counts in full, whatever its load",
        1.0 => "life goes with the load, as sliding wear does (Archard)",
        _ => "the scenario's exponents hold at every load",
    }
}

/// The same as the head of a column.
pub fn short_law(law: &LawLife) -> &'static str {
    match law.exponent {
        0.0 => "every stroke in full",
        1.0 => "sliding wear",
        _ => "as the scenario says",
    }
}

/// The whole report.
pub fn text(result: &LifetimeResult, setting: Setting) -> String {
    let width = setting.width.max(60);
    let rule = if setting.plain { '-' } else { '─' };
    let mut out = String::new();
    let behind = match &result.strategy {
        Some(strategy) => format!("strategy {strategy}, {} played", number::counted(result.seasons, "season")),
        None => "from a logged load history, counted by rainflow".to_string(),
    };
    paragraph(&mut out, &format!("{}: how long the drive lasts ({behind})", result.name), width);
    paragraph(&mut out, &answer(result), width);
    if !result.moved {
        return out;
    }
    heading(&mut out, "Chance to survive", setting);
    let answer = result.answer();
    let others = || result.laws.iter().filter(|law| law.exponent != answer.exponent);
    let mut head = vec!["seasons", short_law(answer), "low to high"];
    head.extend(others().map(short_law));
    let mut table = Table::new(&head);
    for (index, (seasons, chance)) in answer.survival.iter().enumerate() {
        let mut row =
            vec![number::significant(*seasons, 3), number::percent(chance.value), between(chance, number::percent)];
        row.extend(others().map(|law| number::percent(law.survival[index].1.value)));
        table.row(row);
    }
    out.push_str(&table.render(width, rule));
    heading(&mut out, "Life in seasons", setting);
    let mut table = Table::new(&["if ...", "nine in ten (B10)", "low to high", "half (median)"]);
    for law in &result.laws {
        table.row(vec![
            self::law(law).to_string(),
            life(law.b10.value),
            between(&law.b10, life),
            life(law.median.value),
        ]);
    }
    out.push_str(&table.render(width, rule));
    paragraph(
        &mut out,
        "An exponent of life over load is measured near the rated load; under light loads it promises lives that no drive has. \
         Plan with the shortest.",
        width,
    );
    heading(&mut out, "Parts in series", setting);
    let mut head = vec!["part", short_law(answer), "its B10, seasons"];
    let both = answer.exponent.is_finite();
    if both {
        head.extend(["as the scenario says", "its B10, seasons"]);
    }
    let mut table = Table::new(&head);
    for (part, own) in answer.parts.iter().zip(&result.parts) {
        let mut row = vec![part.name.clone(), percent(part.damage.value), life(part.b10)];
        if both {
            row.extend([percent(own.damage.value), life(own.b10)]);
        }
        table.row(row);
    }
    out.push_str(&table.render(width, rule));
    paragraph(&mut out, "Under each law: life used per season, 100 % at the rated life.", width);
    if !result.causes.is_empty() {
        causes(&mut out, result, width, rule, setting);
    }
    heading(&mut out, "Load spectrum", setting);
    let mut table = Table::new(&["load over rated", "share of the way", "share of the drive's damage"]);
    let last = result.spectrum.len() - 1;
    for (bin, (way, damage)) in result.spectrum.iter().enumerate().filter(|(_, shares)| shares.0 > 0.0) {
        let from = bin as f64 / 10.0;
        let range = if bin == last { format!("{from:.1} and more") } else { format!("{from:.1} to {:.1}", from + 0.1) };
        table.row(vec![range, percent(*way), percent(*damage)]);
    }
    out.push_str(&table.render(width, rule));
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
    if !result.moved {
        return format!(
            "The door never moved: of {} strokes per season that were begun or refused none got anywhere, so there is no life to tell. \
             The check of the scenario names what holds it.",
            number::significant(result.strokes.value, 4)
        );
    }
    let answer = result.answer();
    let mut out = format!(
        "Nine in ten last {} seasons, half last {}, if {}.",
        life(answer.b10.value),
        life(answer.median.value),
        law(answer)
    );
    // The headline must not promise what a fatigue law says of loads that it is not valid for.
    for other in result.laws.iter().filter(|other| other.exponent != answer.exponent) {
        out.push_str(&format!(" If {}, nine in ten would last {}.", law(other), life(other.b10.value)));
    }
    let weakest = result.weakest.as_ref().map(|(name, causes)| (name.as_str(), causes.clone()));
    let (name, mut causes) = weakest.unwrap_or_else(|| {
        let of_drive = result.causes.iter().filter(|(of, _)| *of != Cause::Duty);
        ("drive", of_drive.map(|(of, damage)| (*of, damage.value)).collect())
    });
    if result.parts.len() > 1 {
        let article = if result.weakest.is_none() { "the " } else { "" };
        out.push_str(&format!(" The weakest part is {article}{name}."));
    }
    causes.sort_by(|one, other| other.1.total_cmp(&one.1));
    if let Some((worst, _)) = causes.first().filter(|(_, damage)| *damage > 0.0) {
        out.push_str(&format!(" Most of its life goes to {}.", cause(*worst)));
    }
    out
}

fn causes(out: &mut String, result: &LifetimeResult, width: usize, rule: char, setting: Setting) {
    heading(out, "What takes the drive's life", setting);
    let summed = |of: &Cause| *of != Cause::Duty;
    let whole: f64 = result.causes.iter().filter(|(of, _)| summed(of)).map(|(_, damage)| damage.value).sum();
    let mut head = vec!["cause", "life used per season", "low to high", "share"];
    let of_weakest = result.weakest.as_ref().map(|(name, causes)| (format!("share of {name}"), causes));
    if let Some((words, _)) = &of_weakest {
        head.push(words);
    }
    let mut table = Table::new(&head);
    let share = |part: f64, whole: f64| if whole > 0.0 { percent(part / whole) } else { number::WITHHELD.to_string() };
    for (of, damage) in &result.causes {
        let own = if summed(of) { share(damage.value, whole) } else { number::WITHHELD.to_string() };
        let mut row = vec![cause(*of).to_string(), percent(damage.value), between(damage, percent), own];
        if let Some((_, causes)) = &of_weakest {
            let all: f64 = causes.iter().map(|(_, damage)| damage).sum();
            let part = causes.iter().find(|(other, _)| other == of).map_or(0.0, |(_, damage)| *damage);
            row.push(if summed(of) { share(part, all) } else { number::WITHHELD.to_string() });
        }
        table.row(row);
    }
    out.push_str(&table.render(width, rule));
    let strokes = number::significant(result.strokes.value, 4);
    paragraph(
        out,
        &format!(
            "{strokes} strokes per season; damage with the scenario's own exponents. Ice acts on the first millimetre only: mostly it \
             shows as failed strokes. The insulation ages by its temperature (half the life for every 10 K) beside the drive's wear."
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
/// end or without interval is `null`. `b10_seasons`, `median_seasons` and `survival` are those of the cautious `law`.
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
        moved: result.moved,
        law: result.moved.then(|| short_law(result.answer())),
        b10_seasons: figure_if(result.moved, &result.answer().b10),
        median_seasons: figure_if(result.moved, &result.answer().median),
        survival: survival(result.moved, result.answer()),
        laws: result
            .laws
            .iter()
            .filter(|_| result.moved)
            .map(|law| LawOf {
                law: short_law(law),
                b10_seasons: figure(&law.b10),
                median_seasons: figure(&law.median),
                survival: survival(true, law),
            })
            .collect(),
        weakest_part: result.weakest.as_ref().map_or("drive", |(name, _)| name),
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
            .laws
            .iter()
            .map(|law| ByExponent { exponent: finite(law.exponent), b10_seasons: finite(law.parts[0].b10) })
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

fn survival(moved: bool, law: &LawLife) -> Vec<Survival> {
    law.survival
        .iter()
        .map(|(seasons, chance)| Survival { seasons: *seasons, chance: figure_if(moved, chance) })
        .collect()
}

/// A door that never moved has no life: its figures are withheld.
fn figure_if(moved: bool, ranged: &Ranged) -> Figure {
    if moved { figure(ranged) } else { Figure { value: None, low: None, high: None } }
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
struct LawOf {
    law: &'static str,
    b10_seasons: Figure,
    median_seasons: Figure,
    survival: Vec<Survival>,
}

#[derive(Serialize)]
struct PartOf<'a> {
    name: &'a str,
    damage_per_season: Figure,
    b10_seasons: Option<f64>,
}

#[derive(Serialize)]
struct ByExponent {
    /// `null`: as the scenario says.
    exponent: Option<f64>,
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
    moved: bool,
    law: Option<&'static str>,
    b10_seasons: Figure,
    median_seasons: Figure,
    survival: Vec<Survival>,
    laws: Vec<LawOf>,
    weakest_part: &'a str,
    parts: Vec<PartOf<'a>>,
    drive_b10_by_exponent: Vec<ByExponent>,
    causes: Vec<CauseOf>,
    spectrum: Vec<Bin>,
}
