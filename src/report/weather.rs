//! Texts about weather: what a record or generator is like, side by side, and what a fit achieved.

use std::io;
use std::path::Path;

use super::csv::{Sink, writer};
use super::folder::{self, Item};
use super::json_tables::{self, Source};
use super::number::{GLUE, WITHHELD, exact, exact_or_empty, significant, significant_or_dash, with_unit};
use super::output::OutputError;
use super::page;
use super::plots;
use super::table::{Cell, Table};
use super::text::{Setting, paragraph};
use crate::study::weather_fit::{PeriodFit, Row, Tolerance, WeatherFit};
use crate::study::weather_summary::{self, DEPTHS_MM, RETURN_YEARS, Summary};

/// A summary and what to call it.
pub struct Named {
    /// Column heading.
    pub name: String,
    /// What the reader should know about it: gaps, doubts, assumptions.
    pub notes: Vec<String>,
    /// The summary.
    pub summary: Summary,
}

/// Names of months, as columns and axes show them.
pub const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// One figure of all summaries: its name and unit, and for each summary the value with its range (see [`legend`]).
struct Quantity {
    name: String,
    values: Vec<Option<f64>>,
    ranges: Vec<Option<(f64, f64)>>,
}

/// Quantities under a title.
struct Group {
    title: &'static str,
    rows: Vec<Quantity>,
}

/// Hours of the day that are told.
const HOURS: [usize; 8] = [0, 3, 6, 9, 12, 15, 18, 21];

/// All figures, in the order of the reports.
fn groups(all: &[Named]) -> Vec<Group> {
    let row = |name: String, value: &dyn Fn(&Summary) -> Option<f64>| Quantity {
        name,
        values: all.iter().map(|one| value(&one.summary)).collect(),
        ranges: vec![None; all.len()],
    };
    let month = |month: usize| Quantity {
        ranges: all.iter().map(|one| one.summary.range_mm[month].filter(|(low, high)| low < high)).collect(),
        ..row(MONTHS[month].to_owned(), &|s| s.monthly_mm[month])
    };
    let spells = vec![
        row("rain in a year, mm".to_owned(), &yearly_mm),
        row("share of hours wet, %".to_owned(), &|s| s.wet_hours.map(|share| 100.0 * share)),
        row("wet spell: mean, h".to_owned(), &|s| weather_summary::mean(&s.runs.wet)),
        row("wet spell: 9 of 10 at most, h".to_owned(), &|s| weather_summary::quantile(&s.runs.wet, 0.9)),
        row("dry spell: mean, h".to_owned(), &|s| weather_summary::mean(&s.runs.dry)),
        row("dry spell: 9 of 10 at most, h".to_owned(), &|s| weather_summary::quantile(&s.runs.dry, 0.9)),
        row("dry spell: longest, d".to_owned(), &|s| weather_summary::quantile(&s.runs.dry, 1.0).map(|h| h / 24.0)),
    ];
    let mut depths: Vec<_> = DEPTHS_MM
        .iter()
        .enumerate()
        .map(|(index, mm)| {
            row(format!("at least {mm} mm, h/yr"), &move |s| s.exceeded.map(|shares| 8_766.0 * shares[index]))
        })
        .collect();
    depths.push(row("largest hour, mm".to_owned(), &|s| s.depths_mm.last().copied()));
    let through = |value: &dyn Fn(&Summary, usize) -> Option<f64>| -> Vec<_> {
        HOURS.iter().map(|hour| row(format!("{hour:02} h to {:02} h", hour + 1), &|s| value(s, *hour))).collect()
    };
    let mut wind = vec![row("mean wind, m/s".to_owned(), &|s| s.wind_m_s)];
    for (index, years) in RETURN_YEARS.iter().enumerate() {
        let level = |one: &Named| one.summary.gusts_m_s.map(|levels| levels[index]);
        wind.push(Quantity {
            name: format!("gust once in {years} years, m/s"),
            values: all.iter().map(|one| level(one).map(|level| level.m_s)).collect(),
            ranges: all.iter().map(|one| level(one).map(|level| level.interval_m_s)).collect(),
        });
    }
    let group = |title, rows| Group { title, rows };
    vec![
        group("rain in 30.4 d, mm", (0..12).map(month).collect()),
        group("spells (hours of 0.1 mm or more)", spells),
        group("hourly depths", depths),
        group("temperature by hour of the day, °C", through(&|s, hour| s.day.temperature_c[hour])),
        group("wind by hour of the day, m/s", through(&|s, hour| s.day.wind_m_s[hour])),
        group("rain by hour of the day, mm/yr", through(&|s, hour| s.day.rain_mm[hour].map(|mm| 365.25 * mm))),
        group("wind", wind),
    ]
}

/// What stands in brackets.
pub(super) fn legend() -> [&'static str; 2] {
    [
        "In brackets behind the rain of a month: the driest and the wettest such month of the record, in 30.4 d as well. That is a \
         spread, not an interval.",
        "In brackets behind a gust: 95 % of a Gumbel law through the largest gusts of the record's months, which takes all months for \
         alike. A level for many more years than were observed is an extrapolation.",
    ]
}

/// What each summary is of, in a sentence, with its notes.
pub(super) fn described(all: &[Named]) -> Vec<(String, &[String])> {
    let one = |one: &Named| {
        let step = one.summary.step_h * 60.0;
        format!("{}: {} years, step {} min", one.name, significant(one.summary.years, 3), significant(step, 3))
    };
    all.iter().map(|named| (one(named), named.notes.as_slice())).collect()
}

/// What the weather is like, a sentence for each summary: how wet, how windy. Then how each further one differs from the first.
pub(super) fn answers(all: &[Named]) -> Vec<String> {
    let mut out: Vec<String> = all.iter().map(|one| like(&one.name, &one.summary)).collect();
    if let Some((first, others)) = all.split_first() {
        out.extend(others.iter().map(|other| against(other, first)));
    }
    out
}

/// Rain in a year, mm; none unless every month is known.
fn yearly_mm(summary: &Summary) -> Option<f64> {
    let known: Vec<f64> = summary.monthly_mm.iter().flatten().copied().collect();
    (known.len() == summary.monthly_mm.len()).then(|| known.iter().sum())
}

/// Place of the return period that answers name: once in ten years.
const NAMED_GUST: usize = 2;

fn gust_m_s(summary: &Summary) -> Option<f64> {
    summary.gusts_m_s.map(|levels| levels[NAMED_GUST].m_s)
}

fn like(name: &str, summary: &Summary) -> String {
    let mut parts = Vec::new();
    parts.extend(yearly_mm(summary).map(|mm| format!("{} of rain in a year", with_unit(&significant(mm, 3), "mm"))));
    parts.extend(summary.wet_hours.map(|share| format!("{} of the hours are wet", percent_of(share))));
    let longest = weather_summary::quantile(&summary.runs.dry, 1.0);
    parts.extend(longest.map(|h| format!("the longest dry spell is {}", with_unit(&significant(h / 24.0, 2), "d"))));
    parts.extend(
        summary.wind_m_s.map(|wind| format!("the wind is {} on average", with_unit(&significant(wind, 2), "m/s"))),
    );
    let gust = gust_m_s(summary);
    parts.extend(gust.map(|gust| {
        format!(
            "a gust of {} comes once in {} years",
            with_unit(&significant(gust, 3), "m/s"),
            RETURN_YEARS[NAMED_GUST]
        )
    }));
    format!("{name}: {}.", parts.join(", "))
}

/// What differs, as a percentage of the first.
fn against(other: &Named, first: &Named) -> String {
    let (a, b) = (&other.summary, &first.summary);
    let compared = |what: &str, a: Option<f64>, b: Option<f64>| {
        let (a, b) = (a?, b.filter(|b| *b > 0.0)?);
        let by = (100.0 * (a / b - 1.0)).round();
        let more = if by < 0.0 { "less" } else { "more" };
        Some(if by == 0.0 { format!("as much {what}") } else { format!("{}{GLUE}% {more} {what}", by.abs()) })
    };
    let parts: Vec<String> = [
        compared("rain", yearly_mm(a), yearly_mm(b)),
        compared("wet time", a.wet_hours, b.wet_hours),
        compared("wind on average", a.wind_m_s, b.wind_m_s),
        compared("wind in that gust", gust_m_s(a), gust_m_s(b)),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        return format!("{} and {} have nothing in common that could be compared.", other.name, first.name);
    }
    format!("{} against {}: {}.", other.name, first.name, parts.join(", "))
}

fn percent_of(share: f64) -> String {
    format!("{}{GLUE}%", significant(100.0 * share, 2))
}

/// All figures as tables with their titles; they are those of `weather.csv`.
pub(super) fn tables(all: &[Named]) -> Vec<(&'static str, Table)> {
    let table = |group: Group| {
        let headings: Vec<&str> = std::iter::once(group.title).chain(all.iter().map(|one| one.name.as_str())).collect();
        let mut table = Table::new(&headings).of("weather.csv", &["group", "quantity"]);
        for quantity in group.rows {
            let figures = quantity.values.iter().zip(&quantity.ranges).zip(all).map(|((value, range), one)| {
                let mean = significant_or_dash(*value, 3);
                let shown = range.map_or(mean.clone(), |(low, high)| {
                    format!("{mean} ({} to {})", significant(low, 3), significant(high, 3))
                });
                Cell::new(shown).perhaps(&one.name, *value)
            });
            let cells = std::iter::once(Cell::new(&quantity.name)).chain(figures).collect();
            table.keyed(vec![group.title.to_owned(), quantity.name.clone()], cells);
        }
        (group.title, table)
    };
    groups(all).into_iter().map(table).collect()
}

/// The summaries side by side.
pub fn side_by_side(all: &[Named], setting: Setting) -> String {
    let mut out = String::new();
    answers(all).iter().for_each(|answer| paragraph(&mut out, answer, setting.room()));
    out.push('\n');
    for (what, notes) in described(all) {
        out.push_str(&format!("{what}\n"));
        notes.iter().for_each(|note| out.push_str(&format!("  note: {note}\n")));
    }
    for (title, table) in tables(all) {
        // The title heads the first column; by ear it is said once, not in each row.
        let table = if setting.plain { table.headed("") } else { table };
        out.push_str(&if setting.plain { format!("\n{title}\n") } else { "\n".to_owned() });
        out.push_str(&table.render(setting));
    }
    out.push('\n');
    legend().iter().for_each(|line| paragraph(&mut out, line, setting.room()));
    out
}

/// `weather.csv`: one row per figure, one column per summary, with the ends of what stands in brackets in the text.
pub fn csv(all: &[Named], sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    let mut head = vec!["group".to_owned(), "quantity".to_owned()];
    for one in all {
        head.extend([one.name.clone(), format!("{} low", one.name), format!("{} high", one.name)]);
    }
    out.write_record(&head)?;
    for group in groups(all) {
        for quantity in group.rows {
            let mut row = vec![group.title.to_owned(), quantity.name.clone()];
            for (value, range) in quantity.values.iter().zip(&quantity.ranges) {
                row.extend([*value, range.map(|it| it.0), range.map(|it| it.1)].map(exact_or_empty));
            }
            out.write_record(&row)?;
        }
    }
    out.flush()
}

/// The summaries as one JSON document of the layout `dooryard-weather-show/1`.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn json(all: &[Named], version: &str) -> io::Result<String> {
    let described = described(all);
    let answer = answers(all);
    let mut notes: Vec<String> = described.iter().flat_map(|(_, notes)| notes.iter().cloned()).collect();
    notes.extend(legend().map(str::to_owned));
    let sources = [Source { name: "weather", texts: &["group", "quantity"], write: &|out: Sink| csv(all, out) }];
    json_tables::document("dooryard-weather-show/1", version, &answer, None, &notes, &sources)
}

/// A fit as one JSON document of the layout `dooryard-weather-fit/1`.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn fit_json(fit: &WeatherFit, version: &str) -> io::Result<String> {
    let sources =
        [Source { name: "fit", texts: &["period", "statistic", "unit"], write: &|out: Sink| fit_csv(fit, out) }];
    let answer = [score(fit).replace('\n', " ").trim_end().to_owned()];
    json_tables::document("dooryard-weather-fit/1", version, &answer, None, &fit.notes, &sources)
}

/// Name of the command that looks at weather, in the folders that it writes.
pub const SHOW: &str = "weather";
/// The same of the one that fits a generator.
pub const FIT: &str = "weather fit";

/// Writes a folder with the text, the page and the drawings, each with its figures.
///
/// # Errors
/// If the folder is not ours or can't be written, or a drawing fails.
pub fn write(target: &Path, all: &[Named], version: &str) -> Result<(), OutputError> {
    let figures = plots::weather(all)?;
    let text = side_by_side(all, Setting { width: 100, plain: false });
    let page = page::weather::page(all, &figures, version);
    let mut items = vec![
        Item::new("weather.txt", |out| out.write_all(text.as_bytes())),
        Item::new("report.html", |out| out.write_all(page.as_bytes())),
        Item::new("weather.csv", |out| csv(all, out)),
    ];
    items.extend(figures.iter().flat_map(folder::drawn));
    Ok(folder::write_plain(target, SHOW, version, items)?)
}

/// Writes a folder with a fit's text, page and figures.
///
/// # Errors
/// If the folder is not ours or can't be written.
pub fn write_fit(target: &Path, record: &str, fit: &WeatherFit, version: &str) -> Result<(), OutputError> {
    let text = fitted(fit, Setting { width: 100, plain: false });
    let figures = [plots::agreement(fit)?];
    let page = page::weather::fit_page(record, fit, &figures, version);
    let mut items = vec![
        Item::new("fit.txt", |out| out.write_all(text.as_bytes())),
        Item::new("report.html", |out| out.write_all(page.as_bytes())),
        Item::new("fit.csv", |out| fit_csv(fit, out)),
    ];
    items.extend(figures.iter().flat_map(folder::drawn));
    Ok(folder::write_plain(target, FIT, version, items)?)
}

/// What a fit achieved, row by row, with its verdicts.
pub fn fitted(fit: &WeatherFit, setting: Setting) -> String {
    let mut out = wrapped(&score(fit), setting);
    out.push_str(&format!("\n{}\n", gauge(fit)));
    fit.notes.iter().for_each(|note| out.push_str(&format!("note: {note}\n")));
    for one in &fit.periods {
        out.push('\n');
        match fit_table(one) {
            Ok(table) => out.push_str(&table.render(setting)),
            Err(why) => out.push_str(&format!("{why}\n")),
        }
    }
    out
}

/// What is known of the rain gauge.
pub(super) fn gauge(fit: &WeatherFit) -> String {
    match fit.bucket_mm {
        Some(mm) => format!("rain gauge: steps of {} mm, corrected for", significant(mm, 3)),
        None => "rain gauge: no steps found".to_owned(),
    }
}

/// Rows that agree, and rows that are judged.
pub(super) fn agreed(fit: &WeatherFit) -> (usize, usize) {
    let rows = || fit.periods.iter().filter_map(|one| one.rain.as_ref()).flat_map(|rain| &rain.rows);
    let count = |wanted: fn(&Row) -> bool| rows().filter(|row| wanted(row)).count();
    (count(|row| row.agrees() == Some(true)), count(|row| row.agrees().is_some()))
}

/// How many rows agree, and what to make of it.
pub(super) fn score(fit: &WeatherFit) -> String {
    let (agreed, asked) = agreed(fit);
    format!(
        "{agreed} of {asked} rows agree. A record of few years is itself a sample: its own statistics would differ from\n\
         another decade's by about as much as the fitted ones do. Lag-1 correlations are fitted but not judged.\n"
    )
}

fn wrapped(text: &str, setting: Setting) -> String {
    if setting.plain { format!("{}\n", text.replace('\n', " ").trim_end()) } else { text.to_owned() }
}

/// A period's statistics, or why there are none.
pub(super) fn fit_table(one: &PeriodFit) -> Result<Table, String> {
    let Some(rain) = &one.rain else { return Err(format!("{}: too little observed", one.period.name)) };
    if rain.rows.is_empty() {
        return Err(format!("{}: no rain was observed", one.period.name));
    }
    let mut table = Table::new(&[one.period.name, "observed", "fitted", "off by", "verdict"])
        .left(4)
        .of("fit.csv", &["period", "statistic"]);
    for row in &rain.rows {
        table.keyed(vec![one.period.name.to_owned(), row.name.clone()], cells(row));
    }
    Ok(table)
}

/// `fit.csv`: one row per period and statistic.
pub fn fit_csv(fit: &WeatherFit, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["period", "statistic", "unit", "observed", "fitted", "tolerance", "agrees"])?;
    for one in &fit.periods {
        for row in one.rain.iter().flat_map(|rain| &rain.rows) {
            let tolerance = match row.tolerance {
                Tolerance::Within(most) => exact(most),
                Tolerance::None => String::new(),
            };
            let agrees = row.agrees().map(|agrees| agrees.to_string()).unwrap_or_default();
            let figures = [row.observed, row.fitted].map(exact);
            out.write_record([one.period.name, &row.name, row.unit, &figures[0], &figures[1], &tolerance, &agrees])?;
        }
    }
    out.flush()
}

fn cells(row: &Row) -> Vec<Cell> {
    let unit = if row.unit.is_empty() { String::new() } else { format!(", {}", row.unit.replace("mm2", "mm²")) };
    let difference = row.difference();
    let difference = if difference.is_finite() && row.observed > 0.0 {
        // No sign before what rounds to nothing.
        let percent = (100.0 * difference).round();
        if percent == 0.0 { "0 %".to_owned() } else { format!("{percent:+.0} %") }
    } else {
        WITHHELD.to_owned()
    };
    let verdict = match (row.tolerance, row.agrees()) {
        (Tolerance::Within(most), Some(true)) => format!("agrees within {:.0} %", 100.0 * most),
        (Tolerance::Within(most), _) => format!("misses {:.0} %", 100.0 * most),
        (Tolerance::None, _) => String::new(),
    };
    let agrees = row.agrees().map(|agrees| agrees.to_string()).unwrap_or_default();
    vec![
        Cell::new(format!("{}{unit}", row.name)),
        Cell::new(significant(row.observed, 3)).figure("observed", row.observed),
        Cell::new(significant(row.fitted, 3)).figure("fitted", row.fitted),
        difference.into(),
        Cell::new(verdict).field("agrees", agrees),
    ]
}
