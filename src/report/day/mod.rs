//! One day under the lens: as text, JSON, tables, a still timeline, and a page on which it can be moved through.

mod data;
mod json;
mod marks;
mod page;
mod scene;
mod sheet;
mod tables;
mod text;
mod thin;
mod tracks;
mod words;

pub use data::{FAR, data};
pub use json::document;
pub use page::page;
pub use sheet::timeline;
pub use tables::{day, events};
pub use text::report;
pub use thin::thinned;

use std::path::Path;

use super::folder::{self, FolderError, Item};
use super::number::{self, exact};
use super::study_file::{self, Study};
use crate::math::time::Instant;
use crate::scenario::Scenario;
use crate::study::day::Replay;

/// Everything that is told of a day.
#[derive(Clone, Copy)]
pub struct Told<'a> {
    /// The day.
    pub replay: &'a Replay,
    /// The scenario as it is played.
    pub scenario: &'a Scenario,
    /// What `run.toml` says.
    pub study: &'a Study,
    /// Why this day was taken, if it was looked for.
    pub found: Option<&'a str>,
    /// Warnings about the scenario.
    pub warnings: &'a [String],
    /// What a reader should keep in mind.
    pub cautions: &'a [&'a str],
    /// RFC 3339 text of a moment on the season's clock.
    pub time: &'a dyn Fn(Instant) -> String,
}

impl Told<'_> {
    /// Name of the strategy.
    pub fn strategy(&self) -> &str {
        &self.scenario.strategies[self.replay.strategy].name
    }

    /// Length of the day, s.
    fn length_s(&self) -> f64 {
        self.replay.film.to.since(self.replay.film.from).seconds()
    }

    /// Time since local midnight in whole milliseconds, s: what the times in the tables say.
    fn second(&self, at: Instant) -> f64 {
        let millis = at.since(self.replay.film.from).0.div_euclid(1_000);
        millis as f64 / 1_000.0
    }

    /// What a wall clock shows `second` seconds after midnight, s after 00:00.
    fn wall_s(&self, second: f64) -> f64 {
        let from = self.replay.film.from;
        let shift = self.replay.wall.iter().rev().find(|(at, _)| at.since(from).seconds() <= second + 1e-6);
        second + shift.map_or(0.0, |(_, shift)| *shift)
    }

    /// A moment as a wall clock shows it, `14:03:27`.
    fn clock(&self, at: Instant) -> String {
        let second = self.wall_s(self.second(at)) as u64;
        format!("{:02}:{:02}:{:02}", second / 3_600 % 24, second / 60 % 60, second % 60)
    }

    /// Where the season lies: for headings.
    fn heading(&self) -> String {
        let replay = self.replay;
        format!("{}: {}, season {}, strategy {}", self.scenario.name, replay.date, replay.season, self.strategy())
    }
}

/// Digits of values in the tables and on the page.
const DIGITS: usize = 6;

/// A value as tables and page have it: six significant digits.
fn rounded(value: f64) -> f64 {
    if value.is_finite() { format!("{value:.*e}", DIGITS - 1).parse().unwrap_or(value) } else { value }
}

/// A value for people, with its unit.
fn shown(value: f64, unit: &str) -> String {
    number::with_unit(&number::significant(value, 3), unit_text(unit))
}

/// A unit for people.
fn unit_text(unit: &str) -> &str {
    match unit {
        "deg" => "°",
        other => number::unit_text(other),
    }
}

/// A value that somebody chose, with its unit.
fn chosen(value: f64, unit: &str) -> String {
    number::with_unit(&number::chosen(value), unit_text(unit))
}

/// A value in a table: empty for none, `far` for a ranger without a target.
fn field(value: f64) -> String {
    if value == f64::INFINITY { FAR.to_string() } else { exact(rounded(value)) }
}

/// Writes the day's folder, or nothing.
///
/// # Errors
/// If the folder can't be written.
pub fn write(target: &Path, told: &Told) -> Result<(), FolderError> {
    let few = thinned(told);
    let pictured = Told { replay: few.as_ref().unwrap_or(told.replay), ..*told };
    let mut items = vec![
        Item::new("summary.txt", |out| out.write_all(report(told, super::text::Setting::default()).as_bytes())),
        Item::new("report.html", |out| out.write_all(page(&pictured).as_bytes())),
        Item::new("day.svg", |out| out.write_all(timeline(&pictured).as_bytes())),
        Item::new("day.csv", |out| day(told, out)),
        Item::new("events.csv", |out| events(told, out)),
    ];
    study_file::finish(&mut items, &[], told.study);
    folder::write(target, told.study.command, items)
}
