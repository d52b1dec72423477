//! `--over KEY=LOW..HIGH[:N]` and `--tie KEY=KEY+OFFSET`: numbers of the scenario that are varied.

use std::path::Path;

use super::exit::Failure;
use super::wiring;
use crate::scenario::{Base, Parameter, Scenario, VaryError};
use crate::study::sweep::{Axis, steps};

/// One number and its range.
#[derive(Clone, Debug)]
pub struct Range {
    /// The number.
    pub parameter: Parameter,
    /// Lowest value.
    pub low: f64,
    /// Highest value.
    pub high: f64,
    /// Number of values, if given.
    pub count: Option<usize>,
}

/// What the commands that vary numbers take.
#[derive(Debug, clap::Args)]
pub struct Over {
    /// A number of the scenario and its range, such as detector.near.on="1.5 m..3 m"; may be given several times
    #[arg(long, value_name = "KEY=LOW..HIGH", required = true)]
    pub over: Vec<String>,
    /// A number that follows another one at a distance, such as "detector.near.off=detector.near.on+0.3 m"
    #[arg(long, value_name = "KEY=KEY+OFFSET")]
    pub tie: Vec<String>,
}

/// A scenario and the numbers of it that are varied.
#[derive(Debug)]
pub struct Varied {
    /// The scenario.
    pub base: Base<'static>,
    /// The numbers with their ranges.
    pub ranges: Vec<Range>,
    ties: Vec<(Parameter, usize, f64)>,
}

impl Varied {
    /// Reads the scenario and the ranges.
    ///
    /// # Errors
    /// If the scenario isn't valid, a key doesn't exist or a range makes no sense.
    pub fn load(path: &Path, over: &Over) -> Result<Varied, Failure> {
        let base = Base::load(path, wiring::metrics()).map_err(wiring::laid_out)?;
        let ranges = over.over.iter().map(|text| range(&base, text)).collect::<Result<Vec<_>, _>>()?;
        for (index, range) in ranges.iter().enumerate() {
            if ranges[..index].iter().any(|other| other.parameter.path == range.parameter.path) {
                return Err(Failure::Message(format!("--over: `{}` is given twice", range.parameter.path)));
            }
        }
        let ties = over.tie.iter().map(|text| tie(&base, &ranges, text)).collect::<Result<Vec<_>, _>>()?;
        Ok(Varied { base, ranges, ties })
    }

    /// Refuses a number that belongs to a strategy other than `played`: it would be varied for nothing.
    ///
    /// # Errors
    /// If there is one.
    pub fn concerns(&self, played: usize) -> Result<(), Failure> {
        let played = &self.base.loaded.scenario.strategies[played].name;
        for parameter in self.ranges.iter().map(|range| &range.parameter) {
            if let Some(owner) = parameter.strategy().filter(|owner| owner != played) {
                return Err(Failure::Message(format!(
                    "--over: `{}` belongs to strategy `{owner}`, but `{played}` is played: name it with --strategy",
                    parameter.path
                )));
            }
        }
        Ok(())
    }

    /// The settings of one place, tied numbers included.
    pub fn settings(&self, values: &[f64]) -> Vec<(&Parameter, f64)> {
        let own = self.ranges.iter().zip(values).map(|(range, value)| (&range.parameter, *value));
        let tied = self.ties.iter().map(|(parameter, index, offset)| (parameter, values[*index] + offset));
        own.chain(tied).collect()
    }

    /// The scenario of one place.
    ///
    /// # Errors
    /// If it isn't valid there.
    pub fn scenario(&self, values: &[f64]) -> Result<Scenario, VaryError> {
        self.base.with(&self.settings(values))
    }

    /// Values of a point of the unit cube; of whole numbers, each gets an equal share of the cube's edge.
    pub fn place(&self, point: &[f64]) -> Vec<f64> {
        let one = |(range, u): (&Range, &f64)| {
            if range.parameter.whole {
                (range.low + (u * (range.high - range.low + 1.0)).floor()).min(range.high)
            } else {
                range.low + u * (range.high - range.low)
            }
        };
        self.ranges.iter().zip(point).map(one).collect()
    }

    /// The scenario as it is, as a point of the unit cube; none if a number is not given there or outside its range.
    pub fn current(&self) -> Option<Vec<f64>> {
        let one = |range: &Range| {
            let value = range.parameter.current.filter(|value| (range.low..=range.high).contains(value))?;
            Some(if range.parameter.whole {
                (value - range.low + 0.5) / (range.high - range.low + 1.0)
            } else {
                (value - range.low) / (range.high - range.low)
            })
        };
        self.ranges.iter().map(one).collect()
    }

    /// The axes of a grid with `count` values each, unless a range says otherwise.
    pub fn axes(&self, count: usize) -> Vec<Axis> {
        let axis = |range: &Range| {
            let parameter = &range.parameter;
            let values = steps(range.low, range.high, range.count.unwrap_or(count), parameter.whole);
            Axis {
                path: parameter.path.clone(),
                unit: parameter.unit,
                labels: labels(&values, &|value| parameter.show(value)),
                values,
            }
        };
        self.ranges.iter().map(axis).collect()
    }
}

/// Texts of values for tables and drawings: four significant digits, or as many as tell neighbours apart.
fn labels(values: &[f64], show: &dyn Fn(f64) -> String) -> Vec<String> {
    let with = |digits: usize| -> Vec<String> {
        let cut = |value: f64| format!("{value:.digits$e}").parse().unwrap_or(value);
        values.iter().map(|value| show(cut(*value))).collect()
    };
    let apart = |labels: &Vec<String>| labels.windows(2).all(|pair| pair[0] != pair[1]);
    (3..16).map(with).find(apart).unwrap_or_else(|| values.iter().map(|value| show(*value)).collect())
}

fn range(base: &Base, text: &str) -> Result<Range, Failure> {
    let wrong = |why: &str| Failure::Message(format!("--over `{text}`: {why}"));
    let (path, ends) =
        text.split_once('=').ok_or_else(|| wrong("write KEY=LOW..HIGH, such as mower.run.mean=\"40 min..60 min\""))?;
    let parameter = base.parameter(path.trim())?;
    let (ends, count) = match ends.rsplit_once(':').map(|(ends, count)| (ends, count.trim().parse::<usize>())) {
        Some((ends, Ok(count))) if (1..=10_000).contains(&count) => (ends, Some(count)),
        Some(_) => return Err(wrong("the number of values after `:` is a whole number of at least 1")),
        None => (ends, None),
    };
    let (low, high) = ends.split_once("..").ok_or_else(|| wrong("write LOW..HIGH, such as \"1.5 m..3 m\""))?;
    let (low, high) = (low.trim(), high.trim());
    // "1.5..3 m": the unit may stand once.
    let unit = high.trim_start_matches(|letter: char| letter.is_ascii_digit() || "+-.eE".contains(letter));
    let low_text =
        if low.parse::<f64>().is_ok() && !unit.is_empty() { format!("{low}{unit}") } else { low.to_string() };
    let read = |text: &str| parameter.read(text).map_err(|why| wrong(&why));
    let (low, high) = (read(&low_text)?, read(high)?);
    if low >= high {
        return Err(wrong("the range must go from a lower to a higher value"));
    }
    Ok(Range { parameter, low, high, count })
}

fn tie(base: &Base, ranges: &[Range], text: &str) -> Result<(Parameter, usize, f64), Failure> {
    let wrong = |why: &str| Failure::Message(format!("--tie `{text}`: {why}"));
    let example = "write KEY=KEY+OFFSET, such as \"detector.near.off=detector.near.on+0.3 m\"";
    let (path, rule) = text.split_once('=').ok_or_else(|| wrong(example))?;
    let parameter = base.parameter(path.trim())?;
    let rule = rule.trim();
    let leader = ranges.iter().enumerate().filter(|(_, range)| rule.starts_with(&range.parameter.path));
    let (index, leader) = leader
        .max_by_key(|(_, range)| range.parameter.path.len())
        .ok_or_else(|| wrong("it must follow a number that is given with --over"))?;
    let rest = rule[leader.parameter.path.len()..].trim();
    let (sign, size) = match rest.chars().next() {
        None => return Ok((parameter, index, 0.0)),
        Some('+') => (1.0, &rest[1..]),
        Some('-') => (-1.0, &rest[1..]),
        Some(_) => return Err(wrong(example)),
    };
    if ranges.iter().any(|range| range.parameter.path == parameter.path) {
        return Err(wrong("it can't be both tied and given with --over"));
    }
    let offset = parameter.read(size).map_err(|why| wrong(&why))?;
    Ok((parameter, index, sign * offset))
}
