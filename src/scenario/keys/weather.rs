//! `[weather]`.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{HOURS, INTENSITY, SPEED, TEMPERATURE, TEMPERATURE_DIFFERENCE};

const GENERATED: &[&str] = &["generated"];
const OBSERVED: &[&str] = &["observed"];

/// Choices of `gaps`.
pub const GAPS: &[&str] = &["refuse", "dry", "repeat"];

/// Lengths of spells and memories: from a minute to a season.
const SPELL: Range = Range::above(0.0, 9600.0);
const SHAPE: Range = Range::within(0.1, 20.0);

const fn generated(name: &'static str, kind: Kind, about: &'static str) -> Key {
    Key::new(name, kind, about).only(GENERATED)
}

/// `[weather]`.
pub(super) const WEATHER: Section = Section {
    path: "weather",
    form: Form::Table,
    need: Need::Required,
    switch: "source",
    about: "An observed record that every season replays, or a generator that gives each season its own weather.",
    keys: &[
        Key::new("source", Kind::Choice(&["generated", "observed"]), "Where the weather comes from.")
            .default("\"generated\""),
        Key::new("file", Kind::File, "CSV file of the observed record, relative to the file that names it.")
            .only(OBSERVED),
        Key::new("gaps", Kind::Choice(GAPS), "What to do about hours without a record.")
            .default("\"refuse\"")
            .only(OBSERVED),
        generated("wet_spell", Kind::Monthly(&HOURS, SPELL), "Mean length of a wet spell."),
        generated("dry_spell", Kind::Monthly(&HOURS, SPELL), "Mean length of a dry spell."),
        generated(
            "intensity",
            Kind::Monthly(&INTENSITY, Range::above(0.0, 200.0)),
            "Mean rain intensity within a wet spell.",
        ),
        generated(
            "intensity_shape",
            Kind::Number(SHAPE),
            "Shape of the gamma law of the intensity; below 1 gives rare heavy showers.",
        )
        .default("0.6"),
        generated(
            "intensity_step",
            Kind::Quantity(&HOURS, Range::within(1.0 / 60.0, 24.0)),
            "How long an intensity lasts within a spell.",
        )
        .default("\"20 min\""),
        generated("temperature", Kind::Monthly(&TEMPERATURE, Range::within(-60.0, 60.0)), "Mean air temperature."),
        generated(
            "temperature_swing",
            Kind::Monthly(&TEMPERATURE_DIFFERENCE, Range::within(0.0, 30.0)),
            "Amplitude of the daily wave: half of the mean daily range.",
        ),
        generated(
            "temperature_spread",
            Kind::Quantity(&TEMPERATURE_DIFFERENCE, Range::within(0.0, 20.0)),
            "Standard deviation of the slow random part.",
        ),
        generated(
            "temperature_memory",
            Kind::Quantity(&HOURS, SPELL),
            "Time after which the random part's correlation has fallen to 1/e.",
        )
        .default("\"40 h\""),
        generated("wind", Kind::Monthly(&SPEED, Range::within(0.0, 40.0)), "Mean wind speed in the record's height."),
        generated("wind_shape", Kind::Number(SHAPE), "Weibull shape of the wind speed; 2 is the common practice.")
            .default("2.0"),
        generated(
            "wind_memory",
            Kind::Quantity(&HOURS, SPELL),
            "Time after which the wind's correlation has fallen to 1/e.",
        )
        .default("\"10 h\""),
        generated(
            "gust_factor",
            Kind::Number(Range::within(1.0, 4.0)),
            "Gust of three seconds over the hourly mean wind.",
        )
        .default("1.7"),
        generated(
            "clearness",
            Kind::MonthlyNumber(Range::within(0.0, 1.2)),
            "Mean share of the clear-sky light while it does not rain.",
        ),
        generated("clearness_spread", Kind::Number(Range::within(0.0, 0.5)), "Standard deviation of that share.")
            .default("0.25"),
    ],
};
