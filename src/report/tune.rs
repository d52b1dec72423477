//! Reports of a tuning.

use std::io;
use std::path::Path;

use super::csv::{Sink, writer};
use super::folder::{self, Item};
use super::json_tables::{self, Source};
use super::number::{self, exact, exact_or_empty};
use super::output::OutputError;
use super::page;
use super::plots::scatter::{Point, Scatter, scatter, staircase};
use super::plots::{Figure, PlotError, finished};
use super::study_file::{self, Study};
use super::table::{Cell, Table, hang};
use super::text::{self, Setting};
use super::words;
use crate::study::objective::{Aim, mean_cost};
use crate::study::sweep::TRADED;
use crate::study::tune::Tuned;

/// Values of the numbers at a point, or of the scenario as it is; none where that says nothing.
pub type Places<'a> = dyn Fn(&Option<Vec<f64>>) -> Option<Vec<f64>> + 'a;

/// What the reports say besides the result.
pub struct Told<'a> {
    /// The study.
    pub study: &'a Study,
    /// Strategy that was tuned.
    pub strategy: &'a str,
    /// Confidence of each interval and of the race.
    pub confidence: f64,
    /// The objective.
    pub aim: &'a Aim,
    /// Paths of the numbers.
    pub paths: Vec<&'a str>,
    /// Those that other strategies of the scenario share.
    pub shared: Vec<&'a str>,
    /// Their ranges.
    pub ranges: Vec<(f64, f64)>,
    /// Their values in the scenario as it is; none where it says nothing.
    pub current: Vec<Option<f64>>,
    /// How many values each whole number has; none for others.
    pub whole: &'a [Option<u64>],
    /// Their best values; none if the scenario as it is was best.
    pub best: Option<Vec<f64>>,
    /// Values at a point; none where the scenario as it is says nothing.
    pub places: &'a Places<'a>,
    /// A number's value as text with its unit.
    pub show: &'a dyn Fn(usize, f64) -> String,
    /// A scenario file with the best values; none if nothing is better than the scenario as it is.
    pub part: Option<String>,
}

/// Writes the whole output folder, or nothing.
///
/// # Errors
/// If a file can't be written or a plot can't be drawn.
pub fn write(target: &Path, tuned: &Tuned, told: &Told) -> Result<(), OutputError> {
    let figures = vec![figure(tuned, told)?];
    let mut items = vec![
        Item::new("summary.txt", move |out| out.write_all(report(tuned, told, Setting::default()).as_bytes())),
        Item::new("report.html", |out| out.write_all(page::tune::page(tuned, told, &figures).as_bytes())),
        Item::new("settings.csv", move |out| numbers(told, out)),
        Item::new("tried.csv", move |out| tried(tuned, told, out)),
        Item::new("confirmation.csv", move |out| confirmation(tuned, told, out)),
    ];
    if let Some(part) = &told.part {
        items.push(Item::new("tuned.toml", move |out| out.write_all(part.as_bytes())));
    }
    study_file::finish(&mut items, &figures, told.study);
    Ok(folder::write(target, told.study.command, items)?)
}

/// The tuning as one JSON document of the layout `dooryard-tune/1`.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn json(tuned: &Tuned, told: &Told) -> io::Result<String> {
    let sources = [
        Source { name: "settings", texts: &["number"], write: &|out: Sink| numbers(told, out) },
        Source { name: "tried", texts: &[], write: &|out: Sink| tried(tuned, told, out) },
        Source { name: "confirmation", texts: &[], write: &|out: Sink| confirmation(tuned, told, out) },
        Source { name: "limits", texts: &["limit", "verdict", "evidence"], write: &|out: Sink| limits(tuned, out) },
    ];
    let version = told.study.version;
    json_tables::document(
        "dooryard-tune/1",
        version,
        &[answer(tuned, told)],
        Some(told.study),
        &told.study.warnings,
        &sources,
    )
}

/// Verdicts of the confirmation.
fn limits(tuned: &Tuned, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["limit", "verdict", "evidence"])?;
    for (verdict, what, why) in words::verdicts(&tuned.confirmation.limits, &tuned.confirmation.risks) {
        out.write_record([what.as_str(), words::verdict(verdict), &why])?;
    }
    out.flush()
}

/// The report as text.
pub fn report(tuned: &Tuned, told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    let paragraph = |out: &mut String, text: &str| text::paragraph(out, text, width);
    paragraph(&mut out, &opening(tuned, told));
    text::warnings(&mut out, &told.study.warnings, width);
    out.push('\n');
    paragraph(&mut out, &answer(tuned, told));
    out.push('\n');
    out.push_str(&settings(tuned, told).render(setting));
    out.push('\n');
    for (verdict, what, why) in words::verdicts(&tuned.confirmation.limits, &tuned.confirmation.risks) {
        let word = words::verdict(verdict);
        let word = if setting.plain { format!("{word}: ") } else { format!("  {word:<9}  ") };
        out.push_str(&hang(&word, &format!("{what} ({why})"), width));
    }
    out.push('\n');
    out.push_str(&trades(tuned, told).render(setting));
    out.push('\n');
    paragraph(&mut out, &legend(tuned, told));
    if told.part.is_some() {
        paragraph(&mut out, PART);
    }
    out
}

/// What `tuned.toml` is.
pub(super) const PART: &str = "tuned.toml is a scenario with these numbers: play it, or copy them.";

pub(super) fn opening(tuned: &Tuned, told: &Told) -> String {
    format!(
        "{}, strategy {}: {} settings tried in {} generations, {} plays in all, seed {}. dooryard {}.",
        told.study.scenarios.iter().map(|scenario| scenario.name.as_str()).collect::<Vec<_>>().join(", "),
        told.strategy,
        number::whole(tuned.tried.len() as u64),
        tuned.generations,
        number::whole(tuned.plays),
        told.study.seed,
        told.study.version
    )
}

pub(super) fn legend(tuned: &Tuned, told: &Told) -> String {
    format!(
        "May move: how far each number alone may go, in the steps that were tried, before the objective is worse by \
             {} per season or another limit breaks, on {}; a + says that no worse place was found on that side. The last \
             table is the front of the search: no setting tried that keeps the limits is better in both; its figures rest on \
             the few seasons of the search and are not confirmed. {}",
        number::significant(tuned.worse_by, 3),
        number::counted(tuned.flat_seasons, "season"),
        words::common_causes_of(told.study)
    )
}

pub(super) fn answer(tuned: &Tuned, told: &Told) -> String {
    let Some(_) = &told.best else {
        return "Nothing that was tried is better than the scenario as it is.".to_string();
    };
    let confirmed = &tuned.confirmation;
    let [best, current] = [&confirmed.best, &confirmed.current].map(|records| {
        let cost = mean_cost(&told.aim.costs(records), told.confidence);
        let interval = cost.interval.map_or(String::new(), |it| {
            format!(" ({} to {})", number::significant(it.low, 3), number::significant(it.high, 3))
        });
        format!("{}{interval}", number::significant(cost.mean, 3))
    });
    let what = told.aim.metric.map_or("cost".to_string(), words::heading);
    let difference = &confirmed.difference;
    let matters = told.aim.indifference.is_none_or(|zone| difference.difference <= -zone);
    let sure = match difference.interval {
        Some(it) if it.high < 0.0 && matters => "the setting found is better, and that is no chance",
        Some(it) if it.high < 0.0 => "the setting found is better, but by less than the objective's indifference",
        Some(it) if it.low > 0.0 => "the setting found is worse there",
        _ => "the two can't be told apart",
    };
    let interval = difference.interval.map_or(String::new(), |it| {
        format!(" ({} to {})", number::significant(it.low, 3), number::significant(it.high, 3))
    });
    let alone = if tuned.sole {
        ""
    } else {
        " Other settings found are as good as far as the final race can say; this one had the smallest mean."
    };
    format!(
        "On {} that the search has not seen, {what} per season is {best}, against {current} as the scenario is: difference \
         {}{interval}, {} confidence; {sure}.{alone}{}{}",
        number::counted(confirmed.best.len() as u64, "season"),
        number::significant(difference.difference, 3),
        number::percent(told.confidence),
        edges(told),
        shared(told)
    )
}

/// Which numbers are best at an end of the range that was given: a wider one may hold a better place. Within a hundredth of
/// the range, or the last whole number.
fn edges(told: &Told) -> String {
    let Some(best) = &told.best else { return String::new() };
    let at_end = |index: &usize| {
        let (low, high) = told.ranges[*index];
        let near = if told.whole[*index].is_some() { 0.5 } else { 0.01 * (high - low) };
        (best[*index] - low).min(high - best[*index]) < near
    };
    let ends: Vec<&str> = (0..best.len()).filter(at_end).map(|index| told.paths[index]).collect();
    match ends.len() {
        0 => String::new(),
        _ => format!(" At an end of its range, beyond which it may get better still: {}.", ends.join(", ")),
    }
}

/// What the part changes for strategies that were not tuned.
fn shared(told: &Told) -> String {
    if told.shared.is_empty() || told.best.is_none() {
        return String::new();
    }
    format!(
        " The part changes {} for every strategy of the scenario, and only {} was played: run `dooryard check` on it before \
         another one is used.",
        told.shared.join(", "),
        told.strategy
    )
}

pub(super) fn settings(tuned: &Tuned, told: &Told) -> Table {
    let mut table = Table::new(&["number", "as it is", "best", "may move"]).of("settings.csv", &["number"]);
    for (index, path) in told.paths.iter().enumerate() {
        let show = |value: Option<f64>| {
            value.map_or(number::WITHHELD.to_string(), |value| (told.show)(index, rounded(value, told.ranges[index])))
        };
        let best = told.best.as_ref().map(|best| best[index]).or(told.current[index]);
        let moves = match (tuned.flat.get(index), best) {
            (Some(flat), Some(best)) => {
                let (low, high) = told.ranges[index];
                // Of a whole number, the range holds one value more than its width.
                let width = told.whole[index].map_or(high - low, |count| count as f64);
                let end = |side: usize, sign: f64| {
                    let value = (best + sign * flat.moves[side] * width).clamp(low, high);
                    let value = if told.whole[index].is_some() { value.round() } else { value };
                    let open = if flat.bounded[side] { "" } else { "+" };
                    format!("{}{open}", (told.show)(index, rounded(value, told.ranges[index])))
                };
                format!("{} to {}", end(0, -1.0), end(1, 1.0))
            }
            _ => number::WITHHELD.to_string(),
        };
        table.keyed(
            vec![(*path).to_string()],
            vec![
                Cell::new(*path),
                Cell::new(show(told.current[index])).perhaps("as_it_is", told.current[index]),
                Cell::new(show(best)).perhaps("best", best),
                moves.into(),
            ],
        );
    }
    table
}

/// A value with the digits that its range makes worth showing: a thousandth of it.
fn rounded(value: f64, (low, high): (f64, f64)) -> f64 {
    let step = 10.0_f64.powf(((high - low).abs().max(1e-12) / 1000.0).log10().floor());
    let rounded = (value / step).round() * step;
    format!("{rounded:.9e}").parse().unwrap_or(value)
}

/// Name of the column of what is traded.
fn column(index: usize) -> &'static str {
    TRADED[index].metric().key
}

pub(super) fn trades(tuned: &Tuned, told: &Told) -> Table {
    let traded = TRADED.map(words::heading);
    let mut headings = vec![traded[0].as_str(), traded[1].as_str(), "objective", "seasons"];
    headings.extend(&told.paths);
    let mut table = Table::new(&headings).of("tried.csv", &["tried"]);
    let mut front = tuned.front.clone();
    front.sort_by(|a, b| tuned.tried[*a].tradeoff[0].total_cmp(&tuned.tried[*b].tradeoff[0]));
    for index in front {
        let tried = &tuned.tried[index];
        let figures = [(column(0), tried.tradeoff[0]), (column(1), tried.tradeoff[1]), ("cost", tried.cost)];
        let figures = figures.map(|(column, value)| Cell::new(number::significant(value, 3)).figure(column, value));
        let mut row = figures.to_vec();
        row.push(Cell::new(tried.seasons.to_string()).field("seasons", tried.seasons.to_string()));
        match (told.places)(&tried.point) {
            Some(values) => row.extend(values.iter().enumerate().map(|(index, value)| {
                Cell::new((told.show)(index, rounded(*value, told.ranges[index]))).figure(told.paths[index], *value)
            })),
            None => row.extend(told.paths.iter().map(|_| Cell::new(number::WITHHELD))),
        }
        table.keyed(vec![index.to_string()], row);
    }
    table
}

/// `settings.csv`: the numbers as they are and at their best.
fn numbers(told: &Told, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["number", "as_it_is", "best", "low", "high"])?;
    for (index, path) in told.paths.iter().enumerate() {
        let best = told.best.as_ref().map(|best| best[index]).or(told.current[index]);
        let (low, high) = told.ranges[index];
        let figures = [told.current[index], best, Some(low), Some(high)].map(exact_or_empty);
        out.write_record([(*path).to_string()].into_iter().chain(figures))?;
    }
    out.flush()
}

fn tried(tuned: &Tuned, told: &Told, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    let mut head = vec!["tried", "seasons", "cost", "limits_broken_by", column(0), column(1), "on_front"];
    head.extend(&told.paths);
    out.write_record(&head)?;
    for (index, tried) in tuned.tried.iter().enumerate() {
        let mut row = vec![index.to_string(), tried.seasons.to_string()];
        row.extend([tried.cost, tried.broken, tried.tradeoff[0], tried.tradeoff[1]].map(exact));
        row.push(tuned.front.contains(&index).to_string());
        match (told.places)(&tried.point) {
            Some(values) => row.extend(values.into_iter().map(exact)),
            None => row.extend(told.current.iter().map(|value| exact_or_empty(*value))),
        }
        out.write_record(&row)?;
    }
    out.flush()
}

fn confirmation(tuned: &Tuned, told: &Told, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record(["season", "cost_best", "cost_as_it_is"])?;
    let confirmed = &tuned.confirmation;
    for (best, current) in confirmed.best.iter().zip(&confirmed.current) {
        let costs = [best, current].map(|record| exact(told.aim.cost(record)));
        out.write_record([best.season.to_string()].into_iter().chain(costs))?;
    }
    out.flush()
}

fn figure(tuned: &Tuned, told: &Told) -> Result<Figure, PlotError> {
    let playable = || tuned.tried.iter().enumerate().filter(|(_, tried)| tried.cost.is_finite());
    let points: Vec<Point> = playable()
        .map(|(index, tried)| Point {
            name: if tried.point == tuned.best {
                "best".into()
            } else if tried.point.is_none() {
                "as it is".into()
            } else {
                String::new()
            },
            at: tried.tradeoff,
            intervals: [None, None],
            series: if tried.broken > 0.0 { 1 } else { 0 },
            large: tuned.front.contains(&index),
        })
        .collect();
    let front = points.iter().filter(|point| point.large).map(|point| point.at).collect();
    let drawing = Scatter {
        heading: [
            format!("{}: all settings that the search tried", told.strategy),
            "large and joined: the front; orange: breaks a limit; means over the search's few seasons".to_string(),
        ],
        axes: TRADED.map(words::axis),
        points,
        lines: vec![staircase(front)],
    };
    let mut out = writer(Vec::new());
    out.write_record(["tried", column(0), column(1), "breaks_a_limit", "on_front"])?;
    for (index, one) in playable() {
        out.write_record([
            index.to_string(),
            exact(one.tradeoff[0]),
            exact(one.tradeoff[1]),
            (one.broken > 0.0).to_string(),
            tuned.front.contains(&index).to_string(),
        ])?;
    }
    let alt = drawing.heading[0].clone();
    Ok(Figure { name: "front", svg: scatter(&drawing)?, csv: finished(out)?, alt })
}
