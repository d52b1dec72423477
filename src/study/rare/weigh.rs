//! What weighted draws say: their mean, how far off it may be, and how many draws it rests on.

use super::cells::Draw;
use crate::study::interval::mean::mean_and_variance;
use crate::study::interval::{Interval, Method, t_quantile};

/// An estimated chance of a rare event.
#[derive(Clone, Debug, PartialEq)]
pub struct RareEstimate {
    /// Chance per approach.
    pub mean: f64,
    /// Its standard error.
    pub error: f64,
    /// Interval; none where too few draws matter.
    pub interval: Option<Interval>,
    /// Effective sample size: (sum w p)^2 / sum (w p)^2, the number of equal draws that would know as much.
    pub effective: f64,
    /// Largest weight.
    pub heaviest: f64,
    /// Draws behind it.
    pub draws: u64,
}

/// Fewest effective draws for an interval: below, the normal approximation has no ground (common practice).
pub const EFFECTIVE_LEAST: f64 = 30.0;

/// Sums up draws with their chances; beside the estimate what each draw adds. `seasons` names the season that each place comes
/// from, and how many there are: seasons differ, and those played are a sample, too.
pub(super) fn weigh_draws<const D: usize, C>(
    draws: &[(Draw<D>, C)],
    chance: impl Fn(&C) -> f64,
    seasons: Option<(&[u32], u64)>,
    confidence: f64,
) -> (RareEstimate, Vec<f64>) {
    let values: Vec<f64> = draws.iter().map(|(draw, found)| draw.weight * chance(found)).collect();
    let weights: Vec<f64> = draws.iter().map(|(draw, _)| draw.weight).collect();
    let heaviest = weights.iter().copied().fold(0.0, f64::max);
    let effective = effective(&values);
    // The slope of a few draws explains their own chance away.
    let told = if effective >= EFFECTIVE_LEAST { regressed(&values, &weights) } else { values.clone() };
    let (mean, error, df) = scatter(&told, |scale| {
        let (of, count) = seasons.filter(|(_, count)| *count > 1)?;
        let mut sums = vec![0.0; count as usize];
        draws.iter().zip(&told).for_each(|((draw, _), value)| sums[of[draw.place] as usize] += scale * value);
        Some(sums)
    });
    let half = t_quantile(0.5 + 0.5 * confidence, df) * error;
    let interval = Interval { low: mean - half, high: mean + half, confidence, method: Method::StudentT };
    let interval = (told.len() > 1).then_some(interval);
    (capped(RareEstimate { mean, error, interval, effective, heaviest, draws: values.len() as u64 }), values)
}

/// Effective sample size.
fn effective(values: &[f64]) -> f64 {
    let sum: f64 = values.iter().sum();
    let square: f64 = values.iter().map(|value| value * value).sum();
    if square > 0.0 { sum * sum / square } else { 0.0 }
}

/// Mean of the values, its standard error and degrees of freedom. The error is that of the draws and, where season sums (each
/// value times `scale`) scatter by more than they account for, of the seasons: both together after Satterthwaite (Biometrics
/// Bulletin 2, 1946, 110-114).
fn scatter(values: &[f64], seasons: impl FnOnce(f64) -> Option<Vec<f64>>) -> (f64, f64, f64) {
    let n = values.len() as f64;
    if values.len() < 2 {
        return (values.iter().sum(), f64::INFINITY, 1.0);
    }
    let (mean, variance) = mean_and_variance(values);
    let drawn = variance / n;
    let between = seasons(1.0 / n).map_or((0.0, 1.0), |sums| {
        let count = sums.len() as f64;
        // Each sum is that season's share of the mean: their mean times their number is the mean itself.
        let spread = mean_and_variance(&sums).1 * count;
        ((spread - drawn).max(0.0), count - 1.0)
    });
    let total = drawn + between.0;
    let df = if total > 0.0 {
        total * total / (drawn * drawn / (n - 1.0) + between.0 * between.0 / between.1)
    } else {
        n - 1.0
    };
    (mean, libm::sqrt(total), df)
}

/// Weighted values less what their weights explain: the mean of the weights is known to be 1, so that their scatter about it
/// is taken off with the slope of the regression (control variates: Hesterberg, Technometrics 37, 1995, 185-194). A chance
/// that is the same under all conditions is then exact.
fn regressed(values: &[f64], weights: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let (mean, weight) = (values.iter().sum::<f64>() / n, weights.iter().sum::<f64>() / n);
    let both = values.iter().zip(weights);
    let covariance: f64 = both.map(|(value, other)| (value - mean) * (other - weight)).sum();
    let variance: f64 = weights.iter().map(|other| (other - weight) * (other - weight)).sum();
    let slope = if variance > 0.0 { covariance / variance } else { 0.0 };
    values.iter().zip(weights).map(|(value, other)| value - slope * (other - 1.0)).collect()
}

/// The same as a probability: none lies beyond 0 and 1.
pub(super) fn capped(estimate: RareEstimate) -> RareEstimate {
    let ends = |it: Interval| Interval { low: it.low.clamp(0.0, 1.0), high: it.high.clamp(0.0, 1.0), ..it };
    RareEstimate { mean: estimate.mean.clamp(0.0, 1.0), interval: estimate.interval.map(ends), ..estimate }
}

/// The same, its interval withheld where too few draws matter, or the halves do not agree.
pub(super) fn if_known(estimate: RareEstimate, agree: bool) -> RareEstimate {
    RareEstimate { interval: estimate.interval.filter(|_| agree && estimate.effective >= EFFECTIVE_LEAST), ..estimate }
}

/// Whether the two halves of the draws, whose places to look at were chosen independently, say the same within three standard errors of
/// their difference.
pub(super) fn halves_agree<const D: usize, C>(draws: &[(Draw<D>, C)], chance: impl Fn(&C) -> f64) -> bool {
    let [first, second] = [&draws[..draws.len() / 2], &draws[draws.len() / 2..]].map(|half| {
        let (estimate, _) = weigh_draws(half, &chance, None, 0.95);
        (estimate.mean, estimate.error)
    });
    libm::fabs(first.0 - second.0) <= 3.0 * first.1.hypot(second.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Source;

    fn draw(place: usize, weight: f64) -> Draw<1> {
        Draw { place, z: [0.0], weight }
    }

    /// One draw that alone decides is not explained away by its weight.
    #[test]
    fn few_draws_keep_their_chance() {
        let one = |number: usize| if number == 0 { (draw(0, 3.0), 1e-6) } else { (draw(0, 1.0), 0.0) };
        let draws: Vec<(Draw<1>, f64)> = (0..1_000).map(one).collect();
        let (got, _) = weigh_draws(&draws, |chance| *chance, None, 0.95);
        assert!((got.mean - 3e-9).abs() < 1e-15, "{got:?}");
    }

    #[test]
    fn few_effective_draws_support_no_interval() {
        let draws: Vec<(Draw<1>, f64)> =
            (0..1_000).map(|number| (draw(0, 1.0), f64::from(u8::from(number == 0)))).collect();
        let got = if_known(weigh_draws(&draws, |chance| *chance, None, 0.95).0, true);
        assert_eq!((got.effective, got.interval), (1.0, None));
        assert_eq!(weigh_draws::<1, f64>(&[], |chance| *chance, None, 0.95).0.mean, 0.0);
    }

    /// Seasons with a chance of their own each, of which only a few are seen: the 95 % interval holds the chance over all seasons
    /// there could be in 93 to 97 % of 2,000 repeats (its own standard error is 0.5 %), with many draws and with few. Left out,
    /// the seasons' scatter would make it hold a quarter of them.
    #[test]
    fn seasons_are_a_sample_too() {
        let each = 50;
        for (seasons, count) in [(40, 4_000), (40, 400), (6, 3_000)] {
            let covers = |repeat: u64| {
                let mut stream = Source::new(repeat, 0, "seasons").stream(count);
                let own: Vec<f64> = (0..seasons).map(|_| (0.01 * stream.exponential(1.0)).min(1.0)).collect();
                let of: Vec<u32> = (0..seasons as u32).flat_map(|season| vec![season; each]).collect();
                let draws: Vec<(Draw<1>, f64)> = (0..count)
                    .map(|_| {
                        let place = (stream.uniform() * of.len() as f64) as usize;
                        (draw(place, 1.0), own[of[place] as usize])
                    })
                    .collect();
                let (got, _) = weigh_draws(&draws, |chance| *chance, Some((&of, seasons as u64)), 0.95);
                got.interval.is_some_and(|it| it.low <= 0.01 && 0.01 <= it.high)
            };
            let share = (0..2_000).filter(|repeat| covers(*repeat)).count() as f64 / 2_000.0;
            // An exponential law of six values is skewed: Student's interval holds its mean in less than 95 %.
            let least = if seasons > 30 { 0.92 } else { 0.87 };
            assert!((least..=0.975).contains(&share), "{seasons} seasons, {count} draws: {share}");
        }
    }
}
