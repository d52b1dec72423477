//! What a key's value must be.

use crate::scenario::measure::{self, Measure};

/// A range of numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Lower bound.
    pub min: f64,
    /// Whether the lower bound itself is excluded.
    pub above: bool,
    /// Upper bound, included.
    pub max: f64,
}

impl Range {
    /// From `min` to `max`, both included.
    pub const fn within(min: f64, max: f64) -> Range {
        Range { min, above: false, max }
    }

    /// More than `min`, at most `max`.
    pub const fn above(min: f64, max: f64) -> Range {
        Range { min, above: true, max }
    }

    /// Whether `value` lies in it; not-a-number does not.
    pub fn contains(&self, value: f64) -> bool {
        value <= self.max && if self.above { value > self.min } else { value >= self.min }
    }

    /// In words, each bound shown by `show`.
    pub fn describe(&self, show: impl Fn(f64) -> String) -> String {
        let low = if self.above { "more than" } else { "at least" };
        format!("{low} {} and at most {}", show(self.min), show(self.max))
    }
}

/// What a figure in a sensor's reading unit is counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// Nothing.
    One,
    /// A kelvin.
    Kelvin,
    /// A day.
    Day,
}

/// What a key's value must be.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// A quantity.
    Quantity(&'static Measure, Range),
    /// A quantity or this word.
    QuantityOr(&'static str, &'static Measure, Range),
    /// One quantity or twelve.
    Monthly(&'static Measure, Range),
    /// One plain number or twelve.
    MonthlyNumber(Range),
    /// A list of this many quantities.
    Quantities(&'static Measure, usize, Range),
    /// A quantity in the unit of the sensor's readings.
    Reading(Per, Range),
    /// A mean and a standard deviation.
    Spread(&'static Measure, Range),
    /// A plain number; "5 %" stands for 0.05.
    Number(Range),
    /// A list of this many plain numbers.
    Numbers(usize, Range),
    /// A whole number.
    Integer(i64, i64),
    /// `true` or `false`.
    Flag,
    /// A name, unique within its list.
    Name,
    /// The name of an entry of another section.
    NameOf(&'static str),
    /// The scenario's name: also the name of a folder.
    FolderName,
    /// One line of text.
    Line,
    /// The path of a file.
    File,
    /// Paths of files.
    Files,
    /// A time zone of the IANA database.
    TimeZone,
    /// The key of a metric.
    Metric,
    /// A number in the metric's unit.
    MetricValue,
    /// One of these.
    Choice(&'static [&'static str]),
    /// A list of some of these, at least one.
    Choices(&'static [&'static str]),
    /// Days of the week.
    Days,
    /// A time of day.
    TimeOfDay,
    /// A local date.
    Date,
    /// "k of n".
    Rule,
    /// A condition over detectors.
    Condition,
}

impl Kind {
    /// What is expected, in words.
    pub fn expected(&self) -> String {
        let plain = |value: f64| format!("{value}");
        match self {
            Kind::Quantity(measure, range) => {
                format!("{}, {}", such_as(measure), range.describe(|value| measure.show(value)))
            }
            Kind::QuantityOr(word, measure, range) => {
                format!("{}, {}, or \"{word}\"", such_as(measure), range.describe(|value| measure.show(value)))
            }
            Kind::Monthly(measure, range) => {
                format!(
                    "{}, {}; one or a list of twelve",
                    such_as(measure),
                    range.describe(|value| measure.show(value))
                )
            }
            Kind::MonthlyNumber(range) => format!("a number {}; one or a list of twelve", range.describe(plain)),
            Kind::Quantities(measure, count, _) => format!("a list of {count} quantities, each {}", such_as(measure)),
            Kind::Reading(per, _) => {
                let per = match per {
                    Per::One => "",
                    Per::Kelvin => " per kelvin",
                    Per::Day => " per day",
                };
                format!("a quantity in the unit of the sensor's readings{per}")
            }
            Kind::Spread(measure, range) => format!(
                "a table {{ mean, spread }}, each {}; the mean {}",
                such_as(measure),
                range.describe(|value| measure.show(value))
            ),
            Kind::Number(range) => format!("a number {}", range.describe(plain)),
            Kind::Numbers(count, range) => format!("a list of {count} numbers, each {}", range.describe(plain)),
            Kind::Integer(min, max) => format!("a whole number from {min} to {max}"),
            Kind::Flag => "true or false".to_owned(),
            Kind::Name => "a name of 1 to 64 characters".to_owned(),
            Kind::NameOf(section) => format!("the name of a {section}"),
            Kind::FolderName => "a name of letters, digits, - and _".to_owned(),
            Kind::Line => "one line of text".to_owned(),
            Kind::File => "the path of a file".to_owned(),
            Kind::Files => "a list of paths of files".to_owned(),
            Kind::TimeZone => "a time zone such as \"Europe/Vienna\"".to_owned(),
            Kind::Metric => "the key of a metric such as \"missed_arrivals\"".to_owned(),
            Kind::MetricValue => "a number, or a quantity in a unit of the metric".to_owned(),
            Kind::Choice(choices) => quoted(choices, " or "),
            Kind::Choices(choices) => format!("a list of some of {}", quoted(choices, " and ")),
            Kind::Days => {
                "a list of days such as [\"mon\", \"fri\"], or \"every day\", \"weekdays\" or \"weekend\"".to_owned()
            }
            Kind::TimeOfDay => "a time of day such as \"09:30\"".to_owned(),
            Kind::Date => "a date such as 2025-04-01 (without quotes)".to_owned(),
            Kind::Rule => "a rule such as \"3 of 5\", of at most 64".to_owned(),
            Kind::Condition => {
                "a condition: the name of a detector, \"always\", \"never\", or a table such as { any = [...] }"
                    .to_owned()
            }
        }
    }
}

fn such_as(measure: &Measure) -> String {
    format!("{} such as \"{}\"", measure.name, measure.example)
}

/// A list of words in quotes, the last joined by `last`.
pub(crate) fn quoted(words: &[&str], last: &str) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    match quoted.split_last() {
        Some((end, rest)) if !rest.is_empty() => format!("{}{last}{end}", rest.join(", ")),
        _ => quoted.join(""),
    }
}

/// The measure of a figure in the reading unit of this kind of sensor; none for kinds without analogue readings.
pub fn reading_measure(sensor_kind: &str, per: Per) -> Option<&'static Measure> {
    let of = match sensor_kind {
        "optical range" | "ultrasonic range" => {
            [&measure::LENGTH, &measure::LENGTH_PER_KELVIN, &measure::LENGTH_PER_DAY]
        }
        "platform load" => [&measure::MASS, &measure::MASS_PER_KELVIN, &measure::MASS_PER_DAY],
        "tilt" => [&measure::ANGLE, &measure::ANGLE_PER_KELVIN, &measure::ANGLE_PER_DAY],
        "rain gauge" => [&measure::INTENSITY, &measure::INTENSITY_PER_KELVIN, &measure::INTENSITY_PER_DAY],
        _ => return None,
    };
    Some(match per {
        Per::One => of[0],
        Per::Kelvin => of[1],
        Per::Day => of[2],
    })
}
