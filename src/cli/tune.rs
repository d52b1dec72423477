//! `dooryard tune`.

use std::path::{Component, Path, PathBuf};

use super::exit::{Exit, Failure};
use super::over::{Over, Varied};
use super::progress::Meter;
use super::resume::Memory;
use super::study::{Aims, Play, told};
use super::{interrupt, output, run, wiring};
use crate::report::folder;
use crate::report::tune::{self as report, Told};
use crate::study::field::{Field, Ground, threads};
use crate::study::result::Verdict;
use crate::study::tune::{Answer, Request, TuneSettings, tune as search};

/// Find the best setting of some numbers of the scenario, under its limits.
///
/// Searches with an evolution strategy, races the best settings found on fresh seasons, and confirms the winner on others
/// still. Seasons are remembered in a resume file: a study that was stopped goes on where it was.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The scenario file (TOML)
    scenario: PathBuf,
    #[command(flatten)]
    over: Over,
    /// The strategy that is tuned [default: the first]
    #[arg(long, value_name = "NAME")]
    strategy: Option<String>,
    /// Plays (settings times seasons) that the search may take; race, confirmation and flatness come on top
    #[arg(long, value_name = "N", default_value_t = 1200, value_parser = clap::value_parser!(u64).range(20..=1_000_000_000))]
    plays: u64,
    /// Seasons of each setting at first
    #[arg(long, value_name = "N", default_value_t = 6, value_parser = clap::value_parser!(u64).range(2..=1_000))]
    seasons: u64,
    /// Fresh seasons of the confirmation
    #[arg(long, value_name = "N", default_value_t = 60, value_parser = clap::value_parser!(u64).range(10..=1_000_000))]
    confirm: u64,
    /// By how much the objective may get worse when the report says how far each number may move [default: the
    /// indifference zone, or a twentieth]
    #[arg(long, value_name = "X")]
    worse_by: Option<f64>,
    #[command(flatten)]
    aims: Aims,
    /// Resume file [default: the output folder's name and .resume]; removed when all is done
    #[arg(long, value_name = "FILE")]
    resume: Option<PathBuf>,
    #[command(flatten)]
    play: Play,
}

/// Tunes and reports.
pub fn tune(arguments: &Arguments) -> Result<Exit, Failure> {
    let varied = Varied::load(&arguments.scenario, &arguments.over)?;
    let scenario = &varied.base.loaded.scenario;
    let strategy = run::one(scenario, arguments.strategy.as_deref())?;
    varied.concerns(strategy)?;
    let aim = arguments.aims.aim(scenario)?.ok_or_else(|| {
        Failure::Message(
            "nothing says what is better: state [objective] in the scenario, or give --minimise".to_string(),
        )
    })?;
    if arguments.worse_by.is_some_and(|amount| !(amount > 0.0 && amount.is_finite())) {
        return Err(Failure::Message("--worse-by must be more than 0".to_string()));
    }
    let target = arguments.play.target(&scenario.name, "tune");
    folder::check(&target, "tune")?;
    let pool = threads(arguments.play.threads.map(usize::from))?;
    let ground = arguments.play.ground(interrupt::watch()?, &pool);
    let file = arguments.resume.clone().unwrap_or_else(|| beside(&target));
    let mut memory = Memory::open(&file, &varied.base.loaded.hash)?;
    if memory.remembered() > 0 {
        output::say(&format!("going on with {} plays from {}", memory.remembered(), file.display()));
    }
    let settings = TuneSettings {
        whole: varied
            .ranges
            .iter()
            .map(|range| range.parameter.whole.then(|| (range.high - range.low) as u64 + 1))
            .collect(),
        current: varied.current(),
        plays: arguments.plays,
        seasons: arguments.seasons,
        confirm: arguments.confirm,
        first_season: arguments.play.first_season,
        seed: arguments.play.seed,
        confidence: arguments.play.confidence,
        aim: &aim,
        limits: &scenario.limits,
        risks: &scenario.risks,
        worse_by: arguments.worse_by,
    };
    let meter = Meter::new();
    let tick = meter.ticker(arguments.plays);
    let tuned = search(&settings, &mut |requests| play(requests, &varied, strategy, &ground, &mut memory, &tick))?;
    meter.finish();
    let Some(tuned) = tuned else {
        output::say(&format!(
            "interrupted; give the same command again to go on: {} plays are kept in {}",
            memory.remembered(),
            file.display()
        ));
        return Ok(Exit::Interrupted);
    };
    let values = tuned.best.as_ref().map(|point| varied.place(point));
    let part = values
        .as_ref()
        .map(|values| varied.base.part(&seen_from(&target, &arguments.scenario), &varied.settings(values)));
    let recorded = vec![
        ("over".to_string(), arguments.over.over.clone().into()),
        ("tie".to_string(), arguments.over.tie.clone().into()),
        ("strategy".to_string(), scenario.strategies[strategy].name.clone().into()),
        ("plays".to_string(), (arguments.plays as i64).into()),
        ("seasons".to_string(), (arguments.seasons as i64).into()),
        ("confirm".to_string(), (arguments.confirm as i64).into()),
    ];
    let study = told("tune", &[&wiring::told(&varied.base.loaded)], &arguments.play, recorded);
    let shown = |index: usize, value: f64| varied.ranges[index].parameter.show(value);
    let places = |point: &Option<Vec<f64>>| match point {
        Some(point) => Some(varied.place(point)),
        None => varied.ranges.iter().map(|range| range.parameter.current).collect(),
    };
    let several = scenario.strategies.len() > 1;
    let shared = varied.ranges.iter().map(|range| &range.parameter).filter(|one| several && one.strategy().is_none());
    let told = Told {
        study: &study,
        strategy: &scenario.strategies[strategy].name,
        confidence: arguments.play.confidence,
        aim: &aim,
        paths: varied.ranges.iter().map(|range| range.parameter.path.as_str()).collect(),
        shared: shared.map(|one| one.path.as_str()).collect(),
        ranges: varied.ranges.iter().map(|range| (range.low, range.high)).collect(),
        current: varied.ranges.iter().map(|range| range.parameter.current).collect(),
        whole: &settings.whole,
        best: values,
        places: &places,
        show: &shown,
        part,
    };
    report::write(&target, &tuned, &told)?;
    memory.forget();
    let answer = if arguments.play.json {
        report::json(&tuned, &told)?
    } else {
        report::report(&tuned, &told, output::setting())
    };
    arguments.play.answer(&target, &answer)?;
    let confirmed = &tuned.confirmation;
    let verdicts = confirmed.limits.iter().map(|one| one.verdict).chain(confirmed.risks.iter().map(|one| one.verdict));
    Ok(if verdicts.into_iter().all(|verdict| verdict == Verdict::Met) { Exit::Fine } else { Exit::FallsShort })
}

/// Plays what is not remembered; none if told to stop.
fn play(
    requests: &[Request],
    varied: &Varied,
    strategy: usize,
    ground: &Ground,
    memory: &mut Memory,
    tick: &(dyn Fn() + Sync),
) -> Result<Option<Vec<Answer>>, Failure> {
    if ground.stop.load(std::sync::atomic::Ordering::Relaxed) {
        // Also where all that is asked for is remembered and nothing would be played.
        return Ok(None);
    }
    let only = [strategy];
    let scenario = |request: &Request| match &request.point {
        None => Some(varied.base.loaded.scenario.clone()),
        Some(point) => varied.scenario(&varied.place(point)).ok(),
    };
    // All that is not known yet is played at once, whatever seasons each request asks for.
    let unknown: Vec<&Request> = requests.iter().filter(|request| !memory.knows(request)).collect();
    let mut fresh: Vec<(&Request, crate::scenario::Scenario)> = Vec::new();
    for request in unknown {
        match scenario(request) {
            Some(scenario) => fresh.push((request, scenario)),
            None => memory.refuse(request),
        }
    }
    // Requests for the same seasons are played together, so that all threads have work.
    let mut ranges: Vec<std::ops::Range<u64>> = Vec::new();
    for (request, _) in &fresh {
        if !ranges.contains(&request.seasons) {
            ranges.push(request.seasons.clone());
        }
    }
    let field = Field::new(fresh.iter().map(|(_, scenario)| (scenario, &only[..])))?;
    for seasons in ranges {
        let which: Vec<usize> = (0..fresh.len()).filter(|index| fresh[*index].0.seasons == seasons).collect();
        let Some(records) = field.play(&which, seasons, ground, tick)? else { return Ok(None) };
        let played = which.iter().zip(&records).map(|(index, records)| (fresh[*index].0, records.as_slice()));
        memory.remember(played)?;
    }
    Ok(Some(requests.iter().map(|request| memory.recall(request)).collect()))
}

/// The way to a file from a folder, with `/` between its parts; the file's full path where there is none (another drive).
fn seen_from(folder: &Path, file: &Path) -> String {
    let full = |path: &Path| std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let (folder, file) = (full(folder), full(file));
    let tidy = |path: &Path| path.components().filter(|part| *part != Component::CurDir).collect::<PathBuf>();
    let (folder, file) = (tidy(&folder), tidy(&file));
    let shared = folder.components().zip(file.components()).take_while(|(a, b)| a == b).count();
    // A `..` on the way may lead anywhere if a link comes before it.
    let leads_back = |path: &Path| path.components().any(|part| part == Component::ParentDir);
    if shared == 0 || leads_back(&folder) || leads_back(&file) {
        return file.to_string_lossy().into_owned();
    }
    let up = folder.components().skip(shared).map(|_| "..".to_string());
    let down = file.components().skip(shared).map(|part| part.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// `output/x-tune` remembers in `output/x-tune.resume`.
fn beside(target: &Path) -> PathBuf {
    let mut name = target.as_os_str().to_owned();
    name.push(".resume");
    PathBuf::from(name)
}
