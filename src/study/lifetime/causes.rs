//! What takes the drive's life: every stroke of a season, by its reason, with the part that wind adds.

use std::collections::BTreeMap;

use super::{class_at, loads_at, peak_of};
use crate::engine::{Outside, Plan};
use crate::ledger::metric::Key;
use crate::ledger::record::SeasonRecord;
use crate::math::time::Instant;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke::Stroke;

/// What a share of the damage is due to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The mower's own departures and arrivals, in calm air.
    Mower,
    /// Openings that nobody needed, and the closings after them, in calm air.
    FalseOpenings,
    /// Strokes turned back or tried again, in calm air.
    Retries,
    /// What the wind adds to all of them.
    Wind,
}

/// All causes, in the order of reports.
pub const CAUSES: [Cause; 4] = [Cause::Mower, Cause::FalseOpenings, Cause::Retries, Cause::Wind];

/// What one season took.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Damage of the drive by cause, in the order of [`CAUSES`].
    pub damage: [f64; 4],
    /// Full strokes by direction and wind class.
    pub way: BTreeMap<(Direction, usize), f64>,
    /// Strokes begun.
    pub strokes: u64,
    /// Worst duty against the rating, %.
    pub duty: f64,
    /// Highest winding temperature, degC.
    pub winding_c: f64,
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
    let mut tally = Tally {
        damage: [0.0; 4],
        way: BTreeMap::new(),
        strokes: 0,
        duty: peak_of(record, Key::DutyWorst),
        winding_c: peak_of(record, Key::WindingPeak),
    };
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
                tally.strokes += 1;
                running = Some(Running {
                    stroke: plan.strokes.get(direction, &loads),
                    calm: plan.strokes.get(direction, &Loads { gust_m_s: 0.0, ..loads }),
                    class: class_at(plan, outside, event.at),
                    began: event.at,
                    from_m: at_m,
                    cause,
                });
            }
            "open" => at_m = finish(&mut tally, running.take(), event.at, Some(full), full, at_m),
            "shut" => at_m = finish(&mut tally, running.take(), event.at, Some(0.0), full, at_m),
            "stroke failed" | "obstruction" => {
                at_m = finish(&mut tally, running.take(), event.at, None, full, at_m);
            }
            _ => {}
        }
    }
    tally
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
    *tally.way.entry((run.stroke.direction, run.class)).or_insert(0.0) += way;
    end
}
