//! Is the threshold for obstacles above what a drive's force varies by with nobody in the way? Below it strokes are turned back for
//! nothing, as the season has it ([`obstruction`]): by the friction that differs from stroke to stroke, and by cold and wind as far as
//! the scenario lists the failures by which the controller does not expect them.

use super::change::{ceil_to, whole};
use super::climate::Climate;
use super::set::Set;
use super::{Row, Side};
use crate::scenario::Scenario;
use crate::scenario::failure::{Act, Failure, Figure, mode};
use crate::shelter::obstruction;

/// Standard deviations of the friction that the threshold must leave alone: one stroke in 32 000 comes to more (normal law).
const DEVIATIONS: f64 = 4.0;
/// Room that is comfortable, and that a proposed threshold leaves, as a share of what is needed (common practice).
const ROOM: f64 = 0.2;

/// Failures by which every drive may need more force than its controller expects.
const USUAL: [&str; 2] = ["cold-drive-reversals", "wind-on-door"];

const ID: &str = "obstruction_threshold";

/// What raises the force, in words, and by how much, N.
type Rise = (String, f64);

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let threshold_n = |index: &usize| scenario.strategies[*index].controller.obstruction_force_n;
    let lowest = (0..scenario.strategies.len()).min_by(|one, other| threshold_n(one).total_cmp(&threshold_n(other)));
    let Some(lowest) = lowest else { return };
    let friction_n = obstruction::friction_n(&scenario.door);
    let scatter_n = obstruction::above_computed_n(friction_n, DEVIATIONS);
    let own: Rise = (
        format!(
            "friction of {friction_n:.0} N that differs by a tenth from stroke to stroke ({DEVIATIONS:.0} standard deviations)"
        ),
        scatter_n,
    );
    // What the season has, and what it would have with the failures that every drive may have.
    let rise = |failure: &Failure| risen(scenario, climate, failure);
    let has = scenario.failures.iter().filter_map(rise).fold(own, larger);
    let usual = USUAL.into_iter().filter_map(mode).map(|mode| Failure::usual(mode, Vec::new()));
    let might = usual.filter_map(|failure| rise(&failure)).fold(has.clone(), larger);
    let limit_n = threshold_n(&lowest);
    let (why, needed_n) = if has.1 > limit_n { has.clone() } else { might };
    let mut row = Row::judged(
        ID,
        "force of the drive above the computed one with nobody in the way",
        needed_n,
        Side::AtMost,
        limit_n,
        ROOM * needed_n,
        "N",
    )
    .key(format!("strategy.{}.controller.obstruction_force", scenario.strategies[lowest].name))
    .note(format!("largest by {why}; beyond the threshold a stroke is turned back as if it had met somebody"));
    if has.1 > limit_n {
        let enough_n = ceil_to((1.0 + ROOM) * has.1, 1.0);
        let low = (0..scenario.strategies.len()).filter(|index| threshold_n(index) < enough_n);
        let sets: Vec<Set> = low.map(|index| Set::ObstructionForce(index, enough_n)).collect();
        let what = "one threshold for all; once in [controller] where no strategy has its own";
        row = row.changes(whole(&sets, ID, scenario, what));
    } else {
        row = row.advised(
            "no failure of this scenario does that, so that its seasons have no such stroke; `dooryard what-if` shows what it would cost",
        );
    }
    rows.push(row);
}

fn larger(one: Rise, other: Rise) -> Rise {
    if other.1 > one.1 { other } else { one }
}

/// What a failure adds to the force in the coldest hour, or in the strongest gust; none of one that adds nothing.
fn risen(scenario: &Scenario, climate: &Climate, failure: &Failure) -> Option<Rise> {
    let name = failure.mode.name;
    match failure.mode.act {
        Act::ColdDrag => Some((
            format!("cold grease and grit at {:.0} °C ({name})", climate.coldest_c),
            obstruction::cold_n(failure.figure(Figure::Force), climate.coldest_c),
        )),
        Act::WindTrip => Some((
            format!("a gust of {:.0} m/s ({name})", climate.gust_m_s),
            obstruction::wind_n(failure.figure(Figure::Share), &scenario.door, &climate.windy()),
        )),
        _ => None,
    }
}
