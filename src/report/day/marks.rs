//! A track's marks as SVG paths, in whatever coordinates the caller has for time and value.

use std::fmt::Write as _;

use super::Told;
use super::tracks::{Body, LEVELS, LOOKS, Lane, Mark, Track};
use crate::ledger::film::{Series, Shape};
use crate::math::time::{Instant, Span};

/// Where things are on the paper.
pub struct Paper<'a> {
    /// From seconds since midnight to the right.
    pub x: &'a dyn Fn(f64) -> f64,
    /// Height of the track.
    pub height: f64,
}

/// All marks of a track.
pub fn marks(told: &Told, track: &Track, paper: &Paper) -> String {
    let mut pen = Pen { told, paper, out: String::new() };
    match &track.body {
        Body::Lanes(lanes) => pen.lanes(lanes),
        Body::Chart { low, high, far_and_none, marks, levels, ticks } => {
            let scale = Scale { low: *low, high: *high, far_and_none: *far_and_none, height: paper.height };
            for (value, _) in ticks {
                pen.across("grid", scale.y(*value));
            }
            let mut lines = 0;
            for mark in marks {
                match mark {
                    Mark::Band(mean, spread) => pen.band(*mean, *spread, &scale),
                    Mark::Area(series) => pen.line(*series, &scale, "area"),
                    Mark::Line(series) => {
                        pen.line(*series, &scale, LOOKS[lines % LOOKS.len()]);
                        lines += 1;
                    }
                    Mark::Dots(series) => {
                        let statistic = pen.series(*series).name.starts_with("detector ");
                        pen.dots(*series, &scale, if statistic { "dots-1" } else { "dots" });
                    }
                }
            }
            for level in levels {
                pen.across(LEVELS[level.look % LEVELS.len()], scale.y(level.value));
            }
        }
    }
    pen.out
}

/// From values to heights.
pub struct Scale {
    /// At the foot.
    pub low: f64,
    /// At the head.
    pub high: f64,
    /// Where "far" and "none" go.
    pub far_and_none: Option<(f64, f64)>,
    /// Height.
    pub height: f64,
}

impl Scale {
    /// Distance from the head.
    pub fn y(&self, value: f64) -> f64 {
        (self.high - value) / (self.high - self.low) * self.height
    }

    /// The same, for what may be "far".
    fn place(&self, value: f64) -> Option<f64> {
        if value.is_finite() {
            Some(self.y(value))
        } else if value == f64::INFINITY {
            self.far_and_none.map(|(far, _)| self.y(far))
        } else {
            None
        }
    }
}

struct Pen<'a> {
    told: &'a Told<'a>,
    paper: &'a Paper<'a>,
    out: String,
}

/// A coordinate with at most two decimals, zeros cut.
fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_string() } else { text.to_string() }
}

impl Pen<'_> {
    fn series(&self, index: usize) -> &Series {
        &self.told.replay.film.series[index]
    }

    fn x(&self, at: Instant) -> String {
        short((self.paper.x)(self.told.second(at)))
    }

    fn end(&self) -> String {
        short((self.paper.x)(self.told.length_s()))
    }

    fn path(&mut self, class: &str, d: &str) {
        if !d.is_empty() {
            let _ = writeln!(self.out, "<path class=\"{class}\" d=\"{d}\"/>");
        }
    }

    /// A level over the whole day.
    fn across(&mut self, class: &str, y: f64) {
        let (from, to) = (short((self.paper.x)(0.0)), self.end());
        self.path(class, &format!("M{from} {y}H{to}", y = short(y)));
    }

    fn line(&mut self, index: usize, scale: &Scale, class: &str) {
        let series = self.series(index);
        let steps = series.shape == Shape::Steps;
        let mut d = String::new();
        let mut ground = String::new();
        let mut drawing = false;
        let foot = short(scale.y(0.0_f64.clamp(scale.low, scale.high)));
        let mut last_x = String::new();
        let close = |ground: &mut String, x: &str| {
            if !ground.is_empty() && !ground.ends_with('Z') {
                let _ = write!(ground, "L{x} {foot}Z");
            }
        };
        for (at, value) in &series.points {
            let x = self.x(*at);
            if steps && drawing {
                let _ = write!(d, "H{x}");
                let _ = write!(ground, "H{x}");
            }
            match scale.place(*value).map(short) {
                Some(y) => {
                    let verb = if drawing { 'L' } else { 'M' };
                    let _ = write!(d, "{verb}{x} {y}");
                    if drawing {
                        let _ = write!(ground, "L{x} {y}");
                    } else {
                        let _ = write!(ground, "M{x} {foot}L{x} {y}");
                    }
                    drawing = true;
                }
                None => {
                    close(&mut ground, &last_x);
                    drawing = false;
                }
            }
            last_x = x;
        }
        if steps && drawing {
            last_x = self.end();
            let _ = write!(d, "H{last_x}");
            let _ = write!(ground, "H{last_x}");
        }
        close(&mut ground, &last_x);
        if class == "area" {
            self.path("ground", &ground);
            self.path(LOOKS[0], &d);
        } else {
            self.path(class, &d);
        }
    }

    fn band(&mut self, mean: usize, spread: usize, scale: &Scale) {
        let (mean, spread) = (self.series(mean), self.series(spread));
        let sigma = |at: Instant| spread.at(at).filter(|sigma| sigma.is_finite()).unwrap_or(0.0);
        let mut d = String::new();
        for pair in mean.points.windows(2) {
            let [(from, a), (to, b)] = [pair[0], pair[1]];
            // Just before the end: there the law may jump.
            let (s, t) = (2.0 * sigma(from), 2.0 * sigma(to - Span(1)));
            if from < to && a.is_finite() && b.is_finite() && s + t > 0.0 {
                let (x, to_x) = (self.x(from), self.x(to));
                let y = |value: f64| short(scale.y(value));
                let _ = write!(d, "M{x} {}L{to_x} {}L{to_x} {}L{x} {}Z", y(a + s), y(b + t), y(b - t), y(a - s));
            }
        }
        self.path("band", &d);
    }

    fn dots(&mut self, index: usize, scale: &Scale, class: &str) {
        let series = self.series(index);
        let mut d = String::new();
        for (at, value) in &series.points {
            let none = || scale.far_and_none.map(|(_, none)| scale.y(none));
            if let Some(y) = scale.place(*value).or_else(none) {
                let _ = write!(d, "M{} {}h0", self.x(*at), short(y));
            }
        }
        self.path(class, &d);
    }

    fn lanes(&mut self, lanes: &[Lane]) {
        let tall = self.paper.height / lanes.len().max(1) as f64;
        for (place, lane) in lanes.iter().enumerate() {
            let top = tall * place as f64;
            self.across("grid", top + tall);
            let mut d = String::new();
            for (from, to) in &lane.spans {
                let (x, to_x) = (short((self.paper.x)(*from)), short((self.paper.x)(*to)));
                let (y, foot) = (short(top + 0.2 * tall), short(top + 0.85 * tall));
                let _ = write!(d, "M{x} {y}H{to_x}V{foot}H{x}Z");
            }
            self.path("span", &d);
        }
    }
}
