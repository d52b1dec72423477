//! What the drawings of `check` show: panel, forces, and the motor's temperature over the hardest day.

use super::climate::Climate;
use crate::engine::{Options, Outside, Plan, PlanError, play};
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::sensing::channel::Sampling;
use crate::shelter::actuator::Actuator;
use crate::shelter::heat::Winding;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::survey::{self, DeadZone};
use crate::shelter::mechanism::{self, Direction, Force};
use crate::study::thermal;

/// Panel positions that are drawn, as shares of the stroke.
const SHARES: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
/// Points of the force curves.
const POINTS: usize = 200;
/// Season and seed of the day that is drawn: the first of those that the climate comes from.
const SEED: u64 = 1;

/// A body's outline in the plane of the panel's pose: two opposite corners.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Whose.
    pub name: &'static str,
    /// Corner with the smaller coordinates, m.
    pub low: (f64, f64),
    /// Corner with the larger ones, m.
    pub high: (f64, f64),
}

/// A force curve over the stroke.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Which.
    pub name: &'static str,
    /// Position, m, and force along the motion, N; none where it jams.
    pub points: Vec<(f64, Option<f64>)>,
}

/// Everything drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawings {
    /// Scenario's name.
    pub name: String,
    /// Whether the panel is drawn in plan (x, y) rather than from the side (x, z).
    pub plan_view: bool,
    /// Share of the stroke and the panel's line.
    pub poses: Vec<(f64, [(f64, f64); 2])>,
    /// Path of the panel's ends over the stroke.
    pub traces: [Vec<(f64, f64)>; 2],
    /// The mower waiting outside and in the dock.
    pub mower: Vec<Outline>,
    /// Width and height of the opening, m.
    pub opening_m: (f64, f64),
    /// Force curves.
    pub curves: Vec<Curve>,
    /// Force that the drive can give, cold and as hot as its cut-out allows, N.
    pub available_n: (f64, f64),
    /// Stretches where it jams, opening and closing, in the strongest gust.
    pub zones: Vec<(Direction, DeadZone)>,
    /// The hardest day: hours since midnight and winding temperature, degC.
    pub winding: Vec<(f64, f64)>,
    /// Strokes of that day; 0 if no stroke of the season draws current, because the supply refuses them all.
    pub strokes: usize,
    /// Its date.
    pub date: String,
    /// Temperature at which the cut-out opens, degC.
    pub trips_at_c: f64,
}

impl Drawings {
    /// Computes them.
    ///
    /// # Errors
    /// If the scenario's weather can't be used.
    pub fn new(scenario: &Scenario, climate: &Climate) -> Result<Drawings, PlanError> {
        let (door, drive, mower) = (&scenario.door, &scenario.drive, &scenario.mower);
        let full = mechanism::stroke_m(door);
        let plan_view = mechanism::opens_sideways(door);
        let body = |name, nose: f64| {
            let across = if plan_view { (-0.5 * mower.width_m, 0.5 * mower.width_m) } else { (0.0, mower.height_m) };
            Outline { name, low: (nose, across.0), high: (nose + mower.length_m, across.1) }
        };
        let mut traces = [Vec::new(), Vec::new()];
        for (_, line) in survey::poses(door) {
            traces[0].push(line[0]);
            traces[1].push(line[1]);
        }
        let windy = climate.windy();
        let zones = [Direction::Opening, Direction::Closing]
            .into_iter()
            .flat_map(|direction| {
                survey::dead_zones(door, drive, direction, &windy).into_iter().map(move |zone| (direction, zone))
            })
            .collect();
        let available = |celsius| Actuator::at(drive, &scenario.supply, celsius).available_n();
        let (date, strokes, winding) = hardest_day(scenario)?;
        Ok(Drawings {
            name: scenario.name.clone(),
            plan_view,
            poses: SHARES.iter().map(|share| (*share, mechanism::pose(door, share * full))).collect(),
            traces,
            mower: vec![body("mower waiting", mower.shut_door.waits_at_m), body("mower docked", -mower.dock.depth_m)],
            opening_m: (door.width_m, door.height_m),
            curves: vec![
                curve(scenario, "opening, calm", Direction::Opening, &climate.calm()),
                curve(scenario, "opening, strongest gust", Direction::Opening, &windy),
                curve(scenario, "closing, calm", Direction::Closing, &climate.calm()),
                curve(scenario, "closing, strongest gust", Direction::Closing, &windy),
            ],
            available_n: (available(climate.coldest_c), available(drive.heat.trips_at_c)),
            zones,
            winding,
            strokes,
            date,
            trips_at_c: drive.heat.trips_at_c,
        })
    }
}

fn curve(scenario: &Scenario, name: &'static str, direction: Direction, loads: &Loads) -> Curve {
    let full = mechanism::stroke_m(&scenario.door);
    let at = |point: usize| full * point as f64 / POINTS as f64;
    let force =
        |position| match mechanism::drive_force(&scenario.door, &scenario.drive, direction, position, loads, false) {
            Force::Push(force) => Some(force),
            Force::Jammed(_) => None,
        };
    Curve { name, points: (0..=POINTS).map(|point| (at(point), force(at(point)))).collect() }
}

/// Date, strokes, and hours with winding temperatures.
type HardestDay = (String, usize, Vec<(f64, f64)>);

/// The day of the first season on which the winding gets hottest, with its temperatures, by replaying all strokes of the season:
/// many short strokes may heat less than a few against a gust, or one that stalls.
fn hardest_day(scenario: &Scenario) -> Result<HardestDay, PlanError> {
    let plan = Plan::new(scenario)?;
    let outside = Outside::draw(&plan, SEED, 0)?;
    let record = play(&plan, &outside, 0, SEED, Options { sampling: Sampling::Exact, events: true });
    let strokes = thermal::strokes(&plan, &record);
    let mut winding = Winding::rested(outside.weather.at(Instant::START).temperature_c);
    let mut now = Instant::START;
    // Temperature and motor at the beginning of the hottest day so far.
    let mut hottest = (f64::NEG_INFINITY, 0, winding);
    let mut today = (0, winding);
    for begun in &strokes {
        let day = plan.clock.day_of(begun.at);
        if day != today.0 {
            let start = plan.clock.day_start(day);
            rest(&mut winding, &plan, &outside, &mut now, start, &mut |_, _| ());
            today = (day, winding);
        }
        rest(&mut winding, &plan, &outside, &mut now, begun.at, &mut |_, _| ());
        let peak = thermal::heat(&plan, &outside, &mut winding, begun);
        now = begun.until;
        if peak > hottest.0 {
            hottest = (peak, today.0, today.1);
        }
    }
    let (_, day, mut winding) = hottest;
    let start = plan.clock.day_start(day);
    let end = if day + 1 < plan.clock.days() { plan.clock.day_start(day + 1) } else { plan.clock.end() };
    let mut now = start;
    let mut curve = vec![(0.0, winding.winding_c)];
    let mut point = |at: Instant, celsius: f64| curve.push((at.since(start).hours(), celsius));
    let mut count = 0;
    for begun in strokes.iter().filter(|begun| plan.clock.day_of(begun.at) == day) {
        rest(&mut winding, &plan, &outside, &mut now, begun.at, &mut point);
        let peak = thermal::heat(&plan, &outside, &mut winding, begun);
        now = begun.until;
        point(now, peak.max(winding.winding_c));
        count += 1;
    }
    rest(&mut winding, &plan, &outside, &mut now, end, &mut point);
    Ok((plan.clock.date(day).to_string(), count, curve))
}

/// Cools until `until`, with a point of the curve every few minutes.
fn rest(
    winding: &mut Winding,
    plan: &Plan,
    outside: &Outside,
    now: &mut Instant,
    until: Instant,
    point: &mut dyn FnMut(Instant, f64),
) {
    let step = Span::from_seconds(120.0);
    while *now < until {
        let next = (*now + step).min(until);
        let air = outside.weather.at(*now).temperature_c;
        winding.rest(&plan.scenario.drive.heat, next.since(*now).seconds(), air);
        *now = next;
        point(next, winding.winding_c);
    }
}
