//! The rod of a flap or a leaf: can it be built that short, has it a lever, and where else could its pivots sit?

use super::change::{ceil_to, whole};
use super::climate::Climate;
use super::force::SAFETY;
use super::set::{Set, set_in};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::{Mechanism, Rod};
use crate::shelter::actuator::Actuator;
use crate::shelter::loads::Loads;
use crate::shelter::mechanism::{Direction, linkage::Linkage, survey};

/// Length that the ends and the housing of a rod add to its stroke, m: 0.10 to 0.20 (common practice).
const ENDS_M: (f64, f64) = (0.10, 0.20);
/// Step of a proposed angle, degrees.
const ANGLE_STEP_DEG: f64 = 5.0;
/// Least lever as a share of the panel, and the one that is comfortable (common practice).
const LEVER: (f64, f64) = (0.02, 0.1);

/// Whether a rod actuator can be built that short and long, and has a lever.
pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let (rod, open_deg, panel_m) = match &scenario.door.mechanism {
        Mechanism::TopFlap(flap) => (&flap.rod, flap.open_angle_deg, flap.length_m),
        Mechanism::SideLeaf(leaf) => (&leaf.rod, leaf.open_angle_deg, scenario.door.width_m),
        _ => return,
    };
    let open = open_deg.to_radians();
    let link = Linkage::new(rod);
    let Built { spare_m, lever_m } = built(&link, open);
    let loads = [climate.calm(), climate.windy()];
    let mut row = Row::judged(
        "rod_length",
        "shortest length of the rod less its stroke",
        spare_m,
        Side::AtLeast,
        ENDS_M.0,
        ENDS_M.1 - ENDS_M.0,
        "m",
    )
    .key("door.mechanism.rod_frame_along")
    .note("ends and housing of a linear actuator take 0.10 to 0.20 m (common practice)");
    if row.verdict == Verdict::Fails {
        row = row.cures(vec![place(scenario, "rod_length", &loads), less_far(scenario, "rod_length")]);
    }
    rows.push(row);
    let mut row = Row::judged("rod_lever", "least lever of the rod", lever_m, Side::AtLeast, LEVER.0 * panel_m, (LEVER.1 - LEVER.0) * panel_m, "m")
        .key("door.mechanism.rod_panel_along")
        .note("a tenth of the panel is comfortable, under a fiftieth every force and every play is multiplied by fifty (common practice)");
    if let Some(toggle) = link.toggle(open) {
        row.verdict = Verdict::Fails;
        row.note = format!(
            "the rod points through the hinge at {:.1} deg of the {open_deg:.1} deg and cannot move the panel on",
            toggle.to_degrees()
        );
    }
    if row.verdict == Verdict::Fails {
        row = row.cures(vec![place(scenario, "rod_lever", &loads), less_far(scenario, "rod_lever")]);
    }
    rows.push(row);
}

/// The widest opening below the present one, in steps of 5 degrees, to which the rod as it sits can be built and has its lever; empty
/// where there is none. Whether the mower still passes is asked again.
fn less_far(scenario: &Scenario, row: &'static str) -> Vec<Change> {
    let (rod, open_deg, panel_m) = match &scenario.door.mechanism {
        Mechanism::TopFlap(flap) => (&flap.rod, flap.open_angle_deg, flap.length_m),
        Mechanism::SideLeaf(leaf) => (&leaf.rod, leaf.open_angle_deg, scenario.door.width_m),
        _ => return Vec::new(),
    };
    let link = Linkage::new(rod);
    let steps = (open_deg / ANGLE_STEP_DEG).floor() as u32;
    let works = |deg: f64| {
        let open = deg.to_radians();
        let Built { spare_m, lever_m } = built(&link, open);
        link.toggle(open).is_none() && spare_m >= ENDS_M.0 && lever_m >= LEVER.0 * panel_m
    };
    let angle =
        (1..=steps).rev().map(|step| f64::from(step) * ANGLE_STEP_DEG).find(|deg| *deg < open_deg && works(*deg));
    angle.map(|deg| Set::OpenAngle(deg).of(row, scenario)).into_iter().collect()
}

/// Shortest length less stroke, and least lever, m.
struct Built {
    spare_m: f64,
    lever_m: f64,
}

fn built(link: &Linkage, open: f64) -> Built {
    let reach = link.toggle(open).unwrap_or(open).min(open);
    let shortest = link.length_m(0.0).min(link.length_m(reach));
    let steps = 60;
    let levers = (0..=steps).map(|step| link.lever_m(reach * f64::from(step) / f64::from(steps)).abs());
    Built { spare_m: shortest - link.stroke_m(open), lever_m: levers.fold(f64::INFINITY, f64::min) }
}

/// Pivots with which the rod can be built, has its lever all the way and moves the panel under these loads: of those that leave the drive
/// comfortable force the nearest to the present ones, else those that ask the least of it. Empty where none do.
pub(super) fn place(scenario: &Scenario, row: &'static str, loads: &[Loads]) -> Vec<Change> {
    let (rod, open_deg, panel_m) = match &scenario.door.mechanism {
        Mechanism::TopFlap(flap) => (flap.rod, flap.open_angle_deg, flap.length_m),
        Mechanism::SideLeaf(leaf) => (leaf.rod, leaf.open_angle_deg, scenario.door.width_m),
        _ => return Vec::new(),
    };
    let open = open_deg.to_radians();
    let tenth = |count: i32| ceil_to(0.1 * f64::from(count) * panel_m, 0.005);
    let side = if rod.frame_out_m < 0.0 { -1.0 } else { 1.0 };
    let mut best: Option<(f64, [Set; 3])> = None;
    for (out, along, panel) in
        (1..=8).flat_map(|out| (-6..=10).flat_map(move |along| (2..=9).map(move |panel| (out, along, panel))))
    {
        let (out_m, along_m, panel_along_m) = (side * tenth(out), tenth(along), tenth(panel));
        let other = Rod { frame_out_m: out_m, frame_along_m: along_m, panel_along_m, ..rod };
        let link = Linkage::new(&other);
        let Built { spare_m, lever_m } = built(&link, open);
        if link.toggle(open).is_some() || spare_m < ENDS_M.1 || lever_m < LEVER.1 * panel_m {
            continue;
        }
        let sets = [Set::RodFrameOut(out_m), Set::RodFrameAlong(along_m), Set::RodPanelAlong(panel_along_m)];
        let Some(share) = asked(&set_in(scenario, &sets), loads) else { continue };
        let far_m = (out_m - rod.frame_out_m).abs()
            + (along_m - rod.frame_along_m).abs()
            + (panel_along_m - rod.panel_along_m).abs();
        // Comfortable ones come first, by their distance; the others by what they ask.
        let rank = if share * SAFETY <= 1.0 { far_m } else { 1_000.0 * share };
        if best.is_none_or(|(known, _)| rank < known) {
            best = Some((rank, sets));
        }
    }
    best.map(|(_, sets)| whole(&sets, row, scenario, "the rod's pivots")).unwrap_or_default()
}

/// Largest force asked of the drive as a share of what a hot motor gives; none where it jams.
fn asked(scenario: &Scenario, loads: &[Loads]) -> Option<f64> {
    let (door, drive) = (&scenario.door, &scenario.drive);
    let gives_n = Actuator::at(drive, &scenario.supply, drive.heat.trips_at_c).available_n();
    let mut most: f64 = 0.0;
    for direction in [Direction::Opening, Direction::Closing] {
        for loads in loads {
            most = most.max(survey::hardest(door, drive, direction, loads)?.0 / gives_n);
        }
    }
    Some(most)
}
