//! Does the mower fit through, under, and beside the moving panel?

use super::change::{ceil_to, first, floor_to, tidy, whole};
use super::set::{Set, set_in};
use super::{Change, Row, Side, Verdict};
use crate::math::normal;
use crate::scenario::Scenario;
use crate::scenario::door::Mechanism;
use crate::shelter::mechanism::{self, survey};

/// Standard deviations of sideways scatter that must pass on either side: 3 leaves one arrival in 370 to scrape (normal law).
const SCATTER: f64 = 3.0;
/// Share of arrivals from which on their touching a side is told.
const LEAST_SHARE: f64 = 0.000_5;
/// Standard deviations below which it fails outright: one in 22.
const LEAST_SCATTER: f64 = 2.0;
/// Height to spare over the mower for uneven ground, m (common practice).
const BUMP_M: f64 = 0.02;
/// Room to spare beside a sweeping panel, m (common practice).
const BESIDE_M: f64 = 0.05;
/// Step of a proposed length, m, and of a proposed angle, degrees.
const STEPS: (f64, f64) = (0.01, 1.0);
/// Step of an angle that only just does, degrees: as one would say it.
const FULL_STEP_DEG: f64 = 5.0;
/// How much farther a leaf is opened at most, and the widest swing of a double slider and of a flap, degrees.
const MOST_OPEN_DEG: (f64, f64, f64) = (110.0, 90.0, 120.0);
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
        "mower {:.3} m, scatter {:.3} m: 2 standard deviations on either side are needed, 3 are comfortable{}",
        mower.width_m,
        sideways,
        scrapes(0.5 * (width - mower.width_m), sideways)
    ));
    if row.verdict == Verdict::Fails {
        row = row.cures(wider(scenario, wanted, least));
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

/// How many arrivals come farther beside the middle than half the play is wide: by the normal law of the scatter.
fn scrapes(half_m: f64, sideways_m: f64) -> String {
    if half_m <= 0.0 || sideways_m <= 0.0 {
        return String::new();
    }
    let share = 2.0 * normal::tail(half_m / sideways_m);
    if share < LEAST_SHARE {
        return String::new();
    }
    format!(
        "; {:.1} % of arrivals come farther beside the middle than half the play and touch a side: they back off and come again",
        100.0 * share
    )
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

/// A leaf that opens further, a longer stroke, a wider opening with its larger panel: as wide as is comfortable, or where a leaf does not
/// come to that, as wide as passes.
fn wider(scenario: &Scenario, wanted_m: f64, least_m: f64) -> Vec<Vec<Change>> {
    const ID: &str = "clear_width";
    let door = &scenario.door;
    let width = |sets: &[Set]| clear(&set_in(scenario, sets)).0;
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
            let angle = |goal_m: f64, step: f64| {
                let steps = (MOST_OPEN_DEG.0 / step) as u32;
                first(ceil_to(leaf.open_angle_deg, step), step, steps, |deg| width(&[Set::OpenAngle(deg)]) >= goal_m)
            };
            let deg = angle(wanted_m, STEPS.1).or_else(|| angle(least_m, FULL_STEP_DEG));
            cures.extend(deg.map(|deg| vec![Set::OpenAngle(deg).of(ID, scenario)]));
        }
        _ => {}
    }
    let wide = |goal_m: f64| {
        first(ceil_to(door.width_m, STEPS.0), STEPS.0, FAR, |width_m| width(&wider_opening(width_m)) >= goal_m)
    };
    cures.extend(
        wide(wanted_m)
            .map(|width_m| whole(&wider_opening(width_m), ID, scenario, "a wider opening, its panel as much heavier")),
    );
    cures
}

/// A longer stroke, a wider swing, a longer panel or a higher hinge, with a higher opening and its larger panel where the opening is too
/// low, too: as high as is comfortable, or where that cannot be had, as high as passes.
fn higher(scenario: &Scenario, wanted_m: f64) -> Vec<Vec<Change>> {
    let comfortable = raised(scenario, wanted_m);
    if comfortable.is_empty() { raised(scenario, scenario.mower.height_m) } else { comfortable }
}

fn raised(scenario: &Scenario, goal_m: f64) -> Vec<Vec<Change>> {
    const ID: &str = "headroom";
    let door = &scenario.door;
    let mut opening = Vec::new();
    if door.height_m < goal_m {
        let height_m = ceil_to(goal_m, STEPS.0);
        opening.push(Set::Height(height_m));
        opening.extend(grown(scenario, height_m / door.height_m));
    }
    let with = |sets: &[Set]| opening.iter().chain(sets).copied().collect::<Vec<_>>();
    let high = |sets: &[Set]| clear(&set_in(scenario, sets)).1 >= goal_m;
    // A panel that is longer than the opening is high has grown.
    let longer = |now_m: f64, length_m: f64| {
        let mut sets = vec![Set::Length(length_m)];
        let factor = length_m / now_m.max(door.height_m);
        if opening.is_empty() && factor > 1.0 {
            sets.extend(grown(scenario, factor));
        }
        sets
    };
    let swing = |now_deg: f64, most_deg: f64| {
        let low = ceil_to(now_deg, STEPS.1);
        let steps = (most_deg - low).max(0.0) as u32;
        first(low, STEPS.1, steps, |deg| high(&with(&[Set::OpenAngle(deg)]))).map(|deg| with(&[Set::OpenAngle(deg)]))
    };
    let mut ways: Vec<Option<Vec<Set>>> = Vec::new();
    match &door.mechanism {
        _ if high(&opening) => ways.push(Some(opening.clone())),
        Mechanism::VerticalLift(_) | Mechanism::RollerCurtain(_) => {
            ways.push(Some(with(&[Set::Stroke(ceil_to(goal_m, STEPS.0))])));
        }
        Mechanism::DoubleSlider(slider) => {
            ways.push(swing(slider.open_angle_deg, MOST_OPEN_DEG.1));
            // From upright on in whole steps.
            let shut = (0..)
                .map(|step| floor_to(slider.shut_angle_deg, FULL_STEP_DEG) - f64::from(step) * FULL_STEP_DEG)
                .take_while(|deg| *deg >= 0.0)
                .find(|deg| *deg < slider.shut_angle_deg && high(&with(&[Set::ShutAngle(*deg)])));
            ways.push(shut.map(|deg| with(&[Set::ShutAngle(deg)])));
            let low = ceil_to(slider.length_m, STEPS.0);
            let length = first(low, STEPS.0, FAR, |m| high(&with(&longer(slider.length_m, m))));
            ways.push(length.map(|m| with(&longer(slider.length_m, m))));
        }
        Mechanism::TopFlap(flap) => {
            ways.push(swing(flap.open_angle_deg, MOST_OPEN_DEG.2));
            // The panel reaches as far down as before.
            let lifted = |m: f64| {
                let mut sets = vec![Set::HingeHeight(m)];
                sets.extend(longer(flap.length_m, tidy(flap.length_m + (m - flap.hinge_height_m))));
                with(&sets)
            };
            let hinge = first(ceil_to(flap.hinge_height_m, STEPS.0), STEPS.0, FAR, |m| high(&lifted(m)));
            ways.push(hinge.map(lifted));
        }
        Mechanism::SideLeaf(_) | Mechanism::HorizontalSlide(_) => {}
    }
    let changes = |sets: Vec<Set>| match sets.as_slice() {
        [one] => vec![one.of(ID, scenario)],
        _ => whole(&sets, ID, scenario, "a higher opening or a longer panel, as much heavier as it is larger"),
    };
    ways.into_iter().flatten().filter(|sets| high(sets)).map(changes).collect()
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
        // An angle that cannot help at any value is not the key.
        Mechanism::DoubleSlider(_) if swung(scenario, MOST_OPEN_DEG.1) => "door.mechanism.open_angle",
        Mechanism::TopFlap(_) if swung(scenario, MOST_OPEN_DEG.2) => "door.mechanism.open_angle",
        Mechanism::DoubleSlider(_) => "door.mechanism.length",
        Mechanism::TopFlap(_) => "door.mechanism.hinge_height",
        Mechanism::SideLeaf(_) | Mechanism::HorizontalSlide(_) => "door.height",
    }
}

/// Whether the mower fits under a panel that opens as far as it may.
fn swung(scenario: &Scenario, deg: f64) -> bool {
    clear(&set_in(scenario, &[Set::OpenAngle(deg)])).1 >= scenario.mower.height_m
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
