//! Numbers for people and numbers for machines.
//!
//! For people: the interval says how many digits a figure deserves. The last digit shown is a tenth of the interval's
//! leading digit (width 0.57 gives two decimals), so a reader never sees digits that another run would change
//! entirely. Integer digits are never rounded away. From five digits on, thousands are set apart by a space (the rule
//! of the SI brochure, section 5.4.4). A withheld figure is `-`. Spaces inside a figure are no-break spaces, so that
//! no line ends within one; `table::wrap` turns them into plain ones.
//!
//! For machines: the shortest decimal that reads back as the same number; a withheld figure is empty, never 0 or NaN.

use crate::study::interval::Method;
use crate::study::result::Estimate;

/// What stands for a withheld figure in text.
pub const WITHHELD: &str = "-";

/// A space that no line may end at.
pub const GLUE: char = '\u{a0}';

/// A figure below [`SMALL`] that needs more decimals than this is written with an exponent instead.
const DECIMALS_MOST: i32 = 5;

/// From this magnitude on a figure is written plainly, however many decimals its interval grants.
const SMALL: f64 = 1e-3;

/// Full precision for files: the shortest text that reads back as `value`; empty if it is not finite.
pub fn exact(value: f64) -> String {
    if !value.is_finite() {
        String::new()
    } else if value == 0.0 {
        "0".to_string()
    } else if (1e-6..1e16).contains(&value.abs()) {
        format!("{value}")
    } else {
        format!("{value:e}")
    }
}

/// [`exact`] of a figure that may be withheld.
pub fn exact_or_empty(value: Option<f64>) -> String {
    value.map(exact).unwrap_or_default()
}

/// `value` with `digits` significant digits, all integer digits kept; a whole number stays without decimals.
pub fn significant(value: f64, digits: i32) -> String {
    if value.is_finite() && value == value.trunc() && value.abs() < 1e15 {
        return fixed(value, 0);
    }
    fixed(value, digits - 1 - leading_power(value))
}

/// `text` for a page, where a browser would end a line behind the hyphen of `9.16e-5`: with one that holds.
pub fn unbroken(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = [' '; 2];
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        let exponent = letter == '-' && before[1] == 'e' && before[0].is_ascii_digit();
        let holds = exponent && letters.peek().is_some_and(char::is_ascii_digit);
        out.push(if holds { '\u{2011}' } else { letter });
        before = [before[1], letter];
    }
    out
}

/// `value` with at most four significant digits and no zeros at the end: for figures that somebody chose.
pub fn chosen(value: f64) -> String {
    trimmed(&significant(value, 4)).to_string()
}

/// [`significant`] of a figure that may be withheld.
pub fn significant_or_dash(value: Option<f64>, digits: i32) -> String {
    value.map_or(WITHHELD.to_string(), |value| significant(value, digits))
}

/// The mean of an estimate, with the digits that its interval grants.
pub fn mean(estimate: &Estimate) -> String {
    match digits_of(estimate) {
        Some(decimals) => fixed_beside(estimate.mean, decimals, largest_of(estimate)),
        None => significant(estimate.mean, 3),
    }
}

/// The interval of an estimate as `0.95 to 1.52`; `-` if there is none.
pub fn interval(estimate: &Estimate) -> String {
    match (&estimate.interval, digits_of(estimate)) {
        (Some(it), Some(decimals)) => {
            let show = |end: f64| fixed_beside(end, decimals, largest_of(estimate));
            format!("{} to {}", show(it.low), show(it.high))
        }
        (Some(it), None) if it.low.is_finite() && it.high.is_finite() => {
            format!("{} to {}", significant(it.low, 3), significant(it.high, 3))
        }
        _ => WITHHELD.to_string(),
    }
}

/// A figure and its interval, with the digits that the interval grants: `1.20` and `0.95 to 1.52`; `-` if it has none.
pub fn figure_and_ends(value: f64, ends: Option<(f64, f64)>) -> (String, String) {
    match (ends, ends.and_then(|(low, high)| digits(value, high - low))) {
        (Some((low, high)), Some(decimals)) => {
            let show = |figure: f64| fixed_beside(figure, decimals, largest(&[value, low, high]));
            (show(value), format!("{} to {}", show(low), show(high)))
        }
        _ => (significant(value, 3), WITHHELD.to_string()),
    }
}

/// Mean and interval as `1.20 (0.95 to 1.52)`; the mean alone if there is no interval.
pub fn mean_and_interval(estimate: &Estimate) -> String {
    match interval(estimate) {
        none if none == WITHHELD => mean(estimate),
        interval => format!("{} ({interval})", mean(estimate)),
    }
}

/// Name of an interval's method in files and texts.
pub fn method_name(method: Method) -> &'static str {
    match method {
        Method::Poisson => "exact Poisson",
        Method::StudentT => "Student t",
        Method::Bootstrap => "bootstrap",
        Method::Wilson => "Wilson",
        Method::ClopperPearson => "Clopper-Pearson",
        Method::Unmatched => "exact Poisson, unmatched events",
    }
}

/// A unit as people write it.
pub fn unit_text(unit: &str) -> &str {
    if unit == "degC" { "°C" } else { unit }
}

/// A unit as part of a column name; empty for a bare number.
pub fn unit_in_name(unit: &str) -> String {
    match unit {
        "" => String::new(),
        "%" => "_percent".to_string(),
        other => format!("_{}", other.to_lowercase()),
    }
}

/// `value` and its unit as text: `12 min`, `80 %`, `3`.
pub fn with_unit(value: &str, unit: &str) -> String {
    if unit.is_empty() { value.to_string() } else { format!("{value}{GLUE}{}", unit_text(unit)) }
}

/// A share of 0 to 1 as a percentage, `95 %`, with as many decimals as it needs up to two; more where two would make it all.
pub fn percent(share: f64) -> String {
    let decimals = (2..6).find(|decimals| share >= 1.0 || 1.0 - share >= 0.5 * 0.1_f64.powi(decimals + 2)).unwrap_or(6);
    let text = format!("{:.*}", decimals as usize, share * 100.0);
    format!("{}{GLUE}%", trimmed(&text))
}

/// A share as a percentage of at most three digits, however small.
pub fn share(share: f64) -> String {
    format!("{}{GLUE}%", trimmed(&significant(share * 100.0, 3)))
}

/// A whole number with its thousands set apart.
pub fn whole(value: u64) -> String {
    grouped(&value.to_string())
}

/// A plural s where it is due: `counted(1, "season")` is `1 season`.
pub fn counted(count: u64, noun: &str) -> String {
    format!("{} {noun}{}", whole(count), if count == 1 { "" } else { "s" })
}

/// Decimals that the interval grants; none without an interval of positive, finite width.
fn digits_of(estimate: &Estimate) -> Option<i32> {
    digits(estimate.mean, estimate.interval.map(|it| it.high - it.low)?)
}

/// Decimals of a figure whose interval has this width; none if that is not positive and finite.
fn digits(value: f64, width: f64) -> Option<i32> {
    // A width in a figure's last digits is rounding, not doubt.
    (width > 1e-9 * value.abs() && width > 0.0 && width.is_finite()).then(|| 1 - leading_power(width))
}

/// Largest magnitude among an estimate's mean and the ends of its interval.
fn largest_of(estimate: &Estimate) -> f64 {
    let ends = estimate.interval.as_ref().map_or([0.0; 2], |it| [it.low, it.high]);
    largest(&[estimate.mean, ends[0], ends[1]])
}

fn largest(figures: &[f64]) -> f64 {
    figures.iter().filter(|figure| figure.is_finite()).fold(0.0, |most, figure| figure.abs().max(most))
}

/// Power of ten of the leading digit; 0 for 0 and for what is not finite.
fn leading_power(value: f64) -> i32 {
    if value == 0.0 || !value.is_finite() { 0 } else { value.abs().log10().floor() as i32 }
}

/// `value` with `decimals` decimals (0 if negative), thousands set apart, no minus before a zero.
fn fixed(value: f64, decimals: i32) -> String {
    fixed_beside(value, decimals, value.abs())
}

/// The same in the company of figures of which the largest has this magnitude: all of them are written in one way.
fn fixed_beside(value: f64, decimals: i32, largest: f64) -> String {
    if !value.is_finite() {
        return WITHHELD.to_string();
    }
    if value == 0.0 {
        return "0".to_string();
    }
    if (decimals > DECIMALS_MOST && largest < SMALL) || value.abs() >= 1e15 {
        let digits = (decimals + leading_power(value)).clamp(0, 15) as usize;
        return format!("{value:.digits$e}");
    }
    let text = format!("{value:.*}", decimals.max(0) as usize);
    let is_zero = text.chars().all(|c| !c.is_ascii_digit() || c == '0');
    grouped(if is_zero { text.trim_start_matches('-') } else { &text })
}

/// A decimal text without zeros at the end of its fraction.
fn trimmed(text: &str) -> &str {
    if text.contains('.') && !text.contains('e') { text.trim_end_matches('0').trim_end_matches('.') } else { text }
}

/// Sets the thousands of a decimal text apart, from five integer digits on.
fn grouped(text: &str) -> String {
    let (sign, rest) = text.strip_prefix('-').map_or(("", text), |rest| ("-", rest));
    let (integer, fraction) = rest.find('.').map_or((rest, ""), |dot| rest.split_at(dot));
    if integer.len() < 5 {
        return text.to_string();
    }
    let mut spaced = String::from(sign);
    for (index, digit) in integer.chars().enumerate() {
        if index > 0 && (integer.len() - index).is_multiple_of(3) {
            spaced.push(GLUE);
        }
        spaced.push(digit);
    }
    spaced + fraction
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::metric::Key;
    use crate::study::interval::Interval;

    #[test]
    fn exponents_hold_together_on_a_page() {
        assert_eq!(unbroken("9.16e-5 of e-mail, 2e-x, -3e-12"), "9.16e\u{2011}5 of e-mail, 2e-x, -3e\u{2011}12");
    }

    fn estimate(mean: f64, ends: Option<(f64, f64)>) -> Estimate {
        let interval = ends.map(|(low, high)| Interval { low, high, confidence: 0.95, method: Method::Poisson });
        Estimate {
            key: Key::Contacts,
            seasons: 9,
            mean,
            interval,
            spread: None,
            quantiles: [None; 3],
            range: (0.0, 0.0),
        }
    }

    #[test]
    fn the_interval_grants_the_digits() {
        assert_eq!(mean_and_interval(&estimate(1.2034, Some((0.951, 1.5249)))), "1.20 (0.95 to 1.52)");
        assert_eq!(mean_and_interval(&estimate(5134.2, Some((5130.0, 5138.9)))), "5134.2 (5130.0 to 5138.9)");
        assert_eq!(
            mean_and_interval(&estimate(51342.4, Some((51100.0, 51500.0)))),
            "51\u{a0}342 (51\u{a0}100 to 51\u{a0}500)"
        );
        assert_eq!(mean_and_interval(&estimate(0.0, Some((0.0, 0.01844)))), "0 (0 to 0.018)");
    }

    #[test]
    fn without_an_interval_the_mean_stands_alone() {
        assert_eq!(mean_and_interval(&estimate(1.0 / 3.0, None)), "0.333");
        assert_eq!(interval(&estimate(2.0, None)), "-");
        assert_eq!(mean_and_interval(&estimate(7.0, Some((7.0, 7.0)))), "7 (7 to 7)");
    }

    #[test]
    fn no_minus_before_a_zero() {
        assert_eq!(fixed(-0.0, 2), "0");
        assert_eq!(fixed(-0.001, 2), "0.00");
        assert_eq!(fixed(-0.006, 2), "-0.01");
        assert_eq!(exact(-0.0), "0");
    }

    #[test]
    fn withheld_is_a_dash_for_people_and_empty_for_machines() {
        assert_eq!(significant_or_dash(None, 3), "-");
        assert_eq!(significant(f64::NAN, 3), "-");
        assert_eq!(exact_or_empty(None), "");
        assert_eq!(exact(f64::NAN), "");
        assert_eq!(exact(f64::INFINITY), "");
    }

    #[test]
    fn thousands_are_set_apart_from_five_digits_on() {
        assert_eq!(whole(9_999), "9999");
        assert_eq!(whole(10_000), "10\u{a0}000");
        assert_eq!(whole(1_234_567), "1\u{a0}234\u{a0}567");
        assert_eq!(fixed(-12_345.678, 1), "-12\u{a0}345.7");
    }

    #[test]
    fn small_numbers_get_an_exponent() {
        assert_eq!(significant(1.234e-7, 2), "1.2e-7");
        assert_eq!(significant(0.001234, 2), "0.0012");
        assert_eq!(mean_and_interval(&estimate(3.14159e-7, Some((3.1e-7, 3.2e-7)))), "3.14e-7 (3.10e-7 to 3.20e-7)");
        assert_eq!(chosen(0.02), "0.02");
        assert_eq!(chosen(1200.0), "1200");
    }

    /// Only the magnitude calls for an exponent, not the digits that a narrow interval grants.
    #[test]
    fn plain_decimals_from_a_thousandth_on() {
        let narrow = estimate(1.840_005, Some((1.84, 1.840_024)));
        assert_eq!(mean_and_interval(&narrow), "1.840005 (1.840000 to 1.840024)");
        let narrow = estimate(0.685_933, Some((0.685_91, 0.685_957)));
        assert_eq!(mean_and_interval(&narrow), "0.685933 (0.685910 to 0.685957)");
        let (value, ends) = figure_and_ends(12_345.678_912, Some((12_345.678_9, 12_345.678_92)));
        assert_eq!((value.as_str(), ends.as_str()), ("12\u{a0}345.678912", "12\u{a0}345.678900 to 12\u{a0}345.678920"));
        // A lower end below a thousandth is written like its mean.
        assert_eq!(
            mean_and_interval(&estimate(0.00101, Some((0.000_99, 0.001_03)))),
            "0.001010 (0.000990 to 0.001030)"
        );
        assert_eq!(significant(0.001_234_56, 4), "0.001235");
        assert_eq!(mean_and_interval(&estimate(9.9e-4, Some((9.8e-4, 9.99e-4)))), "9.90e-4 (9.80e-4 to 9.99e-4)");
    }

    #[test]
    fn exact_reads_back() {
        for value in [0.1 + 0.2, 1e-9, 6.02214076e23, -123.456, 1.0 / 3.0, f64::MIN_POSITIVE, f64::MAX] {
            assert_eq!(exact(value).parse::<f64>().unwrap().to_bits(), value.to_bits());
        }
    }

    #[test]
    fn percentages_are_short() {
        assert_eq!(percent(0.95), "95\u{a0}%");
        assert_eq!(percent(0.995), "99.5\u{a0}%");
        assert_eq!(percent(0.9999), "99.99\u{a0}%");
        assert_eq!(percent(0.999_97), "99.997\u{a0}%");
        assert_eq!(percent(1.0), "100\u{a0}%");
    }
}
