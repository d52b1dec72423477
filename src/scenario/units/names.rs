//! The named units and the names that people write instead.

use std::f64::consts::PI;

/// No dimension at all.
pub(super) const NUMBER: [i8; 7] = [0; 7];
const LENGTH: [i8; 7] = [1, 0, 0, 0, 0, 0, 0];
const MASS: [i8; 7] = [0, 1, 0, 0, 0, 0, 0];
const TIME: [i8; 7] = [0, 0, 1, 0, 0, 0, 0];
const PER_TIME: [i8; 7] = [0, 0, -1, 0, 0, 0, 0];
const CURRENT: [i8; 7] = [0, 0, 0, 1, 0, 0, 0];
/// Temperature.
pub(super) const TEMPERATURE: [i8; 7] = [0, 0, 0, 0, 1, 0, 0];
const ANGLE: [i8; 7] = [0, 0, 0, 0, 0, 1, 0];
const LIGHT: [i8; 7] = [0, 0, 0, 0, 0, 0, 1];
const FORCE: [i8; 7] = [1, 1, -2, 0, 0, 0, 0];
const ENERGY: [i8; 7] = [2, 1, -2, 0, 0, 0, 0];
const POWER: [i8; 7] = [2, 1, -3, 0, 0, 0, 0];
const VOLTAGE: [i8; 7] = [2, 1, -3, -1, 0, 0, 0];
const RESISTANCE: [i8; 7] = [2, 1, -3, -2, 0, 0, 0];
const CAPACITANCE: [i8; 7] = [-2, -1, 4, 2, 0, 0, 0];

/// Symbol, dimension, numerator, denominator.
pub(super) const UNITS: &[(&str, [i8; 7], f64, f64)] = &[
    ("1", NUMBER, 1.0, 1.0),
    ("%", NUMBER, 1.0, 100.0),
    ("m", LENGTH, 1.0, 1.0),
    ("mm", LENGTH, 1.0, 1000.0),
    ("cm", LENGTH, 1.0, 100.0),
    ("km", LENGTH, 1000.0, 1.0),
    ("kg", MASS, 1.0, 1.0),
    ("g", MASS, 1.0, 1000.0),
    ("s", TIME, 1.0, 1.0),
    ("ms", TIME, 1.0, 1000.0),
    ("us", TIME, 1.0, 1e6),
    // The micro sign and the Greek letter.
    ("\u{b5}s", TIME, 1.0, 1e6),
    ("\u{3bc}s", TIME, 1.0, 1e6),
    ("min", TIME, 60.0, 1.0),
    ("h", TIME, 3600.0, 1.0),
    ("d", TIME, 86_400.0, 1.0),
    ("yr", TIME, 31_557_600.0, 1.0),
    ("Hz", PER_TIME, 1.0, 1.0),
    ("kHz", PER_TIME, 1000.0, 1.0),
    ("A", CURRENT, 1.0, 1.0),
    ("mA", CURRENT, 1.0, 1000.0),
    ("K", TEMPERATURE, 1.0, 1.0),
    ("deg", ANGLE, 1.0, 1.0),
    ("°", ANGLE, 1.0, 1.0),
    ("rad", ANGLE, 180.0, PI),
    ("lx", LIGHT, 1.0, 1.0),
    ("lux", LIGHT, 1.0, 1.0),
    ("klx", LIGHT, 1000.0, 1.0),
    ("N", FORCE, 1.0, 1.0),
    ("kN", FORCE, 1000.0, 1.0),
    ("Nm", ENERGY, 1.0, 1.0),
    ("J", ENERGY, 1.0, 1.0),
    ("kJ", ENERGY, 1000.0, 1.0),
    ("Wh", ENERGY, 3600.0, 1.0),
    ("kWh", ENERGY, 3_600_000.0, 1.0),
    ("W", POWER, 1.0, 1.0),
    ("mW", POWER, 1.0, 1000.0),
    ("kW", POWER, 1000.0, 1.0),
    ("V", VOLTAGE, 1.0, 1.0),
    ("mV", VOLTAGE, 1.0, 1000.0),
    ("ohm", RESISTANCE, 1.0, 1.0),
    ("Ω", RESISTANCE, 1.0, 1.0),
    // The ohm sign of older keyboards is another character than the Greek letter.
    ("\u{2126}", RESISTANCE, 1.0, 1.0),
    ("mohm", RESISTANCE, 1.0, 1000.0),
    ("mΩ", RESISTANCE, 1.0, 1000.0),
    ("kohm", RESISTANCE, 1000.0, 1.0),
    ("pF", CAPACITANCE, 1.0, 1e12),
    ("nF", CAPACITANCE, 1.0, 1e9),
];

/// Written form, name of the unit.
pub(super) const LONG_FORMS: &[(&str, &str)] = &[
    ("sec", "s"),
    ("secs", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("mins", "min"),
    ("minute", "min"),
    ("minutes", "min"),
    ("hr", "h"),
    ("hrs", "h"),
    ("hour", "h"),
    ("hours", "h"),
    ("day", "d"),
    ("days", "d"),
    ("y", "yr"),
    ("a", "yr"),
    ("year", "yr"),
    ("years", "yr"),
    ("metre", "m"),
    ("metres", "m"),
    ("meter", "m"),
    ("meters", "m"),
    ("mps", "m/s"),
    ("kph", "km/h"),
    ("kmh", "km/h"),
    ("C", "°C"),
    ("degrees", "deg"),
    ("degree", "deg"),
    ("ohms", "ohm"),
    ("volt", "V"),
    ("volts", "V"),
    ("watt", "W"),
    ("watts", "W"),
    ("amp", "A"),
    ("amps", "A"),
    ("percent", "%"),
    ("gram", "g"),
    ("grams", "g"),
    ("kilo", "kg"),
    ("newton", "N"),
    ("newtons", "N"),
];
