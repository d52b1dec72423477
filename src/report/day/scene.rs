//! The shelter from the side (or from above, where the door opens sideways): mower, panel, sensors, visitors at one moment.
//! The page's script moves them; places and poses come from the film.

use maud::{Markup, PreEscaped, html};

use super::Told;
use crate::ledger::film::About;
use crate::math::time::Instant;
use crate::scenario::sensor::{Aim, Sensor, SensorKind, TiltOn};
use crate::shelter::mechanism;

/// Units of the drawing per metre.
const PER_M: f64 = 100.0;

/// What is drawn: outwards to the right, up (or to the left of somebody looking out) upwards.
pub struct Scene<'a> {
    told: &'a Told<'a>,
    plan_view: bool,
    left: f64,
    right: f64,
    low: f64,
    high: f64,
}

impl Scene<'_> {
    /// Measures what there is to draw.
    pub fn new<'a>(told: &'a Told<'a>) -> Scene<'a> {
        let (mower, door) = (&told.scenario.mower, &told.scenario.door);
        let plan_view = mechanism::opens_sideways(door);
        let ends = |place: usize| {
            let points = told.replay.film.about(About::Pose(place)).map(|series| series.points.as_slice());
            let values = points.unwrap_or_default().iter().map(|point| point.1);
            values.fold((0.0_f64, 0.0_f64), |(low, high), value| (low.min(value), high.max(value)))
        };
        let (x, across) = ((ends(0), ends(2)), (ends(1), ends(3)));
        let waits = mower.shut_door.waits_at_m + mower.shut_door.back_off_m + mower.length_m + 0.6;
        let right = waits.min(mower.approach.from_m + mower.length_m).max(x.0.1.max(x.1.1) + 0.2);
        let left = (-mower.dock.depth_m - 0.2).min(x.0.0.min(x.1.0) - 0.1);
        let half = 0.5 * mower.width_m.max(door.width_m) + 0.35;
        let top = across.0.1.max(across.1.1);
        let tallest = told.scenario.visitors.iter().enumerate();
        let tallest = tallest.filter(|(kind, _)| told.replay.film.about(About::Visitor(*kind)).is_some());
        let tallest = tallest.map(|(_, visitor)| visitor.height_m).fold(mower.height_m, f64::max);
        let (low, high) = if plan_view {
            ((-half).min(across.0.0.min(across.1.0) - 0.1), half.max(top + 0.1))
        } else {
            // Names stand above mower and visitors.
            (-0.16, (top + 0.1).max(door.height_m + 0.2).max(tallest + 0.3))
        };
        Scene { told, plan_view, left, right, low, high }
    }

    fn x(&self, metres: f64) -> f64 {
        (metres - self.left) * PER_M
    }

    fn y(&self, metres: f64) -> f64 {
        (self.high - metres) * PER_M
    }

    fn width(&self) -> f64 {
        (self.right - self.left) * PER_M
    }

    fn height(&self) -> f64 {
        (self.high - self.low) * PER_M
    }

    /// The drawing at a moment, with labels over it.
    pub fn render(&self, at: Instant) -> Markup {
        let (width, height) = (self.width(), self.height());
        let view = if self.plan_view { "from above" } else { "from the side" };
        let label = format!("The shelter {view} at the chosen moment, to scale: dock left, lawn right.");
        html! {
            div #scene .scene data-left=(self.left) data-high=(self.high) data-scale=(PER_M)
                data-width=(width) data-height=(height) style={ "--ratio:" (format!("{:.3}", width / height)) } {
                svg viewBox={ "0 0 " (format!("{width:.0}")) " " (format!("{height:.0}")) } role="img" aria-label=(label) {
                    (self.house())
                    @for (number, sensor) in self.sensors() { (self.view(number, sensor)) }
                    (self.mower(at))
                    (self.visitors(at))
                    (self.panel(at))
                }
                @for (number, sensor) in self.sensors() { (self.mark(number, sensor)) }
                (self.label("mower", "mower-label", self.mower_at(at)))
                @for (kind, visitor) in self.told.scenario.visitors.iter().enumerate() {
                    @if self.told.replay.film.about(About::Visitor(kind)).is_some() {
                        (self.label(&visitor.name, &format!("visitor-label-{kind}"), self.visitor_at(kind, at)))
                    }
                }
            }
        }
    }

    /// Sensors of the strategy with the numbers of their marks.
    fn sensors(&self) -> impl Iterator<Item = (usize, &Sensor)> {
        let film = &self.told.replay.film;
        let numbers = film.series.iter().filter_map(|series| match series.about {
            About::Reading(sensor) => Some(sensor),
            _ => None,
        });
        numbers.enumerate().map(|(number, sensor)| (number, &self.told.scenario.sensors[sensor]))
    }

    fn house(&self) -> Markup {
        let (mower, door) = (&self.told.scenario.mower, &self.told.scenario.door);
        let back = -mower.dock.depth_m - 0.1;
        let d = if self.plan_view {
            let half = 0.5 * door.width_m.max(mower.width_m + 0.1);
            let (far, near, open) = (self.y(half), self.y(-half), 0.5 * door.width_m);
            let (wall, line) = (self.x(back), self.x(0.0));
            format!("M{line:.1} {:.1}V{far:.1}H{wall:.1}V{near:.1}H{line:.1}V{:.1}", self.y(open), self.y(-open))
        } else {
            let roof = self.y(door.height_m + 0.08);
            let (wall, line, ground) = (self.x(back), self.x(0.0), self.y(0.0));
            format!("M{wall:.1} {ground:.1}V{roof:.1}H{line:.1}V{:.1}", self.y(door.height_m))
        };
        let ground = format!("M0 {0:.1}H{1:.1}", self.y(0.0), self.width());
        html! {
            @if !self.plan_view { path class="earth" d=(ground) {} }
            path class="house" d=(d) {}
        }
    }

    fn place(&self, about: About, at: Instant) -> Option<f64> {
        self.told.replay.film.about(about)?.at(at).filter(|value| value.is_finite())
    }

    fn mower_at(&self, at: Instant) -> Option<(f64, f64)> {
        let mower = &self.told.scenario.mower;
        let nose = self.place(About::Nose, at)?;
        let aside = self.place(About::Sideways, at).unwrap_or(0.0);
        let top = if self.plan_view { 0.5 * mower.width_m + aside } else { mower.height_m };
        Some((nose + 0.5 * mower.length_m, top))
    }

    fn mower(&self, at: Instant) -> Markup {
        let mower = &self.told.scenario.mower;
        let nose = self.place(About::Nose, at);
        let (across, tall) =
            if self.plan_view { (0.5 * mower.width_m, mower.width_m) } else { (mower.height_m, mower.height_m) };
        // Drawn with its nose at the door line; moved from there.
        let shift = nose.map_or(0.0, |nose| nose * PER_M);
        let aside = self.place(About::Sideways, at).filter(|_| self.plan_view).unwrap_or(0.0) * -PER_M;
        html! {
            g #mower transform=(format!("translate({shift:.1} {aside:.1})")) display=[nose.is_none().then_some("none")] {
                rect class="mower" x=(format!("{:.1}", self.x(0.0))) y=(format!("{:.1}", self.y(across)))
                    width=(format!("{:.1}", mower.length_m * PER_M)) height=(format!("{:.1}", tall * PER_M)) rx="5" {}
                @if !self.plan_view {
                    @for share in [0.22, 0.78] {
                        circle class="wheel" cx=(format!("{:.1}", self.x(share * mower.length_m)))
                            cy=(format!("{:.1}", self.y(0.06))) r="6" {}
                    }
                }
            }
        }
    }

    fn visitor_at(&self, kind: usize, at: Instant) -> Option<(f64, f64)> {
        let visitor = &self.told.scenario.visitors[kind];
        let x = self.place(About::Visitor(kind), at)?;
        let half = 0.25 * (visitor.length_m + visitor.width_m);
        let up = self.place(About::VisitorSideways(kind), at).filter(|_| self.plan_view);
        Some((x, up.map_or(visitor.height_m, |up| up + half)))
    }

    fn visitors(&self, at: Instant) -> Markup {
        html! {
            @for (kind, visitor) in self.told.scenario.visitors.iter().enumerate() {
                @if self.told.replay.film.about(About::Visitor(kind)).is_some() {
                    // Visitors are as long as they are wide to the sensors.
                    @let half = 0.25 * (visitor.length_m + visitor.width_m);
                    @let tall = if self.plan_view { 2.0 * half } else { visitor.height_m };
                    @let place = self.visitor_at(kind, at);
                    @let (x, top) = place.unwrap_or((0.0, tall));
                    rect class="visitor" id={ "visitor-" (kind) } display=[place.is_none().then_some("none")]
                        data-half=(half) data-tall=(tall)
                        x=(format!("{:.1}", self.x(x - half))) y=(format!("{:.1}", self.y(top)))
                        width=(format!("{:.1}", 2.0 * half * PER_M)) height=(format!("{:.1}", tall * PER_M)) {}
                }
            }
        }
    }

    fn panel(&self, at: Instant) -> Markup {
        let end = |place| self.place(About::Pose(place), at).unwrap_or(0.0);
        html! {
            line #panel .panel x1=(format!("{:.1}", self.x(end(0)))) y1=(format!("{:.1}", self.y(end(1))))
                x2=(format!("{:.1}", self.x(end(2)))) y2=(format!("{:.1}", self.y(end(3)))) {}
        }
    }

    /// What a sensor sees.
    fn view(&self, number: usize, sensor: &Sensor) -> Markup {
        let line = |from: (f64, f64), to: (f64, f64)| {
            format!("M{:.1} {:.1}L{:.1} {:.1}", self.x(from.0), self.y(from.1), self.x(to.0), self.y(to.1))
        };
        let d = match &sensor.kind {
            SensorKind::OpticalRange { aim, .. }
            | SensorKind::PhotonRange { aim, .. }
            | SensorKind::UltrasonicRange { aim, .. } => self.cone(aim),
            SensorKind::BreakBeam { x_m, span_m, .. } if self.plan_view => line((*x_m, span_m.0), (*x_m, span_m.1)),
            // End on: a ring.
            SensorKind::BreakBeam { x_m, z_m, .. } => {
                format!("M{:.1} {:.1}m-4 0a4 4 0 1 0 8 0a4 4 0 1 0 -8 0", self.x(*x_m), self.y(*z_m))
            }
            SensorKind::PlatformLoad { span_m, .. } | SensorKind::Tilt { on: TiltOn::Platform { span_m, .. } } => {
                line((span_m.0, 0.01), (span_m.1, 0.01))
            }
            SensorKind::Tilt { on: TiltOn::Panel }
            | SensorKind::EndSwitch { .. }
            | SensorKind::RainGauge
            | SensorKind::Status { .. }
            | SensorKind::Clock { .. } => return html! {},
        };
        html! { path class="view" id={ "view-" (number) } d=(d) {} }
    }

    fn cone(&self, aim: &Aim) -> String {
        let [x, y, z] = aim.position_m;
        let (yaw, pitch, half) = (aim.yaw_deg.to_radians(), aim.pitch_deg.to_radians(), aim.half_cone_deg.to_radians());
        let side = |by: f64| {
            let reach = aim.farthest_m;
            if self.plan_view {
                let angle = yaw + by;
                (x + reach * pitch.cos() * angle.cos(), y + reach * pitch.cos() * angle.sin())
            } else {
                let angle = pitch + by;
                (x + reach * angle.cos() * yaw.cos(), z + reach * angle.sin())
            }
        };
        let foot = (x, if self.plan_view { y } else { z });
        let corners = [foot, side(-half), side(half)].map(|(x, y)| format!("{:.1} {:.1}", self.x(x), self.y(y)));
        format!("M{}L{}L{}Z", corners[0], corners[1], corners[2])
    }

    /// The number of a sensor where it is mounted; those that are nowhere in particular stand in the list only.
    fn mark(&self, number: usize, sensor: &Sensor) -> Markup {
        let (x, up) = match &sensor.kind {
            SensorKind::OpticalRange { aim, .. }
            | SensorKind::PhotonRange { aim, .. }
            | SensorKind::UltrasonicRange { aim, .. } => {
                let [x, y, z] = aim.position_m;
                (x, if self.plan_view { y } else { z + 0.01 })
            }
            SensorKind::BreakBeam { x_m, span_m, .. } => {
                (*x_m, if self.plan_view { span_m.1 } else { self.low + 0.13 })
            }
            SensorKind::PlatformLoad { span_m, .. } | SensorKind::Tilt { on: TiltOn::Platform { span_m, .. } } => {
                (0.5 * (span_m.0 + span_m.1), if self.plan_view { 0.0 } else { self.low + 0.13 })
            }
            _ => return html! {},
        };
        // Beams just beside the door line would cover each other.
        let aside = if matches!(sensor.kind, SensorKind::BreakBeam { .. }) && x < 0.0 { "mark aside" } else { "mark" };
        html! { span class=(aside) style=(self.at(x, up)) aria-hidden="true" { (number + 1) } }
    }

    fn at(&self, x: f64, up: f64) -> String {
        let (left, top) = (100.0 * self.x(x) / self.width(), 100.0 * self.y(up) / self.height());
        format!("left:{left:.2}%;top:{top:.2}%")
    }

    fn label(&self, words: &str, id: &str, place: Option<(f64, f64)>) -> Markup {
        // What is out of the picture has no name in it.
        let place = place.filter(|(x, up)| (self.left..=self.right).contains(x) && (self.low..=self.high).contains(up));
        let style = self.at(place.map_or(0.0, |it| it.0), place.map_or(0.0, |it| it.1));
        html! { span class="name" id=(id) style=(style) hidden[place.is_none()] { (words) } }
    }

    /// Sensors as a list, each with its number and what it says at the moment.
    pub fn list(&self, at: Instant) -> Markup {
        html! {
            ol.sensors {
                @for (number, sensor) in self.sensors() {
                    li id={ "sensor-" (number) } { b { (sensor.name) } " " output { (self.says(sensor, at)) } }
                }
            }
        }
    }

    fn says(&self, sensor: &Sensor, at: Instant) -> String {
        let (told, film) = (self.told, &self.told.replay.film);
        let Some(index) = told.scenario.sensors.iter().position(|other| other.name == sensor.name) else {
            return String::new();
        };
        let on = told.scenario.detectors.iter().enumerate().filter(|(place, detector)| {
            detector.sensor == index && film.about(About::On(*place)).and_then(|series| series.at(at)) == Some(1.0)
        });
        let on: Vec<&str> = on.map(|(_, detector)| detector.name.as_str()).collect();
        if on.is_empty() { "off".to_string() } else { format!("{} on", on.join(", ")) }
    }
}

/// A drawing needs its name space only outside of HTML; nothing of the page's is drawn from elsewhere.
pub fn swatch(look: &str) -> Markup {
    let inner = match look {
        look if look.starts_with("dots") => format!("<path class=\"{look}\" d=\"M4 5h0M12 5h0M20 5h0\"/>"),
        "band" => "<rect class=\"band\" width=\"24\" height=\"10\"/><path class=\"line-0\" d=\"M0 5H24\"/>".to_string(),
        look => format!("<path class=\"{look}\" d=\"M0 5H24\"/>"),
    };
    html! { @if !look.is_empty() { svg.swatch viewBox="0 0 24 10" aria-hidden="true" { (PreEscaped(inner)) } } }
}
