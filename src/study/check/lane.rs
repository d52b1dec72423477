//! Does anything keep a panel that swings out of the door line from closing on who is in its way?
//!
//! A leaf, a flap or a tilting panel sweeps through the lane before the door, where a sensor at the door line sees nobody yet. So a
//! mower is let drive home and on into its dock, at paces spread as the scenario spreads them, past the sensors' own laws and the
//! rules as they are ([`arrival::closings`]); whenever the panel moves towards shut, its line is held against the mower's box, as the
//! season does it. The share of such ways home is what `run` warns of, too.
//!
//! A visitor stands where he likes. For him the row asks at which places before the door the closing panel would meet him and no rule
//! would notice.

use super::arrival::{self, Times, Way};
use super::change::{ceil_to, first, floor_to};
use super::climate::Climate;
use super::doorway::OF_BODY;
use super::set::{Set, set_in};
use super::settled::{Still, holds, settled};
use super::sight::{DARK, is_ranger_level};
use super::timing::calm_times_s;
use super::{Change, Row, Side, Verdict};
use crate::engine::plan::tallest_m;
use crate::math::time::Span;
use crate::scenario::Scenario;
use crate::scenario::door::{Door, EDGE_ZONE_M};
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::Strategy;
use crate::sensing::sight::Body;
use crate::shelter::condition::detectors_of;
use crate::shelter::mechanism::survey::{self, Meeting, Swept};
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke::{self, Stroke};
use crate::study::alarm::SWINGS;
use crate::study::interval::normal_quantile;

/// Paces of the ways home that are played: the middles of so many equally likely ones. Replays of each.
const PACES: u32 = 20;
const REPLAYS: u64 = 2;
/// Steps in which a closing is looked at, s: at a walking pace a few millimetres.
const LOOK_S: f64 = 0.02;
/// Places at which a visitor is imagined, m apart, from the door's edge zone on.
const STAND_STEP_M: f64 = 0.05;

/// Aims and heights of a ranger that are tried, degrees and m, a longer warning and a longer least open time, s.
const PITCHES_DEG: [f64; 4] = [-4.0, -6.0, -8.0, -12.0];
const LOWER_M: f64 = 0.05;
const LOWER_STEPS: u32 = 4;
const WARNINGS: (f64, u32) = (2.0, 4);
const LEAST_OPEN: (f64, u32) = (5.0, 4);

const ID: &str = "lane_closing";

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let Some(panel) = Panel::of(scenario, climate) else { return };
    for (index, strategy) in scenario.strategies.iter().enumerate() {
        rows.extend(mower_row(scenario, &panel, index));
        rows.extend(visitor_row(scenario, &panel, strategy));
    }
}

/// What closes, and what it sweeps through.
struct Panel {
    swept: Swept,
    closing: Stroke,
    times: Times,
}

impl Panel {
    /// None where it keeps to the door line, or does not close.
    fn of(scenario: &Scenario, climate: &Climate) -> Option<Panel> {
        let door = &scenario.door;
        let swept = survey::swept(door, tallest_m(scenario));
        let (opens_s, closes_s) = calm_times_s(scenario, climate);
        if swept.is_empty() || !opens_s.is_finite() || !closes_s.is_finite() {
            return None;
        }
        let full_m = mechanism::stroke_m(door);
        let (drive, supply) = (&scenario.drive, &scenario.supply);
        let closing = stroke::solve(door, drive, supply, Direction::Closing, &climate.calm(), full_m);
        Some(Panel { swept, closing, times: Times { opens_s, closes_s } })
    }

    /// Whether the panel, so long after it has begun to close, touches a body.
    fn touches(&self, scenario: &Scenario, body: &Body, elapsed_s: f64) -> bool {
        let door = &scenario.door;
        self.swept.may_touch(body.x_m)
            && survey::corners(door, body.x_m, body.y_m, body.height_m).is_some_and(|[low, high]| {
                survey::touch(door, self.closing.position_at(elapsed_s), low, high).is_some()
            })
    }
}

/// The ways home that were played.
struct Played {
    /// In so many it found the door open.
    ways: usize,
    /// In so many of them the panel closed on it.
    hits: usize,
    /// Of the first of them: the nose's place when the panel began to close, and when it touched, m.
    first: Option<(f64, f64)>,
}

impl Played {
    fn percent(&self) -> f64 {
        100.0 * self.hits as f64 / self.ways.max(1) as f64
    }
}

fn played(scenario: &Scenario, panel: &Panel, strategy: &Strategy) -> Played {
    let mut played = Played { ways: 0, hits: 0, first: None };
    for number in 0..PACES {
        let quick = normal_quantile((f64::from(number) + 0.5) / f64::from(PACES));
        // On the middle line and to either side in turn.
        let aside_m = [0.0, 1.0, -1.0][(number % 3) as usize] * scenario.mower.approach.sideways_m;
        let way = Way { quick, aside_m, sky: DARK, after_hours: false };
        let mut times = panel.times;
        times.opens_s += strategy.controller.care.opening_warning.seconds();
        for closings in arrival::closings(scenario, strategy, times, &way, REPLAYS) {
            played.ways += 1;
            let hit = closings.iter().find_map(|closing| hit(scenario, panel, &way, *closing));
            played.hits += usize::from(hit.is_some());
            played.first = played.first.or(hit);
        }
    }
    played
}

/// Where the nose is when a closing begins, and when the panel touches the mower, as the season has it: one that it touches at rest
/// stands beside it, and in the doorway itself it is the closing edge that meets it.
fn hit(scenario: &Scenario, panel: &Panel, way: &Way, (from_s, to_s): (f64, f64)) -> Option<(f64, f64)> {
    let pace = arrival::pace(scenario, way);
    let nose_m = |elapsed_s: f64| arrival::place_m(scenario, (from_s + elapsed_s) * pace, true);
    let body = |elapsed_s: f64| Body::of_mower(&scenario.mower, nose_m(elapsed_s), way.aside_m);
    let mut beside = panel.touches(scenario, &body(0.0), 0.0);
    let looks = ((to_s - from_s) / LOOK_S).floor().max(0.0) as u32;
    for elapsed_s in (1..=looks).map(|look| f64::from(look) * LOOK_S) {
        let body = body(elapsed_s);
        let touches = panel.touches(scenario, &body, elapsed_s);
        let under = body.x_m.0 < EDGE_ZONE_M && body.x_m.1 > -EDGE_ZONE_M;
        if touches && !beside && !under {
            return Some((nose_m(0.0), body.x_m.0));
        }
        beside = touches;
    }
    None
}

fn mower_row(scenario: &Scenario, panel: &Panel, index: usize) -> Option<Row> {
    let strategy = &scenario.strategies[index];
    let found = played(scenario, panel, strategy);
    if found.ways == 0 {
        return None;
    }
    let question = format!("strategy {}: arrivals at which the panel closes on the mower in its way", strategy.name);
    let limit = 100.0 * SWINGS;
    let mut row = Row::judged(ID, question, found.percent(), Side::AtMost, limit, limit, "%")
        .key(format!("strategy.{}.hold", strategy.name));
    let reach_m = survey::sweep(&scenario.door).outside_m;
    row.note = match found.first {
        None => format!(
            "of {} ways home at paces as they spread; it reaches {reach_m:.2} m out of the door line",
            found.ways
        ),
        Some((begins_m, meets_m)) => format!(
            "in {} of {} ways home at paces as they spread; in the first of them it begins to close with the nose at {begins_m:.2} m, where no rule notices the mower any more or yet, and meets it at {meets_m:.2} m; it reaches {reach_m:.2} m out of the door line",
            found.hits, found.ways
        ),
    };
    if row.verdict == Verdict::Fails {
        row = row.cures(cures(scenario, panel, index));
    }
    Some(row)
}

/// A ranger that looks down or sits lower, so that it sees the mower up to the door; a beam farther out; a longer warning; a door that
/// stays open longer. Each the first value with which no way home ends at the panel.
fn cures(scenario: &Scenario, panel: &Panel, index: usize) -> Vec<Vec<Change>> {
    let strategy = &scenario.strategies[index];
    let mends = |set: Set| {
        let other = set_in(scenario, &[set]);
        let found = played(&other, panel, &other.strategies[index]);
        found.ways > 0 && found.hits == 0
    };
    let named =
        [&strategy.open, &strategy.hold, &strategy.doorway].iter().fold(0, |bits, rule| bits | detectors_of(rule));
    let mut ways: Vec<Set> = Vec::new();
    for (_, detector) in scenario.detectors.iter().enumerate().filter(|(index, _)| named >> index & 1 == 1) {
        let sensor = detector.sensor;
        match &scenario.sensors[sensor].kind {
            SensorKind::BreakBeam { x_m, .. } => {
                let out_m = floor_to(OF_BODY * shortest_m(scenario), 0.01);
                ways.extend(Some(Set::BeamX(sensor, out_m)).filter(|set| out_m > *x_m && mends(*set)));
            }
            kind => {
                let Some(aim) = kind.aim().filter(|_| is_ranger_level(scenario, detector)) else { continue };
                let steeper = PITCHES_DEG.into_iter().filter(|deg| *deg < aim.pitch_deg);
                ways.extend(steeper.map(|deg| Set::Pitch(sensor, deg)).find(|set| mends(*set)));
                let lower = (1..=LOWER_STEPS).map(|step| floor_to(aim.position_m[2] - f64::from(step) * LOWER_M, 0.01));
                let lower = lower.filter(|z_m| *z_m >= LOWER_M);
                ways.extend(lower.map(|z_m| Set::SensorHeight(sensor, z_m)).find(|set| mends(*set)));
            }
        }
    }
    let controller = &strategy.controller;
    let longer = |now: Span, (step_s, steps): (f64, u32), set: &dyn Fn(f64) -> Set| {
        let now_s = now.seconds();
        let value = first(ceil_to(now_s + 0.5, 1.0), step_s, steps, |seconds| mends(set(seconds)));
        value.map(set)
    };
    ways.extend(longer(controller.warning, WARNINGS, &|seconds| Set::Warning(index, seconds)));
    ways.extend(longer(controller.open_at_least, LEAST_OPEN, &|seconds| Set::OpenAtLeast(index, seconds)));
    ways.into_iter().map(|set| vec![set.of(ID, scenario)]).collect()
}

/// Length of the shortest body that comes to the door, m.
fn shortest_m(scenario: &Scenario) -> f64 {
    scenario.visitors.iter().map(|visitor| visitor.length_m).fold(scenario.mower.length_m, f64::min)
}

/// The lowest visitor, standing in the middle of the panel's way.
fn visitor_row(scenario: &Scenario, panel: &Panel, strategy: &Strategy) -> Option<Row> {
    let visitor = scenario.visitors.iter().min_by(|one, other| one.height_m.total_cmp(&other.height_m))?;
    let reach_m = survey::sweep(&scenario.door).outside_m;
    let places = ((reach_m - EDGE_ZONE_M) / STAND_STEP_M).ceil().max(0.0) as u32;
    let stands = |place: u32| {
        let from_m = EDGE_ZONE_M + f64::from(place) * STAND_STEP_M;
        let half_m = 0.5 * visitor.width_m;
        Body {
            x_m: (from_m, from_m + visitor.length_m),
            y_m: (-half_m, half_m),
            height_m: visitor.height_m,
            reflectance: visitor.reflectance,
            soft: visitor.soft,
            mass_kg: visitor.mass_kg,
            axles: None,
        }
    };
    let unseen: Vec<f64> = (0..places)
        .map(stands)
        .filter(|body| met(scenario, panel, body) && !keeps_open(scenario, strategy, body))
        .map(|body| body.x_m.0)
        .collect();
    let question =
        format!("strategy {}: depth of the panel's way in which no rule notices {}", strategy.name, visitor.name);
    let depth_m = unseen.len() as f64 * STAND_STEP_M;
    let mut row = Row::judged("lane_visitor", question, depth_m, Side::AtMost, 0.0, 0.0, "m")
        .key(format!("strategy.{}.doorway", strategy.name));
    if let (Some(nearest), Some(farthest)) = (unseen.first(), unseen.last()) {
        row.note = format!(
            "the closing panel meets it there with nothing to stop it but its touch: standing in the middle, its nearest point from {nearest:.2} to {farthest:.2} m; contact_force says how hard"
        );
    }
    Some(row.advised("a panel that touches somebody turns back, as hard as contact_force says: another sensor on its way would keep it from touching"))
}

/// Whether the closing panel meets a body on its way.
fn met(scenario: &Scenario, panel: &Panel, body: &Body) -> bool {
    last_met(&scenario.door, &panel.swept, body).is_some_and(|last| last.at_m < mechanism::stroke_m(&scenario.door))
}

/// Where a panel on its way shut touches a body that stands still; none if it never does.
pub(super) fn last_met(door: &Door, swept: &Swept, body: &Body) -> Option<Meeting> {
    let [low, high] = survey::corners(door, body.x_m, body.y_m, body.height_m)?;
    survey::meetings(door, swept, low, high).map(|(_, last)| last)
}

/// Whether a rule keeps the door open once somebody has stood there for a while.
fn keeps_open(scenario: &Scenario, strategy: &Strategy, body: &Body) -> bool {
    let nobody = Still { bodies: &[], door_open: true, status: None, hours: false };
    let there = settled(scenario, &Still { bodies: &[*body], ..nobody });
    let before = settled(scenario, &nobody);
    let doorway = strategy.controller.care.interlock.then_some(&strategy.doorway);
    [&strategy.open, &strategy.hold].into_iter().chain(doorway).any(|rule| holds(rule, before, there))
}
