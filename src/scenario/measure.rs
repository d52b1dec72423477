//! Quantities as the scenario writes them: what is wanted, how it is read, how it is shown.

use super::error::Trouble;
use super::units::{Unit, UnitError, split_number};

/// What a quantity must be: its name in messages, its canonical unit and other usual ones, an example.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    /// With its article, as it stands in messages: "a speed".
    pub name: &'static str,
    /// The unit in which the resolved scenario keeps it.
    pub unit: &'static str,
    /// Other usual units.
    pub also: &'static [&'static str],
    /// The number of an example.
    pub example: &'static str,
}

macro_rules! measures {
    ($($id:ident: $name:literal, $unit:literal, [$($also:literal),*], $example:literal;)*) => {
        $(
            #[doc = concat!("Kept in ", $unit, ".")]
            pub const $id: Measure =
                Measure { name: $name, unit: $unit, also: &[$($also),*], example: $example };
        )*
        /// All measures; the first of several with one dimension names that dimension in messages.
        pub const ALL: &[Measure] = &[$($id),*];
    };
}

measures! {
    LENGTH: "a length", "m", ["mm"], "0.35 m";
    SPEED: "a speed", "m/s", ["mm/s", "km/h"], "0.35 m/s";
    MASS: "a mass", "kg", ["g"], "11 kg";
    DURATION: "a duration", "s", ["ms", "min", "h", "d"], "12 s";
    HOURS: "a duration", "h", ["min", "d"], "3 h";
    DAYS: "a duration", "d", ["h"], "14 d";
    ANGLE: "an angle", "deg", ["rad"], "15 deg";
    AREA: "an area", "m2", ["cm2"], "0.4 m2";
    FORCE: "a force", "N", ["kN"], "60 N";
    STIFFNESS: "a stiffness", "N/m", ["N/mm"], "20 N/mm";
    ENERGY: "an energy", "J", ["Wh"], "1.7 J";
    BATTERY: "an energy", "Wh", ["kWh"], "100 Wh";
    WEAR_FACTOR: "a wear factor", "mm3/N/m", [], "1e-6 mm3/N/m";
    TORQUE: "a torque", "N*m", ["N*mm"], "0.05 N*m";
    INERTIA: "a moment of inertia", "kg*m2", ["g*m2"], "5e-6 kg*m2";
    CAPACITANCE: "a capacitance", "pF", ["nF"], "50 pF";
    CAPACITANCE_PER_LENGTH: "a capacitance per length", "pF/m", [], "60 pF/m";
    VOLTAGE: "a voltage", "V", ["mV"], "24 V";
    CURRENT: "a current", "A", ["mA"], "4 A";
    POWER: "a power", "W", ["mW", "kW"], "60 W";
    RESISTANCE: "a resistance", "ohm", ["mohm", "kohm"], "0.3 ohm";
    HEAT_CAPACITY: "a heat capacity", "J/K", [], "60 J/K";
    HEAT_RESISTANCE: "a thermal resistance", "K/W", [], "2.5 K/W";
    TEMPERATURE: "a temperature", "°C", ["degC"], "20 °C";
    TEMPERATURE_DIFFERENCE: "a temperature difference", "K", [], "4 K";
    RATE: "a rate", "Hz", ["kHz"], "10 Hz";
    PER_HOUR: "a rate", "/h", ["/d"], "0.05 /h";
    PER_DAY: "a rate", "/d", ["/h", "/yr"], "0.5 /d";
    PER_YEAR: "a rate", "/yr", ["/d"], "2 /yr";
    RAIN_DEPTH: "a rain depth", "mm", ["cm"], "1.4 mm";
    INTENSITY: "a rain intensity", "mm/h", [], "1.4 mm/h";
    TILT_PER_LOAD: "a tilt per load", "deg/kg", [], "0.05 deg/kg";
    LENGTH_PER_KELVIN: "a length per kelvin", "m/K", ["mm/K"], "0.2 mm/K";
    MASS_PER_KELVIN: "a mass per kelvin", "kg/K", ["g/K"], "0.01 kg/K";
    ANGLE_PER_KELVIN: "an angle per kelvin", "deg/K", [], "0.01 deg/K";
    INTENSITY_PER_KELVIN: "a rain intensity per kelvin", "mm/h/K", [], "0.01 mm/h/K";
    LENGTH_PER_DAY: "a length per day", "m/d", ["mm/d"], "1 mm/d";
    MASS_PER_DAY: "a mass per day", "kg/d", ["g/d"], "0.01 kg/d";
    ANGLE_PER_DAY: "an angle per day", "deg/d", [], "0.01 deg/d";
    INTENSITY_PER_DAY: "a rain intensity per day", "mm/h/d", [], "0.01 mm/h/d";
}

/// Largest number that a scenario may contain; nothing physical here comes near it.
pub const LARGEST: f64 = 1e15;

impl Measure {
    /// Reads `text` and converts it to the canonical unit.
    ///
    /// # Errors
    /// What is wrong with it, ready to be shown: no number, no unit, an unknown unit, another dimension, a number
    /// beyond [`LARGEST`] or not a number.
    pub fn read(&self, text: &str) -> Result<f64, Trouble> {
        let wanted = format!("expected {} such as \"{}\", found \"{}\"", self.name, self.example, shorten(text));
        read_in(text, self.unit, &wanted, self.also)
    }

    /// The complaint about a number without a unit, `written` as it stands in the file.
    pub fn bare(&self, written: &str) -> Trouble {
        let wanted =
            format!("expected {} such as \"{}\", found {} without a unit", self.name, self.example, shorten(written));
        Trouble::new(wanted)
            .help(format!("write \"{} {}\" (with the quotes) if {} is meant", written, self.unit, self.unit))
    }

    /// `value` in the unit that shows it shortest without changing it; reading it back gives the same number.
    pub fn show(&self, value: f64) -> String {
        let own = self.parsed();
        // Nobody thinks of 100 minutes as 6000 s, whatever the length of the unit's name.
        let time = own.same_dimension(DURATION.parsed());
        let length = |number: &str, unit: &str| number.len() + if time { 0 } else { unit.chars().count() };
        let number = value.to_string();
        let mut best = (length(&number, self.unit), format!("{number} {}", self.unit));
        for symbol in self.also {
            let Ok(unit) = Unit::parse(symbol) else { continue };
            let number = own.convert(value, unit).to_string();
            let text = format!("{number} {symbol}");
            let length = length(&number, symbol);
            if length < best.0 && self.read(&text).is_ok_and(|back| back == value) {
                best = (length, text);
            }
        }
        best.1
    }
}

/// Reads a quantity in any unit that fits `unit`, for limits whose unit comes from a list of metrics.
///
/// # Errors
/// As [`Measure::read`].
pub fn read_as(text: &str, unit: &str) -> Result<f64, Trouble> {
    let kind = describe(Unit::parse(unit).unwrap_or(Unit::NONE));
    let wanted = if unit.is_empty() {
        format!("expected a plain number, found \"{}\"", shorten(text))
    } else {
        format!("expected {kind} such as \"1 {unit}\", found \"{}\"", shorten(text))
    };
    read_in(text, unit, &wanted, &[])
}

fn read_in(text: &str, unit: &str, wanted: &str, also: &[&str]) -> Result<f64, Trouble> {
    let Some((digits, rest)) = split_number(text) else {
        return Err(Trouble::new(wanted.to_owned()));
    };
    if rest.starts_with(',') {
        return Err(Trouble::new(wanted.to_owned()).help("write a decimal point, not a comma"));
    }
    let own = Unit::parse(unit).unwrap_or(Unit::NONE);
    if rest.is_empty() && own != Unit::NONE {
        return Err(
            Trouble::new(format!("{wanted} (no unit)")).help(format!("write \"{digits} {unit}\" if {unit} is meant"))
        );
    }
    let given = Unit::parse(rest).map_err(|error| unit_trouble(&error, wanted, rest, unit, also))?;
    if !given.same_dimension(own) {
        let mut trouble = Trouble::new(format!("{wanted} ({})", describe(given)));
        if given.celsius && unit == "K" {
            trouble = trouble.help("write a difference of temperatures in K");
        } else if own.celsius && given.same_dimension(TEMPERATURE_DIFFERENCE.parsed()) {
            trouble = trouble.help("write a temperature in °C (or degC)");
        } else if rest == "m" && own.same_dimension(DURATION.parsed()) {
            trouble = trouble.help("\"m\" is the metre; a minute is \"min\"");
        }
        return Err(trouble);
    }
    let number: f64 = digits.parse().map_err(|_| Trouble::new(wanted.to_owned()))?;
    let value = given.convert(number, own);
    if !(number.abs() <= LARGEST && value.abs() <= LARGEST) {
        return Err(Trouble::new(format!("the number {} is too large", shorten(digits)))
            .help("numbers up to 1e15 are accepted"));
    }
    Ok(value)
}

impl Measure {
    fn parsed(&self) -> Unit {
        Unit::parse(self.unit).unwrap_or(Unit::NONE)
    }
}

fn unit_trouble(error: &UnitError, wanted: &str, rest: &str, unit: &str, also: &[&str]) -> Trouble {
    let units: Vec<&str> = std::iter::once(unit).chain(also.iter().copied()).collect();
    let units = units.join(", ");
    match error {
        UnitError::Unknown(symbol, near) => {
            let trouble = Trouble::new(format!("{wanted}: the unit \"{}\" is not known", shorten(symbol)));
            match near {
                Some(near) => trouble.help(format!("did you mean \"{near}\"? Usual units here: {units}")),
                None => trouble.help(format!("usual units here: {units}")),
            }
        }
        UnitError::CelsiusInside => {
            Trouble::new(format!("{wanted}: °C cannot stand within \"{}\"", shorten(rest))).help("write K instead")
        }
        UnitError::Malformed => Trouble::new(format!("{wanted}: \"{}\" is not a unit", shorten(rest)))
            .help(format!("usual units here: {units}")),
    }
}

/// What something of this unit is, in words: "a length".
fn describe(unit: Unit) -> &'static str {
    if unit.same_dimension(Unit::NONE) {
        return "a plain number";
    }
    ALL.iter().find(|measure| measure.parsed().same_dimension(unit)).map_or("another quantity", |measure| measure.name)
}

/// At most forty characters of something a file contains, for messages; control characters are escaped.
pub(crate) fn shorten(text: &str) -> String {
    let mut short: String = text
        .chars()
        .take(40)
        .flat_map(|c| if c.is_control() { c.escape_default().collect::<Vec<_>>() } else { vec![c] })
        .collect();
    if text.chars().count() > 40 {
        short.push('…');
    }
    short
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn message(measure: Measure, text: &str) -> String {
        measure.read(text).unwrap_err().message
    }

    #[test]
    fn messages_say_what_is_wanted_and_what_was_found() {
        assert_eq!(message(SPEED, "0.35 m"), "expected a speed such as \"0.35 m/s\", found \"0.35 m\" (a length)");
        assert_eq!(message(SPEED, "0.35"), "expected a speed such as \"0.35 m/s\", found \"0.35\" (no unit)");
        assert_eq!(message(LENGTH, "1e400 m"), "the number 1e400 is too large");
        assert_eq!(message(LENGTH, "2e15 m"), "the number 2e15 is too large");
        assert!(LENGTH.read("nan m").is_err() && LENGTH.read("inf m").is_err());
        assert_eq!(SPEED.bare("0.35").help.unwrap(), "write \"0.35 m/s\" (with the quotes) if m/s is meant");
    }

    #[test]
    fn temperatures_and_differences_are_told_apart() {
        assert_eq!(TEMPERATURE.read("-1 °C").unwrap(), -1.0);
        assert_eq!(TEMPERATURE.read("-1 degC").unwrap(), -1.0);
        assert!(message(TEMPERATURE, "5 K").ends_with("(a temperature difference)"));
        assert!(message(TEMPERATURE_DIFFERENCE, "5 °C").ends_with("(a temperature)"));
    }

    #[test]
    fn the_shortest_exact_unit_is_shown() {
        assert_eq!(LENGTH.show(0.02), "20 mm");
        assert_eq!(LENGTH.show(0.25), "0.25 m");
        assert_eq!(DURATION.show(3600.0), "1 h");
        assert_eq!(DURATION.show(6000.0), "100 min");
        assert_eq!(DURATION.show(90.0), "90 s");
        assert_eq!(DURATION.show(0.1), "0.1 s");
        assert_eq!(STIFFNESS.show(20_000.0), "20 N/mm");
    }

    #[test]
    fn every_measure_reads_its_own_example() {
        for measure in ALL {
            assert!(measure.read(measure.example).is_ok(), "{measure:?}");
            for unit in measure.also {
                assert!(measure.read(&format!("1 {unit}")).is_ok(), "{measure:?} {unit}");
            }
        }
    }

    proptest! {
        #[test]
        fn what_is_shown_reads_back_the_same(index in 0..ALL.len(), value in -1e9..1e9_f64, scale in -12..6_i32) {
            let (measure, value) = (ALL[index], value * 10f64.powi(scale));
            let text = measure.show(value);
            let back = measure.read(&text).unwrap();
            prop_assert_eq!(back, value);
            prop_assert_eq!(measure.show(back), text);
        }

        #[test]
        fn any_text_is_read_or_refused(text in ".{0,40}", index in 0..ALL.len()) {
            let _ = ALL[index].read(&text);
        }
    }
}
