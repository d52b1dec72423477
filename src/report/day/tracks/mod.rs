//! The tracks of a timeline, from the sky down to the supply: which series each shows, over which range, with which levels.

mod plain;
mod sensor;
mod states;
mod ticks;

pub use sensor::names;

use super::Told;
use crate::ledger::film::{About, Series};

/// What is drawn of a series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mark {
    /// A line or steps.
    Line(usize),
    /// Steps with the ground filled.
    Area(usize),
    /// Points.
    Dots(usize),
    /// Two standard deviations to both sides: mean and spread.
    Band(usize, usize),
}

/// A level to compare with.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// Where.
    pub value: f64,
    /// What it means.
    pub label: String,
    /// Which of the looks for levels.
    pub look: usize,
}

/// One lane of states.
#[derive(Clone, Debug, PartialEq)]
pub struct Lane {
    /// Its name.
    pub label: String,
    /// From when to when it holds, s since midnight.
    pub spans: Vec<(f64, f64)>,
}

/// What a track shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Body {
    /// A chart.
    Chart {
        /// Value at its foot.
        low: f64,
        /// Value at its head.
        high: f64,
        /// Where "far" and "no reading" are drawn.
        far_and_none: Option<(f64, f64)>,
        /// What is drawn, first to last.
        marks: Vec<Mark>,
        /// Levels.
        levels: Vec<Level>,
        /// Values with their labels.
        ticks: Vec<(f64, String)>,
    },
    /// Lanes.
    Lanes(Vec<Lane>),
}

/// A track.
#[derive(Clone, Debug, PartialEq)]
pub struct Track {
    /// Title with unit.
    pub title: String,
    /// What it shows.
    pub body: Body,
    /// Series that can be read off, with a short name.
    pub read: Vec<(usize, String)>,
    /// Which states can be read off.
    pub states: Option<&'static str>,
    /// What there is to see, for those who can't.
    pub alt: String,
    /// Words on its marks: look and meaning.
    pub legend: Vec<(&'static str, String)>,
}

impl Track {
    /// Height in pixels.
    pub fn height(&self) -> u32 {
        match &self.body {
            Body::Chart { ticks, .. } if ticks.len() > 5 => 120,
            Body::Chart { far_and_none: Some(_), .. } => 120,
            Body::Chart { .. } => 64,
            // Long names stand in two lines.
            Body::Lanes(lanes) if lanes.iter().any(|lane| lane.label.chars().count() > 16) => 26 * lanes.len() as u32,
            Body::Lanes(lanes) => 18 * lanes.len().max(1) as u32,
        }
    }
}

/// All tracks of a day.
pub fn tracks(told: &Told) -> Vec<Track> {
    let maker = Maker { told };
    let mut tracks = Vec::new();
    let mut chart = |about, title: &str, from: Option<f64>, most: f64, limits: &[(f64, &str)]| {
        tracks.extend(maker.plain(about, title, from, most, limits));
    };
    let (mower, drive, supply) = (&told.scenario.mower, &told.scenario.drive, &told.scenario.supply);
    chart(About::Sun, "Sun above the horizon, °", Some(0.0), 10.0, &[]);
    chart(About::Light, "Light, klux", Some(0.0), 1.0, &[]);
    chart(About::Rain, "Rain, mm/h", Some(0.0), 1.0, &[]);
    chart(About::Air, "Air, °C", None, f64::MIN, &[]);
    chart(About::Gust, "Gusts in the open, m/s", Some(0.0), 5.0, &[]);
    let levels = [(0.0, "door line"), (mower.shut_door.waits_at_m, "waiting point")];
    let below = -mower.dock.depth_m - 0.15;
    chart(About::Nose, "Mower's nose, m from the door line", Some(below), mower.approach.from_m + 0.1, &levels);
    tracks.push(maker.states(&told.replay.film.mower, "What the mower does"));
    tracks.extend(maker.visitors());
    tracks.extend(maker.plain(About::Door, "Door, % of its stroke", Some(0.0), 100.0, &[]));
    for sensor in maker.sensors() {
        tracks.extend(maker.sensor(sensor));
    }
    tracks.push(maker.switches());
    tracks.push(maker.states(&told.replay.film.controller, "Controller"));
    tracks.extend(maker.plain(About::Current, "Motor current, A", Some(0.0), 0.5, &[]));
    let trip = [(drive.heat.trips_at_c, "cut-out opens")];
    tracks.extend(maker.plain(About::Winding, "Winding, °C", None, f64::MIN, &trip));
    let limit = [(supply.limit_w, "limit")];
    tracks.extend(maker.plain(About::Supply, "Supply, W", Some(0.0), 1.0, &limit));
    tracks.extend(maker.plain(About::Charge, "Battery, % of its usable charge", Some(0.0), 100.0, &[]));
    tracks
}

struct Maker<'a> {
    told: &'a Told<'a>,
}

impl Maker<'_> {
    fn find(&self, about: About) -> Option<(usize, &Series)> {
        self.told.replay.film.series.iter().enumerate().find(|(_, series)| series.about == about)
    }

    /// Smallest and largest number of some series and levels.
    fn range(&self, series: &[usize], levels: &[Level]) -> (f64, f64) {
        let all = &self.told.replay.film.series;
        let values = series.iter().flat_map(|index| all[*index].points.iter().map(|(_, value)| *value));
        let values = values.chain(levels.iter().map(|level| level.value)).filter(|value| value.is_finite());
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
    }
}

/// Looks of lines, of levels.
pub const LOOKS: [&str; 6] = ["line-0", "line-1", "line-2", "line-3", "line-4", "line-5"];
/// Looks of levels: on and off of the first detector, of the second.
pub const LEVELS: [&str; 4] = ["level-0", "level-1", "level-2", "level-3"];
