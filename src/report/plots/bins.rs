//! Bins for the bars of a distribution.

/// More bars than this are merged into wider ones.
const BARS_MOST: f64 = 36.0;

/// Bins of equal width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bins {
    /// Lower edge of the first bin.
    pub from: f64,
    /// Width of a bin.
    pub width: f64,
    /// Number of bins, at least one.
    pub count: usize,
}

impl Bins {
    /// Bins for whole numbers between `low` and `high`: each bar stands on its number, so edges are halves.
    pub fn whole(low: f64, high: f64) -> Bins {
        let numbers = high.round() - low.round() + 1.0;
        let width = if numbers <= BARS_MOST { 1.0 } else { nice(numbers / BARS_MOST).max(1.0) };
        let from = (low.round() / width).floor() * width;
        let count = (((high.round() - from) / width).floor() + 1.0).max(1.0);
        Bins { from: from - 0.5, width, count: count as usize }
    }

    /// Bins for amounts between `low` and `high`.
    pub fn amount(low: f64, high: f64) -> Bins {
        // A range narrower than rounding errors is a single value: one bin around it.
        if high - low <= 1e-9 * high.abs().max(low.abs()) || high <= low {
            let width = if low == 0.0 { 1.0 } else { nice(low.abs() * 0.1) };
            return Bins { from: low - width / 2.0, width, count: 1 };
        }
        let width = nice((high - low) / 30.0);
        let from = (low / width).floor() * width;
        let count = ((high - from) / width).floor() + 1.0;
        Bins { from, width, count: count as usize }
    }

    /// The bin of a value; values at the outer edges count into the outer bins.
    pub fn index(&self, value: f64) -> usize {
        (((value - self.from) / self.width).floor().max(0.0) as usize).min(self.count - 1)
    }

    /// Edges of a bin.
    pub fn edges(&self, index: usize) -> (f64, f64) {
        let from = self.from + index as f64 * self.width;
        (from, from + self.width)
    }

    /// Edges of all bins together.
    pub fn range(&self) -> (f64, f64) {
        (self.from, self.from + self.count as f64 * self.width)
    }

    /// Number of values per bin.
    pub fn counts(&self, values: impl Iterator<Item = f64>) -> Vec<u64> {
        let mut counts = vec![0; self.count];
        for value in values {
            counts[self.index(value)] += 1;
        }
        counts
    }
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `width`; 1 for what is not positive.
pub fn nice(width: f64) -> f64 {
    if width.is_nan() || width <= 0.0 || width.is_infinite() {
        return 1.0;
    }
    let power = libm::pow(10.0, libm::floor(libm::log10(width)));
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().find(|step| step * power >= width * (1.0 - 1e-9));
    step.unwrap_or(10.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_stand_on_their_numbers() {
        let bins = Bins::whole(0.0, 3.0);
        assert_eq!(bins, Bins { from: -0.5, width: 1.0, count: 4 });
        assert_eq!(bins.counts([0.0, 1.0, 1.0, 3.0].into_iter()), [1, 2, 0, 1]);
    }

    #[test]
    fn many_counts_share_bars_of_a_whole_number_of_counts() {
        let bins = Bins::whole(403.0, 611.0);
        assert_eq!(bins.width, 10.0);
        assert!(bins.range().0 <= 402.5 && bins.range().1 >= 611.5, "{bins:?}");
        assert_eq!(bins.index(400.0), bins.index(409.0));
        assert_ne!(bins.index(409.0), bins.index(410.0));
    }

    #[test]
    fn one_value_gets_one_bar_around_it() {
        for value in [0.0, 7.3, -2.0, 1e9] {
            let bins = Bins::amount(value, value);
            assert_eq!(bins.count, 1);
            assert!(bins.range().0 < value && value < bins.range().1);
        }
    }

    #[test]
    fn amounts_all_fall_inside() {
        let values = [0.013, 0.5, 0.77, 1.2];
        let bins = Bins::amount(0.013, 1.2);
        assert_eq!(bins.counts(values.into_iter()).iter().sum::<u64>(), 4);
        assert!(bins.range().0 <= 0.013 && bins.range().1 > 1.2);
    }

    #[test]
    fn nice_steps() {
        assert_eq!([0.9, 1.0, 1.1, 2.1, 5.5].map(nice), [1.0, 1.0, 2.0, 5.0, 10.0]);
        assert_eq!(nice(f64::NAN), 1.0);
    }
}
