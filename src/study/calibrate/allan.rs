//! The Allan deviation: how much means of m readings differ from the means right after them. White noise falls with the
//! root of the averaging time, drift rises, and where the curve is lowest averaging further makes a mean no better.
//!
//! Overlapping estimate (Allan, Proc. IEEE 54, 1966, 221-230; overlapping: Howe, Allan & Barnes 1981, from memory), with
//! equivalent degrees of freedom for white noise by the simple formula that is in common use (from memory; it agrees
//! with general-purpose libraries).

use super::Measured;
use crate::study::interval::chi_square_quantile;

/// The curve at one averaging time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Readings averaged.
    pub readings: usize,
    /// The same as a time, s.
    pub time_s: f64,
    /// Allan deviation.
    pub deviation: Measured,
    /// Degrees of freedom that it is worth.
    pub freedom: f64,
}

/// Overlapping Allan deviation of means of `m` readings; none if there are fewer than 2 m.
pub fn deviation(readings: &[f64], m: usize) -> Option<f64> {
    Cumulated::new(readings).deviation(m)
}

/// Degrees of freedom of the Allan variance of means of `m` among `n` readings, for white noise.
pub fn freedom(n: usize, m: usize) -> f64 {
    // The formula is of phases, of which there is one more than readings.
    let (phases, m) = (n as f64 + 1.0, m as f64);
    let all = 3.0 * (phases - 1.0) / (2.0 * m) - 2.0 * (phases - 2.0) / phases;
    all * 4.0 * m * m / (4.0 * m * m + 5.0)
}

/// Ends of the interval of a standard deviation with so many degrees of freedom: s sqrt(f / chi-square quantile).
pub fn chi_square_ends(deviation: f64, freedom: f64, confidence: f64) -> (f64, f64) {
    let end = |p: f64| deviation * libm::sqrt(freedom / chi_square_quantile(p, freedom));
    let tail = 0.5 * (1.0 - confidence);
    (end(1.0 - tail), end(tail))
}

/// The curve at m = 1, 2, 4, ... up to a quarter of the readings: beyond it, too few means are left.
pub fn curve(readings: &[f64], period_s: f64, confidence: f64) -> Vec<Place> {
    let cumulated = Cumulated::new(readings);
    let mut places = Vec::new();
    for m in octaves(readings.len()) {
        let Some(value) = cumulated.deviation(m) else { break };
        let freedom = freedom(readings.len(), m);
        let ends = (freedom > 0.0).then(|| chi_square_ends(value, freedom, confidence));
        places.push(Place { readings: m, time_s: m as f64 * period_s, deviation: Measured { value, ends }, freedom });
    }
    places
}

/// Powers of two up to a quarter of `n`.
pub fn octaves(n: usize) -> impl Iterator<Item = usize> {
    (0..usize::BITS - 1).map(|power| 1_usize << power).take_while(move |m| 4 * m <= n)
}

/// Running sums of readings less the first one, from which every mean follows.
struct Cumulated(Vec<f64>);

impl Cumulated {
    fn new(readings: &[f64]) -> Cumulated {
        let first = readings.first().copied().unwrap_or(0.0);
        let mut sum = 0.0;
        let sums = readings.iter().map(|reading| {
            sum += reading - first;
            sum
        });
        Cumulated(std::iter::once(0.0).chain(sums).collect())
    }

    fn deviation(&self, m: usize) -> Option<f64> {
        let sums = &self.0;
        let count = sums.len().checked_sub(2 * m).filter(|count| *count > 0 && m > 0)?;
        let square = |k: usize| {
            let apart = (sums[k + 2 * m] - 2.0 * sums[k + m] + sums[k]) / m as f64;
            apart * apart
        };
        Some(libm::sqrt((0..count).map(square).sum::<f64>() / (2.0 * count as f64)))
    }
}

/// The Allan variance of means of what is there, where readings are missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sparse {
    /// Places averaged over.
    pub places: usize,
    /// Allan variance.
    pub variance: f64,
    /// What white noise of variance 1 would have, with these readings missing; 1 over the places if none is.
    pub white: f64,
    /// Degrees of freedom that it is worth.
    pub freedom: f64,
}

/// The variances at 1, 2, 4, ... places, each mean over the readings that are there, at least half of them. `places`
/// ascend. Unlike straight lines in place of missing readings, this leaves white noise white.
pub fn sparse(places: &[u64], readings: &[f64]) -> Vec<Sparse> {
    let begins = places.first().copied().unwrap_or(0);
    let n = places.last().map_or(0, |last| last - begins + 1) as usize;
    let first = readings.first().copied().unwrap_or(0.0);
    let (mut sums, mut counts) = (vec![0.0; n + 1], vec![0_usize; n + 1]);
    for (place, reading) in places.iter().zip(readings) {
        let at = (place - begins) as usize + 1;
        (sums[at], counts[at]) = (reading - first, 1);
    }
    for at in 1..=n {
        sums[at] += sums[at - 1];
        counts[at] += counts[at - 1];
    }
    let of = |m: usize| -> Option<Sparse> {
        let (mut square, mut white, mut used) = (0.0, 0.0, 0_usize);
        for k in 0..=n.checked_sub(2 * m)? {
            let there = [counts[k + m] - counts[k], counts[k + 2 * m] - counts[k + m]];
            if there.iter().all(|there| 2 * there >= m) {
                let [one, next] = there.map(|there| there as f64);
                let apart = (sums[k + 2 * m] - sums[k + m]) / next - (sums[k + m] - sums[k]) / one;
                square += apart * apart;
                white += 1.0 / one + 1.0 / next;
                used += 1;
            }
        }
        let pairs = 2.0 * used as f64;
        (used > 0).then(|| Sparse {
            places: m,
            variance: square / pairs,
            white: white / pairs,
            freedom: freedom(n, m) * used as f64 / (n + 1 - 2 * m) as f64,
        })
    };
    octaves(n).filter_map(of).collect()
}

/// Readings at every place due: where one is missing, a straight line between its neighbours. `places` ascend.
pub fn filled(places: &[u64], readings: &[f64]) -> Vec<f64> {
    let mut all = Vec::new();
    for (index, (place, reading)) in places.iter().zip(readings).enumerate() {
        if index > 0 {
            let (before, from) = (places[index - 1], readings[index - 1]);
            let steps = (place - before) as f64;
            all.extend((before + 1..*place).map(|due| from + (reading - from) * (due - before) as f64 / steps));
        }
        all.push(*reading);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nine-point frequency set of Riley, Handbook of Frequency Stability Analysis (NIST SP 1065, 2008), values from
    /// memory.
    #[test]
    fn nine_points() {
        let set = [892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0];
        for (m, published) in [(1, 91.22945), (2, 85.95287)] {
            let found = deviation(&set, m).expect("nine readings");
            assert!((found - published).abs() < 5e-6, "{m}: {found}");
        }
        assert_eq!(deviation(&set, 5), None);
        assert_eq!(deviation(&set, 0), None);
    }

    /// A ramp of R per reading: R m / sqrt 2.
    #[test]
    fn a_ramp() {
        let ramp: Vec<f64> = (0..200).map(|i| 3.0 + 0.25 * f64::from(i)).collect();
        for m in [1, 4, 16] {
            let exact = 0.25 * m as f64 / 2.0_f64.sqrt();
            assert!((deviation(&ramp, m).expect("enough") - exact).abs() < 1e-12);
        }
    }

    /// Without gaps it is the same; with gaps white noise keeps its variance, by hand for six places.
    #[test]
    fn missing_readings() {
        let set = [892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0];
        let all: Vec<u64> = (3..12).collect();
        for found in sparse(&all, &set) {
            let exact = deviation(&set, found.places).expect("enough");
            assert!((found.variance - exact * exact).abs() < 1e-9, "{found:?}");
            assert!((found.white - 1.0 / found.places as f64).abs() < 1e-12);
        }
        // Places 0 1 - 3 4 5: neighbours that are both there are (0, 1), (3, 4), (4, 5).
        let found = sparse(&[0, 1, 3, 4, 5, 6, 7], &[1.0, 2.0, 4.0, 7.0, 5.0, 5.0, 5.0]);
        assert!((found[0].variance - (1.0 + 9.0 + 4.0 + 0.0 + 0.0) / 10.0).abs() < 1e-12, "{found:?}");
        assert_eq!(found[0].white, 1.0);
        // Of two: (0 1|- 3), (1 -|3 4), (- 3|4 5), (3 4|5 6), (4 5|6 7).
        let apart = [2.5_f64, 3.5, 2.0, -0.5, -1.0];
        let square: f64 = apart.iter().map(|apart| apart * apart).sum();
        assert!((found[1].variance - square / 10.0).abs() < 1e-12, "{found:?}");
        assert!((found[1].white - (1.5 + 1.5 + 1.5 + 1.0 + 1.0) / 10.0).abs() < 1e-12);
    }

    #[test]
    fn gaps_are_bridged() {
        assert_eq!(filled(&[0, 1, 4], &[1.0, 2.0, 5.0]), [1.0, 2.0, 3.0, 4.0, 5.0]);
        assert_eq!(octaves(100).collect::<Vec<_>>(), [1, 2, 4, 8, 16]);
    }
}
