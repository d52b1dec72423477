//! The tracks of a timeline, from the sky down to the supply: which series each shows, over which range, with which levels.

use super::{Told, chosen, shown, unit_text};
use crate::ledger::film::{About, Series, States};
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::{Detector, Sense, Statistic};

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

    /// A chart of one series from `from` (or below its smallest value) to at least `most`.
    fn plain(&self, about: About, title: &str, from: Option<f64>, most: f64, limits: &[(f64, &str)]) -> Option<Track> {
        let (index, series) = self.find(about)?;
        // A limit far away would flatten what there is to see: it is named instead.
        let (_, highest) = self.range(&[index], &[]);
        let near = |limit: f64| limit <= 3.0 * highest.max(most).max(1.0);
        let level = |(value, label): &(f64, &str)| Level {
            value: *value,
            label: format!("{label} at {}", chosen(*value, series.unit)),
            look: 0,
        };
        let levels: Vec<Level> = limits.iter().filter(|(value, _)| near(*value)).map(level).collect();
        let far_away = limits.iter().filter(|(value, _)| !near(*value)).map(level);
        let (least, highest) = self.range(&[index], &levels);
        // Light is not worked out where no sensor minds it.
        if least > highest || (about == About::Light && highest <= 0.0) {
            return None;
        }
        let high = highest.max(most);
        let low = from.unwrap_or(least - 1.0);
        let high = high + 0.08 * (high - low).max(1e-3);
        let filled = matches!(about, About::Rain | About::Sun | About::Light | About::Door);
        let mark = if filled { Mark::Area(index) } else { Mark::Line(index) };
        let mut legend: Vec<(&str, String)> = levels.iter().map(|level| ("level-0", level.label.clone())).collect();
        legend.extend(far_away.map(|level| ("", format!("{}, off the chart", level.label))));
        let marks = vec![mark];
        let alt = self.alt(title, &[index]);
        Some(Track {
            title: title.to_string(),
            body: Body::Chart { low, high, far_and_none: None, marks, ticks: ticks(low, high), levels },
            read: vec![(index, String::new())],
            states: None,
            alt,
            legend,
        })
    }

    /// From which to which value a series goes, in words.
    fn alt(&self, title: &str, series: &[usize]) -> String {
        let unit = self.told.replay.film.series[series[0]].unit;
        match self.range(series, &[]) {
            (low, high) if low < high => format!("{title}: from {} to {}.", shown(low, unit), shown(high, unit)),
            (low, high) if low == high => format!("{title}: {} all day.", shown(low, unit)),
            _ => format!("{title}: nothing all day."),
        }
    }

    fn visitors(&self) -> Option<Track> {
        let film = &self.told.replay.film;
        let shown: Vec<(usize, String)> = film
            .series
            .iter()
            .enumerate()
            .filter_map(|(index, series)| match series.about {
                About::Visitor(kind) => Some((index, self.told.scenario.visitors[kind].name.clone())),
                _ => None,
            })
            .collect();
        let first = shown.first()?.0;
        let indices: Vec<usize> = shown.iter().map(|(index, _)| *index).collect();
        let (low, high) = self.range(&indices, &[]);
        let (low, high) = (low.min(-0.2), high.max(1.0) + 0.1);
        let title = "Visitors, m from the door line".to_string();
        let level = Level { value: 0.0, label: "door line".to_string(), look: 0 };
        let names: Vec<&str> = shown.iter().map(|(_, name)| name.as_str()).collect();
        let alt = format!("{} {}", self.alt(&title, &[first]), names.join(", "));
        Some(Track {
            title,
            body: Body::Chart {
                low,
                high,
                far_and_none: None,
                marks: indices.into_iter().map(Mark::Line).collect(),
                ticks: ticks(low, high),
                levels: vec![level],
            },
            read: shown.clone(),
            states: None,
            alt,
            legend: LOOKS.iter().zip(&names).map(|(look, name)| (*look, (*name).to_string())).collect(),
        })
    }

    /// Lanes of states: those that the day has, in order of appearance.
    fn states(&self, states: &States, title: &str) -> Track {
        let mut lanes: Vec<Lane> = Vec::new();
        for (place, (at, state)) in states.changes.iter().enumerate() {
            let until = states.changes.get(place + 1).map_or(self.told.length_s(), |(next, _)| self.told.second(*next));
            let span = (self.told.second(*at), until);
            match lanes.iter_mut().find(|lane| lane.label == *state) {
                Some(lane) => lane.spans.push(span),
                None => lanes.push(Lane { label: (*state).to_string(), spans: vec![span] }),
            }
        }
        let names: Vec<String> = lanes
            .iter()
            .map(|lane| {
                let all: f64 = lane.spans.iter().map(|(from, to)| to - from).sum();
                format!("{} {}", lane.label, crate::report::words::lasting(all))
            })
            .collect();
        let alt = format!("{title} over the day: {}.", names.join(", "));
        Track {
            title: title.to_string(),
            body: Body::Lanes(lanes),
            read: Vec::new(),
            states: Some(states.name),
            alt,
            legend: Vec::new(),
        }
    }

    /// Lanes of detectors (as the controller hears them) and rules.
    fn switches(&self) -> Track {
        let film = &self.told.replay.film;
        let (mut lanes, mut read) = (Vec::new(), Vec::new());
        for (index, series) in film.series.iter().enumerate() {
            let label = match series.about {
                About::Heard(detector) => self.told.scenario.detectors[detector].name.clone(),
                About::Rule(_) => series.name.clone(),
                _ => continue,
            };
            let mut spans = Vec::new();
            for (place, (at, value)) in series.points.iter().enumerate().filter(|(_, (_, value))| *value > 0.0) {
                debug_assert_eq!(*value, 1.0, "a switch is on or off");
                let until =
                    series.points.get(place + 1).map_or(self.told.length_s(), |(next, _)| self.told.second(*next));
                spans.push((self.told.second(*at), until));
            }
            read.push((index, label.clone()));
            lanes.push(Lane { label, spans });
        }
        let on: Vec<String> = lanes.iter().map(|lane| format!("{} {} times", lane.label, lane.spans.len())).collect();
        Track {
            title: "Detectors on and rules that hold".to_string(),
            alt: format!("Detectors and rules: {}.", on.join(", ")),
            body: Body::Lanes(lanes),
            read,
            states: None,
            legend: Vec::new(),
        }
    }

    /// Sensors of the strategy, in the scenario's order.
    fn sensors(&self) -> Vec<usize> {
        let of = |series: &Series| match series.about {
            About::Reading(sensor) => Some(sensor),
            _ => None,
        };
        self.told.replay.film.series.iter().filter_map(of).collect()
    }

    /// A sensor's track, and one for each statistic that has another unit than its readings.
    fn sensor(&self, index: usize) -> Vec<Track> {
        let sensor = &self.told.scenario.sensors[index];
        let mut tracks = Vec::new();
        let (Some((readings, series)), Some((likeliest, _)), Some((spread, _))) =
            (self.find(About::Reading(index)), self.find(About::Expected(index)), self.find(About::Spread(index)))
        else {
            return tracks;
        };
        let unit = series.unit;
        let detectors: Vec<(usize, &Detector)> = self
            .told
            .scenario
            .detectors
            .iter()
            .enumerate()
            .filter(|(at, detector)| detector.sensor == index && self.find(About::On(*at)).is_some())
            .collect();
        let mut marks = vec![Mark::Band(likeliest, spread), Mark::Line(likeliest), Mark::Dots(readings)];
        let mut legend = vec![("dots", "readings drawn".to_string())];
        let what = if ranges(sensor) { "likeliest reading and two standard deviations" } else { "likeliest reading" };
        legend.push(("band", what.to_string()));
        let mut read = vec![(readings, "reading".to_string()), (likeliest, "likeliest".to_string())];
        let mut levels: Vec<Level> = Vec::new();
        let mut others = Vec::new();
        for (at, detector) in detectors {
            let statistic = self.find(About::Statistic(at)).map(|(statistic, _)| statistic);
            match (detector.statistic, statistic) {
                (Statistic::Level, _) | (_, None) => {
                    levels.extend(levels_of(detector, sensor, unit, levels.len()));
                }
                (Statistic::MovingMean(_) | Statistic::MovingMedian(_) | Statistic::Ewma { .. }, Some(statistic)) => {
                    levels.extend(levels_of(detector, sensor, unit, levels.len()));
                    marks.push(Mark::Dots(statistic));
                    legend.push(("dots-1", format!("{} of {}", statistic_name(&detector.statistic), detector.name)));
                    read.push((statistic, statistic_name(&detector.statistic).to_string()));
                }
                (_, Some(statistic)) => others.push(self.statistic(detector, statistic)),
            }
        }
        let (low, high, far_and_none, ticks) = self.sensor_range(sensor, &[readings, likeliest], &levels);
        let named = levels.iter().map(|level| (LEVELS[level.look % LEVELS.len()], level.label.clone()));
        legend.splice(0..0, named);
        let unit = unit_text(unit);
        let title = format!("Sensor {}{}{unit}", sensor.name, if unit.is_empty() { "" } else { ", " });
        let drawn = self.told.replay.film.series[readings].points.len();
        let alt = format!("{} {drawn} readings drawn.", self.alt(&title, &[likeliest]));
        let body = Body::Chart { low, high, far_and_none, marks, levels, ticks };
        tracks.push(Track { title, body, read, states: None, alt, legend });
        tracks.extend(others);
        tracks
    }

    fn statistic(&self, detector: &Detector, index: usize) -> Track {
        let unit = self.told.replay.film.series[index].unit;
        let at =
            |value: f64, words: &str, look| Level { value, label: format!("{words} {}", chosen(value, unit)), look };
        let levels = match &detector.statistic {
            Statistic::Cusum { limit } => vec![at(*limit, "speaks above", 0)],
            Statistic::LikelihoodRatio(test) => {
                let (accept, reject) = test.bounds();
                vec![at(accept, "decides for \"there\" at", 0), at(reject, "decides for \"not there\" at", 1)]
            }
            _ => vec![at(detector.on, "on from", 0), at(detector.off, "off below", 1)],
        };
        let (low, high) = self.range(&[index], &levels);
        let (low, high) = (low.min(0.0), high + 0.08 * (high - low).max(1e-3));
        let name = statistic_name(&detector.statistic);
        let title = format!("{name} of {}, {}", detector.name, unit_text(unit));
        let mut legend = vec![("dots", format!("{name} after each reading that was drawn"))];
        legend.extend(levels.iter().map(|level| (LEVELS[level.look], level.label.clone())));
        Track {
            alt: self.alt(&title, &[index]),
            body: Body::Chart {
                low,
                high,
                far_and_none: None,
                marks: vec![Mark::Dots(index)],
                levels,
                ticks: ticks(low, high),
            },
            title,
            read: vec![(index, String::new())],
            states: None,
            legend,
        }
    }

    /// Foot, head, places for "far" and "none", and ticks.
    fn sensor_range(
        &self,
        sensor: &Sensor,
        series: &[usize],
        levels: &[Level],
    ) -> (f64, f64, Option<(f64, f64)>, Vec<(f64, String)>) {
        let names = names(sensor);
        if let Some((last, _)) = names.last() {
            let ticks = names.iter().map(|(value, name)| (*value, (*name).to_string())).collect();
            return (-0.4, last + 0.4, None, ticks);
        }
        match &sensor.kind {
            SensorKind::OpticalRange { aim, .. }
            | SensorKind::PhotonRange { aim, .. }
            | SensorKind::UltrasonicRange { aim, .. } => {
                let most = self.range(series, levels).1.max(aim.farthest_m);
                // Room for "far" above and "none" below the readings.
                let mut ticks = ticks(0.0, 0.98 * most);
                let (far, none) = (1.15 * most, -0.17 * most);
                ticks.extend([(far, "far".to_string()), (none, "none".to_string())]);
                (-0.24 * most, 1.22 * most, Some((far, none)), ticks)
            }
            _ => {
                let (low, high) = self.range(series, levels);
                let (low, high) = if low < high { (low.min(0.0), high) } else { (low.min(0.0), high.max(1.0)) };
                let high = high + 0.08 * (high - low);
                (low, high, None, ticks(low, high))
            }
        }
    }
}

/// What the readings of a sensor with few values mean; nothing for the others.
pub fn names(sensor: &Sensor) -> &'static [(f64, &'static str)] {
    match &sensor.kind {
        SensorKind::BreakBeam { .. } => &[(0.0, "clear"), (1.0, "broken")],
        SensorKind::EndSwitch { .. } => &[(0.0, "not made"), (1.0, "made")],
        SensorKind::Clock { .. } => &[(0.0, "outside"), (1.0, "in window")],
        SensorKind::Status { .. } => {
            &[(0.0, "docked"), (1.0, "leaving"), (2.0, "mowing"), (3.0, "returning"), (4.0, "error"), (7.0, "unknown")]
        }
        _ => &[],
    }
}

/// Looks of lines, of levels.
pub const LOOKS: [&str; 6] = ["line-0", "line-1", "line-2", "line-3", "line-4", "line-5"];
/// Looks of levels: on and off of the first detector, of the second.
pub const LEVELS: [&str; 4] = ["level-0", "level-1", "level-2", "level-3"];

fn ranges(sensor: &Sensor) -> bool {
    matches!(
        sensor.kind,
        SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. } | SensorKind::UltrasonicRange { .. }
    )
}

fn levels_of(detector: &Detector, sensor: &Sensor, unit: &str, taken: usize) -> Vec<Level> {
    if !names(sensor).is_empty() {
        return Vec::new();
    }
    let (on, off) = match detector.sense {
        Sense::Below => ("or less", "above"),
        Sense::Above => ("or more", "below"),
    };
    let name = &detector.name;
    vec![
        Level { value: detector.on, label: format!("{name} on: {} {on}", chosen(detector.on, unit)), look: taken },
        Level {
            value: detector.off,
            label: format!("{name} off: {off} {}", chosen(detector.off, unit)),
            look: taken + 1,
        },
    ]
}

/// A statistic's name.
fn statistic_name(statistic: &Statistic) -> &'static str {
    match statistic {
        Statistic::Level => "reading",
        Statistic::MovingMean(_) => "moving mean",
        Statistic::MovingMedian(_) => "moving median",
        Statistic::ApproachRate(_) => "approach rate",
        Statistic::Cusum { .. } => "CUSUM",
        Statistic::Ewma { .. } => "EWMA",
        Statistic::LikelihoodRatio(_) => "log-likelihood ratio",
    }
}

/// Two or three round values between the ends.
pub fn ticks(low: f64, high: f64) -> Vec<(f64, String)> {
    let span = high - low;
    if !(span > 0.0 && span.is_finite()) {
        return Vec::new();
    }
    let rough = span / 2.5;
    let power = 10_f64.powi(rough.log10().floor() as i32);
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|step| step * power).find(|step| *step >= rough).unwrap_or(span);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last)
        .map(|tick| {
            let value = tick as f64 * step;
            (value, crate::report::number::chosen(super::rounded(value)))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::ticks;

    #[test]
    fn ticks_are_round_and_few() {
        let at = |low, high| ticks(low, high).into_iter().map(|(_, label)| label).collect::<Vec<_>>();
        assert_eq!(at(0.0, 100.0), ["0", "50", "100"]);
        assert_eq!(at(-0.95, 6.1), ["0", "5"]);
        assert_eq!(at(0.0, 1.08), ["0", "0.5", "1"]);
        assert!(at(3.0, 3.0).is_empty());
    }
}
