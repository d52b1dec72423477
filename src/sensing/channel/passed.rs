//! How many of the samples that are skipped while things move say nothing.

/// Samples skipped while things moved in view, whose laws all differ: some are looked at, and what these are likely to say stands
/// for all. The first are looked at one by one, so that a few of them are not judged by the very first; then one of every so many,
/// in the end of [`SELDOM`]. Its place among them follows a sequence that fills every stretch evenly (multiples of the golden
/// ratio).
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Passed {
    /// How many there were.
    pub samples: u64,
    looks: u64,
    /// The next one to be looked at.
    next: u64,
    /// First sample for which no look stands yet.
    covered: u64,
    /// The sum of the probabilities, over those that were looked at, that they said nothing, each for as many as it stands for.
    nothing: f64,
}

/// So many samples skipped while things move share one look at a law, once there have been many.
const SELDOM: u64 = 64;
/// A look stands for this share of those before it at most.
const SHARE: u64 = 32;

impl Passed {
    /// Counts `samples` more; `nothing` is the probability that the one at this place among them said nothing.
    pub fn pass(&mut self, samples: u64, mut nothing: impl FnMut(u64) -> f64) {
        const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
        let stands_for = |covered: u64| (covered / SHARE).clamp(1, SELDOM);
        while self.next < self.samples + samples {
            let share = stands_for(self.covered);
            self.nothing += share as f64 * nothing(self.next - self.samples);
            self.looks += 1;
            self.covered += share;
            let place = (u128::from(GOLDEN.wrapping_mul(self.looks)) * u128::from(stands_for(self.covered))) >> 64;
            self.next = self.covered + place as u64;
        }
        self.samples += samples;
    }

    /// How many of them said nothing, by those that were looked at.
    pub fn silent(&self) -> f64 {
        if self.covered == 0 { 0.0 } else { self.nothing / self.covered as f64 * self.samples as f64 }
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
        let (mean, looks) = (all / n, n / SELDOM as f64);
        let more = SHARE as f64 * (1.0 + f64::ln(SELDOM as f64));
        assert!((0.0..=more + 1.0).contains(&(passed.looks as f64 - looks)), "{} looks at {n}", passed.looks);
        let error = ((squares / n - mean * mean) / looks).sqrt();
        assert!((passed.silent() / n - mean).abs() < 4.0 * error, "{} against {mean} +- {error}", passed.silent() / n);
    }

    /// Of a few, the first is not taken for all.
    #[test]
    fn a_few_are_looked_at_one_by_one() {
        let mut passed = Passed::default();
        passed.pass(20, |place| f64::from(u8::from(place >= 10)));
        passed.pass(10, |_| 0.0);
        assert_eq!(passed.silent(), 10.0);
    }

    /// However few there are, no more of them say nothing than there were.
    #[test]
    fn a_few_are_looked_at_too() {
        let mut passed = Passed::default();
        assert_eq!(passed.silent(), 0.0);
        for (stretch, sum) in [(3, 3.0), (40, 43.0)] {
            passed.pass(stretch, |_| 1.0);
            assert!((passed.silent() - sum).abs() < 1e-9, "{passed:?}");
        }
    }
}
