//! The panel with the mower to scale.

use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::WIDTH;
use crate::report::plots::canvas::{self, Area, HEADING, PLAIN, Setting, sheet};
use crate::report::plots::palette::{GRID, INK, PAPER, QUIET, series};
use crate::report::plots::{Figure, PlotError, finished};
use crate::report::{csv, number};
use crate::study::check::drawings::Drawings;

/// `panel.svg`: the panel at five positions and the mower's outline, one scale for both directions.
pub fn panel(drawings: &Drawings) -> Result<Figure, PlotError> {
    let points = || {
        let corners = drawings.mower.iter().flat_map(|outline| [outline.low, outline.high]);
        corners.chain(drawings.traces.iter().flatten().copied()).chain([(0.0, 0.0)])
    };
    let range = |of: fn((f64, f64)) -> f64| {
        points().map(of).fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(x), high.max(x)))
    };
    let (left, right) = range(|point| point.0);
    let (low, high) = range(|point| point.1);
    let (wide, tall) = (right - left + 0.2, high - low + 0.2);
    let scale = (f64::from(WIDTH - 60) / wide).min(620.0 / tall);
    let height = HEADING + (tall * scale) as u32 + 50;
    let at = |(x, y): (f64, f64)| ((40.0 + (x - left + 0.1) * scale) as i32, ((tall - 0.1 - (y - low)) * scale) as i32);
    let view = if drawings.plan_view { "seen from above" } else { "seen from the side" };
    let title = format!("{}: panel and mower to scale, {view}", drawings.name);
    let subtitle = "lines: panel at 0, 25, 50, 75 and 100 % of its stroke; dotted: ways of its ends; boxes: mower; left is the dock";
    let svg = sheet((WIDTH, height), &title, subtitle, |area| {
        if drawings.plan_view {
            // The door line with its opening.
            let half = 0.5 * drawings.opening_m.0;
            for (from, to) in [(low - 0.1, -half), (half, high + 0.1)] {
                area.draw(&PathElement::new(vec![at((0.0, from)), at((0.0, to))], QUIET.stroke_width(3)))?;
            }
        } else {
            area.draw(&PathElement::new(vec![at((left - 0.1, 0.0)), at((right + 0.1, 0.0))], QUIET.stroke_width(2)))?;
        }
        for outline in &drawings.mower {
            let (a, b) = (at(outline.low), at(outline.high));
            let corners = vec![a, (b.0, a.1), b, (a.0, b.1), a];
            area.draw(&Polygon::new(corners.clone(), GRID.mix(0.5)))?;
            area.draw(&PathElement::new(corners, QUIET.stroke_width(1)))?;
            let middle = ((a.0 + b.0) / 2, (a.1 + b.1) / 2);
            canvas::text(area, outline.name, middle, Setting { color: QUIET, across: HPos::Center, ..PLAIN })?;
        }
        for trace in &drawings.traces {
            for point in trace.iter().step_by(6) {
                area.draw(&Circle::new(at(*point), 1, QUIET.filled()))?;
            }
        }
        // The end that moves: the other one of a hinged panel stays where it is.
        let moved = |end: usize| {
            drawings.traces[end]
                .first()
                .zip(drawings.traces[end].last())
                .map_or(0.0, |(a, b)| (a.0 - b.0).hypot(a.1 - b.1))
        };
        let labelled = usize::from(moved(0) == 0.0);
        let hinged = moved(1 - labelled) == 0.0;
        // To which side the end moves away from the shut panel's line: 1 is right.
        let middle: f64 = drawings.poses.iter().map(|(_, line)| line[labelled].0 + line[1 - labelled].0).sum();
        let side = if middle < 0.0 { -1.0 } else { 1.0 };
        for (index, (_, line)) in drawings.poses.iter().enumerate() {
            area.draw(&PathElement::new(vec![at(line[0]), at(line[1])], series(index).stroke_width(4)))?;
        }
        // Names come last, so that no line crosses them.
        // Neither do they cover each other, or the ground line.
        let ground = (!drawings.plan_view).then(|| at((0.0, 0.0)).1);
        let mut taken: Vec<(i32, i32)> = Vec::new();
        for (share, line) in &drawings.poses {
            let (end, other) = (at(line[labelled]), at(line[1 - labelled]));
            let place = if hinged { beyond(end, other, side) } else { (end.0 + 26, end.1 - 9) };
            let place = free(place, &taken, ground);
            taken.push(place);
            name(area, &format!("{:.0} %", 100.0 * share), place)?;
        }
        // A tenth of a metre for the scale.
        let foot = (tall * scale) as i32 + 18;
        area.draw(&PathElement::new(vec![(40, foot), (40 + (0.1 * scale) as i32, foot)], INK.stroke_width(2)))?;
        canvas::text(area, "0.1 m", (46 + (0.1 * scale) as i32, foot), PLAIN)
    })?;
    let mut out = csv::writer(Vec::new());
    let second = if drawings.plan_view { "y_m" } else { "z_m" };
    out.write_record(["share_of_stroke", "end", "x_m", second])?;
    for (share, line) in &drawings.poses {
        for (end, point) in line.iter().enumerate() {
            out.write_record([number::exact(*share), end.to_string(), number::exact(point.0), number::exact(point.1)])?;
        }
    }
    let alt = format!("The panel at five positions, {view}, with the mower waiting outside and in the dock, to scale.");
    Ok(Figure { name: "panel", svg, csv: finished(out)?, alt })
}

/// Where the name of a pose stands: beyond the panel's end, seen from its other end; where that is straight up or down,
/// also to the side from which the panel moves away (`side` is to which it moves).
fn beyond(end: (i32, i32), other: (i32, i32), side: f64) -> (i32, i32) {
    let (x, y) = (f64::from(end.0 - other.0), f64::from(end.1 - other.1));
    let length = x.hypot(y).max(1.0);
    let (x, y) = (x / length, y / length);
    let aside = if x.abs() < 0.15 { -22.0 * side } else { 0.0 };
    (end.0 + (24.0 * x + aside).round() as i32, end.1 + (14.0 * y).round() as i32)
}

/// Width and height that a name of a pose takes at most, pixels.
const NAME: (i32, i32) = (34, 15);

/// The place nearest to the wanted one, straight above it, else below, at which a name neither covers another nor the ground line.
fn free(wanted: (i32, i32), taken: &[(i32, i32)], ground: Option<i32>) -> (i32, i32) {
    let clear = |place: (i32, i32)| {
        taken.iter().all(|other| (place.0 - other.0).abs() >= NAME.0 || (place.1 - other.1).abs() >= NAME.1)
            && ground.is_none_or(|ground| (place.1 - ground).abs() > NAME.1 / 2 + 1)
    };
    (0..80)
        .flat_map(|step| [(wanted.0, wanted.1 - step), (wanted.0, wanted.1 + step)])
        .find(|place| clear(*place))
        .unwrap_or(wanted)
}

/// The name of a pose around `middle`, on a patch of paper.
fn name(area: &Area, words: &str, middle: (i32, i32)) -> Result<(), PlotError> {
    let half = 3 * words.chars().count() as i32 + 2;
    let patch = [(middle.0 - half, middle.1 - 7), (middle.0 + half, middle.1 + 7)];
    area.draw(&Rectangle::new(patch, PAPER.filled()))?;
    canvas::text(area, words, middle, Setting { size: 11.0, across: HPos::Center, upright: VPos::Center, ..PLAIN })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The name lies on the far side of the end, whichever way the panel points.
    #[test]
    fn names_stand_beyond_the_end() {
        assert_eq!(beyond((100, 50), (0, 50), 1.0), (124, 50));
        assert_eq!(beyond((0, 50), (100, 50), -1.0), (-24, 50));
        // Straight down: below, and on the side that the panel leaves.
        assert_eq!(beyond((0, 100), (0, 0), 1.0), (-22, 114));
        assert_eq!(beyond((0, 100), (0, 0), -1.0), (22, 114));
    }

    /// A name keeps its place where it can, and gives way to another and to the ground line.
    #[test]
    fn names_do_not_cover_each_other() {
        assert_eq!(free((50, 50), &[], Some(100)), (50, 50));
        assert_eq!(free((50, 50), &[(60, 48)], None), (50, 63));
        assert_eq!(free((50, 50), &[(60, 48), (40, 60)], None), (50, 33));
        assert_eq!(free((50, 50), &[], Some(50)), (50, 41));
    }
}
