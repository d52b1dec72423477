//! `dooryard calibrate still` and `dooryard calibrate passes`.

use std::path::{Path, PathBuf};

use super::exit::{Exit, Failure};
use super::nearest::hint;
use super::wiring::{self, Loaded};
use super::{output, run};
use crate::report::calibrate::{self as report, Report, TableFile, part};
use crate::report::folder;
use crate::scenario::keys::{ANALOGUE, Per, reading_measure};
use crate::scenario::kind_name;
use crate::scenario::measure::Measure;
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::study::calibrate::feedback::{Effort, feedback};
use crate::study::calibrate::figures::figures;
use crate::study::calibrate::passes::{self, Side};
use crate::study::calibrate::still::{self, Verdict};
use crate::world::log::{read_passes, read_still};

/// Turn what was logged on site into a sensor's figures or a detector's level.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    Still(Still),
    Passes(Passes),
}

/// Noise, drift, missing readings and outliers of a sensor, from a log of something that stands still.
///
/// The log is CSV with a header: `t` (seconds, or RFC 3339) and `reading`; an empty reading is a sample without one.
/// Says in words whether the noise is white or slow drift is present, each figure with its interval, and writes
/// sensor.toml, a part with exactly the keys of that kind of sensor. With --scenario and --sensor it also works out what
/// the figures do to that scenario: false openings and unnoticed arrivals as a range over the intervals, never one
/// number. Exit code 1 if there are too few readings to tell.
#[derive(Debug, clap::Args)]
struct Still {
    /// The log (CSV)
    log: PathBuf,
    /// Kind of sensor, as in a scenario, spaces or hyphens: optical-range, ultrasonic-range, platform-load, tilt, ...
    #[arg(long, value_name = "KIND", required_unless_present = "scenario", conflicts_with = "scenario")]
    kind: Option<String>,
    /// What the readings should have been, such as "1.2 m"; without it the bias is not known
    #[arg(long, value_name = "QUANTITY", allow_negative_numbers = true)]
    truth: Option<String>,
    /// Unit of the readings, if the heading names none (`reading_mm`) and it is not the usual one of the kind
    #[arg(long, value_name = "UNIT")]
    unit: Option<String>,
    /// A scenario that the sensor belongs to: adds what its figures mean for the strategies
    #[arg(long, value_name = "FILE", requires = "sensor")]
    scenario: Option<PathBuf>,
    /// The sensor's name, in the scenario or for the part [default: the log's name]
    #[arg(long, value_name = "NAME")]
    sensor: Option<String>,
    /// Seasons whose weather the scenario's approaches meet
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    seasons: u64,
    /// Approaches worked out for each strategy at each end of the intervals, pilot draws apart
    #[arg(long, value_name = "N", default_value_t = 1_000, value_parser = clap::value_parser!(u64).range(100..=100_000_000))]
    draws: u64,
    /// Seed of all chance
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    common: Common,
}

/// A level for a detector's score, from passes that somebody labelled mower or other.
///
/// The log is CSV with a header: `label` (mower or other) and `score`, one row per pass. Prints the area under the
/// operating curve and three levels (by counting, by normal scores, of least cost), each with the share it may miss and its
/// false openings a day. Exit code 1 if there are too few passes for the share asked for; it says how many it takes.
#[derive(Debug, clap::Args)]
struct Passes {
    /// The log (CSV)
    log: PathBuf,
    /// Days of observation in which all these passes came
    #[arg(long, value_name = "DAYS", value_parser = positive)]
    days: f64,
    /// Largest share of the mower's passes that may be missed
    #[arg(long, value_name = "SHARE", default_value = "0.05", value_parser = share)]
    misses: f64,
    /// On which side of its level a score speaks for the mower
    #[arg(long, value_enum, default_value_t = SideName::Above)]
    sense: SideName,
    /// False openings that weigh as much as one missed arrival, for the level of least cost
    #[arg(long, value_name = "N", default_value_t = 20.0, value_parser = positive)]
    worth: f64,
    /// Arrivals a day, for the level of least cost [default: the mower's passes over the days]
    #[arg(long, value_name = "N", value_parser = positive)]
    arrivals: Option<f64>,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, clap::Args)]
struct Common {
    /// Confidence of the intervals, 0.5 to 0.9999
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = run::confidence)]
    confidence: f64,
    /// Folder for report, page, tables and drawings [default: output/LOG-calibrate]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print the answer as one JSON document
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum SideName {
    Above,
    Below,
}

fn positive(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value > 0.0 && value <= 1e9 => Ok(value),
        _ => Err("a number above 0 is needed".to_owned()),
    }
}

/// A share such as 0.05 or "5 %".
fn share(text: &str) -> Result<f64, String> {
    let (digits, of) = text.trim().strip_suffix('%').map_or((text, 1.0), |digits| (digits, 100.0));
    match digits.trim().parse::<f64>() {
        Ok(value) if (1e-6..=0.5).contains(&(value / of)) => Ok(value / of),
        _ => Err("a share from 0.000001 to 0.5 is needed, such as 0.05 or \"5 %\"".to_owned()),
    }
}

/// Runs the command.
pub fn calibrate(arguments: &Arguments) -> Result<Exit, Failure> {
    match &arguments.command {
        Command::Still(still) => self::still(still),
        Command::Passes(passes) => self::passes(passes),
    }
}

/// What the log is a log of.
struct Subject<'a> {
    kind: &'a str,
    measure: &'static Measure,
    per_day: &'static Measure,
    /// The scenario and the sensor's place in it.
    of: Option<(&'a Loaded, usize)>,
}

fn still(arguments: &Still) -> Result<Exit, Failure> {
    let loaded = arguments.scenario.as_ref().map(|path| wiring::load(path)).transpose()?;
    let subject = subject(arguments, loaded.as_ref())?;
    let measure = subject.measure;
    let truth = arguments.truth.as_ref().map(|text| quantity(text, measure)).transpose()?;
    let (target, file) = place(&arguments.log, &arguments.common)?;
    let log = read_still(&arguments.log, measure, arguments.unit.as_deref())?;
    let Some(found) = still::still(&log, truth, arguments.common.confidence) else {
        return Err(Failure::Message(format!(
            "the log {} cannot be used: but for outliers all its readings are alike, and there is no noise to learn from",
            arguments.log.display()
        )));
    };
    let sensor: Option<&Sensor> = subject.of.map(|(loaded, index)| &loaded.scenario.sensors[index]);
    let words = figures(&found, subject.kind, sensor.map_or(0.0, |sensor| nearest_m(&sensor.kind)));
    let effort = Effort {
        seasons: arguments.seasons,
        draws: arguments.draws,
        seed: arguments.seed,
        confidence: arguments.common.confidence,
    };
    let back = subject.of.map(|(loaded, index)| feedback(&loaded.scenario, index, &words, &effort)).transpose()?;
    let mut warnings = log.warnings.clone();
    warnings.extend(sensor.and_then(|sensor| other_period(sensor, found.sampling.period_s)));
    let scenario = subject.of.map(|(loaded, _)| loaded.scenario.name.as_str());
    let played = subject.of.map(|(loaded, _)| loaded.played());
    let path = arguments.scenario.as_ref().map(|path| std::path::absolute(path).unwrap_or_else(|_| path.clone()));
    let path = path.map(|path| path.to_string_lossy().into_owned());
    let stem = arguments.log.file_stem().unwrap_or_default().to_string_lossy();
    let own = sensor.zip(scenario).zip(path.as_deref()).map(|((sensor, name), path)| (&sensor.errors, name, path));
    let told = report::still::Told {
        file: &file,
        kind: subject.kind,
        measure,
        truth,
        warnings: &warnings,
        part: part::Told {
            name: arguments.sensor.as_deref().unwrap_or(&stem),
            file: &file,
            version: VERSION,
            measures: (measure, subject.per_day),
            own,
        },
        feedback: scenario.zip(back.as_ref()),
        rests_on: played.as_ref(),
    };
    let (told, tables) = report::still::report(&found, &words, &told)?;
    deliver(&told, &tables, &target, &arguments.common)?;
    Ok(if found.verdict == Verdict::TooFew { Exit::FallsShort } else { Exit::Fine })
}

fn passes(arguments: &Passes) -> Result<Exit, Failure> {
    let (target, file) = place(&arguments.log, &arguments.common)?;
    let log = read_passes(&arguments.log)?;
    let settings = passes::Settings {
        side: if arguments.sense == SideName::Above { Side::Above } else { Side::Below },
        days: arguments.days,
        misses: arguments.misses,
        confidence: arguments.common.confidence,
        worth: arguments.worth,
        arrivals_per_day: arguments.arrivals,
    };
    let found = passes::passes(&log, settings);
    let (told, tables) = report::passes::report(&found, &file, &log.warnings)?;
    deliver(&told, &tables, &target, &arguments.common)?;
    Ok(if found.supported() { Exit::Fine } else { Exit::FallsShort })
}

const VERSION: &str = env!("CARGO_PKG_VERSION");

/// The folder to write, which must be ours or free, and the log's name.
fn place(log: &Path, common: &Common) -> Result<(PathBuf, String), Failure> {
    let stem = log.file_stem().unwrap_or_default().to_string_lossy();
    let target = common.out.clone().unwrap_or_else(|| Path::new("output").join(format!("{stem}-calibrate")));
    folder::check(&target, crate::report::calibrate::COMMAND)?;
    Ok((target, log.file_name().unwrap_or_default().to_string_lossy().into_owned()))
}

fn deliver(told: &Report, tables: &[TableFile], target: &Path, common: &Common) -> Result<(), Failure> {
    report::write(target, told, tables, VERSION)?;
    output::print(&if common.json {
        report::json(told, tables, VERSION)?
    } else {
        report::text(told, VERSION, output::setting())
    })?;
    output::say(&format!("report, page, tables and drawings are in {}", target.display()));
    Ok(())
}

fn subject<'a>(arguments: &'a Still, loaded: Option<&'a Loaded>) -> Result<Subject<'a>, Failure> {
    let (kind, of) = match loaded {
        Some(loaded) => {
            let wanted = arguments.sensor.as_deref().unwrap_or_default();
            let sensors = &loaded.scenario.sensors;
            let Some(index) = sensors.iter().position(|sensor| sensor.name == wanted) else {
                let names: Vec<&str> = sensors.iter().map(|sensor| sensor.name.as_str()).collect();
                return Err(unknown(&format!("{} has no sensor", loaded.scenario.name), wanted, &names));
            };
            (kind_name(&sensors[index].kind), Some((loaded, index)))
        }
        None => {
            let given = arguments.kind.as_deref().unwrap_or_default();
            // On a command line, nobody wants to quote a space.
            (ANALOGUE.iter().find(|kind| kind.replace(' ', "-") == given).copied().unwrap_or(given), None)
        }
    };
    let measures = reading_measure(kind, Per::One).zip(reading_measure(kind, Per::Day));
    let Some((measure, per_day)) = measures else {
        return Err(unknown("a log of readings needs a sensor with amounts and noise, which is not", kind, ANALOGUE));
    };
    Ok(Subject { kind, measure, per_day, of })
}

fn unknown(what: &str, name: &str, names: &[&str]) -> Failure {
    let near = hint(name, names.iter().copied());
    Failure::Message(format!("{what} `{name}`{near} (there are: {})", names.join(", ")))
}

fn quantity(text: &str, measure: &Measure) -> Result<f64, Failure> {
    measure.read(text).map_err(|trouble| {
        let help = trouble.help.map(|help| format!(" ({help})")).unwrap_or_default();
        Failure::Message(format!("--truth: {}{help}", trouble.message))
    })
}

/// Shortest valid reading of a ranger.
fn nearest_m(kind: &SensorKind) -> f64 {
    match kind {
        SensorKind::OpticalRange { aim, .. }
        | SensorKind::PhotonRange { aim, .. }
        | SensorKind::UltrasonicRange { aim, .. } => aim.nearest_m,
        _ => 0.0,
    }
}

/// A warning if the log was sampled at another pace than the scenario's sensor.
fn other_period(sensor: &Sensor, logged_s: f64) -> Option<String> {
    let own = sensor.period.seconds();
    (libm::fabs(logged_s / own - 1.0) > 0.02).then(|| {
        format!(
            "the log has a sample every {}, the scenario's sensor {} every {}; figures per sample are those of the log",
            report::figures::seconds(logged_s),
            sensor.name,
            report::figures::seconds(own)
        )
    })
}
