//! Modes of weighing platforms.

use super::act::{Act, Change, Hits, Hours, Often, When};
use super::{Figure, Mode};

const HOUR: f64 = 3_600.0;
const DAY: f64 = 86_400.0;

pub(super) const MODES: &[Mode] = &[
    Mode {
        number: 13,
        name: "load-zero-drift",
        act: Act::Change(Change::LoadDrift),
        hits: Hits::LoadCell,
        often: Often::Constant,
        lasts: None,
        figures: &[(Figure::LoadDrift, 0.1)],
        about: "Frame stress and wiring move the zero with temperature: phantom weight or phantom absence.",
        protects: "Levels at half of the mower's weight, gated zero tracking.",
    },
    Mode {
        number: 14,
        name: "auto-zero-swallows-mower",
        act: Act::AutoZero,
        hits: Hits::LoadCell,
        often: Often::Constant,
        lasts: None,
        figures: &[(Figure::Tare, 24.0)],
        about: "Slow zero tracking in the amplifier takes a parked mower for drift: after hours the platform reads empty, and the zero \
                takes as long to come back once it has left. Rules that ask the platform who is in take the shelter for empty: they open for \
                visitors while the mower is parked, and some are shut in. A controller with `zero_tracking = \"gated\"` has taken it over.",
        protects: "Zero tracking only while every other sensor says empty, with a limited rate and range.",
    },
    Mode {
        number: 15,
        name: "water-snow-leaves-on-platform",
        act: Act::Reading(When::Always),
        hits: Hits::LoadCell,
        often: Often::Episodes { per_year: 20.0, hours: Hours::Any },
        lasts: Some((12.0 * HOUR, 6.0 * HOUR)),
        figures: &[(Figure::Load, 8.0)],
        about: "Water, snow or leaves weigh as much as a mower: 1 mm of water on 1 m2 is 1 kg.",
        protects: "A grating instead of a tray, a level at half of the mower's weight, a second sign of the mower.",
    },
    Mode {
        number: 16,
        name: "jammed-platform",
        act: Act::Reading(When::Always),
        hits: Hits::Platform,
        often: Often::Episodes { per_year: 12.0, hours: Hours::Any },
        lasts: Some((DAY, 0.5 * DAY)),
        figures: &[(Figure::WeightSeen, 0.4)],
        about: "A stone, ice or grit under the edge carries part of the weight.",
        protects: "A gap wider than gravel, corner loads compared with each other, a second sign of the mower.",
    },
    Mode {
        number: 17,
        name: "docking-chatter",
        act: Act::Chatter,
        hits: Hits::Platform,
        often: Often::Constant,
        lasts: Some((1.0, 0.5)),
        figures: &[(Figure::NoiseFactor, 20.0)],
        about: "Bumps and the blades' spin-down shake the platform at each docking: the level is crossed many times.",
        protects: "A run rule or a mean over seconds, levels apart.",
    },
    Mode {
        number: 18,
        name: "half-on-platform",
        act: Act::HalfOn,
        hits: Hits::Nothing,
        often: Often::Occasions,
        lasts: Some((10.0 * 60.0, 5.0 * 60.0)),
        figures: &[(Figure::Share, 0.03), (Figure::Distance, 0.3)],
        about: "The mower stops short of its dock by `distance`, half on the platform, for a while.",
        protects: "The doorway sensor above all; levels that a front axle alone does not reach.",
    },
    Mode {
        number: 47,
        name: "phantom-occupancy",
        act: Act::PhantomIn,
        hits: Hits::Occupancy,
        often: Often::Episodes { per_year: 12.0, hours: Hours::Any },
        lasts: Some((6.0 * HOUR, 3.0 * HOUR)),
        figures: &[(Figure::Load, 12.0)],
        about: "The controller believes that the mower is in although it is out.",
        protects: "Log-odds of several signs; a sign that contradicts the others for long loses its vote.",
    },
    Mode {
        number: 48,
        name: "phantom-absence",
        act: Act::PhantomOut,
        hits: Hits::Occupancy,
        often: Often::Episodes { per_year: 12.0, hours: Hours::Any },
        lasts: Some((6.0 * HOUR, 3.0 * HOUR)),
        figures: &[],
        about: "The controller believes that the mower is out although it is parked.",
        protects: "Log-odds of several signs; a sign that contradicts the others for long loses its vote.",
    },
];
