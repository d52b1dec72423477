//! `dooryard what-if`.

use std::ops::Range;
use std::path::PathBuf;

use super::exit::{Exit, Failure};
use super::parts::{Known, Share};
use super::progress::Meter;
use super::study::{Aims, Play, told};
use super::{interrupt, output, run, wiring};
use crate::ledger::record::SeasonRecord;
use crate::report::folder;
use crate::report::what_if::{self as report, Told};
use crate::scenario::{Scenario, usual_failures};
use crate::study::field::{Field, Ground, threads};
use crate::study::what_if::{Cases, Gathering, cases, usual_aim};

/// Name of the last row.
const ALL: &str = "all together";

/// Play each failure mode alone, and all together, on the same seasons.
///
/// The failures are those of the scenario, or every known mode at its usual rate if it has none. Prints what each moves,
/// which strategy suffers least, and what protects.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    /// Play only these strategies; may be given several times [default: all]
    #[arg(long, value_name = "NAME")]
    strategy: Vec<String>,
    /// Only these failures, by name; may be given several times [default: all]
    #[arg(long, value_name = "NAME")]
    failure: Vec<String>,
    /// Seasons of each row
    #[arg(long, value_name = "N", default_value_t = 50, value_parser = clap::value_parser!(u64).range(2..=1_000_000_000))]
    seasons: u64,
    #[command(flatten)]
    aims: Aims,
    /// Play only share I of N and write a part file, for `dooryard merge`
    #[arg(long, value_name = "I/N")]
    part: Option<Share>,
    #[command(flatten)]
    play: Play,
}

/// Plays (or takes `known` seasons) and reports.
pub fn what_if(arguments: &Arguments, known: Option<&Known>) -> Result<Exit, Failure> {
    let loaded = wiring::load(&arguments.scenario)?;
    let mut scenario = loaded.scenario.clone();
    let strategies = run::chosen(&scenario, &arguments.strategy)?;
    let whole = cases(&scenario);
    if !arguments.failure.is_empty() {
        let known = &whole.all.failures;
        scenario.failures = arguments
            .failure
            .iter()
            .map(|name| {
                let found = known.iter().find(|failure| failure.name == *name);
                found.cloned().ok_or_else(|| unknown(name, &whole))
            })
            .collect::<Result<_, _>>()?;
    }
    // Whoever names some does not ask for the others.
    let left_out = if arguments.failure.is_empty() { whole.left_out } else { Vec::new() };
    let cases = cases(&scenario);
    if cases.alone.is_empty() {
        return Err(Failure::Message("no failure has anything to hit in this scenario".to_string()));
    }
    let stated = arguments.aims.aim(&scenario)?;
    let stands_in = stated.is_none();
    let Some(aim) = stated.or_else(usual_aim) else {
        return Err(Failure::Message("there is nothing to measure harm by; state an [objective]".to_string()));
    };
    let target = arguments.play.target(&scenario.name, "what-if");
    if arguments.part.is_none() {
        folder::check(&target, "what-if")?;
    }
    let hashes = [loaded.sha256.as_str()];
    let pool = threads(arguments.play.threads.map(usize::from))?;
    let ground = arguments.play.ground(interrupt::watch()?, &pool);
    let meter = Meter::new();
    let rows = cases.alone.len() + 1;
    let first = arguments.play.first_season;
    let seasons = match arguments.part {
        Some(share) => share.seasons(first, arguments.seasons),
        None => first..first + arguments.seasons,
    };
    let tick = meter.ticker((seasons.end - seasons.start) * strategies.len() as u64 * (rows as u64 + 1));
    let mut known = match known {
        Some(known) => {
            known.check(&hashes, (rows + 1) * strategies.len())?;
            Some(known.fetch(seasons.clone())?.into_iter())
        }
        None => None,
    };
    let mut play = |scenario: &Scenario| match &mut known {
        Some(known) => Ok(Some(known.by_ref().take(strategies.len()).collect())),
        None => play(scenario, &strategies, seasons.clone(), &ground, &tick),
    };
    if let Some(share) = arguments.part {
        let mut all = Some(Vec::new());
        for scenario in std::iter::once(&cases.base).chain(cases.alone.iter().map(|(_, one)| one)).chain([&cases.all]) {
            let Some(records) = play(scenario)? else {
                all = None;
                break;
            };
            all.iter_mut().for_each(|all: &mut Vec<_>| all.extend(records.clone()));
        }
        meter.finish();
        let folder = arguments.play.target(&scenario.name, "what-if-parts");
        return run::finish_part(share, &folder, &hashes, seasons, all);
    }
    let alone = cases.alone.iter().map(|(failure, scenario)| (failure.name.as_str(), Some(failure.mode), scenario));
    let gathered = 'played: {
        let Some(base) = play(&cases.base)? else { break 'played None };
        let mut gathering = Gathering::new(base, rows, &aim, arguments.play.confidence);
        for (name, mode, scenario) in alone.chain([(ALL, None, &cases.all)]) {
            let Some(records) = play(scenario)? else { break 'played None };
            gathering.add(name, mode, &records);
        }
        Some(gathering)
    };
    meter.finish();
    let Some(gathered) = gathered else {
        return Ok(arguments.play.interrupted(&target));
    };
    let names: Vec<String> = strategies.iter().map(|index| scenario.strategies[*index].name.clone()).collect();
    let recorded = vec![
        ("strategies".to_string(), names.clone().into()),
        ("failures".to_string(), cases.all.failures.iter().map(|one| one.name.clone()).collect::<Vec<_>>().into()),
        ("seasons".to_string(), (arguments.seasons as i64).into()),
        ("objective".to_string(), aim.told().into()),
    ];
    let mut study = told("what-if", &[&loaded], &arguments.play, recorded);
    if loaded.scenario.failures.is_empty() {
        let usual = usual_failures(&loaded.scenario, &cases.all.failures);
        study.scenarios.iter_mut().for_each(|played| played.assumptions.extend(usual.iter().cloned()));
    }
    let result = gathered.finish(names);
    let told = Told {
        study: &study,
        confidence: arguments.play.confidence,
        metric: aim.metric,
        stands_in,
        warnings: &loaded.warnings_of_seasons(),
        left_out: &left_out,
    };
    report::write(&target, &result, &told)?;
    let text = if arguments.play.json {
        report::document(&result, &told)?
    } else {
        report::report(&result, &told, output::setting())
    };
    arguments.play.answer(&target, &text)?;
    Ok(Exit::Fine)
}

/// Seasons of one scenario by strategy, slimmed to what differences need; none if interrupted.
fn play(
    scenario: &Scenario,
    strategies: &[usize],
    seasons: Range<u64>,
    ground: &Ground,
    tick: &(dyn Fn() + Sync),
) -> Result<Option<Vec<Vec<SeasonRecord>>>, Failure> {
    let field = Field::new([(scenario, strategies)])?;
    let all: Vec<usize> = (0..field.len()).collect();
    let mut played = field.play(&all, seasons, ground, tick)?;
    for record in played.iter_mut().flatten().flatten() {
        record.days = Vec::new();
        record.detectors = Vec::new();
    }
    Ok(played)
}

fn unknown(name: &str, cases: &Cases) -> Failure {
    let known: Vec<&str> = cases.all.failures.iter().map(|failure| failure.name.as_str()).collect();
    let found = if cases.left_out.iter().any(|idle| idle == name) {
        format!("failure `{name}` has nothing to hit in this scenario")
    } else {
        format!("there is no failure `{name}` here{}", super::nearest::hint(name, known.iter().copied()))
    };
    Failure::Message(format!("{found}\n  what can be played: {}", known.join(", ")))
}
