//! An observer of one day: what the season's parts hold at each moment, written down as the season goes by.
//!
//! It is asked before anything changes, like the books ([`super::season`]), and looks at the stretch that ends there. All it
//! asks are pure questions (a law, a position, a temperature); it draws nothing, schedules nothing and changes nothing, so
//! that a season is the same with and without it. Readings are those that the season draws; in between stands what the
//! law holds for likeliest.

use super::control::state_name;
use super::mower::doing_name;
use super::outside::Outside;
use super::plan::Plan;
use super::season::{Options, Season};
use super::senses::Sense;
use crate::ledger::film::{About, Film, Series, Shape, States};
use crate::ledger::record::SeasonRecord;
use crate::math::time::{Instant, Span};
use crate::scenario::door::Source;
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::Statistic;
use crate::sensing::channel::Drawn;
use crate::sensing::law::Reading;
use crate::shelter::{mechanism, power};
use crate::world::sun;

/// Time between two looks while something near the door moves.
const CLOSE_LOOK: Span = Span(200_000);
/// And while nothing does: temperatures go on.
const FAR_LOOK: Span = Span(60_000_000);
/// Time between two places of the sun.
const SUN_STEP: Span = Span(10 * 60 * 1_000_000);
/// Names of a strategy's rules, in the season's order.
pub const RULES: [&str; 4] = ["open", "hold", "doorway", "close"];

/// A film under way.
pub(super) struct Filming {
    film: Film,
    /// Up to where everything has been looked at.
    seen: Instant,
}

/// Plays one season of one strategy and films one of its days (0 is the first).
pub fn play_filmed(
    plan: &Plan,
    outside: &Outside,
    strategy: usize,
    seed: u64,
    options: Options,
    day: usize,
) -> (SeasonRecord, Film) {
    let mut filming = Filming::new(plan, strategy, day);
    for (at, elevation_deg) in sun_of_day(plan, day) {
        filming.add(About::Sun, at, elevation_deg);
    }
    let record = Season::play_filmed(plan, outside, strategy, seed, options, &mut filming);
    let mut film = filming.film;
    film.series.iter_mut().for_each(|series| series.simplify(tolerance(series.about)));
    (record, film)
}

/// Elevation of the sun over a day, degrees.
fn sun_of_day(plan: &Plan, day: usize) -> Vec<(Instant, f64)> {
    let (from, to) = (plan.clock.day_start(day), plan.clock.day_start(day + 1));
    let mut places = Vec::new();
    let mut at = from;
    while at < to {
        places.push((at, sun::position_at(&plan.clock, &plan.scenario.site, at).elevation_deg));
        at += SUN_STEP;
    }
    places.push((to, sun::position_at(&plan.clock, &plan.scenario.site, to).elevation_deg));
    places
}

/// How far a line may be from what it stands for.
fn tolerance(about: About) -> f64 {
    match about {
        About::Sun => 0.05,
        About::Winding | About::Housing => 0.02,
        About::Nose | About::Sideways | About::Visitor(_) | About::VisitorSideways(_) => 1e-4,
        About::Door => 0.05,
        About::Clear | About::Pose(_) => 2e-4,
        About::Tilt => 0.05,
        About::Current => 0.005,
        About::Supply => 0.05,
        About::Charge => 0.02,
        About::Expected(_) | About::Spread(_) => 5e-4,
        _ => 0.0,
    }
}

/// Unit of a sensor's readings.
pub fn unit_of(sensor: &Sensor) -> &'static str {
    match sensor.kind {
        SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. } | SensorKind::UltrasonicRange { .. } => "m",
        SensorKind::PlatformLoad { .. } => "kg",
        SensorKind::Tilt { .. } => "deg",
        SensorKind::RainGauge => "mm/h",
        SensorKind::BreakBeam { .. }
        | SensorKind::EndSwitch { .. }
        | SensorKind::Status { .. }
        | SensorKind::Clock { .. } => "",
    }
}

/// Unit of a detector's statistic.
pub fn statistic_unit(statistic: &Statistic, sensor: &Sensor) -> &'static str {
    match (statistic, unit_of(sensor)) {
        (Statistic::LikelihoodRatio(_), _) => "nat",
        (Statistic::ApproachRate(_), "m") => "m/s",
        (Statistic::ApproachRate(_), "kg") => "kg/s",
        (Statistic::ApproachRate(_), "deg") => "deg/s",
        (Statistic::ApproachRate(_), _) => "1/s",
        (_, unit) => unit,
    }
}

impl Filming {
    fn new(plan: &Plan, strategy: usize, day: usize) -> Filming {
        use Shape::{Dots, Line, Steps};
        let scenario = &plan.scenario;
        let plane = if mechanism::opens_sideways(&scenario.door) { "y" } else { "z" };
        let clear = if mechanism::opens_sideways(&scenario.door) { "clear width" } else { "clear height" };
        let mut series = vec![
            Series::new(About::Sun, "sun elevation", "deg", Line),
            Series::new(About::Rain, "rain", "mm/h", Steps),
            Series::new(About::Air, "air temperature", "degC", Steps),
            Series::new(About::Gust, "gust", "m/s", Steps),
            Series::new(About::Light, "light", "klux", Steps),
            Series::new(About::Nose, "mower nose", "m", Line),
            Series::new(About::Sideways, "mower sideways", "m", Line),
            Series::new(About::Door, "door position", "%", Line),
            Series::new(About::Clear, clear, "m", Line),
            Series::new(About::Tilt, "panel tilt", "deg", Line),
            Series::new(About::Pose(0), "panel end 1 x", "m", Line),
            Series::new(About::Pose(1), format!("panel end 1 {plane}"), "m", Line),
            Series::new(About::Pose(2), "panel end 2 x", "m", Line),
            Series::new(About::Pose(3), format!("panel end 2 {plane}"), "m", Line),
            Series::new(About::Current, "motor current", "A", Line),
            Series::new(About::Winding, "winding temperature", "degC", Line),
            Series::new(About::Housing, "motor housing temperature", "degC", Line),
            Series::new(About::Supply, "supply power", "W", Line),
            Series::new(About::Power, "power to the shelter", "", Steps),
        ];
        if matches!(scenario.supply.source, Source::Solar(_)) {
            series.push(Series::new(About::Charge, "battery charge", "%", Line));
        }
        for (sensor, detectors) in &plan.strategies[strategy].sensors {
            let spec = &scenario.sensors[*sensor];
            let (name, unit) = (&spec.name, unit_of(spec));
            series.push(Series::new(About::Reading(*sensor), format!("sensor {name} reading"), unit, Dots));
            series.push(Series::new(About::Expected(*sensor), format!("sensor {name} likeliest"), unit, Line));
            series.push(Series::new(About::Spread(*sensor), format!("sensor {name} spread"), unit, Line));
            for detector in detectors {
                let what = &scenario.detectors[*detector];
                if !matches!(what.statistic, Statistic::Level) {
                    let unit = statistic_unit(&what.statistic, spec);
                    let name = format!("detector {} statistic", what.name);
                    series.push(Series::new(About::Statistic(*detector), name, unit, Dots));
                }
                series.push(Series::new(About::On(*detector), format!("detector {} on", what.name), "", Steps));
                series.push(Series::new(About::Heard(*detector), format!("detector {} heard", what.name), "", Steps));
            }
        }
        for (rule, name) in RULES.iter().enumerate() {
            series.push(Series::new(About::Rule(rule), format!("rule {name}"), "", Steps));
        }
        let (from, to) = (plan.clock.day_start(day), plan.clock.day_start(day + 1));
        let states = |name| States { name, changes: Vec::new() };
        let film = Film { from, to, series, mower: states("mower state"), controller: states("controller state") };
        Filming { film, seen: Instant::START }
    }

    fn add(&mut self, about: About, at: Instant, value: f64) {
        if let Some(series) = self.film.series.iter_mut().find(|series| series.about == about) {
            series.add(at, value);
        }
    }

    fn add_drawn(&mut self, sense: &Sense, drawn: Vec<Drawn>) {
        for Drawn { at, reading, statistics } in drawn {
            if at < self.film.from || at >= self.film.to {
                continue;
            }
            let value = match reading {
                Reading::Nothing => f64::NAN,
                Reading::Value(value) => value,
            };
            self.add(About::Reading(sense.sensor), at, value);
            for (detector, value) in sense.detectors.iter().zip(statistics) {
                if let Some(value) = value {
                    self.add(About::Statistic(*detector), at, value);
                }
            }
        }
    }

    /// A visitor's series, made when it first comes by.
    fn add_visitor(&mut self, kind: usize, name: &str, at: Instant, place: Option<(f64, f64)>) {
        if place.is_some() && self.film.about(About::Visitor(kind)).is_none() {
            let series = [(About::Visitor(kind), "position"), (About::VisitorSideways(kind), "sideways")];
            for (about, what) in series {
                let mut series = Series::new(about, format!("visitor {name} {what}"), "m", Shape::Line);
                series.add(self.film.from, f64::NAN);
                self.film.series.push(series);
            }
        }
        let (x, y) = place.unwrap_or((f64::NAN, f64::NAN));
        self.add(About::Visitor(kind), at, x);
        self.add(About::VisitorSideways(kind), at, y);
    }
}

impl Season<'_> {
    /// Looks at everything from the last look up to `at`, before anything changes there.
    pub fn film_on(&mut self, at: Instant) {
        // Taken out while the season that it is part of is asked.
        let Some(filming) = self.film.take() else { return };
        for (sense, channel) in self.senses.iter().zip(&mut self.channels) {
            filming.add_drawn(sense, channel.take_drawn());
        }
        let (from, to) = (filming.film.from, filming.film.to);
        let (mut now, end) = (filming.seen.max(from), at.min(to));
        let step = if self.something_moves() { CLOSE_LOOK } else { FAR_LOOK };
        while now < end {
            self.look(filming, now, now == filming.seen.max(from));
            now += step;
        }
        if filming.seen.max(from) < end {
            self.look(filming, end, false);
        }
        filming.seen = at;
        self.film = Some(filming);
    }

    fn something_moves(&self) -> bool {
        self.door.is_moving()
            || (self.mower.is_near() && self.mower.motion.moves())
            || self.guests_here().any(|guest| guest.motion.moves())
    }

    /// Writes down what holds at a moment of the present stretch; `fresh` at its beginning, where steps may lie.
    fn look(&self, filming: &mut Filming, at: Instant, fresh: bool) {
        let scenario = &self.plan.scenario;
        if fresh {
            self.look_at_steps(filming, at);
        }
        let nose = if self.mower.is_near() { self.mower.motion.at(at) } else { (f64::NAN, f64::NAN) };
        filming.add(About::Nose, at, nose.0);
        filming.add(About::Sideways, at, nose.1);
        for (kind, visitor) in scenario.visitors.iter().enumerate() {
            // Of several of a kind, the first is shown.
            let place = self.guests_here().find(|guest| guest.visitor == kind);
            filming.add_visitor(kind, &visitor.name, at, place.map(|guest| guest.motion.at(at)));
        }
        let drive = self.drive_at(at);
        let door = &scenario.door;
        let full = mechanism::stroke_m(door);
        let share = if full > 0.0 { drive.position_m / full } else { 0.0 };
        filming.add(About::Door, at, 100.0 * share);
        filming.add(About::Clear, at, mechanism::uncovered_m(door, drive.position_m));
        filming.add(About::Tilt, at, mechanism::panel_deg(door, drive.position_m));
        let pose = mechanism::pose(door, drive.position_m);
        for (place, value) in [pose[0].0, pose[0].1, pose[1].0, pose[1].1].into_iter().enumerate() {
            filming.add(About::Pose(place), at, value);
        }
        filming.add(About::Current, at, drive.current_a);
        filming.add(About::Winding, at, drive.winding_c);
        filming.add(About::Housing, at, drive.housing_c);
        let motor_w = scenario.supply.voltage_v * drive.current_a.max(0.0);
        let supply_w = if self.powered { power::supply_w(&scenario.supply, motor_w) } else { 0.0 };
        filming.add(About::Supply, at, supply_w);
        if let Some(charging) = self.charged_by(at) {
            filming.add(About::Charge, at, charging.percent());
        }
        for (index, sense) in self.senses.iter().enumerate() {
            let (likeliest, spread) = self.law_of(index, at).likeliest();
            filming.add(About::Expected(sense.sensor), at, likeliest);
            filming.add(About::Spread(sense.sensor), at, spread);
        }
    }

    /// Writes down what holds from `at` until something happens.
    fn look_at_steps(&self, filming: &mut Filming, at: Instant) {
        let bit = |value: bool| f64::from(u8::from(value));
        let weather = &self.outside.weather.steps[self.weather_step];
        filming.add(About::Rain, at, weather.rain_mm_h);
        filming.add(About::Air, at, weather.temperature_c);
        filming.add(About::Gust, at, weather.gust_m_s);
        filming.add(About::Light, at, self.sky.light_klux);
        filming.add(About::Power, at, bit(self.powered));
        for (rule, evaluator) in self.rules.iter().enumerate() {
            filming.add(About::Rule(rule), at, bit(evaluator.value()));
        }
        for (sense, channel) in self.senses.iter().zip(&self.channels) {
            for (place, detector) in sense.detectors.iter().enumerate() {
                filming.add(About::On(*detector), at, bit(channel.is_on(place)));
                filming.add(About::Heard(*detector), at, bit(self.heard >> detector & 1 == 1));
            }
        }
        filming.film.mower.add(at, doing_name(self.mower.doing));
        filming.film.controller.add(at, state_name(self.controller.state()));
    }
}
