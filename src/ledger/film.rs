//! What an observer saw of one stretch of a season: series over time and states in words.
//!
//! A film is watched, never acted: it takes no part in the season and nothing in it is drawn for its sake.

use crate::math::time::Instant;

/// How a series goes on between its points.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// A value holds until the next one.
    Steps,
    /// Straight from point to point.
    Line,
    /// Points of their own, with nothing known in between.
    Dots,
}

/// What a series is about, so that pictures know where it belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// Rain, mm/h.
    Rain,
    /// Air temperature, degC.
    Air,
    /// Gust in the open, m/s.
    Gust,
    /// Light on the scene, klux.
    Light,
    /// Elevation of the sun, degrees.
    Sun,
    /// The mower's nose, m from the door line.
    Nose,
    /// Its sideways offset, m.
    Sideways,
    /// Door position as a share of its stroke, %.
    Door,
    /// Clear height (or width where it opens sideways), m.
    Clear,
    /// Tilt of the panel from shut, degrees.
    Tilt,
    /// A coordinate of the panel's ends: first end across and up (or sideways), then the other end's.
    Pose(usize),
    /// Motor current, A.
    Current,
    /// Winding temperature, degC.
    Winding,
    /// Housing temperature, degC.
    Housing,
    /// Power taken from the supply, W.
    Supply,
    /// What is left of a battery's usable charge, %.
    Charge,
    /// A visitor's middle, m from the door line: index of its kind.
    Visitor(usize),
    /// Its sideways offset, m.
    VisitorSideways(usize),
    /// Readings of a sensor, as they were drawn.
    Reading(usize),
    /// The reading that a sensor's law holds for the likeliest, noise left out.
    Expected(usize),
    /// Standard deviation of a reading about it.
    Spread(usize),
    /// What a detector made of the readings, where that is not the reading itself.
    Statistic(usize),
    /// Whether a detector is on, at its sensor.
    On(usize),
    /// Whether the controller takes it to be on.
    Heard(usize),
    /// A rule of the strategy: open, hold, doorway, close.
    Rule(usize),
    /// Power to the shelter.
    Power,
}

/// A series.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// What it is about.
    pub about: About,
    /// Its name.
    pub name: String,
    /// Unit, "" for a bare number.
    pub unit: &'static str,
    /// How it goes on between points.
    pub shape: Shape,
    /// Time and value, in order of time. Not a number: there is none (a mower out of sight, a sensor that says nothing);
    /// infinite: a ranger that sees no target.
    pub points: Vec<(Instant, f64)>,
}

impl Series {
    /// An empty series.
    pub fn new(about: About, name: impl Into<String>, unit: &'static str, shape: Shape) -> Series {
        Series { about, name: name.into(), unit, shape, points: Vec::new() }
    }

    /// Adds a point; a step that changes nothing is left out.
    pub fn add(&mut self, at: Instant, value: f64) {
        let same = |other: f64| other == value || (other.is_nan() && value.is_nan());
        match (self.shape, self.points.as_slice()) {
            (Shape::Steps, [.., (_, last)]) if same(*last) => {}
            (Shape::Line, [.., (before, a), (last, b)]) if same(*a) && same(*b) && before < last => {
                let last = self.points.len() - 1;
                self.points[last].0 = at;
            }
            (Shape::Line, [.., (when, last)]) if *when == at && same(*last) => {}
            _ => self.points.push((at, value)),
        }
    }

    /// Leaves out points of a line that its neighbours give anyway, within `tolerance`.
    pub fn simplify(&mut self, tolerance: f64) {
        if self.shape != Shape::Line || self.points.len() < 3 {
            return;
        }
        let points = &self.points;
        let mut kept = vec![false; points.len()];
        let mut stack = Vec::new();
        // Numbers, gaps and "far" are kept apart: only a run of numbers is a line.
        let kind = |index: usize| (points[index].1.is_nan(), points[index].1.is_infinite());
        let mut first = 0;
        for index in 1..=points.len() {
            if index == points.len() || kind(index) != kind(first) {
                kept[first] = true;
                kept[index - 1] = true;
                if points[first].1.is_finite() {
                    stack.push((first, index - 1));
                }
                first = index;
            }
        }
        // Ramer 1972, Douglas and Peucker 1973, with the distance along the value's axis.
        while let Some((a, b)) = stack.pop() {
            let ((start, from), (end, to)) = (points[a], points[b]);
            let span = end.since(start).seconds();
            let off = |index: usize| {
                let (at, value) = points[index];
                let share = if span > 0.0 { at.since(start).seconds() / span } else { 0.0 };
                (value - (from + (to - from) * share)).abs()
            };
            let worst = (a + 1..b).max_by(|x, y| off(*x).total_cmp(&off(*y)));
            if let Some(worst) = worst.filter(|index| off(*index) > tolerance) {
                kept[worst] = true;
                stack.push((a, worst));
                stack.push((worst, b));
            }
        }
        let mut place = 0;
        self.points.retain(|_| {
            place += 1;
            kept[place - 1]
        });
    }

    /// The value at a moment: the step that holds, or the place on the line; none before the first point, after the
    /// last of a line, and for dots.
    pub fn at(&self, at: Instant) -> Option<f64> {
        let next = self.points.partition_point(|(when, _)| *when <= at);
        let (before, value) = *self.points.get(next.checked_sub(1)?)?;
        match (self.shape, self.points.get(next)) {
            (Shape::Steps, _) => Some(value),
            (Shape::Dots, _) => None,
            (Shape::Line, _) if before == at => Some(value),
            (Shape::Line, None) => None,
            (Shape::Line, Some((after, to))) => {
                let share = at.since(before).seconds() / after.since(before).seconds();
                Some(if value.is_finite() && to.is_finite() { value + (to - value) * share } else { value })
            }
        }
    }
}

/// States in words: each holds until the next one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct States {
    /// Whose.
    pub name: &'static str,
    /// Since when, and which.
    pub changes: Vec<(Instant, &'static str)>,
}

impl States {
    /// Adds a state, if it is another than the last one.
    pub fn add(&mut self, at: Instant, state: &'static str) {
        if self.changes.last().is_none_or(|(_, last)| *last != state) {
            self.changes.push((at, state));
        }
    }
}

impl States {
    /// Each state until `to`: since when it held, which it was, and for how long, s.
    pub fn stretches(&self, to: Instant) -> impl Iterator<Item = (Instant, &'static str, f64)> + '_ {
        let ends = self.changes.iter().skip(1).map(|(at, _)| *at).chain([to]);
        self.changes.iter().zip(ends).map(|((from, state), end)| (*from, *state, end.since(*from).seconds()))
    }

    /// How long a state held until `to`, s.
    pub fn held_s(&self, state: &str, to: Instant) -> f64 {
        self.stretches(to).filter(|(_, held, _)| *held == state).map(|(_, _, seconds)| seconds).sum()
    }
}

/// A stretch of a season as it was seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    /// Its beginning.
    pub from: Instant,
    /// Its end.
    pub to: Instant,
    /// The series.
    pub series: Vec<Series>,
    /// What the mower was doing.
    pub mower: States,
    /// What the controller was doing.
    pub controller: States,
}

impl Film {
    /// The first series about something.
    pub fn about(&self, about: About) -> Option<&Series> {
        self.series.iter().find(|series| series.about == about)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(seconds: f64) -> Instant {
        Instant::from_seconds(seconds)
    }

    #[test]
    fn a_line_keeps_its_corners_and_gaps() {
        let far = f64::INFINITY;
        let seen = [0.0, 1.0, 2.0, 2.0, far, far, far, f64::NAN, f64::NAN, 5.0, 5.0];
        let at = [0.0, 1.0, 2.0, 3.0, 3.0, 3.5, 4.0, 4.0, 9.0, 9.0, 9.2];
        let mut line = Series::new(About::Nose, "nose", "m", Shape::Line);
        at.into_iter().zip(seen).for_each(|(at, value)| line.add(s(at), value));
        line.simplify(1e-6);
        let times: Vec<f64> = line.points.iter().map(|(at, _)| at.seconds()).collect();
        assert_eq!(times, [0.0, 2.0, 3.0, 3.0, 4.0, 4.0, 9.0, 9.0, 9.2]);
        assert_eq!((line.at(s(1.5)), line.at(s(3.7)), line.at(s(9.0))), (Some(1.5), Some(far), Some(5.0)));
        assert!(line.at(s(5.0)).is_some_and(f64::is_nan));
        assert_eq!(line.at(s(9.5)), None);
    }

    #[test]
    fn states_are_timed_to_the_end() {
        let mut states = States { name: "door", changes: Vec::new() };
        for (at, state) in [(0.0, "shut"), (10.0, "open"), (12.0, "shut"), (15.0, "open")] {
            states.add(s(at), state);
        }
        let held = ["shut", "open", "ajar"].map(|state| states.held_s(state, s(40.0)));
        assert_eq!(held, [13.0, 27.0, 0.0]);
    }

    #[test]
    fn steps_hold_and_do_not_repeat() {
        let mut steps = Series::new(About::Rain, "rain", "mm/h", Shape::Steps);
        for (at, value) in [(0.0, 0.0), (5.0, 0.0), (7.0, 2.0), (8.0, 2.0)] {
            steps.add(s(at), value);
        }
        assert_eq!(steps.points.len(), 2);
        assert_eq!((steps.at(s(6.9)), steps.at(s(7.0)), steps.at(s(100.0))), (Some(0.0), Some(2.0), Some(2.0)));
    }
}
