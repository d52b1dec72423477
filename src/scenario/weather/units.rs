//! Units in which a weather file's columns are written.

/// A unit: how a scenario names it and what it makes of a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// Its name.
    pub name: &'static str,
    /// Its number for zero of the program's unit.
    zero: f64,
    /// The program's unit over it.
    factor: f64,
}

impl Unit {
    const fn new(name: &'static str, factor: f64) -> Unit {
        Unit { name, zero: 0.0, factor }
    }

    /// A number of the file in the program's unit.
    pub fn value(&self, found: f64) -> f64 {
        (found - self.zero) * self.factor
    }
}

/// Units of depth, the program's first.
pub const RAIN: [Unit; 6] = [
    Unit::new("mm", 1.0),
    Unit::new("0.1 mm", 0.1),
    Unit::new("cm", 10.0),
    Unit::new("m", 1_000.0),
    Unit::new("in", 25.4),
    Unit::new("0.01 in", 0.254),
];

/// Units of temperature and dew point, the program's first.
pub const TEMPERATURE: [Unit; 3] = [
    Unit::new("degC", 1.0),
    Unit { name: "degF", zero: 32.0, factor: 1.0 / 1.8 },
    Unit { name: "K", zero: 273.15, factor: 1.0 },
];

/// Units of wind and gusts, the program's first: an international mile is 1,609.344 m, a nautical one 1,852 m.
pub const WIND: [Unit; 4] = [
    Unit::new("m/s", 1.0),
    Unit::new("km/h", 1.0 / 3.6),
    Unit::new("mph", 0.44704),
    Unit::new("knots", 1_852.0 / 3_600.0),
];

/// Names of [`RAIN`].
pub const RAIN_NAMES: &[&str] = &names(&RAIN);
/// Names of [`TEMPERATURE`].
pub const TEMPERATURE_NAMES: &[&str] = &names(&TEMPERATURE);
/// Names of [`WIND`].
pub const WIND_NAMES: &[&str] = &names(&WIND);

const fn names<const N: usize>(units: &[Unit; N]) -> [&'static str; N] {
    let mut names = [""; N];
    let mut index = 0;
    while index < N {
        names[index] = units[index].name;
        index += 1;
    }
    names
}

/// The unit of a name; the program's for none of the list.
pub fn named(units: &[Unit], name: &str) -> Unit {
    units.iter().find(|unit| unit.name == name).copied().unwrap_or(units[0])
}

/// Units of a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Units {
    /// Of depths of rain.
    pub rain: Unit,
    /// Of temperature and dew point.
    pub temperature: Unit,
    /// Of wind and gusts.
    pub wind: Unit,
}

impl Default for Units {
    fn default() -> Units {
        Units { rain: RAIN[0], temperature: TEMPERATURE[0], wind: WIND[0] }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_convert() {
        let value = |units: &[Unit], name: &str, found: f64| named(units, name).value(found);
        assert_eq!((value(&RAIN, "in", 2.0), value(&RAIN, "0.1 mm", 25.0), value(&RAIN, "mm", 0.3)), (50.8, 2.5, 0.3));
        assert!((value(&RAIN, "0.01 in", 100.0) - 25.4).abs() < 1e-12);
        assert_eq!((value(&RAIN, "cm", 2.5), value(&RAIN, "m", 0.25)), (25.0, 250.0));
        assert!((value(&TEMPERATURE, "degF", 212.0) - 100.0).abs() < 1e-12);
        assert!((value(&TEMPERATURE, "K", 283.15) - 10.0).abs() < 1e-12);
        assert!(
            (value(&WIND, "km/h", 36.0) - 10.0).abs() < 1e-12 && (value(&WIND, "mph", 10.0) - 4.4704).abs() < 1e-12
        );
        assert!((value(&WIND, "knots", 1.0) - 0.514444).abs() < 1e-6);
        assert_eq!(RAIN_NAMES.len() + TEMPERATURE_NAMES.len() + WIND_NAMES.len(), 13);
    }
}
