//! Texts about weather: what a record or generator is like, side by side, and what a fit achieved.

use std::path::Path;

use super::folder::{self, Item};
use super::number::{WITHHELD, significant, significant_or_dash};
use super::output::OutputError;
use super::plots;
use super::run_file;
use super::table::Table;
use super::text::Setting;
use crate::study::weather_fit::{Row, Tolerance, WeatherFit};
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

/// The summaries side by side.
pub fn side_by_side(all: &[Named], setting: Setting) -> String {
    let mut out = String::new();
    for one in all {
        let step = one.summary.step_h * 60.0;
        out.push_str(&format!(
            "{}: {} years, step {} min\n",
            one.name,
            significant(one.summary.years, 3),
            significant(step, 3)
        ));
        for note in &one.notes {
            out.push_str(&format!("  note: {note}\n"));
        }
    }
    let mut section = |title: &str, rows: &[(String, Vec<String>)]| {
        let headings: Vec<&str> = std::iter::once(title).chain(all.iter().map(|one| one.name.as_str())).collect();
        let mut table = Table::new(&headings);
        for (name, cells) in rows {
            table.row(std::iter::once(name.clone()).chain(cells.iter().cloned()).collect());
        }
        out.push('\n');
        out.push_str(&table.render(setting));
    };
    let cells = |value: &dyn Fn(&Summary) -> Option<f64>| -> Vec<String> {
        all.iter().map(|one| significant_or_dash(value(&one.summary), 3)).collect()
    };
    let row = |name: String, value: &dyn Fn(&Summary) -> Option<f64>| (name, cells(value));
    let months: Vec<_> = (0..12)
        .map(|month| {
            let with_range = |one: &Named| {
                let mean = significant_or_dash(one.summary.monthly_mm[month], 3);
                match one.summary.range_mm[month] {
                    Some((low, high)) if low < high => {
                        format!("{mean} ({} to {})", significant(low, 3), significant(high, 3))
                    }
                    _ => mean,
                }
            };
            (MONTHS[month].to_owned(), all.iter().map(with_range).collect())
        })
        .collect();
    section("rain in 30.4 d, mm", &months);
    let year = |s: &Summary| {
        let known: Vec<f64> = s.monthly_mm.iter().flatten().copied().collect();
        (known.len() == 12).then(|| known.iter().sum())
    };
    let spells = vec![
        row("rain in a year, mm".to_owned(), &year),
        row("share of hours wet, %".to_owned(), &|s| Some(100.0 * s.wet_hours)),
        row("wet spell: mean, h".to_owned(), &|s| weather_summary::mean(&s.runs.wet)),
        row("wet spell: 9 of 10 at most, h".to_owned(), &|s| weather_summary::quantile(&s.runs.wet, 0.9)),
        row("dry spell: mean, h".to_owned(), &|s| weather_summary::mean(&s.runs.dry)),
        row("dry spell: 9 of 10 at most, h".to_owned(), &|s| weather_summary::quantile(&s.runs.dry, 0.9)),
        row("dry spell: longest, d".to_owned(), &|s| weather_summary::quantile(&s.runs.dry, 1.0).map(|h| h / 24.0)),
    ];
    section("spells (hours of 0.1 mm or more)", &spells);
    let mut depths: Vec<_> = DEPTHS_MM
        .iter()
        .enumerate()
        .map(|(index, mm)| row(format!("at least {mm} mm, h/yr"), &move |s| Some(8_766.0 * s.exceeded[index])))
        .collect();
    depths.push(row("largest hour, mm".to_owned(), &|s| s.depths_mm.last().copied()));
    section("hourly depths", &depths);
    const HOURS: [usize; 8] = [0, 3, 6, 9, 12, 15, 18, 21];
    let through = |value: &dyn Fn(&Summary, usize) -> Option<f64>| -> Vec<_> {
        HOURS.iter().map(|hour| row(format!("{hour:02} h to {:02} h", hour + 1), &|s| value(s, *hour))).collect()
    };
    section("temperature by hour of the day, °C", &through(&|s, hour| s.day.temperature_c[hour]));
    section("wind by hour of the day, m/s", &through(&|s, hour| s.day.wind_m_s[hour]));
    section("rain by hour of the day, mm/yr", &through(&|s, hour| s.day.rain_mm[hour].map(|mm| 365.25 * mm)));
    let mut wind = vec![row("mean wind, m/s".to_owned(), &|s| s.wind_m_s)];
    for (index, years) in RETURN_YEARS.iter().enumerate() {
        wind.push(row(format!("gust once in {years} years, m/s"), &move |s| s.gusts_m_s.map(|levels| levels[index])));
    }
    section("wind", &wind);
    out
}

/// Writes a folder with the text and the drawings, each with its figures.
///
/// # Errors
/// If the folder is not ours or can't be written, or a drawing fails.
pub fn write(target: &Path, all: &[Named], version: &str) -> Result<(), OutputError> {
    let figures = plots::weather(all)?;
    let text = side_by_side(all, Setting { width: 100, plain: false });
    let mut items = vec![Item::new("weather.txt", |out| out.write_all(text.as_bytes()))];
    for figure in &figures {
        items.push(Item::new(format!("{}.svg", figure.name), |out| out.write_all(figure.svg.as_bytes())));
        items.push(Item::new(format!("{}.csv", figure.name), |out| out.write_all(&figure.csv)));
    }
    let mut names: Vec<String> = items.iter().map(|item| item.name.clone()).collect();
    names.push(run_file::NAME.to_owned());
    items.push(Item::new(run_file::NAME, move |out| {
        let text = run_file::plain("weather", version, &names).map_err(std::io::Error::other)?;
        out.write_all(text.as_bytes())
    }));
    Ok(folder::write(target, items)?)
}

/// What a fit achieved, row by row, with its verdicts.
pub fn fitted(fit: &WeatherFit, setting: Setting) -> String {
    let mut out = String::new();
    match fit.bucket_mm {
        Some(mm) => out.push_str(&format!("rain gauge: steps of {} mm, corrected for\n", significant(mm, 3))),
        None => out.push_str("rain gauge: no steps found\n"),
    }
    for note in &fit.notes {
        out.push_str(&format!("note: {note}\n"));
    }
    let (mut agreed, mut asked) = (0, 0);
    for one in &fit.periods {
        out.push('\n');
        let Some(rain) = &one.rain else {
            out.push_str(&format!("{}: too little observed\n", one.period.name));
            continue;
        };
        if rain.rows.is_empty() {
            out.push_str(&format!("{}: no rain was observed\n", one.period.name));
            continue;
        }
        let mut table = Table::new(&[one.period.name, "observed", "fitted", "off by", "verdict"]).left(4);
        for row in &rain.rows {
            table.row(cells(row));
            asked += u32::from(row.agrees().is_some());
            agreed += u32::from(row.agrees() == Some(true));
        }
        out.push_str(&table.render(setting));
    }
    out.push_str(&format!(
        "\n{agreed} of {asked} rows agree. A record of few years is itself a sample: its own statistics would differ from\n\
         another decade's by about as much as the fitted ones do. Lag-1 correlations are fitted but not judged.\n"
    ));
    out
}

fn cells(row: &Row) -> Vec<String> {
    let unit = if row.unit.is_empty() { String::new() } else { format!(", {}", row.unit) };
    let difference = row.difference();
    let difference = if difference.is_finite() && row.observed > 0.0 {
        format!("{:+.0} %", 100.0 * difference)
    } else {
        WITHHELD.to_owned()
    };
    let verdict = match (row.tolerance, row.agrees()) {
        (Tolerance::Within(most), Some(true)) => format!("agrees within {:.0} %", 100.0 * most),
        (Tolerance::Within(most), _) => format!("misses {:.0} %", 100.0 * most),
        (Tolerance::None, _) => String::new(),
    };
    vec![format!("{}{unit}", row.name), significant(row.observed, 3), significant(row.fitted, 3), difference, verdict]
}
