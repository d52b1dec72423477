//! Rainflow counting of a load history (ASTM E1049-85, section 5.4.4).
//!
//! Only the turning points matter. The range Y before the last range X counts as a whole cycle once X is at least Y, unless Y
//! holds the history's start, where it counts as half; what is left over at the end counts as halves. Each closed cycle
//! does the damage of its range, whatever the order of loads: small waves riding on large ones are not lost.

/// A counted cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cycle {
    /// From valley to peak.
    pub range: f64,
    /// Middle between them.
    pub mean: f64,
    /// 1 for a whole cycle, 0.5 for a half one.
    pub count: f64,
}

/// The turning points of a history, its ends included; equal neighbours count once, not-a-number is passed over.
pub fn turning_points(history: &[f64]) -> Vec<f64> {
    let mut points: Vec<f64> = Vec::new();
    for &value in history.iter().filter(|value| !value.is_nan()) {
        if points.last() == Some(&value) {
            continue;
        }
        if let [.., before, last] = points[..]
            && (last - before) * (value - last) > 0.0
        {
            points.pop();
        }
        points.push(value);
    }
    points
}

/// The cycles of a history, in the order in which they close.
pub fn count(history: &[f64]) -> Vec<Cycle> {
    let cycle = |a: f64, b: f64, count| Cycle { range: (a - b).abs(), mean: 0.5 * (a + b), count };
    let mut open: Vec<f64> = Vec::new();
    let mut cycles = Vec::new();
    for point in turning_points(history) {
        open.push(point);
        while let [.., first, second, third] = open[..] {
            let (before, last) = ((second - first).abs(), (third - second).abs());
            if last < before {
                break;
            }
            if open.len() == 3 {
                // The range holds the start: half a cycle, and the start moves on.
                cycles.push(cycle(first, second, 0.5));
                open.remove(0);
            } else {
                cycles.push(cycle(first, second, 1.0));
                let end = open.len();
                open.drain(end - 3..end - 1);
            }
        }
    }
    cycles.extend(open.windows(2).map(|pair| cycle(pair[0], pair[1], 0.5)));
    cycles
}

/// Damage by a load-life law that is rated for `rated_cycles` of `rated_range`: sum of count (range/rated)^p over the rated cycles.
pub fn damage(cycles: &[Cycle], rated_range: f64, rated_cycles: f64, exponent: f64) -> f64 {
    cycles.iter().map(|cycle| cycle.count * libm::pow(cycle.range / rated_range, exponent)).sum::<f64>() / rated_cycles
}
