//! A scenario made ready to be played: everything that is the same for all seasons is worked out once and shared.

use crate::ledger::blame::{Blamed, ByCause};
use thiserror::Error;

use super::openings::{NoNoise, NoisePlan};
use super::tallies;
use super::watch::WatchPlan;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::door::Source;
use crate::scenario::failure::{Act, ByAct, Failure, Figure, When};
use crate::scenario::sensor::{Sensor, SensorKind, StatusCode, TiltOn};
use crate::scenario::strategy::{BuiltIn, Condition, Detector, Sense, Statistic, Strategy};
use crate::scenario::weather::Weather;
use crate::sensing::false_runs::FalseRuns;
use crate::sensing::reading::{Eye, Sky};
use crate::shelter::bus;
use crate::shelter::condition::{Evaluator, detectors_of};
use crate::shelter::mechanism::{self, survey};
use crate::shelter::obstruction;
use crate::shelter::stroke::StrokeTable;
use crate::world::clock::{ClockError, LocalClock};
use crate::world::failures::{self, ClockChange};
use crate::world::sun;
use crate::world::timetable::{self, MowWindow};
use crate::world::weather::{ObservedRecord, WeatherFileError};

/// Why a scenario can't be played although it is valid in itself.
#[derive(Debug, Error)]
pub enum PlanError {
    /// The time zone's clock can't be built.
    #[error(transparent)]
    Clock(#[from] ClockError),
    /// The observed weather can't be used.
    #[error(transparent)]
    Weather(#[from] WeatherFileError),
}

/// Where the sun stands, every [`LIGHT_STEP`]; only while it is up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Light {
    /// When.
    pub at: Instant,
    /// Yaw of the sun in the shelter's axes (from +x towards +y), degrees, and elevation, degrees; none at night.
    pub sun: Option<(f64, f64)>,
    /// Illuminance of the level under a clear sky, klux.
    pub clear_klux: f64,
    /// Illuminance by the sun alone of a surface that faces it, klux.
    pub direct_klux: f64,
}

/// Width of something that lies in the doorway, m (a toy, a coil of hose; common practice).
pub const OBJECT_WIDTH_M: f64 = 0.24;

/// Time between two looks at the sun: it moves 7.5 degrees in that time, less than most cones.
pub const LIGHT_STEP: Span = Span(30 * 60 * 1_000_000);

/// One strategy, made ready.
#[derive(Clone, Debug)]
pub struct StrategyPlan {
    /// Index in the scenario.
    pub index: usize,
    /// Detectors that its rules name, as bits of the scenario's detectors.
    pub detectors: u64,
    /// Detectors that its open rule names.
    pub open_detectors: u64,
    /// Detectors that say whether the mower is in, as bits.
    pub occupancy: u64,
    /// Detectors of the opening rule that listen to rangers, as bits, for each ranger.
    pub rangers: Vec<u64>,
    /// Sensors of the opening rule that look for themselves (no status messages, no clocks), as bits by their places in
    /// `sensors`.
    pub open_senses: u64,
    /// Status sensors of the opening rule, likewise.
    pub open_ears: u64,
    /// Sensors of the doorway rule, likewise.
    pub doorway_senses: u64,
    /// Those of them that have a self-test.
    pub tested_senses: u64,
    /// What its expected misses need; none where its open rule can't be worked out.
    pub watch: Option<WatchPlan>,
    /// What its openings by noise alone need, or why they can't be worked out.
    pub noise: Result<NoisePlan, NoNoise>,
    /// Sensors of these detectors (indices, ascending), each with its detectors (indices, ascending).
    pub sensors: Vec<(usize, Vec<usize>)>,
}

/// A strategy's rules: open, hold, doorway, close, inside, wet, fallback, and open and hold with any ranger counting as all.
pub type Rules = [Evaluator; 9];

impl StrategyPlan {
    /// Whether a contradiction between rangers has consequences.
    fn rangers_are_compared(&self, scenario: &Scenario) -> bool {
        let after_s = scenario.strategies[self.index].controller.care.disagreement_after_s;
        after_s.is_finite() && self.rangers.len() > 1
    }

    /// The detectors that are on if any ranger's word counts for all of them: each of theirs is on if it is itself, or one of
    /// another ranger.
    pub fn by_any_ranger(&self, detectors: u64) -> u64 {
        self.rangers.iter().fold(detectors, |all, ranger| {
            let another = self.rangers.iter().any(|other| other != ranger && other & detectors != 0);
            if another { all | ranger } else { all }
        })
    }

    /// Its rules, nothing evaluated yet.
    pub fn rules(&self, scenario: &Scenario) -> Rules {
        let [open, hold, doorway, close, inside, wet, fallback] = scenario.strategies[self.index].rules();
        // Only where a contradiction between rangers has consequences is it asked what any of them would have the rules say.
        let by_any = |rule| if self.rangers_are_compared(scenario) { rule } else { &NEVER };
        [open, hold, doorway, close, inside, wet, fallback, by_any(open), by_any(hold)].map(Evaluator::new)
    }
}

const NEVER: Condition = Condition::BuiltIn(BuiltIn::Never);

/// A scenario made ready.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The scenario.
    pub scenario: Scenario,
    /// The season's clock.
    pub clock: LocalClock,
    /// The observed weather, if any.
    pub record: Option<ObservedRecord>,
    /// All strokes.
    pub strokes: StrokeTable,
    /// Sensors ready to be asked.
    pub eyes: Vec<Eye>,
    /// Whether some sensor's readings change with the days.
    pub drifts: bool,
    /// The sun's way.
    pub lights: Vec<Light>,
    /// For each of its steps: the largest probability with which any sensor sees things for the sun that shines into it, per 100 klux.
    pub dazzle: Vec<f64>,
    /// Irradiance of the level ground under a clear sky in each [`LIGHT_STEP`] of the season, W/m2; empty where nothing is
    /// charged by the sun.
    pub sunshine_w_m2: Vec<f64>,
    /// Days on which clocks change, where some failure has clocks or stamps miss that.
    pub clock_changes: Vec<ClockChange>,
    /// Mowing windows.
    pub windows: Vec<MowWindow>,
    /// Strategies.
    pub strategies: Vec<StrategyPlan>,
    /// Names of causes, in the order of a record's counts: see [`FALSE_CAUSES`], [`KEPT_CAUSES`] with [`MISSED_CAUSES`] or
    /// [`DEPARTURE_CAUSES`], and [`CONTACT_CAUSES`].
    pub causes: ByCause<Vec<String>>,
    /// What the panel sweeps through out of the door line.
    pub sweep: survey::Swept,
    /// Largest friction of the panel over its stroke in calm, mild air, N at the drive.
    pub friction_n: f64,
    /// Door position at which the clear height passes the mower's height, m from shut.
    pub mower_clears_m: f64,
    /// Whether the mower fits through the open door at all.
    pub mower_fits: bool,
    /// How far beside the middle of the way the mower may come without touching a side of the open door, m.
    pub half_play_m: f64,
    /// The same for each visitor.
    pub visitor_clears_m: Vec<f64>,
    /// The same for the object of each failure.
    pub object_clears_m: Vec<f64>,
    /// The failures by how they act.
    pub by_act: ByAct,
    /// Logarithm of the share of its range that dirt leaves a sensor every week, by each failure.
    pub log_left_per_week: Vec<f64>,
    /// Whether each sensor looks at the mower's way to the door.
    pub watches_way: Vec<bool>,
    /// How often each detector goes on with nobody there, with its run rule and with one sample less; none for those that see nobody
    /// or have no such law.
    pub false_runs: Vec<[Option<FalseRuns>; 2]>,
}

/// Fixed causes of false openings, in report order; each visitor's name follows.
pub const FALSE_CAUSES: [&str; 12] = [
    "noise",
    "insect or leaf",
    "rain",
    "sun",
    "drift",
    "fault",
    "timetable",
    "status message",
    "dead sensor",
    "after power loss",
    "mower in view",
    "retry of a failed stroke",
];

/// Fixed causes of contacts, in report order; each visitor whom the door touches follows by name.
pub const CONTACT_CAUSES: [&str; 3] =
    ["the mower pushes the door", "the door comes down on the mower", "the door swings into the mower"];

/// Place among the causes of contacts of a mower that drives against the panel.
pub const CAUSE_MOWER_PUSHES: usize = 0;

/// Place among the causes of contacts of a door that comes down on the mower.
pub const CAUSE_MOWER_UNDER: usize = 1;

/// Place among the causes of contacts of a panel that swings into the mower.
pub const CAUSE_SWINGS_INTO_MOWER: usize = 2;

/// First causes of missed arrivals and departures alike: nobody hears the mower.
pub const KEPT_CAUSES: [&str; 8] = [
    "power",
    "sensor fault",
    "network",
    "controller in fault",
    "worked by hand",
    "starting up",
    "thermal cut-out",
    "failed stroke",
];

/// Further causes of missed arrivals: what was out of the ordinary when the nose reached its waiting point.
pub const MISSED_CAUSES: [&str; 11] = [
    "rain",
    "dew or dirt",
    "sun or daylight",
    "drift",
    "message not heard",
    "shut again too early",
    "noticed too late",
    "out of reach",
    "outside the hours",
    "another condition of the rule",
    "no particular condition",
];

/// Further causes of departures that were given up.
pub const DEPARTURE_CAUSES: [&str; 6] = [
    "door too late",
    "mower silent",
    "message not heard",
    "outside the hours",
    "nothing listens for it",
    "another condition of the rule",
];

/// Names of all causes of one kind.
fn causes(scenario: &Scenario, blamed: Blamed) -> Vec<String> {
    let fixed: [&[&str]; 2] = match blamed {
        Blamed::FalseOpenings => [&FALSE_CAUSES, &[]],
        Blamed::MissedArrivals => [&KEPT_CAUSES, &MISSED_CAUSES],
        Blamed::MissedDepartures => [&KEPT_CAUSES, &DEPARTURE_CAUSES],
        Blamed::Contacts => [&CONTACT_CAUSES, &[]],
    };
    let mut names: Vec<String> = fixed.concat().into_iter().map(str::to_string).collect();
    if matches!(blamed, Blamed::FalseOpenings | Blamed::Contacts) {
        names.extend(scenario.visitors.iter().map(|visitor| visitor.name.clone()));
    }
    if blamed == Blamed::Contacts && scenario.failures.iter().any(|failure| failure.mode.act == Act::Object) {
        names.push("the door comes down on an object".to_string());
    }
    names
}

impl Plan {
    /// The place of a cause among those of its kind: of the last one, should there be none of this name.
    pub fn cause(&self, blamed: Blamed, name: &str) -> usize {
        let names = &self.causes[blamed];
        names.iter().position(|known| known == name).unwrap_or(names.len() - 1)
    }

    /// Makes a scenario ready; reads the observed weather file if there is one.
    ///
    /// # Errors
    /// If the time zone or the weather file can't be used.
    pub fn new(scenario: &Scenario) -> Result<Plan, PlanError> {
        let scenario = &on_the_bus(&failures::applied(scenario));
        let clock = LocalClock::new(&scenario.calendar, &scenario.site.time_zone)?;
        let record = match &scenario.weather {
            Weather::Observed(observed) => {
                let record = ObservedRecord::load(observed)?;
                // Gaps that the scenario refuses must stop the study before its first season.
                record.season(&clock, &scenario.site, observed.gaps)?;
                Some(record)
            }
            Weather::Generated(_) | Weather::Pulses(_) => None,
        };
        let windows = timetable::windows(&scenario.mower, &clock);
        let false_runs: Vec<_> = scenario.detectors.iter().map(|detector| false_runs(scenario, detector)).collect();
        let strategies =
            (0..scenario.strategies.len()).map(|index| strategy_plan(scenario, index, &false_runs)).collect();
        let eyes: Vec<Eye> =
            scenario.sensors.iter().map(|sensor| Eye::new(sensor).at_door(scenario.door.height_m)).collect();
        let lights = lights(scenario, &clock);
        Ok(Plan {
            strokes: StrokeTable::new(scenario),
            false_runs,
            watches_way: eyes.iter().map(|eye| tallies::watches_way(eye, &scenario.mower)).collect(),
            drifts: scenario.sensors.iter().any(Sensor::changes_with_days)
                || scenario.failures.iter().any(|f| drifts_by(f.mode.act)),
            dazzle: lights.iter().map(|light| dazzle(&eyes, light)).collect(),
            eyes,
            lights,
            sunshine_w_m2: sunshine(scenario, &clock),
            sweep: survey::swept(&scenario.door, tallest_m(scenario)),
            friction_n: obstruction::friction_n(&scenario.door),
            mower_clears_m: survey::clears_at_m(&scenario.door, scenario.mower.width_m, scenario.mower.height_m),
            mower_fits: mower_fits(scenario),
            half_play_m: half_play_m(scenario),
            visitor_clears_m: scenario
                .visitors
                .iter()
                .map(|v| survey::clears_at_m(&scenario.door, v.width_m, v.height_m))
                .collect(),
            by_act: ByAct::new(&scenario.failures),
            log_left_per_week: scenario.failures.iter().map(|f| libm::log1p(-f.figure(Figure::LossPerWeek))).collect(),
            object_clears_m: scenario
                .failures
                .iter()
                .map(|f| survey::clears_at_m(&scenario.door, OBJECT_WIDTH_M, f.figure(Figure::Distance)))
                .collect(),
            clock_changes: failures::clock_changes(scenario, &clock),
            causes: ByCause::of(|blamed| causes(scenario, blamed)),
            scenario: scenario.clone(),
            clock,
            record,
            windows,
            strategies,
        })
    }
}

/// Half of what the open door is wider than the mower, m: its way leads through the middle of what is clear.
pub fn half_play_m(scenario: &Scenario) -> f64 {
    let open_m = mechanism::stroke_m(&scenario.door);
    0.5 * (mechanism::clear_width_m(&scenario.door, open_m) - scenario.mower.width_m)
}

/// Whether the open door is as wide and as high as the mower.
pub fn mower_fits(scenario: &Scenario) -> bool {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let open_m = mechanism::stroke_m(door);
    mechanism::clear_width_m(door, open_m) >= mower.width_m && mechanism::clear_height_m(door, open_m) >= mower.height_m
}

/// Height of the tallest body that comes near the door, m.
pub fn tallest_m(scenario: &Scenario) -> f64 {
    scenario.visitors.iter().map(|visitor| visitor.height_m).fold(scenario.mower.height_m, f64::max)
}

/// The scenario with the sample periods that its bus really allows.
fn on_the_bus(scenario: &Scenario) -> Scenario {
    let mut slowed = scenario.clone();
    if scenario.bus.is_some() {
        for (index, sensor) in slowed.sensors.iter_mut().enumerate() {
            sensor.period = sensor.period.max(Span::from_seconds(bus::reachable_period_s(scenario, index)));
        }
    }
    slowed
}

fn strategy_plan(scenario: &Scenario, index: usize, false_runs: &[[Option<FalseRuns>; 2]]) -> StrategyPlan {
    let strategy = &scenario.strategies[index];
    let of = |condition: &Condition| detectors_of(condition);
    let open_detectors = of(&strategy.open);
    let detectors = strategy.rules().into_iter().fold(0, |detectors, rule| detectors | of(rule));
    let named = (0..scenario.detectors.len()).filter(|detector| detectors >> detector & 1 == 1);
    let mut sensors: Vec<(usize, Vec<usize>)> = Vec::new();
    for detector in named {
        let sensor = scenario.detectors[detector].sensor;
        match sensors.iter_mut().find(|(other, _)| *other == sensor) {
            Some((_, list)) => list.push(detector),
            None => sensors.push((sensor, vec![detector])),
        }
    }
    sensors.sort_by_key(|(sensor, _)| *sensor);
    let watch = Some(WatchPlan::new(scenario, open_detectors, strategy.shortens()))
        .filter(|watch| watch.serves(scenario, &strategy.open));
    let occupancy = (0..scenario.detectors.len())
        .filter(|detector| detectors >> detector & 1 == 1 && says_who_is_in(scenario, *detector))
        .fold(0, |bits, detector| bits | 1 << detector);
    let places = |rule: u64, kind: fn(&SensorKind) -> bool| {
        sensors.iter().enumerate().fold(0, |bits, (place, (sensor, detectors))| {
            let named = detectors.iter().any(|detector| rule >> detector & 1 == 1);
            bits | u64::from(named && kind(&scenario.sensors[*sensor].kind)) << place
        })
    };
    let looks = |kind: &SensorKind| !matches!(kind, SensorKind::Status { .. } | SensorKind::Clock { .. });
    let tested = |kind: &SensorKind| {
        use SensorKind::{BreakBeam, OpticalRange, PhotonRange, PlatformLoad, Tilt, UltrasonicRange};
        matches!(
            kind,
            OpticalRange { .. }
                | PhotonRange { .. }
                | UltrasonicRange { .. }
                | BreakBeam { .. }
                | PlatformLoad { .. }
                | Tilt { .. }
        )
    };
    let doorway = of(&strategy.doorway);
    let rangers = rangers_of(scenario, open_detectors);
    StrategyPlan {
        index,
        detectors,
        open_detectors,
        occupancy,
        open_senses: places(open_detectors, looks),
        open_ears: places(open_detectors, |kind| matches!(kind, SensorKind::Status { .. })),
        doorway_senses: places(doorway, |_| true),
        tested_senses: places(doorway, tested),
        watch,
        noise: NoisePlan::new(scenario, index, &rangers, open_detectors, &sensors, false_runs),
        rangers,
        sensors,
    }
}

/// The detectors among these that listen to rangers and say that something is near, as bits, for each ranger.
fn rangers_of(scenario: &Scenario, detectors: u64) -> Vec<u64> {
    let mut rangers: Vec<(usize, u64)> = Vec::new();
    for (index, detector) in scenario.detectors.iter().enumerate().filter(|(d, _)| detectors >> d & 1 == 1) {
        let ranger = scenario.sensors[detector.sensor].kind.aim().is_some();
        if !ranger || (detector.sense != Sense::Below && !matches!(detector.statistic, Statistic::ApproachRate(_))) {
            continue;
        }
        match rangers.iter_mut().find(|(sensor, _)| *sensor == detector.sensor) {
            Some((_, bits)) => *bits |= 1 << index,
            None => rangers.push((detector.sensor, 1 << index)),
        }
    }
    rangers.into_iter().map(|(_, bits)| bits).collect()
}

/// Whether a detector is on while the mower is parked and off while it is away, if all is well.
fn says_who_is_in(scenario: &Scenario, detector: usize) -> bool {
    let detector = &scenario.detectors[detector];
    match scenario.sensors[detector.sensor].kind {
        SensorKind::PlatformLoad { .. } | SensorKind::Tilt { on: TiltOn::Platform { .. } } => {
            detector.sense == Sense::Above
        }
        SensorKind::Status { .. } => detector.says == [StatusCode::Docked],
        _ => false,
    }
}

/// The sun's way over the season, or nothing where no sensor minds light. Where none minds how much light there is, only
/// the changes from day to night and back.
fn lights(scenario: &Scenario, clock: &LocalClock) -> Vec<Light> {
    let looks = |sensor: &Sensor| {
        matches!(sensor.kind, SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. }) || minds_light(sensor)
    };
    if !scenario.sensors.iter().any(looks) {
        return Vec::new();
    }
    // By day the sun keeps dew off, so that it matters where a failure asks for dew, too.
    let dew = |failure: &Failure| failure.mode.act == Act::Reading(When::Dew) && !failure.sensors.is_empty();
    let amount_matters = scenario.sensors.iter().any(minds_light) || scenario.failures.iter().any(dew);
    let mut lights: Vec<Light> = Vec::new();
    let mut at = Instant::START;
    while at < clock.end() {
        // The middle of the step stands for all of it.
        let sun = sun::position_at(clock, &scenario.site, at + Span(LIGHT_STEP.0 / 2));
        let light = if sun.elevation_deg > 0.0 {
            let yaw = yaw_of(sun.azimuth_deg, scenario.site.door_faces_deg);
            let clear_klux = sun::illuminance_klx(sun::clear_sky_w_m2(sun.elevation_deg));
            let direct_klux = sun::illuminance_klx(sun::clear_direct_w_m2(sun.elevation_deg));
            Light { at, sun: Some((yaw, sun.elevation_deg)), clear_klux, direct_klux }
        } else {
            Light { at, sun: None, clear_klux: 0.0, direct_klux: 0.0 }
        };
        let bright = |light: &Light| light.clear_klux > 0.0;
        let nothing_new = lights.last().is_some_and(|last| {
            (last.sun.is_none() && light.sun.is_none()) || (!amount_matters && bright(last) == bright(&light))
        });
        if !nothing_new {
            lights.push(light);
        }
        at += LIGHT_STEP;
    }
    lights
}

/// See [`Plan::dazzle`].
fn dazzle(eyes: &[Eye], light: &Light) -> f64 {
    let sky = Sky { sun: light.sun, direct_klux: light.direct_klux, ..Sky::dark(20.0) };
    // No sun comes to one inside while the door is shut.
    let those = eyes.iter().filter(|eye| !eye.is_indoors() && eye.dazzled(&sky));
    those.map(|eye| eye.sensor().errors.spurious_sun).fold(0.0, f64::max)
}

/// The clear sky's irradiance over the season, if the supply lives on it.
fn sunshine(scenario: &Scenario, clock: &LocalClock) -> Vec<f64> {
    if !matches!(scenario.supply.source, Source::Solar(_)) {
        return Vec::new();
    }
    // The mean over each step, from this many looks: at dusk, when batteries run low, its middle would not do.
    const LOOKS: i64 = 6;
    let look = LIGHT_STEP.0 / LOOKS;
    let of = |at| sun::clear_sky_w_m2(sun::position_at(clock, &scenario.site, at).elevation_deg);
    let mean = |step: i64| {
        let looks = (0..LOOKS).map(|k| of(Instant(step * LIGHT_STEP.0 + k * look + look / 2)));
        looks.sum::<f64>() / LOOKS as f64
    };
    (0..=clock.end().0.div_euclid(LIGHT_STEP.0)).map(mean).collect()
}

/// Whether a sensor reads differently in different light.
fn minds_light(sensor: &Sensor) -> bool {
    let glare = sensor.errors.spurious_sun > 0.0;
    match &sensor.kind {
        SensorKind::OpticalRange { aim, farthest_sun_m, .. } => glare || *farthest_sun_m < aim.farthest_m,
        SensorKind::PhotonRange { .. } => true,
        SensorKind::BreakBeam { .. } => glare,
        _ => false,
    }
}

/// Whether a failure changes readings with the time, or with more of the weather than its warmth, wind and rain.
fn drifts_by(act: Act) -> bool {
    matches!(act, Act::Dirt | Act::AutoZero | Act::Reading(When::Dew))
}

/// Yaw in the shelter's axes of a compass direction: +x points where the door faces, +y to its left, so that yaw
/// runs against the compass.
fn yaw_of(azimuth_deg: f64, door_faces_deg: f64) -> f64 {
    let turned = libm::fmod(door_faces_deg - azimuth_deg + 540.0, 360.0);
    (if turned < 0.0 { turned + 360.0 } else { turned }) - 180.0
}

/// See [`Plan::false_runs`].
fn false_runs(scenario: &Scenario, detector: &Detector) -> [Option<FalseRuns>; 2] {
    let sensor = &scenario.sensors[detector.sensor];
    let of = |detector: &Detector| tallies::looks(&sensor.kind).then(|| FalseRuns::new(detector, sensor)).flatten();
    let shortens = scenario.strategies.iter().any(Strategy::shortens);
    let shorter = shortens.then(|| Detector { rule: detector.rule.shortened(), ..detector.clone() });
    [of(detector), shorter.as_ref().and_then(of)]
}

#[cfg(test)]
mod tests {
    use super::yaw_of;

    #[test]
    fn compass_to_shelter_axes() {
        assert_eq!(yaw_of(180.0, 180.0), 0.0);
        // Door to the south: the sun in the east stands to the left (+y) of somebody looking out.
        assert_eq!(yaw_of(90.0, 180.0), 90.0);
        assert_eq!(yaw_of(270.0, 180.0), -90.0);
        assert_eq!(yaw_of(350.0, 10.0), 20.0);
        assert_eq!(yaw_of(10.0, 350.0), -20.0);
    }
}
