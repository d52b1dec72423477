//! Reports of a sensitivity study.

use std::io;
use std::path::Path;

use super::csv::{Sink, writer};
use super::folder::{self, Item};
use super::json_tables::{self, Source};
use super::number::{self, exact};
use super::output::OutputError;
use super::page;
use super::plots::{Figure, PlotError, finished, forest};
use super::study_file::{self, Study};
use super::table::{Cell, Table};
use super::text::{self, Setting};
use super::words::{capital, common_causes_of};
use crate::study::sensitivity::{Drivers, Sensitivity};

/// What the reports say besides the result.
#[derive(Clone, Debug)]
pub struct Told<'a> {
    /// The study.
    pub study: &'a Study,
    /// Confidence of each interval.
    pub confidence: f64,
}

/// Writes the whole output folder, or nothing.
///
/// # Errors
/// If a file can't be written or a plot can't be drawn.
pub fn write(target: &Path, result: &Sensitivity, told: &Told) -> Result<(), OutputError> {
    let figures = vec![figure(result, told)?];
    let mut items = vec![
        Item::new("summary.txt", move |out| out.write_all(report(result, told, Setting::default()).as_bytes())),
        Item::new("report.html", |out| out.write_all(page::sensitivity::page(result, told, &figures).as_bytes())),
        Item::new("sensitivity.csv", move |out| table(result, out)),
    ];
    study_file::finish(&mut items, &figures, told.study);
    Ok(folder::write(target, told.study.command, items)?)
}

/// The study as one JSON document of the layout `dooryard-sensitivity/1`.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn json(result: &Sensitivity, told: &Told) -> io::Result<String> {
    let sources =
        [Source { name: "sensitivity", texts: &["metric", "number"], write: &|out: Sink| table(result, out) }];
    let version = told.study.version;
    json_tables::document(
        "dooryard-sensitivity/1",
        version,
        &answers(result),
        Some(told.study),
        &told.study.warnings,
        &sources,
    )
}

/// Inputs from the one that matters most on: by total index, else by size of effect.
fn order(drivers: &Drivers, inputs: usize) -> Vec<usize> {
    let weight = |input: usize| match (&drivers.indices, &drivers.effects) {
        (Some(indices), _) => indices[input].total,
        (None, Some(effects)) => effects[input].mu_star,
        (None, None) => 0.0,
    };
    let mut order: Vec<usize> = (0..inputs).collect();
    order.sort_by(|a, b| weight(*b).total_cmp(&weight(*a)));
    order
}

/// The report as text.
pub fn report(result: &Sensitivity, told: &Told, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    let paragraph = |out: &mut String, text: &str| text::paragraph(out, text, width);
    paragraph(&mut out, &opening(result, told));
    text::warnings(&mut out, &told.study.warnings, setting.room());
    text::answer(&mut out, &answers(result), setting);
    out.push_str(&format!("\n{}", ranges(result).render(setting)));
    for drivers in &result.drivers {
        out.push_str(&format!("\n{}\n", drivers.name));
        paragraph(&mut out, &moments(drivers));
        out.push_str(&one(result, drivers).render(setting));
    }
    out.push('\n');
    paragraph(&mut out, &legend(told));
    out
}

pub(super) fn opening(result: &Sensitivity, told: &Told) -> String {
    let [paths, base, seasons] = result.sizes;
    format!(
        "{}, strategy {}: {} numbers varied, {paths} trajectories, {base} base points, the same {} at each point, \
         seed {}. dooryard {}.",
        told.study.scenarios.iter().map(|scenario| scenario.name.as_str()).collect::<Vec<_>>().join(", "),
        result.strategy,
        result.inputs.len(),
        number::counted(seasons, "season"),
        told.study.seed,
        told.study.version
    )
}

/// The numbers with their ranges.
pub(super) fn ranges(result: &Sensitivity) -> Table {
    let mut ranges = Table::new(&["number", "range"]).left(1);
    result.inputs.iter().for_each(|(path, range)| ranges.row(vec![path.clone(), range.clone()]));
    ranges
}

pub(super) fn moments(drivers: &Drivers) -> String {
    format!(
        "mean {} per season, standard deviation over the ranges {}",
        number::significant(drivers.mean, 3),
        number::significant(drivers.spread, 3)
    )
}

/// What matters most for each metric, one sentence each.
pub(super) fn answers(result: &Sensitivity) -> Vec<String> {
    let answer = |drivers: &Drivers| {
        let name = capital(&drivers.name);
        let order = order(drivers, result.inputs.len());
        let (Some(indices), Some((first, others))) = (&drivers.indices, order.split_first()) else {
            return format!("{name}: none of these numbers changes it.");
        };
        let input = |input: usize| result.inputs[input].0.as_str();
        let most = indices[*first].total_interval;
        // Only intervals that lie apart tell numbers apart.
        let rivals: Vec<&str> = others
            .iter()
            .filter(|other| indices[**other].total_interval.high >= most.low)
            .map(|other| input(*other))
            .collect();
        let share = accounted(indices[*first].total, most.low, most.high);
        match rivals.as_slice() {
            [] => format!("{name}: {} matters most; it accounts for {share}.", input(*first)),
            rivals => format!(
                "{name}: which number matters most can't be told. By the estimate it is {}, which accounts for {share}; its \
                 interval overlaps with that of {}. More base points (--base) or seasons would tell.",
                input(*first),
                rivals.join(", ")
            ),
        }
    };
    result.drivers.iter().map(answer).collect()
}

/// A share of the variance in words: no share is above 1, although estimates of large ones may be.
fn accounted(total: f64, low: f64, high: f64) -> String {
    if total > 1.0 {
        return format!("nearly all of the variance (at least {:.2}), interactions included", low.min(1.0));
    }
    format!("{total:.2} ({low:.2} to {:.2}) of the variance, interactions included", high.min(1.0))
}

pub(super) fn legend(told: &Told) -> String {
    format!(
        "Total (low to high): share of the variance that would go if the number were known, interactions included, \
         with its {} bootstrap interval. Alone: share without interactions. Effect: mean size of the change of the \
         metric for a move through the number's whole range; its sign says the direction where the change has one. \
         Shares are estimates: small ones may come out below 0, large ones above 1. {}",
        number::percent(told.confidence),
        common_causes_of(told.study)
    )
}

/// The numbers' parts in one metric, the largest first.
pub(super) fn one(result: &Sensitivity, drivers: &Drivers) -> Table {
    let mut table = Table::new(&["number", "total", "low to high", "alone", "effect", "mean effect"])
        .of("sensitivity.csv", &["metric", "number"]);
    for input in order(drivers, result.inputs.len()) {
        let indices = drivers.indices.as_ref().map(|indices| indices[input]);
        let effects = drivers.effects.as_ref().map(|effects| effects[input]);
        let two = |value: Option<f64>| value.map_or(number::WITHHELD.to_string(), |value| format!("{value:.2}"));
        let between = indices.map_or(number::WITHHELD.to_string(), |indices| {
            format!("{:.2} to {:.2}", indices.total_interval.low, indices.total_interval.high)
        });
        let [total, first] = [indices.map(|it| it.total), indices.map(|it| it.first)];
        let [mu_star, mu] = [effects.map(|it| it.mu_star), effects.map(|it| it.mu)];
        table.keyed(
            vec![drivers.name.clone(), result.inputs[input].0.clone()],
            vec![
                Cell::new(&result.inputs[input].0),
                Cell::new(two(total)).perhaps("total", total),
                Cell::new(between)
                    .perhaps("total_low", indices.map(|it| it.total_interval.low))
                    .perhaps("total_high", indices.map(|it| it.total_interval.high)),
                Cell::new(two(first)).perhaps("first", first),
                Cell::new(number::significant_or_dash(mu_star, 3)).perhaps("mu_star", mu_star),
                Cell::new(number::significant_or_dash(mu, 3)).perhaps("mu", mu),
            ],
        );
    }
    table
}

fn table(result: &Sensitivity, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "metric",
        "number",
        "first",
        "first_low",
        "first_high",
        "total",
        "total_low",
        "total_high",
        "mu",
        "mu_star",
        "mu_star_low",
        "mu_star_high",
        "sigma",
    ])?;
    for drivers in &result.drivers {
        for (input, (path, _)) in result.inputs.iter().enumerate() {
            let mut row = vec![drivers.name.clone(), path.clone()];
            match &drivers.indices {
                Some(indices) => {
                    let one = indices[input];
                    let (first, total) = (one.first_interval, one.total_interval);
                    row.extend([one.first, first.low, first.high, one.total, total.low, total.high].map(exact));
                }
                None => row.extend(vec![String::new(); 6]),
            }
            match &drivers.effects {
                Some(effects) => {
                    let one = effects[input];
                    let interval = one.mu_star_interval;
                    row.extend([one.mu, one.mu_star, interval.low, interval.high, one.sigma].map(exact));
                }
                None => row.extend(vec![String::new(); 5]),
            }
            out.write_record(&row)?;
        }
    }
    out.flush()
}

fn figure(result: &Sensitivity, told: &Told) -> Result<Figure, PlotError> {
    let mut panels = Vec::new();
    for drivers in &result.drivers {
        let Some(indices) = &drivers.indices else { continue };
        let row = |input: usize| forest::Row {
            name: result.inputs[input].0.clone(),
            value: indices[input].total,
            interval: Some((indices[input].total_interval.low, indices[input].total_interval.high)),
            series: input,
        };
        panels.push(forest::Panel {
            title: drivers.name.clone(),
            axis: "total share of variance".to_string(),
            log: false,
            rows: order(drivers, result.inputs.len()).into_iter().map(row).collect(),
        });
    }
    let mut out = writer(Vec::new());
    out.write_record(["metric", "number", "total", "low", "high"])?;
    for panel in &panels {
        for row in &panel.rows {
            let (low, high) = row.interval.unwrap_or((row.value, row.value));
            let figures = [row.value, low, high].map(exact);
            out.write_record([panel.title.clone(), row.name.clone()].into_iter().chain(figures))?;
        }
    }
    let title = "Which number drives which metric".to_string();
    let subtitle = format!("dot: total share of variance; line: {} interval", number::percent(told.confidence));
    let svg = forest::forest(&title, &subtitle, &panels)?;
    Ok(Figure {
        name: "drivers",
        svg,
        csv: finished(out)?,
        alt: format!("{title}: total shares, one panel per metric."),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::interval::{Interval, Method};
    use crate::study::variance::Indices;

    fn index(total: f64, low: f64, high: f64) -> Indices {
        let interval = |low: f64, high: f64| Interval { low, high, confidence: 0.95, method: Method::Bootstrap };
        Indices { first: 0.0, first_interval: interval(0.0, 0.1), total, total_interval: interval(low, high) }
    }

    fn told(indices: Vec<Indices>) -> String {
        let drivers = Drivers {
            name: "strandings".to_string(),
            unit: "",
            mean: 1.0,
            spread: 1.0,
            effects: None,
            indices: Some(indices),
        };
        let inputs = ["near.on", "near.k"].map(|path| (path.to_string(), String::new())).to_vec();
        answers(&Sensitivity { strategy: "eye".to_string(), inputs, drivers: vec![drivers], sizes: [2, 8, 2] })
            .remove(0)
    }

    /// Intervals that overlap tell nobody apart, and no share is above 1.
    #[test]
    fn what_matters_most_is_only_said_where_intervals_lie_apart() {
        let apart = told(vec![index(0.1, 0.05, 0.2), index(0.8, 0.7, 0.9)]);
        assert_eq!(
            apart,
            "Strandings: near.k matters most; it accounts for 0.80 (0.70 to 0.90) of the variance, interactions included."
        );
        let alike = told(vec![index(0.32, 0.10, 0.95), index(0.19, 0.08, 0.61)]);
        assert!(alike.contains("can't be told") && alike.contains("overlaps with that of near.k"), "{alike}");
        let beyond = told(vec![index(1.10, 0.83, 1.59), index(0.01, 0.0, 0.02)]);
        assert!(beyond.contains("near.on matters most") && beyond.contains("nearly all of the variance"), "{beyond}");
        assert!(!beyond.contains("1.10") && !beyond.contains("1.59"), "{beyond}");
    }
}
