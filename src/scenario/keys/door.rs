//! `[door]`, `[drive]`, `[supply]`.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{
    CURRENT, DURATION, ENERGY, FORCE, HEAT_CAPACITY, HEAT_RESISTANCE, LENGTH, MASS, POWER, RESISTANCE, SPEED,
    STIFFNESS, TEMPERATURE, VOLTAGE,
};

const OPENING: Range = Range::above(0.0, 10.0);
const FORCES: Range = Range::within(0.0, 100_000.0);
const SOME_FORCE: Range = Range::above(0.0, 100_000.0);
const VOLTS: Range = Range::above(0.0, 1000.0);
const HOT: Range = Range::within(0.0, 300.0);

const fn table(path: &'static str, about: &'static str, keys: &'static [Key]) -> Section {
    Section { path, form: Form::Table, need: Need::Required, switch: "", about, keys }
}

/// `[door]`.
pub(super) const DOOR: Section = table(
    "door",
    "The opening, the panel, and what loads it.",
    &[
        Key::new("width", Kind::Quantity(&LENGTH, OPENING), "Clear width of the opening."),
        Key::new("height", Kind::Quantity(&LENGTH, OPENING), "Clear height of the opening."),
        Key::new("mass", Kind::Quantity(&MASS, Range::above(0.0, 1000.0)), "Moving mass of the panel."),
        Key::new("seal", Kind::Quantity(&FORCE, FORCES), "Drag of the seal.").default("\"0 N\""),
        Key::new(
            "seal_zone",
            Kind::Quantity(&LENGTH, Range::within(0.0, 10.0)),
            "Length over which the seal is squeezed at the shut end.",
        )
        .default("\"20 mm\""),
        Key::new("breakaway", Kind::Number(Range::within(1.0, 3.0)), "Break-away friction over sliding friction.")
            .default("1.3"),
        Key::new(
            "wind_coefficient",
            Kind::Number(Range::within(0.0, 5.0)),
            "Net pressure coefficient of the wind on the shut panel.",
        )
        .default("1.3"),
        Key::new("ice", Kind::Quantity(&FORCE, FORCES), "Extra force to break the ice at the seal after frost.")
            .default("\"0 N\""),
        Key::new(
            "ice_below",
            Kind::Quantity(&TEMPERATURE, Range::within(-40.0, 5.0)),
            "Air temperature below which a wet seal freezes.",
        )
        .default("\"-1 °C\""),
        Key::new(
            "edge_stiffness",
            Kind::Quantity(&STIFFNESS, Range::above(0.0, 1e9)),
            "Stiffness of the closing edge.",
        )
        .default("\"20 N/mm\""),
        Key::new("contact_force_limit", Kind::Quantity(&FORCE, SOME_FORCE), "Peak contact force to be kept.")
            .default("\"150 N\""),
        Key::new(
            "contact_energy_limit",
            Kind::Quantity(&ENERGY, Range::above(0.0, 10_000.0)),
            "Peak kinetic energy to be kept.",
        )
        .default("\"1.7 J\""),
    ],
);

/// `[door.mechanism]`.
pub(super) const MECHANISM: Section = Section {
    switch: "kind",
    ..table(
        "door.mechanism",
        "How the panel is guided and balanced.",
        &[
            Key::new("kind", Kind::Choice(&["vertical lift"]), "Kind of mechanism."),
            Key::new("stroke", Kind::Quantity(&LENGTH, OPENING), "Stroke; the clear height it gives."),
            Key::new("counterweight", Kind::Quantity(&MASS, Range::within(0.0, 1000.0)), "Mass of the counterweight.")
                .default("\"0 kg\""),
            Key::new("pulleys", Kind::Integer(0, 20), "Pulleys the cord runs over.").default("1"),
            Key::new("pulley_efficiency", Kind::Number(Range::within(0.5, 1.0)), "Efficiency of one pulley.")
                .default("0.95"),
            Key::new("guide_friction", Kind::Number(Range::within(0.0, 2.0)), "Friction coefficient of the guides.")
                .default("0.15"),
            Key::new("guide_length", Kind::Quantity(&LENGTH, OPENING), "Engaged length of the guides."),
            Key::new(
                "drive_offset",
                Kind::Quantity(&LENGTH, Range::within(0.0, 10.0)),
                "Offset of the drive force from the guides' axis.",
            )
            .default("\"0 m\""),
        ],
    )
};

/// `[drive]`.
pub(super) const DRIVE: Section = table(
    "drive",
    "The actuator: a direct-current motor with a fixed gear, described at the panel.",
    &[
        Key::new("nominal_voltage", Kind::Quantity(&VOLTAGE, VOLTS), "Voltage of the catalogue figures."),
        Key::new("no_load_speed", Kind::Quantity(&SPEED, Range::above(0.0, 10.0)), "Speed without load."),
        Key::new("stall_force", Kind::Quantity(&FORCE, SOME_FORCE), "Force at standstill."),
        Key::new("rated_force", Kind::Quantity(&FORCE, SOME_FORCE), "Rated force."),
        Key::new("no_load_current", Kind::Quantity(&CURRENT, Range::within(0.0, 1000.0)), "Current without load."),
        Key::new("stall_current", Kind::Quantity(&CURRENT, Range::above(0.0, 1000.0)), "Current at standstill."),
        Key::new(
            "current_limit",
            Kind::QuantityOr("none", &CURRENT, Range::above(0.0, 1000.0)),
            "Current limit of the driver.",
        )
        .default("\"none\""),
        Key::new("self_locking", Kind::Flag, "Whether the gear holds the panel without power."),
        Key::new("pushes", Kind::Flag, "Whether it can push as well as pull: a rod can, a cord cannot."),
        Key::new(
            "reflected_mass",
            Kind::Quantity(&MASS, Range::within(0.0, 1e6)),
            "Inertia of rotor and gear as seen at the panel.",
        ),
        Key::new("duty_factor", Kind::Number(Range::above(0.0, 1.0)), "Rated share of time under power."),
        Key::new("duty_period", Kind::Quantity(&DURATION, Range::above(0.0, 86_400.0)), "Period of that rating.")
            .default("\"10 min\""),
    ],
);

/// `[drive.heat]`.
pub(super) const HEAT: Section = table(
    "drive.heat",
    "Two thermal masses: the winding and the housing.",
    &[
        Key::new("winding", Kind::Quantity(&HEAT_CAPACITY, Range::above(0.0, 1e6)), "Heat capacity of the winding."),
        Key::new("housing", Kind::Quantity(&HEAT_CAPACITY, Range::above(0.0, 1e6)), "Heat capacity of the housing."),
        Key::new(
            "winding_housing",
            Kind::Quantity(&HEAT_RESISTANCE, Range::above(0.0, 1000.0)),
            "Thermal resistance from winding to housing.",
        ),
        Key::new(
            "housing_air",
            Kind::Quantity(&HEAT_RESISTANCE, Range::above(0.0, 1000.0)),
            "Thermal resistance from housing to air.",
        ),
        Key::new("trips_at", Kind::Quantity(&TEMPERATURE, HOT), "Winding temperature at which the cut-out opens.")
            .default("\"120 °C\""),
        Key::new("resets_at", Kind::Quantity(&TEMPERATURE, HOT), "Winding temperature at which it closes again.")
            .default("\"95 °C\""),
    ],
);

/// `[drive.wear]`.
pub(super) const WEAR: Section = table(
    "drive.wear",
    "Life of the drive.",
    &[
        Key::new(
            "rated_strokes",
            Kind::Number(Range::above(0.0, 1e9)),
            "Full strokes at the rated force that nine in ten drives survive.",
        ),
        Key::new("exponent", Kind::Number(Range::above(0.0, 20.0)), "Exponent of life over load.").default("3"),
        Key::new("weibull_shape", Kind::Number(Range::within(0.1, 20.0)), "Weibull shape of the life.").default("1.5"),
    ],
);

/// `[supply]`.
pub(super) const SUPPLY: Section = table(
    "supply",
    "What feeds the shelter.",
    &[
        Key::new("voltage", Kind::Quantity(&VOLTAGE, VOLTS), "Voltage at the motor driver."),
        Key::new(
            "cable",
            Kind::Quantity(&RESISTANCE, Range::within(0.0, 1000.0)),
            "Resistance of the cable to the motor.",
        )
        .default("\"0 ohm\""),
        Key::new("limit", Kind::Quantity(&POWER, Range::above(0.0, 100_000.0)), "Power the supply can give."),
        Key::new("standby", Kind::Quantity(&POWER, Range::within(0.0, 1000.0)), "Power of controller and sensors.")
            .default("\"0 W\""),
        Key::new("efficiency", Kind::Number(Range::above(0.0, 1.0)), "Efficiency from the supply to the motor driver.")
            .default("0.9"),
    ],
);
