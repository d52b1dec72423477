//! Figures far from what is usual, as the one cause behind many rows.
//!
//! A motor on a quarter of its voltage is too weak, too slow and too long under current, and each row would name its own remedy: more
//! force, another gear, a longer duty. What mends all of it is the one figure. So where something fails, each figure that is far from
//! what is usual is set to what is, on a copy, and all questions are asked again: rows that then fail no more take that as their first
//! cure.

use super::change::whole;
use super::climate::Climate;
use super::set::{Set, set_in};
use super::supply::{better_cable, own_voltage};
use super::{Change, Row, Verdict, rows_of};
use crate::scenario::Scenario;
use crate::scenario::door::Mechanism;

/// Friction coefficient of a slider or a plain bearing: what is usual, dry plastic, and the worst, dirty (common practice: 0.10 to 0.25,
/// 0.25 to 0.40).
const SLIDING: (f64, f64) = (0.2, 0.4);
/// Friction coefficient of a wheel on a ball bearing, and of the worst plain wheel (common practice: 0.005 to 0.02, 0.02 to 0.08).
pub(super) const ROLLING: (f64, f64) = (0.02, 0.1);
/// Radius of a hinge pin: what is usual, and the thickest of so small a door, m (common practice).
const PIN_M: (f64, f64) = (0.004, 0.015);

/// Share of samples without a reading: what is usual, and the worst that is no defect of the sensor or of its place (common practice).
const DROPPED: (f64, f64) = (0.01, 0.2);

/// Share of samples that are spurious in dry weather: what is usual of a ranger, and the worst that is no defect (common practice).
const SPURIOUS: (f64, f64) = (0.000_01, 0.01);

/// A figure, or several, that may be the cause.
struct Suspect {
    /// The row that asks for it by itself, if there is one.
    row: &'static str,
    changes: Vec<Change>,
}

fn suspects(scenario: &Scenario) -> Vec<Suspect> {
    let one = |row: &'static str, set: Set| Suspect { row, changes: vec![set.of(row, scenario)] };
    let mut all: Vec<Suspect> = Vec::new();
    all.extend(own_voltage(scenario).map(|set| one("supply_voltage", set)));
    all.extend(better_cable(scenario).map(|set| one("supply_cable", set)));
    for (index, sensor) in scenario.sensors.iter().enumerate().filter(|(_, sensor)| sensor.errors.dropout > DROPPED.1) {
        let what = format!("a sensor {}, or a place for it, that loses fewer readings", sensor.name);
        all.push(Suspect { row: "", changes: whole(&[Set::Dropout(index, DROPPED.0)], "", scenario, &what) });
    }
    for (index, sensor) in scenario.sensors.iter().enumerate().filter(|(_, sensor)| sensor.errors.spurious > SPURIOUS.1)
    {
        let what = format!("a sensor {}, or a place for it, that sees no ghosts", sensor.name);
        all.push(Suspect { row: "", changes: whole(&[Set::Spurious(index, SPURIOUS.0)], "", scenario, &what) });
    }
    for (sets, what) in smoother(scenario) {
        // They have no row of their own.
        all.push(Suspect { row: "", changes: whole(&sets, "", scenario, what) });
    }
    all
}

/// Guides and bearings that rub more than is usual, each as it usually is; several at once last.
fn smoother(scenario: &Scenario) -> Vec<(Vec<Set>, &'static str)> {
    let rubs = |friction: f64| friction > SLIDING.1;
    let mut ways: Vec<(Vec<Set>, &'static str)> = Vec::new();
    match &scenario.door.mechanism {
        Mechanism::DoubleSlider(slider) => {
            let (vertical, horizontal) = (slider.friction_vertical, slider.friction_horizontal);
            for (usual, what) in [(SLIDING.0, "sliders of dry plastic"), (ROLLING.0, WHEELS)] {
                let mut sets = Vec::new();
                sets.extend(rubs(vertical).then_some(Set::FrictionVertical(usual)));
                sets.extend(rubs(horizontal).then_some(Set::FrictionHorizontal(usual)));
                ways.push((sets, what));
            }
        }
        Mechanism::VerticalLift(lift) if rubs(lift.guide_friction) => {
            ways.push((vec![Set::GuideFriction(SLIDING.0)], "guides of dry plastic"));
        }
        Mechanism::RollerCurtain(curtain) if rubs(curtain.guide_friction) => {
            ways.push((vec![Set::GuideFriction(SLIDING.0)], "guides of dry plastic"));
        }
        Mechanism::HorizontalSlide(slide) => {
            let mut sets = Vec::new();
            sets.extend(rubs(slide.side_friction).then_some(Set::GuideFriction(SLIDING.0)));
            sets.extend((slide.roller_friction > ROLLING.1).then_some(Set::RollerFriction(ROLLING.0)));
            ways.push((sets, "guides of dry plastic and wheels on ball bearings"));
        }
        Mechanism::TopFlap(flap) => ways.extend(hinges(flap.hinge_friction, flap.pin_radius_m)),
        Mechanism::SideLeaf(leaf) => ways.extend(hinges(leaf.hinge_friction, leaf.pin_radius_m)),
        _ => {}
    }
    ways.retain(|(sets, _)| !sets.is_empty());
    ways
}

/// What wheels are called.
pub(super) const WHEELS: &str = "wheels on ball bearings instead of sliders";

fn hinges(friction: f64, pin_m: f64) -> Vec<(Vec<Set>, &'static str)> {
    let what = "hinges on slim pins, greased or of plastic";
    let mut each: Vec<Set> = Vec::new();
    each.extend((friction > SLIDING.1).then_some(Set::HingeFriction(SLIDING.0)));
    each.extend((pin_m > PIN_M.1).then_some(Set::PinRadius(PIN_M.0)));
    let mut ways: Vec<(Vec<Set>, &'static str)> = each.iter().map(|set| (vec![*set], what)).collect();
    if each.len() > 1 {
        ways.push((each, what));
    }
    ways
}

/// Puts the figures that are the cause first among the cures of the rows that fail by them.
pub(super) fn name(scenario: &Scenario, climate: &Climate, rows: &mut [Row]) {
    if rows.iter().all(|row| row.verdict != Verdict::Fails) {
        return;
    }
    // From the last, so that what comes first here comes first there.
    for Suspect { row: own, changes } in suspects(scenario).into_iter().rev() {
        let sets: Vec<Set> = changes.iter().map(|change| change.set).collect();
        let after = rows_of(&set_in(scenario, &sets), climate);
        let fails_after = |row: &Row| {
            let same = |other: &&Row| other.id == row.id && other.question == row.question;
            after.iter().find(same).is_some_and(|other| other.verdict == Verdict::Fails)
        };
        let mut helps = false;
        for row in rows.iter_mut().filter(|row| row.verdict == Verdict::Fails) {
            if fails_after(row) {
                continue;
            }
            helps = true;
            let changes = changes.iter().map(|change| Change { row: row.id, ..change.clone() }).collect();
            let cures = std::iter::once(changes).chain(std::mem::take(&mut row.cures)).collect();
            *row = row.clone().cures(cures);
        }
        if let Some(row) = rows.iter_mut().find(|row| helps && row.id == own) {
            (row.verdict, row.advice) = (Verdict::Fails, String::new());
            *row = row.clone().changes(changes);
        }
    }
}
