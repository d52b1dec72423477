//! Does the mower fit through, under, and beside the moving panel?

use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::Mechanism;
use crate::shelter::mechanism::{self, linkage::Linkage, survey};

/// Standard deviations of sideways scatter that must pass on either side: 3 leaves one arrival in 370 to scrape (normal law).
const SCATTER: f64 = 3.0;
/// Standard deviations below which it fails outright: one in 22.
const LEAST_SCATTER: f64 = 2.0;
/// Height to spare over the mower for uneven ground, m (common practice).
const BUMP_M: f64 = 0.02;
/// Room to spare beside a sweeping panel, m (common practice).
const BESIDE_M: f64 = 0.05;
/// Length that the ends and the housing of a rod add to its stroke, m: 0.10 to 0.20 (common practice).
const ENDS_M: (f64, f64) = (0.10, 0.20);

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let stroke = mechanism::stroke_m(door);
    let sideways = mower.approach.sideways_m;
    let width = mechanism::clear_width_m(door, stroke);
    let least = mower.width_m + 2.0 * LEAST_SCATTER * sideways;
    let wanted = mower.width_m + 2.0 * SCATTER * sideways;
    rows.push(
        Row::judged(
            "clear_width",
            "clear width for the mower with its sideways scatter",
            width,
            Side::AtLeast,
            least,
            wanted - least,
            "m",
        )
        .key(match door.mechanism {
            Mechanism::HorizontalSlide(_) => "door.mechanism.stroke",
            Mechanism::SideLeaf(_) => "door.mechanism.open_angle",
            _ => "door.width",
        })
        .note(format!(
            "mower {:.3} m, scatter {:.3} m: 2 standard deviations on either side are needed, 3 are comfortable",
            mower.width_m, sideways
        )),
    );
    let height = mechanism::clear_height_m(door, stroke).min(door.height_m);
    rows.push(
        Row::judged(
            "headroom",
            "clear height for the mower with the door open",
            height,
            Side::AtLeast,
            mower.height_m,
            BUMP_M,
            "m",
        )
        .key(height_key(scenario))
        .note("20 mm to spare allow for uneven ground (common practice)"),
    );
    sweeps(scenario, rows);
    rod(scenario, rows);
}

/// The key that sets the clear height.
fn height_key(scenario: &Scenario) -> &'static str {
    let door = &scenario.door;
    if mechanism::clear_height_m(door, mechanism::stroke_m(door)) >= door.height_m {
        return "door.height";
    }
    match door.mechanism {
        Mechanism::VerticalLift(_) | Mechanism::RollerCurtain(_) => "door.mechanism.stroke",
        Mechanism::DoubleSlider(_) | Mechanism::TopFlap(_) => "door.mechanism.open_angle",
        Mechanism::SideLeaf(_) | Mechanism::HorizontalSlide(_) => "door.height",
    }
}

/// The panel against the mower that waits outside and the one in the dock.
fn sweeps(scenario: &Scenario, rows: &mut Vec<Row>) {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let sweep = survey::sweep(door);
    let sideways = mechanism::opens_sideways(door);
    let half = 0.5 * mower.width_m + 3.0 * mower.approach.sideways_m;
    let (low, high) = if sideways { (-half, half) } else { (0.0, mower.height_m) };
    let hits = |from: f64, to: f64| survey::hits(door, (from, low), (to, high));
    let waits = mower.shut_door.waits_at_m;
    let docked = (-mower.dock.depth_m, mower.length_m - mower.dock.depth_m);
    for (id, what, reach, free, near, key) in [
        (
            "sweep_outside",
            "the panel's way against the waiting mower",
            sweep.outside_m,
            waits,
            (waits, waits + mower.length_m),
            "mower.shut_door.waits_at",
        ),
        (
            "sweep_inside",
            "the panel's way against the docked mower",
            sweep.inside_m,
            -docked.1,
            docked,
            "mower.dock.depth",
        ),
    ] {
        let hit = hits(near.0, near.1);
        let close = hits(near.0 - BESIDE_M, near.1 + BESIDE_M);
        let mut row = Row::stated(
            id,
            what,
            match (hit, close) {
                (Some(_), _) => Verdict::Fails,
                (None, Some(_)) => Verdict::Tight,
                (None, None) => Verdict::Fits,
            },
        );
        (row.value, row.side, row.unit) = (Some(reach), Side::AtMost, "m");
        // A panel that passes above or beside the mower has no limit to its reach.
        row.limit = (reach <= free || hit.is_some()).then_some(free);
        let note = match hit {
            Some(at) => format!(
                "it hits the mower {:.0} mm into its stroke of {:.0} mm",
                1000.0 * at,
                1000.0 * mechanism::stroke_m(door)
            ),
            None if reach > free => "it reaches further, but passes above or beside the mower".to_string(),
            None => String::new(),
        };
        rows.push(row.key(key).note(note));
    }
}

/// Whether a rod actuator can be built that short and long, and has a lever.
fn rod(scenario: &Scenario, rows: &mut Vec<Row>) {
    let (rod, open_deg, panel_m) = match &scenario.door.mechanism {
        Mechanism::TopFlap(flap) => (&flap.rod, flap.open_angle_deg, flap.length_m),
        Mechanism::SideLeaf(leaf) => (&leaf.rod, leaf.open_angle_deg, scenario.door.width_m),
        _ => return,
    };
    let link = Linkage::new(rod);
    let open = open_deg.to_radians();
    let stroke = link.stroke_m(open);
    let reach = link.toggle(open).unwrap_or(open).min(open);
    let shortest = link.length_m(0.0).min(link.length_m(reach));
    rows.push(
        Row::judged(
            "rod_length",
            "shortest length of the rod less its stroke",
            shortest - stroke,
            Side::AtLeast,
            ENDS_M.0,
            ENDS_M.1 - ENDS_M.0,
            "m",
        )
        .key("door.mechanism.rod_frame_along")
        .note("ends and housing of a linear actuator take 0.10 to 0.20 m (common practice)"),
    );
    let steps = 60;
    let lever = (0..=steps)
        .map(|step| link.lever_m(reach * f64::from(step) / f64::from(steps)).abs())
        .fold(f64::INFINITY, f64::min);
    let mut row = Row::judged("rod_lever", "least lever of the rod", lever, Side::AtLeast, 0.02 * panel_m, 0.08 * panel_m, "m")
        .key("door.mechanism.rod_panel_along")
        .note("a tenth of the panel is comfortable, under a fiftieth every force and every play is multiplied by fifty (common practice)");
    if let Some(toggle) = link.toggle(open) {
        row.verdict = Verdict::Fails;
        row.note = format!(
            "the rod points through the hinge at {:.1} deg of the {open_deg:.1} deg and cannot move the panel on",
            toggle.to_degrees()
        );
    }
    rows.push(row);
}
