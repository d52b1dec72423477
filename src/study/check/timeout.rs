//! Is a stroke given the time that it takes? Its time-out counts from the time in calm, mild weather; wind, cold and a frozen seal make
//! it slower, and a stroke that is cut off there has failed.

use super::change::{ceil_to, whole};
use super::climate::Climate;
use super::set::Set;
use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{self, Direction};
use crate::shelter::stroke::{self, StrokeTable};

/// Shortest time-out, s, as the season has it.
const SHORTEST_S: f64 = 1.0;
/// Room that is comfortable, and that a proposed time-out leaves, as a factor (common practice: a stroke learned anew differs by a
/// few per cent).
const ROOM: f64 = 1.1;
/// The weather from which a time-out counts.
const MILD: Loads = Loads { gust_m_s: 0.0, temperature_c: 20.0, frozen: false };

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    const ID: &str = "stroke_timeout";
    let Some((needs, direction, when)) = slowest(scenario, climate) else { return };
    let factor = |index: usize| scenario.strategies[index].controller.stroke_timeout;
    let Some(least) = (0..scenario.strategies.len()).min_by(|one, other| factor(*one).total_cmp(&factor(*other)))
    else {
        return;
    };
    let mut row = Row::judged(
        ID,
        "time-out of a stroke, over its time in calm, mild weather",
        factor(least),
        Side::AtLeast,
        needs,
        (ROOM - 1.0) * needs,
        "x",
    )
    .key(format!("strategy.{}.controller.stroke_timeout", scenario.strategies[least].name))
    .note(format!(
        "{direction} {when} takes {needs:.2} times as long as in calm, mild weather; a stroke that is cut off has failed"
    ));
    if row.verdict == Verdict::Fails {
        let enough = ceil_to(ROOM * needs, 0.05);
        let short = (0..scenario.strategies.len()).filter(|index| factor(*index) < enough);
        let sets: Vec<Set> = short.map(|index| Set::StrokeTimeout(index, enough)).collect();
        let what = "one time-out for all; once in [controller] where no strategy has its own";
        row = row.changes(whole(&sets, ID, scenario, what));
    }
    rows.push(row);
}

/// The stroke that takes longest over its own time in calm, mild weather, of those that end and take longer than any time-out: how many
/// times as long, which, and when. Solved as the season solves it.
fn slowest(scenario: &Scenario, climate: &Climate) -> Option<(f64, &'static str, &'static str)> {
    let time_s = |direction: Direction, loads: &Loads| {
        let (loads, winding_c) = StrokeTable::solved_with(direction, loads);
        let (door, drive) = (&scenario.door, &scenario.drive);
        let from_m = if direction == Direction::Opening { 0.0 } else { mechanism::stroke_m(door) };
        stroke::solve_with_winding(door, drive, &scenario.supply, direction, &loads, from_m, winding_c).time_s
    };
    let cold = Loads { temperature_c: climate.coldest_c, ..MILD };
    let mut cases = vec![
        ("in the strongest gust", climate.windy()),
        ("in the coldest hour", cold),
        ("in the warmest hour", climate.calm()),
        ("in a mean hour", climate.mean()),
    ];
    if climate.freezes(&scenario.door) {
        cases.push(("with a frozen seal", climate.icy()));
    }
    let mut slowest: Option<(f64, &'static str, &'static str)> = None;
    for (direction, word) in [(Direction::Opening, "opening"), (Direction::Closing, "closing")] {
        let usual_s = time_s(direction, &MILD);
        if !usual_s.is_finite() {
            return None;
        }
        for (when, loads) in &cases {
            let takes_s = time_s(direction, loads);
            let times = takes_s / usual_s;
            let counts = takes_s.is_finite() && takes_s > SHORTEST_S;
            if counts && slowest.is_none_or(|(known, ..)| times > known) {
                slowest = Some((times, word, when));
            }
        }
    }
    slowest
}
