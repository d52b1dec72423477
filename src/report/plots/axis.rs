//! An axis whose ticks are chosen, not left to the chart.

use std::ops::Range;

use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};
use plotters::coord::types::RangedCoordf64;

use super::bins::nice;

/// A linear axis with ticks of its own.
pub struct Axis {
    range: RangedCoordf64,
    ticks: Vec<f64>,
}

impl Axis {
    /// An axis from `low` to `high` with these ticks.
    pub fn new((low, high): (f64, f64), ticks: Vec<f64>) -> Axis {
        Axis { range: (low..high).into(), ticks }
    }
}

impl Ranged for Axis {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        self.range.map(value, limit)
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        if hint.weight().allow_light_points() { Vec::new() } else { self.ticks.clone() }
    }

    fn range(&self) -> Range<f64> {
        self.range.range()
    }
}

/// Round numbers on an axis; on a logarithmic one, whose values are powers of ten, their logarithms.
pub fn ticks((low, high): (f64, f64), log: bool) -> Vec<f64> {
    if !(high - low).is_finite() {
        return Vec::new();
    }
    if !log {
        let step = nice((high - low) / 8.0);
        let first = (low / step).ceil() as i64;
        return (first..).map(|index| index as f64 * step).take_while(|tick| *tick <= high).collect();
    }
    let digits: &[f64] = match high - low {
        decades if decades <= 2.5 => &[1.0, 2.0, 5.0],
        decades if decades <= 5.0 => &[1.0, 3.0],
        _ => &[1.0],
    };
    let powers = low.floor() as i32..=high.ceil() as i32;
    let all = powers.flat_map(|power| digits.iter().map(move |digit| f64::from(power) + libm::log10(*digit)));
    all.filter(|tick| (low..=high).contains(tick)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::number::chosen;

    #[test]
    fn ticks_are_round_numbers() {
        assert_eq!(ticks((-0.3, 41.0), false), [0.0, 10.0, 20.0, 30.0, 40.0]);
        let powers: Vec<String> = ticks((-0.1, 2.1), true).iter().map(|tick| chosen(10_f64.powf(*tick))).collect();
        assert_eq!(powers, ["1", "2", "5", "10", "20", "50", "100"]);
        assert_eq!(ticks((-3.0, 3.0), true), [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0]);
    }
}
