//! What the uncertainty of a metric's mean rests on: the choice of method, made once for intervals and decisions.
//!
//! * **Counts** that are rare (fewer than [`RARE_BELOW`] in all seasons together) and not overdispersed: exact
//!   Poisson on the pooled total. Overdispersed means that the seasons differ more than the same total thrown into
//!   seasons at random would, at 5 %: Fisher's index of dispersion (Fisher, Thornton & Mackenzie, Ann. Appl. Biol. 9,
//!   1922, 325-359) against its law given the total, by simulation, because its chi-square approximation rejects
//!   twice too often among rare events. With few seasons the test has little power: the Poisson interval then rests
//!   on the assumption that the events don't come in bunches.
//! * **Amounts, peaks and the other counts**: Student's t where the mean of so many seasons may be taken as normal:
//!   n >= 25 G^2 with G the sample skewness (Cochran, Sampling Techniques, 3rd ed. 1977, 2.15), or where G is within
//!   two of its standard errors under normality. Otherwise the bootstrap; but Student's t again below [`BOOTSTRAP_FROM`] seasons, where resampling can't show the tail either,
//!   and above [`BOOTSTRAP_TO`], where it takes long and changes little. At confidences for which too few resamples
//!   lie beyond the ends, each end is the farther one of the two methods.
//! * **Seasons that are all alike** (not rare counts) have no spread to estimate an interval from. After so many that
//!   at least 90 % of all seasons are like that, at the confidence asked for (0.9^n <= 1 - confidence, the
//!   success-run theorem), the interval is the value itself; before, there is none.
//! * **Shares**: Wilson on the pooled trials. Where seasons vary more than binomially, the trials are divided by the
//!   design effect, the variance of the ratio estimator over the binomial one (Kish, Survey Sampling, 1965; Rao &
//!   Scott, Biometrics 48, 1992, 577-585), and if the excess is significant at 5 %, the quantile is Student's with
//!   one degree of freedom fewer than seasons.

use super::interval::bootstrap::Resampled;
use super::interval::mean::mean_and_variance;
use super::interval::proportion::wilson_at;
use super::interval::{Interval, Method, chi_square_tail, normal_quantile, poisson, t_quantile};
use crate::math::random::Source;

/// Total count from which on counts are no longer treated as rare.
pub const RARE_BELOW: f64 = 100.0;
/// Fewest seasons for a bootstrap interval.
pub const BOOTSTRAP_FROM: usize = 8;
/// Most seasons for a bootstrap interval.
pub const BOOTSTRAP_TO: usize = 1_000;
/// Level of the tests for more spread than chance gives.
const SIGNIFICANCE: f64 = 0.05;
/// Share of seasons that must be known to be alike.
const ALIKE: f64 = 0.9;

/// Mean of a metric and what its uncertainty rests on.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Basis {
    /// Mean per season, or the pooled share; 0 without seasons.
    pub mean: f64,
    /// Seasons (of a share: those with trials).
    pub seasons: u64,
    spread: Spread,
}

#[derive(Clone, Debug, PartialEq)]
enum Spread {
    /// Too few seasons to say anything.
    Unknown,
    /// All seasons alike.
    None,
    /// Pooled Poisson count.
    Poisson { events: f64 },
    /// Normal mean; variance between seasons.
    Normal { variance: f64 },
    /// Skewed mean.
    Skewed { resampled: Resampled, variance: f64 },
    /// Pooled share of this many effective trials; `clustered` if seasons vary significantly more than binomially.
    Share { trials: f64, clustered: bool },
}

/// Relative difference that rounding can make of a season's sum of some 1e5 parts (1e5 times 1.1e-16), with room.
const ROUNDING: f64 = 1e-10;

impl Basis {
    fn unknown(mean: f64, seasons: usize) -> Basis {
        Basis { mean, seasons: seasons as u64, spread: Spread::Unknown }
    }

    /// Counts per season.
    pub fn of_counts(counts: &[f64]) -> Basis {
        let total: f64 = counts.iter().sum();
        let whole = counts.iter().all(|count| *count >= 0.0 && count.fract() == 0.0);
        if counts.is_empty() || !whole || total >= RARE_BELOW || overdispersed(counts) {
            return Basis::of_amounts(counts);
        }
        let n = counts.len();
        Basis { mean: total / n as f64, seasons: n as u64, spread: Spread::Poisson { events: total } }
    }

    /// Amounts or peaks per season.
    pub fn of_amounts(values: &[f64]) -> Basis {
        let n = values.len();
        if n == 0 {
            return Basis::unknown(0.0, 0);
        }
        let (mean, variance) = mean_and_variance(values);
        if n == 1 {
            return Basis::unknown(mean, n);
        }
        let spread = if alike(values) {
            return Basis { mean: values[0], seasons: n as u64, spread: Spread::None };
        } else if (BOOTSTRAP_FROM..=BOOTSTRAP_TO).contains(&n) && skewed(values) {
            Spread::Skewed { resampled: Resampled::new(values), variance }
        } else {
            Spread::Normal { variance }
        };
        Basis { mean, seasons: n as u64, spread }
    }

    /// Successes and trials per season.
    pub fn of_shares(seasons: &[(f64, f64)]) -> Basis {
        let tried: Vec<(f64, f64)> =
            seasons.iter().copied().filter(|(successes, trials)| successes.is_finite() && *trials > 0.0).collect();
        let n = tried.len() as f64;
        let (successes, trials) = tried.iter().fold((0.0, 0.0), |sum, season| (sum.0 + season.0, sum.1 + season.1));
        if tried.is_empty() || !(0.0..=trials).contains(&successes) {
            return Basis::unknown(0.0, tried.len());
        }
        let share = successes / trials;
        let binomial = share * (1.0 - share);
        let (mut design_effect, mut clustered) = (1.0_f64, false);
        if tried.len() > 1 && binomial > 0.0 {
            let square = |x: f64, m: f64| (x - share * m) * (x - share * m);
            let scatter: f64 = tried.iter().map(|(x, m)| square(*x, *m)).sum();
            design_effect = (n / (n - 1.0) * scatter / (trials * binomial)).max(1.0);
            let index: f64 = tried.iter().map(|(x, m)| square(*x, *m) / (binomial * m)).sum();
            clustered = chi_square_tail(index, n - 1.0) < SIGNIFICANCE;
        }
        let spread = Spread::Share { trials: trials / design_effect, clustered };
        Basis { mean: share, seasons: tried.len() as u64, spread }
    }

    /// Two-sided interval of the mean; none where the seasons can't support one.
    pub fn interval(&self, confidence: f64) -> Option<Interval> {
        self.interval_with(self.seasons, confidence)
    }

    /// The interval that `seasons` seasons would give if mean and spread stayed as they are.
    fn interval_with(&self, seasons: u64, confidence: f64) -> Option<Interval> {
        let n = seasons as f64;
        let factor = n / self.seasons as f64;
        let p = 0.5 + 0.5 * confidence;
        let mean = self.mean;
        match &self.spread {
            Spread::Unknown => None,
            Spread::None => {
                // For a two-sided confidence c the one-sided error is (1 - c) / 2.
                let known = n * libm::log(ALIKE) <= libm::log(1.0 - p);
                known.then_some(Interval { low: mean, high: mean, confidence, method: Method::StudentT })
            }
            Spread::Poisson { events } => poisson(events * factor, n, confidence),
            Spread::Normal { variance } => Some(student(mean, *variance, n, confidence)),
            Spread::Skewed { resampled, variance } => {
                let now = resampled.interval(confidence);
                let (below, above) = ((mean - now.low) / factor.sqrt(), (now.high - mean) / factor.sqrt());
                let mut interval = Interval { low: mean - below, high: mean + above, ..now };
                if !resampled.supports(confidence) {
                    let student = student(mean, *variance, n, confidence);
                    interval.low = interval.low.min(student.low);
                    interval.high = interval.high.max(student.high);
                }
                Some(interval)
            }
            Spread::Share { trials, clustered } => {
                let z = if *clustered { t_quantile(p, n - 1.0) } else { normal_quantile(p) };
                Some(wilson_at(mean * trials * factor, trials * factor, confidence, z))
            }
        }
    }

    /// One-sided upper bound of the mean at `confidence` (0.5 or more) after `seasons` seasons like these.
    pub fn upper_with(&self, seasons: u64, confidence: f64) -> Option<f64> {
        self.interval_with(seasons, 2.0 * confidence - 1.0).map(|interval| interval.high)
    }

    /// One-sided lower bound of the mean at `confidence` (0.5 or more) after `seasons` seasons like these.
    pub fn lower_with(&self, seasons: u64, confidence: f64) -> Option<f64> {
        self.interval_with(seasons, 2.0 * confidence - 1.0).map(|interval| interval.low)
    }
}

fn student(mean: f64, variance: f64, n: f64, confidence: f64) -> Interval {
    let half = t_quantile(0.5 + 0.5 * confidence, n - 1.0) * (variance / n).sqrt();
    Interval { low: mean - half, high: mean + half, confidence, method: Method::StudentT }
}

/// Whether whole-numbered counts differ more between seasons than chance explains. Given the total, the index of
/// dispersion grows with the sum of squares, and chance throws each event into any season alike.
pub(super) fn overdispersed(counts: &[f64]) -> bool {
    const THROWS: u32 = 999;
    let total = counts.iter().sum::<f64>() as usize;
    if counts.len() < 2 || total < 2 {
        return false;
    }
    let observed: f64 = counts.iter().map(|count| count * count).sum();
    let events = total as f64;
    if observed <= events + events * (events - 1.0) / counts.len() as f64 {
        return false; // No more than expected: spares the throws.
    }
    let mut stream = Source::new(0, 0, "dispersion").stream(0);
    let mut thrown = vec![0.0; counts.len()];
    let mut places = Vec::with_capacity(total);
    let mut as_large = 0;
    for _ in 0..THROWS {
        places.clear();
        places.extend((0..total).map(|_| ((u128::from(stream.bits()) * counts.len() as u128) >> 64) as usize));
        places.iter().for_each(|place| thrown[*place] += 1.0);
        // Each event counts its season's number once, which makes the square; then the season is emptied again.
        let square: f64 = places.iter().map(|place| thrown[*place]).sum();
        places.iter().for_each(|place| thrown[*place] = 0.0);
        as_large += u32::from(square >= observed);
    }
    f64::from(as_large + 1) / f64::from(THROWS + 1) < SIGNIFICANCE
}

/// Whether so few seasons with such a skewness make a mean that can't be taken as normal.
fn skewed(values: &[f64]) -> bool {
    let n = values.len() as f64;
    let skewness = skewness(values).abs();
    let standard_error = (6.0 * n * (n - 1.0) / ((n - 2.0) * (n + 1.0) * (n + 3.0))).sqrt();
    n < 25.0 * skewness * skewness && skewness > 2.0 * standard_error
}

/// Adjusted Fisher-Pearson sample skewness; 0 below three values or without spread.
fn skewness(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let (mean, variance) = mean_and_variance(values);
    if n < 3.0 || variance == 0.0 {
        return 0.0;
    }
    let sd = variance.sqrt();
    let cube: f64 = values.iter().map(|value| (value - mean) / sd).map(|off| off * off * off).sum();
    n / ((n - 1.0) * (n - 2.0)) * cube
}

/// Whether values are equal but for the rounding of sums: hours of the same year added up in another order differ in
/// their last digits, and that is no spread.
pub(super) fn alike(values: &[f64]) -> bool {
    let (low, high) =
        values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)));
    high - low <= ROUNDING * high.abs().max(low.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn method(basis: &Basis) -> Option<Method> {
        basis.interval(0.95).map(|interval| interval.method)
    }

    #[test]
    fn the_method_follows_the_data() {
        assert_eq!(method(&Basis::of_counts(&[0.0, 1.0, 0.0, 2.0])), Some(Method::Poisson));
        assert_eq!(method(&Basis::of_counts(&[3.0])), Some(Method::Poisson));
        assert_eq!(method(&Basis::of_counts(&[60.0, 70.0, 50.0])), Some(Method::StudentT));
        // Eight in one season and none in seven others.
        let bunched = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 8.0];
        assert_eq!(method(&Basis::of_counts(&bunched)), Some(Method::Bootstrap));
        assert_eq!(method(&Basis::of_counts(&bunched[2..])), Some(Method::StudentT));
        assert_eq!(method(&Basis::of_counts(&[150.0])), None);
        assert_eq!(method(&Basis::of_amounts(&[0.5])), None);
        assert_eq!(method(&Basis::of_amounts(&[])), None);
        assert_eq!(method(&Basis::of_shares(&[(0.0, 0.0)])), None);
        assert_eq!(method(&Basis::of_shares(&[(1.0, 3.0)])), Some(Method::Wilson));
    }

    /// Two events in one of ten seasons: chance does that once in 10. Three: once in 100.
    #[test]
    fn rare_events_may_coincide() {
        let mut counts = [0.0; 10];
        counts[3] = 2.0;
        assert!(!overdispersed(&counts));
        counts[3] = 3.0;
        assert!(overdispersed(&counts));
    }

    /// 0.9^36 = 0.0225 and 0.9^35 = 0.0250316: 36 alike seasons for a two-sided 95 %.
    #[test]
    fn alike_seasons_need_to_be_many() {
        assert_eq!(Basis::of_amounts(&[2.0; 35]).interval(0.95), None);
        let interval = Basis::of_amounts(&[2.0; 36]).interval(0.95).expect("enough seasons");
        assert_eq!((interval.low, interval.high), (2.0, 2.0));
    }

    /// Ratio estimator by hand: seasons (1 of 10), (5 of 10), (0 of 10), r = 0.2; scatter 1 + 9 + 4 = 14; design
    /// effect 1.5 * 14 / (30 * 0.16) = 4.375; index 14 / 1.6 = 8.75 against 5.99, so t with 2 df, 4.302653.
    #[test]
    fn seasons_that_differ_widen_a_share() {
        let basis = Basis::of_shares(&[(1.0, 10.0), (5.0, 10.0), (0.0, 10.0)]);
        let Spread::Share { trials, clustered } = basis.spread else { panic!("a share") };
        assert!((trials - 30.0 / 4.375).abs() < 1e-12 && clustered);
        let got = basis.interval(0.95).expect("trials");
        // The end points solve |p - r| = t sqrt(p (1 - p) / m).
        for end in [got.low, got.high] {
            assert!(((end - 0.2).abs() - 4.302_652_729_7 * (end * (1.0 - end) / trials).sqrt()).abs() < 1e-9);
        }
        let alike = Basis::of_shares(&[(2.0, 10.0), (2.0, 10.0), (2.0, 10.0)]);
        assert_eq!(alike.interval(0.95), super::super::interval::wilson(6.0, 30.0, 0.95));
    }

    /// Skewness of 1, 2, 6 by hand: mean 3, sd sqrt(7), cubes -8 - 1 + 27 = 18, times 3 / 2.
    #[test]
    fn skewness_by_hand() {
        assert!((skewness(&[1.0, 2.0, 6.0]) - 1.5 * 18.0 / 7.0_f64.powf(1.5)).abs() < 1e-14);
    }
}
