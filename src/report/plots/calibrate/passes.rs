//! `roc.svg` and `scores.svg`: what levels catch and let open, and the scores behind it.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::{WIDTH, axes};
use crate::report::calibrate::passes::way;
use crate::report::csv::writer;
use crate::report::number::{exact, percent, significant, whole};
use crate::report::plots::bins::Bins;
use crate::report::plots::canvas::{self, HEADING, PLAIN, Setting, sheet};
use crate::report::plots::palette::{QUIET, series};
use crate::report::plots::strips::{self, Bar, Panel, Strip};
use crate::report::plots::{Figure, PlotError, finished};
use crate::study::calibrate::passes::{Passes, RocPlace, Side};
use crate::study::calibrate::threshold::Way;

/// Ink of a level: the series of its way.
fn ink(way: Way) -> RGBColor {
    series(match way {
        Way::DistributionFree => 1,
        Way::Normal => 2,
        Way::LeastCost => 3,
    })
}

pub fn roc(passes: &Passes) -> Result<Figure, PlotError> {
    let curve = &passes.curve;
    // The part that anybody would choose from: up to a few times the loosest of the levels.
    let loosest = passes.thresholds.iter().fold(0.0_f64, |most, level| most.max(level.false_per_day.high()));
    let all = curve.last().map_or(1.0, |place| place.false_per_day.value);
    let right = (2.0 * loosest).clamp(0.02 * all, all).max(1e-9);
    let side = if passes.settings.side == Side::Above { "at least" } else { "at most" };
    let subtitle = format!(
        "open when the score is {side} the level; band: interval of the share; marks: the levels with the interval of false openings"
    );
    let svg = sheet((WIDTH, HEADING + 430), "What a level catches, and what it lets open", &subtitle, |area| {
        let mut chart =
            axes(area, ["false openings a day", "mower's passes caught, %"], -0.01 * right..right, 0.0..103.0)?;
        let shown: Vec<_> = curve.iter().filter(|place| place.false_per_day.value <= right).collect();
        let at = |place: &&RocPlace, share: f64| (place.false_per_day.value, 100.0 * share);
        let upper = shown.iter().map(|place| at(place, place.hits.high()));
        let lower = shown.iter().rev().map(|place| at(place, place.hits.low()));
        chart.draw_series([Polygon::new(upper.chain(lower).collect::<Vec<_>>(), series(0).mix(0.2))])?;
        let line = std::iter::once((0.0, 0.0)).chain(shown.iter().map(|place| at(place, place.hits.value)));
        chart.draw_series([PathElement::new(line.collect::<Vec<_>>(), series(0).stroke_width(2))])?;
        for (index, level) in passes.thresholds.iter().enumerate() {
            let (x, y) = (level.false_per_day.value, 100.0 * (1.0 - level.miss));
            let (low, high) = (level.false_per_day.low(), level.false_per_day.high().min(right));
            chart.draw_series([PathElement::new(vec![(low, y), (high, y)], ink(level.way).stroke_width(2))])?;
            // One may lie on another: each is smaller than the one before.
            chart.draw_series([Circle::new((x, y), 9 - 2 * index as i32, ink(level.way).filled())])?;
            let row = 246 + 22 * index as i32;
            area.draw(&Circle::new((510, row), 9 - 2 * index as i32, ink(level.way).filled()))?;
            let words =
                format!("{}: level {}, {} missed", way(level.way), significant(level.level, 4), percent(level.miss));
            canvas::text(area, &words, (526, row), PLAIN)?;
        }
        let area_words =
            format!("area under the whole curve: {}", crate::report::calibrate::figures::with_ends(&passes.area, ""));
        let quiet = Setting { color: QUIET, across: HPos::Left, upright: VPos::Center, ..PLAIN };
        canvas::text(area, &area_words, (510, 246 + 22 * passes.thresholds.len() as i32), quiet)
    })?;
    let mut out = writer(Vec::new());
    out.write_record(["false_openings_per_day", "hit_share"])?;
    for place in curve {
        out.write_record([exact(place.false_per_day.value), exact(place.hits.value)])?;
    }
    let alt = format!(
        "Share of the mower's passes caught over false openings a day, with {} levels marked; area under the curve {}.",
        passes.thresholds.len(),
        significant(passes.area.value, 3)
    );
    Ok(Figure { name: "roc", svg, csv: finished(out)?, alt })
}

pub fn scores(passes: &Passes) -> Result<Figure, PlotError> {
    let both = || passes.mower.iter().chain(&passes.other);
    let (low, high) =
        both().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), score| (low.min(*score), high.max(*score)));
    let bins = Bins::amount(low, high);
    let level = passes.thresholds.first();
    let kinds = [("the mower", &passes.mower), ("others", &passes.other)];
    let counts: Vec<Vec<u64>> = kinds.iter().map(|(_, scores)| bins.counts(scores.iter().copied())).collect();
    let strips = kinds.iter().zip(&counts).map(|((name, scores), counts)| {
        let bar = |(index, count): (usize, &u64)| {
            let (from, to) = bins.edges(index);
            Bar { from, to, share: *count as f64 / scores.len() as f64 }
        };
        Strip {
            name: format!("{name}: {} passes", whole(scores.len() as u64)),
            bars: counts.iter().enumerate().map(bar).collect(),
            mark: level.map(|level| level.level),
        }
    });
    let panel = Panel {
        title: "Scores".to_owned(),
        axis: "score".to_owned(),
        ticks: None,
        share_of: "share of passes",
        range: bins.range(),
        whole: false,
        strips: strips.collect(),
    };
    let marked = level
        .map_or(String::new(), |level| format!("dark line: level {} {}", way(level.way), significant(level.level, 4)));
    let svg = sheet((WIDTH, HEADING + strips::height(2) + 8), "Scores of the passes", &marked, |area| {
        strips::draw(area, &panel)
    })?;
    let mut out = writer(Vec::new());
    out.write_record(["from", "to", "mower", "other"])?;
    for (index, (mower, other)) in counts[0].iter().zip(&counts[1]).enumerate() {
        let (from, to) = bins.edges(index);
        out.write_record([exact(from), exact(to), mower.to_string(), other.to_string()])?;
    }
    let alt = "Distribution of the scores, the mower's above and others' below.".to_owned();
    Ok(Figure { name: "scores", svg, csv: finished(out)?, alt })
}
