//! The track of a sensor: its readings, what its law holds for likeliest, the levels of its detectors, and their statistics.

use super::ticks::ticks;
use super::{Body, LEVELS, Level, Maker, Mark, Track};
use crate::ledger::film::{About, Series};
use crate::report::day::{chosen, unit_text};
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::{Detector, Sense, Statistic};

/// Foot, head, places for "far" and "none", and ticks.
struct Axis {
    low: f64,
    high: f64,
    far_and_none: Option<(f64, f64)>,
    ticks: Vec<(f64, String)>,
}

impl Maker<'_> {
    /// Sensors of the strategy, in the scenario's order.
    pub(super) fn sensors(&self) -> Vec<usize> {
        let of = |series: &Series| match series.about {
            About::Reading(sensor) => Some(sensor),
            _ => None,
        };
        self.told.replay.film.series.iter().filter_map(of).collect()
    }

    /// A sensor's track, and one for each statistic that has another unit than its readings.
    pub(super) fn sensor(&self, index: usize) -> Vec<Track> {
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
        let Axis { low, high, far_and_none, ticks } = self.axis(sensor, &[readings, likeliest], &levels);
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

    /// The axis for these series and levels.
    fn axis(&self, sensor: &Sensor, series: &[usize], levels: &[Level]) -> Axis {
        let names = names(sensor);
        if let Some((last, _)) = names.last() {
            let ticks = names.iter().map(|(value, name)| (*value, (*name).to_string())).collect();
            return Axis { low: -0.4, high: last + 0.4, far_and_none: None, ticks };
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
                Axis { low: -0.24 * most, high: 1.22 * most, far_and_none: Some((far, none)), ticks }
            }
            _ => {
                let (low, high) = self.range(series, levels);
                let (low, high) = if low < high { (low.min(0.0), high) } else { (low.min(0.0), high.max(1.0)) };
                let high = high + 0.08 * (high - low);
                Axis { low, high, far_and_none: None, ticks: ticks(low, high) }
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

fn ranges(sensor: &Sensor) -> bool {
    sensor.kind.aim().is_some()
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
