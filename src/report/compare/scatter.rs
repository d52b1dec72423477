//! `tradeoff.svg`: missed arrivals against false openings, with the front that nobody beats.

use super::Told;
use crate::ledger::metric::Key;
use crate::report::plots::scatter::{Point, Scatter, scatter, staircase};
use crate::report::plots::{Figure, PlotError, finished};
use crate::report::{csv, number, words};
use crate::study::compare::Comparison;

/// Draws the trade-off.
pub(super) fn figure(comparison: &Comparison, told: &Told) -> Result<Figure, PlotError> {
    let axes = [Key::FalseOpenings, Key::MissedArrivals];
    let points: Vec<Point> = comparison
        .standings
        .iter()
        .enumerate()
        .map(|(series, standing)| {
            let estimates = axes.map(|key| &standing.estimates[key as usize]);
            Point {
                name: standing.name.clone(),
                at: estimates.map(|estimate| estimate.mean),
                intervals: estimates.map(|estimate| estimate.interval.map(|it| (it.low, it.high))),
                series,
                large: standing.on_front,
            }
        })
        .collect();
    let front = points.iter().filter(|point| point.large).map(|point| point.at).collect();
    let drawing = Scatter {
        heading: [
            "Missed arrivals against false openings".to_string(),
            format!(
                "{}; crosses: {} intervals; large and joined: nobody is better in both",
                number::counted(comparison.seasons, "season"),
                number::percent(told.confidence)
            ),
        ],
        axes: axes.map(words::axis),
        lines: vec![staircase(front)],
        points,
    };
    let mut out = csv::writer(Vec::new());
    out.write_record(["contender", "false_openings", "low", "high", "missed_arrivals", "low", "high", "on_front"])?;
    for point in &drawing.points {
        let ends = point.intervals.map(|interval| [interval.map(|it| it.0), interval.map(|it| it.1)]);
        out.write_record([
            point.name.clone(),
            number::exact(point.at[0]),
            number::exact_or_empty(ends[0][0]),
            number::exact_or_empty(ends[0][1]),
            number::exact(point.at[1]),
            number::exact_or_empty(ends[1][0]),
            number::exact_or_empty(ends[1][1]),
            point.large.to_string(),
        ])?;
    }
    let alt = "Missed arrivals against false openings per season, one point per contender.".to_string();
    Ok(Figure { name: "tradeoff", svg: scatter(&drawing)?, csv: finished(out)?, alt })
}
