//! `[door]`, `[drive]`, `[supply]`.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{
    ANGLE, BATTERY, CAPACITANCE, CAPACITANCE_PER_LENGTH, CURRENT, DURATION, ENERGY, FORCE, HEAT_CAPACITY,
    HEAT_RESISTANCE, HOURS, INERTIA, LENGTH, MASS, POWER, RATE, RESISTANCE, SPEED, STIFFNESS, TEMPERATURE, TORQUE,
    VOLTAGE, WEAR_FACTOR,
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

/// Kinds of mechanism.
pub const MECHANISMS: &[&str] =
    &["vertical lift", "double slider", "top flap", "side leaf", "horizontal slide", "roller curtain"];

const LIFT: &[&str] = &["vertical lift"];
const SLIDER: &[&str] = &["double slider"];
const FLAP: &[&str] = &["top flap"];
const LEAF: &[&str] = &["side leaf"];
const SLIDE: &[&str] = &["horizontal slide"];
const CURTAIN: &[&str] = &["roller curtain"];
const HINGED: &[&str] = &["top flap", "side leaf"];

const LENGTHS: Range = Range::within(0.0, 10.0);
const PIVOT: Range = Range::within(-10.0, 10.0);
const FRICTION: Range = Range::within(0.0, 2.0);
const WEIGHT: Range = Range::within(0.0, 1000.0);

/// `[door.mechanism]`.
pub(super) const MECHANISM: Section = Section {
    switch: "kind",
    ..table(
        "door.mechanism",
        "How the panel is guided and balanced.",
        &[
            Key::new("kind", Kind::Choice(MECHANISMS), "Kind of mechanism."),
            Key::new("stroke", Kind::Quantity(&LENGTH, OPENING), "Stroke; the clear height or width it gives.")
                .only(&["vertical lift", "horizontal slide", "roller curtain"]),
            Key::new("counterweight", Kind::Quantity(&MASS, WEIGHT), "Mass of the counterweight.")
                .default("\"0 kg\"")
                .only(&["vertical lift", "double slider"]),
            Key::new("pulleys", Kind::Integer(0, 20), "Pulleys the cord runs over.").default("1").only(LIFT),
            Key::new("pulley_efficiency", Kind::Number(Range::within(0.5, 1.0)), "Efficiency of one pulley.")
                .default("0.95")
                .only(LIFT),
            Key::new("guide_friction", Kind::Number(FRICTION), "Friction coefficient of the guides.")
                .default("0.15")
                .only(&["vertical lift", "horizontal slide", "roller curtain"]),
            Key::new("guide_length", Kind::Quantity(&LENGTH, OPENING), "Engaged length of the guides.")
                .only(&["vertical lift", "horizontal slide"]),
            Key::new(
                "drive_offset",
                Kind::Quantity(&LENGTH, LENGTHS),
                "Offset of the drive force from the guides' axis.",
            )
            .default("\"0 m\"")
            .only(&["vertical lift", "horizontal slide"]),
            Key::new(
                "length",
                Kind::Quantity(&LENGTH, OPENING),
                "Distance between the sliders, or length of the flap.",
            )
            .only(&["double slider", "top flap"]),
            Key::new("overhang", Kind::Quantity(&LENGTH, LENGTHS), "How far the panel reaches below the lower slider.")
                .default("\"0 m\"")
                .only(SLIDER),
            Key::new(
                "mass_at",
                Kind::Number(Range::within(0.0, 1.0)),
                "Centre of mass as a share of the length, from the lower slider or the hinge.",
            )
            .default("0.5")
            .only(&["double slider", "top flap"]),
            Key::new("friction_vertical", Kind::Number(FRICTION), "Friction coefficient at the vertical guide.")
                .default("0.2")
                .only(SLIDER),
            Key::new("friction_horizontal", Kind::Number(FRICTION), "Friction coefficient at the horizontal guide.")
                .default("0.2")
                .only(SLIDER),
            Key::new(
                "shut_angle",
                Kind::Quantity(&ANGLE, Range::within(0.0, 85.0)),
                "Angle of the shut panel from the vertical.",
            )
            .default("\"0 deg\"")
            .only(SLIDER),
            Key::new(
                "open_angle",
                Kind::Quantity(&ANGLE, Range::above(0.0, 170.0)),
                "Angle of the open panel from the vertical, or from the shut one.",
            )
            .only(&["double slider", "top flap", "side leaf"]),
            Key::new("drive_at", Kind::Choice(DRIVE_POINTS), "Where the drive takes hold.").only(SLIDER),
            Key::new(
                "point",
                Kind::Number(Range::within(0.0, 1.0)),
                "The driven point as a share of the length, from the lower slider.",
            )
            .default("0.5")
            .only(SLIDER),
            Key::new(
                "slope",
                Kind::Quantity(&ANGLE, Range::within(0.0, 90.0)),
                "Direction of the pull at that point, above the horizontal.",
            )
            .default("\"45 deg\"")
            .only(SLIDER),
            Key::new(
                "spring",
                Kind::Quantity(&FORCE, FORCES),
                "Force of a spring that pushes the upper slider inwards when shut.",
            )
            .default("\"0 N\"")
            .only(SLIDER),
            Key::new("spring_travel", Kind::Quantity(&LENGTH, LENGTHS), "Travel over which the spring's force fades.")
                .default("\"0.1 m\"")
                .only(SLIDER),
            Key::new("opens", Kind::Choice(&["outwards", "inwards"]), "Which way it swings.")
                .default("\"outwards\"")
                .only(HINGED),
            Key::new("hinge_height", Kind::Quantity(&LENGTH, OPENING), "Height of the hinge above the sill.")
                .only(FLAP),
            Key::new("hinge_friction", Kind::Number(FRICTION), "Friction coefficient of the hinges.")
                .default("0.2")
                .only(HINGED),
            Key::new("pin_radius", Kind::Quantity(&LENGTH, LENGTHS), "Radius of the hinge pins.")
                .default("\"4 mm\"")
                .only(HINGED),
            Key::new("thrust_radius", Kind::Quantity(&LENGTH, LENGTHS), "Mean radius of the hinges' thrust faces.")
                .default("\"6 mm\"")
                .only(LEAF),
            Key::new("hinge_span", Kind::Quantity(&LENGTH, OPENING), "Distance between the two hinges.").only(LEAF),
            Key::new("thickness", Kind::Quantity(&LENGTH, LENGTHS), "Thickness of the leaf or the curtain.")
                .default("\"8 mm\"")
                .only(&["side leaf", "roller curtain"]),
            Key::new(
                "lean",
                Kind::Quantity(&ANGLE, Range::within(-20.0, 20.0)),
                "Lean of the hinges' axis that makes the leaf climb as it opens.",
            )
            .default("\"0 deg\"")
            .only(LEAF),
            Key::new(
                "rod_frame_out",
                Kind::Quantity(&LENGTH, PIVOT),
                "Rod's fixed pivot: distance from the hinge towards the side to which it opens.",
            )
            .only(HINGED),
            Key::new(
                "rod_frame_along",
                Kind::Quantity(&LENGTH, PIVOT),
                "Rod's fixed pivot: distance from the hinge along the shut panel.",
            )
            .only(HINGED),
            Key::new(
                "rod_panel_along",
                Kind::Quantity(&LENGTH, OPENING),
                "Rod's pivot on the panel: distance from the hinge.",
            )
            .only(HINGED),
            Key::new(
                "rod_panel_behind",
                Kind::Quantity(&LENGTH, PIVOT),
                "Rod's pivot on the panel: distance behind it.",
            )
            .default("\"0 m\"")
            .only(HINGED),
            Key::new(
                "gas_spring",
                Kind::QuantityOr("none", &FORCE, Range::above(0.0, 100_000.0)),
                "Extended force of a gas spring at 20 °C.",
            )
            .default("\"none\"")
            .only(FLAP),
            Key::new(
                "gas_ratio",
                Kind::Number(Range::within(1.0, 2.0)),
                "Its compressed force over its extended force.",
            )
            .default("1.3")
            .only(FLAP),
            Key::new("gas_friction", Kind::Quantity(&FORCE, FORCES), "Its own friction.")
                .default("\"10 N\"")
                .only(FLAP),
            Key::new("gas_frame_out", Kind::Quantity(&LENGTH, PIVOT), "Its fixed pivot, as the rod's.")
                .default("\"0 m\"")
                .only(FLAP),
            Key::new("gas_frame_along", Kind::Quantity(&LENGTH, PIVOT), "Its fixed pivot, as the rod's.")
                .default("\"0.2 m\"")
                .only(FLAP),
            Key::new("gas_panel_along", Kind::Quantity(&LENGTH, OPENING), "Its pivot on the panel, as the rod's.")
                .default("\"0.1 m\"")
                .only(FLAP),
            Key::new("gas_panel_behind", Kind::Quantity(&LENGTH, PIVOT), "Its pivot on the panel, as the rod's.")
                .default("\"20 mm\"")
                .only(FLAP),
            Key::new("roller_friction", Kind::Number(FRICTION), "Rolling friction coefficient of the rollers.")
                .default("0.02")
                .only(SLIDE),
            Key::new(
                "track_slope",
                Kind::Quantity(&ANGLE, Range::within(-30.0, 30.0)),
                "Rise of the track in the opening direction.",
            )
            .default("\"0 deg\"")
            .only(SLIDE),
            Key::new("bar", Kind::Quantity(&MASS, WEIGHT), "Mass of the bottom bar, part of the door's mass.")
                .default("\"1 kg\"")
                .only(CURTAIN),
            Key::new("tube_radius", Kind::Quantity(&LENGTH, OPENING), "Radius of the bare tube.")
                .default("\"20 mm\"")
                .only(CURTAIN),
        ],
    )
};

/// Where the drive of a double slider can take hold.
pub const DRIVE_POINTS: &[&str] = &["vertical slider", "horizontal slider", "both sliders", "point"];

const FIGURES: &[&str] = &["figures"];
const SCREW: &[&str] = &["screw"];
const DRUM: &[&str] = &["drum"];
const GEARED: &[&str] = &["screw", "drum"];

/// `[drive]`.
pub(super) const DRIVE: Section = Section {
    switch: "kind",
    ..table(
        "drive",
        "The actuator: a direct-current motor with a fixed gear, described where it takes hold of the panel.",
        &[
            Key::new(
                "kind",
                Kind::Choice(&["figures", "screw", "drum"]),
                "Figures of the whole actuator, or of a motor with a screw or a drum.",
            )
            .default("\"figures\""),
            Key::new("nominal_voltage", Kind::Quantity(&VOLTAGE, VOLTS), "Voltage of the catalogue figures."),
            Key::new("no_load_speed", Kind::Quantity(&SPEED, Range::above(0.0, 10.0)), "Speed without load.")
                .only(FIGURES),
            Key::new("stall_force", Kind::Quantity(&FORCE, SOME_FORCE), "Force at standstill.").only(FIGURES),
            Key::new("rated_force", Kind::Quantity(&FORCE, Range::within(0.1, 100_000.0)), "Rated force."),
            Key::new("no_load_current", Kind::Quantity(&CURRENT, Range::within(0.0, 1000.0)), "Current without load."),
            Key::new("stall_current", Kind::Quantity(&CURRENT, Range::above(0.0, 1000.0)), "Current at standstill."),
            Key::new(
                "current_limit",
                Kind::QuantityOr("none", &CURRENT, Range::above(0.0, 1000.0)),
                "Current limit of the driver.",
            )
            .default("\"none\""),
            Key::new(
                "self_locking",
                Kind::Flag,
                "Whether the gear holds the panel without power; a screw's is worked out.",
            )
            .only(&["figures", "drum"]),
            Key::new("pushes", Kind::Flag, "Whether it can push as well as pull: a rod can, a cord cannot."),
            Key::new(
                "soft_start",
                Kind::Quantity(&DURATION, Range::within(0.0, 60.0)),
                "Time over which the driver raises the voltage at a start.",
            )
            .default("\"0 s\""),
            Key::new(
                "motor_speed",
                Kind::Quantity(&RATE, Range::above(0.0, 10_000.0)),
                "No-load speed of the rotor in turns per second.",
            )
            .only(GEARED),
            Key::new("motor_torque", Kind::Quantity(&TORQUE, Range::above(0.0, 1000.0)), "Stall torque of the rotor.")
                .only(GEARED),
            Key::new(
                "motor_inertia",
                Kind::Quantity(&INERTIA, Range::within(0.0, 1.0)),
                "Moment of inertia of the rotor.",
            )
            .only(GEARED),
            Key::new(
                "gear_ratio",
                Kind::Number(Range::above(0.0, 100_000.0)),
                "Turns of the rotor per turn of the gear's output.",
            )
            .default("1")
            .only(GEARED),
            Key::new("gear_efficiency", Kind::Number(Range::above(0.0, 1.0)), "Efficiency of the gear.")
                .default("0.8")
                .only(GEARED),
            Key::new("lead", Kind::Quantity(&LENGTH, Range::above(0.0, 1.0)), "Lead of the screw.").only(SCREW),
            Key::new(
                "screw_diameter",
                Kind::Quantity(&LENGTH, Range::above(0.0, 1.0)),
                "Mean diameter of the screw's thread.",
            )
            .only(SCREW),
            Key::new("screw_friction", Kind::Number(Range::within(0.0, 1.0)), "Friction coefficient in the thread.")
                .default("0.15")
                .only(SCREW),
            Key::new("flank", Kind::Quantity(&ANGLE, Range::within(0.0, 45.0)), "Half angle of the thread's flanks.")
                .default("\"15 deg\"")
                .only(SCREW),
            Key::new(
                "drum_diameter",
                Kind::Quantity(&LENGTH, Range::above(0.0, 5.0)),
                "Diameter of the belt pulley or cord drum.",
            )
            .only(DRUM),
            Key::new(
                "reflected_mass",
                Kind::Quantity(&MASS, Range::within(0.0, 1e6)),
                "Inertia of rotor and gear as seen at the panel.",
            )
            .only(FIGURES),
            Key::new("duty_factor", Kind::Number(Range::above(0.0, 1.0)), "Rated share of time under power."),
            Key::new("duty_period", Kind::Quantity(&DURATION, Range::above(0.0, 86_400.0)), "Period of that rating.")
                .default("\"10 min\""),
        ],
    )
};

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
            Kind::Number(Range::within(1.0, 1e9)),
            "Full strokes at the rated force that nine in ten drives survive.",
        ),
        Key::new("exponent", Kind::Number(Range::above(0.0, 20.0)), "Exponent of life over load.").default("3"),
        Key::new("weibull_shape", Kind::Number(Range::within(0.1, 20.0)), "Weibull shape of the life.").default("1.5"),
    ],
);

/// `[[drive.part]]`.
pub(super) const PART: Section = Section {
    path: "drive.part",
    form: Form::List,
    need: Need::Optional,
    switch: "kind",
    about: "Another part that wears, in series with the drive: belt, bearing, brushes, nut, relay, end switch, driver.",
    keys: &[
        Key::new("name", Kind::Name, "Name."),
        Key::new(
            "kind",
            Kind::Choice(&["rated", "nut", "relay"]),
            "Whose life a maker states, the nut of a sliding screw, or the contacts of a relay that switches the motor.",
        )
        .default("\"rated\""),
        Key::new(
            "rated_strokes",
            Kind::Number(Range::within(1.0, 1e9)),
            "Full strokes of its rating, at the drive's rated force.",
        )
        .only(RATED),
        Key::new(
            "rating",
            Kind::Choice(&["nine in ten", "mean"]),
            "Whether nine in ten survive the rating, or it is the mean life.",
        )
        .default("\"nine in ten\"")
        .only(RATED),
        Key::new(
            "exponent",
            Kind::Number(Range::within(0.0, 20.0)),
            "Exponent of life over load; 0 where the load does not matter.",
        )
        .default("3")
        .only(RATED),
        Key::new(
            "wear_factor",
            Kind::Quantity(&WEAR_FACTOR, Range::above(0.0, 1.0)),
            "Volume that the nut loses per force and sliding way: 2e-7 to 5e-6 clean, 2e-5 in dirt.",
        )
        .default("\"1e-6 mm3/N/m\"")
        .only(NUT),
        Key::new("lead", Kind::Quantity(&LENGTH, Range::above(0.0, 1.0)), "Lead of the screw.").only(NUT),
        Key::new("mean_diameter", Kind::Quantity(&LENGTH, Range::above(0.0, 1.0)), "Mean diameter of the thread.")
            .only(NUT),
        Key::new(
            "thread_height",
            Kind::Quantity(&LENGTH, Range::above(0.0, 0.1)),
            "Height on which the flanks of nut and screw bear.",
        )
        .only(NUT),
        Key::new("turns", Kind::Number(Range::above(0.0, 1000.0)), "Turns of the thread inside the nut.").only(NUT),
        Key::new(
            "rated_current",
            Kind::Quantity(&CURRENT, Range::above(0.0, 1000.0)),
            "Current at which its contacts are rated for 100 000 operations.",
        )
        .only(RELAY),
        Key::new(
            "current_exponent",
            Kind::Number(Range::within(0.0, 5.0)),
            "Exponent of operations over current: about 1.3 for direct current.",
        )
        .default("1.3")
        .only(RELAY),
        Key::new("weibull_shape", Kind::Number(Range::within(0.1, 20.0)), "Weibull shape of the life.").default("1.5"),
    ],
};

const RATED: &[&str] = &["rated"];
const NUT: &[&str] = &["nut"];
const RELAY: &[&str] = &["relay"];

/// `[supply]`.
pub(super) const SUPPLY: Section = Section {
    switch: "source",
    ..table(
        "supply",
        "What feeds the shelter.",
        &[
            Key::new("source", Kind::Choice(&["limit", "network", "mains", "solar"]), "A supply with a limit, a powered device on a network cable, a mains adapter, or battery and solar panel.")
                .default("\"limit\""),
            Key::new("voltage", Kind::Quantity(&VOLTAGE, VOLTS), "Voltage at the motor driver."),
            Key::new(
                "cable",
                Kind::Quantity(&RESISTANCE, Range::within(0.0, 1000.0)),
                "Resistance of the cable to the motor.",
            )
            .default("\"0 ohm\""),
            Key::new("limit", Kind::Quantity(&POWER, Range::above(0.0, 100_000.0)), "Power the supply can give.").only(&[
                "limit", "mains", "solar",
            ]),
            Key::new("class", Kind::Integer(0, 8), "Class of the powered device (IEEE 802.3).").only(&["network"]),
            Key::new("standby", Kind::Quantity(&POWER, Range::within(0.0, 1000.0)), "Power of controller and sensors.")
                .default("\"0 W\""),
            Key::new(
                "efficiency",
                Kind::Number(Range::above(0.0, 1.0)),
                "Efficiency from the supply to the motor driver.",
            )
            .default("0.9"),
            Key::new("buffer", Kind::Quantity(&ENERGY, Range::within(0.0, 1e6)), "Energy that a buffer capacitor gives before the voltage falls too far.")
                .default("\"0 J\""),
            Key::new("battery", Kind::Quantity(&BATTERY, Range::above(0.0, 100_000.0)), "Capacity of the battery.").only(SOLAR),
            Key::new("usable", Kind::Number(Range::above(0.0, 1.0)), "Share of the capacity that may be used.").default("0.8").only(SOLAR),
            Key::new("panel", Kind::Quantity(&POWER, Range::above(0.0, 100_000.0)), "Peak power of the solar panel.").only(SOLAR),
            Key::new("performance", Kind::Number(Range::above(0.0, 1.0)), "Share of the peak power that arrives in the battery.").default("0.65").only(SOLAR),
            Key::new("sun", Kind::Quantity(&HOURS, Range::above(0.0, 24.0)), "Hours of full sun a day in the season's darkest month, for `check`; a season takes the light of its own weather.").only(SOLAR),
            Key::new("battery_efficiency", Kind::Number(Range::above(0.0, 1.0)), "Share of the charge that comes out of the battery again: about 0.85 for lead, 0.95 for lithium (common practice).").default("0.9").only(SOLAR),
            Key::new("restarts_at", Kind::Number(Range::above(0.0, 1.0)), "Share of the usable capacity at which a battery that had run empty is switched on again.").default("0.2").only(SOLAR),
        ],
    )
};

const SOLAR: &[&str] = &["solar"];

/// `[bus]`.
pub(super) const BUS: Section = Section {
    need: Need::Optional,
    ..table(
        "bus",
        "The two-wire bus that sensors share.",
        &[
            Key::new(
                "mode",
                Kind::Choice(&["standard", "fast", "fast plus"]),
                "Speed grade: 100 kHz, 400 kHz or 1 MHz.",
            )
            .default("\"fast\""),
            Key::new("voltage", Kind::Quantity(&VOLTAGE, Range::above(0.4, 5.5)), "Supply voltage of the bus.")
                .default("\"3.3 V\""),
            Key::new("pull_up", Kind::Quantity(&RESISTANCE, Range::above(0.0, 1e6)), "Pull-up resistor.")
                .default("\"2200 ohm\""),
            Key::new("cable", Kind::Quantity(&LENGTH, Range::within(0.0, 100.0)), "Length of the cable.")
                .default("\"1 m\""),
            Key::new(
                "cable_capacitance",
                Kind::Quantity(&CAPACITANCE_PER_LENGTH, Range::within(0.0, 1000.0)),
                "Capacitance of the cable.",
            )
            .default("\"60 pF/m\""),
            Key::new(
                "device_capacitance",
                Kind::Quantity(&CAPACITANCE, Range::within(0.0, 1000.0)),
                "Capacitance of one device.",
            )
            .default("\"10 pF\""),
            Key::new("multiplexer", Kind::Flag, "Whether a multiplexer gives each device its own branch.")
                .default("false"),
            Key::new("gap", Kind::Quantity(&DURATION, Range::within(0.0, 1.0)), "Time between two transactions.")
                .default("\"50 us\""),
        ],
    )
};

/// `[[bus.device]]`.
pub(super) const BUS_DEVICE: Section = Section {
    path: "bus.device",
    form: Form::List,
    need: Need::Optional,
    switch: "",
    about: "A sensor on the bus.",
    keys: &[
        Key::new("sensor", Kind::NameOf("sensor"), "The sensor."),
        Key::new("address", Kind::Integer(0, 127), "Its address (seven bits)."),
        Key::new("register_bytes", Kind::Integer(0, 8), "Bytes of the register's number.").default("1"),
        Key::new("data_bytes", Kind::Integer(1, 1024), "Bytes of a reading.").default("2"),
        Key::new("stretch", Kind::Quantity(&DURATION, Range::within(0.0, 1.0)), "Clock stretching in a read.")
            .default("\"0 s\""),
        Key::new("conversion", Kind::Quantity(&DURATION, Range::within(0.0, 60.0)), "Time of one measurement.")
            .default("\"0 s\""),
    ],
};
