//! `dooryard weather show` and `dooryard weather fit`.

use std::path::{Path, PathBuf};

use clap::builder::{PossibleValuesParser, TypedValueParser as _};

use super::exit::{Exit, Failure};
use super::{file, output, wiring};
use crate::math::time::Span;
use crate::report::folder;
use crate::report::number::significant;
use crate::report::weather::{self as report, Named};
use crate::scenario::season::{Calendar, Site};
use crate::scenario::weather::units::{self, Unit, Units};
use crate::scenario::weather::{Label, Layout, Weather};
use crate::scenario::{self, Scenario};
use crate::study::weather_fit::{self, Periods};
use crate::study::weather_summary;
use crate::world::weather::{ObservedRecord, season_weather};
use crate::world::{LocalClock, SeasonWeather};

/// Look at weather: what a record or a scenario's weather is like, or the generator that fits a record.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    Show(Show),
    Fit(Fit),
}

/// Describe records and scenarios' weather side by side: monthly rain, spells, intensities, the day, wind and gusts.
///
/// A file that ends in .toml is a scenario, whose weather is drawn or played for some years; anything else is an
/// observed record (CSV, TMY3 or EPW). Doubts about a record are named before its figures.
#[derive(Debug, clap::Args)]
struct Show {
    /// Records and scenarios, each a column
    #[arg(required = true, value_name = "FILE|SCENARIO")]
    files: Vec<PathBuf>,
    /// Years to draw of a scenario's weather
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..=1000))]
    years: u16,
    /// Seed of all chance
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// Also write text, page and drawings (SVG, with their figures as CSV) to this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print the figures as one JSON document
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    reading: Reading,
}

/// Fit the pulse generator to a record and write it as a part that a scenario can include.
///
/// Prints observed and fitted statistics with a verdict per row. The fit uses the variance, correlation and share of dry
/// blocks of 1, 6 and 24 hours, and of the record's own step if that is finer, and the mean runs of wet and of dry hours.
#[derive(Debug, clap::Args)]
struct Fit {
    /// The record (CSV, TMY3 or EPW)
    file: PathBuf,
    /// How the year is cut; auto: months from five years of data on, seasons from one
    #[arg(long, value_enum, default_value_t = Cut::Auto)]
    by: Cut,
    /// Latitude of the record, degrees north, for the clearness of the sky
    #[arg(long, value_name = "DEG", allow_negative_numbers = true, requires = "longitude", value_parser = within::<90>)]
    latitude: Option<f64>,
    /// Longitude of the record, degrees east
    #[arg(long, value_name = "DEG", allow_negative_numbers = true, requires = "latitude", value_parser = within::<180>)]
    longitude: Option<f64>,
    /// File to write [default: the record's name with -weather.toml]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Also write text, page and figures to this folder
    #[arg(long, value_name = "DIR")]
    report: Option<PathBuf>,
    /// Print the figures as one JSON document
    #[arg(long)]
    json: bool,
    /// Overwrite a file that exists
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    reading: Reading,
}

/// How records are read.
#[derive(Clone, Copy, Debug, clap::Args)]
struct Reading {
    /// Layout of the records
    #[arg(long, value_enum, default_value_t = LayoutName::Detect)]
    layout: LayoutName,
    /// Which moment of a step the times of a CSV record name
    #[arg(long, value_enum, default_value_t = LabelName::Start)]
    time_label: LabelName,
    /// Unit in which the records' depths of rain are written, whatever the header says
    #[arg(long, value_name = "UNIT", default_value = "mm", value_parser = unit(&units::RAIN, units::RAIN_NAMES))]
    rain_unit: Unit,
    /// Unit of their temperatures and dew points
    #[arg(long, value_name = "UNIT", default_value = "degC", value_parser = unit(&units::TEMPERATURE, units::TEMPERATURE_NAMES))]
    temperature_unit: Unit,
    /// Unit of their winds and gusts
    #[arg(long, value_name = "UNIT", default_value = "m/s", value_parser = unit(&units::WIND, units::WIND_NAMES))]
    wind_unit: Unit,
}

/// Reads degrees between minus and plus `MOST`.
fn within<const MOST: i16>(text: &str) -> Result<f64, String> {
    let degrees: f64 = text.parse().map_err(|_| "not a number of degrees".to_owned())?;
    let most = f64::from(MOST);
    let allowed = (-most..=most).contains(&degrees);
    if allowed { Ok(degrees) } else { Err(format!("allowed are {} to {MOST} degrees", -MOST)) }
}

/// Reads the name of a unit.
fn unit(units: &'static [Unit], names: &'static [&'static str]) -> impl clap::builder::TypedValueParser<Value = Unit> {
    PossibleValuesParser::new(names).map(|name| units::named(units, &name))
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Cut {
    Auto,
    Months,
    Seasons,
    Year,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum LayoutName {
    Detect,
    Csv,
    Tmy3,
    Epw,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum LabelName {
    Start,
    Middle,
    End,
}

/// Runs the command.
pub fn weather(arguments: &Arguments) -> Result<Exit, Failure> {
    match &arguments.command {
        Command::Show(show) => self::show(show),
        Command::Fit(fit) => self::fit(fit),
    }
}

fn read(path: &Path, reading: Reading) -> Result<ObservedRecord, Failure> {
    let layout = match reading.layout {
        LayoutName::Detect => Layout::Detect,
        LayoutName::Csv => Layout::Csv,
        LayoutName::Tmy3 => Layout::Tmy3,
        LayoutName::Epw => Layout::Epw,
    };
    let label = match reading.time_label {
        LabelName::Start => Label::Start,
        LabelName::Middle => Label::Middle,
        LabelName::End => Label::End,
    };
    let units = Units { rain: reading.rain_unit, temperature: reading.temperature_unit, wind: reading.wind_unit };
    Ok(ObservedRecord::read_as(path, layout, label, units)?)
}

/// Gaps of a record as a note; none if it has none.
fn gaps(record: &ObservedRecord) -> Option<String> {
    let counts = record.gap_report();
    // Columns that are not there at all are no gaps, nor is a gust that was not reported.
    let listed = counts.iter().take(4).filter(|gap| gap.count > 0);
    let listed: Vec<String> = listed
        .map(|gap| {
            let name = if gap.column == "time" { "absent rows" } else { gap.column };
            format!("{name} {} ({:.1} h)", gap.count, gap.hours)
        })
        .collect();
    (!listed.is_empty()).then(|| format!("missing: {}", listed.join(", ")))
}

fn show(show: &Show) -> Result<Exit, Failure> {
    if let Some(target) = &show.out {
        folder::check(target, report::SHOW)?;
    }
    let (mut told, mut records) = (Vec::new(), Vec::new());
    for path in &show.files {
        let name =
            path.file_stem().map_or_else(|| path.display().to_string(), |stem| stem.to_string_lossy().into_owned());
        let (record, mut notes) = if path.extension().is_some_and(|ending| ending == "toml") {
            let scenario = wiring::load(path)?.scenario;
            drawn(&scenario, show.years, show.seed)?
        } else {
            let record = read(path, show.reading)?;
            let notes = record.warnings().iter().cloned().chain(gaps(&record)).collect();
            (record, notes)
        };
        if record.step() > Span::HOUR {
            let hours = record.step().hours();
            notes.push(format!("steps of {hours} h: spells and all figures by the hour can't be told from them"));
        }
        told.push((name, notes));
        records.push(record);
    }
    let (summaries, gauge_mm) = weather_summary::summaries(&records);
    let several = records.len() > 1;
    let named = |((name, mut notes), summary): ((String, Vec<String>), weather_summary::Summary)| {
        if let Some(mm) = gauge_mm.filter(|_| several) {
            notes.push(format!(
                "rain by the hour as a gauge with steps of {} mm reports it, in all columns",
                significant(mm, 3)
            ));
        }
        Named { name, notes, summary }
    };
    let all: Vec<Named> = told.into_iter().zip(summaries).map(named).collect();
    output::print(&if show.json {
        report::json(&all, env!("CARGO_PKG_VERSION"))?
    } else {
        report::side_by_side(&all, output::setting())
    })?;
    if let Some(target) = &show.out {
        report::write(target, &all, env!("CARGO_PKG_VERSION"))?;
        output::say(&format!("drawings are in {}", target.display()));
    }
    Ok(Exit::Fine)
}

/// Whole calendar years of a scenario's weather, written down by the hour, with what there is to say about them.
fn drawn(scenario: &Scenario, years: u16, seed: u64) -> Result<(ObservedRecord, Vec<String>), Failure> {
    let record = match &scenario.weather {
        Weather::Observed(observed) => Some(ObservedRecord::load(observed)?),
        _ => None,
    };
    let mut notes = Vec::new();
    if let Some(record) = &record {
        notes.extend(record.warnings().iter().cloned());
        notes.extend(gaps(record));
        notes.extend(record.label_doubt(&scenario.site));
    }
    // Any 400 years in a row have all kinds of years; 2001 begins with an ordinary one.
    let first = record.as_ref().map_or(2_001, |_| scenario.calendar.first_day.year());
    if let (Some(record), Weather::Observed(observed)) = (&record, &scenario.weather) {
        let clock = LocalClock::new(&scenario.calendar, &scenario.site.time_zone)?;
        notes.extend(record.few_years(&clock, observed.years));
    }
    let mut seasons: Vec<(LocalClock, SeasonWeather)> = Vec::new();
    for number in 0..years {
        let year = first + number as i16;
        let calendar = Calendar { first_day: jiff::civil::date(year, 1, 1), last_day: jiff::civil::date(year, 12, 31) };
        let clock = LocalClock::new(&calendar, &scenario.site.time_zone)?;
        let weather = season_weather(scenario, record.as_ref(), &clock, seed, u64::from(number))?;
        seasons.push((clock, weather));
    }
    let written = weather_summary::written_down(&seasons)
        .ok_or_else(|| Failure::Message("the scenario's years can't be written down".to_owned()))?;
    Ok((written, notes))
}

fn fit(fit: &Fit) -> Result<Exit, Failure> {
    if fit.file.extension().is_some_and(|ending| ending == "toml") {
        let path = fit.file.display();
        return Err(Failure::Message(format!(
            "`{path}` is a scenario; a generator is fitted to an observed record (CSV, TMY3 or EPW)"
        )));
    }
    let record = read(&fit.file, fit.reading)?;
    let target = fit.out.clone().unwrap_or_else(|| beside(&fit.file));
    if !fit.force && target.exists() {
        let path = target.display();
        return Err(Failure::Message(format!(
            "`{path}` exists already; give another file with --out, or --force to overwrite it"
        )));
    }
    if let Some(folder) = &fit.report {
        folder::check(folder, report::FIT)?;
    }
    let site = fit.latitude.zip(fit.longitude).map(|(latitude_deg, longitude_deg)| Site {
        latitude_deg,
        longitude_deg,
        time_zone: "UTC".to_owned(),
        door_faces_deg: 0.0,
        wind_factor: 1.0,
    });
    for note in record.warnings().iter().cloned().chain(gaps(&record)) {
        output::say(&format!("warning: {note}"));
    }
    if let Some(doubt) = site.as_ref().and_then(|site| record.label_doubt(site)) {
        output::say(&format!("warning: {doubt}"));
    }
    let by = match fit.by {
        Cut::Auto => Periods::Auto,
        Cut::Months => Periods::Months,
        Cut::Seasons => Periods::Seasons,
        Cut::Year => Periods::Year,
    };
    let fitted = weather_fit::fit(&record, site.as_ref(), by)?;
    output::print(&if fit.json {
        report::fit_json(&fitted, env!("CARGO_PKG_VERSION"))?
    } else {
        report::fitted(&fitted, output::setting())
    })?;
    let name = fit.file.file_name().unwrap_or_default().to_string_lossy();
    if let Some(folder) = &fit.report {
        report::write_fit(folder, &name, &fitted, env!("CARGO_PKG_VERSION"))?;
        output::say(&format!("the report is in {}", folder.display()));
    }
    let part = format!(
        "# Weather fitted by dooryard {} to {name}: include it with include = [\"{}\"];\n\
         # beside an observed record (source = \"observed\") only its rain process, [weather.rain], is used\n{}",
        env!("CARGO_PKG_VERSION"),
        target.file_name().unwrap_or_default().to_string_lossy(),
        scenario::weather_part(&fitted.air, &fitted.rain)
    );
    file::write_new(&target, part.as_bytes(), fit.force)?;
    output::say(&format!("wrote {}", target.display()));
    Ok(Exit::Fine)
}

/// The file beside the record.
fn beside(record: &Path) -> PathBuf {
    let stem = record.file_stem().unwrap_or_default().to_string_lossy();
    record.with_file_name(format!("{stem}-weather.toml"))
}
