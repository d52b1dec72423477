//! A small grammar of units: products and quotients of named units, each with an optional whole exponent, so that
//! any composed unit ("mm/K", "N/mm", "K/W", "deg/kg", "/d") works and is compared by its dimension.
//!
//! Conversion factors are kept as a numerator and a denominator, so that "40 mm" is 40/1000 rounded once and equals
//! the number 0.04 exactly. Factors: the International System of Units (BIPM brochure, 9th edition, prefixes and
//! table 8 for minute, hour, day, degree); the year is 365.25 days of 86 400 s (Julian year, IAU).

mod names;

use names::{LONG_FORMS, NUMBER, TEMPERATURE, UNITS};

/// Exponents of length, mass, time, current, temperature, angle and light.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dimension([i8; 7]);

/// A unit that was understood: its dimension and its factor to the base units (m, kg, s, A, K, deg, lx).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// Dimension.
    pub dimension: Dimension,
    numerator: f64,
    denominator: f64,
    /// Whether it is a point on the Celsius scale, which is no difference of temperatures.
    pub celsius: bool,
}

/// Why a unit was not understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UnitError {
    /// No unit of this name; the nearest known one, if one is near.
    Unknown(String, Option<&'static str>),
    /// "°C" within a product or quotient, where only a difference (K) makes sense.
    CelsiusInside,
    /// An operator without a unit after it, an exponent out of range, or more than eight factors.
    Malformed,
}

/// Most factors in one unit; keeps the exponents within their type.
const MOST_FACTORS: usize = 8;

impl Unit {
    /// A bare number.
    pub const NONE: Unit = Unit { dimension: Dimension(NUMBER), numerator: 1.0, denominator: 1.0, celsius: false };

    /// Reads a unit such as "m/s", "N/mm", "m2", "/d" or "°C"; "" is a bare number.
    pub fn parse(text: &str) -> Result<Unit, UnitError> {
        let text = text.trim();
        if matches!(text, "°C" | "degC" | "℃") {
            return Ok(Unit { dimension: Dimension(TEMPERATURE), celsius: true, ..Unit::NONE });
        }
        let mut unit = Unit::NONE;
        if text.is_empty() {
            return Ok(unit);
        }
        let product = spelt_out(text);
        let mut divide = false;
        let mut rest = product.as_str();
        if let Some(after) = rest.strip_prefix('/') {
            (divide, rest) = (true, after);
        }
        for _ in 0..MOST_FACTORS {
            let end = rest.find(['/', '*', '·']).unwrap_or(rest.len());
            let (factor, operator) = rest.split_at(end);
            unit = unit.times(Unit::factor(factor.trim())?, divide);
            let Some(next) = operator.chars().next() else {
                return Ok(unit);
            };
            divide = next == '/';
            rest = &operator[next.len_utf8()..];
        }
        Err(UnitError::Malformed)
    }

    /// One named unit with its exponent: "m", "m2", "m^2", "m²".
    fn factor(text: &str) -> Result<Unit, UnitError> {
        if matches!(text, "°C" | "degC" | "℃") {
            return Err(UnitError::CelsiusInside);
        }
        if text.is_empty() {
            return Err(UnitError::Malformed);
        }
        let (symbol, exponent) = match text.char_indices().last() {
            Some((at, '2' | '²')) if at > 0 => (&text[..at], 2),
            Some((at, '3' | '³')) if at > 0 => (&text[..at], 3),
            _ => (text, 1),
        };
        let symbol = symbol.strip_suffix('^').unwrap_or(symbol);
        let Some(&(_, base, numerator, denominator)) = UNITS.iter().find(|unit| unit.0 == symbol) else {
            return Err(UnitError::Unknown(symbol.to_owned(), near(symbol)));
        };
        let one = Unit { dimension: Dimension(base), numerator, denominator, celsius: false };
        Ok((1..exponent).fold(one, |unit, _| unit.times(one, false)))
    }

    fn times(self, other: Unit, divide: bool) -> Unit {
        let mut exponents = self.dimension.0;
        for (mine, theirs) in exponents.iter_mut().zip(other.dimension.0) {
            *mine += if divide { -theirs } else { theirs };
        }
        let (up, down) =
            if divide { (other.denominator, other.numerator) } else { (other.numerator, other.denominator) };
        let (numerator, denominator) = reduce(self.numerator * up, self.denominator * down);
        Unit { dimension: Dimension(exponents), numerator, denominator, celsius: false }
    }

    /// `value` of this unit as a number of `target` units. Both must have the same dimension (the caller checks).
    pub fn convert(self, value: f64, target: Unit) -> f64 {
        let (up, down) = reduce(self.numerator * target.denominator, self.denominator * target.numerator);
        value * up / down
    }

    /// Whether numbers in `self` can be converted to `other`.
    pub fn same_dimension(self, other: Unit) -> bool {
        self.dimension == other.dimension && self.celsius == other.celsius
    }
}

/// A space between two units is a product, as in "N m" (BIPM brochure, 5.2, from memory).
fn spelt_out(text: &str) -> String {
    let operator = |letter: char| matches!(letter, '/' | '*' | '·');
    let mut product = String::new();
    for word in text.split_whitespace() {
        if !product.is_empty() && !product.ends_with(operator) && !word.starts_with(operator) {
            product.push('*');
        }
        product.push_str(word);
    }
    product
}

/// Cancels common factors of two whole numbers, so that equal units convert by exactly one.
fn reduce(numerator: f64, denominator: f64) -> (f64, f64) {
    const WHOLE: f64 = 9_007_199_254_740_992.0; // 2^53: every smaller whole number is exact
    if numerator == denominator {
        return (1.0, 1.0);
    }
    let whole = |x: f64| (1.0..WHOLE).contains(&x) && x.fract() == 0.0;
    if !(whole(numerator) && whole(denominator)) {
        return (numerator, denominator);
    }
    let (mut a, mut b) = (numerator as u64, denominator as u64);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    (numerator / a as f64, denominator / a as f64)
}

/// The unit that was probably meant: the same letters in another case, or a common long form.
fn near(symbol: &str) -> Option<&'static str> {
    let lower = symbol.to_lowercase();
    let long = LONG_FORMS.iter().find(|form| form.0 == symbol || form.0 == lower).map(|form| form.1);
    long.or_else(|| UNITS.iter().map(|unit| unit.0).find(|known| known.to_lowercase() == lower))
}

/// Splits "0.35 m/s" into its number, as written, and what follows. None if it does not begin with a number.
pub fn split_number(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let bytes = text.as_bytes();
    let digits = |mut at: usize| {
        while bytes.get(at).is_some_and(u8::is_ascii_digit) {
            at += 1;
        }
        at
    };
    let start = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let mut end = digits(start);
    let mut count = end - start;
    if bytes.get(end) == Some(&b'.') {
        let after = digits(end + 1);
        count += after - end - 1;
        end = after;
    }
    if count == 0 {
        return None;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = end + 1 + usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let after = digits(sign);
        if after > sign {
            end = after;
        }
    }
    Some((&text[..end], text[end..].trim()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn convert(value: f64, from: &str, to: &str) -> f64 {
        let (from, to) = (Unit::parse(from).unwrap(), Unit::parse(to).unwrap());
        assert!(from.same_dimension(to));
        from.convert(value, to)
    }

    #[test]
    fn factors_agree_with_the_si_brochure() {
        assert_eq!(convert(40.0, "mm", "m"), 0.04);
        assert_eq!(convert(3.6, "km/h", "m/s"), 1.0);
        assert_eq!(convert(1.4, "mm/h", "mm/h"), 1.4);
        assert_eq!(convert(20.0, "N/mm", "N/m"), 20_000.0);
        assert_eq!(convert(1.0, "Wh", "J"), 3600.0);
        assert_eq!(convert(1.0, "cm2", "m2"), 1e-4);
        assert_eq!(convert(180.0, "deg", "rad"), PI);
        assert_eq!(convert(1.0, "V/A", "ohm"), 1.0);
        assert_eq!(convert(1.0, "N·m/s", "W"), 1.0);
        // A torque and a moment of inertia as catalogues write them.
        assert_eq!(convert(1.0, "N m", "J"), 1.0);
        assert_eq!(convert(1.0, "Nm", "N*mm"), 1000.0);
        assert_eq!(convert(1.0, "kg m2", "kg*m2"), 1.0);
        assert_eq!(convert(1.0, "N m / s", "W"), 1.0);
        assert_eq!(convert(1.0, "/d", "/yr"), 365.25);
        assert_eq!(convert(2.0, "kg*m/s^2", "N"), 2.0);
    }

    #[test]
    fn celsius_is_no_difference() {
        assert!(!Unit::parse("°C").unwrap().same_dimension(Unit::parse("K").unwrap()));
        assert_eq!(Unit::parse("mm/°C"), Err(UnitError::CelsiusInside));
    }

    #[test]
    fn nonsense_is_refused() {
        assert_eq!(Unit::parse("m/"), Err(UnitError::Malformed));
        assert_eq!(Unit::parse("m/s/s/s/s/s/s/s/s"), Err(UnitError::Malformed));
        assert_eq!(Unit::parse("KG"), Err(UnitError::Unknown("KG".into(), Some("kg"))));
        assert_eq!(Unit::parse("furlong"), Err(UnitError::Unknown("furlong".into(), None)));
    }

    #[test]
    fn numbers_are_split_off() {
        assert_eq!(split_number("0.35 m/s"), Some(("0.35", "m/s")));
        assert_eq!(split_number("-1e-3mm"), Some(("-1e-3", "mm")));
        assert_eq!(split_number("5em"), Some(("5", "em")));
        assert_eq!(split_number("0.02/d"), Some(("0.02", "/d")));
        assert_eq!(split_number("nan m"), None);
        assert_eq!(split_number("."), None);
        assert_eq!(split_number(""), None);
    }
}
