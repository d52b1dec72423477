//! `[[sensor]]`.

use super::kind::{Kind, Per, Range};
use super::mower::{DAY, SHARE, SOME_OF_A_DAY};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{ANGLE, AREA, DAYS, DURATION, LENGTH, PER_HOUR, RATE, TILT_PER_LOAD};
use crate::scenario::sensor::RANDOM_DRIFT_LEAST_S;

/// All kinds of sensor.
pub const SENSOR_KINDS: &[&str] = &[
    "optical range",
    "photon range",
    "ultrasonic range",
    "break beam",
    "platform load",
    "tilt",
    "end switch",
    "rain gauge",
    "status",
    "clock",
];

/// Kinds whose readings are amounts with noise.
pub const ANALOGUE: &[&str] =
    &["optical range", "photon range", "ultrasonic range", "platform load", "tilt", "rain gauge"];

/// Kinds that measure a distance.
pub const RANGERS: &[&str] = &["optical range", "photon range", "ultrasonic range"];

const OPTICAL: &[&str] = &["optical range"];
const ULTRASONIC: &[&str] = &["ultrasonic range"];
const PHOTON: &[&str] = &["photon range"];
/// Kinds that send out light.
const LIT: &[&str] = &["optical range", "photon range"];
/// Kinds whose noise grows in proportion to the reading.
const GROWING: &[&str] = &["optical range", "ultrasonic range", "platform load", "tilt", "rain gauge"];
/// Kinds whose returns from rain are given by a coefficient.
const COEFFICIENT: &[&str] = &["optical range", "ultrasonic range", "break beam"];
const LOOKING: &[&str] = &["optical range", "photon range", "ultrasonic range", "break beam"];
const BEAM: &[&str] = &["break beam"];
const PLATFORM: &[&str] = &["platform load"];
const STATUS: &[&str] = &["status"];
const CLOCK: &[&str] = &["clock"];

const PLACE: Range = Range::within(-20.0, 20.0);
const REACH: Range = Range::within(0.0, 100.0);
const SIGNED: Range = Range::within(-1e6, 1e6);
const COUNTS: Range = Range::above(0.0, 1e9);
const PRESET: &str = "that of the preset";
const UNSIGNED: Range = Range::within(0.0, 1e6);

/// `[[sensor]]`.
pub(super) const SENSOR: Section = Section {
    path: "sensor",
    form: Form::List,
    need: Need::Required,
    switch: "kind",
    about: "A sensor: what it sees and how it errs.",
    keys: &[
        Key::new("name", Kind::Name, "Name."),
        Key::new("kind", Kind::Choice(SENSOR_KINDS), "What it senses."),
        Key::new(
            "rate",
            Kind::Quantity(&RATE, Range::within(1e-4, 1000.0)),
            "Samples per second; the time between two must be a whole number of microseconds.",
        )
        .absent("give the period instead; 1 Hz for a status sensor and a clock"),
        Key::new(
            "period",
            Kind::Quantity(&DURATION, Range::within(1e-3, 10_000.0)),
            "Time between samples, a whole number of microseconds.",
        )
        .absent("give the rate instead; 1 s for a status sensor and a clock"),
        Key::new(
            "latency",
            Kind::Quantity(&DURATION, Range::within(0.0, 3600.0)),
            "Delay from sampling to the reading being available.",
        )
        .default("\"0 s\""),
        Key::new("bias", Kind::Reading(Per::One, SIGNED), "Constant offset.").absent("none").only(ANALOGUE),
        Key::new(
            "noise",
            Kind::Reading(Per::One, Range::above(0.0, 1e6)),
            "Standard deviation of the noise at a reading of zero.",
        )
        .instead(&["noise_density", "bandwidth"])
        .only(ANALOGUE),
        Key::new(
            "noise_density",
            Kind::Number(Range::above(0.0, 1e6)),
            "Noise density of its accelerometer in ug per root hertz (common practice: 50 to 300), from which the noise follows.",
        )
        .absent("give the noise instead")
        .only(&["tilt"]),
        Key::new(
            "bandwidth",
            Kind::Quantity(&RATE, Range::above(0.0, 10_000.0)),
            "Bandwidth (one pole) of that accelerometer: the lower, the less noise, and the longer it remembers.",
        )
        .absent("give the noise instead")
        .only(&["tilt"]),
        Key::new(
            "noise_correlation",
            Kind::Number(Range::within(0.0, 0.999)),
            "Correlation of the noise of neighbouring samples, as a log of a still target shows it: exp(-period / correlation \
             time). Above 0.1 run rules give far more false runs than independent samples would.",
        )
        .default("0")
        .only(ANALOGUE),
        Key::new(
            "noise_growth",
            Kind::Number(Range::within(0.0, 1.0)),
            "Growth of that standard deviation per unit of reading.",
        )
        .default("0")
        .only(GROWING),
        Key::new("drift_per_kelvin", Kind::Reading(Per::Kelvin, SIGNED), "Drift with temperature away from 20 °C.")
            .absent("none")
            .only(ANALOGUE),
        Key::new(
            "drift_per_day",
            Kind::Reading(Per::Day, SIGNED),
            "Drift with dirt since the season's start or the last cleaning.",
        )
        .absent("none")
        .only(ANALOGUE),
        Key::new(
            "random_drift",
            Kind::Reading(Per::One, UNSIGNED),
            "Standard deviation of a drift that wanders to and fro and forgets itself, as `calibrate still` finds it in a log.",
        )
        .absent("none")
        .only(ANALOGUE),
        Key::new(
            "random_drift_time",
            Kind::Quantity(&DURATION, Range::within(RANDOM_DRIFT_LEAST_S, 5_184_000.0)),
            "Correlation time of that drift: after so long a third of it is left. For what forgets itself sooner there is `noise_correlation`.",
        )
        .default("\"6 h\"")
        .only(ANALOGUE),
        Key::new(
            "cleaned_every",
            Kind::QuantityOr("never", &DAYS, Range::above(0.0, 10_000.0)),
            "Time between cleanings.",
        )
        .default("\"never\"")
        .only(ANALOGUE),
        Key::new("resolution", Kind::Reading(Per::One, UNSIGNED), "Step between readings.")
            .absent("continuous")
            .only(ANALOGUE),
        Key::new("dropout", Kind::Number(SHARE), "Probability that a sample gives no reading.").default("0"),
        Key::new("dropout_in_rain", Kind::Number(SHARE), "The same at 10 mm/h of rain and above.")
            .absent("the same as `dropout`"),
        Key::new(
            "spurious",
            Kind::Number(SHARE),
            "Probability of a spurious reading in dry weather: one nearer than what is there, mostly near the window (exponential, 0.25 m; \
             common practice).",
        )
        .default("0")
        .only(LOOKING),
        Key::new(
            "spurious_rain",
            Kind::Number(Range::within(0.0, 10.0)),
            "Rain coefficient n of the added probability 1 - exp(-n R^1.2), R in mm/h.",
        )
        .default("0")
        .only(COEFFICIENT),
        Key::new(
            "spurious_sun",
            Kind::Number(SHARE),
            "Probability of a spurious reading when the sun shines straight in at 100 klx; what light it costs an optical ranger is reckoned \
             apart.",
        )
        .default("0")
        .only(LOOKING),
        Key::new(
            "output_loss_per_year",
            Kind::Number(Range::within(0.0, 0.9)),
            "Share of its light's output that ageing takes in a year, over and over (common practice: 0.02 to 0.06 for an emitter \
             that is always on); its range falls with the root of the output.",
        )
        .default("0")
        .only(LIT),
        Key::new("age", Kind::Quantity(&DAYS, Range::within(0.0, 36_525.0)), "Its age when the season begins.")
            .default("\"0 d\"")
            .only(LIT),
        Key::new(
            "position",
            Kind::Quantities(&LENGTH, 3, PLACE),
            "Its window: x outwards from the door line, y sideways, z up.",
        )
        .only(RANGERS),
        Key::new(
            "yaw",
            Kind::Quantity(&ANGLE, Range::within(-180.0, 180.0)),
            "Direction of its axis in the ground plane, from outwards towards +y.",
        )
        .default("\"0 deg\"")
        .only(RANGERS),
        Key::new(
            "pitch",
            Kind::Quantity(&ANGLE, Range::within(-90.0, 90.0)),
            "Elevation of its axis above the horizontal.",
        )
        .default("\"0 deg\"")
        .only(RANGERS),
        Key::new("cone", Kind::Quantity(&ANGLE, Range::above(0.0, 170.0)), "Full angle of its cone of view.")
            .only(RANGERS),
        Key::new("nearest", Kind::Quantity(&LENGTH, REACH), "Shortest valid reading.").only(RANGERS),
        Key::new(
            "farthest",
            Kind::Quantity(&LENGTH, Range::above(0.0, 100.0)),
            "Longest valid reading of a well reflecting target in the dark.",
        )
        .only(RANGERS),
        Key::new("farthest_sun", Kind::Quantity(&LENGTH, REACH), "The same with 100 klx of sun on the scene.")
            .absent("the same as `farthest`")
            .only(OPTICAL),
        Key::new(
            "background",
            Kind::Quantity(&LENGTH, Range::above(0.0, 100.0)),
            "Reading when nothing is in view: a wall or the ground.",
        )
        .absent("no reading then")
        .only(RANGERS),
        Key::new(
            "background_reflectance",
            Kind::Number(Range::above(0.0, 1.0)),
            "Diffuse reflectance of that wall or ground.",
        )
        .default("0.3")
        .only(PHOTON),
        Key::new(
            "preset",
            Kind::Choice(&["wide", "narrow"]),
            "Whose figures hold where none are given: a chip with a wide cone or a module with a narrow beam.",
        )
        .default("\"wide\"")
        .only(PHOTON),
        Key::new(
            "signal",
            Kind::Number(COUNTS),
            "Counts of a sample from a target of 50 % reflectance at 1 m that fills the cone.",
        )
        .absent(PRESET)
        .only(PHOTON),
        Key::new("dark", Kind::Number(COUNTS), "Counts of a sample in the dark.").absent(PRESET).only(PHOTON),
        Key::new("ambient", Kind::Number(Range::within(0.0, 1e9)), "Counts of a sample per klx of light on the scene.")
            .absent(PRESET)
            .only(PHOTON),
        Key::new("crosstalk", Kind::Number(Range::within(0.0, 1e9)), "Counts of a sample from a clean cover glass.")
            .absent(PRESET)
            .only(PHOTON),
        Key::new("crosstalk_dew", Kind::Number(Range::within(0.0, 1e9)), "Counts that full dew adds to them.")
            .absent(PRESET)
            .only(PHOTON),
        Key::new("pulse", Kind::Quantity(&LENGTH, Range::above(0.0, 10.0)), "Effective half width of the pulse.")
            .absent(PRESET)
            .only(PHOTON),
        Key::new(
            "glass",
            Kind::Quantity(&LENGTH, Range::within(0.0, 1.0)),
            "Where the light from the glass seems to come from.",
        )
        .absent(PRESET)
        .only(PHOTON),
        Key::new(
            "ratio",
            Kind::Number(Range::above(0.0, 1000.0)),
            "Signal-to-noise ratio at which half of the readings are valid.",
        )
        .absent(PRESET)
        .only(PHOTON),
        Key::new("sheltered", Kind::Quantity(&LENGTH, REACH), "Length of the beam that is sheltered from rain.")
            .default("\"0 m\"")
            .only(PHOTON),
        Key::new("dew", Kind::Number(SHARE), "Dew on the window while the weather has it; 1 halves the light on each pass.")
            .default("0")
            .only(PHOTON),
        Key::new(
            "dirt_per_day",
            Kind::Number(SHARE),
            "Growth of the dirt on the window; dirt of 1, the most there can be, takes 60 % of the light on each pass.",
        )
        .default("0")
        .only(PHOTON),
        Key::new("compensated", Kind::Flag, "Whether the reading is corrected for the air temperature.")
            .default("false")
            .only(ULTRASONIC),
        Key::new("x", Kind::Quantity(&LENGTH, PLACE), "Place of the beam along x.").only(BEAM),
        Key::new("z", Kind::Quantity(&LENGTH, Range::within(0.0, 20.0)), "Height of the beam.").only(BEAM),
        Key::new(
            "span",
            Kind::Quantities(&LENGTH, 2, PLACE),
            "From where to where it reaches: y for a beam, x for a platform.",
        )
        .absent("required for a beam, a load platform, and a tilt sensor on a platform")
        .only(&["break beam", "platform load", "tilt"]),
        Key::new(
            "false_breaks",
            Kind::Quantity(&PER_HOUR, Range::within(0.0, 10_000.0)),
            "Breaks by insects and leaves.",
        )
        .default("\"0 /h\"")
        .only(BEAM),
        Key::new("false_break", Kind::Quantity(&DURATION, SOME_OF_A_DAY), "Mean length of such a break.")
            .default("\"2 s\"")
            .only(BEAM),
        Key::new(
            "area",
            Kind::Quantity(&AREA, Range::within(0.0, 100.0)),
            "Area that collects rain while the door is open.",
        )
        .only(PLATFORM),
        Key::new(
            "drained_per_hour",
            Kind::Number(SHARE),
            "Share of the collected water that has run off after an hour.",
        )
        .only(PLATFORM),
        Key::new(
            "creep",
            Kind::Number(SHARE),
            "Growth of the reading within half an hour under a standing load, as a share of it (creep as OIML R 60 tests it); \
             it falls back in the same time. Common practice: 0.03 % for a bare cell, up to a few per cent for a platform with its \
             frame.",
        )
        .default("0")
        .only(PLATFORM),
        Key::new(
            "creep_time",
            Kind::Quantity(&DURATION, Range::within(1.0, 1e6)),
            "Time constant of the creep (common practice; a cell that meets the limits of OIML R 60 has less than 25.5 min).",
        )
        .default("\"8 min\"")
        .only(PLATFORM),
        Key::new(
            "swing",
            Kind::Number(SHARE),
            "First swing of the reading when a wheel rolls on, as a share of the wheel's load (common practice: 0.1 to 0.5); \
             only for a mower with axles.",
        )
        .default("0")
        .only(PLATFORM),
        Key::new(
            "swing_rate",
            Kind::Quantity(&RATE, Range::within(0.1, 1000.0)),
            "Natural frequency of that swing (common practice: 8 to 30 Hz).",
        )
        .default("\"12 Hz\"")
        .only(PLATFORM),
        Key::new(
            "swing_damping",
            Kind::Number(Range::within(0.005, 0.95)),
            "Damping ratio of that swing (common practice: 0.03 to 0.15).",
        )
        .default("0.08")
        .only(PLATFORM),
        Key::new("on", Kind::Choice(&["panel", "platform"]), "What it is fixed to.").only(&["tilt"]),
        Key::new(
            "tilt_per_load",
            Kind::Quantity(&TILT_PER_LOAD, Range::above(0.0, 90.0)),
            "How far the platform tips.",
        )
        .absent("required on a platform")
        .only(&["tilt"]),
        Key::new("end", Kind::Choice(&["shut", "open"]), "Which end of the door's travel.").only(&["end switch"]),
        Key::new("poll", Kind::Quantity(&DURATION, DAY), "Time between polls; 0 s for pushed messages.")
            .default("\"0 s\"")
            .only(STATUS),
        Key::new("loss", Kind::Number(SHARE), "Probability that a message is lost.").default("0").only(STATUS),
        Key::new("delay", Kind::Quantity(&DURATION, Range::above(0.0, 86_400.0)), "Median delay of a message.")
            .only(STATUS),
        Key::new("delay_spread", Kind::Number(Range::within(0.0, 5.0)), "Standard deviation of the delay's logarithm.")
            .default("0.5")
            .only(STATUS),
        Key::new(
            "stale_after",
            Kind::Quantity(&DURATION, Range::above(0.0, 864_000.0)),
            "Age beyond which the last message is no longer believed.",
        )
        .only(STATUS),
        Key::new("lead", Kind::Quantity(&DURATION, DAY), "How long before a mowing window it is on.")
            .default("\"0 s\"")
            .only(CLOCK),
        Key::new("lag", Kind::Quantity(&DURATION, DAY), "How long after a mowing window it stays on.")
            .default("\"0 s\"")
            .only(CLOCK),
    ],
};
