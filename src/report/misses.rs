//! The answer of `misses` as text, as JSON, and as a folder with page, tables and drawings.
//!
//! ```text
//! layout      "dooryard-misses/1"
//! version, dooryard  version of the tool
//! answer      a list of sentences; warnings, cautions: lists of texts
//! scenario    name; scenario_hash: SHA-256, hexadecimal
//! seed, confidence
//! common_cause { floor, beta }: share of arrivals that common causes hide, and the beta factor
//! strategies  [ { name, misses, not_worked_out } ]: one of the two is null, not_worked_out says why there are no misses:
//!   chance      { mean, low, high, standard_error }: per approach, by the noise of the readings alone; low and high null
//!               where too few draws matter
//!   per_season  { mean, low, high }
//!   with_common_causes { chance, per_season }: the same with the beta factor and the floor: no chance without it
//!   draws, effective_draws, heaviest_weight
//!   approaches, seasons: those whose weather was used
//!   particles   how many stand for the noise of each approach, null where it is integrated out
//!   died_out    share of the draws in which all particles died out, 0 where there are none
//!   off_by_steps  share of the chance by which it may be off because detectors' sums are kept to steps, 0 where they are not
//!   shares      { in_rain, in_bright_light, far_to_the_side, at_odd_pace, far_drifted }: of the expected misses, 0 to 1
//! ```

mod csv;
mod figure;

use std::path::Path;

use serde::Serialize;

use super::folder::{self, Item};
use super::json::CommonCausePart;
use super::number;
use super::output::OutputError;
use super::page;
use super::plots::forest::LEAST;
use super::study_file::{self, Study};
use super::table::{Cell, Table};
use super::text::{Setting, heading, paragraph};
use super::words;
use crate::engine::approach::NotWorkedOut;
use crate::scenario::common_cause::{CommonCause, USUAL};
use crate::shelter::cautions::CAUTIONS;
use crate::study::rare::{EFFECTIVE_LEAST, RareEstimate, RareMisses};

/// What is told.
#[derive(Clone, Copy, Debug)]
pub struct Told<'a> {
    /// The study.
    pub study: &'a Study,
    /// Warnings.
    pub warnings: &'a [String],
    /// The scenario's name.
    pub scenario: &'a str,
    /// Its hash.
    pub hash: &'a str,
    /// The program's version.
    pub version: &'a str,
    /// Seed.
    pub seed: u64,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// What the scenario says of common causes.
    pub common_cause: &'a CommonCause,
    /// Strategies with what was found, or why the open rule can't be worked out.
    pub found: &'a [Found],
}

/// A strategy's name with what was found, or why it can't be worked out.
pub type Found = (String, Result<RareMisses, NotWorkedOut>);

/// Conditions under which misses come, in the order of [`RareMisses::shares`]: the file's column, and words.
pub(super) const SHARES: [(&str, &str); 5] = [
    ("in_rain", "in rain"),
    ("in_bright_light", "in bright light"),
    ("far_to_the_side", "far to the side"),
    ("at_odd_pace", "at an odd pace"),
    ("far_drifted", "with a large drift"),
];

impl<'a> Told<'a> {
    /// The strategies that can be worked out.
    pub(super) fn worked_out(&self) -> impl Iterator<Item = (&'a str, &'a RareMisses)> + use<'a> {
        self.found.iter().filter_map(|(name, misses)| Some((name.as_str(), misses.as_ref().ok()?)))
    }
}

/// Writes the whole output folder, or nothing.
///
/// # Errors
/// If a file can't be written or a plot can't be drawn.
pub fn write(target: &Path, told: &Told) -> Result<(), OutputError> {
    let figures = figure::all(told)?;
    let mut items = vec![
        Item::new("summary.txt", move |out| out.write_all(text(told, Setting::default()).as_bytes())),
        Item::new("report.html", |out| out.write_all(page::misses::page(told, &figures).as_bytes())),
        Item::new("misses.csv", move |out| csv::misses(told, out)),
    ];
    study_file::finish(&mut items, &figures, told.study);
    Ok(folder::write(target, told.study.command, items)?)
}

/// What was worked out, in a sentence.
pub(super) fn opening(told: &Told) -> String {
    format!(
        "{}: arrivals that nobody notices, by the sensors at the door alone, seed {}. dooryard {}.",
        told.scenario, told.seed, told.version
    )
}

/// The answer, one sentence per strategy.
pub(super) fn answers(told: &Told) -> Vec<String> {
    let answer = |(name, misses): &Found| {
        let misses = match misses {
            Ok(misses) => misses,
            Err(reason) => return format!("{name}: can't be worked out, for {reason}."),
        };
        let floored = &misses.floored;
        let (mean, _) = misses.per_season(floored);
        let seasons = match mean {
            mean if mean < 1e-6 => "less than one in a million seasons".to_string(),
            mean if mean < 1.0 => {
                format!("one in about {} seasons", number::whole(words::rounded((1.0 / mean) as u64)))
            }
            mean => format!("about {} in a season", number::significant(mean, 2)),
        };
        let between = match floored.interval {
            _ if floored.mean < LEAST => String::new(),
            None if misses.dies_out => " (no interval, for particles died out)".to_string(),
            None => " (too few draws for an interval)".to_string(),
            Some(_) => format!(" ({})", ends(floored)),
        };
        format!(
            "{name}: the chance that an arrival goes unnoticed is {}{between}, {seasons}, common causes included; by noise alone \
             it is {}.",
            small(floored.mean),
            alone(misses)
        )
    };
    told.found.iter().map(answer).collect()
}

/// The chance by noise alone.
fn alone(misses: &RareMisses) -> String {
    if misses.chance.mean > 0.0 || misses.died_out <= 0.0 {
        return small(misses.chance.mean);
    }
    "too small for the particles, all of which died out".to_string()
}

/// The interval of a chance.
fn ends(chance: &RareEstimate) -> String {
    chance.interval.map_or(number::WITHHELD.to_string(), |it| {
        if it.high < LEAST { small(it.high) } else { format!("{} to {}", small(it.low), small(it.high)) }
    })
}

/// The chances with their intervals.
pub(super) fn table(told: &Told) -> Table {
    let interval = format!("{} interval", number::percent(told.confidence));
    let mut table = Table::new(&["strategy", "by", "per approach", &interval, "per season", "effective draws"])
        .of("misses.csv", &["strategy", "by"])
        .left(1);
    for (name, misses) in told.worked_out() {
        // Where particles died out, nought is no figure.
        let shown = |value: f64| {
            if value > 0.0 || !misses.dies_out { small(value) } else { number::WITHHELD.to_string() }
        };
        for (by, chance) in both(misses) {
            // Where the floor is above whatever any draw says, no draw has a weight in the answer.
            let of = match chance.effective {
                0.0 if chance.mean > 0.0 => format!("none of {}: the floor decides", chance.draws),
                effective => format!("{} of {}", number::significant(effective, 3), chance.draws),
            };
            let season = misses.per_season(chance).0;
            table.keyed(
                vec![name.to_string(), by.to_string()],
                vec![
                    Cell::new(name),
                    Cell::new(by),
                    Cell::new(shown(chance.mean)).figure("chance", chance.mean),
                    Cell::new(ends(chance))
                        .perhaps("low", chance.interval.map(|it| it.low))
                        .perhaps("high", chance.interval.map(|it| it.high)),
                    Cell::new(shown(season)).figure("per_season", season),
                    Cell::new(of).figure("effective_draws", chance.effective).field("draws", chance.draws.to_string()),
                ],
            );
        }
    }
    table
}

/// The chance with the floor and what the sensors share, and by noise alone: never the one without the other.
pub(super) fn both(misses: &RareMisses) -> [(&'static str, &RareEstimate); 2] {
    [("common causes, too", &misses.floored), ("noise alone", &misses.chance)]
}

/// The floor, named.
pub(super) fn floor(told: &Told) -> String {
    let common = told.common_cause;
    let usual = if *common == USUAL { " (common practice; the scenario may set [common_cause])" } else { "" };
    format!(
        "Floor of common causes: {} of arrivals{usual}; no chance is below it, whatever the noise. Sensors that watch \
         together share {} of their misses (beta factor).",
        number::share(common.floor),
        number::share(common.beta),
    )
}

/// What is behind each strategy's figures, one paragraph each.
pub(super) fn stories(told: &Told) -> Vec<String> {
    let words = |(name, misses): &Found| match misses {
        Err(reason) => format!("{name}: can't be worked out, for {reason}; `run` counts its misses."),
        Ok(misses) => story(name, misses),
    };
    told.found.iter().map(words).collect()
}

/// How to read the figures.
pub(super) const READING: &str = "Per approach: with the readings' noise integrated out (or drawn for particles, where it is said), over weather and light of all the seasons' approaches and the \
     mower's pace and offset. Per season: times all arrivals, also those at which a message came. Sensors are sound, nobody else is near, status messages and clock are silent. Causes that are \
     shared or not in the model (a power cut, dirt on every window) put a floor under any such chance: a figure of noise \
     alone far below it says that noise is not what will make this strategy miss.";

/// The text.
pub fn text(told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    let hash = told.hash.get(..12).unwrap_or(told.hash);
    paragraph(
        &mut out,
        &format!("{}: arrivals that nobody notices, by the sensors at the door alone", told.scenario),
        width,
    );
    paragraph(&mut out, &format!("dooryard {}, scenario {hash}, seed {}", told.version, told.seed), width);
    heading(&mut out, "Chance to be missed", setting);
    out.push_str(&table(told).render(setting));
    out.push('\n');
    paragraph(&mut out, &floor(told), width);
    for story in stories(told) {
        out.push('\n');
        paragraph(&mut out, &story, width);
    }
    heading(&mut out, "How to read this", setting);
    paragraph(&mut out, READING, width);
    out
}

fn story(name: &str, misses: &RareMisses) -> String {
    let drifts = misses.shares[4] > 0.0;
    let [rain, bright, side, pace, drifted] = misses.shares.map(|share| format!("{:.0} %", 100.0 * share));
    let (approaches, seasons) = (number::whole(misses.approaches), number::counted(misses.seasons, "season"));
    let over = format!("{name}: over the weather of {approaches} approaches in {seasons}");
    if misses.chance.mean < LEAST && !misses.dies_out {
        // Shares of rounding noise would tell nothing.
        return format!("{over}; too rare to say when.");
    }
    let drifted = if drifts { format!(", {drifted} with a random drift as large") } else { String::new() };
    let base = format!(
        "{over}; of the expected misses {rain} come in rain, {bright} in bright light, {side} more than two standard \
         deviations to the side{drifted} and {pace} at a pace as far from the usual."
    );
    let base = match misses.by_steps {
        0.0 => base,
        by_steps => format!(
            "{base} A detector's sum is kept to steps, which may put the chance off by about {}.",
            number::share(by_steps.max(STEPS_SHOWN))
        ),
    };
    let base = match misses.particles {
        None => base,
        Some(particles) => format!(
            "{base} Its rule waits, or asks for a statistic or noise that remembers, so that the noise of each approach is not integrated \
             out but drawn for {particles} particles; their scatter is in the interval."
        ),
    };
    if misses.dies_out {
        return format!(
            "{base} In {} of the draws all of them died out: the chance by noise alone may be larger than what the others show, and there \
             is no interval.",
            number::share(misses.died_out)
        );
    }
    if misses.chance.effective < EFFECTIVE_LEAST {
        return format!("{base} Too few draws decide for an interval: ask for more with --draws.");
    }
    if misses.chance.interval.is_none() {
        return format!(
            "{base} Two halves of the draws do not agree, so that there is no interval: ask for more with --draws."
        );
    }
    base
}

/// Least error by steps that is told, as a share.
const STEPS_SHOWN: f64 = 1e-3;

/// A chance or small number with three digits; what is below one in 1e15 is no figure of this world.
pub(super) fn small(value: f64) -> String {
    match value {
        v if v < LEAST => "under 1e-15".to_string(),
        v if v > 0.0 && v < 1e-3 => format!("{v:.2e}"),
        v => number::significant(v, 3),
    }
}

#[derive(Serialize)]
struct Document<'a> {
    layout: &'static str,
    version: &'a str,
    answer: Vec<String>,
    warnings: &'a [String],
    cautions: &'a [&'a str],
    dooryard: &'a str,
    scenario: &'a str,
    scenario_hash: &'a str,
    seed: u64,
    confidence: f64,
    common_cause: CommonCausePart,
    strategies: Vec<Part<'a>>,
}

#[derive(Serialize)]
struct Part<'a> {
    name: &'a str,
    misses: Option<Misses>,
    not_worked_out: Option<String>,
}

#[derive(Serialize)]
struct Misses {
    #[serde(flatten)]
    noise_alone: Chances,
    with_common_causes: Chances,
    draws: u64,
    effective_draws: f64,
    heaviest_weight: f64,
    approaches: u64,
    seasons: u64,
    particles: Option<usize>,
    died_out: f64,
    off_by_steps: f64,
    shares: Shares,
}

#[derive(Serialize)]
struct Chances {
    chance: Chance,
    per_season: Ends,
}

#[derive(Serialize)]
struct Chance {
    #[serde(flatten)]
    ends: Ends,
    standard_error: f64,
}

#[derive(Serialize)]
struct Ends {
    mean: f64,
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Serialize)]
struct Shares {
    in_rain: f64,
    in_bright_light: f64,
    far_to_the_side: f64,
    at_odd_pace: f64,
    far_drifted: f64,
}

/// The JSON document; its layout stands above.
///
/// # Errors
/// If a figure can't be written.
pub fn json<'a>(told: &Told<'a>) -> Result<String, serde_json::Error> {
    let misses = |misses: &RareMisses| {
        let chances = |chance: &RareEstimate| {
            let (mean, ends) = misses.per_season(chance);
            let of = |mean: f64, ends: Option<(f64, f64)>| Ends {
                mean,
                low: ends.map(|it| it.0),
                high: ends.map(|it| it.1),
            };
            let each = of(chance.mean, chance.interval.map(|it| (it.low, it.high)));
            Chances { chance: Chance { ends: each, standard_error: chance.error }, per_season: of(mean, ends) }
        };
        let [in_rain, in_bright_light, far_to_the_side, at_odd_pace, far_drifted] = misses.shares;
        Misses {
            noise_alone: chances(&misses.chance),
            with_common_causes: chances(&misses.floored),
            draws: misses.chance.draws,
            effective_draws: misses.chance.effective,
            heaviest_weight: misses.chance.heaviest,
            approaches: misses.approaches,
            seasons: misses.seasons,
            particles: misses.particles,
            died_out: misses.died_out,
            off_by_steps: misses.by_steps,
            shares: Shares { in_rain, in_bright_light, far_to_the_side, at_odd_pace, far_drifted },
        }
    };
    let part = |(name, found): &'a Found| Part {
        name: name.as_str(),
        misses: found.as_ref().ok().map(misses),
        not_worked_out: found.as_ref().err().map(ToString::to_string),
    };
    let document = Document {
        layout: "dooryard-misses/1",
        version: told.version,
        answer: answers(told),
        warnings: told.warnings,
        cautions: CAUTIONS,
        dooryard: told.version,
        scenario: told.scenario,
        scenario_hash: told.hash,
        seed: told.seed,
        confidence: told.confidence,
        common_cause: CommonCausePart::from(told.common_cause),
        strategies: told.found.iter().map(part).collect(),
    };
    serde_json::to_string_pretty(&document).map(|text| text + "\n")
}
