//! Reports of a sweep.

use std::io;
use std::path::Path;

use super::csv::{ESTIMATE_COLUMNS, Sink, estimate_fields, writer};
use super::folder::{self, Item};
use super::json_tables::{self, Source};
use super::number::{self, exact, exact_or_empty};
use super::output::OutputError;
use super::page;
use super::plots::scatter::{Point, Scatter, scatter};
use super::plots::{Figure, PlotError, cells, curves, finished};
use super::study_file::{self, Study};
use super::table::{Cell, Table};
use super::text::{self, Setting};
use super::words;
use crate::ledger::metric::Key;
use crate::study::objective::Aim;
use crate::study::sweep::{Place, Sweep, TRADED};

/// What the reports say besides the result.
#[derive(Clone, Debug)]
pub struct Told<'a> {
    /// The study.
    pub study: &'a Study,
    /// Confidence of each interval.
    pub confidence: f64,
    /// Metrics to show.
    pub shown: &'a [Key],
    /// The objective.
    pub aim: Option<&'a Aim>,
}

/// Writes the whole output folder, or nothing.
///
/// # Errors
/// If a file can't be written or a plot can't be drawn.
pub fn write(target: &Path, sweep: &Sweep, told: &Told) -> Result<(), OutputError> {
    let mut figures = vec![shapes(sweep, told)?];
    figures.push(tradeoff(sweep, told)?);
    let mut items = vec![
        Item::new("summary.txt", move |out| out.write_all(report(sweep, told, Setting::default()).as_bytes())),
        Item::new("report.html", |out| out.write_all(page::sweep::page(sweep, told, &figures).as_bytes())),
        Item::new("metrics.csv", move |out| metrics(sweep, out)),
    ];
    study_file::finish(&mut items, &figures, told.study);
    Ok(folder::write(target, told.study.command, items)?)
}

/// The sweep as one JSON document of the layout `dooryard-sweep/1`.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn json(sweep: &Sweep, told: &Told) -> io::Result<String> {
    let sources =
        [Source { name: "metrics", texts: &["metric", "unit", "method"], write: &|out: Sink| metrics(sweep, out) }];
    let version = told.study.version;
    json_tables::document(
        "dooryard-sweep/1",
        version,
        &answers(sweep, told),
        Some(told.study),
        &told.study.warnings,
        &sources,
    )
}

/// The report as text.
pub fn report(sweep: &Sweep, told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    text::paragraph(&mut out, &opening(sweep, told), width);
    text::warnings(&mut out, &told.study.warnings, width);
    text::answer(&mut out, &answers(sweep, told), setting);
    for (title, table) in tables(sweep, told) {
        out.push_str(&format!("\n{title}\n"));
        out.push_str(&table.render(setting));
    }
    out.push('\n');
    text::paragraph(&mut out, &legend(told), width);
    out
}

fn paths(sweep: &Sweep) -> Vec<&str> {
    sweep.axes.iter().map(|axis| axis.path.as_str()).collect()
}

pub(super) fn opening(sweep: &Sweep, told: &Told) -> String {
    format!(
        "{}, strategy {}: {} places over {}, the same {} at each, seed {}. dooryard {}.",
        told.study.scenarios.iter().map(|scenario| scenario.name.as_str()).collect::<Vec<_>>().join(", "),
        sweep.strategy,
        sweep.places.len(),
        paths(sweep).join(" and "),
        number::counted(sweep.seasons, "season"),
        told.study.seed,
        told.study.version
    )
}

/// Places that are named one by one where a figure is smallest at several.
const NAMED_MOST: usize = 3;

/// What the sweep says in a few sentences: where each figure is smallest, or that it is the same everywhere.
pub(super) fn answers(sweep: &Sweep, told: &Told) -> Vec<String> {
    let shown = |figures: Figures| {
        let (mean, interval) = figures;
        let interval = interval.map_or(String::new(), |(low, high)| {
            format!(" ({} to {})", number::significant(low, 3), number::significant(high, 3))
        });
        format!("{}{interval}", number::significant(mean, 3))
    };
    let at = |place: &Place| {
        let at = paths(sweep).into_iter().zip(labels(sweep, place)).map(|(path, label)| format!("{path} = {label}"));
        at.collect::<Vec<_>>().join(", ")
    };
    let best = |(title, of): &Column| {
        let least = sweep.places.iter().map(|place| of(place).0).min_by(f64::total_cmp)?;
        // What reads the same is the same: nobody gains from a place that is better by rounding.
        let read = number::significant(least, 3);
        let same = |place: &&Place| number::significant(of(place).0, 3) == read;
        let places: Vec<&Place> = sweep.places.iter().filter(same).collect();
        let (title, all) = (words::capital(title), sweep.places.len());
        Some(match places.as_slice() {
            [] => return None,
            [place] if all > 1 => format!("{title}: smallest, {}, at {}.", shown(of(place)), at(place)),
            [place] => format!("{title}: {} at {}.", shown(of(place)), at(place)),
            [place, ..] if places.len() == all => {
                format!("{title}: the same, {}, at all {all} places.", shown(of(place)))
            }
            some => {
                let named: Vec<String> = some.iter().take(NAMED_MOST).map(|place| at(place)).collect();
                let more = match some.len() - named.len() {
                    0 => String::new(),
                    more => format!(" and {more} more"),
                };
                let count = some.len();
                format!("{title}: smallest, {read}, at {count} of {all} places: {}{more}.", named.join("; "))
            }
        })
    };
    columns(told).iter().filter_map(best).collect()
}

/// One table per figure that is shown, with its title.
pub(super) fn tables(sweep: &Sweep, told: &Told) -> Vec<(String, Table)> {
    let mut headings = paths(sweep);
    headings.extend(["mean", "low to high"]);
    let mut keys = paths(sweep);
    keys.push("figure");
    let table = |(title, of): Column| {
        let mut table = Table::new(&headings).of("sweep.csv", &keys);
        for place in &sweep.places {
            let values = place.at.iter().zip(&sweep.axes).map(|(index, axis)| axis.values[*index]);
            let mut row: Vec<Cell> = labels(sweep, place)
                .into_iter()
                .zip(paths(sweep).into_iter().zip(values.clone()))
                .map(|(label, (path, value))| Cell::new(label).figure(path, value))
                .collect();
            let (mean, interval) = of(place);
            row.push(Cell::new(number::significant(mean, 3)).figure("mean", mean));
            let between = interval.map_or(number::WITHHELD.to_string(), |(low, high)| {
                format!("{} to {}", number::significant(low, 3), number::significant(high, 3))
            });
            let ends = Cell::new(between).perhaps("low", interval.map(|it| it.0));
            row.push(ends.perhaps("high", interval.map(|it| it.1)));
            table.keyed(values.map(exact).chain([title.clone()]).collect(), row);
        }
        (title, table)
    };
    columns(told).into_iter().map(table).collect()
}

pub(super) fn legend(told: &Told) -> String {
    format!(
        "Mean (low to high): mean per season with its {} interval, each on its own; all places play the same seasons, so \
         that differences between places are surer than the intervals suggest. {}",
        number::percent(told.confidence),
        words::common_causes_of(told.study)
    )
}

type Figures = (f64, Option<(f64, f64)>);
type Column<'a> = (String, Box<dyn Fn(&Place) -> Figures + 'a>);

/// What is shown: the objective, then metrics.
fn columns<'a>(told: &Told<'a>) -> Vec<Column<'a>> {
    let mut columns: Vec<Column> = Vec::new();
    if told.aim.is_some() {
        let of = |place: &Place| {
            let cost = place.cost;
            let interval = cost.and_then(|cost| cost.interval).map(|it| (it.low, it.high));
            (cost.map_or(0.0, |cost| cost.mean), interval)
        };
        columns.push(("objective per season".to_string(), Box::new(of)));
    }
    for key in told.shown {
        let of = move |place: &Place| {
            let estimate = &place.estimates[*key as usize];
            (estimate.mean, estimate.interval.map(|it| (it.low, it.high)))
        };
        columns.push((words::axis(*key), Box::new(of)));
    }
    columns
}

fn labels(sweep: &Sweep, place: &Place) -> Vec<String> {
    place.at.iter().zip(&sweep.axes).map(|(index, axis)| axis.labels[*index].clone()).collect()
}

fn metrics(sweep: &Sweep, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    let axis = |axis: &crate::study::sweep::Axis| format!("{} [{}]", axis.path, axis.unit);
    let mut head: Vec<String> = sweep.axes.iter().map(axis).collect();
    head.extend(["metric", "unit"].iter().chain(&ESTIMATE_COLUMNS).map(ToString::to_string));
    out.write_record(&head)?;
    for place in &sweep.places {
        let at = || place.at.iter().zip(&sweep.axes).map(|(index, axis)| exact(axis.values[*index]));
        for estimate in &place.estimates {
            let row = estimate.key.metric();
            out.write_record(at().chain([row.key.to_string(), row.unit.to_string()]).chain(estimate_fields(estimate)))?;
        }
    }
    out.flush()
}

/// Curves over one axis, maps over two.
fn shapes(sweep: &Sweep, told: &Told) -> Result<Figure, PlotError> {
    let seasons = number::counted(sweep.seasons, "season");
    let columns = columns(told);
    let mut out = writer(Vec::new());
    let mut head: Vec<String> = sweep.axes.iter().map(|axis| axis.path.clone()).collect();
    head.extend(["figure", "mean", "low", "high"].map(str::to_string));
    out.write_record(&head)?;
    for (title, of) in &columns {
        for place in &sweep.places {
            let (mean, interval) = of(place);
            let mut row: Vec<String> =
                place.at.iter().zip(&sweep.axes).map(|(index, axis)| exact(axis.values[*index])).collect();
            let ends = [interval.map(|it| it.0), interval.map(|it| it.1)].map(exact_or_empty);
            row.extend([title.clone(), exact(mean)].into_iter().chain(ends));
            out.write_record(&row)?;
        }
    }
    let unit = |axis: &crate::study::sweep::Axis| match axis.unit {
        "" => axis.path.clone(),
        unit => format!("{}, {}", axis.path, number::unit_text(unit)),
    };
    let names: Vec<String> = sweep.axes.iter().map(unit).collect();
    let title = format!("{} over {}", sweep.strategy, names.join(" and "));
    let svg = match sweep.axes.as_slice() {
        [axis] => {
            let point = |of: &dyn Fn(&Place) -> Figures, place: &Place| {
                let (mean, interval) = of(place);
                (axis.values[place.at[0]], mean, interval)
            };
            let panels: Vec<curves::Panel> = columns
                .iter()
                .map(|(title, of)| curves::Panel {
                    title: title.clone(),
                    points: sweep.places.iter().map(|place| point(of, place)).collect(),
                })
                .collect();
            let subtitle = format!("{seasons} at each value; band: {} interval", number::percent(told.confidence));
            curves::curves(&title, &subtitle, &names[0], &panels)?
        }
        axes => {
            let rows = axes.get(1).map_or(1, |axis| axis.values.len()).max(1);
            let panels: Vec<cells::Panel> = columns
                .iter()
                .map(|(title, of)| cells::Panel {
                    title: title.clone(),
                    values: sweep
                        .places
                        .chunks(rows)
                        .map(|column| column.iter().map(|place| of(place).0).collect())
                        .collect(),
                })
                .collect();
            let labels = [0, 1].map(|axis| axes.get(axis).map(|axis| axis.labels.clone()).unwrap_or_default());
            let names = [0, 1].map(|axis| names.get(axis).map_or("", String::as_str));
            cells::cells(
                &title,
                &format!("{seasons} at each place; intervals are in the table"),
                names,
                &labels,
                &panels,
            )?
        }
    };
    let alt = format!("Metrics per season of {title}, {seasons} at each place.");
    Ok(Figure { name: "sweep", svg, csv: finished(out)?, alt })
}

/// Missed arrivals, expected with common causes, against false openings.
fn tradeoff(sweep: &Sweep, told: &Told) -> Result<Figure, PlotError> {
    let axes = TRADED;
    let points: Vec<Point> = sweep
        .places
        .iter()
        .map(|place| {
            let estimates = axes.map(|key| &place.estimates[key as usize]);
            Point {
                name: labels(sweep, place).join(", "),
                at: estimates.map(|estimate| estimate.mean),
                intervals: estimates.map(|estimate| estimate.interval.map(|it| (it.low, it.high))),
                series: usize::from(!place.on_front),
                large: place.on_front,
            }
        })
        .collect();
    let line = if sweep.axes.len() == 1 { points.iter().map(|point| point.at).collect() } else { Vec::new() };
    let paths: Vec<&str> = sweep.axes.iter().map(|axis| axis.path.as_str()).collect();
    let drawing = Scatter {
        heading: [
            format!("Missed arrivals against false openings, over {}", paths.join(" and ")),
            format!(
                "crosses: {} intervals; large: nobody is better in both; no arrival is missed more rarely than its floor of \
                 common causes",
                number::percent(told.confidence)
            ),
        ],
        axes: axes.map(words::axis),
        points,
        lines: vec![line],
    };
    let mut out = writer(Vec::new());
    let [wrong, missed] = axes.map(|key| key.metric().key);
    out.write_record(["place", wrong, "low", "high", missed, "low", "high", "on_front"])?;
    for point in &drawing.points {
        let ends = point.intervals.map(|interval| [interval.map(|it| it.0), interval.map(|it| it.1)]);
        let [[false_low, false_high], [missed_low, missed_high]] = ends.map(|ends| ends.map(exact_or_empty));
        out.write_record([
            &point.name,
            &exact(point.at[0]),
            &false_low,
            &false_high,
            &exact(point.at[1]),
            &missed_low,
            &missed_high,
            &point.large.to_string(),
        ])?;
    }
    let alt = drawing.heading[0].clone();
    Ok(Figure { name: "tradeoff", svg: scatter(&drawing)?, csv: finished(out)?, alt })
}
