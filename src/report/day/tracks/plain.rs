//! Tracks of single series: the sky, positions, current, temperature, power; and those of the visitors.

use super::ticks::ticks;
use super::{Body, LOOKS, Level, Maker, Mark, Track};
use crate::ledger::film::About;
use crate::report::day::{chosen, shown};

impl Maker<'_> {
    /// A chart of one series from `from` (or below its smallest value) to at least `most`.
    pub(super) fn plain(
        &self,
        about: About,
        title: &str,
        from: Option<f64>,
        most: f64,
        limits: &[(f64, &str)],
    ) -> Option<Track> {
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
    pub(super) fn alt(&self, title: &str, series: &[usize]) -> String {
        let unit = self.told.replay.film.series[series[0]].unit;
        match self.range(series, &[]) {
            (low, high) if low < high => format!("{title}: from {} to {}.", shown(low, unit), shown(high, unit)),
            (low, high) if low == high => format!("{title}: {} all day.", shown(low, unit)),
            _ => format!("{title}: nothing all day."),
        }
    }

    pub(super) fn visitors(&self) -> Option<Track> {
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
}
