//! `dooryard day`.

use std::path::{Path, PathBuf};
use std::str::FromStr;

use clap::ValueEnum;
use clap::builder::PossibleValue;
use jiff::civil::Date;

use super::clock::Clock;
use super::exit::{Exit, Failure};
use super::progress::Meter;
use super::wiring::{self, Loaded};
use super::{interrupt, output, run};
use crate::engine::Plan;
use crate::report::day::{self as report, Told};
use crate::report::number;
use crate::report::study_file::Study;
use crate::report::{folder, words};
use crate::sensing::channel::Sampling;
use crate::shelter::cautions::CAUTIONS;
use crate::study::day::{self as study, Find, Found, Searched};
use crate::study::field::{Field, Ground, threads};

/// Play one day of one season again and show everything: sun and rain, mower, door, readings with their levels, detectors,
/// controller, current, temperature, and each event with its reason.
///
/// The day is exactly that of the season as `run` plays it with the same scenario and seed. Writes a page on which the
/// timeline can be zoomed and the shelter moves along, a still timeline, and tables.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    /// Number of the season; with --find, look in this season only
    #[arg(long, value_name = "K", required_unless_present = "find", value_parser = clap::value_parser!(u64).range(0..=1_000_000_000_000))]
    season: Option<u64>,
    /// The day, such as 2025-06-14
    #[arg(long, value_name = "DATE", required_unless_present = "find")]
    date: Option<String>,
    /// Look for a day instead: the first one on which this happened, the one with the longest single wait, or the wettest
    #[arg(long, value_enum, value_name = "WHAT", conflicts_with = "date")]
    find: Option<Find>,
    /// The strategy to play [default: the scenario's first]
    #[arg(long, value_name = "NAME")]
    strategy: Option<String>,
    /// Seed of all chance
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// Seasons to look through with --find, as many as `run` plays unless told otherwise
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u64).range(1..=1_000_000_000))]
    seasons: u64,
    /// Number of the first season to look through with --find
    #[arg(long, value_name = "N", default_value_t = 0, conflicts_with = "season", value_parser = clap::value_parser!(u64).range(0..=1_000_000_000_000))]
    first_season: u64,
    /// Threads for --find [default: as many as the machine has]; never changes a result
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=4096))]
    threads: Option<u16>,
    /// Output folder [default: output/, the scenario's name, and day-STRATEGY-SEASON-DATE]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print the answer as one JSON document
    #[arg(long)]
    json: bool,
}

/// How each kind is called on the command line, what that looks for, and what is found, in the singular.
fn called(find: Find) -> [&'static str; 3] {
    match find {
        Find::Missed => ["missed", "The first missed arrival", "missed arrival"],
        Find::FalseOpening => ["false-opening", "The first false opening", "false opening"],
        Find::Contact => ["contact", "The first contact of door and mower or visitor", "contact"],
        Find::Stranding => ["stranding", "The first time a person had to help the mower", "stranding"],
        Find::LongestWait => ["longest-wait", "The longest single wait outside the door", "wait outside the door"],
        Find::Wettest => ["wettest", "The most rain in a day", "rain"],
    }
}

impl ValueEnum for Find {
    fn value_variants<'a>() -> &'a [Find] {
        &Find::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        let [name, help, _] = called(*self);
        Some(PossibleValue::new(name).help(help))
    }
}

/// Which day is shown, and why.
struct Chosen {
    season: u64,
    day: usize,
    found: Option<String>,
}

/// Shows a day.
pub fn day(arguments: &Arguments) -> Result<Exit, Failure> {
    let loaded = wiring::load(&arguments.scenario)?;
    let strategy = run::one(&loaded.scenario, arguments.strategy.as_deref())?;
    let clock = Clock::new(&loaded.scenario)?;
    // A date that is none should be told before a plan is made, which may take a while.
    let date = arguments.date.as_deref().map(read_date).transpose()?;
    let field = Field::new([(&loaded.scenario, [strategy].as_slice())])?;
    let (plan, _) = field.plan(0);
    let chosen = match (arguments.find, date, arguments.season) {
        (Some(what), _, _) => match look(arguments, what, &field)? {
            Ok(chosen) => chosen,
            Err(exit) => return Ok(exit),
        },
        (None, Some(date), Some(season)) => Chosen { season, day: day_of(plan, date)?, found: None },
        (None, _, _) => return Err(Failure::Message("--season and --date are needed, or --find".to_string())),
    };
    let played = &loaded.scenario.strategies[strategy].name;
    let name = folder::day_name(played, arguments.seed, chosen.season, plan.clock.date(chosen.day));
    let target = arguments.out.clone().unwrap_or_else(|| Path::new("output").join(&loaded.scenario.name).join(name));
    folder::check(&target, "day")?;
    let replay = study::replay(plan, strategy, arguments.seed, chosen.season, chosen.day)?;
    let told_study = told_study(&loaded, arguments, &replay, strategy);
    let mut warnings = loaded.warnings_of_seasons();
    warnings.extend(plan.record.iter().flat_map(|record| record.warnings().to_vec()));
    let told = Told {
        replay: &replay,
        scenario: &plan.scenario,
        study: &told_study,
        found: chosen.found.as_deref(),
        warnings: &warnings,
        cautions: CAUTIONS,
        time: &|at| clock.text(at),
    };
    report::write(&target, &told)?;
    output::say(&format!("seed {}; the day is in {}", arguments.seed, target.display()));
    let text = if arguments.json { report::document(&told)? } else { report::report(&told, output::setting()) };
    output::print(&text)?;
    Ok(Exit::Fine)
}

/// Looks for a day; an exit code where there is nothing to show.
fn look(arguments: &Arguments, what: Find, field: &Field) -> Result<Result<Chosen, Exit>, Failure> {
    let seasons = match arguments.season {
        Some(season) => season..season + 1,
        None => arguments.first_season..arguments.first_season + arguments.seasons,
    };
    let pool = threads(arguments.threads.map(usize::from))?;
    let stop = interrupt::watch()?;
    let ground = Ground { seed: arguments.seed, sampling: Sampling::Exact, events: false, stop, pool: &pool };
    let meter = Meter::new();
    let searched = study::find(field, what, seasons.clone(), &ground, &meter.ticker(seasons.end - seasons.start));
    meter.finish();
    let (plan, strategy) = field.plan(0);
    let among = match seasons.end - seasons.start {
        1 => format!("season {}", seasons.start),
        _ => format!("seasons {} to {}", seasons.start, seasons.end - 1),
    };
    let strategy = &plan.scenario.strategies[strategy].name;
    match searched? {
        Searched::Found(found) => {
            Ok(Ok(Chosen { season: found.season, day: found.day, found: Some(taken(what, &found, plan, &among)) }))
        }
        Searched::Nothing => {
            let [_, _, name] = called(what);
            let nothing = format!("no {name} in {among} with strategy {strategy} and seed {}", arguments.seed);
            if arguments.json {
                let answer = serde_json::json!({ "layout": "dooryard-day/1", "found": null, "answer": nothing });
                output::print(&(serde_json::to_string_pretty(&answer)? + "\n"))?;
            } else {
                output::print(&format!("{nothing}; nothing was written\n"))?;
            }
            Ok(Err(Exit::Fine))
        }
        Searched::Stopped => {
            output::say("interrupted; nothing was written");
            Ok(Err(Exit::Interrupted))
        }
    }
}

/// Why this day was taken.
fn taken(what: Find, found: &Found, plan: &Plan, among: &str) -> String {
    let day = format!("season {}, {}", found.season, plan.clock.date(found.day));
    match what {
        Find::LongestWait => {
            format!("Taken: {day}, with the longest wait of {among}: {}.", words::lasting(found.amount))
        }
        Find::Wettest => {
            let rain = number::with_unit(&number::significant(found.amount, 3), "mm");
            format!("Taken: {day}, the wettest of {among}: {rain}.")
        }
        _ => format!("Taken: {day}, the first day with a {} in {among}.", called(what)[2]),
    }
}

fn read_date(text: &str) -> Result<Date, Failure> {
    // A date and nothing else: what jiff would also read, a time behind it or a week date, is a slip here.
    let plain = text.len() == 10 && text.bytes().all(|letter| letter.is_ascii_digit() || letter == b'-');
    let date = if plain { Date::from_str(text).ok() } else { None };
    date.ok_or_else(|| Failure::Message(format!("`{text}` is not a date; write it as in 2025-06-14")))
}

fn day_of(plan: &Plan, date: Date) -> Result<usize, Failure> {
    study::day_of(plan, date).ok_or_else(|| {
        let (first, last) = (plan.clock.date(0), plan.clock.date(plan.clock.days() - 1));
        Failure::Message(format!("{date} is not in the season, which goes from {first} to {last}"))
    })
}

fn told_study(loaded: &Loaded, arguments: &Arguments, replay: &study::Replay, strategy: usize) -> Study {
    let name = &loaded.scenario.strategies[strategy].name;
    Study {
        command: "day",
        version: env!("CARGO_PKG_VERSION"),
        scenarios: vec![loaded.played()],
        warnings: loaded.warnings_of_seasons(),
        seed: arguments.seed,
        settings: vec![
            ("season".to_string(), (replay.season as i64).into()),
            ("date".to_string(), replay.date.to_string().into()),
            ("strategy".to_string(), name.clone().into()),
        ],
    }
}
