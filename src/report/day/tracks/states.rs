//! Tracks with lanes: what mower and controller do, which detectors are on, which rules hold.

use super::{Body, Lane, Maker, Track};
use crate::ledger::film::{About, States};
use crate::report::words::lasting;

impl Maker<'_> {
    /// Lanes of states: those that the day has, in order of appearance.
    pub(super) fn states(&self, states: &States, title: &str) -> Track {
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
                format!("{} {}", lane.label, lasting(all))
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
    pub(super) fn switches(&self) -> Track {
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
}
