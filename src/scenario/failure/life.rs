//! Modes of living things and of objects.

use super::act::{Act, Change, Hits, Hours, Often};
use super::{Figure, Mode};

const HOUR: f64 = 3_600.0;

pub(super) const MODES: &[Mode] = &[
    Mode {
        number: 41,
        name: "pet-inside",
        act: Act::Change(Change::Pet),
        hits: Hits::Nothing,
        often: Often::Constant,
        lasts: Some((2.0 * HOUR, HOUR)),
        figures: &[(Figure::PerDay, 0.5)],
        about: "A pet looks for a warm dry place, goes in while the door is open and stays for `lasts`.",
        protects: "A sensor that tells a body inside from the mower, opening again on motion.",
    },
    Mode {
        number: 42,
        name: "wild-animals",
        act: Act::Change(Change::WildAnimals),
        hits: Hits::Nothing,
        often: Often::Constant,
        lasts: None,
        figures: &[(Figure::PerDay, 3.0)],
        about: "Hedgehogs, birds and cats pass before the door, mostly at night.",
        protects: "A height or a speed that only the mower has, the mower's messages as a second condition.",
    },
    Mode {
        number: 43,
        name: "people-and-children",
        act: Act::Change(Change::People),
        hits: Hits::Nothing,
        often: Often::Constant,
        lasts: None,
        figures: &[(Figure::PerDay, 0.7)],
        about: "People mow the edges, children try what makes the door move.",
        protects: "A condition that people don't meet, little speed and force, a pause after several cycles.",
    },
    Mode {
        number: 44,
        name: "object-in-doorway",
        act: Act::Object,
        hits: Hits::Nothing,
        often: Often::Episodes { per_year: 18.0, hours: Hours::Between(8, 21) },
        lasts: Some((6.0 * HOUR, 3.0 * HOUR)),
        figures: &[(Figure::Distance, 0.2)],
        about: "A hose, a toy or a heap of leaves of height `distance` lies in the doorway, more often in autumn: the door stays open or \
                turns back at the same place, and the mower is stopped by what is above 60 mm.",
        protects: "A doorway sensor low enough to see it, a message to the owner.",
    },
];
