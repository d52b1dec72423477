//! `[weather]`, `[weather.rain]`, `[weather.shift]`.

use super::kind::{Kind, Range};
use super::{Form, Key, Need, Section};
use crate::scenario::measure::{
    HOURS, INTENSITY, LENGTH, PER_HOUR, RAIN_DEPTH, SPEED, TEMPERATURE, TEMPERATURE_DIFFERENCE,
};
use crate::scenario::weather::units;

const GENERATED: &[&str] = &["generated"];
const PULSES: &[&str] = &["pulses"];
/// Sources that draw weather.
const DRAWN: &[&str] = &["generated", "pulses"];
const OBSERVED: &[&str] = &["observed"];

/// Choices of `gaps`.
pub const GAPS: &[&str] = &["refuse", "dry", "repeat"];

/// Choices of `layout`.
pub const LAYOUTS: &[&str] = &["detect", "csv", "tmy3", "epw"];

/// Choices of `time_label`.
pub const LABELS: &[&str] = &["start", "middle", "end"];

/// Choices of `within_hour`.
pub const WITHIN_HOUR: &[&str] = &["spells", "process", "even"];

/// Choices of `years`.
pub const YEARS: &[&str] = &["calendar", "whole", "months"];

/// Lengths of spells and memories: from a minute to a season.
const SPELL: Range = Range::above(0.0, 9600.0);
const SHAPE: Range = Range::within(0.1, 20.0);

const fn observed(name: &'static str, kind: Kind, about: &'static str) -> Key {
    Key::new(name, kind, about).only(OBSERVED)
}

const fn pulses(name: &'static str, kind: Kind, about: &'static str) -> Key {
    Key::new(name, kind, about).only(PULSES)
}

const fn drawn(name: &'static str, kind: Kind, about: &'static str) -> Key {
    Key::new(name, kind, about).only(DRAWN)
}

const fn generated(name: &'static str, kind: Kind, about: &'static str) -> Key {
    Key::new(name, kind, about).only(GENERATED)
}

/// `[weather]`.
pub(super) const WEATHER: Section = Section {
    path: "weather",
    form: Form::Table,
    need: Need::Required,
    switch: "source",
    about: "An observed record, or a generator that gives each season its own weather: rain in spells, or in clustered pulses.",
    keys: &[
        Key::new("source", Kind::Choice(&["generated", "pulses", "observed"]), "Where the weather comes from.")
            .default("\"generated\""),
        Key::new("file", Kind::File, "File of the observed record, relative to the file that names it.").only(OBSERVED),
        Key::new("gaps", Kind::Choice(GAPS), "What to do about hours without a record.")
            .default("\"refuse\"")
            .only(OBSERVED),
        observed("layout", Kind::Choice(LAYOUTS), "How the file is laid out.").default("\"detect\""),
        observed(
            "time_label",
            Kind::Choice(LABELS),
            "Which moment of a step the time of a CSV file names; TMY3 and EPW files name its end.",
        )
        .default("\"start\""),
        observed(
            "rain_unit",
            Kind::Choice(units::RAIN_NAMES),
            "Unit in which the file's depths of rain are written, whatever its header says.",
        )
        .default("\"mm\""),
        observed(
            "temperature_unit",
            Kind::Choice(units::TEMPERATURE_NAMES),
            "Unit in which the file's temperatures and dew points are written.",
        )
        .default("\"degC\""),
        observed(
            "wind_unit",
            Kind::Choice(units::WIND_NAMES),
            "Unit in which the file's winds and gusts are written.",
        )
        .default("\"m/s\""),
        observed(
            "within_hour",
            Kind::Choice(WITHIN_HOUR),
            "How the rain of an hour falls: in spells as long as minute records of winter say for its depth; just as the rain \
             process has it, which is better if it was fitted to steps of ten minutes or less; or evenly. Steps longer than an \
             hour need a rain process unless they fall evenly.",
        )
        .default("\"spells\""),
        observed(
            "years",
            Kind::Choice(YEARS),
            "Which years of the record a season plays: its own, a whole year drawn per season, or one per month.",
        )
        .default("\"calendar\""),
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
        drawn("temperature", Kind::Monthly(&TEMPERATURE, Range::within(-60.0, 60.0)), "Mean air temperature."),
        drawn(
            "temperature_swing",
            Kind::Monthly(&TEMPERATURE_DIFFERENCE, Range::within(0.0, 30.0)),
            "Amplitude of the daily wave: half of the mean daily range.",
        ),
        drawn(
            "temperature_spread",
            Kind::Monthly(&TEMPERATURE_DIFFERENCE, Range::within(0.0, 20.0)),
            "Standard deviation of the slow random part.",
        ),
        drawn(
            "temperature_memory",
            Kind::Quantity(&HOURS, SPELL),
            "Time after which the random part's correlation has fallen to 1/e.",
        )
        .default("\"40 h\""),
        drawn("wind", Kind::Monthly(&SPEED, Range::within(0.0, 40.0)), "Mean wind speed in the record's height."),
        drawn("wind_shape", Kind::Number(SHAPE), "Weibull shape of the wind speed; 2 is the common practice.")
            .default("2.0"),
        drawn(
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
        drawn(
            "clearness",
            Kind::MonthlyNumber(Range::within(0.0, 1.2)),
            "Mean share of the clear-sky light while it does not rain.",
        ),
        drawn("clearness_spread", Kind::Number(Range::within(0.0, 0.5)), "Standard deviation of that share.")
            .default("0.25"),
        pulses(
            "rain_cooling",
            Kind::Quantity(&TEMPERATURE_DIFFERENCE, Range::within(0.0, 15.0)),
            "How much colder a long rain makes the middle of the afternoon.",
        )
        .default("\"4.5 K\""),
        pulses(
            "dryness",
            Kind::Quantity(&TEMPERATURE_DIFFERENCE, Range::within(-5.0, 30.0)),
            "Mean of the coldest temperature of the day minus the dew point.",
        )
        .default("\"1 K\""),
        pulses(
            "dryness_spread",
            Kind::Quantity(&TEMPERATURE_DIFFERENCE, Range::within(0.0, 15.0)),
            "Standard deviation of that difference.",
        )
        .default("\"2 K\""),
        pulses(
            "wind_swing",
            Kind::MonthlyNumber(Range::within(0.0, 0.9)),
            "Amplitude of the wind's daily wave as a share of the mean.",
        )
        .default("0.25"),
        pulses(
            "wind_in_rain",
            Kind::Number(Range::within(0.5, 3.0)),
            "Wind while it rains over wind while it does not.",
        )
        .default("1.2"),
        pulses(
            "roughness",
            Kind::Quantity(&LENGTH, Range::within(0.0001, 2.0)),
            "Roughness length of the ground, for gusts: 0.03 m open grass, 0.3 m gardens.",
        )
        .default("\"0.1 m\""),
        pulses(
            "clearness_in_rain",
            Kind::Number(Range::within(0.0, 1.2)),
            "Share of the clear-sky light while it rains.",
        )
        .default("0.25"),
    ],
};

/// A figure of the rain process, left out where there is none.
const fn process(name: &'static str, kind: Kind, about: &'static str) -> Key {
    Key::new(name, kind, about).absent("no rain process")
}

/// `[weather.rain]`. The bounds are those of a sound fit: beyond them one storm could cover a year, or a closed form
/// would lose its digits.
pub(super) const PROCESS: Section = Section {
    path: "weather.rain",
    form: Form::Table,
    need: Need::Override,
    switch: "",
    about: "Rain as clustered pulses, as `weather fit` writes it: needed for the source \"pulses\"; with \"observed\" it cuts \
            the rain of an hour into showers.",
    keys: &[
        process("storms", Kind::Monthly(&PER_HOUR, Range::within(0.0, 0.5)), "Rate at which storms begin (lambda)."),
        process(
            "depth",
            Kind::Monthly(&RAIN_DEPTH, Range::above(0.0, 200.0)),
            "Mean depth of a cell: its intensity over its rate (iota).",
        ),
        process(
            "shape",
            Kind::MonthlyNumber(Range::within(1.5, 50.0)),
            "Shape of the gamma law of a storm's rate (alpha).",
        ),
        process("scale", Kind::Monthly(&HOURS, Range::within(0.005, 200.0)), "Rate parameter of that law (nu)."),
        process(
            "cells",
            Kind::MonthlyNumber(Range::within(0.0, 12.0)),
            "Births of cells over the storm's rate (kappa).",
        ),
        process(
            "ending",
            Kind::MonthlyNumber(Range::within(0.002, 0.95)),
            "Ending of the storm's window over its rate (phi).",
        ),
        Key::new(
            "intensity_shape",
            Kind::MonthlyNumber(Range::within(0.1, 20.0)),
            "Shape of the gamma law of a cell's intensity; 1 is exponential, below 1 more uneven.",
        )
        .absent("1"),
    ],
};

/// `[weather.shift]`.
pub(super) const SHIFT: Section = Section {
    path: "weather.shift",
    form: Form::Table,
    need: Need::Optional,
    switch: "",
    about: "Changes to the weather, for questions such as a wetter or a windier site.",
    keys: &[
        Key::new(
            "rain",
            Kind::Number(Range::within(0.0, 10.0)),
            "Factor on the amount of rain at the same times; for a file in another unit see rain_unit.",
        )
        .default("1.0"),
        Key::new("spells", Kind::Number(Range::within(0.0, 3.0)), "Factor on the number of rain spells.")
            .default("1.0"),
        Key::new("wind", Kind::Number(Range::within(0.0, 5.0)), "Factor on wind and gusts.").default("1.0"),
        Key::new(
            "warming",
            Kind::Quantity(&TEMPERATURE_DIFFERENCE, Range::within(-20.0, 20.0)),
            "Added to temperature and dew point.",
        )
        .default("\"0 K\""),
    ],
};
