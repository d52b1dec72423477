//! What the drawings of `check` show: panel, forces, and the motor's temperature over the hardest day.

use super::climate::Climate;
use crate::engine::{Options, Outside, Plan, PlanError, play};
use crate::math::time::Instant;
use crate::scenario::Scenario;
use crate::sensing::channel::Sampling;
use crate::shelter::actuator::{Actuator, winding_ohm_20};
use crate::shelter::heat::{Heating, Winding};
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::survey::{self, DeadZone};
use crate::shelter::mechanism::{self, Direction, Force};

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
    /// Strokes of that day.
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

/// Winding temperature over the day with the most strokes of the first season, by replaying its strokes.
fn hardest_day(scenario: &Scenario) -> Result<HardestDay, PlanError> {
    let plan = Plan::new(scenario)?;
    let outside = Outside::draw(&plan, SEED, 0)?;
    let record = play(&plan, &outside, 0, SEED, Options { sampling: Sampling::Exact, events: true });
    let mut by_day: Vec<usize> = vec![0; plan.clock.days()];
    let began: Vec<(Instant, Direction)> = record
        .events
        .iter()
        .filter(|event| event.who == "door")
        .filter_map(|event| match event.what.as_str() {
            "opening begins" => Some((event.at, Direction::Opening)),
            "closing begins" => Some((event.at, Direction::Closing)),
            _ => None,
        })
        .collect();
    for (at, _) in &began {
        by_day[plan.clock.day_of(*at)] += 1;
    }
    // The first of the days with the most.
    let most = by_day.iter().copied().max().unwrap_or(0);
    let day = by_day.iter().position(|count| *count == most).unwrap_or(0);
    let start = plan.clock.day_start(day);
    let hour = |at: Instant| at.since(start).hours();
    let heat = &scenario.drive.heat;
    let mut winding = Winding::rested(outside.weather.at(start).temperature_c);
    let mut now = start;
    let mut curve = vec![(0.0, winding.winding_c)];
    let today: Vec<(Instant, Direction)> =
        began.iter().copied().filter(|(at, _)| plan.clock.day_of(*at) == day).collect();
    for (number, (at, direction)) in today.iter().enumerate() {
        rest(&mut winding, heat, &outside, &mut now, *at, &mut curve, &hour);
        let weather = outside.weather.at(*at);
        let loads = Loads {
            gust_m_s: weather.gust_m_s * scenario.site.wind_factor,
            temperature_c: weather.temperature_c,
            frozen: false,
        };
        let stroke = plan.strokes.get(*direction, &loads);
        // A stroke that the next one cuts short heats only until then.
        let next_s = today.get(number + 1).map_or(f64::INFINITY, |(next, _)| next.since(*at).seconds());
        let lasts_s = if stroke.finishes() { stroke.time_s.min(next_s) } else { 0.0 };
        let heating = Heating {
            current_a: stroke.rms_current_a,
            resistance_20_ohm: winding_ohm_20(&scenario.drive),
            housing_w: if stroke.finishes() { stroke.friction_heat_j / stroke.time_s.max(1e-3) } else { 0.0 },
        };
        winding.advance(heat, &heating, lasts_s, weather.temperature_c);
        now = *at + crate::math::time::Span::from_seconds(lasts_s);
        curve.push((hour(now), winding.winding_c));
    }
    let end = if day + 1 < plan.clock.days() { plan.clock.day_start(day + 1) } else { plan.clock.end() };
    rest(&mut winding, heat, &outside, &mut now, end, &mut curve, &hour);
    Ok((plan.clock.date(day).to_string(), most, curve))
}

/// Cools until `until`, with a point of the curve every few minutes.
fn rest(
    winding: &mut Winding,
    heat: &crate::scenario::door::Heat,
    outside: &Outside,
    now: &mut Instant,
    until: Instant,
    curve: &mut Vec<(f64, f64)>,
    hour: &dyn Fn(Instant) -> f64,
) {
    let step = crate::math::time::Span::from_seconds(120.0);
    while *now < until {
        let next = (*now + step).min(until);
        winding.rest(heat, next.since(*now).seconds(), outside.weather.at(*now).temperature_c);
        *now = next;
        curve.push((hour(next), winding.winding_c));
    }
}
