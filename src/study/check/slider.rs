//! Where to push a double slider: the dead zone of each choice, and what would change it.

use super::Choice;
use super::causes::ROLLING;
use super::climate::Climate;
use crate::scenario::Scenario;
use crate::scenario::door::{Door, DoubleSlider, Mechanism, PanelDrive};
use crate::shelter::mechanism::survey::{self, DeadZone};
use crate::shelter::mechanism::{self, Direction, trammel};

/// The choices for a double slider, first the one that is planned; none for other mechanisms.
pub(super) fn choices(scenario: &Scenario, climate: &Climate) -> Vec<Choice> {
    let Mechanism::DoubleSlider(slider) = &scenario.door.mechanism else { return Vec::new() };
    let slider = *slider;
    let driven = |drive| DoubleSlider { drive, ..slider };
    let spring_n = 2.0 * scenario.door.seal_n.max(5.0);
    let others = [
        ("planned", "as planned", slider),
        ("vertical", "pull the vertical slider up", driven(PanelDrive::VerticalSlider)),
        ("horizontal", "pull the horizontal slider in", driven(PanelDrive::HorizontalSlider)),
        ("point", "pull the panel's middle at 45 deg", driven(PanelDrive::Point { at: 0.5, slope_deg: 45.0 })),
        ("chain", "pull both sliders with one chain", driven(PanelDrive::BothSliders)),
        (
            "wheels",
            "as planned, on wheels instead of sliders",
            DoubleSlider {
                friction_vertical: ROLLING.0.min(slider.friction_vertical),
                friction_horizontal: ROLLING.0.min(slider.friction_horizontal),
                ..slider
            },
        ),
        (
            "spring",
            "as planned, a spring of twice the seal pushing the upper slider in",
            DoubleSlider { spring_n, spring_travel_m: 0.3 * slider.length_m, ..slider },
        ),
    ];
    others.into_iter().map(|(id, what, other)| choice(scenario, climate, id, what, &other)).collect()
}

fn choice(
    scenario: &Scenario,
    climate: &Climate,
    id: &'static str,
    what: &'static str,
    slider: &DoubleSlider,
) -> Choice {
    let door = Door { mechanism: Mechanism::DoubleSlider(*slider), ..scenario.door.clone() };
    let stroke = mechanism::stroke_m(&door);
    let mut notes = Vec::new();
    let mut dead_deg = 0.0;
    for (direction, word) in [(Direction::Opening, "opening"), (Direction::Closing, "closing")] {
        for zone in survey::dead_zones(&door, &scenario.drive, direction, &climate.calm()) {
            dead_deg += angle_deg(slider, zone.to_m) - angle_deg(slider, zone.from_m);
            notes.push(format!("{word}: {}", degrees(slider, &zone)));
        }
    }
    let hardest = survey::hardest(&door, &scenario.drive, Direction::Opening, &climate.calm());
    if let Some((force, at)) = hardest {
        notes.push(format!("opening takes at most {force:.0} N, at {:.0} deg", angle_deg(slider, at)));
    }
    // A centimetre of gap, or the widest there is: how much the edge presses for each newton of the drive.
    let gap = survey::clears_at_m(&door, 0.0, 0.01);
    let ratio = 1.0 / mechanism::edge_gain(&door, gap);
    notes.push(format!("a newton of pull presses with {ratio:.1} N at a gap of 10 mm"));
    Choice { id, what, dead_deg, stroke_m: stroke, note: notes.join("; ") }
}

fn angle_deg(slider: &DoubleSlider, position_m: f64) -> f64 {
    trammel::angle(slider, position_m).to_degrees()
}

fn degrees(slider: &DoubleSlider, zone: &DeadZone) -> String {
    format!("from {:.1} to {:.1} deg it {}", angle_deg(slider, zone.from_m), angle_deg(slider, zone.to_m), zone.jam)
}
