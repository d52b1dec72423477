//! What takes the drive's life: every stroke of a season, by its reason, with the part that wind adds.

use std::collections::BTreeMap;

use crate::engine::{Outside, Plan};
use crate::ledger::record::SeasonRecord;
use crate::math::time::Instant;
use crate::shelter::heat::Winding;
use crate::shelter::loads::{self, Loads};
use crate::shelter::mechanism::{self, Direction, Force};
use crate::shelter::stroke::Stroke;
use crate::shelter::stroke::table::wind_class;
use crate::shelter::wear::{insulation_life, stalled_damage, stalled_load};
use crate::study::thermal::{self, loads_at};

/// Way over which a frozen seal holds on to the panel that tears it off, m (common practice: ice is brittle).
const ICE_WAY_M: f64 = 0.001;

/// What a share of the damage is due to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The mower's own departures and arrivals, in calm air.
    Mower,
    /// Openings that nobody needed, and the closings after them, in calm air.
    FalseOpenings,
    /// Strokes turned back or tried again, in calm air.
    Retries,
    /// Strokes that stall: each counts as a full one at all the force that the drive has, beside the way that it went.
    Stalls,
    /// What the wind adds to all of them.
    Wind,
    /// What a frozen seal adds over the first millimetre of an opening, whether the door comes free or not.
    Ice,
    /// Heat of the duty: used life of the winding's insulation. It comes beside the drive's load-life damage, not on top of it.
    Duty,
}

/// All causes, in the order of reports.
pub const CAUSES: [Cause; 7] =
    [Cause::Mower, Cause::FalseOpenings, Cause::Retries, Cause::Stalls, Cause::Wind, Cause::Ice, Cause::Duty];

/// What one season took.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Damage of the drive by cause, in the order of [`CAUSES`]; of [`Cause::Duty`] that of its insulation.
    pub damage: [f64; CAUSES.len()],
    /// Full strokes by direction, wind class and cause (index in [`CAUSES`]).
    pub way: BTreeMap<(Direction, usize, usize), f64>,
    /// Strokes that stalled.
    pub stalls: f64,
    /// The season's metrics.
    pub metrics: SeasonRecord,
}

impl Tally {
    /// Damage by load and way of all causes; the insulation's is another part's.
    pub fn mechanical(&self) -> f64 {
        self.damage[..Cause::Duty as usize].iter().sum()
    }
}

impl Tally {
    /// Whether the panel went any way.
    pub fn moved(&self) -> bool {
        self.way.values().any(|way| *way > 0.0)
    }
}

/// A stroke under way in the log.
struct Running<'p> {
    stroke: &'p Stroke,
    calm: &'p Stroke,
    class: usize,
    began: Instant,
    from_m: f64,
    cause: Cause,
}

/// Goes through a season's event log.
pub(super) fn tally(plan: &Plan, outside: &Outside, record: &SeasonRecord) -> Tally {
    let full = mechanism::stroke_m(&plan.scenario.door);
    let mut tally = Tally { damage: [0.0; CAUSES.len()], way: BTreeMap::new(), stalls: 0.0, metrics: record.metrics() };
    let wear = &plan.scenario.drive.wear;
    let stalled_load = stalled_load(&plan.scenario.drive, &plan.scenario.supply);
    tally.damage[Cause::Duty as usize] = insulation(plan, outside, record);
    let wet = wet_until(plan, outside);
    let mut running: Option<Running> = None;
    let mut at_m = 0.0;
    // The reason of the opening that a later closing belongs to.
    let mut opened_for = Cause::Mower;
    let mut is_false = false;
    for event in record.events.iter().filter(|event| event.who == "door") {
        match event.what.as_str() {
            "false opening" => is_false = true,
            "opening begins" | "closing begins" => {
                at_m = finish(&mut tally, running.take(), event.at, None, full, at_m);
                let direction = if event.what == "opening begins" { Direction::Opening } else { Direction::Closing };
                let cause = match direction {
                    Direction::Opening if at_m > 1e-9 => Cause::Retries,
                    Direction::Opening => {
                        opened_for = if is_false { Cause::FalseOpenings } else { Cause::Mower };
                        opened_for
                    }
                    Direction::Closing if at_m < full - 1e-9 => Cause::Retries,
                    Direction::Closing => opened_for,
                };
                is_false = false;
                let loads = loads_at(plan, outside, event.at);
                if direction == Direction::Opening && at_m <= 0.0 {
                    tally.damage[Cause::Ice as usize] += frozen_start(plan, &wet, &loads, event.at);
                }
                running = Some(Running {
                    stroke: plan.strokes.get(direction, &loads),
                    calm: plan.strokes.get(direction, &Loads { gust_m_s: 0.0, ..loads }),
                    class: wind_class(&loads),
                    began: event.at,
                    from_m: at_m,
                    cause,
                });
            }
            "open" => at_m = finish(&mut tally, running.take(), event.at, Some(full), full, at_m),
            "shut" => at_m = finish(&mut tally, running.take(), event.at, Some(0.0), full, at_m),
            "stroke failed" => {
                if running.as_ref().is_some_and(|run| run.stood(event.at, full)) {
                    tally.stalls += 1.0;
                    tally.damage[Cause::Stalls as usize] +=
                        stalled_damage(1.0, stalled_load, wear.exponent, wear.rated_strokes);
                }
                at_m = finish(&mut tally, running.take(), event.at, None, full, at_m);
            }
            "obstruction" => at_m = finish(&mut tally, running.take(), event.at, None, full, at_m),
            _ => {}
        }
    }
    tally
}

impl Running<'_> {
    /// Whether the motor stood under power before a stroke failed at `at`: the stroke can't end, or lasted longer than its way.
    fn stood(&self, at: Instant, full_m: f64) -> bool {
        let to_m = if self.stroke.direction == Direction::Opening { full_m } else { 0.0 };
        !self.stroke.finishes() || at.since(self.began).seconds() > self.stroke.part(self.from_m, to_m).time_s
    }
}

/// Accounts for a stroke that ended at `at`, at `end_m` or where its time brought it; returns where the door stands.
fn finish(
    tally: &mut Tally,
    running: Option<Running>,
    at: Instant,
    end_m: Option<f64>,
    full_m: f64,
    was_m: f64,
) -> f64 {
    let Some(run) = running else { return end_m.unwrap_or(was_m) };
    let seconds = at.since(run.began).seconds();
    let end = end_m.unwrap_or_else(|| {
        let before =
            if run.from_m == run.stroke.from_m { 0.0 } else { run.stroke.time_at(run.from_m) - run.stroke.start_s };
        run.stroke.position_at(before + seconds).clamp(0.0, full_m)
    });
    let damage = run.stroke.part(run.from_m, end).damage;
    let calm = run.calm.part(run.from_m, end).damage.min(damage);
    tally.damage[run.cause as usize] += calm;
    tally.damage[Cause::Wind as usize] += damage - calm;
    let way = (end - run.from_m).abs() / full_m.max(f64::MIN_POSITIVE);
    *tally.way.entry((run.stroke.direction, run.class, run.cause as usize)).or_insert(0.0) += way;
    end
}

/// Stretches during which the seal is wet: from the beginning of rain until it has dried.
fn wet_until(plan: &Plan, outside: &Outside) -> Vec<(Instant, Instant)> {
    let mut wet: Vec<(Instant, Instant)> = Vec::new();
    for (step, length) in outside.weather.stretches(&plan.clock).filter(|(step, _)| step.rain_mm_h > 0.0) {
        let dry = step.from + length + loads::SEAL_DRIES_IN;
        match wet.last_mut() {
            Some((_, until)) if step.from <= *until => *until = dry,
            _ => wet.push((step.from, dry)),
        }
    }
    wet
}

/// What the ice of a frozen seal costs the drive when it starts an opening: the load-life damage of the force, as far as the
/// drive can give it, over [`ICE_WAY_M`], less that of a start without ice.
fn frozen_start(plan: &Plan, wet: &[(Instant, Instant)], calm: &Loads, at: Instant) -> f64 {
    let (door, drive) = (&plan.scenario.door, &plan.scenario.drive);
    let next = wet.partition_point(|(from, _)| *from <= at);
    let is_wet = next > 0 && at < wet[next - 1].1;
    if !loads::frozen(door, calm.temperature_c, is_wet) {
        return 0.0;
    }
    let most = crate::shelter::actuator::Actuator::at(drive, &plan.scenario.supply, calm.temperature_c).available_n();
    let damage =
        |frozen| match mechanism::drive_force(door, drive, Direction::Opening, 0.0, &Loads { frozen, ..*calm }, true) {
            Force::Push(force) => {
                let load = force.clamp(0.0, most) / drive.rated_force_n;
                let share = ICE_WAY_M / mechanism::stroke_m(door).max(ICE_WAY_M);
                share * libm::pow(load, drive.wear.exponent) / drive.wear.rated_strokes
            }
            Force::Jammed(_) => 0.0,
        };
    (damage(true) - damage(false)).max(0.0)
}

/// Used life of the winding's insulation: each stroke at its highest temperature.
fn insulation(plan: &Plan, outside: &Outside, record: &SeasonRecord) -> f64 {
    let heat = &plan.scenario.drive.heat;
    let mut winding = Winding::rested(outside.weather.at(Instant::START).temperature_c);
    let mut now = Instant::START;
    let mut used = 0.0;
    for begun in thermal::strokes(plan, record) {
        winding.rest(heat, begun.at.since(now).seconds(), loads_at(plan, outside, begun.at).temperature_c);
        let peak = thermal::heat(plan, outside, &mut winding, &begun);
        now = begun.until;
        used += begun.until.since(begun.at).hours() / insulation_life(peak, heat.trips_at_c);
    }
    used
}
