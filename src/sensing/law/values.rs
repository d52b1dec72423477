//! What a law says where it says something boring: how seldom that is a value, and one that it is.
//!
//! A sensor behind frost says nothing for days. What a median remembers of them are the few readings between, and these
//! are drawn here, not met by drawing all the silence about them.

use super::{Boring, Law, Reading};
use crate::math::random::Stream;

/// The boring values of a law.
#[derive(Clone, Copy, Debug)]
pub struct Values<'a> {
    law: &'a Law,
    /// The raw values that are boring: half-open [from, to).
    from: f64,
    to: f64,
    /// Probabilities of a boring value from each target, from a spurious return, and of "far" if that is boring.
    parts: [f64; 4],
    /// Probability of nothing, if that is boring.
    nothing: f64,
}

impl Law {
    /// Whether a value is worth being drawn as such: where values are frequent, they are met as soon by drawing all
    /// readings. A guess at what costs less, made without working out a tail.
    pub fn is_mostly_silent(&self) -> bool {
        self.nothing_weight() >= 0.5
            || self.targets.iter().any(|target| target.weight > 0.0 && target.mean < self.lowest)
    }

    /// Its boring values.
    pub fn boring_values(&self, boring: &Boring) -> Values<'_> {
        let (from, to) = self.boring_raw(boring);
        let [first, second] =
            self.targets.map(|target| if target.weight > 0.0 { target.weight * target.between(from, to) } else { 0.0 });
        let spurious = self.spurious.weight * self.spurious_between(from, to);
        let far_boring = boring.high_included && boring.high == f64::INFINITY;
        let far =
            if far_boring { self.far + self.beyond(self.raw_upper(self.highest, true), f64::INFINITY) } else { 0.0 };
        let nothing = if boring.nothing { self.nothing_probability() } else { 0.0 };
        Values { law: self, from, to, parts: [first, second, spurious, far], nothing }
    }
}

impl Values<'_> {
    /// Probability that a boring reading is a value; 0 if no reading is boring.
    pub fn share(&self) -> f64 {
        let values: f64 = self.parts.iter().sum();
        if values > 0.0 { values / (values + self.nothing) } else { 0.0 }
    }

    /// Draws a reading given that it is a boring value; none if there is no such value.
    pub fn draw(&self, stream: &mut Stream) -> Option<Reading> {
        let total: f64 = self.parts.iter().sum();
        let mut u = stream.uniform() * total;
        let mut chosen = None;
        for (index, part) in self.parts.iter().enumerate().filter(|(_, part)| **part > 0.0) {
            // Rounding may carry the number past all of them: the last one it is.
            chosen = Some(index);
            if u < *part {
                break;
            }
            u -= part;
        }
        let law = self.law;
        Some(match chosen? {
            target @ (0 | 1) => law.report(law.targets[target].draw_between(self.from, self.to, stream)),
            2 => law.report(law.draw_spurious_between(self.from, self.to, stream)),
            _ => Reading::Value(f64::INFINITY),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Spurious, Target};
    use super::*;
    use crate::math::random::Source;

    /// Against plain draws of a law that mostly says nothing, from which everything that is not a boring value is thrown away:
    /// the share of values, and the mean and spread of those below "far" (5 standard errors each).
    #[test]
    fn values_agree_with_plain_draws() {
        let law = Law {
            targets: [Target { weight: 0.05, mean: 1.5, sigma: 0.2 }, Target { weight: 0.04, mean: 0.1, sigma: 0.05 }],
            spurious: Spurious { weight: 0.06, low: 0.1, high: 1.4 },
            far: 0.05,
            resolution: 0.01,
            lowest: 0.1,
            highest: 4.0,
        };
        let open = Boring { low: 0.6, low_included: false, ..Boring::EVERYTHING };
        for (number, boring) in [
            open,
            Boring::EVERYTHING,
            Boring { high: 1.6, high_included: false, ..open },
            Boring { nothing: false, ..open },
            Boring { low: f64::INFINITY, ..Boring::EVERYTHING },
        ]
        .into_iter()
        .enumerate()
        {
            let values = law.boring_values(&boring);
            let mut stream = Source::new(5, number as u64, "values").stream(0);
            let moments = |values: &[f64]| {
                let n = values.len() as f64;
                let mean = values.iter().sum::<f64>() / n;
                (mean, values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n)
            };
            let (mut plain, mut kept) = (Vec::new(), 0.0);
            for _ in 0..200_000 {
                let reading = law.draw(&mut stream);
                if boring.contains(reading) {
                    kept += 1.0;
                    plain.extend(Some(reading).filter(|reading| *reading != Reading::Nothing));
                }
            }
            let drawn: Vec<Reading> = (0..plain.len()).map(|_| values.draw(&mut stream).expect("a value")).collect();
            assert!(drawn.iter().all(|reading| boring.contains(*reading) && *reading != Reading::Nothing));
            let (share, found) = (values.share(), plain.len() as f64 / kept);
            assert!((share - found).abs() <= 5.0 * (share * (1.0 - share) / kept).sqrt(), "{number}: {share}, {found}");
            let far = |readings: &[Reading]| {
                let far = readings.iter().filter(|reading| **reading == Reading::Value(f64::INFINITY)).count();
                far as f64 / readings.len() as f64
            };
            let (a, b, n) = (far(&plain), far(&drawn), plain.len() as f64);
            assert!((a - b).abs() <= 5.0 * (2.0 * a * (1.0 - a) / n).sqrt(), "{number}: far {a}, {b}");
            let near = |readings: &[Reading]| -> Vec<f64> {
                let value = |reading: &Reading| match reading {
                    Reading::Value(value) => Some(*value).filter(|value| value.is_finite()),
                    Reading::Nothing => None,
                };
                readings.iter().filter_map(value).collect()
            };
            let (plain, drawn) = (near(&plain), near(&drawn));
            if plain.is_empty() {
                assert!(drawn.is_empty());
                continue;
            }
            let ((a, va), (b, vb)) = (moments(&plain), moments(&drawn));
            let n = plain.len().min(drawn.len()) as f64;
            assert!((a - b).abs() <= 5.0 * ((va + vb) / n).sqrt(), "{number}: mean {a}, {b}");
            assert!((va / vb - 1.0).abs() < 0.1, "{number}: variance {va}, {vb}");
        }
    }

    #[test]
    fn where_nothing_is_said_there_are_no_values() {
        let mut stream = Source::new(5, 0, "values").stream(0);
        let values = Law::SILENT.boring_values(&Boring::EVERYTHING);
        assert!(values.share() == 0.0 && values.draw(&mut stream).is_none());
    }
}
