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

/// At most about `most` round numbers on a linear axis, and at least two of them.
pub fn few((low, high): (f64, f64), most: usize) -> Vec<f64> {
    if !(high - low).is_finite() || high <= low {
        return Vec::new();
    }
    let step = nice((high - low) / most.max(1) as f64);
    let first = (low / step).ceil() as i64;
    (first..).map(|index| index as f64 * step).take_while(|tick| *tick <= high).collect()
}

/// Round numbers on an axis; on a logarithmic one, whose values are powers of ten, their logarithms.
pub fn ticks((low, high): (f64, f64), log: bool) -> Vec<f64> {
    if !(high - low).is_finite() {
        return Vec::new();
    }
    if !log {
        return few((low, high), 8);
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
        // A single one would be no scale.
        assert_eq!(few((-4.1, 4.5), 5), [-4.0, -2.0, 0.0, 2.0, 4.0]);
        assert_eq!(few((0.0, 84.0), 5), [0.0, 20.0, 40.0, 60.0, 80.0]);
        for high in 1..200 {
            let ticks = few((-0.05 * f64::from(high), 1.05 * f64::from(high)), 5);
            assert!((2..=6).contains(&ticks.len()), "{high}: {ticks:?}");
        }
        let powers: Vec<String> = ticks((-0.1, 2.1), true).iter().map(|tick| chosen(10_f64.powf(*tick))).collect();
        assert_eq!(powers, ["1", "2", "5", "10", "20", "50", "100"]);
        assert_eq!(ticks((-3.0, 3.0), true), [-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0]);
    }
}
