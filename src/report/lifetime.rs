//! The answer of `lifetime` as text, table file and JSON.

use std::io;

use serde::Serialize;

use super::csv::{Sink, writer};
use super::number::{self, GLUE, exact_or_empty};
use super::table::{Cell, Table, hang};
use super::text::{Setting, heading, paragraph, warnings};
use crate::shelter::cautions::CAUTIONS;
use crate::study::interval::Interval;
use crate::study::lifetime::{Cause, LawLife, Left, LifetimeResult, Ranged};

/// A cause in words.
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Mower => "the mower's own departures and arrivals",
        Cause::FalseOpenings => "false openings",
        Cause::Retries => "strokes turned back or tried again",
        Cause::Stalls => "strokes that stall, at all the drive's force",
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
    let width = setting.room();
    let mut out = String::new();
    paragraph(&mut out, &format!("{}: how long the drive lasts ({})", result.name, behind(result)), width);
    warnings(&mut out, &result.alarms, width);
    paragraph(&mut out, &answer(result), width);
    if !result.moved {
        return out;
    }
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
    if !result.moved {
        return format!(
            "The door never moved: of {} strokes per season that were begun or refused none got anywhere, so there is no life to tell. \
             The check of the scenario names what holds it.",
            number::significant(result.strokes.value, 4)
        );
    }
    let answer = result.answer();
    let mut out = String::new();
    // What fails first leads.
    if let Some(seasons) = result.burns_first() {
        out.push_str(&format!(
            "The heat of its duty uses up the winding's insulation in {} seasons, before anything wears out. ",
            life(seasons)
        ));
    }
    out.push_str(&format!(
        "Nine in ten last {} seasons, half last {}, if {}.",
        life(answer.b10.value),
        life(answer.median.value),
        law(answer)
    ));
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
        let law = if answer.exponent.is_finite() { " as the scenario's own exponents count" } else { "" };
        out.push_str(&format!(" Most of its life goes to {}{law}.", cause(*worst)));
    }
    out
}

/// The tables with their titles and what is to be said of them. Their figures are those of `lifetime.csv`. A door that
/// never moved has none.
pub(super) fn sections(result: &LifetimeResult) -> Vec<(&'static str, Table, Vec<String>)> {
    if !result.moved {
        return Vec::new();
    }
    let mut all = vec![
        ("Chance to survive", survival_table(result), Vec::new()),
        (
            "Life in seasons",
            lives_table(result),
            vec![
                "An exponent of life over load is measured near the rated load; under light loads it promises lives that no drive \
                 has. Plan with the shortest."
                    .to_string(),
            ],
        ),
        (
            "Parts in series",
            parts_table(result),
            vec!["Under each law: life used per season, 100 % at the rated life.".to_string()],
        ),
    ];
    if let Some(left) = &result.left {
        let note = format!(
            "Of shelters that still work after {} seasons; the mean time left is {} seasons.",
            number::significant(left.used, 3),
            life(left.mean.value)
        );
        all.insert(1, ("What is left", left_table(result, left), vec![note]));
    }
    if !result.causes.is_empty() {
        let strokes = number::significant(result.strokes.value, 4);
        let note = format!(
            "{strokes} strokes per season; damage with the scenario's own exponents. Ice acts on the first millimetre only: mostly it \
             shows as failed strokes. The insulation ages by its temperature (half the life for every 10 K) beside the drive's wear."
        );
        all.push(("What takes the drive's life", causes_table(result), vec![note]));
    }
    all.push(("Load spectrum", spectrum_table(result), Vec::new()));
    if !result.cycles.is_empty() {
        let note =
            "A cycle counts as a stroke under its range; halves are what the history's ends leave open (ASTM E1049).";
        all.push(("Cycles counted", cycles_table(result), vec![note.to_string()]));
    }
    all
}

fn table(headings: &[&str]) -> Table {
    Table::new(headings).of("lifetime.csv", &["figure", "of", "law"])
}

fn key(figure: &str, of: &str, law: &str) -> Vec<String> {
    [figure, of, law].map(str::to_string).to_vec()
}

fn ranged(cell: Cell, of: &Ranged) -> Cell {
    cell.perhaps("value", finite(of.value))
}

fn ends(of: &Ranged, show: fn(f64) -> String) -> Cell {
    let end = |side: fn(&Interval) -> f64| of.interval.as_ref().map(side);
    Cell::new(between(of, show)).perhaps("low", end(|it| it.low)).perhaps("high", end(|it| it.high))
}

fn survival_table(result: &LifetimeResult) -> Table {
    let answer = result.answer();
    let others = || result.laws.iter().filter(|law| law.exponent != answer.exponent);
    let mut head = vec!["seasons", short_law(answer), "low to high"];
    head.extend(others().map(short_law));
    let mut survival = table(&head);
    for (index, horizon) in answer.survival.iter().enumerate() {
        let mut cells = chance_cells(horizon).to_vec();
        cells.extend(others().map(|law| Cell::new(number::percent(law.survival[index].1.value))));
        survival.keyed(key("survival", &number::exact(horizon.0), short_law(answer)), cells);
    }
    survival
}

/// Seasons, the chance to survive them, its interval.
fn chance_cells((seasons, chance): &(f64, Ranged)) -> [Cell; 3] {
    [
        Cell::new(number::significant(*seasons, 3)),
        ranged(Cell::new(number::percent(chance.value)), chance),
        ends(chance, number::percent),
    ]
}

fn left_table(result: &LifetimeResult, left: &Left) -> Table {
    let mut table = table(&["seasons more", short_law(result.answer()), "low to high"]);
    for horizon in &left.survival {
        let name = key("survival_more", &number::exact(horizon.0), short_law(result.answer()));
        table.keyed(name, chance_cells(horizon).to_vec());
    }
    table
}

fn cycles_table(result: &LifetimeResult) -> Table {
    let mut cycles = table(&["range, N", "cycles", "of the drive's life"]);
    for row in &result.cycles {
        let (least, most) = row.range_n;
        let range = if least == most { force(most) } else { format!("{}{GLUE}to{GLUE}{}", force(least), force(most)) };
        let count = Cell::new(number::significant(row.count, 4)).figure("value", row.count);
        let cells = vec![Cell::new(range), count, Cell::new(percent(row.damage)).figure("damage_share", row.damage)];
        cycles.keyed(key("cycles", &number::exact(most), SCENARIO), cells);
    }
    cycles
}

fn force(newtons: f64) -> String {
    number::significant(newtons, 4)
}

fn lives_table(result: &LifetimeResult) -> Table {
    let mut lives = table(&["if ...", "nine in ten (B10)", "low to high", "half (median)"]);
    for law in &result.laws {
        let cells = vec![
            Cell::new(self::law(law)),
            ranged(Cell::new(life(law.b10.value)), &law.b10),
            ends(&law.b10, life),
            Cell::new(life(law.median.value)),
        ];
        lives.keyed(key("life_seasons", "b10", short_law(law)), cells);
    }
    lives
}

fn parts_table(result: &LifetimeResult) -> Table {
    let answer = result.answer();
    let mut head = vec!["part", short_law(answer), "its B10, seasons"];
    let both = answer.exponent.is_finite();
    if both {
        head.extend(["as the scenario says", "its B10, seasons"]);
    }
    let mut parts = table(&head);
    for (part, own) in answer.parts.iter().zip(&result.parts) {
        let mut cells = vec![
            Cell::new(&part.name),
            ranged(Cell::new(percent(part.damage.value)), &part.damage),
            Cell::new(life(part.b10)).perhaps("b10_seasons", finite(part.b10)),
        ];
        if both {
            cells.extend([percent(own.damage.value), life(own.b10)].map(Cell::new));
        }
        parts.keyed(key("part_damage", &part.name, short_law(answer)), cells);
    }
    parts
}

fn causes_table(result: &LifetimeResult) -> Table {
    let summed = |of: &Cause| *of != Cause::Duty;
    let whole: f64 = result.causes.iter().filter(|(of, _)| summed(of)).map(|(_, damage)| damage.value).sum();
    let mut head = vec!["cause", "life used per season", "low to high", "share"];
    let of_weakest = result.weakest.as_ref().map(|(name, causes)| (format!("share of {name}"), causes));
    if let Some((words, _)) = &of_weakest {
        head.push(words);
    }
    let mut causes = table(&head);
    let share = |part: f64, whole: f64| if whole > 0.0 { percent(part / whole) } else { number::WITHHELD.to_string() };
    for (of, damage) in &result.causes {
        let own = if summed(of) { share(damage.value, whole) } else { number::WITHHELD.to_string() };
        let mut cells = vec![
            Cell::new(cause(*of)),
            ranged(Cell::new(percent(damage.value)), damage),
            ends(damage, percent),
            Cell::new(own),
        ];
        if let Some((_, weakest)) = &of_weakest {
            let all: f64 = weakest.iter().map(|(_, damage)| damage).sum();
            let part = weakest.iter().find(|(other, _)| other == of).map_or(0.0, |(_, damage)| *damage);
            cells.push(Cell::new(if summed(of) { share(part, all) } else { number::WITHHELD.to_string() }));
        }
        causes.keyed(key("cause_damage", cause(*of), SCENARIO), cells);
    }
    causes
}

fn spectrum_table(result: &LifetimeResult) -> Table {
    let of = if result.cycles.is_empty() { "share of the way" } else { "share of the cycles" };
    let mut spectrum = table(&["load over rated", of, "share of the drive's damage"]);
    let last = result.spectrum.len() - 1;
    for (bin, (way, damage)) in result.spectrum.iter().enumerate().filter(|(_, shares)| shares.0 > 0.0) {
        let from = bin as f64 / 10.0;
        let range = if bin == last { format!("{from:.1} and more") } else { format!("{from:.1} to {:.1}", from + 0.1) };
        let way = Cell::new(percent(*way)).figure("value", *way);
        let cells = vec![Cell::new(range), way, Cell::new(percent(*damage)).figure("damage_share", *damage)];
        spectrum.keyed(key("way_share", &number::exact(from), SCENARIO), cells);
    }
    spectrum
}

/// The law of what the scenario says, as `lifetime.csv` names it.
const SCENARIO: &str = "as the scenario says";

/// What is to be said of all of it.
pub(super) fn notes(result: &LifetimeResult) -> Vec<String> {
    let hardest = result.hardest.map(|(duty, winding)| {
        format!(
            "Hardest duty of all seasons: {} of the rating; hottest winding: {} °C. Both shorten life beyond what the load-life law \
             counts once they pass their ratings.",
            percent(duty / 100.0),
            number::significant(winding, 3)
        )
    });
    let law = format!(
        "Damage adds up linearly (Palmgren, Miner) with the load to the power of the exponent; lives scatter by Weibull's law. The \
         intervals (low to high, {} confidence) cover the seasons played, not errors of the ratings, which are usually far larger. \
         Ageing by time (seals, corrosion, grease) comes on top.",
        percent(result.confidence)
    );
    hardest.into_iter().chain([law]).collect()
}

/// What the figures rest on.
pub(super) fn behind(result: &LifetimeResult) -> String {
    match &result.strategy {
        Some(strategy) => format!("strategy {strategy}, {} played", number::counted(result.seasons, "season")),
        None => "from a logged load history, counted by rainflow".to_string(),
    }
}

/// `lifetime.csv`: one row per figure and law; what has no end or no interval is empty. Of a door that never moved it
/// holds the strokes alone.
pub fn csv(result: &LifetimeResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["figure", "of", "law", "value", "low", "high", "b10_seasons", "damage_share"])?;
    let mut row = |name: [&str; 3], ranged: &Ranged, more: [Option<f64>; 2]| {
        let ends = [ranged.interval.map(|it| it.low), ranged.interval.map(|it| it.high)];
        let figures = [finite(ranged.value), ends[0], ends[1], more[0], more[1]].map(exact_or_empty);
        out.write_record(name.map(str::to_string).into_iter().chain(figures))
    };
    let alone = |value: f64| Ranged { value, interval: None };
    row(["strokes_per_season", "all", ""], &result.strokes, [None; 2])?;
    if let Some(seasons) = result.burns_first().filter(|_| result.moved) {
        row(["life_seasons", "insulation", "by its temperature"], &alone(seasons), [None; 2])?;
    }
    for law in result.laws.iter().filter(|_| result.moved) {
        let name = short_law(law);
        row(["life_seasons", "b10", name], &law.b10, [None; 2])?;
        row(["life_seasons", "median", name], &law.median, [None; 2])?;
        for (seasons, chance) in &law.survival {
            row(["survival", &number::exact(*seasons), name], chance, [None; 2])?;
        }
        for part in &law.parts {
            row(["part_damage", &part.name, name], &part.damage, [finite(part.b10), None])?;
        }
    }
    if let Some(left) = result.left.as_ref().filter(|_| result.moved) {
        let name = short_law(result.answer());
        row(["mean_seasons_left", &number::exact(left.used), name], &left.mean, [None; 2])?;
        for (seasons, chance) in &left.survival {
            row(["survival_more", &number::exact(*seasons), name], chance, [None; 2])?;
        }
    }
    for cycles in &result.cycles {
        let range = number::exact(cycles.range_n.1);
        row(["cycles", &range, SCENARIO], &alone(cycles.count), [None, Some(cycles.damage)])?;
    }
    for (of, damage) in result.causes.iter().filter(|_| result.moved) {
        row(["cause_damage", cause(*of), SCENARIO], damage, [None; 2])?;
    }
    for (bin, (way, damage)) in result.spectrum.iter().enumerate().filter(|_| result.moved) {
        row(["way_share", &number::exact(bin as f64 / 10.0), SCENARIO], &alone(*way), [None, Some(*damage)])?;
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
/// end or without interval is `null`. `insulation_seasons` is there where the winding's insulation fails first. `b10_seasons`, `median_seasons` and `survival` are those of the cautious `law`.
pub fn json(result: &LifetimeResult, version: &str, warnings: &[String]) -> serde_json::Result<String> {
    let document = Document {
        layout: "dooryard-lifetime/1",
        version,
        scenario: &result.name,
        strategy: result.strategy.as_deref(),
        seasons: result.seasons,
        confidence: result.confidence,
        warnings: warnings.iter().chain(&result.alarms).collect(),
        cautions: CAUTIONS,
        strokes_per_season: figure(&result.strokes),
        moved: result.moved,
        law: result.moved.then(|| short_law(result.answer())),
        b10_seasons: figure_if(result.moved, &result.answer().b10),
        median_seasons: figure_if(result.moved, &result.answer().median),
        insulation_seasons: if result.moved { result.burns_first() } else { None },
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
        used_seasons: result.left.as_ref().map(|left| left.used),
        mean_seasons_left: result.left.as_ref().map(|left| figure_if(result.moved, &left.mean)),
        survival_more: result
            .left
            .iter()
            .flat_map(|left| &left.survival)
            .map(|(seasons, chance)| Survival { seasons: *seasons, chance: figure_if(result.moved, chance) })
            .collect(),
        cycles: result
            .cycles
            .iter()
            .map(|row| CyclesOf {
                least_range_n: row.range_n.0,
                largest_range_n: row.range_n.1,
                cycles: row.count,
                damage: row.damage,
            })
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
struct CyclesOf {
    least_range_n: f64,
    largest_range_n: f64,
    cycles: f64,
    damage: f64,
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
    warnings: Vec<&'a String>,
    cautions: &'a [&'a str],
    strokes_per_season: Figure,
    moved: bool,
    law: Option<&'static str>,
    b10_seasons: Figure,
    median_seasons: Figure,
    /// Where it is the shortest life; else `null`.
    insulation_seasons: Option<f64>,
    survival: Vec<Survival>,
    laws: Vec<LawOf>,
    weakest_part: &'a str,
    parts: Vec<PartOf<'a>>,
    drive_b10_by_exponent: Vec<ByExponent>,
    causes: Vec<CauseOf>,
    /// With `--used`; else `null` and empty.
    used_seasons: Option<f64>,
    mean_seasons_left: Option<Figure>,
    survival_more: Vec<Survival>,
    /// Of a logged history; else empty.
    cycles: Vec<CyclesOf>,
    spectrum: Vec<Bin>,
}
