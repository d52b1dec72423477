//! Does the mower fit through, under, and beside the moving panel?

use super::change::{ceil_to, first, floor_to, whole};
use super::set::{Set, set_in};
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::door::{DoubleSlider, Mechanism, TopFlap};
use crate::shelter::mechanism::{self, survey};

/// Standard deviations of sideways scatter that must pass on either side: 3 leaves one arrival in 370 to scrape (normal law).
const SCATTER: f64 = 3.0;
/// Standard deviations below which it fails outright: one in 22.
const LEAST_SCATTER: f64 = 2.0;
/// Height to spare over the mower for uneven ground, m (common practice).
const BUMP_M: f64 = 0.02;
/// Room to spare beside a sweeping panel, m (common practice).
const BESIDE_M: f64 = 0.05;
/// Step of a proposed length, m, and of a proposed angle, degrees.
const STEPS: (f64, f64) = (0.01, 1.0);
/// Farthest that a proposed place lies from the present one, in steps of a length.
const FAR: u32 = 200;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let (door, mower) = (&scenario.door, &scenario.mower);
    let stroke = mechanism::stroke_m(door);
    let sideways = mower.approach.sideways_m;
    let width = mechanism::clear_width_m(door, stroke);
    let least = mower.width_m + 2.0 * LEAST_SCATTER * sideways;
    let wanted = mower.width_m + 2.0 * SCATTER * sideways;
    let mut row = Row::judged(
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
    ));
    if row.verdict == Verdict::Fails {
        row = row.cures(wider(scenario, wanted));
    }
    rows.push(row);
    let height = mechanism::clear_height_m(door, stroke).min(door.height_m);
    let mut row = Row::judged(
        "headroom",
        "clear height for the mower with the door open",
        height,
        Side::AtLeast,
        mower.height_m,
        BUMP_M,
        "m",
    )
    .key(height_key(scenario))
    .note("20 mm to spare allow for uneven ground (common practice)");
    if row.verdict == Verdict::Fails {
        row = row.cures(higher(scenario, mower.height_m + BUMP_M));
    }
    rows.push(row);
    sweeps(scenario, rows);
}

/// Clear width and height with the door open, m.
fn clear(scenario: &Scenario) -> (f64, f64) {
    let (door, stroke) = (&scenario.door, mechanism::stroke_m(&scenario.door));
    (mechanism::clear_width_m(door, stroke), mechanism::clear_height_m(door, stroke).min(door.height_m))
}

/// The panel of a wider or higher opening, and its counterweight: as much heavier as it is larger.
fn grown(scenario: &Scenario, factor: f64) -> Vec<Set> {
    let door = &scenario.door;
    let mut sets = vec![Set::Mass(ceil_to(door.mass_kg * factor, 0.1))];
    match &door.mechanism {
        Mechanism::VerticalLift(lift) if lift.counterweight_kg > 0.0 => {
            sets.push(Set::Counterweight(floor_to(lift.counterweight_kg * factor, 0.1)));
        }
        Mechanism::DoubleSlider(slider) if slider.counterweight_kg > 0.0 => {
            sets.push(Set::Counterweight(floor_to(slider.counterweight_kg * factor, 0.1)));
        }
        _ => {}
    }
    sets
}

/// A leaf that opens further, a longer stroke, a wider opening with its larger panel.
fn wider(scenario: &Scenario, wanted_m: f64) -> Vec<Vec<Change>> {
    const ID: &str = "clear_width";
    let door = &scenario.door;
    let wide = |sets: &[Set]| clear(&set_in(scenario, sets)).0 >= wanted_m;
    let wider_opening = |width_m: f64| {
        let mut sets = vec![Set::Width(width_m)];
        if let Mechanism::HorizontalSlide(slide) = &door.mechanism {
            sets.push(Set::Stroke(slide.stroke_m.max(ceil_to(wanted_m, STEPS.0))));
        }
        sets.extend(grown(scenario, width_m / door.width_m));
        sets
    };
    let mut cures = Vec::new();
    match &door.mechanism {
        Mechanism::HorizontalSlide(_) if wanted_m <= door.width_m => {
            cures.push(vec![Set::Stroke(ceil_to(wanted_m, STEPS.0)).of(ID, scenario)]);
        }
        Mechanism::SideLeaf(leaf) => {
            let angle = first(ceil_to(leaf.open_angle_deg, STEPS.1), STEPS.1, 110, |deg| wide(&[Set::OpenAngle(deg)]));
            cures.extend(angle.map(|deg| vec![Set::OpenAngle(deg).of(ID, scenario)]));
        }
        _ => {}
    }
    let width = first(ceil_to(door.width_m, STEPS.0), STEPS.0, FAR, |width| wide(&wider_opening(width)));
    cures.extend(
        width.map(|width| whole(&wider_opening(width), ID, scenario, "a wider opening, its panel as much heavier")),
    );
    cures
}

/// A longer stroke or a wider swing, with a higher opening and its larger panel where the opening is too low, too.
fn higher(scenario: &Scenario, wanted_m: f64) -> Vec<Vec<Change>> {
    const ID: &str = "headroom";
    let door = &scenario.door;
    let mut opening = Vec::new();
    if door.height_m < wanted_m {
        let height_m = ceil_to(wanted_m, STEPS.0);
        opening.push(Set::Height(height_m));
        opening.extend(grown(scenario, height_m / door.height_m));
    }
    let with = |set: Set| opening.iter().copied().chain([set]).collect::<Vec<_>>();
    let high = |sets: &[Set]| clear(&set_in(scenario, sets)).1 >= wanted_m;
    let sets = match &door.mechanism {
        _ if high(&opening) => Some(opening.clone()),
        Mechanism::VerticalLift(_) | Mechanism::RollerCurtain(_) => Some(with(Set::Stroke(ceil_to(wanted_m, STEPS.0)))),
        Mechanism::DoubleSlider(DoubleSlider { open_angle_deg, .. })
        | Mechanism::TopFlap(TopFlap { open_angle_deg, .. }) => {
            let most = if matches!(door.mechanism, Mechanism::DoubleSlider(_)) { 90.0 } else { 120.0 };
            let low = ceil_to(*open_angle_deg, STEPS.1);
            first(low, STEPS.1, (most - low).max(0.0) as u32, |deg| high(&with(Set::OpenAngle(deg))))
                .map(|deg| with(Set::OpenAngle(deg)))
        }
        Mechanism::SideLeaf(_) | Mechanism::HorizontalSlide(_) => Some(opening.clone()),
    };
    let Some(sets) = sets.filter(|sets| high(sets)) else { return Vec::new() };
    match sets.as_slice() {
        [one] => vec![vec![one.of(ID, scenario)]],
        _ => vec![whole(&sets, ID, scenario, "a higher opening, its panel as much heavier")],
    }
}

/// The nearest place at which the waiting, or the docked, mower stands clear of the panel.
fn out_of_the_way(scenario: &Scenario, id: &'static str) -> Vec<Vec<Change>> {
    let (low, set): (f64, fn(f64) -> Set) = match id {
        "sweep_outside" => (scenario.mower.shut_door.waits_at_m, Set::WaitsAt),
        _ => (scenario.mower.dock.depth_m, Set::DockDepth),
    };
    let clears = |m: f64| {
        let mut rows = Vec::new();
        sweeps_as_they_are(&set_in(scenario, &[set(m)]), &mut rows);
        rows.iter().any(|row: &Row| row.id == id && row.verdict == Verdict::Fits)
    };
    let place = first(ceil_to(low, STEPS.0), STEPS.0, FAR, clears);
    place.map(|m| vec![set(m).of(id, scenario)]).into_iter().collect()
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

/// The panel against the mower that waits outside and the one in the dock, with places at which it would stand clear.
fn sweeps(scenario: &Scenario, rows: &mut Vec<Row>) {
    let before = rows.len();
    sweeps_as_they_are(scenario, rows);
    for row in &mut rows[before..] {
        if row.verdict == Verdict::Fails {
            *row = row.clone().cures(out_of_the_way(scenario, row.id));
        }
    }
}

fn sweeps_as_they_are(scenario: &Scenario, rows: &mut Vec<Row>) {
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
