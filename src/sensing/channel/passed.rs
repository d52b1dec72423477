//! How many of the samples that are skipped while things move say nothing.

/// Samples skipped while things moved in view, whose laws all differ: of each [`LOOK_EVERY`] one is looked at, and what these are
/// likely to say stands for all. Its place among them follows a sequence that fills every stretch evenly (multiples of the
/// golden ratio).
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Passed {
    /// How many there were.
    pub samples: u64,
    looks: u64,
    /// The next one to be looked at.
    next: u64,
    /// The sum of the probabilities, over those looked at, that they said nothing.
    nothing: f64,
}

/// So many samples skipped while things move share one look at a law.
const LOOK_EVERY: u64 = 64;

impl Passed {
    /// Counts `samples` more; `nothing` is the probability that the one at this place among them said nothing.
    pub fn pass(&mut self, samples: u64, mut nothing: impl FnMut(u64) -> f64) {
        const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
        while self.next < self.samples + samples {
            self.nothing += nothing(self.next - self.samples);
            self.looks += 1;
            let place = (u128::from(GOLDEN.wrapping_mul(self.looks)) * u128::from(LOOK_EVERY)) >> 64;
            self.next = LOOK_EVERY * self.looks + place as u64;
        }
        self.samples += samples;
    }

    /// How many of them said nothing, by those that were looked at.
    pub fn silent(&self) -> f64 {
        if self.looks == 0 { 0.0 } else { self.nothing / self.looks as f64 * self.samples as f64 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stretches of all lengths in which the share that says nothing rises, against the sum over every sample, to four standard
    /// errors of as many looks at random.
    #[test]
    fn looks_stand_for_all() {
        let (mut passed, mut all, mut squares) = (Passed::default(), 0.0, 0.0);
        for stretch in (0..20_000_u64).map(|n| 1 + n * n % 97) {
            let share = |place: u64| (place as f64 + 0.5) / stretch as f64 * if stretch % 2 == 0 { 1.0 } else { 0.3 };
            passed.pass(stretch, share);
            all += (0..stretch).map(share).sum::<f64>();
            squares += (0..stretch).map(|place| share(place).powi(2)).sum::<f64>();
        }
        let n = passed.samples as f64;
        let (mean, looks) = (all / n, n / LOOK_EVERY as f64);
        assert!((passed.looks as f64 - looks).abs() <= 1.0, "{} looks at {n}", passed.looks);
        let error = ((squares / n - mean * mean) / looks).sqrt();
        assert!((passed.silent() / n - mean).abs() < 4.0 * error, "{} against {mean} +- {error}", passed.silent() / n);
    }

    /// However few there are, no more of them say nothing than there were.
    #[test]
    fn a_few_are_looked_at_too() {
        let mut passed = Passed::default();
        assert_eq!(passed.silent(), 0.0);
        for (stretch, sum) in [(3, 3.0), (40, 43.0)] {
            passed.pass(stretch, |_| 1.0);
            assert_eq!(passed.silent(), sum);
        }
    }
}
