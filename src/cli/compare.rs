//! `dooryard compare`.

use std::path::PathBuf;

use super::exit::{Exit, Failure};
use super::parts::{Known, Share};
use super::progress::Meter;
use super::study::{Aims, Play, told};
use super::wiring::{self, Loaded};
use super::{interrupt, output, run};
use crate::report::compare::{self as report, Told};
use crate::report::folder;
use crate::study::compare::{Choice, CompareSettings, Comparison, compare as compare_study};
use crate::study::field::{Field, threads};
use crate::study::objective::Aim;

/// Say which strategy or scenario is better, and whether the difference is real.
///
/// All play the same seasons. Prints every difference with its interval, a ranking under the limits and the objective,
/// and ends as soon as the best is sure.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario files (TOML); limits and objective are those of the first
    #[arg(required = true)]
    scenario: Vec<PathBuf>,
    /// Compare only these strategies; may be given several times [default: all]
    #[arg(long, value_name = "NAME")]
    strategy: Vec<String>,
    /// Most seasons to play
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u64).range(2..=1_000_000_000))]
    seasons: u64,
    /// The contender that the others are compared with [default: the first]
    #[arg(long, value_name = "NAME")]
    against: Option<String>,
    /// Play all seasons even when the best is sure before
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    aims: Aims,
    /// Play only share I of N and write a part file, for `dooryard merge`
    #[arg(long, value_name = "I/N")]
    part: Option<Share>,
    #[command(flatten)]
    play: Play,
}

/// Plays (or takes `known` seasons) and reports.
pub fn compare(arguments: &Arguments, known: Option<&Known>) -> Result<Exit, Failure> {
    let loaded: Vec<Loaded> = arguments.scenario.iter().map(|path| wiring::load(path)).collect::<Result<_, _>>()?;
    let chosen: Vec<Vec<usize>> =
        loaded.iter().map(|one| run::chosen(&one.scenario, &arguments.strategy)).collect::<Result<_, _>>()?;
    let names = names(&loaded, &chosen);
    if names.len() < 2 {
        return Err(Failure::Message(format!(
            "there is one contender only, {}; a comparison takes two or more (`dooryard run` plays one)",
            names.join("")
        )));
    }
    let reference = match &arguments.against {
        None => 0,
        Some(name) => names.iter().position(|known| known == name).ok_or_else(|| {
            Failure::Message(format!("there is no contender `{name}`; there is: {}", names.join(", ")))
        })?,
    };
    let first = &loaded[0].scenario;
    let aim = arguments.aims.aim(first)?;
    let field = Field::new(loaded.iter().map(|one| &one.scenario).zip(chosen.iter().map(Vec::as_slice)))?;
    let hashes: Vec<&str> = loaded.iter().map(|one| one.sha256.as_str()).collect();
    let target = arguments.play.target(&first.name, "compare");
    let stop = interrupt::watch()?;
    let pool = threads(arguments.play.threads.map(usize::from))?;
    let ground = arguments.play.ground(stop, &pool);
    let meter = Meter::new();
    let all: Vec<usize> = (0..field.len()).collect();
    if let Some(share) = arguments.part {
        let seasons = share.seasons(arguments.play.first_season, arguments.seasons);
        let plays = (seasons.end - seasons.start) * field.len() as u64;
        let played = field.play(&all, seasons.clone(), &ground, &meter.ticker(plays));
        meter.finish();
        let folder = arguments.play.target(&first.name, "compare-parts");
        return run::finish_part(share, &folder, &hashes, seasons, played?);
    }
    folder::check(&target, "compare")?;
    let settings = CompareSettings {
        seasons: arguments.seasons,
        first_season: arguments.play.first_season,
        reference,
        confidence: arguments.play.confidence,
        early: !arguments.all && aim.as_ref().is_some_and(|aim| aim.indifference.is_some()),
        aim: aim.clone(),
        limits: &first.limits,
        risks: &first.risks,
    };
    let comparison = match known {
        Some(known) => {
            known.check(&hashes, field.len())?;
            compare_study(&names, &settings, &mut |seasons| known.fetch(seasons).map(Some))?
        }
        None => {
            let tick = meter.ticker(arguments.seasons * field.len() as u64);
            compare_study(&names, &settings, &mut |seasons| {
                field.play(&all, seasons, &ground, &tick).map_err(Failure::from)
            })?
        }
    };
    meter.finish();
    let Some(comparison) = comparison else {
        return Ok(arguments.play.interrupted(&target));
    };
    let recorded = vec![
        ("contenders".to_string(), names.into()),
        ("seasons".to_string(), (arguments.seasons as i64).into()),
        ("all".to_string(), arguments.all.into()),
        ("against".to_string(), comparison.standings[reference].name.clone().into()),
        ("objective".to_string(), aim.as_ref().map_or("none".to_string(), Aim::told).into()),
    ];
    let study = told("compare", &loaded.iter().collect::<Vec<_>>(), &arguments.play, recorded);
    let mut warnings: Vec<String> = loaded.iter().flat_map(Loaded::warnings_of_seasons).collect();
    if loaded.iter().any(|one| one.scenario.limits != first.limits || one.scenario.risks != first.risks) {
        warnings.push("the scenarios state different limits; those of the first hold for all".to_string());
    }
    let days = |one: &Loaded| one.scenario.calendar.days();
    if loaded.iter().any(|one| days(one) != days(&loaded[0])) {
        let lengths: Vec<String> = loaded.iter().map(|one| format!("{} d", days(one))).collect();
        warnings.push(format!(
            "the scenarios' seasons have different lengths ({}): figures per season differ for that alone",
            lengths.join(", ")
        ));
    }
    let told = Told {
        study: &study,
        confidence: arguments.play.confidence,
        aim: aim.as_ref(),
        first_season: arguments.play.first_season,
        warnings: &warnings,
    };
    report::write(&target, &comparison, &told)?;
    let answer = if arguments.play.json {
        report::json(&comparison, &told)?
    } else {
        report::report(&comparison, &told, output::setting())
    };
    arguments.play.answer(&target, &answer)?;
    Ok(exit(&comparison))
}

/// Fine unless no contender is left.
fn exit(comparison: &Comparison) -> Exit {
    if comparison.choice == Choice::NoneMeets { Exit::FallsShort } else { Exit::Fine }
}

/// Names of the contenders: strategies, with their scenario in front if there are several.
fn names(loaded: &[Loaded], chosen: &[Vec<usize>]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for (one, strategies) in loaded.iter().zip(chosen) {
        for strategy in strategies {
            let name = &one.scenario.strategies[*strategy].name;
            let full = if loaded.len() > 1 { format!("{}: {name}", one.scenario.name) } else { name.clone() };
            // The same scenario given twice: tell the two apart.
            let same = names.iter().filter(|other| **other == full).count();
            names.push(if same == 0 { full } else { format!("{full} ({})", same + 1) });
        }
    }
    names
}
